"""One expression tree, five readings: DuckDB, Python, spreadsheet, typeset and plain text.

Each printer walks the tree of `pipeline.expression` and refuses a node it does not know. Division, powers and negation
are bracketed rather than trusted to a grammar: `-2^2` is 4 in DuckDB and in spreadsheets, -4 in Python.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping

from pipeline.expression import ExpressionError

_PRECEDENCE = {ast.Add: 1, ast.Sub: 1, ast.Mult: 2, ast.Div: 2}
_SIGNS = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
_MINUS = ("-", "−")  # a negative number put in a symbol's place is bracketed after an operator and under a power
_COMPARE = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "="}


class Printer:
    """Writes a tree in infix form; the forms of names, numbers, functions and branches are the subclass's."""

    GAP = " "

    def print(self, node: ast.expr) -> str:
        """Return the expression in this printer's language."""
        match node:
            case ast.Constant(value=int() | float() as value):
                return self.number(value)
            case ast.Name(id=name):
                return self.name(name)
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return f"(-({self.print(operand)}))"
            case ast.BinOp(left=left, op=ast.Pow(), right=right):
                return self.power(left, right)
            case ast.BinOp(left=left, op=op, right=right) if type(op) in _SIGNS:
                return self.infix(left, op, right)
            case ast.Compare(left=left, ops=[sign], comparators=[right]):
                return f"{self.print(left)} {self.comparison(sign)} {self.print(right)}"
            case ast.BoolOp(op=sign, values=values):
                return self.joined("AND" if isinstance(sign, ast.And) else "OR", values)
            case ast.IfExp(test=test, body=body, orelse=orelse):
                return self.branch(test, body, orelse)
            case ast.Call(func=ast.Name(id=function), args=args):
                return self.call(function, args)
        raise ExpressionError(f"{type(self).__name__} cannot print {ast.unparse(node)}")

    def operand(self, node: ast.expr, least: int, right_of: type[ast.operator] | None = None) -> str:
        """Print an operand, bracketed where its own operator binds looser than the one around it."""
        text = self.print(node)
        if isinstance(node, ast.BinOp) and not isinstance(node.op, ast.Pow):
            own = _PRECEDENCE[type(node.op)]
            if own < least or (own == least and right_of in (ast.Sub, ast.Div)):
                return f"({text})"
        if isinstance(node, (ast.IfExp, ast.Compare, ast.BoolOp)):
            return f"({text})"
        return text

    def infix(self, left: ast.expr, op: ast.operator, right: ast.expr) -> str:
        """Print `left op right`. Sums and products keep the order in which they are written."""
        least = _PRECEDENCE[type(op)]
        second = self.operand(right, least, type(op))
        if isinstance(right, ast.BinOp) and _PRECEDENCE.get(type(right.op)) == least and not second.startswith("("):
            second = f"({second})"  # a * (b / c) is not (a * b) / c to the last digit
        return f"{self.operand(left, least)}{self.GAP}{_SIGNS[type(op)]}{self.GAP}{second}"

    def comparison(self, sign: ast.cmpop) -> str:
        """Print a comparison sign."""
        return _COMPARE[type(sign)]

    def number(self, value: float) -> str:
        """Print a literal number."""
        raise NotImplementedError

    def name(self, name: str) -> str:
        """Print a quantity."""
        raise NotImplementedError

    def power(self, base: ast.expr, exponent: ast.expr) -> str:
        """Print a whole-number power."""
        raise NotImplementedError

    def joined(self, word: str, values: list[ast.expr]) -> str:
        """Print `and` / `or`."""
        raise NotImplementedError

    def branch(self, test: ast.expr, body: ast.expr, orelse: ast.expr) -> str:
        """Print `body if test else orelse`."""
        raise NotImplementedError

    def call(self, function: str, args: list[ast.expr]) -> str:
        """Print a function of the language."""
        raise NotImplementedError


