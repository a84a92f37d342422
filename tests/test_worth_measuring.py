"""What one measurement is worth and what would govern next; by hand, and by writing the plant again with it made.

Vessels for the tape: inside diameter 2000, nominal 20, P = 1.5, S = 138, E = 0.85 at the weld, loss inside, so that the
outside radius 1020 stays:

    at the weld   1.5 x 1020/(138 x 0.85 + 0.4 x 1.5) = 1530/117.9 = 12.977099 mm
    away from it  1.5 x 1020/(138 x 1.00 + 0.4 x 1.5) = 1530/138.6 = 11.038961 mm
    half-width of the weld region: twice 12.977099 = 25.954 mm, more than 25.4

Every place is read on 2020-01-01 and eight years before, at 0.1 mm/year. The last internal inspection is of 2019-01-01:
its cap of 10 years (3652 days) ends on 2028-12-31, 3287 days after the readings. s = 0.10 mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.vessels import Y04, Y12, Y16, Y20, Plant, Row, after, due_of, opened, place_of, rows

CAP, INTERNAL_CAP = 3652, 3287
TAPE: dict[str, Any] = {"D": 2000, "P": 1.5, "S": 138, "E": 0.85, "nominal": 20.0, "structural": None}
PART = {name: value for name, value in TAPE.items() if name not in ("D", "P")}
SCATTER = 0.10
Place = tuple[str, str, str]


def falling(last: float, rate: float = 0.1) -> tuple[tuple[date, float], ...]:
    return ((Y12, round(last + 8 * rate, 6)), (Y20, last))


def plant_to_measure() -> Plant:
    plant = Plant()
    plant.vessel("tape", falling(14.0), **TAPE)
    plant.vessel("tape, next place", falling(14.0), **TAPE)
    plant.place("tape, next place", "Shell", falling(14.6), "2")
    plant.add("places", "tape, next place", "Shell", "2", 10)
    plant.vessel("tape, below", falling(12.5), **TAPE)
    plant.vessel("tape, below, no loss", falling(12.5, 0), **TAPE)
    plant.vessel("at the weld", falling(14.0), **TAPE)
    plant.add("places", "at the weld", "Shell", "1", 10)
    plant.vessel("away", falling(14.0), **TAPE)
    plant.add("places", "away", "Shell", "1", 100)
    plant.vessel("below anyway", falling(10.9), **TAPE)
    plant.vessel("thick", falling(17.5), **TAPE)
    plant.vessel("verdicts elsewhere", falling(11.0), **TAPE)
    plant.add("places", "verdicts elsewhere", "Shell", "1", 100)
    plant.place("verdicts elsewhere", "Shell", falling(12.5), "2")
    # A new service with a stated rate: its first check is due first, whatever the tape says.
    started = date(2019, 11, 1)
    new = {**TAPE, "nominal": 14.0, "stated": 0.2, "since": started, "inspected": started}
    plant.vessel("first check", ((date(2019, 12, 1), 14.0),), **new)
    plant.vessel("retired", falling(12.5), **TAPE, status="retired", status_since=date(2020, 2, 1))
    # Under a structural minimum the tape changes nothing.
    plant.vessel("repeat", ((Y04, 13.2), (Y16, 11.9), (Y20, 11.6)))
    plant.vessel("repeat, next place", ((Y04, 13.2), (Y16, 11.9), (Y20, 11.6)))
    plant.part("repeat, next place", "Head", ((Y04, 13.36), (Y20, 11.7)), "N")
    plant.vessel("repeat, below", ((Y04, 11.55), (Y20, 9.95)))
    return plant


def varied(tapes: frozenset[Place] = frozenset(), off: dict[Place, float] | None = None) -> Plant:
    """The same plant with the distance to the weld given for some places, or their last reading off by so much."""
    off = off or {}
    plant = plant_to_measure()
    for asset, component, location in sorted(tapes):
        plant.add("places", asset, component, location, 100)
    last = {row[:3]: row[3] for row in sorted(plant.rows["survey"], key=lambda row: row[3])}
    plant.rows["survey"] = [
        (*row[:4], round(row[4] + off.get(row[:3], 0), 6)) if row[3] == last[row[:3]] else row
        for row in plant.rows["survey"]
    ]
    return plant


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    with opened(plant_to_measure().write(tmp_path_factory.mktemp("worth") / "plant")) as connection:
        yield connection


def worth_of(connection: duckdb.DuckDBPyConnection, asset: str, measurement: str) -> dict[str, Row]:
    """The rows for an asset by the kind of due date they move."""
    sql = "SELECT * FROM result.worth_measuring WHERE asset = ? AND measurement = ?"
    return {row["kind"]: row for row in rows(connection, sql, asset, measurement)}


def days(row: Row, column: str) -> int:
    return (row[column] - Y20).days


# ---- the tape -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "due", "internal_if", "thickness_if"),
    [
        # At the weld 1.022901/0.1 = 10.22901 years, half 1868.07 days; away 29.61039 years, beyond the caps.
        ("tape", 1868, INTERNAL_CAP, CAP),
        # The next place, at the weld: 1.622901/0.1 = 16.22901 years, half 2963.82 days: no farther than that.
        ("tape, next place", 1868, 2963, 2963),
        # Below at the weld: due on the day it was read. Away 1.461039/0.1 = 14.61039 years, half 2668.22 days.
        ("tape, below", 0, 2668, 2668),
        # Without any loss: the caps.
        ("tape, below, no loss", 0, INTERNAL_CAP, CAP),
    ],
)
def test_a_tape_is_worth_what_the_next_place_or_the_cap_lets_it(
    plant: duckdb.DuckDBPyConnection, name: str, due: int, internal_if: int, thickness_if: int
) -> None:
    worth = worth_of(plant, name, "weld distance")
    assert sorted(worth) == ["internal", "thickness"]
    for kind, promised in (("internal", internal_if), ("thickness", thickness_if)):
        row = worth[kind]
        assert (row["component"], row["location"]) == ("Shell", "1")
        assert (days(row, "due_on"), days(row, "due_if_on")) == (due, promised)
        assert row["worth_days"] == promised - due
        assert row["due_else_on"] is None
        assert row["t_req_mm"] == pytest.approx(12.977099, abs=1e-6)
        assert row["t_req_if_mm"] == pytest.approx(11.038961, abs=1e-6)
        assert row["weld_region_half_width_mm"] == pytest.approx(25.954198, abs=1e-6)


def test_the_lives_beside_it(plant: duckdb.DuckDBPyConnection) -> None:
    row = worth_of(plant, "tape", "weld distance")["thickness"]
    assert row["remaining_life_years"] == pytest.approx(10.22901, abs=1e-5)
    assert row["remaining_life_if_years"] == pytest.approx(29.61039, abs=1e-5)
    assert (row["is_below_required"], row["clears_below_required"]) == (False, False)
    row = worth_of(plant, "tape, below", "weld distance")["thickness"]
    assert row["remaining_life_if_years"] == pytest.approx(14.61039, abs=1e-5)
    assert (row["is_below_required"], row["clears_below_required"]) == (True, True)
    row = worth_of(plant, "tape, below, no loss", "weld distance")["thickness"]
    assert (row["remaining_life_years"], row["remaining_life_if_years"]) == (None, None)
    assert row["clears_below_required"] is True


@pytest.mark.parametrize("name", ["at the weld", "away", "below anyway", "thick", "repeat"])
def test_no_tape_where_it_would_change_nothing(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """The distance is known; it is below required away from the weld too (10.9 < 11.039); the cap holds at the weld
    already (17.5: 45 years); a structural minimum knows no weld.
    """
    assert worth_of(plant, name, "weld distance") == {}


@pytest.mark.parametrize("name", ["below anyway", "thick", "away"])
def test_no_repeat_where_it_would_change_nothing(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """Away: 14.0 - 11.038961 at 0.1 is 29.6 years, at the cap already. Below anyway: 10.9 + 0.1 is below 11.039."""
    assert worth_of(plant, name, "thickness") == {}


@pytest.mark.parametrize("measurement", ["weld distance", "thickness"])
def test_no_measurement_moves_the_first_check_of_a_new_service(
    plant: duckdb.DuckDBPyConnection, measurement: str
) -> None:
    """Started 2019-11-01: checked by 182 days later, 2020-05-01. The internal date moves all the same: required at the
    weld 1.5 x 1014/117.9 = 12.900763, 1.099237/0.2 = 5.496183 years, half 1003.7 days; away 1521/138.6 = 10.974026,
    3.025974/0.2 = 15.12987 years, half 2763.1 days. 14.1 mm: 1.199237/0.2 = 5.996183, half 1095.1 days.
    """
    assert due_of(plant, "first check", "thickness")["due_on"] == date(2020, 5, 1)
    worth = worth_of(plant, "first check", measurement)
    assert sorted(worth) == ["internal"]
    read = date(2019, 12, 1)
    better = {"weld distance": 2763, "thickness": 1095}[measurement]
    assert worth["internal"]["due_on"] == after(read, 1003)
    assert worth["internal"]["due_if_on"] == after(read, better)
    assert worth["internal"]["worth_days"] == better - 1003


def test_what_is_retired_needs_no_measurement(plant: duckdb.DuckDBPyConnection) -> None:
    assert rows(plant, "SELECT * FROM result.worth_measuring WHERE asset = 'retired'") == []


def test_a_verdict_elsewhere_is_listed_without_days(plant: duckdb.DuckDBPyConnection) -> None:
    """Both places are below required and due: location 1 (11.0, away: 11.039 required) sets the date, and neither
    measurement alone moves it. A tape clears location 2 (12.5), a repeat of 11.1 clears location 1.
    """
    found = {
        (row["measurement"], row["location"]): row
        for row in rows(plant, "SELECT * FROM result.worth_measuring WHERE asset = 'verdicts elsewhere'")
    }
    assert sorted(found) == [("thickness", "1"), ("weld distance", "2")]
    for row in found.values():
        assert row["kind"] == "required thickness"
        assert [row[column] for column in ("due_on", "due_if_on", "due_else_on", "worth_days")] == [None] * 4
        assert (row["is_below_required"], row["clears_below_required"]) == (True, True)


def test_what_clears_a_verdict_is_listed_first_then_the_most_days(plant: duckdb.DuckDBPyConnection) -> None:
    listed = rows(plant, "SELECT * FROM result.worth_measuring")
    order = [(not row["clears_below_required"], -(row["worth_days"] or 0)) for row in listed]
    assert order == sorted(order)
    assert {row["measurement"] for row in listed} == {"weld distance", "thickness"}


# ---- the repeated reading -------------------------------------------------------------------------------------------


def test_a_repeat_is_worth_its_scatter(plant: duckdb.DuckDBPyConnection) -> None:
    """Long-term 1.6/16 = 0.1 and 16 years: 2922 days.
    11.7: 1.5/16 = 0.09375, 1.7/0.09375 = 18.13333 years, half 3311.6 days; internal no farther than its cap, 3287.
    11.5: 1.7/16 = 0.10625, 1.5/0.10625 = 14.11765 years, half 2578.2 days.
    """
    worth = worth_of(plant, "repeat", "thickness")
    for kind, better in (("thickness", 3311), ("internal", INTERNAL_CAP)):
        row = worth[kind]
        assert [days(row, column) for column in ("due_on", "due_if_on", "due_else_on")] == [2922, better, 2578]
        assert row["worth_days"] == better - 2922
        assert row["remaining_life_years"] == pytest.approx(16.0)
        assert row["remaining_life_if_years"] == pytest.approx(18.13333, abs=1e-5)
        assert row["weld_region_half_width_mm"] is None


def test_a_repeat_gains_no_more_than_the_next_place_lets_it(plant: duckdb.DuckDBPyConnection) -> None:
    """Head: 1.66/16 = 0.10375; 1.7/0.10375 = 16.38554 years, half 2992.4 days."""
    worth = worth_of(plant, "repeat, next place", "thickness")
    for kind in ("thickness", "internal"):
        assert worth[kind]["component"] == "Shell"
        assert days(worth[kind], "due_if_on") == 2992
        assert worth[kind]["worth_days"] == 70


def test_a_repeat_can_clear_a_verdict(plant: duckdb.DuckDBPyConnection) -> None:
    """9.95 + 0.10 = 10.05; (11.55 - 10.05)/16 = 0.09375; 0.05/0.09375 = 0.533333 years: floor(194.8) days."""
    row = worth_of(plant, "repeat, below", "thickness")["thickness"]
    assert (days(row, "due_on"), days(row, "due_if_on"), days(row, "due_else_on")) == (0, 194, 0)
    assert (row["is_below_required"], row["clears_below_required"]) == (True, True)


# ---- two roads: the plant written again with the measurement made ---------------------------------------------------


def promises(connection: duckdb.DuckDBPyConnection, measurement: str) -> dict[Place, list[Row]]:
    found: dict[Place, list[Row]] = {}
    for row in rows(connection, "SELECT * FROM result.worth_measuring WHERE measurement = ?", measurement):
        found.setdefault((row["asset"], row["component"], row["location"]), []).append(row)
    assert found
    return found


def kept(connection: duckdb.DuckDBPyConnection, promised: dict[Place, list[Row]], column: str) -> int:
    """Hold the plant written again against what was promised; return how many due dates were."""
    held = 0
    for (asset, component, location), listed in promised.items():
        for row in listed:
            if row["due_on"] is None:
                assert place_of(connection, asset, component, location)["state"] != "below required"
            else:
                held += 1
                assert due_of(connection, asset, row["kind"])["due_on"] == row[column], (asset, row["kind"])
    return held


def test_the_tape_taken_gives_the_dates_promised(plant: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    promised = promises(plant, "weld distance")
    with opened(varied(tapes=frozenset(promised)).write(tmp_path / "plant")) as connection:
        assert kept(connection, promised, "due_if_on") == 9


@pytest.mark.parametrize(("off", "column"), [(SCATTER, "due_if_on"), (-SCATTER, "due_else_on")])
def test_the_reading_repeated_gives_the_dates_promised(
    plant: duckdb.DuckDBPyConnection, tmp_path: Path, off: float, column: str
) -> None:
    promised = promises(plant, "thickness")
    if off < 0:
        promised = {place: [row for row in listed if row["due_on"]] for place, listed in promised.items()}
    with opened(varied(off=dict.fromkeys(promised, off)).write(tmp_path / "plant")) as connection:
        assert kept(connection, promised, column) > 6


# ---- what would govern next -----------------------------------------------------------------------------------------


def plant_of_several() -> Plant:
    plant = Plant()
    # Halves of 10, 13 and 16 years: 1826.25, 2374.1, 2922 days.
    plant.vessel("three places", falling(11.0))
    plant.place("three places", "Shell", falling(11.3), "2")
    plant.part("three places", "Head", falling(11.6), "N")
    plant.vessel("one place", falling(11.0))
    plant.vessel("one part each", falling(11.6))
    plant.part("one part each", "Head", falling(11.0), "N")
    plant.vessel("cap next", falling(11.0), inspected=date(2012, 6, 1))
    plant.place("cap next", "Shell", falling(11.6), "2")
    plant.vessel("two of one day", falling(11.0))
    plant.place("two of one day", "Shell", falling(11.0), "2")
    # The thickness cap stays at 10 years; the internal one is 20 calendar years at half the time in operation.
    plant.vessel("kinds apart", falling(13.6), continuous="no", fraction=0.5, protection="nitrogen")
    plant.place("kinds apart", "Shell", falling(13.0), "2")
    plant.vessel("never inspected", falling(11.0), inspected=None, since=None)
    plant.place("never inspected", "Shell", falling(11.3), "2")
    return plant


@pytest.fixture(scope="module")
def several(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    with opened(plant_of_several().write(tmp_path_factory.mktemp("next") / "plant")) as connection:
        yield connection


def next_of(connection: duckdb.DuckDBPyConnection, asset: str, kind: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.next_due WHERE asset = ? AND kind = ?", asset, kind)
    return row


@pytest.mark.parametrize(
    ("name", "kind", "place", "due", "following", "then"),
    [
        ("three places", "thickness", ("Shell", "1"), 1826, ("Shell", "2"), 2374),
        ("three places", "internal", ("Shell", "1"), 1826, ("Shell", "2"), 2374),
        ("one place", "thickness", ("Shell", "1"), 1826, (None, None), None),
        ("one place", "internal", ("Shell", "1"), 1826, (None, None), INTERNAL_CAP),
        ("one part each", "internal", ("Head", "N"), 1826, ("Shell", "1"), 2922),
        ("cap next", "thickness", ("Shell", "1"), 1826, ("Shell", "2"), 2922),
        ("two of one day", "internal", ("Shell", "1"), 1826, ("Shell", "2"), 1826),
        ("kinds apart", "thickness", ("Shell", "1"), CAP, ("Shell", "2"), CAP),
        # 30 years at location 2 and 36 at location 1: half of them 5478.75 and 6574.5 days, within 20 years.
        ("kinds apart", "internal", ("Shell", "2"), 5478, ("Shell", "1"), 6574),
        ("never inspected", "internal", ("Shell", "1"), 1826, ("Shell", "2"), 2374),
    ],
)
def test_what_would_govern_next(
    several: duckdb.DuckDBPyConnection,
    name: str,
    kind: str,
    place: tuple[str, str],
    due: int,
    following: tuple[str | None, str | None],
    then: int | None,
) -> None:
    row = next_of(several, name, kind)
    assert (row["component"], row["location"], row["due_on"]) == (*place, after(Y20, due))
    assert (row["next_component"], row["next_location"]) == following
    assert row["next_due_on"] == (None if then is None else after(Y20, then))


def test_a_date_the_cap_sets_has_no_place_to_disprove(several: duckdb.DuckDBPyConnection) -> None:
    """2012-06-01 + 3652 days = 2022-06-01, before 2020-01-01 + 1826 days = 2024-12-31."""
    assert due_of(several, "cap next", "internal")["due_on"] == date(2022, 6, 1)
    sql = "SELECT * FROM result.next_due WHERE asset = 'cap next' AND kind = 'internal'"
    assert rows(several, sql) == []


@pytest.mark.parametrize("kind", ["internal", "thickness"])
def test_without_the_place_disproved_the_next_date_stands(
    several: duckdb.DuckDBPyConnection, tmp_path: Path, kind: str
) -> None:
    """The plant written again without the readings of every place that sets a date of this kind."""
    promised = rows(several, "SELECT * FROM result.next_due WHERE kind = ?", kind)
    gone = {(row["asset"], row["component"], row["location"]) for row in promised}
    plant = plant_of_several()
    plant.rows["survey"] = [row for row in plant.rows["survey"] if row[:3] not in gone]
    with opened(plant.write(tmp_path / "plant")) as connection:
        found = {row["asset"]: due_of(connection, row["asset"], kind)["due_on"] for row in promised}
    assert found == {row["asset"]: row["next_due_on"] for row in promised}
    assert len(found) >= 6
