"""The fast way through large surveys: plain rows and cells, column by column.

Most rows of a survey are plain: names, a date, numbers, nothing to explain. Whatever is not plain is left to
`surveys`, which reads one cell at a time; both give the same readings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray
from openpyxl.utils import get_column_letter

from pipeline.sheets.body import Body, Identity, text_or_none
from pipeline.sheets.facts import LEAST_OF_ANYTHING, MOST_OF_ANYTHING
from pipeline.sheets.layout import Head
from pipeline.sheets.titles import is_wordy
from pipeline.sheets.values import (
    FIRST_YEAR,
    LAST_YEAR,
    DateOrder,
    Fault,
    Number,
    ReadDate,
    Refused,
    Value,
    is_blank,
    number_text,
    read_date,
    read_key,
    read_number,
)
from pipeline.sheets.words import is_planned, reason_not_measured
from pipeline.units import Unit

#: Columns that accompany a reading, and columns of a survey that are about the location itself.
CONTEXT = ("method", "inspector", "remark")
OF_LOCATION = ("description", "distance_to_weld", "weld_region", "head_zone")
#: Columns of a field sheet: what is said there decides what a row is about, or why it has no reading.
BESIDE_FIELD_SHEET = ("return_code", "not_measured_because")

_NAMES = ("asset", "component", "location")
_NEEDS_CARE = -1
_NO_DAY = np.iinfo(np.int32).min
_EPOCH = date(1970, 1, 1)

Flags = NDArray[np.bool_]
Places = NDArray[np.int64]


class _Codes(dict[Any, int]):
    """A number for each different value of a column, worked out once; values that need care share one."""

    def __init__(self, make: Callable[[Any], str | None], null_is_careful: bool) -> None:
        super().__init__()
        self._make, self._careful = make, null_is_careful
        self.words: list[str | None] = []

    def __missing__(self, value: Any) -> int:
        word = self._make(value)
        if word is None and self._careful:
            code = _NEEDS_CARE
        else:
            code = len(self.words)
            self.words.append(word)
        self[value] = code
        return code


@dataclass(frozen=True)
class Encoded:
    """A column of text: a code for each row into its different words; -1 where a cell needs care."""

    codes: NDArray[np.int32]
    words: list[str | None]

    @staticmethod
    def of(cells: Sequence[Value], make: Callable[[Any], str | None], null_is_careful: bool = True) -> Encoded:
        """Return a column encoded by what `make` makes of each different value."""
        codes = _Codes(make, null_is_careful)
        return Encoded(np.fromiter(map(codes.__getitem__, cells), np.int32, len(cells)), codes.words)

    @staticmethod
    def same(word: str | None, count: int) -> Encoded:
        """Return a column that says the same in every row."""
        return Encoded(np.zeros(count, np.int32), [word])

    def at(self, place: int) -> str | None:
        """Return the word of one row."""
        return self.words[self.codes[place]]

    def taken(self, places: Places, ending: str = "") -> pa.Array:
        """Return the words of these rows, each with `ending` behind it."""
        words = [word if word is None else word + ending for word in self.words] if ending else self.words
        return pa.array(words, pa.string()).take(pa.array(self.codes[places]))


@dataclass(frozen=True)
class Who:
    """What the plain rows of a survey are about and what accompanies them; rows count from the table's first."""

    names: dict[str, Encoded]
    context: dict[str, Encoded]
    plain: Flags

    def identity(self, place: int) -> Identity:
        """Return what one plain row is about; its cells count as used already."""
        return Identity({name: column.at(place) or "" for name, column in self.names.items()}, ())

    def context_of(self, place: int) -> dict[str, str | None]:
        """Return method, inspector and remark of one plain row."""
        return {name: column.at(place) for name, column in self.context.items()}


def who_of(body: Body) -> Who | None:
    """Return what the rows of a survey are about, as far as nothing about them needs care; None where the whole
    table does."""
    table = body.table
    first, count = table.first, table.bottom - table.first
    heads = {name: table.head(name) for name in _NAMES}
    fixed = {name: _fixed(body, name) for name, head in heads.items() if head is None}
    beside = [head for name in CONTEXT if (head := table.head(name)) is not None]
    if any(head is not None and head.problem for head in heads.values()):
        return None
    if count <= 0 or table.sections or None in fixed.values():
        return None
    if any(bool in body.desk.grid.types[head.index] for head in (*heads.values(), *beside) if head is not None):
        return None
    names = {}
    for name, head in heads.items():
        if head is None:
            names[name] = Encoded.same(fixed[name], count)
            continue
        cells = body.filled_down(head.index)
        names[name] = Encoded.of(cells, partial(_plain_key, body, name))
    plain = np.logical_and.reduce([column.codes != _NEEDS_CARE for column in names.values()])
    plain[0] = False  # the row below the header may be one of units
    for row in (*table.repeated, *table.page_titles):
        if first <= row < table.bottom:
            plain[row - first] = False
    plain[[row - first for row in body.spans.careful_rows()]] = False
    for head in table.heads:
        in_doubt = bool(head.problem) and head.column is not None
        about_location = in_doubt or head.name in (*OF_LOCATION, "unit", *BESIDE_FIELD_SHEET)
        if about_location and head.name != "thickness" and not head.twice:
            plain &= body.desk.marks.is_empty(head.index, first, table.bottom)
    remark = table.head("remark")
    if remark is not None:
        cells = body.filled_down(remark.index)
        plain &= Encoded.of(cells, _unless_planned).codes != _NEEDS_CARE
    leftmost = min(head.index for head in heads.values() if head is not None) if len(fixed) < 3 else table.left
    for column in range(table.left, leftmost):
        cells = body.desk.grid.columns[column][first : table.bottom]
        plain &= Encoded.of(cells, lambda value: None if _may_be_remark(body, value) else "").codes != _NEEDS_CARE
    return Who(names, {name: _context(body, name) for name in CONTEXT}, plain)


