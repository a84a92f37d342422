"""The sheet an inspector takes to a vessel: every place with what was read last, what to expect and when to call.

It is made as a workbook to be filled in and given back, and as a page to be printed. Each row of the workbook carries a
return code (`pipeline.sheets.return_code`), by which its reading finds its place again. What the sheet prints is for
the eye: none of it is ever read back as a reading.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from io import BytesIO
from typing import Any

import duckdb
import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from pipeline import __version__
from pipeline.cautions import BELOW_REQUIRED, CAUTION, FIELD_WORK
from pipeline.errors import Problem
from pipeline.formulas import FORMULAS
from pipeline.judging import held_as
from pipeline.reading import asked, in_place, natural
from pipeline.sheets.return_code import CodedPlace, code_of, sheet_code
from pipeline.sheets.words import accepted
from pipeline.units import DISPLAY, UNITS, show

Row = dict[str, Any]

#: What is to be borne in mind at the wall. Common practice of thickness work.
AT_THE_WALL = (
    FIELD_WORK,
    "Hot wall: sound is slower in hot steel, and a wall reads about 1 % too thick for every 55 °C (100 °F) above the "
    "block the gauge was set on. Write the temperature of the wall as a remark.",
    "Coating: through paint a gauge reads two to two and a half times the paint too much. Measure echo to echo or on a "
    "bare spot, and say which. Remove no coating or insulation that the permit does not name.",
    "A low reading is believed until it is disproved: scan around it and write down the lowest. A high one is doubted: "
    "check the gauge on its block and read again.",
)
ACTIONS = (
    "Below 'stop below' (the required thickness): stop, make safe, call the owner's engineer. Below 'call below': call "
    "the engineer before you leave the place. Outside 'lowest' to 'highest expected': read again, then write it down."
)
FILLING = (
    "Fill in the last columns only: the date and either the thickness or why there is none. Rows may be sorted or left "
    "blank; leave the return code as it is. Save the workbook and put it into the plant's folder."
)
#: Reasons a person may choose from; a dash or "no value" is none.
REASONS = tuple(word for word in accepted("not measured") if word != "no value")
_LONGEST_NOTE = 300


@dataclass(frozen=True)
class FieldRow:
    """One place of the sheet. Thicknesses and lengths are in mm; None where a number cannot be given, and then
    `to_know` says why."""

    component: str
    location: str
    description: str | None
    distance_to_weld_mm: float | None
    last_mm: float | None
    read_on: date | None
    expected_mm: float | None
    lowest_mm: float | None
    highest_mm: float | None
    call_below_mm: float | None
    stop_below_mm: float | None
    to_know: tuple[str, ...]
    code: str


@dataclass(frozen=True)
class FieldSheet:
    """The sheet of one asset for one day, in one unit system."""

    asset: str
    description: str | None
    state: str
    survey_on: date
    as_of: date
    system: str
    code: str
    rows: tuple[FieldRow, ...]
    to_do: tuple[str, ...]

    @property
    def below_required(self) -> bool:
        """The asset is below required as it stands."""
        return self.state == "below required"

    @property
    def file_name(self) -> str:
        """A name for the workbook: the asset, the day, and the sheet's code."""
        tag = re.sub(r"[^\w.-]+", "_", self.asset).strip("._") or "asset"
        return f"field sheet {tag} {self.survey_on.isoformat()} {self.code}.xlsx"


