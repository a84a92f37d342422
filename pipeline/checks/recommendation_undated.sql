-- Open recommendations without a due date.
SELECT
    file, sheet, cell,
    recommendation AS text,
    'the recommendation has no due date: give one, or the date it was closed' AS reason,
    'asset ' || asset || ' is not assessable until then' AS effect,
    'warning' AS severity
FROM step.recommendation
WHERE is_open AND due_on IS NULL
