"""The plan of a turnaround and its slip: every group by hand, counts against a second road, and monotone in months.

Vessels are those of the due rules: 10 mm required, read on 2012-01-01 and 2020-01-01 (2922 days, 8 years) at 0.1 mm a
year, so a remaining life of n years is 10 + n/10 mm left. As of 2020-06-01. Turnaround A runs from 2021-03-01 to
2021-04-01, B from 2024-03-01 to 2024-04-01: 1096 days later, so one more run ends 1096 days after that, on 2027-04-02.
Scatter of 0.10 mm over 8 years: 2 sqrt(2) 0.10 / 8 = 0.0354 mm/year, so the high rate is 0.1354 mm/year.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

from pipeline.publishing import open_results
from pipeline.run import build
from pipeline.slip import KINDS, LONGEST_SLIP, Slip, buying_time, counts_by_way, slip
from pipeline.turnaround import GROUPS, Plan, plan
from pipeline.turnaround_dates import Turnaround, months_later, reach, turnarounds
from tests.plants import write_plant
from tests.test_due_rules import HEADINGS, Plant

AS_OF = date(2020, 6, 1)
#: Five years after this day is 2024-05-31 (1826 days), after B ends; five years after 2019-01-01 is 2024-01-01.
LATE_EXTERNAL = date(2019, 6, 1)
REGISTER = (*HEADINGS["register"], "Status", "Status since")
RECOMMENDATIONS = ("Asset", "Recommendation", "Raised on", "Due")
AREAS = ("Asset", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Thickness (mm)")
SCOPE = ("Asset", "Turnaround name", "Decision on scope", "Reason", "Decided by", "Decided on")
A = ("A", date(2021, 3, 1), date(2021, 4, 1))
B = ("B", date(2024, 3, 1), date(2024, 4, 1))
C = ("C", date(2026, 3, 1), date(2026, 4, 1))


def vessel(plant: Plant, name: str, life: float | None = 30.0, **more: Any) -> None:
    plant.vessel(name, life, **{"external": LATE_EXTERNAL, **more})


def written(
    plant: Plant,
    folder: Path,
    *,
    status: dict[str, tuple[str, date]] | None = None,
    recommendations: list[tuple] | None = None,
    areas: list[tuple] | None = None,
    basis: str = "",
) -> Path:
    sheets: dict[str, list] = {name: [HEADINGS[name], *rows] for name, rows in plant.rows.items() if rows}
    register = [(*row, *(status or {}).get(row[0], (None, None))) for row in plant.rows["register"]]
    sheets["register"] = [REGISTER, *register]
    if recommendations:
        sheets["to do"] = [RECOMMENDATIONS, *recommendations]
    if areas:
        sheets["areas"] = [AREAS, *areas]
    return write_plant(folder, basis=basis, **sheets)


def opened(folder: Path, as_of: date = AS_OF) -> duckdb.DuckDBPyConnection:
    return open_results(build(folder, as_of=as_of).database)


def named(connection: duckdb.DuckDBPyConnection) -> dict[str, Turnaround]:
    return {one.name: one for one in turnarounds(connection)}


# ---- every group by hand --------------------------------------------------------------------------------------------

GROUP_OF = {
    "below": "must repair",  # 9.9 mm left, 10 required
    "retiring": "must repair",  # 3 years: 1095 days after 2020-01-01 is 2022-12-31, before B ends
    "unread": "cannot be told",
    "inspect": "must inspect",  # internal 2012-06-01 + 3652 days = 2022-06-01; a life of 9 years is not above 10
    "device": "must inspect",  # tested 2018-06-01, 5 years: 1826 days, 2023-06-01
    "advised": "must inspect",  # a recommendation due 2023-05-01
    "band": "re-measure first",  # 9 years: due 4.5 years on, 2024-07-01; high rate 0.9/0.1354/2 = 3.32 years: 2023-04
    "held": "re-measure first",
    "single": "re-measure first",
    "stream": "on-stream",  # due as "inspect", but 0.1 < 0.125 mm/year and 30 years are above 10
    "outside": "on-stream",  # external 2019-01-01 + 1826 days = 2024-01-01, before B ends
    "refused": "must inspect",  # as "stream", but the register says on-stream does not stand for internal
    "deferred": "can wait",  # internal due 2022-06-01 as above, deferred until 2025-06-01
    "wait": "can wait",
    "idle": "must inspect",  # as "inspect"
    "gone": "retired",
}


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Plant()
    old = date(2012, 6, 1)
    vessel(plant, "below", -1)
    vessel(plant, "retiring", 3)
    vessel(plant, "unread", None)
    plant.add("parts", "unread", "Shell", "cylinder", 20, 138, 1.0, 10.0, None, None)
    vessel(plant, "inspect", 9, internal=old)
    vessel(plant, "device", device="PSV-1")
    plant.add("devices", "device", "PSV-1", 0.5, 5, date(2018, 6, 1), None)
    vessel(plant, "advised")
    vessel(plant, "band", 9)
    vessel(plant, "held")
    plant.add("survey", "held", "Shell", "1", date(2020, 3, 1), 14.0)  # 13.0 left before: 1 mm thicker is held
    vessel(plant, "single", None)
    plant.add("parts", "single", "Shell", "cylinder", 20, 138, 1.0, 10.0, None, None)
    plant.add("survey", "single", "Shell", "1", date(2020, 1, 1), 19.0)  # 1 mm since 2004: 160 years of life
    vessel(plant, "stream", internal=old)
    vessel(plant, "outside", external=date(2019, 1, 1))
    vessel(plant, "refused", internal=old)
    plant.add("visits", "refused", "on-stream", date(2018, 1, 1), "sound", "no")
    vessel(plant, "deferred", internal=old)
    plant.add(
        "deferrals",
        *("deferred", "internal", date(2022, 6, 1), date(2025, 6, 1), "entry later", "M. Example", date(2020, 5, 1)),
    )
    vessel(plant, "wait")
    vessel(plant, "idle", 9, internal=old)
    vessel(plant, "gone")
    for row in (A, B):
        plant.add("turnarounds", *row)
    folder = written(
        plant,
        tmp_path_factory.mktemp("plan") / "plant",
        status={"idle": ("idle", date(2019, 1, 1)), "gone": ("retired", date(2020, 1, 1))},
        recommendations=[("advised", "replace the gasket", date(2020, 1, 1), date(2023, 5, 1))],
    )
    connection = opened(folder)
    yield connection
    connection.close()


@pytest.fixture(scope="module")
def sorted_assets(results: duckdb.DuckDBPyConnection) -> Plan:
    known = named(results)
    return plan(results, known["A"], known["B"], "si")


@pytest.fixture(scope="module")
def with_areas(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """Walls of 30 years, each with one reading of a corroded area on the day they were read: 10 mm required there too,
    and the component's 0.1 mm a year."""
    plant = Plant()
    areas = {"worn": 9.5, "wearing": 10.3, "slow": 10.5, "sound": 12.9}
    for name in areas:
        vessel(plant, name)
    for row in (A, B):
        plant.add("turnarounds", *row)
    rows = [(name, "Shell", "A1", date(2020, 1, 1), 0, 0, left) for name, left in areas.items()]
    connection = opened(written(plant, tmp_path_factory.mktemp("areas") / "plant", areas=rows))
    yield connection
    connection.close()


