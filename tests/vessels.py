"""Small vessels for tests by hand: rows collected under SI headings into one folder, built and asked.

Unless a test says otherwise a vessel is in service since 2004-01-01, its wall was 16 mm, and a structural minimum of
10 mm sets the required thickness (pressure alone would ask for 0.5 x 516/150.2 = 1.72 mm). Dates on 1 January of leap
years lie exactly 4 years of 365.25 days apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb

from pipeline.run import build
from tests.plants import write_plant

Y04, Y08, Y12, Y16, Y20 = (date(year, 1, 1) for year in (2004, 2008, 2012, 2016, 2020))
AS_OF = date(2020, 6, 1)
Points = Sequence[tuple[date, float]]
Row = dict[str, Any]

HEADINGS: dict[str, tuple[str, ...]] = {
    "register": (
        "Asset",
        "Service",
        "In service",
        "MAWP (MPa)",
        "Inside diameter (mm)",
        "Continuous service",
        "Fraction in operation",
        "Idle protection",
        "Status",
        "Status since",
    ),
    "parts": (
        "Asset",
        "Component",
        "Kind",
        "Material",
        "Nominal thickness (mm)",
        "Allowable stress (MPa)",
        "Joint efficiency",
        "Structural minimum (mm)",
        "Stated corrosion rate (mm/year)",
    ),
    "places": ("Asset", "Component", "Location", "Distance to weld (mm)"),
    "survey": ("Asset", "Component", "Location", "Date", "Thickness (mm)"),
    "visits": ("Asset", "Kind", "Date", "Result"),
    "events": ("Asset", "Component", "Date", "Event", "New thickness (mm)"),
    "devices": ("Asset", "Device", "Set pressure (MPa)", "Interval (years)", "Last tested"),
    "deferrals": ("Asset", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"),
    "turnarounds": ("Name", "Start", "End"),
    "choices": (
        "Asset",
        "Component",
        "Location",
        "Rate choice",
        "Chosen rate (mm/year)",
        "Reason",
        "Chosen by",
        "Chosen on",
    ),
    "advice": ("Asset", "Component", "Recommendation", "Raised on", "Due", "Closed on", "Evidence"),
}


class Plant:
    """Vessels collected into one folder."""

    def __init__(self) -> None:
        self.rows: dict[str, list[tuple]] = {name: [] for name in HEADINGS}

    def add(self, sheet: str, *cells: Any) -> None:
        assert len(cells) == len(HEADINGS[sheet]), (sheet, cells)
        self.rows[sheet].append(cells)

    def vessel(
        self,
        name: str,
        points: Points = (),
        *,
        service: str | None = "Process gas",
        since: date | None = Y04,
        P: float = 0.5,
        D: float = 1000,
        continuous: str | None = None,
        fraction: float | None = None,
        protection: str | None = None,
        status: str | None = None,
        status_since: date | None = None,
        inspected: date | None = date(2019, 1, 1),
        **part: Any,
    ) -> None:
        """A vessel with a shell; with `points`, readings of the shell's location 1."""
        self.add("register", name, service, since, P, D, continuous, fraction, protection, status, status_since)
        if inspected is not None:
            self.add("visits", name, "internal", inspected, "sound")
            self.add("visits", name, "external", inspected, "sound")
        self.part(name, "Shell", points, **part)

    def part(
        self,
        name: str,
        component: str,
        points: Points = (),
        location: str = "1",
        *,
        nominal: float | None = 16.0,
        structural: float | None = 10.0,
        S: float = 150,
        E: float = 1.0,
        stated: float | None = None,
        material: str | None = None,
    ) -> None:
        self.add("parts", name, component, "cylinder", material, nominal, S, E, structural, stated)
        self.place(name, component, points, location)

    def place(self, name: str, component: str, points: Points, location: str) -> None:
        for day, thickness in points:
            self.add("survey", name, component, location, day, thickness)

    def write(self, folder: Path, basis: str = "") -> Path:
        sheets = {name: [HEADINGS[name], *rows] for name, rows in self.rows.items() if rows}
        return write_plant(folder, basis=basis, **sheets)


def opened(folder: Path, as_of: date = AS_OF) -> duckdb.DuckDBPyConnection:
    """Build the folder and open its results."""
    return duckdb.connect(str(build(folder, as_of=as_of).database.resolve()), read_only=True)


def rows(connection: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> list[Row]:
    cursor = connection.execute(sql, list(values))
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def place_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell", location: str = "1") -> Row:
    (row,) = rows(
        connection,
        "SELECT * FROM result.location WHERE asset = ? AND component = ? AND location = ?",
        asset,
        component,
        location,
    )
    return row


def due_of(connection: duckdb.DuckDBPyConnection, asset: str, kind: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.due_date WHERE asset = ? AND kind = ?", asset, kind)
    return row


def asset_of(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM result.asset WHERE asset = ?", asset)
    return row


def ledger_of(connection: duckdb.DuckDBPyConnection, *words: str) -> list[Row]:
    """Return the ledger's lines whose reason or effect holds every word."""
    return [
        row
        for row in rows(connection, "SELECT * FROM result.ledger")
        if all(word in f"{row['reason']} | {row['effect']}" for word in words)
    ]


def after(day: date, days: int) -> date:
    return day + timedelta(days=days)
