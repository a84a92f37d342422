-- Events that no history can begin with: without a date, without a kind, or of a component that no sheet knows.
SELECT
    file, sheet, cell,
    coalesce(text, '') AS text,
    'the row has ' || lacks || ' that can be read: complete or correct it' AS reason,
    'the event of ' || asset || coalesce(' ' || component, '') || coalesce(' on ' || event_on, '')
        || ' is not used: no new history begins, and what was read before it still counts' AS effect,
    'set aside' AS severity
FROM step.event_unplaced
UNION ALL
SELECT
    event.file, event.sheet, event.cell,
    event.event AS text,
    'no component sheet lists ' || event.component || ' of ' || event.asset
        || ': correct the name, or add the component (an alias is never guessed)' AS reason,
    'the event of ' || event.event_on || ' is not used for any other component; ' || event.component || ' of '
        || event.asset || ' is not assessable' AS effect,
    'set aside' AS severity
FROM step.event AS event
JOIN step.component AS component USING (asset, component)
WHERE NOT component.in_register
