"""Titles without a colon: one that names a vessel gives its tag, one that may name another leaves it open."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from pipeline.sheets import Intake
from tests.test_sheets_intake import DAY, account, ledger, read, readings

HEADER = ("Location", "Date", "Thickness (mm)")
TOP = (("Vessel: A-1",), ("Component: Shell",), HEADER, ("1", DAY, 11.0), ("2", DAY, 11.5), ())
READ_TOP = [("A-1", "1", 11.0), ("A-1", "2", 11.5)]


def pages(*below: Sequence[object], top: Sequence[Sequence[object]] = TOP) -> Intake:
    intake = read(*top, *below)
    account(intake)
    return intake


def found(intake: Intake) -> list[tuple[object, ...]]:
    return [(row[0], row[2], row[5]) for row in readings(intake)]


def aside(intake: Intake) -> list[tuple[str, str]]:
    return [(cell, reason) for cell, _, reason, _, severity in ledger(intake) if severity == "set aside"]


def open_title(text: str, cell: str, name: str = "Vessel", said: str = "A-1", write: str = "TAG") -> str:
    return (
        f"'{text}' in {cell} may name another {name.lower()} than '{said}': write '{name}: {write}' there, or "
        f"'{name}: {said}' if it is the same"
    )


# ------------------------------------------------------------------------------------ above a header that comes again


@pytest.mark.parametrize(
    "title",
    ["Vessel A-2", "Drum A-2", "Vessel No. A-2", "Item A-2", "Tag: A-2", "UT survey of vessel A-2", "Equipment # A-2"],
)
def test_a_title_that_names_a_vessel_gives_its_tag(title: str) -> None:
    intake = pages((title,), HEADER, ("7", DAY, 3.8))
    assert found(intake) == [*READ_TOP, ("A-2", "7", 3.8)]
    assert aside(intake) == []


@pytest.mark.parametrize(
    "title",
    [
        "A-2",
        "UT survey of A-2",
        "Sour water stripper",
        "Vessels A-1 and A-2",
        "Drum C-2 boot",
        "Page 2 A-2",
        "Sphere",
        "Shell A-2",
    ],
)
def test_a_title_that_may_name_another_vessel_leaves_it_open(title: str) -> None:
    intake = pages((title,), HEADER, ("7", DAY, 3.8))
    assert found(intake) == READ_TOP
    assert aside(intake) == [("C9", open_title(title, "A7"))]


@pytest.mark.parametrize(
    "title",
    [
        "A-1",
        "Vessel A-1",
        "A-1 (continued)",
        "Vessel A-1 cont'd, page 2 of 3",
        "page 2",
        "Page 2 of 3",
        "continued",
        "Thickness readings",
        "Inspection 2019",
        "UT survey of A-1, May 2019",
        "Notes: probe 5 MHz",
        "* taken through paint",
        "Vessel data",
        "Report no. 2019-17",
        "Job 4711, rev. 2",
        "p. 2",
        "2/3",
        "All readings by pulse echo, probe 5 MHz",
    ],
)
def test_a_page_that_goes_on_is_that_of_the_same_vessel(title: str) -> None:
    intake = pages((title,), HEADER, ("7", DAY, 3.8))
    assert found(intake) == [*READ_TOP, ("A-1", "7", 3.8)]
    assert aside(intake) == []


def test_the_same_title_on_every_page_says_nothing_new() -> None:
    top = (("Sour water stripper C-101, sheet 1 of 2",), *TOP)
    intake = pages(("Sour water stripper C-101, sheet 2 of 2",), HEADER, ("7", DAY, 3.8), top=top)
    assert found(intake) == [*READ_TOP, ("A-1", "7", 3.8)]


def test_each_title_counts_up_to_the_next() -> None:
    intake = pages(
        ("Vessel A-2",),
        HEADER,
        ("7", DAY, 3.8),
        (),
        ("A-3",),
        HEADER,
        ("8", DAY, 3.9),
        (),
        ("Vessel A-1",),
        HEADER,
        ("9", DAY, 11.0),
    )
    assert found(intake) == [("A-1", "1", 11.0), ("A-1", "2", 11.5), ("A-1", "9", 11.0), ("A-2", "7", 3.8)]
    assert aside(intake) == [("C13", open_title("A-3", "A11", said="A-2"))]


def test_a_tag_and_a_name_over_a_page_leave_the_vessel_open() -> None:
    intake = pages(("A-2", "Reflux drum"), HEADER, ("7", DAY, 3.8))
    assert found(intake) == READ_TOP
    assert ("C9", open_title("A-2 - Reflux drum", "A7")) in aside(intake)


def test_a_column_of_tags_needs_no_title() -> None:
    header = ("Asset", *HEADER)
    intake = read(header, ("A-1", "1", DAY, 11.0), (), ("Sour water stripper",), header, ("A-1", "2", DAY, 11.5))
    assert found(intake) == READ_TOP
    assert ledger(intake) == []


def test_a_title_leaves_the_component_of_the_label_open_too() -> None:
    header = ("Asset", *HEADER)
    intake = read(
        ("Component: Shell",), header, ("A-1", "1", DAY, 11.0), (), ("Bottom head",), header, ("A-1", "2", DAY, 3.8)
    )
    assert found(intake) == READ_TOP[:1]
    assert aside(intake) == [("D7", open_title("Bottom head", "A5", "Component", "Shell", "NAME"))]


@pytest.mark.parametrize("title", ["Bottom head", "Nozzle N1", "Shell 2", "Heads", "Tube side channel"])
def test_a_title_that_names_a_part_leaves_the_part_open_and_the_vessel_as_it_is(title: str) -> None:
    intake = pages((title,), HEADER, ("7", DAY, 3.8))
    assert found(intake) == READ_TOP
    assert aside(intake) == [("C9", open_title(title, "A7", "Component", "Shell", "NAME"))]
    register = pages((title,), ("Component", "Kind"), ("Shell 2", "shell"))
    assert [row["asset"] for row in register.rows("field") if row["field"] == "kind"] == ["A-1"]


def test_a_title_right_below_the_rows_counts_too() -> None:
    for header in (HEADER, (*HEADER, "Remark")):
        intake = pages(("Sour water stripper",), header, ("7", DAY, 3.8), top=TOP[:-1])
        assert found(intake) == READ_TOP
        assert ("C8", open_title("Sour water stripper", "A6")) in aside(intake)


def test_a_place_without_a_reading_at_the_foot_of_a_page_is_no_title() -> None:
    top = (("Vessel: A-1",), ("Component: Shell",), ("CML", "2011 (mm)", "2019 (mm)"), ("N-1", 11.0, 10.0))
    intake = pages(("N-2",), top[2], ("N-3", 11.0, 10.5), top=top)
    assert len(readings(intake)) == 4
    assert aside(intake) == []


# ------------------------------------------------------------------------------------------- above another header


def test_a_title_over_another_table_counts_against_the_label_of_the_sheet() -> None:
    other = (*HEADER, "Remark")
    assert found(pages(("Vessel A-2",), other, ("7", DAY, 3.8, "x"))) == [*READ_TOP, ("A-2", "7", 3.8)]
    intake = pages(("A-2",), other, ("7", DAY, 3.8, "x"))
    assert found(intake) == READ_TOP
    assert aside(intake) == [("C9", open_title("A-2", "A7"))]
    assert found(pages(("Thickness readings",), other, ("7", DAY, 3.8, "x"))) == [*READ_TOP, ("A-1", "7", 3.8)]


def test_a_title_over_the_first_table_may_name_its_vessel() -> None:
    intake = pages(top=(("Thickness survey",), ("Vessel A-1",), *TOP[1:]))
    assert found(intake) == READ_TOP


# ---------------------------------------------------------------------------------------------- between the rows


def test_a_tag_alone_between_the_rows_counts_for_the_rows_below_it() -> None:
    assert found(pages(("Vessel A-2",), ("1", DAY, 3.8))) == [*READ_TOP, ("A-2", "1", 3.8)]
    intake = pages(("A-2",), ("1", DAY, 3.8))
    assert found(intake) == READ_TOP
    assert aside(intake) == [("C8", open_title("A-2", "A7"))]


def test_a_place_without_a_reading_is_no_title() -> None:
    top = (("Vessel: A-1",), ("Component: Shell",), ("CML", "2011 (mm)", "2019 (mm)"))
    intake = pages(("N-1", 11.0, 10.0), ("N-2",), ("N-3", 11.0, 10.5), top=top)
    assert len(readings(intake)) == 4
    assert aside(intake) == []
