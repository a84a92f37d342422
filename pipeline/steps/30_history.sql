-- First, previous and last reading of every place: as they count, with those held for growth, and with the last one off
-- by the scatter of one reading.
-- grain: asset, component, location, scenario
-- reads: step.reading, step.event, step.component, step.asset, reference.t_quantile, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column scenario: in force, with held readings, last reading thicker or last reading thinner
-- column reading_count: number of readings in the history
-- column read_on: date of the last reading
-- column t_act_mm: last reading
-- column previous_on: date of the reading before
-- column t_previous_mm: reading before
-- column initial_on: date of the initial thickness
-- column t_initial_mm: initial thickness
-- column initial_from: first reading, event or nominal
-- column is_brief: several readings, all within the shortest interval, that differ by no more than scatter does
-- column epoch_on: start of the history, null for the first one
-- column days_long: days from the initial thickness to the last reading
-- column days_short: days from the reading before to the last one
-- column sum_days_squared: n times the sum of squared days about their mean
-- column sum_days_thickness: n times the sum of days by thickness about their means
-- column sum_thickness_squared: n times the sum of squared thickness about its mean
-- column t_quantile: one-sided 95 % quantile of Student's t for the fit
WITH growth_place AS (
    SELECT DISTINCT asset, component, location FROM step.reading WHERE held_for = 'growth'
),

counted AS (
    SELECT 'in force' AS scenario, asset, component, location, read_on, thickness_mm, epoch_on
    FROM step.reading
    WHERE status = 'used'
    UNION ALL
    SELECT 'with held readings', asset, component, location, read_on, thickness_mm, epoch_on
    FROM step.reading
    SEMI JOIN growth_place USING (asset, component, location)
    WHERE status = 'used' OR held_for = 'growth'
),

-- Whole numbers (days, hundred-thousandths of a millimetre) make the sums the same in every run and order.
whole AS (
    SELECT
        *,
        date_diff('day', DATE '1900-01-01', read_on)::HUGEINT AS day_no,
        round(thickness_mm * 100000)::HUGEINT AS parts
    FROM counted
),

summed AS (
    SELECT
        scenario, asset, component, location,
        min(epoch_on) AS epoch_on,
        count(*) AS n,
        max(read_on) AS read_on,
        arg_max(thickness_mm, read_on) AS t_act_mm,
        min(read_on) AS first_on,
        arg_min(thickness_mm, read_on) AS first_mm,
        arg_max({'on': read_on, 'mm': thickness_mm}, read_on, 2)[2] AS previous,
        (count(*) * sum(day_no * day_no) - sum(day_no) * sum(day_no))::DOUBLE AS sum_days_squared,
        (count(*) * sum(day_no * parts) - sum(day_no) * sum(parts))::DOUBLE / 1e5 AS sum_days_thickness,
        (count(*) * sum(parts * parts) - sum(parts) * sum(parts))::DOUBLE / 1e10 AS sum_thickness_squared,
        (count(*) * max(day_no) - sum(day_no))::DOUBLE AS last_day_lead,
        (count(*) * arg_max(parts, read_on) - sum(parts))::DOUBLE / 1e5 AS last_thickness_lead
    FROM whole
    GROUP BY scenario, asset, component, location
),

started AS (
    SELECT
        summed.*,
        event.new_thickness_mm AS event_mm,
        asset.in_service_on,
        CASE WHEN component.nominal_from = 'register' THEN component.nominal_thickness_mm END AS nominal_mm
    FROM summed
    LEFT JOIN step.component AS component USING (asset, component)
    LEFT JOIN step.asset AS asset USING (asset)
    LEFT JOIN (
        -- The component's own statement comes before the whole asset's; of several, the thicker wall is the safe one.
        SELECT
            component.asset, component.component, event_on,
            coalesce(max(new_thickness_mm) FILTER (event.component IS NOT NULL), max(new_thickness_mm))
                AS new_thickness_mm
        FROM step.component AS component
        JOIN step.event AS event
            ON event.asset = component.asset
            AND (event.component = component.component OR event.component IS NULL)
        WHERE starts_epoch
        GROUP BY component.asset, component.component, event_on
    ) AS event
        ON event.asset = summed.asset
        AND event.component = summed.component
        AND event.event_on = summed.epoch_on
),

