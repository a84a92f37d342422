"""Every chart is a specification Vega-Lite accepts, holds the data given, and keeps its words within its edges."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import altair as alt
import pandas as pd
import pytest

from dashboard import charts, charts_fleet
from dashboard.charts import DARK, LIGHT, Chart, Palette
from dashboard.wording import KINDS

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


def test_every_kind_of_due_date_has_a_colour_of_its_own() -> None:
    for colours in (LIGHT, DARK):
        named = charts.colours_of_kinds(colours)
        assert list(named) == list(KINDS.values())
        assert len(set(named.values())) == len(KINDS)
