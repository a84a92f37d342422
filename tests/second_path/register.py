"""The registers, settled: assets, components and places with their design data; and what each component must have."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import Any

from tests.second_path.buckling import cylinder_thickness, sphere_thickness
from tests.second_path.facts import Facts, Row
from tests.second_path.policy import INCH, PSI, Policy
from tests.second_path.walls import (
    LEAST_WELD_REGION,
    UNDERTOLERANCE,
    Wall,
    pipe,
    spherical_factor,
    thickness_for,
)

#: Between which values a number of the register can be meant, in mm and MPa: nothing is outside by any design.
POSSIBLE = {
    "allowable_stress": (1.0, 500.0),
    "yield_strength": (10.0, 3e3),
    "elastic_modulus": (1e3, 1e6),
    **dict.fromkeys(("mawp", "design_pressure"), (-math.inf, 200.0)),
    **dict.fromkeys(("inside_diameter", "outside_diameter"), (5.0, 5e4)),
    "nominal_thickness": (1.0, 500.0),
}
NOT_STATED = "(not stated)"
#: UG-16(b), the larger of the two values printed.
CODE_MINIMUM, CODE_MINIMUM_WET = INCH / 16, 2.5
#: Anything with water, steam or condensate in it, unless it is said to be without; and what stands for them by itself.
WET = re.compile(
    r"(?:water|steam|condensate)(?!-?(?:less|free))"
    r"|(?<![a-z0-9])(?:air(?!-?(?:less|free))|bfw|h2o|stm|cond|cw[rs]?|dmw|[lmh]ps|ia)(?![a-z0-9])",
    re.IGNORECASE,
)
WATER_HEAD = 0.433 * PSI / (12 * INCH)  # MPa per mm
HEADS = ("ellipsoidal head", "torispherical head")
BASES = ("retirement", "allowance", "nominal")


class Settled(dict[str, Any]):
    """One value a column; a column in which two rows contradict each other, or that cannot be read, is `unsettled`."""

    def __init__(self, rows: list[Row]) -> None:
        super().__init__()
        self.unsettled: set[str] = set()
        self.contradictory: set[str] = set()
        for name in {name for row in rows for name in row} - {"asset", "component", "location", "record", "?"}:
            values = [row[name] for row in rows if row.get(name) is not None]
            if values and all(_same(values[0], value) for value in values):
                self[name] = min(values) if not isinstance(values[0], str) else values[0]
            elif values:
                self.contradictory.add(name)
            if any(name in row["?"] for row in rows):
                self.unsettled.add(name)
                self.pop(name, None)  # what cannot be read may be another value
        self.unsettled |= self.contradictory
        for name, (least, most) in POSSIBLE.items():
            if name in self and not least <= self[name] <= most:
                self.unsettled.add(name)
                del self[name]
        if self.get("allowable_stress", 0.0) > self.get("yield_strength", math.inf):
            self.unsettled |= {"allowable_stress", "yield_strength"}
            del self["allowable_stress"], self["yield_strength"]


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-9)
    return bool(one == other)


@dataclass
class Asset:
    """A vessel with the register's row and everything worked out for it."""

    tag: str
    row: Settled
    registered: bool
    components: dict[str, Component] = field(default_factory=dict)

    @property
    def rating(self) -> float | None:
        """MAWP, or the design pressure where no MAWP is given; none where the MAWP is contradicted."""
        if "mawp" in self.row.unsettled:
            return None
        return self.row.get("mawp", self.row.get("design_pressure"))


@dataclass
class Component:
    """A component with its row, its shape as built, and the thickness it must have."""

    asset: Asset
    tag: str
    row: Settled
    registered: bool
    places: dict[str, Place] = field(default_factory=dict)
    nominal: float | None = None
    nominal_registered: bool = False
    head: float | None = 0.0  # static head, MPa
    pressure: float | None = None
    for_vacuum: float | None = None  # thickness worked out for external pressure
    #: thickness for pressure and required thickness by (zone, region, basis)
    for_pressure: dict[tuple[str, str, str], float | None] = field(default_factory=dict)
    required: dict[tuple[str, str, str], tuple[float | None, str | None]] = field(default_factory=dict)
    wall: dict[tuple[str, str, str], Wall] = field(default_factory=dict)

    @property
    def kind(self) -> str | None:
        return self.row.get("kind")


