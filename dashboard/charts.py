"""Charts as Vega-Lite specifications. Each takes frames in the units people see; nothing is worked out here.

Two palettes, because a colour that reads on white does not read on black; every series also differs by shape, dash or
a word written beside it. A specification is written as it is sent: a library that builds it step by step takes a
hundred times longer, at each click. The tests hold every one against the schema of Vega-Lite.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from dashboard.wording import KINDS
from pipeline.reading import in_later_half

Chart = dict[str, Any]
Encoding = dict[str, Any]


@dataclass(frozen=True)
class Palette:
    """Colours of one theme."""

    ink: str
    quiet: str
    paper: str
    series: tuple[str, ...]


LIGHT = Palette("#22303a", "#6d7a80", "#fbfaf7", ("#1f5d6b", "#c07a35", "#8d9d4f", "#8c6aa3", "#a24b45"))
DARK = Palette("#e6e9e8", "#93a0a5", "#14191c", ("#7cc3d0", "#e5ab6b", "#c0cf86", "#c5a5dc", "#e29a92"))

STATUS_SHAPES = {
    "used": "circle",
    "held": "diamond",
    "superseded": "triangle-down",
    "rejected": "cross",
    "before epoch": "square",
}


def palette(theme: str | None) -> Palette:
    """Return the colours for a theme's name."""
    return DARK if theme == "dark" else LIGHT


# ---- the words of a specification -----------------------------------------------------------------------------------


def rows(frame: pd.DataFrame, *columns: str) -> Chart:
    """Return these columns of a frame as the data of a layer; days as the browser's own midnight, missing as null."""
    plain = frame[list(columns)].to_dict("records")
    return {"values": [{str(name): _plain(value) for name, value in row.items()} for row in plain]}


def _plain(value: Any) -> Any:
    if value is None or value is pd.NaT or value is pd.NA or value != value:
        return None
    return f"{value.isoformat()[:10]}T00:00:00" if isinstance(value, date) else value


def number(field: str, title: str | None = None, **more: Any) -> Encoding:
    """Encode a column of numbers."""
    return {"field": field, "type": "quantitative", "title": title, **more}


def name(field: str, title: str | None = None, **more: Any) -> Encoding:
    """Encode a column of words."""
    return {"field": field, "type": "nominal", "title": title, **more}


def day(field: str, title: str | None = None, **more: Any) -> Encoding:
    """Encode a column of days."""
    return {"field": field, "type": "temporal", "title": title, **more}


def years(field: str, **more: Any) -> Encoding:
    """Encode a column of days along an axis of years."""
    axis = {"format": "%Y", "tickCount": "year", "grid": False, "labelOverlap": True}
    return day(field, axis=axis, **more)


def layer(data: Chart, mark: Mapping[str, Any], **encoding: Encoding | list[Encoding]) -> Chart:
    """Return one layer: its data, its mark and what is encoded how."""
    return {"data": data, "mark": dict(mark), "encoding": encoding}


def layered(layers: Sequence[Chart], height: int | Mapping[str, int], colours: Palette) -> Chart:
    """Return layers over each other on axes of their own height, their words in ink and large enough for a desk."""
    words = {"labelColor": colours.ink, "titleColor": colours.ink, "labelFontSize": 13, "titleFontSize": 13}
    return {
        "layer": list(layers),
        "height": height,
        "config": {"axis": words, "legend": words, "text": {"fontSize": 13}},
    }


def colours_of_kinds(colours: Palette) -> dict[str, str]:
    """Return the colour of each kind of due date, by what it is called."""
    return dict(zip(KINDS.values(), colours.series, strict=True))


def kinds_of_dates(colours: Palette) -> Encoding:
    """Encode the kind of a due date by its colour; the page writes the key, which a chart would clip when narrow."""
    kinds = list(KINDS)
    return name("kind", scale={"domain": kinds, "range": list(colours.series[: len(kinds)])}, legend=None)


def stacked(counts: pd.DataFrame, *columns: str) -> tuple[Chart, Encoding]:
    """Return counts by `kind` as data of stacked bars, and the order in a bar, from the bottom up that of the key: a
    second sign of what a part of a bar is, beside its colour."""
    kinds = list(KINDS)
    placed = counts.assign(place=[kinds.index(kind) for kind in counts["kind"]])
    return rows(placed, "kind", "due", "place", *columns), number("place", sort="ascending")


