"""Which columns the sheets `Inputs` and `Calculation` have, and the letter of each."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.audit.cells import letter_of
from pipeline.audit.results import Results, Row, or_blank
from pipeline.quantities import QUANTITIES, Quantity


@dataclass(frozen=True)
class InputColumn:
    """A column of `Inputs`: key, the quantity it holds (none for a date), and its heading."""

    key: str
    quantity: Quantity | None
    heading: str


def _input(key: str, symbol: str | None = None, heading: str | None = None) -> InputColumn:
    quantity = None if symbol == "" else QUANTITIES[symbol or key]
    return InputColumn(key, quantity, heading or (quantity.label if quantity else key))


INPUTS = (
    _input("P_top"),
    _input("SG"),
    _input("H"),
    _input("P_head", None, "static head where it is not computed"),
    _input("S"),
    _input("E_L", "E", "joint efficiency, longitudinal joint"),
    _input("E_C", "E", "joint efficiency, circumferential joint"),
    _input("t_nom"),
    _input("CA"),
    _input("D_n", None, "inside diameter, as stated"),
    _input("Do", None, "outside diameter, as stated"),
    _input("L_n"),
    _input("r"),
    _input("h"),
    _input("alpha"),
    _input("C"),
    _input("x_a"),
    _input("x_b"),
    _input("k_a"),
    _input("k_b"),
    _input("t_str"),
    _input("t_ext"),
    _input("P_ext", "P_a", "external design pressure"),
    _input("L_u"),
    _input("E_y"),
    _input("S_y"),
    _input("t_bu"),
    _input("t_sh"),
    _input("t_std"),
    _input("distance", "w", "distance to the nearest weld's toe"),
    _input("t_act"),
    _input("read_on", "", "date of the last accepted reading"),
    _input("t_ini"),
    _input("initial_on", "", "date of the initial thickness"),
    _input("t_prev"),
    _input("previous_on", "", "date of the reading before"),
    _input("C_st"),
    _input("C_chosen", "C_sel", "rate that a named person's choice points to"),
    _input("n"),
    _input("Sxx"),
    _input("Sxy"),
    _input("Syy"),
    _input("q95"),
    _input("wall_since_on", "", "date on which the wall went into service"),
    _input("cap", None, "longest thickness interval allowed"),
    _input("cap_inside", "cap", "longest internal or on-stream interval allowed"),
    _input("started_on", "", "date from which a new or changed service counts"),
)


#: The words before the values on `Inputs`: heading, width.
INPUT_WORDS: tuple[tuple[str, float], ...] = (
    ("asset", 11),
    ("component", 16),
    ("place", 11),
    ("kind", 17),
    ("head zone", 9),
    ("side of loss", 15),
)


@dataclass(frozen=True)
class Result:
    """A live result: key, quantity (none for a date), and its one clause, or none where the clause differs by row."""

    key: str
    group: str
    quantity: Quantity | None
    heading: str
    formula: str | None = None
    words: str = ""

    @property
    def clause_differs(self) -> bool:
        """Whether the clause is named in each row."""
        return self.formula is None and not self.words


@dataclass(frozen=True)
class Word:
    """A column of what the program chose or said, in its own words."""

    key: str
    group: str
    heading: str
    width: float = 14.0


def _result(
    key: str, group: str, symbol: str, formula: str | None = None, heading: str = "", words: str = ""
) -> Result:
    quantity = QUANTITIES[symbol] if symbol else None
    title = heading or (quantity.label if quantity else key)
    return Result(key, group, quantity, title, formula, words)


def _knuckle(at: str, words: str) -> tuple[Result, ...]:
    """Return the columns of the pressure a thin head's knuckle is allowed at one thickness."""
    clauses = ("angle", "radius", "elastic_pressure", "yield_pressure", "allowed")
    return tuple(
        _result(f"{symbol}_{at}", _KNUCKLE, symbol, f"thin_head_{clause}", f"{QUANTITIES[symbol].label}, {words}")
        for symbol, clause in zip(KNUCKLE, clauses, strict=True)
    )


#: What the knuckle of a thin head gives in turn at one thickness.
KNUCKLE = ("phi", "R_e", "P_be", "P_by", "P_th")
_WHO, _PRESSURE, _SIZE, _NECK = "Component and place", "Pressure", "Dimensions and factors", "Least neck thickness"
_EXTERNAL, _KNUCKLE = "External pressure at the thickness found", "Knuckle of a thin head"
_FOUND, _READ, _THEN = "at the thickness found", "at the last reading", "at the next inspection"
_WELD, _AWAY, _COUNTS = "Required in the weld region", "Required away from the weld", "Required thickness that counts"
_RATE, _LIFE, _HELD = "Corrosion rate", "Life, interval and dates", "Pressure held now"
_NEXT = "Next internal inspection"

