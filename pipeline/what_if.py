"""Trying a change on one asset beside the results as they are: what its state, dates and pressures would be.

Both sides come from the same steps: today's from the published results, the tried ones from a bench in memory. A trial
approves nothing and writes nothing; each change carries the evidence it would need before it could be real.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import duckdb
import pyarrow as pa

from pipeline.changes import KINDS, Change, check, put, said, thickness_on
from pipeline.reading import life_in_words
from pipeline.steps import all_steps
from pipeline.trial import Bench, Row, can_be_tried, put_rows, rows_of
from pipeline.units import show

NOT_AN_APPROVAL = (
    "A trial, not an approval: nothing is written, and nothing tried here counts until its evidence is on record."
)
_NONE = "—"
#: Due dates that an inspection on a day may come too late for.
INSPECTED = ("internal", "external", "thickness", "corroded area")
#: The tables from which both sides are read.
_SHOWN = ("result.asset", "result.component", "result.location", "result.due_date", "result.concern")


@dataclass(frozen=True)
class Side:
    """One side of a comparison: the asset's rows of the results (its rank left out: a trial ranks nobody)."""

    asset: Row
    components: list[Row]
    places: list[Row]
    due_dates: list[Row]
    concerns: list[Row]

    @property
    def governing_place(self) -> Row | None:
        """The place that sets the rank, else the one of the weakest component; None where there is none."""
        named = (self.asset["governing_component"], self.asset["governing_location"])
        return next((place for place in self.places if (place["component"], place["location"]) == named), None)


@dataclass(frozen=True)
class Stated:
    """A change in words, with the evidence it would need and where that is asked for."""

    words: str
    evidence: str
    reference: str


@dataclass(frozen=True)
class Line:
    """One thing compared, as people see it."""

    label: str
    today: str
    tried: str
    difference: str


@dataclass(frozen=True)
class Inspection:
    """A date instead of the interval: walls and pressures on it after once and twice the loss, and which due dates it
    comes after, with the days.

    `once` and `twice` hold a row for each place: component, location, t_mm, t_req_mm, mawp_mpa, is_below_required.
    The vessel's MAWP is the lowest of its places; None where one is not known, and then `unknown` says which.
    """

    on: date
    after_due: list[tuple[str, date, int]]
    once: list[Row]
    twice: list[Row]
    mawp_once_mpa: float | None
    mawp_twice_mpa: float | None
    unknown: list[str]


@dataclass(frozen=True)
class WhatIf:
    """Today's results and the tried ones of one asset."""

    name: str
    changes: tuple[Change, ...]
    stated: tuple[Stated, ...]
    today: Side
    tried: Side
    headline: str
    remarks: tuple[str, ...]
    inspection: Inspection | None


# ---- working it -----------------------------------------------------------------------------------------------------


def what_if(
    results: duckdb.DuckDBPyConnection, asset: str, changes: Sequence[Change], system: str, bench: Bench | None = None
) -> WhatIf:
    """Work an asset with changes beside its published results; sentences are in the unit system `system`.

    Raises Problem where the asset is unknown or a change cannot be tried. `bench` is the asset's own, where several
    trials share one.
    """
    if bench is None:
        with Bench(results, asset) as own:
            return what_if(results, asset, changes, system, own)
    check(results, asset, changes, system)
    today = side(results.cursor(), asset)
    as_of = results.execute("SELECT as_of FROM result.build").fetchall()[0][0]
    accepted = _held_for_growth(bench, changes, today)
    with bench.worked(lambda facts: put(facts, asset, changes, today.places, accepted), _SHOWN) as connection:
        tried = side(connection, asset)
        inspection = _inspection(connection, changes, tried)
        remarks = [
            *_remarks_on_pressure(changes, today, tried, system),
            *_remarks_on_joint_and_stress(connection, results, asset, changes),
            *_remarks_on_readings(connection, changes, accepted),
            *_remarks_on_rates(changes, tried, system),
            *_remarks_on_the_date(inspection, tried, as_of, system),
        ]
    return WhatIf(
        asset,
        tuple(changes),
        tuple(
            Stated(said(change, system), KINDS[change.kind].evidence, KINDS[change.kind].reference)
            for change in changes
        ),
        today,
        tried,
        _headline(asset, today, tried),
        tuple(remarks),
        inspection,
    )


