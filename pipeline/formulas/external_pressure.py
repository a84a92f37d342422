"""External pressure: the closed-form rules of ASME BPVC Section VIII Division 2, 4.4.5 and 4.4.7, all from memory (m).

A code case allows them to Division 1 vessels. The required thickness is the one at which the allowable external
pressure equals the design one; it is found by halving a bracket, since no expression gives it.

The printed branches of the predicted stress and of the design factor meet to the digits printed only. Taking the lesser
stress and the larger factor there (they differ by less than 0.2 %) makes both grow without a step, so that a thicker
wall is never allowed less. The buckling factor keeps its printed branches: the two places where it steps down are
clauses of their own, and the search for the root begins above them where it must.
"""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit

VIII_2 = "ASME BPVC Section VIII Division 2"
_CYLINDER = "4.4.5 (m)"
_SPHERE = "4.4.7 (m)"
_WALL = Limit("t > 0", "the thickness is not above zero")
_OUTSIDE = Limit("Do > 0", "the outside diameter is not above zero")
_RADIUS = Limit("R_b > 0", "the outside radius is not above zero")
_LENGTH = Limit("L_u > 0", "the unsupported length is not above zero")
_MODULUS = Limit("E_y > 0", "the elastic modulus is not above zero")
_YIELD = Limit("S_y > 0", "the yield strength is not above zero")
_COVERED = "the wall is thinner than 1/2000 of the outside diameter: outside the rule"
_THIN_CYLINDER = Limit("Do <= 2000 * t", _COVERED)
_THIN_SPHERE = Limit("R_b <= 1000 * t", _COVERED)
_NEAR = "a millionth thicker than the place itself, so that rounding leaves it on the thick side"
_BEYOND_BASIS = "the plant's engineering basis names the rule for cylinders; this is its counterpart for spheres"

FORMULAS = (
    Formula(
        "halfway", "t", "(t_lo + t_hi) / 2", "bracketed root", "numerical method", "middle of the bracket of a root"
    ),
    Formula(
        "buckling_seam_medium",
        "t",
        "2.000001 * (L_u / 13) ** 2 / Do",
        _CYLINDER,
        VIII_2,
        "thickness at which the length parameter is 13 and the buckling factor steps down",
        (_LENGTH, _OUTSIDE),
        _NEAR,
    ),
    Formula(
        "buckling_seam_long",
        "t",
        "1.000001 * Do * exp(log(sqrt(2) * Do / L_u) / 0.44)",
        _CYLINDER,
        VIII_2,
        "thickness at which the cylinder becomes a long one and the buckling factor steps",
        (_LENGTH, _OUTSIDE),
        _NEAR,
    ),
    Formula(
        "buckling_length",
        "M_x",
        "L_u / sqrt(Do / 2 * t)",
        _CYLINDER,
        VIII_2,
        "length of a cylinder in terms of its radius and wall",
        (_LENGTH, _OUTSIDE, _WALL),
    ),
    Formula(
        "buckling_factor",
        "C_h",
        "1 if M_x <= 1.5 else (0.92 / (M_x - 0.579) if M_x <= 13 else "
        "(1.12 * exp(-(1.058 * log(M_x))) if M_x < 2 * exp(0.94 * log(Do / t)) else 0.55 * t / Do))",
        _CYLINDER,
        VIII_2,
        "elastic buckling factor of a cylinder",
        (Limit("M_x > 0", "the length is not above zero"), _OUTSIDE, _WALL),
    ),
    Formula(
        "buckling_stress_cylinder",
        "F_he",
        "1.6 * C_h * E_y * t / Do",
        _CYLINDER,
        VIII_2,
        "elastic buckling stress of a cylinder",
        (_MODULUS, _OUTSIDE, _WALL),
    ),
    Formula(
        "predicted_stress_cylinder",
        "F_ic",
        "min(S_y, min(0.7 * S_y * exp(0.4 * log(F_he / S_y)), F_he))",
        _CYLINDER,
        VIII_2,
        "predicted buckling stress of a cylinder",
        (_YIELD, Limit("F_he > 0", "the elastic buckling stress is not above zero")),
        "printed in branches: S_y from F_he/S_y = 2.439 up, F_he up to 0.552, the power between",
    ),
    Formula(
        "buckling_stress_sphere",
        "F_he",
        "0.075 * E_y * t / R_b",
        _SPHERE,
        VIII_2,
        "elastic buckling stress of a sphere",
        (_MODULUS, _RADIUS, _WALL),
        _BEYOND_BASIS,
    ),
    Formula(
        "predicted_stress_sphere",
        "F_ic",
        "S_y if F_he >= 6.25 * S_y else (1.31 * S_y / (1.15 + S_y / F_he) if F_he > 1.6 * S_y else "
        "min(0.18 * F_he + 0.45 * S_y, F_he))",
        _SPHERE,
        VIII_2,
        "predicted buckling stress of a sphere",
        (_YIELD, Limit("F_he > 0", "the elastic buckling stress is not above zero")),
        _BEYOND_BASIS,
    ),
    Formula(
        "external_design_factor",
        "F_S",
        "2 if F_ic <= 0.55 * S_y else max(1.667, 2.407 - 0.741 * F_ic / S_y)",
        "4.4.2 (m)",
        VIII_2,
        "design factor of external pressure",
        (_YIELD,),
    ),
    Formula(
        "external_allowed_cylinder",
        "P_a",
        "2 * (F_ic / F_S) * t / Do",
        _CYLINDER,
        VIII_2,
        "allowable external pressure of a cylinder",
        (Limit("F_S > 0", "the design factor is not above zero"), _OUTSIDE, _WALL, _THIN_CYLINDER),
    ),
    Formula(
        "external_allowed_sphere",
        "P_a",
        "2 * (F_ic / F_S) * t / R_b",
        _SPHERE,
        VIII_2,
        "allowable external pressure of a sphere",
        (Limit("F_S > 0", "the design factor is not above zero"), _RADIUS, _WALL, _THIN_SPHERE),
        _BEYOND_BASIS,
    ),
    Formula(
        "head_buckling_radius",
        "R_b",
        "K1 * Do",
        _SPHERE,
        VIII_2,
        "outside radius of the sphere that stands for an ellipsoidal head",
        (Limit("K1 > 0", "the spherical factor is not above zero"), _OUTSIDE),
        _BEYOND_BASIS,
    ),
)
