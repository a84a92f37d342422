"""What the scatter of readings alone can do: bands of rates, lives and dates, and the worth of the last reading.

By hand from engineering basis 3: a two-point rate has the standard deviation sqrt(2) s/years; a band is two of them
to either side. Required thickness is 10 mm (12.5 in the table), s = 0.10 mm unless the case states it, and readings
on 1 January of leap years lie exactly 4 years of 365.25 days apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import pytest
from scipy import stats

from pipeline.explain import explain
from tests.vessels import Y04, Y08, Y16, Y20, Plant, Points, Row, after, opened, place_of, rows

AS_OF = date(2020, 6, 1)
CAP_DAYS = 3652  # 10 years are 3652.5 days

# Long-term over 16 years: (13.2 - 11.6)/16 = 0.1; short-term over 4: 0.3/4 = 0.075, not the greater.
STEADY: Points = ((Y04, 13.2), (Y16, 11.9), (Y20, 11.6))
# Long-term (12.4 - 11.2)/12 = 0.1, short-term 0.8/4 = 0.2, which governs.
QUICK: Points = ((Y08, 12.4), (Y16, 12.0), (Y20, 11.2))
# Long-term 0.1/16 = 0.00625, within its deviation of 0.00884: nothing excludes no loss at all.
HARDLY: Points = ((Y04, 12.1), (Y20, 12.0))
GREW: Points = ((Y04, 12.0), (Y20, 12.1))


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    plant = Plant()
    for name, points in {"steady": STEADY, "quick": QUICK, "hardly": HARDLY, "grew": GREW}.items():
        plant.vessel(name, points)
    plant.vessel("from nominal", ((Y20, 12.8),))
    plant.vessel("stated", ((Y20, 12.8),), nominal=None, stated=0.1)
    for word, rate in (("named rate", 0.2), ("short-term", None), ("least squares", None), ("fit upper bound", None)):
        plant.vessel(word, STEADY)
        plant.add("choices", word, "Shell", None, word, rate, "as found inside", "R. Keel", date(2020, 2, 1))
    # Below required, and the loss within scatter.
    plant.vessel("below, hardly", ((Y04, 9.9), (Y20, 9.8)))
    # 0.10 mm above and below the required 10 mm, less than s = 0.10 away.
    plant.vessel("just above", ((Y04, 11.65), (Y20, 10.05)))
    plant.vessel("just below", ((Y04, 11.55), (Y20, 9.95)))
    plant.vessel("new service", ((date(2019, 12, 1), 15.9),), stated=0.01, since=date(2019, 11, 1))
    plant.vessel("unread", ())
    plant.add("survey", "unread", "Shell", "1", Y20, "no access")
    with opened(plant.write(tmp_path_factory.mktemp("bands") / "plant"), AS_OF) as connection:
        yield connection


def band_of(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    (row,) = rows(connection, "SELECT * FROM step.band WHERE asset = ?", asset)
    return row


# ---- the band -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "deviation", "low", "high"),
    [
        # sqrt(2) x 0.1/16 = 0.00883883; 0.1 -/+ 0.01767767
        ("steady", 0.00883883, 0.08232233, 0.11767767),
        # sqrt(2) x 0.1/4 = 0.03535534; 0.2 -/+ 0.07071068
        ("quick", 0.03535534, 0.12928932, 0.27071068),
        # 0.00625 + 0.01767767 = 0.02392767; 0.00625 - 0.01767767 is below zero and counts as none
        ("hardly", 0.00883883, 0.0, 0.02392767),
        # -0.00625 + 0.01767767 = 0.01142767, though the rate itself counts as zero
        ("grew", 0.00883883, 0.0, 0.01142767),
        # From the nominal 16 of 2004: 3.2/16 = 0.2
        ("from nominal", 0.00883883, 0.18232233, 0.21767767),
        # Chosen: 0.3/4 = 0.075 -/+ 0.07071068
        ("short-term", 0.03535534, 0.00428932, 0.14571068),
    ],
)
def test_a_two_point_rate_lies_within_two_deviations(
    plant: duckdb.DuckDBPyConnection, name: str, deviation: float, low: float, high: float
) -> None:
    place = place_of(plant, name)
    assert place["rate_deviation_mm_per_year"] == pytest.approx(deviation, abs=1e-8)
    assert place["rate_low_mm_per_year"] == pytest.approx(low, abs=1e-8)
    assert place["rate_high_mm_per_year"] == pytest.approx(high, abs=1e-8)
    assert place["rate_low_mm_per_year"] <= place["rate_mm_per_year"] <= place["rate_high_mm_per_year"]


@pytest.mark.parametrize(
    ("name", "lives", "retirement", "due"),
    [
        # 1.6/0.11767767 = 13.596463 and 1.6/0.08232233 = 19.435796 years: 4966.108 and 7098.924 days;
        # the intervals are half of them, 2483.05 and 3549.46 days.
        ("steady", (13.596463, 19.435796), (4966, 7098), (2483, 3549)),
        # 1.2/0.27071068 = 4.432776 and 1.2/0.12928932 = 9.281509 years: 1619.071 and 3390.071 days; half 809.5, 1695.0.
        ("quick", (4.432776, 9.281509), (1619, 3390), (809, 1695)),
    ],
)
def test_lives_and_dates_follow_the_ends_of_the_band(
    plant: duckdb.DuckDBPyConnection,
    name: str,
    lives: tuple[float, float],
    retirement: tuple[int, int],
    due: tuple[int, int],
) -> None:
    place, band = place_of(plant, name), band_of(plant, name)
    assert place["remaining_life_low_years"] == pytest.approx(lives[0], abs=2e-6)
    assert place["remaining_life_high_years"] == pytest.approx(lives[1], abs=2e-6)
    ends = (after(Y20, retirement[0]), after(Y20, retirement[1]))
    assert (place["retirement_earliest_on"], place["retirement_latest_on"]) == ends
    ends = (after(Y20, due[0]), after(Y20, due[1]))
    assert (place["due_earliest_on"], place["due_latest_on"]) == ends
    assert (band["internal_due_earliest_on"], band["internal_due_latest_on"]) == ends
    assert place["due_earliest_on"] <= place["due_on"] <= place["due_latest_on"]


def test_a_band_that_holds_zero_has_no_end_and_the_cap(plant: duckdb.DuckDBPyConnection) -> None:
    """2.0/0.02392767 = 83.59 years at the high rate: retired after floor(30529.9) days, the cap for the interval."""
    place = place_of(plant, "hardly")
    assert place["remaining_life_low_years"] == pytest.approx(83.585, abs=1e-3)
    assert place["retirement_earliest_on"] == after(Y20, 30529)
    assert (place["remaining_life_high_years"], place["retirement_latest_on"]) == (None, None)
    assert (place["due_earliest_on"], place["due_latest_on"]) == (after(Y20, CAP_DAYS), after(Y20, CAP_DAYS))


def test_a_place_below_required_is_due_at_once_at_either_end(plant: duckdb.DuckDBPyConnection) -> None:
    """Also where the low end of the rate is zero: an interval without a life would be no date at all."""
    place = place_of(plant, "below, hardly")
    assert place["rate_low_mm_per_year"] == 0
    assert (place["due_earliest_on"], place["due_on"], place["due_latest_on"]) == (Y20, Y20, Y20)


def test_the_first_check_of_a_new_service_is_due_whatever_the_rate(plant: duckdb.DuckDBPyConnection) -> None:
    """In service since 2019-11-01, read after 30 days: 0.1 mm from nominal in 0.082136 years, 1.217500 mm/year, more
    than the 0.01 stated; deviation sqrt(2) x 0.1/0.082136 = 1.7218, so the low end is zero and its interval the cap.
    The first check is due 182 days after the start, before either end of the band.
    """
    place = place_of(plant, "new service")
    assert place["rate_mm_per_year"] == pytest.approx(1.2175)
    assert place["rate_low_mm_per_year"] == 0
    first = after(date(2019, 11, 1), 182)
    assert (place["due_on"], place["due_earliest_on"], place["due_latest_on"]) == (
        first,
        # 5.9 mm at 1.2175 + 2 x 1.7218 = 4.6611 mm/year: 1.2658 years, all of it (under two): later than the check.
        first,
        first,
    )
    told = explain(plant, "new service")
    assert f"the first check reading is due 3 to 6 months after its start, by {first} " in " ".join(told.remarks)
    assert {"rate_with_stated", "whole_days"} & {link.id for link in told.links} == {"rate_with_stated"}


@pytest.mark.parametrize("name", ["least squares", "fit upper bound"])
def test_the_band_of_a_fit_is_that_of_its_standard_error(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """By scipy over x = 0, 12, 16 years; the bound has Student's t of one degree of freedom, 6.3138."""
    line = stats.linregress([0, 12, 16], [13.2, 11.9, 11.6])
    chosen = -line.slope + (stats.t.ppf(0.95, 1) * line.stderr if name == "fit upper bound" else 0)
    place = place_of(plant, name)
    assert place["rate_mm_per_year"] == pytest.approx(chosen, rel=1e-4)
    assert place["rate_low_mm_per_year"] == pytest.approx(chosen - 2 * line.stderr, rel=1e-4)
    assert place["rate_high_mm_per_year"] == pytest.approx(chosen + 2 * line.stderr, rel=1e-4)


