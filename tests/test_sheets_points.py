"""Several readings to a date, dates in every habit, tables side by side: each reading under the right name and date."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.basis import Basis, default_basis
from pipeline.sheets import Intake, read_files
from pipeline.sheets.points import read_point

AS_OF = date(2025, 6, 30)
DAY, LATER = date(2019, 5, 3), date(2021, 5, 3)
WHO = ("D-201", "Shell 1")
IDENTITY = ("Asset", "Component", "CML")


def read(*rows: Sequence[object], merge: Sequence[str] = (), headings: dict[str, str] | None = None) -> Intake:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in rows:
        sheet.append(list(row))
    for cells in merge:
        sheet.merge_cells(cells)
    content = BytesIO()
    book.save(content)
    basis = Basis(default_basis().policies, headings=headings or {})
    return read_files([("a.xlsx", content.getvalue())], basis, AS_OF)


def found(intake: Intake) -> list[tuple[object, ...]]:
    names = ("location", "read_on", "date_precision", "thickness_mm", "cell")
    return sorted(tuple(row[name] for name in names) for row in intake.rows("reading"))


def lines(intake: Intake, severity: str) -> list[tuple[str, str]]:
    return [(row["cell"], row["reason"]) for row in intake.rows("ledger") if row["severity"] == severity]


UNCLEAR = "no date or point stands clearly over this column"
BOTH_DATES = [
    ("1 E", DAY, "day", 10.1, "E4"),
    ("1 E", LATER, "day", 9.9, "G4"),
    ("1 N", DAY, "day", 10.2, "D4"),
    ("1 N", LATER, "day", 10.0, "F4"),
]


@pytest.mark.parametrize(
    ("upper", "lower", "merge"),
    [
        ((None, None, None, DAY, None, LATER), (*IDENTITY, "N", "E", "North", "East"), ("D2:E2", "F2:G2")),
        ((None, None, None, DAY, None, LATER), (*IDENTITY, "N", "E", "N", "E"), ()),
        ((*IDENTITY, DAY, None, LATER), (None, None, None, "N", "E", "N", "E"), ("A2:A3", "D2:E2", "F2:G2")),
        ((*IDENTITY, DAY, None, LATER), (None, None, None, "N", "E", "N", "E"), ()),
        ((None,), (*IDENTITY, "2019-05-03 N", "2019-05-03 (E)", "N 2021-05-03", "2021-05-03: East"), ()),
        (("Survey of 2019 and 2021",), (*IDENTITY, "2019-05-03 N", "2019-05-03 E", "3 May 2021 N", "3-May-2021/E"), ()),
    ],
)
def test_points_and_dates(upper: Sequence[object], lower: Sequence[object], merge: Sequence[str]) -> None:
    intake = read(["All readings in mm"], upper, lower, [*WHO, 1, 10.2, 10.1, 10.0, 9.9], merge=merge)
    assert found(intake) == BOTH_DATES
    assert lines(intake, "set aside") == []
    (table,) = intake.rows("sheet")
    named = {column["cell"]: column.get("location") for column in json.loads(table["columns"])}
    assert named["D3"] == named["F3"] == "<location> N" and named["A3"] is None
    ((_, note),) = lines(intake, "note")
    assert note.startswith("each of the points N, E is read as a location of its own")


def test_points_above_their_dates() -> None:
    upper, lower = (
        [None, None, None, "N", None, "E"],
        [*IDENTITY, "2019-05-03", "2021-05-03", "2019-05-03", "2021-05-03"],
    )
    intake = read(["All in mm"], upper, lower, [*WHO, 1, 10.2, 10.0, 10.1, 9.9], merge=["D2:E2", "F2:G2"])
    assert [row[:4] for row in found(intake)] == [row[:4] for row in BOTH_DATES]


def test_a_date_in_the_middle_of_its_columns_is_not_settled_by_guess() -> None:
    upper = [None, None, None, None, DAY, None, None, LATER, None]
    intake = read(["All in mm"], upper, [*IDENTITY, "N", "E", "S", "N", "E", "S"], [*WHO, 1, 10, 10, 10, 9, 9, 9])
    assert found(intake) == []
    assert [cell for cell, reason in lines(intake, "set aside") if UNCLEAR in reason] == [
        "D4",
        "E4",
        "F4",
        "G4",
        "H4",
        "I4",
    ]


def test_a_long_survey_with_a_column_for_each_point() -> None:
    header = [*IDENTITY, "Date", "0° (mm)", "90 deg (mm)", "3 o'clock (mm)", "MIN", "Avg"]
    intake = read(
        header,
        [*WHO, 1, DAY, 10.2, 10.1, "no access", 10.1, 10.15],
        [*WHO, 2, DAY, 9.2, None, 9.4, 9.1, 9.3],
        [*WHO, 3, DAY, None, None, None],
    )
    assert [row[:1] + row[3:] for row in found(intake)] == [
        ("1 0°", 10.2, "E2"),
        ("1 90°", 10.1, "F2"),
        ("2 0°", 9.2, "E3"),
        ("2 3 o'clock", 9.4, "G3"),
    ]
    assert [(row["location"], row["reason"]) for row in intake.rows("not_measured")] == [
        ("1 3 o'clock", "no access"),
        ("3 0°", "no value"),
        ("3 90°", "no value"),
        ("3 3 o'clock", "no value"),
    ]
    assert lines(intake, "warning") == [
        ("H3", "'MIN' says 9.1, but the smallest of its readings is 9.2 mm: check both"),
    ]


def test_a_sum_under_a_date_is_checked_against_the_readings_of_that_date() -> None:
    upper = [None, None, None, DAY, None, None, LATER, None, None]
    lower = [*IDENTITY, "Top", "Bottom", "MAX", "Top", "Bottom", "AVG"]
    rows = [[*WHO, number, 10.2, 10.1, 10.2, 9.0, 9.5, 9.25] for number in range(1, 80)]
    rows[41][5] = 10.9
    intake = read(["All in mm"], upper, lower, *rows, merge=["D2:F2", "G2:I2"])
    assert len(found(intake)) == 79 * 4
    assert lines(intake, "warning") == [
        ("F45", "'2019-05-03 MAX' says 10.9, but the largest of its readings is 10.2 mm: check both"),
    ]


def test_stress_and_efficiency_are_not_south_and_east() -> None:
    intake = read(["Asset", "Component", "Type", "S (psi)", "E"], ["D-1", "S1", "shell", 20000, 0.85])
    assert [row["kind"] for row in intake.rows("sheet")] == ["components"]
    intake = read([*IDENTITY, "Date", "S", "E"], ["D-1", "S1", 1, DAY, 137.9, 0.85])
    assert intake.rows("reading") == []


def test_the_halves_of_a_merged_heading() -> None:
    header = (["Tag", "Component", "Type", "Joint efficiency"], [None, None, None, "long.", "circ."])
    intake = read(*header, ["D-1", "S1", "shell", 0.85, 0.7], merge=["A1:A2", "B1:B2", "C1:C2", "D1:E1"])
    numbers = {row["field"]: row["number"] for row in intake.rows("field") if row["number"] is not None}
    assert numbers == {"joint_efficiency_longitudinal": 0.85, "joint_efficiency_circumferential": 0.7}


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("N", "N"),
        ("south-west", "SW"),
        ("360°", "0°"),
        ("90 deg.", "90°"),
        ("12 o'clock", "12 o'clock"),
        ("b", "B"),
        *[(text, None) for text in ("13 o'clock", "400°", "Nozzle", "AVG", "", "E1")],
    ],
)
def test_what_is_a_point(text: str, point: str | None) -> None:
    assert read_point(text) == point


# ----------------------------------------------------------------------------------------------------------- dates


def test_headings_that_are_no_dates_are_set_aside_until_the_plant_dates_them() -> None:
    rows = (["All in mm"], [*IDENTITY, "Baseline", "TA 2011", "3/2006", "Mar-16"], [*WHO, 1, 12.0, 11.5, 11.8, 11.0])
    intake = read(*rows)
    assert [row[1:4] for row in found(intake)] == [(date(2006, 3, 1), "month", 11.8), (date(2016, 3, 1), "month", 11.0)]
    (_, baseline), (_, outage) = lines(intake, "set aside")
    assert "'Baseline' is not a date" in baseline
    assert "'TA 2011' is not a date" in outage and '"TA 2011" = "2011-04-15"' in outage
    intake = read(*rows, headings={"ta 2011": "2011-04-15", "Baseline": "2001"})
    assert sorted(row[1:4] for row in found(intake))[:2] == [
        (date(2001, 1, 1), "year", 12.0),
        (date(2006, 3, 1), "month", 11.8),
    ]
    assert (date(2011, 4, 15), "day", 11.5) in [row[1:4] for row in found(intake)]
    assert lines(intake, "set aside") == []


def test_a_heading_mapped_to_a_date_may_have_points() -> None:
    rows = (["All in mm"], [*IDENTITY, "TA 2011 N", "TA 2011 S"], [*WHO, 1, 12.0, 11.5])
    intake = read(*rows, headings={"TA 2011": "2011-04-15"})
    assert [row[:2] for row in found(intake)] == [("1 N", date(2011, 4, 15)), ("1 S", date(2011, 4, 15))]


def test_a_heading_mapped_to_nothing_known_is_named() -> None:
    intake = read([*IDENTITY, "Date", "Thk (mm)"], headings={"TA 2011": "2011-13-45"})
    ((_, reason),) = lines(intake, "set aside")
    assert "names the column '2011-13-45', which does not exist" in reason and "or a date such as" in reason


@pytest.mark.parametrize(
    ("number_format", "precision", "on"),
    [("mmm-yy", "month", date(2016, 3, 1)), ("yyyy", "year", date(2016, 1, 1)), ("d mmm yy", "day", date(2016, 3, 9))],
)
def test_a_date_shown_without_its_day_is_known_no_better(number_format: str, precision: str, on: date) -> None:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in ([*IDENTITY, "Date", "Thk (mm)"], [*WHO, 1, date(2016, 3, 9), 10.2]):
        sheet.append(row)
    sheet["D2"].number_format = number_format
    content = BytesIO()
    book.save(content)
    intake = read_files([("a.xlsx", content.getvalue())], default_basis(), AS_OF)
    assert [row[1:3] for row in found(intake)] == [(on, precision)]


# ---------------------------------------------------------------------------------------------------- side by side


def test_tables_side_by_side_may_begin_in_different_rows() -> None:
    intake = read(
        ["All dimensions in mm"],
        [*IDENTITY, "2019-05-03"],
        [*WHO, 1, 10.2, None, *IDENTITY, "2021-05-03"],
        [*WHO, 2, 10.3, None, "D-202", "Head", 1, 8.1],
        [None, None, None, None, None, "D-202", "Head", 2, 8.2],
    )
    assert [row["kind"] for row in intake.rows("sheet")] == ["survey, wide"] * 2
    rows = sorted((row["asset"], row["location"], row["cell"]) for row in intake.rows("reading"))
    assert rows == [("D-201", "1", "D3"), ("D-201", "2", "D4"), ("D-202", "1", "I4"), ("D-202", "2", "I5")]


def test_tables_side_by_side_without_a_gap() -> None:
    half = ["Component", "CML", "2019-05-03 (mm)"]
    intake = read(["Vessel: D-201"], [*half, *half], ["S1", 1, 10.2, "S2", 1, 9.3], ["S1", 2, 10.1, "S2", 2, 9.2])
    rows = sorted((row["component"], row["location"], row["thickness_mm"]) for row in intake.rows("reading"))
    assert rows == [("S1", "1", 10.2), ("S1", "2", 10.1), ("S2", "1", 9.3), ("S2", "2", 9.2)]


def test_an_empty_column_does_not_cut_a_table() -> None:
    intake = read([*IDENTITY, None, "Date", None, "Thk (mm)"], [*WHO, 1, None, DAY, None, 10.2])
    assert found(intake) == [("1", DAY, "day", 10.2, "G2")]
    intake = read(["All in mm"], [*IDENTITY, None, "2019-05-03", "2021-05-03"], [*WHO, 1, None, 10.2, 10.1])
    assert len(found(intake)) == 2


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(400, 3000).map(lambda hundredths: hundredths / 100), min_size=1, max_size=6),
    st.lists(st.integers(400, 3000).map(lambda hundredths: hundredths / 100), min_size=1, max_size=6),
    st.integers(0, 4),
    st.integers(0, 4),
    st.integers(1, 3),
)
def test_beside_or_below_makes_no_difference(
    one: list[float], two: list[float], down_one: int, down_two: int, gap: int
) -> None:
    def table(component: str, walls: list[float], down: int) -> list[list[object]]:
        rows: list[list[object]] = [[] for _ in range(down)]
        return [*rows, [*IDENTITY, "Date", "Thk (mm)"], *(["D-1", component, n, DAY, w] for n, w in enumerate(walls))]

    left, right = table("S1", one, down_one), table("S2", two, down_two)
    height = max(len(left), len(right))
    beside = [
        [
            *(left[row] if row < len(left) and left[row] else [None] * 5),
            *[None] * gap,
            *(right[row] if row < len(right) else []),
        ]
        for row in range(height)
    ]
    below = [*left, [], [], *right]

    def values(intake: Intake) -> list[tuple[object, ...]]:
        assert lines(intake, "set aside") == []
        return sorted((row["component"], row["location"], row["thickness_mm"]) for row in intake.rows("reading"))

    wanted = sorted([("S1", str(n), w) for n, w in enumerate(one)] + [("S2", str(n), w) for n, w in enumerate(two)])
    assert values(read(*beside)) == values(read(*below)) == wanted


points = st.lists(
    st.tuples(
        st.integers(1, 5), st.sampled_from(["N", "E", "S", "W"]), st.sampled_from([DAY, LATER]), st.integers(400, 3000)
    ),
    min_size=1,
    max_size=20,
    unique_by=lambda row: row[:3],
)


@settings(max_examples=30, deadline=None)
@given(points)
def test_points_in_rows_in_columns_or_under_dates_make_no_difference(rows: list[tuple[int, str, date, int]]) -> None:
    values = {(number, point, on): hundredths / 100 for number, point, on, hundredths in rows}
    numbers = sorted({number for number, _, _, _ in rows})
    compass, dates = ["N", "E", "S", "W"], [DAY, LATER]
    wanted = sorted((f"{number} {point}", on, wall) for (number, point, on), wall in values.items())

    def read_and_list(*sheet: Sequence[object], merge: Sequence[str] = ()) -> list[tuple[object, ...]]:
        intake = read(*sheet, merge=merge)
        assert lines(intake, "set aside") == []
        return sorted((row["location"], row["read_on"], row["thickness_mm"]) for row in intake.rows("reading"))

    single = [[*WHO, f"{number} {point}", on, wall] for (number, point, on), wall in values.items()]
    assert read_and_list([*IDENTITY, "Date", "Thk (mm)"], *single) == wanted
    by_date = [
        [*WHO, number, on, *(values.get((number, point, on)) for point in compass)]
        for number in numbers
        for on in dates
    ]
    assert read_and_list([*IDENTITY, "Date", *(f"{point} (mm)" for point in compass)], *by_date) == wanted
    wide = [
        [*WHO, number, *(values.get((number, point, on)) for on in dates for point in compass)] for number in numbers
    ]
    in_one = [f"{on.isoformat()} {point}" for on in dates for point in compass]
    assert read_and_list(["All in mm"], [*IDENTITY, *in_one], *wide) == wanted
    upper = [None, None, None, DAY, None, None, None, LATER]
    in_two = (["All in mm"], upper, [*IDENTITY, *compass, *compass])
    assert read_and_list(*in_two, *wide, merge=["D2:G2", "H2:K2"]) == wanted
