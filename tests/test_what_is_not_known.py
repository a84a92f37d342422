"""What the page of an asset, the calculation record and the options say where something is not known, or is there.

Every vessel is a cylinder of 60 in inside diameter and 150 psi, S = 17500 psi and E = 0.85, read on 2015-01-01 and on
2025-01-01: 3653 days. With a nominal wall of 0.5 in t_req = 150 x 30.5/(14875 + 60) = 4575/14935 = 0.306327 in; where
the register gives no nominal wall the thickest first reading stands for it. As of 2026-06-01; one turnaround ends on
that very day, the other on 2036-03-31.
"""

from __future__ import annotations

import shutil
from datetime import date, timedelta
from pathlib import Path

import duckdb
import pytest

from pipeline.asset_record import asset_record
from pipeline.calculation_record import calculation_record
from pipeline.changes import Change
from pipeline.errors import Problem
from pipeline.explain import explain, worth_sentence
from pipeline.field_sheet import field_sheet, to_do
from pipeline.options import Options, options
from pipeline.paper import Paper
from pipeline.reading import life_in_words
from pipeline.units import MM_PER_INCH, PSI_IN_MPA
from pipeline.what_if import WhatIf, lines, what_if
from tests.plants import Rows
from tests.test_calculation_record import section, texts
from tests.together import Together, Vessel