def untried(results: duckdb.DuckDBPyConnection, asset: str) -> WhatIf:
    """Return an asset with nothing tried on it: its published results on both sides, and nothing worked.

    Raises Problem where there is no such asset.
    """
    can_be_tried(results, asset)
    today = side(results.cursor(), asset)
    return WhatIf(asset, (), (), today, today, _headline(asset, today, today), (), None)


def side(connection: duckdb.DuckDBPyConnection, asset: str) -> Side:
    """Return the rows of the results about one asset."""
    row = rows_of(connection, "SELECT * EXCLUDE (rank) FROM result.asset WHERE asset = ?", [asset])[0]
    return Side(
        row,
        rows_of(connection, "SELECT * FROM result.component WHERE asset = ? ORDER BY component", [asset]),
        rows_of(connection, "SELECT * FROM result.location WHERE asset = ? ORDER BY component, location", [asset]),
        rows_of(connection, "SELECT * FROM result.due_date WHERE asset = ? ORDER BY kind", [asset]),
        rows_of(
            connection,
            "SELECT * FROM result.concern WHERE asset = ? "
            "ORDER BY state_order, governing_on NULLS FIRST, margin NULLS LAST, kind, component, location",
            [asset],
        ),
    )


def _held_for_growth(bench: Bench, changes: Sequence[Change], today: Side) -> list[Change]:
    """Return the assumed readings that a build would hold until a person accepts them."""
    assumed = [change for change in changes if change.kind == "assumed reading"]
    if not assumed:
        return []
    with bench.worked(lambda facts: put(facts, bench.asset, changes, today.places), ["step.reading"]) as connection:
        held = {
            (row["component"], row["location"], row["read_on"])
            for row in rows_of(
                connection,
                "SELECT component, location, read_on FROM step.reading WHERE sheet = 'trial' AND held_for = 'growth'",
            )
        }
    return [change for change in assumed if (change.component, change.location, change.on) in held]


def walls_on(connection: duckdb.DuckDBPyConnection, places: Sequence[Row], on: date, losses: int) -> list[Row]:
    """Return each place on a day after once or twice the loss, on a bench whose steps have run: component, location,
    t_mm, t_req_mm, mawp_mpa, is_below_required.

    The pressure is worked by the step that works today's, at the wall of that day, and never above the rating; null
    where wall or rate is not known or no wall is left.
    """
    days_per_year = connection.execute("SELECT days_per_year FROM basis.in_force").fetchall()[0][0]
    walls = [
        {
            "component": place["component"],
            "location": place["location"],
            "t_mm": thickness_on(place, on, days_per_year, losses),
        }
        for place in places
    ]
    if not walls:
        return []
    schema = pa.schema([("component", pa.string()), ("location", pa.string()), ("t_mm", pa.float64())])
    connection.execute("CREATE TABLE step.wall (component VARCHAR, location VARCHAR, t_mm DOUBLE)")
    put_rows(connection, "step.wall", pa.Table.from_pylist(walls, schema))
    connection.execute("CREATE TABLE step.life_today AS FROM step.life")
    connection.execute(
        "UPDATE step.life SET t_act_mm = wall.t_mm FROM step.wall AS wall "
        "WHERE wall.component = life.component AND wall.location = life.location"
    )
    held = next(step.sql for step in all_steps() if step.table == "step.pressure_held")
    found = rows_of(
        connection,
        "SELECT component, location, wall.t_mm, required.t_req_mm, held.mawp_mpa, "
        "coalesce(wall.t_mm < required.t_req_mm, false) AS is_below_required "
        f"FROM step.wall AS wall LEFT JOIN ({held}) AS held USING (component, location) "
        "LEFT JOIN step.place_required AS required USING (component, location) ORDER BY component, location",
    )
    connection.execute("DELETE FROM step.life")
    connection.execute("INSERT INTO step.life FROM step.life_today")
    connection.execute("DROP TABLE step.life_today")
    connection.execute("DROP TABLE step.wall")
    return found


def _inspection(connection: duckdb.DuckDBPyConnection, changes: Sequence[Change], tried: Side) -> Inspection | None:
    on = next((change.on for change in changes if change.kind == "next inspection"), None)
    if on is None:
        return None
    once, twice = (walls_on(connection, tried.places, on, losses) for losses in (1, 2))
    after_due = [
        (row["kind"], row["due_on"], (on - row["due_on"]).days)
        for row in tried.due_dates
        if row["kind"] in INSPECTED and row["due_on"] is not None and row["due_on"] < on
    ]
    unknown = [f"{row['component']}, location {row['location']}" for row in twice if row["mawp_mpa"] is None]
    unread = [row["component"] for row in tried.components if row["places"] == 0]
    if not tried.components:
        unread = ["a vessel without any component on a component sheet"]
    return Inspection(
        on,
        after_due,
        once,
        twice,
        None if unread else lowest(once),
        None if unread else lowest(twice),
        [*unknown, *unread],
    )