def test_a_corroded_area_is_planned_for_as_a_place_is(with_areas: duckdb.DuckDBPyConnection) -> None:
    # worn: 9.5 of 10 mm. wearing: 3 years, 1095 days after 2020-01-01, before B ends. slow: 5 years, 1826 days: its
    # half, 913 days, is due on 2022-07-02; it ends after B, within the run after it. sound: 29 years, due at ten.
    known = named(with_areas)
    found = plan(with_areas, known["A"], known["B"], "si")
    assert dict(zip(found.assets["asset"], found.assets["group"], strict=True)) == {
        "worn": "must repair",
        "wearing": "must repair",
        "slow": "must inspect",
        "sound": "can wait",
    }
    worn = row_of(found, "worn")
    assert worn["reason"] == (
        "Corroded area A1 of Shell: 9.50 mm is its lowest average on 2020-01-01, 10.00 mm required: below required now."
    )
    assert worn["latest_safe"] == "none: already below"
    wearing = row_of(found, "wearing")
    assert wearing["reason"] == (
        "Corroded area A1 of Shell: 10.30 mm is its lowest average on 2020-01-01, 10.00 mm required, reached on "
        "2022-12-31, before B ends on 2024-04-01."
    )
    assert wearing["latest_safe"] == "2022-12-31"
    slow = row_of(found, "slow")
    assert slow["reason"].startswith("Survey of a corroded area (A1 of Shell) is due on 2022-07-02, before B ends")
    studied = found.claims[(found.claims["asset"] == "slow") & (found.claims["group"] == "long-lead study")]
    (reason,) = studied["reason"]
    assert "10.00 mm required, reached on 2024-12-31, after B and within" in reason
    assert "a repair is to be studied now" in reason


