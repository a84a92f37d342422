"""Headings that are dates: alone, or with a unit, a point (`2019-05 N`) or a word such as `MIN` beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from pipeline.sheets.headings import Headings, date_and_unit, normal
from pipeline.sheets.points import read_point, split_ending
from pipeline.sheets.values import (
    DateOrder,
    ReadDate,
    Refused,
    Value,
    date_order_of,
    needs_order,
    read_date,
    settle_order,
)
from pipeline.sheets.workbooks import Grid, address
from pipeline.units import Unit


@dataclass(frozen=True)
class Reader:
    """What reading a header needs besides the sheet: the accepted headings, the order of dates, the as-of date."""

    grid: Grid
    headings: Headings
    order: DateOrder
    as_of: date


@dataclass(frozen=True)
class Dated:
    """What a heading that is a date says: the date, its unit, and the point or the sum (`MIN`) it stands for."""

    on: ReadDate | Refused
    unit: Unit | None = None
    point: str = ""
    derived: bool = False


#: Names of surveys that say no date: an outage, the first thickness. The plant states their dates in basis.toml.
_UNDATED = re.compile(
    r"(?:t/?a|turn\s?around|outage|shut\s?down|s/d|baseline|base line|original|orig\.?|as[ -]built|initial|first|"
    r"(?:previous|prev|last|current|latest|present)(?: survey| reading| inspection)?)"
    r"(?:\s*[#-]?\s*(?:\d{4}|\d{1,2}))?",
    re.I,
)


def dated_headings(reader: Reader, row: int, cells: Sequence[tuple[int, Value]]) -> tuple[dict[int, Dated], str]:
    """Return the headings of a row that are dates, and a note where the order of day and month had to be settled."""
    texts = [(column, bare) for column, value in cells if isinstance(value, str) for bare in _bare_dates(value)]
    proved, place, contradictory = date_order_of([bare for _, bare in texts])
    proof = "" if place is None else address(row, texts[place][0])
    settled, note = settle_order(proved, contradictory, reader.order, proof, "the headings of this row")
    dates: dict[int, Dated] = {}
    ambiguous = False
    for column, value in cells:
        found = _date_in(reader, value, settled)
        if found is not None:
            dates[column] = found
            ambiguous = ambiguous or any(needs_order(bare) for bare in _bare_dates(value))
    return dates, note if ambiguous else ""


def _bare_dates(value: Value) -> Iterator[str]:
    for bare, _ in date_and_unit(value) if isinstance(value, str) else ():
        yield bare
        for rest, ending in split_ending(bare):
            if read_point(ending) is not None:
                yield rest


def _date_in(reader: Reader, value: Value, order: DateOrder) -> Dated | None:
    """Return what a heading says that holds a date, alone or with a unit, a point or a word such as `MIN`."""
    if not isinstance(value, str):
        if isinstance(value, float) and not (value.is_integer() and 1900 <= value <= 2100):
            return None
        stated = read_date(value, order, reader.as_of)
        return Dated(stated) if isinstance(stated, ReadDate) else None
    undated: Dated | None = None
    for bare, unit in date_and_unit(value):
        length = unit if unit is None or unit.kind == "length" else None
        on = _date_of_text(reader, bare, order)
        if on is not None:
            if isinstance(on, ReadDate) or needs_order(bare):
                return Dated(on, length)
            undated = undated or Dated(on, length)
        for rest, ending in split_ending(bare):
            point, derived = read_point(ending), reader.headings.is_derived(ending)
            beside = _date_of_text(reader, rest, order) if point or derived else None
            if beside is not None:
                return Dated(beside, length, point or "", derived)
    return undated


def _date_of_text(reader: Reader, text: str, order: DateOrder) -> ReadDate | Refused | None:
    """Return the date of a text, by the plant's own table first; Refused where it must be a date but is not clear."""
    mapped = reader.headings.dates.get(normal(text))
    if mapped is not None:
        return mapped
    if _UNDATED.fullmatch(text.strip()):
        return Refused(
            f"'{text.strip()}' is not a date: write the date of the survey instead, or state it under [headings] in "
            f'basis.toml, such as "{text.strip()}" = "2011-04-15"'
        )
    if not any(character.isdigit() for character in text):
        return None
    on = read_date(text, order, reader.as_of)
    return on if isinstance(on, ReadDate) or needs_order(text) else None
