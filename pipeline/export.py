"""The audit workbook: the results as live formulas over the source values, so that nobody has to believe the program.

One row per component and its governing place stands at the same height on two sheets: `Inputs` holds every number that
goes in, each beside where it came from, and `Calculation` works everything out again by `Formula.sheet_formula`. Next
to each live result stand the program's own value and the difference. Numbers are in the plant's coherent unit system
(`pipeline.units.COHERENT`), so that the formulas hold as they are written. What the program chose by rule (the clause,
the weld region, the rate) is written out in words; where a changed input ends such a choice the cell shows #N/A.
"""

from __future__ import annotations

import contextlib
import math
import os
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import duckdb
from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.errors import Problem
from pipeline.explain import Origin
from pipeline.formulas import FORMULAS
from pipeline.quantities import QUANTITIES, Quantity
from pipeline.units import COHERENT, DISPLAY, UNITS, in_coherent_unit

Row = dict[str, Any]

TITLE = "hoopline audit workbook"
FOOTER = "For review by qualified people; the cautions stand on the sheet Read me."
#: A live result agrees with the program's value up to this relative difference.
AGREEMENT = 1e-9
#: Below this size (in the unit of its column) a value is compared as if it were this large: a rate of zero has no
#: relative difference, only the last binary digits of the two thicknesses it was taken from.
SMALLEST = 1e-4
#: First row of data on `Inputs` and `Calculation`; the rows above are headings.
FIRST_ROW = 9
GROUP_ROW, HEADING_ROW, UNIT_ROW, CLAUSE_ROW, COMPARED_ROW, DIFFERING_ROW = range(3, 9)
ROWS_OF_A_SHEET = 1_048_576
#: Before this day spreadsheet programs disagree on the number of a date.
FIRST_SHEET_DATE = date(1900, 3, 1)
NOT_HERE = "—"


