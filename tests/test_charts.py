"""Every chart is a specification Vega-Lite accepts, holds the data given, and keeps its words within its edges."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from itertools import pairwise

import altair as alt
import pandas as pd
import pytest

from dashboard import charts, charts_fleet
from dashboard.charts import DARK, LIGHT, Chart, Palette
from dashboard.wording import KINDS
from pipeline.axis import spanned

DAYS = pd.to_datetime(["2018-03-01", "2022-03-01", "2026-03-01"])
MARKS = pd.DataFrame({"on": pd.to_datetime(["2019-01-01", "2026-01-01"]), "words": ["new history", "as of"]})
LIMITS = pd.DataFrame({"thickness_mm": [9.0, 8.0], "words": ["required", "away"], "counts": [True, False]})
READINGS = pd.DataFrame(
    {
        "read_on": DAYS,
        "thickness_mm": [12.0, 11.0, None],
        "status": ["used", "used", "held"],
        "flags": [None, "", "grew"],
        "text": ["12", "11", "?"],
        "source": ["a.xlsx, s, B2", "a.xlsx, s, B3", "a.xlsx, s, B4"],
    }
)
LINE = pd.DataFrame({"on": DAYS[1:], "thickness_mm": [11.0, 9.0]})
BAND = pd.DataFrame({"on": DAYS[1:], "low_mm": [10.9, 8.5], "high_mm": [11.1, 9.5]})
DATES = pd.DataFrame({"on": DAYS[1:], "words": ["external", "internal"], "said": ["overdue", "in date"]})
SPANS = pd.DataFrame({"from_on": DAYS[:1], "to_on": DAYS[1:2], "words": ["external"], "said": ["deferred"]})
HALVES = pd.DataFrame({"begins_on": DAYS[:2], "ends_on": DAYS[1:], "kind": ["internal", "external"], "due": [3, 4]})
TURNAROUNDS = pd.DataFrame({"start_on": DAYS[2:], "name": ["TA 2026"]})
BARS = pd.DataFrame({"place": [1, 2], "bar": ["used up", "unknown"], "assets": [2, 1]})
CALENDAR = pd.DataFrame({"place": [0, 1], "column": ["overdue", "2026-11"], "kind": ["internal"] * 2, "due": [2, 0]})
MONTHS = pd.DataFrame(
    {
        "month": [0, 1],
        "start_on": DAYS[:2],
        "broken": [0, 2],
        "retiring": [0, 1],
        "first_broken": ["", "V-1"],
        "first_label": ["", "V-1"],
    }
)

DRAWN: dict[str, Callable[[Palette], Chart]] = {
    "half-years": lambda colours: charts.due_by_half_year(HALVES, TURNAROUNDS, date(2022, 1, 1), colours),
    "thickness": lambda colours: charts.thickness_over_time(READINGS, LIMITS, LINE, MARKS, "mm", 2, colours, BAND),
    "pressure": lambda colours: charts.pressure_over_time(
        pd.DataFrame({"on": DAYS, "mawp_mpa": [1.0, 0.9, 0.8]}),
        pd.DataFrame({"pressure_mpa": [1.0], "words": ["rating"]}),
        MARKS,
        "MPa",
        3,
        colours,
    ),
    "dates": lambda colours: charts.dates_on_one_line(DATES, SPANS, MARKS, colours),
    "time left": lambda colours: charts_fleet.life_left(BARS, colours),
    "calendar": lambda colours: charts_fleet.due_calendar(CALENDAR, colours),
    "slip": lambda colours: charts_fleet.first_failures(MONTHS, 1, colours),
}


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("name", DRAWN)
def test_a_chart_is_a_specification_vega_lite_accepts(name: str, colours: Palette) -> None:
    drawn = DRAWN[name](colours)
    alt.LayerChart.from_dict({"$schema": alt.SCHEMA_URL, **drawn})  # raises where the schema is not met
    used = {
        (layer["data"]["values"][0].keys() >= {part["field"]})
        for layer in drawn["layer"]
        if layer["data"]["values"]
        for parts in layer["encoding"].values()
        for part in (parts if isinstance(parts, list) else [parts])
        if "field" in part
    }
    assert used == {True}


def test_data_are_as_given_and_days_are_the_midnight_of_whoever_looks() -> None:
    points = next(layer for layer in DRAWN["thickness"](LIGHT)["layer"] if "shape" in layer["encoding"])
    rows = points["data"]["values"]
    assert [row["thickness_mm"] for row in rows] == [12.0, 11.0, None]
    assert [row["read_on"] for row in rows] == ["2018-03-01T00:00:00", "2022-03-01T00:00:00", "2026-03-01T00:00:00"]
    assert rows[0]["flags"] is None and rows[2]["source"] == "a.xlsx, s, B4"


def test_words_of_a_late_day_stand_to_its_left() -> None:
    words = [layer for layer in DRAWN["thickness"](LIGHT)["layer"] if layer["encoding"].get("text", {}).get("field")]
    sides = {row["words"]: layer["mark"]["align"] for layer in words for row in layer["data"]["values"] if "on" in row}
    assert sides == {"new history": "left", "as of": "right"}


def words_in(drawn: Chart) -> list[dict]:
    """Return the layers of words a person reads, those that only clear the ground behind others left out."""
    return [
        layer
        for layer in drawn["layer"]
        if layer["mark"]["type"] == "text" and layer["mark"]["color"] != LIGHT.paper and layer["data"]["values"]
    ]


@pytest.mark.parametrize("number", range(1, 7))
def test_days_that_are_neighbours_have_their_words_on_heights_of_their_own(number: int) -> None:
    marks = pd.DataFrame(
        {"on": pd.date_range("2026-11-01", periods=number), "words": [f"day {n}" for n in range(number)]}
    )
    layers = words_in(charts.dates_on_one_line(DATES, SPANS, marks, LIGHT))
    heights = {row["words"]: layer["encoding"]["y"]["value"] for layer in layers for row in layer["data"]["values"]}
    assert list(heights) and len(heights) == number
    ordered = [heights[f"day {n}"] for n in range(number)]
    assert len(set(ordered[:4])) == min(number, 4)
    assert all(one != other for one, other in pairwise(ordered))


def far_off(*thickness: float, status: str = "held") -> Chart:
    """Return the chart of a place read at 12 and 11 with these doubtful readings beside."""
    days = pd.to_datetime(["2018-03-01", "2022-03-01", *(["2019-01-01"] * len(thickness))])
    readings = pd.DataFrame(
        {
            "read_on": days,
            "thickness_mm": [12.0, 11.0, *thickness],
            "status": ["used", "used", *([status] * len(thickness))],
            **{name: [""] * len(days) for name in ("flags", "text", "source")},
        }
    )
    return charts.thickness_over_time(readings, LIMITS, LINE, MARKS, "mm", 2, LIGHT, BAND)


def axis_of(drawn: Chart) -> list[float]:
    (ends,) = {
        tuple(part["encoding"]["y"]["scale"]["domain"])
        for part in drawn["layer"]
        if "scale" in part["encoding"].get("y", {})
    }
    return list(ends)


def test_a_reading_far_off_stands_at_the_edge_with_its_value() -> None:
    drawn = far_off(272.0, 0.5)
    assert axis_of(drawn) == [8.0, 12.0]
    said = [row["words"] for layer in words_in(drawn) for row in layer["data"]["values"] if "thickness_mm" in row]
    assert sorted(said) == ["away", "required", "↑ 272.00 mm", "↓ 0.50 mm"]
    points = next(layer for layer in drawn["layer"] if "shape" in layer["encoding"])
    assert points["encoding"]["y"]["scale"]["clamp"]
    assert [row["thickness_mm"] for row in points["data"]["values"]] == [12.0, 11.0, 272.0, 0.5]


def test_values_at_one_edge_stand_below_each_other() -> None:
    layers = [layer for layer in words_in(far_off(272.0, 300.0)) if "read_on" in layer["data"]["values"][0]]
    assert len({layer["mark"]["dy"] for layer in layers}) == len(layers) == 2


@pytest.mark.parametrize(
    ("drawn", "axis"),
    [
        (lambda: far_off(13.5), [8.0, 13.5]),  # held, yet near: 4 mm is what the rest spans
        (lambda: far_off(30.0, status="before epoch"), [8.0, 30.0]),  # the wall before a replacement is no mistake
        (lambda: far_off(), [8.0, 12.0]),
    ],
)
def test_the_axis_spans_what_counts_and_what_lies_near(drawn: Callable[[], Chart], axis: list[float]) -> None:
    chart = drawn()
    assert axis_of(chart) == axis
    assert not [layer for layer in words_in(chart) if "read_on" in layer["data"]["values"][0]]


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_words_of_level_lines_never_meet(number: int) -> None:
    """However close the lines are: above the highest, below the lowest, and those between at the other side."""
    levels = [1.0 + n / 1e6 for n in range(number)]
    limits = pd.DataFrame({"pressure_mpa": levels, "words": [f"line {n}" for n in range(number)]})
    curve = pd.DataFrame({"on": DAYS, "mawp_mpa": [1.0, 0.9, 0.8]})
    layers = [
        layer
        for layer in words_in(charts.pressure_over_time(curve, limits, MARKS, "MPa", 3, LIGHT))
        if "pressure_mpa" in layer["data"]["values"][0]
    ]
    where = {
        layer["data"]["values"][0]["words"]: (layer["mark"]["align"], layer["mark"]["baseline"]) for layer in layers
    }
    assert len(where) == number == len(set(where.values()))
    assert where[f"line {number - 1}"] == ("left", "bottom")
    if number > 1:
        assert where["line 0"] == ("left", "top")


def test_a_pressure_that_never_changes_has_room_on_its_axis() -> None:
    curve = pd.DataFrame({"on": DAYS, "mawp_mpa": [1.0, 1.0, 1.0]})
    limits = pd.DataFrame({"pressure_mpa": [1.0], "words": ["rating"]})
    assert axis_of(charts.pressure_over_time(curve, limits, MARKS, "MPa", 3, LIGHT)) == pytest.approx([0.9, 1.1])


def test_overdue_and_no_date_are_labelled_in_any_window() -> None:
    months = [f"2027-{month:02}" for month in range(1, 13)]
    names = ["overdue", *months, "later", "no date"]
    counts = pd.DataFrame({"place": range(len(names)), "column": names, "kind": "internal", "due": 1})
    x = charts_fleet.due_calendar(counts, LIGHT)["layer"][0]["encoding"]["x"]
    assert x["sort"] == ["overdue", *months, "no date"]
    assert x["axis"]["labelOverlap"] is False
    named = x["axis"]["labelExpr"].partition("indexof(")[2].partition("]")[0]
    assert json.loads(f"{named}]") == ["overdue", "no date", "2027-02", "2027-05", "2027-08", "2027-11"]


@pytest.mark.parametrize(
    ("counted", "others", "ends"),
    [
        ([8.0, 12.0], [], (8.0, 12.0)),
        ([8.0, 12.0], [16.0, 4.0], (4.0, 16.0)),  # as far off as the others span
        ([8.0, 12.0], [16.1, 3.9], (8.0, 12.0)),
        ([11.9, 12.0], [14.9], (11.9, 14.9)),  # hardly a span: a quarter of the largest
        ([], [5.0, 300.0], (5.0, 300.0)),
        ([float("nan")], [None], None),
        ([160.0, 160.0], [], (144.0, 176.0)),
    ],
)
def test_the_ends_of_an_axis(counted: list, others: list, ends: tuple[float, float] | None) -> None:
    assert spanned(counted, others) == (ends if ends is None else pytest.approx(ends))


def test_every_kind_of_due_date_has_a_colour_of_its_own() -> None:
    for colours in (LIGHT, DARK):
        named = charts.colours_of_kinds(colours)
        assert list(named) == list(KINDS.values())
        assert len(set(named.values())) == len(KINDS)
