"""The audit workbook: the results as live formulas over the source values, so that nobody has to believe the program.

One row per component and its governing place stands at the same height on two sheets: `Inputs` holds every number that
goes in, each with where it came from, and `Calculation` works everything out again by `Formula.sheet_formula`. Next to
each live result stand the program's own value and the difference. Numbers are in the plant's coherent unit system
(`pipeline.units.COHERENT`), so that the formulas hold as they are written. What the program chose by rule (the clause,
the weld region, the rate) is written out in words; where a changed input ends such a choice the cell shows #N/A.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import duckdb
from openpyxl import Workbook

from pipeline.audit.calculation import write_calculation, write_inputs
from pipeline.audit.layout import Columns
from pipeline.audit.lists import write_assets, write_ledger, write_policies, write_read_me, write_readings
from pipeline.audit.mark import TITLE, is_audit_workbook
from pipeline.audit.results import Results
from pipeline.errors import Problem


def export_workbook(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Write the audit workbook of published results to `path`, whole or not at all.

    Raises Problem where `path` is not an .xlsx file, its folder is missing, it is open elsewhere,
    cannot be written, or is a workbook of somebody else: a register must not be lost to a slip of the hand.
    """
    _refuse(path)
    book = _written(connection)
    try:
        with tempfile.TemporaryDirectory(prefix=f".{path.stem}.", dir=path.parent) as folder:
            made = Path(folder) / path.name
            book.save(made)
            os.replace(made, path)
    except OSError as fault:
        raise Problem(
            f"{path}: cannot be written ({fault.strerror or fault}); close it elsewhere or check its permissions"
        ) from None


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


def _written(connection: duckdb.DuckDBPyConnection) -> Workbook:
    results = Results(connection)
    book = Workbook(write_only=True)
    book.properties.title = TITLE
    book.properties.creator = f"hoopline {results.program}"
    book.calculation.fullCalcOnLoad = True
    columns = Columns.of(results)
    write_read_me(book, results, columns)
    write_assets(book, results)
    write_policies(book, results)
    write_inputs(book, results, columns)
    write_calculation(book, results, columns)
    write_readings(book, results)
    write_ledger(book, results)
    return book
