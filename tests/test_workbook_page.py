"""The pages that take workbooks in: how sheets were read, and one more workbook from the drop to the ranking."""

from __future__ import annotations

import shutil
import sqlite3
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.preview import accept
from pipeline.record import Decision, Record
from pipeline.run import build
from tests.plants import SURVEY, write_plant, write_workbook
from tests.test_dashboard import ENTRY, words_of

AS_OF = date(2026, 1, 1)
FILE = "survey 2025.xlsx"
PEOPLE = '[people]\n"P. Example" = "inspector"\n"M. Example" = "manager"\n'

Opener = Callable[..., AppTest]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant of one vessel that is in date, built once."""
    made = write_plant(
        tmp_path_factory.mktemp("workbook") / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", "1", 0.5]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2023, 6, 1), 0.70]],
        inspections=[["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
        basis=PEOPLE,
    )
    build(made, as_of=AS_OF)
    return made


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    return Path(shutil.copytree(built, tmp_path / "plant", symlinks=True))


@pytest.fixture
def opened(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Open a page of the app on the plant, with its folder as `hoopline open` names it."""

    def open_page(page: str = "workbook", with_folder: bool = True) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(folder / "results.duckdb"))
        if with_folder:
            monkeypatch.setenv(data.FOLDER_VARIABLE, str(folder))
        else:
            monkeypatch.delenv(data.FOLDER_VARIABLE, raising=False)
        app = AppTest.from_file(str(ENTRY), default_timeout=60)
        app.switch_page(f"views/{page}.py").run()
        assert not app.exception
        return app

    return open_page


def survey(folder: Path, *rows: list[object], more: tuple[str, ...] = ()) -> bytes:
    return write_workbook(folder.parent / "new.xlsx", {"s": [[*SURVEY, *more], *rows]}).read_bytes()


def reading(thickness: object, location: str = "1", on: date = date(2025, 12, 1)) -> list[object]:
    return ["V-1", "Shell", location, on, thickness]


def drop(app: AppTest, content: bytes, file: str = FILE) -> AppTest:
    app.file_uploader[0].upload(file, content, "application/octet-stream").run()
    assert not app.exception
    return app


def press(app: AppTest, label: str) -> AppTest:
    (button,) = [button for button in app.button if button.label.replace("\\", "").startswith(label)]
    button.click().run()
    assert not app.exception
    return app


def sign(app: AppTest, who: str = "P. Example", reason: str = "contractor's report 17") -> None:
    app.selectbox(key="person").set_value(who)
    app.text_input(key="accepted for").set_value(reason)


def headings(app: AppTest) -> list[str]:
    return [element.value.replace("\\", "") for element in app.subheader]


def files_in(folder: Path) -> list[str]:
    """Return what lies in the folder, without what any reader of the record may leave beside it."""
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith("record.sqlite-"))


# ---- looking --------------------------------------------------------------------------------------------------------


def test_a_look_shows_every_change_and_writes_nothing(folder: Path, opened: Opener) -> None:
    before = files_in(folder)
    app = drop(opened(), survey(folder, reading(0.35)))
    states, due, added = (app.dataframe[place].value for place in range(3))
    assert states[["asset", "before_shown", "after_shown"]].values.tolist() == [
        ["V-1", "○ in date", "▼ below required"]
    ]
    assert "0.3500 in left on 2025-12-01" in states["reason"][0]
    moved = due.set_index("kind_shown").loc["thickness survey"]
    assert moved["after_on"].date() == date(2025, 12, 1)
    assert moved["days"] == (moved["after_on"] - moved["before_on"]).days < 0
    assert "Shell, location 1" in moved["why"] or moved["why"].endswith("Shell")
    assert added[["location", "thickness_mm", "status", "cell"]].values.tolist() == [["1", 0.35, "used", "E2"]]
    assert "re-measure" in added["flags"][0]
    assert app.expander[0].label.replace("\\", "") == f"{FILE}, s: survey, one row for each reading"
    assert app.expander[0].dataframe[0].value["units"].tolist()[-1] == "in (heading)"
    assert "changes nothing" not in words_of(app)
    assert files_in(folder) == before


