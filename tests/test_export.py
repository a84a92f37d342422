"""The audit workbook, recalculated by a spreadsheet program: it says what the program says, and moves as it would.

Live results are held against the results file itself, not only against the values printed beside them.
"""

from __future__ import annotations

import math
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pytest
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.audit.calculation import DIFFERING_ROW, HEADING_ROW
from pipeline.audit.cells import Sheet, Styled
from pipeline.audit.layout import policy_name
from pipeline.audit.mark import is_audit_workbook
from pipeline.audit.results import FIRST_ROW
from pipeline.cautions import CAUTION, NOT_CONSIDERED
from pipeline.cli import main
from pipeline.errors import Problem
from pipeline.export import export_workbook
from pipeline.formulas import FORMULAS
from pipeline.publishing import open_results
from pipeline.run import build
from pipeline.units import COHERENT, in_coherent_unit
from tests.plants import write_plant, write_workbook
from tests.support import convert, needs_office

SHEETS = ["Read me", "Assets", "Policies", "Inputs", "Calculation", "Readings used", "Ledger"]
COMPARED, DIFFER = "Results calculated here and compared", "of which differ from the program's value"
RELATIVE, ABSOLUTE = 1e-9, 1e-12


@dataclass
class Audit:
    """A workbook as written (formulas), as recalculated (values), and the results it was made from."""

    path: Path
    written: Workbook
    values: Workbook
    results: duckdb.DuckDBPyConnection
    system: str

    def table(self, sheet: str) -> list[dict[str, Any]]:
        """Rows of `Calculation` or `Inputs` by heading; the columns after a result carry its heading and a mark."""
        return table(self.values[sheet], HEADING_ROW if sheet == "Calculation" else FIRST_ROW - 2)

    def rows(self, sql: str) -> list[dict[str, Any]]:
        cursor = self.results.execute(sql)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def counted(self, words: str) -> int:
        return next(row[1] for row in self.values["Read me"].iter_rows(values_only=True) if row[0] == words)


def table(sheet: Worksheet, heading_row: int) -> list[dict[str, Any]]:
    headings: list[str] = []
    group = ""
    for column in range(1, sheet.max_column + 1):
        word = sheet.cell(heading_row, column).value
        above = sheet.cell(heading_row - 1, column).value
        group = above or group
        if word in ("program's value", "difference"):
            word = f"{headings[-1].removesuffix('|program')}|{word.split()[0].removesuffix(chr(39) + 's')}"
        elif group.startswith("Required"):
            word = f"{word}, {group}"
        headings.append(word)
    assert len(set(headings)) == len(headings)
    return [
        dict(zip(headings, row, strict=True)) for row in sheet.iter_rows(min_row=FIRST_ROW, values_only=True) if row[0]
    ]


def audit(database: Path, folder: Path) -> Audit:
    connection = open_results(database)
    path = folder / "audit.xlsx"
    export_workbook(connection, path)
    system = connection.execute("SELECT units FROM result.build").fetchall()[0][0]
    recalculated = openpyxl.load_workbook(convert(path, "xlsx", folder), data_only=True)
    return Audit(path, openpyxl.load_workbook(path), recalculated, connection, system)


@pytest.fixture(scope="module")
def demo(demo_results: Path, tmp_path_factory: pytest.TempPathFactory) -> Audit:
    return audit(demo_results, tmp_path_factory.mktemp("audit"))


def changed(made: Audit, folder: Path, cells: dict[tuple[str, str], float]) -> Audit:
    """Return the same workbook with some cells changed, recalculated."""
    path = folder / "changed.xlsx"
    book = openpyxl.load_workbook(made.path)
    for (sheet, cell), value in cells.items():
        assert book[sheet][cell].data_type == "n", "only an input may be changed"
        book[sheet][cell] = value
    book.save(path)
    recalculated = openpyxl.load_workbook(convert(path, "xlsx", folder), data_only=True)
    return Audit(path, book, recalculated, made.results, made.system)


def cell_of(made: Audit, heading: str, asset: str, component: str) -> str:
    """Return the cell of an input on `Inputs`."""
    sheet = made.values["Inputs"]
    column = next(cell.column_letter for cell in sheet[FIRST_ROW - 2] if cell.value == heading)
    row = next(
        at
        for at in range(FIRST_ROW, sheet.max_row + 1)
        if (sheet.cell(at, 1).value, sheet.cell(at, 2).value) == (asset, component)
    )
    return f"{column}{row}"


def row_of(made: Audit, asset: str, component: str) -> dict[str, Any]:
    return next(row for row in made.table("Calculation") if (row["asset"], row["component"]) == (asset, component))


def close(live: Any, wanted: float) -> bool:
    return isinstance(live, (int, float)) and math.isclose(live, wanted, rel_tol=RELATIVE, abs_tol=ABSOLUTE)


