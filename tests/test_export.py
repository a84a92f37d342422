"""The audit workbook, recalculated by a spreadsheet program: it says what the program says, and moves as it would.

Live results are held against the results file itself, not only against the values printed beside them. The values a
formula is stored with are taken out before: what LibreOffice gives it worked out.
"""

from __future__ import annotations

import gzip
import json
import math
import re
import shutil
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, cached_property
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import duckdb
import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.utils import FORMULAE, get_column_letter
from openpyxl.workbook.workbook import Workbook
from python_calamine import CalamineWorkbook

from pipeline.audit.book import Book
from pipeline.audit.calculation import HEADING_ROW
from pipeline.audit.cells import Sheet, Styled, day_number
from pipeline.audit.mark import is_audit_workbook
from pipeline.audit.results import FIRST_ROW
from pipeline.cautions import CAUTION, NOT_CONSIDERED
from pipeline.cli import main
from pipeline.errors import Problem
from pipeline.export import export_workbook, statement_path
from pipeline.formulas import FORMULAS
from pipeline.publishing import open_results
from pipeline.quantities import QUANTITIES
from pipeline.run import build
from pipeline.units import COHERENT, in_coherent_unit
from tests.fleets import EVERYTHING, write_fleet
from tests.plants import write_plant, write_workbook
from tests.support import convert, needs_office

SHEETS = [
    *("Read me", "Changes", "Assets", "Due dates", "Policies", "Inputs", "Calculation", "Checks", "Held and rejected"),
    *("Rate choices", "Deferrals", "Corroded areas", "Pits", "Readings used", "Ledger"),
]
COMPARED, DIFFER = "Results calculated here and compared", "of which differ from the program's value"
RELATIVE, ABSOLUTE = 1e-9, 1e-12
Rows = list[list[Any]]
TINT = "FFFFF3CC"


@dataclass
class Audit:
    """A workbook as written, its sheets as recalculated, and the results it was made from."""

    path: Path
    sheets: dict[str, Rows]
    results: duckdb.DuckDBPyConnection
    system: str

    @cached_property
    def written(self) -> Workbook:
        """The file as written, formulas and all."""
        return openpyxl.load_workbook(self.path)

    def table(self, sheet: str) -> list[dict[str, Any]]:
        """Rows of `Calculation` or `Inputs` by heading; the columns after a result carry its heading and a mark."""
        return table(self.sheets[sheet], HEADING_ROW if sheet == "Calculation" else FIRST_ROW - 2)

    def plain(self, sheet: str, heading_row: int) -> list[dict[str, Any]]:
        """Rows of a plain sheet by heading."""
        rows = self.sheets[sheet]
        return [dict(zip(rows[heading_row - 1], row, strict=True)) for row in rows[heading_row:]]

    def rows(self, sql: str) -> list[dict[str, Any]]:
        cursor = self.results.execute(sql)
        names = [column[0] for column in cursor.description]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def counted(self, words: str) -> int:
        return next(row[1] for row in self.sheets["Read me"] if row[0] == words)

    def input_at(self, heading: str, asset: str, component: str) -> tuple[str, Any]:
        """Return the cell of an input on `Inputs` and what stands there."""
        rows = self.sheets["Inputs"]
        place = rows[FIRST_ROW - 3].index(heading)
        at = next(at for at, row in enumerate(rows, start=1) if row[:2] == [asset, component])
        return f"{get_column_letter(place + 1)}{at}", rows[at - 1][place]


def table(rows: Rows, heading_row: int) -> list[dict[str, Any]]:
    headings: list[str] = []
    group = ""
    for word, above in zip(rows[heading_row - 1], rows[heading_row - 2], strict=True):
        group = above or group
        if word in ("program's value", "difference"):
            word = f"{headings[-1].removesuffix('|program')}|{word.split()[0].removesuffix(chr(39) + 's')}"
        elif group.startswith(("Required", "Next")):
            word = f"{word}, {group}"
        headings.append(word)
    assert len(set(headings)) == len(headings), [word for word, n in Counter(headings).items() if n > 1]
    return [
        dict(zip(headings, [None if cell == "" else cell for cell in row], strict=True))
        for row in rows[FIRST_ROW - 1 :]
        if row[0]
    ]


def recalculated(path: Path, folder: Path, errors: bool = False) -> dict[str, Rows]:
    """Return the sheets of a workbook as LibreOffice works them out, with no stored result to lean on.

    With `errors` by the slower reader, which tells an error such as #N/A from an empty cell.
    """
    stripped = folder / f"stripped {path.name}"
    rewritten(path, stripped, lambda text: re.sub(r"(</f>|<f [^>]*/>)<v>[^<]*</v>", r"\1", text))
    done = convert(stripped, "xlsx", folder)
    if errors:
        book = openpyxl.load_workbook(done, data_only=True, read_only=True)
        return {sheet.title: [list(map(_plain, row)) for row in sheet.iter_rows(values_only=True)] for sheet in book}
    book = CalamineWorkbook.from_path(str(done))
    return {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}


def _plain(value: Any) -> Any:
    return "" if value is None else value.date() if isinstance(value, datetime) else value


def rewritten(path: Path, target: Path, change: Any, part: str = "xl/worksheets/") -> None:
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith(part) and name.endswith(".xml"):
                content = change(content.decode()).encode()
            new.writestr(name, content)


