-- Radii, shape factors and the pressure of every component, and what is missing to assess it.
-- grain: asset, component
-- reads: step.component, step.asset, reference.spherical_factor, reference.service_word, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column kind: component kind
-- column specific_gravity: specific gravity of the liquid, null where the head is not considered
-- column liquid_head_mm: height of the liquid surface above the component
-- column rating_pressure_mpa: rating pressure at the top of the vessel
-- column static_head_mpa: static head, zero where the register does not give both liquid columns
-- column head_considered: the register gives specific gravity and liquid head
-- column pressure_mpa: pressure at the component
-- column outside_diameter_mm: outside diameter as built
-- column inside_diameter_as_built_mm: inside diameter as built
-- column inside_radius_as_built_mm: inside radius as built
-- column outside_radius_mm: outside radius as built
-- column crown_radius_as_built_mm: inside crown radius as built
-- column outside_crown_radius_mm: outside crown radius as built
-- column head_depth_mm: inside depth of the head, from the proportions for a 2:1 head without one
-- column proportion: D/2h of an ellipsoidal head
-- column proportion_below: tabled proportion at or below
-- column proportion_above: tabled proportion above
-- column spherical_factor_below: tabled factor at or below
-- column spherical_factor_above: tabled factor above
-- column spherical_factor: K1 of an ellipsoidal head
-- column ellipsoidal_factor: K
-- column torispherical_factor: M
-- column code_minimum_mm: UG-16(b) minimum for the service
-- column code_minimum_for: the service word that raised it, null if none
-- column missing: what the register lacks, in the order in which to ask for it; empty if nothing
WITH asked AS (
    SELECT
        component.*,
        asset.rating_pressure_mpa,
        asset.service,
        in_force.radius_basis,
        in_force.water_head_mpa_per_mm,
        in_force.code_minimum_mm AS plain_minimum_mm,
        in_force.code_minimum_air_steam_water_mm AS service_minimum_mm,
        specific_gravity IS NOT NULL AND liquid_head_mm IS NOT NULL AS head_considered,
        external_pressure_mpa > 0 AND external_thickness_mm IS NULL AND kind NOT IN ('cone', 'flat head')
            AND NOT list_contains(unsettled, 'required_thickness_external') AS computes_external,
        (
            -- A longer word counts within another one too (firewater), an abbreviation only by itself. What is said to be
            -- without it has none; anything else that names it has, on the safe side.
            SELECT min(word)
            FROM reference.service_word
            WHERE regexp_matches(
                regexp_replace(lower(asset.service), service_word.word || '-?(less|free)', '', 'g'),
                CASE
                    WHEN length(service_word.word) < 5 THEN '(^|[^a-z0-9])' || service_word.word || '($|[^a-z0-9])'
                    ELSE service_word.word
                END
            )
        ) AS code_minimum_for
    FROM step.component AS component
    LEFT JOIN step.asset AS asset
        ON asset.asset = component.asset
    CROSS JOIN basis.in_force AS in_force
),

diameters AS (
    SELECT
        *,
        coalesce(
            inside_diameter_stated_mm,
            formula.inside_diameter_from_outside(outside_diameter_stated_mm, nominal_thickness_mm)
        ) AS inside_diameter_as_built_mm
    FROM asked
),

shaped AS (
    SELECT
        *,
        coalesce(
            outside_diameter_stated_mm,
            formula.outside_diameter(inside_diameter_as_built_mm, nominal_thickness_mm)
        ) AS outside_diameter_mm,
        formula.inside_radius_as_built(inside_diameter_as_built_mm) AS inside_radius_as_built_mm,
        CASE
            -- A depth that is stated and not known is not that of the proportions.
            WHEN kind = 'ellipsoidal head' AND head_depth_mm IS NULL AND is_two_to_one
                AND NOT list_contains(unsettled, 'head_depth')
                THEN formula.head_depth_two_to_one(inside_diameter_as_built_mm)
            ELSE head_depth_mm
        END AS depth_mm,
        CASE WHEN list_has_any(unsettled, ['specific_gravity', 'liquid_head']) THEN NULL
            WHEN head_considered
            THEN formula.static_head(water_head_mpa_per_mm, specific_gravity, liquid_head_mm)
            ELSE 0
        END AS static_head_mpa
    FROM diameters
),

proportioned AS (
    SELECT
        *,
        formula.ellipsoidal_proportion(inside_diameter_as_built_mm, depth_mm) AS proportion
    FROM shaped
),

tabled AS (
    SELECT
        proportion AS proportion_below,
        spherical_factor AS spherical_factor_below,
        lead(proportion) OVER (ORDER BY proportion) AS proportion_above,
        lead(spherical_factor) OVER (ORDER BY proportion) AS spherical_factor_above,
        lead(lead_proportion) OVER (ORDER BY proportion) IS NULL AS is_last
    FROM (
        SELECT *, lead(proportion) OVER (ORDER BY proportion) AS lead_proportion
        FROM reference.spherical_factor
    )
)

