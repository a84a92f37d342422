"""Which values an axis runs between: a value far off, such as a mistyped reading, must not squeeze all the others."""

from __future__ import annotations

import math
from collections.abc import Iterable

#: A value that does not count still draws the axis out to itself within this many spans of those that do.
REACH = 1.0
#: The same as a share of the largest value, where those that count hardly differ.
LEAST_REACH = 0.25
#: Room to either side, as a share of the value, where all values are one: an axis of a single tick says nothing.
ROOM = 0.1


def spanned(counted: Iterable[float], others: Iterable[float]) -> tuple[float, float] | None:
    """Return the ends of an axis for these values, in their own unit; None where there is no value.

    Every counted value lies between them, and of the others those that lie near. Without a counted value, all do. Where
    all are one value, there is room to either side of it.
    """
    sure, doubtful = _known(counted), _known(others)
    if not sure:
        sure, doubtful = doubtful, []
    if not sure:
        return None
    low, high = min(sure), max(sure)
    reach = max(REACH * (high - low), LEAST_REACH * abs(high))
    near = [value for value in doubtful if low - reach <= value <= high + reach]
    low, high = min([low, *near]), max([high, *near])
    room = ROOM * abs(high) if math.isclose(low, high, rel_tol=1e-6) else 0.0
    return low - room, high + room


def _known(values: Iterable[float]) -> list[float]:
    return [value for value in values if value is not None and value == value]
