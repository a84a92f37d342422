"""Points of a location at which a survey gives several readings: compass points, clock positions, letters, sides.

A point is kept as part of the location's name (`3 N`), so that like is compared with like from survey to survey.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.sheets.words import settle

_DEGREES = re.compile(r"(\d{1,3})\s*(?:°|deg\.?|degrees?)", re.I)
_CLOCK = re.compile(r"(\d{1,2})\s*(?:o\s?['’]?\s?clock)", re.I)
#: What may stand between a date and a point in one heading.
_BETWEEN = re.compile(r"[\s:,;/_–()\[\]-]+")


def read_point(text: str) -> str | None:
    """Return the settled name of a point (`N` for `North`, `90°` for `90 deg`), or None where the text is no point."""
    bare = " ".join(text.split())
    word = settle("point", bare)
    if word is not None:
        return word
    found = _DEGREES.fullmatch(bare)
    if found and int(found[1]) <= 360:
        return f"{int(found[1]) % 360}°"
    found = _CLOCK.fullmatch(bare)
    return f"{int(found[1])} o'clock" if found and 1 <= int(found[1]) <= 12 else None


def split_ending(text: str) -> Iterator[tuple[str, str]]:
    """Yield the ways a heading can be taken apart into a date and what stands behind or before it (`2019-05 N`)."""
    bare = " ".join(text.split())
    gaps = list(_BETWEEN.finditer(bare.rstrip(")]")))
    for gap in gaps[:2]:
        yield bare[gap.end() :].strip(), bare[: gap.start()].strip("([ ")
    for gap in reversed(gaps[-2:]):
        yield bare[: gap.start()].strip(), bare[gap.end() :].strip(")] ")
