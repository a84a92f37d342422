"""What can be weighed for an asset whose wall is too thin, or will be before the next turnaround ends.

Each option is worked out and then tried: the offered pressure, reading or thickness is put on the bench, and the steps
say whether it holds. None is chosen here; that is for the owner's engineer and the jurisdiction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import duckdb

from pipeline.changes import KINDS, Change, put
from pipeline.formulas import FORMULAS
from pipeline.trial import Bench, Row, can_be_tried, rows_of
from pipeline.units import UNITS, show
from pipeline.what_if import Side, side, walls_on

REFER = (
    "To be weighed by the owner's engineer, and by the jurisdiction where it has a say. They are listed, not ranked, "
    "and none is chosen here."
)
ASSESS = (
    "A fitness-for-service assessment by an engineer (API 579-1) may show that the wall as it is holds for a stated "
    "time under stated conditions. Its inputs are a grid of readings over the thin area, the loads on it and the "
    "future rate; its result is a record with an expiry, not a changed number here."
)
REPLACE = (
    "The component may be replaced: a new history then begins with its thickness as measured at the start, and the "
    "replacement is an alteration or a repair to be authorised before it begins (API 510 8.1 (m))."
)
RULE = (
    "The thickness is the required one and the loss until that day: once up to two years, twice beyond, so that the "
    "interval by the half-life rule reaches it."
)

#: Steps to which an offer is rounded to the safe side, so that what is shown is what was tried: unit and step.
_PRESSURE_STEP = {"us": ("psi", 1.0), "si": ("MPa", 0.01)}
_WALL_STEP = {"us": ("in", 0.005), "si": ("mm", 0.1)}
_READING_STEP = {"us": ("in", 0.001), "si": ("mm", 0.01)}


@dataclass(frozen=True)
class Turnaround:
    """A turnaround ahead, by its name and last day."""

    name: str
    end_on: date


@dataclass(frozen=True)
class ThinPlace:
    """A place that is below required, or will be before the next turnaround ends."""

    component: str
    location: str
    is_below_required: bool
    t_act_mm: float
    read_on: date
    t_req_mm: float
    governing_case: str
    rate_mm_per_year: float | None
    retirement_on: date | None


@dataclass(frozen=True)
class PressureOffer:
    """The pressure to which the vessel would have to be limited so that no known place is below required at the end of
    a turnaround, after once or twice the loss.

    `pressure_mpa` is what the weakest place holds then, at most the rating; `offered_mpa` the same rounded down;
    `holds` what the trial with it said, null where there is nothing to try; `because` why it does not hold or is not
    known; `not_counted` names the components that may hold less.
    """

    turnaround: Turnaround
    losses: int
    pressure_mpa: float | None
    offered_mpa: float | None
    limited_by: str | None
    is_reduced: bool
    holds: bool | None
    because: str
    not_counted: tuple[str, ...]


@dataclass(frozen=True)
class ReadingOffer:
    """What another reading of a thin place would have to show.

    `clears_mm` is the lowest that is not below required, rounded up; `reaches_mm` the lowest whose interval reaches the
    end of the next turnaround at today's rate, null where no reading does or the rate is not known. A reading above
    `accepted_up_to_mm` is held until a person accepts it. Beyond `away_from_mm` from the nearest weld the wall as it
    was read is enough; null where the distance does not decide.
    """

    place: ThinPlace
    clears_mm: float
    reaches_mm: float | None
    reaches: Turnaround | None
    accepted_up_to_mm: float
    away_from_mm: float | None


@dataclass(frozen=True)
class RestoreOffer:
    """The thickness to which the thin places of a component would have to be restored on `on` to reach a turnaround's
    end; `holds` and `because` as in a pressure offer."""

    component: str
    locations: tuple[str, ...]
    on: date
    turnaround: Turnaround
    thickness_mm: float | None
    offered_mm: float | None
    holds: bool | None
    because: str


@dataclass(frozen=True)
class Options:
    """Everything that can be weighed for one asset; no places, no options."""

    asset: str
    places: tuple[ThinPlace, ...]
    turnarounds: tuple[Turnaround, ...]
    pressures: tuple[PressureOffer, ...]
    readings: tuple[ReadingOffer, ...]
    restorations: tuple[RestoreOffer, ...]


def options(results: duckdb.DuckDBPyConnection, asset: str, system: str) -> Options:
    """Work out the options for an asset with a place below required or worn through before the next turnaround ends.

    Raises Problem where there is no such asset. Offers are rounded to the safe side in the unit system's units.
    """
    thin, turnarounds = thin_places(results, asset)
    if not thin:
        return Options(asset, (), turnarounds, (), (), ())
    today = side(results.cursor(), asset)
    policy = rows_of(results.cursor(), "SELECT * FROM basis.in_force")[0]
    start = _first_day(results.cursor(), asset, policy["as_of"])
    with Bench(results, asset) as bench:
        return Options(
            asset,
            thin,
            turnarounds,
            tuple(_pressure_offers(bench, today, turnarounds, system)),
            tuple(_reading_offer(today, place, turnarounds, policy, system) for place in thin),
            tuple(_restore_offers(bench, today, thin, turnarounds, start, policy, system)),
        )


def thin_places(results: duckdb.DuckDBPyConnection, asset: str) -> tuple[tuple[ThinPlace, ...], tuple[Turnaround, ...]]:
    """Return the places below required or worn through before the next turnaround ends, and the two turnarounds ahead.

    Nothing is tried for it. Raises Problem where there is no such asset.
    """
    can_be_tried(results, asset)
    rows = rows_of(
        results.cursor(), "SELECT name, end_on FROM step.turnaround WHERE turnaround_no <= 2 ORDER BY turnaround_no"
    )
    turnarounds = tuple(Turnaround(row["name"], row["end_on"]) for row in rows)
    return _thin_places(side(results.cursor(), asset), turnarounds), turnarounds


def _first_day(results: duckdb.DuckDBPyConnection, asset: str, as_of: date) -> date:
    """Return the first day on which a repair can begin a new history: the as-of date, after every reading."""
    last = rows_of(results, "SELECT max(read_on) AS on_day FROM result.reading WHERE asset = ?", [asset])[0]["on_day"]
    return as_of if last is None or last < as_of else last + timedelta(days=1)


def _thin_places(today: Side, turnarounds: Sequence[Turnaround]) -> tuple[ThinPlace, ...]:
    by = turnarounds[0].end_on if turnarounds else None
    found = []
    for row in today.places:
        if row["t_act_mm"] is None or row["t_req_mm"] is None:
            continue
        is_below = row["state"] == "below required"
        if is_below or (by is not None and row["retirement_on"] is not None and row["retirement_on"] < by):
            found.append(
                ThinPlace(
                    row["component"],
                    row["location"],
                    is_below,
                    row["t_act_mm"],
                    row["read_on"],
                    row["t_req_mm"],
                    row["governing_case"],
                    row["rate_mm_per_year"],
                    row["retirement_on"],
                )
            )
    return tuple(sorted(found, key=lambda place: (not place.is_below_required, place.component, place.location)))


# ---- a lower pressure -----------------------------------------------------------------------------------------------


def _pressure_offers(bench: Bench, today: Side, turnarounds: Sequence[Turnaround], system: str) -> list[PressureOffer]:
    found = []
    with bench.worked(wanted=["step.pressure_held", "step.place_required"]) as connection:
        for turnaround in turnarounds:
            for losses in (1, 2):
                walls = walls_on(connection, today.places, turnaround.end_on, losses)
                at_most = _at_most(today, walls)
                found.append((_pressure_offer(today, turnaround, losses, walls, at_most, system), at_most))
    return [_tried_pressure(bench, today, offer, walls) for offer, walls in found]


def _at_most(today: Side, walls: Sequence[Row]) -> list[Row]:
    """Return the walls of a day; of a place whose loss is not known, today's: it will hold that at most."""
    now = {(row["component"], row["location"]): row for row in today.places}
    return [
        wall if wall["t_mm"] is not None else {**wall, "t_mm": row["t_act_mm"], "mawp_mpa": row["mawp_mpa"]}
        for wall in walls
        for row in [now[wall["component"], wall["location"]]]
    ]


