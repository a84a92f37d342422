"""The auditor's status on a day: the same as a build for that day, with its evidence, and nothing written."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta
from pathlib import Path

import duckdb
import openpyxl
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.evidence import deferrals, evidence, resting_on_nominal
from pipeline.run import build
from tests.plants import write_plant

APP = str(Path(__file__).resolve().parent.parent / "dashboard" / "app.py")
AS_OF = date(2026, 1, 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """V-1 with everything on record and a deferral, V-2 with one reading from nominal, V-3 with hardly anything."""
    plant: Path = tmp_path_factory.mktemp("status") / "plant"
    write_plant(
        plant,
        assets=[
            ["V-1", "Naphtha", "A", date(2012, 1, 1), 200, 60, "P. Example"],
            ["V-2", "Naphtha", "A", date(2012, 1, 1), 200, 60, "P. Example"],
            ["V-3", "Naphtha", "A", None, 200, 60, "P. Example"],
        ],
        components=[[v, "Shell", "shell", 0.9, 0.125, 20000, 0.85] for v in ("V-1", "V-2", "V-3")],
        readings=[
            ["V-1", "Shell", "1", date(2012, 1, 1), 0.90],
            ["V-1", "Shell", "1", date(2022, 1, 1), 0.88],
            ["V-2", "Shell", "1", date(2022, 1, 1), 0.88],
        ],
        inspections=[
            ["V-1", "internal", date(2020, 1, 1), "fit"], ["V-1", "external", date(2020, 6, 1), "fit"],
            ["V-1", "external", date(2025, 6, 1), "fit"], ["V-2", "external", date(2024, 6, 1), "fit"],
        ],
        relief_devices=[
            ["Asset", "Device", "Set pressure (psi)", "Interval (years)", "Last tested"],
            ["V-1", "PSV-1", 200, 5, date(2020, 5, 1)],
        ],
        deferrals=[
            ["Asset", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"],
            ["V-1", "relief device", date(2025, 4, 30), date(2026, 6, 1), "spare late", "A. Example", date(2025, 3, 1)],
        ],
    )  # fmt: skip
    build(plant, as_of=AS_OF)
    return plant


@pytest.fixture
def results(folder: Path) -> duckdb.DuckDBPyConnection:
    return duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True)


@pytest.fixture
def app(folder: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setenv("HOOPLINE_DATABASE", str(folder / "results.duckdb"))
    monkeypatch.setenv("HOOPLINE_FOLDER", str(folder))
    opened = AppTest.from_file(APP, default_timeout=120).run()
    return opened.switch_page("views/audit.py").run()


def test_evidence_names_what_is_missing(results: duckdb.DuckDBPyConnection) -> None:
    rows = evidence(results).set_index("asset")
    assert rows.loc["V-1", "missing"] == "construction code"
    assert "an internal or on-stream inspection" in rows.loc["V-2", "missing"]
    assert rows.loc["V-2", "places_from_nominal"] == 1
    for lacking in ("in-service date", "an external inspection", "Shell"):
        assert lacking in rows.loc["V-3", "missing"]


def test_a_deferral_stands_against_the_date_it_moves(results: duckdb.DuckDBPyConnection) -> None:
    [row] = deferrals(results).to_dict("records")
    # last tested 2020-05-01 + floor(5 x 365.25) = 1826 days: 2025-05-01; approved on 2025-03-01, before it
    assert (row["due_on"].date(), row["standing"]) == (date(2025, 5, 1), "covers the date")


def test_what_rests_on_nominal_is_listed(results: duckdb.DuckDBPyConnection) -> None:
    rows = resting_on_nominal(results)
    assert set(rows["asset"]) <= {"V-2"}


def test_the_page_shows_the_day_of_the_results_first(app: AppTest) -> None:
    assert not app.exception and not app.error
    assert app.subheader[0].value == "Status as of 2026-01-01"


def test_another_day_is_what_a_build_for_that_day_gives(app: AppTest, folder: Path, tmp_path: Path) -> None:
    app.date_input(key="status day").set_value(date(2023, 1, 1)).run()
    assert not app.exception and not app.error
    build(folder, tmp_path / "then.duckdb", date(2023, 1, 1))
    with duckdb.connect(str((tmp_path / "then.duckdb").resolve()), read_only=True) as connection:
        wanted = connection.execute("SELECT asset, state FROM result.asset ORDER BY rank").fetchall()
    table = app.dataframe[0].value
    assert [(row["asset"], row["state_shown"].split(" ", 1)[1]) for row in table.to_dict("records")] == wanted


def test_state_date_and_reason_come_first(app: AppTest) -> None:
    """What is in sight without scrolling: the page's own order, the audit workbook keeps its own."""
    table = app.dataframe[0].value
    assert list(table)[:7] == [
        "rank", "asset", "state_shown", "due_on", "due_kind_shown", "reason", "construction_code",
    ]  # fmt: skip
    assert table["due_on"].notna().any() and table["reason"].notna().all()
    narrow = "".join(element.proto.body for element in app.get("html"))
    assert f"Due date {table['due_on'].dropna().iloc[0].date()}." in re.sub(r"</?span[^>]*>", "", narrow)


def test_two_days_are_compared_with_what_each_change_is_because_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The external inspection of four years ago is due within five: overdue in ten years, by time alone."""
    today = date.today()
    plant = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", today - timedelta(days=3650), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.9, 0.125, 20000, 0.85]],
        readings=[["V-1", "Shell", "1", today - timedelta(days=days), t] for days, t in ((3650, 0.9), (1000, 0.88))],
        inspections=[["V-1", "external", today - timedelta(days=1461), "fit"]],
    )
    build(plant, as_of=today)
    monkeypatch.setenv("HOOPLINE_DATABASE", str(plant / "results.duckdb"))
    monkeypatch.setenv("HOOPLINE_FOLDER", str(plant))
    app = AppTest.from_file(APP, default_timeout=120).run().switch_page("views/audit.py").run()
    app.date_input(key="compare from").set_value(today)
    app.date_input(key="compare to").set_value(today + timedelta(days=3650)).run()
    (button,) = [button for button in app.button if button.label == "Compare the two days"]
    button.click().run()
    assert not app.exception and not app.error
    table = next(frame.value for frame in app.dataframe if "because" in frame.value)
    row = table[(table["asset"] == "V-1") & (table["what"] == "external due date")].iloc[0]
    assert row["before"].endswith(", in date") and row["after"].endswith(", overdue")
    narrow = re.sub(r"</?span[^>]*>", "", "".join(element.proto.body for element in app.get("html")))
    assert "V-1 · external due date" in narrow and f"Because of {row['because']}." in narrow
    assert "None left the list." in narrow and "came onto it." in narrow


def test_looking_at_another_day_changes_nothing(app: AppTest, folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in (".sqlite", ".xlsx")}
    app.date_input(key="status day").set_value(date(2022, 6, 1)).run()
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in (".sqlite", ".xlsx")} == before


def test_the_workbook_of_a_past_day_is_of_that_day(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOOPLINE_DATABASE", str(folder / "results.duckdb"))
    version = data.past_status(folder, data.newest(), date(2023, 1, 1), None)
    book = openpyxl.load_workbook(io.BytesIO(data.audit_workbook(version)))
    words = [str(cell.value) for row in book.worksheets[0].iter_rows() for cell in row if cell.value]
    assert any("2023-01-01" in word for word in words)
