"""Untidy workbooks whose truth is known: kinds of mess combined at random, the same for the same seed.

Each workbook is drawn up from survey tables. Whatever is put on a sheet is put down as truth at the same time: a
reading, a reason for not measuring, a cell that must be set aside (with the words its sentence must hold), or a cell
that is not data.
"""

from __future__ import annotations

import csv
import io
import random
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from xml.sax.saxutils import escape

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter

MM_PER_INCH = 25.4
NAMES = ("asset", "component", "location")


@dataclass(frozen=True)
class Reading:
    """A reading that must come out, with its cell."""

    sheet: str
    cell: str
    asset: str
    component: str
    location: str
    read_on: date
    precision: str
    mm: float


@dataclass(frozen=True)
class Missed:
    """A reason for not measuring that must come out."""

    sheet: str
    cell: str
    location: str
    read_on: date
    reason: str


@dataclass
class Truth:
    """What a workbook says."""

    readings: list[Reading] = field(default_factory=list)
    missed: list[Missed] = field(default_factory=list)
    set_aside: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass
class Paper:
    """A sheet being drawn up: cells counted from 0, merged ranges, number formats, what is hidden."""

    name: str
    cells: dict[tuple[int, int], Any] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    formats: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    hidden: bool = False
    coloured: list[tuple[int, int]] = field(default_factory=list)

    def put(self, row: int, column: int, value: object) -> str:
        """Put a value down and return its address; an empty value leaves the cell empty."""
        if value is not None and value != "":
            self.cells[(row, column)] = value
        return f"{get_column_letter(column + 1)}{row + 1}"


@dataclass(frozen=True)
class Untidy:
    """One workbook of the corpus: its file, the kinds of mess in it, and its truth."""

    file: str
    content: bytes
    mess: frozenset[str]
    truth: Truth


def corpus(count: int = 150) -> Iterator[Untidy]:
    """Yield the workbooks of the corpus."""
    for seed in range(count):
        yield untidy(seed)


FORMS = ("xlsx", "xlsx", "xlsx", "xlsm", "ods", "csv")


def untidy(seed: int) -> Untidy:
    """Return one workbook."""
    chance = random.Random(f"untidy {seed}")
    form = FORMS[seed % len(FORMS)]
    truth, mess = Truth(), {form}
    papers = []
    for number in range(1 if form == "csv" else chance.randint(1, 3)):
        paper = Paper("" if form == "csv" else f"{chance.choice(_SHEET_NAMES)} {number}")
        _fill(paper, chance, truth, mess, form)
        papers.append(paper)
    if form != "csv":
        chance.shuffle(papers)
    write: dict[str, Callable[[list[Paper], random.Random, set[str]], bytes]]
    write = {"csv": _csv, "ods": _ods}
    content = write.get(form, _xlsx)(papers, chance, mess)
    return Untidy(f"untidy {seed:02}.{form}", content, frozenset(mess), truth)


_SHEET_NAMES = ("Sheet", "TML data", "UT", "north", "Copy of old", "résumé", "x y")


# ----------------------------------------------------------------------------------------------------------- tables


def _fill(paper: Paper, chance: random.Random, truth: Truth, mess: set[str], form: str) -> None:
    """Put one to three tables on a sheet: alone, one below another, or side by side."""
    arrangement = chance.choice(("one", "one", "below", "beside"))
    mess.add(f"tables: {arrangement}")
    row, column = chance.randint(0, 2), chance.randint(0, 2)
    for number in range(1 if arrangement == "one" else 2):
        table = _Table(paper, chance, truth, mess, form, f"{chance.choice('DVE')}-{chance.randint(100, 999)}{number}")
        bottom, right = table.draw(row, column)
        if arrangement == "below":
            row = bottom + 2
        elif arrangement == "beside":
            row, column = chance.randint(0, 3), right + 1
    if form.startswith("xls") and chance.random() < 0.15:
        paper.hidden = True
        mess.add("hidden sheet")


