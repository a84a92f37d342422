"""The sketch of a vessel and its outlook: drawn from dimensions, and curves that meet the results."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from datetime import date
from pathlib import Path

import duckdb
import pytest

from dashboard.wording import SYMBOLS
from pipeline import reading
from pipeline.drawing import drawing, svg
from pipeline.entering import enter
from pipeline.outlook import changes, coverage, pressure_over_time, thickness_band
from pipeline.people import Identity
from pipeline.record import Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import write_plant

AS_OF = date(2026, 1, 1)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A drum of two heads and a shell of known length, a nozzle, a part without a diameter, and one never measured."""
    folder: Path = tmp_path_factory.mktemp("drum") / "plant"
    write_plant(
        folder,
        assets=[["D-1", "Naphtha", "A", date(2010, 1, 1), 200, None, "P. Example"]],
        parts=[
            ["Asset", "Component", "Kind", "Inside diameter (in)", "Length (in)", "Nominal thickness (in)",
             "Allowable stress (psi)", "Joint efficiency", "Attached to"],
            ["D-1", "Shell", "shell", 60, 120, 0.75, 20000, 0.85, None],
            ["D-1", "West head", "2:1 head", 60, None, 0.75, 20000, 1.0, None],
            ["D-1", "East <head>", "2:1 head", 60, None, 0.75, 20000, 1.0, None],
            ["D-1", "N1", "nozzle", 8, None, 0.5, 15000, 1.0, "Shell"],
            ["D-1", "Boot", "shell", None, None, 0.5, 20000, 0.85, None],
        ],
        readings=[
            ["D-1", part, "1", day, t]
            for part in ("Shell", "West head", "N1")
            for day, t in ((date(2010, 1, 1), 0.75), (date(2020, 1, 1), 0.70), (date(2025, 1, 1), 0.66))
        ],
        turnarounds=[["Name", "Start", "End"], ["TA 1", date(2028, 1, 1), date(2028, 2, 1)]],
    )  # fmt: skip
    build(folder, as_of=AS_OF)
    return folder


@pytest.fixture
def results(plant: Path) -> duckdb.DuckDBPyConnection:
    return duckdb.connect(str((plant / "results.duckdb").resolve()), read_only=True)


def test_the_sketch_is_to_scale(results: duckdb.DuckDBPyConnection) -> None:
    made = drawing(results, "D-1", "us")
    outlines = {outline.component: outline for outline in made.outlines}
    assert set(outlines) == {"Shell", "West head", "East <head>", "N1"}
    xs = [x for x, _ in outlines["Shell"].points]
    ys = [y for _, y in outlines["Shell"].points]
    assert (max(xs) - min(xs), max(ys) - min(ys)) == pytest.approx((120 * 25.4, 60 * 25.4))
    west = [x for x, _ in outlines["West head"].points]  # a 2:1 head is a quarter of its diameter deep
    assert (max(west) - min(west), max(west)) == pytest.approx((15 * 25.4, min(xs)))
    assert not made.upright


def test_what_cannot_be_drawn_is_said(results: duckdb.DuckDBPyConnection) -> None:
    remarks = " ".join(drawing(results, "D-1", "us").remarks)
    assert "Not drawn, for want of kind or diameter: Boot." in remarks
    assert "not on record" in remarks


def test_every_place_is_marked_once_and_names_are_text(results: duckdb.DuckDBPyConnection) -> None:
    made = drawing(results, "D-1", "us")
    assert sorted((mark.component, mark.location) for mark in made.marks) == [
        ("N1", "1"), ("Shell", "1"), ("West head", "1"),
    ]  # fmt: skip
    picture = svg(made, SYMBOLS, "#123456", ("Shell", "1"))
    tree = ElementTree.fromstring(picture)  # well formed, whatever the names hold
    words = ["".join(node.itertext()) for node in tree.iter()]
    assert any("East <head>" in text for text in words)
    assert picture.count("<circle") == 1


PART_ROW = ("Asset", "Component", "Kind", "Inside diameter (in)", "Length (in)", "Nominal thickness (in)",
            "Allowable stress (psi)", "Joint efficiency", "Half apex angle (deg)")  # fmt: skip


def wall(
    tag: str, name: str, kind: str, diameter: float, length: float | None = None, angle: float | None = None
) -> list:
    return [tag, name, kind, diameter, length, 0.75, 20000, 1.0, angle]


