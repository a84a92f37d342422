"""What becomes of a reading: used, held, superseded, rejected or before the epoch, from spreadsheets to results.

Expected values are worked out by hand from engineering basis 3. Every vessel has a nominal wall of 16 mm (4 mm where
the name says thin) and a structural minimum of 10 mm (2 mm) that sets the required thickness, so that the numbers here
are thicknesses and dates only. Readings lie on 1 January of leap years: 1461 days, exactly 4 years of 365.25 days.
The scatter of one reading is the default s = 0.10 mm; growth up to 2 sqrt(2) s = 0.282843 mm is noise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.errors import Problem
from pipeline.explain import explain
from pipeline.people import Identity
from pipeline.record import Decision, Record
from pipeline.run import build
from tests.plants import write_plant

AS_OF = date(2024, 7, 1)
Y04, Y08, Y12, Y16, Y20, Y24 = (date(year, 1, 1) for year in (2004, 2008, 2012, 2016, 2020, 2024))

REGISTER = ("Asset", "Service", "In service", "MAWP (MPa)", "Inside diameter (mm)")
PARTS = (
    "Asset",
    "Component",
    "Kind",
    "Nominal thickness (mm)",
    "Allowable stress (MPa)",
    "Joint efficiency",
    "Structural minimum (mm)",
)
READINGS = ("Asset", "Component", "Location", "Date", "Thickness (mm)")
EVENTS = ("Asset", "Component", "Date", "Event", "New thickness (mm)")

Row = dict[str, Any]
Event = tuple[str | None, date, str, float | None]


@dataclass(frozen=True)
class Case:
    """One vessel: its readings as (day, cell, expected status), and the last reading that counts."""

    name: str
    readings: tuple[tuple[date, float | str, str], ...]
    t_act_mm: float | None
    read_on: date | None
    nominal_mm: float | None = 16.0
    events: tuple[Event, ...] = ()
    held_for: str | None = None


U, H, S, B = "used", "held", "superseded", "before epoch"
GROWTH, MISTAKE, SAME_DAY = "growth", "likely mistake", "same-day conflict"

CASES = (
    # ---- growth: limit 0.282843 mm -----------------------------------------------------------------------------------
    Case("growth 0.28 is noise", ((Y16, 14.0, U), (Y20, 14.28, U)), 14.28, Y20),
    Case("growth 0.29 is held", ((Y16, 14.0, U), (Y20, 14.29, H)), 14.0, Y16, held_for=GROWTH),
    # The second is 0.10 above the held one, but 0.70 above the last used one.
    Case("two high in a row", ((Y12, 14.0, U), (Y16, 14.6, H), (Y20, 14.7, H)), 14.0, Y12, held_for=GROWTH),
    Case("low after a high", ((Y12, 14.0, U), (Y16, 14.6, H), (Y20, 13.8, U)), 13.8, Y20, held_for=GROWTH),
    Case("low after two high", ((Y08, 14.0, U), (Y12, 14.6, H), (Y16, 14.7, H), (Y20, 14.2, U)), 14.2, Y20),
    # Each step is noise against the one before it.
    Case("three small steps up", ((Y12, 14.0, U), (Y16, 14.2, U), (Y20, 14.4, U)), 14.4, Y20),
    # ---- more than one reading on a day ------------------------------------------------------------------------------
    Case("equal twice", ((Y16, 14.0, U), (Y20, 13.8, U), (Y20, 13.8, S)), 13.8, Y20),
    # 0.5 in is 12.7 mm exactly.
    Case("equal in two units", ((Y16, 14.0, U), (Y20, 12.7, U), (Y20, "0.5 in", S)), 12.7, Y20),
    Case("two values far apart", ((Y16, 14.0, U), (Y20, 13.9, U), (Y20, 15.0, H)), 13.9, Y20, held_for=SAME_DAY),
    # The rule has no tolerance: 0.05 mm apart is different.
    Case("two values near", ((Y16, 14.0, U), (Y20, 13.85, U), (Y20, 13.9, H)), 13.85, Y20, held_for=SAME_DAY),
    Case("three values", ((Y16, 14.0, U), (Y20, 13.9, U), (Y20, 13.9, S), (Y20, 14.1, H)), 13.9, Y20),
    Case("two values, both growth", ((Y16, 14.0, U), (Y20, 14.5, H), (Y20, 14.8, H)), 14.0, Y16),
    # The lower of the day is inches under a millimetre heading (15.7/25.4 = 0.618): no rival of the other.
    Case("mistake beside a reading", ((Y16, 15.8, U), (Y20, 0.618, H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),
    # ---- epochs ------------------------------------------------------------------------------------------------------
    Case(
        "replaced",
        ((Y08, 12.0, B), (Y16, 16.1, U), (Y20, 15.9, U)),
        15.9,
        Y20,
        events=(("Shell", Y12, "replaced", None),),
    ),
    Case(
        "replaced, thickness known",
        ((Y08, 12.0, B), (Y16, 15.8, U), (Y20, 15.7, U)),
        15.7,
        Y20,
        events=(("Shell", Y12, "replaced", 16.0),),
    ),
    Case(
        "whole asset replaced",
        ((Y08, 12.0, B), (Y16, 16.1, U), (Y20, 15.9, U)),
        15.9,
        Y20,
        events=((None, Y12, "replaced", None),),
    ),
    Case(
        "overlaid", ((Y08, 12.0, B), (Y16, 15.0, U)), 15.0, Y16, events=(("Shell", date(2012, 5, 3), "overlaid", None),)
    ),
    Case("re-baselined", ((Y08, 12.0, B), (Y16, 15.0, U)), 15.0, Y16, events=(("Shell", Y12, "re-baselined", None),)),
    Case(
        "change of service",
        ((Y08, 15.0, B), (Y16, 14.8, U)),
        14.8,
        Y16,
        events=((None, Y12, "change of service", None),),
    ),
    # A rerating changes the pressure, not the metal: the history goes on, and growth is still growth.
    Case(
        "rerated", ((Y08, 14.0, U), (Y16, 14.9, H)), 14.0, Y08, events=((None, Y12, "rerated", None),), held_for=GROWTH
    ),
    Case(
        "read on the day of the event",
        ((Y12, 12.0, B), (Y16, 16.0, U), (Y20, 15.8, U)),
        15.8,
        Y20,
        events=(("Shell", Y16, "replaced", None),),
    ),
    Case(
        "two epochs",
        ((Y04, 15.0, B), (Y12, 15.9, B), (Y20, 16.2, U)),
        16.2,
        Y20,
        events=(("Shell", Y08, "replaced", 16.0), ("Shell", Y16, "replaced", None)),
    ),
    Case("event elsewhere", ((Y08, 14.0, U), (Y16, 13.8, U)), 13.8, Y16, events=(("Head", Y12, "replaced", None),)),
    Case(
        "event to come",
        ((Y08, 14.0, U), (Y16, 13.8, U)),
        13.8,
        Y16,
        events=(("Shell", date(2025, 3, 1), "replaced", 16.0),),
    ),
    # Replaced and never read since: the old readings say nothing of the new wall.
    Case(
        "replaced and not read",
        ((Y08, 14.0, B), (Y16, 13.8, B)),
        None,
        None,
        events=(("Shell", Y20, "replaced", None),),
    ),
    # ---- likely mistakes: the ratio to the nominal thickness ---------------------------------------------------------
    Case("inches first", ((Y16, 0.62, H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),  # 15.75 mm / 25.4
    Case("inches later", ((Y16, 15.8, U), (Y20, 0.62, H)), 15.8, Y16, held_for=MISTAKE),
    Case("millimetres first", ((Y16, "15.8 in", H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),
    Case("millimetres later", ((Y16, 15.8, U), (Y20, "15.7 in", H)), 15.8, Y16, held_for=MISTAKE),
    Case("ten times first", ((Y16, 158, H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),
    Case("ten times later", ((Y16, 15.8, U), (Y20, 157, H)), 15.8, Y16, held_for=MISTAKE),
    Case("a tenth first", ((Y16, 1.58, H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),
    Case("a tenth later", ((Y16, 15.8, U), (Y20, 1.57, H)), 15.8, Y16, held_for=MISTAKE),
    Case("a thousand times first", ((Y16, 15800, H), (Y20, 15.7, U)), 15.7, Y20, held_for=MISTAKE),
    Case("a thousand times later", ((Y16, 15.8, U), (Y20, 15700, H)), 15.8, Y16, held_for=MISTAKE),
    Case("only a mistake", ((Y16, 0.62, H),), None, None, held_for=MISTAKE),
    Case("thin, doubled first", ((Y16, 7.9, H), (Y20, 3.9, U)), 3.9, Y20, nominal_mm=4.0, held_for=MISTAKE),
    Case("thin, doubled later", ((Y16, 3.95, U), (Y20, 7.8, H)), 3.95, Y16, nominal_mm=4.0, held_for=MISTAKE),
    # A thick wall does not double its echo: it is used when it is the first, and is growth later.
    Case("thick, twice first", ((Y16, 31.8, U), (Y20, 31.6, U)), 31.6, Y20),
    Case("thick, twice later", ((Y16, 15.9, U), (Y20, 31.7, H)), 15.9, Y16, held_for=GROWTH),
    # After a mistake is set aside, the next one is judged against the last used one.
    Case("growth after a mistake", ((Y12, 15.6, U), (Y16, 1.56, H), (Y20, 15.8, U)), 15.8, Y20, held_for=MISTAKE),
    # A new wall does not make the numbers on it plausible: 16 mm is the new thickness, or still the nominal one.
    Case(
        "new wall, ten times",
        ((Y08, 12.0, B), (Y16, 158, H), (Y20, 15.7, U)),
        15.7,
        Y20,
        events=(("Shell", Y12, "replaced", 16.0),),
        held_for=MISTAKE,
    ),
    Case(
        "new service, ten times",
        ((Y08, 15.9, B), (Y16, 158, H), (Y20, 157, H)),
        None,
        None,
        events=((None, Y12, "change of service", None),),
        held_for=MISTAKE,
    ),
    Case(
        "new wall, millimetres",
        ((Y08, 12.0, B), (Y16, "15.9 in", H), (Y20, 15.7, U)),
        15.7,
        Y20,
        events=(("Shell", Y12, "replaced", None),),
        held_for=MISTAKE,
    ),
    # ---- believed and flagged ----------------------------------------------------------------------------------------
    Case("low outlier", ((Y12, 15.0, U), (Y16, 14.9, U), (Y20, 11.0, U)), 11.0, Y20),
    Case("thicker than nominal", ((Y16, 16.9, U), (Y20, 16.7, U)), 16.7, Y20),
    Case("ordinary", ((Y12, 15.0, U), (Y16, 14.9, U), (Y20, 14.8, U)), 14.8, Y20),
    Case("not read yet", ((Y16, 14.0, U), (date(2024, 8, 1), 13.0, "")), 14.0, Y16),
)


def sheets(cases: tuple[Case, ...]) -> dict[str, list[tuple]]:
    """The sheets of a plant with a vessel for each case, inspected inside and outside in 2023."""
    register, parts, readings, events = [REGISTER], [PARTS], [READINGS], [EVENTS]
    inspections: list[tuple] = [("Asset", "Kind", "Date", "Result")]
    for case in cases:
        thin = case.nominal_mm == 4.0
        register.append((case.name, "Process gas", Y04, 0.2 if thin else 0.5, 1000))
        inspections += [(case.name, kind, date(2023, 7, 1), "sound") for kind in ("internal", "external")]
        minimum = 2.0 if thin else 10.0
        parts.append((case.name, "Shell", "cylinder", case.nominal_mm, 150, 1.0, minimum))
        readings.extend((case.name, "Shell", "1", day, cell) for day, cell, _ in case.readings)
        events.extend((case.name, *event) for event in case.events)
        if any(component == "Head" for component, *_ in case.events):
            parts.append((case.name, "Head", "hemispherical head", 16, 150, 1.0, 10))
            readings.append((case.name, "Head", "1", Y16, 15.0))
    return {"register": register, "parts": parts, "survey": readings, "events": events, "visits": inspections}


def rows(connection: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> list[Row]:
    """The rows of a query by column name."""
    cursor = connection.execute(sql, list(values))
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def results(folder: Path, as_of: date = AS_OF) -> duckdb.DuckDBPyConnection:
    """Build a folder and open its results."""
    return duckdb.connect(str(build(folder, as_of=as_of).database.resolve()), read_only=True)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    with results(write_plant(tmp_path_factory.mktemp("readings") / "plant", **sheets(CASES))) as connection:
        yield connection


def readings_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> list[Row]:
    return rows(
        connection,
        "SELECT * FROM result.reading WHERE asset = ? AND component = ? ORDER BY read_on, thickness_mm, status DESC",
        asset,
        component,
    )


def place_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> Row:
    (place,) = rows(connection, "SELECT * FROM result.location WHERE asset = ? AND component = ?", asset, component)
    return place


def asset_of(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.asset WHERE asset = ?", asset)
    return row


def component_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> Row:
    (row,) = rows(connection, "SELECT * FROM result.component WHERE asset = ? AND component = ?", asset, component)
    return row


def in_mm(cell: float | str) -> float:
    return float(cell.removesuffix(" in")) * 25.4 if isinstance(cell, str) else float(cell)


# ---- every case -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_reading_is_kept_with_its_status(plant: duckdb.DuckDBPyConnection, case: Case) -> None:
    expected = sorted((day, in_mm(cell), status) for day, cell, status in case.readings if status)
    found = sorted((row["read_on"], row["thickness_mm"], row["status"]) for row in readings_of(plant, case.name))
    assert [(day, status) for day, _, status in found] == [(day, status) for day, _, status in expected]
    assert [thickness for _, thickness, _ in found] == pytest.approx([thickness for _, thickness, _ in expected])


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_last_used_reading_is_the_thickness(plant: duckdb.DuckDBPyConnection, case: Case) -> None:
    place = place_of(plant, case.name)
    assert place["read_on"] == case.read_on
    assert place["t_act_mm"] == (pytest.approx(case.t_act_mm) if case.t_act_mm is not None else None)
    if case.t_act_mm is None:
        assert place["remaining_life_years"] is None
        assert "reading" in place["missing"]
        # Unread since 2004 or 2020, it may be overdue as well, which ranks higher; it is never better than unknown.
        assert place["state"] in ("not assessable", "overdue")


@pytest.mark.parametrize("case", [case for case in CASES if case.held_for], ids=lambda case: case.name)
def test_a_held_reading_says_what_it_is_held_for(plant: duckdb.DuckDBPyConnection, case: Case) -> None:
    held = [row for row in readings_of(plant, case.name) if row["status"] == H]
    assert {row["held_for"] for row in held} == {case.held_for}
    assert all(row["flags"] for row in held)
    ledger = rows(plant, "SELECT * FROM result.ledger WHERE effect LIKE ?", f"%{case.name} Shell 1%is held, not used%")
    assert {(row["sheet"], row["cell"]) for row in ledger} == {(row["sheet"], row["cell"]) for row in held}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_component_with_a_held_reading_carries_the_flag(plant: duckdb.DuckDBPyConnection, case: Case) -> None:
    held = sum(status == H for _, _, status in case.readings)
    component, asset = component_of(plant, case.name), asset_of(plant, case.name)
    assert component["held_readings"] == held
    assert asset["held_readings"] == held
    told = explain(plant, case.name)
    said = " ".join([told.reason, *told.remarks])
    assert ("held" in said) == (held > 0)


# ---- growth ---------------------------------------------------------------------------------------------------------


def test_growth_at_the_limit_exactly_is_noise(tmp_path: Path) -> None:
    """s = 0.25 / (2 sqrt 2) mm makes the limit 0.25 mm to the last digit: 14 -> 14.25 is used, 14 -> 14.2501 is not."""
    scatter = 0.25 / (2 * math.sqrt(2))
    assert 2 * math.sqrt(2) * scatter == 0.25
    cases = (
        Case("at", ((Y16, 14.0, U), (Y20, 14.25, U)), 14.25, Y20),
        Case("beyond", ((Y16, 14.0, U), (Y20, 14.2501, H)), 14.0, Y16),
    )
    folder = write_plant(tmp_path / "plant", basis=f"reading_scatter_mm = {scatter!r}\n", **sheets(cases))
    with results(folder) as connection:
        assert [row["status"] for row in readings_of(connection, "at")] == [U, U]
        assert [row["status"] for row in readings_of(connection, "beyond")] == [U, H]


def test_noise_is_zero_loss(plant: duckdb.DuckDBPyConnection) -> None:
    """14.00 -> 14.28 in 4 years: both rates are -0.07 mm/year, which counts as zero; no life has an end."""
    place = place_of(plant, "growth 0.28 is noise")
    assert place["rate_st_mm_per_year"] == pytest.approx(-0.07, abs=5e-5)
    assert place["rate_mm_per_year"] == 0
    assert place["no_measurable_loss"] is True
    assert place["remaining_life_years"] is None
    assert place["retirement_on"] is None


def test_rates_pass_over_a_held_reading(plant: duckdb.DuckDBPyConnection) -> None:
    """14.0 (2012), 14.6 held (2016), 13.8 (2020): the reading before the last is that of 2012, ST = LT = 0.2/8."""
    place = place_of(plant, "low after a high")
    assert (place["previous_on"], place["t_previous_mm"], place["reading_count"]) == (Y12, 14.0, 2)
    assert place["rate_st_mm_per_year"] == pytest.approx(0.025, abs=5e-5)
    assert place["rate_lt_mm_per_year"] == pytest.approx(0.025, abs=5e-5)


def test_results_stand_with_and_without_the_held_reading(plant: duckdb.DuckDBPyConnection) -> None:
    """Without: 14.00 of 2016 alone, from the nominal 16 in 2004: 2/12 = 0.1667 mm/year, RL (14-10)/0.16667 = 24.0,
    interval min(12, 10) = 10, due 2016-01-01 + 3652 days = 2025-12-31. (12 years are 4383 days, exactly.)
    With: 14.29 of 2020, two readings, no loss: interval 10, due 2020-01-01 + 3652 days = 2029-12-31.
    """
    place = place_of(plant, "growth 0.29 is held")
    assert place["rate_mm_per_year"] == pytest.approx(1 / 6, abs=5e-5)
    assert place["remaining_life_years"] == pytest.approx(24.0, abs=5e-3)
    assert place["due_on"] == date(2025, 12, 31)
    assert place["t_act_with_held_mm"] == pytest.approx(14.29)
    assert place["due_on_with_held"] == date(2029, 12, 31)
    asset = asset_of(plant, "growth 0.29 is held")
    assert asset["thickness_due_on"] == date(2025, 12, 31)
    assert asset["due_on_with_held"] == date(2029, 12, 31)


def test_in_date_with_a_held_reading_says_so(plant: duckdb.DuckDBPyConnection) -> None:
    """Internal due = the earlier of 2023-07-01 + 10 years and 2025-12-31; external due 2028: in date, not plainly."""
    asset = asset_of(plant, "growth 0.29 is held")
    assert asset["state"] == "in date"
    assert asset["internal_due_on"] == date(2025, 12, 31)
    assert "held" in asset["reason"]
    assert asset_of(plant, "growth 0.28 is noise")["state"] == "in date"
    assert "held" not in asset_of(plant, "growth 0.28 is noise")["reason"]


# ---- a day with two readings ----------------------------------------------------------------------------------------


def test_the_lower_of_two_on_a_day_is_flagged(plant: duckdb.DuckDBPyConnection) -> None:
    for name in ("two values far apart", "two values near", "three values"):
        lower = next(row for row in readings_of(plant, name) if row["read_on"] == Y20 and row["status"] == U)
        assert lower["flags"], name


def test_a_duplicate_is_no_second_reading(plant: duckdb.DuckDBPyConnection) -> None:
    """14.0 (2016), 13.8 twice (2020): two readings, ST = 0.2/4 = 0.05 mm/year."""
    place = place_of(plant, "equal twice")
    assert place["reading_count"] == 2
    assert place["rate_st_mm_per_year"] == pytest.approx(0.05, abs=5e-5)
    used = [row for row in readings_of(plant, "equal twice") if row["status"] == U]
    assert not any(row["flags"] for row in used)


# ---- epochs ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["replaced", "whole asset replaced"])
def test_no_rate_crosses_a_replacement(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """First reading of the epoch 16.1 (2016), last 15.9 (2020): 0.2/4 = 0.05 mm/year, LT = ST."""
    place = place_of(plant, name)
    assert (place["epoch_on"], place["initial_on"], place["t_initial_mm"]) == (Y12, Y16, 16.1)
    assert place["initial_from"] == "first reading"
    assert place["rate_lt_mm_per_year"] == pytest.approx(0.05, abs=5e-5)
    assert place["rate_st_mm_per_year"] == pytest.approx(0.05, abs=5e-5)


def test_the_stated_new_thickness_is_the_initial_one(plant: duckdb.DuckDBPyConnection) -> None:
    """16.0 at 2012-01-01, 15.8 (2016), 15.7 (2020): LT = 0.3/8 = 0.0375, ST = 0.1/4 = 0.025 mm/year."""
    place = place_of(plant, "replaced, thickness known")
    assert (place["epoch_on"], place["initial_on"], place["t_initial_mm"]) == (Y12, Y12, 16.0)
    assert place["initial_from"] == "event"
    assert place["rate_lt_mm_per_year"] == pytest.approx(0.0375, abs=5e-5)
    assert place["rate_st_mm_per_year"] == pytest.approx(0.025, abs=5e-5)
    assert place["rate_mm_per_year"] == pytest.approx(0.0375, abs=5e-5)


def test_a_reading_on_the_day_of_the_event_is_the_first_of_the_epoch(plant: duckdb.DuckDBPyConnection) -> None:
    """The basis does not say which side the day falls on; a reading taken at the change is one of the new wall."""
    place = place_of(plant, "read on the day of the event")
    assert (place["initial_on"], place["t_initial_mm"]) == (Y16, 16.0)
    assert place["rate_lt_mm_per_year"] == pytest.approx(0.05, abs=5e-5)


def test_one_reading_after_a_change_gives_no_rate_from_the_old_wall(plant: duckdb.DuckDBPyConnection) -> None:
    """One reading of the epoch, no new thickness and no stated rate: no rate (basis: two readings or a stated one)."""
    for name in ("overlaid", "re-baselined", "change of service", "two epochs"):
        place = place_of(plant, name)
        assert place["epoch_on"] is not None, name
        assert place["rate_mm_per_year"] is None, name
        assert place["state"] == "not assessable", name
        assert "second reading" in place["missing"], name


def test_a_new_thickness_read_on_its_own_day_gives_no_rate(tmp_path: Path) -> None:
    """No time lies between the stated thickness and the only reading: no rate, and a life is refused."""
    cases = (Case("V-1", ((Y20, 15.9, U),), 15.9, Y20, events=(("Shell", Y20, "replaced", 16.0),)),)
    with results(write_plant(tmp_path / "plant", **sheets(cases))) as connection:
        place = place_of(connection, "V-1")
        assert (place["t_act_mm"], place["rate_mm_per_year"], place["remaining_life_years"]) == (15.9, None, None)
        assert place["state"] == "not assessable"
        assert place["missing"]


def test_two_events_on_a_day_are_one_new_history(tmp_path: Path) -> None:
    """The whole vessel and its shell are replaced on one day: one place, one row; the shell's own thickness counts."""
    events = (("Shell", Y12, "replaced", 16.0), (None, Y12, "change of service", 15.5))
    cases = (Case("V-1", ((Y08, 12.0, B), (Y16, 15.8, U), (Y20, 15.7, U)), 15.7, Y20, events=events),)
    with results(write_plant(tmp_path / "plant", **sheets(cases))) as connection:
        place = place_of(connection, "V-1")
        assert (place["initial_on"], place["t_initial_mm"]) == (Y12, 16.0)


