-- Every place with its thickness, requirement, rates, life and dates, and every number they were worked out from.
-- grain: asset, component, location
-- reads: step.life, step.place, step.place_required, step.history, step.rate, step.place_state, step.pressure_held, step.miss, step.band
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column description: description of the place
-- column state: state of the place
-- column t_act_mm: last reading
-- column read_on: its date
-- column t_req_mm: required thickness that counts
-- column t_req_weld_mm: required thickness in the weld region
-- column t_req_away_mm: required thickness away from it
-- column governing_case: what sets the required thickness
-- column weld_region: weld, away or unknown
-- column region_counted: region whose requirement counts
-- column distance_to_weld_mm: distance to the nearest weld's toe
-- column weld_region_half_width_mm: half-width of the weld region
-- column zone: general, or crown of a formed head
-- column margin: margin over the required thickness
-- column verdict_turns_on_weld_distance: passes away from the weld, fails at it, and the distance is not known
-- column reading_count: readings in the history
-- column initial_on: date of the initial thickness
-- column t_initial_mm: initial thickness
-- column initial_from: first reading, event or nominal
-- column previous_on: date of the reading before
-- column t_previous_mm: reading before
-- column epoch_on: start of the history, null for the first one
-- column days_long: days from the initial thickness to the last reading
-- column days_short: days from the reading before to the last one
-- column years_long: the same in years
-- column years_short: the same in years
-- column rate_lt_mm_per_year: long-term rate
-- column rate_st_mm_per_year: short-term rate
-- column short_term_counts: the short-term rate may govern
-- column rate_fit_mm_per_year: least-squares rate
-- column rate_fit_error_mm_per_year: standard error of the least-squares rate
-- column rate_fit_upper_mm_per_year: its one-sided 95 % bound
-- column t_quantile: one-sided 95 % quantile of Student's t for the fit
-- column sum_days_squared: n times the sum of squared days about their mean
-- column sum_days_thickness: n times the sum of days by thickness about their means
-- column sum_thickness_squared: n times the sum of squared thickness about its mean
-- column stated_rate_mm_per_year: rate stated on the register
-- column rate_selected_mm_per_year: rate selected by the policy
-- column rate_from: which rate that is
-- column similar_rate_mm_per_year: rate suggested by similar service, null where too few places give it
-- column rate_by_policy_mm_per_year: rate the policy selects by itself
-- column rate_policy_from: which rate that is
-- column rate_chosen_by: who chose the rate, null where the policy selects it
-- column rate_chosen_on: when
-- column rate_choice_reason: why
-- column rate_choice_older: a reading has been taken since the choice
-- column rate_choice_refused: why a choice on record does not count, null if it does or there is none
-- column rate_mm_per_year: governing rate
-- column rate_floor_applied: the plant's floor raised it
-- column rate_deviation_mm_per_year: standard deviation of the selected rate, from reading scatter or from the fit
-- column rate_low_mm_per_year: low end of the rate by reading scatter
-- column rate_high_mm_per_year: high end of the rate by reading scatter
-- column remaining_life_years: remaining life from the last reading, null without end or unknown
-- column no_measurable_loss: the rate is zero
-- column remaining_life_weld_years: remaining life in the weld region
-- column remaining_life_away_years: remaining life away from it
-- column t_req_retirement_mm: required thickness on the retirement basis
-- column t_req_allowance_mm: required thickness on the allowance basis
-- column t_req_nominal_mm: required thickness on the nominal basis
-- column remaining_life_retirement_years: remaining life on the retirement basis
-- column remaining_life_allowance_years: remaining life on the allowance basis
-- column remaining_life_nominal_years: remaining life on the nominal basis
-- column retirement_on: date at which the required thickness is reached
-- column cap_years: longest thickness interval
-- column internal_cap_years: longest internal interval
-- column interval_years: thickness interval
-- column internal_interval_years: internal or on-stream interval
-- column due_on: date by which the place is to be measured again
-- column first_check_on: date by which a new or changed service is checked first, null where it is not asked
-- column internal_due_on: date by which the half life asks for an internal or on-stream inspection
-- column t_next_mm: thickness less twice the loss to the next inspection
-- column holding_pressure_mpa: pressure the wall holds now
-- column mawp_mpa: MAWP now
-- column mawp_next_mpa: MAWP at the next inspection
-- column remaining_life_low_years: remaining life at the high rate
-- column remaining_life_high_years: remaining life at the low rate, null without end or unknown
-- column retirement_earliest_on: retirement date at the high rate
-- column retirement_latest_on: retirement date at the low rate, null without end or unknown
-- column due_earliest_on: due date at the high rate
-- column due_latest_on: due date at the low rate
-- column due_thinner_on: due date had the last reading been thinner by its scatter
-- column due_thicker_on: due date had it been thicker by its scatter
-- column mawp_turnaround_mpa: MAWP at the start of the next turnaround, after twice the loss until then
-- column mawp_after_mpa: the same at the start of the turnaround after it
-- column due_on_with_held: date by which it is due if readings held for growth counted, null where none is held
-- column remaining_life_with_held_years: remaining life in that case
-- column t_act_with_held_mm: last reading in that case
-- column misses_in_a_row: visits without a reading since the last one
-- column last_miss_reason: reason given at the last of them
-- column missing: what is missing to assess it, null if nothing
WITH streak AS (
    SELECT
        miss.asset, miss.component, miss.location,
        count(DISTINCT visited_on) AS misses_in_a_row,
        arg_max(reason, (visited_on, record)) AS last_miss_reason
    FROM step.miss AS miss
    JOIN step.life AS life
        ON life.asset = miss.asset
        AND life.component = miss.component
        AND life.location = miss.location
        AND life.scenario = 'in force'
    WHERE visited_on > coalesce(life.read_on, DATE '0001-01-01')
    GROUP BY miss.asset, miss.component, miss.location
)

