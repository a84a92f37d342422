"""Field sheets: what they print, and how a filled one comes back through the intake to the right places."""

from __future__ import annotations

import shutil
from datetime import date
from io import BytesIO
from pathlib import Path

import duckdb
import openpyxl
import pytest

from pipeline.errors import Problem
from pipeline.field_sheet import FieldSheet, field_sheet, page, workbook
from pipeline.people import Identity
from pipeline.preview import accept
from pipeline.publishing import open_results
from pipeline.reading import natural
from pipeline.run import build
from pipeline.sheets.headings import headings_with
from pipeline.sheets.return_code import PRINTED, CodedPlace, code_of, is_printed, place_of
from pipeline.sheets.values import Refused
from tests.plants import write_plant
from tests.support import needs_office, recalculated_cells

AS_OF = date(2026, 1, 1)
DAY = date(2025, 12, 1)
BEN = Identity("Ben Example")
#: The place named =1+1 is warned of in every sheet that has it.
NOT_THE_NAME = "reason NOT LIKE '%text of a formula%'"
HOSTILE = "=cmd|' /C calc'!A0 <b>wet</b> \u202eabc"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One vessel: three places with readings, one never read, one whose name begins like a formula."""
    plant = write_plant(
        tmp_path_factory.mktemp("field sheet") / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", name, 0.25 if name == "1" else None] for name in ("1", "2", "10", "11", "=1+1")],
        readings=[
            ["V-1", "Shell", name, day, t]
            for name, last in (("1", 0.70), ("2", 0.74), ("10", 0.69), ("=1+1", 0.71))
            for day, t in ((date(2015, 6, 1), 0.75), (date(2025, 6, 1), last))
        ],
    )
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    """A copy of the plant for one test."""
    return Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))


def sheet_of(folder: Path, system: str = "us", day: date = DAY) -> FieldSheet:
    with open_results(folder / "results.duckdb") as connection:
        return field_sheet(connection, "V-1", system, day)


def asked(folder: Path, sql: str) -> list[tuple]:
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(sql).fetchall()


class Filled:
    """A field sheet in a person's hands."""

    def __init__(self, content: bytes) -> None:
        self.book = openpyxl.load_workbook(BytesIO(content))
        self.page = self.book.active
        self.header = next(
            row for row in range(1, 40) if self.page.cell(row, 1).value == "asset"
        )  # the table begins below the preamble
        self.columns = {str(cell.value).split(" (")[0]: cell.column for cell in self.page[self.header]}

    def row_of(self, location: str) -> int:
        return next(
            row
            for row in range(self.header + 1, self.page.max_row + 1)
            if self.page.cell(row, self.columns["location"]).value == location
        )

    def write(self, row: int, **cells: object) -> None:
        for name, value in cells.items():
            self.page.cell(row, self.columns[name.replace("_", " ")]).value = value  # type: ignore[assignment]

    def content(self) -> bytes:
        stream = BytesIO()
        self.book.save(stream)
        return stream.getvalue()


def take(folder: Path, filled: Filled, name: str = "back.xlsx") -> None:
    accept(folder, name, filled.content(), BEN, "field sheet filled at the vessel", as_of=AS_OF)


# ---- what is printed ------------------------------------------------------------------------------------------------


def test_expected_range_and_call_values_by_hand(folder: Path) -> None:
    # Place 1: 0.75 in on 2015-06-01, 0.70 in on 2025-06-01: 3653 days = 10.001 369 years;
    #   rate 0.05 in x 25.4 / 10.001 369 = 0.126 983 mm/year (ST is the same pair; the greater is it).
    # To 2025-12-01: 183 days = 0.501 027 years; loss 0.126 983 x 0.501 027 = 0.063 622 mm.
    #   expected 17.78 - 0.063 622 = 17.716 378 mm.
    # Scatter s = 0.10 mm: rate deviation sqrt(2) x 0.10 / 10.001 369 = 0.014 140 mm/year, band 2 of them: +-0.028 280.
    #   noise limit 2 sqrt(2) x 0.10 = 0.282 843 mm.
    # lowest  = 17.78 - (0.126 983 + 0.028 280) x 0.501 027 - 0.282 843 = 17.419 366 mm
    # highest = 17.78 - (0.126 983 - 0.028 280) x 0.501 027 + 0.282 843 = 18.013 390 mm
    row = next(row for row in sheet_of(folder).rows if row.location == "1")
    assert row.last_mm == pytest.approx(17.78)
    assert row.expected_mm == pytest.approx(17.716378, abs=2e-6)
    assert row.lowest_mm == pytest.approx(17.419366, abs=2e-6)
    assert row.highest_mm == pytest.approx(18.013390, abs=2e-6)
    [(required,)] = asked(folder, "SELECT t_req_mm FROM result.location WHERE location = '1'")
    assert row.stop_below_mm == pytest.approx(required)
    # P Ro/(S E + 0.4 P) = 200 x 30.75 / (20000 x 0.85 + 80) = 0.360 07 in, so the unexpected loss calls first
    assert required == pytest.approx(0.36007 * 25.4, rel=1e-4)
    assert row.call_below_mm == pytest.approx(17.419366, abs=2e-6)


