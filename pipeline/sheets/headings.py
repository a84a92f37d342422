"""What a heading means: its column, its unit, or its date, by the spellings in `headings.csv`.

`columns.csv` holds the canonical columns (which sheets have them, how their cells are read); `headings.csv` the
other accepted spellings of each. A plant adds its own under `[headings]` in `basis.toml`.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources

from pipeline.sheets.values import Fault, ReadDate, Value, as_text, is_absolute, iso_date, unit_of
from pipeline.units import Unit

#: The kinds of table, in the order that settles ties when a header fits several equally well.
KINDS = (
    "survey, wide",
    "survey, long",
    "components",
    "locations",
    "relief devices",
    "deferrals",
    "set intervals",
    "rate choices",
    "recommendations",
    "scope decisions",
    "events",
    "renumbered locations",
    "inspections",
    "turnarounds",
    "corroded areas",
    "pits",
    "assets",
)

#: The word under which `columns.csv` lists both layouts of a survey.
SURVEY = "survey"

NUMERIC = ("length", "pressure", "rate", "duration", "temperature", "angle", "ratio")
#: A cell whose first word begins no heading needs no closer look; most cells of a long survey end there.
_FIRST_WORD = re.compile(r"[\s_\-–/\\.,:;()\[\]#*'\"]*([^\s_\-–/\\.,:;()\[\]#*'\"]+)")
_DERIVED = re.compile(r"^(?:min|max|avg|average|mean|minimum|maximum|lowest|highest|minimum reading|average reading)$")


@dataclass(frozen=True)
class Column:
    """One canonical column of one kind of sheet: how its cells are read, within which limits, and the kind of thing
    they say something about (a vessel's pressure on a sheet of components is about the asset)."""

    name: str
    sheet: str
    reads_as: str
    limits: str
    rows_of: str

    @property
    def unit_kind(self) -> str | None:
        """What the column measures, or None where its cells are text, dates or words."""
        kind = self.reads_as.split(" or ")[0]
        return kind if kind in NUMERIC else None

    @property
    def label(self) -> str:
        """The column in words."""
        return "MAWP" if self.name == "mawp" else self.name.replace("_", " ")


@dataclass(frozen=True)
class Heading:
    """A heading as typed, the spelling left when its unit is taken off, the unit, and what is wrong with the unit."""

    text: str
    spelling: str
    unit: Unit | None = None
    problem: str = ""


@dataclass(frozen=True)
class Headings:
    """Every accepted spelling: to the names of the columns it may mean, by sheet; and the plant's headings that stand
    for a date (`TA 2011`)."""

    spellings: Mapping[str, Mapping[str, str]]
    columns: Mapping[tuple[str, str], Column]
    faults: tuple[str, ...] = ()
    dates: Mapping[str, ReadDate] = field(default_factory=dict)
    _read: dict[str, Heading | None] = field(default_factory=dict)
    _first_words: frozenset[str] = frozenset()

    def column(self, spelling: str, kind: str) -> Column | None:
        """Return the column a spelling means on a kind of sheet."""
        sheet = SURVEY if kind.startswith(SURVEY) else kind
        name = self.spellings.get(spelling, {}).get(sheet)
        return None if name is None else self.columns[(sheet, name)]

    def read(self, value: Value) -> Heading | None:
        """Return the heading a cell holds, or None where no accepted spelling fits."""
        if not isinstance(value, str) or len(value) > 80:
            return None
        first = _FIRST_WORD.match(value)
        if first is None or first[1].lower() not in self._first_words:
            return None
        if value not in self._read:
            self._read[value] = self._settle(value)
        return self._read[value]

    def _settle(self, text: str) -> Heading | None:
        first_problem: Heading | None = None
        for rest, unit_text in split_unit(text):
            spelling = normal(rest)
            if spelling not in self.spellings:
                continue
            if unit_text is None:
                return Heading(text, spelling)
            unit = unit_of(unit_text)
            kinds = {self.columns[(sheet, name)].unit_kind for sheet, name in self.spellings[spelling].items()}
            if unit is not None and unit.name == "in" and self._is_pipe_size(spelling):
                return Heading(text, spelling)  # a nominal size is in inches by definition: nothing is converted
            if unit is not None and unit.kind in kinds:
                return Heading(text, spelling, unit)
            if first_problem is None and kinds != {None}:
                problem = (
                    f"'{unit_text}' is an absolute pressure: state a gauge unit"
                    if unit is None
                    else f"'{unit_text}' is no unit of {' or '.join(sorted(kind for kind in kinds if kind))}"
                )
                first_problem = Heading(text, spelling, None, problem)
        return first_problem

    def _is_pipe_size(self, spelling: str) -> bool:
        columns = [self.columns[place] for place in self.spellings[spelling].items()]
        return all(column.reads_as == "pipe size" for column in columns)

    def is_derived(self, value: Value) -> bool:
        """Tell whether a heading names a column worked out from others (`MIN`, `AVG`, `MAX`)."""
        return isinstance(value, str) and any(
            _DERIVED.match(normal(rest)) for rest, unit in split_unit(value) if unit is None or unit_of(unit)
        )

    def elsewhere(self, value: str) -> tuple[str, list[str]] | None:
        """Return what a heading means in other kinds of table, and which, or None where no kind has it."""
        heading = self.read(value)
        if heading is None:
            return None
        sheets = self.spellings[heading.spelling]
        labels = list(dict.fromkeys(self.columns[(sheet, name)].label for sheet, name in sheets.items()))
        return " or ".join(labels), list(sheets)

    def near(self, value: Value, kind: str) -> list[str]:
        """Return up to three accepted headings of a kind of sheet that look like a heading nobody knows."""
        sheet = SURVEY if kind.startswith(SURVEY) else kind
        known = [spelling for spelling, sheets in self.spellings.items() if sheet in sheets]
        spelling = normal(re.sub(r"\(.*?\)|\[.*?\]", " ", as_text(value)))
        if len(spelling) < 4:
            return []
        names = [self.spellings[match][sheet] for match in difflib.get_close_matches(spelling, known, n=6, cutoff=0.75)]
        return [self.columns[(sheet, name)].label for name in dict.fromkeys(names)][:3]


def normal(text: str) -> str:
    """Return a heading in the form in which spellings are compared: lower case, punctuation as blanks."""
    return " ".join(re.sub(r"[\s_\-–/\\.,:;()\[\]#*'\"]+", " ", text.lower()).split())


def split_unit(text: str) -> Iterator[tuple[str, str | None]]:
    """Yield the ways a heading can be taken apart into a name and a unit; first the whole without a unit."""
    yield text, None
    for found in re.finditer(r"[(\[]([^()\[\]]*(?:\([^()]*\))?[^()\[\]]*)[)\]]", text):
        if _is_unit(found[1]):
            yield text[: found.start()] + " " + text[found.end() :], found[1].strip()
    for mark in (",", ";", ":", " in ", " - ", " / ", "/", "\n"):
        head, separator, tail = text.rpartition(mark)
        if separator and head.strip() and _is_unit(tail) and tail.strip() != "-":
            yield head, tail.strip()
    words = re.sub(r"_", " ", text).split()
    for count in (1, 2):
        tail = " ".join(words[-count:])
        if len(words) > count and _is_unit(tail) and tail != "-":
            yield " ".join(words[:-count]), tail


def _is_unit(text: str) -> bool:
    return bool(text.strip()) and (unit_of(text) is not None or is_absolute(text))


def date_and_unit(text: str) -> Iterator[tuple[str, Unit | None]]:
    """Yield the ways a heading of a wide survey can be a date, with or without a word for thickness and a unit."""
    for rest, unit_text in split_unit(text):
        unit = None if unit_text is None else unit_of(unit_text)
        bare = re.sub(r"^(?:thickness|thk|reading|readings|survey|ut)\b[\s:.,_-]*", "", rest.strip(), flags=re.I)
        yield bare.strip(" ,;:"), unit


@cache
def _columns() -> dict[tuple[str, str], Column]:
    return {
        (sheet, row["column"]): Column(row["column"], sheet, row["reads_as"], row["limits"], row["rows_of"] or sheet)
        for row in _table("columns.csv")
        for sheet in row["sheets"].split(";")
    }


@cache
def _spellings() -> dict[str, dict[str, str]]:
    columns = _columns()
    sheets_of: dict[str, list[str]] = {}
    for sheet, name in columns:
        sheets_of.setdefault(name, []).append(sheet)
    spellings: dict[str, dict[str, str]] = {}
    for sheet, name in columns:
        spellings.setdefault(normal(name), {})[sheet] = name
    for row in _table("headings.csv"):
        sheets = row["sheets"].split(";") if row["sheets"] else sheets_of[row["column"]]
        for sheet in sheets:
            if (sheet, row["column"]) in columns:
                spellings.setdefault(normal(row["spelling"]), {}).setdefault(sheet, row["column"])
    return spellings


def _table(name: str) -> list[dict[str, str]]:
    text = resources.files(__package__).joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def headings_with(extra: Mapping[str, str]) -> Headings:
    """Return the accepted headings with the plant's own added; one that names neither a
    column nor a date becomes a fault sentence."""
    columns = _columns()
    spellings = {spelling: dict(sheets) for spelling, sheets in _spellings().items()}
    faults = []
    dates: dict[str, ReadDate] = {}
    names = {name for _, name in columns}
    for spelling, target in extra.items():
        on = iso_date(target)
        if on is not None:
            dates[normal(spelling)] = on
            continue
        name = normal(target).replace(" ", "_")
        if name not in names:
            labels = ", ".join(sorted(label.replace("_", " ") for label in names))
            faults.append(
                f"[headings] '{spelling}' names the column '{target}', which does not exist: use one of {labels}, "
                "or a date such as 2011-04-15"
            )
            continue
        for sheet, column in columns:
            if column == name:
                spellings.setdefault(normal(spelling), {})[sheet] = name
    first_words = frozenset(spelling.split()[0] for spelling in spellings if spelling)
    return Headings(spellings, columns, tuple(faults), dates, _first_words=first_words)


def heading_text(value: Value) -> str:
    """Return a heading cell as one line of text."""
    return "" if isinstance(value, Fault) else " ".join(as_text(value).split())
