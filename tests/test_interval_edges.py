"""Where rules of intervals and due dates meet: ties, the very day, one rule in another's way, what is handed on.

By hand from engineering basis 3, 4 and 6, as in `test_due_rules`. A shell needs 10 mm and is read on 2020-01-01 and
eight years before: a last reading of 10 + n/10 mm at 0.1 mm/year leaves n years. Whole days: 2 years 730, 5 years 1826,
10 years 3652. All of it is as of 2020-06-01, with a turnaround past, one in March 2021 and one in March 2025. Where a
vessel has 30 years left no wall is in the way: internal 2028-12-31, external 2024-01-01, thickness 2029-12-31.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.entering import enter
from pipeline.people import Identity
from pipeline.sheets.entries import Typed
from tests.plants import write_plant
from tests.vessels import (
    AS_OF,
    HEADINGS,
    Y04,
    Y12,
    Y20,
    Plant,
    Row,
    after,
    asset_of,
    due_of,
    opened,
    place_of,
    rows,
)

INTERVALS = ("Asset", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on")
ON_STREAM = ("Asset", "Kind", "Date", "Result", "In place of internal")
FIRST_SEEN, LAST_SEEN = date(2008, 1, 1), date(2019, 1, 1)
NEXT_ENDS, AFTER_ENDS = date(2021, 4, 1), date(2025, 4, 1)
TEN, FIVE = 3652, 1826


def falling(life: float, rate: float = 0.1) -> tuple[tuple[date, float], ...]:
    left = round(10 + life * rate, 6)
    return ((Y12, round(left + 8 * rate, 6)), (Y20, left))


class Edges(Plant):
    """A plant with set intervals and on-stream inspections besides."""

    def __init__(self) -> None:
        super().__init__()
        self.intervals: list[tuple] = [INTERVALS]
        self.on_stream: list[tuple] = [ON_STREAM]

    def write(self, folder: Path, basis: str = "") -> Path:
        sheets = {name: [HEADINGS[name], *held] for name, held in self.rows.items() if held}
        more = {name: held for name, held in (("intervals", self.intervals), ("on stream", self.on_stream)) if held[1:]}
        return write_plant(folder, basis=basis, **sheets, **more)

    def seen(self, name: str, kind: str, day: date) -> None:
        self.add("visits", name, kind, day, "sound")

    def bare(self, name: str, life: float = 30, internal: date | None = None, external: date | None = None) -> None:
        """A vessel with so many years left that was inspected only when said."""
        self.vessel(name, falling(life), inspected=None)
        for kind, day in (("internal", internal), ("external", external)):
            if day is not None:
                self.seen(name, kind, day)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Edges()
    for name, begin, end in (
        ("TA-17", date(2017, 3, 1), date(2017, 4, 1)),
        ("TA-21", date(2021, 3, 1), NEXT_ENDS),
        ("TA-25", date(2025, 3, 1), AFTER_ENDS),
        ("One more", date(2029, 3, 1), date(2029, 4, 1)),
    ):
        plant.add("turnarounds", name, begin, end)
    for part in (caps, lives, bands, dates, on_stream, deferrals, places, following, recommendations):
        part(plant)
    folder = plant.write(tmp_path_factory.mktemp("edges") / "plant")
    for cells in ENTERED:
        enter(folder, Typed("recommendations", {**ENTERED_ABOUT, **cells}), Identity(KEEL), "as told", AS_OF)
    with opened(folder) as connection:
        yield connection


def only(connection: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> Row:
    (row,) = rows(connection, sql, *values)
    return row


# ---- how far the plant must reach -----------------------------------------------------------------------------------


def test_the_horizon_is_the_end_of_the_turnaround_after_the_next(plant: duckdb.DuckDBPyConnection) -> None:
    assert rows(plant, "FROM step.horizon") == [
        {
            "must_reach_on": AFTER_ENDS,
            "next_name": "TA-21",
            "next_start_on": date(2021, 3, 1),
            "after_name": "TA-25",
        }
    ]


# ---- the longest interval -------------------------------------------------------------------------------------------

KEEL, EARLIER, LATER = "R. Keel", date(2018, 2, 1), date(2019, 2, 1)

#: vessel: its set intervals; kind, longest interval, where it comes from, and a longer one that is not counted.
CAPS: dict[str, tuple[list[tuple], tuple[str, float, str, float | None]]] = {
    "of two the later approved": (
        [("internal", 12, "RBA-2", KEEL, EARLIER), ("internal", 14, "RBA-1", KEEL, LATER)],
        ("internal", 14, "set interval: RBA-1", None),
    ),
    "of two the later, though longer than the cap": (
        [("internal", 6, "RBA-1", KEEL, EARLIER), ("internal", 12, "RBA-2", KEEL, LATER)],
        ("internal", 12, "set interval: RBA-2", None),
    ),
    "of one day the shorter": (
        [("internal", 14, "RBA-1", KEEL, LATER), ("internal", 13, "RBA-2", KEEL, LATER)],
        ("internal", 13, "set interval: RBA-2", None),
    ),
    "of one day and length the first by name": (
        [("internal", 14, "RBA-2", KEEL, LATER), ("internal", 14, "RBA-1", KEEL, LATER)],
        ("internal", 14, "set interval: RBA-1", None),
    ),
    "the owner's shorter one beside it": (
        [("internal", 14, "RBA-1", KEEL, LATER), ("internal", 6, None, None, None)],
        ("internal", 6, "set interval", None),
    ),
    "the owner's beyond the cap does not stand in its way": (
        [("internal", 14, "RBA-1", KEEL, LATER), ("internal", 12, None, None, None)],
        ("internal", 14, "set interval: RBA-1", None),
    ),
    "the owner's beyond the cap, beside a shorter documented one": (
        [("internal", 12, None, None, None), ("internal", 8, "RBA-1", KEEL, LATER)],
        ("internal", 8, "set interval: RBA-1", None),
    ),
    "of the owner's two the shorter": (
        [("internal", 8, None, None, None), ("internal", 7, "RBA-1", None, None)],
        ("internal", 7, "set interval", None),
    ),
    "a later day without an assessment does not make it older": (
        [("internal", 7, "RBA-1", KEEL, EARLIER), ("internal", 9, None, KEEL, LATER)],
        ("internal", 7, "set interval: RBA-1", None),
    ),
    "the owner's as long as the cap, beside a longer one": (
        [("internal", 14, "RBA-1", KEEL, LATER), ("internal", 10, None, None, None)],
        ("internal", 10, "set interval", None),
    ),
    "a year": ([("internal", 1, None, None, None)], ("internal", 1, "set interval", None)),
    "as long as the cap": ([("internal", 10, None, None, None)], ("internal", 10, "set interval", None)),
    "longer without words": ([("internal", 11, None, None, None)], ("internal", 10, "cap", 11)),
    "longer, documented": ([("internal", 11, "RBA-1", KEEL, LATER)], ("internal", 11, "set interval: RBA-1", None)),
    "on-stream is internal": ([("on-stream", 6, None, None, None)], ("internal", 6, "set interval", None)),
    "external": ([("external", 3, None, None, None)], ("external", 3, "set interval", None)),
    "thickness": ([("thickness", 3, None, None, None)], ("thickness", 3, "set interval", None)),
    "of kinds apart": (
        [
            ("internal", 14, "RBA-1", KEEL, LATER),
            ("on-stream", 12, "RBA-2", KEEL, EARLIER),
            ("external", 3, *[None] * 3),
        ],
        ("internal", 14, "set interval: RBA-1", None),
    ),
}
PART_TIME: dict[str, Any] = {"continuous": "no", "fraction": 0.5, "protection": "nitrogen"}


def caps(plant: Edges) -> None:
    for name, (stated, _) in CAPS.items():
        plant.bare(name)
        plant.intervals += [(name, *row) for row in stated]
    for name, years in (("part time, set within", 15), ("part time, set beyond", 25), ("part time", None)):
        plant.vessel(name, falling(90), inspected=None, **PART_TIME)
        if years:
            plant.intervals.append((name, "internal", years, None, None, None))
    plant.vessel("all the time, said so", falling(90), **{**PART_TIME, "continuous": "yes"})
    plant.vessel("part time, no protection", falling(90), **{**PART_TIME, "protection": None})
    plant.vessel("part time, no fraction", falling(90), **{**PART_TIME, "fraction": None})
    plant.vessel("part time, never", falling(90), **{**PART_TIME, "fraction": 0})
    plant.intervals.append((None, "internal", 3, "RBA-9", KEEL, LATER))


@pytest.mark.parametrize("name", CAPS)
def test_the_set_interval_in_force(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    kind, years, comes_from, ignored = CAPS[name][1]
    found = {row["kind"]: row for row in rows(plant, "FROM step.cap WHERE asset = ?", name)}
    row = found[kind]
    assert (row["cap_years"], row["cap_from"], row["ignored_interval_years"]) == (years, comes_from, ignored)
    assert (row["ignored_because"] is None) == (ignored is None)
    assert {each: found[each]["cap_years"] for each in found if each not in {row[0] for row in CAPS[name][0]}} == {
        each: usual
        for each, usual in (
            *(("internal", 10), ("external", 5), ("thickness", 10)),
            *(("relief device", 5), ("clean relief device", 10)),
        )
        if each not in {row[0] for row in CAPS[name][0]} and not (each == "internal" and kind == "internal")
    } | ({"internal": years} if CAPS[name][0][0][0] == "on-stream" else {})


def test_where_a_set_interval_stands(plant: duckdb.DuckDBPyConnection) -> None:
    """The cell of the one in force, or of the one that does not count; none where none is set."""
    sql = "SELECT file, sheet, cell FROM step.cap WHERE asset = ? AND kind = ?"
    stated = [name for name, (given, _) in CAPS.items() for _ in given]
    for name, number in (("longer without words", 0), ("the owner's shorter one beside it", 1), ("external", 0)):
        line = stated.index(name) + number + 2
        kind = CAPS[name][1][0]
        assert only(plant, sql, name, kind) == {"file": "plant.xlsx", "sheet": "intervals", "cell": f"C{line}"}
    assert only(plant, sql, "external", "internal") == {"file": None, "sheet": None, "cell": None}


def test_the_set_intervals_on_record_are_those_of_the_sheet(plant: duckdb.DuckDBPyConnection) -> None:
    found = rows(plant, "SELECT * EXCLUDE (record) FROM step.set_interval WHERE asset <> 'banded' ORDER BY record")
    written = [(name, *row) for name, (stated, _) in CAPS.items() for row in stated]
    written += [
        ("part time, set within", "internal", 15, *[None] * 3),
        ("part time, set beyond", "internal", 25, *[None] * 3),
    ]
    assert [tuple(row.values()) for row in found] == [
        (*row, all(word is not None for word in row[3:]), "plant.xlsx", "intervals", f"C{line}")
        for line, row in enumerate(written, start=2)
    ]


def test_operating_years_and_a_set_interval(plant: duckdb.DuckDBPyConnection) -> None:
    """Half the time: 20 calendar years. 15 are within them and the owner's to set, 25 are not."""
    sql = (
        "SELECT cap_years, cap_from, operating_years_refused, ignored_interval_years "
        "FROM step.cap WHERE asset = ? AND kind = ?"
    )
    operating = only(plant, sql, "part time", "internal")["cap_from"]
    assert operating.startswith("cap of 10") and operating.endswith("of the time; while idle: nitrogen)")
    assert " in operation (0.5" in operating
    told = {name: tuple(only(plant, sql, name, "internal").values()) for name in (
        "part time", "part time, set within", "part time, set beyond", "all the time, said so",
        "part time, no protection", "part time, no fraction", "part time, never",
    )}  # fmt: skip
    assert told == {
        "part time": (20, operating, None, None),
        "part time, set within": (15, "set interval", None, None),
        "part time, set beyond": (20, operating, None, 25),
        "all the time, said so": (10, "cap", None, None),
        "part time, no protection": (10, "cap", "the protection while idle is not on record", None),
        "part time, no fraction": (10, "cap", "the fraction of the time in operation is not on record", None),
        "part time, never": (10, "cap", told["part time, never"][2], None),
    }
    assert told["part time, never"][2]
    for kind, years in (("external", 5), ("thickness", 10)):
        for name in ("part time", "part time, no protection"):
            assert tuple(only(plant, sql, name, kind).values()) == (years, "cap", None, None)


