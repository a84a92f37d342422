"""Thickness surveys: one reading to a row (long), or one column to a date (wide), into readings.

Plain cells go the fast way in `plain`; text, blanks, faults and merged cells are read here one at a time, with the same
outcome.
"""

from __future__ import annotations

import numpy as np

from pipeline.sheets.body import Body, Identity, text_or_none
from pipeline.sheets.derived import compare_derived, settle_sums
from pipeline.sheets.facts import Fact, read_fact, read_quantity
from pipeline.sheets.headings import Column
from pipeline.sheets.layout import Head
from pipeline.sheets.merged import Span, merged_over
from pipeline.sheets.plain import CONTEXT, OF_LOCATION, no_rows, read_plain_cells, read_plain_rows, use_who, who_of
from pipeline.sheets.registers import emit_fact
from pipeline.sheets.values import (
    ReadDate,
    Refused,
    Value,
    as_text,
    is_blank,
    read_date,
)
from pipeline.sheets.values import unit_of as unit_named
from pipeline.sheets.words import PLANNED, is_planned, reason_not_measured
from pipeline.sheets.workbooks import address


def read_long(body: Body) -> None:
    """Read a survey with one date to a row."""
    table = body.table
    first = body.desk.intake.next_record(max(table.bottom - table.first, 0)) - table.first
    plain = read_plain_rows(body, first)
    for row in (np.flatnonzero(~plain) + table.first).tolist():
        if not body.is_data(row):
            continue
        if body.left_blank(row):
            body.pass_over(row)
            continue
        _read_long_row(body, row, first + row)
        body.read(row)
    compare_derived(body, (np.flatnonzero(plain) + table.first).tolist())
    settle_sums(body)


def read_wide(body: Body) -> None:
    """Read a survey with one column, or one column for each point, to a date."""
    table = body.table
    first = body.desk.intake.next_record(max(table.bottom - table.first, 0)) - table.first
    dated = [head for head in table.heads if head.on is not None]
    who = who_of(body)
    plain = no_rows(body)
    left_over: dict[int, list[Head]] = {}
    if who is not None:
        plain = who.plain
        use_who(body, who, np.flatnonzero(plain))
        for head in dated:
            read = read_plain_cells(body, head, who, first)
            care = plain & ~read & ~body.desk.marks.is_empty(head.index, table.first, table.bottom)
            for place in np.flatnonzero(care).tolist():
                left_over.setdefault(place, []).append(head)
    for place in sorted({*np.flatnonzero(~plain).tolist(), *left_over}):
        row = place + table.first
        if place not in left_over:
            if body.is_data(row):
                _read_wide_row(body, row, first + row, dated)
                body.read(row)
        elif who is not None:
            for head in left_over[place]:
                _read_dated_cell(body, row, first + row, who.identity(place), head, who.context_of(place))
    compare_derived(body, (np.flatnonzero(plain) + table.first).tolist())
    settle_sums(body)
    body.read_all(np.flatnonzero(plain) + table.first)


def _read_wide_row(body: Body, row: int, record: int, dated: list[Head]) -> None:
    identity = body.identity(row)
    if identity.refused is not None:
        body.refuse_row(row, identity.refused.reason, identity.refused_at, identity.spoken)
        return
    _use_identity(body, identity)
    _read_location_columns(body, row, record, identity)
    context = _context(body, row)
    for head in dated:
        if body.is_given(row, head):
            _read_dated_cell(body, row, record, identity, head, context)
    compare_derived(body, [row])
    body.refuse_doubtful(row, identity.spoken)


def _read_dated_cell(
    body: Body, row: int, record: int, identity: Identity, head: Head, context: dict[str, str | None]
) -> None:
    if isinstance(head.on, Refused):
        reason = f"the date in the heading {address(body.table.header_row, head.index)} is not clear: {head.on.reason}"
        body.refuse(row, head.index, reason, f"thickness of {identity.at(head.point).spoken} is not used")
        return
    assert head.on is not None
    _read_thickness(body, row, record, identity, head, head.on, context)


