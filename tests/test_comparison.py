"""Two dates compared: each change is named with its cause, whether a reading, a file, an entry, a policy or time."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from pipeline.cautions import CAUTION
from pipeline.cli import main
from pipeline.comparison import Cause, Change, Comparison, Side, compare
from pipeline.comparison_causes import FileChange
from pipeline.comparison_values import values
from pipeline.entering import enter
from pipeline.errors import Problem
from pipeline.folder import read_folder
from pipeline.people import Identity
from pipeline.publishing import open_results
from pipeline.record import Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import write_plant, write_workbook
from tests.test_replay import moment

AS_OF = date(2026, 1, 1)
LATER = date(2026, 7, 1)
PERSON = Identity("P. Example")
SURVEY = ["Asset", "Component", "Location", "Date", "Thickness (in)"]
DEFERRAL = {
    "asset": "V-3", "kind": "external", "due": "2026-05-31", "deferred until": "2027-06-01", "reason": "no outage",
    "approved by": "A. Example", "approved on": "2025-12-01",
}  # fmt: skip


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime, datetime]:
    """A plant of four vessels, and two moments: between them a new reading at V-1, a corrected one at V-2, a deferral
    for V-3, a policy that holds for all, and a file that is gone; at V-4 only time passes."""
    tags = ("V-1", "V-2", "V-3", "V-4")
    folder = write_plant(
        tmp_path_factory.mktemp("compared") / "plant",
        assets=[[tag, "Naphtha", "A", date(2005, 6, 1), 200, 60, "P. Example"] for tag in tags],
        components=[[tag, "Shell", "shell", 0.75, 0.125, 20000, 0.85] for tag in tags],
        inspections=[[tag, "external", date(2021, 5, 31), "clean"] for tag in tags],
    )
    history = ((date(2015, 6, 1), 0.75), (date(2024, 6, 1), 0.7))
    readings: list[list[object]] = [[tag, "Shell", "1", on, thickness] for tag in tags for on, thickness in history]
    write_workbook(folder / "survey.xlsx", {"s": [SURVEY, *readings]})
    write_workbook(folder / "notes.xlsx", {"s": [["Asset", "Remark"], ["V-4", "painted"]]})
    keep(folder)
    first = moment()
    readings[3][4] = 0.65  # V-2's last one
    readings.insert(0, ["V-1", "Shell", "1", date(2025, 12, 1), 0.66])  # every other row moves down by one
    write_workbook(folder / "survey.xlsx", {"s": [SURVEY, *readings]})
    (folder / "notes.xlsx").unlink()
    (folder / "basis.toml").write_text("# less\nrate_floor_mm_per_year = 0.02\n", encoding="utf-8")
    enter(folder, Typed("deferrals", DEFERRAL), PERSON, "as approved on paper")
    keep(folder)
    return folder, first, moment()


def keep(folder: Path) -> None:
    """Put the folder's files on record, as a build does first; what is compared is made from the record alone."""
    found = read_folder(folder)
    Record(folder / "record.sqlite").keep_sources(found.readable, found.names)


@pytest.fixture(scope="module")
def found(plant: tuple[Path, datetime, datetime]) -> Comparison:
    folder, first, last = plant
    return compare(folder, Side(AS_OF, first), Side(LATER, last))


def of(found: Comparison, asset: str, what: str) -> Change:
    (change,) = [each for each in found.changes if each.asset == asset and each.what == what]
    return change


def causes(change: Change) -> list[tuple[str, str]]:
    return [(cause.kind, cause.words) for cause in change.causes]


def test_a_new_reading_is_named_with_its_cell(found: Comparison) -> None:
    change = of(found, "V-1", "last reading")
    assert (change.component, change.before, change.after) == ("Shell", "0.7000 in", "0.6600 in")
    assert causes(change) == [("file", "new reading “0.66 in” at Shell, location 1, 2025-12-01 (survey.xlsx, s, E2)")]
    assert {"rate", "remaining life", "last reading"} <= {each.what for each in found.changes if each.asset == "V-1"}
    due = of(found, "V-1", "thickness due date")
    assert "[done: Shell, location 1 was read on 2025-12-01]" in due.causes[-1].words


def test_a_corrected_cell_is_named_with_both_values(found: Comparison) -> None:
    change = of(found, "V-2", "last reading")
    words = "reading at Shell, location 1, 2024-06-01 was “0.7 in”, is now “0.65 in” (survey.xlsx, s, E6)"
    assert (change.before, change.after, causes(change)) == ("0.7000 in", "0.6500 in", [("file", words)])
    assert FileChange("notes.xlsx", "gone", found.files[0].sha256_before, "") == found.files[0]
    assert [each.file for each in found.files] == ["notes.xlsx", "survey.xlsx"]
    assert len(found.files[1].sha256_before) == len(found.files[1].sha256_after) == 64


