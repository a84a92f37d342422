-- Level 1 screening of areas that are below the required thickness or whose pits may not be ignored: it sorts what goes
-- to the engineer first and accepts nothing.
-- grain: survey_no
-- reads: step.area_condition, step.area_average, step.area_pits, step.life, step.history, step.component, step.shape, basis.in_force
-- none without: step.area_condition, step.area_pits
-- column survey_no: number of the survey
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column kind: component kind
-- column is_asked: the average is below required, the pits may not be ignored, or a reading is below half of it
-- column next_inspection_on: next internal or on-stream inspection of the component, not before the as-of date
-- column days_to_next: days from the survey to it
-- column future_loss_mm: loss expected until then
-- column t_req_mm: required thickness
-- column lowest_thickness_mm: lowest reading, or the wall left under the deepest pit if that is less
-- column lowest_from: which of the two
-- column lowest_after_loss_mm: the same less the loss expected
-- column area_reading_count: readings of the survey
-- column average_thickness_mm: their plain average
-- column squared_deviations_mm2: sum of their squared deviations from it
-- column coefficient_of_variation: their scatter as a share of it
-- column average_after_loss_mm: average less the loss expected
-- column nominal_thickness_mm: nominal thickness of the component
-- column least_local_mm: thickness the lowest reading must have left
-- column profile_readings: readings on the longest line along the axis
-- column inside_diameter_as_built_mm: inside diameter as built
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
-- column screening_verdict: screened, not passed or does not apply and why; null where it is not asked
WITH pits AS (
    SELECT
        asset, component, area,
        bool_or(pits_fail) AS pits_fail,
        min(pit_remaining_mm) AS pit_remaining_mm,
        sum(pits_without_depth) + count(*) FILTER (pit_remaining_mm IS NULL) AS unknown_pits,
        CASE WHEN count(*) = count(axial_from_mm) THEN min(axial_from_mm) END AS axial_from_mm,
        CASE WHEN count(*) = count(axial_to_mm) THEN max(axial_to_mm) END AS axial_to_mm
    FROM step.area_pits
    WHERE superseded_by IS NULL
    GROUP BY asset, component, area
),

next_inspection AS (
    SELECT asset, component, min(internal_due_on) AS internal_due_on
    FROM step.life
    WHERE scenario = 'in force'
    GROUP BY asset, component
),

place AS (
    SELECT asset, component, min(t_act_mm) AS t_act_mm, arg_min(location, (t_act_mm, location)) AS location
    FROM step.history
    WHERE scenario = 'in force' AND t_act_mm IS NOT NULL
    GROUP BY asset, component
),

