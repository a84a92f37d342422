"""Thickness surveys: one reading to a row (long), or one column to a date (wide), into readings.

Most rows of a long survey are plain: names, a date cell, a number. Those are read column by column; whatever is not
plain (text, blanks, faults, merged cells) goes the slow way, one cell at a time, with the same outcome.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from openpyxl.utils import get_column_letter

from pipeline.sheets.body import Body, Identity, text_or_none
from pipeline.sheets.facts import Fact, read_fact, read_quantity
from pipeline.sheets.headings import Column
from pipeline.sheets.registers import emit_fact
from pipeline.sheets.tables import Head
from pipeline.sheets.values import (
    FIRST_YEAR,
    LAST_YEAR,
    Fault,
    Number,
    ReadDate,
    Refused,
    Value,
    as_text,
    is_blank,
    number_text,
    read_date,
    read_key,
    read_number,
)
from pipeline.sheets.values import unit_of as unit_named
from pipeline.sheets.words import reason_not_measured
from pipeline.sheets.workbooks import address
from pipeline.units import Unit

_CONTEXT = ("method", "inspector", "remark")
_OF_LOCATION = ("description", "distance_to_weld", "weld_region", "head_zone")


def read_long(body: Body) -> None:
    """Read a survey with one reading to a row."""
    first = body.desk.intake.next_record(max(body.table.bottom - body.table.first, 0)) - body.table.first
    plain = _read_plain_rows(body, first)
    for row in range(body.table.first, body.table.bottom):
        if row in plain or not body.is_data(row):
            continue
        _read_long_row(body, row, first + row)
        body.read(row)


def read_wide(body: Body) -> None:
    """Read a survey with one column to a date."""
    dated = [head for head in body.table.heads if head.on is not None]
    for row in body.data_rows():
        record = body.desk.intake.next_record()
        identity = body.identity(row)
        if identity.refused is not None:
            body.refuse_row(row, identity.refused.reason, identity.refused_at, identity.spoken)
        else:
            _use_identity(body, identity)
            context = _context(body, row)
            _read_location_columns(body, row, record, identity)
            for head in dated:
                if not is_blank(body.rows[row][head.index]):
                    _read_dated_cell(body, row, record, identity, head, context)
            _compare_derived(body, row, dated)
            body.refuse_doubtful(row, identity.spoken)
        body.read(row)


def _read_dated_cell(
    body: Body, row: int, record: int, identity: Identity, head: Head, context: dict[str, str | None]
) -> None:
    if isinstance(head.on, Refused):
        reason = f"the date in the heading {address(body.table.header_row, head.index)} is not clear: {head.on.reason}"
        body.refuse(row, head.index, reason, f"thickness of {identity.spoken} is not used")
        return
    assert head.on is not None
    _read_thickness(body, row, record, identity, head, head.on, context)


# -------------------------------------------------------------------------------------------------------- one row


def _read_long_row(body: Body, row: int, record: int) -> None:
    identity = body.identity(row)
    if identity.refused is not None:
        body.refuse_row(row, identity.refused.reason, identity.refused_at, identity.spoken)
        return
    head = next(head for head in body.table.heads if head.name == "thickness")
    when, when_at = _date_of(body, row)
    if isinstance(when, Refused):
        body.refuse_row(row, when.reason, when_at, identity.spoken)
        return
    if when.on > body.as_of:
        effect = f"thickness of {identity.spoken} on {_spoken(when)} is not used"
        place = head.index if not is_blank(body.rows[row][head.index]) or when_at is None else when_at[1]
        body.later(row, place, effect)
        for other in body.table.heads:
            body.desk.marks.ignore(row, other.index, "after the as-of date")
        return
    _use_identity(body, identity)
    if when_at is not None:
        body.desk.marks.used(*when_at)
    context = _context(body, row)
    _read_location_columns(body, row, record, identity)
    if is_blank(body.rows[row][head.index]):
        _read_blank(body, row, record, identity, head, when, context)
    else:
        _read_thickness(body, row, record, identity, head, when, context)
    body.refuse_doubtful(row, identity.spoken)


def _date_of(body: Body, row: int) -> tuple[ReadDate | Refused, tuple[int, int] | None]:
    head, label = body.table.head("date"), body.table.label("date", row)
    if head is not None:
        place = body.place_of(row, head)
        value = body.rows[place[0]][place[1]]
        if is_blank(value):
            return Refused(f"the reading has no date: write it in {address(row, head.index)}"), None
        return read_date(value, body.order_of(head), body.as_of), place
    doubtful = next((head for head in body.table.heads if head.name == "date"), None)
    if doubtful is not None:
        return Refused(doubtful.problem), None
    if label is not None:
        body.use_label(label)
        when = read_date(label.value, body.stated_order, body.as_of)
        if isinstance(when, Refused):
            return Refused(
                f"the date above the table, in {address(label.row, label.column)}, is not clear: {when.reason}"
            ), None
        return when, None
    return Refused(
        "the reading has no date: add a column 'date', or write 'Date of survey: 2019-05-03' above the header"
    ), None


def _use_identity(body: Body, identity: Identity) -> None:
    for place in identity.cells:
        body.desk.marks.used(*place)


def _context(body: Body, row: int) -> dict[str, str | None]:
    """Return method, inspector and remark of a row, from its cells or from labels above the table."""
    context: dict[str, str | None] = dict.fromkeys(_CONTEXT)
    for name in _CONTEXT:
        head, label = body.table.head(name), body.table.label(name, row)
        if head is not None:
            context[name] = text_or_none(body.rows[row][head.index])
            body.desk.marks.used(row, head.index)
        elif label is not None:
            body.use_label(label)
            context[name] = text_or_none(label.value)
    unit = body.table.head("unit")
    if unit is not None:
        body.desk.marks.used(row, unit.index)
    return context


def _read_location_columns(body: Body, row: int, record: int, identity: Identity) -> None:
    """Read what a survey says about the location itself, such as its distance to the weld."""
    for head in body.table.heads:
        if head.name not in _OF_LOCATION or head.twice or head.column is None:
            continue
        value = body.rows[row][head.index]
        if is_blank(value):
            continue
        fact = Refused(head.problem) if head.problem else read_fact(head.column, value, body.setting(row, head))
        if isinstance(fact, Refused):
            body.refuse(row, head.index, fact.reason, f"{head.column.label} of {identity.spoken} is not used")
            continue
        for sentence in fact.warnings:
            body.warn(row, head.index, sentence, f"{head.column.label} of {identity.spoken} is used")
        emit_fact(body, (row, head.index), record, identity, head, fact, fact.name)
        body.desk.marks.used(row, head.index)


def _thickness_column(body: Body) -> Column:
    return body.headings.columns[("survey", "thickness")]


def _read_thickness(
    body: Body,
    row: int,
    record: int,
    identity: Identity,
    head: Head,
    when: ReadDate,
    context: dict[str, str | None],
) -> None:
    value = body.rows[row][head.index]
    effect = f"thickness of {identity.spoken} on {_spoken(when)} is not used"
    if when.on > body.as_of:
        body.later(row, head.index, effect)
        return
    if isinstance(value, str) and (word := reason_not_measured(value)) is not None:
        _emit_not_measured(body, row, record, identity, (row, head.index), when, word, context)
        return
    fact = Refused(head.problem) if head.problem else _quantity(body, row, head, value)
    if isinstance(fact, Refused):
        body.refuse(row, head.index, fact.reason, effect)
        return
    for sentence in fact.warnings:
        body.warn(row, head.index, sentence, f"thickness of {identity.spoken} on {_spoken(when)} is used")
    body.desk.marks.used(row, head.index)
    body.desk.intake.add(
        "reading",
        record=record,
        asset=identity.get("asset"),
        component=identity.get("component"),
        location=identity.get("location"),
        read_on=when.on,
        date_precision=when.precision,
        thickness_mm=fact.number,
        text=as_text(value),
        unit=fact.unit,
        unit_from=fact.unit_from,
        **context,
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
        cell=address(row, head.index),
        sheet_row=row + 1,
    )


def _quantity(body: Body, row: int, head: Head, value: Value) -> Fact | Refused:
    setting = body.setting(row, head)
    own = body.table.head("unit")
    if own is not None and not is_blank(body.rows[row][own.index]):
        stated = as_text(body.rows[row][own.index])
        unit = unit_named(stated)
        if unit is None or unit.kind != "length":
            return Refused(f"the unit '{stated}' in {address(row, own.index)} is no unit of length: write mm or in")
        if setting.unit is not None and setting.unit != unit:
            return Refused(
                f"{setting.where} says '{setting.unit.name}' and {address(row, own.index)} says '{unit.name}': "
                "correct one of them"
            )
        setting = setting.with_unit(unit, "cell")
    return read_quantity(_thickness_column(body), value, setting)


def _spoken(when: ReadDate) -> str:
    return when.on.isoformat()[: {"day": 10, "month": 7, "year": 4}[when.precision]]


def _read_blank(
    body: Body, row: int, record: int, identity: Identity, head: Head, when: ReadDate, context: dict[str, str | None]
) -> None:
    """A row without a thickness: a reason in its remark or method counts, otherwise there is no value."""
    place, word = (row, head.index), "no value"
    for name in ("remark", "method"):
        given = context[name]
        found = reason_not_measured(given) if given else None
        other = body.table.head(name)
        if found is not None and other is not None:
            place, word = (row, other.index), found
            break
    _emit_not_measured(body, row, record, identity, place, when, word, context)


def _emit_not_measured(
    body: Body,
    row: int,
    record: int,
    identity: Identity,
    place: tuple[int, int],
    when: ReadDate,
    word: str,
    context: dict[str, str | None],
) -> None:
    body.desk.marks.used(*place)
    body.desk.intake.add(
        "not_measured",
        record=record,
        asset=identity.get("asset"),
        component=identity.get("component"),
        location=identity.get("location"),
        read_on=when.on,
        date_precision=when.precision,
        reason=word,
        text=as_text(body.rows[place[0]][place[1]]),
        remark=context["remark"],
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
        cell=address(*place),
        sheet_row=row + 1,
    )


# ------------------------------------------------------------------------------------------------- derived columns


def _compare_derived(body: Body, row: int, dated: list[Head]) -> None:
    """Check a `MIN`, `AVG` or `MAX` cell against the readings of its row; it is never read as a reading."""
    derived = [head for head in body.table.heads if head.derived]
    if not derived:
        return
    numbers = []
    for head in dated:
        number = read_number(body.rows[row][head.index], body.desk.grid.decimal_comma, head.unit)
        if isinstance(number, Number) and number.value > 0.0:
            numbers.append(number.value)
    for head in derived:
        stated = read_number(body.rows[row][head.index], body.desk.grid.decimal_comma, head.unit)
        if not numbers or not isinstance(stated, Number):
            continue
        name = head.text.lower()
        if "min" in name or "lowest" in name:
            worked_out, word = min(numbers), "smallest"
        elif "max" in name or "highest" in name:
            worked_out, word = max(numbers), "largest"
        else:
            worked_out, word = sum(numbers) / len(numbers), "average"
        if abs(stated.value - worked_out) > 0.005 * abs(worked_out):
            shown = number_text(round(worked_out, 4))
            body.warn(
                row,
                head.index,
                f"'{head.text}' says {as_text(body.rows[row][head.index])}, but the {word} of this row's readings is "
                f"{shown}: check both",
                "the column is worked out from others and not read",
            )


# --------------------------------------------------------------------------------------------------- the fast way


class _Cached(dict[Any, Any]):
    """What a function makes of each different value, worked out once."""

    def __init__(self, make: Callable[[Any], Any]) -> None:
        super().__init__()
        self._make = make

    def __missing__(self, value: Any) -> Any:
        made = self[value] = self._make(value)
        return made


def _read_plain_rows(body: Body, first_record: int) -> frozenset[int] | set[int]:
    """Read the rows whose names are text or numbers, whose date is a date cell and whose thickness is a number.

    Returns the rows read; none where the table's columns need more care than that.
    """
    table = body.table
    names = ("asset", "component", "location")
    heads = {name: table.head(name) for name in (*names, "date", "thickness", *_CONTEXT)}
    thickness, dated = heads["thickness"], heads["date"]
    fixed = {name: _fixed(body, name) for name in names if heads[name] is None}
    careful = any(head.name in (*_OF_LOCATION, "unit") or head.problem or head.twice for head in table.heads)
    if thickness is None or dated is None or careful or table.sections or None in fixed.values():
        return frozenset()
    unit, unit_from = body.unit_at(table.first, thickness)
    if unit is None or unit_from == "number format":
        return frozenset()
    lines = body.rows[table.first : table.bottom]

    def cells(head: Head | None) -> list[Value] | None:
        return None if head is None else [line[head.index] for line in lines]

    who: list[list[Any]] = []
    for name in names:
        column = cells(heads[name])
        if column is None:
            who.append([fixed[name]] * len(lines))
            continue
        if bool in set(map(type, column)):
            return frozenset()
        keys = _Cached(lambda value, name=name: _plain_key(body, value, name))  # type: ignore[misc]
        who.append([keys[value] for value in column])
    days, walls = cells(dated), cells(thickness)
    assert days is not None and walls is not None
    earliest, latest = date(FIRST_YEAR, 1, 1), min(body.as_of, date(LAST_YEAR, 12, 31))
    plain = [
        place
        for place, (asset, component, location, day, wall) in enumerate(zip(*who, days, walls, strict=True))
        if type(wall) is float
        and wall > 0.0
        and type(day) is date
        and asset is not None
        and component is not None
        and location is not None
        and earliest <= day <= latest
    ]
    context: dict[str, list[str | None]] = {}
    for name in _CONTEXT:
        column, label = cells(heads[name]), table.labels.get(name)
        if column is not None:
            if bool in set(map(type, column)):
                return frozenset()
            texts = _Cached(text_or_none)
            context[name] = [texts[column[place]] for place in plain]
        elif label is not None and plain:
            body.use_label(label)
            context[name] = [text_or_none(label.value)] * len(plain)
    rows = [table.first + place for place in plain]
    if any(row in table.repeated for row in rows):
        return frozenset()
    _emit_plain(body, thickness, unit, unit_from, first_record, rows, plain, who, days, walls, context)
    for head in heads.values():
        if head is not None:
            body.desk.marks.used_all(rows, head.index)
    for name in fixed:
        if plain:
            body.use_label(table.labels[name])
    body.desk.rows_read += len(rows)
    return set(rows)


def _emit_plain(
    body: Body,
    head: Head,
    unit: Unit,
    unit_from: str | None,
    first_record: int,
    rows: list[int],
    plain: list[int],
    who: list[list[Any]],
    days: list[Value],
    walls: list[Any],
    context: dict[str, list[str | None]],
) -> None:
    letter = get_column_letter(head.index + 1)
    measured = [walls[place] for place in plain]
    body.desk.intake.extend(
        "reading",
        len(rows),
        {
            "record": [first_record + row for row in rows],
            "asset": [who[0][place] for place in plain],
            "component": [who[1][place] for place in plain],
            "location": [who[2][place] for place in plain],
            "read_on": [days[place] for place in plain],
            "thickness_mm": [unit.to_inside(value) for value in measured],
            "text": [number_text(value) for value in measured],
            "cell": [f"{letter}{row + 1}" for row in rows],
            "sheet_row": [row + 1 for row in rows],
            **context,
        },
        date_precision="day",
        unit=unit.name,
        unit_from=unit_from,
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
    )


def _fixed(body: Body, name: str) -> str | None:
    label = body.table.labels.get(name)
    return None if label is None else _plain_key(body, label.value, name)


def _plain_key(body: Body, value: Value, name: str) -> str | None:
    """Return a name that needs no care, or None: blank, a date, a fault, or a word that may begin a total or a note."""
    if isinstance(value, Fault) or is_blank(value) or not isinstance(value, (str, float, int)):
        return None
    if isinstance(value, str) and body.may_be_remark(value):
        return None
    key = read_key(value)
    if isinstance(key, Refused):
        return None
    return body.alias(key) if name == "asset" else key
