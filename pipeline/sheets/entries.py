"""What people enter in the app, read as rows of spreadsheets: one definition of what a cell means, wherever it stands.

An entry is a heading and a cell for each of its columns, as typed. It is read as a sheet of two rows; its facts then
name the entry where those of a file name their cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from pipeline.basis import Basis
from pipeline.errors import Problem
from pipeline.sheets.files import read_grid
from pipeline.sheets.headings import headings_with
from pipeline.sheets.intake import SCHEMAS, Intake
from pipeline.sheets.workbooks import Grid

#: Stands in the place of a file's name; files have an ending, so none can be called so.
ENTRIES = "entries"
#: The row numbers of entries lie above those of every file: what a person entered comes after what the sheets say.
FIRST_RECORD = 10**15

_FACTS = ("field", "reading", "not_measured")


class Entered(Protocol):
    """What is needed of an entry: its number, its kind of row, and its cells by heading."""

    @property
    def seq(self) -> int: ...
    @property
    def kind(self) -> str: ...
    @property
    def cells(self) -> Mapping[str, str]: ...


@dataclass(frozen=True)
class Typed:
    """An entry before it is one: a kind of row and its cells by heading, as typed."""

    kind: str
    cells: Mapping[str, str]
    seq: int = 0


def read_entries(entries: Iterable[Entered], basis: Basis, as_of: date, intake: Intake) -> None:
    """Read entries into an intake that holds the files' facts already; what cannot be used goes into its ledger."""
    for entry in entries:
        own = _read(entry, basis, as_of)
        for table in _FACTS:
            for row in own.rows(table):
                place = {"file": ENTRIES, "sheet": entry.kind, "cell": f"entry {entry.seq}", "sheet_row": entry.seq}
                intake.add(table, **{**row, **place, "record": FIRST_RECORD + entry.seq})
        for row in own.rows("ledger"):
            intake.add("ledger", **{**row, "file": ENTRIES, "sheet": entry.kind, "cell": f"entry {entry.seq}"})


def check_entry(typed: Typed, basis: Basis, as_of: date) -> list[str]:
    """Return what a person should know of what they typed; raises Problem with the reason where it cannot be used."""
    own = _read(typed, basis, as_of)
    ledger = own.rows("ledger")
    refused = [row["reason"] for row in ledger if row["severity"] == "set aside"]
    if refused:
        raise Problem("; ".join(dict.fromkeys(refused)))
    if not any(own.rows(table) for table in _FACTS):
        later = [row["reason"] for row in ledger]
        raise Problem("; ".join(dict.fromkeys(later)) or f"nothing in it can be used as a row of {typed.kind}")
    kinds = {row["kind"] for row in own.rows("sheet")}
    if kinds != {typed.kind}:
        raise Problem(
            f"these cells are not a row of {typed.kind}, but of {', '.join(sorted(kinds)) or 'no sheet known'}"
        )
    return [row["reason"] for row in ledger]


def entry_facts(typed: Sequence[Typed], basis: Basis, as_of: date) -> Intake:
    """Return the facts of rows that are not on record, for a trial; numbered from 1 in their order."""
    intake = Intake()
    numbered = [Typed(row.kind, row.cells, number) for number, row in enumerate(typed, start=1)]
    read_entries(numbered, basis, as_of, intake)
    return intake


def _read(entry: Entered, basis: Basis, as_of: date) -> Intake:
    filled = {heading: text for heading, text in entry.cells.items() if text.strip()}
    own = Intake()
    if filled:
        grid = Grid(ENTRIES, entry.kind, [list(filled), list(filled.values())])
        read_grid(grid, own, headings_with(basis.headings), basis, as_of)
    return own


if not set(_FACTS) <= set(SCHEMAS):
    raise AssertionError("a table of facts is not one of the intake's")
