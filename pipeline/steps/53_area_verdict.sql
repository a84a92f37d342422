-- What the readings and pits of each area that count say together, in the words of a concern. It only ever adds one.
-- grain: asset, component, area
-- reads: step.area_condition, step.area_average, step.area_pits, step.rate, step.component, step.cap, basis.in_force
-- none without: step.area_condition, step.area_pits
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column is_below_required: the average is below required, or pits that may not be ignored reach below it
-- column read_on: date of the survey that governs, null where it is not given
-- column t_act_mm: thickness that governs: the average, or the wall left under the deepest pit that may not be ignored
-- column governed_by: average or pits
-- column t_req_mm: required thickness
-- column margin: margin of the thickness that governs
-- column remaining_life_years: remaining life of the thickness that governs, null without end or unknown
-- column no_measurable_loss: the rate is zero
-- column retirement_on: date at which the required thickness is reached, null where centuries away
-- column surveyed_on: date of the survey that the due date counts from
-- column life_from_survey_years: remaining life of the thickness that sets it, null without end
-- column cap_years: longest interval, that of a thickness survey
-- column interval_years: interval: half the life within the cap, as of a place
-- column due_on: date by which the area is to be measured again
-- column due_missing: why there is no such date, null if there is one or none is asked for
-- column sentence: what is said of the area, in one sentence
-- column missing: what is missing to judge it, null if nothing
WITH average AS (
    SELECT
        condition.asset, condition.component, condition.area, 'average' AS governed_by, condition.read_on,
        condition.t_act_mm, condition.t_req_mm, condition.margin, condition.is_below_required,
        condition.rate_mm_per_year,
        shown.thickness(condition.t_act_mm)
            || CASE direction
                WHEN 'single reading'
                    THEN ' is the lowest reading (' || coalesce(not_averaged_because, 'it stands alone') || ')'
                ELSE ' is the lowest average of ' || area_reading_count || ' readings on a line '
                    || CASE direction WHEN 'axial' THEN 'along the axis' ELSE 'along the circumference' END
            END
            || coalesce(' on ' || condition.read_on, ', undated')
            || coalesce(', ' || shown.thickness(condition.t_req_mm) || ' required in the weld region ('
                || condition.governing_case || ')', '')
            || coalesce(': the ' || condition.average_verdict, '')
            || CASE WHEN condition.is_below_required AND condition.t_act_mm >= condition.t_req_away_mm
                THEN '; away from the weld ' || shown.thickness(condition.t_req_away_mm) || ' would do' ELSE '' END
            || CASE WHEN condition.lowest_below_half
                THEN '; the lowest reading, ' || shown.thickness(condition.survey_lowest_mm)
                    || ', is below half the required thickness' ELSE '' END AS said,
        condition.missing
    FROM step.area_condition AS condition
    JOIN step.area_average USING (survey_no)
    WHERE condition.superseded_by IS NULL
),

area_rate AS (
    SELECT asset, component, area, max(rate_mm_per_year) AS rate_mm_per_year
    FROM step.area_condition
    WHERE superseded_by IS NULL
    GROUP BY asset, component, area
),

-- Pits without readings of their area take the component's rate.
place_rate AS (
    SELECT asset, component, max(rate_mm_per_year) AS rate_mm_per_year
    FROM step.rate
    WHERE scenario = 'in force'
    GROUP BY asset, component
),

pits AS (
    SELECT
        pits.asset, pits.component, pits.area, 'pits' AS governed_by, pits.read_on,
        pits.pit_remaining_mm AS t_act_mm,
        pits.t_req_mm,
        formula.margin(pits.pit_remaining_mm, pits.t_req_mm) AS margin,
        -- Pits that may be ignored say nothing of the thickness; of the others the deepest is the thickness.
        coalesce(pits_fail AND pits.pit_remaining_mm < pits.t_req_mm, false) AS is_below_required,
        coalesce(
            area_rate.rate_mm_per_year, place_rate.rate_mm_per_year,
            formula.rate_governing(component.stated_rate_mm_per_year, rate_floor_mm_per_year)
        ) AS rate_mm_per_year,
        pits.pits || CASE pits.pits WHEN 1 THEN ' pit' ELSE ' pits' END
            || coalesce(' on ' || pits.read_on, ', undated')
            || coalesce(', the deepest leaves ' || shown.thickness(pits.pit_remaining_mm), '')
            || coalesce(': ' || pit_verdict, '')
            || CASE WHEN pits_fail THEN coalesce(' (' || together_because || ': all count together)', '') ELSE '' END
            AS said,
        pit_missing AS missing,
        pits_fail
    FROM step.area_pits AS pits
    LEFT JOIN area_rate USING (asset, component, area)
    LEFT JOIN place_rate USING (asset, component)
    LEFT JOIN step.component AS component USING (asset, component)
    CROSS JOIN basis.in_force
    WHERE superseded_by IS NULL
),

