"""What makes cells a header: the columns they name are enough for one kind of table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.sheets.dated import Dated, Reader, dated_headings
from pipeline.sheets.headings import KINDS, Heading, Headings, date_and_unit, heading_text, normal
from pipeline.sheets.layout import Head
from pipeline.sheets.points import read_point
from pipeline.sheets.return_code import is_printed
from pipeline.sheets.values import Value, as_text, is_blank
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
    "rate choices": (("rate_choice", "chosen_rate"), ("asset",), ("chosen_by", "chosen_on")),
    "scope decisions": (("scope_decision",), ("asset",), ("turnaround",)),
    "recommendations": (("recommendation",), ("asset",), ("due", "raised_on", "closed_on")),
    "events": (("event",), ("asset", "component"), ("date", "component", "new_thickness")),
    "renumbered locations": (("old_location",), ("new_location",), ("renumbered_on",)),
    "inspections": (("asset",), ("date",), ("kind", "result")),
    "turnarounds": (("start",), ("end",)),
    # An area without positions names its component: a survey may have a column of the plant's areas beside thickness.
    "corroded areas": (
        ("corroded_area",),
        ("thickness",),
        ("component", "axial_position", "circumferential_position"),
    ),
    "pits": (("pit_depth",), ("pit_width", "corroded_area", "axial_position", "circumferential_position")),
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
            "status",
            "operating_fraction",
        ),
    ),
}


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


def filled(grid: Grid, row: int, left: int, right: int) -> list[tuple[int, Value]]:
    """Return the cells of a row that hold something, with their columns."""
    return [(column, value) for column, value in enumerate(grid.rows[row][left:right], left) if not is_blank(value)]


def header_of(
    reader: Reader,
    row: int,
    cells: Sequence[tuple[int, Value]],
    given: Mapping[int, Dated] | None = None,
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
    if any(heading is not None and heading.spelling == "return code" for heading in read.values()):
        # What a field sheet prints beside the cells to be filled in is neither a reading nor a date.
        unread = [(column, value) for column, value in unread if not is_printed(as_text(value))]
    dates, order_note = dated_headings(reader, row, [cell for cell in unread if read[cell[0]] is None])
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


def unit_in(text: str) -> Unit | None:
    return next((unit for _, unit in date_and_unit(text) if unit is not None), None)


def _give_date(head: Head, dated: Dated) -> None:
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
