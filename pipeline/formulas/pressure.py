"""The pressure a wall of given thickness holds, and the MAWP at the top of the vessel: the clauses solved for P."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit
from pipeline.formulas.required_thickness import POSITIVE_SIZE, SMALL_HEAD, VIII_1, without_thin_limit

_WALL = Limit("t > 0", "no wall is left")
_THIN_PRESSURE = "P is above the thin-wall limit: thick wall"
_THIN_WALL = "t is above the thin-wall limit: thick wall"

_FULL_RANGE = (
    # ---- cylinder, longitudinal joint -------------------------------------------------------------------------------
    Formula(
        "hold_cylinder_longitudinal_inside",
        "P_hold_L",
        "S * E * t / (R + 0.6 * t)",
        "UG-27(c)(1)",
        VIII_1,
        "pressure held by the longitudinal joint, inside dimension",
        (
            _WALL,
            POSITIVE_SIZE["R"],
            Limit("t <= R / 2", _THIN_WALL),
            Limit("P_hold_L <= 0.385 * S * E", _THIN_PRESSURE),
        ),
    ),
    Formula(
        "hold_cylinder_longitudinal_outside",
        "P_hold_L",
        "S * E * t / (Ro - 0.4 * t)",
        "App. 1-1(a)(1)",
        VIII_1,
        "pressure held by the longitudinal joint, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Ro"],
            Limit("t <= (Ro - t) / 2", _THIN_WALL),
            Limit("P_hold_L <= 0.385 * S * E", _THIN_PRESSURE),
        ),
    ),
    Formula(
        "hold_cylinder_longitudinal_thick_inside",
        "P_hold_L",
        "S * E * (((R + t) / R) ** 2 - 1) / (((R + t) / R) ** 2 + 1)",
        "App. 1-2(a)(2) (m)",
        VIII_1,
        "pressure held by the longitudinal joint of a thick cylinder, inside dimension",
        (_WALL, POSITIVE_SIZE["R"]),
    ),
    Formula(
        "hold_cylinder_longitudinal_thick_outside",
        "P_hold_L",
        "S * E * ((Ro / (Ro - t)) ** 2 - 1) / ((Ro / (Ro - t)) ** 2 + 1)",
        "App. 1-2(a)(2) (m)",
        VIII_1,
        "pressure held by the longitudinal joint of a thick cylinder, outside dimension",
        (_WALL, POSITIVE_SIZE["Ro"], Limit("t < Ro", "the wall is thicker than the radius")),
    ),
    Formula(
        "hold_cylinder_longitudinal_exponential_inside",
        "P_hold_L",
        "S * E * log((R + t) / R)",
        "App. 1-2(a)(2) (m)",
        VIII_1,
        "pressure held by the longitudinal joint of a thick cylinder, exponential form",
        (_WALL, POSITIVE_SIZE["R"]),
    ),
    Formula(
        "hold_cylinder_longitudinal_exponential_outside",
        "P_hold_L",
        "S * E * log(Ro / (Ro - t))",
        "App. 1-2(a)(2) (m)",
        VIII_1,
        "pressure held by the longitudinal joint of a thick cylinder, outside dimension, exponential form",
        (_WALL, POSITIVE_SIZE["Ro"], Limit("t < Ro", "the wall is thicker than the radius")),
    ),
    # ---- cylinder, circumferential joint ----------------------------------------------------------------------------
    Formula(
        "hold_cylinder_circumferential_inside",
        "P_hold_C",
        "2 * S * E * t / (R - 0.4 * t)",
        "UG-27(c)(2)",
        VIII_1,
        "pressure held by the circumferential joint, inside dimension",
        (_WALL, POSITIVE_SIZE["R"], Limit("t <= R / 2", _THIN_WALL), Limit("P_hold_C <= 1.25 * S * E", _THIN_PRESSURE)),
    ),
    Formula(
        "hold_cylinder_circumferential_outside",
        "P_hold_C",
        "2 * S * E * t / (Ro - 1.4 * t)",
        "UG-27(c)(2), outside form",
        VIII_1,
        "pressure held by the circumferential joint, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Ro"],
            Limit("t <= (Ro - t) / 2", _THIN_WALL),
            Limit("P_hold_C <= 1.25 * S * E", _THIN_PRESSURE),
        ),
    ),
    Formula(
        "hold_cylinder_circumferential_thick_inside",
        "P_hold_C",
        "S * E * (((R + t) / R) ** 2 - 1)",
        "App. 1-2(b)(2) (m)",
        VIII_1,
        "pressure held by the circumferential joint of a thick cylinder, inside dimension",
        (_WALL, POSITIVE_SIZE["R"]),
    ),
    Formula(
        "hold_cylinder_circumferential_thick_outside",
        "P_hold_C",
        "S * E * ((Ro / (Ro - t)) ** 2 - 1)",
        "App. 1-2(b)(2) (m)",
        VIII_1,
        "pressure held by the circumferential joint of a thick cylinder, outside dimension",
        (_WALL, POSITIVE_SIZE["Ro"], Limit("t < Ro", "the wall is thicker than the radius")),
    ),
    Formula(
        "hold_cylinder",
        "P_hold",
        "min(P_hold_L, P_hold_C)",
        "UG-27(c)",
        VIII_1,
        "the lower pressure of a cylinder's two joints",
    ),
    # ---- sphere, hemispherical head, crown of a head ----------------------------------------------------------------
    Formula(
        "hold_sphere_inside",
        "P_hold",
        "2 * S * E * t / (R + 0.2 * t)",
        "UG-27(d), UG-32",
        VIII_1,
        "pressure a sphere holds, inside dimension",
        (
            _WALL,
            POSITIVE_SIZE["R"],
            Limit("t <= 0.356 * R", _THIN_WALL),
            Limit("P_hold <= 0.665 * S * E", _THIN_PRESSURE),
        ),
    ),
    Formula(
        "hold_sphere_outside",
        "P_hold",
        "2 * S * E * t / (Ro - 0.8 * t)",
        "App. 1-1(a)(2)",
        VIII_1,
        "pressure a sphere holds, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Ro"],
            Limit("t <= 0.356 * (Ro - t)", _THIN_WALL),
            Limit("P_hold <= 0.665 * S * E", _THIN_PRESSURE),
        ),
    ),
    Formula(
        "hold_sphere_thick_inside",
        "P_hold",
        "2 * S * E * (((R + t) / R) ** 3 - 1) / (((R + t) / R) ** 3 + 2)",
        "App. 1-3 (m)",
        VIII_1,
        "pressure a thick sphere holds, inside dimension",
        (_WALL, POSITIVE_SIZE["R"]),
    ),
    Formula(
        "hold_sphere_thick_outside",
        "P_hold",
        "2 * S * E * ((Ro / (Ro - t)) ** 3 - 1) / ((Ro / (Ro - t)) ** 3 + 2)",
        "App. 1-3 (m)",
        VIII_1,
        "pressure a thick sphere holds, outside dimension",
        (_WALL, POSITIVE_SIZE["Ro"], Limit("t < Ro", "the wall is thicker than the radius")),
    ),
    # ---- formed heads, cones, flat heads ----------------------------------------------------------------------------
    Formula(
        "hold_ellipsoidal_inside",
        "P_hold",
        "2 * S * E * t / (K * D + 0.2 * t)",
        "UG-32, App. 1-4(c)",
        VIII_1,
        "pressure an ellipsoidal head holds, inside dimension",
        (_WALL, POSITIVE_SIZE["D"], POSITIVE_SIZE["K"], POSITIVE_SIZE["K1"], Limit("t >= 0.002 * K1 * D", SMALL_HEAD)),
    ),
    Formula(
        "hold_ellipsoidal_outside",
        "P_hold",
        "2 * S * E * t / (K * Do - 2 * t * (K - 0.1))",
        "App. 1-4(c)",
        VIII_1,
        "pressure an ellipsoidal head holds, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Do"],
            POSITIVE_SIZE["K"],
            POSITIVE_SIZE["K1"],
            Limit("2 * t < Do", "the wall is thicker than the head"),
            Limit("t >= 0.002 * K1 * (Do - 2 * t)", SMALL_HEAD),
        ),
    ),
    Formula(
        "hold_torispherical_inside",
        "P_hold",
        "2 * S * E * t / (L * M + 0.2 * t)",
        "UG-32, App. 1-4(d)",
        VIII_1,
        "pressure a torispherical head holds, inside dimension",
        (_WALL, POSITIVE_SIZE["L"], POSITIVE_SIZE["M"], Limit("t >= 0.002 * L", SMALL_HEAD)),
    ),
    Formula(
        "hold_torispherical_outside",
        "P_hold",
        "2 * S * E * t / (M * Lo - t * (M - 0.2))",
        "App. 1-4(d)",
        VIII_1,
        "pressure a torispherical head holds, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Lo"],
            POSITIVE_SIZE["M"],
            Limit("t < Lo", "the wall is thicker than the head"),
            Limit("t >= 0.002 * (Lo - t)", SMALL_HEAD),
        ),
    ),
    Formula(
        "hold_cone_inside",
        "P_hold",
        "2 * S * E * t * cosd(alpha) / (D + 1.2 * t * cosd(alpha))",
        "UG-32, App. 1-4(e)",
        VIII_1,
        "pressure a cone holds, inside dimension",
        (
            _WALL,
            POSITIVE_SIZE["D"],
            Limit("alpha <= 30", "half apex angle above 30 degrees: the cone formula does not apply"),
            Limit("alpha >= 0", "half apex angle below zero"),
        ),
    ),
    Formula(
        "hold_cone_outside",
        "P_hold",
        "2 * S * E * t * cosd(alpha) / (Do - 0.8 * t * cosd(alpha))",
        "App. 1-4(e)",
        VIII_1,
        "pressure a cone holds, outside dimension",
        (
            _WALL,
            POSITIVE_SIZE["Do"],
            Limit("alpha <= 30", "half apex angle above 30 degrees: the cone formula does not apply"),
            Limit("alpha >= 0", "half apex angle below zero"),
            Limit("Do > 0.8 * t * cosd(alpha)", "the wall is thicker than the cone"),
        ),
    ),
    Formula(
        "hold_flat_head",
        "P_hold",
        "S * E * (t / d) ** 2 / C",
        "UG-34(c)(2)",
        VIII_1,
        "pressure a flat head holds",
        (_WALL, POSITIVE_SIZE["d"], Limit("C > 0", "the flat-head factor is not above zero")),
    ),
    # ---- at the top of the vessel -----------------------------------------------------------------------------------
    Formula(
        "mawp",
        "MAWP",
        "max(0, min(P_top, P_hold - P_head))",
        "UG-98, API 510 7.3",
        VIII_1,
        "pressure held, less static head, never above the nameplate or rerated pressure",
    ),
)

FORMULAS = (
    *_FULL_RANGE,
    *(
        without_thin_limit(formula, "P_pl")
        for formula in _FULL_RANGE
        if any(limit.otherwise == SMALL_HEAD for limit in formula.limits)
    ),
)
