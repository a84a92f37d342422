-- Dated events that start a new history of a component; no corrosion rate crosses them.
-- grain: asset, component, event_on, event
-- reads: fact.field
-- column asset: asset tag
-- column component: component tag, null where the event is the whole asset's
-- column event_on: date of the event
-- column event: replaced, overlaid, re-baselined, change of service or rerated
-- column new_thickness_mm: thickness stated at the event, null if none or contradictory
-- column contradictory: two rows state two thicknesses for it
-- column starts_epoch: readings before it belong to another history
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the event
-- column thickness_cell: cell of the new thickness, null if none is stated
-- column thickness_text: what stands there
-- column thickness_unit: unit it is in
-- column thickness_file: file of that cell
-- column thickness_sheet: sheet of that cell
WITH event AS (
    SELECT
        record, asset, component,
        min(on_date) FILTER (field = 'date') AS event_on,
        min(word) FILTER (field = 'event') AS event,
        min(number) FILTER (field = 'new_thickness') AS new_thickness_mm,
        min(file) AS file,
        min(sheet) AS sheet,
        min(cell) FILTER (field = 'event') AS cell,
        min(cell) FILTER (field = 'new_thickness' AND number IS NOT NULL) AS thickness_cell,
        min(text) FILTER (field = 'new_thickness' AND number IS NOT NULL) AS thickness_text,
        min(unit) FILTER (field = 'new_thickness' AND number IS NOT NULL) AS thickness_unit
    FROM fact.field
    WHERE kind = 'events'
    GROUP BY record, asset, component
)

SELECT
    asset, component, event_on, event,
    CASE WHEN count(DISTINCT new_thickness_mm) < 2 THEN min(new_thickness_mm) END AS new_thickness_mm,
    count(DISTINCT new_thickness_mm) > 1 AS contradictory,
    event IN ('replaced', 'overlaid', 're-baselined', 'change of service') AS starts_epoch,
    arg_min(file, record) AS file,
    arg_min(sheet, record) AS sheet,
    arg_min(cell, record) AS cell,
    arg_min(thickness_cell, record) FILTER (new_thickness_mm IS NOT NULL) AS thickness_cell,
    arg_min(thickness_text, record) FILTER (new_thickness_mm IS NOT NULL) AS thickness_text,
    arg_min(thickness_unit, record) FILTER (new_thickness_mm IS NOT NULL) AS thickness_unit,
    arg_min(file, record) FILTER (new_thickness_mm IS NOT NULL) AS thickness_file,
    arg_min(sheet, record) FILTER (new_thickness_mm IS NOT NULL) AS thickness_sheet
FROM event
WHERE asset IS NOT NULL AND event_on IS NOT NULL AND event IS NOT NULL
GROUP BY asset, component, event_on, event
