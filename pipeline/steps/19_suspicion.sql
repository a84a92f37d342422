-- Readings that look like a slip of the survey: two places swapped, or one value repeated down a column.
-- grain: record, file, sheet, cell
-- reads: step.measurement, step.epoch, basis.in_force
-- column record: order in which the rows were read
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
-- column sentence: what it looks like
WITH timed AS (
    SELECT
        measurement.*,
        lag(thickness_mm) OVER place AS previous_mm,
        lag(read_on) OVER place AS previous_on,
        first(thickness_mm) OVER place AS first_mm,
        first(read_on) OVER place AS first_on,
        row_number() OVER place AS reading_no,
        formula.noise_limit(reading_scatter_mm) AS noise_limit_mm,
        days_per_year,
        repeated_readings,
        swap_contrast
    FROM step.measurement AS measurement
    LEFT JOIN step.epoch AS epoch USING (asset, component)
    CROSS JOIN basis.in_force
    WHERE read_on >= coalesce(epoch_on, DATE '0001-01-01')
    WINDOW place AS (PARTITION BY asset, component, location ORDER BY read_on, record, file, sheet, cell)
),

-- What a place should have shown, from its own history before this survey.
expected AS (
    SELECT
        *,
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
    WHERE previous_mm IS NOT NULL AND previous_on < read_on
),

odd AS (
    SELECT * FROM expected WHERE abs(thickness_mm - expected_mm) > noise_limit_mm
),

swapped AS (
    SELECT one.record, one.file, one.sheet, one.cell,
        'looks swapped with location ' || min(other.location) || ' in this survey' AS sentence
    FROM odd AS one
    JOIN odd AS other
        ON other.asset = one.asset
        AND other.component = one.component
        AND other.read_on = one.read_on
        AND other.location <> one.location
        -- Two places that should differ clearly, one thicker and one thinner than it should be, each like the other:
        -- anything less is scatter.
        AND abs(one.expected_mm - other.expected_mm) > one.swap_contrast * one.noise_limit_mm
        AND (one.thickness_mm > one.expected_mm) <> (other.thickness_mm > other.expected_mm)
        AND abs(one.thickness_mm - other.expected_mm) <= one.noise_limit_mm
        AND abs(other.thickness_mm - one.expected_mm) <= one.noise_limit_mm
    GROUP BY one.record, one.file, one.sheet, one.cell
),

-- Runs of one value in the order in which a survey was written down.
marked AS (
    SELECT
        *,
        thickness_mm IS DISTINCT FROM lag(thickness_mm) OVER survey AS is_new_run
    FROM timed
    WINDOW survey AS (PARTITION BY asset, read_on, file, sheet ORDER BY record, cell)
),

numbered AS (
    SELECT
        *,
        count(*) FILTER (is_new_run) OVER (
            PARTITION BY asset, read_on, file, sheet ORDER BY record, cell
        ) AS run_no
    FROM marked
),

repeated AS (
    SELECT
        asset, read_on, file, sheet, run_no,
        count(*) AS places
    FROM numbered
    GROUP BY asset, read_on, file, sheet, run_no
    -- Places that were alike before may well be alike now; places that differed and now agree to the last digit are not.
    HAVING count(*) >= min(repeated_readings)
        AND count(previous_mm) >= min(repeated_readings)
        AND max(previous_mm) - min(previous_mm) > min(noise_limit_mm)
)

SELECT
    numbered.record, numbered.file, numbered.sheet, numbered.cell,
    'one value repeated at ' || places || ' places in a row, whose readings before differ' AS sentence
FROM numbered
JOIN repeated USING (asset, read_on, file, sheet, run_no)
UNION ALL
SELECT record, file, sheet, cell, sentence
FROM swapped
WHERE NOT EXISTS (
    SELECT 1
    FROM numbered
    JOIN repeated USING (asset, read_on, file, sheet, run_no)
    WHERE numbered.record = swapped.record AND numbered.file = swapped.file
        AND numbered.sheet = swapped.sheet AND numbered.cell = swapped.cell
)
