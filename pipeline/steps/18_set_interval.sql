-- Intervals set for an asset in place of the code's cap. A longer one counts only with assessment, approver and date.
-- grain: record
-- reads: fact.field
-- column record: order in which the rows were read
-- column asset: asset tag
-- column kind: kind of inspection
-- column interval_years: interval set
-- column assessment: assessment named
-- column approved_by: approver
-- column approved_on: date of approval
-- column is_documented: assessment, approver and date are all named
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the interval
WITH stated AS (
    SELECT
        record, asset,
        min(word) FILTER (field = 'kind') AS kind,
        min(number) FILTER (field = 'interval') AS interval_years,
        min(word) FILTER (field = 'assessment') AS assessment,
        min(word) FILTER (field = 'approved_by') AS approved_by,
        min(on_date) FILTER (field = 'approved_on') AS approved_on,
        min(file) AS file,
        min(sheet) AS sheet,
        min(cell) FILTER (field = 'interval') AS cell
    FROM fact.field
    WHERE kind = 'set intervals' AND asset IS NOT NULL
    GROUP BY record, asset
)

SELECT
    record, asset, kind, interval_years, assessment, approved_by, approved_on,
    assessment IS NOT NULL AND approved_by IS NOT NULL AND approved_on IS NOT NULL AS is_documented,
    file, sheet, cell
FROM stated
