"""Trying changes on one asset: each kind by hand, nothing changed against the published results, and nothing written.

V-1 is a cylinder of 60 in inside diameter, 0.5000 in thick, S = 17500 psi, E = 0.85, MAWP 150 psi, losing metal inside,
read 0.5000 in on 2015-01-01 and 0.4500 in on 2025-01-01: 3653 days, 10.001369 years, 0.00499932 in/year. On the
retirement basis Ro = 30.5 in and t_req = P Ro/(S E + 0.4 P) = 4575/14935 = 0.306327 in.
V-2 has three readings, V-3 is below required. As of 2026-06-01.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.changes import KINDS, Change, number_typed, said, unit_typed
from pipeline.errors import Problem
from pipeline.formulas import FORMULAS
from pipeline.options import Options, options, rounded_down, rounded_up
from pipeline.publishing import open_results
from pipeline.run import build
from pipeline.trial import Bench, rested_on
from pipeline.units import MM_PER_INCH, PSI_IN_MPA
from pipeline.what_if import Line, WhatIf, lines, what_if
from tests.plants import write_plant

AS_OF = date(2026, 6, 1)
ENTRY = Path(__file__).resolve().parent.parent / "dashboard" / "app.py"
Row = dict[str, Any]
Trying = Callable[..., WhatIf]


def vessel(tag: str, *readings: tuple[date, float], mawp: int = 150) -> dict[str, list[tuple]]:
    return {
        "assets": [(tag, "crude", "Unit 1", date(2015, 1, 1), mawp, 60, "Dee Example")],
        "components": [(tag, "Shell", "cylinder", 0.5, 0.125, 17500, 0.85)],
        "readings": [(tag, "Shell", "1", day, wall) for day, wall in readings],
        "inspections": [(tag, kind, date(2024, 6, 1), "sound") for kind in ("internal", "external")],
    }


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three vessels, two turnarounds, built once."""
    folder = tmp_path_factory.mktemp("trial") / "plant"
    vessels = [
        vessel("V-1", (date(2015, 1, 1), 0.5), (date(2025, 1, 1), 0.45)),
        vessel("V-2", (date(2015, 1, 1), 0.5), (date(2023, 1, 1), 0.48), (date(2025, 1, 1), 0.45)),
        vessel("V-3", (date(2015, 1, 1), 0.5), (date(2025, 1, 1), 0.3)),
    ]
    names = ("assets", "components", "readings", "inspections")
    write_plant(
        folder,
        **{name: [row for one in vessels for row in one[name]] for name in names},
        turnarounds=[
            ("Name", "Start", "End"),
            ("TA 2027", date(2027, 3, 1), date(2027, 3, 31)),
            ("TA 2030", date(2030, 3, 1), date(2030, 3, 31)),
        ],
        relief_devices=[
            ("Asset", "Device", "Set pressure (psi)", "Interval (years)", "Last tested"),
            ("V-1", "PSV-1", 150, 5, date(2024, 6, 1)),
        ],
    )
    build(folder, as_of=AS_OF)
    return folder


@pytest.fixture(scope="module")
def results(plant: Path) -> duckdb.DuckDBPyConnection:
    return open_results(plant / "results.duckdb")


@pytest.fixture(scope="module")
def trying(results: duckdb.DuckDBPyConnection) -> Iterator[Trying]:
    """Try changes on V-1, or on another vessel, in US units."""
    with ExitStack() as benches:
        ready: dict[str, Bench] = {}

        def tried(*changes: Change, asset: str = "V-1") -> WhatIf:
            if asset not in ready:
                ready[asset] = benches.enter_context(Bench(results, asset))
            return what_if(results, asset, changes, "us", ready[asset])

        yield tried


def place(trial: WhatIf) -> Row:
    (found,) = trial.tried.places
    return found


def inches(value: float | None) -> float:
    assert value is not None
    return value / MM_PER_INCH


def psi(value: float | None) -> float:
    assert value is not None
    return value / PSI_IN_MPA


def line(trial: WhatIf, label: str, system: str = "us") -> Line:
    return next(one for found in lines(trial, system).values() for one in found if one.label == label)


# ---- the same steps -------------------------------------------------------------------------------------------------


