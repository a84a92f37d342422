-- Walls many times thicker than their pressure asks for: a pressure, a diameter or a stress in another unit looks like it.
SELECT
    field.file, field.sheet, field.cell, field.text,
    'the nominal thickness of ' || required.asset || ' ' || required.component || ', '
        || shown.thickness(component.nominal_thickness_mm) || ', is ' || possible.sentence AS reason,
    'the required thickness by pressure, ' || shown.thickness(required.pressure_thickness_mm) || ', is used as it is'
        AS effect,
    'warning' AS severity
FROM step.required_thickness AS required
JOIN step.component AS component USING (asset, component)
JOIN step.field AS field
    ON field.kind = 'components'
    AND field.asset = component.asset
    AND field.component = component.component
    AND field.field = 'nominal_thickness'
CROSS JOIN basis.in_force AS in_force
JOIN reference.likely_mistake AS possible
    ON possible.word = 'wall_over_pressure'
    AND 1 + formula.margin(component.nominal_thickness_mm, required.pressure_thickness_mm) > possible.most
WHERE required.zone = 'general'
    AND required.region = 'weld'
    AND required.radius_basis = in_force.radius_basis
    AND component.kind <> 'nozzle'
