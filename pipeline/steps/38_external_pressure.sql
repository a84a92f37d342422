-- Thickness that external pressure requires, where the register names the pressure and gives no thickness for it.
-- grain: asset, component
-- reads: step.component, step.shape
-- column asset: asset tag
-- column component: component tag
-- column buckling_form: cylinder or sphere
-- column external_pressure_mpa: external design pressure
-- column outside_diameter_mm: outside diameter as built
-- column buckling_radius_mm: outside radius of the sphere that buckles, null for a cylinder
-- column unsupported_length_mm: unsupported length, null for a sphere
-- column elastic_modulus_mpa: elastic modulus
-- column yield_strength_mpa: yield strength
-- column external_thickness_mm: thickness from which on the wall is allowed the pressure, null where none is enough
-- column buckling_length: length parameter at that thickness, null for a sphere
-- column buckling_factor: elastic buckling factor at that thickness, null for a sphere
-- column elastic_buckling_stress_mpa: elastic buckling stress at that thickness
-- column predicted_buckling_stress_mpa: predicted buckling stress at that thickness
-- column external_design_factor: design factor at that thickness
-- column external_allowed_mpa: allowable external pressure at that thickness
WITH RECURSIVE asked AS (
    SELECT
        component.asset, component.component,
        CASE WHEN shape.kind IN ('cylinder', 'nozzle') THEN 'cylinder' ELSE 'sphere' END AS buckling_form,
        component.external_pressure_mpa,
        -- The outside diameter as built: loss on the inside leaves it alone; loss on the outside makes it smaller, and
        -- of two walls equally thick the one of the smaller diameter is allowed more.
        shape.outside_diameter_mm, shape.outside_radius_mm,
        CASE shape.kind
            WHEN 'sphere' THEN shape.outside_radius_mm
            WHEN 'hemispherical head' THEN shape.outside_radius_mm
            WHEN 'ellipsoidal head'
                THEN formula.head_buckling_radius(shape.spherical_factor, shape.outside_diameter_mm)
            WHEN 'torispherical head' THEN shape.outside_crown_radius_mm
        END AS buckling_radius_mm,
        CASE WHEN shape.kind IN ('cylinder', 'nozzle') THEN component.unsupported_length_mm END
            AS unsupported_length_mm,
        component.elastic_modulus_mpa, component.yield_strength_mpa
    FROM step.component AS component
    JOIN step.shape AS shape USING (asset, component)
    WHERE component.external_pressure_mpa > 0
        AND component.external_thickness_mm IS NULL
        AND NOT list_contains(component.unsettled, 'required_thickness_external')
        AND shape.kind NOT IN ('cone', 'flat head')
),

-- No wall is thicker than its radius. The allowable pressure grows with the wall but for two places where the branches
-- of the buckling factor meet and it falls by a per cent or so; at both it may pass the design pressure once more.
bracketed AS (
    SELECT
        * EXCLUDE (outside_radius_mm),
        CASE buckling_form
            WHEN 'cylinder' THEN outside_radius_mm
            ELSE buckling_radius_mm
        END AS radius_mm,
        formula.buckling_seam_medium(unsupported_length_mm, outside_diameter_mm) AS seam_medium_mm,
        formula.buckling_seam_long(outside_diameter_mm, unsupported_length_mm) AS seam_long_mm
    FROM asked
    WHERE elastic_modulus_mpa IS NOT NULL
        AND yield_strength_mpa IS NOT NULL
        AND outside_diameter_mm IS NOT NULL
        AND coalesce(unsupported_length_mm, buckling_radius_mm) IS NOT NULL
),

