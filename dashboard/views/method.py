"""The clauses the program knows, each as it is worked, and the policies of the basis in force."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import SYSTEM_NAMES, UNSTATED, counted, known, literal, said
from pipeline.expression import parse
from pipeline.formulas import ALL, Formula
from pipeline.printers import TypesetPrinter
from pipeline.quantities import QUANTITIES

SYMBOLS = {name: quantity.symbol for name, quantity in QUANTITIES.items()}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    build = data.fleet(version).build
    parts.title("Method and basis", build)
    basis(data.policies(version, st.session_state["units"]))
    clauses()


def basis(policies: pd.DataFrame) -> None:
    """Show every policy in force, whether the plant stated it, and where the rule comes from."""
    st.subheader("Basis in force", anchor=False)
    rows = policies.to_dict("records")
    told = (
        (
            row["label"],
            SYSTEM_NAMES.get(row["shown"], row["shown"]) if known(row["shown"]) else UNSTATED,
            "the plant" if row["stated"] else "default",
            row["reference"],
        )
        for row in rows
    )
    parts.written_table(
        [tuple(parts.in_html(said(cell)) for cell in row) for row in told],
        ("policy", "value", "set by", "from"),
        "Policies of the basis in force",
        "policies",
    )


def clauses() -> None:
    """Show every clause with its equation, limits and note; the same text the results were computed with."""
    st.subheader("Clauses", anchor=False)
    address.adopt("method", "method", several=["document"])
    documents = list(dict.fromkeys(formula.document for formula in ALL))
    unknown = address.keep_known("document", documents)
    if unknown:
        st.warning(literal(f"There is no document called {', '.join(unknown)}: left out of the filter."))
    picked = st.pills(
        f"Document, of {counted(len(ALL), 'equation')}",
        documents,
        selection_mode="multi",
        key="document",
        persist_state="session",
    )
    address.write("method", {"document": picked})
    address.leave_only(["document", "units"])
    st.caption(
        "Each equation is written once in the program; results, explanations and the audit workbook all work by it. "
        "(m) marks a clause number written from memory: check it in a licensed copy."
    )
    opened = st.toggle("Open every equation", key="every equation open", persist_state="session")
    for document in picked or documents:
        of_document(document, opened, chosen=document in picked)


@parts.alone
def of_document(document: str, opened: bool, chosen: bool) -> None:
    """List the equations of a document when it is chosen or opened; each is typeset when it is opened in turn."""
    own = [formula for formula in ALL if formula.document == document]
    unfolded = opened or chosen
    key = f"equations of {document}, {'open' if unfolded else 'alone'}"
    label = f"**{literal(document)}** · {counted(len(own), 'equation')}"
    with st.expander(label, expanded=unfolded, key=key, on_change="rerun") as folded:
        if folded.open:
            for formula in own:
                clause(formula, document, opened)


def clause(formula: Formula, document: str, opened: bool) -> None:
    """Show one equation with its clause, limits and note."""
    clause_said = "" if formula.clause == document else f" · {literal(formula.clause)}"
    key = f"equation {formula.id}, {'all open' if opened else 'alone'}"
    with st.expander(
        f"**{literal(formula.title)}**{clause_said}", expanded=opened, key=key, on_change="rerun"
    ) as folded:
        if not folded.open:
            return
        st.latex(formula.typeset())
        for limit in formula.limits:
            condition = TypesetPrinter(SYMBOLS).print(parse(limit.text, QUANTITIES))
            st.caption(f"Holds while ${condition}$; otherwise: {literal(limit.otherwise)}.")
        if formula.note:
            st.caption(literal(formula.note))
        quantities = (formula.result_quantity, *formula.inputs)
        st.caption("; ".join(f"${item.symbol}$ {literal(item.label)}" for item in quantities))


show()