def test_nothing_changed_gives_the_published_rows_of_the_demo_back(demo_results: Path) -> None:
    """Every row of every result table about an asset, to the last bit; its rank alone is not worked by itself.

    One asset in twenty-five of every state: a trial takes a second, and all of them would take minutes.
    """
    published = open_results(demo_results)
    tables = [
        name
        for (name,) in published.execute(
            "SELECT DISTINCT table_name FROM information_schema.columns "
            "WHERE table_schema = 'result' AND column_name = 'asset' ORDER BY table_name"
        ).fetchall()
    ]
    assert {"asset", "component", "location", "reading", "due_date", "concern", "worth_measuring"} <= set(tables)
    compared = 0
    some_of_each = (
        "SELECT asset FROM result.asset "
        "QUALIFY row_number() OVER (PARTITION BY state ORDER BY asset) % 25 = 1 ORDER BY asset"
    )
    for (asset,) in published.execute(some_of_each).fetchall():
        with Bench(published, asset) as bench, bench.worked() as connection:
            for table in tables:
                left_out = " EXCLUDE (rank)" if table == "asset" else ""
                question = f"SELECT *{left_out} FROM result.{table} WHERE asset = ? ORDER BY ALL"
                expected = published.execute(question, [asset]).fetchall()
                assert connection.execute(question, [asset]).fetchall() == expected, (asset, table)
                compared += len(expected)
    assert compared > 500


def test_only_the_steps_that_are_wanted_are_worked_and_give_the_same(results: duckdb.DuckDBPyConnection) -> None:
    needed = rested_on(["step.place_required"])
    assert {"step.shape", "step.component", "fact.field", "step.required_thickness"} <= needed
    assert not needed & {"step.life", "step.history", "result.asset"}
    with Bench(results, "V-1") as bench:
        question = "SELECT * FROM step.place_required ORDER BY ALL"
        with bench.worked() as connection:
            every = connection.execute(question).fetchall()
        with bench.worked(wanted=["step.place_required"]) as connection:
            assert connection.execute(question).fetchall() == every
        # What one trial did is gone in the next.
        with pytest.raises(Problem, match="V-1: the trial could not be worked"), bench.worked(wanted=[]) as connection:
            connection.execute(question)


def test_nothing_is_written(plant: Path, results: duckdb.DuckDBPyConnection) -> None:
    def hashes() -> dict[str, str]:
        return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(plant.iterdir())}

    before = hashes()
    assert {"record.sqlite", "results.duckdb"} <= set(before)
    what_if(results, "V-1", [Change("rerate", 2.0), Change("radius basis", "nominal")], "us")
    options(results, "V-3", "us")
    assert hashes() == before
    for statement in ("DELETE FROM step.life", "CREATE TABLE fact.x (y INTEGER)", "ATTACH ':memory:' AS other"):
        with pytest.raises(duckdb.Error):
            results.cursor().execute(statement)


def test_a_trial_without_changes_says_that_nothing_would_change(trying: Trying) -> None:
    trial = trying()
    assert trial.headline == "Nothing would change for V-1."
    assert trial.today == trial.tried
    assert {one.difference for found in lines(trial, "us").values() for one in found} == {"no change"}
    assert "rank" not in trial.tried.asset


# ---- each kind of change, by hand -----------------------------------------------------------------------------------


def test_a_rerate_moves_the_required_thickness(trying: Trying) -> None:
    # down to 120 psi: 120 x 30.5 / (14875 + 48) = 3660/14923; up to 200 psi: 6100/14955
    down = trying(Change("rerate", 120 * PSI_IN_MPA))
    assert inches(place(down)["t_req_mm"]) == pytest.approx(3660 / 14923, rel=1e-12)
    assert line(down, "required thickness") == Line("required thickness", "0.3063 in", "0.2453 in", "−0.0611 in")
    assert line(down, "rating pressure") == Line("rating pressure", "150.0 psi", "120.0 psi", "−30.0 psi")
    assert "relief device PSV-1. It would have to be reset first" in " ".join(down.remarks)
    up = trying(Change("rerate", 200 * PSI_IN_MPA))
    assert inches(place(up)["t_req_mm"]) == pytest.approx(6100 / 14955, rel=1e-12)
    assert "200.0 psi is above the rating of today, 150.0 psi" in " ".join(up.remarks)
    assert psi(up.tried.asset["rating_pressure_mpa"]) == pytest.approx(200)
    # RL = (0.45 - 0.407890)/0.00499932 = 8.4231 years, interval 4.2115 years: 1538 days after 2025-01-01
    assert place(up)["due_on"] == date(2025, 1, 1) + timedelta(days=1538)
    assert line(up, "thickness survey due").difference == f"{3652 - 1538:,} days earlier"


def test_a_pressure_above_the_rating_is_a_rerate_and_nothing_else(trying: Trying) -> None:
    limited = trying(Change("lower pressure", 120 * PSI_IN_MPA))
    assert inches(place(limited)["t_req_mm"]) == pytest.approx(3660 / 14923, rel=1e-12)
    assert trying(Change("lower pressure", 150 * PSI_IN_MPA)).headline == "Nothing would change for V-1."
    with pytest.raises(Problem, match=r"V-1: 151.0 psi is above the rating of 150.0 psi.*tried as a rerate only"):
        trying(Change("lower pressure", 151 * PSI_IN_MPA))


