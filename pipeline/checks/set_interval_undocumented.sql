-- Set intervals beyond the cap that lack their assessment, approver or date.
SELECT
    file, sheet, cell,
    ignored_interval_years || ' years' AS text,
    'a set interval beyond the cap counts only with its assessment, approver and date: ' || ignored_because AS reason,
    kind || ' interval of ' || asset || ' stays at ' || cap_years || ' years' AS effect,
    'set aside' AS severity
FROM step.cap AS cap
WHERE ignored_because IS NOT NULL
    -- The caps of both services stand there for every asset: only that of its devices means anything.
    AND (
        kind NOT IN ('relief device', 'clean relief device')
        OR EXISTS (
            SELECT 1
            FROM step.relief_device AS device
            WHERE device.asset = cap.asset AND device.is_clean_service = (cap.kind = 'clean relief device')
        )
    )
