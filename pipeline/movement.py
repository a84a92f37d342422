"""What moved between two builds: done, re-dated, deferred, newly overdue, and why. A count alone can be made to fall.

Two published versions are compared by asset and kind of due date. A date is *done* where what it counts from is later
(an inspection, a test, a reading at the place that set it, a recommendation closed); it is *re-dated* where it moved
without that, with the reason. What left the overdue list is therefore always told by how it left.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from pipeline.judging import RATE_WORDS
from pipeline.reading import asked
from pipeline.turnaround_dates import Row, frame
from pipeline.units import noun

#: Ways a due date may have moved, in the order in which they are told.
WAYS = (
    "newly overdue",
    "done",
    "re-dated",
    "deferred",
    "deferral gone",
    "newly due",
    "no longer due",
)


@dataclass(frozen=True)
class Movement:
    """What moved since an earlier build.

    `before_on` and `now_on` are the two as-of dates. `dates` has one row for each due date that moved: asset, kind, how
    (one of `WAYS`), from_on, to_on, why, and whether it was or is overdue. `assets` has the assets that came, went,
    were retired, or became assessable or not. `left` counts by way the dates that left the overdue list, `new_overdue`
    those that joined it: before - left + new = now.
    """

    before_on: date
    now_on: date
    dates: pd.DataFrame
    assets: pd.DataFrame
    overdue_before: int
    overdue_now: int
    left: dict[str, int]
    new_overdue: int

    @property
    def sentence(self) -> str:
        """Say the two counts with everything that changed one into the other."""
        ways = ", ".join(f"{count} {way}" for way, count in self.left.items())
        gone = f"{sum(self.left.values())} left the list: {ways}" if ways else "None left the list"
        redated = int((self.dates["how"] == "re-dated").sum())
        moved = f"{noun(redated, 'date')}, overdue or not," if redated else "No date"
        return (
            f"Overdue due dates: {self.overdue_before} as of {self.before_on}, {self.overdue_now} as of {self.now_on}. "
            f"{gone}. {self.new_overdue or 'None'} came onto it. {moved} moved without an inspection, reading or test."
        )


def earlier_versions(results: Path) -> list[Path]:
    """Return the versions published before this one that are still there, the newest first."""
    match = re.fullmatch(r"(.+)\.(\d{6})(\.\w+)", results.name)
    if match is None:
        return []
    stem, number, suffix = match.groups()
    pattern = re.compile(rf"{re.escape(stem)}\.(\d{{6}}){re.escape(suffix)}")
    numbered = [(int(found[1]), path) for path in results.parent.iterdir() if (found := pattern.fullmatch(path.name))]
    return [path for place, path in sorted(numbered, reverse=True) if place < int(number)]


_DATES = """
SELECT
    due.asset, due.kind, due.state, due.due_on, due.anchor, due.anchor_on, due.interval_years, due.cap_years,
    due.component, due.location, due.device, due.deferred_until, due.deferral_approved_by, due.due_missing
FROM result.due_date AS due
ORDER BY due.asset, due.kind
"""

# Of the places only those that set a date in either version: a fleet has many others.
_PLACES = """
SELECT asset, component, location, read_on, t_act_mm, t_req_mm, rate_mm_per_year, rate_from, rate_chosen_by, weld_region
FROM result.location
JOIN (SELECT unnest($assets::VARCHAR[]) AS asset,
    unnest($components::VARCHAR[]) AS component, unnest($locations::VARCHAR[]) AS location)
    USING (asset, component, location)
"""

_ASSETS = """
SELECT
    asset, state, status,
    state = 'not assessable' OR components_not_assessable > 0
        OR asset IN (SELECT asset FROM result.due_date WHERE due_on IS NULL OR due_missing IS NOT NULL) AS has_unknown
