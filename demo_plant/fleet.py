"""From the vessel table to components, locations and twenty years of readings. All in inches, feet and psi."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

import sizing
import stories
import works
from works import Row

#: Standard deviation of one reading, and the largest random growth between two; both below the plant's scatter limit.
SCATTER = 0.0035
SCATTER_LIMIT = 0.007
GROWTH_LIMIT = 0.008
DESIGN_LIFE = 32
LIQUID_FEET = 12.0
SPECIFIC_GRAVITY = {"brine": 1.1, "lean amine": 1.02, "rich amine": 1.02, "acid gas": 1.0, "solvent": 0.85}

#: How people wrote each kind in the two component registers.
SPELLINGS = {
    "cylinder": ("shell", "Shell", "shell course", "cylinder"),
    "ellipsoidal head": ("2:1 head", "ellipsoidal head", "2:1 ellipsoidal head"),
    "torispherical head": ("torispherical head", "dished end"),
    "hemispherical head": ("hemispherical head",),
    "cone": ("cone",),
    "flat head": ("flat head",),
    "sphere": ("sphere",),
    "nozzle": ("nozzle", "Nozzle"),
}
POINTS = {"cylinder": 7, "ellipsoidal head": 5, "torispherical head": 5, "hemispherical head": 4, "cone": 4,
          "flat head": 3, "sphere": 16, "nozzle": 3}  # fmt: skip
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
DISTANCES = (0.5, 0.75, 1.5, 2, 3, 4, 6, 8, 12, 18)


@dataclass
class Reading:
    """One cell of one survey: a thickness in inches, or what was written instead of one."""

    on: date
    inches: float | None
    text: str | date = ""
    trouble: str = ""  # why a reader cannot use the cell; empty for a good one
    remark: str = ""


@dataclass
class Location:
    """One place measured again and again."""

    name: str
    distance: float | None = None
    region: str = ""
    zone: str = ""
    description: str = ""
    readings: list[Reading] = field(default_factory=list)


@dataclass
class Component:
    """One pressure part: geometry, material, joints, and the plate it was built of."""

    name: str
    kind: str
    spelling: str
    inside_diameter: float | None
    stress: float
    material: str
    e_long: float | None
    e_circ: float | None
    allowance: float
    nominal: float = 0.0
    length_feet: float | None = None
    outside_diameter: float | None = None
    head_depth: float | None = None
    crown_radius: float | None = None
    knuckle_radius: float | None = None
    half_apex_angle: float | None = None
    flat_head_factor: float | None = None
    specific_gravity: float | None = None
    liquid_feet: float | None = None
    pipe_size: str = ""
    attached_to: str = ""
    locations: list[Location] = field(default_factory=list)


@dataclass
class Vessel:
    """One vessel with everything the registers say of it."""

    row: Row
    area: str
    edition: str
    in_service: date
    surveys: tuple[date, ...]
    relief_device: str
    components: list[Component] = field(default_factory=list)

    @property
    def tag(self) -> str:
        """The vessel's tag."""
        return self.row.tag

    def component(self, name: str) -> Component:
        """The component of that name."""
        return next(part for part in self.components if part.name == name)

    def location(self, component: str, name: str) -> Location:
        """The measuring place of that component and name."""
        return next(place for place in self.component(component).locations if place.name == name)


def build() -> list[Vessel]:
    """Make the whole works, the same on every run."""
    fleet = []
    for number, row in enumerate(works.VESSELS):
        rng = random.Random(f"{works.SEED} {row.tag}")  # of its own: changing one vessel leaves the others alone
        vessel = _vessel(row, number)
        _add_components(vessel, rng)
        for part in vessel.components:
            part.nominal = _plate(vessel, part)
            part.locations = list(_locations(vessel, part, rng))
            for place in part.locations:
                place.readings = _readings(vessel, part, place, rng)
        fleet.append(vessel)
    _plant(fleet)
    return fleet


def pressure_at(vessel: Vessel, part: Component) -> float:
    """MAWP at the top plus static head, psi."""
    head = (part.liquid_feet or 0.0) * (part.specific_gravity or 0.0)
    return vessel.row.mawp + head * sizing.PSI_PER_FOOT_OF_WATER


