-- Required thickness at every place: in the weld region, away from it, and the one that counts there.
-- grain: asset, component, location
-- reads: step.place, step.component, step.shape, step.required_thickness, basis.in_force
-- column asset: asset tag
-- column component: component tag
-- column location: location tag
-- column kind: component kind
-- column zone: general or crown
-- column zone_stated: the head zone is stated
-- column distance_to_weld_mm: distance to the nearest weld's toe
-- column region_stated: weld or away, as stated
-- column weld_region_half_width_mm: half-width of the weld region
-- column weld_region: weld, away or unknown
-- column region_counted: the region whose requirement counts: away only with evidence
-- column t_req_weld_mm: required thickness in the weld region
-- column t_req_away_mm: required thickness away from it
-- column t_req_mm: required thickness that counts
-- column governing_case: what sets it
-- column t_req_retirement_mm: required thickness on the retirement basis
-- column t_req_allowance_mm: required thickness on the allowance basis
-- column t_req_nominal_mm: required thickness on the nominal basis
-- column required_missing: why there is no required thickness, null if there is one
WITH zoned AS (
    SELECT
        place.*,
        component.kind,
        component.in_register,
        shape.missing,
        CASE
            WHEN head_zone = 'crown' AND component.kind IN ('ellipsoidal head', 'torispherical head') THEN 'crown'
            ELSE 'general'
        END AS zone
    FROM step.place AS place
    JOIN step.component AS component USING (asset, component)
    JOIN step.shape AS shape USING (asset, component)
),

in_force AS (
    SELECT
        zoned.*,
        weld.t_req_mm AS t_req_weld_mm,
        away.t_req_mm AS t_req_away_mm,
        weld.governing_case AS case_weld,
        away.governing_case AS case_away,
        weld.not_required_because AS weld_missing,
        away.not_required_because AS away_missing,
        formula.weld_region(weld_region_mm, weld.t_req_mm) AS weld_region_half_width_mm
    FROM zoned
    CROSS JOIN basis.in_force AS policy
    LEFT JOIN step.required_thickness AS weld
        ON weld.asset = zoned.asset
        AND weld.component = zoned.component
        AND weld.zone = zoned.zone
        AND weld.region = 'weld'
        AND weld.radius_basis = policy.radius_basis
    LEFT JOIN step.required_thickness AS away
        ON away.asset = zoned.asset
        AND away.component = zoned.component
        AND away.zone = zoned.zone
        AND away.region = 'away'
        AND away.radius_basis = policy.radius_basis
),

regioned AS (
    SELECT
        *,
        -- A measured distance decides; where a word contradicts it, the weld region is the safe side.
        CASE
            WHEN region_stated = 'weld' THEN 'weld'
            WHEN contains(unsettled, 'distance_to_weld') OR contains(unsettled, 'weld_region') THEN 'unknown'
            WHEN distance_to_weld_mm IS NOT NULL AND weld_region_half_width_mm IS NULL THEN 'unknown'
            WHEN distance_to_weld_mm > weld_region_half_width_mm THEN 'away'
            WHEN distance_to_weld_mm IS NOT NULL THEN 'weld'
            WHEN region_stated = 'away' THEN 'away'
            ELSE 'unknown'
        END AS weld_region
    FROM in_force
),

based AS (
    SELECT
        required.asset, required.component, required.zone, required.region,
        min(t_req_mm) FILTER (radius_basis = 'retirement') AS t_req_retirement_mm,
        min(t_req_mm) FILTER (radius_basis = 'allowance') AS t_req_allowance_mm,
        min(t_req_mm) FILTER (radius_basis = 'nominal') AS t_req_nominal_mm
    FROM step.required_thickness AS required
    GROUP BY required.asset, required.component, required.zone, required.region
)

SELECT
    regioned.asset, regioned.component, regioned.location, kind, regioned.zone,
    head_zone IS NOT NULL AS zone_stated,
    distance_to_weld_mm, region_stated, weld_region_half_width_mm, weld_region,
    CASE weld_region WHEN 'away' THEN 'away' ELSE 'weld' END AS region_counted,
    t_req_weld_mm, t_req_away_mm,
    CASE weld_region WHEN 'away' THEN t_req_away_mm ELSE t_req_weld_mm END AS t_req_mm,
    CASE weld_region WHEN 'away' THEN case_away ELSE case_weld END AS governing_case,
    t_req_retirement_mm, t_req_allowance_mm, t_req_nominal_mm,
    CASE
        WHEN CASE weld_region WHEN 'away' THEN t_req_away_mm ELSE t_req_weld_mm END IS NOT NULL THEN NULL
        WHEN len(missing) > 0 THEN array_to_string(missing, ', ')
        ELSE coalesce(
            CASE weld_region WHEN 'away' THEN away_missing ELSE weld_missing END, 'component kind'
        )
    END AS required_missing
FROM regioned
LEFT JOIN based
    ON based.asset = regioned.asset
    AND based.component = regioned.component
    AND based.zone = regioned.zone
    AND based.region = CASE weld_region WHEN 'away' THEN 'away' ELSE 'weld' END
