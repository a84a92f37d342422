"""Corroded areas and pits: engineering basis 5, each number worked by hand or by another road."""

from __future__ import annotations

import math
import random
import shutil
from datetime import date
from itertools import pairwise
from pathlib import Path

import duckdb
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.basis import default_basis
from pipeline.errors import Problem
from pipeline.explain_area import explain_area
from pipeline.formulas import FORMULAS
from pipeline.publishing import open_results
from pipeline.sheets import read_files
from pipeline.sheets.entries import Typed, check_entry
from tests.plants import Rows, write_workbook
from tests.together import Together, Vessel

DAY = date(2024, 5, 1)
AS_OF = date(2026, 1, 1)
#: Inside diameter 48 in and 250 psi at S = 17500 psi and E = 0.85: with loss inside the outside radius 24.5 in stays:
#: t_req = 250 x 24.5 / (17500 x 0.85 + 0.4 x 250) = 6125 / 14975 = 0.409015 in; away from the weld (E = 1)
#: 6125 / 17600 = 0.348011 in.
ASSET = ("V-1", "gas", "North", date(2000, 1, 1), 250, 48, "A. Person")
SHELL = ("V-1", "Shell", "cylinder", 0.5, 0.05, 17500, 0.85)
T_REQ = 6125 / 14975
#: Two readings alike: no measurable loss, so that nothing is taken off for the time to the next inspection.
STEADY = (("V-1", "Shell", 1, date(2014, 5, 1), 0.5), ("V-1", "Shell", 1, DAY, 0.5))
AREAS = ("Asset", "Component", "Area", "Date", "Axial (in)", "Circ (in)", "Thickness (in)")
PITS = ("Asset", "Component", "Area", "Date", "Axial (in)", "Circ (in)", "Depth (in)", "Width (in)")


PLANT = Together(AS_OF)


def sheets_of(areas: Rows = (), pits: Rows = (), **more: Rows) -> dict[str, Rows]:
    """Return the sheets of a vessel: that above, unless `more` says otherwise."""
    sheets: dict[str, Rows] = {"assets": [ASSET], "components": [SHELL], "readings": STEADY, **more}
    if areas:
        sheets["areas"] = [AREAS, *areas]
    if pits:
        sheets["pits"] = [PITS, *pits]
    return sheets


def vessel(areas: Rows = (), pits: Rows = (), **more: Rows) -> Vessel:
    """Take a vessel into the plant that is built for all tests of this file at once."""
    return PLANT.vessel(**sheets_of(areas, pits, **more))


def line(thicknesses: tuple[float, ...], step: float = 2.0, area: str = "A1", around: float = 10.0) -> list[tuple]:
    """Readings along the axis, `step` inches apart."""
    return [("V-1", "Shell", area, DAY, step * place, around, t) for place, t in enumerate(thicknesses)]


def pit(axial: float | None, around: float | None, depth: float, width: float, area: str = "P1") -> tuple:
    return ("V-1", "Shell", area, DAY, axial, around, depth, width)


# ---- reading the sheets ---------------------------------------------------------------------------------------------


def kinds(folder: Path, heading: tuple[str, ...], row: tuple) -> list[str]:
    path = write_workbook(folder / "sheet.xlsx", {"of it": [heading, row]})
    intake = read_files([(path.name, path.read_bytes())], default_basis(), AS_OF)
    return [found["kind"] for found in intake.rows("sheet")]


@pytest.mark.parametrize(
    ("heading", "row", "kind"),
    [
        (AREAS, ("V-1", "Shell", "A1", DAY, 0, 0, 0.4), "corroded areas"),
        (("Tag", "Component", "Area", "Date", "Thk (mm)"), ("V-1", "Shell", "A1", DAY, 9), "corroded areas"),
        (
            ("Vessel", "Part", "Patch", "Point", "Measured on", "Axial position (mm)", "Wall (mm)"),
            ("V-1", "Shell", "A1", 1, DAY, 0, 9),
            "corroded areas",
        ),
        (PITS, ("V-1", "Shell", "A1", DAY, 0, 0, 0.1, 0.5), "pits"),
        (("Tag", "Component", "Area", "Pit depth (mm)", "Pit width (mm)"), ("V-1", "Shell", "A1", 2, 9), "pits"),
        # Surveys stay surveys, whatever else their columns say.
        (("Tag", "Component", "CML", "Date", "Thk (mm)"), ("V-1", "Shell", 1, DAY, 9), "survey, long"),
        (("Tag", "Component", "Area", "CML", "Date", "Thk (mm)"), ("V-1", "Shell", "N", 1, DAY, 9), "survey, long"),
        (("Area", "Tag", "CML", "Thk (mm)"), ("North", "V-1", 1, 9), "survey, long"),
        (("Vessel", "Area", "Date", "Thickness (mm)"), ("V-1", "North", DAY, 9), "survey, long"),
        (("Area", "Tag", "Component", "CML", "2019-05-01"), ("North", "V-1", "Shell", 1, 9), "survey, wide"),
        (("Tag", "Area", "Service", "MAWP (psi)"), ("V-1", "North", "gas", 150), "assets"),
    ],
)
def test_a_sheet_is_known_by_its_columns(tmp_path: Path, heading: tuple[str, ...], row: tuple, kind: str) -> None:
    assert kinds(tmp_path, heading, row) == [kind]


SOME_UNUSABLE = vessel(
    [
        ("V-1", "Shell", "A1", DAY, 0, 0, 0.45),
        ("V-1", "Shell", "A1", DAY, 2, 0, "thin"),
        ("V-1", "Shell", "A1", DAY, 4, 0, 0),
        ("V-1", "Shell", "A1", date(2027, 1, 1), 6, 0, 0.2),
        ("V-1", "Shell", "A1", DAY, 8, 0, 0.44),
    ]
)


def test_a_cell_that_cannot_be_used_is_in_the_ledger() -> None:
    assert SOME_UNUSABLE.one("result.corroded_area")["survey_reading_count"] == 2
    said = {row["cell"]: row["reason"] for row in SOME_UNUSABLE.rows("result.ledger", "sheet = 'areas'")}
    assert set(said) == {"G3", "G4", "D5"}
    assert said["G4"].startswith("0 is never a thickness")
    assert said["D5"].startswith("dated after the as-of date 2026-01-01")


IN_DEGREES = ("Asset", "Component", "Area", "Date", "Axial (in)", "Circ (deg)", "Thickness (in)")
DEGREES = vessel(areas_of_it=[IN_DEGREES, *line((0.45, 0.40, 0.45))])


def test_a_position_in_degrees_is_refused_and_nothing_is_averaged() -> None:
    row = DEGREES.one("result.corroded_area")
    assert {"F2", "F3", "F4"} <= {found["cell"] for found in DEGREES.rows("result.ledger")}
    # The axial positions alone are one line: 0.45 + 0.40 + 0.45 = 1.30, over three 0.43333.
    assert row["t_act_mm"] == pytest.approx(1.30 / 3 * 25.4, rel=1e-12)


def test_a_row_may_be_entered_by_hand() -> None:
    cells = {"Asset": "V-1", "Component": "Shell", "Area": "A1", "Date": "2024-05-01", "Thickness": "0.40 in"}
    assert check_entry(Typed("corroded areas", cells), default_basis(), AS_OF) == []
    pit = {"Asset": "V-1", "Component": "Shell", "Area": "A1", "Pit depth": "2 mm", "Pit width": "9 mm"}
    assert check_entry(Typed("pits", pit), default_basis(), AS_OF) == []


# ---- averaging ------------------------------------------------------------------------------------------------------


SHORT_LINE = vessel(line((0.45, 0.43, 0.41, 0.38, 0.41, 0.43, 0.45)))