@pytest.mark.parametrize("name", ["named rate", "stated", "unread"])
def test_a_rate_that_no_reading_gives_has_no_band(plant: duckdb.DuckDBPyConnection, name: str) -> None:
    """A number a person names has whatever error it has: none is invented for it."""
    place = place_of(plant, name)
    for column in (
        "rate_deviation_mm_per_year",
        "rate_low_mm_per_year",
        "rate_high_mm_per_year",
        "remaining_life_low_years",
        "remaining_life_high_years",
        "retirement_earliest_on",
        "retirement_latest_on",
        "due_earliest_on",
        "due_latest_on",
    ):
        assert place[column] is None, column


def test_the_floor_holds_for_both_ends(tmp_path: Path) -> None:
    """Floor 0.0125: of 0.00625 -/+ 0.01767767 the low end is 0.0125, 160 years; of -0.00625 + 0.01767767 both."""
    plant = Plant()
    plant.vessel("hardly", HARDLY)
    plant.vessel("grew", GREW)
    with opened(plant.write(tmp_path / "plant", "rate_floor_mm_per_year = 0.0125\n"), AS_OF) as connection:
        place = place_of(connection, "hardly")
        assert place["rate_low_mm_per_year"] == pytest.approx(0.0125)
        assert place["rate_high_mm_per_year"] == pytest.approx(0.02392767, abs=1e-8)
        assert place["remaining_life_high_years"] == pytest.approx(160)
        grown = place_of(connection, "grew")
        assert grown["rate_low_mm_per_year"] == grown["rate_high_mm_per_year"] == pytest.approx(0.0125)


