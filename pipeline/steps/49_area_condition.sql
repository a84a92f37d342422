-- Every survey of a corroded area against the required thickness: its lowest average, margin, rate and life.
-- grain: survey_no
-- reads: step.area_average, step.area_stated, step.event, step.component, step.required_thickness, step.rate, basis.in_force
-- none without: step.area_average
-- column survey_no: number of the survey
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey
-- column superseded_by: what stands in place of the survey, null where it counts
-- column t_act_mm: thickness of the area: its lowest average
-- column survey_lowest_mm: lowest reading
-- column t_req_mm: required thickness that counts: that of the weld region, since the distance to a weld is unknown
-- column t_req_away_mm: required thickness away from the weld
-- column governing_case: what sets the required thickness
-- column half_required_mm: half the required thickness
-- column margin: margin of the average over the required thickness
-- column margin_away: the same away from the weld
-- column average_verdict: average is enough or average is below required; null where that is not known
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
WITH renewed AS (
    SELECT survey_no, max(event_on) AS event_on, arg_max(event, (event_on, event)) AS event
    FROM step.area_average AS average
    JOIN step.event AS event
        ON event.asset = average.asset
        AND (event.component = average.component OR event.component IS NULL)
        -- What was replaced or overlaid is another wall; a change of service leaves the wall as it is.
        AND event.event IN ('replaced', 'overlaid')
        AND event.event_on > average.read_on
    GROUP BY survey_no
),

place_rate AS (
    SELECT
        asset, component,
        max(rate_mm_per_year) AS rate_mm_per_year,
        arg_max(location, (rate_mm_per_year, location)) FILTER (rate_mm_per_year IS NOT NULL) AS location
    FROM step.rate
    WHERE scenario = 'in force'
    GROUP BY asset, component
),

-- A reading left out may be the thinnest: what the others say is then enough to fail, and never to pass.
doubtful AS (
    SELECT
        survey_no,
        bool_and(left_out_because IS NOT NULL) AS none_sound,
        CASE count(*) FILTER (left_out_because IS NOT NULL)
            WHEN 1 THEN 'the reading in ' || min(cell) FILTER (left_out_because IS NOT NULL)
            ELSE count(*) FILTER (left_out_because IS NOT NULL) || ' readings, the first in '
                || arg_min(cell, reading_no) FILTER (left_out_because IS NOT NULL)
        END || ' (' || arg_min(left_out_because, reading_no) FILTER (left_out_because IS NOT NULL) || ')' AS doubt
    FROM step.area_stated
    GROUP BY survey_no
    HAVING bool_or(left_out_because IS NOT NULL)
),

surveyed AS (
    SELECT
        doubtful.doubt,
        coalesce(doubtful.none_sound, false) AS none_sound,
        average.survey_no, average.asset, average.component, average.area, average.read_on, t_act_mm, survey_lowest_mm,
        renewed.event_on AS renewed_on, renewed.event AS renewed_by,
        -- A survey of which no reading can be taken stands in place of none before it.
        max(average.read_on) FILTER (doubtful.none_sound IS NOT TRUE) OVER (
            PARTITION BY average.asset, average.component, average.area
        ) AS last_read_on,
        lag(t_act_mm) OVER history AS t_before_mm,
        lag(average.read_on) OVER history AS before_on,
        component.in_register,
        weld.t_req_mm IS NOT NULL AS is_required,
        -- Where no reading can be taken nothing is held against the required thickness.
        CASE WHEN doubtful.none_sound IS NOT TRUE THEN weld.t_req_mm END AS t_req_mm,
        weld.governing_case, weld.not_required_because,
        CASE WHEN doubtful.none_sound IS NOT TRUE THEN away.t_req_mm END AS t_req_away_mm,
        CASE
            WHEN place_rate.rate_mm_per_year IS NOT NULL THEN place_rate.rate_mm_per_year
            ELSE formula.rate_governing(component.stated_rate_mm_per_year, in_force.rate_floor_mm_per_year)
        END AS component_rate_mm_per_year,
        CASE
            WHEN place_rate.rate_mm_per_year IS NOT NULL THEN 'location ' || place_rate.location
            WHEN component.stated_rate_mm_per_year IS NOT NULL THEN 'stated on the register'
        END AS component_rate_from,
        in_force.days_per_year, in_force.day_guard, in_force.dated_life_years, in_force.rate_floor_mm_per_year
    FROM step.area_average AS average
    LEFT JOIN renewed USING (survey_no)
    LEFT JOIN doubtful USING (survey_no)
    LEFT JOIN step.component AS component USING (asset, component)
    LEFT JOIN place_rate USING (asset, component)
    CROSS JOIN basis.in_force AS in_force
    LEFT JOIN step.required_thickness AS weld
        ON weld.asset = average.asset
        AND weld.component = average.component
        AND weld.zone = 'general'
        AND weld.region = 'weld'
        AND weld.radius_basis = in_force.radius_basis
    LEFT JOIN step.required_thickness AS away
        ON away.asset = average.asset
        AND away.component = average.component
        AND away.zone = 'general'
        AND away.region = 'away'
        AND away.radius_basis = in_force.radius_basis
    WINDOW history AS (
        PARTITION BY
            average.asset, average.component, average.area, average.read_on IS NULL, renewed.event_on,
            doubtful.doubt IS NULL
        ORDER BY average.read_on
    )
),