@dataclass
class Place:
    """A place of measurement with its row, its readings and, later, its results by scenario."""

    component: Component
    tag: str
    row: Settled
    readings: list[Any] = field(default_factory=list)
    misses: list[Any] = field(default_factory=list)

    @property
    def zone(self) -> str:
        return "crown" if self.row.get("head_zone") == "crown" and self.component.kind in HEADS else "general"


def settle(facts: Facts, policy: Policy) -> dict[str, Asset]:
    """Return the vessels by tag, with components and places."""
    assets = _assets(facts)
    stated = _grouped(facts.rows["components"], ("asset", "component"))
    for (asset, component), rows in stated.items():
        if component is not None:
            owner = assets[asset]
            owner.components[component] = Component(owner, component, Settled(rows), True)
    for row in facts.rows["events"]:
        # An event of a component nobody lists: which one it was of has to be settled first.
        if row["asset"] and row["component"] and row.get("date") and row.get("event"):
            owner = assets[row["asset"]]
            owner.components.setdefault(row["component"], Component(owner, row["component"], Settled([]), False))
    _places(facts, assets)
    for asset in assets.values():
        for component in asset.components.values():
            _shape(component, policy)
    for asset in assets.values():
        _require(asset, policy)
    return assets


def _grouped(rows: list[Row], keys: tuple[str, ...]) -> dict[tuple[Any, ...], list[Row]]:
    groups: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for row in rows:
        groups[tuple(row[key] for key in keys)].append(row)
    return groups


def _assets(facts: Facts) -> dict[str, Asset]:
    stated = _grouped(facts.rows["assets"], ("asset",))
    named = {row["asset"] for rows in facts.rows.values() for row in rows}
    named |= {each.asset for each in (*facts.readings, *facts.misses)}
    return {tag: Asset(tag, Settled(stated.get((tag,), [])), (tag,) in stated) for tag in named - {None}}


def _places(facts: Facts, assets: dict[str, Asset]) -> None:
    """Every place of a list or a survey; a survey without components takes the only one listed for the place."""
    listed = _grouped(facts.rows["locations"], ("asset", "component", "location"))
    only: dict[tuple[str, str], set[str]] = defaultdict(set)
    for asset, component, location in listed:
        if component is not None:
            only[asset, location].add(component)

    def component_of(visit: Any) -> str:
        if visit.component is not None:
            return str(visit.component)
        candidates = only[visit.asset, visit.location]
        return next(iter(candidates)) if len(candidates) == 1 else NOT_STATED

    def place(asset: str, component: str, location: str) -> Place:
        owner = assets[asset]
        part = owner.components.get(component)
        if part is None:
            part = owner.components[component] = Component(owner, component, Settled([]), False)
        if location not in part.places:
            rows = listed.get((asset, component, location), [])
            if component == NOT_STATED:
                rows = listed.get((asset, None, location), [])
            part.places[location] = Place(part, location, Settled(rows))
        return part.places[location]

    for asset, component, location in listed:
        if asset is not None and location is not None:
            place(asset, component or NOT_STATED, location)
    for reading in facts.readings:
        place(reading.asset, component_of(reading), reading.location).readings.append(reading)
    for miss in facts.misses:
        place(miss.asset, component_of(miss), miss.location).misses.append(miss)


