"""Every input of a component and its governing place: value, source cell, and the live cell it follows, if any."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.audit.cells import Live, coherent
from pipeline.audit.layout import Columns, is_thin, policy_name
from pipeline.audit.results import Results, Row, Sources, or_blank
from pipeline.explain import Origin
from pipeline.quantities import QUANTITIES


@dataclass(frozen=True)
class Given:
    """One input: its value in the unit kept inside, where it came from, and the live cell it follows, if any."""

    value: Any
    origin: Origin
    follows: Live | None = None


class Finder:
    """Finds the source of every input of one component and place."""

    def __init__(self, sources: Sources, row: Row) -> None:
        self.sources = sources
        self.row = row
        self.asset: str = row["whole"]["asset"]
        self.component: str = row["whole"]["component"]

    def register(self, kind: str, column: str, otherwise: str = "not on the register", words: str = "") -> Origin:
        """Return the register's cell of the component, or of its asset."""
        component = None if kind == "assets" else self.component
        found = self.sources.fields.get((kind, component, None, column))
        if found is None:
            return Origin(otherwise)
        return Origin(words, found.file, found.sheet, found.cell, found.text)

    def reading(self, on: Any) -> Origin:
        """Return the cell of the reading of a day at the governing place."""
        key = (self.component, self.row["place"]["location"], on)
        return self.sources.readings.get(key, Origin("no reading"))

    def initial(self) -> Origin:
        """Return where the initial thickness came from."""
        place = self.row["place"]
        match place["initial_from"]:
            case "first reading":
                return self.reading(place["initial_on"])
            case "nominal":
                return self.register("components", "nominal_thickness", words="nominal thickness")
            case "event":
                return self.new_thickness(place["initial_on"])
        return Origin("none on record")

    def new_thickness(self, on: Any) -> Origin:
        """Return the cell of the thickness stated at an event of a day."""
        return self._of_day(self.sources.new_thicknesses, on, "new thickness of the event")

    def event(self, on: Any, words: str) -> Origin:
        """Return the cell of an event of the component, or of its asset, on a day."""
        return self._of_day(self.sources.events, on, words)

    def _of_day(self, origins: Mapping[tuple[Any, ...], Origin], on: Any, words: str) -> Origin:
        for component in (self.component, None):
            found = origins.get((component, on))
            if found:
                return Origin(words, found.file, found.sheet, found.cell, found.text)
        return Origin("none on record")

    def wall_since(self) -> tuple[Any, Origin]:
        """Return the day on which the wall went into service, and where that stood."""
        return self._begun("wall_since_on", "new wall")

    def started(self) -> tuple[Any, Origin]:
        """Return from when a new or changed service counts, and where that stood."""
        return self._begun("service_from_on", "start of the service")

    def _begun(self, column: str, words: str) -> tuple[Any, Origin]:
        """Return a day of the component's life and its cell: of an event, or of the vessel going into service."""
        day = or_blank(self.row["begun"])[column]
        in_service = or_blank(self.row["vessel"])["in_service_on"]
        if day is None or day == in_service:
            return in_service, self.register("assets", "in_service")
        return day, self.event(day, words)

    def diameter(self) -> tuple[Origin, Origin]:
        """Return the sources of the inside and of the outside diameter."""
        unused = Origin("not stated")
        match self.row["part"]["diameter_from"]:
            case "component":
                return self.register("components", "inside_diameter"), unused
            case "outside diameter":
                return Origin("from the outside diameter: see Calculation"), self.register(
                    "components", "outside_diameter"
                )
            case "pipe size":
                return Origin("from the outside diameter: see Calculation"), self.register(
                    "components", "nominal_pipe_size", words="outside diameter of the nominal pipe size"
                )
            case "asset":
                return self.register("assets", "inside_diameter", words="the asset's, the component has none"), unused
        return unused, unused

    def distance(self) -> Origin:
        """Return the cell of the distance to the weld, or what the locations sheet says instead."""
        place, needed = self.row["place"], self.row["needed"]
        for component in (self.component, None):
            found = self.sources.fields.get(("locations", component, place["location"], "distance_to_weld"))
            if found:
                return found
        return Origin(f"stated: {needed['region_stated']}" if needed["region_stated"] else "not known")


