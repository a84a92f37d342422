"""Every clause with numbers put in by hand, and every limit from both sides and on the line itself.

Beside an example stands its arithmetic, written out with the numbers from the engineering basis (or from the books it
names), not taken from the clause. Inputs of one kind are unlike each other, so that a name in the place of another
shows. A limit is held on its line, and just beyond it; what is said where it is not met is held too.
"""

from __future__ import annotations

from math import cos, exp, log, pi, radians, sqrt

import pytest

from pipeline.formulas import ALL, FORMULAS

Inputs = dict[str, float]

#: What S and E come to below: 0.5 x 200.
SE = {"S": 200.0, "E": 0.5}

#: (clause, inputs, result): worked by hand.
GEOMETRY: list[tuple[str, Inputs, float]] = [
    ("inside_radius_as_built", {"D_n": 1200}, 600),
    ("inside_diameter_from_outside", {"Do": 1220, "t_nom": 12}, 1196),
    ("outside_radius", {"R_n": 600, "t_nom": 12}, 612),
    ("outside_diameter", {"D_n": 1200, "t_nom": 12}, 1224),
    ("outside_crown_radius", {"L_n": 1100, "t_nom": 12}, 1112),
    ("inside_radius_allowance", {"R_n": 600, "CA": 3}, 603),
    ("inside_diameter_allowance", {"D_n": 1200, "CA": 3}, 1206),
    ("crown_radius_allowance", {"L_n": 1100, "CA": 3}, 1103),
    ("flat_head_diameter_allowance", {"D_n": 500, "CA": 3}, 506),
    ("head_depth_two_to_one", {"D_n": 1200}, 300),
    ("ellipsoidal_proportion", {"D_n": 1200, "h": 250}, 2.4),
    ("ellipsoidal_factor", {"D_n": 1200, "h": 200}, (2 + 9) / 6),  # D/2h = 3
    # a quarter of the way from 2.0 (0.90) to 2.2 (0.99)
    ("spherical_factor", {"x": 2.05, "x_a": 2.0, "x_b": 2.2, "k_a": 0.90, "k_b": 0.99}, 0.9225),
    ("spherical_factor", {"x": 2.0, "x_a": 2.0, "x_b": 2.2, "k_a": 0.90, "k_b": 0.99}, 0.90),
    ("spherical_factor", {"x": 2.2, "x_a": 2.0, "x_b": 2.2, "k_a": 0.90, "k_b": 0.99}, 0.99),
    ("crown_sphere_radius", {"K1": 0.9, "D": 1200}, 1080),
    ("crown_sphere_outside_radius", {"K1": 0.9, "D_n": 1200, "t_nom": 12}, 1092),
    ("torispherical_factor", {"L_n": 900, "r": 100, "Do": 1000}, 1.5),  # (3 + sqrt(9))/4
    # Decimals of a register: 59.9995/1000 stands for 6 %, 1000.0005/1000 for 1.
    ("torispherical_factor", {"L_n": 1000, "r": 59.9995, "Do": 1000}, (3 + sqrt(1000 / 59.9995)) / 4),
    ("torispherical_factor", {"L_n": 1000.0005, "r": 250, "Do": 1000}, (3 + sqrt(1000.0005 / 250)) / 4),
    ("torispherical_factor", {"L_n": 1, "r": 0.06 - 0.000001, "Do": 1}, (3 + sqrt(1 / 0.059999)) / 4),
    ("torispherical_factor", {"L_n": 1 + 0.000001, "r": 0.25, "Do": 1}, (3 + sqrt(1.000001 / 0.25)) / 4),
    ("static_head", {"g_w": 0.00001, "SG": 0.8, "H": 5000}, 0.04),
    ("static_head", {"g_w": 0.00001, "SG": 0.0, "H": 5000}, 0),
    ("static_head", {"g_w": 0.00001, "SG": 0.8, "H": 0}, 0),
    ("component_pressure", {"P_top": 1.5, "P_head": 0.04}, 1.54),
]

#: S E = 100 MPa; R 500, Ro 520, D 1000, Do 1040 mm.
REQUIRED: list[tuple[str, Inputs, float]] = [
    ("cylinder_longitudinal_inside", {"P": 4, "R": 500, **SE}, 2000 / (100 - 2.4)),
    ("cylinder_longitudinal_outside", {"P": 4, "Ro": 520, **SE}, 2080 / (100 + 1.6)),
    ("cylinder_longitudinal_thick_inside", {"P": 60, "R": 500, **SE}, 500),  # Z = 160/40 = 4
    ("cylinder_longitudinal_thick_outside", {"P": 60, "Ro": 520, **SE}, 260),  # Ro (2 - 1)/2
    ("cylinder_longitudinal_exponential_inside", {"P": 50, "R": 500, **SE}, 500 * (exp(0.5) - 1)),
    ("cylinder_longitudinal_exponential_outside", {"P": 50, "Ro": 520, **SE}, 520 * (1 - exp(-0.5))),
    ("cylinder_circumferential_inside", {"P": 4, "R": 500, **SE}, 2000 / (200 + 1.6)),
    ("cylinder_circumferential_outside", {"P": 4, "Ro": 520, **SE}, 2080 / (200 + 5.6)),
    ("cylinder_circumferential_thick_inside", {"P": 300, "R": 500, **SE}, 500),  # sqrt(3 + 1) - 1 = 1
    ("cylinder_circumferential_thick_outside", {"P": 300, "Ro": 520, **SE}, 260),  # 1/2
    ("sphere_inside", {"P": 4, "R": 500, **SE}, 2000 / (200 - 0.8)),
    ("sphere_outside", {"P": 4, "Ro": 520, **SE}, 2080 / (200 + 3.2)),
    # Y = 2 (100 + 140)/(200 - 140) = 8, of which the third root is 2
    ("sphere_thick_inside", {"P": 140, "R": 500, **SE}, 500),
    ("sphere_thick_outside", {"P": 140, "Ro": 520, **SE}, 260),
    ("ellipsoidal_inside", {"P": 4, "D": 1000, "K": 1.2, "K1": 0.99, **SE}, 4800 / (200 - 0.8)),
    ("ellipsoidal_outside", {"P": 4, "Do": 1040, "K": 1.2, "K1": 0.99, **SE}, 4992 / (200 + 8 * 1.1)),
    ("torispherical_inside", {"P": 4, "L": 900, "M": 1.5, **SE}, 5400 / (200 - 0.8)),
    ("torispherical_outside", {"P": 4, "Lo": 920, "M": 1.5, **SE}, 5520 / (200 + 4 * 1.3)),
    ("cone_inside", {"P": 4, "D": 1000, "alpha": 20, **SE}, 4000 / (2 * cos(radians(20)) * (100 - 2.4))),
    ("cone_outside", {"P": 4, "Do": 1040, "alpha": 20, **SE}, 4160 / (2 * cos(radians(20)) * (100 + 1.6))),
    ("cone_inside", {"P": 4, "D": 1000, "alpha": 30, **SE}, 4000 / (sqrt(3) * (100 - 2.4))),
    ("cone_outside", {"P": 4, "Do": 1040, "alpha": 30, **SE}, 4160 / (sqrt(3) * (100 + 1.6))),
    ("cone_inside", {"P": 4, "D": 1000, "alpha": 0, **SE}, 2000 / (100 - 2.4)),
    ("cone_outside", {"P": 4, "Do": 1040, "alpha": 0, **SE}, 2080 / (100 + 1.6)),
    # High pressures that a thick wall still meets: 2 S E less 0.2 x 900 is 20, S E less 0.6 x 150 is 10
    ("ellipsoidal_inside", {"P": 900, "D": 1000, "K": 1.2, "K1": 0.99, **SE}, 54000),
    ("torispherical_inside", {"P": 900, "L": 900, "M": 1.5, **SE}, 60750),
    ("cone_inside", {"P": 150, "D": 1000, "alpha": 0, **SE}, 7500),
    # A flat ellipsoid's K and a small M take from 2 S E: 200 - 3000 x 0.05, 200 - 1500 x 0.1
    ("ellipsoidal_outside", {"P": 1500, "Do": 1040, "K": 0.05, "K1": 0.99, **SE}, 1560),
    ("torispherical_outside", {"P": 1500, "Lo": 920, "M": 0.1, **SE}, 2760),
    ("flat_head", {"P": 4, "d": 500, "C": 0.25, **SE}, 50),  # sqrt(0.25 x 4/100) = 0.1
    ("cylinder_pressure_thickness", {"t_L": 8, "t_C": 5}, 8),
    ("cylinder_pressure_thickness", {"t_L": 5, "t_C": 8}, 8),
    ("neck_minimum", {"t_sh": 8, "t_min": 1.5, "t_std": 6, "u": 0.125}, 5.25),  # 6 less 12.5 %
    ("neck_minimum", {"t_sh": 4, "t_min": 1.5, "t_std": 6, "u": 0.125}, 4),
    ("neck_minimum", {"t_sh": 1, "t_min": 1.5, "t_std": 6, "u": 0.125}, 1.5),
    ("neck_minimum_without_size", {"t_sh": 4, "t_min": 1.5}, 4),
    ("neck_minimum_without_size", {"t_sh": 1, "t_min": 1.5}, 1.5),
    ("neck_minimum_without_parent", {"t_std": 6, "u": 0.125}, 5.25),
    *(
        (
            clause,
            {**dict.fromkeys(("t_p", other, "t_str", "t_ext"), 2.0), largest: 7.0},
            7.0,
        )
        for clause, other in (("required_thickness", "t_min"), ("required_thickness_neck", "t_neck"))
        for largest in ("t_p", other, "t_str", "t_ext")
    ),
    ("weld_region", {"w_min": 25.4, "t_req_w": 10}, 25.4),
    ("weld_region", {"w_min": 25.4, "t_req_w": 14}, 28),
]