def test_a_corroded_area_counts_in_the_slip(with_areas: duckdb.DuckDBPyConnection) -> None:
    known = named(with_areas)
    found = slip(with_areas, known["A"], known["B"])
    assert found.places_below == 1  # worn
    # A begins on 2021-03-01. wearing is due at two years, 730 days: 2021-12-31, broken from 2022-01-01 on, ten months
    # later; slow on 2022-07-02, from 2022-08-01 on, 17 months later; wearing ends on 2022-12-31, 22 months later.
    broken = {
        (row["asset"], row["kind"]): (row["needed_on"].date(), row["breaks_at"])
        for row in found.broken.to_dict("records")
        if row["kind"] in ("corroded area", "required thickness")
    }
    assert broken == {
        ("wearing", "corroded area"): (date(2021, 12, 31), 10),
        ("slow", "corroded area"): (date(2022, 7, 2), 17),
        ("wearing", "required thickness"): (date(2022, 12, 31), 22),
    }
    ways = {
        (row["asset"], row["kind"]): (row["way"], row["what"])
        for row in buying_time(found, LONGEST_SLIP).to_dict("records")
    }
    assert ways["slow", "corroded area"] == (
        "repair",
        "Survey corroded area A1 of Shell again, or repair it: no deferral stands for a survey of the area.",
    )
    assert ways["wearing", "required thickness"][1].startswith("Repair, replace or rerate corroded area A1 of Shell:")
    last = found.months.iloc[-1]
    assert (last["corroded area"], last["retiring"]) == (2, 1)


def row_of(found: Plan, asset: str) -> dict[str, Any]:
    (row,) = found.assets[found.assets["asset"] == asset].to_dict("records")
    return row


def test_every_asset_stands_in_the_group_that_a_hand_puts_it_in(sorted_assets: Plan) -> None:
    assert dict(zip(sorted_assets.assets["asset"], sorted_assets.assets["group"], strict=True)) == GROUP_OF


def test_the_groups_add_up_to_all_assets_and_stand_in_order(
    sorted_assets: Plan, results: duckdb.DuckDBPyConnection
) -> None:
    (total,) = results.execute("SELECT count(*) FROM result.asset").fetchall()[0]
    assert sum(sorted_assets.counts.values()) == total == len(sorted_assets.assets) == len(GROUP_OF)
    assert list(sorted_assets.counts) == list(GROUPS)
    places = [GROUPS.index(group) for group in sorted_assets.assets["group"]]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("asset", "parts"),
    [
        ("below", ["Shell, location 1", "9.90 mm left on 2020-01-01, 10.00 mm required", "below required now"]),
        # 2020-01-01 to 2024-04-01 is 1552 days, 4.2491 years: 10.3 - 0.42491 = 9.87509 mm
        ("retiring", ["2022-12-31", "before B ends on 2024-04-01", "9.88 mm would be left then at 0.100 mm/year"]),
        ("unread", ["Missing for Shell: a thickness location and a reading. No date of the asset is sure"]),
        ("inspect", ["is due on 2022-06-01, before B ends on 2024-04-01"]),
        ("device", ["Relief device test (PSV-1) is due on 2023-06-01"]),
        ("advised", ['Recommendation ("replace the gasket") is due on 2023-05-01']),
        ("band", ["0.135 mm/year", "it is to be read again by 2023-04", "Reading to take: Shell, location 1"]),
        ("held", ["1 reading is held at Shell, location 1", "Reading to take: Shell, location 1"]),
        ("single", ["one reading, 19.00 mm on 2020-01-01", "nominal thickness", "Reading to take: Shell, location 1"]),
        ("stream", ["Rates of 0.100 mm/year or less", "still to be evidenced", "API 510 6.5.2 (m)"]),
        ("outside", ["External inspection is due on 2024-01-01", "It can be met while the asset runs"]),
        ("wait", ["Next is the external inspection on 2024-05-31, after B ends"]),
        ("idle", ["It is idle since 2019-01-01: to be met before it goes back into service"]),
        ("gone", ["Retired since 2020-01-01", "left out of the plan"]),
    ],
)
def test_reasons_carry_place_number_and_date(sorted_assets: Plan, asset: str, parts: list[str]) -> None:
    reason = row_of(sorted_assets, asset)["reason"]
    for part in parts:
        assert part in reason