def test_a_workbook_that_brings_a_held_reading_changes_how_its_asset_stands(folder: Path, opened: Opener) -> None:
    """A wall does not grow by 0.05 in: until a person has judged the reading, the asset is not plainly in date."""
    app = drop(opened(), survey(folder, reading(0.75)))
    assert headings(app)[1:3] == ["Assets whose state changes", "Readings added"]
    states, added = (app.dataframe[place].value for place in range(2))
    assert states[["asset", "before_shown", "after_shown"]].values.tolist() == [
        ["V-1", "○ in date", "○ in date, 1 held"]
    ]
    assert added["status"].tolist() == ["held"]


def test_thickness_is_in_the_persons_units(folder: Path, opened: Opener) -> None:
    app = drop(opened(), survey(folder, reading(0.35)))
    app.button_group(key="units").set_value("si").run()
    assert app.dataframe[2].value["thickness_mm"][0] == pytest.approx(0.35 * 25.4)
    assert "Sentences stay in the plant's units" in words_of(app)


def test_a_workbook_that_changes_nothing_is_said_to(folder: Path, opened: Opener) -> None:
    app = drop(opened(), (folder / "plant.xlsx").read_bytes(), "plant.xlsx")
    assert [info.value for info in app.info] == [
        "This workbook changes nothing: no reading, due date or state would differ."
    ]
    today = date.fromtimestamp((folder / "plant.xlsx").stat().st_mtime)
    (warning,) = [warning.value.replace("\\", "") for warning in app.warning]
    assert warning.startswith("Accepting it replaces the version of plant.xlsx now in the folder, written on ")
    assert str(today.year) in warning


def test_what_is_not_known_is_shown_with_the_lines_that_teach_it(folder: Path, opened: Opener) -> None:
    rows = [[*reading("smudged"), "pitted"], ["V 1", "Shell", "1", date(2025, 12, 2), 0.69, ""]]
    app = drop(opened(), survey(folder, *rows, more=("Seen there",)))
    assert "Ledger of this workbook: 3 lines" in headings(app)
    ledger = next(frame.value for frame in app.dataframe if "effect" in frame.value)
    assert ledger["severity"][0] == "set aside" and ledger["cell"][0] == "E2"
    assert [tomllib.loads(code.value) for code in app.code] == [{"aliases": {"V 1": "V-1"}}]
    app.selectbox(key="workbook heading Seen there").set_value("remark").run()
    assert [tomllib.loads(code.value) for code in app.code] == [
        {"headings": {"Seen there": "remark"}},
        {"aliases": {"V 1": "V-1"}},
    ]
    (folder / "basis.toml").write_text(PEOPLE + "\n".join(code.value for code in app.code), encoding="utf-8")
    app.run()
    assert any("changed since this look" in warning.value for warning in app.warning)
    press(app, "Look again")
    assert not app.code and not app.warning
    assert "Ledger of this workbook: 1 line" in headings(app)


def test_a_look_is_kept_over_other_pages(folder: Path, opened: Opener) -> None:
    app = drop(opened(), survey(folder, reading(0.35)))
    app.text_input(key="accepted for").set_value("contractor's report 17")
    press(app, f"Accept {FILE}")
    assert app.error
    app.switch_page("views/fleet.py").run()
    app.switch_page("views/workbook.py").run()
    assert FILE in headings(app)
    assert app.text_input(key="accepted for").value == "contractor's report 17"
    assert not (folder / FILE).exists()


def test_another_workbook_ends_the_look_at_the_one_before(folder: Path, opened: Opener) -> None:
    app = drop(opened(), survey(folder, reading(0.35)))
    drop(app, survey(folder, reading(0.69)), "other.xlsx")
    assert "other.xlsx" in headings(app) and FILE not in headings(app)
    assert not [frame for frame in app.dataframe if "after_shown" in frame.value]


def test_leaving_writes_nothing(folder: Path, opened: Opener) -> None:
    before = files_in(folder)
    app = press(drop(opened(), survey(folder, reading(0.35))), "Leave it")
    assert [info.value for info in app.info] == [f"{FILE} was left as it was\\: nothing was written."]
    assert headings(app) == []
    assert files_in(folder) == before
    assert drop(app, survey(folder, reading(0.69))).dataframe


# ---- accepting ------------------------------------------------------------------------------------------------------