def test_a_wall_near_its_limit_calls_at_the_required_thickness(tmp_path: Path) -> None:
    # Required 0.360 07 in = 9.145 7 mm; last reading 0.365 in = 9.271 mm: the lowest expected lies below required.
    plant = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.5], ["V-1", "Shell", "1", date(2025, 6, 1), 0.365]],
    )
    build(plant, as_of=AS_OF)
    [row] = sheet_of(plant).rows
    assert row.lowest_mm is not None and row.stop_below_mm is not None
    assert row.lowest_mm < row.stop_below_mm == row.call_below_mm


def test_what_cannot_be_given_stays_blank_with_its_reason(folder: Path) -> None:
    row = next(row for row in sheet_of(folder).rows if row.location == "11")
    assert (row.last_mm, row.expected_mm, row.lowest_mm, row.highest_mm) == (None, None, None, None)
    assert row.stop_below_mm is not None and row.call_below_mm == row.stop_below_mm
    assert "no reading that counts yet: nothing to expect" in row.to_know
    early = next(row for row in sheet_of(folder, day=date(2025, 1, 1)).rows if row.location == "1")
    assert early.expected_mm is None and any(said.startswith("read after 2025-01-01") for said in early.to_know)
    same = next(row for row in sheet_of(folder, day=date(2025, 6, 1)).rows if row.location == "1")
    assert same.expected_mm == same.last_mm


def test_places_stand_in_the_order_people_count(folder: Path) -> None:
    assert [row.location for row in sheet_of(folder).rows] == ["1", "2", "10", "11", "=1+1"]
    assert sorted(["N10", "N2", "Shell"], key=natural) == ["N2", "N10", "Shell"]


def test_the_same_results_print_the_same_codes(folder: Path) -> None:
    one, two = sheet_of(folder), sheet_of(folder)
    assert [row.code for row in one.rows] == [row.code for row in two.rows]
    assert len({row.code for row in one.rows}) == len(one.rows)
    assert one.code in one.file_name
    with open_results(folder / "results.duckdb") as connection, pytest.raises(Problem, match="no such asset"):
        field_sheet(connection, "V-9", "us")


def test_no_printed_heading_is_one_the_intake_reads() -> None:
    headings = headings_with({})
    for name in PRINTED:
        for text in (name, f"{name} (in)", f"{name} (mm)"):
            assert headings.read(text) is None
            assert is_printed(text)
    assert not is_printed("thickness (in)")


@pytest.mark.parametrize("name", ["3", "N|1", "50%", "a%7Cb", "\u202e3", "tab\there", "ü/ß", "=1+1"])
def test_a_code_brings_any_name_back(name: str) -> None:
    place = CodedPlace("ABC123", "D|204%", name, name)
    assert place_of(code_of(place)) == place
    assert code_of(place).isprintable()
    none = CodedPlace("ABC123", "D-204", None, name)
    assert place_of(code_of(none)) == none


def test_a_code_that_was_changed_is_refused() -> None:
    code = code_of(CodedPlace("ABC123", "D-204", "Shell", "3"))
    for text in (code[:-1] + "4", code.replace("D-204", "D-205"), code[:8], "", code + "|x"):
        assert isinstance(place_of(text), Refused), text
    assert place_of(f"  {code.lower()[:8]}{code[8:]} ") == CodedPlace("ABC123", "D-204", "Shell", "3")


# ---- there and back -------------------------------------------------------------------------------------------------


