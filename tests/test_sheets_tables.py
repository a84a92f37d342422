"""Finding tables: headers wherever they stand, units wherever they are stated, labels, notes, totals, page breaks."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from pipeline.basis import default_basis
from pipeline.sheets import Intake, read_files
from pipeline.sheets.body import unit_in_format
from pipeline.sheets.headers import NEEDS
from pipeline.sheets.headings import headings_with
from pipeline.sheets.tables import find_tables
from pipeline.sheets.values import Value
from pipeline.sheets.workbooks import Grid

AS_OF = date(2025, 6, 30)
HEADINGS = headings_with({})
DAY = date(2019, 5, 3)


def grid(*rows: Sequence[object]) -> Grid:
    width = max(map(len, rows), default=0)
    cells: list[list[Value]] = [
        ["" if value is None else float(value) if type(value) is int else value for value in row]  # type: ignore[misc]
        + [""] * (width - len(row))
        for row in rows
    ]
    return Grid("a.xlsx", "s", cells)


def kinds(*rows: Sequence[object]) -> list[str]:
    return [table.kind for table in find_tables(grid(*rows), HEADINGS, "", AS_OF)]


def read(*rows: Sequence[object], **formats: str) -> Intake:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in rows:
        sheet.append(list(row))
    for cell, text in formats.items():
        sheet[cell].number_format = text
    content = BytesIO()
    book.save(content)
    return read_files([("a.xlsx", content.getvalue())], default_basis(), AS_OF)


def readings(intake: Intake) -> list[tuple[object, ...]]:
    names = ("asset", "component", "location", "read_on", "thickness_mm")
    return sorted(tuple(row[name] for name in names) for row in intake.rows("reading"))


def facts(intake: Intake, field: str) -> list[tuple[object, ...]]:
    rows = [row for row in intake.rows("field") if row["field"] == field and not row["unreadable"]]
    return [(row["number"], row["unit"], row["unit_from"]) for row in rows]


def ignored(intake: Intake) -> list[dict[str, int]]:
    return [json.loads(row["ignored_reasons"]) for row in intake.rows("sheet")]


LONG = ("Asset", "Component", "Location", "Date", "Thickness (mm)")
ONE = ("D-201", "Shell 1", 1, DAY, 10.2)
TWO = ("D-201", "Shell 1", 2, DAY, 10.4)
READ_ONE = ("D-201", "Shell 1", "1", DAY, 10.2)
READ_TWO = ("D-201", "Shell 1", "2", DAY, 10.4)


# ----------------------------------------------------------------------------------------------------------- kinds

HEADERS = {
    "assets": ["Tag", "Description", "Service", "Area", "MAWP (psi)", "In service"],
    "components": ["Tag", "Component", "Type", "ID (in)", "Nom thk (in)", "S (psi)", "E"],
    "locations": ["Tag", "Component", "CML", "Distance to weld (mm)", "Head zone"],
    "survey, long": ["Tag", "Component", "CML", "Date", "Thk (in)", "Method", "Inspector", "Remark"],
    "survey, wide": ["Tag", "Component", "CML", "2011-05-03", "May 2016"],
    "inspections": ["Tag", "Inspection type", "Date", "Result"],
    "renumbered locations": ["Asset", "Old location", "New location", "Renumbered on"],
    "events": ["Tag", "Component", "Date", "Event", "New thickness (mm)"],
    "relief devices": ["Tag", "PSV", "Set pressure (psi)", "Interval (years)", "Last tested"],
    "turnarounds": ["Name", "Start", "End"],
    "deferrals": ["Tag", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"],
    "set intervals": ["Tag", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on"],
    "rate choices": ["Tag", "Component", "Location", "Rate choice", "Chosen rate (mm/y)", "Reason", "Chosen by", "On"],
    "scope decisions": ["Tag", "Turnaround", "Decision on scope", "Reason", "Decided by", "Decided on"],
    "recommendations": ["Tag", "Component", "Recommendation", "Raised on", "Due", "Closed on", "Evidence"],
    "corroded areas": ["Tag", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Thk (mm)"],
    "pits": ["Tag", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Pit depth (mm)", "Width (mm)"],
}


@pytest.mark.parametrize("kind", HEADERS)
def test_a_table_is_recognised_by_its_columns(kind: str) -> None:
    assert kinds(HEADERS[kind], ["x"] * len(HEADERS[kind])) == [kind]
    assert kinds(HEADERS[kind][::-1], ["x"] * len(HEADERS[kind])) == [kind]
    assert kinds(["Some title"], [], [None, *HEADERS[kind]], [None, *["x"] * len(HEADERS[kind])]) == [kind]


def test_every_kind_can_be_recognised() -> None:
    assert set(HEADERS) == set(NEEDS)


def test_components_with_their_vessels_data_give_both() -> None:
    intake = read(
        ["Vessel", "Component", "Type", "MAWP (psi)", "Service", "Nom thk (mm)"],
        ["D-201", "Shell 1", "shell", 150, "gas", 12.7],
    )
    found = [(row["kind"], row["field"], row["component"]) for row in intake.rows("field")]
    assert found == [
        ("components", "asset", "Shell 1"),
        ("components", "component", "Shell 1"),
        ("components", "kind", "Shell 1"),
        ("assets", "mawp", None),
        ("assets", "service", None),
        ("components", "nominal_thickness", "Shell 1"),
    ]


def test_one_joint_efficiency_stands_for_both_joints() -> None:
    intake = read(["Asset", "Component", "E"], ["D-201", "Shell 1", 0.85])
    assert [(row["field"], row["number"], row["cell"]) for row in intake.rows("field")[2:]] == [
        ("joint_efficiency_longitudinal", 0.85, "C2"),
        ("joint_efficiency_circumferential", 0.85, "C2"),
    ]


def test_a_sheet_without_a_table_is_named() -> None:
    intake = read(["Cost", "Owner"], [12, "plant"])
    assert [(row["kind"], row["cells"], row["ignored"]) for row in intake.rows("sheet")] == [("", 4, 4)]
    assert [row["reason"] for row in intake.rows("ledger")] == [
        "no table was recognised on this sheet: give its columns known headings such as 'asset', 'component', "
        "'location', 'date' and 'thickness (in)'"
    ]


# --------------------------------------------------------------------------------------------------------- layouts


def test_header_in_any_row_with_title_blank_rows_and_notes() -> None:
    intake = read(
        ["Unit 1 thickness survey"], [], [], LONG, ONE, [], TWO, [], ["Note: readings taken through paint"], ["* hot"]
    )
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert ignored(intake) == [{"title": 1, "header": 5, "note": 2}]
    assert intake.rows("ledger") == []


def test_repeated_headers_and_page_titles() -> None:
    intake = read(["Survey"], LONG, ONE, [], ["Survey"], ["page 2"], LONG, TWO)
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert ignored(intake) == [{"title": 3, "header": 5, "repeated header": 5}]


def test_totals_are_not_read() -> None:
    intake = read(LONG, ONE, TWO, ["MIN", None, None, None, 10.2], [None, None, None, "Average", 10.3])
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert ignored(intake) == [{"header": 5, "total": 4}]


def test_a_signature_at_the_foot_is_a_note() -> None:
    intake = read(LONG, ONE, [], ["Inspector:", "A. Person"], ["Checked", "B. Person"])
    assert readings(intake) == [READ_ONE]
    assert ignored(intake) == [{"header": 5, "note": 4}]


def test_a_new_asset_label_before_the_same_header_starts_a_new_table() -> None:
    header = ("Component", "Location", "Date", "Thickness (mm)")
    intake = read(["Vessel: D-201"], header, ONE[1:], [], ["Vessel: D-202"], header, ONE[1:])
    assert readings(intake) == [READ_ONE, ("D-202", *READ_ONE[1:])]
    assert [row["used"] for row in intake.rows("sheet")] == [5, 5]


def test_tables_below_one_another() -> None:
    intake = read(
        ["Plant register"],
        ["Asset", "Service"],
        ["D-201", "gas"],
        [],
        ["Components"],
        ["Asset", "Component", "Kind"],
        ["D-201", "Shell 1", "shell"],
        [],
        LONG,
        ONE,
    )
    assert [(row["table_no"], row["kind"], row["header_row"]) for row in intake.rows("sheet")] == [
        (1, "assets", 2),
        (2, "components", 6),
        (3, "survey, long", 9),
    ]
    assert readings(intake) == [READ_ONE]
    assert intake.rows("ledger") == []


def test_tables_side_by_side() -> None:
    intake = read(
        ["Registers"],
        ["Asset", "Service", None, "Name", "Start", "End"],
        ["D-201", "gas", None, "TA 2027", date(2027, 3, 1), date(2027, 4, 1)],
        ["D-202", "oil", None, None, None, None],
    )
    assert [(row["kind"], row["cells"], row["used"]) for row in intake.rows("sheet")] == [
        ("assets", 7, 4),
        ("turnarounds", 6, 3),
    ]
    assert [row["word"] for row in intake.rows("field") if row["field"] == "asset"] == ["D-201", "D-202"]
    assert [row["word"] for row in intake.rows("field") if row["field"] == "name"] == ["TA 2027"]


def test_wide_columns_with_dates_of_every_kind() -> None:
    intake = read(
        ["Thickness in mm"],
        ["Asset", "Component", "CML", "3/2006", date(2011, 3, 1), 2014, "Mar-16", "Thk 2019-05-03", "12.6.2021 (in)"],
        ["D-201", "Shell 1", 1, 12.0, 11.9, 11.8, 11.7, 11.6, "0.5"],
    )
    assert [(row["read_on"], row["date_precision"], row["cell"], row["unit"]) for row in intake.rows("reading")] == [
        (date(2006, 3, 1), "month", "D3", "mm"),
        (date(2011, 3, 1), "day", "E3", "mm"),
        (date(2014, 1, 1), "year", "F3", "mm"),
        (date(2016, 3, 1), "month", "G3", "mm"),
        (date(2019, 5, 3), "day", "H3", "mm"),
    ]
    assert [(row["cell"], row["reason"]) for row in intake.rows("ledger")] == [
        (
            "I3",
            "the date in the heading I2 is not clear: '12.6.2021' can be 2021-06-12 or 2021-12-06: "
            "write the date as year-month-day, or state date_order in basis.toml",
        )
    ]


def test_derived_columns_are_checked_and_not_read() -> None:
    intake = read(
        ["Asset", "Component", "CML", "2011-03-01 (mm)", "2016-03-01 (mm)", "MIN", "AVG"],
        ["D-201", "Shell 1", 1, 11.9, 11.4, 11.4, 11.65],
        ["D-201", "Shell 1", 2, 11.9, 11.4, 11.9, 11.65],
    )
    assert len(intake.rows("reading")) == 4
    assert ignored(intake) == [{"header": 7, "derived column": 4}]
    assert [(row["cell"], row["reason"], row["severity"]) for row in intake.rows("ledger")] == [
        ("F3", "'MIN' says 11.9, but the smallest of its readings is 11.4 mm: check both", "warning")
    ]


def test_unknown_columns_are_named_with_near_misses() -> None:
    intake = read([*LONG, "Scaffold no", "Thicknes", None], [*ONE, 7, 10.1, "stray"], [*TWO, None, 10.3, None])
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert ignored(intake) == [{"header": 6, "unknown column": 4}]
    assert [(row["cell"], row["reason"], row["effect"], row["severity"]) for row in intake.rows("ledger")] == [
        (
            "F1",
            "the heading 'Scaffold no' is not known for a survey: rename it, or name its column under [headings] in "
            "basis.toml",
            "1 cell of this column is not read",
            "note",
        ),
        (
            "G1",
            "the heading 'Thicknes' is not known for a survey: if it means thickness, rename it, or name its column "
            "under [headings] in basis.toml",
            "2 cells of this column are not read",
            "set aside",
        ),
        ("H2", "the cells have no heading: write a heading in H1", "1 cell of this column is not read", "note"),
    ]


def test_two_columns_for_one_thing() -> None:
    clear = read([*LONG, "Thk (mm)"], [*ONE, 99.0])
    assert readings(clear) == []
    assert [row["reason"] for row in clear.rows("ledger")] == [
        "the headings in E1 and F1 both mean thickness: rename the one that does not"
    ] * 2
    exact = read([*LONG[:4], "Thickness", "Thk (mm)"], [*ONE[:4], "10.2 mm", 99.0])
    assert readings(exact) == [READ_ONE]
    assert [row["reason"] for row in exact.rows("ledger")] == [
        "column E1 already gives the thickness: remove or rename this one"
    ]


# ----------------------------------------------------------------------------------------------------------- units


@pytest.mark.parametrize(
    ("rows", "formats", "expected"),
    [
        ([["Asset", "MAWP (psi)"], ["D-201", 150]], {}, ("psi", "header")),
        ([["Asset", "MAWP"], [None, "psi"], ["D-201", 150]], {}, ("psi", "row below header")),
        ([["Asset", "MAWP"], [None, "(psig)"], ["D-201", 150]], {}, ("psi", "row below header")),
        ([["Asset", "MAWP"], ["D-201", "150 psi"]], {}, ("psi", "cell")),
        ([["Asset", "MAWP"], ["D-201", 150]], {"B2": '0.0" psi"'}, ("psi", "number format")),
        ([["Units: in, psi"], ["Asset", "MAWP"], ["D-201", 150]], {}, ("psi", "sheet statement")),
        ([["Units", "psi"], ["Asset", "MAWP"], ["D-201", 150]], {}, ("psi", "sheet statement")),
        ([["All pressures in psi."], ["Asset", "MAWP"], ["D-201", 150]], {}, ("psi", "sheet statement")),
        ([["Asset", "MAWP"], ["D-201", 150], [], ["All pressures in psi"]], {}, ("psi", "sheet statement")),
    ],
)
def test_a_unit_counts_wherever_it_is_stated(
    rows: list[list[object]], formats: dict[str, str], expected: tuple[str, str]
) -> None:
    intake = read(*rows, **formats)
    [(number, *unit)] = facts(intake, "mawp")
    assert number == pytest.approx(1.0342135939752541, rel=1e-12)
    assert tuple(unit) == expected
    assert intake.rows("ledger") == []


def test_a_number_format_counts_cell_by_cell() -> None:
    intake = read(["Asset", "MAWP"], ["D-201", 150], ["D-202", 10], ["D-203", 10], B2='0" psi"', B3='0.0" bar"')
    assert [unit for _, unit, _ in facts(intake, "mawp")] == ["psi", "bar"]
    assert [(row["cell"], row["reason"]) for row in intake.rows("ledger")] == [
        ("B4", "unit not stated: write it in the header, such as 'MAWP (psi)', or in the cell")
    ]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ('0.000" in"', "in"),
        ('0.00\\"', "in"),
        ('0.0\\ "mm"', "mm"),
        ("0.0\\m\\m", "mm"),
        ('0.0 "mm";-0.0 "mm"', "mm"),
        ("General", None),
        ("# ?/?", None),
        ('"CML "0', None),
        ("d-mmm-yy", None),
    ],
)
def test_the_unit_a_number_format_shows(text: str, unit: str | None) -> None:
    found = unit_in_format(text)
    assert (found.name if found else None) == unit


def test_statements_that_contradict_each_other_do_not_count() -> None:
    intake = read(["Units: in"], ["All dimensions in mm"], [*LONG[:4], "Thickness"], ONE)
    assert readings(intake) == []
    assert [row["reason"] for row in intake.rows("ledger")] == [
        "unit not stated: write it in the header, such as 'thickness (in)', or in the cell"
    ]


def test_a_header_and_a_unit_row_that_contradict_each_other_do_not_count() -> None:
    intake = read(LONG, [None, None, None, None, "in"], ONE)
    assert readings(intake) == []
    assert [row["reason"] for row in intake.rows("ledger")] == [
        "the header says 'mm' and the row below it 'in': correct one of them"
    ]


def test_a_heading_over_the_dates_gives_the_unit() -> None:
    intake = read(
        [None, None, None, "Thickness (mm)", None],
        ["Asset", "Component", "CML", "2011-03-01", "2016-03-01"],
        ["D-201", "Shell 1", 1, 11.9, 11.4],
    )
    assert [(row["thickness_mm"], row["unit_from"]) for row in intake.rows("reading")] == [
        (11.9, "header"),
        (11.4, "header"),
    ]


def test_a_column_of_units_counts_row_by_row() -> None:
    intake = read([*LONG[:4], "Thickness", "Unit"], [*ONE, "mm"], [*TWO[:4], 0.5, "in"], [*ONE[:4], 0.5, "furlong"])
    assert [(row["thickness_mm"], row["unit"], row["unit_from"]) for row in intake.rows("reading")] == [
        (10.2, "mm", "cell"),
        (12.7, "in", "cell"),
    ]
    assert [row["reason"] for row in intake.rows("ledger")] == [
        "the unit 'furlong' in F4 is no unit of length: write mm or in"
    ]


# ---------------------------------------------------------------------------------------------------------- labels


@pytest.mark.parametrize(
    "above",
    [
        [["Vessel: D-201"], ["Component", "Shell 1"], ["Date of survey", DAY]],
        [["Vessel: D-201  Component: Shell 1"], ["Survey date: 2019-05-03"]],
        [["Vessel", "D-201", "Component", "Shell 1"], ["Date:", "3 May 2019"]],
        [["Tag:", "D-201", None, "Component:", "Shell 1"], [], ["Survey date = 03-May-2019"]],
    ],
)
def test_labels_above_the_header_supply_what_the_table_lacks(above: list[list[object]]) -> None:
    intake = read(*above, ["CML", "Thk (mm)"], [1, 10.2], [2, 10.4])
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert intake.rows("ledger") == []
    assert ignored(intake) == [{"header": 2}]


def test_labels_at_the_top_count_for_every_table_of_the_sheet() -> None:
    intake = read(
        ["Vessel: D-201"],
        ["Component", "CML", "Date", "Thk (mm)"],
        ONE[1:],
        [],
        ["Component", "Kind"],
        ["Shell 1", "shell"],
    )
    assert readings(intake) == [READ_ONE]
    assert [row["word"] for row in intake.rows("field") if row["field"] == "kind"] == ["cylinder"]
    assert {row["asset"] for row in intake.rows("field")} == {"D-201"}


def test_two_labels_that_differ_are_not_settled_by_guess() -> None:
    intake = read(["Vessel: D-201"], ["Vessel: D-202"], LONG[1:], ONE[1:])
    assert readings(intake) == []
    assert [(row["cell"], row["reason"]) for row in intake.rows("ledger")] == [
        ("D4", "the table has no asset: add a column 'asset' or write 'Vessel: TAG' above the header")
    ]


def test_a_date_above_the_table_that_can_be_two_days_dates_nothing() -> None:
    intake = read(
        ["Survey date:", "03/05/2019"], ["Asset", "Component", "CML", "Thk (mm)"], ["D-201", "Shell 1", 1, 10.2]
    )
    assert readings(intake) == []
    (line,) = intake.rows("ledger")
    assert line["cell"] == "D3" and line["effect"] == "thickness of D-201 Shell 1 1 is not used"
    assert line["reason"].startswith(
        "the date above the table, in B1, is not clear: '03/05/2019' can be 2019-05-03 or 2019-03-05"
    )


def test_who_measured_and_how_may_stand_above_the_table() -> None:
    intake = read(["Vessel: D-201"], ["Inspector:", "P. Example"], ["Method:", "UT"], LONG[1:], ONE[1:])
    assert readings(intake) == [READ_ONE]
    assert [(row["inspector"], row["method"]) for row in intake.rows("reading")] == [("P. Example", "UT")]
    assert intake.rows("ledger") == []


def test_what_a_survey_says_of_its_places_is_read_or_set_aside_by_itself() -> None:
    intake = read([*LONG, "Distance to weld (mm)"], [*ONE, "near"], [*TWO, 25.0])
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert facts(intake, "distance_to_weld") == [(25.0, "mm", "header")]
    (line,) = intake.rows("ledger")
    assert (line["cell"], line["effect"]) == ("F2", "distance to weld of D-201 Shell 1 1 is not used")


def test_a_unit_that_is_none_of_length_or_another_than_the_headings_stops_its_row_alone() -> None:
    intake = read([*LONG, "Unit"], [*ONE, "psi"], [*TWO, "in"], ["D-201", "Shell 1", 3, DAY, 10.6, "mm"])
    assert readings(intake) == [("D-201", "Shell 1", "3", DAY, 10.6)]
    assert [(row["cell"], row["reason"]) for row in intake.rows("ledger")] == [
        ("E2", "the unit 'psi' in F2 is no unit of length: write mm or in"),
        ("E3", "the header says 'mm' and F3 says 'in': correct one of them"),
    ]


def test_labels_between_the_rows_count_for_the_rows_below_them() -> None:
    intake = read(
        ["Vessel: D-201"],
        ["CML", "Date", "Thk (mm)"],
        ["Component: Shell 1"],
        [1, DAY, 10.2],
        [2, DAY, 10.4],
        ["Vessel", "D-202"],
        ["Component", "Head N"],
        [1, DAY, 11.0],
    )
    assert readings(intake) == [READ_ONE, READ_TWO, ("D-202", "Head N", "1", DAY, 11.0)]
    assert intake.rows("ledger") == []
    assert ignored(intake) == [{"header": 3}]


def test_dates_may_stand_one_row_below_the_other_headings() -> None:
    intake = read(
        ["Asset", "Component", "CML", "Readings (mm)", None, "Remarks"],
        [None, None, None, "2011-03-01", "May 2016", None],
        ["D-201", "Shell 1", 1, 11.9, 11.4, "ok"],
    )
    assert [(row["read_on"], row["thickness_mm"], row["remark"]) for row in intake.rows("reading")] == [
        (date(2011, 3, 1), 11.9, "ok"),
        (date(2016, 5, 1), 11.4, "ok"),
    ]
    assert intake.rows("ledger") == []
    assert ignored(intake) == [{"header": 7}]


def test_a_short_row_right_above_another_table_is_not_taken_for_its_title() -> None:
    intake = read(
        ["Asset", "Service"], ["D-201", "gas"], ["D-205"], ["Asset", "Component", "Kind"], ["D-201", "S", "cone"]
    )
    assert [row["word"] for row in intake.rows("field") if row["field"] == "asset"] == ["D-201", "D-205", "D-201"]
