-- Every due date of every asset, with what set it, what is missing, and the deferral that moves it.
-- grain: asset, kind
-- reads: step.event_unplaced, step.asset, step.component, step.life, step.cap, step.inspection, step.relief_device, step.recommendation, step.area_verdict, step.deferral, step.horizon, basis.in_force
-- column asset: asset tag
-- column kind: internal, external, thickness, corroded area, relief device or recommendation
-- column anchor_on: date from which the interval counts
-- column anchor: what happened on that date
-- column cap_years: longest interval
-- column cap_from: code cap or assessment
-- column interval_years: interval in force
-- column due_on: due date
-- column set_by: what set the date
-- column component: component that sets it, null if none
-- column location: location that sets it, null if none
-- column device: relief device, recommendation or corroded area that sets it, null if none
-- column operating_years_refused: why operating years are not counted, null if they are or need not be
-- column on_stream_refused: why the last on-stream inspection does not stand for an internal one, null if it does
-- column due_missing: what is missing to be sure of it, null if nothing
-- column deferred_until: date of the deferral that covers it, null if none
-- column deferral_approved_by: who approved it
-- column deferral_approved_on: when
-- column deferral_reason: why
-- column deferral_refused: why a recorded deferral does not cover it, null if none is refused
-- column state: state of this due date alone
WITH vessel AS (
    SELECT
        asset,
        min(due_on) AS thickness_due_on,
        arg_min({'component': component, 'location': location, 'never_read': never_read,
                 'is_first_check': coalesce(due_on = first_check_on, false)}, (due_on, component, location))
            FILTER (due_on IS NOT NULL) AS thickness_place,
        min(internal_due_on) AS half_life_due_on,
        arg_min({'component': component, 'location': location}, (internal_due_on, component, location))
            FILTER (internal_due_on IS NOT NULL) AS half_life_place,
        min(internal_interval_years) AS internal_interval_years,
        max(rate_mm_per_year) AS highest_rate,
        min(remaining_life_years) AS shortest_life,
        bool_and(remaining_life_years IS NOT NULL OR (no_measurable_loss AND NOT is_below_required)) AS all_assessed
    FROM step.life
    WHERE scenario = 'in force'
    GROUP BY asset
),

-- A component without a life might ask for an earlier date than the others do.
unassessed_for AS (
    SELECT
        asset,
        'the remaining life of ' || CASE count(*) WHEN 1 THEN min(component) ELSE count(*) || ' components' END
            || ', so the date is the latest it can be' AS words
    FROM (
        SELECT DISTINCT component.asset, component.component
        FROM step.component AS component
        LEFT JOIN step.life AS life
            ON life.asset = component.asset
            AND life.component = component.component
            AND life.scenario = 'in force'
        WHERE life.asset IS NULL OR life.life_missing IS NOT NULL
    )
    GROUP BY asset
    UNION ALL
    SELECT asset, 'a component with a remaining life, so the date is the latest it can be'
    FROM step.asset
    WHERE asset NOT IN (SELECT asset FROM step.component)
    UNION ALL
    -- An event that may begin a new history, on a day or of a kind nobody knows.
    SELECT
        asset,
        'the ' || CASE WHEN event_on IS NULL THEN 'date' ELSE 'kind' END || ' of the event in '
            || concat_ws(' ', file, nullif(sheet, ''), cell) || ', so the date is the latest it can be'
    FROM step.event_unplaced
    WHERE event IS DISTINCT FROM 'rerated'
),

unassessed AS (
    SELECT asset, string_agg(DISTINCT words, '; ' ORDER BY words) AS words
    FROM unassessed_for
    GROUP BY asset
),

-- Corroded areas count as the wall they are: on one of them a vessel may have less left than at any place.
thinned_area AS (
    SELECT
        asset,
        min(remaining_life_years) AS shortest_area_life,
        bool_or(is_below_required) AS area_below,
        bool_or(missing IS NOT NULL) AS area_unknown
    FROM step.area_verdict
    GROUP BY asset
),