@dataclass
class _Table:
    paper: Paper
    chance: random.Random
    truth: Truth
    mess: set[str]
    form: str
    vessel: str

    def __post_init__(self) -> None:
        chance = self.chance
        self.binary = self.form != "csv"
        self.layout = chance.choice(("long", "long", "wide", "wide", "long by point", "wide by point", "points merged"))
        if self.layout == "points merged" and not self.binary:
            self.layout = "wide by point"
        self.unit = chance.choice(("mm", "in"))
        self.unit_at = chance.choice(("header", "header", "row below", "statement", "cell", "number format"))
        if self.unit_at == "number format" and not self.form.startswith("xls"):
            self.unit_at = "header"
        self.labelled = [name for name in ("asset", "component") if chance.random() < 0.25]
        self.comma = chance.random() < 0.2
        self.mess.update((self.layout, f"unit in {self.unit_at}", *(f"label: {name}" for name in self.labelled)))
        self.rows = chance.randint(4, 14)
        self.points = chance.choice((("N", "E", "S", "W"), ("0°", "90°", "180°"), ("Top", "Bottom"), ("A", "B", "C")))
        days = chance.sample(range(3600), 3)
        self.dates = [self._spelled_date(date.fromordinal(date(2009, 1, 1).toordinal() + day)) for day in sorted(days)]

    # ------------------------------------------------------------------------------------------------- the table

    def draw(self, top: int, left: int) -> tuple[int, int]:
        """Draw the table; return the row below it and the column right of it."""
        chance, paper = self.chance, self.paper
        row = self._preamble(top, left)
        columns = self._columns()
        header = row
        if self.layout == "points merged":
            self._merged_dates(header, left, columns)
            header += 1
        for place, (name, heading, _) in enumerate(columns):
            paper.put(header, left + place, heading)
            if chance.random() < 0.05 and name == "unknown":
                paper.hidden_columns.add(left + place)
                self.mess.add("hidden column")
        row = header + 1
        if self.unit_at == "row below":
            for place, (name, _, _) in enumerate(columns):
                paper.put(row, left + place, self.unit if name == "reading" else None)
            row += 1
        row = self._data(header, row, left, columns)
        return self._foot(row, left, columns), left + len(columns)

    def _preamble(self, row: int, left: int) -> int:
        chance, paper = self.chance, self.paper
        for _ in range(chance.randint(0, 2)):
            paper.put(row, left, chance.choice(("Thickness survey", "Plant 2, sheet 3 of 9", "Issued for use")))
            self.mess.add("title")
            row += 1
        self.component = f"Shell {chance.randint(1, 4)}"
        for name in self.labelled:
            word = {"asset": "Vessel", "component": "Component"}[name]
            value = self.vessel if name == "asset" else self.component
            if chance.random() < 0.5:
                paper.put(row, left, f"{word}: {value}")
            else:
                paper.put(row, left, f"{word}:")
                paper.put(row, left + 1, value)
            row += 1
        if self.unit_at == "statement":
            long_name = {"mm": "mm", "in": "inches"}[self.unit]
            text = chance.choice(
                (f"All dimensions in {long_name}", f"Units: {self.unit}", f"All readings in {self.unit}")
            )
            paper.put(row, left, text)
            row += 1
        return row + (chance.randint(0, 1) if row else 0)

    def _columns(self) -> list[tuple[str, object, Any]]:
        """Return the columns: what each is, its heading, and the date or point it stands for."""
        chance = self.chance
        unit = f" ({self.unit})" if self.unit_at == "header" else ""
        who: list[tuple[str, object, Any]] = [
            (name, chance.choice(_HEADINGS[name]), None) for name in NAMES if name not in self.labelled
        ]
        extra: list[tuple[str, object, Any]] = []
        if chance.random() < 0.3:
            extra.append(("unknown", chance.choice(("Photo", "Drawing ref", "Scaffold class")), None))
            self.mess.add("unknown column")
        readings: list[tuple[str, object, Any]] = []
        if self.layout == "long":
            readings = [("reading", chance.choice(("Thickness", "Thk", "Reading", "t act")) + unit, "")]
            extra.append(("date", chance.choice(("Date", "Survey date", "Date of reading")), None))
        elif self.layout == "long by point":
            readings = [("reading", point + unit, point) for point in self.points]
            readings += self._derived(None)
            extra.append(("date", "Date", None))
        elif self.layout == "wide":
            for heading, on, precision in self.dates:
                text = heading if not unit else f"{heading}{unit}"
                readings.append(("reading", text, (on, precision, "")))
            readings += self._derived(None)
        else:
            for heading, on, precision in self.dates[:2]:
                for point in self.points:
                    name = point + unit if self.layout == "points merged" else f"{heading} {point}{unit}"
                    readings.append(("reading", name, (on, precision, point)))
                if self.layout == "points merged":
                    readings += self._derived(on)
        if chance.random() < 0.3:
            extra.append(("remark", "Remarks", None))
        if self.layout in ("long", "long by point") and chance.random() < 0.6:
            together = [*who, *extra]
            chance.shuffle(together)
            self.mess.add("columns in any order")
            return [*together, *readings] if chance.random() < 0.5 else [*readings, *together]
        return [*who, *(column for column in extra if column[0] != "remark"), *readings] + [
            column for column in extra if column[0] == "remark"
        ]

    def _derived(self, on: date | None) -> list[tuple[str, object, Any]]:
        if self.chance.random() < 0.6:
            return []
        self.mess.add("derived column")
        return [("derived", "MIN", on)]

    def _merged_dates(self, row: int, left: int, columns: list[tuple[str, object, Any]]) -> None:
        for heading, on, _ in self.dates[:2]:
            places = [
                left + place
                for place, (name, _, stands_for) in enumerate(columns)
                if (name == "reading" and stands_for[0] == on) or (name == "derived" and stands_for == on)
            ]
            self.paper.put(row, places[0], heading)
            self.paper.merged.append((row, places[0], row, places[-1]))

    def _foot(self, row: int, left: int, columns: list[tuple[str, object, Any]]) -> int:
        chance, paper = self.chance, self.paper
        if chance.random() < 0.3:
            word = chance.choice(("MIN", "Total", "Average:"))
            first = paper.put(row, left, word)
            last = len(columns) - 1
            if last and columns[last][0] != "remark":
                beside = paper.put(row, left + last, 7.7)
                if columns[last][0] == "reading" and word != "Total":  # no reading of the corpus is 7.7 mm or 7.7 in
                    self.truth.set_aside[(paper.name, beside)] = (
                        "unit not stated" if self.unit_at in ("cell", "number format") else "check both"
                    )
                elif columns[last][0] in NAMES and columns[0][0] not in NAMES:
                    self.truth.set_aside[(paper.name, first)] = "which may be counts or tags"
            self.mess.add("total at the foot")
            row += 1
        if chance.random() < 0.4:
            row += chance.randint(0, 1)
            paper.put(
                row, left, chance.choice(("Notes: probe 5 MHz", "* taken through paint, see the report of the day"))
            )
            self.mess.add("note at the foot")
            row += 1
        return row

    # --------------------------------------------------------------------------------------------------- the rows

    def _data(self, header: int, row: int, left: int, columns: list[tuple[str, object, Any]]) -> int:
        chance, paper = self.chance, self.paper
        merged_from: int | None = None
        merges = self.binary and "asset" not in self.labelled and chance.random() < 0.25
        asset_at = next((left + place for place, (name, _, _) in enumerate(columns) if name == "asset"), None)
        for number in range(self.rows):
            if number and chance.random() < 0.06 and not merges:
                row += 1
                self.mess.add("blank row")
            if number and chance.random() < 0.05 and not merges and self.layout != "points merged":
                for place, (_, heading, _) in enumerate(columns):
                    paper.put(row, left + place, heading)
                self.mess.add("repeated header")
                row += 1
            if chance.random() < 0.04 and self.form.startswith("xls"):
                paper.hidden_rows.add(row)
                self.mess.add("hidden row")
            nameless = not merges and "asset" not in self.labelled and chance.random() < 0.05
            show_asset = not nameless and (not merges or merged_from is None)
            self._row(row, left, columns, number + 1, show_asset, nameless)
            merged_from = row if merges and merged_from is None else merged_from
            row += 1
        if merges and asset_at is not None and merged_from is not None and row - merged_from > 1:
            paper.merged.append((merged_from, asset_at, row - 1, asset_at))
            self.mess.add("merged asset")
        return row

    def _row(
        self,
        row: int,
        left: int,
        columns: list[tuple[str, object, Any]],
        number: int,
        show_asset: bool,
        nameless: bool,
    ) -> None:
        chance, paper = self.chance, self.paper
        component = self.component if "component" in self.labelled else f"Shell {1 + number % 3}"
        location: object = float(number) if chance.random() < 0.5 and self.binary else f"{number}"
        on, precision, problem = date(2000, 1, 1), "day", ""
        date_cell = ""
        for place, (name, _, _) in enumerate(columns):
            at = (row, left + place)
            if name == "asset" and show_asset:
                paper.put(*at, f" {self.vessel} " if chance.random() < 0.1 else self.vessel)
            elif name == "component":
                paper.put(*at, component)
            elif name == "location":
                paper.put(*at, location)
            elif name == "date":
                heading, on, precision = self._spelled_date(date(2010, 1, 1 + chance.randint(0, 27)))
                if chance.random() < 0.04:
                    heading, problem = "03/05/2019", "can be"
                date_cell = paper.put(*at, heading)
            elif name in ("unknown", "remark"):
                paper.put(*at, chance.choice((None, "see sketch", "scaffold B", 12.0 if self.binary else "12")))
        if problem and not nameless:
            self.truth.set_aside[(paper.name, date_cell)] = problem
            self.mess.add("ambiguous date")
        found: dict[Any, list[float]] = {}
        blank: list[tuple[tuple[int, int], str, date]] = []
        for place, (name, _, stands_for) in enumerate(columns):
            if name != "reading":
                continue
            at = (row, left + place)
            when, how, point = stands_for if isinstance(stands_for, tuple) else (on, precision, stands_for)
            force = nameless or bool(problem)
            named = f"{number} {point}" if point else f"{number}"
            value, kind, meaning = self._spelled_reading(at, force)
            if value is None:
                blank.append((at, named, when))
                continue
            cell = paper.put(*at, value)
            if force:
                self.truth.set_aside[(paper.name, cell)] = "no asset" if nameless else "cannot be used"
                self.mess.add("row without asset" if nameless else "ambiguous date")
            elif kind == "reading":
                self.truth.readings.append(Reading(paper.name, cell, self.vessel, component, named, when, how, meaning))
                found.setdefault(when, []).append(meaning)
            elif kind == "missed":
                self.truth.missed.append(Missed(paper.name, cell, named, when, meaning))
            else:
                self.truth.set_aside[(paper.name, cell)] = meaning
        if self.layout.startswith("long") and len(blank) == sum(name == "reading" for name, _, _ in columns):
            for at, named, when in blank:
                self.truth.missed.append(Missed(paper.name, paper.put(*at, None), named, when, "no value"))
                self.mess.add("row without a reading")
        for place, (name, _, stands_for) in enumerate(columns):
            walls = [wall for when, walls in found.items() if stands_for in (None, when) for wall in walls]
            if name == "derived" and walls:
                paper.put(row, left + place, round(min(walls) / (MM_PER_INCH if self.unit == "in" else 1.0), 4))

    # -------------------------------------------------------------------------------------------------- the cells

    def _spelled_date(self, day: date) -> tuple[object, date, str]:
        """Return one way to write a date, the day it stands for, and how exactly."""
        ways: list[tuple[object, date, str]] = [
            (day.isoformat(), day, "day"),
            (f"{day.day:02}-{_MONTHS[day.month - 1]}-{day.year}", day, "day"),
            (f"{_MONTHS[day.month - 1]}-{day.year % 100:02}", day.replace(day=1), "month"),
            (f"{day.month}/{day.year}", day.replace(day=1), "month"),
            (f"{day.year}-{day.month:02}", day.replace(day=1), "month"),
            (f"{day.year}", day.replace(month=1, day=1), "year"),
        ]
        if self.form.startswith("xls") and self.layout in ("long", "points merged", "long by point"):
            ways += [(day, day, "day")] * 4
        if self.form.startswith("xls") and self.layout == "wide" and self.unit_at != "header":
            ways += [(day, day, "day")] * 4
        return self.chance.choice(ways)

    def _spelled_reading(self, at: tuple[int, int], plain: bool) -> tuple[object, str, Any]:
        """Return a cell of a reading, whether it is a `reading`, `missed` or `aside`, and its meaning."""
        chance, unit = self.chance, self.unit
        if not plain and chance.random() < 0.1:
            reason = chance.choice(sorted(_REASONS))
            self.mess.add("reason instead of a reading")
            return reason, "missed", _REASONS[reason]
        if not plain and chance.random() < 0.12:
            bad, words = chance.choice(_BAD_ANYWHERE + (_BAD_IN_XLSX if self.form.startswith("xls") else ()))
            self.mess.add(f"bad: {words}")
            if bad in ("0", "-4.2") and self.unit_at in ("cell", "number format"):
                bad = f"{bad} {unit}"
            return bad, "aside", words
        if not plain and chance.random() < 0.05:
            return None, "", None
        if unit == "in" and chance.random() < 0.25:
            return self._fraction(at)
        number = round(chance.uniform(4.0, 30.0), 2) if unit == "mm" else round(chance.uniform(0.2, 0.99), 3)
        inside = number * (MM_PER_INCH if unit == "in" else 1.0)
        text = f"{number}"
        if self.comma or not self.binary:
            text = text.replace(".", ",") if self.comma else text
            if self.comma:
                self.mess.add("decimal comma")
        if self.unit_at == "cell":
            if chance.random() < 0.2:
                other = round(chance.uniform(4.0, 30.0), 1) if unit == "in" else round(chance.uniform(0.2, 0.9), 3)
                self.mess.add("mixed units in a column")
                factor = 1.0 if unit == "in" else MM_PER_INCH
                return f"{other} {'mm' if unit == 'in' else 'in'}", "reading", other * factor
            return f"{text}{chance.choice(('', ' '))}{unit}", "reading", inside
        if self.unit_at == "number format":
            self.paper.formats[at] = f'0.000" {unit}"'
            return number, "reading", inside
        way = chance.random()
        if way < 0.08:
            self.mess.add("footnote mark")
            return f"{text}{chance.choice(('*', '†', ' (1)'))}", "reading", inside
        if way < 0.16:
            self.mess.add("unit in a cell")
            return f"{text} {unit}", "reading", inside
        if way < 0.22 and not self.comma:
            self.mess.add("two values in a cell")
            return f"{number}/{round(number + 0.21, 2)}", "reading", inside
        if way < 0.3 or self.comma or not self.binary:
            self.mess.add("number as text")
            return text, "reading", inside
        return number, "reading", inside

    def _fraction(self, at: tuple[int, int]) -> tuple[object, str, Any]:
        chance = self.chance
        whole, (top, bottom, sign) = chance.randint(0, 1), chance.choice(_FRACTIONS)
        inside = (whole + top / bottom) * MM_PER_INCH
        texts = [f"{whole} {top}/{bottom}", f'{whole}-{top}/{bottom}"', f"{whole}{sign}"]
        if not whole:
            texts = [f"{top}/{bottom}", f'{top}/{bottom}"', sign]
        text = chance.choice(texts)
        self.mess.add("fraction")
        if self.unit_at in ("cell", "number format") and not text.endswith('"'):
            text += '"'
        return text, "reading", inside


