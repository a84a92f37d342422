-- Checked readings: which are used, which are held and why; none is changed, none is dropped.
-- grain: record, file, sheet, cell
-- reads: step.measurement, step.place, step.suspicion, step.component, step.epoch, fact.decision, reference.likely_mistake, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column read_on: date of the reading
-- column date_precision: day, month or year
-- column thickness_mm: thickness
-- column status: used, held, superseded, rejected or before epoch
-- column held_for: why it is held: likely mistake, same-day conflict or growth
-- column flags: what a person should look at, separated by "; "
-- column likely_unit: unit in which the number would be plausible, null if none
-- column epoch_on: start of the history it belongs to, null for the first one
-- column decided_by: person who accepted or rejected it
-- column decision_reason: reason given
-- column text: the cell as it stood
-- column unit: unit as it stood
-- column method: method
-- column inspector: inspector
-- column remark: remark
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
-- column record: order in which the rows were read
WITH RECURSIVE decision AS (
    SELECT
        asset, component, location, read_on, thickness_mm,
        arg_max(verdict, seq) AS verdict,
        arg_max(who, seq) AS who,
        arg_max(reason, seq) AS reason
    FROM fact.decision
    GROUP BY asset, component, location, read_on, thickness_mm
),

-- What the windows below need of a reading, with its row and that of its place: its words, most of its bytes, come back
-- at the end.
known AS MATERIALIZED (
    SELECT
        measurement.rowid AS row_no,
        place.rowid AS place_no,
        measurement.read_on, measurement.thickness_mm,
        epoch_on,
        coalesce(measurement.read_on < epoch_on, false) AS before_epoch,
        coalesce(measurement.read_on < epoch_on AND keeps_wall AND measurement.read_on >= coalesce(wall_on, DATE '0001-01-01'),
            false) AS of_same_wall,
        decision.verdict,
        decision.who,
        decision.reason,
        -- A new history has the thickness stated at its event, else still the nominal one: a number ten times either
        -- is a mistake on a new wall too.
        coalesce(new_thickness_mm, CASE WHEN nominal_from = 'register' THEN nominal_thickness_mm END) AS nominal_mm,
        formula.noise_limit(reading_scatter_mm) AS noise_limit_mm
    FROM step.measurement AS measurement
    JOIN step.place AS place USING (asset, component, location)
    LEFT JOIN step.component AS component USING (asset, component)
    LEFT JOIN step.epoch AS epoch USING (asset, component)
    LEFT JOIN decision
        ON decision.asset = measurement.asset
        AND decision.component = measurement.component
        AND decision.location = measurement.location
        AND decision.read_on = measurement.read_on
        AND abs(decision.thickness_mm - measurement.thickness_mm) < 1e-9
    CROSS JOIN basis.in_force
),

-- A ratio to nominal that no corrosion explains. A number several times too large is certainly a mistake; one many
-- times too small might be a true loss, so only a narrow band about the exact unit ratio counts as one.
far_from_nominal AS (
    SELECT row_no, nominal_mm, thickness_mm / nominal_mm AS ratio
    FROM known
    CROSS JOIN (
        SELECT
            max(ratio_to) FILTER (ratio_to < 1) AS small_below,
            min(ratio_from) FILTER (ratio_from > 1) AS large_from
        FROM reference.likely_mistake
    )
    WHERE thickness_mm / nominal_mm < small_below OR thickness_mm / nominal_mm >= large_from
),

mistaken AS (
    SELECT far.row_no, likely.unit, likely.sentence
    FROM far_from_nominal AS far
    JOIN reference.likely_mistake AS likely
        ON far.ratio >= likely.ratio_from
        AND far.ratio < likely.ratio_to
        AND (likely.nominal_up_to_mm IS NULL OR far.nominal_mm <= likely.nominal_up_to_mm)
),