every_one AS (
    SELECT *, true AS may_govern FROM average
    UNION ALL BY NAME
    SELECT * EXCLUDE (pits_fail), pits_fail AS may_govern FROM pits
),

lived AS (
    SELECT
        every_one.*,
        formula.remaining_life(t_act_mm, t_req_mm, rate_mm_per_year) AS remaining_life_years,
        cap.cap_years,
        days_per_year, day_guard, dated_life_years, short_life_cap_years
    FROM every_one
    LEFT JOIN step.cap AS cap
        ON cap.asset = every_one.asset
        AND cap.kind = 'thickness'
    CROSS JOIN basis.in_force
),

spaced AS (
    SELECT
        *,
        CASE
            WHEN rate_mm_per_year = 0 AND is_below_required THEN 0
            WHEN rate_mm_per_year = 0 AND t_req_mm IS NOT NULL THEN cap_years
            ELSE formula.interval(remaining_life_years, cap_years, short_life_cap_years)
        END AS interval_years
    FROM lived
),

-- The average, or the wall under a pit that may not be ignored, counts as the thickness of a place does, for dates too.
timed AS (
    SELECT
        *,
        read_on + formula.whole_days(interval_years, days_per_year, day_guard)::INTEGER AS due_on
    FROM spaced
),

governing AS (
    SELECT
        asset, component, area,
        arg_min(
            {'governed_by': governed_by, 'read_on': read_on, 't_act_mm': t_act_mm, 't_req_mm': t_req_mm,
             'margin': margin, 'life': remaining_life_years, 'rate': rate_mm_per_year,
             'retirement_on': CASE WHEN abs(remaining_life_years) <= dated_life_years
                THEN read_on + formula.whole_days(remaining_life_years, days_per_year, day_guard)::INTEGER END},
            (NOT is_below_required, NOT may_govern, t_act_mm IS NULL, coalesce(t_act_mm, 1e9), governed_by,
             coalesce(read_on, DATE '9999-12-31'))
        ) AS one,
        bool_or(is_below_required) AS is_below_required,
        bool_or(may_govern) AS governs,
        arg_min(
            {'surveyed_on': read_on, 'life': remaining_life_years, 'cap_years': cap_years,
             'interval_years': interval_years, 'due_on': due_on},
            (due_on, governed_by)
        ) FILTER (may_govern AND due_on IS NOT NULL) AS first_due,
        CASE WHEN bool_or(may_govern AND due_on IS NULL)
            THEN 'the date and the remaining life of corroded area ' || area
        END AS due_missing,
        string_agg(said, '; ' ORDER BY governed_by, read_on) AS said,
        string_agg(DISTINCT missing, '; ' ORDER BY missing) AS missing
    FROM timed
    GROUP BY asset, component, area
)

SELECT
    asset, component, area, is_below_required,
    one['read_on'] AS read_on,
    CASE WHEN governs THEN one['t_act_mm'] END AS t_act_mm,
    CASE WHEN governs THEN one['governed_by'] END AS governed_by,
    one['t_req_mm'] AS t_req_mm,
    CASE WHEN governs THEN one['margin'] END AS margin,
    CASE WHEN governs THEN one['life'] END AS remaining_life_years,
    coalesce(governs AND one['rate'] = 0, false) AS no_measurable_loss,
    CASE WHEN governs THEN one['retirement_on'] END AS retirement_on,
    first_due['surveyed_on'] AS surveyed_on,
    first_due['life'] AS life_from_survey_years,
    first_due['cap_years'] AS cap_years,
    first_due['interval_years'] AS interval_years,
    first_due['due_on'] AS due_on,
    due_missing,
    component || ', area ' || area || ': ' || said || coalesce('; missing: ' || missing, '') AS sentence,
    missing
FROM governing