@pytest.fixture(scope="module")
def shapes(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    """Vessels whose parts stand in the order of the register, or tell none; S-1 has a reading in millimetres."""
    folder: Path = tmp_path_factory.mktemp("shapes") / "plant"
    write_plant(
        folder,
        assets=[[tag, "Naphtha", "A", date(2010, 1, 1), 200, None, "P"] for tag in ("C-1", "C-2", "C-3", "E-1", "S-1")],
        # From the bottom up, and tags that sort otherwise.
        parts=[
            PART_ROW,
            wall("C-1", "Bottom head", "2:1 head", 90),
            wall("C-1", "Wide 2", "shell", 90, 120),
            wall("C-1", "Wide 1", "shell", 90, 120),
            wall("C-1", "Reducer", "cone", 90, angle=30),
            wall("C-1", "Narrow", "shell", 60, 100),
            wall("C-1", "Top head", "2:1 head", 60),
            # The cone stands first and its wide end meets the shell below it; the register does not say from where on.
            wall("C-2", "Cone", "cone", 60, 40),
            wall("C-2", "Lower shell", "shell", 60, 100),
            # Between two shells of one diameter a cone has no narrow end the register knows.
            wall("C-3", "Shell 1", "shell", 60, 100),
            wall("C-3", "Cone", "cone", 60, 40),
            wall("C-3", "Shell 2", "shell", 60, 100),
            # A head between two shells: the rows are in no order along the vessel.
            wall("E-1", "Shell", "shell", 40, 100),
            wall("E-1", "Rear head", "2:1 head", 40),
            wall("E-1", "Channel", "shell", 40, 30),
            wall("S-1", "Shell", "shell", 40, 100),
        ],
        readings=[
            *[["S-1", "Shell", place, day, t] for place in ("1", "10", "2")
              for day, t in ((date(2010, 1, 1), 0.75), (date(2020, 1, 1), 0.70), (date(2025, 1, 1), 0.68))],
            ["S-1", "Shell", "2", date(2025, 6, 1), 17.2],
        ],
    )  # fmt: skip
    build(folder, as_of=AS_OF)
    return duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True)


def ends(connection: duckdb.DuckDBPyConnection, tag: str) -> list[tuple[str, float, float, float]]:
    """Return each part from the top or left on: its name, its diameters at either end, and its length, in inches."""
    return [
        (outline.component, *(round(value / 25.4, 4) for value in (2 * outline.points[0][1], 2 * outline.points[1][1],
         outline.points[1][0] - outline.points[0][0])))
        for outline in drawing(connection, tag, "us").outlines
        if outline.words in ("cylinder", "cone")
    ]  # fmt: skip


def test_parts_stand_in_the_order_of_the_register_and_a_cone_meets_both_neighbours(
    shapes: duckdb.DuckDBPyConnection,
) -> None:
    made = drawing(shapes, "C-1", "us")
    names = [outline.component for outline in made.outlines]
    assert made.upright and names == ["Top head", "Narrow", "Reducer", "Wide 1", "Wide 2", "Bottom head"]
    # (90 - 60) in / 2 / tan 30 deg = 25.9808 in
    assert ends(shapes, "C-1")[1] == ("Reducer", 60, 90, 25.9808)
    said = " ".join(made.remarks)
    assert "Parts stand in the order of the register's rows, from the bottom." in said
    assert "Length from the half apex angle: Reducer." in said
    assert "Length not on the register" not in said


def test_where_rows_do_not_tell_an_end_the_order_is_taken_from_the_bottom(shapes: duckdb.DuckDBPyConnection) -> None:
    made = drawing(shapes, "C-2", "us")
    assert ends(shapes, "C-2") == [("Lower shell", 60, 60, 100), ("Cone", 60, 30, 40)]
    said = " ".join(made.remarks)
    assert "Parts stand in the order of the register's rows, taken to run from the bottom." in said
    assert "Narrow end not on the register, drawn as half the diameter: Cone." in said


def test_a_cone_between_equal_shells_has_a_narrow_end_nobody_knows(shapes: duckdb.DuckDBPyConnection) -> None:
    assert ends(shapes, "C-3")[1] == ("Cone", 60, 30, 40)
    assert "drawn as half the diameter: Cone." in " ".join(drawing(shapes, "C-3", "us").remarks)


def test_rows_with_a_head_between_two_shells_tell_no_order(shapes: duckdb.DuckDBPyConnection) -> None:
    made = drawing(shapes, "E-1", "us")
    assert [outline.component for outline in made.outlines] == ["Channel", "Shell", "Rear head"]
    assert "Order along the vessel not on record: parts stand in the order of their names." in made.remarks


def test_a_place_with_a_held_reading_is_never_plainly_in_date(shapes: duckdb.DuckDBPyConnection) -> None:
    made = drawing(shapes, "S-1", "us")
    held = {mark.location: mark.held for mark in made.marks}
    assert held == {"1": 0, "2": 1, "10": 0} and list(held) == ["1", "2", "10"]
    assert {mark.location: mark.label for mark in made.marks} == {"1": "1", "2": "2 (1 held)", "10": "10"}
    assert "location 2: in date, 1 held, 0.6800 in left" in next(mark.words for mark in made.marks if mark.held)
    written = ["".join(node.itertext()) for node in ElementTree.fromstring(svg(made, SYMBOLS, "#000")).iter()]
    assert "○ Shell (1 held)" in written and "2 (1 held)" in written and "10" in written
    places = reading.places(shapes, "S-1", "Shell")
    assert dict(zip(places["location"], places["held_readings"], strict=True)) == held
    assert list(places["location"]) == ["1", "2", "10"]


