"""Checks of the data, one query each, returning the rows that fail.

A check is a SELECT in `name.sql` with the columns file, sheet, cell, text, reason (what is wrong and what to do),
effect (what it means for the results) and severity (set aside, warning or note). They run after the ranking, so that
they may look at every step, and what they find goes into the ledger beside what the intake set aside.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import duckdb

from pipeline.errors import Problem

COLUMNS = {
    "check_name": "check that found it",
    "file": "source file",
    "sheet": "source sheet",
    "cell": "source cell",
    "text": "the cell as it stood",
    "reason": "what is wrong and what to do",
    "effect": "what it means for the results",
    "severity": "set aside, warning or note",
}
SEVERITIES = ("set aside", "warning", "note")


@lru_cache(maxsize=1)
def all_checks() -> dict[str, str]:
    """Return the SQL of every check by its name."""
    found = (entry for entry in files("pipeline.checks").iterdir() if entry.name.endswith(".sql"))
    return {entry.name.removesuffix(".sql"): entry.read_text(encoding="utf-8") for entry in sorted(found, key=str)}


def run_checks(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Make `step.finding` of what every check finds; return how many rows each one found."""
    connection.execute(f"CREATE TABLE step.finding ({', '.join(f'{column} VARCHAR' for column in COLUMNS)})")
    connection.execute("COMMENT ON TABLE step.finding IS 'What the checks of the data found'")
    for column, meaning in COLUMNS.items():
        connection.execute(f"COMMENT ON COLUMN step.finding.{column} IS '{meaning}'")
    found = {}
    for name, sql in all_checks().items():
        connection.execute(f"INSERT INTO step.finding BY NAME SELECT '{name}' AS check_name, * FROM ({sql})")
        rows = connection.execute("SELECT severity FROM step.finding WHERE check_name = ?", [name]).fetchall()
        odd = {severity for (severity,) in rows} - set(SEVERITIES)
        if odd:
            raise Problem(f"check {name}: unknown severity {odd}")
        found[name] = len(rows)
    return found
