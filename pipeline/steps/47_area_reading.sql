-- Readings of corroded areas that count, each with its place on the wall unrolled at the widest gap between readings.
-- grain: reading_no
-- reads: step.area_stated, step.shape, basis.in_force
-- column reading_no: number of the reading
-- column survey_no: number of the survey of the area
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey, null where it is not given
-- column thickness_mm: thickness read
-- column axial_mm: position along the axis, as stated
-- column circumferential_mm: position along the circumference, as stated
-- column around_mm: the same counted from the widest gap, null where the survey does not give it for every reading
-- column along_axis: every reading of the survey has a place in the axial direction, on lines that are known
-- column along_circumference: every reading of the survey has a place along the circumference, on lines that are known
-- column inside_diameter_as_built_mm: inside diameter of the component as built
-- column averaging_length_mm: length over which readings may be averaged
-- column circumference_mm: inside circumference
-- column text: the reading as it stood
-- column unit: its unit as it stood
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the thickness
WITH numbered AS (
    SELECT
        stated.*,
        shape.inside_diameter_as_built_mm,
        formula.averaging_length(
            shape.inside_diameter_as_built_mm, averaging_short_mm, averaging_diameter_mm, averaging_long_mm
        ) AS averaging_length_mm,
        formula.circumference(shape.inside_diameter_as_built_mm) AS circumference_mm
    FROM step.area_stated AS stated
    LEFT JOIN step.shape AS shape USING (asset, component)
    CROSS JOIN basis.in_force
    WHERE is_counted
),

-- A direction that no reading states is one line; one that only some of them state cannot be used.
known AS (
    SELECT
        survey_no,
        count(axial_mm) = count(*) AS axial_known,
        count(axial_mm) = 0 AS axial_absent,
        count(circumferential_mm) = count(*) AS around_known,
        count(circumferential_mm) = 0 AS around_absent
    FROM numbered
    GROUP BY survey_no
),

turned AS (
    SELECT
        reading_no, survey_no, circumference_mm,
        formula.unrolled(circumferential_mm, 0, circumference_mm) AS turned_mm
    FROM numbered
    JOIN known USING (survey_no)
    WHERE around_known AND circumference_mm IS NOT NULL
),

gap AS (
    SELECT
        *,
        coalesce(
            lead(turned_mm) OVER (PARTITION BY survey_no ORDER BY turned_mm, reading_no),
            first(turned_mm) OVER (PARTITION BY survey_no ORDER BY turned_mm, reading_no)
        ) AS next_mm
    FROM turned
),

seam AS (
    SELECT
        survey_no,
        arg_max(next_mm, (formula.unrolled(next_mm, turned_mm, circumference_mm), -next_mm)) AS seam_mm
    FROM gap
    GROUP BY survey_no
)

SELECT
    numbered.reading_no, numbered.survey_no, asset, component, area, read_on, thickness_mm, axial_mm,
    circumferential_mm,
    CASE
        WHEN NOT around_known THEN NULL
        WHEN numbered.circumference_mm IS NULL THEN circumferential_mm
        ELSE formula.unrolled(turned.turned_mm, seam_mm, numbered.circumference_mm)
    END AS around_mm,
    axial_known AND (around_known OR around_absent) AS along_axis,
    around_known AND (axial_known OR axial_absent) AS along_circumference,
    inside_diameter_as_built_mm, averaging_length_mm, numbered.circumference_mm, text, unit, file, sheet, cell
FROM numbered
JOIN known ON known.survey_no = numbered.survey_no
LEFT JOIN turned ON turned.reading_no = numbered.reading_no
LEFT JOIN seam ON seam.survey_no = numbered.survey_no
