-- Every survey of the pits of an area, with all inputs of each number and what may be ignored.
-- grain: asset, component, area, read_on
-- reads: step.area_pits, step.area_screening, step.area_verdict
-- none without: step.area_pits
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey
-- column superseded_by: what stands in place of the survey, null where it counts
-- column pit_verdict: pits may be ignored, or may not be ignored and why; null where that is not known
-- column screening_verdict: Level 1 screening of the area, null where it is not asked or the survey does not count
-- column pit_survey_no: number of the survey
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
-- column pits_fail: a rule is broken
-- column pit_missing: what is missing to say that they may be ignored, null if nothing
-- column sentence: what is said of the area as a whole, null for a survey that does not count
WITH screening AS (
    SELECT asset, component, area, min(screening_verdict) AS screening_verdict
    FROM step.area_screening
    GROUP BY asset, component, area
)

SELECT
    pits.asset, pits.component, pits.area, pits.read_on, pits.superseded_by, pits.pit_verdict,
    CASE
        WHEN superseded_by IS NOT NULL THEN NULL
        WHEN screening.asset IS NOT NULL THEN screening.screening_verdict
        WHEN pits_fail THEN 'screening does not apply: there are no thickness readings of the area'
    END AS screening_verdict,
    pits.pit_survey_no, pits.pits, pits.surrounding_thickness_mm, pits.surrounding_from, pits.wall_sum_mm,
    pits.wall_reading_count, pits.wall_lowest_mm, pits.t_req_mm, pits.half_required_mm, pits.pit_allowance_mm,
    pits.pit_depth_mm, pits.pit_remaining_mm, pits.pit_below_required_mm, pits.deepest_text, pits.deepest_unit,
    pits.deepest_file, pits.deepest_sheet, pits.deepest_cell, pits.pits_without_depth, pits.counted_pits,
    pits.together_because, pits.circle_pits, pits.circle_cells, pits.circle_members, pits.pit_area_sum_mm2,
    pits.pit_area_share, pits.line_pits, pits.line_cells, pits.line_members, pits.line_width_mm, pits.axial_from_mm,
    pits.axial_to_mm, pits.pits_fail,
    pits.pit_missing,
    CASE WHEN superseded_by IS NULL THEN verdict.sentence END AS sentence
FROM step.area_pits AS pits
LEFT JOIN screening USING (asset, component, area)
LEFT JOIN step.area_verdict AS verdict USING (asset, component, area)
ORDER BY pits.asset, pits.component, pits.area, pits.read_on DESC NULLS FIRST, pits.pit_survey_no