HOLDS: list[tuple[str, Inputs, float]] = [
    ("hold_cylinder_longitudinal_inside", {"t": 20, "R": 500, **SE}, 2000 / (500 + 12)),
    ("hold_cylinder_longitudinal_outside", {"t": 20, "Ro": 520, **SE}, 2000 / (520 - 8)),
    # (R + t)/R = 2: (4 - 1)/(4 + 1), and ln 2, and 4 - 1
    ("hold_cylinder_longitudinal_thick_inside", {"t": 500, "R": 500, **SE}, 60),
    ("hold_cylinder_longitudinal_thick_outside", {"t": 260, "Ro": 520, **SE}, 60),
    ("hold_cylinder_longitudinal_exponential_inside", {"t": 500, "R": 500, **SE}, 100 * log(2)),
    ("hold_cylinder_longitudinal_exponential_outside", {"t": 260, "Ro": 520, **SE}, 100 * log(2)),
    # and half as thick, 1.5 of it: 1.25/3.25, ln 1.5, 1.25
    ("hold_cylinder_longitudinal_thick_inside", {"t": 250, "R": 500, **SE}, 125 / 3.25),
    ("hold_cylinder_longitudinal_exponential_inside", {"t": 250, "R": 500, **SE}, 100 * log(1.5)),
    ("hold_cylinder_circumferential_thick_inside", {"t": 250, "R": 500, **SE}, 125),
    ("hold_sphere_thick_inside", {"t": 250, "R": 500, **SE}, 200 * 2.375 / 5.375),
    ("hold_cylinder_circumferential_inside", {"t": 20, "R": 500, **SE}, 4000 / (500 - 8)),
    ("hold_cylinder_circumferential_outside", {"t": 20, "Ro": 520, **SE}, 4000 / (520 - 28)),
    ("hold_cylinder_circumferential_thick_inside", {"t": 500, "R": 500, **SE}, 300),
    ("hold_cylinder_circumferential_thick_outside", {"t": 260, "Ro": 520, **SE}, 300),
    ("hold_cylinder", {"P_hold_L": 4, "P_hold_C": 7}, 4),
    ("hold_cylinder", {"P_hold_L": 7, "P_hold_C": 4}, 4),
    ("hold_sphere_inside", {"t": 20, "R": 500, **SE}, 4000 / (500 + 4)),
    ("hold_sphere_outside", {"t": 20, "Ro": 520, **SE}, 4000 / (520 - 16)),
    ("hold_sphere_thick_inside", {"t": 500, "R": 500, **SE}, 200 * 7 / 10),  # 2 S E (8 - 1)/(8 + 2)
    ("hold_sphere_thick_outside", {"t": 260, "Ro": 520, **SE}, 140),
    ("hold_ellipsoidal_inside", {"t": 20, "D": 1000, "K": 1.2, "K1": 0.99, **SE}, 4000 / (1200 + 4)),
    ("hold_ellipsoidal_outside", {"t": 20, "Do": 1040, "K": 1.2, "K1": 0.99, **SE}, 4000 / (1248 - 44)),
    ("hold_torispherical_inside", {"t": 20, "L": 900, "M": 1.5, **SE}, 4000 / (1350 + 4)),
    ("hold_torispherical_outside", {"t": 20, "Lo": 920, "M": 1.5, **SE}, 4000 / (1380 - 26)),
    ("hold_cone_inside", {"t": 20, "D": 1000, "alpha": 30, **SE}, 2000 * sqrt(3) / (1000 + 12 * sqrt(3))),
    ("hold_cone_outside", {"t": 20, "Do": 1040, "alpha": 30, **SE}, 2000 * sqrt(3) / (1040 - 8 * sqrt(3))),
    ("hold_cone_inside", {"t": 20, "D": 1000, "alpha": 0, **SE}, 4000 / (1000 + 24)),
    ("hold_cone_outside", {"t": 20, "Do": 1040, "alpha": 0, **SE}, 4000 / (1040 - 16)),
    ("hold_ellipsoidal_outside", {"t": 400, "Do": 1040, "K": 1.2, "K1": 0.99, **SE}, 80000 / (1248 - 880)),
    ("hold_cone_outside", {"t": 1300, "Do": 1040, "alpha": 30, **SE}, 130000 * sqrt(3) / (1040 - 520 * sqrt(3))),
    ("hold_flat_head", {"t": 50, "d": 500, "C": 0.25, **SE}, 4),
    ("mawp", {"P_top": 3, "P_hold": 4, "P_head": 0.5}, 3),
    ("mawp", {"P_top": 3, "P_hold": 3.25, "P_head": 0.5}, 2.75),
    ("mawp", {"P_top": 3, "P_hold": 0.25, "P_head": 0.5}, 0),
]

RATES: list[tuple[str, Inputs, float]] = [
    ("years_between", {"days": 1461, "y_d": 365.25}, 4),
    ("years_between", {"days": 0.5, "y_d": 0.25}, 2),
    ("long_term_rate", {"t_ini": 13, "t_act": 11, "years": 8}, 0.25),
    ("short_term_rate", {"t_prev": 12, "t_act": 11, "years": 8}, 0.125),
    ("long_term_rate", {"t_ini": 13, "t_act": 11, "years": 0.5}, 4),
    ("short_term_rate", {"t_prev": 12, "t_act": 11, "years": 0.5}, 2),
    ("rate_greater", {"LT": 0.25, "ST": 0.125}, 0.25),
    ("rate_greater", {"LT": 0.125, "ST": 0.25}, 0.25),
    ("rate_with_stated", {"LT": 0.25, "C_st": 0.125}, 0.25),
    ("rate_with_stated", {"LT": 0.125, "C_st": 0.25}, 0.25),
    ("rate_governing", {"C_sel": 0.25, "C_0": 0.025}, 0.25),
    ("rate_governing", {"C_sel": 0.01, "C_0": 0.025}, 0.025),
    ("rate_governing", {"C_sel": -0.25, "C_0": 0}, 0),
    ("rate_governing", {"C_sel": -0.25, "C_0": -0.1}, 0),
    ("noise_limit", {"s": 0.1}, 0.2 * sqrt(2)),
    ("rate_deviation", {"s": 0.1, "years": 4}, 0.1 * sqrt(2) / 4),
    ("rate_deviation", {"s": 0.1, "years": 0.5}, 0.2 * sqrt(2)),
    ("fit_rate", {"Sxy": -3000, "Sxx": 6000000, "y_d": 365.25}, 0.182625),
    ("fit_rate", {"Sxy": -0.25, "Sxx": 0.5, "y_d": 365.25}, 182.625),
    # (50 - 3000^2/6000000)/(6 - 2) = 12.125 - 0 ... (50 - 1.5)/4 = 12.125; over 6e6, its root, a year's days
    ("fit_rate_error", {"Syy": 50, "Sxy": -3000, "Sxx": 6e6, "n": 6, "y_d": 365.25}, sqrt(12.125 / 6e6) * 365.25),
    ("fit_rate_error", {"Syy": 50, "Sxy": -3000, "Sxx": 6e6, "n": 2.5, "y_d": 365.25}, sqrt(97 / 6e6) * 365.25),
    ("fit_rate_error", {"Syy": 0.25, "Sxy": 0.125, "Sxx": 0.5, "n": 3, "y_d": 2}, sqrt(0.21875 / 0.5) * 2),
    # A straight line by rounding: less than nothing left over is nothing.
    ("fit_rate_error", {"Syy": 1.4, "Sxy": -3000, "Sxx": 6e6, "n": 6, "y_d": 365.25}, 0),
    ("fit_upper_bound", {"fit": 0.2, "fit_se": 0.03, "q95": 2}, 0.26),
    ("reading_off", {"t_act": 10, "off": -1, "s": 0.1}, 9.9),
    ("reading_off", {"t_act": 10, "off": 0.5, "s": 0.1}, 10.05),
    ("sum_with_reading_off", {"Sxy": -3000, "off": 0.5, "s": 0.1, "d_last": 4000}, -2800),
    # Syy + 2 off s p + (off s)^2 (n - 1): 20 + 2 x 0.05 x 30 + 0.0025 x 5
    ("squares_with_reading_off", {"Syy": 20, "off": 0.5, "s": 0.1, "p_last": 30, "n": 6}, 23.0125),
    ("rate_band_low", {"C_sel": 0.2, "k_s": 2, "s_C": 0.03}, 0.14),
    ("rate_band_low", {"C_sel": 0.02, "k_s": 2, "s_C": 0.03}, 0),
    ("rate_band_high", {"C_sel": 0.2, "k_s": 2, "s_C": 0.03}, 0.26),
    ("rate_band_high", {"C_sel": -0.2, "k_s": 2, "s_C": 0.03}, 0),
]

