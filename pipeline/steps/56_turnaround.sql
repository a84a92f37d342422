-- The turnarounds still ahead at the as-of date: the next one, and the one after it.
-- grain: turnaround_no
-- reads: fact.field, basis.in_force
-- column turnaround_no: 1 for the next one, 2 for the one after
-- column name: name
-- column start_on: first day
-- column end_on: last day
WITH stated AS (
    SELECT
        record,
        min(word) FILTER (field = 'name') AS name,
        min(on_date) FILTER (field = 'start') AS start_on,
        min(on_date) FILTER (field = 'end') AS end_on
    FROM fact.field
    WHERE kind = 'turnarounds'
    GROUP BY record
)

SELECT
    row_number() OVER (ORDER BY coalesce(end_on, start_on), record) AS turnaround_no,
    coalesce(name, start_on::VARCHAR) AS name,
    start_on,
    coalesce(end_on, start_on) AS end_on
FROM stated
CROSS JOIN basis.in_force
WHERE coalesce(end_on, start_on) >= as_of