def _pressure_offer(
    today: Side, turnaround: Turnaround, losses: int, walls: Sequence[Row], at_most: Sequence[Row], system: str
) -> PressureOffer:
    """Return what the weakest place of the vessel holds on that day, not yet tried; `at_most` as `_at_most` gives."""
    rating = today.asset["rating_pressure_mpa"]
    gone = [wall for wall in walls if wall["t_mm"] is not None and wall["t_mm"] <= 0]
    known = [wall for wall in walls if wall["mawp_mpa"] is not None and wall["mawp_mpa"] > 0]
    counted = {(wall["component"], wall["location"]) for wall in [*gone, *known]}
    not_counted = dict.fromkeys(
        [
            *(row["component"] for row in today.components if row["places"] == 0),
            *(wall["component"] for wall in walls if (wall["component"], wall["location"]) not in counted),
        ]
    )
    blank = PressureOffer(turnaround, losses, None, None, None, False, None, "", tuple(not_counted))
    if gone:
        return replace(blank, because=f"no wall would be left at {_name(gone[0])}: no pressure is left to be held")
    if rating is None or not known:
        return replace(blank, because="the pressure that its walls hold is not known")
    bounds = [wall for wall in at_most if wall["mawp_mpa"] is not None and wall["mawp_mpa"] > 0]
    weakest = min(bounds, key=lambda wall: (wall["mawp_mpa"], wall["component"], wall["location"]))
    pressure = float(weakest["mawp_mpa"])
    if pressure >= rating:
        return replace(blank, pressure_mpa=pressure, offered_mpa=pressure)
    offered = rounded_down(pressure, *_PRESSURE_STEP[system])
    if offered <= 0:
        return replace(blank, because=f"hardly any pressure is left to be held at {_name(weakest)}")
    return replace(blank, pressure_mpa=pressure, offered_mpa=offered, limited_by=_name(weakest), is_reduced=True)


