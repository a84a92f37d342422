"""Every clause gives the same number in DuckDB, in Python, in a spreadsheet and in the working shown to people.

DuckDB against Python: 10,000 random inputs of every clause, blanks, zeros and negatives among them, each through
`Formula.evaluate` itself; HOOPLINE_INPUTS=100000 in the environment draws more of them. Spreadsheet: live formulas
without stored values, recalculated by LibreOffice. Working: the numbers shown are read back and the result recomputed
from them.
"""

from __future__ import annotations

import ast
import math
import os
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import numpy as np
import openpyxl
import pandas as pd
import pytest

from pipeline.expression import names_in
from pipeline.formulas import ALL, FORMULAS, Formula
from pipeline.printers import PYTHON_FUNCTIONS
from pipeline.quantities import QUANTITIES
from tests.support import SHOW_ALL_DIGITS, needs_office, random_columns, random_rows, recalculated_cells

INPUTS = int(os.environ.get("HOOPLINE_INPUTS", "10000"))
SHEET_ROWS = 6
SHOWN_ROWS = 200
RELATIVE = 1e-12


@pytest.fixture(scope="module")
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    connection = duckdb.connect()
    connection.execute("SET threads = 2")
    connection.execute("CREATE SCHEMA formula")
    for formula in ALL:
        connection.execute(formula.macro)
    yield connection
    connection.close()


def macro_results(con: duckdb.DuckDBPyConnection, formula: Formula, columns: dict[str, np.ndarray]) -> list:
    # nullif: the array's NaN is this test's blank, and a blank is NULL in the pipeline's tables.
    frame = pd.DataFrame({QUANTITIES[name].column: column for name, column in columns.items()})
    arguments = ", ".join(f"nullif({column}, 'nan'::DOUBLE)" for column in frame.columns)
    con.register("drawn", frame)
    found = con.execute(f"SELECT formula.{formula.id}({arguments}) FROM drawn").fetchall()
    con.unregister("drawn")
    return [value for (value,) in found]


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_macro_agrees_with_python(con: duckdb.DuckDBPyConnection, formula: Formula) -> None:
    seed = ALL.index(formula)
    results = macro_results(con, formula, random_columns(formula, INPUTS, seed))
    known = 0
    differing = []
    for row, stored in zip(random_rows(formula, INPUTS, seed), results, strict=True):
        wanted = formula.evaluate(row)
        known += wanted is not None
        if wanted is None or stored is None:
            agrees = wanted is None and stored is None
        else:
            agrees = abs(stored - wanted) <= RELATIVE * abs(wanted)
        if not agrees:
            differing.append((row, wanted, stored))
    assert len(results) == INPUTS
    assert not differing, f"{len(differing)} of {INPUTS} differ (inputs, Python, DuckDB): {differing[:3]}"
    # The inputs must try both sides: results, and blanks or limits not met.
    assert 0.05 * INPUTS < known < INPUTS


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_macro_is_null_where_any_one_input_is_null(con: duckdb.DuckDBPyConnection, formula: Formula) -> None:
    whole = next(row for row in random_rows(formula, 1000, 1) if formula.evaluate(row) is not None)
    for missing in formula.inputs:
        arguments = [None if quantity is missing else whole[quantity.name] for quantity in formula.inputs]
        marks = ", ".join("?::DOUBLE" for _ in arguments)
        assert con.execute(f"SELECT formula.{formula.id}({marks})", arguments).fetchone() == (None,)
        assert formula.evaluate({**whole, missing.name: None}) is None


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_an_input_that_is_not_finite_gives_null(con: duckdb.DuckDBPyConnection, formula: Formula) -> None:
    """NaN sorts above every number in DuckDB and infinity passes most limits: neither is ever a datum."""
    whole = next(row for row in random_rows(formula, 1000, 1) if formula.evaluate(row) is not None)
    marks = ", ".join("?::DOUBLE" for _ in formula.inputs)
    found = []
    for spoilt in formula.inputs:
        for value in (math.nan, math.inf, -math.inf):
            row = {**whole, spoilt.name: value}
            arguments = [row[quantity.name] for quantity in formula.inputs]
            answer = con.execute(f"SELECT formula.{formula.id}({marks})", arguments).fetchone()
            found += [
                (spoilt.name, value, where, reading)
                for where, reading in (("Python", formula.evaluate(row)), ("DuckDB", answer and answer[0]))
                if reading is not None
            ]
    assert not found


