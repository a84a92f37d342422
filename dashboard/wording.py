"""The words, symbols and headings people see. A state is always a word with a symbol, never a colour alone."""

from __future__ import annotations

import re
from datetime import date, datetime
from html import escape

import pandas as pd

from pipeline.drawing import SYMBOLS
from pipeline.units import DISPLAY, YEARS

DASH = "—"
UNSTATED = "not stated"

SYSTEMS = {"us": "US", "si": "SI"}
SYSTEM_NAMES = {"us": "US customary", "si": "SI"}
UNIT_NAMES = {"in": "inches", "mm": "millimetres"}

#: What a state means, for a person who sees it for the first time.
STATE_MEANINGS = {
    "below required": "the last reading is under the required thickness on the basis in force",
    "overdue": "a due date lies before the as-of date",
    "not assessable": "something needed is missing or contradictory, and is named",
    "due by turnaround": "must be done by the next turnaround to reach the one after it",
    "deferred until": "past its date or due by the turnaround, and covered by a recorded deferral",
    "in date": "none of the others",
    "retired": "out of service for good since a date on the register; no date is due until it is put back",
}

STATUS_MEANINGS = {
    "used": "counts",
    "held": "kept as measured, out of the result until a person accepts or rejects it",
    "superseded": "another reading of the same day counts",
    "rejected": "rejected by a person, with a reason",
    "before epoch": "from before a replacement or change of service",
}

SEVERITY_MEANINGS = {
    "set aside": "not used",
    "warning": "used, with doubt",
    "note": "not used, and nothing to be done about it unless it is wrong",
}

KINDS = {
    "internal": "internal or on-stream",
    "external": "external",
    "thickness": "thickness survey",
    "corroded area": "corroded area",
    "relief device": "relief device",
    "recommendation": "recommendation",
}

#: What formats text anywhere in it, what does so only where it begins a line, and what is rewritten as typography or
#: made a link although escaped: there an invisible joiner parts the pair.
_FORMATTING = re.compile(r"[\\`*_\[\]<>#$~|&:]")
_LINE_START = re.compile(r"^(\s*\d*)([-+.)])(?=\s)", re.MULTILINE)
_PAIRS = re.compile(r"(?<=[-<>~=])(?=[-<>=])|(?<=:)(?=//|material/)|(?<=www)(?=\.)|(?<=\w)(?=@)")
#: What is written of a symbol's typeset form without words: what stands low or high, and letters by their names.
_LOW_OR_HIGH = re.compile(r"([_^])\{([^}]*)\}")
_PLACES = {"_": "sub", "^": "sup"}
_LETTER = re.compile(r"\\([A-Za-z]+) ?")
_LETTERS = {
    "Delta": "Δ",
    "Sigma": "Σ",
    "alpha": "α",
    "beta": "β",
    "cos": "cos ",
    "delta": "δ",
    "lambda": "λ",
    "rho": "ρ",
    "varepsilon": "ε",
    "varphi": "φ",
}
_INNER_HYPHEN = re.compile(r"(?<=\w)-(?=\d)")
_JOINER = "\u2060"
#: Words with which the program's own sentences begin.
_SMALL_WORD = re.compile(r"^(a|an|it|no|the)(?= )")


def state(name: str, held: int = 0) -> str:
    """Return a state as symbol and word; never plainly so where readings are held."""
    plain = f"{SYMBOLS.get(name, '')} {name}".strip()
    return f"{plain}, {held} held" if held else plain


def standings(frame: pd.DataFrame) -> list[str]:
    """Return the states of a table's rows in words, each with the readings that are held."""
    return [state(name, held) for name, held in zip(frame["state"], frame["held_readings"], strict=True)]


def literal(text: object) -> str:
    """Return text that came from outside so that it shows as it stands, not as formatting."""
    parted = _PAIRS.sub(_JOINER, said(text))
    return _LINE_START.sub(r"\1\\\2", _FORMATTING.sub(r"\\\g<0>", parted))


def symbol_in_html(typeset: str) -> str:
    """Return a symbol of the clauses as HTML: letters by name, indices low and powers high."""
    letters = _LETTER.sub(lambda found: _LETTERS[found[1]], escape(typeset))
    placed = _LOW_OR_HIGH.sub(lambda found: f"<{_PLACES[found[1]]}>{found[2]}</{_PLACES[found[1]]}>", letters)
    return f"<var>{placed.replace('-', '−')}</var>"


def begun(sentence: str) -> str:
    """Return a sentence with a capital where it begins with a small word; a component's name stays as it is written."""
    return _SMALL_WORD.sub(lambda found: found[0].capitalize(), sentence)


def unbroken(text: str) -> str:
    """Return text whose dates and tags stay on one line, by an invisible joiner behind each hyphen in them."""
    return _INNER_HYPHEN.sub(f"-{_JOINER}", text)


def said(value: object) -> str:
    """Return a value as text; an em dash where it is missing. Dates are written year-month-day."""
    if value is None or value is pd.NaT or (isinstance(value, float) and value != value):
        return DASH
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    text = str(value).strip()
    return text or DASH


def known(value: object) -> bool:
    """Return whether there is a value to be said."""
    return said(value) != DASH


def kind(name: object) -> str:
    """Return a kind of due date in full."""
    return KINDS.get(said(name), said(name))


def heading(words: str, unit: str) -> str:
    """Return a column heading with the unit of its numbers."""
    if unit in ("", "-"):
        return words
    return f"{words} ({YEARS if unit == 'year' else unit})"


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun in the right form."""
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"


def sentence_units(system: str, plant: str) -> str:
    """Return what to say where sentences of the results keep the plant's units; empty where both are the same."""
    if system == plant:
        return ""
    length = DISPLAY[plant]["thickness"][0]
    return f"Sentences stay in the plant's units ({SYSTEM_NAMES[plant]}; thickness in {UNIT_NAMES[length]})."
