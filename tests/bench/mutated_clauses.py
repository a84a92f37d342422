"""Clauses changed by one mark, and which test finds it out: the first half of `tests.bench.mutants`.

A mutant of a clause is its expression, or one of its limits, with one operator, comparison, constant, name, function or
branch changed. It is put into the `Formula` object of this process alone; no file is touched. Tests that only hold one
printed form of a clause against another (DuckDB, spreadsheet, working) are no evidence: all forms come from one tree.
"""

from __future__ import annotations

import ast
import contextlib
import copy
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from pipeline.expression import FUNCTIONS, ExpressionError, names_in
from pipeline.formulas import ALL, FORMULAS, Formula, Limit
from pipeline.formulas.required_thickness import SMALL_HEAD
from pipeline.quantities import QUANTITIES

ROOT = Path(__file__).resolve().parent.parent.parent
#: Where a clause is held against a source, against arithmetic by hand, or against what must be so of any input.
FILES = (
    *("tests/published/test_published.py", "tests/test_clause_examples.py", "tests/test_formula_properties.py"),
    *("tests/test_independent_roads.py", "tests/test_external_pressure.py", "tests/test_thin_heads.py"),
    *("tests/test_area_rules.py", "tests/test_what_if.py", "tests/test_demo_stories.py"),
)
#: The table of checks is written from the clauses themselves, and the other two are about its rows.
NO_EVIDENCE = ("test_the_table_is_up_to_date", "test_a_changed_value_is_found_out", "test_check_states_its_source")
LONGEST = 3.0  # seconds a test may take to be asked for every mutant of a clause

_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
}


@dataclass(frozen=True)
class ClauseMutant:
    """One change of one clause: `place` is the expression or the number of a limit, `text` what stands there instead
    (empty: the limit is left out)."""

    of: str
    place: int | None
    text: str

    @property
    def said(self) -> str:
        """The mutant as people read it, and as the table of equivalent ones names it."""
        if self.place is None:
            return self.text
        return f"limit {FORMULAS[self.of].limits[self.place].text}: {self.text or 'left out'}"


# ---- what is changed ------------------------------------------------------------------------------------------------


def clauses() -> list[Formula]:
    """Return the clauses that are written; those derived from another one change with it."""
    return [formula for formula in ALL if _origin(formula) is None]


def _origin(formula: Formula) -> str | None:
    name = formula.id.removesuffix("_thin")
    return name if name != formula.id and name in FORMULAS else None


def mutants_of(formula: Formula) -> list[ClauseMutant]:
    """Return every mutant of a clause, in the order in which it is written."""
    names = [quantity.name for quantity in formula.inputs]
    found = [ClauseMutant(formula.id, None, text) for text in _changed(formula.expression, names)]
    for number, limit in enumerate(formula.limits):
        found.append(ClauseMutant(formula.id, number, ""))
        # The result stands in a limit for the expression: it is no other input of the same kind.
        found += [ClauseMutant(formula.id, number, text) for text in _changed(limit.text, names)]
    return found


def _changed(text: str, names: Sequence[str]) -> list[str]:
    tree = ast.parse(text, mode="eval")
    found: dict[str, None] = {}
    for number, node in enumerate(ast.walk(tree)):
        if isinstance(node, ast.expr):
            for other in _others(node, names):
                found[ast.unparse(_with(tree, number, other))] = None
    found.pop(ast.unparse(tree), None)
    return list(found)


def _with(tree: ast.Expression, number: int, other: ast.expr) -> ast.Expression:
    """Return a copy of the tree with another node in the place of the one of that number."""
    changed = copy.deepcopy(tree)
    target = list(ast.walk(changed))[number]

    class Put(ast.NodeTransformer):
        def visit(self, node: ast.AST) -> ast.AST:
            return other if node is target else self.generic_visit(node)

    put = Put().visit(changed)
    assert isinstance(put, ast.Expression)
    return put


def _others(node: ast.expr, names: Sequence[str]) -> Iterator[ast.expr]:
    """Yield what may stand in the place of a node: one change each."""
    match node:
        case ast.BinOp(left=left, op=op, right=right):
            if type(op) in _OPERATORS:
                yield ast.BinOp(left, _OPERATORS[type(op)](), right)
        case ast.UnaryOp(operand=operand):
            yield operand
        case ast.Compare(left=left, ops=[op], comparators=right):
            for other in _COMPARISONS.get(type(op), ()):
                yield ast.Compare(left, [other()], right)
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
            yield from values
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield from (body, orelse, ast.IfExp(test, orelse, body))
        case ast.Call(func=ast.Name(id="min" | "max" as function), args=args):
            yield ast.Call(ast.Name("max" if function == "min" else "min"), args, [])
            yield from args
        case ast.Call(args=[argument]):
            yield argument
        case ast.Constant(value=int() | float() as value):
            for number in dict.fromkeys((0, 1, value * 2, value + 1)):
                if number != value:
                    yield ast.Constant(number)
        case ast.Name(id=name) if name not in FUNCTIONS:
            for other_name in names:
                if other_name != name and QUANTITIES[other_name].unit == QUANTITIES[name].unit:
                    yield ast.Name(other_name)


