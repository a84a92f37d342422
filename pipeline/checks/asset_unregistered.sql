-- Assets that some sheet names and no register of assets lists; a tag that differs by case, blanks or dashes is named.
WITH spelling AS (
    SELECT asset, in_register, regexp_replace(upper(asset), '[^A-Z0-9]', '', 'g') AS letters
    FROM step.asset
),

alike AS (
    SELECT odd.asset, min(known.asset) AS known
    FROM spelling AS odd
    JOIN spelling AS known
        ON known.letters = odd.letters
        AND known.in_register
    WHERE NOT odd.in_register
    GROUP BY odd.asset
)

SELECT
    coalesce(arg_min(field.file, field.record), arg_min(reading.file, reading.record), '') AS file,
    coalesce(arg_min(field.sheet, field.record), arg_min(reading.sheet, reading.record), '') AS sheet,
    coalesce(arg_min(field.cell, field.record), arg_min(reading.cell, reading.record), '') AS cell,
    asset.asset AS text,
    'no register of assets lists this tag: add it, or name it under [aliases] in basis.toml'
        || coalesce(', if it is the one written ' || min(alike.known) || ' elsewhere', '') AS reason,
    asset.asset || ' is ranked as not assessable' AS effect,
    'warning' AS severity
FROM step.asset AS asset
LEFT JOIN fact.field AS field
    ON field.asset = asset.asset
LEFT JOIN step.reading AS reading
    ON reading.asset = asset.asset
LEFT JOIN alike
    ON alike.asset = asset.asset
WHERE NOT in_register
GROUP BY asset.asset