def export_workbook(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Write the audit workbook of published results to `path`, whole or not at all.

    Raises Problem where `path` is not an .xlsx file, its folder is missing, it is open elsewhere, cannot be written,
    or is a workbook of somebody else: a register must not be lost to a slip of the hand.
    """
    _refuse(path)
    book = _written(connection)
    made: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}.", suffix=".making", dir=path.parent)
        made = Path(name)
        with os.fdopen(handle, "wb") as stream:
            book.save(stream)
        made.chmod(0o666 & ~_umask())
        os.replace(made, path)
    except OSError as fault:
        raise Problem(
            f"{path}: cannot be written ({fault.strerror or fault}); close it elsewhere or check its permissions"
        ) from None
    finally:
        if made is not None:
            with contextlib.suppress(FileNotFoundError):
                made.unlink()


def is_audit_workbook(path: Path) -> bool:
    """Return whether a file is an audit workbook of this program, by the title in its properties."""
    try:
        with zipfile.ZipFile(path) as packed:
            return f"<dc:title>{TITLE}</dc:title>".encode() in packed.read("docProps/core.xml")
    except (OSError, KeyError, zipfile.BadZipFile):
        return False


def _refuse(path: Path) -> None:
    if path.suffix.lower() != ".xlsx":
        raise Problem(f"{path}: the audit workbook is an .xlsx file; give it a name that ends in .xlsx")
    if path.is_dir():
        raise Problem(f"{path}: is a folder; name a file for the workbook")
    if not path.parent.is_dir():
        raise Problem(f"{path.parent}: there is no such folder for the workbook; make it first")
    for lock in (f".~lock.{path.name}#", f"~${path.name}"):
        if path.with_name(lock).exists():
            raise Problem(
                f"{path}: is open in a spreadsheet program; close it there, or delete {lock} if that program is gone"
            )
    if path.exists() and not is_audit_workbook(path):
        raise Problem(f"{path}: is a file that this program did not write; name another file")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _written(connection: duckdb.DuckDBPyConnection) -> Workbook:
    results = _Results(connection)
    book = Workbook(write_only=True)
    book.properties.title = TITLE
    book.properties.creator = f"hoopline {results.program}"
    book.calculation.fullCalcOnLoad = True
    columns = _Columns.of(results)
    _write_read_me(book, results, columns)
    _write_assets(book, results)
    _write_policies(book, results)
    _write_inputs(book, results, columns)
    _write_calculation(book, results, columns)
    _write_readings(book, results)
    _write_ledger(book, results)
    return book


# ---- cells and sheets -----------------------------------------------------------------------------------------------


class _Live(str):
    """A formula. Every other string in the workbook is text, whatever it begins with."""

    __slots__ = ()


class _Styled(NamedTuple):
    """A value with its look and number format."""

    value: Any
    look: str = "plain"
    number_format: str = "General"


_HAIR = Side(style="hair", color="999999")
_WRAPPED = Alignment(wrap_text=True, vertical="top")
_LOOKS: dict[str, dict[str, Any]] = {
    "plain": {"alignment": Alignment(vertical="top")},
    "wrapped": {"alignment": _WRAPPED},
    "title": {"font": Font(bold=True, size=14)},
    "note": {"font": Font(italic=True, color="444444"), "alignment": Alignment(vertical="top")},
    "caution": {"font": Font(bold=True), "alignment": _WRAPPED},
    "group": {"font": Font(bold=True, color="FFFFFF"), "fill": PatternFill("solid", fgColor="3B4A57")},
    "heading": {
        "font": Font(bold=True),
        "fill": PatternFill("solid", fgColor="DDE3E8"),
        "alignment": _WRAPPED,
        "border": Border(bottom=_HAIR),
    },
    "small heading": {
        "font": Font(size=9),
        "fill": PatternFill("solid", fgColor="DDE3E8"),
        "alignment": _WRAPPED,
    },
    "input": {"fill": PatternFill("solid", fgColor="FFF3CC"), "alignment": Alignment(vertical="top")},
    "live": {"font": Font(bold=True), "alignment": Alignment(vertical="top")},
    "stored": {"font": Font(color="555555"), "alignment": Alignment(vertical="top")},
    "difference": {"font": Font(color="555555", size=9), "alignment": Alignment(vertical="top")},
    "reason": {"font": Font(italic=True, color="8A3B00"), "alignment": Alignment(vertical="top")},
    "follows": {"font": Font(italic=True), "alignment": Alignment(vertical="top")},
    "source": {"font": Font(size=9), "alignment": Alignment(vertical="top")},
}
_DATE_FORMAT = "yyyy-mm-dd"
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_TEXT = 32_767


class _Sheet:
    """A worksheet written row by row. One cell object serves each look, since a row is written as it is appended."""

    def __init__(
        self,
        book: Workbook,
        title: str,
        widths: Sequence[float],
        footer: str,
        *,
        freeze: str | None = None,
        repeat_rows: str | None = None,
        repeat_columns: str | None = None,
        pages_wide: int = 1,
        heights: Mapping[int, float] | None = None,
        system: str = "si",
    ) -> None:
        self.sheet = book.create_sheet(title)
        self.title = title
        self.rows = 0
        self._cells: dict[tuple[str, str, bool], Cell] = {}
        sheet = self.sheet
        for place, width in enumerate(widths, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = width
        for row, height in (heights or {}).items():
            sheet.row_dimensions[row].height = height
        sheet.freeze_panes = freeze
        if repeat_rows:
            sheet.print_title_rows = repeat_rows
        if repeat_columns:
            sheet.print_title_cols = repeat_columns
        sheet.page_setup.orientation = "landscape"
        # Wide sheets on the larger sheet of the plant's own paper system (11 x 17 in, A3), the others on letter or A4.
        sheet.page_setup.paperSize = {("us", True): 3, ("us", False): 1, ("si", True): 8, ("si", False): 9}[
            system, pages_wide > 1
        ]
        sheet.page_setup.fitToWidth = pages_wide
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.7
        sheet.oddFooter.left.text = FOOTER
        sheet.oddFooter.right.text = f"{title}, {footer}, page &P of &N"

    def append(self, row: Iterable[Any]) -> None:
        """Append one row of values: `_Styled`, plain values, or None for a blank cell."""
        self.rows += 1
        if self.rows > ROWS_OF_A_SHEET:
            raise Problem(f"the sheet {self.title} needs more rows than a worksheet has; build fewer assets at a time")
        self.sheet.append(self._cell(value) for value in row)

    def _cell(self, value: Any) -> Cell | None:
        look, number_format = "plain", "General"
        if isinstance(value, _Styled):
            value, look, number_format = value
            if value is None and look == "input":
                return self._of_look(look, number_format, quoted=False, value=None)
        if value is None:
            return None
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, _Live):
            return self._of_look(look, number_format, quoted=False, value=str(value))
        if isinstance(value, date):
            if value < FIRST_SHEET_DATE:
                value = value.isoformat()
            else:
                return self._of_look(look, _DATE_FORMAT, quoted=False, value=value)
        if isinstance(value, str):
            return self._text(value, look)
        return self._of_look(look, number_format, quoted=False, value=value)

    def _text(self, value: str, look: str) -> Cell:
        text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)
        if len(text) > _LONGEST_TEXT:
            text = text[: _LONGEST_TEXT - 30] + f"… (cut: {len(text)} characters)"
        # The quote prefix keeps the text a text when somebody edits the cell and presses Enter.
        cell = self._of_look(look, "General", quoted=text.startswith(_FORMULA_STARTS), value=text)
        cell.data_type = "s"
        return cell

    def _of_look(self, look: str, number_format: str, *, quoted: bool, value: Any) -> Cell:
        cell = self._cells.get((look, number_format, quoted))
        if cell is None:
            cell = WriteOnlyCell(self.sheet)
            for name, style in _LOOKS[look].items():
                setattr(cell, name, style)
            cell.number_format = number_format
            cell.quotePrefix = quoted
            self._cells[look, number_format, quoted] = cell
        cell.value = value
        return cell


def _headings(words: Iterable[str]) -> list[_Styled]:
    return [_Styled(word, "heading") for word in words]


def _coherent(value: Any, quantity: Quantity, system: str) -> Any:
    """Return a number kept inside in the unit of the workbook; anything that is not a number as it is."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return in_coherent_unit(float(value), quantity.unit, system)[0]
    return value


def _unit(quantity: Quantity, system: str) -> str:
    if quantity.kind == "angle":
        return "deg"
    name = COHERENT[system].get(quantity.unit, (quantity.unit, 1.0))[0]
    return "" if name == "-" else name


@lru_cache(maxsize=None)
def _number_format(quantity: Quantity, system: str) -> str:
    """Return a format with the decimals people see, kept where the coherent unit is a larger one (mil to in)."""
    if quantity.kind == "days" or quantity.name == "n":
        return "0"
    if quantity.kind not in DISPLAY[system]:
        return "General"
    name, decimals = DISPLAY[system][quantity.kind]
    factor = COHERENT[system].get(quantity.unit, ("", UNITS[name].factor))[1]
    decimals += max(0, round(math.log10(factor / UNITS[name].factor)))
    return f"0.{'0' * decimals}" if decimals else "0"


# ---- what the results say -------------------------------------------------------------------------------------------

# One row per component: each table's row as a struct. Without a place the weld region of the general zone is shown.
_COMPONENTS = """
SELECT part, place, vessel, shape, pressed_weld, pressed_away, required_weld, required_away, held, cap, needed, whole
FROM result.component AS whole
JOIN step.component AS part ON part.asset = whole.asset AND part.component = whole.component
JOIN step.shape AS shape ON shape.asset = whole.asset AND shape.component = whole.component
LEFT JOIN step.asset AS vessel ON vessel.asset = whole.asset
LEFT JOIN step.cap AS cap ON cap.asset = whole.asset AND cap.kind = 'thickness'
LEFT JOIN result.location AS place
    ON place.asset = whole.asset AND place.component = whole.component AND place.location = whole.governing_location
LEFT JOIN step.place_required AS needed
    ON needed.asset = place.asset AND needed.component = place.component AND needed.location = place.location
LEFT JOIN step.pressure_held AS held
    ON held.asset = place.asset AND held.component = place.component AND held.location = place.location
CROSS JOIN basis.in_force AS policy
LEFT JOIN step.pressure_thickness AS pressed_weld
    ON pressed_weld.asset = whole.asset AND pressed_weld.component = whole.component
    AND pressed_weld.zone = coalesce(place.zone, 'general')
    AND pressed_weld.region = 'weld' AND pressed_weld.radius_basis = policy.radius_basis
LEFT JOIN step.pressure_thickness AS pressed_away
    ON pressed_away.asset = whole.asset AND pressed_away.component = whole.component
    AND pressed_away.zone = coalesce(place.zone, 'general')
    AND pressed_away.region = 'away' AND pressed_away.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_weld
    ON required_weld.asset = whole.asset AND required_weld.component = whole.component
    AND required_weld.zone = coalesce(place.zone, 'general')
    AND required_weld.region = 'weld' AND required_weld.radius_basis = policy.radius_basis
LEFT JOIN step.required_thickness AS required_away
    ON required_away.asset = whole.asset AND required_away.component = whole.component
    AND required_away.zone = coalesce(place.zone, 'general')
    AND required_away.region = 'away' AND required_away.radius_basis = policy.radius_basis
ORDER BY whole.asset, whole.component
"""

_READINGS = """
SELECT reading.*
FROM result.reading AS reading
SEMI JOIN result.component AS whole
    ON reading.asset = whole.asset
    AND reading.component = whole.component
    AND reading.location = whole.governing_location
ORDER BY reading.asset, reading.component, reading.location, reading.read_on, reading.file, reading.sheet, reading.cell
"""


class _Results:
    """The published results, read once, and where each of their inputs stood."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self.connection = connection
        stamp = self.rows("SELECT as_of, program, basis_sha256, units FROM result.build")[0]
        self.as_of: date = stamp["as_of"]
        self.program: str = stamp["program"]
        self.basis_sha256: str = stamp["basis_sha256"]
        self.system: str = stamp["units"]
        self.policies = self.rows("SELECT * FROM basis.policy")
        self.policy = self.rows("SELECT * FROM basis.in_force")[0]
        self.components = self.rows(_COMPONENTS)
        self.readings = self.rows(_READINGS)
        self.cells = {
            (row["kind"], row["asset"], row["component"], row["location"], row["field"]): _origin(row)
            for row in self.rows(
                "SELECT kind, asset, component, location, field, text, unit, file, sheet, cell FROM step.field "
                "WHERE kind IN ('assets', 'components') OR field = 'distance_to_weld'"
            )
        }
        self.reading_cells = {
            (row["asset"], row["component"], row["location"], row["read_on"]): _origin(row)
            for row in self.readings
            if row["status"] == "used"
        }
        self.event_cells = {
            (row["asset"], row["component"], row["event_on"]): _origin({**row, "text": row["event"], "unit": None})
            for row in self.rows("SELECT * FROM step.event WHERE new_thickness_mm IS NOT NULL")
        }
        #: Where each component stands on `Inputs` and `Calculation`.
        self.at = {
            (row["whole"]["asset"], row["whole"]["component"]): place
            for place, row in enumerate(self.components, start=FIRST_ROW)
        }
        self.walls: dict[str, list[Row]] = {}
        for row in self.components:
            if row["pressed_away"] and row["part"]["kind"] not in (None, "nozzle", "flat head"):
                self.walls.setdefault(row["part"]["asset"], []).append(row)

    @property
    def footer(self) -> str:
        """What the foot of every page says of the build."""
        return f"as of {self.as_of}, hoopline {self.program}"

    def rows(self, sql: str) -> list[Row]:
        """Return the rows of a query by column name."""
        cursor = self.connection.execute(sql)
        names = [column[0] for column in cursor.description or []]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _origin(row: Row) -> Origin:
    text, unit = row["text"] or "", row["unit"]
    said = f"{text} {unit}" if unit and unit != "-" and unit not in text else text
    return Origin("", row["file"] or "", row["sheet"] or "", row["cell"] or "", said)


# ---- inputs ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _InputColumn:
    """A column of `Inputs`: key, the quantity it holds (none for a date), and its heading."""

    key: str
    quantity: Quantity | None
    heading: str


def _input(key: str, symbol: str | None = None, heading: str | None = None) -> _InputColumn:
    quantity = None if symbol == "" else QUANTITIES[symbol or key]
    return _InputColumn(key, quantity, heading or (quantity.label if quantity else key))


_INPUTS = (
    _input("P_top"),
    _input("SG"),
    _input("H"),
    _input("P_head", None, "static head where it is not computed"),
    _input("S"),
    _input("E_L", "E", "joint efficiency, longitudinal joint"),
    _input("E_C", "E", "joint efficiency, circumferential joint"),
    _input("t_nom"),
    _input("CA"),
    _input("D_n", None, "inside diameter, as stated"),
    _input("Do", None, "outside diameter, as stated"),
    _input("L_n"),
    _input("r"),
    _input("h"),
    _input("alpha"),
    _input("C"),
    _input("x_a"),
    _input("x_b"),
    _input("k_a"),
    _input("k_b"),
    _input("t_str"),
    _input("t_ext"),
    _input("t_sh"),
    _input("t_std"),
    _input("distance", "w", "distance to the nearest weld's toe"),
    _input("t_act"),
    _input("read_on", "", "date of the last accepted reading"),
    _input("t_ini"),
    _input("initial_on", "", "date of the initial thickness"),
    _input("t_prev"),
    _input("previous_on", "", "date of the reading before"),
    _input("C_st"),
    _input("n"),
    _input("Sxx"),
    _input("Sxy"),
    _input("Syy"),
    _input("q95"),
    _input("in_service_on", "", "date of going into service"),
    _input("cap", None, "longest thickness interval allowed"),
)


@dataclass(frozen=True)
class _Given:
    """One input: its value in the unit kept inside, where it came from, and the live cell it follows, if any."""

    value: Any
    origin: Origin
    follows: _Live | None = None


class _Sources:
    """Finds the source of every input of one component."""

    def __init__(self, results: _Results, row: Row) -> None:
        self.results = results
        self.row = row
        self.asset: str = row["whole"]["asset"]
        self.component: str = row["whole"]["component"]

    def register(self, kind: str, column: str, otherwise: str = "not on the register", words: str = "") -> Origin:
        """Return the register's cell of the component, or of its asset."""
        component = None if kind == "assets" else self.component
        found = self.results.cells.get((kind, self.asset, component, None, column))
        if found is None:
            return Origin(otherwise)
        return Origin(words, found.file, found.sheet, found.cell, found.text)

    def reading(self, on: Any) -> Origin:
        """Return the cell of the reading of a day at the governing place."""
        key = (self.asset, self.component, self.row["place"]["location"], on)
        return self.results.reading_cells.get(key, Origin("no reading"))

    def initial(self) -> Origin:
        """Return where the initial thickness came from."""
        place = self.row["place"]
        match place["initial_from"]:
            case "first reading":
                return self.reading(place["initial_on"])
            case "nominal":
                return self.register("components", "nominal_thickness", words="nominal thickness")
            case "event":
                for component in (self.component, None):
                    found = self.results.event_cells.get((self.asset, component, place["initial_on"]))
                    if found:
                        return Origin("new thickness of the event", found.file, found.sheet, found.cell, found.text)
        return Origin("none on record")

    def diameter(self) -> tuple[Origin, Origin]:
        """Return the sources of the inside and of the outside diameter."""
        unused = Origin("not stated")
        match self.row["part"]["diameter_from"]:
            case "component":
                return self.register("components", "inside_diameter"), unused
            case "outside diameter":
                return Origin("from the outside diameter: see Calculation"), self.register(
                    "components", "outside_diameter"
                )
            case "pipe size":
                return Origin("from the outside diameter: see Calculation"), self.register(
                    "components", "nominal_pipe_size", words="outside diameter of the nominal pipe size"
                )
            case "asset":
                return self.register("assets", "inside_diameter", words="the asset's, the component has none"), unused
        return unused, unused

    def distance(self) -> Origin:
        """Return the cell of the distance to the weld, or what the locations sheet says instead."""
        place, needed = self.row["place"], self.row["needed"]
        for component in (self.component, None):
            found = self.results.cells.get(("locations", self.asset, component, place["location"], "distance_to_weld"))
            if found:
                return found
        return Origin(f"stated: {needed['region_stated']}" if needed["region_stated"] else "not known")


def _inputs_of(results: _Results, columns: _Columns, row: Row) -> dict[str, _Given]:
    """Return every input of a component and its governing place, by the keys of `_INPUTS`."""
    part, place, shape, cap = row["part"], _or_blank(row["place"]), row["shape"], _or_blank(row["cap"])
    vessel, required = _or_blank(row["vessel"]), _or_blank(row["required_weld"])
    row = {**row, "place": place, "needed": _or_blank(row["needed"])}
    source = _Sources(results, row)
    inside, outside = source.diameter()
    table = Origin("Table UG-37") if shape["proportion_below"] is not None else Origin("not for this component")
    sums = Origin("worked out from the readings of this place; see Readings used")
    second = "assumed: the longitudinal joint's, none is given" if part["efficiency_assumed"] else ""
    second_column = "joint_efficiency_longitudinal" if second else "joint_efficiency_circumferential"
    given = {
        "P_top": _Given(
            vessel["rating_pressure_mpa"],
            source.register("assets", "mawp" if vessel["rating_from"] == "MAWP" else "design_pressure"),
        ),
        "SG": _Given(part["specific_gravity"], source.register("components", "specific_gravity")),
        "H": _Given(part["liquid_head_mm"], source.register("components", "liquid_head")),
        "P_head": _Given(
            None if shape["head_considered"] else shape["static_head_mpa"],
            Origin("computed: see Calculation")
            if shape["head_considered"]
            else Origin("not considered: the register gives no specific gravity and liquid head together"),
        ),
        "S": _Given(part["allowable_stress_mpa"], source.register("components", "allowable_stress")),
        "E_L": _Given(part["efficiency_longitudinal"], source.register("components", "joint_efficiency_longitudinal")),
        "E_C": _Given(part["efficiency_circumferential"], source.register("components", second_column, words=second)),
        "t_nom": _Given(
            part["nominal_thickness_mm"],
            Origin("thickest first reading of the component: the register gives no nominal")
            if part["nominal_from"] == "first readings"
            else source.register("components", "nominal_thickness"),
        ),
        "CA": _Given(part["corrosion_allowance_mm"], source.register("components", "corrosion_allowance")),
        "D_n": _Given(part["inside_diameter_stated_mm"], inside),
        "Do": _Given(part["outside_diameter_stated_mm"], outside),
        "L_n": _Given(part["crown_radius_as_built_mm"], source.register("components", "crown_radius")),
        "r": _Given(part["knuckle_radius_mm"], source.register("components", "knuckle_radius")),
        "h": _Given(part["head_depth_mm"], source.register("components", "head_depth")),
        "alpha": _Given(part["half_apex_angle_deg"], source.register("components", "half_apex_angle")),
        "C": _Given(part["flat_head_factor"], source.register("components", "flat_head_factor")),
        "x_a": _Given(shape["proportion_below"], table),
        "x_b": _Given(shape["proportion_above"], table),
        "k_a": _Given(shape["spherical_factor_below"], table),
        "k_b": _Given(shape["spherical_factor_above"], table),
        "t_str": _Given(
            required["structural_minimum_mm"],
            source.register("components", "structural_minimum", "not on the register: zero, not considered"),
        ),
        "t_ext": _Given(
            required["external_thickness_mm"],
            source.register(
                "components",
                "required_thickness_external",
                "not on the register: zero, not considered"
                if required["external_thickness_mm"] == 0
                else "not on the register, which names an external pressure",
            ),
        ),
        "t_sh": _parent_wall(results, columns, row),
        "t_std": _Given(
            required["standard_wall_mm"],
            source.register("components", "nominal_pipe_size", words="standard wall (ASME B36.10)")
            if part["kind"] == "nozzle"
            else Origin("not for this component"),
        ),
        "distance": _Given(place["distance_to_weld_mm"], source.distance()),
        "t_act": _Given(place["t_act_mm"], source.reading(place["read_on"])),
        "read_on": _Given(place["read_on"], source.reading(place["read_on"])),
        "t_ini": _Given(place["t_initial_mm"], source.initial()),
        "initial_on": _Given(
            place["initial_on"],
            source.register("assets", "in_service") if place["initial_from"] == "nominal" else source.initial(),
        ),
        "t_prev": _Given(place["t_previous_mm"], source.reading(place["previous_on"])),
        "previous_on": _Given(place["previous_on"], source.reading(place["previous_on"])),
        "C_st": _Given(part["stated_rate_mm_per_year"], source.register("components", "stated_corrosion_rate")),
        "n": _Given(place["reading_count"], sums),
        "Sxx": _Given(place["sum_days_squared"], sums),
        "Sxy": _Given(place["sum_days_thickness"], sums),
        "Syy": _Given(place["sum_thickness_squared"], sums),
        "q95": _Given(place["t_quantile"], Origin("Student's t, one-sided 95 %")),
        "in_service_on": _Given(vessel["in_service_on"], source.register("assets", "in_service")),
        "cap": _Given(
            cap["cap_years"],
            Origin("basis: internal_cap_years")
            if cap["cap_from"] == "cap"
            else Origin(cap["cap_from"] or "", cap["file"] or "", cap["sheet"] or "", cap["cell"] or ""),
            _Live(f"={policy_name('internal_cap_years')}") if cap["cap_from"] == "cap" else None,
        ),
    }
    return {column.key: given[column.key] for column in columns.inputs}


def _parent_wall(results: _Results, columns: _Columns, row: Row) -> _Given:
    """Return what the wall of a neck's vessel needs; it follows that wall's own row wherever that row shows it."""
    part, required = row["part"], _or_blank(row["required_weld"])
    if part["kind"] != "nozzle":
        return _Given(None, Origin("not for this component"))
    value, parent = required["parent_thickness_mm"], required["parent_component"]
    if value is None:
        return _Given(None, Origin("the requirement of the wall it stands in is not known"))
    walls = results.walls.get(part["asset"], [])
    if part["attached_to"]:
        walls = [wall for wall in walls if wall["part"]["component"] == parent]
        words = f"required thickness of {parent} at E = 1"
    else:
        words = f"the largest required thickness at E = 1 among the walls of {part['asset']}: {parent}"
    # A head whose governing place is its crown shows the crown's need, not that of the wall around a neck.
    if not walls or any(wall["pressed_away"]["zone"] != "general" for wall in walls):
        return _Given(value, Origin(f"{words} (the program's value)"))
    cells = [
        f"Calculation!{columns.letter['c:t_p_away']}{results.at[wall['part']['asset'], wall['part']['component']]}"
        for wall in walls
    ]
    follows = f"={cells[0]}" if len(cells) == 1 else f"=MAX({','.join(cells)})"
    return _Given(value, Origin(f"{words}: see Calculation"), _Live(follows))


class _Blank(dict[str, Any]):
    """A row that is not there: every column of it is unknown."""

    def __missing__(self, key: str) -> None:
        return None


def _or_blank(row: Row | None) -> Row:
    return row if row is not None else _Blank()


# ---- the columns of the calculation ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Result:
    """A live result: key, quantity (none for a date), and its one clause, or none where the clause differs by row."""

    key: str
    group: str
    quantity: Quantity | None
    heading: str
    formula: str | None = None
    words: str = ""

    @property
    def clause_differs(self) -> bool:
        """Whether the clause is named in each row."""
        return self.formula is None and not self.words


@dataclass(frozen=True)
class _Word:
    """A column of what the program chose or said, in its own words."""

    key: str
    group: str
    heading: str
    width: float = 14.0


def _result(
    key: str, group: str, symbol: str, formula: str | None = None, heading: str = "", words: str = ""
) -> _Result:
    quantity = QUANTITIES[symbol] if symbol else None
    title = heading or (quantity.label if quantity else key)
    return _Result(key, group, quantity, title, formula, words)


_WHO, _PRESSURE, _SIZE, _NECK = "Component and place", "Pressure", "Dimensions and factors", "Least neck thickness"
_WELD, _AWAY, _COUNTS = "Required in the weld region", "Required away from the weld", "Required thickness that counts"
_RATE, _LIFE, _HELD = "Corrosion rate", "Life, interval and dates", "Pressure held now"

_LAYOUT: tuple[_Result | _Word, ...] = (
    _Word("asset", _WHO, "asset", 11),
    _Word("component", _WHO, "component", 16),
    _Word("location", _WHO, "governing place", 11),
    _Word("kind", _WHO, "kind", 17),
    _Word("zone", _WHO, "head zone", 9),
    _Word("state", _WHO, "state of the place", 16),
    _Word("missing", _WHO, "what is missing", 24),
    _result("P_head", _PRESSURE, "P_head", "static_head"),
    _result("P", _PRESSURE, "P", "component_pressure"),
    _result("D_n", _SIZE, "D_n", "inside_diameter_from_outside"),
    _result("Do", _SIZE, "Do", "outside_diameter", "outside diameter as built"),
    _result("R_n", _SIZE, "R_n", "inside_radius_as_built"),
    _result("h", _SIZE, "h", "head_depth_two_to_one", "depth of a 2:1 head whose depth is not stated"),
    _result("x", _SIZE, "x", "ellipsoidal_proportion"),
    _result("K1", _SIZE, "K1", "spherical_factor"),
    _result("K", _SIZE, "K", "ellipsoidal_factor"),
    _result("M", _SIZE, "M", "torispherical_factor"),
    _result("D", _SIZE, "D", "inside_diameter_allowance", "inside diameter with the corrosion allowance gone"),
    _Word("form", _SIZE, "dimension in the clause", 16),
    _result("size", _SIZE, "R", None, "radius or diameter in the clause"),
    _result("t_neck", _NECK, "t_neck"),
    _result("t_L_weld", _WELD, "t_L"),
    _result("t_C_weld", _WELD, "t_C"),
    _result("t_p_weld", _WELD, "t_p"),
    _result("t_req_weld", _WELD, "t_req"),
    _result("t_L_away", _AWAY, "t_L"),
    _result("t_C_away", _AWAY, "t_C"),
    _result("t_p_away", _AWAY, "t_p"),
    _result("t_req_away", _AWAY, "t_req"),
    _result("w", _COUNTS, "w", "weld_region"),
    _Word("region", _COUNTS, "weld region; what counts", 18),
    _result("t_req", _COUNTS, "t_req", words="the region that counts (API 510 7.4)"),
    _Word("case", _COUNTS, "what sets it", 16),
    _result("days_long", _RATE, "days", heading="days from the initial thickness", words="difference of two dates"),
    _result("years_long", _RATE, "years", "years_between", "years from the initial thickness"),
    _result("LT", _RATE, "LT", "long_term_rate"),
    _result("days_short", _RATE, "days", heading="days from the reading before", words="difference of two dates"),
    _result("years_short", _RATE, "years", "years_between", "years from the reading before"),
    _result("ST", _RATE, "ST", "short_term_rate"),
    _result("fit", _RATE, "fit", "fit_rate"),
    _result("fit_se", _RATE, "fit_se", "fit_rate_error"),
    _result("fit_up", _RATE, "fit_up", "fit_upper_bound"),
    _Word("rate_from", _RATE, "rate selected", 15),
    _result("C_sel", _RATE, "C_sel"),
    _result("C_r", _RATE, "C_r", "rate_governing"),
    _result("m", _LIFE, "m", "margin"),
    _result("RL", _LIFE, "RL", "remaining_life"),
    _result("I", _LIFE, "interval", "interval", "thickness interval"),
    _result("days_due", _LIFE, "n_days", "whole_days", "whole days to the due date"),
    _result("due_on", _LIFE, "", heading="thickness due date of this place", words="date + whole days"),
    _Word("due_of_all", _LIFE, "earliest thickness due date of all places (program)", 13),
    _result("days_left", _LIFE, "n_days", "whole_days", "whole days to the required thickness"),
    _result("retirement_on", _LIFE, "", heading="retirement date of this place", words="date + whole days"),
    _Word("retirement_of_all", _LIFE, "earliest retirement date of all places (program)", 13),
    _result("P_hold_L", _HELD, "P_hold_L"),
    _result("P_hold_C", _HELD, "P_hold_C"),
    _result("P_hold", _HELD, "P_hold"),
    _result("MAWP", _HELD, "MAWP", "mawp"),
    _Word("mawp_of_all", _HELD, "lowest MAWP of all places (program)", 13),
)
_FIT = {"fit", "fit_se", "fit_up"}
_FIT_INPUTS = {"Sxx", "Sxy", "Syy", "q95"}


@dataclass
class _Columns:
    """Which columns there are, and the letter of each: `i:` of Inputs, `c:` of Calculation."""

    inputs: tuple[_InputColumn, ...]
    layout: tuple[_Result | _Word, ...]
    letter: dict[str, str] = field(default_factory=dict)
    label: dict[str, str] = field(default_factory=dict)
    last: str = ""

    @classmethod
    def of(cls, results: _Results) -> _Columns:
        """Lay out the columns; those of the least-squares rate only where the policy asks for it."""
        fitted = results.policy["rate_policy"] == "fit upper bound"
        columns = cls(
            tuple(column for column in _INPUTS if fitted or column.key not in _FIT_INPUTS | {"n"}),
            tuple(entry for entry in _LAYOUT if fitted or entry.key not in _FIT),
        )
        for place, column in enumerate(columns.inputs, start=len(_INPUT_WORDS) + 1):
            columns.letter[f"i:{column.key}"] = get_column_letter(place)
            columns.label[f"i:{column.key}"] = column.heading
        place = 0
        for entry in columns.layout:
            place += 2 if isinstance(entry, _Result) and entry.clause_differs else 1
            columns.letter[f"c:{entry.key}"] = get_column_letter(place)
            columns.label[f"c:{entry.key}"] = entry.heading
            place += 2 if isinstance(entry, _Result) else 0
        columns.last = get_column_letter(place)
        return columns

    def reference(self, token: str) -> str:
        """Return the cell of an input, result or policy as a formula on `Calculation` names it; § is the row."""
        where, _, key = token.partition(":")
        if where == "p":
            return policy_name(key)
        return f"Inputs!${self.letter[token]}§" if where == "i" else f"${self.letter[token]}§"


_POLICY_UNITS = ("_mpa_per_mm", "_mm_per_year", "_mm")


def policy_name(key: str) -> str:
    """Return the defined name of a numeric policy in the workbook.

    A unit of length or pressure is left out of it, since the workbook's may be another than the one kept inside.
    """
    for unit in _POLICY_UNITS:
        key = key.removesuffix(unit)
    return f"policy_{key}"


# ---- the formulas of one row ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Clause:
    """A clause with the cell of each symbol: `i:` an input, `c:` a result of the same row, `p:` a policy."""

    formula: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Same:
    """Another cell of the row, as long as what made the program choose it still holds."""

    token: str
    holds: str = ""
    clause: str = ""


@dataclass(frozen=True)
class _Zero:
    """No interval: the wall is below its requirement although it loses nothing."""

    holds: str


@dataclass(frozen=True)
class _Days:
    """Days from one date to another."""

    first: str
    last: str


@dataclass(frozen=True)
class _DateAfter:
    """A date some whole days after another."""

    first: str
    days: str


_Planned = _Clause | _Same | _Zero | _Days | _DateAfter
_SIZES = ("R", "Ro", "D", "Do", "L", "Lo", "d")
_NO_LOSS = "no measurable loss: the life has no end"


class _Plan:
    """Chooses the formula of each result of one component, as the program chose it; a string is a reason for none."""

    def __init__(self, results: _Results, row: Row, given: Mapping[str, _Given]) -> None:
        self.policy = results.policy
        self.part, self.shape, self.whole = row["part"], row["shape"], row["whole"]
        self.place, self.needed, self.held = (_or_blank(row[name]) for name in ("place", "needed", "held"))
        self.pressed = {"weld": _or_blank(row["pressed_weld"]), "away": _or_blank(row["pressed_away"])}
        self.required = {"weld": _or_blank(row["required_weld"]), "away": _or_blank(row["required_away"])}
        self.given = given
        self.steps: dict[str, _Planned | str] = {}
        self.stored: dict[str, Any] = {}
        self.size_symbol = ""
        self.head = "c:P_head" if self.shape["head_considered"] else "i:P_head"
        self.inside = "i:D_n" if self.part["outside_diameter_stated_mm"] is None else "c:D_n"
        self.pressure()
        self.dimensions()
        self.thickness()
        self.counted()
        self.rates()
        self.life()
        self.pressure_held()

    # ---- small words ------------------------------------------------------------------------------------------------

    def clause(self, key: str, formula: str, stored: Any, /, **cells: str) -> None:
        """Plan a clause; symbols not named have their own input or result of the same name."""
        self.steps[key] = _Clause(formula, tuple(sorted(cells.items())))
        self.stored[key] = stored

    def same(self, key: str, token: str, stored: Any, holds: str = "", clause: str = "") -> None:
        self.steps[key] = _Same(token, holds, clause)
        self.stored[key] = stored

    def none(self, key: str, reason: str) -> None:
        self.steps[key] = reason

    @property
    def missing(self) -> str:
        return self.place["missing"] or self.whole["missing"] or "not assessable"

    # ---- pressure and dimensions ------------------------------------------------------------------------------------

    def pressure(self) -> None:
        if self.shape["head_considered"]:
            self.clause(
                "P_head",
                "static_head",
                self.shape["static_head_mpa"],
                g_w="p:water_head_mpa_per_mm",
                SG="i:SG",
                H="i:H",
            )
        self.clause("P", "component_pressure", self.shape["pressure_mpa"], P_top="i:P_top", P_head=self.head)

    def dimensions(self) -> None:
        part, shape, row = self.part, self.shape, self.pressed["weld"]
        if row["kind"] is None:
            self.none("size", f"missing: {self.missing}")
            return
        kind, crown = row["kind"], row["zone"] == "crown"
        outside, allowance = row["dimension_form"] == "outside", row["radius_basis"] == "allowance"
        if self.inside == "c:D_n":
            self.clause(
                "D_n", "inside_diameter_from_outside", shape["inside_diameter_as_built_mm"], Do="i:Do", t_nom="i:t_nom"
            )
        if kind in ("cylinder", "nozzle", "sphere", "hemispherical head"):
            self.clause("R_n", "inside_radius_as_built", shape["inside_radius_as_built_mm"], D_n=self.inside)
            if outside:
                self.size("Ro", "outside_radius", R_n="c:R_n", t_nom="i:t_nom")
            elif allowance:
                self.size("R", "inside_radius_allowance", R_n="c:R_n", CA="i:CA")
            else:
                self.same_size("R", "c:R_n", "inside radius as built")
        elif kind == "ellipsoidal head":
            self.ellipsoidal(crown, outside, allowance)
        elif kind == "torispherical head":
            if not crown:
                diameter = self.outside_diameter()
                self.clause(
                    "M", "torispherical_factor", shape["torispherical_factor"], L_n="i:L_n", r="i:r", Do=diameter
                )
            if outside:
                self.size("Ro" if crown else "Lo", "outside_crown_radius", L_n="i:L_n", t_nom="i:t_nom")
            elif allowance:
                self.size("R" if crown else "L", "crown_radius_allowance", L_n="i:L_n", CA="i:CA")
            else:
                self.same_size("R" if crown else "L", "i:L_n", "crown radius as built")
        elif kind == "cone":
            self.diameter_in_clause(outside, allowance)
        elif allowance:
            self.size("d", "flat_head_diameter_allowance", D_n=self.inside, CA="i:CA")
        else:
            self.same_size("d", self.inside, "inside diameter as built")
        self.stored["D_n"] = shape["inside_diameter_as_built_mm"]
        self.stored["h"] = shape["head_depth_mm"] if part["head_depth_mm"] is None else None

    def ellipsoidal(self, crown: bool, outside: bool, allowance: bool) -> None:
        shape = self.shape
        depth = "i:h"
        if self.part["head_depth_mm"] is None and self.part["is_two_to_one"]:
            self.clause("h", "head_depth_two_to_one", shape["head_depth_mm"], D_n=self.inside)
            depth = "c:h"
        self.clause("x", "ellipsoidal_proportion", shape["proportion"], D_n=self.inside, h=depth)
        table = {name: f"i:{name}" for name in ("k_a", "k_b", "x_a", "x_b")}
        self.clause("K1", "spherical_factor", shape["spherical_factor"], x="c:x", **table)
        if not crown:
            self.clause("K", "ellipsoidal_factor", shape["ellipsoidal_factor"], D_n=self.inside, h=depth)
            self.diameter_in_clause(outside, allowance)
        elif outside:
            self.size("Ro", "crown_sphere_outside_radius", K1="c:K1", D_n=self.inside, t_nom="i:t_nom")
        else:
            diameter = self.diameter_with_allowance() if allowance else self.inside
            self.size("R", "crown_sphere_radius", K1="c:K1", D=diameter)

    def diameter_in_clause(self, outside: bool, allowance: bool) -> None:
        if outside:
            self.same_size("Do", self.outside_diameter(), "outside diameter as built")
        elif allowance:
            self.same_size("D", self.diameter_with_allowance(), "inside diameter with the corrosion allowance gone")
        else:
            self.same_size("D", self.inside, "inside diameter as built")

    def outside_diameter(self) -> str:
        if self.part["outside_diameter_stated_mm"] is not None:
            return "i:Do"
        self.clause("Do", "outside_diameter", self.shape["outside_diameter_mm"], D_n=self.inside, t_nom="i:t_nom")
        return "c:Do"

    def diameter_with_allowance(self) -> str:
        stored = self.pressed["weld"]["inside_diameter_mm"]
        self.clause("D", "inside_diameter_allowance", stored, D_n=self.inside, CA="i:CA")
        return "c:D"

    def size(self, symbol: str, formula: str, **cells: str) -> None:
        self.size_symbol = symbol
        self.clause("size", formula, self.pressed["weld"][QUANTITIES[symbol].column], **cells)

    def same_size(self, symbol: str, token: str, words: str) -> None:
        self.size_symbol = symbol
        self.same("size", token, self.pressed["weld"][QUANTITIES[symbol].column], clause=words)

    # ---- required thickness -----------------------------------------------------------------------------------------

    def thickness(self) -> None:
        neck = self.required["weld"]["neck_formula"]
        minimum = "p:" + (
            "code_minimum_mm" if self.shape["code_minimum_for"] is None else "code_minimum_air_steam_water_mm"
        )
        if neck:
            cells = {"t_sh": "i:t_sh", "t_min": minimum, "t_std": "i:t_std", "u": "p:pipe_undertolerance"}
            wanted = {quantity.name for quantity in FORMULAS[neck].inputs}
            stored = self.required["weld"]["neck_minimum_mm"]
            self.clause("t_neck", neck, stored, **{name: cells[name] for name in cells if name in wanted})
        elif self.part["kind"] == "nozzle":
            self.none("t_neck", f"missing: {self.required['weld']['not_required_because'] or self.missing}")
        for region in ("weld", "away"):
            pressed, required = self.pressed[region], self.required[region]
            formula = pressed["pressure_formula"]
            if formula is None:
                for key in ("t_p", "t_req"):
                    self.none(f"{key}_{region}", f"missing: {self.missing}")
                continue
            if formula == "cylinder_pressure_thickness":
                for key, joint in (("t_L", "longitudinal"), ("t_C", "circumferential")):
                    stored = pressed[f"{joint}_thickness_mm"]
                    self.over_wall(f"{key}_{region}", pressed[f"{joint}_formula"], stored, region, joint)
                self.clause(
                    f"t_p_{region}",
                    formula,
                    pressed["pressure_thickness_mm"],
                    t_L=f"c:t_L_{region}",
                    t_C=f"c:t_C_{region}",
                )
            else:
                self.over_wall(f"t_p_{region}", formula, pressed["pressure_thickness_mm"], region, "longitudinal")
            least = {"t_neck": "c:t_neck"} if self.part["kind"] == "nozzle" else {"t_min": minimum}
            self.clause(
                f"t_req_{region}",
                required["required_formula"],
                required["t_req_mm"],
                t_p=f"c:t_p_{region}",
                t_str="i:t_str",
                t_ext="i:t_ext",
                **least,
            )

    def over_wall(self, key: str, formula: str, stored: Any, region: str, joint: str) -> None:
        """Plan a clause over pressure or thickness, stress, efficiency and the sizes and factors of the wall."""
        cells = {
            "P": "c:P",
            "t": "i:t_act",
            "S": "i:S",
            "E": "p:efficiency_away" if region == "away" else "i:E_L" if joint == "longitudinal" else "i:E_C",
            "K": "c:K",
            "K1": "c:K1",
            "M": "c:M",
            "alpha": "i:alpha",
            "C": "i:C",
            **dict.fromkeys(_SIZES, "c:size"),
        }
        wanted = [quantity.name for quantity in FORMULAS[formula].inputs]
        self.clause(key, formula, stored, **{name: cells[name] for name in wanted})

    def counted(self) -> None:
        place, region = self.place, self.place["region_counted"]
        if region is None:
            self.none("t_req", f"missing: {self.missing}")
            return
        self.clause(
            "w", "weld_region", place["weld_region_half_width_mm"], w_min="p:weld_region_mm", t_req_w="c:t_req_weld"
        )
        measured = place["distance_to_weld_mm"] is not None and place["weld_region_half_width_mm"] is not None
        holds = ""
        if measured and self.needed["region_stated"] != "weld":
            holds = "{i:distance}>{c:w}" if region == "away" else "{i:distance}<={c:w}"
        self.same("t_req", f"c:t_req_{region}", place["t_req_mm"], holds)

    # ---- rates, life, dates -----------------------------------------------------------------------------------------

    def rates(self) -> None:
        place = self.place
        for key, days, first, past, rate, stored in (
            ("long", "days_long", "initial_on", "t_ini", "LT", "rate_lt_mm_per_year"),
            ("short", "days_short", "previous_on", "t_prev", "ST", "rate_st_mm_per_year"),
        ):
            self.steps[days] = _Days(f"i:{first}", "i:read_on")
            self.stored[days] = place[days]
            self.clause(f"years_{key}", "years_between", place[f"years_{key}"], days=f"c:{days}", y_d="p:days_per_year")
            formula = "long_term_rate" if key == "long" else "short_term_rate"
            cells = {past: f"i:{past}", "t_act": "i:t_act", "years": f"c:years_{key}"}
            self.clause(rate, formula, place[stored], **cells)
        if self.policy["rate_policy"] == "fit upper bound":
            sums = {name: f"i:{name}" for name in ("Sxx", "Sxy", "Syy", "n")}
            year = {"y_d": "p:days_per_year"}
            self.clause("fit", "fit_rate", place["rate_fit_mm_per_year"], Sxx="i:Sxx", Sxy="i:Sxy", **year)
            self.clause("fit_se", "fit_rate_error", place["rate_fit_error_mm_per_year"], **sums, **year)
            bound = place["rate_fit_upper_mm_per_year"]
            self.clause("fit_up", "fit_upper_bound", bound, fit="c:fit", q95="i:q95", fit_se="c:fit_se")
        self.selected_rate()
        self.clause("C_r", "rate_governing", place["rate_mm_per_year"], C_sel="c:C_sel", C_0="p:rate_floor_mm_per_year")

    def selected_rate(self) -> None:
        """Plan the rate that the policy selects, in the order of the steps: stated, bound, greater, one alone."""
        place, chosen = self.place, self.place["rate_selected_mm_per_year"]
        word, counts = place["rate_from"], place["short_term_counts"]
        if word is None:
            self.none("C_sel", f"missing: {self.missing}")
        elif place["reading_count"] < 2 and place["stated_rate_mm_per_year"] is not None:
            if place["rate_lt_mm_per_year"] is None:
                self.same("C_sel", "i:C_st", chosen, clause="the rate stated on the register")
            else:
                self.clause("C_sel", "rate_with_stated", chosen, LT="c:LT", C_st="i:C_st")
        elif word == "fit upper bound":
            self.same("C_sel", "c:fit_up", chosen, clause="policy: fit upper bound")
        elif word == "short-term" and self.policy["rate_policy"] == "short-term":
            self.same("C_sel", "c:ST", chosen, self.short_holds(True), "policy: short-term")
        elif counts and self.policy["rate_policy"] != "long-term" and place["reading_count"] >= 2:
            self.clause("C_sel", "rate_greater", chosen, LT="c:LT", ST="c:ST")
        elif place["previous_on"] is not None and self.policy["rate_policy"] != "long-term":
            self.same("C_sel", "c:LT", chosen, self.short_holds(False), "long-term: the short-term change is scatter")
        else:
            self.same("C_sel", "c:LT", chosen, clause=word)

    def short_holds(self, counts: bool) -> str:
        """Return the condition under which the short-term rate counts, or does not: long enough, or beyond scatter."""
        noise = FORMULAS["noise_limit"].sheet_formula({"s": policy_name("reading_scatter_mm")}).removeprefix("=")
        rule = f"OR({{c:years_short}}>=policy_short_interval_years,{{i:t_prev}}-{{i:t_act}}>{noise})"
        return rule if counts else f"NOT({rule})"

    def life(self) -> None:
        place = self.place
        cells = {"t_act": "i:t_act", "t_req": "c:t_req"}
        self.clause("m", "margin", place["margin"], **cells)
        below = (
            place["t_act_mm"] is not None and place["t_req_mm"] is not None and place["t_act_mm"] < place["t_req_mm"]
        )
        if place["no_measurable_loss"]:
            self.none("RL", _NO_LOSS)
        else:
            self.clause("RL", "remaining_life", place["remaining_life_years"], C_r="c:C_r", **cells)
        if place["no_measurable_loss"] and place["t_req_mm"] is not None:
            holds = f"AND({{c:C_r}}=0,{{i:t_act}}{'<' if below else '>='}{{c:t_req}})"
            self.steps["I"] = _Zero(holds) if below else _Same("i:cap", holds)
            self.stored["I"] = place["interval_years"]
        else:
            self.clause(
                "I", "interval", place["interval_years"], RL="c:RL", cap="i:cap", short="p:short_life_cap_years"
            )
        never_read = place["read_on"] is None
        anchor = "in_service_on" if never_read else "read_on"
        self.dates("days_due", "due_on", anchor, "i:cap" if never_read else "c:I", place["due_on"])
        if place["no_measurable_loss"]:
            self.none("days_left", _NO_LOSS)
            self.none("retirement_on", _NO_LOSS)
        else:
            self.dates("days_left", "retirement_on", "read_on", "c:RL", place["retirement_on"])

    def dates(self, days: str, on: str, anchor: str, years: str, stored: Any) -> None:
        first = self.given[anchor].value
        between = (stored - first).days if isinstance(stored, date) and isinstance(first, date) else None
        if isinstance(stored, str) and self.place["remaining_life_years"] is not None:
            # A date beyond the year 9999 comes as text: the days are still the whole days of the life.
            values = {"years": self.place["remaining_life_years"], "y_d": self.policy["days_per_year"]}
            between = FORMULAS["whole_days"].evaluate({**values, "guard": self.policy["day_guard"]})
        guard = {"y_d": "p:days_per_year", "guard": "p:day_guard"}
        self.clause(days, "whole_days", between, years=years, **guard)
        if isinstance(stored, str):
            self.none(on, f"{stored}: a date that no sheet holds")
            return
        self.steps[on] = _DateAfter(f"i:{anchor}", f"c:{days}")
        self.stored[on] = stored

    # ---- pressure held ----------------------------------------------------------------------------------------------

    def pressure_held(self) -> None:
        held, region = self.held, self.place["region_counted"]
        formula = held["hold_formula"]
        if formula is None:
            for key in ("P_hold", "MAWP"):
                self.none(key, f"missing: {self.missing}")
            return
        if formula == "hold_cylinder":
            for key, joint in (("P_hold_L", "longitudinal"), ("P_hold_C", "circumferential")):
                stored = held[f"holding_pressure_{joint}_mpa"]
                self.over_wall(key, held[f"{joint}_formula"], stored, region, joint)
            cells = {"P_hold_L": "c:P_hold_L", "P_hold_C": "c:P_hold_C"}
            self.clause("P_hold", formula, held["holding_pressure_mpa"], **cells)
        else:
            self.over_wall("P_hold", formula, held["holding_pressure_mpa"], region, "longitudinal")
        self.clause("MAWP", "mawp", held["mawp_mpa"], P_top="i:P_top", P_hold="c:P_hold", P_head=self.head)


class _Writer:
    """Turns the plan of one row into cells: live result, the program's value, and the difference."""

    def __init__(self, results: _Results, columns: _Columns) -> None:
        self.results = results
        self.columns = columns
        self.system = results.system
        self._templates: dict[_Planned, str] = {}

    def cells(self, at: int, row: Row, given: Mapping[str, _Given], plan: _Plan) -> Iterator[Any]:
        """Yield the cells of one row of `Calculation`."""
        known = {f"i:{key}": entry.value for key, entry in given.items()}
        known.update({f"c:{key}": value for key, value in plan.stored.items()})
        known.update({f"p:{key}": value for key, value in self.results.policy.items()})
        words = self.words(row, plan)
        for entry in self.columns.layout:
            if isinstance(entry, _Word):
                yield words[entry.key]
                continue
            planned = plan.steps.get(entry.key)
            if entry.clause_differs:
                yield _Styled(self.clause(planned), "source")
            yield from self.result(at, entry, planned, plan.stored.get(entry.key), known)

    def result(
        self, at: int, entry: _Result, planned: _Planned | str | None, stored: Any, known: Mapping[str, Any]
    ) -> Iterator[Any]:
        quantity = entry.quantity
        number_format = _number_format(quantity, self.system) if quantity else _DATE_FORMAT
        letter = self.columns.letter[f"c:{entry.key}"]
        shown = stored if quantity is None else _coherent(stored, quantity, self.system)
        stored_cell = _Styled(shown, "stored", number_format)
        if planned is None:
            yield from (_Styled(NOT_HERE, "source"), None, None)
            return
        # Where the program has a value the formula is written in any case: a result without one is a difference.
        reason = planned if isinstance(planned, str) else self.reason(planned, known) if stored is None else ""
        if reason or isinstance(planned, str):
            yield from (_Styled(reason, "reason"), None, None)
            return
        yield _Styled(_Live(self.template(planned).replace("§", str(at))), "live", number_format)
        yield stored_cell
        live, program = f"{letter}{at}", f"{_next(letter)}{at}"
        yield _Styled(
            _Live(f"=IF(COUNT({live},{program})<2,1,ABS({live}-{program})/MAX(ABS({program}),{SMALLEST!r}))"),
            "difference",
            "0.0E+00",
        )

    # ---- formulas ---------------------------------------------------------------------------------------------------

    def template(self, planned: _Planned) -> str:
        """Return the formula of a planned result with § for the row."""
        made = self._templates.get(planned)
        if made is None:
            made = self._templates[planned] = self._template(planned)
        return made

    def _template(self, planned: _Planned) -> str:
        cell = self.columns.reference
        match planned:
            case _Clause(formula, cells):
                return FORMULAS[formula].sheet_formula({symbol: cell(token) for symbol, token in cells})
            case _Same(token, ""):
                return f"={cell(token)}"
            case _Same(token, holds):
                return f"=IF({self.filled(holds)},{cell(token)},NA())"
            case _Zero(holds):
                return f"=IF({self.filled(holds)},0,NA())"
            case _Days(first, last):
                return f"=IF(COUNT({cell(first)},{cell(last)})<2,NA(),{cell(last)}-{cell(first)})"
            case _DateAfter(first, days):
                return f"=IF(COUNT({cell(first)},{cell(days)})<2,NA(),{cell(first)}+{cell(days)})"

    def filled(self, condition: str) -> str:
        """Put cells in the place of the tokens of a condition."""
        for token in self.columns.letter:
            condition = condition.replace(f"{{{token}}}", self.columns.reference(token))
        return condition

    # ---- words ------------------------------------------------------------------------------------------------------

    def reason(self, planned: _Planned, known: Mapping[str, Any]) -> str:
        """Return why a result cannot be worked out from what is known; empty where it can."""
        match planned:
            case _Clause(formula_id, cells):
                formula = FORMULAS[formula_id]
                values = {symbol: known.get(token) for symbol, token in cells}
                absent = [self.columns.label.get(token, token) for symbol, token in cells if values[symbol] is None]
                if absent:
                    return "missing: " + ", ".join(dict.fromkeys(absent))
                unmet = "; ".join(limit.otherwise for limit in formula.unmet_limits(values))
                return unmet or ("" if formula.evaluate(values) is not None else "no finite number results")
            case _Same(token, _):
                return "" if known.get(token) is not None else f"missing: {self.columns.label[token]}"
            case _Days(first, last) | _DateAfter(first, last):
                absent = [self.columns.label[token] for token in (first, last) if known.get(token) is None]
                return "missing: " + ", ".join(absent) if absent else ""
            case _Zero():
                return ""

    @staticmethod
    def clause(planned: _Planned | str | None) -> str | None:
        """Return the clause in words, where there is one."""
        if isinstance(planned, _Clause):
            formula = FORMULAS[planned.formula]
            return formula.clause if formula.clause == formula.document else f"{formula.document}, {formula.clause}"
        return planned.clause if isinstance(planned, _Same) else None

    def words(self, row: Row, plan: _Plan) -> dict[str, Any]:
        """Return the columns of words of one row."""
        place, whole, pressed = plan.place, plan.whole, plan.pressed["weld"]
        region = place["weld_region"]
        counts = f"{region}; {place['region_counted']} counts" if region else None
        form = f"{plan.size_symbol}, {pressed['dimension_form']} form" if plan.size_symbol else None
        mawp = _coherent(whole["mawp_mpa"], QUANTITIES["MAWP"], self.system)
        pressure_format = _number_format(QUANTITIES["MAWP"], self.system)
        return {
            "asset": whole["asset"],
            "component": whole["component"],
            "location": place["location"] or _Styled("no place", "reason"),
            "kind": whole["kind"] or _Styled(f"not known: {whole['kind_text'] or 'none given'}", "reason"),
            "zone": pressed["zone"],
            "state": place["state"] or whole["state"],
            "missing": place["missing"] or whole["missing"],
            "form": form,
            "region": counts,
            "case": place["governing_case"],
            "rate_from": place["rate_from"],
            "due_of_all": _Styled(whole["due_on"] or "not known", "stored", _DATE_FORMAT),
            "retirement_of_all": _Styled(whole["retirement_on"] or "none known", "stored", _DATE_FORMAT),
            "mawp_of_all": _Styled("not known" if mawp is None else mawp, "stored", pressure_format),
        }


def _next(letter: str, steps: int = 1) -> str:
    return get_column_letter(column_index_from_string(letter) + steps)


# ---- the sheets -----------------------------------------------------------------------------------------------------

_HOW_TO_READ = (
    "Inputs holds every number that goes in, one component and its governing place to a row. Cells with a tinted fill "
    "may be changed: the formulas follow. Beside the values stand the file, sheet and cell of each, and the text there.",
    "Calculation works the same row out again: each result is a live formula, beside it the program's own value and "
    "the difference of the two. A dash: not for this kind. Words in italics: why there is no result.",
    "What the program chose by rule stays as chosen: the clause, the weld region, the rate, the dimension. After a "
    "change of inputs #N/A means that a clause's limit is not met or that a choice no longer holds: build anew.",
    "After a change of inputs the differences are no fault: the program's value is the one of the build.",
    "A component has more places than the governing one; the earliest dates and the lowest MAWP of all its places are "
    "given as the program's values.",
)


def _write_read_me(book: Workbook, results: _Results, columns: _Columns) -> None:
    system = results.system
    sheet = _Sheet(book, "Read me", (34, 46, 14, 14, 14, 14, 14), results.footer, system=system)
    sheet.append([_Styled("Audit workbook of a fleet's results", "title")])
    sheet.append([_Styled("Every number of the governing places as a live formula over the source values.", "note")])
    sheet.append([])
    last = columns.last
    for words, value in (
        ("As of", results.as_of),
        ("Program", f"hoopline {results.program}"),
        ("Basis (sha256)", results.basis_sha256),
        ("Unit system", {"us": "US customary (in, psi, in/year)", "si": "SI (mm, MPa, mm/year)"}[system]),
    ):
        sheet.append([_Styled(words, "heading"), _Styled(value, "wrapped")])
    for words, row in (
        ("Results calculated here and compared", COMPARED_ROW),
        ("of which differ from the program's value", DIFFERING_ROW),
    ):
        live = _Live(f"=SUM(Calculation!$A${row}:${last}${row})")
        sheet.append([_Styled(words, "heading"), _Styled(live, "live", "0")])
    sheet.append([None, _Styled(f"A result differs where it is off by more than {AGREEMENT:.0E} of it.", "note")])
    _append_counts(sheet, results)
    _append_paragraphs(sheet, "How to read it", _HOW_TO_READ)
    below = any(row["state"] == "below required" for row in results.rows("SELECT state FROM result.asset"))
    _append_paragraphs(sheet, "Cautions", (*((BELOW_REQUIRED,) if below else ()), CAUTION, NOT_CONSIDERED))
    sheet.append([])
    sheet.append(
        _headings(("Source file", "sha256", "bytes", "rows read", "rows used", "rows set aside", "readings held"))
    )
    for row in results.rows("SELECT * FROM result.source ORDER BY file"):
        sheet.append(
            [
                _Styled(row["file"], "wrapped"),
                _Styled(row["sha256"], "wrapped"),
                *(row[name] for name in ("size", "rows_read", "rows_used", "rows_set_aside", "readings_held")),
            ]
        )


def _append_counts(sheet: _Sheet, results: _Results) -> None:
    sheet.append([])
    sheet.append(_headings(("State", "assets")))
    for row in results.rows(
        "SELECT state.state, count(asset.asset) AS assets FROM reference.state AS state "
        "LEFT JOIN result.asset AS asset USING (state) GROUP BY state.state, state_order ORDER BY state_order"
    ):
        sheet.append([row["state"], _Styled(row["assets"], "wrapped", "0")])
    sheet.append([])
    sheet.append(_headings(("What was read", "number")))
    for words, sql in (
        ("components", "SELECT count(*) AS n FROM result.component"),
        ("places", "SELECT count(*) AS n FROM result.location"),
        ("readings", "SELECT count(*) AS n FROM result.reading"),
        ("readings held", "SELECT count(*) AS n FROM result.reading WHERE status = 'held'"),
        ("ledger: set aside", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'set aside'"),
        ("ledger: warnings", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'warning'"),
        ("ledger: notes", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'note'"),
    ):
        sheet.append([words, _Styled(results.rows(sql)[0]["n"], "wrapped", "0")])


def _append_paragraphs(sheet: _Sheet, title: str, paragraphs: Sequence[str]) -> None:
    """Append paragraphs over the full width; the height is set, since merged cells do not find their own."""
    sheet.append([])
    sheet.append([_Styled(title, "heading")])
    for paragraph in paragraphs:
        row = sheet.rows + 1
        sheet.sheet.merged_cells.add(f"A{row}:G{row}")
        sheet.sheet.row_dimensions[row].height = 15.0 * math.ceil(len(paragraph) / 135)
        sheet.append([_Styled(paragraph, "caution" if title == "Cautions" else "wrapped")])


_ASSET_COLUMNS: tuple[tuple[str, str, float], ...] = (
    ("rank", "rank", 6),
    ("asset", "asset", 11),
    ("state", "state", 17),
    ("reason", "reason", 60),
    ("governing_component", "component", 15),
    ("governing_location", "place", 9),
    ("due_kind", "governing due date: kind", 13),
    ("due_on", "governing due date", 12),
    ("internal", "internal or on-stream due", 14),
    ("external", "external due", 14),
    ("thickness", "thickness due", 14),
    ("relief device", "relief device due", 14),
    ("deferred_until", "deferred until", 12),
    ("retirement_on", "earliest retirement date", 14),
    ("components_not_assessable", "components not assessable", 11),
    ("components", "of components", 11),
    ("area", "area", 14),
    ("assigned_to", "person", 16),
)


def _write_assets(book: Workbook, results: _Results) -> None:
    sheet = _Sheet(
        book,
        "Assets",
        [width for _, _, width in _ASSET_COLUMNS],
        results.footer,
        freeze="C2",
        repeat_rows="1:1",
        heights={1: 45},
        system=results.system,
    )
    sheet.append(_headings(heading for _, heading, _ in _ASSET_COLUMNS))
    due = {
        (row["asset"], row["kind"]): row["due_on"] or f"not known: {row['due_missing'] or 'no date'}"
        for row in results.rows("SELECT asset, kind, due_on, due_missing FROM result.due_date")
    }
    endless = {
        row["asset"]
        for row in results.rows(
            "SELECT asset FROM result.location GROUP BY asset HAVING bool_and(no_measurable_loss AND missing IS NULL)"
        )
    }
    for row in results.rows("SELECT * FROM result.asset ORDER BY rank"):
        values = {key: row[key] for key, _, _ in _ASSET_COLUMNS if key in row}
        for kind in ("internal", "external", "thickness", "relief device"):
            values[kind] = due.get((row["asset"], kind), NOT_HERE)
        if values["retirement_on"] is None:
            values["retirement_on"] = "no measurable loss" if row["asset"] in endless else "not known"
        sheet.append([_Styled(values[key], "wrapped") for key, _, _ in _ASSET_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A1:{get_column_letter(len(_ASSET_COLUMNS))}{sheet.rows}"


def _write_policies(book: Workbook, results: _Results) -> None:
    sheet = _Sheet(
        book,
        "Policies",
        (32, 50, 16, 11, 26, 16, 30, 16, 11),
        results.footer,
        freeze="C2",
        repeat_rows="1:1",
        heights={1: 45},
        system=results.system,
    )
    sheet.append(
        _headings(
            (
                "key",
                "what it sets",
                "value used in the formulas",
                "unit",
                "reference",
                "default or stated",
                "name in the formulas",
                "value as in basis.toml",
                "unit",
            )
        )
    )
    for policy in results.policies:
        number = policy["number"]
        value, unit = (
            (policy["word"] or "not stated", policy["unit"])
            if number is None
            else in_coherent_unit(number, policy["unit"], results.system)
        )
        name = None if number is None else policy_name(policy["key"])
        sheet.append(
            [
                policy["key"],
                _Styled(policy["label"], "wrapped"),
                _Styled(value, "plain" if number is None else "input"),
                None if unit == "-" else unit,
                _Styled(policy["reference"], "wrapped"),
                "stated" if policy["stated"] else "default",
                name,
                policy["word"] if number is None else number,
                None if policy["unit"] == "-" else policy["unit"],
            ]
        )
        if name:
            book.defined_names[name] = DefinedName(name, attr_text=f"Policies!$C${sheet.rows}")


#: The words before the values on `Inputs`: heading, width.
_INPUT_WORDS: tuple[tuple[str, float], ...] = (
    ("asset", 11),
    ("component", 16),
    ("governing place", 11),
    ("kind", 17),
    ("head zone", 9),
    ("side of loss", 15),
)


def _write_inputs(book: Workbook, results: _Results, columns: _Columns) -> None:
    system = results.system
    widths = [width for _, width in _INPUT_WORDS] + [12.0] * len(columns.inputs) + [38.0] * len(columns.inputs)
    sheet = _Sheet(
        book,
        "Inputs",
        widths,
        results.footer,
        freeze=f"D{FIRST_ROW}",
        repeat_rows=f"{FIRST_ROW - 3}:{FIRST_ROW - 1}",
        repeat_columns="A:C",
        pages_wide=7,
        heights={FIRST_ROW - 2: 62},
        system=system,
    )
    sheet.append([_Styled("Inputs of every component and its governing place", "title")])
    for note in (
        "Values first, then in the same order where each came from: file, sheet, cell and the text as it stood there.",
        "A tinted cell may be changed. A value in italics follows another cell: a policy, or the wall a neck stands in.",
        "Blank: the register does not give it, or the kind does not need it; its source column says which.",
    ):
        sheet.append([_Styled(note, "note")])
    sheet.append([])
    words = len(_INPUT_WORDS)
    groups = ["Component and place", *[""] * (words - 1), "Values", *[""] * (len(columns.inputs) - 1)]
    sheet.append(
        [_Styled(word, "group") for word in (*groups, "Where each came from", *[""] * (len(columns.inputs) - 1))]
    )
    headings = [column.heading for column in columns.inputs]
    sheet.append(_headings((*(word for word, _ in _INPUT_WORDS), *headings, *(f"source: {word}" for word in headings))))
    symbols = [_symbol_and_unit(column.quantity, column.key, system) for column in columns.inputs]
    sheet.append(
        [
            _Styled(word, "small heading")
            for word in (*[""] * words, *symbols, *(column.key for column in columns.inputs))
        ]
    )
    for row in results.components:
        part, place, whole = row["part"], _or_blank(row["place"]), row["whole"]
        given = _inputs_of(results, columns, row)
        cells: list[Any] = [
            whole["asset"],
            whole["component"],
            place["location"] or _Styled("no place", "reason"),
            whole["kind"] or _Styled(f"not known: {whole['kind_text'] or 'none given'}", "reason"),
            place["zone"],
            part["loss_side"] if part["loss_side_stated"] else f"{part['loss_side']} (assumed)",
        ]
        for column in columns.inputs:
            entry = given[column.key]
            if entry.follows is not None:
                assert column.quantity is not None
                cells.append(_Styled(entry.follows, "follows", _number_format(column.quantity, system)))
            elif column.quantity is None:
                cells.append(_Styled(entry.value, "input", _DATE_FORMAT))
            else:
                value = _coherent(entry.value, column.quantity, system)
                cells.append(_Styled(value, "input", _number_format(column.quantity, system)))
        cells += [_Styled(str(given[column.key].origin), "source") for column in columns.inputs]
        sheet.append(cells)


def _symbol_and_unit(quantity: Quantity | None, key: str, system: str) -> str:
    if quantity is None:
        return "date"
    unit = _unit(quantity, system)
    symbol = key if key in QUANTITIES else {"E_L": "E", "E_C": "E"}.get(key, "")
    return ", ".join(word for word in (symbol, unit) if word)


def _write_calculation(book: Workbook, results: _Results, columns: _Columns) -> None:
    system = results.system
    widths: list[float] = []
    for entry in columns.layout:
        if isinstance(entry, _Word):
            widths.append(entry.width)
        else:
            widths += [28.0] if entry.clause_differs else []
            widths += [14.0, 12.0, 9.0]
    sheet = _Sheet(
        book,
        "Calculation",
        widths,
        results.footer,
        freeze=f"D{FIRST_ROW}",
        repeat_rows=f"{GROUP_ROW}:{FIRST_ROW - 1}",
        repeat_columns="A:C",
        pages_wide=8,
        heights={HEADING_ROW: 62, CLAUSE_ROW: 50},
        system=system,
    )
    sheet.append([_Styled("Every result worked out again from Inputs and Policies", "title")])
    sheet.append(
        [_Styled("Bold: live formula. Grey: the program's own value. Small grey: difference, as a part of it.", "note")]
    )
    last = FIRST_ROW + max(len(results.components), 1) - 1
    for row in _calculation_headings(columns, system, last):
        sheet.append(row)
    writer = _Writer(results, columns)
    for at, row in enumerate(results.components, start=FIRST_ROW):
        given = _inputs_of(results, columns, row)
        sheet.append(writer.cells(at, row, given, _Plan(results, row, given)))
    differences = [
        f"{letter}{FIRST_ROW}:{letter}{last}"
        for letter in (
            _next(columns.letter[f"c:{entry.key}"], 2) for entry in columns.layout if isinstance(entry, _Result)
        )
    ]
    sheet.sheet.conditional_formatting.add(
        " ".join(differences),
        CellIsRule("greaterThan", [repr(AGREEMENT)], font=Font(bold=True, color="FFFFFF"), fill=_ALARM),
    )


_ALARM = PatternFill("solid", bgColor="B00020")


def _calculation_headings(columns: _Columns, system: str, last: int) -> Iterator[list[_Styled | None]]:
    """Yield the heading rows: group, heading, symbol and unit, clause, number compared, number that differs."""
    rows: list[list[_Styled | None]] = [[] for _ in range(6)]
    group = ""
    for entry in columns.layout:
        before = len(rows[0])
        rows[0].append(_Styled(entry.group if entry.group != group else "", "group"))
        group = entry.group
        if isinstance(entry, _Word):
            rows[1].append(_Styled(entry.heading, "heading"))
            rows[2:] = [[*row, _Styled("", "small heading")] for row in rows[2:]]
        else:
            symbol = "" if entry.quantity is None or entry.key == "size" else entry.quantity.name
            unit = "date" if entry.quantity is None else _unit(entry.quantity, system)
            clause = entry.words
            if entry.formula:
                formula = FORMULAS[entry.formula]
                clause = (
                    formula.clause if formula.clause == formula.document else f"{formula.document}, {formula.clause}"
                )
            if entry.clause_differs:
                rows[1].append(_Styled(f"clause: {entry.heading}", "heading"))
                rows[2:] = [[*row, _Styled("", "small heading")] for row in rows[2:]]
                clause = "clause in each row"
            letter = _next(columns.letter[f"c:{entry.key}"], 2)
            cells = f"{letter}{FIRST_ROW}:{letter}{last}"
            rows[1] += [_Styled(word, "heading") for word in (entry.heading, "program's value", "difference")]
            rows[2] += [_Styled(word, "small heading") for word in (f"{symbol}, {unit}".strip(", "), unit, "")]
            rows[3] += [_Styled(word, "small heading") for word in (clause, "", "")]
            for row, words, formula_text in (
                (rows[4], "compared", f"=COUNT({cells})"),
                (rows[5], "differ", f'=COUNTIF({cells},">{AGREEMENT!r}")'),
            ):
                row += [_Styled("", "small heading"), _Styled(words, "small heading")]
                row.append(_Styled(_Live(formula_text), "small heading", "0"))
        rows[0] += [_Styled("", "group")] * (len(rows[1]) - before - 1)
    yield from rows


_READING_COLUMNS: tuple[tuple[str, str, float], ...] = (
    ("asset", "asset", 11),
    ("component", "component", 16),
    ("location", "place", 9),
    ("read_on", "date", 11),
    ("date_precision", "date known to the", 9),
    ("thickness_mm", "thickness", 11),
    ("status", "status", 13),
    ("held_for", "held for", 16),
    ("flags", "what to look at", 40),
    ("text", "as it stood", 12),
    ("unit", "unit there", 8),
    ("method", "method", 11),
    ("inspector", "inspector", 14),
    ("remark", "remark", 24),
    ("decided_by", "decided by", 14),
    ("decision_reason", "reason of the decision", 24),
    ("file", "file", 28),
    ("sheet", "sheet", 18),
    ("cell", "cell", 8),
)


def _write_readings(book: Workbook, results: _Results) -> None:
    quantity = QUANTITIES["t"]
    unit, number_format = _unit(quantity, results.system), _number_format(quantity, results.system)
    sheet = _Sheet(
        book,
        "Readings used",
        [width for _, _, width in _READING_COLUMNS],
        results.footer,
        freeze="E3",
        repeat_rows="1:2",
        heights={2: 32},
        system=results.system,
    )
    sheet.append([_Styled("Readings of the governing places, those not used among them", "title")])
    sheet.append(
        _headings(f"{heading}, {unit}" if key == "thickness_mm" else heading for key, heading, _ in _READING_COLUMNS)
    )
    for row in results.readings:
        row = {
            **row,
            "thickness_mm": _Styled(_coherent(row["thickness_mm"], quantity, results.system), "plain", number_format),
        }
        sheet.append([row[key] for key, _, _ in _READING_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A2:{get_column_letter(len(_READING_COLUMNS))}{sheet.rows}"


_LEDGER_COLUMNS: tuple[tuple[str, float], ...] = (
    ("severity", 11),
    ("file", 28),
    ("sheet", 18),
    ("cell", 8),
    ("text", 22),
    ("reason", 60),
    ("effect", 50),
)


def _write_ledger(book: Workbook, results: _Results) -> None:
    sheet = _Sheet(
        book,
        "Ledger",
        [width for _, width in _LEDGER_COLUMNS],
        results.footer,
        freeze="A3",
        repeat_rows="1:2",
        system=results.system,
    )
    sheet.append([_Styled("Cells and places that were not used, or used with doubt", "title")])
    headings = {"text": "as it stood", "effect": "what it was kept out of"}
    sheet.append(_headings(headings.get(key, key) for key, _ in _LEDGER_COLUMNS))
    for row in results.rows("SELECT * FROM result.ledger ORDER BY file, sheet, cell"):
        sheet.append([_Styled(row[key], "wrapped") for key, _ in _LEDGER_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A2:{get_column_letter(len(_LEDGER_COLUMNS))}{sheet.rows}"
