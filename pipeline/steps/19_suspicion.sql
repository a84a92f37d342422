-- Readings that look like a slip of the survey: two places swapped, or one value repeated down a column.
-- grain: record, file, sheet, cell
-- reads: step.measurement, step.place, step.epoch, basis.in_force
-- column record: order in which the rows were read
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
-- column sentence: what it looks like
WITH written AS (
    SELECT file, sheet, row_number() OVER (ORDER BY file, sheet) AS sheet_no
    FROM (SELECT DISTINCT file, sheet FROM step.measurement)
),

-- Rows stand for readings, places and sheets: their names, most of the bytes, come back at the end.
timed AS MATERIALIZED (
    SELECT
        measurement.rowid AS row_no,
        place.rowid AS place_no,
        sheet_no,
        measurement.asset, measurement.component, measurement.read_on, measurement.thickness_mm, measurement.record,
        measurement.cell,
        lag(thickness_mm) OVER place AS previous_mm,
        lag(read_on) OVER place AS previous_on,
        first(thickness_mm) OVER place AS first_mm,
        first(read_on) OVER place AS first_on,
        row_number() OVER place AS reading_no
    FROM step.measurement AS measurement
    JOIN step.place AS place USING (asset, component, location)
    JOIN written USING (file, sheet)
    LEFT JOIN step.epoch AS epoch USING (asset, component)
    WHERE read_on >= coalesce(epoch_on, DATE '0001-01-01')
    WINDOW place AS (PARTITION BY place.rowid ORDER BY read_on, record, sheet_no, cell)
),

-- What a place should have shown, from its own history before this survey.
expected AS (
    SELECT
        timed.*,
        swap_contrast,
        formula.noise_limit(reading_scatter_mm) AS noise_limit_mm,
        -- A rate of two readings would carry their scatter forward: until there are three, the last one stands.
        CASE
            WHEN reading_no > 3
                THEN formula.thickness_after(
                    previous_mm,
                    greatest(0, formula.long_term_rate(first_mm, previous_mm,
                        formula.years_between(date_diff('day', first_on, previous_on), days_per_year))),
                    formula.years_between(date_diff('day', previous_on, read_on), days_per_year)
                )
            ELSE previous_mm
        END AS expected_mm
    FROM timed
    CROSS JOIN basis.in_force
    WHERE previous_mm IS NOT NULL AND previous_on < read_on
),

odd AS MATERIALIZED (
    SELECT * FROM expected WHERE abs(thickness_mm - expected_mm) > noise_limit_mm
),

swapped AS (
    SELECT
        one.row_no,
        'looks swapped with location ' || min(other_place.location) || ' in this survey' AS sentence
    FROM odd AS one
    JOIN odd AS other
        ON other.asset = one.asset
        AND other.component = one.component
        AND other.read_on = one.read_on
        AND other.place_no <> one.place_no
        -- Two places that should differ clearly, one thicker and one thinner than it should be, each like the other:
        -- anything less is scatter.
        AND abs(one.expected_mm - other.expected_mm) > one.swap_contrast * one.noise_limit_mm
        AND (one.thickness_mm > one.expected_mm) <> (other.thickness_mm > other.expected_mm)
        AND abs(one.thickness_mm - other.expected_mm) <= one.noise_limit_mm
        AND abs(other.thickness_mm - one.expected_mm) <= one.noise_limit_mm
    JOIN step.place AS other_place ON other_place.rowid = other.place_no
    GROUP BY one.row_no
),

-- Runs of one value in the order in which a survey was written down.
marked AS (
    SELECT
        row_no, asset, read_on, sheet_no, record, cell, previous_mm,
        thickness_mm IS DISTINCT FROM lag(thickness_mm) OVER (
            PARTITION BY asset, read_on, sheet_no ORDER BY record, cell
        ) AS is_new_run
    FROM timed
),

numbered AS MATERIALIZED (
    SELECT
        row_no, asset, read_on, sheet_no, previous_mm,
        count(*) FILTER (is_new_run) OVER (PARTITION BY asset, read_on, sheet_no ORDER BY record, cell) AS run_no
    FROM marked
),

repeated AS (
    SELECT
        asset, read_on, sheet_no, run_no,
        count(*) AS places
    FROM numbered
    CROSS JOIN basis.in_force
    GROUP BY asset, read_on, sheet_no, run_no
    -- Places that were alike before may well be alike now; places that differed and now agree to the last digit are not.
    HAVING count(*) >= min(repeated_readings)
        AND count(previous_mm) >= min(repeated_readings)
        AND max(previous_mm) - min(previous_mm) > min(formula.noise_limit(reading_scatter_mm))
),

in_runs AS (
    SELECT
        row_no, 'one value repeated at ' || places || ' places in a row, whose readings before differ' AS sentence
    FROM numbered
    JOIN repeated USING (asset, read_on, sheet_no, run_no)
)

SELECT measurement.record, measurement.file, measurement.sheet, measurement.cell, found.sentence
FROM (
    SELECT row_no, sentence FROM in_runs
    UNION ALL
    SELECT row_no, sentence FROM swapped ANTI JOIN in_runs USING (row_no)
) AS found
JOIN step.measurement AS measurement ON measurement.rowid = found.row_no
