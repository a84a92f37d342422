-- Set intervals that do not say which inspections they are of, or that are of none the asset has.
WITH known AS (
    SELECT
        stated.*,
        EXISTS (SELECT 1 FROM step.cap WHERE cap.asset = stated.asset AND cap.kind = stated.kind) AS has_cap,
        EXISTS (SELECT 1 FROM step.relief_device AS device WHERE device.asset = stated.asset) AS has_device
    FROM step.set_interval AS stated
)

SELECT
    file, sheet, cell,
    interval_years || ' years' AS text,
    CASE
        WHEN kind IS NULL THEN 'the set interval of ' || asset
            || ' does not say of which inspections: give internal, external, thickness or relief device'
        WHEN kind = 'relief device' THEN 'an interval is set for the relief devices of ' || asset
            || ', but none is on record: list them'
        ELSE 'no interval is set for ' || kind || ': name internal, external, thickness or relief device'
    END AS reason,
    CASE
        WHEN kind IS NULL THEN 'it counts for every kind of ' || asset || ' whose interval is longer, and makes none longer'
        ELSE 'it is not used'
    END AS effect,
    'set aside' AS severity
FROM known
WHERE interval_years > 0
    AND (kind IS NULL OR (kind = 'relief device' AND NOT has_device) OR (kind <> 'on-stream' AND NOT has_cap))
