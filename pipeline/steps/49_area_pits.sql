-- Pits of an area together: the deepest, the fullest circle and the fullest line, and whether they may be ignored.
-- A pit counts whole where a circle or line touches any part of it.
-- grain: pit_survey_no
-- reads: step.area_pit, step.area_pit_depth, basis.in_force
-- none without: step.area_pit
-- column pit_survey_no: number of the survey
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey
-- column superseded_by: what stands in place of the survey, null where it counts
-- column pits: number of pits
-- column surrounding_thickness_mm: wall around them
-- column surrounding_from: where it comes from
-- column wall_sum_mm: sum of the area's readings where their average is the wall around them
-- column wall_reading_count: number of them
-- column wall_lowest_mm: lowest of them
-- column t_req_mm: required thickness in the weld region
-- column half_required_mm: half of it
-- column pit_allowance_mm: wall around them beyond the required thickness
-- column pit_depth_mm: greatest depth
-- column pit_remaining_mm: wall left under the deepest pit
-- column pit_below_required_mm: its depth below the surface of the required thickness
-- column deepest_text: the depth as it stood
-- column deepest_unit: its unit as it stood
-- column deepest_file: its file
-- column deepest_sheet: its sheet
-- column deepest_cell: its cell
-- column pits_without_depth: pits whose depth is not known
-- column counted_pits: pits deeper than the allowance
-- column together_because: why all pits are taken as in one circle and on one line, null where the worst were searched
-- column circle_pits: pits in the fullest circle
-- column circle_cells: their cells
-- column circle_members: their numbers
-- column pit_area_sum_mm2: their area
-- column pit_area_share: the same as a share of the area that may be ignored
-- column line_pits: pits on the fullest line
-- column line_cells: their cells
-- column line_members: their numbers
-- column line_width_mm: their widths together
-- column axial_from_mm: lowest axial end of a pit, null where not every pit has a place and a width
-- column axial_to_mm: highest axial end of a pit
-- column pit_verdict: pits may be ignored, or may not be ignored and why; null where that is not known
-- column pits_fail: a rule is broken
-- column pit_missing: what is missing to say that they may be ignored, null if nothing
WITH pit AS (
    SELECT
        pit.pit_no, pit.pit_survey_no, asset, component, area, read_on, axial_mm, circumferential_mm,
        circumference_mm, superseded_by, text, unit, file, sheet, cell,
        depth.* EXCLUDE (pit_no, pit_survey_no)
    FROM step.area_pit AS pit
    JOIN step.area_pit_depth AS depth USING (pit_no)
),

survey AS (
    SELECT
        pit_survey_no,
        count(*) = count(axial_mm) AND count(*) = count(circumferential_mm) AS is_placed,
        count(*) AS pits,
        CASE
            WHEN NOT (count(*) = count(axial_mm) AND count(*) = count(circumferential_mm))
                THEN 'not every pit has a position'
            WHEN count(*) > min(pit_search_most) THEN 'there are more pits than are searched one by one'
        END AS together_because
    FROM pit
    CROSS JOIN basis.in_force
    GROUP BY pit_survey_no
),

placed AS (
    SELECT pit.*
    FROM pit
    JOIN survey USING (pit_survey_no)
    WHERE together_because IS NULL AND pit_width_mm IS NOT NULL
),

-- The way from one pit to another, the shorter way round the vessel.
way AS (
    SELECT
        one.pit_survey_no, one.pit_no AS one_no, two.pit_no AS two_no,
        one.pit_width_mm AS one_width_mm, two.pit_width_mm AS two_width_mm,
        one.pit_reach_mm AS one_reach_mm, two.pit_reach_mm AS two_reach_mm,
        coalesce(one.is_counted AND two.is_counted, false) AS both_counted,
        two.pit_area_mm2 AS two_area_mm2,
        two.axial_mm - one.axial_mm AS dx_mm,
        CASE
            WHEN one.circumference_mm IS NULL THEN two.circumferential_mm - one.circumferential_mm
            ELSE formula.arc(two.circumferential_mm, one.circumferential_mm, one.circumference_mm)
        END AS ds_mm
    FROM placed AS one
    JOIN placed AS two USING (pit_survey_no)
),

