"""The inputs of a calculation record: each number once, as typed, as kept, and what it is: read, policy or assumed."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from pipeline.basis import DEFAULTS
from pipeline.explain import Input
from pipeline.explain import _as_typed as as_typed
from pipeline.paper import Column, Paragraph, Points, Section, Table, Tex
from pipeline.paper_parts import KEPT_UNITS, NONE, cell_of, unrounded
from pipeline.quantities import QUANTITIES
from pipeline.reading import Row, asked
from pipeline.units import find_unit

#: Words by which an origin without a cell says that something was assumed, for the register does not have it.
_ASSUMED = ("on the register", "the register gives no", "assumed", "none is given", "unknown origin")

_Key = tuple[str, float, str]


class Inputs:
    """The inputs of a chain of equations, numbered in the order in which they are first used."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self._connection = connection
        self._numbers: dict[_Key, int] = {}
        self._items: list[Input] = []
        self._policies = {
            row["label"]: row for row in asked(connection, "SELECT key, label, reference, stated FROM basis.policy")
        }
        self._settable = {policy.key for policy in DEFAULTS if policy.settable}

    @staticmethod
    def is_step(item: Input) -> bool:
        """Return whether an input is the result of an earlier step."""
        return not item.origin.file and item.origin.words.startswith("step ")

    def number_of(self, item: Input) -> int:
        """Return the number of an input, the next one where it was not used before."""
        key = (item.symbol, item.value, str(item.origin))
        if key not in self._numbers:
            self._items.append(item)
            self._numbers[key] = len(self._items)
        return self._numbers[key]

    def standing(self, item: Input) -> str:
        """Return what an input is: empty where it was read from a cell or follows from the record, else the mark."""
        words = item.origin.words
        if words.startswith("basis: "):
            for label, row in self._policies.items():
                if words.startswith(f"basis: {label} ("):
                    if row["stated"]:
                        return "plant's policy"
                    return "default" if row["key"] in self._settable else "fixed"
        return "assumed" if any(text in words for text in _ASSUMED) else ""

    def table(self) -> Table:
        """Return the inputs as a table."""
        columns = (
            Column("no.", numeric=True),
            Column("symbol", narrow=True),
            Column("meaning"),
            Column("as typed", numeric=True),
            Column("as kept", numeric=True),
            Column("source"),
            Column("mark", narrow=True),
        )
        rows = tuple(
            (
                str(place),
                Tex(item.typeset),
                item.label,
                item.origin.text or NONE,
                unrounded(item.value, QUANTITIES[item.symbol].unit),
                _source(item),
                self.standing(item),
            )
            for place, item in enumerate(self._items, start=1)
        )
        strong = tuple(n for n, item in enumerate(self._items) if self.standing(item) == "assumed")
        return Table(columns, rows, strong)

    def section(self, asset: str, component: str, without_place: bool) -> Section:
        """Return the section of the inputs; where there is no place to work from, what the register does say."""
        if not without_place and self._items:
            return Section("Inputs", (self.table(), Paragraph(MEANING)))
        rows = asked(
            self._connection,
            "SELECT field, text, unit, number, contradictory, file, sheet, cell FROM step.field "
            "WHERE asset = ? AND kind = 'components' AND component = ? AND field NOT IN ('asset', 'component') "
            "ORDER BY field",
            [asset, component],
        )
        columns = (Column("on the register"), Column("as typed"), Column("as kept", numeric=True), Column("source"))
        said = tuple(
            (
                row["field"].replace("_", " "),
                _settled(row),
                _kept(row["number"], row["unit"]),
                cell_of(row),
            )
            for row in rows
        )
        return Section("Inputs", (Table(columns, said),))

    def assumptions(self, remarks: Sequence[str], bands: Sequence[str]) -> Section:
        """Return the section of what was assumed: remarks of the chain, defaults the plant has not set, and bands."""
        defaults = [
            f"Default, for the plant's basis does not set it: {item.label} = {item.shown} "
            f"({item.origin.words.removeprefix('basis: ')})."
            for item in self._items
            if self.standing(item) == "default"
        ]
        chosen = [
            f"{'Set by the plant' if row['stated'] else 'Default'}: {row['label']} is “{row['word']}” "
            f"({row['reference']})."
            for row in asked(
                self._connection,
                "SELECT label, word, reference, stated FROM basis.policy "
                "WHERE key IN ('radius_basis', 'rate_policy', 'thick_wall') ORDER BY key",
            )
        ]
        blocks = [Points(tuple(dict.fromkeys([*remarks, *chosen, *defaults])))]
        if bands:
            blocks.append(Points(tuple(f"How sure: {text}" for text in bands)))
        return Section("Assumptions and defaults", tuple(blocks))


MEANING = (
    "As typed: the cell as it stood. As kept: unrounded, in the unit kept inside. Marks: assumed (the register does "
    "not say; in bold), default (a policy the plant has not set), plant's policy, fixed (a constant of the program). "
    "No mark: read from the cell named, or from the record."
)


def _settled(row: Row) -> str:
    if row["contradictory"]:
        return "two rows contradict each other"
    return as_typed(row["text"], row["unit"]) or NONE


def _kept(number: float | None, unit: str | None) -> str:
    """Return a number of the register unrounded, in the unit its kind is kept in."""
    known = find_unit(unit or "-")
    return unrounded(number, KEPT_UNITS.get(known.kind, known.name) if known else "")


def _source(item: Input) -> str:
    origin = item.origin
    if not origin.file:
        return origin.words
    place = ", ".join(part for part in (origin.file, origin.sheet, origin.cell) if part)
    return f"{place} ({origin.words})" if origin.words else place
