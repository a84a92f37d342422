"""The rows of a table: which are data, what they are about, and what becomes of everything else around them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from pipeline.sheets.facts import Setting
from pipeline.sheets.headings import Headings
from pipeline.sheets.intake import Desk
from pipeline.sheets.layout import IDENTITY, Head, Label, Statement, Table
from pipeline.sheets.merged import Spans
from pipeline.sheets.return_code import CodedPlace, is_printed, place_of
from pipeline.sheets.sums import begins_like_sum, is_sum
from pipeline.sheets.titles import begins_like_note, begins_with_note_word, is_wordy
from pipeline.sheets.unread import holds_number, looks_like_readings, merged_heading, only_stated, serial_date
from pipeline.sheets.values import (
    DateOrder,
    Fault,
    Refused,
    Value,
    as_text,
    date_order_of,
    is_blank,
    needs_order,
    read_key,
    read_number,
    settle_order,
    unit_of,
)
from pipeline.sheets.words import reason_not_measured
from pipeline.sheets.workbooks import address
from pipeline.units import Unit


@dataclass(frozen=True)
class Identity:
    """What a row is about, the cells that say so, or why that is not known."""

    names: Mapping[str, str]
    cells: tuple[tuple[int, int], ...]
    refused: Refused | None = None
    refused_at: tuple[int, int] | None = None

    def get(self, name: str) -> str | None:
        """Return a name of the row, or None where the kind has none."""
        return self.names.get(name)

    def at(self, point: str) -> Identity:
        """Return the identity of one point of the location: `3 N` for the point N of location 3."""
        if not point:
            return self
        return replace(self, names={**self.names, "location": f"{self.names['location']} {point}"})

    @property
    def spoken(self) -> str:
        """The row's names in one phrase."""
        words = [self.names[name] for name in IDENTITY if name in self.names]
        return " ".join(words) or "this row"


#: What a row of a kind must name; anything else of its identity may be blank.
REQUIRED: dict[str, tuple[str, ...]] = {
    "survey, wide": ("asset", "location"),
    "survey, long": ("asset", "location"),
    "components": ("asset", "component"),
    "locations": ("asset", "component", "location"),
    "relief devices": ("device",),
    "deferrals": ("asset",),
    "set intervals": ("asset",),
    "rate choices": ("asset", "component"),
    "recommendations": ("asset",),
    "scope decisions": ("asset",),
    "events": ("asset",),
    "renumbered locations": ("asset",),
    "inspections": ("asset",),
    "turnarounds": ("name",),
    "corroded areas": ("asset", "component"),
    "pits": ("asset", "component"),
    "assets": ("asset",),
}
_SPOKEN = {"asset": "the tag", "device": "the device's tag"}
#: What a person fills in on a field sheet; a date alone is no reading.
FILLED_IN = (
    "thickness",
    "not_measured_because",
    "remark",
    "distance_to_weld",
    "weld_region",
    "head_zone",
    "description",
)
#: How results name the component of a place whose survey names none.
UNSTATED_COMPONENT = "(not stated)"


