-- Every cell or place that was not used, or used with doubt: what stood there, why, and what it was kept out of.
-- grain: file, sheet, cell
-- reads: fact.ledger, fact.file_note, step.finding
-- column file: source file
-- column sheet: source sheet, empty where it is about the whole file
-- column cell: source cell, empty where it is about the whole sheet
-- column text: the cell as it stood
-- column reason: why, and what to do
-- column effect: what it was kept out of
-- column severity: set aside, warning or note
WITH line AS (
    SELECT file, sheet, cell, text, reason, effect, severity FROM fact.ledger
    UNION ALL
    SELECT file, sheet, cell, text, reason, effect, severity FROM fact.file_note
    UNION ALL
    SELECT file, sheet, cell, text, reason, effect, severity FROM step.finding
)

SELECT
    file,
    coalesce(sheet, '') AS sheet,
    coalesce(cell, '') AS cell,
    min(text) AS text,
    string_agg(DISTINCT reason, '; ' ORDER BY reason) AS reason,
    string_agg(DISTINCT effect, '; ' ORDER BY effect) AS effect,
    arg_min(severity, CASE severity WHEN 'set aside' THEN 1 WHEN 'warning' THEN 2 ELSE 3 END) AS severity
FROM line
GROUP BY file, coalesce(sheet, ''), coalesce(cell, '')
ORDER BY file, sheet, cell
