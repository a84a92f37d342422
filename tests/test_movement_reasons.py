"""Why a due date moved between two builds: the reasons few builds have, each by one vessel named after what changed.

A shell needs 10 mm and loses 0.1 mm/year, read on 2020-01-01; both builds are as of 2020-06-01.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from pipeline.movement import Movement, movement
from pipeline.publishing import open_results
from pipeline.run import build
from tests.vessels import AS_OF, Y12, Y20, Plant

SEEN, RAISED = date(2019, 1, 1), date(2019, 3, 1)


def falling(last: float) -> tuple[tuple[date, float], ...]:
    return ((Y12, round(last + 0.8, 6)), (Y20, last))


def plant_of(second: bool) -> Plant:
    plant = Plant()
    for name in ("deferral gone", "raised", "closed", "taken off its list", "rate chosen", "weld measured"):
        plant.vessel(name, falling(10.9))
    plant.vessel("date lost", falling(10.9), since=None, inspected=None if second else SEEN)
    plant.vessel("date found", falling(10.9), since=date(2018, 1, 1) if second else None, inspected=None)
    plant.vessel("another device first", falling(10.9))
    plant.add("devices", "another device first", "PSV-1", 0.5, 5, date(2018, 1, 1))
    if second:
        plant.add("devices", "another device first", "PSV-2", 0.5, 3, date(2018, 1, 1))
        plant.add("advice", "raised", None, "scan the boot", RAISED, date(2022, 1, 1), None, None)
        plant.add("advice", "closed", None, "scan the boot", RAISED, date(2022, 1, 1), date(2020, 5, 1), "report 1")
        plant.add("choices", "rate chosen", "Shell", None, "named rate", 0.2, "as found", "R. Keel", date(2020, 2, 1))
        plant.add("places", "weld measured", "Shell", "1", 300)
        return plant
    until = (date(2023, 7, 2), date(2025, 1, 1), "no scaffold", "R. Keel", date(2020, 3, 1))
    plant.add("deferrals", "deferral gone", "external", *until)
    for name in ("closed", "taken off its list"):
        plant.add("advice", name, None, "scan the boot", RAISED, date(2022, 1, 1), None, None)
    return plant


@pytest.fixture(scope="module")
def moved(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Movement]:
    place: Path = tmp_path_factory.mktemp("moved")
    made = [
        build(plant_of(second).write(place / str(second)), as_of=AS_OF).database.resolve() for second in (False, True)
    ]
    with open_results(made[1]) as new, open_results(made[0]) as old:
        yield movement(new, old)


@pytest.mark.parametrize(
    ("asset", "kind", "how", "why"),
    [
        ("deferral gone", "external", "deferral gone", "the deferral until 2025-01-01 no longer covers it"),
        ("raised", "recommendation", "newly due", "a recommendation was raised"),
        ("closed", "recommendation", "no longer due", '"scan the boot" was closed'),
        ("taken off its list", "recommendation", "no longer due", '"scan the boot" is on no list any more'),
        ("date lost", "external", "re-dated", "missing: an external inspection or the in-service date"),
        ("date found", "external", "re-dated", "it could not be worked out before"),
        ("another device first", "relief device", "re-dated", "PSV-2 comes first now"),
        ("rate chosen", "thickness", "re-dated", "rate at Shell, location 1 chosen by R. Keel"),
    ],
)
def test_why_a_date_moved(moved: Movement, asset: str, kind: str, how: str, why: str) -> None:
    (row,) = moved.dates[(moved.dates["asset"] == asset) & (moved.dates["kind"] == kind)].to_dict("records")
    assert (row["how"], row["why"]) == (how, why)


def test_what_moved_no_date_is_not_listed(moved: Movement) -> None:
    """The wall needs its structural minimum at the weld and away from it: where the weld is changes no date."""
    assert moved.dates[moved.dates["asset"] == "weld measured"].empty
