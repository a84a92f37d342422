"""Charts. Each takes frames in the units people see and returns a chart; nothing is worked out here.

Two palettes, because a colour that reads on white does not read on black; every series also differs by shape, dash or
a word written beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import altair as alt
import pandas as pd

from dashboard.wording import KINDS

Chart = alt.LayerChart | alt.FacetChart


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


_YEARS = alt.Axis(format="%Y", tickCount="year", grid=False, labelOverlap=True)


def palette(theme: str | None) -> Palette:
    """Return the colours for a theme's name."""
    return DARK if theme == "dark" else LIGHT


def due_by_half_year(counts: pd.DataFrame, turnarounds: pd.DataFrame, as_of: date, colours: Palette) -> Chart:
    """Draw how many due dates fall in each half-year, stacked by kind, with the as-of date and the turnarounds."""
    kinds = list(KINDS)
    bars = (
        alt.Chart(counts)
        .mark_bar(orient="vertical", stroke=colours.paper, strokeWidth=1)
        .encode(
            x=alt.X("begins_on:T", title=None, axis=_YEARS),
            x2="ends_on:T",
            y=alt.Y("due:Q", title="due dates", axis=alt.Axis(tickMinStep=1, format="d")),
            color=alt.Color(
                "kind:N",
                title=None,
                scale=alt.Scale(domain=kinds, range=list(colours.series[: len(kinds)])),
                legend=alt.Legend(orient="top", offset=26),
            ),
            order=alt.Order("kind:N", sort="ascending"),
            tooltip=[
                alt.Tooltip("begins_on:T", title="half-year from", format="%Y-%m-%d"),
                alt.Tooltip("kind:N", title="kind"),
                alt.Tooltip("due:Q", title="due"),
            ],
        )
    )
    marks = pd.DataFrame(
        {
            "on": [pd.Timestamp(as_of), *turnarounds["start_on"]],
            "words": ["as of", *turnarounds["name"]],
        }
    )
    return alt.layer(bars, *_marked_days(marks, colours)).properties(height=260)


def _marked_days(marks: pd.DataFrame, colours: Palette) -> Sequence[alt.Chart]:
    """Draw days as upright lines with their words above the chart, in turn on two levels so that neighbours part."""
    rules = alt.Chart(marks).mark_rule(color=colours.ink, strokeDash=[2, 3]).encode(x="on:T")
    ordered = marks.sort_values("on")
    words = [
        alt.Chart(ordered.iloc[start::2])
        .mark_text(align="left", baseline="bottom", color=colours.ink)
        .encode(x="on:T", text="words:N", y=alt.value(level))
        for start, level in ((0, -3), (1, -17))
    ]
    return rules, *words


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
    level = alt.Y(
        "thickness_mm:Q",
        title=f"thickness ({unit})",
        scale=alt.Scale(zero=False, nice=True, padding=18),
        axis=alt.Axis(format=f".{decimals}f"),
    )
    present = [status for status in STATUS_SHAPES if status in set(readings["status"])]
    colour_of: Mapping[str, str] = dict(zip(STATUS_SHAPES, colours.series, strict=True))
    points = (
        alt.Chart(readings)
        .mark_point(size=90, strokeWidth=2, filled=False)
        .encode(
            x=alt.X("read_on:T", title=None, axis=_YEARS, scale=alt.Scale(padding=14)),
            y=level,
            shape=alt.Shape(
                "status:N",
                title=None,
                scale=alt.Scale(domain=present, range=[STATUS_SHAPES[status] for status in present]),
                legend=alt.Legend(orient="top", offset=26),
            ),
            color=alt.Color(
                "status:N",
                title=None,
                scale=alt.Scale(domain=present, range=[colour_of[status] for status in present]),
                legend=alt.Legend(orient="top", offset=26),
            ),
            tooltip=[
                alt.Tooltip("read_on:T", title="read on", format="%Y-%m-%d"),
                alt.Tooltip("thickness_mm:Q", title=f"thickness ({unit})", format=f".{decimals}f"),
                alt.Tooltip("status:N", title="status"),
                alt.Tooltip("flags:N", title="to look at"),
                alt.Tooltip("text:N", title="cell as it stood"),
                alt.Tooltip("source:N", title="from"),
            ],
        )
    )
    joined = (
        alt.Chart(readings[readings["status"] == "used"])
        .mark_line(color=colours.series[0], strokeWidth=1, opacity=0.6)
        .encode(x="read_on:T", y=level)
    )
    limits = alt.Chart(required).encode(y=level)
    limit_rules = limits.mark_rule(color=colours.ink, strokeWidth=1.5).encode(
        strokeDash=alt.StrokeDash(
            "counts:N", scale=alt.Scale(domain=[True, False], range=[[1, 0], [5, 4]]), legend=None
        )
    )
    limit_words = limits.mark_text(align="left", baseline="bottom", dx=4, dy=-3, color=colours.ink).encode(
        text="words:N", x=alt.value(0)
    )
    line = (
        alt.Chart(projection).mark_line(color=colours.quiet, strokeDash=[6, 4], strokeWidth=2).encode(x="on:T", y=level)
    )
    layers = [limit_rules, limit_words, line, joined, points, *_marked_days(days, colours)]
    if band is not None and not band.empty:
        area = (
            alt.Chart(band)
            .mark_area(color=colours.quiet, opacity=0.22)
            .encode(x="on:T", y=alt.Y("low_mm:Q", title=f"thickness ({unit})"), y2="high_mm:Q")
        )
        layers.insert(0, area)
    return alt.layer(*layers).properties(height=360)


