"""Formed heads thinner than 0.002 of their crown radius: worked by hand, by another road, through sheets to results."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import duckdb
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy.optimize import brentq

from pipeline.audit.calculation import DIFFERING_ROW, HEADING_ROW
from pipeline.audit.results import FIRST_ROW
from pipeline.explain import explain
from pipeline.export import export_workbook
from pipeline.formulas import FORMULAS
from pipeline.quantities import QUANTITIES
from pipeline.run import build
from pipeline.units import in_coherent_unit
from tests.plants import write_plant
from tests.support import convert, needs_office

AS_OF = date(2026, 1, 1)
E_Y, S_Y = 195_000.0, 220.0


def psi(pressure: float) -> float:
    """Return a pressure in the unit of the workbook, whose system is the US one unless the plant says otherwise."""
    return in_coherent_unit(pressure, "MPa", "us")[0]


def written_out(
    t: float, crown: float, knuckle: float, inside: float, modulus: float = E_Y, yielding: float = S_Y
) -> float:
    """App. 1-4(f) (m), written out again with the angles themselves."""
    narrow = knuckle / inside <= 0.08
    c1 = 9.31 * knuckle / inside - 0.086 if narrow else 0.692 * knuckle / inside + 0.605
    c2 = 1.25 if narrow else 1.46 - 2.6 * knuckle / inside
    arm, radius = 0.5 * inside - knuckle, crown - knuckle
    beta, phi = math.acos(arm / radius), math.sqrt(crown * t) / knuckle
    buckling = (arm / math.cos(beta - phi) if phi < beta else arm) + knuckle
    elastic = c1 * modulus * t / knuckle * t / (c2 * buckling * (0.5 * buckling / knuckle - 1))
    plastic = yielding * t / (c2 * buckling * (0.5 * buckling / knuckle - 1))
    if elastic <= plastic:
        held = 0.6 * elastic
    elif elastic <= 8.29 * plastic:
        held = 0.408 * plastic + 0.192 * elastic
    else:
        held = 2.0 * plastic
    return held / 1.5


def allowed(
    t: float, crown: float, knuckle: float, inside: float, modulus: float = E_Y, yielding: float = S_Y
) -> float:
    """The chain of clauses, in Python."""
    known = {"t": t, "L_e": crown, "r_e": knuckle, "D_n": inside, "E_y": modulus, "S_y": yielding}
    for clause in ("thin_head_c1", "thin_head_c2", "thin_head_cosine", "thin_head_angle", "thin_head_radius",
                   "thin_head_elastic_pressure", "thin_head_yield_pressure", "thin_head_allowed"):  # fmt: skip
        found = FORMULAS[clause].evaluate(known)
        assert found is not None, clause
        known[FORMULAS[clause].result] = found
    return known["P_th"]


def test_one_head_by_hand() -> None:
    """D 3000, L 3000, r 180 (6 %), t 5, E 195 000, S_y 220.

    C1 = 9.31 x 0.06 - 0.086 = 0.4726; C2 = 1.25; cos beta = (1500 - 180)/(3000 - 180) = 0.468085, beta = 1.083674;
    phi = sqrt(3000 x 5)/180 = 0.680414; beta - phi = 0.403260, cos 0.919787; c = 1320/0.919787 = 1435.115,
    R_e = 1615.115; 0.5 x 1615.115/180 - 1 = 3.486432; C2 R_e x that = 7038.737;
    P_e = 0.4726 x 195000 x 5/180 x 5/7038.737 = 1.818449 MPa; P_y = 220 x 5/7038.737 = 0.156278 MPa; ratio 11.64:
    above 8.29, P_ck = 2 P_y = 0.312556; allowed 0.208371 MPa.
    """
    assert written_out(5, 3000, 180, 3000) == pytest.approx(0.208371, abs=1e-6)
    assert allowed(5, 3000, 180, 3000) == pytest.approx(0.208371, abs=1e-6)


def test_a_two_to_one_head_is_one_of_point_nine_and_point_seventeen() -> None:
    assert FORMULAS["equivalent_knuckle_radius"].evaluate({"D_n": 1000.0, "x": 2.0}) == pytest.approx(170)
    assert FORMULAS["equivalent_crown_radius"].evaluate({"D_n": 1000.0, "K1": 0.9}) == pytest.approx(900)
    for proportion in (1.69, 2.21):
        assert FORMULAS["equivalent_knuckle_radius"].evaluate({"D_n": 1000.0, "x": proportion}) is None


knuckles = some.floats(0.06, 0.2)
crowns = some.floats(0.8, 1.0)
slender = some.floats(0.0005, 0.002)


@settings(max_examples=200)
@given(thin=slender, knuckle=knuckles, crown=crowns, modulus=some.floats(1.2e5, 2.1e5), yielding=some.floats(120, 500))
def test_the_clauses_are_the_rule_written_out(
    thin: float, knuckle: float, crown: float, modulus: float, yielding: float
) -> None:
    inputs = (thin * crown * 3000, crown * 3000, knuckle * 3000, 3000.0, modulus, yielding)
    assert allowed(*inputs) == pytest.approx(written_out(*inputs), rel=1e-9)


@settings(max_examples=200)
@given(thin=slender, knuckle=knuckles, crown=crowns, more=some.floats(1.001, 4.0))
def test_a_thicker_stiffer_stronger_knuckle_is_allowed_more(
    thin: float, knuckle: float, crown: float, more: float
) -> None:
    t, inputs = thin * crown * 3000, (crown * 3000, knuckle * 3000, 3000.0)
    here = allowed(t, *inputs)
    assert allowed(t * more, *inputs) > here
    assert allowed(t, *inputs, modulus=E_Y * more) >= here
    assert allowed(t, *inputs, yielding=S_Y * more) >= here


@settings(max_examples=100)
@given(thin=slender, knuckle=knuckles, crown=crowns, scale=some.floats(0.03, 30.0), stress=some.floats(0.14, 7.0))
def test_other_units_give_the_same_head(thin: float, knuckle: float, crown: float, scale: float, stress: float) -> None:
    t, inputs = thin * crown * 3000, (crown * 3000, knuckle * 3000, 3000.0)
    other = allowed(t * scale, *(size * scale for size in inputs), E_Y * stress, S_Y * stress)
    assert other / stress == pytest.approx(allowed(t, *inputs), rel=1e-9)


@given(ratio=some.floats(1.5, 8.29))
def test_the_branches_follow_the_fitted_curve_of_division_2(ratio: float) -> None:
    """VIII-2 4.3.6 (m) fits one curve over P_e/P_y where this rule has a straight line: another road, within 5 %.

    At P_e/P_y = 1 the two part (0.53 and 0.60): they are compared from 1.5 up.
    """
    line = FORMULAS["thin_head_allowed"].evaluate({"P_be": ratio, "P_by": 1.0})
    assert line is not None
    above = 0.77508 * ratio - 0.20354 * ratio**2 + 0.019274 * ratio**3
    below = 1 + 0.19014 * ratio - 0.089534 * ratio**2 + 0.0093965 * ratio**3
    assert line * 1.5 == pytest.approx(above / below, rel=0.05)


# ---- through sheets to results --------------------------------------------------------------------------------------

PARTS = [
    "Asset", "Component", "Kind", "Inside diameter (mm)", "Nominal thickness (mm)", "Allowable stress (MPa)",
    "Joint efficiency", "Young's modulus (GPa)", "Yield stress (MPa)", "Head depth (mm)", "Crown radius (mm)",
    "Knuckle radius (mm)", "Loss side",
]  # fmt: skip
MODULUS, YIELD = 195, 220
#: name: MAWP, allowable stress, kind, D, t_nom, last reading, modulus, yield, depth, crown, knuckle, side of the loss
ROWS = {
    # the knuckle governs: plain 0.18 x 3005 x 1.7706/(2 x 200 + ...) = 2.393 mm, root by the knuckle more
    "knuckle": (0.18, 200, "torispherical", 3000, 5, 4.6, MODULUS, YIELD, None, 3000, 180, None),
    "knuckle outside": (0.18, 200, "torispherical", 3000, 5, 4.6, MODULUS, YIELD, None, 3000, 180, "outside"),
    # the plain formula governs: 0.3 x 3010/(2 x 100 + 0.54) = 4.503 mm, t/L 0.0017
    "plain": (0.3, 100, "ellipsoidal", 3000, 5, 4.6, MODULUS, YIELD, 750, None, None, None),
    # the least the rule covers: 0.0005 x 0.9 x 6010 = 2.7045 mm
    "floor": (0.02, 138, "ellipsoidal", 6000, 5, 4.6, MODULUS, YIELD, 1500, None, None, None),
    "below floor": (0.02, 138, "ellipsoidal", 6000, 5, 2.6, MODULUS, YIELD, 1500, None, None, None),
    # built thick, worn thin: required 0.4 MPa, plain 5.43 mm at least 0.002 x 2700, worn to 4.6
    "worn": (0.52, 138, "ellipsoidal", 3000, 8, 4.6, MODULUS, YIELD, 750, None, None, None),
    "worn, nothing known": (0.52, 138, "ellipsoidal", 3000, 8, 4.6, None, None, 750, None, None, None),
    "no modulus": (0.1, 138, "ellipsoidal", 3000, 5, 4.6, None, YIELD, 750, None, None, None),
    "no yield": (0.1, 138, "torispherical", 3000, 5, 4.6, MODULUS, None, None, 3000, 300, None),
    "odd shape": (0.1, 138, "ellipsoidal", 3000, 5, 4.6, MODULUS, YIELD, 600, None, None, None),
}


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    """One vessel for each row, read in 2015 and 2025; seamless, so that no joint counts."""
    folder: Path = tmp_path_factory.mktemp("thin") / "plant"
    write_plant(
        folder,
        register=[
            ["Asset", "Service", "In service", "MAWP (MPa)"],
            *([name, "Nitrogen", date(2015, 1, 1), row[0]] for name, row in ROWS.items()),
        ],
        parts=[
            PARTS,
            *([name, "Head", kind, inside, t, stress, 1.0, modulus, yielding, depth, crown, knuckle, side]
              for name, (_, stress, kind, inside, t, _, modulus, yielding, depth, crown, knuckle, side)
              in ROWS.items()),
        ],
        survey=[
            ["Asset", "Component", "Location", "Date", "Thickness (mm)"],
            *([name, "Head", "1", date(2015, 1, 1), row[5] + 0.4] for name, row in ROWS.items()),
            *([name, "Head", "1", date(2025, 1, 1), row[5]] for name, row in ROWS.items()),
        ],
    )  # fmt: skip
    build(folder, as_of=AS_OF)
    return duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True)


def row_of(results: duckdb.DuckDBPyConnection, table: str, name: str) -> dict[str, object]:
    cursor = results.execute(f"SELECT * FROM {table} WHERE asset = ?", [name])
    [row] = cursor.fetchall()
    return dict(zip([column[0] for column in cursor.description or []], row, strict=True))


def root(pressure: float, *shape: float) -> float:
    return float(brentq(lambda t: written_out(t, *shape) - pressure, 0.05, 20, xtol=1e-13, rtol=1e-14))


def test_where_the_knuckle_governs_its_root_is_required(results: duckdb.DuckDBPyConnection) -> None:
    found = root(0.18, 3000, 180, 3000)
    plain = 0.18 * 3005 * 1.770620726 / (2 * 200 + 0.18 * (1.770620726 - 0.2))  # M = (3 + sqrt(3000/180))/4
    assert plain < found < 0.002 * 3000
    for name in ("knuckle", "knuckle outside"):
        assert row_of(results, "result.location", name)["t_req_mm"] == pytest.approx(found, rel=1e-9)


@pytest.mark.parametrize("name", ["knuckle", "knuckle outside", "plain"])
def test_the_pressure_held_at_the_required_thickness_is_the_pressure(
    results: duckdb.DuckDBPyConnection, name: str
) -> None:
    """Two roads to one number: the thickness found for P holds P again, by the lesser of plain formula and knuckle."""
    needed = row_of(results, "result.location", name)
    pressed = results.execute(
        "SELECT * FROM step.pressure_thickness WHERE asset = ? AND radius_basis = 'retirement' AND zone = 'general' "
        "AND region = 'weld'", [name]
    )  # fmt: skip
    columns = [column[0] for column in pressed.description or []]
    [row] = pressed.fetchall()
    known = {**dict(zip(columns, row, strict=True)), "thickness_mm": needed["t_req_mm"]}
    known["joint_efficiency"] = known["efficiency_longitudinal"]
    plain = FORMULAS[f"hold_{known['plain_formula']}"].evaluate(known)
    head = row_of(results, "step.thin_head", name)
    by_knuckle = allowed(
        float(str(needed["t_req_mm"])),
        *(float(str(head[column])) for column in (
            "equivalent_crown_radius_mm", "equivalent_knuckle_radius_mm", "inside_diameter_as_built_mm"))
    )  # fmt: skip
    assert plain is not None
    assert min(plain, by_knuckle) == pytest.approx(ROWS[name][0], rel=1e-9)


def test_where_the_plain_formula_governs_it_is_required(results: duckdb.DuckDBPyConnection) -> None:
    """K 1, Do 3010: 0.3 x 3010/(2 x 100 + 2 x 0.3 x 0.9) = 4.502842 mm; the knuckle needs less: 2700 and 510."""
    assert root(0.3, 2700, 510, 3000) < 4.5
    assert row_of(results, "result.location", "plain")["t_req_mm"] == pytest.approx(903 / 200.54, rel=1e-9)


def test_no_wall_thinner_than_the_rule_covers_is_enough(results: duckdb.DuckDBPyConnection) -> None:
    """Plain 0.02 x 6010/(276 + 0.036) = 0.435 mm: the rule begins at 0.0005 x 0.9 x 6010 = 2.7045 mm."""
    assert row_of(results, "result.location", "floor")["t_req_mm"] == pytest.approx(2.7045, rel=1e-9)
    below = row_of(results, "result.location", "below floor")
    assert (below["state"], below["mawp_mpa"]) == ("below required", None)
    because = row_of(results, "step.pressure_held", "below floor")["not_held_because"]
    assert because == "the wall is thinner than 0.0005 of the crown radius: no rule covers it"
    assert any(str(because) in remark for remark in explain(results, "below floor").remarks)


def test_a_head_worn_thin_keeps_its_pressure(results: duckdb.DuckDBPyConnection) -> None:
    """Required by the plain formula, outside form; worn to 4.6 mm = 0.0017 of the crown radius.

    It holds the lesser of 2 x 138 x 4.6/(3016 - 2 x 4.6 x 0.9) = 0.422117 MPa and what its knuckle is allowed.
    """
    needed = row_of(results, "result.location", "worn")
    assert needed["t_req_mm"] == pytest.approx(0.52 * 3016 / (276 + 2 * 0.52 * 0.9), rel=1e-9)
    held = row_of(results, "step.pressure_held", "worn")
    plain, knuckle = 2 * 138 * 4.6 / (3016 - 2 * 4.6 * 0.9), written_out(4.6, 2700, 510, 3000)
    assert held["hold_formula"] == "hold_thin_head"
    assert held["holding_pressure_mpa"] == pytest.approx(min(plain, knuckle), rel=1e-9)
    assert held["mawp_mpa"] == pytest.approx(min(plain, knuckle), rel=1e-9)
    assert held["mawp_next_mpa"] is not None


def test_a_head_worn_thin_whose_steel_is_not_known_says_so(results: duckdb.DuckDBPyConnection) -> None:
    place, held = (row_of(results, table, "worn, nothing known") for table in ("result.location", "step.pressure_held"))
    assert place["state"] == "below required"
    assert (place["mawp_mpa"], held["not_held_because"]) == (None, "elastic modulus, yield strength")
    assert any("elastic modulus, yield strength" in said for said in explain(results, "worn, nothing known").remarks)


@pytest.mark.parametrize(
    ("name", "missing"),
    [
        ("no modulus", "elastic modulus"),
        ("no yield", "yield strength"),
        ("odd shape", "the proportion D/2h is not between 1.7 and 2.2: no rule for a thin head of this shape"),
    ],
)
def test_what_a_thin_head_lacks_is_named(results: duckdb.DuckDBPyConnection, name: str, missing: str) -> None:
    place = row_of(results, "result.location", name)
    assert (place["t_req_mm"], place["mawp_mpa"], place["state"]) == (None, None, "not assessable")
    assert place["missing"] == f"{missing} (formed head thinner than 0.002 of its crown radius: App. 1-4(f) applies)"
    assert any(missing in remark for remark in explain(results, name).remarks)


def test_the_crown_of_a_thin_head_is_a_sphere(results: duckdb.DuckDBPyConnection) -> None:
    """The zone about the centre has no knuckle: its sphere's thickness stands, whatever the knuckle needs."""
    rows = results.execute(
        "SELECT pressure_formula, pressure_thickness_mm FROM step.pressure_thickness WHERE asset = 'no modulus' "
        "AND zone = 'crown' AND radius_basis = 'retirement' AND region = 'weld'"
    ).fetchall()
    # sphere of outside radius 0.9 x 3000 + 5: 0.1 x 2705/(2 x 138 + 0.08) = 0.979788 mm
    assert rows == [("sphere_outside", pytest.approx(270.5 / 276.08, rel=1e-9))]


