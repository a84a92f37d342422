"""The published results as the audit workbook needs them: read once, in the order of assets, a part at a time.

A fleet's results do not fit into memory as Python objects. What belongs to one asset is read together: each query is
asked once for the whole fleet in the order of assets, and all of them are walked in step.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

import duckdb

from pipeline.errors import Problem
from pipeline.explain import Origin

Row = dict[str, Any]
#: First row of data on `Inputs` and `Calculation`; the rows above are headings.
FIRST_ROW = 9
_AT_ONCE = 2_000

#: Every place of a calculation: one of a component, its governing place, or all of them.
_LISTED = """
SELECT whole.asset, whole.component, place.location, coalesce(place.zone, 'general') AS zone,
    place.location IS NOT DISTINCT FROM whole.governing_location AS governs,
    row_number() OVER (ORDER BY whole.asset, whole.component, place.location) + {above} AS row_at
FROM result.component AS whole
LEFT JOIN result.location AS place
    ON place.asset = whole.asset AND place.component = whole.component
    AND ({all_places} OR place.location = whole.governing_location)
WHERE {chosen}
"""

_PRESSED = (
    "kind zone radius_basis dimension_form inside_radius_mm outside_radius_mm inside_diameter_mm outside_diameter_mm "
    "crown_radius_mm outside_crown_radius_mm flat_head_diameter_mm longitudinal_formula longitudinal_thickness_mm "
    "circumferential_formula circumferential_thickness_mm plain_formula plain_thickness_mm pressure_formula "
    "pressure_thickness_mm"
)
_REQUIRED = (
    "parent_thickness_mm parent_component standard_wall_mm neck_formula neck_minimum_mm structural_minimum_mm "
    "external_thickness_mm external_from required_formula t_req_mm not_required_because"
)
_CAP = "cap_years cap_from file sheet cell"
#: The columns of each table that a calculation reads: a fleet's results are wide, and few of them go into a formula.
_READ = {
    "part": (
        "asset kind is_two_to_one loss_side loss_side_stated diameter_from inside_diameter_stated_mm "
        "outside_diameter_stated_mm nominal_thickness_mm nominal_from corrosion_allowance_mm allowable_stress_mpa "
        "efficiency_longitudinal efficiency_circumferential efficiency_assumed head_depth_mm crown_radius_as_built_mm "
        "knuckle_radius_mm half_apex_angle_deg flat_head_factor specific_gravity liquid_head_mm external_pressure_mpa "
        "elastic_modulus_mpa yield_strength_mpa unsupported_from stated_rate_mm_per_year attached_to"
    ),
    "place": (
        "location state t_act_mm read_on t_req_mm governing_case weld_region region_counted distance_to_weld_mm "
        "weld_region_half_width_mm zone margin reading_count initial_on t_initial_mm initial_from previous_on "
        "t_previous_mm days_long days_short years_long years_short rate_lt_mm_per_year rate_st_mm_per_year "
        "short_term_counts rate_fit_mm_per_year rate_fit_error_mm_per_year rate_fit_upper_mm_per_year t_quantile "
        "sum_days_squared sum_days_thickness sum_thickness_squared stated_rate_mm_per_year rate_selected_mm_per_year "
        "rate_from rate_chosen_by rate_chosen_on rate_choice_reason rate_mm_per_year remaining_life_years "
        "no_measurable_loss retirement_on cap_years interval_years internal_interval_years due_on first_check_on "
        "internal_due_on t_next_mm mawp_mpa mawp_next_mpa missing"
    ),
    "vessel": "service in_service_on rating_pressure_mpa rating_from",
    "shape": (
        "static_head_mpa head_considered pressure_mpa outside_diameter_mm inside_diameter_as_built_mm "
        "inside_radius_as_built_mm head_depth_mm proportion proportion_below proportion_above spherical_factor_below "
        "spherical_factor_above spherical_factor ellipsoidal_factor torispherical_factor code_minimum_for"
    ),
    "pressed_weld": _PRESSED,
    "pressed_away": _PRESSED,
    "required_weld": _REQUIRED,
    "required_away": _REQUIRED,
    "held": (
        "hold_formula longitudinal_formula circumferential_formula plain_hold_formula plain_holding_pressure_mpa "
        "thin_head_allowed_mpa holding_pressure_longitudinal_mpa holding_pressure_circumferential_mpa "
        "holding_pressure_mpa mawp_mpa mawp_next_mpa next_hold_formula next_longitudinal_formula "
        "next_circumferential_formula next_plain_hold_formula next_plain_holding_pressure_mpa "
        "next_thin_head_allowed_mpa next_holding_pressure_longitudinal_mpa "
        "next_holding_pressure_circumferential_mpa next_holding_pressure_mpa"
    ),
    "cap": _CAP,
    "internal_cap": _CAP,
    "needed": "region_stated",
    "whole": "asset component kind kind_text state retirement_on due_on mawp_mpa mawp_next_mpa missing",
    "external": (
        "buckling_form external_pressure_mpa buckling_radius_mm unsupported_length_mm external_thickness_mm "
        "buckling_length buckling_factor elastic_buckling_stress_mpa predicted_buckling_stress_mpa "
        "external_design_factor external_allowed_mpa"
    ),
    "thin_head": (
        "inside_diameter_as_built_mm equivalent_crown_radius_mm equivalent_outside_crown_radius_mm "
        "equivalent_knuckle_radius_mm elastic_modulus_mpa yield_strength_mpa knuckle_factor_1 knuckle_factor_2 "
        "knuckle_cosine knuckle_thickness_mm"
    ),
    "begun": "service_from_on wall_since_on",
}


def _struct(table: str, columns: str) -> str:
    packed = ", ".join(f"{column} := {table}.{column}" for column in columns.split())
    return f"CASE WHEN {table}.asset IS NOT NULL THEN struct_pack({packed}) END AS {table}"


# Each table's row as a struct. Without a place the weld region of the general zone is shown.
_CALCULATIONS = """
SELECT listed.asset, listed.row_at, listed.governs, {structs}
FROM ({listed}) AS listed
JOIN result.component AS whole ON whole.asset = listed.asset AND whole.component = listed.component
JOIN step.component AS part ON part.asset = listed.asset AND part.component = listed.component
JOIN step.shape AS shape ON shape.asset = listed.asset AND shape.component = listed.component
LEFT JOIN step.asset AS vessel ON vessel.asset = listed.asset
LEFT JOIN step.external_pressure AS external
    ON external.asset = listed.asset AND external.component = listed.component