# ---- lives ----------------------------------------------------------------------------------------------------------

START = date(2019, 6, 1)  # 0.25 years later 91 days: 2019-08-31; 0.5 years 182 days: 2019-11-30


def lives(plant: Edges) -> None:
    for name, day in (
        ("read on the first day of the check", after(START, 91)),
        ("read a day before it", after(START, 90)),
    ):
        plant.vessel(name, ((day, 15.9),), since=START, stated=0.05)
    plant.vessel("read twice early", ((after(START, 10), 15.9), (after(START, 20), 15.9)), since=START, stated=0.05)
    plant.vessel("no rate stated", ((after(START, 10), 15.9),), since=START)
    # Half a millimetre in ten days says something of a rate; the same again, or what is held, does not.
    quick, still = (
        ((after(START, 10), 15.9), (after(START, 20), 15.4)),
        ((after(START, 10), 15.9), (after(START, 20), 15.9)),
    )
    plant.vessel("read twice early, much lost", quick, since=START, stated=0.05)
    grown = ((after(Y12, 10), 15.0), (date(2016, 1, 1), 15.9))
    for name, points, since in (("quick", quick, START), ("still", still, START), ("grown", grown, Y12)):
        plant.vessel(f"beside {name}", points, since=since)
        plant.add("survey", f"beside {name}", "Shell", "2", after(START, 100), "no access")
    # The wall and the service of the place nobody has read are known from the one beside it.
    plant.vessel("read beside it", ((after(START, 100), 15.9),), since=START)
    plant.add("survey", "read beside it", "Shell", "2", after(START, 100), "no access")
    plant.vessel("read beside it, rate stated", ((after(START, 100), 15.9),), since=START, stated=0.05)
    plant.add("survey", "read beside it, rate stated", "Shell", "2", after(START, 100), "no access")
    plant.vessel("one place never read", ((Y12, 15.9), (Y20, 15.8)))
    plant.add("survey", "one place never read", "Shell", "2", Y20, "no access")
    plant.vessel("replaced, never read", ())
    plant.add("survey", "replaced, never read", "Shell", "1", Y20, "no access")
    plant.add("events", "replaced, never read", "Shell", START, "replaced", None)
    # 0.2 mm from nominal in 30 days, 0.1 left: 0.041 years, 15 days, before the check of 2019-11-30
    plant.vessel("due before its check", ((after(START, 30), 10.1),), since=START, stated=0.05, nominal=10.3)
    plant.vessel("a thousand years", ((Y12, 20.0), (Y20, 20.0)))
    plant.add("choices", "a thousand years", "Shell", None, "named rate", 0.01, "as found", KEEL, date(2020, 2, 1))
    plant.vessel("more than a thousand", ((Y12, 21.0), (Y20, 21.0)))
    plant.add("choices", "more than a thousand", "Shell", None, "named rate", 0.01, "as found", KEEL, date(2020, 2, 1))
    plant.vessel("no loss", ((Y12, 11.0), (Y20, 11.0)))
    plant.vessel("no loss, just enough", ((Y12, 10.0), (Y20, 10.0)))
    plant.vessel("no loss, below", ((Y12, 9.9), (Y20, 9.9)))
    plant.vessel("no loss, nothing required", ((Y12, 11.0), (Y20, 11.0)), S=None, structural=None)
    plant.vessel("below, no rate", ((Y20, 9.9),), nominal=None)
    plant.vessel("enough, no rate", ((Y20, 11.0),), nominal=None)
    # The shell of one changed its service on START; its head did not, nor did the shell of another vessel.
    for name in ("changed", "not changed"):
        plant.vessel(name, ((date(2018, 1, 1), 15.0),), stated=0.05)
    plant.part("changed", "Head", ((date(2018, 1, 1), 15.0),), stated=0.05)
    plant.add("events", "changed", "Shell", START, "change of service", None)
    # S E = 80 at the joint and 100 away from it: 5 x 820/(80 + 2) = 50 mm and 4100/102 = 40.196 mm
    for name, last in WELDED.items():
        plant.vessel(name, ((Y12, 55.0), (Y20, last)), D=1520, P=5, S=100, E=0.8, nominal=60.0, structural=None)
    plant.add("places", "between, far from the weld", "Shell", "1", 300)
    plant.vessel("never read", ())
    plant.add("survey", "never read", "Shell", "1", Y20, "no access")
    plant.vessel("never read, no date", (), since=None, inspected=None)
    plant.add("survey", "never read, no date", "Shell", "1", Y20, "no access")


