-- Every thickness reading with the place it belongs to and the order in which it was given.
-- grain: record, file, sheet, cell
-- reads: step.place, fact.reading
-- column record: order in which the rows were read
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
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
)

SELECT
    reading.record,
    reading.asset,
    coalesce(reading.component, only_component.component, '(not stated)') AS component,
    reading.location,
    read_on, date_precision, thickness_mm, text, unit, method, inspector, remark, file, sheet, cell
FROM fact.reading AS reading
LEFT JOIN only_component
    ON only_component.asset = reading.asset
    AND only_component.location = reading.location
