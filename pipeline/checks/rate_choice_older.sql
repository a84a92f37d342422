-- Choices of a rate made before the last reading.
SELECT
    choice.file, choice.sheet, choice.cell,
    choice.rate_choice AS text,
    'the rate of ' || choice.component || coalesce(', location ' || choice.location, '') || ' of ' || choice.asset
        || ' was chosen by ' || choice.chosen_by || ' on ' || choice.chosen_on || '; a reading has been taken since: '
        || 'look at it again' AS reason,
    'the choice stays in force' AS effect,
    'warning' AS severity
FROM step.rate_choice AS choice
WHERE EXISTS (
    SELECT 1
    FROM step.rate AS rate
    WHERE rate.asset = choice.asset
        AND rate.component = choice.component
        AND (rate.location = choice.location OR choice.location IS NULL)
        AND rate.scenario = 'in force'
        AND rate.rate_choice_older
        -- Another choice may be in force at some of its places.
        AND rate.rate_chosen_by = choice.chosen_by
        AND rate.rate_chosen_on = choice.chosen_on
        AND rate.rate_choice_reason = choice.reason
        AND starts_with(rate.rate_from, choice.rate_choice)
)
