"""What may be tried on an asset: each kind of change, how it is typed, what it does to the facts, and the evidence it
would need before it could be real.

A change is tried as facts: as the row of a register, a reading or an event that would be on record were it real. What
it means is then worked by the steps of every build.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import duckdb

from pipeline.basis import RADIUS_BASES, RATE_POLICIES
from pipeline.errors import Problem
from pipeline.formulas import FORMULAS
from pipeline.sheets import Intake
from pipeline.sheets.entries import ENTRIES
from pipeline.sheets.facts import Setting, read_quantity
from pipeline.sheets.headings import Column
from pipeline.sheets.values import Refused
from pipeline.trial import Row, put_facts
from pipeline.units import DISPLAY, UNITS, show

#: Where a sentence of the results names who chose a rate or accepted a reading that exists in the trial only.
TRIAL = "this trial"

_RERATE_EVIDENCE = (
    "A calculation by the manufacturer or an engineer of the owner, a current inspection that shows the vessel fit for "
    "it, a pressure test or an accepted substitute, relief devices reset to suit, a new nameplate or stamping overseen "
    "by the inspector, and the jurisdiction's agreement where it asks for one."
)


@dataclass(frozen=True)
class ChangeKind:
    """One kind of change: its name and label, what it is about (plant, asset, component, component or place, place),
    the quantity typed (its display kind and limits; None for a word or a date), the words it accepts, whether it has a
    date, and the evidence with its reference."""

    name: str
    label: str
    about: str
    quantity: str | None
    limits: str
    evidence: str
    reference: str
    words: tuple[str, ...] = ()
    dated: bool = False

    @property
    def names_component(self) -> bool:
        """A component must be named."""
        return self.about in ("component", "component or place", "place")


_KINDS = (
    ChangeKind("rerate", "rerate to a MAWP of", "asset", "pressure", "above zero", _RERATE_EVIDENCE, "API 510 8.2 (m)"),
    ChangeKind(
        "lower pressure",
        "limit the pressure to",
        "asset",
        "pressure",
        "above zero",
        "A limit below the rating is real only when it is documented as the vessel's MAWP (a rerate downwards), the "
        "relief devices are set to it, and nothing upstream can exceed it; operating lower is not enough.",
        "API 510 8.2 (m)",
    ),
    ChangeKind(
        "longitudinal efficiency",
        "joint efficiency, longitudinal",
        "component",
        "ratio",
        "above zero to one",
        "The radiographs or the manufacturer's data report that show the examination made; away from the welds, a "
        "measured distance to the nearest weld instead.",
        "API 510 7.4; VIII-1 UW-12",
    ),
    ChangeKind(
        "circumferential efficiency",
        "joint efficiency, circumferential",
        "component",
        "ratio",
        "above zero to one",
        "The radiographs or the manufacturer's data report that show the examination made; away from the welds, a "
        "measured distance to the nearest weld instead.",
        "API 510 7.4; VIII-1 UW-12",
    ),
    ChangeKind(
        "allowable stress",
        "allowable stress",
        "component",
        "stress",
        "above zero",
        "The stress table of the construction edition, for this material at its design temperature, named with its "
        "edition. The higher values of newer editions are not for vessels built to older ones; a rerate to them has "
        "conditions of its own.",
        "API 510 7.7, 8.2 (m)",
    ),
    ChangeKind(
        "weld distance",
        "distance to the nearest weld",
        "place",
        "length",
        "zero or more",
        "A tape measurement from the weld's toe to the place, recorded with name and date; a weld under paint or "
        "insulation is located first.",
        "API 510 7.4",
    ),
    ChangeKind(
        "assumed reading",
        "an assumed reading of",
        "place",
        "thickness",
        "above zero",
        "The reading itself, taken on that date by a qualified person and recorded. One thicker than the reading "
        "before by more than scatter explains is held until a named person accepts it.",
        "API 510 7.1; rule of this program",
        dated=True,
    ),
    ChangeKind(
        "stated rate",
        "a corrosion rate of",
        "component or place",
        "rate",
        "zero or more",
        "The choice of the inspector with a corrosion specialist, recorded with reason, name and date.",
        "API 510 7.1",
    ),
    ChangeKind(
        "restored thickness",
        "a wall restored to",
        "component or place",
        "thickness",
        "above zero",
        "A repair (insert plate or weld build-up) authorised by the inspector, and by the engineer where it is more "
        "than routine, before it begins; a written weld procedure and qualified welders, material that suits, the "
        "examination and, where asked for, a pressure test; new readings of every place of the component afterwards.",
        "API 510 8.1 (m); PCC-2 (m)",
        dated=True,
    ),
    ChangeKind(
        "radius basis",
        "radius in the formulas",
        "plant",
        None,
        "",
        "The plant's policy, decided for all its vessels by the owner's engineer and written into the basis.",
        "common practice",
        RADIUS_BASES,
    ),
    ChangeKind(
        "rate policy",
        "governing rate by policy",
        "plant",
        None,
        "",
        "The plant's policy, decided for all its vessels by inspector and corrosion specialist and written into the "
        "basis; for one vessel, a recorded choice of rate instead.",
        "API 510 7.1.1",
        RATE_POLICIES,
    ),
    ChangeKind(
        "rate floor",
        "lowest rate used",
        "plant",
        "rate",
        "zero or more",
        "The plant's policy, decided for all its vessels and written into the basis.",
        "common practice",
    ),
    ChangeKind(
        "reading scatter",
        "standard deviation of one reading",
        "plant",
        "thickness",
        "zero or more",
        "A trial of the plant's own gauges and people: repeated readings of known places, the standard deviation "
        "written into the basis.",
        "common practice",
    ),
    ChangeKind(
        "next inspection",
        "next inspection on",
        "asset",
        None,
        "",
        "Where the date lies after a due date: a deferral recorded before that due date, with who approved it, until "
        "when, the reason, and what was checked.",
        "API 510 6; rule of this program",
        dated=True,
    ),
)

KINDS: dict[str, ChangeKind] = {kind.name: kind for kind in _KINDS}

_POLICY_OF = {
    "radius basis": "radius_basis",
    "rate policy": "rate_policy",
    "rate floor": "rate_floor_mm_per_year",
    "reading scatter": "reading_scatter_mm",
}
_REGISTER_OF = {
    "rerate": ("assets", "mawp"),
    "lower pressure": ("assets", "mawp"),
    "longitudinal efficiency": ("components", "joint_efficiency_longitudinal"),
    "circumferential efficiency": ("components", "joint_efficiency_circumferential"),
    "allowable stress": ("components", "allowable_stress"),
    "weld distance": ("locations", "distance_to_weld"),
}


@dataclass(frozen=True)
class Change:
    """One change to be tried: a number in the unit kept inside (mm, MPa, mm/year, a bare ratio) or a word of the basis,
    where it applies, and its date where it has one."""

    kind: str
    value: float | str | None = None
    component: str | None = None
    location: str | None = None
    on: date | None = None


# ---- typing and saying ----------------------------------------------------------------------------------------------


def unit_typed(kind: str, system: str) -> str:
    """Return the unit a number is taken to have where none is typed; empty for a bare number, a word or a date."""
    quantity = KINDS[kind].quantity
    name = DISPLAY[system][quantity][0] if quantity else ""
    return "" if name == "-" else name


def number_typed(kind: str, text: str, system: str, as_of: date) -> float:
    """Return a number as typed, in the unit kept inside; the unit system's unit counts where none is typed.

    Read as a spreadsheet's cell is: `0.440`, `7/16`, `11.2 mm`. Raises Problem where it can be read in two ways, in no
    way, or lies outside its limits.
    """
    chosen = KINDS[kind]
    if chosen.quantity is None:
        raise Problem(f"{chosen.label}: takes no number")
    if not text.strip():
        raise Problem(f"{chosen.label}: type a number")
    reads_as = {"thickness": "length", "stress": "pressure"}.get(chosen.quantity, chosen.quantity)
    unit = UNITS[DISPLAY[system][chosen.quantity][0]]
    column = Column(chosen.label, "", reads_as, chosen.limits, "")
    fact = read_quantity(column, text.strip(), Setting(unit, "form", "", as_of, False, "the form"))
    if isinstance(fact, Refused):
        raise Problem(f"{chosen.label}: {fact.reason}")
    if fact.warnings and fact.unit_from != "cell":
        raise Problem(f"{chosen.label}: {'; '.join(fact.warnings)}")
    if fact.number is None:
        raise Problem(f"{chosen.label}: '{text.strip()}' is not a number: type the number")
    return fact.number


def said(change: Change, system: str) -> str:
    """Return a change in words, with its place, unit and date."""
    kind = KINDS[change.kind]
    words = [kind.label]
    if isinstance(change.value, str):
        words.append(change.value)
    elif change.value is not None and kind.quantity:
        words.append(show(change.value, kind.quantity, system))
    if change.on is not None:
        words.append(change.on.isoformat() if change.kind == "next inspection" else f"on {change.on.isoformat()}")
    if change.component:
        words.append(f"({change.component}{f', location {change.location}' if change.location else ''})")
    sentence = " ".join(words)
    return sentence[0].upper() + sentence[1:]


# ---- refusing -------------------------------------------------------------------------------------------------------


def check(results: duckdb.DuckDBPyConnection, asset: str, changes: Sequence[Change], system: str) -> None:
    """Raise Problem for the first change that cannot be tried: what, where, and what to do instead."""
    seen: set[tuple[str, str | None, str | None]] = set()
    as_of = results.execute("SELECT as_of FROM result.build").fetchall()[0][0]
    for change in changes:
        if change.kind not in KINDS:
            raise Problem(f"'{change.kind}' cannot be tried; it can be {', '.join(KINDS)}")
        _check_place(results, asset, change)
        _check_value(asset, change)
        if change.kind == "lower pressure":
            _check_not_above_rating(results, asset, change, system)
        if KINDS[change.kind].dated:
            _check_date(results, asset, change, as_of)
        repairs = {other.on for other in changes if other.kind == change.kind and other.component == change.component}
        if change.kind == "restored thickness" and len(repairs) > 1:
            raise Problem(f"{asset} {change.component}: is restored on two days; give one day for the whole component")
        same = (_REGISTER_OF.get(change.kind, (change.kind, ""))[1] or change.kind, change.component, change.location)
        if same in seen:
            raise Problem(
                f"{asset}: {KINDS[change.kind].label} is changed twice at one place; leave one of the two out"
            )
        seen.add(same)


def _check_place(results: duckdb.DuckDBPyConnection, asset: str, change: Change) -> None:
    kind = KINDS[change.kind]
    if kind.names_component and not change.component:
        raise Problem(f"{asset}: say which component {kind.label} is about")
    if kind.about == "place" and not change.location:
        raise Problem(f"{asset} {change.component}: say which location {kind.label} is about")
    if not kind.names_component and (change.component or change.location):
        raise Problem(f"{asset}: {kind.label} is about the whole {kind.about}; leave component and location out")
    if kind.about == "component" and change.location:
        raise Problem(f"{asset} {change.component}: {kind.label} is about the whole component; leave the location out")
    if change.component:
        known = [row[0] for row in _asked(results, "SELECT component FROM step.component WHERE asset = ?", asset)]
        if change.component not in known:
            raise Problem(f"{asset} {change.component}: there is no such component; it has {', '.join(sorted(known))}")
    if change.location:
        places = _asked(
            results, "SELECT location FROM step.place WHERE asset = ? AND component = ?", asset, change.component
        )
        if (change.location,) not in places:
            names = ", ".join(sorted(row[0] for row in places)) or "none"
            raise Problem(f"{asset} {change.component} {change.location}: there is no such location; known is {names}")


def _check_value(asset: str, change: Change) -> None:
    kind = KINDS[change.kind]
    where = f"{asset}{f' {change.component}' if change.component else ''}: {kind.label}"
    if kind.words:
        if change.value not in kind.words:
            raise Problem(f"{where} '{change.value}' is not accepted; it can be {', '.join(kind.words)}")
    elif kind.quantity is None:
        if change.value is not None:
            raise Problem(f"{where} takes a date and no number")
    elif isinstance(change.value, str) or change.value is None:
        raise Problem(f"{where}: give a number")
    elif not _within(change.value, kind.limits):
        raise Problem(f"{where} {change.value:g} is not {kind.limits}; correct it")


def _within(value: float, limits: str) -> bool:
    if not abs(value) < float("inf"):  # also where it is not a number at all
        return False
    if limits == "zero or more":
        return value >= 0.0
    return 0.0 < value <= 1.0 if limits == "above zero to one" else value > 0.0


def _check_not_above_rating(results: duckdb.DuckDBPyConnection, asset: str, change: Change, system: str) -> None:
    assert isinstance(change.value, float | int)
    rating = _asked(results, "SELECT rating_pressure_mpa FROM step.asset WHERE asset = ?", asset)[0][0]
    if rating is None:
        raise Problem(f"{asset}: has no rating pressure to stay below; try a rerate instead")
    tolerance = results.execute("SELECT same_value_tolerance FROM basis.in_force").fetchall()[0][0]
    if FORMULAS["exceeds"].evaluate({"P": change.value, "P_top": rating, "tol": tolerance}):
        raise Problem(
            f"{asset}: {show(change.value, 'pressure', system)} is above the rating of "
            f"{show(rating, 'pressure', system)}: a pressure above the rating is tried as a rerate only"
        )


def _check_date(results: duckdb.DuckDBPyConnection, asset: str, change: Change, as_of: date) -> None:
    kind = KINDS[change.kind]
    if change.on is None:
        raise Problem(f"{asset}: {kind.label} needs a date")
    if not date(1900, 1, 1) <= change.on <= date(2200, 12, 31):
        raise Problem(f"{asset}: {kind.label.removesuffix(' on')} on {change.on.isoformat()}: give a date before 2201")
    if change.kind == "next inspection":
        if change.on < as_of:
            raise Problem(
                f"{asset}: an inspection on {change.on.isoformat()} lies before the as-of date {as_of.isoformat()}; "
                "give a later date, or enter the inspection if it was made"
            )
        return
    last = _asked(
        results,
        "SELECT max(read_on) FROM step.measurement "
        "WHERE asset = ? AND component = ? AND coalesce(?, location) = location",
        asset,
        change.component,
        # A repair begins a new history of the whole component.
        None if change.kind == "restored thickness" else change.location,
    )[0][0]
    if last is not None and change.on <= last:
        raise Problem(
            f"{asset} {change.component}: {kind.label} on {change.on.isoformat()} does not lie after the last reading "
            f"there, of {last.isoformat()}; give a later date"
        )


def _asked(results: duckdb.DuckDBPyConnection, sql: str, *values: object) -> list[tuple]:
    return results.cursor().execute(sql, list(values)).fetchall()


# ---- making facts of it ---------------------------------------------------------------------------------------------


def put(
    connection: duckdb.DuckDBPyConnection,
    asset: str,
    changes: Sequence[Change],
    places: Sequence[Row],
    accepted: Iterable[Change] = (),
) -> None:
    """Change the facts on a bench.

    `places` are the asset's locations as published; `accepted` the assumed readings that a named person is taken to
    accept.
    """
    facts = Intake()
    tried_rates = {
        (change.component, change.location): change.value for change in changes if change.kind == "stated rate"
    }
    for change in changes:
        if change.kind in _POLICY_OF:
            _put_policy(connection, _POLICY_OF[change.kind], change.value)
        elif change.kind in _REGISTER_OF:
            _put_in_register(connection, facts, asset, change)
        elif change.kind == "assumed reading":
            _put_reading(facts, asset, change.component, change.location, change.on, change.value)
        elif change.kind == "stated rate":
            _put_rate(connection, facts, asset, change)
    restored = [change for change in changes if change.kind == "restored thickness"]
    for component in dict.fromkeys(change.component for change in restored):
        together = [change for change in restored if change.component == component]
        _put_restored(connection, facts, asset, together, places, tried_rates)
    put_facts(connection, facts)
    for change in accepted:
        connection.execute(
            "INSERT INTO fact.decision SELECT coalesce(max(seq), 0) + 1, ?, ?, ?, ?, ?, ?::DATE, ?, 'accept' "
            "FROM fact.decision",
            [TRIAL, "assumed", asset, change.component, change.location, change.on, change.value],
        )


def _put_policy(connection: duckdb.DuckDBPyConnection, key: str, value: float | str | None) -> None:
    connection.execute(f"UPDATE basis.in_force SET {key} = ?", [value])
    column = "word" if isinstance(value, str) else "number"
    connection.execute(f"UPDATE basis.policy SET {column} = ?, stated = true WHERE key = ?", [value, key])


def _put_in_register(connection: duckdb.DuckDBPyConnection, facts: Intake, asset: str, change: Change) -> None:
    sheet, field = _REGISTER_OF[change.kind]
    # What the register says of it steps back, in whatever words: a distance takes the place of the word "weld".
    replaced = [field, "weld_region"] if field == "distance_to_weld" else [field]
    connection.execute(
        "DELETE FROM fact.field WHERE kind = ? AND asset = ? AND component IS NOT DISTINCT FROM ? "
        "AND location IS NOT DISTINCT FROM ? AND list_contains(?, field)",
        [sheet, asset, _written(change.component), change.location, replaced],
    )
    _put_field(facts, sheet, asset, change, field, number=change.value)


def _put_rate(connection: duckdb.DuckDBPyConnection, facts: Intake, asset: str, change: Change) -> None:
    connection.execute(
        "DELETE FROM fact.field WHERE kind = 'rate choices' AND record IN (SELECT record FROM fact.field "
        "WHERE kind = 'rate choices' AND asset = ? AND component = ? AND (? IS NULL OR location = ?))",
        [asset, change.component, change.location, change.location],
    )
    as_of = connection.execute("SELECT as_of FROM basis.in_force").fetchall()[0][0]
    _put_choice(facts, asset, change, change.value, as_of)


def _put_choice(facts: Intake, asset: str, change: Change, rate: object, on: object) -> None:
    record = facts.next_record()
    for field, row in (
        ("rate_choice", {"word": "named rate"}),
        ("chosen_rate", {"number": rate}),
        ("chosen_by", {"word": TRIAL}),
        ("chosen_on", {"on_date": on}),
        ("reason", {"word": "tried"}),
    ):
        _put_field(facts, "rate choices", asset, change, field, record=record, **row)


def _put_restored(
    connection: duckdb.DuckDBPyConnection,
    facts: Intake,
    asset: str,
    changes: Sequence[Change],
    places: Sequence[Row],
    tried_rates: Mapping[tuple[str | None, str | None], object],
) -> None:
    """Begin a new history of one component on that day: the restored places at the new thickness, the others as thin as
    their rate has made them by then; all at the rate tried for them, else at their rate of today."""
    component, on = changes[0].component, changes[0].on
    assert on is not None
    days_per_year = connection.execute("SELECT days_per_year FROM basis.in_force").fetchall()[0][0]
    walls = {change.location: change.value for change in changes}
    whole = Change("restored thickness", component=component)
    record = facts.next_record()
    _put_field(facts, "events", asset, whole, "date", record=record, on_date=on)
    _put_field(facts, "events", asset, whole, "event", record=record, word="overlaid")
    for place in places:
        if place["component"] != component or place["t_act_mm"] is None:
            continue
        here = Change("restored thickness", component=component, location=place["location"])
        rate = tried_rates.get((component, here.location), tried_rates.get((component, None)))
        rate = place["rate_mm_per_year"] if rate is None else rate
        restored = walls.get(here.location, walls.get(None))
        wall = thickness_on(place, on, days_per_year) if restored is None else restored
        if wall is not None:
            _put_reading(facts, asset, component, here.location, on, wall)
        if rate is not None:
            _put_choice(facts, asset, here, rate, on)


def thickness_on(place: Row, on: date, days_per_year: float, losses: int = 1) -> float | None:
    """Return the thickness of a place on a day, in mm, after once or twice the loss since its last reading; None where
    its thickness or rate is not known. On or before the day of the reading nothing has been lost."""
    if place["t_act_mm"] is None or place["read_on"] is None:
        return None
    days = (on - place["read_on"]).days
    if days <= 0:
        return float(place["t_act_mm"])
    years = FORMULAS["years_between"].evaluate({"days": float(days), "y_d": days_per_year})
    worn = {"t_act": place["t_act_mm"], "C_r": place["rate_mm_per_year"], "years": years, "interval": years}
    return FORMULAS["thickness_after" if losses == 1 else "thickness_at_next"].evaluate(worn)


def _put_reading(
    facts: Intake, asset: str, component: str | None, location: str | None, on: date | None, wall: object
) -> None:
    number = facts.next_record()
    facts.add(
        "reading",
        record=number,
        asset=asset,
        component=_written(component),
        location=location,
        read_on=on,
        date_precision="day",
        thickness_mm=wall,
        text="assumed",
        file=ENTRIES,
        sheet="trial",
        cell=f"assumed {number}",
    )


def _put_field(
    facts: Intake, sheet: str, asset: str, change: Change, field: str, record: int | None = None, **row: object
) -> None:
    number = facts.next_record() if record is None else record
    facts.add(
        "field",
        kind=sheet,
        record=number,
        asset=asset,
        component=_written(change.component),
        location=change.location,
        field=field,
        text="tried",
        unreadable=False,
        file=ENTRIES,
        sheet="trial",
        cell=f"tried {number}",
        **row,
    )


def _written(component: str | None) -> str | None:
    """Return a component as facts have it: a place whose component no sheet states has none there."""
    return None if component == "(not stated)" else component
