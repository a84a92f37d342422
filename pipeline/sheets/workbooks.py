"""Opening workbooks: sheets of cells with their addresses, nothing interpreted.

Values come from calamine. It shows error values and formulas without a stored result as empty cells, so the parts of
xlsx and ods files are searched for those, and they come back as `Fault` cells that cannot vanish.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from openpyxl.utils import get_column_letter
from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from pipeline.sheets import sheet_xml
from pipeline.sheets.old_format import read_old_format
from pipeline.sheets.package import DAMAGED, PASSWORD, Package, Unreadable
from pipeline.sheets.textfiles import read_text
from pipeline.sheets.values import MonthShown, Value, YearShown

__all__ = ["Grid", "Unreadable", "address", "open_file"]

#: A sheet whose XML is larger is not searched for colours and strike-through.
MOST_BYTES_FOR_STYLES = 5_000_000

TEXT_ENDINGS = (".csv", ".tsv", ".txt")


@dataclass
class Grid:
    """One sheet as rows of equal length from A1 on; an empty cell is the empty string."""

    file: str
    sheet: str
    rows: list[list[Value]]
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: bool = False
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    filled_with_colour: list[tuple[int, int]] = field(default_factory=list)
    struck_through: list[tuple[int, int]] = field(default_factory=list)
    commented: list[tuple[int, int]] = field(default_factory=list)
    decimal_comma: bool = False
    book: bytes = b""
    notes: list[str] = field(default_factory=list)

    @property
    def width(self) -> int:
        """How many columns the sheet has."""
        return len(self.rows[0]) if self.rows else 0

    @cached_property
    def columns(self) -> list[tuple[Value, ...]]:
        """The same cells column by column."""
        return list(zip(*self.rows, strict=True))

    @cached_property
    def types(self) -> list[frozenset[type]]:
        """The types of the cells of each column."""
        return [frozenset(map(type, cells)) for cells in self.columns]

    @cached_property
    def texts(self) -> list[frozenset[str]]:
        """The different texts in each column."""
        return [
            frozenset(cell for cell in cells if type(cell) is str) if str in types else frozenset()
            for cells, types in zip(self.columns, self.types, strict=True)
        ]

    def rows_with(self, column: int, text: str, top: int = 0, bottom: int | None = None) -> Iterator[int]:
        """Yield the rows in which a column holds a text."""
        cells = self.columns[column]
        end = len(cells) if bottom is None else bottom
        row = top - 1
        try:
            while True:
                row = cells.index(text, row + 1, end)
                yield row
        except ValueError:
            return

    @cached_property
    def worded_formats(self) -> dict[tuple[int, int], str]:
        """The number formats with text in them, by cell; nothing for a file without such formats."""
        if not self.book.startswith(b"PK"):
            return {}
        package = Package(self.book)
        worded = package.styles.worded
        cells = sheet_xml.cells_with_style(package.sheet(self.sheet), worded) if worded else ()
        return {place: worded[style] for place, style in cells}


def address(row: int, column: int) -> str:
    """Return the name of a cell counted from 0, such as `D7`."""
    return f"{get_column_letter(column + 1)}{row + 1}"


def open_file(name: str, content: bytes) -> list[Grid]:
    """Return the sheets of a file. Raises Unreadable with what is wrong and what to do."""
    if not content:
        raise Unreadable("the file is empty: put the data back or remove the file")
    if name.lower().endswith(TEXT_ENDINGS) and not content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        rows, decimal_comma = read_text(name, content)
        grids = [Grid(name, "", rows, decimal_comma=decimal_comma)]
    else:
        grids = _open_workbook(name, content)
    for grid in grids:
        if grid.width > sheet_xml.LAST_COLUMN:
            which = f"sheet '{grid.sheet}'" if grid.sheet else "the file"
            raise Unreadable(
                f"{which} has {grid.width} columns, more than any "
                "spreadsheet program can show: it is damaged, or its lines are not parted; fetch it again"
            )
    return grids


# ------------------------------------------------------------------------------------------------------- workbooks


def _open_workbook(name: str, content: bytes) -> list[Grid]:
    zipped = content.startswith(b"PK")
    if not zipped:
        _refuse_other_formats(content)
        return _open_old(name, content)
    try:
        package = Package(content)
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        sheets = [meta for meta in book.sheets_metadata if meta.typ == SheetTypeEnum.WorkSheet]
        grids = [_open_sheet(name, content, book, meta, package) for meta in sheets]
    except (KeyboardInterrupt, SystemExit, MemoryError, Unreadable):
        raise
    except BaseException as fault:  # calamine's own panics are not Exceptions
        raise Unreadable(PASSWORD if "password" in str(fault).lower() else DAMAGED) from fault
    if grids:
        grids[0].notes.extend(package.notes())
    return grids


def _open_old(name: str, content: bytes) -> list[Grid]:
    grids = [Grid(name, sheet, rows, merged, hidden=hidden) for sheet, hidden, rows, merged in read_old_format(content)]
    for grid in grids[:1]:
        grid.notes.append(OLD_FORMAT)
    return grids


OLD_FORMAT = (
    "in a file of the old xls format, cells with an error value cannot be told from empty cells, nor hidden rows and "
    "columns from others: save the workbook as xlsx if it has any"
)


def _refuse_other_formats(content: bytes) -> None:
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        if "EncryptedPackage".encode("utf-16-le") in content:
            raise Unreadable(PASSWORD)
        return
    start = content[:2000].lstrip().lower()
    if start.startswith((b"<html", b"<!doctype html", b"<table")):
        raise Unreadable("the file is a web page, not a workbook: open it and save it as xlsx")
    raise Unreadable("the file is not a workbook: open it in a spreadsheet program and save it as xlsx or csv")


def _open_sheet(name: str, content: bytes, book: Any, meta: Any, package: Package) -> Grid:
    grid = Grid(name, meta.name, [], hidden=meta.visible != SheetVisibleEnum.Visible, book=content)
    cells = _beside_values(grid, package)
    sheet = book.get_sheet_by_name(meta.name)
    grid.rows = sheet.to_python(skip_empty_area=False)
    try:
        grid.merged.extend((*first, *last) for first, last in sheet.merged_cell_ranges or [])
    except Exception:  # formats without merged cells in calamine
        grid.merged = list(grid.merged)
    for row, column, value in cells:
        _place(grid.rows, row, column, value)
    return grid


def _beside_values(grid: Grid, package: Package) -> list[tuple[int, int, Value]]:
    """Note what a sheet has beside its values; return the cells whose values calamine leaves out or shows in full."""
    name, ods = grid.sheet, package.content
    grid.merged = list(ods.merged.get(name, ()))
    grid.commented = [*package.commented(name), *ods.commented.get(name, ())]
    grid.hidden_rows, grid.hidden_columns = ods.hidden_rows.get(name, []), ods.hidden_columns.get(name, [])
    cells: list[tuple[int, int, Value]] = list(ods.faults.get(name, ()))
    xml = package.sheet(name)
    if not xml:
        return cells
    corner = sheet_xml.strewn_to(xml)
    if corner is not None:
        raise Unreadable(
            f"sheet '{name}' reaches to {get_column_letter(min(corner[1], 18_278))}{corner[0]}, far beyond any table: "
            "delete the stray cells, save it again"
        )
    grid.hidden_rows, grid.hidden_columns = sheet_xml.hidden_rows(xml), sheet_xml.hidden_columns(xml)
    styles = package.styles
    if len(xml) <= MOST_BYTES_FOR_STYLES:
        for place, style in sheet_xml.cells_with_style(xml, styles.fills | styles.strikes):
            if style in styles.fills:
                grid.filled_with_colour.append(place)
            if style in styles.strikes:
                grid.struck_through.append(place)
    shown = {**dict.fromkeys(styles.months, MonthShown), **dict.fromkeys(styles.years, YearShown)}
    cells += sheet_xml.faults(xml)
    cells += [(*place, shown[style](1900, 1, 1)) for place, style in sheet_xml.cells_with_style(xml, shown)]
    return cells


def _place(rows: list[list[Value]], row: int, column: int, value: Value) -> None:
    """Put a value that calamine left out at its address, growing the sheet where it lies outside. A value already
    there stays, except that a date shown without its day becomes one that is known no better."""
    if isinstance(value, (MonthShown, YearShown)):
        if row < len(rows) and column < len(rows[row]) and isinstance(there := rows[row][column], date):
            rows[row][column] = type(value)(there.year, there.month, there.day)
        return
    width = max(len(rows[0]) if rows else 0, column + 1)
    while len(rows) <= row:
        rows.append([])
    if width > len(rows[0]) or len(rows[-1]) < width:
        for line in rows:
            line.extend([""] * (width - len(line)))
    if rows[row][column] == "":
        rows[row][column] = value