def _tried_pressure(bench: Bench, today: Side, offer: PressureOffer, walls: Sequence[Row]) -> PressureOffer:
    """Put the offered pressure and the walls of that day on the bench, and say whether any is still below required."""
    if offer.offered_mpa is None:
        return offer
    changes = [Change("lower pressure", offer.offered_mpa)] if offer.is_reduced else []
    with bench.worked(
        lambda facts: put(facts, bench.asset, changes, today.places), ["step.place_required"]
    ) as connection:
        required = {
            (row["component"], row["location"]): row
            for row in rows_of(
                connection, "SELECT component, location, t_req_mm, governing_case FROM step.place_required"
            )
        }
    below = [
        f"{_name(wall)} ({required[wall['component'], wall['location']]['governing_case']})"
        for wall in walls
        if wall["t_mm"] is not None
        and wall["t_mm"] < (required[wall["component"], wall["location"]]["t_req_mm"] or 0.0)
    ]
    if below:
        return replace(offer, holds=False, because=f"still below required then: {', '.join(below)}")
    return replace(offer, holds=True)


# ---- another reading ------------------------------------------------------------------------------------------------


def _reading_offer(
    today: Side, place: ThinPlace, turnarounds: Sequence[Turnaround], policy: Row, system: str
) -> ReadingOffer:
    row = _row_of(today, place)
    reach = turnarounds[0] if turnarounds else None
    reaches = None
    if reach is not None:
        reaches = _thickness_to_reach(place, row, policy["as_of"], reach.end_on, policy)
    noise = FORMULAS["noise_limit"].evaluate({"s": policy["reading_scatter_mm"]}) or 0.0
    return ReadingOffer(
        place,
        rounded_up(place.t_req_mm, *_READING_STEP[system]),
        None if reaches is None else rounded_up(reaches, *_READING_STEP[system]),
        reach,
        place.t_act_mm + noise,
        row["weld_region_half_width_mm"] if row["verdict_turns_on_weld_distance"] else None,
    )


def _thickness_to_reach(place: ThinPlace, row: Row, start: date, end: date, policy: Row) -> float | None:
    """Return the thickness on `start` whose interval reaches `end`, in mm; None beyond the cap or without a rate."""
    days = max((end - start).days, 0)
    years = 0.0
    if days:
        years = FORMULAS["years_between"].evaluate({"days": float(days), "y_d": policy["days_per_year"]}) or 0.0
    if row["internal_cap_years"] is not None and years > row["internal_cap_years"]:
        return None
    return FORMULAS["thickness_to_reach"].evaluate(
        {
            "t_req": place.t_req_mm,
            "C_r": place.rate_mm_per_year,
            "years": years,
            "short": policy["short_life_cap_years"],
        }
    )


