-- Components whose diameters and wall do not fit together.
SELECT
    coalesce(arg_min(field.file, field.cell), '') AS file,
    coalesce(arg_min(field.sheet, field.cell), '') AS sheet,
    coalesce(min(field.cell), '') AS cell,
    coalesce(arg_min(field.text, field.cell), '') AS text,
    'the diameter and the wall of ' || component.asset || ' ' || component.component || ' do not fit together: '
        || string_agg(
            replace(field.field, '_', ' ') || ' ' || field.text || coalesce(' ' || field.unit, '') || ' in ' || field.cell,
            ', ' ORDER BY field.field
        ) || ': correct the one that is wrong, likely by its unit' AS reason,
    component.asset || ' ' || component.component || ' has no inside diameter and is not assessable' AS effect,
    'set aside' AS severity
FROM step.component AS component
LEFT JOIN step.field AS field
    ON field.asset = component.asset
    AND (
        (field.kind = 'components' AND field.component = component.component
            AND field.field IN ('inside_diameter', 'outside_diameter', 'nominal_thickness'))
        OR (field.kind = 'assets' AND field.field = 'inside_diameter')
    )
WHERE component.diameters_unfit
GROUP BY component.asset, component.component