def test_the_first_check_of_a_new_service_ends_with_a_reading_in_its_time(plant: duckdb.DuckDBPyConnection) -> None:
    """A reading three months after the start is that check, whether or not a rate is stated; two within a few days and
    within scatter are not: they say nothing of a rate."""
    check = after(START, 182)
    asked = {
        "read on the first day of the check": None,
        "read a day before it": check,
        "read twice early": check,
        "no rate stated": check,
        "due before its check": check,
        "read twice early, much lost": None,
        "read beside it": None,
        "never read": after(Y04, 182),
        "never read, no date": None,
        # No wall of this service was ever read, the replaced one neither.
        "replaced, never read": after(Y04, 182),
    }
    for name, due_on in asked.items():
        assert place_of(plant, name)["first_check_on"] == due_on, name
    assert place_of(plant, "read a day before it")["due_on"] == check
    # (10.3 - 10.1)/(30/365.25) = 2.435 mm/year: 0.1 mm lasts 0.041068 years, all of it 15 days
    assert place_of(plant, "read beside it", location="2")["first_check_on"] is None
    assert place_of(plant, "read beside it, rate stated", location="2")["first_check_on"] == check
    beside = {
        name: place_of(plant, f"beside {name}", location="2")["first_check_on"] for name in ("quick", "still", "grown")
    }
    assert beside == {"quick": None, "still": check, "grown": after(Y12, 182)}
    early = place_of(plant, "due before its check")
    assert early["remaining_life_years"] == pytest.approx(0.1 / (0.2 / (30 / 365.25)))
    assert early["due_on"] == after(START, 30 + 15)
    told = due_of(plant, "due before its check", "thickness")
    assert (told["due_on"], told["set_by"]) == (after(START, 45), "interval from the thickness reading")
    assert due_of(plant, "read a day before it", "thickness")["set_by"] == "first check of a new or changed service"


def test_a_change_of_service_begins_the_time_of_its_own_component(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "changed")["first_check_on"] == after(START, 182)
    assert place_of(plant, "changed", "Head")["first_check_on"] is None
    assert place_of(plant, "not changed")["first_check_on"] is None


#: Last readings of a wall that needs 50 mm at the joint and 4100/102 away from it.
WELDED = {
    "just enough at the weld": 50.0,
    "between": 45.0,
    "between, far from the weld": 45.0,
    "just enough away": 4100 / 102,
    "below both": 40.0,
}


def test_a_verdict_that_turns_on_the_weld(plant: duckdb.DuckDBPyConnection) -> None:
    """Enough away from the weld, not at it, and nobody knows how far it is."""
    for name in WELDED:
        place = place_of(plant, name)
        assert place["verdict_turns_on_weld_distance"] == (name in ("between", "just enough away")), name
        assert place["t_req_weld_mm"] == 50.0
        assert place["t_req_away_mm"] == pytest.approx(4100 / 102, rel=1e-15)
    counted = only(plant, "FROM step.component_state WHERE asset = 'between'")
    assert counted["weld_distance_places"] == 1


def test_a_life_of_a_thousand_years_has_a_date_and_a_longer_one_none(plant: duckdb.DuckDBPyConnection) -> None:
    """10 mm at 0.01 mm/year: 365,250 days after 2020-01-01; 11 mm: no date means anything."""
    assert place_of(plant, "a thousand years")["retirement_on"] == after(Y20, 365250)
    longer = place_of(plant, "more than a thousand")
    assert (longer["retirement_on"], longer["remaining_life_years"]) == (None, pytest.approx(1100))


def test_a_wall_that_loses_nothing(plant: duckdb.DuckDBPyConnection) -> None:
    """The cap while it is enough, at once when it is not, no date where nobody knows."""
    told = {}
    for name in ("no loss", "no loss, just enough", "no loss, below", "no loss, nothing required"):
        place = place_of(plant, name)
        assert (place["no_measurable_loss"], place["remaining_life_years"]) == (True, None), name
        told[name] = (place["interval_years"], place["internal_interval_years"], place["due_on"], place["state"])
    assert told == {
        "no loss": (10, 10, after(Y20, TEN), "in date"),
        "no loss, just enough": (10, 10, after(Y20, TEN), "in date"),
        "no loss, below": (0, 0, Y20, "below required"),
        "no loss, nothing required": (None, None, None, "not assessable"),
    }


def test_what_is_missing_for_a_life(plant: duckdb.DuckDBPyConnection) -> None:
    """A wall below its requirement needs no rate to be so."""
    life = {
        name: only(plant, "SELECT * FROM step.life WHERE asset = ? AND scenario = 'in force'", name)
        for name in ("below, no rate", "enough, no rate", "never read", "no loss, nothing required")
    }
    assert life["below, no rate"]["life_missing"] is None and life["below, no rate"]["is_below_required"]
    assert "rate" in life["enough, no rate"]["life_missing"]
    assert life["never read"]["life_missing"] == "a thickness reading"
    assert "allowable stress" in life["no loss, nothing required"]["life_missing"]
    # Without a rate a wall that is enough has no interval; one that is not has none left, whatever the rate.
    for name, interval in (("below, no rate", 0), ("enough, no rate", None)):
        assert (life[name]["no_measurable_loss"], life[name]["interval_years"]) == (False, interval)
        assert life[name]["internal_interval_years"] == interval
    never = life["never read"]
    assert (never["never_read"], never["is_below_required"], never["verdict_turns_on_weld_distance"]) == (
        True,
        False,
        False,
    )
    assert not life["enough, no rate"]["never_read"]
    assert never["due_on"] == after(Y04, 182)
    assert due_of(plant, "never read", "thickness")["set_by"] == "first check of a new or changed service"
    beside = place_of(plant, "one place never read", location="2")
    assert (beside["due_on"], beside["missing"]) == (after(Y04, TEN), "a thickness reading")
    assert due_of(plant, "one place never read", "thickness")["set_by"] == "cap from the in-service date: never read"


# ---- bands ----------------------------------------------------------------------------------------------------------

#: Growth of 0.25 mm twice in eight years, each within noise: -0.03125 mm/year, and with two deviations of 0.00884 still
#: below zero: both ends of the band are no loss at all.
GROWING = (Y04, Y12, Y20)


def bands(plant: Edges) -> None:
    for name, last in (("grew, enough", 11.0), ("grew, just enough", 10.0), ("grew, below", 9.9)):
        plant.vessel(name, tuple(zip(GROWING, (last - 0.5, last - 0.25, last), strict=True)))
    plant.vessel(
        "grew, nothing required", tuple(zip(GROWING, (10.5, 10.75, 11.0), strict=True)), S=None, structural=None
    )
    # 15 years for the survey, by an assessment: the two caps of a band are unlike
    plant.vessel("banded", tuple(zip(GROWING, (10.5, 10.75, 11.0), strict=True)))
    plant.intervals.append(("banded", "thickness", 15, "RBA-7", KEEL, LATER))
    for name, last in (("named, enough", 11.0), ("named, below", 9.9)):
        plant.vessel(name, ((Y12, last + 0.8), (Y20, last)))
        plant.add("choices", name, "Shell", None, "named rate", 0.2, "as found", KEEL, date(2020, 2, 1))
    # A loss of just two deviations: what is left of the low end is the last binary digits of 0.282842712475
    plant.vessel("a hair of a rate", ((Y04, 12.282842712475), (Y20, 12.0)))


@pytest.mark.parametrize(
    ("name", "days", "internal_days"),
    [
        ("grew, enough", TEN, TEN),
        ("grew, just enough", TEN, TEN),
        ("grew, below", 0, 0),
        ("banded", 5478, TEN),
    ],
)
def test_a_band_without_any_loss(plant: duckdb.DuckDBPyConnection, name: str, days: int, internal_days: int) -> None:
    band = only(plant, "FROM step.band WHERE asset = ?", name)
    assert (band["rate_low_mm_per_year"], band["rate_high_mm_per_year"]) == (0, 0)
    assert (band["remaining_life_low_years"], band["remaining_life_high_years"]) == (None, None)
    assert (band["due_earliest_on"], band["due_latest_on"]) == (after(Y20, days), after(Y20, days))
    assert band["internal_due_earliest_on"] == band["internal_due_latest_on"] == after(Y20, internal_days)


@pytest.mark.parametrize("name", ["grew, nothing required", "named, enough", "named, below"])
def test_a_band_without_a_requirement_or_of_a_named_rate_has_no_dates(
    plant: duckdb.DuckDBPyConnection, name: str
) -> None:
    band = only(plant, "FROM step.band WHERE asset = ?", name)
    for column in ("due_earliest_on", "due_latest_on", "internal_due_earliest_on", "internal_due_latest_on"):
        assert band[column] is None, column