@contextlib.contextmanager
def planted(mutant: ClauseMutant) -> Iterator[None]:
    """Let the clause (and the one derived from it) be the mutant; raises ExpressionError where it cannot be one."""
    formula = FORMULAS[mutant.of]
    expression, limits = formula.expression, list(formula.limits)
    if mutant.place is None:
        expression = mutant.text
    elif mutant.text:
        limits[mutant.place] = Limit(mutant.text, limits[mutant.place].otherwise)
    else:
        del limits[mutant.place]
    tried = Formula("mutant", formula.result, expression, "", "", "", tuple(limits))
    if not names_in(tried.tree):
        raise ExpressionError("a clause without an input")
    family = [formula, *(each for each in ALL if _origin(each) == formula.id)]
    before = [dict(each.__dict__) for each in family]
    try:
        for each in family:
            kept = [limit for limit in limits if each is formula or limit.otherwise != SMALL_HEAD]
            for printed in ("tree", "limit_trees", "inputs", "macro", "unmet_macro", "_compiled"):
                each.__dict__.pop(printed, None)
            each.__dict__.update(expression=expression, limits=tuple(kept))
        yield
    finally:
        for each, were in zip(family, before, strict=True):
            each.__dict__.clear()
            each.__dict__.update(were)


# ---- what finds it out ----------------------------------------------------------------------------------------------


@dataclass
class Check:
    """One test with its arguments, the clauses it works out, and how long it takes."""

    name: str
    call: Callable[[], Any]
    clauses: frozenset[str]
    seconds: float


class ClauseChecks:
    """The tests that need nothing but the clauses, collected once in this process."""

    def __init__(self) -> None:
        self.checks = [check for item in collect(FILES) if (check := self._tried(item)) is not None]

    @staticmethod
    def _tried(item: pytest.Function) -> Check | None:
        given = item.callspec.params if hasattr(item, "callspec") else {}
        wanted = set(item.fixturenames) - set(given) - {"request"}
        if wanted or item.originalname in NO_EVIDENCE:
            return None

        def call() -> Any:
            return item.obj(**given)

        begun = time.perf_counter()
        with _worked_out() as ids:
            call()
        seconds = time.perf_counter() - begun
        if not ids or seconds > LONGEST:
            return None
        return Check(item.nodeid, call, frozenset(ids), seconds)

    def found_out_by(self, mutant: ClauseMutant) -> str | None:
        """Return the test that fails with the mutant in the clause's place, the quickest first; None where none does.

        Raises ExpressionError where the mutant is refused when it is defined.
        """
        family = {mutant.of, f"{mutant.of}_thin"}
        asked = sorted((check for check in self.checks if check.clauses & family), key=lambda check: check.seconds)
        with planted(mutant):
            for check in asked:
                try:
                    check.call()
                except Exception:
                    return check.name
        return None


@contextlib.contextmanager
def _worked_out() -> Iterator[set[str]]:
    """Note which clauses a test itself works out meanwhile.

    What the program works out again from stored results, for its explanations, is one form held against another.
    """
    ids: set[str] = set()
    evaluate, unmet = Formula.evaluate, Formula.unmet_limits

    def note(formula: Formula) -> None:
        if sys._getframe(2).f_globals["__name__"].startswith("tests."):
            ids.add(formula.id)

    def noted(self: Formula, values: Any) -> Any:
        note(self)
        return evaluate(self, values)

    def noted_limits(self: Formula, values: Any) -> Any:
        note(self)
        return unmet(self, values)

    Formula.evaluate, Formula.unmet_limits = noted, noted_limits  # type: ignore[method-assign]
    try:
        yield ids
    finally:
        Formula.evaluate, Formula.unmet_limits = evaluate, unmet  # type: ignore[method-assign]


def collect(files: Sequence[str], run: Callable[[pytest.Session], None] | None = None) -> list[pytest.Function]:
    """Return the tests of these files as pytest sees them; `run`, if given, is called in the place of running them.

    Random examples are the same every time, and a failure is not made smaller: only that there is one counts.
    """
    found: list[pytest.Function] = []

    class Collector:
        def pytest_collection(self) -> None:
            settings.register_profile(
                "mutants",
                deadline=None,
                database=None,
                derandomize=True,
                phases=(Phase.explicit, Phase.generate),
                suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
            )
            settings.load_profile("mutants")

        @pytest.hookimpl(tryfirst=True)
        def pytest_runtestloop(self, session: pytest.Session) -> bool:
            found.extend(item for item in session.items if isinstance(item, pytest.Function))
            if run is not None:
                run(session)
            return True

    present = [file for file in files if (ROOT / file).exists()]
    options = ["-p", "no:cacheprovider", "-p", "no:terminal", "-o", "addopts=--import-mode=importlib"]
    code = pytest.main([*options, f"--rootdir={ROOT}", *(str(ROOT / file) for file in present)], plugins=[Collector()])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) or not found:
        raise RuntimeError(f"the tests could not be collected: {code}")
    return found