# ---- the demo plant -------------------------------------------------------------------------------------------------


@needs_office
def test_no_live_result_differs_and_none_was_left_out(demo: Audit) -> None:
    components = demo.rows("SELECT * FROM result.component")
    table = demo.table("Calculation")
    assert len(table) == len(components) > 400
    compared = differing = 0
    for row in table:
        for heading in row:
            if f"{heading}|program" not in row:
                continue
            live, stored, difference = row[heading], row[f"{heading}|program"], row[f"{heading}|difference"]
            if difference is None:
                assert stored is None, (row["asset"], row["component"], heading)
                assert isinstance(live, str), "a result that is not live says why"
                assert live == "—" or len(live) > 8, live
                continue
            compared += 1
            agrees = live == stored if isinstance(stored, datetime) else close(live, stored)
            differing += not agrees or not 0 <= difference < RELATIVE
    assert differing == 0
    assert compared == demo.counted(COMPARED) > 12_000
    assert demo.counted(DIFFER) == 0


#: Heading, table of the results and column, unit kept inside.
AGAINST_RESULTS = (
    ("required thickness, Required thickness that counts", "t_req_mm", "mm"),
    ("required thickness, Required in the weld region", "t_req_weld_mm", "mm"),
    ("required thickness, Required away from the weld", "t_req_away_mm", "mm"),
    ("long-term corrosion rate", "rate_lt_mm_per_year", "mm/year"),
    ("short-term corrosion rate", "rate_st_mm_per_year", "mm/year"),
    ("governing corrosion rate", "rate_mm_per_year", "mm/year"),
    ("margin over the required thickness", "margin", "-"),
    ("remaining life from the last reading", "remaining_life_years", "year"),
    ("thickness interval", "interval_years", "year"),
    ("pressure the wall holds", "holding_pressure_mpa", "MPa"),
    ("maximum allowable working pressure at the top of the vessel", "mawp_mpa", "MPa"),
    ("thickness due date of this place", "due_on", "date"),
    ("retirement date of this place", "retirement_on", "date"),
)


@needs_office
@pytest.mark.parametrize(("heading", "column", "unit"), AGAINST_RESULTS, ids=[row[1] for row in AGAINST_RESULTS])
def test_live_results_equal_the_results_file(demo: Audit, heading: str, column: str, unit: str) -> None:
    places = {
        (row["asset"], row["component"]): row[column]
        for row in demo.rows(
            f"SELECT part.asset, part.component, place.{column} FROM result.component AS part "
            "JOIN result.location AS place ON place.asset = part.asset AND place.component = part.component "
            "AND place.location = part.governing_location"
        )
    }
    table = demo.table("Calculation")
    known = [key for key, value in places.items() if value is not None]
    live = {(row["asset"], row["component"]): row[heading] for row in table if not isinstance(row[heading], str)}
    assert sorted(live) == sorted(known)
    assert len(known) > 380
    for key in known:
        if unit == "date":
            assert live[key].date() == places[key], key
        else:
            wanted, _ = in_coherent_unit(places[key], unit, demo.system)
            assert close(live[key], wanted), (key, live[key], wanted)


@needs_office
def test_a_component_without_a_result_says_what_is_missing(demo: Audit) -> None:
    missing = demo.rows("SELECT asset, component, missing FROM result.component WHERE missing IS NOT NULL")
    assert missing
    for part in missing:
        row = row_of(demo, part["asset"], part["component"])
        assert row["what is missing"] == part["missing"]
        assert row["remaining life from the last reading"].startswith("missing: ")
        assert row["remaining life from the last reading|program"] is None


@needs_office
def test_a_wrong_stored_value_is_counted(demo: Audit, tmp_path: Path) -> None:
    """The difference counter must be able to fail: one stored value off by a millionth, one wiped out."""
    sheet = demo.written["Calculation"]
    heading = next(c for c in sheet[HEADING_ROW] if c.value == "remaining life from the last reading")
    at = next(n for n in range(FIRST_ROW, sheet.max_row) if sheet.cell(n, heading.column + 1).data_type == "n")
    cell = sheet.cell(at, heading.column + 1)
    wrong = changed(demo, tmp_path, {("Calculation", cell.coordinate): cell.value * (1 + 1e-6)})
    assert wrong.counted(DIFFER) == 1
    differ = wrong.values["Calculation"].cell(DIFFERING_ROW, heading.column + 2).value
    assert differ == 1


# ---- a changed input ------------------------------------------------------------------------------------------------


