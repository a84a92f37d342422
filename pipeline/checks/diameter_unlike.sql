-- Components that are as many times wider or narrower than their asset as one unit is larger than another.
SELECT
    field.file, field.sheet, field.cell, field.text,
    'the inside diameter is ' || diameter_unlike || ' that of ' || component.asset || ' itself, '
        || coalesce(whole.text || coalesce(' ' || whole.unit, '') || ' in ' || whole.cell, '')
        || ': one of the two is likely in another unit, correct it' AS reason,
    'neither is used: ' || component.asset || ' ' || component.component || ' has no inside diameter' AS effect,
    'set aside' AS severity
FROM step.component AS component
JOIN step.field AS field
    ON field.kind = 'components'
    AND field.asset = component.asset
    AND field.component = component.component
    AND field.field = 'inside_diameter'
LEFT JOIN step.field AS whole
    ON whole.kind = 'assets'
    AND whole.asset = component.asset
    AND whole.field = 'inside_diameter'
WHERE diameter_unlike IS NOT NULL