def audit(database: Path, folder: Path, *chosen: Any) -> Audit:
    connection = open_results(database)
    path = folder / "audit.xlsx"
    export_workbook(connection, path, *chosen)
    system = connection.execute("SELECT units FROM result.build").fetchall()[0][0]
    return Audit(path, recalculated(path, folder), connection, system)


@pytest.fixture(scope="module")
def demo(demo_results: Path, tmp_path_factory: pytest.TempPathFactory) -> Audit:
    return audit(demo_results, tmp_path_factory.mktemp("audit"))


def changed(made: Audit, folder: Path, cells: Mapping[tuple[str, str], float]) -> Audit:
    """Return the same workbook with some numbers changed, recalculated."""
    path = folder / "changed.xlsx"
    shutil.copy(made.path, path)
    with zipfile.ZipFile(made.path) as packed:
        names = re.findall(r'<sheet name="([^"]+)"', packed.read("xl/workbook.xml").decode())
    for sheet in {sheet for sheet, _ in cells}:
        values = {cell: value for (name, cell), value in cells.items() if name == sheet}

        def put(text: str, values: dict[str, float] = values) -> str:
            for cell, value in values.items():
                text, found = re.subn(rf'(<c r="{cell}"( s="\d+")?><v>)[^<]*', rf"\g<1>{value!r}", text)
                assert found == 1, f"{cell}: only a number may be changed"
            return text

        before = path.rename(folder / "before.xlsx")
        rewritten(before, path, put, f"xl/worksheets/sheet{names.index(sheet) + 1}.xml")
    return Audit(path, recalculated(path, folder, errors=True), made.results, made.system)


def row_of(made: Audit, asset: str, component: str) -> dict[str, Any]:
    return next(row for row in made.table("Calculation") if (row["asset"], row["component"]) == (asset, component))


def close(live: Any, wanted: float) -> bool:
    return isinstance(live, (int, float)) and math.isclose(live, wanted, rel_tol=RELATIVE, abs_tol=ABSOLUTE)


def disagreeing(made: Audit) -> tuple[int, list[tuple[Any, ...]]]:
    """Return how many live results stand beside a value of the program, and those that are not that value."""
    compared, wrong = 0, []
    for row in made.table("Calculation"):
        for heading in row:
            if f"{heading}|program" not in row:
                continue
            live, stored, difference = row[heading], row[f"{heading}|program"], row[f"{heading}|difference"]
            who = (row["asset"], row["component"], heading, live, stored)
            if difference is None:
                assert stored is None, who
                assert live == "—" or (isinstance(live, str) and len(live) > 8), who
                continue
            compared += 1
            agrees = live == stored if stored is None or isinstance(stored, date) else close(live, stored)
            if not agrees or not 0 <= difference < RELATIVE:
                wrong.append((*who, difference))
    for row in made.plain("Due dates", 3):
        if row["difference, days"] != "":
            compared += 1
            if row["due date"] != row["program's value"] or row["difference, days"] != 0:
                wrong.append(tuple(row.values()))
    return compared, wrong


# ---- the demo plant -------------------------------------------------------------------------------------------------


@needs_office
def test_no_live_result_differs_and_none_was_left_out(demo: Audit) -> None:
    components = demo.rows("SELECT * FROM result.component")
    assert len(demo.table("Calculation")) == len(components) > 400
    compared, wrong = disagreeing(demo)
    assert wrong == []
    assert compared == demo.counted(COMPARED) > 15_000
    assert demo.counted(DIFFER) == 0
    checks = demo.plain("Checks", 3)
    assert checks[0]["compared"] == sum(row["compared"] for row in checks[1:]) == compared
    assert all(row["differ"] == 0 for row in checks)
    assert checks[-1]["part"] == "Due dates"


NEXT = ", Next internal inspection"
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
    (f"internal interval of this place{NEXT}", "internal_interval_years", "year"),
    (f"internal due date of this place{NEXT}", "internal_due_on", "date"),
    (f"thickness less twice the loss to the next inspection{NEXT}", "t_next_mm", "mm"),
    (f"MAWP at the next inspection{NEXT}", "mawp_next_mpa", "MPa"),
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
            assert live[key] == places[key], key
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
        assert row["thickness due date of this place|program"] is None or row["place"] != "no place"


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


PRESSURE = "rating pressure at the top of the vessel"
COUNTS = "required thickness, Required thickness that counts"
WALL_OF_NECK = "thickness required of the wall the neck stands in, at E = 1"
_GOVERNING = (
    "SELECT part.asset, part.component FROM result.component AS part JOIN result.location AS place "
    "ON place.asset = part.asset AND place.component = part.component AND place.location = part.governing_location "
)


@dataclass
class Moved:
    """A workbook of some of the demo's assets before and after its inputs were changed, and which were changed."""

    before: Audit
    after: Audit
    pressures: dict[tuple[str, str], float]
    knuckle: tuple[str, str]
    away: tuple[str, str]
    still: tuple[str, str]
    neck: tuple[str, str]
    wall: tuple[str, str]
    wrong: str


