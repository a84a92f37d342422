"""Who may write what, checked where it is written; and the entries that are read as rows of spreadsheets."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from pipeline.entering import enter, look_over
from pipeline.errors import Problem
from pipeline.people import Identity, role_of
from pipeline.record import Decision, Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from pipeline.sign_in import is_loopback, names_of
from tests.plants import write_plant

PEOPLE = """
[people]
"Ada Example" = "manager"
"Ben Example" = "inspector"
"Cy Example" = "auditor"
"""
ADA, BEN, CY = Identity("Ada Example"), Identity("Ben Example"), Identity("Cy Example")
AS_OF = date(2026, 1, 1)
READING = Typed(
    "survey, long",
    {"asset": "V-1", "component": "Shell", "location": "1", "date": "2025-12-01", "thickness (in)": "0.69"},
)


def two_vessels(folder: Path) -> Path:
    """Write and build two vessels, one of them assigned to Ben."""
    plant = write_plant(
        folder,
        assets=[
            ["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"],
            ["V-2", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Dee Example"],
        ],
        components=[[v, "Shell", "shell", 0.75, 0.125, 20000, 0.85] for v in ("V-1", "V-2")],
        locations=[["V-1", "Shell", "1", 0.25]],
        readings=[
            [v, "Shell", "1", day, t]
            for v in ("V-1", "V-2")
            for day, t in ((date(2015, 6, 1), 0.75), (date(2025, 6, 1), 0.70))
        ],
        basis=PEOPLE,
    )
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return two_vessels(tmp_path_factory.mktemp("people") / "plant")


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    """A copy of the plant for one test."""
    return Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))


def asked(folder: Path, sql: str) -> list[tuple]:
    build(folder, as_of=AS_OF)
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(sql).fetchall()


def entries_in(folder: Path) -> int:
    return len(Record(folder / "record.sqlite").history())


def test_roles_come_from_the_basis(folder: Path, tmp_path: Path) -> None:
    assert [role_of(folder, name) for name in ("Ada Example", " ben  EXAMPLE ", "Cy Example", "Eve Example")] == [
        "manager", "inspector", "auditor", None,
    ]  # fmt: skip
    assert role_of(tmp_path, "Anybody") == "manager"  # a plant without people: one person, one machine


def test_an_entered_reading_goes_through_the_steps_like_a_sheets_row(folder: Path) -> None:
    number = enter(folder, READING, BEN, "measured at the pump platform", AS_OF)
    [row] = asked(
        folder, "SELECT thickness_mm, status, file, sheet, cell, text FROM result.reading WHERE read_on = '2025-12-01'"
    )
    assert row == (pytest.approx(0.69 * 25.4, rel=1e-12), "used", "entries", "survey, long", f"entry {number}", "0.69")
    assert asked(folder, "SELECT t_act_mm FROM result.location WHERE asset = 'V-1'") == [(pytest.approx(17.526),)]


def test_an_entered_distance_stands_in_place_of_the_sheets(folder: Path) -> None:
    [before] = asked(folder, "SELECT weld_region, distance_to_weld_mm FROM result.location WHERE asset = 'V-1'")
    assert before == ("weld", pytest.approx(6.35))
    for distance in ("3 in", "4 in"):  # the last entry of several counts
        cells = {"asset": "V-1", "component": "Shell", "location": "1", "distance to weld": distance}
        enter(folder, Typed("locations", cells), BEN, "tape", AS_OF)
    [after] = asked(folder, "SELECT weld_region, distance_to_weld_mm FROM result.location WHERE asset = 'V-1'")
    assert after == ("away", pytest.approx(101.6))
    # what the sheet said stays among the facts
    assert asked(folder, "SELECT count(*) FROM fact.field WHERE field = 'distance_to_weld'") == [(3,)]


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"thickness (in)": "abc"}, "abc"),
        ({"thickness (in)": ""}, "not a row of survey, long"),
        ({"date": "03/05/2025"}, "03/05/2025"),
        ({"date": "2026-02-01"}, "2026-02-01|after the as-of date"),
        ({"asset": ""}, "tag|asset"),
    ],
)
def test_what_cannot_be_used_is_refused_before_it_is_written(folder: Path, cells: dict[str, str], said: str) -> None:
    before = entries_in(folder)
    with pytest.raises(Problem, match=said):
        enter(folder, Typed(READING.kind, {**READING.cells, **cells}), ADA, "why", AS_OF)
    assert entries_in(folder) == before


def test_looking_over_writes_nothing(folder: Path) -> None:
    before = entries_in(folder)
    assert look_over(folder, READING, AS_OF) == []
    assert entries_in(folder) == before


@pytest.mark.parametrize(
    ("by", "typed", "said"),
    [
        (CY, READING, "an auditor reads and changes nothing"),
        (Identity("Eve Example"), READING, "not among the people"),
        (Identity(" "), READING, "name of the person is needed"),
        (BEN, Typed(READING.kind, {**READING.cells, "asset": "V-2"}), "assigned to Dee Example"),
        (BEN, Typed(READING.kind, {**READING.cells, "asset": "V-9"}), "assigned to nobody"),
        (BEN, Typed("assets", {"asset": "V-2", "assigned to": "Ben Example"}), "a manager's to enter"),
        (Identity("Ada Example", datetime.now(UTC) - timedelta(seconds=1)), READING, "sign-in has run out"),
    ],
)
def test_the_record_refuses_what_a_person_may_not(folder: Path, by: Identity, typed: Typed, said: str) -> None:
    before = entries_in(folder)
    with pytest.raises(Problem, match=said):
        enter(folder, typed, by, "why", AS_OF)
    with pytest.raises(Problem, match=said):  # also without the checks of the cells
        Record(folder / "record.sqlite").append(by, typed.kind, typed.cells, "why")
    assert entries_in(folder) == before


def test_verdicts_follow_the_same_rights(folder: Path) -> None:
    record = Record(folder / "record.sqlite")
    decision = Decision("V-2", "Shell", "1", date(2025, 6, 1), 17.78, "reject")
    for by in (BEN, CY):
        with pytest.raises(Problem):
            record.decide(decision, by, "why")
    assert record.decide(decision, ADA, "why") == 1


def test_an_entered_assignment_gives_the_right_to_enter(folder: Path) -> None:
    enter(folder, Typed("assets", {"asset": "V-2", "assigned to": "Ben Example"}), ADA, "holiday", AS_OF)
    assert enter(folder, Typed(READING.kind, {**READING.cells, "asset": "V-2"}), BEN, "measured", AS_OF) == 2
    assert asked(folder, "SELECT assigned_to FROM result.asset WHERE asset = 'V-2'") == [("Ben Example",)]


def test_a_reason_is_needed(folder: Path) -> None:
    with pytest.raises(Problem, match="a reason is needed"):
        enter(folder, READING, ADA, "  ", AS_OF)


def test_the_chain_finds_what_was_altered(folder: Path) -> None:
    import sqlite3

    record = Record(folder / "record.sqlite")
    enter(folder, READING, ADA, "why", AS_OF)
    assert record.verify() == []
    connection = sqlite3.connect(record.path, isolation_level=None)
    for trigger in [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]:
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute("UPDATE entry SET who = 'Somebody Else' WHERE seq = 1")
    connection.close()
    assert [(fault.table, fault.row) for fault in record.verify()] == [("file", 0), ("entry", 1)]
    assert "triggers" in record.verify()[0].words


OWN = {"127.0.0.1": True, "::1": True, "localhost": True, "0.0.0.0": False, "192.168.1.7": False, "a.example": False}


@pytest.mark.parametrize(("address", "own"), OWN.items())
def test_only_this_machine_is_the_loopback(address: str, own: bool) -> None:
    assert is_loopback(address) is own


SIGN_IN = """
[auth]
redirect_uri = "http://127.0.0.1:8500/oauth2callback"
cookie_secret = "0123456789012345678901234567890123456789"
client_id = "hoopline"
client_secret = "secret"
server_metadata_url = "http://127.0.0.1:8501/.well-known/openid-configuration"

