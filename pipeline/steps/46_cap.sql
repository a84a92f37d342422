-- The longest interval of each kind for each asset: the plant's cap, or a set interval in its place.
-- grain: asset, kind
-- reads: step.asset, step.set_interval, basis.in_force
-- column asset: asset tag
-- column kind: internal, external or thickness
-- column cap_years: longest interval
-- column cap_from: code cap, or the assessment that set it
-- column ignored_interval_years: a longer set interval that does not count, for want of what
-- column ignored_because: assessment, approver or date is missing
-- column file: source file of the set interval
-- column sheet: source sheet of the set interval
-- column cell: source cell of the set interval
WITH code_cap AS (
    SELECT asset, kind, cap_years
    FROM step.asset
    CROSS JOIN basis.in_force
    CROSS JOIN LATERAL (
        VALUES ('internal', internal_cap_years), ('external', external_cap_years), ('thickness', internal_cap_years)
    ) AS cap(kind, cap_years)
),

latest AS (
    SELECT
        asset,
        CASE kind WHEN 'on-stream' THEN 'internal' ELSE kind END AS kind,
        arg_max(interval_years, record) AS interval_years,
        arg_max(coalesce(assessment, ''), record) AS assessment,
        arg_max(is_documented, record) AS is_documented,
        arg_max(file, record) AS file,
        arg_max(sheet, record) AS sheet,
        arg_max(cell, record) AS cell
    FROM step.set_interval
    WHERE interval_years > 0
    GROUP BY ALL
)

SELECT
    code_cap.asset, code_cap.kind,
    -- The owner may always tighten; only a documented assessment may go beyond the cap.
    CASE
        WHEN latest.interval_years <= code_cap.cap_years OR latest.is_documented THEN latest.interval_years
        ELSE code_cap.cap_years
    END AS cap_years,
    CASE
        WHEN latest.is_documented THEN 'set interval: ' || latest.assessment
        WHEN latest.interval_years <= code_cap.cap_years THEN 'set interval'
        ELSE 'cap'
    END AS cap_from,
    CASE WHEN latest.interval_years > code_cap.cap_years AND NOT latest.is_documented THEN latest.interval_years END
        AS ignored_interval_years,
    CASE WHEN latest.interval_years > code_cap.cap_years AND NOT latest.is_documented
        THEN 'the assessment, its approver or its date is not on record' END AS ignored_because,
    latest.file, latest.sheet, latest.cell
FROM code_cap
LEFT JOIN latest USING (asset, kind)
