"""What stands around a table and counts for it: labels (`Vessel: D-201`), unit statements, a row of units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

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


#: The quantities a statement may name, by the words for them, and the columns that give them. What it does not name it
#: says nothing of: a stress is no pressure, and a distance no thickness.
_QUANTITIES = (
    (
        re.compile(r"\b(?:thickness(?:es)?|readings?|nominals?|walls?)\b", re.I),
        ("thickness", "nominal_thickness", "new_thickness", "required_thickness_external", "structural_minimum"),
    ),
    (re.compile(r"\bdiameters?\b", re.I), ("inside_diameter", "outside_diameter")),
    (re.compile(r"\bpressures?\b", re.I), ("mawp", "design_pressure", "external_pressure", "set_pressure")),
    (re.compile(r"\brates?\b", re.I), ("stated_corrosion_rate", "chosen_rate")),
)
_EVERY_LENGTH = re.compile(r"\b(?:dimensions?|lengths?)\b", re.I)


def units_stated(value: Value, headings: Headings) -> Iterator[tuple[Unit, str, frozenset[str]]]:
    """Yield the units a cell states for the whole table (`All dimensions in mm`, `Units: in, psi`), with the columns
    they are stated for; none means every column of their kind."""
    if not isinstance(value, str):
        return
    text = " ".join(value.split())
    found = _STATEMENT.match(text)
    if found:
        stated = found[1].strip()
        parts = [stated] if unit_of(stated) else re.split(r"[,;&]|\band\b|\s/\s", stated)
        units = [unit_of(part) for part in parts if part.strip()]
        if units and all(unit is not None for unit in units):
            names = _named_by(text[: found.start(1)])
            yield from ((unit, "sheet statement", names) for unit in units if unit is not None)
            return
    heading = headings.read(value)
    column = None if heading is None else headings.column(heading.spelling, SURVEY)
    if heading is not None and heading.unit is not None and column is not None:
        yield heading.unit, "header", frozenset({column.name})


def _named_by(words: str) -> frozenset[str]:
    """Return the columns of the quantities a statement names."""
    if _EVERY_LENGTH.search(words):
        return frozenset()
    return frozenset(name for quantity, names in _QUANTITIES if quantity.search(words) for name in names)


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


def _collect_statement(table: Table, row: int, column: int, headings: Headings) -> None:
    cells = table.grid.rows[row]
    value = cells[column]
    stated, beside = list(units_stated(value, headings)), None
    if not stated and isinstance(value, str) and normal(value) in ("unit", "units"):
        beside = next((place for place in range(column + 1, table.right) if not is_blank(cells[place])), None)
        if beside is not None:
            stated = list(units_stated(f"units: {as_text(cells[beside])}", headings))
    table.statements += [Statement(unit, row, column, unit_from, names, beside) for unit, unit_from, names in stated]


def inherit(tables: list[Table]) -> None:
    """Let labels and unit statements at the top of a sheet count for every table, unless one has its own."""
    if len(tables) < 2:
        return
    first = tables[0]
    for name, label in list(first.labels.items()):
        if not any(name in table.labels for table in tables[1:]) and not any(n == name for _, n, _ in first.sections):
            for table in tables[1:]:
                table.labels[name] = label
    for table in tables[1:]:
        table.statements += [replace(statement, inherited=True) for statement in first.statements]


# ----------------------------------------------------------------------------------------------------------- units


def unit_row(grid: Grid, row: int, left: int, right: int) -> dict[int, str]:
    """Return what a row that holds nothing but units says of each column; nothing for any other row."""
    if row >= len(grid.rows):
        return {}
    cells = {
        column: as_text(value).strip().strip("()[]").strip()
        for column, value in enumerate(grid.rows[row][left:right], left)
        if not is_blank(value)
    }
    units = {column: unit_of(text) for column, text in cells.items()}
    if not any(unit is not None and unit.name != "-" for unit in units.values()):
        return {}
    return cells if all(units[column] is not None or is_absolute(text) for column, text in cells.items()) else {}


def read_unit_row(table: Table) -> int | None:
    """Return the row below the header if it holds nothing but units, and give them to the columns."""
    row = table.header_row + 1
    cells = unit_row(table.grid, row, table.left, table.right) if row < table.bottom else {}
    if not cells:
        return None
    for head in table.heads:
        text = cells.get(head.index, "")
        if not text or text == "-":
            continue
        unit = unit_of(text)
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
    statement = table.stated_unit("length", "thickness")
    for head in table.heads:
        if statement is not None and statement.unit_from == "header" and head.on is not None and head.unit is None:
            head.unit, head.unit_from = statement.unit, "header"