def test_the_latest_safe_date_stands_beside_each_asset(sorted_assets: Plan) -> None:
    safe = {
        row["asset"]: None if pd.isna(row["latest_safe_on"]) else row["latest_safe_on"].date()
        for row in sorted_assets.assets.to_dict("records")
    }
    assert safe["below"] is None and safe["unread"] is None and safe["gone"] is None
    assert safe["retiring"] == date(2022, 12, 31)
    assert safe["inspect"] == date(2022, 6, 1)
    assert safe["device"] == date(2023, 6, 1)
    assert safe["outside"] == date(2024, 1, 1)
    assert safe["wait"] == date(2024, 5, 31)
    words = {row["asset"]: row["latest_safe"] for row in sorted_assets.assets.to_dict("records")}
    assert (words["below"], words["unread"], words["gone"]) == ("none: already below", "unknown", "none: retired")
    assert words["wait"] == "2024-05-31"


def test_what_else_an_asset_deserves_stands_beside_its_group(sorted_assets: Plan) -> None:
    # A life of 9 years: the band crosses B as for "band".
    assert "re-measure first" in row_of(sorted_assets, "inspect")["also"]
    assert pd.isna(row_of(sorted_assets, "wait")["also"])


def test_sentences_are_in_the_unit_system_asked_for(results: duckdb.DuckDBPyConnection) -> None:
    known = named(results)
    # 9.9 mm = 0.3898 in, 10 mm = 0.3937 in
    assert (
        "0.3898 in left on 2020-01-01, 0.3937 in required"
        in row_of(plan(results, known["A"], known["B"], "us"), "below")["reason"]
    )


@pytest.mark.parametrize(("end", "group"), [(date(2024, 1, 1), "can wait"), (date(2024, 1, 2), "on-stream")])
def test_a_date_on_the_day_the_second_turnaround_ends_is_reached(
    results: duckdb.DuckDBPyConnection, end: date, group: str
) -> None:
    """External due on 2024-01-01; the day itself is not before the end."""
    known = named(results)
    assert row_of(plan(results, known["A"], replace(known["B"], end_on=end), "si"), "outside")["group"] == group


@pytest.mark.parametrize(("end", "group"), [(date(2022, 12, 31), "must inspect"), (date(2023, 1, 1), "must repair")])
def test_a_wall_used_up_on_the_day_it_ends_is_reached(
    results: duckdb.DuckDBPyConnection, end: date, group: str
) -> None:
    known = named(results)
    assert row_of(plan(results, known["A"], replace(known["B"], end_on=end), "si"), "retiring")["group"] == group


def test_a_wall_used_up_within_one_more_run_is_studied_ahead(tmp_path: Path) -> None:
    """3 years: retired on 2022-12-31; the interval is 2 years, due 2021-12-31. No scatter, so no band.

    From S (2020-09) to A (ends 2021-04-01) nothing is due; the third turnaround on record, B, ends on 2024-04-01.
    """
    plant = Plant()
    vessel(plant, "V-1", 3)
    plant.add("turnarounds", "S", date(2020, 9, 1), date(2020, 9, 20))
    for row in (A, B):
        plant.add("turnarounds", *row)
    with opened(written(plant, tmp_path / "plant", basis="reading_scatter_mm = 0.0")) as connection:
        known = named(connection)
        row = row_of(plan(connection, known["S"], known["A"], "si"), "V-1")
        assert row["group"] == "long-lead study"
        assert "on 2022-12-31, after A and within the run after it (B ends on 2024-04-01)" in row["reason"]


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """A plant with three turnarounds on record, and a reading of a vessel that stands on no register."""
    plant = Plant()
    vessel(plant, "V-1")
    plant.add("survey", "V-2", "Shell", "1", date(2020, 1, 1), 12.0)
    for row in (A, B, C):
        plant.add("turnarounds", *row)
    with opened(written(plant, tmp_path_factory.mktemp("three") / "plant")) as connection:
        yield connection


