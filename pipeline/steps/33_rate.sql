-- The governing corrosion rate of every place: by the plant's policy, or by a named person's choice.
-- grain: asset, component, location, scenario
-- reads: step.measured_rate, step.similar_service, step.rate_choice, step.choice_on_record, step.component, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column scenario: in force, with held readings, last reading thicker or last reading thinner
-- column reading_count: number of readings in the history
-- column is_brief: several readings, all within the shortest interval, that differ by no more than scatter does
-- column read_on: date of the last reading
-- column t_act_mm: last reading
-- column years_long: years from the initial thickness to the last reading
-- column years_short: years from the reading before to the last one
-- column rate_lt_mm_per_year: long-term rate
-- column rate_st_mm_per_year: short-term rate
-- column short_term_counts: the short-term rate may govern
-- column rate_fit_mm_per_year: least-squares rate
-- column rate_fit_error_mm_per_year: its standard error
-- column rate_fit_upper_mm_per_year: its one-sided 95 % bound
-- column stated_rate_mm_per_year: rate stated on the register
-- column similar_rate_mm_per_year: rate suggested by similar service, null where too few places give it
-- column rate_selected_mm_per_year: rate selected, by choice or else by the policy
-- column rate_from: which rate that is
-- column rate_by_policy_mm_per_year: rate the policy selects by itself
-- column rate_policy_from: which rate that is
-- column rate_chosen_by: who chose the rate, null where the policy selects it
-- column rate_chosen_on: when
-- column rate_choice_reason: why
-- column rate_choice_older: a reading has been taken since the choice
-- column rate_choice_refused: why a choice on record does not count, null if one does or there is none
-- column rate_mm_per_year: governing rate: not below zero, not below the floor
-- column rate_floor_applied: the floor raised it
-- column rate_deviation_mm_per_year: standard deviation of the selected rate, from reading scatter or from the fit
-- column rate_missing: why there is no rate, null if there is one
WITH known AS (
    SELECT
        measured.*,
        component.stated_rate_mm_per_year,
        similar_service.similar_rate_suggested_mm_per_year AS similar_rate_mm_per_year
    FROM step.measured_rate AS measured
    LEFT JOIN step.component AS component USING (asset, component)
    LEFT JOIN step.similar_service AS similar_service USING (asset, component)
),

policied AS (
    SELECT
        known.*,
        CASE
            WHEN reading_count < 2 AND stated_rate_mm_per_year IS NOT NULL AND rate_lt_mm_per_year IS NULL
                THEN 'stated'
            -- Until a history says something, the stated rate counts where it is the higher one.
            WHEN is_brief AND stated_rate_mm_per_year >= rate_lt_mm_per_year THEN 'stated'
            WHEN is_brief AND initial_from = 'nominal' THEN 'long-term from nominal'
            WHEN reading_count < 2 AND stated_rate_mm_per_year IS NOT NULL
                THEN CASE
                    WHEN stated_rate_mm_per_year >= rate_lt_mm_per_year THEN 'stated'
                    ELSE 'long-term from ' || initial_from
                END
            WHEN rate_lt_mm_per_year IS NULL THEN NULL
            WHEN reading_count < 2 THEN 'long-term from ' || initial_from
            WHEN rate_policy = 'fit upper bound' AND rate_fit_upper_mm_per_year IS NOT NULL THEN 'fit upper bound'
            WHEN rate_policy = 'long-term' OR NOT short_term_counts THEN 'long-term'
            WHEN rate_policy = 'short-term' THEN 'short-term'
            WHEN rate_st_mm_per_year > rate_lt_mm_per_year THEN 'short-term'
            ELSE 'long-term'
        END AS rate_policy_from
    FROM known
    CROSS JOIN basis.in_force
),

-- The rate a choice points to; null where there is none to point to.
candidate AS (
    SELECT
        known.asset, known.component, known.location, scenario,
        choice.location AS choice_location, rate_choice, chosen_by, chosen_on, reason,
        CASE rate_choice
            WHEN 'long-term' THEN rate_lt_mm_per_year
            WHEN 'short-term' THEN rate_st_mm_per_year
            WHEN 'least squares' THEN rate_fit_mm_per_year
            WHEN 'fit upper bound' THEN rate_fit_upper_mm_per_year
            WHEN 'stated' THEN stated_rate_mm_per_year
            WHEN 'similar service' THEN similar_rate_mm_per_year
            WHEN 'named rate' THEN chosen_rate_mm_per_year
        END AS rate_pointed_to
    FROM known
    JOIN step.rate_choice AS choice
        ON choice.asset = known.asset
        AND choice.component = known.component
        AND (choice.location = known.location OR choice.location IS NULL)
),