def _shape(component: Component, policy: Policy) -> None:
    """Nominal thickness, diameters, shape factors and pressure of a component (basis 2)."""
    row, kind = component.row, component.kind
    firsts = [
        min(place.readings, key=lambda r: (r.on, -r.mm)).mm for place in component.places.values() if place.readings
    ]
    if "nominal_thickness" not in row.unsettled:
        component.nominal_registered = "nominal_thickness" in row
        component.nominal = row.get("nominal_thickness", max(firsts, default=None))
    t = component.nominal
    inside, outside = _diameters(component)
    crown, knuckle = row.get("crown_radius"), row.get("knuckle_radius")
    depth = row.get("head_depth")
    by_proportion = "2:1" in row.get("kind_text", "") and "head_depth" not in row.unsettled
    if kind == "ellipsoidal head" and depth is None and by_proportion and inside is not None:
        depth = inside / 4
    proportion = inside / (2 * depth) if inside is not None and depth is not None else None
    K1 = spherical_factor(proportion)
    K = (2 + proportion**2) / 6 if proportion is not None else None
    M = None
    # A last digit of a rounded register is no fault.
    if (
        crown is not None
        and knuckle is not None
        and outside is not None
        and knuckle / crown >= 0.06 - 1e-6
        and crown / outside <= 1 + 1e-6
    ):
        M = (3 + math.sqrt(crown / knuckle)) / 4
    gravity, height = row.get("specific_gravity"), row.get("liquid_head")
    component.head = 0.0 if gravity is None or height is None else WATER_HEAD * gravity * height
    if row.unsettled & {"specific_gravity", "liquid_head"}:
        component.head = None
    rating = component.asset.rating
    component.pressure = rating + component.head if rating is not None and component.head is not None else None
    if kind is None:
        return
    component.for_vacuum = _for_vacuum(component, inside, outside, crown, K1)
    EL = row.get("joint_efficiency_longitudinal")
    EC = row.get("joint_efficiency_circumferential", EL)
    if "joint_efficiency_circumferential" in row.unsettled:
        EC = None
    side = row.get("loss_side", "inside")
    for basis in BASES:
        form = basis == "retirement" and side != "outside" and kind != "flat head"
        gone = row.get("corrosion_allowance") if basis == "allowance" else 0.0
        D = _plus(inside, gone, 2)
        whole = Wall(
            kind="sphere" if kind == "hemispherical head" else kind,
            outside=form,
            thick=policy.thick_wall,
            S=row.get("allowable_stress"),
            EL=EL,
            EC=EC,
            R=_plus(_half(inside), t if form else gone, 1),
            D=outside if form else D,
            L=_plus(crown, t if form else gone, 1),
            K=K,
            K1=K1,
            M=M,
            alpha=row.get("half_apex_angle"),
            C=row.get("flat_head_factor"),
        )
        zones = {"general": whole}
        if kind == "ellipsoidal head":
            sphere = _times(K1, inside if form else D)
            zones["crown"] = replace(whole, kind="sphere", R=_plus(sphere, t if form else 0.0, 1))
        elif kind == "torispherical head":
            zones["crown"] = replace(whole, kind="sphere", R=None if M is None else whole.L)
        for zone, wall in zones.items():
            for region in ("weld", "away"):
                each = wall if region == "weld" else replace(wall, EL=1.0, EC=1.0)
                component.wall[zone, region, basis] = each
                component.for_pressure[zone, region, basis] = thickness_for(each, component.pressure)


def _for_vacuum(
    component: Component, inside: float | None, outside: float | None, crown: float | None, K1: float | None
) -> float | None:
    """The thickness external pressure asks for; none for a cone or flat head, or where modulus or yield is missing."""
    row, kind, t = component.row, component.kind, component.nominal
    P, E, Sy = (row.get(name) for name in ("external_pressure", "elastic_modulus", "yield_strength"))
    if not known_all(P, E, Sy, outside, t):
        return None
    if kind in ("cylinder", "nozzle"):
        length = row.get("unsupported_length", row.get("length"))
        return None if length is None else cylinder_thickness(P, length, outside, E, Sy)
    radius = {
        "sphere": _plus(_half(inside), t, 1),
        "hemispherical head": _plus(_half(inside), t, 1),
        "ellipsoidal head": _times(K1, outside),
        "torispherical head": _plus(crown, t, 1),
    }.get(kind or "")
    return None if radius is None else sphere_thickness(P, radius, E, Sy)


def _diameters(component: Component) -> tuple[float | None, float | None]:
    row, t = component.row, component.nominal
    inside, outside = row.get("inside_diameter"), row.get("outside_diameter")
    if row.unsettled & {"inside_diameter", "outside_diameter"} or _in_another_unit(component):
        return None, None
    wall = row.get("nominal_thickness")
    if known_all(inside, outside, wall) and abs(outside - inside - 2 * wall) > 0.005 * outside:
        return None, None
    width = inside if inside is not None else component.asset.row.get("inside_diameter")
    if inside is None and known_all(outside, wall) and outside > 2 * wall:
        width = outside - 2 * wall
    if component.kind not in ("nozzle", None) and known_all(width, wall) and not wall <= width <= 1e4 * wall:
        return None, None
    if inside is None:
        if outside is None and component.kind == "nozzle":
            outside = pipe(row.get("nominal_pipe_size"))[0]
        if outside is None and not any(map(_in_another_unit, component.asset.components.values())):
            inside = component.asset.row.get("inside_diameter")
    else:
        outside = None
    if inside is None and outside is not None and t is not None and outside > 2 * t:
        inside = outside - 2 * t
    if outside is None and inside is not None and t is not None:
        outside = inside + 2 * t
    return inside, outside


