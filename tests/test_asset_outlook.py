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