def test_a_row_that_only_moved_is_no_cause(found: Comparison) -> None:
    assert not [each for each in found.changes if each.asset in ("V-3", "V-4") and "file" in dict(causes(each))]


def test_an_entry_is_named_with_who_when_and_why(found: Comparison) -> None:
    change = of(found, "V-3", "external due date")
    assert change.before == "2026-05-31, in date" and change.after == "2026-05-31, deferred until 2027-06-01"
    assert [kind for kind, _ in causes(change)] == ["time", "entry"]
    words = change.causes[-1].words
    assert words.startswith("entry 1 of 20") and " by P. Example, deferrals (" in words
    assert "as approved on paper" in words and "[deferred: deferred until 2027-06-01, approved by A. Example]" in words


def test_a_policy_is_named_with_both_values_and_its_line(found: Comparison) -> None:
    line = "rate_floor_mm_per_year (lowest rate used for life and intervals) was 0 mm/year, is now 0.02 mm/year"
    assert found.policies == [line]
    assert found.basis_lines == ["+# less", "+rate_floor_mm_per_year = 0.02"]
    still = {each.asset: each for each in found.changes if ("policy", f"the policy {line}") in causes(each)}
    assert "V-4" not in still  # it loses more than the floor: the policy moves nothing there


def test_where_nothing_came_only_time_is_the_cause(found: Comparison) -> None:
    change = of(found, "V-4", "external due date")
    assert (change.before, change.after) == ("2026-05-31, in date", "2026-05-31, overdue")
    assert change.causes == (Cause("time", "the passing of time, from 2026-01-01 to 2026-07-01"),)
    assert found.between[0] == "time: 181 days"


def test_the_text_says_all_of_it_and_the_table_too(found: Comparison) -> None:
    text = "\n".join(found.as_text())
    for change in found.changes:
        assert f"{change.what}: {change.before} → {change.after}" in text
        assert all(f"because of {cause.words}" in text for cause in change.causes) and change.causes
    assert CAUTION in text and "a change of the program is not among the causes" in text
    assert "notes.xlsx is gone (SHA-256 " in text and "Overdue due dates: " in text
    frame = found.as_frame()
    assert list(frame.columns) == ["asset", "component", "what", "before", "after", "because"]
    assert len(frame) == len(found.changes)


def test_a_component_with_a_held_reading_is_never_plainly_in_date(tmp_path: Path) -> None:
    """0.70 in of 2020 and 0.85 in of 2024: far thicker than scatter explains, so the later one is held."""
    readings = [["V-1", "Shell", "1", date(year, 6, 1), t] for year, t in ((2015, 0.75), (2020, 0.7), (2024, 0.85))]
    folder = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        readings=readings,
    )
    with open_results(build(folder, as_of=AS_OF).database) as connection:
        found = values(connection, "us")
    for component in ("", "Shell"):
        assert found["V-1", component, "state"].words.endswith(", 1 held")


def test_one_day_is_one_day() -> None:
    sides = (Side(AS_OF, moment()), Side(date(2026, 1, 2), moment()))
    assert Comparison(*sides, [], [], [], [], "", [], 0).between == ["time: 1 day"]


def test_a_day_against_itself_has_no_change(
    plant: tuple[Path, datetime, datetime], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, _, last = plant
    before = {path.name: path.read_bytes() for path in folder.iterdir() if not path.is_symlink()}
    said = last.isoformat()
    assert main(["compare", str(folder), "--from", said, "--to", said, "--as-of", "2026-01-01"]) == 0
    out = capsys.readouterr().out
    assert "nothing: no file, policy or entry, and no time" in out and "What changed\n  nothing" in out
    assert {path.name: path.read_bytes() for path in folder.iterdir() if not path.is_symlink()} == before


def test_sides_the_wrong_way_round_are_refused(
    plant: tuple[Path, datetime, datetime], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, first, last = plant
    with pytest.raises(Problem, match="name the earlier one first"):
        compare(folder, Side(AS_OF, last), Side(AS_OF, first))
    with pytest.raises(Problem, match="there is no record"):
        compare(tmp_path, Side(AS_OF, first), Side(AS_OF, last))
    assert main(["compare", str(folder), "--from", "2001-01-01", "--to", last.isoformat()]) == 2
    assert "no file had been read by 2001-01-01" in capsys.readouterr().err
