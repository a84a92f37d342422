"""A workbook is looked at before it is accepted: what it would change, nothing written, then accepted under a name."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.entering import enter
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.preview import Preview, accept, accepted_name, preview
from pipeline.record import Decision, Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import SURVEY, write_plant, write_workbook

AS_OF = date(2026, 1, 1)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant of one vessel that is in date, built once."""
    made = write_plant(
        tmp_path_factory.mktemp("preview") / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", "1", 0.5]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2023, 6, 1), 0.70]],
        inspections=[["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
    )
    build(made, as_of=AS_OF)
    return made


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    return Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))


def survey(folder: Path, thickness: object) -> bytes:
    path = write_workbook(
        folder.parent / "new.xlsx", {"s": [SURVEY, ["V-1", "Shell", "1", date(2025, 12, 1), thickness]]}
    )
    return path.read_bytes()


def test_a_reading_below_required_is_shown_before_it_counts(folder: Path) -> None:
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


def test_a_held_reading_alone_changes_how_an_asset_stands(folder: Path) -> None:
    seen = preview(folder, "survey 2025.xlsx", survey(folder, 0.75), AS_OF)
    assert [row["status"] for row in seen.readings_added] == ["held"]
    (changed,) = seen.states_changed
    assert (changed["state_before"], changed["held_before"]) == ("in date", 0)
    assert (changed["state_after"], changed["held_after"]) == ("in date", 1)


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


# ---- the side before ------------------------------------------------------------------------------------------------

BY = Identity("P. Example")
COMPUTED = "computing the results as they are"


def enter_a_reading(folder: Path) -> None:
    cells = {"asset": "V-1", "component": "Shell", "location": "1", "date": "2024-06-01", "thickness (in)": "0.695"}
    enter(folder, Typed("survey, long", cells), BY, "measured at the ladder", AS_OF)


def reject_a_reading(folder: Path) -> None:
    verdict = Decision("V-1", "Shell", "1", date(2023, 6, 1), 0.70 * 25.4, "reject")
    Record(folder / "record.sqlite").decide(verdict, BY, "wrong place")


def first_step(folder: Path, as_of: date = AS_OF) -> str:
    """Return what a look computes first, without computing it."""

    class Told(Exception):
        pass

    def told(line: str) -> None:
        raise Told(line)

    with pytest.raises(Told) as said:
        preview(folder, "survey 2025.xlsx", survey(folder, 0.35), as_of, told)
    return str(said.value)


def test_the_published_results_are_the_side_before_and_say_what_computing_would(folder: Path) -> None:
    """Entries and verdicts count on either side."""
    enter_a_reading(folder)
    reject_a_reading(folder)
    build(folder, as_of=AS_OF)
    content, lines = survey(folder, 0.35), list[str]()
    published = preview(folder, "survey 2025.xlsx", content, AS_OF, lines.append)
    assert lines == ["computing the results with survey 2025.xlsx"]
    (folder / "results.duckdb").unlink()
    assert preview(folder, "survey 2025.xlsx", content, AS_OF, lines.append) == published
    assert lines[1:] == [COMPUTED, lines[0]]
    assert published.states_changed and published.due_dates_moved


def damage(folder: Path) -> None:
    (folder / "results.duckdb").resolve().write_bytes(b"not results")


def made_by_another_version(folder: Path) -> None:
    with duckdb.connect(str((folder / "results.duckdb").resolve())) as connection:
        connection.execute("UPDATE result.build SET program = '0.0.1'")


def lay_a_file(folder: Path) -> None:
    (folder / "other.xlsx").write_bytes(survey(folder, 0.60))


def change_the_file(folder: Path) -> None:
    (folder / "plant.xlsx").write_bytes(survey(folder, 0.60))


def take_a_built_file_away(folder: Path) -> None:
    lay_a_file(folder)
    build(folder, as_of=AS_OF)
    (folder / "other.xlsx").unlink()


@pytest.mark.parametrize(
    "change",
    [
        enter_a_reading,
        reject_a_reading,
        lay_a_file,
        change_the_file,
        take_a_built_file_away,
        damage,
        made_by_another_version,
        lambda folder: (folder / "basis.toml").write_text("internal_cap_years = 9\n", encoding="utf-8"),
        lambda folder: (folder / ".~lock.plant.xlsx#").touch(),
        lambda folder: build(folder, as_of=date(2025, 12, 31)),
    ],
    ids=["entry", "verdict", "new file", "file", "gone", "damaged", "version", "policy", "open elsewhere", "date"],
)
def test_where_anything_changed_since_the_side_before_is_computed(
    folder: Path, change: Callable[[Path], object]
) -> None:
    assert first_step(folder) != COMPUTED
    change(folder)
    assert first_step(folder) == COMPUTED


def test_a_file_gone_since_earlier_builds_is_no_change(folder: Path) -> None:
    """What the ledger says of it stands on both sides, but the published results are not trusted with it."""
    take_a_built_file_away(folder)
    build(folder, as_of=AS_OF)
    assert first_step(folder) == COMPUTED
    seen = preview(folder, "plant.xlsx", (folder / "plant.xlsx").read_bytes(), AS_OF)
    assert seen.changes_nothing


# ---- accepting ------------------------------------------------------------------------------------------------------


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
