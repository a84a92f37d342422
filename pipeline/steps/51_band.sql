-- Between which rates, lives and dates each place lies by the scatter of readings alone, and what its last reading is worth.
-- grain: asset, component, location
-- reads: step.life, step.rate, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column rate_low_mm_per_year: low end of the rate
-- column rate_high_mm_per_year: high end of the rate
-- column remaining_life_low_years: remaining life at the high rate
-- column remaining_life_high_years: remaining life at the low rate, null without end or unknown
-- column retirement_earliest_on: retirement date at the high rate
-- column retirement_latest_on: retirement date at the low rate, null without end or unknown
-- column due_earliest_on: thickness due date at the high rate
-- column due_latest_on: thickness due date at the low rate
-- column internal_due_earliest_on: half-life date of the internal interval at the high rate
-- column internal_due_latest_on: half-life date of the internal interval at the low rate
-- column remaining_life_thinner_years: remaining life had the last reading been thinner by its scatter
-- column remaining_life_thicker_years: remaining life had it been thicker by its scatter, null without end or unknown
-- column due_thinner_on: thickness due date had the last reading been thinner by its scatter
-- column due_thicker_on: thickness due date had it been thicker by its scatter
-- column internal_due_thinner_on: half-life date of the internal interval in the first case
-- column internal_due_thicker_on: half-life date of the internal interval in the second case
-- column below_if_thinner: it would be below required had the last reading been thinner by its scatter
-- column below_if_thicker: it would be below required even so had it been thicker by its scatter
WITH spread AS (
    SELECT
        life.*,
        in_force.days_per_year, in_force.day_guard, in_force.short_life_cap_years, in_force.dated_life_years,
        formula.rate_governing(
            formula.rate_band_low(rate_selected_mm_per_year, band_deviations, rate_deviation_mm_per_year),
            rate_floor_mm_per_year
        ) AS rate_low_mm_per_year,
        formula.rate_governing(
            formula.rate_band_high(rate_selected_mm_per_year, band_deviations, rate_deviation_mm_per_year),
            rate_floor_mm_per_year
        ) AS rate_high_mm_per_year
    FROM step.life AS life
    JOIN (
        SELECT asset, component, location, rate_selected_mm_per_year, rate_deviation_mm_per_year
        FROM step.rate
        WHERE scenario = 'in force'
    ) AS rate USING (asset, component, location)
    CROSS JOIN basis.in_force AS in_force
    WHERE scenario = 'in force'
),

-- The difference of two nearly equal numbers is no rate.
ended AS (
    SELECT * REPLACE (
        CASE WHEN rate_low_mm_per_year < least_rate_mm_per_year THEN 0 ELSE rate_low_mm_per_year END
            AS rate_low_mm_per_year
    )
    FROM spread
    CROSS JOIN (SELECT least_rate_mm_per_year FROM basis.in_force)
),

lived AS (
    SELECT
        *,
        formula.remaining_life(t_act_mm, t_req_mm, rate_high_mm_per_year) AS life_low_years,
        formula.remaining_life(t_act_mm, t_req_mm, rate_low_mm_per_year) AS life_high_years
    FROM ended
),

spaced AS (
    SELECT
        *,
        CASE
            WHEN rate_high_mm_per_year = 0 AND t_act_mm < t_req_mm THEN 0
            WHEN rate_high_mm_per_year = 0 AND t_req_mm <= t_act_mm THEN cap_years
            ELSE formula.interval(life_low_years, cap_years, short_life_cap_years)
        END AS interval_low_years,
        CASE
            WHEN rate_low_mm_per_year = 0 AND t_act_mm < t_req_mm THEN 0
            WHEN rate_low_mm_per_year = 0 AND t_req_mm <= t_act_mm THEN cap_years
            ELSE formula.interval(life_high_years, cap_years, short_life_cap_years)
        END AS interval_high_years,
        CASE
            WHEN rate_high_mm_per_year = 0 AND t_act_mm < t_req_mm THEN 0
            WHEN rate_high_mm_per_year = 0 AND t_req_mm <= t_act_mm THEN internal_cap_years
            ELSE formula.interval(life_low_years, internal_cap_years, short_life_cap_years)
        END AS internal_interval_low_years,
        CASE
            WHEN rate_low_mm_per_year = 0 AND t_act_mm < t_req_mm THEN 0
            WHEN rate_low_mm_per_year = 0 AND t_req_mm <= t_act_mm THEN internal_cap_years
            ELSE formula.interval(life_high_years, internal_cap_years, short_life_cap_years)
        END AS internal_interval_high_years
    FROM lived
),

-- The first check of a new or changed service is due whatever the rate.
dated AS (
    SELECT
        *,
        read_on + formula.whole_days(interval_low_years, days_per_year, day_guard)::INTEGER AS interval_low_on,
        read_on + formula.whole_days(interval_high_years, days_per_year, day_guard)::INTEGER AS interval_high_on
    FROM spaced
),

trial AS (
    SELECT
        asset, component, location,
        min(remaining_life_years) FILTER (scenario = 'last reading thinner') AS remaining_life_thinner_years,
        min(remaining_life_years) FILTER (scenario = 'last reading thicker') AS remaining_life_thicker_years,
        min(due_on) FILTER (scenario = 'last reading thinner') AS due_thinner_on,
        min(due_on) FILTER (scenario = 'last reading thicker') AS due_thicker_on,
        min(internal_due_on) FILTER (scenario = 'last reading thinner') AS internal_due_thinner_on,
        min(internal_due_on) FILTER (scenario = 'last reading thicker') AS internal_due_thicker_on,
        bool_or(is_below_required) FILTER (scenario = 'last reading thinner') AS below_if_thinner,
        bool_or(is_below_required) FILTER (scenario = 'last reading thicker') AS below_if_thicker
    FROM step.life
    WHERE scenario IN ('last reading thinner', 'last reading thicker')
    GROUP BY asset, component, location
)

SELECT
    dated.asset, dated.component, dated.location, rate_low_mm_per_year, rate_high_mm_per_year,
    life_low_years AS remaining_life_low_years,
    life_high_years AS remaining_life_high_years,
    CASE WHEN abs(life_low_years) <= dated_life_years
        THEN read_on + formula.whole_days(life_low_years, days_per_year, day_guard)::INTEGER
    END AS retirement_earliest_on,
    CASE WHEN abs(life_high_years) <= dated_life_years
        THEN read_on + formula.whole_days(life_high_years, days_per_year, day_guard)::INTEGER
    END AS retirement_latest_on,
    CASE WHEN first_check_on < interval_low_on THEN first_check_on ELSE interval_low_on END AS due_earliest_on,
    CASE WHEN first_check_on < interval_high_on THEN first_check_on ELSE interval_high_on END AS due_latest_on,
    read_on + formula.whole_days(internal_interval_low_years, days_per_year, day_guard)::INTEGER
        AS internal_due_earliest_on,
    read_on + formula.whole_days(internal_interval_high_years, days_per_year, day_guard)::INTEGER
        AS internal_due_latest_on,
    remaining_life_thinner_years, remaining_life_thicker_years, due_thinner_on, due_thicker_on,
    internal_due_thinner_on, internal_due_thicker_on, below_if_thinner, below_if_thicker
FROM dated
LEFT JOIN trial USING (asset, component, location)
