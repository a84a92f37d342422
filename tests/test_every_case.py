"""Rules of the basis in cases that are thought of last: several devices, short histories, a wall after its service.

As of 2020-06-01. Vessels are those of `tests.vessels`: 10 mm required, 16 mm nominal, in service since 2004-01-01.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import duckdb
import pytest

from pipeline.reading import held_in_words
from tests.plants import write_plant
from tests.vessels import (
    AS_OF,
    HEADINGS,
    Y04,
    Y08,
    Y12,
    Y16,
    Y20,
    Plant,
    Row,
    after,
    asset_of,
    due_of,
    opened,
    place_of,
)

BY, WHY, UNTIL = "K. Keel", "no spare", date(2021, 12, 1)
INTERVALS = ("Asset", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on")
ON_STREAM = ("Asset", "Kind", "Date", "Result", "In place of internal")
REGIONS = ("Asset", "Component", "Location", "Distance to weld (mm)", "Weld region")
HEADS = (
    *("Asset", "Component", "Kind", "Nominal thickness (mm)", "Allowable stress (MPa)", "Joint efficiency"),
    *("Inside diameter (mm)", "Crown radius (mm)", "Knuckle radius (mm)"),
)
ZONES = ("Asset", "Component", "Location", "Head zone")
#: Crown and knuckle radius, mm, of heads of 1032 mm outside diameter; 6 % of 1000 is 60.
DISHED = {
    "dished within UG-32": (1000, 60),
    "dished, crown too flat": (1100, 100),
    "dished, knuckle too sharp": (1000, 50),
}
AREAS = ("Asset", "Component", "Area", "Date", "Axial (mm)", "Circ (mm)", "Thickness (mm)")
#: Loses 0.1 mm a year and has decades left.
SOUND = ((Y12, 14.0), (Y20, 13.2))
TEN, FIVE, CHECK = 3652, 1826, 182
CHANGED = date(2020, 1, 1)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Plant()
    devices(plant)
    short_histories(plant)
    kept_walls(plant)
    unknown_rates(plant)
    for name in DISHED:
        plant.vessel(name, SOUND)
        plant.place(name, "Head", SOUND, "1")
    sheets = {name: [HEADINGS[name], *held] for name, held in plant.rows.items() if held}
    on_stream = [
        (name, "on-stream", date(2018, 1, 1), "sound", "yes")
        for name in ("on-stream", "on-stream, service unknown", "on-stream, a thin area")
    ]
    areas = [("on-stream, a thin area", "Shell", "A1", Y20, 50 * step, 100, 10.15) for step in range(5)]
    folder = write_plant(
        tmp_path_factory.mktemp("every case") / "plant",
        **sheets,
        intervals=[INTERVALS, ("life unknown", "internal", 2, None, None, None)],
        **{"on stream": [ON_STREAM, *on_stream]},
        areas=[AREAS, *areas],
        **{"more places": [REGIONS, ("on-stream", "Shell", "1", "~300", "away")]},
        heads=[
            HEADS,
            *((name, "Head", "torispherical head", 16, 138, 1.0, 1000, *radii) for name, radii in DISHED.items()),
        ],
        zones=[ZONES, *((name, "Head", "1", "crown") for name in DISHED)],
    )
    with opened(folder, AS_OF) as connection:
        yield connection


# ---- a deferral moves the date it was made for ----------------------------------------------------------------------


def devices(plant: Plant) -> None:
    """Five years are 1826 days: tested on 2015-03-01 due on 2020-02-29, on 2015-05-01 due on 2020-04-30."""
    first, second = date(2015, 3, 1), date(2015, 5, 1)
    moved = ("relief device", date(2020, 2, 29), UNTIL, WHY, BY, date(2020, 1, 10))
    for name, tested, deferrals in (
        ("one of two deferred", (first, second), (moved,)),
        ("the deferred one tested", (date(2020, 3, 1), second), (moved,)),
        ("both deferred", (first, second), (moved, (moved[0], date(2020, 4, 30), date(2021, 6, 1), *moved[3:]))),
        ("which is not said", (first, second), ((moved[0], None, *moved[2:]),)),
        ("the only one", (first,), ((moved[0], None, *moved[2:]),)),
    ):
        plant.vessel(name, SOUND)
        for device, day in zip(("PSV-A", "PSV-B"), tested, strict=False):
            plant.add("devices", name, device, 0.5, 5, day)
        for row in deferrals:
            plant.add("deferrals", name, *row)
    plant.vessel("one of two recommendations", SOUND)
    for words, due in (("Weld repair", date(2020, 3, 1)), ("Replace supports", date(2020, 4, 1))):
        plant.add("advice", "one of two recommendations", "Shell", words, date(2019, 1, 1), due, None, None)
    deferral = ("recommendation", date(2020, 3, 1), UNTIL, WHY, BY, date(2020, 1, 10))
    plant.add("deferrals", "one of two recommendations", *deferral)
    # Read on 2020-05-10 the wall has 10.2 - 10 = 0.2 mm left at 4.5/(129/365.25) = 12.7 mm/year: due at once, so that
    # the external date, 2023-12-31 when it was deferred, is much earlier.
    plant.vessel("pulled in by a reading", ((Y12, 14.8), (Y20, 14.7), (date(2020, 5, 10), 10.2)))
    deferral = ("external", date(2023, 12, 31), date(2024, 12, 1), WHY, BY, date(2019, 4, 1))
    plant.add("deferrals", "pulled in by a reading", *deferral)


@pytest.mark.parametrize(
    ("name", "kind", "what", "due_on", "until"),
    [
        ("one of two deferred", "relief device", "PSV-B", date(2020, 4, 30), None),
        ("the deferred one tested", "relief device", "PSV-B", date(2020, 4, 30), None),
        ("both deferred", "relief device", "PSV-B", date(2020, 4, 30), date(2021, 6, 1)),
        ("which is not said", "relief device", "PSV-A", date(2020, 2, 29), None),
        ("the only one", "relief device", "PSV-A", date(2020, 2, 29), UNTIL),
        ("one of two recommendations", "recommendation", '"Replace supports"', date(2020, 4, 1), None),
    ],
)
def test_a_deferral_covers_no_other_device_or_recommendation(
    plant: duckdb.DuckDBPyConnection, name: str, kind: str, what: str, due_on: date, until: date | None
) -> None:
    """The one to be done first stands for its kind: by its own date, or by that of its deferral."""
    due = due_of(plant, name, kind)
    assert (due["device"], due["due_on"], due["deferred_until"]) == (what, due_on, until)
    assert due["state"] == ("overdue" if until is None else "deferred until")
    assert asset_of(plant, name)["state"] == due["state"]


def test_a_deferral_of_another_date_says_which(plant: duckdb.DuckDBPyConnection) -> None:
    for name, kind, said in (
        ("the deferred one tested", "relief device", "it moves a due date of 2020-02-29, and this one is 2020-04-30"),
        ("which is not said", "relief device", "it does not state which of 2 due dates of this kind it moves"),
    ):
        assert due_of(plant, name, kind)["deferral_refused"] == said
    external = due_of(plant, "pulled in by a reading", "external")
    assert external["due_on"] < AS_OF
    assert (external["state"], external["deferred_until"]) == ("overdue", None)
    assert external["deferral_refused"] == (
        f"it moves a due date of 2023-12-31, and this one is {external['due_on'].isoformat()}"
    )


# ---- readings all but at once say little of a rate ------------------------------------------------------------------


def short_histories(plant: Plant) -> None:
    soon = date(2020, 2, 1)
    plant.vessel("read twice, nominal known", ((Y20, 12.0), (soon, 12.0)))
    plant.vessel("read twice, rate stated", ((Y20, 12.0), (soon, 12.0)), stated=0.5)
    plant.vessel("read twice, nothing known", ((Y20, 12.0), (soon, 12.0)), nominal=None)
    plant.vessel("read twice, loss beyond scatter", ((Y20, 12.5), (soon, 12.0)))
    # 12.1 and then 12.2 mm are one wall by scatter, 11.9 mm is 0.3 mm less than the reading before.
    points = ((date(2019, 12, 1), 12.1), (Y20, 12.2), (soon, 11.9))
    plant.vessel("read thrice, the last loss beyond scatter", points)
    plant.vessel("new service, read twice", ((date(2020, 1, 5), 12.0), (date(2020, 1, 15), 12.0)), stated=0.5)
    plant.add("events", "new service, read twice", "Shell", CHANGED, "change of service", None)


def test_a_second_reading_a_month_later_takes_no_rate_away(plant: duckdb.DuckDBPyConnection) -> None:
    """From 16 mm on 2004-01-01 to 12 mm on 2020-02-01, 5875 days: 4/5875 x 365.25 = 0.248681 mm/year.

    A stated rate counts where it is the higher one; a loss beyond scatter counts however short the time:
    0.5/31 x 365.25 = 5.891 mm/year.
    """
    told = {name: place_of(plant, f"read twice, {name}") for name in (
        "nominal known", "rate stated", "nothing known", "loss beyond scatter"
    )}  # fmt: skip
    assert told["nominal known"]["rate_mm_per_year"] == pytest.approx(4 / 5875 * 365.25)
    assert told["nominal known"]["rate_from"] == "long-term from nominal"
    assert told["nominal known"]["due_on"] == after(date(2020, 2, 1), int(2 / (4 / 5875 * 365.25) / 2 * 365.25))
    assert (told["rate stated"]["rate_mm_per_year"], told["rate stated"]["rate_from"]) == (0.5, "stated")
    assert told["nothing known"]["no_measurable_loss"]
    assert told["loss beyond scatter"]["rate_mm_per_year"] == pytest.approx(0.5 / 31 * 365.25)
    thrice = place_of(plant, "read thrice, the last loss beyond scatter")
    assert thrice["rate_mm_per_year"] == pytest.approx(0.3 / 31 * 365.25)


def test_two_readings_of_the_first_days_are_no_first_check(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "new service, read twice")
    assert (place["rate_mm_per_year"], place["rate_from"]) == (0.5, "stated")
    assert (place["first_check_on"], place["due_on"]) == (after(CHANGED, CHECK), after(CHANGED, CHECK))


# ---- a wall outlives its service ------------------------------------------------------------------------------------


def kept_walls(plant: Plant) -> None:
    last = date(2019, 12, 1)
    for name, event in (
        ("changed while below", "change of service"),
        ("new baseline while below", "re-baselined"),
        ("replaced while below", "replaced"),
    ):
        plant.vessel(name, ((Y16, 11.0), (last, 9.0)))
        plant.add("events", name, "Shell", CHANGED, event, None)
    plant.vessel("changed, last one grew", ((Y12, 10.5), (Y16, 9.9), (last, 12.0)))
    plant.add("events", "changed, last one grew", "Shell", CHANGED, "change of service", None)
    plant.vessel("changed, read since", ((last, 9.0), (date(2020, 5, 1), 11.0)))
    plant.add("events", "changed, read since", "Shell", CHANGED, "change of service", None)
    plant.vessel("changed after a new wall", ((Y12, 9.0), (Y16, 15.0)))
    plant.add("events", "changed after a new wall", "Shell", date(2014, 1, 1), "replaced", None)
    plant.add("events", "changed after a new wall", "Shell", CHANGED, "change of service", None)
    # One place of the new wall was read, the other never.
    plant.vessel("replaced, half read", ((Y12, 9.0), (date(2018, 1, 1), 15.9), (Y20, 15.8)))
    plant.place("replaced, half read", "Shell", ((Y12, 9.0),), "2")
    plant.add("events", "replaced, half read", "Shell", date(2017, 1, 1), "replaced", None)


def test_a_wall_below_required_stays_so_when_its_service_changes(plant: duckdb.DuckDBPyConnection) -> None:
    """No rate crosses the change; the thickness does, until the wall is read again or another one stands there."""
    for name in ("changed while below", "new baseline while below"):
        place = place_of(plant, name)
        assert (place["t_act_mm"], place["read_on"], place["state"]) == (9.0, date(2019, 12, 1), "below required")
        assert (place["rate_mm_per_year"], place["reading_count"]) == (None, 1)
        assert asset_of(plant, name)["state"] == "below required"
        [flags] = plant.execute(
            "SELECT flags FROM result.reading WHERE asset = ? AND status = 'used'", [name]
        ).fetchall()[0]
        assert flags == "from before 2020-01-01: the wall is still the same, and no rate crosses that day"
    assert place_of(plant, "replaced while below")["t_act_mm"] is None
    assert place_of(plant, "changed, last one grew")["t_act_mm"] == 9.9
    assert place_of(plant, "changed, read since")["t_act_mm"] == 11.0
    assert place_of(plant, "changed after a new wall")["t_act_mm"] == 15.0


def test_what_was_not_read_since_a_replacement_is_due_from_it(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "replaced, half read", location="2")
    assert (place["read_on"], place["due_on"]) == (None, after(date(2017, 1, 1), TEN))
    fresh = place_of(plant, "replaced while below")
    assert (fresh["due_on"], fresh["state"]) == (after(CHANGED, TEN), "not assessable")


# ---- a deferral leaves no more wall ---------------------------------------------------------------------------------


def test_a_wall_used_up_by_its_rate_is_overdue_whatever_is_deferred(plant: duckdb.DuckDBPyConnection) -> None:
    """(10.4 - 10)/0.1 = 4 years from 2016-01-01: used up on 2020-01-01, 152 days ago. Every date is deferred."""
    asset = asset_of(plant, "used up, all deferred")
    assert (asset["state"], asset["retirement_on"]) == ("overdue", Y20)
    assert {
        due_of(plant, "used up, all deferred", kind)["state"] for kind in ("internal", "external", "thickness")
    } == {"deferred until"}
    assert asset["reason"].startswith(
        "Shell, location 1: by its rate it reached its required thickness on 2020-01-01, 152 days before the as-of date"
    )


# ---- what held readings would change --------------------------------------------------------------------------------


def test_only_what_was_worked_both_ways_is_said_of_held_readings(plant: duckdb.DuckDBPyConnection) -> None:
    """Of 1.6 mm, about a tenth of nominal, nobody knows what was meant; growth is worked with and without.

    Grown from 13.0 to 13.5 mm: (13.5 - 10)/(0.5/4 mm/year) = 28 years from 2020-01-01, the cap of ten years counts;
    without it (13.0 - 10)/(1.0/4) = 12 years from 2016-01-01, half of them.
    """
    mistaken = asset_of(plant, "held as a mistake")
    assert (mistaken["held_readings"], mistaken["due_on_with_held"]) == (1, None)
    assert held_in_words(mistaken) == (
        "What the held readings would change is not worked out: each waits for a person to accept or reject it."
    )
    grown = asset_of(plant, "held for growth")
    assert held_in_words(grown) == (
        "Were the readings held for growth to count, the earliest thickness date would be 2029-12-31 instead of "
        "2021-12-31."
    )
    assert held_in_words(asset_of(plant, "on-stream")) == ""


# ---- what nobody knows ----------------------------------------------------------------------------------------------


def unknown_rates(plant: Plant) -> None:
    plant.vessel("below, rate unknown", ((Y20, 9.9),), nominal=None)
    plant.part("below, rate unknown", "Head", SOUND)
    for name, day, event in (
        ("event of no day", None, "change of service"),
        ("event of no kind", CHANGED, None),
        ("rerated, no day", None, "rerated"),
    ):
        plant.vessel(name, SOUND)
        plant.add("events", name, "Shell", day, event, None)
    plant.vessel("used up, all deferred", ((Y08, 11.2), (Y16, 10.4)), inspected=date(2015, 6, 1))
    # Half of four years from 2016-01-01, 730 days: every date is 2017-12-31 or, external, 2015-06-01 + 730 days.
    for kind, due in (
        ("internal", date(2017, 12, 31)),
        ("thickness", date(2017, 12, 31)),
        ("external", date(2017, 5, 31)),
    ):
        row = (kind, due, date(2030, 12, 1), WHY, BY, date(2017, 1, 10))
        plant.add("deferrals", "used up, all deferred", *row)
    plant.vessel("held as a mistake", ((Y08, 15.0), (Y12, 14.8), (Y20, 1.6)))
    plant.vessel("held for growth", ((Y12, 14.0), (Y16, 13.0), (Y20, 13.5)))
    plant.vessel("life unknown", (), S=None)
    plant.place("life unknown", "Shell", SOUND, "1")
    for name, service in (
        ("on-stream", "Process gas"),
        ("on-stream, service unknown", None),
        ("on-stream, a thin area", "Process gas"),
    ):
        plant.vessel(name, SOUND, service=service, inspected=date(2009, 1, 1))


def test_an_event_that_cannot_be_placed_leaves_no_date_sure(plant: duckdb.DuckDBPyConnection) -> None:
    """What was read before it may belong to another history: its day, or its kind, would settle it."""
    for name, lacks in (("event of no day", "date"), ("event of no kind", "kind")):
        assert asset_of(plant, name)["state"] == "not assessable", name
        missing = due_of(plant, name, "thickness")["due_missing"]
        assert missing.startswith(f"the {lacks} of the event in plant.xlsx events "), missing
    assert asset_of(plant, "rerated, no day")["state"] == "in date"


def test_below_required_is_due_at_once_whatever_the_rate(plant: duckdb.DuckDBPyConnection) -> None:
    """No life is left at any rate; the other component would allow ten years. External: from 2019-01-01, at once."""
    dues: dict[str, Row] = {
        kind: due_of(plant, "below, rate unknown", kind) for kind in ("internal", "external", "thickness")
    }
    assert {kind: due["due_on"] for kind, due in dues.items()} == {
        "internal": Y20, "external": date(2019, 1, 1), "thickness": Y20,
    }  # fmt: skip
    assert {due["state"] for due in dues.values()} == {"overdue"}


def test_an_external_date_without_a_life_is_the_latest_it_can_be(plant: duckdb.DuckDBPyConnection) -> None:
    """The lesser of five years and the internal interval, which is two at most: 730 days."""
    due = due_of(plant, "life unknown", "external")
    assert (due["due_on"], due["state"]) == (after(date(2019, 1, 1), 730), "not assessable")


def test_on_stream_counts_only_with_the_service_known_and_no_thin_area(plant: duckdb.DuckDBPyConnection) -> None:
    """Basis 4. The area has 10.15 - 10 = 0.15 mm left at 0.1 mm/year: a year and a half, not above ten."""
    counted = due_of(plant, "on-stream", "internal")
    assert (counted["anchor_on"], counted["on_stream_refused"]) == (date(2018, 1, 1), None)
    for name, why in (
        ("on-stream, service unknown", "the service is not on record"),
        ("on-stream, a thin area", "a remaining life is not above 10 years"),
    ):
        due = due_of(plant, name, "internal")
        assert (due["anchor_on"], due["state"]) == (date(2009, 1, 1), "overdue"), name
        assert due["on_stream_refused"].endswith(why), name


def test_the_crown_of_a_dished_head_outside_its_clause_is_not_assessable(plant: duckdb.DuckDBPyConnection) -> None:
    """Basis 2: L <= Do and r >= 0.06 L, else no rule of UG-32 holds, also for its crown."""
    within = place_of(plant, "dished within UG-32", "Head")
    assert (within["zone"], within["state"]) == ("crown", "in date")
    for name in ("dished, crown too flat", "dished, knuckle too sharp"):
        place = place_of(plant, name, "Head")
        assert (place["zone"], place["t_req_mm"], place["mawp_mpa"], place["state"]) == (
            "crown", None, None, "not assessable",
        ), name  # fmt: skip
        assert asset_of(plant, name)["state"] == "not assessable"


def test_a_weld_distance_that_cannot_be_read_is_not_away(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "on-stream")
    assert place["weld_region"] == "unknown"
    assert place["t_req_mm"] == place["t_req_weld_mm"]


def test_a_wall_of_the_start_is_the_one_of_today(plant: duckdb.DuckDBPyConnection) -> None:
    assert plant.execute("SELECT count(*) FROM step.epoch WHERE keeps_wall AND wall_on > epoch_on").fetchall() == [(0,)]
    [wall_on] = plant.execute("SELECT wall_on FROM step.epoch WHERE asset = 'changed after a new wall'").fetchall()[0]
    assert wall_on == date(2014, 1, 1) > Y04
