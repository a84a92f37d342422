"""The numbered SQL steps, and the contract each one states in its header.

A step is one SELECT in `NN_name.sql`; it makes the table `step.name`, or `result.name` for `NN_result_name.sql`. Its
header gives a title, the grain (the columns that make a row unique), the tables it reads, and every column with its
meaning. The runner refuses a step whose real columns differ from the stated ones, that reads a table of a higher
number, or whose grain is not unique.
"""

from __future__ import annotations

import re
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
    for line in header[1:]:
        if line.startswith("grain:"):
            grain = tuple(part.strip() for part in line.removeprefix("grain:").split(","))
        elif line.startswith("reads:"):
            reads = tuple(part.strip() for part in line.removeprefix("reads:").split(","))
        elif line.startswith("column "):
            column, _, meaning = line.removeprefix("column ").partition(":")
            columns[column.strip()] = meaning.strip()
    return Step(number, table, header[0], grain, reads, columns, text)


def run_step(connection: duckdb.DuckDBPyConnection, step: Step) -> int:
    """Make the step's table, hold it against its header, and return its number of rows."""
    connection.execute(f"CREATE TABLE {step.table} AS {step.sql}")
    real = [row[0] for row in connection.execute(f"DESCRIBE {step.table}").fetchall()]
    if sorted(real) != sorted(step.columns):
        odd = sorted(set(real) ^ set(step.columns))
        raise Problem(f"step {step.number} ({step.table}): columns and header differ in {', '.join(odd)}")
    grain = ", ".join(f'"{column}"' for column in step.grain)
    doubled = connection.execute(
        f"SELECT {grain} FROM {step.table} GROUP BY {grain} HAVING count(*) > 1 LIMIT 1"
    ).fetchall()
    if doubled:
        raise Problem(
            f"step {step.number} ({step.table}): two rows for {dict(zip(step.grain, doubled[0], strict=True))}"
        )
    comments = [f"COMMENT ON TABLE {step.table} IS {_quoted(step.title)}"]
    comments += [
        f'COMMENT ON COLUMN {step.table}."{column}" IS {_quoted(meaning)}' for column, meaning in step.columns.items()
    ]
    connection.execute("; ".join(comments))
    return int(connection.execute(f"SELECT count(*) FROM {step.table}").fetchall()[0][0])


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
