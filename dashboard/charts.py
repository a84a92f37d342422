"""Charts as Vega-Lite specifications. Each takes frames in the units people see; nothing is worked out here.

Two palettes, because a colour that reads on white does not read on black; every series also differs by shape, dash or
a word written beside it. A specification is written as it is sent: a library that builds it step by step takes a
hundred times longer, at each click. The tests hold every one against the schema of Vega-Lite.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import Any

import pandas as pd

from dashboard.wording import KINDS
from pipeline.axis import spanned
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


LIGHT = Palette("#22303a", "#6d7a80", "#fbfaf7", ("#1f5d6b", "#c07a35", "#8d9d4f", "#8c6aa3", "#a24b45", "#5b78b0"))
DARK = Palette("#e6e9e8", "#93a0a5", "#14191c", ("#7cc3d0", "#e5ab6b", "#c0cf86", "#c5a5dc", "#e29a92", "#9fb6ec"))

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


#: Heights in pixels above a chart at which words of marked days stand, and from where on a key stands above so many.
HEIGHTS = (-3, -19, -35, -51)
ABOVE = (0, 16, 32, 48, 64)


def marked_days(marks: pd.DataFrame, colours: Palette, *drawn: pd.Series) -> Sequence[Chart]:
    """Draw days as upright lines with their words above the chart, each on a height of its own so that neighbours part
    in a narrow window too; with more days than heights, in turn.

    `drawn` are the other days along the axis: words of a day in the later half stand to its left, within the chart.
    """
    ordered = marks.sort_values("on")
    rules = layer(rows(ordered, "on"), {"type": "rule", "color": colours.ink, "strokeDash": [2, 3]}, x=day("on"))
    late = in_later_half(ordered["on"], *drawn)
    words = []
    heights = HEIGHTS[: len(ordered)]
    for start, height in enumerate(heights):
        turn, its_late = ordered.iloc[start :: len(heights)], late.iloc[start :: len(heights)]
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
    `unit`. Hovering a reading says which cell it came from. The axis spans what counts; a reading far off, such as one
    held as a likely mistake, stands at its edge with the value written beside it.
    """
    title, written = f"thickness ({unit})", f".{decimals}f"
    used = readings["status"] == "used"
    bands = [] if band is None else [band["low_mm"], band["high_mm"]]
    sure = readings["status"].isin(("used", "before epoch"))
    counted = [readings["thickness_mm"][sure], required["thickness_mm"], projection["thickness_mm"], *bands]
    ends = spanned(chain.from_iterable(counted), readings["thickness_mm"][~sure])
    scale = {"zero": False, "nice": True, "padding": 18, "clamp": True, **({"domain": list(ends)} if ends else {})}
    level = number("thickness_mm", title, scale=scale, axis={"format": written})
    present = [status for status in STATUS_SHAPES if status in set(readings["status"])]
    colour_of: Mapping[str, str] = dict(zip(STATUS_SHAPES, colours.series[: len(STATUS_SHAPES)], strict=True))
    legend = {"orient": "top", "offset": ABOVE[len(HEIGHTS[: len(days)])]}
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
        rows(readings[used], "read_on", "thickness_mm"),
        {"type": "line", "color": colours.series[0], "strokeWidth": 1, "opacity": 0.6},
        x=day("read_on"),
        y=level,
    )
    limit_rules = layer(
        rows(required, "thickness_mm", "words", "counts"),
        {"type": "rule", "color": colours.ink, "strokeWidth": 1.5},
        y=level,
        strokeDash=name("counts", scale={"domain": [True, False], "range": [[1, 0], [5, 4]]}, legend=None),
    )
    line = layer(
        rows(projection, "on", "thickness_mm"),
        {"type": "line", "color": colours.quiet, "strokeDash": [6, 4], "strokeWidth": 2},
        x=day("on"),
        y=level,
    )
    layers = [
        limit_rules,
        line,
        joined,
        points,
        *marked_days(days, colours, readings["read_on"], projection["on"]),
        *_named(required, level, colours),
    ]
    if ends:
        said = readings.assign(words=[f"{value:{written}} {unit}" for value in readings["thickness_mm"]])
        layers.extend(_at_the_edge(said, ends, level, colours, days["on"], projection["on"]))
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


