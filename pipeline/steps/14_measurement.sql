-- Every thickness reading with the place it belongs to and the order in which it was given.
-- grain: record, file, sheet, cell
-- reads: step.place, step.renamed_place, fact.reading
-- column record: order in which the rows were read
-- column asset: asset tag
-- column component: component tag
-- column location: location tag of today
-- column location_as_written: location tag as the survey has it
-- column read_on: date of the reading
-- column date_precision: day, month or year
-- column thickness_mm: thickness
-- column text: the cell as it stood
-- column unit: unit as it stood
-- column method: method
-- column inspector: inspector
-- column remark: remark
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
WITH only_component AS (
    SELECT asset, location, min(component) AS component
    FROM step.place
    WHERE component <> '(not stated)' AND listed
    GROUP BY asset, location
    HAVING count(*) = 1
),

located AS (
    SELECT
        reading.* EXCLUDE (location),
        coalesce(renamed.location, reading.location) AS location,
        reading.location AS location_as_written
    FROM fact.reading AS reading
    LEFT JOIN step.renamed_place AS renamed USING (record, file, sheet, cell)
)

SELECT
    located.record,
    located.asset,
    coalesce(located.component, only_component.component, '(not stated)') AS component,
    located.location,
    location_as_written,
    read_on, date_precision, thickness_mm, text, unit, method, inspector, remark, file, sheet, cell
FROM located
LEFT JOIN only_component
    ON only_component.asset = located.asset
    AND only_component.location = located.location
