"""The page of the turnaround and what the opening page says of the fleet ahead: seen, chosen, decided, taken away."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline import fleet_ahead
from pipeline.basis import read_basis
from pipeline.publishing import open_results
from pipeline.record import Record
from pipeline.run import build
from pipeline.scope_decision import decisions
from pipeline.slip import slip
from pipeline.turnaround import plan
from pipeline.turnaround_dates import turnarounds
from tests.conftest import DEMO
from tests.plants import write_plant
from tests.test_dashboard import ENTRY, stated, words_of
from tests.test_due_rules import HEADINGS, Plant
from tests.test_turnaround import SCOPE, A, B, vessel

Opener = Callable[..., AppTest]
PEOPLE = '[people]\n"P. Example" = "inspector"\n"M. Example" = "manager"\n"O. Example" = "auditor"\n'


@pytest.fixture
def opened(demo_results: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Open a page on the demo plant, with what the address says after its question mark."""

    def open_page(page: str = "planning", folder: Path | None = None, **address: str | list[str]) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(folder / "results.duckdb" if folder else demo_results))
        if folder:
            monkeypatch.setenv(data.FOLDER_VARIABLE, str(folder))
        else:
            monkeypatch.delenv(data.FOLDER_VARIABLE, raising=False)
        app = AppTest.from_file(str(ENTRY), default_timeout=120)
        for name, value in address.items():
            app.query_params[name] = value
        if page:
            app.switch_page(f"views/{page}.py")
        app.run()
        assert not app.exception
        return app

    return open_page


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A plant with two vessels, two turnarounds, three people, and one decision on a sheet."""
    plant = Plant()
    vessel(plant, "V-1", external=date(2019, 1, 1))
    vessel(plant, "V-2")
    for row in (A, B):
        plant.add("turnarounds", *row)
    sheets: dict[str, list] = {name: [HEADINGS[name], *rows] for name, rows in plant.rows.items() if rows}
    sheets["scope"] = [SCOPE, ("V-2", "A", "in scope", "as last time", "M. Example", date(2020, 4, 1))]
    made = write_plant(tmp_path / "plant", basis=PEOPLE, **sheets)
    build(made, as_of=date(2020, 6, 1))
    return made


@pytest.fixture(scope="module")
def results(demo_results: Path) -> duckdb.DuckDBPyConnection:
    return open_results(demo_results)


def listed(app: AppTest) -> pd.DataFrame:
    return next(frame.value for frame in app.dataframe if "why" in frame.value or "reason" in frame.value)


# ---- the page -------------------------------------------------------------------------------------------------------


def test_the_page_lists_every_asset_by_group_with_counts(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(results)
    found = plan(results, first, second, "us")
    app = opened()
    assert list(listed(app)["asset"]) == list(found.assets["asset"])
    assert list(listed(app)["reason"]) == list(found.assets["reason"])
    (pills,) = [group for group in app.button_group if group.key == "group"]
    shown = list(pills.options)
    assert shown == [f"{group} · {count}" for group, count in found.counts.items() if count]


def test_a_group_and_words_in_the_address_choose_rows(opened: Opener) -> None:
    app = opened(group=["must inspect"], words="psv")
    rows = listed(app)
    assert set(rows["group"]) == {"must inspect"}
    assert all("PSV" in reason for reason in rows["reason"])
    assert stated(app, "group") == ["must inspect"]
    assert stated(app, "words") == ["psv"]


def test_another_turnaround_in_the_address_is_planned(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    _, second = turnarounds(results)
    app = opened(turnaround="TA 2029")
    assert "no later turnaround is on record" in words_of(app)
    assert list(listed(app)["reason"]) == list(plan(results, second, second, "us").assets["reason"])
    assert stated(app, "turnaround") == ["TA 2029"]


def test_the_slip_in_the_address_is_worked_out(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(results)
    found = slip(results, first, second)
    row = found.months.set_index("month").loc[12]
    app = opened(slip="12")
    words = words_of(app)
    assert app.slider(key="slip").value == 12
    assert f'<div class="hoop-date">{found.latest_start_on}</div>' in words
    assert f'<div class="hoop-date">{row["broken"]}</div>' in words
    assert "further due dates broken, 12 months later" in words and "latest start that breaks nothing more" in words
    broken = next(frame.value for frame in app.dataframe if "way_shown" in frame.value)
    assert len(broken) == (found.broken["breaks_at"] <= 12).sum()
    assert "Nothing is approved here" in words


def test_no_card_of_the_slip_reads_as_safe(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    """Nothing further breaks where nothing moves, and each card says what is so already."""
    first, second = turnarounds(results)
    found = slip(results, first, second)
    [(below,)] = results.execute("SELECT count(*) FROM result.location WHERE state = 'below required'").fetchall()
    assert found.places_below == below > 0 and found.behind > 0
    cards = [
        re.sub(r"<[^>]+>", " ", card)
        for card in "".join(element.proto.body for element in opened().get("html")).split('<div class="hoop-card')
    ]
    for label, already in (
        ("latest start that breaks nothing more", f"{found.behind} already due before it begins as planned"),
        ("the same for what needs the shutdown", f"{found.behind_shutdown} already due before it begins as planned"),
        ("further due dates broken, 0 months later", f"{found.behind} already due before it begins as planned"),
        ("further places at required thickness before it", f"{below} already below required"),
        ("further relief devices past their interval", f"{found.devices_behind} already past it when it begins"),
    ):
        (card,) = [card for card in cards if label in card]
        assert already in card, card


def test_moving_the_slider_writes_the_address(opened: Opener) -> None:
    app = opened()
    app.slider(key="slip").set_value(9).run()
    assert not app.exception
    assert stated(app, "slip") == ["9"]
    assert stated(app, "turnaround") == []  # the default is not written


@pytest.mark.parametrize("typed", ["-3", "99", "x", "1.5"])
def test_a_slip_that_is_none_is_put_right(opened: Opener, typed: str) -> None:
    assert opened(slip=typed).slider(key="slip").value in (0, 24)


def test_the_list_can_be_sorted_for_the_moved_dates(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(results)
    moved = plan(results, first.moved(18), second.moved(18), "us")
    app = opened(slip="18", moved="yes")
    assert list(listed(app)["group"]) == list(moved.assets["group"])
    assert list(moved.assets["group"]) != list(plan(results, first, second, "us").assets["group"])
    assert stated(app, "moved") == ["yes"]
    words = words_of(app)
    assert (
        f"Tried: {first.name} moved by 18 months, from {first.start_on} to {first.moved(18).start_on}; "
        f"{second.name} moves along, to {second.moved(18).start_on}." in words
    )
    assert f"{first.name} runs from" not in words
    assert f"{first.name} runs from {first.start_on}" in words_of(opened(slip="18"))


def test_a_last_turnaround_that_is_tried_later_takes_no_other_along(opened: Opener) -> None:
    words = words_of(opened(turnaround="TA 2029", slip="1", moved="yes"))
    assert "Tried: TA 2029 moved by 1 month, from 2029-10-01 to 2029-11-01. Every asset" in words


def test_the_latest_safe_date_is_never_a_blank(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(results)
    found = plan(results, first, second, "us").assets.set_index("asset")
    app = opened()
    shown = listed(app).set_index("asset")["latest_safe"]
    assert shown["D-204"] == "none: already below" and shown["V-109"] == "unknown"
    dated = found["latest_safe_on"].dropna()
    assert len(dated) and (shown[dated.index] == dated.dt.strftime("%Y-%m-%d")).all()
    assert "Latest safe date: none: already below." in words_of(app)  # the narrow form has it too


def test_one_asset_tells_every_reason(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(results)
    claims = plan(results, first, second, "us").claims
    app = opened(vessel="V-407")
    own = claims[claims["asset"] == "V-407"]
    assert len(own) > 2
    words = words_of(app)
    assert all(reason in words for reason in own["reason"])
    assert stated(app, "vessel") == ["V-407"]


def test_units_change_numbers_and_sentences(opened: Opener) -> None:
    assert "11.18 mm left on 2025-09-09" in " ".join(listed(opened(units="si"))["reason"])  # 0.4400 in


def test_without_a_turnaround_the_page_says_what_to_do(opened: Opener, tmp_path: Path) -> None:
    plant = Plant()
    vessel(plant, "V-1")
    made = plant.write(tmp_path / "plant")
    build(made, as_of=date(2020, 6, 1))
    assert "No turnaround lies ahead on record" in words_of(opened(folder=made))


# ---- deciding -------------------------------------------------------------------------------------------------------


def decide(app: AppTest, tag: str, decision: str | None, reason: str) -> AppTest:
    if decision:
        app.selectbox(key=f"decision on {tag}").set_value(decision)
    app.text_input(key=f"reason for {tag}").set_value(reason)
    (button,) = [button for button in app.button if button.label == "Record the decision"]
    button.click().run()
    assert not app.exception
    return app


def as_person(app: AppTest, name: str) -> AppTest:
    app.selectbox(key="person").set_value(name).run()
    assert not app.exception
    return app


def test_a_decision_is_seen_at_once_without_a_build(opened: Opener, folder: Path) -> None:
    app = as_person(opened(folder=folder, vessel="V-1"), "M. Example")
    decide(app, "V-1", "measure first", "read it before the freeze")
    assert [box.value.replace("\\", "") for box in app.success] == [
        "V-1: measure first for A, recorded under the name M. Example."
    ]
    rows = listed(app).set_index("asset")
    assert rows.loc["V-1", "decision"] == "measure first"
    assert rows.loc["V-2", "decision"] == "in scope"
    assert "read it before the freeze" in words_of(app)
    (entry,) = Record(folder / "record.sqlite").entries()
    assert (entry.who, entry.kind, entry.cells["asset"]) == ("M. Example", "scope decisions", "V-1")


def test_a_later_decision_stands_in_place_of_the_earlier_one(opened: Opener, folder: Path) -> None:
    app = as_person(opened(folder=folder, vessel="V-2"), "M. Example")
    decide(app, "V-2", "not in scope", "nothing is due")
    assert listed(app).set_index("asset").loc["V-2", "decision"] == "not in scope"
    assert "as last time. Counts: no: a later one stands." in words_of(app)


def test_the_next_build_reads_the_entry_and_takes_it_once(opened: Opener, folder: Path) -> None:
    decide(as_person(opened(folder=folder, vessel="V-1"), "M. Example"), "V-1", "study", "order plate")
    made = build(folder, as_of=date.today())
    entries = Record(folder / "record.sqlite").entries()
    with open_results(made.database) as connection:
        found = decisions(connection, entries, read_basis(folder), date.today())
    told = [(row["asset"], row["decision"], row["stands"]) for row in found]
    assert told == [("V-2", "in scope", True), ("V-1", "study", True)]


@pytest.mark.parametrize(
    ("name", "words"),
    [("P. Example", "are a manager's to enter"), ("O. Example", "an auditor reads and changes nothing")],
)
def test_who_may_not_decide_is_told_so(opened: Opener, folder: Path, name: str, words: str) -> None:
    app = as_person(opened(folder=folder, vessel="V-1"), name)
    assert words in words_of(app) and "Decisions cannot be recorded under this name: " in words_of(app)
    assert not [button for button in app.button if button.label == "Record the decision"]


def test_without_a_name_nothing_can_be_recorded(opened: Opener, folder: Path) -> None:
    app = opened(folder=folder, vessel="V-1")
    assert "Choose your name in the sidebar to record a decision." in words_of(app)
    assert not [button for button in app.button if button.label == "Record the decision"]


def test_a_decision_without_a_reason_is_not_recorded(opened: Opener, folder: Path) -> None:
    app = as_person(opened(folder=folder, vessel="V-1"), "M. Example")
    decide(app, "V-1", "study", "  ")
    assert "Nothing was recorded" in words_of(app)
    assert Record(folder / "record.sqlite").entries() == []


# ---- the opening page -----------------------------------------------------------------------------------------------


def test_the_fleet_page_shows_time_left_and_the_months(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    app = opened(page="").run()  # a browser asks for what lies below the ranking by itself
    bars = fleet_ahead.life_bars(fleet_ahead.life_left(results))
    (total,) = results.execute("SELECT count(*) FROM result.asset WHERE status <> 'retired'").fetchall()[0]
    assert bars["assets"].sum() == total
    due = fleet_ahead.calendar(results)
    counted = fleet_ahead.calendar_counts(due, date(2026, 11, 1))
    (dates,) = results.execute("SELECT count(*) FROM result.due_date").fetchall()[0]
    assert counted["due"].sum() == len(due) == dates
    months = next(frame.value for frame in app.dataframe if "column" in frame.value)
    assert months["all"].sum() == dates
    assert len(months) == 27
    assert "No earlier build is kept" in words_of(app)


def test_the_months_by_plain_python(results: duckdb.DuckDBPyConnection) -> None:
    due = results.execute("SELECT coalesce(deferred_until, due_on) FROM result.due_date").fetchall()
    as_of = date(2026, 11, 1)
    expected = {"overdue": 0, "later": 0, "no date": 0}
    for (day,) in due:
        ahead = None if day is None else (day.year - as_of.year) * 12 + day.month - as_of.month
        name = (
            "no date"
            if day is None or ahead is None
            else "overdue"
            if day < as_of
            else f"{day:%Y-%m}"
            if ahead < 24
            else "later"
        )
        expected[name] = expected.get(name, 0) + 1
    found = fleet_ahead.calendar_table(fleet_ahead.calendar_counts(fleet_ahead.calendar(results), as_of))
    assert {name: count for name, count in zip(found["column"], found["all"], strict=True) if count} == expected


def test_time_left_by_hand(tmp_path: Path) -> None:
    """As of 2020-06-01, 152 days after the reading: 3 years of life are 1095 - 152 = 943 days, 2.58 years left."""
    plant = Plant()
    for name, life in (("used", -1), ("three", 3), ("thirty", 30)):
        vessel(plant, name, life)
    vessel(plant, "unread", None)
    plant.add("parts", "unread", "Shell", "cylinder", 20, 138, 1.0, 10.0, None, None)
    vessel(plant, "partly", 3)
    plant.add("parts", "partly", "Head", "cylinder", 20, 138, 1.0, 10.0, None, None)
    vessel(plant, "mostly", 30)
    plant.add("parts", "mostly", "Head", "cylinder", 20, 138, 1.0, 10.0, None, None)
    plant.add("register", "steady", "Process gas", date(2004, 1, 1), 0.5, 2000, None)
    plant.part("steady", "Shell", 50, rate=0.0)
    for row in (A, B):
        plant.add("turnarounds", *row)
    with open_results(build(plant.write(tmp_path / "plant"), as_of=date(2020, 6, 1)).database) as connection:
        left = fleet_ahead.life_left(connection).set_index("asset")
    assert left["bar"].to_dict() == {
        "used": "used up",
        "three": "2 to 4 years",
        "thirty": "20 years or more",
        "unread": "unknown",
        "partly": "2 to 4 years",  # something is unknown, and what is known is within four years
        "mostly": "unknown",  # thirty years of one part say nothing of the other
        "steady": "no measurable loss",
    }
    assert left.loc["three", "left_years"] == pytest.approx(943 / 365.25, rel=1e-12)
    assert left["before_after"].to_dict() == {
        name: name in ("used", "three", "partly") for name in left.index
    }  # 2022-12-31 lies before B ends
    assert left["before_next"].sum() == 1  # "used"


def test_the_fleet_page_says_what_moved(opened: Opener, tmp_path: Path) -> None:
    made = tmp_path / "plant"
    shutil.copytree(DEMO, made, ignore=shutil.ignore_patterns("*.py", "__pycache__", "record.sqlite*", "results.*"))
    build(made, as_of=date(2026, 3, 1))
    build(made, as_of=date(2026, 11, 1))
    app = opened(page="", folder=made).run()
    words = words_of(app)
    assert "as of 2026-03-01" in words and re.search(r"as of 2026-11-01\. \d+ left the list: ", words)
    moved = next(frame.value for frame in app.dataframe if "how" in frame.value and "to_on" in frame.value)
    assert {"newly overdue", "done", "re-dated"} <= set(moved["how"])
