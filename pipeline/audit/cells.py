"""Cells, looks and sheets of the audit workbook; numbers in the plant's coherent units, text that stays text."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import column_index_from_string, get_column_letter

from pipeline.errors import Problem
from pipeline.quantities import Quantity
from pipeline.units import COHERENT, DISPLAY, UNITS, in_coherent_unit

FOOTER = "For review by qualified people; the cautions stand on the sheet Read me."
ROWS_OF_A_SHEET = 1_048_576
#: Before this day spreadsheet programs disagree on the number of a date; the days between two dates must be right.
FIRST_SURE_DATE = date(1900, 3, 1)
DAY_ZERO = date(1899, 12, 30)


class Live(str):
    """A formula. Every other string in the workbook is text, whatever it begins with."""

    __slots__ = ()


class Styled(NamedTuple):
    """A value with its look and number format."""

    value: Any
    look: str = "plain"
    number_format: str = "General"


def _font(**more: Any) -> Font:
    return Font(**{"name": "Calibri", "size": 11, **more})


_TOP = Alignment(vertical="top")
_WRAPPED = Alignment(wrap_text=True, vertical="top")
_HEADING_FILL = PatternFill("solid", fgColor="DDE3E8")
_LOOKS: dict[str, dict[str, Any]] = {
    "plain": {"alignment": _TOP},
    "left": {"alignment": Alignment(horizontal="left", vertical="top")},
    "wrapped": {"alignment": _WRAPPED},
    "title": {"font": _font(bold=True, size=14)},
    "note": {"font": _font(italic=True, color="444444"), "alignment": _TOP},
    "caution": {"font": _font(bold=True), "alignment": _WRAPPED},
    "group": {"font": _font(bold=True, color="FFFFFF"), "fill": PatternFill("solid", fgColor="3B4A57")},
    "heading": {
        "font": _font(bold=True),
        "fill": _HEADING_FILL,
        "alignment": _WRAPPED,
        "border": Border(bottom=Side(style="hair", color="999999")),
    },
    "small heading": {"font": _font(size=9), "fill": _HEADING_FILL, "alignment": _WRAPPED},
    "input": {"fill": PatternFill("solid", fgColor="FFF3CC"), "alignment": _TOP},
    "unused": {"font": _font(color="777777"), "alignment": _TOP},
    "follows": {"font": _font(italic=True), "alignment": _TOP},
    "live": {"font": _font(bold=True), "alignment": _TOP},
    "live left": {"font": _font(bold=True), "alignment": Alignment(horizontal="left", vertical="top")},
    "stored": {"font": _font(color="555555"), "alignment": _TOP},
    "difference": {"font": _font(color="555555", size=9), "alignment": _TOP},
    "dash": {"font": _font(color="999999"), "alignment": Alignment(horizontal="right", vertical="top")},
    "reason": {"font": _font(italic=True, color="8A3B00"), "alignment": _TOP},
    "source": {"font": _font(size=9), "alignment": _TOP},
}
_LINE_HEIGHT = 15.0
DATE_FORMAT = "yyyy-mm-dd"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_TEXT = 32_767


class Sheet:
    """A worksheet written row by row. One cell object serves each look, since a row is written as it is appended."""

    def __init__(
        self,
        book: Workbook,
        title: str,
        widths: Sequence[float],
        footer: str,
        *,
        freeze: str | None = None,
        repeat_rows: str | None = None,
        repeat_columns: str | None = None,
        pages_wide: int = 1,
        large_paper: bool = False,
        heights: Mapping[int, float] | None = None,
        system: str = "si",
    ) -> None:
        self.sheet = book.create_sheet(title)
        self.title = title
        self.widths = widths
        self.rows = 0
        self._cells: dict[tuple[str, str, bool | None], Cell] = {}
        sheet = self.sheet
        for place, width in enumerate(widths, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = width
        for row, height in (heights or {}).items():
            sheet.row_dimensions[row].height = height
        sheet.freeze_panes = freeze
        if repeat_rows:
            sheet.print_title_rows = repeat_rows
        if repeat_columns:
            sheet.print_title_cols = repeat_columns
        sheet.page_setup.orientation = "landscape"
        # The plant's own paper: 11 x 17 in or letter where it works in inches, A3 or A4 otherwise.
        sheet.page_setup.paperSize = {"us": (1, 3), "si": (9, 8)}[system][large_paper]
        sheet.page_setup.fitToWidth = pages_wide
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.7
        sheet.oddFooter.left.text = FOOTER
        sheet.oddFooter.right.text = f"{title}, {footer}, page &P of &N"

    def append(self, row: Iterable[Any]) -> None:
        """Append one row of values: `Styled`, plain values, or None for a blank cell."""
        self.rows += 1
        if self.rows > ROWS_OF_A_SHEET:
            raise Problem(f"the sheet {self.title} needs more rows than a worksheet has; build fewer assets at a time")
        self.sheet.append(self._cell(value) for value in row)

    def append_wrapped(self, row: Sequence[Any]) -> None:
        """Append a row whose texts are wrapped, as high as the longest needs: not every program finds that itself."""
        lines = 1
        for value, width in zip(row, self.widths, strict=False):
            text = value.value if isinstance(value, Styled) and value.look in ("wrapped", "heading") else None
            if isinstance(text, str):
                lines = max(lines, sum(math.ceil(len(line) / width) or 1 for line in text.split("\n")))
        self.sheet.row_dimensions[self.rows + 1].height = _LINE_HEIGHT * min(lines, 20)
        self.append(row)

    def append_paragraph(self, text: str, look: str) -> None:
        """Append a text over the whole width of the sheet."""
        row = self.rows + 1
        self.sheet.merged_cells.add(f"A{row}:{get_column_letter(len(self.widths))}{row}")
        lines = math.ceil(len(text) / (0.85 * sum(self.widths)))
        self.sheet.row_dimensions[row].height = _LINE_HEIGHT * lines + 3
        self.append([Styled(text, look)])

    def _cell(self, value: Any) -> Cell | None:
        look, number_format = "plain", "General"
        if isinstance(value, Styled):
            value, look, number_format = value
            if value is None and look == "input":
                return self._of_look(look, number_format, None)
        if value is None:
            return None
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, Live):
            return self._of_look(look, number_format, str(value))
        if isinstance(value, date):
            whole = value if value >= FIRST_SURE_DATE else (value - DAY_ZERO).days
            return self._of_look(look, DATE_FORMAT, whole)
        if isinstance(value, str):
            return self._text(value, look)
        return self._of_look(look, number_format, value)

    def _text(self, value: str, look: str) -> Cell:
        text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)
        if len(text) > _LONGEST_TEXT:
            text = text[: _LONGEST_TEXT - 30] + f"… (cut: {len(text)} characters)"
        # The quote prefix keeps the text a text when somebody edits the cell and presses Enter.
        cell = self._of_look(look, "General", text, quoted=text.startswith(_FORMULA_STARTS))
        cell.data_type = "s"
        return cell

    def _of_look(self, look: str, number_format: str, value: Any, quoted: bool | None = None) -> Cell:
        """Return the cell of a look with a value; `quoted` is None for what is not text."""
        cell = self._cells.get((look, number_format, quoted))
        if cell is None:
            cell = WriteOnlyCell(self.sheet)
            for name, style in _LOOKS[look].items():
                setattr(cell, name, style)
            cell.number_format = number_format
            if quoted is not None and cell.alignment.horizontal is None:
                # A little room between a text and the number on its left.
                wrapped = cell.alignment.wrap_text
                cell.alignment = Alignment(horizontal="left", indent=1, vertical="top", wrap_text=wrapped)
            cell.quotePrefix = bool(quoted)
            self._cells[look, number_format, quoted] = cell
        cell.value = value
        return cell


def headings(words: Iterable[str]) -> list[Styled]:
    """Return the cells of a heading row."""
    return [Styled(word, "heading") for word in words]


def coherent(value: Any, quantity: Quantity, system: str) -> Any:
    """Return a number kept inside in the unit of the workbook; anything that is not a number as it is."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return in_coherent_unit(float(value), quantity.unit, system)[0]
    return value


def unit_of(quantity: Quantity, system: str) -> str:
    """Return the unit in which the workbook holds a quantity; an empty string for a bare ratio."""
    if quantity.kind == "angle":
        return "deg"
    name = COHERENT[system].get(quantity.unit, (quantity.unit, 1.0))[0]
    return "" if name == "-" else name


@cache
def format_of(quantity: Quantity, system: str) -> str:
    """Return a format with the decimals people see, kept where the coherent unit is a larger one (mil to in)."""
    if quantity.kind == "days" or quantity.name == "n":
        return "0"
    if quantity.kind not in DISPLAY[system]:
        return "General"
    name, decimals = DISPLAY[system][quantity.kind]
    factor = COHERENT[system].get(quantity.unit, ("", UNITS[name].factor))[1]
    decimals += max(0, round(math.log10(factor / UNITS[name].factor)))
    return f"0.{'0' * decimals}" if decimals else "0"


def next_letter(letter: str, steps: int = 1) -> str:
    """Return the column some steps to the right of a column."""
    return get_column_letter(column_index_from_string(letter) + steps)
