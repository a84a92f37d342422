-- Choices of a rate that do not count.
WITH refused AS (
    SELECT asset, component, location, rate_choice, refused, file, sheet, cell
    FROM step.choice_on_record
    WHERE refused IS NOT NULL
    UNION
    SELECT
        choice.asset, choice.component, choice.location, choice.rate_choice,
        'there is no rate of the kind it names: ' || choice.rate_choice, choice.file, choice.sheet, choice.cell
    FROM step.rate_choice AS choice
    JOIN step.rate AS rate
        ON rate.asset = choice.asset
        AND rate.component = choice.component
        AND (rate.location = choice.location OR choice.location IS NULL)
        AND rate.scenario = 'in force'
    CROSS JOIN LATERAL (
        VALUES
            ('long-term', rate_lt_mm_per_year),
            ('short-term', rate_st_mm_per_year),
            ('least squares', rate_fit_mm_per_year),
            ('fit upper bound', rate_fit_upper_mm_per_year),
            ('stated', stated_rate_mm_per_year),
            ('similar service', similar_rate_mm_per_year)
    ) AS kind(word, rate_mm_per_year)
    WHERE kind.word = choice.rate_choice AND kind.rate_mm_per_year IS NULL
)

SELECT
    file, sheet, cell,
    coalesce(rate_choice, '') AS text,
    'the choice of a rate for ' || component || coalesce(', location ' || location, '') || ' of ' || asset
        || ' does not count: ' || refused || ': correct or complete it' AS reason,
    'it is not used: the rate is selected by another choice that counts, or else by the policy' AS effect,
    'set aside' AS severity
FROM refused
