"""Words for what is worked out from other cells: `Total`, `MIN`, `Average reading`. A name may begin with one of them
(`Total condenser`), so a word alone is told from a text that only begins with it."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

#: How far a stated value may lie from the one worked out, as a part of it: half a unit of a third figure.
TOLERANCE = 0.005

_WORDS = (
    r"(?:(?:grand|sub|overall|running)[\s-]*)?"
    r"(?:totals?|sums?|counts?|min|minimum|max|maximum|avg|average|mean|lowest|highest|std\.?\s?dev|standard deviation)"
)
_ALONE = re.compile(
    rf"{_WORDS}\.?(?:\s+(?:thickness(?:es)?|thk|readings?|values?|vessels?|rows?|lines?|[\d.,]+))*\s*[:=]?", re.I
)
_BEGINS = re.compile(rf"(?:(?:grand|sub)?[\s-]*totals?\b.*|{_WORDS}\.?\s+of\b.*|{_ALONE.pattern})", re.I | re.S)
_SMALLEST, _LARGEST, _AVERAGE = (
    re.compile(rf"\b(?:{words})\b", re.I) for words in ("min|minimum|lowest", "max|maximum|highest", "avg|average|mean")
)

#: How each is worked out of the readings, line by line.
WORK: dict[str, Callable[[NDArray[np.float64]], NDArray[np.float64]]] = {
    "smallest": lambda lines: np.nanmin(lines, axis=0),
    "largest": lambda lines: np.nanmax(lines, axis=0),
    "average": lambda lines: np.nanmean(lines, axis=0),
}
_ONLY = {"smallest": "a minimum", "largest": "a maximum", "average": "an average"}


def is_sum(value: object) -> bool:
    """Tell whether a cell holds nothing but a word for what is worked out from others."""
    return isinstance(value, str) and _ALONE.fullmatch(value.strip()) is not None


def begins_like_sum(text: str) -> bool:
    """Tell whether a text begins with such a word: it may be one, or the name of a thing."""
    return _BEGINS.fullmatch(text.strip()) is not None


def way_of(text: str) -> str | None:
    """Return which reading a word stands for: the smallest, the largest or the average; None where it is none."""
    for way, words in (("smallest", _SMALLEST), ("largest", _LARGEST), ("average", _AVERAGE)):
        if words.search(text):
            return way
    return None


def stated_only(way: str) -> str:
    """Return the sentence for a number worked out from readings that nobody wrote down."""
    return f"only {_ONLY[way]} is stated, not the readings: enter the readings with their places"
