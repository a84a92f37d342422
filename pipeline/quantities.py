"""Every quantity once: symbol, column, unit, what it measures and what it is called.

`name` is the symbol used in formulas (Python syntax), `column` the distinct lower-case name used in tables and as
macro parameter (SQL does not tell `R` from `r`), `symbol` the typeset form. `kind` chooses the display unit.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """A named physical quantity in the unit kept inside (mm, MPa, year, day, degree or none)."""

    name: str
    column: str
    symbol: str
    unit: str
    kind: str
    label: str


_ROWS = (
    # pressure and stress
    ("P", "pressure_mpa", "P", "MPa", "pressure", "pressure at the component"),
    ("P_top", "rating_pressure_mpa", "P_{top}", "MPa", "pressure", "rating pressure at the top of the vessel"),
    ("P_head", "static_head_mpa", "P_{head}", "MPa", "pressure", "static head of the liquid"),
    ("P_hold", "holding_pressure_mpa", "P_{hold}", "MPa", "pressure", "pressure the wall holds"),
    (
        "P_hold_L",
        "holding_pressure_longitudinal_mpa",
        "P_{hold,L}",
        "MPa",
        "pressure",
        "pressure held by the longitudinal joint",
    ),
    (
        "P_hold_C",
        "holding_pressure_circumferential_mpa",
        "P_{hold,C}",
        "MPa",
        "pressure",
        "pressure held by the circumferential joint",
    ),
    ("MAWP", "mawp_mpa", "MAWP", "MPa", "pressure", "maximum allowable working pressure at the top of the vessel"),
    ("over", "pressure_above_mpa", "P_{over}", "MPa", "pressure", "pressure by which one is above another"),
    ("tol", "same_value_tolerance", r"\varepsilon", "-", "ratio", "relative difference of equal numbers"),
    ("g_w", "water_head_mpa_per_mm", "g_{w}", "MPa/mm", "gradient", "pressure of a column of water"),
    ("SG", "specific_gravity", "SG", "-", "ratio", "specific gravity of the liquid"),
    ("H", "liquid_head_mm", "H", "mm", "length", "height of the liquid surface above the component"),
    ("S", "allowable_stress_mpa", "S", "MPa", "stress", "allowable stress at the design temperature"),
    ("E", "joint_efficiency", "E", "-", "ratio", "joint efficiency"),
    # geometry
    ("R", "inside_radius_mm", "R", "mm", "length", "inside radius"),
    ("Ro", "outside_radius_mm", "R_{o}", "mm", "length", "outside radius"),
    ("D", "inside_diameter_mm", "D", "mm", "length", "inside diameter"),
    ("Do", "outside_diameter_mm", "D_{o}", "mm", "length", "outside diameter"),
    ("R_n", "inside_radius_as_built_mm", "R_{n}", "mm", "length", "inside radius as built"),
    ("D_n", "inside_diameter_as_built_mm", "D_{n}", "mm", "length", "inside diameter as built"),
    ("L_n", "crown_radius_as_built_mm", "L_{n}", "mm", "length", "inside crown radius as built"),
    ("L", "crown_radius_mm", "L", "mm", "length", "inside crown radius"),
    ("Lo", "outside_crown_radius_mm", "L_{o}", "mm", "length", "outside crown radius"),
    ("r", "knuckle_radius_mm", "r", "mm", "length", "inside knuckle radius"),
    ("h", "head_depth_mm", "h", "mm", "length", "inside depth of the head, without the straight flange"),
    ("K", "ellipsoidal_factor", "K", "-", "ratio", "ellipsoidal factor"),
    ("K1", "spherical_factor", "K_{1}", "-", "ratio", "spherical radius factor"),
    ("M", "torispherical_factor", "M", "-", "ratio", "torispherical factor"),
    ("alpha", "half_apex_angle_deg", r"\alpha", "-", "angle", "half apex angle"),
    ("C", "flat_head_factor", "C", "-", "ratio", "flat-head attachment factor"),
    ("d", "flat_head_diameter_mm", "d", "mm", "length", "diameter of the flat head"),
    ("x", "proportion", "x", "-", "ratio", "proportion D/2h"),
    ("x_a", "proportion_below", "x_{a}", "-", "ratio", "tabled proportion at or below"),
    ("x_b", "proportion_above", "x_{b}", "-", "ratio", "tabled proportion above"),
    ("k_a", "spherical_factor_below", "k_{a}", "-", "ratio", "tabled factor at or below"),
    ("k_b", "spherical_factor_above", "k_{b}", "-", "ratio", "tabled factor above"),
    # thickness
    ("t", "thickness_mm", "t", "mm", "thickness", "thickness"),
    ("t_nom", "nominal_thickness_mm", "t_{nom}", "mm", "thickness", "nominal or as-measured baseline thickness"),
    ("CA", "corrosion_allowance_mm", "CA", "mm", "thickness", "corrosion allowance of the original design"),
    ("t_p", "pressure_thickness_mm", "t_{p}", "mm", "thickness", "thickness required for pressure"),
    ("t_L", "longitudinal_thickness_mm", "t_{L}", "mm", "thickness", "thickness required by the longitudinal joint"),
    (
        "t_C",
        "circumferential_thickness_mm",
        "t_{C}",
        "mm",
        "thickness",
        "thickness required by the circumferential joint",
    ),
    ("t_min", "code_minimum_mm", "t_{min}", "mm", "thickness", "code minimum thickness"),
    ("t_str", "structural_minimum_mm", "t_{str}", "mm", "thickness", "structural minimum thickness"),
    ("t_ext", "external_thickness_mm", "t_{ext}", "mm", "thickness", "thickness required for external pressure"),
    (
        "t_sh",
        "parent_thickness_mm",
        "t_{sh}",
        "mm",
        "thickness",
        "thickness required of the wall the neck stands in, at E = 1",
    ),
    ("t_std", "standard_wall_mm", "t_{std}", "mm", "thickness", "standard pipe wall of the neck's size"),
    ("u", "pipe_undertolerance", "u", "-", "ratio", "undertolerance of standard pipe"),
    ("t_neck", "neck_minimum_mm", "t_{neck}", "mm", "thickness", "least thickness of a nozzle neck"),
    ("t_req", "t_req_mm", "t_{req}", "mm", "thickness", "required thickness"),
    ("t_req_w", "t_req_weld_mm", "t_{req,w}", "mm", "thickness", "required thickness in the weld region"),
    ("t_act", "t_act_mm", "t_{act}", "mm", "thickness", "thickness at the last accepted reading"),
    ("t_ini", "t_initial_mm", "t_{initial}", "mm", "thickness", "initial thickness of the epoch"),
    ("t_prev", "t_previous_mm", "t_{previous}", "mm", "thickness", "thickness at the reading before"),
    ("t_next", "t_next_mm", "t_{next}", "mm", "thickness", "thickness less twice the loss to the next inspection"),
    ("w", "weld_region_half_width_mm", "w", "mm", "length", "half-width of the weld region"),
    ("w_min", "weld_region_mm", "w_{min}", "mm", "length", "least half-width of the weld region"),
    ("s", "reading_scatter_mm", "s", "mm", "thickness", "standard deviation of one reading"),
    ("n_lim", "noise_limit_mm", r"\Delta_{noise}", "mm", "thickness", "largest change that can be noise"),
    ("m", "margin", "m", "-", "ratio", "margin over the required thickness"),
    # rates
    ("days", "days_between", "n_{days}", "day", "days", "days between two readings"),
    ("years", "years_between", r"\Delta y", "year", "duration", "years between two readings"),
    ("y_d", "days_per_year", "y_{d}", "day/year", "calendar", "length of a year"),
    ("LT", "rate_lt_mm_per_year", "LT", "mm/year", "rate", "long-term corrosion rate"),
    ("ST", "rate_st_mm_per_year", "ST", "mm/year", "rate", "short-term corrosion rate"),
    ("C_st", "stated_rate_mm_per_year", "C_{st}", "mm/year", "rate", "corrosion rate stated on the register"),
    ("C_sel", "rate_selected_mm_per_year", "C_{sel}", "mm/year", "rate", "corrosion rate selected by the rate policy"),
    ("C_0", "rate_floor_mm_per_year", "C_{0}", "mm/year", "rate", "floor of the corrosion rate"),
    ("C_r", "rate_mm_per_year", "C_{r}", "mm/year", "rate", "governing corrosion rate"),
    ("s_C", "rate_deviation_mm_per_year", "s_{C}", "mm/year", "rate", "standard deviation of the selected rate"),
    ("fit", "rate_fit_mm_per_year", "C_{fit}", "mm/year", "rate", "least-squares corrosion rate"),
    ("fit_se", "rate_fit_error_mm_per_year", "s_{fit}", "mm/year", "rate", "standard error of the least-squares rate"),
    (
        "fit_up",
        "rate_fit_upper_mm_per_year",
        "C_{95}",
        "mm/year",
        "rate",
        "one-sided 95 % bound of the least-squares rate",
    ),
    ("q95", "t_quantile", "q_{95}", "-", "ratio", "one-sided 95 % quantile of Student's t"),
    ("n", "reading_count", "n", "-", "ratio", "number of readings in the fit"),
    ("Sxx", "sum_days_squared", "S_{xx}", "day2", "sum", "sum of squared days about their mean, times n"),
    ("Sxy", "sum_days_thickness", "S_{xy}", "mm.day", "sum", "sum of days by thickness about their means, times n"),
    ("Syy", "sum_thickness_squared", "S_{yy}", "mm2", "sum", "sum of squared thickness about its mean, times n"),
    ("k_s", "band_deviations", "k", "-", "ratio", "half-width of a band in standard deviations"),
    ("C_low", "rate_low_mm_per_year", "C_{low}", "mm/year", "rate", "low end of the band of the rate"),
    ("C_high", "rate_high_mm_per_year", "C_{high}", "mm/year", "rate", "high end of the band of the rate"),
    ("off", "reading_off", "o", "-", "ratio", "direction in which the last reading is taken to be off"),
    ("d_last", "last_day_lead", "d_{last}", "day", "days", "days of the last reading beyond their mean, times n"),
    (
        "p_last",
        "last_thickness_lead",
        "p_{last}",
        "mm",
        "thickness",
        "last reading beyond the mean of the readings, times n",
    ),
    # life, intervals, dates
    ("RL", "remaining_life_years", "RL", "year", "duration", "remaining life from the last reading"),
    ("interval", "interval_years", "I", "year", "duration", "inspection interval"),
    ("cap", "cap_years", "I_{max}", "year", "duration", "longest interval allowed"),
    ("short", "short_life_cap_years", "I_{short}", "year", "duration", "longest interval under four years of life"),
    ("f_op", "operating_fraction", "f", "-", "ratio", "fraction of the time in operation"),
    ("guard", "day_guard", "g", "day", "calendar", "guard against the last binary digit"),
    ("n_days", "whole_days", "n", "day", "days", "whole days, rounded down"),
)

QUANTITIES: dict[str, Quantity] = {row[0]: Quantity(*row) for row in _ROWS}
BY_COLUMN: dict[str, Quantity] = {quantity.column: quantity for quantity in QUANTITIES.values()}

if len(QUANTITIES) != len(_ROWS) or len(BY_COLUMN) != len(_ROWS):
    raise AssertionError("two quantities share a name or a column")
