-- Register columns in which two rows give two values for one thing.
SELECT
    file, sheet, cell, text,
    'two rows give different values for ' || replace(field, '_', ' ') || ': correct one of them' AS reason,
    replace(field, '_', ' ') || ' of ' || coalesce(asset, '') || coalesce(' ' || component, '')
        || coalesce(' ' || location, '') || ' is not used' AS effect,
    'set aside' AS severity
FROM step.field
WHERE contradictory
