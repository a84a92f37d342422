-- Everything that asks for work on an asset, each with its state, date and sentence; the first one ranks the asset.
-- grain: asset, state, kind, component, location
-- reads: step.asset, step.component_state, step.life, step.place_required, step.place_state, step.due_date, step.area_verdict, step.horizon, reference.state, basis.in_force
-- column asset: asset tag
-- column state: state it puts the asset in
-- column state_order: order of that state
-- column kind: required thickness, data, retirement, a corroded area, or the kind of due date
-- column governing_on: date to which the days are counted
-- column margin: margin over the required thickness, null where it is about no place
-- column component: component, null if none
-- column location: location, null if none
-- column sentence: why, in one sentence
WITH place AS (
    SELECT
        life.*, place_state.state, required.weld_region, required.governing_case, required.zone
    FROM step.life AS life
    JOIN step.place_state AS place_state USING (asset, component, location)
    JOIN step.place_required AS required USING (asset, component, location)
    WHERE life.scenario = 'in force'
),

below AS (
    SELECT
        asset, 'below required' AS state, 'required thickness' AS kind, read_on AS governing_on, margin, component,
        location,
        component || ', location ' || location || ': ' || shown.thickness(t_act_mm) || ' left on ' || read_on
            || ', ' || shown.thickness(t_req_mm) || ' required ('
            || CASE weld_region
                WHEN 'away' THEN 'away from the weld'
                WHEN 'weld' THEN 'in the weld region'
                ELSE 'weld distance unknown, so the weld region counts'
            END
            || ', ' || governing_case || ')'
            || CASE WHEN verdict_turns_on_weld_distance
                THEN '; away from the weld ' || shown.thickness(t_req_away_mm)
                    || ' would do: the verdict turns on the weld distance'
                ELSE '' END AS sentence
    FROM place
    WHERE is_below_required
),

unknown_component AS (
    SELECT
        asset, 'not assessable' AS state, 'data' AS kind, NULL::DATE AS governing_on, NULL::DOUBLE AS margin,
        component, NULL::VARCHAR AS location,
        component || ', missing: ' || missing AS sentence
    FROM step.component_state
    WHERE missing IS NOT NULL
),

unknown_asset AS (
    SELECT
        asset, 'not assessable' AS state, 'data' AS kind, NULL::DATE AS governing_on, NULL::DOUBLE AS margin,
        NULL::VARCHAR AS component, NULL::VARCHAR AS location,
        CASE
            WHEN NOT in_register THEN 'it is on no register of assets'
            ELSE 'no component of it is on any component sheet'
        END AS sentence
    FROM step.asset
    WHERE NOT in_register
        OR NOT EXISTS (SELECT 1 FROM step.component_state AS component WHERE component.asset = asset.asset)
),

-- A deferral moves the date of an inspection; it leaves no more wall.
retiring AS (
    SELECT
        asset,
        CASE WHEN retirement_on < as_of THEN 'overdue' ELSE 'due by turnaround' END AS state,
        'retirement' AS kind, retirement_on AS governing_on, margin, component, location,
        component || ', location ' || location || CASE
            WHEN retirement_on < as_of
                THEN ': by its rate it reached its required thickness on ' || retirement_on || ', '
                    || date_diff('day', retirement_on, as_of) || ' days before the as-of date: measure it again'
            ELSE ': reaches its required thickness on ' || retirement_on || ', before '
                || coalesce(after_name, next_name) || ' ends: it must be dealt with in ' || next_name
        END AS sentence
    FROM place
    CROSS JOIN step.horizon AS horizon
    CROSS JOIN basis.in_force
    WHERE (retirement_on < as_of OR retirement_on < must_reach_on) AND NOT is_below_required
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_on, component, location) = 1
),

