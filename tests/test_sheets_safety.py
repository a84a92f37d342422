"""Files made to do harm, and what a workbook holds besides values: a sentence each, and the other files go on."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill

from pipeline.basis import default_basis
from pipeline.sheets import Intake, read_files
from tests.untidy.old_format import old_workbook

AS_OF = date(2025, 6, 30)
DAY = date(2019, 5, 3)
HEADER = ["Asset", "Component", "CML", "Date", "Thk (mm)"]
ROWS = [HEADER, *(["D-1", "Shell 1", number, DAY, 10.0 + number] for number in range(1, 6))]
GOOD = ("good.csv", b"Asset,Component,CML,Date,Thk (mm)\nD-1,Shell 1,1,2019-05-03,10.2\n")
SHEET = "xl/worksheets/sheet1.xml"


def workbook(rows: Sequence[Sequence[object]] = ROWS, dress: Callable[[Any], None] = lambda sheet: None) -> bytes:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in rows:
        sheet.append(list(row))
    dress(sheet)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def with_parts(content: bytes, change: Mapping[str, Callable[[bytes], bytes]]) -> bytes:
    """Return a package with parts changed or added."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    parts.update({name: make(parts.get(name, b"")) for name, make in change.items()})
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in parts.items():
            package.writestr(name, text)
    return out.getvalue()


def read(name: str, content: bytes) -> Intake:
    intake = read_files([(name, content), GOOD], default_basis(), AS_OF)
    assert sum(row["file"] == GOOD[0] for row in intake.rows("reading")) == 1
    return intake


def refusal(name: str, content: bytes) -> str:
    """Return the sentence that refuses a whole file."""
    (line,) = [row for row in read(name, content).rows("ledger") if row["file"] == name]
    assert (line["sheet"], line["cell"], line["severity"]) == ("", "", "set aside")
    return str(line["reason"])


def notes(name: str, content: bytes, readings: int = 5) -> list[str]:
    intake = read(name, content)
    assert sum(row["file"] == name for row in intake.rows("reading")) == readings
    return [row["reason"] for row in intake.rows("ledger") if row["file"] == name and row["severity"] == "note"]


# ----------------------------------------------------------------------------------------------------------- refusals


def test_a_part_larger_than_it_says_is_refused() -> None:
    """The sizes in the package's headers are what guards the memory; a part that belies them is not unpacked."""
    huge = b"<sst>" + b" " * 60_000_000 + b"</sst>"
    content = bytearray(with_parts(workbook(), {"xl/sharedStrings.xml": lambda text: huge}))
    said = len(huge).to_bytes(4, "little")
    assert content.count(said) == 2
    content = content.replace(said, (1000).to_bytes(4, "little"))
    assert "damaged or cut short" in refusal("bomb.xlsx", bytes(content))


def test_a_package_that_unpacks_beyond_measure_is_refused() -> None:
    content = with_parts(workbook(), {"xl/media/image1.png": lambda text: bytes(250_000_000)})
    assert "unpacks to 250 MB, too much to be a survey" in refusal("bomb.xlsx", content)


LAUGHS = b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol"><!ENTITY l2 "&lol;&lol;&lol;&lol;&lol;&lol;">]>'


