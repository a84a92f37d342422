-- Every choice of a rate on record, made by a named person for a place or a component, and why one does not count.
-- grain: record
-- reads: fact.field, step.epoch
-- column record: order in which the rows were read
-- column asset: asset tag
-- column component: component tag
-- column location: location tag, null where the choice is for every place of the component
-- column rate_choice: long-term, short-term, least squares, fit upper bound, stated, similar service or named rate
-- column chosen_rate_mm_per_year: rate given with the choice
-- column chosen_by: who chose
-- column chosen_on: when
-- column reason: why
-- column refused: why the choice does not count, null if it does
-- column file: source file
-- column sheet: source sheet
-- column cell: cell of the choice, or of the rate where it names none, or of what else it states
WITH stated AS (
    SELECT
        record, asset, component, location,
        min(word) FILTER (field = 'rate_choice') AS word,
        min(number) FILTER (field = 'chosen_rate') AS chosen_rate_mm_per_year,
        min(word) FILTER (field = 'chosen_by') AS chosen_by,
        min(on_date) FILTER (field = 'chosen_on') AS chosen_on,
        min(word) FILTER (field = 'reason') AS reason,
        min(file) AS file,
        min(sheet) AS sheet,
        coalesce(
            min(cell) FILTER (field = 'rate_choice'), min(cell) FILTER (field = 'chosen_rate'), min(cell)
        ) AS cell
    FROM fact.field
    WHERE kind = 'rate choices' AND asset IS NOT NULL AND component IS NOT NULL
    GROUP BY record, asset, component, location
)

SELECT
    record, asset, component, location,
    coalesce(word, CASE WHEN chosen_rate_mm_per_year IS NOT NULL THEN 'named rate' END) AS rate_choice,
    chosen_rate_mm_per_year, chosen_by, chosen_on, reason,
    CASE
        WHEN word IS NULL AND chosen_rate_mm_per_year IS NULL THEN 'it names neither a rate nor a way to one'
        WHEN word = 'named rate' AND chosen_rate_mm_per_year IS NULL THEN 'it gives no rate'
        WHEN chosen_by IS NULL THEN 'it names no person'
        WHEN chosen_on IS NULL THEN 'it has no date'
        WHEN reason IS NULL THEN 'it gives no reason'
        WHEN chosen_on < epoch_on
            THEN 'it was made on ' || chosen_on || ', before the event of ' || epoch_on || ' that began a new history'
    END AS refused,
    file, sheet, cell
FROM stated
LEFT JOIN step.epoch AS epoch USING (asset, component)