_PLACES = """
SELECT
    location.*, days_per_year,
    formula.noise_limit(reading_scatter_mm) AS noise_limit_mm,
    worth.asset IS NOT NULL AS weld_distance_worth,
    held.held_words
FROM result.location AS location
CROSS JOIN basis.in_force
LEFT JOIN (
    SELECT DISTINCT asset, component, location FROM result.worth_measuring WHERE measurement = 'weld distance'
) AS worth USING (asset, component, location)
LEFT JOIN (
    SELECT
        asset, component, location,
        list({'on': read_on, 'thickness_mm': thickness_mm, 'why': held_for} ORDER BY read_on, file, sheet, cell)
            AS held_words
    FROM result.reading
    WHERE status = 'held'
    GROUP BY asset, component, location
) AS held USING (asset, component, location)
WHERE location.asset = ?
"""
_TO_DO = """
SELECT recommendation, due_on FROM result.recommendation WHERE asset = ? AND is_open ORDER BY due_on, recommendation
"""
_PLACES_DUE = """
SELECT component, location, read_on, due_on, misses_in_a_row, last_miss_reason,
    coalesce(due_on <= as_of + INTERVAL 1 YEAR, false) AS is_due, coalesce(due_on < as_of, false) AS is_overdue
FROM result.location CROSS JOIN basis.in_force
WHERE asset = ? AND (misses_in_a_row > 0 OR read_on IS NULL OR due_on <= as_of + INTERVAL 1 YEAR)
ORDER BY due_on NULLS FIRST, component, location
"""
_WORTH = """
SELECT
    component, location, measurement, max(formula.years_between(worth_days, days_per_year)) AS years,
    max(weld_region_half_width_mm) AS half_width_mm
FROM result.worth_measuring CROSS JOIN basis.in_force
WHERE asset = ?
GROUP BY component, location, measurement
ORDER BY years DESC NULLS FIRST, component, location
"""
_ASSIGNED = """
SELECT
    asset.asset, rank, asset.state, reason, asset.held_readings, description, area, due_kind, asset.due_on, assigned_to,
    coalesce(asset.due_on < as_of, false) AS is_past,
    -- What is missing can only make the date an earlier one.
    asset.due_on IS NOT NULL AND (asset.state = 'not assessable' OR due.due_missing IS NOT NULL) AS is_at_latest,
    coalesce(worth.places, 0) AS worth_places,
    coalesce(place.missed, 0) AS missed_places,
    coalesce(place.due, 0) AS due_places,
    coalesce(open.recommendations, 0) AS open_recommendations
FROM result.asset AS asset
CROSS JOIN (SELECT as_of FROM basis.in_force)
LEFT JOIN result.due_date AS due ON due.asset = asset.asset AND due.kind = asset.due_kind
LEFT JOIN (
    SELECT asset, count(DISTINCT (component, location)) AS places FROM result.worth_measuring GROUP BY asset
) AS worth ON worth.asset = asset.asset
LEFT JOIN (
    SELECT asset, count(*) FILTER (misses_in_a_row > 0) AS missed,
        count(*) FILTER (read_on IS NULL OR due_on <= as_of + INTERVAL 1 YEAR) AS due
    FROM result.location CROSS JOIN basis.in_force
    GROUP BY asset
) AS place ON place.asset = asset.asset
LEFT JOIN (
    SELECT asset, count(*) AS recommendations FROM result.recommendation WHERE is_open GROUP BY asset
) AS open ON open.asset = asset.asset
WHERE lower(regexp_replace(trim(assigned_to), '\\s+', ' ', 'g')) = lower(regexp_replace(trim(?), '\\s+', ' ', 'g'))
ORDER BY rank
"""


def assigned(connection: duckdb.DuckDBPyConnection, person: str) -> pd.DataFrame:
    """Return the assets assigned to a person by rank, with how much waits at each.

    `is_past` marks a governing due date before the as-of date, `is_at_latest` one that may be earlier because something
    is missing.
    """
    return connection.cursor().execute(_ASSIGNED, [person]).df()


def field_sheet(
    connection: duckdb.DuckDBPyConnection, asset: str, system: str, survey_on: date | None = None
) -> FieldSheet:
    """Return the field sheet of an asset for a day, the as-of date where none is given.

    Raises Problem where there is no such asset, or no place of it is on record.
    """
    about = asked(connection, "SELECT asset, description, state FROM result.asset WHERE asset = ?", [asset])
    if not about:
        raise Problem(f"{asset}: there is no such asset in these results")
    build = asked(connection, "SELECT as_of, program, basis_sha256, facts_sha256 FROM result.build")[0]
    places = asked(connection, _PLACES, [asset])
    if not places:
        raise Problem(
            f"{asset}: no place of it is on record, so there is nothing to print; list its locations first, on a sheet "
            "with the columns asset, component and location"
        )
    day = survey_on or build["as_of"]
    code = sheet_code(asset, *(str(value) for value in build.values()))
    places.sort(key=lambda place: (natural(place["component"]), natural(place["location"])))
    to_do = [
        f"{row['recommendation']}, due {row['due_on'] or 'on no date'}" for row in asked(connection, _TO_DO, [asset])
    ]
    return FieldSheet(
        asset=asset,
        description=about[0]["description"],
        state=about[0]["state"],
        survey_on=day,
        as_of=build["as_of"],
        system=system,
        code=code,
        rows=tuple(_field_row(place, day, system, code) for place in places),
        to_do=tuple(to_do),
    )