near AS (
    SELECT way.*, formula.pit_distance(dx_mm, ds_mm) AS distance_mm
    FROM way
    CROSS JOIN basis.in_force
    WHERE formula.pit_distance(dx_mm, ds_mm) - one_width_mm - two_width_mm <= pit_circle_mm
),

side AS (
    SELECT * FROM (VALUES (1.0::DOUBLE), (-1.0::DOUBLE)) AS side(side)
),

-- The fullest circle can be moved until it touches two pits, or is centred on one.
touching AS (
    SELECT pit_survey_no, one_no, one_no AS two_no, 0.0::DOUBLE AS side, 0.0::DOUBLE AS qx_mm, 0.0::DOUBLE AS qs_mm
    FROM near
    WHERE one_no = two_no AND both_counted
    UNION ALL
    SELECT
        pit_survey_no, one_no, two_no, side,
        formula.circle_axial(
            formula.circle_along(distance_mm, one_reach_mm, two_reach_mm), dx_mm, side,
            formula.circle_across(one_reach_mm, formula.circle_along(distance_mm, one_reach_mm, two_reach_mm)),
            ds_mm, distance_mm),
        formula.circle_around(
            formula.circle_along(distance_mm, one_reach_mm, two_reach_mm), ds_mm, side,
            formula.circle_across(one_reach_mm, formula.circle_along(distance_mm, one_reach_mm, two_reach_mm)),
            dx_mm, distance_mm)
    FROM near
    CROSS JOIN side
    CROSS JOIN basis.in_force
    WHERE one_no < two_no AND both_counted AND distance_mm > position_guard_mm
),

circle AS (
    SELECT
        touching.pit_survey_no, touching.one_no, touching.two_no, touching.side,
        list_sum(list(near.two_area_mm2 ORDER BY near.two_no)) AS area_mm2,
        list(near.two_no ORDER BY near.two_no) AS members
    FROM touching
    JOIN near
        ON near.one_no = touching.one_no
        AND near.both_counted
    CROSS JOIN basis.in_force
    WHERE qx_mm IS NOT NULL
        AND (
            near.two_no IN (touching.one_no, touching.two_no)
            OR formula.pit_distance(near.dx_mm - qx_mm, near.ds_mm - qs_mm) <= near.two_reach_mm + position_guard_mm
        )
    GROUP BY touching.pit_survey_no, touching.one_no, touching.two_no, touching.side
),

fullest_circle AS (
    SELECT pit_survey_no, area_mm2, members
    FROM circle
    QUALIFY row_number() OVER (PARTITION BY pit_survey_no ORDER BY area_mm2 DESC, len(members), members) = 1
),

-- The fullest line can be moved until it touches the rims of two pits, or runs along the axis through one.
tangent AS (
    SELECT
        pit_survey_no, one_no, one_no AS two_no, 0.0::DOUBLE AS first_side, 0.0::DOUBLE AS second_side,
        one_width_mm, 0.0::DOUBLE AS nx, 1.0::DOUBLE AS ns
    FROM near
    WHERE one_no = two_no
    UNION ALL
    SELECT
        pit_survey_no, one_no, two_no, one.side, two.side, one_width_mm,
        formula.line_normal_axial(
            formula.tangent_slope(two.side, two_width_mm, one.side, one_width_mm, distance_mm), dx_mm, ds_mm,
            distance_mm),
        formula.line_normal_around(
            formula.tangent_slope(two.side, two_width_mm, one.side, one_width_mm, distance_mm), ds_mm, dx_mm,
            distance_mm)
    FROM near
    CROSS JOIN side AS one
    CROSS JOIN side AS two
    CROSS JOIN basis.in_force
    WHERE one_no < two_no AND distance_mm > position_guard_mm
),

on_line AS (
    SELECT
        tangent.pit_survey_no, tangent.one_no, tangent.two_no, first_side, second_side,
        near.two_no AS member_no,
        near.two_width_mm AS width_mm,
        formula.pit_near_rim(formula.line_along(ns, near.dx_mm, nx, near.ds_mm), near.two_width_mm) AS begins_mm,
        formula.pit_far_rim(formula.line_along(ns, near.dx_mm, nx, near.ds_mm), near.two_width_mm) AS ends_mm
    FROM tangent
    JOIN near ON near.one_no = tangent.one_no
    CROSS JOIN basis.in_force
    WHERE nx IS NOT NULL
        AND formula.pit_near_rim(
            abs(formula.line_offset(nx, near.dx_mm, ns, near.ds_mm, first_side, tangent.one_width_mm)),
            near.two_width_mm) <= position_guard_mm
),

