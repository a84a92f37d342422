-- The start of the history in force of every component: its latest event that begins a new one.
-- grain: asset, component
-- reads: step.component, step.event
-- column asset: asset tag
-- column component: component tag
-- column epoch_on: date of that event
-- column wall_on: date since which the wall is the one of today: of the last event that renewed it, null for the first one
-- column service_on: date since which its service is the one of today: of its last change, null for the first one
-- column new_thickness_mm: thickness stated at that event, by the component's own statement before the whole asset's
-- column keeps_wall: the event left the wall as it was: its last reading is the thickness it still has
WITH begun AS (
    SELECT
        component.asset, component.component, event_on, event, new_thickness_mm,
        event.component IS NOT NULL AS is_own,
        event IN ('replaced', 'overlaid') AS renews_wall,
        event_on = max(event_on) OVER (PARTITION BY component.asset, component.component) AS is_last
    FROM step.component AS component
    JOIN step.event AS event
        ON event.asset = component.asset
        AND (event.component = component.component OR event.component IS NULL)
        AND event.starts_epoch
)

SELECT
    asset, component,
    max(event_on) AS epoch_on,
    max(event_on) FILTER (renews_wall) AS wall_on,
    max(event_on) FILTER (event = 'change of service') AS service_on,
    coalesce(max(new_thickness_mm) FILTER (is_last AND is_own), max(new_thickness_mm) FILTER (is_last))
        AS new_thickness_mm,
    max(event_on) > coalesce(max(event_on) FILTER (renews_wall), DATE '0001-01-01') AS keeps_wall
FROM begun
GROUP BY asset, component
