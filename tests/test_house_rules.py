"""The rules that keep the flow in one direction: who may import, read, ask and reckon what.

The pipeline knows no app; the app holds no arithmetic and no SQL; a step reads only what earlier steps made, and
leaves engineering arithmetic to the clauses.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.steps import Step, all_steps

ROOT = Path(__file__).resolve().parent.parent
PIPELINE = sorted((ROOT / "pipeline").rglob("*.py"))
DASHBOARD = sorted((ROOT / "dashboard").rglob("*.py"))


def short(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imports(path: Path) -> Iterator[str]:
    """Yield the dotted names a module imports."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


# ---- the pipeline knows no app --------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", PIPELINE, ids=short)
def test_the_pipeline_imports_nothing_of_the_app(path: Path) -> None:
    roots = {name.split(".")[0] for name in imports(path)}
    assert not roots & {"streamlit", "altair", "dashboard"}


# ---- the app holds no arithmetic, no SQL and builds no workbooks ----------------------------------------------------

#: `|` joins types and `/` joins paths are the only operators left, and paths are joined nowhere in the app.
ARITHMETIC = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.FloorDiv, ast.Mod, ast.Pow, ast.MatMult)
#: Names by which a library does sums: a page must not get round the rule by calling them.
RECKONING = {"sum", "mean", "median", "std", "cumsum", "diff", "prod", "add", "mul", "div", "divide", "eval"}
SQL = re.compile(r"\b(SELECT|INSERT|UPDATE|DELETE|JOIN|WHERE|GROUP BY|ORDER BY)\b|\bFROM \w+\.\w+")