@pytest.mark.parametrize(
    ("tags", "ordered"),
    [
        (["J10", "J2", "J1"], ["J1", "J2", "J10"]),
        (["10", "9", "A"], ["9", "10", "A"]),
        (["TP-02 b", "TP-02", "TP-1"], ["TP-1", "TP-02", "TP-02 b"]),
        (["m²", "m"], ["m", "m²"]),
    ],
)
def test_tags_are_ordered_by_their_numbers(tags: list[str], ordered: list[str]) -> None:
    assert sorted(tags, key=reading.natural) == ordered


def test_the_place_that_asks_first_gives_the_date(results: duckdb.DuckDBPyConnection) -> None:
    first = reading.first_asked(results, "D-1")
    for kind, due_on in (("internal", "internal_due_on"), ("thickness", "due_on")):
        rows = results.cursor().execute(f"SELECT min({due_on}) FROM result.location WHERE asset = 'D-1'").fetchone()
        place = reading.place(results, "D-1", first[kind]["component"], first[kind]["location"])
        assert rows is not None and place is not None
        assert rows[0] == first[kind]["due_on"] == place[due_on] and first[kind]["read_on"] == place["read_on"]
    assert reading.first_asked(results, "D-9") == {}


def test_a_vessel_without_dimensions_has_no_sketch(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "p", assets=[["V-9", "Gas", "A", date(2010, 1, 1), 100, None, "P"]])
    build(folder, as_of=AS_OF)
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        assert svg(drawing(connection, "V-9", "us"), SYMBOLS, "#000") == ""


def test_the_pressure_curve_meets_the_results(results: duckdb.DuckDBPyConnection) -> None:
    row = reading.place(results, "D-1", "Shell", "1")
    assert row is not None
    curve = pressure_over_time(results, "D-1", "Shell", "1")
    assert curve["mawp_mpa"].iloc[0] == pytest.approx(row["mawp_mpa"], rel=1e-12)
    assert curve["mawp_mpa"].is_monotonic_decreasing
    assert curve["mawp_mpa"].max() <= row["mawp_mpa"]
    # On the day of the turnaround the curve stands between its neighbours: two roads to one number.
    before = curve[curve["on"] <= "2028-01-01"]["mawp_mpa"].iloc[-1]
    after = curve[curve["on"] >= "2028-01-01"]["mawp_mpa"].iloc[0]
    assert after <= row["mawp_turnaround_mpa"] <= before


def test_the_mawp_at_a_turnaround_by_hand(results: duckdb.DuckDBPyConnection) -> None:
    # Shell: Ro 30.75 in, ST (0.70 - 0.66)/5.0021 y = 0.0080 in/year governs over LT 0.0060. 2028-01-01 lies 1095 days
    # after the last reading: t = 0.66 - 2 x 0.0079967 x 2.99795 = 0.612053 in; the joint's E 0.85 counts:
    # P = S E t/(Ro - 0.4 t) = 20000 x 0.85 x 0.612053/(30.75 - 0.244821) = 341 psi, above the rating of 200 psi.
    row = reading.place(results, "D-1", "Shell", "1")
    assert row is not None
    assert row["mawp_turnaround_mpa"] == row["mawp_mpa"] == pytest.approx(200 * 0.006894757293168361, rel=1e-12)


def test_the_band_opens_from_the_last_reading(results: duckdb.DuckDBPyConnection) -> None:
    row = reading.place(results, "D-1", "Shell", "1")
    assert row is not None
    band = thickness_band(row)
    assert band["low_mm"].iloc[0] == band["high_mm"].iloc[0] == row["t_act_mm"]
    assert band["low_mm"].iloc[1] < band["high_mm"].iloc[1]


def test_coverage_puts_what_is_not_measured_first(results: duckdb.DuckDBPyConnection) -> None:
    rows = coverage(results, "D-1")
    assert list(rows["component"]) == ["Boot", "East <head>", "N1", "Shell", "West head"]
    assert list(rows["places"]) == [0, 0, 1, 1, 1]


def test_changes_are_the_newest_first(plant: Path) -> None:
    cells = {"asset": "D-1", "component": "Shell", "location": "1", "distance to weld": "3 in"}
    enter(plant, Typed("locations", cells), Identity("P. Example"), "tape", AS_OF)
    enter(plant, Typed("locations", {**cells, "distance to weld": "4 in"}), Identity("P. Example"), "again", AS_OF)
    rows = changes(Record(plant / "record.sqlite"), "D-1")
    assert [(row["who"], row["reason"]) for row in rows] == [("P. Example", "again"), ("P. Example", "tape")]
    assert "distance to weld 4 in" in rows[0]["what"]
    assert changes(Record(plant / "record.sqlite"), "D-2") == []
