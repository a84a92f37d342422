-- Events that cannot be placed in time or told from each other: a row without a date or without a kind that can be read.
-- grain: record
-- reads: fact.field
-- column record: order in which the rows were read
-- column asset: asset tag
-- column component: component tag, null where the event is the whole asset's
-- column event_on: date of the event, null where none can be read
-- column event: kind of event, null where none can be read
-- column lacks: what the row does not say
-- column text: what stands in the row instead
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the kind, else of the date, else the first of the row
WITH stated AS (
    SELECT
        record, asset, component,
        min(on_date) FILTER (field = 'date') AS event_on,
        min(word) FILTER (field = 'event') AS event,
        coalesce(
            min(text) FILTER (field = 'event'), min(text) FILTER (field = 'date'), arg_min(text, cell)
        ) AS text,
        min(file) AS file,
        min(sheet) AS sheet,
        coalesce(min(cell) FILTER (field = 'event'), min(cell) FILTER (field = 'date'), min(cell)) AS cell
    FROM fact.field
    WHERE kind = 'events' AND asset IS NOT NULL
    GROUP BY record, asset, component
)

SELECT
    record, asset, component, event_on, event,
    CASE
        WHEN event_on IS NULL AND event IS NULL THEN 'neither a date nor a kind of event'
        WHEN event_on IS NULL THEN 'no date'
        ELSE 'no kind of event'
    END AS lacks,
    text, file, sheet, cell
FROM stated
WHERE event_on IS NULL OR event IS NULL
