"""What a cell says: numbers, fractions, dates and units, or a sentence why it cannot be used.

Every reader returns either the value or a `Refused` with a sentence for people: what is wrong and what to do.
Nothing is guessed: a value that can be read in two ways is refused with both ways named.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Literal

from pipeline.units import Unit, find_unit

DateOrder = Literal["", "day first", "month first"]
Precision = Literal["day", "month", "year"]


@dataclass(frozen=True)
class Fault:
    """A cell of a workbook that has no value: an error value or a formula whose result was never stored."""

    text: str
    is_error: bool


class MonthShown(date):
    """A date cell whose number format shows month and year only: its day is not known."""


class YearShown(date):
    """A date cell whose number format shows the year only."""


#: What a cell may hold as the workbook stores it; an empty cell is the empty string.
Value = str | float | int | bool | date | datetime | time | timedelta | Fault


@dataclass(frozen=True)
class Refused:
    """Why a cell cannot be used, as a sentence that says what to do."""

    reason: str


@dataclass(frozen=True)
class Number:
    """A number as typed, with the unit written beside it, footnote marks, and the other number of a pair."""

    value: float
    unit: Unit | None = None
    marks: str = ""
    other: float | None = None


@dataclass(frozen=True)
class ReadDate:
    """A date and how exactly it is known; a month stands for its first day, a year for 1 January."""

    on: date
    precision: Precision


def as_text(value: Value) -> str:
    """Return a cell as a person sees it: whole numbers without a decimal point, dates as year-month-day."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (int, float)):
        return number_text(float(value))
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, Fault):
        return value.text
    if isinstance(value, (MonthShown, YearShown)):
        return f"{value.year:04}-{value.month:02}" if isinstance(value, MonthShown) else f"{value.year:04}"
    return str(value)


def number_text(value: float) -> str:
    """Return the shortest text that reads back as the same number; 3.0 is `3`."""
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


def is_blank(value: Value) -> bool:
    """Tell whether a cell is empty or holds only blanks."""
    return isinstance(value, str) and not value.strip()


# ---------------------------------------------------------------------------------------------------- faults, keys

FORMULA_WITHOUT_RESULT = (
    "the formula {0} has no stored result: open the workbook in a spreadsheet program and save it, or type the value"
)
ERROR_VALUE = "the cell holds the error value {0}: correct the formula or type the value"


def refuse_fault(fault: Fault) -> Refused:
    """Return the sentence for an error value or a formula without a stored result."""
    return Refused((ERROR_VALUE if fault.is_error else FORMULA_WITHOUT_RESULT).format(fault.text))


def read_key(value: Value) -> str | Refused:
    """Return a tag or name with blanks trimmed and collapsed; the number 3 is the name `3`. Nothing else is changed."""
    if isinstance(value, Fault):
        return refuse_fault(value)
    if isinstance(value, (date, time, timedelta)):
        return Refused(
            f"the cell holds the date {as_text(value)} where a name belongs, probably changed by the spreadsheet: "
            "format the cell as text and type the name again"
        )
    return " ".join(as_text(value).replace("\u00a0", " ").split())


# --------------------------------------------------------------------------------------------------------- numbers

_DECIMAL = r"(?:\d[\d.,\u2009\u202f]*(?:[ \u00a0]\d{3}(?!\d))*[\d.,]*|[.,]\d+)(?:[eE][-+]?\d+)?"
_FRACTION = r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
_INCHES = rf"(?:{_FRACTION}|(?P<inches>\d+(?:\.\d+)?))"

_AS_FRACTION = re.compile(rf"(?P<sign>[-+]?)\s*{_FRACTION}(?P<rest>(?!\s*[\d./,]).*)")
_AS_DECIMAL = re.compile(rf"(?P<sign>[-+]?)\s*(?P<digits>{_DECIMAL})(?P<rest>.*)")
_AS_PAIR = re.compile(rf"(?P<one>{_DECIMAL})\s*(?:/|;|&|\band\b)\s*(?P<two>{_DECIMAL})(?P<rest>.*)")
_AS_FEET = re.compile(rf"(?P<feet>\d+(?:\.\d+)?)\s*(?:'|ft\.?|feet)\s*-?\s*(?:{_INCHES}\s*(?P<mark>\"|''|in\.?))?\s*")

