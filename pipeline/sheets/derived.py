"""Columns worked out from others (`MIN`, `AVG`, `MAX`): checked against the readings of their row, never read."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pipeline.sheets.body import Body
from pipeline.sheets.facts import Fact, read_quantity
from pipeline.sheets.layout import Head
from pipeline.sheets.values import as_text, is_blank, number_text
from pipeline.units import Unit

#: How far a stated value may lie from the one worked out, as a part of it: half a unit of a third figure.
TOLERANCE = 0.005


def compare_derived(body: Body, rows: list[int]) -> None:
    """Warn where a derived column disagrees with the readings it stands for: those of its date, else of the row."""
    columns = [(head, _readings_for(body, head)) for head in body.table.heads if head.derived]
    columns = [(head, readings) for head, readings in columns if readings]
    if not columns:
        return
    for head, readings in columns:
        for row in _doubtful(body, rows, head, readings):
            if not is_blank(body.rows[row][head.index]):
                _compare(body, row, head, readings)


def _doubtful(body: Body, rows: list[int], head: Head, readings: list[Head]) -> list[int]:
    """Return the rows that need a closer look: all but those of plain numbers, in one unit, that agree."""
    units = {body.unit_at(body.table.first, other)[0] for other in readings}
    if len(rows) < 50 or len(units) > 1 or head.unit not in (None, *units):
        return rows
    if any(other.unit is None and body.has_unit_formats(other) for other in (head, *readings)):
        return rows
    stated, plain = _numbers(body, rows, head)
    found = [_numbers(body, rows, other) for other in readings]
    lines = np.array([numbers for numbers, _ in found])
    plain &= np.logical_and.reduce([is_plain for _, is_plain in found]) & ~np.isnan(lines).all(axis=0)
    lines[:, ~plain] = 0.0
    worked_out = _WORK[_way(head)](lines)
    agree = np.abs(stated - worked_out) <= TOLERANCE * np.abs(worked_out)
    return [row for row, clear in zip(rows, (plain & agree).tolist(), strict=True) if not clear]


def _numbers(body: Body, rows: list[int], head: Head) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the numbers of a column in these rows, and which cells are plain: a number above zero, or empty."""
    cells = body.desk.grid.columns[head.index]
    numbers = np.array([cells[row] if type(cells[row]) is float else np.nan for row in rows], np.float64)
    empty = np.array([cells[row] == "" for row in rows])
    return numbers, empty | (numbers > 0.0)


def _way(head: Head) -> str:
    name = head.text.lower()
    if "min" in name or "lowest" in name:
        return "smallest"
    return "largest" if "max" in name or "highest" in name else "average"


_WORK: dict[str, Callable[[NDArray[np.float64]], NDArray[np.float64]]] = {
    "smallest": lambda lines: np.nanmin(lines, axis=0),
    "largest": lambda lines: np.nanmax(lines, axis=0),
    "average": lambda lines: np.nanmean(lines, axis=0),
}


def _readings_for(body: Body, head: Head) -> list[Head]:
    readings = [other for other in body.table.heads if (other.on is not None or other.name == "thickness")]
    return [other for other in readings if head.derived_on is None or other.on == head.derived_on]


def _compare(body: Body, row: int, head: Head, readings: list[Head]) -> None:
    found = [(other, _length(body, row, other, None)) for other in readings]
    numbers = [number for _, number in found if number is not None]
    if not numbers:
        return
    unit = body.unit_at(row, next(other for other, number in found if number is not None))[0]
    stated = _length(body, row, head, head.unit or unit)
    if stated is None:
        return
    word = _way(head)
    worked_out = float(_WORK[word](np.array(numbers)))
    if abs(stated - worked_out) > TOLERANCE * abs(worked_out):
        shown = head.unit or unit
        value = number_text(round(worked_out if shown is None else shown.from_inside(worked_out), 4))
        body.warn(
            row,
            head.index,
            f"'{head.text}' says {as_text(body.rows[row][head.index])}, but the {word} of its readings is "
            f"{value}{'' if shown is None else ' ' + shown.name}: check both",
            "the column is worked out from others and not read",
        )


def _length(body: Body, row: int, head: Head, unit: Unit | None) -> float | None:
    """Return the number of a cell in mm, or None where it states none."""
    setting = body.setting(row, head)
    if unit is not None:
        setting = setting.with_unit(unit, "header")
    fact = read_quantity(body.headings.columns[("survey", "thickness")], body.rows[row][head.index], setting)
    return fact.number if isinstance(fact, Fact) else None