class Body:
    """The part of a table below its header, with what is needed to read it."""

    def __init__(
        self, table: Table, desk: Desk, headings: Headings, aliases: Mapping[str, str], order: DateOrder, as_of: date
    ) -> None:
        self.table, self.desk, self.headings, self.as_of = table, desk, headings, as_of
        self.rows = desk.grid.rows
        self._aliases, self.stated_order = aliases, order
        self.spans = Spans(table)
        self._merged = self.spans.down
        self._orders: dict[int, DateOrder] = {}
        self._formats: dict[int, dict[int, Unit]] = {}
        self._labels_used: set[Label] = set()
        self._label_rows = {row for row, _, _ in table.sections}
        self._statements_used: set[Statement] = set()
        self._coded: dict[str, list[int]] | None = None
        self._left_blank = 0
        self._in_doubt: dict[int, tuple[Refused, int]] = {}
        #: The rows worked out from others, each with the column of the word that says so.
        self.sums: dict[int, int] = {}

    # ------------------------------------------------------------------------------------------------------ rows

    def data_rows(self) -> list[int]:
        """Return the rows that hold data, after giving notes, totals and repeated headers their disposition."""
        return [row for row in range(self.table.first, self.table.bottom) if self.is_data(row)]

    def is_data(self, row: int) -> bool:
        """Tell whether a row holds data; a note, total or repeated header gets its disposition here."""
        table = self.table
        line = self.rows[row]
        filled = [(column, line[column]) for column in range(table.left, table.right) if not is_blank(line[column])]
        if not filled:
            return False
        role = self._role(row, filled)
        if role and role != "total":  # what a total says is looked at when the rows it stands for are known
            for column, _ in filled:
                self.desk.marks.ignore(row, column, role)
        return not role

    def _role(self, row: int, filled: list[tuple[int, Value]]) -> str:
        if row in self.table.repeated:
            return "repeated header"
        if row in self.table.page_titles or row in self._label_rows:
            return "title"
        if self._is_sum(row, filled):
            return "total"
        if row in self._in_doubt:
            return ""
        if isinstance(filled[0][1], str) and self._is_note(row, filled):
            return "note"
        if row == self.table.header_row + 1 and all(isinstance(value, str) and unit_of(value) for _, value in filled):
            return "unit row"
        known = {head.index for head in self.table.heads if head.column is not None or head.on is not None}
        return "" if any(column in known for column, _ in filled) else self._stray(filled)

    def _is_sum(self, row: int, filled: list[tuple[int, Value]]) -> bool:
        """Tell a row worked out from others from one of data: it names nothing, or its name is a word for a sum."""
        coded = self.table.head("return_code")
        if coded is not None and not is_blank(self.rows[row][coded.index]):
            return False
        about = {head.index for head in self.table.heads if head.name in IDENTITY}
        named = [(column, value) for column, value in filled if column in about]
        words = [column for column, value in named if is_sum(value)]
        column, first = filled[0]
        if words:
            if len(words) == len(named) or self.table.kind.startswith("survey"):
                self.sums[row] = words[0]
                return True
            text = as_text(self.rows[row][words[0]])
            reason = (
                f"'{text}' is a word for what is worked out from others, not a name: give the row its name or clear it"
            )
            self._in_doubt[row] = Refused(reason), words[0]
        elif isinstance(first, str) and begins_like_sum(first) and (about or is_sum(first)):
            if not named or len(filled) == 1:
                self.sums[row] = column
                return True
            if is_sum(first) and not any(isinstance(read_number(value), Refused) for _, value in named):
                reason = (
                    f"the row begins with '{first.strip()}' and names only numbers, which may be counts or tags: clear "
                    f"the row, or write something else in {address(row, column)}"
                )
                self._in_doubt[row] = Refused(reason), column
        return False

    def _is_note(self, row: int, filled: list[tuple[int, Value]]) -> bool:
        """Tell a note from a row of data; one that begins like a note and holds a reading is in doubt."""
        column, text = filled[0][0], as_text(filled[0][1]).strip()
        if len(filled) == 1:
            return text.endswith(":") or begins_like_note(text) or self._is_lone_note(column, text)
        if len(filled) > 2 or not (text.endswith(":") or begins_like_note(text)):
            return False
        place, beside = filled[1]
        if not self._is_measured(place) or isinstance(read_number(beside, self.desk.grid.decimal_comma), Refused):
            return text.endswith(":") or isinstance(beside, str)
        if self.headings.read(text) is not None:
            return True
        if begins_with_note_word(text):
            reason = (
                "the row begins like a note and holds a number under a heading: write something else in "
                f"{address(row, column)}, or clear the row"
            )
            self._in_doubt[row] = Refused(reason), column
        return False

    def _is_measured(self, column: int) -> bool:
        """Tell whether a column holds what is measured or stated in a unit."""
        return any(
            head.index == column
            and (head.on is not None or (head.column is not None and head.column.unit_kind is not None))
            for head in self.table.heads
        )

    def _is_lone_note(self, column: int, text: str) -> bool:
        head = next((head for head in self.table.heads if head.index == column), None)
        if head is None or (head.column is None and head.on is None):
            return True
        return is_wordy(text)

    def _stray(self, filled: list[tuple[int, Value]]) -> str:
        """A row with nothing under a known heading: a note if it stands outside the columns, else an unknown one."""
        under = {head.index for head in self.table.heads}
        return "" if any(column in under for column, _ in filled) else "note"

    # -------------------------------------------------------------------------------------------------- identity

    def identity(self, row: int) -> Identity:
        """Return what a row is about, from its own cells, merged cells, or labels above the table."""
        coded = self.table.head("return_code")
        if coded is not None and not is_blank(self.rows[row][coded.index]):
            return self._identity_by_code(row, coded)
        if row in self._in_doubt:
            refused, column = self._in_doubt[row]
            return Identity({}, (), refused, (row, column))
        names: dict[str, str] = {}
        cells: list[tuple[int, int]] = []
        for name in IDENTITY:
            head = self.table.head(name)
            label = self.table.label(name, row)
            if head is not None and head.problem:
                return Identity(names, (), Refused(head.problem))
            if head is not None:
                place = self._merged.get((row, head.index), (row, head.index))
                value = self.rows[place[0]][place[1]]
            elif label is not None:
                if label.problem:
                    return Identity(names, (), Refused(label.problem))
                place, value = (label.row, label.column), label.value
            else:
                continue
            if is_blank(value) or (isinstance(value, str) and reason_not_measured(value) == "no value"):
                if head is not None and not is_blank(value):
                    cells.append(place)
                continue
            key = read_key(value)
            if isinstance(key, Refused):
                return Identity(names, (), key, place)
            names[name] = self.alias(key) if name == "asset" else key
            if label is not None and head is None:
                self.use_label(label)
            else:
                cells.append(place)
        for name in self._required():
            if name not in names:
                return Identity(names, (), self._missing(name, row))
        return Identity(names, tuple(cells))

    def _identity_by_code(self, row: int, coded: Head) -> Identity:
        """Return the place a field sheet's code stands for. Tags that say otherwise are named in the ledger; they count
        only where the row is plainly a copy of another one, made for a place the sheet did not have."""
        place = place_of(as_text(self.rows[row][coded.index]))
        if isinstance(place, Refused):
            return Identity({}, (), place, (row, coded.index))
        others = [other for other in self._rows_of_code(coded)[as_text(self.rows[row][coded.index])] if other != row]
        differing = self._tags_against(row, place)
        if differing and any(not self._tags_against(other, place) for other in others):
            rows = ", ".join(str(other + 1) for other in others)
            return Identity(
                {},
                (),
                Refused(
                    f"the return code stands in row {rows} too, and the tags of this row say otherwise: clear the code "
                    "so that its tags count"
                ),
                (row, coded.index),
            )
        spoken = " ".join(place.names.values())
        for column, text in differing:
            reason = f"the cell says '{text}', the return code of the row stands for {spoken}: the code counts"
            self.warn(row, column, reason, f"the row is read as {spoken}")
        tags = [head.index for name in IDENTITY if (head := self.table.head(name)) is not None]
        names = {**place.names, "asset": self.alias(place.asset)}
        return Identity(names, ((row, coded.index), *((row, index) for index in tags)))

    def _tags_against(self, row: int, place: CodedPlace) -> list[tuple[int, str]]:
        """Return the cells of a row whose tags are not those of its code; a blank cell says nothing against it."""
        differing = []
        for name in ("asset", "component", "location"):
            head = self.table.head(name)
            if head is None or is_blank(self.rows[row][head.index]):
                continue
            text = as_text(self.rows[row][head.index])
            key = read_key(self.rows[row][head.index])
            said = None if isinstance(key, Refused) else self.alias(key) if name == "asset" else key
            if said != (place.names.get(name) or UNSTATED_COMPONENT):
                differing.append((head.index, text))
        return differing

    def _rows_of_code(self, coded: Head) -> dict[str, list[int]]:
        """Return the filled rows of every code."""
        if self._coded is None:
            self._coded = {}
            for row in range(self.table.first, self.table.bottom):
                text = as_text(self.rows[row][coded.index])
                self._coded.setdefault(text, [])
                if text.strip() and not self.left_blank(row):
                    self._coded[text].append(row)
        return self._coded

    def left_blank(self, row: int) -> bool:
        """Tell whether a row of a field sheet brings nothing: neither a thickness nor a reason nor anything else."""
        coded = self.table.head("return_code")
        if coded is None or is_blank(self.rows[row][coded.index]):
            return False
        return not any(self.is_given(row, head) for head in self.table.heads if head.name in FILLED_IN)

    def pass_over(self, row: int) -> None:
        """Give the cells of a row of a field sheet that was left blank their disposition."""
        self._left_blank += 1
        for column in range(self.table.left, self.table.right):
            self.desk.marks.ignore(row, column, "field sheet row left blank")

    def alias(self, tag: str) -> str:
        """Return the asset a tag stands for by the plant's aliases; any other tag as it is."""
        return self._aliases.get(tag, tag)

    @staticmethod
    def may_be_remark(text: str) -> bool:
        """Tell whether a text at the start of a row may make it a total or a note."""
        bare = text.strip()
        return bool(begins_like_sum(bare) or begins_like_note(bare) or bare.endswith(":"))

    def _required(self) -> tuple[str, ...]:
        required = REQUIRED[self.table.kind]
        if self.table.kind == "relief devices" and self.table.head("asset") is not None:
            return ("asset", *required)
        if self.table.kind.startswith("survey") and any(head.name == "component" for head in self.table.heads):
            # A survey without the column leaves the component to the locations sheet; a blank in the column may mean
            # "the same as above" and is not guessed.
            return (*required, "component")
        return required

    def _missing(self, name: str, row: int) -> Refused:
        head = self.table.head(name)
        if head is not None:
            what = _SPOKEN.get(name, f"the {name}")
            return Refused(
                f"the row has no {name}: write {what} in {address(row, head.index)}, "
                "or merge the cell with those it belongs to"
            )
        same = [head for head in self.table.heads if head.name == name]
        if same:
            return Refused(same[0].problem or f"the {name} is not clear: {same[0].twice}")
        above = " or write 'Vessel: TAG' above the header" if name == "asset" else ""
        return Refused(f"the table has no {name}: add a column '{name}'{above}")

    def filled_down(self, column: int) -> Sequence[Value]:
        """Return the cells of a column below the header, a merged cell's value in every row it spans."""
        cells = self.desk.grid.columns[column][self.table.first : self.table.bottom]
        spans = [(row, place) for (row, at), place in self._merged.items() if at == column]
        if not spans:
            return cells
        filled = list(cells)
        for row, place in spans:
            filled[row - self.table.first] = self.rows[place[0]][place[1]]
        return filled

    def use_merged(self, head: Head, rows: NDArray[np.int64]) -> None:
        """Mark the merged cells that say something about these rows as used."""
        places = {row: place for (row, at), place in self._merged.items() if at == head.index}
        if places:
            for row in set(places).intersection(rows.tolist()):
                self.desk.marks.used(*places[row])

    def place_of(self, row: int, head: Head) -> tuple[int, int]:
        """Return the cell that holds the value of a column for a row: its own, or that of its merged cell."""
        return self._merged.get((row, head.index), (row, head.index))

    def value_of(self, row: int, head: Head) -> Value:
        """Return the value of a column for a row, also where a merged cell holds it."""
        place = self.place_of(row, head)
        return self.rows[place[0]][place[1]]

    def is_given(self, row: int, head: Head) -> bool:
        """Tell whether a column says anything for a row, be it by a merged cell that may belong to another place."""
        return not is_blank(self.value_of(row, head)) or self.spans.over(row, head) is not None

    # ----------------------------------------------------------------------------------------- units and date order

    def setting(self, row: int, head: Head) -> Setting:
        """Return the unit, date order and decimal sign that hold for a cell."""
        unit, unit_from = self.unit_at(row, head)
        where = {"header": "the header", "row below header": "the row below the header"}.get(
            unit_from or "", "the sheet"
        )
        return Setting(unit, unit_from, self.order_of(head), self.as_of, self.desk.grid.decimal_comma, where)

    def unit_at(self, row: int, head: Head) -> tuple[Unit | None, str | None]:
        """Return the unit of a cell and where it was stated, other than in the cell itself."""
        if head.unit is not None or head.problem:
            return head.unit, head.unit_from
        kind = "length" if head.on is not None else head.column.unit_kind if head.column else None
        if kind is None or kind in ("ratio", "angle"):
            return None, None
        unit = self._units_of_formats(head).get(row)
        if unit is not None and unit.kind == kind:
            return unit, "number format"
        statement = self.table.stated_unit(kind, "thickness" if head.on is not None else head.name)
        if statement is None:
            return None, None
        self._statements_used.add(statement)
        return statement.unit, "sheet statement"

    def problem_at(self, row: int, head: Head) -> str:
        """Return what makes the meaning or the unit of a cell doubtful before it is read, or an empty string."""
        return head.problem or self.contradicted(head).get(row, "")

    def contradicted(self, head: Head) -> dict[int, str]:
        """Return the rows of a column in which the number format of a number says another unit than its heading, each
        with the sentence that names both."""
        kind = "length" if head.on is not None else head.column.unit_kind if head.column else None
        if kind is None or kind in ("ratio", "angle"):
            return {}
        where = "the header" if head.unit_from == "header" else "the row below the header"
        found = {}
        for row, unit in self._units_of_formats(head).items():
            at = address(row, head.index)
            if isinstance(self.rows[row][head.index], str):
                continue  # a format shows its unit behind numbers only
            if unit.kind != kind:
                found[row] = f"the number format of {at} says '{unit.name}', which is no unit of {kind}: correct it"
            elif head.unit is not None and unit != head.unit:
                found[row] = (
                    f"{where} says '{head.unit.name}' and the number format of {at} '{unit.name}': correct one of them"
                )
        return found

    def has_unit_formats(self, head: Head) -> bool:
        """Tell whether number formats state the units of a column cell by cell."""
        return bool(self._units_of_formats(head))

    def _units_of_formats(self, head: Head) -> dict[int, Unit]:
        """Return the units that the number formats of a column show, by row."""
        if head.index not in self._formats:
            first, bottom = self.table.first, self.table.bottom
            shown = {
                row: unit_in_format(text)
                for (row, at), text in self.desk.grid.worded_formats.items()
                if at == head.index and first <= row < bottom
            }
            self._formats[head.index] = {row: unit for row, unit in shown.items() if unit is not None}
        return self._formats[head.index]

    def order_of(self, head: Head) -> DateOrder:
        """Return the order of day and month in a column of dates, with a note in the ledger where it mattered."""
        if head.column is None or head.column.reads_as != "date":
            return ""
        if head.index not in self._orders:
            values = self.desk.grid.columns[head.index][self.table.first : self.table.bottom]
            if str not in self.desk.grid.types[head.index]:
                values = ()  # only texts leave the order of day and month open
            proved, place, contradictory = date_order_of(values)
            proof = "" if place is None else address(self.table.first + place, head.index)
            order, sentence = settle_order(proved, contradictory, self.stated_order, proof, f"column '{head.text}'")
            if sentence and any(needs_order(value) for value in values):
                self.desk.ledger(self.table.header_row, head.index, head.text, sentence, "the dates are used", "note")
            self._orders[head.index] = order
        return self._orders[head.index]

    # ---------------------------------------------------------------------------------------------------- refusals

    def refuse_row(self, row: int, reason: str, at: tuple[int, int] | None, spoken: str) -> None:
        """Set the values of a row aside, each with its line in the ledger. The cells that only say what the row is
        about count as used, for the ledger names the row by them; they are set aside where the row has nothing else."""
        if at is not None:
            if at[0] == row:
                self.refuse(*at, reason, f"the row of {spoken} is not used")
                reason = f"what {address(*at)} says cannot be used: see the entry about {address(*at)}"
            else:
                reason = f"what {address(*at)} says cannot be used: {reason}"
        filled = [
            head
            for head in self.table.heads
            if (head.column is not None or head.on is not None)
            and not head.twice
            and (row, head.index) != at
            and not is_blank(self.rows[row][head.index])
        ]
        values = [head for head in filled if head.name not in self._describing()] or ([] if at else filled)
        for head in filled:
            if head in values:
                self.refuse(row, head.index, reason, f"{what(head)} of {spoken} is not used")
            else:
                self.desk.marks.used(row, head.index)

    def refuse_doubtful(self, row: int, spoken: str) -> None:
        """Set aside the cells of a row under headings whose meaning or unit is in doubt, unless that is done."""
        for head in self.table.heads:
            if head.problem and not head.twice and self.desk.marks.is_open(row, head.index):
                self.refuse(row, head.index, head.problem, f"{what(head)} of {spoken} is not used")

    def _describing(self) -> tuple[str, ...]:
        """The columns that say what a row is about, or accompany its value."""
        survey = ("date", "unit", "method", "inspector", "remark", "return_code")
        return (*IDENTITY, *survey) if self.table.kind.startswith("survey") else IDENTITY

    def refuse(self, row: int, column: int, reason: str, effect: str) -> None:
        """Set one cell aside with its line in the ledger."""
        self.desk.marks.set_aside(row, column)
        self.desk.ledger(row, column, as_text(self.rows[row][column]), reason, effect)

    def warn(self, row: int, column: int, reason: str, effect: str) -> None:
        """Write a warning about a cell that is used."""
        self.desk.ledger(row, column, as_text(self.rows[row][column]), reason, effect, "warning")

    def later(self, row: int, column: int, effect: str) -> None:
        """Note a cell that is left out because its date lies after the as-of date."""
        self.desk.marks.ignore(row, column, "after the as-of date")
        reason = (
            f"dated after the as-of date {self.as_of.isoformat()}: correct the date, or build with a later as-of date"
        )
        self.desk.ledger(row, column, as_text(self.rows[row][column]), reason, effect, "note")

    def read(self, row: int) -> None:
        """Count a data row, and whether any of its cells was set aside."""
        self.desk.rows_read += 1
        if any(self.desk.marks.is_set_aside(row, column) for column in range(self.table.left, self.table.right)):
            self.desk.rows_set_aside += 1

    def read_all(self, rows: NDArray[np.int64]) -> None:
        """Count data rows, and those with a cell that was set aside."""
        self.desk.rows_read += len(rows)
        self.desk.rows_set_aside += self.desk.marks.set_aside_in(rows, self.table.left, self.table.right)

    # ---------------------------------------------------------------------------------------------- everything else

    def finish(self) -> None:
        """Give every cell around the data its disposition: header, unit row, labels, titles, unknown columns."""
        table, marks = self.table, self.desk.marks
        if table.order_note:
            self.desk.ledger(table.header_row, table.left, "", table.order_note, "the dates are used", "note")
        for statement in self._statements_used:
            marks.used(statement.row, statement.column)
            if statement.follower is not None:
                marks.used(statement.row, statement.follower)
        for column in range(table.left, table.right):
            marks.ignore(table.header_row, column, "header")
            if table.upper_row is not None:
                marks.ignore(table.upper_row, column, "header")
            if table.unit_row is not None:
                marks.ignore(table.unit_row, column, "unit row")
        self._name_points()
        self._warn_of_formulas()
        self._pass_over_printed()
        self._note_left_blank()
        self._note_merged()
        self._name_unknown_columns()
        for row, column in marks.open_cells(table.top, table.header_row, table.left, table.right):
            marks.ignore(row, column, "title")

    def use_label(self, label: Label) -> None:
        """Mark the cells of a label that supplied a value."""
        if label not in self._labels_used:
            self._labels_used.add(label)
            self.desk.marks.used(label.row, label.column)
            self.desk.marks.used(label.row, label.label_column)

    def _name_points(self) -> None:
        """Say how the locations of a table with several readings to a date are named."""
        points = list(dict.fromkeys(head.point for head in self.table.heads if head.point))
        if points:
            first = next(head for head in self.table.heads if head.point)
            reason = (
                f"each of the points {', '.join(points)} is read as a location of its own, named by location and "
                f"point, such as '3 {points[0]}' for location 3"
            )
            self.desk.ledger(self.table.header_row, first.index, first.text, reason, "the readings are used", "note")

    def _warn_of_formulas(self) -> None:
        """Warn of names that are the text of a formula: they are kept as names and never computed."""
        for head in self.table.heads:
            if head.column is None or head.column.reads_as != "key":
                continue
            for text in sorted(self.desk.grid.texts[head.index]):
                if not text.lstrip().startswith(("=", "@")):
                    continue
                rows = self.desk.grid.rows_with(head.index, text, self.table.first, self.table.bottom)
                row = next(rows, None)
                if row is not None:
                    reason = f"'{text}' looks like the text of a formula: it is taken as a name and never computed"
                    self.warn(row, head.index, reason, f"the {head.column.label} is read as it stands")

    def _is_printed(self, head: Head | None) -> bool:
        return head is not None and head.column is None and head.on is None and is_printed(head.text)

    def _pass_over_printed(self) -> None:
        """Give what a field sheet printed for the person who measures its disposition: it is never a reading."""
        if self.table.head("return_code") is None:
            return
        for head in filter(self._is_printed, self.table.heads):
            for row, column in self.desk.marks.open_cells(
                self.table.first, self.table.bottom, head.index, head.index + 1
            ):
                self.desk.marks.ignore(row, column, "printed on the field sheet")

    def _note_left_blank(self) -> None:
        if self._left_blank:
            rows = "1 row" if self._left_blank == 1 else f"{self._left_blank} rows"
            head = self.table.head("return_code")
            column = self.table.left if head is None else head.index
            text = as_text(self.rows[self.table.header_row][column])
            reason = f"{rows} of the field sheet left blank: nothing was measured there"
            self.desk.ledger(self.table.header_row, column, text, reason, "nothing is read from blank rows", "note")

    def _note_merged(self) -> None:
        """Say which merged cells count for several rows."""
        for _, spans in self.spans.stated():
            text = as_text(self.rows[spans[0].top][spans[0].left])
            ranges = ", ".join(span.spoken for span in spans)
            reason, effect = f"merged over several rows: {ranges}", "it counts for each of the rows it covers"
            self.desk.ledger(*spans[0].anchor, text, reason, effect, "note")

    def _name_unknown_columns(self) -> None:
        table, marks = self.table, self.desk.marks
        field_sheet = table.head("return_code") is not None
        heads = {head.index: head for head in table.heads}
        for column in range(table.left, table.right):
            head = heads.get(column)
            if head is not None and (head.column is not None or head.on is not None) and not head.twice:
                continue
            if field_sheet and self._is_printed(head):
                continue
            cells = marks.open_cells(table.first, table.bottom, column, column + 1)
            for row, _ in cells:
                marks.ignore(row, column, "derived column" if head is not None and head.derived else "unknown column")
            if head is not None and head.derived:
                continue
            if cells or (head is not None and head.text):
                self._note_column(head, column, [row for row, _ in cells])

    def _unknown_heading(self, head: Head) -> str:
        here = _kind_words(self.table.kind)
        elsewhere = self.headings.elsewhere(head.text)
        if elsewhere:
            label, kinds = elsewhere
            there = " or ".join(dict.fromkeys(_kind_words(kind) for kind in kinds))
            return f"'{head.text}' ({label}) is not read from {here}: give it in {there}"
        if only_stated(head.text):
            return only_stated(head.text)
        if self.table.kind == "survey, wide" and re.search(r"\d{2}", head.text):
            serial = serial_date(head.text)
            no_date = "not a date" if serial is None else f"a number, not a date ({serial} if it is a date serial)"
            return (
                f"the heading '{head.text}' is {no_date}: write the date of the readings as year-month-day, or the "
                "name of a known column"
            )
        near = self.headings.near(head.text, self.table.kind)
        meant = f"if it means {' or '.join(near)}, " if near else ""
        return (
            f"the heading '{head.text}' is not known for {here}: {meant}rename it, or name its column under "
            "[headings] in basis.toml"
        )

    def _note_column(self, head: Head | None, column: int, rows: list[int]) -> None:
        """Say that a column is not read; it is set aside where readings may stand in it."""
        table = self.table
        count = "1 cell of this column is" if len(rows) == 1 else f"{len(rows)} cells of this column are"
        header_rows = [row for row in (table.header_row, table.upper_row) if row is not None]
        over = None
        if head is None:
            if not rows:
                return
            text, place = as_text(self.rows[rows[0]][column]), rows[0]
            reason = f"the cells have no heading: write a heading in {address(table.header_row, column)}"
            over = merged_heading(self.desk.grid, header_rows, column, table.heads)
            if over is not None:
                reason = (
                    f"the heading '{over[0].text}' is merged over {over[1]} and only its first column is read: give "
                    "each column its own heading"
                )
        else:
            text, place = head.text, table.header_row
            reason = f"{head.twice}: remove or rename this one" if head.twice else self._unknown_heading(head)
        heading = head if over is None else over[0]
        if heading is not None and self._may_hold_readings(heading, column, rows):
            place = next((row for row in (*header_rows, *rows) if not self.desk.marks.is_empty_at(row, column)), place)
            self.desk.marks.set_aside(place, column)
            self.desk.ledger(place, column, text, reason, f"{count} not read")
        else:
            self.desk.ledger(place, column, text, reason, f"{count} not read", "note")

    def _may_hold_readings(self, heading: Head, column: int, rows: list[int]) -> bool:
        if not holds_number((self.rows[row][column] for row in rows), self.desk.grid.decimal_comma):
            return False
        return heading.on is not None or looks_like_readings(heading.text, self.headings)


def _kind_words(kind: str) -> str:
    return f"a {kind.split(',')[0]}" if kind.startswith("survey") else f"a table of {kind}"


def what(head: Head) -> str:
    """Return what a column gives, in words."""
    return "thickness" if head.on is not None else head.column.label if head.column else f"'{head.text}'"


def unit_in_format(text: str) -> Unit | None:
    """Return the unit a number format shows behind the number, such as `0.000" in"`."""
    ending = re.search(r'(?:"[^"]*"|\\.|\s)+$', text.partition(";")[0])
    shown = "".join(one or two for one, two in re.findall(r'"([^"]*)"|\\(.)', ending[0])).strip() if ending else ""
    return unit_of(shown) if shown and shown != "-" else None


def text_or_none(value: Value) -> str | None:
    """Return a cell's text with blanks collapsed, or None where it is empty."""
    if isinstance(value, Fault):
        return value.text
    return " ".join(as_text(value).replace("\u00a0", " ").split()) or None