def required_again(made: Audit, asset: str, component: str, rating_pressure: float) -> float:
    """Return t_req of the governing place at another rating pressure (coherent units), clause by clause in Python."""
    row = made.rows(
        f"SELECT pressed.*, required.*, shape.static_head_mpa FROM result.location AS place "
        f"JOIN result.component AS part ON part.asset = place.asset AND part.component = place.component "
        f"AND part.governing_location = place.location "
        f"JOIN step.pressure_thickness AS pressed ON pressed.asset = place.asset AND "
        f"pressed.component = place.component AND pressed.zone = place.zone AND pressed.region = place.region_counted "
        f"JOIN step.required_thickness AS required ON required.asset = place.asset AND "
        f"required.component = place.component AND required.zone = place.zone "
        f"AND required.region = place.region_counted AND required.radius_basis = pressed.radius_basis "
        f"JOIN step.shape AS shape ON shape.asset = place.asset AND shape.component = place.component "
        f"JOIN basis.in_force AS policy ON pressed.radius_basis = policy.radius_basis "
        f"WHERE place.asset = '{asset}' AND place.component = '{component}'"
    )[0]
    units = {quantity: factor for quantity, (_, factor) in COHERENT[made.system].items()}
    top = rating_pressure * units.get("MPa", 1.0)
    pressure = FORMULAS["component_pressure"].evaluate({"P_top": top, "P_head": row["static_head_mpa"]})
    inputs = {**row, "pressure_mpa": pressure}
    if row["pressure_formula"] == "cylinder_pressure_thickness":
        joints = {}
        for joint, symbol in (("longitudinal", "t_L"), ("circumferential", "t_C")):
            with_joint = {**inputs, "joint_efficiency": row[f"efficiency_{joint}"]}
            joints[symbol] = FORMULAS[row[f"{joint}_formula"]].evaluate(with_joint)
        needed = FORMULAS["cylinder_pressure_thickness"].evaluate(joints)
    else:
        with_joint = {**inputs, "joint_efficiency": row["efficiency_longitudinal"]}
        needed = FORMULAS[row["pressure_formula"]].evaluate(with_joint)
    total = FORMULAS[row["required_formula"]].evaluate({**row, "pressure_thickness_mm": needed})
    assert total is not None
    return total / units.get("mm", 1.0)


@needs_office
def test_a_changed_pressure_moves_the_required_thickness_as_the_clauses_do(demo: Audit, tmp_path: Path) -> None:
    chosen = demo.rows(
        "SELECT kind, min(asset || '|' || component) AS tag FROM result.component "
        "WHERE t_req_mm IS NOT NULL AND kind <> 'nozzle' GROUP BY kind ORDER BY kind"
    )
    assert len(chosen) == 7
    parts = [tuple(row["tag"].split("|")) for row in chosen]
    heading = "rating pressure at the top of the vessel"
    cells, pressures = {}, {}
    for part in parts:
        cell = cell_of(demo, heading, *part)
        pressures[part] = demo.values["Inputs"][cell].value * 1.37
        cells["Inputs", cell] = pressures[part]
    made = changed(demo, tmp_path, cells)
    for part in parts:
        before, after = row_of(demo, *part), row_of(made, *part)
        key = "required thickness, Required thickness that counts"
        wanted = required_again(demo, *part, pressures[part])
        assert close(after[key], wanted), (part, after[key], wanted)
        assert after[key] > before[key], part
        assert after["margin over the required thickness"] < before["margin over the required thickness"]
    assert made.counted(DIFFER) > 0
    untouched = [row for row in made.table("Calculation") if (row["asset"]) not in {asset for asset, _ in parts}]
    assert untouched
    assert all((row["required thickness, Required thickness that counts|difference"] or 0) < 1e-9 for row in untouched)


@needs_office
def test_a_limit_not_met_shows_an_error_and_is_counted(demo: Audit, tmp_path: Path) -> None:
    part = demo.rows(
        "SELECT asset, component FROM result.component WHERE kind = 'torispherical head' AND t_req_mm IS NOT NULL "
        "ORDER BY ALL LIMIT 1"
    )[0]
    cell = cell_of(demo, "inside knuckle radius", part["asset"], part["component"])
    made = changed(demo, tmp_path, {("Inputs", cell): demo.values["Inputs"][cell].value / 2})
    row = row_of(made, part["asset"], part["component"])
    assert row["torispherical factor"] == "#N/A"
    assert row["required thickness, Required thickness that counts"] == "#N/A"
    assert row["thickness due date of this place"] == "#N/A"
    assert made.counted(DIFFER) > 5


