-- Every survey of every corroded area, with all inputs of its average, its life and its screening.
-- grain: asset, component, area, read_on
-- reads: step.area_average, step.area_condition, step.area_screening, step.area_verdict
-- none without: step.area_average
-- column survey_no: number of the survey
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey
-- column superseded_by: what stands in place of the survey, null where it counts
-- column average_verdict: average is enough or average is below required; null where that is not known
-- column screening_verdict: screened, not passed or does not apply and why; null where it is not asked
-- column t_act_mm: thickness of the area: its lowest average
-- column survey_lowest_mm: lowest reading
-- column t_req_mm: required thickness that counts: that of the weld region, since the distance to a weld is unknown
-- column t_req_away_mm: required thickness away from the weld
-- column governing_case: what sets the required thickness
-- column half_required_mm: half the required thickness
-- column margin: margin of the average over the required thickness
-- column margin_away: the same away from the weld
-- column is_below_required: the average is below the required thickness
-- column lowest_below_half: the lowest reading is below half the required thickness
-- column component_rate_mm_per_year: highest governing rate of the component's places, else the stated one
-- column component_rate_from: which that is
-- column t_before_mm: thickness of the area at the survey before
-- column before_on: date of the survey before
-- column days_before: days since the survey before
-- column own_rate_mm_per_year: rate of the area between its last two surveys, null where there is one
-- column rate_mm_per_year: rate that counts: the greater of the two
-- column remaining_life_years: remaining life of the average, null without end or unknown
-- column no_measurable_loss: the rate is zero
-- column retirement_on: date at which the required thickness is reached, null where centuries away
-- column missing: what is missing for the verdict, null if nothing
-- column life_missing: why there is no life, null if there is one or the rate is zero
-- column survey_reading_count: readings of the survey
-- column survey_thickness_sum_mm: their sum
-- column survey_average_mm: their plain average
-- column squared_deviations_mm2: sum of the squared deviations from it
-- column coefficient_of_variation: their scatter as a share of it
-- column lowest_text: the lowest reading as it stood
-- column lowest_unit: its unit as it stood
-- column lowest_file: its file
-- column lowest_sheet: its sheet
-- column lowest_cell: its cell
-- column inside_diameter_as_built_mm: inside diameter of the component as built
-- column averaging_length_mm: length over which readings may be averaged
-- column direction: axial, circumferential, or single reading where there is nothing to average
-- column window_from_mm: position of the first reading averaged, as stated
-- column window_to_mm: position of the last reading averaged, as stated
-- column area_reading_count: readings averaged
-- column thickness_sum_mm: their sum
-- column lowest_thickness_mm: lowest of them
-- column window_cell: cell of the lowest of them
-- column window_text: that reading as it stood
-- column window_unit: its unit as it stood
-- column window_file: its file
-- column window_sheet: its sheet
-- column not_averaged_because: why the lowest reading stands instead of an average, null if averages were formed
-- column axial_from_mm: lowest axial position, null where not every reading has one
-- column axial_to_mm: highest axial position
-- column around_from_mm: lowest position along the circumference, from the widest gap
-- column around_to_mm: highest position along the circumference, from the widest gap
-- column profile_readings: readings on the longest line along the axis
-- column kind: component kind
-- column is_asked: the average is below required, the pits may not be ignored, or a reading is below half of it
-- column next_inspection_on: next internal or on-stream inspection of the component, not before the as-of date
-- column days_to_next: days from the survey to it
-- column future_loss_mm: loss expected until then
-- column screened_lowest_mm: lowest reading, or the wall left under the deepest pit if that is less
-- column lowest_from: which of the two
-- column lowest_after_loss_mm: the same less the loss expected
-- column average_after_loss_mm: average less the loss expected
-- column nominal_thickness_mm: nominal thickness of the component
-- column least_local_mm: thickness the lowest reading must have left
-- column wall_away_mm: wall away from the area: thinnest place of the component, else nominal
-- column wall_away_from: which of the two
-- column screening_thickness_mm: the same less the loss expected
-- column thickness_ratio: remaining thickness ratio
-- column extent_from_mm: one end of the area in the direction that counts
-- column extent_to_mm: its other end
-- column area_extent_mm: its extent
-- column length_parameter: length parameter
-- column folias_formula: clause of the Folias factor, null where there is none for the component kind
-- column folias_factor: Folias factor
-- column strength_factor: remaining strength factor
-- column rating_pressure_mpa: rating pressure
-- column pressure_mpa: pressure at the component
-- column static_head_mpa: static head
-- column reduced_mawp_mpa: pressure at which it would pass, null where not asked, passed or unknown
-- column screened_by: point readings or thickness profile, null where neither can be used
-- column sentence: what is said of the area as a whole, null for a survey that does not count
SELECT
    condition.survey_no, condition.asset, condition.component, condition.area, condition.read_on,
    condition.superseded_by, condition.average_verdict, screening.screening_verdict, condition.t_act_mm,
    condition.survey_lowest_mm, condition.t_req_mm, condition.t_req_away_mm, condition.governing_case,
    condition.half_required_mm, condition.margin, condition.margin_away, condition.is_below_required,
    condition.lowest_below_half, condition.component_rate_mm_per_year, condition.component_rate_from,
    condition.t_before_mm, condition.before_on, condition.days_before, condition.own_rate_mm_per_year,
    condition.rate_mm_per_year, condition.remaining_life_years, condition.no_measurable_loss,
    condition.retirement_on, condition.missing, condition.life_missing, average.survey_reading_count,
    average.survey_thickness_sum_mm, average.survey_average_mm, average.squared_deviations_mm2,
    average.coefficient_of_variation, average.lowest_text, average.lowest_unit, average.lowest_file,
    average.lowest_sheet, average.lowest_cell, average.inside_diameter_as_built_mm, average.averaging_length_mm,
    average.direction, average.window_from_mm, average.window_to_mm, average.area_reading_count,
    average.thickness_sum_mm, average.lowest_thickness_mm, average.window_cell, average.window_text,
    average.window_unit, average.window_file, average.window_sheet, average.not_averaged_because,
    average.axial_from_mm, average.axial_to_mm, average.around_from_mm, average.around_to_mm,
    average.profile_readings, screening.kind, screening.is_asked, screening.next_inspection_on,
    screening.days_to_next, screening.future_loss_mm, screening.lowest_thickness_mm AS screened_lowest_mm,
    screening.lowest_from, screening.lowest_after_loss_mm, screening.average_after_loss_mm,
    screening.nominal_thickness_mm, screening.least_local_mm, screening.wall_away_mm, screening.wall_away_from,
    screening.screening_thickness_mm, screening.thickness_ratio, screening.extent_from_mm, screening.extent_to_mm,
    screening.area_extent_mm, screening.length_parameter, screening.folias_formula, screening.folias_factor,
    screening.strength_factor, screening.rating_pressure_mpa, screening.pressure_mpa, screening.static_head_mpa,
    screening.reduced_mawp_mpa, screening.screened_by,
    CASE WHEN condition.superseded_by IS NULL THEN verdict.sentence END AS sentence
FROM step.area_condition AS condition
JOIN step.area_average AS average USING (survey_no)
LEFT JOIN step.area_screening AS screening USING (survey_no)
LEFT JOIN step.area_verdict AS verdict
    ON verdict.asset = condition.asset
    AND verdict.component = condition.component
    AND verdict.area = condition.area
ORDER BY condition.asset, condition.component, condition.area, condition.read_on DESC NULLS FIRST, condition.survey_no
