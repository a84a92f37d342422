"""A clause as data: result, expression, limits of use, clause and edition; everything else is printed from it."""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from pipeline.expression import DIMENSIONS, ExpressionError, dimension_of, is_condition, names_in, parse, replace_name
from pipeline.printers import PlainPrinter, SheetPrinter, SqlPrinter, TypesetPrinter, compile_python
from pipeline.quantities import QUANTITIES, Quantity


@dataclass(frozen=True)
class Limit:
    """A condition within which a clause holds, and the sentence to say where it does not."""

    text: str
    otherwise: str


def source_of(document: str, clause: str) -> str:
    """Return where a clause stands, in words: the book and the place in it; once where the place names the book."""
    return clause if clause.startswith(document) else f"{document}, {clause}"


@dataclass(frozen=True)
class Formula:
    """One equation of one clause.

    `result` and the names in `expression` are symbols of `pipeline.quantities`; a limit may name the result, which
    then stands for the expression itself. `document` names the book, `clause` the place; "(m)" marks a clause number
    written from memory.
    """

    id: str
    result: str
    expression: str
    clause: str
    document: str
    title: str
    limits: tuple[Limit, ...] = ()
    note: str = ""
    _trees: dict[str, ast.expr] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        tree = self.tree  # parse now, so that a wrong clause fails when the package is imported
        dimensions = {name: DIMENSIONS[quantity.unit] for name, quantity in QUANTITIES.items()}
        found = dimension_of(tree, dimensions)
        wanted = dimensions[self.result]
        if found is not None and any(abs(a - b) > 1e-12 for a, b in zip(found, wanted, strict=True)):
            raise ExpressionError(f"{self.id}: the expression is not in {self.result_quantity.unit}")
        for limit in self.limit_trees:
            if not is_condition(limit):
                raise ExpressionError(f"{self.id}: a limit must be a condition: {ast.unparse(limit)}")
            dimension_of(limit, dimensions)

    @cached_property
    def tree(self) -> ast.expr:
        """The expression as a tree."""
        return parse(self.expression, QUANTITIES)

    @cached_property
    def limit_trees(self) -> tuple[ast.expr, ...]:
        """The limits as trees over the inputs alone."""
        return tuple(replace_name(parse(limit.text, QUANTITIES), self.result, self.tree) for limit in self.limits)

    @cached_property
    def inputs(self) -> tuple[Quantity, ...]:
        """The quantities the clause takes, those of the expression first, in the order they are written."""
        names = names_in(self.tree)
        for tree in self.limit_trees:
            names += [name for name in names_in(tree) if name not in names]
        return tuple(QUANTITIES[name] for name in names)

    @property
    def result_quantity(self) -> Quantity:
        """The quantity the clause gives."""
        return QUANTITIES[self.result]

    # ---- DuckDB -----------------------------------------------------------------------------------------------------

    @cached_property
    def macro(self) -> str:
        """The DuckDB macro `formula.<id>`: NULL where an input is NULL or a limit is not met."""
        columns = {quantity.name: quantity.column for quantity in self.inputs}
        printer = SqlPrinter(columns)
        known = " AND ".join(f"isfinite({column})" for column in columns.values())  # NULL where it is NULL
        limits = "".join(f" AND ({printer.print(tree)})" for tree in self.limit_trees)
        parameters = ", ".join(columns.values())
        return (
            f"CREATE OR REPLACE MACRO formula.{self.id}({parameters}) AS "
            f"CASE WHEN {known}{limits} THEN {self._finite(printer.print(self.tree))} END"
        )

    @cached_property
    def unmet_macro(self) -> str:
        """The DuckDB macro `formula.<id>_unmet`: the first limit that the inputs do not meet, in words; else NULL."""
        columns = {quantity.name: quantity.column for quantity in self.inputs}
        printer = SqlPrinter(columns)
        known = " AND ".join(f"isfinite({column})" for column in columns.values())
        cases = "".join(
            f" WHEN ({printer.print(tree)}) IS NOT TRUE THEN '{limit.otherwise.replace(chr(39), chr(39) * 2)}'"
            for limit, tree in zip(self.limits, self.limit_trees, strict=True)
        )
        parameters = ", ".join(columns.values())
        words = f"CASE WHEN ({known}) IS NOT TRUE THEN NULL{cases} END"
        return f"CREATE OR REPLACE MACRO formula.{self.id}_unmet({parameters}) AS {words}"

    @staticmethod
    def _finite(text: str) -> str:
        # A case of its own: the conditions of one WHEN are worked out in any order, this one only where limits hold.
        return f"CASE WHEN isfinite({text}) THEN {text} END"

    # ---- Python -----------------------------------------------------------------------------------------------------

    @cached_property
    def _compiled(self) -> tuple[Callable[..., float], tuple[Callable[..., float], ...]]:
        names = [quantity.name for quantity in self.inputs]
        return compile_python(self.tree, names), tuple(compile_python(tree, names) for tree in self.limit_trees)

    def evaluate(self, values: Mapping[str, float | None]) -> float | None:
        """Return the result for inputs by symbol or column name; None where one is missing or a limit is not met."""
        given = self._arguments(values)
        if given is None:
            return None
        expression, limits = self._compiled
        try:
            if not all(limit(*given) for limit in limits):
                return None
            result = float(expression(*given))
        except (ZeroDivisionError, ValueError, OverflowError):
            return None
        return result if math.isfinite(result) else None

    def _arguments(self, values: Mapping[str, float | None]) -> list[float] | None:
        given = [values.get(quantity.name, values.get(quantity.column)) for quantity in self.inputs]
        known = [float(value) for value in given if value is not None and math.isfinite(value)]
        return known if len(known) == len(given) else None

    def unmet_limits(self, values: Mapping[str, float | None]) -> list[Limit]:
        """Return the limits that these inputs do not meet."""
        given = self._arguments(values)
        if given is None:
            return []
        unmet = []
        for limit, holds in zip(self.limits, self._compiled[1], strict=True):
            try:
                met = bool(holds(*given))
            except (ZeroDivisionError, ValueError, OverflowError):
                met = False
            if not met:
                unmet.append(limit)
        return unmet

    # ---- spreadsheet ------------------------------------------------------------------------------------------------

    def sheet_formula(self, cells: Mapping[str, str]) -> str:
        """Return the live formula over cell references by symbol; #N/A where an input is blank or a limit not met."""
        printer = SheetPrinter(cells)
        counted = ",".join(cells[quantity.name] for quantity in self.inputs)
        text = printer.print(self.tree)
        for tree in reversed(self.limit_trees):  # the first limit outermost, so that later ones may rely on it
            text = f"IF({printer.print(tree)},{text},NA())"
        return f"=IF(COUNT({counted})<{len(self.inputs)},NA(),{text})"

    # ---- text -------------------------------------------------------------------------------------------------------

    def typeset(self) -> str:
        """Return the clause in LaTeX, with symbols."""
        symbols = {name: quantity.symbol for name, quantity in QUANTITIES.items()}
        return f"{self.result_quantity.symbol} = {TypesetPrinter(symbols).print(self.tree)}"

    def plain(self) -> str:
        """Return the clause as one line of text, with symbols."""
        return f"{self.result} = {PlainPrinter({name: name for name in QUANTITIES}).print(self.tree)}"

    def typeset_values(self, values: Mapping[str, float | None], shown: Mapping[str, str]) -> str:
        """Return the clause in LaTeX with `shown` numbers in place of symbols; only the branch taken."""
        return TypesetPrinter(shown, self._branch_taken(values)).print(self.tree)

    def plain_values(self, values: Mapping[str, float | None], shown: Mapping[str, str]) -> str:
        """Return the clause as text with `shown` numbers in place of symbols; only the branch taken."""
        return PlainPrinter(shown, self._branch_taken(values)).print(self.tree)

    def _branch_taken(self, values: Mapping[str, float | None]) -> Callable[[ast.expr], bool]:
        names = [quantity.name for quantity in self.inputs]
        given = self._arguments(values)
        if given is None:
            raise ValueError(f"{self.id}: an input is missing, there is nothing to substitute")
        return lambda test: bool(compile_python(test, names)(*given))