def marked_days(marks: pd.DataFrame, colours: Palette, *drawn: pd.Series) -> Sequence[Chart]:
    """Draw days as upright lines with their words above the chart, in turn on two levels so that neighbours part.

    `drawn` are the other days along the axis: words of a day in the later half stand to its left, within the chart.
    """
    ordered = marks.sort_values("on")
    rules = layer(rows(ordered, "on"), {"type": "rule", "color": colours.ink, "strokeDash": [2, 3]}, x=day("on"))
    late = in_later_half(ordered["on"], *drawn)
    words = []
    for start, height in ((0, -3), (1, -19)):
        turn, its_late = ordered.iloc[start::2], late.iloc[start::2]
        for side, chosen in (("left", turn[~its_late]), ("right", turn[its_late])):
            mark = {"type": "text", "align": side, "baseline": "bottom", "color": colours.ink}
            data = rows(chosen, "on", "words")
            words.append(layer(data, mark, x=day("on"), text=name("words"), y={"value": height}))
    return rules, *words


# ---- the charts -----------------------------------------------------------------------------------------------------


def due_by_half_year(counts: pd.DataFrame, turnarounds: pd.DataFrame, as_of: date, colours: Palette) -> Chart:
    """Draw how many due dates fall in each half-year, stacked by kind, with the as-of date and the turnarounds."""
    data, order = stacked(counts, "begins_on", "ends_on")
    bars = layer(
        data,
        {"type": "bar", "orient": "vertical", "stroke": colours.paper, "strokeWidth": 1},
        x=years("begins_on"),
        x2={"field": "ends_on"},
        y=number("due", "due dates", axis={"tickMinStep": 1, "format": "d"}),
        color=kinds_of_dates(colours),
        order=order,
        tooltip=[
            day("begins_on", "half-year from", format="%Y-%m-%d"),
            name("kind", "kind"),
            number("due", "due"),
        ],
    )
    marks = pd.DataFrame(
        {
            "on": [pd.Timestamp(as_of), *turnarounds["start_on"]],
            "words": ["as of", *turnarounds["name"]],
        }
    )
    return layered([bars, *marked_days(marks, colours, counts["begins_on"], counts["ends_on"])], 260, colours)


def thickness_over_time(
    readings: pd.DataFrame,
    required: pd.DataFrame,
    projection: pd.DataFrame,
    days: pd.DataFrame,
    unit: str,
    decimals: int,
    colours: Palette,
    band: pd.DataFrame | None = None,
) -> Chart:
    """Draw the readings of a place by status, its required thickness, the line at the governing rate, and the band the
    scatter of readings leaves (`on`, `low_mm`, `high_mm`).

    `required` has `thickness_mm`, `words` and `counts`; `days` has `on` and `words`. All thicknesses are already in
    `unit`. Hovering a reading says which cell it came from.
    """
    title, written = f"thickness ({unit})", f".{decimals}f"
    level = number("thickness_mm", title, scale={"zero": False, "nice": True, "padding": 18}, axis={"format": written})
    present = [status for status in STATUS_SHAPES if status in set(readings["status"])]
    colour_of: Mapping[str, str] = dict(zip(STATUS_SHAPES, colours.series, strict=True))
    legend = {"orient": "top", "offset": 32}
    points = layer(
        rows(readings, "read_on", "thickness_mm", "status", "flags", "text", "source"),
        {"type": "point", "size": 90, "strokeWidth": 2, "filled": False},
        x=years("read_on", scale={"padding": 14}),
        y=level,
        shape=name(
            "status",
            scale={"domain": present, "range": [STATUS_SHAPES[status] for status in present]},
            legend=legend,
        ),
        color=name(
            "status", scale={"domain": present, "range": [colour_of[status] for status in present]}, legend=legend
        ),
        tooltip=[
            day("read_on", "read on", format="%Y-%m-%d"),
            number("thickness_mm", title, format=written),
            name("status", "status"),
            name("flags", "to look at"),
            name("text", "cell as it stood"),
            name("source", "from"),
        ],
    )
    joined = layer(
        rows(readings[readings["status"] == "used"], "read_on", "thickness_mm"),
        {"type": "line", "color": colours.series[0], "strokeWidth": 1, "opacity": 0.6},
        x=day("read_on"),
        y=level,
    )
    limits = rows(required, "thickness_mm", "words", "counts")
    limit_rules = layer(
        limits,
        {"type": "rule", "color": colours.ink, "strokeWidth": 1.5},
        y=level,
        strokeDash=name("counts", scale={"domain": [True, False], "range": [[1, 0], [5, 4]]}, legend=None),
    )
    limit_words = layer(limits, _beside(colours), y=level, text=name("words"), x={"value": 0})
    line = layer(
        rows(projection, "on", "thickness_mm"),
        {"type": "line", "color": colours.quiet, "strokeDash": [6, 4], "strokeWidth": 2},
        x=day("on"),
        y=level,
    )
    layers = [
        limit_rules,
        limit_words,
        line,
        joined,
        points,
        *marked_days(days, colours, readings["read_on"], projection["on"]),
    ]
    if band is not None and not band.empty:
        area = layer(
            rows(band, "on", "low_mm", "high_mm"),
            {"type": "area", "color": colours.quiet, "opacity": 0.22},
            x=day("on"),
            y=number("low_mm", title),
            y2={"field": "high_mm"},
        )
        layers.insert(0, area)
    return layered(layers, 360, colours)