# -------------------------------------------------------------------------------------------------------- one row


def _read_long_row(body: Body, row: int, record: int) -> None:
    identity = body.identity(row)
    if identity.refused is not None:
        body.refuse_row(row, identity.refused.reason, identity.refused_at, identity.spoken)
        return
    heads = [head for head in body.table.heads if head.name == "thickness" and not head.twice]
    filled = [head for head in heads if body.is_given(row, head)]
    if not filled and _only_about_location(body, row):
        _use_identity(body, identity)
        _read_location_columns(body, row, record, identity)
        for head in body.table.heads:  # a date or a name beside it says when and by whom it was found
            if head.name in ("date", "method", "inspector"):
                body.desk.marks.used(row, head.index)
        return
    when, when_at = _date_of(body, row)
    if isinstance(when, Refused):
        body.refuse_row(row, when.reason, when_at, identity.spoken)
        return
    if when.on > body.as_of:
        effect = f"thickness of {identity.spoken} on {_spoken(when)} is not used"
        place = filled[0].index if filled or when_at is None else when_at[1]
        body.later(row, place, effect)
        for other in body.table.heads:
            body.desk.marks.ignore(row, other.index, "after the as-of date")
        return
    remark = body.table.head("remark")
    if remark is not None and is_planned(as_text(body.value_of(row, remark))):
        body.refuse_row(row, PLANNED, body.place_of(row, remark), identity.spoken)
        return
    _use_identity(body, identity)
    if when_at is not None:
        body.desk.marks.used(*when_at)
    context = _context(body, row)
    _read_location_columns(body, row, record, identity)
    for head in filled:
        _read_thickness(body, row, record, identity, head, when, context)
    if filled:
        _refuse_reason_beside(body, row, identity)
    if not filled:
        for head in heads:
            _read_blank(body, row, record, identity.at(head.point), head, when, context)
    compare_derived(body, [row])
    body.refuse_doubtful(row, identity.spoken)


def _only_about_location(body: Body, row: int) -> bool:
    """Tell whether a row of a field sheet gives something about the place, such as its weld distance, and no visit."""
    coded = body.table.head("return_code")
    if coded is None or is_blank(body.rows[row][coded.index]):
        return False
    given = {head.name for head in body.table.heads if head.name and body.is_given(row, head)}
    return bool(given & set(OF_LOCATION)) and not given & {"thickness", "not_measured_because", "remark"}


def _refuse_reason_beside(body: Body, row: int, identity: Identity) -> None:
    head = body.table.head("not_measured_because")
    if head is not None and not is_blank(body.value_of(row, head)):
        reason = "the row has a thickness and a reason why there is none: clear one of them"
        body.refuse(*body.place_of(row, head), reason, f"the reason at {identity.spoken} is not used, the thickness is")


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
    if label is not None and label.problem:
        return Refused(label.problem), None
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
    context: dict[str, str | None] = dict.fromkeys(CONTEXT)
    for name in CONTEXT:
        head, label = body.table.head(name), body.table.label(name, row)
        if head is not None:
            context[name] = text_or_none(body.value_of(row, head))
            body.desk.marks.used(*body.place_of(row, head))
        elif label is not None:
            body.use_label(label)
            context[name] = text_or_none(label.value)
    unit = body.table.head("unit")
    if unit is not None:
        body.desk.marks.used(*body.place_of(row, unit))
    return context