@needs_office
def test_a_choice_that_no_longer_holds_shows_an_error(demo: Audit, tmp_path: Path) -> None:
    """A place away from the weld by its distance, moved to the weld; a place without loss that begins to lose metal."""
    governing = (
        "SELECT part.asset, part.component FROM result.component AS part JOIN result.location AS place "
        "ON place.asset = part.asset AND place.component = part.component AND place.location = part.governing_location "
    )
    away = demo.rows(
        f"{governing} WHERE place.weld_region = 'away' AND place.distance_to_weld_mm IS NOT NULL "
        "AND place.remaining_life_years IS NOT NULL ORDER BY ALL LIMIT 1"
    )[0]
    still = demo.rows(
        f"{governing} WHERE place.no_measurable_loss AND place.missing IS NULL AND place.initial_from IS NOT NULL "
        "ORDER BY ALL LIMIT 1"
    )[0]
    far = cell_of(demo, "distance to the nearest weld's toe", away["asset"], away["component"])
    first = cell_of(demo, "initial thickness of the epoch", still["asset"], still["component"])
    made = changed(demo, tmp_path, {("Inputs", far): 0.1, ("Inputs", first): demo.values["Inputs"][first].value * 1.5})
    assert row_of(made, **away)["required thickness, Required thickness that counts"] == "#N/A"
    assert row_of(demo, **still)["remaining life from the last reading"].startswith("no measurable loss")
    lost = row_of(made, **still)
    assert lost["governing corrosion rate"] > 0
    assert lost["thickness interval"] == "#N/A"
    assert lost["thickness due date of this place"] == "#N/A"


@needs_office
def test_the_wall_of_a_neck_follows_its_own_row(demo: Audit, tmp_path: Path) -> None:
    neck = demo.rows(
        "SELECT part.asset, part.component, part.attached_to FROM step.component AS part "
        "JOIN result.component AS whole USING (asset, component) "
        "WHERE part.kind = 'nozzle' AND part.attached_to IS NOT NULL AND whole.t_req_mm IS NOT NULL "
        "ORDER BY ALL LIMIT 1"
    )[0]
    heading = "thickness required of the wall the neck stands in, at E = 1"
    wall = cell_of(demo, "rating pressure at the top of the vessel", neck["asset"], neck["attached_to"])
    seen = cell_of(demo, heading, neck["asset"], neck["component"])
    assert demo.written["Inputs"][seen].data_type == "f"
    made = changed(demo, tmp_path, {("Inputs", wall): demo.values["Inputs"][wall].value * 1.2})
    needed = row_of(made, neck["asset"], neck["attached_to"])[
        "thickness required for pressure, Required away from the weld"
    ]
    assert close(made.values["Inputs"][seen].value, needed)
    assert needed > demo.values["Inputs"][seen].value


@needs_office
def test_a_changed_policy_reaches_the_formulas_by_its_name(demo: Audit, tmp_path: Path) -> None:
    name = policy_name("internal_cap_years")
    target = demo.written.defined_names[name].attr_text.replace("$", "").split("!")
    made = changed(demo, tmp_path, {(target[0], target[1]): 3.0})
    intervals = [row["thickness interval"] for row in made.table("Calculation")]
    numbers = [value for value in intervals if isinstance(value, (int, float))]
    assert max(numbers) == 3.0
    assert sum(value == 3.0 for value in numbers) > 100


# ---- what else stands in it -----------------------------------------------------------------------------------------


@needs_office
def test_formulas_stand_only_where_they_are_meant_to(demo: Audit) -> None:
    assert demo.written.sheetnames == SHEETS
    found: dict[str, set[str]] = {name: set() for name in SHEETS}
    for sheet in demo.written.worksheets:
        for row in sheet.iter_rows():
            found[sheet.title] |= {cell.column_letter for cell in row if cell.data_type == "f"}
    assert found["Read me"] == {"B"}
    assert not any(found[name] for name in ("Assets", "Policies", "Readings used", "Ledger"))
    follow = ("thickness required of the wall the neck stands in, at E = 1", "longest thickness interval allowed")
    headings = {cell.column_letter: cell.value for cell in demo.written["Inputs"][FIRST_ROW - 2]}
    assert {headings[letter] for letter in found["Inputs"]} == set(follow)
    words = {cell.column_letter: cell.value for cell in demo.written["Calculation"][HEADING_ROW]}
    assert not {words[letter] for letter in found["Calculation"]} & {"program's value", "asset", "state of the place"}


@needs_office
def test_every_input_names_its_source_cell_and_the_cell_says_so(demo: Audit, demo_results: Path) -> None:
    """Follow source addresses back into the folder's own workbooks."""
    names = ("allowable stress at the design temperature", "nominal or as-measured baseline thickness")
    books: dict[str, Workbook] = {}
    followed = 0
    for row in demo.table("Inputs"):
        for name in names:
            if row[name] is None:
                continue
            place, _, text = row[f"source: {name}"].partition(": “")
            file, sheet, cell = place.split(", ")
            if file not in books:
                books[file] = openpyxl.load_workbook(demo_results.parent / file, data_only=True)
            stood = books[file][sheet][cell].value
            assert text.split("”")[0].split(" ")[0] == str(stood), (place, stood, text)
            followed += 1
    assert followed > 800
    sources = [row["source: thickness at the last accepted reading"] for row in demo.table("Inputs")]
    assert sum(".csv, " in source or ".xlsx, " in source for source in sources) > 400