-- A change of service or a new baseline begins a new history and leaves the wall as it was: until it is read again, the
-- last reading before is the thickness it has. Of those, one that grew on any before it is not believed.
carried AS (
    SELECT arg_max(row_no, (read_on, -thickness_mm)) AS row_no
    FROM (
        SELECT
            row_no, place_no, read_on, thickness_mm, noise_limit_mm,
            min(thickness_mm) OVER (
                PARTITION BY place_no ORDER BY read_on, thickness_mm DESC ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ) AS least_before_mm
        FROM known
        WHERE of_same_wall
            AND verdict IS DISTINCT FROM 'reject'
            AND (row_no NOT IN (SELECT row_no FROM mistaken) OR verdict = 'accept')
            AND place_no NOT IN (SELECT place_no FROM known WHERE NOT before_epoch AND verdict IS DISTINCT FROM 'reject')
    )
    WHERE least_before_mm IS NULL OR thickness_mm <= least_before_mm + noise_limit_mm
    GROUP BY place_no
),

suspected AS (
    SELECT measurement.rowid AS row_no, suspicion.sentence
    FROM step.measurement AS measurement
    JOIN step.suspicion AS suspicion USING (record, file, sheet, cell)
),

staged AS (
    SELECT
        known.*,
        mistaken.unit AS likely_unit,
        coalesce(mistaken.sentence, suspected.sentence) AS likely_sentence,
        coalesce(verdict = 'accept', false) AS accepted,
        CASE
            WHEN verdict = 'reject' THEN 'rejected'
            WHEN before_epoch THEN 'before epoch'
            WHEN coalesce(mistaken.sentence, suspected.sentence) IS NOT NULL AND coalesce(verdict, '') <> 'accept'
                THEN 'likely mistake'
            ELSE 'open'
        END AS stage,
        coalesce(read_on = lag(read_on) OVER place, false) OR coalesce(read_on = lead(read_on) OVER place, false)
            AS shares_its_day
    FROM known
    LEFT JOIN mistaken USING (row_no)
    LEFT JOIN suspected USING (row_no)
    WINDOW place AS (PARTITION BY place_no ORDER BY read_on)
),

-- Several readings of one place on one day: few, so that only they are put in order.
crowded AS (
    SELECT
        staged.row_no, place_no, staged.read_on, staged.thickness_mm, stage,
        row_number() OVER (
            PARTITION BY place_no, staged.read_on,
                (verdict = 'reject') IS TRUE,
                before_epoch,
                likely_sentence IS NOT NULL AND NOT accepted
            -- What a person accepted is the reading of that day.
            ORDER BY NOT accepted, staged.thickness_mm, measurement.record, measurement.file, measurement.sheet,
                measurement.cell
        ) AS place_in_day,
        bool_or(accepted) OVER alike AS settled_day,
        min(staged.thickness_mm) OVER alike AS lowest_of_day_mm
    FROM staged
    JOIN step.measurement AS measurement ON measurement.rowid = staged.row_no
    WHERE shares_its_day
    WINDOW alike AS (
        PARTITION BY place_no, staged.read_on,
            (verdict = 'reject') IS TRUE,
            before_epoch,
            likely_sentence IS NOT NULL AND NOT accepted
    )
),

counted AS (
    SELECT
        row_no, place_in_day, settled_day, lowest_of_day_mm,
        count(*) FILTER (stage = 'open' AND thickness_mm > lowest_of_day_mm) OVER (
            PARTITION BY place_no, read_on
        ) AS higher_same_day
    FROM crowded
),

ordered AS (
    SELECT
        staged.*,
        coalesce(place_in_day, 1) AS place_in_day,
        coalesce(settled_day, accepted) AS settled_day,
        coalesce(lowest_of_day_mm, thickness_mm) AS lowest_of_day_mm,
        coalesce(higher_same_day, 0) AS higher_same_day
    FROM staged
    LEFT JOIN counted USING (row_no)
),

-- One reading a day for each place, in order of date.
daily AS (
    SELECT
        row_no, place_no, thickness_mm, accepted, noise_limit_mm,
        row_number() OVER place AS step_no,
        lag(thickness_mm) OVER place AS previous_mm,
        lag(read_on) OVER place AS previous_on,
        first(thickness_mm) OVER place AS first_mm,
        first(read_on) OVER place AS first_on
    FROM ordered
    WHERE stage = 'open' AND place_in_day = 1
    WINDOW place AS (PARTITION BY place_no ORDER BY read_on)
),

