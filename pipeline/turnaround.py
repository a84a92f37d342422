"""Planning a turnaround: what it must take in, what may stay out, and why.

Every asset of published results is sorted for a turnaround and the one after it. What is proposed (a reading, an
inspection while the asset runs, a study) is for people to decide. Sentences are in the unit system asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import duckdb
import pandas as pd

from pipeline.reading import asked
from pipeline.scope_reasons import reason
from pipeline.turnaround_dates import SHARED_SQL, Reach, Row, Turnaround, frame, reach

#: The groups in which a turnaround's list is read, the gravest first; an asset stands in the first that fits it.
GROUPS = (
    "must repair",
    "cannot be told",
    "must inspect",
    "re-measure first",
    "on-stream",
    "long-lead study",
    "can wait",
    "retired",
)
GROUP_MEANINGS = {
    "must repair": "below its required thickness, or reaching it before the turnaround after this one ends",
    "cannot be told": "something needed is missing, so no date of it is sure; unknown is not safe",
    "must inspect": "a date that needs the shutdown falls before the turnaround after this one ends",
    "re-measure first": "a reading before the scope is frozen may change the answer either way",
    "on-stream": "due before the turnaround after this one ends, and can be met while it runs",
    "long-lead study": "reaches its required thickness within one more run: order or study ahead",
    "can wait": "nothing is due before the turnaround after this one ends",
    "retired": "out of service for good, left out of the plan",
}


@dataclass(frozen=True)
class Plan:
    """Every asset sorted for a turnaround.

    `assets` has one row for each asset, the gravest first: group, reason, governing place with its numbers, latest
    safe date (`latest_safe` has it in words, also where there is none), and the other groups it also belongs to.
    `claims` has every reason, also those behind `also`.
    `counts` has every group, also the empty ones; they add up to all assets.
    """

    reach: Reach
    assets: pd.DataFrame
    claims: pd.DataFrame
    counts: dict[str, int]


_CLAIMS = (
    SHARED_SQL
    + """,

place AS (
    SELECT
        location.*,
        state = 'below required' AS is_below,
        formula.thickness_after(
            t_act_mm, rate_mm_per_year,
            formula.years_between(date_diff('day', read_on, $second_end::DATE), days_per_year)
        ) AS t_then_mm
    FROM result.location AS location
    CROSS JOIN basis.in_force
),

known AS (
    SELECT asset, rank, governing_component, governing_location, status, status_since, components
    FROM result.asset
),

-- The measurement at a place that moves a date of its asset farthest.
worth AS (
    SELECT
        asset, component, location, measurement AS worth_measurement,
        kind AS worth_kind, due_on AS worth_due_on, due_if_on AS worth_due_if_on
    FROM result.worth_measuring
    QUALIFY row_number() OVER (
        PARTITION BY asset, component, location
        ORDER BY clears_below_required DESC, worth_days DESC NULLS LAST, measurement, kind
    ) = 1
),

below AS (
    SELECT
        asset, 1 AS group_no, 1 AS claim_no, 'below required' AS claim, component, location, NULL::DATE AS safe_on,
        count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    WHERE is_below
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY margin, component, location) = 1
),

retiring AS (
    SELECT
        asset, 1 AS group_no, 2 AS claim_no, 'retiring' AS claim, component, location, retirement_on AS safe_on,
        count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    WHERE retirement_on < $second_end::DATE AND NOT is_below
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_on, component, location) = 1
),

-- A corroded area is dealt with as a place is: its thickness is its lowest average, or what pits leave.
area AS (
    SELECT
        asset, component, area || ' of ' || component AS device, governed_by, t_act_mm AS area_mm,
        t_req_mm AS area_required_mm, read_on AS area_read_on, margin, is_below_required, retirement_on
    FROM step.area_verdict
),

areas AS (
    SELECT
        asset, 1 AS group_no, 3 AS claim_no, 'area below required' AS claim, component, NULL::DATE AS safe_on, device,
        governed_by, area_mm, area_required_mm, area_read_on, count(*) OVER (PARTITION BY asset) AS alike
    FROM area
    WHERE is_below_required
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY margin NULLS LAST, device) = 1
    UNION ALL BY NAME
    SELECT
        asset, 1 AS group_no, 4 AS claim_no, 'area retiring' AS claim, component, retirement_on AS safe_on, device,
        governed_by, area_mm, area_required_mm, area_read_on, count(*) OVER (PARTITION BY asset) AS alike
    FROM area
    WHERE retirement_on < $second_end::DATE AND NOT is_below_required
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_on, device) = 1
    UNION ALL BY NAME
    SELECT
        asset, 6 AS group_no, 2 AS claim_no, 'area long lead' AS claim, component, retirement_on AS safe_on, device,
        governed_by, area_mm, area_required_mm, area_read_on, count(*) OVER (PARTITION BY asset) AS alike
    FROM area
    WHERE retirement_on >= $second_end::DATE AND retirement_on < $beyond::DATE AND NOT is_below_required
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_on, device) = 1
),