@needs_office
def test_read_me_assets_policies_readings_and_ledger_are_the_results(demo: Audit) -> None:
    read_me = [
        [value for value in row if value is not None] for row in demo.values["Read me"].iter_rows(values_only=True)
    ]
    flat = [str(value) for row in read_me for value in row]
    build_row = demo.rows("SELECT * FROM result.build")[0]
    assert CAUTION in flat and NOT_CONSIDERED in flat and build_row["basis_sha256"] in flat
    for source in demo.rows("SELECT file, sha256 FROM result.source"):
        assert [source["file"], source["sha256"]] in [row[:2] for row in read_me]
    for state in demo.rows("SELECT state, count(*) AS n FROM result.asset GROUP BY state"):
        assert [state["state"], state["n"]] in read_me

    assets = list(demo.values["Assets"].iter_rows(min_row=2, values_only=True))
    wanted = demo.rows("SELECT rank, asset, state, reason, due_on FROM result.asset ORDER BY rank")
    assert [row[:4] for row in assets] == [(row["rank"], row["asset"], row["state"], row["reason"]) for row in wanted]
    assert [row[7].date() if row[7] else None for row in assets] == [row["due_on"] for row in wanted]

    policies = list(demo.values["Policies"].iter_rows(min_row=2, values_only=True))
    for policy, row in zip(demo.rows("SELECT * FROM basis.policy"), policies, strict=True):
        assert row[0] == policy["key"] and row[5] == ("stated" if policy["stated"] else "default")
        if policy["number"] is not None:
            assert close(row[2], in_coherent_unit(policy["number"], policy["unit"], demo.system)[0])
            assert row[6] in demo.written.defined_names

    for name, sql in (
        ("Ledger", "SELECT count(*) AS n FROM result.ledger"),
        (
            "Readings used",
            "SELECT count(*) AS n FROM result.reading AS reading SEMI JOIN result.component AS part "
            "ON part.asset = reading.asset AND part.component = reading.component "
            "AND part.governing_location = reading.location",
        ),
    ):
        count = sum(1 for row in demo.values[name].iter_rows(min_row=3, values_only=True) if any(row))
        assert count == demo.rows(sql)[0]["n"] > 100


@needs_office
def test_sheets_are_set_up_for_print_and_scrolling(demo: Audit) -> None:
    for sheet in demo.written.worksheets:
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.fitToHeight == 0 and sheet.page_setup.fitToWidth >= 1
        assert "review by qualified people" in sheet.oddFooter.left.text
        assert demo.rows("SELECT as_of FROM result.build")[0]["as_of"].isoformat() in sheet.oddFooter.right.text
        if sheet.title != "Read me":
            assert sheet.freeze_panes and sheet.print_title_rows
        assert sheet.column_dimensions["A"].width
    inputs, calculation = demo.written["Inputs"], demo.written["Calculation"]
    column = next(cell.column for cell in inputs[FIRST_ROW - 2] if cell.value.startswith("rating pressure"))
    tinted = {inputs.cell(at, column).fill.fgColor.rgb for at in range(FIRST_ROW, inputs.max_row + 1)}
    assert "00FFF3CC" in tinted and calculation["H10"].fill.fgColor.rgb not in tinted - {"00000000"}
    assert calculation.conditional_formatting


# ---- every kind, basis and policy -----------------------------------------------------------------------------------

