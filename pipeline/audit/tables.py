"""A plain table on a sheet of its own: title, note, headings with units, rows with the unit system's numbers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from pipeline.audit.book import Book
from pipeline.audit.cells import Sheet, Styled, coherent, format_of, headings, letter_of, unit_of
from pipeline.audit.results import Results, Row
from pipeline.quantities import QUANTITIES

#: Characters that a page of the larger paper shows side by side in letters one can read.
_PAGE = 230


class Column(NamedTuple):
    """A column of a table: its key in the rows, heading and width, the quantity it holds, and whether it is wrapped."""

    key: str
    heading: str
    width: float
    symbol: str = ""
    wrapped: bool = False


def write_table(
    book: Book,
    results: Results,
    name: str,
    title: str,
    columns: tuple[Column, ...],
    rows: Iterable[Row],
    *,
    note: str = "",
    pinned: int = 1,
    none: str = "none on record",
) -> Sheet:
    """Write rows under their headings, a filter on them, and `pinned` columns that stay in sight.

    A value that is `Styled` or `Live` already is written as it is. No rows are said in the words of `none`.
    """
    at = 3 if note else 2
    sheet = Sheet(
        book,
        name,
        [column.width for column in columns],
        results.footer,
        freeze=f"{letter_of(pinned + 1)}{at + 1}",
        repeat_rows=f"1:{at}",
        repeat_columns=f"A:{letter_of(pinned)}",
        pages_wide=max(1, round(sum(column.width for column in columns) / _PAGE)),
        large_paper=True,
        system=results.system,
        protected=True,
    )
    sheet.append([Styled(title, "title")])
    if note:
        sheet.append([Styled(note, "note")])
    sheet.append_wrapped(headings(_heading(column, results.system) for column in columns))
    empty = True
    for row in rows:
        empty = False
        sheet.append_wrapped([_cell(column, row[column.key], results.system) for column in columns])
    if empty:
        sheet.append([Styled(none, "note")])
    else:
        sheet.filter(at)
    return sheet


def _heading(column: Column, system: str) -> str:
    unit = unit_of(QUANTITIES[column.symbol], system) if column.symbol else ""
    return f"{column.heading}, {unit}" if unit else column.heading


def _cell(column: Column, value: Any, system: str) -> Any:
    if column.symbol and isinstance(value, (int, float)):
        quantity = QUANTITIES[column.symbol]
        return Styled(coherent(value, quantity, system), "plain", format_of(quantity, system))
    if column.wrapped and isinstance(value, str):
        return Styled(value, "wrapped")
    return value
