"""The command line: what each command prints, and one sentence for each thing that can be wrong."""

from __future__ import annotations

import csv
import io
import json
import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.cautions import CAUTION
from pipeline.cli import main
from tests.plants import write_plant, write_workbook

AS_OF = ("--as-of", "2026-01-01")


def plant(folder: Path, **more: object) -> Path:
    """A vessel with one sound shell, read twice."""
    parts: dict[str, object] = {
        "assets": [["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        "components": [["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        "locations": [["V-1", "Shell", "1", 0.5]],
        "readings": [
            ["V-1", "Shell", "1", date(2015, 6, 1), 0.75],
            ["V-1", "Shell", "1", date(2025, 6, 1), 0.70],
        ],
        "inspections": [["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
    }
    return write_plant(folder, **{**parts, **more})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plant with its results, for the tests that only read them."""
    folder = plant(tmp_path_factory.mktemp("built") / "plant")
    assert main(["build", str(folder), *AS_OF]) == 0
    return folder


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def one_line(error: str) -> str:
    assert error.startswith("hoopline: ") and error.endswith("\n") and error.count("\n") == 1, error
    assert "Traceback" not in error
    return error.removeprefix("hoopline: ").rstrip("\n")


# ---- what works -----------------------------------------------------------------------------------------------------


def test_build_prints_counts_and_the_caution(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    code, out, err = said(capsys, "build", str(folder), *AS_OF)
    assert (code, err) == (0, "")
    assert "As of 2026-01-01: 1 file, 1 asset, 1 component, 1 location, 2 readings." in out
    assert (
        "States: 0 below required, 0 overdue, 0 not assessable, 0 due by turnaround, 0 deferred until, 1 in date, "
        "0 retired." in out
    )
    assert "Ledger: 0 set aside, 0 warnings, 0 notes" in out
    assert CAUTION in out


def test_build_honours_the_database_option(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    database = tmp_path / "elsewhere.duckdb"
    assert said(capsys, "build", str(folder), "--database", str(database), *AS_OF)[0] == 0
    assert not (folder / "results.duckdb").exists()
    code, out, err = said(capsys, "rank", "--database", str(database), "--format", "json")
    assert (code, err.strip()) == (0, CAUTION)
    assert [row["asset"] for row in json.loads(out)] == ["V-1"]


def test_the_database_path_opens_as_the_newest_build_in_any_program(built: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))

    def opens_as_of() -> str:
        with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
            ((as_of,),) = connection.execute("SELECT as_of::VARCHAR FROM result.build").fetchall()
            return str(as_of)

    assert opens_as_of() == "2026-01-01"
    assert main(["build", str(folder), "--as-of", "2026-02-01"]) == 0
    assert opens_as_of() == "2026-02-01"


def test_rank_in_three_forms(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant", assets=[
        ["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"],
        ["=V-2", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"],
    ])  # fmt: skip
    said(capsys, "build", str(folder), *AS_OF)
    database = ("--database", str(folder / "results.duckdb"))
    text = said(capsys, "rank", *database)[1]
    assert "    1  =V-2         overdue            External inspection was due on 2020-05-31" in text
    assert CAUTION in text
    rows = list(csv.DictReader(io.StringIO(said(capsys, "rank", *database, "--format", "csv")[1])))
    assert [row["asset"] for row in rows] == ["'=V-2", "V-1"]  # nothing a spreadsheet program would run
    listed = json.loads(said(capsys, "rank", *database, "--format", "json", "--limit", "1")[1])
    assert [row["asset"] for row in listed] == ["=V-2"]
    assert listed[0]["state"] == "overdue"


def test_explain_shows_formula_numbers_clause_and_cell(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = said(capsys, "explain", "V-1", "--database", str(built / "results.duckdb"))
    assert code == 0
    # By hand: Ro = 30 + 0.75 = 30.75 in; t = 200 x 30.75 / (20 000 x 0.85 + 0.4 x 200) = 6150 / 17 080 = 0.36007 in.
    assert "t_L = P × Ro / (S × E + 0.4 × P)" in out
    assert "= 200 × 30.75 / (20000 × 0.85 + 0.4 × 200)" in out
    assert "= 0.36007 in" in out
    assert "App. 1-1(a)(1)" in out
    assert "plant.xlsx, readings, E3: “0.7 in”" in out
    assert "in the weld region   0.3601 in required" in out
    assert "(counts here)" in out
    assert CAUTION in out
    assert "FAULT" not in out


def test_check_reads_without_publishing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    code, out, err = said(capsys, "check", str(folder), *AS_OF)
    assert (code, err) == (0, "")
    assert "Ledger: 0 set aside" in out
    assert sorted(path.name for path in folder.iterdir()) == ["plant.xlsx"]


def test_building_twice_gives_identical_results(built: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))
    again = tmp_path / "again.duckdb"  # beside nothing that holds the facts of the files already
    assert main(["build", str(folder), "--database", str(again), *AS_OF]) == 0
    dumps = []
    for database in (folder / "results.duckdb", again):
        with duckdb.connect(str(database.resolve()), read_only=True) as connection:
            tables = connection.execute(
                "SELECT schema_name || '.' || table_name FROM duckdb_tables() ORDER BY ALL"
            ).fetchall()
            dumps.append({table: connection.execute(f"SELECT * FROM {table} ORDER BY ALL").fetchall()
                          for (table,) in tables})  # fmt: skip
    assert dumps[0] == dumps[1]
    assert len(dumps[0]["result.reading"]) == 2


# ---- what is wrong, a sentence each ---------------------------------------------------------------------------------


def test_a_folder_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = said(capsys, "build", str(tmp_path / "nowhere"))
    assert (code, out) == (2, "")
    assert one_line(err).endswith("nowhere: there is no such folder; name the folder that holds the spreadsheets")


def test_an_empty_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("build", "check", "open"):
        code, _, err = said(capsys, command, str(tmp_path))
        assert code == 2
        assert "holds no spreadsheet (.csv, .ods, .tsv, .xls, .xlsm, .xlsx)" in one_line(err)


def test_a_file_in_place_of_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "plant.xlsx").write_text("x")
    assert "is a file; name the folder" in one_line(said(capsys, "build", str(tmp_path / "plant.xlsx"))[2])


def test_no_results_yet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    missing = tmp_path / "results.duckdb"
    for command in (["rank"], ["explain", "V-1"], ["export", str(tmp_path / "a.xlsx")], ["serve"]):
        code, _, err = said(capsys, *command, "--database", str(missing))
        assert code == 2
        assert "there are no results; run 'hoopline build FOLDER' first" in one_line(err)


def test_a_results_file_of_something_else_is_neither_read_nor_replaced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    foreign = tmp_path / "letters.duckdb"
    foreign.write_bytes(b"my letters")
    folder = plant(tmp_path / "plant")
    assert "is not a results file of this program" in one_line(said(capsys, "rank", "--database", str(foreign))[2])
    code, _, err = said(capsys, "build", str(folder), "--database", str(foreign))
    assert code == 2
    assert "is not a results file of this program; name another file" in one_line(err)
    assert foreign.read_bytes() == b"my letters"


def test_results_in_a_folder_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    code, _, err = said(capsys, "build", str(folder), "--database", str(tmp_path / "none" / "r.duckdb"))
    assert (code, "there is no such folder for the results" in one_line(err)) == (2, True)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("radius_bases = 'nominal'", "basis.toml: unknown key 'radius_bases'; accepted are units, date_order"),
        ("radius_basis = 'corroded'", "accepted are \"retirement\", \"allowance\", \"nominal\""),
        ("internal_cap_years = 'ten'", "internal_cap_years = 'ten' is not a number (year)"),
        ("reading_scatter_mm = -1", "reading_scatter_mm = -1 is below 0 mm"),
        ("internal_cap_years = inf", "is not a finite number"),
        ("units = [", "basis.toml: cannot be read as TOML"),
        ("[people]\n\"P. Example\" = \"king\"", "has the role 'king'; accepted are manager, inspector, auditor"),
        ("[aliases]\nV1 = 3", "[aliases] 'V1' = 3 must be text in quotation marks"),
    ],
)  # fmt: skip
def test_a_wrong_basis_names_the_key_and_what_is_accepted(
    text: str, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = plant(tmp_path / "plant", basis=text + "\n")
    code, _, err = said(capsys, "build", str(folder))
    assert code == 2
    assert sentence in one_line(err)
    assert not (folder / "results.duckdb").exists()


def test_an_asset_a_component_and_a_location_that_are_not_there(
    built: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    database = ("--database", str(built / "results.duckdb"))
    assert "V-9: there is no such asset" in one_line(said(capsys, "explain", "V-9", *database)[2])
    assert "there is no such component; V-1 has Shell" in one_line(said(capsys, "explain", "V-1", "Head", *database)[2])
    error = said(capsys, "explain", "V-1", "Shell", "--location", "9", *database)[2]
    assert "V-1 Shell 9: there is no such location" in one_line(error)


@pytest.mark.parametrize("arguments", [["rank", "--limit", "0"], ["frob"], [], ["build", "x", "--as-of", "soon"]])
def test_wrong_words_on_the_command_line(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    one_line(capsys.readouterr().err)


# ---- bad data: a ledger line each, nothing lost, the rest goes on ---------------------------------------------------


def ledger(folder: Path) -> list[tuple[str, ...]]:
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(
            "SELECT severity, file, sheet, cell, text, reason, effect FROM result.ledger ORDER BY ALL"
        ).fetchall()


def test_a_reading_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant", readings=[
        ["V-1", "Shell", "1", date(2015, 6, 1), 0.75],
        ["V-1", "Shell", "1", date(2020, 6, 1), "smudged"],
        ["V-1", "Shell", "1", date(2025, 6, 1), 0.70],
    ])  # fmt: skip
    code, out, _ = said(capsys, "build", str(folder), *AS_OF)
    assert code == 0
    assert "2 readings" in out and "Ledger: 1 set aside" in out
    ((severity, file, sheet, cell, text, _, effect),) = ledger(folder)
    assert (severity, file, sheet, cell, text) == ("set aside", "plant.xlsx", "readings", "E3", "smudged")
    assert "V-1" in effect and "2020-06-01" in effect
    code, out, _ = said(capsys, "check", str(folder), *AS_OF)
    assert code == 1
    assert "set aside: plant.xlsx, readings, E3 “smudged”" in out


@pytest.fixture(scope="module")
def lacking(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two vessels, each with a cell its component cannot do without."""
    tags, days = ("V-1", "V-2"), ((date(2015, 6, 1), 0.75), (date(2025, 6, 1), 0.70))
    folder = plant(
        tmp_path_factory.mktemp("lacking") / "plant",
        assets=[[tag, "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"] for tag in tags],
        locations=[[tag, "Shell", "1", 0.5] for tag in tags],
        readings=[[tag, "Shell", "1", *read] for tag in tags for read in days],
        inspections=[[tag, kind, date(2025, 6, 1), "fit"] for tag in tags for kind in ("internal", "external")],
        components=[
            ["V-1", "Shell", "wobbly part", 0.75, 0.125, 20000, 0.85],
            ["V-2", "Shell", "shell", 0.75, 0.125, 0, 0.85],
        ],
    )
    assert main(["build", str(folder), *AS_OF]) == 0
    return folder


def test_an_unknown_kind_makes_the_component_not_assessable(lacking: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (severity, _, sheet, cell, text, reason, _), _ = ledger(lacking)
    assert (severity, sheet, cell, text) == ("set aside", "parts", "C2", "wobbly part")
    assert "torispherical head" in reason  # the accepted kinds are named
    out = said(capsys, "explain", "V-1", "--database", str(lacking / "results.duckdb"))[1]
    assert out.startswith("V-1: not assessable")
    assert "Shell, missing: component kind" in out


def test_zero_stress_makes_the_component_not_assessable(lacking: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert [(line[0], line[3], line[4]) for line in ledger(lacking)[1:]] == [("set aside", "F3", "0")]
    out = said(capsys, "explain", "V-2", "--database", str(lacking / "results.duckdb"))[1]
    assert "Shell, missing: allowable stress" in out


def test_a_file_that_has_gone_missing_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    extra = write_workbook(
        folder / "survey 2026.xlsx",
        {"s": [["Asset", "Component", "Location", "Date", "Thickness (in)"],
               ["V-1", "Shell", "1", date(2025, 12, 1), 0.69]]},
    )  # fmt: skip
    said(capsys, "build", str(folder), *AS_OF)
    extra.unlink()
    code, out, _ = said(capsys, "build", str(folder), *AS_OF)
    assert code == 0 and "1 warnings" in out
    ((severity, file, _, _, _, reason, effect),) = ledger(folder)
    assert (severity, file) == ("warning", "survey 2026.xlsx")
    assert reason.startswith("the file was read before and is not in the folder any more")
    assert "the record keeps its last version" in effect


def test_broken_files_do_not_stop_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    broken = {"cut.xlsx": b"PK\x03\x04 cut short", "empty.xlsx": b"", "words.xlsx": b"not a workbook"}
    for name, content in broken.items():
        (folder / name).write_bytes(content)
    code, out, err = said(capsys, "build", str(folder), *AS_OF)
    assert (code, err) == (0, "")
    assert "4 files, 1 asset" in out and "2 readings" in out
    lines = ledger(folder)
    assert [(severity, file) for severity, file, *_ in lines] == [("set aside", name) for name in broken]
    assert all(":" in reason for *_, reason, _ in lines)  # what is wrong: what to do


def test_a_build_that_fails_leaves_the_old_results(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))
    before = (folder / "results.duckdb").resolve()
    (folder / "basis.toml").write_text("units = 'imperial'\n")
    assert said(capsys, "build", str(folder), *AS_OF)[0] == 2
    assert (folder / "results.duckdb").resolve() == before
    assert not [path.name for path in folder.iterdir() if "making" in path.name]


def test_check_says_how_every_sheet_was_understood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = plant(tmp_path / "plant")
    write_workbook(
        folder / "survey 2026.xlsx",
        {
            "s": [
                ["Asset", "Component", "Location", "Date", "Thickness (in)", "Weather"],
                ["V-1", "Shell", "1", date(2025, 12, 1), 0.69, "calm"],
                ["V-1", "Shell", "2", date(2025, 12, 1), "smudged", "calm"],
            ],
            "talk": [["hello"]],
        },
    )
    code, out, err = said(capsys, "check", str(folder), *AS_OF)
    assert (code, err) == (1, "")
    understood, _, rest = out.partition("\n\n")
    assert (
        "survey 2026.xlsx, s: survey, one row for each reading, heading in row 1; 18 cells: 9 used, 1 set aside, "
        "8 ignored (6 headings, 2 in unknown columns).\n"
        "  A1 “Asset” asset; B1 “Component” component; C1 “Location” location; D1 “Date” date; "
        "E1 “Thickness (in)” thickness, in (heading); F1 “Weather” not known: not read\n"
    ) in understood
    assert "survey 2026.xlsx, talk: no table was recognised: nothing of it is used; 1 cells" in understood
    assert "plant.xlsx, " in understood
    assert "set aside: survey 2026.xlsx, s, E3 “smudged”" in rest
