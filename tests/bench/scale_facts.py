"""Fleets of any size as facts: one unit of a site written and read in earnest, then multiplied.

Writing spreadsheets of 50,000,000 readings would take hours, and reading them is measured elsewhere (`intake`). So one
unit of a site is written as csv sheets and taken through the real intake once; further units are the same facts under
other tags, file names and cells' texts, every reading shifted by up to some hundredths of a millimetre, so that not
all units are alike. What comes out is what the intake would have said of such sheets. The same size gives the same
facts.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from pipeline.basis import default_basis
from pipeline.folder import read_folder
from pipeline.run import store_facts
from pipeline.sheets import read_files
from pipeline.sheets.intake import SCHEMAS
from tests.bench.fleets import AS_OF, write_plant

#: Of a vessel: four components, twenty-five places a component, about ten readings a place.
SHAPE: dict[str, Any] = {"components": 4, "places": 25, "readings": 14.5, "spacing": (0.5, 1.75)}
A_VESSEL = 1_000
#: Vessels that are written as sheets and read; larger fleets repeat them.
WRITTEN = 500
#: A reading of a further unit differs by up to so many of the last decimals of its sheet.
_MOST_SHIFT = 12


@dataclass(frozen=True)
class Facts:
    """A file of facts and what it holds."""

    path: Path
    vessels: int
    components: int
    places: int
    readings: int


def make_facts(
    path: Path, readings: int, work: Path, options: Mapping[str, Any] | None = None, written: int = WRITTEN
) -> Facts:
    """Make a file of facts of about so many readings, unless it is there already, and say what it holds.

    `work` is a folder that keeps the facts of the unit that is written and read, which has at most so many vessels;
    `options` are fields of `tests.fleets.Fleet`, for the fleet without the rules that pandas leaves out.
    """
    if not path.exists():
        vessels = max(1, round(readings / A_VESSEL))
        unit = min(written, vessels)
        base = work / f"unit_of_{unit}{'' if options is None else '_plain'}.duckdb"
        if not base.exists():
            with tempfile.TemporaryDirectory(dir=work) as sheets:
                _read_unit(base, unit, Path(sheets), options or {})
        making = path.with_suffix(".making")
        making.unlink(missing_ok=True)
        _multiply(base, making, max(1, round(vessels / unit)))
        os.replace(making, path)
    return _held(path)


def _read_unit(base: Path, vessels: int, sheets: Path, options: Mapping[str, Any]) -> None:
    """Write one unit as sheets and read it by the intake that reads every plant."""
    write_plant(sheets, vessels, **{**SHAPE, **options})
    found = read_folder(sheets)
    intake = read_files([(source.file, source.content) for source in found.sources], default_basis(), AS_OF)
    making = base.with_suffix(".making")
    making.unlink(missing_ok=True)
    with duckdb.connect(str(making)) as connection:
        connection.execute("CREATE SCHEMA fact")
        store_facts(connection, intake, "fact.")
    os.replace(making, base)


def _multiply(base: Path, path: Path, units: int) -> None:
    with duckdb.connect(str(path)) as connection:
        connection.execute("SET threads = 2; SET memory_limit = '4GB'; SET preserve_insertion_order = false")
        quoted = str(base).replace("'", "''")
        connection.execute(f"ATTACH '{quoted}' AS unit (READ_ONLY)")
        connection.execute("CREATE SCHEMA fact")
        for table, schema in SCHEMAS.items():
            columns = ", ".join(_COLUMNS.get((table, name), _ANY.get(name, f'"{name}"')) for name in schema.names)
            names = ", ".join(f'"{name}"' for name in schema.names)
            # A unit at a time: its rows lie together, as those of a file do, and no unit is held in memory whole.
            connection.execute(f"CREATE TABLE fact.{table} AS SELECT {names} FROM unit.fact.{table} LIMIT 0")
            where = _ONLY_ONCE.get(table, "true")
            for number in range(units):
                connection.execute(
                    f"INSERT INTO fact.{table} ({names}) WITH number AS (SELECT {number} AS unit_no) "
                    f"SELECT {columns} FROM {_FROM.get(table, f'unit.fact.{table}')} CROSS JOIN number WHERE {where}"
                )
        connection.execute("DETACH unit")


#: Columns that tell one unit from another, in whichever table they are.
_ANY = {
    "asset": "printf('U%03d-', unit_no) || asset AS asset",
    "file": "printf('site %03d/', unit_no) || file AS file",
}
# Shifts of -12 to 12 in the last decimal of the sheet (3 for mm, 4 for in); 7919 and 104729 are primes, so that neither
# the readings of a place nor the same reading of all units move together.
_SHIFTED = """(
    SELECT
        reading.*,
        CASE unit WHEN 'in' THEN 25.4 ELSE 1.0 END AS factor,
        CASE unit WHEN 'in' THEN 4 ELSE 3 END AS decimals
    FROM unit.fact.reading AS reading
)"""
_VALUE = (
    "round(thickness_mm / factor, decimals) + CASE WHEN unit_no = 0 THEN 0 ELSE "
    f"((record % 1000000 * 7919 + unit_no * 104729) % {2 * _MOST_SHIFT + 1} - {_MOST_SHIFT}) "
    "* CASE WHEN decimals = 4 THEN 0.0001 ELSE 0.001 END END"
)
_WRITTEN = f"round(greatest({_VALUE}, 0.001), decimals)"
_FROM = {"reading": _SHIFTED}
_COLUMNS = {
    ("reading", "thickness_mm"): f"{_WRITTEN} * factor AS thickness_mm",
    ("reading", "text"): f"{_WRITTEN}::VARCHAR AS text",
    # A device is known by its own tag.
    ("field", "word"): "CASE WHEN field IN ('device', 'relief_device') THEN printf('U%03d-', unit_no) || word "
    "ELSE word END AS word",
    ("source", "sha256"): "sha256(sha256 || unit_no) AS sha256",
}
#: A site has one list of turnarounds.
_ONLY_ONCE = {"field": "kind <> 'turnarounds' OR unit_no = 0"}


def _held(path: Path) -> Facts:
    with duckdb.connect(str(path), read_only=True) as connection:
        [(vessels, components, places)] = connection.execute(
            "SELECT count(DISTINCT asset) FILTER (kind = 'assets'), "
            "count(DISTINCT (asset, component)) FILTER (kind = 'components'), "
            "count(DISTINCT (asset, component, location)) FILTER (kind = 'locations') FROM fact.field"
        ).fetchall()
        [(readings,)] = connection.execute("SELECT count(*) FROM fact.reading").fetchall()
    return Facts(path, vessels, components, places, readings)
