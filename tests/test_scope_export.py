"""The scope list as a workbook: every asset, dates as dates, text that stays text, and LibreOffice opens it."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import openpyxl
import pytest

from pipeline.basis import default_basis
from pipeline.cautions import CAUTION
from pipeline.publishing import open_results
from pipeline.run import build
from pipeline.scope_decision import decisions, decisions_frame
from pipeline.scope_export import scope_export
from pipeline.slip import slip
from pipeline.turnaround import GROUPS, plan
from pipeline.turnaround_dates import turnarounds
from tests.plants import write_plant
from tests.support import convert, needs_office
from tests.test_due_rules import HEADINGS, Plant
from tests.test_turnaround import SCOPE, A, B, vessel

TODAY = date(2026, 11, 1)


def exported(connection: duckdb.DuckDBPyConnection, system: str = "us") -> bytes:
    first, second = turnarounds(connection)[:2]
    decided = decisions_frame(decisions(connection, [], default_basis(), TODAY))
    return scope_export(connection, first, second, system, decided, 12)


@pytest.fixture(scope="module")
def demo(demo_results: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_results(demo_results) as connection:
        yield connection


@pytest.fixture(scope="module")
def book(demo: duckdb.DuckDBPyConnection) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(exported(demo)))


def table(book: openpyxl.Workbook, title: str) -> list[dict[str, Any]]:
    _, _, header, *lines = book[title].iter_rows(values_only=True)
    return [dict(zip(header, line, strict=True)) for line in lines]


def test_every_asset_is_listed_once_and_its_group_has_a_sheet(
    book: openpyxl.Workbook, demo: duckdb.DuckDBPyConnection
) -> None:
    first, second = turnarounds(demo)
    found = plan(demo, first, second, "us")
    listed = table(book, "All assets")
    assert [row["asset"] for row in listed] == list(found.assets["asset"])
    assert [row["why"] for row in listed] == list(found.assets["reason"])
    for group in GROUPS:
        own = [row["asset"] for row in listed if row["group"] == group]
        assert (group.capitalize() in book.sheetnames) == bool(own)
        if own:
            assert [row["asset"] for row in table(book, group.capitalize())] == own


def test_numbers_have_their_unit_in_the_heading_and_dates_are_dates(
    book: openpyxl.Workbook, demo: duckdb.DuckDBPyConnection
) -> None:
    (row,) = [row for row in table(book, "All assets") if row["asset"] == "D-204"]
    # 0.4400 in stood in the survey's cell
    assert row["last reading (in)"] == pytest.approx(0.44, abs=1e-12)
    assert row["read on"] == datetime(2025, 9, 9)
    (rate,) = demo.execute(
        "SELECT rate_mm_per_year FROM result.location "
        "WHERE asset = 'D-204' AND component = 'Shell 1' AND location = '3'"
    ).fetchall()[0]
    assert row["rate (mil/year)"] == pytest.approx(rate / 0.0254, rel=1e-12)
    sheet = book["All assets"]
    header = [cell.value for cell in sheet[3]]
    place = header.index("last reading (in)") + 1
    assert sheet.cell(4, place).number_format == "0.0000"


def test_where_there_is_no_latest_safe_date_the_list_says_why(book: openpyxl.Workbook) -> None:
    safe = {row["asset"]: row["latest safe date"] for row in table(book, "All assets")}
    assert (safe["D-204"], safe["V-109"]) == ("none: already below", "unknown")
    assert all(isinstance(day, (datetime, str)) and day != "—" for day in safe.values())
    assert isinstance(safe["V-407"], datetime)


def test_the_first_sheet_says_what_no_slip_breaks_any_more(
    book: openpyxl.Workbook, demo: duckdb.DuckDBPyConnection
) -> None:
    found = slip(demo, *turnarounds(demo)[:2])
    facts = {line[0]: line[1] for line in book["Read me"].iter_rows(max_col=2, values_only=True)}
    assert facts["due dates that lie before it as planned"] == found.behind > 0
    assert facts["places below required now"] == found.places_below > 0
    assert facts["latest start that breaks nothing more"].date() == found.latest_start_on


def test_the_slip_table_is_the_slip(book: openpyxl.Workbook, demo: duckdb.DuckDBPyConnection) -> None:
    first, second = turnarounds(demo)
    months = slip(demo, first, second).months.to_dict("records")
    shown = table(book, "If it moves")
    assert [row["broken due dates"] for row in shown] == [row["broken"] for row in months]
    assert [row["begins on"].date() for row in shown] == [row["start_on"].date() for row in months]


def test_the_first_sheet_says_of_what_and_with_which_cautions(book: openpyxl.Workbook) -> None:
    words = [cell for line in book["Read me"].iter_rows(values_only=True) for cell in line if cell is not None]
    assert words[0] == "Scope list of TA 2027"
    assert datetime(2026, 11, 1) in words
    assert any(str(word).startswith("hoopline ") for word in words)
    assert CAUTION in words
    assert "Policies" in book.sheetnames


def test_sheets_are_set_up_for_print_with_the_header_in_sight(book: openpyxl.Workbook) -> None:
    sheet = book["All assets"]
    assert sheet.freeze_panes == "B4"
    assert sheet.print_title_rows == "$3:$3"
    assert sheet.page_setup.orientation == "landscape"
    assert (sheet.page_setup.fitToWidth or 1) == 1  # one is what the format takes where nothing is said
    assert "TA 2027, as of 2026-11-01" in sheet.oddFooter.right.text


HOSTILE = ('=HYPERLINK("x")', "+1", "-1", "@SUM(1)")


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A plant whose tags and reasons begin like formulas, with decisions: two of one asset, one without a reason."""
    plant = Plant()
    for name in HOSTILE:
        vessel(plant, name, external=date(2019, 1, 1))
    for row in (A, B):
        plant.add("turnarounds", *row)
    sheets: dict[str, list] = {name: [HEADINGS[name], *rows] for name, rows in plant.rows.items() if rows}
    sheets["scope"] = [
        SCOPE,
        ("+1", "A", "in scope", "=1+1 as first thought", "M. Example", date(2020, 4, 1)),
        ("+1", "A", "study", "-2 by the study", "M. Example", date(2020, 5, 1)),
        ("-1", "A", "out", None, "M. Example", date(2020, 5, 1)),
    ]
    folder = write_plant(tmp_path_factory.mktemp("hostile") / "plant", **sheets)
    with open_results(build(folder, as_of=date(2020, 6, 1)).database) as connection:
        return exported(connection, "si")


