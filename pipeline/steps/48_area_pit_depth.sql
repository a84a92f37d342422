-- Every pit against the wall around it and the required thickness.
-- grain: pit_no
-- reads: step.area_pit, step.area_stated, step.history, step.component, step.required_thickness, basis.in_force
-- none without: step.area_pit
-- column pit_no: number of the pit
-- column pit_survey_no: number of the survey of the area's pits
-- column pit_depth_mm: depth below the wall around it
-- column pit_width_mm: width
-- column surrounding_thickness_mm: average of the area's readings, else thinnest place, else nominal
-- column surrounding_from: which of them
-- column wall_sum_mm: sum of the area's readings where their average is the wall around it
-- column wall_reading_count: number of them
-- column wall_lowest_mm: lowest of them
-- column wall_doubt: readings of the area that were left out, null if none
-- column t_req_mm: required thickness in the weld region
-- column half_required_mm: half of it
-- column required_missing: why there is no required thickness, null if there is one
-- column pit_allowance_mm: wall around it beyond the required thickness
-- column pit_remaining_mm: wall left under it
-- column pit_below_required_mm: depth below the surface of the required thickness
-- column pit_area_mm2: area, taken as round
-- column pit_reach_mm: greatest distance from the centre of a circle that touches it
-- column is_counted: deeper than the allowance: its area counts
-- column is_too_deep: less than half the required thickness is left under it
WITH wall AS (
    SELECT
        asset, component, area, read_on,
        list_sum(list(thickness_mm ORDER BY reading_no)) AS wall_sum_mm,
        count(*) AS wall_reading_count,
        min(thickness_mm) AS wall_lowest_mm
    FROM step.area_stated
    WHERE left_out_because IS NULL
    GROUP BY asset, component, area, read_on
    QUALIFY row_number() OVER (PARTITION BY asset, component, area ORDER BY read_on DESC NULLS LAST) = 1
),

-- Readings left out of that survey or of a later one: the wall may be thinner than the others say.
doubtful AS (
    SELECT
        left_out.asset, left_out.component, left_out.area,
        'the wall around them: the reading in ' || arg_min(cell, reading_no) || ' ('
            || arg_min(left_out_because, reading_no) || ')'
            || CASE count(*) WHEN 1 THEN '' ELSE ' and ' || count(*) - 1 || ' more' END AS wall_doubt
    FROM step.area_stated AS left_out
    LEFT JOIN wall USING (asset, component, area)
    WHERE left_out_because IS NOT NULL
        AND (left_out.read_on IS NULL OR wall.read_on IS NULL OR left_out.read_on >= wall.read_on)
    GROUP BY left_out.asset, left_out.component, left_out.area
),

place AS (
    SELECT
        asset, component,
        min(t_act_mm) AS t_act_mm,
        arg_min(location, (t_act_mm, location)) AS location,
        arg_min(read_on, (t_act_mm, location)) AS read_on
    FROM step.history
    WHERE scenario = 'in force' AND t_act_mm IS NOT NULL
    GROUP BY asset, component
),

surrounded AS (
    SELECT
        pit.*,
        wall_sum_mm, wall_reading_count, wall_lowest_mm, wall_doubt,
        CASE
            WHEN wall.asset IS NOT NULL
                THEN formula.average_thickness(wall_sum_mm, wall_reading_count, wall_lowest_mm)
            ELSE coalesce(place.t_act_mm, component.nominal_thickness_mm)
        END AS surrounding_thickness_mm,
        CASE
            WHEN wall.asset IS NOT NULL
                THEN 'average of the area''s readings' || coalesce(' of ' || wall.read_on, '')
            WHEN place.t_act_mm IS NOT NULL
                THEN 'thinnest place of the component, location ' || place.location || ', read on ' || place.read_on
            WHEN component.nominal_thickness_mm IS NOT NULL THEN 'nominal thickness: there is no reading'
        END AS surrounding_from,
        component.in_register,
        required.t_req_mm,
        required.not_required_because,
        in_force.pit_circle_mm
    FROM step.area_pit AS pit
    LEFT JOIN wall USING (asset, component, area)
    LEFT JOIN doubtful USING (asset, component, area)
    LEFT JOIN place USING (asset, component)
    LEFT JOIN step.component AS component USING (asset, component)
    CROSS JOIN basis.in_force AS in_force
    LEFT JOIN step.required_thickness AS required
        ON required.asset = pit.asset
        AND required.component = pit.component
        AND required.zone = 'general'
        AND required.region = 'weld'
        AND required.radius_basis = in_force.radius_basis
),

measured AS (
    SELECT
        *,
        formula.half_required(t_req_mm) AS half_required_mm,
        formula.pit_allowance(surrounding_thickness_mm, t_req_mm) AS pit_allowance_mm,
        formula.pit_remaining(surrounding_thickness_mm, pit_depth_mm) AS pit_remaining_mm,
        formula.pit_area(pit_width_mm) AS pit_area_mm2,
        formula.pit_reach(pit_circle_mm, pit_width_mm) AS pit_reach_mm
    FROM surrounded
)

SELECT
    pit_no, pit_survey_no, pit_depth_mm, pit_width_mm, surrounding_thickness_mm, surrounding_from, wall_sum_mm,
    wall_reading_count, wall_lowest_mm, wall_doubt, t_req_mm, half_required_mm,
    CASE
        WHEN t_req_mm IS NOT NULL THEN NULL
        WHEN in_register IS NOT TRUE THEN 'the component, which stands on no component sheet'
        ELSE coalesce(not_required_because, 'component kind')
    END AS required_missing,
    pit_allowance_mm, pit_remaining_mm,
    formula.pit_below_required(pit_depth_mm, pit_allowance_mm) AS pit_below_required_mm,
    pit_area_mm2, pit_reach_mm,
    pit_depth_mm > pit_allowance_mm AS is_counted,
    pit_remaining_mm < half_required_mm AS is_too_deep
FROM measured