def test_a_line_shorter_than_the_averaging_length_is_averaged_whole() -> None:
    # D = 48 in: the lesser of 24 in and 500 mm (19.685 in). Seven readings over 12 in:
    # 0.45 + 0.43 + 0.41 + 0.38 + 0.41 + 0.43 + 0.45 = 2.96, over seven 0.422857 in, above 0.409015 in.
    row = SHORT_LINE.one("result.corroded_area")
    assert row["averaging_length_mm"] == 500.0
    assert row["t_act_mm"] == pytest.approx(2.96 / 7 * 25.4, rel=1e-12)
    assert row["t_req_mm"] == pytest.approx(T_REQ * 25.4, rel=1e-12)
    assert row["t_req_away_mm"] == pytest.approx(6125 / 17600 * 25.4, rel=1e-12)
    assert (row["average_verdict"], row["direction"]) == ("average is enough", "axial")
    assert row["margin"] == pytest.approx((2.96 / 7 - T_REQ) / T_REQ, rel=1e-9)
    assert (row["lowest_cell"], row["lowest_text"]) == ("G5", "0.38")
    assert row["no_measurable_loss"] and row["remaining_life_years"] is None and row["retirement_on"] is None


SMALL = ("V-1", "gas", "North", date(2000, 1, 1), 250, 20, "A. Person")


LONG_LINE = vessel(line((0.40, 0.30, 0.20, 0.22, 0.34, 0.40), 4.0), assets=[SMALL])


def test_only_lengths_within_the_readings_are_averaged() -> None:
    # D = 20 in: 10 in. Readings every 4 in: 0.40 0.30 0.20 0.22 0.34 0.40. Lengths that lie within 0 to 20 in:
    # from 0: 0.40 0.30 0.20 = 0.3000; from 4: 0.30 0.20 0.22 = 0.2400; from 8: 0.20 0.22 0.34 = 0.2533;
    # to 20: 0.22 0.34 0.40 = 0.3200. From 12 on it would stick out beyond the last reading. The lowest is 0.2400.
    row = LONG_LINE.one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.24 * 25.4, rel=1e-12)
    assert (row["window_from_mm"], row["window_to_mm"]) == pytest.approx((4 * 25.4, 12 * 25.4))
    assert row["area_reading_count"] == 3


PAST_THE_ORIGIN = vessel(
    [("V-1", "Shell", "A1", DAY, 5, c, t) for c, t in ((60, 0.3), (62, 0.2), (1, 0.2), (3, 0.3))], assets=[SMALL]
)


def test_a_line_round_the_vessel_goes_on_past_the_origin() -> None:
    # Circumference pi x 20 = 62.83 in: 60, 62, 1 and 3 in are 2, 1.83 and 2 in apart, one line of 5.83 in within 10 in.
    # (0.30 + 0.20 + 0.20 + 0.30) / 4 = 0.25
    row = PAST_THE_ORIGIN.one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.25 * 25.4, rel=1e-12)
    assert (row["direction"], row["area_reading_count"]) == ("circumferential", 4)
    assert (row["window_from_mm"], row["window_to_mm"]) == pytest.approx((60 * 25.4, 3 * 25.4))


ALL_ROUND = vessel(
    [("V-1", "Shell", "A1", DAY, 5, c, 0.25 if c in (60, 0, 4) else 0.45) for c in range(0, 64, 4)], assets=[SMALL]
)


def test_an_area_all_round_has_no_seam() -> None:
    # Every 4 in from 0 to 60 in: 0.45, and 0.25 at 60, 0 and 4 in, across the origin (the last gap is 2.83 in).
    # 10 in from 60 reach to 70 in: 60, 62.83 (0) and 66.83 (4), 0.25 each.
    row = ALL_ROUND.one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.25 * 25.4, rel=1e-12)
    assert row["area_reading_count"] == 3


TWO_DIRECTIONS = vessel(
    [
        *line((0.45, 0.25, 0.45)),
        ("V-1", "Shell", "A1", DAY, 2, 8, 0.30),
        ("V-1", "Shell", "A1", DAY, 2, 12, 0.30),
    ]
)


def test_the_worse_direction_counts() -> None:
    # Along the axis 0.45 0.25 0.45 (0.38333), across it at the middle 0.30 0.25 0.30 (0.28333).
    row = TWO_DIRECTIONS.one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.85 / 3 * 25.4, rel=1e-12)
    assert row["direction"] == "circumferential"


ON_NO_LINE = vessel([*line((0.45, 0.44, 0.45)), ("V-1", "Shell", "A1", DAY, 7, 30, 0.37)])


def test_a_reading_on_no_line_stands_for_itself() -> None:
    row = ON_NO_LINE.one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.37 * 25.4, rel=1e-12)
    assert row["not_averaged_because"] == "a reading that stands on no line with another one is the lowest"


BLANK = {
    "positions": vessel([(*row[:4], None, None, row[6]) for row in line((0.45, 0.40, 0.47))]),
    "diameter": vessel(line((0.45, 0.40, 0.47)), assets=[(*ASSET[:5], None, ASSET[6])]),
}


@pytest.mark.parametrize("blank", BLANK)
def test_without_positions_or_diameter_the_lowest_reading_counts(blank: str) -> None:
    row = BLANK[blank].one("result.corroded_area")
    assert row["t_act_mm"] == pytest.approx(0.40 * 25.4, rel=1e-12)
    assert row["direction"] == "single reading"
    if blank == "positions":
        assert row["average_verdict"] == "average is below required"
        assert row["not_averaged_because"] == "the positions of the readings are not given"
    else:
        assert row["average_verdict"] is None and "inside diameter" in row["missing"]
        assert "inside diameter" in row["not_averaged_because"]


def lowest_average(readings: list[tuple[float, float, float]], length: float, around: float) -> float:
    """The lowest average by another road: every piece of every line, and every start of a length within it that
    changes what the length holds."""
    found, on_a_line = [], set()
    for direction in (0, 1):
        points = [(p[direction], p[1 - direction], p[2], n) for n, p in enumerate(readings)]
        if direction == 1:
            points = [(p + turn * around, q, t, n) for p, q, t, n in points for turn in range(-2, 3)]
        for middle in {q for _, q, _, _ in points}:
            band = sorted(point for point in points if point[1] == middle)
            pieces = [[band[0]]]
            for before, point in pairwise(band):
                if point[0] - before[0] > length + 1e-6:
                    pieces.append([])
                pieces[-1].append(point)
            for piece in pieces:
                first, last = piece[0][0], piece[-1][0]
                cut = direction == 1 and (first < -around or last > 2 * around)  # the turns end there, not the line
                names = {n for *_, n in piece}
                if len(names) < 2 or (cut and last - first < 2 * around):
                    continue
                on_a_line |= names
                starts = [p for p, *_ in piece] + [p - length for p, *_ in piece]
                fitting = [s for s in starts if s >= first - 1e-6 and s + length <= last + 1e-6] or [first]
                for start in fitting:
                    inside = [t for p, _, t, _ in piece if start - 1e-6 <= p <= start + length + 1e-6]
                    found.append(sum(inside) / len(inside))
    return min([*found, *(t for n, (_, _, t) in enumerate(readings) if n not in on_a_line)])


