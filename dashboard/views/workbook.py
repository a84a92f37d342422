"""Look at a workbook: what it would change, before anybody accepts it; then accept it under a name, or leave it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import streamlit as st

from dashboard import data, identity, parts, understanding
from dashboard.wording import SEVERITY_MEANINGS, counted, kind, known, literal, said, sentence_units, state
from pipeline import reading
from pipeline.errors import Problem
from pipeline.reading import BuildStamp
from pipeline.turnaround_dates import set_by_in_words

READING_HEADINGS = {
    "asset": "asset",
    "component": "component",
    "location": "location",
    "read_on": "read on",
    "thickness_mm": "thickness",
    "status": "status",
    "flags": "to look at",
    "sheet": "sheet",
    "cell": "cell",
    "text": "cell as it stood",
}
CHANGED_HEADINGS = {
    "asset": "asset",
    "component": "component",
    "location": "location",
    "read_on": "read on",
    "thickness_mm": "thickness",
    "status_before": "status before",
    "status_after": "status after",
    "flags": "to look at",
    "source": "from",
}
DUE_HEADINGS = {
    "asset": "asset",
    "kind_shown": "due date is for",
    "before_on": "before",
    "after_on": "after",
    "days": "days later (− earlier)",
    "why": "set by",
}
STATE_HEADINGS = {
    "asset": "asset",
    "before_shown": "state before",
    "after_shown": "state after",
    "rank_before": "rank before",
    "rank_after": "rank after",
    "reason": "why it would rank there",
}
LEDGER_HEADINGS = {
    "severity": "severity",
    "sheet": "sheet",
    "cell": "cell",
    "text": "cell as it stood",
    "reason": "why, and what to do",
    "effect": "effect",
}
#: More rows than a person reads at once; how many there are in all is always said.
ROWS_SHOWN = 1000
ROWS_IN_SIGHT = 8

# What this session holds from one rerun, and one page, to the next.
DROPPED, LOOK, FAULT, SAID, DONE = "dropped", "look", "look fault", "look said", "looks done"


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    build = data.fleet(version).build
    parts.title("Look at a workbook", build)
    folder = data.plant_folder()
    if folder is None:
        st.info(
            "This page takes a workbook into the plant's folder, and the app was started without one. End it, and "
            "start it by 'hoopline open FOLDER'; all other pages work as they are."
        )
        return
    st.write(
        "Drop one workbook to see what it would change: readings, due dates, states. Nothing is written until a named "
        f"person accepts it. The results are worked as of {build.as_of.isoformat()}, like those in view."
    )
    said_before()
    drop()
    if DROPPED in st.session_state and LOOK not in st.session_state and FAULT not in st.session_state:
        look(folder, version, build)
    if FAULT in st.session_state:
        st.error(literal(st.session_state[FAULT]))
        st.button("Look again", on_click=look_again)
    if LOOK in st.session_state:
        seen: data.Look = st.session_state[LOOK]
        stands = data.still_stands(seen, folder, version)
        heading(seen, stands)
        changes(seen, build)
        how_read(seen)
        acceptance(seen, folder, build)


# ---- taking a workbook in hand --------------------------------------------------------------------------------------


def drop() -> None:
    """Draw the field that takes a workbook; a new one, or none, ends the look at the one before."""
    # A field of the same key would hold the workbook just put away.
    key = f"workbook {len(st.session_state.setdefault(DONE, []))}"
    limit = reading.in_megabytes(data.LARGEST_BYTES)
    st.file_uploader(
        f"Workbook, up to {limit} MB ({', '.join(data.ENDINGS)})",
        type=list(data.ENDINGS),
        key=key,
        max_upload_size=limit,
        on_change=take_in_hand,
        args=(key,),
    )


def take_in_hand(key: str) -> None:
    """Keep the workbook just dropped for this session; forget the one before."""
    forget()
    given = st.session_state.get(key)
    if given is not None:
        st.session_state[DROPPED] = (given.name, given.getvalue())


def forget() -> None:
    """Forget the workbook in hand and what was seen of it."""
    for name in (DROPPED, LOOK, FAULT, SAID):
        st.session_state.pop(name, None)


def look_again() -> None:
    """Look at the same workbook once more, on the folder and the results as they are now."""
    for name in (LOOK, FAULT):
        st.session_state.pop(name, None)


def leave() -> None:
    """Put the workbook away; the field for the next one is empty again."""
    name = st.session_state[DROPPED][0]
    put_away()
    st.session_state[SAID] = ("info", f"{name} was left as it was: nothing was written.")


def put_away() -> None:
    """Forget the workbook in hand, and let the field for the next one begin empty."""
    st.session_state[DONE].append(st.session_state[DROPPED][0])
    forget()


def said_before() -> None:
    """Say what became of the workbook before."""
    if SAID in st.session_state:
        mood, words = st.session_state[SAID]
        (st.success if mood == "success" else st.info)(literal(words))
        if mood == "success":
            st.page_link("views/fleet.py", label="See the ranking with it on Fleet")


def look(folder: Path, version: data.Version, build: BuildStamp) -> None:
    """Work out what the workbook in hand would change, and say what is being done meanwhile."""
    name, content = st.session_state[DROPPED]
    place = st.empty()
    with place.status(literal(f"Looking at {name}")) as progress:
        try:
            st.session_state[LOOK] = data.look_at(
                folder, name, content, version, build.as_of, lambda line: progress.update(label=literal(line))
            )
        except Problem as problem:
            st.session_state[FAULT] = str(problem)
    place.empty()


# ---- what was seen --------------------------------------------------------------------------------------------------


def heading(seen: data.Look, stands: bool) -> None:
    """Name the workbook, say what it replaces, and whether the look still holds."""
    preview = seen.preview
    st.subheader(literal(preview.file), anchor=False)
    if not stands:
        st.warning(
            "The folder, its basis or the results changed since this look: what it says may not hold any more. Look "
            "again before accepting."
        )
    if preview.replaces:
        st.warning(
            literal(
                f"Accepting it replaces the version of {preview.file} now in the folder, written on "
                f"{said(seen.replaced_on)}; the older version stays in the record."
            )
        )
    if seen.newer:
        st.warning(
            literal(
                f"Besides this workbook, the folder differs from the results in view in {', '.join(seen.newer)}. What "
                "is shown here counts those as they are now; accepting publishes them too."
            )
        )
    if preview.changes_nothing:
        st.info("This workbook changes nothing: no reading, due date or state would differ.")
    parts.facts(
        {
            "states changed": len(preview.states_changed),
            "due dates moved": len(preview.due_dates_moved),
            "readings added": len(preview.readings_added),
            "readings removed": len(preview.readings_removed),
            "readings changed": len(preview.readings_changed),
            "ledger lines": len(preview.ledger),
        }
    )
    again, away = st.columns(2)
    again.button("Look again", on_click=look_again, width="stretch")
    away.button("Leave it, write nothing", on_click=leave, width="stretch")


def changes(seen: data.Look, build: BuildStamp) -> None:
    """Draw what would differ: states first, then due dates, then readings."""
    preview = seen.preview
    system: str = st.session_state["units"]
    note = sentence_units(system, build.units)
    if preview.states_changed:
        st.subheader("Assets whose state changes", anchor=False)
        rows = pd.DataFrame(preview.states_changed)
        for side, otherwise in (("before", "not on record before"), ("after", "no longer on record")):
            rows[f"{side}_shown"] = [
                state_or(line[f"state_{side}"], line[f"held_{side}"], otherwise) for line in preview.states_changed
            ]
        for column in ("rank_before", "rank_after"):
            rows[column] = rows[column].astype("Int64")
        listed(rows, STATE_HEADINGS, system, "Assets whose state changes", wrapped=True, widths={"reason": 520})
        if note:
            st.caption(note)
    if preview.due_dates_moved:
        st.subheader("Due dates moved", anchor=False)
        rows = pd.DataFrame(preview.due_dates_moved)
        rows["kind_shown"] = rows["kind"].map(kind)
        rows["before_on"] = pd.to_datetime(rows["due_before"])
        rows["after_on"] = pd.to_datetime(rows["due_after"])
        rows["days"] = rows["days"].astype("Int64")
        rows["why"] = [set_by(row) for row in preview.due_dates_moved]
        listed(rows, DUE_HEADINGS, system, "Due dates moved", wrapped=True, widths={"why": 460})
    for words, lines, headings in (
        ("Readings added", preview.readings_added, READING_HEADINGS),
        ("Readings removed", preview.readings_removed, READING_HEADINGS),
        ("Readings whose status or flags change", preview.readings_changed, CHANGED_HEADINGS),
    ):
        if lines:
            st.subheader(words, anchor=False)
            rows = reading.in_display_units(pd.DataFrame(lines), system)
            rows["read_on"] = pd.to_datetime(rows["read_on"])
            if headings is CHANGED_HEADINGS:
                rows["source"] = [", ".join(filter(None, map(line.get, ("file", "sheet", "cell")))) for line in lines]
            listed(rows, headings, system, words, widths={"flags": 300, "source": 240})


def state_or(name: str | None, held: int | None, otherwise: str) -> str:
    """Return a state with its symbol and the readings that are held, or the words for an asset without one."""
    return state(name, held or 0) if name is not None else otherwise


def set_by(row: reading.Row) -> str:
    """Return what sets a due date, with its place; or what is missing for one."""
    words = [set_by_in_words(row["set_by"])] if known(row["set_by"]) else []
    if known(row["component"]):
        at = f", location {row['location']}" if known(row["location"]) else ""
        words.append(f"{row['component']}{at}")
    if known(row["due_missing"]):
        words.append(f"no date, missing: {row['due_missing']}")
    elif not known(row["due_after"]):
        words.append("no date any more")
    return "; ".join(words)


def listed(
    rows: pd.DataFrame,
    headings: dict[str, str],
    system: str,
    name: str,
    widths: dict[str, int],
    wrapped: bool = False,
) -> None:
    """Draw rows as a table, the first ones where there are very many, and say how many there are."""
    shown = rows.head(ROWS_SHOWN)
    options = {"row_height": parts.WRAPPED_ROW} if wrapped else {}
    parts.table(
        shown,
        headings,
        system,
        name,
        widths=widths,
        height="content" if len(shown) <= ROWS_IN_SIGHT else 360,
        **options,
    )
    more = f", the first {len(shown):,} are drawn" if len(rows) > len(shown) else ""
    st.caption(f"{counted(len(rows), 'row')}{more}.")


def how_read(seen: data.Look) -> None:
    """Draw how the sheets of the workbook were read, its ledger, and what would teach what is not known."""
    system: str = st.session_state["units"]
    lines = seen.preview.ledger
    st.subheader(f"Ledger of this workbook: {counted(len(lines), 'line')}", anchor=False)
    if lines:
        order = list(SEVERITY_MEANINGS)
        rows = pd.DataFrame(sorted(lines, key=lambda line: order.index(line["severity"])))
        listed(rows, LEDGER_HEADINGS, system, "Ledger", wrapped=True, widths={"reason": 520, "effect": 240})
    else:
        st.write("Every cell that says something is used or ignored for a stated reason.")
    st.subheader("How its sheets were read", anchor=False)
    if not seen.tables:
        st.write("No sheet of it could be read; the ledger above says why.")
    for place in dict.fromkeys(read.place for read in seen.tables):
        tables = [read for read in seen.tables if read.place == place]
        hidden = " (hidden sheet)" if tables[0].hidden else ""
        with st.expander(literal(f"{place}{hidden}: {'; '.join(read.kind_words for read in tables)}")):
            understanding.say_hidden(tables[0])
            for read in tables:
                understanding.table(read, system)
    if seen.untaught.headings or seen.untaught.undated or seen.untaught.tags:
        st.markdown("**Teach it once**")
        understanding.teach(seen.untaught, "workbook")


# ---- accepting ------------------------------------------------------------------------------------------------------


def acceptance(seen: data.Look, folder: Path, build: BuildStamp) -> None:
    """Draw the form under which the person accepts the workbook, and do so when it is sent complete."""
    st.subheader("Accept it", anchor=False)
    st.write(
        "Accepting puts the file into the plant's folder, notes name and reason in the permanent record, and publishes "
        f"new results as of {build.as_of.isoformat()}."
    )
    who = st.session_state.get("person")
    if who and not identity.may_write():
        st.info(literal(f"{who} reads everything and changes nothing: somebody else has to accept it."))
        return
    with st.form("acceptance", enter_to_submit=False):
        st.markdown(literal(f"Accepted by {who}") if who else "Choose your name in the sidebar to accept it.")
        reason = st.text_input(
            "Reason",
            key="accepted for",
            max_chars=2000,
            placeholder="what this workbook is, and why it counts",
            persist_state="session",
        )
        sent = st.form_submit_button(literal(f"Accept {seen.preview.file}"), type="primary")
    if not sent:
        return
    missing = missing_words(who, reason)
    if missing:
        st.error(f"Nothing was accepted: {missing} missing. Fill in and accept again.")
    elif not data.still_stands(seen, folder, data.newest()):
        st.error(
            "Nothing was accepted: the folder, its basis or the results changed since this look. Press 'Look again' "
            "above, read what it would change now, and accept then."
        )
    else:
        accept(seen, folder, reason or "")


def missing_words(who: str | None, reason: str | None) -> str:
    """Return what the form lacks, in words; empty where it is complete."""
    asked = (("your name in the sidebar", who), ("the reason", reason))
    lacking = [words for words, value in asked if not (value or "").strip()]
    return f"{' and '.join(lacking)} {'are' if len(lacking) > 1 else 'is'}" if lacking else ""


def accept(seen: data.Look, folder: Path, reason: str) -> None:
    """Accept the workbook under the person's name, saying what is being done meanwhile; then show the page anew."""
    place = st.empty()
    with place.status(literal(f"Accepting {seen.preview.file}")) as progress:
        try:
            by = identity.who()
            data.take(folder, seen, by, reason, lambda line: progress.update(label=literal(line)))
        except Problem as problem:
            fault: str | None = str(problem)
        else:
            fault = None
    place.empty()
    if fault is not None:
        st.error(literal(fault))
        return
    put_away()
    st.session_state.pop("accepted for", None)
    st.session_state[SAID] = (
        "success",
        f"{seen.preview.file} is in the folder, accepted by {by.name}; new results were published.",
    )
    st.rerun()


show()