FROM result.asset
ORDER BY asset
"""

_CLOSED = "SELECT asset, recommendation FROM result.recommendation WHERE NOT is_open"

Key = tuple[Any, ...]


@dataclass(frozen=True)
class _Version:
    """What is asked of one version: rows by their key."""

    as_of: date
    dates: dict[Key, Row]
    places: dict[Key, Row]
    assets: dict[str, Row]
    closed: frozenset[Key]


def _dates(connection: duckdb.DuckDBPyConnection) -> dict[Key, Row]:
    return {(row["asset"], row["kind"]): row for row in asked(connection, _DATES)}


def _places(dates: Iterable[Row]) -> set[Key]:
    return {(row["asset"], row["component"], row["location"]) for row in dates if row["location"] is not None}


def _version(connection: duckdb.DuckDBPyConnection, dates: dict[Key, Row], places: Sequence[Key]) -> _Version:
    named = {name: [place[at] for place in places] for at, name in enumerate(("assets", "components", "locations"))}
    return _Version(
        asked(connection, "SELECT as_of FROM result.build")[0]["as_of"],
        dates,
        {(row["asset"], row["component"], row["location"]): row for row in asked(connection, _PLACES, named)},
        {row["asset"]: row for row in asked(connection, _ASSETS)},
        frozenset((row["asset"], f'"{row["recommendation"]}"') for row in asked(connection, _CLOSED)),
    )


_DATE_COLUMNS = ("asset", "kind", "how", "from_on", "to_on", "why", "was_overdue", "is_overdue")
_ASSET_COLUMNS = ("asset", "how", "why")


def movement(now: duckdb.DuckDBPyConnection, before: duckdb.DuckDBPyConnection) -> Movement:
    """Compare two published versions; every due date that moved is told once, by the way it moved."""
    dates, dates_before = _dates(now), _dates(before)
    places = sorted(_places(dates.values()) | _places(dates_before.values()))
    new, old = _version(now, dates, places), _version(before, dates_before, places)
    moved = []
    left: Counter[str] = Counter()
    joined = 0
    for key in sorted(new.dates.keys() | old.dates.keys()):
        then, is_now = old.dates.get(key), new.dates.get(key)
        was_overdue = then is not None and then["state"] == "overdue"
        is_overdue = is_now is not None and is_now["state"] == "overdue"
        told = _how(key, then, is_now, old, new)
        if was_overdue and not is_overdue:
            left[told[0] if told else "otherwise"] += 1
        elif is_overdue and not was_overdue:
            joined += 1
        if told:
            moved.append(
                {
                    "asset": key[0],
                    "kind": key[1],
                    "how": told[0],
                    "from_on": then and (then["deferred_until"] or then["due_on"]),
                    "to_on": is_now and (is_now["deferred_until"] or is_now["due_on"]),
                    "why": told[1],
                    "was_overdue": was_overdue,
                    "is_overdue": is_overdue,
                }
            )
    moved.sort(key=lambda row: (WAYS.index(row["how"]), row["asset"], row["kind"]))
    return Movement(
        old.as_of,
        new.as_of,
        frame(moved, _DATE_COLUMNS),
        frame(_assets_moved(old, new), _ASSET_COLUMNS),
        sum(row["state"] == "overdue" for row in old.dates.values()),
        sum(row["state"] == "overdue" for row in new.dates.values()),
        {way: left[way] for way in (*WAYS, "otherwise") if left[way]},
        joined,
    )


def _how(key: Key, then: Row | None, now: Row | None, old: _Version, new: _Version) -> tuple[str, str] | None:
    """Return how a due date moved and why; None where it did not."""
    asset, kind = key
    if now is None and then is not None:
        return "no longer due", _why_gone(asset, kind, then, new)
    if then is None and now is not None:
        if now["state"] == "overdue":
            return "newly overdue", _why_new(asset, kind, old)
        return "newly due", _why_new(asset, kind, old)
    if then is None or now is None:
        return None
    done = _why_done(then, now, old, new)
    if now["state"] == "overdue" and then["state"] != "overdue":
        return "newly overdue", done or _why_overdue(then, now, old, new)
    if done:
        return "done", done
    if then["due_on"] != now["due_on"]:
        return "re-dated", _why_redated(then, now, old, new)
    if then["deferred_until"] != now["deferred_until"]:
        if now["deferred_until"] is None:
            return "deferral gone", f"the deferral until {then['deferred_until']} no longer covers it"
        return "deferred", f"deferred until {now['deferred_until']}, approved by {now['deferral_approved_by']}"
    return None


def _why_gone(asset: str, kind: str, then: Row, new: _Version) -> str:
    if asset not in new.assets:
        return "the asset is on no sheet any more"
    if new.assets[asset]["status"] == "retired":
        return "the asset is retired"
    if kind == "recommendation":
        closed = (asset, then["device"]) in new.closed
        return f"{then['device']} was closed" if closed else f"{then['device']} is on no list any more"
    return "nothing on record asks for it any more"


def _why_new(asset: str, kind: str, old: _Version) -> str:
    if asset not in old.assets:
        return "the asset is new"
    return "a recommendation was raised" if kind == "recommendation" else "it was not asked for before"


def _why_done(then: Row, now: Row, old: _Version, new: _Version) -> str | None:
    """Return what was done where what the date counts from is later; None where it is not."""
    if then["kind"] == "recommendation":
        closed = then["device"] != now["device"] and (then["asset"], then["device"]) in new.closed
        return f"{then['device']} was closed" if closed else None
    if then["kind"] == "thickness":
        place = (then["asset"], then["component"], then["location"])
        was, is_now = old.places.get(place), new.places.get(place)
        if was and is_now and _later(is_now["read_on"], was["read_on"]):
            return f"{then['component']}, location {then['location']} was read on {is_now['read_on']}"
        return None
    if _later(now["anchor_on"], then["anchor_on"]) and str(now["anchor"]).startswith("last"):
        return f"{now['anchor']} on {now['anchor_on']}"
    return None


def _later(now: date | None, then: date | None) -> bool:
    return now is not None and (then is None or now > then)


def _why_overdue(then: Row, now: Row, old: _Version, new: _Version) -> str:
    if then["due_on"] != now["due_on"]:
        return _why_redated(then, now, old, new)
    if then["deferred_until"] and not now["deferred_until"]:
        return f"the deferral until {then['deferred_until']} no longer covers it"
    return "its date has passed"


def _why_redated(then: Row, now: Row, old: _Version, new: _Version) -> str:
    """Return what moved a date that was not met: its place, reading, rate, requirement, interval or anchor."""
    if now["due_on"] is None:
        return f"missing: {now['due_missing'] or 'what sets it'}"
    if then["due_on"] is None:
        return "it could not be worked out before"
    if then["device"] != now["device"]:
        return f"{now['device'] or 'another one'} comes first now"
    why = []
    was_place = (then["asset"], then["component"], then["location"])
    place = (now["asset"], now["component"], now["location"])
    if place != was_place and now["location"]:
        why.append(f"set by {now['component']}, location {now['location']} now")
    for each in dict.fromkeys((was_place, place)):
        why += _changes_at(old.places.get(each), new.places.get(each))
    own_interval = then["kind"] in ("external", "corroded area", "relief device")
    if then["cap_years"] != now["cap_years"] or (own_interval and then["interval_years"] != now["interval_years"]):
        why.append("another interval")
    if then["anchor_on"] != now["anchor_on"]:
        why.append(f"counted from {now['anchor_on']} ({now['anchor']})")
    return "; ".join(dict.fromkeys(why)) or "its inputs changed"


def _changes_at(was: Row | None, now: Row | None) -> list[str]:
    if was is None or now is None:
        return []
    at = f"{now['component']}, location {now['location']}"
    found = []
    if was["read_on"] != now["read_on"] or was["t_act_mm"] != now["t_act_mm"]:
        found.append(f"new reading of {now['read_on']} at {at}")
    if was["rate_chosen_by"] != now["rate_chosen_by"]:
        by = now["rate_chosen_by"]
        found.append(f"rate at {at} chosen by {by}" if by else f"choice of the rate at {at} no longer counts")
    elif was["rate_from"] != now["rate_from"]:
        found.append(f"rate at {at} is {_rate(now)} now, was {_rate(was)}")
    elif was["rate_mm_per_year"] != now["rate_mm_per_year"] and not found:
        found.append(f"another rate at {at}")
    if was["weld_region"] != now["weld_region"]:
        found.append(f"weld distance at {at}")
    elif was["t_req_mm"] != now["t_req_mm"]:
        found.append(f"another required thickness at {at}")
    return found


def _rate(place: Row) -> str:
    return RATE_WORDS.get(place["rate_from"], str(place["rate_from"] or "unknown"))


def _assets_moved(old: _Version, new: _Version) -> list[Row]:
    moved = []
    for asset in sorted(new.assets.keys() | old.assets.keys()):
        then, now = old.assets.get(asset), new.assets.get(asset)
        if then is None and now is not None:
            moved.append({"asset": asset, "how": "new", "why": f"{now['state']} from the start"})
        elif now is None and then is not None:
            moved.append(
                {"asset": asset, "how": "removed", "why": f"it was {then['state']} and is on no sheet any more"}
            )
        elif then is not None and now is not None:
            if then["status"] != now["status"]:
                moved.append({"asset": asset, "how": now["status"], "why": f"it was {then['status']}"})
            if then["has_unknown"] != now["has_unknown"]:
                how = "not assessable any more" if now["has_unknown"] else "assessable now"
                moved.append({"asset": asset, "how": how, "why": f"{then['state']} before, {now['state']} now"})
    return moved


def counts(found: Movement) -> dict[str, int]:
    """Return how many due dates and assets moved by each way, the ones that happened only."""
    ways: Sequence[str] = (*WAYS, *dict.fromkeys(found.assets["how"]))
    told = Counter([*found.dates["how"], *found.assets["how"]])
    return {way: told[way] for way in ways if told[way]}
