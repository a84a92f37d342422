-- Corrosion rates of every place: long-term, short-term, least squares, and the governing one.
-- grain: asset, component, location, scenario
-- reads: step.history, step.component, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column scenario: in force, or with held readings
-- column years_long: years from the initial thickness to the last reading
-- column years_short: years from the reading before to the last one
-- column rate_lt_mm_per_year: long-term rate
-- column rate_st_mm_per_year: short-term rate
-- column short_term_counts: the short-term rate may govern
-- column rate_fit_mm_per_year: least-squares rate
-- column rate_fit_error_mm_per_year: its standard error
-- column rate_fit_upper_mm_per_year: its one-sided 95 % bound
-- column stated_rate_mm_per_year: rate stated on the register
-- column rate_selected_mm_per_year: rate selected by the policy
-- column rate_from: which rate that is
-- column rate_mm_per_year: governing rate: not below zero, not below the floor
-- column rate_floor_applied: the floor raised it
-- column rate_deviation_mm_per_year: standard deviation of the selected two-point rate from reading scatter
-- column rate_missing: why there is no rate, null if there is one
WITH timed AS (
    SELECT
        history.*,
        component.stated_rate_mm_per_year,
        in_force.*,
        formula.years_between(days_long, days_per_year) AS years_long,
        formula.years_between(days_short, days_per_year) AS years_short
    FROM step.history AS history
    LEFT JOIN step.component AS component USING (asset, component)
    CROSS JOIN basis.in_force AS in_force
),

rated AS (
    SELECT
        *,
        formula.long_term_rate(t_initial_mm, t_act_mm, years_long) AS rate_lt_mm_per_year,
        formula.short_term_rate(t_previous_mm, t_act_mm, years_short) AS rate_st_mm_per_year,
        -- A change over a short time that scatter explains must not govern; a larger loss governs however short.
        coalesce(
            years_short >= short_interval_years
            OR t_previous_mm - t_act_mm > formula.noise_limit(reading_scatter_mm),
            false
        ) AS short_term_counts,
        formula.fit_rate(sum_days_thickness, sum_days_squared, days_per_year) AS rate_fit_mm_per_year,
        formula.fit_rate_error(
            sum_thickness_squared, sum_days_thickness, sum_days_squared, reading_count, days_per_year
        ) AS rate_fit_error_mm_per_year
    FROM timed
),

bounded AS (
    SELECT
        *,
        formula.fit_upper_bound(rate_fit_mm_per_year, t_quantile, rate_fit_error_mm_per_year)
            AS rate_fit_upper_mm_per_year
    FROM rated
),

chosen AS (
    SELECT
        *,
        CASE
            WHEN reading_count < 2 AND stated_rate_mm_per_year IS NOT NULL AND rate_lt_mm_per_year IS NULL
                THEN 'stated'
            WHEN reading_count < 2 AND stated_rate_mm_per_year IS NOT NULL
                THEN CASE
                    WHEN stated_rate_mm_per_year >= rate_lt_mm_per_year THEN 'stated'
                    ELSE 'long-term from ' || initial_from
                END
            WHEN rate_lt_mm_per_year IS NULL THEN NULL
            WHEN reading_count < 2 THEN 'long-term from ' || initial_from
            WHEN rate_policy = 'fit upper bound' AND rate_fit_upper_mm_per_year IS NOT NULL THEN 'fit upper bound'
            WHEN rate_policy = 'long-term' OR NOT short_term_counts THEN 'long-term'
            WHEN rate_policy = 'short-term' THEN 'short-term'
            WHEN rate_st_mm_per_year > rate_lt_mm_per_year THEN 'short-term'
            ELSE 'long-term'
        END AS rate_from
    FROM bounded
),

selected AS (
    SELECT
        *,
        CASE
            WHEN rate_from = 'stated' THEN stated_rate_mm_per_year
            WHEN rate_from = 'fit upper bound' THEN rate_fit_upper_mm_per_year
            WHEN rate_from = 'short-term' THEN rate_st_mm_per_year
            WHEN rate_from IS NOT NULL THEN rate_lt_mm_per_year
        END AS rate_selected_mm_per_year
    FROM chosen
)

SELECT
    asset, component, location, scenario,
    years_long, years_short, rate_lt_mm_per_year, rate_st_mm_per_year, short_term_counts,
    rate_fit_mm_per_year, rate_fit_error_mm_per_year, rate_fit_upper_mm_per_year, stated_rate_mm_per_year,
    rate_selected_mm_per_year, rate_from,
    formula.rate_governing(rate_selected_mm_per_year, rate_floor_mm_per_year) AS rate_mm_per_year,
    coalesce(rate_floor_mm_per_year > 0 AND rate_selected_mm_per_year < rate_floor_mm_per_year, false)
        AS rate_floor_applied,
    formula.rate_deviation(
        reading_scatter_mm, CASE WHEN rate_from = 'short-term' THEN years_short ELSE years_long END
    ) AS rate_deviation_mm_per_year,
    CASE
        WHEN rate_selected_mm_per_year IS NOT NULL THEN NULL
        WHEN epoch_on IS NOT NULL
            THEN 'a second reading since ' || epoch_on || ', or the new thickness of that event'
        ELSE 'a second reading, or a stated corrosion rate, or nominal thickness and in-service date'
    END AS rate_missing
FROM selected
