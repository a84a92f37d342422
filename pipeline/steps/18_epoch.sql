-- The start of the history in force of every measured component: its latest event that begins a new one.
-- grain: asset, component
-- reads: step.measurement, step.event
-- column asset: asset tag
-- column component: component tag
-- column epoch_on: date of that event
SELECT measured.asset, measured.component, max(event_on) AS epoch_on
FROM (SELECT DISTINCT asset, component FROM step.measurement) AS measured
JOIN step.event AS event
    ON event.asset = measured.asset
    AND (event.component = measured.component OR event.component IS NULL)
    AND event.starts_epoch
GROUP BY measured.asset, measured.component