def test_a_third_turnaround_on_record_ends_the_run_after(
    results: duckdb.DuckDBPyConnection, three: duckdb.DuckDBPyConnection
) -> None:
    known = named(results)
    far = reach(results, known["A"], known["B"])
    assert (far.beyond_on, far.beyond_known) == (date(2027, 4, 2), False)
    known = named(three)
    far = reach(three, known["A"], known["B"])
    assert (far.beyond_on, far.beyond_known) == (date(2026, 4, 1), True)


def test_an_unlisted_asset_is_not_called_safe(three: duckdb.DuckDBPyConnection) -> None:
    known = named(three)
    row = row_of(plan(three, known["A"], known["B"], "si"), "V-2")
    assert row["group"] == "cannot be told"
    assert "it is on no register of assets" in row["reason"]


# ---- slip -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2021, 8, 31), 6, date(2022, 2, 28)),  # no 31st: the month's last day, never a day later
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2021, 12, 1), 1, date(2022, 1, 1)),
        (date(2021, 3, 1), 0, date(2021, 3, 1)),
        (date(2021, 3, 1), 24, date(2023, 3, 1)),
        (date(2021, 1, 31), 12, date(2022, 1, 31)),
    ],
)
def test_months_later(day: date, months: int, expected: date) -> None:
    assert months_later(day, months) == expected