stretch AS (
    SELECT
        start.pit_survey_no,
        list_sum(list(member.width_mm ORDER BY member.member_no)) AS width_mm,
        list(member.member_no ORDER BY member.member_no) AS members
    FROM on_line AS start
    JOIN on_line AS member USING (pit_survey_no, one_no, two_no, first_side, second_side)
    CROSS JOIN basis.in_force
    WHERE member.ends_mm >= start.ends_mm - position_guard_mm
        AND member.begins_mm <= start.ends_mm + pit_circle_mm + position_guard_mm
    GROUP BY start.pit_survey_no, start.one_no, start.two_no, start.first_side, start.second_side, start.member_no
),

fullest_line AS (
    SELECT pit_survey_no, width_mm, members
    FROM stretch
    QUALIFY row_number() OVER (PARTITION BY pit_survey_no ORDER BY width_mm DESC, len(members), members) = 1
),

together AS (
    SELECT
        pit_survey_no,
        list_sum(list(pit_area_mm2 ORDER BY pit_no) FILTER (is_counted AND pit_area_mm2 IS NOT NULL)) AS area_mm2,
        list(pit_no ORDER BY pit_no) FILTER (is_counted AND pit_area_mm2 IS NOT NULL) AS circle_members,
        list_sum(list(pit_width_mm ORDER BY pit_no) FILTER (pit_width_mm IS NOT NULL)) AS width_mm,
        list(pit_no ORDER BY pit_no) FILTER (pit_width_mm IS NOT NULL) AS line_members
    FROM pit
    GROUP BY pit_survey_no
),

gathered AS (
    SELECT
        pit_survey_no, asset, component, area, read_on,
        min(superseded_by) AS superseded_by,
        count(*) AS pits,
        min(surrounding_thickness_mm) AS surrounding_thickness_mm,
        min(surrounding_from) AS surrounding_from,
        min(wall_sum_mm) AS wall_sum_mm,
        min(wall_reading_count) AS wall_reading_count,
        min(wall_lowest_mm) AS wall_lowest_mm,
        min(wall_doubt) AS wall_doubt,
        min(t_req_mm) AS t_req_mm,
        min(half_required_mm) AS half_required_mm,
        min(required_missing) AS required_missing,
        min(pit_allowance_mm) AS pit_allowance_mm,
        max(pit_depth_mm) AS pit_depth_mm,
        min(pit_remaining_mm) AS pit_remaining_mm,
        max(pit_below_required_mm) AS pit_below_required_mm,
        arg_max(pit_no, (pit_depth_mm, -pit_no)) FILTER (pit_depth_mm IS NOT NULL) AS deepest_no,
        count(*) FILTER (pit_depth_mm IS NULL) AS pits_without_depth,
        count(*) FILTER (is_counted) AS counted_pits,
        bool_or(is_too_deep) AS is_too_deep,
        CASE WHEN count(*) = count(axial_mm) AND count(*) = count(pit_width_mm)
            THEN min(formula.pit_near_rim(axial_mm, pit_width_mm)) END AS axial_from_mm,
        CASE WHEN count(*) = count(axial_mm) AND count(*) = count(pit_width_mm)
            THEN max(formula.pit_far_rim(axial_mm, pit_width_mm)) END AS axial_to_mm,
        string_agg(DISTINCT cell, ', ' ORDER BY cell) FILTER (pit_depth_mm IS NULL) AS without_depth,
        string_agg(DISTINCT cell, ', ' ORDER BY cell) FILTER (pit_width_mm IS NULL) AS without_width
    FROM pit
    GROUP BY pit_survey_no, asset, component, area, read_on
),

