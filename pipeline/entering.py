"""Entering: one row typed in the app, checked as a spreadsheet's row would be, and appended to the record.

Nothing typed is ever changed afterwards; a later entry about the same thing stands in place of an earlier one.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pipeline.basis import read_basis
from pipeline.people import Identity
from pipeline.record import RECORD_NAME, Record
from pipeline.sheets.entries import Typed, check_entry


def look_over(folder: Path, typed: Typed, today: date | None = None) -> list[str]:
    """Return what a person should know of a row before it is entered, such as a doubtful unit; writes nothing.

    Raises Problem with the reason where the row cannot be used. `today` is the last day a date in it may have.
    """
    return check_entry(typed, read_basis(folder), today or date.today())


def enter(folder: Path, typed: Typed, by: Identity, reason: str, today: date | None = None) -> int:
    """Check a row and append it to the record under a person's name; return the entry's number.

    Raises Problem where the row cannot be used, the person may not enter it, or name or reason is missing; then
    nothing is written.
    """
    look_over(folder, typed, today)
    return Record(folder / RECORD_NAME).append(by, typed.kind, typed.cells, reason)