def test_dates_with_the_last_reading_off_by_its_scatter(plant: duckdb.DuckDBPyConnection) -> None:
    """0.2 mm/year named: (11.0 -/+ 0.1 - 10)/0.2 is 4.5 and 5.5 years, half of them floor(821.8), floor(1004.4) days.
    With 15 years for the survey the caps are unlike: the growing wall has no loss, thinner or thicker.
    """
    band = only(plant, "FROM step.band WHERE asset = 'named, enough'")
    assert band["remaining_life_thinner_years"] == pytest.approx(4.5)
    assert band["remaining_life_thicker_years"] == pytest.approx(5.5)
    for which in ("due", "internal_due"):
        assert (band[f"{which}_thinner_on"], band[f"{which}_thicker_on"]) == (after(Y20, 821), after(Y20, 1004))
    assert (band["below_if_thinner"], band["below_if_thicker"]) == (False, False)
    other = only(plant, "FROM step.band WHERE asset = 'banded'")
    assert (other["due_thicker_on"], other["internal_due_thicker_on"]) == (after(Y20, 5478), after(Y20, TEN))
    below = only(plant, "FROM step.band WHERE asset = 'named, below'")
    assert (below["below_if_thinner"], below["below_if_thicker"]) == (True, False)


def test_a_hair_of_a_rate_is_none(plant: duckdb.DuckDBPyConnection) -> None:
    band = only(plant, "FROM step.band WHERE asset = 'a hair of a rate'")
    assert (band["rate_low_mm_per_year"], band["remaining_life_high_years"]) == (0, None)
    assert band["rate_high_mm_per_year"] == pytest.approx(2 * 0.2828427 / 16, abs=1e-7)


def test_the_check_of_a_new_service_and_the_ends_of_its_band(plant: duckdb.DuckDBPyConnection) -> None:
    """At the high end, 2.435 + 2 x sqrt(2) x 0.1/0.082136 = 5.8786 mm/year, 0.1 mm lasts 6 days: before the check of
    2019-11-30. At the low end there is no loss and the cap would be later than it.
    """
    band = only(plant, "FROM step.band WHERE asset = 'due before its check'")
    assert band["due_earliest_on"] == after(START, 30 + 6)
    assert band["rate_low_mm_per_year"] == 0
    assert band["due_latest_on"] == after(START, 182)
    assert band["internal_due_latest_on"] == after(after(START, 30), TEN)


# ---- due dates ------------------------------------------------------------------------------------------------------


def dates(plant: Edges) -> None:
    plant.bare("both seen", internal=LAST_SEEN, external=LAST_SEEN)
    plant.bare("never seen")
    plant.vessel("never seen, no date", falling(30), since=None, inspected=None)
    plant.vessel("nothing at all", (), since=None, inspected=None)
    plant.bare("half life of the same day", 20, internal=Y20)
    plant.bare("half life first", 6, internal=LAST_SEEN, external=LAST_SEEN)  # three years: 2022-12-31
    # 1.25 mm at 0.125 mm/year, in numbers that are whole in binary: ten years, five of interval
    plant.vessel("internal interval as the external cap", falling(10, 0.125), inspected=LAST_SEEN)
    # The same in numbers that are not: a last digit below ten years, and the same day
    plant.vessel("internal interval a digit below it", falling(10), inspected=LAST_SEEN)
    plant.bare("seen twice", internal=FIRST_SEEN, external=FIRST_SEEN)
    for kind in ("internal", "external"):
        plant.seen("seen twice", kind, LAST_SEEN)
    # 1826 days before the as-of date, and a day before that
    plant.bare("due today", internal=LAST_SEEN, external=after(AS_OF, -FIVE))
    plant.bare("due yesterday", internal=LAST_SEEN, external=after(AS_OF, -FIVE - 1))
    plant.bare("due as the turnaround ends", internal=LAST_SEEN, external=after(AFTER_ENDS, -FIVE))
    plant.bare("due a day before it ends", internal=LAST_SEEN, external=after(AFTER_ENDS, -FIVE - 1))
    for name, unknown in (("one part unknown", 1), ("two parts unknown", 2)):
        plant.bare(name, internal=LAST_SEEN, external=LAST_SEEN)
        for number in range(unknown):
            plant.part(name, f"Head {number}", ())
    for name in ("a name alone", "a name alone, on-stream"):
        plant.vessel(name, (), inspected=LAST_SEEN)
        plant.rows["parts"].pop()
    plant.vessel("two places unread", ())
    for location in ("1", "2"):
        plant.add("survey", "two places unread", "Shell", location, Y20, "no access")
    plant.vessel("device of no date", falling(30), since=None, inspected=LAST_SEEN)
    plant.add("devices", "device of no date", "PSV-1", 0.5, 5, None)
    plant.bare("overdue and unknown", internal=LAST_SEEN, external=FIRST_SEEN)
    plant.part("overdue and unknown", "Head", ())
    plant.vessel("gone", falling(30), status="retired", status_since=date(2020, 2, 1), inspected=FIRST_SEEN)
    plant.bare("two at once", 30, internal=LAST_SEEN)
    plant.part("two at once", "Head", falling(4), "N")
    plant.part("two at once", "Boot", falling(4), "B")


#: vessel, kind: due, what set it, component, state
DATES: dict[tuple[str, str], tuple[date | None, str | None, str | None, str]] = {
    ("both seen", "internal"): (after(LAST_SEEN, TEN), "cap from the last internal inspection", None, "in date"),
    ("both seen", "external"): (
        after(LAST_SEEN, FIVE),
        "cap from the last external inspection",
        None,
        "due by turnaround",
    ),
    ("both seen", "thickness"): (after(Y20, TEN), "interval from the thickness reading", "Shell", "in date"),
    ("never seen", "internal"): (
        *(after(Y04, TEN), "cap from the in-service date: no internal inspection on record", None, "overdue"),
    ),
    ("never seen", "external"): (
        *(after(Y04, FIVE), "cap from the in-service date: no external inspection on record", None, "overdue"),
    ),
    ("never seen, no date", "internal"): (
        *(after(Y20, TEN), "interval from the thickness reading", "Shell", "not assessable"),
    ),
    ("never seen, no date", "external"): (None, None, None, "not assessable"),
    ("nothing at all", "internal"): (None, None, None, "not assessable"),
    ("never read, no date", "internal"): (None, None, None, "not assessable"),
    ("a name alone", "internal"): (
        *(after(LAST_SEEN, TEN), "cap from the last internal inspection", None, "not assessable"),
    ),
    ("due as the turnaround ends", "internal"): (
        *(after(LAST_SEEN, TEN), "cap from the last internal inspection", None, "in date"),
    ),
    ("half life of the same day", "internal"): (
        *(after(Y20, TEN), "cap from the last internal inspection", None, "in date"),
    ),
    ("half life first", "internal"): (
        *(after(Y20, 1095), "interval from the thickness reading", "Shell", "due by turnaround"),
    ),
    ("half life first", "external"): (
        *(after(LAST_SEEN, 1095), "internal interval from the last external inspection", None, "due by turnaround"),
    ),
    ("internal interval as the external cap", "external"): (
        *(after(LAST_SEEN, FIVE), "cap from the last external inspection", None, "due by turnaround"),
    ),
    ("internal interval a digit below it", "external"): (
        *(after(LAST_SEEN, FIVE), "cap from the last external inspection", None, "due by turnaround"),
    ),
    ("seen twice", "internal"): (after(LAST_SEEN, TEN), "cap from the last internal inspection", None, "in date"),
    ("seen twice", "external"): (
        after(LAST_SEEN, FIVE),
        "cap from the last external inspection",
        None,
        "due by turnaround",
    ),
    ("due today", "external"): (AS_OF, "cap from the last external inspection", None, "due by turnaround"),
    ("due yesterday", "external"): (after(AS_OF, -1), "cap from the last external inspection", None, "overdue"),
    ("due as the turnaround ends", "external"): (AFTER_ENDS, "cap from the last external inspection", None, "in date"),
    ("due a day before it ends", "external"): (
        *(after(AFTER_ENDS, -1), "cap from the last external inspection", None, "due by turnaround"),
    ),
    ("two at once", "external"): (
        *(after(Y04, 730), "internal interval from the in-service date: no external inspection on record"),
        *(None, "overdue"),
    ),
    ("overdue and unknown", "external"): (
        *(after(FIRST_SEEN, FIVE), "cap from the last external inspection", None, "overdue"),
    ),
}


@pytest.mark.parametrize(("name", "kind"), DATES)
def test_a_date_and_what_set_it(plant: duckdb.DuckDBPyConnection, name: str, kind: str) -> None:
    due = due_of(plant, name, kind)
    assert (due["due_on"], due["set_by"], due["component"], due["state"]) == DATES[name, kind]
    assert due["location"] == ("1" if due["component"] else None)
    assert due["on_stream_refused"] is None


