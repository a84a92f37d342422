-- Every component with its governing place.
-- grain: asset, component
-- reads: step.component_state, step.component, step.similar_service
-- column asset: asset tag
-- column component: component tag
-- column kind: component kind, null where it is not known
-- column kind_text: the kind as it stood
-- column material: material
-- column state: worst state of its places
-- column governing_location: governing place
-- column t_act_mm: last reading there
-- column read_on: its date
-- column t_req_mm: required thickness there
-- column rate_mm_per_year: governing rate there
-- column margin: margin there
-- column remaining_life_years: remaining life there, null without end or unknown
-- column no_measurable_loss: the rate there is zero
-- column retirement_on: earliest retirement date of its places
-- column interval_years: shortest internal interval of its places
-- column due_on: earliest date by which a place is to be measured again
-- column mawp_mpa: lowest MAWP of its places now
-- column mawp_next_mpa: lowest MAWP of its places at the next inspection
-- column mawp_turnaround_mpa: lowest MAWP of its places at the start of the next turnaround, after twice the loss until then
-- column mawp_after_mpa: the same at the start of the turnaround after it
-- column nominal_thickness_mm: nominal thickness or as-measured baseline
-- column places: number of places
-- column places_never_read: places without a reading that counts
-- column held_readings: readings held
-- column weld_distance_places: places whose verdict turns on the weld distance
-- column similar_places: places of other components with the same service, material and kind that have a measured rate
-- column similar_vessels: vessels with such places, its own included
-- column similar_rate_median_mm_per_year: median of their long-term rates
-- column similar_rate_high_mm_per_year: rate that nine in ten of them do not exceed
-- column similar_rate_suggested_mm_per_year: that rate where there are enough places to suggest it, else null
-- column own_rate_high_mm_per_year: highest measured long-term rate of the component itself
-- column missing: what is missing to assess it, null if nothing
SELECT
    state.asset, state.component, component.kind, component.kind_text, component.material, state.state,
    state.location AS governing_location,
    t_act_mm, read_on, t_req_mm, rate_mm_per_year, margin, remaining_life_years, no_measurable_loss, retirement_on,
    interval_years, due_on, mawp_mpa, mawp_next_mpa, mawp_turnaround_mpa, mawp_after_mpa, component.nominal_thickness_mm, places, places_never_read,
    held_readings, weld_distance_places,
    coalesce(similar_places, 0) AS similar_places,
    coalesce(similar_vessels, 0) AS similar_vessels,
    similar_rate_median_mm_per_year, similar_rate_high_mm_per_year, similar_rate_suggested_mm_per_year,
    own_rate_high_mm_per_year, missing
FROM step.component_state AS state
JOIN step.component AS component USING (asset, component)
LEFT JOIN step.similar_service AS similar_service USING (asset, component)
ORDER BY state.asset, state.component
