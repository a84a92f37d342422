"""What the intake hands over: facts, readings, reasons for not measuring, the ledger, and an account of every cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from pipeline.sheets.values import Value
from pipeline.sheets.workbooks import Grid, address

_PLACE = [("file", pa.string()), ("sheet", pa.string()), ("cell", pa.string()), ("sheet_row", pa.int32())]
_WHERE = [("asset", pa.string()), ("component", pa.string()), ("location", pa.string())]
_WHEN = [("read_on", pa.date32()), ("date_precision", pa.string())]

SCHEMAS: dict[str, pa.Schema] = {
    "field": pa.schema(
        [
            ("kind", pa.string()),
            ("record", pa.int64()),
            *_PLACE,
            *_WHERE,
            ("field", pa.string()),
            ("text", pa.string()),
            ("number", pa.float64()),
            ("on_date", pa.date32()),
            ("date_precision", pa.string()),
            ("word", pa.string()),
            ("unit", pa.string()),
            ("unit_from", pa.string()),
            ("unreadable", pa.bool_()),
        ]
    ),
    "reading": pa.schema(
        [
            ("record", pa.int64()),
            *_WHERE,
            *_WHEN,
            ("thickness_mm", pa.float64()),
            ("text", pa.string()),
            ("unit", pa.string()),
            ("unit_from", pa.string()),
            ("method", pa.string()),
            ("inspector", pa.string()),
            ("remark", pa.string()),
            *_PLACE,
        ]
    ),
    "not_measured": pa.schema(
        [
            ("record", pa.int64()),
            *_WHERE,
            *_WHEN,
            ("reason", pa.string()),
            ("text", pa.string()),
            ("remark", pa.string()),
            *_PLACE,
        ]
    ),
    "ledger": pa.schema(
        [(name, pa.string()) for name in ("file", "sheet", "cell", "text", "reason", "effect", "severity")]
    ),
    "sheet": pa.schema(
        [
            ("file", pa.string()),
            ("sheet", pa.string()),
            ("table_no", pa.int32()),
            ("kind", pa.string()),
            ("header_row", pa.int32()),
            ("columns", pa.string()),
            ("cells", pa.int64()),
            ("used", pa.int64()),
            ("set_aside", pa.int64()),
            ("ignored", pa.int64()),
            ("hidden", pa.bool_()),
            ("ignored_reasons", pa.string()),
        ]
    ),
    "source": pa.schema(
        [
            ("file", pa.string()),
            ("sha256", pa.string()),
            ("size", pa.int64()),
            ("rows_read", pa.int64()),
            ("rows_used", pa.int64()),
            ("rows_set_aside", pa.int64()),
        ]
    ),
}


@dataclass
class Intake:
    """Everything read from the files: rows added one by one, and whole columns at a time, in reading order."""

    records: int = 0
    _done: dict[str, list[pa.Table]] = field(default_factory=lambda: {name: [] for name in SCHEMAS})
    _open: dict[str, dict[str, list[Any]]] = field(
        default_factory=lambda: {table: {name: [] for name in schema.names} for table, schema in SCHEMAS.items()}
    )

    def tables(self) -> dict[str, pa.Table]:
        """Return the tables `field`, `reading`, `not_measured`, `ledger`, `sheet` and `source`."""
        return {name: self._table(name) for name in SCHEMAS}

    def add(self, table: str, **row: object) -> None:
        """Append one row; a column that is not given is null."""
        columns = self._open[table]
        for name in row:
            if name not in columns:
                raise KeyError(name)
        for name, values in columns.items():
            values.append(row.get(name))

    def extend(self, table: str, count: int, columns: Mapping[str, pa.Array], **same: object) -> None:
        """Append many rows: whole columns, and values that are the same for all of them."""
        if count == 0:
            return
        self._close(table)
        schema = SCHEMAS[table]
        arrays = [
            columns[name] if name in columns else pa.repeat(pa.scalar(same.get(name), schema.field(name).type), count)
            for name in schema.names
        ]
        self._done[table].append(pa.table(arrays, schema=schema))

    def rows(self, table: str) -> list[dict[str, Any]]:
        """Return the rows of a table as dictionaries."""
        found: list[dict[str, Any]] = self._table(table).to_pylist()
        return found

    def next_record(self, count: int = 1) -> int:
        """Return the number of the next data row and reserve `count` of them."""
        first = self.records + 1
        self.records += count
        return first

    def _table(self, name: str) -> pa.Table:
        self._close(name)
        return pa.concat_tables([SCHEMAS[name].empty_table(), *self._done[name]])

    def _close(self, name: str) -> None:
        """Turn the rows added one by one so far into Arrow, so that the order of reading is kept."""
        columns, schema = self._open[name], SCHEMAS[name]
        if columns[schema.names[0]]:
            self._done[name].append(pa.table(columns, schema=schema))
            self._open[name] = {column: [] for column in schema.names}


#: Why a cell that holds something is not read, each with a code above those of the other dispositions.
IGNORED = (
    "title",
    "header",
    "repeated header",
    "unit row",
    "note",
    "total",
    "derived column",
    "unknown column",
    "not a table",
    "after the as-of date",
    "field sheet row left blank",
    "printed on the field sheet",
)
_EMPTY, _OPEN, USED, SET_ASIDE = range(4)
_CODE = {reason: code for code, reason in enumerate(IGNORED, start=4)}


class Marks:
    """The disposition of every cell of a sheet that holds something: used, set aside, or ignored for a reason."""

    def __init__(self, grid: Grid) -> None:
        self._columns = [_filled(cells, texts) for cells, texts in zip(grid.columns, grid.texts, strict=True)]

    def used(self, row: int, column: int) -> None:
        """Mark a cell as used, unless it holds nothing or is set aside."""
        if self._columns[column][row] not in (_EMPTY, SET_ASIDE):
            self._columns[column][row] = USED

    def used_all(self, rows: NDArray[np.int64], column: int) -> None:
        """Mark the cells of a column in these rows as used, as far as they have no disposition yet."""
        cells = self._view(column)
        cells[rows] = np.where(cells[rows] == _OPEN, USED, cells[rows])

    def is_empty(self, column: int, top: int, bottom: int) -> NDArray[np.bool_]:
        """Tell which cells of a column hold nothing."""
        return self._view(column)[top:bottom] == _EMPTY

    def set_aside_in(self, rows: NDArray[np.int64], left: int, right: int) -> int:
        """Return how many of these rows have a cell that is set aside."""
        aside = np.zeros(len(rows), np.bool_)
        for column in range(left, right):
            aside |= self._view(column)[rows] == SET_ASIDE
        return int(aside.sum())

    def _view(self, column: int) -> NDArray[np.uint8]:
        return np.frombuffer(self._columns[column], np.uint8)

    def set_aside(self, row: int, column: int) -> None:
        """Mark a cell as set aside, unless it holds nothing."""
        if self._columns[column][row] != _EMPTY:
            self._columns[column][row] = SET_ASIDE

    def ignore(self, row: int, column: int, reason: str) -> None:
        """Mark a cell as ignored for a reason, unless it has a disposition already."""
        if self._columns[column][row] == _OPEN:
            self._columns[column][row] = _CODE[reason]

    def is_open(self, row: int, column: int) -> bool:
        """Tell whether a cell holds something and has no disposition yet."""
        return self._columns[column][row] == _OPEN

    def is_empty_at(self, row: int, column: int) -> bool:
        """Tell whether a cell holds nothing; so does one beyond the sheet."""
        return column >= len(self._columns) or row >= len(self._columns[column]) or not self._columns[column][row]

    def is_set_aside(self, row: int, column: int) -> bool:
        """Tell whether a cell is set aside."""
        return self._columns[column][row] == SET_ASIDE

    def open_cells(self, top: int, bottom: int, left: int, right: int) -> list[tuple[int, int]]:
        """Return the cells of a region that hold something and have no disposition yet, row by row."""
        found = []
        for column in range(left, right):
            cells = self._columns[column]
            row = cells.find(_OPEN, top, bottom)
            while row >= 0:
                found.append((row, column))
                row = cells.find(_OPEN, row + 1, bottom)
        return sorted(found)

    def counts(self, top: int, bottom: int, left: int, right: int) -> tuple[int, int, int, dict[str, int]]:
        """Return how many cells of a region are filled, used and set aside, and how many are ignored by reason."""
        total: Counter[int] = Counter()
        for column in range(left, right):
            total.update(self._columns[column][top:bottom])
        ignored = {reason: total[code] for reason, code in _CODE.items() if total[code]}
        return sum(total.values()) - total[_EMPTY], total[USED], total[SET_ASIDE], ignored


def _filled(cells: Sequence[Value], texts: frozenset[str]) -> bytearray:
    blank = {text for text in texts if not text.strip()}
    if not blank:
        return bytearray([_OPEN]) * len(cells)
    return bytearray([_EMPTY if cell in blank else _OPEN for cell in cells])


@dataclass
class Desk:
    """Where one sheet is worked on: the sheet, what becomes of its cells, and the intake they go to."""

    grid: Grid
    intake: Intake
    marks: Marks
    rows_read: int = 0
    rows_set_aside: int = 0

    def ledger(
        self, row: int | None, column: int | None, text: str, reason: str, effect: str, severity: str = "set aside"
    ) -> None:
        """Write one line of the ledger about a cell, or about the sheet where no cell is given."""
        cell = "" if row is None or column is None else address(row, column)
        self.intake.add(
            "ledger",
            file=self.grid.file,
            sheet=self.grid.sheet,
            cell=cell,
            text=text,
            reason=reason,
            effect=effect,
            severity=severity,
        )