-- Growth is judged against the last reading that is used, so a place that grew is walked reading by reading.
grown AS MATERIALIZED (
    SELECT row_no, place_no, thickness_mm, accepted, noise_limit_mm, step_no
    FROM daily
    SEMI JOIN (
        SELECT DISTINCT place_no
        FROM daily
        WHERE thickness_mm > previous_mm + noise_limit_mm
    ) USING (place_no)
),

walk AS (
    SELECT row_no, place_no, step_no, thickness_mm AS last_used_mm, false AS is_growth
    FROM grown
    WHERE step_no = 1
    UNION ALL
    SELECT
        grown.row_no, grown.place_no, grown.step_no,
        CASE
            WHEN grown.thickness_mm > walk.last_used_mm + grown.noise_limit_mm AND NOT grown.accepted
                THEN walk.last_used_mm
            ELSE grown.thickness_mm
        END,
        grown.thickness_mm > walk.last_used_mm + grown.noise_limit_mm AND NOT grown.accepted
    FROM walk
    JOIN grown
        ON grown.place_no = walk.place_no
        AND grown.step_no = walk.step_no + 1
),

judged AS (
    SELECT
        ordered.* EXCLUDE (place_no, read_on, thickness_mm),
        coalesce(walk.is_growth, false) AS is_growth,
        carried.row_no IS NOT NULL AS is_carried,
        CASE
            WHEN carried.row_no IS NOT NULL THEN 'used'
            WHEN stage IN ('rejected', 'before epoch') THEN stage
            WHEN stage = 'likely mistake' THEN 'held'
            WHEN place_in_day > 1 AND (settled_day OR ordered.thickness_mm = lowest_of_day_mm) THEN 'superseded'
            WHEN place_in_day > 1 THEN 'held'
            WHEN walk.is_growth THEN 'held'
            ELSE 'used'
        END AS status,
        daily.previous_mm, daily.previous_on, daily.first_mm, daily.first_on
    FROM ordered
    LEFT JOIN walk USING (row_no)
    LEFT JOIN daily USING (row_no)
    LEFT JOIN carried USING (row_no)
)

SELECT
    asset, component, location, read_on, date_precision, thickness_mm, status,
    CASE
        WHEN status <> 'held' THEN NULL
        WHEN stage = 'likely mistake' THEN 'likely mistake'
        WHEN place_in_day > 1 THEN 'same-day conflict'
        ELSE 'growth'
    END AS held_for,
    concat_ws('; ',
        CASE WHEN stage = 'likely mistake' THEN likely_sentence END,
        CASE WHEN status = 'held' AND stage = 'open' AND place_in_day > 1 THEN 'higher of two readings of one day' END,
        CASE WHEN status = 'used' AND higher_same_day > 0 THEN 'lower of two readings of one day' END,
        CASE WHEN is_carried
            THEN 'from before ' || epoch_on || ': the wall is still the same, and no rate crosses that day' END,
        CASE WHEN is_growth THEN 'thicker than the reading before by more than scatter explains' END,
        CASE WHEN status = 'used' AND thickness_mm > nominal_mm + noise_limit_mm THEN 'thicker than nominal' END,
        CASE WHEN status = 'used' AND previous_mm - thickness_mm > noise_limit_mm AND previous_on > first_on
            -- Several times the loss that the rate before it would have brought.
            AND formula.short_term_rate(previous_mm, thickness_mm,
                    formula.years_between(date_diff('day', previous_on, read_on), days_per_year))
                > low_reading_factor * greatest(0, formula.long_term_rate(first_mm, previous_mm,
                    formula.years_between(date_diff('day', first_on, previous_on), days_per_year)))
            THEN 'lower than its history: re-measure' END,
        CASE WHEN location_as_written <> location THEN 'written as location ' || location_as_written END,
        CASE WHEN date_precision <> 'day' THEN 'date known to the ' || date_precision || ' only' END,
        CASE WHEN verdict = 'accept' THEN 'accepted by ' || who END,
        CASE WHEN verdict = 'reject' THEN 'rejected by ' || who END
    ) AS flags,
    CASE WHEN stage = 'likely mistake' THEN likely_unit END AS likely_unit,
    epoch_on,
    who AS decided_by,
    reason AS decision_reason,
    text, unit, method, inspector, remark, file, sheet, cell, record
FROM step.measurement AS measurement
JOIN judged ON judged.row_no = measurement.rowid
CROSS JOIN basis.in_force