def faults_of_a_page(text: str) -> list[str]:
    """Return what in the source of a page reckons or asks the database, each with its line."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.BinOp, ast.AugAssign)) and isinstance(node.op, ARITHMETIC):
            found.append(f"line {node.lineno}: arithmetic: {ast.unparse(node)}")
        elif isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in RECKONING:
                found.append(f"line {node.lineno}: arithmetic: {ast.unparse(node)}")
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.search(node.value):
            found.append(f"line {node.lineno}: SQL: {node.value[:60]}")
    return found


@pytest.mark.parametrize("path", DASHBOARD, ids=short)
def test_the_app_holds_no_arithmetic_and_no_sql(path: Path) -> None:
    assert faults_of_a_page(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "text",
    ["life = t / rate", "n += 1", "total = frame['days'].sum()", "ask('SELECT 1')", "ask('FROM result.asset')"],
)
def test_the_rule_for_pages_finds_a_breach(text: str) -> None:
    assert len(faults_of_a_page(text)) == 1


@pytest.mark.parametrize("path", DASHBOARD, ids=short)
def test_only_one_file_of_the_app_opens_results_and_none_builds_workbooks(path: Path) -> None:
    names = set(imports(path))
    assert not {name.split(".")[0] for name in names} & {"openpyxl", "python_calamine", "numpy", "math", "statistics"}
    if path.name != "data.py":
        assert not names & {"duckdb", "pipeline.publishing", "pipeline.run", "pipeline.record"}


def test_no_folder_of_the_app_bypasses_the_entry() -> None:
    assert not (ROOT / "dashboard" / "pages").exists()
    assert (ROOT / "dashboard" / "views").is_dir()


def test_the_app_loads_nothing_from_outside() -> None:
    for path in DASHBOARD:
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|icon=[\"']:material", text), short(path)


# ---- a step reads what earlier steps made ---------------------------------------------------------------------------

STEPS = all_steps()
#: Tables that are not made by a numbered step: what the intake, the basis and the reference data give, and what the
#: checks of the data find, which run between the ranking and the results.
CHECKS_FIND = "step.finding"
FIRST_RESULT = 80


def without_remarks(sql: str) -> str:
    """Return the SQL without comments and with empty strings, so that words in them are not taken for SQL."""
    return re.sub(r"'(?:[^']|'')*'", "''", re.sub(r"--.*", "", sql))


def tables_read(sql: str) -> set[str]:
    """Return the schema-qualified tables a query reads."""
    plain = re.sub(r"\s+", " ", without_remarks(sql))
    return set(re.findall(r"\b(?:FROM|JOIN) \(?(\w+\.\w+)", plain, re.IGNORECASE))


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.table)
def test_a_step_reads_the_tables_its_header_names_and_no_others(step: Step) -> None:
    assert tables_read(step.sql) == set(step.reads)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.table)
def test_a_step_reads_only_what_stands_before_it(step: Step) -> None:
    numbers = {other.table: other.number for other in STEPS}
    for table in tables_read(step.sql):
        schema = table.split(".")[0]
        if table == CHECKS_FIND:
            assert step.number >= FIRST_RESULT
        elif table in numbers:
            assert numbers[table] < step.number, f"{step.table} reads {table}"
        else:
            assert schema in {"fact", "basis", "reference"}, table


def test_tables_read_are_found_in_every_form() -> None:
    sql = (
        "SELECT * -- FROM step.remark\nFROM step.a AS x JOIN\n  step.b USING (y) "
        "WHERE z IN (SELECT 1 FROM (step.c)) OR 'FROM step.d'"
    )
    assert tables_read(sql) == {"step.a", "step.b", "step.c"}


# ---- engineering arithmetic stands in clauses -----------------------------------------------------------------------

#: Every product, quotient and power in the steps, each with the reason why it is not a clause.
REASONS = {
    "10_field": "two numbers are the same when they differ in the last binary digits only",
    "15_component": "inside and outside diameter fit the wall between them",
    "19_suspicion": "two places look swapped only where they should differ clearly",
    "20_reading": "ratio of a reading to nominal, to recognise a likely mistake; a loss against the rate before it",
    "30_history": "exact sums for the least-squares fit; the fit itself is a clause",
    "57_relief_device": "a set pressure is above the rating when it is so beyond the last binary digits",
}
ALLOWED = {
    ("10_field", "same_value_tolerance * greatest"),
    ("15_component", "diameter_mismatch * outside_diameter_mm"),
    ("19_suspicion", "swap_contrast * one.noise_limit_mm"),
    ("20_reading", "thickness_mm / nominal_mm"),
    ("20_reading", "low_reading_factor * greatest"),
    ("30_history", "thickness_mm * 100000"),
    ("30_history", "day_no * day_no"),
    ("30_history", "day_no * parts"),
    ("30_history", "parts * parts"),
    ("30_history", ") * sum"),
    ("30_history", ") * max"),
    ("30_history", ") * arg_max"),
    ("30_history", "DOUBLE / 1e5"),
    ("30_history", "DOUBLE / 1e10"),
    ("57_relief_device", "rating_pressure_mpa * ("),
}


def products(sql: str) -> set[str]:
    """Return every product, quotient and power in a query, with the words beside the operator."""
    found = set()
    # the right side is looked at without being taken, so that it may be the left side of the next operator
    for match in re.finditer(r"([\w.-]+|\))\s*(\*\*|[*/^%])(?=\s*([\w.]+|\())", without_remarks(sql)):
        left, sign, right = match.groups()
        star = sign == "*" and (
            left.upper() in {"SELECT", "DISTINCT"} or right.upper() in {"FROM", "EXCLUDE", "REPLACE"}
        )
        if not star:
            found.add(f"{left.rpartition('.')[2]} {sign} {right}")
    return found


def test_steps_leave_engineering_arithmetic_to_the_clauses() -> None:
    names = {
        step.table: f"{step.number}_{step.table.replace('result.', 'result_').removeprefix('step.')}" for step in STEPS
    }
    found = {(names[step.table], product) for step in STEPS for product in products(step.sql)}
    assert found == ALLOWED
    assert {step for step, _ in ALLOWED} == set(REASONS)


@pytest.mark.parametrize(
    ("sql", "found"),
    [
        ("SELECT p * r / (s * e) AS t FROM step.a", {"p * r", "r / (", "s * e"}),
        ("SELECT * FROM step.a", set()),
        ("SELECT a.*, b FROM step.a", set()),
        ("SELECT * EXCLUDE (x) FROM step.a -- a * b", set()),
        ("SELECT 'a * b' FROM step.a", set()),
    ],
)
def test_products_are_found_and_stars_are_not(sql: str, found: set[str]) -> None:
    assert products(sql) == found