def _in_another_unit(component: Component) -> bool:
    """The vessel is as many times wider or narrower than this part of it as one unit is larger than another."""
    own, whole = component.row.get("inside_diameter"), component.asset.row.get("inside_diameter")
    if component.kind == "nozzle" or own is None or whole is None:
        return False
    ratio = own / whole
    return any(low <= ratio < high for low, high in ((400, 1300), (12.7, 40), (0.0354, 0.0433), (0.0009, 0.0011)))


def known_all(*values: Any) -> bool:
    """Every value is there."""
    return all(value is not None for value in values)


def _half(value: float | None) -> float | None:
    return None if value is None else value / 2


def _times(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one * other


def _plus(one: float | None, other: float | None, times: int) -> float | None:
    return None if one is None or other is None else one + times * other


# ---- required thickness ---------------------------------------------------------------------------------------------


def _require(asset: Asset, policy: Policy) -> None:
    for component in asset.components.values():
        for (zone, region, basis), by_pressure in component.for_pressure.items():
            component.required[zone, region, basis] = _required(component, by_pressure, basis)


def _required(component: Component, by_pressure: float | None, basis: str) -> tuple[float | None, str | None]:
    """The largest of pressure, code minimum (a neck: UG-45), structural minimum and external pressure; and which."""
    row = component.row
    service = component.asset.row.get("service")
    least = CODE_MINIMUM if service is not None and not WET.search(service) else CODE_MINIMUM_WET
    what = "code minimum"
    if component.kind == "nozzle":
        least, what = _neck_minimum(component, least, basis), "least neck thickness"
    structural = None if "structural_minimum" in row.unsettled else row.get("structural_minimum", 0.0)
    external = row.get("required_thickness_external")
    if row.unsettled & {"external_pressure", "required_thickness_external"}:
        external = None
    elif external is None:
        external = component.for_vacuum if row.get("external_pressure", 0.0) > 0 else 0.0
    if not known_all(by_pressure, least, structural, external):
        return None, None
    t = max(by_pressure, least, structural, external)
    if t == by_pressure:
        return t, "internal pressure"
    if t == external:
        return t, "external pressure"
    return t, "structural minimum" if t == structural else what


def _neck_minimum(neck: Component, least: float, basis: str) -> float | None:
    """UG-45: the smaller of {the wall's own need at E = 1, code minimum} and {standard wall less undertolerance}."""
    parent_tag = neck.row.get("attached_to")
    walls = {
        tag: part.for_pressure["general", "away", basis]
        for tag, part in neck.asset.components.items()
        if part.kind is not None and part.kind not in ("nozzle", "flat head")
    }
    if parent_tag is not None:
        parent = walls.get(parent_tag)
    else:
        parent = max(walls.values(), default=None) if walls and known_all(*walls.values()) else None
    standard = pipe(neck.row.get("nominal_pipe_size"))[1]
    pipe_wall = None if standard is None else standard * (1 - UNDERTOLERANCE)
    if parent is None:
        return pipe_wall
    own = max(parent, least)
    return own if pipe_wall is None else min(own, pipe_wall)


def region_of(place: Place, policy: Policy) -> tuple[str, float | None]:
    """Basis 2.2: weld, away or unknown, and the half-width of the weld region, mm."""
    required = place.component.required.get((place.zone, "weld", policy.radius_basis), (None, None))[0]
    half_width = None if required is None else max(LEAST_WELD_REGION, 2 * required)
    stated, distance = place.row.get("weld_region"), place.row.get("distance_to_weld")
    if stated == "weld":
        return "weld", half_width
    if place.row.unsettled & {"distance_to_weld", "weld_region"}:
        return "unknown", half_width
    if distance is not None:
        if half_width is None:
            return "unknown", half_width
        return ("away" if distance > half_width else "weld"), half_width
    return ("away" if stated == "away" else "unknown"), half_width