def test_accepting_needs_a_name_and_a_reason_and_says_which_is_missing(folder: Path, opened: Opener) -> None:
    app = press(drop(opened(), survey(folder, reading(0.35))), f"Accept {FILE}")
    assert [error.value for error in app.error] == [
        "Nothing was accepted: your name in the sidebar and the reason are missing. Fill in and accept again."
    ]
    app.text_input(key="accepted for").set_value("  ")
    app.selectbox(key="person").set_value("M. Example")
    press(app, f"Accept {FILE}")
    assert [error.value for error in app.error] == [
        "Nothing was accepted: the reason is missing. Fill in and accept again."
    ]
    assert app.selectbox(key="person").value == "M. Example"
    assert not (folder / FILE).exists()


def test_an_accepted_workbook_is_in_the_folder_the_record_and_the_ranking(folder: Path, opened: Opener) -> None:
    content = survey(folder, reading(0.35))
    app = drop(opened(), content)
    app.switch_page("views/fleet.py").run()  # a look that was kept over another page is as good as a fresh one
    app.switch_page("views/workbook.py").run()
    sign(app)
    press(app, f"Accept {FILE}")
    assert [success.value.replace("\\", "") for success in app.success] == [
        f"{FILE} is in the folder, accepted by P. Example; new results were published."
    ]
    assert any("A new build was published" in info.value for info in app.info)
    assert [link.proto.label for link in app.get("page_link")] == ["See the ranking with it on Fleet"]
    assert (folder / FILE).read_bytes() == content
    record = sqlite3.connect(folder / "record.sqlite")
    assert record.execute("SELECT who, reason FROM entry").fetchall() == [("P. Example", "contractor's report 17")]
    record.close()
    app.switch_page("views/fleet.py").run()
    assert app.dataframe[0].value[["asset", "state_shown"]].values.tolist() == [["V-1", "▼ below required"]]
    assert "As of **2026-01-01**" in words_of(app)


def test_without_people_in_the_basis_the_name_is_free(folder: Path, opened: Opener) -> None:
    (folder / "basis.toml").unlink()
    build(folder, as_of=AS_OF)
    app = drop(opened(), survey(folder, reading(0.69)))
    app.text_input(key="person").set_value("Q. Example")
    app.text_input(key="accepted for").set_value("second survey")
    press(app, f"Accept {FILE}")
    assert "accepted by Q. Example" in app.success[0].value


def test_an_accepted_file_is_replaced_only_after_saying_so(folder: Path, opened: Opener) -> None:
    accept(folder, FILE, survey(folder, reading(0.35)), Identity("P. Example"), "report", as_of=AS_OF)
    app = drop(opened(), survey(folder, reading(0.69)))
    (warning,) = [warning.value.replace("\\", "") for warning in app.warning]
    assert warning.startswith(f"Accepting it replaces the version of {FILE} now in the folder")
    states = app.dataframe[0].value
    assert states[["before_shown", "after_shown"]].values.tolist() == [["▼ below required", "○ in date"]]
    assert {"Readings added", "Readings removed"} <= set(headings(app))


def test_what_another_person_accepted_meanwhile_asks_for_a_new_look(folder: Path, opened: Opener) -> None:
    app = drop(opened(), survey(folder, reading(0.35)))
    sign(app)
    accept(folder, "other.xlsx", survey(folder, reading(0.60)), Identity("M. Example"), "her report", as_of=AS_OF)
    press(app, f"Accept {FILE}")
    assert any("changed since this look" in warning.value for warning in app.warning)
    assert [error.value.split(":")[0] for error in app.error] == ["Nothing was accepted"]
    assert not (folder / FILE).exists()
    assert app.text_input(key="accepted for").value == "contractor's report 17"
    press(app, "Look again")
    assert not app.warning
    press(app, f"Accept {FILE}")
    assert (folder / FILE).exists()


def test_a_file_laid_into_the_folder_meanwhile_is_named(folder: Path, opened: Opener) -> None:
    app = drop(opened(), survey(folder, reading(0.35)))
    (folder / "laid there.xlsx").write_bytes(survey(folder, reading(0.60)))
    sign(app)
    press(app, f"Accept {FILE}")
    assert app.error and not (folder / FILE).exists()
    press(app, "Look again")
    (warning,) = [warning.value.replace("\\", "") for warning in app.warning]
    assert "differs from the results in view in laid there.xlsx" in warning


