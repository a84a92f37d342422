"""What a table is made of: its region and columns, and the labels and unit statements that hold for it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from pipeline.sheets.headings import Column
from pipeline.sheets.values import ReadDate, Refused, Value
from pipeline.sheets.workbooks import Grid
from pipeline.units import Unit

#: The columns that say which thing a row is about.
IDENTITY = ("asset", "component", "location", "device", "name")


@dataclass
class Head:
    """One column of a table: its heading, what it means, its unit and where the unit was stated; for one of several
    readings at a location, its point (`N`, `90°`, `Top`)."""

    index: int
    text: str
    column: Column | None = None
    on: ReadDate | Refused | None = None
    unit: Unit | None = None
    unit_from: str | None = None
    problem: str = ""
    derived: bool = False
    derived_on: ReadDate | Refused | None = None
    point: str = ""
    twice: str = ""

    @property
    def name(self) -> str:
        """The canonical column, or an empty string."""
        return "" if self.column is None else self.column.name


@dataclass(frozen=True)
class Label:
    """A value given above a table for all of its rows, with the cells that give it; `problem` says what stands between
    it and the rows, so that it may not be theirs."""

    value: Value
    row: int
    column: int
    label_column: int
    problem: str = ""


@dataclass(frozen=True)
class Statement:
    """A unit stated for a whole table or sheet, with its cell and the columns it is stated for (none: every column of
    its kind); `inherited` where it stands at the top of the sheet and not with its table."""

    unit: Unit
    row: int
    column: int
    unit_from: str
    names: frozenset[str] = frozenset()
    follower: int | None = None
    inherited: bool = False


@dataclass
class Table:
    """One table of a sheet: its region, header and columns. Rows and columns count from 0; `bottom` and `right` lie
    behind the last one."""

    grid: Grid
    kind: str
    top: int
    header_row: int
    unit_row: int | None
    bottom: int
    left: int
    right: int
    heads: list[Head]
    repeated: set[int] = field(default_factory=set)
    page_titles: set[int] = field(default_factory=set)
    texts_above: set[int] = field(default_factory=set)
    labels: dict[str, Label] = field(default_factory=dict)
    statements: list[Statement] = field(default_factory=list)
    order_note: str = ""
    upper_row: int | None = None
    sections: list[tuple[int, str, Label]] = field(default_factory=list)

    @property
    def first(self) -> int:
        """The first row below header and unit row."""
        return (self.header_row if self.unit_row is None else self.unit_row) + 1

    def head(self, name: str) -> Head | None:
        """Return the column of a canonical name."""
        return self._by_name.get(name)

    @cached_property
    def _by_name(self) -> dict[str, Head]:
        return {head.name: head for head in reversed(self.heads) if head.name and not head.twice}

    def stated_unit(self, kind: str, name: str) -> Statement | None:
        """Return the statement that holds for a column of a kind: one of the table's own before one of the sheet. None
        where there is none, or two say different units."""
        about = [
            statement
            for statement in self.statements
            if statement.unit.kind == kind and (not statement.names or name in statement.names)
        ]
        nearest = [statement for statement in about if not statement.inherited] or about
        return nearest[0] if len({statement.unit for statement in nearest}) == 1 else None

    @property
    def lacking(self) -> set[str]:
        """The names a label may give that the table has no column for."""
        given = {head.name for head in self.heads}
        return {"asset", "component", "location", "date"} - given

    def label(self, name: str, row: int) -> Label | None:
        """Return the label that holds for a row: the last one between the rows above it, or that above the table."""
        if not self.sections:
            return self.labels.get(name)
        within = [label for at, named, label in self.sections if named == name and at < row]
        return within[-1] if within else self.labels.get(name)