def _unless_planned(remark: Value) -> str | None:
    return None if isinstance(remark, str) and is_planned(remark) else ""


def use_who(body: Body, who: Who, places: Places) -> None:
    """Mark what these plain rows are about, and what accompanies them, as used."""
    for name in (*_NAMES, *CONTEXT):
        head, label = body.table.head(name), body.table.labels.get(name)
        if head is not None:
            body.desk.marks.used_all(places + body.table.first, head.index)
            body.use_merged(head, places + body.table.first)
        elif label is not None:
            body.use_label(label)


def no_rows(body: Body) -> Flags:
    """Return that no row of a table has been read yet."""
    return np.zeros(max(body.table.bottom - body.table.first, 0), np.bool_)


def read_plain_rows(body: Body, first_record: int) -> Flags:
    """Read the rows of a long survey that name everything, have one clear day and clear numbers.

    Returns which rows were read, counted from the table's first.
    """
    table = body.table
    thickness = [head for head in table.heads if head.name == "thickness" and not head.twice]
    dated = table.head("date")
    none = no_rows(body)
    who = who_of(body) if dated is not None and not dated.problem else None
    if who is None or dated is None:
        return none
    days = _days(body.filled_down(dated.index), body.order_of(dated), body.as_of)
    plain = who.plain & (days != _NO_DAY)
    cells = {head.index: _plain_cells(body, head) for head in thickness}
    for head in thickness:
        found = cells[head.index]
        if found is None:
            return none
        blank = body.desk.marks.is_empty(head.index, table.first, table.bottom)
        plain &= (found.walls > 0.0) | (blank if len(thickness) > 1 else False)
    plain &= np.logical_or.reduce([found.walls > 0.0 for found in cells.values() if found is not None])
    places = np.flatnonzero(plain)
    if not len(places):
        return none
    for head in thickness:
        found = cells[head.index]
        assert found is not None
        filled = places[found.walls[places] > 0.0]
        read_on = pa.array(days[filled], pa.int32()).cast(pa.date32())
        _emit(body, head, found, who, filled, first_record, {"read_on": read_on}, "day")
        body.desk.marks.used_all(filled + table.first, head.index)
    use_who(body, who, places)
    body.desk.marks.used_all(places + table.first, dated.index)
    body.use_merged(dated, places + table.first)
    body.desk.rows_read += len(places)
    return plain


def read_plain_cells(body: Body, head: Head, who: Who, first_record: int) -> Flags:
    """Read the cells of one dated column of a wide survey that hold one clear number, in rows that are plain.

    Returns which rows' cells were read, counted from the table's first.
    """
    none = no_rows(body)
    if not isinstance(head.on, ReadDate) or head.on.on > body.as_of or head.problem:
        return none
    found = _plain_cells(body, head)
    if found is None:
        return none
    plain = who.plain & (found.walls > 0.0)
    places = np.flatnonzero(plain)
    _emit(body, head, found, who, places, first_record, {}, head.on.precision, head.on.on)
    body.desk.marks.used_all(places + body.table.first, head.index)
    return plain


# --------------------------------------------------------------------------------------------------- whole columns


@dataclass(frozen=True)
class _Cells:
    """The cells of a column of readings, the number each states (not a number where it needs care), and their unit."""

    typed: Sequence[Value]
    walls: NDArray[np.float64]
    unit: Unit
    unit_from: str | None


def _plain_cells(body: Body, head: Head) -> _Cells | None:
    """Return the numbers of a column of readings; None where the column needs care cell by cell."""
    grid, table = body.desk.grid, body.table
    unit, unit_from = _unit_of_all(body, head)
    if unit is None or head.problem or bool in grid.types[head.index]:
        return None
    typed = grid.columns[head.index][table.first : table.bottom]
    walls = _walls(typed, grid.types[head.index], unit, grid.decimal_comma)
    walls[[row - table.first for row in body.contradicted(head)]] = np.nan
    return _Cells(typed, walls, unit, unit_from)


