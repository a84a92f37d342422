"""Rates chosen by a named person, and the rate of similar service; expected values by hand from engineering basis 3.

The ordinary history here is 12.4, 12.0, 11.4 and 11.0 mm on 1 January 2008, 2012, 2016 and 2020 (4 years apart each)
above a required thickness of 10 mm, with 0.2 mm/year stated on the register:

    LT    = 1.4/12 = 0.116667        ST = 0.4/4 = 0.1        the policy takes the greater, LT
    fit   : x = 0, 4, 8, 12; Sxx = 80; Sxy = (-6)(0.7) + (-2)(0.3) + 2(-0.3) + 6(-0.7) = -9.6; slope -0.12
    error : residuals -0.02, 0.06, -0.06, 0.02; sum of squares 0.008; sqrt(0.008/2/80) = 0.0070711
    bound : 0.12 + 2.919986 x 0.0070711 = 0.140647 (Student's t, one-sided 95 %, 2 degrees of freedom)
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipeline.explain import explain
from tests.vessels import (
    Y08,
    Y12,
    Y16,
    Y20,
    Plant,
    Points,
    after,
    asset_of,
    due_of,
    ledger_of,
    opened,
    place_of,
    rows,
)

AS_OF = date(2024, 7, 1)
ORDINARY: Points = ((Y08, 12.4), (Y12, 12.0), (Y16, 11.4), (Y20, 11.0))
BY, ON, WHY = "R. Keel", date(2021, 3, 1), "inhibitor since 2016"
POLICY = 1.4 / 12
HALF_A_DIGIT = 5e-7

# word: (rate as given with it, rate in force, days of life, days of interval) with t_act - t_req = 1.0 mm:
# days of life floor(365.25/rate), of the interval half of the life, at most 3652.
WORDS: dict[str, tuple[float | None, float, int, int]] = {
    "long-term": (None, 0.116667, 3130, 1565),  # 8.571429 years
    "short-term": (None, 0.1, 3652, 1826),  # 10 years; 3652.5 and 1826.25 days
    "least squares": (None, 0.12, 3043, 1521),  # 8.333333 years; 3043.75 and 1521.875 days
    "fit upper bound": (None, 0.140647, 2596, 1298),  # 7.110000 years; 2596.93 and 1298.46 days
    "stated": (None, 0.2, 1826, 913),  # 5 years; 913.125 days
    "named rate": (0.16, 0.16, 2282, 1141),  # 6.25 years; 2282.81 and 1141.41 days
}


def choose(
    plant: Plant,
    name: str,
    word: str | None,
    rate: float | None = None,
    *,
    component: str = "Shell",
    location: str | None = None,
    reason: str | None = WHY,
    by: str | None = BY,
    on: date | None = ON,
) -> None:
    plant.add("choices", name, component, location, word, rate, reason, by, on)


def ordinary(plant: Plant, name: str, points: Points = ORDINARY, stated: float | None = 0.2) -> None:
    plant.vessel(name, points, nominal=13.0, stated=stated)


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Plant()
    ordinary(plant, "no choice")
    for word, (rate, *_) in WORDS.items():
        ordinary(plant, word)
        choose(plant, word, word, rate)
    ordinary(plant, "a number alone")
    choose(plant, "a number alone", None, 0.16)
    refused(plant)
    in_time(plant)
    several(plant)
    below_zero(plant)
    with opened(plant.write(tmp_path_factory.mktemp("choices") / "plant"), AS_OF) as connection:
        yield connection


# ---- the rate chosen governs ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", WORDS)
def test_the_rate_chosen_governs_life_and_dates(plant: duckdb.DuckDBPyConnection, word: str) -> None:
    _, rate, life_days, interval_days = WORDS[word]
    place = place_of(plant, word)
    assert place["rate_mm_per_year"] == pytest.approx(rate, abs=HALF_A_DIGIT)
    assert place["rate_from"] == word
    assert (place["rate_chosen_by"], place["rate_chosen_on"], place["rate_choice_reason"]) == (BY, ON, WHY)
    assert place["rate_choice_refused"] is None
    assert place["remaining_life_years"] == pytest.approx(1.0 / rate, rel=1e-5)
    assert place["retirement_on"] == after(Y20, life_days)
    assert place["due_on"] == after(Y20, interval_days)
    assert due_of(plant, word, "thickness")["due_on"] == after(Y20, interval_days)
    assert asset_of(plant, word)["retirement_on"] == after(Y20, life_days)


@pytest.mark.parametrize("word", WORDS)
def test_the_policy_s_own_rate_stays_visible(plant: duckdb.DuckDBPyConnection, word: str) -> None:
    place = place_of(plant, word)
    assert place["rate_by_policy_mm_per_year"] == pytest.approx(POLICY, abs=HALF_A_DIGIT)
    assert place["rate_policy_from"] == "long-term"
    assert place["rate_lt_mm_per_year"] == pytest.approx(POLICY, abs=HALF_A_DIGIT)
    assert place["rate_st_mm_per_year"] == pytest.approx(0.1, abs=HALF_A_DIGIT)


def test_a_number_without_a_word_is_a_named_rate(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "a number alone")
    assert (place["rate_mm_per_year"], place["rate_from"]) == (pytest.approx(0.16), "named rate")


def test_without_a_choice_the_policy_selects(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "no choice")
    assert place["rate_mm_per_year"] == pytest.approx(POLICY)
    assert [place[f"rate_{name}"] for name in ("chosen_by", "chosen_on", "choice_reason", "choice_refused")] == [
        None
    ] * 4
    assert place["rate_choice_older"] is False


def test_a_vessel_with_a_chosen_rate_names_the_person(plant: duckdb.DuckDBPyConnection) -> None:
    explained = explain(plant, "named rate")
    said = f"{explained}"
    assert BY in said and WHY in said and str(ON) in said


@pytest.mark.parametrize("word", WORDS)
def test_the_chain_of_a_chosen_rate_names_its_cell_and_what_the_policy_would_take(
    plant: duckdb.DuckDBPyConnection, word: str
) -> None:
    """0.116667 mm/year by the policy are 0.117 to three places; the fit shows its three steps, the others none."""
    told = explain(plant, word, system="si")
    assert told.faults == []
    (link,) = [link for link in told.links if link.id == "rate_governing"]
    (selected,) = [entry for entry in link.inputs if entry.symbol == "C_sel"]
    assert selected.origin.words == f"{word.removesuffix(' rate')} rate, chosen by {BY} on {ON}"
    assert selected.origin.sheet == "choices"
    assert link.value == pytest.approx(WORDS[word][1], abs=HALF_A_DIGIT)
    assert any(f"(“{WHY}”); the policy alone would select 0.117 mm/year (long-term)" in said for said in told.remarks)
    fitted = {"fit_rate", "fit_rate_error", "fit_upper_bound"}
    by_fit = word in ("least squares", "fit upper bound")
    assert {link.id for link in told.links} & fitted == (fitted if by_fit else set())
    assert any("standard errors of the fit" in said for said in told.bands) is by_fit


def test_the_chain_says_that_a_choice_is_old_or_does_not_count(plant: duckdb.DuckDBPyConnection) -> None:
    old = "A reading has been taken since the rate was chosen: look at the choice again."
    assert old in explain(plant, "before the last reading").remarks
    assert old not in explain(plant, "named rate").remarks
    refused = "A choice of a rate on record does not count: it names no person."
    assert refused in explain(plant, "no person").remarks


# ---- a choice that does not count -----------------------------------------------------------------------------------

INCOMPLETE = {
    "no person": ({"by": None}, "it names no person"),
    "no date": ({"on": None}, "it has no date"),
    "no reason": ({"reason": None}, "it gives no reason"),
}


def refused(plant: Plant) -> None:
    for name, (without, _) in INCOMPLETE.items():
        ordinary(plant, name)
        choose(plant, name, "named rate", 0.05, **without)  # type: ignore[arg-type]
    ordinary(plant, "no number")
    choose(plant, "no number", "named rate")
    ordinary(plant, "unknown word")
    choose(plant, "unknown word", "as usual")
    # Two readings leave nothing to estimate the scatter of a fit from.
    ordinary(plant, "no such rate", ((Y16, 11.4), (Y20, 11.0)))
    choose(plant, "no such rate", "fit upper bound")
    ordinary(plant, "nothing stated", stated=None)
    choose(plant, "nothing stated", "stated")
    ordinary(plant, "too few alike")
    choose(plant, "too few alike", "similar service")
    ordinary(plant, "misspelt")
    choose(plant, "misspelt", "named rate", 0.05, component="Shel")
    ordinary(plant, "no such place")
    choose(plant, "no such place", "named rate", 0.05, location="9")
    ordinary(plant, "complete, then not")
    choose(plant, "complete, then not", "named rate", 0.16)
    choose(plant, "complete, then not", "named rate", 0.05, on=date(2023, 1, 1), reason=None)


@pytest.mark.parametrize("name", [*INCOMPLETE, "no number", "no such rate", "nothing stated", "too few alike"])
def test_a_choice_that_does_not_count_leaves_the_policy_s_rate(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """The last two readings alone give 0.4/4 = 0.1."""
    place = place_of(plant, name)
    assert place["rate_mm_per_year"] == pytest.approx(0.1 if name == "no such rate" else POLICY)
    assert place["rate_from"] == "long-term"
    assert place["rate_chosen_by"] is None
    assert place["rate_choice_refused"]
    (line,) = ledger_of(plant, "choice of a rate", f"of {name} does not count")
    assert line["severity"] == "set aside"
    assert line["cell"]


@pytest.mark.parametrize("name", INCOMPLETE)
def test_what_a_choice_lacks_is_named(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    assert place_of(plant, name)["rate_choice_refused"] == INCOMPLETE[name][1]
    assert ledger_of(plant, f"of {name} does not count: {INCOMPLETE[name][1]}")


def test_a_word_nobody_knows_is_refused_with_its_cell(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "unknown word")["rate_mm_per_year"] == pytest.approx(POLICY)
    assert [row["severity"] for row in rows(plant, "SELECT * FROM result.ledger WHERE text = 'as usual'")] == [
        "set aside"
    ]


@pytest.mark.parametrize("name", ["misspelt", "no such place"])
def test_a_choice_for_a_place_nobody_knows_is_in_the_ledger(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    assert place_of(plant, name)["rate_mm_per_year"] == pytest.approx(POLICY)
    (line,) = ledger_of(plant, f"of {name}: check the names")
    assert line["severity"] == "set aside"


def test_an_incomplete_choice_does_not_undo_the_complete_one(plant: duckdb.DuckDBPyConnection) -> None:
    """And it is not dropped silently either."""
    place = place_of(plant, "complete, then not")
    assert place["rate_mm_per_year"] == pytest.approx(0.16)
    (line,) = ledger_of(plant, "of complete, then not does not count: it gives no reason")
    assert line["severity"] == "set aside"


# ---- when it was made -----------------------------------------------------------------------------------------------


def in_time(plant: Plant) -> None:
    ordinary(plant, "later than as-of")
    choose(plant, "later than as-of", "named rate", 0.05, on=date(2024, 7, 2))
    ordinary(plant, "on the as-of date")
    choose(plant, "on the as-of date", "named rate", 0.16, on=AS_OF)
    ordinary(plant, "before the last reading")
    choose(plant, "before the last reading", "named rate", 0.16, on=date(2018, 5, 1))
    ordinary(plant, "on the day of the reading")
    choose(plant, "on the day of the reading", "named rate", 0.16, on=Y20)
    for name, day in (("before the event", date(2013, 6, 1)), ("after the event", date(2013, 6, 3))):
        ordinary(plant, name)
        plant.add("events", name, "Shell", date(2013, 6, 2), "change of service", None)
        choose(plant, name, "named rate", 0.16, on=day)


def test_a_choice_after_the_as_of_date_is_left_out(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "later than as-of")
    assert place["rate_mm_per_year"] == pytest.approx(POLICY)
    assert place["rate_choice_refused"] is None
    (line,) = ledger_of(plant, "the rate choice of later than as-of Shell is not used")
    assert "after the as-of date" in line["reason"]
    assert place_of(plant, "on the as-of date")["rate_mm_per_year"] == pytest.approx(0.16)


def test_a_choice_older_than_the_last_reading_stays_in_force_and_is_flagged(plant: duckdb.DuckDBPyConnection) -> None:
    place = place_of(plant, "before the last reading")
    assert place["rate_mm_per_year"] == pytest.approx(0.16)
    assert place["rate_choice_older"] is True
    (line,) = ledger_of(plant, "of before the last reading was chosen", "stays in force")
    assert line["severity"] == "warning"
    assert place_of(plant, "on the day of the reading")["rate_choice_older"] is False


def test_no_choice_crosses_an_event_that_began_a_new_history(plant: duckdb.DuckDBPyConnection) -> None:
    """Since the event two readings: 0.4/4 = 0.1."""
    place = place_of(plant, "before the event")
    assert place["rate_mm_per_year"] == pytest.approx(0.1)
    assert "2013-06-02" in place["rate_choice_refused"]
    (line,) = ledger_of(plant, "of before the event does not count")
    assert line["severity"] == "set aside"
    assert place_of(plant, "after the event")["rate_mm_per_year"] == pytest.approx(0.16)


# ---- places and components, one choice and another ------------------------------------------------------------------


def several(plant: Plant) -> None:
    for name in (
        "place and component",
        "place without reason",
        "place before the event",
        "place without such a rate",
        "older for one place",
    ):
        ordinary(plant, name)
        plant.place(name, "Shell", ORDINARY, "2")
    choose(plant, "place and component", "named rate", 0.05)
    choose(plant, "place and component", "named rate", 0.16, location="2", on=date(2020, 2, 1))
    choose(plant, "place without reason", "named rate", 0.3)
    choose(plant, "place without reason", "named rate", 0.05, location="2", reason=None)
    plant.add("events", "place before the event", "Shell", date(2013, 6, 2), "change of service", None)
    choose(plant, "place before the event", "named rate", 0.3)
    choose(plant, "place before the event", "named rate", 0.05, location="2", on=date(2010, 1, 1))
    choose(plant, "place without such a rate", "named rate", 0.3)
    choose(plant, "place without such a rate", "similar service", location="2")
    choose(plant, "older for one place", "named rate", 0.3)
    choose(plant, "older for one place", "named rate", 0.2, location="2", on=date(2018, 1, 1))
    ordinary(plant, "two in turn")
    choose(plant, "two in turn", "named rate", 0.3, on=date(2022, 1, 1))
    choose(plant, "two in turn", "named rate", 0.2, on=date(2023, 1, 1))
    choose(plant, "two in turn", "named rate", 0.4, on=date(2021, 1, 1))
    ordinary(plant, "two of one day")
    choose(plant, "two of one day", "named rate", 0.2)
    choose(plant, "two of one day", "named rate", 0.3)


def test_the_choice_for_a_place_comes_before_that_for_its_component(plant: duckdb.DuckDBPyConnection) -> None:
    """Also where it is the older of the two. The component's life is the shorter: 1.0/0.16 = 6.25."""
    assert place_of(plant, "place and component")["rate_mm_per_year"] == pytest.approx(0.05)
    assert place_of(plant, "place and component", location="2")["rate_mm_per_year"] == pytest.approx(0.16)
    (component,) = rows(plant, "SELECT * FROM result.component WHERE asset = 'place and component'")
    assert component["remaining_life_years"] == pytest.approx(6.25)


