"""Columns and rows worked out from others (`MIN`, `AVG`, `MAX`): checked against their readings, never read.

A number that stands for readings nobody wrote down is set aside: it may be the thinnest place there is.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pyarrow.compute as pc
from numpy.typing import NDArray
from openpyxl.utils import get_column_letter

from pipeline.sheets.body import Body
from pipeline.sheets.facts import Fact, read_quantity
from pipeline.sheets.layout import Head
from pipeline.sheets.sums import TOLERANCE, WORK, is_sum, stated_only, way_of
from pipeline.sheets.values import ReadDate, Refused, as_text, is_blank, number_text, read_date, read_key, read_number
from pipeline.units import Unit

# --------------------------------------------------------------------------------------------------------- columns


def compare_derived(body: Body, rows: list[int]) -> None:
    """Warn where a derived column disagrees with the readings it stands for, those of its date, else of the row; set
    its number aside where there are none."""
    for head in body.table.heads:
        if not head.derived:
            continue
        readings = _readings_for(body, head)
        for row in _doubtful(body, rows, head, readings):
            if not is_blank(body.rows[row][head.index]):
                _compare(body, row, head, readings)


def _doubtful(body: Body, rows: list[int], head: Head, readings: list[Head]) -> list[int]:
    """Return the rows that need a closer look: all but those of plain numbers, in one unit, that agree."""
    units = {body.unit_at(body.table.first, other)[0] for other in readings}
    if not readings or len(rows) < 50 or len(units) > 1 or head.unit not in (None, *units):
        return rows
    if any(other.unit is None and body.has_unit_formats(other) for other in (head, *readings)):
        return rows
    stated, plain = _numbers(body, rows, head)
    found = [_numbers(body, rows, other) for other in readings]
    lines = np.array([numbers for numbers, _ in found])
    plain &= np.logical_and.reduce([is_plain for _, is_plain in found]) & ~np.isnan(lines).all(axis=0)
    lines[:, ~plain] = 0.0
    worked_out = WORK[_way(head)](lines)
    agree = np.abs(stated - worked_out) <= TOLERANCE * np.abs(worked_out)
    return [row for row, clear in zip(rows, (plain & agree).tolist(), strict=True) if not clear]


def _numbers(body: Body, rows: list[int], head: Head) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the numbers of a column in these rows, and which cells are plain: a number above zero, or empty."""
    cells = body.desk.grid.columns[head.index]
    numbers = np.array([cells[row] if type(cells[row]) is float else np.nan for row in rows], np.float64)
    empty = np.array([cells[row] == "" for row in rows])
    return numbers, empty | (numbers > 0.0)


def _way(head: Head) -> str:
    return way_of(head.text) or "average"


def _readings_for(body: Body, head: Head) -> list[Head]:
    return [other for other in reading_heads(body) if head.derived_on is None or other.on == head.derived_on]


def reading_heads(body: Body) -> list[Head]:
    """Return the columns of a survey that hold readings."""
    return [head for head in body.table.heads if head.on is not None or (head.name == "thickness" and not head.twice)]


def _compare(body: Body, row: int, head: Head, readings: list[Head]) -> None:
    found = [(other, _length(body, row, other, None)) for other in readings]
    numbers = [number for _, number in found if number is not None]
    if not numbers:
        # A date to come is no reading that is missing; what is no number states nothing.
        ahead = isinstance(head.derived_on, ReadDate) and head.derived_on.on > body.as_of
        if not ahead and isinstance(_length(body, row, head, head.unit or _MM), float):
            body.refuse(row, head.index, stated_only(_way(head)), f"'{head.text}' is not used")
        return
    unit = body.unit_at(row, next(other for other, number in found if number is not None))[0]
    stated = _length(body, row, head, head.unit or unit)
    if stated is None:
        return
    worked_out = float(WORK[_way(head)](np.array(numbers)))
    if abs(stated - worked_out) > TOLERANCE * abs(worked_out):
        reason = _differs(head.text, as_text(body.rows[row][head.index]), _way(head), worked_out, head.unit or unit)
        body.warn(row, head.index, reason, "the column is worked out from others and not read")


def _differs(name: str, stated: str, way: str, worked_out: float, shown: Unit | None) -> str:
    value = number_text(round(worked_out if shown is None else shown.from_inside(worked_out), 4))
    unit = "" if shown is None else f" {shown.name}"
    return f"'{name}' says {stated}, but the {way} of its readings is {value}{unit}: check both"


#: Stands for the unit of a number of which no unit is known, where it only counts that there is a number.
_MM = Unit("mm", "length", 1.0)


def _read(body: Body, row: int, head: Head, unit: Unit | None) -> Fact | Refused:
    setting = body.setting(row, head)
    if unit is not None:
        setting = setting.with_unit(unit, "header")
    return read_quantity(body.headings.columns[("survey", "thickness")], body.rows[row][head.index], setting)


def _length(body: Body, row: int, head: Head, unit: Unit | None) -> float | None:
    """Return the number of a cell in mm, or None where it states none."""
    fact = _read(body, row, head, unit)
    return fact.number if isinstance(fact, Fact) else None


# ------------------------------------------------------------------------------------------------------------ rows


