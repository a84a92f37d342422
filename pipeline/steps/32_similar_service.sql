-- What places of the same service, material and kind of component have lost: a comparison, and a suggestion for thin data.
-- grain: asset, component
-- reads: step.component, step.asset, step.measured_rate, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column similar_places: places of other components with the same service, material and kind that have a measured rate
-- column similar_vessels: vessels with such places, its own included
-- column similar_rate_median_mm_per_year: median of the long-term rates of all such places, its own included
-- column similar_rate_high_mm_per_year: rate that nine in ten of them do not exceed
-- column similar_rate_suggested_mm_per_year: that rate where there are enough places to suggest it, else null
-- column own_rate_high_mm_per_year: highest measured long-term rate of the component itself
WITH part AS (
    SELECT
        component.asset, component.component,
        lower(trim(service)) || '|' || lower(trim(material)) || '|' || kind AS likeness
    FROM step.component AS component
    JOIN step.asset AS asset
        ON asset.asset = component.asset
    WHERE service IS NOT NULL AND material IS NOT NULL AND kind IS NOT NULL
),

-- Only rates from two readings far enough apart; a negative one counts as none, as everywhere.
measured AS (
    SELECT
        part.likeness, part.asset, part.component,
        CASE WHEN rate_lt_mm_per_year < 0 THEN 0 ELSE rate_lt_mm_per_year END AS rate_mm_per_year
    FROM part
    JOIN step.measured_rate AS rate USING (asset, component)
    CROSS JOIN basis.in_force AS in_force
    WHERE scenario = 'in force'
        AND rate.reading_count >= 2
        AND rate.years_long >= in_force.short_interval_years
        AND rate_lt_mm_per_year IS NOT NULL
),

ordered AS (
    SELECT *, cume_dist() OVER (PARTITION BY likeness ORDER BY rate_mm_per_year) AS share_up_to
    FROM measured
),

common AS (
    SELECT
        likeness,
        count(*) AS places,
        count(DISTINCT asset) AS vessels,
        min(rate_mm_per_year) FILTER (share_up_to >= 0.5) AS median_mm_per_year,
        min(rate_mm_per_year) FILTER (share_up_to >= similar_quantile) AS high_mm_per_year
    FROM ordered
    CROSS JOIN basis.in_force
    GROUP BY likeness
),

own AS (
    SELECT likeness, asset, component, count(*) AS places, max(rate_mm_per_year) AS rate_high_mm_per_year
    FROM measured
    GROUP BY likeness, asset, component
)

SELECT
    part.asset, part.component,
    coalesce(common.places, 0) - coalesce(own.places, 0) AS similar_places,
    coalesce(common.vessels, 0) AS similar_vessels,
    median_mm_per_year AS similar_rate_median_mm_per_year,
    high_mm_per_year AS similar_rate_high_mm_per_year,
    CASE WHEN common.places - coalesce(own.places, 0) >= similar_least_places THEN high_mm_per_year END
        AS similar_rate_suggested_mm_per_year,
    own.rate_high_mm_per_year AS own_rate_high_mm_per_year
FROM part
LEFT JOIN common USING (likeness)
LEFT JOIN own USING (likeness, asset, component)
CROSS JOIN basis.in_force
