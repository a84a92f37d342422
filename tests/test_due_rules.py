"""Intervals, due dates, states, ranking and MAWP, from spreadsheets to results; by hand from engineering basis 4 and 6.

Every vessel has a structural minimum of 10 mm that sets the required thickness (the vessels of the MAWP tests excepted)
and is read on 2012-01-01 and 2020-01-01, 2922 days or exactly 8 years apart. At 0.1 mm/year a remaining life of n years
is a last reading of 10 + n/10 mm. Dates: floor(years x 365.25) days after the anchor: 2 years 730 days, 5 years 1826,
10 years 3652. All results are as of 2020-06-01.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.run import build
from tests.plants import write_plant

AS_OF = date(2020, 6, 1)
BEFORE, READ = date(2012, 1, 1), date(2020, 1, 1)
RATE = 0.1
Row = dict[str, Any]

HEADINGS = {
    "register": ("Asset", "Service", "In service", "MAWP (MPa)", "Inside diameter (mm)", "Relief device"),
    "parts": (
        "Asset",
        "Component",
        "Kind",
        "Nominal thickness (mm)",
        "Allowable stress (MPa)",
        "Joint efficiency",
        "Structural minimum (mm)",
        "Specific gravity",
        "Liquid head (mm)",
    ),
    "survey": ("Asset", "Component", "Location", "Date", "Thickness (mm)"),
    "visits": ("Asset", "Kind", "Date", "Result", "In place of internal"),
    "devices": ("Asset", "Device", "Set pressure (MPa)", "Interval (years)", "Last tested", "Clean service"),
    "deferrals": ("Asset", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"),
    "intervals": ("Asset", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on"),
    "turnarounds": ("Name", "Start", "End"),
}


class Plant:
    """Vessels collected into one folder."""

    def __init__(self) -> None:
        self.rows: dict[str, list[tuple]] = {name: [] for name in HEADINGS}

    def add(self, sheet: str, *cells: Any) -> None:
        self.rows[sheet].append(cells)

    def vessel(
        self,
        name: str,
        life: float | None = 30.0,
        *,
        since: date | None = date(2004, 1, 1),
        internal: date | None = date(2019, 1, 1),
        external: date | None = date(2019, 1, 1),
        device: str | None = None,
        P: float = 0.5,
        structural: float | None = 10.0,
    ) -> None:
        """A vessel with a shell read at one place; `life` years from its last reading, none: not read at all."""
        self.add("register", name, "Process gas", since, P, 2000, device)
        if internal:
            self.add("visits", name, "internal", internal, "sound", None)
        if external:
            self.add("visits", name, "external", external, "sound", None)
        if life is not None:
            self.part(name, "Shell", life, structural=structural)

    def part(
        self,
        name: str,
        component: str,
        life: float,
        location: str = "1",
        *,
        rate: float = RATE,
        structural: float | None = 10.0,
        read: date = READ,
    ) -> None:
        self.add("parts", name, component, "cylinder", 20, 138, 1.0, structural, None, None)
        self.place(name, component, life, location, rate=rate, read=read)

    def place(
        self, name: str, component: str, life: float, location: str, *, rate: float = RATE, read: date = READ
    ) -> None:
        left = round(10.0 + life * rate, 6)
        self.add("survey", name, component, location, read - timedelta(days=2922), round(left + 8 * rate, 6))
        self.add("survey", name, component, location, read, left)

    def write(self, folder: Path, basis: str = "", order: random.Random | None = None) -> Path:
        sheets = {name: list(rows) for name, rows in self.rows.items() if rows}
        if order is not None:
            for rows in sheets.values():
                order.shuffle(rows)
        names = list(sheets)
        if order is not None:
            order.shuffle(names)
        return write_plant(folder, basis=basis, **{name: [HEADINGS[name], *sheets[name]] for name in names})


def opened(folder: Path, as_of: date = AS_OF) -> duckdb.DuckDBPyConnection:
    return duckdb.connect(str(build(folder, as_of=as_of).database.resolve()), read_only=True)


def rows(connection: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> list[Row]:
    cursor = connection.execute(sql, list(values))
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def due_of(connection: duckdb.DuckDBPyConnection, asset: str, kind: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.due_date WHERE asset = ? AND kind = ?", asset, kind)
    return row


def asset_of(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.asset WHERE asset = ?", asset)
    return row


def place_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> Row:
    (row,) = rows(connection, "SELECT * FROM result.location WHERE asset = ? AND component = ?", asset, component)
    return row


def after(day: date, days: int) -> date:
    return day + timedelta(days=days)


# life: (interval in years, whole days)
INTERVALS: dict[float, tuple[float, int]] = {
    -1: (0, 0),
    0: (0, 0),
    0.5: (0.5, 182),  # 182.625
    1.5: (1.5, 547),  # 547.875
    2: (2, 730),  # 730.5
    2.5: (2, 730),
    3.9: (2, 730),
    4: (2, 730),
    4.1: (2.05, 748),  # 748.7625
    6: (3, 1095),  # 1095.75
    12: (6, 2191),  # 2191.5
    20: (10, 3652),  # 3652.5
    25: (10, 3652),
}


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """Every vessel of this file that needs no turnaround."""
    plant = Plant()
    for life in INTERVALS:
        plant.vessel(f"life {life}", life)
    anchors(plant)
    on_stream(plant)
    relief(plant)
    deferrals(plant)
    set_intervals(plant)
    pressures(plant)
    with opened(plant.write(tmp_path_factory.mktemp("due") / "plant")) as connection:
        yield connection


# ---- intervals ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("life", INTERVALS)
def test_the_interval_follows_from_the_life(plant: duckdb.DuckDBPyConnection, life: float) -> None:
    """0 if RL <= 0 else min(10, max(RL/2, min(RL, 2))), then whole days rounded down from the reading."""
    interval, days = INTERVALS[life]
    place = place_of(plant, f"life {life}")
    assert place["remaining_life_years"] == pytest.approx(life, abs=1e-9)
    assert place["interval_years"] == pytest.approx(interval, abs=1e-9)
    assert place["internal_interval_years"] == pytest.approx(interval, abs=1e-9)
    assert place["due_on"] == after(READ, days)
    assert due_of(plant, f"life {life}", "thickness")["due_on"] == after(READ, days)


@pytest.mark.parametrize(
    ("life", "state"),
    [(-1, "below required"), (0, "overdue"), (0.5, "in date"), (25, "in date")],
)
def test_a_life_of_zero_is_due_at_once(plant: duckdb.DuckDBPyConnection, life: float, state: str) -> None:
    """RL 0: just at required thickness, due on the day it was read. 182 days after 2020-01-01 are 2020-07-01."""
    assert place_of(plant, f"life {life}")["state"] == state


def test_retirement_stands_beside_the_due_date(plant: duckdb.DuckDBPyConnection) -> None:
    """RL 6: 2191 days (2191.5 rounded down) after 2020-01-01."""
    assert place_of(plant, "life 6")["retirement_on"] == after(READ, 2191)
    assert asset_of(plant, "life 6")["retirement_on"] == after(READ, 2191)


# ---- anchors --------------------------------------------------------------------------------------------------------


def anchors(plant: Plant) -> None:
    plant.vessel("half life first", 12, internal=date(2015, 1, 1))
    plant.part("half life first", "Head", 6, "N")
    plant.vessel("cap first", 12, internal=date(2011, 1, 1))
    plant.part("cap first", "Head", 6, "N")
    plant.vessel("cap on the day", 20, internal=READ)
    plant.vessel("external at five", 30, external=date(2017, 3, 1))
    plant.vessel("external pulled in", 6, external=date(2018, 3, 1))
    plant.vessel("older reading governs", 20, internal=READ)
    plant.part("older reading governs", "Head", 20, "N", read=date(2016, 1, 1))
    plant.vessel("never inspected", 30, since=date(2016, 5, 1), internal=None, external=None)
    plant.vessel("no date at all", 30, since=None, internal=None, external=None)
    plant.vessel("only inspections", None)
    plant.add("register", "only a name", None, None, None, None, None)
    plant.vessel("one place unread", 30)
    plant.add("survey", "one place unread", "Shell", "2", READ, "no access")
    plant.vessel("one place without rate", 30)
    plant.add("parts", "one place without rate", "Head", "cylinder", None, 138, 1.0, 10.0, None, None)
    plant.add("survey", "one place without rate", "Head", "N", READ, 15.0)
    plant.vessel("inspected later", 30, internal=date(2010, 1, 1))
    plant.add("visits", "inspected later", "internal", date(2020, 9, 1), "sound", None)


def test_the_half_life_of_the_worst_place_sets_the_internal_date(plant: duckdb.DuckDBPyConnection) -> None:
    """Earlier of 2015-01-01 + 3652 days = 2024-12-31 and the head's 2020-01-01 + 1095 days = 2022-12-31."""
    due = due_of(plant, "half life first", "internal")
    assert due["due_on"] == date(2022, 12, 31)
    assert (due["component"], due["location"]) == ("Head", "N")
    assert due["anchor_on"] == date(2015, 1, 1)


