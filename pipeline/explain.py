"""Why: the chain of reasons behind one result, from the source cells to the rank, each link recomputed on view.

The chain is read from the result rows, which hold every input; nothing is recorded on the side while computing. Each
link names its clause, its inputs and where each came from: a source cell, an earlier link, or a policy of the basis.
A link whose recomputed value differs from the stored one is shown as a fault.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import duckdb

from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.errors import Problem
from pipeline.formulas import FORMULAS, Formula, source_of
from pipeline.quantities import QUANTITIES, Quantity
from pipeline.reading import rate_in_words
from pipeline.units import in_coherent_unit, minus, noun, show

Row = dict[str, Any]


@dataclass(frozen=True)
class Origin:
    """Where an input came from: a source cell (file, sheet, cell, text as it stood), or words."""

    words: str
    file: str = ""
    sheet: str = ""
    cell: str = ""
    text: str = ""

    def __str__(self) -> str:
        if not self.file:
            return self.words
        place = ", ".join(part for part in (self.file, self.sheet, self.cell) if part)
        return f"{place}: “{self.text}”" + (f" ({self.words})" if self.words else "")


@dataclass(frozen=True)
class Input:
    """One input of a link: symbol, meaning, value kept inside, value as shown, and origin."""

    symbol: str
    typeset: str
    label: str
    value: float
    shown: str
    origin: Origin


@dataclass(frozen=True)
class Link:
    """One equation with its numbers. `fault` is empty where the recomputed value agrees with the stored one; `part` is
    the part of the chain it belongs to."""

    id: str
    title: str
    clause: str
    document: str
    note: str
    plain: str
    plain_values: str
    typeset: str
    typeset_values: str
    result_symbol: str
    result_label: str
    value: float
    shown: str
    inputs: tuple[Input, ...]
    fault: str = ""
    part: str = ""

    @property
    def source(self) -> str:
        """Where the clause stands, in words."""
        return source_of(self.document, self.clause)


@dataclass(frozen=True)
class Answer:
    """What one weld region or one radius basis says of a place."""

    name: str
    counts: bool
    t_req_mm: float | None
    t_req: str
    remaining_life_years: float | None
    remaining_life: str
    verdict: str
    difference_years: float | None = None
    equation: str = ""


@dataclass
class Explanation:
    """Everything said of one asset and, where there is one, its governing place."""

    asset: str
    component: str | None
    location: str | None
    as_of: date
    units: str
    state: str
    rank: int
    reason: str
    place: Row | None
    due_dates: list[Row]
    concerns: list[Row]
    links: list[Link] = field(default_factory=list)
    weld_answers: list[Answer] = field(default_factory=list)
    basis_answers: list[Answer] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    bands: list[str] = field(default_factory=list)
    next_due: list[Row] = field(default_factory=list)
    worth: list[Row] = field(default_factory=list)
    readings: list[Row] = field(default_factory=list)
    cautions: tuple[str, ...] = (CAUTION, NOT_CONSIDERED)

    @property
    def faults(self) -> list[str]:
        """What did not agree when it was recomputed."""
        return [link.fault for link in self.links if link.fault]

    def as_json(self) -> dict[str, Any]:
        """Return plain data for JSON; dates as ISO text."""
        plain: dict[str, Any] = _plain(asdict(self))
        plain["faults"] = self.faults
        return plain


def explain(
    connection: duckdb.DuckDBPyConnection,
    asset: str,
    component: str | None = None,
    location: str | None = None,
    system: str | None = None,
) -> Explanation:
    """Explain an asset, one of its components, or one place of it, in a unit system (default: the plant's).

    Without a component the one that governs the rank is explained; without a location its governing place. Raises
    Problem where the asset, component or location is not in the results.
    """
    return _Explainer(connection, system).explain(asset, component, location)


def worth_sentence(row: Mapping[str, Any], system: str) -> str:
    """Return in one sentence what a measurement of a row of `result.worth_measuring` would change."""
    if row["measurement"] == "weld distance":
        half = show(row["weld_region_half_width_mm"], "length", system)
        case = f"the distance to the nearest weld; were it more than {half}"
    else:
        case = "the thickness once more; were it thicker by the scatter of one reading"
    gained = ""
    if row["worth_days"] is not None:
        gained = (
            f", the {row['kind']} date would move from {row['due_on']} to {row['due_if_on']} ({row['worth_days']} days)"
        )
        if row["due_else_on"] is not None:
            gained += f"; were it as much thinner the place would be due on {row['due_else_on']}"
    verdict = ", the place would not be below required" if row["clears_below_required"] else ""
    return f"{case}{verdict}{gained}."


class _Explainer:
    def __init__(self, connection: duckdb.DuckDBPyConnection, system: str | None) -> None:
        self.connection = connection
        build = self.rows("SELECT as_of, units FROM result.build")[0]
        self.as_of: date = build["as_of"]
        self.system: str = system or build["units"]
        self.policy = self.rows("SELECT * FROM basis.in_force")[0]
        self.references = {row["key"]: row for row in self.rows("SELECT key, reference, label FROM basis.policy")}

    def rows(self, sql: str, values: list[Any] | None = None) -> list[Row]:
        cursor = self.connection.execute(sql, values or [])
        names = [column[0] for column in cursor.description or []]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    # ---- the whole ---------------------------------------------------------------------------------------------------

    def explain(self, asset: str, component: str | None, location: str | None) -> Explanation:
        found = self.rows("SELECT * FROM result.asset WHERE asset = ?", [asset])
        if not found:
            raise Problem(f"{asset}: there is no such asset in the results; 'hoopline rank' lists them")
        row = found[0]
        place = self.place(asset, component, location, row)
        told = Explanation(
            asset=asset,
            component=place["component"] if place else component or row["governing_component"],
            location=place["location"] if place else location,
            as_of=self.as_of,
            units=self.system,
            state=row["state"],
            rank=row["rank"],
            reason=row["reason"],
            place=place,
            due_dates=self.rows(
                "SELECT * FROM result.due_date WHERE asset = ? ORDER BY due_on NULLS LAST, kind", [asset]
            ),
            concerns=self.rows(
                "SELECT * FROM result.concern WHERE asset = ? "
                "ORDER BY state_order, governing_on NULLS FIRST, margin NULLS LAST, kind, component, location",
                [asset],
            ),
            next_due=self.rows("SELECT * FROM result.next_due WHERE asset = ? ORDER BY kind", [asset]),
        )
        if place:
            told.readings = self.rows(
                "SELECT * FROM result.reading WHERE asset = ? AND component = ? AND location = ? "
                "ORDER BY read_on, file, cell",
                [asset, place["component"], place["location"]],
            )
            told.links, told.remarks = self.chain(place, told.readings)
            told.weld_answers = self.weld_answers(place)
            told.basis_answers = self.basis_answers(place)
            told.bands = self.bands(place)
            told.worth = self.rows(
                "SELECT * FROM result.worth_measuring WHERE asset = ? AND component = ? AND location = ? "
                "ORDER BY clears_below_required DESC, worth_days DESC NULLS LAST, measurement, kind",
                [asset, place["component"], place["location"]],
            )
        if row["state"] == "below required":
            told.cautions = (BELOW_REQUIRED, *told.cautions)
        return told

    def place(self, asset: str, component: str | None, location: str | None, row: Row) -> Row | None:
        if component is None:
            component = row["governing_component"]
            location = location or row["governing_location"]
        if component is None:
            return None
        part = self.rows("SELECT * FROM result.component WHERE asset = ? AND component = ?", [asset, component])
        if not part:
            known = [
                r["component"]
                for r in self.rows("SELECT component FROM result.component WHERE asset = ? ORDER BY component", [asset])
            ]
            raise Problem(f"{asset} {component}: there is no such component; {asset} has {', '.join(known) or 'none'}")
        location = location or part[0]["governing_location"]
        if location is None:
            return None
        found = self.rows(
            "SELECT * FROM result.location WHERE asset = ? AND component = ? AND location = ?",
            [asset, component, location],
        )
        if not found:
            raise Problem(f"{asset} {component} {location}: there is no such location; see the asset's list of places")
        return found[0]

    # ---- the chain ---------------------------------------------------------------------------------------------------

    def chain(self, place: Row, readings: list[Row]) -> tuple[list[Link], list[str]]:
        """Return the links for the region that counts, and remarks on what was assumed or left out."""
        asset, component = place["asset"], place["component"]
        shape = self.rows("SELECT * FROM step.shape WHERE asset = ? AND component = ?", [asset, component])[0]
        part = self.rows("SELECT * FROM step.component WHERE asset = ? AND component = ?", [asset, component])[0]
        cells = self.register_cells(asset, component)
        writer = _ChainWriter(self, place, part, shape, cells, readings)
        writer.chapter = "Pressure and shape"
        writer.pressure()
        required = self.required(place, place["region_counted"], self.policy["radius_basis"])
        if required:
            writer.shape_links(required)
        writer.chapter = "Required thickness"
        if required:
            writer.thickness(required)
        writer.weld_region()
        writer.chapter = "Corrosion rate"
        writer.rates()
        writer.chapter = "Remaining life and interval"
        writer.life()
        writer.chapter = "MAWP"
        if required:
            writer.held_pressure(required)
        return writer.links, writer.remarks

    def required(self, place: Row, region: str, radius_basis: str) -> Row | None:
        """Return the row of required thickness with all its inputs, for a region and a radius basis."""
        key = [place["asset"], place["component"], place["zone"], region, radius_basis]
        where = "WHERE asset = ? AND component = ? AND zone = ? AND region = ? AND radius_basis = ?"
        pressure = self.rows(f"SELECT * FROM step.pressure_thickness {where}", key)
        total = self.rows(f"SELECT * FROM step.required_thickness {where}", key)
        return {**pressure[0], **total[0]} if pressure and total else None

    def register_cells(self, asset: str, component: str) -> dict[tuple[str, str], Row]:
        """Return the register's settled cells of an asset and a component, by sheet kind and column."""
        found = self.rows(
            "SELECT kind, field, number, text, unit, file, sheet, cell FROM step.field WHERE asset = ? "
            "AND (kind = 'assets' OR (kind = 'components' AND component = ?))",
            [asset, component],
        )
        return {(row["kind"], row["field"]): row for row in found}

    # ---- how sure: bands, and the worth of one reading ---------------------------------------------------------------

    def bands(self, place: Row) -> list[str]:
        """Return between what the rate, the life and the dates lie by the scatter of readings alone."""
        said = []
        if place["rate_deviation_mm_per_year"] is not None and place["rate_low_mm_per_year"] is not None:
            low, high = (show(place[f"rate_{end}_mm_per_year"], "rate", self.system) for end in ("low", "high"))
            said.append(f"The rate lies between {low} and {high}: {self.confidence(place)}.")
            if place["remaining_life_low_years"] is not None and place["margin"] >= 0:
                most = place["remaining_life_high_years"]
                end = "no end" if most is None else show(most, "duration", self.system)
                least = show(place["remaining_life_low_years"], "duration", self.system)
                said.append(f"The remaining life lies between {least} and {end}, counted from {place['read_on']}.")
            known = place["due_earliest_on"] and place["due_latest_on"]
            if known and place["due_earliest_on"] != place["due_latest_on"] and place["margin"] >= 0:
                said.append(f"The due date lies between {place['due_earliest_on']} and {place['due_latest_on']}.")
        if place["due_thinner_on"] and place["due_thicker_on"] and place["due_thinner_on"] != place["due_thicker_on"]:
            s = show(self.policy["reading_scatter_mm"], "thickness", self.system)
            said.append(
                f"What the last reading is worth: had it been {s} thinner the place would be due on "
                f"{place['due_thinner_on']}, had it been {s} thicker on {place['due_thicker_on']}."
            )
        return said

    def confidence(self, place: Row) -> str:
        """Return in words what a band covers."""
        k = self.policy["band_deviations"]
        if place["rate_from"] in ("fit upper bound", "least squares"):
            return f"{k:g} standard errors of the fit to either side, about 95 %"
        s = show(self.policy["reading_scatter_mm"], "thickness", self.system)
        return (
            f"{k:g} standard deviations to either side, about 95 % of what the scatter of readings ({s} each) can do "
            "by itself; the mill tolerance of a nominal thickness and a change of service are not in it"
        )

    # ---- both weld answers, three radius bases -----------------------------------------------------------------------

    def weld_answers(self, place: Row) -> list[Answer]:
        """Return what the weld region and the plate away from it say, side by side."""
        answers = []
        for region in ("weld", "away"):
            required = self.required(place, region, self.policy["radius_basis"])
            answers.append(
                self.answer(
                    "in the weld region" if region == "weld" else "away from the weld",
                    place["region_counted"] == region,
                    place,
                    place[f"t_req_{region}_mm"],
                    place[f"remaining_life_{region}_years"],
                    equation=self.pressure_equation(required),
                )
            )
        return answers

    def basis_answers(self, place: Row) -> list[Answer]:
        """Return what the three radius bases say, with the difference in years from the one in force."""
        in_force = self.policy["radius_basis"]
        life_in_force = place[f"remaining_life_{in_force}_years"]
        answers = []
        for name in ("retirement", "allowance", "nominal"):
            life = place[f"remaining_life_{name}_years"]
            answers.append(
                self.answer(
                    name,
                    name == in_force,
                    place,
                    place[f"t_req_{name}_mm"],
                    life,
                    None if life is None or life_in_force is None else life - life_in_force,
                    self.pressure_equation(self.required(place, place["region_counted"], name)),
                )
            )
        return answers

    def answer(
        self,
        name: str,
        counts: bool,
        place: Row,
        t_req: float | None,
        life: float | None,
        difference: float | None = None,
        equation: str = "",
    ) -> Answer:
        t_act = place["t_act_mm"]
        if t_req is None or t_act is None:
            verdict = "not assessable"
        else:
            verdict = "below required" if t_act < t_req else "at or above required"
        if life is not None:
            shown = show(life, "duration", self.system)
        elif verdict == "below required":
            shown = "none left"
        elif place["no_measurable_loss"] and verdict == "at or above required":
            shown = "no measurable loss"
        else:
            shown = "not assessable"
        return Answer(
            name, counts, t_req, show(t_req, "thickness", self.system), life, shown, verdict, difference, equation
        )

    def pressure_equation(self, required: Row | None) -> str:
        """Return the governing pressure clause with its numbers as one line of text, and what asks for more where
        something does; empty where there is no such clause."""
        if required is None or required["pressure_thickness_mm"] is None:
            return ""
        formula = FORMULAS[required["pressure_formula"]]
        efficiency = "efficiency_longitudinal"
        if formula.id == "cylinder_pressure_thickness":
            governs = required["longitudinal_thickness_mm"] >= required["circumferential_thickness_mm"]
            formula = FORMULAS[required["longitudinal_formula" if governs else "circumferential_formula"]]
            efficiency = "efficiency_longitudinal" if governs else "efficiency_circumferential"
        values = _values_of(formula, {**required, "joint_efficiency": required[efficiency]})
        result = formula.evaluate(values)
        if result is None:
            return ""
        shown = {name: _number(value, QUANTITIES[name], self.system) for name, value in values.items()}
        value, unit = in_coherent_unit(result, formula.result_quantity.unit, self.system)
        worked = f"{minus(f'{value:.4f}')} {unit}"
        equation = f"{formula.plain()} = {formula.plain_values(values, shown)} = {worked} [{formula.clause}]"
        if required["governing_case"] in (None, "internal pressure"):
            return equation
        return f"for internal pressure alone {equation}; the {required['governing_case']} governs"


class _ChainWriter:
    """Writes the links of one place, in the order in which a person would work them."""

    def __init__(
        self,
        explainer: _Explainer,
        place: Row,
        part: Row,
        shape: Row,
        cells: dict[tuple[str, str], Row],
        readings: list[Row],
    ) -> None:
        self.explainer = explainer
        self.system = explainer.system
        self.place = place
        self.part = part
        self.shape = shape
        self.cells = cells
        self.readings = readings
        self.links: list[Link] = []
        self.remarks: list[str] = []
        self.origins: dict[str, Origin] = {}
        self.chapter = ""

    # ---- the parts of the chain --------------------------------------------------------------------------------------

    def pressure(self) -> None:
        source = "mawp" if self.cells.get(("assets", "mawp")) else "design_pressure"
        self.from_register("P_top", "assets", source)
        if self.shape["head_considered"]:
            self.from_register("SG", "components", "specific_gravity")
            self.from_register("H", "components", "liquid_head")
            self.from_basis("g_w", "water_head_mpa_per_mm")
            self.link("static_head", {**self.shape, **self.explainer.policy}, self.shape["static_head_mpa"])
        else:
            self.origins["P_head"] = Origin("no liquid on the register: static head not considered")
            self.remarks.append(
                "Static head is not considered: the register gives no specific gravity and liquid head together."
            )
        self.link("component_pressure", self.shape, self.shape["pressure_mpa"])

    def shape_links(self, required: Row) -> None:
        part, shape, kind = self.part, self.shape, self.part["kind"]
        self.from_register("t_nom", "components", "nominal_thickness")
        if part["nominal_from"] == "first readings":
            self.origins["t_nom"] = Origin("thickest first reading of the component: the register gives no nominal")
            self.remarks.append(
                "The nominal thickness is not on the register: the thickest first reading stands for it."
            )
        for name, column in (
            ("CA", "corrosion_allowance"),
            ("L_n", "crown_radius"),
            ("r", "knuckle_radius"),
            ("h", "head_depth"),
            ("alpha", "half_apex_angle"),
            ("C", "flat_head_factor"),
            ("S", "allowable_stress"),
        ):
            self.from_register(name, "components", column)
        built = {**part, **shape}
        match part["diameter_from"]:
            case "component":
                self.from_register("D_n", "components", "inside_diameter")
            case "outside diameter":
                self.from_register("Do", "components", "outside_diameter")
                self.link("inside_diameter_from_outside", built, shape["inside_diameter_as_built_mm"])
            case "pipe size":
                self.origins["Do"] = Origin(
                    "outside diameter of the nominal pipe size", **self.cell_of("components", "nominal_pipe_size")
                )
                self.link("inside_diameter_from_outside", built, shape["inside_diameter_as_built_mm"])
            case "asset":
                self.from_register("D_n", "assets", "inside_diameter")
                self.remarks.append("The component has no diameter of its own: the asset's inside diameter is used.")
        if not part["loss_side_stated"] and self.explainer.policy["radius_basis"] == "retirement":
            self.remarks.append("The register does not say which side loses metal: inside is taken.")
        outside = required["dimension_form"] == "outside"
        crown = required["zone"] == "crown"
        allowance = required["radius_basis"] == "allowance"
        if kind in ("cylinder", "nozzle", "sphere", "hemispherical head"):
            self.link("inside_radius_as_built", built, shape["inside_radius_as_built_mm"])
            if outside:
                self.link("outside_radius", built, required["outside_radius_mm"])
            elif allowance:
                self.link("inside_radius_allowance", built, required["inside_radius_mm"])
            else:
                self.same("R", "R_n", "inside radius as built")
        elif kind == "ellipsoidal head":
            if part["head_depth_mm"] is None:
                self.link("head_depth_two_to_one", built, shape["head_depth_mm"])
                self.remarks.append("The head depth is not on the register: a quarter of the diameter, for a 2:1 head.")
            self.link("ellipsoidal_proportion", built, shape["proportion"])
            for name in ("x_a", "x_b", "k_a", "k_b"):
                self.origins[name] = Origin("Table UG-37")
            self.link("spherical_factor", built, shape["spherical_factor"])
            self.link("ellipsoidal_factor", built, shape["ellipsoidal_factor"])
            if outside:
                self.link("outside_diameter", built, shape["outside_diameter_mm"])
                if crown:
                    self.link("crown_sphere_outside_radius", built, required["outside_radius_mm"])
            else:
                self.diameter_on_basis(allowance, built, required)
                if crown:
                    self.link("crown_sphere_radius", {**built, **required}, required["inside_radius_mm"])
        elif kind == "torispherical head":
            self.link("outside_diameter", built, shape["outside_diameter_mm"])
            self.link_or_why("torispherical_factor", built, shape["torispherical_factor"])
            if outside:
                self.link("outside_crown_radius", built, shape["outside_crown_radius_mm"])
                self.same("Ro", "Lo", "outside crown radius: the crown is a sphere of this radius")
            elif allowance:
                self.link("crown_radius_allowance", built, required["crown_radius_mm"])
                self.same("R", "L", "crown radius: the crown is a sphere of this radius")
            else:
                self.same("L", "L_n", "crown radius as built")
                self.same("R", "L_n", "crown radius: the crown is a sphere of this radius")
        elif kind == "cone":
            if outside:
                self.link("outside_diameter", built, shape["outside_diameter_mm"])
            else:
                self.diameter_on_basis(allowance, built, required)
        elif kind == "flat head":
            if allowance:
                self.link("flat_head_diameter_allowance", built, required["flat_head_diameter_mm"])
            else:
                self.same("d", "D_n", "inside diameter as built")

    def diameter_on_basis(self, allowance: bool, built: Row, required: Row) -> None:
        if allowance:
            self.link("inside_diameter_allowance", built, required["inside_diameter_mm"])
        else:
            self.same("D", "D_n", "inside diameter as built")

    def thickness(self, required: Row) -> None:
        formula_id = required["pressure_formula"]
        if formula_id == "cylinder_pressure_thickness":
            for joint in ("longitudinal", "circumferential"):
                self.efficiency(required, joint)
                self.link_or_why(
                    required[f"{joint}_formula"],
                    {**required, "joint_efficiency": required[f"efficiency_{joint}"]},
                    required[f"{joint}_thickness_mm"],
                )
            self.link(formula_id, required, required["pressure_thickness_mm"])
        else:
            self.efficiency(required, "longitudinal")
            inputs = {**required, "joint_efficiency": required["efficiency_longitudinal"]}
            if required["plain_formula"]:
                self.thin_head(required, inputs)
            self.link_or_why(formula_id, inputs, required["pressure_thickness_mm"])
        self.from_basis(
            "t_min", "code_minimum_mm" if self.shape["code_minimum_for"] is None else "code_minimum_air_steam_water_mm"
        )
        if self.shape["code_minimum_for"]:
            self.remarks.append(
                f"The service names “{self.shape['code_minimum_for']}”: the higher code minimum applies."
            )
        self.from_register("t_str", "components", "structural_minimum", "no structural minimum on the register")
        self.external(required)
        if required["neck_formula"]:
            self.origins["t_sh"] = Origin(f"required thickness of {required['parent_component']} at E = 1")
            self.origins["t_std"] = Origin(
                "standard wall (ASME B36.10)", **self.cell_of("components", "nominal_pipe_size")
            )
            self.from_basis("u", "pipe_undertolerance")
            self.link(required["neck_formula"], required, required["neck_minimum_mm"])
            if required["neck_formula"] != "neck_minimum":
                missing = (
                    "nominal pipe size"
                    if required["neck_formula"] == "neck_minimum_without_size"
                    else "requirement of the wall it stands in"
                )
                self.remarks.append(f"UG-45 is applied without the {missing}, on the safe side.")
        self.link(required["required_formula"], required, required["t_req_mm"])
        if not self.cells.get(("components", "structural_minimum")):
            self.remarks.append("No structural minimum is on the register: none is considered.")

    def external(self, required: Row) -> None:
        """Write the links of external pressure at the thickness found, or say where the thickness comes from."""
        if required["external_from"] != "computed":
            none = "no external pressure on the register"
            self.from_register("t_ext", "components", "required_thickness_external", none)
            return
        key = [self.place["asset"], self.place["component"]]
        found = self.explainer.rows("SELECT * FROM step.external_pressure WHERE asset = ? AND component = ?", key)
        if not found or found[0]["external_thickness_mm"] is None:
            self.origins["t_ext"] = Origin("no thickness is enough for the external pressure")
            return
        row = found[0]
        row["thickness_mm"] = row["external_thickness_mm"]
        self.origins["t"] = Origin("found by halving a bracket: the pressure allowed at it is the design one")
        self.from_register("E_y", "components", "elastic_modulus")
        self.from_register("S_y", "components", "yield_strength")
        length = "unsupported_length" if self.part["unsupported_from"] == "unsupported length" else "length"
        self.from_register("L_u", "components", length)
        if row["buckling_form"] == "cylinder" and length == "length":
            self.remarks.append("No unsupported length is on the register: the component's own length is taken.")
        form = row["buckling_form"]
        if form == "cylinder":
            self.link("outside_diameter", {**self.part, **self.shape}, self.shape["outside_diameter_mm"])
            self.link("buckling_length", row, row["buckling_length"])
            self.link("buckling_factor", row, row["buckling_factor"])
        elif self.part["kind"] == "ellipsoidal head":
            self.link("head_buckling_radius", {**self.shape, **row}, row["buckling_radius_mm"])
        else:
            self.origins["R_b"] = Origin("outside radius")
        self.link(f"buckling_stress_{form}", row, row["elastic_buckling_stress_mpa"])
        self.link(f"predicted_stress_{form}", row, row["predicted_buckling_stress_mpa"])
        self.link("external_design_factor", row, row["external_design_factor"])
        self.link(f"external_allowed_{form}", row, row["external_allowed_mpa"])
        cell = self.cell_of("components", "external_pressure")
        self.origins["t_ext"] = Origin("thickness at which the allowable external pressure is the design one", **cell)
        said = (
            f"External pressure: at {show(row['external_thickness_mm'], 'thickness', self.system)} the wall is allowed "
            f"{show(row['external_allowed_mpa'], 'pressure', self.system)}, the design external pressure is "
            f"{show(row['external_pressure_mpa'], 'pressure', self.system)}"
        )
        if math.isclose(row["external_allowed_mpa"], row["external_pressure_mpa"], rel_tol=1e-9):
            self.remarks.append(f"{said}.")
        else:
            self.remarks.append(f"{said}: no thinner wall is allowed it, or covered by the rule.")

    def thin_head(self, required: Row, inputs: Row) -> None:
        """Write the links of a formed head thinner than 0.002 of its crown radius."""
        key = [self.place["asset"], self.place["component"]]
        head = self.explainer.rows("SELECT * FROM step.thin_head WHERE asset = ? AND component = ?", key)[0]
        self.link(required["plain_formula"], inputs, required["plain_thickness_mm"])
        values = {**self.shape, **head}
        if self.part["kind"] == "ellipsoidal head":
            self.link("equivalent_crown_radius", values, head["equivalent_crown_radius_mm"])
            self.link("equivalent_outside_crown_radius", values, head["equivalent_outside_crown_radius_mm"])
            self.link("equivalent_knuckle_radius", values, head["equivalent_knuckle_radius_mm"])
        else:
            for name, words in (("L_e", "crown radius"), ("L_eo", "outside crown radius"), ("r_e", "knuckle radius")):
                self.origins[name] = Origin(words)
        if head["knuckle_thickness_mm"] is None:
            self.remarks.append(
                "By the plain formula the head would be thinner than 0.002 of its crown radius, where App. 1-4(f) (m) "
                f"asks for more. What it lacks: {head['knuckle_missing']}."
            )
            return
        self.from_register("E_y", "components", "elastic_modulus")
        self.from_register("S_y", "components", "yield_strength")
        self.origins["t"] = Origin("found by halving a bracket: the pressure allowed at it is the one at the component")
        values["thickness_mm"] = head["knuckle_thickness_mm"]
        self.knuckle(values, head["pressure_mpa"])
        self.origins["t_bu"] = Origin("thickness at which the knuckle is allowed the pressure: a bracket halved")

    def knuckle(self, values: Row, allowed: float) -> None:
        """Write the links of the pressure a thin head's knuckle is allowed at a thickness, held against `allowed`."""
        self.link("thin_head_c1", values, values["knuckle_factor_1"])
        self.link("thin_head_c2", values, values["knuckle_factor_2"])
        self.link("thin_head_cosine", values, values["knuckle_cosine"])
        for formula_id, column in (
            ("thin_head_angle", "stiffened_angle"),
            ("thin_head_radius", "knuckle_buckling_radius_mm"),
            ("thin_head_elastic_pressure", "knuckle_elastic_pressure_mpa"),
            ("thin_head_yield_pressure", "knuckle_yield_pressure_mpa"),
            ("thin_head_allowed", "thin_head_allowed_mpa"),
        ):
            formula = FORMULAS[formula_id]
            values[column] = formula.evaluate(_values_of(formula, values))
            self.link(formula_id, values, allowed if formula_id == "thin_head_allowed" else values[column])

    def efficiency(self, required: Row, joint: str) -> None:
        if required["region"] == "away":
            self.from_basis("E", "efficiency_away", "the place is away from the welds")
        elif joint == "circumferential" and self.part["efficiency_assumed"]:
            self.from_register("E", "components", "joint_efficiency_longitudinal")
            origin = self.origins["E"]
            self.origins["E"] = Origin(
                "assumed: the longitudinal joint's, none is given", origin.file, origin.sheet, origin.cell, origin.text
            )
            self.remarks.append("No efficiency of the circumferential joint is given: the longitudinal one is taken.")
        else:
            self.from_register("E", "components", f"joint_efficiency_{joint}")
            self.origins["E"] = replace(self.origins["E"], words=self.origins["E"].words or f"{joint} joint")

    def weld_region(self) -> None:
        self.from_basis("w_min", "weld_region_mm")
        self.origins["t_req_w"] = Origin("required thickness in the weld region")
        self.link("weld_region", {**self.explainer.policy, **self.place}, self.place["weld_region_half_width_mm"])
        distance, region = self.place["distance_to_weld_mm"], self.place["weld_region"]
        if region == "unknown":
            text = "The distance to the weld is not known: the joint's own efficiency counts."
            if self.place["verdict_turns_on_weld_distance"]:
                text += " The verdict turns on the weld distance: measure it."
            self.remarks.append(text)
        elif distance is not None:
            self.remarks.append(f"The weld is {show(distance, 'length', self.system)} away: {_region(region)}.")
        else:
            self.remarks.append(f"The locations sheet says “{self.place['weld_region']}”: {_region(region)}.")

    def rates(self) -> None:
        place, policy = self.place, self.explainer.policy
        if place["t_act_mm"] is None:
            return
        self.reading("t_act", place["read_on"])
        self.from_basis("y_d", "days_per_year")
        if place["initial_from"]:
            self.initial_origin()
            self.origins["days"] = Origin(f"from {place['initial_on']} to {place['read_on']}")
            self.link("years_between", {**policy, "days_between": place["days_long"]}, place["years_long"])
            self.link("long_term_rate", {**place, "years_between": place["years_long"]}, place["rate_lt_mm_per_year"])
        if place["previous_on"]:
            self.reading("t_prev", place["previous_on"])
            self.origins["days"] = Origin(f"from {place['previous_on']} to {place['read_on']}")
            self.link("years_between", {**policy, "days_between": place["days_short"]}, place["years_short"])
            self.link("short_term_rate", {**place, "years_between": place["years_short"]}, place["rate_st_mm_per_year"])
            if not place["short_term_counts"]:
                self.remarks.append(
                    "The short-term rate does not govern: the time is short and the loss within the scatter of "
                    "readings. Re-measure."
                )
        self.from_register("C_st", "components", "stated_corrosion_rate")
        chosen = place["rate_chosen_by"] is not None
        if place["rate_from"] in ("fit upper bound", "least squares"):
            self.origins.update({name: Origin("readings of this place") for name in ("Sxx", "Sxy", "Syy", "n")})
            self.origins["q95"] = Origin("Student's t")
            values = {**place, **policy}
            self.link("fit_rate", values, place["rate_fit_mm_per_year"])
            self.link("fit_rate_error", values, place["rate_fit_error_mm_per_year"])
            self.link("fit_upper_bound", values, place["rate_fit_upper_mm_per_year"])
        elif chosen:
            pass  # a named person's choice stands in place of the policy's
        elif place["rate_from"] == "stated" or (
            place["reading_count"] == 1 and place["stated_rate_mm_per_year"] is not None
        ):
            self.link("rate_with_stated", place, place["rate_selected_mm_per_year"])
        elif policy["rate_policy"] == "greater" and place["short_term_counts"]:
            self.link("rate_greater", place, place["rate_selected_mm_per_year"])
        if place["rate_from"]:
            self.origins["C_sel"] = (
                self.choice_origin()
                if chosen
                else Origin(f"{rate_in_words(place['rate_from'])} (policy: {policy['rate_policy']})")
            )
            self.from_basis("C_0", "rate_floor_mm_per_year")
            self.link("rate_governing", {**policy, **place}, place["rate_mm_per_year"])
        brief = self.explainer.rows(
            "SELECT 1 FROM step.history WHERE asset = ? AND component = ? AND location = ? AND scenario = 'in force' "
            "AND is_brief",
            [place["asset"], place["component"], place["location"]],
        )
        if brief:
            self.remarks.append(
                "All readings lie within the shortest interval and differ by no more than scatter does: they say "
                "little of a rate. The higher one of theirs, of the nominal thickness and of a stated rate counts; "
                "measure again."
            )
        if place["initial_from"] == "nominal":
            self.remarks.append("The rate counts from the nominal thickness: it brings mill tolerance with it.")
        if place["epoch_on"]:
            self.remarks.append(f"A new history began on {place['epoch_on']}: no rate crosses it.")
        if place["rate_floor_applied"]:
            self.remarks.append("The plant's floor raised the rate.")
        self.rate_remarks()
        self.origins["s"] = self.basis_origin("reading_scatter_mm")
        self.from_basis("k_s", "band_deviations")
        if place["rate_from"] == "short-term":
            self.link(
                "rate_deviation", {**policy, "years_between": place["years_short"]}, place["rate_deviation_mm_per_year"]
            )
        elif (place["rate_from"] or "").startswith("long-term"):
            self.link(
                "rate_deviation", {**policy, "years_between": place["years_long"]}, place["rate_deviation_mm_per_year"]
            )

    def rate_remarks(self) -> None:
        place = self.place
        if place["rate_chosen_by"]:
            by_policy = "the policy alone would find no rate to select"
            if place["rate_policy_from"]:
                rate = show(place["rate_by_policy_mm_per_year"], "rate", self.system)
                by_policy = f"the policy alone would select {rate} ({place['rate_policy_from']})"
            self.remarks.append(
                f"The rate was chosen by {place['rate_chosen_by']} on {place['rate_chosen_on']} "
                f"(“{place['rate_choice_reason']}”); {by_policy}."
            )
        if place["rate_choice_older"]:
            self.remarks.append("A reading has been taken since the rate was chosen: look at the choice again.")
        if place["rate_choice_refused"]:
            self.remarks.append(f"A choice of a rate on record does not count: {place['rate_choice_refused']}.")
        if place["similar_rate_mm_per_year"] is not None and (place["reading_count"] or 0) < 2:
            part = self.explainer.rows(
                "SELECT similar_places FROM result.component WHERE asset = ? AND component = ?",
                [place["asset"], place["component"]],
            )[0]
            self.remarks.append(
                f"A suggestion for thin data: of {part['similar_places']} places with the same service, material and "
                f"kind nine in ten lose no more than {show(place['similar_rate_mm_per_year'], 'rate', self.system)}. "
                "It counts only when a named person chooses it."
            )

    def choice_origin(self) -> Origin:
        place = self.place
        row = self.explainer.rows(
            "SELECT file, sheet, cell, rate_choice FROM step.rate_choice WHERE asset = ? AND component = ? "
            "AND (location = ? OR location IS NULL) AND chosen_on = ? ORDER BY location IS NULL LIMIT 1",
            [place["asset"], place["component"], place["location"], place["rate_chosen_on"]],
        )[0]
        words = f"{rate_in_words(place['rate_from'])}, chosen by {place['rate_chosen_by']} on {place['rate_chosen_on']}"
        return Origin(words, row["file"] or "", row["sheet"] or "", row["cell"] or "", row["rate_choice"] or "")

    def initial_origin(self) -> None:
        place = self.place
        if place["initial_from"] == "first reading":
            self.reading("t_ini", place["initial_on"])
        elif place["initial_from"] == "nominal":
            self.from_register("t_ini", "components", "nominal_thickness")
        else:
            event = self.explainer.rows(
                "SELECT * FROM step.event WHERE asset = ? AND event_on = ? AND (component = ? OR component IS NULL) "
                "AND new_thickness_mm = ? ORDER BY component NULLS LAST, event",
                [place["asset"], place["initial_on"], place["component"], place["t_initial_mm"]],
            )
            if event:
                row = event[0]
                self.origins["t_ini"] = Origin(
                    f"new thickness of the event: {row['event']}",
                    row["thickness_file"],
                    row["thickness_sheet"] or "",
                    row["thickness_cell"] or "",
                    _as_typed(row["thickness_text"], row["thickness_unit"]),
                )

    def life(self) -> None:
        place = self.place
        self.link("margin", place, place["margin"])
        self.link("remaining_life", place, place["remaining_life_years"])
        if place["state"] == "below required" and place["remaining_life_years"] is None:
            self.remarks.append(
                "Below the required thickness: no life is left, whatever the rate, and the place is due at once, from "
                f"the day it was read, {place['read_on']}."
            )
            return
        if place["no_measurable_loss"]:
            self.remarks.append("No measurable loss: the life has no end, the interval is its cap.")
            return
        known = self.interval(place)
        if place["first_check_on"] and place["due_on"] == place["first_check_on"]:
            self.remarks.append(
                "No two readings give the rate of this service yet: the first check reading is due 3 to 6 months after "
                f"its start, by {place['first_check_on']} (API 510 7.1.2 (m))."
            )
        elif known and place["due_on"] and place["read_on"]:
            said = self.whole_days(place["interval_years"], place["read_on"], place["due_on"])
            self.remarks.append(f"{said}; required thickness reached on {place['retirement_on']}.")

    def interval(self, row: Row) -> bool:
        """Write the link of the interval a remaining life allows; False where there is none."""
        cap = self.explainer.rows("SELECT * FROM step.cap WHERE asset = ? AND kind = 'thickness'", [row["asset"]])[0]
        self.origins["cap"] = (
            Origin(cap["cap_from"], cap["file"] or "", cap["sheet"] or "", cap["cell"] or "")
            if cap["cap_from"] != "cap"
            else self.basis_origin("internal_cap_years")
        )
        self.from_basis("short", "short_life_cap_years")
        return self.link("interval", {**self.explainer.policy, **row}, row["interval_years"])

    def whole_days(self, interval: float, since: date, due_on: date) -> str:
        """Write the link of an interval in whole days; return the date it gives, in words."""
        days = (due_on - since).days
        self.from_basis("y_d", "days_per_year")
        self.from_basis("guard", "day_guard")
        self.origins["years"] = Origin("the interval")
        self.link("whole_days", {**self.explainer.policy, "years_between": interval}, float(days))
        if not days:
            return f"Due on {due_on}, the day it was read"
        return f"Due {due_on}: {noun(days, 'day')} after {since}"

    def held_pressure(self, required: Row) -> None:
        place = self.place
        held = self.explainer.rows(
            "SELECT * FROM step.pressure_held WHERE asset = ? AND component = ? AND location = ?",
            [place["asset"], place["component"], place["location"]],
        )
        if not held:
            return
        row = held[0]
        if row["not_held_because"]:
            self.remarks.append(f"The pressure this wall holds is not known. Missing: {row['not_held_because']}.")
        if row["holding_pressure_mpa"] is None:
            return
        self.origins["t"] = Origin("last reading")
        inputs = {
            **required,
            **row,
            "thickness_mm": row["t_act_mm"],
            "joint_efficiency": required["efficiency_longitudinal"],
        }
        if row["hold_formula"] == "hold_cylinder":
            for joint in ("longitudinal", "circumferential"):
                self.efficiency_quietly(required, joint)
                self.link(
                    row[f"{joint}_formula"],
                    {**inputs, "joint_efficiency": required[f"efficiency_{joint}"]},
                    row[f"holding_pressure_{joint}_mpa"],
                )
        if row["hold_formula"] == "hold_thin_head":
            key = [place["asset"], place["component"]]
            head = self.explainer.rows("SELECT * FROM step.thin_head WHERE asset = ? AND component = ?", key)[0]
            self.link(row["plain_hold_formula"], inputs, row["plain_holding_pressure_mpa"])
            self.knuckle({**self.shape, **head, "thickness_mm": row["t_act_mm"]}, row["thin_head_allowed_mpa"])
        self.link(row["hold_formula"], inputs, row["holding_pressure_mpa"])
        self.link("mawp", row, row["mawp_mpa"])

    def efficiency_quietly(self, required: Row, joint: str) -> None:
        said = list(self.remarks)
        self.efficiency(required, joint)
        self.remarks = said

    # ---- origins -----------------------------------------------------------------------------------------------------

    def cell_of(self, kind: str, column: str) -> dict[str, str]:
        row = self.cells.get((kind, column))
        if row is None:
            return {}
        return {
            "file": row["file"] or "",
            "sheet": row["sheet"] or "",
            "cell": row["cell"] or "",
            "text": _as_typed(row["text"], row["unit"]),
        }

    def from_register(self, name: str, kind: str, column: str, otherwise: str = "not on the register") -> None:
        cell = self.cell_of(kind, column)
        self.origins[name] = Origin("", **cell) if cell else Origin(otherwise)

    def basis_origin(self, key: str, words: str = "") -> Origin:
        reference = self.explainer.references[key]
        said = f"basis: {reference['label']} ({reference['reference']})"
        return Origin(f"{said}; {words}" if words else said)

    def from_basis(self, name: str, key: str, words: str = "") -> None:
        self.origins[name] = self.basis_origin(key, words)

    def reading(self, name: str, on: date) -> None:
        for row in self.readings:
            if row["read_on"] == on and row["status"] == "used":
                self.origins[name] = Origin(
                    f"read on {on}", row["file"], row["sheet"] or "", row["cell"], _as_typed(row["text"], row["unit"])
                )

    def same(self, name: str, as_name: str, words: str) -> None:
        origin = self.origins.get(as_name, Origin(""))
        self.origins[name] = Origin(words, origin.file, origin.sheet, origin.cell, origin.text)

    # ---- one link ----------------------------------------------------------------------------------------------------

    def link_or_why(self, formula_id: str | None, row: Mapping[str, Any], stored: float | None) -> None:
        """Add the link of a clause; where it does not hold, a remark on each of its limits that is not met."""
        if self.link(formula_id, row, stored) or formula_id is None:
            return
        formula = FORMULAS[formula_id]
        self.remarks.extend(
            f"{formula.clause} does not hold here: {limit.otherwise}."
            for limit in formula.unmet_limits(_values_of(formula, row))
        )

    def link(self, formula_id: str | None, row: Mapping[str, Any], stored: float | None) -> bool:
        """Add the link of a clause with the inputs of `row`; False where an input is missing or a limit is not met."""
        if formula_id is None:
            return False
        formula = FORMULAS[formula_id]
        values = _values_of(formula, row)
        result = formula.evaluate(values)
        if result is None:
            if stored is not None:
                self.links.append(self.broken(formula, stored))
            return False
        fault = ""
        if stored is None or not math.isclose(result, stored, rel_tol=1e-9, abs_tol=1e-12):
            fault = f"{formula.title}: recomputed {result!r}, stored {stored!r}; do not use this number, build anew"
        shown = {name: _number(value, QUANTITIES[name], self.system) for name, value in values.items()}
        typeset = {name: text.replace("−", "-") for name, text in shown.items()}
        inputs = tuple(
            Input(
                name,
                QUANTITIES[name].symbol,
                QUANTITIES[name].label,
                value,
                _with_unit(value, QUANTITIES[name], self.system),
                self.origins.get(name, Origin("unknown origin")),
            )
            for name, value in values.items()
        )
        quantity = formula.result_quantity
        self.links.append(
            Link(
                formula.id,
                formula.title,
                formula.clause,
                formula.document,
                formula.note,
                formula.plain(),
                formula.plain_values(values, shown),
                formula.typeset(),
                formula.typeset_values(values, typeset),
                quantity.name,
                quantity.label,
                result,
                _with_unit(result, quantity, self.system),
                inputs,
                fault,
                self.chapter,
            )
        )
        self.origins[quantity.name] = Origin(f"step {len(self.links)}")
        return True

    def broken(self, formula: Formula, stored: float) -> Link:
        quantity = formula.result_quantity
        return Link(
            formula.id,
            formula.title,
            formula.clause,
            formula.document,
            formula.note,
            formula.plain(),
            "",
            formula.typeset(),
            "",
            quantity.name,
            quantity.label,
            stored,
            _with_unit(stored, quantity, self.system),
            (),
            f"{formula.title}: the stored {stored!r} cannot be recomputed from the stored inputs; build anew",
            self.chapter,
        )


def _values_of(formula: Formula, row: Mapping[str, Any]) -> dict[str, float]:
    values = {}
    for quantity in formula.inputs:
        value = row.get(quantity.column)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            values[quantity.name] = float(value)
    return values


def _number(value: float, quantity: Quantity, system: str) -> str:
    """Return a number as it stands in a shown equation: coherent unit, eight digits, brackets when negative."""
    shown, _ = in_coherent_unit(value, quantity.unit, system)
    text = f"{shown:.8g}"
    if "e" in text:
        text = f"{shown:.12f}".rstrip("0") if abs(shown) < 1 else f"{shown:.0f}"
    return f"({minus(text)})" if shown < 0 else text


def _with_unit(value: float, quantity: Quantity, system: str) -> str:
    shown, unit = in_coherent_unit(value, quantity.unit, system)
    text = f"{shown:.6g}"
    if "e" in text:
        text = f"{shown:.9f}".rstrip("0") if abs(shown) < 1 else f"{shown:,.0f}"
    text = minus(text)
    if unit in ("year", "month", "day") and text.removeprefix("−") != "1":
        unit += "s"
    plain = text if unit == "-" else f"{text} {unit}"
    if quantity.kind == "rate" and system == "us":
        return f"{plain} ({show(value, 'rate', system)})"
    if quantity.kind == "angle":
        return f"{text}°"
    return plain


def _as_typed(text: str | None, unit: str | None) -> str:
    """Return a cell as it stood, with the unit its heading gives where the cell itself does not."""
    said = text or ""
    return f"{said} {unit}" if unit and unit not in said and unit != "-" else said


def _region(region: str) -> str:
    return "away from the weld, E = 1.0" if region == "away" else "in the weld region, the joint's own efficiency"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (date, timedelta)):
        return str(value)
    return value