def test_a_filled_sheet_brings_its_readings_to_their_places(folder: Path) -> None:
    filled = Filled(workbook(sheet_of(folder)))
    for location, value in (("1", 0.695), ("=1+1", 0.705)):
        filled.write(filled.row_of(location), date=DAY, thickness=value, inspector="Ben Example")
    filled.write(filled.row_of("10"), date="2025-12-01", not_measured_because="no access", remark="scaffold down")
    filled.write(filled.row_of("2"), distance_to_weld=3.5)
    row = filled.row_of("1")
    letter = openpyxl.utils.get_column_letter(filled.columns["thickness"])
    take(folder, filled)
    found = asked(
        folder,
        "SELECT asset, component, location, read_on, round(thickness_mm, 3), status, file, sheet, cell, inspector "
        "FROM result.reading WHERE file = 'back.xlsx' ORDER BY location",
    )
    assert found == [
        ("V-1", "Shell", "1", DAY, 17.653, "used", "back.xlsx", "field sheet", f"{letter}{row}", "Ben Example"),
        ("V-1", "Shell", "=1+1", DAY, 17.907, "used", "back.xlsx", "field sheet",
         f"{letter}{filled.row_of('=1+1')}", "Ben Example"),
    ]  # fmt: skip
    assert asked(folder, "SELECT location, read_on, reason, remark FROM result.not_measured") == [
        ("10", DAY, "no access", "scaffold down")
    ]
    assert asked(folder, "SELECT distance_to_weld_mm FROM result.location WHERE location = '2'") == [
        (pytest.approx(88.9),)
    ]
    ledger = asked(folder, "SELECT severity, reason FROM result.ledger WHERE file = 'back.xlsx'")
    assert {severity for severity, _ in ledger} <= {"note", "warning"}
    assert ("note", "1 row of the field sheet left blank: nothing was measured there") in ledger
    [(cells, used, aside, ignored, reasons)] = asked(
        folder, "SELECT cells, used, set_aside, ignored, ignored_reasons FROM result.sheet WHERE file = 'back.xlsx'"
    )
    assert (aside, cells) == (0, used + ignored)
    assert '"field sheet row left blank"' in reasons and '"printed on the field sheet"' in reasons
    assert "unknown column" not in reasons


def test_an_unfilled_sheet_brings_nothing_and_sets_nothing_aside(folder: Path) -> None:
    before = asked(folder, "SELECT count(*) FROM result.reading")
    filled = Filled(workbook(sheet_of(folder)))
    for location in ("1", "2"):
        filled.write(filled.row_of(location), date=DAY)  # a date filled down is no visit
    take(folder, filled)
    assert asked(folder, "SELECT count(*) FROM result.reading") == before
    assert asked(folder, "SELECT count(*) FROM result.not_measured") == [(0,)]
    assert asked(folder, "SELECT set_aside FROM result.sheet WHERE file = 'back.xlsx'") == [(0,)]
    assert asked(
        folder, f"SELECT DISTINCT severity FROM result.ledger WHERE file = 'back.xlsx' AND {NOT_THE_NAME}"
    ) == [("note",)]


def test_codes_count_where_tags_were_edited_and_rows_sorted(folder: Path) -> None:
    filled = Filled(workbook(sheet_of(folder)))
    page_, first, last = filled.page, filled.header + 1, filled.page.max_row
    rows = [[cell.value for cell in page_[row]] for row in range(first, last + 1)]
    for row, values in zip(range(first, last + 1), reversed(rows), strict=True):
        for column, value in enumerate(values, start=1):
            page_.cell(row, column).value = value
            if isinstance(value, str):
                page_.cell(row, column).data_type = "s"
    row = filled.row_of("1")
    filled.write(row, asset="V-99", location="one", date=DAY, thickness=0.695)
    take(folder, filled)
    assert asked(folder, "SELECT asset, location FROM result.reading WHERE file = 'back.xlsx'") == [("V-1", "1")]
    reasons = [
        reason
        for (reason,) in asked(
            folder,
            "SELECT reason FROM result.ledger WHERE file = 'back.xlsx' AND severity = 'warning' "
            f"AND {NOT_THE_NAME} ORDER BY cell",
        )
    ]
    assert reasons == [
        "the cell says 'V-99', the return code of the row stands for V-1 Shell 1: the code counts",
        "the cell says 'one', the return code of the row stands for V-1 Shell 1: the code counts",
    ]
    assert asked(folder, "SELECT count(*) FROM result.asset") == [(1,)]


def test_a_row_copied_for_another_place_is_not_taken_for_the_first(folder: Path) -> None:
    filled = Filled(workbook(sheet_of(folder)))
    row = filled.row_of("1")
    filled.write(row, date=DAY, thickness=0.695)
    copy = filled.page.max_row + 1
    for cell in filled.page[row]:
        filled.page.cell(copy, cell.column).value = cell.value
    filled.write(copy, location="1A", thickness=0.500)
    take(folder, filled)
    assert asked(folder, "SELECT location, round(thickness_mm, 3) FROM result.reading WHERE file = 'back.xlsx'") == [
        ("1", 17.653)
    ]
    [(reason,)] = asked(
        folder,
        "SELECT DISTINCT reason FROM result.ledger WHERE file = 'back.xlsx' AND severity = 'set aside' "
        "AND text LIKE '%|V-1|Shell|1'",
    )
    assert reason.startswith(f"the return code stands in row {row} too")
    filled.write(copy, return_code=None)
    take(folder, filled)
    assert asked(folder, "SELECT location FROM result.reading WHERE file = 'back.xlsx' ORDER BY location") == [
        ("1",),
        ("1A",),
    ]


