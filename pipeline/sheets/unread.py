"""Columns that are not read: whether what they hold may be readings, which may not be passed over with a note."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta

from pipeline.sheets.headings import SURVEY, Headings, date_and_unit, split_unit
from pipeline.sheets.layout import Head
from pipeline.sheets.points import read_point
from pipeline.sheets.sums import stated_only, way_of
from pipeline.sheets.values import Refused, Value, as_text, is_blank, read_number, unit_of
from pipeline.sheets.workbooks import Grid, address

_READING = re.compile(
    r"\b(?:thickness(?:es)?|thk|thick|readings?|rdgs?|walls?|measured|measurements?|ut|shots?|t\s?\d)\b|\bt\s?act", re.I
)
#: Words that make something else of it: what is required or worked out, another layer than the wall, who and with what.
_NOT_READING = re.compile(
    r"\b(?:req\w*|nominal|nom|design|retire\w*|allow\w*|alert|limits?|loss|rate|corrosion|calc\w*|life|"
    r"insulation|coating|paint|lining|cladding|scale|no|number|id|cert\w*|technician|inspector|by|gauge|gage|probe|"
    r"couplant|instrument|method|procedure|temp\w*|velocity|count|report|sheet|page|remarks?|comments?)\b",
    re.I,
)
_MONTH = r"(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*"
_DATE = re.compile(
    rf"\b(?:19|20)\d\d\b|\b\d{{1,2}}[-/.]\d{{1,2}}[-/.]\d{{2,4}}\b|\b{_MONTH}[-/.,' ]*\d{{2}}|['’]\d\d\b", re.I
)
#: Days as spreadsheets count them: 1950-01-01 to 2100-12-31.
_FIRST_SERIAL, _LAST_SERIAL = 18_264, 73_415
_SERIAL_FROM = date(1899, 12, 30)


def serial_date(heading: str) -> date | None:
    """Return the day a heading stands for if it is the number by which a spreadsheet counts one."""
    if re.fullmatch(r"\d{5}", heading.strip()) is None or not _FIRST_SERIAL <= int(heading) <= _LAST_SERIAL:
        return None
    return _SERIAL_FROM + timedelta(days=int(heading))


def looks_like_readings(heading: str, headings: Headings) -> bool:
    """Tell a heading under which readings may stand: a thickness, a reading, a point or a date."""
    if serial_date(heading) is not None:
        return True
    known = headings.read(heading)
    if known is not None:
        column = headings.column(known.spelling, SURVEY)
        return column is not None and column.name == "thickness"
    units = [unit_of(unit) for _, unit in split_unit(heading) if unit is not None]
    if _NOT_READING.search(heading) or any(unit is not None and unit.kind != "length" for unit in units):
        return False
    if _READING.search(heading) or _DATE.search(heading) or "thickness" in headings.near(heading, SURVEY):
        return True
    return any(read_point(bare) is not None and unit is not None for bare, unit in date_and_unit(heading))


def holds_number(values: Iterable[Value], decimal_comma: bool) -> bool:
    """Tell whether any of these cells states a number."""
    return any(not isinstance(read_number(value, decimal_comma), Refused) for value in values)


def only_stated(heading: str) -> str:
    """Return the sentence for a heading that is a date with a word such as `MIN`, or an empty string."""
    way = way_of(heading)
    return f"'{heading}': {stated_only(way)}" if way is not None and _DATE.search(heading) else ""


def merged_heading(grid: Grid, rows: Iterable[int], column: int, heads: Iterable[Head]) -> tuple[Head, str] | None:
    """Return the head that is merged from the left over a column without a heading of its own, with the range."""
    by_column = {head.index: head for head in heads}
    for row in rows:
        for top, left, bottom, right in grid.merged:
            if top <= row <= bottom and left < column <= right and left in by_column:
                return by_column[left], _range(top, left, bottom, right)
    return None


def _range(top: int, left: int, bottom: int, right: int) -> str:
    return f"{address(top, left)}:{address(bottom, right)}"


#: How far below a heading its numbers are looked for, blank rows and a row of units between them.
_NEAR = 12


def heading_of_readings(grid: Grid, headings: Headings) -> tuple[int, int] | None:
    """Return the first cell of a sheet without a table that looks like a heading of readings, with numbers below it."""
    seen: dict[str, bool] = {}
    for column in range(grid.width):
        cells = grid.columns[column]
        for row, value in enumerate(cells[:-1]):
            if is_blank(value):
                continue
            below = _numbers_below(cells[row + 1 : row + 1 + _NEAR], grid.decimal_comma)
            if not below:
                continue
            if isinstance(value, str) and len(value) <= 40 and len(value.split()) <= 5:
                if value not in seen:
                    seen[value] = looks_like_readings(value, headings)
                if not seen[value]:
                    continue
            elif not (
                isinstance(value, date) or (isinstance(value, float) and serial_date(as_text(value)) is not None)
            ):
                continue
            # A date may stand above anything that is counted; what is measured shows in its fractions.
            if (isinstance(value, str) and not _DATE.search(value)) or any(not number.is_integer() for number in below):
                return row, column
    return None


def _numbers_below(cells: Iterable[Value], decimal_comma: bool) -> list[float]:
    """Return the numbers in the cells below another, up to the first that holds something else but a unit."""
    numbers: list[float] = []
    for value in cells:
        if is_blank(value) or (not numbers and isinstance(value, str) and unit_of(value) is not None):
            continue
        number = read_number(value, decimal_comma)
        if isinstance(number, Refused):
            break
        numbers.append(number.value)
    return numbers
