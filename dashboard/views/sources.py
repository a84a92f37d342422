"""What became of every file and cell: nothing is left out without a line here that says why."""

from __future__ import annotations

import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import SEVERITY_MEANINGS, counted, known, literal, said
from pipeline.reading import LedgerCounts

FILE_HEADINGS = {
    "file": "file",
    "rows_read": "rows read",
    "rows_used": "rows used",
    "rows_set_aside": "rows with a cell set aside",
    "readings_held": "readings held",
    "size": "bytes",
    "sha256": "SHA-256 of the content",
}
LEDGER_HEADINGS = {
    "severity": "severity",
    "file": "file",
    "sheet": "sheet",
    "cell": "cell",
    "text": "cell as it stood",
    "reason": "why, and what to do",
    "effect": "effect",
}
SEVERAL = ("severity", "file")
#: More lines than a person reads at once; how many there are in all is always said.
ROWS_SHOWN = 1000


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    build = data.fleet(version).build
    found = data.sources(version)
    system: str = st.session_state["units"]
    parts.title("Sources and ledger", build)
    ledger(version, found.ledger, system)
    st.subheader("Files", anchor=False)
    parts.table(found.files, FILE_HEADINGS, system, "Source files", widths={"file": 215, "sha256": 560})
    st.caption("Each file is kept whole in the record, by the hash of its content.")
    st.page_link("views/sheets.py", label="See how the sheets of these files were read")


def ledger(version: data.Version, counts: LedgerCounts, system: str) -> None:
    """Draw the ledger with its filters, kept the same as the address."""
    address.adopt("sources", "sources", single=["words"], several=SEVERAL)
    severities, files = list(counts.severities), list(counts.files)
    for name, options in (("severity", severities), ("file", files)):
        unknown = address.keep_known(name, options)
        if unknown:
            st.warning(literal(f"The ledger has no {name} called {', '.join(unknown)}: left out of the filter."))
    picked = st.pills(
        f"Ledger: {counted(counts.lines, 'line')}",
        severities,
        selection_mode="multi",
        format_func=lambda severity: f"{severity} · {counts.severities[severity]:,}",
        key="severity",
        persist_state="session",
    )
    file_box, text_box = st.columns(2)
    picked_files = file_box.multiselect("File", files, key="file", placeholder="every file", persist_state="session")
    text = text_box.text_input(
        "Words", key="words", placeholder="tag, cell, reason …", type="search", persist_state="session"
    )
    address.write("sources", {"severity": picked, "file": picked_files, "words": text})
    address.leave_only([*SEVERAL, "words", "units"])
    found, number = data.ledger_lines(version, tuple(picked), tuple(picked_files), text or "", ROWS_SHOWN)
    if found.empty:
        st.info("No line of the ledger matches these filters." if counts.lines else "The ledger is empty.")
        return
    found = found.assign(sheet=found["sheet"].replace("", None))
    with parts.wide("ledger"):
        parts.table(
            found,
            LEDGER_HEADINGS,
            system,
            "Ledger of cells not used, or used with doubt",
            widths={"file": 170, "reason": 380, "effect": 300},
            row_height=parts.WRAPPED_ROW,
            height=480,
        )
    parts.paragraphs(
        [
            (
                f"{row['severity']} · {', '.join(filter(known, (row['file'], row['sheet'], row['cell'])))}",
                f"“{said(row['text'])}”: {said(row['reason'])}. Effect: {said(row['effect'])}.",
            )
            for row in found.head(parts.NARROW_ROWS).to_dict("records")
        ],
        "ledger",
        number,
    )
    if number > len(found):
        st.caption(f"The first {ROWS_SHOWN:,} are drawn; filter by severity, file or words to reach the others.")
    meanings = "; ".join(f"{name}: {meaning}" for name, meaning in SEVERITY_MEANINGS.items())
    st.caption(f"{counted(number, 'line')} of {counts.lines:,}. {meanings}.")


show()
