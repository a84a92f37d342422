"""A vessel drawn to scale from its dimensions, with its places on it: a sketch for finding one's way, not a drawing.

Lengths and diameters are the register's. A length that is not on it is drawn as one diameter, dashed, and said so.
Shells and cones follow each other as the register's rows do; where those tell no order, that is said.
Where along a component a place lies is not on record: places stand beside the sketch, by component and tag.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

import duckdb

from pipeline.reading import Row, asked, natural
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
_LAST = re.compile(r"\b(bottom|lower|east|south|back|rear|right|outlet)\b", re.I)
_UPRIGHT = re.compile(r"\b(top|bottom|upper|lower)\b", re.I)
_HEADS = ("ellipsoidal head", "torispherical head", "hemispherical head", "flat head")
_BODIES = ("cylinder", "cone", "sphere")
#: Diameters this close are one: walls that meet differ by the thickness of one of them where one side is stated.
_ALIKE = 0.02
_STEPS = 24
NAMED = "Sketch of the vessel with its places"

#: What is said of parts that are not drawn by the register alone; their names follow.
_GUESSED = "Length not on the register, drawn dashed as one diameter"
_ANGLED = "Length from the half apex angle"
_HALVED = "Narrow end not on the register, drawn as half the diameter"


@dataclass(frozen=True)
class Outline:
    """One component as a closed line in mm, and whether its length is on the register."""

    component: str
    points: tuple[Point, ...]
    length_known: bool
    words: str


@dataclass(frozen=True)
class Mark:
    """One place, its state, how many of its readings are held, and what is said of it."""

    component: str
    location: str
    state: str
    held: int
    words: str

    @property
    def label(self) -> str:
        """What stands beside its symbol: its tag, and the readings that wait for a verdict."""
        return _beside(self.location, self.held)


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
        "component.nominal_thickness_mm AS wall, component.attached_to, "
        "component.half_apex_angle_deg AS half_apex_angle, register.sheet, register.listed "
        "FROM step.shape AS shape JOIN step.component AS component USING (asset, component) "
        "LEFT JOIN (SELECT component, arg_min(concat_ws(', ', file, sheet), record) AS sheet, min(record) AS listed "
        "FROM fact.field WHERE kind = 'components' AND asset = $asset AND file <> 'entries' GROUP BY component) "
        "AS register USING (component) WHERE shape.asset = $asset ORDER BY shape.component",
        {"asset": asset},
    )
    places = asked(
        connection,
        "SELECT component, location, state, description, t_act_mm, t_req_mm, missing, "
        "coalesce(held.readings, 0) AS held FROM result.location AS place LEFT JOIN ("
        "SELECT component, location, count(*) AS readings FROM result.reading "
        "WHERE asset = $asset AND status = 'held' GROUP BY component, location) AS held USING (component, location) "
        "WHERE place.asset = $asset ORDER BY component, location",
        {"asset": asset},
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
    first, bodies, last, order = _along(known, made.upright)
    diameters = [None, *(part["diameter"] for part in (*first, *bodies, *last)), None]
    notes: dict[str, list[str]] = {words: [] for words in (_GUESSED, _ANGLED, _HALVED)}
    x = 0.0
    for part in first:
        x = _head(made, part, x, before=True)
    for place, part in enumerate(bodies, start=len(first)):
        x = _body(made, part, x, diameters[place], diameters[place + 2], notes)
    for part in last:
        x = _head(made, part, x, before=False)
    _nozzles(made, [part for part in known if part["kind"] == "nozzle"])
    made.remarks += [f"{words}: {', '.join(names)}." for words, names in notes.items() if names]
    if order:
        made.remarks.append(order)
    if made.outlines:
        made.remarks.append(
            "Where along a part its places lie is not on record: they are listed in the order of their tags."
        )


def _along(parts: Sequence[Row], upright: bool) -> tuple[list[Row], list[Row], list[Row], str]:
    """Return the heads at the top or left, the shells and cones from there on, the heads at the other end, and what to
    say of the order. Heads go to the ends their names tell."""
    walls = [part for part in parts if part["kind"] in (*_HEADS, *_BODIES)]
    listed = _as_listed(walls)
    walls = listed or sorted(walls, key=lambda part: natural(part["component"]))
    heads = [part for part in walls if part["kind"] in _HEADS]
    bodies = [part for part in walls if part["kind"] in _BODIES]
    first = [part for part in heads if _FIRST.search(part["component"])]
    first = first or [part for part in heads if not _LAST.search(part["component"])][:1]
    last = [part for part in heads if part not in first]
    if len(bodies) < 2:
        return first, bodies, last, ""
    if listed is None:
        return first, bodies, last, "Order along the vessel not on record: parts stand in the order of their names."
    enclosed = walls[0] in heads and walls[-1] in heads
    backwards = walls[0] in last if enclosed else upright
    if backwards:
        bodies.reverse()
    side = ("bottom" if backwards else "top") if upright else ("right" if backwards else "left")
    taken = "" if enclosed else "taken to run "
    return first, bodies, last, f"Parts stand in the order of the register's rows, {taken}from the {side}."


def _as_listed(walls: Sequence[Row]) -> list[Row] | None:
    """Return heads, shells and cones in the order of their rows; None where those tell no order along the vessel: they
    stand on several sheets, or a head between two shells."""
    if any(part["listed"] is None for part in walls) or len({part["sheet"] for part in walls}) > 1:
        return None
    listed = sorted(walls, key=lambda part: part["listed"])
    bodies = [place for place, part in enumerate(listed) if part["kind"] in _BODIES]
    between = listed[bodies[0] : bodies[-1]] if bodies else []
    return None if any(part["kind"] in _HEADS for part in between) else listed


def _body(
    made: Drawing, part: Row, x: float, before: float | None, after: float | None, notes: Mapping[str, list[str]]
) -> float:
    """Draw a shell, cone or sphere from x on, between the diameters of its neighbours; return where it ends."""
    name, length, diameter = part["component"], part["length"], part["diameter"]
    if part["kind"] == "sphere":
        radius = diameter / 2
        round_ = [
            (x + radius - radius * math.cos(angle), radius * math.sin(angle))
            for angle in (2 * math.pi * step / (2 * _STEPS) for step in range(2 * _STEPS))
        ]
        made.outlines.append(Outline(name, tuple(round_), True, part["kind"]))
        return x + diameter
    left, right = diameter, diameter
    if part["kind"] == "cone":
        left, right, is_known = _ends(diameter, before, after)
        if not is_known:
            notes[_HALVED].append(name)
        elif length is None and part["half_apex_angle"] and 0 < part["half_apex_angle"] < 90:
            length = abs(left - right) / 2 / math.tan(math.radians(part["half_apex_angle"]))
            notes[_ANGLED].append(name)
    if length is None:
        notes[_GUESSED].append(name)
    end = x + (length or diameter)
    corners = ((x, left / 2), (end, right / 2), (end, -right / 2), (x, -left / 2))
    made.outlines.append(Outline(name, corners, length is not None, part["kind"]))
    return end


def _ends(wide: float, before: float | None, after: float | None) -> tuple[float, float, bool]:
    """Return the diameters of a cone's two ends, each that of its neighbour, and whether the narrow one is known.

    `wide` is the register's, which is that of the wide end, else of the narrow one where a neighbour is wider.
    """
    known = [diameter for diameter in (before, after) if diameter is not None]
    least, most = min(known, default=wide), max(known, default=wide)
    if _alike(least, most):  # one neighbour, or two of one diameter: which end meets it tells the register's own
        if _alike(least, wide):
            return (wide / 2, wide, False) if before is None and after is not None else (wide, wide / 2, False)
        narrow, wide = sorted((least, wide))
        narrow_first = (before is not None) == (least == narrow)
        return (narrow, wide, True) if narrow_first else (wide, narrow, True)
    if wide > least and not _alike(wide, least):
        most = wide
    return (least, most, True) if before == least else (most, least, True)


def _alike(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=_ALIKE)


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
    for place in sorted(places, key=lambda place: [natural(place[name]) for name in ("component", "location")]):
        if place["component"] in drawn:
            words = _said(place, system)
            made.marks.append(Mark(place["component"], place["location"], place["state"], place["held"], words))


def _said(place: Row, system: str) -> str:
    name = f"{place['component']}, location {place['location']}"
    if place["description"]:
        name += f" ({place['description']})"
    standing = f"{place['state']}, {place['held']} held" if place["held"] else place["state"]
    if place["t_act_mm"] is None or place["t_req_mm"] is None:
        return f"{name}: {standing}" + (f", missing: {place['missing']}" if place["missing"] else "")
    left, needed = (show(place[column], "thickness", system) for column in ("t_act_mm", "t_req_mm"))
    return f"{name}: {standing}, {left} left, {needed} required"


def _beside(words: str, held: int) -> str:
    """Return what stands beside a symbol with the readings that wait for a verdict: nothing is plainly in date with
    one."""
    return f"{words} ({held} held)" if held else words


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

    Every part carries its name, the symbol of its gravest place and its readings held; beside or below the vessel stand
    the places of each part, each with the symbol of its state, its tag and its readings held. `chosen` (component,
    location) is ringed, and its part drawn heavier.
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
            needs = 2 * _RING + len(mark.label) * _LETTER + _EDGE
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
        here = [mark for mark in made.marks if mark.component == outline.component]
        states = {mark.state for mark in here}
        gravest = next((symbol for state, symbol in symbols.items() if state in states), "")
        words = _beside(f"{gravest} {outline.component}".strip(), sum(mark.held for mark in here))
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
        f"{_text(x + 2 * _RING + 5, y, mark.label, ink, bold=chosen)}</g>"
    )


def _text(x: float, y: float, words: str, ink: str, anchor: str = "start", bold: bool = False, more: str = "") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}"{weight}{more}>{escape(words)}</text>'
