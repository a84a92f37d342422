-- Places that are listed and have no reading that counts.
SELECT
    coalesce(field.file, '') AS file,
    coalesce(field.sheet, '') AS sheet,
    coalesce(field.cell, '') AS cell,
    place.location AS text,
    'the place has no reading that counts: measure it' AS reason,
    place.asset || ' ' || place.component || ' ' || place.location || ' has no remaining life' AS effect,
    'warning' AS severity
FROM step.life AS place
LEFT JOIN step.field AS field
    ON field.kind = 'locations'
    AND field.asset = place.asset
    AND coalesce(field.component, '(not stated)') = place.component
    AND field.location = place.location
    AND field.field = 'location'
WHERE place.scenario = 'in force' AND place.never_read
