-- Lowest average of every survey of an area: every averaging length that lies within a line of readings, along the axis
-- and along the circumference; a reading on no line stands for itself.
-- grain: survey_no
-- reads: step.area_reading, basis.in_force
-- none without: step.area_reading
-- column survey_no: number of the survey
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey
-- column survey_reading_count: readings of the survey
-- column survey_thickness_sum_mm: their sum
-- column survey_average_mm: their plain average
-- column squared_deviations_mm2: sum of the squared deviations from it
-- column coefficient_of_variation: their scatter as a share of it
-- column survey_lowest_mm: lowest reading
-- column lowest_text: the lowest reading as it stood
-- column lowest_unit: its unit as it stood
-- column lowest_file: its file
-- column lowest_sheet: its sheet
-- column lowest_cell: its cell
-- column inside_diameter_as_built_mm: inside diameter of the component as built
-- column averaging_length_mm: length over which readings may be averaged
-- column direction: axial, circumferential, or single reading where there is nothing to average
-- column window_from_mm: position of the first reading averaged, as stated
-- column window_to_mm: position of the last reading averaged, as stated
-- column area_reading_count: readings averaged
-- column thickness_sum_mm: their sum
-- column lowest_thickness_mm: lowest of them
-- column t_act_mm: their average: the thickness of the area
-- column window_cell: cell of the lowest of them
-- column window_text: that reading as it stood
-- column window_unit: its unit as it stood
-- column window_file: its file
-- column window_sheet: its sheet
-- column not_averaged_because: why the lowest reading stands instead of an average, null if averages were formed
-- column axial_from_mm: lowest axial position, null where not every reading has one
-- column axial_to_mm: highest axial position
-- column around_from_mm: lowest position along the circumference, from the widest gap
-- column around_to_mm: highest position along the circumference, from the widest gap
-- column profile_readings: readings on the longest line along the axis
WITH turn AS (
    SELECT * FROM (VALUES (-1), (0), (1)) AS turn(turn)
),

direction AS (
    SELECT
        survey_no, reading_no, 'axial' AS direction, 0 AS turn, axial_mm AS along_mm,
        coalesce(around_mm, 0) AS across_mm, axial_mm AS stated_mm, thickness_mm, averaging_length_mm
    FROM step.area_reading
    WHERE along_axis AND averaging_length_mm IS NOT NULL
    UNION ALL
    -- The circumference has no end: the readings stand once before and once after themselves.
    SELECT
        survey_no, reading_no, 'circumferential', turn,
        CASE turn
            WHEN -1 THEN around_mm - circumference_mm
            WHEN 0 THEN around_mm
            ELSE around_mm + circumference_mm
        END,
        coalesce(axial_mm, 0), circumferential_mm, thickness_mm, averaging_length_mm
    FROM step.area_reading
    CROSS JOIN turn
    WHERE along_circumference AND averaging_length_mm IS NOT NULL
),

-- The line of every reading. Where it has none for more than an averaging length it is broken: what lies there is not
-- known.
neighbour AS (
    SELECT
        one.survey_no, one.direction, one.reading_no, one.along_mm AS own_mm, one.across_mm, one.averaging_length_mm,
        two.reading_no AS other_no, two.along_mm, two.turn,
        coalesce(two.along_mm - lag(two.along_mm) OVER line > one.averaging_length_mm + position_guard_mm, false)
            AS is_broken
    FROM direction AS one
    JOIN direction AS two USING (survey_no, direction)
    CROSS JOIN basis.in_force
    WHERE one.turn = 0 AND abs(two.across_mm - one.across_mm) <= line_tolerance_mm
    WINDOW line AS (
        PARTITION BY one.survey_no, one.direction, one.reading_no ORDER BY two.along_mm, two.reading_no
    )
),

piece AS (
    SELECT
        *,
        count(*) FILTER (is_broken) OVER (
            PARTITION BY survey_no, direction, reading_no ORDER BY along_mm, other_no
        ) AS piece_no
    FROM neighbour
),

line AS (
    SELECT
        survey_no, direction, reading_no, own_mm AS along_mm, across_mm, averaging_length_mm,
        count(DISTINCT other_no) AS in_line,
        min(along_mm) AS first_mm,
        max(along_mm) AS last_mm
    FROM piece
    GROUP BY survey_no, direction, reading_no, own_mm, across_mm, averaging_length_mm, piece_no
    HAVING bool_or(other_no = reading_no AND turn = 0)
),

-- A length that sticks out beyond the readings is none. A line shorter than the averaging length is averaged whole.
reach AS (
    SELECT survey_no, direction, across_mm, along_mm AS from_mm, along_mm + averaging_length_mm AS to_mm
    FROM line
    CROSS JOIN basis.in_force
    WHERE in_line > 1
        AND (along_mm + averaging_length_mm <= last_mm + position_guard_mm OR along_mm <= first_mm + position_guard_mm)
    UNION
    SELECT survey_no, direction, across_mm, along_mm - averaging_length_mm, along_mm
    FROM line
    CROSS JOIN basis.in_force
    WHERE in_line > 1 AND along_mm - averaging_length_mm >= first_mm - position_guard_mm
),

