"""Units of measurement: every accepted spelling once, with its factor to the unit kept inside.

Inside, a length is in mm, a pressure or stress in MPa, a rate in mm/year, a duration in years, an angle in
degrees, a temperature in deg C. People see the plant's unit system (`us` or `si`), by `DISPLAY` below.
"""

from __future__ import annotations

from dataclasses import dataclass

#: 1 psi in MPa, from the international inch (25.4 mm), pound (0.45359237 kg) and standard gravity (9.80665 m/s2).
PSI_IN_MPA = 0.45359237 * 9.80665 / 25.4**2
MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Unit:
    """One unit: its name as shown, what it measures, and `inside = value * factor + offset`."""

    name: str
    kind: str
    factor: float
    offset: float = 0.0

    def to_inside(self, value: float) -> float:
        """Return `value` of this unit in the unit kept inside for its kind."""
        return value * self.factor + self.offset

    def from_inside(self, value: float) -> float:
        """Return a value kept inside, in this unit."""
        return (value - self.offset) / self.factor


_UNITS = (
    (Unit("mm", "length", 1.0), "mm millimetre millimetres millimeter millimeters"),
    (Unit("cm", "length", 10.0), "cm centimetre centimeter centimetres centimeters"),
    (Unit("m", "length", 1000.0), "m metre metres meter meters"),
    (Unit("um", "length", 0.001), "um µm μm micron microns"),
    (Unit("in", "length", 25.4), 'in in. inch inches ins ″ "'),
    (Unit("ft", "length", 304.8), "ft ft. foot feet ′"),
    (Unit("mil", "length", 0.0254), "mil mils thou"),
    (Unit("MPa", "pressure", 1.0), "mpa mpag mpa(g) n/mm2 n/mm²"),
    (Unit("kPa", "pressure", 0.001), "kpa kpag kpa(g)"),
    (Unit("Pa", "pressure", 1e-6), "pa pag"),
    (Unit("bar", "pressure", 0.1), "bar barg bar(g) bars"),
    (Unit("psi", "pressure", PSI_IN_MPA), "psi psig psi(g) lb/in2 lbf/in2"),
    (Unit("GPa", "pressure", 1000.0), "gpa"),
    (Unit("ksi", "pressure", 1000 * PSI_IN_MPA), "ksi"),
    (Unit("kgf/cm2", "pressure", 0.0980665), "kg/cm2 kg/cm² kgf/cm2 kgf/cm² kg/cm2g kg/cm2(g)"),
    (Unit("mm/year", "rate", 1.0), "mm/year mm/yr mm/y mm/a mmpy mm/annum mmperyear"),
    (
        Unit("in/year", "rate", 25.4),
        "in/year in/yr in/y ipy inch/year inches/year in./yr in./year inperyear inchesperyear",
    ),
    (Unit("mil/year", "rate", 0.0254), "mil/year mil/yr mil/y mils/year mils/yr mpy milperyear milsperyear"),
    (Unit("year", "duration", 1.0), "year years yr yrs y a"),
    (Unit("month", "duration", 1.0 / 12.0), "month months mo mos mth"),
    (Unit("deg C", "temperature", 1.0), "degc deg.c °c c deg c celsius"),
    (Unit("deg F", "temperature", 5.0 / 9.0, -160.0 / 9.0), "degf deg.f °f f deg f fahrenheit"),
    (Unit("deg", "angle", 1.0), "deg degree degrees °"),
    (Unit("%", "ratio", 0.01), "% percent pct"),
    (Unit("-", "ratio", 1.0), "- ratio none dimensionless"),
)

UNITS: dict[str, Unit] = {unit.name: unit for unit, _ in _UNITS}

#: Accepted spelling (lower case) to unit. `deg c` and the like contain a space and are listed apart.
SPELLINGS: dict[str, Unit] = {}
for _unit, _spellings in _UNITS:
    SPELLINGS[_unit.name.lower()] = _unit
    for _spelling in _spellings.split():
        if _unit.kind == "temperature" and _spelling == "deg":
            continue
        SPELLINGS.setdefault(_spelling.lower(), _unit)

#: What people see, by unit system and kind of quantity: unit and decimals.
DISPLAY: dict[str, dict[str, tuple[str, int]]] = {
    "us": {
        "thickness": ("in", 4),
        "length": ("in", 3),
        "pressure": ("psi", 1),
        "stress": ("psi", 0),
        "rate": ("mil/year", 2),
        "duration": ("year", 2),
        "temperature": ("deg F", 0),
        "angle": ("deg", 2),
        "ratio": ("-", 4),
    },
    "si": {
        "thickness": ("mm", 2),
        "length": ("mm", 1),
        "pressure": ("MPa", 3),
        "stress": ("MPa", 1),
        "rate": ("mm/year", 3),
        "duration": ("year", 2),
        "temperature": ("deg C", 0),
        "angle": ("deg", 2),
        "ratio": ("-", 4),
    },
}


#: A duration as it is said: one year, several years.
ONE_YEAR, YEARS = "1.00", "years"


def find_unit(text: str) -> Unit | None:
    """Return the unit a person wrote, or None where the spelling is not known. Case and blanks do not count."""
    key = " ".join(text.strip().lower().split())
    return SPELLINGS.get(key) or SPELLINGS.get(key.replace(" ", ""))


def show(value: float | None, kind: str, system: str) -> str:
    """Return a value kept inside as a person of the unit system sees it, with its unit; an em dash when missing."""
    if value is None or value != value:
        return "—"
    name, decimals = DISPLAY[system][kind]
    number = minus(f"{UNITS[name].from_inside(value):,.{decimals}f}")
    if name == "-":
        return number
    if kind == "duration" and number.strip("−") != ONE_YEAR:
        name = YEARS
    return f"{number} {name}"


def noun(count: int, one: str) -> str:
    """Return a count with its noun."""
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def minus(text: str) -> str:
    """Return a number as a person reads it, with the sign of mathematics where it is negative.

    What other programs read keeps the hyphen.
    """
    return f"−{text[1:]}" if text.startswith("-") else text


#: Units in which a formula may be shown with numbers: coherent, so that the shown numbers give the shown result.
COHERENT: dict[str, dict[str, tuple[str, float]]] = {
    "us": {
        "mm": ("in", 25.4),
        "MPa": ("psi", PSI_IN_MPA),
        "mm/year": ("in/year", 25.4),
        "MPa/mm": ("psi/in", PSI_IN_MPA / 25.4),
        "mm.day": ("in.day", 25.4),
        "mm2": ("in2", 25.4**2),
    },
    "si": {},
}


def in_coherent_unit(value: float, unit: str, system: str) -> tuple[float, str]:
    """Return a value kept inside in the coherent unit of the system, with that unit's name."""
    name, factor = COHERENT[system].get(unit, (unit, 1.0))
    return value / factor, name