def test_joint_efficiencies(trying: Trying) -> None:
    # E = 1.0: 4575/(17500 + 60)
    trial = trying(Change("longitudinal efficiency", 1.0, "Shell"))
    assert inches(place(trial)["t_req_mm"]) == pytest.approx(4575 / 17560, rel=1e-12)
    assert "a joint efficiency above the joint's own is used in this trial alone" in " ".join(trial.remarks)
    # circumferential E = 0.30: P Ro/(2 S E + 1.4 P) = 4575/(10500 + 210) = 0.427171 in, more than the longitudinal one
    trial = trying(Change("circumferential efficiency", 0.3, "Shell"))
    assert inches(place(trial)["t_req_mm"]) == pytest.approx(4575 / 10710, rel=1e-12)
    assert not trial.remarks


def test_an_allowable_stress(trying: Trying) -> None:
    # S = 20000: 4575/(17000 + 60)
    trial = trying(Change("allowable stress", 20000 * PSI_IN_MPA, "Shell"))
    assert inches(place(trial)["t_req_mm"]) == pytest.approx(4575 / 17060, rel=1e-12)
    assert "an allowable stress above the register's is used in this trial alone" in " ".join(trial.remarks)


def test_a_weld_distance(trying: Trying) -> None:
    # The weld region reaches the greater of 1 in and 2 x 0.306327 in: 1 in. Beyond it E = 1: 4575/17560.
    away = trying(Change("weld distance", 2.0 * MM_PER_INCH, "Shell", "1"))
    assert place(away)["weld_region"] == "away"
    assert inches(place(away)["t_req_mm"]) == pytest.approx(4575 / 17560, rel=1e-12)
    near = trying(Change("weld distance", 0.9 * MM_PER_INCH, "Shell", "1"))
    assert place(near)["weld_region"] == "weld"
    assert inches(place(near)["t_req_mm"]) == pytest.approx(4575 / 14935, rel=1e-12)


def test_the_radius_basis(trying: Trying) -> None:
    # nominal: P R/(S E - 0.6 P) = 150 x 30/(14875 - 90)
    trial = trying(Change("radius basis", "nominal"))
    assert inches(place(trial)["t_req_mm"]) == pytest.approx(4500 / 14785, rel=1e-12)
    assert "would hold for every vessel of the plant" in " ".join(trial.remarks)


def test_the_rate_policy(trying: Trying) -> None:
    # V-2: ST = 0.03 in over 731 days, 2.001369 years: 0.0149897 in/year; LT = 0.05 in over 10.001369 years
    before = trying(asset="V-2")
    assert inches(place(before)["rate_mm_per_year"]) == pytest.approx(0.03 / (731 / 365.25), rel=1e-9)
    after = trying(Change("rate policy", "long-term"), asset="V-2")
    assert inches(place(after)["rate_mm_per_year"]) == pytest.approx(0.05 / (3653 / 365.25), rel=1e-9)


def test_the_rate_floor_and_the_scatter_of_a_reading(trying: Trying) -> None:
    # floor 0.010 in/year: RL = (0.45 - 0.306327)/0.01 = 14.3673 years, interval 7.18365 years, 2623 days
    floor = trying(Change("rate floor", 0.01 * MM_PER_INCH))
    assert place(floor)["remaining_life_years"] == pytest.approx((0.45 - 4575 / 14935) / 0.01, rel=1e-9)
    assert place(floor)["due_on"] == date(2025, 1, 1) + timedelta(days=2623)
    # scatter 0.5 mm: the rate 0.126983 mm/year has the deviation sqrt(2) x 0.5/10.001369 = 0.070701, high end + 2 x it
    scatter = trying(Change("reading scatter", 0.5))
    assert place(scatter)["rate_high_mm_per_year"] == pytest.approx(0.126983 + 2 * 0.0707013, abs=2e-6)


def test_a_stated_rate_of_a_component_or_a_place(trying: Trying) -> None:
    # 0.05 in/year: RL = 0.143673/0.05 = 2.87345 years, under four: interval 2 years, 730 days; retired after 1049 days
    for location in (None, "1"):
        trial = trying(Change("stated rate", 0.05 * MM_PER_INCH, "Shell", location))
        assert inches(place(trial)["rate_mm_per_year"]) == pytest.approx(0.05, rel=1e-12)
        assert place(trial)["due_on"] == date(2025, 1, 1) + timedelta(days=730)
        assert place(trial)["retirement_on"] == date(2025, 1, 1) + timedelta(days=1049)
        assert place(trial)["rate_chosen_by"] == "this trial"
    slow = trying(Change("stated rate", 0.001 * MM_PER_INCH, "Shell"))
    assert "lower than the rate by the plant's policy, 5.00 mil/year" in " ".join(slow.remarks)


