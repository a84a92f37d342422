"""What makes a row a header: the columns it names are enough for one kind of table.

A header may take two rows: dates above their points (`2019-05-03` over N, E, S, W), points above their dates, or a
name merged over two halves (`Joint efficiency` over `long.` and `circ.`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from pipeline.sheets.headings import KINDS, Heading, Headings, date_and_unit, heading_text, normal
from pipeline.sheets.layout import IDENTITY, Head
from pipeline.sheets.points import read_point, split_ending
from pipeline.sheets.values import (
    DateOrder,
    ReadDate,
    Refused,
    Value,
    as_text,
    date_order_of,
    is_blank,
    needs_order,
    read_date,
    settle_order,
    unit_of,
)
from pipeline.sheets.workbooks import Grid, address
from pipeline.units import Unit

#: What a header must name to be of a kind: every group needs one of its columns ("a date" is a dated column).
NEEDS: dict[str, tuple[tuple[str, ...], ...]] = {
    "survey, wide": (("location", "component"), ("a date",)),
    "survey, long": (("thickness",), ("location", "component", "asset")),
    "components": (
        ("component",),
        (
            "kind",
            "nominal_thickness",
            "allowable_stress",
            "inside_diameter",
            "outside_diameter",
            "joint_efficiency",
            "joint_efficiency_longitudinal",
            "joint_efficiency_circumferential",
            "corrosion_allowance",
            "material",
            "nominal_pipe_size",
            "loss_side",
            "stated_corrosion_rate",
            "structural_minimum",
            "external_pressure",
            "required_thickness_external",
        ),
    ),
    "locations": (("location",), ("asset", "component", "distance_to_weld", "weld_region", "head_zone")),
    "relief devices": (("device",), ("set_pressure", "interval", "last_tested", "clean_service")),
    "deferrals": (("deferred_until",), ("asset", "kind", "due")),
    "set intervals": (("interval",), ("asset",), ("kind", "assessment", "approved_by", "approved_on")),
    "events": (("event",), ("asset", "component"), ("date", "component", "new_thickness")),
    "inspections": (("asset",), ("date",), ("kind", "result")),
    "turnarounds": (("start",), ("end",)),
    "assets": (
        ("asset",),
        (
            "description",
            "service",
            "area",
            "in_service",
            "mawp",
            "design_pressure",
            "design_temperature",
            "inside_diameter",
            "construction_code",
            "assigned_to",
            "relief_device",
            "continuous_service",
        ),
    ),
}


@dataclass(frozen=True)
class Reader:
    """What reading a header needs besides the sheet: the accepted headings, the order of dates, the as-of date."""

    grid: Grid
    headings: Headings
    order: DateOrder
    as_of: date


@dataclass(frozen=True)
class Header:
    """A header found: its rows, the kind of its table, and its columns. `named_row` holds the names of the columns,
    `row` is the last row of the header."""

    row: int
    kind: str
    heads: tuple[Head, ...]
    left: int
    right: int
    order_note: str
    named_row: int
    upper_row: int | None = None
    score: int = 0

    @property
    def names(self) -> set[str]:
        """The canonical columns it names."""
        return {head.name for head in self.heads if head.name}


@dataclass(frozen=True)
class _Dated:
    """What a heading that is a date says: the date, its unit, and the point or the sum (`MIN`) it stands for."""

    on: ReadDate | Refused
    unit: Unit | None = None
    point: str = ""
    derived: bool = False


def filled(grid: Grid, row: int, left: int, right: int) -> list[tuple[int, Value]]:
    """Return the cells of a row that hold something, with their columns."""
    return [(column, value) for column, value in enumerate(grid.rows[row][left:right], left) if not is_blank(value)]


def headers_in(reader: Reader, row: int, following: int, left: int, right: int) -> list[Header]:
    """Return the headers in a row: one, or several side by side. `following` is the next row with headings."""
    cells = filled(reader.grid, row, left, right)
    if not cells or _is_label_row(cells, reader.headings):
        return []
    apart = _side_by_side(reader, row, following, cells)
    if apart:
        return apart
    whole = _header_of(reader, row, cells) if len(cells) > 1 else None
    for two_rows in (_over_dates, _two_rows):
        found = two_rows(reader, row, left, right)
        if found is not None and (whole is None or found.score > whole.score):
            return [found]
    return [whole] if whole else []


def _is_label_row(cells: list[tuple[int, Value]], headings: Headings) -> bool:
    """Tell a row of labels and values (`Vessel | D-201 | Component | Shell 1`) from a header."""
    if any(isinstance(value, str) and value.rstrip().endswith(":") and headings.read(value) for _, value in cells):
        return True
    known = [headings.read(value) is not None for _, value in cells]
    return len(known) % 2 == 0 and all(place % 2 == 0 if yes else place % 2 == 1 for place, yes in enumerate(known))


# --------------------------------------------------------------------------------------------------- side by side


def _side_by_side(reader: Reader, row: int, following: int, cells: list[tuple[int, Value]]) -> list[Header]:
    """Return the headers of tables side by side in one row: parted by empty columns, or by a first heading that comes
    again."""
    for runs in (_parted_by_gaps(reader.grid, row, following, cells), _parted_by_first(cells)):
        if len(runs) > 1 and all(len(run) > 1 for run in runs):
            apart = [_header_of(reader, row, run) for run in runs]
            if all(apart) and may_stand_apart([header for header in apart if header is not None]):
                return [header for header in apart if header is not None]
    return []


def _parted_by_gaps(
    grid: Grid, row: int, following: int, cells: list[tuple[int, Value]]
) -> list[list[tuple[int, Value]]]:
    runs: list[list[tuple[int, Value]]] = []
    below = grid.rows[row + 1 : following]
    for column, value in cells:
        gap = range(runs[-1][-1][0] + 1, column) if runs else range(0)
        if runs and not (gap and all(is_blank(line[at]) for line in below for at in gap)):
            runs[-1].append((column, value))
        else:
            runs.append([(column, value)])
    return runs


def _parted_by_first(cells: list[tuple[int, Value]]) -> list[list[tuple[int, Value]]]:
    first = normal(as_text(cells[0][1]))
    runs: list[list[tuple[int, Value]]] = []
    for column, value in cells:
        if not runs or normal(as_text(value)) == first:
            runs.append([])
        runs[-1].append((column, value))
    return runs


def may_stand_apart(headers: Sequence[Header]) -> bool:
    """Tell tables side by side from one table with an empty column in it: each table names what its rows are about,
    by itself or with the same names as the one to its left."""
    return all(
        bool(one.names & two.names & set(IDENTITY)) or set(_ABOUT.get(two.kind, ("asset",))) <= two.names
        for one, two in pairwise(headers)
    )


#: What the rows of a kind are about, where that is more or other than an asset.
_ABOUT = {
    "survey, wide": ("asset", "component", "location"),
    "survey, long": ("asset", "component", "location"),
    "locations": ("asset", "component", "location"),
    "components": ("asset", "component"),
    "relief devices": ("device",),
    "turnarounds": ("start", "end"),
}


# -------------------------------------------------------------------------------------------------- headers of one row


def _header_of(
    reader: Reader,
    row: int,
    cells: Sequence[tuple[int, Value]],
    given: Mapping[int, _Dated] | None = None,
    upper_row: int | None = None,
    named_row: int | None = None,
) -> Header | None:
    """Return the header these cells make; `given` are columns whose date stands in another row."""
    headings, given = reader.headings, given or {}
    read = {column: None if column in given else headings.read(value) for column, value in cells}
    unread = [
        (column, value)
        for column, value in cells
        if column not in given and not _has_column(headings, read[column], "survey")
    ]
    dates, order_note = _dated(reader, row, [cell for cell in unread if read[cell[0]] is None])
    dates.update(given)
    points = _points(unread)
    best: tuple[int, str] | None = None
    for kind in KINDS:
        names = {
            found.name for heading in read.values() if heading and (found := headings.column(heading.spelling, kind))
        }
        score = len(names)
        if kind == "survey, wide" and any(not dated.derived for dated in dates.values()):
            names.add("a date")
            score += len(dates)
        if kind == "survey, long" and points and "thickness" not in names:
            names.add("thickness")
            score += 1
        if score >= 2 and all(names & set(group) for group in NEEDS[kind]) and (best is None or score > best[0]):
            best = score, kind
    if best is None:
        return None
    score, kind = best
    heads = []
    for column, value in cells:
        head = _head(column, value, read[column], kind, headings)
        if kind == "survey, wide" and column in dates:
            _give_date(head, dates[column])
        elif kind == "survey, wide" and head.name in ("date", "thickness"):
            head.problem = (
                f"a survey with one column for each date has no column '{head.text}': "
                "give readings under a heading that is their date"
            )
        heads.append(head)
    if kind == "survey, long" and not any(head.name == "thickness" for head in heads):
        _give_points(heads, points, headings)
    mark_twice(heads, row)
    note = order_note if kind == "survey, wide" else ""
    return Header(
        row,
        kind,
        tuple(heads),
        cells[0][0],
        cells[-1][0] + 1,
        note,
        row if named_row is None else named_row,
        upper_row,
        score,
    )


def _has_column(headings: Headings, heading: Heading | None, kind: str) -> bool:
    return heading is not None and headings.column(heading.spelling, kind) is not None


def _head(index: int, value: Value, heading: Heading | None, kind: str, headings: Headings) -> Head:
    head = Head(index, heading_text(value) or as_text(value))
    if heading is not None:
        head.column = headings.column(heading.spelling, kind)
    if head.column is not None and heading is not None:
        if heading.problem and head.column.unit_kind:
            head.problem = heading.problem
        elif heading.unit is not None and heading.unit.kind == head.column.unit_kind:
            head.unit, head.unit_from = heading.unit, "header"
        elif heading.unit is not None:
            head.problem = f"'{heading.unit.name}' is no unit of {head.column.unit_kind or head.column.label}"
    elif heading is None or head.column is None:
        head.derived = headings.is_derived(value)
        head.unit = (
            next((unit for _, unit in date_and_unit(head.text) if unit is not None), None) if head.derived else None
        )
    return head


def _unit_in(text: str) -> Unit | None:
    return next((unit for _, unit in date_and_unit(text) if unit is not None), None)


def _give_date(head: Head, dated: _Dated) -> None:
    head.column, head.problem = None, ""
    head.unit, head.unit_from = dated.unit, "header" if dated.unit else None
    if dated.derived:
        head.derived, head.derived_on = True, dated.on
    else:
        head.on, head.point, head.derived = dated.on, dated.point, False


def _points(cells: Sequence[tuple[int, Value]]) -> dict[int, tuple[str, Unit | None]]:
    """Return the headings of a row that are points, if there are several. `S` and `E` alone are stress and joint
    efficiency rather than south and east."""
    points: dict[int, tuple[str, Unit | None]] = {}
    for column, value in cells:
        for bare, unit in date_and_unit(value) if isinstance(value, str) else ():
            point = read_point(bare)
            if point is not None and (unit is None or unit.kind == "length"):
                points[column] = point, unit
                break
    names = {point for point, _ in points.values()}
    return points if len(names) > 1 and not names <= {"S", "E"} else {}


def _give_points(heads: list[Head], points: Mapping[int, tuple[str, Unit | None]], headings: Headings) -> None:
    for head in heads:
        if head.index in points:
            head.point, head.unit = points[head.index]
            head.column, head.derived, head.problem = headings.columns[("survey", "thickness")], False, ""
            head.unit_from = "header" if head.unit else None


def mark_twice(heads: list[Head], row: int) -> None:
    """Mark columns that name the same thing: the exact name wins, otherwise none is read."""
    for head in heads:
        same = [other for other in heads if other.name and (other.name, other.point) == (head.name, head.point)]
        if len(same) < 2 or head.column is None:
            continue
        exact = [other for other in same if normal(other.text) == normal(other.name)]
        if len(exact) == 1 and head is not exact[0]:
            head.twice = f"column {address(row, exact[0].index)} already gives the {head.column.label}"
        elif len(exact) != 1:
            cells = " and ".join(address(row, other.index) for other in same)
            head.problem = f"the headings in {cells} both mean {head.column.label}: rename the one that does not"


# ----------------------------------------------------------------------------------------------------------- dates

#: Names of surveys that say no date: an outage, the first thickness. The plant states their dates in basis.toml.
_UNDATED = re.compile(
    r"(?:t/?a|turn\s?around|outage|shut\s?down|s/d|baseline|base line|original|orig\.?|as[ -]built|initial|first|"
    r"(?:previous|prev|last|current|latest|present)(?: survey| reading| inspection)?)"
    r"(?:\s*[#-]?\s*(?:\d{4}|\d{1,2}))?",
    re.I,
)


def _dated(reader: Reader, row: int, cells: Sequence[tuple[int, Value]]) -> tuple[dict[int, _Dated], str]:
    """Return the headings of a row that are dates, and a note where the order of day and month had to be settled."""
    texts = [(column, bare) for column, value in cells if isinstance(value, str) for bare in _bare_dates(value)]
    proved, place, contradictory = date_order_of([bare for _, bare in texts])
    proof = "" if place is None else address(row, texts[place][0])
    settled, note = settle_order(proved, contradictory, reader.order, proof, "the headings of this row")
    dates: dict[int, _Dated] = {}
    ambiguous = False
    for column, value in cells:
        found = _date_in(reader, value, settled)
        if found is not None:
            dates[column] = found
            ambiguous = ambiguous or any(needs_order(bare) for bare in _bare_dates(value))
    return dates, note if ambiguous else ""


def _bare_dates(value: Value) -> Iterator[str]:
    for bare, _ in date_and_unit(value) if isinstance(value, str) else ():
        yield bare
        for rest, ending in split_ending(bare):
            if read_point(ending) is not None:
                yield rest


def _date_in(reader: Reader, value: Value, order: DateOrder) -> _Dated | None:
    """Return what a heading says that holds a date, alone or with a unit, a point or a word such as `MIN`."""
    if not isinstance(value, str):
        if isinstance(value, float) and not (value.is_integer() and 1900 <= value <= 2100):
            return None
        stated = read_date(value, order, reader.as_of)
        return _Dated(stated) if isinstance(stated, ReadDate) else None
    undated: _Dated | None = None
    for bare, unit in date_and_unit(value):
        length = unit if unit is None or unit.kind == "length" else None
        on = _date_of_text(reader, bare, order)
        if on is not None:
            if isinstance(on, ReadDate) or needs_order(bare):
                return _Dated(on, length)
            undated = undated or _Dated(on, length)
        for rest, ending in split_ending(bare):
            point, derived = read_point(ending), reader.headings.is_derived(ending)
            beside = _date_of_text(reader, rest, order) if point or derived else None
            if beside is not None:
                return _Dated(beside, length, point or "", derived)
    return undated


def _date_of_text(reader: Reader, text: str, order: DateOrder) -> ReadDate | Refused | None:
    """Return the date of a text, by the plant's own table first; Refused where it must be a date but is not clear."""
    mapped = reader.headings.dates.get(normal(text))
    if mapped is not None:
        return mapped
    if _UNDATED.fullmatch(text.strip()):
        return Refused(
            f"'{text.strip()}' is not a date: write the date of the survey instead, or state it under [headings] in "
            f'basis.toml, such as "{text.strip()}" = "2011-04-15"'
        )
    if not any(character.isdigit() for character in text):
        return None
    on = read_date(text, order, reader.as_of)
    return on if isinstance(on, ReadDate) or needs_order(text) else None