def test_where_a_date_counts_from(plant: duckdb.DuckDBPyConnection) -> None:
    for name, kind, on, interval in (
        ("both seen", "internal", LAST_SEEN, 10),
        ("both seen", "external", LAST_SEEN, 5),
        ("never seen", "internal", Y04, 10),
        ("never seen", "external", Y04, 5),
        ("half life first", "internal", LAST_SEEN, 3),
        ("half life first", "external", LAST_SEEN, 3),
        ("seen twice", "internal", LAST_SEEN, 10),
        ("a name alone", "external", LAST_SEEN, 5),
    ):
        due = due_of(plant, name, kind)
        assert due["anchor_on"] == on, (name, kind)
        if name != "a name alone":
            assert due["interval_years"] == pytest.approx(interval), (name, kind)
    assert due_of(plant, "never seen, no date", "internal")["anchor"] is None
    survey = due_of(plant, "both seen", "thickness")
    assert (survey["cap_years"], survey["cap_from"], survey["anchor_on"]) == (10, "cap", None)
    unread = due_of(plant, "never read, no date", "thickness")
    assert (unread["due_on"], unread["component"], unread["location"]) == (None, None, None)
    assert due_of(plant, "a name alone", "external")["due_on"] == after(LAST_SEEN, FIVE)


def test_what_is_missing_to_be_sure_of_a_date(plant: duckdb.DuckDBPyConnection) -> None:
    one = "the remaining life of Head 0, so the date is the latest it can be"
    two = "the remaining life of 2 components, so the date is the latest it can be"
    shell = "the remaining life of Shell, so the date is the latest it can be"
    none = "a component with a remaining life, so the date is the latest it can be"
    reading = "a thickness reading with rate and required thickness"
    for name, told in (
        ("both seen", (None, None, None)),
        ("never seen", (None, None, None)),
        ("below, no rate", (None, None, None)),
        ("two places unread", (shell, shell, shell)),
        ("one part unknown", (one, one, one)),
        ("two parts unknown", (two, two, two)),
        ("a name alone", (none, none, reading)),
        ("never seen, no date", (
            "an internal inspection or the in-service date", "an external inspection or the in-service date", None
        )),
    ):  # fmt: skip
        found = tuple(due_of(plant, name, kind)["due_missing"] for kind in ("internal", "external", "thickness"))
        assert found == told, name


def test_the_place_that_sets_a_date(plant: duckdb.DuckDBPyConnection) -> None:
    """Head and boot are both due two years after the reading: the first by name, whatever the order of rows."""
    for kind in ("internal", "thickness"):
        due = due_of(plant, "two at once", kind)
        assert (due["due_on"], due["component"], due["location"]) == (after(Y20, 730), "Boot", "B"), kind


def test_a_device_of_no_date_sets_none(plant: duckdb.DuckDBPyConnection) -> None:
    due = due_of(plant, "device of no date", "relief device")
    assert (due["due_on"], due["device"], due["anchor_on"], due["state"]) == (None, None, None, "not assessable")
    assert "PSV-1" in due["due_missing"]


def test_of_what_is_retired_nothing_is_due(plant: duckdb.DuckDBPyConnection) -> None:
    assert rows(plant, "SELECT * FROM result.due_date WHERE asset = 'gone'") == []


# ---- on-stream inspections ------------------------------------------------------------------------------------------


def on_stream(plant: Edges) -> None:
    seen = date(2018, 1, 1)
    for name, life, rate, word in (
        ("in its place", 30, 0.1, "yes"),
        ("said no", 30, 0.1, "no"),
        ("nothing said", 30, 0.1, None),
        ("too quick", 30, 0.125, "yes"),
        ("ten years left", 10, 0.0625, "yes"),  # 0.625 mm at 0.0625 mm/year: whole in binary
        ("a place unknown", 30, 0.1, "yes"),
        ("a part unknown", 30, 0.1, "yes"),
    ):
        plant.vessel(name, falling(life, rate), inspected=None)
        plant.seen(name, "internal", FIRST_SEEN)
        plant.on_stream.append((name, "on-stream", seen, "sound", word))
    plant.place("a place unknown", "Shell", (), "2")
    plant.add("survey", "a place unknown", "Shell", "2", Y20, "no access")
    plant.part("a part unknown", "Head", ())
    for name, points in (
        ("one place quick", falling(30, 0.2)),
        ("one place of eight years", falling(8)),
        ("one place below, no loss", ((Y12, 9.9), (Y20, 9.9))),
    ):
        plant.bare(name, internal=FIRST_SEEN)
        plant.place(name, "Shell", points, "2")
        plant.on_stream.append((name, "on-stream", seen, "sound", "yes"))
    for name, thickness in (("no loss in its place", 11.0), ("no loss, below, in its place", 9.9)):
        plant.vessel(name, ((Y12, thickness), (Y20, thickness)), inspected=None)
        plant.on_stream.append((name, "on-stream", seen, "sound", "yes"))
    for name, day in (
        ("refused on the day", seen),
        ("refused before", after(seen, 1)),
        ("refused after", after(seen, -1)),
    ):
        plant.bare(name, internal=day)
        plant.on_stream.append((name, "on-stream", seen, "sound", "no"))
    plant.bare("refused, never seen inside")
    plant.on_stream.append(("refused, never seen inside", "on-stream", seen, "sound", "no"))
    plant.bare("one counts, a later one not", internal=FIRST_SEEN)
    plant.on_stream.append(("one counts, a later one not", "on-stream", seen, "sound", "yes"))
    plant.on_stream.append(("one counts, a later one not", "on-stream", LAST_SEEN, "sound", "no"))
    plant.bare("two refused", internal=FIRST_SEEN)
    plant.on_stream.append(("two refused", "on-stream", LAST_SEEN, "sound", None))
    plant.on_stream.append(("two refused", "on-stream", seen, "sound", "no"))
    plant.on_stream.append(("a name alone, on-stream", "on-stream", Y20, "sound", "yes"))
    plant.bare("seen inside since", internal=LAST_SEEN)
    plant.on_stream.append(("seen inside since", "on-stream", seen, "sound", "yes"))


SEEN = date(2018, 1, 1)
_NOT = "on-stream inspection of {} does not stand for an internal one: {}"

#: vessel: the day the internal date counts from, and why an on-stream inspection does not count
STREAM: dict[str, tuple[date, str | None]] = {
    "in its place": (SEEN, None),
    "no loss in its place": (SEEN, None),
    "said no": (FIRST_SEEN, _NOT.format(SEEN, "the register says it does not")),
    "nothing said": (FIRST_SEEN, _NOT.format(SEEN, "its conditions are not on record")),
    "too quick": (FIRST_SEEN, _NOT.format(SEEN, "a rate is not below 0.005 in/year (0.125 mm/year)")),
    "ten years left": (FIRST_SEEN, _NOT.format(SEEN, "a remaining life is not above 10 years")),
    "a place unknown": (FIRST_SEEN, _NOT.format(SEEN, "not every place has a rate and a life")),
    "a part unknown": (FIRST_SEEN, _NOT.format(SEEN, "not every place has a rate and a life")),
    "one place quick": (FIRST_SEEN, _NOT.format(SEEN, "a rate is not below 0.005 in/year (0.125 mm/year)")),
    "one place of eight years": (FIRST_SEEN, _NOT.format(SEEN, "a remaining life is not above 10 years")),
    "one place below, no loss": (FIRST_SEEN, _NOT.format(SEEN, "not every place has a rate and a life")),
    "no loss, below, in its place": (Y04, _NOT.format(SEEN, "not every place has a rate and a life")),
    "refused on the day": (SEEN, None),
    "refused before": (after(SEEN, 1), None),
    "refused after": (after(SEEN, -1), _NOT.format(SEEN, "the register says it does not")),
    "refused, never seen inside": (Y04, _NOT.format(SEEN, "the register says it does not")),
    "one counts, a later one not": (SEEN, _NOT.format(LAST_SEEN, "the register says it does not")),
    "two refused": (FIRST_SEEN, _NOT.format(LAST_SEEN, "its conditions are not on record")),
    "seen inside since": (LAST_SEEN, None),
    "a name alone, on-stream": (LAST_SEEN, _NOT.format(Y20, "not every place has a rate and a life")),
}


