"""Merged cells: design data and names count for every row they cover, a reading for no place it may not be from."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from pipeline.sheets import Intake
from tests.test_sheets_intake import DAY, LONG, account, ledger, read, readings

PARTS = ("Asset", "Component", "Kind", "Structural minimum (mm)", "Specific gravity")
WIDE = ("Asset", "Component", "CML", "2011-03-01 (mm)", "2019-03-01 (mm)")


def facts(intake: Intake, field: str) -> list[tuple[object, ...]]:
    return [
        (row["asset"], row["component"], row["number"] if row["number"] is not None else row["word"], row["cell"])
        for row in intake.rows("field")
        if row["field"] == field
    ]


def merged(*rows: Sequence[object], merge: Sequence[str]) -> Intake:
    intake = read(*rows, merge=merge)
    account(intake)
    return intake


# ----------------------------------------------------------------------------------------------------- design data


def test_design_data_count_for_every_row_they_are_merged_over() -> None:
    intake = merged(
        PARTS,
        ("D-1", "Course 1", "shell", 10.0, 1.1),
        ("D-1", "Course 2", "shell", None, None),
        ("D-1", "Course 3", "shell", None, 0.9),
        merge=["D2:D4", "E2:E3"],
    )
    assert facts(intake, "structural_minimum") == [
        ("D-1", "Course 1", 10.0, "D2"),
        ("D-1", "Course 2", 10.0, "D2"),
        ("D-1", "Course 3", 10.0, "D2"),
    ]
    assert [fact[2] for fact in facts(intake, "specific_gravity")] == [1.1, 1.1, 0.9]
    assert ledger(intake) == [
        ("D2", "10", "merged over several rows: D2:D4", "it counts for each of the rows it covers", "note"),
        ("E2", "1.1", "merged over several rows: E2:E3", "it counts for each of the rows it covers", "note"),
    ]


def test_a_pressure_and_an_area_merged_over_vessels_are_those_of_each() -> None:
    intake = merged(
        ("Asset", "Area", "MAWP (psi)"), ("W-1", "North", 300), ("W-2", None, None), merge=["B2:B3", "C2:C3"]
    )
    assert [fact[::2] for fact in facts(intake, "area")] == [("W-1", "North"), ("W-2", "North")]
    assert [(fact[0], round(float(str(fact[2])), 4)) for fact in facts(intake, "mawp")] == [
        ("W-1", 2.0684),  # 300 psi
        ("W-2", 2.0684),
    ]


def test_a_merged_cell_that_cannot_be_read_is_unknown_for_each_of_its_rows() -> None:
    intake = merged(PARTS, ("D-1", "A", "shell", "tbd", 1), ("D-1", "B", "shell", None, 1), merge=["D2:D3"])
    rows = [row for row in intake.rows("field") if row["field"] == "structural_minimum"]
    assert [(row["component"], row["unreadable"]) for row in rows] == [("A", True), ("B", True)]
    assert [(row[0], row[3]) for row in ledger(intake) if row[4] == "set aside"] == [
        ("D2", "structural minimum of D-1 A is not used"),
        ("D2", "structural minimum of D-1 B is not used"),
    ]


def test_a_value_merged_over_two_columns_is_not_known_of_the_second() -> None:
    intake = merged(
        ("Asset", "Component", "Kind", "Structural minimum (mm)", "Nominal thickness (mm)"),
        ("D-1", "A", "shell", 10.0, None),
        merge=["D2:E2"],
    )
    assert [fact[2] for fact in facts(intake, "structural_minimum")] == [10.0]
    (row,) = [row for row in intake.rows("field") if row["field"] == "nominal_thickness"]
    assert row["unreadable"]
    assert ledger(intake) == [
        (
            "D2",
            "10",
            "merged over D2:E2: it counts for its first column only, write the value under each heading",
            "nominal thickness of D-1 A is not used",
            "warning",
        )
    ]


def test_what_an_inspection_found_may_be_merged_over_vessels() -> None:
    intake = merged(
        ("Asset", "Kind", "Date", "Result"),
        ("D-1", "internal", DAY, "planned"),
        ("D-2", None, None, None),
        ("D-3", "internal", DAY, "good"),
        merge=["B2:B3", "C2:C3", "D2:D3"],
    )
    assert {row["asset"] for row in intake.rows("field")} == {"D-3"}


def test_a_thickness_of_an_area_merged_over_its_points_is_that_of_none() -> None:
    intake = merged(
        ("Asset", "Component", "Corroded area", "Date", "Thickness (mm)", "Axial position (mm)"),
        ("D-1", "A", "LTA", DAY, 5.0, 0),
        ("D-1", "A", None, None, None, 10),
        ("D-1", "A", None, None, 6.0, 20),
        merge=["C2:C4", "D2:D4", "E2:E3"],
    )
    assert [fact[2] for fact in facts(intake, "thickness")] == [6.0]
    assert [fact[2] for fact in facts(intake, "corroded_area")] == ["LTA"] * 3
    assert [(row[0], row[2]) for row in ledger(intake) if row[4] == "set aside"] == [
        ("E2", "merged over E2:E3: which of its places was measured? Write each value in a cell of its own")
    ]


# -------------------------------------------------------------------------------------------------------- readings

DOUBT = "merged over {}: which of its places was measured? Write each value in a cell of its own"


def test_a_reading_merged_over_two_places_is_that_of_neither() -> None:
    intake = merged(
        WIDE, ("D-1", "A", 1, 11.0, 7.0), ("D-1", "A", 2, 11.5, None), ("D-1", "A", 3, 11.6, 9.0), merge=["E2:E3"]
    )
    assert [(row[2], row[5]) for row in readings(intake)] == [("1", 11.0), ("2", 11.5), ("3", 11.6), ("3", 9.0)]
    assert ledger(intake) == [
        (
            "E2",
            "7",
            DOUBT.format("E2:E3"),
            "thickness of D-1 A 1 and D-1 A 2 on 2019-03-01 is not used",
            "set aside",
        )
    ]


def test_a_reading_of_a_long_survey_merged_over_two_places_is_that_of_neither() -> None:
    intake = merged(
        LONG,
        ("D-1", "A", 1, DAY, 7.0),
        ("D-1", "A", 2, DAY, None),
        ("D-1", "A", 3, DAY, 9.0),
        ("D-1", "A", 4, DAY, 9.5),
        merge=["E2:E3"],
    )
    assert [(row[2], row[5]) for row in readings(intake)] == [("3", 9.0), ("4", 9.5)]
    assert intake.rows("not_measured") == []
    assert [(row[0], row[2], row[4]) for row in ledger(intake)] == [("E2", DOUBT.format("E2:E3"), "set aside")]


def test_a_reading_merged_over_two_dates_is_that_of_neither() -> None:
    intake = merged(WIDE, ("D-1", "A", 1, 11.0, None), ("D-1", "A", 2, 11.5, 11.4), merge=["D2:E2"])
    assert [(row[2], row[5]) for row in readings(intake)] == [("2", 11.5), ("2", 11.4)]
    assert [(row[0], row[2], row[4]) for row in ledger(intake)] == [("D2", DOUBT.format("D2:E2"), "set aside")]


def test_a_reason_merged_over_places_counts_for_each() -> None:
    intake = merged(WIDE, ("D-1", "A", 1, 11.0, "no access"), ("D-1", "A", 2, 11.5, None), merge=["E2:E3"])
    assert [(row["location"], row["reason"], row["cell"]) for row in intake.rows("not_measured")] == [
        ("1", "no access", "E2"),
        ("2", "no access", "E2"),
    ]


def test_rows_of_two_lines_are_read_once() -> None:
    intake = merged(
        LONG,
        ("D-1", "A", 1, DAY, 7.0),
        (),
        ("D-1", "A", 2, DAY, 9.0),
        (),
        merge=[f"{column}{row}:{column}{row + 1}" for column in "ABCDE" for row in (2, 4)],
    )
    assert [(row[2], row[5]) for row in readings(intake)] == [("1", 7.0), ("2", 9.0)]
    assert ledger(intake) == []


def test_a_reading_merged_over_rows_of_one_place_is_read_once() -> None:
    intake = merged(
        (*LONG, "Remarks"),
        ("D-1", "A", 1, DAY, 7.0, "first"),
        ("D-1", "A", 1, DAY, None, "second"),
        merge=["E2:E3"],
    )
    assert [(row[2], row[5]) for row in readings(intake)] == [("1", 7.0)]
    assert ledger(intake) == []


@pytest.mark.parametrize("rows", [1, 60])
def test_a_unit_a_weld_distance_and_a_plan_count_for_every_row_they_are_merged_over(rows: int) -> None:
    header = ("Asset", "Component", "Location", "Date", "Thickness", "Unit", "Distance to weld (mm)", "Remarks")
    others = [("D-1", "B", place, DAY, 20.0, "mm", 30, "ok") for place in range(rows)]
    intake = merged(
        header,
        *others,
        ("D-1", "A", 1, DAY, 0.5, "in", 20, None),
        ("D-1", "A", 2, DAY, 0.6, None, None, None),
        ("D-1", "A", 3, DAY, 0.7, "in", None, "planned"),
        ("D-1", "A", 4, DAY, 0.8, "in", None, None),
        merge=[f"F{rows + 2}:F{rows + 3}", f"G{rows + 2}:G{rows + 3}", f"H{rows + 4}:H{rows + 5}"],
    )
    found = [(row[2], row[5]) for row in readings(intake) if row[1] == "A"]
    assert found == [("1", 12.7), ("2", pytest.approx(15.24, rel=1e-14))]
    assert [fact[1:3] for fact in facts(intake, "distance_to_weld")][-2:] == [("A", 20.0), ("A", 20.0)]