def test_text_that_looks_like_a_formula_stays_text(hostile: bytes) -> None:
    book = openpyxl.load_workbook(io.BytesIO(hostile))
    assert sorted(row["asset"] for row in table(book, "All assets")) == sorted(HOSTILE)
    cells = [cell for sheet in book for line in sheet.iter_rows() for cell in line if isinstance(cell.value, str)]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    begins = [cell for cell in cells if cell.value.startswith(("=", "+", "-", "@"))]
    assert len(begins) >= 2 * len(HOSTILE)
    assert all(cell.quotePrefix for cell in begins)


def test_the_decision_that_stands_is_beside_its_asset(hostile: bytes) -> None:
    book = openpyxl.load_workbook(io.BytesIO(hostile))
    listed = {row["asset"]: row for row in table(book, "All assets")}
    assert (listed["+1"]["decision"], listed["+1"]["reason of the decision"]) == ("study", "-2 by the study")
    assert listed["+1"]["decided on"] == datetime(2020, 5, 1)
    assert listed["-1"]["decision"] == "—"  # it has no reason
    told = {(row["asset"], row["decision"]): row["counts"] for row in table(book, "Decisions")}
    assert told == {
        ("+1", "study"): "yes",
        ("+1", "in scope"): "no: a later one stands",
        ("-1", "not in scope"): "no: no reason",
    }


@needs_office
def test_libreoffice_opens_it_and_shows_the_same(demo: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    workbook = tmp_path / "scope.xlsx"
    workbook.write_bytes(exported(demo))
    again = openpyxl.load_workbook(convert(workbook, "xlsx", tmp_path))
    stored = openpyxl.load_workbook(workbook)
    assert again.sheetnames == stored.sheetnames
    for sheet in stored:
        for line in sheet.iter_rows():
            for cell in line:
                seen = again[sheet.title][cell.coordinate].value
                # LibreOffice writes fifteen digits of a number.
                same = pytest.approx(cell.value, rel=1e-13) if isinstance(cell.value, float) else cell.value
                assert seen == same, f"{sheet.title} {cell.coordinate}"
    assert not [cell for sheet in again for line in sheet.iter_rows() for cell in line if cell.data_type in ("f", "e")]