_CENSORED = re.compile(
    r"^(?:[<>≤≥~≈±]|approx\w*\.?\s|ca\.?\s|about\s|circa\s|less than\s|more than\s|over\s|under\s)", re.I
)
_MARKS = re.compile(r"^[*†‡§^]+$|^\(\d{1,2}\)$|^\([a-z]\)$")
_FLANGE_CLASS = re.compile(r"^(?:\d+\s*(?:#|lbs?\.?)|(?:cl|class|ansi|asme|pn|rating)\.?\s*\d+\s*#?)$", re.I)
_VACUUM = re.compile(r"^(?:fv|f\.v\.|full vac(?:uum)?|vac(?:uum)?)\b", re.I)

#: Pressures above absolute zero; the tool works in gauge pressure and does not convert between the two.
ABSOLUTE = frozenset(["psia", "psi(a)", "bara", "bar(a)", "kpaa", "kpa(a)", "mpaa", "mpa(a)", "atma"])


def is_absolute(text: str) -> bool:
    """Tell whether a unit is one of absolute pressure."""
    return "".join(text.lower().split()) in ABSOLUTE


def unit_of(text: str) -> Unit | None:
    """Return the unit a person wrote, with or without a full stop behind it."""
    return find_unit(text) or find_unit(text.strip().rstrip("."))


def settle_decimal(digits: str, decimal_comma: bool) -> float | Refused:
    """Return the number that digits with points, commas or blanks stand for, or why they can be read two ways."""
    compact = re.sub(r"(?<=\d)[ \u00a0\u2009\u202f](?=\d{3})", "", digits)
    points, commas = compact.count("."), compact.count(",")
    if commas and points:
        decimal = max(".", ",", key=compact.rfind)
        thousands = "," if decimal == "." else "."
        head, _, tail = compact.rpartition(decimal)
        if compact.count(decimal) > 1 or not re.fullmatch(rf"\d{{1,3}}(?:\{thousands}\d{{3}})+", head):
            return Refused(f"'{digits}' is not a number: write it with one decimal point")
        compact = f"{head.replace(thousands, '')}.{tail}"
    elif commas > 1 or points > 1:
        mark = "," if commas else "."
        if not re.fullmatch(rf"[1-9]\d{{0,2}}(?:\{mark}\d{{3}})+", compact):
            return Refused(f"'{digits}' is not a number: write it with one decimal point")
        compact = compact.replace(mark, "")
    elif commas:
        whole, _, tail = compact.partition(",")
        if not decimal_comma and re.fullmatch(r"[1-9]\d{0,2},\d{3}", compact):
            return Refused(
                f"'{digits}' can be read as {whole}.{tail} or as {whole}{tail}: write the number with a decimal point"
            )
        compact = f"{whole}.{tail}"
    elif points and decimal_comma and re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", compact):
        whole, _, tail = compact.partition(".")
        return Refused(
            f"'{digits}' can be read as {whole},{tail} or as {whole}{tail} in a file with decimal commas: "
            f"write {whole},{tail} or {whole}{tail}"
        )
    try:
        number = float(compact)
    except ValueError:
        return Refused(f"'{digits}' is not a number: write it with one decimal point")
    return number if math.isfinite(number) else Refused(f"'{digits}' is too large to be a number: type it again")