-- The choice for a place comes before the one for its component; one that does not count undoes neither.
chosen AS (
    SELECT *
    FROM candidate
    WHERE rate_pointed_to IS NOT NULL
    QUALIFY row_number() OVER (
        PARTITION BY asset, component, location, scenario ORDER BY choice_location NULLS LAST
    ) = 1
),

doubted AS (
    SELECT
        asset, component, location, scenario, choice_location, chosen_on,
        'there is no rate of the kind it names: ' || rate_choice AS refused
    FROM candidate
    WHERE rate_pointed_to IS NULL
    UNION ALL
    SELECT
        known.asset, known.component, known.location, scenario, on_record.location, chosen_on, on_record.refused
    FROM known
    JOIN step.choice_on_record AS on_record
        ON on_record.asset = known.asset
        AND on_record.component = known.component
        AND (on_record.location = known.location OR on_record.location IS NULL)
    WHERE on_record.refused IS NOT NULL
),

refused AS (
    SELECT *
    FROM doubted
    QUALIFY row_number() OVER (
        PARTITION BY asset, component, location, scenario
        ORDER BY choice_location NULLS LAST, chosen_on DESC NULLS LAST, refused
    ) = 1
),

judged AS (
    SELECT
        policied.*,
        chosen.asset IS NOT NULL AS is_chosen,
        chosen.rate_choice, chosen.chosen_by, chosen.chosen_on, chosen.reason, chosen.rate_pointed_to,
        CASE WHEN chosen.asset IS NULL THEN refused.refused END AS rate_choice_refused
    FROM policied
    LEFT JOIN chosen USING (asset, component, location, scenario)
    LEFT JOIN refused USING (asset, component, location, scenario)
),

selected AS (
    SELECT
        *,
        CASE
            WHEN NOT is_chosen THEN rate_policy_from
            WHEN rate_choice = 'long-term' AND (reading_count < 2 OR (is_brief AND initial_from = 'nominal'))
                THEN 'long-term from ' || initial_from
            ELSE rate_choice
        END AS rate_from,
        CASE
            WHEN rate_policy_from = 'stated' THEN stated_rate_mm_per_year
            WHEN rate_policy_from = 'fit upper bound' THEN rate_fit_upper_mm_per_year
            WHEN rate_policy_from = 'short-term' THEN rate_st_mm_per_year
            WHEN rate_policy_from IS NOT NULL THEN rate_lt_mm_per_year
        END AS rate_by_policy_mm_per_year
    FROM judged
),

settled AS (
    SELECT
        *,
        CASE WHEN is_chosen THEN rate_pointed_to ELSE rate_by_policy_mm_per_year END AS rate_selected_mm_per_year
    FROM selected
)

SELECT
    asset, component, location, scenario, reading_count, is_brief, read_on, t_act_mm, years_long, years_short,
    rate_lt_mm_per_year, rate_st_mm_per_year, short_term_counts, rate_fit_mm_per_year, rate_fit_error_mm_per_year, rate_fit_upper_mm_per_year,
    stated_rate_mm_per_year, similar_rate_mm_per_year, rate_selected_mm_per_year, rate_from,
    rate_by_policy_mm_per_year, rate_policy_from,
    chosen_by AS rate_chosen_by,
    chosen_on AS rate_chosen_on,
    reason AS rate_choice_reason,
    coalesce(chosen_on < read_on, false) AS rate_choice_older,
    rate_choice_refused,
    formula.rate_governing(rate_selected_mm_per_year, rate_floor_mm_per_year) AS rate_mm_per_year,
    coalesce(rate_floor_mm_per_year > 0 AND rate_selected_mm_per_year < rate_floor_mm_per_year, false)
        AS rate_floor_applied,
    CASE
        WHEN rate_from IN ('fit upper bound', 'least squares') THEN rate_fit_error_mm_per_year
        WHEN rate_from = 'short-term' THEN formula.rate_deviation(reading_scatter_mm, years_short)
        WHEN starts_with(rate_from, 'long-term') THEN formula.rate_deviation(reading_scatter_mm, years_long)
    END AS rate_deviation_mm_per_year,
    CASE
        WHEN rate_selected_mm_per_year IS NOT NULL THEN NULL
        WHEN epoch_on IS NOT NULL
            THEN 'a second reading since ' || epoch_on || ', or the new thickness of that event'
        ELSE 'a second reading, or a stated corrosion rate, or nominal thickness and in-service date'
    END AS rate_missing
FROM settled
CROSS JOIN basis.in_force
