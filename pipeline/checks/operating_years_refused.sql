-- Vessels not in continuous service whose operating years cannot be counted.
SELECT
    field.file, field.sheet, field.cell,
    field.text,
    'asset ' || cap.asset || ' is not in continuous service, but ' || cap.operating_years_refused
        || ': give it if operating years are to count' AS reason,
    'the internal interval counts calendar years' AS effect,
    'warning' AS severity
FROM step.cap AS cap
JOIN step.field AS field
    ON field.kind = 'assets'
    AND field.asset = cap.asset
    AND field.field = 'continuous_service'
WHERE cap.operating_years_refused IS NOT NULL
