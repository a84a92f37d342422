"""A past status, rebuilt from the record, is the one that was reported then."""

from __future__ import annotations

import shutil
import time
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import pytest

from pipeline.cli import main
from pipeline.entering import enter
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.record import Decision, Record
from pipeline.run import build, rebuild
from pipeline.sheets.entries import Typed
from tests.plants import write_plant, write_workbook

AS_OF = date(2026, 1, 1)
PERSON = Identity("P. Example")

ASSETS = [["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]]
COMPONENTS = [["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]]
READINGS = [["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2025, 6, 1), 0.70]]


def results_of(database: Path) -> dict[str, list[tuple]]:
    """Return every result table as rows, without what a build says of itself and the notes on files of the folder."""
    with duckdb.connect(str(database.resolve()), read_only=True) as connection:
        tables = [
            row[0]
            for row in connection.execute(
                "SELECT table_name FROM duckdb_tables() "
                "WHERE schema_name = 'result' AND table_name <> 'build' ORDER BY 1"
            ).fetchall()
        ]
        return {table: connection.execute(f"FROM result.{table}").fetchall() for table in tables}


def moment() -> datetime:
    """Return a moment after all that was written and before all that will be."""
    time.sleep(0.01)
    now = datetime.now(UTC)
    time.sleep(0.01)
    return now


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[tuple[datetime, dict[str, list[tuple]]]]]:
    """A plant built four times: new readings, a corrected file, a deferral and a verdict, a policy change."""
    folder = write_plant(
        tmp_path_factory.mktemp("past") / "plant", assets=ASSETS, components=COMPONENTS, readings=READINGS
    )
    reported = []

    def report() -> None:
        build(folder, as_of=AS_OF)
        reported.append((moment(), results_of(folder / "results.duckdb")))

    report()
    heading = ["Asset", "Component", "Location", "Date", "Thickness (in)"]
    write_workbook(folder / "survey.xlsx", {"s": [heading, ["V-1", "Shell", "1", date(2025, 12, 1), 0.72]]})
    report()
    write_workbook(folder / "survey.xlsx", {"s": [heading, ["V-1", "Shell", "1", date(2025, 12, 1), 0.62]]})
    deferral = {
        "asset": "V-1", "kind": "external", "due": "2020-05-31", "deferred until": "2027-06-01", "reason": "no outage",
        "approved by": "A. Example", "approved on": "2020-05-01",
    }  # fmt: skip
    enter(folder, Typed("deferrals", deferral), PERSON, "as approved on paper")
    report()
    write_workbook(folder / "survey.xlsx", {"s": [heading, ["V-1", "Shell", "1", date(2025, 12, 1), 0.72]]})
    Record(folder / "record.sqlite").decide(
        Decision("V-1", "Shell", "1", date(2025, 12, 1), 0.72 * 25.4, "accept"), PERSON, "measured again"
    )
    (folder / "basis.toml").write_text('radius_basis = "nominal"\nrate_floor_mm_per_year = 0.2\n', encoding="utf-8")
    report()
    (folder / "survey.xlsx").unlink()
    report()
    return folder, reported


def test_every_past_status_comes_out_the_same_and_the_plant_stays_as_it_is(past, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    folder, reported = past
    assert len({str(results) for _, results in reported}) == len(reported)  # each build differs from the others
    before = {path.name: path.read_bytes() for path in folder.iterdir() if not path.is_symlink()}
    for number, (known_at, results) in enumerate(reported):
        database = tmp_path / f"then {number}.duckdb"
        rebuild(folder, database, AS_OF, known_at)
        assert results_of(database) == results
    # A replay leaves the plant as it is.
    assert {path.name: path.read_bytes() for path in folder.iterdir() if not path.is_symlink()} == before


def test_a_past_status_needs_no_files_in_the_folder(past, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    folder, reported = past
    alone = tmp_path / "record alone"
    alone.mkdir()
    shutil.copy(folder / "record.sqlite", alone / "record.sqlite")
    rebuild(alone, tmp_path / "then.duckdb", AS_OF, reported[1][0])
    assert results_of(tmp_path / "then.duckdb") == reported[1][1]


def test_todays_results_are_not_replaced_by_past_ones(past) -> None:  # type: ignore[no-untyped-def]
    folder, reported = past
    with pytest.raises(Problem, match="must not take the place of today's"):
        rebuild(folder, folder / "results.duckdb", AS_OF, reported[0][0])


def test_before_the_first_file_nothing_was_known(past, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    folder, _ = past
    with pytest.raises(Problem, match="no file had been read by 2001-01-01"):
        rebuild(folder, tmp_path / "then.duckdb", AS_OF, datetime(2001, 1, 1, tzinfo=UTC))


def test_the_command_line_replays(past, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    folder, reported = past
    database = tmp_path / "then.duckdb"
    moment_said = reported[2][0].isoformat()
    arguments = ["build", str(folder), "--as-of", AS_OF.isoformat(), "--known-at", moment_said]
    assert main([*arguments, "--database", str(database)]) == 0
    assert "As known at" in capsys.readouterr().out
    assert results_of(database) == reported[2][1]
    assert main(arguments) == 2
    assert "--known-at needs --database" in capsys.readouterr().err
