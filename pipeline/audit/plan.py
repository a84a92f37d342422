"""Which formula gives each result of a component: the clause the program chose, over the cells of its own row.

No clause is written here. What stands here are the choices among clauses and cells, read from the results; a choice
that turns on a number carries the condition under which it holds, so that a changed input cannot outlive it unseen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pipeline.audit.inputs import Given
from pipeline.audit.layout import KNUCKLE, is_thin, policy_name
from pipeline.audit.results import Results, Row, or_blank
from pipeline.formulas import FORMULAS
from pipeline.quantities import QUANTITIES


@dataclass(frozen=True)
class Clause:
    """A clause with the cell of each symbol: `i:` an input, `c:` a result of the same row, `p:` a policy."""

    formula: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Same:
    """Another cell of the row, as long as what made the program choose it still holds."""

    token: str
    holds: str = ""
    clause: str = ""


@dataclass(frozen=True)
class Zero:
    """No interval: the wall is below its requirement although it loses nothing, or nobody knows what it loses."""

    holds: str


@dataclass(frozen=True)
class Days:
    """Days from one date to another."""

    first: str
    last: str


@dataclass(frozen=True)
class DateAfter:
    """A date some whole days after another."""

    first: str
    days: str


@dataclass(frozen=True)
class Earlier:
    """The earlier of a date some whole days after another, and a third date; that one alone where there are no days."""

    first: str
    days: str
    other: str


Planned = Clause | Same | Zero | Days | DateAfter | Earlier
_KNUCKLE_CLAUSES = tuple(
    f"thin_head_{name}" for name in ("angle", "radius", "elastic_pressure", "yield_pressure", "allowed")
)
#: A root counts as found while the two sides agree to this part of each other.
_SOLVED = 1e-9
_SIZES = ("R", "Ro", "D", "Do", "L", "Lo", "d")
_HELD = (
    *("hold_formula", "longitudinal_formula", "circumferential_formula", "plain_hold_formula"),
    *("holding_pressure_mpa", "holding_pressure_longitudinal_mpa", "holding_pressure_circumferential_mpa"),
    "plain_holding_pressure_mpa",
)
_NO_LOSS = "no measurable loss: the life has no end"
_NO_LIFE = "below the required thickness: no life is left"


def _solved(token: str, wanted: str) -> str:
    """Return the condition that a cell is the value another one names, as a root makes it."""
    return f"ABS({{{token}}}-{{{wanted}}})<={_SOLVED!r}*{{{wanted}}}"


class Plan:
    """Chooses the formula of each result of one component, as the program chose it; a string is a reason for none."""

    def __init__(self, results: Results, row: Row, given: Mapping[str, Given]) -> None:
        self.policy = results.policy
        self.part, self.shape, self.whole = row["part"], row["shape"], row["whole"]
        self.place, self.needed, self.held = (or_blank(row[name]) for name in ("place", "needed", "held"))
        self.pressed = {"weld": or_blank(row["pressed_weld"]), "away": or_blank(row["pressed_away"])}
        self.required = {"weld": or_blank(row["required_weld"]), "away": or_blank(row["required_away"])}
        self.vessel = or_blank(row["vessel"])
        self.outer, self.head_as_torispherical = (or_blank(row[name]) for name in ("external", "thin_head"))
        self.given = given
        self.steps: dict[str, Planned | str] = {}
        self.stored: dict[str, Any] = {}
        self.size_symbol = ""
        self.head = "c:P_head" if self.shape["head_considered"] else "i:P_head"
        self.inside = "i:D_n" if self.part["outside_diameter_stated_mm"] is None else "c:D_n"
        self.pressure()
        self.dimensions()
        self.external()
        self.knuckle(is_thin(row))
        self.thickness()
        self.counted()
        self.rates()
        self.life()
        self.next_inside()
        self.pressure_held("", "i:t_act")
        self.pressure_held("_next", "c:t_next")

    # ---- small words ------------------------------------------------------------------------------------------------

    def clause(self, key: str, formula: str, stored: Any, /, **cells: str) -> None:
        """Plan a clause over the cells of its symbols, with the value the program has for it."""
        self.steps[key] = Clause(formula, tuple(sorted(cells.items())))
        self.stored[key] = stored

    def same_as(self, key: str, token: str, stored: Any, holds: str = "", clause: str = "") -> None:
        """Plan a copy of another cell, while a condition holds, with the words that stand for a clause."""
        self.steps[key] = Same(token, holds, clause)
        self.stored[key] = stored

    def none(self, key: str, reason: str) -> None:
        """Plan no result, for a reason."""
        self.steps[key] = reason

    @property
    def missing(self) -> str:
        return self.place["missing"] or self.whole["missing"] or "not assessable"

    # ---- pressure and dimensions ------------------------------------------------------------------------------------

    def pressure(self) -> None:
        if self.shape["head_considered"]:
            self.clause(
                "P_head",
                "static_head",
                self.shape["static_head_mpa"],
                g_w="p:water_head_mpa_per_mm",
                SG="i:SG",
                H="i:H",
            )
        self.clause("P", "component_pressure", self.shape["pressure_mpa"], P_top="i:P_top", P_head=self.head)

    def dimensions(self) -> None:
        part, shape, row = self.part, self.shape, self.pressed["weld"]
        if row["kind"] is None:
            self.none("size", f"missing: {self.missing}")
            return
        kind, crown = row["kind"], row["zone"] == "crown"
        outside, allowance = row["dimension_form"] == "outside", row["radius_basis"] == "allowance"
        if self.inside == "c:D_n":
            self.clause(
                "D_n", "inside_diameter_from_outside", shape["inside_diameter_as_built_mm"], Do="i:Do", t_nom="i:t_nom"
            )
        if kind in ("cylinder", "nozzle", "sphere", "hemispherical head"):
            self.clause("R_n", "inside_radius_as_built", shape["inside_radius_as_built_mm"], D_n=self.inside)
            if outside:
                self.size("Ro", "outside_radius", R_n="c:R_n", t_nom="i:t_nom")
            elif allowance:
                self.size("R", "inside_radius_allowance", R_n="c:R_n", CA="i:CA")
            else:
                self.same_size("R", "c:R_n", "inside radius as built")
        elif kind == "ellipsoidal head":
            self.ellipsoidal(crown, outside, allowance)
        elif kind == "torispherical head":
            if not crown:
                diameter = self.outside_diameter()
                self.clause(
                    "M", "torispherical_factor", shape["torispherical_factor"], L_n="i:L_n", r="i:r", Do=diameter
                )
            if outside:
                self.size("Ro" if crown else "Lo", "outside_crown_radius", L_n="i:L_n", t_nom="i:t_nom")
            elif allowance:
                self.size("R" if crown else "L", "crown_radius_allowance", L_n="i:L_n", CA="i:CA")
            else:
                self.same_size("R" if crown else "L", "i:L_n", "crown radius as built")
        elif kind == "cone":
            self.diameter_in_clause(outside, allowance)
        elif allowance:
            self.size("d", "flat_head_diameter_allowance", D_n=self.inside, CA="i:CA")
        else:
            self.same_size("d", self.inside, "inside diameter as built")
        self.stored["D_n"] = shape["inside_diameter_as_built_mm"]
        self.stored["h"] = shape["head_depth_mm"] if part["head_depth_mm"] is None else None

    def ellipsoidal(self, crown: bool, outside: bool, allowance: bool) -> None:
        shape = self.shape
        depth = "i:h"
        if self.part["head_depth_mm"] is None and self.part["is_two_to_one"]:
            self.clause("h", "head_depth_two_to_one", shape["head_depth_mm"], D_n=self.inside)
            depth = "c:h"
        self.clause("x", "ellipsoidal_proportion", shape["proportion"], D_n=self.inside, h=depth)
        table = {name: f"i:{name}" for name in ("k_a", "k_b", "x_a", "x_b")}
        self.clause("K1", "spherical_factor", shape["spherical_factor"], x="c:x", **table)
        if not crown:
            self.clause("K", "ellipsoidal_factor", shape["ellipsoidal_factor"], D_n=self.inside, h=depth)
            self.diameter_in_clause(outside, allowance)
        elif outside:
            self.size("Ro", "crown_sphere_outside_radius", K1="c:K1", D_n=self.inside, t_nom="i:t_nom")
        else:
            diameter = self.diameter_with_allowance() if allowance else self.inside
            self.size("R", "crown_sphere_radius", K1="c:K1", D=diameter)

    def diameter_in_clause(self, outside: bool, allowance: bool) -> None:
        if outside:
            self.same_size("Do", self.outside_diameter(), "outside diameter as built")
        elif allowance:
            self.same_size("D", self.diameter_with_allowance(), "inside diameter with the corrosion allowance gone")
        else:
            self.same_size("D", self.inside, "inside diameter as built")

    def outside_diameter(self) -> str:
        if self.part["outside_diameter_stated_mm"] is not None:
            return "i:Do"
        self.clause("Do", "outside_diameter", self.shape["outside_diameter_mm"], D_n=self.inside, t_nom="i:t_nom")
        return "c:Do"

    def diameter_with_allowance(self) -> str:
        stored = self.pressed["weld"]["inside_diameter_mm"]
        self.clause("D", "inside_diameter_allowance", stored, D_n=self.inside, CA="i:CA")
        return "c:D"

    def size(self, symbol: str, formula: str, **cells: str) -> None:
        self.size_symbol = symbol
        self.clause("size", formula, self.pressed["weld"][QUANTITIES[symbol].column], **cells)

    def same_size(self, symbol: str, token: str, words: str) -> None:
        self.size_symbol = symbol
        self.same_as("size", token, self.pressed["weld"][QUANTITIES[symbol].column], clause=words)

    # ---- external pressure and thin heads ---------------------------------------------------------------------------

    def external(self) -> None:
        """Plan the external pressure allowed at the thickness found, which holds while that is the design pressure."""
        row, kind = self.outer, self.part["kind"]
        if row["buckling_form"] is None:
            return
        form, wall = row["buckling_form"], {"t": "i:t_ext"}
        if form == "cylinder":
            wall["Do"] = self.outside_diameter()
            self.clause("M_x", "buckling_length", row["buckling_length"], L_u="i:L_u", **wall)
            self.clause("C_h", "buckling_factor", row["buckling_factor"], M_x="c:M_x", **wall)
            wall["C_h"] = "c:C_h"
        else:
            self.buckling_radius(kind, row["buckling_radius_mm"])
            wall["R_b"] = "c:R_b"
        stress = row["elastic_buckling_stress_mpa"]
        self.clause("F_he", f"buckling_stress_{form}", stress, E_y="i:E_y", **wall)
        stress = row["predicted_buckling_stress_mpa"]
        self.clause("F_ic", f"predicted_stress_{form}", stress, S_y="i:S_y", F_he="c:F_he")
        self.clause("F_S", "external_design_factor", row["external_design_factor"], F_ic="c:F_ic", S_y="i:S_y")
        wall.pop("C_h", None)
        allowed = row["external_allowed_mpa"]
        self.clause("P_a", f"external_allowed_{form}", allowed, F_ic="c:F_ic", F_S="c:F_S", **wall)
        holds = "{c:P_a}>={i:P_ext}"
        if allowed is not None and math.isclose(allowed, row["external_pressure_mpa"], rel_tol=_SOLVED):
            holds = _solved("c:P_a", "i:P_ext")
        self.same_as("t_ext", "i:t_ext", row["external_thickness_mm"], holds)

    def buckling_radius(self, kind: str, stored: float | None) -> None:
        if kind == "ellipsoidal head":
            self.clause("R_b", "head_buckling_radius", stored, K1="c:K1", Do=self.outside_diameter())
        elif kind == "torispherical head":
            self.clause("R_b", "outside_crown_radius", stored, L_n="i:L_n", t_nom="i:t_nom")
        else:
            self.clause("R_b", "outside_radius", stored, R_n="c:R_n", t_nom="i:t_nom")

    def knuckle(self, thin: bool) -> None:
        """Plan the pressure the knuckle of a thin head is allowed, at the thickness found and at the last reading."""
        head = self.head_as_torispherical
        if not thin:
            return
        sizes = {"L_e": "equivalent_crown_radius_mm", "L_eo": "equivalent_outside_crown_radius_mm"}
        stored = {name: head[column] for name, column in sizes.items()}
        if self.part["kind"] == "ellipsoidal head":
            self.clause("L_e", "equivalent_crown_radius", stored["L_e"], K1="c:K1", D_n=self.inside)
            outside = self.outside_diameter()
            self.clause("L_eo", "equivalent_outside_crown_radius", stored["L_eo"], K1="c:K1", Do=outside)
            knuckle = head["equivalent_knuckle_radius_mm"]
            self.clause("r_e", "equivalent_knuckle_radius", knuckle, D_n=self.inside, x="c:x")
        else:
            self.same_as("L_e", "i:L_n", stored["L_e"], clause="crown radius as built")
            self.clause("L_eo", "outside_crown_radius", stored["L_eo"], L_n="i:L_n", t_nom="i:t_nom")
            self.same_as("r_e", "i:r", head["equivalent_knuckle_radius_mm"], clause="knuckle radius as built")
        cells = {"r_e": "c:r_e", "D_n": self.inside}
        self.clause("C1", "thin_head_c1", head["knuckle_factor_1"], **cells)
        self.clause("C2", "thin_head_c2", head["knuckle_factor_2"], **cells)
        self.clause("c_b", "thin_head_cosine", head["knuckle_cosine"], L_e="c:L_e", **cells)
        known = {
            "L_e": stored["L_e"],
            "r_e": head["equivalent_knuckle_radius_mm"],
            "D_n": head["inside_diameter_as_built_mm"],
            "C1": head["knuckle_factor_1"],
            "C2": head["knuckle_factor_2"],
            "c_b": head["knuckle_cosine"],
            "E_y": head["elastic_modulus_mpa"],
            "S_y": head["yield_strength_mpa"],
        }
        held = self.held
        self.knuckle_at("bu", "i:t_bu", {**known, "t": head["knuckle_thickness_mm"]}, self.shape["pressure_mpa"])
        self.knuckle_at("act", "i:t_act", {**known, "t": self.place["t_act_mm"]}, held["thin_head_allowed_mpa"])
        then = {**known, "t": self.place["t_next_mm"]}
        self.knuckle_at("next", "c:t_next", then, held["next_thin_head_allowed_mpa"])
        self.same_as("t_bu", "i:t_bu", head["knuckle_thickness_mm"], _solved("c:P_th_bu", "c:P"))

    def knuckle_at(self, at: str, wall: str, known: dict[str, float | None], allowed: float | None) -> None:
        """Plan the clauses of the knuckle at one thickness; the program keeps of them what is allowed in the end."""
        cells = {name: f"i:{name}" for name in ("E_y", "S_y")}
        cells |= {name: f"c:{name}" for name in ("L_e", "r_e", "C1", "C2", "c_b")}
        cells |= {"D_n": self.inside, "t": wall}
        for name, clause in zip(KNUCKLE, _KNUCKLE_CLAUSES, strict=True):
            formula = FORMULAS[clause]
            known[name] = formula.evaluate(known)
            wanted = [quantity.name for quantity in formula.inputs]
            stored = allowed if name == "P_th" and known[name] is not None and allowed is not None else known[name]
            self.clause(f"{name}_{at}", clause, stored, **{symbol: cells[symbol] for symbol in wanted})
            cells[name] = f"c:{name}_{at}"

    # ---- required thickness -----------------------------------------------------------------------------------------

    def thickness(self) -> None:
        neck = self.required["weld"]["neck_formula"]
        # Without a service nobody knows that the smaller minimum holds.
        plain = self.shape["code_minimum_for"] is None and self.vessel["service"] is not None
        minimum = "p:code_minimum_mm" if plain else "p:code_minimum_air_steam_water_mm"
        if neck:
            cells = {"t_sh": "i:t_sh", "t_min": minimum, "t_std": "i:t_std", "u": "p:pipe_undertolerance"}
            wanted = {quantity.name for quantity in FORMULAS[neck].inputs}
            stored = self.required["weld"]["neck_minimum_mm"]
            self.clause("t_neck", neck, stored, **{name: cells[name] for name in cells if name in wanted})
        elif self.part["kind"] == "nozzle":
            self.none("t_neck", f"missing: {self.required['weld']['not_required_because'] or self.missing}")
        for region in ("weld", "away"):
            pressed, required = self.pressed[region], self.required[region]
            formula = pressed["pressure_formula"]
            if formula is None:
                for key in ("t_p", "t_req"):
                    self.none(f"{key}_{region}", f"missing: {self.missing}")
                continue
            if formula == "cylinder_pressure_thickness":
                for key, joint in (("t_L", "longitudinal"), ("t_C", "circumferential")):
                    stored = pressed[f"{joint}_thickness_mm"]
                    self.over_wall(f"{key}_{region}", pressed[f"{joint}_formula"], stored, region, joint)
                self.clause(
                    f"t_p_{region}",
                    formula,
                    pressed["pressure_thickness_mm"],
                    t_L=f"c:t_L_{region}",
                    t_C=f"c:t_C_{region}",
                )
            elif pressed["plain_formula"]:
                plain = pressed["plain_thickness_mm"]
                self.over_wall(f"t_L_{region}", pressed["plain_formula"], plain, region, "longitudinal")
                cells = {"t_pl": f"c:t_L_{region}", "t_bu": "c:t_bu", "L_eo": "c:L_eo"}
                self.clause(f"t_p_{region}", formula, pressed["pressure_thickness_mm"], **cells)
            else:
                self.over_wall(f"t_p_{region}", formula, pressed["pressure_thickness_mm"], region, "longitudinal")
            least = {"t_neck": "c:t_neck"} if self.part["kind"] == "nozzle" else {"t_min": minimum}
            self.clause(
                f"t_req_{region}",
                required["required_formula"],
                required["t_req_mm"],
                t_p=f"c:t_p_{region}",
                t_str="i:t_str",
                t_ext="c:t_ext" if self.outer["buckling_form"] else "i:t_ext",
                **least,
            )

    def over_wall(self, key: str, formula: str, stored: Any, region: str, joint: str, wall: str = "i:t_act") -> None:
        """Plan a clause over pressure or thickness, stress, efficiency and the sizes and factors of the wall."""
        cells = {
            "P": "c:P",
            "t": wall,
            "S": "i:S",
            "E": "p:efficiency_away" if region == "away" else "i:E_L" if joint == "longitudinal" else "i:E_C",
            "K": "c:K",
            "K1": "c:K1",
            "M": "c:M",
            "alpha": "i:alpha",
            "C": "i:C",
            **dict.fromkeys(_SIZES, "c:size"),
        }
        wanted = [quantity.name for quantity in FORMULAS[formula].inputs]
        self.clause(key, formula, stored, **{name: cells[name] for name in wanted})

    def counted(self) -> None:
        place, region = self.place, self.place["region_counted"]
        if region is None:
            self.none("t_req", f"missing: {self.missing}")
            return
        self.clause(
            "w", "weld_region", place["weld_region_half_width_mm"], w_min="p:weld_region_mm", t_req_w="c:t_req_weld"
        )
        measured = place["distance_to_weld_mm"] is not None and place["weld_region_half_width_mm"] is not None
        holds = ""
        if measured and self.needed["region_stated"] != "weld":
            holds = "{i:distance}>{c:w}" if region == "away" else "{i:distance}<={c:w}"
        self.same_as("t_req", f"c:t_req_{region}", place["t_req_mm"], holds)

    # ---- rates, life, dates -----------------------------------------------------------------------------------------

    def rates(self) -> None:
        place = self.place
        for key, days, first, past, rate, stored in (
            ("long", "days_long", "initial_on", "t_ini", "LT", "rate_lt_mm_per_year"),
            ("short", "days_short", "previous_on", "t_prev", "ST", "rate_st_mm_per_year"),
        ):
            self.steps[days] = Days(f"i:{first}", "i:read_on")
            self.stored[days] = place[days]
            self.clause(f"years_{key}", "years_between", place[f"years_{key}"], days=f"c:{days}", y_d="p:days_per_year")
            formula = "long_term_rate" if key == "long" else "short_term_rate"
            cells = {past: f"i:{past}", "t_act": "i:t_act", "years": f"c:years_{key}"}
            self.clause(rate, formula, place[stored], **cells)
        if self.policy["rate_policy"] == "fit upper bound":
            sums = {name: f"i:{name}" for name in ("Sxx", "Sxy", "Syy", "n")}
            year = {"y_d": "p:days_per_year"}
            self.clause("fit", "fit_rate", place["rate_fit_mm_per_year"], Sxx="i:Sxx", Sxy="i:Sxy", **year)
            self.clause("fit_se", "fit_rate_error", place["rate_fit_error_mm_per_year"], **sums, **year)
            bound = place["rate_fit_upper_mm_per_year"]
            self.clause("fit_up", "fit_upper_bound", bound, fit="c:fit", q95="i:q95", fit_se="c:fit_se")
        self.selected_rate()
        self.clause("C_r", "rate_governing", place["rate_mm_per_year"], C_sel="c:C_sel", C_0="p:rate_floor_mm_per_year")

    def selected_rate(self) -> None:
        """Plan the rate that the policy selects, in the order of the steps: stated, bound, greater, one alone."""
        place, chosen = self.place, self.place["rate_selected_mm_per_year"]
        word, counts = place["rate_from"], place["short_term_counts"]
        if word is None:
            self.none("C_sel", f"missing: {self.missing}")
        elif place["rate_chosen_by"] is not None:
            token = "c:LT" if word.startswith("long-term") else "c:ST" if word == "short-term" else "i:C_chosen"
            self.same_as("C_sel", token, chosen, clause=f"{word}, chosen by {place['rate_chosen_by']}")
        elif word == "stated" or (place["reading_count"] < 2 and place["stated_rate_mm_per_year"] is not None):
            if place["rate_lt_mm_per_year"] is None:
                self.same_as("C_sel", "i:C_st", chosen, clause="the rate stated on the register")
            else:
                self.clause("C_sel", "rate_with_stated", chosen, LT="c:LT", C_st="i:C_st")
        elif word == "fit upper bound":
            self.same_as("C_sel", "c:fit_up", chosen, clause="policy: fit upper bound")
        elif word == "short-term" and self.policy["rate_policy"] == "short-term":
            self.same_as("C_sel", "c:ST", chosen, self.short_holds(True), "policy: short-term")
        elif counts and self.policy["rate_policy"] != "long-term" and place["reading_count"] >= 2:
            self.clause("C_sel", "rate_greater", chosen, LT="c:LT", ST="c:ST")
        elif place["previous_on"] is not None and self.policy["rate_policy"] != "long-term":
            self.same_as(
                "C_sel", "c:LT", chosen, self.short_holds(False), "long-term: the short-term change is scatter"
            )
        else:
            self.same_as("C_sel", "c:LT", chosen, clause=word)

    def short_holds(self, counts: bool) -> str:
        """Return the condition under which the short-term rate counts, or does not: long enough, or beyond scatter."""
        noise = FORMULAS["noise_limit"].sheet_formula({"s": policy_name("reading_scatter_mm")}).removeprefix("=")
        least = policy_name("short_interval_years")
        rule = f"OR({{c:years_short}}>={least},{{i:t_prev}}-{{i:t_act}}>{noise})"
        return rule if counts else f"NOT({rule})"

    def life(self) -> None:
        place = self.place
        cells = {"t_act": "i:t_act", "t_req": "c:t_req"}
        self.clause("m", "margin", place["margin"], **cells)
        endless = _NO_LIFE if place["state"] == "below required" else _NO_LOSS
        if place["no_measurable_loss"]:
            self.none("RL", endless)
        else:
            self.clause("RL", "remaining_life", place["remaining_life_years"], C_r="c:C_r", **cells)
        self.interval("I", "i:cap", place["interval_years"])
        never_read = place["read_on"] is None
        if place["location"] is None:
            for key in ("days_due", "due_on"):
                self.none(key, f"missing: {self.missing}")
        else:
            self.due("wall_since_on" if never_read else "read_on", "i:cap" if never_read else "c:I")
        if place["no_measurable_loss"]:
            self.none("days_left", endless)
            self.none("retirement_on", endless)
        elif place["retirement_on"] is None and place["remaining_life_years"] is not None:
            for key in ("days_left", "retirement_on"):
                self.none(key, "no date: it lies centuries away")
        else:
            self.dates("days_left", "retirement_on", "read_on", "c:RL", place["retirement_on"])

    def interval(self, key: str, cap: str, stored: float | None) -> None:
        """Plan an interval under its cap; without loss it is the cap, or none where the wall is too thin already."""
        place = self.place
        known = place["t_act_mm"] is not None and place["t_req_mm"] is not None
        below = known and place["t_act_mm"] < place["t_req_mm"]
        if below and place["remaining_life_years"] is None:
            self.steps[key], self.stored[key] = Zero("{i:t_act}<{c:t_req}"), stored
        elif known and place["no_measurable_loss"]:
            self.same_as(key, cap, stored, "AND({c:C_r}=0,{i:t_act}>={c:t_req})")
        else:
            self.clause(key, "interval", stored, RL="c:RL", cap=cap, short="p:short_life_cap_years")

    def due(self, anchor: str, years: str) -> None:
        """Plan the day by which the place is measured again: by its interval, or sooner for the first check."""
        place, check_on = self.place, self.place["first_check_on"]
        if check_on is None:
            self.dates("days_due", "due_on", anchor, years, place["due_on"])
            return
        self.days("days_due", years, place["interval_years"] if years == "c:I" else place["cap_years"])
        self.days("days_check", "p:first_check_years", self.policy["first_check_years"])
        self.steps["check_on"] = DateAfter("i:started_on", "c:days_check")
        self.stored["check_on"] = check_on
        self.steps["due_on"] = Earlier(f"i:{anchor}", "c:days_due", "c:check_on")
        self.stored["due_on"] = place["due_on"]

    def days(self, key: str, years: str, stored: float | None) -> None:
        """Plan the whole days of a number of years."""
        policy = {"y_d": self.policy["days_per_year"], "guard": self.policy["day_guard"]}
        whole = None if stored is None else FORMULAS["whole_days"].evaluate({**policy, "years": stored})
        self.clause(key, "whole_days", whole, years=years, y_d="p:days_per_year", guard="p:day_guard")

    def next_inside(self) -> None:
        """Plan interval and date of the next internal inspection, and the wall left by then after twice the loss."""
        place = self.place
        self.interval("I_inside", "i:cap_inside", place["internal_interval_years"])
        self.dates("days_inside", "inside_on", "read_on", "c:I_inside", place["internal_due_on"])
        cells = {"t_act": "i:t_act", "C_r": "c:C_r", "interval": "c:I_inside"}
        self.clause("t_next", "thickness_at_next", place["t_next_mm"], **cells)

    def dates(self, days: str, on: str, anchor: str, years: str, stored: Any) -> None:
        first = self.given[anchor].value
        where, _, key = years.partition(":")
        self.days(days, years, self.given[key].value if where == "i" else self.stored.get(key))
        if isinstance(stored, date) and isinstance(first, date):
            self.stored[days] = (stored - first).days
        # Elsewhere, as for a date beyond the year 9999, which comes as text, the days are those of the years.
        if isinstance(stored, str):
            self.none(on, f"{stored}: a date that no sheet holds")
            return
        self.steps[on] = DateAfter(f"i:{anchor}", f"c:{days}")
        self.stored[on] = stored

    # ---- pressure held ----------------------------------------------------------------------------------------------

    def pressure_held(self, at: str, wall: str) -> None:
        """Plan the pressure a wall holds and the MAWP that leaves: now, or with `at` that of the next inspection."""
        region, head = self.place["region_counted"], "act" if not at else "next"
        held = {name: self.held[f"next_{name}" if at else name] for name in _HELD}
        formula = held["hold_formula"]
        if formula is None:
            for key in ("P_hold", "MAWP"):
                self.none(f"{key}{at}", f"missing: {self.missing}")
            return
        stored = held["holding_pressure_mpa"]
        if formula == "hold_cylinder":
            for key, joint in (("P_hold_L", "longitudinal"), ("P_hold_C", "circumferential")):
                joint_stored = held[f"holding_pressure_{joint}_mpa"]
                self.over_wall(f"{key}{at}", held[f"{joint}_formula"], joint_stored, region, joint, wall)
            cells = {"P_hold_L": f"c:P_hold_L{at}", "P_hold_C": f"c:P_hold_C{at}"}
            self.clause(f"P_hold{at}", formula, stored, **cells)
        elif formula == "hold_thin_head":
            plain = held["plain_holding_pressure_mpa"]
            self.over_wall(f"P_hold_L{at}", held["plain_hold_formula"], plain, region, "longitudinal", wall)
            cells = {"P_pl": f"c:P_hold_L{at}", "P_th": f"c:P_th_{head}", "t": wall, "L_eo": "c:L_eo"}
            self.clause(f"P_hold{at}", formula, stored, **cells)
        else:
            self.over_wall(f"P_hold{at}", formula, stored, region, "longitudinal", wall)
        mawp = self.held["mawp_next_mpa" if at else "mawp_mpa"]
        self.clause(f"MAWP{at}", "mawp", mawp, P_top="i:P_top", P_hold=f"c:P_hold{at}", P_head=self.head)
