"""What breaks when a turnaround moves, month by month, and what would buy time. Nothing is approved here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import duckdb
import pandas as pd

from pipeline.reading import asked
from pipeline.turnaround_dates import KIND_WORDS, ON_STREAM_CONDITIONS, SHARED_SQL, Row, Turnaround, frame

#: Longest slip that is worked out, in months.
LONGEST_SLIP = 24


@dataclass(frozen=True)
class Slip:
    """What breaks when the turnaround moves by whole months, 0 to `LONGEST_SLIP`.

    A date is broken where it was to be met in the turnaround as planned and falls before its first day once moved.
    `months` has one row for each month: the moved days, broken due dates in all and by kind, places that reach their
    required thickness before it (`retiring`, and `retiring_at_high_rate` by the high end of their rates), assets
    concerned, relief devices past their interval, deferrals that run out, and `to_take_in`: dates the moved turnaround
    must meet for the one after it, which moves along. `broken` has one row for each date with the month that breaks it.
    `first_broken` names the assets behind a month's step, `first_label` those of them that break for the first time.
    `latest_start_on` is the last day on which the turnaround may begin and break nothing, null where nothing would
    break; `latest_start_shutdown_on` the same for what needs the shutdown; `..._breaks` says what breaks the day after.
    What is so as planned already no slip breaks, and no count of the months has it: `behind` dates lie before the
    turnaround, `behind_shutdown` of them need the shutdown, `devices_behind` relief devices are past their interval
    before it, and `places_below` places are below required now. `unsure_assets` counts the assets whose dates cannot be
    told, which no count here can cover.
    """

    months: pd.DataFrame
    broken: pd.DataFrame
    latest_start_on: date | None
    latest_start_shutdown_on: date | None
    latest_start_breaks: str
    latest_start_shutdown_breaks: str
    behind: int
    behind_shutdown: int
    devices_behind: int
    places_below: int
    unsure_assets: int


KINDS = ("internal", "external", "thickness", "corroded area", "relief device", "recommendation")

# One row for each date that was to be met in the turnaround and falls before it once moved, with the month that breaks
# it and what would buy time: a reading, an inspection while it runs, a deferral.
_BROKEN = (
    SHARED_SQL
    + """,

moved AS (
    SELECT unnest($months) AS month, unnest($starts)::DATE AS start_on, unnest($reach)::DATE AS reach_on
),

relied_on AS (
    SELECT
        asset, kind, until_on AS needed_on, due_on, deferred_until, component, location, device, set_by,
        is_on_stream, NULL::DATE AS earliest_on
    FROM dated_kind
    UNION ALL BY NAME
    SELECT
        asset, 'required thickness' AS kind, retirement_on AS needed_on, component, location, false AS is_on_stream,
        retirement_earliest_on AS earliest_on
    FROM result.location
    WHERE state <> 'below required'
        AND asset NOT IN (SELECT asset FROM result.asset WHERE status = 'retired')
    UNION ALL BY NAME
    SELECT
        asset, 'required thickness' AS kind, retirement_on AS needed_on, component,
        area || ' of ' || component AS device, false AS is_on_stream
    FROM step.area_verdict
    WHERE NOT is_below_required
        AND asset NOT IN (SELECT asset FROM result.asset WHERE status = 'retired')
    UNION ALL BY NAME
    SELECT
        device.asset, 'device' AS kind, device.device,
        CASE WHEN due.deferred_until > device.due_on THEN due.deferred_until ELSE device.due_on END AS needed_on
    FROM result.relief_device AS device
    JOIN due ON due.asset = device.asset AND due.kind = 'relief device'
),
"""
)

_EACH_MONTH = (
    _BROKEN
    + """
counted AS (
    SELECT
        month, start_on, reach_on, kind, asset, needed_on, earliest_on, deferred_until,
        needed_on >= $start::DATE AND needed_on < start_on AS breaks,
        (needed_on < $start::DATE) IS NOT TRUE AND earliest_on < start_on AS breaks_at_high_rate,
        needed_on < reach_on AS is_within_reach
    FROM moved
    CROSS JOIN relied_on
    WHERE needed_on < reach_on OR earliest_on < start_on
)

