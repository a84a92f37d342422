-- Remaining life, interval, retirement and due date of every place, with and without held readings.
-- grain: asset, component, location, scenario
-- reads: step.place_required, step.rate, step.reading, step.cap, step.epoch, step.asset, step.component, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column scenario: in force, or with held readings
-- column zone: crown where a head's crown counts, else general
-- column region_counted: weld or away, the region whose required thickness counts
-- column read_on: date of the last reading
-- column t_act_mm: last reading
-- column t_req_mm: required thickness that counts
-- column t_req_weld_mm: required thickness in the weld region
-- column t_req_away_mm: required thickness away from it
-- column rate_mm_per_year: governing rate
-- column margin: margin over the required thickness
-- column remaining_life_years: remaining life from the last reading, null without end or unknown
-- column no_measurable_loss: the rate is zero: the life has no end, the interval is the cap
-- column remaining_life_weld_years: remaining life in the weld region
-- column remaining_life_away_years: remaining life away from it
-- column remaining_life_retirement_years: remaining life on the retirement basis
-- column remaining_life_allowance_years: remaining life on the allowance basis
-- column remaining_life_nominal_years: remaining life on the nominal basis
-- column retirement_on: date at which the required thickness is reached, null where centuries away
-- column cap_years: longest thickness interval
-- column internal_cap_years: longest internal interval
-- column interval_years: thickness interval
-- column internal_interval_years: internal or on-stream interval
-- column due_on: date by which the place is to be measured again
-- column first_check_on: date by which a new or changed service is checked first, null where it is not asked
-- column service_from_on: day from which that check counts, null where it is not asked
-- column wall_since_on: day on which its wall went into service, with the vessel or in place of another
-- column internal_due_on: date by which the half life asks for an internal or on-stream inspection
-- column never_read: the place has no reading that counts
-- column t_next_mm: thickness less twice the loss to the next inspection
-- column is_below_required: the last reading is below the required thickness
-- column verdict_turns_on_weld_distance: it passes away from the weld, fails at it, and the distance is not known
-- column life_missing: why there is no life, null if there is one or the rate is zero
-- Each component with the day from which its first check counts: a stated rate is checked anew on a new wall too; else what
-- was read of a service before its wall was replaced still says something of it.
WITH begun AS (
    SELECT
        *,
        started_on + formula.whole_days(first_check_from_years, days_per_year, day_guard)::INTEGER AS check_from_on
    FROM (
        SELECT
            component.asset, component.component, component.stated_rate_mm_per_year,
            coalesce(wall_on, in_service_on) AS wall_since_on,
            CASE WHEN stated_rate_mm_per_year IS NOT NULL THEN coalesce(epoch_on, in_service_on)
                ELSE coalesce(service_on, in_service_on) END AS started_on
        FROM step.component AS component
        LEFT JOIN step.asset AS asset USING (asset)
        LEFT JOIN step.epoch AS epoch
            ON epoch.asset = component.asset
            AND epoch.component = component.component
    )
    CROSS JOIN basis.in_force
),

-- Somewhere on them two readings, not all but at once, give the rate, or one was taken in the time of the first check.
rated AS (
    SELECT DISTINCT asset, component
    FROM step.rate
    WHERE scenario = 'in force' AND reading_count >= 2 AND NOT is_brief
),

checked AS (
    FROM rated
    UNION ALL
    SELECT reading.asset, reading.component
    FROM (
        SELECT asset, component, max(read_on) AS read_on
        FROM step.reading
        ANTI JOIN rated USING (asset, component)
        WHERE status IN ('used', 'before epoch')
        GROUP BY asset, component
    ) AS reading
    JOIN begun USING (asset, component)
    WHERE reading.read_on >= check_from_on
),

joined AS (
    SELECT
        required.asset, required.component, required.location,
        coalesce(rate.scenario, 'in force') AS scenario,
        rate.read_on, rate.t_act_mm,
        required.t_req_mm, required.t_req_weld_mm, required.t_req_away_mm,
        required.t_req_retirement_mm, required.t_req_allowance_mm, required.t_req_nominal_mm,
        required.zone, required.region_counted, required.weld_region, required.required_missing,
        rate.rate_mm_per_year, rate.rate_missing,
        -- A new or changed service whose rate no reading gives is checked soon after its start, until it has been: a
        -- place that rests on a stated rate, and any of a component that nobody has checked.
        begun.started_on,
        (coalesce(rate.reading_count, 0) < 2 OR rate.is_brief)
            AND (rate.read_on IS NULL OR rate.read_on < begun.check_from_on)
            AND (begun.stated_rate_mm_per_year IS NOT NULL OR checked.component IS NULL)
            AS wants_first_check,
        in_force.first_check_years,
        thickness_cap.cap_years,
        internal_cap.cap_years AS internal_cap_years,
        begun.wall_since_on,
        in_force.days_per_year, in_force.day_guard, in_force.short_life_cap_years, in_force.dated_life_years
    FROM step.place_required AS required
    LEFT JOIN step.rate AS rate USING (asset, component, location)
    LEFT JOIN step.cap AS thickness_cap
        ON thickness_cap.asset = required.asset
        AND thickness_cap.kind = 'thickness'
    LEFT JOIN step.cap AS internal_cap
        ON internal_cap.asset = required.asset
        AND internal_cap.kind = 'internal'
    LEFT JOIN begun
        ON begun.asset = required.asset
        AND begun.component = required.component
    LEFT JOIN checked
        ON checked.asset = required.asset
        AND checked.component = required.component
    CROSS JOIN basis.in_force AS in_force
),

