"""Judging before saving: the steps on one asset's facts, with examples worked by hand."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.entering import enter
from pipeline.errors import Problem
from pipeline.judging import (
    Judgement,
    decision_on,
    held_in_words,
    held_readings,
    in_words,
    judge,
    pasted_rows,
    rate_choice,
    rate_options,
    reading_row,
    waiting,
)
from pipeline.people import Identity
from pipeline.publishing import open_results
from pipeline.record import Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import write_plant

AS_OF = date(2026, 1, 1)
BEN = Identity("Ben Example")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One vessel with a sound place, one with a reading held for growth, and one component nobody measured twice."""
    plant = write_plant(
        tmp_path_factory.mktemp("judging") / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", "1", 0.25], ["V-1", "Shell", "2", 0.25]],
        readings=[
            ["V-1", "Shell", "1", date(2015, 6, 1), 0.75],
            ["V-1", "Shell", "1", date(2025, 6, 1), 0.70],
            ["V-1", "Shell", "2", date(2015, 6, 1), 0.75],
            ["V-1", "Shell", "2", date(2020, 6, 1), 0.66],
            ["V-1", "Shell", "2", date(2025, 6, 1), 0.70],
        ],
        inspections=[["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
    )
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    shutil.copytree(built, tmp_path / "plant", symlinks=True)
    return tmp_path / "plant"


@pytest.fixture
def results(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_results(folder / "results.duckdb") as connection:
        yield connection


def reading(thickness: str, on: str = "2025-12-01", location: str = "1") -> Typed:
    return reading_row("V-1", "Shell", location, "us", on=on, thickness=thickness, inspector="Ben Example")


def tried(results: duckdb.DuckDBPyConnection, folder: Path, *rows: Typed) -> Judgement:
    return judge(results, folder, "V-1", rows)


def test_nothing_on_trial_gives_the_published_results(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    found = tried(results, folder)
    assert found.changes_nothing and found.before == found.after
    for table, rows in (("location", found.before.places), ("due_date", found.before.due_dates)):
        cursor = results.execute(f"FROM result.{table} ORDER BY ALL")
        names = [column[0] for column in cursor.description or []]
        published = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
        assert sorted(map(str, rows)) == sorted(map(str, published))


def test_the_demo_plants_vessels_stand_as_they_were_published(demo_results: Path) -> None:
    with open_results(demo_results) as connection:
        for (tag,) in connection.execute("SELECT asset FROM result.asset ORDER BY rank LIMIT 3").fetchall():
            found = judge(connection, demo_results.parent, tag)
            assert found.moved == []
            assert found.after.places == found.before.places and found.after.due_dates == found.before.due_dates


def test_a_fast_loss_governs_and_moves_the_dates(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    # 0.70 in on 2025-06-01, 0.60 in on 2025-12-01: 2.54 mm in 183 days = 0.501 027 years, far beyond the noise limit
    # of 0.283 mm, so the short-term rate of 5.069 590 mm/year governs however short the time.
    # Required 200 x 30.75 / (17000 + 80) = 0.360 070 in = 9.145 785 mm (outside-dimension form, weld region).
    # Life (15.24 - 9.145 785) / 5.069 590 = 1.202 112 years; below two years the interval is the life itself:
    # floor(1.202 112 x 365.25) = 439 days, so measure again by 2027-02-13.
    found = tried(results, folder, reading("0.60"))
    [one] = found.readings
    assert (one.status, one.previous_on, one.below_required) == ("used", date(2025, 6, 1), False)
    assert one.change_mm == pytest.approx(-2.54)
    assert "lower than its history: re-measure" in one.flags
    place = found.after.place("Shell", "1")
    assert place is not None
    assert place["rate_mm_per_year"] == pytest.approx(5.069590, abs=1e-6)
    assert place["remaining_life_years"] == pytest.approx(1.202112, abs=1e-6)
    assert place["due_on"] == date(2027, 2, 13)
    [moved] = [move for move in found.moved if move.what == "thickness"]
    before = found.before.place("Shell", "1")
    assert before is not None
    assert (moved.component, moved.location, moved.after) == ("Shell", "1", date(2027, 2, 13))
    assert moved.before is not None and moved.days == (date(2027, 2, 13) - moved.before).days  # type: ignore[operator]
    [said] = in_words(found, "us")
    assert "0.1000 in thinner than on 2025-06-01; it would count" in said
    assert "2.54 mm thinner" in in_words(found, "si")[0]


@pytest.mark.parametrize(
    ("thickness", "status", "held_for", "words"),
    [
        # +0.005 in = 0.127 mm is within the noise of 0.283 mm; +0.05 in = 1.27 mm is not.
        ("0.705", "used", None, "0.0050 in thicker than on 2025-06-01; it would count"),
        ("0.75", "held", "growth", "it would be held for growth until a person accepts or rejects it"),
        ("7.0", "held", "likely mistake", "it would be held as a likely mistake"),
        ("17.7", "held", "likely mistake", "it would be held as a likely mistake"),
        # below 9.145 785 mm = 0.360 070 in
        ("0.359", "used", None, "below the required 0.3601 in: stop and call the engineer"),
        ("17.7 mm", "used", None, "it would count"),
    ],
)
def test_what_would_become_of_a_reading(
    results: duckdb.DuckDBPyConnection, folder: Path, thickness: str, status: str, held_for: str | None, words: str
) -> None:
    found = tried(results, folder, reading(thickness))
    [one] = found.readings
    assert (one.status, one.held_for) == (status, held_for)
    assert words in in_words(found, "us")[0]
    assert one.below_required is (thickness == "0.359")
    state = "below required" if one.below_required else found.before.asset["state"]
    assert found.after.asset["state"] == state
    assert bool(found.remarks) is (thickness == "17.7 mm")  # the cell's own unit is used, and said


def test_a_reading_of_a_day_that_has_one_already_is_held_or_says_nothing_new(
    results: duckdb.DuckDBPyConnection, folder: Path
) -> None:
    """0.70 in stands on that day: 0.705 in contradicts it, and is held; 0.70 in again counts once."""
    other, same = (tried(results, folder, reading(typed, "2025-06-01")) for typed in ("0.705", "0.70"))
    assert [one.status for one in other.readings] == ["held"]
    [one] = same.readings
    assert (one.status, one.held_for, one.below_required) == ("superseded", None, False)
    assert "another reading of the same day would count in its place" in in_words(same, "us")[0]
    assert same.after.due_dates == same.before.due_dates


def test_a_reading_after_the_as_of_date_is_worked_for_its_own_day(
    results: duckdb.DuckDBPyConnection, folder: Path
) -> None:
    found = tried(results, folder, reading("0.69", "2026-03-01"))
    assert (found.published_on, found.worked_on) == (AS_OF, date(2026, 3, 1))
    assert [one.read_on for one in found.readings] == [date(2026, 3, 1)]


def test_several_readings_and_a_miss_are_judged_at_once(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    rows = pasted_rows("Shell; 1; 2025-12-01; 0.69\n\nShell\t2\t2025-12-01\tno access\t\tscaffold down\n", "V-1", "us")
    found = tried(results, folder, *rows)
    assert [(one.location, one.status) for one in found.readings] == [("1", "used")]
    assert [(miss["location"], miss["reason"], miss["remark"]) for miss in found.not_measured] == [
        ("2", "no access", "scaffold down")
    ]
    assert in_words(found, "us")[1] == "Shell, location 2, 2025-12-01: not measured, no access."


def test_a_reading_that_would_be_held_changes_a_state_and_no_date(
    results: duckdb.DuckDBPyConnection, folder: Path
) -> None:
    """Place 2 has one held reading; another at place 1 makes two of the asset and of its one component."""
    found = tried(results, folder, reading("0.75"))
    assert not found.changes_nothing and not found.moves_a_date
    assert held_in_words(found) == "V-1 and Shell would carry 2 held readings"
    told = {(one.what, one.location): (one.before, one.after) for one in found.moved}
    asset = found.before.asset["state"]
    place = found.before.place("Shell", "1")
    assert place is not None
    assert told == {
        ("state", None): (f"{asset}, 1 held", f"{asset}, 2 held"),
        ("state of the place", "1"): (place["state"], f"{place['state']}, 1 held"),
    }
    assert found.after.held_places() == {("Shell", "1"): 1, ("Shell", "2"): 1}


def test_a_verdict_on_the_only_held_reading_leaves_none(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    [one] = held_readings(results, folder, "V-1")
    found = judge(results, folder, "V-1", decisions=[decision_on(one, "V-1", "reject")])
    assert not found.changes_nothing and not found.moves_a_date
    assert held_in_words(found) == "V-1 and Shell would carry no held reading"


def test_readings_held_at_two_components_are_told_apart(demo_results: Path) -> None:
    """D-204 holds none; one thicker reading at its East head, and two at its Shell 1."""
    rows = [
        reading_row("D-204", component, location, "us", on="2026-10-20", thickness="0.75")
        for component, location in (("East head", "1"), ("Shell 1", "3"), ("Shell 1", "1"))
    ]
    with open_results(demo_results) as connection:
        found = judge(connection, demo_results.parent, "D-204", rows)
    assert [one.status for one in found.readings] == ["held"] * 3
    assert held_in_words(found) == (
        "D-204 would carry 3 held readings; East head would carry 1 held reading; Shell 1 would carry 2 held readings"
    )


def test_a_date_before_the_turnaround_it_is_called_due_by_says_so(demo_results: Path) -> None:
    """East head 1 of D-204 at 0.43 in is to be read again by 2026-11-29: TA 2027 begins on 2027-03-08 only."""
    with open_results(demo_results) as connection:
        row = reading_row("D-204", "East head", "1", "us", on="2026-10-20", thickness="0.43")
        found = judge(connection, demo_results.parent, "D-204", [row])
    place, before = (side.place("East head", "1") for side in (found.after, found.before))
    assert place is not None and before is not None
    assert place["state"] == "due by turnaround"
    assert found.measure_again(place) == f"{place['due_on']}, before TA 2027 begins"
    assert found.measure_again(before) == f"{before['due_on']}"  # in date
    later = {**place, "due_on": date(2027, 3, 8)}
    assert found.measure_again(later) == "2027-03-08"  # the day it begins is not before it
    assert found.measure_again({**place, "due_on": None}) == "—"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (lambda: [reading("about half")], "about half"),
        (lambda: [reading("0.69", "soon")], "soon"),
        (lambda: [reading("0.69", "2099-01-01")], "dated after"),
        (lambda: [reading("0")], "0 is never a thickness"),
        (lambda: [reading("")], "write the thickness"),
        (lambda: [reading("0.69", "")], "write the date"),
        (lambda: [Typed("survey, long", {**reading("0.69").cells, "asset": "V-2"})], "not about V-1"),
        (lambda: [reading("0.69"), reading("x")], "row 2: "),
        (lambda: pasted_rows("Shell; 1", "V-1", "us"), "line 1 has 2 cells"),
        (lambda: pasted_rows("  \n", "V-1", "us"), "nothing was pasted"),
        (lambda: pasted_rows("Shell; 1; ; 0.5", "V-1", "us"), "line 1: write the date"),
    ],
)
def test_what_cannot_be_entered_is_not_tried(
    results: duckdb.DuckDBPyConnection, folder: Path, rows: object, words: str
) -> None:
    with pytest.raises(Problem, match=words):
        tried(results, folder, *rows())  # type: ignore[operator]


def test_a_trial_writes_nothing(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    def content() -> dict[str, str]:
        return {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.iterdir()
            if path.is_file() and not path.name.startswith("record.sqlite-")
        }

    before = content()
    tried(results, folder, reading("0.60"))
    rate_options(results, folder, "V-1", "Shell", "1")
    held_readings(results, folder, "V-1")
    assert content() == before
    assert Record(folder / "record.sqlite").history() == []


def test_rates_stand_beside_each_other_with_what_each_gives(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    # Place 2 counts 0.75 (2015) and 0.66 (2020); 0.70 is held. LT = ST = 2.286 mm / (1827 / 365.25)
    # = 0.457 012 mm/year.
    # Life (16.764 - 9.145 785) / 0.457 012 = 16.669 6 years; half of it is 8.334 8 years = 3044 days after 2020-06-01.
    options = {one.choice: one for one in rate_options(results, folder, "V-1", "Shell", "2")}
    for choice in ("long-term", "short-term"):
        assert options[choice].rate_mm_per_year == pytest.approx(0.457012, abs=1e-6)
        assert options[choice].remaining_life_years == pytest.approx(16.6696, abs=1e-3)
        assert options[choice].due_on == date(2028, 10, 1)
    assert options["stated"].why_not == "there is no such rate at this place"
    assert options["fit upper bound"].why_not is not None  # two readings have no scatter of their own
    assert not any(one.in_force for one in options.values())


def test_a_choice_on_trial_moves_the_dates_as_the_entered_one_does(
    results: duckdb.DuckDBPyConnection, folder: Path
) -> None:
    row = rate_choice(
        "V-1", "Shell", "1", "named rate", date(2025, 12, 1), "Ben Example", "feed changed",
        **{"chosen rate (mil/year)": "40"},
    )  # fmt: skip
    found = tried(results, folder, row)
    place = found.after.place("Shell", "1")
    assert place is not None and place["rate_mm_per_year"] == pytest.approx(40 * 0.0254)
    assert place["rate_chosen_by"] == "Ben Example"
    enter(folder, row, BEN, "feed changed")
    again = {one.choice: one for one in rate_options(results, folder, "V-1", "Shell", "1")}
    assert again["named rate"].in_force and again["named rate"].due_on == place["due_on"]
    build(folder, as_of=AS_OF)
    with open_results(folder / "results.duckdb") as newer:
        [(due,)] = newer.execute("SELECT due_on FROM result.location WHERE location = '1'").fetchall()
    assert due == place["due_on"]


def test_a_held_reading_shows_both_dates_until_it_is_decided(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    [one] = held_readings(results, folder, "V-1")
    assert (one.location, one.held_for, one.text) == ("2", "growth", "0.7")
    # rejected: as it stands, 0.66 in of 2020 counts; accepted: 0.70 in of 2025, LT 1.27 mm in 10.001 years:
    # life (17.78 - 9.145 785) / 0.126 983 = 68 years, so the longest interval of ten years: 3652 days.
    assert one.due_on == one.due_if_rejected == date(2028, 10, 1)
    assert one.due_if_accepted == date(2035, 6, 1)
    Record(folder / "record.sqlite").decide(decision_on(one, "V-1", "accept"), BEN, "read twice more")
    assert held_readings(results, folder, "V-1") == []


def test_what_was_entered_since_counts_on_both_sides(results: duckdb.DuckDBPyConnection, folder: Path) -> None:
    assert waiting(results, folder, (folder / "results.duckdb").resolve()).entries == []
    enter(folder, reading("0.69", "2026-02-01"), BEN, "measured")
    waits = waiting(results, folder, (folder / "results.duckdb").resolve())
    assert [entry.who for entry in waits.entries] == ["Ben Example"]
    assert waits.as_of == date(2026, 2, 1)
    found = tried(results, folder, reading("0.68", "2026-03-01"))
    [one] = found.readings
    assert one.previous_on == date(2026, 2, 1)
    before = found.before.place("Shell", "1")
    assert before is not None and before["read_on"] == date(2026, 2, 1)
    build(folder, as_of=waits.as_of)
    with open_results(folder / "results.duckdb") as newer:
        assert waiting(newer, folder, (folder / "results.duckdb").resolve()).entries == []