dated AS (
    SELECT
        due.asset, due.state, due.kind, due.due_on AS governing_on, place.margin, due.component, due.location,
        upper(due.kind[1]) || due.kind[2:]
            || CASE
                WHEN due.kind = 'thickness' THEN ' survey'
                WHEN due.kind IN ('corroded area', 'relief device', 'recommendation') THEN ''
                ELSE ' inspection'
            END
            || coalesce(' ' || due.device, '')
            || CASE
                WHEN due.due_on IS NULL THEN ' has no due date'
                WHEN due.due_on < as_of THEN ' was due on ' || due.due_on || ', '
                    || date_diff('day', due.due_on, as_of) || ' days before the as-of date'
                ELSE ' is due on ' || due.due_on
            END
            || coalesce(' (' || due.set_by || coalesce(', ' || due.component || ', location ' || due.location, '')
                || ')', '')
            || CASE due.state
                WHEN 'deferred until' THEN ', deferred until ' || deferred_until || ' by '
                    || coalesce(deferral_approved_by, 'an unnamed person')
                WHEN 'due by turnaround' THEN
                    CASE
                        WHEN due.due_on < next_start_on THEN ', before ' || next_name || ' starts'
                        ELSE ', before ' || coalesce(after_name, next_name) || ' ends: it must be met by '
                            || next_name
                    END
                ELSE ''
            END
            || coalesce('; missing: ' || due_missing, '')
            || coalesce('; the deferral does not count: ' || deferral_refused, '')
            || coalesce('; ' || on_stream_refused, '')
            || coalesce('; operating years are not counted: ' || operating_years_refused, '')
            || CASE WHEN asset.status = 'idle'
                THEN '; it is idle since ' || asset.status_since || ': to be met before it goes back into service'
                ELSE '' END AS sentence
    FROM step.due_date AS due
    JOIN step.asset AS asset
        ON asset.asset = due.asset
    LEFT JOIN place
        ON place.asset = due.asset
        AND place.component = due.component
        AND place.location = due.location
    CROSS JOIN basis.in_force
    CROSS JOIN step.horizon AS horizon
),

-- A corroded area only ever adds to what the places say.
areas AS (
    SELECT
        area.asset,
        CASE
            WHEN is_below_required THEN 'below required'
            WHEN missing IS NOT NULL THEN 'not assessable'
            WHEN retirement_on < must_reach_on THEN 'due by turnaround'
        END AS state,
        'corroded area ' || area AS kind,
        CASE
            WHEN is_below_required THEN read_on
            WHEN missing IS NULL THEN retirement_on
        END AS governing_on,
        margin, component,
        NULL::VARCHAR AS location,
        sentence
    FROM step.area_verdict AS area
    CROSS JOIN step.horizon AS horizon
    WHERE is_below_required OR missing IS NOT NULL OR retirement_on < must_reach_on
),

retired AS (
    SELECT
        asset, 'retired' AS state, 'retirement from service' AS kind, status_since AS governing_on,
        NULL::DOUBLE AS margin, NULL::VARCHAR AS component, NULL::VARCHAR AS location,
        'Retired since ' || status_since || ': no date is due; it must be evaluated and inspected before it goes back '
            || 'into service' AS sentence
    FROM step.asset
    WHERE status = 'retired'
),

every_one AS (
    SELECT * FROM retired
    UNION ALL BY NAME SELECT * FROM below
    UNION ALL BY NAME SELECT * FROM unknown_component
    UNION ALL BY NAME SELECT * FROM unknown_asset
    UNION ALL BY NAME SELECT * FROM retiring
    UNION ALL BY NAME SELECT * FROM areas
    UNION ALL BY NAME SELECT * FROM dated
)

SELECT asset, every_one.state, state_order, kind, governing_on, margin, component, location, sentence
FROM every_one
JOIN reference.state AS state
    ON state.state = every_one.state
-- What is retired asks for nothing else until it is put back.
WHERE every_one.state = 'retired' OR asset NOT IN (SELECT asset FROM retired)