_HEADINGS = {
    "asset": ("Asset", "Tag", "Vessel no.", "Equipment ID"),
    "component": ("Component", "Comp.", "Part"),
    "location": ("Location", "CML", "TML no.", "Point no"),
}
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FRACTIONS = ((1, 8, "⅛"), (3, 8, "⅜"), (5, 8, "⅝"), (7, 8, "⅞"), (1, 4, "¼"), (3, 4, "¾"), (1, 2, "½"))
_REASONS = {
    "no access": "no access",
    "INS": "insulated",
    "Lagged": "insulated",
    "obstructed": "obstructed",
    "too hot": "hot",
    "N/A": "no value",
    "-": "no value",
    "not found": "not found",
    "lamination": "lamination",
    "no back-wall": "no back-wall",
}
_BAD_ANYWHERE: tuple[tuple[object, str], ...] = (
    ("<3", "is a limit"),
    ("~9", "is a limit"),
    ("0", "never a thickness"),
    ("-4.2", "below zero"),
    ("nine", "is not a number"),
    ("9.1.2", "is not a number"),
)
_BAD_IN_XLSX: tuple[tuple[object, str], ...] = (
    (date(2019, 3, 8), "3/8"),
    ("#N/A", "error value"),
    ("#REF!", "error value"),
    ("=A1*2", "no stored result"),
    (True, "is not a number"),
    ("=1/8", "no stored result"),
)


