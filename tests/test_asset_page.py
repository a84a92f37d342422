"""The page of an asset: what a due-date card says of the road to its date, and that a held reading is never passed
over."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from html import unescape
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data, due_cards
from pipeline import reading
from pipeline.publishing import open_results
from pipeline.reading import Row

ENTRY = Path(__file__).resolve().parent.parent / "dashboard" / "app.py"
PSI = 0.006894757293168361

Opener = Callable[[str], AppTest]


@pytest.fixture
def opened(demo_results: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    """Open the page of an asset of the demo plant."""

    def open_asset(tag: str) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(demo_results))
        app = AppTest.from_file(str(ENTRY), default_timeout=60)
        app.query_params["asset"] = tag
        app.switch_page("views/asset.py").run()
        assert not app.exception
        return app

    return open_asset


def cards(app: AppTest) -> dict[str, list[str]]:
    """Return the cards of the due dates: what is written in each, line by line, by what stands above it."""
    bodies = [element.proto.body for element in app.get("html") if "hoop-card" in element.proto.body]
    texts = [re.sub(r"</?span[^>]*>", "", body) for body in bodies]
    lines = [re.findall(r'<div class="hoop-(?:label|date|line)">(.*?)</div>', card)
             for text in texts for card in text.split('<div class="hoop-card')[1:]]  # fmt: skip
    return {label: [unescape(line) for line in rest] for label, *rest in lines}


def stated(app: AppTest) -> dict[str, str]:
    """Return the sentences listed below the due dates, each with the state it stands under."""
    bodies = [element.proto.body for element in app.get("html") if "hoop-row" in element.proto.body]
    rows = re.findall(r'hoop-state">(.*?)</div><div class="hoop-said">(.*?)</div>', bodies[0])
    return {unescape(re.sub(r"<[^>]*>", "", sentence)): unescape(state) for state, sentence in rows}


# ---- the page -------------------------------------------------------------------------------------------------------


def test_nothing_that_rests_on_a_held_reading_is_plainly_in_date(opened: Opener, demo_results: Path) -> None:
    app = opened("V-107")
    results = open_results(demo_results)
    parts = reading.components(results, "V-107")
    assert parts["held_readings"].min() > 0 and set(parts["state"]) == {"in date"}
    assert app.selectbox(key="component").options == [
        f"{part['component']} · ○ in date, {part['held_readings']} held" for part in parts.to_dict("records")
    ]
    chosen = app.selectbox(key="component").value
    places = reading.places(results, "V-107", chosen)
    assert app.selectbox(key="location").options == [
        f"{place['location']} · ○ in date, {place['held_readings']} held" for place in places.to_dict("records")
    ]
    table = next(frame.value for frame in app.dataframe if "t_req_away_mm" in frame.value)
    assert list(table["state_shown"]) == [f"○ in date, {held} held" for held in places["held_readings"]]
    held = parts["held_readings"].sum()
    found = cards(app)
    for kind in ("internal or on-stream", "external", "thickness survey"):
        assert found[kind][1] == f"○ in date, {held} held"
    assert found["relief device"][1] == "○ in date"  # no reading moves it
    others = stated(app)
    assert {state for sentence, state in others.items() if "Relief device" not in sentence} == {
        f"○ in date, {held} held"
    }


def test_a_date_that_would_stay_is_said_to_stay(opened: Opener) -> None:
    day = date(2035, 9, 12)
    stays = reading.held_in_words({"held_readings": 1, "due_on_with_held": day, "thickness_due_on": day})
    assert stays.endswith("the earliest thickness date would stay 2035-09-12.")
    captions = " ".join(caption.value for caption in opened("V-107").caption)
    assert "What the held readings would change is not worked out" in captions
    captions = " ".join(caption.value for caption in opened("C-202").caption)
    then, now = re.findall(r"the earliest thickness date would be (\S+) instead of (\S+)\.", captions)[0]
    assert then != now


def test_an_internal_date_is_told_by_both_roads(opened: Opener, demo_results: Path) -> None:
    # 2022-03-08 + floor(10 x 365.25) = 3652 days; 2025-09-11 + floor(8.75658 x 365.25) = 3198 days.
    found = cards(opened("C-103"))["internal or on-stream"]
    assert found == [
        "2032-03-07",
        "○ in date",
        "set by: cap from the last internal inspection",
        "10.00 years (cap) from the last internal inspection, 2022-03-08: 2032-03-07",
        "8.76 years from the reading of 2025-09-11 (Shell 1, location 2): 2034-06-14; the earlier counts",
    ]
    # A wall below required: no interval is left, and the cap from the inspection before the reading is no date of it.
    assert cards(opened("D-204"))["internal or on-stream"] == [
        "2025-09-09",
        "■ overdue",
        "set by: interval from the thickness reading (Shell 1, location 3)",
        "0.00 years from the reading of 2025-09-09 (Shell 1, location 3): 2025-09-09",
        "10.00 years (cap) from the last internal inspection, 2024-09-10, would end later",
    ]


def test_a_relief_device_set_too_high_says_so_in_figures(opened: Opener, demo_results: Path) -> None:
    (device,) = reading.relief_devices(open_results(demo_results), "D-204").to_dict("records")
    assert device["above_mawp_now"] and device["mawp_mpa"] < device["set_pressure_mpa"]
    assert cards(opened("D-204"))["relief device"][-1] == "PSV-D204 is set at 160.0 psi, above the MAWP now, 154.0 psi"
    assert not [line for line in cards(opened("C-103"))["relief device"] if "is set at" in line]


def test_an_asset_never_read_has_no_retirement_date_for_want_of_a_reading(opened: Opener) -> None:
    card = cards(opened("V-410"))["retirement: required thickness reached"]
    assert card == ["no date", "not known: no place has both a rate and a required thickness"]


def test_locations_stand_in_the_order_of_their_numbers(opened: Opener) -> None:
    app = opened("S-501")
    table = next(frame.value for frame in app.dataframe if "t_req_away_mm" in frame.value)
    assert list(table["location"]) == [f"J{number}" for number in range(1, len(table) + 1)] and len(table) > 10
    assert [option.partition(" · ")[0] for option in app.selectbox(key="location").options] == list(table["location"])


def test_cells_stand_in_quotation_marks_with_their_unit(opened: Opener) -> None:
    app = opened("C-103")
    layers = [layer for chart in app.get("vega_lite_chart") for layer in json.loads(chart.proto.spec)["layer"]]
    (points,) = (layer for layer in layers if layer["encoding"].get("shape", {}).get("field") == "status")
    cells = {row["source"].rpartition(", ")[2]: row["text"] for row in points["data"]["values"]}
    assert cells["E85"] == "“12.37 mm”" and cells["C11"] == "“0.501 in”"


# ---- what a card says -----------------------------------------------------------------------------------------------

DUE: Row = {
    "kind": "internal", "state": "in date", "due_on": date(2030, 1, 1),
    "set_by": "cap from the last internal inspection", "anchor": "last internal inspection",
    "anchor_on": date(2020, 1, 2), "interval_years": 5.0,
    "cap_years": 10.0, "cap_from": "cap", "component": None, "location": None, "device": None, "deferred_until": None,
    "deferral_approved_by": None, "deferral_approved_on": None, "deferral_reason": None, "deferral_refused": None,
    "on_stream_refused": None, "due_missing": None,
}  # fmt: skip
FIRST: Row = {
    "component": "N1", "location": "J1", "read_on": date(2025, 1, 1), "interval_years": 5.0, "due_on": date(2030, 1, 1)
}  # fmt: skip
READING = "interval from the thickness reading"
SETTER = {"set_by": READING, "component": "N1", "location": "J1"}
SERVICE = {"anchor": "in-service date: no internal inspection on record"}


def said(first: Row | None = None, **changed: Any) -> list[str]:
    due = {**DUE, **changed}
    lines = due_cards.lines(due, 0, {due["kind"]: first} if first else {}, [], "us")
    return [line for line in lines[1:] if not line.startswith("set by: ")]


@pytest.mark.parametrize(
    ("first", "changed", "lines"),
    [
        (FIRST, {}, ["10.00 years (cap) from the last internal inspection, 2020-01-02: 2030-01-01",
                     "5.00 years from the reading of 2025-01-01 (N1, location J1): 2030-01-01, the same day"]),
        (None, {}, ["10.00 years (cap) from the last internal inspection, 2020-01-02: 2030-01-01"]),
        (FIRST, {**SETTER, "anchor_on": None, "anchor": None, "due_missing": "an inspection"},
         ["5.00 years from the reading of 2025-01-01 (N1, location J1): 2030-01-01", "Missing: an inspection"]),
        (None, SERVICE, ["10.00 years (cap) from the in-service date, 2020-01-02 (no internal inspection on record): "
                         "2030-01-01"]),
        (None, {"due_on": None, "set_by": None, "anchor_on": None, "anchor": None, "due_missing": "a date"},
         ["Missing: a date"]),
        (FIRST, {"kind": "thickness", "interval_years": None, "anchor_on": None, **SETTER},
         ["5.00 years from the reading of 2025-01-01, at most 10.00 years (cap)"]),
        # Set by a first check or by the in-service date of a place never read: no interval of a reading gives it.
        (FIRST, {"kind": "thickness", "interval_years": None, "anchor_on": None, **SETTER,
                 "set_by": "first check of a new or changed service"}, []),
        (None, {"kind": "external", "anchor": "last external inspection", "set_by": "internal interval"},
         ["5.00 years from the last external inspection, 2020-01-02, at most 10.00 years (cap)"]),
        (None, {"kind": "external", "anchor": "last external inspection", "interval_years": 10.0},
         ["10.00 years (cap) from the last external inspection, 2020-01-02"]),
        (None, {"kind": "external", "anchor": None, "anchor_on": float("nan")},
         ["interval 5.00 years, at most 10.00 years (cap)"]),
        (None, {"kind": "recommendation", "anchor": "recommendation of 2020-01-02", "interval_years": None,
                "set_by": "date set with it"}, ["raised on 2020-01-02"]),
    ],
)  # fmt: skip
def test_an_interval_is_named_with_the_day_it_counts_from(first: Row | None, changed: Row, lines: list[str]) -> None:
    assert said(first, **changed) == lines


@pytest.mark.parametrize(
    ("changed", "setter"),
    [
        ({"component": "Shell 1", "location": "3"}, " (Shell 1, location 3)"),
        ({"component": "Shell 1", "device": "A1 of Shell 1"}, " (A1 of Shell 1)"),
        ({"device": "PSV-1"}, " (PSV-1)"),
        ({"component": "Shell 1"}, " (Shell 1)"),
        ({}, ""),
    ],
)
def test_what_set_a_date_is_named_as_a_place_or_a_device(changed: Row, setter: str) -> None:
    assert due_cards.lines({**DUE, **changed}, 0, {}, [], "us")[1] == f"set by: {DUE['set_by']}{setter}"


DEVICE: Row = {
    "device": "PSV-1", "set_pressure_mpa": 200 * PSI, "rating_pressure_mpa": 190 * PSI, "mawp_mpa": 180 * PSI,
    "mawp_next_mpa": 170 * PSI, "above_rating": True, "above_mawp_now": True, "above_mawp_next": True,
}  # fmt: skip
NOT_NOW = {"above_rating": False, "above_mawp_now": False}


@pytest.mark.parametrize(
    ("changed", "above"),
    [
        ({}, "the MAWP now, 180.0 psi"),
        ({"mawp_mpa": float("nan")}, "the rating pressure, 190.0 psi"),
        ({"mawp_mpa": None, "above_rating": False}, "the MAWP now of a component; that of another is not known"),
        (NOT_NOW, "the MAWP at the next inspection, 170.0 psi"),
        ({**NOT_NOW, "mawp_next_mpa": None},
         "the MAWP of a component at the next inspection; that of another is not known"),
        ({**NOT_NOW, "above_mawp_next": False}, None),
    ],
)  # fmt: skip
def test_a_set_pressure_is_held_against_what_is_known(changed: Row, above: str | None) -> None:
    due = {**DUE, "kind": "relief device", "device": "PSV-1"}
    lines = due_cards.lines(due, 3, {}, [{**DEVICE, **changed}], "us")
    assert lines[0] == "○ in date"
    assert [line for line in lines if "is set at" in line] == (
        [f"PSV-1 is set at 200.0 psi, above {above}"] if above else []
    )
    assert not [line for line in due_cards.lines(DUE, 3, {}, [DEVICE], "us") if "is set at" in line]


PARTS = pd.DataFrame({"no_measurable_loss": [False, False], "remaining_life_years": [None, None]}, dtype=object)


@pytest.mark.parametrize(
    ("changed", "parts", "lines"),
    [
        ({}, PARTS, ["not known: no place has both a rate and a required thickness"]),
        ({}, PARTS.assign(no_measurable_loss=[True, False]),
         ["no place that can be assessed loses metal measurably",
          "1 component that cannot be assessed may reach it on a day nobody knows"]),
        ({"components_not_assessable": 0}, PARTS.assign(no_measurable_loss=True),
         ["no place that can be assessed loses metal measurably"]),
        ({"components_not_assessable": 0}, PARTS.assign(remaining_life_years=[2000.0, 3000.0]),
         ["no place reaches it within a thousand years at its governing rate"]),
        ({"components_not_assessable": 0, "state": "below required"}, PARTS.assign(no_measurable_loss=True),
         ["a wall is below its required thickness already; no rate gives the day on which it was reached"]),
        ({"components_not_assessable": 0}, PARTS.iloc[:0], ["not known: no component is on any component sheet"]),
    ],
)  # fmt: skip
def test_why_there_is_no_retirement_date(changed: Row, parts: pd.DataFrame, lines: list[str]) -> None:
    asset = {"state": "not assessable", "components_not_assessable": 1, "retirement_on": None, **changed}
    assert due_cards.retirement(asset, parts) == lines


def test_a_retirement_date_is_of_what_can_be_assessed() -> None:
    asset = {"state": "in date", "components_not_assessable": 2, "retirement_on": date(2040, 1, 1)}
    assert due_cards.retirement(asset, PARTS)[-1] == "2 components that cannot be assessed may come sooner"
    assert len(due_cards.retirement({**asset, "components_not_assessable": 0}, PARTS)) == 1
