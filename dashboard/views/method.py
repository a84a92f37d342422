"""The clauses the program knows, each as it is worked, and the policies of the basis in force."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import UNSTATED, counted, known, literal
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
    st.table(
        pd.DataFrame(
            {
                "policy": [literal(label) for label in policies["label"]],
                "value": [literal(shown) if known(shown) else UNSTATED for shown in policies["shown"]],
                "set by": ["the plant" if stated else "default" for stated in policies["stated"]],
                "from": [literal(reference) for reference in policies["reference"]],
            }
        ),
        border="horizontal",
        hide_index=True,
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
        "Each equation is written once in the program; the database, the explanations and the audit workbook are "
        "printed from it. (m) marks a clause number written from memory: check it in a licensed copy."
    )
    for document in picked or documents:
        st.markdown(f"#### {literal(document)}")
        for formula in ALL:
            if formula.document == document:
                clause(formula, document)


def clause(formula: Formula, document: str) -> None:
    """Show one equation with its clause, limits and note."""
    with st.container(border=True):
        clause_said = "" if formula.clause == document else f" · {literal(formula.clause)}"
        st.markdown(f"**{literal(formula.title)}**{clause_said}")
        st.latex(formula.typeset())
        for limit in formula.limits:
            condition = TypesetPrinter(SYMBOLS).print(parse(limit.text, QUANTITIES))
            st.caption(f"Holds while ${condition}$; otherwise: {literal(limit.otherwise)}.")
        if formula.note:
            st.caption(literal(formula.note))
        quantities = (formula.result_quantity, *formula.inputs)
        st.caption("; ".join(f"${item.symbol}$ {literal(item.label)}" for item in quantities))


show()
