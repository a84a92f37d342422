"""Whole files: every flaw with its exact sentence in the ledger, and an account of every cell."""

from __future__ import annotations

import csv
import json
import zipfile
from collections.abc import Sequence
from datetime import date, datetime
from io import BytesIO, StringIO
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.basis import Basis, default_basis
from pipeline.sheets import Intake, read_files
from pipeline.sheets import plain as plain_module
from pipeline.sheets import surveys as surveys_module
from pipeline.sheets.intake import SCHEMAS

AS_OF = date(2025, 6, 30)
DAY = date(2019, 5, 3)
LONG = ("Asset", "Component", "Location", "Date", "Thickness (mm)")


def workbook(sheets: dict[str, Sequence[Sequence[object]]], merge: Sequence[str] = ()) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        for cells in merge:
            sheet.merge_cells(cells)
    content = BytesIO()
    book.save(content)
    return content.getvalue()


def basis(**stated: Any) -> Basis:
    plain = default_basis()
    policies = dict(plain.policies)
    if "date_order" in stated:
        policy = policies["date_order"]
        policies["date_order"] = type(policy)(**{**policy.__dict__, "value": stated["date_order"]})
    return Basis(policies, headings=stated.get("headings", {}), aliases=stated.get("aliases", {}))


def read(*rows: Sequence[object], merge: Sequence[str] = (), **stated: Any) -> Intake:
    return read_files([("a.xlsx", workbook({"s": rows}, merge))], basis(**stated), AS_OF)


def readings(intake: Intake) -> list[tuple[object, ...]]:
    names = ("asset", "component", "location", "read_on", "date_precision", "thickness_mm")
    return sorted(tuple(row[name] for name in names) for row in intake.rows("reading"))


def ledger(intake: Intake) -> list[tuple[str, str, str, str, str]]:
    names = ("cell", "text", "reason", "effect", "severity")
    return [tuple(row[name] for name in names) for row in intake.rows("ledger")]  # type: ignore[misc]


def account(intake: Intake) -> dict[tuple[str, str], int]:
    """Check that every sheet's cells add up and its set-aside cells stand in the ledger; return the cells by sheet."""
    cells: dict[tuple[str, str], int] = {}
    for row in intake.rows("sheet"):
        key = row["file"], row["sheet"]
        assert row["cells"] == row["used"] + row["set_aside"] + row["ignored"]
        assert row["ignored"] == sum(json.loads(row["ignored_reasons"]).values())
        cells[key] = cells.get(key, 0) + row["cells"]
    for key in cells:
        set_aside = sum(row["set_aside"] for row in intake.rows("sheet") if (row["file"], row["sheet"]) == key)
        named = {
            row["cell"]
            for row in intake.rows("ledger")
            if (row["file"], row["sheet"]) == key and row["severity"] == "set aside"
        }
        assert len(named) == set_aside
    return cells


def test_the_tables_have_exactly_the_agreed_columns() -> None:
    tables = read(LONG, ("D-201", "Shell 1", 1, DAY, 10.2)).tables()
    assert {name: table.schema for name, table in tables.items()} == SCHEMAS
    assert tables["reading"].to_pylist() == [
        {
            "record": 1,
            "asset": "D-201",
            "component": "Shell 1",
            "location": "1",
            "read_on": DAY,
            "date_precision": "day",
            "thickness_mm": 10.2,
            "text": "10.2",
            "unit": "mm",
            "unit_from": "header",
            "method": None,
            "inspector": None,
            "remark": None,
            "file": "a.xlsx",
            "sheet": "s",
            "cell": "E2",
            "sheet_row": 2,
        }
    ]


# ----------------------------------------------------------------------------------------------------------- flaws

WHO = ("D-201", "Shell 1", 3)
NOT_USED = "thickness of D-201 Shell 1 3 on 2019-05-03 is not used"


