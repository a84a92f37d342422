-- Every component named anywhere, with its design data as the register gives them.
-- grain: asset, component
-- reads: step.field, step.asset, step.event, step.place, step.measurement, reference.standard_pipe, reference.likely_mistake, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column in_register: the component stands on a component sheet
-- column kind: cylinder, sphere, hemispherical head, ellipsoidal head, torispherical head, cone, flat head or nozzle
-- column kind_text: the kind as it stood
-- column is_two_to_one: the kind as it stood says 2:1
-- column material: material
-- column loss_side: inside, outside or both; inside where the register does not say
-- column loss_side_stated: the register says which side
-- column diameter_from: component, outside diameter, pipe size or asset
-- column inside_diameter_stated_mm: inside diameter of the component, else of the asset
-- column outside_diameter_stated_mm: outside diameter of the component, else of its pipe size
-- column length_mm: length
-- column nominal_thickness_mm: nominal thickness, or the as-measured baseline
-- column nominal_from: register or first readings
-- column corrosion_allowance_mm: corrosion allowance of the original design
-- column allowable_stress_mpa: allowable stress at the design temperature, null where it is above the yield strength
-- column efficiency_longitudinal: joint efficiency of the longitudinal joint
-- column efficiency_circumferential: joint efficiency of the circumferential joint
-- column efficiency_assumed: the circumferential efficiency is taken as the longitudinal one
-- column head_depth_mm: inside depth of the head
-- column crown_radius_as_built_mm: inside crown radius as built
-- column knuckle_radius_mm: inside knuckle radius
-- column half_apex_angle_deg: half apex angle
-- column flat_head_factor: flat-head attachment factor
-- column specific_gravity: specific gravity of the liquid
-- column liquid_head_mm: height of the liquid surface above the component
-- column external_pressure_mpa: external design pressure
-- column elastic_modulus_mpa: elastic modulus at the design temperature
-- column yield_strength_mpa: yield strength at the design temperature, null where the allowable stress is above it
-- column unsupported_length_mm: unsupported length of a cylinder, else its length
-- column unsupported_from: unsupported length or length
-- column external_thickness_mm: thickness the register gives for external pressure
-- column structural_minimum_mm: structural minimum
-- column stated_rate_mm_per_year: corrosion rate stated on the register
-- column nominal_pipe_size_in: nominal pipe size
-- column standard_wall_mm: standard wall of that size
-- column attached_to: component a nozzle stands in
-- column diameters_unfit: diameter and wall, or inside diameter, wall and outside diameter, do not fit together
-- column diameter_unlike: ratio of two units between its inside diameter and the asset's, in words; null if none
-- column contradictory: columns in which two rows contradict each other
-- column unsettled: the same, and columns in which a cell cannot be read
WITH named AS (
    SELECT DISTINCT asset, component FROM step.field WHERE kind = 'components' AND component IS NOT NULL
    UNION
    SELECT DISTINCT asset, component FROM step.place
    UNION
    -- An event of a component that no sheet knows may be another one's under a wrong name: its asset is not assessable
    -- until the name is settled, as with a survey.
    SELECT DISTINCT asset, component FROM step.event WHERE component IS NOT NULL
),

