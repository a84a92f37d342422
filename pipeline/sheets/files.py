"""All files of a folder to one intake, with an account of every file, sheet and cell."""

from __future__ import annotations

import gc
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date

from openpyxl.utils import get_column_letter

from pipeline.basis import Basis
from pipeline.sheets.body import Body, what
from pipeline.sheets.headings import Headings, headings_with
from pipeline.sheets.intake import Desk, Intake, Marks
from pipeline.sheets.layout import Table
from pipeline.sheets.registers import read_register
from pipeline.sheets.surveys import read_long, read_wide
from pipeline.sheets.tables import find_tables
from pipeline.sheets.unread import heading_of_readings
from pipeline.sheets.values import DateOrder, as_text, is_blank
from pipeline.sheets.workbooks import Grid, Unreadable, address, open_file

#: Rows of a file are numbered from its place in the folder times this, so that they keep their order whichever of the
#: files are read now and whichever were read before.
FILE_SPAN = 10**9


def read_files(
    files: Sequence[tuple[str, bytes]], basis: Basis, as_of: date, places: Mapping[str, int] | None = None
) -> Intake:
    """Read every file (name, content) into one Intake; what cannot be used is in its ledger. Raises nothing for bad
    input. Lengths are in mm, pressures in MPa, rates in mm/year, durations in years. `places` gives the place of each
    file in the folder where not all of them are read."""
    with _collector_paused():
        return _read_all(files, basis, as_of, places or {name: place for place, (name, _) in enumerate(files)})


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Stop the search for unreachable objects: looking again and again through millions of cells that are all in use
    takes longer than reading them."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read_all(files: Sequence[tuple[str, bytes]], basis: Basis, as_of: date, places: Mapping[str, int]) -> Intake:
    intake = Intake()
    headings = headings_with(basis.headings)
    for fault in headings.faults:
        _about_file(intake, "basis.toml", fault, "the heading is not used")
    for name, content in files:
        intake.records = places[name] * FILE_SPAN
        read = aside = 0
        try:
            grids = open_file(name, content)
        except Unreadable as fault:
            _about_file(intake, name, str(fault), "nothing in this file is used")
            grids = []
        for grid in grids:
            desk = read_grid(grid, intake, headings, basis, as_of)
            read, aside = read + desk.rows_read, aside + desk.rows_set_aside
        intake.add(
            "source",
            file=name,
            sha256=hashlib.sha256(content).hexdigest(),
            size=len(content),
            rows_read=read,
            rows_used=read - aside,
            rows_set_aside=aside,
        )
    return intake


def read_grid(grid: Grid, intake: Intake, headings: Headings, basis: Basis, as_of: date) -> Desk:
    """Read one sheet into an intake; return the desk it was read at, with its account of rows."""
    desk = Desk(grid, intake, Marks(grid))
    _read_sheet(desk, headings, basis, as_of)
    return desk


def _about_file(intake: Intake, file: str, reason: str, effect: str) -> None:
    intake.add("ledger", file=file, sheet="", cell="", text="", reason=reason, effect=effect, severity="set aside")


def _read_sheet(desk: Desk, headings: Headings, basis: Basis, as_of: date) -> None:
    grid = desk.grid
    order: DateOrder = {"day first": "day first", "month first": "month first"}.get(basis.text_of("date_order"), "")  # type: ignore[assignment]
    for note in grid.notes:
        desk.ledger(None, None, "", note, "the rest is read", "note")
    tables = find_tables(grid, headings, order, as_of)
    if not tables:
        _no_table(desk, headings)
        return
    _note_hidden(desk)
    _note_looks(desk, tables)
    for number, table in enumerate(tables, start=1):
        body = Body(table, desk, headings, basis.aliases, order, as_of)
        if table.kind == "survey, long":
            read_long(body)
        elif table.kind == "survey, wide":
            read_wide(body)
        else:
            read_register(body)
        body.finish()
        _close(body)
        _account(desk, number, table)


