-- Register values that are not used because another cell gives the same thing in a way that cannot be read.
WITH unreadable AS (
    SELECT kind, asset, component, location, field, arg_min(text, record) AS text, arg_min(cell, record) AS cell
    FROM fact.field
    WHERE unreadable
    GROUP BY kind, asset, component, location, field
)

SELECT
    stated.file, stated.sheet, stated.cell, stated.text,
    'another row gives ' || replace(stated.field, '_', ' ') || ' as "' || unreadable.text
        || '", which cannot be read: correct that one' AS reason,
    replace(stated.field, '_', ' ') || ' of ' || coalesce(stated.asset, '') || coalesce(' ' || stated.component, '')
        || coalesce(' ' || stated.location, '') || ' is not used' AS effect,
    'set aside' AS severity
FROM step.field AS settled
JOIN fact.field AS stated
    ON stated.kind = settled.kind
    AND stated.asset IS NOT DISTINCT FROM settled.asset
    AND stated.component IS NOT DISTINCT FROM settled.component
    AND stated.location IS NOT DISTINCT FROM settled.location
    AND stated.field = settled.field
    AND coalesce(stated.number::VARCHAR, stated.word, stated.on_date::VARCHAR) IS NOT NULL
JOIN unreadable
    ON unreadable.kind = settled.kind
    AND unreadable.asset IS NOT DISTINCT FROM settled.asset
    AND unreadable.component IS NOT DISTINCT FROM settled.component
    AND unreadable.location IS NOT DISTINCT FROM settled.location
    AND unreadable.field = settled.field
WHERE settled.unsettled AND NOT settled.contradictory