@pytest.fixture(scope="module")
def moved(demo: Audit, tmp_path_factory: pytest.TempPathFactory) -> Moved:
    """One recalculation for every change: each is made on an asset of its own."""
    taken: set[str] = set()

    def choose(sql: str) -> dict[str, Any]:
        row = next(row for row in demo.rows(f"{sql} ORDER BY ALL") if row["asset"] not in taken)
        taken.add(row["asset"])
        return row

    knuckle = choose(
        "SELECT asset, component FROM result.component WHERE kind = 'torispherical head' AND t_req_mm IS NOT NULL"
    )
    away = choose(
        f"{_GOVERNING} WHERE place.weld_region = 'away' AND place.distance_to_weld_mm IS NOT NULL "
        "AND place.remaining_life_years IS NOT NULL"
    )
    still = choose(
        f"{_GOVERNING} WHERE place.no_measurable_loss AND place.missing IS NULL AND place.initial_from IS NOT NULL"
    )
    neck = choose(
        "SELECT part.asset, part.component, part.attached_to FROM step.component AS part "
        "JOIN result.component AS whole USING (asset, component) "
        "WHERE part.kind = 'nozzle' AND part.attached_to IS NOT NULL AND whole.t_req_mm IS NOT NULL"
    )
    stored = choose(f"{_GOVERNING} WHERE place.remaining_life_years > 1")
    kinds = [row["kind"] for row in demo.rows("SELECT DISTINCT kind FROM result.component WHERE t_req_mm IS NOT NULL")]
    kinds.remove("nozzle")
    parts = [
        choose(f"SELECT asset, component FROM result.component WHERE t_req_mm IS NOT NULL AND kind = '{kind}'")
        for kind in sorted(kinds)
    ]
    assert len(parts) == 7
    folder = tmp_path_factory.mktemp("moved")
    path = folder / "some.xlsx"
    export_workbook(demo.results, path, sorted(taken))
    before = Audit(path, recalculated(path, folder), demo.results, demo.system)
    assert {row["asset"] for row in before.table("Calculation")} == taken

    def at(heading: str, row: Mapping[str, Any], component: str = "component") -> tuple[tuple[str, str], Any]:
        cell, value = before.input_at(heading, row["asset"], row[component])
        return ("Inputs", cell), value

    cells: dict[tuple[str, str], float] = {}
    pressures = {}
    for part in parts:
        cell, value = at(PRESSURE, part)
        pressures[part["asset"], part["component"]] = cells[cell] = value * 1.37
    for heading, row, factor in (
        ("inside knuckle radius", knuckle, 0.5),
        ("initial thickness of the epoch", still, 1.5),
    ):
        cell, value = at(heading, row)
        cells[cell] = value * factor
    cells[at("distance to the nearest weld's toe", away)[0]] = 0.1
    cell, value = at(PRESSURE, neck, "attached_to")
    cells[cell] = value * 1.2
    # The difference counter must be able to fail: one value of the program off by a millionth.
    row = next(at for at, row in enumerate(before.sheets["Calculation"], start=1) if row[0] == stored["asset"])
    place = before.sheets["Calculation"][HEADING_ROW - 1].index("remaining life from the last reading") + 1
    value = before.sheets["Calculation"][row - 1][place]
    wrong = f"{get_column_letter(place + 1)}{row}"
    cells["Calculation", wrong] = value * (1 + 1e-6)
    after = changed(before, folder, cells)
    two = ("asset", "component")
    return Moved(
        before,
        after,
        pressures,
        *(tuple(row[name] for name in two) for row in (knuckle, away, still, neck)),
        (neck["asset"], neck["attached_to"]),
        wrong,
    )


@needs_office
def test_a_changed_pressure_moves_the_required_thickness_as_the_clauses_do(demo: Audit, moved: Moved) -> None:
    for part, pressure in moved.pressures.items():
        before, after = row_of(moved.before, *part), row_of(moved.after, *part)
        wanted = required_again(demo, *part, pressure)
        assert close(after[COUNTS], wanted), (part, after[COUNTS], wanted)
        assert after[COUNTS] > before[COUNTS], part
        assert after["margin over the required thickness"] < before["margin over the required thickness"]
    assert moved.before.counted(DIFFER) == 0
    assert moved.after.counted(DIFFER) > len(moved.pressures)


@needs_office
def test_a_wrong_value_of_the_program_is_counted(moved: Moved) -> None:
    rows = moved.after.sheets["Calculation"]
    place = rows[HEADING_ROW - 1].index("remaining life from the last reading") + 2
    off = rows[openpyxl.utils.cell.coordinate_from_string(moved.wrong)[1] - 1][place]
    assert off == pytest.approx(1e-6, rel=1e-3)
    line = next(
        row for row in moved.after.plain("Checks", 3) if row["result"] == "remaining life from the last reading"
    )
    assert line["differ"] >= 1


@needs_office
def test_a_limit_not_met_shows_an_error_and_is_counted(moved: Moved) -> None:
    row = row_of(moved.after, *moved.knuckle)
    assert row["torispherical factor"] == "#N/A"
    assert row[COUNTS] == "#N/A"
    assert row["thickness due date of this place"] == "#N/A"
    assert row[f"{COUNTS}|difference"] == 1


@needs_office
def test_a_choice_that_no_longer_holds_shows_an_error(moved: Moved) -> None:
    """A place away from the weld by its distance, moved to the weld; a place without loss that begins to lose metal."""
    assert row_of(moved.after, *moved.away)[COUNTS] == "#N/A"
    assert row_of(moved.before, *moved.still)["remaining life from the last reading"].startswith("no measurable loss")
    lost = row_of(moved.after, *moved.still)
    assert lost["governing corrosion rate"] > 0
    assert lost["thickness interval"] == "#N/A"
    assert lost["thickness due date of this place"] == "#N/A"


@needs_office
def test_the_wall_of_a_neck_follows_its_own_row(moved: Moved) -> None:
    cell, seen = moved.after.input_at(WALL_OF_NECK, *moved.neck)
    assert moved.before.written["Inputs"][cell].data_type == "f"
    needed = row_of(moved.after, *moved.wall)["thickness required for pressure, Required away from the weld"]
    assert close(seen, needed)
    assert needed > moved.before.input_at(WALL_OF_NECK, *moved.neck)[1]


