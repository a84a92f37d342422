-- Components whose register gives the liquid head without the specific gravity, or the gravity without the head.
SELECT
    field.file, field.sheet, field.cell, field.text,
    CASE field.field
        WHEN 'liquid_head' THEN 'a liquid head is given, but no specific gravity: give it (1 for water)'
        ELSE 'a specific gravity is given, but no liquid head: give the height of the liquid above the component, '
            || 'zero if there is none'
    END AS reason,
    'no static head is added at ' || field.asset || ' ' || field.component
        || ': the pressure of the register is used as given' AS effect,
    'warning' AS severity
FROM step.field AS field
LEFT JOIN step.field AS other
    ON other.kind = 'components'
    AND other.asset = field.asset
    AND other.component = field.component
    AND other.field = CASE field.field WHEN 'liquid_head' THEN 'specific_gravity' ELSE 'liquid_head' END
WHERE field.kind = 'components'
    AND field.field IN ('liquid_head', 'specific_gravity')
    AND field.number IS NOT NULL
    AND other.field IS NULL
    -- No liquid above it is no head, whatever the liquid.
    AND NOT (field.field = 'liquid_head' AND field.number = 0)
