"""Values printed outside this project, recomputed through the clauses; and independent roads to the same numbers."""

from __future__ import annotations

import csv
import datetime
import math
from fractions import Fraction
from importlib.resources import files
from pathlib import Path

import duckdb
import fluids.piping
import pytest
import scipy.integrate
import scipy.stats

from pipeline.formulas import FORMULAS
from pipeline.units import find_unit
from tests.published import report
from tests.published.recompute import NEGATIVE, RULES, STATUS, Check, factor, read_checks, unit_of_last_digit

CHECKS = read_checks()
REFERENCE = Path(__file__).resolve().parents[2] / "pipeline" / "reference"


def value(formula: str, **inputs: float) -> float:
    found = FORMULAS[formula].evaluate(inputs)
    assert found is not None, f"{formula} gives no value for {inputs}"
    return found


def reference(name: str) -> list[dict[str, float]]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        return [{key: float(text) for key, text in row.items()} for row in csv.DictReader(lines)]


# ---- printed values -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.id)
def test_printed_value(check: Check) -> None:
    assert check.fault() is None


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.id)
def test_check_states_its_source(check: Check) -> None:
    assert check.rule in RULES
    assert check.read_or_memory in STATUS
    assert check.source and check.place
    assert (check.rule in NEGATIVE) == bool(check.right)


def test_there_are_enough_checks() -> None:
    assert len({check.id for check in CHECKS}) == len(CHECKS)
    seen = [check for check in CHECKS if check.read_or_memory in ("read", "rule read, numbers own")]
    assert len(seen) >= 45
    assert sum(check.rule == "wrong" for check in CHECKS) >= 6
    used = {step for check in CHECKS for step in check.chain.split(" > ")}
    kinds = ("cylinder", "sphere", "crown_sphere", "ellipsoidal", "torispherical", "cone", "flat_head", "neck")
    assert not [kind for kind in kinds if not any(kind in step for step in used)]


def test_a_changed_value_is_found_out() -> None:
    """The rules bite: a value off by two units of its last printed digit is a fault, on either side."""
    for check in CHECKS:
        column = "right" if check.right else "printed"
        text = getattr(check, column)
        decimals = len(text.partition(".")[2])
        for off in (-2, 2):
            shifted = f"{float(text) + off * unit_of_last_digit(text):.{decimals}f}"
            assert Check(**{**vars(check), column: shifted}).fault() is not None, (check.id, shifted)


def test_the_table_is_up_to_date() -> None:
    assert report.TABLE.read_text(encoding="utf-8") == report.table(), "run python -m tests.published.report"


def test_units_of_the_checks() -> None:
    assert factor("psi", "P") == pytest.approx(0.006894757293168, rel=1e-12)  # NIST SP 811, from memory
    assert factor("psi/ft", "g_w") == pytest.approx(0.006894757293168 / 304.8, rel=1e-12)
    with pytest.raises(ValueError, match="the unit furlong is not known"):
        factor("furlong", "R")
    degrees = find_unit("deg F")
    assert degrees is not None and degrees.to_inside(212.0) == pytest.approx(100.0, rel=1e-12)


# ---- due dates ------------------------------------------------------------------------------------------------------

#: The Inspector's Most Important Calculations, Ex. 8 and 9: month of the last inspection, life, printed due month.
DUE_MONTHS = (
    ("INT-01", (2003, 3), 14.0, (2010, 3)),
    ("INT-02-V-30", (2003, 9), 5.5, (2006, 6)),
    ("INT-02-V-40", (2001, 11), 20.0, (2011, 11)),
    ("INT-02-V-50", (2003, 5), 11.2, (2009, 1)),
)


@pytest.mark.parametrize(("name", "last", "life", "printed"), DUE_MONTHS, ids=[row[0] for row in DUE_MONTHS])
def test_due_month(name: str, last: tuple[int, int], life: float, printed: tuple[int, int]) -> None:
    """The source counts whole months and rounds up; counting days is never later and less than a month earlier."""
    interval = value("interval", RL=life, cap=10.0, short=2.0)
    days = value("whole_days", years=interval, y_d=365.25, guard=1e-6)
    month_begins = datetime.date(*printed, 1)
    month_ends = (month_begins + datetime.timedelta(days=32)).replace(day=1) - datetime.timedelta(days=1)
    day = datetime.date(*last, 1)
    while day.month == last[1]:
        due = day + datetime.timedelta(days=int(days))
        assert month_begins - datetime.timedelta(days=31) < due <= month_ends, (name, day, due)
        day += datetime.timedelta(days=1)