def look(folder: Path, monkeypatch: pytest.MonkeyPatch) -> data.Look:
    monkeypatch.setenv(data.VARIABLE, str(folder / "results.duckdb"))
    return data.look_at(folder, FILE, survey(folder, reading(0.35)), data.newest(), AS_OF)


def test_a_build_that_fails_after_accepting_says_how_far_it_came(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = look(folder, monkeypatch)
    monkeypatch.setenv(data.VARIABLE, str(folder.parent / "gone" / "results.duckdb"))
    with pytest.raises(Problem) as said:
        data.take(folder, seen, Identity("P. Example"), "report")
    assert "there is no such folder for the results" in str(said.value)
    assert f"{FILE} is in the folder, but the results in view are without it" in str(said.value)
    assert (folder / FILE).exists()


def test_a_record_that_cannot_be_written_keeps_the_workbook_out(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = look(folder, monkeypatch)
    for left in folder.glob("record.sqlite*"):
        left.unlink()
    (folder / "record.sqlite").mkdir()
    with pytest.raises(Problem) as said:
        data.take(folder, seen, Identity("P. Example"), "report")
    assert "the record cannot be opened" in str(said.value)
    assert f"{FILE} is not in the folder, and the results are as they were" in str(said.value)


def test_a_verdict_on_a_reading_meanwhile_ends_the_look(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = look(folder, monkeypatch)
    assert data.still_stands(seen, folder, data.newest())
    verdict = Decision("V-1", "Shell", "1", date(2023, 6, 1), 0.70 * 25.4, "accept")
    Record(folder / "record.sqlite").decide(verdict, Identity("M. Example"), "measured again")
    assert not data.still_stands(seen, folder, data.newest())


# ---- what cannot be taken -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"not a workbook", b"PK\x03\x04 cut short"])
def test_an_unreadable_workbook_is_said_in_its_ledger(folder: Path, opened: Opener, content: bytes) -> None:
    app = drop(opened(), content)
    assert "Ledger of this workbook: 1 line" in headings(app)
    assert "No sheet of it could be read; the ledger above says why." in words_of(app)
    assert "changes nothing" in words_of(app)
    assert "could not be drawn" not in words_of(app)


def test_a_name_that_points_out_of_the_folder_stays_in_it(folder: Path, opened: Opener) -> None:
    """The name is shortened before the look: what is accepted has the name that is shown."""
    app = opened()
    names = ("../../etc/stolen.xlsx", "C:\\x\\stolen.xlsx", "/stolen.xlsx", "..\\..\\stolen.xlsx")
    for file in names:
        if file != names[0]:
            press(app, "Leave it")
        assert headings(app) == []
        drop(app, survey(folder, reading(0.35)), file)
        assert "stolen.xlsx" in headings(app), file
    sign(app)
    press(app, "Accept stolen.xlsx")
    assert (folder / "stolen.xlsx").exists()
    assert sorted(path.name for path in folder.parent.iterdir()) == ["new.xlsx", "plant"]


def test_a_name_that_cannot_be_used_is_said_and_nothing_else_drawn(folder: Path, opened: Opener) -> None:
    app = opened()
    for file in (".hidden.xlsx", "~$open.xlsx", "a\nb.xlsx", f"{'x' * 300}.xlsx"):
        (error,) = drop(app, survey(folder, reading(0.35)), file).error
        assert "is not a usable file name; rename the workbook" in error.value.replace("\\", ""), file
        assert headings(app) == [], file
    assert drop(app, survey(folder, reading(0.35))).error == []
    assert headings(app)


def test_a_name_that_looks_like_formatting_is_shown_as_it_stands(folder: Path, opened: Opener) -> None:
    file = "<b>*x*_y_$z$.xlsx"
    app = drop(opened(), survey(folder, reading(0.35)), file)
    assert app.subheader[0].value == r"\<b\>\*x\*\_y\_\$z\$.xlsx"
    sign(app)
    press(app, "Accept")
    assert (folder / file).exists()


def test_without_a_folder_the_page_says_what_it_needs(opened: Opener) -> None:
    app = opened(with_folder=False)
    assert "start it by 'hoopline open FOLDER'" in app.info[0].value
    assert not app.get("file_uploader")


def test_a_folder_that_is_gone_is_said(folder: Path, opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened()
    monkeypatch.setenv(data.FOLDER_VARIABLE, str(folder.parent / "gone"))
    app.run()
    assert "gone: there is no such folder any more" in words_of(app)
    assert "could not be drawn" not in words_of(app)


def test_a_basis_broken_meanwhile_is_said(folder: Path, opened: Opener) -> None:
    app = opened()
    (folder / "basis.toml").write_text("units = 'imperial'\n", encoding="utf-8")
    drop(app, survey(folder, reading(0.35)))
    assert [error.value.replace("\\", "") for error in app.error] == [
        'basis.toml: units = \'imperial\' is not accepted; accepted are "us", "si"'
    ]
    (folder / "basis.toml").write_text(PEOPLE, encoding="utf-8")
    press(app, "Look again")
    assert FILE in headings(app)


# ---- sheets as read -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def built_untidy(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plant with a workbook that is understood in part, built once."""
    made = Path(shutil.copytree(built, tmp_path_factory.mktemp("untidy") / "plant", symlinks=True))
    write_workbook(
        made / "untidy.xlsx",
        {
            "UT": [
                ["All readings in mm"],
                ["Asset", "Component", "Location", "TA 2011", "2019-05-03", "MIN", "Seen there"],
                ["V 1", "Shell", "1", 18.5, 18.1, 18.1, "pitted"],
            ],
            "talk": [["hello"]],
        },
    )
    (made / "basis.toml").write_text(PEOPLE + '[headings]\n"Pt. ref" = "location"\n', encoding="utf-8")
    build(made, as_of=AS_OF)
    return made


@pytest.fixture
def untidy(built_untidy: Path, folder: Path) -> Path:
    """A copy of it where the pages are opened."""
    shutil.rmtree(folder)
    return Path(shutil.copytree(built_untidy, folder, symlinks=True))


def test_every_table_and_column_is_shown_as_understood(untidy: Path, opened: Opener) -> None:
    app = opened("sheets")
    summary = app.dataframe[0].value.set_index(["file", "sheet"])
    assert summary.loc[("untidy.xlsx", "talk"), "kind"] == "no table was recognised: nothing of it is used"
    assert summary.loc[("untidy.xlsx", "UT"), "unknown"] == 1
    app.selectbox(key="sheet").set_value("untidy.xlsx, UT").run()
    columns = app.dataframe[1].value.set_index("cell")
    assert columns.loc["G2", "understood"] == "✕ not known: not read"
    assert columns.loc["E2", "units"] == "mm (statement on the sheet)"
    (stated,) = [caption.value for caption in app.caption if "that hold something" in caption.value]
    assert "7 headings, 1 in a derived column, 1 in an unknown column" in stated
    app.button_group(key="remark").set_value(["without a table"]).run()
    assert app.dataframe[0].value["sheet"].tolist() == ["talk"]


def test_the_lines_that_teach_are_shown_and_not_written(untidy: Path, opened: Opener) -> None:
    before = (untidy / "basis.toml").read_bytes()
    app = opened("sheets")
    assert [tomllib.loads(code.value) for code in app.code] == [{"aliases": {"V 1": "V-1"}}]
    app.selectbox(key="results heading Seen there").set_value("remark")
    app.date_input(key="results date TA 2011").set_value(date(2011, 4, 15))
    app.run()
    assert [tomllib.loads(code.value) for code in app.code] == [
        {"headings": {"Seen there": "remark", "TA 2011": "2011-04-15"}},
        {"aliases": {"V 1": "V-1"}},
    ]
    app.selectbox(key="results alias V 1").set_value(None).run()
    assert [list(tomllib.loads(code.value)) for code in app.code] == [["headings"]]
    assert (untidy / "basis.toml").read_bytes() == before
    assert app.dataframe[-1].value[["kind_shown", "spelling", "meaning"]].values.tolist() == [
        ["heading", "Pt. ref", "location"]
    ]


def test_a_plant_that_is_understood_has_nothing_to_be_taught(opened: Opener) -> None:
    written = words_of(opened("sheets"))
    assert "Nothing here is left to be taught" in written
    assert "teaches no heading and no alias of its own" in written
