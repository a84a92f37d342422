"""The language clauses are written in: what it refuses, what its dimensions catch, and that its readings agree."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import openpyxl
import pytest

from pipeline.expression import DIMENSIONS, NONE, ExpressionError, dimension_of, names_in, parse, replace_name
from pipeline.formulas import ALL, FORMULAS, Formula, Limit
from pipeline.printers import PlainPrinter, SheetPrinter, SqlPrinter, TypesetPrinter, compile_python
from pipeline.quantities import BY_COLUMN, QUANTITIES
from tests.support import SHOW_ALL_DIGITS, needs_office, recalculated_cells_of

NAMES = ("a", "b", "c")


@pytest.fixture(scope="module")
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    connection = duckdb.connect()
    connection.execute("CREATE SCHEMA formula")
    for formula in ALL:
        connection.execute(formula.macro)
    yield connection
    connection.close()


# ---- what is refused ------------------------------------------------------------------------------------------------

REFUSED = (
    ("a +", "not an expression: a +"),
    ("", "not an expression: "),
    ("a; b", "not an expression: a; b"),
    ("a = b", "not an expression: a = b"),
    ("z + 1", "not allowed in a clause: z"),
    ("a % b", "not allowed in a clause: a % b"),
    ("a // b", "not allowed in a clause: a // b"),
    ("a @ b", "not allowed in a clause: a @ b"),
    ("a | b", "not allowed in a clause: a | b"),
    ("~a", "not allowed in a clause: ~a"),
    ("+a", "not allowed in a clause: +a"),
    ("not a", "not allowed in a clause: not a"),
    ("'12.5'", "not allowed in a clause: '12.5'"),
    ("a + '1'", "not allowed in a clause: '1'"),
    ("1j", "not allowed in a clause: 1j"),
    ("None", "not allowed in a clause: None"),
    ("True", "not a number: True"),
    ("a + False", "not a number: False"),
    ("a != b", "not allowed in a clause: a != b"),
    ("a is b", "not allowed in a clause: a is b"),
    ("0 < a < b", "not allowed in a clause: 0 < a < b"),
    ("a in (b, c)", "not allowed in a clause: a in (b, c)"),
    ("a ** b", "only whole-number powers are allowed: a ** b"),
    ("a ** 0.5", "only whole-number powers are allowed: a ** 0.5"),
    ("a ** (-1)", "only whole-number powers are allowed: a ** "),
    ("a ** True", "not a number: True"),
    ("round(a)", "not allowed in a clause: round(a)"),
    ("abs(a)", "not allowed in a clause: abs(a)"),
    ("min(a)", "min takes 2 argument(s): min(a)"),
    ("max(a, b, c)", "max takes 2 argument(s): max(a, b, c)"),
    ("sqrt()", "sqrt takes 1 argument(s): sqrt()"),
    ("log(a, 10)", "log takes 1 argument(s): log(a, 10)"),
    ("min(a, key=b)", "not allowed in a clause: min(a, key=b)"),
    ("min(*a, b)", "not allowed in a clause: *a"),
    ("a.real", "not allowed in a clause: a.real"),
    ("a[0]", "not allowed in a clause: a[0]"),
    ("[a]", "not allowed in a clause: [a]"),
    ("(a, b)", "not allowed in a clause: (a, b)"),
    ("lambda: a", "not allowed in a clause: lambda: a"),
    ("(z := a)", "not allowed in a clause: (z := a)"),
    ("__import__('os').system('true')", "not allowed in a clause: __import__('os').system('true')"),
    ("().__class__", "not allowed in a clause: ().__class__"),
    ("min", "not allowed in a clause: min"),
)


@pytest.mark.parametrize(("text", "message"), REFUSED, ids=[text or "nothing" for text, _ in REFUSED])
def test_refused(text: str, message: str) -> None:
    with pytest.raises(ExpressionError, match=f"^{re.escape(message)}"):
        parse(text, NAMES)


def test_a_number_too_large_for_a_double_is_refused() -> None:
    with pytest.raises(ExpressionError, match="not a number"):
        parse("a * 1e999", NAMES)


@pytest.mark.parametrize("text", ["a + (a > b)", "(a > b) * 2", "a > (b > c)", "min(a, b > c)", "-(a > b)"])
def test_a_condition_is_not_a_number(text: str) -> None:
    """DuckDB cannot add a condition to a number, Python can: the language must not leave it to them."""
    with pytest.raises(ExpressionError):
        dimension_of(parse(text, NAMES), dict.fromkeys(NAMES, NONE))


@pytest.mark.parametrize("text", ["a if b else c", "a and b", "a if b > 0 and c else 0"])
def test_a_number_is_not_a_condition(text: str) -> None:
    """`a and b` is b in Python, a truth value in DuckDB and in a spreadsheet."""
    with pytest.raises(ExpressionError):
        dimension_of(parse(text, NAMES), dict.fromkeys(NAMES, NONE))


@pytest.mark.parametrize("printer", [SqlPrinter({}), SheetPrinter({}), PlainPrinter({}), TypesetPrinter({})])
def test_a_printer_refuses_what_it_does_not_know(printer: PlainPrinter) -> None:
    name = type(printer).__name__
    for text in ("a[0]", "'text'", "lambda: 0", "not a"):
        with pytest.raises(ExpressionError, match=rf"^{name} cannot print "):
            printer.print(ast.parse(text, mode="eval").body)


def test_names_come_in_the_order_they_are_written() -> None:
    assert names_in(parse("b * sqrt(c + a) / b", NAMES)) == ["b", "c", "a"]


def test_a_name_is_replaced_everywhere_by_the_whole_expression() -> None:
    tree = replace_name(parse("c <= a - c", NAMES), "c", parse("a + b", NAMES))
    assert ast.unparse(tree) == "a + b <= a - (a + b)"


# ---- dimensions -----------------------------------------------------------------------------------------------------

LENGTH, PRESSURE, YEAR = DIMENSIONS["mm"], DIMENSIONS["MPa"], DIMENSIONS["year"]
UNITS = {"t": LENGTH, "R": LENGTH, "P": PRESSURE, "y": YEAR, "k": NONE}


@pytest.mark.parametrize(
    "text",
    [
        "t + P",
        "t - 1",
        "t + k",
        "min(t, P)",
        "max(y, t)",
        "t < P",
        "t if P > R else R",
        "t if P > 0 else P",
        "exp(P)",
        "log(t)",
        "cosd(t)",
        "t ** 2 + t",
        "sqrt(t) + t",
        "t / R + t",
        "floor(t) + P",
        "(t < P) and (t < R)",
    ],
)
def test_unlike_dimensions_are_refused(text: str) -> None:
    with pytest.raises(ExpressionError, match=r"^unlike dimensions in "):
        dimension_of(parse(text, UNITS), UNITS)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("t * P / P", LENGTH),
        ("sqrt(t * R)", LENGTH),
        ("t ** 2 / R", LENGTH),
        ("-t + R", LENGTH),
        ("min(t, 0)", LENGTH),
        ("0 if t < R else t", LENGTH),
        ("floor(t / R + 1)", NONE),
        ("exp(t / R) * P", PRESSURE),
        ("t / y", DIMENSIONS["mm/year"]),
        ("0", None),
    ],
)
def test_dimension(text: str, wanted: tuple[float, ...] | None) -> None:
    assert dimension_of(parse(text, UNITS), UNITS) == wanted


def test_a_clause_in_the_wrong_unit_cannot_be_written() -> None:
    with pytest.raises(ExpressionError, match=r"^wrong: the expression is not in mm$"):
        Formula("wrong", "t_p", "P * R", "-", "-", "pressure by length is no thickness")
    with pytest.raises(ExpressionError, match=r"^unlike dimensions in S \* E - 0\.6 \* R$"):
        Formula("wrong", "t_p", "P * R / (S * E - 0.6 * R)", "-", "-", "stress less length")
    with pytest.raises(ExpressionError, match=r"^unlike dimensions in R > P$"):
        Formula("wrong", "t_p", "R * 2", "-", "-", "a limit", (Limit("R > P", "never"),))


# ---- every clause ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_every_clause_says_what_it_is(formula: Formula) -> None:
    assert re.fullmatch(r"[a-z][a-z0-9_]*", formula.id)
    for text in (formula.title, formula.clause, formula.document):
        assert text and text == text.strip()
    assert not formula.title.endswith(".")
    assert formula.inputs
    for quantity in (*formula.inputs, formula.result_quantity):
        assert quantity.unit in DIMENSIONS
        assert quantity.label and quantity.symbol
    for limit in formula.limits:
        assert limit.otherwise and limit.otherwise == limit.otherwise.strip()
    assert formula.result not in [quantity.name for quantity in formula.inputs] or formula.id == "external_interval"


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_every_limit_is_a_condition(formula: Formula) -> None:
    for limit, tree in zip(formula.limits, formula.limit_trees, strict=True):
        assert isinstance(tree, ast.Compare | ast.BoolOp), limit.text


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_every_clause_is_in_its_unit(formula: Formula) -> None:
    dimensions = {name: DIMENSIONS[quantity.unit] for name, quantity in QUANTITIES.items()}
    assert dimension_of(formula.tree, dimensions) == pytest.approx(dimensions[formula.result])


@pytest.mark.parametrize("formula", ALL, ids=lambda formula: formula.id)
def test_inputs_go_by_symbol_or_by_column(formula: Formula) -> None:
    by_symbol = {quantity.name: 1.5 + 0.1 * place for place, quantity in enumerate(formula.inputs)}
    by_column = {QUANTITIES[name].column: number for name, number in by_symbol.items()}
    assert formula.evaluate(by_symbol) == formula.evaluate(by_column)


def test_no_two_names_meet_in_the_database() -> None:
    """SQL does not tell R from r: columns are distinct in lower case, and no symbol is another's column."""
    columns = [quantity.column for quantity in QUANTITIES.values()]
    assert len({column.lower() for column in columns}) == len(columns)
    assert all(column == column.lower() for column in columns)
    for name, quantity in QUANTITIES.items():
        assert BY_COLUMN.get(name, quantity) is quantity


