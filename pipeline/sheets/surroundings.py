"""What stands around a table and counts for it: labels (`Vessel: D-201`), unit statements, a row of units."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.sheets.headings import SURVEY, Headings, normal
from pipeline.sheets.layout import Label, Statement, Table
from pipeline.sheets.values import Value, as_text, is_absolute, is_blank, unit_of
from pipeline.sheets.workbooks import Grid
from pipeline.units import Unit

_SECTIONS = ("asset", "component", "location", "date")
_LABELS = ("asset", "component", "location", "date", "inspector", "method")

# ---------------------------------------------------------------------------------------------------------- labels

_LABEL = re.compile(r"([^:=]*)[:=]?(.*)", re.S)


def labels_in(grid: Grid, row: int, headings: Headings, left: int, right: int) -> Iterator[tuple[str, Label]]:
    """Yield the labels of a row: `Vessel: D-201` in one cell, or a label and its value in the next filled cell."""
    cells = [(column, value) for column, value in enumerate(grid.rows[row][left:right], left) if not is_blank(value)]
    for place, (column, value) in enumerate(cells):
        if not isinstance(value, str):
            continue
        for part in re.split(r"\s{2,}|[;|\t\n]|,\s", value.strip()):
            name, given = (piece.strip() for piece in _LABEL.fullmatch(part).groups())  # type: ignore[union-attr]
            spelled = headings.column(normal(name), SURVEY)
            if spelled is None or spelled.name not in _LABELS or not normal(name):
                continue
            if given and not re.search(r"[:=]", given):
                yield spelled.name, Label(given, row, column, column)
            elif not given and place + 1 < len(cells) and headings.read(cells[place + 1][1]) is None:
                follower = cells[place + 1]
                yield spelled.name, Label(follower[1], row, follower[0], column)


def read_sections(table: Table, headings: Headings) -> None:
    """Collect label rows between the data rows (`Vessel: D-202`), for names that the table has no column for."""
    lacking = {name for name in _SECTIONS if table.head(name) is None}
    if not lacking:
        return
    rows: set[int] = set()
    for column in range(table.left, table.right):
        for text in table.grid.texts[column]:
            if ":" in text or "=" in text or headings.read(text) is not None:
                rows.update(table.grid.rows_with(column, text, table.first, table.bottom))
    for row in sorted(rows - table.repeated):
        labels = list(labels_in(table.grid, row, headings, table.left, table.right))
        said = {place for _, label in labels for place in (label.column, label.label_column)}
        cells = table.grid.rows[row]
        filled = {column for column in range(table.left, table.right) if not is_blank(cells[column])}
        if labels and filled == said:
            table.sections += [(row, name, label) for name, label in labels if name in lacking]


_STATEMENT = re.compile(
    r"^(?:all\s+)?(?:the\s+)?(?:all|units?(?:\s+of\s+measure(?:ment)?)?|dimensions?|thickness(?:es)?|readings?|measurements?|values?|lengths?|"
    r"pressures?|thickness\s+readings?|rates?|diameters?)\b[\w\s]*?(?::|=|\bin\b|\bare\b|\bis\b)\s*(?:in\s+)?(.+?)\.?$",
    re.I,
)


def units_stated(value: Value, headings: Headings) -> Iterator[tuple[Unit, str]]:
    """Yield the units a cell states for the whole table (`All dimensions in mm`, `Units: in, psi`)."""
    if not isinstance(value, str):
        return
    text = " ".join(value.split())
    found = _STATEMENT.match(text)
    if found:
        stated = found[1].strip()
        parts = [stated] if unit_of(stated) else re.split(r"[,;&]|\band\b|\s/\s", stated)
        units = [unit_of(part) for part in parts if part.strip()]
        if units and all(unit is not None for unit in units):
            yield from ((unit, "sheet statement") for unit in units if unit is not None)
            return
    heading = headings.read(value)
    if heading is not None and heading.unit is not None and headings.column(heading.spelling, SURVEY):
        yield heading.unit, "header"


# ------------------------------------------------------------------------------------------------ whole preambles


def read_preamble(table: Table, headings: Headings) -> None:
    """Collect labels and unit statements above a table; what is stated twice differently counts as not stated."""
    conflicting: set[str] = set()
    for row in range(table.top, table.header_row):
        labels = () if row == table.upper_row else labels_in(table.grid, row, headings, table.left, table.right)
        for name, label in labels:
            known = table.labels.setdefault(name, label)
            if as_text(known.value).strip() != as_text(label.value).strip():
                conflicting.add(name)
        for column in range(table.left, table.right):
            _collect_statement(table, row, column, headings)
    for name in conflicting:
        del table.labels[name]
    for row in range(table.first, table.bottom) if table.bottom - table.first < 5000 else ():
        cells = table.grid.rows[row]
        filled = [column for column in range(table.left, table.right) if not is_blank(cells[column])]
        if len(filled) <= 2:
            for column in filled:
                _collect_statement(table, row, column, headings)
    for kind in [kind for kind in table.statements if kind.startswith("!")]:
        table.statements.pop(kind[1:], None)
        del table.statements[kind]


def _collect_statement(table: Table, row: int, column: int, headings: Headings) -> None:
    cells = table.grid.rows[row]
    value = cells[column]
    stated, beside = list(units_stated(value, headings)), None
    if not stated and isinstance(value, str) and normal(value) in ("unit", "units"):
        beside = next((place for place in range(column + 1, table.right) if not is_blank(cells[place])), None)
        if beside is not None:
            stated = list(units_stated(f"units: {as_text(cells[beside])}", headings))
    for unit, unit_from in stated:
        known = table.statements.setdefault(unit.kind, Statement(unit, row, column, unit_from, beside))
        if known.unit != unit:
            table.statements["!" + unit.kind] = known


def inherit(tables: list[Table]) -> None:
    """Let labels and unit statements at the top of a sheet count for every table, unless one has its own."""
    if len(tables) < 2:
        return
    first = tables[0]
    for name, label in list(first.labels.items()):
        if not any(name in table.labels for table in tables[1:]) and not any(n == name for _, n, _ in first.sections):
            for table in tables[1:]:
                table.labels[name] = label
    for kind, statement in list(first.statements.items()):
        for table in tables[1:]:
            table.statements.setdefault(kind, statement)


# ----------------------------------------------------------------------------------------------------------- units


def read_unit_row(table: Table) -> int | None:
    """Return the row below the header if it holds nothing but units, and give them to the columns."""
    row = table.header_row + 1
    if row >= table.bottom:
        return None
    cells = {
        column: as_text(value).strip().strip("()[]").strip()
        for column, value in enumerate(table.grid.rows[row])
        if table.left <= column < table.right and not is_blank(value)
    }
    units = {column: unit_of(text) for column, text in cells.items()}
    stated = {column for column, unit in units.items() if unit is not None and unit.name != "-"}
    if not stated or any(units[column] is None and not is_absolute(text) for column, text in cells.items()):
        return None
    for head in table.heads:
        text = cells.get(head.index, "")
        if not text or text == "-":
            continue
        unit = units[head.index]
        wanted = "length" if head.on is not None else head.column.unit_kind if head.column else None
        if wanted is None or head.problem:
            continue
        if unit is None:
            head.problem = f"'{text}' is an absolute pressure: state a gauge unit"
        elif unit.kind != wanted:
            head.problem = f"'{text}' is no unit of {wanted}"
        elif head.unit is not None and head.unit != unit:
            head.problem = f"the header says '{head.unit.name}' and the row below it '{unit.name}': correct one of them"
        else:
            head.unit, head.unit_from = unit, head.unit_from or "row below header"
    return row


def settle_units(table: Table) -> None:
    """Give a column without a unit of its own the one that stands as a heading over several columns."""
    for head in table.heads:
        wanted = "length" if head.on is not None else head.column.unit_kind if head.column else None
        statement = table.statements.get(wanted or "")
        if statement is not None and statement.unit_from == "header" and head.on is not None and head.unit is None:
            head.unit, head.unit_from = statement.unit, "header"