LAYOUT: tuple[Result | Word, ...] = (
    Word("asset", _WHO, "asset", 11),
    Word("component", _WHO, "component", 16),
    Word("location", _WHO, "place", 11),
    Word("governs", _WHO, "governs the component", 10),
    Word("kind", _WHO, "kind", 17),
    Word("zone", _WHO, "head zone", 9),
    Word("state", _WHO, "state of the place", 16),
    Word("missing", _WHO, "what is missing", 24),
    _result("P_head", _PRESSURE, "P_head", "static_head"),
    _result("P", _PRESSURE, "P", "component_pressure"),
    _result("D_n", _SIZE, "D_n", "inside_diameter_from_outside"),
    _result("Do", _SIZE, "Do", "outside_diameter", "outside diameter as built"),
    _result("R_n", _SIZE, "R_n", "inside_radius_as_built"),
    _result("h", _SIZE, "h", "head_depth_two_to_one", "depth of a 2:1 head whose depth is not stated"),
    _result("x", _SIZE, "x", "ellipsoidal_proportion"),
    _result("K1", _SIZE, "K1", "spherical_factor"),
    _result("K", _SIZE, "K", "ellipsoidal_factor"),
    _result("M", _SIZE, "M", "torispherical_factor"),
    _result("D", _SIZE, "D", "inside_diameter_allowance", "inside diameter with the corrosion allowance gone"),
    Word("form", _SIZE, "dimension in the clause", 16),
    _result("size", _SIZE, "R", None, "radius or diameter in the clause"),
    _result("t_neck", _NECK, "t_neck"),
    _result("R_b", _EXTERNAL, "R_b"),
    _result("M_x", _EXTERNAL, "M_x", "buckling_length"),
    _result("C_h", _EXTERNAL, "C_h", "buckling_factor"),
    _result("F_he", _EXTERNAL, "F_he"),
    _result("F_ic", _EXTERNAL, "F_ic"),
    _result("F_S", _EXTERNAL, "F_S", "external_design_factor"),
    _result("P_a", _EXTERNAL, "P_a"),
    _result("t_ext", _EXTERNAL, "t_ext", words="found by a bracketed root, while P_a is the design pressure"),
    _result("L_e", _KNUCKLE, "L_e"),
    _result("L_eo", _KNUCKLE, "L_eo"),
    _result("r_e", _KNUCKLE, "r_e"),
    _result("C1", _KNUCKLE, "C1", "thin_head_c1"),
    _result("C2", _KNUCKLE, "C2", "thin_head_c2"),
    _result("c_b", _KNUCKLE, "c_b", "thin_head_cosine"),
    *_knuckle("bu", _FOUND),
    _result("t_bu", _KNUCKLE, "t_bu", words="found by a bracketed root, while the pressure allowed is P"),
    *_knuckle("act", _READ),
    *_knuckle("next", _THEN),
    _result("t_L_weld", _WELD, "t_L"),
    _result("t_C_weld", _WELD, "t_C"),
    _result("t_p_weld", _WELD, "t_p"),
    _result("t_req_weld", _WELD, "t_req"),
    _result("t_L_away", _AWAY, "t_L"),
    _result("t_C_away", _AWAY, "t_C"),
    _result("t_p_away", _AWAY, "t_p"),
    _result("t_req_away", _AWAY, "t_req"),
    _result("w", _COUNTS, "w", "weld_region"),
    Word("region", _COUNTS, "weld region; what counts", 23),
    _result("t_req", _COUNTS, "t_req", words="the region that counts (API 510 7.4)"),
    Word("case", _COUNTS, "what sets it", 21),
    _result("days_long", _RATE, "days", heading="days from the initial thickness", words="difference of two dates"),
    _result("years_long", _RATE, "years", "years_between", "years from the initial thickness"),
    _result("LT", _RATE, "LT", "long_term_rate"),
    _result("days_short", _RATE, "days", heading="days from the reading before", words="difference of two dates"),
    _result("years_short", _RATE, "years", "years_between", "years from the reading before"),
    _result("ST", _RATE, "ST", "short_term_rate"),
    _result("fit", _RATE, "fit", "fit_rate"),
    _result("fit_se", _RATE, "fit_se", "fit_rate_error"),
    _result("fit_up", _RATE, "fit_up", "fit_upper_bound"),
    Word("rate_from", _RATE, "rate selected", 15),
    _result("C_sel", _RATE, "C_sel"),
    _result("C_r", _RATE, "C_r", "rate_governing"),
    _result("m", _LIFE, "m", "margin"),
    _result("RL", _LIFE, "RL", "remaining_life"),
    _result("I", _LIFE, "interval", "interval", "thickness interval"),
    _result("days_due", _LIFE, "n_days", "whole_days", "whole days to the due date"),
    _result("days_check", _LIFE, "n_days", "whole_days", "whole days to the first check of a new service"),
    _result("check_on", _LIFE, "", heading="first check of a new or changed service", words="date + whole days"),
    _result("due_on", _LIFE, "", heading="thickness due date of this place", words="date + whole days"),
    Word("due_of_all", _LIFE, "earliest thickness due date of all places (program)", 13),
    _result("days_left", _LIFE, "n_days", "whole_days", "whole days to the required thickness"),
    _result("retirement_on", _LIFE, "", heading="retirement date of this place", words="date + whole days"),
    Word("retirement_of_all", _LIFE, "earliest retirement date of all places (program)", 13),
    _result("P_hold_L", _HELD, "P_hold_L"),
    _result("P_hold_C", _HELD, "P_hold_C"),
    _result("P_hold", _HELD, "P_hold"),
    _result("MAWP", _HELD, "MAWP", "mawp"),
    Word("mawp_of_all", _HELD, "lowest MAWP of all places (program)", 13),
    _result("I_inside", _NEXT, "interval", "interval", "internal interval of this place"),
    _result("days_inside", _NEXT, "n_days", "whole_days", "whole days to the next internal inspection"),
    _result("inside_on", _NEXT, "", heading="internal due date of this place", words="date + whole days"),
    _result("t_next", _NEXT, "t_next", "thickness_at_next"),
    _result("P_hold_L_next", _NEXT, "P_hold_L"),
    _result("P_hold_C_next", _NEXT, "P_hold_C"),
    _result("P_hold_next", _NEXT, "P_hold"),
    _result("MAWP_next", _NEXT, "MAWP", "mawp", "MAWP at the next inspection"),
    Word("mawp_next_of_all", _NEXT, "lowest MAWP then of all places (program)", 13),
)
_CHECK = {"days_check", "check_on", "started_on"}
_FIT = {"fit", "fit_se", "fit_up"}
_FIT_INPUTS = {"Sxx", "Sxy", "Syy", "q95"}