gathered AS (
    SELECT
        condition.survey_no, condition.asset, condition.component, condition.area, condition.read_on,
        condition.t_req_mm, condition.missing, condition.rate_mm_per_year,
        component.kind, component.nominal_thickness_mm,
        is_below_required OR lowest_below_half OR coalesce(pits_fail, false) AS is_asked,
        CASE
            WHEN internal_due_on > as_of THEN internal_due_on
            WHEN internal_due_on IS NOT NULL THEN as_of
        END AS next_inspection_on,
        -- The wall under a pit counts with the readings; where it is not known neither is the lowest thickness.
        CASE
            WHEN pits.asset IS NULL THEN condition.survey_lowest_mm
            WHEN unknown_pits > 0 THEN NULL
            WHEN pit_remaining_mm < condition.survey_lowest_mm THEN pit_remaining_mm
            ELSE condition.survey_lowest_mm
        END AS lowest_thickness_mm,
        CASE
            WHEN pits.asset IS NULL THEN 'lowest reading'
            WHEN unknown_pits > 0 THEN NULL
            WHEN pit_remaining_mm < condition.survey_lowest_mm THEN 'wall left under the deepest pit'
            ELSE 'lowest reading'
        END AS lowest_from,
        average.survey_reading_count, average.survey_average_mm, average.squared_deviations_mm2,
        average.coefficient_of_variation, average.profile_readings, average.inside_diameter_as_built_mm,
        coalesce(place.t_act_mm, component.nominal_thickness_mm) AS wall_away_mm,
        CASE
            WHEN place.t_act_mm IS NOT NULL THEN 'thinnest place of the component, location ' || place.location
            WHEN component.nominal_thickness_mm IS NOT NULL THEN 'nominal thickness'
        END AS wall_away_from,
        CASE
            WHEN component.kind = 'cylinder' THEN 'folias_cylinder'
            WHEN component.kind IN ('sphere', 'hemispherical head', 'ellipsoidal head', 'torispherical head')
                THEN 'folias_sphere'
        END AS folias_formula,
        -- On a sphere or head the longer of the two extents counts; pits there would need both.
        component.kind IS DISTINCT FROM 'cylinder'
            AND average.around_to_mm - average.around_from_mm > average.axial_to_mm - average.axial_from_mm
            AS counts_around,
        CASE
            WHEN pits.asset IS NULL THEN average.axial_from_mm
            WHEN component.kind <> 'cylinder' OR pits.axial_from_mm IS NULL OR average.axial_from_mm IS NULL THEN NULL
            ELSE least(pits.axial_from_mm, average.axial_from_mm)
        END AS axial_from_mm,
        CASE
            WHEN pits.asset IS NULL THEN average.axial_to_mm
            WHEN component.kind <> 'cylinder' OR pits.axial_to_mm IS NULL OR average.axial_to_mm IS NULL THEN NULL
            ELSE greatest(pits.axial_to_mm, average.axial_to_mm)
        END AS axial_to_mm,
        CASE WHEN pits.asset IS NULL THEN average.around_from_mm END AS around_from_mm,
        CASE WHEN pits.asset IS NULL THEN average.around_to_mm END AS around_to_mm,
        shape.rating_pressure_mpa, shape.pressure_mpa, shape.static_head_mpa,
        in_force.*
    FROM step.area_condition AS condition
    JOIN step.area_average AS average USING (survey_no)
    LEFT JOIN pits
        ON pits.asset = condition.asset
        AND pits.component = condition.component
        AND pits.area = condition.area
    LEFT JOIN next_inspection
        ON next_inspection.asset = condition.asset
        AND next_inspection.component = condition.component
    LEFT JOIN place
        ON place.asset = condition.asset
        AND place.component = condition.component
    LEFT JOIN step.component AS component
        ON component.asset = condition.asset
        AND component.component = condition.component
    LEFT JOIN step.shape AS shape
        ON shape.asset = condition.asset
        AND shape.component = condition.component
    CROSS JOIN basis.in_force AS in_force
    WHERE condition.superseded_by IS NULL
),

lost AS (
    SELECT
        *,
        CASE WHEN date_diff('day', read_on, next_inspection_on) > 0
            THEN date_diff('day', read_on, next_inspection_on)
            WHEN date_diff('day', read_on, next_inspection_on) <= 0 THEN 0
        END AS days_to_next
    FROM gathered
),

future AS (
    SELECT
        *,
        formula.future_loss(
            rate_mm_per_year,
            CASE WHEN days_to_next = 0 THEN 0 ELSE formula.years_between(days_to_next, days_per_year) END
        ) AS future_loss_mm,
        CASE WHEN counts_around THEN around_from_mm ELSE axial_from_mm END AS extent_from_mm,
        CASE WHEN counts_around THEN around_to_mm ELSE axial_to_mm END AS extent_to_mm
    FROM lost
),

reduced AS (
    SELECT
        *,
        formula.lowest_after_loss(lowest_thickness_mm, future_loss_mm) AS lowest_after_loss_mm,
        formula.average_after_loss(survey_average_mm, future_loss_mm) AS average_after_loss_mm,
        formula.screening_thickness(wall_away_mm, future_loss_mm) AS screening_thickness_mm,
        formula.least_local_thickness(t_req_mm, least_share_of_nominal, nominal_thickness_mm, least_remaining_mm)
            AS least_local_mm,
        formula.area_extent(extent_to_mm, extent_from_mm) AS area_extent_mm
    FROM future
),

parameter AS (
    SELECT
        *,
        formula.thickness_ratio(lowest_after_loss_mm, screening_thickness_mm) AS thickness_ratio,
        formula.length_parameter(area_extent_mm, inside_diameter_as_built_mm, screening_thickness_mm)
            AS length_parameter
    FROM reduced
),

bulged AS (
    SELECT
        *,
        CASE folias_formula
            WHEN 'folias_cylinder' THEN formula.folias_cylinder(length_parameter)
            WHEN 'folias_sphere' THEN formula.folias_sphere(length_parameter)
        END AS folias_factor,
        CASE folias_formula
            WHEN 'folias_cylinder' THEN formula.folias_cylinder_unmet(length_parameter)
            WHEN 'folias_sphere' THEN formula.folias_sphere_unmet(length_parameter)
        END AS folias_unmet
    FROM parameter
),