def test_a_rate_does_not_mend_a_wall_below_required(trying: Trying) -> None:
    trial = trying(Change("stated rate", 0.0, "Shell"), asset="V-3")
    assert trial.tried.asset["state"] == "below required"
    assert "is below its required thickness whatever the rate" in " ".join(trial.remarks)


def test_an_assumed_reading(trying: Trying) -> None:
    # 0.430 in on 2026-01-01: ST = 0.02 in over 365 days = 0.0200137 in/year; a loss of 0.508 mm, more than scatter, so
    # it governs although it is less than a year. RL = 0.123673/0.0200137 = 6.17941, interval 3.08970: 1128 days.
    trial = trying(Change("assumed reading", 0.43 * MM_PER_INCH, "Shell", "1", date(2026, 1, 1)))
    assert place(trial)["rate_from"] == "short-term"
    assert place(trial)["remaining_life_years"] == pytest.approx((0.43 - 4575 / 14935) / (0.02 / (365 / 365.25)))
    assert place(trial)["due_on"] == date(2026, 1, 1) + timedelta(days=1128)
    assert not trial.remarks
    # 0.4600 in, 0.254 mm thicker, is within the noise of 0.2828 mm; 0.4620 in, 0.3048 mm, is held until accepted.
    noise = trying(Change("assumed reading", 0.46 * MM_PER_INCH, "Shell", "1", date(2026, 5, 1)))
    assert not noise.remarks
    grown = trying(Change("assumed reading", 0.462 * MM_PER_INCH, "Shell", "1", date(2026, 5, 1)))
    assert "held until a named person accepts it; the trial takes it as accepted" in " ".join(grown.remarks)
    assert inches(place(grown)["t_act_mm"]) == pytest.approx(0.462)
    # Twice the nominal thickness is a likely mistake, in a trial as on a sheet: it does not count.
    slip = trying(Change("assumed reading", 0.5 * 25.4 * MM_PER_INCH, "Shell", "1", date(2026, 5, 1)))
    assert "the assumed reading does not count (held" in " ".join(slip.remarks)
    assert inches(place(slip)["t_act_mm"]) == pytest.approx(0.45)


def test_a_restored_wall_begins_a_new_history_at_the_rate_of_today(trying: Trying) -> None:
    # V-3 restored to 0.460 in on 2026-06-01 at 0.2 in/10.001369 years: RL = (0.46 - 0.306327)/0.0199973 = 7.68468
    trial = trying(Change("restored thickness", 0.46 * MM_PER_INCH, "Shell", None, date(2026, 6, 1)), asset="V-3")
    # Interval 3.84234 years: 1403 days from 2026-06-01, 2030-04-04. The external inspection of 2024-06-01 shares it:
    # 2028-04-04, before the turnaround of 2030 ends.
    assert (trial.today.asset["state"], trial.tried.asset["state"]) == ("below required", "due by turnaround")
    assert trial.headline == "V-3 would be due by turnaround instead of below required."
    assert place(trial)["due_on"] == date(2026, 6, 1) + timedelta(days=1403)
    assert trial.tried.asset["external_due_on"] == date(2024, 6, 1) + timedelta(days=1403)
    rate = 0.2 / (3653 / 365.25)
    assert place(trial)["remaining_life_years"] == pytest.approx((0.46 - 4575 / 14935) / rate, rel=1e-9)
    assert place(trial)["epoch_on"] == date(2026, 6, 1)


def test_several_changes_at_once(trying: Trying) -> None:
    # 120 psi, S = 20000, E = 1: 120 x 30.5/(20000 + 48)
    trial = trying(
        Change("rerate", 120 * PSI_IN_MPA),
        Change("allowable stress", 20000 * PSI_IN_MPA, "Shell"),
        Change("longitudinal efficiency", 1.0, "Shell"),
    )
    assert inches(place(trial)["t_req_mm"]) == pytest.approx(3660 / 20048, rel=1e-12)
    assert len(trial.stated) == 3


