-- Decisions on the scope of a turnaround, each as it was made; a later one stands in place of an earlier one.
-- grain: record
-- reads: fact.field
-- column record: order in which the rows were read; what a person entered comes after what the sheets say
-- column asset: asset tag
-- column turnaround: turnaround it is about
-- column decision: in scope, not in scope, measure first, on-stream or study
-- column reason: why
-- column decided_by: who decided
-- column decided_on: when
-- column refused: what it lacks to count, null if it counts
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the decision
WITH stated AS (
    SELECT
        record, asset,
        min(word) FILTER (field = 'turnaround') AS turnaround,
        min(word) FILTER (field = 'scope_decision') AS decision,
        min(word) FILTER (field = 'reason') AS reason,
        min(word) FILTER (field = 'decided_by') AS decided_by,
        min(on_date) FILTER (field = 'decided_on') AS decided_on,
        min(file) AS file,
        min(sheet) AS sheet,
        min(cell) FILTER (field = 'scope_decision') AS cell
    FROM fact.field
    WHERE kind = 'scope decisions' AND asset IS NOT NULL
    GROUP BY record, asset
)

SELECT
    record, asset, turnaround, decision, reason, decided_by, decided_on,
    CASE
        WHEN decision IS NULL THEN 'no decision'
        WHEN turnaround IS NULL THEN 'no turnaround'
        WHEN decided_by IS NULL OR decided_on IS NULL THEN 'no name or date of who decided'
        WHEN reason IS NULL THEN 'no reason'
    END AS refused,
    file, sheet, cell
FROM stated