def test_two_thicknesses_for_one_event_are_not_used_silently(tmp_path: Path) -> None:
    """16.0 and 15.5 for one replacement: the lower would make the rate smaller; both stand in the ledger."""
    events = (("Shell", Y12, "replaced", 16.0), ("Shell", Y12, "replaced", 15.5))
    cases = (Case("V-1", ((Y08, 12.0, B), (Y20, 15.0, U)), 15.0, Y20, events=events),)
    with results(write_plant(tmp_path / "plant", **sheets(cases))) as connection:
        assert place_of(connection, "V-1")["t_initial_mm"] != 15.5
        assert rows(connection, "SELECT * FROM result.ledger WHERE sheet = 'events' AND severity = 'set aside'")


def test_a_rerating_starts_no_epoch(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "rerated")["epoch_on"] is None


def test_an_event_of_another_component_does_not_matter(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "event elsewhere")["epoch_on"] is None
    assert place_of(plant, "event elsewhere", "Head")["epoch_on"] == Y12


def test_an_event_to_come_is_in_the_ledger(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "event to come")["epoch_on"] is None
    assert rows(plant, "SELECT * FROM result.ledger WHERE sheet = 'events' AND effect LIKE '%event to come%'")


# ---- mistakes, outliers, thick readings -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("inches later", "25.4"),
        ("millimetres later", "25.4"),
        ("ten times later", "ten times"),
        ("a tenth later", "a tenth"),
        ("a thousand times later", "a thousand"),
        ("thin, doubled later", "doubled echo"),
    ],
)
def test_a_likely_mistake_names_its_ratio(plant: duckdb.DuckDBPyConnection, name: str, word: str) -> None:
    (held,) = (row for row in readings_of(plant, name) if row["status"] == H)
    assert word in held["flags"]


