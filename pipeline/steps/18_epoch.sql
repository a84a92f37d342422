-- The start of the history in force of every component: its latest event that begins a new one.
-- grain: asset, component
-- reads: step.component, step.event
-- column asset: asset tag
-- column component: component tag
-- column epoch_on: date of that event
-- column wall_on: date since which the wall is the one of today: of the last event that renewed it, null for the first one
-- column service_on: date since which its service is the one of today: of its last change, null for the first one
-- column keeps_wall: the event left the wall as it was: its last reading is the thickness it still has
SELECT component.asset, component.component, max(event_on) AS epoch_on,
    max(event_on) FILTER (renews_wall) AS wall_on,
    max(event_on) FILTER (event = 'change of service') AS service_on,
    max(event_on) > coalesce(max(event_on) FILTER (renews_wall), DATE '0001-01-01') AS keeps_wall
FROM step.component AS component
JOIN (SELECT *, event IN ('replaced', 'overlaid') AS renews_wall FROM step.event) AS event
    ON event.asset = component.asset
    AND (event.component = component.component OR event.component IS NULL)
    AND event.starts_epoch
GROUP BY component.asset, component.component