def read_number(value: Value, decimal_comma: bool = False, unit: Unit | None = None) -> Number | Refused:
    """Return the number a cell states, with its own unit if one is written in it.

    `unit` is the unit the column has; it only settles whether `12/16` can be a fraction: not in a column of mm.
    """
    if isinstance(value, bool):
        return Refused(f"'{as_text(value)}' is not a number: type the number")
    if isinstance(value, (int, float)):
        number = float(value)
        return Number(number) if math.isfinite(number) else Refused("the cell holds no finite number: type it again")
    if isinstance(value, Fault):
        return refuse_fault(value)
    if isinstance(value, date):
        # 3/8 becomes 8 March and 1/32, for which there is no day, January 1932.
        bottom = value.year % 100 if isinstance(value, MonthShown) else value.day
        return Refused(
            f"the cell holds the date {as_text(value)} where a number belongs, probably the fraction "
            f"{value.month}/{bottom} changed by the spreadsheet: type {value.month}/{bottom} into a cell "
            "formatted as text, or the decimal"
        )
    if isinstance(value, (time, timedelta)):
        return Refused(f"the cell holds the time {value} where a number belongs: type the number")
    return _read_number_text(value, decimal_comma, unit)


@lru_cache(maxsize=100_000)
def _read_number_text(text: str, decimal_comma: bool, unit: Unit | None) -> Number | Refused:
    typed = _tidy(text)
    if typed.lower() in ("nan", "inf", "-inf", "infinity"):
        return Refused(f"'{text.strip()}' is not a number: type the number or leave the cell blank")
    if _CENSORED.match(typed):
        return Refused(
            f"'{text.strip()}' is a limit or an estimate, not a measured value: write the value itself, "
            "or leave the cell blank"
        )
    for read in (_read_feet, _read_fraction, _read_pair, _read_decimal):
        result = read(typed, decimal_comma, unit)
        if result is not None:
            return result
    return Refused(f"'{text.strip()}' is not a number: write the number, with its unit if the column states none")


def _tidy(text: str) -> str:
    """Unify quotation marks, dashes and blanks, and take one-character fractions apart."""
    out = []
    for character in text.strip():
        if unicodedata.decomposition(character).startswith("<fraction>"):
            out.append(" " + unicodedata.normalize("NFKC", character).replace("⁄", "/"))
        else:
            out.append(_SAME.get(character, character))
    return "".join(out).strip()


_SAME = {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "⁄": "/", "–": "-", "—": "-", "−": "-", "\u00a0": " "}


def _read_feet(typed: str, decimal_comma: bool, unit: Unit | None) -> Number | Refused | None:
    found = _AS_FEET.fullmatch(typed)
    if found is None or typed.endswith("''"):
        return None
    inches = _fraction_of(found) if found["top"] else float(found["inches"] or 0.0)
    if isinstance(inches, Refused):
        return inches
    return Number(float(found["feet"]) * 12.0 + inches, unit_of("in"))


def _read_fraction(typed: str, decimal_comma: bool, unit: Unit | None) -> Number | Refused | None:
    found = _AS_FRACTION.fullmatch(typed)
    if found is None:
        return None
    number = _fraction_of(found)
    if isinstance(number, Refused):
        return number
    bottom = int(found["bottom"])
    ending = _ending(found["rest"], typed)
    if isinstance(ending, Refused):
        return ending
    own_unit, marks = ending
    if own_unit is None and _is_metric(unit):
        return Refused(
            f"'{typed}' in a column of {unit.name if unit else ''} is probably a fraction of an inch: "
            "write it with its inch mark, or write a decimal"
        )
    if found["whole"] is None and (bottom & (bottom - 1) or _is_metric(own_unit)):
        return Refused(
            f"'{typed}' can be read as a fraction or as two values: write a decimal, or one value in one cell"
        )
    return Number(-number if found["sign"] == "-" else number, own_unit, marks)


def _is_metric(unit: Unit | None) -> bool:
    return unit is not None and unit.name in ("mm", "cm", "m", "um")


def _fraction_of(found: re.Match[str]) -> float | Refused:
    top, bottom = int(found["top"]), int(found["bottom"])
    if bottom == 0 or (found["whole"] is not None and top >= bottom):
        return Refused(f"'{found[0].strip()}' is not a fraction: write it as a decimal")
    return int(found["whole"] or 0) + top / bottom