LIFE: list[tuple[str, Inputs, float]] = [
    ("remaining_life", {"t_act": 11, "t_req": 10, "C_r": 0.125}, 8),
    ("remaining_life", {"t_act": 11, "t_req": 10, "C_r": 4}, 0.25),
    # 0 if RL <= 0 else min(10, max(RL/2, min(RL, 2)))
    *(
        ("interval", {"RL": life, "cap": 10, "short": 2}, years)
        for life, years in ((-1, 0), (0, 0), (0.5, 0.5), (1, 1), (2, 2), (3, 2), (4, 2), (6, 3), (20, 10), (30, 10))
    ),
    ("interval", {"RL": 3, "cap": 1.5, "short": 2}, 1.5),
    ("cap_in_operation", {"cap": 10, "f_op": 0.5}, 20),
    ("cap_in_operation", {"cap": 10, "f_op": 1}, 10),
    ("external_interval", {"cap": 5, "interval": 3}, 3),
    ("external_interval", {"cap": 5, "interval": 8}, 5),
    ("whole_days", {"years": 5, "y_d": 365.25, "guard": 1e-6}, 1826),  # 1826.25
    # A day must not be lost in the last binary digit, nor won before it is over.
    ("whole_days", {"years": 1826.9999999 / 365.25, "y_d": 365.25, "guard": 1e-6}, 1827),
    ("whole_days", {"years": 1826.99 / 365.25, "y_d": 365.25, "guard": 1e-6}, 1826),
    ("thickness_at_next", {"t_act": 11, "C_r": 0.125, "interval": 3}, 10.25),
    ("thickness_after", {"t_act": 11, "C_r": 0.125, "years": 3}, 10.625),
    ("exceeds", {"P": 1.75, "P_top": 1.5, "tol": 1e-9}, 0.25 - 1.5e-9),
    ("exceeds", {"P": 1.5, "P_top": 1.75, "tol": 1e-9}, 0),
    ("exceeds", {"P": 2.0, "P_top": 1.5, "tol": 0.1}, 0.35),
    ("margin", {"t_act": 11, "t_req": 10}, 0.1),
    ("margin", {"t_act": 0.5, "t_req": 0.25}, 1),
    # 2 years at 0.125 from 10, the loss once; from there on twice
    ("thickness_to_reach", {"t_req": 10, "C_r": 0.125, "years": 1.5, "short": 2}, 10.1875),
    ("thickness_to_reach", {"t_req": 10, "C_r": 0.125, "years": 2, "short": 2}, 10.25),
    ("thickness_to_reach", {"t_req": 10, "C_r": 0.125, "years": 3, "short": 2}, 10.75),
    ("thickness_to_reach", {"t_req": 10, "C_r": 0.125, "years": 0, "short": 2}, 10),
    ("thickness_to_reach", {"t_req": 10, "C_r": 0, "years": 3, "short": 2}, 10),
    ("expected_lowest", {"t_act": 11, "C_high": 0.25, "years": 3, "n_lim": 0.125}, 10.125),
    ("expected_lowest", {"t_act": 1, "C_high": 0.5, "years": 3, "n_lim": 0.125}, 0),
    ("expected_highest", {"t_act": 11, "C_low": 0.25, "years": 3, "n_lim": 0.125}, 10.375),
    ("call_below", {"t_req": 10, "t_e_lo": 10.125}, 10.125),
    ("call_below", {"t_req": 10, "t_e_lo": 9.5}, 10),
]

AREAS: list[tuple[str, Inputs, float]] = [
    # 60 in and less: the lesser of D/2 and 20 in; above: of D/3 and 40 in
    *(
        ("averaging_length", {"D_n": inside, "L_as": 508, "D_as": 1524, "L_al": 1016}, along)
        for inside, along in ((900, 450), (1200, 508), (1524, 508), (1525, 1525 / 3), (4000, 1016), (0.5, 0.25))
    ),
    ("averaging_length", {"D_n": 1200, "L_as": 508, "D_as": 1200, "L_al": 1016}, 508),
    ("average_thickness", {"sum_t": 33, "n_a": 3, "t_mm": 10}, 11),
    ("average_thickness", {"sum_t": 33, "n_a": 3, "t_mm": 11.0000001}, 11.0000001),
    ("average_thickness", {"sum_t": 33, "n_a": 0.5, "t_mm": 10}, 66),
    ("circumference", {"D_n": 1000}, 1000 * pi),
    ("circumference", {"D_n": 0.5}, pi / 2),
    # Round 1000: from 900 forward to 100 are 200; from 100 to 900 forward 800, the shorter way 200 back.
    ("unrolled", {"c_1": 900, "c_2": 100, "C_s": 1000}, 200),
    ("unrolled", {"c_1": 100, "c_2": 900, "C_s": 1000}, 800),
    ("unrolled", {"c_1": 100, "c_2": 2350, "C_s": 1000}, 250),
    ("unrolled", {"c_1": 0.1, "c_2": 0.8, "C_s": 0.5}, 0.2),
    ("arc", {"c_1": 900, "c_2": 100, "C_s": 1000}, 200),
    ("arc", {"c_1": 100, "c_2": 900, "C_s": 1000}, -200),
    ("arc", {"c_1": 100, "c_2": 400, "C_s": 1000}, 300),
    ("arc", {"c_1": 100, "c_2": 2350, "C_s": 1000}, 250),
    ("arc", {"c_1": 0.1, "c_2": 0.8, "C_s": 0.5}, 0.2),
    ("half_required", {"t_req": 9}, 4.5),
    ("half_required", {"t_req": 0.5}, 0.25),
    ("area_rate", {"C_cmp": 0.25, "C_ar": 0.125}, 0.25),
    ("area_rate", {"C_cmp": 0.125, "C_ar": 0.25}, 0.25),
    ("pit_remaining", {"t_w": 12, "p_d": 5}, 7),
    ("pit_remaining", {"t_w": 0.5, "p_d": 5}, -4.5),
    ("pit_allowance", {"t_w": 12, "t_req": 9}, 3),
    ("pit_below_required", {"p_d": 5, "a_p": 3}, 2),
    ("pit_below_required", {"p_d": 2, "a_p": 3}, 0),
    ("pit_area", {"p_w": 10}, 25 * pi),
    ("pit_area", {"p_w": 0.5}, pi / 16),
    ("pit_area_share", {"A_sum": 900, "A_lim": 4500}, 0.2),
    ("pit_area_share", {"A_sum": 900, "A_lim": 0.5}, 1800),
    ("pit_reach", {"d_c": 203.2, "p_w": 20}, 111.6),
    ("pit_distance", {"d_x": 30, "d_s": 40}, 50),
    # Two circles of 130 and 150 about points 140 apart: (140^2 + 130^2 - 150^2)/280 = 50; sqrt(130^2 - 50^2) = 120.
    ("circle_along", {"d_p": 140, "rho": 130, "rho_2": 150}, 50),
    ("circle_along", {"d_p": 0.5, "rho": 1.5, "rho_2": 1}, 1.5),
    ("circle_across", {"rho": 130, "a_i": 50}, 120),
    ("circle_across", {"rho": 130, "a_i": 130}, 0),
    ("circle_across", {"rho": 130, "a_i": -50}, 120),
    # The line between the pits rises 3 in 5 axially (d_x 84, d_s 112): 50 along and 120 across it, to either side.
    ("circle_axial", {"a_i": 50, "d_x": 84, "e_1": 1, "h_i": 120, "d_s": 112, "d_p": 140}, 30 - 96),
    ("circle_axial", {"a_i": 50, "d_x": 84, "e_1": -1, "h_i": 120, "d_s": 112, "d_p": 140}, 30 + 96),
    ("circle_around", {"a_i": 50, "d_s": 112, "e_1": 1, "h_i": 120, "d_x": 84, "d_p": 140}, 40 + 72),
    ("circle_around", {"a_i": 50, "d_s": 112, "e_1": -1, "h_i": 120, "d_x": 84, "d_p": 140}, 40 - 72),
    ("circle_axial", {"a_i": 0.2, "d_x": 0.3, "e_1": 1, "h_i": 0.5, "d_s": 0.4, "d_p": 0.5}, 0.12 - 0.4),
    ("circle_around", {"a_i": 0.2, "d_s": 0.4, "e_1": 1, "h_i": 0.5, "d_x": 0.3, "d_p": 0.5}, 0.16 + 0.3),
    # Rims of 10 and 34 mm pits, 20 apart: outer tangent (34 - 10)/40 = 0.6, inner (34 + 10)/40 = 1.1
    ("tangent_slope", {"e_2": 1, "p_w2": 34, "e_1": 1, "p_w": 10, "d_p": 20}, 0.6),
    ("tangent_slope", {"e_2": 1, "p_w2": 34, "e_1": -1, "p_w": 10, "d_p": 20}, 1.1),
    ("tangent_slope", {"e_2": -1, "p_w2": 34, "e_1": 1, "p_w": 10, "d_p": 20}, -1.1),
    ("tangent_slope", {"e_2": 1, "p_w2": 0.5, "e_1": 1, "p_w": 0.25, "d_p": 0.5}, 0.25),
    # A slope of 0.6 turns by 0.8 across: (0.6 x 12 - 0.8 x 16)/20 and (0.6 x 16 + 0.8 x 12)/20
    ("line_normal_axial", {"k_t": 0.6, "d_x": 12, "d_s": 16, "d_p": 20}, -0.28),
    ("line_normal_around", {"k_t": 0.6, "d_x": 12, "d_s": 16, "d_p": 20}, 0.96),
    ("line_normal_axial", {"k_t": 1, "d_x": 12, "d_s": 16, "d_p": 20}, 0.6),
    ("line_normal_around", {"k_t": -1, "d_x": 12, "d_s": 16, "d_p": 20}, -0.8),
    ("line_normal_axial", {"k_t": 0.6, "d_x": 0.3, "d_s": 0.4, "d_p": 0.5}, -0.28),
    ("line_normal_around", {"k_t": 0.6, "d_x": 0.3, "d_s": 0.4, "d_p": 0.5}, 0.96),
    ("line_offset", {"n_x": 0.6, "d_x": 10, "n_s": 0.8, "d_s": 30, "e_1": 1, "p_w": 14}, 6 + 24 + 7),
    ("line_offset", {"n_x": 0.6, "d_x": 10, "n_s": 0.8, "d_s": 30, "e_1": -1, "p_w": 14}, 6 + 24 - 7),
    ("line_along", {"n_s": 0.8, "d_x": 10, "n_x": 0.6, "d_s": 30}, 8 - 18),
    ("pit_near_rim", {"l_l": 50, "p_w": 14}, 43),
    ("pit_far_rim", {"l_l": 50, "p_w": 14}, 57),
    ("future_loss", {"C_r": 0.25, "years": 3}, 0.75),
    ("future_loss", {"C_r": 0.25, "years": 0}, 0),
    ("squared_deviation", {"t": 9, "t_am": 11.5}, 6.25),
    ("coefficient_of_variation", {"dev_sum": 36, "n_a": 5, "t_am": 12}, 0.25),
    ("coefficient_of_variation", {"dev_sum": 36, "n_a": 1.25, "t_am": 0.5}, 24),
    ("coefficient_of_variation", {"dev_sum": 0, "n_a": 5, "t_am": 12}, 0),
    ("coefficient_of_variation", {"dev_sum": 0.25, "n_a": 5, "t_am": 12}, 0.25 / 12),
    ("average_after_loss", {"t_am": 11.5, "FCA": 0.75}, 10.75),
    ("lowest_after_loss", {"t_mm": 9, "FCA": 0.75}, 8.25),
    # the largest of half the required, a share of the nominal, and an absolute least
    ("least_local_thickness", {"t_req": 9, "f_nom": 0.2, "t_nom": 12, "t_abs": 2.5}, 4.5),
    ("least_local_thickness", {"t_req": 3, "f_nom": 0.2, "t_nom": 20, "t_abs": 2.5}, 4),
    ("least_local_thickness", {"t_req": 3, "f_nom": 0.2, "t_nom": 10, "t_abs": 2.5}, 2.5),
    ("screening_thickness", {"t_rd": 12, "FCA": 0.75}, 11.25),
    ("thickness_ratio", {"t_mf": 4.5, "t_sc": 9}, 0.5),
    ("thickness_ratio", {"t_mf": 9.5, "t_sc": 9}, 1),
    ("thickness_ratio", {"t_mf": 0, "t_sc": 9}, 0),
    ("thickness_ratio", {"t_mf": 0.125, "t_sc": 0.5}, 0.25),
    ("area_extent", {"x_1": 100, "x_2": 350}, 250),
    ("area_extent", {"x_1": 350, "x_2": 350}, 0),
    ("length_parameter", {"s_a": 100, "D_n": 1000, "t_sc": 10}, 1.285),
    ("length_parameter", {"s_a": 100, "D_n": 0.5, "t_sc": 0.5}, 257),
    ("folias_cylinder", {"lam": 0}, 1.001),
    # at 1 the plain sum of the coefficients: 1.001 - 0.014195 + 0.2909 - 0.09642 + 0.02089 - 0.003054 + 0.0002957
    # - 0.000018462 + 0.00000071553 - 0.000000015631 + 0.00000000014656
    ("folias_cylinder", {"lam": 1}, 1.19939893804556),
    ("folias_sphere", {"lam": 0}, 1.0005),
    ("folias_sphere", {"lam": 1}, (1.0005 + 0.49001 + 0.32409) / (1 + 0.50144 - 0.011067)),
    ("folias_sphere", {"lam": 2}, (1.0005 + 0.98002 + 1.29636) / (1 + 1.00288 - 0.044268)),
    ("folias_sphere", {"lam": 20}, (1.0005 + 9.8002 + 129.636) / (1 + 10.0288 - 4.4268)),
    ("strength_factor", {"R_t": 0.5, "M_f": 2}, 0.5 / 0.75),
    ("strength_factor", {"R_t": 1, "M_f": 2}, 1),
    ("strength_factor", {"R_t": 0, "M_f": 2}, 0),
    ("strength_factor", {"R_t": 0.5, "M_f": 1}, 1),
    ("reduced_mawp", {"P_top": 2, "P": 1.8, "RSF": 0.81, "RSF_a": 0.9, "P_head": 0.1}, 1.52),
    ("reduced_mawp", {"P_top": 1.25, "P": 1.8, "RSF": 0.81, "RSF_a": 0.9, "P_head": 0.1}, 1.25),
    ("reduced_mawp", {"P_top": 9, "P": 1.8, "RSF": 0.5, "RSF_a": 0.5, "P_head": 0.1}, 1.7),
]

