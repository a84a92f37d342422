-- Components that surveys or location sheets name and no component sheet lists; of an event see event_unplaced.
SELECT
    coalesce(min(reading.file), '') AS file,
    coalesce(arg_min(reading.sheet, reading.record), '') AS sheet,
    coalesce(arg_min(reading.cell, reading.record), '') AS cell,
    component.asset || ' ' || component.component AS text,
    'no component sheet lists this component: add it, or correct the name (an alias is never guessed)' AS reason,
    CASE count(reading.record)
        WHEN 1 THEN '1 reading of it is'
        ELSE count(reading.record) || ' readings of it are'
    END || ' kept; it is not assessable' AS effect,
    'warning' AS severity
FROM step.component AS component
LEFT JOIN step.reading AS reading USING (asset, component)
WHERE NOT component.in_register
    AND EXISTS (
        SELECT 1
        FROM step.place AS place
        WHERE place.asset = component.asset AND place.component = component.component
    )
GROUP BY component.asset, component.component