def test_due_date_of_the_2014_sheet() -> None:
    """API 510 corrosion rate and remaining life sheet: 11 Aug 2014 and half a year give 9 Feb 2015."""
    days = value("whole_days", years=0.5, y_d=365.25, guard=1e-6)
    assert datetime.date(2014, 8, 11) + datetime.timedelta(days=int(days)) == datetime.date(2015, 2, 9)


# ---- tables ---------------------------------------------------------------------------------------------------------

#: Moss, Pressure Vessel Design Manual, Table 2-2.
K1_PRINTED = {
    1.0: 0.5,
    1.2: 0.57,
    1.4: 0.65,
    1.6: 0.73,
    1.8: 0.81,
    2.0: 0.9,
    2.2: 0.99,
    2.4: 1.08,
    2.6: 1.18,
    2.8: 1.27,
    3.0: 1.36,
}


def test_spherical_factor_table() -> None:
    rows = {row["proportion"]: row["spherical_factor"] for row in reference("spherical_factor.csv")}
    assert rows == K1_PRINTED
    assert list(rows) == sorted(rows)
    assert sum(rows) == pytest.approx(22.0)  # checksums of the two columns
    assert sum(rows.values()) == pytest.approx(10.04)
    for below, above in zip(list(rows)[:-1], list(rows)[1:], strict=True):
        tabled = {"x_a": below, "x_b": above, "k_a": rows[below], "k_b": rows[above]}
        assert value("spherical_factor", x=below, **tabled) == pytest.approx(rows[below], rel=1e-12)
        assert value("spherical_factor", x=above, **tabled) == pytest.approx(rows[above], rel=1e-12)
        middle = value("spherical_factor", x=(below + above) / 2, **tabled)
        assert middle == pytest.approx((rows[below] + rows[above]) / 2, rel=1e-12)


def test_standard_pipe_agrees_with_an_independent_table() -> None:
    """`fluids` (MIT) keeps ASME B36.10 in rounded millimetres: compared to a thousandth of an inch."""
    rows = reference("standard_pipe.csv")
    compared = 0
    for row in rows:
        size, wall = row["nominal_pipe_size_in"], row["standard_wall_in"]
        known, _, outside, thickness = fluids.piping.nearest_pipe(NPS=size, schedule="STD")
        assert known == size
        assert thickness / 0.0254 == pytest.approx(wall, abs=0.001), size
        if "outside_diameter_in" in row:
            # From 18 in on it keeps whole millimetres of outside diameter.
            assert outside / 0.0254 == pytest.approx(row["outside_diameter_in"], abs=0.003 if size < 18 else 0.02), size
        compared += 1
    assert compared == len(rows) >= 20


def test_standard_pipe_checksum() -> None:
    rows = reference("standard_pipe.csv")
    sizes = [row["nominal_pipe_size_in"] for row in rows]
    assert sizes == sorted(set(sizes))
    walls = {row["nominal_pipe_size_in"]: row["standard_wall_in"] for row in rows}
    # ASME B36.10M standard walls, from memory; the sum below was added up by hand from the same.
    printed = {0.5: 0.109, 1: 0.133, 1.5: 0.145, 2: 0.154, 3: 0.216, 4: 0.237, 6: 0.280, 8: 0.322, 10: 0.365}
    assert {size: walls[size] for size in printed} == printed
    assert sum(walls.values()) == pytest.approx(6.523, abs=1e-9)
    assert all(walls[size] == 0.375 for size in sizes if size >= 12)


def test_student_quantiles() -> None:
    rows = reference("t_quantile.csv")
    assert [row["degrees_of_freedom"] for row in rows] == list(range(1, len(rows) + 1))
    assert len(rows) >= 30
    for row in rows:
        wanted = scipy.stats.t.ppf(0.95, row["degrees_of_freedom"])
        assert row["t_quantile"] == pytest.approx(wanted, rel=1e-9), row["degrees_of_freedom"]
    quantiles = [row["t_quantile"] for row in rows]
    assert quantiles == sorted(quantiles, reverse=True)
    assert quantiles[-1] > scipy.stats.norm.ppf(0.95)
    # Printed in any table of Student's t (common practice): 6.314, 2.920, 2.353 at one, two, three degrees.
    assert [round(quantile, 3) for quantile in quantiles[:3]] == [6.314, 2.920, 2.353]