def _no_table(desk: Desk, headings: Headings) -> None:
    grid = desk.grid
    height, width = len(grid.rows), grid.width
    cells = desk.marks.open_cells(0, height, 0, width)
    for row, column in cells:
        desk.marks.ignore(row, column, "not a table")
    readings = heading_of_readings(grid, headings)
    advice = "give its columns known headings such as 'asset', 'component', 'location', 'date' and 'thickness (in)'"
    effect = f"{len(cells)} cells of this sheet are not read"
    if readings is not None:
        row, column = readings
        text = as_text(grid.rows[row][column])
        reason = f"no table was recognised on this sheet, and what stands under '{text}' looks like readings: {advice}"
        desk.marks.set_aside(row, column)
        desk.ledger(row, column, text, reason, effect)
    elif cells:
        desk.ledger(None, None, "", f"no table was recognised on this sheet: {advice}", effect, "note")
    _account(desk, 0, None)


def _note_hidden(desk: Desk) -> None:
    """Note what of a sheet is hidden; it is read all the same."""
    grid = desk.grid
    if grid.hidden:
        desk.ledger(None, None, "", "the sheet is hidden: check that it is meant to count", "the sheet is read", "note")
    hidden = sorted(set(grid.hidden_rows))
    rows = [str(row + 1) for row in hidden if row < len(grid.rows) and not all(map(is_blank, grid.rows[row]))]
    if rows:
        reason = f"hidden rows {_shown(rows)}: check that they are meant to count"
        desk.ledger(None, None, "", reason, "the rows are read", "note")
    across = sorted(column for column in set(grid.hidden_columns) if column < grid.width)
    columns = [get_column_letter(column + 1) for column in across if not all(map(is_blank, grid.columns[column]))]
    if columns:
        reason = f"hidden columns {_shown(columns)}: check that they are meant to count"
        desk.ledger(None, None, "", reason, "the columns are read", "note")


def _note_looks(desk: Desk, tables: list[Table]) -> None:
    """Note the cells below headers whose colour, strike-through or comment may mean something to people."""
    looks = (
        ("a fill colour", desk.grid.filled_with_colour),
        ("text struck through", desk.grid.struck_through),
        ("a comment", desk.grid.commented),
    )
    for look, places in looks:
        cells = [
            address(*place)
            for place in sorted(set(places))
            if any(t.first <= place[0] < t.bottom and t.left <= place[1] < t.right for t in tables)
            and not desk.marks.is_empty_at(*place)
        ]
        if cells:
            reason = f"{look} in {_shown(cells)} is not interpreted: say in words, in a column, what it means"
            desk.ledger(None, None, "", reason, "the cells are read as any other", "note")


def _shown(names: list[str]) -> str:
    return ", ".join(names[:10]) + (f" and {len(names) - 10} more" if len(names) > 10 else "")


def _close(body: Body) -> None:
    """Set aside whatever is left of a table, so that no cell can go missing unnoticed."""
    table = body.table
    heads = {head.index: head for head in table.heads}
    for row, column in body.desk.marks.open_cells(table.top, table.bottom, table.left, table.right):
        name = what(heads[column]) if column in heads else f"cell {address(row, column)}"
        body.refuse(
            row, column, "the row has nothing this value could belong to: complete the row", f"{name} is not used"
        )


def _account(desk: Desk, number: int, table: Table | None) -> None:
    grid = desk.grid
    region = (0, len(grid.rows), 0, grid.width) if table is None else (table.top, table.bottom, table.left, table.right)
    cells, used, aside, ignored = desk.marks.counts(*region)
    desk.intake.add(
        "sheet",
        file=grid.file,
        sheet=grid.sheet,
        table_no=number,
        kind="" if table is None else table.kind,
        header_row=None if table is None else table.header_row + 1,
        columns="[]" if table is None else json.dumps(_columns(table), ensure_ascii=False),
        cells=cells,
        used=used,
        set_aside=aside,
        ignored=sum(ignored.values()),
        hidden=grid.hidden,
        ignored_reasons=json.dumps(ignored),
    )


def _columns(table: Table) -> list[dict[str, str | None]]:
    return [
        {
            "cell": address(table.header_row, head.index),
            "heading": as_text(head.text),
            "field": "thickness" if head.on is not None else None if head.twice else head.name or None,
            "unit": head.unit.name if head.unit else None,
            "unit_from": head.unit_from,
            **({"location": f"<location> {head.point}"} if head.point else {}),
        }
        for head in table.heads
    ]