INSIDE, OUTSIDE = "Inside diameter (mm)", "Outside diameter (mm)"
DEPTH, CROWN, KNUCKLE = "Head depth (mm)", "Crown radius (mm)", "Knuckle radius (mm)"
ANGLE, FACTOR, PIPE = "Half apex angle (deg)", "Flat head factor", "Nominal pipe size"
GRAVITY, HEAD, SIDE = "Specific gravity", "Liquid head (mm)", "Loss side"
STATED, EXTERNAL = "Stated corrosion rate (mm/year)", "Required thickness external (mm)"
WALL, STRESS = "Nominal thickness (mm)", "Allowable stress (MPa)"
PLAIN = {"Kind": "shell", INSIDE: 1500, WALL: 14, STRESS: 138, "Joint efficiency": 0.85, "Corrosion allowance (mm)": 3}
COMPONENTS: dict[str, dict[str, Any]] = {
    "Shell": {GRAVITY: 0.9, HEAD: 3000},
    "Thick": {INSIDE: 300, WALL: 120, SIDE: "inside"},
    "Tube": {INSIDE: None, OUTSIDE: 610, WALL: 12, SIDE: "outside", EXTERNAL: 5},
    "Ball": {"Kind": "sphere", INSIDE: 9000, WALL: 60, SIDE: "both"},
    "Dome": {"Kind": "hemispherical head", WALL: 12, SIDE: "outside", STATED: 0.1},
    "Top": {"Kind": "2:1 head"},
    "Base": {"Kind": "ellipsoidal head", WALL: 16, DEPTH: 340, GRAVITY: 1.1, HEAD: 5000, SIDE: "outside"},
    "Dish": {"Kind": "torispherical head", WALL: 22, CROWN: 1500, KNUCKLE: 150},
    "Plate": {"Kind": "torispherical head", WALL: 22, CROWN: 1400, KNUCKLE: 150, SIDE: "outside"},
    "Cone": {"Kind": "cone", WALL: 18, ANGLE: 25},
    "Funnel": {"Kind": "cone", WALL: 18, ANGLE: 20, SIDE: "outside"},
    "Cover": {"Kind": "flat head", INSIDE: 500, WALL: 60, FACTOR: 0.3},
    "N1": {"Kind": "nozzle", INSIDE: None, WALL: 9, PIPE: 6},
    "N2": {"Kind": "nozzle", INSIDE: None, OUTSIDE: 250, WALL: 9, "Attached to": "Shell"},
    "Odd": {"Kind": "bumped head"},
    "Steep": {"Kind": "cone", ANGLE: 40},
    "Bare": {STRESS: None},
    "Never": {},
    "Once": {STATED: 0.25},
    "Lone": {},
    "Low": {},
    "Calm": {},
    "Calm low": {},
    "Noisy": {},
    "New": {},
    "N3": {"Kind": "nozzle", INSIDE: None, WALL: 9, PIPE: 6},
    "Drum": {},
    "End": {"Kind": "2:1 head", STRESS: 100},
    "N4": {"Kind": "nozzle", INSIDE: None, WALL: 9, PIPE: 4},
}
#: V-2 has walls that cannot be assessed, so that its neck has no wall to compare with; V-3 has only sound ones.
ELSEWHERE = {**dict.fromkeys(("Odd", "Steep", "Bare", "N3"), "V-2"), **dict.fromkeys(("Drum", "End", "N4"), "V-3")}
COMPONENT_HEADINGS = tuple(dict.fromkeys([*PLAIN, *(name for row in COMPONENTS.values() for name in row)]))
#: Years of reading and thickness of the components whose history is not the ordinary one.
PLACES: dict[str, tuple[tuple[int, float], ...]] = {
    "Never": (),
    "Once": ((2024, 13.5),),
    "Lone": ((2024, 13.2),),
    "Low": ((2012, 10.0), (2018, 8.0), (2024, 6.5)),
    "Calm": ((2012, 13.0), (2024, 13.0)),
    "Calm low": ((2012, 6.0), (2024, 6.0)),
}


def every_kind(folder: Path, basis: str) -> Path:
    """Write a plant with every kind of component, dimension and loss side, and histories of every length."""
    parts = {component: {**PLAIN, **given} for component, given in COMPONENTS.items()}
    nominal = {component: float(part[WALL]) for component, part in parts.items()}
    readings: list[list[Any]] = []
    locations: list[list[Any]] = []
    for component, wall in nominal.items():
        history = PLACES.get(component, ((2010, wall), (2015, wall - 0.4), (2020, wall - 0.9), (2024, wall - 1.1)))
        asset = ELSEWHERE.get(component, "V-1")
        readings += [[asset, component, "1", date(year, 5, 1), value] for year, value in history]
        locations.append([asset, component, "1", None, "crown" if component in ("Base", "Plate") else None])
    # Two months later and within scatter: the short-term rate must not govern.
    readings += [["V-1", "Noisy", "1", date(2024, 7, 1), nominal["Noisy"] - 1.3]]
    locations[0][3] = 500
    write_workbook(
        folder / "plant.xlsx",
        {
            "assets": [
                ("Asset", "Service", "In service", "MAWP (MPa)"),
                *((asset, "Steam", date(2010, 5, 1), 1.1) for asset in ("V-1", "V-2", "V-3")),
            ],
            "parts": [
                ("Asset", "Component", *COMPONENT_HEADINGS),
                *(
                    (ELSEWHERE.get(tag, "V-1"), tag, *(part.get(name) for name in COMPONENT_HEADINGS))
                    for tag, part in parts.items()
                ),
            ],
            "places": [("Asset", "Component", "Location", "Distance to weld (mm)", "Head zone"), *locations],
            "readings": [("Asset", "Component", "Location", "Date", "Thickness (mm)"), *readings],
            "events": [
                ("Asset", "Component", "Date", "Event", "New thickness (mm)"),
                ("V-1", "New", date(2022, 5, 1), "replaced", 14),
            ],
        },
    )
    (folder / "basis.toml").write_text(basis, encoding="utf-8")
    build(folder, as_of=date(2026, 1, 1))
    return folder / "results.duckdb"


