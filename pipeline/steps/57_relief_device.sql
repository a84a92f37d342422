-- Relief devices: interval within its cap, last test, due date, and the set pressure against the vessel's MAWP.
-- grain: asset, device
-- reads: fact.field, step.asset, step.inspection, step.cap, basis.in_force
-- column asset: asset it protects
-- column device: device tag
-- column set_pressure_mpa: set pressure
-- column interval_stated_years: interval of the plant
-- column is_clean_service: clean, non-corrosive service
-- column service_cap_years: longest interval in its service
-- column cap_years: longest interval: that of its service, or one set for the relief devices of the asset
-- column cap_from: cap, or the set interval in its place
-- column interval_years: interval in force
-- column last_tested_on: last test
-- column anchor_on: date from which the interval counts
-- column anchor: what happened on that date
-- column due_on: due date
-- column set_above_mawp: the set pressure is above the vessel's rating pressure
-- column due_missing: why there is no due date, null if there is one
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the last test
WITH stated AS (
    SELECT
        record, asset,
        min(word) FILTER (field = 'device') AS device,
        min(number) FILTER (field = 'set_pressure') AS set_pressure_mpa,
        min(number) FILTER (field = 'interval') AS interval_years,
        min(on_date) FILTER (field = 'last_tested') AS last_tested_on,
        min(word) FILTER (field = 'clean_service') AS clean_service,
        min(file) AS file,
        min(sheet) AS sheet,
        min(cell) FILTER (field = 'last_tested') AS cell
    FROM fact.field
    WHERE kind = 'relief devices'
    GROUP BY record, asset
),

-- A device may be listed by its own tag alone; the register of assets then says what it protects.
owned AS (
    SELECT stated.* EXCLUDE (asset), coalesce(stated.asset, asset.asset) AS asset
    FROM stated
    LEFT JOIN step.asset AS asset
        ON stated.asset IS NULL
        AND asset.relief_device = stated.device
),

one_row AS (
    SELECT
        asset,
        coalesce(device, 'device of ' || asset) AS device,
        min(set_pressure_mpa) AS set_pressure_mpa,
        min(interval_years) AS interval_years,
        max(last_tested_on) AS last_tested_on,
        min(clean_service) AS clean_service,
        arg_min(file, record) AS file,
        arg_min(sheet, record) AS sheet,
        arg_max(cell, coalesce(last_tested_on, DATE '0001-01-01')) AS cell
    FROM owned
    WHERE asset IS NOT NULL
    GROUP BY ALL
),

-- A device the register names but no relief device sheet lists is not assessable, never left out.
listed AS (
    SELECT * FROM one_row
    UNION ALL BY NAME
    SELECT asset, relief_device AS device
    FROM step.asset
    WHERE relief_device IS NOT NULL
        AND NOT EXISTS (
            SELECT 1 FROM one_row WHERE one_row.asset = asset.asset AND one_row.device = asset.relief_device
        )
),

inspected AS (
    SELECT asset, max(inspected_on) AS inspected_on
    FROM step.inspection
    WHERE kind = 'relief device'
    GROUP BY asset
),

-- The asset's own inspection list may hold a later test; where several devices share it, it is not told which was
-- tested, so it counts only for a vessel with one device.
anchored AS (
    SELECT
        listed.*,
        asset.rating_pressure_mpa,
        asset.in_service_on,
        CASE
            WHEN count(*) OVER (PARTITION BY listed.asset) = 1
                THEN greatest(last_tested_on, inspected.inspected_on)
            ELSE last_tested_on
        END AS tested_on
    FROM listed
    LEFT JOIN step.asset AS asset ON asset.asset = listed.asset
    LEFT JOIN inspected ON inspected.asset = listed.asset
),

capped AS (
    SELECT
        anchored.*,
        coalesce(clean_service = 'yes', false) AS is_clean_service,
        cap.code_cap_years AS service_cap_years,
        cap.cap_years,
        cap.cap_from,
        days_per_year, day_guard, same_value_tolerance,
        coalesce(tested_on, in_service_on) AS anchor_on
    FROM anchored
    LEFT JOIN step.cap AS cap
        ON cap.asset = anchored.asset
        AND cap.kind = CASE WHEN clean_service = 'yes' THEN 'clean relief device' ELSE 'relief device' END
    CROSS JOIN basis.in_force
),

spaced AS (
    SELECT *, least(coalesce(interval_years, cap_years), cap_years) AS interval_in_force_years
    FROM capped
)

SELECT
    asset, device, set_pressure_mpa,
    interval_years AS interval_stated_years,
    is_clean_service, service_cap_years, cap_years, cap_from,
    interval_in_force_years AS interval_years,
    tested_on AS last_tested_on,
    anchor_on,
    CASE
        WHEN tested_on IS NOT NULL THEN 'last test'
        WHEN in_service_on IS NOT NULL THEN 'in-service date: no test on record'
    END AS anchor,
    anchor_on + formula.whole_days(interval_in_force_years, days_per_year, day_guard)::INTEGER AS due_on,
    coalesce(set_pressure_mpa > rating_pressure_mpa * (1 + same_value_tolerance), false) AS set_above_mawp,
    CASE WHEN anchor_on IS NULL THEN 'last test of relief device ' || device END AS due_missing,
    file, sheet, cell
FROM spaced
