"""Every planted story of the demo plant, asked of `hoopline explain`, against the answer in `demo_plant/README.md`.

The answers were worked out by the generator by hand arithmetic, apart from the pipeline; `stories.json` holds the same
numbers as the README, each with its unit.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.cli import main
from pipeline.formulas import FORMULAS
from pipeline.units import UNITS

DEMO = Path(__file__).resolve().parent.parent / "demo_plant"
STORIES: list[dict[str, str]] = json.loads((DEMO / "stories.json").read_text(encoding="utf-8"))

Told = dict[str, Any]


@pytest.fixture(scope="session")
def told_of(demo_results: Path) -> Callable[[str, str, str], Told]:
    """What `hoopline explain` says, as JSON, of an asset, component and location; asked once each."""
    known: dict[tuple[str, str, str], Told] = {}

    def ask(asset: str, component: str, location: str) -> Told:
        key = (asset, component, location)
        if key not in known:
            arguments = ["explain", asset, *([component] if component else []), "--database", str(demo_results)]
            if location:
                arguments += ["--location", location]
            with contextlib.redirect_stdout(io.StringIO()) as out:
                assert main([*arguments, "--format", "json"]) == 0
            known[key] = json.loads(out.getvalue())
        return known[key]

    return ask


@pytest.mark.parametrize("story", sorted({row["story"] for row in STORIES}, key=lambda key: (len(key), key)))
def test_explain_reaches_the_answer_of_the_readme(
    story: str, told_of: Callable[[str, str, str], Told], demo_results: Path
) -> None:
    rows = [row for row in STORIES if row["story"] == story]
    first = rows[0]
    told = told_of(first["asset"], first["component"], first["location"])
    assert told["state"] == first["state"]
    assert told["faults"] == []
    for row in rows:
        found = _found(row["quantity"], row, told, told_of, demo_results)
        _agree(row, found)


def test_every_story_number_is_in_the_readme() -> None:
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    for row in STORIES:
        assert f"{row['quantity']} {re.sub('^-', '−', row['value'])}" in readme, row


def _agree(row: dict[str, str], found: Any) -> None:
    name = f"story {row['story']}: {row['quantity']}"
    if row["unit"] in UNITS and not isinstance(found, str):
        shown = UNITS[row["unit"]].from_inside(found)
        decimals = len(row["value"].partition(".")[2])
        assert f"{shown:.{decimals}f}" == row["value"], name
    elif row["quantity"] == "missing":
        assert any(word in found for word in row["value"].split(", or ")), f"{name}: {found}"
    else:
        assert str(found) == row["value"], name


def _area(told: Told, name: str) -> dict[str, Any]:
    (area,) = (area for area in told["areas"] if area["area"] == name)
    (survey,) = [*area["surveys"], *area["pit_surveys"]]
    return dict(survey)


def _found(
    quantity: str, row: dict[str, str], told: Told, told_of: Callable[[str, str, str], Told], database: Path
) -> Any:
    place = told["place"]
    dues = {due["kind"]: due for due in told["due_dates"]}
    simple: dict[str, Callable[[], Any]] = {
        "thickness": lambda: place["t_act_mm"],
        "read on": lambda: place["read_on"],
        "last read on": lambda: place["read_on"],
        "long-term rate": lambda: place["rate_lt_mm_per_year"],
        "short-term rate": lambda: place["rate_st_mm_per_year"],
        "required": lambda: place["t_req_mm"],
        "required at the knuckle": lambda: place["t_req_mm"],
        "remaining life": lambda: (
            "no measurable loss" if place["no_measurable_loss"] else place["remaining_life_years"]
        ),
        "remaining life of the knuckle": lambda: place["remaining_life_years"],
        "remaining life without the held reading": lambda: place["remaining_life_years"],
        "remaining life with the held reading": lambda: place["remaining_life_with_held_years"],
        "interval": lambda: place["interval_years"],
        "interval of the knuckle": lambda: place["interval_years"],
        "interval without the held reading": lambda: place["interval_years"],
        "interval with the held reading": lambda: _interval(place["remaining_life_with_held_years"]),
        "thickness due": lambda: place["due_on"],
        "thickness due of the knuckle": lambda: place["due_on"],
        "thickness due without the held reading": lambda: place["due_on"],
        "thickness due with the held reading": lambda: place["due_on_with_held"],
        "required at the weld": lambda: told["weld_answers"][0]["t_req_mm"],
        "required away from the weld": lambda: told["weld_answers"][1]["t_req_mm"],
        "remaining life at the weld": lambda: told["weld_answers"][0]["remaining_life_years"],
        "remaining life away from the weld": lambda: told["weld_answers"][1]["remaining_life_years"],
        "interval at the weld": lambda: _interval(told["weld_answers"][0]["remaining_life_years"]),
        "interval away from the weld": lambda: _interval(told["weld_answers"][1]["remaining_life_years"]),
        "thickness due at the weld": lambda: _due(place, told["weld_answers"][0]),
        "thickness due away from the weld": lambda: _due(place, told["weld_answers"][1]),
        "growth": lambda: _held(told)["thickness_mm"] - place["t_act_mm"],
        "held reading": lambda: _held(told)["read_on"],
        "contractor's reading": lambda: next(r["read_on"] for r in told["readings"] if "contractor" in r["file"]),
        "column set aside": lambda: _held(told)["read_on"],
        "new since": lambda: place["epoch_on"],
        "new thickness": lambda: place["t_initial_mm"],
        "nominal thickness": lambda: place["t_initial_mm"],
        "last internal inspection": lambda: dues["internal"]["anchor_on"],
        "internal due": lambda: dues["internal"]["due_on"],
        "last external inspection": lambda: dues["external"]["anchor_on"],
        "external due": lambda: dues["external"]["due_on"],
        "last tested": lambda: dues["relief device"]["anchor_on"],
        "relief device due": lambda: dues["relief device"]["due_on"],
        "interval set": lambda: dues["internal"]["cap_years"],
        "internal due at the code's ten years": lambda: str(
            date.fromisoformat(dues["internal"]["anchor_on"]) + timedelta(days=3652)
        ),
        "first check due": lambda: dues["thickness"]["due_on"],
        "missing": lambda: "; ".join(c["sentence"] for c in told["concerns"] if c["state"] == "not assessable"),
        "recommendation due": lambda: dues["recommendation"]["due_on"],
        "lowest reading of the area": lambda: _area(told, "A1")["survey_lowest_mm"],
        "average of the area": lambda: _area(told, "A1")["t_act_mm"],
        "required of the area": lambda: _area(told, "A1")["t_req_mm"],
        "remaining life of the area": lambda: _area(told, "A1")["remaining_life_years"],
        "due date of the area": lambda: dues["corroded area"]["due_on"],
        "left under the deepest pit": lambda: _area(told, "P1")["pit_remaining_mm"],
        "last survey": lambda: place["read_on"],
        "thickness due, not later than": lambda: min(place["due_on"], row["value"]),
    }
    if quantity in simple:
        return simple[quantity]()
    if quantity == "as written":
        return _as_written(row, told)
    if quantity == "cells set aside":
        return _count(database, "result.reading WHERE asset = ? AND held_for = 'likely mistake'", [row["asset"]])
    if quantity == "misses in a row":
        return _count(
            database,
            "result.not_measured WHERE asset = ? AND component = ? AND location = ? AND read_on > ?",
            [row["asset"], row["component"], row["location"], place["read_on"]],
        )
    if quantity.endswith("of the crown") or quantity == "required at the crown":
        crown = told_of(row["asset"], row["component"], "TP-01")["place"]
        assert crown["zone"] == "crown" and crown["t_act_mm"] == pytest.approx(place["t_act_mm"], rel=1e-12)
        return {
            "required at the crown": crown["t_req_mm"],
            "remaining life of the crown": crown["remaining_life_years"],
            "interval of the crown": crown["interval_years"],
            "thickness due of the crown": crown["due_on"],
        }[quantity]
    moved = next(due for due in told["due_dates"] if due["deferral_approved_on"] or due["deferral_refused"])
    if quantity == "approved on":
        return moved["deferral_approved_on"] or moved["deferral_refused"].split()[2].rstrip(",")
    if quantity == "deferred until":
        # A deferral that came too late moves nothing: the register's own date stays in the record of deferrals.
        return moved["deferred_until"] or _one(
            database, "SELECT max(deferred_until)::VARCHAR FROM step.deferral WHERE asset = ?", [row["asset"]]
        )
    raise AssertionError(f"no way to ask for {quantity!r}")


def _held(told: Told) -> Told:
    return next(reading for reading in told["readings"] if reading["status"] == "held")


def _as_written(row: dict[str, str], told: Told) -> Any:
    texts = [reading["text"] for reading in told["readings"]]
    return row["value"] if row["value"] in texts and row["unit"] else f"not among {texts}"


def _interval(life: float) -> float:
    found = FORMULAS["interval"].evaluate({"RL": life, "cap": 10.0, "short": 2.0})
    assert found is not None
    return found


def _due(place: Told, answer: Told) -> str:
    days = FORMULAS["whole_days"].evaluate(
        {"years": _interval(answer["remaining_life_years"]), "y_d": 365.25, "guard": 1e-6}
    )
    assert days is not None
    return str(date.fromisoformat(place["read_on"]) + timedelta(days=int(days)))


def _count(database: Path, where: str, values: list[Any]) -> int:
    return int(_one(database, f"SELECT count(*) FROM {where}", values))


def _one(database: Path, sql: str, values: list[Any]) -> Any:
    with duckdb.connect(str(database.resolve()), read_only=True) as connection:
        return connection.execute(sql, values).fetchall()[0][0]
