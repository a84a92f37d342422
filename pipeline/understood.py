"""How the sheets were read, in words: each table with its columns and units, and what would teach a heading nobody
knows. The pages and `hoopline check` say the same from here.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import duckdb

from pipeline.basis import Basis
from pipeline.reading import asked
from pipeline.sheets import read_files
from pipeline.sheets.headings import SURVEY, Headings, headings_with, normal, split_unit

Row = Mapping[str, Any]

#: Kinds of table that are not called by their name alone.
_KIND_WORDS = {
    "": "no table was recognised: nothing of it is used",
    "survey, wide": "survey, one column for each date",
    "survey, long": "survey, one row for each reading",
}
#: Why cells were ignored, as the intake names it and as people say it behind one cell and behind several.
_IGNORED_WORDS = {
    "title": ("title", "titles"),
    "header": ("heading", "headings"),
    "repeated header": ("repeated heading", "repeated headings"),
    "unit row": ("in a unit row", "in unit rows"),
    "note": ("note", "notes"),
    "total": ("total", "totals"),
    "derived column": ("in a derived column", "in derived columns"),
    "unknown column": ("in an unknown column", "in unknown columns"),
    "not a table": ("outside any table", "outside any table"),
    "field sheet row left blank": ("in a row of a field sheet left blank", "in rows of a field sheet left blank"),
}
#: Where a unit was stated, as the intake names it and as people say it.
UNIT_SOURCES = {
    "header": "heading",
    "row below header": "row below the heading",
    "cell": "the cell itself",
    "number format": "number format",
    "sheet statement": "statement on the sheet",
}
#: Kinds of quantity that are bare numbers or have one unit only, so that none need be stated.
_WITHOUT_UNIT = ("ratio", "angle")
#: The example the ledger gives for a heading that names a survey and not its date.
_UNDATED = re.compile(r'under \[headings\] in basis\.toml, such as "(.+?)" = "\d{4}-\d\d-\d\d"')


@dataclass(frozen=True)
class ReadUnit:
    """A unit of a column, where it was stated, and in how many cells it was used."""

    unit: str
    stated_in: str
    cells: int

    @property
    def words(self) -> str:
        """The unit with where it was stated."""
        return f"{self.unit} ({self.stated_in})"


@dataclass(frozen=True)
class ReadColumn:
    """One column of a table as it was understood: `meaning` is empty where it is not read, `note` says why.

    `unknown` marks a heading that no kind of table has, so that the plant may teach it.
    """

    cell: str
    heading: str
    meaning: str
    note: str
    units: tuple[ReadUnit, ...]
    measured: bool
    unknown: bool

    @property
    def unit_words(self) -> str:
        """The units with where each was stated; empty where the column has none."""
        if not self.units:
            return "no value of it is used" if self.measured else ""
        if len(self.units) == 1:
            return self.units[0].words
        return ", ".join(
            f"{unit.words}: {unit.cells:,} {'cell' if unit.cells == 1 else 'cells'}" for unit in self.units
        )

    @property
    def words(self) -> str:
        """What the column was understood as, or why it is not read."""
        return self.meaning or self.note


@dataclass(frozen=True)
class ReadTable:
    """One table of a sheet, or a sheet without a table (`kind` empty), with what became of its cells."""

    file: str
    sheet: str
    table_no: int
    kind: str
    header_row: int | None
    columns: tuple[ReadColumn, ...]
    cells: int
    used: int
    set_aside: int
    ignored: int
    ignored_reasons: Mapping[str, int]
    hidden: bool

    @property
    def kind_words(self) -> str:
        """The kind of table in words."""
        return _KIND_WORDS.get(self.kind, f"table of {self.kind}")

    @property
    def ignored_words(self) -> str:
        """Why cells were ignored, with their numbers; empty where none was."""
        return ", ".join(f"{count:,} {_ignored(reason, count)}" for reason, count in self.ignored_reasons.items())

    @property
    def place(self) -> str:
        """File and sheet."""
        return ", ".join(part for part in (self.file, self.sheet) if part)


@dataclass(frozen=True)
class UnknownHeading:
    """A heading that no kind of table has: how it would stand in `basis.toml` (without its unit), where it was found,
    the columns it could mean there, and those whose accepted spellings look like it."""

    spelling: str
    places: tuple[str, ...]
    choices: tuple[str, ...]
    near: tuple[str, ...]


@dataclass(frozen=True)
class UnlistedTag:
    """An asset tag that no register of assets lists, where it was first found, and the listed tags that have the same
    letters and digits."""

    tag: str
    place: str
    same: tuple[str, ...]


def _ignored(reason: str, count: int) -> str:
    one, many = _IGNORED_WORDS.get(reason, (reason, reason))
    return one if count == 1 else many


# ---- tables and columns ---------------------------------------------------------------------------------------------

_SHEETS = "SELECT * FROM result.sheet ORDER BY file, sheet, table_no"
# A fact belongs to the table whose heading is the nearest one above it in its own column: tables stand one below the
# other, and side by side.
_UNITS = """
WITH heading AS (
    SELECT file, sheet, table_no, header_row, json_extract_string(head, '$.cell') AS heading_cell
    FROM (SELECT *, unnest(json_extract(columns, '$[*]')) AS head FROM result.sheet WHERE header_row IS NOT NULL)
),

