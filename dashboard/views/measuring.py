"""What one measurement is worth: where a tape, or a reading taken once more, could change a verdict or a due date."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from datetime import date
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import DASH, counted, kind, known, said, standings
from pipeline import reading
from pipeline.units import show as show_value

#: A reading taken once more may come out either way.
_BOTH_WAYS = [("due_if_on", "due if thicker"), ("due_else_said", "place due if thinner")]
HEADINGS = {
    "asset": "asset",
    "state_shown": "state of the asset",
    "component": "component",
    "location": "location",
    "weld_region_half_width_mm": "if farther than",
    "verdict": "verdict if so",
    "years_gained_years": "could gain",
    "due_on": "due now",
    "due_if_on": "due if so",
    "kind_shown": "which date",
    "t_act_mm": "last reading",
    "t_req_mm": "required now",
    "t_req_if_mm": "required if so",
    "assigned_to": "assigned to",
}
REPEATED_HEADINGS = {
    name: words
    for column, heading in HEADINGS.items()
    for name, words in ([(column, heading)] if column != "due_if_on" else _BOTH_WAYS)
    if name not in ("t_req_if_mm", "weld_region_half_width_mm")
}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("Worth measuring", fleet.build)
    st.markdown(
        "One measurement at these places could change a verdict or move a due date of their asset, if it comes out "
        "well. What it could gain is limited by the place, or the longest interval, that would govern next."
    )
    address.adopt("measuring", "measuring", several=["assigned"])
    worth = data.worth_measuring(version)
    people = data.options(worth, "assigned_to", "not stated")
    address.keep_known("assigned", people)
    picked = st.multiselect(
        "Assigned to", people, key="assigned", placeholder="everyone", persist_state="session", width=420
    )
    address.write("measuring", {"assigned": picked})
    address.leave_only(["assigned", "units"])
    found = data.matching(worth, {"assigned_to": picked}, "", "not stated")
    tape(found[found["measurement"] == "weld distance"], system, fleet.build.as_of)
    repeated(found[found["measurement"] == "thickness"], system, fleet.build.as_of)


def tape(found: pd.DataFrame, system: str, as_of: date) -> None:
    """List the places whose distance to the nearest weld is not known and matters."""
    st.subheader("With a tape: the distance to the nearest weld", anchor=False)
    st.caption(
        "The distance is not on record here, so the joint's own efficiency counts. Only if the place is farther from "
        "the weld than the weld region reaches does the plate's count."
    )
    if found.empty:
        st.markdown("No distance to a weld could change a verdict or a due date.")
        return
    _table(found, HEADINGS, system, "Places where a weld distance could change something", as_of)


def repeated(found: pd.DataFrame, system: str, as_of: date) -> None:
    """List the places whose last reading, taken once more, could move a date."""
    st.subheader("With the gauge: the last reading once more", anchor=False)
    st.caption(
        "What a reading could gain, if it is thicker by the scatter of one reading. It may as well come out thinner: "
        "then the date is nearer, and better known."
    )
    if found.empty:
        st.markdown("No single reading could change a verdict or a due date.")
        return
    _table(found, REPEATED_HEADINGS, system, "Places where one more reading could change something", as_of)


def _table(found: pd.DataFrame, headings: dict[str, str], system: str, name: str, as_of: date) -> None:
    shown = reading.in_display_units(found, system)
    shown["state_shown"] = standings(shown)
    shown["kind_shown"] = [DASH if moved == "required thickness" else kind(moved) for moved in shown["kind"]]
    shown["due_else_said"] = [due_if_thinner(day, as_of) for day in shown["due_else_on"]]
    shown["verdict"] = ["no longer below required" if clears else DASH for clears in shown["clears_below_required"]]
    with parts.wide(name):
        parts.table(
            shown,
            headings,
            system,
            name,
            pinned=["asset"],
            widths={"state_shown": 180, "verdict": 175, "component": 110},
        )
    parts.paragraphs(
        [
            (f"{row['asset']} · {row['component']}, location {row['location']}", gain_in_words(row, system, as_of))
            for row in found.head(parts.NARROW_ROWS).to_dict("records")
        ],
        name,
        len(found),
    )
    st.caption(
        f"{counted(len(found), 'place')}, the ones that could clear a verdict first, then those that could gain most."
    )


def due_if_thinner(day: object, as_of: date) -> str:
    """Return the date of a place were its reading thinner, in words; one before the as-of date has passed already."""
    if not known(day):
        return DASH
    return f"{said(day)}{', already overdue' if said(day) < as_of.isoformat() else ''}"


def gain_in_words(row: Mapping[Hashable, Any], system: str, as_of: date) -> str:
    """Return what the measurement of a place could change and if what, in words."""
    if row["measurement"] == "weld distance":
        words = f"If farther from the weld than {show_value(row['weld_region_half_width_mm'], 'length', system)}"
    else:
        words = "If thicker by the scatter of one reading"
    could = ["it would no longer be below required"] if row["clears_below_required"] else []
    if known(row["due_if_on"]):
        gained = show_value(row["years_gained_years"], "duration", system)
        could.append(
            f"the {kind(row['kind'])} date could be {said(row['due_if_on'])} instead of {said(row['due_on'])}, "
            f"{gained} more"
        )
    words = f"{words}, {'; '.join(could)}."
    if known(row["due_else_on"]):
        words = f"{words} If as much thinner, the place would be due on {due_if_thinner(row['due_else_on'], as_of)}."
    return words


show()