LEFT JOIN step.thin_head AS thin_head ON thin_head.asset = listed.asset AND thin_head.component = listed.component
LEFT JOIN step.cap AS cap ON cap.asset = listed.asset AND cap.kind = 'thickness'
LEFT JOIN step.cap AS internal_cap ON internal_cap.asset = listed.asset AND internal_cap.kind = 'internal'
LEFT JOIN step.life AS begun
    ON begun.asset = listed.asset AND begun.component = listed.component AND begun.location = listed.location
    AND begun.scenario = 'in force'
LEFT JOIN result.location AS place
    ON place.asset = listed.asset AND place.component = listed.component AND place.location = listed.location
LEFT JOIN step.place_required AS needed
    ON needed.asset = listed.asset AND needed.component = listed.component AND needed.location = listed.location
LEFT JOIN step.pressure_held AS held
    ON held.asset = listed.asset AND held.component = listed.component AND held.location = listed.location
CROSS JOIN basis.in_force AS policy
LEFT JOIN step.pressure_thickness AS pressed_weld
    ON pressed_weld.asset = listed.asset AND pressed_weld.component = listed.component
    AND pressed_weld.zone = listed.zone AND pressed_weld.region = 'weld'
    AND pressed_weld.radius_basis = policy.radius_basis
LEFT JOIN step.pressure_thickness AS pressed_away
    ON pressed_away.asset = listed.asset AND pressed_away.component = listed.component
    AND pressed_away.zone = listed.zone AND pressed_away.region = 'away'
    AND pressed_away.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_weld
    ON required_weld.asset = listed.asset AND required_weld.component = listed.component
    AND required_weld.zone = listed.zone AND required_weld.region = 'weld'
    AND required_weld.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_away
    ON required_away.asset = listed.asset AND required_away.component = listed.component
    AND required_away.zone = listed.zone AND required_away.region = 'away'
    AND required_away.radius_basis = policy.radius_basis
ORDER BY listed.row_at
"""

_STRUCTS = ", ".join(_struct(table, columns) for table, columns in _READ.items())

#: The text of a cell with its unit, unless the cell itself names it.
_SAID = "CASE WHEN unit <> '-' AND NOT contains(text, unit) THEN text || ' ' || unit ELSE coalesce(text, '') END"

_FIELDS = f"""
SELECT asset, kind, component, location, field, {_SAID} AS said, file, sheet, cell
FROM step.field AS field
WHERE (kind IN ('assets', 'components') OR field = 'distance_to_weld') AND {{chosen}}
ORDER BY asset
"""

#: The readings from which the dates and thicknesses of a listed place come.
_USED = f"""
SELECT reading.asset, reading.component, reading.location, reading.read_on, {_SAID} AS said, reading.file,
    reading.sheet, reading.cell