#: Basis of the plant, and the words beside the rate selected for a short-term change within scatter.
BASES = {
    "si, allowance": ('units = "si"\nradius_basis = "allowance"\nrate_policy = "long-term"\n', "long-term"),
    "si, nominal": (
        'units = "si"\nradius_basis = "nominal"\nrate_policy = "short-term"\nrate_floor_mm_per_year = 0.05\n',
        "long-term: the short-term change is scatter",
    ),
    "us, bound": (
        'units = "us"\nrate_policy = "fit upper bound"\nthick_wall = "exponential"\ninternal_cap_years = 8\n',
        "policy: fit upper bound",
    ),
}


@needs_office
@pytest.mark.parametrize(("basis", "noisy"), BASES.values(), ids=BASES)
def test_every_kind_and_policy_agrees(tmp_path: Path, basis: str, noisy: str) -> None:
    (tmp_path / "plant").mkdir()
    made = audit(every_kind(tmp_path / "plant", basis), tmp_path)
    table = made.table("Calculation")
    assert sorted(row["component"] for row in table) == sorted(COMPONENTS)
    places = {row["component"]: row for row in made.rows("SELECT * FROM result.location")}
    for row in table:
        for heading, column, unit in AGAINST_RESULTS:
            stored = places[row["component"]][column]
            live = row[heading]
            if stored is None:
                assert isinstance(live, str) and live not in ("#N/A", "—"), (row["component"], heading, live)
            elif unit == "date":
                assert live.date() == stored, (row["component"], heading)
            else:
                assert close(live, in_coherent_unit(stored, unit, made.system)[0]), (row["component"], heading, live)
    assert made.counted(DIFFER) == 0
    assert made.counted(COMPARED) > 600
    wall = cell_of(made, "thickness required of the wall the neck stands in, at E = 1", "V-3", "N4")
    assert made.written["Inputs"][wall].value.startswith("=MAX(Calculation!")
    selected = {row["component"]: row["clause: corrosion rate selected by the rate policy"] for row in table}
    assert selected["Noisy"] == noisy
    intervals = {row["component"]: row["thickness interval"] for row in table}
    if "rate_floor" not in basis:
        assert (intervals["Calm"], intervals["Calm low"]) == (8 if "internal_cap_years" in basis else 10, 0)
    assert {row["component"] for row in table if places[row["component"]]["t_req_mm"] is None} == {
        "Odd", "Steep", "Bare",
    }  # fmt: skip


# ---- hostile text ---------------------------------------------------------------------------------------------------

HOSTILE = ("=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "\tx", '=HYPERLINK("http://example.invalid")')


@pytest.fixture
def hostile(tmp_path: Path) -> Iterator[tuple[Path, duckdb.DuckDBPyConnection]]:
    assets, components, locations, readings = [], [], [], []
    for at, text in enumerate(HOSTILE):
        tag = f"V-{at}" if text.startswith("\t") else text
        assets.append([tag, text, text, date(2015, 6, 1), 200, 60, text])
        components.append([tag, "@part", "shell", 0.75, 0.125, 20000, 0.85])
        locations.append([tag, "@part", "=9", 0.5])
        readings += [[tag, "@part", "=9", date(2015, 6, 1), 0.75], [tag, "@part", "=9", date(2025, 6, 1), 0.70]]
    folder = write_plant(
        tmp_path / "plant", assets=assets, components=components, locations=locations, readings=readings
    )
    book = openpyxl.load_workbook(folder / "plant.xlsx")
    for sheet in book.worksheets:  # what begins with "=" must stand in the source as text, as a person would type it
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str):
                    cell.data_type = "s"
    book.save(folder / "plant.xlsx")
    build(folder, as_of=date(2026, 1, 1))
    connection = open_results(folder / "results.duckdb")
    yield tmp_path, connection
    connection.close()