def test_a_likely_mistake_is_kept_as_written(plant: duckdb.DuckDBPyConnection) -> None:
    (held,) = (row for row in readings_of(plant, "a tenth later") if row["status"] == H)
    assert (held["text"], held["unit"], held["thickness_mm"]) == ("1.57", "mm", 1.57)


def test_a_low_outlier_governs_and_is_flagged(plant: duckdb.DuckDBPyConnection) -> None:
    """15.0, 14.9, 11.0 every 4 years: ST = 3.9/4 = 0.975, LT = 4/8 = 0.5 mm/year; RL = 1/0.975 = 1.026 years."""
    low = readings_of(plant, "low outlier")[-1]
    assert low["flags"]
    place = place_of(plant, "low outlier")
    assert place["rate_mm_per_year"] == pytest.approx(0.975, abs=5e-4)
    assert place["remaining_life_years"] == pytest.approx(1.026, abs=5e-4)
    assert not any(row["flags"] for row in readings_of(plant, "ordinary"))


def test_a_reading_thicker_than_nominal_is_flagged(plant: duckdb.DuckDBPyConnection) -> None:
    for name in ("thicker than nominal", "thick, twice first"):
        assert "nominal" in readings_of(plant, name)[0]["flags"], name


def test_a_reading_after_the_as_of_date_is_in_the_ledger(plant: duckdb.DuckDBPyConnection) -> None:
    case = next(case for case in CASES if case.name == "not read yet")
    lines = rows(plant, "SELECT * FROM result.ledger WHERE sheet = 'survey' AND effect LIKE ?", f"%{case.name}%")
    assert any("as-of" in row["reason"] or "as of" in row["reason"] for row in lines)