@pytest.mark.parametrize(
    "part", ["xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml", SHEET, "[Content_Types].xml"]
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_of_its_own_are_refused(part: str, encoding: str) -> None:
    def laugh(text: bytes) -> bytes:
        return (LAUGHS.decode() + text.decode().partition("?>")[2]).encode(encoding)

    assert "declares XML entities" in refusal("laughs.xlsx", with_parts(workbook(), {part: laugh}))


@pytest.mark.parametrize("address", ["XFD1048576", "CV1000000", "Z1048576", "A99999999", "ZZ400000000"])
def test_a_cell_beyond_all_measure_is_refused(address: str) -> None:
    cell = f'<row r="900"><c r="{address}"><v>1</v></c></row><row r="901"><c r="A901"><v>1</v></c></row></sheetData>'
    content = with_parts(workbook(), {SHEET: lambda text: text.replace(b"</sheetData>", cell.encode())})
    assert "far beyond any table: delete the stray cells" in refusal("far.xlsx", content)


@pytest.mark.parametrize("address", ["A1048576", "XFD9", "CV20000"])
def test_a_stray_cell_that_can_be_read_past_is(address: str) -> None:
    cell = f'<row r="900"><c r="{address}"><v>1</v></c></row></sheetData>'
    content = with_parts(workbook(), {SHEET: lambda text: text.replace(b"</sheetData>", cell.encode())})
    intake = read("far.xlsx", content)
    assert sum(row["file"] == "far.xlsx" for row in intake.rows("reading")) == 5
    assert [row["cells"] for row in intake.rows("sheet") if row["file"] == "far.xlsx"] == [31]


def test_a_line_of_text_without_end_is_refused() -> None:
    assert "has 20005 columns, more than any spreadsheet program" in refusal("a.csv", GOOD[1] + b",x" * 20_004)
    many = b"a,b\n" * 20_000
    assert "row 20002 of the file has 16002 fields" in refusal("b.csv", GOOD[1][:34] + many + b",x" * 16_001)


def test_an_ods_sheet_of_cells_repeated_beyond_measure_is_refused() -> None:
    names = "urn:oasis:names:tc:opendocument:xmlns"
    text = (
        f'<o:document-content xmlns:o="{names}:office:1.0" xmlns:t="{names}:table:1.0"><o:body><o:spreadsheet>'
        '<t:table t:name="s"><t:table-row t:number-rows-repeated="1000000"><t:table-cell o:value-type="float" '
        'o:value="1" t:number-columns-repeated="16000"/></t:table-row></t:table></o:spreadsheet></o:body>'
        "</o:document-content>"
    )
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("content.xml", text)
    assert "reaches to row 1000000 and column 16000" in refusal("far.ods", content.getvalue())


@pytest.mark.parametrize(
    "piece", [b'<c r="A1"><f>', b'<c r="A1" t="e"', b"<f>", b'<c t="e">', b"<c ", b'<row hidden="1" ']
)
def test_xml_that_never_closes_takes_no_time(piece: bytes) -> None:
    content = with_parts(workbook(), {SHEET: lambda text: text.replace(b"</sheetData>", piece * 200_000)})
    read("open.xlsx", content)


# ------------------------------------------------------------------------------------------ present, and not used


def test_macros_are_not_run_and_said_so() -> None:
    content = with_parts(workbook(), {"xl/vbaProject.bin": lambda text: b"Sub Auto_Open()"})
    assert notes("a.xlsm", content) == [
        "the workbook holds macros: they are not run and not read; the cells are read as they were saved"
    ]


def test_links_to_other_workbooks_are_not_followed_and_said_so() -> None:
    content = with_parts(workbook(), {"xl/externalLinks/externalLink1.xml": lambda text: b"<externalLink/>"})
    assert notes("a.xlsx", content) == [
        "the workbook refers to other workbooks: they are not opened; the results saved here are read"
    ]


def test_hidden_rows_and_columns_are_read_and_said_so() -> None:
    def dress(sheet: Any) -> None:
        sheet.row_dimensions[3].hidden = True
        sheet.row_dimensions[40].hidden = True
        sheet.column_dimensions["E"].hidden = True
        sheet.column_dimensions["K"].hidden = True

    assert notes("a.xlsx", workbook(dress=dress)) == [
        "hidden rows 3: check that they are meant to count",
        "hidden columns E: check that they are meant to count",
    ]


def test_colour_strike_through_and_comments_are_listed_and_not_interpreted() -> None:
    def dress(sheet: Any) -> None:
        for cell in sheet[1]:
            cell.fill = PatternFill("solid", "FFCCCCCC")
        for row in range(2, 7):
            sheet.cell(row, 5).fill = PatternFill("solid", "FFFF0000")
        sheet["E3"].font = Font(strike=True)
        sheet["D4"].comment = Comment("void?", "someone")
        sheet["H20"].fill = PatternFill("solid", "FFFF0000")

    meaning = "is not interpreted: say in words, in a column, what it means"
    assert notes("a.xlsx", workbook(dress=dress)) == [
        f"a fill colour in E2, E3, E4, E5, E6 {meaning}",
        f"text struck through in E3 {meaning}",
        f"a comment in D4 {meaning}",
    ]


@pytest.mark.parametrize("name", ["=2+3", "=HYPERLINK(A1)", "@SUM(A1)"])
def test_the_text_of_a_formula_is_a_name_and_never_computed(name: str) -> None:
    text = f'Asset,Component,CML,Date,Thk (mm)\n"{name}",S1,1,2019-05-03,10.2\n"{name}",S1,2,2019-05-03,10.2\n'
    intake = read("a.csv", text.encode())
    assert [row["asset"] for row in intake.rows("reading") if row["file"] == "a.csv"] == [name, name]
    (line,) = [row for row in intake.rows("ledger") if row["file"] == "a.csv"]
    assert (line["cell"], line["severity"]) == ("A2", "warning")
    assert line["reason"] == f"'{name}' looks like the text of a formula: it is taken as a name and never computed"


def test_a_formula_without_result_is_found_whatever_the_quotation_marks() -> None:
    def requote(text: bytes) -> bytes:
        return text.replace(b'"', b"'")

    content = with_parts(workbook([*ROWS, ["D-1", "Shell 1", 9, DAY, "=1/8"]]), {SHEET: requote})
    intake = read("a.xlsx", content)
    assert [row["cell"] for row in intake.rows("ledger") if row["severity"] == "set aside"] == ["E7"]


def test_a_workbook_of_the_old_format() -> None:
    intake = read("old.xls", old_workbook())
    mine = [row for row in intake.rows("reading") if row["file"] == "old.xls"]
    found = sorted((row["asset"], row["location"], row["read_on"], row["thickness_mm"]) for row in mine)
    walls = [("1", 0.402), ("2", 7 / 16), ("5", 0.398)]
    assert found == [("D-9", location, date(2012, 4, 3), pytest.approx(inches * 25.4)) for location, inches in walls]
    assert [row["reason"] for row in intake.rows("not_measured")] == ["no access"]
    lines = [(row["cell"], row["severity"]) for row in intake.rows("ledger")]
    assert lines == [("", "note"), ("D7", "set aside")]


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_a_decimal_comma_needs_a_number_that_shows_it(delimiter: str) -> None:
    def walls(*texts: str) -> list[float]:
        rows = [HEADER, *(["D-1", "S1", str(number), "2019-05-03", text] for number, text in enumerate(texts))]
        content = "\n".join(delimiter.join(map(str, row)) for row in rows).encode()
        return sorted(row["thickness_mm"] for row in read("a.csv", content).rows("reading") if row["file"] == "a.csv")

    assert walls("9,525", "10,2") == [9.525, 10.2]
    assert walls("1,200", "10") == [10.0]