def _beside(colours: Palette) -> Chart:
    """Return the mark of words that stand above the left end of a level line."""
    return {"type": "text", "align": "left", "baseline": "bottom", "dx": 4, "dy": -3, "color": colours.ink}


def pressure_over_time(
    curve: pd.DataFrame, limits: pd.DataFrame, days: pd.DataFrame, unit: str, decimals: int, colours: Palette
) -> Chart:
    """Draw the MAWP of a place over time against lines (`pressure_mpa`, `words`): its rating, relief set pressures."""
    title, written = f"pressure ({unit})", f".{decimals}f"
    line = layer(
        rows(curve, "on", "mawp_mpa"),
        {"type": "line", "color": colours.series[0], "strokeWidth": 2},
        x=years("on"),
        y=number("mawp_mpa", title, scale={"zero": False, "nice": True, "padding": 18}, axis={"format": written}),
        tooltip=[day("on", "on", format="%Y-%m-%d"), number("mawp_mpa", f"MAWP ({unit})", format=written)],
    )
    lines = rows(limits, "pressure_mpa", "words")
    level = number("pressure_mpa", title)
    rules = layer(lines, {"type": "rule", "color": colours.ink, "strokeDash": [5, 4], "strokeWidth": 1.5}, y=level)
    words = layer(lines, _beside(colours), y=level, text=name("words"), x={"value": 0})
    return layered([rules, words, line, *marked_days(days, colours, curve["on"])], 260, colours)


def dates_on_one_line(dates: pd.DataFrame, spans: pd.DataFrame, marks: pd.DataFrame, colours: Palette) -> Chart:
    """Draw every due date of an asset on one time axis, a row for each kind, with the days that matter marked.

    `dates` has `on`, `words` (the kind) and `said`; `spans` has `from_on`, `to_on`, `words`; `marks` has `on`, `words`.
    """
    order = list(dict.fromkeys([*dates["words"], *spans["words"]]))
    level = name("words", sort=order, axis={"labelLimit": 220, "grid": True, "domain": False, "ticks": False})
    points = layer(
        rows(dates, "on", "words", "said"),
        {"type": "point", "shape": "diamond", "size": 130, "filled": True, "color": colours.series[0]},
        x=years("on", scale={"padding": 14}),
        y=level,
        tooltip=[name("words", "date"), name("said", "what"), day("on", "on", format="%Y-%m-%d")],
    )
    bars = layer(
        rows(spans, "from_on", "to_on", "words", "said"),
        {"type": "bar", "height": 6, "color": colours.quiet, "opacity": 0.5},
        x=day("from_on"),
        x2={"field": "to_on"},
        y=level,
        tooltip=[name("said", "lies between")],
    )
    return layered([bars, points, *marked_days(marks, colours, dates["on"], spans["to_on"])], {"step": 28}, colours)
