-- Assets said to be idle or retired whose status does not count.
SELECT
    field.file, field.sheet, field.cell,
    field.text,
    asset.status_refused || ': give the date, or correct the status' AS reason,
    'asset ' || asset.asset || ' is treated as in service' AS effect,
    'set aside' AS severity
FROM step.asset AS asset
JOIN step.field AS field
    ON field.kind = 'assets'
    AND field.asset = asset.asset
    AND field.field = 'status'
WHERE asset.status_refused IS NOT NULL
