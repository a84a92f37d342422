"""Radii, diameters and shape factors from what the register gives."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit
from pipeline.formulas.required_thickness import VIII_1

_GEOMETRY = "geometry"

FORMULAS = (
    Formula("inside_radius_as_built", "R_n", "D_n / 2", _GEOMETRY, _GEOMETRY, "inside radius as built"),
    Formula(
        "inside_diameter_from_outside",
        "D_n",
        "Do - 2 * t_nom",
        _GEOMETRY,
        _GEOMETRY,
        "inside diameter from the outside diameter",
        (Limit("D_n > 0", "the wall is thicker than the radius"),),
    ),
    Formula("outside_radius", "Ro", "R_n + t_nom", _GEOMETRY, _GEOMETRY, "outside radius"),
    Formula("outside_diameter", "Do", "D_n + 2 * t_nom", _GEOMETRY, _GEOMETRY, "outside diameter"),
    Formula("outside_crown_radius", "Lo", "L_n + t_nom", _GEOMETRY, _GEOMETRY, "outside crown radius"),
    Formula(
        "inside_radius_allowance",
        "R",
        "R_n + CA",
        "UG-16(e) (m)",
        VIII_1,
        "inside radius with the corrosion allowance gone",
    ),
    Formula(
        "inside_diameter_allowance",
        "D",
        "D_n + 2 * CA",
        "UG-16(e) (m)",
        VIII_1,
        "inside diameter with the corrosion allowance gone",
    ),
    Formula(
        "crown_radius_allowance",
        "L",
        "L_n + CA",
        "UG-16(e) (m)",
        VIII_1,
        "crown radius with the corrosion allowance gone",
    ),
    Formula(
        "flat_head_diameter_allowance",
        "d",
        "D_n + 2 * CA",
        "UG-16(e) (m)",
        VIII_1,
        "diameter of a flat head with the corrosion allowance gone",
    ),
    Formula(
        "head_depth_two_to_one",
        "h",
        "D_n / 4",
        "UG-32",
        VIII_1,
        "depth of a 2:1 ellipsoidal head whose depth the register leaves out",
    ),
    Formula(
        "ellipsoidal_proportion",
        "x",
        "D_n / (2 * h)",
        "App. 1-4(c)",
        VIII_1,
        "proportion of an ellipsoidal head",
        (Limit("h > 0", "the head depth is not above zero"),),
    ),
    Formula(
        "ellipsoidal_factor",
        "K",
        "(2 + (D_n / (2 * h)) ** 2) / 6",
        "App. 1-4(c)",
        VIII_1,
        "ellipsoidal factor from the proportions as built",
        (Limit("h > 0", "the head depth is not above zero"),),
    ),
    Formula(
        "spherical_factor",
        "K1",
        "k_a + (k_b - k_a) * (x - x_a) / (x_b - x_a)",
        "Table UG-37",
        VIII_1,
        "spherical radius factor, linear between tabled proportions",
        (
            Limit("x_b > x_a", "the two tabled proportions are the same"),
            Limit("x >= x_a and x <= x_b", "the proportion is outside the table: 1.0 to 3.0"),
        ),
    ),
    Formula(
        "crown_sphere_radius",
        "R",
        "K1 * D",
        "API 510 7.4 (m)",
        "API 510",
        "radius of the sphere that stands for the crown of an ellipsoidal head",
    ),
    Formula(
        "crown_sphere_outside_radius",
        "Ro",
        "K1 * D_n + t_nom",
        "API 510 7.4 (m)",
        "API 510",
        "outside radius of the sphere that stands for the crown of an ellipsoidal head",
    ),
    Formula(
        "torispherical_factor",
        "M",
        "(3 + sqrt(L_n / r)) / 4",
        "App. 1-4(d)",
        VIII_1,
        "torispherical factor from the proportions as built",
        # A register's rounded decimals may miss the limits by a last digit; that alone is not a fault.
        (
            Limit("L_n > 0", "the crown radius is not above zero"),
            Limit("Do > 0", "the outside diameter is not above zero"),
            Limit("r / L_n >= 0.06 - 0.000001", "knuckle radius below 6 % of the crown radius: UG-32 does not apply"),
            Limit("L_n / Do <= 1 + 0.000001", "crown radius above the outside diameter: UG-32 does not apply"),
        ),
    ),
    Formula(
        "static_head",
        "P_head",
        "g_w * SG * H",
        "UG-98, UG-22",
        VIII_1,
        "pressure of the liquid above the component",
        (Limit("SG >= 0", "the specific gravity is below zero"), Limit("H >= 0", "the liquid head is below zero")),
    ),
    Formula("component_pressure", "P", "P_top + P_head", "UG-98", VIII_1, "pressure at the component"),
)