class SqlPrinter(Printer):
    """DuckDB SQL; numbers are DOUBLE, since DECIMAL literals would compute in another arithmetic."""

    FUNCTIONS: Mapping[str, str] = {
        "min": "least",
        "max": "greatest",
        "sqrt": "sqrt",
        "exp": "exp",
        "log": "ln",
        "floor": "floor",
    }

    def __init__(self, columns: Mapping[str, str]) -> None:
        self.columns = columns

    def number(self, value: float) -> str:
        return f"{value!r}::DOUBLE"

    def name(self, name: str) -> str:
        return self.columns[name]

    def power(self, base: ast.expr, exponent: ast.expr) -> str:
        return f"pow({self.print(base)}, {self.print(exponent)})"

    def joined(self, word: str, values: list[ast.expr]) -> str:
        return f" {word} ".join(f"({self.print(value)})" for value in values)

    def branch(self, test: ast.expr, body: ast.expr, orelse: ast.expr) -> str:
        return f"CASE WHEN {self.print(test)} THEN {self.print(body)} ELSE {self.print(orelse)} END"

    def call(self, function: str, args: list[ast.expr]) -> str:
        if function == "cosd":
            return f"cos(radians({self.print(args[0])}))"
        return f"{self.FUNCTIONS[function]}({', '.join(self.print(arg) for arg in args)})"


class SheetPrinter(Printer):
    """A live spreadsheet formula (OpenFormula and Office Open XML share this part); names become cell references."""

    GAP = ""  # taking blanks out afterwards would break references to sheets with blanks in their names

    FUNCTIONS: Mapping[str, str] = {
        "min": "MIN",
        "max": "MAX",
        "sqrt": "SQRT",
        "exp": "EXP",
        "log": "LN",
        "floor": "INT",
    }

    def __init__(self, cells: Mapping[str, str]) -> None:
        self.cells = cells

    def number(self, value: float) -> str:
        return repr(value)

    def name(self, name: str) -> str:
        return self.cells[name]

    def power(self, base: ast.expr, exponent: ast.expr) -> str:
        return f"POWER({self.print(base)},{self.print(exponent)})"

    def joined(self, word: str, values: list[ast.expr]) -> str:
        return f"{word}({','.join(self.print(value) for value in values)})"

    def branch(self, test: ast.expr, body: ast.expr, orelse: ast.expr) -> str:
        return f"IF({self.print(test)},{self.print(body)},{self.print(orelse)})"

    def call(self, function: str, args: list[ast.expr]) -> str:
        if function == "cosd":
            return f"COS(RADIANS({self.print(args[0])}))"
        return f"{self.FUNCTIONS[function]}({','.join(self.print(arg) for arg in args)})"


class PlainPrinter(Printer):
    """Text for a terminal: symbols, or numbers in their place. With values given, only the branch taken is shown."""

    TIMES, PI = " × ", "π"

    def __init__(self, symbols: Mapping[str, str], taken: Callable[[ast.expr], bool] | None = None) -> None:
        self.symbols = symbols
        self.taken = taken

    def number(self, value: float) -> str:
        return self.PI if value == math.pi else f"{value:.12g}"

    def name(self, name: str) -> str:
        return self.symbols[name]

    def infix(self, left: ast.expr, op: ast.operator, right: ast.expr) -> str:
        text = super().infix(left, op, right)
        return text.replace(" * ", self.TIMES).replace(" - ", " − ")

    def operand(self, node: ast.expr, least: int, right_of: type[ast.operator] | None = None) -> str:
        text = super().operand(node, least, right_of)
        return f"({text})" if right_of is not None and text.startswith(_MINUS) else text

    def power(self, base: ast.expr, exponent: ast.expr) -> str:
        inner = self.print(base)
        bare = isinstance(base, ast.Name) and not inner.startswith(_MINUS)
        return f"{inner if bare else f'({inner})'}^{self.print(exponent)}"

    def joined(self, word: str, values: list[ast.expr]) -> str:
        return f" {word.lower()} ".join(self.print(value) for value in values)

    def branch(self, test: ast.expr, body: ast.expr, orelse: ast.expr) -> str:
        if self.taken is not None:
            return self.print(body if self.taken(test) else orelse)
        return f"{self.print(body)} if {self.print(test)}, else {self.print(orelse)}"

    def call(self, function: str, args: list[ast.expr]) -> str:
        shown = {"cosd": "cos", "log": "ln"}.get(function, function)
        degree = "°" if function == "cosd" and self.taken is not None else ""
        return f"{shown}({', '.join(self.print(arg) for arg in args)}{degree})"


