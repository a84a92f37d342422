"""Which corrosion rate governs, from spreadsheets to results; expected values by hand from engineering basis 3.

Every vessel has a nominal wall of 16 mm, is in service since 2004-01-01, and has a structural minimum of 10 mm that
sets the required thickness. Readings lie on 1 January of leap years, exactly 4 years of 365.25 days apart, unless the
case is about the days. s = 0.10 mm, so a loss is noise up to 0.282843 mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest
from scipy import stats

from pipeline.calculation_record import calculation_record
from pipeline.explain import explain
from pipeline.paper import Table
from pipeline.run import build
from tests.plants import write_plant

AS_OF = date(2024, 7, 1)
Y04, Y08, Y12, Y16, Y20 = (date(year, 1, 1) for year in (2004, 2008, 2012, 2016, 2020))
T_REQ = 10.0

Points = tuple[tuple[date, float], ...]
Row = dict[str, Any]

#: vessel: readings
SERIES: dict[str, Points] = {
    # LT = 1.4/12 = 0.116667, ST = 0.4/4 = 0.1
    "slowing": ((Y08, 15.0), (Y12, 14.6), (Y16, 14.0), (Y20, 13.6)),
    # LT = 0.9/12 = 0.075, ST = 0.6/4 = 0.15
    "quickening": ((Y08, 15.0), (Y12, 14.9), (Y16, 14.7), (Y20, 14.1)),
    # LT = 0.8/12 = 0.066667, ST = -0.2/4 = -0.05
    "noise at the end": ((Y08, 15.0), (Y16, 14.0), (Y20, 14.2)),
    # LT = -0.1/8 = -0.0125, ST = -0.025
    "noise only": ((Y12, 14.0), (Y16, 14.0), (Y20, 14.1)),
    "no loss": ((Y16, 14.0), (Y20, 14.0)),
    # 3383 and 1387 days: LT = 0.96 x 365.25/3383 = 0.103648, ST = 0.51 x 365.25/1387 = 0.134302
    "odd days": ((date(2010, 5, 17), 15.37), (date(2015, 11, 3), 14.92), (date(2019, 8, 21), 14.41)),
    # 182 days = 0.498289 years. Loss 0.20, within 0.2828: ST = 0.401374 does not govern;
    # LT = 1.2 x 365.25/4565 = 0.096013
    "short and within scatter": ((Y08, 15.0), (Y20, 14.0), (date(2020, 7, 1), 13.8)),
    # Loss 0.30, beyond 0.2828: ST = 0.3 x 365.25/182 = 0.602060 governs; LT = 1.3 x 365.25/4565 = 0.104014
    "short and beyond scatter": ((Y08, 15.0), (Y20, 14.0), (date(2020, 7, 1), 13.7)),
    # 365 days are less than one year of 365.25: ST = 0.2 x 365.25/365 = 0.200137 does not govern;
    # LT = 1.2 x 365.25/(4383 + 365) = 0.092313
    "365 days": ((Y08, 15.0), (Y20, 14.0), (date(2020, 12, 31), 13.8)),
    # 366 days are more: ST = 0.2 x 365.25/366 = 0.199590 governs; LT = 1.2 x 365.25/4749 = 0.092293
    "366 days": ((Y08, 15.0), (Y20, 14.0), (date(2021, 1, 1), 13.8)),
    # From the nominal 16 of 2004: LT = 1.2/12 = 0.1, no ST
    "one reading": ((Y16, 14.8),),
    "one, thicker than nominal": ((Y16, 16.2),),
    "scattered": (
        (date(2004, 3, 15), 15.93),
        (date(2007, 6, 1), 15.61),
        (date(2011, 9, 10), 15.30),
        (date(2015, 2, 20), 15.22),
        (date(2018, 11, 30), 14.70),
        (date(2022, 5, 5), 14.51),
    ),
}

# vessel: (greater, long-term, short-term); a negative rate counts as zero; where the short-term rate may not govern
# or does not exist the long-term one does.
EXPECTED = {
    "slowing": (0.116667, 0.116667, 0.1),
    "quickening": (0.15, 0.075, 0.15),
    "noise at the end": (0.066667, 0.066667, 0.0),
    "noise only": (0.0, 0.0, 0.0),
    "no loss": (0.0, 0.0, 0.0),
    "odd days": (0.134302, 0.103648, 0.134302),
    "short and within scatter": (0.096013, 0.096013, 0.096013),
    "short and beyond scatter": (0.602060, 0.104014, 0.602060),
    "365 days": (0.092313, 0.092313, 0.092313),
    "366 days": (0.199590, 0.092293, 0.199590),
    "one reading": (0.1, 0.1, 0.1),
    "one, thicker than nominal": (0.0, 0.0, 0.0),
}
HALF_A_DIGIT = 5e-7
POLICIES = ("greater", "long-term", "short-term")

REGISTER = ("Asset", "Service", "In service", "MAWP (MPa)", "Inside diameter (mm)")
PARTS = (
    "Asset",
    "Component",
    "Kind",
    "Nominal thickness (mm)",
    "Allowable stress (MPa)",
    "Joint efficiency",
    "Structural minimum (mm)",
    "Stated corrosion rate (mm/year)",
)
SURVEY = ("Asset", "Component", "Location", "Date", "Thickness (mm)")
EVENTS = ("Asset", "Component", "Date", "Event", "New thickness (mm)")


def vessel(name: str, *, nominal: float | None = 16.0, stated: float | None = None, since: date | None = Y04) -> Row:
    """The register and component rows of one vessel."""
    return {
        "register": (name, "Process gas", since, 0.5, 1000),
        "parts": (name, "Shell", "cylinder", nominal, 150, 1.0, T_REQ, stated),
    }


def plant(
    folder: Path,
    series: dict[str, Points],
    basis: str = "",
    vessels: dict[str, Row] | None = None,
    events: tuple[tuple, ...] = (),
) -> Path:
    """Write a plant with one vessel for each series; `vessels` gives the rows of those out of the ordinary."""
    vessels = vessels or {}
    known = [vessels.get(name) or vessel(name) for name in series]
    return write_plant(
        folder,
        basis=basis,
        register=[REGISTER, *(row["register"] for row in known)],
        parts=[PARTS, *(row["parts"] for row in known)],
        survey=[SURVEY, *((name, "Shell", "1", *point) for name, points in series.items() for point in points)],
        events=[EVENTS, *events],
    )


def opened(folder: Path) -> duckdb.DuckDBPyConnection:
    return duckdb.connect(str(build(folder, as_of=AS_OF).database.resolve()), read_only=True)


def place_of(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    cursor = connection.execute("SELECT * FROM result.location WHERE asset = ?", [asset])
    names = [column[0] for column in cursor.description]
    (row,) = cursor.fetchall()
    return dict(zip(names, row, strict=True))


Built = Callable[[str], duckdb.DuckDBPyConnection]


@pytest.fixture(scope="module")
def under(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Built]:
    """The same vessels under each rate policy, built at first use."""
    folder = tmp_path_factory.mktemp("rates")
    known: dict[str, duckdb.DuckDBPyConnection] = {}
    with ExitStack() as stack:

        def policy(name: str) -> duckdb.DuckDBPyConnection:
            if name not in known:
                written = plant(folder / name.replace(" ", "-"), SERIES, f'rate_policy = "{name}"\n')
                known[name] = stack.enter_context(opened(written))
            return known[name]

        yield policy


# ---- the policies ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("policy", POLICIES)
@pytest.mark.parametrize("name", EXPECTED)
def test_the_policy_s_rate_governs(under: Built, policy: str, name: str) -> None:
    place = place_of(under(policy), name)
    expected = EXPECTED[name][POLICIES.index(policy)]
    assert place["rate_mm_per_year"] == pytest.approx(expected, abs=HALF_A_DIGIT)
    assert place["no_measurable_loss"] is (expected == 0)
    if expected:
        t_act = SERIES[name][-1][1]
        assert place["remaining_life_years"] == pytest.approx((t_act - T_REQ) / expected, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "long_term", "short_term"),
    [
        ("slowing", 0.116667, 0.1),
        ("quickening", 0.075, 0.15),
        ("noise at the end", 0.066667, -0.05),
        ("noise only", -0.0125, -0.025),
        ("odd days", 0.103648, 0.134302),
        ("short and within scatter", 0.096013, 0.401374),
        ("short and beyond scatter", 0.104014, 0.602060),
        ("one reading", 0.1, None),
    ],
)
def test_both_rates_are_shown_whatever_governs(
    under: Built, name: str, long_term: float, short_term: float | None
) -> None:
    for policy in POLICIES:
        place = place_of(under(policy), name)
        assert place["rate_lt_mm_per_year"] == pytest.approx(long_term, abs=HALF_A_DIGIT)
        shown = place["rate_st_mm_per_year"]
        assert shown == (None if short_term is None else pytest.approx(short_term, abs=HALF_A_DIGIT))


def test_life_runs_from_the_reading(under: Built) -> None:
    """Odd days: RL = 4.41/0.134302 = 32.836 years = 4.41 x 1387/0.51 = 11993.47 days from 2019-08-21."""
    place = place_of(under("greater"), "odd days")
    assert place["remaining_life_years"] == pytest.approx(32.836, abs=5e-4)
    assert place["retirement_on"] == date(2019, 8, 21) + timedelta(days=11993)


# ---- short intervals ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("short and within scatter", False),
        ("short and beyond scatter", True),
        ("365 days", False),
        ("366 days", True),
        ("slowing", True),
    ],
)
def test_a_short_interval_counts_only_with_a_loss_beyond_scatter(under: Built, name: str, counts: bool) -> None:
    assert place_of(under("greater"), name)["short_term_counts"] is counts


def test_a_short_interval_proposes_a_re_measurement(under: Built) -> None:
    said = " ".join(explain(under("greater"), "short and within scatter").remarks).lower()
    assert "re-measure" in said
    assert "re-measure" not in " ".join(explain(under("greater"), "slowing").remarks).lower()


def test_the_plant_s_own_short_interval_and_scatter_are_used(tmp_path: Path) -> None:
    """Half a year and s = 0.05 (limit 0.1414): 182 days are still short, the loss of 0.20 is beyond scatter.
    A quarter year and s = 0.10: 182 days are long enough.
    """
    series = {"short and within scatter": SERIES["short and within scatter"]}
    for number, basis in enumerate(
        ("reading_scatter_mm = 0.05\nshort_interval_years = 0.5", "short_interval_years = 0.25")
    ):
        with opened(plant(tmp_path / str(number), series, basis + "\n")) as connection:
            assert place_of(connection, "short and within scatter")["rate_mm_per_year"] == pytest.approx(
                0.401374, abs=HALF_A_DIGIT
            )


# ---- zero rates and the floor ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["no loss", "noise only", "one, thicker than nominal"])
def test_a_zero_rate_has_no_end_and_the_cap(under: Built, name: str) -> None:
    """No life in years, no retirement date; the interval is the code maximum of 10 years, 3652 whole days."""
    place = place_of(under("greater"), name)
    assert place["no_measurable_loss"] is True
    assert place["remaining_life_years"] is None
    assert place["retirement_on"] is None
    assert place["interval_years"] == 10
    assert place["due_on"] == SERIES[name][-1][0] + timedelta(days=3652)


def test_the_floor_raises_low_rates_only(tmp_path: Path) -> None:
    """Floor 0.0254 mm/year: no loss 4/0.0254 = 157.480 years; slowing keeps 0.116667: 3.6/0.116667 = 30.857 years."""
    series = {name: SERIES[name] for name in ("no loss", "noise only", "slowing")}
    with opened(plant(tmp_path / "plant", series, "rate_floor_mm_per_year = 0.0254\n")) as connection:
        raised = place_of(connection, "no loss")
        assert raised["rate_mm_per_year"] == pytest.approx(0.0254)
        assert raised["rate_floor_applied"] is True
        assert raised["no_measurable_loss"] is False
        assert raised["remaining_life_years"] == pytest.approx(157.480, abs=5e-4)
        assert place_of(connection, "noise only")["rate_mm_per_year"] == pytest.approx(0.0254)
        kept = place_of(connection, "slowing")
        assert kept["rate_mm_per_year"] == pytest.approx(0.116667, abs=HALF_A_DIGIT)
        assert kept["rate_floor_applied"] is False
        assert kept["remaining_life_years"] == pytest.approx(30.857, abs=5e-4)
        assert "The plant's floor raised the rate." in explain(connection, "no loss").remarks
        assert "The plant's floor raised the rate." not in explain(connection, "slowing").remarks
        inputs = next(
            each.blocks[0]
            for each in calculation_record(connection, "no loss", "Shell", "Works").sections
            if each.title == "Inputs"
        )
        assert isinstance(inputs, Table)
        marks = {str(row[2]): row[6] for row in inputs.rows}
        assert marks["floor of the corrosion rate"] == "plant's policy"
        assert marks["longest interval allowed"] == "default"


def test_a_two_point_rate_has_its_deviation(under: Built) -> None:
    """sqrt(2) x 0.10/12 = 0.011785 mm/year over the twelve years of the long-term rate."""
    assert place_of(under("greater"), "slowing")["rate_deviation_mm_per_year"] == pytest.approx(0.011785, abs=5e-7)


# ---- least squares --------------------------------------------------------------------------------------------------

FITTED = [
    "slowing",
    "quickening",
    "noise at the end",
    "noise only",
    "odd days",
    "short and beyond scatter",
    "scattered",
]


def fitted(points: Points) -> tuple[float, float, float]:
    """Rate, its standard error and its one-sided 95 % bound by scipy, in mm/year."""
    years = [(day - Y04).days / 365.25 for day, _ in points]
    line = stats.linregress(years, [thickness for _, thickness in points])
    return -line.slope, line.stderr, -line.slope + stats.t.ppf(0.95, len(points) - 2) * line.stderr


@pytest.mark.parametrize("name", FITTED)
def test_the_fit_is_that_of_scipy(under: Built, name: str) -> None:
    place = place_of(under("greater"), name)
    rate, error, upper = fitted(SERIES[name])
    assert place["rate_fit_mm_per_year"] == pytest.approx(rate, rel=1e-6, abs=1e-9)
    assert place["rate_fit_error_mm_per_year"] == pytest.approx(error, rel=1e-6, abs=1e-9)
    assert place["rate_fit_upper_mm_per_year"] == pytest.approx(upper, rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("name", FITTED)
def test_the_bound_of_the_fit_governs_under_its_policy(under: Built, name: str) -> None:
    """A bound below zero counts as zero."""
    place = place_of(under("fit upper bound"), name)
    assert place["rate_mm_per_year"] == pytest.approx(max(0.0, fitted(SERIES[name])[2]), rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("name", ["no loss", "one reading"])
def test_without_a_bound_the_greater_rate_stays(under: Built, name: str) -> None:
    """Two readings leave no scatter to estimate. The basis is silent; the default policy's rate is assumed."""
    place = place_of(under("fit upper bound"), name)
    assert place["rate_fit_upper_mm_per_year"] is None
    assert place["rate_mm_per_year"] == pytest.approx(EXPECTED[name][0], abs=HALF_A_DIGIT)