SELECT
    month::INTEGER AS month, start_on, reach_on,
    count(*) FILTER (breaks AND kind NOT IN ('required thickness', 'device')) AS broken,
    count(*) FILTER (breaks AND kind = 'internal') AS internal,
    count(*) FILTER (breaks AND kind = 'external') AS external,
    count(*) FILTER (breaks AND kind = 'thickness') AS thickness,
    count(*) FILTER (breaks AND kind = 'corroded area') AS "corroded area",
    count(*) FILTER (breaks AND kind = 'relief device') AS "relief device",
    count(*) FILTER (breaks AND kind = 'recommendation') AS recommendation,
    count(*) FILTER (breaks AND kind = 'required thickness') AS retiring,
    count(*) FILTER (breaks_at_high_rate AND kind = 'required thickness') AS retiring_at_high_rate,
    count(DISTINCT asset) FILTER (breaks AND kind <> 'device') AS assets,
    count(*) FILTER (breaks AND kind = 'device') AS devices,
    count(*) FILTER (breaks AND needed_on = deferred_until) AS deferrals,
    count(*) FILTER (is_within_reach AND kind NOT IN ('required thickness', 'device')) AS to_take_in
FROM moved
LEFT JOIN counted USING (month, start_on, reach_on)
GROUP BY month, start_on, reach_on
ORDER BY month
"""
)

_EACH_BROKEN = (
    _BROKEN
    + """
latest AS (
    SELECT relied_on.*, min(month) FILTER (start_on > needed_on) AS breaks_at
    FROM relied_on
    CROSS JOIN moved
    WHERE needed_on >= $start::DATE AND kind <> 'device'
    GROUP BY ALL
    HAVING min(month) FILTER (start_on > needed_on) IS NOT NULL
),

reading AS (
    SELECT
        asset, kind, component AS reading_component, location AS reading_location, measurement,
        due_if_on AS reading_on
    FROM result.worth_measuring
    WHERE due_if_on IS NOT NULL
    QUALIFY row_number() OVER (
        PARTITION BY asset, kind ORDER BY due_if_on DESC, component, location, measurement
    ) = 1
    UNION ALL BY NAME
    SELECT
        asset, 'required thickness' AS kind, component AS reading_component, location AS reading_location,
        'weld distance' AS measurement,
        read_on + formula.whole_days(remaining_life_away_years, days_per_year, day_guard)::INTEGER AS reading_on
    FROM result.location
    CROSS JOIN basis.in_force
    WHERE weld_region = 'unknown' AND remaining_life_away_years < dated_life_years
),

earlier AS (
    SELECT asset, CASE kind WHEN 'on-stream' THEN 'internal' ELSE kind END AS kind, count(*) AS deferrals_before
    FROM step.deferral
    GROUP BY ALL
)

SELECT
    latest.asset, latest.kind, needed_on, latest.due_on, latest.deferred_until, component, location, device, set_by,
    is_on_stream,
    breaks_at::INTEGER AS breaks_at, reading_component, reading_location, measurement, reading_on,
    -- A deferral counts only if it is approved before the date it moves.
    coalesce(latest.due_on > as_of, false) AS may_be_deferred,
    coalesce(deferrals_before, 0) AS deferrals_before,
    asset.rank, asset.area, asset.assigned_to
FROM latest
JOIN result.asset AS asset ON asset.asset = latest.asset
LEFT JOIN reading
    ON reading.asset = latest.asset
    AND reading.kind = latest.kind
    AND (latest.kind <> 'required thickness'
        OR reading_component = latest.component AND reading_location = latest.location)
LEFT JOIN earlier ON earlier.asset = latest.asset AND earlier.kind = latest.kind
CROSS JOIN (SELECT as_of FROM basis.in_force)
ORDER BY needed_on, latest.asset, latest.kind, component, location
"""
)

_LATEST_START = (
    _BROKEN
    + """
