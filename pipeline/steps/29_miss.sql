-- Visits to a place that gave no reading, with the reason, and the component found for it.
-- grain: record, file, sheet, cell
-- reads: fact.not_measured, step.place, step.renamed_place
-- column record: order in which the rows were read
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column visited_on: date of the visit
-- column reason: why there is no reading
-- column text: the cell as it stood
-- column remark: remark
-- column file: source file
-- column sheet: source sheet
-- column cell: source cell
WITH only_component AS (
    SELECT asset, location, min(component) AS component
    FROM step.place
    WHERE component <> '(not stated)' AND listed
    GROUP BY asset, location
    HAVING count(*) = 1
),

located AS (
    SELECT
        missed.* EXCLUDE (location),
        coalesce(renamed.location, missed.location) AS location
    FROM fact.not_measured AS missed
    LEFT JOIN step.renamed_place AS renamed USING (record, file, sheet, cell)
)

SELECT
    located.record, located.asset,
    coalesce(located.component, only_component.component, '(not stated)') AS component,
    located.location,
    read_on AS visited_on,
    reason, text, remark, file, sheet, cell
FROM located
LEFT JOIN only_component
    ON only_component.asset = located.asset
    AND only_component.location = located.location
