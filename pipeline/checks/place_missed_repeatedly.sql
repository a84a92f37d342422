-- Places visited twice or more without a reading since their last one.
SELECT
    arg_max(miss.file, (visited_on, miss.record)) AS file,
    arg_max(miss.sheet, (visited_on, miss.record)) AS sheet,
    arg_max(miss.cell, (visited_on, miss.record)) AS cell,
    arg_max(miss.text, (visited_on, miss.record)) AS text,
    count(DISTINCT visited_on) || ' visits in a row gave no reading: make the place accessible, or choose another near it'
        AS reason,
    miss.asset || ' ' || miss.component || ' ' || miss.location || ' rests on '
        || coalesce('its reading of ' || max(life.read_on), 'no reading at all') AS effect,
    'warning' AS severity
FROM step.miss AS miss
JOIN step.life AS life
    ON life.asset = miss.asset
    AND life.component = miss.component
    AND life.location = miss.location
    AND life.scenario = 'in force'
WHERE visited_on > coalesce(life.read_on, DATE '0001-01-01')
GROUP BY miss.asset, miss.component, miss.location
HAVING count(DISTINCT visited_on) >= 2
