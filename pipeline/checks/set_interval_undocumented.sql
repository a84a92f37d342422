-- Set intervals beyond the cap that lack their assessment, approver or date.
SELECT
    file, sheet, cell,
    ignored_interval_years || ' years' AS text,
    'a set interval beyond the cap counts only with its assessment, approver and date: ' || ignored_because AS reason,
    kind || ' interval of ' || asset || ' stays at ' || cap_years || ' years' AS effect,
    'set aside' AS severity
FROM step.cap
WHERE ignored_because IS NOT NULL