FROM ({{listed}}) AS listed
JOIN result.location AS place
    ON place.asset = listed.asset AND place.component = listed.component AND place.location = listed.location
JOIN result.reading AS reading
    ON reading.asset = place.asset AND reading.component = place.component AND reading.location = place.location
    AND reading.read_on IN (place.read_on, place.previous_on, place.initial_on)
WHERE reading.status = 'used'
ORDER BY reading.asset
"""

_EVENTS = """
SELECT asset, component, event_on, event, file, sheet, cell
FROM step.event AS event
WHERE (new_thickness_mm IS NOT NULL OR starts_epoch) AND {chosen}
ORDER BY asset
"""

#: Of several thicknesses stated for one day the thickest wall counts, on the safe side.
_NEW_THICKNESSES = f"""
SELECT asset, component, event_on, {_SAID} AS said, thickness_file AS file, thickness_sheet AS sheet,
    thickness_cell AS cell
FROM (SELECT *, thickness_text AS text, thickness_unit AS unit FROM step.event) AS event
WHERE new_thickness_mm IS NOT NULL AND starts_epoch AND {{chosen}}
QUALIFY row_number() OVER (PARTITION BY asset, component, event_on ORDER BY new_thickness_mm DESC, event) = 1
ORDER BY asset
"""

_WALLS = """
SELECT listed.asset, listed.component, arg_min(listed.row_at, (listed.zone <> 'general', listed.row_at)) AS row_at,
    bool_or(listed.zone = 'general') AS is_general
FROM ({listed}) AS listed
JOIN step.component AS part ON part.asset = listed.asset AND part.component = listed.component
CROSS JOIN basis.in_force AS policy
SEMI JOIN step.pressure_thickness AS pressed
    ON pressed.asset = listed.asset AND pressed.component = listed.component AND pressed.zone = listed.zone
    AND pressed.region = 'away' AND pressed.radius_basis = policy.radius_basis