def test_swapped_locations_are_set_aside(tmp_path: Path) -> None:
    """Two places lose 0.1 mm in 4 years; in the last survey their values stand in each other's row."""
    readings = [READINGS]
    for day, one, two in ((Y12, 15.0, 12.0), (Y16, 14.9, 11.9), (Y20, 11.8, 14.8)):
        readings += [("V-1", "Shell", "1", day, one), ("V-1", "Shell", "2", day, two)]
    folder = write_plant(
        tmp_path / "plant",
        register=[REGISTER, ("V-1", "Process gas", Y04, 0.5, 1000)],
        parts=[PARTS, ("V-1", "Shell", "cylinder", 16, 150, 1.0, 10)],
        survey=readings,
    )
    with results(folder) as connection:
        last = rows(connection, "SELECT * FROM result.reading WHERE read_on = ? ORDER BY location", Y20)
        assert [row["status"] for row in last] == [H, H]
        assert {row["held_for"] for row in last} == {MISTAKE}
        assert all("swapped" in row["flags"] for row in last)


def test_a_value_repeated_down_a_column_is_set_aside(tmp_path: Path) -> None:
    """Eight places that differed by millimetres all read 13.37 in the last survey: a value copied down."""
    first = (15.8, 15.1, 14.6, 15.5, 14.9, 15.3, 14.2, 15.0)
    readings = [READINGS, *(("V-1", "Shell", str(n), Y16, value) for n, value in enumerate(first))]
    readings += [("V-1", "Shell", str(n), Y20, 13.37) for n in range(len(first))]
    folder = write_plant(
        tmp_path / "plant",
        register=[REGISTER, ("V-1", "Process gas", Y04, 0.5, 1000)],
        parts=[PARTS, ("V-1", "Shell", "cylinder", 16, 150, 1.0, 10)],
        survey=readings,
    )
    with results(folder) as connection:
        last = rows(connection, "SELECT * FROM result.reading WHERE read_on = ?", Y20)
        assert {row["status"] for row in last} == {H}
        assert all("repeated" in row["flags"] for row in last)