# ------------------------------------------------------------------------------------------------ headers of two rows


def _over_dates(reader: Reader, row: int, left: int, right: int) -> Header | None:
    """Return the header of a wide survey whose dates stand one row below its other headings."""
    grid = reader.grid
    if row + 1 >= len(grid.rows):
        return None
    cells, below = filled(grid, row, left, right), filled(grid, row + 1, left, right)
    dates, _ = _dated(reader, row + 1, below)
    if not below or len(dates) < len(below):
        return None
    under = {column for column, _ in below}
    named = [(column, value) for column, value in cells if column not in under]
    if len(named) + 1 < len(cells) or not all(column < min(under) or column > max(under) for column, _ in named):
        return None
    together = sorted([*named, *below], key=lambda cell: cell[0])
    header = _header_of(reader, row + 1, together, upper_row=row, named_row=row)
    return header if header is not None and header.kind == "survey, wide" else None


def _two_rows(reader: Reader, row: int, left: int, right: int) -> Header | None:
    """Return the header whose names stand in `row` and that has a further row above or below it."""
    found = []
    for upper in (row - 1, row):
        if upper < 0 or upper + 1 >= len(reader.grid.rows):
            continue
        pair = _Pair(reader, upper, left, right)
        if not pair.may_be_header(upper if upper != row else row + 1):
            continue
        given = pair.dated()
        cells = pair.cells(given)
        if (given or pair.joined) and len(cells) > 1:
            header = _header_of(reader, upper + 1, cells, given, upper, row)
            if header is not None and (header.kind == "survey, wide" or not given):
                found.append(header)
    return max(found, key=lambda header: header.score, default=None)


