"""The plant's policies: read from `basis.toml`, each with its default, unit and clause.

Everything a formula or a step needs that is not a datum of the vessel (caps, tolerances, minimum rates, the choice
of radius and rate) is a row here, never a constant there. An unknown key or value is an error that names the key
and what is accepted.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import Problem
from pipeline.units import PSI_IN_MPA


@dataclass(frozen=True)
class Policy:
    """One row of the basis: its key, value in the unit kept inside, unit, and where the rule comes from."""

    key: str
    value: float | str | None
    unit: str
    reference: str
    label: str
    choices: tuple[str, ...] = ()
    lowest: float | None = None
    settable: bool = True


RADIUS_BASES = ("retirement", "allowance", "nominal")
RATE_POLICIES = ("greater", "long-term", "short-term", "fit upper bound")
ROLES = ("manager", "inspector", "auditor")

DEFAULTS: tuple[Policy, ...] = (
    Policy("units", "us", "-", "owner's choice", "unit system shown", ("us", "si")),
    Policy("date_order", None, "-", "owner's choice", "order of ambiguous dates", ("day first", "month first")),
    Policy("radius_basis", "retirement", "-", "common practice", "radius in the formulas", RADIUS_BASES),
    Policy("rate_policy", "greater", "-", "API 510 7.1.1", "governing corrosion rate", RATE_POLICIES),
    Policy(
        "thick_wall",
        "square root",
        "-",
        "VIII-1 App. 1-2 (m)",
        "thick-wall form of a cylinder",
        ("square root", "exponential"),
    ),
    Policy(
        "reading_scatter_mm", 0.10, "mm", "common practice", "standard deviation of one thickness reading", lowest=0.0
    ),
    Policy(
        "short_interval_years",
        1.0,
        "year",
        "common practice",
        "shortest time over which a short-term rate governs by itself",
        lowest=0.0,
    ),
    Policy(
        "rate_floor_mm_per_year",
        0.0,
        "mm/year",
        "common practice",
        "lowest rate used for life and intervals",
        lowest=0.0,
    ),
    Policy(
        "internal_cap_years",
        10.0,
        "year",
        "API 510 6.5.1.1",
        "longest internal, on-stream or thickness interval",
        lowest=0.0,
    ),
    Policy("external_cap_years", 5.0, "year", "API 510 6.4", "longest external interval", lowest=0.0),
    Policy(
        "relief_cap_years",
        5.0,
        "year",
        "API 510 6.6",
        "longest relief device interval in typical process service",
        lowest=0.0,
    ),
    Policy(
        "relief_clean_cap_years",
        10.0,
        "year",
        "API 510 6.6",
        "longest relief device interval in clean, non-corrosive service",
        lowest=0.0,
    ),
    Policy(
        "short_life_cap_years",
        2.0,
        "year",
        "API 510 6.5.1.1",
        "longest interval while the remaining life is under four years",
        settable=False,
    ),
    Policy("days_per_year", 365.25, "day/year", "rule of this program", "length of a year", settable=False),
    Policy(
        "day_guard",
        1e-6,
        "day",
        "rule of this program",
        "allowance for rounding when whole days are cut",
        settable=False,
    ),
    Policy(
        "first_check_from_years",
        0.25,
        "year",
        "API 510 7.1.2 (m)",
        "time after the start of a new or changed service from which a reading is its first check",
        settable=False,
    ),
    Policy(
        "first_check_years",
        0.5,
        "year",
        "API 510 7.1.2 (m)",
        "time after the start of a new or changed service by which its first check is due",
        settable=False,
    ),
    Policy(
        "diameter_mismatch",
        0.005,
        "-",
        "common practice",
        "relative difference up to which inside diameter, wall and outside diameter agree",
        settable=False,
    ),
    Policy(
        "repeated_readings",
        5.0,
        "-",
        "common practice",
        "number of places in a row with one value, unlike before, that looks like a slip",
        settable=False,
    ),
    Policy(
        "swap_contrast",
        2.0,
        "-",
        "common practice",
        "two places look swapped only if they should differ by so many times what can be noise",
        settable=False,
    ),
    Policy(
        "low_reading_factor",
        3.0,
        "-",
        "common practice",
        "a loss so many times what the rate before it would have brought is flagged",
        settable=False,
    ),
    Policy(
        "deferral_tolerance_days",
        31.0,
        "day",
        "rule of this program",
        "how far the due date a deferral states may lie from the one it moves",
        settable=False,
    ),
    Policy(
        "same_value_tolerance",
        1e-9,
        "-",
        "rule of this program",
        "relative difference up to which two numbers in different units are one",
        settable=False,
    ),
    Policy(
        "least_rate_mm_per_year",
        1e-9,
        "mm/year",
        "rule of this program",
        "rate below which there is none: two units write one thickness with different last digits",
        settable=False,
    ),
    Policy(
        "dated_life_years",
        1000.0,
        "year",
        "rule of this program",
        "remaining life beyond which no retirement date is given",
        settable=False,
    ),
    Policy(
        "band_deviations",
        2.0,
        "-",
        "common practice",
        "half-width of a band in standard deviations: about 95 % of what reading scatter alone can do",
        settable=False,
    ),
    Policy(
        "similar_quantile",
        0.9,
        "-",
        "common practice",
        "share of the rates of similar service that the suggested rate covers",
        settable=False,
    ),
    Policy(
        "similar_least_places",
        5.0,
        "-",
        "common practice",
        "places of similar service from which on a rate is suggested",
        settable=False,
    ),
    Policy("weld_region_mm", 25.4, "mm", "API 510 7.4", "least half-width of the weld region", settable=False),
    Policy("efficiency_away", 1.0, "-", "API 510 7.4", "efficiency of plate away from the welds", settable=False),
    Policy(
        "code_minimum_mm",
        1.5875,
        "mm",
        "VIII-1 UG-16(b) (m)",
        "least thickness of shells and heads (1/16 in)",
        settable=False,
    ),
    Policy(
        "code_minimum_air_steam_water_mm",
        2.5,
        "mm",
        "VIII-1 UG-16(b) (m)",
        "least thickness in compressed air, steam or water service (3/32 in, 2.5 mm)",
        settable=False,
    ),
    Policy(
        "water_head_mpa_per_mm",
        0.433 * PSI_IN_MPA / 304.8,
        "MPa/mm",
        "0.433 psi per ft",
        "pressure of a column of water",
        settable=False,
    ),
    Policy("pipe_undertolerance", 0.125, "-", "VIII-1 UG-45 (m)", "undertolerance of standard pipe", settable=False),
    Policy(
        "on_stream_rate_mm_per_year",
        0.125,
        "mm/year",
        "API 510 6.5.2 (m)",
        "rate below which an on-stream inspection may stand for an internal one",
        settable=False,
    ),
    Policy(
        "on_stream_life_years",
        10.0,
        "year",
        "API 510 6.5.2 (m)",
        "life above which an on-stream inspection may stand for an internal one",
        settable=False,
    ),
    Policy(
        "averaging_diameter_mm",
        1524.0,
        "mm",
        "API 510 7.4.2",
        "inside diameter up to which a vessel averages as a small one (60 in)",
        settable=False,
    ),
    Policy(
        "averaging_short_mm",
        500.0,
        "mm",
        "API 510 7.4.2",
        "longest averaging length of a small vessel (20 in, 500 mm)",
        settable=False,
    ),
    Policy(
        "averaging_long_mm",
        1000.0,
        "mm",
        "API 510 7.4.2",
        "longest averaging length of a large vessel (40 in, 1000 mm)",
        settable=False,
    ),
    Policy(
        "line_tolerance_mm",
        2.0,
        "mm",
        "common practice",
        "distance up to which readings of an area stand on one line",
        settable=False,
    ),
    Policy(
        "position_guard_mm",
        0.001,
        "mm",
        "rule of this program",
        "allowance for rounding of positions",
        settable=False,
    ),
    Policy(
        "pit_circle_mm",
        203.2,
        "mm",
        "API 510 7.4.3",
        "diameter of the circle in which pits are counted (8 in, 200 mm)",
        settable=False,
    ),
    Policy(
        "pit_area_limit_mm2",
        4500.0,
        "mm2",
        "API 510 7.4.3",
        "area of pits in one circle that may be ignored (7 in2, 45 cm2)",
        settable=False,
    ),
    Policy(
        "pit_width_limit_mm",
        50.0,
        "mm",
        "API 510 7.4.3",
        "widths of pits along one line that may be ignored (2 in, 50 mm)",
        settable=False,
    ),
    Policy(
        "pit_search_most",
        200.0,
        "-",
        "rule of this program",
        "number of pits of an area up to which the worst circle and line are searched",
        settable=False,
    ),
    Policy(
        "point_readings_least",
        15.0,
        "-",
        "API 579-1 Part 4 (m)",
        "point readings from which on their scatter is judged",
        settable=False,
    ),
    Policy(
        "variation_most",
        0.10,
        "-",
        "API 579-1 Part 4 (m)",
        "scatter of point readings up to which their average stands",
        settable=False,
    ),
    Policy(
        "profile_readings_least",
        5.0,
        "-",
        "API 579-1 Part 4 (m)",
        "readings on one line that make a thickness profile",
        settable=False,
    ),
    Policy(
        "strength_factor_allowed",
        0.90,
        "-",
        "API 579-1 Part 2 (m)",
        "remaining strength factor that passes the screening",
        settable=False,
    ),
    Policy(
        "thickness_ratio_least",
        0.20,
        "-",
        "API 579-1 Part 5 (m)",
        "least remaining thickness ratio of the screening",
        settable=False,
    ),
    Policy(
        "least_remaining_mm",
        2.5,
        "mm",
        "API 579-1 Part 5 (m)",
        "least thickness the screening admits",
        settable=False,
    ),
    Policy(
        "least_share_of_nominal",
        0.2,
        "-",
        "API 579-1 Part 4 (m)",
        "share of the nominal thickness that must be left",
        settable=False,
    ),
)


@dataclass(frozen=True)
class Basis:
    """The policies in force for one build, with the plant's people, extra headings and asset aliases."""

    policies: Mapping[str, Policy]
    stated: frozenset[str] = frozenset()
    people: Mapping[str, str] = field(default_factory=dict)
    headings: Mapping[str, str] = field(default_factory=dict)
    aliases: Mapping[str, str] = field(default_factory=dict)
    text: str = ""

    def text_of(self, key: str) -> str:
        """Return a policy whose value is a word; an empty string where the plant left it open."""
        value = self.policies[key].value
        return value if isinstance(value, str) else ""

    def number(self, key: str) -> float:
        """Return a policy whose value is a number, in the unit kept inside."""
        value = self.policies[key].value
        if not isinstance(value, (int, float)):
            raise TypeError(f"policy {key} is not a number")
        return float(value)

    @property
    def units(self) -> str:
        """The unit system people see: `us` or `si`."""
        return self.text_of("units")

    @property
    def sha256(self) -> str:
        """Hash of everything that can change a result."""
        rows = {key: policy.value for key, policy in sorted(self.policies.items())}
        known = {
            "policies": rows,
            "people": dict(self.people),
            "headings": dict(self.headings),
            "aliases": dict(self.aliases),
        }
        return hashlib.sha256(json.dumps(known, sort_keys=True).encode()).hexdigest()


