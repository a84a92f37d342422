-- The ranking of the assets: state first, then days to the governing date, then the smaller margin, then the tag.
-- grain: asset
-- reads: step.standing
-- column asset: asset tag
-- column rank: place in the ranking
-- column state: worst state of all its concerns
-- column state_order: order of that state
-- column reason: why it ranks where it does
-- column governing_component: component that sets the rank, else the one with the shortest life
-- column governing_location: location that sets the rank, else that of the governing component
-- column governing_on: date to which the days are counted
-- column days_to_governing: days from the as-of date to it, negative when past
-- column margin: margin at the governing place
-- column due_kind: kind of the governing due date
-- column due_on: governing due date
-- column held_readings: readings held
-- column due_on_with_held: earliest due date if the readings held for growth counted, null where none is held for it
SELECT
    asset,
    row_number() OVER (
        ORDER BY state_order, days_to_governing ASC NULLS FIRST, margin ASC NULLS LAST, asset
    ) AS rank,
    state, state_order, reason, governing_component, governing_location, governing_on, days_to_governing, margin,
    due_kind, due_on, held_readings, due_on_with_held
FROM step.standing