class TypesetPrinter(PlainPrinter):
    """LaTeX, as the page shows it."""

    TIMES, PI = r" \, ", r"\pi"

    def __init__(self, symbols: Mapping[str, str], taken: Callable[[ast.expr], bool] | None = None) -> None:
        super().__init__(symbols, taken)
        self.times = r" \, " if taken is None else r" \times "

    def infix(self, left: ast.expr, op: ast.operator, right: ast.expr) -> str:
        if isinstance(op, ast.Div):
            return rf"\frac{{{self.print(left)}}}{{{self.print(right)}}}"
        first = self.operand(left, _PRECEDENCE[type(op)])
        second = self.operand(right, _PRECEDENCE[type(op)], type(op))
        sign = self.times if isinstance(op, ast.Mult) else f" {_SIGNS[type(op)]} "
        if isinstance(op, ast.Mult) and (second[:1].isdigit() or isinstance(right, ast.Constant)):
            sign = r" \times "
        return f"{first}{sign}{second}"

    def operand(self, node: ast.expr, least: int, right_of: type[ast.operator] | None = None) -> str:
        if isinstance(node, ast.IfExp) and self.taken is not None:
            return self.operand(node.body if self.taken(node.test) else node.orelse, least, right_of)
        text = self.print(node)
        if isinstance(node, ast.BinOp) and not isinstance(node.op, (ast.Pow, ast.Div)):
            own = _PRECEDENCE[type(node.op)]
            if own < least or (own == least and right_of is ast.Sub):
                return rf"\left({text}\right)"
        if text.startswith(_MINUS):
            return rf"\left({text}\right)"
        return text

    def comparison(self, sign: ast.cmpop) -> str:
        return {"<=": r"\le", ">=": r"\ge"}.get(_COMPARE[type(sign)], _COMPARE[type(sign)])

    def power(self, base: ast.expr, exponent: ast.expr) -> str:
        return rf"\left({self.print(base)}\right)^{{{self.print(exponent)}}}"

    def joined(self, word: str, values: list[ast.expr]) -> str:
        return rf" \text{{ {word.lower()} }} ".join(self.print(value) for value in values)

    def branch(self, test: ast.expr, body: ast.expr, orelse: ast.expr) -> str:
        if self.taken is not None:
            return self.print(body if self.taken(test) else orelse)
        return (
            rf"\begin{{cases}} {self.print(body)} & {self.print(test)} \\ "
            rf"{self.print(orelse)} & \text{{otherwise}} \end{{cases}}"
        )

    def call(self, function: str, args: list[ast.expr]) -> str:
        inner = ", ".join(self.print(arg) for arg in args)
        if function == "sqrt":
            return rf"\sqrt{{{inner}}}"
        if function == "floor":
            return rf"\left\lfloor {inner} \right\rfloor"
        shown = {"cosd": r"\cos", "log": r"\ln"}.get(function, rf"\{function}")
        degree = r"^{\circ}" if function == "cosd" and self.taken is not None else ""
        return rf"{shown}\left({inner}{degree}\right)"


PYTHON_FUNCTIONS: dict[str, Callable[..., float]] = {
    "min": min,
    "max": max,
    "sqrt": math.sqrt,
    "exp": math.exp,
    "log": math.log,
    "cosd": lambda degrees: math.cos(math.radians(degrees)),
    "floor": math.floor,
}


def compile_python(tree: ast.expr, names: list[str]) -> Callable[..., float]:
    """Compile a tree into a plain Python function of `names`, in that order."""
    function = ast.Expression(
        ast.Lambda(
            args=ast.arguments(
                posonlyargs=[], args=[ast.arg(arg=name) for name in names], kwonlyargs=[], kw_defaults=[], defaults=[]
            ),
            body=tree,
        )
    )
    code = compile(ast.fix_missing_locations(function), "<clause>", "eval")
    compiled: Callable[..., float] = eval(code, {"__builtins__": {}, **PYTHON_FUNCTIONS})
    return compiled