def _read_location_columns(body: Body, row: int, record: int, identity: Identity) -> None:
    """Read what a survey says about the location itself, such as its distance to the weld."""
    for head in body.table.heads:
        if head.name not in OF_LOCATION or head.twice or head.column is None:
            continue
        place = body.place_of(row, head)
        value = body.value_of(row, head)
        if is_blank(value):
            continue
        problem = body.problem_at(place[0], head)
        fact = Refused(problem) if problem else read_fact(head.column, value, body.setting(place[0], head))
        if isinstance(fact, Refused):
            body.refuse(*place, fact.reason, f"{head.column.label} of {identity.spoken} is not used")
            continue
        for sentence in fact.warnings:
            body.warn(*place, sentence, f"{head.column.label} of {identity.spoken} is used")
        emit_fact(body, place, record, identity, head, fact, fact.name)
        body.desk.marks.used(*place)


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
    identity = identity.at(head.point)
    effect = f"thickness of {identity.spoken} on {_spoken(when)} is not used"
    if when.on > body.as_of:
        body.later(row, head.index, effect)
        return
    span = body.spans.over(row, head)
    if span is not None:
        _read_merged(body, row, record, identity, head, when, context, span)
        return
    if isinstance(value, str) and (word := reason_not_measured(value)) is not None:
        _emit_not_measured(body, row, record, identity, (row, head.index), when, word, context)
        return
    _read_number(body, row, record, identity, head, when, context)


def _read_number(
    body: Body,
    row: int,
    record: int,
    identity: Identity,
    head: Head,
    when: ReadDate,
    context: dict[str, str | None],
) -> None:
    value = body.rows[row][head.index]
    problem = body.problem_at(row, head)
    fact = Refused(problem) if problem else _quantity(body, row, head, value)
    if isinstance(fact, Refused):
        effect = f"thickness of {identity.spoken} on {_spoken(when)} is not used"
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


def _read_merged(
    body: Body,
    row: int,
    record: int,
    identity: Identity,
    head: Head,
    when: ReadDate,
    context: dict[str, str | None],
    span: Span,
) -> None:
    """Read a cell merged over several rows or dates. A reason counts for each of them; a number belongs to none for
    certain, unless all of them are one place on one day."""
    value = body.rows[span.top][span.left]
    word = reason_not_measured(value) if isinstance(value, str) else None
    if word is not None:
        _emit_not_measured(body, row, record, identity, span.anchor, when, word, context)
    elif (row, head.index) == span.anchor:
        places = _places_under(body, span)
        if len({place for place, _ in places}) > 1:
            named = " and ".join(dict.fromkeys(spoken for _, spoken in places))
            body.refuse(row, head.index, merged_over(span), f"thickness of {named} on {_spoken(when)} is not used")
        else:
            _read_number(body, row, record, identity, head, when, context)


def _places_under(body: Body, span: Span) -> list[tuple[object, str]]:
    """Return each place and day a merged cell of readings covers, and the place in words."""
    found: list[tuple[object, str]] = []
    for row, head in body.spans.covered(span):
        identity = body.identity(row)
        on = _date_of(body, row)[0] if head.on is None else head.on
        point = identity.at(head.point) if identity.refused is None else identity
        found.append(((tuple(sorted(point.names.items())), on, identity.refused), point.spoken))
    return found


def _quantity(body: Body, row: int, head: Head, value: Value) -> Fact | Refused:
    setting = body.setting(row, head)
    own = body.table.head("unit")
    if own is not None and not is_blank(body.value_of(row, own)):
        stated = as_text(body.value_of(row, own))
        at = address(*body.place_of(row, own))
        unit = unit_named(stated)
        if unit is None or unit.kind != "length":
            return Refused(f"the unit '{stated}' in {at} is no unit of length: write mm or in")
        if setting.unit is not None and setting.unit != unit:
            return Refused(
                f"{setting.where} says '{setting.unit.name}' and {at} says '{unit.name}': correct one of them"
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
    own = body.table.head("not_measured_because")
    if own is not None and not is_blank(body.value_of(row, own)):
        text, at = as_text(body.value_of(row, own)), body.place_of(row, own)
        settled = reason_not_measured(text)
        if settled is None:
            reason = f"'{text}' is not one of the settled reasons: it is kept as it was written"
            body.warn(*at, reason, f"{identity.spoken} counts as not measured on {_spoken(when)}")
        _emit_not_measured(body, row, record, identity, at, when, settled or "not measured", context)
        return
    for name in ("remark", "method"):
        given = context[name]
        found = reason_not_measured(given) if given else None
        other = body.table.head(name)
        if found is not None and other is not None:
            place, word = body.place_of(row, other), found
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