def inputs_of(results: Results, columns: Columns, row: Row, sources: Sources) -> dict[str, Given]:
    """Return every input of a component and place, by the keys of `INPUTS`."""
    part, place, shape, cap = row["part"], or_blank(row["place"]), row["shape"], or_blank(row["cap"])
    vessel, required = or_blank(row["vessel"]), or_blank(row["required_weld"])
    row = {**row, "place": place, "needed": or_blank(row["needed"])}
    source = Finder(sources, row)
    started_on, started = source.started() if place["first_check_on"] else (None, Origin("no first check is asked"))
    external, thin_head = or_blank(row["external"]), or_blank(row["thin_head"])
    thin, computed = is_thin(row), required["external_from"] == "computed"
    length = "length" if part["unsupported_from"] == "length" else "unsupported_length"
    chosen = place["rate_chosen_by"] is not None
    inside, outside = source.diameter()
    table = Origin("Table UG-37") if shape["proportion_below"] is not None else Origin("not for this component")
    sums = Origin("worked out from the readings of this place; see Readings used")
    second = "assumed: the longitudinal joint's, none is given" if part["efficiency_assumed"] else ""
    second_column = "joint_efficiency_longitudinal" if second else "joint_efficiency_circumferential"
    given = {
        "P_top": Given(
            vessel["rating_pressure_mpa"],
            source.register("assets", "mawp" if vessel["rating_from"] == "MAWP" else "design_pressure"),
        ),
        "SG": Given(part["specific_gravity"], source.register("components", "specific_gravity")),
        "H": Given(part["liquid_head_mm"], source.register("components", "liquid_head")),
        "P_head": Given(
            None if shape["head_considered"] else shape["static_head_mpa"],
            Origin("computed: see Calculation")
            if shape["head_considered"]
            else Origin("not considered: the register gives no specific gravity and liquid head together"),
        ),
        "S": Given(part["allowable_stress_mpa"], source.register("components", "allowable_stress")),
        "E_L": Given(part["efficiency_longitudinal"], source.register("components", "joint_efficiency_longitudinal")),
        "E_C": Given(part["efficiency_circumferential"], source.register("components", second_column, words=second)),
        "t_nom": Given(
            part["nominal_thickness_mm"],
            Origin("thickest first reading of the component: the register gives no nominal")
            if part["nominal_from"] == "first readings"
            else source.register("components", "nominal_thickness"),
        ),
        "CA": Given(part["corrosion_allowance_mm"], source.register("components", "corrosion_allowance")),
        "D_n": Given(part["inside_diameter_stated_mm"], inside),
        "Do": Given(part["outside_diameter_stated_mm"], outside),
        "L_n": Given(part["crown_radius_as_built_mm"], source.register("components", "crown_radius")),
        "r": Given(part["knuckle_radius_mm"], source.register("components", "knuckle_radius")),
        "h": Given(part["head_depth_mm"], source.register("components", "head_depth")),
        "alpha": Given(part["half_apex_angle_deg"], source.register("components", "half_apex_angle")),
        "C": Given(part["flat_head_factor"], source.register("components", "flat_head_factor")),
        "x_a": Given(shape["proportion_below"], table),
        "x_b": Given(shape["proportion_above"], table),
        "k_a": Given(shape["spherical_factor_below"], table),
        "k_b": Given(shape["spherical_factor_above"], table),
        "t_str": Given(
            required["structural_minimum_mm"],
            source.register("components", "structural_minimum", "not on the register: zero, not considered"),
        ),
        "t_ext": Given(
            required["external_thickness_mm"],
            Origin("found by bracketed root: the allowable external pressure is the design one, VIII-2 4.4 (m)")
            if computed and required["external_thickness_mm"] is not None
            else source.register(
                "components",
                "required_thickness_external",
                "not on the register: zero, not considered"
                if required["external_thickness_mm"] == 0
                else "not on the register, which names an external pressure",
            ),
        ),
        "P_ext": Given(part["external_pressure_mpa"], source.register("components", "external_pressure")),
        "L_u": Given(
            external["unsupported_length_mm"],
            source.register("components", length) if computed else Origin("no external pressure to work out"),
        ),
        "E_y": Given(part["elastic_modulus_mpa"], source.register("components", "elastic_modulus")),
        "S_y": Given(part["yield_strength_mpa"], source.register("components", "yield_strength")),
        "t_bu": Given(
            thin_head["knuckle_thickness_mm"] if thin else None,
            Origin(
                "found by bracketed root: the knuckle is allowed the pressure, App. 1-4(f) (m)"
                if thin
                else "not a formed head thinner than 0.002 of its crown radius"
            ),
        ),
        "t_sh": parent_wall(results, columns, row),
        "t_std": Given(
            required["standard_wall_mm"],
            source.register("components", "nominal_pipe_size", words="standard wall (ASME B36.10)")
            if part["kind"] == "nozzle"
            else Origin("not for this component"),
        ),
        "distance": Given(place["distance_to_weld_mm"], source.distance()),
        "t_act": Given(place["t_act_mm"], source.reading(place["read_on"])),
        "read_on": Given(place["read_on"], source.reading(place["read_on"])),
        "t_ini": Given(place["t_initial_mm"], source.initial()),
        "initial_on": Given(
            place["initial_on"],
            source.register("assets", "in_service") if place["initial_from"] == "nominal" else source.initial(),
        ),
        "t_prev": Given(place["t_previous_mm"], source.reading(place["previous_on"])),
        "previous_on": Given(place["previous_on"], source.reading(place["previous_on"])),
        "C_st": Given(part["stated_rate_mm_per_year"], source.register("components", "stated_corrosion_rate")),
        "C_chosen": Given(
            place["rate_selected_mm_per_year"] if chosen else None,
            Origin(
                f"{place['rate_from']} rate, chosen by {place['rate_chosen_by']} on {place['rate_chosen_on']}: "
                f"{place['rate_choice_reason']}"
                if chosen
                else "no choice on record: the policy selects"
            ),
        ),
        "n": Given(place["reading_count"], sums),
        "Sxx": Given(place["sum_days_squared"], sums),
        "Sxy": Given(place["sum_days_thickness"], sums),
        "Syy": Given(place["sum_thickness_squared"], sums),
        "q95": Given(place["t_quantile"], Origin("Student's t, one-sided 95 %")),
        "wall_since_on": Given(*source.wall_since()),
        "cap": longest(cap),
        "cap_inside": longest(or_blank(row["internal_cap"])),
        "started_on": Given(started_on, started),
    }
    return {column.key: given[column.key] for column in columns.inputs}


