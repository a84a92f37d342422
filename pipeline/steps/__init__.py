"""The numbered SQL steps, and the contract each one states in its header.

A step is one SELECT in `NN_name.sql`; it makes the table `step.name`, or `result.name` for `NN_result_name.sql`. Its
header gives a title, the grain (the columns that make a row unique), the tables it reads, and every column with its
meaning; where it says `none without`, there are no rows while those tables have none. The runner refuses a step whose
real columns differ from the stated ones, that reads a table of a higher number, or whose grain is not unique.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import duckdb

from pipeline.errors import Problem

_FILE = re.compile(r"^(\d\d)_(\w+)\.sql$")


@dataclass(frozen=True)
class Step:
    """One SQL step with what its header states."""

    number: int
    table: str
    title: str
    grain: tuple[str, ...]
    reads: tuple[str, ...]
    columns: dict[str, str]
    sql: str
    none_without: tuple[str, ...] = ()


@lru_cache(maxsize=1)
def all_steps() -> tuple[Step, ...]:
    """Return every step in the order in which it runs."""
    found = []
    for entry in files("pipeline.steps").iterdir():
        match = _FILE.match(entry.name)
        if match:
            found.append(_parse(int(match[1]), match[2], entry.read_text(encoding="utf-8")))
    return tuple(sorted(found, key=lambda step: (step.number, step.table)))


def _parse(number: int, name: str, text: str) -> Step:
    table = f"result.{name.removeprefix('result_')}" if name.startswith("result_") else f"step.{name}"
    header = [line[3:].strip() for line in text.splitlines() if line.startswith("-- ")]
    columns: dict[str, str] = {}
    grain: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()
    none_without: tuple[str, ...] = ()
    for line in header[1:]:
        if line.startswith("grain:"):
            grain = tuple(part.strip() for part in line.removeprefix("grain:").split(","))
        elif line.startswith("reads:"):
            reads = tuple(part.strip() for part in line.removeprefix("reads:").split(","))
        elif line.startswith("none without:"):
            none_without = tuple(part.strip() for part in line.removeprefix("none without:").split(","))
        elif line.startswith("column "):
            column, _, meaning = line.removeprefix("column ").partition(":")
            columns[column.strip()] = meaning.strip()
    return Step(number, table, header[0], grain, reads, columns, text, none_without)


#: Columns with their types of steps that say `none without`, as the database planned them once in this process.
_PLANNED: dict[str, str] = {}
#: Steps whose real columns were found to be the stated ones in this process.
_HELD_AGAINST_HEADER: set[tuple[str, tuple[str, ...]]] = set()


def make_table(connection: duckdb.DuckDBPyConnection, step: Step) -> None:
    """Make the step's table; one that can have no rows is made empty, without planning what takes long to plan."""
    if step.none_without and step.table in _PLANNED and not _any_rows(connection, step.none_without):
        connection.execute(f"CREATE TABLE {step.table} ({_PLANNED[step.table]})")
        return
    connection.execute(f"CREATE TABLE {step.table} AS {step.sql}")
    if step.none_without and step.table not in _PLANNED:
        planned = connection.execute(f"DESCRIBE {step.table}").fetchall()
        _PLANNED[step.table] = ", ".join(f'"{name}" {kind}' for name, kind, *_ in planned)


def _any_rows(connection: duckdb.DuckDBPyConnection, tables: tuple[str, ...]) -> bool:
    return any(connection.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchall() for table in tables)


def run_step(connection: duckdb.DuckDBPyConnection, step: Step) -> int:
    """Make the step's table, hold it against its header, and return its number of rows."""
    make_table(connection, step)
    stated = (step.sql, tuple(step.columns))
    if stated not in _HELD_AGAINST_HEADER:  # the columns do not depend on the data
        real = [row[0] for row in connection.execute(f"DESCRIBE {step.table}").fetchall()]
        if sorted(real) != sorted(step.columns):
            odd = sorted(set(real) ^ set(step.columns))
            raise Problem(f"step {step.number} ({step.table}): columns and header differ in {', '.join(odd)}")
        _HELD_AGAINST_HEADER.add(stated)
    grain = ", ".join(f'"{column}"' for column in step.grain)
    [(rows, most)] = connection.execute(
        f"SELECT coalesce(sum(rows), 0), max(rows) FROM (SELECT count(*) AS rows FROM {step.table} GROUP BY {grain})"
    ).fetchall()
    if most is not None and most > 1:
        doubled = connection.execute(
            f"SELECT {grain} FROM {step.table} GROUP BY {grain} HAVING count(*) > 1 LIMIT 1"
        ).fetchall()
        raise Problem(
            f"step {step.number} ({step.table}): two rows for {dict(zip(step.grain, doubled[0], strict=True))}"
        )
    return int(rows)


def comment_on(connection: duckdb.DuckDBPyConnection, steps: Iterable[Step]) -> None:
    """Write what the steps state into the database, for whoever opens it.

    A result has its title on the table and each meaning on its column. The other steps have all of it on the table: a
    comment on every one of their columns would take as long as computing a small plant.
    """
    for step in steps:
        if step.table.startswith("result."):
            comments = [f"COMMENT ON TABLE {step.table} IS {_quoted(step.title)}"]
            comments += [
                f'COMMENT ON COLUMN {step.table}."{column}" IS {_quoted(meaning)}'
                for column, meaning in step.columns.items()
            ]
        else:
            lines = [step.title, *(f"{column}: {meaning}" for column, meaning in step.columns.items())]
            comments = [f"COMMENT ON TABLE {step.table} IS {_quoted(chr(10).join(lines))}"]
        connection.execute("; ".join(comments))


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