def test_the_cap_from_the_last_internal_inspection_sets_it_when_earlier(plant: duckdb.DuckDBPyConnection) -> None:
    """2011-01-01 + 3652 days = 2020-12-31, before 2022-12-31: no place sets it."""
    due = due_of(plant, "cap first", "internal")
    assert due["due_on"] == date(2020, 12, 31)
    assert (due["component"], due["location"]) == (None, None)


def test_the_cap_and_the_half_life_of_one_day(plant: duckdb.DuckDBPyConnection) -> None:
    assert due_of(plant, "cap on the day", "internal")["due_on"] == after(READ, 3652)


def test_the_older_reading_is_due_first(plant: duckdb.DuckDBPyConnection) -> None:
    """Both have 10 years: 2016-01-01 + 3652 days = 2025-12-31."""
    for kind in ("internal", "thickness"):
        due = due_of(plant, "older reading governs", kind)
        assert due["due_on"] == date(2025, 12, 31)
        assert (due["component"], due["location"]) == ("Head", "N")


def test_external_is_the_lesser_of_five_years_and_the_internal_interval(plant: duckdb.DuckDBPyConnection) -> None:
    """5 years: 2017-03-01 + 1826 days = 2022-03-01. Internal interval 3: 2018-03-01 + 1095 days = 2021-02-28."""
    assert due_of(plant, "external at five", "external")["due_on"] == date(2022, 3, 1)
    assert due_of(plant, "external pulled in", "external")["due_on"] == date(2021, 2, 28)


def test_without_an_inspection_the_in_service_date_counts(plant: duckdb.DuckDBPyConnection) -> None:
    """2016-05-01 + 3652 days = 2026-05-01 (10 years are 3652 days here); + 1826 days = 2021-05-01."""
    internal, external = (due_of(plant, "never inspected", kind) for kind in ("internal", "external"))
    assert internal["anchor_on"] == external["anchor_on"] == date(2016, 5, 1)
    assert internal["due_on"] == after(date(2016, 5, 1), 3652)
    assert external["due_on"] == after(date(2016, 5, 1), 1826)
    assert "no internal inspection on record" in internal["anchor"]


def test_without_any_date_it_is_not_assessable(plant: duckdb.DuckDBPyConnection) -> None:
    """The place is due, the internal and external inspections have nothing to count from."""
    for kind in ("internal", "external"):
        due = due_of(plant, "no date at all", kind)
        assert due["state"] == "not assessable"
        assert "in-service date" in due["due_missing"]
    assert due_of(plant, "no date at all", "thickness")["state"] == "in date"
    assert asset_of(plant, "no date at all")["state"] == "not assessable"


