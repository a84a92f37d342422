-- Every place measured, planned or missed: the locations sheet and the surveys, with the component found for each.
-- grain: asset, component, location
-- reads: step.field, step.renamed_place, fact.reading, fact.not_measured
-- column asset: asset tag
-- column component: component tag; "(not stated)" where the survey names none and no locations sheet settles it
-- column location: location tag
-- column listed: the place stands on a locations sheet
-- column distance_to_weld_mm: distance to the nearest weld's toe
-- column region_stated: weld or away, as stated
-- column head_zone: crown or knuckle, as stated
-- column description: description
-- column unsettled: columns in which two rows contradict each other or a cell cannot be read
WITH listed AS (
    SELECT
        asset, component, location,
        min(number) FILTER (field = 'distance_to_weld') AS distance_to_weld_mm,
        min(word) FILTER (field = 'weld_region') AS region_stated,
        min(word) FILTER (field = 'head_zone') AS head_zone,
        min(word) FILTER (field = 'description') AS description,
        string_agg(field, ', ' ORDER BY field) FILTER (unsettled) AS unsettled
    FROM step.field
    WHERE kind = 'locations' AND asset IS NOT NULL AND location IS NOT NULL
    GROUP BY asset, component, location
),

-- A survey without a component column: the locations sheet settles it where it names just one component.
only_component AS (
    SELECT asset, location, min(component) AS component
    FROM listed
    WHERE component IS NOT NULL
    GROUP BY asset, location
    HAVING count(DISTINCT component) = 1
),

surveyed AS (
    SELECT DISTINCT asset, component, coalesce(renamed.location, reading.location) AS location
    FROM fact.reading AS reading
    LEFT JOIN step.renamed_place AS renamed USING (record, file, sheet, cell)
    UNION
    SELECT DISTINCT asset, component, coalesce(renamed.location, missed.location) AS location
    FROM fact.not_measured AS missed
    LEFT JOIN step.renamed_place AS renamed USING (record, file, sheet, cell)
),

named AS (
    SELECT DISTINCT
        surveyed.asset,
        coalesce(surveyed.component, only_component.component, '(not stated)') AS component,
        surveyed.location
    FROM surveyed
    LEFT JOIN only_component
        ON only_component.asset = surveyed.asset
        AND only_component.location = surveyed.location
    UNION
    SELECT asset, coalesce(component, '(not stated)'), location FROM listed
)

SELECT
    named.asset, named.component, named.location,
    listed.asset IS NOT NULL AS listed,
    distance_to_weld_mm, region_stated, head_zone, description, unsettled
FROM named
LEFT JOIN listed
    ON listed.asset = named.asset
    AND coalesce(listed.component, '(not stated)') = named.component
    AND listed.location = named.location