def to_do(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> list[tuple[str, str]]:
    """Return what there is to do at an asset, as kind and sentence: what was read and waits, then what to measure."""
    said = []
    for row in asked(
        connection,
        "SELECT component, location, read_on, thickness_mm, held_for FROM result.reading "
        "WHERE asset = ? AND status = 'held' ORDER BY read_on DESC, component, location",
        [asset],
    ):
        thickness = show(row["thickness_mm"], "thickness", system)
        held = f"{thickness} of {row['read_on']} is held {held_as(row['held_for'])}"
        said.append(("reading to judge", f"{_at(row)}: {held}"))
    said += [
        ("recommendation", f"{row['recommendation']}, due {row['due_on'] or 'on no date'}")
        for row in asked(connection, _TO_DO, [asset])
    ]
    for row in asked(connection, _PLACES_DUE, [asset]):
        if row["misses_in_a_row"]:
            times = "once" if row["misses_in_a_row"] == 1 else f"{row['misses_in_a_row']} times in a row"
            said.append(("missed place", f"{_at(row)}: not measured {times}, {row['last_miss_reason']}"))
        if row["read_on"] is None:
            said.append(("never read", f"{_at(row)}: no reading that counts"))
        elif row["is_due"]:
            when = "overdue" if row["is_overdue"] else "due within a year"
            said.append((when, f"{_at(row)}: to be measured by {row['due_on']}, last on {row['read_on']}"))
    for row in asked(connection, _WORTH, [asset]):
        gain = f"could gain {show(row['years'], 'duration', system)}" if row["years"] else "could change the verdict"
        if row["measurement"] == "weld distance":
            half = show(row["half_width_mm"], "length", system)
            words = f"the distance to the weld {gain}, if the place is farther from it than {half}"
        else:
            words = f"one more reading {gain}, if it is thicker by the scatter of one reading"
        said.append(("worth measuring", f"{_at(row)}: {words}"))
    return said


def open_recommendations(connection: duckdb.DuckDBPyConnection, asset: str) -> list[Row]:
    """Return the open recommendations of an asset, those due first first."""
    return asked(
        connection,
        "SELECT component, recommendation, raised_on, due_on FROM result.recommendation WHERE asset = ? AND is_open "
        "ORDER BY due_on, recommendation",
        [asset],
    )


def _at(row: Row) -> str:
    return in_place(row["component"], row["location"])


def _field_row(place: Row, day: date, system: str, code: str) -> FieldRow:
    expected = lowest = highest = None
    why_not = None
    if place["t_act_mm"] is None:
        why_not = "no reading that counts yet: nothing to expect"
    elif place["rate_mm_per_year"] is None:
        why_not = "no rate yet: nothing to expect"
    elif day < place["read_on"]:
        why_not = f"read after {day.isoformat()}: nothing to expect on that day"
    else:
        years = FORMULAS["years_between"].evaluate(
            {"days": float((day - place["read_on"]).days), "y_d": place["days_per_year"]}
        )
        # On the day of the last reading itself nothing has been lost.
        spent = {"t_act": place["t_act_mm"], "years": years or 0.0, "n_lim": place["noise_limit_mm"]}
        rate = place["rate_mm_per_year"]
        low, high = place["rate_low_mm_per_year"], place["rate_high_mm_per_year"]
        expected = FORMULAS["thickness_after"].evaluate({**spent, "C_r": rate})
        lowest = FORMULAS["expected_lowest"].evaluate({**spent, "C_high": rate if high is None else high})
        highest = FORMULAS["expected_highest"].evaluate({**spent, "C_low": rate if low is None else low})
    required = place["t_req_mm"]
    call = FORMULAS["call_below"].evaluate({"t_req": required, "t_e_lo": lowest})
    if call is None:
        call = required if required is not None else lowest
    asset_component = None if place["component"] == "(not stated)" else place["component"]
    return FieldRow(
        component=place["component"],
        location=place["location"],
        description=place["description"],
        distance_to_weld_mm=place["distance_to_weld_mm"],
        last_mm=place["t_act_mm"],
        read_on=place["read_on"],
        expected_mm=expected,
        lowest_mm=lowest,
        highest_mm=highest,
        call_below_mm=call,
        stop_below_mm=required,
        to_know=tuple(_to_know(place, why_not, system)),
        code=code_of(CodedPlace(code, place["asset"], asset_component, place["location"])),
    )


def _to_know(place: Row, why_not: str | None, system: str) -> list[str]:
    said = []
    if place["state"] == "below required":
        said.append("below required as it stands")
    if place["misses_in_a_row"]:
        times = "once" if place["misses_in_a_row"] == 1 else f"{place['misses_in_a_row']} times in a row"
        said.append(f"missed {times}: {place['last_miss_reason']}")
    for held in place["held_words"] or []:
        if place["read_on"] is not None and held["on"] <= place["read_on"]:
            continue  # a later reading stands in its place
        thickness = show(held["thickness_mm"], "thickness", system)
        said.append(f"{thickness} of {held['on'].isoformat()} is held ({held['why']}): read again")
    if place["verdict_turns_on_weld_distance"]:
        said.append("the verdict turns on the weld distance: measure it")
    elif place["weld_distance_worth"]:
        said.append("measure the distance to the weld: it could move a date")
    if why_not:
        said.append(why_not)
    if place["t_req_mm"] is None:
        said.append(f"required thickness not known, so there is no value to stop at; missing: {place['missing']}")
    return said


# ---- the workbook ---------------------------------------------------------------------------------------------------

_HEAD_FILL = PatternFill("solid", fgColor="DDE3E8")
_FILL_IN = PatternFill("solid", fgColor="FFF3CC")
_GREY = Font(name="Calibri", size=10, color="555555")
_PLAIN = Font(name="Calibri", size=11)
_LINE = Side(style="thin", color="999999")
_HAIR = Side(style="hair", color="BBBBBB")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_LONGEST_TEXT = 32_000


@dataclass(frozen=True)
class _Column:
    heading: str
    width: float
    kind: str = "text"  # text, number, length, date, fill, fill date, fill number, fill length, code


def _columns(system: str) -> tuple[_Column, ...]:
    thickness, length = DISPLAY[system]["thickness"][0], DISPLAY[system]["length"][0]
    return (
        _Column("asset", 11),
        _Column("component", 13),
        _Column("location", 10),
        _Column("where it is", 20),
        _Column(f"last reading ({thickness})", 9, "number"),
        _Column("last read", 11, "date"),
        _Column(f"expected ({thickness})", 10, "number"),
        _Column(f"lowest expected ({thickness})", 10, "number"),
        _Column(f"highest expected ({thickness})", 10, "number"),
        _Column(f"call below ({thickness})", 9, "number"),
        _Column(f"stop below ({thickness})", 9, "number"),
        _Column(f"known weld distance ({length})", 11, "length"),
        _Column("to know here", 34),
        _Column("date", 12, "fill date"),
        _Column(f"thickness ({thickness})", 11, "fill number"),
        _Column("not measured because", 15, "fill"),
        _Column("remark", 20, "fill"),
        _Column(f"distance to weld ({length})", 11, "fill length"),
        _Column("inspector", 15, "fill"),
        _Column("return code", 34, "code"),
    )


def workbook(sheet: FieldSheet) -> bytes:
    """Return the sheet as a workbook to be filled in; texts stay texts, whatever they begin with."""
    book = Workbook()
    book.properties.title = f"field sheet {sheet.asset}"
    book.properties.creator = "hoopline"
    page = book.active
    page.title = "field sheet"
    columns = _columns(sheet.system)
    last = get_column_letter(len(columns))
    for place, column in enumerate(columns, start=1):
        page.column_dimensions[get_column_letter(place)].width = column.width
    row = 1
    for text, bold in _preamble(sheet):
        page.merge_cells(f"A{row}:{last}{row}")
        cell = _write(page.cell(row, 1), text, Font(name="Calibri", size=14 if row == 1 else 10, bold=bold))
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        lines = 1 + len(text) // 210
        page.row_dimensions[row].height = 20 if row == 1 else 14.0 * lines + 2
        row += 1
    header = row + 1
    for place, column in enumerate(columns, start=1):
        cell = _write(page.cell(header, place), column.heading, Font(name="Calibri", size=10, bold=True))
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        cell.fill = _FILL_IN if column.kind.startswith("fill") else _HEAD_FILL
        cell.border = Border(bottom=_LINE)
    page.row_dimensions[header].height = 44
    for at, line in enumerate(sheet.rows, start=header + 1):
        _write_place(page, at, sheet, line, columns)
    _offer_choices(page, columns, header + 1, header + len(sheet.rows))
    page.freeze_panes = page.cell(header + 1, 4)
    page.print_title_rows = f"{header}:{header}"
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = {"us": 3, "si": 8}[sheet.system]
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.oddFooter.left.text = "For review by qualified people"
    page.oddFooter.right.text = f"sheet {sheet.code}, page &P of &N"
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _preamble(sheet: FieldSheet) -> list[tuple[str, bool]]:
    name = f"{sheet.asset}, {sheet.description}" if sheet.description else sheet.asset
    lines = [
        (f"Field sheet of {name}", True),
        (
            f"Sheet code {sheet.code}; for a survey on {sheet.survey_on.isoformat()}; made by hoopline {__version__} "
            f"from results as of {sheet.as_of.isoformat()}",
            False,
        ),
        (FILLING, True),
        (ACTIONS, True),
    ]
    if sheet.below_required:
        lines.append((BELOW_REQUIRED, True))
    if sheet.to_do:
        lines.append((f"Open recommendations: {'; '.join(sheet.to_do)}", False))
    return [*lines, *((text, False) for text in (*AT_THE_WALL, CAUTION))]


def _write_place(page: Any, at: int, sheet: FieldSheet, place: FieldRow, columns: Sequence[_Column]) -> None:
    values = (
        sheet.asset,
        place.component,
        place.location,
        place.description,
        place.last_mm,
        place.read_on,
        place.expected_mm,
        place.lowest_mm,
        place.highest_mm,
        place.call_below_mm,
        place.stop_below_mm,
        place.distance_to_weld_mm,
        "; ".join(place.to_know)[:_LONGEST_NOTE],
        *([None] * 6),
        place.code,
    )
    for column, (layout, value) in enumerate(zip(columns, values, strict=True), start=1):
        cell = page.cell(at, column)
        kind = layout.kind.removeprefix("fill").strip()
        fill_in = layout.kind.startswith("fill")
        name, decimals = DISPLAY[sheet.system]["length" if kind == "length" else "thickness"]
        if kind in ("number", "length") and isinstance(value, float):
            value = round(UNITS[name].from_inside(value), 6)
        _write(cell, value, _PLAIN if fill_in or column <= 3 else _GREY)
        if kind in ("number", "length"):
            cell.number_format = f"0.{'0' * decimals}"
            cell.alignment = Alignment(horizontal="right", vertical="top")
        elif kind == "date":
            cell.number_format = "yyyy-mm-dd"
            cell.alignment = Alignment(horizontal="right", vertical="top")
        else:
            cell.number_format = "@"
            cell.alignment = Alignment(wrap_text=layout.kind != "code", vertical="top", horizontal="left", indent=1)
        cell.border = Border(
            left=_LINE if fill_in else None, right=_LINE if fill_in else None, bottom=_LINE if fill_in else _HAIR
        )
    longest = max(len(place.description or "") / 20, len("; ".join(place.to_know)[:_LONGEST_NOTE]) / 34, 1.0)
    page.row_dimensions[at].height = 14.0 * (1 + int(longest)) + 4


def _write(cell: Cell, value: Any, font: Font) -> Cell:
    cell.font = font
    if isinstance(value, str):
        text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)[:_LONGEST_TEXT]
        cell.value = text
        cell.data_type = "s"
        cell.quotePrefix = text.startswith(_FORMULA_STARTS)
    else:
        cell.value = value
    return cell