counted AS (
    SELECT asset, kind, needed_on, is_on_stream
    FROM relied_on
    WHERE needed_on >= $start::DATE AND kind <> 'device'
)

SELECT
    (SELECT min(needed_on) FROM counted) AS latest_start_on,
    (SELECT arg_min({'asset': asset, 'kind': kind}, (needed_on, asset, kind)) FROM counted) AS first_broken,
    (SELECT min(needed_on) FROM counted WHERE is_on_stream IS FALSE) AS latest_start_shutdown_on,
    (SELECT arg_min({'asset': asset, 'kind': kind}, (needed_on, asset, kind)) FROM counted
     WHERE is_on_stream IS FALSE) AS first_broken_shutdown,
    (SELECT count(*) FROM due WHERE until_on < $start::DATE) AS behind,
    (SELECT count(*) FROM dated_kind WHERE until_on < $start::DATE AND is_on_stream IS FALSE) AS behind_shutdown,
    (SELECT count(*) FROM relied_on WHERE kind = 'device' AND needed_on < $start::DATE) AS devices_behind,
    (SELECT count(*) FROM result.location
     WHERE state = 'below required'
         AND asset NOT IN (SELECT asset FROM result.asset WHERE status = 'retired'))
    + (SELECT count(*) FROM step.area_verdict
     WHERE is_below_required
         AND asset NOT IN (SELECT asset FROM result.asset WHERE status = 'retired')) AS places_below,
    (SELECT count(DISTINCT asset) FROM (
        SELECT asset FROM due WHERE due_on IS NULL OR due_missing IS NOT NULL
        UNION SELECT asset FROM result.component WHERE missing IS NOT NULL
        UNION SELECT asset FROM result.concern WHERE kind = 'data'
    )) AS unsure_assets,
    (SELECT count(*) FROM moved) AS months