rated AS (
    SELECT
        *,
        date_diff('day', before_on, read_on) AS days_before,
        CASE WHEN doubt IS NULL THEN formula.short_term_rate(
            t_before_mm, t_act_mm, formula.years_between(date_diff('day', before_on, read_on), days_per_year)
        ) END AS own_rate_mm_per_year
    FROM surveyed
),

governed AS (
    SELECT
        *,
        CASE
            WHEN doubt IS NOT NULL THEN NULL
            WHEN component_rate_mm_per_year IS NULL
                THEN formula.rate_governing(own_rate_mm_per_year, rate_floor_mm_per_year)
            WHEN own_rate_mm_per_year IS NULL THEN component_rate_mm_per_year
            ELSE formula.area_rate(component_rate_mm_per_year, own_rate_mm_per_year)
        END AS rate_mm_per_year
    FROM rated
),

lived AS (
    SELECT
        *,
        formula.remaining_life(t_act_mm, t_req_mm, rate_mm_per_year) AS remaining_life_years,
        formula.half_required(t_req_mm) AS half_required_mm
    FROM governed
)

SELECT
    survey_no, asset, component, area, read_on,
    CASE
        WHEN renewed_on IS NOT NULL THEN renewed_by || ' on ' || renewed_on
        WHEN read_on < last_read_on THEN 'survey of ' || last_read_on
    END AS superseded_by,
    t_act_mm, survey_lowest_mm, t_req_mm, t_req_away_mm, governing_case, half_required_mm,
    formula.margin(t_act_mm, t_req_mm) AS margin,
    formula.margin(t_act_mm, t_req_away_mm) AS margin_away,
    CASE
        WHEN t_act_mm < t_req_mm THEN 'average is below required'
        WHEN t_act_mm >= t_req_mm AND doubt IS NULL THEN 'average is enough'
    END AS average_verdict,
    coalesce(t_act_mm < t_req_mm, false) AS is_below_required,
    coalesce(survey_lowest_mm < half_required_mm, false) AS lowest_below_half,
    component_rate_mm_per_year, component_rate_from, t_before_mm, before_on, days_before, own_rate_mm_per_year,
    rate_mm_per_year, remaining_life_years,
    coalesce(rate_mm_per_year = 0, false) AS no_measurable_loss,
    CASE WHEN abs(remaining_life_years) <= dated_life_years
        THEN read_on + formula.whole_days(remaining_life_years, days_per_year, day_guard)::INTEGER
    END AS retirement_on,
    nullif(concat_ws(', ',
        CASE
            WHEN is_required THEN NULL
            WHEN in_register IS NOT TRUE THEN 'the component, which stands on no component sheet'
            ELSE coalesce(not_required_because, 'component kind')
        END,
        doubt
    ), '') AS missing,
    CASE
        WHEN t_req_mm IS NULL OR t_act_mm < t_req_mm OR doubt IS NOT NULL THEN NULL
        WHEN rate_mm_per_year IS NULL
            THEN 'a corrosion rate of the component: a second reading of one of its places, or a stated rate'
        WHEN read_on IS NULL THEN 'the date of the survey'
    END AS life_missing
FROM lived