def lowest(walls: Sequence[Row]) -> float | None:
    """Return the lowest MAWP of these places, in MPa; None where one is not known or there is none."""
    pressures = [row["mawp_mpa"] for row in walls]
    return None if not pressures or None in pressures else min(pressures)


# ---- saying it ------------------------------------------------------------------------------------------------------


def _headline(asset: str, today: Side, tried: Side) -> str:
    before, after = today.asset["state"], tried.asset["state"]
    if today == tried:
        return f"Nothing would change for {asset}."
    if before != after:
        return f"{asset} would be {_as_adjective(after)} instead of {_as_adjective(before)}."
    if (today.asset["due_on"], today.asset["due_kind"]) == (tried.asset["due_on"], tried.asset["due_kind"]):
        return f"{asset} would stay {_as_adjective(after)}, with the same due date."
    return f"{asset} would stay {_as_adjective(after)}; its dates would move."


def _as_adjective(state: str) -> str:
    return "deferred" if state == "deferred until" else state


def _remarks_on_pressure(changes: Sequence[Change], today: Side, tried: Side, system: str) -> list[str]:
    change = next((change for change in changes if change.kind in ("rerate", "lower pressure")), None)
    if change is None:
        return []
    remarks = []
    rating, wanted = today.asset["rating_pressure_mpa"], tried.asset["rating_pressure_mpa"]
    if rating is not None and wanted > rating:
        remarks.append(
            f"{show(wanted, 'pressure', system)} is above the rating of today, {show(rating, 'pressure', system)}: "
            "it is shown as a rerate to be worked for; until that is done the vessel's rating stands."
        )
    place = tried.governing_place
    if place is not None and place["governing_case"] not in (None, "internal pressure"):
        remarks.append(
            f"At {place['component']}, location {place['location']}, the {place['governing_case']} sets the required "
            "thickness: pressure alone does not lower it any further."
        )
    if tried.asset["relief_above_mawp"]:
        remarks.append(
            f"Set above the lowest MAWP that this would leave: relief device {tried.asset['relief_above_mawp']}. "
            "It would have to be reset first."
        )
    return remarks


def _remarks_on_joint_and_stress(
    connection: duckdb.DuckDBPyConnection,
    results: duckdb.DuckDBPyConnection,
    asset: str,
    changes: Sequence[Change],
) -> list[str]:
    columns = {
        "longitudinal efficiency": ("efficiency_longitudinal", "a joint efficiency above the joint's own"),
        "circumferential efficiency": ("efficiency_circumferential", "a joint efficiency above the joint's own"),
        "allowable stress": ("allowable_stress_mpa", "an allowable stress above the register's"),
    }
    remarks = []
    for change in changes:
        if change.kind not in columns:
            continue
        column, words = columns[change.kind]
        question = f"SELECT {column} FROM step.component WHERE asset = ? AND component = ?"
        before, after = (
            side.execute(question, [asset, change.component]).fetchall()[0][0]
            for side in (results.cursor(), connection)
        )
        if before is not None and after is not None and after > before:
            remarks.append(
                f"{change.component}: {words} is used in this trial alone; no result uses it before its evidence is on "
                "record."
            )
    return remarks


def _remarks_on_readings(
    connection: duckdb.DuckDBPyConnection, changes: Sequence[Change], accepted: Sequence[Change]
) -> list[str]:
    remarks = [
        f"{change.component}, location {change.location}: a reading that much thicker than the one before is held "
        "until a named person accepts it; the trial takes it as accepted."
        for change in accepted
    ]
    if any(change.kind == "assumed reading" for change in changes):
        remarks.extend(
            f"{row['component']}, location {row['location']}: the assumed reading does not count ({row['status']}"
            f"{': ' + row['flags'] if row['flags'] else ''})."
            for row in rows_of(
                connection,
                "SELECT component, location, status, flags FROM step.reading "
                "WHERE sheet = 'trial' AND status <> 'used' ORDER BY component, location",
            )
        )
    return remarks


