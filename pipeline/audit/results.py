"""The published results as the audit workbook needs them, read once, and the source cell of each input."""

from __future__ import annotations

from datetime import date
from typing import Any

import duckdb

from pipeline.explain import Origin

Row = dict[str, Any]
#: First row of data on `Inputs` and `Calculation`; the rows above are headings.
FIRST_ROW = 9


# One row per component: each table's row as a struct. Without a place the weld region of the general zone is shown.
_COMPONENTS = """
SELECT part, place, vessel, shape, pressed_weld, pressed_away, required_weld, required_away, held, cap, needed, whole,
    external, thin_head
FROM result.component AS whole
JOIN step.component AS part ON part.asset = whole.asset AND part.component = whole.component
JOIN step.shape AS shape ON shape.asset = whole.asset AND shape.component = whole.component
LEFT JOIN step.asset AS vessel ON vessel.asset = whole.asset
LEFT JOIN step.external_pressure AS external
    ON external.asset = whole.asset AND external.component = whole.component
LEFT JOIN step.thin_head AS thin_head ON thin_head.asset = whole.asset AND thin_head.component = whole.component
LEFT JOIN step.cap AS cap ON cap.asset = whole.asset AND cap.kind = 'thickness'
LEFT JOIN result.location AS place
    ON place.asset = whole.asset AND place.component = whole.component AND place.location = whole.governing_location
LEFT JOIN step.place_required AS needed
    ON needed.asset = place.asset AND needed.component = place.component AND needed.location = place.location
LEFT JOIN step.pressure_held AS held
    ON held.asset = place.asset AND held.component = place.component AND held.location = place.location
CROSS JOIN basis.in_force AS policy
LEFT JOIN step.pressure_thickness AS pressed_weld
    ON pressed_weld.asset = whole.asset AND pressed_weld.component = whole.component
    AND pressed_weld.zone = coalesce(place.zone, 'general')
    AND pressed_weld.region = 'weld' AND pressed_weld.radius_basis = policy.radius_basis
LEFT JOIN step.pressure_thickness AS pressed_away
    ON pressed_away.asset = whole.asset AND pressed_away.component = whole.component
    AND pressed_away.zone = coalesce(place.zone, 'general')
    AND pressed_away.region = 'away' AND pressed_away.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_weld
    ON required_weld.asset = whole.asset AND required_weld.component = whole.component
    AND required_weld.zone = coalesce(place.zone, 'general')
    AND required_weld.region = 'weld' AND required_weld.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_away
    ON required_away.asset = whole.asset AND required_away.component = whole.component
    AND required_away.zone = coalesce(place.zone, 'general')
    AND required_away.region = 'away' AND required_away.radius_basis = policy.radius_basis
ORDER BY whole.asset, whole.component
"""

_READINGS = """
SELECT reading.*
FROM result.reading AS reading
SEMI JOIN result.component AS whole
    ON reading.asset = whole.asset
    AND reading.component = whole.component
    AND reading.location = whole.governing_location
ORDER BY reading.asset, reading.component, reading.location, reading.read_on, reading.file, reading.sheet, reading.cell
"""


class Results:
    """The published results, read once, and where each of their inputs stood."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self.connection = connection
        stamp = self.rows("SELECT as_of, program, basis_sha256, units FROM result.build")[0]
        self.as_of: date = stamp["as_of"]
        self.program: str = stamp["program"]
        self.basis_sha256: str = stamp["basis_sha256"]
        self.system: str = stamp["units"]
        self.policies = self.rows("SELECT * FROM basis.policy")
        self.policy = self.rows("SELECT * FROM basis.in_force")[0]
        self.components = self.rows(_COMPONENTS)
        self.readings = self.rows(_READINGS)
        self.cells = {
            (row["kind"], row["asset"], row["component"], row["location"], row["field"]): _origin(row)
            for row in self.rows(
                "SELECT kind, asset, component, location, field, text, unit, file, sheet, cell FROM step.field "
                "WHERE kind IN ('assets', 'components') OR field = 'distance_to_weld'"
            )
        }
        self.reading_cells = {
            (row["asset"], row["component"], row["location"], row["read_on"]): _origin(row)
            for row in self.readings
            if row["status"] == "used"
        }
        self.event_cells = {
            (row["asset"], row["component"], row["event_on"]): _origin({**row, "text": row["event"], "unit": None})
            for row in self.rows("SELECT * FROM step.event WHERE new_thickness_mm IS NOT NULL")
        }
        #: Where each component stands on `Inputs` and `Calculation`.
        self.at = {
            (row["whole"]["asset"], row["whole"]["component"]): place
            for place, row in enumerate(self.components, start=FIRST_ROW)
        }
        self.walls: dict[str, list[Row]] = {}
        for row in self.components:
            if row["pressed_away"] and row["part"]["kind"] not in (None, "nozzle", "flat head"):
                self.walls.setdefault(row["part"]["asset"], []).append(row)

    @property
    def footer(self) -> str:
        """What the foot of every page says of the build."""
        return f"as of {self.as_of}, hoopline {self.program}"

    def rows(self, sql: str) -> list[Row]:
        """Return the rows of a query by column name."""
        cursor = self.connection.execute(sql)
        names = [column[0] for column in cursor.description or []]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _origin(row: Row) -> Origin:
    text, unit = row["text"] or "", row["unit"]
    said = f"{text} {unit}" if unit and unit != "-" and unit not in text else text
    return Origin("", row["file"] or "", row["sheet"] or "", row["cell"] or "", said)


class _Blank(dict[str, Any]):
    """A row that is not there: every column of it is unknown."""

    def __missing__(self, key: str) -> None:
        return None


def or_blank(row: Row | None) -> Row:
    return row if row is not None else _Blank()
