"""How an asset stands: operating years, idle, retired, recommendations, relief devices against what the wall bears.

By hand from engineering basis 4 and 6. A shell is read on 2020-01-01 and eight years before at 0.1 mm/year above 10 mm
required, so that a last reading of 10 + n/10 mm leaves n years. Whole days: 5 years 1826, 10 years 3652, 20 years 7305.
All is as of 2020-06-01.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.vessels import (
    AS_OF,
    Y12,
    Y20,
    Plant,
    after,
    asset_of,
    due_of,
    ledger_of,
    opened,
    place_of,
    rows,
)

LAST_INSIDE = date(2010, 1, 1)


def falling(last: float) -> tuple[tuple[date, float], ...]:
    return ((Y12, round(last + 0.8, 6)), (Y20, last))


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Plant()
    operating(plant)
    standing(plant)
    recommended(plant)
    relief(plant)
    with opened(plant.write(tmp_path_factory.mktemp("standing") / "plant")) as connection:
        yield connection


def dated(connection: duckdb.DuckDBPyConnection, asset: str, kind: str) -> list[dict]:
    return rows(connection, "SELECT * FROM result.due_date WHERE asset = ? AND kind = ?", asset, kind)


# ---- operating years ------------------------------------------------------------------------------------------------

HALF_TIME: dict[str, Any] = {"continuous": "no", "fraction": 0.5, "protection": "nitrogen blanket"}


def operating(plant: Plant) -> None:
    for name, life, said in (
        ("half the time", 50, HALF_TIME),
        ("half the time, half life", 20, HALF_TIME),
        ("half the time, short life", 3, HALF_TIME),
        ("all the time", 50, {**HALF_TIME, "fraction": 1.0}),
        ("never", 50, {**HALF_TIME, "fraction": 0}),
        ("unprotected", 50, {**HALF_TIME, "protection": None}),
        ("no fraction", 50, {**HALF_TIME, "fraction": None}),
        ("continuous", 50, {**HALF_TIME, "continuous": "yes"}),
        ("nothing said", 50, {**HALF_TIME, "continuous": None}),
    ):
        plant.vessel(name, falling(10 + life / 10), inspected=None, **said)
        plant.add("visits", name, "internal", LAST_INSIDE, "sound")
        plant.add("visits", name, "external", date(2019, 1, 1), "sound")


def test_the_cap_counts_years_in_operation(plant: duckdb.DuckDBPyConnection) -> None:
    """10 years at half the time are 20 calendar years: 2010-01-01 + 7305 days = 2030-01-01."""
    due = due_of(plant, "half the time", "internal")
    assert due["cap_years"] == 20
    assert due["due_on"] == date(2030, 1, 1)
    assert "in operation" in due["set_by"] and "nitrogen blanket" in due["set_by"]
    assert due["operating_years_refused"] is None
    assert place_of(plant, "half the time")["internal_interval_years"] == 20


def test_only_the_internal_interval_counts_them(plant: duckdb.DuckDBPyConnection) -> None:
    """The survey stays at 10 calendar years, the external inspection at 5."""
    assert due_of(plant, "half the time", "thickness")["due_on"] == after(Y20, 3652)
    assert due_of(plant, "half the time", "external")["due_on"] == after(date(2019, 1, 1), 1826)


def test_the_half_life_stays_in_calendar_years(plant: duckdb.DuckDBPyConnection) -> None:
    """20 years of life, 10 of interval, not 20: the rate is one of calendar years already. 3652 days after the reading,
    2029-12-31, before the cap of 2030-01-01.
    """
    assert due_of(plant, "half the time, half life", "internal")["due_on"] == after(Y20, 3652)


def test_no_internal_date_lies_beyond_retirement(plant: duckdb.DuckDBPyConnection) -> None:
    """3 years of life: two of interval, 730 days; retired after floor(1095.75) days."""
    assert due_of(plant, "half the time, short life", "internal")["due_on"] == after(Y20, 730)
    later = rows(
        plant,
        "SELECT asset FROM result.asset WHERE internal_due_on > retirement_on AND state <> 'below required' "
        "AND retirement_on > ?",
        Y20,
    )
    assert later == []
    assert asset_of(plant, "half the time, short life")["retirement_on"] == after(Y20, 1095)


@pytest.mark.parametrize(
    ("name", "why"),
    [("unprotected", "the protection while idle"), ("no fraction", "the fraction of the time"), ("never", "fraction")],
)
def test_without_fraction_or_protection_calendar_years_count(
    plant: duckdb.DuckDBPyConnection, name: str, why: str
) -> None:
    """2010-01-01 + 3652 days = 2020-01-01: overdue, and what is missing is said. Nothing is a share of no time."""
    due = due_of(plant, name, "internal")
    assert (due["cap_years"], due["due_on"], due["state"]) == (10, date(2020, 1, 1), "overdue")
    assert why in due["operating_years_refused"]
    assert "operating years are not counted" in asset_of(plant, name)["reason"]
    (line,) = ledger_of(plant, f"asset {name} is not in continuous service", "calendar years")
    assert line["severity"] == "warning"


@pytest.mark.parametrize("name", ["continuous", "nothing said", "all the time"])
def test_a_vessel_in_continuous_service_has_calendar_years(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    due = due_of(plant, name, "internal")
    assert (due["cap_years"], due["due_on"]) == (10, date(2020, 1, 1))
    assert due["operating_years_refused"] is None
    assert ledger_of(plant, f"asset {name} is not in continuous service") == []


# ---- idle and retired -----------------------------------------------------------------------------------------------


def standing(plant: Plant) -> None:
    plant.vessel("working", falling(11.0))
    for name, status, since, last in (
        ("idle", "idle", date(2018, 5, 1), 11.0),
        ("mothballed", "mothballed", date(2020, 2, 1), 11.0),
        ("idle, no date", "idle", None, 11.0),
        ("idle later", "idle", date(2020, 7, 1), 11.0),
        ("retired", "retired", date(2020, 3, 1), 11.0),
        ("retired, below", "retired", date(2020, 3, 1), 9.5),
        ("retired on the day it was read", "retired", Y20, 11.0),
        ("retired, no date", "retired", None, 11.0),
        ("retired, read later", "retired", date(2019, 6, 1), 11.0),
        ("retired later", "retired", date(2020, 7, 1), 11.0),
        ("retired, unknown", "retired", date(2020, 3, 1), None),
    ):
        points = () if last is None else falling(last)
        plant.vessel(name, points, status=status, status_since=since)
    plant.vessel("retired, inspected later", ((Y12, 12.0),), status="retired", status_since=date(2018, 6, 1))
    plant.add("advice", "retired", None, "replace the nozzle", date(2019, 1, 1), date(2019, 6, 1), None, None)


@pytest.mark.parametrize("name", ["idle", "mothballed"])
def test_the_dates_of_an_idle_vessel_stay(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """10 years of life, 5 of interval: 1826 days after the reading for both kinds; external 1826 after 2019-01-01."""
    idle, working = asset_of(plant, name), asset_of(plant, "working")
    assert idle["thickness_due_on"] == after(Y20, 1826)
    for column in ("state", "due_on", "internal_due_on", "external_due_on", "thickness_due_on", "retirement_on"):
        assert idle[column] == working[column], column
    assert idle["status"] == "idle"
    for concern in rows(plant, "SELECT * FROM result.concern WHERE asset = ?", name):
        assert f"idle since {idle['status_since']}" in concern["sentence"]
        assert "before it goes back into service" in concern["sentence"]
    assert "idle since" in idle["reason"]
    assert "idle" not in working["reason"]


RETIRED = ["retired", "retired, below", "retired on the day it was read", "retired, unknown"]


@pytest.mark.parametrize("name", RETIRED)
def test_no_date_is_due_of_what_is_retired(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    asset = asset_of(plant, name)
    assert (asset["state"], asset["status"]) == ("retired", "retired")
    for column in ("due_on", "due_kind", "internal_due_on", "external_due_on", "thickness_due_on", "relief_due_on"):
        assert asset[column] is None, column
    assert asset["recommendation_due_on"] is None
    assert rows(plant, "SELECT * FROM result.due_date WHERE asset = ?", name) == []
    (concern,) = rows(plant, "SELECT * FROM result.concern WHERE asset = ?", name)
    assert f"Retired since {asset['status_since']}" in concern["sentence"]


def test_what_is_retired_ranks_last(plant: duckdb.DuckDBPyConnection) -> None:
    ranked = rows(plant, "SELECT asset, state FROM result.asset ORDER BY rank")
    assert {row["asset"] for row in ranked[-len(RETIRED) :]} == set(RETIRED)
    assert all(row["state"] != "retired" for row in ranked[: -len(RETIRED)])


def test_the_results_of_what_is_retired_are_kept(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "retired")
    assert place["remaining_life_years"] == pytest.approx(10.0)
    assert place["t_act_mm"] == 11.0
    assert asset_of(plant, "retired")["remaining_life_years"] == pytest.approx(10.0)
    assert place_of(plant, "retired, below")["state"] == "below required"
    assert rows(plant, "SELECT * FROM result.component WHERE asset = 'retired'")


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("retired, no date", "not since when"),
        ("idle, no date", "not since when"),
        ("retired, read later", "2020-01-01"),
        ("retired, inspected later", "2019-01-01"),
    ],
)
def test_a_status_that_does_not_count_leaves_it_in_service(
    plant: duckdb.DuckDBPyConnection, name: str, why: str
) -> None:
    asset = asset_of(plant, name)
    assert (asset["status"], asset["status_since"]) == ("in service", None)
    assert asset["state"] != "retired"
    assert asset["thickness_due_on"] is not None
    (line,) = ledger_of(plant, f"asset {name} is treated as in service")
    assert line["severity"] == "set aside"
    assert why in line["reason"]


@pytest.mark.parametrize("name", ["retired later", "idle later"])
def test_a_status_after_the_as_of_date_is_not_yet(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    asset = asset_of(plant, name)
    assert asset["status"] == "in service"
    assert asset["thickness_due_on"] == after(Y20, 1826)
    assert "idle" not in asset["reason"] and "etired" not in asset["reason"]


def test_a_status_counts_from_its_date_on(tmp_path: Path) -> None:
    plant = Plant()
    standing(plant)
    folder = plant.write(tmp_path / "plant")
    for as_of, status in ((date(2020, 6, 30), "in service"), (date(2020, 7, 1), "retired")):
        with opened(folder, as_of) as connection:
            assert asset_of(connection, "retired later")["status"] == status


# ---- recommendations ------------------------------------------------------------------------------------------------


def recommended(plant: Plant) -> None:
    raised = date(2019, 3, 1)

    def advise(
        name: str,
        text: str | None,
        due: date | None,
        closed: date | None = None,
        evidence: str | None = None,
        raised: date | None = raised,
        component: str | None = None,
    ) -> None:
        plant.add("advice", name, component, text, raised, due, closed, evidence)

    for name in (
        "two open",
        "one closed",
        "all closed",
        "closed later",
        "closed on the as-of date",
        "undated",
        "undated and dated",
        "undated and overdue",
        "due before",
        "due that day",
        "deferred",
        "deferred without reason",
        "deferred too late",
        "stated twice",
        "raised later",
        "without words",
        "nothing recommended",
    ):
        plant.vessel(name, falling(14.0))
    advise("two open", "replace the gasket", date(2022, 3, 1))
    advise("two open", "scan the boot", date(2021, 3, 1), component="Shell")
    advise("one closed", "scan the boot", date(2019, 9, 1), date(2019, 8, 1), "report 14")
    advise("one closed", "replace the gasket", date(2021, 3, 1))
    advise("all closed", "scan the boot", date(2019, 9, 1), date(2019, 10, 1), "report 15")
    advise("closed later", "scan the boot", date(2020, 5, 1), date(2020, 6, 2))
    advise("closed on the as-of date", "scan the boot", date(2020, 5, 1), AS_OF, "report 16")
    advise("undated", "scan the boot", None)
    advise("undated and dated", "scan the boot", None)
    advise("undated and dated", "replace the gasket", date(2022, 3, 1))
    advise("undated and overdue", "scan the boot", None)
    advise("undated and overdue", "replace the gasket", date(2020, 3, 1))
    advise("due before", "scan the boot", date(2020, 5, 31))
    advise("due that day", "scan the boot", AS_OF)
    for name in ("deferred", "deferred without reason", "deferred too late"):
        advise(name, "scan the boot", date(2020, 5, 1))
    moved = (date(2020, 5, 1), date(2020, 12, 1))
    plant.add("deferrals", "deferred", "recommendation", *moved, "no scaffold", "R. Keel", date(2020, 4, 15))
    plant.add("deferrals", "deferred without reason", "recommendation", *moved, None, "R. Keel", date(2020, 4, 15))
    plant.add("deferrals", "deferred too late", "recommendation", *moved, "no scaffold", "R. Keel", date(2020, 5, 15))
    advise("stated twice", "Scan the boot", date(2021, 3, 1))
    advise("stated twice", "scan the boot", date(2021, 1, 1))
    advise("raised later", "scan the boot", date(2020, 5, 1), raised=date(2020, 6, 2))
    advise("without words", None, date(2020, 5, 1))


@pytest.mark.parametrize(
    ("name", "due_on", "text", "state"),
    [
        ("two open", date(2021, 3, 1), "scan the boot", "in date"),
        ("one closed", date(2021, 3, 1), "replace the gasket", "in date"),
        ("due before", date(2020, 5, 31), "scan the boot", "overdue"),
        ("due that day", AS_OF, "scan the boot", "in date"),
        # Closed only after the as-of date: open on it.
        ("closed later", date(2020, 5, 1), "scan the boot", "overdue"),
        ("undated and overdue", date(2020, 3, 1), "replace the gasket", "overdue"),
        # Open, and nobody knows until when: never in date, whatever the other one's date.
        ("undated", None, "scan the boot", "not assessable"),
        ("undated and dated", date(2022, 3, 1), "scan the boot", "not assessable"),
    ],
)
def test_the_earliest_open_recommendation_governs(
    plant: duckdb.DuckDBPyConnection, name: str, due_on: date | None, text: str, state: str
) -> None:
    due = due_of(plant, name, "recommendation")
    assert (due["due_on"], due["state"]) == (due_on, state)
    assert text in f"{due['device']} {due['due_missing']}"
    asset = asset_of(plant, name)
    assert asset["recommendation_due_on"] == due_on
    assert asset["state"] == state
    if state != "in date":
        assert "ecommendation" in asset["reason"] and text in asset["reason"]


@pytest.mark.parametrize("name", ["all closed", "closed on the as-of date", "raised later", "nothing recommended"])
def test_without_an_open_recommendation_none_is_due(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    assert dated(plant, name, "recommendation") == []
    assert asset_of(plant, name)["recommendation_due_on"] is None
    assert asset_of(plant, name)["state"] == "in date"


def test_a_recommendation_is_deferred_like_any_other_date(plant: duckdb.DuckDBPyConnection) -> None:
    due = due_of(plant, "deferred", "recommendation")
    assert (due["state"], due["due_on"]) == ("deferred until", date(2020, 5, 1))
    assert (due["deferred_until"], due["deferral_approved_by"]) == (date(2020, 12, 1), "R. Keel")
    assert asset_of(plant, "deferred")["state"] == "deferred until"
    for name, why in (("deferred without reason", "no reason"), ("deferred too late", "not before the due date")):
        due = due_of(plant, name, "recommendation")
        assert (due["state"], due["deferred_until"]) == ("overdue", None)
        assert why in due["deferral_refused"]


def test_a_recommendation_stated_twice_is_one_with_the_earlier_date(plant: duckdb.DuckDBPyConnection) -> None:
    (row,) = rows(plant, "SELECT * FROM result.recommendation WHERE asset = 'stated twice'")
    assert (row["due_on"], row["is_open"]) == (date(2021, 1, 1), True)


def test_every_recommendation_is_listed_open_or_closed(plant: duckdb.DuckDBPyConnection) -> None:
    listed = rows(plant, "SELECT * FROM result.recommendation WHERE asset = 'one closed'")
    assert [(row["is_open"], row["closed_on"], row["evidence"]) for row in listed] == [
        (True, None, None),
        (False, date(2019, 8, 1), "report 14"),
    ]


def test_a_date_without_words_is_not_dropped_silently(plant: duckdb.DuckDBPyConnection) -> None:
    """A due date stands in the row and nobody can tell what for: it asks for work, or the ledger names its cell."""
    due = dated(plant, "without words", "recommendation")
    assert due and due[0]["state"] == "overdue" and due[0]["due_on"] == date(2020, 5, 1)


# ---- relief devices -------------------------------------------------------------------------------------------------

# Inside diameter 2000, nominal 20, loss inside: the outside radius 1020 stays. P = 1.5, S = 138, E = 0.85:
# required 1.5 x 1020/(117.3 + 0.6) = 12.977099 mm; a wall t bears 117.3 t/(1020 - 0.4 t).
WALL: dict[str, Any] = {"D": 2000, "P": 1.5, "S": 138, "E": 0.85, "nominal": 20.0, "structural": None}


def relief(plant: Plant) -> None:
    for name, last, setting in (
        ("thin, set at the rating", 12.5, 1.5),
        ("thin, set lower", 12.5, 1.44),
        ("thick, set at the rating", 14.0, 1.5),
        ("thick, set above", 14.0, 1.6),
        ("thin next, set at the rating", 13.177099, 1.5),
        ("thin, a part unread", 12.5, 1.5),
        ("thin, two devices", 12.5, 1.5),
    ):
        plant.vessel(name, falling(last), **WALL)
        plant.add("devices", name, f"PSV of {name}", setting, 5, date(2018, 1, 1))
    plant.part("thin, a part unread", "Head", (), "N", S=138, E=0.85, nominal=20.0, structural=None)
    plant.add("devices", "thin, two devices", "PSV-2", 1.4, 5, date(2018, 1, 1))


def margin_of(connection: duckdb.DuckDBPyConnection, asset: str) -> dict:
    sql = "SELECT * FROM result.relief_device WHERE asset = ? AND device = ?"
    (row,) = rows(connection, sql, asset, f"PSV of {asset}")
    return row


@pytest.mark.parametrize(
    ("name", "now", "rating", "following"),
    [
        # 117.3 x 12.5/(1020 - 5) = 1466.25/1015 = 1.444581 MPa: below the 1.5 of the rating.
        ("thin, set at the rating", True, False, True),
        ("thin, set lower", False, False, False),
        # 14.0 bears 1642.2/1014.4 = 1.618888; the MAWP is no more than the rating 1.5, and set at it is not above it.
        ("thick, set at the rating", False, False, False),
        ("thick, set above", True, True, True),
        # 2 years of life, interval 2: 13.177099 - 0.4 = 12.777099 bears 1498.7537/1014.88916 = 1.476766 then.
        ("thin next, set at the rating", False, False, True),
        # The head was never read: the MAWP of the vessel is unknown, and the shell alone bears too little.
        ("thin, a part unread", True, False, True),
    ],
)
def test_the_setting_is_held_against_what_the_wall_bears(
    plant: duckdb.DuckDBPyConnection, name: str, now: bool, rating: bool, following: bool
) -> None:
    row, asset = margin_of(plant, name), asset_of(plant, name)
    assert (row["above_mawp_now"], row["above_rating"], row["above_mawp_next"]) == (now, rating, following)
    assert (f"PSV of {name} is set above the MAWP" in asset["reason"]) is now
    assert asset["relief_above_mawp"] == (f"PSV of {name}" if now else None)


def test_the_pressures_beside_the_setting(plant: duckdb.DuckDBPyConnection) -> None:
    thin, following, unread = (
        margin_of(plant, name)
        for name in ("thin, set at the rating", "thin next, set at the rating", "thin, a part unread")
    )
    assert thin["mawp_mpa"] == pytest.approx(1.444581, abs=1e-6)
    assert following["mawp_mpa"] == pytest.approx(1.5)
    assert following["mawp_next_mpa"] == pytest.approx(1.476766, abs=1e-6)
    assert unread["mawp_mpa"] is None
    assert unread["rating_pressure_mpa"] == 1.5


def test_only_the_device_set_too_high_is_named(plant: duckdb.DuckDBPyConnection) -> None:
    """1.4 is below 1.444581."""
    assert asset_of(plant, "thin, two devices")["relief_above_mawp"] == "PSV of thin, two devices"
    assert "PSV-2 is set above" not in asset_of(plant, "thin, two devices")["reason"]


# ---- nothing later changes what stood on the as-of date -------------------------------------------------------------

LATER = date(2020, 7, 1)


def earlier_and_later(with_later: bool) -> Plant:
    plant = Plant()
    for name in ("read", "visited", "renewed", "chosen", "advised", "closed", "moved", "tested"):
        plant.vessel(name, falling(11.0))
    plant.add("advice", "closed", None, "scan the boot", date(2019, 1, 1), date(2020, 5, 1), None, None)
    plant.add("advice", "moved", None, "scan the boot", date(2019, 1, 1), date(2020, 7, 15), None, None)
    plant.vessel("stopped", falling(11.0), status="retired" if with_later else None, status_since=LATER)
    plant.vessel("turned off", falling(11.0), status="idle" if with_later else None, status_since=LATER)
    plant.add("devices", "tested", "PSV-1", 0.5, 5, LATER if with_later else None)
    plant.add("devices", "tested", "PSV-1", 0.5, 5, date(2014, 1, 1))
    if with_later:
        plant.add("survey", "read", "Shell", "1", LATER, 10.2)
        plant.add("visits", "visited", "internal", LATER, "sound")
        plant.add("events", "renewed", "Shell", LATER, "replaced", 16.0)
        plant.add("choices", "chosen", "Shell", None, "named rate", 0.3, "as found", "R. Keel", LATER)
        plant.add("advice", "advised", None, "scan the boot", LATER, date(2020, 5, 1), None, None)
        plant.rows["advice"][0] = (*plant.rows["advice"][0][:5], LATER, None)
        plant.add(
            "deferrals", "moved", "recommendation", date(2020, 7, 15), date(2021, 1, 1), "no scaffold", "R. Keel", LATER
        )
    return plant


TABLES = (
    "asset",
    "component",
    "location",
    "due_date",
    "concern",
    "worth_measuring",
    "next_due",
    "recommendation",
    "relief_device",
)


def test_nothing_after_the_as_of_date_changes_what_stood_on_it(tmp_path: Path) -> None:
    found = []
    for with_later in (False, True):
        folder = earlier_and_later(with_later).write(tmp_path / str(with_later))
        with opened(folder) as connection:
            found.append(
                {
                    table: rows(connection, f"SELECT * EXCLUDE (file, sheet, cell) FROM result.{table} ORDER BY ALL")
                    if table in ("recommendation", "relief_device")
                    else rows(connection, f"SELECT * FROM result.{table} ORDER BY ALL")
                    for table in TABLES
                }
            )
    for table in TABLES:
        assert found[0][table] == found[1][table], table


def test_each_of_the_later_rows_changes_something_once_it_has_come(tmp_path: Path) -> None:
    """Else the test before could not fail."""
    states = []
    for with_later in (False, True):
        with opened(earlier_and_later(with_later).write(tmp_path / str(with_later)), LATER) as connection:
            states.append(
                {
                    name: (
                        rows(connection, "SELECT * EXCLUDE (rank) FROM result.asset WHERE asset = ?", name),
                        rows(connection, "SELECT * FROM result.due_date WHERE asset = ? ORDER BY kind", name),
                    )
                    for (name,) in connection.execute("SELECT asset FROM result.asset").fetchall()
                }
            )
    assert [name for name in states[0] if states[0][name] == states[1][name]] == []
