-- What the registers say, settled: one value per place and column, or none where two rows contradict each other.
-- grain: kind, asset, component, location, field
-- reads: fact.field, reference.likely_mistake, basis.in_force
-- column kind: assets, components or locations
-- column asset: asset tag
-- column component: component tag, null for a column of the asset
-- column location: location tag, null for a column of the asset or component
-- column field: column of the spreadsheet vocabulary
-- column number: value in the unit kept inside, null for text and dates, and where it is unsettled
-- column word: settled text, null where it is unsettled
-- column on_date: date, null where it is unsettled
-- column text: the cell as it stood
-- column unit: unit as it stood
-- column contradictory: two rows give two values
-- column unsettled: two rows give two values, a cell that gives one cannot be read, or it is implausible
-- column implausible: why the number cannot be meant, null if it can
-- column file: file of the first cell that gives it
-- column sheet: its sheet
-- column cell: its cell
WITH last_entry AS (
    SELECT kind, asset, component, location, field, max(record) AS record
    FROM fact.field
    WHERE file = 'entries' AND kind IN ('assets', 'components', 'locations')
    GROUP BY kind, asset, component, location, field
),

-- What a person entered, with name and reason, stands in place of what the sheets say; the last entry of several.
register AS (
    SELECT stated.*
    FROM fact.field AS stated
    LEFT JOIN last_entry
        ON last_entry.kind = stated.kind
        AND last_entry.asset = stated.asset
        AND coalesce(last_entry.component, '') = coalesce(stated.component, '')
        AND coalesce(last_entry.location, '') = coalesce(stated.location, '')
        AND last_entry.field = stated.field
    WHERE stated.kind IN ('assets', 'components', 'locations')
        AND (last_entry.record IS NULL OR last_entry.record = stated.record)
),

settled AS (
    SELECT
        kind, asset, component, location, field,
        min(number) AS number,
        min(word) AS word,
        min(on_date) AS on_date,
        -- Two units may write one number differently in the last binary digit: that is no contradiction.
        max(number) - min(number) > same_value_tolerance * greatest(abs(max(number)), abs(min(number)))
            OR count(DISTINCT word) > 1
            OR count(DISTINCT on_date) > 1
            OR (count(*) > count(coalesce(number::VARCHAR, word, on_date::VARCHAR))
                AND count(coalesce(number::VARCHAR, word, on_date::VARCHAR)) > 0
                AND field = 'kind') AS contradictory,
        coalesce(bool_or(unreadable), false) AS unreadable,
        arg_min(text, record) AS text,
        arg_min(unit, record) AS unit,
        arg_min(file, record) AS file,
        arg_min(sheet, record) AS sheet,
        arg_min(cell, record) AS cell
    FROM register
    CROSS JOIN basis.in_force
    GROUP BY kind, asset, component, location, field, same_value_tolerance
),

judged AS (
    SELECT settled.*, likely.sentence AS implausible
    FROM settled
    LEFT JOIN reference.likely_mistake AS likely
        ON likely.word = settled.field
        AND (settled.number < likely.least OR settled.number > likely.most)
)

SELECT
    kind, asset, component, location, field,
    -- What cannot be read may say something else: a number, a word or a date beside it is not known either.
    CASE WHEN NOT (coalesce(contradictory, false) OR unreadable) AND implausible IS NULL THEN number END AS number,
    CASE WHEN NOT (coalesce(contradictory, false) OR unreadable) THEN word END AS word,
    CASE WHEN NOT (coalesce(contradictory, false) OR unreadable) THEN on_date END AS on_date,
    text, unit,
    coalesce(contradictory, false) AS contradictory,
    coalesce(contradictory, false) OR unreadable OR implausible IS NOT NULL AS unsettled,
    implausible, file, sheet, cell
FROM judged
