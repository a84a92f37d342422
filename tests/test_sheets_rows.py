"""Which rows are data: a name that begins with 'Total', a row worked out from others, a place written with a colon."""

from __future__ import annotations

import pytest

from tests.test_sheets_intake import DAY, LONG, account, ledger, read, readings

ONE = ("D-201", "Shell 1", "1", DAY, 10.2)
TWO = ("D-201", "Shell 1", "2", DAY, 10.4)
READ_ONE = ("D-201", "Shell 1", "1", DAY, "day", 10.2)
READ_TWO = ("D-201", "Shell 1", "2", DAY, "day", 10.4)


def aside(*rows: tuple[object, ...]) -> list[tuple[str, str]]:
    intake = read(*rows)
    account(intake)
    return [(cell, reason) for cell, _, reason, _, severity in ledger(intake) if severity == "set aside"]


def notes(*rows: tuple[object, ...]) -> list[tuple[str, str]]:
    return [(cell, reason) for cell, _, reason, _, severity in ledger(read(*rows)) if severity == "note"]


# ---------------------------------------------------------------------------------------------------------- totals


@pytest.mark.parametrize("first", ["Total condenser channel", "Total", "Minimum reading", "Average"])
def test_a_row_that_names_its_place_is_data_whatever_its_first_cell_says(first: str) -> None:
    intake = read(("Description", *LONG), (first, *ONE), ("Shell side", *TWO))
    account(intake)
    assert readings(intake) == [READ_ONE, READ_TWO]


def test_a_vessel_whose_service_begins_with_total_is_a_vessel() -> None:
    intake = read(("Service", "Asset", "MAWP (psi)"), ("Total reflux drum", "J-1", 150), ("gas", "J-2", 150))
    account(intake)
    assert [row["asset"] for row in intake.rows("field") if row["field"] == "mawp"] == ["J-1", "J-2"]
    assert ledger(intake) == []


def test_a_tag_that_begins_with_total_is_a_tag() -> None:
    intake = read(("Asset", "Service"), ("Total Reflux Drum", "gas"), ("J-2", "gas"))
    assert [row["word"] for row in intake.rows("field") if row["field"] == "asset"] == ["Total Reflux Drum", "J-2"]


def test_totals_are_passed_over_with_a_line() -> None:
    intake = read(("Asset", "Nominal thickness (mm)", "Component"), ("D-201", 500, "S"), ("Grand total:", 500, None))
    account(intake)
    assert {row["asset"] for row in intake.rows("field")} == {"D-201"}
    assert ledger(intake) == [
        (
            "A3",
            "Grand total:",
            "the row is taken for a sum of others, for it names nothing: give its tag if it is data",
            "what stands beside 'Grand total:' is not read",
            "note",
        )
    ]


@pytest.mark.parametrize("text", ["Total reflux drum", "MIN 3.8", "Total of 12 readings"])
def test_a_text_alone_that_is_taken_for_a_sum_has_its_line(text: str) -> None:
    assert notes((*LONG,), ONE, (text,)) == [
        ("A3", "the row is taken for a sum of others, for it names nothing: give its tag if it is data")
    ]


def test_a_row_called_total_with_a_bare_number_for_a_tag_is_in_doubt() -> None:
    assert aside(("Description", "Asset", "MAWP (psi)"), ("x", "D-201", 150), ("Total", 2, 300)) == [
        (
            "A3",
            "the row begins with 'Total' and names only numbers, which may be counts or tags: clear the row, or write "
            "something else in A3",
        ),
        ("C3", "what A3 says cannot be used: see the entry about A3"),
    ]


def test_a_word_for_a_sum_is_no_name() -> None:
    assert aside(("Asset", "Component", "Nominal thickness (mm)"), ("D-201", "Average", 500)) == [
        ("B2", "'Average' is a word for what is worked out from others, not a name: give the row its name or clear it"),
        ("C2", "what B2 says cannot be used: see the entry about B2"),
    ]


# ------------------------------------------------------------------------------- readings worked out from other rows