BUCKLING: list[tuple[str, Inputs, float]] = [
    ("halfway", {"t_lo": 3, "t_hi": 8}, 5.5),
    ("buckling_seam_medium", {"L_u": 1300, "Do": 2000}, 2.000001 * 10000 / 2000),
    # t where L_u/sqrt(Do t/2) = 2 (Do/t)^0.94: t = Do (sqrt(2) Do/L_u)^(1/0.44)
    ("buckling_seam_long", {"L_u": 40000, "Do": 1200}, 1.000001 * 1200 * (1200 * sqrt(2) / 40000) ** (1 / 0.44)),
    ("buckling_length", {"L_u": 1500, "Do": 1800, "t": 9}, 1500 / 90),
    ("buckling_length", {"L_u": 0.5, "Do": 0.5, "t": 0.25}, 2),
    ("buckling_factor", {"M_x": 1.5, "Do": 1000, "t": 10}, 1),
    ("buckling_factor", {"M_x": 0.5, "Do": 1000, "t": 10}, 1),
    ("buckling_factor", {"M_x": 1.579, "Do": 1000, "t": 10}, 0.92),
    ("buckling_factor", {"M_x": 13, "Do": 1000, "t": 10}, 0.92 / 12.421),
    ("buckling_factor", {"M_x": 13.5, "Do": 1000, "t": 10}, 1.12 * 13.5**-1.058),
    ("buckling_factor", {"M_x": 20, "Do": 1000, "t": 10}, 1.12 * 20**-1.058),
    # 2 x 100^0.94 = 151.7
    ("buckling_factor", {"M_x": 151, "Do": 1000, "t": 10}, 1.12 * 151**-1.058),
    ("buckling_factor", {"M_x": 152.5, "Do": 1000, "t": 10}, 0.0055),
    ("buckling_factor", {"M_x": 152.5, "Do": 0.5, "t": 0.25}, 0.275),
    ("buckling_stress_cylinder", {"C_h": 0.05, "E_y": 200000, "t": 10, "Do": 1000}, 160),
    ("buckling_stress_cylinder", {"C_h": 0.05, "E_y": 0.5, "t": 0.25, "Do": 0.5}, 0.02),
    ("predicted_stress_cylinder", {"S_y": 250, "F_he": 1000}, 250),
    ("predicted_stress_cylinder", {"S_y": 250, "F_he": 250}, 175),
    ("predicted_stress_cylinder", {"S_y": 250, "F_he": 500}, 175 * 2**0.4),
    ("predicted_stress_cylinder", {"S_y": 250, "F_he": 50}, 50),
    ("predicted_stress_cylinder", {"S_y": 0.5, "F_he": 0.25}, 0.25),
    ("buckling_stress_sphere", {"E_y": 200000, "t": 10, "R_b": 1000}, 150),
    ("buckling_stress_sphere", {"E_y": 0.5, "t": 0.25, "R_b": 0.5}, 0.01875),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 2000}, 250),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 1700}, 250),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 1562.5}, 250),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 1562}, 1.31 * 250 / (1.15 + 250 / 1562)),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 500}, 1.31 * 250 / 1.65),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 400}, 72 + 112.5),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 200}, 36 + 112.5),
    ("predicted_stress_sphere", {"S_y": 250, "F_he": 100}, 100),
    ("predicted_stress_sphere", {"S_y": 0.5, "F_he": 0.25}, 0.25),
    ("external_design_factor", {"F_ic": 100, "S_y": 200}, 2),
    ("external_design_factor", {"F_ic": 0.55, "S_y": 1}, 2),  # 1.99945 just beyond
    ("external_design_factor", {"F_ic": 150, "S_y": 200}, 2.407 - 0.741 * 0.75),
    ("external_design_factor", {"F_ic": 200, "S_y": 200}, 1.667),
    ("external_design_factor", {"F_ic": 0.5, "S_y": 0.5}, 1.667),
    ("external_allowed_cylinder", {"F_ic": 100, "F_S": 2, "t": 10, "Do": 1000}, 1),
    ("external_allowed_cylinder", {"F_ic": 100, "F_S": 2, "t": 0.5, "Do": 1000}, 0.05),
    ("external_allowed_cylinder", {"F_ic": 100, "F_S": 0.5, "t": 0.25, "Do": 0.5}, 200),
    ("external_allowed_sphere", {"F_ic": 100, "F_S": 2, "t": 10, "R_b": 500}, 2),
    ("external_allowed_sphere", {"F_ic": 100, "F_S": 2, "t": 0.5, "R_b": 500}, 0.1),
    ("external_allowed_sphere", {"F_ic": 100, "F_S": 0.5, "t": 0.25, "R_b": 0.5}, 200),
    ("head_buckling_radius", {"K1": 0.9, "Do": 1000}, 900),
    ("head_buckling_radius", {"K1": 0.5, "Do": 0.5}, 0.25),
]

