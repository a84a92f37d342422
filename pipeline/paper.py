"""A document on paper: sections of text, tables and typeset equations, as one HTML page that loads nothing.

A document is plain data first; its content hash is taken of that data, its HTML is written from it. Whatever came from
outside is text and stays text: a name that looks like markup is printed as it stands.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import re
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

from latex2mathml.converter import convert

from pipeline import __version__
from pipeline.paper_lines import parted, width
from pipeline.paper_style import STYLE, running_lines

#: By this the program knows a page it wrote itself, and may write over it.
MARK = '<meta name="generator" content="hoopline'


@dataclass(frozen=True)
class Tex:
    """A symbol or an expression of the clauses, in LaTeX; never text that came from outside."""

    latex: str


Text = str | Tex


@dataclass(frozen=True)
class Column:
    """The heading of a table's column; `numeric` stands to the right, `narrow` takes no more room than it needs."""

    words: str
    numeric: bool = False
    narrow: bool = False


@dataclass(frozen=True)
class Table:
    """Rows of texts under headings; `strong` are the numbers of the rows in bold, counted from zero."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Text, ...], ...]
    strong: tuple[int, ...] = ()


@dataclass(frozen=True)
class Facts:
    """Names with what is said of them, in two columns."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Paragraph:
    """A paragraph; `strong` where nobody may overlook it."""

    text: str
    strong: bool = False


@dataclass(frozen=True)
class Points:
    """Sentences one below the other."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Equation:
    """One step: the clause, with its numbers, its result; and each number with where it came from.

    `inputs` are symbol, value with unit, and the step or the input it is. `note` is what the clause says besides;
    `fault` is empty where the stored result was met again.
    """

    number: int
    title: str
    source: str
    symbol: str
    formula: str
    values: str
    shown: str
    unrounded: str
    inputs: tuple[tuple[str, str, str], ...]
    note: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG of the program's own making, and what is to be known of it."""

    svg: str
    caption: str


@dataclass(frozen=True)
class Signatures:
    """Room for the people who answer for the document: who, name, date, signature."""

    roles: tuple[str, ...]


Block = Table | Facts | Paragraph | Points | Equation | Picture | Signatures


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Paper:
    """A whole document: what it is, of what, its title block, and its sections.

    `about` stands at the top of every printed page beside `kind`.
    """

    kind: str
    heading: str
    about: str
    facts: Facts
    sections: tuple[Section, ...]

    @property
    def sha256(self) -> str:
        """Hash of everything the document says: canonical JSON of its data, keys in order, ASCII only."""
        text = json.dumps(_canonical(self), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
        return hashlib.sha256(text.encode("ascii")).hexdigest()


def _canonical(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: _canonical(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"is": type(value).__name__, **fields}
    return [_canonical(item) for item in value] if isinstance(value, tuple) else value


# ---- as a page ------------------------------------------------------------------------------------------------------


def page(paper: Paper) -> str:
    """Return the document as an HTML page of its own, to be opened and printed; nothing in it runs or is fetched."""
    sections = "".join(
        f"<section><h2>{number}&ensp;{_said(section.title)}</h2>{''.join(map(_block, section.blocks))}</section>"
        for number, section in enumerate(paper.sections, start=1)
    )
    sha256 = paper.sha256
    program = f"hoopline {__version__}"
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'{MARK} {escape(__version__)}"><title>{_said(paper.kind)}: {_said(paper.heading)}</title>'
        f"<style>{STYLE}{running_lines(_seen(paper.kind), _seen(paper.about), program, sha256)}</style></head>"
        "<body><header>"
        f'<p class="kind">{_said(paper.kind)}</p><h1>{_said(paper.heading)}</h1>{_facts(paper.facts)}'
        f'<p class="hash">Content hash (SHA-256 of everything said here but this line): <span>{sha256}</span></p>'
        f"</header>{sections}</body></html>"
    )


#: What would not show, or would turn the direction of the text around it: control characters and marks of direction.
_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]")


def _seen(text: str) -> str:
    return _UNSEEN.sub("\ufffd", text)


def _said(text: str) -> str:
    return escape(_seen(text))


#: A number as a computer writes it, such as 1.8e-05; on paper it has its power of ten.
_POWER_OF_TEN = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)e([+-]?)0*(\d+)")


@lru_cache(maxsize=4096)
def typeset(latex: str) -> str:
    """Return LaTeX of the clauses as MathML, which a browser prints without help."""
    return str(convert(_POWER_OF_TEN.sub(r"\1 \\times 10^{\2\3}", latex)))