@dataclass
class _Pair:
    """Two rows that may make one header: which upper cell stands over which lower ones."""

    reader: Reader
    upper: int
    left: int
    right: int
    joined: bool = field(default=False, init=False)

    def __post_init__(self) -> None:
        grid = self.reader.grid
        self._below = dict(filled(grid, self.upper + 1, self.left, self.right))
        self._above = dict(filled(grid, self.upper, self.left, self.right))
        self._merged: dict[int, tuple[int, int]] = {}
        for top, first, bottom, last in grid.merged:
            if top == bottom == self.upper and last > first:
                self._merged.update(dict.fromkeys(range(first, last + 1), (first, last)))

    def may_be_header(self, row: int) -> bool:
        """Tell a row of headings from one of data: dates, points, units and known names, and one title at most."""
        cells = self._above if row == self.upper else self._below
        dates, _ = _dated(self.reader, row, list(cells.items()))
        others = [
            value
            for column, value in cells.items()
            if column not in dates
            and not (row == self.upper and column in self._merged)
            and self._joined_name(column) is None
            and self._sub(value) is None
            and self.reader.headings.read(value) is None
            and not (isinstance(value, str) and unit_of(value))
        ]
        return bool(cells) and len(others) <= 1 and all(isinstance(value, str) for value in others)

    def cells(self, given: Mapping[int, _Dated]) -> list[tuple[int, Value]]:
        """Return the headings of the two rows as those of one."""
        return [
            (column, self._heading(column, given))
            for column in sorted({*self._below, *(set(self._above) - set(self._merged)), *given})
        ]

    def _heading(self, column: int, given: Mapping[int, _Dated]) -> Value:
        below, above = self._below.get(column, ""), self._over(column)
        if column in given:
            return " ".join(text for text in (as_text(above), as_text(below)) if text)
        both = self._joined_name(column)
        if both is not None:
            self.joined = True
            return both
        return above if is_blank(below) else below

    def _joined_name(self, column: int) -> str | None:
        """Return the known heading that a merged upper cell and the one below it make together."""
        below, above = self._below.get(column, ""), self._over(column)
        if column not in self._merged or not isinstance(below, str) or not isinstance(above, str) or not below.strip():
            return None
        both = f"{above} {below}"
        return both if self.reader.headings.read(both) is not None else None

    def _over(self, column: int) -> Value:
        return self._above.get(self._merged.get(column, (column, column))[0], "")

    def dated(self) -> dict[int, _Dated]:
        """Return the columns whose date and point stand one above the other."""
        subs = {column: sub for column, value in self._below.items() if (sub := self._sub(value)) is not None}
        dates, _ = _dated(self.reader, self.upper, [(column, self._above[column]) for column in self._above])
        dates = {column: dated for column, dated in dates.items() if not dated.derived}
        if len(subs) < 2 and not (subs and dates):
            return self._points_over_dates()
        if not dates or not any(self._covered(column, subs) for column in dates):
            return {}
        groups = {column: self._covered(column, subs) for column in dates if self._covered(column, subs)}
        clear = self._is_clear(groups, subs)
        given: dict[int, _Dated] = {}
        for column, under in groups.items():
            for at in under:
                point, unit, derived = subs[at]
                merged = column in self._merged or len(under) == 1
                on = dates[column].on if clear or merged else _UNCLEAR
                given[at] = _Dated(on, unit or dates[column].unit, point, derived)
        for at, (point, unit, derived) in subs.items():
            if at not in given and point:
                given[at] = _Dated(_UNCLEAR, unit, point, derived)
        return given

    def _sub(self, value: Value) -> tuple[str, Unit | None, bool] | None:
        """Return the point, unit and whether it is a sum, of a heading that stands below a date."""
        if not isinstance(value, str):
            return None
        headings = self.reader.headings
        if headings.is_derived(value):
            return "", _unit_in(value), True
        for bare, unit in date_and_unit(value):
            point = read_point(bare)
            if point is not None and (unit is None or unit.kind == "length"):
                return point, unit, False
        heading = headings.read(value)
        column = None if heading is None else headings.column(heading.spelling, "survey")
        if heading is not None and column is not None and column.name == "thickness" and not heading.problem:
            return "", heading.unit, False
        return None

    def _covered(self, column: int, subs: Mapping[int, object]) -> list[int]:
        """Return the lower columns an upper cell stands over: those it is merged over, or those to its right up to
        the next upper cell."""
        if column in self._merged:
            first, last = self._merged[column]
            return [at for at in range(first, last + 1) if at in subs]
        under = []
        for at in range(column, self.right):
            if at not in subs or (at != column and (at in self._above or at in self._merged)):
                break
            under.append(at)
        return under

    def _is_clear(self, groups: Mapping[int, list[int]], subs: Mapping[int, tuple[str, Unit | None, bool]]) -> bool:
        """Tell whether dates that are not merged over their columns stand at the head of like groups of points."""
        loose = [under for column, under in groups.items() if column not in self._merged]
        orders = {tuple((subs[at][0], subs[at][2]) for at in under) for under in loose}
        covered = {at for under in groups.values() for at in under}
        return len(orders) <= 1 and not any(point and at not in covered for at, (point, _, _) in subs.items())

    def _points_over_dates(self) -> dict[int, _Dated]:
        """Return the columns of a survey with points in the upper row and dates below each."""
        dates, _ = _dated(self.reader, self.upper + 1, list(self._below.items()))
        given = {}
        for column, value in self._above.items():
            sub = self._sub(value)
            if sub is None or not sub[0]:
                continue
            point, unit, _ = sub
            for at in self._covered(column, dates):
                if column in self._merged or at == column:
                    given[at] = _Dated(dates[at].on, unit or dates[at].unit, point)
                else:
                    given[at] = _Dated(_UNCLEAR, unit, point)
        return given if len(given) > 1 else {}


_UNCLEAR = Refused(
    "no date or point stands clearly over this column: merge the upper cell over its columns, or write both in each "
    "heading, such as '2019-05-03 N'"
)