@pytest.mark.parametrize(
    ("cell", "text", "reason"),
    [
        (
            "<3",
            "<3",
            "'<3' is a limit or an estimate, not a measured value: write the value itself, or leave the cell blank",
        ),
        (
            0,
            "0",
            "0 is never a thickness: write the reading, or the reason why there is none, such as 'no access'",
        ),
        (-9.5, "-9.5", "thickness -9.5 is below zero: correct it"),
        (
            date(2026, 3, 8),
            "2026-03-08",
            "the cell holds the date 2026-03-08 where a number belongs, probably the fraction 3/8 changed by the "
            "spreadsheet: type 3/8 into a cell formatted as text, or the decimal",
        ),
        ("#REF!", "#REF!", "the cell holds the error value #REF!: correct the formula or type the value"),
        (
            "=A1+1",
            "=A1+1",
            "the formula =A1+1 has no stored result: open the workbook in a spreadsheet program and save it, "
            "or type the value",
        ),
        (
            "10.2 psi",
            "10.2 psi",
            "'10.2 psi': 'psi' is no unit of length: write a length in mm, in, m or ft",
        ),
        ("1,234", "1,234", "'1,234' can be read as 1.234 or as 1234: write the number with a decimal point"),
        ("ok", "ok", "'ok' is not a number: write the number, with its unit if the column states none"),
        (True, "TRUE", "'TRUE' is not a number: type the number"),
    ],
)
def test_a_thickness_that_cannot_be_used(cell: object, text: str, reason: str) -> None:
    intake = read(LONG, (*WHO, DAY, cell), ("D-201", "Shell 1", 4, DAY, 10.4))
    assert ledger(intake) == [("E2", text, reason, NOT_USED, "set aside")]
    assert readings(intake) == [("D-201", "Shell 1", "4", DAY, "day", 10.4)]
    assert account(intake) == {("a.xlsx", "s"): 15}
    assert [(row["rows_read"], row["rows_used"], row["rows_set_aside"]) for row in intake.rows("source")] == [(2, 1, 1)]


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (
            (None, "Shell 1", 3, DAY, 10.2),
            [
                (
                    "E2",
                    "10.2",
                    "the row has no asset: write the tag in A2, or merge the cell with those it belongs to",
                    "thickness of Shell 1 3 is not used",
                )
            ],
        ),
        (
            ("D-201", None, 3, DAY, 10.2),
            [
                (
                    "E2",
                    "10.2",
                    "the row has no component: write the component in B2, or merge the cell with those it belongs to",
                    "thickness of D-201 3 is not used",
                )
            ],
        ),
        (
            ("D-201", "Shell 1", date(2026, 1, 2), DAY, 10.2),
            [
                (
                    "C2",
                    "2026-01-02",
                    "the cell holds the date 2026-01-02 where a name belongs, probably changed by the spreadsheet: "
                    "format the cell as text and type the name again",
                    "the row of D-201 Shell 1 is not used",
                ),
                (
                    "E2",
                    "10.2",
                    "what C2 says cannot be used: see the entry about C2",
                    "thickness of D-201 Shell 1 is not used",
                ),
            ],
        ),
        (
            (*WHO, "03/05/2019", 10.2),
            [
                (
                    "D2",
                    "03/05/2019",
                    "'03/05/2019' can be 2019-05-03 or 2019-03-05: write the date as year-month-day, "
                    "or state date_order in basis.toml",
                    "the row of D-201 Shell 1 3 is not used",
                ),
                (
                    "E2",
                    "10.2",
                    "what D2 says cannot be used: see the entry about D2",
                    "thickness of D-201 Shell 1 3 is not used",
                ),
            ],
        ),
        (
            (*WHO, None, 10.2),
            [
                (
                    "E2",
                    "10.2",
                    "the reading has no date: write it in D2",
                    "thickness of D-201 Shell 1 3 is not used",
                )
            ],
        ),
    ],
)
def test_a_row_that_does_not_say_what_it_is_about(row: tuple[object, ...], expected: list[tuple[str, ...]]) -> None:
    intake = read(LONG, row)
    assert ledger(intake) == [(*line, "set aside") for line in expected]
    assert readings(intake) == []
    account(intake)


def test_a_survey_whose_unit_is_stated_nowhere() -> None:
    intake = read((*LONG[:4], "Thickness"), (*WHO, DAY, 10.2))
    assert ledger(intake) == [
        (
            "E2",
            "10.2",
            "unit not stated: write it in the header, such as 'thickness (in)', or in the cell",
            NOT_USED,
            "set aside",
        )
    ]


def test_two_values_in_one_cell_give_the_smaller_and_a_warning() -> None:
    intake = read(LONG, (*WHO, DAY, "12.7/12.5"))
    assert readings(intake) == [("D-201", "Shell 1", "3", DAY, "day", 12.5)]
    assert ledger(intake) == [
        (
            "E2",
            "12.7/12.5",
            "'12.7/12.5' holds two values: the smaller, 12.5, is used; write one value in one cell",
            "thickness of D-201 Shell 1 3 on 2019-05-03 is used",
            "warning",
        )
    ]


