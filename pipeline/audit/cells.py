"""Cells, looks and sheets of the audit workbook; numbers in the plant's coherent units, text that stays text."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from functools import cache
from textwrap import wrap
from typing import Any, NamedTuple

from pipeline.audit.book import Book
from pipeline.quantities import Quantity
from pipeline.units import COHERENT, DISPLAY, UNITS, in_coherent_unit

FOOTER = "For review by qualified people; the cautions stand on the sheet Read me."
DAY_ZERO = date(1899, 12, 30)
#: What an input cell lets a person do; everything else on a sheet is protected, without a password.
_ALLOWED = {"format_columns": True, "format_rows": True, "sort": True, "autofilter": True}
_LONGEST_FOOTER = 255


class Live(NamedTuple):
    """A formula, and what a reader that works nothing out is to show: nothing, unless the result is known already.

    One formula of a whole column, relative to its row, is written once: `shared` is its number and, where it is
    written, the cells that may share it; the others have that number alone and no formula.
    """

    formula: str
    known: float | str | date | None = None
    shared: tuple[int, str] | None = None


class Styled(NamedTuple):
    """A value with its look and number format."""

    value: Any
    look: str = "plain"
    number_format: str = "General"


_TOP = {"valign": "top"}
_WRAPPED = {"valign": "top", "text_wrap": True}
_HEADING = {"bg_color": "#DDE3E8", **_WRAPPED}
LOOKS: dict[str, dict[str, Any]] = {
    "plain": _TOP,
    "left": {"align": "left", **_TOP},
    "wrapped": _WRAPPED,
    "title": {"bold": True, "font_size": 14},
    "note": {"italic": True, "font_color": "#444444", **_TOP},
    "caution": {"bold": True, **_WRAPPED},
    "group": {"bold": True, "font_color": "#FFFFFF", "bg_color": "#3B4A57"},
    "heading": {"bold": True, "bottom": 7, "bottom_color": "#999999", **_HEADING},
    "small heading": {"font_size": 9, **_HEADING},
    "input": {"bg_color": "#FFF3CC", "locked": False, **_TOP},
    "unused": {"font_color": "#777777", **_TOP},
    "follows": {"italic": True, **_TOP},
    "live": {"bold": True, **_TOP},
    "live left": {"bold": True, "align": "left", **_TOP},
    "live text": {"bold": True, "align": "left", "indent": 1, **_TOP},
    "stored": {"font_color": "#555555", **_TOP},
    "difference": {"font_color": "#555555", "font_size": 9, **_TOP},
    "dash": {"font_color": "#999999", "align": "right", **_TOP},
    "reason": {"italic": True, "font_color": "#8A3B00", **_TOP},
    "source": {"font_size": 9, **_TOP},
}
_LINE_HEIGHT = 15.0
DATE_FORMAT = "yyyy-mm-dd"
#: No spreadsheet program shows a day before its first one, and some show nothing but a row of signs instead.
_EARLY_FORMAT = '[<1]"before 1900";yyyy-mm-dd'
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_TEXT = 32_767
_SHORT = 24
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
#: What a reader would take for the code of one character is written with its underscore as a code of its own.
_LIKE_A_CODE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_NOT_AS_IT_IS = re.compile("[&<>\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]|_x")


class Sheet:
    """A worksheet written row by row, landscape on the plant's paper, with the build in the foot of every page."""

    def __init__(
        self,
        book: Book,
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
        protected: bool = False,
    ) -> None:
        self.book = book
        self.title = title
        self.widths = widths
        self.rows = 0
        self._heights = dict(heights or {})
        self._styles: dict[tuple[str, str, bool | None], str] = {}
        self._texts: dict[tuple[str, str], str] = {}
        self._letters = [letter_of(place) for place in range(1, len(widths) + 1)]
        self.sheet = sheet = book.sheet(title)
        for place, width in enumerate(widths):
            sheet.set_column(place, place, width)
        if freeze:
            sheet.freeze_panes(freeze)
        if repeat_rows:
            first, last = repeat_rows.split(":")
            sheet.repeat_rows(int(first) - 1, int(last) - 1)
        if repeat_columns:
            sheet.repeat_columns(repeat_columns)
        sheet.set_landscape()
        # The plant's own paper: 11 x 17 in or letter where it works in inches, A3 or A4 otherwise.
        sheet.set_paper({"us": (1, 3), "si": (9, 8)}[system][large_paper])
        sheet.fit_to_pages(pages_wide, 0)
        sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.7)
        foot = f"{title}, {footer}".replace("&", "&&")
        room = _LONGEST_FOOTER - len(f"&L{FOOTER}&R, page &P of &N")
        sheet.set_footer(f"&L{FOOTER}&R{foot[:room]}, page &P of &N")
        if protected:
            sheet.protect("", _ALLOWED)

    def append(self, row: Iterable[Any]) -> None:
        """Append one row of values: `Styled`, `Live`, plain values, or None for a blank cell."""
        self.rows = at = self.rows + 1
        letters, cell = self._letters, self._cell
        text = [cell(f"{letters[place]}{at}", value) for place, value in enumerate(row) if value is not None]
        height = self._heights.pop(at, None)
        more = "" if height is None else f' ht="{height:g}" customHeight="1"'
        self.sheet.append_text(at, len(letters), f'<row r="{at}"{more}>{"".join(text)}</row>')

    def append_wrapped(self, row: Sequence[Any]) -> None:
        """Append a row whose texts are wrapped, as high as the longest needs: not every program finds that itself."""
        lines = 1
        for value, width in zip(row, self.widths, strict=False):
            text = value.value if isinstance(value, Styled) and value.look in ("wrapped", "heading") else None
            if isinstance(text, str):
                lines = max(lines, sum(_lines(line, width) for line in text.split("\n")))
        self._heights.setdefault(self.rows + 1, _LINE_HEIGHT * min(lines, 20))
        self.append(row)

    def append_paragraph(self, text: str, look: str) -> None:
        """Append a text over the whole width of the sheet."""
        row = self.rows
        if len(self.widths) > 1:
            self.sheet.merge.append([row, 0, row, len(self.widths) - 1])
        lines = math.ceil(len(text) / (0.85 * sum(self.widths)))
        self._heights[row + 1] = _LINE_HEIGHT * lines + 3
        self.append([Styled(text, look)])

    def filter(self, heading_row: int) -> None:
        """Put a filter on the columns under a heading row, down to the last row written."""
        self.sheet.autofilter(heading_row - 1, 0, max(self.rows, heading_row) - 1, len(self.widths) - 1)

    # ---- one cell ---------------------------------------------------------------------------------------------------

    def _cell(self, where: str, value: Any) -> str:
        look, number_format = "plain", "General"
        if type(value) is Styled:
            value, look, number_format = value
        kind = type(value)
        if kind is float or kind is int:
            if value - value == 0:
                return f'<c r="{where}"{self._style(look, number_format, None)}><v>{value!r}</v></c>'
            return self._text(where, "no finite number", look)
        if kind is str:
            return self._text(where, value, look)
        if kind is Live:
            return self._formula(where, value, self._style(look, number_format, None))
        if value is None:
            return f'<c r="{where}"{self._style(look, number_format, None)}/>' if look == "input" else ""
        if isinstance(value, bool):
            return self._text(where, "yes" if value else "no", look)
        if isinstance(value, date):
            return f'<c r="{where}"{self._style(look, date_format(value), None)}><v>{day_number(value)}</v></c>'
        if isinstance(value, str):
            return self._text(where, str(value), look)
        # Numbers of another library: whole ones stay whole.
        number = int(value) if float(value).is_integer() else float(value)
        return self._cell(where, Styled(number, look, number_format))

    @staticmethod
    def _formula(where: str, live: Live, style: str) -> str:
        formula, known, shared = live
        if shared is None:
            body = f"<f>{_escaped(formula[1:])}</f>"
        elif formula:
            body = f'<f t="shared" ref="{shared[1]}" si="{shared[0]}">{_escaped(formula[1:])}</f>'
        else:
            body = f'<f t="shared" si="{shared[0]}"/>'
        if known is None:
            return f'<c r="{where}"{style}>{body}</c>'
        if isinstance(known, str):
            return f'<c r="{where}"{style} t="str">{body}<v>{_escaped(known)}</v></c>'
        number = day_number(known) if isinstance(known, date) else known
        return f'<c r="{where}"{style}>{body}<v>{number!r}</v></c>'

    def _text(self, where: str, text: str, look: str) -> str:
        # The same few words stand in most cells of a fleet's workbook.
        behind = self._texts.get((text, look))
        if behind is None:
            behind = self._behind(text, look)
            if len(text) < _SHORT:
                self._texts[text, look] = behind
        return f'<c r="{where}"{behind}'

    def _behind(self, text: str, look: str) -> str:
        """Return what stands in the file behind the place of a text's cell; of no text only the look."""
        if not text:
            return f"{self._style(look, 'General', False)}/>"
        if len(text) > _LONGEST_TEXT:
            text = text[: _LONGEST_TEXT - 30] + f"… (cut: {len(text)} characters)"
        # The quote prefix keeps the text a text when somebody edits the cell and presses Enter.
        style = self._style(look, "General", text.startswith(_FORMULA_STARTS))
        space = ' xml:space="preserve"' if text != text.strip() or "\n" in text else ""
        return f'{style} t="inlineStr"><is><t{space}>{_readable(text)}</t></is></c>'

    def _style(self, look: str, number_format: str, quoted: bool | None) -> str:
        """Return the attribute of a look; `quoted` is None for what is not text."""
        made = self._styles.get((look, number_format, quoted))
        if made is None:
            properties = dict(LOOKS[look])
            if number_format != "General":
                properties["num_format"] = number_format
            if quoted is not None and "align" not in properties:
                properties |= {"align": "left", "indent": 1}  # room between a text and the number on its left
            if quoted:
                properties["quote_prefix"] = True
            made = self._styles[look, number_format, quoted] = f' s="{self.book.style(properties)}"'
        return made