-- Rounds 0 and 1 look at those two places: where the pressure is not allowed there, the bracket begins there. Above its
-- low end the pressure then passes the design pressure once. Sixty halvings follow; the high end stays a thickness that
-- is enough. The last round looks at the high end itself and keeps what it finds.
halved AS (
    SELECT
        *,
        0 AS round,
        0::DOUBLE AS thickness_low_mm,
        radius_mm AS thickness_high_mm,
        NULL::DOUBLE AS thickness_mm,
        NULL::DOUBLE AS buckling_length,
        NULL::DOUBLE AS buckling_factor,
        NULL::DOUBLE AS elastic_buckling_stress_mpa,
        NULL::DOUBLE AS predicted_buckling_stress_mpa,
        NULL::DOUBLE AS external_design_factor,
        NULL::DOUBLE AS external_allowed_mpa
    FROM bracketed
    UNION ALL
    SELECT
        asset, component, buckling_form, external_pressure_mpa, outside_diameter_mm, buckling_radius_mm,
        unsupported_length_mm, elastic_modulus_mpa, yield_strength_mpa, radius_mm, seam_medium_mm, seam_long_mm,
        round + 1,
        CASE
            WHEN round < 62 AND thickness_mm > thickness_low_mm AND (allowed_mpa >= external_pressure_mpa) IS NOT TRUE
                AND thickness_mm < radius_mm
                THEN thickness_mm
            ELSE thickness_low_mm
        END,
        CASE
            WHEN round BETWEEN 2 AND 61 AND allowed_mpa >= external_pressure_mpa THEN thickness_mm
            ELSE thickness_high_mm
        END,
        thickness_mm, length_parameter, factor, elastic_stress_mpa, predicted_stress_mpa, design_factor, allowed_mpa
    FROM (
        SELECT
            *,
            CASE buckling_form
                WHEN 'cylinder' THEN formula.external_allowed_cylinder(
                    predicted_stress_mpa, design_factor, thickness_mm, outside_diameter_mm)
                ELSE formula.external_allowed_sphere(
                    predicted_stress_mpa, design_factor, thickness_mm, buckling_radius_mm)
            END AS allowed_mpa
        FROM (
            SELECT *, formula.external_design_factor(predicted_stress_mpa, yield_strength_mpa) AS design_factor
            FROM (
                SELECT
                    *,
                    CASE buckling_form
                        WHEN 'cylinder'
                            THEN formula.predicted_stress_cylinder(yield_strength_mpa, elastic_stress_mpa)
                        ELSE formula.predicted_stress_sphere(yield_strength_mpa, elastic_stress_mpa)
                    END AS predicted_stress_mpa
                FROM (
                    SELECT
                        *,
                        CASE buckling_form
                            WHEN 'cylinder' THEN formula.buckling_stress_cylinder(
                                factor, elastic_modulus_mpa, thickness_mm, outside_diameter_mm)
                            ELSE formula.buckling_stress_sphere(elastic_modulus_mpa, thickness_mm, buckling_radius_mm)
                        END AS elastic_stress_mpa
                    FROM (
                        SELECT
                            *,
                            formula.buckling_factor(length_parameter, outside_diameter_mm, thickness_mm) AS factor
                        FROM (
                            SELECT
                                *,
                                formula.buckling_length(unsupported_length_mm, outside_diameter_mm, thickness_mm)
                                    AS length_parameter
                            FROM (
                                SELECT
                                    * EXCLUDE (thickness_mm),
                                    CASE
                                        WHEN round = 0 THEN seam_medium_mm
                                        WHEN round = 1 THEN seam_long_mm
                                        WHEN round < 62 THEN formula.halfway(thickness_low_mm, thickness_high_mm)
                                        ELSE thickness_high_mm
                                    END AS thickness_mm
                                FROM halved
                                WHERE round < 63
                            )
                        )
                    )
                )
            )
        )
    )
)

SELECT
    asset, component, buckling_form, external_pressure_mpa, outside_diameter_mm, buckling_radius_mm,
    unsupported_length_mm, elastic_modulus_mpa, yield_strength_mpa,
    CASE WHEN is_enough THEN thickness_mm END AS external_thickness_mm,
    CASE WHEN is_enough THEN buckling_length END AS buckling_length,
    CASE WHEN is_enough THEN buckling_factor END AS buckling_factor,
    CASE WHEN is_enough THEN elastic_buckling_stress_mpa END AS elastic_buckling_stress_mpa,
    CASE WHEN is_enough THEN predicted_buckling_stress_mpa END AS predicted_buckling_stress_mpa,
    CASE WHEN is_enough THEN external_design_factor END AS external_design_factor,
    CASE WHEN is_enough THEN external_allowed_mpa END AS external_allowed_mpa
FROM (SELECT *, external_allowed_mpa >= external_pressure_mpa AS is_enough FROM halved WHERE round = 63)
