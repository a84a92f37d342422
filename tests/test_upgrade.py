"""Files of earlier versions keep opening: a plant as each version of the record left it, kept in `tests/kept`."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import pytest

from pipeline.people import Identity
from pipeline.record import RECORD_NAME, VERSION, Record
from pipeline.run import build, rebuild

KEPT = Path(__file__).parent / "kept"
AS_OF = date(2026, 1, 1)


def readings(database: Path) -> list[tuple]:
    with duckdb.connect(str(database.resolve()), read_only=True) as connection:
        return connection.execute(
            "SELECT read_on, round(thickness_mm / 25.4, 6), status FROM result.reading ORDER BY read_on"
        ).fetchall()


def test_every_version_of_the_record_before_this_one_is_kept() -> None:
    assert sorted(path.name for path in KEPT.iterdir()) == [f"version_{number}" for number in range(1, VERSION)]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of version 1, built by this program once."""
    folder = tmp_path_factory.mktemp("upgrade") / "plant"
    shutil.copytree(KEPT / "version_1", folder)
    build(folder, as_of=AS_OF)
    return folder


def test_a_folder_of_version_1_builds_with_all_that_was_decided_then(opened: Path) -> None:
    # The third reading grew by 0.02 in and would be held, but for the verdict recorded under version 1.
    assert readings(opened / "results.duckdb") == [
        (date(2010, 5, 1), 0.48, "used"),
        (date(2020, 5, 1), 0.47, "used"),
        (date(2024, 5, 1), 0.49, "used"),
    ]


def test_its_record_is_brought_up_to_date_without_losing_a_row(opened: Path, tmp_path: Path) -> None:
    record = Record(opened / RECORD_NAME)
    kept = shutil.copyfile(KEPT / "version_1" / RECORD_NAME, tmp_path / RECORD_NAME)
    with (
        closing(sqlite3.connect(kept)) as before,
        closing(sqlite3.connect(record.path)) as now,
    ):
        for table in ("content", "source", "entry", "build"):
            was = before.execute(f"SELECT * FROM {table} ORDER BY rowid").fetchall()
            assert was and now.execute(f"SELECT * FROM {table} ORDER BY rowid").fetchall()[: len(was)] == was
    assert record.verify() == []
    assert [entry.who for entry in record.history()] == ["Ann Example"]
    record.append(Identity("Ann Example"), "assets", {"asset": "V-1", "assigned to": "Ben Example"}, "new duties")
    assert record.verify() == []


def test_a_status_reported_under_version_1_comes_out_again(opened: Path, tmp_path: Path) -> None:
    first = datetime.fromisoformat(Record(opened / RECORD_NAME).builds()[0][1]).astimezone(UTC)
    rebuild(opened, tmp_path / "past.duckdb", AS_OF, first)
    assert [(thickness, status) for _, thickness, status in readings(tmp_path / "past.duckdb")] == [
        (0.48, "used"),
        (0.46, "used"),
        (0.49, "held"),
    ]