# ---- decisions ------------------------------------------------------------------------------------------------------

DECIDED = (
    Case("accepted", ((Y16, 14.0, U), (Y20, 14.6, U)), 14.6, Y20),
    Case("rejected", ((Y16, 14.0, U), (Y20, 14.6, "rejected")), 14.0, Y16),
    Case("accepted then rejected", ((Y16, 14.0, U), (Y20, 14.6, "rejected")), 14.0, Y16),
    Case("rejected then accepted", ((Y16, 14.0, U), (Y20, 14.6, U)), 14.6, Y20),
    # The accepted reading is the one the next is judged against: 14.5 is below it.
    Case("accepted, the next follows", ((Y12, 14.0, U), (Y16, 14.6, U), (Y20, 14.5, U)), 14.5, Y20),
    # 14.5 is still 0.5 above the last used one once the one between is rejected.
    Case("rejected, the next is held", ((Y12, 14.0, U), (Y16, 14.6, "rejected"), (Y20, 14.5, H)), 14.0, Y12),
    Case("mistake accepted", ((Y16, 15.8, U), (Y20, 1.57, U)), 1.57, Y20),
    Case("mistake rejected", ((Y16, 15.8, U), (Y20, 1.57, "rejected")), 15.8, Y16),
    Case("higher of a day accepted", ((Y16, 14.5, U), (Y20, 13.9, U), (Y20, 14.4, U)), 13.9, Y20),
    Case("decision on another value", ((Y16, 14.0, U), (Y20, 14.6, H)), 14.0, Y16),
    Case("decision on another day", ((Y16, 14.0, U), (Y20, 14.6, H)), 14.0, Y16),
)