# ---- regression -----------------------------------------------------------------------------------------------------


def norris() -> tuple[list[str], list[str]]:
    """NIST StRD Norris, as shipped in the SciPy wheel: 36 pairs y x after line 60."""
    path = files("scipy.stats.tests.data.nist_linregress") / "Norris.dat"
    pairs = [line.split() for line in path.read_text(encoding="utf-8").splitlines()[60:] if line.strip()]
    assert len(pairs) == 36
    return [x for _, x in pairs], [y for y, _ in pairs]


def sums(xs: list[str], ys: list[str]) -> dict[str, float]:
    """The sums of the clauses, exact and then rounded once, as integer sums would give them."""
    x, y = [Fraction(text) for text in xs], [Fraction(text) for text in ys]
    n = len(x)
    return {
        "Sxx": float(n * sum(a * a for a in x) - sum(x) ** 2),
        "Sxy": float(n * sum(a * b for a, b in zip(x, y, strict=True)) - sum(x) * sum(y)),
        "Syy": float(n * sum(b * b for b in y) - sum(y) ** 2),
        "n": float(n),
    }


def test_norris_slope_and_its_error() -> None:
    """NIST StRD Norris: B1 1.00211681802045, standard deviation 0.429796848199937E-03. A rate is minus a slope."""
    known = {**sums(*norris()), "y_d": 1.0}
    assert -value("fit_rate", **known) == pytest.approx(1.00211681802045, rel=1e-13)
    # Syy - Sxy^2/Sxx keeps about ten of sixteen digits of this almost perfect line (R2 0.9999937).
    assert value("fit_rate_error", **known) == pytest.approx(0.429796848199937e-03, rel=1e-9)


def test_norris_in_the_database() -> None:
    known = {**sums(*norris()), "y_d": 1.0}
    con = duckdb.connect()
    con.execute("CREATE SCHEMA formula")
    for name in ("fit_rate", "fit_rate_error"):
        con.execute(FORMULAS[name].macro)
    rate = con.execute("SELECT formula.fit_rate($Sxy, $Sxx, $y_d)", pick(known, "Sxy", "Sxx", "y_d")).fetchone()
    error = con.execute("SELECT formula.fit_rate_error($Syy, $Sxy, $Sxx, $n, $y_d)", known).fetchone()
    assert rate is not None and error is not None
    assert rate[0] == pytest.approx(-1.00211681802045, rel=1e-13)
    assert error[0] == pytest.approx(0.429796848199937e-03, rel=1e-9)


def pick(known: dict[str, float], *names: str) -> dict[str, float]:
    return {name: known[name] for name in names}


def test_draper_and_smith_corrosion_slope() -> None:
    """Draper and Smith's 13 corrosion losses against iron content: slope -24.020 (printed value from memory)."""
    iron = ["0.01", "0.48", "0.71", "0.95", "1.19", "0.01", "0.48", "1.44", "0.71", "1.96", "0.01", "1.44", "1.96"]
    loss = ["127.6", "124", "110.8", "103.9", "101.5", "130.1", "122", "92.3", "113.1", "83.7", "128", "91.4", "86.2"]
    assert round(value("fit_rate", **sums(iron, loss), y_d=1.0), 3) == 24.020


def test_bound_of_the_fitted_rate_covers_as_often_as_it_says() -> None:
    """Straight loss with normal scatter: the one-sided 95 % bound lies above the true rate in 95 % of histories."""
    import numpy as np

    generator = np.random.default_rng(510)
    days = np.array([0.0, 400.0, 900.0, 1500.0, 2100.0, 2900.0])
    true_rate, histories = 0.2, 4000
    quantile = scipy.stats.t.ppf(0.95, len(days) - 2)
    covered = 0
    for _ in range(histories):
        thickness = 12.0 - true_rate * days / 365.25 + generator.normal(0.0, 0.1, len(days))
        known = {
            "Sxx": len(days) * (days**2).sum() - days.sum() ** 2,
            "Sxy": len(days) * (days * thickness).sum() - days.sum() * thickness.sum(),
            "Syy": len(days) * (thickness**2).sum() - thickness.sum() ** 2,
            "n": float(len(days)),
            "y_d": 365.25,
        }
        known = {name: float(number) for name, number in known.items()}
        fitted = value("fit_rate", **known)
        bound = value("fit_upper_bound", fit=fitted, fit_se=value("fit_rate_error", **known), q95=quantile)
        covered += bound >= true_rate
    # Binomial: four standard deviations of 0.95 over the histories.
    assert abs(covered / histories - 0.95) < 4 * math.sqrt(0.95 * 0.05 / histories)


