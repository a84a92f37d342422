-- Corrosion rates of every place as its readings give them: long-term, short-term and least squares.
-- grain: asset, component, location, scenario
-- reads: step.history, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column scenario: in force, with held readings, last reading thicker or last reading thinner
-- column reading_count: number of readings in the history
-- column read_on: date of the last reading
-- column t_act_mm: last reading
-- column initial_from: first reading, event or nominal
-- column is_brief: several readings, all within the shortest interval, that differ by no more than scatter does
-- column epoch_on: start of the history, null for the first one
-- column years_long: years from the initial thickness to the last reading
-- column years_short: years from the reading before to the last one
-- column rate_lt_mm_per_year: long-term rate
-- column rate_st_mm_per_year: short-term rate
-- column short_term_counts: the short-term rate may govern
-- column rate_fit_mm_per_year: least-squares rate
-- column rate_fit_error_mm_per_year: its standard error
-- column rate_fit_upper_mm_per_year: its one-sided 95 % bound
WITH timed AS (
    SELECT
        history.*,
        days_per_year, short_interval_years, reading_scatter_mm, least_rate_mm_per_year,
        formula.years_between(days_long, days_per_year) AS years_long,
        formula.years_between(days_short, days_per_year) AS years_short
    FROM step.history AS history
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
)

SELECT
    asset, component, location, scenario, reading_count, read_on, t_act_mm, initial_from, is_brief, epoch_on, years_long,
    years_short,
    CASE WHEN abs(rate_lt_mm_per_year) < least_rate_mm_per_year THEN 0 ELSE rate_lt_mm_per_year END
        AS rate_lt_mm_per_year,
    CASE WHEN abs(rate_st_mm_per_year) < least_rate_mm_per_year THEN 0 ELSE rate_st_mm_per_year END
        AS rate_st_mm_per_year,
    short_term_counts,
    CASE WHEN abs(rate_fit_mm_per_year) < least_rate_mm_per_year THEN 0 ELSE rate_fit_mm_per_year END
        AS rate_fit_mm_per_year, rate_fit_error_mm_per_year,
    formula.fit_upper_bound(rate_fit_mm_per_year, t_quantile, rate_fit_error_mm_per_year)
        AS rate_fit_upper_mm_per_year
FROM rated
