"""What is assigned to a person, by urgency: what waits at each asset, and the sheet to take there."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from datetime import date

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import DASH, counted, kind, known, literal, said, standings, state
from pipeline.cautions import BELOW_REQUIRED
from pipeline.errors import Problem

HEADINGS = {
    "asset": "asset",
    "state_shown": "state",
    "due_on": "due date",
    "kind_shown": "which date",
    "held_readings": "to judge",
    "due_places": "overdue or due within a year",
    "missed_places": "missed",
    "worth_places": "worth measuring",
    "open_recommendations": "recommendations",
    "area": "area",
    "description": "description",
}
ROWS_IN_SIGHT = 8
#: More sentences than a person reads at once; how many there are is always said.
SENTENCES_IN_SIGHT = 12


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    parts.title("Assigned assets", fleet.build)
    person = whose(fleet)
    if not person:
        st.info("Choose a name to see what is assigned to it.")
        return
    own = data.assigned(version, person)
    if own.empty:
        st.info(literal(f"Nothing is assigned to {person}. The register of assets says who inspects what."))
        return
    table(own)
    tag = choose(own)
    if tag:
        asset(version, fleet, own.set_index("asset", drop=False).loc[tag])


def whose(fleet: data.Fleet) -> str | None:
    """Draw the choice of the person whose assets are shown: oneself first, anybody who has assets."""
    folder = data.plant_folder()
    named = data.people(folder) if folder else []
    names = sorted({*named, *fleet.assets["assigned_to"].dropna()})
    address.adopt("assigned", "my_assets", single=["whose"])
    address.leave_only(["whose", "asset", "units"])
    own = st.session_state.get("person")
    if st.session_state.get("whose") not in names:
        st.session_state["whose"] = own if own in names else None
    person = st.selectbox(
        "Assigned to", names, key="whose", placeholder="choose a name", persist_state="session", width=320
    )
    address.write("assigned", {"whose": person if person != own else None})
    return person


def table(own: pd.DataFrame) -> None:
    """List the assets with what waits at each."""
    shown = own.copy()
    shown["state_shown"] = standings(shown)
    shown["kind_shown"] = [
        f"{kind(row['due_kind'])}{remark_on_date(row)}" if known(row["due_kind"]) else DASH
        for row in shown.to_dict("records")
    ]
    with parts.wide("assigned"):
        parts.table(
            shown,
            HEADINGS,
            st.session_state["units"],
            "Assigned assets, most urgent first",
            pinned=["asset"],
            widths={"state_shown": 165, "description": 200},
            height="content" if len(shown) <= ROWS_IN_SIGHT else 330,
        )
        st.caption(
            f"{counted(len(own), 'asset')}, most urgent first. To judge are readings; overdue or due within a year, "
            "missed and worth measuring are places, those never read among the due ones; recommendations are the open "
            "ones."
        )
    first = shown.head(parts.NARROW_ROWS).to_dict("records")
    parts.paragraphs(
        [(f"{row['asset']} · {row['state_shown']}", waiting(row)) for row in first],
        "assigned",
        len(own),
        "choose below to reach the others",
    )


def waiting(row: Mapping[Hashable, object]) -> str:
    """Return in words what waits at an asset; what does not is left out."""
    waits = [
        f"{row[column]} {words}"
        for column, words in (
            ("held_readings", "to judge"),
            ("due_places", "overdue or due within a year"),
            ("missed_places", "missed"),
            ("worth_places", "worth measuring"),
            ("open_recommendations", "recommended"),
        )
        if row[column]
    ]
    return "; ".join([due_in_words(row), *waits])


def remark_on_date(row: Mapping[Hashable, object]) -> str:
    """Return what is to be said behind a due date: that it has passed, or that it may be earlier."""
    return f"{', was due' if row['is_past'] else ''}{', at the latest' if row['is_at_latest'] else ''}"


def due_in_words(row: Mapping[Hashable, object]) -> str:
    """Return the due date that governs an asset as a sentence: as past where it has passed, and as the latest it can
    be where something is missing."""
    if not known(row["due_on"]):
        return "No due date"
    when = f"{said(row['due_on'])}{' at the latest' if row['is_at_latest'] else ''}"
    which = f", {kind(row['due_kind'])}" if known(row["due_kind"]) else ""
    return f"{'Was due' if row['is_past'] else 'Next due'} {when}{which}"


def choose(own: pd.DataFrame) -> str | None:
    """Draw the choice of one of the assets; the most urgent one by default."""
    tags = list(own["asset"])
    states = dict(zip(tags, standings(own), strict=True))
    if st.session_state.get("asset at hand") not in tags:
        st.session_state["asset at hand"] = tags[0]
    return st.selectbox(
        "Asset at hand",
        tags,
        format_func=lambda tag: f"{tag} · {states[tag]}",
        key="asset at hand",
        persist_state="session",
        width=320,
    )


def asset(version: data.Version, fleet: data.Fleet, row: pd.Series) -> None:
    """Say what is to be done at one asset, and give what is taken there."""
    tag: str = row["asset"]
    system: str = st.session_state["units"]
    name = f"{tag} · {row['description']}" if known(row["description"]) else tag
    st.subheader(literal(name), anchor=False)
    if row["state"] == "below required":
        st.error(literal(BELOW_REQUIRED))
    parts.sentence(f"{tag}: {row['reason']}.")
    parts.facts(
        {
            "state": state(row["state"], row["held_readings"]),
            "due date": due_in_words(row.to_dict()),
            "area": row["area"],
            "readings to judge": row["held_readings"],
        }
    )
    sheets(version, fleet, tag, system)
    waits = data.to_do(version, tag, system)
    st.markdown("**To do there**")
    if not waits:
        st.markdown("No reading, place or recommendation waits here; the due date above stands.")
    parts.stated_list(waits[:SENTENCES_IN_SIGHT])
    if len(waits) > SENTENCES_IN_SIGHT:
        with st.expander(f"All {counted(len(waits), 'point')}"):
            parts.stated_list(waits)


def sheets(version: data.Version, fleet: data.Fleet, tag: str, system: str) -> None:
    """Draw the field sheet as workbook and as page, and the way to entering."""
    day = st.date_input(
        "Day of the survey, for the expected readings",
        value=max(fleet.build.as_of, date.today()),
        format="YYYY-MM-DD",
        key="survey day",
        width=320,
    )
    left, middle, right = st.columns(3)
    try:
        sheet = data.field_sheet(version, tag, system, day if isinstance(day, date) else fleet.build.as_of)
    except Problem as problem:
        st.warning(literal(problem))
    else:
        left.download_button(
            "Field sheet to fill in",
            sheet.workbook,
            sheet.file,
            "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            width="stretch",
            on_click="ignore",
        )
        middle.download_button(
            "Field sheet to print",
            sheet.page,
            sheet.file.replace(".xlsx", ".html"),
            "text/html",
            width="stretch",
            on_click="ignore",
        )
    if right.button("Enter readings", type="primary", width="stretch"):
        st.session_state["asset"] = tag
        st.switch_page("views/entering.py")
    st.caption(
        "Give the filled workbook back on 'Look at a workbook', or put it into the plant's folder: every row finds its "
        "place by its return code."
    )


show()
