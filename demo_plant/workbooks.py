"""The works' spreadsheets as its people keep them: titles, units here and there, dates in every habit, notes below."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

import stories
import works
from fleet import Component, Location, Reading, Vessel
from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

Cell = str | float | int | date | None
BOLD = Font(bold=True)
STAMP = "2026-11-01T08:00:00Z"
INTERNAL_ROUND = {"100": (2022, 3, 8), "200": (2024, 9, 10), "300": (2022, 3, 9), "400": (2024, 9, 11),
                  "500": (2023, 6, 13)}  # fmt: skip
EXTERNAL_ROUND = date(2025, 5, 20)
WATCHED_SINCE = date(2026, 6, 2)


class Unusable(NamedTuple):
    """One cell that a careful reader cannot use, and why."""

    file: str
    sheet: str
    cell: str
    text: str
    why: str


class Folder:
    """Writes workbooks that are the same bytes every time, and remembers the cells that cannot be used."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.unusable: list[Unusable] = []

    def spoil(self, file: str, sheet: str, row: int, column: int, text: object, why: str) -> None:
        """Remember one unusable cell by its address."""
        self.unusable.append(Unusable(file, sheet, f"{get_column_letter(column)}{row}", str(text), why))

    def save(self, book: Workbook, name: str) -> None:
        """Save with the stamp of the stories' day instead of the clock's."""
        book.remove(book.worksheets[0])
        buffer = io.BytesIO()
        book.save(buffer)
        with zipfile.ZipFile(buffer) as made, zipfile.ZipFile(self.path / name, "w", zipfile.ZIP_DEFLATED) as kept:
            for entry in made.namelist():
                data = made.read(entry)
                if entry == "docProps/core.xml":
                    data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", STAMP.encode(), data)
                kept.writestr(zipfile.ZipInfo(entry, (2026, 11, 1, 8, 0, 0)), data, zipfile.ZIP_DEFLATED)

    def save_csv(self, name: str, rows: Iterable[Sequence[str]], delimiter: str) -> None:
        """Save text rows."""
        with (self.path / name).open("w", encoding="utf-8", newline="") as handle:
            csv.writer(handle, delimiter=delimiter, lineterminator="\r\n").writerows(rows)


def write_all(fleet: list[Vessel], folder: Folder) -> None:
    """Write every spreadsheet of the works."""
    _register(fleet, folder)
    _components(fleet, folder)
    _locations(fleet, folder)
    for area in ("North", "South"):
        _vessel_sheets([v for v in fleet if v.area == area], folder, f"{area.lower()} surveys to 2018.xlsx")
    _jetty_sheet([v for v in fleet if v.area == "Jetty"], folder)
    _contractor(fleet, folder)
    _long_survey([v for v in fleet if v.area != "Jetty"], folder)
    _jetty_long([v for v in fleet if v.area == "Jetty"], folder)
    _inspections(fleet, folder)
    _relief_devices(fleet, folder)
    _events(folder)
    _plans(folder)
    _findings(folder)


def _put(sheet: Worksheet, row: int, cells: Sequence[Cell], bold: bool = False) -> None:
    for column, value in enumerate(cells, start=1):
        if value is None or value == "":
            continue
        cell = sheet.cell(row, column, value)
        if isinstance(value, date):
            cell.number_format = "yyyy-mm-dd"
        if bold:
            cell.font = BOLD


