-- What would govern next: each due date a place sets, and the date it would be were that place disproved.
-- grain: asset, kind
-- reads: step.due_date, step.life, basis.in_force
-- column asset: asset tag
-- column kind: internal or thickness
-- column component: component that sets the date
-- column location: location that sets it
-- column due_on: due date
-- column next_component: component that would set it next, null where the cap would
-- column next_location: location that would set it next, null where the cap would
-- column next_due_on: due date without the place that sets it, null where nothing else sets one
WITH asked AS (
    SELECT asset, component, location, 'thickness' AS kind, due_on
    FROM step.life
    WHERE scenario = 'in force'
    UNION ALL
    SELECT asset, component, location, 'internal', internal_due_on
    FROM step.life
    WHERE scenario = 'in force'
),

second AS (
    SELECT
        asset, kind,
        arg_min(
            {'due_on': due_on, 'component': component, 'location': location}, (due_on, component, location), 2
        ) FILTER (due_on IS NOT NULL)[2] AS place
    FROM asked
    GROUP BY asset, kind
),

dated AS (
    SELECT
        due.asset, due.kind, due.component, due.location, due.due_on,
        second.place,
        CASE WHEN due.kind = 'internal'
            THEN due.anchor_on + formula.whole_days(due.cap_years, days_per_year, day_guard)::INTEGER
        END AS cap_due_on
    FROM step.due_date AS due
    LEFT JOIN second USING (asset, kind)
    CROSS JOIN basis.in_force
    WHERE due.kind IN ('internal', 'thickness') AND due.location IS NOT NULL
)

SELECT
    asset, kind, component, location, due_on,
    CASE WHEN (cap_due_on <= place['due_on']) IS NOT TRUE THEN place['component'] END AS next_component,
    CASE WHEN (cap_due_on <= place['due_on']) IS NOT TRUE THEN place['location'] END AS next_location,
    CASE
        WHEN place['due_on'] IS NULL THEN cap_due_on
        WHEN cap_due_on IS NULL THEN place['due_on']
        ELSE least(cap_due_on, place['due_on'])
    END AS next_due_on
FROM dated