VERDICTS = (
    # vessel, day, thickness, verdict
    ("accepted", Y20, 14.6, "accept"),
    ("rejected", Y20, 14.6, "reject"),
    ("accepted then rejected", Y20, 14.6, "accept"),
    ("accepted then rejected", Y20, 14.6, "reject"),
    ("rejected then accepted", Y20, 14.6, "reject"),
    ("rejected then accepted", Y20, 14.6, "accept"),
    ("accepted, the next follows", Y16, 14.6, "accept"),
    ("rejected, the next is held", Y16, 14.6, "reject"),
    ("mistake accepted", Y20, 1.57, "accept"),
    ("mistake rejected", Y20, 1.57, "reject"),
    ("higher of a day accepted", Y20, 14.4, "accept"),
    ("decision on another value", Y20, 14.7, "accept"),
    ("decision on another day", date(2020, 1, 2), 14.6, "accept"),
)


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """The plant before the verdicts is built first, so that the record holds the readings they are about."""
    folder = write_plant(tmp_path_factory.mktemp("decided") / "plant", **sheets(DECIDED))
    build(folder, as_of=AS_OF)
    record = Record(folder / "record.sqlite")
    for number, (asset, day, thickness, verdict) in enumerate(VERDICTS):
        record.decide(
            Decision(asset, "Shell", "1", day, thickness, verdict), Identity(f"Person {number}"), f"reason {number}"
        )
    with results(folder) as connection:
        yield connection


