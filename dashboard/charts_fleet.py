"""Charts of the fleet and of a turnaround that moves. Each takes counts as they are; nothing is worked out here."""

from __future__ import annotations

import json

import pandas as pd

from dashboard.charts import Chart, Palette, day, kinds_of_dates, layer, layered, name, number, rows, stacked

#: What stands in the calendar of due dates besides the months.
NO_MONTHS = ("overdue", "no date")
#: Width of a chart in pixels from which on the label of every month has room.
ROOM_FOR_MONTHS = 480


def life_left(bars: pd.DataFrame, colours: Palette) -> Chart:
    """Draw how many assets have how long left; each bar carries its count; what has no years has other colours."""
    order = list(bars["bar"])
    counts = rows(bars, "bar", "assets")
    level = name("bar", sort=order, axis={"labelLimit": 160, "ticks": False, "domain": False})
    shades = {"used up": colours.series[4], "no measurable loss": colours.series[2], "unknown": colours.quiet}
    drawn = layer(
        counts,
        {"type": "bar", "height": {"band": 0.72}},
        y=level,
        x=number("assets", "assets", axis={"tickMinStep": 1, "format": "d"}),
        color=name(
            "bar",
            legend=None,
            scale={"domain": order, "range": [shades.get(bar, colours.series[0]) for bar in order]},
        ),
        tooltip=[name("bar", "time left"), number("assets", "assets")],
    )
    words = layer(
        counts,
        {"type": "text", "align": "left", "dx": 4, "color": colours.ink},
        y=level,
        x=number("assets", "assets"),
        text=number("assets", format=",d"),
    )
    return layered([drawn, words], {"step": 26}, colours)


def due_calendar(counts: pd.DataFrame, colours: Palette) -> Chart:
    """Draw the due dates of the months ahead, stacked by kind; overdue stands first, what has no date last.

    Both are labelled in any window; of the months a narrow one leaves room for every third.
    """
    columns = [column for column in counts.sort_values("place")["column"].unique() if column != "later"]
    months = [column for column in columns if column not in NO_MONTHS]
    always = json.dumps([*NO_MONTHS, *months[1::3]])
    data, order = stacked(counts[counts["column"] != "later"], "column")
    bars = layer(
        data,
        {"type": "bar", "stroke": colours.paper, "strokeWidth": 1},
        x=name(
            "column",
            sort=columns,
            axis={
                "labelAngle": -90,
                "labelOverlap": False,
                "labelExpr": f"width >= {ROOM_FOR_MONTHS} || indexof({always}, datum.label) >= 0 ? datum.label : ''",
                "grid": False,
            },
        ),
        y=number("due", "due dates", stack="zero", axis={"tickMinStep": 1, "format": "d"}),
        color=kinds_of_dates(colours),
        order=order,
        tooltip=[name("column", "month"), name("kind", "kind"), number("due", "due dates")],
    )
    return layered([bars], 280, colours)


def first_failures(months: pd.DataFrame, chosen: int, colours: Palette) -> Chart:
    """Draw broken due dates against the months of slip, with the assets that break first there, and the slip chosen.

    A second, dashed line counts the places that reach their required thickness before the moved turnaround.
    """
    level = number("broken", "broken dates", axis={"tickMinStep": 1, "format": "d"}, scale={"domainMin": 0})
    across = number(
        "month",
        "months later",
        axis={"values": [0, 3, 6, 9, 12, 15, 18, 21, 24], "format": "d", "grid": False},
        scale={"domain": [0, 24]},
    )
    every = rows(months, "month", "start_on", "broken", "retiring", "first_broken")
    broken = layer(
        every,
        {"type": "line", "interpolate": "step-after", "color": colours.series[0], "strokeWidth": 2.5},
        x=across,
        y=level,
    )
    points = layer(
        every,
        {"type": "point", "filled": True, "size": 45, "color": colours.series[0], "opacity": 1},
        x=across,
        y=level,
        tooltip=[
            number("month", "months later"),
            day("start_on", "begins on", format="%Y-%m-%d"),
            number("broken", "broken due dates"),
            number("retiring", "places at required thickness"),
            name("first_broken", "breaks this month"),
        ],
    )
    dashed = {"type": "line", "interpolate": "step-after", "color": colours.series[1], "strokeDash": [5, 3]}
    walls = layer(every, {**dashed, "strokeWidth": 2}, x=across, y=number("retiring", "broken dates"))
    words = layer(
        rows(months[months["first_label"] != ""], "month", "broken", "first_label"),
        {
            "type": "text",
            "align": "right",
            "baseline": "middle",
            "angle": 45,
            "dx": -8,
            "fontSize": 12,
            "color": colours.ink,
        },
        x=across,
        y=level,
        text=name("first_label"),
    )
    end = layer(
        rows(months[months["month"] == months["month"].max()], "month", "retiring"),
        {"type": "text", "align": "right", "baseline": "bottom", "dy": -6, "fontWeight": "bold"},
        x=across,
        y=number("retiring", "broken dates"),
        text={"value": "places at required thickness"},
    )
    end["mark"]["color"] = colours.ink
    here = layer(
        rows(months[months["month"] == chosen], "month"),
        {"type": "rule", "color": colours.ink, "strokeDash": [2, 3]},
        x=across,
    )
    return layered([here, walls, broken, points, words, end], 300, colours)
