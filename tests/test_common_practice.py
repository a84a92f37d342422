"""A hand check of a corroded patch away from the welds, through spreadsheets, build and explain.

Common practice, no source. By hand, allowance basis: R = 58/2 + 1/8 = 29.125 in, loss 3/16 in in ten years, so
0.9375 in left and 18.75 mil/year. Away from the weld t = 555 x 29.125 / (20 000 x 1 - 0.6 x 555) = 16164.375 / 19667
= 0.82190 in, life (0.9375 - 0.82190) / 0.01875 = 6.165 years (a hand check that cuts 0.8219 to 0.821 gets 6.21). At
the weld t = 16164.375 / (17 000 - 333) = 0.96984 in, life -1.725 years. Retirement basis: Ro = 29 + 1.125 = 30.125 in,
t = 555 x 30.125 / (20 000 + 222) = 0.82679 in and 5.904 years; 16719.375 / 17 222 = 0.97081 in and -1.777 years.
"""

from __future__ import annotations

import contextlib
import io
import json
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli import main
from pipeline.units import MM_PER_INCH
from tests.plants import write_plant

EXPECTED = {
    # basis: away required, away life, weld required, weld life; in and years, as printed in the hand check
    "allowance": (0.8219, 6.17, 0.9698, -1.72),
    "retirement": (0.8268, 5.90, 0.9708, -1.78),
}


def hand_checked_vessel(folder: Path, basis: str) -> Path:
    return write_plant(
        folder,
        assets=[["HC-1", "Process gas", "A", date(2010, 5, 1), 555, 58, "P. Example"]],
        components=[["HC-1", "Shell", "shell", "1 1/8", "1/8", 20000, 0.85]],
        locations=[["HC-1", "Shell", "patch", 4]],
        readings=[
            ["HC-1", "Shell", "patch", date(2010, 5, 1), "1 1/8"],
            ["HC-1", "Shell", "patch", date(2020, 5, 1), "15/16"],
        ],
        basis=f'radius_basis = "{basis}"\n',
    )


@pytest.fixture(scope="module", params=sorted(EXPECTED))
def told(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict, str]:
    """What `build` and `explain` say of it, as JSON and as text."""
    folder = hand_checked_vessel(tmp_path_factory.mktemp("hand") / request.param, request.param)
    assert main(["build", str(folder), "--as-of", "2020-06-01"]) == 0
    outputs = []
    for form in ("json", "text"):
        with contextlib.redirect_stdout(io.StringIO()) as captured:
            arguments = ["explain", "HC-1", "Shell", "--database", str(folder / "results.duckdb"), "--format", form]
            assert main(arguments) == 0
        outputs.append(captured.getvalue())
    return request.param, json.loads(outputs[0]), outputs[1]


def test_both_answers_are_those_of_the_hand_check(told: tuple[str, dict, str]) -> None:
    basis, data, _ = told
    away_required, away_life, weld_required, weld_life = EXPECTED[basis]
    weld, away = data["weld_answers"]
    assert away["t_req_mm"] / MM_PER_INCH == pytest.approx(away_required, abs=0.00005)
    assert weld["t_req_mm"] / MM_PER_INCH == pytest.approx(weld_required, abs=0.00005)
    # Ten years are 3653 days, 10.0014 years of 365.25 days: a thousandth of a year in the life, within its last digit.
    assert away["remaining_life_years"] == pytest.approx(away_life, abs=0.0066)
    assert weld["remaining_life_years"] == pytest.approx(weld_life, abs=0.0066)
    assert away["verdict"] == "at or above required"
    assert weld["verdict"] == "below required"
    assert away["counts"] and not weld["counts"]


def test_the_patch_is_fit_and_its_numbers_stand_beside_the_answers(told: tuple[str, dict, str]) -> None:
    _, data, text = told
    place = data["place"]
    assert place["state"] == "in date"
    assert place["weld_region"] == "away"
    assert place["t_act_mm"] / MM_PER_INCH == 0.9375
    assert place["rate_mm_per_year"] / MM_PER_INCH == pytest.approx(0.01875, abs=0.000005)
    assert data["faults"] == []
    assert "0.9375 in left on 2020-05-01" in text
    assert "rate 18.75 mil/year" in text
    assert "plant.xlsx, readings, E3: “15/16 in”" in text


def test_every_shown_number_has_its_cell(told: tuple[str, dict, str]) -> None:
    basis, data, _ = told
    origins = {entry["symbol"]: entry["origin"] for link in data["links"] for entry in link["inputs"]}
    assert (origins["P_top"]["sheet"], origins["P_top"]["cell"], origins["P_top"]["text"]) == (
        "register",
        "E2",
        "555 psi",
    )
    assert (origins["D_n"]["sheet"], origins["D_n"]["cell"]) == ("register", "F2")
    assert (origins["S"]["sheet"], origins["S"]["cell"]) == ("parts", "F2")
    assert (origins["t_ini"]["sheet"], origins["t_ini"]["cell"]) == ("readings", "E2")
    # The one basis needs the wall as built, the other the allowance of the design.
    wanted = {"retirement": ("t_nom", "D2", "1 1/8 in"), "allowance": ("CA", "E2", "1/8 in")}[basis]
    assert (wanted[0], origins[wanted[0]]["cell"], origins[wanted[0]]["text"]) == wanted
    assert not any(entry["words"] == "unknown origin" for entry in origins.values())


def test_the_radius_bases_differ_by_the_hand_check_s_years(told: tuple[str, dict, str]) -> None:
    basis, data, _ = told
    lives = {answer["name"]: answer["remaining_life_years"] for answer in data["basis_answers"]}
    assert lives["allowance"] - lives["retirement"] == pytest.approx(6.165 - 5.904, abs=0.001)
    in_force = next(answer for answer in data["basis_answers"] if answer["counts"])
    assert in_force["name"] == basis
    assert in_force["difference_years"] == 0


def test_at_the_weld_the_same_patch_is_below_required(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = hand_checked_vessel(tmp_path / "at the weld", "allowance")
    book = folder / "plant.xlsx"
    workbook = openpyxl.load_workbook(book)
    workbook["places"]["D2"] = 0.5
    workbook.save(book)
    assert main(["build", str(folder), "--as-of", "2020-06-01"]) == 0
    assert main(["rank", "--database", str(folder / "results.duckdb"), "--format", "json"]) == 0
    out = capsys.readouterr().out
    ranked = json.loads(out[out.index("[\n") :])
    assert ranked[0]["state"] == "below required"
    assert (
        "0.9375 in left on 2020-05-01, 0.9698 in required (in the weld region, internal pressure)"
        in ranked[0]["reason"]
    )