def test_a_reading_after_the_as_of_date_is_noted_and_left_out() -> None:
    for rows in (
        [LONG, (*WHO, date(2025, 7, 1), 10.2)],
        [(*LONG[:3], "2025-07-01 (mm)"), (*WHO, 10.2)],
    ):
        intake = read(*rows)
        assert readings(intake) == []
        [(_, text, reason, effect, severity)] = ledger(intake)
        assert (text, severity) == ("10.2", "note")
        assert reason == "dated after the as-of date 2025-06-30: correct the date, or build with a later as-of date"
        assert effect == "thickness of D-201 Shell 1 3 on 2025-07-01 is not used"
        account(intake)


def test_reasons_for_not_measuring_are_kept_with_their_date() -> None:
    intake = read(
        (*LONG, "Remark"),
        (*WHO, DAY, "no access", "scaffold gone"),
        (*WHO, DAY, "INS", None),
        (*WHO, DAY, "-", None),
        (*WHO, DAY, None, "painted"),
        (*WHO, DAY, None, None),
    )
    assert [(row["reason"], row["text"], row["remark"], row["cell"]) for row in intake.rows("not_measured")] == [
        ("no access", "no access", "scaffold gone", "E2"),
        ("insulated", "INS", None, "E3"),
        ("no value", "-", None, "E4"),
        ("painted", "painted", "painted", "F5"),
        ("no value", "", None, "E6"),
    ]
    assert {row["read_on"] for row in intake.rows("not_measured")} == {DAY}
    assert ledger(intake) == []
    assert account(intake) == {("a.xlsx", "s"): 6 + 6 + 5 + 5 + 5 + 4}


def test_an_unknown_kind_keeps_the_component_and_names_the_accepted_kinds() -> None:
    intake = read(("Asset", "Component", "Kind"), ("D-201", "Head N", "bottom head"))
    assert [(row["field"], row["word"], row["text"]) for row in intake.rows("field")] == [
        ("asset", "D-201", "D-201"),
        ("component", "Head N", "Head N"),
        ("kind", None, "bottom head"),
    ]
    assert ledger(intake) == [
        (
            "C2",
            "bottom head",
            "'bottom head' is not a known kind of component: use cylinder, sphere, hemispherical head, "
            "ellipsoidal head, torispherical head, cone, flat head or nozzle",
            "kind of D-201 Head N is not used",
            "set aside",
        )
    ]
    account(intake)


@pytest.mark.parametrize(
    ("header", "row", "noted", "left"),
    [
        (("Asset", "Kind", "Date", "Result"), ("D-201", "internal", date(2025, 7, 1), "ok"), "inspection", []),
        (("Asset", "Component", "Date", "Event"), ("D-201", "Shell 1", date(2025, 7, 1), "replaced"), "event", []),
        (
            ("Asset", "Kind", "Deferred until", "Approved on"),
            ("D-201", "external", date(2026, 7, 1), date(2025, 7, 1)),
            "deferral",
            [],
        ),
        (
            ("Asset", "Kind", "Interval (years)", "Approved on"),
            ("D-201", "external", 6, date(2025, 7, 1)),
            "set interval",
            [],
        ),
    ],
)
def test_what_has_not_happened_yet_is_noted_and_left_out(
    header: tuple[str, ...], row: tuple[object, ...], noted: str, left: list[str]
) -> None:
    intake = read(header, row)
    assert [fact["field"] for fact in intake.rows("field")] == left
    [(_, _, reason, effect, severity)] = ledger(intake)
    assert reason == "dated after the as-of date 2025-06-30: correct the date, or build with a later as-of date"
    assert effect.startswith(f"the {noted} of D-201") and effect.endswith("is not used")
    assert severity == "note"
    account(intake)


@pytest.mark.parametrize("words", ["planned for TA 2027", "Planned", "(scheduled for May)", "not yet carried out"])
def test_a_plan_whose_day_has_passed_is_no_inspection(words: str) -> None:
    intake = read(("Asset", "Kind", "Date", "Result"), ("D-201", "internal", DAY, words))
    assert intake.rows("field") == []
    lines = {line[0]: line[2] for line in ledger(intake)}
    assert lines["D2"].startswith("says that it is planned") and "see the entry about D2" in lines["C2"]
    assert {line[4] for line in ledger(intake)} == {"set aside"}
    account(intake)


@pytest.mark.parametrize(
    "words", ["planned inspection, no findings", "scheduled shutdown", "bottom to be repaired", "ok"]
)
def test_what_was_done_by_plan_or_leads_to_one_is_an_inspection(words: str) -> None:
    intake = read(("Asset", "Kind", "Date", "Result"), ("D-201", "internal", DAY, words))
    assert [fact["field"] for fact in intake.rows("field")] == ["asset", "kind", "date", "result"]
    assert ledger(intake) == []


