-- Every component: its worst state, its governing place, and what its places say together.
-- grain: asset, component
-- reads: step.component, step.life, step.place_state, step.pressure_held, step.reading, step.shape, reference.state
-- column asset: asset tag
-- column component: component tag
-- column state: worst state of its places; not assessable without any place
-- column state_order: order of that state
-- column location: governing place: below required first, then the shortest life, then the smallest margin
-- column t_act_mm: last reading there
-- column read_on: its date
-- column t_req_mm: required thickness there
-- column rate_mm_per_year: governing rate there
-- column margin: margin there
-- column remaining_life_years: remaining life there
-- column no_measurable_loss: the rate there is zero
-- column retirement_on: earliest retirement date of its places
-- column interval_years: shortest internal interval of its places
-- column due_on: earliest date by which a place is to be measured again
-- column mawp_mpa: lowest MAWP of its places now
-- column mawp_next_mpa: lowest MAWP of its places at the next inspection
-- column mawp_turnaround_mpa: lowest MAWP of its places at the start of the next turnaround, after twice the loss until then
-- column mawp_after_mpa: the same at the start of the turnaround after it
-- column places: number of places
-- column places_never_read: places without a reading that counts
-- column held_readings: readings held
-- column weld_distance_places: places whose verdict turns on the weld distance
-- column missing: what is missing to assess it, null if nothing
WITH governing AS (
    SELECT
        asset, component,
        arg_min(
            {'location': location, 't_act_mm': t_act_mm, 'read_on': read_on, 't_req_mm': t_req_mm,
             'rate': rate_mm_per_year, 'margin': margin, 'life': remaining_life_years,
             'no_loss': no_measurable_loss},
            -- Of places that nobody has read the one that requires most stands for the component.
            (NOT is_below_required, t_act_mm IS NULL, coalesce(remaining_life_years, 1e9), coalesce(margin, 1e9),
             coalesce(-t_req_mm, 0), location)
        ) AS place,
        min(retirement_on) AS retirement_on,
        min(internal_interval_years) AS interval_years,
        min(due_on) AS due_on,
        count(*) AS places,
        count(*) FILTER (never_read) AS places_never_read,
        count(*) FILTER (verdict_turns_on_weld_distance) AS weld_distance_places,
        string_agg(DISTINCT life_missing, '; ' ORDER BY life_missing) AS missing
    FROM step.life
    WHERE scenario = 'in force'
    GROUP BY asset, component
),

worst AS (
    SELECT asset, component, min(state_order) AS state_order
    FROM step.place_state
    GROUP BY asset, component
),

held_pressure AS (
    SELECT
        asset, component,
        -- A wall whose pressure is unknown makes the component's unknown: never the others' minimum.
        CASE WHEN count(*) = count(mawp_mpa) THEN min(mawp_mpa) END AS mawp_mpa,
        CASE WHEN count(*) = count(mawp_next_mpa) THEN min(mawp_next_mpa) END AS mawp_next_mpa,
        CASE WHEN count(*) = count(mawp_turnaround_mpa) THEN min(mawp_turnaround_mpa) END AS mawp_turnaround_mpa,
        CASE WHEN count(*) = count(mawp_after_mpa) THEN min(mawp_after_mpa) END AS mawp_after_mpa
    FROM step.pressure_held
    GROUP BY asset, component
),

held AS (
    SELECT asset, component, count(*) AS readings
    FROM step.reading
    WHERE status = 'held'
    GROUP BY asset, component
)

SELECT
    component.asset, component.component,
    state.state, state.state_order,
    place['location'] AS location,
    place['t_act_mm'] AS t_act_mm,
    place['read_on'] AS read_on,
    place['t_req_mm'] AS t_req_mm,
    place['rate'] AS rate_mm_per_year,
    place['margin'] AS margin,
    place['life'] AS remaining_life_years,
    coalesce(place['no_loss'], false) AS no_measurable_loss,
    retirement_on, interval_years, due_on, mawp_mpa, mawp_next_mpa, mawp_turnaround_mpa, mawp_after_mpa,
    coalesce(places, 0) AS places,
    coalesce(places_never_read, 0) AS places_never_read,
    coalesce(held.readings, 0) AS held_readings,
    coalesce(weld_distance_places, 0) AS weld_distance_places,
    CASE
        WHEN governing.asset IS NOT NULL THEN governing.missing
        WHEN len(shape.missing) > 0
            THEN 'a thickness location and a reading, ' || array_to_string(shape.missing, ', ')
        ELSE 'a thickness location and a reading'
    END AS missing
FROM step.component AS component
LEFT JOIN step.shape AS shape USING (asset, component)
LEFT JOIN governing USING (asset, component)
LEFT JOIN worst USING (asset, component)
LEFT JOIN held_pressure USING (asset, component)
LEFT JOIN held USING (asset, component)
JOIN reference.state AS state
    ON state.state_order = coalesce(worst.state_order, 3)
