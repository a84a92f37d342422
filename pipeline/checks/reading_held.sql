-- Readings that are held until a named person accepts, rejects or corrects them.
SELECT
    file, sheet, cell, text,
    flags || ': accept, reject or correct it' AS reason,
    'thickness of ' || asset || ' ' || component || ' ' || location || ' on ' || read_on || ' is held, not used' AS effect,
    'set aside' AS severity
FROM step.reading
WHERE status = 'held'
