"""Finding tables on a sheet: headers, unit rows, repeated headers, and the labels and unit statements around them.

A sheet is recognised by its headings, never by its name or by where they stand. A row is a header when the columns
it names are enough for one kind of table; what lies above it, up to the table before, is its preamble.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from pipeline.sheets.headings import KINDS, Heading, Headings, date_and_unit, heading_text, normal
from pipeline.sheets.layout import Head, Table
from pipeline.sheets.surroundings import (
    inherit,
    labels_in,
    read_preamble,
    read_sections,
    read_unit_row,
    settle_units,
    units_stated,
)
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
class _Header:
    row: int
    kind: str
    heads: tuple[Head, ...]
    left: int
    right: int
    order_note: str
    upper_row: int | None = None


def find_tables(grid: Grid, headings: Headings, order: DateOrder, as_of: date) -> list[Table]:
    """Return the tables of a sheet from top to bottom, side by side from left to right."""
    bands: list[list[_Header]] = []
    repeated: dict[int, set[int]] = {}
    page_titles: dict[int, set[int]] = {}
    candidates = _candidate_rows(grid, headings)
    for row, following in pairwise([*candidates, len(grid.rows)]):
        headers = _headers_in(grid, row, following, headings, order, as_of)
        if not headers or (bands and not _mostly_known(headers)):
            continue
        if bands and _same_header(grid, bands[-1][0].row, row) and not _has_new_labels(grid, row, headings):
            repeated.setdefault(len(bands) - 1, set()).add(row)
            page_titles.setdefault(len(bands) - 1, set()).update(_lone_texts_above(grid, row))
            continue
        bands.append(headers)
    tables = []
    tops = [0 if place == 0 else _top_of(grid, bands, place, headings) for place in range(len(bands))]
    for place, headers in enumerate(bands):
        bottom = tops[place + 1] if place + 1 < len(bands) else len(grid.rows)
        for number, header in enumerate(headers):
            left = 0 if number == 0 else header.left
            right = grid.width if number == len(headers) - 1 else headers[number + 1].left
            tables.append(
                Table(
                    grid,
                    header.kind,
                    tops[place],
                    header.row,
                    None,
                    bottom,
                    left,
                    right,
                    list(header.heads),
                    repeated.get(place, set()),
                    page_titles.get(place, set()),
                    order_note=header.order_note,
                    upper_row=header.upper_row,
                )
            )
    for table in tables:
        table.unit_row = read_unit_row(table)
        read_preamble(table, headings)
        read_sections(table, headings)
    inherit(tables)
    for table in tables:
        settle_units(table)
    return tables


# --------------------------------------------------------------------------------------------------------- headers


def _candidate_rows(grid: Grid, headings: Headings) -> list[int]:
    """Return the rows with at least one known heading; column-wise, so that a long survey costs little."""
    rows: set[int] = set()
    for cells in zip(*grid.rows, strict=True):
        known = {value for value in set(cells) if isinstance(value, str) and value and headings.read(value)}
        if known:
            rows.update(row for row, value in enumerate(cells) if value in known)
    return sorted(rows)


def _mostly_known(headers: list[_Header]) -> bool:
    """Tell a further header from a data row with a few words that are headings too: most of its cells are known."""
    heads = [head for header in headers for head in header.heads]
    return 2 * sum(head.column is not None or head.on is not None or head.derived for head in heads) > len(heads)


def _headers_in(
    grid: Grid, row: int, following: int, headings: Headings, order: DateOrder, as_of: date
) -> list[_Header]:
    """Return the headers in a row: one, or several side by side where empty columns part whole tables."""
    cells = [(column, value) for column, value in enumerate(grid.rows[row]) if not is_blank(value)]
    if len(cells) < 2 or _is_label_row(cells, headings):
        return []
    runs: list[list[tuple[int, Value]]] = []
    for column, value in cells:
        if runs and column == runs[-1][-1][0] + 1:
            runs[-1].append((column, value))
        else:
            runs.append([(column, value)])
    if len(runs) > 1 and all(len(run) > 1 for run in runs):
        apart = [_header_of(grid, row, run, headings, order, as_of) for run in runs]
        gaps = [column for one, two in pairwise(runs) for column in range(one[-1][0] + 1, two[0][0])]
        below = grid.rows[row + 1 : following]
        if all(apart) and all(is_blank(line[column]) for line in below for column in gaps):
            return [header for header in apart if header is not None]
    whole = _header_of(grid, row, cells, headings, order, as_of)
    over_dates = _header_over_dates(grid, row, cells, headings, order, as_of)
    if over_dates is not None and (whole is None or whole.kind != "survey, wide"):
        return [over_dates]
    return [whole] if whole else []


def _header_over_dates(
    grid: Grid, row: int, cells: list[tuple[int, Value]], headings: Headings, order: DateOrder, as_of: date
) -> _Header | None:
    """Return the header of a wide survey whose dates stand one row below its other headings."""
    if row + 1 >= len(grid.rows):
        return None
    below = [(column, value) for column, value in enumerate(grid.rows[row + 1]) if not is_blank(value)]
    dates, _ = _dated(grid, row + 1, below, order, as_of)
    if not below or len(dates) < len(below):
        return None
    under = {column for column, _ in below}
    named = [(column, value) for column, value in cells if column not in under]
    if len(named) + 1 < len(cells) or not all(column < min(under) or column > max(under) for column, _ in named):
        return None
    header = _header_of(grid, row + 1, sorted([*named, *below], key=lambda cell: cell[0]), headings, order, as_of)
    if header is None or header.kind != "survey, wide":
        return None
    return replace(header, upper_row=row)


def _is_label_row(cells: list[tuple[int, Value]], headings: Headings) -> bool:
    """Tell a row of labels and values (`Vessel | D-201 | Component | Shell 1`) from a header."""
    if any(isinstance(value, str) and value.rstrip().endswith(":") and headings.read(value) for _, value in cells):
        return True
    known = [headings.read(value) is not None for _, value in cells]
    return len(known) % 2 == 0 and all(place % 2 == 0 if yes else place % 2 == 1 for place, yes in enumerate(known))


def _header_of(
    grid: Grid, row: int, cells: Sequence[tuple[int, Value]], headings: Headings, order: DateOrder, as_of: date
) -> _Header | None:
    read = {column: headings.read(value) for column, value in cells}
    dates, order_note = _dated(grid, row, [cell for cell in cells if read[cell[0]] is None], order, as_of)
    best: tuple[int, str] | None = None
    for kind in KINDS:
        names = {
            found.name for heading in read.values() if heading and (found := headings.column(heading.spelling, kind))
        }
        score = len(names)
        if kind == "survey, wide" and dates:
            names.add("a date")
            score += len(dates)
        if score >= 2 and all(names & set(group) for group in NEEDS[kind]) and (best is None or score > best[0]):
            best = score, kind
    if best is None:
        return None
    kind = best[1]
    heads = []
    for column, value in cells:
        head = _head(column, value, read[column], kind, headings)
        if kind == "survey, wide" and column in dates:
            head.on, head.unit = dates[column]
            head.unit_from = "header" if head.unit else None
        elif kind == "survey, wide" and head.name in ("date", "thickness"):
            head.problem = (
                f"a survey with one column for each date has no column '{head.text}': "
                "give readings under a heading that is their date"
            )
        heads.append(head)
    _mark_twice(heads, row)
    return _Header(row, kind, tuple(heads), cells[0][0], cells[-1][0] + 1, order_note if kind == "survey, wide" else "")


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
    return head


def _mark_twice(heads: list[Head], row: int) -> None:
    """Mark columns that name the same thing: the exact name wins, otherwise none is read."""
    for head in heads:
        same = [other for other in heads if other.name and other.name == head.name]
        if len(same) < 2 or head.column is None:
            continue
        exact = [other for other in same if normal(other.text) == normal(other.name)]
        if len(exact) == 1 and head is not exact[0]:
            head.twice = f"column {address(row, exact[0].index)} already gives the {head.column.label}"
        elif len(exact) != 1:
            cells = " and ".join(address(row, other.index) for other in same)
            head.problem = f"the headings in {cells} both mean {head.column.label}: rename the one that does not"


def _dated(
    grid: Grid, row: int, cells: list[tuple[int, Value]], order: DateOrder, as_of: date
) -> tuple[dict[int, tuple[ReadDate | Refused, Unit | None]], str]:
    """Return the headings of a row that are dates, and a note where the order of day and month had to be settled."""
    bare_texts = [
        (column, bare) for column, value in cells if isinstance(value, str) for bare, _ in date_and_unit(value)
    ]
    proved, place, contradictory = date_order_of([bare for _, bare in bare_texts])
    proof = "" if place is None else address(row, bare_texts[place][0])
    settled, note = settle_order(proved, contradictory, order, proof, "the headings of this row")
    dates: dict[int, tuple[ReadDate | Refused, Unit | None]] = {}
    ambiguous = False
    for column, value in cells:
        ways = list(date_and_unit(value)) if isinstance(value, str) else [(value, None)]
        for bare, unit in ways:
            if isinstance(bare, str) and not any(character.isdigit() for character in bare):
                continue
            if isinstance(bare, float) and not (bare.is_integer() and 1900 <= bare <= 2100):
                continue
            on = read_date(bare, settled, as_of)
            if isinstance(on, ReadDate) or needs_order(bare):
                dates[column] = on, unit if unit is None or unit.kind == "length" else None
                ambiguous = ambiguous or needs_order(bare)
                break
    return dates, note if ambiguous else ""


def _same_header(grid: Grid, one: int, two: int) -> bool:
    return [as_text(value).strip().lower() for value in grid.rows[one]] == [
        as_text(value).strip().lower() for value in grid.rows[two]
    ]


# -------------------------------------------------------------------------------------------------------- preamble


def _has_new_labels(grid: Grid, row: int, headings: Headings) -> bool:
    """Tell whether labels for a new asset, component, location or date stand right above a header."""
    for above in range(row - 1, -1, -1):
        cells = [(column, value) for column, value in enumerate(grid.rows[above]) if not is_blank(value)]
        if not cells:
            continue
        if any(name in ("asset", "component", "location", "date") for name, _ in labels_in(grid, above, headings)):
            return True
        if len(cells) > 1:
            return False
    return False


def _lone_texts_above(grid: Grid, row: int) -> Iterator[int]:
    """Yield the rows right above a repeated header that hold one text each: the title of a printed page."""
    lone: list[int] = []
    for above in range(row - 1, -1, -1):
        cells = [value for value in grid.rows[above] if not is_blank(value)]
        if len(cells) > 1 or (cells and not isinstance(cells[0], str)):
            return
        if cells:
            lone.append(above)
        else:
            yield from lone
            lone.clear()


def _top_of(grid: Grid, bands: list[list[_Header]], place: int, headings: Headings) -> int:
    """Return the first row of the preamble of a table that lies below another one. A lone text belongs to it only
    where a blank row parts it from the rows above; otherwise it may be a short data row of the table above."""
    header, previous = bands[place][0].row, bands[place - 1][0].row
    top = lone = header
    for row in range(header - 1, previous, -1):
        cells = [value for value in grid.rows[row] if not is_blank(value)]
        if not cells:
            top = lone
        elif any(True for value in cells for _ in units_stated(value, headings)) or any(
            True for _ in labels_in(grid, row, headings)
        ):
            top = lone = row
        elif len(cells) == 1 and isinstance(cells[0], str):
            lone = row
        else:
            break
    return top