def _read_pair(typed: str, decimal_comma: bool, unit: Unit | None) -> Number | Refused | None:
    found = _AS_PAIR.fullmatch(typed)
    if found is None:
        return None
    one, two = settle_decimal(found["one"], decimal_comma), settle_decimal(found["two"], decimal_comma)
    for number in (one, two):
        if isinstance(number, Refused):
            return number
    ending = _ending(found["rest"], typed)
    if isinstance(ending, Refused):
        return ending
    assert isinstance(one, float) and isinstance(two, float)
    return Number(min(one, two), ending[0], ending[1], max(one, two))


def _read_decimal(typed: str, decimal_comma: bool, unit: Unit | None) -> Number | Refused | None:
    found = _AS_DECIMAL.fullmatch(typed)
    if found is None:
        return None
    ending = _ending(found["rest"], typed)
    if isinstance(ending, Refused):
        return ending
    number = settle_decimal(found["digits"].strip(), decimal_comma)
    if isinstance(number, Refused):
        return number
    return Number(-number if found["sign"] == "-" else number, *ending)


def _ending(rest: str, typed: str) -> tuple[Unit | None, str] | Refused:
    """Return the unit and the footnote marks behind a number."""
    rest = rest.strip()
    if not rest:
        return None, ""
    if _MARKS.match(rest):
        return None, rest
    marks = ""
    marked = re.search(r"[*†‡§^]+$", rest)
    if marked:
        rest, marks = rest[: marked.start()].strip(), marked[0]
    unit = unit_of("in") if rest == "''" else unit_of(rest)
    if unit is not None and unit.name != "-":
        return unit, marks
    if is_absolute(rest):
        return Refused(f"'{typed}' is an absolute pressure: write the gauge pressure")
    if re.fullmatch(r"[^\d]{1,12}", rest):
        return Refused(
            f"'{typed}': '{rest}' is not a known unit: write the number with a unit such as mm, in, psi or bar"
        )
    return Refused(f"'{typed}' is not a number: write the number, with its unit if the column states none")


def refuse_pressure(text: str) -> Refused | None:
    """Return why a word in a pressure column is no pressure: a flange class or a vacuum."""
    typed = text.strip()
    if _FLANGE_CLASS.match(typed):
        return Refused(f"'{typed}' is a flange class, not a pressure: write the pressure with its unit")
    if _VACUUM.match(typed):
        return Refused(
            f"'{typed}' means vacuum, not a pressure: write the internal pressure here, and the external design "
            "pressure as a number under 'external pressure'"
        )
    return None


# ----------------------------------------------------------------------------------------------------------- dates

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january",
            "feb february",
            "mar march",
            "apr april",
            "may",
            "jun june",
            "jul july",
            "aug august",
            "sep sept september",
            "oct october",
            "nov november",
            "dec december",
        ),
        start=1,
    )
    for name in names.split()
}
_MONTH = "(?P<month>" + "|".join(sorted(_MONTHS, key=len, reverse=True)) + r")\.?"
_TIME = re.compile(r"(?:T|\s+)\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:\s*[AaPp][Mm])?Z?$")
_YEAR_FIRST = re.compile(r"(?P<year>\d{4})([-/.])(?P<month>\d{1,2})\2(?P<day>\d{1,2})")
_COMPACT = re.compile(r"(?P<year>(?:19|20)\d{2})(?P<month>\d{2})(?P<day>\d{2})")
_DAY_NAME = re.compile(rf"(?P<day>\d{{1,2}})(?:st|nd|rd|th)?[-/\s.]*{_MONTH}[-/\s,]*(?P<year>\d{{4}}|\d{{2}})", re.I)
_NAME_DAY = re.compile(rf"{_MONTH}[-/\s]*(?P<day>\d{{1,2}})(?:st|nd|rd|th)?\s*,\s*(?P<year>\d{{4}})", re.I)
_NAME_DAY_BARE = re.compile(rf"{_MONTH}[-/\s]+(?P<day>\d{{1,2}})(?:st|nd|rd|th)?[-/\s]+(?P<year>\d{{4}})", re.I)
_NAME_YEAR = re.compile(rf"{_MONTH}[-/\s,']*(?P<year>\d{{4}}|\d{{2}})", re.I)
_YEAR_NAME = re.compile(rf"(?P<year>\d{{4}})[-/\s]*{_MONTH}", re.I)
_YEAR_MONTH = re.compile(r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})")
_MONTH_YEAR = re.compile(r"(?P<month>\d{1,2})[-/.](?P<year>\d{4})")
_YEAR = re.compile(r"(?P<year>\d{4})")
_TWO_ORDERS = re.compile(r"(?P<one>\d{1,2})([-/.])(?P<two>\d{1,2})\2(?P<year>\d{4}|\d{2})")