# ---- what else stands in it -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def formulas(demo: Audit) -> dict[str, dict[str, str]]:
    """Every formula of the demo's workbook by sheet and cell, as a second reader of the format finds it."""
    return {
        sheet.title: {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if cell.data_type == "f"}
        for sheet in demo.written.worksheets
    }


@needs_office
def test_formulas_stand_only_where_they_are_meant_to(demo: Audit, formulas: dict[str, dict[str, str]]) -> None:
    assert demo.written.sheetnames == SHEETS
    found = {name: {re.sub(r"\d", "", cell) for cell in cells} for name, cells in formulas.items()}
    assert found["Read me"] == {"B"}
    live = {"Read me", "Due dates", "Inputs", "Calculation", "Checks", "Deferrals"}
    assert {name for name in SHEETS if found[name]} == live
    follow = (WALL_OF_NECK, "longest thickness interval allowed", "longest internal or on-stream interval allowed")
    headings = {cell.column_letter: cell.value for cell in demo.written["Inputs"][FIRST_ROW - 2]}
    assert {headings[letter] for letter in found["Inputs"]} == set(follow)
    words = {cell.column_letter: cell.value for cell in demo.written["Calculation"][HEADING_ROW]}
    assert not {words[letter] for letter in found["Calculation"]} & {"program's value", "asset", "state of the place"}
    # Cell references, not values typed into formulas: every number in one is a constant of a clause or of a check.
    template = Counter(re.sub(r"\d+(?=\b)", "", text) for text in formulas["Calculation"].values())
    assert len(template) < 400


@needs_office
def test_every_formula_parses_and_refers_to_what_is_there(demo: Audit, formulas: dict[str, dict[str, str]]) -> None:
    names = set(demo.written.defined_names)
    functions: set[str] = set()
    seen: set[str] = set()
    for cells in formulas.values():
        for text in cells.values():
            shape = re.sub(r"\d+", "0", text)
            if shape in seen:
                continue
            seen.add(shape)
            tokens = Tokenizer(text).items
            assert all(token.value.strip() for token in tokens if token.type.startswith("OPERATOR")), text
            functions |= {
                token.value.rstrip("(") for token in tokens if token.type == "FUNC" and token.subtype == "OPEN"
            }
            for token in tokens:
                assert token.subtype != "ERROR", text
                if token.subtype != "RANGE":
                    continue
                sheet, _, cell = token.value.rpartition("!")
                assert not sheet or sheet.strip("'") in SHEETS, text
                assert cell in names or re.fullmatch(r"\$?[A-Z]{1,3}\$?\d+(:\$?[A-Z]{1,3}\$?\d+)?", cell), text
    assert functions <= set(FORMULAE) and {"IF", "COUNT", "NA", "MAX"} <= functions


@needs_office
def test_the_file_keeps_to_the_format_and_nothing_in_it_runs(demo: Audit) -> None:
    """Every part is well-formed and named in the content types, every relation leads to a part, none leads outside."""
    with zipfile.ZipFile(demo.path) as packed:
        assert packed.testzip() is None
        parts = packed.namelist()
        read = {name: ElementTree.fromstring(packed.read(name)) for name in parts}
    types = {node.get("PartName") or f".{node.get('Extension')}" for node in read["[Content_Types].xml"]}
    assert all(f"/{name}" in types or f".{name.rpartition('.')[2]}" in types for name in parts)
    for name, root in read.items():
        if not name.endswith(".rels"):
            continue
        home = Path(name).parent.parent
        for relation in root:
            assert relation.get("TargetMode") != "External", name
            target = str(relation.get("Target"))
            assert (target.lstrip("/") if target.startswith("/") else (home / target).as_posix()) in parts
    assert not [name for name in parts if re.search("vba|macro|external|connection|oleObject|activeX|script", name)]
    assert not demo.written._external_links and demo.written.vba_archive is None
    main_part = read["xl/workbook.xml"]
    calculation = next(node for node in main_part if node.tag.endswith("calcPr"))
    assert calculation.get("fullCalcOnLoad") == "1"
    styles = read["xl/styles.xml"]
    formats = next(node for node in styles if node.tag.endswith("cellXfs"))
    for name in (name for name in parts if name.startswith("xl/worksheets/sheet")):
        rows = next(node for node in read[name] if node.tag.endswith("sheetData"))
        order = [int(row.get("r", 0)) for row in rows]
        assert order == sorted(set(order))
        for row in rows:
            letters = [re.sub(r"\d", "", str(cell.get("r"))) for cell in row]
            places = [openpyxl.utils.column_index_from_string(letter) for letter in letters]
            assert places == sorted(set(places)), (name, row.get("r"))
            assert all(int(cell.get("s", 0)) < len(formats) for cell in row)


