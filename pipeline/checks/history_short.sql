-- Histories shorter than the shortest interval whose change is within noise: their rate says little.
SELECT
    reading.file, reading.sheet, reading.cell,
    reading.text,
    'all readings of ' || rate.component || ', location ' || rate.location || ' of ' || rate.asset || ' lie within '
        || shown.duration(rate.years_long) || ' and differ by no more than scatter does: a rate from them is hardly one; '
        || 'state a rate for the service, or measure again' AS reason,
    'the rate is used as it is: ' || shown.rate(rate.rate_mm_per_year) AS effect,
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
    AND history.initial_from = 'first reading'
    AND rate.years_long < in_force.short_interval_years
    AND abs(history.t_initial_mm - history.t_act_mm) <= formula.noise_limit(in_force.reading_scatter_mm)
