"""A vessel drawn to scale from its dimensions, with its places on it: a sketch for finding one's way, not a drawing.

Lengths and diameters are the register's. A length that is not on it is drawn as one diameter, dashed, and said so.
Where along a component a place lies is not on record: places stand beside the sketch, by component and tag.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

import duckdb

from pipeline.reading import Row, asked
from pipeline.units import show

#: One shape for each state, in the order of urgency; shapes differ in outline, so that they hold in black and white.
SYMBOLS = {
    "below required": "▼",
    "overdue": "■",
    "not assessable": "?",
    "due by turnaround": "◆",
    "deferred until": "◇",
    "in date": "○",
    "retired": "–",
}

Point = tuple[float, float]

_FIRST = re.compile(r"\b(top|upper|west|north|front|left|inlet)\b", re.I)
_UPRIGHT = re.compile(r"\b(top|bottom|upper|lower)\b", re.I)
_HEADS = ("ellipsoidal head", "torispherical head", "hemispherical head", "flat head")
_STEPS = 24
NAMED = "Sketch of the vessel with its places"


@dataclass(frozen=True)
class Outline:
    """One component as a closed line in mm, and whether its length is on the register."""

    component: str
    points: tuple[Point, ...]
    length_known: bool
    words: str


@dataclass(frozen=True)
class Mark:
    """One place, its state, and what is said of it."""

    component: str
    location: str
    state: str
    words: str


@dataclass
class Drawing:
    """A vessel's outlines in mm, the axis along x, and its places; `upright` where it stands."""

    upright: bool
    outlines: list[Outline] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def drawing(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Drawing:
    """Return the sketch of an asset; with remarks on what is missing for it. Empty where no dimension is known."""
    parts = asked(
        connection,
        "SELECT shape.component, shape.kind, shape.inside_diameter_as_built_mm AS diameter, length_mm AS length, "
        "shape.head_depth_mm AS depth, component.crown_radius_as_built_mm AS crown, knuckle_radius_mm AS knuckle, "
        "component.nominal_thickness_mm AS wall, component.attached_to FROM step.shape AS shape "
        "JOIN step.component AS component USING (asset, component) WHERE shape.asset = ? ORDER BY shape.component",
        [asset],
    )
    places = asked(
        connection,
        "SELECT component, location, state, description, t_act_mm, t_req_mm, margin, missing FROM result.location "
        "WHERE asset = ? ORDER BY component, location",
        [asset],
    )
    made = Drawing(upright=any(_UPRIGHT.search(part["component"]) for part in parts))
    _draw(made, parts)
    _mark(made, places, system)
    return made


def _draw(made: Drawing, parts: Sequence[Row]) -> None:
    undrawn = [part["component"] for part in parts if part["diameter"] is None or part["kind"] is None]
    if undrawn:
        made.remarks.append(f"Not drawn, for want of kind or diameter: {', '.join(undrawn)}.")
    known = [part for part in parts if part["component"] not in undrawn]
    heads = [part for part in known if part["kind"] in _HEADS]
    bodies = sorted(
        (part for part in known if part["kind"] in ("cylinder", "cone", "sphere")),
        key=lambda part: _natural(part["component"]),
    )
    first = [part for part in heads if _FIRST.search(part["component"])] or heads[:1]
    last = [part for part in heads if part not in first]
    guessed = []
    x = 0.0
    for part in first:
        x = _head(made, part, x, before=True)
    for part in bodies:
        length = part["length"] or part["diameter"]
        if part["length"] is None and part["kind"] != "sphere":
            guessed.append(part["component"])
        x = _body(made, part, x, length)
    for part in last:
        x = _head(made, part, x, before=False)
    _nozzles(made, [part for part in known if part["kind"] == "nozzle"])
    if guessed:
        made.remarks.append(f"Length not on the register, drawn dashed as one diameter: {', '.join(guessed)}.")
    if made.outlines:
        made.remarks.append(
            "Where along a part its places lie is not on record: they are listed in the order of their tags."
        )


def _natural(tag: str) -> list[Any]:
    """Return what tags are ordered by, so that 2 comes before 10."""
    return [int(piece) if piece.isdigit() else piece for piece in re.split(r"([0-9]+)", tag)]


def _body(made: Drawing, part: Row, x: float, length: float) -> float:
    radius = part["diameter"] / 2
    if part["kind"] == "sphere":
        round_ = [
            (x + radius - radius * math.cos(angle), radius * math.sin(angle))
            for angle in (2 * math.pi * step / (2 * _STEPS) for step in range(2 * _STEPS))
        ]
        made.outlines.append(Outline(part["component"], tuple(round_), True, part["kind"]))
        return x + 2 * radius
    small = radius * 0.5 if part["kind"] == "cone" else radius
    corners = ((x, radius), (x + length, small), (x + length, -small), (x, -radius))
    made.outlines.append(Outline(part["component"], corners, part["length"] is not None, part["kind"]))
    return x + length


def _head(made: Drawing, part: Row, x: float, before: bool) -> float:
    radius = part["diameter"] / 2
    depth = _depth(part, radius)
    bulge = [
        (math.sin(angle) * depth, math.cos(angle) * radius)
        for angle in (math.pi * n / _STEPS for n in range(_STEPS + 1))
    ]
    if part["kind"] == "flat head":
        bulge = [(0.0, radius), (depth, radius), (depth, -radius), (0.0, -radius)]
    points = tuple((x + depth - out, across) if before else (x + out, across) for out, across in bulge)
    made.outlines.append(Outline(part["component"], points, True, part["kind"]))
    return x + depth


def _depth(part: Row, radius: float) -> float:
    if part["kind"] == "hemispherical head":
        return radius
    if part["kind"] == "flat head":
        return max(part["wall"] or 0.0, radius * 0.06)
    if part["kind"] == "torispherical head" and part["crown"] and part["knuckle"]:
        inner = (part["crown"] - part["knuckle"]) ** 2 - (radius - part["knuckle"]) ** 2
        return part["crown"] - math.sqrt(inner) if inner > 0 else radius / 2
    return part["depth"] or radius / 2


def _nozzles(made: Drawing, nozzles: Sequence[Row]) -> None:
    by_name = {outline.component: outline for outline in made.outlines}
    bodies = [outline for outline in made.outlines if outline.words in ("cylinder", "cone", "sphere")]
    homes: dict[str, list[Row]] = {}
    for nozzle in nozzles:
        home = by_name.get(nozzle["attached_to"] or "") or (bodies[0] if bodies else None)
        if home is None:
            made.remarks.append(f"{nozzle['component']} is not drawn: there is no wall it stands in.")
        else:
            homes.setdefault(home.component, []).append(nozzle)
    for name, here in homes.items():
        left, right, top = _extent(by_name[name])
        for number, nozzle in enumerate(here, start=1):
            middle = left + (right - left) * number / (len(here) + 1)
            half, tall = nozzle["diameter"] / 2, max(nozzle["diameter"], top * 0.18)
            corners = (
                (middle - half, top),
                (middle - half, top + tall),
                (middle + half, top + tall),
                (middle + half, top),
            )
            made.outlines.append(Outline(nozzle["component"], corners, True, "nozzle"))


def _extent(outline: Outline) -> tuple[float, float, float]:
    xs, ys = zip(*outline.points, strict=True)
    return min(xs), max(xs), max(ys)


def _mark(made: Drawing, places: Sequence[Row], system: str) -> None:
    drawn = {outline.component for outline in made.outlines}
    missing = sorted({place["component"] for place in places} - drawn)
    if missing:
        made.remarks.append(f"Places of {', '.join(missing)} are not on the sketch: see the tables.")
    for place in sorted(places, key=lambda place: [_natural(place[name]) for name in ("component", "location")]):
        if place["component"] in drawn:
            made.marks.append(Mark(place["component"], place["location"], place["state"], _said(place, system)))


def _said(place: Row, system: str) -> str:
    name = f"{place['component']}, location {place['location']}"
    if place["description"]:
        name += f" ({place['description']})"
    if place["t_act_mm"] is None or place["t_req_mm"] is None:
        return f"{name}: {place['state']}" + (f", missing is {place['missing']}" if place["missing"] else "")
    left, needed = (show(place[column], "thickness", system) for column in ("t_act_mm", "t_req_mm"))
    return f"{name}: {place['state']}, {left} left, {needed} required"


# ---- as a picture ---------------------------------------------------------------------------------------------------

#: Widths in pixels: of a page, and of a window held in the hand.
PAGE_WIDTH, HAND_WIDTH = 860, 340

#: Pixels a letter takes in this size of type, for laying out; no two machines have the same letters.
_LETTER = 7.4
_SIZE, _EDGE, _LINE, _RING = 13, 12.0, 26.0, 10
#: Most that the vessel itself takes of the picture, lying and standing.
_TALLEST_LYING, _TALLEST_STANDING, _WIDEST_STANDING = 280.0, 540.0, 260.0
#: Beside a standing vessel, its nozzles and their names; above a lying one.
_BESIDE, _ABOVE = 74.0, 22.0


@dataclass(frozen=True)
class _Frame:
    """How millimetres of the sketch become pixels of the picture, and how far right and down the vessel reaches."""

    upright: bool
    scale: float
    left: float
    top: float
    right: float
    bottom: float

    def placed(self, point: Point) -> Point:
        x, y = (point[1], point[0]) if self.upright else (point[0], -point[1])
        return x * self.scale + self.left, y * self.scale + self.top

    def box(self, outline: Outline) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom of a part in pixels."""
        xs, ys = zip(*map(self.placed, outline.points), strict=True)
        return min(xs), min(ys), max(xs), max(ys)


def svg(
    made: Drawing,
    symbols: Mapping[str, str],
    ink: str,
    chosen: tuple[str | None, str | None] = (None, None),
    width: int = PAGE_WIDTH,
) -> str:
    """Return the sketch as SVG in one colour, so many pixels wide; empty where there is nothing to draw.

    Every part carries its name and the symbol of its gravest place; beside or below the vessel stand the places of each
    part, each with the symbol of its state and its tag. `chosen` (component, location) is ringed, and its part drawn
    heavier.
    """
    if not made.outlines:
        return ""
    beside = made.upright and width >= PAGE_WIDTH
    frame = _frame(made, width)
    parts = [_outline(outline, frame, ink, outline.component == chosen[0]) for outline in made.outlines]
    names, wide, tall = _names(made, frame, symbols, ink, width)
    parts += names
    start, y = (wide + 2 * _EDGE, _EDGE + _SIZE) if beside else (_EDGE, tall + _LINE + _EDGE)
    indent = _EDGE + max(len(outline.component) for outline in made.outlines) * _LETTER
    for outline in made.outlines:
        here = [mark for mark in made.marks if mark.component == outline.component]
        parts.append(_text(start, y, outline.component, ink, bold=True))
        x = start + indent
        for mark in here:
            needs = 2 * _RING + len(mark.location) * _LETTER + _EDGE
            if x + needs > width and x > start + indent:
                x, y = start + indent, y + _LINE
            parts.append(_place(x, y, mark, symbols, ink, (mark.component, mark.location) == chosen))
            x += needs
        y += _LINE
    height = max(tall + _EDGE, y)
    return (
        f'<svg viewBox="0 0 {width} {height:.0f}" role="img" aria-label="{NAMED}" '
        f'xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height:.0f}" font-family="sans-serif" '
        f'font-size="{_SIZE}">{"".join(parts)}</svg>'
    )


def _frame(made: Drawing, width: int) -> _Frame:
    """Fit the vessel into a picture of this width."""
    corners = [point for outline in made.outlines for point in outline.points]
    turned = [(y, x) if made.upright else (x, -y) for x, y in corners]
    left, right = min(x for x, _ in turned), max(x for x, _ in turned)
    top, bottom = min(y for _, y in turned), max(y for _, y in turned)
    if made.upright:
        widest, tallest = min(_WIDEST_STANDING, width - _BESIDE - 2 * _EDGE), _TALLEST_STANDING
    else:
        widest, tallest = width - 2 * _EDGE, _TALLEST_LYING
    scale = min(widest / (right - left), tallest / (bottom - top))
    above = _EDGE if made.upright else _EDGE + _ABOVE
    return _Frame(
        made.upright,
        scale,
        _EDGE - left * scale,
        above - top * scale,
        _EDGE + (right - left) * scale,
        above + (bottom - top) * scale,
    )


def _outline(outline: Outline, frame: _Frame, ink: str, chosen: bool) -> str:
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(frame.placed, outline.points))
    dash = "" if outline.length_known else ' stroke-dasharray="7 5"'
    return (
        f'<polygon points="{line}" fill="none" stroke="{ink}" stroke-width="{3 if chosen else 1.5}"{dash}>'
        f"<title>{escape(f'{outline.component}: {outline.words}')}</title></polygon>"
    )


def _names(
    made: Drawing, frame: _Frame, symbols: Mapping[str, str], ink: str, width: int
) -> tuple[list[str], float, float]:
    """Return the parts' names, each with the symbol of its gravest place, and how far right and down all of it reaches.

    A name stands within its part, turned where that is what fits; else beside a standing vessel, and below a lying one
    in as many rows as keep the names apart.
    """
    parts: list[str] = []
    wide = frame.right
    rows: list[float] = []  # how far right each row of names below the vessel reaches
    for outline in made.outlines:
        states = {mark.state for mark in made.marks if mark.component == outline.component}
        gravest = next((symbol for state, symbol in symbols.items() if state in states), "")
        words = f"{gravest} {outline.component}".strip()
        needs = (len(words) + 1) * _LETTER
        left, top, right, bottom = frame.box(outline)
        x, y = (left + right) / 2, (top + bottom) / 2
        stub = outline.words == "nozzle"
        if stub and not frame.upright:
            parts.append(_text(x, top - 6, words, ink, anchor="middle"))
        elif not stub and right - left >= needs and bottom - top >= _SIZE + 4:
            parts.append(_text(x, y + 5, words, ink, anchor="middle"))
        elif not stub and bottom - top >= needs and right - left >= _SIZE + 4:
            turned = f' transform="rotate(-90 {x:.1f} {y:.1f})"'
            parts.append(_text(x, y + 5, words, ink, anchor="middle", more=turned))
        elif frame.upright:
            x = (right if stub else frame.right) + 8
            wide = max(wide, x + needs)
            parts.append(_text(x, y + 5, words, ink))
        else:
            x = max(_EDGE, min(x - needs / 2, width - needs))
            row = next((number for number, end in enumerate(rows) if end < x), len(rows))
            rows[row:] = [x + needs, *rows[row + 1 :]]
            parts.append(_text(x, frame.bottom + _SIZE + 4 + row * (_SIZE + 3), words, ink))
    return parts, wide, frame.bottom + len(rows) * (_SIZE + 3)


def _place(x: float, y: float, mark: Mark, symbols: Mapping[str, str], ink: str, chosen: bool) -> str:
    """Return one place, from its left end and the foot of its letters: its symbol, and its tag beside it."""
    middle = x + _RING
    ring = (
        f'<circle cx="{middle:.1f}" cy="{y - 4.5:.1f}" r="{_RING}" fill="none" stroke="{ink}" stroke-width="2"/>'
        if chosen
        else ""
    )
    return (
        f"<g><title>{escape(mark.words)}</title>{ring}"
        f"{_text(middle, y, symbols.get(mark.state, '·'), ink, anchor='middle')}"
        f"{_text(x + 2 * _RING + 5, y, mark.location, ink, bold=chosen)}</g>"
    )


def _text(x: float, y: float, words: str, ink: str, anchor: str = "start", bold: bool = False, more: str = "") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}"{weight}{more}>{escape(words)}</text>'
