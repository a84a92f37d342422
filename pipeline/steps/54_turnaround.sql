-- The turnarounds still ahead at the as-of date: the next one, and the one after it.
-- grain: turnaround_no
-- reads: fact.field, step.rough_date, basis.in_force
-- column turnaround_no: 1 for the next one, 2 for the one after
-- column name: name
-- column start_on: first day
-- column end_on: last day; of a month or year that is all that is stated its last one, and none before the first day
WITH stated AS (
    SELECT
        stated.record,
        min(word) FILTER (stated.field = 'name') AS name,
        min(on_date) FILTER (stated.field = 'start') AS start_on,
        -- The later the end, the more must be met before it: April 2025 ends with its last day.
        min(coalesce(last_on, on_date)) FILTER (stated.field = 'start') AS start_until_on,
        min(coalesce(last_on, on_date)) FILTER (stated.field = 'end') AS end_on
    FROM fact.field AS stated
    LEFT JOIN step.rough_date USING (kind, record, field, file, sheet, cell)
    WHERE kind = 'turnarounds'
    GROUP BY stated.record
),

-- An end before its start is a slip of the pen in one of the two, and nobody knows in which: the later one counts.
ended AS (
    SELECT
        record, name, start_on,
        CASE
            WHEN end_on IS NULL THEN start_until_on
            WHEN end_on < start_on THEN start_until_on
            ELSE end_on
        END AS end_on
    FROM stated
),

ahead AS (
    SELECT ended.*
    FROM ended
    CROSS JOIN basis.in_force
    WHERE end_on >= as_of
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
