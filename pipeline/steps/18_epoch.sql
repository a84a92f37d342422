-- The start of the history in force of every component: its latest event that begins a new one.
-- grain: asset, component
-- reads: step.component, step.event
-- column asset: asset tag
-- column component: component tag
-- column epoch_on: date of that event
SELECT component.asset, component.component, max(event_on) AS epoch_on
FROM step.component AS component
JOIN step.event AS event
    ON event.asset = component.asset
    AND (event.component = component.component OR event.component IS NULL)
    AND event.starts_epoch
GROUP BY component.asset, component.component
