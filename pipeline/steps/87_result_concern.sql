-- Everything that asks for work on an asset, most urgent first.
-- grain: asset, state, kind, component, location
-- reads: step.concern
-- column asset: asset tag
-- column state: state it puts the asset in
-- column state_order: order of that state
-- column kind: required thickness, data, retirement, or the kind of due date
-- column governing_on: date to which the days are counted
-- column margin: margin over the required thickness
-- column component: component
-- column location: location
-- column sentence: why, in one sentence
SELECT asset, state, state_order, kind, governing_on, margin, component, location, sentence
FROM step.concern
ORDER BY asset, state_order, governing_on NULLS FIRST, margin NULLS LAST, kind, component, location