@pytest.mark.parametrize("name", ["place without reason", "place before the event", "place without such a rate"])
def test_a_place_s_choice_that_does_not_count_leaves_that_of_the_component(
    plant: duckdb.DuckDBPyConnection, name: str
) -> None:
    """What does not count undoes nothing: the higher rate chosen for the whole shell holds at this place too."""
    for location in ("1", "2"):
        place = place_of(plant, name, location=location)
        assert place["rate_mm_per_year"] == pytest.approx(0.3), location
        assert place["rate_chosen_by"] == BY
    lines = ledger_of(plant, f"of {name} does not count")
    assert [line["severity"] for line in lines] == ["set aside"]
    assert "location 2" in lines[0]["reason"]


def test_only_the_choice_older_than_a_reading_is_flagged(plant: duckdb.DuckDBPyConnection) -> None:
    lines = ledger_of(plant, "of older for one place was chosen")
    assert len(lines) == 1
    assert "location 2" in lines[0]["reason"]


def test_of_two_choices_the_later_stands(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "two in turn")["rate_mm_per_year"] == pytest.approx(0.2)
    assert place_of(plant, "two of one day")["rate_mm_per_year"] == pytest.approx(0.3)


# ---- zero and the floor ---------------------------------------------------------------------------------------------


def below_zero(plant: Plant) -> None:
    # ST = (11.4 - 11.6)/4 = -0.05; LT = 0.8/12 = 0.066667
    ordinary(plant, "negative short-term", (*ORDINARY[:3], (Y20, 11.6)))
    choose(plant, "negative short-term", "short-term")
    ordinary(plant, "named zero")
    choose(plant, "named zero", "named rate", 0)
    ordinary(plant, "named below zero")
    choose(plant, "named below zero", "named rate", -0.1)