def test_a_planned_reading_is_none() -> None:
    header = ("Asset", "Component", "Location", "Date", "Thickness (in)", "Remarks")
    rows = [
        ("D-201", "Shell 1", str(place), DAY, 0.5, words) for place, words in enumerate(("", "planned", "rough", ""))
    ]
    intake = read(header, *rows)
    assert sorted(row["location"] for row in intake.rows("reading")) == ["0", "2", "3"]
    lines = {line[0]: line[2] for line in ledger(intake)}
    assert lines["F3"].startswith("says that it is planned") and "see the entry about F3" in lines["E3"]
    account(intake)


def test_a_later_test_date_leaves_the_relief_device_in() -> None:
    intake = read(("Asset", "PSV", "Set pressure (psi)", "Last tested"), ("D-201", "PSV-1", 150, date(2025, 7, 1)))
    assert [row["field"] for row in intake.rows("field")] == ["asset", "device", "set_pressure"]
    assert [line[3] for line in ledger(intake)] == ["last tested of D-201 PSV-1 is not used"]
    account(intake)


def test_turnarounds_and_deferrals_may_lie_ahead() -> None:
    intake = read_files(
        [
            (
                "plan.xlsx",
                workbook(
                    {
                        "t": [("Name", "Start", "End"), ("TA 2027", "March 2027", date(2027, 4, 15))],
                        "d": [
                            ("Asset", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"),
                            ("D-201", "internal", date(2025, 8, 1), "2027-03-01", "spares", "A. Person", DAY),
                        ],
                    }
                ),
            )
        ],
        basis(),
        AS_OF,
    )
    dated = [(r["field"], r["on_date"], r["date_precision"]) for r in intake.rows("field") if r["on_date"]]
    assert dated == [
        ("start", date(2027, 3, 1), "month"),
        ("end", date(2027, 4, 15), "day"),
        ("due", date(2025, 8, 1), "day"),
        ("deferred_until", date(2027, 3, 1), "day"),
        ("approved_on", DAY, "day"),
    ]
    assert ledger(intake) == []


# ------------------------------------------------------------------------------------------------- order of dates


def test_other_dates_of_the_column_prove_the_order() -> None:
    intake = read(LONG, (*WHO, "03/05/2019", 10.2), (*WHO, "23/05/2020", 10.1))
    assert [row[3] for row in readings(intake)] == [DAY, date(2020, 5, 23)]
    assert ledger(intake) == [
        (
            "D1",
            "Date",
            "dates of column 'Date' are read day first because D3 can be read in no other way",
            "the dates are used",
            "note",
        )
    ]


def test_the_basis_settles_the_order() -> None:
    intake = read(LONG, (*WHO, "03/05/2019", 10.2), date_order="month first")
    assert [row[3] for row in readings(intake)] == [date(2019, 3, 5)]
    assert [line[2] for line in ledger(intake)] == [
        "dates of column 'Date' are read month first as stated by date_order in basis.toml"
    ]


def test_an_order_that_is_contradicted_settles_nothing() -> None:
    intake = read(LONG, (*WHO, "03/05/2019", 10.2), (*WHO, "23/05/2020", 10.1), date_order="month first")
    assert [row[3] for row in readings(intake)] == [date(2020, 5, 23)]
    assert [line[0] for line in ledger(intake)] == ["D2", "E2"]


def test_the_order_of_dated_headings_is_settled_along_the_header() -> None:
    intake = read((*LONG[:3], "03/05/2019 (mm)", "23/05/2020 (mm)"), (*WHO, 10.2, 10.1))
    assert [row[3] for row in readings(intake)] == [DAY, date(2020, 5, 23)]
    assert [line[2] for line in ledger(intake)] == [
        "dates of the headings of this row are read day first because E1 can be read in no other way"
    ]


# -------------------------------------------------------------------------------------- names, merged cells, basis


def test_a_merged_cell_counts_for_all_its_rows() -> None:
    rows = [LONG, (*WHO, DAY, 10.2), (None, None, 4, DAY, 10.3), (None, "Shell 2", 1, DAY, 10.4)]
    intake = read(*rows, merge=("A2:A4", "B2:B3"))
    assert [row[:3] for row in readings(intake)] == [
        ("D-201", "Shell 1", "3"),
        ("D-201", "Shell 1", "4"),
        ("D-201", "Shell 2", "1"),
    ]
    assert ledger(intake) == []
    assert account(intake) == {("a.xlsx", "s"): 5 + 5 + 3 + 4}


def test_names_are_trimmed_aliased_and_never_joined_by_likeness() -> None:
    intake = read(
        LONG,
        (" V-101 ", "Shell  1", 1, DAY, 10.2),
        ("V101", "Shell 1", "1", DAY, 10.3),
        ("101-V-1", "Shell 1", "01", DAY, 10.4),
        aliases={"V101": "V-101"},
    )
    assert [row[:3] for row in readings(intake)] == [
        ("101-V-1", "Shell 1", "01"),
        ("V-101", "Shell 1", "1"),
        ("V-101", "Shell 1", "1"),
    ]


def test_headings_of_the_plant() -> None:
    intake = read(
        ("Toestel", "Component", "Meetpunt", "Date", "Dikte (mm)"),
        (*WHO, DAY, 10.2),
        headings={"Toestel": "asset", "Meetpunt": "location", "Dikte": "thickness", "Druk": "presure"},
    )
    assert readings(intake) == [("D-201", "Shell 1", "3", DAY, "day", 10.2)]
    [row] = intake.rows("ledger")
    assert (row["file"], row["severity"]) == ("basis.toml", "set aside")


def test_a_survey_may_say_where_the_welds_are() -> None:
    intake = read((*LONG, "Distance to weld"), (*WHO, DAY, 10.2, "50 mm"), ("D-201", "Shell 1", 4, DAY, 10.3, "away"))
    facts = [(r["kind"], r["location"], r["field"], r["number"], r["word"]) for r in intake.rows("field")]
    assert facts == [
        ("locations", "3", "distance_to_weld", 50.0, None),
        ("locations", "4", "weld_region", None, "away"),
    ]
    assert len(readings(intake)) == 2
    account(intake)


# ----------------------------------------------------------------------------------------------------------- files


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("a.xlsx", b"", "the file is empty: put the data back or remove the file"),
        (
            "a.xlsx",
            b"hello",
            "the file is not a workbook: open it in a spreadsheet program and save it as xlsx or csv",
        ),
        (
            "a.xls",
            b"<html><table><tr><td>Asset</td></tr></table></html>",
            "the file is a web page, not a workbook: open it and save it as xlsx",
        ),
        (
            "a.xlsx",
            workbook({"s": [LONG]})[:2000],
            "the file cannot be opened as a workbook, it is damaged or cut short: "
            "open it in a spreadsheet program and save it again, or fetch it again",
        ),
        (
            "a.xlsx",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600) + "EncryptedPackage".encode("utf-16-le") + bytes(600),
            "the workbook is protected by a password: save a copy without a password",
        ),
        (
            "a.csv",
            b"a\x00\x01,\xff\x00\x02" * 50,
            "the file is not a text file: open it in a spreadsheet program and save it as xlsx",
        ),
    ],
)
def test_a_file_that_cannot_be_opened_does_not_stop_the_others(name: str, content: bytes, reason: str) -> None:
    good = workbook({"s": [LONG, (*WHO, DAY, 10.2)]})
    intake = read_files([(name, content), ("good.xlsx", good)], basis(), AS_OF)
    [row] = intake.rows("ledger")
    assert (row["file"], row["sheet"], row["cell"], row["reason"]) == (name, "", "", reason)
    assert (row["effect"], row["severity"]) == ("nothing in this file is used", "set aside")
    assert len(readings(intake)) == 1
    assert [source["file"] for source in intake.rows("source")] == [name, "good.xlsx"]