along AS (
    SELECT
        reach.survey_no, reach.direction, reach.across_mm, reach.from_mm, reach.to_mm,
        arg_min(stated_mm, along_mm) AS window_from_mm,
        arg_max(stated_mm, along_mm) AS window_to_mm,
        count(*) AS area_reading_count,
        -- In one order, so that two builds agree to the last digit.
        list_sum(list(thickness_mm ORDER BY along_mm, reading_no)) AS thickness_sum_mm,
        min(thickness_mm) AS lowest_thickness_mm,
        arg_min(reading_no, (thickness_mm, reading_no)) AS lowest_no
    FROM reach
    JOIN direction
        ON direction.survey_no = reach.survey_no
        AND direction.direction = reach.direction
    CROSS JOIN basis.in_force
    WHERE abs(direction.across_mm - reach.across_mm) <= line_tolerance_mm
        AND direction.along_mm >= reach.from_mm - position_guard_mm
        AND direction.along_mm <= reach.to_mm + position_guard_mm
    GROUP BY reach.survey_no, reach.direction, reach.across_mm, reach.from_mm, reach.to_mm
),

alone AS (
    SELECT survey_no, reading_no, thickness_mm
    FROM step.area_reading
    WHERE reading_no NOT IN (SELECT reading_no FROM line WHERE in_line > 1)
),

candidate AS (
    SELECT * EXCLUDE (across_mm, from_mm, to_mm) FROM along
    UNION ALL BY NAME
    SELECT
        survey_no, 'single reading' AS direction, NULL::DOUBLE AS window_from_mm, NULL::DOUBLE AS window_to_mm,
        1 AS area_reading_count, thickness_mm AS thickness_sum_mm, thickness_mm AS lowest_thickness_mm,
        reading_no AS lowest_no
    FROM alone
),

averaged AS (
    SELECT
        *,
        formula.average_thickness(thickness_sum_mm, area_reading_count, lowest_thickness_mm) AS t_act_mm
    FROM candidate
),

lowest_average AS (
    SELECT *
    FROM averaged
    QUALIFY row_number() OVER (
        PARTITION BY survey_no ORDER BY t_act_mm, direction, window_from_mm, window_to_mm, lowest_no
    ) = 1
),

survey AS (
    SELECT
        survey_no, asset, component, area, read_on,
        count(*) AS survey_reading_count,
        list_sum(list(thickness_mm ORDER BY reading_no)) AS survey_thickness_sum_mm,
        list(thickness_mm ORDER BY reading_no) AS thicknesses,
        min(thickness_mm) AS survey_lowest_mm,
        arg_min(reading_no, (thickness_mm, reading_no)) AS survey_lowest_no,
        min(inside_diameter_as_built_mm) AS inside_diameter_as_built_mm,
        min(averaging_length_mm) AS averaging_length_mm,
        bool_or(along_axis) AS along_axis,
        bool_or(along_circumference) AS along_circumference,
        CASE WHEN count(axial_mm) = count(*) THEN min(axial_mm) END AS axial_from_mm,
        CASE WHEN count(axial_mm) = count(*) THEN max(axial_mm) END AS axial_to_mm,
        CASE WHEN count(around_mm) = count(*) THEN min(around_mm) END AS around_from_mm,
        CASE WHEN count(around_mm) = count(*) THEN max(around_mm) END AS around_to_mm
    FROM step.area_reading
    GROUP BY survey_no, asset, component, area, read_on
),

scattered AS (
    SELECT
        *,
        formula.average_thickness(survey_thickness_sum_mm, survey_reading_count, survey_lowest_mm) AS survey_average_mm
    FROM survey
),

spread AS (
    SELECT
        *,
        list_sum(list_transform(thicknesses, lambda t: formula.squared_deviation(t, survey_average_mm)))
            AS squared_deviations_mm2
    FROM scattered
)

SELECT
    spread.survey_no, spread.asset, spread.component, spread.area, spread.read_on, survey_reading_count,
    survey_thickness_sum_mm, survey_average_mm, squared_deviations_mm2,
    formula.coefficient_of_variation(squared_deviations_mm2, survey_reading_count, survey_average_mm)
        AS coefficient_of_variation,
    survey_lowest_mm,
    lowest.text AS lowest_text, lowest.unit AS lowest_unit, lowest.file AS lowest_file, lowest.sheet AS lowest_sheet,
    lowest.cell AS lowest_cell,
    spread.inside_diameter_as_built_mm, spread.averaging_length_mm, direction, window_from_mm, window_to_mm,
    area_reading_count, thickness_sum_mm, lowest_thickness_mm, t_act_mm,
    governing.cell AS window_cell, governing.text AS window_text, governing.unit AS window_unit,
    governing.file AS window_file, governing.sheet AS window_sheet,
    CASE
        WHEN NOT spread.along_axis AND NOT spread.along_circumference
            THEN 'the positions of the readings are not given'
        WHEN spread.averaging_length_mm IS NULL THEN 'the inside diameter is not known, and so the averaging length'
        WHEN direction = 'single reading' THEN 'a reading that stands on no line with another one is the lowest'
    END AS not_averaged_because,
    axial_from_mm, axial_to_mm, around_from_mm, around_to_mm,
    coalesce((
        SELECT max(in_line) FROM line WHERE line.survey_no = spread.survey_no AND line.direction = 'axial'
    ), 0) AS profile_readings
FROM spread
JOIN lowest_average USING (survey_no)
JOIN step.area_reading AS lowest ON lowest.reading_no = spread.survey_lowest_no
JOIN step.area_reading AS governing ON governing.reading_no = lowest_average.lowest_no
