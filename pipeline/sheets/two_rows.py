"""Headers of two rows: names above or beside dates, dates above their points, points above their dates, and names
merged over two halves (`Joint efficiency` over `long.` and `circ.`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pipeline.sheets.dated import Dated, Reader, dated_headings
from pipeline.sheets.headers import Header, filled, header_of, unit_in
from pipeline.sheets.headings import date_and_unit
from pipeline.sheets.points import read_point
from pipeline.sheets.values import Refused, Value, as_text, is_blank, unit_of
from pipeline.units import Unit


def header_over_dates(reader: Reader, row: int, left: int, right: int) -> Header | None:
    """Return the header of a wide survey whose dates stand one row below its other headings."""
    grid = reader.grid
    if row + 1 >= len(grid.rows):
        return None
    cells, below = filled(grid, row, left, right), filled(grid, row + 1, left, right)
    dates, _ = dated_headings(reader, row + 1, below)
    if not below or len(dates) < len(below):
        return None
    under = {column for column, _ in below}
    named = [(column, value) for column, value in cells if column not in under]
    if len(named) + 1 < len(cells) or not all(column < min(under) or column > max(under) for column, _ in named):
        return None
    together = sorted([*named, *below], key=lambda cell: cell[0])
    header = header_of(reader, row + 1, together, upper_row=row, named_row=row)
    return header if header is not None and header.kind == "survey, wide" else None


def header_of_two_rows(reader: Reader, row: int, left: int, right: int) -> Header | None:
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
            header = header_of(reader, upper + 1, cells, given, upper, row)
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
        dates, _ = dated_headings(self.reader, row, list(cells.items()))
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

    def cells(self, given: Mapping[int, Dated]) -> list[tuple[int, Value]]:
        """Return the headings of the two rows as those of one."""
        return [
            (column, self._heading(column, given))
            for column in sorted({*self._below, *(set(self._above) - set(self._merged)), *given})
        ]

    def _heading(self, column: int, given: Mapping[int, Dated]) -> Value:
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

    def dated(self) -> dict[int, Dated]:
        """Return the columns whose date and point stand one above the other."""
        subs = {column: sub for column, value in self._below.items() if (sub := self._sub(value)) is not None}
        dates, _ = dated_headings(self.reader, self.upper, [(column, self._above[column]) for column in self._above])
        dates = {column: dated for column, dated in dates.items() if not dated.derived}
        if len(subs) < 2 and not (subs and dates):
            return self._points_over_dates()
        if not dates or not any(self._covered(column, subs) for column in dates):
            return {}
        groups = {column: self._covered(column, subs) for column in dates if self._covered(column, subs)}
        clear = self._is_clear(groups, subs)
        given: dict[int, Dated] = {}
        for column, under in groups.items():
            for at in under:
                point, unit, derived = subs[at]
                merged = column in self._merged or len(under) == 1
                on = dates[column].on if clear or merged else _UNCLEAR
                given[at] = Dated(on, unit or dates[column].unit, point, derived)
        for at, (point, unit, derived) in subs.items():
            if at not in given and point:
                given[at] = Dated(_UNCLEAR, unit, point, derived)
        return given

    def _sub(self, value: Value) -> tuple[str, Unit | None, bool] | None:
        """Return the point, unit and whether it is a sum, of a heading that stands below a date."""
        if not isinstance(value, str):
            return None
        headings = self.reader.headings
        if headings.is_derived(value):
            return "", unit_in(value), True
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

    def _points_over_dates(self) -> dict[int, Dated]:
        """Return the columns of a survey with points in the upper row and dates below each."""
        dates, _ = dated_headings(self.reader, self.upper + 1, list(self._below.items()))
        given = {}
        for column, value in self._above.items():
            sub = self._sub(value)
            if sub is None or not sub[0]:
                continue
            point, unit, _ = sub
            for at in self._covered(column, dates):
                if column in self._merged or at == column:
                    given[at] = Dated(dates[at].on, unit or dates[at].unit, point)
                else:
                    given[at] = Dated(_UNCLEAR, unit, point)
        return given if len(given) > 1 else {}


_UNCLEAR = Refused(
    "no date or point stands clearly over this column: merge the upper cell over its columns, or write both in each "
    "heading, such as '2019-05-03 N'"
)