#: How far words stand below the upper and above the lower edge they are pinned to, in turn so that neighbours part.
_BELOW_EDGE, _ABOVE_EDGE = (4, 20, 36), (-4, -20, -36)


def _at_the_edge(
    readings: pd.DataFrame, ends: tuple[float, float], level: Encoding, colours: Palette, *drawn: pd.Series
) -> list[Chart]:
    """Write the value (`words`) of each reading beyond the ends of the axis beside its point, which stands at the edge;
    an arrow says on which side it lies."""
    late = in_later_half(readings["read_on"], *drawn)
    layers = []
    for beyond, arrow, baseline, heights in (
        (readings["thickness_mm"] > ends[1], "↑", "top", _BELOW_EDGE),
        (readings["thickness_mm"] < ends[0], "↓", "bottom", _ABOVE_EDGE),
    ):
        far, far_late = readings[beyond], late[beyond]
        said = far.assign(words=[f"{arrow} {words}" for words in far["words"]])
        for start, dy in enumerate(heights):
            turn, its_late = said.iloc[start :: len(heights)], far_late.iloc[start :: len(heights)]
            for align, dx, chosen in (("left", 10, turn[~its_late]), ("right", -10, turn[its_late])):
                if not chosen.empty:
                    mark = {"type": "text", "align": align, "baseline": baseline, "dx": dx, "dy": dy}
                    data = rows(chosen, "read_on", "thickness_mm", "words")
                    encoded = {"x": day("read_on"), "y": level, "text": name("words")}
                    layers.append(layer(data, {**mark, "color": colours.ink}, **encoded))
    return layers


def _named(lines: pd.DataFrame, level: Encoding, colours: Palette) -> list[Chart]:
    """Write the words of level lines (`words`) so that no two meet, however close the lines are: above the highest and
    below the lowest at the left, of those between at the right. Behind the words nothing shines through."""
    column = level["field"]
    ordered = lines.sort_values(column, ascending=False)
    between = ordered.iloc[1:-1]
    layers = []
    for chosen, align, baseline, dx, dy in (
        (ordered.iloc[:1], "left", "bottom", 4, -3),
        (ordered.iloc[1:].iloc[-1:], "left", "top", 4, 4),
        (between.iloc[:1], "right", "bottom", -4, -3),
        (between.iloc[1:], "right", "top", -4, 4),
    ):
        if chosen.empty:
            continue
        mark = {"type": "text", "align": align, "baseline": baseline, "dx": dx, "dy": dy}
        data, x = rows(chosen, column, "words"), {"value": "width" if align == "right" else 0}
        for look in ({"stroke": colours.paper, "strokeWidth": 4, "color": colours.paper}, {"color": colours.ink}):
            layers.append(layer(data, {**mark, **look}, y=level, text=name("words"), x=x))
    return layers


def pressure_over_time(
    curve: pd.DataFrame, limits: pd.DataFrame, days: pd.DataFrame, unit: str, decimals: int, colours: Palette
) -> Chart:
    """Draw the MAWP of a place over time against lines (`pressure_mpa`, `words`): its rating, relief set pressures."""
    title, written = f"pressure ({unit})", f".{decimals}f"
    ends = spanned(chain(curve["mawp_mpa"], limits["pressure_mpa"]), [])
    scale = {"zero": False, "nice": True, "padding": 18, **({"domain": list(ends)} if ends else {})}
    line = layer(
        rows(curve, "on", "mawp_mpa"),
        {"type": "line", "color": colours.series[0], "strokeWidth": 2},
        x=years("on"),
        y=number("mawp_mpa", title, scale=scale, axis={"format": written}),
        tooltip=[day("on", "on", format="%Y-%m-%d"), number("mawp_mpa", f"MAWP ({unit})", format=written)],
    )
    level = number("pressure_mpa", title, scale=scale)
    dashed = {"type": "rule", "color": colours.ink, "strokeDash": [5, 4], "strokeWidth": 1.5}
    rules = layer(rows(limits, "pressure_mpa", "words"), dashed, y=level)
    named = _named(limits, level, colours)
    return layered([rules, line, *marked_days(days, colours, curve["on"]), *named], 260, colours)


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
