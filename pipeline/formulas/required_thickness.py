"""Required thickness for internal pressure: ASME BPVC Section VIII Division 1, all kinds, both dimension forms."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit

VIII_1 = "ASME BPVC Section VIII Division 1"

_POSITIVE_PRESSURE = Limit("P > 0", "the pressure is not above zero")
_STRESS = Limit("S * E > 0", "stress or joint efficiency is zero")
# A size of zero would give a thickness of zero: a gap in the register must not read as "thin is enough".
POSITIVE_SIZE = {
    "R": Limit("R > 0", "the inside radius is not above zero"),
    "Ro": Limit("Ro > 0", "the outside radius is not above zero"),
    "D": Limit("D > 0", "the inside diameter is not above zero"),
    "Do": Limit("Do > 0", "the outside diameter is not above zero"),
    "L": Limit("L > 0", "the crown radius is not above zero"),
    "Lo": Limit("Lo > 0", "the outside crown radius is not above zero"),
    "d": Limit("d > 0", "the diameter of the flat head is not above zero"),
    "K": Limit("K > 0", "the ellipsoidal factor is not above zero"),
    "K1": Limit("K1 > 0", "the spherical factor is not above zero"),
    "M": Limit("M > 0", "the torispherical factor is not above zero"),
}
SMALL_HEAD = "formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies"

_FULL_RANGE = (
    # ---- cylinder, longitudinal joint -------------------------------------------------------------------------------
    Formula(
        "cylinder_longitudinal_inside",
        "t_L",
        "P * R / (S * E - 0.6 * P)",
        "UG-27(c)(1)",
        VIII_1,
        "cylinder, longitudinal joint, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["R"],
            Limit("P <= 0.385 * S * E", "P is above 0.385 S E: thick wall"),
            Limit("t_L <= R / 2", "t is above R/2: thick wall"),
        ),
    ),
    Formula(
        "cylinder_longitudinal_outside",
        "t_L",
        "P * Ro / (S * E + 0.4 * P)",
        "App. 1-1(a)(1)",
        VIII_1,
        "cylinder, longitudinal joint, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Ro"],
            _STRESS,
            Limit("P <= 0.385 * S * E", "P is above 0.385 S E: thick wall"),
            Limit("t_L <= (Ro - t_L) / 2", "t is above R/2: thick wall"),
        ),
    ),
    Formula(
        "cylinder_longitudinal_thick_inside",
        "t_L",
        "R * (sqrt((S * E + P) / (S * E - P)) - 1)",
        "App. 1-2(a)(1) (m)",
        VIII_1,
        "thick cylinder, longitudinal joint, inside dimension",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["R"], Limit("P < S * E", "P is not below S E: no thickness is enough")),
        "older editions; newer ones use an exponential",
    ),
    Formula(
        "cylinder_longitudinal_thick_outside",
        "t_L",
        "Ro * (sqrt((S * E + P) / (S * E - P)) - 1) / sqrt((S * E + P) / (S * E - P))",
        "App. 1-2(a)(1) (m)",
        VIII_1,
        "thick cylinder, longitudinal joint, outside dimension",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["Ro"], Limit("P < S * E", "P is not below S E: no thickness is enough")),
        "older editions; newer ones use an exponential",
    ),
    Formula(
        "cylinder_longitudinal_exponential_inside",
        "t_L",
        "R * (exp(P / (S * E)) - 1)",
        "App. 1-2(a)(1) (m)",
        VIII_1,
        "thick cylinder, longitudinal joint, inside dimension, exponential form",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["R"], _STRESS),
        "newer editions",
    ),
    Formula(
        "cylinder_longitudinal_exponential_outside",
        "t_L",
        "Ro * (1 - exp(-(P / (S * E))))",
        "App. 1-2(a)(1) (m)",
        VIII_1,
        "thick cylinder, longitudinal joint, outside dimension, exponential form",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["Ro"], _STRESS),
        "newer editions",
    ),
    # ---- cylinder, circumferential joint ----------------------------------------------------------------------------
    Formula(
        "cylinder_circumferential_inside",
        "t_C",
        "P * R / (2 * S * E + 0.4 * P)",
        "UG-27(c)(2)",
        VIII_1,
        "cylinder, circumferential joint, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["R"],
            _STRESS,
            Limit("P <= 1.25 * S * E", "P is above 1.25 S E: thick wall"),
            Limit("t_C <= R / 2", "t is above R/2: thick wall"),
        ),
    ),
    Formula(
        "cylinder_circumferential_outside",
        "t_C",
        "P * Ro / (2 * S * E + 1.4 * P)",
        "UG-27(c)(2), outside form",
        VIII_1,
        "cylinder, circumferential joint, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Ro"],
            _STRESS,
            Limit("P <= 1.25 * S * E", "P is above 1.25 S E: thick wall"),
            Limit("t_C <= (Ro - t_C) / 2", "t is above R/2: thick wall"),
        ),
    ),
    Formula(
        "cylinder_circumferential_thick_inside",
        "t_C",
        "R * (sqrt(P / (S * E) + 1) - 1)",
        "App. 1-2(b)(1) (m)",
        VIII_1,
        "thick cylinder, circumferential joint, inside dimension",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["R"], _STRESS),
    ),
    Formula(
        "cylinder_circumferential_thick_outside",
        "t_C",
        "Ro * (sqrt(P / (S * E) + 1) - 1) / sqrt(P / (S * E) + 1)",
        "App. 1-2(b)(1) (m)",
        VIII_1,
        "thick cylinder, circumferential joint, outside dimension",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["Ro"], _STRESS),
    ),
    # ---- sphere, hemispherical head, crown of a head ----------------------------------------------------------------
    Formula(
        "sphere_inside",
        "t_p",
        "P * R / (2 * S * E - 0.2 * P)",
        "UG-27(d), UG-32",
        VIII_1,
        "sphere, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["R"],
            Limit("P <= 0.665 * S * E", "P is above 0.665 S E: thick wall"),
            Limit("t_p <= 0.356 * R", "t is above 0.356 R: thick wall"),
        ),
    ),
    Formula(
        "sphere_outside",
        "t_p",
        "P * Ro / (2 * S * E + 0.8 * P)",
        "App. 1-1(a)(2)",
        VIII_1,
        "sphere, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Ro"],
            _STRESS,
            Limit("P <= 0.665 * S * E", "P is above 0.665 S E: thick wall"),
            Limit("t_p <= 0.356 * (Ro - t_p)", "t is above 0.356 R: thick wall"),
        ),
    ),
    Formula(
        "sphere_thick_inside",
        "t_p",
        "R * (exp(log(2 * (S * E + P) / (2 * S * E - P)) / 3) - 1)",
        "App. 1-3 (m)",
        VIII_1,
        "thick sphere, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["R"],
            Limit("P < 2 * S * E", "P is not below 2 S E: no thickness is enough"),
        ),
    ),
    Formula(
        "sphere_thick_outside",
        "t_p",
        "Ro * (1 - exp(-(log(2 * (S * E + P) / (2 * S * E - P)) / 3)))",
        "App. 1-3 (m)",
        VIII_1,
        "thick sphere, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Ro"],
            Limit("P < 2 * S * E", "P is not below 2 S E: no thickness is enough"),
        ),
    ),
    # ---- formed heads -----------------------------------------------------------------------------------------------
    Formula(
        "ellipsoidal_inside",
        "t_p",
        "P * D * K / (2 * S * E - 0.2 * P)",
        "UG-32, App. 1-4(c)",
        VIII_1,
        "ellipsoidal head, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["D"],
            POSITIVE_SIZE["K"],
            POSITIVE_SIZE["K1"],
            Limit("0.2 * P < 2 * S * E", "P is not below 10 S E: no thickness is enough"),
            Limit("t_p >= 0.002 * K1 * D", SMALL_HEAD),
        ),
    ),
    Formula(
        "ellipsoidal_outside",
        "t_p",
        "P * Do * K / (2 * S * E + 2 * P * (K - 0.1))",
        "App. 1-4(c)",
        VIII_1,
        "ellipsoidal head, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Do"],
            POSITIVE_SIZE["K"],
            POSITIVE_SIZE["K1"],
            _STRESS,
            Limit("2 * S * E + 2 * P * (K - 0.1) > 0", "stress or joint efficiency is zero"),
            Limit("t_p >= 0.002 * K1 * (Do - 2 * t_p)", SMALL_HEAD),
        ),
    ),
    Formula(
        "torispherical_inside",
        "t_p",
        "P * L * M / (2 * S * E - 0.2 * P)",
        "UG-32, App. 1-4(d)",
        VIII_1,
        "torispherical head, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["L"],
            POSITIVE_SIZE["M"],
            Limit("0.2 * P < 2 * S * E", "P is not below 10 S E: no thickness is enough"),
            Limit("t_p >= 0.002 * L", SMALL_HEAD),
        ),
    ),
    Formula(
        "torispherical_outside",
        "t_p",
        "P * Lo * M / (2 * S * E + P * (M - 0.2))",
        "App. 1-4(d)",
        VIII_1,
        "torispherical head, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Lo"],
            POSITIVE_SIZE["M"],
            _STRESS,
            Limit("2 * S * E + P * (M - 0.2) > 0", "stress or joint efficiency is zero"),
            Limit("t_p >= 0.002 * (Lo - t_p)", SMALL_HEAD),
        ),
    ),
    Formula(
        "cone_inside",
        "t_p",
        "P * D / (2 * cosd(alpha) * (S * E - 0.6 * P))",
        "UG-32, App. 1-4(e)",
        VIII_1,
        "cone, inside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["D"],
            Limit("0.6 * P < S * E", "P is not below S E / 0.6: no thickness is enough"),
            Limit("alpha <= 30", "half apex angle above 30 degrees: the cone formula does not apply"),
            Limit("alpha >= 0", "half apex angle below zero"),
        ),
    ),
    Formula(
        "cone_outside",
        "t_p",
        "P * Do / (2 * cosd(alpha) * (S * E + 0.4 * P))",
        "App. 1-4(e)",
        VIII_1,
        "cone, outside dimension",
        (
            _POSITIVE_PRESSURE,
            POSITIVE_SIZE["Do"],
            _STRESS,
            Limit("alpha <= 30", "half apex angle above 30 degrees: the cone formula does not apply"),
            Limit("alpha >= 0", "half apex angle below zero"),
        ),
    ),
    Formula(
        "flat_head",
        "t_p",
        "d * sqrt(C * P / (S * E))",
        "UG-34(c)(2)",
        VIII_1,
        "flat head",
        (_POSITIVE_PRESSURE, POSITIVE_SIZE["d"], _STRESS, Limit("C > 0", "the flat-head factor is not above zero")),
    ),
    # ---- what else may govern ---------------------------------------------------------------------------------------
    Formula(
        "cylinder_pressure_thickness",
        "t_p",
        "max(t_L, t_C)",
        "UG-27(c)",
        VIII_1,
        "the larger of a cylinder's two joints",
    ),
    Formula(
        "neck_minimum",
        "t_neck",
        "min(max(t_sh, t_min), t_std * (1 - u))",
        "UG-45 (m)",
        VIII_1,
        "least thickness of a nozzle neck: the parent wall's own need at E = 1, or standard pipe less tolerance",
    ),
    Formula(
        "neck_minimum_without_size",
        "t_neck",
        "max(t_sh, t_min)",
        "UG-45 (m)",
        VIII_1,
        "least thickness of a nozzle neck whose pipe size is not on the register: the parent wall's own need at E = 1",
    ),
    Formula(
        "neck_minimum_without_parent",
        "t_neck",
        "t_std * (1 - u)",
        "UG-45 (m)",
        VIII_1,
        "least thickness of a nozzle neck whose parent wall is not assessable: standard pipe less its undertolerance",
    ),
    Formula(
        "required_thickness",
        "t_req",
        "max(max(t_p, t_min), max(t_str, t_ext))",
        "UG-16(b), UG-28, API 510 7.3",
        VIII_1,
        "the largest of pressure, code minimum, structural minimum and external pressure",
        note="a structural minimum or external thickness that the register does not give counts as zero here and is "
        "named as not considered",
    ),
    Formula(
        "required_thickness_neck",
        "t_req",
        "max(max(t_p, t_neck), max(t_str, t_ext))",
        "UG-45 (m), UG-28, API 510 7.3",
        VIII_1,
        "the largest of pressure, least neck thickness, structural minimum and external pressure",
        note="a structural minimum or external thickness that the register does not give counts as zero here and is "
        "named as not considered",
    ),
    Formula(
        "weld_region",
        "w",
        "max(w_min, 2 * t_req_w)",
        "API 510 7.4",
        "API 510",
        "half-width of the weld region: the greater of 1 in and twice the required thickness",
    ),
)


def without_thin_limit(formula: Formula, result: str) -> Formula:
    """Return a head's formula as it stands below 0.002 of the crown radius, where App. 1-4(f) asks for more besides."""
    return Formula(
        f"{formula.id}_thin",
        result,
        formula.expression,
        formula.clause,
        formula.document,
        f"{formula.title}, thinner than 0.002 of the crown radius",
        tuple(limit for limit in formula.limits if limit.otherwise != SMALL_HEAD),
        "alone it is not enough: App. 1-4(f)",
    )


FORMULAS = (
    *_FULL_RANGE,
    *(
        without_thin_limit(formula, "t_pl")
        for formula in _FULL_RANGE
        if any(limit.otherwise == SMALL_HEAD for limit in formula.limits)
    ),
)
