"""The fast way through large surveys: plain rows and cells, column by column.

Most rows of a long survey are plain: names, a date, a number, nothing to explain. Whatever is not plain is left to
`surveys`, which reads one cell at a time; both give the same readings.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from openpyxl.utils import get_column_letter

from pipeline.sheets.body import Body, Identity, text_or_none
from pipeline.sheets.layout import Head
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
from pipeline.sheets.words import reason_not_measured
from pipeline.units import Unit

#: Columns that accompany a reading, and columns of a survey that are about the location itself.
CONTEXT = ("method", "inspector", "remark")
OF_LOCATION = ("description", "distance_to_weld", "weld_region", "head_zone")

#: A row of a wide survey: its place on the sheet, its record, what it is about, and what accompanies its readings.
WideRow = tuple[int, int, Identity, dict[str, str | None]]

_NAMES = ("asset", "component", "location")


class _Cached(dict[Any, Any]):
    """What a function makes of each different value, worked out once."""

    def __init__(self, make: Callable[[Any], Any]) -> None:
        super().__init__()
        self._make = make

    def __missing__(self, value: Any) -> Any:
        made = self[value] = self._make(value)
        return made


def read_plain_rows(body: Body, first_record: int) -> frozenset[int] | set[int]:
    """Read the rows of a long survey that name everything, have one clear day and one clear number.

    Returns the rows read; none where the table's columns need more care than that.
    """
    table = body.table
    heads = {name: table.head(name) for name in (*_NAMES, "date", "thickness", *CONTEXT)}
    thickness, dated = heads["thickness"], heads["date"]
    fixed = {name: _fixed(body, name) for name in _NAMES if heads[name] is None}
    careful = any(head.name in (*OF_LOCATION, "unit") or head.problem or head.twice for head in table.heads)
    if thickness is None or dated is None or careful or table.sections or None in fixed.values():
        return frozenset()
    unit, unit_from = _unit_of_all(body, thickness)
    columns = {
        name: [line[head.index] for line in body.rows[table.first : table.bottom]]
        for name, head in heads.items()
        if head
    }
    if unit is None or any(bool in set(map(type, columns[name])) for name in columns):
        return frozenset()
    who = [_keys(body, name, columns, fixed) for name in _NAMES]
    days = _days(columns["date"], body.order_of(dated), body.as_of)
    walls = _walls(columns["thickness"], unit, body.desk.grid.decimal_comma)
    plain = [
        place
        for place, (asset, component, location, day, wall) in enumerate(zip(*who, days, walls, strict=True))
        if wall is not None and day is not None and asset is not None and component is not None and location is not None
    ]
    rows = [table.first + place for place in plain]
    if not rows or not table.repeated.isdisjoint(rows):
        return frozenset()
    taken = {
        **{name: [values[place] for place in plain] for name, values in zip(_NAMES, who, strict=True)},
        "read_on": [days[place] for place in plain],
        **{name: _context(body, name, columns, plain) for name in CONTEXT},
    }
    typed = [columns["thickness"][place] for place in plain]
    numbers = [walls[place] for place in plain]
    _emit(body, thickness, unit, unit_from, rows, [first_record + row for row in rows], typed, numbers, taken)
    for head in heads.values():
        if head is not None:
            body.desk.marks.used_all(rows, head.index)
    for name in fixed:
        body.use_label(table.labels[name])
    body.desk.rows_read += len(rows)
    return set(rows)


def read_plain_cells(body: Body, head: Head, known: list[WideRow]) -> frozenset[int] | set[int]:
    """Read the cells of one dated column of a wide survey that hold one clear number; returns their rows."""
    if not isinstance(head.on, ReadDate) or head.on.on > body.as_of or head.problem or body.table.head("unit"):
        return frozenset()
    unit, unit_from = _unit_of_all(body, head)
    typed = [body.rows[row][head.index] for row, _, _, _ in known]
    if unit is None or bool in set(map(type, typed)):
        return frozenset()
    walls = _walls(typed, unit, body.desk.grid.decimal_comma)
    plain = [place for place, wall in enumerate(walls) if wall is not None]
    taken: dict[str, list[Any]] = {
        **{name: [known[place][2].names[name] for place in plain] for name in _NAMES},
        "read_on": [head.on.on] * len(plain),
        **{name: [known[place][3][name] for place in plain] for name in CONTEXT},
    }
    rows = [known[place][0] for place in plain]
    records = [known[place][1] for place in plain]
    numbers = [walls[place] for place in plain]
    cells = [typed[place] for place in plain]
    _emit(body, head, unit, unit_from, rows, records, cells, numbers, taken, head.on.precision)
    body.desk.marks.used_all(rows, head.index)
    return set(rows)


def _emit(
    body: Body,
    head: Head,
    unit: Unit,
    unit_from: str | None,
    rows: list[int],
    records: list[int],
    typed: list[Value],
    numbers: list[Any],
    taken: dict[str, list[Any]],
    precision: str = "day",
) -> None:
    letter = get_column_letter(head.index + 1)
    body.desk.intake.extend(
        "reading",
        len(rows),
        {
            "record": records,
            "thickness_mm": [unit.to_inside(number) for number in numbers],
            "text": [value if isinstance(value, str) else number_text(float(value)) for value in typed],  # type: ignore[arg-type]
            "cell": [f"{letter}{row + 1}" for row in rows],
            "sheet_row": [row + 1 for row in rows],
            **taken,
        },
        date_precision=precision,
        unit=unit.name,
        unit_from=unit_from,
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
    )


# --------------------------------------------------------------------------------------------------- whole columns


def _unit_of_all(body: Body, head: Head) -> tuple[Unit | None, str | None]:
    """Return the unit that holds for every cell of a column; none where number formats state units cell by cell."""
    if head.unit is None and body.has_unit_formats(head):
        return None, None
    return body.unit_at(body.table.first, head)


def _keys(body: Body, name: str, columns: dict[str, list[Value]], fixed: dict[str, str | None]) -> list[Any]:
    if name not in columns:
        return [fixed[name]] * (body.table.bottom - body.table.first)
    keys = _Cached(lambda value: _plain_key(body, value, name))
    return [keys[value] for value in columns[name]]


def _fixed(body: Body, name: str) -> str | None:
    label = body.table.labels.get(name)
    return None if label is None else _plain_key(body, label.value, name)


def _plain_key(body: Body, value: Value, name: str) -> str | None:
    """Return a name that needs no care, or None: blank, a date, a fault, or a word that may begin a total or a note."""
    if isinstance(value, Fault) or not isinstance(value, (str, float, int)) or is_blank(value):
        return None
    if isinstance(value, str) and (body.may_be_remark(value) or reason_not_measured(value) == "no value"):
        return None
    key = read_key(value)
    if isinstance(key, Refused):
        return None
    return body.alias(key) if name == "asset" else key


def _days(cells: list[Value], order: DateOrder, as_of: date) -> list[date | None]:
    """Return the day each cell states up to the as-of date, or None where it needs care."""
    earliest, latest = date(FIRST_YEAR, 1, 1), min(as_of, date(LAST_YEAR, 12, 31))

    def plain_day(text: Value) -> date | None:
        when = read_date(text, order, as_of) if isinstance(text, str) else None
        clear = isinstance(when, ReadDate) and when.precision == "day" and when.on <= latest
        return when.on if clear and isinstance(when, ReadDate) else None

    days = _Cached(plain_day)
    return [(day if earliest <= day <= latest else None) if type(day) is date else days[day] for day in cells]


def _walls(cells: list[Value], unit: Unit, decimal_comma: bool) -> list[float | None]:
    """Return the number above zero each cell states with nothing beside it, or None where it needs care."""

    def plain_number(text: Value) -> float | None:
        number = read_number(text, decimal_comma, unit) if isinstance(text, str) else None
        if not isinstance(number, Number) or number.unit or number.marks or number.other is not None:
            return None
        return number.value if number.value > 0.0 else None

    walls = _Cached(plain_number)
    return [(wall if wall > 0.0 else None) if type(wall) is float else walls[wall] for wall in cells]


def _context(body: Body, name: str, columns: dict[str, list[Value]], plain: list[int]) -> list[str | None]:
    if name in columns:
        texts = _Cached(text_or_none)
        column = columns[name]
        return [texts[column[place]] for place in plain]
    label = body.table.labels.get(name)
    if label is None:
        return [None] * len(plain)
    body.use_label(label)
    return [text_or_none(label.value)] * len(plain)