def test_a_workbook_that_unpacks_to_an_unlikely_size_is_refused() -> None:
    content = BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/worksheets/sheet1.xml", b" " * 210_000_000)
    [row] = read_files([("a.xlsx", content.getvalue())], basis(), AS_OF).rows("ledger")
    assert row["reason"] == (
        "the workbook unpacks to 210 MB, too much to be a survey: split it, or delete the empty formatted rows and "
        "save it again"
    )


def test_a_stray_cell_at_the_end_of_a_sheet_is_named() -> None:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    sheet["A1"], sheet["XFD1048576"] = "Asset", "x"
    content = BytesIO()
    book.save(content)
    [row] = read_files([("a.xlsx", content.getvalue())], basis(), AS_OF).rows("ledger")
    assert row["reason"] == (
        "sheet 'Sheet' reaches to XFD1048576, far beyond any table: delete the stray cells, save it again"
    )


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_workbook_never_ends_in_a_traceback(data: st.DataObject) -> None:
    content = bytearray(UNTIDY_BOOK)
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.sampled_from([len(content), len(content) // 2, len(content) - 30]))
    intake = read_files([("a.xlsx", bytes(content[:cut]))], basis(), AS_OF)
    assert len(intake.rows("source")) == 1
    intake.tables()


CSV = "Asset,Component,Location,Date,Thickness (mm)\nD-201,Behälter 1,3,2019-05-03,10.2\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_text_files_of_every_kind(encoding: str, delimiter: str) -> None:
    text = CSV.replace(",", delimiter)
    if delimiter == ";":
        text = text.replace("10.2", "10,2")
    intake = read_files([("a.csv", text.encode(encoding))], basis(), AS_OF)
    assert readings(intake) == [("D-201", "Behälter 1", "3", DAY, "day", 10.2)]
    assert [(row["sheet"], row["cell"], row["text"]) for row in intake.rows("reading")] == [
        ("", "E2", "10,2" if delimiter == ";" else "10.2")
    ]


def ods(rows: str) -> bytes:
    """Return an ods file with one sheet `s` of the given rows."""
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    spaces = " ".join(f'xmlns:{name}="{urn}:{name}:1.0"' for name in ("office", "table", "text"))
    content = BytesIO()
    with zipfile.ZipFile(content, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        package.writestr("META-INF/manifest.xml", f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"/>')
        package.writestr(
            "content.xml",
            f'<office:document-content {spaces} xmlns:calcext="urn:calcext"><office:body><office:spreadsheet>'
            f'<table:table table:name="s">{rows}</table:table></office:spreadsheet></office:body>'
            "</office:document-content>",
        )
    return content.getvalue()


def ods_row(*cells: object) -> str:
    return f"<table:table-row>{''.join(map(str, cells))}</table:table-row>"


def ods_text(text: str, more: str = "") -> str:
    return f'<table:table-cell office:value-type="string" {more}><text:p>{text}</text:p></table:table-cell>'


def test_an_ods_file_with_merged_cells_and_errors() -> None:
    number = '<table:table-cell office:value-type="float" office:value="10.2"/>'
    error = (
        '<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" '
        'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>'
    )
    day = ods_text("2019-05-03")
    intake = read_files(
        [
            (
                "a.ods",
                ods(
                    '<table:table-row table:number-rows-repeated="2"><table:table-cell/></table:table-row>'
                    + ods_row(*map(ods_text, LONG))
                    + ods_row(
                        ods_text("D-201", 'table:number-rows-spanned="2"'), *map(ods_text, ("S", "1")), day, number
                    )
                    + ods_row("<table:covered-table-cell/>", *map(ods_text, ("S", "2")), day, error)
                ),
            )
        ],
        basis(),
        AS_OF,
    )
    assert readings(intake) == [("D-201", "S", "1", DAY, "day", 10.2)]
    assert ledger(intake) == [
        (
            "E5",
            "#DIV/0!",
            "the cell holds the error value #DIV/0!: correct the formula or type the value",
            "thickness of D-201 S 2 on 2019-05-03 is not used",
            "set aside",
        )
    ]
    assert account(intake) == {("a.ods", "s"): 5 + 5 + 4}


def test_a_hidden_sheet_and_hidden_rows_are_read_and_noted() -> None:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in (LONG, (*WHO, DAY, 10.2)):
        sheet.append(list(row))
    sheet.row_dimensions[2].hidden = True
    book.create_sheet("front").append(["cover"])
    book.active = 1
    sheet.sheet_state = "hidden"
    content = BytesIO()
    book.save(content)
    intake = read_files([("a.xlsx", content.getvalue())], basis(), AS_OF)
    assert len(readings(intake)) == 1
    assert [row["hidden"] for row in intake.rows("sheet")] == [True, False]
    assert [line[2] for line in ledger(intake)][:2] == [
        "the sheet is hidden: check that it is meant to count",
        "hidden rows 2: check that they are meant to count",
    ]


# ---------------------------------------------------------------------------------------------------- conservation

UNTIDY: dict[str, list[Sequence[object]]] = {
    "survey": [
        ("Thickness survey of Unit 1", None, None, None, None, None, "rev 2"),
        (),
        (*LONG, "Remark", "Scaffold"),
        (None, None, None, None, "mm"),
        (*WHO, DAY, 10.2, "ok", "S1"),
        (None, "Shell 1", 4, DAY, 10.2, None, None),
        (*WHO, "03/05/2019", 10.1, "x", None),
        (*WHO, "May 2020", "no access", None, "S2"),
        (*LONG, "Remark", "Scaffold"),
        (*WHO, date(2030, 1, 1), 9.8),
        (*WHO, DAY, "#N/A"),
        (*WHO, DAY, "=E5-1"),
        ("   ",),
        (None, None, None, None, None, None, None, "stray"),
        ("MIN", None, None, None, 10.1),
        ("Note: through paint",),
        ("D-201",),
    ],
    "register": [
        ("Vessels", None, None, "Turnarounds"),
        ("Tag", "MAWP (psi)", None, "Name", "Start", "End"),
        ("D-201", 150, None, "TA 2027", date(2027, 3, 1), "April 2027"),
        ("D-202", "150#", None, None, None, None),
        (),
        ("Component", "Kind", "Nom thk"),
        ("Shell 1", "shell", 12.7),
    ],
    "wide": [
        ("Vessel: D-201",),
        ("Component", "Shell 1"),
        ("All dimensions in mm",),
        ("CML", "3/2006", "TA 2011", date(2016, 3, 1), "MIN"),
        (1, 12.0, 11.8, "11,4 mm", 11.4),
        (2, "INS", None, datetime(2026, 3, 8), 11.4),
        (None, 11.0, None, None, None),
    ],
    "cover": [("Plant",), (None, "issued", DAY)],
    "empty": [],
}
UNTIDY_BOOK = workbook(UNTIDY)


def test_every_cell_of_an_untidy_workbook_is_accounted_for() -> None:
    content = workbook(UNTIDY)
    intake = read_files([("untidy.xlsx", content)], basis(), AS_OF)
    independent = {
        ("untidy.xlsx", sheet.title): sum(
            value is not None and str(value).strip() != "" for row in sheet.iter_rows(values_only=True) for value in row
        )
        for sheet in openpyxl.load_workbook(BytesIO(content)).worksheets
    }
    assert account(intake) == independent
    kinds = [(row["sheet"], row["kind"]) for row in intake.rows("sheet")]
    assert kinds == [
        ("survey", "survey, long"),
        ("register", "assets"),
        ("register", "turnarounds"),
        ("register", "components"),
        ("wide", "survey, wide"),
        ("cover", ""),
        ("empty", ""),
    ]


cell = st.one_of(
    st.none(),
    st.sampled_from(
        [*LONG, "Kind", "MAWP (psi)", "MIN", "Vessel: D-1", "Units: mm", "no access", "mm", "2019-05-03", "x:", "Note"]
    ),
    st.floats(-5, 50).map(lambda value: round(value, 2)),
    st.dates(date(1990, 1, 1), date(2040, 1, 1)),
    st.text("abcN/A-1,.;=' #", max_size=8).filter(lambda text: not text.startswith("=")),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(cell, max_size=7), max_size=12), st.booleans())
def test_every_cell_of_any_sheet_is_accounted_for(rows: list[list[object]], headed: bool) -> None:
    content = workbook({"s": [list(LONG), *rows] if headed else rows})
    counted = sum(
        value is not None and str(value).strip() != ""
        for row in openpyxl.load_workbook(BytesIO(content)).worksheets[0].iter_rows(values_only=True)
        for value in row
    )
    intake = read_files([("a.xlsx", content)], basis(), AS_OF)
    assert account(intake) == {("a.xlsx", "s"): counted}
    intake.tables()


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.text("abc10.,-/' ", max_size=6), min_size=1, max_size=6), max_size=10))
def test_every_cell_of_any_text_file_is_accounted_for(rows: list[list[str]]) -> None:
    out = StringIO()
    csv.writer(out).writerows([list(LONG), *rows])
    counted = sum(bool(value.strip()) for row in csv.reader(StringIO(out.getvalue())) for value in row)
    intake = read_files([("a.csv", out.getvalue().encode())], basis(), AS_OF)
    assert account(intake) == {("a.csv", ""): counted}


