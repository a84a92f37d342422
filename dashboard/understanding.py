"""How sheets were read, drawn: each table with its columns and units, and the lines that would teach what was not
understood. Two pages share it: one for the results in view, one for a workbook that is only looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from dashboard import data, parts
from dashboard.wording import DASH, counted, literal
from pipeline.understood import ReadTable, basis_lines

COLUMN_HEADINGS = {
    "cell": "cell",
    "heading": "heading as it stands",
    "understood": "understood as",
    "units": "unit, and where it was stated",
}
NOT_READ = "✕"
NOT_CHOSEN = "not chosen"
CHOICE_WIDTH = 420


def table(read: ReadTable, system: str) -> None:
    """Draw one table of a sheet: its kind, its columns as understood, what became of its cells."""
    number = f"Table {read.table_no}: " if read.table_no else ""
    row = f", heading in row {read.header_row}" if read.header_row is not None else ""
    st.markdown(f"**{literal(f'{number}{read.kind_words}{row}')}**")
    if read.columns:
        shown = pd.DataFrame(
            {
                "cell": [column.cell for column in read.columns],
                "heading": [column.heading for column in read.columns],
                "understood": [column.meaning or f"{NOT_READ} {column.note}" for column in read.columns],
                "units": [column.unit_words or DASH for column in read.columns],
            }
        )
        parts.table(
            shown,
            COLUMN_HEADINGS,
            system,
            f"Columns of {read.place}, table {read.table_no}",
            widths={"cell": 70, "heading": 200, "understood": 380, "units": 260},
        )
    ignored = f" ({read.ignored_words})" if read.ignored_words else ""
    st.caption(
        literal(
            f"{counted(read.cells, 'cell')} that hold something: {read.used:,} used, {read.set_aside:,} set aside, "
            f"each with a line in the ledger, {read.ignored:,} ignored for a stated reason{ignored}."
        )
    )


def say_hidden(read: ReadTable) -> None:
    """Say so where a sheet is hidden in its workbook."""
    if read.hidden:
        st.warning("This sheet is hidden in its workbook, and is read all the same: check that it is meant to count.")


# ---- what would teach it --------------------------------------------------------------------------------------------


def teach(untaught: data.Untaught, where: str) -> None:
    """Let a person say what is not known, and show the lines of the basis that teach it; nothing is written.

    `where` keeps the choices of one page apart from those of another.
    """
    if not (untaught.headings or untaught.undated or untaught.tags):
        st.write("Nothing here is left to be taught: no heading is unknown, and every tag is known.")
        return
    st.write(
        "What is chosen here is shown as lines to copy into the plant's basis.toml, once; the next build reads by "
        "them. Nothing is written from here: the basis file is the plant's own."
    )
    headings = {**_known_columns(untaught, where), **_dates(untaught.undated, where)}
    aliases = _aliases(untaught, where)
    for name, entries in (("headings", headings), ("aliases", aliases)):
        if entries:
            st.code(basis_lines(name, entries), language="toml", wrap_lines=True)
    if headings or aliases:
        st.caption(
            "Where basis.toml has a line [headings] or [aliases] already, put the lines below that one; a second line "
            "of the same name would be refused."
        )


def _known_columns(untaught: data.Untaught, where: str) -> dict[str, str]:
    chosen = {}
    for unknown in untaught.headings:
        choice = _choose(
            f"“{unknown.spelling}” means",
            unknown.choices,
            unknown.near[0] if len(unknown.near) == 1 else None,
            f"{where} heading {unknown.spelling}",
        )
        like = f" It looks like {' or '.join(unknown.near)}: check that it is." if unknown.near else ""
        st.caption(literal(f"Stands in {_places(unknown.places)}.{like}"))
        if choice is not None:
            chosen[unknown.spelling] = choice
    return chosen


def _dates(undated: Sequence[str], where: str) -> dict[str, str]:
    dated = {}
    for heading in undated:
        on = st.date_input(
            literal(f"“{heading}” was measured on"),
            value=None,
            min_value="1900-01-01",
            format="YYYY-MM-DD",
            key=f"{where} date {heading}",
            width=CHOICE_WIDTH,
            persist_state="session",
        )
        if on is not None:
            dated[heading] = on.isoformat()
    return dated


def _aliases(untaught: data.Untaught, where: str) -> dict[str, str]:
    chosen = {}
    for unlisted in untaught.tags:
        choice = _choose(
            f"“{unlisted.tag}” is another name of",
            untaught.listed,
            unlisted.same[0] if len(unlisted.same) == 1 else None,
            f"{where} alias {unlisted.tag}",
        )
        same = f" Has the letters and digits of {' and '.join(unlisted.same)}." if unlisted.same else ""
        st.caption(
            literal(
                f"No register lists this tag; first found in {unlisted.place}.{same} Where it is an asset of its own, "
                "add it to the register instead."
            )
        )
        if choice is not None:
            chosen[unlisted.tag] = choice
    return chosen


def _choose(label: str, options: Sequence[str], proposed: str | None, key: str) -> str | None:
    """Let a person choose one of the options or none; the proposal stands until another is chosen."""
    if key not in st.session_state:
        st.session_state[key] = proposed
    elif st.session_state[key] not in options:
        st.session_state[key] = None
    return st.selectbox(
        literal(label),
        options,
        key=key,
        index=None,
        placeholder=NOT_CHOSEN,
        persist_state="session",
        width=CHOICE_WIDTH,
    )


def _places(places: Sequence[str]) -> str:
    shown = "; ".join(places[:3])
    return f"{shown} and {len(places[3:])} more" if places[3:] else shown