@pytest.mark.parametrize("name", ["negative short-term", "named zero"])
def test_a_chosen_rate_below_zero_counts_as_zero(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """No measurable loss: no end of life, the interval is the cap of 10 years, 3652 whole days."""
    place = place_of(plant, name)
    assert (place["rate_mm_per_year"], place["no_measurable_loss"]) == (0, True)
    assert (place["remaining_life_years"], place["retirement_on"]) == (None, None)
    assert place["due_on"] == after(Y20, 3652)


def test_a_named_rate_below_zero_is_refused_at_its_cell(plant: duckdb.DuckDBPyConnection) -> None:
    assert place_of(plant, "named below zero")["rate_mm_per_year"] == pytest.approx(POLICY)
    assert rows(plant, "SELECT * FROM result.ledger WHERE text = '-0.1' AND severity = 'set aside'")


def test_the_floor_raises_a_chosen_rate_too(tmp_path: Path) -> None:
    """Floor 0.05 mm/year: 1.0/0.05 = 20 years; -0.05 counts as 0.05: 1.6/0.05 = 32; a chosen 0.16 stays."""
    plant = Plant()
    below_zero(plant)
    ordinary(plant, "above the floor")
    choose(plant, "above the floor", "named rate", 0.16)
    with opened(plant.write(tmp_path / "plant", "rate_floor_mm_per_year = 0.05\n"), AS_OF) as connection:
        for name, life in (("named zero", 20.0), ("negative short-term", 32.0)):
            place = place_of(connection, name)
            assert place["rate_mm_per_year"] == pytest.approx(0.05)
            assert place["rate_floor_applied"] is True
            assert place["remaining_life_years"] == pytest.approx(life)
        kept = place_of(connection, "above the floor")
        assert (kept["rate_mm_per_year"], kept["rate_floor_applied"]) == (pytest.approx(0.16), False)


# ---- similar service ------------------------------------------------------------------------------------------------

STEEL = "SA-516 70"


def falling(rate: float) -> Points:
    """Two readings eight years apart."""
    return ((Y12, 14.0), (Y20, round(14.0 - 8 * rate, 6)))


@pytest.fixture(scope="module")
def alike(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    """Spent caustic on SA-516: 0.01 to 0.05 on C-1, 0.06 to 0.10 and one that grew on C-2, each spelt in its way."""
    plant = Plant()
    spelt = {"C-1": ("Spent caustic", "SA-516 70"), "C-2": (" spent  CAUSTIC ", "sa-516  70 ")}
    for asset, first in (("C-1", 1), ("C-2", 6)):
        service, material = spelt[asset]
        plant.vessel(asset, falling(first / 100), service=service, material=material)
        for more in range(1, 5):
            plant.place(asset, "Shell", falling((first + more) / 100), str(more + 1))
    plant.place("C-2", "Shell", ((Y12, 14.0), (Y20, 14.2)), "6")
    # Neither a rate from the nominal thickness nor one over less than a year says what the service does.
    plant.place("C-2", "Shell", ((Y20, 8.0),), "7")
    plant.place("C-2", "Shell", ((date(2019, 9, 1), 14.0), (Y20, 13.8)), "8")
    # Alike, with one reading from the nominal 16 of 2004: LT = 1.6/16 = 0.1.
    plant.vessel("C-3", ((Y20, 14.4),), service="Spent caustic", material=STEEL)
    plant.vessel("C-4", ((Y20, 14.4),), service="SPENT CAUSTIC", material=STEEL)
    choose(plant, "C-4", "similar service")
    # Not alike: another material, another service, no material.
    plant.vessel("N-1", falling(0.5), service="Spent caustic", material="SA-240 304L")
    plant.vessel("N-2", falling(0.5), service="Fresh caustic", material=STEEL)
    plant.vessel("N-3", falling(0.5), service="Spent caustic")
    # Four places alike and no more: one too few to suggest a rate to F-2.
    plant.vessel("F-1", falling(0.02), service="Amine", material=STEEL)
    for location in ("2", "3", "4"):
        plant.place("F-1", "Shell", falling(0.02), location)
    plant.vessel("F-2", ((Y20, 14.4),), service="Amine", material=STEEL)
    choose(plant, "F-2", "similar service")
    with opened(plant.write(tmp_path_factory.mktemp("alike") / "plant"), AS_OF) as connection:
        yield connection


def component_of(connection: duckdb.DuckDBPyConnection, asset: str) -> dict:
    (row,) = rows(connection, "SELECT * FROM result.component WHERE asset = ? AND component = 'Shell'", asset)
    return row


@pytest.mark.parametrize(
    ("asset", "places", "own"), [("C-3", 11, None), ("C-4", 11, None), ("C-1", 6, 0.05), ("C-2", 5, 0.10)]
)
def test_similar_service_suggests_what_nine_in_ten_do_not_exceed(
    alike: duckdb.DuckDBPyConnection, asset: str, places: int, own: float | None
) -> None:
    """Eleven places: 0 (it grew), 0.01, ... 0.10. Half of them is passed with the sixth, 0.05; nine in ten (9.9 of
    eleven) with the tenth, 0.09.
    """
    component = component_of(alike, asset)
    assert component["similar_places"] == places
    assert component["similar_vessels"] == 2
    assert component["similar_rate_median_mm_per_year"] == pytest.approx(0.05)
    assert component["similar_rate_high_mm_per_year"] == pytest.approx(0.09)
    assert component["similar_rate_suggested_mm_per_year"] == pytest.approx(0.09)
    assert component["own_rate_high_mm_per_year"] == (None if own is None else pytest.approx(own))


def test_the_suggestion_governs_only_where_it_is_chosen(alike: duckdb.DuckDBPyConnection) -> None:
    """C-3 keeps 1.6/16 = 0.1 from nominal; C-4 has 0.09: 4.4/0.09 = 48.889 years."""
    left, chosen = place_of(alike, "C-3"), place_of(alike, "C-4")
    assert (left["rate_mm_per_year"], left["rate_from"]) == (pytest.approx(0.1), "long-term from nominal")
    assert left["similar_rate_mm_per_year"] == pytest.approx(0.09)
    assert (chosen["rate_mm_per_year"], chosen["rate_from"]) == (pytest.approx(0.09), "similar service")
    assert chosen["remaining_life_years"] == pytest.approx(48.889, abs=5e-4)
    assert chosen["rate_by_policy_mm_per_year"] == pytest.approx(0.1)


@pytest.mark.parametrize("asset", ["F-2", "N-1", "N-2", "N-3"])
def test_too_few_places_suggest_nothing(alike: duckdb.DuckDBPyConnection, asset: str) -> None:
    component = component_of(alike, asset)
    assert component["similar_places"] == (4 if asset == "F-2" else 0)
    assert component["similar_rate_suggested_mm_per_year"] is None
    assert place_of(alike, asset)["similar_rate_mm_per_year"] is None


def test_a_suggestion_that_is_not_there_cannot_be_chosen(alike: duckdb.DuckDBPyConnection) -> None:
    place = place_of(alike, "F-2")
    assert place["rate_mm_per_year"] == pytest.approx(0.1)
    assert "similar service" in place["rate_choice_refused"]