def test_the_fast_way_and_the_slow_way_give_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    header = (*LONG, "Method", "Inspector", "Remark")
    rows: list[Sequence[object]] = [header]
    for place in range(60):
        row: list[object] = ["D-201", f"Shell {place % 3}", place, DAY, 10 + place / 7, "UT", None, "a  b"]
        if place % 11 == 3:
            row[place % 8] = [None, "MIN", True, "x", 0, "no access", 5, date(2030, 1, 1)][place % 8]
        rows.append(row)
    places = [("D-201", "Shell 1", place, 10 + place / 7, ["-", 0, "9 mm", "9"][place % 4]) for place in range(9)]
    rows += [[], (*LONG[:3], "2010 (mm)", "2015-03-04 (mm)"), *places]
    files = [("a.xlsx", workbook({"s": rows}))]
    fast = read_files(files, basis(), AS_OF)
    monkeypatch.setattr(surveys_module, "read_plain_rows", lambda body, first: plain_module.no_rows(body))
    monkeypatch.setattr(surveys_module, "who_of", lambda body: None)
    slow = read_files(files, basis(), AS_OF)
    assert len(fast.rows("reading")) > 60
    for table in ("reading", "not_measured", "sheet", "source"):
        assert sorted(map(str, fast.rows(table))) == sorted(map(str, slow.rows(table)))
    assert ledger(fast) == ledger(slow)