# ---- other roads to the same number ---------------------------------------------------------------------------------

PROPORTIONS = (0.02, 0.2, 0.5, 1.0, 2.0)


@pytest.mark.parametrize("proportion", PROPORTIONS)
def test_square_root_form_is_lame_at_the_bore(proportion: float) -> None:
    """Lame: the hoop stress at the bore of a thick cylinder is P (Ro^2 + R^2)/(Ro^2 - R^2), which shall be S E."""
    R, S, E = 250.0, 138.0, 0.85
    Ro = R * (1 + proportion)
    P = S * E * (Ro**2 - R**2) / (Ro**2 + R**2)
    assert value("cylinder_longitudinal_thick_inside", P=P, R=R, S=S, E=E) == pytest.approx(Ro - R, rel=1e-12)
    assert value("cylinder_longitudinal_thick_outside", P=P, Ro=Ro, S=S, E=E) == pytest.approx(Ro - R, rel=1e-12)
    assert value("hold_cylinder_longitudinal_thick_inside", t=Ro - R, R=R, S=S, E=E) == pytest.approx(P, rel=1e-12)
    assert value("hold_cylinder_longitudinal_thick_outside", t=Ro - R, Ro=Ro, S=S, E=E) == pytest.approx(P, rel=1e-12)


@pytest.mark.parametrize("proportion", PROPORTIONS)
def test_exponential_form_is_the_limit_load(proportion: float) -> None:
    """Hoop less radial stress at S E through the wall: equilibrium integrated over r gives the pressure."""
    R, S, E = 250.0, 138.0, 0.85
    Ro = R * (1 + proportion)
    P, _ = scipy.integrate.quad(lambda r: S * E / r, R, Ro, epsabs=0, epsrel=1e-12)
    assert value("cylinder_longitudinal_exponential_inside", P=P, R=R, S=S, E=E) == pytest.approx(Ro - R, rel=1e-10)
    assert value("cylinder_longitudinal_exponential_outside", P=P, Ro=Ro, S=S, E=E) == pytest.approx(Ro - R, rel=1e-10)
    held = value("hold_cylinder_longitudinal_exponential_outside", t=Ro - R, Ro=Ro, S=S, E=E)
    assert held == pytest.approx(P, rel=1e-10)


@pytest.mark.parametrize("proportion", PROPORTIONS)
def test_thick_circumferential_joint_is_the_balance_of_the_end_force(proportion: float) -> None:
    """P pi R^2 on the closed end is carried by S E over the ring of metal."""
    R, S, E = 250.0, 138.0, 0.85
    Ro = R * (1 + proportion)
    P = S * E * (Ro**2 - R**2) / R**2
    assert value("cylinder_circumferential_thick_inside", P=P, R=R, S=S, E=E) == pytest.approx(Ro - R, rel=1e-12)
    assert value("cylinder_circumferential_thick_outside", P=P, Ro=Ro, S=S, E=E) == pytest.approx(Ro - R, rel=1e-12)


@pytest.mark.parametrize("proportion", PROPORTIONS)
def test_thick_sphere_is_lame_at_the_bore(proportion: float) -> None:
    """Lame: the stress at the bore of a thick sphere is P (Ro^3 + 2 R^3)/(2 (Ro^3 - R^3)), which shall be S E."""
    R, S, E = 250.0, 138.0, 0.85
    Ro = R * (1 + proportion)
    P = S * E * 2 * (Ro**3 - R**3) / (Ro**3 + 2 * R**3)
    assert value("sphere_thick_inside", P=P, R=R, S=S, E=E) == pytest.approx(Ro - R, rel=1e-11)
    assert value("sphere_thick_outside", P=P, Ro=Ro, S=S, E=E) == pytest.approx(Ro - R, rel=1e-11)
    assert value("hold_sphere_thick_outside", t=Ro - R, Ro=Ro, S=S, E=E) == pytest.approx(P, rel=1e-11)


