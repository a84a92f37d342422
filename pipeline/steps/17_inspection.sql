-- Inspections on record.
-- grain: record
-- reads: fact.field
-- column record: order in which the rows were read
-- column asset: asset tag
-- column kind: internal, on-stream, external or relief device
-- column inspected_on: date
-- column result: result as stated
-- column in_place_of_internal: yes or no, as stated; null if the register does not say
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the date
SELECT
    record, asset,
    min(word) FILTER (field = 'kind') AS kind,
    min(on_date) FILTER (field = 'date') AS inspected_on,
    min(word) FILTER (field = 'result') AS result,
    min(word) FILTER (field = 'in_place_of_internal') AS in_place_of_internal,
    min(file) AS file,
    min(sheet) AS sheet,
    min(cell) FILTER (field = 'date') AS cell
FROM fact.field
WHERE kind = 'inspections' AND asset IS NOT NULL
GROUP BY record, asset