def random_areas() -> dict[str, list[tuple[float, float, float]]]:
    chance = random.Random(510)
    areas: dict[str, list[tuple[float, float, float]]] = {}
    for number in range(60):
        columns = chance.sample(range(0, 60, 3), chance.randint(1, 12))
        lines = chance.sample(range(0, 40, 4), chance.randint(1, 6))
        grid = [(float(x), float(c)) for x in lines for c in columns]
        kept = chance.sample(grid, max(1, len(grid) * 2 // 3))
        areas[f"R{number}"] = [(x, c, chance.randint(200, 500) / 1000) for x, c in kept]
    return areas


AREAS_AT_RANDOM = random_areas()
OF_RANDOM_AREAS = vessel(
    [("V-1", "Shell", name, DAY, *reading) for name, found in AREAS_AT_RANDOM.items() for reading in found],
    assets=[SMALL],
)


def test_random_areas_agree_with_another_road() -> None:
    stored = {row["area"]: row for row in OF_RANDOM_AREAS.rows("result.corroded_area")}
    assert len(stored) == 60
    for name, readings in AREAS_AT_RANDOM.items():
        wanted = lowest_average(readings, 10.0, math.pi * 20)
        assert stored[name]["t_act_mm"] == pytest.approx(wanted * 25.4, rel=1e-9), (name, readings)
        lowest = min(t for _, _, t in readings)
        assert stored[name]["t_act_mm"] >= stored[name]["survey_lowest_mm"] == pytest.approx(lowest * 25.4)
    assert {row["direction"] for row in stored.values()} == {"axial", "circumferential", "single reading"}


@given(st.lists(st.floats(0.5, 100.0), min_size=1, max_size=60))
def test_an_average_is_never_below_its_lowest_reading(readings: list[float]) -> None:
    known = {"sum_t": sum(readings), "n_a": float(len(readings)), "t_mm": min(readings)}
    found = FORMULAS["average_thickness"].evaluate(known)
    assert found is not None and found >= min(readings)
    assert found == pytest.approx(sum(readings) / len(readings), rel=1e-12)


def in_millimetres(rows: list[tuple], area: str) -> list[tuple]:
    return [(*row[:2], area, DAY, *(round(number * 25.4, 6) for number in row[4:])) for row in rows]


IN_INCHES = line((0.45, 0.40, 0.36, 0.40, 0.45))
PITS_IN_INCHES = [("V-1", "Shell", "P1", DAY, 1, 1, 0.1, 0.5), ("V-1", "Shell", "P1", DAY, 3, 2, 0.2, 1.0)]
BOTH_UNITS = vessel(
    IN_INCHES,
    PITS_IN_INCHES,
    metric=[
        ("Asset", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Thickness (mm)"),
        *in_millimetres(IN_INCHES, "A2"),
    ],
    metric_pits=[
        ("Asset", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Depth (mm)", "Width (mm)"),
        *in_millimetres(PITS_IN_INCHES, "P2"),
    ],
)


def test_inches_and_millimetres_give_the_same() -> None:
    for table, names in (("result.corroded_area", ("A1", "A2")), ("result.pit_area", ("P1", "P2"))):
        first, second = (BOTH_UNITS.one(table, f"area = '{name}'") for name in names)
        for column, value in first.items():
            if isinstance(value, float):
                assert second[column] == pytest.approx(value, rel=1e-9, abs=1e-9), column
        for column in ("average_verdict", "pit_verdict", "screening_verdict"):
            assert first.get(column) == second.get(column)


# ---- which survey counts, rate and life -----------------------------------------------------------------------------


def dated(day: date | None, *thicknesses: float, area: str = "A1") -> list[tuple]:
    """Readings along the axis taken on another day, or on one that is not given."""
    return [(*row[:3], day, *row[4:]) for row in line(thicknesses, area=area)]


SURVEYED_TWICE = vessel([*dated(date(2020, 5, 1), 0.46, 0.46, 0.46), *line((0.44, 0.44, 0.44))])


def test_a_later_survey_stands_in_place_of_an_earlier_one() -> None:
    found = {row["read_on"]: row for row in SURVEYED_TWICE.rows("result.corroded_area")}
    assert found[date(2020, 5, 1)]["superseded_by"] == "survey of 2024-05-01"
    assert found[DAY]["superseded_by"] is None
    # The component loses nothing; the area lost 0.02 in over 1461 days (4 years): 0.005 in/year. It counts.
    assert found[DAY]["rate_mm_per_year"] == pytest.approx(0.005 * 25.4, rel=1e-9)
    # (0.44 - 0.409015) / 0.005 = 6.197 years
    assert found[DAY]["remaining_life_years"] == pytest.approx((0.44 - T_REQ) / 0.005, rel=1e-9)
    assert SURVEYED_TWICE.one("step.area_verdict")["retirement_on"] == found[DAY]["retirement_on"] == date(2030, 7, 12)


def due_of(found: Vessel) -> dict:
    return found.one("result.due_date", "kind = 'corroded area'")


def test_the_average_counts_for_a_due_date_as_the_thickness_of_a_place_does() -> None:
    # Life 6.197 years, above four: half of it, floor(3.0985 x 365.25) = 1131 days after 2024-05-01 is 2027-06-06. No
    # place loses anything: theirs is the cap, floor(10 x 365.25) = 3652 days, 2034-05-01.
    due = due_of(SURVEYED_TWICE)
    assert due["interval_years"] == pytest.approx((0.44 - T_REQ) / 0.005 / 2, rel=1e-9)
    assert (due["anchor_on"], due["due_on"]) == (DAY, date(2027, 6, 6))
    assert due["device"] == "A1 of Shell" and due["component"] == "Shell" and due["due_missing"] is None
    assert SURVEYED_TWICE.one("result.due_date", "kind = 'thickness'")["due_on"] == date(2034, 5, 1)
    # and the vessel reaches its required thickness when its area does
    asset = SURVEYED_TWICE.one("result.asset")
    assert asset["retirement_on"] == date(2030, 7, 12)
    assert asset["remaining_life_years"] == pytest.approx((0.44 - T_REQ) / 0.005, rel=1e-9)
    (said,) = SURVEYED_TWICE.rows("result.concern", "kind = 'corroded area'")
    assert said["sentence"].startswith(
        "Corroded area A1 of Shell is due on 2027-06-06 (interval from the last survey of the area)"
    )


def test_an_area_that_loses_nothing_is_measured_again_within_the_cap() -> None:
    assert due_of(ENOUGH)["due_on"] == date(2034, 5, 1)
    assert due_of(ENOUGH)["state"] == "in date"


def test_an_area_below_required_is_due_at_once() -> None:
    due = due_of(SCREENED)
    assert (due["interval_years"], due["due_on"], due["state"]) == (0, DAY, "overdue")


def test_an_area_without_a_date_or_a_rate_has_no_due_date_to_rely_on() -> None:
    # The undated survey might ask for an earlier date than the dated one does.
    due = due_of(UNDATED)
    assert (due["due_on"], due["state"]) == (date(2034, 5, 1), "not assessable")
    assert due["due_missing"] == "Shell: the date and the remaining life of corroded area A1"
    due = due_of(NO_RATE_AT_ALL)  # A1 has a rate of its own, A2 and A3 have none
    assert due["due_on"] == date(2027, 6, 6) and due["state"] == "not assessable"
    assert due["due_missing"] == (
        "Shell: the date and the remaining life of corroded area A2, Shell: the date and the remaining life of "
        "corroded area A3"
    )


def test_pits_that_may_be_ignored_ask_for_no_date() -> None:
    assert SHALLOW.rows("result.due_date", "kind = 'corroded area'") == []


CHANGED = {
    event: vessel(
        line((0.3, 0.3, 0.3)),
        [("V-1", "Shell", "A1", DAY, 0, 0, 0.4, 1)],
        events=[("Asset", "Component", "Date", "Event"), ("V-1", "Shell", date(2025, 1, 1), event)],
    )
    for event in ("replaced", "overlaid", "change of service")
}


@pytest.mark.parametrize(("event", "counts"), [("replaced", False), ("overlaid", False), ("change of service", True)])
def test_a_wall_that_was_replaced_takes_its_areas_with_it(event: str, counts: bool) -> None:
    found = CHANGED[event]
    instead = None if counts else f"{event} on 2025-01-01"
    assert found.one("result.corroded_area")["superseded_by"] == instead
    assert found.one("result.pit_area")["superseded_by"] == instead
    assert [row["is_below_required"] for row in found.rows("step.area_verdict")] == ([True] if counts else [])


UNDATED = vessel([*dated(None, 0.42, 0.42, 0.42), *line((0.45, 0.45, 0.45))])


def test_an_undated_survey_counts_and_has_no_life() -> None:
    undated = UNDATED.one("result.corroded_area", "read_on IS NULL")
    assert undated["superseded_by"] is None and undated["retirement_on"] is None
    assert undated["life_missing"] == "the date of the survey"
    assert UNDATED.one("step.area_verdict")["t_act_mm"] == pytest.approx(0.42 * 25.4)


LACKING = vessel(
    [("V-1", "Boot", "A1", DAY, 0, 0, 0.4), ("V-1", "Shell", "A2", DAY, 0, 0, 0.4)],
    [("V-1", "Shell", "P1", DAY, 0, 0, 0.01, None), ("V-1", "Shell", "P2", DAY, 0, 0, None, 0.5)],
    components=[(*SHELL[:5], None, SHELL[6])],
)


def test_what_is_missing_is_named() -> None:
    found = {row["area"]: row for row in LACKING.rows("step.area_verdict")}
    assert found["A1"]["missing"] == "the component, which stands on no component sheet"
    assert found["A2"]["missing"] == "allowable stress"
    assert found["P1"]["missing"] == "allowable stress, the width of the pit in G2"
    assert found["P2"]["missing"] == "allowable stress, the depth of the pit in H3"
    for row in found.values():
        assert not row["is_below_required"] and row["margin"] is None and row["retirement_on"] is None
    assert {row["average_verdict"] for row in LACKING.rows("result.corroded_area")} == {None}
    assert {row["pit_verdict"] for row in LACKING.rows("result.pit_area")} == {None}


# ---- readings that cannot be taken as they stand --------------------------------------------------------------------

# 10.2 under an inch heading is 20.4 times the nominal 0.5 in; 0.05 in is a tenth of it.
IN_MILLIMETRES = vessel(line((10.2, 10.3, 10.2)))
ONE_OF_THREE = vessel(line((0.44, 0.05, 0.44)))
ONE_BELOW = vessel(line((0.40, 0.05, 0.40)))
SOUND_BEFORE = vessel([*dated(date(2020, 5, 1), 0.40, 0.40, 0.40), *line((10.2, 10.3, 10.2))])
REPLACED_BY_THICK = vessel(
    line((2.0, 2.0)),
    events=[
        ("Asset", "Component", "Date", "Event", "New thickness (in)"),
        ("V-1", "Shell", date(2023, 1, 1), "replaced", 2.1),
    ],
)


def test_an_area_read_in_another_unit_is_never_enough() -> None:
    """All of a survey are likely mistakes: they stand as they are, and say nothing of the wall."""
    row = IN_MILLIMETRES.one("result.corroded_area")
    assert (row["average_verdict"], row["is_below_required"], row["margin"]) == (None, False, None)
    assert row["t_req_mm"] is None
    assert (row["rate_mm_per_year"], row["remaining_life_years"], row["retirement_on"]) == (None, None, None)
    assert row["missing"] == (
        "3 readings, the first in G2 (about 25.4 times the nominal thickness: likely millimetres under an inch heading)"
    )
    verdict = IN_MILLIMETRES.one("step.area_verdict")
    assert verdict["sentence"].endswith("missing: " + row["missing"])
    assert (verdict["due_on"], verdict["remaining_life_years"]) == (None, None)
    assert IN_MILLIMETRES.one("result.concern", "kind = 'corroded area A1'")["state"] == "not assessable"
    assert due_of(IN_MILLIMETRES)["due_missing"] == "Shell: the date and the remaining life of corroded area A1"


def test_a_likely_mistake_is_left_out_and_never_averaged_away() -> None:
    """0.05 in may be a hole or a slip of the pen: the other two, 0.44 in, are not enough to say that the area holds."""
    row = ONE_OF_THREE.one("result.corroded_area")
    assert (row["survey_reading_count"], row["t_act_mm"]) == (2, pytest.approx(0.44 * 25.4, rel=1e-12))
    assert (row["average_verdict"], row["life_missing"]) == (None, None)
    assert row["missing"] == "the reading in G3 (about a tenth of the nominal thickness: likely a decimal point)"
    assert ONE_OF_THREE.one("result.concern", "kind = 'corroded area A1'")["state"] == "not assessable"


def test_what_is_below_required_stays_so_whatever_is_left_out() -> None:
    row = ONE_BELOW.one("result.corroded_area")
    assert (row["average_verdict"], row["is_below_required"]) == ("average is below required", True)
    assert ONE_BELOW.one("result.asset")["state"] == "below required"


def test_a_survey_of_mistakes_stands_in_place_of_none_before_it() -> None:
    """0.40 in of 2020 is below 0.409015 in, whatever the survey of 2024 meant."""
    found = {row["read_on"]: row for row in SOUND_BEFORE.rows("result.corroded_area")}
    assert {row["superseded_by"] for row in found.values()} == {None}
    assert found[date(2020, 5, 1)]["is_below_required"] and not found[DAY]["is_below_required"]
    assert found[DAY]["t_before_mm"] is None
    assert SOUND_BEFORE.one("result.asset")["state"] == "below required"


def test_a_new_wall_is_held_against_its_own_thickness() -> None:
    """2.0 in is four times the nominal 0.5 in, and what is left of the 2.1 in it was replaced by."""
    assert REPLACED_BY_THICK.one("result.corroded_area")["average_verdict"] == "average is enough"


@pytest.mark.parametrize(
    ("found", "cells"), [(IN_MILLIMETRES, ["G2", "G3", "G4"]), (ONE_OF_THREE, ["G3"]), (REPLACED_BY_THICK, [])]
)
def test_a_likely_mistake_of_an_area_is_in_the_ledger(found: Vessel, cells: list[str]) -> None:
    lines = PLANT.results.execute(
        "SELECT cell, severity, effect FROM step.finding WHERE check_name = 'area_reading_left_out' AND file = ? "
        "ORDER BY cell",
        [f"{found.tag}.xlsx"],
    ).fetchall()
    assert [cell for cell, *_ in lines] == cells
    for _, severity, effect in lines:
        assert severity == "set aside"
        assert effect.endswith("Shell, area A1 on 2024-05-01 is left out; the area is not assessable without it")


PITS_IN_MILLIMETRES = vessel(line((10.2, 10.2), area="P1"), [pit(0, 0, 0.01, 0.1)])
PITS_BESIDE_A_SLIP = vessel(line((0.48, 0.05), area="P1"), [pit(0, 0, 0.01, 0.1)])


@pytest.mark.parametrize("found", [PITS_IN_MILLIMETRES, PITS_BESIDE_A_SLIP])
def test_the_wall_around_pits_is_no_likely_mistake(found: Vessel) -> None:
    """A wall of 259 mm would hold any pit: the thinnest place stands in, and what was left out is asked for."""
    row = found.one("result.pit_area")
    wall = 0.5 if found is PITS_IN_MILLIMETRES else 0.48
    assert row["surrounding_thickness_mm"] == pytest.approx(wall * 25.4, rel=1e-12)
    assert row["pit_verdict"] is None and "the wall around them: the reading in G" in row["pit_missing"]
    assert found.one("result.concern", "kind = 'corroded area P1'")["state"] == "not assessable"


@pytest.mark.parametrize("found", [IN_MILLIMETRES, ONE_OF_THREE, ONE_BELOW, SOUND_BEFORE, PITS_BESIDE_A_SLIP])
def test_what_is_left_out_is_explained_without_a_fault(found: Vessel) -> None:
    for area in found.rows("step.area_verdict"):
        told = explain_area(PLANT.results, found.tag, area["component"], area["area"])
        assert told.faults == []
        assert told.sentence == area["sentence"]


# ---- pits -----------------------------------------------------------------------------------------------------------


SHALLOW = vessel(pits=[pit(0, 0, 0.08, 0.5), pit(3, 0, 0.08, 0.5), pit(40, 5, 0.05, 0.9)])


def test_shallow_scattered_pits_may_be_ignored() -> None:
    # Wall 0.5 in (the thinnest place), required 0.409015 in: an allowance of 0.090985 in. 0.08 in deep leaves 0.42 in.
    row = SHALLOW.one("result.pit_area")
    assert row["pit_verdict"] == "pits may be ignored"
    assert row["pit_allowance_mm"] == pytest.approx((0.5 - T_REQ) * 25.4, rel=1e-9)
    assert row["pit_remaining_mm"] == pytest.approx(0.42 * 25.4, rel=1e-12)
    assert (row["counted_pits"], row["pit_area_sum_mm2"], row["pit_below_required_mm"]) == (0, 0.0, 0.0)
    # The fullest line holds the first two: 0.5 + 0.5 in; the third is 40 in away.
    assert (row["line_pits"], row["line_width_mm"]) == (2, pytest.approx(25.4))
    assert row["screening_verdict"] is None
    assert not SHALLOW.one("step.area_verdict")["is_below_required"]


DEEP = vessel(pits=[pit(0, 0, 0.30, 0.5)])
LESS_DEEP = vessel(pits=[pit(0, 0, 0.29, 0.5)])


def test_a_pit_deeper_than_half_the_required_thickness() -> None:
    # Half of 0.409015 is 0.204508: a pit of 0.30 in leaves 0.20 in; it reaches 0.30 - 0.090985 = 0.209015 below.
    row = DEEP.one("result.pit_area")
    assert row["pit_verdict"] == (
        "pits may not be ignored: the deepest leaves 0.2000 in, less than half the required thickness, 0.2045 in"
    )
    assert row["pit_below_required_mm"] == pytest.approx((0.30 - 0.5 + T_REQ) * 25.4, rel=1e-9)
    assert row["screening_verdict"] == "screening does not apply: there are no thickness readings of the area"
    verdict = DEEP.one("step.area_verdict")
    assert verdict["is_below_required"] and verdict["governed_by"] == "pits"
    assert verdict["margin"] == pytest.approx((0.2 - T_REQ) / T_REQ, rel=1e-9)
    # 0.29 in leaves 0.21 in: it may be ignored.
    assert LESS_DEEP.one("result.pit_area")["pit_verdict"] == "pits may be ignored"


NEAR = [pit(0, 0, 0.2, 2.5, "near"), pit(6, 8, 0.2, 2.5, "near")]
APART = [pit(0, 0, 0.2, 2.5, "apart"), pit(11, 0, 0.2, 2.5, "apart")]
PAIRS = vessel(pits=[*NEAR, *APART])


def test_area_of_pits_in_the_fullest_circle() -> None:
    # Pits 2.5 in wide: 4.909 in2 = 3167 mm2 each. Two of them 10 in apart (from rim to rim 7.5 in) are touched by one
    # circle of 8 in: 6334 mm2, 1.4075 of 4500 mm2. 11 in apart (8.5 in from rim to rim) they are not.
    row = PAIRS.one("result.pit_area", "area = 'near'")
    assert row["pit_area_sum_mm2"] == pytest.approx(2 * math.pi / 4 * 63.5**2, rel=1e-12)
    assert row["pit_area_share"] == pytest.approx(6333.84 / 4500, rel=1e-5)
    assert "their area in one circle of 8.000 in is 1.4075 of what may be ignored" in row["pit_verdict"]
    other = PAIRS.one("result.pit_area", "area = 'apart'")
    assert (other["circle_pits"], other["line_pits"]) == (1, 1)
    # One pit of 2.5 in is wider than 50 mm by itself.
    assert other["pit_verdict"] == (
        "pits may not be ignored: their widths along one line are 2.500 in, more than 1.969 in"
    )


def two_readings(first: float, last: float) -> list[tuple]:
    """Readings of the shell away from every area, ten years apart."""
    return [("V-1", "Shell", 1, date(2014, 5, 1), first), ("V-1", "Shell", 1, DAY, last)]


PITS_OF_A_WALL_THAT_LOSES = vessel(pits=[pit(0, 0, 0.05, 2.5)], readings=two_readings(0.54, 0.5))


def test_pits_without_readings_of_their_area_take_the_components_rate() -> None:
    # 0.54 to 0.50 in over 3653 days (10.0014 years): 0.0039995 in/year. Pits wider than 50 mm and no deeper than the
    # allowance leave 0.45 in: (0.45 - 0.409015) / 0.0039995 = 10.2477 years, 3742 whole days: 2034-07-30.
    row = PITS_OF_A_WALL_THAT_LOSES.one("step.area_verdict")
    assert not row["is_below_required"] and row["governed_by"] == "pits"
    assert row["remaining_life_years"] == pytest.approx((0.45 - T_REQ) / (0.04 * 365.25 / 3653), rel=1e-9)
    assert row["retirement_on"] == date(2034, 7, 30)


PITS_AT_THE_ORIGIN = vessel(pits=[pit(0, 150, 0.2, 1.2), pit(0, 1, 0.2, 1.2)])


def test_pits_on_either_side_of_the_origin_are_neighbours() -> None:
    # Circumference pi x 48 = 150.8 in: 150 in and 1 in are 1.8 in apart.
    row = PITS_AT_THE_ORIGIN.one("result.pit_area")
    assert (row["circle_pits"], row["line_pits"]) == (2, 2)
    assert row["line_width_mm"] == pytest.approx(2.4 * 25.4)


RIMS = vessel(pits=[pit(0, 0, 0.05, 1), pit(3, 0.9, 0.05, 1), pit(6, 0, 0.05, 1)])


def test_a_line_that_touches_rims_only_is_found() -> None:
    # Three pits 1 in wide at 0, 0.9 and 0 in around, 3 in apart: no line through two centres touches the third (it
    # passes 0.9 and 0.675 in away), but the line at 0.45 in touches all three: 3 in together.
    row = RIMS.one("result.pit_area")
    assert (row["line_pits"], row["line_width_mm"]) == (3, pytest.approx(3 * 25.4))


WITHOUT_A_POSITION = vessel(pits=[pit(0, 0, 0.2, 0.3), pit(100, 0, 0.2, 0.3), pit(None, None, 0.2, 0.3)])
VERY_MANY = vessel(pits=[pit(20 * place, 0, 0.2, 0.01) for place in range(201)])


@pytest.mark.parametrize(
    ("found", "pits", "because"),
    [
        (WITHOUT_A_POSITION, 3, "not every pit has a position"),
        (VERY_MANY, 201, "there are more pits than are searched one by one"),
    ],
    ids=["no position", "very many"],
)
def test_pits_that_cannot_be_searched_count_together(found: Vessel, pits: int, because: str) -> None:
    row = found.one("result.pit_area")
    assert row["circle_pits"] == row["line_pits"] == pits
    assert row["together_because"] == because


PITS_AND_READINGS = vessel(line((0.44, 0.42, 0.44), area="P1"), [pit(0, 0, 0.1, 0.5)])


def test_the_wall_around_pits_is_the_average_of_the_areas_readings() -> None:
    # 0.44 + 0.42 + 0.44 = 1.30, over three 0.433333 in.
    row = PITS_AND_READINGS.one("result.pit_area")
    assert row["surrounding_thickness_mm"] == pytest.approx(1.30 / 3 * 25.4, rel=1e-12)
    assert row["surrounding_from"] == "average of the area's readings of 2024-05-01"


PITS_IN_A_THIN_WALL = vessel(line((0.40, 0.40, 0.40), area="P1"), [pit(0, 0, 0.01, 0.1)])


def test_a_wall_below_required_around_the_pits() -> None:
    row = PITS_IN_A_THIN_WALL.one("result.pit_area")
    assert row["pit_verdict"].startswith("pits may not be ignored: the wall around them, 0.4000 in, is below")
    assert row["counted_pits"] == 1


def random_pits(chance: random.Random) -> list[tuple[float, float, float, float]]:
    count = chance.randint(1, 9)
    return [
        (
            round(chance.uniform(0, 12), 2),
            round(chance.uniform(0, 12), 2),
            chance.choice((0.05, 0.12, 0.2)),
            chance.choice((0.2, 0.5, 0.8, 1.1)),
        )
        for _ in range(count)
    ]


def fullest_circle(pits: list[tuple[float, float, float, float]], wider: float) -> float:
    """The fullest circle by trial: centres on a grid of 0.1 in, pits reached from `wider` inches farther."""
    counted = np.array([(x, c, w) for x, c, depth, w in pits if depth > 0.5 - T_REQ])
    if not len(counted):
        return 0.0
    grid = np.array(np.meshgrid(np.arange(-5, 17.1, 0.1), np.arange(-5, 17.1, 0.1))).reshape(2, -1, 1)
    x, c, w = counted.T
    inside = np.hypot(grid[0] - x, grid[1] - c) <= 4 + w / 2 + wider
    return float((inside * (math.pi / 4 * w**2)).sum(axis=1).max())


def fullest_line(pits: list[tuple[float, float, float, float]], wider: float) -> float:
    """The fullest line by trial: every degree and every 0.04 in, rims `wider` inches farther out."""
    x, c, _, w = np.array(pits).T
    best = 0.0
    for angle in np.radians(np.arange(0, 180, 1.0)):
        off, along = np.cos(angle) * x + np.sin(angle) * c, np.cos(angle) * c - np.sin(angle) * x
        touched = np.abs(off - np.arange(-14, 20, 0.04)[:, None]) <= w / 2 + wider
        begins, ends = along - w / 2 - wider, along + w / 2 + wider
        for start in ends:
            stretch = (ends >= start - 1e-9) & (begins <= start + 8 + 1e-9)
            best = max(best, float((touched * stretch * w).sum(axis=1).max()))
    return best


CHANCE = random.Random(7)
PITS_AT_RANDOM = {f"R{number}": random_pits(CHANCE) for number in range(12)}
OF_RANDOM_PITS = vessel(pits=[pit(*found, area=name) for name, pits in PITS_AT_RANDOM.items() for found in pits])


def test_random_pits_agree_with_trial_circles_and_lines() -> None:
    """No trial circle or line is fuller than the one found, and none found is fuller than trials of wider pits."""
    stored = {row["area"]: row for row in OF_RANDOM_PITS.rows("result.pit_area")}
    for name, pits in PITS_AT_RANDOM.items():
        row = stored[name]
        area, width = row["pit_area_sum_mm2"] / 25.4**2, row["line_width_mm"] / 25.4
        # The grid of centres leaves 0.0708 in; the lines 0.02 in, and half a degree of 17 in, 0.148 in.
        assert fullest_circle(pits, 0.0) - 1e-9 <= area <= fullest_circle(pits, 0.072) + 1e-9, name
        assert fullest_line(pits, 0.0) - 1e-9 <= width <= fullest_line(pits, 0.17) + 1e-9, name
    assert len({row["circle_pits"] for row in stored.values()}) > 3


def less_and_more(areas: int) -> list[tuple]:
    """Areas L0, L1 ... of random pits, and M0, M1 ... of the same with one more."""
    chance = random.Random(11)
    sheet = []
    for number in range(areas):
        pits = random_pits(chance)
        more = [*pits, *random_pits(chance)[:1]]
        sheet += [pit(*found, area=f"L{number}") for found in pits]
        sheet += [pit(*found, area=f"M{number}") for found in more]
    return sheet


ONE_MORE_PIT = vessel(pits=less_and_more(40))


def test_one_more_pit_never_makes_it_better() -> None:
    stored = {row["area"]: row for row in ONE_MORE_PIT.rows("result.pit_area")}
    below = {row["area"]: row["is_below_required"] for row in ONE_MORE_PIT.rows("step.area_verdict")}
    for number in range(40):
        less, more_pits = stored[f"L{number}"], stored[f"M{number}"]
        assert more_pits["pit_area_share"] >= less["pit_area_share"] - 1e-12
        assert more_pits["line_width_mm"] >= less["line_width_mm"] - 1e-9
        assert more_pits["pit_remaining_mm"] <= less["pit_remaining_mm"]
        assert more_pits["pits_fail"] >= less["pits_fail"]
        assert below[f"M{number}"] >= below[f"L{number}"]
    assert {row["pits_fail"] for row in stored.values()} == {True, False}


# ---- screening ------------------------------------------------------------------------------------------------------

#: Six inches along the axis, the lowest reading 0.30 in beside a wall of 0.50 in: R_t = 0.6 and, by hand,
#: lambda = 1.285 x 6 / sqrt(48 x 0.5) = 1.573797, M_t = 1.426069, RSF = 0.6 / (1 - 0.4 / 1.426069) = 0.833902.
#: The average is (0.41 + 0.38 + 0.34 + 0.30 + 0.34 + 0.38 + 0.41) / 7 = 2.56 / 7 = 0.365714 in, below 0.409015 in.
LOCAL = line((0.41, 0.38, 0.34, 0.30, 0.34, 0.38, 0.41), 1.0)


LOCAL_ALONE = vessel(LOCAL)


def test_screening_of_a_local_area_by_hand() -> None:
    row = LOCAL_ALONE.one("result.corroded_area")
    assert row["average_verdict"] == "average is below required"
    assert row["future_loss_mm"] == 0.0
    assert row["thickness_ratio"] == pytest.approx(0.6, rel=1e-12)
    assert row["length_parameter"] == pytest.approx(1.573797, abs=5e-7)
    assert row["folias_factor"] == pytest.approx(1.426069, abs=5e-7)
    assert row["strength_factor"] == pytest.approx(0.833902, abs=5e-7)
    assert row["screening_verdict"] == "screening not passed"
    # 250 psi x 0.833902 / 0.90 = 231.639 psi
    assert row["reduced_mawp_mpa"] / 250 * 145.0377 * 250 == pytest.approx(231.639, abs=1e-3)
    verdict = LOCAL_ALONE.one("step.area_verdict")
    assert verdict["is_below_required"] and verdict["governed_by"] == "average"
    assert verdict["margin"] == pytest.approx((2.56 / 7 - T_REQ) / T_REQ, rel=1e-9)
    assert "away from the weld 0.3480 in would do" in verdict["sentence"]


LOSS_TO_COME = vessel(LOCAL, readings=two_readings(0.52, 0.5))


def test_loss_to_the_next_inspection_is_taken_off() -> None:
    # 0.52 to 0.50 in over 3653 days: 0.02 / 10.0014 years; (0.50 - 0.409015) / 0.0019997 = 45.5 years, so the cap,
    # ten years: due 3652 days after 2024-05-01. FCA = 0.0019997 x 3652 / 365.25 = 0.0199945 in.
    row = LOSS_TO_COME.one("result.corroded_area")
    assert (row["next_inspection_on"], row["days_to_next"]) == (date(2034, 5, 1), 3652)
    assert row["future_loss_mm"] == pytest.approx(0.02 * 3652 / 3653 * 25.4, rel=1e-9)
    assert row["thickness_ratio"] == pytest.approx((0.30 - 0.0199945) / (0.50 - 0.0199945), rel=1e-6)


SCREENED = vessel(line((0.40,) * 5, 1.0))


def test_a_screening_that_passes_changes_no_verdict() -> None:
    # 0.40 in everywhere over 4 in beside 0.50 in: R_t 0.8, lambda 1.05, above 0.90; the average stays below 0.409.
    row = SCREENED.one("result.corroded_area")
    assert row["screening_verdict"] == "screened: for the engineer"
    assert row["strength_factor"] > 0.9 and row["reduced_mawp_mpa"] is None
    assert row["average_verdict"] == "average is below required"
    assert SCREENED.one("step.area_verdict")["is_below_required"]


def scattered(thicknesses: tuple[float, ...], area: str = "A1") -> list[tuple]:
    """Readings without positions."""
    return [("V-1", "Shell", area, DAY, None, None, t) for t in thicknesses]


POINTS = (0.405, 0.4, 0.41, 0.395, 0.41, 0.395, 0.41, 0.4, 0.4, 0.385, 0.395, 0.4, 0.41, 0.39, 0.4)
POINT_READINGS = vessel(
    [*scattered(POINTS), *scattered(POINTS[:14], "A2"), *scattered((*POINTS[:14], 0.15), "A3")],
)


def test_point_readings_are_screened_by_their_scatter() -> None:
    """Fifteen readings with the scatter of the table of checks: 0.400333 in, COV 0.019156; they need their average."""
    found = {row["area"]: row for row in POINT_READINGS.rows("result.corroded_area")}
    assert found["A1"]["survey_average_mm"] / 25.4 == pytest.approx(0.400333, abs=5e-7)
    assert found["A1"]["coefficient_of_variation"] == pytest.approx(0.019156, abs=5e-7)
    assert found["A1"]["screening_verdict"] == "screening not passed"  # the average itself is below 0.409 in
    assert found["A2"]["screening_verdict"].startswith("screening does not apply: there are 14 point readings and 15")
    assert found["A3"]["screening_verdict"].startswith("screening does not apply: the scatter of the point readings")
    assert found["A3"]["lowest_below_half"]


SCATTERED = vessel(scattered((0.40, *(0.4535714,) * 14)))


def test_scattered_points_whose_average_is_enough_pass() -> None:
    """Without positions the lowest reading, 0.40 in, is below; the average 0.45 in and 0.40 in left are enough."""
    row = SCATTERED.one("result.corroded_area")
    assert row["average_verdict"] == "average is below required"
    assert row["screening_verdict"] == "screened: for the engineer"
    # half of 0.409 is 0.2045; 0.2 x 0.5 = 0.1 and 2.5 mm are less.
    assert row["least_local_mm"] == pytest.approx(T_REQ / 2 * 25.4, rel=1e-9)


WORN_ALL_OVER = vessel(LOCAL, readings=two_readings(0.4, 0.4))


def test_a_wall_worn_all_over_is_not_screened() -> None:
    row = WORN_ALL_OVER.one("result.corroded_area")
    assert row["screening_verdict"].startswith("screening does not apply: the wall away from the area")


LOCAL_WITH_A_PIT = vessel(LOCAL, [pit(20, 10, 0.40, 0.5, "A1")])


def test_pits_reach_into_the_screening() -> None:
    """A pit of 0.40 in in the wall of the area's average, 0.365714 in, is through: nothing is left."""
    row = LOCAL_WITH_A_PIT.one("result.corroded_area")
    assert row["lowest_from"] == "wall left under the deepest pit"
    assert row["screening_verdict"] == "screening not passed"
    assert row["area_extent_mm"] == pytest.approx(20.25 * 25.4)
    assert LOCAL_WITH_A_PIT.one("step.area_verdict")["governed_by"] == "pits"


ENOUGH = vessel(line((0.48,) * 5))


def test_nothing_is_screened_that_is_enough() -> None:
    row = ENOUGH.one("result.corroded_area")
    assert row["screening_verdict"] is None and row["reduced_mawp_mpa"] is None


@given(
    st.floats(0.2, 20.0), st.floats(0.2, 20.0), st.floats(20.0, 50.0), st.floats(10.0, 900.0), st.floats(300.0, 5000.0)
)
def test_a_thicker_wall_never_has_a_lower_strength_factor(
    one_mm: float, other_mm: float, around: float, extent: float, diameter: float
) -> None:
    def factor(lowest: float) -> float | None:
        known: dict[str, float | None] = {"t_mf": lowest, "t_sc": around, "s_a": extent, "D_n": diameter}
        for clause in ("thickness_ratio", "length_parameter", "folias_cylinder", "strength_factor"):
            known[FORMULAS[clause].result] = FORMULAS[clause].evaluate(known)
        return known["RSF"]

    low, high = factor(min(one_mm, other_mm)), factor(max(one_mm, other_mm))
    assert (low is None) == (high is None)
    if low is not None and high is not None:
        assert low <= high * (1 + 1e-12)


# ---- why ------------------------------------------------------------------------------------------------------------


TOLD = vessel(
    [
        *LOCAL,
        *dated(date(2020, 5, 1), 0.46, 0.46, 0.46, area="A2"),
        *line((0.45, 0.40, 0.45), area="A2"),
        ("V-1", "Boot", "A3", DAY, 0, 0, 0.4),
        *scattered((0.4,) * 15, "A4"),
    ],
    [pit(0, 10, 0.2, 0.5, "A1"), pit(2, 11, 0.3, 1.0, "A1"), pit(0, 0, 0.3, 0.5), pit(1, 1, 0.2, 3)],
)


def test_every_number_of_an_area_is_recomputed() -> None:
    connection = PLANT.results
    ids: set[str] = set()
    for area in TOLD.rows("step.area_verdict"):
        told = explain_area(connection, area["asset"], area["component"], area["area"])
        assert told.faults == []
        assert told.sentence == area["sentence"]
        origins = [str(entry.origin) for link in told.links for entry in link.inputs]
        assert all(origins) and "unknown origin" not in " ".join(origins)
        ids |= {link.id for link in told.links}
        assert told.as_json()["area"] == area["area"]
    own = {
        "averaging_length", "average_thickness", "half_required", "short_term_rate", "area_rate", "pit_allowance",
        "pit_remaining", "pit_below_required", "pit_area_share", "future_loss", "lowest_after_loss",
        "coefficient_of_variation", "average_after_loss", "least_local_thickness", "screening_thickness",
        "thickness_ratio", "area_extent", "length_parameter", "folias_cylinder", "strength_factor", "reduced_mawp",
    }  # fmt: skip
    assert own <= ids
    told = explain_area(connection, TOLD.tag, "Shell", "A1", "si")
    assert any("mm" in link.shown for link in told.links)
    assert "accepts nothing" in told.cautions[1] + told.cautions[0]
    assert any(text.startswith("survey of 2024-05-01: average is below required") for text in told.as_text())


def test_a_stored_number_that_was_changed_is_a_fault(tmp_path: Path) -> None:
    database = tmp_path / "changed.duckdb"
    shutil.copy(PLANT.database.resolve(), database)
    with duckdb.connect(str(database)) as connection:
        connection.execute("UPDATE result.corroded_area SET t_act_mm = 12, strength_factor = 0.95")
        connection.execute("UPDATE result.pit_area SET pit_area_sum_mm2 = 1")
    told = explain_area(open_results(database), LOCAL_WITH_A_PIT.tag, "Shell", "A1")
    said = " ".join(told.faults)
    assert "average of readings" in said and "remaining strength factor" in said
    assert "area of the pits in the circle" in said


def remarks_on(found: Vessel, component: str, area: str) -> str:
    told = explain_area(PLANT.results, found.tag, component, area)
    assert told.faults == []
    return " ".join(told.remarks)


#: Half of the required thickness and 2.5 mm are no question here: 0.30 in are below 0.409 in whatever else is known.
THIN_UNDATED = vessel(dated(None, 0.30, 0.30, 0.30))
NO_RATE_AT_ALL = vessel(
    [
        *dated(date(2020, 5, 1), 0.46, 0.46, 0.46),
        *line((0.44, 0.44, 0.44)),
        *line((0.30, 0.30), area="A2"),
        *line((0.42, 0.42), area="A3"),
    ],
    readings=(),
)
OF_NO_KIND = vessel(line((0.45, 0.44, 0.45)), components=[("V-1", "Shell", "bellows", *SHELL[3:])])
#: 0.5 to 0.3 in: the wall itself is below required, so that its next inspection is due, at the as-of date.
TODAY = vessel(dated(AS_OF, 0.30, 0.30, 0.30), readings=two_readings(0.5, 0.3))
SOMEWHERE = vessel(pits=[pit(None, None, 0.2, 0.5), pit(1, 1, 0.2, 0.5), pit(0, 0, 0.2, 0.5, "P2")])


def test_an_area_that_has_no_life_is_not_said_to_have_one_without_end() -> None:
    """The component loses nothing; yet what is below required, or cannot be judged, has no life without end."""
    without_end = "No measurable loss: the life of the area has no end."
    assert without_end in remarks_on(ENOUGH, "Shell", "A1")
    for found in (SCREENED, THIN_UNDATED):
        said = remarks_on(found, "Shell", "A1")
        assert "The area is below the required thickness: no life is left, whatever the rate." in said
        assert without_end not in said
    said = remarks_on(LACKING, "Shell", "A2")
    assert "The area has no life; missing: allowable stress." in said and without_end not in said
    nowhere = "Boot stands on no component sheet: no thickness can be required of it."
    assert nowhere in remarks_on(LACKING, "Boot", "A1")
    assert "The area has no life; missing: the date of the survey." in remarks_on(UNDATED, "Shell", "A1")


def test_an_undated_survey_is_not_screened() -> None:
    told = explain_area(PLANT.results, THIN_UNDATED.tag, "Shell", "A1")
    assert told.is_below_required and "future_loss" not in {link.id for link in told.links}
    assert told.as_text()[1:3] == [
        "survey of unknown date: average is below required",
        "  screening does not apply: the date of the survey is not known",
    ]


def test_nothing_is_lost_until_an_inspection_that_is_due_today() -> None:
    told = explain_area(PLANT.results, TODAY.tag, "Shell", "A1")
    (loss,) = [link for link in told.links if link.id == "future_loss"]
    assert loss.value == 0.0 and told.faults == []
    assert "to the next inspection, 2026-01-01" in {str(entry.origin) for entry in loss.inputs}


def test_an_area_of_a_component_without_clause_is_not_judged() -> None:
    told = explain_area(PLANT.results, OF_NO_KIND.tag, "Shell", "A1")
    assert told.missing and "kind" in told.missing and not told.is_below_required
    assert "margin" not in {link.id for link in told.links} and told.as_text()[1].endswith("not judged")


def test_an_area_whose_component_has_no_rate_lives_by_its_own() -> None:
    """0.46 to 0.44 in over 1461 days, 4 years: 0.005 in/year; without a second survey there is no rate at all."""
    told = explain_area(PLANT.results, NO_RATE_AT_ALL.tag, "Shell", "A1")
    ids = [link.id for link in told.links]
    to_life, to_date = (
        ["years_between", "short_term_rate", "rate_governing", "remaining_life"],
        ["interval", "whole_days"],
    )
    assert ids[-6:] == [*to_life, *to_date]
    assert told.links[-4].value == pytest.approx(0.005 * 25.4, rel=1e-9) and told.faults == []
    assert told.links[-3].value == pytest.approx((0.44 - T_REQ) / 0.005, rel=1e-9)
    # half of 6.197 years is 1131 whole days
    assert told.links[-2].value == pytest.approx((0.44 - T_REQ) / 0.005 / 2, rel=1e-9) and told.links[-1].value == 1131
    assert "Due 2027-06-06: 1131 days after 2024-05-01; no inspection moves it, only a new survey" in " ".join(
        told.remarks
    )
    assert "no life is left, whatever the rate" in remarks_on(NO_RATE_AT_ALL, "Shell", "A2")
    assert "missing: a corrosion rate of the component" in remarks_on(NO_RATE_AT_ALL, "Shell", "A3")


def test_pits_without_a_position_are_taken_together() -> None:
    # 0.5 - 0.409 = 0.091 in may go: both are deeper. Two of 0.5 in stand on one line of 1 in, against 50 mm.
    said = remarks_on(SOMEWHERE, "Shell", "P1")
    assert "Of 2 pits 2 are deeper than the allowance; the fullest circle of 8.000 in has 2 of them." in said
    assert "The fullest line has 2 pits, 1.000 in wide together (G2, G3), against 1.969 in." in said
    assert "All pits are taken as in one circle and on one line, the safe side: not every pit has a position." in said
    assert "Of 1 pit 1 is deeper than the allowance" in remarks_on(SOMEWHERE, "Shell", "P2")


def test_pits_that_cannot_be_judged_are_not_counted_as_shallow() -> None:
    """Without a stress there is no allowance: none is said to be within it."""
    for area, lacks in (("P1", "the width of the pit in G2"), ("P2", "the depth of the pit in H3")):
        said = remarks_on(LACKING, "Shell", area)
        assert "Of 1 pit it is not known how many are deeper than the allowance." in said
        assert f"Whether the pits may be ignored is not known; missing: allowable stress, {lacks}." in said
        told = explain_area(PLANT.results, LACKING.tag, "Shell", area)
        assert told.as_text()[1] == "survey of 2024-05-01: not judged"


def test_an_area_that_went_with_its_wall_and_one_that_never_was() -> None:
    told = explain_area(PLANT.results, CHANGED["replaced"].tag, "Shell", "A1")
    assert told.sentence == "Shell, area A1: no survey of it counts any more"
    assert not told.is_below_required and "average_thickness" not in {link.id for link in told.links}
    assert told.as_text()[1] == (
        "survey of 2024-05-01: average is below required (does not count: replaced on 2025-01-01)"
    )
    with pytest.raises(Problem, match=f"{ENOUGH.tag} Shell A7: there is no such area in the results"):
        explain_area(PLANT.results, ENOUGH.tag, "Shell", "A7")


def test_an_average_below_its_lowest_reading_and_another_sum_are_faults(tmp_path: Path) -> None:
    """0.48 in five times: 60.96 mm together, none of them below 12.192 mm."""
    database = tmp_path / "changed.duckdb"
    shutil.copy(PLANT.database.resolve(), database)
    with duckdb.connect(str(database)) as connection:
        connection.execute("UPDATE result.corroded_area SET t_act_mm = 12.19, survey_thickness_sum_mm = 60")
    told = explain_area(open_results(database), ENOUGH.tag, "Shell", "A1")
    assert any(fault.startswith("the sum of the 5 readings is 60.9") for fault in told.faults)
    assert "the stored average is below the lowest reading; build anew" in told.faults


# ---- all of them in one plant ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("found", [LOSS_TO_COME, TOLD], ids=["loss to come", "told"])
def test_a_vessel_among_the_others_stands_as_it_does_alone(tmp_path: Path, found: Vessel) -> None:
    apart = PLANT.rows_apart(found.tag, tmp_path / "plant")
    assert sum(len(alone) for _, alone in apart.values()) > 10
    for table, (among, alone) in apart.items():
        assert among == alone, table
