"""The app, run from its entry script on a real build: what each page shows, and what it says when it cannot."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import duckdb
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import charts, data, wording
from pipeline import __version__, reading
from pipeline.basis import DEFAULTS
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.explain import explain
from pipeline.formulas import ALL
from pipeline.publishing import open_results
from pipeline.quantities import QUANTITIES
from pipeline.run import build
from pipeline.units import DISPLAY, show
from tests.plants import write_plant

ENTRY = Path(__file__).resolve().parent.parent / "dashboard" / "app.py"

Opener = Callable[..., AppTest]
Row = dict[str, object]


@pytest.fixture
def opened(demo_results: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Open a page of the app on the demo plant, with what the address says after its question mark."""

    def open_page(page: str = "", **address: str | list[str]) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(demo_results))
        app = AppTest.from_file(str(ENTRY), default_timeout=60)
        for name, value in address.items():
            app.query_params[name] = value
        if page:
            app.switch_page(f"views/{page}.py")
        app.run()
        assert not app.exception
        return app

    return open_page


@pytest.fixture(scope="session")
def results(demo_results: Path) -> duckdb.DuckDBPyConnection:
    """The same results, to ask what should be shown."""
    return open_results(demo_results)


def asked(results: duckdb.DuckDBPyConnection, question: str) -> list[Row]:
    cursor = results.cursor().execute(question)
    names = [column[0] for column in cursor.description or []]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def words_of(app: AppTest) -> str:
    """Return everything written on the page, formatting marks left out."""
    parts = [
        element.value for kind in ("title", "header", "subheader", "markdown", "caption") for element in app.get(kind)
    ]
    parts += [element.value for kind in ("error", "warning", "info") for element in app.get(kind)]
    for element in app.get("html"):
        body = re.sub(r"<sub>(.*?)</sub>", lambda index: f"_{index[1].replace(',', '_')}", element.proto.body)
        parts.append(re.sub(r"</?span[^>]*>", "", body))
    return " ".join(parts).replace("\\", "").replace("\u2060", "")


def every_step(app: AppTest) -> AppTest:
    """Open every step of the explanation: a closed one is not drawn."""
    app.session_state["every step open"] = True
    return app.run()


def stated(app: AppTest, name: str) -> list[str]:
    """Return the values the address states for a name."""
    value = app.query_params.get(name, [])
    return [value] if isinstance(value, str) else list(value)


# ---- the opening page -----------------------------------------------------------------------------------------------