spanned AS (
    SELECT
        started.*,
        n >= 2
            AND formula.years_between(date_diff('day', first_on, started.read_on), days_per_year)
                < short_interval_years
            AND greatest(first_mm, previous['mm']) - t_act_mm <= formula.noise_limit(reading_scatter_mm) AS is_brief,
        epoch_on IS NULL
            AND formula.long_term_rate(nominal_mm, t_act_mm,
                    formula.years_between(date_diff('day', in_service_on, started.read_on), days_per_year))
                > formula.long_term_rate(first_mm, t_act_mm,
                    formula.years_between(date_diff('day', first_on, started.read_on), days_per_year))
            AS nominal_loses_more
    FROM started
    CROSS JOIN basis.in_force
),

initial AS (
    SELECT
        *,
        CASE
            WHEN event_mm IS NOT NULL AND epoch_on <= read_on THEN 'event'
            -- Readings a few weeks apart say next to nothing of a rate: the nominal thickness may still say more.
            WHEN is_brief AND nominal_loses_more THEN 'nominal'
            WHEN n >= 2 THEN 'first reading'
            WHEN epoch_on IS NULL AND nominal_mm IS NOT NULL AND in_service_on < read_on THEN 'nominal'
        END AS initial_from
    FROM spanned
),

dated AS (
    SELECT
        *,
        CASE initial_from
            WHEN 'event' THEN epoch_on
            WHEN 'first reading' THEN first_on
            WHEN 'nominal' THEN in_service_on
        END AS initial_on,
        CASE initial_from
            WHEN 'event' THEN event_mm
            WHEN 'first reading' THEN first_mm
            WHEN 'nominal' THEN nominal_mm
        END AS t_initial_mm
    FROM initial
),

-- What the last reading is worth: the same history had it been thicker or thinner by the scatter of one reading.
tried AS (
    SELECT * EXCLUDE (scenario), scenario, 0 AS off FROM dated
    UNION ALL BY NAME
    SELECT dated.* EXCLUDE (scenario), trial.scenario, trial.off
    FROM dated
    CROSS JOIN (VALUES ('last reading thicker', 1), ('last reading thinner', -1)) AS trial(scenario, off)
    WHERE dated.scenario = 'in force'
)

SELECT
    asset, component, location, scenario,
    n AS reading_count,
    read_on,
    CASE off WHEN 0 THEN t_act_mm ELSE formula.reading_off(t_act_mm, off, reading_scatter_mm) END AS t_act_mm,
    previous['on'] AS previous_on,
    previous['mm'] AS t_previous_mm,
    initial_on, t_initial_mm, initial_from, is_brief, epoch_on,
    date_diff('day', initial_on, read_on) AS days_long,
    date_diff('day', previous['on'], read_on) AS days_short,
    sum_days_squared,
    CASE off WHEN 0 THEN sum_days_thickness
        ELSE formula.sum_with_reading_off(sum_days_thickness, off, reading_scatter_mm, last_day_lead)
    END AS sum_days_thickness,
    CASE off WHEN 0 THEN sum_thickness_squared
        ELSE formula.squares_with_reading_off(
            sum_thickness_squared, off, reading_scatter_mm, last_thickness_lead, n)
    END AS sum_thickness_squared,
    -- Beyond the table the quantile of its last row is the larger one: the safe side.
    t_quantile.t_quantile
FROM tried
CROSS JOIN basis.in_force
LEFT JOIN reference.t_quantile AS t_quantile
    ON t_quantile.degrees_of_freedom = least(tried.n - 2, (SELECT max(degrees_of_freedom) FROM reference.t_quantile))
