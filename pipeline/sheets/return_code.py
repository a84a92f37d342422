"""The code in every row of a field sheet, by which a filled row finds its place however the sheet was edited.

A code says which place it stands for, so that a row copied into another workbook still brings its own: eight letters
that check the rest, the sheet it was printed on, then asset, component and location.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote, unquote

from pipeline.sheets.headings import normal, split_unit
from pipeline.sheets.values import Refused

#: What a field sheet prints for the person who measures; none of it is a reading, and none of it is read back.
PRINTED = (
    "where it is",
    "last reading",
    "last read",
    "expected",
    "lowest expected",
    "highest expected",
    "call below",
    "stop below",
    "known weld distance",
    "to know here",
)
_PART = "|"
_CHECK_LENGTH = 8


@dataclass(frozen=True)
class CodedPlace:
    """What a return code stands for: the sheet's own code, and the place."""

    sheet: str
    asset: str
    component: str | None
    location: str

    @property
    def names(self) -> Mapping[str, str]:
        """The names a row of this place has."""
        names = {"asset": self.asset, "component": self.component, "location": self.location}
        return {name: value for name, value in names.items() if value is not None}


def code_of(place: CodedPlace) -> str:
    """Return the code of a place on a sheet; the same place on the same sheet always has the same one."""
    said = _PART.join(map(_escaped, (place.sheet, place.asset, place.component or "", place.location)))
    return f"{_check(said)}{_PART}{said}"


def place_of(text: str) -> CodedPlace | Refused:
    """Return the place a code stands for, or why it stands for none: a code that was changed is not guessed at."""
    check, _, said = text.strip().partition(_PART)
    parts = [unquote(part) for part in said.split(_PART)]
    if len(parts) != 4 or check.upper() != _check(said) or not parts[1] or not parts[3]:
        return Refused(
            "the return code is not one of a field sheet, or was changed: copy it again from the sheet, or clear the "
            "cell so that the tags of the row count"
        )
    return CodedPlace(parts[0], parts[1], parts[2] or None, parts[3])


def sheet_code(*said: str) -> str:
    """Return the short code of one field sheet: of an asset, and of the results it was made from."""
    return _check("\n".join(said))[:6]


def is_printed(heading: str) -> bool:
    """Tell whether a heading is one of those a field sheet prints, with or without a unit."""
    return any(normal(name) in PRINTED for name, _ in split_unit(heading))


def _check(said: str) -> str:
    return base64.b32encode(hashlib.sha256(said.encode()).digest())[:_CHECK_LENGTH].decode()


def _escaped(part: str) -> str:
    """Return a name without the mark between parts and without characters no cell can hold or nobody sees."""
    return "".join(letter if letter.isprintable() and letter not in "|%" else quote(letter, safe="") for letter in part)