def _remarks_on_rates(changes: Sequence[Change], tried: Side, system: str) -> list[str]:
    remarks = []
    for change in changes:
        if change.kind in ("radius basis", "rate policy", "rate floor", "reading scatter"):
            remarks.append(
                f"As a policy, the {KINDS[change.kind].label} would hold for every vessel of the plant; what it does "
                "to the others is not shown here."
            )
        if change.kind not in ("stated rate", "rate policy", "rate floor"):
            continue
        place = tried.governing_place
        if place is not None and place["margin"] is not None and place["margin"] < 0:
            remarks.append(
                f"{place['component']}, location {place['location']} is below its required thickness whatever the "
                "rate: another rate only moves the day in the past on which it got there."
            )
        if change.kind != "stated rate":
            continue
        for place in tried.places:
            if place["component"] != change.component or change.location not in (None, place["location"]):
                continue
            where = f"{place['component']}, location {place['location']}"
            if place["rate_choice_refused"]:
                remarks.append(f"{where}: the rate does not count: {place['rate_choice_refused']}.")
            elif place["rate_floor_applied"]:
                remarks.append(
                    f"{where}: the plant's lowest rate, {show(place['rate_mm_per_year'], 'rate', system)}, is used."
                )
            by_policy = place["rate_by_policy_mm_per_year"]
            if (
                by_policy is not None
                and place["rate_mm_per_year"] is not None
                and place["rate_mm_per_year"] < by_policy
            ):
                remarks.append(
                    f"{where}: lower than the rate by the plant's policy, {show(by_policy, 'rate', system)}: the "
                    "reason must say why the readings overstate the loss."
                )
    return remarks


def _remarks_on_the_date(inspection: Inspection | None, tried: Side, as_of: date, system: str) -> list[str]:
    if inspection is None:
        return []
    on = inspection.on.isoformat()
    remarks = [
        f"{on} lies {days:,} {'day' if days == 1 else 'days'} after the {kind} due date, {due.isoformat()}: "
        + (
            "that date has passed, and no deferral approved now would cover it."
            if due <= as_of
            else "it needs a deferral approved before that date."
        )
        for kind, due, days in inspection.after_due
    ]
    if not inspection.after_due:
        remarks.append(f"{on} does not lie after an internal, external or thickness due date.")
    for words, walls in (("once", inspection.once), ("twice", inspection.twice)):
        below = [f"{row['component']} {row['location']}" for row in walls if row["is_below_required"]]
        if below:
            remarks.append(f"Below the required thickness on {on} after {words} the loss: {', '.join(below)}.")
    rating = tried.asset["rating_pressure_mpa"]
    if inspection.mawp_twice_mpa is not None and rating is not None and inspection.mawp_twice_mpa < rating:
        remarks.append(
            f"After twice the loss the vessel would hold {show(inspection.mawp_twice_mpa, 'pressure', system)} on "
            f"{on}, less than its rating of {show(rating, 'pressure', system)}: the interval is too long for that "
            "pressure."
        )
    if inspection.unknown:
        remarks.append(f"Not known on {on}: the pressure that {'; '.join(inspection.unknown)} would hold.")
    return remarks


def lines(trial: WhatIf, system: str) -> dict[str, list[Line]]:
    """Return both sides with their differences as people of a unit system see them, by group."""
    today, tried = trial.today, trial.tried
    return {
        "standing": [
            _words("state", _state(today), _state(tried)),
            _words("why", today.asset["reason"], tried.asset["reason"]),
        ],
        "governing place": _place_lines(today.governing_place, tried.governing_place, system),
        "dates": [*_date_lines(today, tried)],
        "pressure": [
            _number(label, today.asset[column], tried.asset[column], "pressure", system)
            for label, column in (
                ("rating pressure", "rating_pressure_mpa"),
                ("lowest MAWP now", "mawp_mpa"),
                ("lowest MAWP at the next inspection", "mawp_next_mpa"),
            )
        ],
    }


def component_lines(trial: WhatIf, system: str) -> list[Row]:
    """Return each component on both sides, as people of a unit system see it: state, required thickness, rate, life,
    MAWP now. Those whose state would change come first."""
    tried = {row["component"]: row for row in trial.tried.components}
    found = []
    for before in trial.today.components:
        after = tried[before["component"]]
        found.append(
            {
                "component": before["component"],
                "changed": _essence(before) != _essence(after),
                **{
                    f"{name}_{when}": shown
                    for when, row in (("today", before), ("tried", after))
                    for name, shown in (
                        ("state", row["state"]),
                        ("held", row["held_readings"]),
                        ("t_req", show(row["t_req_mm"], "thickness", system)),
                        ("rate", show(row["rate_mm_per_year"], "rate", system)),
                        ("life", life_in_words(row, system)),
                        ("mawp", show(row["mawp_mpa"], "pressure", system)),
                    )
                },
            }
        )
    return sorted(found, key=lambda row: (row["state_today"] == row["state_tried"], not row["changed"]))


