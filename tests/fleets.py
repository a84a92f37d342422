"""Random fleets as tidy csv sheets: every kind of component, both unit systems, every rule of the plant touched.

`write_fleet` draws a fleet from a seed: the same seed, sizes and shares give the same cells. There are no flaws in the
sheets (no misspelt tags, no numbers as text): what is wrong in a fleet is wrong in the plant, not in the spreadsheet.
Vessels with an even number stand in US customary files, those with an odd number in SI files.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

MM = 25.4
PSI = 0.45359237 * 9.80665 / 25.4**2  # MPa

#: Nominal pipe size, outside diameter and two walls (standard, extra strong) in inches.
PIPES = (
    (1.0, 1.315, 0.133, 0.179),
    (1.5, 1.900, 0.145, 0.200),
    (2.0, 2.375, 0.154, 0.218),
    (3.0, 3.500, 0.216, 0.300),
    (4.0, 4.500, 0.237, 0.337),
    (6.0, 6.625, 0.280, 0.432),
    (8.0, 8.625, 0.322, 0.500),
    (12.0, 12.750, 0.375, 0.500),
    (18.0, 18.000, 0.375, 0.500),
)
PLATES_IN = (0.25, 0.3125, 0.375, 0.4375, 0.5, 0.5625, 0.625, 0.75, 0.875, 1.0, 1.125, 1.25, 1.5, 1.75, 2.0)
SERVICES = ("naphtha", "amine", "Boiler water", "wet steam", "propane", "caustic", "crude", "instrument air", "glycol")
MATERIALS = ("SA-516-70", "SA-285-C", "SA-240-304L", "SA-387-11")
STRESSES = (94.5, 108.2, 118.0, 137.9)
PEOPLE = ("Ines Vardalen", "Marek Odunby", "Hollis Tranmere", "Sunniva Ardgour")


@dataclass(frozen=True)
class Fleet:
    """Sizes of a fleet and the share of vessels, components, places or readings that each case takes."""

    as_of: date = date(2026, 11, 1)
    components: int = 5
    places: int = 4
    readings: int = 5
    #: years from one reading of a place to the next, fewest and most
    spacing: tuple[float, float] = (1.0, 5.0)
    #: (first day, last day); one of the past, the next, the one after it
    turnarounds: tuple[tuple[date, date], ...] = (
        (date(2022, 3, 1), date(2022, 4, 1)),
        (date(2027, 3, 1), date(2027, 4, 10)),
        (date(2028, 9, 4), date(2028, 10, 2)),
    )
    # vessels
    quiet: float = 0.45  # recently inspected, hardly any loss: candidates for "in date"
    deferred: float = 0.06  # the same, with an internal inspection put off in due form
    deferral_refused: float = 0.04
    deferred_other: float = 0.02  # of another kind, for a date that may well not be near
    high_pressure: float = 0.04
    sphere: float = 0.07
    set_interval: float = 0.06
    no_inspection: float = 0.05
    on_stream: float = 0.12
    second_device: float = 0.04
    no_device: float = 0.05
    device_unlisted: float = 0.02
    design_pressure_only: float = 0.06
    no_pressure: float = 0.01
    no_service_date: float = 0.02
    no_service: float = 0.02
    no_component: float = 0.004
    changed: float = 0.02  # change of service of the whole vessel
    # components
    loss_outside: float = 0.08
    loss_both: float = 0.05
    liquid: float = 0.25
    no_stress: float = 0.006
    no_efficiency: float = 0.006
    no_nominal: float = 0.01
    no_diameter: float = 0.01
    no_allowance: float = 0.01
    no_kind: float = 0.004
    unplaced: float = 0.01
    steep_cone: float = 0.05
    structural: float = 0.04
    external_registered: float = 0.05
    external_unsolved: float = 0.004
    stated_rate: float = 0.05
    pipe_size_missing: float = 0.05
    parent_missing: float = 0.25
    event: float = 0.05
    fast: float = 0.06  # has lost about its whole allowance
    # places
    never_read: float = 0.01
    single_reading: float = 0.05
    distance_known: float = 0.3
    region_word: float = 0.2
    miss: float = 0.03
    # readings
    growth: float = 0.01
    drop: float = 0.006
    same_day: float = 0.006
    slip: float = 0.002  # ten times, or in the other unit
    short_interval: float = 0.06
    #: places of a stated rate that nobody has read since an event began a new history
    unread_after_change: bool = False
    # rules that not every plant uses: none unless asked for
    retired: float = 0.0
    idle: float = 0.0
    part_time: float = 0.0
    recommendation: float = 0.0
    rate_choice: float = 0.0
    thin_head: float = 0.0  # wide vessels at low pressure, with formed heads below 0.002 of their crown radius
    external_pressure: float = 0.0  # with modulus, yield strength and length, so that the thickness can be worked out


#: The shares of the rules that are off by default, for a fleet that has everything.
EVERYTHING = {"retired": 0.01, "idle": 0.02, "part_time": 0.05, "recommendation": 0.12, "rate_choice": 0.05}

HEADINGS: dict[str, tuple[str, ...]] = {
    "assets": (
        *("Asset", "Service", "Area", "In service", "MAWP ({P})", "Design pressure ({P})", "Inside diameter ({L})"),
        *("Assigned to", "Relief device", "Continuous service", "Status", "Status since", "Fraction in operation"),
        "Idle protection",
    ),
    "components": (
        *("Asset", "Component", "Kind", "Material", "Loss side", "Inside diameter ({L})", "Outside diameter ({L})"),
        *("Length ({L})", "Nominal thickness ({L})", "Corrosion allowance ({L})", "Allowable stress ({P})"),
        *("Joint efficiency (longitudinal)", "Joint efficiency (circumferential)", "Head depth ({L})"),
        *("Crown radius ({L})", "Knuckle radius ({L})", "Half apex angle (deg)", "Flat-head factor"),
        *("Specific gravity", "Liquid head ({L})", "External pressure ({P})", "Elastic modulus ({P})"),
        *("Yield strength ({P})", "Required thickness (external pressure) ({L})", "Structural minimum ({L})"),
        *("Stated corrosion rate ({R})", "Nominal pipe size", "Attached to"),
    ),
    "places": ("Asset", "Component", "Location", "Distance to weld ({L})", "Weld region", "Head zone"),
    "readings": ("Asset", "Component", "Location", "Date", "Thickness ({L})"),
    "inspections": ("Asset", "Kind", "Date", "Result", "In place of internal"),
    "events": ("Asset", "Component", "Date", "Event", "New thickness ({L})"),
    "relief devices": (
        *("Device", "Protects", "Set pressure ({P})", "Test interval (years)", "Last tested", "Clean service"),
    ),
    "turnarounds": ("Turnaround", "Start date", "End date"),
    "deferrals": ("Asset", "Kind", "Due date", "Deferred until", "Reason", "Approved by", "Approved on"),
    "set intervals": ("Asset", "Kind", "Interval set (years)", "Assessment", "Approved by", "Approved on"),
    "rate choices": (
        *("Asset", "Component", "Location", "Rate choice", "Chosen rate ({R})", "Reason", "Chosen by", "Chosen on"),
    ),
    "recommendations": (*("Asset", "Component", "Recommendation", "Raised on", "Due date", "Closed on", "Evidence"),),
}

Cells = dict[str, Any]
Rows = dict[str, list[Cells]]


def write_fleet(folder: Path, vessels: int, seed: int, *, basis: str = "", first: int = 0, **options: Any) -> Fleet:
    """Write a fleet of so many vessels, numbered from `first`, into `folder` and return what it was drawn from.

    `options` are fields of `Fleet`; `basis` is the text of a `basis.toml`. Raises TypeError for an unknown option.
    """
    fleet = replace(Fleet(), **options)
    draw = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    systems: dict[str, Rows] = {"us": {name: [] for name in HEADINGS}, "si": {name: [] for name in HEADINGS}}
    for number in range(first, first + vessels):
        _Vessel(fleet, draw, number, systems["si" if number % 2 else "us"]).write()
    for number, (start, end) in enumerate(fleet.turnarounds):
        systems["us"]["turnarounds"].append(
            {"Turnaround": f"TA {start.year}/{number}", "Start date": start, "End date": end}
        )
    for system, rows in systems.items():
        for sheet, lines in rows.items():
            if lines:
                _write_sheet(folder / f"{sheet} {system}.csv", HEADINGS[sheet], lines, system)
    if basis:
        (folder / "basis.toml").write_text(basis, encoding="utf-8")
    return fleet


def shares() -> list[str]:
    """The options that are shares, by name."""
    return [each.name for each in fields(Fleet) if each.type == "float"]


_UNITS = {
    "us": {"L": ("in", MM, 4), "P": ("psi", PSI, 3), "R": ("mil/year", 0.0254, 3)},
    "si": {"L": ("mm", 1.0, 3), "P": ("MPa", 1.0, 5), "R": ("mm/year", 1.0, 4)},
}


def _write_sheet(path: Path, headings: Sequence[str], lines: Iterable[Cells], system: str) -> None:
    units = _UNITS[system]
    columns: list[tuple[str, float | None, int]] = []
    titles = []
    for heading in headings:
        for letter, (name, factor, decimals) in units.items():
            if f"({{{letter}}})" in heading:
                titles.append(heading.replace(f"{{{letter}}}", name))
                columns.append((heading.removesuffix(f" ({{{letter}}})"), factor, decimals))
                break
        else:
            titles.append(heading)
            columns.append((heading, None, 0))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(titles)
        for line in lines:
            writer.writerow([_cell(line.get(name), factor, decimals) for name, factor, decimals in columns])


def _cell(value: Any, factor: float | None, decimals: int) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(round(value / factor, decimals)) if factor is not None else repr(value)
    return str(value)


@dataclass
class _Vessel:
    """One vessel being drawn: its own numbers in mm, MPa and mm/year, whatever the file's units are."""

    fleet: Fleet
    draw: random.Random
    number: int
    rows: Rows
    tag: str = field(init=False)

    def __post_init__(self) -> None:
        self.tag = f"V-{self.number:05d}"

    def chance(self, share: float) -> bool:
        return self.draw.random() < share

    def days_ago(self, low: float, high: float) -> date:
        return self.fleet.as_of - timedelta(days=round(self.draw.uniform(low, high) * 365.25))

    def write(self) -> None:
        """Draw the vessel and append its rows."""
        draw, fleet = self.draw, self.fleet
        roll = draw.random()
        self.deferral = roll < fleet.deferred
        self.refused = not self.deferral and roll < fleet.deferred + fleet.deferral_refused
        self.quiet = roll < fleet.deferred + fleet.deferral_refused + fleet.quiet
        self.is_sphere = self.chance(fleet.sphere)
        self.high = high = self.chance(fleet.high_pressure)
        self.pressure = draw.uniform(20.0, 62.0) if high else draw.uniform(0.75, 6.0)
        if self.is_sphere:
            self.pressure = draw.uniform(0.5, 2.0)
        self.diameter = draw.uniform(200.0, 500.0) if high else draw.uniform(600.0, 3600.0)
        if self.is_sphere:
            self.diameter = draw.uniform(6000.0, 16000.0)
        self.thin = self.chance(fleet.thin_head) and not high and not self.is_sphere
        if self.thin:
            self.pressure, self.diameter = draw.uniform(0.1, 0.45), draw.uniform(2000.0, 4500.0)
        self.stress = 137.9 if high else draw.choice(STRESSES)
        self.started = self.days_ago(2.0, 38.0)
        self.without_dates = self.chance(fleet.no_service_date) and not self.quiet
        changed_on = self.days_ago(0.6, 12.0)
        self.changed_on = changed_on if self.chance(fleet.changed) and changed_on > self.started else None
        if self.changed_on:
            self._happened(None, self.changed_on, "change of service", None)
        self._register()
        self._inspections()
        self._devices()
        self._plans()
        if not self.chance(fleet.no_component):
            self._components()

    def _register(self) -> None:
        draw, fleet = self.draw, self.fleet
        row: Cells = {
            "Asset": self.tag,
            "Service": None if self.chance(fleet.no_service) else draw.choice(SERVICES),
            "Area": f"Unit {draw.randrange(1, 9)}00",
            "In service": None if self.without_dates else self.started,
            "Inside diameter": self.diameter if self.chance(0.7) else None,
            "Assigned to": draw.choice(PEOPLE),
        }
        if not self.chance(fleet.no_pressure):
            if self.chance(fleet.design_pressure_only):
                row["Design pressure"] = self.pressure
            else:
                row["MAWP"] = self.pressure
                row["Design pressure"] = self.pressure * 0.9 if self.chance(0.5) else None
        if self.chance(fleet.part_time):
            row["Continuous service"] = "no"
            row["Fraction in operation"] = None if self.chance(0.2) else round(draw.uniform(0.3, 1.0), 2)
            row["Idle protection"] = None if self.chance(0.2) else "nitrogen blanket"
        roll = draw.random()
        if roll < fleet.retired:
            # Said to be retired some years ago; where it was measured since, the statement does not count.
            row["Status"], row["Status since"] = "retired", self.fleet.as_of - timedelta(days=draw.randrange(5, 900))
        elif roll < fleet.retired + fleet.idle:
            row["Status"], row["Status since"] = "idle", None if self.chance(0.2) else self.days_ago(0.1, 3.0)
        self.register_row = row
        self.rows["assets"].append(row)

    def _inspections(self) -> None:
        draw, fleet = self.draw, self.fleet
        if self.chance(fleet.no_inspection) and not self.quiet:
            return
        internal = self.days_ago(0.1, 6.0) if self.quiet else self.days_ago(0.5, 13.0)
        if self.deferral or self.refused:
            internal = self.days_ago(10.1, 11.5)
        external = self.days_ago(0.05, 2.5) if self.quiet else self.days_ago(0.1, 6.0)
        for kind, last, spacing in (("internal", internal, 9.0), ("external", external, 4.5)):
            on = last
            while on > self.started:
                self._inspection(kind, on)
                on -= timedelta(days=round(spacing * 365.25 * draw.uniform(0.8, 1.05)))
        if self.chance(fleet.on_stream) and not (self.deferral or self.refused):
            answer = draw.choice(("yes", "yes", "yes", "no", None))
            on = self.days_ago(0.1, 3.0)
            if on > self.started:
                self._inspection("on-stream", on, answer)

    def _inspection(self, kind: str, on: date, answer: str | None = None) -> None:
        self.rows["inspections"].append(
            {"Asset": self.tag, "Kind": kind, "Date": on, "Result": "no findings", "In place of internal": answer}
        )

    def _devices(self) -> None:
        draw, fleet = self.draw, self.fleet
        if self.chance(fleet.no_device):
            return
        device = f"PSV-{self.number:05d}"
        self.register_row["Relief device"] = device
        if self.chance(fleet.device_unlisted) and not self.quiet:
            return
        for name in [device, *([f"{device}-B"] if self.chance(fleet.second_device) else [])]:
            clean = draw.choice(("yes", "no", "no", None))
            self.rows["relief devices"].append(
                {
                    "Device": name,
                    "Protects": self.tag,
                    "Set pressure": self.pressure * draw.choice((1.0, 1.0, 1.0, 0.9, 1.05)),
                    "Test interval (years)": None if self.chance(0.1) else float(draw.choice((2, 3, 5, 5, 5, 8, 12))),
                    "Last tested": self.days_ago(0.0, 1.5 if self.quiet else 5.5)
                    if self.quiet or not self.chance(0.05)
                    else None,
                    "Clean service": clean,
                }
            )
        if self.chance(0.1):
            self._inspection("relief device", self.days_ago(0.0, 3.0))

    def _plans(self) -> None:
        """Deferrals, set intervals and recommendations."""
        draw, fleet = self.draw, self.fleet
        if self.deferral or self.refused:
            fault = draw.choice(("late", "nobody", "no reason", "run out", "before")) if self.refused else None
            approved = self.days_ago(1.6, 3.0)
            self.rows["deferrals"].append(
                {
                    "Asset": self.tag,
                    "Kind": draw.choice(("internal", "on-stream")),
                    "Due date": self.days_ago(0.1, 1.5),
                    "Deferred until": fleet.as_of + timedelta(days=draw.randrange(-40, -5))
                    if fault == "run out"
                    else fleet.as_of + timedelta(days=draw.randrange(200, 900)),
                    "Reason": None if fault == "no reason" else "entry in the next turnaround",
                    "Approved by": None if fault == "nobody" else draw.choice(PEOPLE),
                    "Approved on": self.days_ago(0.0, 0.05)
                    if fault == "late"
                    else self.days_ago(12.0, 14.0)
                    if fault == "before"
                    else approved,
                }
            )
        elif self.chance(fleet.deferred_other):
            self.rows["deferrals"].append(
                {
                    "Asset": self.tag,
                    "Kind": draw.choice(("external", "thickness", "relief device")),
                    "Due date": self.days_ago(0.0, 0.3),
                    "Deferred until": fleet.as_of + timedelta(days=draw.randrange(30, 700)),
                    "Reason": "scaffold in the next turnaround",
                    "Approved by": draw.choice(PEOPLE),
                    "Approved on": self.days_ago(0.4, 1.0),
                }
            )
        for _ in range(draw.choice((1, 1, 2)) if self.chance(fleet.set_interval) else 0):
            documented = self.chance(0.6)
            self.rows["set intervals"].append(
                {
                    "Asset": self.tag,
                    "Kind": draw.choice(("internal", "internal", "external", "thickness", "on-stream")),
                    "Interval set (years)": float(draw.choice((2, 3, 4, 6, 8, 12, 15))),
                    "Assessment": f"RA {draw.randrange(1, 99)}" if documented or self.chance(0.3) else None,
                    "Approved by": draw.choice(PEOPLE) if documented else None,
                    "Approved on": self.days_ago(0.2, 6.0) if documented else None,
                }
            )
        for number in range(draw.choice((1, 1, 2)) if self.chance(fleet.recommendation) else 0):
            raised = self.days_ago(0.2, 5.0)
            closed = self.chance(0.4)
            self.rows["recommendations"].append(
                {
                    "Asset": self.tag,
                    "Recommendation": f"renew coating, item {number + 1}",
                    "Raised on": raised,
                    "Due date": None if self.chance(0.1) else raised + timedelta(days=draw.randrange(200, 3000)),
                    "Closed on": self.days_ago(0.0, 0.2) if closed else None,
                    "Evidence": "report" if closed else None,
                }
            )

    # ---- components -------------------------------------------------------------------------------------------------

    def _components(self) -> None:
        draw = self.draw
        walls = ["Sphere" if self.is_sphere else "Shell 1"]
        self._wall(walls[0], "sphere" if self.is_sphere else "cylinder")
        for number in range(2, self.fleet.components + 1):
            kind = draw.choice(_SPHERE_PARTS if self.is_sphere else _PARTS)
            if kind == "nozzle":
                self._nozzle(f"Nozzle {number}", draw.choice(walls))
            else:
                name = f"{kind.capitalize()} {number}"
                self._wall(name, kind)
                if kind != "flat head":
                    walls.append(name)

    def _wall(self, name: str, kind: str) -> None:
        draw, fleet = self.draw, self.fleet
        inside = self.diameter if kind not in ("flat head", "cone") else self.diameter * draw.uniform(0.5, 1.0)
        row: Cells = {"Kind": draw.choice(("shell", "cylinder", "course")) if kind == "cylinder" else kind}
        efficiency = draw.choice((0.7, 0.85, 1.0))
        row["Joint efficiency (longitudinal)"] = efficiency
        if kind == "cylinder":
            row["Joint efficiency (circumferential)"] = draw.choice((None, 0.45, 0.7, 0.85, 1.0))
        elif self.chance(0.5):
            row["Joint efficiency (circumferential)"] = 0.85
        # Thickness for one MPa and one mm of diameter, about; a twentieth more for liquid and the thin-wall terms.
        factor = 1.05 / (2.0 * self.stress * efficiency)
        if kind == "cylinder":
            ratio = min(self.pressure / (self.stress * efficiency), 0.9)
            root = math.sqrt((1 + ratio) / (1 - ratio))
            thickness = inside / 2 * (root - 1) if ratio > 0.3 else self.pressure * inside * factor / (1 - 0.6 * ratio)
        elif kind == "sphere" or kind == "hemispherical head":
            thickness = self.pressure * inside * factor / 2
        elif kind == "ellipsoidal head":
            if self.chance(0.4):
                row["Kind"] = "2:1 ellipsoidal head"
            else:
                row["Head depth"] = inside / draw.choice((4.0, 4.0, 3.2, 5.0, 2.1))
            proportion = inside / (2 * row.get("Head depth", inside / 4))
            thickness = self.pressure * inside * factor * (2 + proportion**2) / 6
        elif kind == "torispherical head":
            crown = inside * draw.choice((1.0, 0.95, 0.9))
            knuckle = crown * draw.choice((0.06125, 0.08, 0.1, 0.17))
            row["Crown radius"], row["Knuckle radius"] = crown, knuckle
            thickness = self.pressure * crown * factor * (3 + math.sqrt(crown / knuckle)) / 4
        elif kind == "cone":
            angle = draw.choice((15.0, 20.0, 25.0, 30.0))
            row["Half apex angle (deg)"] = 38.0 if self.chance(fleet.steep_cone) else angle
            thickness = self.pressure * inside * factor / math.cos(math.radians(angle))
        else:
            inside = min(inside, 150.0 if self.high else 700.0)
            row["Flat-head factor"] = draw.choice((0.2, 0.25, 0.3, 0.33))
            thickness = 1.05 * inside * math.sqrt(row["Flat-head factor"] * self.pressure / (self.stress * efficiency))
        if self.thin and kind in ("ellipsoidal head", "torispherical head"):
            row["Elastic modulus"] = draw.choice((None, 195000.0))
            row["Yield strength"] = 250.0
        allowance = draw.choice((1.5875, 3.175, 3.175, 6.35))
        nominal = self._plate(thickness + allowance)
        if self.is_sphere or self.chance(0.3):
            row["Inside diameter"] = inside
        elif kind in ("flat head", "cone") or self.chance(0.3) or self.register_row["Inside diameter"] is None:
            row[draw.choice(("Inside diameter", "Outside diameter"))] = inside
        if "Outside diameter" in row:
            row["Outside diameter"] = inside + 2 * nominal
        if self.chance(fleet.no_diameter) and kind != "torispherical head":
            row["Inside diameter"] = row["Outside diameter"] = None
        if kind == "cylinder":
            row["Length"] = self.diameter * draw.uniform(1.0, 5.0)
        self._part(name, kind, row, nominal, allowance)

    def _plate(self, thickness: float) -> float:
        """The next plate sold; SI files round it to whole millimetres."""
        wall = next((plate for plate in PLATES_IN if plate * MM >= thickness), math.ceil(thickness / MM * 4) / 4)
        return float(math.ceil(thickness)) if self.number % 2 else wall * MM

    def _nozzle(self, name: str, parent: str) -> None:
        draw, fleet = self.draw, self.fleet
        size, outside, standard, strong = draw.choice(PIPES)
        row: Cells = {"Kind": draw.choice(("nozzle", "nozzle neck")), "Joint efficiency (longitudinal)": 1.0}
        if self.chance(fleet.pipe_size_missing):
            row["Outside diameter"] = outside * MM
        else:
            row["Nominal pipe size"] = size
            if self.chance(0.5):
                row["Outside diameter"] = outside * MM
        row["Attached to"] = None if self.chance(fleet.parent_missing) else parent
        needed = self.pressure * outside * MM / (2 * self.stress)
        allowance = draw.choice((1.5875, 3.175))
        nominal = max(draw.choice((standard, strong)) * MM, math.ceil(needed * 1.05 + allowance))
        self._part(name, "nozzle", row, nominal, allowance)

    def _part(self, name: str, kind: str, row: Cells, nominal: float, allowance: float) -> None:
        draw, fleet = self.draw, self.fleet
        roll = draw.random()
        side = (
            "outside" if roll < fleet.loss_outside else "both" if roll < fleet.loss_outside + fleet.loss_both else None
        )
        row |= {
            "Asset": self.tag,
            "Component": name,
            "Material": draw.choice(MATERIALS),
            "Loss side": side or draw.choice(("inside", "inside", None)),
            "Nominal thickness": nominal,
            "Corrosion allowance": allowance,
            "Allowable stress": self.stress,
        }
        if self.chance(fleet.liquid) and kind != "nozzle":
            row["Specific gravity"] = None if self.chance(0.05) else round(draw.uniform(0.5, 1.3), 2)
            row["Liquid head"] = draw.uniform(500.0, min(20000.0, 6 * self.diameter))
        if self.chance(fleet.structural):
            row["Structural minimum"] = nominal * draw.uniform(0.3, 0.85)
        if self.chance(fleet.external_registered):
            row["External pressure"] = 0.1034
            row["Required thickness (external pressure)"] = nominal * draw.uniform(0.3, 0.8)
        elif self.chance(fleet.external_unsolved):
            row["External pressure"] = 0.1034
        elif self.chance(fleet.external_pressure):
            row |= {"External pressure": draw.uniform(0.02, 0.6), "Elastic modulus": 195000.0, "Yield strength": 230.0}
            row.setdefault("Length", draw.uniform(300.0, 6000.0))
        gap = {
            "Allowable stress": fleet.no_stress,
            "Joint efficiency (longitudinal)": fleet.no_efficiency,
            "Nominal thickness": fleet.no_nominal,
            "Corrosion allowance": fleet.no_allowance,
            "Kind": fleet.no_kind,
        }
        for heading, share in gap.items():
            if self.chance(share):
                row[heading] = None
                if heading == "Joint efficiency (longitudinal)":
                    row["Joint efficiency (circumferential)"] = None
        young = (fleet.as_of - self.started).days < 4 * 365
        if self.chance(fleet.stated_rate * (4 if young else 1)):
            row["Stated corrosion rate"] = draw.choice((0.05, 0.1, 0.127, 0.254))
        self.rows["components"].append(row)
        if not self.chance(fleet.unplaced):
            self._places(name, kind, nominal, allowance, "Stated corrosion rate" in row)

    # ---- places and readings ----------------------------------------------------------------------------------------

    def _places(self, component: str, kind: str, nominal: float, allowance: float, stated: bool) -> None:
        draw, fleet = self.draw, self.fleet
        age = max((fleet.as_of - self.started).days / 365.25, 1.0)
        rate = 0.0 if self.chance(0.2) else min(draw.lognormvariate(-3.0, 0.8), 0.8 * allowance / age)
        if self.chance(fleet.fast) and not self.quiet:
            rate = draw.uniform(0.8, 2.0) * allowance / age
        if self.quiet:
            rate = min(rate, 0.03)
        event, event_on, wall = self._event(component, nominal)
        begins = event_on if event_on and event in _NEW_WALL else self.started
        tags = [str(number) for number in range(1, fleet.places + 1)]
        for tag in tags:
            row: Cells = {"Asset": self.tag, "Component": component, "Location": tag}
            if self.chance(fleet.distance_known):
                row["Distance to weld"] = draw.choice((5.0, 20.0, 25.4, 30.0, 60.0, 150.0, 400.0))
            elif self.chance(fleet.region_word):
                row["Weld region"] = draw.choice(("weld", "away"))
            if kind in ("ellipsoidal head", "torispherical head") and self.chance(0.5):
                row["Head zone"] = draw.choice(("crown", "knuckle"))
            self.rows["places"].append(row)
            read_since = None
            if stated and not fleet.unread_after_change:
                read_since = max((on for on in (event_on, self.changed_on) if on), default=None)
            if self.chance(fleet.never_read) and not read_since:
                continue
            own = rate * draw.uniform(0.4, 1.2)
            self._survey(component, tag, nominal, own, begins, wall, read_since)
            if self.chance(fleet.rate_choice):
                self._choose(component, tag if self.chance(0.7) else None)

    def _event(self, component: str, nominal: float) -> tuple[str | None, date | None, float]:
        draw, fleet = self.draw, self.fleet
        if not self.chance(fleet.event):
            return None, None, nominal
        event = draw.choice(("replaced", "overlaid", "re-baselined", "change of service", "rerated"))
        on = self.days_ago(0.6, 12.0)
        if on <= self.started:
            return None, None, nominal
        stated = nominal + draw.uniform(0.0, 1.0) if event in _NEW_WALL and self.chance(0.5) else None
        self._happened(component, on, event, stated)
        return event, on, stated or nominal

    def _happened(self, component: str | None, on: date, event: str, thickness: float | None) -> None:
        row = {"Asset": self.tag, "Component": component, "Date": on, "Event": event, "New thickness": thickness}
        self.rows["events"].append(row)

    def _choose(self, component: str, tag: str | None) -> None:
        draw = self.draw
        choice = draw.choice(("long-term", "short-term", "least squares", "fit upper bound", "stated", None))
        self.rows["rate choices"].append(
            {
                "Asset": self.tag,
                "Component": component,
                "Location": tag,
                "Rate choice": choice,
                "Chosen rate": draw.choice((0.05, 0.2)) if choice is None else None,
                "Reason": None if self.chance(0.1) else "agreed with the corrosion specialist",
                "Chosen by": None if self.chance(0.1) else draw.choice(PEOPLE),
                "Chosen on": self.days_ago(0.1, 3.0),
            }
        )

    def _survey(
        self, component: str, tag: str, nominal: float, rate: float, begins: date, wall: float, read_since: date | None
    ) -> None:
        """The readings of one place: true wall less loss, plus a tenth of a millimetre of scatter."""
        draw, fleet = self.draw, self.fleet
        count = 1 if self.chance(fleet.single_reading) else max(1, round(draw.gauss(fleet.readings, 0.5)))
        last = self.days_ago(0.02, 1.5 if self.quiet else 7.0)
        if self.quiet and self.chance(0.3):
            last = self.days_ago(0.02, 0.2)
        if read_since and last <= read_since:
            last = read_since + (fleet.as_of - read_since) * draw.uniform(0.1, 0.9)
        dates = []
        on = last
        for _ in range(count):
            if on <= self.started:
                break
            dates.append(on)
            years = draw.uniform(0.1, 0.9) if self.chance(fleet.short_interval) else draw.uniform(*fleet.spacing)
            on -= timedelta(days=round(years * 365.25))
        first = nominal * draw.uniform(0.98, 1.03)
        readings = self.rows["readings"]
        for number, on in enumerate(reversed(dates)):
            since = begins if on >= begins else self.started
            start = (wall if wall != nominal else first) if on >= begins else first
            true = start - rate * (on - since).days / 365.25
            value = max(true + draw.gauss(0.0, 0.06 if self.quiet else 0.1), 1.0)
            if number and self.chance(fleet.growth) and not self.quiet:
                value += draw.uniform(0.4, 2.0)
            elif number and self.chance(fleet.drop) and not self.quiet:
                value = max(value - draw.uniform(0.5, 3.0), 1.0)
            elif self.chance(fleet.slip) and not self.quiet and not read_since:
                value *= draw.choice((10.0, 25.4, 0.1))
            row = {"Asset": self.tag, "Component": component, "Location": tag, "Date": on, "Thickness": value}
            if number and self.chance(fleet.miss) and not read_since:
                readings.append(row | {"Thickness": draw.choice(("no access", "insulated", "too hot"))})
                continue
            readings.append(row)
            if number and self.chance(fleet.same_day):
                readings.append(row | {"Thickness": value + draw.choice((0.0, 0.05, 0.3, 1.0))})


_NEW_WALL = ("replaced", "overlaid", "re-baselined")
_PARTS = (
    *("ellipsoidal head", "ellipsoidal head", "torispherical head", "hemispherical head", "cone", "flat head"),
    *("nozzle", "nozzle", "nozzle", "cylinder"),
)
_SPHERE_PARTS = ("nozzle", "nozzle", "flat head")
