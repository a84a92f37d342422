"""How every sheet was read: its tables, columns and units, and what would teach the headings nobody knows."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pandas as pd
import streamlit as st

from dashboard import address, data, parts, understanding
from dashboard.wording import counted, literal
from pipeline.understood import ReadTable

HEADINGS = {
    "file": "file",
    "sheet": "sheet",
    "kind": "understood as",
    "header_row": "heading row",
    "columns": "columns",
    "unknown": "not known",
    "cells": "cells",
    "used": "used",
    "set_aside": "set aside",
    "ignored": "ignored",
    "hidden": "hidden",
}
SPELLING_HEADINGS = {"kind_shown": "taught as", "spelling": "spelling", "meaning": "stands for"}
SPELLING_KINDS = {"heading": "heading", "alias": "alias of an asset"}
#: What a person may want to look at first.
REMARKS: dict[str, Callable[[ReadTable], bool]] = {
    "without a table": lambda read: not read.kind,
    "hidden": lambda read: read.hidden,
    "heading not known": lambda read: any(column.unknown for column in read.columns),
    "cells set aside": lambda read: bool(read.set_aside),
}
ROWS_IN_SIGHT = 8


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    system: str = st.session_state["units"]
    found = data.sheets(version)
    parts.title("Sheets as read", data.fleet(version).build)
    tables = choose(found.tables)
    if tables:
        summary(tables, system)
        one_sheet(tables, system)
    else:
        st.info("No sheet matches these filters. Take one away to see more.")
    st.subheader("Teach it once", anchor=False)
    understanding.teach(found.untaught, "results")
    in_force(found.spellings, system)


def choose(tables: Sequence[ReadTable]) -> list[ReadTable]:
    """Draw the filters, kept the same as the address; return the tables they leave."""
    address.adopt("sheets", "sheets", single=["sheet"], several=["remark", "book"])
    files = list(dict.fromkeys(read.file for read in tables))
    counts = {remark: len([read for read in tables if holds(read)]) for remark, holds in REMARKS.items()}
    for name, called, options in (("remark", "remark", list(REMARKS)), ("book", "file", files)):
        unknown = address.keep_known(name, options)
        if unknown:
            st.warning(literal(f"These sheets have no {called} called {', '.join(unknown)}: left out of the filter."))
    sheets = {(read.file, read.sheet) for read in tables}
    picked = st.pills(
        f"{counted(len(files), 'file')} with {counted(len(sheets), 'sheet')}; show those",
        list(REMARKS),
        selection_mode="multi",
        format_func=lambda remark: f"{remark} · {counts[remark]}",
        key="remark",
        persist_state="session",
    )
    books = st.multiselect("File", files, key="book", placeholder="every file", persist_state="session")
    return [
        read
        for read in tables
        if (not books or read.file in books) and (not picked or any(REMARKS[remark](read) for remark in picked))
    ]


def summary(tables: Sequence[ReadTable], system: str) -> None:
    """Draw one row for each table, with what became of its cells."""
    rows = pd.DataFrame(
        {
            "file": [read.file for read in tables],
            "sheet": [read.sheet or None for read in tables],
            "kind": [read.kind_words for read in tables],
            "header_row": pd.array([read.header_row for read in tables], dtype="Int64"),
            "columns": [len(read.columns) for read in tables],
            "unknown": [len([column for column in read.columns if column.unknown]) for read in tables],
            "cells": [read.cells for read in tables],
            "used": [read.used for read in tables],
            "set_aside": [read.set_aside for read in tables],
            "ignored": [read.ignored for read in tables],
            "hidden": ["hidden" if read.hidden else "no" for read in tables],
        }
    )
    parts.table(
        rows,
        HEADINGS,
        system,
        "How each sheet was understood",
        widths={"file": 215, "sheet": 130, "kind": 240},
        height="content" if len(rows) <= ROWS_IN_SIGHT else 320,
    )
    st.caption(
        "Every cell that is not blank is used, set aside with a line in the ledger, or ignored for a stated reason "
        "such as a title, a repeated heading or a total."
    )


def one_sheet(tables: Sequence[ReadTable], system: str) -> None:
    """Draw one sheet in full, chosen by its name."""
    named: dict[str, list[ReadTable]] = {}
    for read in tables:
        named.setdefault(read.place, []).append(read)
    if st.session_state.get("sheet") not in named:
        st.session_state["sheet"] = next(iter(named))
    st.subheader("One sheet in full", anchor=False)
    chosen = st.selectbox("Sheet", list(named), key="sheet", persist_state="session")
    address.write(
        "sheets",
        {"sheet": chosen, "remark": st.session_state["remark"], "book": st.session_state["book"]},
    )
    address.leave_only(["sheet", "remark", "book", "units"])
    understanding.say_hidden(named[chosen][0])
    for read in named[chosen]:
        understanding.table(read, system)


def in_force(spellings: pd.DataFrame, system: str) -> None:
    """Draw what the plant has taught already."""
    st.subheader("Taught by the plant's basis, in force", anchor=False)
    if spellings.empty:
        st.write("The basis of this build teaches no heading and no alias of its own.")
        return
    shown = spellings.assign(kind_shown=spellings["kind"].map(SPELLING_KINDS))
    parts.table(shown, SPELLING_HEADINGS, system, "Headings and aliases in force", height="content")


show()
