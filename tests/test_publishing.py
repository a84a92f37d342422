"""Results are published whole or not at all; who holds the old ones keeps them, who opens the path gets the newest."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline import run
from pipeline.errors import Problem
from pipeline.publishing import KEPT_VERSIONS, open_results
from pipeline.run import build
from pipeline.steps import all_steps
from tests.plants import write_plant


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant of one vessel with its results, for the tests that only read them."""
    made = write_plant(
        tmp_path_factory.mktemp("publishing") / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
    )
    build(made, as_of=date(2026, 1, 1))
    return made


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    """A copy of it, to be built again."""
    return Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))


def as_of(connection: duckdb.DuckDBPyConnection) -> date:
    return connection.execute("SELECT as_of FROM result.build").fetchall()[0][0]


def test_an_open_reader_keeps_its_results_and_a_new_one_gets_the_newest(folder: Path) -> None:
    database = folder / "results.duckdb"
    holding = open_results(database)
    build(folder, as_of=date(2026, 2, 1))
    assert as_of(holding) == date(2026, 1, 1)
    assert as_of(open_results(database)) == date(2026, 2, 1)


def test_only_the_newest_versions_are_kept(folder: Path) -> None:
    for month in range(2, 6):
        build(folder, as_of=date(2026, month, 1))
    kept = sorted(path.name for path in folder.glob("results.*.duckdb"))
    assert kept == [f"results.{number:06d}.duckdb" for number in range(6 - KEPT_VERSIONS, 6)]


def test_a_step_that_fails_publishes_nothing_and_leaves_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    database = folder / "results.duckdb"
    steps = run.all_steps()
    broken = [*steps[:-1], steps[-1].__class__(**{**steps[-1].__dict__, "sql": "SELECT 1 AS odd"})]
    monkeypatch.setattr(run, "all_steps", lambda: tuple(broken))
    with pytest.raises(Problem, match="columns and header differ"):
        build(folder, as_of=date(2026, 2, 1))
    assert as_of(open_results(database)) == date(2026, 1, 1)
    assert sorted(path.name for path in folder.iterdir() if path.name.startswith(".")) == []


def test_results_opened_for_reading_can_neither_write_nor_reach_other_files(built: Path) -> None:
    connection = open_results(built / "results.duckdb")
    with pytest.raises(duckdb.Error):
        connection.execute("CREATE TABLE result.more AS SELECT 1 AS a")
    with pytest.raises(duckdb.Error):
        connection.execute("SELECT * FROM read_csv('/etc/hostname')").fetchall()


def test_the_file_states_the_clauses_and_the_meaning_of_every_column(built: Path) -> None:
    connection = open_results(built / "results.duckdb")
    ((definition,),) = connection.execute(
        "SELECT macro_definition FROM duckdb_functions() WHERE function_name = 'remaining_life'"
    ).fetchall()
    assert "rate_mm_per_year" in definition
    silent = connection.execute(
        "SELECT table_name, column_name FROM duckdb_columns() "
        "WHERE schema_name = 'result' AND table_name <> 'build' AND comment IS NULL"
    ).fetchall()
    assert silent == []
    unsaid = connection.execute(
        "SELECT schema_name, table_name, column_name FROM duckdb_columns() AS c "
        "JOIN duckdb_tables() AS t USING (schema_name, table_name) "
        "WHERE schema_name = 'step' AND NOT contains(coalesce(t.comment, ''), chr(10) || column_name || ': ') "
        "AND table_name <> 'finding'"
    ).fetchall()
    assert unsaid == []


def test_a_step_that_says_none_without_has_no_rows_then(built: Path) -> None:
    """Such a step is made empty without being asked where those tables are empty: its SELECT must agree."""
    with duckdb.connect(str((built / "results.duckdb").resolve()), read_only=True) as connection:
        told = [step for step in all_steps() if step.none_without]
        assert len(told) >= 8
        for step in told:
            for table in step.none_without:
                assert table in step.reads
                assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)
            assert connection.execute(f"SELECT count(*) FROM ({step.sql})").fetchone() == (0,), step.table
            made = connection.execute(f"DESCRIBE {step.table}").fetchall()
            asked = connection.execute(f"DESCRIBE {step.sql}").fetchall()
            assert [row[:2] for row in made] == [row[:2] for row in asked]
