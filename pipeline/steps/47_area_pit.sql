-- Pits as measured, and which survey of their area counts.
-- grain: pit_no
-- reads: fact.field, step.shape, step.event
-- column pit_no: number of the pit
-- column pit_survey_no: number of the survey of the area's pits
-- column asset: asset tag
-- column component: component tag
-- column area: name of the area
-- column read_on: date of the survey, null where it is not given
-- column pit: name of the pit as stated
-- column axial_mm: position along the axis
-- column circumferential_mm: position along the circumference
-- column pit_depth_mm: depth below the wall around it
-- column pit_width_mm: width
-- column circumference_mm: inside circumference of the component
-- column superseded_by: what stands in place of the survey, null where it counts
-- column text: depth as it stood
-- column unit: its unit as it stood
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the depth, else of the width
WITH stated AS (
    SELECT
        record, file, sheet, asset, component,
        coalesce(min(word) FILTER (field = 'corroded_area'), 'not named') AS area,
        min(on_date) FILTER (field = 'date') AS read_on,
        min(word) FILTER (field = 'pit') AS pit,
        min(number) FILTER (field = 'axial_position') AS axial_mm,
        min(number) FILTER (field = 'circumferential_position') AS circumferential_mm,
        min(number) FILTER (field = 'pit_depth') AS pit_depth_mm,
        min(number) FILTER (field = 'pit_width') AS pit_width_mm,
        coalesce(min(text) FILTER (field = 'pit_depth'), min(text) FILTER (field = 'pit_width')) AS text,
        coalesce(min(unit) FILTER (field = 'pit_depth'), min(unit) FILTER (field = 'pit_width')) AS unit,
        coalesce(
            min(cell) FILTER (field = 'pit_depth'), min(cell) FILTER (field = 'pit_width'), min(cell)
        ) AS cell
    FROM fact.field
    WHERE kind = 'pits'
    GROUP BY record, file, sheet, asset, component
),

latest AS (
    SELECT asset, component, area, max(read_on) AS read_on
    FROM stated
    GROUP BY asset, component, area
),

renewed AS (
    SELECT stated.record, stated.file, stated.sheet, max(event.event_on) AS event_on, max(event.event) AS event
    FROM stated
    JOIN step.event AS event
        ON event.asset = stated.asset
        AND (event.component = stated.component OR event.component IS NULL)
        AND event.event IN ('replaced', 'overlaid')
        AND event.event_on > stated.read_on
    GROUP BY stated.record, stated.file, stated.sheet
)

SELECT
    row_number() OVER (
        ORDER BY asset, component, area, stated.read_on, stated.record, stated.file, stated.sheet, stated.cell
    ) AS pit_no,
    dense_rank() OVER (ORDER BY asset, component, area, stated.read_on) AS pit_survey_no,
    asset, component, area, stated.read_on, pit, axial_mm, circumferential_mm, pit_depth_mm, pit_width_mm,
    formula.circumference(shape.inside_diameter_as_built_mm) AS circumference_mm,
    CASE
        WHEN renewed.event IS NOT NULL THEN renewed.event || ' on ' || renewed.event_on
        WHEN stated.read_on < latest.read_on THEN 'survey of ' || latest.read_on
    END AS superseded_by,
    text, unit, stated.file, stated.sheet, stated.cell
FROM stated
LEFT JOIN latest USING (asset, component, area)
LEFT JOIN step.shape AS shape USING (asset, component)
LEFT JOIN renewed
    ON renewed.record = stated.record
    AND renewed.file = stated.file
    AND renewed.sheet = stated.sheet