FIRST_YEAR, LAST_YEAR = 1900, 2100
#: A year of two digits lies in this century up to as many years ahead of the as-of date, in the last one beyond.
TWO_DIGIT_YEARS_AHEAD = 20


def date_order_of(values: Iterable[Value]) -> tuple[DateOrder, int | None, bool]:
    """Return the order of day and month that the dates of one column prove, where the proof stands, and whether
    the column contradicts itself. Only dates with a four-digit year and a number above 12 prove anything."""
    proofs: dict[DateOrder, int] = {}
    for index, value in enumerate(values):
        if not isinstance(value, str):
            continue
        found = _TWO_ORDERS.fullmatch(_TIME.sub("", value.strip()))
        if found is None or len(found["year"]) != 4:
            continue
        one, two = int(found["one"]), int(found["two"])
        if one > 12 >= two >= 1 and one <= 31:
            proofs.setdefault("day first", index)
        elif two > 12 >= one >= 1 and two <= 31:
            proofs.setdefault("month first", index)
    if len(proofs) == 1:
        order, place = next(iter(proofs.items()))
        return order, place, False
    return "", None, bool(proofs)


def settle_order(
    proved: DateOrder, contradictory: bool, stated: DateOrder, proof_cell: str, where: str
) -> tuple[DateOrder, str]:
    """Return the order for ambiguous dates of one column and a sentence that says what settled it."""
    if contradictory or (proved and stated and proved != stated):
        return "", ""
    if proved:
        return proved, f"dates of {where} are read {proved} because {proof_cell} can be read in no other way"
    if stated:
        return stated, f"dates of {where} are read {stated} as stated by date_order in basis.toml"
    return "", ""


def needs_order(value: Value) -> bool:
    """Tell whether a text is a date that is valid both day first and month first, as two different days."""
    if not isinstance(value, str):
        return False
    found = _TWO_ORDERS.fullmatch(_TIME.sub("", value.strip()))
    if found is None:
        return False
    one, two = int(found["one"]), int(found["two"])
    return 1 <= one <= 12 and 1 <= two <= 12 and one != two


def iso_date(text: str) -> ReadDate | None:
    """Return the date of a text in the form 2011-04-15, 2011-04 or 2011, or None where it is no such date."""
    if not re.fullmatch(r"\d{4}(?:-\d{2}(?:-\d{2})?)?", text.strip()):
        return None
    on = _read_date_text(text, "", date(LAST_YEAR, 1, 1))
    return on if isinstance(on, ReadDate) else None