# ------------------------------------------------------------------------------------------------------------ files


def _xlsx(papers: list[Paper], chance: random.Random, mess: set[str]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for paper in papers:
        sheet = book.create_sheet(paper.name)
        for (row, column), value in paper.cells.items():
            sheet.cell(row + 1, column + 1).value = value
        for (row, column), text in paper.formats.items():
            sheet.cell(row + 1, column + 1).number_format = text
        for top, left, bottom, right in paper.merged:
            sheet.merge_cells(None, top + 1, left + 1, bottom + 1, right + 1)
        for row in paper.hidden_rows:
            sheet.row_dimensions[row + 1].hidden = True
        for column in paper.hidden_columns:
            sheet.column_dimensions[get_column_letter(column + 1)].hidden = True
        if chance.random() < 0.3:
            row, column = chance.choice(sorted(paper.cells))
            cell = sheet.cell(row + 1, column + 1)
            cell.fill, cell.font = PatternFill("solid", "FFFF0000"), Font(strike=True)
            cell.comment = Comment("see the report", "plant")
            mess.add("colour, strike-through and comment")
        if paper.hidden and len(papers) > 1 and paper is not papers[0]:
            sheet.sheet_state = "hidden"
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def _csv(papers: list[Paper], chance: random.Random, mess: set[str]) -> bytes:
    delimiter = chance.choice((",", ";", "\t", "|"))
    encoding = chance.choice(("utf-8", "utf-8-sig", "utf-16", "cp1252"))
    (paper,) = papers
    height, width = (max(place[axis] for place in paper.cells) + 1 for axis in (0, 1))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    for row in range(height):
        writer.writerow([paper.cells.get((row, column), "") for column in range(width)])
    try:
        content = out.getvalue().encode(encoding)
    except UnicodeEncodeError:  # ⅛ and † are not in every code page
        encoding, content = "utf-8", out.getvalue().encode()
    mess.update((f"delimiter {delimiter!r}", encoding))
    return content


def _ods(papers: list[Paper], chance: random.Random, mess: set[str]) -> bytes:
    tables = "".join(_ods_table(paper) for paper in papers)
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as package:
        package.writestr("mimetype", _ODS)
        package.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{_OASIS}:manifest:1.0">'
            f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS}"/></manifest:manifest>',
        )
        package.writestr(
            "content.xml",
            f'<office:document-content xmlns:office="{_OASIS}:office:1.0" xmlns:table="{_OASIS}:table:1.0" '
            f'xmlns:text="{_OASIS}:text:1.0"><office:body><office:spreadsheet>{tables}</office:spreadsheet>'
            "</office:body></office:document-content>",
        )
    return content.getvalue()


_ODS = "application/vnd.oasis.opendocument.spreadsheet"
_OASIS = "urn:oasis:names:tc:opendocument:xmlns"


def _ods_table(paper: Paper) -> str:
    height, width = (max(place[axis] for place in paper.cells) + 1 for axis in (0, 1))
    spans = {(top, left): (bottom - top + 1, right - left + 1) for top, left, bottom, right in paper.merged}
    rows = ""
    for row in range(height):
        cells = "".join(_ods_cell(paper.cells.get((row, at)), spans.get((row, at))) for at in range(width))
        rows += f"<table:table-row>{cells}</table:table-row>"
    return f'<table:table table:name="{escape(paper.name)}">{rows}</table:table>'


def _ods_cell(value: object, span: tuple[int, int] | None) -> str:
    spanned = f' table:number-rows-spanned="{span[0]}" table:number-columns-spanned="{span[1]}"' if span else ""
    if value is None:
        return f"<table:table-cell{spanned}/>"
    if isinstance(value, float):
        kind, text = f'office:value-type="float" office:value="{value!r}"', repr(value)
    else:
        kind, text = 'office:value-type="string"', escape(str(value))
    return f"<table:table-cell{spanned} {kind}><text:p>{text}</text:p></table:table-cell>"
