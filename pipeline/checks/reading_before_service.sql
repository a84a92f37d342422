-- Readings dated before the vessel went into service.
SELECT
    reading.file, reading.sheet, reading.cell, reading.text,
    'the reading is dated ' || read_on || ', before the in-service date ' || in_service_on || ': check both dates' AS reason,
    'the reading of ' || asset || ' ' || component || ' ' || location || ' counts as it stands' AS effect,
    'warning' AS severity
FROM step.reading AS reading
JOIN step.asset AS asset USING (asset)
WHERE read_on < in_service_on
