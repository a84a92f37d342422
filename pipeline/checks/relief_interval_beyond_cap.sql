-- Relief devices whose interval is longer than the cap of their service.
SELECT
    file, sheet, cell, interval_stated_years || ' years' AS text,
    'the interval of relief device ' || device || ' is longer than the ' || service_cap_years
        || ' years of its service: shorten it, or record that the service is clean' AS reason,
    'relief device ' || device || ' of ' || asset || ' is due after ' || interval_years || ' years' AS effect,
    'set aside' AS severity
FROM step.relief_device
WHERE interval_stated_years > greatest(service_cap_years, cap_years)