def _essence(row: Row) -> tuple[object, ...]:
    names = ("state", "t_act_mm", "t_req_mm", "rate_mm_per_year", "remaining_life_years", "retirement_on", "mawp_mpa")
    return tuple(row[name] for name in names)


def _state(shown: Side) -> str:
    held = shown.asset["held_readings"]
    return f"{shown.asset['state']}, {held} held" if held else str(shown.asset["state"])


def _place_lines(today: Row | None, tried: Row | None, system: str) -> list[Line]:
    if today is None and tried is None:
        return []
    before, after = today or {}, tried or {}
    numbers = (
        ("last reading", "t_act_mm", "thickness"),
        ("required thickness", "t_req_mm", "thickness"),
        ("governing rate", "rate_mm_per_year", "rate"),
    )
    found = [
        _words("governing place", _place_name(today), _place_name(tried)),
        *(_number(label, before.get(column), after.get(column), kind, system) for label, column, kind in numbers),
        _words("set by", before.get("governing_case") or _NONE, after.get("governing_case") or _NONE),
        _percent("margin over required", before.get("margin"), after.get("margin")),
    ]
    life_before, life_after = (life_in_words(row, system) if row else _NONE for row in (today, tried))
    change = _number(
        "remaining life there",
        before.get("remaining_life_years"),
        after.get("remaining_life_years"),
        "duration",
        system,
    )
    difference = change.difference if life_before != life_after else "no change"
    found.append(Line(change.label, life_before, life_after, difference))
    found.append(_date("retirement date there", before.get("retirement_on"), after.get("retirement_on")))
    return found


def _place_name(place: Row | None) -> str:
    return _NONE if place is None else f"{place['component']}, location {place['location']}"


_DUE_LABELS = {
    "internal": "internal or on-stream due",
    "external": "external due",
    "thickness": "thickness survey due",
    "corroded area": "corroded area due",
    "relief device": "relief device due",
    "recommendation": "recommendation due",
}


def _date_lines(today: Side, tried: Side) -> list[Line]:
    before = {row["kind"]: row["due_on"] for row in today.due_dates}
    after = {row["kind"]: row["due_on"] for row in tried.due_dates}
    kinds = [kind for kind in _DUE_LABELS if kind in before or kind in after]
    return [
        *(_date(_DUE_LABELS[kind], before.get(kind), after.get(kind)) for kind in kinds),
        _date("earliest retirement date", today.asset["retirement_on"], tried.asset["retirement_on"]),
    ]


def _words(label: str, today: str, tried: str) -> Line:
    return Line(label, today, tried, "no change" if today == tried else "changed")


def _date(label: str, today: date | None, tried: date | None) -> Line:
    if today is not None and tried is not None:
        days = (tried - today).days
        size = f"{abs(days):,} {'day' if abs(days) == 1 else 'days'}"
        difference = "no change" if days == 0 else f"{size} {'later' if days > 0 else 'earlier'}"
    else:
        difference = _one_sided(today, tried)
    return Line(label, today.isoformat() if today else _NONE, tried.isoformat() if tried else _NONE, difference)


def _number(label: str, today: float | None, tried: float | None, kind: str, system: str) -> Line:
    shown = (show(today, kind, system), show(tried, kind, system))
    if today is not None and tried is not None:
        size = show(abs(tried - today), kind, system)
        difference = "no change" if shown[0] == shown[1] else f"{'+' if tried > today else '−'}{size}"
    else:
        difference = _one_sided(today, tried)
    return Line(label, *shown, difference)


def _percent(label: str, today: float | None, tried: float | None) -> Line:
    shown = [_NONE if value is None else f"{value:.1%}".replace("-", "−") for value in (today, tried)]
    if today is not None and tried is not None:
        points = f"{abs(tried - today) * 100:.1f} points"
        difference = "no change" if shown[0] == shown[1] else f"{'+' if tried > today else '−'}{points}"
    else:
        difference = _one_sided(today, tried)
    return Line(label, shown[0], shown[1], difference)


def _one_sided(today: object, tried: object) -> str:
    if today is None and tried is None:
        return "no change"
    return "known then" if today is None else "none then"