def default_basis() -> Basis:
    """Return the basis of a plant that has no `basis.toml`."""
    return Basis({policy.key: policy for policy in DEFAULTS})


def read_basis(folder: Path) -> Basis:
    """Read `basis.toml` in `folder`; all defaults where there is none. Raises Problem with the key at fault."""
    path = folder / "basis.toml"
    if not path.exists():
        return default_basis()
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise Problem(f"{path.name}: cannot be read as TOML ({fault}); correct the file or remove it") from fault
    return basis_of_text(text)


def basis_of_text(text: str) -> Basis:
    """Return the basis a `basis.toml` of this text states. Raises Problem with the key at fault."""
    try:
        stated = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise Problem(f"basis.toml: cannot be read as TOML ({fault}); correct the file or remove it") from fault
    return _basis_from(stated, text)


def _basis_from(stated: Mapping[str, object], text: str) -> Basis:
    settable = {policy.key: policy for policy in DEFAULTS if policy.settable}
    tables = ("people", "headings", "aliases")
    for key in stated:
        if key not in settable and key not in tables:
            accepted = ", ".join([*settable, *(f"[{table}]" for table in tables)])
            raise Problem(f"basis.toml: unknown key '{key}'; accepted are {accepted}")
    policies = {policy.key: policy for policy in DEFAULTS}
    for key, policy in settable.items():
        if key in stated:
            policies[key] = _settled(policy, stated[key])
    maps = {table: _string_table(table, stated.get(table, {})) for table in tables}
    for person, role in maps["people"].items():
        if role not in ROLES:
            raise Problem(f"basis.toml: [people] '{person}' has the role '{role}'; accepted are {', '.join(ROLES)}")
    return Basis(
        policies, frozenset(settable) & frozenset(stated), maps["people"], maps["headings"], maps["aliases"], text
    )


