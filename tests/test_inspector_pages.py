"""The inspector's pages, run from the entry script: assigned assets, and entering from judging to new results."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.cautions import BELOW_REQUIRED
from pipeline.record import Record
from pipeline.run import build
from tests.plants import write_plant
from tests.test_dashboard import ENTRY, words_of

AS_OF = date(2026, 1, 1)
PEOPLE = (
    '[people]\n"Ada Example" = "manager"\n"Ben Example" = "inspector"\n"Dee Example" = "inspector"\n'
    '"Cy Example" = "auditor"\n'
)
MARKUP = "**wet** <b>x</b> $1$ [y](http://z)"

Opener = Callable[..., AppTest]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two vessels of Ben's: one in date, one with a held reading, a missed place and an open recommendation."""
    plant = write_plant(
        tmp_path_factory.mktemp("pages") / "plant",
        assets=[
            ["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"],
            ["V-2", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Ben Example"],
            ["V-3", "Naphtha", "A", date(2015, 6, 1), 200, 60, "Dee Example"],
        ],
        components=[[tag, "Shell", "shell", 0.75, 0.125, 20000, 0.85] for tag in ("V-1", "V-2", "V-3")],
        locations=[[tag, "Shell", "1", 0.25] for tag in ("V-1", "V-2", "V-3")],
        readings=[
            *([tag, "Shell", "1", day, t] for tag in ("V-1", "V-2", "V-3")
              for day, t in ((date(2015, 6, 1), 0.75), (date(2023, 6, 1), 0.70))),
            ["V-2", "Shell", "1", date(2025, 6, 1), 0.75],
            ["V-2", "Shell", "2", date(2025, 6, 1), "no access"],
        ],
        inspections=[[tag, kind, date(2025, 6, 1), "fit"] for tag in ("V-1", "V-2", "V-3")
                     for kind in ("internal", "external")],
        basis=PEOPLE,
        recommendations=[["Asset", "Recommendation", "Raised on", "Due"],
                         ["V-2", MARKUP, date(2025, 1, 1), date(2026, 6, 1)]],
    )  # fmt: skip
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture
def folder(built: Path, tmp_path: Path) -> Path:
    shutil.copytree(built, tmp_path / "plant", symlinks=True)
    return tmp_path / "plant"


@pytest.fixture
def opened(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Open a page as a person, with what the address says after its question mark."""

    def open_page(page: str, person: str | None = "Ben Example", **address: str) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(folder / "results.duckdb"))
        monkeypatch.setenv(data.FOLDER_VARIABLE, str(folder))
        app = AppTest.from_file(str(ENTRY), default_timeout=120)
        app.session_state["person"] = person
        for name, value in address.items():
            app.query_params[name] = value
        app.switch_page(f"views/{page}.py").run()
        assert not app.exception
        return app

    return open_page


def press(app: AppTest, label: str) -> AppTest:
    (button,) = [button for button in app.button if button.label.replace("\\", "") == label]
    button.click().run()
    assert not app.exception
    return app


def write(app: AppTest, tag: str, **texts: str) -> None:
    for name, text in texts.items():
        app.text_input(key=f"entering {tag} {name.replace('_', ' ')}").set_value(text)


def choose(app: AppTest, section: str) -> AppTest:
    app.session_state["entering section"] = section
    app.run()
    assert not app.exception
    return app


def errors(app: AppTest) -> str:
    return " / ".join(element.value.replace("\\", "") for element in app.error)


def history(folder: Path) -> list[tuple[str, str, str]]:
    return [(entry.kind, entry.who, entry.reason) for entry in Record(folder / "record.sqlite").history()]


# ---- assigned assets ------------------------------------------------------------------------------------------------


def test_ones_own_assets_are_listed_with_what_waits_there(opened: Opener) -> None:
    app = opened("my_assets")
    frame = app.dataframe[0].value
    assert sorted(frame["asset"]) == ["V-1", "V-2"]
    row = frame.set_index("asset").loc["V-2"]
    assert (row["held_readings"], row["missed_places"], row["open_recommendations"]) == (1, 1, 1)
    assert "1 held" in row["state_shown"]
    app.selectbox(key="asset at hand").set_value("V-2").run()
    words = words_of(app)
    for said in ("0.7500 in of 2025-06-01 is held for growth", "not measured once, no access", "due 2026-06-01"):
        assert said in words
    assert "<b>x</b>" not in "".join(element.proto.body for element in app.get("html"))
    labels = [element.proto.label for element in app.get("download_button")]
    assert labels == ["Field sheet to fill in", "Field sheet to print"]


def test_without_a_name_one_may_still_look_at_anybodys(opened: Opener) -> None:
    app = opened("my_assets", person=None)
    assert "Choose a name" in app.info[0].value
    app.selectbox(key="whose").set_value("Dee Example").run()
    assert list(app.dataframe[0].value["asset"]) == ["V-3"]
    app.selectbox(key="whose").set_value("Cy Example").run()
    assert "Nothing is assigned to Cy Example" in app.info[0].value


def test_the_way_to_entering_takes_the_asset_along(opened: Opener) -> None:
    app = opened("my_assets")
    app.selectbox(key="asset at hand").set_value("V-2").run()
    press(app, "Enter readings")
    assert app.title[0].value == "Enter and judge"
    assert app.selectbox(key="asset").value == "V-2"


# ---- entering -------------------------------------------------------------------------------------------------------


def test_a_reading_is_judged_then_entered_then_in_new_results(opened: Opener, folder: Path) -> None:
    app = opened("entering", asset="V-1")
    write(app, "V-1", Readings_date="2025-12-01", Readings_thickness="0.35", Readings_remark=MARKUP)
    press(app, "Judge")
    words = words_of(app)
    assert "read as 0.3500 in" in words and "below the required 0.3601 in: stop and call the engineer" in words
    assert "It would change from in date to below required." in words
    assert "The date would move from" in words and "to 2025-12-01." in words
    assert BELOW_REQUIRED in errors(app)
    beside = app.dataframe[0].value
    assert beside["side"].tolist() == ["today", "with it"]
    assert beside["t_act_mm"].round(4).tolist() == [0.70, 0.35]
    assert history(folder) == []  # judging writes nothing
    press(app, "Enter 1 row")
    assert "a reason is needed" in errors(app) and history(folder) == []
    assert app.text_input(key="entering V-1 Readings thickness").value == "0.35"
    write(app, "V-1", Readings_reason="read twice at the nozzle")
    press(app, "Enter 1 row")
    assert history(folder) == [("survey, long", "Ben Example", "read twice at the nozzle")]
    assert "Entered for V-1 as entry 1." in app.success[0].value
    assert app.text_input(key="entering V-1 Readings thickness").value == ""
    assert "1 entry not in the results yet." in words_of(app)
    press(app, "Make new results now")
    assert "New results were published" in app.success[0].value
    assert "below required" in words_of(app) and "not in the results yet" not in words_of(app)


def test_a_reading_that_would_be_held_is_never_shown_as_no_change(opened: Opener, folder: Path) -> None:
    """0.85 in is far thicker than 0.70 in: held, so no date moves, and the vessel is not plainly in date any more."""
    app = opened("entering", asset="V-1")
    write(app, "V-1", Readings_date="2025-12-01", Readings_thickness="0.85")
    press(app, "Judge")
    [info] = app.info
    assert info.value.replace("\\", "") == "No date would change; V-1 and Shell would carry 1 held reading."
    beside = app.dataframe[0].value
    assert beside["where"].tolist() == ["Shell, location 1"] * 2
    assert beside["state_shown"].tolist() == ["○ in date", "○ in date, 1 held"]
    words = words_of(app)
    assert "Shell, location 1, 2025-12-01: read as 0.8500 in" in words
    assert "It would change from in date to in date, 1 held." in words
    write(app, "V-1", Readings_reason="as the gauge said")
    press(app, "Enter 1 row")
    said = app.success[0].value.replace("\\", "")
    assert "○ in date, 1 held; it was ○ in date." in said


def test_rates_are_called_in_words_of_people(opened: Opener, folder: Path) -> None:
    app = choose(opened("entering", asset="V-1"), "Rate")
    assert "least squares, upper 95 % bound" in app.dataframe[0].value["choice"].tolist()
    assert "other rate, as a number" in app.selectbox(key="entering V-1 Rate choice").options


def test_several_pasted_lines_are_judged_and_entered_together(opened: Opener, folder: Path) -> None:
    app = opened("entering", asset="V-1")
    app.toggle(key="entering V-1 several").set_value(True).run()
    app.text_area(key="entering V-1 Readings pasted").set_value("Shell; 1; 2025-12-01; 0.695\nShell; 1; soon; 0.69")
    press(app, "Judge")
    assert "row 2: " in errors(app)
    app.text_area(key="entering V-1 Readings pasted").set_value(
        "Shell;1;2025-12-01;0.695\nShell;2;2025-12-01;no access"
    )
    press(app, "Judge")
    words = words_of(app)
    assert "it would count" in words and "not measured, no access" in words
    write(app, "V-1", Readings_reason="survey of December")
    press(app, "Enter 2 rows")
    assert history(folder) == [("survey, long", "Ben Example", "survey of December")] * 2


def test_what_cannot_be_used_is_said_and_not_offered(opened: Opener, folder: Path) -> None:
    app = opened("entering", asset="V-1")
    for thickness, words in (
        ("about half", "about half"),
        ("", "write the thickness"),
        ("0", "0 is never a thickness"),
    ):
        write(app, "V-1", Readings_date="2025-12-01", Readings_thickness=thickness)
        press(app, "Judge")
        assert words in errors(app)
        assert not [button for button in app.button if button.label.startswith("Enter 1")]
    assert history(folder) == []


def test_typed_text_stays_when_somebody_else_publishes(opened: Opener, folder: Path) -> None:
    app = opened("entering", asset="V-1")
    write(app, "V-1", Readings_date="2025-12-01", Readings_thickness="0.69")
    press(app, "Judge")
    build(folder, as_of=AS_OF)
    app.run()
    assert app.text_input(key="entering V-1 Readings thickness").value == "0.69"
    assert any("New results were published since this was judged" in warning.value for warning in app.warning)
    write(app, "V-1", Readings_reason="measured")
    press(app, "Enter 1 row")
    assert "Nothing was entered" in errors(app) and history(folder) == []


def test_a_held_reading_shows_both_dates_and_takes_a_verdict(opened: Opener, folder: Path) -> None:
    app = choose(opened("entering", asset="V-2"), "Held readings")
    words = words_of(app)
    assert "Held for growth" in words and "place, if accepted" in words and "place, if rejected" in words
    write(app, "V-2", Held_readings_reason="gauge checked on its block")
    press(app, "Enter the verdict")
    assert "choose accept or reject" in errors(app)
    app.radio(key="entering V-2 Held readings verdict").set_value("accept")
    press(app, "Enter the verdict")
    assert history(folder) == [("reading decision", "Ben Example", "gauge checked on its block")]


def test_a_rate_is_chosen_among_those_set_beside_each_other(opened: Opener, folder: Path) -> None:
    app = choose(opened("entering", asset="V-1"), "Rate")
    frame = app.dataframe[0].value
    assert frame["choice"].tolist()[:2] == ["long-term", "short-term"]
    assert "selected by the plant's policy" in frame.set_index("choice").loc["long-term", "said"]
    app.selectbox(key="entering V-1 Rate choice").set_value("named rate")
    write(app, "V-1", Rate_value="40", Rate_why="feed changed in 2024")
    press(app, "Judge")
    assert "The date would move from" in words_of(app)
    write(app, "V-1", Rate_reason="agreed with the corrosion specialist")
    press(app, "Enter 1 row")
    [entry] = Record(folder / "record.sqlite").history()
    assert (entry.kind, entry.cells["chosen by"], entry.cells["reason"]) == (
        "rate choices", "Ben Example", "feed changed in 2024",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("section", "kind", "fill"),
    [
        ("Weld distance", "locations", {"Weld_distance_text": "3.5"}),
        ("Event", "events", {"Event_date": "2025-12-01", "Event_thickness": "0.75"}),
        ("Inspection", "inspections", {"Inspection_date": "2025-12-01", "Inspection_result": "fit"}),
        (
            "Recommendations",
            "recommendations",
            {
                "Recommendations_words": MARKUP,
                "Recommendations_raised": "2025-12-01",
                "Recommendations_due": "2026-12-01",
            },
        ),
    ],
)
def test_the_other_rows_are_judged_and_entered_the_same_way(
    opened: Opener, folder: Path, section: str, kind: str, fill: dict[str, str]
) -> None:
    app = choose(opened("entering", asset="V-1"), section)
    press(app, "Judge")
    assert errors(app)  # a blank form says what it needs
    for key, value in (("Event what", "replaced"), ("Inspection what", "external")):
        if section == key.split()[0]:
            app.selectbox(key=f"entering V-1 {key}").set_value(value)
    write(app, "V-1", **fill)
    press(app, "Judge")
    assert errors(app) == "" and "What it would change" in [element.value for element in app.subheader]
    write(app, "V-1", **{f"{section.replace(' ', '_')}_reason": "seen at the vessel"})
    press(app, "Enter 1 row")
    assert history(folder) == [(kind, "Ben Example", "seen at the vessel")]


def test_an_open_recommendation_is_closed_with_its_evidence(opened: Opener, folder: Path) -> None:
    app = choose(opened("entering", asset="V-2"), "Recommendations")
    app.radio(key="entering V-2 recommending").set_value("close an open one").run()
    write(app, "V-2", Recommendations_closed="2025-12-15", Recommendations_evidence="work order 17")
    press(app, "Judge")
    write(app, "V-2", Recommendations_reason="done")
    press(app, "Enter 1 row")
    [entry] = Record(folder / "record.sqlite").history()
    assert entry.cells["recommendation"] == MARKUP and entry.cells["evidence"] == "work order 17"


# ---- rights ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("person", "tag", "words"),
    [
        ("Ben Example", "V-3", "it is assigned to Dee Example"),
        ("Cy Example", "V-1", "an auditor reads and changes nothing"),
        (None, "V-1", "Choose your name in the sidebar"),
    ],
)
def test_the_page_says_why_nothing_can_be_entered(
    opened: Opener, folder: Path, person: str | None, tag: str, words: str
) -> None:
    app = opened("entering", person=person, asset=tag)
    assert words in app.warning[0].value.replace("\\", "")
    write(app, tag, Readings_date="2025-12-01", Readings_thickness="0.69")
    press(app, "Judge")
    assert "it would count" in words_of(app)  # looking is free
    assert not [button for button in app.button if button.label.startswith("Enter 1")]
    assert history(folder) == []


def test_an_unknown_asset_and_a_missing_folder_are_said(
    opened: Opener, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened("entering", asset="V-99")
    assert "V-99: there is no such asset" in errors(app)
    monkeypatch.delenv(data.FOLDER_VARIABLE)
    app = AppTest.from_file(str(ENTRY), default_timeout=60)
    app.switch_page("views/entering.py").run()
    assert "the app was started without one" in words_of(app)


def test_a_list_of_no_sentences_draws_nothing() -> None:
    """A reading may move a place's own dates and none of its asset's: then there is no sentence to list."""
    page = "from dashboard import parts\nparts.stated_list([])\nparts.stated_list([('due', 'soon')])"
    app = AppTest.from_string(page)
    app.run()
    assert not app.exception
    assert len(app.get("html")) == 1