SELECT
    asset, component, kind,
    CASE WHEN head_considered THEN specific_gravity END AS specific_gravity,
    CASE WHEN head_considered THEN liquid_head_mm END AS liquid_head_mm,
    rating_pressure_mpa,
    static_head_mpa,
    head_considered,
    formula.component_pressure(rating_pressure_mpa, static_head_mpa) AS pressure_mpa,
    outside_diameter_mm,
    inside_diameter_as_built_mm,
    inside_radius_as_built_mm,
    formula.outside_radius(inside_radius_as_built_mm, nominal_thickness_mm) AS outside_radius_mm,
    crown_radius_as_built_mm,
    formula.outside_crown_radius(crown_radius_as_built_mm, nominal_thickness_mm) AS outside_crown_radius_mm,
    depth_mm AS head_depth_mm,
    proportion,
    tabled.proportion_below, tabled.proportion_above, tabled.spherical_factor_below, tabled.spherical_factor_above,
    formula.spherical_factor(
        spherical_factor_below, spherical_factor_above, proportion, proportion_below, proportion_above
    ) AS spherical_factor,
    formula.ellipsoidal_factor(inside_diameter_as_built_mm, depth_mm) AS ellipsoidal_factor,
    formula.torispherical_factor(crown_radius_as_built_mm, knuckle_radius_mm, outside_diameter_mm)
        AS torispherical_factor,
    -- Without a service nobody knows that the smaller minimum holds.
    CASE WHEN code_minimum_for IS NULL AND service IS NOT NULL THEN plain_minimum_mm ELSE service_minimum_mm END
        AS code_minimum_mm,
    code_minimum_for,
    list_filter([
        CASE WHEN NOT in_register THEN 'the component is not on any component sheet' END,
        CASE WHEN in_register AND kind IS NULL THEN 'component kind' END,
        CASE WHEN rating_pressure_mpa IS NULL THEN 'MAWP or design pressure' END,
        CASE WHEN in_register AND allowable_stress_mpa IS NULL THEN 'allowable stress' END,
        CASE WHEN in_register AND efficiency_longitudinal IS NULL THEN 'joint efficiency' END,
        CASE WHEN in_register AND efficiency_longitudinal IS NOT NULL AND efficiency_circumferential IS NULL
            AND kind IN ('cylinder', 'nozzle') THEN 'joint efficiency (circumferential)' END,
        CASE WHEN diameters_unfit THEN 'inside diameter, outside diameter and wall that fit together' END,
        CASE WHEN in_register AND kind <> 'torispherical head' AND inside_diameter_as_built_mm IS NULL
            AND NOT diameters_unfit
            AND NOT (outside_diameter_stated_mm IS NOT NULL AND nominal_thickness_mm IS NULL)
            THEN 'inside diameter' END,
        CASE WHEN in_register AND nominal_thickness_mm IS NULL THEN 'nominal thickness' END,
        CASE WHEN kind = 'ellipsoidal head' AND depth_mm IS NULL THEN 'head depth' END,
        CASE WHEN kind = 'torispherical head' AND crown_radius_as_built_mm IS NULL THEN 'crown radius' END,
        CASE WHEN kind = 'torispherical head' AND knuckle_radius_mm IS NULL THEN 'knuckle radius' END,
        CASE WHEN kind = 'torispherical head' AND outside_diameter_mm IS NULL THEN 'inside diameter' END,
        CASE WHEN kind = 'cone' AND half_apex_angle_deg IS NULL THEN 'half apex angle' END,
        CASE WHEN kind = 'flat head' AND flat_head_factor IS NULL THEN 'flat-head factor' END,
        CASE WHEN radius_basis = 'allowance' AND in_register AND corrosion_allowance_mm IS NULL
            THEN 'corrosion allowance' END,
        CASE WHEN list_contains(unsettled, 'external_pressure') THEN 'external pressure' END,
        CASE WHEN list_contains(unsettled, 'required_thickness_external')
            OR (external_pressure_mpa > 0 AND external_thickness_mm IS NULL AND kind IN ('cone', 'flat head'))
            THEN 'required thickness for external pressure' END,
        CASE WHEN computes_external AND elastic_modulus_mpa IS NULL
            THEN 'elastic modulus (or the required thickness for external pressure)' END,
        CASE WHEN computes_external AND yield_strength_mpa IS NULL
            THEN 'yield strength (or the required thickness for external pressure)' END,
        CASE WHEN computes_external AND kind IN ('cylinder', 'nozzle') AND unsupported_length_mm IS NULL
            THEN 'unsupported length (or the required thickness for external pressure)' END,
        CASE WHEN list_contains(unsettled, 'structural_minimum') THEN 'structural minimum' END,
        CASE WHEN list_contains(unsettled, 'specific_gravity') THEN 'specific gravity' END,
        CASE WHEN list_contains(unsettled, 'liquid_head') THEN 'liquid head' END
    ], lambda what: what IS NOT NULL) AS missing
FROM proportioned
LEFT JOIN tabled
    ON proportioned.proportion >= tabled.proportion_below
    AND (
        proportioned.proportion < tabled.proportion_above
        -- The last tabled proportion closes the last interval.
        OR (tabled.is_last AND proportioned.proportion <= tabled.proportion_above)
    )
