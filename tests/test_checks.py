"""Each check of the data: one plant in which it fires, and a sound one in which all are quiet."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.checks import all_checks
from pipeline.run import build
from tests.plants import SURVEY, write_plant, write_workbook

SOUND = {
    "assets": [["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
    "components": [["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
    "locations": [["V-1", "Shell", "1", 0.5]],
    "readings": [["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2025, 6, 1), 0.70]],
    "relief_devices": [
        ["Asset", "Device", "Set pressure (psi)", "Interval (years)", "Last tested"],
        ["V-1", "PSV-1", 200, 5, date(2024, 1, 1)],
    ],
}  # fmt: skip


def findings(folder: Path) -> list[tuple[str, ...]]:
    build(folder, as_of=date(2026, 1, 1))
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(
            "SELECT check_name, file, sheet, cell, text, severity FROM step.finding ORDER BY ALL"
        ).fetchall()


def test_a_sound_plant_is_quiet(tmp_path: Path) -> None:
    assert findings(write_plant(tmp_path / "plant", **SOUND)) == []


CHOICE = ["Asset", "Component", "Rate choice", "Reason", "Chosen by", "Chosen on"]
ADVICE = ["Asset", "Recommendation", "Raised on", "Due", "Closed on"]

FIRING: dict[str, tuple[dict[str, object], tuple[str, ...]]] = {
    "reading_held": (
        {"readings": [*SOUND["readings"], ["V-1", "Shell", "1", date(2025, 12, 1), 0.74]]},
        ("plant.xlsx", "readings", "E4", "0.74", "set aside"),
    ),
    "value_contradicted": (
        {"components": [*SOUND["components"], ["V-1", "Shell", "shell", 0.75, 0.125, 17500, 0.85]]},
        ("plant.xlsx", "parts", "F2", "20000", "set aside"),
    ),
    "set_interval_undocumented": (
        {"set_intervals": [["Asset", "Kind", "Interval (years)"], ["V-1", "internal", 15]]},
        ("plant.xlsx", "set intervals", "C2", "15.0 years", "set aside"),
    ),
    "deferral_refused": (
        {"deferrals": [
            ["Asset", "Kind", "Due", "Deferred until", "Reason", "Approved by", "Approved on"],
            ["V-1", "internal", date(2025, 5, 31), date(2027, 1, 1), "no outage", "P. Example", date(2025, 7, 1)],
        ]},
        ("plant.xlsx", "deferrals", "D2", "2027-01-01", "warning"),
    ),
    "relief_set_above_rating": (
        {"relief_devices": [*SOUND["relief_devices"][:1], ["V-1", "PSV-1", 201, 5, date(2024, 1, 1)]]},
        ("plant.xlsx", "relief devices", "E2", "PSV-1", "warning"),
    ),
    "reading_before_service": (
        {"readings": [["V-1", "Shell", "1", date(2014, 6, 1), 0.75], *SOUND["readings"][1:]]},
        ("plant.xlsx", "readings", "E2", "0.75", "warning"),
    ),
    "component_unregistered": (
        {"readings": [*SOUND["readings"], ["V-1", "Sell", "1", date(2025, 6, 1), 0.70]]},
        ("plant.xlsx", "readings", "E4", "V-1 Sell", "warning"),
    ),
    "asset_unregistered": (
        {"inspections": [["V-7", "internal", date(2025, 6, 1), "fit"]]},
        ("plant.xlsx", "inspections", "A2", "V-7", "warning"),
    ),
    "place_missed_repeatedly": (
        {"readings": [*SOUND["readings"], ["V-1", "Shell", "1", date(2025, 8, 1), "no access"],
                      ["V-1", "Shell", "1", date(2025, 12, 1), "insulated"]]},
        ("plant.xlsx", "readings", "E5", "insulated", "warning"),
    ),
    "event_contradicted": (
        {"events": [
            ["Asset", "Component", "Date", "Event", "New thickness (in)"],
            ["V-1", "Shell", date(2020, 6, 1), "replaced", 0.75],
            ["V-1", "Shell", date(2020, 6, 1), "replaced", 0.72],
        ]},
        ("plant.xlsx", "events", "D2", "replaced", "set aside"),
    ),
    "event_unplaced": (
        {"events": [
            ["Asset", "Component", "Date", "Event"],
            ["V-1", "Shell", None, "change of service"],
        ]},
        ("plant.xlsx", "events", "D2", "change of service", "set aside"),
    ),
    "turnaround_dates": (
        {"turnarounds": [["Name", "Start", "End"], ["TA of V-1", date(2027, 3, 1), date(2026, 4, 1)]]},
        ("plant.xlsx", "turnarounds", "C2", "2026-04-01", "set aside"),
    ),
    "date_rough": (
        {"events": [["Asset", "Component", "Date", "Event"], ["V-1", "Shell", "2020", "rerated"]]},
        ("plant.xlsx", "events", "C2", "2020", "warning"),
    ),
    "set_interval_nowhere": (
        {"set_intervals": [["Asset", "Kind", "Interval (years)"], ["V-1", None, 4]]},
        ("plant.xlsx", "set intervals", "C2", "4.0 years", "set aside"),
    ),
    "value_beside_unreadable": (
        {"standing": [["Asset", "MAWP (psi)"], ["V-1", "2OO"]]},
        ("plant.xlsx", "register", "E2", "200", "set aside"),
    ),
    "area_reading_left_out": (
        {"areas": [["Asset", "Component", "Area", "Date", "Axial (in)", "Circ (in)", "Thickness (in)"],
                   ["V-1", "Shell", "A1", date(2025, 6, 1), 0, 0, 17.5]]},
        ("plant.xlsx", "areas", "G2", "17.5", "set aside"),
    ),
    "value_implausible": (
        {"components": [["V-1", "Shell", "shell", 0.75, 0.125, 20, 0.85]]},
        ("plant.xlsx", "parts", "F2", "20", "set aside"),
    ),
    "liquid_head_incomplete": (
        {"liquids": [["Asset", "Component", "Nominal thickness (in)", "Liquid head (in)"],
                     ["V-1", "Shell", 0.75, 120]]},
        ("plant.xlsx", "liquids", "D2", "120", "warning"),
    ),
    "diameter_unlike": (
        {"widths": [["Asset", "Component", "Nominal thickness (in)", "Inside diameter (in)"],
                    ["V-1", "Shell", 0.75, 1524]]},
        ("plant.xlsx", "widths", "D2", "1524", "set aside"),
    ),
    "diameters_unfit": (
        {"widths": [["Asset", "Component", "Nominal thickness (in)", "Outside diameter (in)"],
                    ["V-1", "Shell", 0.75, 2]]},
        ("plant.xlsx", "parts", "D2", "0.75", "set aside"),
    ),
    "wall_far_beyond_pressure": (
        {"assets": [["V-1", "Naphtha", "A", date(2015, 6, 1), 10, 60, "P. Example"]], "relief_devices": []},
        ("plant.xlsx", "parts", "D2", "0.75", "warning"),
    ),
    "relief_interval_beyond_cap": (
        {"relief_devices": [*SOUND["relief_devices"][:1], ["V-1", "PSV-1", 200, 8, date(2024, 1, 1)]]},
        ("plant.xlsx", "relief devices", "E2", "8.0 years", "set aside"),
    ),
    "place_never_read": (
        {"locations": [*SOUND["locations"], ["V-1", "Shell", "2", 0.5]]},
        ("plant.xlsx", "places", "C3", "2", "warning"),
    ),
    "rate_choice_refused": (
        {"rate_choices": [CHOICE, ["V-1", "Shell", "long-term", None, "P. Example", date(2025, 7, 1)]]},
        ("plant.xlsx", "rate choices", "C2", "long-term", "set aside"),
    ),
    "rate_choice_nowhere": (
        {"rate_choices": [CHOICE, ["V-1", "Sell", "long-term", "one feed since", "P. Example", date(2025, 7, 1)]]},
        ("plant.xlsx", "rate choices", "C2", "long-term", "set aside"),
    ),
    "rate_choice_older": (
        {"rate_choices": [CHOICE, ["V-1", "Shell", "long-term", "one feed since", "P. Example", date(2024, 7, 1)]]},
        ("plant.xlsx", "rate choices", "C2", "long-term", "warning"),
    ),
    "status_refused": (
        {"standing": [["Asset", "Status"], ["V-1", "retired"]]},
        ("plant.xlsx", "standing", "B2", "retired", "set aside"),
    ),
    "operating_years_refused": (
        {"standing": [["Asset", "Continuous service", "Fraction in operation"], ["V-1", "no", 0.5]]},
        ("plant.xlsx", "standing", "B2", "no", "warning"),
    ),
    "recommendation_undated": (
        {"recommendations": [ADVICE, ["V-1", "scan the boot", date(2025, 7, 1), None, None]]},
        ("plant.xlsx", "recommendations", "B2", "scan the boot", "warning"),
    ),
    "recommendation_closed_without_evidence": (
        {"recommendations": [ADVICE, ["V-1", "scan the boot", date(2025, 7, 1), date(2026, 7, 1), date(2025, 9, 1)]]},
        ("plant.xlsx", "recommendations", "B2", "scan the boot", "warning"),
    ),
    # 151 days and 0.005 in = 0.127 mm, within 0.2828 mm.
    "history_short": (
        {"readings": [["V-1", "Shell", "1", date(2025, 1, 1), 0.705], SOUND["readings"][1]]},
        ("plant.xlsx", "readings", "E3", "0.7", "warning"),
    ),
}  # fmt: skip


def of_vessel(cells: Any, number: int) -> Any:
    """Return the cells with V-1 as a vessel of its own."""
    if isinstance(cells, str):
        return re.sub(r"\bV-([17])\b", rf"V-\g<1>{number:02d}", cells)
    return [of_vessel(cell, number) for cell in cells] if isinstance(cells, list) else cells


@pytest.fixture(scope="module")
def fired(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, ...]]:
    """What is found in one folder that holds every plant below, each as a workbook and a vessel of its own."""
    folder = tmp_path_factory.mktemp("checks")
    for number, (name, (changed, _)) in enumerate(FIRING.items()):
        sheets = {sheet: of_vessel(rows, number) for sheet, rows in {**SOUND, **changed}.items()}
        write_plant(folder / "made", **sheets)  # type: ignore[arg-type]
        (folder / "plants").mkdir(exist_ok=True)
        (folder / "made" / "plant.xlsx").rename(folder / "plants" / f"{name}.xlsx")
    return findings(folder / "plants")


def test_every_check_has_a_plant_in_which_it_fires() -> None:
    assert set(FIRING) == set(all_checks())


@pytest.mark.parametrize("name", FIRING)
def test_the_check_fires_and_names_the_cell(name: str, fired: list[tuple[str, ...]]) -> None:
    _, (_, *wanted) = FIRING[name]
    expected = of_vessel([f"{name}.xlsx", *wanted], list(FIRING).index(name))
    assert (name, *expected) in fired, [found for found in fired if found[1] == f"{name}.xlsx"]


@pytest.mark.parametrize("name", ["reading_held", "status_refused"])
def test_it_fires_in_a_plant_of_its_own_too(name: str, tmp_path: Path) -> None:
    changed, wanted = FIRING[name]
    found = findings(write_plant(tmp_path / "plant", **{**SOUND, **changed}))  # type: ignore[arg-type]
    assert (name, *wanted) in found


def test_a_value_given_twice_alike_or_in_two_units_is_no_contradiction(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "plant", **SOUND)
    write_workbook(folder / "more.xlsx", {
        "parts": [["Asset", "Component", "Nominal thickness (mm)", "Allowable stress (MPa)"],
                  ["V-1", "Shell", 19.05, 20 * 6.894757293168361]],
        "survey": [SURVEY, ["V-1", "Shell", "1", date(2025, 6, 1), 0.70]],
    })  # fmt: skip
    assert findings(folder) == []


def test_the_new_sheets_are_quiet_where_they_are_complete(tmp_path: Path) -> None:
    """Each of these is the sound counterpart of a plant above in which a check fires."""
    sheets = {
        "rate_choices": [CHOICE, ["V-1", "Shell", "long-term", "one feed since", "P. Example", date(2025, 7, 1)]],
        "standing": [
            ["Asset", "Status", "Status since", "Continuous service", "Fraction in operation", "Idle protection"],
            ["V-1", "idle", date(2025, 7, 1), "no", 0.5, "nitrogen"],
        ],
        "recommendations": [
            [*ADVICE, "Evidence"],
            ["V-1", "scan the boot", date(2025, 7, 1), date(2026, 7, 1), date(2025, 9, 1), "report 14"],
            ["V-1", "replace the gasket", date(2025, 7, 1), date(2026, 7, 1), None, None],
        ],
    }
    assert findings(write_plant(tmp_path / "plant", **SOUND, **sheets)) == []  # type: ignore[arg-type]
