"""A vessel drawn to scale from its dimensions, with its places on it: a sketch for finding one's way, not a drawing.

Lengths and diameters are the register's. A length that is not on it is drawn as one diameter, dashed, and said so.
Where along a component a place lies is not on record: places stand in the order of their tags.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
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


@dataclass(frozen=True)
class Outline:
    """One component as a closed line in mm, and whether its length is on the register."""

    component: str
    points: tuple[Point, ...]
    length_known: bool
    words: str


@dataclass(frozen=True)
class Mark:
    """One place: where it stands on the sketch, and what is said of it."""

    component: str
    location: str
    state: str
    at: Point
    words: str


@dataclass
class Drawing:
    """A vessel's outlines and marks in mm, the axis along x; `upright` where it stands."""

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
        (part for part in known if part["kind"] in ("cylinder", "cone", "sphere")), key=lambda part: _natural(part)
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
    if made.marks or made.outlines:
        made.remarks.append("Places stand in the order of their tags; where along the part they lie is not on record.")


def _natural(part: Row) -> list[Any]:
    return [int(piece) if piece.isdigit() else piece for piece in re.split(r"(\d+)", part["component"])]


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
    by_name = {outline.component: outline for outline in made.outlines}
    missing = sorted({place["component"] for place in places} - by_name.keys())
    if missing:
        made.remarks.append(f"Places of {', '.join(missing)} are not on the sketch: see the tables.")
    for name, outline in by_name.items():
        here = [place for place in places if place["component"] == name]
        left, right, top = _extent(outline)
        low = min(y for _, y in outline.points)
        for number, place in enumerate(here, start=1):
            along = left + (right - left) * number / (len(here) + 1)
            across = (top + low) / 2 + (top - low) * (0.22 if number % 2 else -0.22)
            made.marks.append(Mark(name, place["location"], place["state"], (along, across), _said(place, system)))


def _said(place: Row, system: str) -> str:
    name = f"{place['component']}, location {place['location']}"
    if place["description"]:
        name += f" ({place['description']})"
    if place["t_act_mm"] is None or place["t_req_mm"] is None:
        return f"{name}: {place['state']}" + (f", missing is {place['missing']}" if place["missing"] else "")
    left, needed = (show(place[column], "thickness", system) for column in ("t_act_mm", "t_req_mm"))
    return f"{name}: {place['state']}, {left} left, {needed} required"


# ---- as a picture ---------------------------------------------------------------------------------------------------


def svg(
    made: Drawing, symbols: Mapping[str, str], ink: str, chosen: tuple[str | None, str | None] = (None, None)
) -> str:
    """Return the sketch as SVG in one colour; empty where there is nothing to draw.

    Every place carries the symbol of its state and its tag; `chosen` (component, location) is ringed.
    """
    if not made.outlines:
        return ""
    turn = (lambda p: (p[1], p[0])) if made.upright else (lambda p: (p[0], -p[1]))
    corners = [turn(point) for outline in made.outlines for point in outline.points]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    top, bottom = min(y for _, y in corners), max(y for _, y in corners)
    width, height = (420.0, 560.0) if made.upright else (900.0, 320.0)
    edge = 26.0
    scale = min((width - 2 * edge) / (right - left), (height - 2 * edge) / (bottom - top))
    width, height = (right - left) * scale + 2 * edge, (bottom - top) * scale + 2 * edge

    def placed(point: Point) -> Point:
        x, y = turn(point)
        return (x - left) * scale + edge, (y - top) * scale + edge

    parts = [
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="Sketch of the vessel with its places" '
        f'xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" font-family="sans-serif">'
    ]
    for outline in made.outlines:
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(placed, outline.points))
        dash = "" if outline.length_known else ' stroke-dasharray="7 5"'
        parts.append(
            f'<polygon points="{line}" fill="none" stroke="{ink}" stroke-width="1.6"{dash}>'
            f"<title>{escape(f'{outline.component}: {outline.words}')}</title></polygon>"
        )
        x, y = placed(_centre(outline)) if outline.words != "nozzle" else _above(placed, outline, made.upright)
        parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" font-size="11" fill="{ink}" '
            f'opacity="0.62">{escape(outline.component)}</text>'
        )
    stubs = {outline.component for outline in made.outlines if outline.words == "nozzle"}
    for mark in made.marks:
        x, y = placed(mark.at)
        ring = ""
        if (mark.component, mark.location) == chosen:
            ring = f'<circle cx="{x:.1f}" cy="{y - 4:.1f}" r="11" fill="none" stroke="{ink}" stroke-width="2"/>'
        tag = ""
        if mark.component not in stubs:  # a stub has no room for the tags of its places
            tag = (
                f'<text x="{x:.1f}" y="{y + 11:.1f}" text-anchor="middle" font-size="9" fill="{ink}" opacity="0.75">'
                f"{escape(mark.location)}</text>"
            )
        parts.append(
            f"<g>{ring}"
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" font-size="14" fill="{ink}">'
            f"{escape(symbols.get(mark.state, '·'))}<title>{escape(mark.words)}</title></text>{tag}</g>"
        )
    return "".join([*parts, "</svg>"])


def _above(placed: Callable[[Point], Point], outline: Outline, upright: bool) -> Point:
    left, right, top = _extent(outline)
    x, y = placed(((left + right) / 2, top))
    return (x + 14, y + 4) if upright else (x, y - 5)


def _centre(outline: Outline) -> Point:
    left, right, top = _extent(outline)
    low = min(y for _, y in outline.points)
    return (left + right) / 2, (top + low) / 2
