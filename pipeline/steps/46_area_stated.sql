-- Readings of corroded areas as stated, and which cannot be taken as they stand: by the ratios to nominal that betray a
-- mistake at a place too, or because they cannot be read.
-- grain: reading_no
-- reads: fact.field, step.component, step.epoch, reference.likely_mistake
-- column reading_no: number of the reading
-- column survey_no: number of the survey of the area
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey, null where it is not given
-- column thickness_mm: thickness read, null where it cannot be read
-- column axial_mm: position along the axis, as stated
-- column circumferential_mm: position along the circumference, as stated
-- column nominal_mm: thickness it is held against: that of the latest event, else the register's
-- column left_out_because: why it cannot be taken as it stands, null if it can
-- column is_mistake: it can be read, and is a likely mistake
-- column is_counted: it counts; where no reading of a survey can be taken they stand as they are, and decide nothing
-- column text: the reading as it stood
-- column unit: its unit as it stood
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the thickness
WITH stated AS (
    SELECT
        record, file, sheet, asset, component,
        coalesce(min(word) FILTER (field = 'corroded_area'), 'not named') AS area,
        min(on_date) FILTER (field = 'date') AS read_on,
        min(number) FILTER (field = 'thickness') AS thickness_mm,
        coalesce(bool_or(unreadable) FILTER (field = 'thickness'), false) AS is_unreadable,
        min(number) FILTER (field = 'axial_position') AS axial_mm,
        min(number) FILTER (field = 'circumferential_position') AS circumferential_mm,
        min(text) FILTER (field = 'thickness') AS text,
        min(unit) FILTER (field = 'thickness') AS unit,
        min(cell) FILTER (field = 'thickness') AS cell
    FROM fact.field
    WHERE kind = 'corroded areas'
    GROUP BY record, file, sheet, asset, component
),

held_against AS (
    SELECT
        stated.*,
        row_number() OVER (ORDER BY asset, component, area, read_on, record, file, sheet, cell) AS reading_no,
        dense_rank() OVER (ORDER BY asset, component, area, read_on) AS survey_no,
        coalesce(new_thickness_mm, CASE WHEN nominal_from = 'register' THEN nominal_thickness_mm END) AS nominal_mm
    FROM stated
    LEFT JOIN step.component AS component USING (asset, component)
    LEFT JOIN step.epoch AS epoch USING (asset, component)
    WHERE thickness_mm IS NOT NULL OR is_unreadable
),

judged AS (
    SELECT
        held_against.*,
        CASE
            WHEN thickness_mm IS NULL THEN 'it cannot be read'
            ELSE likely.sentence
        END AS left_out_because
    FROM held_against
    -- A ratio is one more than the margin over what it is a ratio to.
    LEFT JOIN reference.likely_mistake AS likely
        ON 1 + formula.margin(thickness_mm, nominal_mm) >= likely.ratio_from
        AND 1 + formula.margin(thickness_mm, nominal_mm) < likely.ratio_to
        AND (likely.nominal_up_to_mm IS NULL OR nominal_mm <= likely.nominal_up_to_mm)
)

SELECT
    reading_no, survey_no, asset, component, area, read_on, thickness_mm, axial_mm, circumferential_mm, nominal_mm,
    left_out_because,
    thickness_mm IS NOT NULL AND left_out_because IS NOT NULL AS is_mistake,
    thickness_mm IS NOT NULL AND (
        left_out_because IS NULL OR count(*) FILTER (left_out_because IS NULL) OVER (PARTITION BY survey_no) = 0
    ) AS is_counted,
    text, unit, file, sheet, cell
FROM judged