-- An on-stream inspection stands for an internal one only while the service is known, and rate and life allow it.
on_stream AS (
    SELECT
        inspection.asset,
        inspection.inspected_on,
        CASE
            WHEN in_place_of_internal = 'no' THEN 'the register says it does not'
            WHEN in_place_of_internal IS NULL THEN 'its conditions are not on record'
            WHEN NOT coalesce(all_assessed, false) OR unassessed.words IS NOT NULL THEN 'not every place has a rate and a life'
            WHEN highest_rate >= on_stream_rate_mm_per_year THEN 'a rate is not below 0.005 in/year (0.125 mm/year)'
            WHEN shortest_life <= on_stream_life_years OR shortest_area_life <= on_stream_life_years
                THEN 'a remaining life is not above 10 years'
            WHEN coalesce(area_below, false) THEN 'a corroded area is below its required thickness'
            WHEN coalesce(area_unknown, false) THEN 'a corroded area is not assessable'
            WHEN asset.service IS NULL THEN 'the service is not on record'
        END AS refused
    FROM step.inspection AS inspection
    LEFT JOIN step.asset AS asset USING (asset)
    LEFT JOIN vessel USING (asset)
    LEFT JOIN unassessed USING (asset)
    LEFT JOIN thinned_area USING (asset)
    CROSS JOIN basis.in_force
    WHERE kind = 'on-stream'
),

last_inside AS (
    SELECT
        asset,
        max(inspected_on) AS inspected_on,
        arg_max(kind, inspected_on) AS kind
    FROM (
        SELECT asset, inspected_on, 'internal' AS kind FROM step.inspection WHERE kind = 'internal'
        UNION ALL
        SELECT asset, inspected_on, 'on-stream' FROM on_stream WHERE refused IS NULL
    )
    GROUP BY asset
),

refused_on_stream AS (
    SELECT asset, max(inspected_on) AS inspected_on, arg_max(refused, inspected_on) AS refused
    FROM on_stream
    WHERE refused IS NOT NULL
    GROUP BY asset
),

last_external AS (
    SELECT asset, max(inspected_on) AS inspected_on
    FROM step.inspection
    WHERE kind = 'external'
    GROUP BY asset
),

inside AS (
    SELECT
        asset.asset,
        'internal' AS kind,
        coalesce(last_inside.inspected_on, in_service_on) AS anchor_on,
        CASE
            WHEN last_inside.kind IS NOT NULL THEN 'last ' || last_inside.kind || ' inspection'
            WHEN in_service_on IS NOT NULL THEN 'in-service date: no internal inspection on record'
        END AS anchor,
        cap.cap_years, cap.cap_from, cap.operating_years_refused,
        internal_interval_years AS interval_years,
        coalesce(last_inside.inspected_on, in_service_on)
            + formula.whole_days(cap.cap_years, days_per_year, day_guard)::INTEGER AS cap_due_on,
        half_life_due_on,
        half_life_place,
        CASE
            WHEN refused_on_stream.inspected_on > coalesce(last_inside.inspected_on, DATE '0001-01-01')
                THEN 'on-stream inspection of ' || refused_on_stream.inspected_on
                    || ' does not stand for an internal one: ' || refused_on_stream.refused
        END AS on_stream_refused,
        CASE
            WHEN coalesce(last_inside.inspected_on, in_service_on) IS NULL
                THEN 'an internal inspection or the in-service date'
            ELSE unassessed.words
        END AS due_missing
    FROM step.asset AS asset
    LEFT JOIN vessel USING (asset)
    LEFT JOIN unassessed USING (asset)
    LEFT JOIN last_inside USING (asset)
    LEFT JOIN refused_on_stream USING (asset)
    LEFT JOIN step.cap AS cap ON cap.asset = asset.asset AND cap.kind = 'internal'
    CROSS JOIN basis.in_force
),

