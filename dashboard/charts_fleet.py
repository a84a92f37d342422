"""Charts of the fleet and of a turnaround that moves. Each takes counts as they are; nothing is worked out here."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import pandas as pd

from dashboard.charts import Chart, Palette
from dashboard.wording import KINDS

#: Bars that stand apart from the years: what is used up, what has no end, what nobody knows.
_APART = ("used up", "no measurable loss", "unknown")


def life_left(bars: pd.DataFrame, colours: Palette) -> Chart:
    """Draw how many assets have how long left; each bar carries its count; what has no years has other colours."""
    order = list(bars["bar"])
    level = alt.Y("bar:N", title=None, sort=order, axis=alt.Axis(labelLimit=160, ticks=False, domain=False))
    shades = {"used up": colours.series[4], "no measurable loss": colours.series[2], "unknown": colours.quiet}
    drawn = (
        alt.Chart(bars)
        .mark_bar(height={"band": 0.72})
        .encode(
            y=level,
            x=alt.X("assets:Q", title="assets", axis=alt.Axis(tickMinStep=1, format="d")),
            color=alt.Color(
                "bar:N",
                legend=None,
                scale=alt.Scale(domain=order, range=[shades.get(bar, colours.series[0]) for bar in order]),
            ),
            tooltip=[alt.Tooltip("bar:N", title="time left"), alt.Tooltip("assets:Q", title="assets")],
        )
    )
    counts = (
        alt.Chart(bars)
        .mark_text(align="left", dx=4, color=colours.ink)
        .encode(y=level, x="assets:Q", text=alt.Text("assets:Q", format=",d"))
    )
    return alt.layer(drawn, counts).properties(height={"step": 24})


def due_calendar(counts: pd.DataFrame, colours: Palette) -> Chart:
    """Draw the due dates of the months ahead, stacked by kind; overdue stands first, what has no date last."""
    kinds = list(KINDS)
    columns = list(counts.sort_values("place")["column"].unique())
    near = counts[counts["column"] != "later"]
    bars = (
        alt.Chart(near)
        .mark_bar(stroke=colours.paper, strokeWidth=1)
        .encode(
            x=alt.X(
                "column:N",
                title=None,
                sort=[column for column in columns if column != "later"],
                axis=alt.Axis(labelAngle=-90, labelOverlap=False, grid=False),
            ),
            y=alt.Y("due:Q", title="due dates", stack="zero", axis=alt.Axis(tickMinStep=1, format="d")),
            color=alt.Color(
                "kind:N",
                title=None,
                scale=alt.Scale(domain=kinds, range=list(colours.series[: len(kinds)])),
                legend=alt.Legend(orient="top", columns=2, labelLimit=140),
            ),
            order=alt.Order("kind:N", sort="ascending"),
            tooltip=[
                alt.Tooltip("column:N", title="month"),
                alt.Tooltip("kind:N", title="kind"),
                alt.Tooltip("due:Q", title="due dates"),
            ],
        )
    )
    return alt.layer(bars).properties(height=280)


def first_failures(months: pd.DataFrame, chosen: int, colours: Palette) -> Chart:
    """Draw broken due dates against the months of slip, with the assets that break first there, and the slip chosen.

    A second, dashed line counts the places that reach their required thickness before the moved turnaround.
    """
    level = alt.Y(
        "broken:Q", title="broken dates", axis=alt.Axis(tickMinStep=1, format="d"), scale=alt.Scale(domainMin=0)
    )
    across = alt.X(
        "month:Q",
        title="months later",
        axis=alt.Axis(values=[0, 3, 6, 9, 12, 15, 18, 21, 24], format="d", grid=False),
        scale=alt.Scale(domain=[0, 24]),
    )
    told: Sequence[alt.Tooltip] = [
        alt.Tooltip("month:Q", title="months later"),
        alt.Tooltip("start_on:T", title="begins on", format="%Y-%m-%d"),
        alt.Tooltip("broken:Q", title="broken due dates"),
        alt.Tooltip("retiring:Q", title="places at required thickness"),
        alt.Tooltip("first_broken:N", title="breaks this month"),
    ]
    base = alt.Chart(months)
    broken = base.mark_line(interpolate="step-after", color=colours.series[0], strokeWidth=2.5).encode(
        x=across, y=level
    )
    points = base.mark_point(filled=True, size=45, color=colours.series[0], opacity=1).encode(
        x=across, y=level, tooltip=told
    )
    walls = base.mark_line(interpolate="step-after", color=colours.series[1], strokeWidth=2, strokeDash=[5, 3]).encode(
        x=across, y="retiring:Q"
    )
    steps = months[months["first_label"] != ""]
    words = (
        alt.Chart(steps)
        .mark_text(align="right", baseline="middle", angle=45, dx=-8, fontSize=10, color=colours.ink)
        .encode(x=across, y=level, text="first_label:N")
    )
    ends = months[months["month"] == months["month"].max()]
    names = [
        alt.Chart(ends)
        .mark_text(align="right", baseline="bottom", dy=-6, fontWeight="bold", color=colour)
        .encode(x=across, y=alt.Y(f"{column}:Q"), text=alt.value(word))
        for column, word, colour in (("retiring", "places at required thickness", colours.series[1]),)
    ]
    here = alt.Chart(months[months["month"] == chosen]).mark_rule(color=colours.ink, strokeDash=[2, 3]).encode(x=across)
    return alt.layer(here, walls, broken, points, words, *names).properties(height=280)