# ---- a restored wall ------------------------------------------------------------------------------------------------


def _restore_offers(
    bench: Bench,
    today: Side,
    thin: Sequence[ThinPlace],
    turnarounds: Sequence[Turnaround],
    start: date,
    policy: Row,
    system: str,
) -> list[RestoreOffer]:
    found = []
    for turnaround in turnarounds:
        untried = [
            _restore_offer(
                today, [place for place in thin if place.component == component], turnaround, start, policy, system
            )
            for component in dict.fromkeys(place.component for place in thin)
        ]
        found.extend(_tried_restorations(bench, today, untried))
    return found


def _restore_offer(
    today: Side, places: Sequence[ThinPlace], turnaround: Turnaround, start: date, policy: Row, system: str
) -> RestoreOffer:
    """Return the thickness that its thin places need from `start` on, not yet tried."""
    component, locations = places[0].component, tuple(place.location for place in places)
    blank = RestoreOffer(component, locations, start, turnaround, None, None, None, "")
    if any(place.rate_mm_per_year is None for place in places):
        return replace(blank, because="the corrosion rate of a place is not known")
    needs = [_thickness_to_reach(place, _row_of(today, place), start, turnaround.end_on, policy) for place in places]
    known = [need for need in needs if need is not None]
    if len(known) < len(needs):
        cap = show(_row_of(today, places[0])["internal_cap_years"], "duration", system)
        return replace(blank, because=f"no thickness reaches it: the longest interval is {cap}")
    return replace(blank, thickness_mm=max(known), offered_mm=rounded_up(max(known), *_WALL_STEP[system]))


def _tried_restorations(bench: Bench, today: Side, offers: Sequence[RestoreOffer]) -> list[RestoreOffer]:
    """Put the restored walls on the bench, all components at once, and say whether their intervals reach the day."""
    changes = [
        Change("restored thickness", offer.offered_mm, offer.component, location, offer.on)
        for offer in offers
        if offer.offered_mm is not None
        for location in offer.locations
    ]
    if not changes:
        return list(offers)
    with bench.worked(lambda facts: put(facts, bench.asset, changes, today.places), ["step.life"]) as connection:
        lives = {
            (row["component"], row["location"]): row
            for row in rows_of(
                connection,
                "SELECT component, location, internal_due_on, is_below_required FROM step.life "
                "WHERE scenario = 'in force'",
            )
        }
    return [_judged_restoration(offer, lives) for offer in offers]


def _judged_restoration(offer: RestoreOffer, lives: dict[tuple[str, str], Row]) -> RestoreOffer:
    if offer.offered_mm is None:
        return offer
    short = [
        f"location {location}"
        for location in offer.locations
        for life in [lives[offer.component, location]]
        if life["is_below_required"]
        or life["internal_due_on"] is None
        or life["internal_due_on"] < offer.turnaround.end_on
    ]
    if short:
        return replace(offer, holds=False, because=f"its interval would still end before: {', '.join(short)}")
    return replace(offer, holds=True)


# ---- rounding and naming --------------------------------------------------------------------------------------------


def rounded_up(value: float, unit: str, step: float) -> float:
    """Return a value kept inside, raised to the next whole step of a unit."""
    return UNITS[unit].to_inside(math.ceil(UNITS[unit].from_inside(value) / step) * step)


def rounded_down(value: float, unit: str, step: float) -> float:
    """Return a value kept inside, lowered to the next whole step of a unit."""
    return UNITS[unit].to_inside(math.floor(UNITS[unit].from_inside(value) / step) * step)


def evidence_for(kind: str) -> str:
    """Return the evidence that a kind of change would need, with its reference."""
    return f"{KINDS[kind].evidence} ({KINDS[kind].reference})"


def _row_of(today: Side, place: ThinPlace) -> Row:
    return next(row for row in today.places if (row["component"], row["location"]) == (place.component, place.location))


def _name(wall: Row) -> str:
    return f"{wall['component']}, location {wall['location']}"