outside AS (
    SELECT
        asset.asset,
        coalesce(last_external.inspected_on, in_service_on) AS anchor_on,
        CASE
            WHEN last_external.inspected_on IS NOT NULL THEN 'last external inspection'
            WHEN in_service_on IS NOT NULL THEN 'in-service date: no external inspection on record'
        END AS anchor,
        cap.cap_years, cap.cap_from,
        formula.external_interval(cap.cap_years, coalesce(internal_interval_years, inside.cap_years)) AS interval_years,
        coalesce(internal_interval_years, inside.cap_years) AS internal_interval_years,
        unassessed.words AS unassessed
    FROM step.asset AS asset
    LEFT JOIN vessel USING (asset)
    LEFT JOIN unassessed USING (asset)
    LEFT JOIN last_external USING (asset)
    LEFT JOIN step.cap AS cap ON cap.asset = asset.asset AND cap.kind = 'external'
    LEFT JOIN step.cap AS inside ON inside.asset = asset.asset AND inside.kind = 'internal'
    CROSS JOIN basis.in_force
),

-- Every device with its date, in the order of their names; what is missing of any is missing of the kind.
relief AS (
    SELECT
        asset, device, anchor_on, anchor, cap_years, cap_from, interval_years, due_on,
        string_agg(due_missing, ', ' ORDER BY due_missing) OVER (PARTITION BY asset) AS due_missing,
        row_number() OVER (PARTITION BY asset ORDER BY device) AS turn
    FROM step.relief_device
),

-- Every open recommendation, in the order in which they were read; one without a date is one whose date nobody knows.
recommended AS (
    SELECT
        asset, component, recommendation, raised_on, due_on,
        'a due date for the recommendation "'
            || min(recommendation) FILTER (due_on IS NULL) OVER (PARTITION BY asset) || '"' AS due_missing,
        row_number() OVER (PARTITION BY asset ORDER BY record) AS turn
    FROM step.recommendation
    WHERE is_open
),

-- The earliest date of a corroded area; its life adds to what the places ask for and never takes from it.
surveyed AS (
    SELECT
        asset,
        arg_min({'component': component, 'area': area, 'surveyed_on': surveyed_on, 'cap_years': cap_years,
                 'interval_years': interval_years, 'due_on': due_on}, (due_on, component, area))
            FILTER (due_on IS NOT NULL) AS first_due,
        string_agg(component || ': ' || due_missing, ', ' ORDER BY component, due_missing) AS due_missing
    FROM step.area_verdict
    WHERE due_on IS NOT NULL OR due_missing IS NOT NULL
    GROUP BY asset
),