def _table(sheet: Worksheet, row: int, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> int:
    """Write a header and its rows; return the first free row."""
    _put(sheet, row, header, bold=True)
    for cells in rows:
        row += 1
        _put(sheet, row, cells)
    return row + 1


def _mm(inches: float | None, digits: int = 1) -> float | None:
    return None if inches is None else round(inches * 25.4, digits)


def _bar(psi: float) -> float:
    return round(psi / works.bar(1), 2)


# The vessel register


def _register(fleet: list[Vessel], folder: Folder) -> None:
    book, name = Workbook(), "vessel register.xlsx"
    north = ("Tag No.", "Description", "Service", "Unit area", "In service", "MAWP (psig)", "Design press. (psig)",
             "Design temp. (°F)", "Inside dia. (in)", "Construction code", "Assigned inspector", "PSV")  # fmt: skip
    south = tuple(re.sub(r" \(.*\)", "", heading) for heading in north)
    units = ("", "", "", "", "", "psig", "psig", "°F", "in", "", "", "")
    jetty = tuple(h.replace("psig", "barg").replace("°F", "°C").replace("(in)", "(mm)") for h in north)
    for area, header in (("North", north), ("South", south), ("Jetty", jetty)):
        sheet = book.create_sheet(f"{area} vessels")
        _put(sheet, 1, (f"{works.NAME}: pressure vessels, {area.lower()} area",), bold=True)
        _put(sheet, 2, ("Kept by the inspection office. One row for each vessel.",))
        vessels = [vessel for vessel in fleet if vessel.area == area]
        first = 4 if area != "South" else 5
        _table(sheet, 4, header, [units] * (area == "South") + [_register_row(v, n) for n, v in enumerate(vessels)])
        for row, vessel in enumerate(vessels, start=first + 1):
            if vessel.tag in stories.FLANGE_CLASS_FOR_MAWP:
                text = stories.FLANGE_CLASS_FOR_MAWP[vessel.tag]
                folder.spoil(name, sheet.title, row, 6, text, "a flange class, not a pressure (story 19)")
        _put(sheet, first + len(vessels) + 2, (f"Total vessels: {len(vessels)}",))
    folder.save(book, name)


def _register_row(vessel: Vessel, number: int) -> tuple[Cell, ...]:
    row, si = vessel.row, vessel.area == "Jetty"
    design: Cell = _bar(row.mawp * 0.9) if si else round(row.mawp * 0.9 / 5) * 5
    in_service: Cell = vessel.in_service
    if number % 4 == 3:
        in_service = f"{vessel.in_service:%d-%b-%Y}"
    mawp: Cell = _bar(row.mawp) if si else row.mawp
    if row.tag in stories.FLANGE_CLASS_FOR_MAWP:
        mawp, design = stories.FLANGE_CLASS_FOR_MAWP[row.tag], None
    return (row.tag, row.description, row.service, f"Unit {row.unit}", in_service, mawp, design,
            65 if si else 250, _mm(row.inside_diameter) if si else row.inside_diameter, vessel.edition,
            works.INSPECTORS[vessel.area], vessel.relief_device)  # fmt: skip


# The component registers


def _components(fleet: list[Vessel], folder: Folder) -> None:
    _component_book(fleet, folder, "components north.xlsx", {"North": ("in", "psi")})
    _component_book(fleet, folder, "components south.xlsx", {"South": ("in", "ksi"), "Jetty": ("mm", "MPa")})


class Column(NamedTuple):
    """One column of a component register: heading, unit kind, and how to get its value."""

    heading: str
    unit: str  # length, stress, or the unit itself
    value: Callable[[Component], Cell]


BOTH_EFFICIENCIES = (
    Column("E long.", "", lambda part: part.e_long),
    Column("E circ.", "", lambda part: part.e_circ),
)
ONE_EFFICIENCY = (Column("Joint eff.", "", lambda part: part.e_long),)
COMPONENT_COLUMNS = (
    Column("Component", "", lambda part: part.name),
    Column("Type", "", lambda part: part.spelling),
    Column("Inside dia.", "length", lambda part: part.inside_diameter),
    Column("OD", "length", lambda part: part.outside_diameter),
    Column("Nom. thk", "length", lambda part: part.nominal),
    Column("CA", "length", lambda part: part.allowance),
    Column("Allowable stress", "stress", lambda part: part.stress),
    Column("Matl", "", lambda part: part.material),
    Column("Length", "ft", lambda part: part.length_feet),
    Column("Head depth", "length", lambda part: part.head_depth),
    Column("Crown radius", "length", lambda part: part.crown_radius),
    Column("Knuckle radius", "length", lambda part: part.knuckle_radius),
    Column("Half apex angle", "deg", lambda part: part.half_apex_angle),
    Column("C factor", "", lambda part: part.flat_head_factor),
    Column("SG", "", lambda part: part.specific_gravity),
    Column("Liquid head", "ft", lambda part: part.liquid_feet),
    Column("NPS", "", lambda part: part.pipe_size),
    Column("Attached to", "", lambda part: part.attached_to),
    Column("Loss side", "", lambda part: "inside"),
)


def _component_book(fleet: list[Vessel], folder: Folder, name: str, sheets: dict[str, tuple[str, str]]) -> None:
    book = Workbook()
    for area, (length, stress) in sheets.items():
        sheet = book.create_sheet(f"{area} parts")
        efficiencies = BOTH_EFFICIENCIES if area == "North" else ONE_EFFICIENCY
        columns = (*COMPONENT_COLUMNS[:7], *efficiencies, *COMPONENT_COLUMNS[7:])
        units = [{"length": length, "stress": stress}.get(column.unit, column.unit) for column in columns]
        _put(sheet, 1, (f"{works.NAME}: pressure parts, {area.lower()} area",), bold=True)
        if area == "South":
            header, first = [column.heading for column in columns], 4
            _put(sheet, 4, ("", *units))
        else:
            header = [f"{c.heading} ({u})" if u else c.heading for c, u in zip(columns, units, strict=True)]
            first = 3
        _put(sheet, 3, ("Vessel", *header), bold=True)
        row = first
        for vessel in (vessel for vessel in fleet if vessel.area == area):
            for part in vessel.components:
                row += 1
                cells = [_component_cell(c, u, part) for c, u in zip(columns, units, strict=True)]
                _put(sheet, row, (vessel.tag, *cells))
                _spoil_component(folder, name, sheet, row, vessel, part)
        _put(sheet, row + 2, ("Stresses are those of each vessel's own construction edition.",))
    folder.save(book, name)


def _component_cell(column: Column, unit: str, part: Component) -> Cell:
    value = column.value(part)
    if not isinstance(value, (int, float)):
        return value
    if unit == "mm":
        return _mm(value, 2)
    if unit == "MPa":
        return round(value * 0.006894757293168361, 1)
    if unit == "ksi":
        return value / 1000
    if column.heading == "Nom. thk" and value * 16 % 1 == 0 and part.kind == "cylinder":
        return _fraction(value)
    return value


def _fraction(inches: float) -> Cell:
    """Plate sizes of shells are written as fractions; whole inches stay numbers."""
    whole, sixteenths = divmod(round(inches * 16), 16)
    if not sixteenths:
        return whole
    bottom = 16
    while sixteenths % 2 == 0:
        sixteenths, bottom = sixteenths // 2, bottom // 2
    return f"{whole} {sixteenths}/{bottom}" if whole else f"{sixteenths}/{bottom}"


def _spoil_component(folder: Folder, name: str, sheet: Worksheet, row: int, vessel: Vessel, part: Component) -> None:
    if (vessel.tag, part.name) in stories.UNREADABLE_STRESSES:
        text = stories.UNREADABLE_STRESSES[vessel.tag, part.name]
        sheet.cell(row, 8).value = text
        folder.spoil(name, sheet.title, row, 8, text, "no stress can be read (story 20)")
    if (vessel.tag, part.name) in stories.KIND_SPELLINGS:
        text = stories.KIND_SPELLINGS[vessel.tag, part.name]
        folder.spoil(name, sheet.title, row, 3, text, "not an accepted component kind (story 14)")


# The measuring places


def _locations(fleet: list[Vessel], folder: Folder) -> None:
    book, name = Workbook(), "locations.xlsx"
    for area in works.INSPECTORS:
        unit = "mm" if area == "Jetty" else "in"
        sheet = book.create_sheet(area)
        _put(sheet, 1, (f"Thickness measuring locations, {area.lower()} area",), bold=True)
        _put(sheet, 2, ("Distance is to the toe of the nearest weld; 'weld' or 'away' where nobody taped it.",))
        _put(sheet, 4, ("Tag", "Component", "CML", f"Distance to weld ({unit})", "Head zone", "Description"), bold=True)
        row = 4
        for vessel in (vessel for vessel in fleet if vessel.area == area):
            for part in vessel.components:
                for place in part.locations:
                    row += 1
                    distance: Cell = _mm(place.distance) if unit == "mm" else place.distance
                    rough = stories.ROUGH_WELD_DISTANCES.get((vessel.tag, part.name, place.name))
                    if rough:
                        distance = rough
                        folder.spoil(name, area, row, 4, rough, "an estimate, not a distance")
                    cells = (vessel.tag, part.name, _point_cell(place), distance or place.region, place.zone)
                    _put(sheet, row, (*cells, f"{place.description} side"))
    folder.save(book, name)


def _point_cell(place: Location) -> Cell:
    return int(place.name) if place.name.isdigit() else place.name


# Surveys to 2018, a sheet for each vessel, a column for each date


def _vessel_sheets(vessels: list[Vessel], folder: Folder, name: str) -> None:
    book = Workbook()
    for number, vessel in enumerate(vessels):
        days = [day for day in vessel.surveys if day.year <= 2018]
        if not days:
            continue
        sheet = book.create_sheet(vessel.tag)
        titles = [_date_title(day, number, vessel) for day in days]
        writer = _one_table if vessel.area == "North" else _table_for_each_component
        last = writer(sheet, vessel, days, titles, folder, name)
        _put(sheet, last + 1, ("Notes: * read beside a paint edge. Couplant and block as in the works procedure.",))
    folder.save(book, name)


def _date_title(day: date, number: int, vessel: Vessel) -> Cell:
    """A date the way that year's clerk wrote it."""
    told = {story.tag for story in stories.STORIES}
    if day.year == 2017 and number % 5 == 4 and vessel.tag not in told:
        return f"{day:%B %Y}"
    return (day, day.isoformat(), f"{day:%d-%b-%Y}")[(number + day.year) % 3]


def _label(vessel: Vessel) -> str:
    return "V 105" if vessel.tag == "V-105" else vessel.tag


def _one_table(
    sheet: Worksheet, vessel: Vessel, days: list[date], titles: list[Cell], folder: Folder, name: str
) -> int:
    _put(sheet, 1, (f"Vessel: {_label(vessel)}",), bold=True)
    _put(sheet, 2, ("Units: inches",))
    header = ("Component", "CML", *titles)
    _put(sheet, 4, header, bold=True)
    row = 4
    for number, part in enumerate(vessel.components):
        if number == 3:
            row += 2
            _put(sheet, row, header, bold=True)
        for place in part.locations:
            row += 1
            _put(sheet, row, (part.name, _point_cell(place)))
            _put_readings(sheet, row, 3, place, days, folder, name)
    row += 1
    _put(sheet, row, ("MIN", None, *_minima([p for part in vessel.components for p in part.locations], days)))
    return row + 1


def _table_for_each_component(
    sheet: Worksheet, vessel: Vessel, days: list[date], titles: list[Cell], folder: Folder, name: str
) -> int:
    row = 0
    for part in vessel.components:
        for label in (f"Vessel: {_label(vessel)}", f"Component: {part.name}", "Units: inches"):
            row += 1
            _put(sheet, row, (label,))
        row += 1
        _put(sheet, row, ("Pt. ref", *titles), bold=True)
        for place in part.locations:
            row += 1
            _put(sheet, row, (_point_cell(place),))
            _put_readings(sheet, row, 2, place, days, folder, name)
        row += 1
        _put(sheet, row, ("MIN", *_minima(part.locations, days)))
        row += 1
    return row


def _minima(places: list[Location], days: list[date]) -> Iterator[Cell]:
    for day in days:
        readings = [r for place in places for r in place.readings if r.on == day and not r.trouble]
        yield min((r.inches for r in readings if r.inches is not None), default=None)


def _put_readings(
    sheet: Worksheet, row: int, first: int, place: Location, days: list[date], folder: Folder, name: str
) -> None:
    by_day = {reading.on: reading for reading in place.readings}
    for column, day in enumerate(days, start=first):
        reading = by_day[day]
        cell = sheet.cell(row, column, _written(reading))
        if isinstance(reading.text, date):
            cell.number_format = "d-mmm"
        if reading.trouble:
            folder.spoil(name, sheet.title, row, column, reading.text, reading.trouble)


def _written(reading: Reading) -> Cell:
    if reading.trouble.startswith("about 25.4"):
        return float(str(reading.text))
    return reading.text or reading.inches


def _jetty_sheet(vessels: list[Vessel], folder: Folder) -> None:
    """One table for the whole area: vessel cells merged over their rows, millimetres said in the title."""
    book, name = Workbook(), "jetty surveys to 2017.xlsx"
    sheet = book.create_sheet("Jetty")
    days = sorted({day.replace(day=12) for vessel in vessels for day in vessel.surveys if day.year <= 2017})
    _put(sheet, 1, (f"{works.NAME}, jetty area: wall thickness",), bold=True)
    _put(sheet, 2, ("All dimensions in mm",))
    titles: list[Cell] = [f"{days[0]:%d-%b-%Y}", days[1], days[2].isoformat()]
    _put(sheet, 4, ("Vessel", "Component", "CML", *titles), bold=True)
    row = 4
    for vessel in vessels:
        first = row + 1
        for part in vessel.components:
            for place in part.locations:
                row += 1
                old = [r for r in place.readings if r.on.year <= 2017]
                cells = [r.text if r.inches is None else _mm(r.inches, 2) for r in old]
                _put(sheet, row, (None, part.name, place.name, *cells))
        sheet.cell(first, 1, vessel.tag)
        sheet.merge_cells(start_row=first, end_row=row, start_column=1, end_column=1)
    folder.save(book, name)


# Surveys since 2019, a row for each reading


def _contractor(fleet: list[Vessel], folder: Folder) -> None:
    """The north area's 2021 survey by a contractor, in mm."""
    book, name = Workbook(), "survey contractor 2021.xlsx"
    sheet = book.create_sheet("Readings")
    _put(sheet, 1, ("Ultrasonic wall thickness survey, September 2021",), bold=True)
    _put(sheet, 2, ("Client: inspection office, north area",))
    _put(sheet, 4, ("Equipment No.", "Component", "CML", "Survey date", "Thk [mm]", "Method", "Remarks"), bold=True)
    row = 4
    for vessel in (vessel for vessel in fleet if vessel.area == "North"):
        for part, place, reading in _recent(vessel, {2021}):
            row += 1
            values = (vessel.tag, part.name, place.name, reading.on, _mm(reading.inches, 2), "UT pulse-echo")
            _put(sheet, row, (*values, reading.remark))
    folder.save(book, name)


def _recent(vessel: Vessel, years: set[int]) -> Iterator[tuple[Component, Location, Reading]]:
    for part in vessel.components:
        for place in part.locations:
            for reading in place.readings:
                if reading.on.year in years:
                    yield part, place, reading


def _long_survey(vessels: list[Vessel], folder: Folder) -> None:
    name = "UT results 2019-2026.csv"
    rows: list[tuple[str, ...]] = [
        ("Tag", "Component", "CML", "Date", "Thickness (in)", "Method", "UT tech", "Remarks")
    ]
    for vessel in vessels:
        years = {2025} if vessel.area == "North" else {2019, 2022, 2026}
        for part, place, reading in _recent(vessel, years):
            text = reading.text or f"{reading.inches:.3f}"
            rows.append((vessel.tag, part.name, place.name, reading.on.isoformat(), str(text), "UT",
                         works.INSPECTORS[vessel.area], reading.remark))  # fmt: skip
    for tag, component, location, day, thickness, remark, why in stories.STRAY_ROWS:
        rows.append((tag, component, location, day, thickness, "UT", works.INSPECTORS["South"], remark))
        column, text = (1, "(blank)") if not tag else (4, day) if "/" in day or day > "2026-11" else (5, thickness)
        folder.spoil(name, "", len(rows), column, text, why)
    folder.save_csv(name, rows, ",")


def _jetty_long(vessels: list[Vessel], folder: Folder) -> None:
    rows: list[tuple[str, ...]] = [("Vessel", "Component", "CML", "Date read", "Wall thickness (mm)", "Taken by")]
    for vessel in vessels:
        for part, place, reading in _recent(vessel, {2022, 2026}):
            wall = f"{_mm(reading.inches, 2):.2f}".replace(".", ",")
            day = f"{reading.on:%d-%b-%Y}"
            rows.append((vessel.tag, part.name, place.name, day, wall, works.INSPECTORS["Jetty"]))
    folder.save_csv("jetty UT 2022-2026.csv", rows, ";")


# Inspections, relief devices, events, plans


def _inspections(fleet: list[Vessel], folder: Folder) -> None:
    book, name = Workbook(), "inspections.xlsx"
    sheet = book.create_sheet("Inspection history")
    _put(sheet, 1, (f"{works.NAME}: inspections done",), bold=True)
    header = ("Vessel", "Inspection type", "Date", "Result", "In place of internal")
    rows = [row for number, vessel in enumerate(fleet) for row in _history(vessel, number)]
    after = _table(sheet, 3, header, rows)
    for row, (tag, kind, day, result, why) in enumerate(stories.STRAY_INSPECTIONS, start=after):
        _put(sheet, row, (tag, kind, day, result))
        if why:
            folder.spoil(name, sheet.title, row, 3, day, why)
    folder.save(book, name)


def _history(vessel: Vessel, number: int) -> Iterator[tuple[Cell, ...]]:
    tag, start = vessel.tag, vessel.in_service
    last = stories.LAST_INTERNAL.get(tag, date(*INTERNAL_ROUND[vessel.row.unit]))
    internals = [day for day in (_years_before(last, 18), _years_before(last, 9), last) if day > start]
    last = stories.LAST_EXTERNAL.get(tag, EXTERNAL_ROUND + timedelta(days=number % 24))
    externals = [day for day in (_years_before(last, years) for years in (20, 15, 10, 5, 0)) if day > start]
    if vessel.row.pace > 1 and tag not in stories.LAST_EXTERNAL:
        externals.append(WATCHED_SINCE + timedelta(days=number % 24))
    for day in internals:
        yield tag, "internal", day, "general corrosion, no repair" if vessel.row.pace > 1 else "no findings"
    for day in externals:
        yield tag, "External", day, "paint and supports in order"
    if tag in stories.ON_STREAM:
        yield tag, "on-stream", stories.ON_STREAM[tag], "conditions checked and recorded", "yes"


def _years_before(day: date, years: int) -> date:
    return day.replace(year=day.year - years)


def _relief_devices(fleet: list[Vessel], folder: Folder) -> None:
    book, name = Workbook(), "relief devices.xlsx"
    sheet = book.create_sheet("PSV list")
    _put(sheet, 1, ("Relief devices and their last bench test",), bold=True)
    header = ("Asset", "Device", "Set pressure (psig)", "Interval (yr)", "Last tested", "Clean service")
    _table(sheet, 3, header, [_relief_row(vessel, number) for number, vessel in enumerate(fleet)])
    for row, vessel in enumerate(fleet, start=4):
        if vessel.tag in stories.FLANGE_CLASS_FOR_SET_PRESSURE:
            text = stories.FLANGE_CLASS_FOR_SET_PRESSURE[vessel.tag]
            folder.spoil(name, sheet.title, row, 3, text, "a flange class, not a pressure")
    folder.save(book, name)


def _relief_row(vessel: Vessel, number: int) -> tuple[Cell, ...]:
    usual = (date(2025, 2, 4) + timedelta(days=7 * number), 5, False)
    tested, years, clean = stories.RELIEF.get(vessel.tag, usual)
    pressure: Cell = int(vessel.row.mawp * 10 + 1e-6) / 10  # cut, never set above the MAWP by rounding
    if vessel.tag in {*stories.FLANGE_CLASS_FOR_SET_PRESSURE, *stories.FLANGE_CLASS_FOR_MAWP}:
        pressure = stories.FLANGE_CLASS_FOR_SET_PRESSURE.get(vessel.tag)
    return vessel.tag, vessel.relief_device, pressure, years, tested, "yes" if clean else "no"


def _events(folder: Folder) -> None:
    book = Workbook()
    sheet = book.create_sheet("Events")
    _put(sheet, 1, ("Repairs, replacements and changes",), bold=True)
    _table(sheet, 3, ("Asset", "Component", "Event date", "Event", "New thickness (in)"), stories.EVENTS)
    folder.save(book, "events.xlsx")


def _plans(folder: Folder) -> None:
    book = Workbook()
    sheet = book.create_sheet("Turnarounds")
    _table(sheet, 1, ("Turnaround", "Start", "End"), works.TURNAROUNDS)
    sheet = book.create_sheet("Deferrals")
    _put(sheet, 1, ("Deferral log",), bold=True)
    header = ("Asset", "Kind of inspection", "Due", "Deferred until", "Reason", "Approved by", "Approved on")
    rows = [(d.tag, d.kind, d.due, d.until, d.reason, works.MANAGER, d.approved_on) for d in stories.DEFERRALS]
    _table(sheet, 3, header, rows)
    sheet = book.create_sheet("Set intervals")
    set_header = ("Asset", "Kind of inspection", "Interval (years)", "Assessment", "Approved by", "Approved on")
    set_rows = [(tag, kind, years, why, works.MANAGER, day) for tag, kind, years, why, day in stories.SET_INTERVALS]
    _table(sheet, 1, set_header, set_rows)
    folder.save(book, "turnarounds and deferrals.xlsx")


def _findings(folder: Folder) -> None:
    """What the last inspections found: a corroded area read as a grid, pits, and what was recommended."""
    area, book = stories.CORRODED_AREA, Workbook()
    sheet = book.create_sheet("Area scan")
    header = ("Vessel", "Component", "Patch", "Measured on", "Axial (in)", "Circ (in)", "Thickness (in)")
    rows = [
        (area.tag, area.component, area.name, area.on, axial, around, inches)
        for around, line in zip(area.circumferential, area.inches, strict=True)
        for axial, inches in zip(area.axial, line, strict=True)
    ]
    _table(sheet, 1, header, rows)
    sheet = book.create_sheet("Pits")
    header = ("Vessel", "Component", "Patch", "Measured on", "Axial (in)", "Circ (in)", "Pit depth (in)", "Width (in)")
    _table(sheet, 1, header, [(area.tag, area.component, "P1", area.on, *pit) for pit in stories.PITS])
    sheet = book.create_sheet("Recommendations")
    header = ("Asset", "Component", "Recommendation", "Raised on", "Due by")
    _table(sheet, 1, header, stories.RECOMMENDATIONS)
    folder.save(book, "findings 2025-2026.xlsx")
