-- The longest interval of each kind for each asset: the plant's cap, or a set interval in its place.
-- grain: asset, kind
-- reads: step.asset, step.set_interval, basis.in_force
-- column asset: asset tag
-- column kind: internal, external, thickness, relief device, or clean relief device for one in clean service
-- column cap_years: longest interval
-- column code_cap_years: longest interval without any that was set for the asset
-- column cap_from: code cap, the same counted in operating years, or the assessment that set it
-- column operating_years_refused: why operating years are not counted for a vessel not in continuous service, else null
-- column ignored_interval_years: a longer set interval that does not count, for want of what
-- column ignored_because: assessment, approver or date is missing
-- column file: source file of the set interval
-- column sheet: source sheet of the set interval
-- column cell: source cell of the set interval
WITH code_cap AS (
    SELECT
        asset, kind,
        -- Operating years stand for calendar years in the internal interval only, and only for a protected idle
        -- vessel. The half life is in calendar years already, since the rate is.
        CASE WHEN kind = 'internal' AND counts_operation
            THEN formula.cap_in_operation(cap_years, operating_fraction)
            ELSE cap_years
        END AS cap_years,
        CASE WHEN kind = 'internal' AND counts_operation
            THEN 'cap of ' || shown.duration(cap_years) || ' in operation ('
                || shown.ratio(operating_fraction) || ' of the time; while idle: ' || idle_protection || ')'
            ELSE 'cap'
        END AS cap_from,
        CASE
            WHEN kind <> 'internal' OR continuous_service IS DISTINCT FROM 'no' OR counts_operation THEN NULL
            WHEN operating_fraction IS NULL THEN 'the fraction of the time in operation is not on record'
            ELSE 'the protection while idle is not on record'
        END AS operating_years_refused
    FROM (
        SELECT
            *,
            coalesce(continuous_service = 'no' AND operating_fraction > 0 AND idle_protection IS NOT NULL, false)
                AS counts_operation
        FROM step.asset
    )
    CROSS JOIN basis.in_force
    CROSS JOIN LATERAL (
        VALUES
            ('internal', internal_cap_years),
            ('external', external_cap_years),
            ('thickness', internal_cap_years),
            ('relief device', relief_cap_years),
            ('clean relief device', relief_clean_cap_years)
    ) AS cap(kind, cap_years)
),

-- An interval set without a kind may be that of any: it counts where it is the shorter one, and never beyond a cap.
settled AS (
    SELECT
        code_cap.asset, code_cap.kind, code_cap.cap_years,
        stated.interval_years, stated.assessment, stated.approved_on, stated.file, stated.sheet, stated.cell,
        stated.kind IS NULL AS of_any_kind,
        stated.kind IS NOT NULL AND is_documented AS is_documented
    FROM step.set_interval AS stated
    JOIN code_cap
        ON code_cap.asset = stated.asset
        AND (
            CASE stated.kind WHEN 'on-stream' THEN 'internal' ELSE stated.kind END
                = CASE code_cap.kind WHEN 'clean relief device' THEN 'relief device' ELSE code_cap.kind END
            OR (stated.kind IS NULL AND stated.interval_years <= code_cap.cap_years)
        )
    WHERE interval_years > 0
),

approved AS (
    SELECT *, max(approved_on) FILTER (is_documented) OVER (PARTITION BY asset, kind) AS last_approved_on
    FROM settled
),

-- Of several documented ones the last approved stands; a shorter one of the owner's stands beside it, and the shorter
-- of the two is in force. One that counts comes before one that does not, so that the order of rows decides nothing.
latest AS (
    SELECT *
    FROM approved
    QUALIFY row_number() OVER (
        PARTITION BY asset, kind
        ORDER BY
            is_documented OR interval_years <= cap_years DESC,
            CASE
                WHEN NOT is_documented THEN interval_years
                WHEN approved_on = last_approved_on THEN interval_years
            END ASC NULLS LAST,
            of_any_kind, assessment, file, sheet, cell
    ) = 1
)

SELECT
    code_cap.asset, code_cap.kind,
    -- The owner may always tighten; only a documented assessment may go beyond the cap.
    CASE
        WHEN latest.interval_years <= code_cap.cap_years OR latest.is_documented THEN latest.interval_years
        ELSE code_cap.cap_years
    END AS cap_years,
    code_cap.cap_years AS code_cap_years,
    CASE
        WHEN latest.is_documented THEN 'set interval: ' || latest.assessment
        WHEN latest.of_any_kind THEN 'set interval without a kind'
        WHEN latest.interval_years <= code_cap.cap_years THEN 'set interval'
        ELSE code_cap.cap_from
    END AS cap_from,
    operating_years_refused,
    CASE WHEN latest.interval_years > code_cap.cap_years AND NOT latest.is_documented THEN latest.interval_years END
        AS ignored_interval_years,
    CASE WHEN latest.interval_years > code_cap.cap_years AND NOT latest.is_documented
        THEN 'the assessment, its approver or its date is not on record' END AS ignored_because,
    latest.file, latest.sheet, latest.cell
FROM code_cap
LEFT JOIN latest USING (asset, kind)
