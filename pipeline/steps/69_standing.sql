-- How every asset stands: the concern that ranks it, in words, and what the ranking goes by.
-- grain: asset
-- reads: step.asset, step.concern, step.due_date, step.component_state, step.life, step.reading, step.relief_margin, basis.in_force
-- column asset: asset tag
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
WITH earliest AS (
    SELECT asset, arg_min({'kind': kind, 'on': due_on}, (due_on, kind)) AS due
    FROM step.due_date
    WHERE due_on IS NOT NULL
    GROUP BY asset
),

-- The weakest component stands beside every asset, also where a date of another kind sets the rank.
weakest AS (
    SELECT asset, component, location, margin
    FROM step.component_state
    QUALIFY row_number() OVER (
        PARTITION BY asset
        ORDER BY state_order, remaining_life_years ASC NULLS LAST, margin ASC NULLS LAST, component
    ) = 1
),

held AS (
    SELECT asset, count(*) AS readings, count(*) FILTER (held_for = 'growth') AS grown
    FROM step.reading
    WHERE status = 'held'
    GROUP BY asset
),

with_held AS (
    SELECT asset, min(due_on) AS due_on
    FROM (
        SELECT * FROM step.life WHERE scenario = 'with held readings'
        UNION ALL
        SELECT *
        FROM step.life
        WHERE scenario = 'in force'
            AND NOT EXISTS (
                SELECT 1
                FROM step.life AS other
                WHERE other.scenario = 'with held readings'
                    AND other.asset = life.asset
                    AND other.component = life.component
                    AND other.location = life.location
            )
    )
    GROUP BY asset
),

first_concern AS (
    SELECT
        concern.*,
        coalesce(concern.governing_on, earliest.due['on']) AS ranked_on,
        count(*) OVER (PARTITION BY concern.asset, state_order) AS alike
    FROM step.concern AS concern
    LEFT JOIN earliest ON earliest.asset = concern.asset
    QUALIFY row_number() OVER (
        PARTITION BY concern.asset
        ORDER BY state_order, concern.governing_on ASC NULLS FIRST, concern.margin ASC NULLS LAST, kind,
            concern.component, concern.location
    ) = 1
)

SELECT
    asset.asset,
    concern.state, concern.state_order,
    concern.sentence
        || CASE WHEN concern.state NOT IN ('in date', 'retired') AND alike > 1 THEN ' (and ' || alike - 1 || ' more of this state)'
            ELSE '' END
        || CASE WHEN held.readings > 0 THEN '; ' || held.readings
            || CASE held.readings WHEN 1 THEN ' reading is held' ELSE ' readings are held' END
            ELSE '' END
        || coalesce('; ' || relief.device || ' is set above the MAWP', '') AS reason,
    coalesce(concern.component, weakest.component) AS governing_component,
    CASE WHEN concern.component IS NULL THEN weakest.location
        WHEN concern.location IS NOT NULL THEN concern.location
        WHEN concern.component = weakest.component THEN weakest.location
    END AS governing_location,
    ranked_on AS governing_on,
    date_diff('day', as_of, ranked_on) AS days_to_governing,
    coalesce(concern.margin, weakest.margin) AS margin,
    CASE
        WHEN concern.kind IN ('required thickness', 'data', 'retirement', 'retirement from service')
            OR starts_with(concern.kind, 'corroded area ') THEN earliest.due['kind']
        ELSE concern.kind
    END AS due_kind,
    CASE
        WHEN concern.kind IN ('required thickness', 'data', 'retirement', 'retirement from service')
            OR starts_with(concern.kind, 'corroded area ') THEN earliest.due['on']
        ELSE concern.governing_on
    END AS due_on,
    coalesce(held.readings, 0) AS held_readings,
    CASE WHEN held.grown > 0 THEN with_held.due_on END AS due_on_with_held
FROM step.asset AS asset
LEFT JOIN first_concern AS concern ON concern.asset = asset.asset
LEFT JOIN earliest ON earliest.asset = asset.asset
LEFT JOIN weakest ON weakest.asset = asset.asset
LEFT JOIN held ON held.asset = asset.asset
LEFT JOIN with_held ON with_held.asset = asset.asset
LEFT JOIN (
    SELECT asset, string_agg(device, ', ' ORDER BY device) AS device
    FROM step.relief_margin
    WHERE above_mawp_now
    GROUP BY asset
) AS relief ON relief.asset = asset.asset
CROSS JOIN basis.in_force
