"""Vessels of many tests built as one plant, each in a workbook of its own: its cells are where its test put them.

A build of a small plant takes a second whatever the number of its vessels, most of it for planning some seventy steps.
No vessel reaches into the numbers of another except through its service, the turnarounds and its rank; a module that
builds its vessels together holds one of them against the same vessel built alone.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import duckdb

from pipeline.run import build
from tests.plants import Rows, write_plant

Row = dict[str, Any]

#: What a vessel is called where its rows are written down.
OWN = "V-1"
#: Columns that number a row among those of all vessels, or name others by such numbers.
PLACES_AMONG_ALL = ("rank", "survey_no", "pit_survey_no", "circle_members", "line_members")


class Together:
    """Vessels that are built at the first question to one of them."""

    def __init__(self, as_of: date) -> None:
        self._as_of = as_of
        self._sheets: dict[str, dict[str, Rows]] = {}

    def vessel(self, **sheets: Rows) -> Vessel:
        """Take in a vessel by the sheets of its workbook, as `write_plant` takes them; its rows call it V-1."""
        tag = f"V-{len(self._sheets) + 101}"
        self._sheets[tag] = {
            name: [(tag, *row[1:]) if row[0] == OWN else row for row in rows] for name, rows in sheets.items()
        }
        return Vessel(self, tag)

    @cached_property
    def _folder(self) -> tempfile.TemporaryDirectory[str]:
        folder = tempfile.TemporaryDirectory()
        for tag, sheets in self._sheets.items():
            write_plant(Path(folder.name), file=f"{tag}.xlsx", **sheets)
        build(Path(folder.name), as_of=self._as_of)
        return folder

    def rows_apart(self, tag: str, folder: Path) -> dict[str, tuple[list[tuple], list[tuple]]]:
        """Build a vessel alone in `folder`; return its rows of every table of results, among the others and alone."""
        write_plant(folder, file=f"{tag}.xlsx", **self._sheets[tag])
        with duckdb.connect(str(build(folder, as_of=self._as_of).database.resolve()), read_only=True) as alone:
            tables = [
                table
                for (table,) in alone.execute(
                    "SELECT table_name FROM information_schema.columns "
                    "WHERE table_schema = 'result' AND column_name = 'asset' ORDER BY table_name"
                ).fetchall()
            ]

            def asked(connection: duckdb.DuckDBPyConnection, table: str) -> list[tuple]:
                return connection.execute(
                    f"SELECT COLUMNS(lambda name: name NOT IN {PLACES_AMONG_ALL}) FROM result.{table} "
                    "WHERE asset = ? ORDER BY ALL",
                    [tag],
                ).fetchall()

            return {table: (asked(self.results, table), asked(alone, table)) for table in tables}

    @property
    def database(self) -> Path:
        """The results of all of them."""
        return Path(self._folder.name) / "results.duckdb"

    @cached_property
    def results(self) -> duckdb.DuckDBPyConnection:
        """The results of all of them, open for questions."""
        return duckdb.connect(str(self.database.resolve()), read_only=True)


@dataclass(frozen=True)
class Vessel:
    """One of the vessels: its tag in the plant, and what the results say of it."""

    plant: Together
    tag: str

    def rows(self, table: str, where: str = "true") -> list[Row]:
        """Return its rows of a table of the results, in order; of the ledger those of its workbook."""
        own = f"file = '{self.tag}.xlsx'" if table == "result.ledger" else f"asset = '{self.tag}'"
        cursor = self.plant.results.execute(f"SELECT * FROM {table} WHERE {own} AND ({where}) ORDER BY ALL")
        names = [column[0] for column in cursor.description or []]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def one(self, table: str, where: str = "true") -> Row:
        """Return its only row of a table."""
        (row,) = self.rows(table, where)
        return row
