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
),

ahead AS (
    SELECT record, name, start_on, coalesce(end_on, start_on) AS end_on
    FROM stated
    CROSS JOIN basis.in_force
    WHERE coalesce(end_on, start_on) >= as_of
),

-- One turnaround on two lists is one: rows whose periods overlap stand for the same.
parted AS (
    SELECT
        *,
        coalesce(start_on, end_on) > max(end_on) OVER (
            ORDER BY coalesce(start_on, end_on), end_on, name, record ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) AS is_new
    FROM ahead
),

numbered AS (
    SELECT
        *,
        sum((is_new IS NOT FALSE)::INTEGER) OVER (
            ORDER BY coalesce(start_on, end_on), end_on, name, record
        )::BIGINT AS turnaround_no
    FROM parted
)

SELECT
    turnaround_no,
    coalesce(min(name), min(start_on)::VARCHAR) AS name,
    min(start_on) AS start_on,
    max(end_on) AS end_on
FROM numbered
GROUP BY turnaround_no