def test_the_macro_is_stored_with_its_clause(con: duckdb.DuckDBPyConnection) -> None:
    stored = dict(
        con.execute("SELECT function_name, parameters FROM duckdb_functions() WHERE schema_name = 'formula'").fetchall()
    )
    assert set(stored) == set(FORMULAS)
    for formula in ALL:
        assert stored[formula.id] == [quantity.column for quantity in formula.inputs]


# ---- traps ----------------------------------------------------------------------------------------------------------

TRAPS = (
    "-a ** 2",
    "(-a) ** 2",
    "-(a ** 2)",
    "b - -a ** 2",
    "b - (-a) ** 2",
    "b - (c - a)",
    "b - (c + a)",
    "b - c + a",
    "b / (c / a)",
    "b / (c * a)",
    "b / c / a",
    "b * (c / a)",
    "b / c * a",
    "(b + c) * (a - b)",
    "-(b - c) / a",
    "2 ** 3 - a ** 3",
    "(a + b) ** 2 / (a - b) ** 2",
    "sqrt(a ** 2 + b ** 2)",
    "7 / 2",
    "1 / 3 * 3",
    "0.1 + 0.2 - 0.3",
    "exp(-a / b) - log(b)",
    "cosd(30) * a",
    "floor(-a)",
    "floor(a)",
    "min(a, -b) + max(a, b)",
    "(a if a > b else b) * 2",
    "2 * (a + b if a > b else a - b)",
    "1 if a > 0 and b > 0 or c < 0 else 2",
    "1 if a > 0 and (b < 0 or c > 0) else 2",
    "0.000001 * a",
    "123456789.123 + a",
)
VALUES = {"a": 2.5, "b": 7.25, "c": -3.0}