due AS (
    SELECT
        asset, kind, anchor_on, anchor, cap_years, cap_from, interval_years,
        CASE
            WHEN cap_due_on IS NULL THEN half_life_due_on
            WHEN half_life_due_on IS NULL THEN cap_due_on
            ELSE least(cap_due_on, half_life_due_on)
        END AS due_on,
        CASE
            WHEN cap_due_on IS NULL AND half_life_due_on IS NULL THEN NULL
            WHEN cap_due_on IS NULL OR half_life_due_on < cap_due_on THEN 'interval from the thickness reading'
            ELSE cap_from || ' from the ' || anchor
        END AS set_by,
        CASE WHEN cap_due_on IS NULL OR half_life_due_on < cap_due_on THEN half_life_place['component'] END
            AS component,
        CASE WHEN cap_due_on IS NULL OR half_life_due_on < cap_due_on THEN half_life_place['location'] END
            AS location,
        NULL::VARCHAR AS device,
        on_stream_refused,
        operating_years_refused,
        due_missing
    FROM inside
    UNION ALL BY NAME
    SELECT
        asset, 'external' AS kind, anchor_on, anchor, cap_years, cap_from, interval_years,
        anchor_on + formula.whole_days(interval_years, days_per_year, day_guard)::INTEGER AS due_on,
        CASE
            -- In the whole days that set the date: the last digit of a life is no other reason.
            WHEN formula.whole_days(internal_interval_years, days_per_year, day_guard)
                < formula.whole_days(cap_years, days_per_year, day_guard)
                THEN 'internal interval from the ' || anchor
            ELSE cap_from || ' from the ' || anchor
        END AS set_by,
        CASE WHEN anchor_on IS NULL THEN 'an external inspection or the in-service date' ELSE unassessed END
            AS due_missing
    FROM outside
    CROSS JOIN basis.in_force
    UNION ALL BY NAME
    SELECT
        asset.asset, 'thickness' AS kind, NULL::DATE AS anchor_on, NULL AS anchor, cap.cap_years, cap.cap_from,
        NULL::DOUBLE AS interval_years,
        thickness_due_on AS due_on,
        CASE
            WHEN thickness_place['is_first_check'] THEN 'first check of a new or changed service'
            WHEN thickness_place['never_read'] THEN 'cap from the in-service date: never read'
            ELSE 'interval from the thickness reading'
        END AS set_by,
        thickness_place['component'] AS component,
        thickness_place['location'] AS location,
        CASE
            WHEN thickness_due_on IS NULL THEN 'a thickness reading with rate and required thickness'
            ELSE unassessed.words
        END AS due_missing
    FROM step.asset AS asset
    LEFT JOIN vessel USING (asset)
    LEFT JOIN unassessed USING (asset)
    LEFT JOIN step.cap AS cap ON cap.asset = asset.asset AND cap.kind = 'thickness'
    UNION ALL BY NAME
    SELECT
        asset, 'corroded area' AS kind,
        first_due['surveyed_on'] AS anchor_on, 'last survey of the area' AS anchor,
        first_due['cap_years'] AS cap_years, cap.cap_from, first_due['interval_years'] AS interval_years,
        first_due['due_on'] AS due_on,
        'interval from the last survey of the area' AS set_by,
        first_due['component'] AS component,
        first_due['area'] || ' of ' || first_due['component'] AS device,
        due_missing
    FROM surveyed
    LEFT JOIN step.cap AS cap USING (asset)
    WHERE cap.kind = 'thickness'
    UNION ALL BY NAME
    SELECT
        asset, 'relief device' AS kind, anchor_on, anchor, cap_years, cap_from, interval_years, due_on,
        'interval from the ' || anchor AS set_by,
        device, due_missing, turn
    FROM relief
    UNION ALL BY NAME
    SELECT
        asset, 'recommendation' AS kind, raised_on AS anchor_on, 'recommendation of ' || raised_on AS anchor, due_on,
        'date set with it' AS set_by,
        '"' || recommendation || '"' AS device,
        due_missing, turn
    FROM recommended
),

-- The device or recommendation a deferral speaks of: the one due nearest to the date it states.
aimed AS (
    SELECT deferral.record, due.turn
    FROM due
    JOIN step.deferral AS deferral USING (asset, kind)
    CROSS JOIN basis.in_force
    WHERE due.turn IS NOT NULL AND abs(date_diff('day', deferral.due_on, due.due_on)) <= deferral_tolerance_days
    QUALIFY rank() OVER (
        PARTITION BY deferral.record ORDER BY abs(date_diff('day', deferral.due_on, due.due_on))
    ) = 1
),

