"""What stands behind the status of every asset, and what is missing for it: the auditor's list."""

from __future__ import annotations

import duckdb
import pandas as pd

#: One row for each asset: its state, what it rests on, and what is missing.
_EVIDENCE = """
WITH inspected AS (
    SELECT
        asset,
        max(inspected_on) FILTER (kind = 'internal') AS internal_on,
        max(inspected_on) FILTER (kind = 'on-stream') AS on_stream_on,
        max(inspected_on) FILTER (kind = 'external') AS external_on
    FROM step.inspection
    GROUP BY asset
),

measured AS (
    SELECT
        asset,
        count(*) AS places,
        count(*) FILTER (read_on IS NULL) AS places_never_read,
        count(*) FILTER (initial_from = 'nominal') AS places_from_nominal,
        count(*) FILTER (rate_chosen_by IS NOT NULL) AS rates_chosen,
        count(*) FILTER (misses_in_a_row > 0) AS places_missed,
        min(read_on) AS oldest_reading_on,
        max(read_on) AS newest_reading_on
    FROM result.location
    GROUP BY asset
),

due AS (
    SELECT
        asset,
        string_agg(kind || ' until ' || deferred_until, '; ' ORDER BY kind) FILTER (state = 'deferred until')
            AS deferred,
        string_agg(kind || ': ' || deferral_refused, '; ' ORDER BY kind) FILTER (deferral_refused IS NOT NULL)
            AS deferrals_refused,
        string_agg(kind || ': ' || due_missing, '; ' ORDER BY kind) FILTER (due_missing IS NOT NULL) AS due_missing,
        string_agg(kind || ': ' || on_stream_refused, '; ' ORDER BY kind) FILTER (on_stream_refused IS NOT NULL)
            AS on_stream_refused
    FROM result.due_date
    GROUP BY asset
),

lacking AS (
    SELECT asset, string_agg(component || ': ' || missing, '; ' ORDER BY component) AS components_missing
    FROM result.component
    WHERE missing IS NOT NULL
    GROUP BY asset
),

recommended AS (
    SELECT
        asset,
        count(*) FILTER (is_open) AS recommendations_open,
        count(*) FILTER (NOT is_open AND evidence IS NULL) AS recommendations_closed_without_evidence
    FROM result.recommendation
    GROUP BY asset
)

SELECT
    asset.rank, asset.asset, asset.state, asset.held_readings, asset.reason, asset.description, asset.area,
    asset.assigned_to, asset.construction_code, asset.rating_pressure_mpa, asset.rating_from, asset.in_service_on,
    internal_on, on_stream_on, external_on, internal_due_on, external_due_on, thickness_due_on, relief_due_on,
    recommendation_due_on, retirement_on, remaining_life_years, coalesce(places, 0) AS places,
    coalesce(places_never_read, 0) AS places_never_read, coalesce(places_from_nominal, 0) AS places_from_nominal,
    coalesce(rates_chosen, 0) AS rates_chosen, coalesce(places_missed, 0) AS places_missed, oldest_reading_on,
    newest_reading_on, deferred, deferrals_refused, on_stream_refused,
    coalesce(recommendations_open, 0) AS recommendations_open,
    coalesce(recommendations_closed_without_evidence, 0) AS recommendations_closed_without_evidence,
    concat_ws('; ',
        CASE WHEN construction_code IS NULL THEN 'construction code' END,
        CASE WHEN rating_pressure_mpa IS NULL THEN 'MAWP or design pressure' END,
        CASE WHEN in_service_on IS NULL THEN 'in-service date' END,
        CASE WHEN internal_on IS NULL AND on_stream_on IS NULL THEN 'an internal or on-stream inspection' END,
        CASE WHEN external_on IS NULL THEN 'an external inspection' END,
        CASE WHEN relief_due_on IS NULL THEN 'a relief device with its test' END,
        components_missing, due_missing
    ) AS missing
FROM result.asset AS asset
LEFT JOIN inspected USING (asset)
LEFT JOIN measured USING (asset)
LEFT JOIN due USING (asset)
LEFT JOIN lacking USING (asset)
LEFT JOIN recommended USING (asset)
ORDER BY asset.rank
"""

_DEFERRALS = """
SELECT
    deferral.asset, deferral.kind, due.due_on, deferral.due_on AS due_stated_on, deferral.deferred_until,
    deferral.reason, deferral.approved_by, deferral.approved_on,
    CASE
        WHEN due.deferred_until = deferral.deferred_until AND due.deferral_approved_on = deferral.approved_on
            THEN 'covers the date'
        ELSE coalesce(due.deferral_refused, 'moves no date of now')
    END AS standing,
    count(*) OVER (PARTITION BY deferral.asset, deferral.kind) AS deferrals_of_this_kind,
    concat_ws(', ', deferral.file, nullif(deferral.sheet, ''), deferral.cell) AS source
FROM step.deferral AS deferral
LEFT JOIN result.due_date AS due
    ON due.asset = deferral.asset
    AND due.kind = CASE deferral.kind WHEN 'on-stream' THEN 'internal' ELSE deferral.kind END
ORDER BY deferral.asset, deferral.kind, deferral.approved_on
"""

#: Assets in date, or due by the turnaround, whose date rests on less than two readings somewhere.
_RESTS_ON_NOMINAL = """
SELECT asset.asset, asset.state, location.component, location.location, location.due_on, location.rate_from,
    location.read_on
FROM result.asset AS asset
JOIN result.location AS location USING (asset)
WHERE asset.state IN ('in date', 'due by turnaround', 'deferred until') AND location.initial_from = 'nominal'
ORDER BY asset.asset, location.component, location.location
"""


def evidence(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return one row for each asset, most urgent first: its state, what it rests on, and what is missing in words."""
    return connection.cursor().execute(_EVIDENCE).df()


def deferrals(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return every deferral on record with the date it moves, when it was approved, and whether it counts."""
    return connection.cursor().execute(_DEFERRALS).df()


def resting_on_nominal(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the places whose rate counts from the nominal thickness, of assets that are not in a worse state."""
    return connection.cursor().execute(_RESTS_ON_NOMINAL).df()