# ---------------------------------------------------------------------------- layouts that must make no difference

surveys = st.lists(
    st.tuples(
        st.sampled_from(["D-201", "D-202"]),
        st.sampled_from(["Shell 1", "Head N"]),
        st.integers(1, 4),
        st.sampled_from([date(2010, 1, 5), date(2015, 6, 1), DAY]),
        st.integers(200, 600).map(lambda mils: mils / 1000),
    ),
    min_size=1,
    max_size=12,
    unique_by=lambda row: row[:4],
)


def long_rows(survey: list[tuple[Any, ...]], header: Sequence[str]) -> list[list[object]]:
    return [list(header), *[list(row) for row in survey]]


def expected(survey: list[tuple[Any, ...]]) -> list[tuple[object, ...]]:
    return sorted((a, c, str(loc), on, "day", inches * 25.4) for a, c, loc, on, inches in survey)


def close(intake: Intake, survey: list[tuple[Any, ...]]) -> None:
    found, wanted = readings(intake), expected(survey)
    assert [row[:5] for row in found] == [row[:5] for row in wanted]
    assert [row[5] for row in found] == pytest.approx([row[5] for row in wanted], rel=1e-12)
    assert [line for line in ledger(intake) if line[4] == "set aside"] == []
    account(intake)


IN_INCHES = ("Asset", "Component", "CML", "Date", "Thk (in)")


