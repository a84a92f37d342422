-- Deferrals on record. One counts only if it was approved, by a named person, before the date it moves.
-- grain: record
-- reads: fact.field, step.rough_date
-- column record: order in which the rows were read
-- column asset: asset tag
-- column kind: kind of inspection
-- column due_on: due date it moves, as stated
-- column deferred_until: date it moves it to
-- column reason: reason
-- column approved_by: approver
-- column approved_on: date of approval; the last day of a month or year that is all that is stated
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the date it moves to
SELECT
    record, stated.asset,
    min(word) FILTER (field = 'kind') AS kind,
    min(on_date) FILTER (field = 'due') AS due_on,
    min(on_date) FILTER (field = 'deferred_until') AS deferred_until,
    min(word) FILTER (field = 'reason') AS reason,
    min(word) FILTER (field = 'approved_by') AS approved_by,
    -- Approved in time is what was approved in time on any day it can have been.
    min(coalesce(last_on, on_date)) FILTER (field = 'approved_on') AS approved_on,
    min(file) AS file,
    min(sheet) AS sheet,
    min(cell) FILTER (field = 'deferred_until') AS cell
FROM fact.field AS stated
LEFT JOIN step.rough_date USING (kind, record, field, file, sheet, cell)
WHERE kind = 'deferrals' AND stated.asset IS NOT NULL
GROUP BY record, stated.asset