def required(vessel: Vessel, part: Component, away: bool = False, crown: bool = False) -> float:
    """Required thickness of a built component, inches: with the joint's own E, or E = 1 away from the welds."""
    P, S, t = pressure_at(vessel, part), part.stress, part.nominal
    E_long, E_circ = (1.0, 1.0) if away else (part.e_long or 1.0, part.e_circ or 1.0)
    if part.kind == "nozzle":
        return sizing.nozzle_neck(P, part.pipe_size, S, required(vessel, vessel.component(part.attached_to), True))
    D = part.inside_diameter or vessel.row.inside_diameter
    if part.kind == "cylinder":
        return sizing.cylinder(P, D + 2 * t, S, E_long, E_circ)
    if part.kind in ("sphere", "hemispherical head"):
        return sizing.sphere(P, D / 2 + t, S, E_long)
    if part.kind == "ellipsoidal head":
        return sizing.ellipsoidal(P, D, part.head_depth or D / 4, t, S, E_long)
    if part.kind == "torispherical head":
        L, r = part.crown_radius or D, part.knuckle_radius or D / 16
        return sizing.sphere(P, L + t, S, E_long) if crown else sizing.torispherical(P, L, r, t, S, E_long)
    if part.kind == "cone":
        return sizing.cone(P, D + 2 * t, part.half_apex_angle or 0.0, S, E_long)
    return sizing.flat_head(P, D, part.flat_head_factor or 0.0, S, E_long)


def _plate(vessel: Vessel, part: Component) -> float:
    """The thinnest plate or pipe on the market that still holds the MAWP when the corrosion allowance is gone."""
    if part.kind == "nozzle":
        market: tuple[float, ...] = sizing.PIPES[part.pipe_size][1]
    elif vessel.area == "Jetty":
        market = tuple(works.mm(size) for size in sizing.MM_PLATES)
    else:
        market = sizing.INCH_PLATES
    for size in market:
        part.nominal = size
        if size >= required(vessel, part) + part.allowance:
            return size
    raise ValueError(f"{vessel.tag} {part.name}: no plate on the market is thick enough")


def _vessel(row: Row, number: int) -> Vessel:
    area = {"1": "North", "2": "North", "3": "South", "4": "South", "5": "Jetty"}[row.unit[0]]
    in_service = row.in_service
    edition = max((year for year in works.EDITIONS if year < in_service.year), default=works.EDITIONS[0])
    rounds = area.lower() + (" often" if row.pace > 1 and area != "Jetty" else "")
    shift = timedelta(days=number % 4)
    surveys = tuple(date(*day) + shift for day in works.ROUNDS[rounds])
    surveys = tuple(day for day in surveys if day > in_service and stories.surveyed(row.tag, day))
    device = f"PSV-{row.tag.replace('-', '')}"
    return Vessel(row, area, f"ASME VIII-1 {edition}", in_service, surveys, device)


