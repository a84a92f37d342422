"""The settled words: component kinds, inspection kinds, events, reasons for not measuring, yes and no.

`words.csv` holds every accepted spelling once. A spelling that is not there stays unknown; nothing is matched by
likeness.
"""

from __future__ import annotations

import csv
import re
from functools import cache
from importlib import resources


def plain(text: str) -> str:
    """Return `text` in lower case with blanks collapsed: the form in which words are compared."""
    return " ".join(text.replace("\u00a0", " ").lower().split())


@cache
def vocabulary(name: str) -> dict[str, str]:
    """Return the spellings of one vocabulary, each with its settled word."""
    table = resources.files(__package__).joinpath("words.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(table.splitlines())
    return {plain(row["spelling"]): row["word"] for row in rows if row["vocabulary"] == name}


@cache
def accepted(name: str) -> tuple[str, ...]:
    """Return the settled words of one vocabulary in the order of `words.csv`."""
    return tuple(dict.fromkeys(vocabulary(name).values()))


def settle(name: str, text: str) -> str | None:
    """Return the settled word for a spelling, or None where the vocabulary does not have it."""
    return vocabulary(name).get(plain(text))


#: Said of a row that is a plan. `to be` is not among them: what is to be repaired was inspected.
_PLANNED = re.compile(r"\W*((planned|scheduled)(\s+(for|in|at|on)\b.*)?|not (yet )?(done|carried out))\W*")
PLANNED = "says that it is planned: what has not been done counts for nothing; enter it once it is done"


def is_planned(text: str) -> bool:
    """Return whether the result or the remark of a row says that the row is a plan, and nothing that was done."""
    return _PLANNED.fullmatch(plain(text)) is not None


def reason_not_measured(text: str) -> str | None:
    """Return why a place was not measured, where the whole text is such a reason (`no access`, `INS`, `N/A`)."""
    known = vocabulary("not measured")
    words = plain(text)
    return known.get(words) or known.get(re.sub(r"^[\s(*\[]+|[\s.!)*\]]+$", "", words))
