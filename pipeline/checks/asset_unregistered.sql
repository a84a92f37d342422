-- Assets that some sheet names and no register of assets lists.
SELECT
    coalesce(arg_min(field.file, field.record), '') AS file,
    coalesce(arg_min(field.sheet, field.record), '') AS sheet,
    coalesce(arg_min(field.cell, field.record), '') AS cell,
    asset.asset AS text,
    'no register of assets lists this tag: add it, or name it under [aliases] in basis.toml' AS reason,
    asset.asset || ' is ranked as not assessable' AS effect,
    'warning' AS severity
FROM step.asset AS asset
LEFT JOIN fact.field AS field
    ON field.asset = asset.asset
WHERE NOT in_register
GROUP BY asset.asset
