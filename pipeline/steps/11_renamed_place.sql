-- Readings and visits under the location numbers of today: an explicit mapping renames the older ones, nothing else does.
-- grain: record, file, sheet, cell
-- reads: fact.field, fact.reading, fact.not_measured
-- column record: order in which the rows were read
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
-- column location_as_written: location as the survey has it
-- column location: location after every renumbering later than the reading
WITH RECURSIVE renumbered AS (
    SELECT
        asset, component,
        min(word) FILTER (field = 'old_location') AS old_location,
        min(word) FILTER (field = 'new_location') AS new_location,
        min(on_date) FILTER (field = 'renumbered_on') AS renumbered_on
    FROM fact.field
    WHERE kind = 'renumbered locations'
    GROUP BY record, asset, component
),

mapping AS (
    SELECT *
    FROM renumbered
    WHERE old_location IS NOT NULL AND new_location IS NOT NULL AND renumbered_on IS NOT NULL
),

visit AS (
    SELECT record, file, sheet, cell, asset, component, location, read_on FROM fact.reading
    UNION ALL
    SELECT record, file, sheet, cell, asset, component, location, read_on FROM fact.not_measured
),

-- Each renumbering is applied once, in order of time: two numbers exchanged on one day do not chase each other.
walk AS (
    SELECT
        record, file, sheet, cell, asset, component, read_on,
        location AS location_as_written,
        location,
        DATE '0001-01-01' AS renumbered_on
    FROM visit
    WHERE asset IN (SELECT asset FROM mapping)
    UNION ALL
    SELECT
        walk.record, walk.file, walk.sheet, walk.cell, walk.asset, walk.component, walk.read_on,
        walk.location_as_written,
        mapping.new_location,
        mapping.renumbered_on
    FROM walk
    JOIN mapping
        ON mapping.asset = walk.asset
        AND (mapping.component = walk.component OR mapping.component IS NULL OR walk.component IS NULL)
        AND mapping.old_location = walk.location
        AND walk.read_on < mapping.renumbered_on
        AND mapping.renumbered_on > walk.renumbered_on
)

SELECT
    record, file, sheet, cell,
    min(location_as_written) AS location_as_written,
    arg_max(location, (renumbered_on, location)) AS location
FROM walk
GROUP BY record, file, sheet, cell
HAVING max(renumbered_on) > DATE '0001-01-01'