#: cos of an angle in radians, and the whole of it: the head of `test_thin_heads.test_one_head_by_hand` besides.
THIN_HEADS: list[tuple[str, Inputs, float]] = [
    ("equivalent_crown_radius", {"K1": 0.9, "D_n": 1000}, 900),
    ("equivalent_outside_crown_radius", {"K1": 0.9, "Do": 1010}, 909),
    ("equivalent_knuckle_radius", {"D_n": 1000, "x": 2}, 170),
    ("equivalent_knuckle_radius", {"D_n": 1000, "x": 1.7}, 1000 * (0.5 / 1.7 - 0.08)),
    ("equivalent_knuckle_radius", {"D_n": 1000, "x": 2.2}, 1000 * (0.5 / 2.2 - 0.08)),
    ("thin_head_c1", {"r_e": 60, "D_n": 1000}, 0.4726),
    ("thin_head_c1", {"r_e": 80, "D_n": 1000}, 0.6588),  # 0.6604 by the other branch
    ("thin_head_c1", {"r_e": 100, "D_n": 1000}, 0.6742),
    ("thin_head_c1", {"r_e": 0.05, "D_n": 0.5}, 0.6742),
    ("thin_head_c2", {"r_e": 60, "D_n": 1000}, 1.25),
    ("thin_head_c2", {"r_e": 80, "D_n": 1000}, 1.25),  # 1.252 by the other branch
    ("thin_head_c2", {"r_e": 100, "D_n": 1000}, 1.2),
    ("thin_head_c2", {"r_e": 0.05, "D_n": 0.5}, 1.2),
    ("thin_head_angle", {"L_e": 900, "t": 4, "r_e": 120}, 0.5),
    ("thin_head_angle", {"L_e": 0.5, "t": 0.5, "r_e": 0.5}, 1),
    ("thin_head_cosine", {"D_n": 1000, "r_e": 100, "L_e": 900}, 0.5),
    ("thin_head_cosine", {"D_n": 1000, "r_e": 100, "L_e": 500}, 1),
    ("thin_head_cosine", {"D_n": 1000, "r_e": 240, "L_e": 900}, 260 / 660),
    ("thin_head_cosine", {"D_n": 3, "r_e": 0.5, "L_e": 2.5}, 0.5),
    # cos beta 0.5: beta is pi/3 or 1.047198, the arm over cos(beta - phi); from phi = beta on the arm itself
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 0.5, "phi": 0.6}, 100 + 400 / cos(pi / 3 - 0.6)),
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 0.5, "phi": 1.03}, 100 + 400 / cos(pi / 3 - 1.03)),
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 0.5, "phi": 1.2}, 500),
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 0.5, "phi": 1.6}, 500),
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 0.5, "phi": 6.0}, 500),  # its cosine is above 0.5 again
    ("thin_head_radius", {"r_e": 100, "D_n": 1000, "c_b": 1, "phi": 0.5}, 500),
    # 0.5 x 600/100 - 1 = 2; 1.25 x 600 x 2 = 1500; 0.48 x 200000 x 6/100 x 6 = 34560
    (
        "thin_head_elastic_pressure",
        {"C1": 0.48, "E_y": 200000, "t": 6, "r_e": 100, "C2": 1.25, "R_e": 600},
        23.04,
    ),
    # 0.5 x 250/100 - 1 = 0.25; 1.25 x 250 x 0.25 = 78.125
    ("thin_head_elastic_pressure", {"C1": 0.48, "E_y": 200000, "t": 6, "r_e": 100, "C2": 1.25, "R_e": 250}, 442.368),
    ("thin_head_elastic_pressure", {"C1": 0.48, "E_y": 2, "t": 0.5, "r_e": 0.5, "C2": 0.5, "R_e": 2}, 0.48),
    ("thin_head_yield_pressure", {"S_y": 250, "t": 6, "C2": 1.25, "R_e": 600, "r_e": 100}, 1),
    ("thin_head_yield_pressure", {"S_y": 250, "t": 6, "C2": 1.25, "R_e": 250, "r_e": 100}, 19.2),
    ("thin_head_yield_pressure", {"S_y": 2, "t": 0.5, "C2": 0.5, "R_e": 2, "r_e": 0.5}, 1),
    ("thin_head_allowed", {"P_be": 0.9, "P_by": 1.2}, 0.36),
    ("thin_head_allowed", {"P_be": 1, "P_by": 1}, 0.4),
    ("thin_head_allowed", {"P_be": 4, "P_by": 1}, (0.408 + 0.768) / 1.5),
    ("thin_head_allowed", {"P_be": 8.29, "P_by": 1}, (0.408 + 0.192 * 8.29) / 1.5),  # not 2/1.5 = 1.3333
    ("thin_head_allowed", {"P_be": 9, "P_by": 1}, 2 / 1.5),
    ("thin_head_allowed", {"P_be": 9, "P_by": 0.5}, 1 / 1.5),
    ("thin_head_thickness", {"t_pl": 1.5, "t_bu": 2.5, "L_eo": 2000}, 2.5),
    ("thin_head_thickness", {"t_pl": 3, "t_bu": 2.5, "L_eo": 2000}, 3),
    ("thin_head_thickness", {"t_pl": 0.5, "t_bu": 0.75, "L_eo": 2000}, 1),  # 0.0005 of the crown radius at least
    ("thin_head_thickness", {"t_pl": 1.5, "t_bu": 9, "L_eo": 2000}, 4),  # 0.002 of it is enough
    ("thin_head_thickness", {"t_pl": 1.5, "t_bu": 9, "L_eo": 0.5}, 1.5),
    ("hold_thin_head", {"P_pl": 1.5, "P_th": 1, "L_eo": 2000, "t": 2}, 1),
    ("hold_thin_head", {"P_pl": 1, "P_th": 1.5, "L_eo": 2000, "t": 1}, 1),
    ("hold_thin_head", {"P_pl": 1, "P_th": 1.5, "L_eo": 500, "t": 0.25}, 1),
]

#: On the line of a limit the clause still holds.
ON_THE_LINE: list[tuple[str, Inputs, float]] = [
    # t = R/2: P/(26 - 0.6 P) = 1/2 at P = 10; P/(200 + 0.4 P) = 1/2 at P = 125, which is 1.25 S E too
    ("cylinder_longitudinal_inside", {"P": 10, "R": 100, "S": 26, "E": 1}, 50),
    ("cylinder_longitudinal_outside", {"P": 10, "Ro": 150, "S": 26, "E": 1}, 50),
    ("cylinder_circumferential_inside", {"P": 125, "R": 100, "S": 100, "E": 1}, 50),
    ("cylinder_circumferential_outside", {"P": 125, "Ro": 150, "S": 100, "E": 1}, 50),
    ("hold_cylinder_longitudinal_inside", {"t": 50, "R": 100, "S": 26, "E": 1}, 10),
    ("hold_cylinder_longitudinal_outside", {"t": 50, "Ro": 150, "S": 26, "E": 1}, 10),
    ("hold_cylinder_circumferential_inside", {"t": 50, "R": 100, "S": 100, "E": 1}, 125),
    ("hold_cylinder_circumferential_outside", {"t": 50, "Ro": 150, "S": 100, "E": 1}, 125),
    # t = 0.356 R: 35.6/(107.12 - 7.12) = 0.356
    ("sphere_inside", {"P": 35.6, "R": 1000, "S": 53.56, "E": 1}, 356),
    ("sphere_outside", {"P": 35.6, "Ro": 1356, "S": 53.56, "E": 1}, 356),
    ("hold_sphere_inside", {"t": 356, "R": 1000, "S": 53.56, "E": 1}, 35.6),
    ("hold_sphere_outside", {"t": 356, "Ro": 1356, "S": 53.56, "E": 1}, 35.6),
    # t = 0.002 of the crown radius of 500 or 1000: 2000/(2000.2 - 0.2), 200.4/100.2, 1000/(500.2 - 0.2), 200.4/100.2
    ("ellipsoidal_inside", {"P": 1, "D": 1000, "K": 2, "K1": 0.5, "S": 1250.125, "E": 0.8}, 1),
    ("ellipsoidal_outside", {"P": 1, "Do": 2004, "K": 0.1, "K1": 0.5, "S": 62.625, "E": 0.8}, 2),
    ("torispherical_inside", {"P": 1, "L": 1000, "M": 1, "S": 250.1, "E": 1}, 2),
    ("torispherical_outside", {"P": 1, "Lo": 1002, "M": 0.2, "S": 50.1, "E": 1}, 2),
    ("hold_ellipsoidal_inside", {"t": 1, "D": 1000, "K": 2, "K1": 0.5, "S": 1250.125, "E": 0.8}, 1),
    ("hold_ellipsoidal_outside", {"t": 2, "Do": 2004, "K": 0.1, "K1": 0.5, "S": 62.625, "E": 0.8}, 1),
    ("hold_torispherical_inside", {"t": 2, "L": 1000, "M": 1, "S": 250.1, "E": 1}, 1),
    ("hold_torispherical_outside", {"t": 2, "Lo": 1002, "M": 0.2, "S": 50.1, "E": 1}, 1),
]

EXAMPLES = [*GEOMETRY, *REQUIRED, *HOLDS, *RATES, *LIFE, *AREAS, *BUCKLING, *THIN_HEADS, *ON_THE_LINE]


def said(clause: str, inputs: Inputs) -> tuple[str, ...]:
    return tuple(limit.otherwise for limit in FORMULAS[clause].unmet_limits(inputs))


@pytest.mark.parametrize("clause", dict.fromkeys(row[0] for row in EXAMPLES))
def test_worked_by_hand(clause: str) -> None:
    for name, inputs, result in EXAMPLES:
        if name == clause:
            assert FORMULAS[clause].evaluate(inputs) == pytest.approx(result, rel=1e-9, abs=1e-12), inputs
            assert said(clause, inputs) == ()


def test_every_clause_has_an_example() -> None:
    """The plain formulas of thin heads are those of the heads themselves, with one limit less."""
    derived = {formula.id for formula in ALL if formula.id.removesuffix("_thin") in {row[0] for row in EXAMPLES}}
    assert {formula.id for formula in ALL} - derived == set()


# ---- beyond a limit -------------------------------------------------------------------------------------------------