def read_date(value: Value, order: DateOrder, as_of: date) -> ReadDate | Refused:
    """Return the date a cell states. `order` settles dates such as 03/05/2019; the empty order refuses them."""
    if isinstance(value, Fault):
        return refuse_fault(value)
    if isinstance(value, (MonthShown, YearShown)):
        return _checked(value.year, value.month if isinstance(value, MonthShown) else None, None, as_text(value))
    if isinstance(value, date):
        day = value.date() if isinstance(value, datetime) else value
        return _checked(day.year, day.month, day.day, as_text(value))
    if isinstance(value, (bool, time, timedelta)):
        return Refused(f"'{as_text(value)}' is not a date: write it as year-month-day, such as 2019-05-03")
    if isinstance(value, (int, float)):
        return _date_from_number(float(value))
    return _read_date_text(value, order, as_of)


def _date_from_number(value: float) -> ReadDate | Refused:
    text = number_text(value)
    if re.fullmatch(r"\d{4}|\d{8}", text):
        return _read_date_text(text, "", date(LAST_YEAR, 1, 1))
    if 20_000 <= value <= 73_000:
        likely = (date(1899, 12, 30) + timedelta(days=int(value))).isoformat()
        return Refused(f"{text} is a number, not a date ({likely} if it is a date serial): format the cell as a date")
    return Refused(f"'{text}' is not a date: write it as year-month-day, such as 2019-05-03")


@lru_cache(maxsize=100_000)
def _read_date_text(text: str, order: DateOrder, as_of: date) -> ReadDate | Refused:
    typed = _TIME.sub("", " ".join(text.replace("\u00a0", " ").split()).replace("–", "-"))
    for form in (_YEAR_FIRST, _COMPACT, _DAY_NAME, _NAME_DAY, _NAME_DAY_BARE):
        found = form.fullmatch(typed)
        if found:
            return _checked(_year(found["year"], as_of), _month(found["month"]), int(found["day"]), text)
    for form in (_NAME_YEAR, _YEAR_NAME, _YEAR_MONTH, _MONTH_YEAR):
        found = form.fullmatch(typed)
        if found:
            return _checked(_year(found["year"], as_of), _month(found["month"]), None, text)
    found = _YEAR.fullmatch(typed)
    if found:
        return _checked(int(found["year"]), None, None, text)
    found = _TWO_ORDERS.fullmatch(typed)
    if found:
        return _in_order(found, order, as_of, text)
    return Refused(f"'{text.strip()}' is not a date: write it as year-month-day, such as 2019-05-03")


def _in_order(found: re.Match[str], order: DateOrder, as_of: date, text: str) -> ReadDate | Refused:
    one, two, year = int(found["one"]), int(found["two"]), _year(found["year"], as_of)
    if len(found["year"]) == 4 and (one > 12 or two > 12 or one == two):
        day, month = (one, two) if one > 12 else (two, one)
    elif order:
        day, month = (one, two) if order == "day first" else (two, one)
    elif len(found["year"]) == 2:
        return Refused(f"'{text.strip()}' can be read in several ways: write the date as year-month-day")
    else:
        ways = [_checked(year, two, one, text), _checked(year, one, two, text)]
        days = " or ".join(way.on.isoformat() for way in ways if isinstance(way, ReadDate))
        return Refused(
            f"'{text.strip()}' can be {days}: write the date as year-month-day, or state date_order in basis.toml"
        )
    return _checked(year, month, day, text)


def _month(text: str) -> int:
    return int(text) if text.isdigit() else _MONTHS[text.lower()]


def _year(text: str, as_of: date) -> int:
    if len(text) == 4:
        return int(text)
    century = as_of.year - as_of.year % 100
    year = century + int(text)
    return year if year <= as_of.year + TWO_DIGIT_YEARS_AHEAD else year - 100


def _checked(year: int, month: int | None, day: int | None, text: str) -> ReadDate | Refused:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return Refused(f"'{text.strip()}' is not a date between {FIRST_YEAR} and {LAST_YEAR}: correct the date")
    precision: Precision = "day" if day is not None else "month" if month is not None else "year"
    try:
        return ReadDate(date(year, 1 if month is None else month, 1 if day is None else day), precision)
    except ValueError:
        return Refused(f"'{text.strip()}' is not a day of the calendar: correct the date")