def _lines(text: str, width: float) -> int:
    """Return how many lines a text takes in a column: words stay whole, bold letters are wider."""
    return 1 if len(text) < 0.8 * width else max(len(wrap(text, max(int(0.9 * width), 4))), 1)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _readable(text: str) -> str:
    """Return a text as it stands in the file: what the format cannot hold becomes a mark that says so."""
    if not _NOT_AS_IT_IS.search(text):
        return text
    text = _LIKE_A_CODE.sub("_x005F_", _NOT_IN_XML.sub("\ufffd", text))
    return _escaped(text).replace("\r", "&#13;")


def date_format(day: Any) -> str:
    """Return the format in which a day is shown."""
    return _EARLY_FORMAT if isinstance(day, date) and day.year < 1900 else DATE_FORMAT


def day_number(day: date) -> int:
    """Return the number by which a spreadsheet knows a day."""
    return ((day.date() if isinstance(day, datetime) else day) - DAY_ZERO).days


@cache
def letter_of(place: int) -> str:
    """Return the letters of a column, counted from 1."""
    before, letter = divmod(place - 1, 26)
    return (letter_of(before) if before else "") + chr(ord("A") + letter)


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


@cache
def next_letter(letter: str, steps: int = 1) -> str:
    """Return the column some steps to the right of a column."""
    place = 0
    for each in letter:
        place = place * 26 + ord(each) - ord("A") + 1
    return letter_of(place + steps)
