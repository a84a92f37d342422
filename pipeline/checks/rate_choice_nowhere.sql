-- Choices of a rate for a place that has no reading or is not known.
SELECT
    file, sheet, cell,
    coalesce(rate_choice, '') AS text,
    'no reading that counts is known of ' || component || coalesce(', location ' || location, '') || ' of ' || asset
        || ': check the names' AS reason,
    'the choice of a rate is not used' AS effect,
    'set aside' AS severity
FROM step.rate_choice AS choice
WHERE NOT EXISTS (
    SELECT 1
    FROM step.history AS history
    WHERE history.asset = choice.asset
        AND history.component = choice.component
        AND (history.location = choice.location OR choice.location IS NULL)
)