def test_a_long_series_has_the_quantile_of_its_length(tmp_path: Path) -> None:
    """Forty readings with a saw-tooth of 0.1 mm: 38 degrees of freedom, one-sided 95 % quantile 1.6860."""
    points = tuple((Y04 + timedelta(days=180 * n), 15.9 - 0.03 * n + 0.05 * (-1) ** n) for n in range(40))
    with opened(plant(tmp_path / "plant", {"long": points})) as connection:
        place = place_of(connection, "long")
        _, error, upper = fitted(points)
        assert place["rate_fit_error_mm_per_year"] == pytest.approx(error, rel=1e-4)
        # A table that ends earlier may give a larger quantile, never a smaller one.
        assert place["rate_fit_upper_mm_per_year"] >= upper - 1e-7
        assert place["rate_fit_upper_mm_per_year"] == pytest.approx(upper, rel=2e-3)


# ---- one reading, none, a new history -------------------------------------------------------------------------------

ODD: dict[str, Points] = {
    "one, stated": ((Y16, 14.8),),
    "two, stated": ((Y16, 14.8), (Y20, 14.4)),
    "none, stated": (),
    "unread": (),
    "one, no nominal": ((Y16, 14.8),),
    "one, no nominal, stated": ((Y16, 14.8),),
    "one, no in-service date": ((Y16, 14.8),),
    "one, at the start": ((Y04, 15.9),),
    "stated zero": ((Y16, 14.8),),
    "changed, one": ((Y08, 15.0), (Y16, 14.8)),
    "changed, one, stated": ((Y08, 15.0), (Y16, 14.8)),
    "changed, two, stated": ((Y08, 15.0), (Y16, 14.8), (Y20, 14.6)),
    "replaced, thickness, one": ((Y08, 12.0), (Y16, 15.6)),
    "replaced, thickness, three": ((Y08, 12.0), (Y16, 15.6), (Y20, 15.5)),
}
ODD_VESSELS = {
    "one, stated": vessel("one, stated", stated=0.2),
    "two, stated": vessel("two, stated", stated=0.5),
    "none, stated": vessel("none, stated", stated=0.2),
    "one, no nominal": vessel("one, no nominal", nominal=None),
    "one, no nominal, stated": vessel("one, no nominal, stated", nominal=None, stated=0.2),
    "one, no in-service date": vessel("one, no in-service date", since=None),
    "stated zero": vessel("stated zero", nominal=None, stated=0.0),
    "changed, one, stated": vessel("changed, one, stated", stated=0.25),
    "changed, two, stated": vessel("changed, two, stated", stated=0.25),
}
ODD_EVENTS = (
    *((name, "Shell", Y12, "change of service", None) for name in ODD if name.startswith("changed")),
    *((name, "Shell", Y12, "replaced", 16.0) for name in ODD if name.startswith("replaced")),
)


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    folder = plant(tmp_path_factory.mktemp("odd") / "plant", ODD, vessels=ODD_VESSELS, events=ODD_EVENTS)
    with opened(folder) as connection:
        yield connection