def _offer_choices(page: Any, columns: Sequence[_Column], first: int, last: int) -> None:
    """Offer the settled reasons as a list; a reason in other words may be written all the same."""
    reasons = DataValidation(type="list", formula1=f'"{",".join(REASONS)}"', allow_blank=True, showErrorMessage=False)
    page.add_data_validation(reasons)
    place = next(at for at, column in enumerate(columns, start=1) if column.heading == "not measured because")
    letter = get_column_letter(place)
    reasons.add(f"{letter}{first}:{letter}{last}")


# ---- the printed page -----------------------------------------------------------------------------------------------

_PAGE_STYLE = """
@page { size: landscape; margin: 10mm; }
* { box-sizing: border-box; }
body { font: 10pt/1.35 system-ui, "DejaVu Sans", Arial, sans-serif; color: #111; background: #fff; margin: 1rem; }
h1 { font-size: 15pt; margin: 0 0 0.2rem; overflow-wrap: anywhere; }
p { margin: 0.15rem 0; max-width: 80rem; overflow-wrap: anywhere; }
.act { font-weight: 600; }
.small { font-size: 8.5pt; color: #333; }
.wide { overflow-x: auto; margin: 0.5rem 0; }
table { border-collapse: collapse; width: 100%; min-width: 56rem; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th { text-align: left; font-size: 8.5pt; font-weight: 600; vertical-align: bottom; border-bottom: 1.5px solid #333;
  padding: 0.2rem 0.3rem; }
td { border-bottom: 1px solid #bbb; padding: 0.3rem; vertical-align: top; overflow-wrap: anywhere;
  unicode-bidi: isolate; }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.fill { border: 1px solid #333; min-width: 4.6rem; }
td:nth-child(3) { min-width: 5.5rem; }
.code { white-space: nowrap; font-family: "DejaVu Sans Mono", monospace; font-size: 7.5pt; }
.know { min-width: 10rem; max-width: 16rem; font-size: 8.5pt; }
"""


