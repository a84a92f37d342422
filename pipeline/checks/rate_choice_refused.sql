-- Choices of a rate that do not count.
SELECT
    choice.file, choice.sheet, choice.cell,
    coalesce(choice.rate_choice, '') AS text,
    'the choice of a rate for ' || choice.component || coalesce(', location ' || choice.location, '') || ' of '
        || choice.asset || ' does not count: ' || coalesce(choice.refused, min(rate.rate_choice_refused))
        || ': correct or complete it' AS reason,
    'the rate selected by the policy stands' AS effect,
    'set aside' AS severity
FROM step.rate_choice AS choice
LEFT JOIN step.rate AS rate
    ON rate.asset = choice.asset
    AND rate.component = choice.component
    AND (rate.location = choice.location OR choice.location IS NULL)
    AND rate.scenario = 'in force'
    AND rate.rate_choice_refused IS NOT NULL
WHERE choice.refused IS NOT NULL OR rate.asset IS NOT NULL
GROUP BY choice.file, choice.sheet, choice.cell, choice.rate_choice, choice.component, choice.location, choice.asset,
    choice.refused
