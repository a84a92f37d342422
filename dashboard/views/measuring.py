"""What one measurement is worth: where a tape, or a reading taken once more, would change a verdict or a due date."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import DASH, counted, kind, known, said, standings
from pipeline import reading
from pipeline.units import show as show_value

#: A reading taken once more may come out either way.
_BOTH_WAYS = [("due_if_on", "due if thicker"), ("due_else_on", "place due if thinner")]
HEADINGS = {
    "asset": "asset",
    "state_shown": "state of the asset",
    "component": "component",
    "location": "location",
    "verdict": "verdict then",
    "years_gained_years": "gained",
    "due_on": "due now",
    "due_if_on": "due then",
    "kind_shown": "which date",
    "t_act_mm": "last reading",
    "t_req_mm": "required now",
    "t_req_if_mm": "required then",
    "assigned_to": "assigned to",
}
REPEATED_HEADINGS = {
    name: words
    for column, heading in HEADINGS.items()
    for name, words in ([(column, heading)] if column != "due_if_on" else _BOTH_WAYS)
    if name != "t_req_if_mm"
}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("Worth measuring", fleet.build)
    st.markdown(
        "One measurement at these places would change a verdict or move a due date of their asset. What it would gain "
        "is limited by the place, or the longest interval, that would govern next."
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
    tape(found[found["measurement"] == "weld distance"], system)
    repeated(found[found["measurement"] == "thickness"], system)


def tape(found: pd.DataFrame, system: str) -> None:
    """List the places whose distance to the nearest weld is not known and matters."""
    st.subheader("With a tape: the distance to the nearest weld", anchor=False)
    st.caption(
        "The distance is not on record here, so the joint's own efficiency counts. Were the place farther from the "
        "weld than the weld region reaches, the plate's would."
    )
    if found.empty:
        st.markdown("No distance to a weld would change a verdict or a due date.")
        return
    _table(found, HEADINGS, system, "Places where a weld distance would change something")


def repeated(found: pd.DataFrame, system: str) -> None:
    """List the places whose last reading, taken once more, could move a date."""
    st.subheader("With the gauge: the last reading once more", anchor=False)
    st.caption(
        "What a reading thicker by the scatter of one reading would gain. It may as well come out thinner: then the "
        "date is nearer, and better known."
    )
    if found.empty:
        st.markdown("No single reading would change a verdict or a due date.")
        return
    _table(found, REPEATED_HEADINGS, system, "Places where one more reading would change something")


def _table(found: pd.DataFrame, headings: dict[str, str], system: str, name: str) -> None:
    shown = reading.in_display_units(found, system)
    shown["state_shown"] = standings(shown)
    shown["kind_shown"] = [DASH if moved == "required thickness" else kind(moved) for moved in shown["kind"]]
    shown["verdict"] = ["no longer below required" if clears else DASH for clears in shown["clears_below_required"]]
    with parts.wide(name):
        parts.table(
            shown,
            headings,
            system,
            name,
            pinned=["asset"],
            widths={"state_shown": 165, "verdict": 175, "component": 110},
        )
    parts.paragraphs(
        [
            (f"{row['asset']} · {row['component']}, location {row['location']}", gain_in_words(row, system))
            for row in found.head(parts.NARROW_ROWS).to_dict("records")
        ],
        name,
        len(found),
    )
    st.caption(f"{counted(len(found), 'place')}, the ones that would clear a verdict first, then the most gained.")


def gain_in_words(row: Mapping[Hashable, Any], system: str) -> str:
    """Return what the measurement of a place would change, in words."""
    words = ["It would no longer be below required."] if row["clears_below_required"] else []
    if known(row["due_if_on"]):
        gained = show_value(row["years_gained_years"], "duration", system)
        words.append(
            f"The {kind(row['kind'])} date would be {said(row['due_if_on'])} for {said(row['due_on'])}, {gained} more."
        )
    if known(row["due_else_on"]):
        words.append(f"Were it as much thinner, the place would be due on {said(row['due_else_on'])}.")
    return " ".join(words)


show()
