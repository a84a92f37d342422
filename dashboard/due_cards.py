"""What the card of a due date says: how it stands, what set it, each road to it, and what moves it.

A road is an interval with the day it counts from: the two are never named together unless they give the date, or lose
against the one that does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from dashboard.wording import counted, known, said, state
from pipeline.reading import Row, in_place, shown_value
from pipeline.units import show

#: Kinds of due dates that rest on thickness readings: while one is held, none of them is plainly in date.
ON_READINGS = ("internal", "external", "thickness")


def standing(kind: str, name: str, held: int) -> str:
    """Return the state of a due date or finding of a kind, with the held readings of the asset where it rests on
    them."""
    return state(name, held if kind in ON_READINGS else 0)


def lines(due: Row, held: int, first: Mapping[str, Row], devices: Sequence[Row], system: str) -> list[str]:
    """Return what is said of a due date, a line each.

    `held` counts the asset's held readings, `first` is the place that asks first by kind, `devices` its relief devices.
    """
    told = [standing(due["kind"], due["state"], held), _set_by(due), *_roads(due, first.get(due["kind"]), system)]
    if known(due["deferred_until"]):
        told.append(
            f"deferred until {said(due['deferred_until'])} by {said(due['deferral_approved_by'])} on "
            f"{said(due['deferral_approved_on'])}: {said(due['deferral_reason'])}"
        )
    if known(due["deferral_refused"]):
        told.append(f"the deferral does not count: {due['deferral_refused']}")
    if known(due["on_stream_refused"]):
        told.append(said(due["on_stream_refused"]))
    if known(due["due_missing"]):
        told.append(f"Missing: {due['due_missing']}")
    if due["kind"] == "relief device":
        told.extend(_set_too_high(device, system) for device in devices)
    return [line for line in told if line]


def _set_by(due: Row) -> str:
    if not known(due["set_by"]):
        return ""
    setter = ""
    if known(due["location"]):
        setter = in_place(due["component"], due["location"])
    elif known(due["device"]) or known(due["component"]):
        setter = said(due["device"] if known(due["device"]) else due["component"])
    return f"set by: {said(due['set_by'])}{f' ({setter})' if setter else ''}"


def _roads(due: Row, first: Row | None, system: str) -> list[str]:
    if due["kind"] == "internal":
        return _inside(due, first, system)
    if due["kind"] == "thickness":
        if first is None or said(first["due_on"]) != said(due["due_on"]) or not _by_reading(due):
            return []
        return [_within(_from_reading(first, system), first["interval_years"], due, system)]
    if not known(due["interval_years"]):  # the date of a recommendation is set with it
        return [f"raised on {said(due['anchor_on'])}"] if known(due["anchor_on"]) else []
    interval = _years(due["interval_years"], system)
    if not known(due["anchor_on"]):
        return [_within(f"interval {interval}", due["interval_years"], due, system)]
    return [_within(f"{interval} from {_anchor(due)}", due["interval_years"], due, system)]


def _inside(due: Row, first: Row | None, system: str) -> list[str]:
    """Return both roads to an internal or on-stream inspection: its cap, and the interval that ends first."""
    cap = reading = ""
    if known(due["cap_years"]) and known(due["anchor_on"]):
        cap = f"{_years(due['cap_years'], system)} ({said(due['cap_from'])}) from {_anchor(due)}"
    if first is not None:
        reading = f"{_from_reading(first, system)} ({in_place(first['component'], first['location'])})"
    if _by_reading(due):
        later = [f"{cap}, would end later"] if cap else []
        return [f"{reading}: {said(due['due_on'])}", *later] if first is not None else later
    counts = [f"{cap}: {said(due['due_on'])}"] if cap and known(due["due_on"]) else []
    if first is None:
        return counts
    same = said(first["due_on"]) == said(due["due_on"])
    return [*counts, f"{reading}: {said(first['due_on'])}{', the same day' if same else '; the earlier counts'}"]


def _from_reading(place: Row, system: str) -> str:
    return f"{_years(place['interval_years'], system)} from the reading of {said(place['read_on'])}"


def _by_reading(due: Row) -> bool:
    return said(due["set_by"]).startswith("interval from the thickness reading")


def _within(words: str, interval: float, due: Row, system: str) -> str:
    """Return an interval in words with the longest one allowed, which is not said twice."""
    if not known(due["cap_years"]):
        return words
    longest, cap_from = _years(due["cap_years"], system), said(due["cap_from"])
    if _years(interval, system) == longest:
        return words.replace(longest, f"{longest} ({cap_from})", 1)
    return f"{words}, at most {longest} ({cap_from})"


def _anchor(due: Row) -> str:
    """Return what an interval counts from, with its day; and why it does so, where that is told behind a colon."""
    what, _, why = said(due["anchor"]).partition(": ")
    return f"the {what}, {said(due['anchor_on'])}{f' ({why})' if why else ''}"


def _years(value: float, system: str) -> str:
    return show(value, "duration", system)


def _set_too_high(device: Row, system: str) -> str:
    """Return how far a device is set above what the vessel bears, now or at the next inspection; empty where it is
    not."""
    opens = f"{said(device['device'])} is set at {shown_value(device, 'set_pressure_mpa', system)}, above"
    if device["above_mawp_now"]:
        if known(device["mawp_mpa"]):
            return f"{opens} the MAWP now, {shown_value(device, 'mawp_mpa', system)}"
        if device["above_rating"]:
            return f"{opens} the rating pressure, {shown_value(device, 'rating_pressure_mpa', system)}"
        return f"{opens} the MAWP now of a component; that of another is not known"
    if device["above_mawp_next"]:
        if known(device["mawp_next_mpa"]):
            return f"{opens} the MAWP at the next inspection, {shown_value(device, 'mawp_next_mpa', system)}"
        return f"{opens} the MAWP of a component at the next inspection; that of another is not known"
    return ""


def retirement(asset: Row, components: pd.DataFrame) -> list[str]:
    """Return what is said of the day on which the required thickness is reached, or of there being none."""
    unknown = int(asset["components_not_assessable"])
    those = f"{counted(unknown, 'component')} that cannot be assessed may"
    if known(asset["retirement_on"]):
        rest = "of the earliest place or corroded area, at its governing rate; no inspection moves it, only a new "
        return [f"{rest}reading does", *([f"{those} come sooner"] if unknown else [])]
    why = _why_no_retirement(asset["state"], components)
    return [why, *([f"{those} reach it on a day nobody knows"] if unknown and not why.startswith("not known") else [])]


def _why_no_retirement(asset_state: str, components: pd.DataFrame) -> str:
    """Return why there is no such day: that nothing is lost is said only of places that were read."""
    if asset_state == "below required":
        return "a wall is below its required thickness already; no rate gives the day on which it was reached"
    if components.empty:
        return "not known: no component is on any component sheet"
    if components["no_measurable_loss"].any():
        return "no place that can be assessed loses metal measurably"
    if components["remaining_life_years"].notna().any():
        return "no place reaches it within a thousand years at its governing rate"
    return "not known: no place has both a rate and a required thickness"