@pytest.mark.parametrize(
    ("name", "rate", "initial_from", "life"),
    [
        # One reading: the stated 0.2 stands until two readings exist; from nominal it would be 1.2/12 = 0.1.
        ("one, stated", 0.2, "nominal", 24.0),
        # Two: the measured one, 0.4/4 = 0.1, whatever is stated. 4.4/0.1 = 44.
        ("two, stated", 0.1, "first reading", 44.0),
        ("one, no nominal, stated", 0.2, None, 24.0),
        ("changed, one, stated", 0.25, None, 19.2),
        # 0.2/4 = 0.05; 4.6/0.05 = 92.
        ("changed, two, stated", 0.05, "first reading", 92.0),
        # 16.0 of the event to 15.6 in four years: 0.1; 5.6/0.1 = 56.
        ("replaced, thickness, one", 0.1, "event", 56.0),
        # LT = 0.5/8 = 0.0625, ST = 0.1/4 = 0.025; 5.5/0.0625 = 88.
        ("replaced, thickness, three", 0.0625, "event", 88.0),
    ],
)
def test_a_short_history_has_the_rate_of_the_basis(
    odd: duckdb.DuckDBPyConnection, name: str, rate: float, initial_from: str | None, life: float
) -> None:
    place = place_of(odd, name)
    assert place["rate_mm_per_year"] == pytest.approx(rate, abs=HALF_A_DIGIT)
    assert place["initial_from"] == initial_from
    assert place["remaining_life_years"] == pytest.approx(life, abs=0.05)


