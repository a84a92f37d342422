-- Every asset named anywhere, with what the register says of it.
-- grain: asset
-- reads: step.field, fact.field, fact.reading, fact.not_measured
-- column asset: asset tag
-- column in_register: the asset stands in a register of assets
-- column description: description
-- column service: service
-- column area: area of the plant
-- column in_service_on: date of going into service
-- column mawp_mpa: nameplate or rerated MAWP
-- column design_pressure_mpa: design pressure
-- column rating_pressure_mpa: MAWP, or the design pressure where no MAWP is given
-- column rating_from: which of the two
-- column inside_diameter_mm: inside diameter of the vessel
-- column construction_code: construction code and edition
-- column assigned_to: person who inspects it
-- column relief_device: relief device named for it
-- column continuous_service: yes or no
-- column status: in service, idle or retired at the as-of date; in service where the register does not say
-- column status_since: date from which it is idle or retired
-- column status_refused: why a stated status does not count, null if it does or none is stated
-- column operating_fraction: fraction of the time in operation
-- column idle_protection: how it is protected while idle
-- column contradictory: columns in which two rows contradict each other
WITH named AS (
    SELECT DISTINCT asset FROM fact.field WHERE asset IS NOT NULL
    UNION
    SELECT DISTINCT asset FROM fact.reading WHERE asset IS NOT NULL
    UNION
    SELECT DISTINCT asset FROM fact.not_measured WHERE asset IS NOT NULL
),

register AS (
    SELECT
        asset,
        min(word) FILTER (field = 'description') AS description,
        min(word) FILTER (field = 'service') AS service,
        min(word) FILTER (field = 'area') AS area,
        min(on_date) FILTER (field = 'in_service') AS in_service_on,
        min(number) FILTER (field = 'mawp') AS mawp_mpa,
        min(number) FILTER (field = 'design_pressure') AS design_pressure_mpa,
        min(number) FILTER (field = 'inside_diameter') AS inside_diameter_mm,
        min(word) FILTER (field = 'construction_code') AS construction_code,
        min(word) FILTER (field = 'assigned_to') AS assigned_to,
        min(word) FILTER (field = 'relief_device') AS relief_device,
        min(word) FILTER (field = 'continuous_service') AS continuous_service,
        min(word) FILTER (field = 'status') AS status,
        min(on_date) FILTER (field = 'status_since') AS status_since,
        min(number) FILTER (field = 'operating_fraction') AS operating_fraction,
        min(word) FILTER (field = 'idle_protection') AS idle_protection,
        coalesce(bool_or(unsettled) FILTER (field = 'mawp'), false) AS mawp_contradictory,
        string_agg(field, ', ' ORDER BY field) FILTER (contradictory) AS contradictory
    FROM step.field
    WHERE kind = 'assets'
    GROUP BY asset
),

-- What somebody still works on after the date is not retired: then the dates of a vessel in service hold.
sign_of_use AS (
    SELECT asset, max(read_on) AS seen_on, 'it was measured' AS seen FROM fact.reading GROUP BY asset
    UNION ALL
    SELECT asset, max(read_on), 'somebody came to measure it' FROM fact.not_measured GROUP BY asset
    UNION ALL
    SELECT
        asset, on_date,
        CASE kind
            WHEN 'inspections' THEN 'it was inspected'
            WHEN 'events' THEN 'an event of it is dated'
            WHEN 'relief devices' THEN 'a relief device of it was tested'
            WHEN 'recommendations' THEN 'a recommendation was raised'
            ELSE 'it was measured'
        END
    FROM fact.field
    WHERE (kind IN ('inspections', 'events', 'corroded areas', 'pits') AND field = 'date')
        OR (kind = 'relief devices' AND field = 'last_tested')
        OR (kind = 'recommendations' AND field = 'raised_on')
    UNION ALL
    -- A device may be listed by its own tag alone; the register then says what it protects.
    SELECT register.asset, tested.on_date, 'a relief device of it was tested'
    FROM fact.field AS tested
    JOIN fact.field AS device USING (kind, record, file, sheet)
    JOIN register ON register.relief_device = device.word
    WHERE kind = 'relief devices' AND tested.asset IS NULL AND tested.field = 'last_tested' AND device.field = 'device'
),

last_seen AS (
    SELECT asset, max(seen_on) AS seen_on, arg_max(seen, (seen_on, seen)) AS seen
    FROM sign_of_use
    WHERE seen_on IS NOT NULL
    GROUP BY asset
),

standing AS (
    SELECT
        register.*,
        CASE
            WHEN status IS NULL OR status = 'in service' THEN NULL
            WHEN status_since IS NULL THEN 'it is said to be ' || status || ', but not since when'
            WHEN status = 'retired' AND seen_on > status_since
                THEN 'it is said to be retired since ' || status_since || ', but ' || seen || ' on ' || seen_on
        END AS status_refused
    FROM register
    LEFT JOIN last_seen USING (asset)
)

SELECT
    named.asset,
    register.asset IS NOT NULL AS in_register,
    description, service, area, in_service_on, mawp_mpa, design_pressure_mpa,
    -- A MAWP that two rows contradict, or that cannot be read, must not silently give way to the design pressure.
    CASE WHEN mawp_contradictory THEN NULL ELSE coalesce(mawp_mpa, design_pressure_mpa) END AS rating_pressure_mpa,
    CASE
        WHEN mawp_contradictory THEN NULL
        WHEN mawp_mpa IS NOT NULL THEN 'MAWP'
        WHEN design_pressure_mpa IS NOT NULL THEN 'design pressure'
    END AS rating_from,
    inside_diameter_mm, construction_code, assigned_to, relief_device, continuous_service,
    CASE
        WHEN register.status IS NULL OR status_refused IS NOT NULL THEN 'in service'
        ELSE register.status
    END AS status,
    CASE WHEN status_refused IS NULL AND register.status <> 'in service' THEN status_since END AS status_since,
    status_refused, operating_fraction, idle_protection, contradictory
FROM named
LEFT JOIN standing AS register USING (asset)
