-- Deferrals on record that do not cover the due date they were made for.
SELECT
    deferral.file, deferral.sheet, deferral.cell,
    deferral.deferred_until::VARCHAR AS text,
    'the deferral does not count: ' || due.deferral_refused || '; approve one before the date, or do the work' AS reason,
    due.kind || ' of ' || deferral.asset || ' stays due on ' || due.due_on AS effect,
    'warning' AS severity
FROM step.deferral AS deferral
JOIN step.due_date AS due
    ON due.asset = deferral.asset
    AND due.kind = CASE deferral.kind WHEN 'on-stream' THEN 'internal' ELSE deferral.kind END
    AND due.deferral_refused IS NOT NULL
    AND deferral.deferred_until > due.due_on