@pytest.mark.parametrize("name", STREAM)
def test_when_an_on_stream_inspection_counts(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    due = due_of(plant, name, "internal")
    assert (due["anchor_on"], due["on_stream_refused"]) == STREAM[name]
    kind = (
        "on-stream" if name in ("in its place", "no loss in its place", "one counts, a later one not") else "internal"
    )
    never = "in-service date: no internal inspection on record"
    assert due["anchor"] == (never if STREAM[name][0] == Y04 else f"last {kind} inspection")


# ---- deferrals ------------------------------------------------------------------------------------------------------

DUE, UNTIL = date(2020, 5, 1), date(2020, 12, 1)
ANCHOR = after(DUE, -FIVE)
IN_TIME = date(2020, 4, 1)
WHY = "scaffold shared"

#: vessel: deferrals of its external date, due 2020-05-01; then who moved it until when, and what is said of a refusal
MOVED: dict[str, tuple[list[tuple], tuple[date | None, str | None, str | None]]] = {
    "approved the day it counts from": ([("external", DUE, UNTIL, WHY, KEEL, ANCHOR)], (UNTIL, KEEL, None)),
    "approved the day before that": (
        [("external", DUE, UNTIL, WHY, KEEL, after(ANCHOR, -1))],
        (None, None, f"it was approved on {after(ANCHOR, -1)} for an earlier due date"),
    ),
    "approved on the due date": (
        [("external", DUE, UNTIL, WHY, KEEL, DUE)],
        (None, None, f"approved on {DUE}, not before the due date {DUE}"),
    ),
    "approved the day before it": ([("external", DUE, UNTIL, WHY, KEEL, after(DUE, -1))], (UNTIL, KEEL, None)),
    "until the due date": ([("external", DUE, DUE, WHY, KEEL, IN_TIME)], (None, None, None)),
    "until today": ([("external", DUE, AS_OF, WHY, KEEL, IN_TIME)], (AS_OF, KEEL, None)),
    "until yesterday": (
        [("external", DUE, after(AS_OF, -1), WHY, KEEL, IN_TIME)],
        (None, None, f"it ran out on {after(AS_OF, -1)}"),
    ),
    "by nobody": ([("external", DUE, UNTIL, WHY, None, IN_TIME)], (None, None, "no approver or date of approval")),
    "on no day": ([("external", DUE, UNTIL, WHY, KEEL, None)], (None, None, "no approver or date of approval")),
    "for no reason": ([("external", DUE, UNTIL, None, KEEL, IN_TIME)], (None, None, "no reason")),
    "of another kind": ([("internal", DUE, UNTIL, WHY, KEEL, IN_TIME)], (None, None, None)),
    "one refused later than one that counts": (
        [("external", DUE, UNTIL, WHY, KEEL, IN_TIME), ("external", DUE, UNTIL, None, "A. Other", after(IN_TIME, 5))],
        (UNTIL, KEEL, None),
    ),
    "two, the later approved": (
        [
            ("external", DUE, UNTIL, WHY, "A. Other", after(IN_TIME, 5)),
            ("external", DUE, date(2020, 9, 1), WHY, KEEL, IN_TIME),
        ],
        (UNTIL, "A. Other", None),
    ),
    "two of one day, the later row": (
        [("external", DUE, date(2020, 9, 1), WHY, KEEL, IN_TIME), ("external", DUE, UNTIL, WHY, "A. Other", IN_TIME)],
        (UNTIL, "A. Other", None),
    ),
    "two refused, the later approved is told": (
        [("external", DUE, UNTIL, None, KEEL, IN_TIME), ("external", DUE, UNTIL, WHY, KEEL, None)],
        (None, None, "no reason"),
    ),
}


def deferrals(plant: Edges) -> None:
    for name, (stated, _) in MOVED.items():
        plant.bare(f"moved, {name}", internal=LAST_SEEN, external=ANCHOR)
        for row in stated:
            plant.add("deferrals", f"moved, {name}", *row)
    plant.add("deferrals", None, "external", DUE, UNTIL, WHY, KEEL, IN_TIME)
    # Half life 0.5 years: internal and survey due 182 days after the reading, on 2020-07-01.
    due = after(Y20, 182)
    for name, kind, approved in (
        ("half life moved", "internal", Y20),
        ("half life moved before the reading", "internal", after(Y20, -1)),
        ("on-stream moved", "on-stream", Y20),
        ("survey moved", "thickness", Y20),
    ):
        plant.bare(name, 0.5, internal=date(2019, 6, 1))
        plant.add("deferrals", name, kind, due, date(2021, 9, 1), WHY, KEEL, approved)
    # Another part has a place of the same name, and the part another place, both read in 2016: not what set the date.
    plant.bare("half life moved, not by its own reading", 0.5, internal=date(2019, 6, 1))
    older = tuple((after(day, -1461), thickness) for day, thickness in falling(30))
    plant.part("half life moved, not by its own reading", "Head", older)
    plant.place("half life moved, not by its own reading", "Shell", older, "2")
    plant.add(
        *("deferrals", "half life moved, not by its own reading", "internal", due),
        *(date(2021, 9, 1), WHY, KEEL, date(2019, 12, 1)),
    )
    plant.bare("moved before it is due", internal=LAST_SEEN, external=after(NEXT_ENDS, -FIVE))
    plant.add("deferrals", "moved before it is due", "external", NEXT_ENDS, date(2022, 1, 1), WHY, KEEL, IN_TIME)
    plant.bare("moved, not needed", internal=LAST_SEEN, external=after(date(2025, 6, 1), -FIVE))
    plant.add("deferrals", "moved, not needed", "external", date(2025, 6, 1), date(2026, 1, 1), WHY, KEEL, AS_OF)
    plant.bare("moved, due as the turnaround ends", internal=LAST_SEEN, external=after(AFTER_ENDS, -FIVE))
    until = date(2026, 1, 1)
    plant.add("deferrals", "moved, due as the turnaround ends", "external", AFTER_ENDS, until, WHY, KEEL, AS_OF)
    plant.bare("moved, and a part unknown", internal=LAST_SEEN, external=ANCHOR)
    plant.part("moved, and a part unknown", "Head", ())
    plant.add("deferrals", "moved, and a part unknown", "external", DUE, UNTIL, WHY, KEEL, IN_TIME)


@pytest.mark.parametrize("name", MOVED)
def test_which_deferral_moves_a_date(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    due = due_of(plant, f"moved, {name}", "external")
    until, by, refused = MOVED[name][1]
    assert (due["deferred_until"], due["deferral_approved_by"], due["deferral_refused"]) == (until, by, refused)
    assert due["due_on"] == DUE
    assert due["state"] == ("overdue" if until is None else "deferred until")
    if until is None:
        assert (due["deferral_approved_on"], due["deferral_reason"]) == (None, None)
    else:
        stated = next(row for row in MOVED[name][0] if row[2] == until and row[4] == by)
        assert (due["deferral_approved_on"], due["deferral_reason"]) == (stated[5], WHY)


def test_a_date_a_reading_sets_counts_from_the_reading(plant: duckdb.DuckDBPyConnection) -> None:
    """Approved on the day of the reading it moves what the reading asks for; before, it moved an earlier date."""
    until = date(2021, 9, 1)
    for name, kind in (("half life moved", "internal"), ("on-stream moved", "internal"), ("survey moved", "thickness")):
        due = due_of(plant, name, kind)
        assert (due["due_on"], due["deferred_until"], due["state"]) == (after(Y20, 182), until, "deferred until"), name
    for name, day in (("before the reading", "2019-12-31"), (", not by its own reading", "2019-12-01")):
        due = due_of(plant, f"half life moved{name if name[0] == ',' else ' ' + name}", "internal")
        assert (due["due_on"], due["deferred_until"], due["state"]) == (after(Y20, 182), None, "due by turnaround")
        assert due["deferral_refused"] == f"it was approved on {day} for an earlier due date"


def test_the_state_of_a_date_that_is_moved(plant: duckdb.DuckDBPyConnection) -> None:
    early = due_of(plant, "moved before it is due", "external")
    assert (early["due_on"], early["state"], early["deferred_until"]) == (NEXT_ENDS, "deferred until", date(2022, 1, 1))
    later = due_of(plant, "moved, not needed", "external")
    assert (later["state"], later["deferred_until"]) == ("in date", date(2026, 1, 1))
    there = due_of(plant, "moved, due as the turnaround ends", "external")
    assert (there["state"], there["deferred_until"]) == ("in date", date(2026, 1, 1))
    unsure = due_of(plant, "moved, and a part unknown", "external")
    assert (unsure["state"], unsure["deferred_until"]) == ("not assessable", UNTIL)


def test_without_a_turnaround_nothing_is_due_by_one(tmp_path: Path) -> None:
    """Due today and moved: neither overdue yet nor needed for a turnaround, so it is in date."""
    alone = Edges()
    alone.bare("due today, moved", internal=LAST_SEEN, external=after(AS_OF, -FIVE))
    alone.add("deferrals", "due today, moved", "external", AS_OF, UNTIL, WHY, KEEL, after(AS_OF, -1))
    alone.bare("due yesterday, moved", internal=LAST_SEEN, external=after(AS_OF, -FIVE - 1))
    alone.add("deferrals", "due yesterday, moved", "external", after(AS_OF, -1), UNTIL, WHY, KEEL, after(AS_OF, -2))
    with opened(alone.write(tmp_path / "plant")) as connection:
        horizon = only(connection, "FROM step.horizon")
        assert set(horizon.values()) == {None}
        found = {name: due_of(connection, f"due {name}, moved", "external") for name in ("today", "yesterday")}
    assert {name: row["state"] for name, row in found.items()} == {"today": "in date", "yesterday": "deferred until"}
    assert {row["deferred_until"] for row in found.values()} == {UNTIL}


def test_the_deferrals_on_record_are_those_of_the_sheet(plant: duckdb.DuckDBPyConnection) -> None:
    found = rows(
        plant, "SELECT * EXCLUDE (record) FROM step.deferral WHERE starts_with(asset, 'moved, ') ORDER BY record"
    )
    written = [(f"moved, {name}", *row) for name, (stated, _) in MOVED.items() for row in stated]
    assert [tuple(row.values()) for row in found][: len(written)] == [
        (*row, "plant.xlsx", "deferrals", f"D{line}") for line, row in enumerate(written, start=2)
    ]
    assert rows(plant, "SELECT * FROM step.deferral WHERE asset IS NULL OR kind NOT IN ('internal', 'external', "
                "'thickness', 'on-stream')") == []  # fmt: skip


# ---- places and components ------------------------------------------------------------------------------------------


def places(plant: Edges) -> None:
    # 182 days of interval: due 152 days after 2020-01-01 is the as-of date
    for name, days in (("place due today", 152), ("place due yesterday", 151)):
        life = (days + 0.5) / 365.25  # under two years: the whole of it
        plant.bare(name, life, internal=LAST_SEEN, external=LAST_SEEN)
    # Half of 10.498 years are 1917 days: the very day the second turnaround ends
    plant.bare("place due as the turnaround ends", 10.498)
    plant.vessel("place unread for two years", (), since=date(2018, 1, 1))
    plant.add("survey", "place unread for two years", "Shell", "1", Y20, "no access")
    plant.place("place unread for two years", "Shell", ((date(2019, 1, 1), 15.9),), "2")
    plant.vessel("two places", falling(30))
    plant.place("two places", "Shell", falling(8), "2")
    plant.place("two places", "Shell", falling(20), "3")
    plant.vessel("one below", falling(1))
    plant.place("one below", "Shell", ((Y12, 9.9), (Y20, 9.9)), "2")
    plant.vessel("of one life", falling(8))
    plant.place("of one life", "Shell", falling(16, 0.05), "0")  # eight years of 0.1 and sixteen of 0.05: 0.8 mm spare
    plant.vessel("no life, smaller margin", ((Y12, 12.0), (Y20, 12.0)))
    plant.place("no life, smaller margin", "Shell", ((Y12, 11.0), (Y20, 11.0)), "2")
    plant.vessel("a life before none", falling(8))
    plant.place("a life before none", "Shell", ((Y12, 10.5), (Y20, 10.5)), "0")
    # S = 138, Ro = 1020: 1.5 MPa need 11.039 mm. One place loses 0.1 mm/year, the thinner one nothing.
    for name in ("two pressures", "two pressures, one unread"):
        plant.vessel(name, ((Y12, 11.7), (Y20, 10.9)), D=2000, P=1.5, S=138, nominal=20.0, structural=None)
        plant.place(name, "Shell", ((Y12, 10.5), (Y20, 10.5)), "2")
    plant.add("survey", "two pressures, one unread", "Shell", "3", Y20, "no access")
    plant.vessel("one unread", falling(30))
    plant.add("survey", "one unread", "Shell", "0", Y20, "no access")
    plant.vessel("one held", falling(30))
    plant.place("one held", "Shell", ((Y12, 13.8), (Y20, 13.0), (date(2020, 3, 1), 14.9)), "2")
    plant.vessel("no place, no stress", (), S=None, structural=None)
    plant.vessel("no place", ())
    plant.part("no place", "Head", falling(30))


def test_a_place_is_overdue_the_day_after(plant: duckdb.DuckDBPyConnection) -> None:
    assert (place_of(plant, "place due today")["due_on"], place_of(plant, "place due today")["state"]) == (
        AS_OF,
        "due by turnaround",
    )
    assert place_of(plant, "place due yesterday")["state"] == "overdue"
    ends = place_of(plant, "place due as the turnaround ends")
    assert (ends["due_on"], ends["state"]) == (AFTER_ENDS, "in date")
    later = place_of(plant, "both seen")
    assert (later["due_on"], later["state"]) == (after(Y20, TEN), "in date") and later["retirement_on"] > AFTER_ENDS


def test_a_place_unread_and_not_yet_overdue_is_not_assessable(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "place unread for two years")
    assert (place["due_on"], place["state"]) == (after(date(2018, 1, 1), TEN), "not assessable")


def component_of(connection: duckdb.DuckDBPyConnection, asset: str, component: str = "Shell") -> Row:
    return only(connection, "FROM step.component_state WHERE asset = ? AND component = ?", asset, component)


def test_the_place_that_governs_a_component(plant: duckdb.DuckDBPyConnection) -> None:
    """Below required first, whatever its life; then the shortest life; then the smaller margin; then the name."""
    governs = {
        "two places": ("2", 10.8, 8),
        "one below": ("2", 9.9, None),
        "of one life": ("1", 10.8, 8),
        "no life, smaller margin": ("2", 11.0, None),
        "one unread": ("1", 13.0, 30),
        "a life before none": ("1", 10.8, 8),
    }
    for name, (location, thickness, life) in governs.items():
        row = component_of(plant, name)
        assert (row["location"], row["t_act_mm"]) == (location, thickness), name
        assert row["remaining_life_years"] == (None if life is None else pytest.approx(life)), name
        assert row["read_on"] == Y20 and row["t_req_mm"] == 10
        assert row["margin"] == pytest.approx((thickness - 10) / 10)
    assert component_of(plant, "one below")["no_measurable_loss"]
    assert not component_of(plant, "two places")["no_measurable_loss"]


def test_what_the_places_of_a_component_say_together(plant: duckdb.DuckDBPyConnection) -> None:
    """Earliest dates and shortest interval of lives of 30, 8 and 20 years: 4 years, 1461 days; 8 years, 2922 days."""
    row = component_of(plant, "two places")
    assert (row["places"], row["places_never_read"], row["held_readings"]) == (3, 0, 0)
    assert row["weld_distance_places"] == 0
    assert component_of(plant, "two places unread")["missing"] == "a thickness reading"
    assert row["interval_years"] == pytest.approx(4)
    assert (row["due_on"], row["retirement_on"]) == (after(Y20, 1461), after(Y20, 2922))
    assert row["state"] == "due by turnaround"
    unread = component_of(plant, "one unread")
    assert (unread["places"], unread["places_never_read"]) == (2, 1)
    assert (unread["state"], unread["missing"]) == ("overdue", "a thickness reading")
    assert component_of(plant, "one held")["held_readings"] == 1
    assert component_of(plant, "two places")["missing"] is None
    assert component_of(plant, "one below")["state"] == "below required"


def test_the_lowest_pressure_of_a_component_s_places(plant: duckdb.DuckDBPyConnection) -> None:
    """S E t/(Ro - 0.4 t). Both are below required, so the next inspection is now. On 2021-03-01, 425 days after the
    reading, twice 0.1 mm/year leaves 10.6673 mm of the first, more than the second's 10.5; on 2025-03-01, after 1886
    days, 9.8673 mm. With a place unread nobody knows the lowest.
    """

    def bears(thickness: float) -> float:
        return 138 * thickness / (1020 - 0.4 * thickness)

    row = component_of(plant, "two pressures")
    assert row["mawp_mpa"] == pytest.approx(bears(10.5), rel=1e-9)
    assert row["mawp_next_mpa"] == pytest.approx(bears(10.5), rel=1e-9)
    assert row["mawp_turnaround_mpa"] == pytest.approx(bears(10.5), rel=1e-9)
    assert row["mawp_after_mpa"] == pytest.approx(bears(10.9 - 0.2 * 1886 / 365.25), rel=1e-9)
    unread = component_of(plant, "two pressures, one unread")
    for column in ("mawp_mpa", "mawp_next_mpa", "mawp_turnaround_mpa", "mawp_after_mpa"):
        assert unread[column] is None, column


def test_a_component_without_a_place(plant: duckdb.DuckDBPyConnection) -> None:
    bare, more = component_of(plant, "no place"), component_of(plant, "no place, no stress")
    for row in (bare, more):
        assert (row["state"], row["places"], row["places_never_read"], row["location"]) == (
            "not assessable",
            0,
            0,
            None,
        )
        assert (row["weld_distance_places"], row["no_measurable_loss"], row["mawp_mpa"]) == (0, False, None)
    assert bare["missing"] == "a thickness location and a reading"
    assert more["missing"] == "a thickness location and a reading, allowable stress"


# ---- what would govern next -----------------------------------------------------------------------------------------


def following(plant: Edges) -> None:
    plant.vessel("one place alone", falling(6), inspected=None, since=None)
    plant.bare("one place and a cap", 6, internal=date(2016, 1, 1))
    plant.bare("three places", 6, internal=LAST_SEEN)
    plant.place("three places", "Shell", falling(10), "2")
    plant.place("three places", "Shell", falling(8), "3")
    plant.vessel("one dated, one not", falling(6), inspected=None, since=None)
    plant.part("one dated, one not", "Head", ((Y20, 11.0),), "2", nominal=None)
    plant.bare("cap before the second", 6, internal=date(2014, 1, 1))
    plant.place("cap before the second", "Shell", falling(20), "2")
    # The cap falls on the day of the second place: 2014-12-31 + 3652 days = 2024-12-30 = reading + 1825 days
    plant.bare("cap of the second's day", 6, internal=after(after(Y20, 1461), -TEN))
    plant.place("cap of the second's day", "Shell", falling(8), "2")


def test_what_would_govern_without_the_place_that_does(plant: duckdb.DuckDBPyConnection) -> None:
    columns = "kind, location, due_on, next_component, next_location, next_due_on"
    sql = f"SELECT {columns} FROM result.next_due WHERE asset = ? ORDER BY kind"

    def told(name: str) -> list[tuple]:
        return [tuple(row.values()) for row in rows(plant, sql, name)]

    third, fourth = after(Y20, 1095), after(Y20, 1461)
    assert told("one place alone") == [
        ("internal", "1", third, None, None, None),
        ("thickness", "1", third, None, None, None),
    ]
    assert told("one place and a cap") == [
        ("internal", "1", third, None, None, after(date(2016, 1, 1), TEN)),
        ("thickness", "1", third, None, None, None),
    ]
    assert told("three places") == [
        ("internal", "1", third, "Shell", "3", fourth),
        ("thickness", "1", third, "Shell", "3", fourth),
    ]
    assert told("cap of the second's day") == [
        ("internal", "1", third, None, None, fourth),
        ("thickness", "1", third, "Shell", "2", fourth),
    ]
    assert told("cap before the second") == [
        ("internal", "1", third, None, None, after(date(2014, 1, 1), TEN)),
        ("thickness", "1", third, "Shell", "2", after(Y20, TEN)),
    ]
    assert told("one dated, one not") == told("one place alone")
    # The cap sets the internal date: no place is in question there.
    assert [row[0] for row in told("both seen")] == ["thickness"]


# ---- recommendations ------------------------------------------------------------------------------------------------

RAISED = date(2019, 3, 1)

#: asset, component, words, raised, due, closed, evidence
ADVICE: list[tuple] = [
    ("advised", None, "Scan the boot", RAISED, date(2021, 3, 1), None, None),
    ("advised", None, "scan the boot", RAISED, date(2022, 3, 1), None, "report 1"),
    ("advised", "Shell", "scan the boot", RAISED, date(2023, 3, 1), date(2020, 7, 1), None),
    ("advised", None, "scan the boot", date(2019, 4, 1), date(2024, 3, 1), AS_OF, "report 2"),
    ("advised", None, "replace the gasket", RAISED, None, date(2020, 3, 1), "report 3"),
    ("advised", None, "replace the gasket", RAISED, None, date(2020, 2, 1), "report 4"),
    ("advised", None, None, None, date(2025, 3, 1), None, None),
    ("advised", None, "SCAN THE BOOT", RAISED, None, None, None),
    ("advised twice of a day", None, "second", RAISED, date(2022, 3, 1), None, None),
    ("advised twice of a day", "Shell", "first", RAISED, date(2022, 3, 1), None, None),
    ("advised without dates", None, "c, undated", RAISED, None, None, None),
    ("advised without dates", None, "b, undated", RAISED, None, None, None),
    ("advised without dates", "Shell", "a, dated", RAISED, date(2026, 3, 1), None, None),
    ("advised, no date at all", None, "scan the boot", RAISED, None, None, None),
    ("advised in part", None, "words alone", None, None, None, None),
    ("advised in part", None, None, RAISED, None, None, None),
    ("advised in part", "Shell", None, None, None, date(2020, 2, 1), None),
    ("advised in part", "Head", None, None, None, None, "report 5"),
    ("advised in part", "Boot", None, None, None, None, None),
    ("advised and entered", None, "scan the boot", RAISED, date(2021, 3, 1), None, None),
]
#: What a person enters about the last of them: twice another date, then what shows that it was done.
ENTERED_ABOUT = {"asset": "advised and entered", "recommendation": "scan the boot", "raised on": RAISED.isoformat()}
ENTERED: list[dict[str, str]] = [{"due": "2023-01-01"}, {"due": "2022-06-01"}, {"evidence": "report 6"}]


def recommendations(plant: Edges) -> None:
    for name in dict.fromkeys(row[0] for row in ADVICE):
        plant.bare(name, internal=LAST_SEEN, external=LAST_SEEN)
    for row in ADVICE:
        plant.add("advice", *row)


def test_the_recommendations_on_record(plant: duckdb.DuckDBPyConnection) -> None:
    """Twice the same words on the same day are one: the first row's words and cell, the earlier date, the last
    evidence. What is closed after the as-of date is not closed on it.
    """
    found = rows(plant, "SELECT * EXCLUDE (record) FROM step.recommendation WHERE asset = 'advised' ORDER BY record")
    cell = ("plant.xlsx", "advice")
    assert [tuple(row.values()) for row in found] == [
        ("advised", None, "Scan the boot", RAISED, date(2021, 3, 1), None, "report 1", True, *cell, "C2"),
        ("advised", "Shell", "scan the boot", RAISED, date(2023, 3, 1), None, None, True, *cell, "C4"),
        ("advised", None, "scan the boot", date(2019, 4, 1), date(2024, 3, 1), AS_OF, "report 2", False, *cell, "C5"),
        ("advised", None, "replace the gasket", RAISED, None, date(2020, 2, 1), "report 4", False, *cell, "C6"),
        ("advised", None, "(no words)", None, date(2025, 3, 1), None, None, True, *cell, "A8"),
    ]


def test_what_counts_as_a_recommendation(plant: duckdb.DuckDBPyConnection) -> None:
    """Any of its cells but the component's alone; and no row of another sheet, though that has a due date too."""
    assert {row["asset"] for row in rows(plant, "FROM step.recommendation")} == {row[0] for row in ADVICE}
    found = rows(
        plant,
        "SELECT component, recommendation, raised_on, closed_on, evidence, is_open FROM step.recommendation "
        "WHERE asset = 'advised in part' ORDER BY record",
    )
    assert [tuple(row.values()) for row in found] == [
        (None, "words alone", None, None, None, True),
        (None, "(no words)", RAISED, None, None, True),
        ("Shell", "(no words)", None, date(2020, 2, 1), None, False),
        ("Head", "(no words)", None, None, "report 5", True),
    ]


def test_what_a_person_entered_stands(plant: duckdb.DuckDBPyConnection) -> None:
    """The last date entered, though it is later than the sheet's; where it stands first is the sheet."""
    row = only(plant, "FROM step.recommendation WHERE asset = 'advised and entered'")
    assert (row["due_on"], row["evidence"], row["is_open"]) == (date(2022, 6, 1), "report 6", True)
    assert (row["file"], row["sheet"]) == ("plant.xlsx", "advice")


def test_the_recommendation_that_is_due(plant: duckdb.DuckDBPyConnection) -> None:
    due = due_of(plant, "advised", "recommendation")
    assert (due["due_on"], due["device"], due["anchor_on"]) == (date(2021, 3, 1), '"Scan the boot"', RAISED)
    assert (due["anchor"], due["set_by"]) == ("recommendation of 2019-03-01", "date set with it")
    assert (due["component"], due["due_missing"], due["state"]) == (None, None, "due by turnaround")
    first = due_of(plant, "advised twice of a day", "recommendation")
    assert first["device"] == '"second"'  # the row that stands first
    undated = due_of(plant, "advised without dates", "recommendation")
    assert (undated["due_on"], undated["device"], undated["state"]) == (
        date(2026, 3, 1),
        '"a, dated"',
        "not assessable",
    )
    assert undated["due_missing"] == 'a due date for the recommendation "b, undated"'
    assert asset_of(plant, "advised without dates")["recommendation_due_on"] == date(2026, 3, 1)
    none = due_of(plant, "advised, no date at all", "recommendation")
    assert (none["due_on"], none["device"], none["anchor_on"], none["state"]) == (None, None, None, "not assessable")
