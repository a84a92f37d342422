-- Histories shorter than the shortest interval whose change is within noise: their rate says little.
SELECT
    reading.file, reading.sheet, reading.cell,
    reading.text,
    'all readings of ' || rate.component || ', location ' || rate.location || ' of ' || rate.asset || ' lie within '
        || shown.duration(short_interval_years) || ' and differ by no more than scatter does: a rate from them is hardly '
        || 'one; state a rate for the service, or measure again' AS reason,
    'the highest rate that is known counts: ' || shown.rate(rate.rate_mm_per_year) || ' (' || rate.rate_from || ')'
        AS effect,
    'warning' AS severity
FROM step.rate AS rate
JOIN step.history AS history USING (asset, component, location, scenario)
JOIN step.reading AS reading
    ON reading.asset = rate.asset
    AND reading.component = rate.component
    AND reading.location = rate.location
    AND reading.read_on = history.read_on
    AND reading.status = 'used'
CROSS JOIN basis.in_force AS in_force
WHERE rate.scenario = 'in force'
    AND history.is_brief
