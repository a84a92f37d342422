-- Recommendations with their due dates, the open ones first.
-- grain: asset, recommendation, raised_on, due_on, file, sheet, cell
-- reads: step.recommendation
-- column asset: asset tag
-- column component: component, null where it is about the whole asset
-- column recommendation: what is recommended
-- column raised_on: date it was raised
-- column due_on: date by which it is due
-- column closed_on: date it was closed, null while it is open
-- column evidence: what shows that it was done
-- column is_open: not closed by the as-of date
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the recommendation
SELECT asset, component, recommendation, raised_on, due_on, closed_on, evidence, is_open, file, sheet, cell
FROM step.recommendation
ORDER BY asset, is_open DESC, due_on, recommendation, file, sheet, cell