def _unit_of_all(body: Body, head: Head) -> tuple[Unit | None, str | None]:
    """Return the unit that holds for every cell of a column; none where number formats state units cell by cell."""
    if head.unit is None and body.has_unit_formats(head):
        return None, None
    return body.unit_at(body.table.first, head)


def _walls(cells: Sequence[Value], types: frozenset[type], unit: Unit, decimal_comma: bool) -> NDArray[np.float64]:
    """Return the number above zero each cell states with nothing beside it, or not a number where it needs care.

    A number no wall has needs care: it is refused with the rest of the cells that cannot be used.
    """

    def plain_number(text: Value) -> float:
        number = read_number(text, decimal_comma, unit) if isinstance(text, (str, int, float)) else None
        if not isinstance(number, Number) or number.unit or number.marks or number.other is not None:
            return np.nan
        return number.value

    if types == {float}:
        walls = np.array(cells, np.float64)
    else:
        known = _Made(plain_number)
        numbers = (cell if type(cell) is float else known[cell] for cell in cells)
        walls = np.fromiter(numbers, np.float64, len(cells))
    inside = walls * unit.factor
    return np.where((inside >= LEAST_OF_ANYTHING) & (inside <= MOST_OF_ANYTHING), walls, np.nan)


class _Made(dict[Any, Any]):
    """What a function makes of each different value, worked out once."""

    def __init__(self, make: Callable[[Any], Any]) -> None:
        super().__init__()
        self._make = make

    def __missing__(self, value: Any) -> Any:
        made = self[value] = self._make(value)
        return made


def _days(cells: Sequence[Value], order: DateOrder, as_of: date) -> NDArray[np.int32]:
    """Return the day each cell states up to the as-of date, counted from 1970; no day where it needs care."""
    earliest, latest = date(FIRST_YEAR, 1, 1), min(as_of, date(LAST_YEAR, 12, 31))

    def plain_day(value: Value) -> int:
        if type(value) is date:
            return (value - _EPOCH).days if earliest <= value <= latest else _NO_DAY
        when = read_date(value, order, as_of) if isinstance(value, str) else None
        clear = isinstance(when, ReadDate) and when.precision == "day" and when.on <= latest
        return (when.on - _EPOCH).days if clear and isinstance(when, ReadDate) else _NO_DAY

    return np.fromiter(map(_Made(plain_day).__getitem__, cells), np.int32, len(cells))


def _fixed(body: Body, name: str) -> str | None:
    label = body.table.labels.get(name)
    return None if label is None or label.problem else _plain_key(body, name, label.value)


def _plain_key(body: Body, name: str, value: Value) -> str | None:
    """Return a name that needs no care, or None: blank, a date, a fault, or a word that may begin a total or a note."""
    if isinstance(value, Fault) or not isinstance(value, (str, float, int)) or is_blank(value):
        return None
    if _may_be_remark(body, value) or (isinstance(value, str) and reason_not_measured(value) == "no value"):
        return None
    key = read_key(value)
    if isinstance(key, Refused):
        return None
    return body.alias(key) if name == "asset" else key


def _may_be_remark(body: Body, value: Value) -> bool:
    return isinstance(value, str) and (body.may_be_remark(value) or is_wordy(value))


def _context(body: Body, name: str) -> Encoded:
    table = body.table
    head, label = table.head(name), table.labels.get(name)
    if head is not None:
        return Encoded.of(body.filled_down(head.index), text_or_none, null_is_careful=False)
    return Encoded.same(None if label is None else text_or_none(label.value), table.bottom - table.first)


def _emit(
    body: Body,
    head: Head,
    found: _Cells,
    who: Who,
    places: Places,
    first_record: int,
    when: dict[str, pa.Array],
    precision: str,
    read_on: date | None = None,
) -> None:
    rows = places + body.table.first
    numbers = pa.array(rows + 1, pa.int32())
    texts = _Made(lambda value: value if isinstance(value, str) else number_text(float(value)))
    typed: Iterable[Value] = found.typed
    if len(places) < len(found.typed):
        typed = (found.typed[place] for place in places.tolist())
    ending = f" {head.point}" if head.point else ""
    body.desk.intake.extend(
        "reading",
        len(rows),
        {
            "record": pa.array(rows + first_record, pa.int64()),
            "thickness_mm": pa.array(found.unit.to_inside(found.walls[places]), pa.float64()),  # type: ignore[arg-type]
            "text": pa.array(list(map(texts.__getitem__, typed)), pa.string()),
            "cell": pc.binary_join_element_wise(get_column_letter(head.index + 1), numbers.cast(pa.string()), ""),
            "sheet_row": numbers,
            **{name: column.taken(places, ending if name == "location" else "") for name, column in who.names.items()},
            **{name: column.taken(places) for name, column in who.context.items()},
            **when,
        },
        date_precision=precision,
        unit=found.unit.name,
        unit_from=found.unit_from,
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
        **({} if read_on is None else {"read_on": read_on}),
    )
