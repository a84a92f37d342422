"""Two roads to every number: the results of a build against the same fleet worked out in plain Python.

The second road (`tests/second_path`) is written from the engineering basis and shares no clause, no step and no
database with the pipeline. Numbers agree to 1e-9 of themselves, dates to the day, states, words and ranks exactly; what
is unknown on one road is unknown on the other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.run import build
from tests.fleets import EVERYTHING, write_fleet
from tests.second_path import Facts, Policy, Recomputed, facts_of_folder, facts_of_rows, recompute

AS_OF = date(2026, 11, 1)
LONG_AGO = date(1027, 1, 1)
Row = dict[str, Any]

#: The tables of the results, the columns that name a row, and the rows of the second road.
TABLES: dict[str, tuple[tuple[str, ...], str]] = {
    "reading": (("file", "sheet", "cell"), "readings"),
    "location": (("asset", "component", "location"), "places"),
    "component": (("asset", "component"), "components"),
    "due_date": (("asset", "kind"), "dues"),
    "asset": (("asset",), "assets"),
}
#: Columns of numbers, dates and truths that the second road does not work out: sums on the way to a rate that is itself
#: compared, and what is only handed on.
NOT_WORKED_OUT = {
    "reading": {"thickness_mm", "read_on", "epoch_on", "record"},
    "location": {
        *("sum_days_squared", "sum_days_thickness", "sum_thickness_squared", "similar_rate_mm_per_year"),
        *("rate_chosen_on", "rate_choice_older", "rate_floor_applied"),
    },
    "component": set(),
    "due_date": {"anchor_on", "cap_years", "interval_years", "deferral_approved_on"},
    "asset": set(),
}
#: Where a difference of nearly equal numbers is left, the last binary digit of what was taken away counts: 2e-16 of a
#: square of some 10 mm under a root, over some 1,000 days, is about 1e-9 mm/year in the fit's error.
ABSOLUTE = {
    "rate_fit_error_mm_per_year": 1e-8,
    "rate_fit_upper_mm_per_year": 1e-7,
    "rate_deviation_mm_per_year": 1e-8,
    "rate_low_mm_per_year": 2e-8,
    "rate_high_mm_per_year": 2e-8,
}


#: The second road knows places and no corroded areas (`test_area_rules` works those by hand): they have a due date of
#: their own, and end a vessel's life earlier or not at all.
OF_AREAS = ("retirement_on", "remaining_life_years")


def ask(database: Path, text: str) -> list[Row]:
    with duckdb.connect(str(database), read_only=True) as connection:
        found = connection.execute(text)
        names = [column[0] for column in found.description]
        return [dict(zip(names, values, strict=True)) for values in found.fetchall()]


def is_no_date(value: Any) -> bool:
    """A date of a thousand years ago: what `test_a_retirement_date_is_a_date` is about."""
    return isinstance(value, str) or (isinstance(value, date) and value < LONG_AGO)


def same(column: str, one: Any, other: Any) -> bool:
    if column.startswith("retirement") and is_no_date(one):
        return True
    if one is None or other is None:
        return one is other
    if column == "missing" or column == "due_missing":
        return True  # something is missing on both roads; the words are the pipeline's own
    if isinstance(one, float) or isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=ABSOLUTE.get(column, 1e-9))
    return bool(one == other)


def differences(database: Path, found: Recomputed) -> list[str]:
    """Say where the two roads differ, each with all that the result row holds."""
    said = []
    with_areas = {row["asset"] for row in ask(database, "FROM result.due_date WHERE kind = 'corroded area'")}
    for table, (keys, attribute) in TABLES.items():
        ours: Mapping[Any, Row] = getattr(found, attribute)
        theirs = {}
        for row in ask(database, f"FROM result.{table}"):
            if table == "due_date" and row["kind"] == "corroded area":
                continue
            key = tuple(row[name] for name in keys)
            theirs[key if len(key) > 1 else key[0]] = row
        said += [f"{table} {key}: only on the second road" for key in ours.keys() - theirs.keys()]
        said += [f"{table} {key}: only in the results" for key in theirs.keys() - ours.keys()]
        for key in sorted(ours.keys() & theirs.keys()):
            wrong = {
                column: (theirs[key][column], value)
                for column, value in ours[key].items()
                if column in theirs[key] and not same(column, theirs[key][column], value)
                if not (table == "asset" and key in with_areas and column in OF_AREAS and theirs[key][column] <= value)
            }
            if wrong:
                lines = [
                    f"    {column}: result {one!r}, second road {other!r}" for column, (one, other) in wrong.items()
                ]
                inputs = {column: value for column, value in theirs[key].items() if value is not None}
                said.append("\n".join([f"{table} {key}:", *lines, f"    row: {inputs}"]))
    return said


def agree(database: Path, found: Recomputed) -> None:
    said = differences(database, found)
    assert not said, f"{len(said)} rows differ; the first ten:\n" + "\n".join(said[:10])


def rows_compared(database: Path, found: Recomputed) -> dict[str, int]:
    return {table: len(getattr(found, attribute)) for table, (_, attribute) in TABLES.items()}


def built(folder: Path, vessels: int, seed: int, basis: str = "", **options: Any) -> tuple[Path, Facts]:
    write_fleet(folder, vessels, seed, basis=basis, **options)
    build(folder, as_of=AS_OF)
    return folder / "results.duckdb", facts_of_folder(folder)


def facts_of_build(database: Path) -> Facts:
    """The facts a build has read, for a folder whose sheets only the intake understands."""
    fields = ask(database, "SELECT * FROM fact.field ORDER BY record, sheet_row, cell")
    readings = ask(database, "FROM fact.reading ORDER BY record, cell")
    misses = ask(database, "FROM fact.not_measured ORDER BY record, cell")
    return facts_of_rows(fields, readings, misses)


# ---- the demo plant -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(demo_results: Path) -> Recomputed:
    return recompute(facts_of_build(demo_results), AS_OF)


def test_the_demo_plant_is_the_same_by_both_roads(demo_results: Path, demo: Recomputed) -> None:
    agree(demo_results, demo)
    counts = rows_compared(demo_results, demo)
    assert counts["asset"] > 70 and counts["location"] > 1900 and counts["reading"] > 11000


# ---- random fleets --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Recomputed]:
    """Two thousand vessels, every kind, every state, both unit systems."""
    sizes = {"components": 3, "places": 2, "readings": 4}
    database, facts = built(tmp_path_factory.mktemp("large"), 2000, 20261101, **sizes, **EVERYTHING)
    return database, recompute(facts, AS_OF)


def test_two_thousand_vessels_are_the_same_by_both_roads(large: tuple[Path, Recomputed]) -> None:
    agree(*large)
    counts = rows_compared(*large)
    assert counts["asset"] == 2000 and counts["location"] > 11000 and counts["reading"] > 35000


def test_the_large_fleet_has_every_case(large: tuple[Path, Recomputed]) -> None:
    _, found = large
    assert {row["state"] for row in found.assets.values()} == {
        *("below required", "overdue", "not assessable", "due by turnaround", "deferred until", "in date", "retired"),
    }
    assert {row["status"] for row in found.assets.values()} == {"in service", "idle", "retired"}
    assert {(row["status"], row["held_for"]) for row in found.readings.values()} == {
        *(("used", None), ("superseded", None), ("before epoch", None)),
        *(("held", "growth"), ("held", "likely mistake"), ("held", "same-day conflict")),
    }
    assert {row["kind"] for row in found.components.values()} == {
        *("cylinder", "sphere", "hemispherical head", "ellipsoidal head", "torispherical head", "cone", "flat head"),
        *("nozzle", None),
    }
    places = found.places.values()
    assert {row["weld_region"] for row in places} == {"weld", "away", "unknown"}
    assert {row["governing_case"] for row in places} == {
        *("internal pressure", "external pressure", "structural minimum", "code minimum", "least neck thickness", None),
    }
    assert {row.get("initial_from") for row in places} == {"first reading", "event", "nominal", None}
    sources = {row.get("rate_from") for row in places}
    assert sources >= {"long-term", "short-term", "stated", "named rate", "least squares", "long-term from nominal"}
    for yes in ("no_measurable_loss", "verdict_turns_on_weld_distance", "first_check_on", "due_on_with_held"):
        assert any(row[yes] for row in places), yes


@pytest.mark.parametrize("table", list(TABLES))
def test_no_number_of_a_result_is_left_out(large: tuple[Path, Recomputed], table: str) -> None:
    """A new column of a result is worked out on the second road too, or is named above as not worked out."""
    database, found = large
    described = ask(database, f"DESCRIBE result.{table}")
    counted = {row["column_name"] for row in described if row["column_type"] not in ("VARCHAR", "VARCHAR[]")}
    rows = getattr(found, TABLES[table][1]).values()
    worked_out = {column for row in rows for column in row}
    assert counted - worked_out - set(TABLES[table][0]) - NOT_WORKED_OUT[table] == set()


#: Another rate policy, scatter, floor and caps: in force where the thick wall is exponential.
OTHER_BASIS = """
rate_policy = "fit upper bound"
reading_scatter_mm = 0.25
rate_floor_mm_per_year = 0.0254
short_interval_years = 2.0
internal_cap_years = 8.0
external_cap_years = 4.0
relief_cap_years = 4.0
relief_clean_cap_years = 6.0
"""


# The retirement basis with the square root is the large fleet's.
@pytest.mark.parametrize(
    ("radius_basis", "thick_wall"),
    [
        *(("allowance", "square root"), ("nominal", "exponential"), ("retirement", "exponential")),
    ],
)
def test_every_radius_basis_and_thick_wall_form(tmp_path: Path, radius_basis: str, thick_wall: str) -> None:
    policy = Policy(radius_basis=radius_basis, thick_wall=thick_wall)
    basis = f'radius_basis = "{radius_basis}"\nthick_wall = "{thick_wall}"\n'
    if thick_wall == "exponential":
        policy = Policy(radius_basis, "fit upper bound", thick_wall, 0.25, 2.0, 0.0254, 8.0, 4.0, 4.0, 6.0)
        basis += OTHER_BASIS
    sizes = {"components": 4, "places": 1, "readings": 4, "high_pressure": 0.3}
    database, facts = built(tmp_path, 100, 7, basis, **sizes, short_interval=0.2, external_pressure=0.3)
    found = recompute(facts, AS_OF, policy)
    agree(database, found)
    sources = {row.get("rate_from") for row in found.places.values()}
    assert ("fit upper bound" if thick_wall == "exponential" else "short-term") in sources
    assert any(
        row["holding_pressure_mpa"] is not None and row["holding_pressure_mpa"] > 40 for row in found.places.values()
    )


# ---- where the roads part -------------------------------------------------------------------------------------------


def test_a_retirement_date_is_a_date(large: tuple[Path, Recomputed]) -> None:
    """8.083 mm required less at 0.001 mm/year: the remaining life is -8,083 years, which no date can say."""
    rows = ask(large[0], "SELECT retirement_on, retirement_earliest_on, retirement_latest_on FROM result.location")
    assert not [row for row in rows if any(is_no_date(value) for value in row.values())]


def test_the_first_check_counts_from_the_change_of_service(tmp_path: Path) -> None:
    """In service 2001-05-17, changed 2024-10-08, not read since: due 2024-10-08 + 182 days, not 2001-11-15."""
    shares = {"event": 0.5, "stated_rate": 0.5, "unread_after_change": True}
    database, facts = built(tmp_path, 20, 3, components=3, places=2, readings=3, **shares)
    agree(database, recompute(facts, AS_OF))
