"""The chain of reasons: complete, recomputed, each leaf with its cell, and honest when a stored number was changed."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.explain import Explanation, explain
from pipeline.publishing import open_results

#: One component in three in every run of the tests; HOOPLINE_EVERY=1 in the environment explains them all.
EVERY = int(os.environ.get("HOOPLINE_EVERY", "3"))


def every_component(database: Path) -> list[tuple[str, str]]:
    with duckdb.connect(str(database.resolve()), read_only=True) as connection:
        return connection.execute("SELECT asset, component FROM result.component ORDER BY ALL").fetchall()


@pytest.fixture(scope="module")
def explanations(demo_results: Path) -> list[Explanation]:
    connection = open_results(demo_results)
    every = every_component(demo_results)
    assert len(every) == 415
    return [explain(connection, asset, component) for asset, component in every[::EVERY]]


def test_every_stored_number_of_the_demo_is_recomputed_alike(explanations: list[Explanation]) -> None:
    assert {fault for told in explanations for fault in told.faults} == set()
    assert sum(len(told.links) for told in explanations) > 6000 / EVERY


def test_every_input_says_where_it_came_from(explanations: list[Explanation]) -> None:
    unknown = {
        (told.asset, told.component, link.id, entry.symbol)
        for told in explanations
        for link in told.links
        for entry in link.inputs
        if "unknown origin" in str(entry.origin) or not str(entry.origin)
    }
    assert unknown == set()


def test_every_assessable_component_has_the_links_a_person_asks_for(explanations: list[Explanation]) -> None:
    for told in explanations:
        if told.place is None or told.place["missing"] is not None:
            continue
        ids = {link.id for link in told.links}
        assert {"component_pressure", "margin", "rate_governing", "mawp", "weld_region"} <= ids, told.component
        assert ids & {"required_thickness", "required_thickness_neck"}
        assert told.place["no_measurable_loss"] or {"remaining_life", "interval", "whole_days"} <= ids


def test_the_equation_beside_a_required_thickness_gives_it_or_says_what_governs(
    explanations: list[Explanation],
) -> None:
    seen = set()
    for told in explanations:
        for answer in (*told.weld_answers, *told.basis_answers):
            if answer.equation:
                worked = re.search(r"= ([\d.]+ in) \[", answer.equation)
                assert worked is not None, answer.equation
                by_other = answer.equation.startswith("for internal pressure alone ")
                assert by_other == answer.equation.endswith(" governs")
                assert by_other or worked[1] == answer.t_req, (told.asset, told.component, answer)
                seen.add(by_other)
    assert seen == {False, True}


def test_the_shown_numbers_give_the_shown_result(explanations: list[Explanation]) -> None:
    """A person with a pocket calculator gets what is shown: the substituted line is worked out from its own text."""
    for told in explanations[:: max(1, 7 // EVERY)]:
        for link in told.links:
            expression = link.plain_values.replace("×", "*").replace("−", "-").replace("^", "**").replace("°", "")
            expression = re.sub(r"\bcos\(", "cosd(", expression)
            worked = eval(expression, {"__builtins__": {}, **_functions()})
            shown = float(link.shown.replace("−", "-").replace(",", "").split()[0].rstrip("°"))
            assert worked == pytest.approx(shown, rel=2e-5, abs=1e-9), (told.asset, told.component, link.id)


def test_si_and_us_explain_the_same_number(demo_results: Path) -> None:
    connection = open_results(demo_results)
    us, si = (explain(connection, "D-204", system=system) for system in ("us", "si"))
    assert [(link.id, link.value) for link in us.links] == [(link.id, link.value) for link in si.links]
    assert "11.6127 mm" in {link.shown for link in si.links}  # 0.457193 in x 25.4
    assert "0.457193 in" in {link.shown for link in us.links}


def test_only_the_branch_taken_is_shown(demo_results: Path) -> None:
    told = explain(open_results(demo_results), "D-204")
    interval = next(link for link in told.links if link.id == "interval")
    assert interval.plain_values == "0"  # the life has run out: no other branch stands there
    assert "if RL <= 0" in interval.plain


def test_a_stored_number_that_was_changed_is_shown_as_a_fault(demo_results: Path, tmp_path: Path) -> None:
    changed = tmp_path / "changed.duckdb"
    shutil.copy(demo_results.resolve(), changed)
    with duckdb.connect(str(changed)) as connection:
        connection.execute("UPDATE result.location SET remaining_life_years = 20 WHERE asset = 'D-204'")
    told = explain(open_results(changed), "D-204")
    assert len(told.faults) == 2  # the life itself, and the interval worked out from it
    assert "remaining life from the last reading: recomputed -4.15" in told.faults[0]
    assert "stored 20.0; do not use this number, build anew" in told.faults[0]


def _functions() -> dict[str, object]:
    import math

    return {
        "min": min,
        "max": max,
        "sqrt": math.sqrt,
        "exp": math.exp,
        "ln": math.log,
        "floor": math.floor,
        "cosd": lambda degrees: math.cos(math.radians(degrees)),
    }
