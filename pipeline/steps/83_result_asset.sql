-- The ranking, with what the register says of each asset and all its due dates side by side.
-- grain: asset
-- reads: step.ranking, step.asset, step.due_date, step.component_state, step.life, step.area_verdict, step.relief_margin
-- column asset: asset tag
-- column rank: place in the ranking
-- column state: state
-- column reason: why it ranks where it does
-- column governing_component: component that sets the rank
-- column governing_location: location that sets the rank
-- column governing_on: date to which the days are counted
-- column days_to_governing: days from the as-of date to it
-- column margin: margin at the governing place
-- column due_kind: kind of the governing due date
-- column due_on: governing due date
-- column internal_due_on: internal or on-stream due date
-- column external_due_on: external due date
-- column thickness_due_on: thickness due date
-- column relief_due_on: relief device due date
-- column deferred_until: latest date of the deferrals that cover a due date, null if none
-- column retirement_on: earliest retirement date of its places and corroded areas
-- column remaining_life_years: shortest remaining life of its places and corroded areas, null without end or unknown
-- column mawp_mpa: lowest MAWP of its components now, null if any is unknown
-- column mawp_next_mpa: the same at the next inspection
-- column mawp_turnaround_mpa: the same at the start of the next turnaround, after twice the loss until then
-- column mawp_after_mpa: the same at the start of the turnaround after it
-- column held_readings: readings held
-- column due_on_with_held: earliest thickness due date if the readings held for growth counted
-- column components: number of components
-- column components_not_assessable: components that are not assessable
-- column description: description
-- column service: service
-- column area: area of the plant
-- column assigned_to: person who inspects it
-- column construction_code: construction code and edition
-- column in_service_on: date of going into service
-- column status: in service, idle or retired
-- column status_since: date from which it is idle or retired
-- column recommendation_due_on: due date of the earliest open recommendation
-- column relief_above_mawp: relief devices set above the lowest MAWP of its components now, null if none
-- column rating_pressure_mpa: MAWP or design pressure of the register
-- column rating_from: which of the two
WITH due AS (
    SELECT
        asset,
        min(due_on) FILTER (kind = 'internal') AS internal_due_on,
        min(due_on) FILTER (kind = 'external') AS external_due_on,
        min(due_on) FILTER (kind = 'thickness') AS thickness_due_on,
        min(due_on) FILTER (kind = 'relief device') AS relief_due_on,
        min(due_on) FILTER (kind = 'recommendation') AS recommendation_due_on,
        max(deferred_until) FILTER (state = 'deferred until') AS deferred_until
    FROM step.due_date
    GROUP BY asset
),

part AS (
    SELECT
        asset,
        CASE WHEN count(*) = count(mawp_mpa) THEN min(mawp_mpa) END AS mawp_mpa,
        CASE WHEN count(*) = count(mawp_next_mpa) THEN min(mawp_next_mpa) END AS mawp_next_mpa,
        CASE WHEN count(*) = count(mawp_turnaround_mpa) THEN min(mawp_turnaround_mpa) END AS mawp_turnaround_mpa,
        CASE WHEN count(*) = count(mawp_after_mpa) THEN min(mawp_after_mpa) END AS mawp_after_mpa,
        count(*) AS components,
        count(*) FILTER (missing IS NOT NULL) AS components_not_assessable
    FROM step.component_state
    GROUP BY asset
)

SELECT
    ranking.asset, rank, state, reason, governing_component, governing_location, governing_on, days_to_governing,
    margin, due_kind, due_on, internal_due_on, external_due_on, thickness_due_on, relief_due_on, deferred_until,
    retirement_on, remaining_life_years, part.mawp_mpa, part.mawp_next_mpa, part.mawp_turnaround_mpa,
    part.mawp_after_mpa, held_readings, due_on_with_held,
    coalesce(components, 0) AS components,
    coalesce(components_not_assessable, 0) AS components_not_assessable,
    description, service, area, assigned_to, construction_code, in_service_on, status, status_since, recommendation_due_on, relief_above_mawp, rating_pressure_mpa, rating_from
FROM step.ranking AS ranking
JOIN step.asset AS asset USING (asset)
LEFT JOIN due USING (asset)
LEFT JOIN part USING (asset)
LEFT JOIN (
    SELECT asset, min(retirement_on) AS retirement_on, min(remaining_life_years) AS remaining_life_years
    FROM (
        SELECT asset, retirement_on, remaining_life_years FROM step.life WHERE scenario = 'in force'
        UNION ALL
        SELECT asset, retirement_on, remaining_life_years FROM step.area_verdict
    )
    GROUP BY asset
) AS shortest USING (asset)
LEFT JOIN (
    SELECT asset, string_agg(device, ', ' ORDER BY device) AS relief_above_mawp
    FROM step.relief_margin
    WHERE above_mawp_now
    GROUP BY asset
) AS relief USING (asset)
ORDER BY rank