lacking AS (
    SELECT asset, 1 AS claim_no, 'unlisted' AS claim, min(sentence) AS missing, 1 AS alike
    FROM result.concern
    WHERE kind = 'data' AND component IS NULL
    GROUP BY asset
    UNION ALL BY NAME
    SELECT
        asset, 2 AS claim_no, 'lacking' AS claim, min(component) AS component,
        string_agg(DISTINCT missing, '; ' ORDER BY missing) AS missing,
        count(*) AS alike
    FROM result.component
    WHERE missing IS NOT NULL
    GROUP BY asset
),

unsure AS (
    SELECT
        asset,
        arg_min(kind, (due_on IS NOT NULL, kind)) AS kind,
        arg_min(due_missing, (due_on IS NOT NULL, kind)) AS missing,
        bool_or(due_on IS NULL) AS undated,
        count(*) AS alike
    FROM due
    WHERE due_on IS NULL OR due_missing IS NOT NULL
    GROUP BY asset
),

unknown AS (
    SELECT
        asset, 2 AS group_no, claim_no, claim, component, NULL::VARCHAR AS location, NULL::DATE AS safe_on, missing,
        alike
    FROM lacking
    UNION ALL BY NAME
    SELECT
        asset, 2 AS group_no, 3 AS claim_no, CASE WHEN undated THEN 'undated' ELSE 'unsure' END AS claim,
        NULL::VARCHAR AS component, NULL::VARCHAR AS location, NULL::DATE AS safe_on, missing, kind, alike
    FROM unsure
    WHERE asset NOT IN (SELECT asset FROM lacking)
),

-- A date before the end of the turnaround after: inspected in this one where it needs the shutdown, else met on-stream.
pressing AS (
    SELECT
        asset,
        CASE WHEN is_on_stream THEN 5 ELSE 3 END AS group_no,
        row_number() OVER (PARTITION BY asset, is_on_stream ORDER BY until_on, kind)::INTEGER AS claim_no,
        CASE WHEN is_on_stream AND kind = 'internal' THEN 'internal on-stream' ELSE 'due' END AS claim,
        component, location, until_on AS safe_on, kind, state, due_on, deferred_until, set_by, device, highest_rate,
        shortest_life, 1 AS alike
    FROM dated_kind
    WHERE until_on < $second_end::DATE
),

doubtful AS (
    SELECT
        asset, 4 AS group_no, 1 AS claim_no, 'held' AS claim, min(component) AS component,
        arg_min(location, (component, location)) AS location, NULL::DATE AS safe_on, count(*) AS alike
    FROM result.reading
    WHERE status = 'held'
    GROUP BY asset
    UNION ALL BY NAME
    SELECT
        asset, 4 AS group_no, 2 AS claim_no, 'band retirement' AS claim, component, location,
        retirement_earliest_on AS safe_on, count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    WHERE retirement_earliest_on < $second_end::DATE
        AND (retirement_on < $second_end::DATE) IS NOT TRUE
        AND NOT is_below
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_earliest_on, component, location) = 1
    UNION ALL BY NAME
    SELECT
        asset, 4 AS group_no, 3 AS claim_no, 'stale' AS claim, component, location, due_on AS safe_on,
        count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    CROSS JOIN (SELECT as_of FROM basis.in_force)
    WHERE due_on < as_of AND NOT is_below
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY due_on, component, location) = 1
    UNION ALL BY NAME
    SELECT
        asset, 4 AS group_no, 4 AS claim_no, 'band due' AS claim, component, location, due_earliest_on AS safe_on,
        count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    WHERE due_earliest_on < $second_end::DATE AND due_on >= $second_end::DATE
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY due_earliest_on, component, location) = 1
    UNION ALL BY NAME
    SELECT
        place.asset, 4 AS group_no, 5 AS claim_no,
        CASE WHEN initial_from = 'nominal' THEN 'nominal' ELSE 'single' END AS claim,
        place.component, place.location, NULL::DATE AS safe_on, count(*) OVER (PARTITION BY place.asset) AS alike
    FROM place
    JOIN (
        SELECT asset, component, location FROM due WHERE location IS NOT NULL
        UNION
        SELECT asset, governing_component, governing_location FROM known
    ) AS governing USING (asset, component, location)
    WHERE reading_count = 1
    QUALIFY row_number() OVER (
        PARTITION BY place.asset ORDER BY place.retirement_on, place.component, place.location
    ) = 1
),

studied AS (
    SELECT
        asset, 6 AS group_no, 1 AS claim_no, 'long lead' AS claim, component, location, retirement_on AS safe_on,
        count(*) OVER (PARTITION BY asset) AS alike
    FROM place
    WHERE retirement_on >= $second_end::DATE AND retirement_on < $beyond::DATE AND NOT is_below
    QUALIFY row_number() OVER (PARTITION BY asset ORDER BY retirement_on, component, location) = 1
),

claimed AS (
    SELECT * FROM below
    UNION ALL BY NAME FROM retiring
    UNION ALL BY NAME FROM areas
    UNION ALL BY NAME FROM unknown
    UNION ALL BY NAME FROM pressing
    UNION ALL BY NAME FROM doubtful
    UNION ALL BY NAME FROM studied
),

