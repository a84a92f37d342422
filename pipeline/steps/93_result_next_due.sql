-- What would govern next were the place that sets a due date disproved.
-- grain: asset, kind
-- reads: step.next_due
-- column asset: asset tag
-- column kind: internal or thickness
-- column component: component that sets the date
-- column location: location that sets it
-- column due_on: due date
-- column next_component: component that would set it next, null where the cap would
-- column next_location: location that would set it next, null where the cap would
-- column next_due_on: due date without the place that sets it, null where nothing else sets one
SELECT asset, kind, component, location, due_on, next_component, next_location, next_due_on
FROM step.next_due
ORDER BY asset, kind