judged_deferral AS (
    SELECT
        due.asset, due.kind, due.turn, deferral.deferred_until, deferral.approved_by, deferral.approved_on, deferral.reason,
        deferral.record,
        CASE
            WHEN deferral.approved_by IS NULL OR deferral.approved_on IS NULL THEN 'no approver or date of approval'
            WHEN deferral.reason IS NULL THEN 'no reason'
            -- Approved before the inspection or reading this date counts from: it moved an earlier date.
            WHEN deferral.approved_on < CASE WHEN due.location IS NULL THEN due.anchor_on ELSE life.read_on END
                THEN 'it was approved on ' || deferral.approved_on || ' for an earlier due date'
            -- Nobody approved moving a date that is earlier than the one it states, or that of another device.
            WHEN due.due_on < deferral.due_on - deferral_tolerance_days::INTEGER
                OR (due.turn IS NOT NULL AND due.due_on > deferral.due_on + deferral_tolerance_days::INTEGER)
                THEN 'it moves a due date of ' || deferral.due_on || ', and this one is ' || due.due_on
            WHEN deferral.due_on IS NULL AND due.of_its_kind > 1
                THEN 'it does not state which of ' || due.of_its_kind || ' due dates of this kind it moves'
            WHEN deferral.approved_on >= due.due_on
                THEN 'approved on ' || deferral.approved_on || ', not before the due date ' || due.due_on
            WHEN deferral.deferred_until < as_of THEN 'it ran out on ' || deferral.deferred_until
        END AS refused
    FROM (
        SELECT *, count(due_on) FILTER (turn IS NOT NULL) OVER (PARTITION BY asset, kind) AS of_its_kind FROM due
    ) AS due
    JOIN step.deferral AS deferral
        ON deferral.asset = due.asset
        AND CASE deferral.kind WHEN 'on-stream' THEN 'internal' ELSE deferral.kind END = due.kind
        -- A deferral of an earlier date, already past this one, has nothing to do with it.
        AND deferral.deferred_until > due.due_on
    LEFT JOIN step.life AS life
        ON life.asset = due.asset
        AND life.component = due.component
        AND life.location = due.location
        AND life.scenario = 'in force'
    CROSS JOIN basis.in_force
    WHERE deferral.record NOT IN (SELECT record FROM aimed)
        OR (deferral.record, due.turn) IN (SELECT record, turn FROM aimed)
),

moved AS (
    SELECT *
    FROM judged_deferral
    QUALIFY row_number() OVER (
        PARTITION BY asset, kind, turn ORDER BY refused IS NULL DESC, approved_on DESC NULLS LAST, record DESC
    ) = 1
),

covered AS (
    SELECT
        due.*,
        CASE WHEN moved.refused IS NULL THEN moved.deferred_until END AS deferred_until,
        CASE WHEN moved.refused IS NULL THEN moved.approved_by END AS deferral_approved_by,
        CASE WHEN moved.refused IS NULL THEN moved.approved_on END AS deferral_approved_on,
        CASE WHEN moved.refused IS NULL THEN moved.reason END AS deferral_reason,
        moved.refused AS deferral_refused,
        in_force.as_of,
        horizon.must_reach_on
    FROM due
    -- No date is due of what is retired; its ranking says so.
    ANTI JOIN (SELECT asset FROM step.asset WHERE status = 'retired') AS retired USING (asset)
    LEFT JOIN moved
        ON moved.asset = due.asset
        AND moved.kind = due.kind
        AND coalesce(moved.turn, 0) = coalesce(due.turn, 0)
    CROSS JOIN basis.in_force AS in_force
    CROSS JOIN step.horizon AS horizon
),

-- Of several devices or recommendations the one that must be done first: a deferral of one covers no other.
first_of_kind AS (
    SELECT *
    FROM covered
    QUALIFY row_number() OVER (
        PARTITION BY asset, kind
        ORDER BY coalesce(deferred_until, due_on) NULLS LAST, due_on, turn
    ) = 1
)

SELECT
    asset, kind,
    CASE WHEN turn IS NULL OR due_on IS NOT NULL THEN anchor_on END AS anchor_on,
    CASE WHEN turn IS NULL OR due_on IS NOT NULL THEN anchor END AS anchor,
    CASE WHEN turn IS NULL OR due_on IS NOT NULL THEN cap_years END AS cap_years,
    cap_from,
    CASE WHEN turn IS NULL OR due_on IS NOT NULL THEN interval_years END AS interval_years,
    due_on, set_by, component, location,
    CASE WHEN turn IS NULL OR due_on IS NOT NULL THEN device END AS device,
    on_stream_refused, operating_years_refused, due_missing, deferred_until, deferral_approved_by, deferral_approved_on, deferral_reason,
    deferral_refused,
    CASE
        WHEN due_on < as_of AND deferred_until IS NULL THEN 'overdue'
        WHEN due_on IS NULL OR due_missing IS NOT NULL THEN 'not assessable'
        WHEN (due_on < as_of OR due_on < must_reach_on) AND deferred_until IS NOT NULL THEN 'deferred until'
        WHEN due_on < must_reach_on THEN 'due by turnaround'
        ELSE 'in date'
    END AS state
FROM first_of_kind