def test_a_row_that_gives_the_smallest_or_the_mean_of_others_is_no_place() -> None:
    # (10.2 + 10.4) / 2 = 10.3
    rows = (LONG, ONE, TWO, ("D-201", "Shell 1", "MIN", DAY, 10.2), ("D-201", "Shell 1", "AVG", DAY, 10.3))
    intake = read(*rows)
    account(intake)
    assert readings(intake) == [READ_ONE, READ_TWO]
    assert aside(*rows) == []
    assert notes(*rows) == [
        ("C4", "'MIN' is worked out from other rows, and agrees with them"),
        ("C5", "'AVG' is worked out from other rows, and agrees with them"),
    ]


def test_a_smallest_reading_that_no_row_gives_is_set_aside() -> None:
    rows = (LONG, ONE, TWO, ("D-201", "Shell 1", "MIN", DAY, 3.1), ("D-202", "Shell 1", "MIN", DAY, 3.2))
    assert readings(read(*rows)) == [READ_ONE, READ_TWO]
    assert aside(*rows) == [
        ("E4", "'MIN' says 3.1, but the smallest of its readings is 10.2 mm: check both"),
        ("E5", "only a minimum is stated, not the readings: enter the readings with their places"),
    ]


def test_a_row_of_smallest_readings_below_a_wide_survey_is_checked_column_by_column() -> None:
    rows = (
        ("Asset", "Component", "CML", "2011-03-01 (mm)", "2016-03-01 (mm)"),
        ("D-201", "Shell 1", 1, 11.9, 11.4),
        ("D-201", "Shell 1", 2, 11.7, 11.5),
        ("Minimum", None, None, 11.7, 3.1),
    )
    assert len(readings(read(*rows))) == 4
    assert aside(*rows) == [("E4", "'Minimum' says 3.1, but the smallest of its readings is 11.4 mm: check both")]


def test_sums_of_parts_of_a_survey_are_checked_against_their_part() -> None:
    other = ("D-202", "Shell 1", "1", DAY, 9.0)
    rows = (LONG, ONE, TWO, ("MIN", None, None, None, 10.2), other, ("MIN", None, None, None, 9.0))
    assert aside(*rows) == []
    assert len(readings(read(*rows))) == 3


# ----------------------------------------------------------------------------------------------------------- notes


def test_a_place_written_with_a_colon_and_one_reading_is_data() -> None:
    rows = (
        ("Asset: D-201",),
        ("Component: Shell 1",),
        ("CML", "2011 (mm)", "2019 (mm)"),
        ("1:", 11, 10),
        ("2:", None, 3.8),
    )
    assert [row[2:6:3] for row in readings(read(*rows))] == [("1:", 11.0), ("1:", 10.0), ("2:", 3.8)]


@pytest.mark.parametrize("place", ["1) top", "*5", "3:"])
def test_a_reading_typed_as_text_is_one(place: str) -> None:
    rows = (
        ("Asset: D-201",),
        ("Component: Shell 1",),
        ("CML", "2011 (mm)", "2019 (mm)"),
        ("1", 11, 10),
        (place, None, "3.8"),
    )
    intake = read(*rows)
    account(intake)
    assert sorted(row[5] for row in readings(intake)) == [3.8, 10.0, 11.0]  # type: ignore[type-var]


@pytest.mark.parametrize("place", ["see 3", "Key 4", "Checked:"])
def test_a_row_that_begins_like_a_note_and_holds_a_number_is_in_doubt(place: str) -> None:
    rows = (("Asset: D-201",), ("Component: Shell 1",), ("CML", "2019 (mm)", "2021 (mm)"), ("1", 11), (place, "3.8"))
    assert [row[5] for row in readings(read(*rows))] == [11.0]
    assert [cell for cell, _ in aside(*rows)] == ["A5", "B5"]


def test_a_date_at_the_foot_is_a_note() -> None:
    rows = (("Asset: D-201",), ("Component: Shell 1",), ("CML", "2019 (mm)", "2021 (mm)"), ("1", 11), ("Date:", 2019))
    assert [row[5] for row in readings(read(*rows))] == [11.0]
    assert aside(*rows) == []