def test_thin_and_thick_forms_meet_at_their_limit() -> None:
    """At P = 0.385 S E the two cylinder forms differ by 5 in 100 000, the sphere forms near 0.665 S E by 2 in 1000."""
    R, S, E = 250.0, 138.0, 0.85
    P = 0.385 * S * E * (1 - 1e-12)
    thick = value("cylinder_longitudinal_thick_inside", P=P, R=R, S=S, E=E)
    # The thin form itself gives 0.50065 R here, above R/2: its second limit has already handed over.
    assert FORMULAS["cylinder_longitudinal_inside"].evaluate({"P": P, "R": R, "S": S, "E": E}) is None
    assert thick / R == pytest.approx(0.500677, abs=5e-7)
    thin_form = P * R / (S * E - 0.6 * P)
    assert thin_form / R == pytest.approx(0.500650, abs=5e-7)
    at_half = S * E / 2.6 * (1 - 1e-12)  # where the thin form gives R/2
    thin = value("cylinder_longitudinal_inside", P=at_half, R=R, S=S, E=E)
    assert thin == pytest.approx(R / 2, rel=1e-9)
    assert value("cylinder_longitudinal_thick_inside", P=at_half, R=R, S=S, E=E) == pytest.approx(thin, rel=1e-4)
    P = 0.6645 * S * E  # the sphere's limit of 0.356 R comes just before 0.665 S E
    sphere = value("sphere_inside", P=P, R=R, S=S, E=E)
    assert value("sphere_thick_inside", P=P, R=R, S=S, E=E) == pytest.approx(sphere, rel=2e-3)


def test_beyond_the_thin_limit_there_is_no_thin_answer() -> None:
    """P = 9000 psi on 15000 psi: the thin form would give 9.375 in where 10 in are needed."""
    psi = factor("psi", "P")
    known = {"P": 9000 * psi, "S": 15000 * psi, "E": 1.0, "R": 254.0}
    thin = FORMULAS["cylinder_longitudinal_inside"]
    assert thin.evaluate(known) is None
    assert [limit.otherwise for limit in thin.unmet_limits(known)] == [
        "P is above 0.385 S E: thick wall",
        "t is above R/2: thick wall",
    ]
    assert value("cylinder_longitudinal_thick_inside", **known) == pytest.approx(254.0, rel=1e-12)


def test_a_hemispherical_head_is_half_a_sphere() -> None:
    """An ellipsoid of D/2h = 1 (K = 1/2) and a torisphere of r = L (M = 1) are hemispheres."""
    P, S, E, D = 1.8, 138.0, 1.0, 1800.0
    sphere = value("sphere_inside", P=P, R=D / 2, S=S, E=E)
    K = value("ellipsoidal_factor", D_n=D, h=D / 2)
    M = value("torispherical_factor", L_n=D / 2, r=D / 2, Do=D)
    assert (K, M) == (0.5, 1.0)
    assert value("ellipsoidal_inside", P=P, D=D, K=K, K1=0.5, S=S, E=E) == pytest.approx(sphere, rel=1e-12)
    assert value("torispherical_inside", P=P, L=D / 2, M=M, S=S, E=E) == pytest.approx(sphere, rel=1e-12)


def test_a_cone_without_angle_is_a_cylinder() -> None:
    P, S, E, R = 1.8, 138.0, 0.85, 900.0
    cylinder = value("cylinder_longitudinal_inside", P=P, R=R, S=S, E=E)
    assert value("cone_inside", P=P, D=2 * R, alpha=0.0, S=S, E=E) == pytest.approx(cylinder, rel=1e-12)
    outside = value("cylinder_longitudinal_outside", P=P, Ro=R, S=S, E=E)
    assert value("cone_outside", P=P, Do=2 * R, alpha=0.0, S=S, E=E) == pytest.approx(outside, rel=1e-12)


def test_noise_limit_is_two_deviations_of_a_difference() -> None:
    """The default scatter of 0.10 mm makes changes up to 0.28 mm noise."""
    assert value("noise_limit", s=0.1) == pytest.approx(2 * math.hypot(0.1, 0.1), rel=1e-12)
    assert round(value("noise_limit", s=0.1), 2) == 0.28
    assert value("rate_deviation", s=0.1, years=2.0) == pytest.approx(math.hypot(0.1, 0.1) / 2, rel=1e-12)