def settle_sums(body: Body) -> None:
    """Say what becomes of the rows of a table that are worked out from others: a survey's are compared with the
    readings they stand for, and set aside where these say otherwise or are not there."""
    readings = _columns_of(body) if body.sums and body.table.kind.startswith("survey") else None
    for row, at in body.sums.items():
        word = as_text(body.rows[row][at]).strip()
        found = None if readings is None else _settle(body, row, word, readings)
        beside = [
            column
            for column in range(body.table.left, body.table.right)
            if column != at and body.desk.marks.is_open(row, column)
        ]
        for column in (at, *beside):
            body.desk.marks.ignore(row, column, "total")
        if found is not None and not found:
            continue
        if found:
            reason = f"'{word}' is worked out from other rows, and agrees with them"
            body.desk.ledger(row, at, word, reason, "what stands beside it is not read", "note")
        elif beside or not is_sum(word) or any(character.isdigit() for character in word):
            reason = "the row is taken for a sum of others, for it names nothing: give its tag if it is data"
            effect = f"what stands beside '{word}' is not read" if beside else f"'{word}' is not read"
            body.desk.ledger(row, at, word, reason, effect, "note")


@dataclass(frozen=True)
class _Column:
    """The readings taken from one column of a table: their rows, walls, and what they are about."""

    rows: NDArray[np.int64]
    walls: NDArray[np.float64]
    about: dict[str, tuple[dict[object, int], NDArray[np.int64]]]

    def of(self, told: dict[str, object], after: int, before: int) -> NDArray[np.float64]:
        """Return the walls of what is told, between two rows."""
        first, end = np.searchsorted(self.rows, (after, before), side="right")
        found = slice(int(first), int(end))
        wanted = np.ones(found.stop - found.start, np.bool_)
        for name, value in told.items():
            codes, coded = self.about[name]
            wanted &= coded[found] == codes.get(value, -1)
        walls: NDArray[np.float64] = self.walls[found][wanted]
        return walls


def _columns_of(body: Body) -> dict[int, _Column]:
    """Return the readings taken from this table so far, by column."""
    found = body.desk.intake.tables()["reading"]
    for column, value in (("file", body.desk.grid.file), ("sheet", body.desk.grid.sheet)):
        found = found.filter(pc.equal(found[column], value))
    rows = found["sheet_row"].to_numpy() - 1
    letters = np.array([cell.rstrip("0123456789") for cell in found["cell"].to_pylist()], object)
    walls = found["thickness_mm"].to_numpy()
    about: dict[str, tuple[dict[object, int], NDArray[np.int64]]] = {}
    for name in ("asset", "component", "location", "read_on"):
        codes: dict[object, int] = {}
        coded = [codes.setdefault(value, len(codes)) for value in found[name].to_pylist()]
        about[name] = codes, np.array(coded, np.int64)
    columns = {}
    for head in reading_heads(body):
        its = (letters == get_column_letter(head.index + 1)) & (rows >= body.table.first) & (rows < body.table.bottom)
        order = np.flatnonzero(its)[np.argsort(rows[its], kind="stable")]
        columns[head.index] = _Column(
            rows[order], walls[order], {name: (codes, of[order]) for name, (codes, of) in about.items()}
        )
    return columns


def _settle(body: Body, row: int, word: str, readings: dict[int, _Column]) -> bool | None:
    """Compare the readings a row states with those it stands for; return whether all it states was found right, or None
    where it states none."""
    way, told = way_of(word), _told(body, row)
    when = told.get("read_on")
    stated = [head for head in reading_heads(body) if not is_blank(body.rows[row][head.index])]
    if way is None or (isinstance(when, date) and when > body.as_of):
        return None
    # A sum stands for all rows it could, or for those since the sum or the label before it.
    above = [*body.sums, *(section for section, _, _ in body.table.sections)]
    last = max((other for other in above if other < row), default=body.table.header_row)
    right: list[bool] = []
    for head in stated:
        if isinstance(head.on, ReadDate) and head.on.on > body.as_of:
            continue
        fact = _read(body, row, head, None)
        name = f"thickness beside '{word}' is not used"
        if isinstance(fact, Refused):
            if not isinstance(read_number(body.rows[row][head.index], body.desk.grid.decimal_comma), Refused):
                body.refuse(row, head.index, fact.reason, name)
                right.append(False)
            continue
        column = readings[head.index]
        parts = (column.of(told, last, row), column.of(told, body.table.header_row, body.table.bottom))
        worked_out = [float(WORK[way](walls)) for walls in parts if len(walls)]
        number = fact.number or 0.0
        if not worked_out:
            body.refuse(row, head.index, stated_only(way), name)
        elif not any(abs(number - value) <= TOLERANCE * value for value in worked_out):
            text = as_text(body.rows[row][head.index])
            body.refuse(row, head.index, _differs(word, text, way, worked_out[0], body.unit_at(row, head)[0]), name)
        right.append(not body.desk.marks.is_set_aside(row, head.index))
    return all(right) if right else None


def _told(body: Body, row: int) -> dict[str, object]:
    """Return what a row worked out from others says of the readings it stands for: names, and the day."""
    told: dict[str, object] = {}
    for name in ("asset", "component", "location"):
        head = body.table.head(name)
        if head is None:
            continue
        place = body.place_of(row, head)
        value = body.rows[place[0]][place[1]]
        key = read_key(value)
        if not is_blank(value) and not is_sum(value) and not isinstance(key, Refused):
            told[name] = body.alias(key) if name == "asset" else key
    dated = body.table.head("date")
    if dated is not None:
        place = body.place_of(row, dated)
        when = read_date(body.rows[place[0]][place[1]], body.order_of(dated), body.as_of)
        if isinstance(when, ReadDate):
            told["read_on"] = when.on
    return told