def page(sheet: FieldSheet) -> str:
    """Return the sheet as an HTML page of its own, to be opened and printed; nothing is fetched for it."""
    unit, decimals = DISPLAY[sheet.system]["thickness"]
    length, length_decimals = DISPLAY[sheet.system]["length"]
    heads = (
        ("component", ""), ("location", ""), ("where it is", ""), (f"last reading ({unit})", "n"), ("last read", "n"),
        (f"expected ({unit})", "n"), (f"lowest to highest ({unit})", "n"), (f"call below ({unit})", "n"),
        (f"stop below ({unit})", "n"), ("to know here", ""), ("date", ""), (f"thickness ({unit})", ""),
        ("not measured because, remark", ""), (f"distance to weld ({length})", ""), ("code", ""),
    )  # fmt: skip
    body = []
    for place in sheet.rows:
        weld = _number(place.distance_to_weld_mm, length, length_decimals)
        span = (
            f"{_number(place.lowest_mm, unit, decimals)} to {_number(place.highest_mm, unit, decimals)}"
            if place.lowest_mm is not None
            else ""
        )
        cells = (
            ("", place.component), ("", place.location), ("", place.description or ""),
            ("n", _number(place.last_mm, unit, decimals)),
            ("n", place.read_on.isoformat() if place.read_on else ""),
            ("n", _number(place.expected_mm, unit, decimals)), ("n", span),
            ("n", _number(place.call_below_mm, unit, decimals)), ("n", _number(place.stop_below_mm, unit, decimals)),
            ("know", "; ".join(place.to_know)[:_LONGEST_NOTE]), ("fill", ""), ("fill", ""), ("fill", ""),
            ("n" if weld else "fill", f"known: {weld}" if weld else ""), ("code", place.code.partition("|")[0]),
        )  # fmt: skip
        body.append("<tr>" + "".join(f'<td class="{look}">{escape(text)}</td>' for look, text in cells) + "</tr>")
    lines = [
        f'<p class="{"act" if bold else "small"}">{escape(text)}</p>'
        for text, bold in _preamble(sheet)[1:]
        if text != FILLING
    ]
    title = escape(_preamble(sheet)[0][0])
    header = "".join(f'<th class="{look}">{escape(words)}</th>' for words, look in heads)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{_PAGE_STYLE}</style></head><body><h1>{title}</h1>"
        f'{lines[0]}{lines[1]}<div class="wide"><table><thead><tr>{header}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>{''.join(lines[2:])}</body></html>"
    )


def _number(value: float | None, unit: str, decimals: int) -> str:
    return "" if value is None else f"{UNITS[unit].from_inside(value):.{decimals}f}"
