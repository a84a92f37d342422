-- Turnarounds whose dates do not say how far an asset must reach: none, no end, or an end before the start.
WITH stated AS (
    SELECT
        record,
        min(word) FILTER (field = 'name') AS name,
        min(on_date) FILTER (field = 'start') AS start_on,
        min(on_date) FILTER (field = 'end') AS end_on,
        min(file) AS file,
        min(sheet) AS sheet,
        coalesce(min(cell) FILTER (field = 'end'), min(cell) FILTER (field = 'start'), min(cell)) AS cell,
        coalesce(
            min(text) FILTER (field = 'end'), min(text) FILTER (field = 'start'), min(text) FILTER (field = 'name')
        ) AS text
    FROM fact.field
    WHERE kind = 'turnarounds'
    GROUP BY record
),

known AS (
    SELECT arg_max(name, turnaround_no) AS name, max(end_on) AS end_on FROM step.turnaround
),

faulty AS (
    SELECT
        stated.*,
        known.name AS known_name,
        known.end_on AS known_end_on,
        CASE
            WHEN start_on IS NULL AND stated.end_on IS NULL THEN 'none'
            WHEN stated.end_on IS NULL THEN 'no end'
            WHEN stated.end_on < start_on THEN 'end before start'
        END AS fault
    FROM stated
    CROSS JOIN known
    CROSS JOIN basis.in_force
    -- What is over decides nothing any more.
    WHERE coalesce(greatest(start_on, stated.end_on) >= as_of, true)
)

SELECT
    file, sheet, cell,
    coalesce(text, '') AS text,
    CASE fault
        WHEN 'none' THEN 'the turnaround' || coalesce(' ' || name, '')
            || ' has no date that can be read: give its first and last day'
        WHEN 'no end' THEN 'the turnaround' || coalesce(' ' || name, '') || ' has no last day: give it'
        ELSE 'the turnaround' || coalesce(' ' || name, '') || ' ends on ' || end_on || ', before it starts on '
            || start_on || ': correct one of the two'
    END AS reason,
    CASE fault
        WHEN 'none' THEN 'how far an asset must reach is not known beyond '
            || coalesce('the end of ' || known_name || ' on ' || known_end_on, 'today: nothing is due by a turnaround')
        WHEN 'no end' THEN 'its first day counts as its last'
        ELSE 'the later of the two counts as its end'
    END AS effect,
    'set aside' AS severity
FROM faulty
WHERE fault IS NOT NULL