@pytest.mark.parametrize(
    "case", [case for case in DECIDED if case.name != "higher of a day accepted"], ids=lambda case: case.name
)
def test_a_verdict_settles_a_held_reading(decided: duckdb.DuckDBPyConnection, case: Case) -> None:
    found = [(row["read_on"], row["thickness_mm"], row["status"]) for row in readings_of(decided, case.name)]
    assert found == [(day, pytest.approx(in_mm(cell)), status) for day, cell, status in case.readings]
    place = place_of(decided, case.name)
    assert (place["t_act_mm"], place["read_on"]) == (case.t_act_mm, case.read_on)
    assert component_of(decided, case.name)["held_readings"] == sum(status == H for *_, status in case.readings)


@pytest.mark.parametrize(
    ("name", "day", "person"),
    [
        ("accepted", Y20, 0),
        ("rejected", Y20, 1),
        ("accepted then rejected", Y20, 3),
        ("rejected then accepted", Y20, 5),
        ("accepted, the next follows", Y16, 6),
        ("mistake rejected", Y20, 9),
    ],
)
def test_who_and_why_are_kept(decided: duckdb.DuckDBPyConnection, name: str, day: date, person: int) -> None:
    (row,) = (row for row in readings_of(decided, name) if row["read_on"] == day)
    assert (row["decided_by"], row["decision_reason"]) == (f"Person {person}", f"reason {person}")