next_date AS (
    SELECT asset, arg_min({'on': until_on, 'kind': kind}, (until_on, kind)) AS date
    FROM due
    WHERE until_on IS NOT NULL
    GROUP BY asset
),

sorted AS (
    SELECT claimed.* FROM claimed
    ANTI JOIN (SELECT asset FROM known WHERE status = 'retired') AS retired USING (asset)
    UNION ALL BY NAME
    SELECT
        asset, 7 AS group_no, 1 AS claim_no, 'waiting' AS claim, next_date.date['on'] AS safe_on,
        next_date.date['kind'] AS kind, 1 AS alike
    FROM known
    LEFT JOIN next_date USING (asset)
    WHERE status <> 'retired' AND asset NOT IN (SELECT asset FROM claimed)
    UNION ALL BY NAME
    SELECT asset, 8 AS group_no, 1 AS claim_no, 'retired' AS claim, 1 AS alike
    FROM known
    WHERE status = 'retired'
)

SELECT
    sorted.asset, group_no, claim_no, claim, kind, alike, sorted.missing, sorted.state, sorted.due_on, deferred_until,
    set_by, device, governed_by, area_mm, area_required_mm, area_read_on,
    -- What rests on doubtful data keeps the date it has until the data are settled.
    CASE WHEN claim IN ('held', 'nominal', 'single') THEN next_date.date['on'] ELSE safe_on END AS safe_on,
    highest_rate, shortest_life, known.rank, known.status, known.status_since,
    coalesce(sorted.component, known.governing_component) AS component,
    CASE
        WHEN sorted.location IS NOT NULL THEN sorted.location
        WHEN sorted.component IS NULL THEN known.governing_location
    END AS location,
    sorted.location IS NOT NULL AS about_place,
    place.t_act_mm, place.read_on, place.t_req_mm, place.t_then_mm, place.rate_mm_per_year, place.rate_high_mm_per_year,
    place.remaining_life_years, place.retirement_on, place.no_measurable_loss, place.margin,
    worth.* EXCLUDE (asset, component, location)
FROM sorted
JOIN known USING (asset)
LEFT JOIN place
    ON place.asset = sorted.asset
    AND place.component = coalesce(sorted.component, known.governing_component)
    AND place.location = CASE
        WHEN sorted.location IS NOT NULL THEN sorted.location
        WHEN sorted.component IS NULL THEN known.governing_location
    END
LEFT JOIN worth
    ON worth.asset = sorted.asset
    AND worth.component = sorted.component
    AND worth.location = sorted.location
    AND group_no = 4
LEFT JOIN next_date
    ON next_date.asset = sorted.asset
ORDER BY group_no, safe_on NULLS FIRST, place.margin NULLS LAST, sorted.asset, claim_no
"""
)

_ASSET_COLUMNS = (
    "asset",
    "group",
    "reason",
    "component",
    "location",
    "t_act_mm",
    "read_on",
    "t_req_mm",
    "rate_mm_per_year",
    "remaining_life_years",
    "retirement_on",
    "latest_safe_on",
    "latest_safe",
    "also",
    "status",
)


def plan(connection: duckdb.DuckDBPyConnection, first: Turnaround, second: Turnaround, system: str) -> Plan:
    """Sort every asset of published results for `first`, so that it reaches the end of `second`.

    Sentences and numbers in them are in the unit system `system`; columns keep the units of the results. A date on
    which `second` ends counts as reached; one before it does not.
    """
    far = reach(connection, first, second)
    found = asked(connection, _CLAIMS, {"second_end": second.end_on, "beyond": far.beyond_on})
    claims: dict[str, list[Row]] = {}
    for row in found:
        row["group"] = GROUPS[row["group_no"] - 1]
        row["reason"] = reason(row, far, system)
        claims.setdefault(row["asset"], []).append(row)
    assets = [_sorted_asset(own) for own in claims.values()]
    counts = {group: sum(row["group"] == group for row in assets) for group in GROUPS}
    everything = [row for own in claims.values() for row in own]
    columns = ("asset", "group", "reason", "component", "location", "safe_on", "kind")
    return Plan(far, frame(assets, _ASSET_COLUMNS), frame(everything, columns), counts)


#: What stands for a latest safe date by the claim that has none; where it is not known, nothing here says so.
_NO_SAFE_DATE = {
    "below required": "none: already below",
    "area below required": "none: already below",
    "waiting": "none: no date is due",
    "retired": "none: retired",
}


def _latest_safe(claim: Row) -> str:
    """Return the latest safe date of a claim in words; "unknown" where it is not known, never a blank."""
    if claim["safe_on"] is not None:
        return str(claim["safe_on"])
    return _NO_SAFE_DATE.get(claim["claim"], "unknown")


def _sorted_asset(claims: Sequence[Row]) -> Row:
    """Return the row of an asset from its claims, the gravest first."""
    first = claims[0]
    others = [claim["group"] for claim in claims if claim["group"] != first["group"]]
    return {
        **{name: first.get(name) for name in _ASSET_COLUMNS},
        "latest_safe_on": first["safe_on"],
        "latest_safe": _latest_safe(first),
        "also": ", ".join(dict.fromkeys(others)) or None,
    }