register AS (
    SELECT
        asset, component,
        min(word) FILTER (field = 'kind') AS kind,
        min(text) FILTER (field = 'kind') AS kind_text,
        min(word) FILTER (field = 'material') AS material,
        min(word) FILTER (field = 'loss_side') AS loss_side,
        min(number) FILTER (field = 'inside_diameter') AS inside_diameter_mm,
        min(number) FILTER (field = 'outside_diameter') AS outside_diameter_mm,
        min(number) FILTER (field = 'length') AS length_mm,
        min(number) FILTER (field = 'nominal_thickness') AS nominal_thickness_mm,
        min(number) FILTER (field = 'corrosion_allowance') AS corrosion_allowance_mm,
        min(number) FILTER (field = 'allowable_stress') AS allowable_stress_mpa,
        min(number) FILTER (field = 'joint_efficiency_longitudinal') AS efficiency_longitudinal,
        min(number) FILTER (field = 'joint_efficiency_circumferential') AS efficiency_circumferential,
        bool_or(unsettled) FILTER (field = 'joint_efficiency_circumferential') AS circumferential_contradictory,
        bool_or(unsettled) FILTER (field = 'nominal_thickness') AS nominal_contradictory,
        bool_or(unsettled) FILTER (field IN ('inside_diameter', 'outside_diameter')) AS diameter_contradictory,
        min(number) FILTER (field = 'head_depth') AS head_depth_mm,
        min(number) FILTER (field = 'crown_radius') AS crown_radius_mm,
        min(number) FILTER (field = 'knuckle_radius') AS knuckle_radius_mm,
        min(number) FILTER (field = 'half_apex_angle') AS half_apex_angle_deg,
        min(number) FILTER (field = 'flat_head_factor') AS flat_head_factor,
        min(number) FILTER (field = 'specific_gravity') AS specific_gravity,
        min(number) FILTER (field = 'liquid_head') AS liquid_head_mm,
        min(number) FILTER (field = 'external_pressure') AS external_pressure_mpa,
        min(number) FILTER (field = 'required_thickness_external') AS external_thickness_mm,
        min(number) FILTER (field = 'elastic_modulus') AS elastic_modulus_mpa,
        min(number) FILTER (field = 'yield_strength') AS yield_strength_mpa,
        min(number) FILTER (field = 'unsupported_length') AS unsupported_length_mm,
        min(number) FILTER (field = 'structural_minimum') AS structural_minimum_mm,
        min(number) FILTER (field = 'stated_corrosion_rate') AS stated_rate_mm_per_year,
        min(number) FILTER (field = 'nominal_pipe_size') AS nominal_pipe_size_in,
        min(word) FILTER (field = 'attached_to') AS attached_to,
        string_agg(field, ', ' ORDER BY field) FILTER (contradictory) AS contradictory,
        list(field ORDER BY field) FILTER (unsettled) AS unsettled
    FROM step.field
    WHERE kind = 'components'
    GROUP BY asset, component
),

-- Without a nominal thickness the thickest first reading of the component is the as-measured baseline: the thicker
-- baseline gives the larger outside radius, which is the safe side.
first_reading AS (
    SELECT asset, component, location, arg_min(thickness_mm, read_on) AS thickness_mm
    FROM step.measurement
    GROUP BY asset, component, location
),

baseline AS (
    SELECT asset, component, max(thickness_mm) AS thickness_mm
    FROM first_reading
    GROUP BY asset, component
),

-- Inside and outside diameter given together must fit the wall between them, and any diameter a wall at all. A neck may be
-- as narrow as it likes.
unfit AS (
    SELECT
        register.asset, register.component,
        coalesce(
            abs(outside_diameter_mm - formula.outside_diameter(register.inside_diameter_mm, nominal_thickness_mm))
                > diameter_mismatch * outside_diameter_mm,
            false
        )
            OR coalesce(register.kind <> 'nozzle' AND (wide.ratio < possible.least OR wide.ratio > possible.most), false)
            AS diameters_unfit
    FROM register
    LEFT JOIN step.asset AS asset ON asset.asset = register.asset
    CROSS JOIN basis.in_force
    CROSS JOIN (SELECT least, most FROM reference.likely_mistake WHERE word = 'diameter_over_wall') AS possible
    CROSS JOIN LATERAL (
        SELECT 1 + formula.margin(
            coalesce(
                register.inside_diameter_mm,
                formula.inside_diameter_from_outside(outside_diameter_mm, nominal_thickness_mm),
                asset.inside_diameter_mm
            ),
            nominal_thickness_mm
        ) AS ratio
    ) AS wide
),

-- A component 25.4 times as wide as its vessel, or as narrow, is written in another unit, or the vessel is: nobody knows
-- which. A neck may be as narrow.
unlike AS (
    SELECT
        register.asset, register.component,
        CASE WHEN likely.ratio_from > 1 THEN 'many times' ELSE 'a small part of' END AS words
    FROM register
    JOIN step.asset AS asset ON asset.asset = register.asset
    JOIN reference.likely_mistake AS likely
        ON likely.unit IS NOT NULL
        AND 1 + formula.margin(register.inside_diameter_mm, asset.inside_diameter_mm) >= likely.ratio_from
        AND 1 + formula.margin(register.inside_diameter_mm, asset.inside_diameter_mm) < likely.ratio_to
    WHERE register.kind IS DISTINCT FROM 'nozzle'
),

doubted AS (
    SELECT DISTINCT asset FROM unlike
)

