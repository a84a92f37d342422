"""One cell of a known column to one fact in the units kept inside, or a sentence why not."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date

from pipeline.sheets.headings import NUMERIC, Column
from pipeline.sheets.values import (
    DateOrder,
    Fault,
    Number,
    Refused,
    Value,
    as_text,
    number_text,
    read_date,
    read_key,
    read_number,
    refuse_fault,
    refuse_pressure,
    unit_of,
)
from pipeline.sheets.words import accepted, reason_not_measured, settle
from pipeline.units import Unit


@dataclass(frozen=True)
class Setting:
    """What is known around a cell: the unit of its column and where it was stated, and how dates and decimals go."""

    unit: Unit | None
    unit_from: str | None
    order: DateOrder
    as_of: date
    decimal_comma: bool
    where: str

    def with_unit(self, unit: Unit, unit_from: str) -> Setting:
        """Return the same setting with another unit."""
        return replace(self, unit=unit, unit_from=unit_from)


@dataclass
class Fact:
    """One understood cell: a number in the unit kept inside, a date, or a settled word."""

    name: str
    number: float | None = None
    on: date | None = None
    precision: str | None = None
    word: str | None = None
    unit: str | None = None
    unit_from: str | None = None
    unreadable: bool = False
    warnings: list[str] = field(default_factory=list)


def read_fact(column: Column, value: Value, setting: Setting) -> Fact | Refused:
    """Return what a cell of a column says. A dash or `N/A` is understood as no value: a fact with nothing in it."""
    if isinstance(value, Fault):
        return refuse_fault(value)
    if column.reads_as not in ("text", "key") and _is_no_value(value):
        return Fact(column.name)
    if column.reads_as == "key":
        key = read_key(value)
        return key if isinstance(key, Refused) else Fact(column.name, word=key)
    if column.reads_as == "text":
        return Fact(column.name, word=" ".join(as_text(value).replace("\u00a0", " ").split()))
    if column.reads_as == "date":
        when = read_date(value, setting.order, setting.as_of)
        return when if isinstance(when, Refused) else Fact(column.name, on=when.on, precision=when.precision)
    if column.reads_as.startswith("word "):
        return _read_word(column, value, column.reads_as.removeprefix("word "))
    if column.reads_as == "length or word weld region":
        word = settle("weld region", as_text(value))
        if word is not None:
            return Fact("weld_region", word=word)
        fact = read_quantity(column, value, setting)
        if isinstance(fact, Fact):
            fact.name = "distance_to_weld"
        return fact
    if column.reads_as == "pipe size":
        return _read_pipe_size(column, value, setting)
    return read_quantity(column, value, setting)


def _is_no_value(value: Value) -> bool:
    return isinstance(value, str) and reason_not_measured(value) == "no value"


def _read_word(column: Column, value: Value, vocabulary: str) -> Fact | Refused:
    text = as_text(value).strip()
    word = settle(vocabulary, text)
    if word is None and vocabulary == "yes or no" and text in ("1", "0"):
        word = "yes" if text == "1" else "no"
    if word is None:
        return Refused(f"'{text}' is not a known {_NAMES.get(vocabulary, column.label)}: use {_either(vocabulary)}")
    return Fact(column.name, word=word)


_NAMES = {
    "component": "kind of component",
    "inspection": "kind of inspection",
    "due date": "kind of due date",
    "yes or no": "answer",
}


def _either(vocabulary: str) -> str:
    words = accepted(vocabulary)
    return f"{', '.join(words[:-1])} or {words[-1]}"


def read_quantity(column: Column, value: Value, setting: Setting) -> Fact | Refused:
    """Return a measured quantity in the unit kept inside. Refuses what has no unit or lies outside its limits."""
    kind = column.unit_kind
    assert kind in NUMERIC
    if kind == "pressure" and isinstance(value, str):
        refused = refuse_pressure(value)
        if refused is not None:
            return refused
    number = read_number(value, setting.decimal_comma, setting.unit)
    if isinstance(number, Refused):
        return number
    unit, unit_from, warnings = setting.unit, setting.unit_from, []
    if number.unit is not None:
        own = unit_of("deg C") if kind == "temperature" and number.unit.name == "deg" else number.unit
        if own is None or own.kind != kind or (kind == "temperature" and number.unit.name == "deg"):
            return Refused(
                f"'{as_text(value).strip()}': '{number.unit.name}' is no unit of {kind}: {_unit_advice(kind)}"
            )
        if unit is not None and unit != own:
            warnings.append(
                f"the cell says '{own.name}' where {setting.where} says '{unit.name}': the cell's own unit is used"
            )
        unit, unit_from = own, "cell"
    if unit is None and kind in ("ratio", "angle"):
        unit, unit_from = unit_of("-" if kind == "ratio" else "deg"), None
    if unit is None:
        return Refused(
            f"unit not stated: write it in the header, such as '{column.label} ({_EXAMPLE[kind]})', or in the cell"
        )
    shown = as_text(value).strip()
    inside = unit.to_inside(number.value)
    outside = _outside(column, inside, shown)
    if outside is not None:
        return outside
    warnings.extend(_doubts(number, shown))
    return Fact(
        column.name,
        number=inside,
        unit=None if unit.name == "-" else unit.name,
        unit_from=unit_from,
        warnings=warnings,
    )


_EXAMPLE = {
    "length": "in",
    "pressure": "psi",
    "rate": "mm/year",
    "duration": "years",
    "temperature": "deg C",
}
_ADVICE = {
    "length": "write a length in mm, in, m or ft",
    "pressure": "write a pressure in psi, bar, kPa or MPa",
    "rate": "write a rate in mm/year, in/year or mil/year",
    "duration": "write a time in years or months",
    "temperature": "write a temperature in deg C or deg F",
    "ratio": "write a plain number or a percentage",
    "angle": "write an angle in degrees",
}


def _unit_advice(kind: str) -> str:
    return _ADVICE[kind]


def _doubts(number: Number, shown: str) -> list[str]:
    doubts = []
    if number.other is not None:
        doubts.append(
            f"'{shown}' holds two values: the smaller, {number_text(number.value)}, is used; "
            "write one value in one cell"
        )
    if number.marks:
        doubts.append(f"the mark '{number.marks}' behind '{shown}' is not interpreted: say in words what it means")
    return doubts


#: Beyond these a number is a slip of the keyboard, whatever it counts: ten kilometres, ten million MPa or years, and a
#: millionth of a micrometre. What is worked from numbers between them stays far from where arithmetic ends.
MOST_OF_ANYTHING, LEAST_OF_ANYTHING = 1e7, 1e-9


def _outside(column: Column, inside: float, shown: str) -> Refused | None:
    """Return the sentence for a number outside the limits of its column, or beyond anything a plant measures."""
    limits, label = column.limits, column.label
    if abs(inside) > MOST_OF_ANYTHING:
        return Refused(f"{label} {shown} is beyond anything that is measured: correct it")
    if 0.0 < abs(inside) < LEAST_OF_ANYTHING:
        return Refused(f"{label} {shown} is next to nothing: correct it, or write 0 if none is meant")
    if limits == "above zero to one" and inside > 1.0:
        share = inside / 100.0
        proposal = (
            f"write {number_text(round(share, 6))} if {shown} is a percentage" if 0.0 < share <= 1.0 else "correct it"
        )
        return Refused(f"{label} {shown} is above 1: {proposal}")
    if limits == "zero or more":
        return Refused(f"{label} {shown} is below zero: correct it") if inside < 0.0 else None
    if limits.startswith("above zero") and inside == 0.0:
        if column.name == "thickness":
            return Refused(
                "0 is never a thickness: write the reading, or the reason why there is none, such as 'no access'"
            )
        return Refused(f"{label} is zero: write the value, or leave the cell blank if it is not known")
    if limits.startswith("above zero") and inside < 0.0:
        return Refused(f"{label} {shown} is below zero: correct it")
    if limits == "above zero below ninety" and inside >= 90.0:
        return Refused(f"{label} {shown} is not below 90 degrees: correct it")
    return None


def _read_pipe_size(column: Column, value: Value, setting: Setting) -> Fact | Refused:
    """Return a nominal pipe size in inches, as it is defined."""
    text = as_text(value).strip()
    if re.match(r"dn\s*\d", text, re.I):
        return Refused(f"'{text}' is a metric pipe size: write the nominal pipe size in inches, such as 6 or 1 1/2")
    bare: Value = re.sub(r"^nps\s*", "", text, flags=re.I) if isinstance(value, str) else value
    inch = unit_of("in")
    number = read_number(bare, setting.decimal_comma, inch)
    if isinstance(number, Refused):
        return number
    if number.unit is not None and number.unit != inch:
        return Refused(f"'{text}' is not in inches: write the nominal pipe size in inches, such as 6 or 1 1/2")
    outside = _outside(column, number.value, text)
    return outside or Fact(column.name, number=number.value, unit="in", warnings=_doubts(number, text))
