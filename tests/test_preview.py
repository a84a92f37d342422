"""A workbook is looked at before it is accepted: what it would change, nothing written, then accepted under a name."""

from __future__ import annotations

import json
import sqlite3
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.preview import Preview, accept, accepted_name, preview
from pipeline.run import build
from tests.plants import SURVEY, write_plant, write_workbook

AS_OF = date(2026, 1, 1)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", "1", 0.5]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2023, 6, 1), 0.70]],
        inspections=[["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
    )


def survey(folder: Path, thickness: object) -> bytes:
    path = write_workbook(
        folder.parent / "new.xlsx", {"s": [SURVEY, ["V-1", "Shell", "1", date(2025, 12, 1), thickness]]}
    )
    return path.read_bytes()


def test_a_reading_below_required_is_shown_before_it_counts(folder: Path) -> None:
    build(folder, as_of=AS_OF)
    before = sorted(path.name for path in folder.iterdir())
    seen = preview(folder, "survey 2025.xlsx", survey(folder, 0.35), AS_OF)
    assert not seen.replaces
    ((added,), (changed,)) = (seen.readings_added, seen.states_changed)
    assert (added["location"], added["status"], added["cell"]) == ("1", "used", "E2")
    assert "lower than its history" in added["flags"]
    assert (changed["state_before"], changed["state_after"]) == ("in date", "below required")
    moved = {row["kind"]: (row["due_before"], row["due_after"]) for row in seen.due_dates_moved}
    assert moved["thickness"][1] == date(2025, 12, 1)  # due at once, from the day of the reading
    assert moved["thickness"][0] > AS_OF
    assert sorted(path.name for path in folder.iterdir()) == before  # nothing was written


def test_what_cannot_be_used_is_shown_too(folder: Path) -> None:
    seen = preview(folder, "survey 2025.xlsx", survey(folder, "smudged"), AS_OF)
    assert seen.readings_added == []
    ((line),) = seen.ledger
    assert (line["cell"], line["text"], line["severity"]) == ("E2", "smudged", "set aside")
    assert seen.changes_nothing
    assert seen.sheets[0]["kind"] == "survey, long"


def test_a_corrected_file_replaces_its_older_version_and_both_stay_in_the_record(folder: Path) -> None:
    accept(folder, "survey 2025.xlsx", survey(folder, 0.35), Identity("P. Example"), "contractor's report", as_of=AS_OF)
    seen = preview(folder, "survey 2025.xlsx", survey(folder, 0.69), AS_OF)
    assert seen.replaces
    assert [row["thickness_mm"] for row in seen.readings_removed] == [pytest.approx(0.35 * 25.4)]
    assert [row["thickness_mm"] for row in seen.readings_added] == [pytest.approx(0.69 * 25.4)]
    assert [(row["state_before"], row["state_after"]) for row in seen.states_changed] == [("below required", "in date")]
    accept(folder, "survey 2025.xlsx", survey(folder, 0.69), Identity("P. Example"), "typing error", as_of=AS_OF)
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        assert connection.execute("SELECT state FROM result.asset").fetchall() == [("in date",)]
    kept = sqlite3.connect(folder / "record.sqlite")
    assert kept.execute("SELECT count(DISTINCT sha256) FROM source WHERE file = 'survey 2025.xlsx'").fetchall() == [
        (2,)
    ]
    entries = kept.execute("SELECT who, reason, body FROM entry WHERE kind = 'file accepted' ORDER BY seq").fetchall()
    assert [(who, reason) for who, reason, _ in entries] == [
        ("P. Example", "contractor's report"),
        ("P. Example", "typing error"),
    ]
    assert json.loads(entries[1][2])["file"] == "survey 2025.xlsx"
    kept.close()


def test_the_same_file_again_changes_nothing(folder: Path) -> None:
    content = (folder / "plant.xlsx").read_bytes()
    seen: Preview = preview(folder, "plant.xlsx", content, AS_OF)
    assert seen.replaces and seen.changes_nothing


def test_accepting_needs_a_name(folder: Path) -> None:
    with pytest.raises(Problem, match="say who accepts it"):
        accept(folder, "survey 2025.xlsx", survey(folder, 0.69), Identity(" "), "", as_of=AS_OF)
    assert not (folder / "survey 2025.xlsx").exists()


@pytest.mark.parametrize(
    ("name", "kept"),
    [("../../etc/a.xlsx", "a.xlsx"), ("C:\\x\\b.csv", "b.csv"), (" c.xls ", "c.xls")],
)
def test_a_name_cannot_leave_the_folder(name: str, kept: str) -> None:
    assert accepted_name(name) == kept


@pytest.mark.parametrize("name", ["", ".hidden.xlsx", "~$open.xlsx", "a\x00b.xlsx", "notes.docx", "x" * 300 + ".xlsx"])
def test_a_name_that_is_no_spreadsheet_is_refused(name: str) -> None:
    with pytest.raises(Problem):
        accepted_name(name)
