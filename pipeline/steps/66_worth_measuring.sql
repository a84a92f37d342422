-- What one measurement is worth: places where a tape or a repeated reading would change a verdict or an asset's due date.
-- grain: asset, component, location, measurement, kind
-- reads: step.next_due, step.life, step.band, step.place_required, step.asset, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column measurement: weld distance, or thickness
-- column kind: kind of due date it would move, or required thickness where only the verdict would change
-- column due_on: due date as it stands, null where only the verdict would change
-- column due_if_on: due date were the place away from the weld, or its last reading thicker by the scatter
-- column due_else_on: due date were the last reading thinner by the scatter, null for a weld distance
-- column worth_days: days gained, null where only the verdict would change
-- column remaining_life_years: remaining life as it stands
-- column remaining_life_if_years: remaining life in the better case, null without end or unknown
-- column is_below_required: the place is below required as it stands
-- column clears_below_required: it would not be in the better case
-- column t_act_mm: last reading
-- column read_on: its date
-- column t_req_mm: required thickness as it stands
-- column t_req_if_mm: required thickness in the better case
-- column weld_region_half_width_mm: half-width of the weld region, null for a thickness
WITH away AS (
    SELECT
        life.*,
        required.weld_region, required.weld_region_half_width_mm,
        in_force.days_per_year, in_force.day_guard,
        life.t_act_mm >= life.t_req_away_mm AS passes_away,
        CASE
            WHEN rate_mm_per_year = 0 AND t_act_mm >= life.t_req_away_mm THEN cap_years
            ELSE formula.interval(remaining_life_away_years, cap_years, short_life_cap_years)
        END AS interval_away_years,
        CASE
            WHEN rate_mm_per_year = 0 AND t_act_mm >= life.t_req_away_mm THEN life.internal_cap_years
            ELSE formula.interval(remaining_life_away_years, life.internal_cap_years, short_life_cap_years)
        END AS internal_interval_away_years
    FROM step.life AS life
    JOIN step.place_required AS required USING (asset, component, location)
    -- Nothing measured on what is retired changes anything.
    ANTI JOIN (SELECT asset FROM step.asset WHERE status = 'retired') AS retired
        ON retired.asset = life.asset
    CROSS JOIN basis.in_force AS in_force
    WHERE scenario = 'in force'
),

place AS (
    SELECT
        away.*,
        band.due_thicker_on, band.internal_due_thicker_on, band.due_thinner_on, band.internal_due_thinner_on,
        band.remaining_life_thicker_years, band.below_if_thicker,
        -- No tape moves the first check of a new or changed service.
        CASE
            WHEN first_check_on < read_on + formula.whole_days(interval_away_years, days_per_year, day_guard)::INTEGER
                THEN first_check_on
            ELSE read_on + formula.whole_days(interval_away_years, days_per_year, day_guard)::INTEGER
        END AS due_away_on,
        read_on + formula.whole_days(internal_interval_away_years, days_per_year, day_guard)::INTEGER
            AS internal_due_away_on
    FROM away
    LEFT JOIN step.band AS band USING (asset, component, location)
),

-- The place that sets an asset's date: measuring it moves the date as far as the next place, or the cap, lets it.
governing AS (
    SELECT
        place.*,
        next_due.kind, next_due.due_on AS asset_due_on, next_due.next_due_on,
        measurement.measurement,
        CASE
            WHEN measurement = 'weld distance' AND next_due.kind = 'internal' THEN internal_due_away_on
            WHEN measurement = 'weld distance' THEN due_away_on
            WHEN next_due.kind = 'internal' THEN internal_due_thicker_on
            ELSE due_thicker_on
        END AS place_due_if_on,
        CASE
            WHEN measurement = 'weld distance' THEN NULL
            WHEN next_due.kind = 'internal' THEN internal_due_thinner_on
            ELSE due_thinner_on
        END AS due_else_on
    FROM step.next_due AS next_due
    JOIN place USING (asset, component, location)
    CROSS JOIN (VALUES ('weld distance'), ('thickness')) AS measurement(measurement)
    WHERE measurement = 'thickness' OR weld_region = 'unknown'
),

moved AS (
    SELECT
        *,
        CASE
            WHEN next_due_on IS NULL THEN place_due_if_on
            WHEN place_due_if_on IS NULL THEN NULL
            ELSE least(place_due_if_on, next_due_on)
        END AS due_if_on
    FROM governing
),

-- A place that sets no date of its asset is worth a measurement where its verdict would change.
turning AS (
    SELECT *, 'weld distance' AS measurement, 'required thickness' AS kind
    FROM place
    WHERE verdict_turns_on_weld_distance
    UNION ALL BY NAME
    SELECT *, 'thickness' AS measurement, 'required thickness' AS kind
    FROM place
    WHERE is_below_required AND below_if_thicker IS FALSE
),

verdict AS (
    SELECT turning.*
    FROM turning
    ANTI JOIN (SELECT asset, component, location, measurement FROM moved WHERE due_if_on > asset_due_on) AS dated
        USING (asset, component, location, measurement)
)

SELECT
    asset, component, location, measurement, kind,
    asset_due_on AS due_on,
    due_if_on, due_else_on,
    date_diff('day', asset_due_on, due_if_on) AS worth_days,
    remaining_life_years,
    CASE measurement WHEN 'weld distance' THEN remaining_life_away_years ELSE remaining_life_thicker_years END
        AS remaining_life_if_years,
    is_below_required,
    is_below_required AND CASE measurement WHEN 'weld distance' THEN passes_away ELSE below_if_thicker IS FALSE END
        AS clears_below_required,
    t_act_mm, read_on, t_req_mm,
    CASE measurement WHEN 'weld distance' THEN t_req_away_mm ELSE t_req_mm END AS t_req_if_mm,
    CASE measurement WHEN 'weld distance' THEN weld_region_half_width_mm END AS weld_region_half_width_mm
FROM moved
WHERE due_if_on > asset_due_on
UNION ALL BY NAME
SELECT
    asset, component, location, measurement, kind, remaining_life_years,
    CASE measurement WHEN 'weld distance' THEN remaining_life_away_years ELSE remaining_life_thicker_years END
        AS remaining_life_if_years,
    is_below_required,
    true AS clears_below_required,
    t_act_mm, read_on, t_req_mm,
    CASE measurement WHEN 'weld distance' THEN t_req_away_mm ELSE t_req_mm END AS t_req_if_mm,
    CASE measurement WHEN 'weld distance' THEN weld_region_half_width_mm END AS weld_region_half_width_mm
FROM verdict
