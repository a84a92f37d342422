"""The language clauses are written in: a small part of Python's own expression syntax.

Allowed: numbers, declared names, + - * / **, unary minus, one comparison, `and`, `or`, `a if c else b`, and the
functions below. Anything else is refused when the clause is defined, so no printer ever meets what it cannot print.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Mapping
from math import isfinite

FUNCTIONS = ("min", "max", "sqrt", "exp", "log", "cosd", "floor")
_OPERATORS = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow)
_COMPARISONS = (ast.Lt, ast.LtE, ast.Gt, ast.GtE, ast.Eq)

#: Exponents of length, pressure, year and day.
Dimension = tuple[float, float, float, float]
NONE: Dimension = (0, 0, 0, 0)
DIMENSIONS: dict[str, Dimension] = {
    "-": NONE,
    "mm": (1, 0, 0, 0),
    "mm2": (2, 0, 0, 0),
    "MPa": (0, 1, 0, 0),
    "MPa/mm": (-1, 1, 0, 0),
    "year": (0, 0, 1, 0),
    "mm/year": (1, 0, -1, 0),
    "day": (0, 0, 0, 1),
    "day2": (0, 0, 0, 2),
    "mm.day": (1, 0, 0, 1),
    "day/year": (0, 0, -1, 1),
}


class ExpressionError(ValueError):
    """The expression uses what the language does not have, or adds unlike dimensions."""


def parse(text: str, names: Iterable[str]) -> ast.expr:
    """Parse one expression over the declared `names`; raises ExpressionError on anything outside the language."""
    try:
        tree = ast.parse(text, mode="eval").body
    except SyntaxError as fault:
        raise ExpressionError(f"not an expression: {text}") from fault
    _refuse_unknown(tree, frozenset(names))
    return tree


def names_in(tree: ast.expr) -> list[str]:
    """Return the names an expression uses, in the order they are written."""
    found = [node for node in ast.walk(tree) if isinstance(node, ast.Name) and node.id not in FUNCTIONS]
    found.sort(key=lambda node: (node.lineno, node.col_offset))
    return list(dict.fromkeys(node.id for node in found))


def replace_name(tree: ast.expr, name: str, by: ast.expr) -> ast.expr:
    """Return a copy of `tree` in which every `name` stands replaced by the expression `by`."""

    class Replace(ast.NodeTransformer):
        def visit_Name(self, node: ast.Name) -> ast.expr:
            return by if node.id == name else node

    copy = ast.parse(ast.unparse(tree), mode="eval").body
    replaced = Replace().visit(copy)
    assert isinstance(replaced, ast.expr)
    return replaced


def _refuse_unknown(node: ast.expr, names: frozenset[str]) -> None:
    match node:
        case ast.Constant(value=bool()):
            raise ExpressionError(f"not a number: {ast.unparse(node)}")
        case ast.Constant(value=int() | float() as value):
            if not isfinite(value):
                raise ExpressionError(f"not a number: {ast.unparse(node)}")
            return
        case ast.Name(id=name) if name in names:
            return
        case ast.BinOp(left=left, op=op, right=right) if isinstance(op, _OPERATORS):
            if isinstance(op, ast.Pow) and not (isinstance(right, ast.Constant) and isinstance(right.value, int)):
                raise ExpressionError(f"only whole-number powers are allowed: {ast.unparse(node)}")
            parts = _numbers(left, right)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            parts = _numbers(operand)
        case ast.Compare(left=left, ops=[op], comparators=[right]) if isinstance(op, _COMPARISONS):
            parts = _numbers(left, right)
        case ast.BoolOp(values=values):
            parts = _conditions(*values)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            parts = [*_conditions(test), *_numbers(body, orelse)]
        case ast.Call(func=ast.Name(id=function), args=args, keywords=[]) if function in FUNCTIONS:
            wanted = 2 if function in ("min", "max") else 1
            if len(args) != wanted:
                raise ExpressionError(f"{function} takes {wanted} argument(s): {ast.unparse(node)}")
            parts = _numbers(*args)
        case _:
            raise ExpressionError(f"not allowed in a clause: {ast.unparse(node)}")
    for part in parts:
        _refuse_unknown(part, names)


def is_condition(node: ast.expr) -> bool:
    """Return whether an expression is true or false rather than a number; the engines do not mix the two alike."""
    return isinstance(node, (ast.Compare, ast.BoolOp))


def _numbers(*parts: ast.expr) -> list[ast.expr]:
    for part in parts:
        if is_condition(part):
            raise ExpressionError(f"a condition stands where a number is needed: {ast.unparse(part)}")
    return list(parts)


def _conditions(*parts: ast.expr) -> list[ast.expr]:
    for part in parts:
        if not is_condition(part):
            raise ExpressionError(f"a number stands where a condition is needed: {ast.unparse(part)}")
    return list(parts)


def dimension_of(node: ast.expr, dimensions: Mapping[str, Dimension]) -> Dimension | None:
    """Return the dimension of an expression (None for a bare 0, which suits any); raises where unlike things meet."""
    match node:
        case ast.Constant(value=value):
            return None if value == 0 else NONE
        case ast.Name(id=name):
            return dimensions[name]
        case ast.UnaryOp(operand=operand):
            return dimension_of(operand, dimensions)
        case ast.BinOp(left=left, op=ast.Add() | ast.Sub(), right=right):
            return _alike(node, dimension_of(left, dimensions), dimension_of(right, dimensions))
        case ast.BinOp(left=left, op=ast.Pow(), right=ast.Constant(value=int(power))):
            base = dimension_of(left, dimensions) or NONE
            return _scaled(base, power)
        case ast.BinOp(left=left, op=op, right=right):
            first = dimension_of(left, dimensions) or NONE
            second = dimension_of(right, dimensions) or NONE
            sign = 1 if isinstance(op, ast.Mult) else -1
            return _combined(first, second, sign)
        case ast.Compare(left=left, comparators=[right]):
            _alike(node, dimension_of(left, dimensions), dimension_of(right, dimensions))
            return NONE
        case ast.BoolOp(values=parts):
            for part in parts:
                dimension_of(part, dimensions)
            return NONE
        case ast.IfExp(test=test, body=body, orelse=orelse):
            dimension_of(test, dimensions)
            return _alike(node, dimension_of(body, dimensions), dimension_of(orelse, dimensions))
        case ast.Call(func=ast.Name(id="min" | "max"), args=[left, right]):
            return _alike(node, dimension_of(left, dimensions), dimension_of(right, dimensions))
        case ast.Call(func=ast.Name(id="sqrt"), args=[argument]):
            return _scaled(dimension_of(argument, dimensions) or NONE, 0.5)
        case ast.Call(func=ast.Name(id="floor"), args=[argument]):
            return dimension_of(argument, dimensions)
        case ast.Call(args=[argument]):
            return _alike(node, dimension_of(argument, dimensions), NONE)
    raise ExpressionError(f"no dimension for {ast.unparse(node)}")


def _alike(node: ast.expr, first: Dimension | None, second: Dimension | None) -> Dimension | None:
    if first is None or second is None:
        return second if first is None else first
    if any(abs(a - b) > 1e-12 for a, b in zip(first, second, strict=True)):
        raise ExpressionError(f"unlike dimensions in {ast.unparse(node)}")
    return first


def _scaled(base: Dimension, power: float) -> Dimension:
    return (base[0] * power, base[1] * power, base[2] * power, base[3] * power)


def _combined(first: Dimension, second: Dimension, sign: int) -> Dimension:
    return (
        first[0] + sign * second[0],
        first[1] + sign * second[1],
        first[2] + sign * second[2],
        first[3] + sign * second[3],
    )
