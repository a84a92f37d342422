"""What a person should conclude from each story, worked out the way one would by hand, as of the stories' date.

Inches, mil/year, years and dates. The rules are those the README of this folder states; this is a second opinion on
the pipeline, not a part of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import NamedTuple

import fleet
import stories
from fleet import Vessel
from stories import Story

DAYS_PER_YEAR = 365.25
CAP_YEARS = 10


class Answer(NamedTuple):
    """One expected quantity of one story."""

    story: Story
    quantity: str
    value: str
    unit: str


class Point(NamedTuple):
    """A thickness on a day."""

    on: date
    inches: float


class Judged(NamedTuple):
    """Rates, life and due date of one location."""

    last: Point
    long_term: float
    short_term: float
    rate: float
    life: float | None  # none: no measurable loss
    interval: float
    due: date


def years_between(first: date, last: date) -> float:
    """Years of 365.25 days."""
    return (last - first).days / DAYS_PER_YEAR


def after(day: date, years: float) -> date:
    """A due date: whole days, never rounded later."""
    return day + timedelta(days=int(years * DAYS_PER_YEAR + 1e-6))


def interval_of(life: float | None) -> float:
    """Half the life, or all of it up to two years while it is short; at most ten years."""
    if life is None:
        return CAP_YEARS
    return 0.0 if life <= 0 else min(CAP_YEARS, max(life / 2, min(life, 2.0)))


def judge(points: list[Point], required: float) -> Judged:
    """Greater of long-term and short-term rate, remaining life from the last reading, interval and due date."""
    first, previous, last = points[0], points[-2], points[-1]
    long_term = (first.inches - last.inches) / years_between(first.on, last.on)
    short_term = (previous.inches - last.inches) / years_between(previous.on, last.on)
    rate = max(long_term, short_term, 0.0)
    life = (last.inches - required) / rate if rate > 0 else None
    interval = interval_of(life)
    return Judged(last, long_term, short_term, rate, life, interval, after(last.on, interval))


def all_answers(works: list[Vessel]) -> list[Answer]:
    """Every expected quantity, in the order of the stories."""
    by_tag = {vessel.tag: vessel for vessel in works}
    answers = []
    for story in stories.STORIES:
        for quantity, value, unit in _WORKED.get(story.key, _nothing)(by_tag[story.tag], story):
            answers.append(Answer(story, quantity, value, unit))
    return answers


Row = tuple[str, str, str]


def _nothing(vessel: Vessel, story: Story) -> Iterator[Row]:
    yield from ()


def _points(vessel: Vessel, story: Story) -> list[Point]:
    readings = vessel.location(story.component, story.location).readings
    points = [(reading.on, reading.inches) for reading in readings if reading.inches is not None]
    return [Point(on, _as_reported(vessel, on, inches)) for on, inches in points]


def _as_reported(vessel: Vessel, on: date, inches: float) -> float:
    """The contractor of 2021 wrote hundredths of a millimetre: that is the reading, not the inches it came from."""
    return round(inches * 25.4, 2) / 25.4 if vessel.area == "North" and on.year == 2021 else inches


def _required(vessel: Vessel, story: Story, away: bool = False, crown: bool = False) -> float:
    return fleet.required(vessel, vessel.component(story.component), away=away, crown=crown)


def _inches(name: str, value: float) -> Row:
    return name, f"{value:.4f}", "in"


def _day(name: str, value: date) -> Row:
    return name, value.isoformat(), "date"


def _life_rows(judged: Judged, ending: str = "") -> Iterator[Row]:
    life = "no measurable loss" if judged.life is None else f"{judged.life:.2f}"
    yield f"remaining life{ending}", life, "" if judged.life is None else "year"
    yield f"interval{ending}", f"{judged.interval:.2f}", "year"
    yield _day(f"thickness due{ending}", judged.due)


def _rate_rows(judged: Judged) -> Iterator[Row]:
    yield _inches("thickness", judged.last.inches)
    yield _day("read on", judged.last.on)
    yield "long-term rate", f"{judged.long_term * 1000:.3f}", "mil/year"
    yield "short-term rate", f"{judged.short_term * 1000:.3f}", "mil/year"


def _near_and_away(vessel: Vessel, story: Story) -> Iterator[Row]:
    points, weld, away = _points(vessel, story), _required(vessel, story), _required(vessel, story, away=True)
    yield from _rate_rows(judge(points, weld))
    yield _inches("required at the weld", weld)
    yield _inches("required away from the weld", away)
    yield from _life_rows(judge(points, weld), " at the weld")
    yield from _life_rows(judge(points, away), " away from the weld")


def _plain(vessel: Vessel, story: Story) -> Iterator[Row]:
    required = _required(vessel, story)
    judged = judge(_points(vessel, story), required)
    yield from _rate_rows(judged)
    yield _inches("required", required)
    yield from _life_rows(judged)


def _growth(vessel: Vessel, story: Story) -> Iterator[Row]:
    points, required = _points(vessel, story), _required(vessel, story)
    yield _inches("growth", points[-1].inches - points[-2].inches)
    yield _day("held reading", points[-1].on)
    yield from _rate_rows(judge(points[:-1], required))
    yield _inches("required", required)
    yield from _life_rows(judge(points[:-1], required), " without the held reading")
    yield from _life_rows(judge(points, required), " with the held reading")


def _survey_in_mm(vessel: Vessel, story: Story) -> Iterator[Row]:
    reading = next(r for r in vessel.location(story.component, story.location).readings if r.on.year == 2021)
    yield _day("contractor's reading", reading.on)
    yield "as written", f"{(reading.inches or 0) * 25.4:.2f}", "mm"
    yield from _plain(vessel, story)


def _mm_column(vessel: Vessel, story: Story) -> Iterator[Row]:
    reading = next(r for r in vessel.location(story.component, story.location).readings if r.trouble)
    count = sum(bool(r.trouble) for part in vessel.components for place in part.locations for r in place.readings)
    yield _day("column set aside", reading.on)
    yield "as written", f"{float(reading.text):g}", "in (said), mm (meant)"
    yield "cells set aside", str(count), ""


def _replaced(vessel: Vessel, story: Story) -> Iterator[Row]:
    _, _, replaced_on, _, new = next(event for event in stories.EVENTS if event[0] == story.tag)
    points = [Point(replaced_on, new or 0.0), *(p for p in _points(vessel, story) if p.on > replaced_on)]
    required = _required(vessel, story)
    yield _day("new since", replaced_on)
    yield _inches("new thickness", points[0].inches)
    yield from _rate_rows(judge(points, required))
    yield _inches("required", required)
    yield from _life_rows(judge(points, required))


def _crown_and_knuckle(vessel: Vessel, story: Story) -> Iterator[Row]:
    points, knuckle, crown = _points(vessel, story), _required(vessel, story), _required(vessel, story, crown=True)
    yield from _rate_rows(judge(points, knuckle))
    yield _inches("required at the knuckle", knuckle)
    yield _inches("required at the crown", crown)
    yield from _life_rows(judge(points, knuckle), " of the knuckle")
    yield from _life_rows(judge(_points(vessel, story._replace(location="TP-01")), crown), " of the crown")


def _from_nominal(vessel: Vessel, story: Story) -> Iterator[Row]:
    nominal = Point(vessel.in_service, vessel.component(story.component).nominal)
    last, required = _points(vessel, story)[-1], _required(vessel, story)
    judged = judge([nominal, last], required)
    yield _inches("nominal thickness", nominal.inches)
    yield from list(_rate_rows(judged))[:3]
    yield _inches("required", required)
    yield from _life_rows(judged)


def _unread(vessel: Vessel, story: Story) -> Iterator[Row]:
    judged = judge(_points(vessel, story), _required(vessel, story))
    yield _day("last read on", judged.last.on)
    yield "misses in a row", "2", ""
    yield from _life_rows(judged)


def _left_out(vessel: Vessel, story: Story) -> Iterator[Row]:
    yield _day("last survey", max(vessel.surveys))
    yield _day("thickness due, not later than", after(max(vessel.surveys), CAP_YEARS))


def _internal(vessel: Vessel, story: Story) -> Iterator[Row]:
    yield _day("last internal inspection", stories.LAST_INTERNAL[story.tag])
    yield _day("internal due", after(stories.LAST_INTERNAL[story.tag], CAP_YEARS))


def _external(vessel: Vessel, story: Story) -> Iterator[Row]:
    yield _day("last external inspection", stories.LAST_EXTERNAL[story.tag])
    yield _day("external due", after(stories.LAST_EXTERNAL[story.tag], 5))


def _relief(vessel: Vessel, story: Story) -> Iterator[Row]:
    tested, years, _ = stories.RELIEF[story.tag]
    yield _day("last tested", tested)
    yield _day("relief device due", after(tested, years))


def _set_interval(vessel: Vessel, story: Story) -> Iterator[Row]:
    years = next(row[2] for row in stories.SET_INTERVALS if row[0] == story.tag)
    yield _day("last internal inspection", stories.LAST_INTERNAL[story.tag])
    yield "interval set", str(years), "year"
    yield _day("internal due", after(stories.LAST_INTERNAL[story.tag], years))
    yield _day("internal due at the code's ten years", after(stories.LAST_INTERNAL[story.tag], CAP_YEARS))


def _deferral(vessel: Vessel, story: Story) -> Iterator[Row]:
    deferral = next(d for d in stories.DEFERRALS if d.tag == story.tag)
    yield _day(f"{deferral.kind} due", deferral.due)
    yield _day("approved on", deferral.approved_on)
    yield _day("deferred until", deferral.until)


def _area(vessel: Vessel, story: Story) -> Iterator[Row]:
    """Every line of the grid, either way, is shorter than the averaging length: the lowest average of whole lines."""
    grid = stories.CORRODED_AREA.inches
    lines = [*grid, *zip(*grid, strict=True)]
    average = min(sum(line) / len(line) for line in lines)
    places = vessel.component(story.component).locations
    points = [[Point(r.on, r.inches) for r in place.readings if r.inches is not None] for place in places]
    required = _required(vessel, story)
    rate = max(judge(of_place, required).rate for of_place in points)
    yield _inches("lowest reading of the area", min(min(line) for line in grid))
    yield _inches("average of the area", average)
    yield _inches("required of the area", required)
    life = (average - required) / rate
    yield "remaining life of the area", f"{life:.2f}", "year"
    yield _day("due date of the area", after(stories.CORRODED_AREA.on, interval_of(life)))
    yield _inches("left under the deepest pit", min(p[-1].inches for p in points) - max(pit[2] for pit in stories.PITS))


def _recommendation(vessel: Vessel, story: Story) -> Iterator[Row]:
    yield _day("recommendation due", next(row[4] for row in stories.RECOMMENDATIONS if row[0] == story.tag))


def _never_read(vessel: Vessel, story: Story) -> Iterator[Row]:
    """Half a year after its start a new service has had its first check, whole days cut."""
    yield "missing", "a thickness reading", ""
    yield _day("first check due", after(vessel.in_service, 0.5))


def _missing(what: str) -> Callable[[Vessel, Story], Iterator[Row]]:
    def rows(vessel: Vessel, story: Story) -> Iterator[Row]:
        yield "missing", what, ""

    return rows


_WORKED: dict[str, Callable[[Vessel, Story], Iterator[Row]]] = {
    "1": _near_and_away,
    "2": _near_and_away,
    "3": _growth,
    "4a": _survey_in_mm,
    "4b": _mm_column,
    "5": _replaced,
    "6": _missing("joint efficiency"),
    "7": _internal,
    "8": _internal,
    "9": _crown_and_knuckle,
    "10": _relief,
    "11": _never_read,
    "12": _deferral,
    "13": _deferral,
    "14": _missing("component kind"),
    "15": _from_nominal,
    "16": _plain,
    "17": _set_interval,
    "18": _deferral,
    "19": _missing("MAWP or design pressure"),
    "20": _missing("allowable stress"),
    "21": _external,
    "22": _left_out,
    "23": _plain,
    "24": _plain,
    "25": _unread,
    "26": _area,
    "27": _recommendation,
}
