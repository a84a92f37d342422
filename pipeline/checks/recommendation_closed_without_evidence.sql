-- Recommendations closed without evidence.
SELECT
    file, sheet, cell,
    recommendation AS text,
    'the recommendation was closed on ' || closed_on || ' without evidence: name what shows that it was done' AS reason,
    'it counts as closed' AS effect,
    'warning' AS severity
FROM step.recommendation
WHERE NOT is_open AND evidence IS NULL
