-- Recommendations on record, open or closed at the as-of date. One stated twice is one: what a person entered stands, else
-- the earlier due date.
-- grain: asset, component, recommendation, raised_on
-- reads: fact.field, basis.in_force
-- column record: order in which the first row was read
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
WITH stated AS (
    SELECT
        record, asset, component,
        -- A date without words is still a date by which something is due.
        coalesce(min(word) FILTER (field = 'recommendation'), '(no words)') AS recommendation,
        min(on_date) FILTER (field = 'raised_on') AS raised_on,
        min(on_date) FILTER (field = 'due') AS due_on,
        min(on_date) FILTER (field = 'closed_on') AS closed_on,
        min(word) FILTER (field = 'evidence') AS evidence,
        min(file) AS file,
        min(sheet) AS sheet,
        coalesce(min(cell) FILTER (field = 'recommendation'), min(cell)) AS cell
    FROM fact.field
    WHERE kind = 'recommendations' AND asset IS NOT NULL
    GROUP BY record, asset, component
    HAVING bool_or(field IN ('recommendation', 'raised_on', 'due', 'closed_on', 'evidence'))
),

joined AS (
    SELECT
        asset, component, raised_on,
        lower(recommendation) AS likeness,
        min(record) AS record,
        arg_min(recommendation, record) AS recommendation,
        coalesce(
            arg_max(due_on, record) FILTER (file = 'entries' AND due_on IS NOT NULL), min(due_on)
        ) AS due_on,
        min(closed_on) AS closed_on,
        arg_max(evidence, record) FILTER (evidence IS NOT NULL) AS evidence,
        arg_min(file, record) AS file,
        arg_min(sheet, record) AS sheet,
        arg_min(cell, record) AS cell
    FROM stated
    GROUP BY asset, component, raised_on, lower(recommendation)
)

SELECT
    record, asset, component, recommendation, raised_on, due_on, closed_on, evidence,
    (closed_on <= as_of) IS NOT TRUE AS is_open,
    file, sheet, cell
FROM joined
CROSS JOIN basis.in_force
