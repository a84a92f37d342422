"""What is stated and must not vanish: a minimum without its readings, units that contradict each other or name one
quantity, and columns of numbers that nobody reads."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.sheets import Intake
from tests.test_sheets_intake import DAY, LONG, account, read, readings
from tests.test_sheets_tables import read as formatted

WIDE = ("Asset", "Component", "CML")
WHO = ("D-201", "Shell 1")


def aside(intake: Intake) -> list[tuple[str, str]]:
    account(intake)
    return [(row["cell"], row["reason"]) for row in intake.rows("ledger") if row["severity"] == "set aside"]


# ------------------------------------------------------------------------------------------ a minimum and no readings


def test_a_minimum_without_its_readings_is_set_aside() -> None:
    intake = read(
        (*WIDE, "2011-03-01 (in)", "2016-03-01 MIN (in)", "2019-03-01 AVG (in)"),
        (*WHO, 1, 0.5, 0.15, 0.3),
        (*WHO, 2, 0.5, None, None),
    )
    assert len(readings(intake)) == 2
    assert aside(intake) == [
        ("E2", "only a minimum is stated, not the readings: enter the readings with their places"),
        ("F2", "only an average is stated, not the readings: enter the readings with their places"),
    ]


def test_a_minimum_beside_an_empty_thickness_is_set_aside() -> None:
    intake = read((*LONG, "Min (mm)"), (*WHO, 1, DAY, 10.2, 10.2), (*WHO, 2, DAY, None, 3.8))
    assert len(readings(intake)) == 1
    assert aside(intake) == [("F3", "only a minimum is stated, not the readings: enter the readings with their places")]


def test_a_minimum_beside_words_in_the_place_of_readings_is_set_aside() -> None:
    rows = [(*WHO, place, 11.0, "no access", "no access", 3.8) for place in range(1, 61)]
    intake = read((*WIDE, "2011 (mm)", "2016 N (mm)", "2016 S (mm)", "2016 MIN (mm)"), *rows)
    assert [reason.split(",")[0] for _, reason in aside(intake)] == ["only a minimum is stated"] * 60


# ------------------------------------------------------------------------------------- units that contradict each other


def test_a_number_format_that_contradicts_the_heading_is_refused() -> None:
    intake = formatted(
        ["Asset", "Component", "Location", "Distance to weld (in)"],
        [*WHO, "1", 20],
        [*WHO, "2", 20],
        [*WHO, "3", "20"],
        D2='0" mm"',
        D3='0.0" in"',
        D4='0" mm"',
    )
    assert [row["number"] for row in intake.rows("field") if row["number"] is not None] == [508.0, 508.0]
    assert aside(intake) == [("D2", "the header says 'in' and the number format of D2 'mm': correct one of them")]


@pytest.mark.parametrize("rows", [1, 60])
def test_readings_with_a_format_of_another_unit_are_refused(rows: int) -> None:
    others = [[*WHO, place, 11.0, 10.5] for place in range(1, rows + 1)]
    last = f"E{rows + 2}"
    intake = formatted([*WIDE, "2011 (mm)", "2019 (mm)"], *others, [*WHO, "x", 11.0, 0.4], **{last: '0.000" in"'})
    assert len(intake.rows("reading")) == 2 * rows + 1
    assert aside(intake) == [(last, f"the header says 'mm' and the number format of {last} 'in': correct one of them")]


@pytest.mark.parametrize("rows", [1, 60])
def test_a_long_survey_with_a_format_of_another_unit_in_a_row(rows: int) -> None:
    others = [[*WHO, place, DAY, 11.0] for place in range(1, rows + 1)]
    last = f"E{rows + 2}"
    intake = formatted(LONG, *others, [*WHO, "x", DAY, 0.4], **{last: '0.000" in"'})
    assert len(intake.rows("reading")) == rows
    assert aside(intake) == [(last, f"the header says 'mm' and the number format of {last} 'in': correct one of them")]


def test_a_format_of_another_kind_of_quantity_is_refused() -> None:
    intake = formatted(["Asset", "MAWP (psi)"], ["D-201", 150], B2='0" mm"')
    assert aside(intake) == [("B2", "the number format of B2 says 'mm', which is no unit of pressure: correct it")]


# ------------------------------------------------------------------------------------ units stated for one quantity

SIZES = ["Asset", "Component", "Kind", "Nominal thickness", "Inside diameter"]


def sizes(statement: str) -> dict[str, float]:
    intake = formatted([statement], SIZES, [*WHO, "shell", 12, 1200])
    unread = {row["field"] for row in intake.rows("field") if row["unreadable"]}
    aside(intake)
    return {
        row["field"]: row["number"]
        for row in intake.rows("field")
        if row["field"] in ("nominal_thickness", "inside_diameter") and row["field"] not in unread
    }


@pytest.mark.parametrize(
    ("statement", "read_as"),
    [
        ("All thicknesses in mm", {"nominal_thickness": 12.0}),
        ("Thickness readings in mm", {"nominal_thickness": 12.0}),
        ("Units of thickness: mm", {"nominal_thickness": 12.0}),
        ("All diameters in mm", {"inside_diameter": 1200.0}),
        ("All dimensions in mm", {"nominal_thickness": 12.0, "inside_diameter": 1200.0}),
        ("All lengths are in mm", {"nominal_thickness": 12.0, "inside_diameter": 1200.0}),
        ("Units: mm, psi", {"nominal_thickness": 12.0, "inside_diameter": 1200.0}),
        ("All measurements in mm", {"nominal_thickness": 12.0, "inside_diameter": 1200.0}),
    ],
)
def test_a_statement_that_names_a_quantity_counts_for_it_alone(statement: str, read_as: dict[str, float]) -> None:
    assert sizes(statement) == read_as


def test_pressures_are_not_stresses() -> None:
    intake = formatted(
        ["All pressures in psi"],
        ["Asset", "Component", "Kind", "MAWP", "Allowable stress"],
        [*WHO, "shell", 150, 20000],
    )
    assert [row["field"] for row in intake.rows("field") if row["number"] is not None] == ["mawp"]
    assert [cell for cell, _ in aside(intake)] == ["E3"]


def test_statements_for_two_quantities_stand_side_by_side() -> None:
    intake = formatted(["Thicknesses in mm"], ["Diameters in in"], SIZES, [*WHO, "shell", 12, 48])
    assert {row["field"]: row["number"] for row in intake.rows("field") if row["number"] is not None} == {
        "nominal_thickness": 12.0,
        "inside_diameter": pytest.approx(1219.2, rel=1e-12),
    }


def test_a_statement_for_one_quantity_against_one_for_all_leaves_that_one_open() -> None:
    intake = formatted(["All dimensions in mm"], ["Thicknesses in in"], SIZES, [*WHO, "shell", 12, 1200])
    assert {row["field"] for row in intake.rows("field") if row["number"] is not None} == {"inside_diameter"}
    assert [cell for cell, _ in aside(intake)] == ["D4"]


def test_a_heading_over_the_dates_gives_no_unit_to_other_lengths() -> None:
    intake = formatted(
        [None, None, None, None, "Thickness (in)", None],
        [*WIDE, "Distance to weld", "2011-03-01", "2019-03-01"],
        [*WHO, 1, 20, 0.5, 0.45],
    )
    assert len(intake.rows("reading")) == 2
    assert aside(intake) == [
        ("D3", "unit not stated: write it in the header, such as 'distance to weld (in)', or in the cell")
    ]


def test_a_table_further_down_may_state_another_unit_for_its_readings() -> None:
    intake = formatted(
        ["All dimensions in mm"],
        [*LONG[:4], "Thickness"],
        [*WHO, 1, DAY, 11.0],
        [],
        ["Readings in in"],
        [*LONG[:4], "Thickness", "Remark"],
        [*WHO, 2, DAY, 0.5, "x"],
    )
    assert [row["thickness_mm"] for row in intake.rows("reading")] == [11.0, 12.7]


# -------------------------------------------------------------------------------------------- units page by page


def test_each_page_has_the_units_of_its_own_row() -> None:
    units = [None, None, None, "mm", "mm"]
    intake = formatted(
        SIZES, units, [*WHO, "shell", 12, 1200], [], SIZES, units, [*WHO[:1], "Head", "shell", 10, 1200], [],
        SIZES, [None, None, None, "in", "in"], ["D-202", "Shell 1", "shell", 0.5, 48], [],
        SIZES, ["D-203", "Shell 1", "shell", 0.5, 48],
    )  # fmt: skip
    found = [row["number"] for row in intake.rows("field") if row["field"] == "nominal_thickness"]
    assert found == [12.0, 10.0, 12.7, None]
    assert {reason for _, reason in aside(intake)} == {
        "unit not stated: write it in the header, such as 'nominal thickness (in)', or in the cell",
        "unit not stated: write it in the header, such as 'inside diameter (in)', or in the cell",
    }


# ------------------------------------------------------------------------------- columns of numbers that nobody reads


def severity(intake: Intake) -> list[tuple[str, str]]:
    account(intake)
    return [(row["cell"], row["severity"]) for row in intake.rows("ledger")]


@pytest.mark.parametrize(
    "heading",
    [
        "Reading 2 (mm)",
        "2nd reading",
        "UT 2",
        "Min thickness (mm)",
        "Measured wall",
        "T2 (mm)",
        "Thicknes",
        "North (mm)",
        "survey of 1/5/2019",
        "after the May 2019 outage",
        "43588",
    ],
)
def test_a_column_of_numbers_that_looks_like_readings_is_set_aside(heading: str) -> None:
    intake = read((*LONG, heading), (*WHO, 1, DAY, 10.2, 3.8), (*WHO, 2, DAY, 10.4, "3.9"))
    assert len(readings(intake)) == 2
    assert severity(intake) == [("F1", "set aside")]


@pytest.mark.parametrize(
    "heading",
    [
        "Scaffold no",
        "Required thickness (mm)",
        "Nominal thickness (mm)",
        "Corrosion rate (mm/y)",
        "Wall temperature (C)",
        "Insulation thickness (mm)",
        "Thickness gauge no.",
        "UT technician id",
        "Remaining life",
        "Elevation (m)",
        "Line 12",
    ],
)
def test_other_columns_that_are_not_read_stay_notes(heading: str) -> None:
    intake = read((*LONG, heading), (*WHO, 1, DAY, 10.2, 3.8))
    assert severity(intake) == [("F1", "note")]


def test_a_column_without_numbers_stays_a_note() -> None:
    assert severity(read((*LONG, "Reading taken"), (*WHO, 1, DAY, 10.2, "on pipe"))) == [("F1", "note")]


def test_a_heading_that_is_a_serial_number_of_a_date_is_named_with_its_date() -> None:
    intake = read((*WIDE, "2011-03-01 (mm)", 43466), (*WHO, 1, 11.0, 3.8))
    assert aside(intake) == [  # 43466 days from 1899-12-30 are 2019-01-01
        (
            "E1",
            "the heading '43466' is a number, not a date (2019-01-01 if it is a date serial): write the date of the "
            "readings as year-month-day, or the name of a known column",
        )
    ]
    number = read((*WIDE, "2011-03-01 (mm)", 99999), (*WHO, 1, 11.0, 3.8))
    assert severity(number) == [("E1", "note")]


def test_a_survey_that_states_nothing_but_minima_says_so() -> None:
    intake = read((*WIDE, "MIN 2011-03-01 (mm)", "MIN 2019-03-01 (mm)"), (*WHO, 1, 11.0, 3.8))
    assert aside(intake) == [
        (
            "D1",
            "'MIN 2011-03-01 (mm)': only a minimum is stated, not the readings: enter the readings with their places",
        ),
        (
            "E1",
            "'MIN 2019-03-01 (mm)': only a minimum is stated, not the readings: enter the readings with their places",
        ),
    ]


def test_two_headings_for_the_thickness_leave_the_readings_of_the_second_aside() -> None:
    intake = read((*LONG[:4], "Thickness", "Thk (mm)"), (*WHO, 1, DAY, "10.2 mm", 3.8))
    assert aside(intake) == [("F1", "column E1 already gives the thickness: remove or rename this one")]


def test_the_second_column_under_a_merged_heading_is_set_aside() -> None:
    intake = read((*LONG, None), (*WHO, 1, DAY, 10.2, 3.8), merge=["E1:F1"])
    assert len(readings(intake)) == 1
    assert aside(intake) == [
        (
            "F2",
            "the heading 'Thickness (mm)' is merged over E1:F1 and only its first column is read: give each column its "
            "own heading",
        )
    ]


def test_the_second_column_under_a_merged_date_is_set_aside() -> None:
    intake = read(
        (*WIDE, "2011-03-01 (mm)", None, "2019-03-01 (mm)", None),
        (*WHO, 1, 11, 11, 10.5, 3.8),
        merge=["D1:E1", "F1:G1"],
    )
    assert [cell for cell, _ in aside(intake)] == ["E2", "G2"]


@pytest.mark.parametrize("heading", ["Reading mm", "Thk", date(2019, 5, 3), 43588, "May 2019"])
def test_a_sheet_of_what_looks_like_readings_under_headings_nobody_knows_is_set_aside(heading: object) -> None:
    intake = read(("Vsl", "Spot", heading), ("Q-1", "a", 3.5), ("Q-1", "b", 3.25))
    assert len(intake.rows("reading")) == 0
    assert [cell for cell, _ in aside(intake)] == ["C1"]
    assert "looks like readings" in aside(intake)[0][1]


def test_whole_numbers_under_a_word_for_readings_are_enough() -> None:
    assert severity(read(("Vsl", "Spot", "Reading"), (), ("", "", "mm"), ("Q-1", "a", 3))) == [("C1", "set aside")]


def test_other_sheets_without_a_table_stay_notes() -> None:
    rows = (("Thickness readings of the year",), ("Costs", date(2019, 5, 3)), ("Scaffold", 12), ("Day of reading", "x"))
    assert severity(read(*rows)) == [("", "note")]