@pytest.mark.parametrize("text", TRAPS)
def test_trap_in_the_database(con: duckdb.DuckDBPyConnection, text: str) -> None:
    tree = parse(text, NAMES)
    columns = {name: f"{name}_v" for name in NAMES}
    given = ", ".join(f"{number}::DOUBLE AS {name}_v" for name, number in VALUES.items())
    found = con.execute(f"SELECT {SqlPrinter(columns).print(tree)} FROM (SELECT {given})").fetchone()
    assert found is not None
    assert found[0] == pytest.approx(compile_python(tree, list(NAMES))(*VALUES.values()), rel=1e-14, abs=0)


def sheet_with_traps(path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append([VALUES[name] for name in NAMES])
    cells = {"a": "A1", "b": "B1", "c": "C1"}
    for text in TRAPS:
        sheet.append([f"={SheetPrinter(cells).print(parse(text, NAMES))}"])
        sheet.cell(sheet.max_row, 1).number_format = SHOW_ALL_DIGITS
    workbook.save(path)


KNOWN = {"P": 1.5, "R": 750.0, "S": 138.0, "E": 0.85}


def sheet_beside_one_whose_name_has_blanks(path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    inputs = workbook.create_sheet("Vessel data - all")
    cells = {}
    for place, (name, number) in enumerate(KNOWN.items(), start=1):
        inputs.cell(1, place, number)
        cells[name] = f"'Vessel data - all'!{inputs.cell(1, place).coordinate}"
    sheet["A1"] = FORMULAS["cylinder_longitudinal_inside"].sheet_formula(cells)
    sheet["A1"].number_format = SHOW_ALL_DIGITS
    workbook.save(path)


def sheet_with_blanks_and_texts(path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    for row, life in enumerate((None, "12,5", "<6", "12.5", "n/a", 12.5), start=1):
        sheet.cell(row, 2, life)
        sheet.cell(row, 3, 10.0)
        sheet.cell(row, 4, 2.0)
        cells = {"RL": f"B{row}", "cap": f"C{row}", "short": f"D{row}"}
        sheet.cell(row, 1, FORMULAS["interval"].sheet_formula(cells))
    workbook.save(path)


@pytest.fixture(scope="module")
def recalculated(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[list[str]]]:
    """The cells of all three as a spreadsheet program works them out, in one start of it."""
    folder = tmp_path_factory.mktemp("sheets")
    written = {
        "traps": sheet_with_traps,
        "named": sheet_beside_one_whose_name_has_blanks,
        "blank": sheet_with_blanks_and_texts,
    }
    for name, write in written.items():
        write(folder / f"{name}.xlsx")
    return dict(zip(written, recalculated_cells_of([folder / f"{name}.xlsx" for name in written], folder), strict=True))


@needs_office
def test_traps_in_a_spreadsheet(recalculated: dict[str, list[list[str]]]) -> None:
    found = recalculated["traps"][1:]
    assert len(found) == len(TRAPS)
    for text, row in zip(TRAPS, found, strict=True):
        wanted = compile_python(parse(text, NAMES), list(NAMES))(*VALUES.values())
        # Spreadsheets take a difference in the last binary digits (0.1 + 0.2 - 0.3) for zero.
        assert float(row[0]) == pytest.approx(wanted, rel=1e-13, abs=1e-15), text


@needs_office
def test_cells_of_a_sheet_whose_name_has_blanks(recalculated: dict[str, list[list[str]]]) -> None:
    wanted = FORMULAS["cylinder_longitudinal_inside"].evaluate(KNOWN)
    assert float(recalculated["named"][0][0]) == pytest.approx(wanted, rel=1e-12)


@needs_office
def test_a_blank_or_text_cell_gives_no_number(recalculated: dict[str, list[list[str]]]) -> None:
    """MIN skips blanks and text: without the count of numbers, a missing life would get the cap as its interval."""
    assert [row[0] for row in recalculated["blank"]] == ["#N/A"] * 5 + ["6.25"]


@pytest.mark.parametrize(
    ("text", "plain", "typeset"),
    [
        ("b - a", "7 − (-3)", r"7 - \left(-3\right)"),
        ("b + a", "7 + (-3)", r"7 + \left(-3\right)"),
        ("b * a", "7 × (-3)", r"7 \times \left(-3\right)"),
        ("a ** 2", "(-3)^2", r"\left(-3\right)^{2}"),
        ("a / b", "-3 / 7", r"\frac{-3}{7}"),
    ],
)
def test_a_negative_number_is_bracketed_where_it_is_substituted(text: str, plain: str, typeset: str) -> None:
    shown = {"a": "-3", "b": "7"}
    tree = parse(text, NAMES)
    assert PlainPrinter(shown, lambda test: True).print(tree) == plain
    assert TypesetPrinter(shown, lambda test: True).print(tree) == typeset


def test_the_branch_taken_keeps_its_brackets() -> None:
    shown = {"a": "2", "b": "5"}
    tree = parse("2 * (a + b if a > b else b - a)", NAMES)
    assert PlainPrinter(shown, lambda test: True).print(tree) == "2 × (2 + 5)"
    assert TypesetPrinter(shown, lambda test: True).print(tree) == r"2 \times \left(2 + 5\right)"


# ---- NULL and text in the macros ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "call",
    [
        "interval(NULL, 10, 2)",
        "interval(8, NULL, 2)",
        "interval(8, 10, NULL)",
        "external_interval(5, NULL)",
        "rate_greater(0.1, NULL)",
        "rate_greater(NULL, 0.1)",
        "rate_governing(NULL, 0.025)",
        "required_thickness(NULL, 1.5875, 0, 0)",
        "required_thickness(8, NULL, 0, 0)",
        "neck_minimum(NULL, 1.5875, 5.49, 0.125)",
        "hold_cylinder(2.0, NULL)",
        "mawp(2.0, NULL, 0)",
        "mawp(2.0, 2.5, NULL)",
        "weld_region(25.4, NULL)",
    ],
)
def test_least_and_greatest_of_null_are_null(con: duckdb.DuckDBPyConnection, call: str) -> None:
    """`least(NULL, 10)` is 10 in DuckDB: a vessel without a life would get the cap as its interval."""
    assert con.execute("SELECT least(NULL, 10), greatest(NULL, 10)").fetchone() == (10, 10)
    assert con.execute(f"SELECT formula.{call}").fetchone() == (None,)


@pytest.mark.parametrize("text", ["12,5", "<6", "12.5 mm", "01/02/2024", "", " ", "n/a", "3/8"])
def test_text_that_is_no_number_gives_null_and_not_a_part_of_it(con: duckdb.DuckDBPyConnection, text: str) -> None:
    answer = con.execute("SELECT formula.interval(try_cast($1 AS DOUBLE), 10, 2)", [text]).fetchone()
    assert answer == (None,)


def test_decimals_are_computed_as_doubles(con: duckdb.DuckDBPyConnection) -> None:
    """A DECIMAL column must not change the arithmetic: `0.1 + 0.2 = 0.3` holds in DECIMAL and not in DOUBLE."""
    numbers = "1.5::DECIMAL(9,3), 750::DECIMAL(9,3), 138::DECIMAL(9,3), 0.85::DECIMAL(9,3)"
    found = con.execute(f"SELECT formula.cylinder_longitudinal_inside({numbers})").fetchone()
    wanted = FORMULAS["cylinder_longitudinal_inside"].evaluate({"P": 1.5, "R": 750.0, "S": 138.0, "E": 0.85})
    assert found is not None and wanted is not None
    assert isinstance(found[0], float)
    assert found[0] == pytest.approx(wanted, rel=1e-12)


def test_whole_numbers_are_not_divided_as_integers(con: duckdb.DuckDBPyConnection) -> None:
    assert con.execute("SELECT formula.years_between(7, 2), formula.interval(7, 10, 2)").fetchone() == (3.5, 3.5)


def test_a_missing_argument_is_an_error(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(duckdb.BinderException):
        con.execute("SELECT formula.interval(8, 10)")