@needs_office
def test_a_reader_that_works_nothing_out_sees_the_program_s_values_and_no_agreement(demo: Audit) -> None:
    stored = CalamineWorkbook.from_path(str(demo.path))
    sheets = {name: stored.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in stored.sheet_names}
    seen = 0
    for row in table(sheets["Calculation"], HEADING_ROW):
        for heading in row:
            if f"{heading}|program" in row and row[f"{heading}|program"] is not None:
                assert row[heading] == row[f"{heading}|program"], heading
                assert row[f"{heading}|difference"] is None
                seen += 1
    assert seen > 12_000
    assert [row[1] for row in sheets["Read me"] if row[0] in (COMPARED, DIFFER)] == ["", ""]


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
    read_me = [[value for value in row if value != ""] for row in demo.sheets["Read me"]]
    flat = [str(value) for row in read_me for value in row]
    build_row = demo.rows("SELECT * FROM result.build")[0]
    assert CAUTION in flat and NOT_CONSIDERED in flat and build_row["basis_sha256"] in flat
    for source in demo.rows("SELECT file, sha256 FROM result.source"):
        assert [source["file"], source["sha256"]] in [row[:2] for row in read_me]
    for state in demo.rows("SELECT state, count(*) AS n FROM result.asset GROUP BY state"):
        assert [state["state"], state["n"]] in read_me

    assets = demo.sheets["Assets"][1:]
    wanted = demo.rows("SELECT rank, asset, state, reason, due_on FROM result.asset ORDER BY rank")
    assert [tuple(row[:4]) for row in assets] == [
        (row["rank"], row["asset"], row["state"], row["reason"]) for row in wanted
    ]
    assert [row[7] or None for row in assets] == [row["due_on"] for row in wanted]

    policies = demo.sheets["Policies"][1:]
    for policy, row in zip(demo.rows("SELECT * FROM basis.policy"), policies, strict=True):
        assert row[0] == policy["key"] and row[5] == ("stated" if policy["stated"] else "default")
        if policy["number"] is not None:
            assert close(row[2], in_coherent_unit(policy["number"], policy["unit"], demo.system)[0])
            assert row[6] in demo.written.defined_names

    governing = (
        "SELECT count(*) AS n FROM result.reading AS reading SEMI JOIN result.component AS part "
        "ON part.asset = reading.asset AND part.component = reading.component "
        "AND part.governing_location = reading.location"
    )
    for name, first, sql in (
        ("Ledger", 2, "SELECT count(*) AS n FROM result.ledger"),
        ("Readings used", 2, governing),
        ("Due dates", 3, "SELECT count(*) AS n FROM result.due_date"),
        ("Held and rejected", 3, "SELECT count(*) AS n FROM result.reading WHERE status IN ('held', 'rejected')"),
        ("Deferrals", 3, "SELECT count(*) AS n FROM step.deferral"),
    ):
        assert len(demo.sheets[name]) - first == demo.rows(sql)[0]["n"] > 2, name
    for sql, words in (
        ("SELECT count(*) AS n FROM result.due_date WHERE state = 'overdue'", "due dates overdue"),
        ("SELECT count(*) AS n FROM result.reading WHERE status = 'held'", "readings held"),
        ("SELECT count(*) AS n FROM result.location WHERE read_on IS NULL", "places never read"),
    ):
        assert demo.counted(words) == demo.rows(sql)[0]["n"]


@needs_office
def test_a_deferral_approved_after_the_due_date_is_named_as_such(demo: Audit) -> None:
    told = {row["asset"]: row for row in demo.plain("Deferrals", 3)}
    late, good = told["E-204"], told["C-102"]
    assert late["approved on"] > late["due date it moves, as stated"]
    assert late["days from the approval to the due date"] == -21
    assert late["approved before the due date"] == "NO: not before the due date"
    assert late["does it count"].startswith("approved on 2026-05-11, not before the due date")
    assert (good["approved before the due date"], good["does it count"]) == ("yes", "covers the date")


@needs_office
def test_sheets_are_set_up_for_print_and_scrolling(demo: Audit) -> None:
    for sheet in demo.written.worksheets:
        assert sheet.protection.sheet and sheet.protection.password is None
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.fitToHeight == 0 and (sheet.page_setup.fitToWidth or 1) < 10
        assert "review by qualified people" in sheet.oddFooter.left.text
        assert demo.rows("SELECT as_of FROM result.build")[0]["as_of"].isoformat() in sheet.oddFooter.right.text
        if sheet.title != "Read me":
            assert sheet.freeze_panes and sheet.print_title_rows
        assert sheet.column_dimensions["A"].width
    inputs, calculation = demo.written["Inputs"], demo.written["Calculation"]
    column = next(cell.column for cell in inputs[FIRST_ROW - 2] if cell.value.startswith("rating pressure"))
    tinted = {inputs.cell(at, column).fill.fgColor.rgb for at in range(FIRST_ROW, inputs.max_row + 1)}
    assert TINT in tinted and calculation["H10"].fill.fgColor.rgb not in tinted - {"00000000"}
    assert calculation.conditional_formatting
    # Only what feeds a formula may be changed.
    for sheet in demo.written.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if not cell.protection.locked:
                    assert (sheet.title, cell.fill.fgColor.rgb) in (("Inputs", TINT), ("Policies", TINT))


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


def every_kind(folder: Path, basis: str, changes: Mapping[str, Mapping[str, Any]] | None = None) -> Path:
    """Write a plant with every kind of component, dimension and loss side, and histories of every length."""
    changes = changes or {}
    parts = {component: {**PLAIN, **given, **changes.get(component, {})} for component, given in COMPONENTS.items()}
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


@pytest.fixture(scope="module")
def of_every_kind(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Audit]:
    """The workbook of that plant under each basis, made at first use."""

    @cache
    def made(name: str) -> Audit:
        folder = tmp_path_factory.mktemp("every kind")
        (folder / "plant").mkdir()
        return audit(every_kind(folder / "plant", BASES[name][0]), folder)

    return made


