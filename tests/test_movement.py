"""What moved between two builds, each way by hand; and the overdue count explained without a rest.

Vessels as in the due rules: 10 mm required, read on 2012-01-01 and 2020-01-01 at 0.1 mm/year. The first build is as of
2020-06-01, the second as of 2021-06-01 with the changes each vessel's name tells.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from pipeline.movement import WAYS, Movement, counts, earlier_versions, movement
from pipeline.publishing import open_results, versioned_path
from pipeline.run import build
from tests.test_due_rules import Plant
from tests.test_turnaround import vessel, written

#: External every five years (1826 days): from 2015-01-01 due on 2020-01-01, overdue at the first build.
OLD = date(2015, 1, 1)
#: From 2016-01-01 due on 2020-12-31, overdue at the second build only.
LATER = date(2016, 1, 1)


def plant_of(second: bool) -> Plant:
    plant = Plant()
    vessel(plant, "still", external=OLD)
    vessel(plant, "done", external=OLD)
    vessel(plant, "aging", external=LATER)
    vessel(plant, "deferred", external=LATER)
    vessel(plant, "read", 9)  # due 4.5 years after 2020-01-01: 1643 days, 2024-07-01
    vessel(plant, "elsewhere", 9)
    vessel(plant, "retired", external=OLD)
    vessel(plant, "known", None)
    plant.add("parts", "known", "Shell", "cylinder", 20, 138, 1.0, 10.0, None, None)
    # its interval was set to 4 years by an assessment, so due on 2019-12-31; without it the 5 years count: 2020-12-31
    vessel(plant, "lengthened", external=date(2016, 1, 1))
    if not second:
        plant.add("intervals", "lengthened", "external", 4, "Assessment 1", "M. Example", date(2017, 1, 1))
        vessel(plant, "removed", external=OLD)
        return plant
    plant.add("intervals", "lengthened", "external", 9, "Assessment 2", "M. Example", date(2021, 1, 1))
    plant.add("visits", "done", "external", date(2021, 2, 1), "sound", None)
    plant.add(
        "deferrals",
        *("deferred", "external", date(2020, 12, 31), date(2022, 1, 1), "no scaffold", "M. Example", date(2020, 8, 1)),
    )
    plant.add("survey", "read", "Shell", "1", date(2021, 1, 1), 10.85)
    # another place of the same vessel is read for the first time and sets the date
    plant.add("survey", "elsewhere", "Shell", "2", date(2012, 1, 1), 11.4)
    plant.add("survey", "elsewhere", "Shell", "2", date(2020, 1, 1), 10.6)  # 0.1 mm/year: 6 years, due 2022-12-31
    plant.add("survey", "known", "Shell", "1", date(2012, 1, 1), 13.8)
    plant.add("survey", "known", "Shell", "1", date(2020, 1, 1), 13.0)
    vessel(plant, "new", external=OLD)
    return plant


@pytest.fixture(scope="module")
def moved(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Movement]:
    folder = tmp_path_factory.mktemp("movement") / "plant"
    written(plant_of(False), folder)
    before = build(folder, as_of=date(2020, 6, 1)).database.resolve()
    written(plant_of(True), folder, status={"retired": ("retired", date(2021, 1, 1))})
    now = build(folder, as_of=date(2021, 6, 1)).database.resolve()
    assert earlier_versions(now) == [before]
    assert earlier_versions(before) == []
    with open_results(now) as new, open_results(before) as old:
        yield movement(new, old)


def date_of(moved: Movement, asset: str, kind: str = "external") -> dict[str, Any]:
    (row,) = moved.dates[(moved.dates["asset"] == asset) & (moved.dates["kind"] == kind)].to_dict("records")
    return row


@pytest.mark.parametrize(
    ("asset", "kind", "how", "why"),
    [
        ("done", "external", "done", "last external inspection on 2021-02-01"),
        ("aging", "external", "newly overdue", "its date has passed"),
        ("deferred", "external", "deferred", "deferred until 2022-01-01, approved by M. Example"),
        ("read", "thickness", "done", "Shell, location 1 was read on 2021-01-01"),
        # the internal inspection itself was not made: a new reading only moved its half-life date
        ("read", "internal", "re-dated", "new reading of 2021-01-01 at Shell, location 1"),
        ("elsewhere", "thickness", "re-dated", "set by Shell, location 2 now"),
        ("lengthened", "external", "re-dated", "another interval"),
        ("retired", "external", "no longer due", "the asset is retired"),
        ("removed", "external", "no longer due", "the asset is on no sheet any more"),
        ("new", "external", "newly overdue", "the asset is new"),
    ],
)
def test_each_date_is_told_by_the_way_it_moved(moved: Movement, asset: str, kind: str, how: str, why: str) -> None:
    row = date_of(moved, asset, kind)
    assert (row["how"], why in row["why"]) == (how, True), row["why"]


def test_dates_before_and_after_stand_beside_each_other(moved: Movement) -> None:
    row = date_of(moved, "done")
    # 2021-02-01 + 1826 days = 2026-02-01
    assert (row["from_on"].date(), row["to_on"].date()) == (date(2020, 1, 1), date(2026, 2, 1))
    assert date_of(moved, "deferred")["to_on"].date() == date(2022, 1, 1)


def test_what_stayed_is_not_told(moved: Movement) -> None:
    assert not (moved.dates["asset"] == "still").any()


def test_assets_that_came_went_or_changed(moved: Movement) -> None:
    found = {(row["asset"], row["how"]) for row in moved.assets.to_dict("records")}
    assert {("new", "new"), ("removed", "removed"), ("retired", "retired"), ("known", "assessable now")} <= found
    assert not {asset for asset, _ in found} & {"still", "done", "aging"}


def test_the_overdue_count_is_explained_without_a_rest(moved: Movement) -> None:
    """Before: still, done, retired, removed and lengthened. After: still, aging, new."""
    assert (moved.overdue_before, moved.overdue_now) == (5, 3)
    assert moved.left == {"done": 1, "re-dated": 1, "no longer due": 2}
    assert moved.new_overdue == 2
    assert moved.overdue_before - sum(moved.left.values()) + moved.new_overdue == moved.overdue_now


def test_a_falling_count_says_in_one_sentence_how_it_fell(moved: Movement) -> None:
    assert moved.sentence.startswith(
        "Overdue due dates: 5 as of 2020-06-01, 3 as of 2021-06-01. "
        "4 left the list: 1 done, 1 re-dated, 2 no longer due. 2 came onto it. "
    )
    redated = int((moved.dates["how"] == "re-dated").sum())
    assert redated >= 3
    assert moved.sentence.endswith(
        f"2 came onto it. {redated} dates, overdue or not, moved without an inspection, reading or test."
    )


def test_counts_are_those_of_the_rows(moved: Movement) -> None:
    assert set(counts(moved)) >= {"done", "re-dated", "deferred", "newly overdue", "new", "removed", "assessable now"}
    assert sum(counts(moved).values()) == len(moved.dates) + len(moved.assets)
    assert set(moved.dates["how"]) <= set(WAYS)


def test_the_same_build_has_not_moved(demo_results: Path) -> None:
    with open_results(demo_results) as one, open_results(demo_results) as other:
        same = movement(one, other)
    assert same.dates.empty and same.assets.empty
    assert same.overdue_before == same.overdue_now
    assert same.sentence.endswith(
        "None left the list. None came onto it. No date moved without an inspection, reading or test."
    )


def test_earlier_versions_are_those_of_this_name_and_before(tmp_path: Path) -> None:
    database = tmp_path / "results.duckdb"
    for number in (3, 12, 7):
        versioned_path(database, number).touch()
    (tmp_path / "other.000001.duckdb").touch()
    (tmp_path / "results.duckdb.bak").touch()
    assert [path.name for path in earlier_versions(versioned_path(database, 12))] == [
        "results.000007.duckdb",
        "results.000003.duckdb",
    ]
    assert earlier_versions(database) == []
