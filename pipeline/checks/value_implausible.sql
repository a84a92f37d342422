-- Register numbers that cannot be meant: outside what is possible, or an allowable stress above the yield strength.
SELECT
    file, sheet, cell, text,
    implausible || '; correct it' AS reason,
    replace(field, '_', ' ') || ' of ' || coalesce(asset, '') || coalesce(' ' || component, '') || ' is not used'
        AS effect,
    'set aside' AS severity
FROM step.field
WHERE implausible IS NOT NULL
UNION ALL
SELECT
    stress.file, stress.sheet, stress.cell, stress.text,
    'the allowable stress is above the yield strength, ' || coalesce(yield.text, '') || ' ' || coalesce(yield.unit, '')
        || ' in ' || yield.cell || ': correct the one that is wrong' AS reason,
    'allowable stress and yield strength of ' || stress.asset || ' ' || stress.component || ' are not used' AS effect,
    'set aside' AS severity
FROM step.field AS stress
JOIN step.field AS yield USING (kind, asset, component)
WHERE stress.field = 'allowable_stress' AND yield.field = 'yield_strength' AND stress.number > yield.number
