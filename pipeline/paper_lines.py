"""Long expressions on paper: how wide one is when it is set, and where it is parted so that it fits the page."""

from __future__ import annotations

import re

_COMMAND = re.compile(r"\\(?:[a-zA-Z]+|.)")
#: Widths of what is set, in digits of a number: commands that are words, and those that leave nothing but a bracket.
_WORDS = {r"\min": 3.4, r"\max": 3.8, r"\exp": 3.6, r"\ln": 2.0, r"\cos": 3.4, r"\times": 1.8, r"\quad": 2.0}
_NOTHING = (r"\left", r"\right", r"\,", r"\text")
_CASES, _END = r"\begin{cases}", r"\end{cases}"
_OTHERWISE = r"\text{otherwise}"
#: By this name cases that were taken out of an expression stand in it; no quantity is called so.
_NAME = r"c_{\ast}"


def width(latex: str) -> float:
    """Return how wide an expression is when it is set, in digits; near enough to choose a size and a place to part."""
    total, place = 0.0, 0
    while place < len(latex):
        letter = latex[place]
        if latex.startswith(r"\frac", place):
            above, place = _group(latex, place + 5)
            below, place = _group(latex, place)
            total += max(width(above), width(below)) + 0.6
        elif latex.startswith(_CASES, place):
            end = _end_of_cases(latex, place)
            rows = _rows(latex[place:end])
            total += 2.0 + max(width(value) for value, _ in rows) + max(width(when) for _, when in rows) + 2.0
            place = end
        elif letter == "\\":
            found = _COMMAND.match(latex, place)
            name = found[0] if found else letter
            total += 0.0 if name in _NOTHING else _WORDS.get(name, 1.2)
            place += len(name)
        elif letter in "_^":
            inner, place = _group(latex, place + 1)
            total += 0.75 * width(inner)
        else:
            total += {"{": 0.0, "}": 0.0, " ": 0.0, "+": 2.0, "-": 2.0, ".": 0.5, ",": 0.9}.get(letter, 1.1)
            place += 1
    return total


def parted(latex: str, most: float) -> list[str]:
    """Return an expression as lines of at most `most` digits where it can be parted.

    Cases stand case by case, sums by their terms; cases within a term are named and written below it.
    """
    if width(latex) <= most:
        return [latex]
    if latex.startswith(_CASES) and _end_of_cases(latex, 0) == len(latex):
        return _case_by_case(latex, most)
    start = latex.find(_CASES)
    if start >= 0:
        end = _end_of_cases(latex, start)
        within = rf"\text{{with }} {_NAME} = "
        first, *others = parted(latex[start:end], most - width(within))
        return [*parted(f"{latex[:start]}{_NAME}{latex[end:]}", most), f"{within}{first}", *others]
    lines, line = [], ""
    for term in _terms(latex):
        if line and width(line) + width(term) > most:
            lines.append(line)
            line = rf"\quad {term.strip()}"
        else:
            line += term
    return [*lines, line]


def _case_by_case(cases: str, most: float) -> list[str]:
    lines: list[str] = []
    for value, when in _flat(cases):
        said = when if when == _OTHERWISE else rf"\text{{{'else ' if lines else ''}if }} {when}"
        *first, last = parted(value, most)
        fits = width(last) + width(said) + 2 <= most
        lines += [*first, rf"{last} \quad {said}"] if fits else [*first, last, rf"\quad {said}"]
    return lines


def _flat(cases: str) -> list[tuple[str, str]]:
    """Return the rows of cases; cases that stand for the rest of others are rows after them."""
    *first, (value, when) = _rows(cases)
    if when == _OTHERWISE and value.startswith(_CASES) and _end_of_cases(value, 0) == len(value):
        return [*first, *_flat(value)]
    return [*first, (value, when)]


def _group(latex: str, place: int) -> tuple[str, int]:
    """Return what stands in braces from a place on, or the one letter there, and the place after it."""
    while place < len(latex) and latex[place] == " ":
        place += 1
    if place >= len(latex) or latex[place] != "{":
        return latex[place : place + 1], place + 1
    depth = 0
    for end in range(place, len(latex)):
        depth += {"{": 1, "}": -1}.get(latex[end], 0)
        if depth == 0:
            return latex[place + 1 : end], end + 1
    return latex[place + 1 :], len(latex)


def _end_of_cases(latex: str, place: int) -> int:
    depth = 0
    for found in re.finditer(r"\\(begin|end)\{cases\}", latex[place:]):
        depth += 1 if found[1] == "begin" else -1
        if depth == 0:
            return place + found.end()
    return len(latex)


def _rows(cases: str) -> list[tuple[str, str]]:
    """Return the rows of one `cases`, each as value and condition; cases within a case stay whole."""
    rows, row, place = [], [""], len(_CASES)
    inner = cases[place : len(cases) - len(_END)]
    place = 0
    while place < len(inner):
        if inner.startswith(_CASES, place):
            end = _end_of_cases(inner, place)
            row[-1] += inner[place:end]
            place = end
        elif inner.startswith("\\\\", place):
            rows.append(row)
            row, place = [""], place + 2
        elif inner[place] == "&":
            row.append("")
            place += 1
        else:
            row[-1] += inner[place]
            place += 1
    return [(each[0].strip(), each[1].strip() if len(each) > 1 else "") for each in (*rows, row)]


def _terms(latex: str) -> list[str]:
    """Return the terms of a sum, each but the first with its sign before it; brackets and fractions stay whole."""
    terms, depth, start, place = [], 0, 0, 0
    while place < len(latex):
        if latex.startswith((r"\left", r"\begin"), place):
            depth += 1
        elif latex.startswith((r"\right", r"\end"), place):
            depth -= 1
        elif latex[place] in "{}":
            depth += 1 if latex[place] == "{" else -1
        elif depth == 0 and latex.startswith((" + ", " - "), place):
            terms.append(latex[start:place])
            start = place
        place += 1
    return [*terms, latex[start:]]