# ---- spreadsheet ----------------------------------------------------------------------------------------------------


@needs_office
def test_spreadsheet_agrees_with_python(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    wanted: list[tuple[Formula, dict[str, float | None], float | None]] = []
    for formula in ALL:
        for row in sheet_rows(formula):
            at = len(wanted) + 1
            cells = {}
            for place, quantity in enumerate(formula.inputs, start=2):
                cell = sheet.cell(at, place, row[quantity.name])
                cells[quantity.name] = cell.coordinate
            result = sheet.cell(at, 1, formula.sheet_formula(cells))
            result.number_format = SHOW_ALL_DIGITS
            wanted.append((formula, row, formula.evaluate(row)))
    path = tmp_path / "clauses.xlsx"
    workbook.save(path)
    found = recalculated_cells(path, tmp_path)
    assert len(found) == len(wanted) >= SHEET_ROWS * len(ALL)
    differing = []
    for (formula, row, value), cells_found in zip(wanted, found, strict=True):
        shown = cells_found[0]
        if value is None:
            agrees = shown == "#N/A"
        else:
            # The format shows 15 digits: a reading of it is good to half a unit of the last.
            agrees = re.fullmatch(r"-?\d\.\d{14}E[+-]\d+", shown) is not None and math.isclose(
                float(shown), value, rel_tol=RELATIVE, abs_tol=0.0
            )
        if not agrees:
            differing.append((formula.id, row, value, shown))
    assert not differing, f"{len(differing)} of {len(wanted)} differ (inputs, Python, sheet): {differing[:5]}"
    assert sum(value is None for _, _, value in wanted) > len(ALL)


def sheet_rows(formula: Formula) -> list[dict[str, float | None]]:
    """Some rows with a result, some outside the limits or with a zero, and one with a blank."""
    with_result, without, blank = [], [], []
    for row in random_rows(formula, 2000, 2):
        if None in row.values():
            blank.append(row)
        elif formula.evaluate(row) is None or 0.0 in row.values():
            without.append(row)
        else:
            with_result.append(row)
    zeros = [next((row for row in without if row[quantity.name] == 0.0), with_result[0]) for quantity in formula.inputs]
    return with_result[:3] + without[:2] + zeros + blank[:1]


# ---- working shown --------------------------------------------------------------------------------------------------


def shown_numbers(row: dict[str, float | None]) -> dict[str, str]:
    return {name: f"{value:.12g}" for name, value in row.items() if value is not None}


def rows_with_result(formula: Formula) -> Iterator[dict[str, float | None]]:
    """Rows as a register holds them, with a few digits, so that twelve shown digits are all of them."""
    found = 0
    for row in random_rows(formula, 20 * SHOWN_ROWS, 3):
        short = {name: None if value is None else float(f"{value:.6g}") for name, value in row.items()}
        if formula.evaluate(short) is not None and found < SHOWN_ROWS:
            found += 1
            yield short
    assert found == SHOWN_ROWS


def recompute(text: str) -> float:
    return float(eval(text, {"__builtins__": {}, **PYTHON_FUNCTIONS, "ln": math.log, "π": math.pi}))


def read_plain(text: str) -> float:
    """Read one line of working as a person would: no names, only numbers and functions."""
    text = text.replace("×", "*").replace("−", "-").replace("^", "**")
    return recompute(re.sub(r"cos\(([^()]*)°\)", r"cosd(\1)", text))


def group(text: str, start: int) -> tuple[str, int]:
    """Return what stands between the braces that open at `start`, and the place after them."""
    depth = 0
    for place in range(start, len(text)):
        depth += {"{": 1, "}": -1}.get(text[place], 0)
        if depth == 0:
            return text[start + 1 : place], place + 1
    raise AssertionError(f"braces do not close: {text}")


def untypeset(text: str) -> str:
    """Turn the LaTeX of a clause with numbers into an expression that Python can compute."""
    for command, joint in ((r"\frac", "/"), (r"\sqrt", "")):
        while (at := text.find(command + "{")) >= 0:
            first, after = group(text, at + len(command))
            if joint:
                second, after = group(text, after)
                text = f"{text[:at]}(({first})/({second})){text[after:]}"
            else:
                text = f"{text[:at]}sqrt({first}){text[after:]}"
    text = re.sub(r"\\cos\\left\(([^()]*)\^\{\\circ\}\\right\)", r"cosd(\1)", text)
    text = re.sub(r"\^\{(\d+)\}", r"**\1", text)
    text = text.replace(r"\left\lfloor", "floor(").replace(r"\right\rfloor", ")")
    for written, read in (
        (r"\left", ""),
        (r"\right", ""),
        (r"\times", "*"),
        (r"\,", "*"),
        (r"\ln", "ln"),
        (r"\pi", "π"),
    ):
        text = text.replace(written, read)
    return re.sub(r"\\(min|max|exp)", r"\1", text)


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_numbers_shown_give_the_result_shown(formula: Formula) -> None:
    for row in rows_with_result(formula):
        wanted = formula.evaluate(row)
        assert wanted is not None
        plain = formula.plain_values(row, shown_numbers(row))
        typeset = formula.typeset_values(row, shown_numbers(row))
        assert math.isclose(read_plain(plain), wanted, rel_tol=1e-9, abs_tol=1e-12), (row, plain)
        assert math.isclose(recompute(untypeset(typeset)), wanted, rel_tol=1e-9, abs_tol=1e-12), (row, typeset)


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_working_shows_only_the_branch_taken(formula: Formula) -> None:
    for row in rows_with_result(formula):
        plain = formula.plain_values(row, shown_numbers(row))
        typeset = formula.typeset_values(row, shown_numbers(row))
        assert not re.search(r"\bif\b|\belse\b", plain)
        assert "cases" not in typeset and "otherwise" not in typeset
        assert "<" not in plain and r"\le" not in typeset.replace(r"\left", "")


def test_working_of_the_interval_has_two_branches() -> None:
    interval = FORMULAS["interval"]
    assert interval.plain_values(*twice({"RL": -1.0, "cap": 10.0, "short": 2.0})) == "0"
    assert interval.plain_values(*twice({"RL": 7.0, "cap": 10.0, "short": 2.0})) == "min(10, max(7 / 2, min(7, 2)))"


def twice(row: dict[str, float | None]) -> tuple[dict[str, float | None], dict[str, str]]:
    return row, shown_numbers(row)


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_symbols_shown_are_those_of_the_clause(formula: Formula) -> None:
    plain = formula.plain()
    assert plain.startswith(f"{formula.result} = ")
    assert formula.typeset().startswith(f"{formula.result_quantity.symbol} = ")
    for name in names_in(formula.tree):
        assert re.search(rf"(?<!\w){re.escape(name)}(?!\w)", plain.split(" = ", 1)[1]), name
        assert QUANTITIES[name].symbol in formula.typeset()
    if not any(isinstance(node, ast.IfExp) for node in ast.walk(formula.tree)):
        values = next(rows_with_result(formula))
        namespace = {**PYTHON_FUNCTIONS, "cos": PYTHON_FUNCTIONS["cosd"], "ln": math.log, "π": math.pi, **values}
        text = plain.split(" = ", 1)[1].replace("×", "*").replace("−", "-").replace("^", "**")
        assert math.isclose(eval(text, {"__builtins__": {}}, namespace), formula.evaluate(values) or 0.0, rel_tol=1e-12)


def test_a_missing_input_has_no_working() -> None:
    with pytest.raises(ValueError, match="cylinder_longitudinal_inside: an input is missing"):
        FORMULAS["cylinder_longitudinal_inside"].plain_values({"P": 1.0}, {"P": "1"})