def _allowance(row: Row) -> float:
    """Corrosion allowance: the designers' rate over the design life with a tenth more, in sixteenths."""
    mils = works.SERVICES[row.service] * 1.1 * DESIGN_LIFE
    return max(1, -(-mils // 62.5)) / 16


def _add_components(vessel: Vessel, rng: random.Random) -> None:
    for name, kind in _parts(vessel.row):
        vessel.components.append(_component(vessel, name, kind, rng))


def _parts(row: Row) -> list[tuple[str, str]]:
    """Names and kinds of a vessel's components, from the bottom up or from end to end."""
    head = {"2:1": "ellipsoidal head", "tori": "torispherical head", "hemi": "hemispherical head", "": ""}[row.head]
    necks = [("N1", "nozzle"), ("N2", "nozzle")]
    shells = [(f"Shell {n}", "cylinder") for n in range(1, row.courses + 1)]
    if row.shape == "sphere":
        return [("Sphere", "sphere"), *necks]
    if row.shape == "exchanger":
        return [
            ("Shell", "cylinder"),
            ("Rear head", head),
            ("Channel", "cylinder"),
            ("Channel cover", "flat head"),
            *necks,
        ]
    if row.shape == "drum":
        return [*shells, ("East head", head), ("West head", head), *necks]
    if row.shape == "cone column":
        shells.insert(2, ("Cone", "cone"))
    return [("Bottom head", head), *shells, ("Top head", head), *necks]


def _component(vessel: Vessel, name: str, kind: str, rng: random.Random) -> Component:
    row = vessel.row
    old_edition = int(vessel.edition[-4:]) < 1999
    material = works.NECK_MATERIAL if kind == "nozzle" else row.material
    stress = works.MATERIALS[material][0 if old_edition else 1]
    e_long, e_circ = (1.0, 1.0) if kind in ("nozzle", "flat head") else works.RADIOGRAPHY[row.radiography]
    spelling = "channel" if name == "Channel" else rng.choice(SPELLINGS[kind])
    diameter = row.inside_diameter
    if row.shape == "cone column" and name in ("Shell 3", "Top head"):
        diameter = row.inside_diameter * 2 / 3
    part = Component(name, kind, spelling, diameter, stress, material, e_long, e_circ, _allowance(row))
    if kind == "cylinder":
        if row.shape == "drum" and row.unit == "200":
            part.inside_diameter = None  # left blank on the register: the vessel's own counts
        part.length_feet = {"exchanger": 4.0 if name == "Channel" else 16.0}.get(row.shape, 10.0)
    elif kind == "ellipsoidal head":
        part.head_depth = diameter / 4
    elif kind == "torispherical head":
        part.crown_radius, part.knuckle_radius = diameter, diameter / 16
    elif kind == "cone":
        part.half_apex_angle = 25.0
    elif kind == "flat head":
        part.flat_head_factor = 0.3
    elif kind == "nozzle":
        part.pipe_size = "2" if name == "N2" else "6" if row.inside_diameter < 60 else "8"
        part.inside_diameter = None
        part.outside_diameter = sizing.PIPES[part.pipe_size][0]
        part.attached_to = {"sphere": "Sphere", "exchanger": "Shell"}.get(row.shape, "Shell 1")
    if "column" in row.shape and name in ("Bottom head", "Shell 1"):
        part.specific_gravity = SPECIFIC_GRAVITY.get(row.service, 0.9)
        part.liquid_feet = LIQUID_FEET
    return part


def _locations(vessel: Vessel, part: Component, rng: random.Random) -> Iterator[Location]:
    for number in range(1, POINTS[part.kind] + 1):
        place = Location(_location_name(vessel.area, number), description=COMPASS[number % 8])
        if part.kind in ("cylinder", "cone", "sphere"):
            place.distance, place.region = _weld_distance(rng)
        elif part.kind in ("ellipsoidal head", "torispherical head"):
            place.zone = ("crown", "crown", "knuckle", "knuckle", "")[number - 1]
        yield place


def _location_name(area: str, number: int) -> str:
    return {"North": f"{number}", "South": f"TP-{number:02d}", "Jetty": f"J{number}"}[area]


def _weld_distance(rng: random.Random) -> tuple[float | None, str]:
    draw = rng.random()
    if draw < 0.35:
        return rng.choice(DISTANCES), ""
    return (None, "away") if draw < 0.48 else (None, "weld") if draw < 0.58 else (None, "")


def _readings(vessel: Vessel, part: Component, place: Location, rng: random.Random) -> list[Reading]:
    """A straight loss from a plate a little over nominal, with the scatter of hand-held readings."""
    share = {"nozzle": 0.8, "flat head": 0.7}.get(part.kind, 1.0)
    rate = works.SERVICES[vessel.row.service] / 1000 * vessel.row.pace * share * rng.uniform(0.45, 1.1)
    new = part.nominal + rng.uniform(0.0, 0.015)
    readings: list[Reading] = []
    for day in vessel.surveys:
        true = new - rate * (day - vessel.in_service).days / 365.25
        last = readings[-1].inches if readings else None
        readings.append(Reading(day, _measured(true, last, rng)))
    if vessel.row.service == "nitrogen" and len(readings) > 1:
        _end_without_loss(readings, rng)
    return readings


def _measured(true: float, last: float | None, rng: random.Random) -> float:
    """One reading to the thousandth, drawn again while it would be growth or a wild point."""
    while True:
        error = rng.gauss(0.0, SCATTER)
        value = round(true + error, 3)
        if abs(error) <= SCATTER_LIMIT and (last is None or value - last <= GROWTH_LIMIT):
            return value


def _end_without_loss(readings: list[Reading], rng: random.Random) -> None:
    """Dry gas: the last reading is no thinner than the first or the one before."""
    floor = max(reading.inches or 0.0 for reading in (readings[0], readings[-2]))
    readings[-1].inches = round(floor + rng.choice((0.0, 0.001, 0.002)), 3)


def _plant(fleet: list[Vessel]) -> None:
    """Put the stories' own readings, weld distances, registers' gaps and unusable cells in place."""
    by_tag = {vessel.tag: vessel for vessel in fleet}
    for (tag, component, location), values in stories.READINGS.items():
        place = by_tag[tag].location(component, location)
        if len(values) != len(place.readings):
            raise ValueError(f"{tag} {component} {location}: {len(values)} values for {len(place.readings)} surveys")
        for reading, value in zip(place.readings, values, strict=True):
            reading.inches = value
            reading.text = "" if value is not None else "no access"
    for (tag, component, location), (distance, region) in stories.WELD_DISTANCES.items():
        place = by_tag[tag].location(component, location)
        place.distance, place.region = distance, region
    for (tag, component), spelling in stories.KIND_SPELLINGS.items():
        by_tag[tag].component(component).spelling = spelling
    for tag, component in stories.MISSING_EFFICIENCIES:
        part = by_tag[tag].component(component)
        part.e_long = part.e_circ = None
    for (tag, component, location, year), remark in stories.REMARKS.items():
        _reading_of(by_tag[tag], component, location, year).remark = remark
    for (tag, component, location, year), (text, why) in stories.SPOILED_READINGS.items():
        reading = _reading_of(by_tag[tag], component, location, year)
        reading.text, reading.trouble = text, why
    for tag, component, location, year in stories.DOUBLE_READINGS:
        reading = _reading_of(by_tag[tag], component, location, year)
        reading.text = f"{(reading.inches or 0.0) + 0.006:.3f}/{reading.inches:.3f}"
    _type_in_mm(by_tag[stories.MM_COLUMN[0]], stories.MM_COLUMN[1])
    _write_like_people(fleet)


def _reading_of(vessel: Vessel, component: str, location: str, year: int) -> Reading:
    return next(r for r in vessel.location(component, location).readings if r.on.year == year)


def _type_in_mm(vessel: Vessel, year: int) -> None:
    for part in vessel.components:
        for reading in (r for place in part.locations for r in place.readings if r.on.year == year):
            reading.text = f"{(reading.inches or 0.0) * 25.4:.1f}"
            reading.trouble = "about 25.4 times its neighbours: mm under an inch header"


def _write_like_people(fleet: list[Vessel]) -> None:
    """Text numbers, footnote marks, fractions and reasons for no reading, away from the stories' own places."""
    rng = random.Random(works.SEED + 1)
    for vessel in fleet:
        for part in vessel.components:
            for place in part.locations:
                if (vessel.tag, part.name, place.name) in stories.READINGS:
                    continue
                for index, reading in enumerate(place.readings):
                    between = 0 < index < len(place.readings) - 1
                    if not reading.text and reading.on.year <= 2018:
                        _write_one(reading, between, rng)


def _write_one(reading: Reading, between: bool, rng: random.Random) -> None:
    draw = rng.random()
    if between and draw < 0.012:
        reading.inches, reading.text = None, rng.choice(("no access", "insulated", "N/A", "obstructed", "hot"))
    elif draw < 0.020:
        reading.text = f"{reading.inches:.3f}*"
    elif draw < 0.030:
        reading.text = f'{reading.inches:.3f}"'
    elif draw < 0.045:
        reading.text = f"{reading.inches:.3f}"
    elif between and draw < 0.15:
        _as_fraction(reading)


def _as_fraction(reading: Reading) -> None:
    """Write a reading that lies within 0.0008 in of a 64th as that fraction, the way a gauge card is copied out."""
    sixty_fourths = round((reading.inches or 0.0) * 64)
    if abs(sixty_fourths / 64 - (reading.inches or 0.0)) > 0.0008 or sixty_fourths % 64 == 0:
        return
    top, bottom = sixty_fourths, 64
    while top % 2 == 0:
        top, bottom = top // 2, bottom // 2
    whole, top = divmod(top, bottom)
    reading.inches = sixty_fourths / 64
    reading.text = f"{whole} {top}/{bottom}" if whole else f"{top}/{bottom}"