@pytest.mark.parametrize("name", ["only inspections", "only a name"])
def test_a_vessel_without_readings_is_not_assessable(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    asset = asset_of(plant, name)
    assert asset["state"] == "not assessable"
    assert asset["reason"]
    assert asset["remaining_life_years"] is None
    assert due_of(plant, name, "thickness")["state"] == "not assessable"


@pytest.mark.parametrize("kind", ["internal", "external", "thickness"])
def test_a_place_without_an_interval_leaves_no_date_in_date(plant: duckdb.DuckDBPyConnection, kind: str) -> None:
    """Each of the three is the earliest, or counts the smallest interval, over all places: one of them is unknown."""
    assert place_of(plant, "one place without rate", "Head")["interval_years"] is None
    assert due_of(plant, "one place without rate", kind)["state"] == "not assessable"
    assert asset_of(plant, "one place without rate")["state"] == "not assessable"


def test_a_place_that_could_not_be_read_is_not_in_date(plant: duckdb.DuckDBPyConnection) -> None:
    """Never read since 2004: longer than any interval."""
    states = rows(
        plant, "SELECT location, state FROM result.location WHERE asset = 'one place unread' ORDER BY location"
    )
    assert states[0]["state"] == "in date"
    assert states[1]["state"] in ("overdue", "not assessable")
    assert asset_of(plant, "one place unread")["state"] in ("overdue", "not assessable")


def test_an_inspection_after_the_as_of_date_does_not_count(plant: duckdb.DuckDBPyConnection) -> None:
    """2010-01-01 + 3652 days = 2020-01-01: overdue, whatever is written for September."""
    due = due_of(plant, "inspected later", "internal")
    assert (due["due_on"], due["state"]) == (date(2020, 1, 1), "overdue")


def test_a_new_or_changed_service_has_its_first_check_in_six_months(tmp_path: Path) -> None:
    """Basis 3, API 510 7.1.2: the first check reading is due 3 to 6 months after start, 182 days at most. Started on
    2019-06-01: 2019-11-30, overdue on 2020-06-01, whatever rate is stated and whatever the cap.
    """
    start = date(2019, 6, 1)
    stated = (*HEADINGS["parts"][:7], "Stated corrosion rate (mm/year)")
    parts: list[tuple] = [stated]
    plant = Plant()
    for name, since in (
        ("changed, not read", date(2015, 1, 1)),
        ("new, not read", start),
        ("new, read at start", start),
    ):
        plant.vessel(name, None, since=since, internal=start, external=start)
        parts.append((name, "Shell", "cylinder", 20, 138, 1.0, 10.0, 0.05))
    plant.add("survey", "changed, not read", "Shell", "1", date(2018, 1, 1), 15.0)
    plant.add("survey", "new, not read", "Shell", "1", start, "no access")
    plant.add("survey", "new, read at start", "Shell", "1", start, 19.8)
    sheets = {name: [HEADINGS[name], *rows] for name, rows in plant.rows.items() if rows}
    events = [("Asset", "Component", "Date", "Event"), ("changed, not read", "Shell", start, "change of service")]
    with opened(write_plant(tmp_path / "plant", **{**sheets, "parts": parts, "events": events})) as connection:
        found = {
            name: (due["due_on"], due["state"])
            for name in ("changed, not read", "new, not read", "new, read at start")
            for due in (due_of(connection, name, "thickness"),)
        }
    for name, (due_on, state) in found.items():
        assert due_on is not None and due_on <= after(start, 182), (name, found)
        assert state == "overdue", (name, found)


# ---- on-stream inspections ------------------------------------------------------------------------------------------


def on_stream(plant: Plant) -> None:
    for name, life, rate, word in (
        ("on-stream counts", 12, 0.1, "yes"),
        ("on-stream, rate 0.125", 16, 0.125, "yes"),
        ("on-stream, rate 0.124", 16, 0.124, "yes"),
        ("on-stream, life 10", 10, 0.1, "yes"),
        ("on-stream, not in place", 12, 0.1, "no"),
        ("on-stream, nothing said", 12, 0.1, None),
    ):
        plant.vessel(name, None, internal=date(2008, 1, 1))
        plant.part(name, "Shell", life, rate=rate)
        plant.add("visits", name, "on-stream", date(2018, 1, 1), "sound", word)
    # A quick place elsewhere revokes it for the vessel.
    plant.vessel("on-stream, one place quick", 12, internal=date(2008, 1, 1))
    plant.part("on-stream, one place quick", "Head", 12, "N", rate=0.2)
    plant.add("visits", "on-stream, one place quick", "on-stream", date(2018, 1, 1), "sound", "yes")
    plant.vessel("on-stream, one part unread", 12, internal=date(2008, 1, 1))
    plant.add("parts", "on-stream, one part unread", "Head", "cylinder", 20, 138, 1.0, 10.0, None, None)
    plant.add("visits", "on-stream, one part unread", "on-stream", date(2018, 1, 1), "sound", "yes")


@pytest.mark.parametrize(
    ("name", "due_on"),
    # Life 12: 2020-01-01 + 2191 days. Life 16: + 2922 days = 2028-01-01, which 2018-01-01 + 3652 days is too.
    [("on-stream counts", date(2025, 12, 31)), ("on-stream, rate 0.124", date(2028, 1, 1))],
)
def test_an_on_stream_inspection_with_its_conditions_counts(
    plant: duckdb.DuckDBPyConnection, name: str, due_on: date
) -> None:
    due = due_of(plant, name, "internal")
    assert due["anchor_on"] == date(2018, 1, 1)
    assert due["on_stream_refused"] is None
    assert due["due_on"] == due_on


@pytest.mark.parametrize(
    "name",
    [
        "on-stream, rate 0.125",
        "on-stream, life 10",
        "on-stream, not in place",
        "on-stream, nothing said",
        "on-stream, one place quick",
        "on-stream, one part unread",
    ],
)
def test_an_on_stream_inspection_without_them_does_not(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """Last internal 2008-01-01 + 3652 days = 2017-12-31: overdue. The conditions must be recorded, not presumed."""
    due = due_of(plant, name, "internal")
    assert due["anchor_on"] == date(2008, 1, 1)
    assert (due["due_on"], due["state"]) == (date(2017, 12, 31), "overdue")
    assert due["on_stream_refused"]


# ---- relief devices -------------------------------------------------------------------------------------------------


def relief(plant: Plant) -> None:
    tested = date(2017, 1, 1)
    for name, interval, last, clean in (
        ("relief, 3 years", 3, tested, None),
        ("relief, no interval", None, tested, None),
        ("relief, 8 years", 8, tested, None),
        ("relief, 8 years clean", 8, tested, "yes"),
        ("relief, 8 years not clean", 8, tested, "no"),
        ("relief, 12 years clean", 12, tested, "yes"),
        ("relief, not tested", 5, None, None),
    ):
        plant.vessel(name, since=date(2016, 1, 1))
        plant.add("devices", name, f"PSV of {name}", 0.5, interval, last, clean)
    plant.vessel("relief, two")
    plant.add("devices", "relief, two", "PSV-A", 0.5, 5, date(2018, 1, 1), None)
    plant.add("devices", "relief, two", "PSV-B", 0.5, 5, date(2016, 2, 1), None)
    plant.vessel("relief, one of two never tested", since=None)
    plant.add("devices", "relief, one of two never tested", "PSV-C", 0.5, 5, date(2018, 1, 1), None)
    plant.add("devices", "relief, one of two never tested", "PSV-D", 0.5, 5, None, None)
    plant.vessel("relief, named only", device="PSV-9")
    plant.vessel("relief, named only, no date", since=None, device="PSV-8")
    plant.vessel("relief, by inspection", since=date(2016, 1, 1))
    plant.add("devices", "relief, by inspection", "PSV-7", 0.5, 5, None, None)
    plant.add("visits", "relief, by inspection", "relief device", date(2018, 1, 1), "sound", None)


@pytest.mark.parametrize(
    ("name", "days"),
    [
        ("relief, 3 years", 1095),
        ("relief, no interval", 1826),
        ("relief, 8 years", 1826),
        ("relief, 8 years clean", 2922),
        ("relief, 8 years not clean", 1826),
        ("relief, 12 years clean", 3652),
    ],
)
def test_a_relief_device_has_its_interval_within_the_cap(
    plant: duckdb.DuckDBPyConnection, name: str, days: int
) -> None:
    """Typical process service 5 years at most, clean 10; without an interval the cap."""
    assert due_of(plant, name, "relief device")["due_on"] == after(date(2017, 1, 1), days)


def test_an_interval_beyond_the_cap_is_in_the_ledger(plant: duckdb.DuckDBPyConnection) -> None:
    lines = rows(plant, "SELECT * FROM result.ledger WHERE sheet = 'devices'")
    assert any("PSV of relief, 8 years " in line["effect"] for line in lines)


def test_the_first_of_several_devices_is_due(plant: duckdb.DuckDBPyConnection) -> None:
    """2016-02-01 + 1826 days = 2021-01-31."""
    due = due_of(plant, "relief, two", "relief device")
    assert (due["due_on"], due["device"]) == (date(2021, 1, 31), "PSV-B")


def test_a_device_without_a_test_counts_from_the_in_service_date(plant: duckdb.DuckDBPyConnection) -> None:
    """2016-01-01 + 1826 days = 2020-12-31; named on the register only: 2004-01-01 + 1826 days = 2008-12-31."""
    assert due_of(plant, "relief, not tested", "relief device")["due_on"] == date(2020, 12, 31)
    named = due_of(plant, "relief, named only", "relief device")
    assert (named["due_on"], named["device"], named["state"]) == (date(2008, 12, 31), "PSV-9", "overdue")


@pytest.mark.parametrize("name", ["relief, named only, no date", "relief, one of two never tested"])
def test_a_device_without_any_date_is_not_assessable(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    due = due_of(plant, name, "relief device")
    assert due["state"] == "not assessable"
    assert due["due_missing"]


def test_a_test_among_the_inspections_counts(plant: duckdb.DuckDBPyConnection) -> None:
    """2018-01-01 + 1826 days = 2023-01-01 for the only device of the vessel."""
    assert due_of(plant, "relief, by inspection", "relief device")["due_on"] == date(2023, 1, 1)


# ---- deferrals ------------------------------------------------------------------------------------------------------

# External inspection of 2014-01-01: due 1826 days later, on 2019-01-01.
DUE = date(2019, 1, 1)
UNTIL = date(2021, 1, 1)
IN_TIME = date(2018, 6, 1)

#: vessel: (kind, due, until, reason, approver, approved on)
DEFERRALS: dict[str, tuple] = {
    "in time": ("external", DUE, UNTIL, "scaffold shared", "A. Engineer", IN_TIME),
    "the day before": ("external", DUE, UNTIL, "scaffold shared", "A. Engineer", date(2018, 12, 31)),
    "on the day": ("external", DUE, UNTIL, "scaffold shared", "A. Engineer", DUE),
    "late": ("external", DUE, UNTIL, "scaffold shared", "A. Engineer", date(2019, 6, 1)),
    "expired": ("external", DUE, date(2020, 5, 31), "scaffold shared", "A. Engineer", IN_TIME),
    "until today": ("external", DUE, AS_OF, "scaffold shared", "A. Engineer", IN_TIME),
    "without approver": ("external", DUE, UNTIL, "scaffold shared", None, IN_TIME),
    "without date": ("external", DUE, UNTIL, "scaffold shared", "A. Engineer", None),
    "without reason": ("external", DUE, UNTIL, None, "A. Engineer", IN_TIME),
    "of another kind": ("internal", DUE, UNTIL, "scaffold shared", "A. Engineer", IN_TIME),
    "of an earlier date": ("external", date(2013, 9, 1), UNTIL, "scaffold shared", "A. Engineer", date(2013, 6, 1)),
}
COVERED = ("in time", "the day before", "until today")


def deferrals(plant: Plant) -> None:
    for name, row in DEFERRALS.items():
        plant.vessel(f"deferral {name}", external=date(2014, 1, 1))
        plant.add("deferrals", f"deferral {name}", *row)
    plant.vessel("deferral not needed", external=date(2018, 1, 1))
    early = ("external", date(2023, 1, 1), date(2024, 1, 1), "early", "A. Engineer", IN_TIME)
    plant.add("deferrals", "deferral not needed", *early)
    plant.vessel("deferral twice", external=date(2014, 1, 1))
    plant.add("deferrals", "deferral twice", "external", DUE, date(2020, 1, 1), "first", "A. Engineer", IN_TIME)
    plant.add("deferrals", "deferral twice", "external", DUE, UNTIL, "second", "B. Engineer", date(2018, 9, 1))
    plant.vessel("deferral below", -1, external=date(2014, 1, 1))
    plant.add("deferrals", "deferral below", "external", DUE, UNTIL, "scaffold shared", "A. Engineer", IN_TIME)


@pytest.mark.parametrize("name", DEFERRALS)
def test_only_a_deferral_approved_in_time_moves_the_date(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """The original due date stays visible whatever becomes of it."""
    due = due_of(plant, f"deferral {name}", "external")
    assert due["due_on"] == DUE
    if name in COVERED:
        assert due["state"] == "deferred until"
        assert due["deferred_until"] == DEFERRALS[name][2]
        assert due["deferral_approved_by"] == "A. Engineer"
    else:
        assert due["state"] == "overdue"
        assert due["deferred_until"] is None


@pytest.mark.parametrize("name", ["on the day", "late", "expired", "without approver", "without date"])
def test_a_refused_deferral_says_why(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    assert due_of(plant, f"deferral {name}", "external")["deferral_refused"]


def test_a_deferred_vessel_is_not_in_date(plant: duckdb.DuckDBPyConnection) -> None:
    asset = asset_of(plant, "deferral in time")
    assert (asset["state"], asset["deferred_until"], asset["external_due_on"]) == ("deferred until", UNTIL, DUE)


def test_the_later_deferral_of_one_date_counts(plant: duckdb.DuckDBPyConnection) -> None:
    due = due_of(plant, "deferral twice", "external")
    assert (due["deferred_until"], due["deferral_approved_by"]) == (UNTIL, "B. Engineer")


def test_a_deferral_that_is_not_needed_changes_nothing(plant: duckdb.DuckDBPyConnection) -> None:
    assert due_of(plant, "deferral not needed", "external")["state"] == "in date"


def test_a_deferral_does_not_cover_a_wall_below_required(plant: duckdb.DuckDBPyConnection) -> None:
    assert asset_of(plant, "deferral below")["state"] == "below required"


# ---- set intervals --------------------------------------------------------------------------------------------------

APPROVED = ("RBA-12", "C. Engineer", date(2019, 2, 1))

#: vessel: (kind, interval, assessment, approver, approved on), last inspection, days, cap in years
SET: dict[str, tuple[tuple, int, float]] = {
    # 15 years are 5478.75 days. Life 40: half is 20, the documented cap 15.
    "set, documented": (("internal", 15, *APPROVED), 5478, 15),
    "set, no assessment": (("internal", 15, None, "C. Engineer", date(2019, 2, 1)), 3652, 10),
    "set, no approver": (("internal", 15, "RBA-12", None, date(2019, 2, 1)), 3652, 10),
    "set, no date": (("internal", 15, "RBA-12", "C. Engineer", None), 3652, 10),
    # 6 years are 2191.5 days. A shorter interval needs no assessment (assumed).
    "set, shorter": (("internal", 6, None, None, None), 2191, 6),
}


def set_intervals(plant: Plant) -> None:
    for name, (row, _, _) in SET.items():
        plant.vessel(name, 40, internal=date(2019, 1, 1))
        plant.add("intervals", name, *row)
    plant.vessel("set, external documented", 40)
    plant.add("intervals", "set, external documented", "external", 8, *APPROVED)
    plant.vessel("set, external undocumented", 40)
    plant.add("intervals", "set, external undocumented", "external", 8, None, None, None)
    plant.vessel("set, thickness documented", 40)
    plant.add("intervals", "set, thickness documented", "thickness", 15, *APPROVED)
    plant.vessel("set, half life shorter", 12, internal=date(2019, 1, 1))
    plant.add("intervals", "set, half life shorter", "internal", 15, *APPROVED)
    plant.vessel("set, other kind", 40, internal=date(2019, 1, 1))
    plant.add("intervals", "set, other kind", "external", 8, *APPROVED)
    plant.vessel("set, approved later", 40, internal=date(2019, 1, 1))
    plant.add("intervals", "set, approved later", "internal", 15, "RBA-12", "C. Engineer", date(2020, 9, 1))


@pytest.mark.parametrize("name", SET)
def test_a_set_interval_replaces_the_cap_only_with_its_assessment(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """Last internal 2019-01-01, reading 2020-01-01: the earlier of both with the same interval is from 2019."""
    _, days, cap = SET[name]
    due = due_of(plant, name, "internal")
    assert due["due_on"] == after(date(2019, 1, 1), days)
    assert due["cap_years"] == cap
    ignored = rows(plant, "SELECT * FROM result.ledger WHERE sheet = 'intervals' AND effect LIKE ?", f"%of {name} %")
    assert bool(ignored) == (cap == 10)


def test_the_other_kinds_have_their_set_intervals(plant: duckdb.DuckDBPyConnection) -> None:
    """External 8 years = 2922 days from 2019-01-01, internal interval 10; undocumented 5 years = 1826 days.
    Thickness 15 years = 5478 days from the reading, half of 40 is more; internal stays at 10 years.
    """
    assert due_of(plant, "set, external documented", "external")["due_on"] == after(date(2019, 1, 1), 2922)
    assert due_of(plant, "set, external undocumented", "external")["due_on"] == after(date(2019, 1, 1), 1826)
    assert due_of(plant, "set, thickness documented", "thickness")["due_on"] == after(READ, 5478)
    assert due_of(plant, "set, thickness documented", "internal")["due_on"] == after(date(2019, 1, 1), 3652)
    assert due_of(plant, "set, other kind", "internal")["due_on"] == after(date(2019, 1, 1), 3652)
    assert due_of(plant, "set, approved later", "internal")["due_on"] == after(date(2019, 1, 1), 3652)


def test_a_set_interval_leaves_the_half_life(plant: duckdb.DuckDBPyConnection) -> None:
    """Life 12: 6 years = 2191 days from the reading, before 2019-01-01 + 15 years."""
    assert due_of(plant, "set, half life shorter", "internal")["due_on"] == after(READ, 2191)


def test_of_two_set_intervals_the_row_order_does_not_decide(tmp_path: Path) -> None:
    """6 years by the owner and 15 without an assessment: the 15 do not count, the 6 do, in either order."""
    plant = Plant()
    for name, order in (("shorter first", (6, 15)), ("shorter last", (15, 6))):
        plant.vessel(name, 40)
        for years in order:
            plant.add("intervals", name, "internal", years, None, None, None)
    with opened(plant.write(tmp_path / "plant")) as connection:
        for name in ("shorter first", "shorter last"):
            assert due_of(connection, name, "internal")["cap_years"] == 6, name


# ---- MAWP -----------------------------------------------------------------------------------------------------------

# D = 2000, t_nom = 20: Ro = 1020. S E = 138. t_req at 1.5 MPa = 1530/138.6 = 11.038961 mm (loss inside: Ro stays).
T_REQ = 1.5 * 1020 / (138 + 0.6)


def holds(t: float) -> float:
    """S E t/(R + 0.6 t) with R = Ro - t."""
    return 138 * t / (1020 - 0.4 * t)


#: vessel: (thickness in 2012, in 2020)
WALLS = {
    "MAWP, half life": (13.5, 12.7),  # 0.1 mm/year, RL 16.61, interval 8.305
    "MAWP, cap": (18.4, 18.0),  # 0.05 mm/year, RL 139, interval 10
    "MAWP, short life": (13.8, 11.4),  # 0.3 mm/year, RL 1.2035, interval 1.2035
    "MAWP, life of 3": (12.54, 11.34),  # 0.15 mm/year, RL 2.0069, interval 2.0
    "MAWP, below": (11.6, 10.0),
    "MAWP, no loss": (15.0, 15.0),
}


def pressures(plant: Plant) -> None:
    for name, (first, last) in WALLS.items():
        plant.vessel(name, None, P=1.5)
        plant.add("parts", name, "Shell", "cylinder", 20, 138, 1.0, None, None, None)
        plant.add("survey", name, "Shell", "1", BEFORE, first)
        plant.add("survey", name, "Shell", "1", READ, last)
    plant.vessel("MAWP, liquid", None, P=1.5)
    plant.add("parts", "MAWP, liquid", "Shell", "cylinder", 20, 138, 1.0, None, 1.0, 20000)
    plant.add("survey", "MAWP, liquid", "Shell", "1", BEFORE, 14.5)
    plant.add("survey", "MAWP, liquid", "Shell", "1", READ, 13.7)
    plant.vessel("MAWP, one unknown", None, P=1.5)
    plant.add("parts", "MAWP, one unknown", "Shell", "cylinder", 20, 138, 1.0, None, None, None)
    plant.add("parts", "MAWP, one unknown", "Head", "cylinder", 20, None, 1.0, None, None, None)
    for part in ("Shell", "Head"):
        plant.add("survey", "MAWP, one unknown", part, "1", BEFORE, 18.4)
        plant.add("survey", "MAWP, one unknown", part, "1", READ, 18.0)


def component_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> Row:
    (row,) = rows(connection, "SELECT * FROM result.component WHERE asset = ? AND component = ?", asset, component)
    return row


@pytest.mark.parametrize("name", WALLS)
def test_mawp_now_and_at_the_next_inspection(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """Now at t_act, next at t_act - 2 x rate x interval, neither above the nameplate's 1.5 MPa."""
    first, last = WALLS[name]
    rate = (first - last) / 8
    life = (last - T_REQ) / rate if rate else None
    interval = 10 if life is None else 0 if life <= 0 else min(10, max(life / 2, min(life, 2)))
    component = component_of(plant, name)
    assert component["t_req_mm"] == pytest.approx(T_REQ, rel=1e-9)
    assert component["interval_years"] == pytest.approx(interval, abs=1e-9)
    assert component["mawp_mpa"] == pytest.approx(min(1.5, holds(last)), rel=1e-9)
    assert component["mawp_next_mpa"] == pytest.approx(min(1.5, holds(last - 2 * rate * interval)), rel=1e-9)


def test_two_roads_lead_to_the_rating_pressure(plant: duckdb.DuckDBPyConnection) -> None:
    """Half life, RL >= 4: t_act - 2 x rate x RL/2 = t_req, which holds 1.5 MPa exactly. Below 4 years it holds less."""
    assert place_of(plant, "MAWP, half life")["t_next_mm"] == pytest.approx(T_REQ, rel=1e-9)
    assert component_of(plant, "MAWP, half life")["mawp_next_mpa"] == pytest.approx(1.5, rel=1e-9)
    # RL 1.2035: 11.4 - 2 x 0.3 x 1.2035 = 10.678 mm; RL 2.0069: 11.34 - 0.6 = 10.74 mm.
    assert component_of(plant, "MAWP, short life")["mawp_next_mpa"] == pytest.approx(1.4507, abs=5e-5)
    assert component_of(plant, "MAWP, life of 3")["mawp_next_mpa"] == pytest.approx(1.4592, abs=5e-4)
    # 10.0 mm: 1380/1016 = 1.3583 MPa.
    assert component_of(plant, "MAWP, below")["mawp_mpa"] == pytest.approx(1.3583, abs=5e-5)


def test_static_head_is_taken_off(plant: duckdb.DuckDBPyConnection) -> None:
    """20 m of water: 0.433 psi/ft x 65.617 ft = 28.412 psi = 0.195894 MPa. P = 1.695894, t_req = 12.4736 mm;
    13.7 mm at 0.1 mm/year: RL 12.27, half life: next 1.695894 - 0.195894 = 1.5 MPa again.
    """
    place = place_of(plant, "MAWP, liquid")
    assert place["t_req_mm"] == pytest.approx(12.4736, abs=5e-5)
    assert place["mawp_mpa"] == pytest.approx(1.5)
    assert place["mawp_next_mpa"] == pytest.approx(1.5, rel=1e-9)


def test_an_unknown_part_leaves_the_vessel_s_mawp_unknown(plant: duckdb.DuckDBPyConnection) -> None:
    assert component_of(plant, "MAWP, one unknown")["mawp_mpa"] == pytest.approx(1.5)
    assert component_of(plant, "MAWP, one unknown", "Head")["mawp_mpa"] is None
    asset = asset_of(plant, "MAWP, one unknown")
    assert (asset["mawp_mpa"], asset["mawp_next_mpa"]) == (None, None)


def test_no_mawp_is_above_the_nameplate(plant: duckdb.DuckDBPyConnection) -> None:
    for table in ("component", "location"):
        assert rows(plant, f"SELECT * FROM result.{table} WHERE asset LIKE 'MAWP%' AND mawp_mpa > 1.5 + 1e-12") == []
        sql = f"SELECT * FROM result.{table} WHERE asset LIKE 'MAWP%' AND mawp_next_mpa > 1.5 + 1e-12"
        assert rows(plant, sql) == []


# ---- turnarounds ----------------------------------------------------------------------------------------------------

# Thickness due dates: 12/2 -> as named. External and internal are always later than 2035.
TURNAROUNDS: dict[str, Sequence[tuple]] = {
    "none": (),
    "one": (("TA-21", date(2021, 3, 1), date(2021, 4, 1)),),
    "two": (("TA-21", date(2021, 3, 1), date(2021, 4, 1)), ("TA-25", date(2025, 3, 1), date(2025, 4, 1))),
    "two and past": (
        ("TA-17", date(2017, 3, 1), date(2017, 4, 1)),
        ("TA-21", date(2021, 3, 1), date(2021, 4, 1)),
        ("TA-25", date(2025, 3, 1), date(2025, 4, 1)),
    ),
    "only past": (("TA-17", date(2017, 3, 1), date(2017, 4, 1)),),
}

# External inspection, then due 1826 days later.
EXTERNALS = {
    "due before it starts": date(2016, 1, 1),  # 2020-12-31
    "due while it runs": date(2016, 3, 15),  # 2021-03-15
    "due on its last day": date(2016, 4, 1),  # 2021-04-01
    "due between": date(2018, 1, 1),  # 2023-01-01
    "due on the last day of the second": date(2020, 4, 1),  # 2025-04-01
}
DUE_BY = {
    "none": (),
    "only past": (),
    "one": ("due before it starts", "due while it runs"),
    "two": ("due before it starts", "due while it runs", "due on its last day", "due between"),
    "two and past": ("due before it starts", "due while it runs", "due on its last day", "due between"),
}


@pytest.mark.parametrize("name", TURNAROUNDS)
def test_what_must_be_done_in_the_next_turnaround(tmp_path: Path, name: str) -> None:
    """Due before the end of the turnaround after the next one, or of the next one where no other is known."""
    plant = Plant()
    for vessel, external in EXTERNALS.items():
        plant.vessel(vessel, 30, internal=READ, external=external)
    # Retires 8 x 365.25 = 2922 days after 2016-01-01, on 2024-01-01, before TA-25 ends; due at half, 2020-01-01.
    plant.vessel("retires between", None, internal=READ, external=date(2020, 5, 1))
    plant.part("retires between", "Shell", 4.5)  # 2020-01-01 + 1643 days = 2024-07-01; due 2020-01-01 + 821 days
    for row in TURNAROUNDS[name]:
        plant.add("turnarounds", *row)
    with opened(plant.write(tmp_path / "plant")) as connection:
        found = {vessel: due_of(connection, vessel, "external") for vessel in EXTERNALS}
        assert {vessel: due["due_on"] for vessel, due in found.items()} == {
            vessel: after(external, 1826) for vessel, external in EXTERNALS.items()
        }
        for vessel, due in found.items():
            expected = "due by turnaround" if vessel in DUE_BY[name] else "in date"
            assert (vessel, due["state"]) == (vessel, expected)
            assert (vessel, asset_of(connection, vessel)["state"]) == (vessel, expected)
        retiring = asset_of(connection, "retires between")
        assert retiring["retirement_on"] == date(2024, 7, 1)
        assert retiring["state"] == ("due by turnaround" if name.startswith("two") else "in date")
        if TURNAROUNDS[name] and name != "only past":
            assert "before TA-21 starts" in asset_of(connection, "due before it starts")["reason"]


def test_a_turnaround_listed_twice_is_one_turnaround(tmp_path: Path) -> None:
    """TA-21 on two lists and TA-25: due 2023-01-01 is still before the end of the one after the next."""
    plant = Plant()
    plant.vessel("V-1", 30, internal=READ, external=date(2018, 1, 1))
    for row in (*TURNAROUNDS["one"], *TURNAROUNDS["two"]):
        plant.add("turnarounds", *row)
    with opened(plant.write(tmp_path / "plant")) as connection:
        assert due_of(connection, "V-1", "external")["state"] == "due by turnaround"


def test_a_deferral_covers_what_is_due_by_the_turnaround(tmp_path: Path) -> None:
    """Deferred until after the due date and approved before it: not overdue, due by turnaround otherwise."""
    plant = Plant()
    plant.vessel("V-1", external=date(2016, 3, 15))
    plant.add("deferrals", "V-1", "external", date(2021, 3, 15), date(2021, 9, 1), "why", "A. Engineer", IN_TIME)
    plant.add("turnarounds", "TA-21", date(2021, 3, 1), date(2021, 4, 1))
    with opened(plant.write(tmp_path / "plant")) as connection:
        assert due_of(connection, "V-1", "external")["state"] == "deferred until"


# ---- states and ranking ---------------------------------------------------------------------------------------------


def ranked() -> Plant:
    """One vessel of each state, some twice; names do not follow the order."""
    plant = Plant()
    plant.vessel("P below", -1)
    plant.vessel("A below more", -3)
    plant.vessel("Z overdue longer", external=date(2014, 1, 1))  # due 2019-01-01
    plant.vessel("B overdue", external=date(2015, 1, 1))  # due 2020-01-01
    plant.vessel("C no stress", None)
    plant.add("parts", "C no stress", "Shell", "cylinder", 20, None, 1.0, 10.0, None, None)
    plant.place("C no stress", "Shell", 30, "1")
    plant.vessel("Y due by", external=date(2016, 1, 1))  # due 2020-12-31
    plant.vessel("D due by later", external=date(2016, 3, 1))  # due 2021-03-01
    plant.vessel("X deferred", external=date(2014, 1, 1))
    plant.add("deferrals", "X deferred", "external", DUE, UNTIL, "why", "A. Engineer", IN_TIME)
    # In date: all three due externally on 2024-01-01 (2019-01-01 + 1826 days). Thickness and internal are later.
    plant.vessel("W in date", 30)
    plant.vessel("E in date", 30)
    plant.vessel("F in date, thinner", 28)
    plant.add("turnarounds", "TA-21", date(2021, 3, 1), date(2021, 4, 1))
    return plant


ORDER = [
    ("A below more", "below required"),
    ("P below", "below required"),
    ("Z overdue longer", "overdue"),
    ("B overdue", "overdue"),
    ("C no stress", "not assessable"),
    ("Y due by", "due by turnaround"),
    ("D due by later", "due by turnaround"),
    ("X deferred", "deferred until"),
    # Margin 2.8/10 before 3.0/10, then the tag.
    ("F in date, thinner", "in date"),
    ("E in date", "in date"),
    ("W in date", "in date"),
]

TABLES = ("reading", "location", "component", "asset", "due_date", "concern")
#: What names the cell a value stands in: it moves with the row, the result does not.
_ORIGIN = ("file", "sheet", "cell")


def contents(connection: duckdb.DuckDBPyConnection, table: str) -> list[tuple]:
    return sorted(
        (
            tuple(value for key, value in row.items() if key not in _ORIGIN)
            for row in rows(connection, f"SELECT * FROM result.{table}")
        ),
        key=repr,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return ranked().write(tmp_path_factory.mktemp("ranking") / "plant")


@pytest.fixture(scope="module")
def ranking(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with opened(folder) as connection:
        yield connection


def test_state_then_days_then_margin_then_tag(ranking: duckdb.DuckDBPyConnection) -> None:
    """The two below required share their day: the smaller margin first."""
    found = rows(ranking, "SELECT asset, state, rank FROM result.asset ORDER BY rank")
    assert [(row["asset"], row["state"]) for row in found] == ORDER
    assert [row["rank"] for row in found] == list(range(1, len(ORDER) + 1))


def test_every_vessel_has_a_reason_and_a_date(ranking: duckdb.DuckDBPyConnection) -> None:
    for row in rows(ranking, "SELECT * FROM result.asset"):
        assert row["reason"], row["asset"]
        assert row["due_on"] is not None, row["asset"]


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_rows_and_sheets_does_not_matter(
    ranking: duckdb.DuckDBPyConnection, tmp_path: Path, seed: int
) -> None:
    with opened(ranked().write(tmp_path / "plant", order=random.Random(seed))) as shuffled:
        for table in TABLES:
            assert contents(shuffled, table) == contents(ranking, table), table


def test_building_twice_gives_the_same(ranking: duckdb.DuckDBPyConnection, folder: Path) -> None:
    once = {table: contents(ranking, table) for table in (*TABLES, "ledger", "source")}
    with opened(folder) as second:
        assert {table: contents(second, table) for table in once} == once


def test_the_as_of_date_moves_states_and_nothing_else(tmp_path: Path) -> None:
    """External due 2024-01-01, thickness 2029-12-31: in date in 2020 and on the day itself, overdue from the day after
    (2024-01-01 lies before 2024-01-02, not before 2024-01-01); life and rate stay."""
    plant = Plant()
    plant.vessel("V-1", 30)
    folder = plant.write(tmp_path / "plant")

    def seen(as_of: date) -> tuple[Row, Row, Row]:
        with opened(folder, as_of) as connection:
            return place_of(connection, "V-1"), asset_of(connection, "V-1"), due_of(connection, "V-1", "external")

    early, on_the_day, late = (seen(as_of) for as_of in (date(2020, 6, 1), date(2024, 1, 1), date(2024, 1, 2)))
    assert early[0] == on_the_day[0] == late[0]
    assert [asset["state"] for _, asset, _ in (early, on_the_day, late)] == ["in date", "in date", "overdue"]
    assert [due["state"] for _, _, due in (early, on_the_day, late)] == ["in date", "in date", "overdue"]
    assert early[2]["due_on"] == on_the_day[2]["due_on"] == late[2]["due_on"] == date(2024, 1, 1)
    for key in ("remaining_life_years", "retirement_on", "internal_due_on", "external_due_on", "thickness_due_on"):
        assert early[1][key] == on_the_day[1][key] == late[1][key]