def test_a_date_instead_of_the_interval(trying: Trying) -> None:
    # 2045-01-01 is 7305 days, 20 years on: 0.45 - 0.0999863 = 0.3500137 in once, 0.2500274 in twice.
    # MAWP = S E t/(Ro - 0.4 t) = 14875 x 0.2500274/(30.5 - 0.100011) = 122.341 psi, once more than the rating: 150.
    trial = trying(Change("next inspection", on=date(2045, 1, 1)))
    assert trial.today == trial.tried
    found = trial.inspection
    assert found is not None
    rate = 0.05 / (3653 / 365.25)
    assert inches(found.once[0]["t_mm"]) == pytest.approx(0.45 - rate * 20, rel=1e-9)
    twice = 0.45 - 2 * rate * 20
    assert inches(found.twice[0]["t_mm"]) == pytest.approx(twice, rel=1e-9)
    assert psi(found.mawp_twice_mpa) == pytest.approx(14875 * twice / (30.5 - 0.4 * twice), rel=1e-9)
    assert psi(found.mawp_once_mpa) == pytest.approx(150)
    assert not found.once[0]["is_below_required"] and found.twice[0]["is_below_required"]
    # the internal date is 2024-06-01 + 3652 days, the thickness date 2025-01-01 + 3652 days
    assert ("thickness", date(2035, 1, 1), 3653) in found.after_due
    remarks = " ".join(trial.remarks)
    assert "it needs a deferral approved before that date" in remarks
    assert "less than its rating of 150.0 psi" in remarks
    early = trying(Change("next inspection", on=date(2027, 1, 1)))
    assert early.inspection is not None and early.inspection.after_due == []
    # A due date that has passed cannot be deferred any more.
    late = trying(Change("next inspection", on=date(2027, 1, 1)), asset="V-3")
    assert "no deferral approved now would cover it" in " ".join(late.remarks)


def test_every_kind_names_its_evidence_and_is_said_in_words(trying: Trying) -> None:
    wanted = {
        "rerate": ("manufacturer", "inspection", "pressure test", "relief devices", "nameplate", "jurisdiction"),
        "longitudinal efficiency": ("radiographs", "data report"),
        "allowable stress": ("construction edition", "newer editions"),
        "radius basis": ("plant's policy",),
        "stated rate": ("inspector", "corrosion specialist", "reason", "name"),
        "weld distance": ("tape", "recorded"),
        "next inspection": ("deferral", "before that due date"),
    }
    for kind in KINDS.values():
        assert kind.evidence.endswith(".") and kind.reference
        for words in wanted.get(kind.name, ()):
            assert words in kind.evidence, (kind.name, words)
        assert not {"approved.", "compliant", "safe"} & set(kind.evidence.lower().split())
    assert said(Change("weld distance", 50.8, "Shell", "1"), "us") == (
        "Distance to the nearest weld 2.000 in (Shell, location 1)"
    )
    assert said(Change("next inspection", on=date(2027, 1, 1)), "si") == "Next inspection on 2027-01-01"
    (stated,) = trying(Change("rerate", 120 * PSI_IN_MPA)).stated
    assert stated.words == "Rerate to a MAWP of 120.0 psi"
    assert (stated.evidence, stated.reference) == (KINDS["rerate"].evidence, "API 510 8.2 (m)")


# ---- what cannot be tried -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Change("magic", 1.0), "'magic' cannot be tried; it can be rerate"),
        (Change("rerate"), "V-1: rerate to a MAWP of: give a number"),
        (Change("rerate", -1.0), "is not above zero"),
        (Change("rerate", float("nan")), "is not above zero"),
        (Change("rerate", float("inf")), "is not above zero"),
        (Change("rerate", 1.0, "Shell"), "leave component and location out"),
        (Change("longitudinal efficiency", 1.1, "Shell"), "is not above zero to one"),
        (Change("longitudinal efficiency", 1.0), "say which component"),
        (Change("longitudinal efficiency", 1.0, "Shell", "1"), "leave the location out"),
        (Change("allowable stress", 100.0, "Head"), "V-1 Head: there is no such component; it has Shell"),
        (Change("weld distance", 10.0, "Shell"), "say which location"),
        (Change("weld distance", 10.0, "Shell", "9"), "V-1 Shell 9: there is no such location; known is 1"),
        (Change("radius basis", "largest"), "'largest' is not accepted; it can be retirement, allowance, nominal"),
        (Change("assumed reading", 10.0, "Shell", "1"), "needs a date"),
        (Change("assumed reading", 10.0, "Shell", "1", date(2025, 1, 1)), "does not lie after the last reading"),
        (Change("next inspection", on=date(2026, 5, 31)), "lies before the as-of date 2026-06-01"),
        (Change("next inspection", 3.0, on=date(2027, 1, 1)), "takes a date and no number"),
        (Change("next inspection", on=date(2201, 1, 1)), " 2201-01-01: give a date before 2201"),
    ],
)
def test_what_cannot_be_tried_says_what_where_and_what_to_do(trying: Trying, change: Change, words: str) -> None:
    with pytest.raises(Problem) as caught:
        trying(change)
    assert words in str(caught.value)


def test_one_thing_is_not_changed_twice(trying: Trying) -> None:
    with pytest.raises(Problem, match="changed twice at one place"):
        trying(Change("rerate", 1.0), Change("lower pressure", 0.9))
    with pytest.raises(Problem, match="restored on two days"):
        trying(
            Change("restored thickness", 12.0, "Shell", None, date(2026, 6, 1)),
            Change("restored thickness", 12.0, "Shell", "1", date(2026, 7, 1)),
        )