def pressure_over_time(
    curve: pd.DataFrame, limits: pd.DataFrame, days: pd.DataFrame, unit: str, decimals: int, colours: Palette
) -> Chart:
    """Draw the MAWP of a place over time against lines (`pressure_mpa`, `words`): its rating, relief set pressures."""
    level = alt.Y(
        "mawp_mpa:Q",
        title=f"pressure ({unit})",
        scale=alt.Scale(zero=False, nice=True, padding=18),
        axis=alt.Axis(format=f".{decimals}f"),
    )
    line = (
        alt.Chart(curve)
        .mark_line(color=colours.series[0], strokeWidth=2)
        .encode(
            x=alt.X("on:T", title=None, axis=_YEARS),
            y=level,
            tooltip=[
                alt.Tooltip("on:T", title="on", format="%Y-%m-%d"),
                alt.Tooltip("mawp_mpa:Q", title=f"MAWP ({unit})", format=f".{decimals}f"),
            ],
        )
    )
    lines = alt.Chart(limits).encode(y=alt.Y("pressure_mpa:Q", title=f"pressure ({unit})"))
    rules = lines.mark_rule(color=colours.ink, strokeDash=[5, 4], strokeWidth=1.5)
    words = lines.mark_text(align="left", baseline="bottom", dx=4, dy=-3, color=colours.ink).encode(
        text="words:N", x=alt.value(0)
    )
    return alt.layer(rules, words, line, *_marked_days(days, colours)).properties(height=260)


def dates_on_one_line(dates: pd.DataFrame, spans: pd.DataFrame, marks: pd.DataFrame, colours: Palette) -> Chart:
    """Draw every due date of an asset on one time axis, a row for each kind, with the days that matter marked.

    `dates` has `on`, `words` (the kind) and `said`; `spans` has `from_on`, `to_on`, `words`; `marks` has `on`, `words`.
    """
    order = list(dict.fromkeys([*dates["words"], *spans["words"]]))
    rows = alt.Y("words:N", title=None, sort=order, axis=alt.Axis(labelLimit=220, grid=True, domain=False, ticks=False))
    points = (
        alt.Chart(dates)
        .mark_point(shape="diamond", size=130, filled=True, color=colours.series[0])
        .encode(
            x=alt.X("on:T", title=None, axis=_YEARS),
            y=rows,
            tooltip=[alt.Tooltip("words:N", title="date"), alt.Tooltip("said:N", title="what"), "on:T"],
        )
    )
    bars = (
        alt.Chart(spans)
        .mark_bar(height=6, color=colours.quiet, opacity=0.5)
        .encode(x="from_on:T", x2="to_on:T", y=rows, tooltip=[alt.Tooltip("said:N", title="lies between")])
    )
    return alt.layer(bars, points, *_marked_days(marks, colours)).properties(height=alt.Step(26))