@settings(max_examples=40, deadline=None)
@given(surveys, st.permutations(range(5)), st.integers(0, 6), st.integers(0, 3), st.booleans())
def test_order_of_columns_and_place_of_the_table_make_no_difference(
    survey: list[tuple[Any, ...]], order: list[int], down: int, across: int, title: bool
) -> None:
    rows: list[list[object]] = [["Survey of the unit"]] if title else []
    rows += [[]] * down
    rows += [[None] * across + [row[place] for place in order] for row in long_rows(survey, IN_INCHES)]
    close(read(*rows), survey)


@settings(max_examples=25, deadline=None)
@given(surveys, st.integers(0, 12))
def test_one_sheet_or_two_or_two_tables_make_no_difference(survey: list[tuple[Any, ...]], cut: int) -> None:
    one, two = long_rows(survey[:cut], IN_INCHES), long_rows(survey[cut:], IN_INCHES)
    close(read_files([("a.xlsx", workbook({"1": one, "2": two}))], basis(), AS_OF), survey)
    close(read(*one, [], ["second part"], *two), survey)


@settings(max_examples=25, deadline=None)
@given(surveys)
def test_the_unit_makes_no_difference(survey: list[tuple[Any, ...]]) -> None:
    in_mm = [(*row[:4], row[4] * 25.4) for row in survey]
    close(read(*long_rows(in_mm, (*IN_INCHES[:4], "Thickness, mm"))), survey)
    in_mils = [(*row[:4], row[4] * 1000) for row in survey]
    close(read(*long_rows(in_mils, (*IN_INCHES[:4], "t [mils]"))), survey)
    in_cells = [(*row[:4], f'{row[4]}"') for row in survey]
    close(read(*long_rows(in_cells, (*IN_INCHES[:4], "Reading"))), survey)
    unit_row = long_rows(survey, (*IN_INCHES[:4], "Thickness"))
    unit_row.insert(1, [None, None, None, None, "in"])
    close(read(*unit_row), survey)


@settings(max_examples=40, deadline=None)
@given(surveys)
def test_long_or_wide_makes_no_difference(survey: list[tuple[Any, ...]]) -> None:
    dates = sorted({row[3] for row in survey})
    places = sorted({row[:3] for row in survey})
    values = {row[:4]: row[4] for row in survey}
    wide: list[list[object]] = [["Asset", "Component", "CML", *dates]]
    wide += [[*place, *[values.get((*place, on)) for on in dates]] for place in places]
    close(read(["Readings in inches"], *wide), survey)


@settings(max_examples=25, deadline=None)
@given(surveys)
def test_text_and_cells_make_no_difference(survey: list[tuple[Any, ...]]) -> None:
    out = StringIO()
    csv.writer(out, delimiter=";").writerows(long_rows(survey, IN_INCHES))
    close(read_files([("a.csv", out.getvalue().encode())], basis(), AS_OF), survey)
    as_text = [[str(value) for value in row] for row in long_rows(survey, IN_INCHES)]
    close(read(*as_text), survey)