#: What is said where limits are not met, and inputs changed from the clause's first example above so that they are not.
BEYOND: dict[tuple[str, ...], list[tuple[str, Inputs]]] = {
    ("the wall is thicker than the radius",): [
        ("inside_diameter_from_outside", {"t_nom": 610}),
        ("inside_diameter_from_outside", {"t_nom": 611}),
        ("hold_cylinder_longitudinal_thick_outside", {"t": 520}),
        ("hold_cylinder_longitudinal_thick_outside", {"t": 600}),
        ("hold_cylinder_longitudinal_exponential_outside", {"t": 520}),
        ("hold_cylinder_longitudinal_exponential_outside", {"t": 600}),
        ("hold_cylinder_circumferential_thick_outside", {"t": 520}),
        ("hold_cylinder_circumferential_thick_outside", {"t": 600}),
        ("hold_sphere_thick_outside", {"t": 520}),
        ("hold_sphere_thick_outside", {"t": 600}),
    ],
    ("the head depth is not above zero",): [
        ("ellipsoidal_proportion", {"h": 0}),
        ("ellipsoidal_proportion", {"h": -300}),
        ("ellipsoidal_factor", {"h": 0}),
        ("ellipsoidal_factor", {"h": -300}),
    ],
    ("the proportion is outside the table: 1.0 to 3.0",): [
        ("spherical_factor", {"x": 1.99}),
        ("spherical_factor", {"x": 2.21}),
    ],
    ("the two tabled proportions are the same",): [
        ("spherical_factor", {"x": 2.0, "x_b": 2.0}),
    ],
    ("the two tabled proportions are the same", "the proportion is outside the table: 1.0 to 3.0"): [
        ("spherical_factor", {"x_a": 2.2, "x_b": 2.0, "x": 2.1}),
    ],
    ("the crown radius is not above zero", "knuckle radius below 6 % of the crown radius: UG-32 does not apply"): [
        ("torispherical_factor", {"L_n": 0}),
    ],
    ("the crown radius is not above zero",): [
        ("torispherical_factor", {"L_n": -900, "r": -100}),
        ("thin_head_angle", {"L_e": 0}),
        ("thin_head_angle", {"L_e": -1}),
        ("thin_head_thickness", {"L_eo": 0}),
        ("thin_head_thickness", {"L_eo": -1}),
    ],
    ("the outside diameter is not above zero", "crown radius above the outside diameter: UG-32 does not apply"): [
        ("torispherical_factor", {"Do": 0}),
    ],
    ("the outside diameter is not above zero",): [
        ("torispherical_factor", {"Do": -1000}),
        ("buckling_seam_medium", {"Do": 0}),
        ("buckling_seam_medium", {"Do": -1}),
        ("buckling_seam_long", {"Do": 0}),
        ("buckling_seam_long", {"Do": -1}),
        ("buckling_length", {"Do": 0}),
        ("buckling_factor", {"Do": 0}),
        ("buckling_factor", {"Do": -1}),
        ("buckling_stress_cylinder", {"Do": 0}),
        ("buckling_stress_cylinder", {"Do": -1}),
        ("external_allowed_cylinder", {"Do": 0}),
        ("external_allowed_cylinder", {"Do": -1}),
        ("head_buckling_radius", {"Do": 0}),
        ("head_buckling_radius", {"Do": -1}),
    ],
    ("knuckle radius below 6 % of the crown radius: UG-32 does not apply",): [
        ("torispherical_factor", {"L_n": 1000, "r": 59.9985, "Do": 1000}),
        ("torispherical_factor", {"r": 50}),
    ],
    ("crown radius above the outside diameter: UG-32 does not apply",): [
        ("torispherical_factor", {"L_n": 1000.0015, "Do": 1000}),
        ("torispherical_factor", {"L_n": 1001, "r": 100}),
    ],
    ("the specific gravity is below zero",): [
        ("static_head", {"SG": -0.1}),
    ],
    ("the liquid head is below zero",): [
        ("static_head", {"H": -1}),
    ],
    ("t is above R/2: thick wall",): [
        ("cylinder_longitudinal_inside", {"P": 10.001, "S": 26, "E": 1, "R": 100}),
        ("cylinder_longitudinal_inside", {"P": 38.5, "S": 100, "E": 1, "R": 100}),
        ("cylinder_longitudinal_outside", {"P": 10.001, "S": 26, "E": 1, "Ro": 150}),
        ("cylinder_longitudinal_outside", {"P": 38.5, "S": 100, "E": 1, "Ro": 150}),
    ],
    ("P is above 0.385 S E: thick wall", "t is above R/2: thick wall"): [
        ("cylinder_longitudinal_inside", {"P": 40}),
        ("cylinder_longitudinal_outside", {"P": 40}),
        ("cylinder_longitudinal_inside", {"P": 10.02, "S": 26, "E": 1, "R": 100}),
        ("cylinder_longitudinal_outside", {"P": 10.02, "S": 26, "E": 1, "Ro": 150}),
    ],
    ("P is above 1.25 S E: thick wall", "t is above R/2: thick wall"): [
        ("cylinder_circumferential_inside", {"P": 130}),
        ("cylinder_circumferential_outside", {"P": 130}),
        ("cylinder_circumferential_inside", {"P": 125.001, "S": 100, "E": 1, "R": 100}),
        ("cylinder_circumferential_outside", {"P": 125.001, "S": 100, "E": 1, "Ro": 150}),
    ],
    ("P is not below S E: no thickness is enough",): [
        ("cylinder_longitudinal_thick_inside", {"P": 100}),
        ("cylinder_longitudinal_thick_inside", {"P": 101}),
        ("cylinder_longitudinal_thick_outside", {"P": 100}),
        ("cylinder_longitudinal_thick_outside", {"P": 101}),
    ],
    ("P is not below 2 S E: no thickness is enough",): [
        ("sphere_thick_inside", {"P": 200}),
        ("sphere_thick_inside", {"P": 201}),
        ("sphere_thick_outside", {"P": 200}),
        ("sphere_thick_outside", {"P": 201}),
    ],
    ("stress or joint efficiency is zero",): [
        ("cylinder_longitudinal_exponential_inside", {"S": 0}),
        ("cylinder_longitudinal_exponential_inside", {"S": -200}),
        ("cylinder_longitudinal_exponential_inside", {"E": -0.5}),
        ("cylinder_circumferential_thick_inside", {"S": 0}),
        ("cylinder_circumferential_thick_inside", {"S": -200}),
        ("cylinder_circumferential_thick_inside", {"E": -0.5}),
        ("cylinder_longitudinal_exponential_outside", {"S": 0}),
        ("cylinder_longitudinal_exponential_outside", {"S": -200}),
        ("cylinder_longitudinal_exponential_outside", {"E": -0.5}),
        ("cylinder_circumferential_thick_outside", {"S": 0}),
        ("cylinder_circumferential_thick_outside", {"S": -200}),
        ("cylinder_circumferential_thick_outside", {"E": -0.5}),
        ("ellipsoidal_outside", {"S": 0}),
        ("ellipsoidal_outside", {"E": 0}),
        ("torispherical_outside", {"S": 0}),
        ("torispherical_outside", {"E": 0}),
        ("cone_outside", {"S": 0}),
        ("cone_outside", {"E": 0}),
        ("cone_outside", {"S": -200}),
        ("flat_head", {"S": 0}),
        ("flat_head", {"E": 0}),
        ("flat_head", {"S": -200}),
    ],
    ("half apex angle above 30 degrees: the cone formula does not apply",): [
        ("cone_inside", {"alpha": 30.001}),
        ("cone_outside", {"alpha": 30.001}),
        ("hold_cone_inside", {"alpha": 30.001}),
        ("hold_cone_outside", {"alpha": 30.001}),
    ],
    ("half apex angle below zero",): [
        ("cone_inside", {"alpha": -0.001}),
        ("cone_outside", {"alpha": -0.001}),
        ("hold_cone_inside", {"alpha": -0.001}),
        ("hold_cone_outside", {"alpha": -0.001}),
    ],
    ("stress or joint efficiency is zero", "P is above 0.385 S E: thick wall", "t is above R/2: thick wall"): [
        ("cylinder_longitudinal_outside", {"S": 0}),
        ("cylinder_longitudinal_outside", {"E": 0}),
    ],
    ("stress or joint efficiency is zero", "P is above 0.385 S E: thick wall"): [
        ("cylinder_longitudinal_outside", {"S": -200}),
    ],
    ("stress or joint efficiency is zero", "P is above 1.25 S E: thick wall", "t is above R/2: thick wall"): [
        ("cylinder_circumferential_inside", {"S": 0}),
        ("cylinder_circumferential_inside", {"E": 0}),
        ("cylinder_circumferential_outside", {"S": 0}),
        ("cylinder_circumferential_outside", {"E": 0}),
    ],
    ("stress or joint efficiency is zero", "P is above 1.25 S E: thick wall"): [
        ("cylinder_circumferential_inside", {"S": -200}),
        ("cylinder_circumferential_outside", {"S": -200}),
    ],
    ("stress or joint efficiency is zero", "P is above 0.665 S E: thick wall", "t is above 0.356 R: thick wall"): [
        ("sphere_outside", {"S": 0}),
        ("sphere_outside", {"E": 0}),
    ],
    ("stress or joint efficiency is zero", "P is above 0.665 S E: thick wall"): [
        ("sphere_outside", {"S": -200}),
    ],
    (
        "stress or joint efficiency is zero",
        "stress or joint efficiency is zero",
        "formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies",
    ): [
        ("ellipsoidal_outside", {"S": -200}),
        ("torispherical_outside", {"S": -200}),
    ],
    ("t is above 0.356 R: thick wall",): [
        ("sphere_inside", {"P": 35.61, "S": 53.56, "E": 1, "R": 1000}),
        ("sphere_inside", {"P": 66.5, "S": 100, "E": 1, "R": 1000}),
        ("sphere_outside", {"P": 35.61, "S": 53.56, "E": 1, "Ro": 1356}),
        ("sphere_outside", {"P": 66.5, "S": 100, "E": 1, "Ro": 1356}),
    ],
    ("P is above 0.665 S E: thick wall", "t is above 0.356 R: thick wall"): [
        ("sphere_inside", {"P": 67}),
        ("sphere_outside", {"P": 67}),
        ("sphere_inside", {"P": 35.62, "S": 53.56, "E": 1, "R": 1000}),
        ("sphere_outside", {"P": 35.62, "S": 53.56, "E": 1, "Ro": 1356}),
    ],
    ("formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies",): [
        ("ellipsoidal_inside", {"P": 1, "S": 250.2, "E": 1, "D": 1000, "K": 1, "K1": 1}),
        ("ellipsoidal_outside", {"P": 1, "S": 62.65, "E": 0.8, "Do": 2004, "K": 0.1, "K1": 0.5}),
        ("torispherical_inside", {"P": 1, "S": 250.2, "E": 1, "L": 1000, "M": 1}),
        ("torispherical_outside", {"P": 1, "S": 50.2, "E": 1, "Lo": 1002, "M": 0.2}),
        ("hold_ellipsoidal_inside", {"t": 1.99, "D": 1000, "K1": 1}),
        ("hold_ellipsoidal_outside", {"t": 1.999, "Do": 2004, "K": 0.1, "K1": 0.5}),
        ("hold_torispherical_inside", {"t": 1.99, "L": 1000}),
        ("hold_torispherical_outside", {"t": 1.99, "Lo": 1002}),
    ],
    (
        "P is not below 10 S E: no thickness is enough",
        "formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies",
    ): [
        ("ellipsoidal_inside", {"P": 1000}),
        ("ellipsoidal_inside", {"P": 1001}),
        ("torispherical_inside", {"P": 1000}),
        ("torispherical_inside", {"P": 1001}),
    ],
    ("stress or joint efficiency is zero", "formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies"): [
        ("ellipsoidal_outside", {"K": 0.05, "P": 2000}),
        ("ellipsoidal_outside", {"K": 0.05, "P": 2001}),
        ("torispherical_outside", {"M": 0.1, "P": 2000}),
        ("torispherical_outside", {"M": 0.1, "P": 2001}),
    ],
    ("P is not below S E / 0.6: no thickness is enough",): [
        ("cone_inside", {"P": 200, "S": 120, "E": 1}),
        ("cone_inside", {"P": 201, "S": 120, "E": 1}),
        ("cone_inside", {"P": 200}),
    ],
    ("the flat-head factor is not above zero",): [
        ("flat_head", {"C": 0}),
        ("flat_head", {"C": -0.25}),
        ("hold_flat_head", {"C": 0}),
        ("hold_flat_head", {"C": -0.25}),
    ],
    ("t is above the thin-wall limit: thick wall",): [
        ("hold_cylinder_longitudinal_inside", {"t": 50.05, "R": 100}),
        ("hold_cylinder_longitudinal_outside", {"t": 50.02, "Ro": 150}),
        ("hold_sphere_inside", {"t": 356.05, "R": 1000}),
        ("hold_sphere_outside", {"t": 356.05, "Ro": 1356}),
    ],
    ("t is above the thin-wall limit: thick wall", "P is above the thin-wall limit: thick wall"): [
        ("hold_cylinder_longitudinal_inside", {"t": 50.2, "R": 100}),
        ("hold_cylinder_circumferential_inside", {"t": 50.001, "R": 100}),
        ("hold_cylinder_longitudinal_outside", {"t": 50.2, "Ro": 150}),
        ("hold_cylinder_circumferential_outside", {"t": 50.001, "Ro": 150}),
        ("hold_sphere_inside", {"t": 357, "R": 1000}),
        ("hold_sphere_outside", {"t": 357, "Ro": 1356}),
    ],
    ("the wall is thicker than the head",): [
        ("hold_ellipsoidal_outside", {"t": 520}),
        ("hold_ellipsoidal_outside", {"t": 521}),
        ("hold_torispherical_outside", {"t": 920}),
        ("hold_torispherical_outside", {"t": 921}),
    ],
    ("the wall is thicker than the cone",): [
        ("hold_cone_outside", {"t": 1300, "alpha": 0}),
        ("hold_cone_outside", {"t": 1301, "alpha": 0}),
    ],
    ("the two readings are of one day",): [
        ("years_between", {"days": 0}),
        ("years_between", {"days": -1}),
        ("long_term_rate", {"years": 0}),
        ("long_term_rate", {"years": -1}),
        ("short_term_rate", {"years": 0}),
        ("short_term_rate", {"years": -1}),
        ("rate_deviation", {"years": 0}),
        ("rate_deviation", {"years": -1}),
    ],
    ("a year has no length",): [
        ("years_between", {"y_d": 0}),
        ("years_between", {"y_d": -1}),
    ],
    ("all readings are of one day",): [
        ("fit_rate", {"Sxx": 0}),
        ("fit_rate", {"Sxx": -1}),
        ("fit_rate_error", {"Sxx": 0}),
        ("fit_rate_error", {"Sxx": -1000000.0}),
    ],
    ("fewer than three readings",): [
        ("fit_rate_error", {"n": 2}),
        ("fit_rate_error", {"n": 1}),
    ],
    ("no measurable loss: the life has no end",): [
        ("remaining_life", {"C_r": 0}),
        ("remaining_life", {"C_r": -1}),
    ],
    ("it is never in operation",): [
        ("cap_in_operation", {"f_op": 0}),
        ("cap_in_operation", {"f_op": -0.5}),
    ],
    ("more than all of the time in operation",): [
        ("cap_in_operation", {"f_op": 1.001}),
    ],
    ("no thickness is required",): [
        ("margin", {"t_req": 0}),
        ("margin", {"t_req": -1}),
        ("half_required", {"t_req": 0}),
        ("half_required", {"t_req": -1}),
    ],
    ("the day lies before the thickness is there",): [
        ("thickness_to_reach", {"years": -0.001}),
    ],
    ("the wall would grow",): [
        ("thickness_to_reach", {"C_r": -0.1}),
    ],
    ("the inside diameter is not above zero",): [
        ("averaging_length", {"D_n": 0}),
        ("averaging_length", {"D_n": -1}),
        ("circumference", {"D_n": 0}),
        ("circumference", {"D_n": -1}),
        ("length_parameter", {"D_n": 0}),
        ("length_parameter", {"D_n": -1}),
        ("thin_head_c1", {"D_n": 0}),
        ("thin_head_c1", {"D_n": -1}),
        ("thin_head_c2", {"D_n": 0}),
        ("thin_head_c2", {"D_n": -1}),
    ],
    ("there is no reading",): [
        ("average_thickness", {"n_a": 0}),
        ("average_thickness", {"n_a": -1}),
    ],
    ("the circumference is not above zero",): [
        ("unrolled", {"C_s": 0}),
        ("unrolled", {"C_s": -1}),
        ("arc", {"C_s": 0}),
        ("arc", {"C_s": -1}),
    ],
    ("there is no wall around the pit",): [
        ("pit_remaining", {"t_w": 0}),
        ("pit_remaining", {"t_w": -1}),
    ],
    ("the pit has no width",): [
        ("pit_area", {"p_w": 0}),
        ("pit_area", {"p_w": -1}),
    ],
    ("no area may be ignored",): [
        ("pit_area_share", {"A_lim": 0}),
        ("pit_area_share", {"A_lim": -1}),
    ],
    ("the two pits have one centre",): [
        ("circle_along", {"d_p": 0}),
        ("circle_along", {"d_p": -1}),
        ("circle_axial", {"d_p": 0}),
        ("circle_axial", {"d_p": -1}),
        ("circle_around", {"d_p": 0}),
        ("circle_around", {"d_p": -1}),
        ("tangent_slope", {"d_p": 0}),
        ("tangent_slope", {"d_p": -1}),
        ("line_normal_axial", {"d_p": 0}),
        ("line_normal_axial", {"d_p": -1}),
        ("line_normal_around", {"d_p": 0}),
        ("line_normal_around", {"d_p": -1}),
    ],
    ("no circle touches both pits",): [
        ("circle_across", {"a_i": 130.001}),
        ("circle_across", {"a_i": -130.001}),
    ],
    ("no line touches the rims of both pits",): [
        ("line_normal_axial", {"k_t": 1.001}),
        ("line_normal_axial", {"k_t": -1.001}),
        ("line_normal_around", {"k_t": 1.001}),
        ("line_normal_around", {"k_t": -1.001}),
    ],
    ("the next inspection lies before the reading",): [
        ("future_loss", {"years": -0.001}),
    ],
    ("there is one reading only",): [
        ("coefficient_of_variation", {"n_a": 1}),
        ("coefficient_of_variation", {"n_a": 0.5}),
    ],
    ("there is one reading only", "squares below zero"): [
        ("coefficient_of_variation", {"n_a": 0.5, "dev_sum": -1}),
    ],
    ("the average is not above zero",): [
        ("coefficient_of_variation", {"t_am": 0}),
        ("coefficient_of_variation", {"t_am": -1}),
    ],
    ("squares below zero",): [
        ("coefficient_of_variation", {"dev_sum": -0.001}),
    ],
    ("there is no wall left around the area",): [
        ("thickness_ratio", {"t_sc": 0}),
        ("thickness_ratio", {"t_sc": -1}),
        ("length_parameter", {"t_sc": 0}),
        ("length_parameter", {"t_sc": -1}),
    ],
    ("the wall is gone",): [
        ("thickness_ratio", {"t_mf": -0.001}),
        ("strength_factor", {"R_t": -0.001}),
        ("strength_factor", {"R_t": 0, "M_f": 1}),
    ],
    ("the ends are exchanged",): [
        ("area_extent", {"x_1": 350.001, "x_2": 350}),
    ],
    ("the inside diameter is not above zero", "there is no wall left around the area"): [
        ("length_parameter", {"D_n": -1, "t_sc": -1}),
    ],
    ("the length is below zero",): [
        ("folias_cylinder", {"lam": -0.001}),
        ("folias_sphere", {"lam": -0.001}),
    ],
    ("the area is longer than the polynomial is known to hold for",): [
        ("folias_cylinder", {"lam": 10.001}),
    ],
    ("the area is longer than the fraction holds for",): [
        ("folias_sphere", {"lam": 20.001}),
    ],
    ("the area is not thinner than the wall around it",): [
        ("strength_factor", {"R_t": 1.001}),
    ],
    ("a Folias factor is never below one",): [
        ("strength_factor", {"M_f": 0.999}),
    ],
    ("no factor is allowed",): [
        ("reduced_mawp", {"RSF_a": 0}),
        ("reduced_mawp", {"RSF_a": -1}),
    ],
    ("the unsupported length is not above zero",): [
        ("buckling_seam_medium", {"L_u": 0}),
        ("buckling_seam_medium", {"L_u": -1}),
        ("buckling_seam_long", {"L_u": 0}),
        ("buckling_seam_long", {"L_u": -1}),
        ("buckling_length", {"L_u": 0}),
        ("buckling_length", {"L_u": -1}),
    ],
    ("the outside diameter is not above zero", "the thickness is not above zero"): [
        ("buckling_length", {"Do": -1, "t": -1}),
        ("buckling_factor", {"Do": -1, "t": -1}),
    ],
    ("the thickness is not above zero",): [
        ("buckling_length", {"t": 0}),
        ("buckling_length", {"t": -1}),
        ("buckling_factor", {"t": 0}),
        ("buckling_factor", {"t": -1}),
        ("buckling_stress_cylinder", {"t": 0}),
        ("buckling_stress_cylinder", {"t": -1}),
        ("buckling_stress_sphere", {"t": 0}),
        ("buckling_stress_sphere", {"t": -1}),
        ("thin_head_angle", {"t": 0}),
        ("thin_head_angle", {"t": -1}),
        ("thin_head_radius", {"phi": 0}),
        ("thin_head_radius", {"phi": -0.5}),
        ("thin_head_elastic_pressure", {"t": 0}),
        ("thin_head_elastic_pressure", {"t": -1}),
        ("thin_head_yield_pressure", {"t": 0}),
        ("thin_head_yield_pressure", {"t": -1}),
    ],
    ("the length is not above zero",): [
        ("buckling_factor", {"M_x": 0}),
        ("buckling_factor", {"M_x": -1}),
    ],
    ("the elastic modulus is not above zero",): [
        ("buckling_stress_cylinder", {"E_y": 0}),
        ("buckling_stress_cylinder", {"E_y": -1}),
        ("buckling_stress_sphere", {"E_y": 0}),
        ("buckling_stress_sphere", {"E_y": -1}),
    ],
    ("the yield strength is not above zero",): [
        ("predicted_stress_cylinder", {"S_y": 0}),
        ("predicted_stress_cylinder", {"S_y": -1}),
        ("predicted_stress_sphere", {"S_y": 0}),
        ("predicted_stress_sphere", {"S_y": -1}),
        ("external_design_factor", {"S_y": 0}),
        ("external_design_factor", {"S_y": -1}),
    ],
    ("the elastic buckling stress is not above zero",): [
        ("predicted_stress_cylinder", {"F_he": 0}),
        ("predicted_stress_cylinder", {"F_he": -1}),
        ("predicted_stress_sphere", {"F_he": 0}),
        ("predicted_stress_sphere", {"F_he": -1}),
    ],
    ("the yield strength is not above zero", "the elastic buckling stress is not above zero"): [
        ("predicted_stress_cylinder", {"F_he": -1, "S_y": -1}),
        ("predicted_stress_sphere", {"F_he": -1, "S_y": -1}),
    ],
    ("the outside radius is not above zero",): [
        ("buckling_stress_sphere", {"R_b": 0}),
        ("buckling_stress_sphere", {"R_b": -1}),
        ("external_allowed_sphere", {"R_b": 0}),
        ("external_allowed_sphere", {"R_b": -1}),
    ],
    ("the design factor is not above zero",): [
        ("external_allowed_cylinder", {"F_S": 0}),
        ("external_allowed_cylinder", {"F_S": -1}),
        ("external_allowed_sphere", {"F_S": 0}),
        ("external_allowed_sphere", {"F_S": -1}),
    ],
    ("the thickness is not above zero", "the wall is thinner than 1/2000 of the outside diameter: outside the rule"): [
        ("external_allowed_cylinder", {"t": 0}),
        ("external_allowed_cylinder", {"t": -1}),
        ("external_allowed_sphere", {"t": 0}),
        ("external_allowed_sphere", {"t": -1}),
    ],
    ("the wall is thinner than 1/2000 of the outside diameter: outside the rule",): [
        ("external_allowed_cylinder", {"t": 0.4999}),
        ("external_allowed_sphere", {"t": 0.4999}),
    ],
    ("the spherical factor is not above zero",): [
        ("head_buckling_radius", {"K1": 0}),
        ("head_buckling_radius", {"K1": -1}),
    ],
    ("the proportion D/2h is not between 1.7 and 2.2: no rule for a thin head of this shape",): [
        ("equivalent_knuckle_radius", {"x": 1.699}),
        ("equivalent_knuckle_radius", {"x": 2.201}),
    ],
    ("the knuckle radius is not above zero",): [
        ("thin_head_c1", {"r_e": 0}),
        ("thin_head_c1", {"r_e": -1}),
        ("thin_head_c2", {"r_e": 0}),
        ("thin_head_c2", {"r_e": -1}),
        ("thin_head_angle", {"r_e": 0}),
        ("thin_head_angle", {"r_e": -1}),
        ("thin_head_cosine", {"r_e": 0}),
        ("thin_head_cosine", {"r_e": -1}),
        ("thin_head_elastic_pressure", {"r_e": 0}),
        ("thin_head_elastic_pressure", {"r_e": -1}),
        ("thin_head_yield_pressure", {"r_e": 0}),
        ("thin_head_yield_pressure", {"r_e": -1}),
    ],
    ("the thickness is not above zero", "the crown radius is not above zero"): [
        ("thin_head_angle", {"L_e": -1, "t": -1}),
    ],
    ("the knuckle radius is not below a quarter of the inside diameter: no rule for a thin head",): [
        ("thin_head_cosine", {"r_e": 250}),
        ("thin_head_cosine", {"r_e": 251}),
    ],
    ("the crown radius is below the inside radius",): [
        ("thin_head_cosine", {"L_e": 499.9}),
    ],
    ("the knuckle has no arm",): [
        ("thin_head_radius", {"c_b": 0}),
        ("thin_head_radius", {"c_b": -0.5}),
    ],
    ("the knuckle is too wide for its factor C2",): [
        ("thin_head_elastic_pressure", {"C2": 0}),
        ("thin_head_elastic_pressure", {"C2": -1}),
        ("thin_head_yield_pressure", {"C2": 0}),
        ("thin_head_yield_pressure", {"C2": -1}),
    ],
    ("the knuckle is too wide to buckle by this rule",): [
        ("thin_head_elastic_pressure", {"R_e": 200}),
        ("thin_head_elastic_pressure", {"R_e": 199}),
        ("thin_head_yield_pressure", {"R_e": 200}),
        ("thin_head_yield_pressure", {"R_e": 199}),
    ],
    ("the yield pressure is not above zero",): [
        ("thin_head_allowed", {"P_by": 0}),
        ("thin_head_allowed", {"P_by": -1}),
    ],
    ("no wall is left", "the wall is thinner than 0.0005 of the crown radius: no rule covers it"): [
        ("hold_thin_head", {"t": 0}),
        ("hold_thin_head", {"t": -1}),
    ],
    ("the wall is thinner than 0.0005 of the crown radius: no rule covers it",): [
        ("hold_thin_head", {"t": 0.9998}),
    ],
}

