-- Decisions on the scope of turnarounds, in the order in which they were made.
-- grain: record
-- reads: step.scope_decision
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
SELECT record, asset, turnaround, decision, reason, decided_by, decided_on, refused, file, sheet, cell
FROM step.scope_decision
ORDER BY asset, turnaround, decided_on, record