# ---- what the last reading is worth ---------------------------------------------------------------------------------

# 20 and 5 years before the last reading, to the day: 7305 days, and 1826 days, which are 4.999316 years.
LAST = date(2024, 1, 1)
TABLE: Points = ((Y04, 16.0), (after(LAST, -1826), 14.5), (LAST, 14.0))
FIVE = 1826 / 365.25

# s: (thinner, thicker), each the difference of the last reading, its rate and its remaining life; required 12.5 mm.
# From the published table: -0.50: ST 0.200, LT 0.125, RL 5.0; -0.25: 0.150, 0.113, 8.3; 0: 0.100, 0.100, 15.0;
# +0.25: 0.050, 0.088, 20.0; +0.50: 0.000, 0.075, 26.7. Exactly:
#   -0.50: 1.00/(1.00/5)  = 5.0        -0.25: 1.25/(0.75/5)  = 8.3333
#   +0.25: 1.75/(1.75/20) = 20.0       +0.50: 2.00/(1.50/20) = 26.6667
# Where ST governs, five years are 1826 days here, so that the life is that share of it: x 1826/1826.25.
WORTH = {0.25: (1.25 / (0.75 / FIVE), 20.0), 0.50: (1.00 / (1.00 / FIVE), 80 / 3)}


@pytest.mark.parametrize("scatter", WORTH)
def test_the_life_with_the_last_reading_off_by_its_scatter(tmp_path: Path, scatter: float) -> None:
    plant = Plant()
    plant.vessel("table", TABLE, structural=12.5)
    basis = f"reading_scatter_mm = {scatter}\n"
    with opened(plant.write(tmp_path / "plant", basis), date(2024, 6, 1)) as connection:
        band, place = band_of(connection, "table"), place_of(connection, "table")
        thinner, thicker = WORTH[scatter]
        assert place["remaining_life_years"] == pytest.approx(15.0, rel=2e-4)
        assert band["remaining_life_thinner_years"] == pytest.approx(thinner, rel=1e-9)
        assert band["remaining_life_thicker_years"] == pytest.approx(thicker, rel=1e-9)
        assert thinner == pytest.approx({0.25: 8.3, 0.50: 5.0}[scatter], abs=0.05)
        # -0.25: 4.166 years, floor(1521.67); -0.50: 2.4997 years, floor(912.99); thicker: the cap of 10 years.
        # The very day of -0.50: 1826 x 1.00/1.00/2 = 913.0 days exactly.
        assert band["due_thinner_on"] == after(LAST, {0.25: 1521, 0.50: 913}[scatter])
        assert band["due_thicker_on"] == after(LAST, CAP_DAYS)
        assert band["internal_due_thinner_on"] == band["due_thinner_on"]
        assert (place["due_thinner_on"], place["due_thicker_on"]) == (band["due_thinner_on"], band["due_thicker_on"])
        assert (band["below_if_thinner"], band["below_if_thicker"]) == (False, False)


