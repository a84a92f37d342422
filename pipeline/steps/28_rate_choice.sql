-- Rates chosen by a named person in place of the policy's, for a place or for every place of a component.
-- grain: asset, component, location
-- reads: fact.field
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
-- column cell: cell of the choice, or of the rate where it names none
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
        coalesce(min(cell) FILTER (field = 'rate_choice'), min(cell) FILTER (field = 'chosen_rate')) AS cell
    FROM fact.field
    WHERE kind = 'rate choices' AND asset IS NOT NULL AND component IS NOT NULL
    GROUP BY record, asset, component, location
),

judged AS (
    SELECT
        * EXCLUDE (word),
        coalesce(word, CASE WHEN chosen_rate_mm_per_year IS NOT NULL THEN 'named rate' END) AS rate_choice,
        CASE
            WHEN word IS NULL AND chosen_rate_mm_per_year IS NULL THEN 'it names neither a rate nor a way to one'
            WHEN word = 'named rate' AND chosen_rate_mm_per_year IS NULL THEN 'it gives no rate'
            WHEN chosen_by IS NULL THEN 'it names no person'
            WHEN chosen_on IS NULL THEN 'it has no date'
            WHEN reason IS NULL THEN 'it gives no reason'
        END AS refused
    FROM stated
)

SELECT
    asset, component, location, rate_choice, chosen_rate_mm_per_year, chosen_by, chosen_on, reason, refused, file,
    sheet, cell
FROM judged
-- The last one that counts; of two made on one day the higher rate, so that the order of rows decides nothing.
QUALIFY row_number() OVER (
    PARTITION BY asset, component, location
    ORDER BY refused IS NULL DESC, chosen_on DESC NULLS LAST, chosen_rate_mm_per_year DESC NULLS LAST, rate_choice,
        chosen_by, reason, file, sheet, cell
) = 1
