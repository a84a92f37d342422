-- The set pressure of every relief device against what its vessel can bear: the rating, the MAWP now and at the next inspection.
-- grain: asset, device
-- reads: step.relief_device, step.component_state, step.asset, basis.in_force
-- column asset: asset it protects
-- column device: device tag
-- column set_pressure_mpa: set pressure
-- column rating_pressure_mpa: rating pressure of the vessel
-- column mawp_mpa: lowest MAWP of its components now, null if any is unknown
-- column mawp_next_mpa: the same at the next inspection
-- column above_rating: set above the rating pressure
-- column above_mawp_now: set above the MAWP now of a component, or above the rating
-- column above_mawp_next: set above the MAWP at the next inspection of a component
WITH vessel AS (
    SELECT
        asset,
        CASE WHEN count(*) = count(mawp_mpa) THEN min(mawp_mpa) END AS mawp_mpa,
        CASE WHEN count(*) = count(mawp_next_mpa) THEN min(mawp_next_mpa) END AS mawp_next_mpa,
        -- One wall that bears too little is enough, also where another is unknown.
        min(mawp_mpa) AS lowest_known_mpa,
        min(mawp_next_mpa) AS lowest_known_next_mpa
    FROM step.component_state
    GROUP BY asset
)

SELECT
    device.asset, device.device, device.set_pressure_mpa, asset.rating_pressure_mpa, vessel.mawp_mpa, mawp_next_mpa,
    device.set_above_mawp AS above_rating,
    device.set_above_mawp
        OR coalesce(formula.exceeds(device.set_pressure_mpa, lowest_known_mpa, same_value_tolerance) > 0, false)
        AS above_mawp_now,
    coalesce(formula.exceeds(device.set_pressure_mpa, lowest_known_next_mpa, same_value_tolerance) > 0, false)
        AS above_mawp_next
FROM step.relief_device AS device
LEFT JOIN step.asset AS asset USING (asset)
LEFT JOIN vessel USING (asset)
CROSS JOIN basis.in_force