strong AS (
    SELECT *, formula.strength_factor(thickness_ratio, folias_factor) AS strength_factor
    FROM bulged
),

sorted AS (
    SELECT
        *,
        CASE
            WHEN profile_readings >= profile_readings_least THEN 'thickness profile'
            WHEN survey_reading_count >= point_readings_least AND coefficient_of_variation <= variation_most
                THEN 'point readings'
        END AS screened_by,
        CASE
            WHEN t_req_mm IS NULL THEN 'the required thickness is not known, missing: ' || missing
            WHEN read_on IS NULL THEN 'the date of the survey is not known'
            WHEN rate_mm_per_year IS NULL THEN 'the corrosion rate is not known'
            WHEN next_inspection_on IS NULL THEN 'the date of the next inspection is not known'
            WHEN lowest_thickness_mm IS NULL THEN 'the wall left under the pits is not known'
            WHEN profile_readings < profile_readings_least AND survey_reading_count < point_readings_least
                THEN 'there are ' || survey_reading_count || ' point readings and ' || point_readings_least::INTEGER
                    || ' are needed, or a thickness profile of ' || profile_readings_least::INTEGER
                    || ' readings along the axis'
            WHEN profile_readings < profile_readings_least
                AND coalesce(coefficient_of_variation > variation_most, true)
                THEN 'the scatter of the point readings, ' || shown.ratio(coefficient_of_variation)
                    || ' of their average, is above ' || shown.ratio(variation_most)
                    || ': thickness profiles are needed'
            WHEN profile_readings < profile_readings_least AND least_local_mm IS NULL
                THEN 'the nominal thickness is not known'
            WHEN profile_readings < profile_readings_least THEN NULL
            WHEN folias_formula IS NULL THEN 'there is none for a ' || coalesce(kind, 'component of unknown kind')
            WHEN wall_away_mm IS NULL THEN 'the wall away from the area is not known'
            WHEN screening_thickness_mm < t_req_mm
                THEN 'the wall away from the area less the loss expected, ' || shown.thickness(screening_thickness_mm)
                    || ', is below the required thickness'
            WHEN lowest_after_loss_mm < least_remaining_mm THEN NULL
            WHEN area_extent_mm IS NULL THEN 'the extent of the area with its pits is not known'
            WHEN folias_unmet IS NOT NULL THEN folias_unmet
            WHEN strength_factor IS NULL OR pressure_mpa IS NULL THEN 'it cannot be worked out'
        END AS not_because
    FROM strong
)

SELECT
    survey_no, asset, component, area, kind, is_asked, next_inspection_on, days_to_next, future_loss_mm, t_req_mm,
    lowest_thickness_mm, lowest_from, lowest_after_loss_mm,
    survey_reading_count AS area_reading_count,
    survey_average_mm AS average_thickness_mm,
    squared_deviations_mm2, coefficient_of_variation, average_after_loss_mm, nominal_thickness_mm, least_local_mm,
    profile_readings, inside_diameter_as_built_mm, wall_away_mm, wall_away_from, screening_thickness_mm,
    thickness_ratio, extent_from_mm, extent_to_mm, area_extent_mm, length_parameter, folias_formula, folias_factor,
    strength_factor, rating_pressure_mpa, pressure_mpa, static_head_mpa,
    CASE WHEN is_asked AND not_because IS NULL AND screened_by = 'thickness profile'
        AND strength_factor < strength_factor_allowed
        THEN formula.reduced_mawp(
            rating_pressure_mpa, pressure_mpa, strength_factor, strength_factor_allowed, static_head_mpa)
    END AS reduced_mawp_mpa,
    screened_by,
    CASE
        WHEN NOT is_asked THEN NULL
        WHEN not_because IS NOT NULL THEN 'screening does not apply: ' || not_because
        WHEN screened_by = 'thickness profile'
            THEN CASE
                WHEN lowest_after_loss_mm >= least_remaining_mm AND thickness_ratio >= thickness_ratio_least
                    AND strength_factor >= strength_factor_allowed THEN 'screened: for the engineer'
                ELSE 'screening not passed'
            END
        WHEN average_after_loss_mm >= t_req_mm AND lowest_after_loss_mm >= least_local_mm
            THEN 'screened: for the engineer'
        ELSE 'screening not passed'
    END AS screening_verdict
FROM sorted
