"""Because of what: the readings, register cells, files, policies and entries that differ between two builds."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb

from pipeline.basis import Basis
from pipeline.reading import in_place
from pipeline.record import BASIS_NAME, Entry, SourceFile
from pipeline.replay import Known

#: How many differences one cause names; the rest are counted.
NAMED = 6


@dataclass(frozen=True)
class FileChange:
    """A file that is another one now: how (new, changed or gone), and the hashes of its content ("" for none)."""

    file: str
    how: str
    sha256_before: str
    sha256_after: str

    @property
    def words(self) -> str:
        """The change as one line."""
        if self.how == "changed":
            return f"{self.file} changed (SHA-256 {self.sha256_before[:12]}, now {self.sha256_after[:12]})"
        return f"{self.file} is {self.how} (SHA-256 {(self.sha256_before or self.sha256_after)[:12]})"


def changed_files(before: Known, after: Known) -> list[FileChange]:
    """Return every file whose content differs, by name."""
    then, now = _hashes(before.folder.sources), _hashes(after.folder.sources)
    found = []
    for file in sorted(then.keys() | now.keys()):
        if then.get(file) != now.get(file):
            how = "new" if file not in then else "gone" if file not in now else "changed"
            found.append(FileChange(file, how, then.get(file, ""), now.get(file, "")))
    return found


def _hashes(sources: Sequence[SourceFile]) -> dict[str, str]:
    return {source.file: source.sha256 for source in sources}


def changed_policies(before: Basis, after: Basis) -> list[str]:
    """Return every policy with another value, and every other table of the basis that differs, as one line each."""
    lines = [
        f"{key} ({after.policies[key].label}) was {_valued(before, key)}, is now {_valued(after, key)}"
        for key in after.policies
        if before.policies[key].value != after.policies[key].value
    ]
    for name in ("headings", "aliases", "people"):
        then, now = getattr(before, name), getattr(after, name)
        lines += [
            f"[{name}] of {BASIS_NAME}: {text} was {then.get(text, 'not there')}, is now {now.get(text, 'not there')}"
            for text in sorted(then.keys() | now.keys())
            if then.get(text) != now.get(text)
        ]
    return lines


def _valued(basis: Basis, key: str) -> str:
    policy = basis.policies[key]
    value = f"{policy.value:g}" if isinstance(policy.value, float) else str(policy.value or "left open")
    return f"{value} {policy.unit}" if policy.unit != "-" else value


def changed_lines(before: Basis, after: Basis) -> list[str]:
    """Return the lines of the plant's basis that went (-) and came (+)."""
    compared = difflib.unified_diff(before.text.splitlines(), after.text.splitlines(), lineterm="", n=0)
    return [line for line in compared if line[:1] in "+-" and not line.startswith(("+++", "---"))]


def entry_words(entry: Entry) -> str:
    """Return in one line what a person did, who, when and why."""
    cells = ", ".join(f"{name} {value}" for name, value in entry.cells.items() if str(value).strip())
    return (
        f"entry {entry.seq} of {entry.at[:16].replace('T', ' ')} by {entry.who}, {entry.kind} ({cells}): {entry.reason}"
    )


# ---- facts ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Fact:
    """One fact that came, went or changed: the asset and component it is about (None: all of them), and in words."""

    asset: str | None
    component: str | None
    words: str


@dataclass
class Facts:
    """All facts in which two builds differ."""

    found: list[Fact] = field(default_factory=list)

    def about(self, asset: str, component: str | None) -> list[str]:
        """Return the facts about a component, else about its asset, else about the whole plant, in words.

        For an asset (`component` None) every fact about it.
        """
        own = [fact for fact in self.found if fact.asset == asset]
        if component is not None:
            close = [fact for fact in own if fact.component in (component, None)]
            own = close or own
        return [fact.words for fact in own or [fact for fact in self.found if fact.asset is None]]


_READINGS = "asset, component, location, read_on, thickness_mm, text, unit"
_FIELDS = "kind, asset, component, location, field, text, number, on_date, word"


def differing_facts(before: Path, after: Path) -> Facts:
    """Return the readings and register cells in which the results of one build differ from those of the one before.

    A row that only stands in another cell now is no difference.
    """
    connection = duckdb.connect()
    try:
        for name, path in (("before", before), ("after", after)):
            quoted = str(path).replace("'", "''")
            connection.execute(f"ATTACH '{quoted}' AS {name} (READ_ONLY)")
        readings = _differences(connection, "reading", _READINGS)
        fields = _differences(connection, "field", _FIELDS)
    finally:
        connection.close()
    return Facts([*_reading_facts(*readings), *_field_facts(*fields)])


_Rows = list[dict[str, Any]]


