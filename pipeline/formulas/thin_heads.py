"""Formed heads thinner than 0.002 of their crown radius: ASME BPVC Section VIII Division 1 App. 1-4(f) (m).

The plain formula of such a head says nothing of its knuckle, which may buckle under internal pressure. The rule gives
the pressure at which it would; the thickness is found by halving a bracket. The head's proportions are those as built.
"""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit
from pipeline.formulas.required_thickness import VIII_1

_CLAUSE = "App. 1-4(f) (m)"
_COS = "cosd(phi * 57.29577951308232)"  # an angle in radians; the language has the cosine of degrees
_SHAPE = "the proportion D/2h is not between 1.7 and 2.2: no rule for a thin head of this shape"
_KNUCKLE = Limit("r_e > 0", "the knuckle radius is not above zero")
_WIDE = Limit(
    "D_n > 4 * r_e", "the knuckle radius is not below a quarter of the inside diameter: no rule for a thin head"
)
_FACTOR = Limit("C2 > 0", "the knuckle is too wide for its factor C2")
_WIDTH = Limit("R_e > 2 * r_e", "the knuckle is too wide to buckle by this rule")
_CROWN = Limit("2 * L_e >= D_n", "the crown radius is below the inside radius")
_COVERED = Limit(
    "L_eo <= 2000 * t",
    "the wall is thinner than 0.0005 of the crown radius: no rule covers it",
)
_WALL = Limit("t > 0", "the thickness is not above zero")

FORMULAS = (
    Formula(
        "equivalent_crown_radius",
        "L_e",
        "K1 * D_n",
        _CLAUSE,
        VIII_1,
        "crown radius of the torispherical head that stands for an ellipsoidal one",
    ),
    Formula(
        "equivalent_outside_crown_radius",
        "L_eo",
        "K1 * Do",
        _CLAUSE,
        VIII_1,
        "outside crown radius of the torispherical head that stands for an ellipsoidal one",
    ),
    Formula(
        "equivalent_knuckle_radius",
        "r_e",
        "D_n * (0.5 / x - 0.08)",
        "VIII-2 4.3.7 (m)",
        VIII_1,
        "knuckle radius of the torispherical head that stands for an ellipsoidal one: 0.17 D at 2:1",
        (Limit("x >= 1.7", _SHAPE), Limit("x <= 2.2", _SHAPE)),
    ),
    Formula(
        "thin_head_c1",
        "C1",
        "9.31 * r_e / D_n - 0.086 if r_e <= 0.08 * D_n else 0.692 * r_e / D_n + 0.605",
        _CLAUSE,
        VIII_1,
        "factor C1 of the knuckle",
        (Limit("D_n > 0", "the inside diameter is not above zero"), _KNUCKLE),
    ),
    Formula(
        "thin_head_c2",
        "C2",
        "1.25 if r_e <= 0.08 * D_n else 1.46 - 2.6 * r_e / D_n",
        _CLAUSE,
        VIII_1,
        "factor C2 of the knuckle",
        (Limit("D_n > 0", "the inside diameter is not above zero"), _KNUCKLE),
    ),
    Formula(
        "thin_head_angle",
        "phi",
        "sqrt(L_e * t) / r_e",
        _CLAUSE,
        VIII_1,
        "angle over which the knuckle is stiffened by the crown, in radians",
        (_KNUCKLE, _WALL, Limit("L_e > 0", "the crown radius is not above zero")),
    ),
    Formula(
        "thin_head_cosine",
        "c_b",
        "(0.5 * D_n - r_e) / (L_e - r_e)",
        _CLAUSE,
        VIII_1,
        "cosine of the angle through which the knuckle turns",
        (_KNUCKLE, _WIDE, _CROWN),
    ),
    Formula(
        "thin_head_radius",
        "R_e",
        f"r_e + (0.5 * D_n - r_e) / (c_b * {_COS} + sqrt(max(1 - c_b ** 2, 0)) * sqrt(max(1 - {_COS} ** 2, 0)) "
        f"if phi < 1.5707963267948966 and {_COS} > c_b else 1)",
        _CLAUSE,
        VIII_1,
        "radius at which the knuckle buckles",
        (Limit("phi > 0", "the thickness is not above zero"), Limit("c_b > 0", "the knuckle has no arm")),
    ),
    Formula(
        "thin_head_elastic_pressure",
        "P_be",
        "C1 * E_y * t / r_e * t / (C2 * R_e * (0.5 * R_e / r_e - 1))",
        _CLAUSE,
        VIII_1,
        "internal pressure at which the knuckle buckles elastically",
        (_KNUCKLE, _WALL, _FACTOR, _WIDTH),
    ),
    Formula(
        "thin_head_yield_pressure",
        "P_by",
        "S_y * t / (C2 * R_e * (0.5 * R_e / r_e - 1))",
        _CLAUSE,
        VIII_1,
        "internal pressure at which the knuckle yields",
        (_KNUCKLE, _WALL, _FACTOR, _WIDTH),
    ),
    Formula(
        "thin_head_allowed",
        "P_th",
        "(0.6 * P_be if P_be <= P_by else (0.408 * P_by + 0.192 * P_be if P_be <= 8.29 * P_by else 2 * P_by)) / 1.5",
        _CLAUSE,
        VIII_1,
        "internal pressure the knuckle of a thin head is allowed",
        (Limit("P_by > 0", "the yield pressure is not above zero"),),
    ),
    Formula(
        "thin_head_thickness",
        "t_p",
        "max(t_pl, min(max(t_bu, 0.0005 * L_eo), 0.002 * L_eo))",
        _CLAUSE,
        VIII_1,
        "thickness of a thin formed head: the plain formula and the knuckle both satisfied",
        (Limit("L_eo > 0", "the crown radius is not above zero"),),
        "the rule covers no wall thinner than 0.0005 of the crown radius; from 0.002 on the plain formula suffices",
    ),
    Formula(
        "hold_thin_head",
        "P_hold",
        "min(P_pl, P_th)",
        _CLAUSE,
        VIII_1,
        "pressure a thin formed head holds: the lesser of the plain formula's and the knuckle's",
        (Limit("t > 0", "no wall is left"), _COVERED),
    ),
)