@pytest.mark.parametrize("name", sorted(ROWS))
def test_every_explanation_agrees_with_what_is_stored(results: duckdb.DuckDBPyConnection, name: str) -> None:
    assert explain(results, name).faults == []


def test_the_steps_of_a_thin_head_are_explained(results: duckdb.DuckDBPyConnection) -> None:
    ids = [link.id for link in explain(results, "knuckle").links]
    assert ids.count("thin_head_allowed") == 2  # at the required thickness, and at the last reading
    assert "thin_head_thickness" in ids


@needs_office
def test_the_audit_workbook_works_the_chain_out_again(results: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    """Recalculated by a spreadsheet program: every live result is the program's; a root that is none is no result."""
    path = tmp_path / "audit.xlsx"
    export_workbook(results, path)
    sheet = openpyxl.load_workbook(convert(path, "xlsx", tmp_path), data_only=True)["Calculation"]
    heads = {}
    for cell in sheet[HEADING_ROW]:
        heads.setdefault(str(cell.value), cell.column)
    live = {
        str(row[0].value): {name: row[column - 1].value for name, column in heads.items()}
        for row in sheet.iter_rows(min_row=FIRST_ROW)
    }
    compared = [cell.value for cell in sheet[DIFFERING_ROW] if isinstance(cell.value, (int, float))]
    assert sum(compared) == 0
    allowed_at_root = f"{QUANTITIES['P_th'].label}, at the thickness found"
    for name in ("knuckle", "knuckle outside", "plain"):
        assert live[name][allowed_at_root] == pytest.approx(psi(ROWS[name][0]), rel=1e-9), name
    held = live["worn"][f"{QUANTITIES['P_th'].label}, at the last reading"]
    assert held == pytest.approx(psi(written_out(4.6, 2700, 510, 3000)), rel=1e-9)