def test_an_unknown_asset_and_results_of_another_program(results: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(Problem, match="V-9: there is no such asset"):
        what_if(results, "V-9", [], "us")
    with duckdb.connect() as other:
        other.execute("CREATE SCHEMA result")
        with pytest.raises(Problem, match="run 'hoopline build FOLDER' anew"):
            Bench(other, "V-1")
        other.execute("CREATE TABLE result.build AS SELECT '0.0.1' AS program")
        other.execute("CREATE SCHEMA step; CREATE TABLE step.asset AS SELECT 'V-1' AS asset")
        with pytest.raises(Problem, match=r"made by hoopline 0\.0\.1"):
            Bench(other, "V-1")


@pytest.mark.parametrize(
    ("kind", "text", "system", "inside"),
    [
        ("assumed reading", "0.440", "us", 0.44 * MM_PER_INCH),
        ("assumed reading", "7/16", "us", 7 / 16 * MM_PER_INCH),
        ("assumed reading", "11.2 mm", "us", 11.2),
        ("assumed reading", "11.2", "si", 11.2),
        ("rerate", "150", "us", 150 * PSI_IN_MPA),
        ("rerate", "10 bar", "si", 1.0),
        ("stated rate", "5", "us", 5 * 0.0254),
        ("allowable stress", "17.5 ksi", "us", 17500 * PSI_IN_MPA),
        ("longitudinal efficiency", "0.85", "us", 0.85),
        ("longitudinal efficiency", "85 %", "us", 0.85),
    ],
)
def test_a_number_is_typed_as_into_a_cell(kind: str, text: str, system: str, inside: float) -> None:
    assert number_typed(kind, text, system, AS_OF) == pytest.approx(inside, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("assumed reading", ""),
        ("assumed reading", "thin"),
        ("assumed reading", "n/a"),
        ("assumed reading", "8,750"),
        ("assumed reading", "<6"),
        ("assumed reading", "0"),
        ("assumed reading", "0.44 psi"),
        ("assumed reading", "0.440*"),
        ("rerate", "-10"),
        ("rerate", "150 psia"),
        ("longitudinal efficiency", "1.2"),
        ("radius basis", "1"),
    ],
)
def test_a_number_that_can_be_read_in_two_ways_or_none_is_refused(kind: str, text: str) -> None:
    with pytest.raises(Problem):
        number_typed(kind, text, "us", AS_OF)


def test_the_unit_taken_is_the_one_people_see() -> None:
    assert (unit_typed("rerate", "us"), unit_typed("rerate", "si")) == ("psi", "MPa")
    assert unit_typed("longitudinal efficiency", "us") == unit_typed("radius basis", "us") == ""


# ---- what can be weighed --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def weighed(results: duckdb.DuckDBPyConnection) -> Options:
    return options(results, "V-3", "us")


def test_a_vessel_that_is_thick_enough_has_nothing_to_weigh(results: duckdb.DuckDBPyConnection) -> None:
    assert options(results, "V-1", "us").places == ()


def test_the_pressures_offered_are_held_at_that_date(weighed: Options, trying: Trying) -> None:
    # V-3 loses 0.2 in/10.001369 years = 0.0199973 in/year. To 2027-03-31 are 819 days, 2.242300 years:
    # once 0.3 - 0.0448399 = 0.2551601 in: 14875 x 0.2551601/(30.5 - 0.1020640) = 124.860 psi: 124
    # twice 0.2103201 in: 14875 x 0.2103201/(30.5 - 0.0841280) = 102.858 psi: 102
    # To 2030-03-31 are 1915 days, 5.242984 years: once 0.1951545 in: 95.422: 95; twice 0.0903090 in: 44.096: 44
    assert [(offer.turnaround.name, offer.losses) for offer in weighed.pressures] == [
        ("TA 2027", 1),
        ("TA 2027", 2),
        ("TA 2030", 1),
        ("TA 2030", 2),
    ]
    assert [psi(offer.pressure_mpa) for offer in weighed.pressures] == pytest.approx(
        [124.860, 102.858, 95.422, 44.096], abs=2e-3
    )
    assert [round(psi(offer.offered_mpa), 9) for offer in weighed.pressures] == [124, 102, 95, 44]
    assert all(offer.holds and offer.is_reduced for offer in weighed.pressures)
    assert {offer.limited_by for offer in weighed.pressures} == {"Shell, location 1"}
    # The other road: a wall of that day, read on that day, at the offered pressure is not below required; at one psi
    # more than the wall holds it is.
    rate = 0.2 / (3653 / 365.25)
    for offer in weighed.pressures:
        on = offer.turnaround.end_on
        wall = 0.3 - offer.losses * rate * (on - date(2025, 1, 1)).days / 365.25
        reading = Change("assumed reading", wall * MM_PER_INCH, "Shell", "1", on)
        held = trying(Change("lower pressure", offer.offered_mpa), reading, asset="V-3")
        assert place(held)["state"] != "below required"
        more = trying(Change("lower pressure", (psi(offer.pressure_mpa) + 1) * PSI_IN_MPA), reading, asset="V-3")
        assert place(more)["state"] == "below required"


