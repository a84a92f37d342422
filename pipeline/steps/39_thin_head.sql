-- Formed heads as torispherical ones, and the thickness at which the knuckle of a thin one is allowed the pressure.
-- grain: asset, component
-- reads: step.component, step.shape
-- column asset: asset tag
-- column component: component tag
-- column pressure_mpa: pressure at the component
-- column inside_diameter_as_built_mm: inside diameter as built
-- column equivalent_crown_radius_mm: crown radius as built, of an ellipsoidal head that of its equivalent
-- column equivalent_outside_crown_radius_mm: the same, outside
-- column equivalent_knuckle_radius_mm: knuckle radius, of an ellipsoidal head that of its equivalent
-- column elastic_modulus_mpa: elastic modulus
-- column yield_strength_mpa: yield strength
-- column knuckle_factor_1: C1
-- column knuckle_factor_2: C2
-- column knuckle_cosine: cosine of the angle the knuckle turns through
-- column knuckle_thickness_mm: thickness at which the knuckle is allowed the pressure, null where it cannot be worked out
-- column knuckle_missing: what the register lacks for it, or the limit of the rule that is not met; null if nothing
WITH RECURSIVE head AS (
    SELECT
        component.asset, component.component, shape.pressure_mpa, shape.inside_diameter_as_built_mm,
        shape.kind, shape.proportion,
        CASE shape.kind
            WHEN 'ellipsoidal head'
                THEN formula.equivalent_crown_radius(shape.spherical_factor, shape.inside_diameter_as_built_mm)
            ELSE component.crown_radius_as_built_mm
        END AS equivalent_crown_radius_mm,
        CASE shape.kind
            WHEN 'ellipsoidal head'
                THEN formula.equivalent_outside_crown_radius(shape.spherical_factor, shape.outside_diameter_mm)
            ELSE shape.outside_crown_radius_mm
        END AS equivalent_outside_crown_radius_mm,
        CASE shape.kind
            WHEN 'ellipsoidal head'
                THEN formula.equivalent_knuckle_radius(shape.inside_diameter_as_built_mm, shape.proportion)
            ELSE component.knuckle_radius_mm
        END AS equivalent_knuckle_radius_mm,
        component.elastic_modulus_mpa, component.yield_strength_mpa
    FROM step.component AS component
    JOIN step.shape AS shape USING (asset, component)
    WHERE shape.kind IN ('ellipsoidal head', 'torispherical head')
),

factored AS (
    SELECT
        *,
        formula.thin_head_c1(equivalent_knuckle_radius_mm, inside_diameter_as_built_mm) AS knuckle_factor_1,
        formula.thin_head_c2(equivalent_knuckle_radius_mm, inside_diameter_as_built_mm) AS knuckle_factor_2,
        formula.thin_head_cosine(
            inside_diameter_as_built_mm, equivalent_knuckle_radius_mm, equivalent_crown_radius_mm) AS knuckle_cosine
    FROM head
),

-- The allowed pressure grows with the wall, so it passes the design pressure once; no wall is thicker than the crown's
-- radius. Sixty halvings; the high end stays a thickness that is enough.
halved AS (
    SELECT
        asset, component, pressure_mpa, inside_diameter_as_built_mm, equivalent_crown_radius_mm,
        equivalent_knuckle_radius_mm, elastic_modulus_mpa, yield_strength_mpa, knuckle_factor_1, knuckle_factor_2,
        knuckle_cosine,
        0 AS round,
        0::DOUBLE AS thickness_low_mm,
        equivalent_crown_radius_mm AS thickness_high_mm,
        false AS is_found
    FROM factored
    WHERE elastic_modulus_mpa IS NOT NULL
        AND yield_strength_mpa IS NOT NULL
        AND pressure_mpa IS NOT NULL
        AND knuckle_factor_1 IS NOT NULL
        AND knuckle_cosine IS NOT NULL
    UNION ALL
    SELECT
        asset, component, pressure_mpa, inside_diameter_as_built_mm, equivalent_crown_radius_mm,
        equivalent_knuckle_radius_mm, elastic_modulus_mpa, yield_strength_mpa, knuckle_factor_1, knuckle_factor_2,
        knuckle_cosine,
        round + 1,
        CASE WHEN allowed_mpa >= pressure_mpa THEN thickness_low_mm ELSE middle_mm END,
        CASE WHEN allowed_mpa >= pressure_mpa THEN middle_mm ELSE thickness_high_mm END,
        is_found OR coalesce(allowed_mpa >= pressure_mpa, false)
    FROM (
        SELECT *, formula.thin_head_allowed(elastic_pressure_mpa, yield_pressure_mpa) AS allowed_mpa
        FROM (
            SELECT
                *,
                formula.thin_head_elastic_pressure(
                    knuckle_factor_1, elastic_modulus_mpa, middle_mm, equivalent_knuckle_radius_mm, knuckle_factor_2,
                    radius_mm) AS elastic_pressure_mpa,
                formula.thin_head_yield_pressure(
                    yield_strength_mpa, middle_mm, knuckle_factor_2, radius_mm, equivalent_knuckle_radius_mm)
                    AS yield_pressure_mpa
            FROM (
                SELECT
                    *,
                    formula.thin_head_radius(
                        equivalent_knuckle_radius_mm, inside_diameter_as_built_mm, knuckle_cosine, angle) AS radius_mm
                FROM (
                    SELECT
                        *,
                        formula.thin_head_angle(equivalent_crown_radius_mm, middle_mm, equivalent_knuckle_radius_mm)
                            AS angle
                    FROM (
                        SELECT *, formula.halfway(thickness_low_mm, thickness_high_mm) AS middle_mm
                        FROM halved
                        WHERE round < 60
                    )
                )
            )
        )
    )
)

SELECT
    factored.asset, factored.component, factored.pressure_mpa, factored.inside_diameter_as_built_mm,
    factored.equivalent_crown_radius_mm, factored.equivalent_outside_crown_radius_mm,
    factored.equivalent_knuckle_radius_mm, factored.elastic_modulus_mpa, factored.yield_strength_mpa,
    factored.knuckle_factor_1, factored.knuckle_factor_2, factored.knuckle_cosine,
    CASE WHEN root.is_found THEN root.thickness_high_mm END AS knuckle_thickness_mm,
    CASE
        WHEN root.is_found THEN NULL
        WHEN factored.elastic_modulus_mpa IS NULL OR factored.yield_strength_mpa IS NULL THEN concat_ws(', ',
            CASE WHEN factored.elastic_modulus_mpa IS NULL THEN 'elastic modulus' END,
            CASE WHEN factored.yield_strength_mpa IS NULL THEN 'yield strength' END)
        ELSE coalesce(
            CASE factored.kind WHEN 'ellipsoidal head' THEN formula.equivalent_knuckle_radius_unmet(
                factored.inside_diameter_as_built_mm, factored.proportion) END,
            formula.thin_head_c1_unmet(factored.equivalent_knuckle_radius_mm, factored.inside_diameter_as_built_mm),
            formula.thin_head_cosine_unmet(
                factored.inside_diameter_as_built_mm, factored.equivalent_knuckle_radius_mm,
                factored.equivalent_crown_radius_mm),
            'no thickness of the knuckle is enough')
    END AS knuckle_missing
FROM factored
LEFT JOIN (SELECT asset, component, thickness_high_mm, is_found FROM halved WHERE round = 60) AS root
    USING (asset, component)