def test_the_fleet_page_ranks_every_asset_in_the_published_order(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    app = opened()
    ranked = asked(results, "SELECT rank, asset, state, reason, held_readings FROM result.asset ORDER BY rank")
    shown = app.dataframe[0].value
    assert list(shown["asset"]) == [row["asset"] for row in ranked]
    assert list(shown["reason"]) == [row["reason"] for row in ranked]
    assert list(shown["state_shown"]) == [wording.state(str(row["state"]), row["held_readings"]) for row in ranked]
    held = dict(zip(shown["asset"], shown["state_shown"], strict=True))
    assert (held["V-408"], held["C-202"]) == ("○ in date, 1 held", "◆ due by turnaround, 1 held")
    first = ranked[0]
    assert f"{first['asset']}: {first['reason']}." in words_of(app)


def test_the_retirement_date_stands_beside_the_due_date(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    """What falls off the right edge of a window is the count of days; a narrow one has both dates of each asset."""
    app = opened()
    order = list(app.dataframe[0].value)
    assert order[order.index("due_on") :][:4] == ["due_on", "due_kind_shown", "retirement_on", "days_to_due"]
    rows = asked(results, "SELECT asset, state, due_on, retirement_on FROM result.asset ORDER BY rank LIMIT 15")
    assert {"below required", "not assessable"} <= {row["state"] for row in rows}
    links = [link.proto.label.replace("\\", "").replace("\u2060", "") for link in app.get("page_link")]
    for row, label in zip(rows, links, strict=False):
        due, retirement = (wording.said(row[name]) for name in ("due_on", "retirement_on"))
        latest = " at the latest" if row["state"] == "not assessable" and due != wording.DASH else ""
        assert str(row["asset"]) in label
        assert label.endswith(f"Due date {due}{latest}, retirement date {retirement}.")
    assert len(links) >= len(rows)


def test_an_assigned_asset_says_of_its_date_what_it_is(opened: Opener) -> None:
    """D-204's date has passed, V-108's may be earlier because something is missing, others stand."""
    person = "Ines Vardalen"
    app = opened("my_assets", whose=person)
    rows = app.dataframe[0].value.set_index("asset")
    assert rows.loc["D-204", "kind_shown"].endswith(", was due")
    assert rows.loc["V-108", "kind_shown"].endswith(", at the latest")
    plain = rows[~rows["kind_shown"].str.endswith((", was due", ", at the latest"))]
    assert len(plain) and (plain["due_on"].dropna().dt.date >= date(2026, 11, 1)).all()
    words = words_of(app)
    assert "Was due 2025-05-24, external" in words  # the asset at hand, and the narrow list
    assert "Next due 2030-06-09 at the latest, external" in words
    assert "overdue or due within a year" in words
    assert "Shell 1, location 3: the distance to the weld could gain " in words
    assert app.selectbox(key="asset at hand").label == "Asset at hand"


def test_what_a_measurement_is_worth_is_said_with_its_if(opened: Opener) -> None:
    app = opened("measuring")
    tape, repeated = (frame.value for frame in app.dataframe[:2])
    order = list(tape)
    assert order.index("weld_region_half_width_mm") < order.index("verdict")
    assert (tape["weld_region_half_width_mm"] >= 1.0).all()  # inches
    past = repeated[repeated["due_else_said"] < "2026-11-01"]
    assert len(past) and past["due_else_said"].str.endswith(", already overdue").all()
    ahead = repeated.drop(past.index)
    assert len(ahead) and not ahead["due_else_said"].str.contains("overdue").any()
    words = words_of(app)
    assert re.search(r"If farther from the weld than \d\.\d{3} in, it would no longer be below required; the ", words)
    assert " date could be 2034-07-05 instead of 2026-04-16, " in words
    assert re.search(r"If as much thinner, the place would be due on \d{4}-\d\d-\d\d, already overdue\.", words)


def test_a_sentence_begins_with_a_capital_and_a_name_stays_as_it_is() -> None:
    assert wording.begun("it is on no register of assets") == "It is on no register of assets"
    assert wording.begun("n1, location 2: below") == "n1, location 2: below"
    assert wording.begun("item 3: below") == "item 3: below"


def test_the_fleet_page_counts_every_state_in_order_with_word_and_symbol(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    app = opened()
    states = asked(
        results,
        "SELECT state, count(asset) AS assets FROM reference.state LEFT JOIN result.asset USING (state) "
        "GROUP BY state, state_order ORDER BY state_order",
    )
    (pills,) = [widget for widget in app.get("button_group") if widget.key == "state"]
    assert pills.options == [f"{wording.state(str(row['state']))} · {row['assets']}" for row in states]
    assert set(wording.SYMBOLS) == set(wording.STATE_MEANINGS) == {row["state"] for row in states}
    assert len(set(wording.SYMBOLS.values())) == len(states)


@pytest.mark.parametrize("page", ["", "asset", "workbook", "sheets", "sources", "method"])
def test_every_page_names_its_build_and_ends_with_the_cautions(opened: Opener, page: str) -> None:
    app = opened(page)
    written = words_of(app)
    assert "As of **2026-11-01**" in written
    assert f"made by hoopline {__version__}" in written
    assert [caption.value.replace("\\", "") for caption in app.main.caption][-2:] == [CAUTION, NOT_CONSIDERED]
    assert "compliant" not in written.lower()


def test_filters_leave_the_assets_they_name_in_their_order(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    app = opened()
    area, person = "Unit 200", "Ines Vardalen"
    app.multiselect(key="area").set_value([area])
    app.multiselect(key="assigned").set_value([person])
    app.run()
    where = f"area = '{area}' AND assigned_to = '{person}'"
    expected = asked(results, f"SELECT asset FROM result.asset WHERE {where} ORDER BY rank")
    assert 0 < len(expected) < len(asked(results, "SELECT asset FROM result.asset"))
    assert list(app.dataframe[0].value["asset"]) == [row["asset"] for row in expected]
    assert stated(app, "area") == [area]
    assert stated(app, "assigned") == [person]


def test_a_filter_in_the_address_is_applied_and_can_be_sent_on(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    app = opened(state=["overdue", "not assessable"], text="inspection")
    shown = app.dataframe[0].value
    assert set(shown["state_shown"]) <= {wording.state("overdue"), wording.state("not assessable")}
    expected = asked(
        results,
        "SELECT asset FROM result.asset WHERE state IN ('overdue', 'not assessable') "
        "AND contains(lower(concat_ws(' ', description, service, reason)), 'inspection') ORDER BY rank",
    )
    assert list(shown["asset"]) == [row["asset"] for row in expected]
    assert stated(app, "state") == ["overdue", "not assessable"]


def test_a_filter_that_these_results_do_not_have_is_said(opened: Opener) -> None:
    app = opened(area="Unit 900")
    assert "These results have no area called Unit 900" in words_of(app)
    assert len(app.dataframe[0].value) == len(opened().dataframe[0].value)


def test_filters_without_a_match_say_so(opened: Opener) -> None:
    app = opened(text="zzz no such words")
    assert "No asset matches these filters" in words_of(app)
    assert not app.dataframe


def test_ticking_a_row_of_a_filtered_ranking_opens_that_asset(opened: Opener) -> None:
    app = opened(state="overdue")
    shown = app.dataframe[0].value
    key = app.dataframe[0].proto.id.split("-", 2)[2]
    app.session_state[key] = {"selection": {"rows": [2], "columns": [], "cells": []}}
    app.run()
    tag = shown["asset"].iloc[2]
    assert app.title[0].value.replace("\\", "").startswith(f"{tag} ·")
    assert stated(app, "asset") == [tag]


def test_a_selection_does_not_outlive_the_rows_it_was_made_in(opened: Opener) -> None:
    app = opened(state="overdue")
    key = app.dataframe[0].proto.id.split("-", 2)[2]
    app.button_group(key="state").set_value(["in date"]).run()
    assert app.dataframe[0].proto.id.split("-", 2)[2] != key


def test_the_button_opens_the_asset_chosen_without_a_mouse(opened: Opener) -> None:
    app = opened()
    tag = app.dataframe[0].value["asset"].iloc[4]
    app.selectbox(key="asset looked at").set_value(tag).run()
    assert f"{tag}: " in words_of(app)
    next(button for button in app.button if button.label == f"Open {tag}").click().run()
    assert app.title[0].value.replace("\\", "").startswith(tag)


def test_the_first_sight_is_the_ranking_and_the_rest_follows(opened: Opener) -> None:
    app = opened()
    assert app.dataframe and "D-204: " in words_of(app)
    assert not app.get("vega_lite_chart") and "lies ahead follow …" in words_of(app)
    app.run()
    assert len(app.get("vega_lite_chart")) == 3 and "follow …" not in words_of(app)


def test_the_chart_of_due_dates_draws_every_due_date(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    connection = results.cursor()
    due = reading.due_dates(connection)
    counts = reading.due_by_half_year(due)
    assert counts["due"].sum() + reading.undated(due) == len(due)
    assert ((due["due_on"] >= due["begins_on"]) | due["due_on"].isna()).all()
    assert ((due["due_on"] < due["ends_on"]) | due["due_on"].isna()).all()
    assert set(counts["kind"]) <= set(wording.KINDS)
    assert {"internal", "external", "thickness", "relief device"} <= set(counts["kind"])
    app = opened().run()  # a browser asks for what lies below the ranking by itself
    *_, chart = app.get("vega_lite_chart")  # the last one, below the time left and the months
    spec = json.loads(chart.proto.spec)
    colours = spec["layer"][0]["encoding"]["color"]["scale"]
    assert colours["domain"] == list(wording.KINDS)
    assert len(set(colours["range"])) == len(wording.KINDS)
    assert f"{len(due)} due dates of 76 assets" in words_of(app)


# ---- one asset ------------------------------------------------------------------------------------------------------


def test_the_asset_page_gives_the_reasons_of_the_governing_place(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    tag = str(asked(results, "SELECT asset FROM result.asset WHERE rank = 1")[0]["asset"])
    told = explain(results.cursor(), tag)
    written = words_of(every_step(opened("asset", asset=tag)))
    assert told.state == "below required"
    assert BELOW_REQUIRED in written
    assert told.reason in written.replace("&gt;", ">")
    for answer in (*told.weld_answers, *told.basis_answers):
        assert f"{answer.t_req} required" in written
        assert answer.equation in written
    for remark in told.remarks:
        assert remark in written
    for link in told.links:
        assert link.clause in written
        for item in link.inputs:
            assert item.origin.cell in written
    for due in told.due_dates:
        assert (str(due["due_on"]) if due["due_on"] else "no date") in written
    for concern in told.concerns[1:]:
        assert str(concern["sentence"]) in written


def test_every_equation_is_typeset_with_its_numbers(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    told = explain(results.cursor(), "D-204")
    typeset = " ".join(latex.value for latex in every_step(opened("asset", asset="D-204")).latex)
    assert len(told.links) > 10
    for link in told.links:
        assert link.typeset_values in typeset
        assert rf"\text{{{link.shown}}}" in typeset


def test_the_chain_is_folded_into_parts_that_say_what_they_come_to(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    told = explain(results.cursor(), "D-204")
    app = opened("asset", asset="D-204")
    assert not app.latex  # a part is drawn when it is opened
    found = [
        (label, match)
        for label in (one.label.replace("\\", "") for one in app.expander)
        if (match := re.match(r"\*\*(.*?)\*\* · steps? (\d+)(?: to (\d+))?: ", label))
    ]
    names = [match[1] for _, match in found]
    assert names == [
        "Pressure and shape",
        "Required thickness",
        "Corrosion rate",
        "Remaining life and interval",
        "MAWP",
    ]
    starts = [int(match[2]) for _, match in found]
    ends = [int(match[3] or match[2]) for _, match in found]
    assert starts == [1, *(end + 1 for end in ends[:-1])]
    assert ends[-1] == len(told.links)
    shown = [label.rpartition(" = ")[2] for label, _ in found]
    by_name = {link.result_symbol: link.shown for link in told.links}  # of several the last
    assert shown == [told.links[ends[0] - 1].shown, *(by_name[name] for name in ("t_req", "C_r", "RL", "MAWP"))]


@pytest.mark.parametrize(
    ("typeset", "written"),
    [
        ("t_{req,w}", "<var>t<sub>req,w</sub></var>"),
        (r"\Sigma\delta^{2}", "<var>Σδ<sup>2</sup></var>"),
        (r"\Delta x", "<var>Δx</var>"),
        ("t_{mm}-FCA", "<var>t<sub>mm</sub>−FCA</var>"),
    ],
)
def test_a_symbol_is_written_with_its_index(typeset: str, written: str) -> None:
    assert wording.symbol_in_html(typeset) == written


def test_every_symbol_can_be_written() -> None:
    for quantity in QUANTITIES.values():
        assert not re.search(r"[\\{}_^$]", wording.symbol_in_html(quantity.symbol)), quantity.symbol


def test_a_chosen_place_is_explained_and_stands_in_the_address(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    app = opened("asset", asset="C-301", component="Shell 2", location="TP-05")
    assert "The reasons for Shell 2, location TP-05" in words_of(app)
    assert stated(app, "component") == ["Shell 2"]
    app.selectbox(key="component").set_value("Shell 1").run()
    governing = asked(
        results, "SELECT governing_location FROM result.component WHERE asset = 'C-301' AND component = 'Shell 1'"
    )
    assert f"The reasons for Shell 1, location {governing[0]['governing_location']}" in words_of(app)
    app.selectbox(key="asset").set_value("D-204").run()
    assert "The reasons for Shell 1, location 3" in words_of(app)
    assert "component" not in app.query_params


def _draws_statuses(layer: dict) -> bool:
    return layer["encoding"].get("shape", {}).get("field") == "status"


def test_the_chart_draws_readings_by_status_with_their_source_and_both_requirements(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    place = "asset = 'C-202' AND component = 'Shell 2' AND location = '5'"
    statuses = {row["status"] for row in asked(results, f"SELECT DISTINCT status FROM result.reading WHERE {place}")}
    assert statuses == {"used", "held"}
    app = opened("asset", asset="C-202", component="Shell 2", location="5")
    layers = [layer for chart in app.get("vega_lite_chart") for layer in json.loads(chart.proto.spec).get("layer", [])]
    (points,) = (layer["encoding"] for layer in layers if _draws_statuses(layer))
    assert set(points["shape"]["scale"]["domain"]) == statuses
    assert len(set(points["shape"]["scale"]["range"])) == len(statuses)
    assert "source" in {hint["field"] for hint in points["tooltip"]}
    (row,) = asked(results, f"SELECT * FROM result.location WHERE {place}")
    assert list(reading.requirements(row)["thickness_mm"]) == [row["t_req_weld_mm"], row["t_req_away_mm"]]


def test_the_projection_meets_the_requirement_on_the_retirement_date(results: duckdb.DuckDBPyConnection) -> None:
    drawn = far = without = 0
    every_fourth = (
        "SELECT asset, component, location FROM result.location "
        "QUALIFY row_number() OVER (ORDER BY retirement_on, asset, component, location) % 4 = 1"
    )
    for row in asked(results, every_fourth):
        place = reading.place(results, str(row["asset"]), str(row["component"]), str(row["location"]))
        assert place is not None
        line = reading.projection(place)
        if line.empty:
            without += 1
            continue
        end, start = line.iloc[-1], line.iloc[0]
        assert start["on"].date() == place["read_on"]
        assert start["thickness_mm"] == place["t_act_mm"]
        if place["retirement_on"] == end["on"].date():
            assert end["thickness_mm"] == place["t_req_mm"]
            drawn += 1
        else:
            assert end["on"].date() == place["due_on"]
            years = (place["due_on"] - place["read_on"]) / timedelta(days=365.25)
            assert end["thickness_mm"] == pytest.approx(place["t_act_mm"] - place["rate_mm_per_year"] * years)
            far += 1
    assert drawn > 3 and far > 50 and without > 0, (drawn, far, without)


def test_an_asset_that_is_not_in_the_results_is_said(opened: Opener) -> None:
    app = opened("asset", asset="Z-999")
    assert [error.value.replace("\\", "") for error in app.error] == [
        "Z-999: there is no such asset in these results. Choose one below, or see the ranking on Fleet."
    ]
    app.selectbox(key="asset").set_value("D-204").run()
    assert not [error for error in app.error if "Z-999" in error.value]
    assert "D-204" in app.title[0].value


def test_a_place_that_is_not_there_is_said_and_the_governing_one_shown(opened: Opener) -> None:
    written = words_of(opened("asset", asset="D-204", component="Shell 9", location="77"))
    assert "There is no component called Shell 9 here" in written
    assert "The reasons for Shell 1, location 3" in written


def test_every_asset_has_a_page_that_says_its_state(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    unlike = asked(
        results,
        "SELECT min_by(asset, rank) AS asset, state FROM result.asset GROUP BY state, components = 0, "
        "components_not_assessable > 0, held_readings > 0, remaining_life_years IS NULL, mawp_mpa IS NULL",
    )
    assert len(unlike) >= 8
    for row in unlike:
        app = opened("asset", asset=str(row["asset"]))
        assert app.subheader[0].value.startswith(wording.state(str(row["state"])))
        assert "could not be drawn" not in words_of(app)


def test_missing_numbers_are_dashes_or_words(opened: Opener) -> None:
    app = opened("asset", asset="V-410")
    for frame in app.dataframe:
        assert frame.proto.placeholder == wording.DASH
    written = words_of(app)
    assert "missing: a thickness reading" in written
    for wrong in (" nan", "None", "NaT", " inf"):
        assert wrong not in written


# ---- units, builds, faults ------------------------------------------------------------------------------------------


def test_the_unit_switch_changes_numbers_and_headings(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    app = opened("asset", asset="D-204")
    (row,) = asked(results, "SELECT * FROM result.component WHERE asset = 'D-204' AND component = 'Shell 1'")
    t_act = float(str(row["t_act_mm"]))

    def shown() -> tuple[float, str]:
        table = next(frame for frame in app.dataframe if "governing_location" in frame.value)
        values = table.value.set_index("component")["t_act_mm"]
        return float(values["Shell 1"]), json.loads(table.proto.columns)["t_act_mm"]["label"]

    assert shown() == (pytest.approx(t_act / 25.4), "last reading (in)")
    app.button_group(key="units").set_value("si").run()
    assert shown() == (pytest.approx(t_act), "last reading (mm)")
    assert stated(app, "units") == ["si"]
    written = words_of(app)
    for column in ("t_act_mm", "t_req_mm"):
        assert show(float(str(row[column])), "thickness", "si") in written
    assert "Sentences stay in the plant's units (US customary; thickness in inches)." in written
    app.button_group(key="units").set_value("us").run()
    assert "units" not in app.query_params


def test_units_in_the_address_hold_on_every_page(opened: Opener) -> None:
    app = opened(units="si")
    assert "Sentences stay in the plant's units" in words_of(app)
    assert app.session_state["units"] == "si"
    assert opened(units="furlong").session_state["units"] == "us"


@pytest.mark.parametrize("system", list(DISPLAY))
def test_display_units_agree_with_what_is_said_in_words(results: duckdb.DuckDBPyConnection, system: str) -> None:
    frame = reading.places(results, "D-204", "Shell 1")
    shown = reading.in_display_units(frame, system)
    compared = negative = 0
    for column in frame.columns:
        kind = reading.kind_of(column)
        if kind is None:
            assert shown[column].equals(frame[column])
            continue
        unit, decimals = reading.unit_of(column, system)
        for inside, outside in zip(frame[column], shown[column], strict=True):
            number = f"{outside:,.{decimals}f}".replace("-", "−")
            several = "s" if kind == "duration" and number.strip("−") != "1.00" else ""
            assert show(inside, kind, system) == ("—" if outside != outside else f"{number} {unit}{several}")
            compared += 1
            negative += number.startswith("−")
    assert compared > 100 and negative


def test_a_new_build_is_noticed_and_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plant = write_plant(
        tmp_path / "plant",
        assets=[("V-1", "water", "North", "2010-01-01", 100, 48, "A. Person")],
        components=[("V-1", "Shell", "cylinder", 0.5, 0.125, 20000, 0.85)],
        locations=[("V-1", "Shell", "1", 0)],
        readings=[("V-1", "Shell", "1", date(2015, 1, 1), 0.49), ("V-1", "Shell", "1", date(2020, 1, 1), 0.47)],
    )
    build(plant, as_of=date(2024, 3, 1))
    monkeypatch.setenv(data.VARIABLE, str(plant / "results.duckdb"))
    app = AppTest.from_file(str(ENTRY), default_timeout=60).run()
    assert "As of **2024-03-01**" in words_of(app)
    app.run()
    assert not app.info
    before = data.newest()
    build(plant, as_of=date(2024, 5, 1))
    app.run()
    assert data.newest() != before
    assert "As of **2024-05-01**" in words_of(app)
    assert [info.value for info in app.info] == [
        "A new build was published: this page now shows its results, as of 2024-05-01."
    ]
    app.run()
    assert not app.info


def test_tags_and_texts_that_look_like_formatting_are_shown_as_they_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tag = "V_1*<b>$x$"
    plant = write_plant(
        tmp_path / "plant",
        assets=[(tag, "*bold* & <i>", "North", "2010-01-01", 100, 48, ":red[Person]")],
        components=[(tag, "Shell", "cylinder", 0.5, 0.125, 20000, 0.85)],
        locations=[(tag, "Shell", "1", 0)],
        readings=[(tag, "Shell", "1", date(2015, 1, 1), 0.49), (tag, "Shell", "1", date(2020, 1, 1), 0.47)],
    )
    build(plant, as_of=date(2024, 3, 1))
    monkeypatch.setenv(data.VARIABLE, str(plant / "results.duckdb"))
    app = AppTest.from_file(str(ENTRY), default_timeout=60)
    app.query_params["asset"] = tag
    app.switch_page("views/asset.py").run()
    assert not app.exception
    assert app.title[0].value == r"V\_1\*\<b\>\$x\$"
    bodies = " ".join(element.proto.body for element in app.get("html"))
    assert "*bold* &amp; &lt;i&gt;" in bodies
    assert "<i>" not in bodies


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("nowhere/results.duckdb", "there are no results; run 'hoopline build FOLDER' first"),
        ("notes.txt", "is not a results file of this program"),
        ("other.duckdb", "is not a results file of this program"),
        ("", "no results are named: start the app by 'hoopline open FOLDER'"),
    ],
)
def test_results_that_are_not_there_are_said_without_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str, said: str
) -> None:
    (tmp_path / "notes.txt").write_text("not a database", encoding="utf-8")
    duckdb.connect(str(tmp_path / "other.duckdb")).close()
    monkeypatch.setenv(data.VARIABLE, str(tmp_path / place) if place else "")
    app = AppTest.from_file(str(ENTRY), default_timeout=60).run()
    assert not app.exception
    assert said in words_of(app)
    assert [caption.value.replace("\\", "") for caption in app.main.caption][-2:] == [CAUTION, NOT_CONSIDERED]


def test_results_of_another_program_version_are_said(
    demo_results: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    older = tmp_path / "results.duckdb"
    shutil.copyfile(demo_results, older)
    with duckdb.connect(str(older)) as connection:
        connection.execute("DROP TABLE result.concern")
    monkeypatch.setenv(data.VARIABLE, str(older))
    app = AppTest.from_file(str(ENTRY), default_timeout=60).run()
    assert not app.exception
    assert "do not hold what this version of the program shows" in words_of(app)
    assert "run 'hoopline build FOLDER' anew" in words_of(app)


# ---- sources and method ---------------------------------------------------------------------------------------------


def test_the_ledger_shows_every_line_and_filters_by_severity_file_and_words(
    opened: Opener, results: duckdb.DuckDBPyConnection
) -> None:
    app = opened("sources")
    lines = asked(results, "SELECT * FROM result.ledger")
    assert len(app.dataframe[0].value) == len(lines)
    app.button_group(key="severity").set_value(["set aside"])
    app.multiselect(key="file").set_value(["UT results 2019-2026.csv"])
    app.run()
    expected = {
        row["cell"] for row in lines if row["severity"] == "set aside" and row["file"] == "UT results 2019-2026.csv"
    }
    assert 0 < len(expected) < len(lines)
    assert set(app.dataframe[0].value["cell"]) == expected
    app.text_input(key="words").set_value("v-408").run()
    assert all("V-408" in effect for effect in app.dataframe[0].value["effect"])
    assert stated(app, "severity") == ["set aside"]


def test_the_sources_page_accounts_for_every_file_and_cell(opened: Opener, results: duckdb.DuckDBPyConnection) -> None:
    app = opened("sources")
    files = asked(results, "SELECT * FROM result.source ORDER BY file")
    shown = app.dataframe[1].value
    assert list(shown["file"]) == [row["file"] for row in files]
    assert list(shown["rows_set_aside"]) == [row["rows_set_aside"] for row in files]
    sheets = opened("sheets").dataframe[0].value
    counts = asked(results, "SELECT cells, used, set_aside, ignored FROM result.sheet ORDER BY file, sheet, table_no")
    assert sheets[["cells", "used", "set_aside", "ignored"]].to_dict("records") == counts


def test_the_method_page_typesets_every_clause_and_states_the_basis(opened: Opener) -> None:
    app = opened("method")
    assert not app.latex  # an equation is typeset when it is opened
    app.session_state["every equation open"] = True
    app.run()
    assert [latex.value.strip("$\n") for latex in app.latex] == [
        formula.typeset()
        for document in dict.fromkeys(formula.document for formula in ALL)
        for formula in ALL
        if formula.document == document
    ]
    body = next(element.proto.body for element in app.get("html") if "Policies of the basis" in element.proto.body)
    policies = [re.findall(r"<td>(.*?)</td>", row) for row in re.findall(r"<tr>(<td>.*?)</tr>", body)]
    assert len(policies) == len(DEFAULTS)
    by_label = {label: set_by for label, _, set_by, _ in policies}
    assert by_label["unit system shown"] == "the plant"
    assert by_label["governing corrosion rate"] == "default"
    app.button_group(key="document").set_value(["API 510"]).run()
    assert len(app.latex) == len([formula for formula in ALL if formula.document == "API 510"])


# ---- parts ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("0.502*", r"0.502\*"),
        ("- x", r"\- x"),
        ("12. x", r"12\. x"),
        ("D-204: 3/8", r"D-204\: 3/8"),
        ("a -> b", "a -\u2060\\> b"),
        (None, "—"),
        (float("nan"), "—"),
        ("", "—"),
        (date(2026, 3, 8), "2026-03-08"),
    ],
)
def test_text_from_outside_is_shown_as_it_stands(value: object, shown: str) -> None:
    assert wording.literal(value) == shown


def test_both_palettes_have_a_colour_for_every_series() -> None:
    for palette in (charts.LIGHT, charts.DARK):
        assert len(set(palette.series)) >= max(len(wording.KINDS), len(charts.STATUS_SHAPES))
    assert charts.palette("dark") != charts.palette("light") == charts.palette(None)
    assert set(charts.STATUS_SHAPES) == set(wording.STATUS_MEANINGS)
    assert len(set(charts.STATUS_SHAPES.values())) == len(charts.STATUS_SHAPES)


def test_the_environment_is_read_at_every_rerun(opened: Opener, tmp_path: Path) -> None:
    app = opened()
    os.environ[data.VARIABLE] = str(tmp_path / "gone.duckdb")  # put back by the fixture's monkeypatch
    app.run()
    assert "there are no results" in words_of(app)