headed AS (SELECT *, rtrim(heading_cell, '0123456789') AS letters FROM heading),

fact AS (
    SELECT file, sheet, rtrim(cell, '0123456789') AS letters, sheet_row, unit, unit_from FROM fact.reading
    UNION ALL
    SELECT file, sheet, rtrim(cell, '0123456789'), sheet_row, unit, unit_from FROM fact.field
)

SELECT headed.file, headed.sheet, headed.table_no, headed.heading_cell, unit, unit_from, count(*) AS cells
FROM fact
ASOF JOIN headed
    ON fact.file = headed.file AND fact.sheet = headed.sheet AND fact.letters = headed.letters
    AND fact.sheet_row > headed.header_row
WHERE unit IS NOT NULL
GROUP BY ALL
ORDER BY headed.file, headed.sheet, headed.table_no, headed.heading_cell, cells DESC, unit, unit_from
"""
_SPELLINGS = "SELECT spelling, meaning FROM basis.spelling WHERE kind = 'heading' ORDER BY spelling"


def read_tables(connection: duckdb.DuckDBPyConnection) -> list[ReadTable]:
    """Return every table of every sheet of a build as it was understood, in the order of files and sheets."""
    return _tables(connection, headings_in_force(connection))


def headings_in_force(connection: duckdb.DuckDBPyConnection) -> Headings:
    """Return the headings a build accepted: the program's own and the plant's."""
    return headings_with({row["spelling"]: row["meaning"] for row in asked(connection, _SPELLINGS)})


def read_workbook(file: str, content: bytes, basis: Basis, as_of: date) -> list[ReadTable]:
    """Return the tables of one workbook as they would be understood in a plant's folder. Raises nothing for bad
    input; a workbook that cannot be read has none."""
    facts = read_files([(file, content)], basis, as_of).tables()
    with duckdb.connect() as connection:
        for name, schema in (("sheet", "result"), ("reading", "fact"), ("field", "fact")):
            connection.register("loading", facts[name])
            connection.execute(f"CREATE SCHEMA IF NOT EXISTS {schema}; CREATE TABLE {schema}.{name} AS FROM loading")
            connection.unregister("loading")
        return _tables(connection, headings_with(basis.headings))


def _tables(connection: duckdb.DuckDBPyConnection, headings: Headings) -> list[ReadTable]:
    units: dict[tuple[str, str, int, str], list[ReadUnit]] = defaultdict(list)
    for row in asked(connection, _UNITS):
        key = (row["file"], row["sheet"], row["table_no"], row["heading_cell"])
        source = UNIT_SOURCES.get(row["unit_from"] or "", row["unit_from"] or "not said")
        units[key].append(ReadUnit(row["unit"], source, row["cells"]))
    return [_table(row, headings, units) for row in asked(connection, _SHEETS)]


def _table(row: Row, headings: Headings, units: Mapping[tuple[str, str, int, str], Sequence[ReadUnit]]) -> ReadTable:
    kind: str = row["kind"] or ""
    place = (row["file"], row["sheet"], row["table_no"])
    return ReadTable(
        *place,
        kind,
        row["header_row"],
        tuple(
            _column(head, kind, headings, units.get((*place, head["cell"]), ())) for head in json.loads(row["columns"])
        ),
        row["cells"],
        row["used"],
        row["set_aside"],
        row["ignored"],
        json.loads(row["ignored_reasons"]),
        bool(row["hidden"]),
    )


def _column(head: Row, kind: str, headings: Headings, units: Sequence[ReadUnit]) -> ReadColumn:
    heading, name = head["heading"] or "", head["field"]
    column = headings.columns.get((_sheet_of(kind), name)) if name else None
    dated = kind == "survey, wide" and name == "thickness"
    meaning = "thickness on the date of the heading" if dated else column.label if column else name or ""
    if head.get("location"):
        meaning = f"{meaning}, at {head['location']}"
    measured = dated or (column is not None and column.unit_kind is not None and column.unit_kind not in _WITHOUT_UNIT)
    note, unknown = ("", False) if name else _why_not(heading, kind, headings)
    return ReadColumn(head["cell"], heading, meaning, note, tuple(units), measured, unknown)


def _why_not(heading: str, kind: str, headings: Headings) -> tuple[str, bool]:
    """Return why a column is not read, and whether its heading is one that nobody knows."""
    if headings.is_derived(heading):
        return "worked out from others: not read", False
    known = headings.read(heading)
    here = headings.column(known.spelling, kind) if known else None
    if here is not None:
        return f"not read: another column gives the {here.label}", False
    elsewhere = headings.elsewhere(heading)
    if elsewhere is not None:
        label, kinds = elsewhere
        there = " or ".join(
            dict.fromkeys(f"a {other}" if other == SURVEY else f"a table of {other}" for other in kinds)
        )
        return f"not read here: {label} belongs in {there}", False
    return "not known: not read", True


def _sheet_of(kind: str) -> str:
    """Return the name under which `columns.csv` lists a kind of table; both layouts of a survey have one."""
    return SURVEY if kind.startswith(SURVEY) else kind


# ---- what would teach it --------------------------------------------------------------------------------------------


def unknown_headings(tables: Iterable[ReadTable], headings: Headings) -> list[UnknownHeading]:
    """Return every heading nobody knows, once for each spelling."""
    found: dict[str, list[tuple[str, ReadTable, ReadColumn]]] = defaultdict(list)
    for table in tables:
        for column in table.columns:
            spelling = _without_unit(column.heading)
            if column.unknown and normal(spelling):
                found[normal(spelling)].append((spelling, table, column))
    unknown = []
    for places in found.values():
        near: dict[str, None] = {}
        for _, table, column in places:
            given = {other.meaning for other in table.columns}
            if table.kind == "survey, wide":  # its readings and dates stand under dates already
                given |= {"thickness", "date"}
            near.update(dict.fromkeys(name for name in headings.near(column.heading, table.kind) if name not in given))
        sheets = {_sheet_of(table.kind) for _, table, _ in places}
        choices = {column.label for (sheet, _), column in headings.columns.items() if sheet in sheets}
        unknown.append(
            UnknownHeading(
                places[0][0],
                tuple(f"{table.place}, {column.cell}" for _, table, column in places),
                tuple(sorted(choices)),
                tuple(near),
            )
        )
    return unknown


def undated_headings(ledger_reasons: Iterable[str]) -> list[str]:
    """Return the headings that name a survey and not its date (`TA 2011`), from what the ledger says of their cells."""
    return list(dict.fromkeys(found for reason in ledger_reasons for found in _UNDATED.findall(reason)))


def unlisted_tags(connection: duckdb.DuckDBPyConnection) -> tuple[list[UnlistedTag], list[str]]:
    """Return the asset tags that no register lists, and the tags that one does."""
    listed = [
        row["asset"] for row in asked(connection, "SELECT asset FROM step.asset WHERE in_register ORDER BY asset")
    ]
    rows = asked(
        connection,
        "SELECT asset, min_by(concat_ws(', ', file, nullif(sheet, ''), cell), record) AS place FROM ("
        "SELECT asset, record, file, sheet, cell FROM fact.field UNION ALL "
        "SELECT asset, record, file, sheet, cell FROM fact.reading UNION ALL "
        "SELECT asset, record, file, sheet, cell FROM fact.not_measured) "
        "SEMI JOIN (SELECT asset FROM step.asset WHERE NOT in_register) USING (asset) GROUP BY asset ORDER BY asset",
    )
    return beside_listed({row["asset"]: row["place"] for row in rows}, listed), listed


def beside_listed(places: Mapping[str, str], listed: Iterable[str]) -> list[UnlistedTag]:
    """Return tags that no register lists, each with its place, beside the listed ones of the same letters and
    digits."""
    by_letters: dict[str, list[str]] = defaultdict(list)
    for tag in listed:
        by_letters[_letters(tag)].append(tag)
    return [UnlistedTag(tag, place, tuple(by_letters.get(_letters(tag), ()))) for tag, place in places.items()]


def basis_lines(table: str, entries: Mapping[str, str]) -> str:
    """Return the lines of `basis.toml` that add these entries to a table (`headings`, `aliases`)."""
    return "\n".join([f"[{table}]", *(f"{_quoted(key)} = {_quoted(value)}" for key, value in entries.items())])


def _without_unit(heading: str) -> str:
    """Return a heading as it is to be taught: a unit in it is read by itself and must not become part of the name."""
    return next((rest for rest, unit in split_unit(heading) if unit is not None), heading).strip(" ,;:/-")


def _letters(tag: str) -> str:
    return re.sub(r"[\W_]+", "", tag).casefold()


def _quoted(text: str) -> str:
    # The escapes of JSON are those of TOML's basic strings, except that TOML also wants DEL escaped.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
