"""What the intake hands over: facts, readings, reasons for not measuring, the ledger, and an account of every cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

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
    """Everything read from the files, column by column."""

    columns: dict[str, dict[str, list[Any]]] = field(
        default_factory=lambda: {table: {name: [] for name in schema.names} for table, schema in SCHEMAS.items()}
    )
    records: int = 0

    def tables(self) -> dict[str, pa.Table]:
        """Return the tables `field`, `reading`, `not_measured`, `ledger`, `sheet` and `source`."""
        return {name: pa.table(self.columns[name], schema=schema) for name, schema in SCHEMAS.items()}

    def add(self, table: str, **row: object) -> None:
        """Append one row; a column that is not given is null."""
        columns = self.columns[table]
        for name in row:
            if name not in columns:
                raise KeyError(name)
        for name, values in columns.items():
            values.append(row.get(name))

    def extend(self, table: str, count: int, columns: Mapping[str, Sequence[object]], **same: object) -> None:
        """Append many rows: whole columns, and values that are the same for all of them."""
        for name, values in self.columns[table].items():
            values.extend(columns[name] if name in columns else [same.get(name)] * count)

    def rows(self, table: str) -> list[dict[str, Any]]:
        """Return the rows of a table as dictionaries."""
        columns = self.columns[table]
        return [dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)]

    def next_record(self, count: int = 1) -> int:
        """Return the number of the next data row and reserve `count` of them."""
        first = self.records + 1
        self.records += count
        return first


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
)
_EMPTY, _OPEN, USED, SET_ASIDE = range(4)
_CODE = {reason: code for code, reason in enumerate(IGNORED, start=4)}


class Marks:
    """The disposition of every cell of a sheet that holds something: used, set aside, or ignored for a reason."""

    def __init__(self, grid: Grid) -> None:
        columns = zip(*grid.rows, strict=True) if grid.rows else ()
        self._columns = [bytearray(map(_is_filled, cells)) for cells in columns]

    def used(self, row: int, column: int) -> None:
        """Mark a cell as used, unless it holds nothing or is set aside."""
        if self._columns[column][row] not in (_EMPTY, SET_ASIDE):
            self._columns[column][row] = USED

    def used_all(self, rows: Sequence[int], column: int) -> None:
        """Mark the cells of a column in these rows, all known to hold something, as used."""
        cells = self._columns[column]
        if rows and len(rows) == rows[-1] - rows[0] + 1:
            cells[rows[0] : rows[-1] + 1] = cells[rows[0] : rows[-1] + 1].replace(b"\x01", b"\x02")
            return
        for row in rows:
            if cells[row] == _OPEN:
                cells[row] = USED

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


def _is_filled(value: Value) -> bool:
    return value != "" and (type(value) is not str or not value.isspace())


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