def test_a_stated_rate_of_zero_is_no_measurable_loss(odd: duckdb.DuckDBPyConnection) -> None:
    place = place_of(odd, "stated zero")
    assert place["rate_mm_per_year"] == 0
    assert place["remaining_life_years"] is None
    assert place["no_measurable_loss"] is True


@pytest.mark.parametrize(
    ("name", "datum", "state"),
    [
        ("one, no nominal", "nominal thickness", "not assessable"),
        ("one, no in-service date", "in-service date", "not assessable"),
        # Read on its first day and never since: the first check was due 182 days later, on 2004-07-01.
        ("one, at the start", "second reading", "overdue"),
        ("changed, one", "second reading", "not assessable"),
    ],
)
def test_without_a_rate_the_datum_is_named(odd: duckdb.DuckDBPyConnection, name: str, datum: str, state: str) -> None:
    place = place_of(odd, name)
    assert place["rate_mm_per_year"] is None
    assert place["remaining_life_years"] is None
    assert place["retirement_on"] is None
    assert place["interval_years"] is None
    assert datum in place["missing"]
    assert place["state"] == state
    (component,) = odd.execute("SELECT missing FROM result.component WHERE asset = ?", [name]).fetchall()
    assert datum in component[0]


@pytest.mark.parametrize("name", ["unread", "none, stated"])
def test_without_any_reading_there_is_no_life(odd: duckdb.DuckDBPyConnection, name: str) -> None:
    """A component without any location is listed, and what is missing is a location with a reading."""
    row = odd.execute(
        "SELECT state, missing, remaining_life_years, places FROM result.component WHERE asset = ?", [name]
    ).fetchall()
    assert row == [("not assessable", "a thickness location and a reading", None, 0)]
    ((state, reason),) = odd.execute("SELECT state, reason FROM result.asset WHERE asset = ?", [name]).fetchall()
    assert state in ("overdue", "not assessable")
    assert reason


def test_every_place_has_a_rate_or_a_reason(odd: duckdb.DuckDBPyConnection, under: Built) -> None:
    for connection in (odd, under("greater"), under("fit upper bound")):
        bad = connection.execute(
            "SELECT asset FROM result.location WHERE rate_mm_per_year IS NULL AND coalesce(missing, '') = '' "
            "OR rate_mm_per_year < 0 OR NOT isfinite(coalesce(rate_mm_per_year, 0)) "
            "OR NOT isfinite(coalesce(remaining_life_years, 0))"
        ).fetchall()
        assert bad == []