def _differences(connection: duckdb.DuckDBPyConnection, table: str, columns: str) -> tuple[_Rows, _Rows]:
    """Return the rows of a table of facts that came and those that went, each with its cell."""
    found = []
    for here, there in (("after", "before"), ("before", "after")):
        same = " AND ".join(f"one.{name} IS NOT DISTINCT FROM other.{name}" for name in columns.split(", "))
        cursor = connection.execute(
            f"WITH other AS (SELECT {columns} FROM {here}.fact.{table} EXCEPT ALL "
            f"SELECT {columns} FROM {there}.fact.{table}) "
            f"SELECT DISTINCT one.* FROM {here}.fact.{table} AS one JOIN other ON {same} ORDER BY one.record, one.cell"
        )
        names = [column[0] for column in cursor.description or []]
        found.append([dict(zip(names, row, strict=True)) for row in cursor.fetchall()])
    return found[0], found[1]


def _reading_facts(came: _Rows, went: _Rows) -> Iterable[Fact]:
    pairs, new, old = _paired(came, went, ("asset", "component", "location", "read_on"))
    for row, before in pairs:
        words = f"reading at {_place(row)} was {_stood(before)}, is now {_stood(row)} ({_cell(row)})"
        yield Fact(row["asset"], row["component"], words)
    for row in new:
        yield Fact(row["asset"], row["component"], f"new reading {_stood(row)} at {_place(row)} ({_cell(row)})")
    for row in old:
        words = f"reading {_stood(row)} at {_place(row)} is gone ({_cell(row)})"
        yield Fact(row["asset"], row["component"], words)


def _place(row: Mapping[str, Any]) -> str:
    return f"{row['component'] or 'an unnamed component'}, location {row['location']}, {row['read_on']}"


def _field_facts(came: _Rows, went: _Rows) -> Iterable[Fact]:
    """Yield the register cells that differ one by one, and whole rows that came or went as one fact each."""
    pairs, new, old = _paired(came, went, ("kind", "asset", "component", "location", "field"))
    for row, before in pairs:
        words = f"{row['kind']}: {_field(row)} was “{before['text']}”, is now “{row['text']}” ({_cell(row)})"
        yield Fact(row["asset"], row["component"], words)
    for rows, how in ((new, "new"), (old, "gone")):
        for together in _grouped(rows, ("kind", "asset", "component", "location", "file", "record")).values():
            row = together[0]
            told = [each for each in together if each["field"] not in _NAMES] or together
            cells = ", ".join(f"{each['field'].replace('_', ' ')} “{each['text']}”" for each in told)
            where = in_place(row["component"], row["location"])
            of = f" of {where}" if where else ""
            yield Fact(row["asset"], row["component"], f"{row['kind']}{of}, {how}: {cells} ({_cell(row)})")


#: Columns that name what a row is about, which is said anyway.
_NAMES = ("asset", "component", "location")


def _field(row: Mapping[str, Any]) -> str:
    where = in_place(row["component"], row["location"])
    name = row["field"].replace("_", " ")
    return f"{name} of {where}" if where else name


def _paired(
    came: _Rows, went: _Rows, key: tuple[str, ...]
) -> tuple[list[tuple[dict[str, Any], dict[str, Any]]], _Rows, _Rows]:
    """Return what came in the place of something that went, what else came, and what else went.

    Only where one row came and one went for the same thing does the one stand in the place of the other.
    """
    new, old = _grouped(came, key), _grouped(went, key)
    both = {place for place in new if len(new[place]) == 1 and len(old.get(place, [])) == 1}
    pairs = [(new[place][0], old[place][0]) for place in new if place in both]
    rest_new = [row for place, rows in new.items() if place not in both for row in rows]
    rest_old = [row for place, rows in old.items() if place not in both for row in rows]
    return pairs, rest_new, rest_old


def _grouped(rows: _Rows, key: tuple[str, ...]) -> Mapping[tuple[Any, ...], _Rows]:
    groups: dict[tuple[Any, ...], _Rows] = {}
    for row in rows:
        groups.setdefault(tuple(row[name] for name in key), []).append(row)
    return groups


def _stood(row: Mapping[str, Any]) -> str:
    text, unit = row["text"] or "", row["unit"]
    return f"“{text} {unit}”" if unit and unit != "-" and unit not in text else f"“{text}”"


def _cell(row: Mapping[str, Any]) -> str:
    return ", ".join(part for part in (row["file"], row["sheet"], row["cell"]) if part)


def named(words: Sequence[str]) -> str:
    """Return some facts as one text: the first ones in words, the rest counted."""
    unique = list(dict.fromkeys(words))
    more = len(unique) - NAMED
    return "; ".join([*unique[:NAMED], *([f"and {more} more"] if more > 0 else [])])
