"""What is stated and must not vanish: a minimum without its readings, units that contradict each other or name one
quantity, and columns of numbers that nobody reads."""

from __future__ import annotations

from pipeline.sheets import Intake
from tests.test_sheets_intake import DAY, LONG, account, read, readings

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