def test_a_verdict_that_one_reading_s_scatter_turns(plant: duckdb.DuckDBPyConnection) -> None:
    """s = 0.10: 10.05 - 0.10 is below 10, 9.95 + 0.10 is not."""
    above, below = band_of(plant, "just above"), band_of(plant, "just below")
    assert (above["below_if_thinner"], above["below_if_thicker"]) == (True, False)
    assert (below["below_if_thinner"], below["below_if_thicker"]) == (True, False)
    assert above["due_thinner_on"] == Y20
    # (10.05 - 10)/(1.5/16) = 0.533333 years: floor(194.8) days
    assert below["due_thicker_on"] == after(Y20, 194)


def test_a_chosen_rate_stays_with_the_last_reading_off(plant: duckdb.DuckDBPyConnection) -> None:
    """0.2 named: (11.6 -/+ 0.1 - 10)/0.2 = 7.5 and 8.5 years, half of them floor(1369.69) and floor(1552.31) days."""
    band = band_of(plant, "named rate")
    assert band["remaining_life_thinner_years"] == pytest.approx(7.5)
    assert band["remaining_life_thicker_years"] == pytest.approx(8.5)
    assert (band["due_thinner_on"], band["due_thicker_on"]) == (after(Y20, 1369), after(Y20, 1552))


def test_a_stated_rate_and_one_reading_have_their_worth_too(plant: duckdb.DuckDBPyConnection) -> None:
    """Nothing but the reading and 0.1 mm/year stated: (12.8 -/+ 0.1 - 10)/0.1 = 27 and 29 years."""
    band = band_of(plant, "stated")
    assert band["remaining_life_thinner_years"] == pytest.approx(27.0)
    assert band["remaining_life_thicker_years"] == pytest.approx(29.0)


def test_the_fit_with_the_last_reading_off_is_that_of_scipy(tmp_path: Path) -> None:
    """The sums are moved, not refitted: they must give what a fit through the moved readings gives."""
    points = (
        (date(2004, 3, 15), 14.93),
        (date(2007, 6, 1), 14.61),
        (date(2011, 9, 10), 14.30),
        (date(2015, 2, 20), 13.92),
        (date(2018, 11, 30), 13.60),
        (date(2020, 5, 5), 13.31),
    )
    scatter = 0.2
    plant = Plant()
    plant.vessel("scattered", points)
    basis = f'rate_policy = "fit upper bound"\nreading_scatter_mm = {scatter}\n'
    years = [(day - Y04).days / 365.25 for day, _ in points]
    with opened(plant.write(tmp_path / "plant", basis), AS_OF) as connection:
        place = place_of(connection, "scattered")
        line = stats.linregress(years, [thickness for _, thickness in points])
        bound = -line.slope + stats.t.ppf(0.95, 4) * line.stderr
        assert place["rate_mm_per_year"] == pytest.approx(bound, rel=1e-4)
        # The band of the bound is two standard errors of the fit to either side.
        assert place["rate_low_mm_per_year"] == pytest.approx(bound - 2 * line.stderr, rel=1e-4)
        assert place["rate_high_mm_per_year"] == pytest.approx(bound + 2 * line.stderr, rel=1e-4)
        for off, scenario, told in ((1, "last reading thicker", "thicker"), (-1, "last reading thinner", "thinner")):
            moved = [thickness for _, thickness in points[:-1]] + [points[-1][1] + off * scatter]
            line = stats.linregress(years, moved)
            (rate,) = rows(connection, "SELECT * FROM step.rate WHERE scenario = ?", scenario)
            assert rate["rate_fit_mm_per_year"] == pytest.approx(-line.slope, rel=1e-6)
            assert rate["rate_fit_error_mm_per_year"] == pytest.approx(line.stderr, rel=1e-6)
            bound = -line.slope + stats.t.ppf(0.95, 4) * line.stderr
            life = (moved[-1] - 10.0) / bound
            assert band_of(connection, "scattered")[f"remaining_life_{told}_years"] == pytest.approx(life, rel=1e-4)