#: What no clause of a wall does without, and what is said.
NOTHING = {
    "P": "the pressure is not above zero",
    "t": "no wall is left",
    "R": "the inside radius is not above zero",
    "Ro": "the outside radius is not above zero",
    "D": "the inside diameter is not above zero",
    "Do": "the outside diameter is not above zero",
    "L": "the crown radius is not above zero",
    "Lo": "the outside crown radius is not above zero",
    "d": "the diameter of the flat head is not above zero",
    "K": "the ellipsoidal factor is not above zero",
    "K1": "the spherical factor is not above zero",
    "M": "the torispherical factor is not above zero",
}
#: Clauses of walls: every form of required thickness, and its inverse.
WALLS = sorted({row[0] for row in (*REQUIRED, *HOLDS) if {"S", "E"} <= row[1].keys()})


def first_example(clause: str) -> Inputs:
    return next(inputs for name, inputs, _ in EXAMPLES if name == clause)


@pytest.mark.parametrize("sentences", BEYOND, ids=lambda sentences: sentences[0][:40])
def test_beyond_a_limit_there_is_no_result_and_it_is_said_why(sentences: tuple[str, ...]) -> None:
    for clause, changes in BEYOND[sentences]:
        inputs = {**first_example(clause), **changes}
        assert FORMULAS[clause].evaluate(inputs) is None, (clause, changes)
        assert said(clause, inputs) == sentences, (clause, changes)


@pytest.mark.parametrize("clause", WALLS)
def test_no_wall_is_worked_out_of_nothing(clause: str) -> None:
    """Zero or less is a gap in the register, not a small number."""
    example = first_example(clause)
    for name, sentence in NOTHING.items():
        for number in (0.0, -1.0):
            if name in example:
                inputs = {**example, name: number}
                assert FORMULAS[clause].evaluate(inputs) is None, (name, number)
                assert said(clause, inputs)[0] == sentence, (name, number)