lived AS (
    SELECT
        *,
        formula.margin(t_act_mm, t_req_mm) AS margin,
        formula.remaining_life(t_act_mm, t_req_mm, rate_mm_per_year) AS remaining_life_years,
        formula.remaining_life(t_act_mm, t_req_weld_mm, rate_mm_per_year) AS remaining_life_weld_years,
        formula.remaining_life(t_act_mm, t_req_away_mm, rate_mm_per_year) AS remaining_life_away_years,
        formula.remaining_life(t_act_mm, t_req_retirement_mm, rate_mm_per_year) AS remaining_life_retirement_years,
        formula.remaining_life(t_act_mm, t_req_allowance_mm, rate_mm_per_year) AS remaining_life_allowance_years,
        formula.remaining_life(t_act_mm, t_req_nominal_mm, rate_mm_per_year) AS remaining_life_nominal_years,
        t_act_mm < t_req_mm AS is_below_required,
        rate_mm_per_year = 0 AS no_measurable_loss
    FROM joined
),

spaced AS (
    SELECT
        *,
        CASE
            -- No life is left, whatever the rate, also where nobody knows it.
            WHEN is_below_required THEN 0
            WHEN no_measurable_loss AND t_req_mm IS NOT NULL THEN cap_years
            ELSE formula.interval(remaining_life_years, cap_years, short_life_cap_years)
        END AS interval_years,
        CASE
            WHEN is_below_required THEN 0
            WHEN no_measurable_loss AND t_req_mm IS NOT NULL THEN internal_cap_years
            ELSE formula.interval(remaining_life_years, internal_cap_years, short_life_cap_years)
        END AS internal_interval_years,
        CASE WHEN wants_first_check
            THEN started_on + formula.whole_days(first_check_years, days_per_year, day_guard)::INTEGER
        END AS first_check_on,
        CASE WHEN wants_first_check THEN started_on END AS service_from_on
    FROM lived
),

timed AS (
    SELECT
        *,
        -- A place never read is due as one never inspected: counted from when its wall went into service.
        CASE
            WHEN read_on IS NULL
                THEN wall_since_on + formula.whole_days(cap_years, days_per_year, day_guard)::INTEGER
            ELSE read_on + formula.whole_days(interval_years, days_per_year, day_guard)::INTEGER
        END AS interval_due_on
    FROM spaced
)

SELECT
    asset, component, location, scenario, zone, region_counted, read_on, t_act_mm, t_req_mm, t_req_weld_mm, t_req_away_mm,
    rate_mm_per_year, margin, remaining_life_years,
    coalesce(no_measurable_loss, false) AS no_measurable_loss,
    remaining_life_weld_years, remaining_life_away_years, remaining_life_retirement_years,
    remaining_life_allowance_years, remaining_life_nominal_years,
    CASE WHEN abs(remaining_life_years) <= dated_life_years
        THEN read_on + formula.whole_days(remaining_life_years, days_per_year, day_guard)::INTEGER
    END AS retirement_on,
    cap_years, internal_cap_years, interval_years, internal_interval_years,
    CASE
        WHEN first_check_on IS NULL THEN interval_due_on
        WHEN interval_due_on IS NULL THEN first_check_on
        ELSE least(first_check_on, interval_due_on)
    END AS due_on,
    first_check_on, service_from_on, wall_since_on,
    read_on + formula.whole_days(internal_interval_years, days_per_year, day_guard)::INTEGER AS internal_due_on,
    read_on IS NULL AS never_read,
    formula.thickness_at_next(t_act_mm, rate_mm_per_year, internal_interval_years) AS t_next_mm,
    coalesce(is_below_required, false) AS is_below_required,
    coalesce(weld_region = 'unknown' AND (t_act_mm < t_req_weld_mm) <> (t_act_mm < t_req_away_mm), false)
        AS verdict_turns_on_weld_distance,
    CASE
        WHEN required_missing IS NOT NULL THEN required_missing
        WHEN read_on IS NULL THEN 'a thickness reading'
        WHEN is_below_required THEN NULL
        WHEN rate_mm_per_year IS NULL THEN rate_missing
    END AS life_missing
FROM timed
