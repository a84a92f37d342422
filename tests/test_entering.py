"""What people type on the entering page, on record and in the results: text of any kind, rights, all or nothing."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest

from dashboard import data
from pipeline.errors import Problem
from pipeline.judging import reading_row
from pipeline.people import Identity
from pipeline.record import Decision, Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import write_plant

AS_OF = date(2026, 1, 1)
PEOPLE = '[people]\n"Ada Example" = "manager"\n"Ben Example" = "inspector"\n"Cy Example" = "auditor"\n'
BEN, CY = Identity("Ben Example"), Identity("Cy Example")
HOSTILE = (
    "<script>alert(1)</script> **bold** [x](http://y) $1^2$ :material/close:",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "@SUM(1)",
    "right to left \u202eabc\u202c and \u2066isolated\u2069",
    "bell \x07 null-free \x1b[31m red",
    "'; DROP TABLE entry; --",
    "long " + "x" * 10_000,
    "漢字 ü ß 🛢",
)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One vessel assigned to Ben and one to nobody."""
    plant = write_plant(
        tmp_path_factory.mktemp("entering") / "plant",
        assets=[
            ["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"],
            ["V-2", "Naphtha", "A", date(2015, 6, 1), 200, 60, None],
        ],
        components=[[tag, "Shell", "shell", 0.75, 0.125, 20000, 0.85] for tag in ("V-1", "V-2")],
        readings=[
            [tag, "Shell", "1", day, t]
            for tag in ("V-1", "V-2")
            for day, t in ((date(2015, 6, 1), 0.75), (date(2025, 6, 1), 0.70))
        ],
        basis=PEOPLE,
    )
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    shutil.copytree(built, tmp_path / "plant", symlinks=True)
    return tmp_path / "plant"


def asked(folder: Path, sql: str) -> list[tuple]:
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(sql).fetchall()


def reading(day: int = 1, thickness: str = "0.69", asset: str = "V-1", remark: str = "") -> Typed:
    return reading_row(
        asset, "Shell", "1", "us", on=f"2025-12-{day:02d}", thickness=thickness, inspector="Ben Example", remark=remark
    )


def test_any_text_stays_as_it_was_typed_from_entry_to_results(folder: Path) -> None:
    rows = [reading(day, remark=text) for day, text in enumerate(HOSTILE, start=1)]
    numbers = data.enter_rows(folder, rows, BEN, HOSTILE[0])
    history = Record(folder / "record.sqlite").history()
    assert [entry.cells["remark"] for entry in history] == list(HOSTILE)
    assert {entry.reason for entry in history} == {HOSTILE[0]} and [entry.seq for entry in history] == numbers
    build(folder, as_of=AS_OF)
    found = asked(folder, "SELECT remark, cell FROM result.reading WHERE file = 'entries' ORDER BY read_on")
    assert [cell for _, cell in found] == [f"entry {number}" for number in numbers]
    # blanks are collapsed as in a cell of a spreadsheet; nothing else changes
    assert [remark for remark, _ in found] == [" ".join(text.split()) for text in HOSTILE]
    assert Record(folder / "record.sqlite").verify() == []


def test_several_rows_are_entered_all_or_none(folder: Path) -> None:
    with pytest.raises(Problem, match="about half"):
        data.enter_rows(folder, [reading(1), reading(2, "about half")], BEN, "measured")
    with pytest.raises(Problem, match="assigned to nobody"):
        data.enter_rows(folder, [reading(1), reading(2, asset="V-2")], BEN, "measured")
    with pytest.raises(Problem, match="a reason is needed"):
        data.enter_rows(folder, [reading(1), reading(2)], BEN, "  ")
    assert Record(folder / "record.sqlite").history() == []


@pytest.mark.parametrize(
    ("by", "asset", "words"),
    [
        (BEN, "V-2", "assigned to nobody"),
        (CY, "V-1", "an auditor reads and changes nothing"),
        (Identity("Eve Example"), "V-1", "is not among the people"),
        (Identity(""), "V-1", "the name of the person is needed"),
    ],
)
def test_the_record_refuses_who_may_not_and_the_page_can_say_why(
    folder: Path, by: Identity, asset: str, words: str
) -> None:
    kinds = {
        "survey, long": reading(asset=asset),
        "locations": Typed("locations", {"asset": asset, "component": "Shell", "location": "1", "weld region": "away"}),
        "inspections": Typed("inspections", {"asset": asset, "kind": "external", "date": "2025-12-01"}),
    }
    for kind, row in kinds.items():
        why = data.why_not_enter(folder, by, kind, asset)
        assert why is not None and words in why
        with pytest.raises(Problem, match=words):
            data.enter_rows(folder, [row], by, "a reason")
        with pytest.raises(Problem, match=words):  # not by the page alone: the record itself
            Record(folder / "record.sqlite").append(by, kind, row.cells, "a reason")
    with pytest.raises(Problem, match=words):
        Record(folder / "record.sqlite").decide(
            Decision(asset, "Shell", "1", date(2025, 6, 1), 17.78, "accept"), by, "a reason"
        )
    assert Record(folder / "record.sqlite").history() == []
    assert data.why_not_enter(folder, BEN, "survey, long", "V-1") is None


def test_a_recommendation_is_raised_and_closed_with_evidence(folder: Path) -> None:
    raised = {"asset": "V-1", "recommendation": "Blast and paint the skirt", "raised on": "2025-11-01"}
    data.enter_rows(folder, [Typed("recommendations", {**raised, "due": "2026-06-01"})], BEN, "seen at the walk")
    build(folder, as_of=AS_OF)
    sql = "SELECT recommendation, due_on, closed_on, evidence, is_open FROM result.recommendation"
    assert asked(folder, sql) == [("Blast and paint the skirt", date(2026, 6, 1), None, None, True)]
    closing = {**raised, "closed on": "2025-12-15", "evidence": "work order 17"}
    data.enter_rows(folder, [Typed("recommendations", closing)], BEN, "done")
    build(folder, as_of=AS_OF)
    assert asked(folder, sql) == [
        ("Blast and paint the skirt", date(2026, 6, 1), date(2025, 12, 15), "work order 17", False)
    ]
