"""The headers that stand in a row of a sheet: none, one, one of two rows, or several side by side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pipeline.sheets.dated import Reader
from pipeline.sheets.headers import Header, filled, header_of
from pipeline.sheets.headings import Headings, normal
from pipeline.sheets.layout import IDENTITY
from pipeline.sheets.two_rows import header_of_two_rows, header_over_dates
from pipeline.sheets.values import Value, as_text, is_blank
from pipeline.sheets.workbooks import Grid


def headers_in(reader: Reader, row: int, following: int, left: int, right: int) -> list[Header]:
    """Return the headers in a row: one, or several side by side. `following` is the next row with headings."""
    cells = filled(reader.grid, row, left, right)
    if not cells or _is_label_row(cells, reader.headings):
        return []
    apart = _side_by_side(reader, row, following, cells)
    if apart:
        return apart
    whole = header_of(reader, row, cells) if len(cells) > 1 else None
    for two_rows in (header_over_dates, header_of_two_rows):
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
            apart = [header_of(reader, row, run) for run in runs]
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