def test_another_reading(weighed: Options, trying: Trying) -> None:
    # clears: 0.306327 in, up to 0.307; the end of TA 2027 is 303 days, 0.829569 years from the as-of date:
    # 0.306327 + 0.0199973 x 0.829569 = 0.322916 in, up to 0.323. Held above 0.3 in + 0.282843 mm = 7.902843 mm.
    (offer,) = weighed.readings
    assert inches(offer.clears_mm) == pytest.approx(0.307, rel=1e-12)
    assert inches(offer.reaches_mm) == pytest.approx(0.323, rel=1e-12)
    assert offer.accepted_up_to_mm == pytest.approx(0.3 * MM_PER_INCH + 0.2828427, abs=1e-6)
    # away from the weld 4575/17560 = 0.260535 in would do: the verdict turns on the distance, 25.4 mm
    assert offer.away_from_mm == pytest.approx(25.4)
    same_rate = Change("stated rate", place(trying(asset="V-3"))["rate_mm_per_year"], "Shell")
    for wall, below in ((0.307, False), (0.306, True)):
        reading = Change("assumed reading", wall * MM_PER_INCH, "Shell", "1", AS_OF)
        trial = trying(reading, same_rate, asset="V-3")
        assert (place(trial)["state"] == "below required") is below
    for wall, reaches in ((0.323, True), (0.322, False)):
        reading = Change("assumed reading", wall * MM_PER_INCH, "Shell", "1", AS_OF)
        due = place(trying(reading, same_rate, asset="V-3"))["due_on"]
        assert (due >= date(2027, 3, 31)) is reaches


def test_a_restored_wall_reaches_the_turnaround(weighed: Options, trying: Trying) -> None:
    # TA 2027: 0.322916 in as above, up to 0.325. TA 2030: 1399 days, 3.830253 years, more than two, so twice the loss:
    # 0.306327 + 2 x 0.0199973 x 3.830253 = 0.459517 in, up to 0.460.
    near, far = weighed.restorations
    rate = 0.2 / (3653 / 365.25)
    assert inches(near.thickness_mm) == pytest.approx(4575 / 14935 + rate * 303 / 365.25, rel=1e-9)
    assert inches(far.thickness_mm) == pytest.approx(4575 / 14935 + 2 * rate * 1399 / 365.25, rel=1e-9)
    assert (inches(near.offered_mm), inches(far.offered_mm)) == pytest.approx((0.325, 0.460))
    assert near.holds and far.holds and near.on == AS_OF
    for offer in (near, far):
        restored = Change("restored thickness", offer.offered_mm, "Shell", "1", offer.on)
        assert place(trying(restored, asset="V-3"))["internal_due_on"] >= offer.turnaround.end_on
        short = Change("restored thickness", (offer.thickness_mm or 0) - 0.05, "Shell", "1", offer.on)
        assert place(trying(short, asset="V-3"))["internal_due_on"] < offer.turnaround.end_on


def test_what_pressure_cannot_settle_is_said(demo_results: Path) -> None:
    """A neck whose least thickness is a table's stays below required at any pressure its wall would hold."""
    found = options(open_results(demo_results), "E-405", "us")
    assert {place.governing_case for place in found.places} == {"least neck thickness"}
    for offer in found.pressures:
        assert offer.holds is False
        assert "N1, location TP-02 (least neck thickness)" in offer.because
    assert all(offer.holds for offer in found.restorations)


def test_the_thickness_to_reach_is_the_interval_rule_solved_for_it() -> None:
    """For every length of time within the cap: the interval of that wall is the time, of a thinner one it is less."""
    reach, life, interval = (FORMULAS[name] for name in ("thickness_to_reach", "remaining_life", "interval"))
    for tenths in range(1, 100):
        for rate in (0.01, 0.1, 1.3):
            given = {"t_req": 8.0, "C_r": rate, "short": 2.0, "cap": 10.0}
            wall = reach.evaluate({**given, "years": tenths / 10})
            assert wall is not None
            for thinner, exact in ((0.0, True), (1e-3, False)):
                years = interval.evaluate({**given, "RL": life.evaluate({**given, "t_act": wall - thinner})})
                assert years is not None
                assert years == pytest.approx(tenths / 10, rel=1e-9) if exact else years < tenths / 10 or years == 2.0
    assert reach.evaluate({"t_req": 8.0, "C_r": 0.1, "years": -1.0, "short": 2.0}) is None