def longest(cap: Row) -> Given:
    """Return the longest interval of a kind: the policy's, which it then follows, or the one set in its place."""
    years = cap["cap_years"]
    if cap["cap_from"] == "cap":
        policy = Live(f"={policy_name('internal_cap_years')}", years)
        return Given(years, Origin("basis: internal_cap_years"), policy)
    return Given(years, Origin(cap["cap_from"] or "", cap["file"] or "", cap["sheet"] or "", cap["cell"] or ""))


def parent_wall(results: Results, columns: Columns, row: Row) -> Given:
    """Return what the wall of a neck's vessel needs; it follows that wall's own row wherever that row shows it."""
    part, required = row["part"], or_blank(row["required_weld"])
    if part["kind"] != "nozzle":
        return Given(None, Origin("not for this component"))
    value, parent = required["parent_thickness_mm"], required["parent_component"]
    if value is None:
        return Given(None, Origin("the requirement of the wall it stands in is not known"))
    walls = results.walls.get(part["asset"], [])
    if part["attached_to"]:
        walls = [wall for wall in walls if wall[0] == parent]
        words = f"required thickness of {parent} at E = 1"
    else:
        words = f"the largest required thickness at E = 1 among the walls of {part['asset']}: {parent}"
    # A head whose governing place is its crown shows the crown's need, not that of the wall around a neck.
    if not walls or not all(is_general for _, _, is_general in walls):
        return Given(value, Origin(f"{words} (the program's value)"))
    cells = [f"Calculation!{columns.letter['c:t_p_away']}{at}" for _, at, _ in walls]
    follows = f"={cells[0]}" if len(cells) == 1 else f"=MAX({','.join(cells)})"
    return Given(
        value, Origin(f"{words}: see Calculation"), Live(follows, coherent(value, QUANTITIES["t_sh"], results.system))
    )