def _settled(policy: Policy, value: object) -> Policy:
    if policy.choices:
        if value not in policy.choices:
            accepted = ", ".join(f'"{choice}"' for choice in policy.choices)
            raise Problem(f"basis.toml: {policy.key} = {value!r} is not accepted; accepted are {accepted}")
        kept: float | str = str(value)
    else:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise Problem(f"basis.toml: {policy.key} = {value!r} is not a number ({policy.unit})")
        if not (float(value) == float(value) and abs(float(value)) != float("inf")):
            raise Problem(f"basis.toml: {policy.key} = {value!r} is not a finite number")
        if policy.lowest is not None and value < policy.lowest:
            raise Problem(f"basis.toml: {policy.key} = {value!r} is below {policy.lowest:g} {policy.unit}")
        kept = float(value)
    return Policy(
        policy.key, kept, policy.unit, policy.reference, policy.label, policy.choices, policy.lowest, policy.settable
    )


def _string_table(name: str, table: object) -> dict[str, str]:
    if not isinstance(table, dict):
        raise Problem(f"basis.toml: [{name}] must be a table of text = text")
    for key, value in table.items():
        if not isinstance(value, str):
            raise Problem(f"basis.toml: [{name}] '{key}' = {value!r} must be text in quotation marks")
    return dict(table)