summed AS (
    SELECT
        gathered.*,
        survey.together_because,
        CASE WHEN together_because IS NULL THEN fullest_circle.members ELSE together.circle_members END
            AS circle_members,
        -- No pit deeper than the allowance: their area is none. Unknown while the allowance is.
        coalesce(
            CASE WHEN together_because IS NULL THEN fullest_circle.area_mm2 ELSE together.area_mm2 END,
            CASE WHEN pit_allowance_mm IS NOT NULL THEN 0 END
        ) AS pit_area_sum_mm2,
        CASE WHEN together_because IS NULL THEN fullest_line.members ELSE together.line_members END AS line_members,
        CASE WHEN together_because IS NULL THEN fullest_line.width_mm ELSE together.width_mm END AS line_width_mm
    FROM gathered
    JOIN survey USING (pit_survey_no)
    LEFT JOIN fullest_circle USING (pit_survey_no)
    LEFT JOIN fullest_line USING (pit_survey_no)
    LEFT JOIN together USING (pit_survey_no)
),

judged AS (
    SELECT
        summed.*,
        formula.pit_area_share(pit_area_sum_mm2, pit_area_limit_mm2) AS pit_area_share,
        list_filter([
            CASE WHEN pit_allowance_mm < 0 THEN 'the wall around them, ' || shown.thickness(surrounding_thickness_mm)
                || ', is below the required thickness' END,
            CASE WHEN is_too_deep THEN 'the deepest leaves ' || shown.thickness(pit_remaining_mm)
                || ', less than half the required thickness, ' || shown.thickness(half_required_mm) END,
            CASE WHEN formula.pit_area_share(pit_area_sum_mm2, pit_area_limit_mm2) > 1
                THEN 'their area in one circle of ' || shown.length(pit_circle_mm) || ' is '
                    || shown.ratio(formula.pit_area_share(pit_area_sum_mm2, pit_area_limit_mm2))
                    || ' of what may be ignored' END,
            CASE WHEN line_width_mm > pit_width_limit_mm
                THEN 'their widths along one line are ' || shown.length(line_width_mm) || ', more than '
                    || shown.length(pit_width_limit_mm) END
        ], lambda reason: reason IS NOT NULL) AS broken,
        list_filter([
            required_missing,
            CASE WHEN t_req_mm IS NOT NULL AND surrounding_thickness_mm IS NULL
                THEN 'the thickness of the wall around them' END,
            wall_doubt,
            'the depth of the pit in ' || without_depth,
            'the width of the pit in ' || without_width
        ], lambda reason: reason IS NOT NULL) AS lacking
    FROM summed
    CROSS JOIN basis.in_force
)

SELECT
    pit_survey_no, asset, component, area, read_on, superseded_by, pits, surrounding_thickness_mm, surrounding_from,
    wall_sum_mm, wall_reading_count, wall_lowest_mm, t_req_mm, half_required_mm, pit_allowance_mm, pit_depth_mm,
    pit_remaining_mm, pit_below_required_mm,
    deepest.text AS deepest_text, deepest.unit AS deepest_unit, deepest.file AS deepest_file,
    deepest.sheet AS deepest_sheet, deepest.cell AS deepest_cell,
    pits_without_depth, counted_pits, together_because,
    coalesce(len(circle_members), 0) AS circle_pits,
    (SELECT string_agg(cell, ', ' ORDER BY pit_no) FROM step.area_pit WHERE list_contains(circle_members, pit_no))
        AS circle_cells,
    circle_members, pit_area_sum_mm2, pit_area_share,
    coalesce(len(line_members), 0) AS line_pits,
    (SELECT string_agg(cell, ', ' ORDER BY pit_no) FROM step.area_pit WHERE list_contains(line_members, pit_no))
        AS line_cells,
    line_members, line_width_mm, axial_from_mm, axial_to_mm,
    CASE
        WHEN len(broken) > 0 THEN 'pits may not be ignored: ' || array_to_string(broken, '; ')
        WHEN len(lacking) = 0 THEN 'pits may be ignored'
    END AS pit_verdict,
    len(broken) > 0 AS pits_fail,
    CASE WHEN len(broken) = 0 AND len(lacking) > 0 THEN array_to_string(lacking, ', ') END AS pit_missing
FROM judged
LEFT JOIN (SELECT pit_no, text, unit, file, sheet, cell FROM step.area_pit) AS deepest
    ON deepest.pit_no = judged.deepest_no
