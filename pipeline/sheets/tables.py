"""Finding tables on a sheet: headers, unit rows, repeated headers, and the labels and unit statements around them.

A sheet is recognised by its headings, never by its name or by where they stand. Columns that are empty from top to
bottom part it into panels where each panel has tables of its own; within a panel, what lies above a header, up to the
table before, is its preamble.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from pipeline.sheets.dated import Reader
from pipeline.sheets.header_rows import headers_in, may_stand_apart
from pipeline.sheets.headers import Header, filled
from pipeline.sheets.headings import Headings
from pipeline.sheets.layout import Table
from pipeline.sheets.surroundings import (
    inherit,
    labels_in,
    read_preamble,
    read_sections,
    read_unit_row,
    settle_units,
    unit_row,
    units_stated,
)
from pipeline.sheets.titles import read_titles
from pipeline.sheets.values import DateOrder, as_text, is_blank
from pipeline.sheets.workbooks import Grid


def find_tables(grid: Grid, headings: Headings, order: DateOrder, as_of: date) -> list[Table]:
    """Return the tables of a sheet: panel by panel from left to right, in each from top to bottom."""
    reader = Reader(grid, headings, order, as_of)
    panels = [(left, right, _bands(reader, left, right)) for left, right in _panels(reader)]
    if not all(bands for _, _, bands in panels):
        panels = [(0, grid.width, _bands(reader, 0, grid.width))]
    tables = [table for left, right, bands in panels for table in _tables_in(reader, bands, left, right)]
    for table in tables:
        table.unit_row = read_unit_row(table)
        read_preamble(table, headings)
        read_sections(table, headings)
    inherit(tables)
    read_titles(tables, headings)
    for table in tables:
        settle_units(table)
    return tables


@dataclass
class _Band:
    """The headers of one row, and the rows further down that repeat them."""

    headers: list[Header]
    repeated: set[int] = field(default_factory=set)
    page_titles: set[int] = field(default_factory=set)
    texts_above: set[int] = field(default_factory=set)
    units: dict[int, str] = field(default_factory=dict)
    has_other_units: bool = False

    @property
    def top(self) -> int:
        """The first row of the header."""
        first = self.headers[0]
        return first.row if first.upper_row is None else first.upper_row


# ---------------------------------------------------------------------------------------------------------- panels


def _panels(reader: Reader) -> list[tuple[int, int]]:
    """Return the ranges of columns that hold tables of their own, together the whole sheet."""
    grid = reader.grid
    parts: list[list[int]] = []
    for column in range(grid.width):
        if grid.types[column] == {str} and not any(text.strip() for text in grid.texts[column]):
            continue
        if parts and parts[-1][1] == column:
            parts[-1][1] = column + 1
        else:
            parts.append([column, column + 1])
    starts = [0]
    for left, right in parts[1:] if len(parts) > 1 else ():
        own, before = _bands(reader, left, right), _bands(reader, starts[-1], left)
        if own and before and _are_apart(before, own):
            starts.append(left)
    return list(pairwise([*starts, grid.width]))


def _are_apart(one: list[_Band], two: list[_Band]) -> bool:
    rows = {band.headers[0].row: band for band in one}
    beside = [(rows[band.headers[0].row], band) for band in two if band.headers[0].row in rows]
    return all(may_stand_apart([left.headers[-1], right.headers[0]]) for left, right in beside)


# ----------------------------------------------------------------------------------------------------------- bands


def _bands(reader: Reader, left: int, right: int) -> list[_Band]:
    """Return the headers of a panel from top to bottom."""
    grid, headings = reader.grid, reader.headings
    bands: list[_Band] = []
    rows = _candidate_rows(grid, headings, left, right)
    for row, following in pairwise([*rows, len(grid.rows)]):
        if bands and row <= bands[-1].headers[0].row:
            continue
        headers = headers_in(reader, row, following, left, right)
        if not headers or (bands and (not _mostly_known(headers) or _holds_measurement(grid, row, left, right))):
            continue
        band = _Band(headers, units=unit_row(grid, headers[0].row + 1, left, right))
        same = bool(bands) and _repeats(grid, bands[-1].headers[0], headers[0], left, right)
        if same and not _has_units_of(band, bands[-1]):
            # Below pages of several units, one that states none may be in any of them.
            band.has_other_units, same = True, False
        if same and not _has_new_labels(grid, band.top, headings, left, right):
            bands[-1].repeated.update(range(band.top, headers[0].row + (2 if band.units else 1)))
            bands[-1].page_titles.update(_lone_texts_above(grid, band.top, left, right))
            bands[-1].texts_above.update(_row_above(grid, band.top, left, right))
            continue
        bands.append(band)
    return bands


def _candidate_rows(grid: Grid, headings: Headings, left: int, right: int) -> list[int]:
    """Return the rows with at least one known heading; column-wise, so that a long survey costs little."""
    rows: set[int] = set()
    for column in range(left, right):
        for text in grid.texts[column]:
            if headings.read(text):
                rows.update(grid.rows_with(column, text))
    return sorted(rows)


def _mostly_known(headers: list[Header]) -> bool:
    """Tell a further header from a data row with a few words that are headings too: most of its cells are known."""
    heads = [head for header in headers for head in header.heads]
    return 2 * sum(head.column is not None or head.on is not None or head.derived for head in heads) > len(heads)


def _holds_measurement(grid: Grid, row: int, left: int, right: int) -> bool:
    """Tell a data row whose words happen to be headings from a header: no header holds a number with a fraction."""
    return any(isinstance(value, float) and not value.is_integer() for value in grid.rows[row][left:right])


def _repeats(grid: Grid, one: Header, two: Header, left: int, right: int) -> bool:
    """Tell whether a header says the same as the one before it, in as many rows."""

    def texts(header: Header) -> list[list[str]]:
        top = header.row if header.upper_row is None else header.upper_row
        return [
            [as_text(value).strip().lower() for value in grid.rows[row][left:right]]
            for row in range(top, header.row + 1)
        ]

    return texts(one) == texts(two)


def _has_units_of(page: _Band, first: _Band) -> bool:
    """Tell whether a header that comes again means the same units: those of the same row below it, or of none."""
    return page.units == first.units if page.units else not first.has_other_units


def _tables_in(reader: Reader, bands: list[_Band], left: int, right: int) -> list[Table]:
    """Return the tables of a panel; together they take up all of it."""
    if not bands:
        return []
    grid, headings = reader.grid, reader.headings
    tops = [0 if place == 0 else _top_of(grid, bands, place, headings, left, right) for place in range(len(bands))]
    tables = []
    for band, top, bottom in zip(bands, tops, [*tops[1:], len(grid.rows)], strict=True):
        starts = [left, *(header.left for header in band.headers[1:]), right]
        for header, (first, end) in zip(band.headers, pairwise(starts), strict=True):
            tables.append(
                Table(
                    grid,
                    header.kind,
                    top,
                    header.row,
                    None,
                    bottom,
                    first,
                    end,
                    list(header.heads),
                    band.repeated,
                    band.page_titles,
                    band.texts_above,
                    order_note=header.order_note,
                    upper_row=header.upper_row,
                )
            )
    return tables


# -------------------------------------------------------------------------------------------------------- preamble


def _has_new_labels(grid: Grid, row: int, headings: Headings, left: int, right: int) -> bool:
    """Tell whether labels for a new asset, component, location or date stand right above a header."""
    for above in range(row - 1, -1, -1):
        cells = filled(grid, above, left, right)
        if not cells:
            continue
        labels = labels_in(grid, above, headings, left, right)
        if any(name in ("asset", "component", "location", "date") for name, _ in labels):
            return True
        if len(cells) > 1:
            return False
    return False


def _lone_texts_above(grid: Grid, row: int, left: int, right: int) -> Iterator[int]:
    """Yield the rows right above a repeated header that hold one text each: the title of a printed page."""
    lone: list[int] = []
    for above in range(row - 1, -1, -1):
        cells = filled(grid, above, left, right)
        if len(cells) > 1 or (cells and not isinstance(cells[0][1], str)):
            return
        if cells:
            lone.append(above)
        else:
            yield from lone
            lone.clear()


def _row_above(grid: Grid, row: int, left: int, right: int) -> Iterator[int]:
    """Yield the row next above a repeated header that holds anything: it may be a title."""
    above = next((at for at in range(row - 1, 0, -1) if filled(grid, at, left, right)), 0)
    if above:
        yield above


def _top_of(grid: Grid, bands: list[_Band], place: int, headings: Headings, left: int, right: int) -> int:
    """Return the first row of the preamble of a table that lies below another one. A lone text belongs to it only
    where a blank row parts it from the rows above; otherwise it may be a short data row of the table above."""
    header, previous = bands[place].top, bands[place - 1].headers[0].row
    top = lone = header
    for row in range(header - 1, previous, -1):
        cells = [value for value in grid.rows[row][left:right] if not is_blank(value)]
        if not cells:
            top = lone
        elif any(True for value in cells for _ in units_stated(value, headings)) or any(
            True for _ in labels_in(grid, row, headings, left, right)
        ):
            top = lone = row
        elif len(cells) == 1 and isinstance(cells[0], str):
            lone = row
        else:
            break
    return top