@needs_office
@pytest.mark.parametrize("name", BASES)
def test_every_kind_and_policy_agrees(of_every_kind: Callable[[str], Audit], name: str) -> None:
    basis, noisy = BASES[name]
    made = of_every_kind(name)
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
                assert live == stored, (row["component"], heading)
            else:
                assert close(live, in_coherent_unit(stored, unit, made.system)[0]), (row["component"], heading, live)
    assert made.counted(DIFFER) == 0
    assert made.counted(COMPARED) > 600
    wall, _ = made.input_at(WALL_OF_NECK, "V-3", "N4")
    assert made.written["Inputs"][wall].value.startswith("=MAX(Calculation!")
    selected = {row["component"]: row["clause: corrosion rate selected by the rate policy"] for row in table}
    assert selected["Noisy"] == noisy
    intervals = {row["component"]: row["thickness interval"] for row in table}
    if "rate_floor" not in basis:
        assert (intervals["Calm"], intervals["Calm low"]) == (8 if "internal_cap_years" in basis else 10, 0)
    assert {row["component"] for row in table if places[row["component"]]["t_req_mm"] is None} == {
        "Odd", "Steep", "Bare",
    }  # fmt: skip


@needs_office
def test_changed_inputs_and_policies_move_the_results_as_the_program_would(
    of_every_kind: Callable[[str], Audit], tmp_path: Path
) -> None:
    """The workbook after a change of cells is what the program makes of a plant with the same change."""
    basis = BASES["si, allowance"][0]
    (tmp_path / "other").mkdir()
    before = of_every_kind("si, allowance")
    changes: dict[str, dict[str, Any]] = {
        "Shell": {STRESS: 120.0, HEAD: 4000.0},
        "Tube": {OUTSIDE: 640.0},
        "Top": {"Corrosion allowance (mm)": 2.0},
        "Dish": {CROWN: 1450.0},
        "Cone": {ANGLE: 28.0},
    }
    headings = {
        STRESS: QUANTITIES["S"].label,
        HEAD: QUANTITIES["H"].label,
        OUTSIDE: "outside diameter, as stated",
        "Corrosion allowance (mm)": QUANTITIES["CA"].label,
        CROWN: QUANTITIES["L_n"].label,
        ANGLE: QUANTITIES["alpha"].label,
    }
    cells: dict[tuple[str, str], float] = {
        ("Inputs", before.input_at(headings[name], "V-1", part)[0]): value
        for part, given in changes.items()
        for name, value in given.items()
    }
    at = next(at for at, row in enumerate(before.sheets["Policies"], start=1) if row[0] == "internal_cap_years")
    cells["Policies", f"C{at}"] = 3.0
    after = changed(before, tmp_path, cells)
    database = every_kind(tmp_path / "other", f"{basis}internal_cap_years = 3\n", changes)
    with open_results(database) as connection:
        again = Audit(after.path, after.sheets, connection, after.system)
        places = {row["component"]: row for row in again.rows("SELECT * FROM result.location")}
        columns = again.rows("SELECT * FROM step.component")
    assert len(columns) == len(COMPONENTS)
    moved = 0
    for row in after.table("Calculation"):
        was = row_of(before, row["asset"], row["component"])
        for heading, column, unit in AGAINST_RESULTS:
            live, wanted = row[heading], places[row["component"]][column]
            if wanted is None:
                assert isinstance(live, str), (row["component"], heading, live)
            elif unit == "date":
                assert live == wanted, (row["component"], heading)
            else:
                assert close(live, in_coherent_unit(wanted, unit, after.system)[0]), (row["component"], heading, live)
            moved += live != was[heading]
    assert moved > 80


# ---- a random fleet -------------------------------------------------------------------------------------------------


@needs_office
def test_the_workbook_of_a_random_fleet_is_what_the_program_says(tmp_path: Path) -> None:
    """500 vessels with every kind, fault and rule: every formula to the ninth digit, every date to the day."""
    options = {"components": 2, "places": 2, "readings": 3, "external_pressure": 0.1, "thin_head": 0.1}
    write_fleet(tmp_path / "fleet", 500, 1510, unread_after_change=True, **options, **EVERYTHING)
    build(tmp_path / "fleet", as_of=date(2026, 11, 1))
    made = audit(tmp_path / "fleet" / "results.duckdb", tmp_path)
    compared, wrong = disagreeing(made)
    assert wrong == []
    assert compared == made.counted(COMPARED) > 25_000
    assert made.counted(DIFFER) == 0
    table = {(row["asset"], row["component"]): row for row in made.table("Calculation")}
    places = made.rows(f"{_GOVERNING.replace('part.asset, part.component', 'place.*')}")
    assert len(places) > 800 and len(table) == made.rows("SELECT count(*) AS n FROM result.component")[0]["n"]
    reached: Counter[str] = Counter()
    for place in places:
        row = table[place["asset"], place["component"]]
        for heading, column, unit in AGAINST_RESULTS:
            live, wanted = row[heading], place[column]
            if wanted is None:
                assert isinstance(live, str), (place["asset"], place["component"], heading, live)
                continue
            # A day before the first one of spreadsheets is read as its number.
            agrees = (
                live in (wanted, day_number(wanted))
                if unit == "date"
                else close(live, in_coherent_unit(wanted, unit, made.system)[0])
            )
            assert agrees, (place["asset"], place["component"], heading, live, wanted)
            reached[heading] += 1
    assert set(reached) == {heading for heading, _, _ in AGAINST_RESULTS} and min(reached.values()) > 300
    first_checks = [row for row in table.values() if isinstance(row["first check of a new or changed service"], date)]
    assert first_checks and made.plain("Rate choices", 3) and made.plain("Deferrals", 3)
    for row in made.plain("Deferrals", 3):
        known = row["approved on"] != "" and row["due date it moves, as stated"] != ""
        late = known and row["approved on"] >= row["due date it moves, as stated"]
        said = row["approved before the due date"]
        assert said.startswith("NO" if late else "yes" if known else "not known"), row