AS_OF = date(2026, 6, 1)
SINCE, LAST = date(2015, 1, 1), date(2025, 1, 1)
T_REQ = 4575 / 14935
REGISTERED = ("V-1", "crude", "Unit 1", SINCE, 150, 60, "Dee Example")
UNDATED = (*REGISTERED[:3], None, *REGISTERED[4:])
SOUND = tuple(("V-1", kind, date(2024, 6, 1), "sound") for kind in ("internal", "external"))
INTERVALS = ("Asset", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on")

PLANT = Together(AS_OF)


def part(name: str = "Shell", nominal: float | None = 0.5, stress: float | None = 17500) -> tuple:
    return ("V-1", name, "cylinder", nominal, 0.125, stress, 0.85)


def read(first: float, last: float, days: int = 3653) -> list[tuple]:
    """Two readings of the shell, `days` apart."""
    return [("V-1", "Shell", "1", LAST - timedelta(days=days), first), ("V-1", "Shell", "1", LAST, last)]


def vessel(*parts: tuple, readings: Rows = (), assets: Rows = (REGISTERED,), **more: Rows) -> Vessel:
    return PLANT.vessel(
        **{"assets": assets, "components": parts, "readings": readings, "inspections": SOUND, **more}  # type: ignore[arg-type]
    )


def said(paper: Paper, title: str) -> list[str]:
    """Return what a section of a document says."""
    return list(texts(section(paper, title).blocks))


def page(found: Vessel, title: str) -> list[str]:
    return said(asset_record(PLANT.results, found.tag, "Works"), title)


def record(found: Vessel, title: str, component: str = "Shell") -> list[str]:
    return said(calculation_record(PLANT.results, found.tag, component, "Works"), title)


# ---- the page of an asset -------------------------------------------------------------------------------------------

NO_COMPONENT = vessel(inspections=())


def test_an_asset_without_components_has_no_wall_no_sketch_and_no_date_by_its_wall() -> None:
    assert page(NO_COMPONENT, "Components") == [
        "No component is on any component sheet: nothing can be said of the wall."
    ]
    assert page(NO_COMPONENT, "Sketch") == [
        "There is no sketch. No component has both a kind and a diameter on the register."
    ]
    assert page(NO_COMPONENT, "What is measured") == [
        "No component of this asset is on any component sheet: nothing can be said of its wall."
    ]
    dates = page(NO_COMPONENT, "Due dates")
    assert "Thickness, missing: a thickness reading with rate and required thickness." in dates
    assert "Internal, missing: a component with a remaining life, so the date is the latest it can be." in dates
    assert "No relief device is on record." in page(NO_COMPONENT, "Relief devices")
    assert "No inspection is on record." in page(NO_COMPONENT, "Inspections and events")


UNREAD = vessel(part())


def test_a_sketch_without_a_place_has_no_legend() -> None:
    (caption,) = [text for text in page(UNREAD, "Sketch") if text.startswith("To scale")]
    assert caption.startswith(
        "To scale, from the register's dimensions; a sketch, not a drawing. Length not on the register"
    )


DECIDED = vessel(
    part(),
    readings=read(0.5, 0.45),
    deferrals=[
        ("Asset", "Kind", "Due date", "Deferred until", "Reason", "Approved by", "Approved on"),
        ("V-1", "external", date(2028, 6, 1), date(2029, 12, 1), "no outage", "A. Example", date(2026, 5, 1)),
    ],
    relief_devices=[
        ("Asset", "Device", "Set pressure (psi)", "Interval (years)", "Last tested"),
        ("V-1", "PSV-1", 160, 5, date(2024, 6, 1)),
    ],
    events=[
        ("Asset", "Component", "Date", "Event", "New thickness (in)"),
        ("V-1", "Shell", date(2015, 6, 1), "overlaid", 0.5),
    ],
    set_intervals=[INTERVALS, ("V-1", "internal", 4, None, None, None)],
    rate_choices=[
        ("Asset", "Component", "Rate choice", "Chosen rate (mm/year)", "Reason", "Chosen by", "Chosen on"),
        ("V-1", "Shell", "stated", None, "sister vessel opened", "R. Keel", date(2025, 3, 1)),
        ("V-1", "Shell", "named rate", 0.254, "inhibitor since 2016", "R. Keel", date(2025, 4, 1)),
    ],
)


def test_a_deferral_a_set_interval_and_a_chosen_rate_stand_on_the_page_with_their_person() -> None:
    # Four years set from 2024-06-01: 2028-06-01. (0.45 - 0.306327) in at 0.254 mm = 0.01 in a year: 14.3673 years,
    # floor(5247.65) days after 2025-01-01.
    dates = page(DECIDED, "Due dates")
    deferred = "External: deferred until 2029-12-01, approved by A. Example on 2026-05-01: no outage."
    assert deferred in dates and "2028-06-01" in dates
    assert "Internal: the longest interval is from set interval." in dates
    ends = (LAST + timedelta(days=5247)).isoformat()
    reached = f"Required thickness reached at the earliest place or corroded area on {ends}, at its governing rate; no "
    assert reached in " ".join(dates)
    assert page(DECIDED, "Deferrals")[-3:] == ["covers the date", "no outage", f"{DECIDED.tag}.xlsx, deferrals, D2"]
    (choice,) = [text for text in page(DECIDED, "Readings held, and decisions") if "chosen by" in text]
    assert choice.endswith("10.00 mil/year, chosen by R. Keel on 2025-04-01: inhibitor since 2016.")


def test_a_relief_device_above_the_rating_and_an_event_are_listed() -> None:
    # The wall holds more than the rating, so that the MAWP is the rating: 160 psi are above both.
    table = page(DECIDED, "Relief devices")
    assert table[-8:-2] == ["PSV-1", "160.0", "150.0", "150.0", "2024-06-01", "2029-06-01"]
    assert table[-2] == ("set above the rating; set above the MAWP now; set above the MAWP at the next inspection")
    assert page(DECIDED, "Inspections and events")[-5:-1] == ["2015-06-01", "overlaid", "Shell", "0.5000"]


RETIRED = vessel(
    part(),
    readings=read(0.5, 0.5),
    assets=(),
    register=[
        ("Asset", "MAWP (psi)", "Inside diameter (in)", "Status", "Status since"),
        ("V-1", 150, 60, "retired", date(2025, 6, 1)),
    ],
)


def test_a_retired_vessel_without_loss_has_no_date_and_no_note() -> None:
    assert page(RETIRED, "Due dates") == ["No due date is on record or can be worked out."]
    summary = page(RETIRED, "Summary")
    assert "retired since 2025-06-01" in summary
    assert summary[summary.index("required thickness reached") + 1] == "—"
    assert any("it must be evaluated and inspected before it goes back" in text for text in summary)


# ---- the calculation record -----------------------------------------------------------------------------------------

NO_STRESS = vessel(part(stress=None), readings=read(0.5, 0.45))


def test_a_requirement_that_lacks_an_input_is_not_the_code_minimum() -> None:
    """Without a stress the pressure thickness is unknown: what is left of the clause must not seem to govern."""
    governing = record(NO_STRESS, "Governing case and runner-up")
    assert governing[0] == "No required thickness; missing: allowable stress."
    assert "governs" not in governing and "not asked" not in governing
    assert governing[-1] == "No place sets a due date of this asset by its life."
    assert "Of the component's places location 1 (margin —, remaining life —) is the only one." in governing


NO_KIND = vessel(
    ("V-1", "Shell", "bellows", *part()[3:]),
    readings=read(0.5, 0.45),
)


def test_a_component_of_a_kind_without_clause_has_no_required_thickness() -> None:
    governing = record(NO_KIND, "Governing case and runner-up")
    assert governing[0].startswith("No required thickness; missing: ") and "kind" in governing[0]


NEVER_READ = vessel(part(), locations=[("V-1", "Shell", "1", 2.0), ("V-1", "Shell", "2", 2.0)])


def test_places_without_a_reading_govern_by_no_life() -> None:
    # Two inches from the weld E = 1: 4575/(17500 + 60) = 0.260535 in. Never read: the first check, 182 days from
    # the in-service date.
    governing = record(NEVER_READ, "Governing case and runner-up")
    assert governing[4:8] == ["thickness required for pressure", f"{governing[5]}", "0.2605 in", "governs"]
    assert float(governing[5].split()[0]) == pytest.approx(4575 / 17560 * MM_PER_INCH, rel=1e-9)
    none = "None of the component's 2 places has a reading that counts: none governs by its life."
    assert none in governing
    assert governing[-5:] == ["thickness", "2015-07-02", "Shell, location 1", "2015-07-02", "Shell, location 2"]
    assert "Never measured: Shell." in page(NEVER_READ, "What is measured")


CONTRADICTED = vessel(part(), part(nominal=0.6))


def test_a_contradicted_datum_of_a_component_without_a_place_is_no_input() -> None:
    inputs = record(CONTRADICTED, "Inputs")
    at = inputs.index("nominal thickness")
    assert inputs[at + 1 : at + 3] == ["two rows contradict each other", "—"]
    at = inputs.index("corrosion allowance")
    assert inputs[at + 1 : at + 3] == ["0.125 in", "3.175 mm"]


# ---- what may be tried ----------------------------------------------------------------------------------------------


def tried(found: Vessel, change: Change) -> WhatIf:
    return what_if(PLANT.results, found.tag, [change], "us")


def told(trial: WhatIf) -> dict[str, tuple[str, str, str]]:
    """Return each line of a trial by its label: today, as tried, and the difference."""
    every = [line for group in lines(trial, "us").values() for line in group]
    return {line.label: (line.today, line.tried, line.difference) for line in every}


def test_a_date_tried_on_a_vessel_without_walls_says_of_no_wall_that_it_holds() -> None:
    trial = tried(NO_COMPONENT, Change("next inspection", on=date(2027, 1, 1)))
    found = trial.inspection
    assert found is not None and (found.once, found.twice) == ([], [])
    assert (found.mawp_once_mpa, found.mawp_twice_mpa) == (None, None)
    assert trial.headline == f"Nothing would change for {NO_COMPONENT.tag}."
    assert trial.remarks[-1] == (
        "Not known on 2027-01-01: the pressure that a vessel without any component on a component sheet would hold."
    )
    with pytest.raises(Problem, match=r"next inspection on 2201-01-01: give a date before 2201"):
        tried(NO_COMPONENT, Change("next inspection", on=date(2201, 1, 1)))
    # External: five years from 2015-01-01, floor(1826.25) days; to 2027-01-01 are 2557 more.
    assert trial.remarks[0].startswith("2027-01-01 lies 2,557 days after the external due date, 2020-01-01")
    said = told(trial)
    assert "governing place" not in said
    assert said["lowest MAWP now"] == said["thickness survey due"] == ("—", "—", "no change")


def test_a_stress_that_was_missing_makes_the_rest_known() -> None:
    # (0.45 - 0.306327)/0.306327 = 46.9 %; 0.05 in over 3653 days: 0.143673 x 3653/0.05 = 10496.7 days
    said = told(tried(NO_STRESS, Change("allowable stress", 17500 * PSI_IN_MPA, "Shell")))
    assert said["required thickness"] == ("—", "0.3063 in", "known then")
    assert said["margin over required"] == ("—", "46.9%", "known then")
    assert said["lowest MAWP now"] == ("—", "150.0 psi", "known then")
    ends = (LAST + timedelta(days=10496)).isoformat()
    assert said["retirement date there"] == ("—", ends, "known then")


NO_RATING = vessel(part(), readings=read(0.5, 0.45), assets=((*REGISTERED[:4], None, *REGISTERED[5:]),))


def test_without_a_rating_no_lower_pressure_can_be_tried() -> None:
    with pytest.raises(Problem, match=f"{NO_RATING.tag}: has no rating pressure to stay below; try a rerate instead"):
        tried(NO_RATING, Change("lower pressure", 1.0))


def test_below_the_code_minimum_pressure_lowers_nothing_more() -> None:
    # 10 x 30.5/14879 = 0.0205 in, below 1/16 in: (0.45 - 0.0625)/0.0625 = 620 %
    trial = tried(DECIDED, Change("lower pressure", 10 * PSI_IN_MPA))
    assert told(trial)["required thickness"][1] == "0.0625 in"
    assert told(trial)["margin over required"] == ("46.9%", "620.0%", "+573.1 points")
    assert trial.remarks == (
        "At Shell, location 1, the code minimum sets the required thickness: pressure alone does not lower it any "
        "further.",
        "Set above the lowest MAWP that this would leave: relief device PSV-1. It would have to be reset first.",
    )


# ---- the field sheet, and what there is to do -----------------------------------------------------------------------

SURVEY = ("Asset", "Component", "Location", "Date", "Thickness (in)", "Remark")
#: 1 and 3 grew between two readings, 3 was read once more since; 2 was missed twice, 5 once; 4 was never read.
WORK = vessel(
    part(),
    locations=[("V-1", "Shell", "4", 9.0)],
    survey=[
        SURVEY,
        *(
            ("V-1", "Shell", place, day, thickness, remark)
            for place, day, thickness, remark in (
                ("1", SINCE, 0.5, None),
                ("1", date(2020, 1, 1), 0.45, None),
                ("1", LAST, 0.49, None),
                ("2", SINCE, 0.5, None),
                ("2", date(2016, 1, 1), 0.48, None),
                ("2", date(2024, 6, 1), None, "insulated"),
                ("2", LAST, None, "insulated"),
                ("3", SINCE, 0.5, None),
                ("3", date(2018, 7, 1), 0.45, None),
                ("3", date(2021, 7, 1), 0.49, None),
                ("3", date(2023, 7, 1), 0.44, None),
                ("5", SINCE, 0.5, None),
                ("5", date(2017, 1, 1), 0.45, None),
                ("5", date(2025, 6, 1), None, "no access"),
                ("6", SINCE, 0.5, None),
                ("6", LAST, 0.29, None),
            )
        ),
    ],
    recommendations=[
        ("Asset", "Component", "Recommendation", "Raised on", "Due date"),
        ("V-1", "Shell", "paint the shell", date(2025, 1, 1), None),
    ],
)


def to_know(found: Vessel, day: date) -> dict[str, tuple[str, ...]]:
    return {row.location: row.to_know for row in field_sheet(PLANT.results, found.tag, "us", day).rows}


def test_what_there_is_to_do_begins_with_what_waits_for_a_person() -> None:
    todo = to_do(PLANT.results, WORK.tag, "us")
    assert todo[:3] == [
        ("reading to judge", "Shell, location 1: 0.4900 in of 2025-01-01 is held for growth"),
        ("reading to judge", "Shell, location 3: 0.4900 in of 2021-07-01 is held for growth"),
        ("recommendation", "paint the shell, due on no date"),
    ]
    assert ("missed place", "Shell, location 2: not measured 2 times in a row, insulated") in todo
    assert ("missed place", "Shell, location 5: not measured once, no access") in todo
    assert ("never read", "Shell, location 4: no reading that counts") in todo
    # 0.48 in in 2016 lost 0.02 in over 365 days: 0.173673 in left are 8.678 years, the half of it 1584.8 days.
    due = (date(2016, 1, 1) + timedelta(days=1584)).isoformat()
    assert ("overdue", f"Shell, location 2: to be measured by {due}, last on 2016-01-01") in todo
    (worth,) = [words for what, words in todo if what == "worth measuring" and words.startswith("Shell, location 6: ")]
    assert worth.startswith("Shell, location 6: the distance to the weld could change the verdict, if the place is ")
    assert worth.endswith(" farther from it than 1.000 in")
    assert to_do(PLANT.results, RETIRED.tag, "us") == []


def test_the_field_sheet_says_of_each_place_what_to_know_before_it_is_read() -> None:
    known = to_know(WORK, AS_OF)
    assert known["1"] == ("0.4900 in of 2025-01-01 is held (growth): read again",)
    assert "missed 2 times in a row: insulated" in known["2"] and "missed once: no access" in known["5"]
    assert not any("held" in words for words in known["3"])  # the reading of 2023 stands in its place
    assert known["4"] == ("no reading that counts yet: nothing to expect",)
    assert known["6"] == ("below required as it stands", "the verdict turns on the weld distance: measure it")


def test_the_field_sheet_expects_nothing_it_cannot_work_out() -> None:
    before = to_know(DECIDED, date(2024, 6, 1))["1"]
    assert before[-1] == "read after 2024-06-01: nothing to expect on that day"
    assert before[0] == "measure the distance to the weld: it could move a date"
    assert to_know(NO_RATE, AS_OF)["1"] == ("below required as it stands", "no rate yet: nothing to expect")
    assert to_know(NO_STRESS, AS_OF)["1"] == (
        "required thickness not known, so there is no value to stop at; missing: allowable stress",
    )
    with pytest.raises(Problem, match=f"{NO_COMPONENT.tag}: no place of it is on record, so there is nothing to print"):
        field_sheet(PLANT.results, NO_COMPONENT.tag, "us")


# ---- what can be weighed --------------------------------------------------------------------------------------------

#: 0.2 in over 2749 days; the 4107 days to 2036-03-31 take 0.298800 in of the 0.3 in: 0.001200 in are left.
THIN = vessel(
    part(),
    part("Head", None),
    part("Boot"),
    assets=(UNDATED,),
    readings=[*read(0.5, 0.3, 2749), ("V-1", "Head", "1", LAST, 0.25)],
    locations=[("V-1", "Shell", "9", 2.0)],
    set_intervals=[INTERVALS, ("V-1", "internal", 5, None, None, None)],
    turnarounds=[
        ("Name", "Start", "End"),
        ("TA 2026", date(2026, 5, 20), AS_OF),
        ("TA 2036", date(2036, 3, 1), date(2036, 3, 31)),
    ],
)
UNREAD_PLACE = vessel(part(), locations=[("V-1", "Shell", "9", 2.0)])
NO_RATE = vessel(part(nominal=None), assets=(UNDATED,), readings=[("V-1", "Shell", "1", LAST, 0.25)])


@pytest.fixture(scope="module")
def weighed() -> Options:
    return options(PLANT.results, THIN.tag, "us")


def test_a_place_never_read_is_no_thin_place(weighed: Options) -> None:
    assert [(place.component, place.location) for place in weighed.places] == [("Head", "1"), ("Shell", "1")]
    assert [place.rate_mm_per_year is None for place in weighed.places] == [True, False]


def test_no_pressure_is_offered_for_a_wall_that_will_be_gone(weighed: Options) -> None:
    """516 days to 2026-06-01 take 0.0375409 in: 14875 x 0.2624591/(30.5 - 0.4 x 0.2624591) = 128.444 psi. The head,
    whose loss is not known, holds 14875 x 0.25/(30.25 - 0.1) = 123.342 psi today, and no more then: 123. Twice the loss
    leaves the shell 0.2249182 in: 110.018 psi: 110. In 2036 once leaves 0.0012004 in: 14875 x 0.0012004/30.4995 =
    0.585 psi, less than the step of 1 psi; twice leaves nothing.
    """
    near, near_twice, far, far_twice = weighed.pressures
    assert [(offer.pressure_mpa or 0) / PSI_IN_MPA for offer in (near, near_twice)] == pytest.approx(
        [123.342, 110.018], abs=1e-3
    )
    assert [round((offer.offered_mpa or 0) / PSI_IN_MPA, 9) for offer in (near, near_twice)] == [123, 110]
    assert [offer.limited_by for offer in (near, near_twice)] == ["Head, location 1", "Shell, location 1"]
    assert near.holds and near_twice.holds
    assert far.because == "hardly any pressure is left to be held at Shell, location 1"
    assert far_twice.because == "no wall would be left at Shell, location 1: no pressure is left to be held"
    for offer in (far, far_twice):
        assert (offer.pressure_mpa, offer.offered_mpa, offer.holds) == (None, None, None)
    # The head's loss is not known, the boot has no place, and one place of the shell was never read.
    assert {offer.not_counted for offer in weighed.pressures} == {("Boot", "Head", "Shell")}


def test_a_wall_that_reaches_today_needs_what_is_required_today(weighed: Options) -> None:
    """The turnaround ends on the as-of date: no time, no loss; 0.306327 in, up to 0.310 for a wall, 0.307 if read."""
    restored = {(offer.component, offer.turnaround.name): offer for offer in weighed.restorations}
    shell = restored["Shell", "TA 2026"]
    assert (shell.thickness_mm or 0) / MM_PER_INCH == pytest.approx(T_REQ, rel=1e-9)
    assert (shell.offered_mm or 0) / MM_PER_INCH == pytest.approx(0.310) and shell.holds is True
    head, read_again = weighed.readings
    assert head.reaches_mm is None  # its rate is not known: no reading can be named
    assert (read_again.reaches_mm or 0) / MM_PER_INCH == pytest.approx(0.307)


def test_no_wall_is_offered_without_a_rate_or_beyond_the_longest_interval(weighed: Options) -> None:
    restored = {(offer.component, offer.turnaround.name): offer for offer in weighed.restorations}
    assert len(restored) == 4
    for turnaround in ("TA 2026", "TA 2036"):
        head = restored["Head", turnaround]
        assert (head.thickness_mm, head.offered_mm, head.holds) == (None, None, None)
        assert head.because == "the corrosion rate of a place is not known"
    far = restored["Shell", "TA 2036"]
    assert (far.thickness_mm, far.holds) == (None, None)
    assert far.because == "no thickness reaches it: the longest interval is 5.00 years"


def test_without_any_rate_no_pressure_and_no_wall_can_be_offered() -> None:
    found = options(PLANT.results, NO_RATE.tag, "us")
    assert [place.is_below_required for place in found.places] == [True]
    assert {offer.because for offer in found.pressures} == {"the pressure that its walls hold is not known"}
    assert {offer.not_counted for offer in found.pressures} == {("Shell",)}
    assert {offer.because for offer in found.restorations} == {"the corrosion rate of a place is not known"}
    assert {offer.holds for offer in (*found.pressures, *found.restorations)} == {None}


# ---- no life is left, whatever the rate -----------------------------------------------------------------------------

#: Below 0.3063 in and losing nothing, or at a rate nobody knows.
STILL = vessel(part(), readings=read(0.29, 0.29))


@pytest.mark.parametrize(("found", "remark"), [(STILL, True), (NO_RATE, True), (RETIRED, False)])
def test_a_wall_below_required_is_never_said_to_last(found: Vessel, remark: bool) -> None:
    told = explain(PLANT.results, found.tag)
    none_left = any(
        said.startswith(
            "Below the required thickness: no life is left, whatever the rate, and the place is due at once"
        )
        for said in told.remarks
    )
    endless = "No measurable loss: the life has no end, the interval is its cap."
    assert (none_left, (endless in told.remarks)) == (remark, not remark)
    lives = {answer.remaining_life for answer in (*told.weld_answers, *told.basis_answers) if answer.counts}
    assert lives == {"none left" if remark else "no measurable loss"}
    every = [*texts(asset_record(PLANT.results, found.tag, "Works")), *texts(record_of(found))]
    assert ("none left" in every) is remark
    assert ("no loss" in every) is not remark


def record_of(found: Vessel) -> Paper:
    return calculation_record(PLANT.results, found.tag, "Shell", "Works")


def test_a_life_is_said_alike_wherever_it_has_no_number() -> None:
    rows = {
        tag: PLANT.results.sql(f"SELECT * FROM result.location WHERE asset = '{tag}'").to_df().to_dict("records")[0]
        for tag in (STILL.tag, NO_RATE.tag, RETIRED.tag, UNREAD_PLACE.tag)
    }
    said = {tag: life_in_words(row, "us") for tag, row in rows.items()}
    assert said == {
        STILL.tag: "none left",
        NO_RATE.tag: "none left",
        RETIRED.tag: "no measurable loss",
        UNREAD_PLACE.tag: "not assessable",
    }


# ---- why ------------------------------------------------------------------------------------------------------------


#: A knuckle of 3 in under a crown of 60 in: 5 %, where UG-32 asks for 6.
DISHED = vessel(
    heads=[
        (
            *("Asset", "Component", "Kind", "Nominal thickness (in)", "Allowable stress (psi)", "Joint efficiency"),
            *("Crown radius (in)", "Knuckle radius (in)"),
        ),
        ("V-1", "Shell", "torispherical head", 0.5, 17500, 0.85, 60, 3),
    ],
    readings=read(0.5, 0.49),
)
#: 15000 psi, and S E = 17500 x 0.85 = 14875 psi: no wall holds it.
DENSE = vessel(part(), readings=read(0.5, 0.49), assets=[(*REGISTERED[:4], 15000, *REGISTERED[5:])])


@pytest.mark.parametrize(
    ("found", "limit"),
    [
        (DISHED, "knuckle radius below 6 % of the crown radius: UG-32 does not apply"),
        (DENSE, "P is not below S E: no thickness is enough"),
    ],
)
def test_a_clause_that_does_not_hold_is_said_with_its_limit(found: Vessel, limit: str) -> None:
    told = explain(PLANT.results, found.tag)
    assert told.place is not None and told.place["t_req_mm"] is None
    assert told.place["state"] == "not assessable" and limit in told.place["missing"]
    (remark,) = {remark for remark in told.remarks if "does not hold here" in remark}
    assert remark.endswith(f" does not hold here: {limit}.")


def test_a_nominal_wall_that_is_not_on_the_register_is_said_to_be_a_first_reading() -> None:
    # 0.25 in stand for it: 150 x 30.25/14935 = 0.303817 in
    told = explain(PLANT.results, THIN.tag, "Head")
    assert "The nominal thickness is not on the register: the thickest first reading stands for it." in told.remarks
    assert told.place is not None and told.place["t_req_mm"] / MM_PER_INCH == pytest.approx(4537.5 / 14935, rel=1e-9)
    assert told.place["rate_mm_per_year"] is None and "rate_governing" not in {link.id for link in told.links}


def test_what_a_tape_is_worth_where_it_moves_the_verdict_alone() -> None:
    worth = explain(PLANT.results, WORK.tag, "Shell", "6").worth
    assert worth_sentence(worth[0], "us") == (
        "the distance to the nearest weld; were it more than 1.000 in, the place would not be below required."
    )


def test_a_stored_number_whose_input_is_gone_is_a_fault(tmp_path: Path) -> None:
    database = tmp_path / "changed.duckdb"
    shutil.copy(PLANT.database.resolve(), database)
    with duckdb.connect(str(database)) as connection:
        connection.execute("UPDATE result.location SET t_req_mm = NULL")
    with duckdb.connect(str(database), read_only=True) as connection:
        faults = explain(connection, DECIDED.tag, "Shell").faults
    assert any(fault.startswith("margin over the required thickness") for fault in faults), faults
    assert any(fault.startswith("remaining life") for fault in faults), faults


# ---- all of them in one plant ---------------------------------------------------------------------------------------


def test_what_the_vessels_share_moves_no_date() -> None:
    """The turnarounds of one workbook are those of all: the dates of the deferred vessel are still those by hand."""
    due = {row["kind"]: row["due_on"] for row in DECIDED.rows("result.due_date")}
    # The half of 14.3673 years, 7.1836 years: floor(2623.8) days; the relief device five years after its test.
    assert due["thickness"] == LAST + timedelta(days=2623)
    assert due["relief device"] == date(2029, 6, 1) and due["internal"] == date(2028, 6, 1)
