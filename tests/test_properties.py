"""What must hold of whole plants, whatever stands in them: worse input is never later, units and order change nothing.

A fleet of random vessels of every kind is written into spreadsheets and built. Beside each vessel stand copies of it
with one datum made worse, so that one build compares hundreds of pairs. Another build of the same fleet differs in one
thing that must not matter: the units, the order of rows and files, the vessels around, the as-of date.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from pipeline.run import build
from pipeline.steps import all_steps
from tests.plants import write_workbook

#: The fleet that is built again with one thing changed; a build takes seconds, so there is one of it.
SEED, COUNT = 26, 32

AS_OF, LATER = date(2024, 6, 1), date(2036, 1, 1)
PSI = 0.45359237 * 9.80665 / 25.4**2  # MPa
Row = dict[str, Any]


# ---- a random vessel ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Vessel:
    """A vessel with one component and one place; mm, MPa, mm/year. None leaves the cell empty."""

    name: str
    kind: str
    P: float
    D: float | None
    t_nom: float
    S: float
    E: float
    E_c: float
    readings: tuple[tuple[date, float], ...]
    inspections: tuple[tuple[str, date, str | None], ...]
    CA: float = 3.0
    service: str = "Hydrocarbon liquid"
    depth: float | None = None
    L: float | None = None
    r: float | None = None
    alpha: float | None = None
    C: float | None = None
    nps: float | None = None
    side: str = "inside"
    sg: float | None = None
    liquid: float | None = None
    structural: float | None = None
    external: float | None = None
    modulus: float = 190_000.0
    yield_strength: float = 210.0
    unsupported: float | None = 3000.0
    stated: float | None = None
    distance: float | None = None
    zone: str | None = None
    set_interval: tuple[float, str | None, str | None, date | None] | None = None


KINDS = (
    "cylinder",
    "sphere",
    "hemispherical head",
    "ellipsoidal head",
    "torispherical head",
    "cone",
    "flat head",
    "nozzle",
)
#: Nominal pipe size and outside diameter in inches (ASME B36.10M).
PIPES = ((2.0, 2.375), (4.0, 4.5), (6.0, 6.625), (10.0, 10.75))
SERVICES = ("Hydrocarbon liquid", "Boiler steam", "Amine", None)


def draw_vessel(name: str, kind: str, pick: random.Random) -> Vessel:
    """Draw a vessel whose wall needs something like a third to nine tenths of its nominal thickness."""
    S, E, E_c = pick.uniform(80, 170), pick.choice((0.7, 0.85, 1.0)), pick.choice((0.45, 0.85, 1.0))
    D, thick = pick.uniform(500, 4000), pick.random() < 0.12
    t_nom = D * (pick.uniform(0.2, 0.45) if thick else pick.uniform(0.008, 0.03))
    load = pick.uniform(0.3, 0.9)
    more: dict[str, Any] = {}
    if kind == "nozzle":
        nps, outside = pick.choice(PIPES)
        t_nom = pick.uniform(6, 14)
        D = outside * 25.4 - 2 * t_nom
        more["nps"] = nps
    y = 2 * t_nom / D
    P = load * S * E * y / (1 + 0.6 * y)
    if kind in ("sphere", "hemispherical head"):
        P = load * 2 * S * E * y / (1 + 0.2 * y)
    elif kind == "ellipsoidal head":
        x = pick.choice((1.7, 1.8, 2.0, 2.2))
        more["depth"] = D / 2 / x
        P = load * 2 * S * E * t_nom / ((2 + x**2) / 6 * D)
        more["zone"] = pick.choice(("crown", "knuckle", None))
    elif kind == "torispherical head":
        more["L"], more["r"] = D * pick.uniform(0.8, 1.0), D * pick.uniform(0.08, 0.17)
        P = load * 2 * S * E * t_nom / (1.6 * more["L"])
        more["zone"] = pick.choice(("crown", "knuckle", None))
    elif kind == "cone":
        more["alpha"] = pick.uniform(5, 28)
        P *= math.cos(math.radians(more["alpha"]))
    elif kind == "flat head":
        more["C"] = pick.uniform(0.17, 0.33)
        t_nom = D * pick.uniform(0.05, 0.12)
        P = load**2 * S * E * (t_nom / D) ** 2 / more["C"]
    if pick.random() < 0.3:
        more["sg"], more["liquid"] = pick.uniform(0.5, 1.3), pick.uniform(500, 4000)
    if pick.random() < 0.2:
        more["structural"] = t_nom * pick.uniform(0.2, 0.6)
    if pick.random() < 0.2 and kind not in ("cone", "flat head"):
        more["external"] = pick.uniform(0.02, 0.1)
    if pick.random() < 0.4:
        more["distance"] = pick.choice((0.0, 30.0, 80.0, 400.0))
    more["readings"] = draw_readings(t_nom, pick)
    if pick.random() < 0.3:
        more["stated"] = pick.uniform(0.02, 0.4)
    more["inspections"] = tuple(
        (inspection, date(2012, 1, 1) + timedelta(days=pick.randrange(4000)), counts)
        for inspection, counts in (("internal", None), ("external", None), ("on-stream", "yes"))
        if pick.random() < 0.6
    )
    if pick.random() < 0.15:
        documented = pick.random() < 0.5
        who = (f"RA-{name}", "Hollis Tranmere", date(2023, 1, 9)) if documented else (None, None, None)
        more["set_interval"] = (pick.choice((4.0, 12.0, 15.0)), *who)
    return Vessel(
        name=name,
        kind=kind,
        P=P,
        D=None if kind == "nozzle" else D,
        t_nom=t_nom,
        S=S,
        E=E,
        E_c=E_c,
        CA=pick.uniform(1, 4),
        service=pick.choice(SERVICES),
        side=pick.choice(("inside", "inside", "outside", "both")),
        modulus=pick.uniform(150_000, 205_000),
        yield_strength=pick.uniform(150, 350),
        unsupported=pick.uniform(500, 6000),
        **more,
    )


def draw_readings(t_nom: float, pick: random.Random) -> tuple[tuple[date, float], ...]:
    """None to five readings of a wall that never grows, in thousandths of a millimetre."""
    days = sorted(pick.sample(range(5800), pick.choice((0, 1, 2, 2, 3, 4, 5))))
    wall, rate, found = t_nom * pick.uniform(0.94, 1.0), pick.choice((0.0, 0.03, 0.1, 0.2, 0.4)), []
    for day in days:
        wall -= pick.uniform(0, 0.06) if found else 0
        left = max(wall - rate * day / 365.25, 0.45 * t_nom)
        found.append((date(2008, 1, 1) + timedelta(days=day), round(left, 3)))
    return tuple(found)


# ---- one datum made worse -------------------------------------------------------------------------------------------


def _thinner(vessel: Vessel) -> Vessel | None:
    if not vessel.readings:
        return None
    *before, (day, wall) = vessel.readings
    return replace(vessel, readings=(*before, (day, round(wall - 0.05 * vessel.t_nom, 3))))


def _faster(vessel: Vessel) -> Vessel | None:
    if len(vessel.readings) >= 2:
        (day, wall), *after = vessel.readings
        return replace(vessel, readings=((day, round(wall + 0.06 * vessel.t_nom, 3)), *after))
    return None if vessel.stated is None else replace(vessel, stated=vessel.stated * 1.6)


def _squeezed(vessel: Vessel) -> Vessel | None:
    if vessel.kind in ("cone", "flat head"):
        return None
    return replace(vessel, external=(vessel.external or 0.05) * 1.4)


def _crown_flatter(vessel: Vessel) -> Vessel | None:
    if vessel.L is None or vessel.D is None or vessel.r is None or vessel.L * 1.03 > vessel.D:
        return None
    return replace(vessel, L=vessel.L * 1.03)


def _inspected_earlier(vessel: Vessel) -> Vessel:
    moved = ((kind, day - timedelta(days=300), counts) for kind, day, counts in vessel.inspections)
    return replace(vessel, inspections=tuple(moved))


#: What is made worse, how, and whether the required thickness must stay the very same.
WORSE: dict[str, tuple[Callable[[Vessel], Vessel | None], bool]] = {
    "pressure higher": (lambda v: replace(v, P=v.P * 1.05), False),
    "stress lower": (lambda v: replace(v, S=v.S * 0.94), False),
    "joints weaker": (lambda v: replace(v, E=v.E * 0.9, E_c=v.E_c * 0.9), False),
    "wall thinner": (_thinner, True),
    "loss faster": (_faster, True),
    "bore wider": (lambda v: None if v.D is None else replace(v, D=v.D * 1.03), False),
    "liquid higher": (lambda v: replace(v, sg=v.sg or 0.9, liquid=(v.liquid or 0) + 2500), False),
    "structural minimum higher": (lambda v: replace(v, structural=(v.structural or 0.3 * v.t_nom) * 1.2), False),
    "external pressure higher": (_squeezed, False),
    "modulus and yield lower": (
        lambda v: replace(v, modulus=v.modulus * 0.9, yield_strength=v.yield_strength * 0.9),
        False,
    ),
    "supports farther apart": (lambda v: replace(v, unsupported=(v.unsupported or 0) * 1.5), False),
    "weld distance not known": (lambda v: None if v.distance is None else replace(v, distance=None), False),
    "head zone not known": (lambda v: None if v.zone is None else replace(v, zone=None), False),
    "cone steeper": (lambda v: None if v.alpha is None else replace(v, alpha=v.alpha + 1.5), False),
    "flat head factor larger": (lambda v: None if v.C is None else replace(v, C=v.C * 1.1), False),
    "crown flatter": (_crown_flatter, False),
    "knuckle sharper": (lambda v: None if v.r is None else replace(v, r=v.r * 0.95), False),
    "service not known": (lambda v: replace(v, service=None), False),
    "inspected earlier": (_inspected_earlier, True),
}


def draw_fleet(seed: int, count: int) -> list[Vessel]:
    """The same seed and count give the same fleet."""
    pick = random.Random(seed)
    return [draw_vessel(f"V-{number:03d}", KINDS[number % len(KINDS)], pick) for number in range(count)]


def with_worse(fleet: Iterable[Vessel]) -> list[Vessel]:
    """Return the vessels and beside each its copies, named `V-001/2` for the third way of WORSE."""
    found = []
    for vessel in fleet:
        found.append(vessel)
        for number, (change, _) in enumerate(WORSE.values()):
            changed = change(vessel)
            if changed is not None:
                found.append(replace(changed, name=f"{vessel.name}/{number}"))
    return found


# ---- spreadsheets and builds ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Units:
    """How a plant writes its numbers: heading and how many of the unit one millimetre and one megapascal are."""

    length: str
    pressure: str
    rate: str
    per_mm: float
    per_mpa: float


SI = Units("mm", "MPa", "mm/year", 1.0, 1.0)
US = Units("in", "psi", "in/year", 1 / 25.4, 1 / PSI)


@dataclass
class Sheets:
    """Rows by sheet, the heading first."""

    units: Units
    rows: dict[str, list[tuple]] = field(default_factory=dict)

    def add(self, vessel: Vessel, in_service: date = date(2006, 3, 1)) -> None:
        units = self.units

        def mm(number: float | None) -> float | None:
            return None if number is None else number * units.per_mm

        def mpa(number: float | None) -> float | None:
            return None if number is None else number * units.per_mpa

        def put(sheet: str, **cells: Any) -> None:
            rows = self.rows.setdefault(sheet, [tuple(self.heading(name) for name in cells)])
            rows.append(tuple(cells.values()))

        put("register", Asset=vessel.name, Service=vessel.service, In_service=in_service, MAWP__p=mpa(vessel.P))
        put(
            "parts",
            Asset=vessel.name,
            Component="Part",
            Kind=vessel.kind,
            Material="Steel",
            Inside_diameter__l=mm(vessel.D),
            Nominal_thickness__l=mm(vessel.t_nom),
            Corrosion_allowance__l=mm(vessel.CA),
            Allowable_stress__p=mpa(vessel.S),
            E_long=vessel.E,
            E_circ=vessel.E_c,
            Head_depth__l=mm(vessel.depth),
            Crown_radius__l=mm(vessel.L),
            Knuckle_radius__l=mm(vessel.r),
            Half_apex_angle=vessel.alpha,
            Flat_head_factor=vessel.C,
            Nominal_pipe_size=vessel.nps,
            Loss_side=vessel.side,
            Specific_gravity=vessel.sg,
            Liquid_head__l=mm(vessel.liquid),
            Structural_minimum__l=mm(vessel.structural),
            External_pressure__p=mpa(vessel.external),
            Elastic_modulus__p=mpa(vessel.modulus),
            Yield_strength__p=mpa(vessel.yield_strength),
            Unsupported_length__l=mm(vessel.unsupported),
            Stated_corrosion_rate__r=mm(vessel.stated),
        )
        put(
            "places",
            Asset=vessel.name,
            Component="Part",
            Location="1",
            Distance_to_weld__l=mm(vessel.distance),
            Head_zone=vessel.zone,
        )
        for day, wall in vessel.readings:
            put("survey", Asset=vessel.name, Component="Part", Location="1", Date=day, Thickness__l=mm(wall))
        for kind, day, counts in vessel.inspections:
            put("visits", Asset=vessel.name, Kind=kind, Date=day, Result="sound", In_place_of_internal=counts)
        if vessel.set_interval is not None:
            years, assessment, who, day_set = vessel.set_interval
            put(
                "set intervals",
                Asset=vessel.name,
                Kind="internal",
                Interval=f"{years:g} years",
                Assessment=assessment,
                Approved_by=who,
                Approved_on=day_set,
            )

    def heading(self, name: str) -> str:
        """`Head_depth__l` is "Head depth (mm)" or "Head depth (in)"."""
        words, _, unit = name.partition("__")
        named = {"l": self.units.length, "p": self.units.pressure, "r": self.units.rate}
        return words.replace("_", " ") + (f" ({named[unit]})" if unit else "")


def sheets_of(fleet: Iterable[Vessel], units: Units = SI) -> dict[str, list[tuple]]:
    sheets = Sheets(units)
    for vessel in fleet:
        sheets.add(vessel)
    return sheets.rows


RESULTS = ("location", "component", "asset", "due_date")
#: The columns that make a row of each result unique.
KEYS = {step.table.removeprefix("result."): step.grain for step in all_steps() if step.table.startswith("result.")}
MEANING = {step.table.removeprefix("result."): step.columns for step in all_steps()}


@dataclass(frozen=True)
class Results:
    """The result tables of one build: rows by key."""

    tables: dict[str, dict[tuple, Row]]

    def place(self, name: str) -> Row:
        return self.tables["location"][name, "Part", "1"]

    def asset(self, name: str) -> Row:
        return self.tables["asset"][(name,)]


def built(books: Sequence[dict[str, list[tuple]]], as_of: date = AS_OF, basis: str = "") -> Results:
    """Write each mapping of sheets as a workbook, build the folder, and read its results."""
    with TemporaryDirectory() as place:
        folder = Path(place)
        for number, sheets in enumerate(books):
            write_workbook(folder / f"book {number}.xlsx", sheets)
        (folder / "basis.toml").write_text(basis, encoding="utf-8")
        with duckdb.connect(str(build(folder, as_of=as_of).database.resolve()), read_only=True) as connection:
            tables = {}
            for table in RESULTS:
                cursor = connection.execute(f"SELECT * FROM result.{table}")
                names = [column[0] for column in cursor.description]
                rows = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
                tables[table] = {tuple(row[key] for key in KEYS[table]): row for row in rows}
    return Results(tables)


@pytest.fixture(scope="module")
def fleet() -> list[Vessel]:
    return draw_fleet(SEED, COUNT)


@pytest.fixture(scope="module")
def plain(fleet: list[Vessel]) -> Results:
    """The fleet in SI units, one workbook, rows in order."""
    return built([sheets_of(fleet)])


# ---- worse input ----------------------------------------------------------------------------------------------------

#: Of a place: what may only grow, only shrink, or never lie later, as an input gets worse.
NEVER_SMALLER = ("t_req_mm", "t_req_weld_mm", "t_req_away_mm")
NEVER_LARGER = ("margin", "interval_years", "internal_interval_years", "holding_pressure_mpa")
NEVER_LATER = ("due_on", "internal_due_on")
ASSET_DATES = ("internal_due_on", "external_due_on", "thickness_due_on")
LAST_DIGITS = 1e-10


@settings(max_examples=2, deadline=None, derandomize=True, database=None, phases=[Phase.generate])
@given(seed=st.integers(1, 10**9))
def test_worse_input_never_gives_a_later_date(seed: int) -> None:
    """Each pair of a vessel and its copy with one datum worse, in the direction that datum must work."""
    fleet = draw_fleet(seed, 16)
    results = built([sheets_of(with_worse(fleet))])
    ways, compared, faults = list(WORSE), dict.fromkeys(WORSE, 0), []
    for vessel in fleet:
        for number, way in enumerate(ways):
            copy = f"{vessel.name}/{number}"
            if (copy, "Part", "1") in results.tables["location"]:
                compared[way] += 1
                faults += [f"{way}: {fault}" for fault in turned_better(results, vessel.name, copy, WORSE[way][1])]
    assert not faults, "\n".join(faults)
    assert all(compared.values()), compared
    assert sum(results.place(vessel.name)["due_on"] is not None for vessel in fleet) >= 12  # most pairs say something


def turned_better(results: Results, name: str, copy: str, same_requirement: bool) -> list[str]:
    """Return what the copy with the worse datum has better than the vessel itself."""
    good, bad = results.place(name), results.place(copy)
    found = []

    def check(column: str, is_better: bool) -> None:
        if is_better:
            found.append(f"{name}: {column} goes from {good[column]} to {bad[column]}")

    for column in NEVER_SMALLER:
        if good[column] is not None and bad[column] is not None:
            check(column, bad[column] < good[column] * (1 - LAST_DIGITS))
            check(column, same_requirement and bad[column] != good[column])
    for column in NEVER_LARGER:
        if good[column] is not None and bad[column] is not None:
            check(column, bad[column] > good[column] + LAST_DIGITS * abs(good[column]))
    for column in NEVER_LATER:
        if good[column] is not None and bad[column] is not None:
            check(column, bad[column] > good[column])
    # What is lost may not be lost silently: without a date there is a word for what is missing.
    check("due_on", good["due_on"] is not None and bad["due_on"] is None and bad["missing"] is None)
    # Below the required thickness the life is negative: faster loss means that it was reached later, and no more.
    if good["remaining_life_years"] is not None and bad["remaining_life_years"] is not None:
        check("remaining_life_years", bad["remaining_life_years"] > max(good["remaining_life_years"], 0) + LAST_DIGITS)
    if good["retirement_on"] is not None and bad["retirement_on"] is not None:
        check("retirement_on", bad["retirement_on"] > max(good["retirement_on"], good["read_on"]))
    rating, worse_rating = results.asset(name)["rating_pressure_mpa"], results.asset(copy)["rating_pressure_mpa"]
    if good["mawp_mpa"] is not None and bad["mawp_mpa"] is not None:
        check("mawp_mpa", bad["mawp_mpa"] / worse_rating > good["mawp_mpa"] / rating * (1 + LAST_DIGITS))
    before, after = results.asset(name), results.asset(copy)
    missing = {row["due_missing"] for key, row in results.tables["due_date"].items() if key[0] in (name, copy)}
    for column in ASSET_DATES:
        both = missing == {None} and before[column] is not None and after[column] is not None
        if both and after[column] > before[column]:
            found.append(f"{name}: {column} of the asset goes from {before[column]} to {after[column]}")
    return found


# ---- what must not matter -------------------------------------------------------------------------------------------


#: Where the row stood, and what depends on the other vessels by its meaning.
PLACES = ("file", "sheet", "cell", "record")
OF_THE_FLEET = ("rank", "similar_")


def differences(one: Results, other: Results, skip: Callable[[str, str], bool], relative: float = 0.0) -> list[str]:
    """Return every value of `one` that differs in `other`, for rows that both hold."""
    found = []
    for table, rows in one.tables.items():
        for key, row in rows.items():
            twin = other.tables[table].get(key)
            if twin is None:
                continue
            for column, number in row.items():
                if skip(table, column) or column in PLACES:
                    continue
                if not same(number, twin.get(column), relative):
                    found.append(f"{table} {key} {column}: {number!r} and {twin.get(column)!r}")
    return found


def same(one: Any, other: Any, relative: float) -> bool:
    if isinstance(one, float) and isinstance(other, float) and relative:
        # Differences of two numbers (margins, lives near zero) keep the digits of the numbers, not their own.
        return math.isclose(one, other, rel_tol=relative, abs_tol=relative)
    return bool(one == other)


def nothing(table: str, column: str) -> bool:
    return False


def of_the_fleet(table: str, column: str) -> bool:
    return column.startswith(OF_THE_FLEET)


def test_the_units_of_the_sheets_change_nothing(fleet: list[Vessel], plain: Results) -> None:
    """The plant in inches and psi: the same states, dates and words, and numbers to a part in a billion."""
    other = built([sheets_of(fleet, US)])
    assert other.tables["location"].keys() == plain.tables["location"].keys()
    assert differences(plain, other, nothing, 1e-9) == []


@settings(max_examples=1, deadline=None, derandomize=True, database=None, phases=[Phase.generate])
@given(pick=st.randoms(use_true_random=False))
def test_the_order_of_rows_sheets_and_files_changes_nothing(
    fleet: list[Vessel], plain: Results, pick: random.Random
) -> None:
    """Rows shuffled, sheets turned round and the survey spread over three files: the same to the last bit."""
    sheets = {name: [rows[0], *shuffled(rows[1:], pick)] for name, rows in sheets_of(fleet).items()}
    heading, *survey = sheets.pop("survey")
    books: list[dict[str, list[tuple]]] = [{"survey": [heading, *survey[part::3]]} for part in range(3)]
    books.insert(1, dict(reversed(sheets.items())))
    assert differences(plain, built(books), nothing) == []


def shuffled(rows: Sequence[tuple], pick: random.Random) -> list[tuple]:
    """Return the rows in another order: by keys drawn for them, which shrinks better than a shuffle does."""
    return [row for _, _, row in sorted((pick.random(), number, row) for number, row in enumerate(rows))]


def test_another_vessel_changes_nothing(fleet: list[Vessel], plain: Results) -> None:
    """Every second vessel alone: each comes out as among the others, but for its rank and what compares with others."""
    alone = built([sheets_of(fleet[1::2])])
    assert len(alone.tables["location"]) == COUNT / 2
    assert differences(alone, plain, of_the_fleet) == []


def depends_on_the_day(table: str, column: str) -> bool:
    """States, ranks and sentences may; numbers and dates may not, unless they count from the as-of date by meaning."""
    meaning = MEANING[table][column]
    return any(word in column for word in ("state", "rank", "reason", "governing")) or any(
        word in meaning for word in ("as-of", "turnaround", "governing place", "governing due date")
    )


def test_the_as_of_date_changes_states_but_no_number(fleet: list[Vessel], plain: Results) -> None:
    """Built again for a day twelve years later, with the same readings: every number and date stands."""
    later = built([sheets_of(fleet)], LATER)
    assert differences(plain, later, depends_on_the_day) == []
    states = [(row["state"], later.tables["location"][key]["state"]) for key, row in plain.tables["location"].items()]
    assert any(before != after for before, after in states)
    kept = {column for column in MEANING["location"] if not depends_on_the_day("location", column)}
    assert kept >= {"t_req_mm", "rate_mm_per_year", "due_on", "retirement_on", "mawp_mpa", "mawp_next_mpa"}


# ---- caps, continuity, the pressure the required wall holds ---------------------------------------------------------


def test_no_due_date_lies_beyond_its_cap_without_a_documented_interval(fleet: list[Vessel], plain: Results) -> None:
    """Ten years are 3652 whole days, five are 1826; only an assessment with approver and date goes beyond."""
    beyond = 0
    for vessel in fleet:
        place = plain.place(vessel.name)
        start = place["read_on"] or date(2006, 3, 1)
        assert place["due_on"] is None or place["due_on"] <= start + timedelta(days=3652), vessel
        documented = vessel.set_interval is not None and vessel.set_interval[1] is not None
        for kind, days in (("internal", 3652), ("external", 1826), ("thickness", 3652)):
            row = plain.tables["due_date"][vessel.name, kind]
            anchor = row["anchor_on"] or start
            if kind == "internal" and documented:
                beyond += row["due_on"] > anchor + timedelta(days=days)
                continue
            assert row["due_on"] is None or row["due_on"] <= anchor + timedelta(days=days), (vessel, kind)
    assert {vessel.set_interval is None or vessel.set_interval[1] is None for vessel in fleet} == {True, False}
    assert any(v.set_interval is not None and v.set_interval[0] > 10 and v.set_interval[1] is None for v in fleet)


#: Remaining lives about the places where the rule bends: 0, 2, 4 and 20 years.
LIVES = (
    -1.0,
    0.0,
    0.5,
    1.5,
    1.99,
    2.0,
    2.01,
    3.0,
    3.9,
    3.999,
    3.99999,
    4.0,
    4.00001,
    4.001,
    4.1,
    7.0,
    19.9,
    20.0,
    30.0,
)


def test_interval_and_mawp_through_a_build(fleet: list[Vessel], plain: Results) -> None:
    """Two roads in one build.

    A wall of 20 mm in 2010 and 0.25 mm/year of loss over 1461 days (4 years): 19 mm left; a structural minimum of
    19 - 0.25 RL sets the life. The interval is 0 up to RL = 0, then RL up to 2, 2 up to 4, RL/2 up to 10: due after
    floor(interval x 365.25) days, 730 on both sides of RL = 4.

    And each vessel of the fleet that internal pressure governs, read at just its required thickness: its MAWP is the
    rating pressure.
    """
    last = date(2014, 1, 1)
    swept = Vessel("", "sphere", 0.4, 1500, 22, 140, 1.0, 1.0, ((date(2010, 1, 1), 20.0), (last, 19.0)), ())
    lives = [replace(swept, name=f"L-{number:02d}", structural=19 - 0.25 * life) for number, life in enumerate(LIVES)]
    at_limit = []
    for vessel in fleet:
        row = plain.place(vessel.name)
        if row["governing_case"] == "internal pressure":
            readings = ((date(2010, 1, 1), row["t_req_mm"] + 1), (last, row["t_req_mm"]))
            at_limit.append(replace(vessel, readings=readings))
    results = built([sheets_of([*lives, *at_limit])])

    days = []
    for vessel, life in zip(lives, LIVES, strict=True):
        row = results.place(vessel.name)
        assert row["remaining_life_years"] == pytest.approx(life, abs=1e-9)
        wanted = 0.0 if life <= 0 else life if life <= 2 else 2.0 if life <= 4 else min(life / 2, 10.0)
        assert row["interval_years"] == pytest.approx(wanted, abs=1e-9)
        days.append((row["due_on"] - last).days)
        assert days[-1] in {math.floor(wanted * 365.25 - 1e-6), math.floor(wanted * 365.25 + 1e-6)}
    assert days == sorted(days)
    assert {found for found, life in zip(days, LIVES, strict=True) if 2 <= life <= 4.001} == {730}

    assert len({vessel.kind for vessel in at_limit}) >= 6
    for vessel in at_limit:
        row = results.place(vessel.name)
        assert row["t_act_mm"] == pytest.approx(row["t_req_mm"], rel=1e-15), vessel  # a workbook keeps 16 digits
        assert row["mawp_mpa"] == pytest.approx(vessel.P, rel=1e-9), vessel
        assert abs(row["margin"]) < 1e-15
        # The rating caps the MAWP and would hide a wall that is said to hold too much.
        head = 0.0 if vessel.sg is None or vessel.liquid is None else 0.433 * PSI / 304.8 * vessel.sg * vessel.liquid
        assert row["holding_pressure_mpa"] == pytest.approx(vessel.P + head, rel=1e-9), vessel
