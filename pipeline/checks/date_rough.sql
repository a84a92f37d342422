-- Dates known to the month or the year only on which a rate or the start of a history turns.
SELECT
    file, sheet, cell, text,
    'the date is known to the ' || date_precision || ' only: give the day, between ' || first_on || ' and ' || last_on
        AS reason,
    CASE kind
        WHEN 'assets' THEN 'dates count from ' || first_on || '; a rate from the nominal thickness of ' || asset
            || ' is worked over the longest time it can be, and may be higher'
        ELSE 'the event of ' || coalesce(asset, '') || coalesce(' ' || component, '') || ' counts as of ' || first_on
            || '; readings between that day and the event belong to the history before it'
    END AS effect,
    'warning' AS severity
FROM step.rough_date
WHERE (kind = 'assets' AND field = 'in_service') OR (kind = 'events' AND field = 'date')