def test_hostile_text_stays_text(hostile: tuple[Path, duckdb.DuckDBPyConnection]) -> None:
    folder, connection = hostile
    path = folder / "audit.xlsx"
    export_workbook(connection, path)
    book = openpyxl.load_workbook(path)
    texts: list[str] = []
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@", "\t")):
                    if cell.data_type == "f":
                        assert sheet.title in ("Read me", "Inputs", "Calculation")
                        assert "HYPERLINK" not in cell.value and cell.value not in HOSTILE
                    else:
                        assert cell.data_type == "s" and cell.quotePrefix, (sheet.title, cell.coordinate)
                        texts.append(cell.value)
    stored = {row[0] for row in connection.execute("SELECT asset FROM result.asset").fetchall()}
    assert {"=1+1", "@SUM(A1)", "-2+3"} <= stored
    assert stored & set(HOSTILE) <= set(texts)
    assert "@part" in texts and "=9" in texts


@needs_office
def test_hostile_text_is_text_to_a_spreadsheet_program(hostile: tuple[Path, duckdb.DuckDBPyConnection]) -> None:
    folder, connection = hostile
    path = folder / "audit.xlsx"
    export_workbook(connection, path)
    book = openpyxl.load_workbook(convert(path, "xlsx", folder), data_only=True)
    tags = {cell.value for cell in book["Assets"]["B"][1:]}
    assert tags == {row[0] for row in connection.execute("SELECT asset FROM result.asset").fetchall()}


def test_control_characters_and_endless_text_are_kept_readable(tmp_path: Path) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = Sheet(book, "x", (10, 10, 10), "")
    sheet.append(["a\x00b\x0bc", "y" * 40_000, Styled("#REF!", "wrapped")])
    book.save(tmp_path / "x.xlsx")
    row = next(openpyxl.load_workbook(tmp_path / "x.xlsx")["x"].iter_rows())
    assert row[0].value == "a\ufffdb\ufffdc"
    assert len(row[1].value) <= 32_767 and row[1].value.endswith("(cut: 40000 characters)")
    assert (row[2].value, row[2].data_type) == ("#REF!", "s")


# ---- where it is written --------------------------------------------------------------------------------------------


@pytest.fixture
def results(demo_results: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    connection = open_results(demo_results)
    yield connection
    connection.close()


def test_a_path_that_cannot_be_written_is_named(results: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    (tmp_path / "folder.xlsx").mkdir()
    for name, words in (
        ("audit.csv", "ends in .xlsx"),
        ("none/audit.xlsx", "no such folder"),
        ("folder.xlsx", "is a folder"),
    ):
        with pytest.raises(Problem, match=words):
            export_workbook(results, tmp_path / name)
    for lock in (".~lock.audit.xlsx#", "~$audit.xlsx"):
        (tmp_path / lock).touch()
        with pytest.raises(Problem, match="is open in a spreadsheet program"):
            export_workbook(results, tmp_path / "audit.xlsx")
        (tmp_path / lock).unlink()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder.xlsx"]


def test_a_workbook_of_somebody_else_is_not_overwritten(results: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    register = write_workbook(tmp_path / "register.xlsx", {"assets": [["Asset"], ["V-1"]]})
    before = register.read_bytes()
    with pytest.raises(Problem, match="did not write"):
        export_workbook(results, register)
    assert register.read_bytes() == before
    ours = tmp_path / "audit.xlsx"
    export_workbook(results, ours)
    assert is_audit_workbook(ours) and not is_audit_workbook(register)
    export_workbook(results, ours)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["audit.xlsx", "register.xlsx"]


def test_the_next_build_does_not_read_it_as_a_survey(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "plant", assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]])
    build(folder, as_of=date(2026, 1, 1))
    export_workbook(open_results(folder / "results.duckdb"), folder / "audit.xlsx")
    assert build(folder, as_of=date(2026, 1, 1)).files == 1
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        assert connection.execute("SELECT file, severity, reason FROM result.ledger").fetchall() == [
            ("audit.xlsx", "note", "the file is an audit workbook of this program: keep it elsewhere")
        ]


def test_the_command_writes_it_and_says_what_is_wrong(
    demo_results: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "audit.xlsx"
    assert main(["export", str(target), "--database", str(demo_results)]) == 0
    assert target.exists() and CAUTION in capsys.readouterr().out
    assert main(["export", str(tmp_path / "audit.ods"), "--database", str(demo_results)]) == 2
    assert "ends in .xlsx" in capsys.readouterr().err


def test_a_plant_without_components_still_gives_a_workbook(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "plant", assets=[["V-1", "Water", "A", date(2015, 6, 1), 200, 60, "P. Example"]])
    build(folder, as_of=date(2026, 1, 1))
    shutil.copy(folder / "plant.xlsx", tmp_path / "copy.xlsx")
    with open_results(folder / "results.duckdb") as connection:
        export_workbook(connection, tmp_path / "audit.xlsx")
    book = openpyxl.load_workbook(tmp_path / "audit.xlsx")
    assert book.sheetnames == SHEETS
    assert [row[1] for row in book["Assets"].iter_rows(min_row=2, values_only=True)] == ["V-1"]
