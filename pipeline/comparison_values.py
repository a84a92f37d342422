"""What is compared between two builds: states, due dates, and each component's thickness, rate, life and pressure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import duckdb

from pipeline.reading import asked
from pipeline.units import show

#: Asset, component ("" for the asset's own), and what it is.
Key = tuple[str, str, str]


@dataclass(frozen=True)
class Value:
    """A value that is compared, and as it is said."""

    raw: tuple[Any, ...]
    words: str

    def same(self, other: Value | None) -> bool:
        """Return whether the other one is there and says the same, but for the last binary digits."""
        return other is not None and all(map(_alike, self.raw, other.raw))


def _alike(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12)
    return bool(one == other)


#: Of a component, besides its state: what it is called, its column, and the kind of quantity ("" for text and dates).
_OF_A_COMPONENT = (
    ("governing location", "governing_location", ""),
    ("last reading", "t_act_mm", "thickness"),
    ("required thickness", "t_req_mm", "thickness"),
    ("rate", "rate_mm_per_year", "rate"),
    ("remaining life", "remaining_life_years", "duration"),
    ("measure again by", "due_on", ""),
    ("MAWP now", "mawp_mpa", "pressure"),
    ("missing", "missing", ""),
)


def values(connection: duckdb.DuckDBPyConnection, system: str) -> dict[Key, Value]:
    """Return everything that is compared, in the order in which it is told."""
    found: dict[Key, Value] = {}
    for row in asked(connection, "SELECT asset, state, held_readings FROM result.asset ORDER BY asset"):
        found[row["asset"], "", "state"] = _standing(row)
    for row in asked(
        connection, "SELECT asset, kind, due_on, state, deferred_until FROM result.due_date ORDER BY asset, kind"
    ):
        deferred = f", deferred until {row['deferred_until']}" if row["deferred_until"] else ""
        state = "" if row["state"] == "deferred until" else f", {row['state']}"
        found[row["asset"], "", f"{row['kind']} due date"] = Value(
            (row["due_on"], row["deferred_until"], row["state"]), f"{row['due_on'] or 'no date'}{state}{deferred}"
        )
    for row in asked(connection, "SELECT * FROM result.component ORDER BY asset, component"):
        found[row["asset"], row["component"], "state"] = _standing(row)
        for what, column, kind in _OF_A_COMPONENT:
            value = row[column]
            words = show(value, kind, system) if kind else "none" if value is None else str(value)
            found[row["asset"], row["component"], what] = Value((value,), words)
    return found


def _standing(row: Mapping[str, Any]) -> Value:
    """Return a state with the readings that are held: with one of them nothing is plainly in date."""
    held = f", {row['held_readings']} held" if row["held_readings"] else ""
    return Value((row["state"], row["held_readings"]), f"{row['state']}{held}")
