"""The fleets of the size benchmark are what they are said to be, and its baseline in pandas is a third road to them."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from tests.bench import in_pandas
from tests.bench.fleets import AS_OF
from tests.bench.in_pandas import PLAIN
from tests.bench.in_pandas_by_rows import BY_ROWS
from tests.bench.scale_facts import Facts, make_facts
from tests.bench.scale_run import CHECKS, measure_again, measure_aggregation, measure_build

UNIT, UNITS = 3, 2
MEMORY = "1GB"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Facts:
    work = tmp_path_factory.mktemp("scale")
    return make_facts(work / "facts.duckdb", 1_000 * UNIT * UNITS, work, written=UNIT)


def test_a_fleet_is_its_unit_again_and_again_under_other_tags(fleet: Facts) -> None:
    base = fleet.path.with_name(f"unit_of_{UNIT}.duckdb")
    with duckdb.connect(str(fleet.path), read_only=True) as connection:
        connection.execute(f"ATTACH '{base}' AS unit (READ_ONLY)")
        for table in ("reading", "not_measured", "sheet", "source"):
            [(all_rows, of_unit)] = connection.execute(
                f"SELECT (SELECT count(*) FROM fact.{table}), (SELECT count(*) FROM unit.fact.{table})"
            ).fetchall()
            assert all_rows == UNITS * of_unit
        assert (
            connection.execute("SELECT count(DISTINCT asset), count(DISTINCT file) FROM fact.reading").fetchall()
            == connection.execute(
                f"SELECT {UNITS} * count(DISTINCT asset), {UNITS} * count(DISTINCT file) FROM unit.fact.reading"
            ).fetchall()
        )
        # The first unit is the one that was written; the others differ from it by little.
        differences = connection.execute(
            "SELECT left(many.asset, 4) AS unit_no, max(abs(many.thickness_mm - one.thickness_mm)), "
            "count(*) FILTER (many.thickness_mm <> one.thickness_mm) * 1.0 / count(*) "
            "FROM fact.reading AS many JOIN unit.fact.reading AS one "
            "ON one.record = many.record AND one.cell = many.cell AND one.file = many.file[10:] GROUP BY ALL ORDER BY 1"
        ).fetchall()
        assert [row[0] for row in differences] == ["U000", "U001"]
        assert differences[0][1:] == (0.0, 0.0)
        assert 0.0 < differences[1][1] <= 12 * 0.0001 * 25.4 + 1e-9
        assert differences[1][2] > 0.9
        # The cell says what the reading is.
        assert connection.execute(
            "SELECT count(*) FROM fact.reading "
            "WHERE text::DOUBLE * CASE unit WHEN 'in' THEN 25.4 WHEN 'mm' THEN 1 END IS DISTINCT FROM thickness_mm"
        ).fetchall() == [(0,)]
        assert connection.execute(
            "SELECT count(DISTINCT word), count(*) FROM fact.field WHERE field = 'relief_device'"
        ).fetchall()[0] == (UNIT * UNITS, UNIT * UNITS)


def test_the_same_size_gives_the_same_facts(fleet: Facts, tmp_path: Path) -> None:
    again = make_facts(tmp_path / "facts.duckdb", 1_000 * UNIT * UNITS, tmp_path, written=UNIT)
    assert (again.vessels, again.readings) == (fleet.vessels, fleet.readings) and fleet.readings > 1_000
    with duckdb.connect(str(again.path), read_only=True) as connection:
        connection.execute(f"ATTACH '{fleet.path}' AS other (READ_ONLY)")
        for table in ("field", "reading", "not_measured", "source"):
            for one, two in (("fact", "other.fact"), ("other.fact", "fact")):
                assert connection.execute(f"FROM {one}.{table} EXCEPT ALL FROM {two}.{table}").fetchall() == []


def test_every_step_is_timed_once_and_can_be_timed_again(fleet: Facts) -> None:
    database = fleet.path.with_name("results.duckdb")
    laps = measure_build(fleet.path, database, MEMORY, 99)["laps"]
    numbers = [lap["number"] for lap in laps]
    assert numbers == sorted(numbers)
    assert [lap["name"] for lap in laps].count(CHECKS) == 1
    with duckdb.connect(str(database), read_only=True) as connection:
        before = connection.execute("FROM step.ranking ORDER BY rank").fetchall()
    computed = [(lap["name"], lap["rows"]) for lap in laps if 20 < lap["number"] <= 70]
    again = measure_again(database, MEMORY)["laps"]
    assert [(lap["name"], lap["rows"]) for lap in again] == computed
    with duckdb.connect(str(database), read_only=True) as connection:
        assert connection.execute("FROM step.ranking ORDER BY rank").fetchall() == before != []
        assert connection.execute("SELECT count(*) FROM result.reading").fetchall() == [(fleet.readings,)]
        [(read,)] = connection.execute("SELECT count(*) FROM result.location WHERE t_act_mm IS NOT NULL").fetchall()
    assert measure_aggregation(database, MEMORY)["places"] == read > 0
    stopped = measure_build(fleet.path, fleet.path.with_name("part.duckdb"), MEMORY, 20)["laps"]
    assert stopped[-1]["name"] == "step.reading"


def test_pandas_by_columns_and_by_rows_agrees_with_the_results_and_the_comparison_sees_a_difference(
    tmp_path: Path,
) -> None:
    facts = make_facts(tmp_path / "facts.duckdb", 9_000, tmp_path, PLAIN)
    database = tmp_path / "results.duckdb"
    measure_build(facts.path, database, MEMORY, 99)
    with duckdb.connect(str(database)) as connection:
        known = in_pandas.load(connection, AS_OF)
        worked = in_pandas.work_out(known)
        for each in (worked, in_pandas.work_out(known, BY_ROWS)):
            found = in_pandas.disagreements(each, connection)
            assert {name: rows for name, (rows, _) in found.items() if rows} == {}
            assert found["location.due_on"][1] == facts.places > 500
        connection.execute(
            "UPDATE result.location SET rate_mm_per_year = rate_mm_per_year + 1e-6 "
            "WHERE rate_mm_per_year = (SELECT max(rate_mm_per_year) FROM result.location)"
        )
        connection.execute("DELETE FROM result.asset WHERE rank = 1")
        found = in_pandas.disagreements(worked, connection)
        assert {name: rows for name, (rows, _) in found.items() if rows} == {
            "location.rate_mm_per_year": 1,
            **dict.fromkeys((f"asset.{name}" for name in ("state", "governing_on", "margin", "rank")), 1),
        }