"""
)


def slip(connection: duckdb.DuckDBPyConnection, first: Turnaround, second: Turnaround) -> Slip:
    """Work out what breaks when `first`, and `second` with it, moves by each whole month up to `LONGEST_SLIP`.

    A turnaround may begin on the very day a date is due; from the next day on that date is broken.
    """
    months = list(range(LONGEST_SLIP + 1))
    moved = {
        "months": months,
        "starts": [first.moved(month).start_on for month in months],
        "reach": [second.moved(month).end_on for month in months],
        "start": first.start_on,
    }
    latest = asked(connection, _LATEST_START, moved)[0]
    each = asked(connection, _EACH_MONTH, moved)
    broken = asked(connection, _EACH_BROKEN, moved)
    seen: set[str] = set()
    for row in each:
        tags = list(dict.fromkeys(date["asset"] for date in broken if date["breaks_at"] == row["month"]))
        row["first_broken"] = ", ".join(tags)
        row["first_label"] = _shortly([tag for tag in tags if tag not in seen])
        seen.update(tags)
    return Slip(
        frame(each, tuple(each[0])),
        frame(broken, _BROKEN_COLUMNS),
        latest["latest_start_on"],
        latest["latest_start_shutdown_on"],
        _first_of(latest["first_broken"]),
        _first_of(latest["first_broken_shutdown"]),
        latest["behind"],
        latest["behind_shutdown"],
        latest["devices_behind"],
        latest["places_below"],
        latest["unsure_assets"],
    )


_BROKEN_COLUMNS = (
    "asset",
    "kind",
    "needed_on",
    "due_on",
    "deferred_until",
    "component",
    "location",
    "device",
    "set_by",
    "is_on_stream",
    "breaks_at",
    "reading_component",
    "reading_location",
    "measurement",
    "reading_on",
    "may_be_deferred",
    "deferrals_before",
    "rank",
    "area",
    "assigned_to",
)


def _first_of(broken: Row | None) -> str:
    return f"{broken['asset']}, {KIND_WORDS[broken['kind']]}" if broken else ""


def _shortly(tags: Sequence[str]) -> str:
    """Return the first asset and how many more there are, short enough to stand on a chart."""
    more = len(tags) - 1
    return f"{tags[0]} +{more}" if more > 0 else "".join(tags)


#: What can buy time, the cheapest first. None of them is approved here.
WAYS = ("reading", "on-stream", "deferral", "repair", "nothing")
WAY_WORDS = {
    "reading": "a reading may move the date",
    "on-stream": "can be met while it runs",
    "deferral": "needs an approved deferral",
    "repair": "needs a repair, replacement or rerating",
    "nothing": "stays broken",
}
#: The same behind a number of broken dates.
WAY_COUNTED = {
    "reading": "may move by a reading",
    "on-stream": "can be met while the asset runs",
    "deferral": "by an approved deferral only",
    "repair": "by a repair, replacement or rerating only",
    "nothing": "would stay broken",
}


def buying_time(found: Slip, months: int) -> pd.DataFrame:
    """Return every date broken by a slip of some months with the cheapest way to buy it, readings first.

    Columns: asset, kind, needed_on, breaks_at, way (one of `WAYS`), what (a sentence) and until_on (how far a reading
    reaches if it comes out so). A way counts only if it reaches the moved first day; nothing is approved here.
    """
    start_on = found.months.loc[found.months["month"] == months, "start_on"].iloc[0]
    bought = []
    for row in found.broken[found.broken["breaks_at"] <= months].to_dict("records"):
        way = _cheapest(row, start_on)
        bought.append(
            {
                **row,
                "way": way,
                "what": _what_buys(row, way),
                "until_on": row["reading_on"] if way == "reading" else None,
            }
        )
    bought.sort(key=lambda row: (WAYS.index(row["way"]), row["needed_on"], row["asset"], row["kind"]))
    return frame(bought, (*_BROKEN_COLUMNS, "way", "what", "until_on"))


def counts_by_way(bought: pd.DataFrame) -> dict[str, int]:
    """Return how many broken dates each way would buy; `nothing` counts those that stay broken."""
    return {way: int((bought["way"] == way).sum()) for way in WAYS}


def _cheapest(row: Row, start_on: pd.Timestamp) -> str:
    if _is_known(row["reading_on"]) and row["reading_on"] >= start_on:
        return "reading"
    if row["is_on_stream"]:
        return "on-stream"
    if row["may_be_deferred"] and row["kind"] != "corroded area":
        return "deferral"
    if row["kind"] in ("required thickness", "corroded area") or _is_known(row["location"]):
        return "repair"
    return "nothing"


def _what_buys(row: Row, way: str) -> str:
    is_place = _is_known(row["location"])
    place = f"{row['component']}, location {row['location']}" if is_place else f"corroded area {row['device']}"
    match way:
        case "reading":
            where = f"{row['reading_component']}, location {row['reading_location']}"
            if row["measurement"] == "weld distance":
                return (
                    f"Measure the distance to the nearest weld at {where}: away from it, the date becomes "
                    f"{_day(row['reading_on'])}."
                )
            return (
                f"Read {where} once more: thicker by the scatter of one reading, the date becomes "
                f"{_day(row['reading_on'])}; it may as well come out thinner."
            )
        case "on-stream":
            evidence = f" Still to be evidenced: {ON_STREAM_CONDITIONS}." if row["kind"] == "internal" else ""
            return f"Meet it while the asset runs, by {_day(row['needed_on'])}.{evidence}"
        case "deferral":
            before = row["deferrals_before"]
            used = {0: "none is on record for it", 1: "one was used before"}.get(before, f"{before} were used before")
            return f"A deferral to be approved before {_day(row['due_on'])}; {used}."
        case "repair" if row["kind"] == "corroded area":
            return f"Survey {place} again, or repair it: no deferral stands for a survey of the area."
        case "repair":
            return f"Repair, replace or rerate {place}: no reading or deferral reaches the moved turnaround."
    return "No reading, on-stream inspection or deferral on hand reaches the moved turnaround."


def _day(value: Any) -> str:
    return pd.Timestamp(value).date().isoformat()


def _is_known(value: Any) -> bool:
    return value is not None and value is not pd.NaT and value == value