# ---- hostile text ---------------------------------------------------------------------------------------------------

HOSTILE = ("=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "\tx", '=HYPERLINK("http://example.invalid")')


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, duckdb.DuckDBPyConnection]]:
    """The workbook of a plant whose texts would be formulas in a spreadsheet program, and its results."""
    home = tmp_path_factory.mktemp("hostile")
    assets, components, locations, readings = [], [], [], []
    for at, text in enumerate(HOSTILE):
        tag = f"V-{at}" if text.startswith("\t") else text
        assets.append([tag, text, text, date(2015, 6, 1), 200, 60, text])
        components.append([tag, "@part", "shell", 0.75, 0.125, 20000, 0.85])
        locations.append([tag, "@part", "=9", 0.5])
        readings += [[tag, "@part", "=9", date(2015, 6, 1), 0.75], [tag, "@part", "=9", date(2025, 6, 1), 0.70]]
    folder = write_plant(home / "plant", assets=assets, components=components, locations=locations, readings=readings)
    book = openpyxl.load_workbook(folder / "plant.xlsx")
    for sheet in book.worksheets:  # what begins with "=" must stand in the source as text, as a person would type it
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str):
                    cell.data_type = "s"
    book.save(folder / "plant.xlsx")
    build(folder, as_of=date(2026, 1, 1))
    connection = open_results(folder / "results.duckdb")
    export_workbook(connection, home / "audit.xlsx")
    yield home / "audit.xlsx", connection
    connection.close()


def test_hostile_text_stays_text(hostile: tuple[Path, duckdb.DuckDBPyConnection]) -> None:
    path, connection = hostile
    book = openpyxl.load_workbook(path)
    texts: list[str] = []
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@", "\t")):
                    if cell.data_type == "f":
                        assert sheet.title in ("Read me", "Due dates", "Inputs", "Calculation", "Checks")
                        assert "HYPERLINK" not in cell.value and cell.value not in HOSTILE
                    else:
                        assert cell.data_type == "s" and cell.quotePrefix, (sheet.title, cell.coordinate)
                        texts.append(cell.value)
    stored = {row[0] for row in connection.execute("SELECT asset FROM result.asset").fetchall()}
    assert {"=1+1", "@SUM(A1)", "-2+3"} <= stored
    assert stored & set(HOSTILE) <= set(texts)
    assert "@part" in texts and "=9" in texts


@needs_office
def test_hostile_text_is_text_to_a_spreadsheet_program(
    hostile: tuple[Path, duckdb.DuckDBPyConnection], tmp_path: Path
) -> None:
    path, connection = hostile
    tags = {row[1] for row in recalculated(path, tmp_path)["Assets"][1:]}
    assert tags == {row[0] for row in connection.execute("SELECT asset FROM result.asset").fetchall()}


def test_control_characters_and_endless_text_are_kept_readable(tmp_path: Path) -> None:
    texts = ["a\x00b\x0bc", "y" * 40_000, "#REF!", "a\rb\nc ", "_x0041_", "a<b>&c", "\u202ea", "\ufffe"]
    with Book(tmp_path / "x.xlsx", "x", "x") as book:
        sheet = Sheet(book, "x", [10] * len(texts), "")
        sheet.append([*texts[:2], Styled(texts[2], "wrapped"), *texts[3:]])
    row = next(openpyxl.load_workbook(tmp_path / "x.xlsx")["x"].iter_rows())
    assert row[0].value == "a\ufffdb\ufffdc"
    assert len(row[1].value) <= 32_767 and row[1].value.endswith("(cut: 40000 characters)")
    assert (row[2].value, row[2].data_type) == ("#REF!", "s")
    read = CalamineWorkbook.from_path(str(tmp_path / "x.xlsx")).get_sheet_by_name("x").to_python()[0]
    assert read[3:] == ["a\rb\nc ", "_x0041_", "a<b>&c", "\u202ea", "\ufffd"]


def test_more_rows_than_a_sheet_has_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Problem, match="more rows than a worksheet has"), Book(tmp_path / "x.xlsx", "x", "x") as book:
        sheet = Sheet(book, "x", [10], "")
        sheet.rows = 1_048_576
        sheet.append(["one more"])
    assert list(tmp_path.iterdir()) == []


# ---- where it is written --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a plant of two vessels with two places each, one reading held."""
    folder = write_plant(
        tmp_path_factory.mktemp("small") / "plant",
        assets=[[tag, "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"] for tag in ("V-1", "V-2")],
        components=[[tag, "Shell", "shell", 0.75, 0.125, 20000, 0.85] for tag in ("V-1", "V-2")],
        locations=[[tag, "Shell", place, 3.0] for tag in ("V-1", "V-2") for place in ("1", "2")],
        readings=[
            [tag, "Shell", place, date(year, 6, 1), 0.75 - (year - 2015) * rate]
            for tag, place, rate in (("V-1", "1", 0.004), ("V-1", "2", 0.005), ("V-2", "1", 0.003), ("V-2", "2", 0.002))
            for year in (2015, 2020, 2025)
        ],
    )
    build(folder, as_of=date(2026, 1, 1))
    return folder


