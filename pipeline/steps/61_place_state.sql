-- The state of every place by itself.
-- grain: asset, component, location
-- reads: step.life, step.horizon, reference.state, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column state: state of the place
-- column state_order: order of that state, most urgent first
WITH judged AS (
    SELECT
        asset, component, location,
        CASE
            WHEN is_below_required THEN 'below required'
            WHEN due_on < as_of THEN 'overdue'
            WHEN life_missing IS NOT NULL OR due_on IS NULL THEN 'not assessable'
            WHEN due_on < must_reach_on OR retirement_on < must_reach_on THEN 'due by turnaround'
            ELSE 'in date'
        END AS state
    FROM step.life
    CROSS JOIN basis.in_force
    CROSS JOIN step.horizon AS horizon
    WHERE scenario = 'in force'
)

SELECT asset, component, location, state, state_order
FROM judged
JOIN reference.state USING (state)