@pytest.fixture(scope="module")
def slipping(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """Vessels whose dates fall after A's planned first day, 2021-03-01, each by another rule."""
    plant = Plant()
    vessel(plant, "outside", external=date(2016, 6, 1))  # + 1826 days = 2021-06-01
    vessel(plant, "inside", 9.0, internal=date(2011, 7, 15))  # + 3652 days = 2021-07-14
    vessel(plant, "stream", internal=date(2011, 7, 15))  # the same, life 30: may be met on-stream
    vessel(plant, "device", device="PSV-1")
    plant.add("devices", "device", "PSV-1", 5, 5, date(2016, 8, 1), None)  # + 1826 days = 2021-08-01
    vessel(plant, "spent", device="PSV-2")
    plant.add("devices", "spent", "PSV-2", 5, 5, date(2015, 5, 1), None)  # + 1826 days = 2020-04-30
    plant.add(
        "deferrals",
        *("spent", "relief device", date(2020, 4, 30), date(2021, 9, 1), "spare late", "M. Example", date(2020, 4, 1)),
    )
    vessel(plant, "thin", 2.0)  # retired 730 days after 2020-01-01: 2021-12-31; interval 2 years, due the same day
    vessel(plant, "late", external=date(2015, 1, 1))  # + 1826 days = 2020-01-01: overdue, not broken by the slip
    for row in (A, B):
        plant.add("turnarounds", *row)
    folder = written(plant, tmp_path_factory.mktemp("slip") / "plant")
    connection = opened(folder)
    yield connection
    connection.close()


@pytest.fixture(scope="module")
def slipped(slipping: duckdb.DuckDBPyConnection) -> Slip:
    known = named(slipping)
    return slip(slipping, known["A"], known["B"])


BREAKS_AT = {
    # A begins on 2021-03-01 + n months, always a first of the month; broken from the month that begins after the date
    ("outside", "external"): 4,  # 2021-06-01: still met on that very day at 3 months
    ("inside", "internal"): 5,  # 2021-07-14
    ("stream", "internal"): 5,
    ("device", "relief device"): 6,  # 2021-08-01: met at 5 months
    ("spent", "relief device"): 7,  # deferred until 2021-09-01
    ("thin", "internal"): 10,  # 2021-12-31
    ("thin", "thickness"): 10,
    ("thin", "required thickness"): 10,
    # its internal interval of 2 years also counts for the external one: 2019-06-01 + 730 days = 2021-05-31
    ("thin", "external"): 3,
}


def test_each_date_breaks_at_the_month_a_hand_finds(slipped: Slip) -> None:
    found = {
        (row["asset"], row["kind"]): row["breaks_at"]
        for row in slipped.broken.to_dict("records")
        if row["breaks_at"] <= 12 and (row["asset"] != "inside" or row["kind"] == "internal")
    }
    assert found == BREAKS_AT


def test_the_latest_start_that_breaks_nothing(slipped: Slip) -> None:
    assert slipped.latest_start_on == date(2021, 5, 31)
    assert slipped.latest_start_breaks == "thin, external inspection"
    # of what needs the shutdown: "inside" on 2021-07-14; the external ones and "stream" do not
    assert slipped.latest_start_shutdown_on == date(2021, 7, 14)
    assert slipped.latest_start_shutdown_breaks == "inside, internal or on-stream inspection"


def test_months_say_deferrals_devices_and_walls(slipped: Slip) -> None:
    months = slipped.months.set_index("month")
    assert months.loc[[5, 6, 7], "devices"].tolist() == [0, 1, 2]
    assert months.loc[[6, 7], "deferrals"].tolist() == [0, 1]
    assert months.loc[[9, 10], "retiring"].tolist() == [0, 1]
    assert (months["retiring_at_high_rate"] >= months["retiring"]).all()
    assert slipped.behind == 1  # "late"; "spent" is deferred beyond the planned start
    assert (slipped.behind_shutdown, slipped.devices_behind, slipped.places_below) == (0, 0, 0)  # it is external
    assert months.loc[4, "first_broken"] == "outside" == months.loc[4, "first_label"]


def test_what_is_so_as_planned_is_counted_apart(tmp_path: Path) -> None:
    """A begins on 2021-03-01: a wall is below, a device and an internal inspection are due before it."""
    plant = Plant()
    vessel(plant, "thin", -1)
    vessel(plant, "inside", 9.0, internal=date(2010, 7, 15))  # + 3652 days = 2020-07-14
    vessel(plant, "device", device="PSV-1")
    plant.add("devices", "device", "PSV-1", 5, 5, date(2015, 8, 1), None)  # + 1827 days = 2020-08-01
    for row in (A, B):
        plant.add("turnarounds", *row)
    connection = opened(written(plant, tmp_path / "plant"))
    known = named(connection)
    found = slip(connection, known["A"], known["B"])
    assert (found.places_below, found.devices_behind) == (1, 1)
    needs_shutdown = {("inside", "internal"), ("device", "relief device")}
    dates = connection.execute(
        "SELECT asset, kind FROM result.due_date WHERE coalesce(deferred_until, due_on) < DATE '2021-03-01'"
    ).fetchall()
    assert found.behind == len(dates) and needs_shutdown <= set(dates)
    assert found.behind_shutdown == sum(
        kind in ("relief device", "recommendation") or (kind == "internal" and asset in ("thin", "inside"))
        for asset, kind in dates
    )
    connection.close()


@pytest.mark.parametrize(
    ("asset", "kind", "way", "words"),
    [
        ("outside", "external", "on-stream", "Meet it while the asset runs, by 2021-06-01"),
        ("stream", "internal", "on-stream", "API 510 6.5.2 (m)"),
        ("inside", "internal", "deferral", "to be approved before 2021-07-14; none is on record for it"),
        ("device", "relief device", "deferral", "to be approved before 2021-08-01; none is on record for it"),
        # its own due date is past: no deferral can be approved before it any more
        ("spent", "relief device", "nothing", "No reading, on-stream inspection or deferral"),
        ("thin", "required thickness", "repair", "Repair, replace or rerate Shell, location 1"),
    ],
)
def test_the_cheapest_way_to_buy_time(slipped: Slip, asset: str, kind: str, way: str, words: str) -> None:
    bought = buying_time(slipped, 12)
    (row,) = bought[(bought["asset"] == asset) & (bought["kind"] == kind)].to_dict("records")
    assert row["way"] == way
    assert words in row["what"]


def test_a_reading_is_a_way_only_if_it_reaches_the_moved_start(demo: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(demo)
    found = slip(demo, first, second)
    seen = 0
    for months in (6, 9, 12, 18, 24):
        start = months_later(first.start_on, months)
        for row in buying_time(found, months).to_dict("records"):
            if row["way"] == "reading":
                seen += 1
                assert row["reading_on"].date() >= start > row["needed_on"].date()
            elif pd.notna(row["reading_on"]):
                assert row["reading_on"].date() < start
    assert seen


def test_the_ways_cover_every_broken_date_once(slipped: Slip) -> None:
    for months in range(LONGEST_SLIP + 1):
        bought = buying_time(slipped, months)
        assert len(bought) == (slipped.broken["breaks_at"] <= months).sum() == sum(counts_by_way(bought).values())


# ---- the second road ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(demo_results: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_results(demo_results) as connection:
        yield connection


@pytest.mark.parametrize("number", [0, 1])
def test_counts_equal_a_count_by_plain_python(demo: duckdb.DuckDBPyConnection, number: int) -> None:
    first = turnarounds(demo)[number]
    second = turnarounds(demo)[-1]
    dates = demo.execute("SELECT asset, kind, due_on, deferred_until FROM result.due_date").fetchall()
    walls = demo.execute(
        "SELECT retirement_on FROM result.location WHERE state <> 'below required' AND retirement_on IS NOT NULL"
    ).fetchall()
    months = slip(demo, first, second).months.to_dict("records")
    assert [row["month"] for row in months] == list(range(25))
    for row in months:
        year, month = divmod(first.start_on.month - 1 + row["month"], 12)
        start = date(first.start_on.year + year, month + 1, first.start_on.day)
        broken = dict.fromkeys(KINDS, 0)
        assets = set()
        for asset, kind, due, until in dates:
            relied = until or due
            if relied is not None and first.start_on <= relied < start:
                broken[kind] += 1
                assets.add(asset)
        assert row["start_on"].date() == start
        assert {kind: row[kind] for kind in KINDS} == broken
        assert row["broken"] == sum(broken.values())
        assert row["retiring"] == sum(first.start_on <= wall < start for (wall,) in walls)
        assert row["assets"] >= len(assets)


@pytest.mark.parametrize("which", ["demo", "slipping"])
def test_nothing_mends_by_slipping_further(which: str, request: pytest.FixtureRequest) -> None:
    connection = request.getfixturevalue(which)
    first, second = turnarounds(connection)
    months = slip(connection, first, second).months
    for column in (
        *KINDS,
        "broken",
        "retiring",
        "retiring_at_high_rate",
        "assets",
        "devices",
        "deferrals",
        "to_take_in",
    ):
        assert months[column].is_monotonic_increasing, column
    assert (months.loc[months["month"] == 0, [*KINDS, "broken", "retiring", "devices"]] == 0).all(axis=None)


def test_starting_on_the_latest_day_breaks_nothing_and_a_day_later_does(demo: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(demo)
    latest = slip(demo, first, second).latest_start_on
    assert latest is not None
    relied = [
        day
        for (day,) in demo.execute(
            "SELECT coalesce(deferred_until, due_on) FROM result.due_date UNION ALL "
            "SELECT retirement_on FROM result.location WHERE state <> 'below required'"
        ).fetchall()
        if day is not None and day >= first.start_on
    ]
    assert not any(day < latest for day in relied)
    assert any(day < latest + timedelta(days=1) for day in relied)


def test_the_plan_of_the_demo_plant_by_plain_python(demo: duckdb.DuckDBPyConnection) -> None:
    """The groups that rest on one question each, asked again of the results."""
    first, second = turnarounds(demo)
    found = plan(demo, first, second, "us")
    groups = found.assets.set_index("asset")["group"]
    repair = {
        asset
        for asset, state, retired in demo.execute("SELECT asset, state, retirement_on FROM result.location").fetchall()
        if state == "below required" or (retired is not None and retired < second.end_on)
    }
    assert set(groups[groups == "must repair"].index) == repair
    unknown = {
        asset
        for (asset,) in demo.execute(
            "SELECT asset FROM result.component WHERE missing IS NOT NULL UNION "
            "SELECT asset FROM result.due_date WHERE due_on IS NULL OR due_missing IS NOT NULL UNION "
            "SELECT asset FROM result.concern WHERE kind = 'data'"
        ).fetchall()
    }
    assert set(groups[groups == "cannot be told"].index) == unknown - repair
    for asset in groups[groups == "can wait"].index:
        dates = demo.execute(
            "SELECT coalesce(deferred_until, due_on) FROM result.due_date WHERE asset = ?", [asset]
        ).fetchall()
        assert all(day >= second.end_on for (day,) in dates)


def test_no_turnaround_on_record_gives_none(tmp_path: Path) -> None:
    plant = Plant()
    vessel(plant, "V-1")
    with opened(written(plant, tmp_path / "plant")) as connection:
        assert turnarounds(connection) == []