@pytest.fixture
def results(small: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    connection = open_results(small / "results.duckdb")
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


def sheet_of(path: Path, name: str) -> Rows:
    rows: Rows = CalamineWorkbook.from_path(str(path)).get_sheet_by_name(name).to_python(skip_empty_area=False)
    return rows


def test_the_command_takes_assets_locations_and_a_day(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, database = tmp_path / "audit.xlsx", str(small / "results.duckdb")
    chosen = ["export", str(target), "--database", database, "--asset", "V-2"]
    assert main([*chosen, "--all-locations"]) == 0
    said = capsys.readouterr().out
    assert CAUTION in said and "1 asset, 2 rows of calculation" in said and "the published results" in said
    rows = table(sheet_of(target, "Calculation"), HEADING_ROW)
    assert [(row["asset"], row["place"], row["governs the component"]) for row in rows] == [
        ("V-2", "1", "yes"),
        ("V-2", "2", "no"),
    ]
    assert {row[1] for row in sheet_of(target, "Assets")[1:]} == {"V-2"}
    assert ["Assets in this workbook", "1 of 2, as asked for: V-2"] in [row[:2] for row in sheet_of(target, "Read me")]
    # Another day is made anew from the record: the last reading is the one before.
    assert main([*chosen, "--as-of", "2022-01-01"]) == 0
    said = capsys.readouterr().out
    assert "as of 2022-01-01: made anew from the record" in said and "as of 2026-01-01, stay as they are" in said
    (row,) = table(sheet_of(target, "Calculation"), HEADING_ROW)
    inputs = table(sheet_of(target, "Inputs"), FIRST_ROW - 2)
    assert inputs[0]["date of the last accepted reading"] == date(2020, 6, 1)
    assert row["thickness due date of this place"] == date(2030, 6, 1)
    assert not (small / "status.duckdb").exists()
    with open_results(Path(database)) as connection:
        assert connection.execute("SELECT as_of FROM result.build").fetchall() == [(date(2026, 1, 1),)]


def test_the_command_says_what_is_wrong(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    database, target = str(small / "results.duckdb"), str(tmp_path / "audit.xlsx")
    alone = tmp_path / "results.duckdb"
    shutil.copy((small / "results.duckdb").resolve(), alone)
    for arguments, words in (
        ([str(tmp_path / "audit.ods"), "--database", database], "ends in .xlsx"),
        ([target, "--database", database, "--asset", "v-1"], "did you mean V-1?"),
        ([target, "--database", database, "--asset", "V-9"], "no asset V-9"),
        ([target, "--database", database, "--known-at", "2001-01-01"], "no file had been read"),
        ([target, "--database", str(alone), "--as-of", "2022-01-01"], "holds no record of the plant"),
    ):
        assert main(["export", *arguments]) == 2
        assert words in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["results.duckdb"]


def test_each_export_says_what_changed_since_the_last(small: Path, tmp_path: Path) -> None:
    folder = tmp_path / "plant"
    shutil.copytree(small, folder, symlinks=True)
    database, target = folder / "results.duckdb", tmp_path / "audit.xlsx"
    statement = statement_path(database)
    statement.unlink(missing_ok=True)

    def exported(*more: str) -> Rows:
        assert main(["export", str(target), "--database", str(database), *more]) == 0
        return sheet_of(target, "Changes")

    first = exported()
    assert "first export" in first[1][0] and first[3][0] == "not compared"
    assert exported()[3][0] == "nothing changed"
    book = openpyxl.load_workbook(folder / "plant.xlsx")
    book["readings"].append(["V-1", "Shell", "1", date(2025, 12, 1), 0.60])
    book.save(folder / "plant.xlsx")
    (folder / "basis.toml").write_text("internal_cap_years = 9\n", encoding="utf-8")
    build(folder, as_of=date(2026, 1, 1))
    kept = statement.read_bytes()
    some = exported("--asset", "V-2")
    assert {row[0] for row in some[3:]} == {"all", "V-2"}
    assert statement.read_bytes() == kept, "an export of some assets is not the one to compare the next with"
    rows = {tuple(row[:3]): tuple(row[3:5]) for row in exported()[3:]}
    assert rows["V-1", "Shell", "last reading"] == ("0.7000 in", "0.6000 in")
    assert rows["all", "", "policy internal_cap_years"] == ("10.0 year", "9.0 year")
    assert ("all", "", "source file (sha256) plant.xlsx") in rows
    assert ("V-2", "", "thickness due date") in rows and ("V-2", "Shell", "last reading") not in rows
    assert exported()[3][0] == "nothing changed"
    statement.write_bytes(gzip.compress(json.dumps({"version": 99}).encode()))
    assert main(["export", str(target), "--database", str(database)]) == 2


def test_a_plant_without_components_still_gives_a_workbook(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "plant", assets=[["V-1", "Water", "A", date(2015, 6, 1), 200, 60, "P. Example"]])
    build(folder, as_of=date(2026, 1, 1))
    shutil.copy(folder / "plant.xlsx", tmp_path / "copy.xlsx")
    with open_results(folder / "results.duckdb") as connection:
        export_workbook(connection, tmp_path / "audit.xlsx")
    book = openpyxl.load_workbook(tmp_path / "audit.xlsx")
    assert book.sheetnames == SHEETS
    assert [row[1] for row in book["Assets"].iter_rows(min_row=2, values_only=True)] == ["V-1"]
