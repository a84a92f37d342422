"""Facts of files that have not changed, taken from the results of the build before instead of read again.

What a file says depends on its content, on the plant's headings, aliases and date order, on the as-of date, and on
the program that reads it. Where all of these are the same, so are the facts: a rebuild after one changed workbook
reads that one alone.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path

import duckdb

from pipeline import __version__
from pipeline.basis import Basis
from pipeline.record import SourceFile
from pipeline.sheets.files import FILE_SPAN
from pipeline.sheets.intake import SCHEMAS


@dataclass(frozen=True)
class KnownFacts:
    """The results file that holds them, and the files whose facts are those of now."""

    database: Path
    files: frozenset[str]


def facts_key(basis: Basis, as_of: date) -> str:
    """Return a hash of everything besides its content that decides what a file says."""
    known = {
        "program": __version__,
        "reader": _reader_hash(),
        "as_of": as_of.isoformat(),
        "date_order": basis.text_of("date_order"),
        "headings": dict(basis.headings),
        "aliases": dict(basis.aliases),
    }
    return hashlib.sha256(json.dumps(known, sort_keys=True).encode()).hexdigest()


@cache
def _reader_hash() -> str:
    """Return a hash of the part of the program that reads spreadsheets."""
    found = hashlib.sha256()
    for folder in ("pipeline.sheets", "pipeline"):
        for entry in sorted(files(folder).iterdir(), key=lambda path: path.name):
            if entry.name.endswith((".py", ".csv")) and (folder != "pipeline" or entry.name == "units.py"):
                found.update(entry.read_bytes())
    return found.hexdigest()


def facts_known(database: Path, basis: Basis, as_of: date, sources: Sequence[SourceFile]) -> KnownFacts | None:
    """Return where the facts of unchanged files are; None where there are no results to take them from."""
    if not database.exists():
        return None
    path = database.resolve()
    try:
        with duckdb.connect(str(path), read_only=True) as connection:
            key = connection.execute("SELECT facts_sha256 FROM result.build").fetchall()
            read = dict(connection.execute("SELECT file, sha256 FROM fact.source").fetchall())
    except duckdb.Error:  # results of another version, or damaged: everything is read again
        return None
    if key != [(facts_key(basis, as_of),)]:
        return None
    same = frozenset(source.file for source in sources if read.get(source.file) == source.sha256)
    return KnownFacts(path, same) if same else None


def copy_facts(connection: duckdb.DuckDBPyConnection, known: KnownFacts, places: Mapping[str, int]) -> None:
    """Copy the facts of unchanged files, their rows numbered by the place each file has in the folder now."""
    connection.execute("CREATE TEMP TABLE reused (file VARCHAR, place BIGINT)")
    for file in sorted(known.files):
        connection.execute("INSERT INTO reused VALUES (?, ?)", [file, places[file]])
    path = str(known.database).replace("'", "''")
    connection.execute(f"ATTACH '{path}' AS before (READ_ONLY)")
    connection.execute("SET preserve_insertion_order = false")
    for table, schema in SCHEMAS.items():
        columns = ", ".join(
            f"record % {FILE_SPAN} + reused.place * {FILE_SPAN}" if name == "record" else f'known."{name}"'
            for name in schema.names
        )
        names = ", ".join(f'"{name}"' for name in schema.names)
        connection.execute(
            f"INSERT INTO fact.{table} ({names}) SELECT {columns} FROM before.fact.{table} AS known "
            "JOIN reused USING (file)"
        )
    connection.execute("SET preserve_insertion_order = true")
    connection.execute("DETACH before")
    connection.execute("DROP TABLE reused")