def test_accepting_the_higher_of_a_day_is_one_thickness_of_that_day(decided: duckdb.DuckDBPyConnection) -> None:
    """The basis says a person accepts it, not what becomes of the lower: one of the two is used, neither is lost."""
    of_the_day = [row for row in readings_of(decided, "higher of a day accepted") if row["read_on"] == Y20]
    assert {row["thickness_mm"] for row in of_the_day} == {13.9, 14.4}
    accepted = next(row for row in of_the_day if row["thickness_mm"] == 14.4)
    assert accepted["decided_by"] == "Person 10"
    assert accepted["status"] == U
    place = place_of(decided, "higher of a day accepted")
    assert place["read_on"] == Y20
    assert place["rate_st_mm_per_year"] is None or abs(place["rate_st_mm_per_year"]) < 1


@pytest.mark.parametrize(
    ("who", "reason"), [("", "because"), ("  ", "because"), ("P. Example", ""), ("P. Example", " ")]
)
def test_a_verdict_needs_a_name_and_a_reason(tmp_path: Path, who: str, reason: str) -> None:
    record = Record(tmp_path / "record.sqlite")
    with pytest.raises(Problem, match="is needed"):
        record.decide(Decision("V-1", "Shell", "1", Y20, 14.6, "accept"), Identity(who), reason)
    assert record.decisions() == []