def test_offers_are_rounded_to_the_safe_side() -> None:
    assert rounded_up(11.61, "mm", 0.1) == pytest.approx(11.7)
    assert rounded_up(11.7, "mm", 0.5) == pytest.approx(12.0)
    assert rounded_down(1.0499, "MPa", 0.01) == pytest.approx(1.04)
    assert psi(rounded_down(124.99 * PSI_IN_MPA, "psi", 1.0)) == pytest.approx(124)


# ---- the page -------------------------------------------------------------------------------------------------------


@pytest.fixture
def opened(plant: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], AppTest]:
    def open_page(asset: str) -> AppTest:
        monkeypatch.setenv(data.VARIABLE, str(plant / "results.duckdb"))
        app = AppTest.from_file(str(ENTRY), default_timeout=180)
        app.query_params["asset"] = asset
        app.switch_page("views/what_if.py")
        app.run()
        assert not app.exception
        return app

    return open_page


def written(app: AppTest) -> str:
    """Return everything written on the page, formatting marks left out."""
    kinds = ("title", "header", "subheader", "markdown", "caption", "error", "warning", "info")
    parts = [element.value for kind in kinds for element in app.get(kind)]
    parts += [element.proto.body for element in app.get("html")]
    return " ".join(parts).replace("\\", "").replace("\u2060", "")


def press(app: AppTest, label: str) -> None:
    next(button for button in app.button if button.label == label).click().run()
    assert not app.exception


def test_the_page_tries_a_rerate_and_takes_it_out_again(opened: Callable[[str], AppTest]) -> None:
    app = opened("V-1")
    assert "Nothing is tried yet" in written(app)
    assert "What can be weighed" not in written(app)
    app.text_input(key="number of rerate us").set_value("120")
    press(app, "Try it")
    words = written(app)
    assert "Rerate to a MAWP of 120.0 psi" in words
    assert KINDS["rerate"].evidence in words
    assert "−0.0611 in" in words and "0.2453 in" in words
    assert app.query_params["asset"] in ("V-1", ["V-1"])
    press(app, "Take it out")
    assert "Nothing is tried yet" in written(app)


def test_the_page_says_why_a_change_is_not_tried_and_keeps_the_ones_before(opened: Callable[[str], AppTest]) -> None:
    app = opened("V-1")
    app.text_input(key="number of rerate us").set_value("120")
    press(app, "Try it")
    app.selectbox(key="kind of change").set_value("longitudinal efficiency").run()
    app.text_input(key="number of longitudinal efficiency us").set_value("1,2,3")
    press(app, "Try it")
    words = written(app)
    assert "Not tried: joint efficiency, longitudinal" in words
    assert "Rerate to a MAWP of 120.0 psi" in words


def test_the_page_lists_what_can_be_weighed_for_a_vessel_below_required(opened: Callable[[str], AppTest]) -> None:
    app = opened("V-3")
    words = written(app)
    assert "What can be weighed for V-3" in words
    assert "refer to the owner's engineer and the jurisdiction" in words
    assert "124.0 psi" not in words
    press(app, "Work out what can be weighed")
    words = written(app)
    assert "none is chosen here" in words
    assert "124.0 psi" in words and "102.0 psi" in words
    assert "0.3250 in" in words and "0.4600 in" in words
    assert "would have to read at least 0.3070 in" in words
    assert "refer to the owner's engineer and the jurisdiction" in words
    assert "compliant" not in words.lower()


def test_every_kind_of_change_can_be_tried_on_the_page(opened: Callable[[str], AppTest]) -> None:
    typed = {
        "rerate": "120",
        "lower pressure": "120",
        "longitudinal efficiency": "0.9",
        "circumferential efficiency": "0.9",
        "allowable stress": "18000",
        "weld distance": "3",
        "assumed reading": "0.445",
        "stated rate": "6",
        "restored thickness": "0.5",
        "rate floor": "10",
        "reading scatter": "0.01",
    }
    app = opened("V-1")
    for kind in list(KINDS.values())[::2]:  # the others are tried without the page
        app.selectbox(key="kind of change").set_value(kind.name).run()
        if kind.words:
            app.selectbox(key=f"word of {kind.name}").set_value(kind.words[-1])
        elif kind.quantity:
            app.text_input(key=f"number of {kind.name} us").set_value(typed[kind.name])
        press(app, "Try it")
        assert "Not tried" not in written(app), kind.name
        assert KINDS[kind.name].evidence in written(app)
        press(app, "Take it out")
