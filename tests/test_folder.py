"""Files open elsewhere, changing while read, or not to be read: a sentence each, and the others go on."""

from __future__ import annotations

import sqlite3
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.folder import read_folder
from pipeline.run import build
from tests.plants import SURVEY, write_plant, write_workbook

AS_OF = date(2026, 1, 1)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = write_plant(tmp_path / "plant", assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]])
    write_workbook(folder / "survey.xlsx", {"s": [SURVEY, ["V-1", "Shell", "1", date(2025, 6, 1), 0.7]]})
    return folder


def about(folder: Path, file: str) -> list[tuple[str, str, str]]:
    build(folder, as_of=AS_OF)
    return said_of(folder, file)


def said_of(folder: Path, file: str) -> list[tuple[str, str, str]]:
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(
            "SELECT severity, reason, effect FROM result.ledger WHERE file = ? AND sheet = ''", [file]
        ).fetchall()


def test_a_file_open_in_a_spreadsheet_program(folder: Path) -> None:
    for lock in (".~lock.plant.xlsx#", "~$survey.xlsx"):  # of two programs
        (folder / lock).write_bytes(b"somebody")
    build(folder, as_of=AS_OF)
    for file in ("plant.xlsx", "survey.xlsx"):
        assert said_of(folder, file) == [
            (
                "note",
                "the file is open in a spreadsheet program: save and close it there, then build anew",
                "what was last saved is read",
            )
        ]
    assert [source.file for source in read_folder(folder).sources] == ["plant.xlsx", "survey.xlsx"]


def test_a_file_without_permission_does_not_stop_the_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    build(folder, as_of=AS_OF)
    whole = Path.read_bytes

    def refused(path: Path) -> bytes:
        if path.name == "survey.xlsx":
            raise PermissionError(13, "Permission denied")
        return whole(path)

    monkeypatch.setattr(Path, "read_bytes", refused)
    assert about(folder, "survey.xlsx") == [
        (
            "set aside",
            "the file cannot be read (Permission denied): close it elsewhere or check its permissions",
            "nothing in this file is used",
        )
    ]
    # It is neither gone nor a new, empty version.
    kept = sqlite3.connect(folder / "record.sqlite")
    assert kept.execute("SELECT count(*) FROM source WHERE file = 'survey.xlsx'").fetchall() == [(1,)]
    kept.close()


def test_a_file_that_goes_on_changing_while_it_is_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = Path.read_bytes

    def growing(path: Path) -> bytes:
        content = whole(path)
        if path.name == "survey.xlsx":
            path.write_bytes(content + b"x")
        return content

    monkeypatch.setattr(Path, "read_bytes", growing)
    ((severity, reason, _),) = about(folder, "survey.xlsx")
    assert severity == "set aside"
    assert reason.startswith("the file cannot be read (it changes while it is read): close it elsewhere")


def test_a_file_that_changes_once_is_read_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, changed = Path.read_bytes, []

    def once(path: Path) -> bytes:
        content = whole(path)
        if path.name == "survey.xlsx" and not changed:
            changed.append(path)
            write_workbook(path, {"s": [SURVEY, ["V-1", "Shell", "1", date(2025, 6, 1), 0.65]]})
        return content

    monkeypatch.setattr(Path, "read_bytes", once)
    assert about(folder, "survey.xlsx") == []
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        assert connection.execute("SELECT round(thickness_mm / 25.4, 4) FROM result.reading").fetchall() == [(0.65,)]