SELECT
    life.asset, life.component, life.location,
    place.description,
    state.state,
    life.t_act_mm, life.read_on, life.t_req_mm, life.t_req_weld_mm, life.t_req_away_mm,
    required.governing_case, required.weld_region, required.region_counted, required.distance_to_weld_mm,
    required.weld_region_half_width_mm, required.zone,
    life.margin, life.verdict_turns_on_weld_distance,
    history.reading_count, history.initial_on, history.t_initial_mm, history.initial_from,
    history.previous_on, history.t_previous_mm, history.epoch_on, history.days_long, history.days_short,
    rate.years_long, rate.years_short, rate.rate_lt_mm_per_year, rate.rate_st_mm_per_year, rate.short_term_counts,
    rate.rate_fit_mm_per_year, rate.rate_fit_error_mm_per_year, rate.rate_fit_upper_mm_per_year, history.t_quantile,
    history.sum_days_squared, history.sum_days_thickness, history.sum_thickness_squared,
    rate.stated_rate_mm_per_year, rate.similar_rate_mm_per_year, rate.rate_selected_mm_per_year, rate.rate_from,
    rate.rate_by_policy_mm_per_year, rate.rate_policy_from, rate.rate_chosen_by, rate.rate_chosen_on,
    rate.rate_choice_reason, coalesce(rate.rate_choice_older, false) AS rate_choice_older, rate.rate_choice_refused,
    life.rate_mm_per_year, rate.rate_floor_applied, rate.rate_deviation_mm_per_year, band.rate_low_mm_per_year,
    band.rate_high_mm_per_year,
    life.remaining_life_years, life.no_measurable_loss, life.remaining_life_weld_years,
    life.remaining_life_away_years, required.t_req_retirement_mm, required.t_req_allowance_mm,
    required.t_req_nominal_mm, life.remaining_life_retirement_years, life.remaining_life_allowance_years,
    life.remaining_life_nominal_years, life.retirement_on, life.cap_years, life.internal_cap_years,
    life.interval_years, life.internal_interval_years, life.due_on, life.first_check_on, life.internal_due_on, life.t_next_mm,
    band.remaining_life_low_years, band.remaining_life_high_years, band.retirement_earliest_on,
    band.retirement_latest_on, band.due_earliest_on, band.due_latest_on, band.due_thinner_on, band.due_thicker_on,
    held.holding_pressure_mpa, held.mawp_mpa, held.mawp_next_mpa, held.mawp_turnaround_mpa,
    held.mawp_after_mpa,
    other.due_on AS due_on_with_held,
    other.remaining_life_years AS remaining_life_with_held_years,
    other.t_act_mm AS t_act_with_held_mm,
    coalesce(streak.misses_in_a_row, 0) AS misses_in_a_row,
    streak.last_miss_reason,
    life.life_missing AS missing
FROM step.life AS life
JOIN step.place AS place USING (asset, component, location)
JOIN step.place_required AS required USING (asset, component, location)
JOIN step.place_state AS state USING (asset, component, location)
LEFT JOIN step.history AS history
    ON history.asset = life.asset
    AND history.component = life.component
    AND history.location = life.location
    AND history.scenario = 'in force'
LEFT JOIN step.rate AS rate
    ON rate.asset = life.asset
    AND rate.component = life.component
    AND rate.location = life.location
    AND rate.scenario = 'in force'
LEFT JOIN step.pressure_held AS held
    ON held.asset = life.asset
    AND held.component = life.component
    AND held.location = life.location
LEFT JOIN step.band AS band
    ON band.asset = life.asset
    AND band.component = life.component
    AND band.location = life.location
LEFT JOIN step.life AS other
    ON other.asset = life.asset
    AND other.component = life.component
    AND other.location = life.location
    AND other.scenario = 'with held readings'
LEFT JOIN streak
    ON streak.asset = life.asset
    AND streak.component = life.component
    AND streak.location = life.location
WHERE life.scenario = 'in force'
ORDER BY life.asset, life.component, life.location
