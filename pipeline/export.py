"""The audit workbook: the results as live formulas over the source values, so that nobody has to believe the program.

One row per component and its governing place, or each of its places, stands at the same height on two sheets: `Inputs`
holds every number that goes in, each with where it came from, and `Calculation` works everything out again by
`Formula.sheet_formula`. Next to each live result stand the program's own value and the difference; `Checks` counts the
ones that differ. Numbers are in the plant's coherent unit system (`pipeline.units.COHERENT`), so that the formulas hold
as they are written. What the program chose by rule (the clause, the weld region, the rate) is written out in words;
where a changed input ends such a choice the cell shows #N/A.

A formula is stored with the program's own value as its result; differences and counts are stored without one, so that
a reader which works nothing out does not see an agreement that nobody found.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb

from pipeline.audit import since
from pipeline.audit.areas import write_areas, write_pits
from pipeline.audit.book import Book
from pipeline.audit.calculation import write_inputs_and_calculation
from pipeline.audit.checks import write_checks
from pipeline.audit.dates import write_dates
from pipeline.audit.decided import write_choices, write_deferrals, write_held, write_readings
from pipeline.audit.layout import Columns
from pipeline.audit.lists import write_assets, write_ledger, write_policies, write_read_me
from pipeline.audit.mark import TITLE, is_audit_workbook
from pipeline.audit.results import Results
from pipeline.audit.since import Statement, statement_path
from pipeline.errors import Problem

__all__ = ["Exported", "export_workbook", "statement_path"]

_NO_PLANT = "Not compared: these results are open without the folder of their plant."
_FIRST = "Not compared: this is the first export of this plant that is remembered here."


@dataclass(frozen=True)
class Exported:
    """What was written: for which day, how many assets and rows of calculation, the export it was compared with, and
    why the next one cannot be compared with it, if so."""

    path: Path
    as_of: date
    assets: int
    calculations: int
    compared_with: str | None
    not_remembered: str | None


def export_workbook(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    assets: Sequence[str] = (),
    all_places: bool = False,
    statement: Path | None = None,
    remember: bool = False,
) -> Exported:
    """Write the audit workbook of published results to `path`, whole or not at all; return what was written.

    `assets` are the tags it is limited to, none for all; with `all_places` every place of a component is worked out,
    not the governing one alone. `statement` is where the last export of the plant is remembered (`statement_path`):
    the sheet Changes compares with it, and with `remember` an export of all assets takes its place.

    Raises Problem where an asset is not in the results, `path` is not an .xlsx file, its folder is missing, it is open
    elsewhere, cannot be written, or is a workbook of somebody else: a register must not be lost to a slip of the hand.
    """
    _refuse(path)
    results = Results(connection, assets, all_places)
    before = since.last_statement(statement) if statement else None
    now = since.statement_of(results) if before or (statement and remember) else None
    try:
        with tempfile.TemporaryDirectory(prefix=f".{path.stem}.", dir=path.parent) as folder:
            made = Path(folder) / path.name
            _write(results, made, before, now, _FIRST if statement else _NO_PLANT)
            os.replace(made, path)
    except OSError as fault:
        raise Problem(
            f"{path}: cannot be written ({fault.strerror or fault}); close it elsewhere or check its permissions"
        ) from None
    not_remembered = None
    if now and statement and remember and not results.assets:
        try:
            since.keep(statement, now)
        except Problem as problem:
            not_remembered = str(problem)
    compared_with = before.words if before else None
    return Exported(path, results.as_of, results.asset_count, results.count, compared_with, not_remembered)


def _refuse(path: Path) -> None:
    if path.suffix.lower() != ".xlsx":
        raise Problem(f"{path}: the audit workbook is an .xlsx file; give it a name that ends in .xlsx")
    if path.is_dir():
        raise Problem(f"{path}: is a folder; name a file for the workbook")
    if not path.parent.is_dir():
        raise Problem(f"{path.parent}: there is no such folder for the workbook; make it first")
    for lock in (f".~lock.{path.name}#", f"~${path.name}"):
        if path.with_name(lock).exists():
            raise Problem(
                f"{path}: is open in a spreadsheet program; close it there, or delete {lock} if that program is gone"
            )
    if path.exists() and not is_audit_workbook(path):
        raise Problem(f"{path}: is a file that this program did not write; name another file")


def _write(results: Results, path: Path, before: Statement | None, now: Statement | None, why_not: str) -> None:
    with Book(path, TITLE, f"hoopline {results.program}") as book:
        columns = Columns.of(results)
        write_read_me(book, results)
        since.write_changes(book, results, before, now, why_not)
        write_assets(book, results)
        last_date = write_dates(book, results, columns)
        write_policies(book, results)
        write_inputs_and_calculation(book, results, columns)
        write_checks(book, results, columns, last_date)
        write_held(book, results)
        write_choices(book, results)
        write_deferrals(book, results)
        write_areas(book, results)
        write_pits(book, results)
        write_readings(book, results)
        write_ledger(book, results)