def test_what_is_not_clear_is_set_aside_with_its_reason(folder: Path) -> None:
    filled = Filled(workbook(sheet_of(folder)))
    filled.write(filled.row_of("1"), thickness=0.695)  # no date
    filled.write(filled.row_of("2"), date=DAY, thickness=0.735, not_measured_because="hot")
    broken = filled.row_of("10")
    filled.write(broken, date=DAY, thickness=0.68, return_code="ABCDEFGH|X|V-1|Shell|10")
    filled.write(filled.row_of("=1+1"), date=DAY, not_measured_because="wasps' nest")
    take(folder, filled)
    assert asked(folder, "SELECT location FROM result.reading WHERE file = 'back.xlsx'") == [("2",)]
    aside = " / ".join(
        reason
        for (reason,) in asked(
            folder, "SELECT reason FROM result.ledger WHERE file = 'back.xlsx' AND severity = 'set aside'"
        )
    )
    assert "the reading has no date: write it in" in aside
    assert "a thickness and a reason why there is none" in aside
    assert "the return code is not one of a field sheet, or was changed" in aside
    assert asked(folder, "SELECT location, reason, text FROM result.not_measured") == [
        ("=1+1", "not measured", "wasps' nest")
    ]


def test_printed_numbers_are_never_readings(folder: Path) -> None:
    before = asked(folder, "SELECT count(*) FROM result.reading")
    filled = Filled(workbook(sheet_of(folder)))
    for row in range(filled.header + 1, filled.page.max_row + 1):
        filled.write(row, date=DAY, remark="looked at")
    take(folder, filled)
    assert asked(folder, "SELECT count(*) FROM result.reading") == before
    assert asked(folder, "SELECT count(*) FROM result.not_measured") == [(5,)]


def test_metric_sheets_come_back_in_millimetres(folder: Path) -> None:
    filled = Filled(workbook(sheet_of(folder, "si")))
    filled.write(filled.row_of("1"), date=DAY, thickness="17,65")
    take(folder, filled)
    assert asked(folder, "SELECT round(thickness_mm, 4) FROM result.reading WHERE file = 'back.xlsx'") == [(17.65,)]


# ---- hostile text, printing ------------------------------------------------------------------------------------------


def hostile_plant(tmp_path: Path) -> Path:
    plant = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.5], ["V-1", "Shell", "1", date(2025, 6, 1), 0.45]],
        places=[["Asset", "Component", "Location", "Location description"], ["V-1", "Shell", "1", HOSTILE]],
    )
    build(plant, as_of=AS_OF)
    return plant


def test_texts_of_the_plant_are_texts_on_the_sheet(tmp_path: Path) -> None:
    sheet = sheet_of(hostile_plant(tmp_path))
    book = openpyxl.load_workbook(BytesIO(workbook(sheet)))
    cells = [cell for row in book.active for cell in row if cell.value is not None]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    [cell] = [cell for cell in cells if cell.value == HOSTILE]
    assert cell.quotePrefix
    printed = page(sheet)
    assert "<b>wet</b>" not in printed and "&lt;b&gt;wet&lt;/b&gt;" in printed
    assert "<script" not in printed and "http" not in printed


def test_the_printed_page_has_every_place_and_the_cautions(folder: Path) -> None:
    sheet = sheet_of(folder)
    printed = page(sheet)
    assert printed.count("<tr>") == len(sheet.rows) + 1
    for words in ("permit", "Hot wall", "Coating", "call the owner&#x27;s engineer", "0.6975", sheet.code):
        assert words in printed
    assert "known: 0.250" in printed  # a weld distance on record is printed, none to be filled in there


@needs_office
def test_another_program_opens_it_and_its_numbers_stand(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "sheet.xlsx"
    file.write_bytes(workbook(sheet_of(folder)))
    lines = recalculated_cells(file, tmp_path)
    [heading] = [line for line in lines if line[:3] == ["asset", "component", "location"]]
    [row] = [line for line in lines if line[:3] == ["V-1", "Shell", "1"]]
    said = dict(zip(heading, row, strict=True))
    assert (said["last reading (in)"], said["last read"], said["expected (in)"]) == ("0.7000", "2025-06-01", "0.6975")
    assert (said["date"], said["thickness (in)"]) == ("", "")
    assert [line[2] for line in lines if line[0] == "V-1"] == ["1", "2", "10", "11", "=1+1"]
