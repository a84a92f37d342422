"""Decisions on the scope of a turnaround: those of the results, and those people entered since the last build."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import duckdb
import pandas as pd

from pipeline.basis import Basis
from pipeline.reading import asked
from pipeline.sheets.entries import FIRST_RECORD, Entered, Typed, entry_facts
from pipeline.turnaround_dates import Row, frame

DECISIONS = ("in scope", "not in scope", "measure first", "on-stream", "study")
#: Headings under which a decision on scope is entered, as a spreadsheet would have them.
DECISION_KIND = "scope decisions"


def decisions(
    connection: duckdb.DuckDBPyConnection, entered: Sequence[Entered], basis: Basis, today: date
) -> list[Row]:
    """Return every decision on scope, those of the results and those entered since, in the order of their making.

    Each has `stands`: it counts, and no later one about the same asset and turnaround does. `entered` is what people
    entered, of any kind; what the results hold already is not taken twice.
    """
    found = asked(
        connection,
        "SELECT record, asset, turnaround, decision, reason, decided_by, decided_on, refused "
        "FROM result.scope_decision ORDER BY record",
    )
    seen = {row["record"] for row in found}
    for entry in entered:
        if entry.kind == DECISION_KIND and FIRST_RECORD + entry.seq not in seen:
            found.append(_entered_decision(entry, basis, today))
    found.sort(key=lambda row: (row["decided_on"] or date.min, row["record"]))
    last = {(row["asset"], row["turnaround"]): row["record"] for row in found if row["refused"] is None}
    for row in found:
        row["stands"] = last.get((row["asset"], row["turnaround"])) == row["record"]
    return found


def _entered_decision(entry: Entered, basis: Basis, today: date) -> Row:
    """Read one entry as the next build will read it."""
    facts = entry_facts([Typed(entry.kind, entry.cells)], basis, today).rows("field")
    said = {fact["field"]: fact["on_date"] or fact["word"] for fact in facts}
    whole = all(said.get(name) for name in ("scope_decision", "turnaround", "reason", "decided_by", "decided_on"))
    return {
        "record": FIRST_RECORD + entry.seq,
        "asset": facts[0]["asset"] if facts else None,
        "turnaround": said.get("turnaround"),
        "decision": said.get("scope_decision"),
        "reason": said.get("reason"),
        "decided_by": said.get("decided_by"),
        "decided_on": said.get("decided_on"),
        "refused": None if whole else "it lacks a part a decision needs",
    }


def decision_row(asset: str, turnaround: str, decision: str, reason: str, by: str, on: date) -> Typed:
    """Return a decision on scope as a row to be entered."""
    return Typed(
        DECISION_KIND,
        {
            "asset": asset,
            "turnaround name": turnaround,
            "decision on scope": decision,
            "reason": reason,
            "decided by": by,
            "decided on": on.isoformat(),
        },
    )


_COLUMNS = ("record", "asset", "turnaround", "decision", "reason", "decided_by", "decided_on", "stands", "counts")


def decisions_frame(found: Sequence[Row]) -> pd.DataFrame:
    """Return decisions as a frame, the latest first, with `counts`: whether each stands, and if not, why."""
    told = [{**row, "counts": _counts(row)} for row in reversed(found)]
    return frame(told, _COLUMNS)


def _counts(row: Row) -> str:
    if row["refused"]:
        return f"no: {row['refused']}"
    return "yes" if row["stands"] else "no: a later one stands"


def with_decisions(assets: pd.DataFrame, decided: pd.DataFrame, turnaround: str) -> pd.DataFrame:
    """Return rows of assets with the decision that stands for a turnaround beside each, missing where there is none."""
    standing = decided[decided["stands"].astype(bool) & (decided["turnaround"] == turnaround)]
    named = standing[["asset", "decision", "reason", "decided_by", "decided_on"]]
    return assets.merge(named.rename(columns={"reason": "decision_reason"}), on="asset", how="left")