def _text(text: Text) -> str:
    return typeset(text.latex) if isinstance(text, Tex) else _said(text)


def _block(block: Block) -> str:
    match block:
        case Table():
            return _table(block)
        case Facts():
            return _facts(block)
        case Paragraph(text, strong):
            return f'<p class="act">{_said(text)}</p>' if strong else f"<p>{_said(text)}</p>"
        case Points(items):
            return f"<ul>{''.join(f'<li>{_said(item)}</li>' for item in items)}</ul>"
        case Equation():
            return _equation(block)
        case Picture(svg, caption):
            return f"<figure>{svg}<figcaption>{_said(caption)}</figcaption></figure>"
        case Signatures(roles):
            return _signatures(roles)


_HASH = re.compile(r"[0-9a-f]{64}")
_WHOLE = ' class="whole"'


def _facts(facts: Facts) -> str:
    lines = "".join(
        f"<div{_WHOLE if _HASH.fullmatch(value) else ''}><dt>{_said(name)}</dt><dd>{_said(value)}</dd></div>"
        for name, value in facts.pairs
    )
    return f"<dl>{lines}</dl>"


def _look(column: Column, text: Text = "") -> str:
    long = not column.numeric and isinstance(text, str) and any(len(word) > _LONG_WORD for word in text.split())
    names = [
        name for name, holds in (("n", column.numeric), ("narrow", column.narrow and not long), ("any", long)) if holds
    ]
    return f' class="{" ".join(names)}"' if names else ""


#: A table of so many rows is not parted at the end of a page.
_SHORT = 8
#: A table of so many columns is set smaller.
_WIDE = 9
#: A word of more letters may be parted anywhere, so that it does not widen its column.
_LONG_WORD = 18


def _table(table: Table) -> str:
    heads = "".join(f'<th scope="col"{_look(column)}>{_said(column.words)}</th>' for column in table.columns)
    rows = []
    for place, row in enumerate(table.rows):
        cells = "".join(
            f"<td{_look(column, text)}>{_text(text)}</td>" for column, text in zip(table.columns, row, strict=True)
        )
        strong = ' class="act"' if place in table.strong else ""
        rows.append(f"<tr{strong}>{cells}</tr>")
    names = [name for name, holds in (("short", len(rows) <= _SHORT), ("wide", len(table.columns) >= _WIDE)) if holds]
    look = f' class="{" ".join(names)}"' if names else ""
    return f"<table{look}><thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


#: The sizes in which an expression is set, each with how many digits of it fit the width of a page.
_SIZES = (("plain", 66.0), ("long", 75.0), ("longer", 91.0))
_LONGEST = "longest"


def _equation(step: Equation) -> str:
    left = typeset(step.symbol)
    written = ""
    for expression in (step.formula, step.values):
        for number, line in enumerate(parted(expression, _SIZES[1][1]) if expression else ()):
            right = typeset(line if number else f"= {line}")
            written += f'<div class="left">{left}</div><div class="{_size(line)}">{right}</div>'
            left = ""
    result = f"<strong>{typeset('=')} {_said(step.shown)}</strong> <small>unrounded {_said(step.unrounded)}</small>"
    where = "; ".join(
        f'<span class="in">{typeset(symbol)} = {_said(shown)} [{_said(origin)}]</span>'
        for symbol, shown, origin in step.inputs
    )
    where = f'<p class="where">{where}</p>' if where else ""
    note = f'<p class="where">{_said(step.note)}</p>' if step.note else ""
    fault = f'<p class="act">Does not agree. {_said(step.fault)}</p>' if step.fault else ""
    return (
        f'<div class="step"><p class="what"><b>{step.number}</b><span>{_said(step.title)}</span>'
        f'<span class="clause">{_said(step.source)}</span></p>{fault}'
        f'<div class="lines">{written}<div class="left"></div><div>{result}</div></div>'
        f"{where}{note}</div>"
    )


def _size(latex: str) -> str:
    return next((size for size, digits in _SIZES if width(latex) <= digits), _LONGEST)


def _signatures(roles: tuple[str, ...]) -> str:
    rows = "".join(f"<tr><th scope='row'>{_said(role)}</th><td></td><td></td><td></td></tr>" for role in roles)
    heads = "".join(f'<th scope="col">{name}</th>' for name in ("", "name and qualification", "date", "signature"))
    return f'<table class="sign"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>'