def is_thin(row: Row) -> bool:
    """Return whether a component is a formed head that is, or needs to be, thinner than 0.002 of its crown radius."""
    pressed = (or_blank(row[name])["plain_formula"] for name in ("pressed_weld", "pressed_away"))
    held = or_blank(row["held"])
    return any(pressed) or "hold_thin_head" in (held["hold_formula"], held["next_hold_formula"])


@dataclass
class Columns:
    """Which columns there are, and the letter of each: `i:` of Inputs, `c:` of Calculation."""

    inputs: tuple[InputColumn, ...]
    layout: tuple[Result | Word, ...]
    letter: dict[str, str] = field(default_factory=dict)
    label: dict[str, str] = field(default_factory=dict)
    last: str = ""

    @classmethod
    def of(cls, results: Results) -> Columns:
        """Lay out the columns; those that few plants need, only where this one has something to put there."""
        fitted = results.policy["rate_policy"] == "fit upper bound"
        external, thin = results.has_external, results.has_thin
        without = set() if fitted else {*_FIT, *_FIT_INPUTS, "n"}
        without |= set() if external else {"P_ext", "L_u"}
        without |= set() if thin else {"t_bu"}
        without |= set() if external or thin else {"E_y", "S_y"}
        without |= set() if results.has_first_check else _CHECK
        without |= set() if results.all_places else {"governs"}
        groups = {group for group, wanted in ((_EXTERNAL, external), (_KNUCKLE, thin)) if not wanted}
        columns = cls(
            tuple(column for column in INPUTS if column.key not in without),
            tuple(entry for entry in LAYOUT if entry.key not in without and entry.group not in groups),
        )
        for place, column in enumerate(columns.inputs, start=len(INPUT_WORDS) + 1):
            columns.letter[f"i:{column.key}"] = letter_of(place)
            columns.label[f"i:{column.key}"] = column.heading
        place = 0
        for entry in columns.layout:
            place += 2 if isinstance(entry, Result) and entry.clause_differs else 1
            columns.letter[f"c:{entry.key}"] = letter_of(place)
            columns.label[f"c:{entry.key}"] = entry.heading
            place += 2 if isinstance(entry, Result) else 0
        columns.last = letter_of(place)
        return columns

    def reference(self, token: str) -> str:
        """Return the cell of an input, result or policy as a formula on `Calculation` names it; § is the row."""
        where, _, key = token.partition(":")
        if where == "p":
            return policy_name(key)
        return f"Inputs!${self.letter[token]}§" if where == "i" else f"${self.letter[token]}§"


_POLICY_UNITS = ("_mpa_per_mm", "_mm_per_year", "_mm")


def policy_name(key: str) -> str:
    """Return the defined name of a numeric policy in the workbook.

    A unit of length or pressure is left out of it, since the workbook's may be another than the one kept inside.
    """
    for unit in _POLICY_UNITS:
        key = key.removesuffix(unit)
    return f"policy_{key}"
