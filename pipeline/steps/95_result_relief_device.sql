-- Relief devices: set pressure against what the vessel can bear, interval and last test.
-- grain: asset, device
-- reads: step.relief_device, step.relief_margin
-- column asset: asset it protects
-- column device: device tag
-- column set_pressure_mpa: set pressure
-- column rating_pressure_mpa: rating pressure of the vessel
-- column mawp_mpa: lowest MAWP of its components now, null if any is unknown
-- column mawp_next_mpa: the same at the next inspection
-- column above_rating: set above the rating pressure
-- column above_mawp_now: set above the MAWP now of a component, or above the rating
-- column above_mawp_next: set above the MAWP at the next inspection of a component
-- column is_clean_service: clean, non-corrosive service
-- column cap_years: longest interval
-- column interval_years: interval in force
-- column last_tested_on: last test
-- column due_on: due date
-- column due_missing: why there is no due date, null if there is one
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the last test
SELECT
    device.asset, device.device, device.set_pressure_mpa, rating_pressure_mpa, mawp_mpa, mawp_next_mpa, above_rating,
    above_mawp_now, above_mawp_next, is_clean_service, cap_years, interval_years, last_tested_on, due_on, due_missing,
    file, sheet, cell
FROM step.relief_device AS device
JOIN step.relief_margin AS margin USING (asset, device)
ORDER BY device.asset, device.device