WHERE part.kind NOT IN ('nozzle', 'flat head')
GROUP BY listed.asset, listed.component
ORDER BY row_at
"""


@dataclass
class Sources:
    """The source cells of one asset: of its register, of the readings its places rest on, of its events."""

    fields: dict[tuple[Any, ...], Origin] = field(default_factory=dict)
    readings: dict[tuple[Any, ...], Origin] = field(default_factory=dict)
    events: dict[tuple[Any, ...], Origin] = field(default_factory=dict)
    new_thicknesses: dict[tuple[Any, ...], Origin] = field(default_factory=dict)


class Results:
    """The published results of all assets or of some, with every place of a component or the governing one."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, assets: Sequence[str] = (), all_places: bool = False
    ) -> None:
        self.connection = connection
        self.assets = tuple(dict.fromkeys(assets))
        self.all_places = all_places
        stamp = self.rows("SELECT * FROM result.build")[0]
        self.as_of: date = stamp["as_of"]
        self.program: str = stamp["program"]
        self.basis_sha256: str = stamp["basis_sha256"]
        self.system: str = stamp["units"]
        self.known_at = stamp["known_at"]
        self.policies = self.rows("SELECT * FROM basis.policy")
        self.policy = self.rows("SELECT * FROM basis.in_force")[0]
        self._refuse_unknown()

    def _refuse_unknown(self) -> None:
        known = {row["asset"] for row in self.rows("SELECT asset FROM result.asset")}
        for asset in self.assets:
            if asset not in known:
                near = [tag for tag in sorted(known) if tag.casefold().replace(" ", "") == asset.casefold()][:1]
                hint = f"did you mean {near[0]}?" if near else "'hoopline rank' lists them"
                raise Problem(f"there is no asset {asset} in the results; {hint}")

    @property
    def footer(self) -> str:
        """What the foot of every page says of the build."""
        return f"as of {self.as_of}, hoopline {self.program}"

    @property
    def chosen(self) -> str:
        """The condition that a query's column `asset` is one of the assets asked for; true where all are."""
        return self.chosen_of("")

    def chosen_of(self, table: str) -> str:
        """Return the same for the column `asset` of a table of the query."""
        if not self.assets:
            return "true"
        tags = ", ".join("'" + asset.replace("'", "''") + "'" for asset in self.assets)
        return f"{table}.asset IN ({tags})" if table else f"asset IN ({tags})"

    @property
    def listed(self) -> str:
        """The query of the places of `Inputs` and `Calculation` with the row in which each stands."""
        return _LISTED.format(
            above=FIRST_ROW - 1, all_places=str(self.all_places).lower(), chosen=self.chosen_of("whole")
        )

    def rows(self, sql: str) -> list[Row]:
        """Return the rows of a query by column name."""
        return list(self.walk(sql))

    def walk(self, sql: str) -> Iterator[Row]:
        """Yield the rows of a query by column name, without holding them all."""
        cursor = self.connection.cursor().execute(sql)
        names = [column[0] for column in cursor.description or []]
        while some := cursor.fetchmany(_AT_ONCE):
            for row in some:
                yield dict(zip(names, row, strict=True))

    @cached_property
    def count(self) -> int:
        """How many rows `Inputs` and `Calculation` have."""
        return int(self.rows(f"SELECT count(*) AS n FROM ({self.listed})")[0]["n"])

    @cached_property
    def asset_count(self) -> int:
        """How many assets the workbook is about."""
        return int(self.rows(f"SELECT count(*) AS n FROM result.asset WHERE {self.chosen}")[0]["n"])

    @cached_property
    def has_external(self) -> bool:
        """Whether a thickness for external pressure was worked out for any of the components."""
        return bool(self.rows(f"SELECT 1 FROM step.external_pressure WHERE {self.chosen} LIMIT 1"))

    @cached_property
    def has_thin(self) -> bool:
        """Whether any of the components is a formed head thinner than 0.002 of its crown radius, or may become one."""
        return bool(
            self.rows(
                f"SELECT 1 FROM step.pressure_thickness WHERE plain_formula IS NOT NULL AND {self.chosen} UNION ALL "
                "SELECT 1 FROM step.pressure_held WHERE 'hold_thin_head' IN (hold_formula, next_hold_formula) "
                f"AND {self.chosen} LIMIT 1"
            )
        )

    @cached_property
    def has_first_check(self) -> bool:
        """Whether a new or changed service of any of the assets asks for its first check."""
        sql = f"SELECT 1 FROM result.location WHERE first_check_on IS NOT NULL AND {self.chosen} LIMIT 1"
        return bool(self.rows(sql))

    @cached_property
    def walls(self) -> dict[str, list[tuple[str, int, bool]]]:
        """The walls in which necks stand by asset: component, its row, and whether it shows the general zone's need."""
        walls: dict[str, list[tuple[str, int, bool]]] = {}
        for row in self.rows(_WALLS.format(listed=self.listed)):
            walls.setdefault(row["asset"], []).append((row["component"], row["row_at"], row["is_general"]))
        return walls

    def calculations(self) -> Iterator[tuple[int, Row, Sources]]:
        """Yield every row of `Inputs` and `Calculation` in order: its number, its results, and their sources."""
        fields = _InStep(self.walk(_FIELDS.format(chosen=self.chosen)))
        used = _InStep(self.walk(_USED.format(listed=self.listed)))
        events = _InStep(self.walk(_EVENTS.format(chosen=self.chosen)))
        new_thicknesses = _InStep(self.walk(_NEW_THICKNESSES.format(chosen=self.chosen)))
        asset, sources = None, Sources()
        for row in self.walk(_CALCULATIONS.format(listed=self.listed, structs=_STRUCTS)):
            if row["asset"] != asset:
                asset = row["asset"]
                sources = Sources(
                    {
                        (cell["kind"], cell["component"], cell["location"], cell["field"]): _origin(cell, cell["said"])
                        for cell in fields.of(asset)
                    },
                    {
                        (cell["component"], cell["location"], cell["read_on"]): _origin(cell, cell["said"])
                        for cell in used.of(asset)
                    },
                    {(cell["component"], cell["event_on"]): _origin(cell, cell["event"]) for cell in events.of(asset)},
                    {
                        (cell["component"], cell["event_on"]): _origin(cell, cell["said"])
                        for cell in new_thicknesses.of(asset)
                    },
                )
            yield row["row_at"], row, sources


class _InStep:
    """Rows in the order of assets, handed out asset by asset to whoever asks in the same order."""

    def __init__(self, rows: Iterator[Row]) -> None:
        self._rows = rows
        self._next = next(rows, None)

    def of(self, asset: str) -> Iterator[Row]:
        """Yield the rows of an asset, after leaving those of earlier ones behind."""
        while self._next is not None and self._next["asset"] <= asset:
            row, self._next = self._next, next(self._rows, None)
            if row["asset"] == asset:
                yield row


def _origin(row: Row, said: str) -> Origin:
    return Origin("", row["file"] or "", row["sheet"] or "", row["cell"] or "", said)


class _Blank(dict[str, Any]):
    """A row that is not there: every column of it is unknown."""

    def __missing__(self, key: str) -> None:
        return None


def or_blank(row: Row | None) -> Row:
    return row if row is not None else _Blank()