SELECT
    named.asset, named.component,
    register.asset IS NOT NULL AS in_register,
    register.kind, kind_text,
    coalesce(contains(kind_text, '2:1'), false) AS is_two_to_one,
    material,
    coalesce(loss_side, 'inside') AS loss_side,
    loss_side IS NOT NULL AS loss_side_stated,
    CASE
        WHEN diameter_contradictory OR diameters_unfit OR unlike.words IS NOT NULL THEN NULL
        WHEN register.inside_diameter_mm IS NOT NULL THEN 'component'
        WHEN register.outside_diameter_mm IS NOT NULL THEN 'outside diameter'
        WHEN register.kind = 'nozzle' AND pipe.outside_diameter_mm IS NOT NULL THEN 'pipe size'
        WHEN asset.inside_diameter_mm IS NOT NULL AND doubted.asset IS NULL THEN 'asset'
    END AS diameter_from,
    CASE
        WHEN diameter_contradictory OR diameters_unfit OR unlike.words IS NOT NULL THEN NULL
        WHEN register.inside_diameter_mm IS NOT NULL THEN register.inside_diameter_mm
        WHEN register.outside_diameter_mm IS NOT NULL THEN NULL
        WHEN register.kind = 'nozzle' AND pipe.outside_diameter_mm IS NOT NULL THEN NULL
        WHEN doubted.asset IS NULL THEN asset.inside_diameter_mm
    END AS inside_diameter_stated_mm,
    CASE
        WHEN diameter_contradictory OR diameters_unfit OR unlike.words IS NOT NULL
            OR register.inside_diameter_mm IS NOT NULL THEN NULL
        WHEN register.outside_diameter_mm IS NOT NULL THEN register.outside_diameter_mm
        WHEN register.kind = 'nozzle' THEN pipe.outside_diameter_mm
    END AS outside_diameter_stated_mm,
    length_mm,
    CASE WHEN nominal_contradictory THEN NULL ELSE coalesce(nominal_thickness_mm, baseline.thickness_mm) END
        AS nominal_thickness_mm,
    CASE
        WHEN nominal_contradictory THEN NULL
        WHEN nominal_thickness_mm IS NOT NULL THEN 'register'
        WHEN baseline.thickness_mm IS NOT NULL THEN 'first readings'
    END AS nominal_from,
    corrosion_allowance_mm,
    -- No code allows more than the yield strength: one of the two is wrong, and nobody knows which.
    CASE WHEN (allowable_stress_mpa > yield_strength_mpa) IS NOT TRUE THEN allowable_stress_mpa END
        AS allowable_stress_mpa,
    efficiency_longitudinal,
    CASE
        WHEN circumferential_contradictory THEN NULL
        ELSE coalesce(efficiency_circumferential, efficiency_longitudinal)
    END AS efficiency_circumferential,
    efficiency_circumferential IS NULL AND efficiency_longitudinal IS NOT NULL
        AND NOT coalesce(circumferential_contradictory, false) AS efficiency_assumed,
    head_depth_mm,
    crown_radius_mm AS crown_radius_as_built_mm,
    knuckle_radius_mm, half_apex_angle_deg, flat_head_factor, specific_gravity, liquid_head_mm, external_pressure_mpa,
    elastic_modulus_mpa,
    CASE WHEN (allowable_stress_mpa > yield_strength_mpa) IS NOT TRUE THEN yield_strength_mpa END AS yield_strength_mpa,
    CASE WHEN NOT coalesce(list_contains(unsettled, 'unsupported_length'), false)
        THEN coalesce(unsupported_length_mm, length_mm) END AS unsupported_length_mm,
    CASE
        WHEN list_contains(unsettled, 'unsupported_length') THEN NULL
        WHEN unsupported_length_mm IS NOT NULL THEN 'unsupported length'
        WHEN length_mm IS NOT NULL THEN 'length'
    END AS unsupported_from,
    external_thickness_mm, structural_minimum_mm, stated_rate_mm_per_year,
    register.nominal_pipe_size_in,
    pipe.standard_wall_mm,
    attached_to,
    coalesce(diameters_unfit, false) AS diameters_unfit,
    unlike.words AS diameter_unlike,
    register.contradictory,
    coalesce(register.unsettled, []) AS unsettled
FROM named
LEFT JOIN register
    ON register.asset = named.asset
    AND register.component = named.component
LEFT JOIN unfit
    ON unfit.asset = named.asset
    AND unfit.component = named.component
LEFT JOIN unlike
    ON unlike.asset = named.asset
    AND unlike.component = named.component
LEFT JOIN doubted
    ON doubted.asset = named.asset
LEFT JOIN step.asset AS asset
    ON asset.asset = named.asset
LEFT JOIN baseline
    ON baseline.asset = named.asset
    AND baseline.component = named.component
LEFT JOIN reference.standard_pipe AS pipe
    ON pipe.nominal_pipe_size_in = register.nominal_pipe_size_in
