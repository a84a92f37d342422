"""Columns worked out from others (`MIN`, `AVG`, `MAX`): checked against the readings of their row, never read."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.sheets.body import Body
from pipeline.sheets.facts import Fact, read_quantity
from pipeline.sheets.layout import Head
from pipeline.sheets.values import as_text, is_blank, number_text
from pipeline.units import Unit

#: How far a stated value may lie from the one worked out, as a part of it: half a unit of a third figure.
TOLERANCE = 0.005


def compare_derived(body: Body, rows: Iterable[int]) -> None:
    """Warn where a derived column disagrees with the readings it stands for: those of its date, else of the row."""
    columns = [(head, _readings_for(body, head)) for head in body.table.heads if head.derived]
    columns = [(head, readings) for head, readings in columns if readings]
    if not columns:
        return
    for row in rows:
        for head, readings in columns:
            if not is_blank(body.rows[row][head.index]):
                _compare(body, int(row), head, readings)


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
    name = head.text.lower()
    if "min" in name or "lowest" in name:
        worked_out, word = min(numbers), "smallest"
    elif "max" in name or "highest" in name:
        worked_out, word = max(numbers), "largest"
    else:
        worked_out, word = sum(numbers) / len(numbers), "average"
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