[names]
"ben@plant.example" = "Ben Example"
"""


def test_a_sign_in_file_names_people_by_a_verified_claim(tmp_path: Path) -> None:
    path = tmp_path / "sign-in.toml"
    path.write_text(SIGN_IN, encoding="utf-8")
    names = names_of(path)
    assert names.name_in({"email": "ben@plant.example", "email_verified": True}) == "Ben Example"
    assert names.name_in({"email": "ben@plant.example", "email_verified": False}) is None
    assert names.name_in({"email": "ben@plant.example"}) is None  # the provider does not say that it was verified
    assert names.name_in({"email": "ben@plant.example", "email_verified": "true"}) is None
    assert names.name_in({"name": "Ben Example"}) is None
    assert names.name_in({"email": "eve@plant.example", "email_verified": True}) == "eve@plant.example"
    path.write_text(f'claim = "sub"\n{SIGN_IN}', encoding="utf-8")
    assert names_of(path).name_in({"sub": "ben@plant.example"}) == "Ben Example"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("[auth]", "[other]"), "no .auth. table"),
        (('client_id = "hoopline"', ""), "lacks client_id"),
        (("0123456789012345678901234567890123456789", "short"), "cookie_secret is shorter"),
        (("[auth]", "[auth"), "cannot be read as TOML"),
    ],
)
def test_an_incomplete_sign_in_file_is_refused(tmp_path: Path, change: tuple[str, str], said: str) -> None:
    path = tmp_path / "sign-in.toml"
    path.write_text(SIGN_IN.replace(*change), encoding="utf-8")
    with pytest.raises(Problem, match=said):
        names_of(path)


def test_another_address_without_a_sign_in_file_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from pipeline.cli import main

    assert main(["serve", "--database", str(folder / "results.duckdb"), "--address", "0.0.0.0", "--no-browser"]) == 2
    assert "sign-in.toml" in capsys.readouterr().err
