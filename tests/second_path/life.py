"""Engineering basis 3 and 4: life, intervals, dates and MAWP of one place."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from tests.second_path.policy import YEAR, Policy
from tests.second_path.rates import NO_RATE, History
from tests.second_path.readings import Epoch
from tests.second_path.register import BASES, Place, region_of
from tests.second_path.walls import pressure_held

SHORT_LIFE = 2.0  # years: the longest interval while the life is under four years
FIRST_CHECK_FROM, FIRST_CHECK_BY = 0.25, 0.5  # years after the start of a new or changed service
NO_DATE_BEYOND = 1000.0  # years
GUARD = 1e-6  # days: what the last binary digit may take from a whole day


def days(years: float) -> timedelta:
    """Whole days of an interval, never rounded later."""
    return timedelta(days=math.floor(years * YEAR + GUARD))


def interval_of(life: float, cap: float) -> float:
    """Half the life within the cap; the whole life up to two years while it is under four; nothing once it is over."""
    return 0.0 if life <= 0 else min(cap, max(life / 2, min(life, SHORT_LIFE)))


@dataclass
class Life:
    """What one scenario of one place comes to; None for what is unknown or has no end."""

    place: Place
    history: History | None
    t_req: float | None
    below: bool = False
    no_loss: bool = False
    numbers: dict[str, Any] = field(default_factory=dict)

    @property
    def due_on(self) -> date | None:
        return self.numbers["due_on"]

    @property
    def assessed(self) -> bool:
        """Nothing is missing for a life; a wall below its requirement needs no rate to be so."""
        return self.t_req is not None and self.history is not None and (self.below or self.rate is not None)

    @property
    def rate(self) -> float | None:
        return self.history.numbers["rate_mm_per_year"] if self.history else None


def required_at(place: Place, policy: Policy) -> dict[str, Any]:
    """Required thickness of a place for both regions and all bases, and the region that counts."""
    required = place.component.required
    region, half_width = region_of(place, policy)
    counted = "away" if region == "away" else "weld"

    def of(which: str, basis: str) -> tuple[float | None, str | None]:
        return required.get((place.zone, which, basis), (None, None))

    t_req, case = of(counted, policy.radius_basis)
    return {
        "zone": place.zone,
        "weld_region": region,
        "region_counted": counted,
        "weld_region_half_width_mm": half_width,
        "t_req_weld_mm": of("weld", policy.radius_basis)[0],
        "t_req_away_mm": of("away", policy.radius_basis)[0],
        "t_req_mm": t_req,
        "governing_case": case,
        **{f"t_req_{basis}_mm": of(counted, basis)[0] for basis in BASES},
    }


def live(
    place: Place,
    history: History | None,
    epoch: Epoch | None,
    of_component: list[History],
    caps: dict[str, float],
    policy: Policy,
) -> Life:
    """Remaining life, interval, retirement and due dates of a place in one scenario; `epoch` is that
    of its component.

    `of_component` are the histories in force of every place of its component.
    """
    need = required_at(place, policy)
    t_req = need["t_req_mm"]
    life = Life(place, history, t_req)
    n = life.numbers
    n |= need
    names = ("", "_weld", "_away", "_retirement", "_allowance", "_nominal")
    for name in names:
        n[f"remaining_life{name}_years"] = None
    n |= dict.fromkeys(("margin", "retirement_on", "interval_years", "internal_interval_years", "t_next_mm"))
    n |= dict.fromkeys(("internal_due_on", "due_on"))
    n["first_check_on"] = first_check = _first_check(place, history, epoch, of_component)
    started = (epoch.wall_on if epoch else None) or place.component.asset.row.get("in_service")
    if history is None:
        n["due_on"] = _earlier(started + days(caps["thickness"]) if started else None, first_check)
        n["verdict_turns_on_weld_distance"] = False
        return life
    t, rate, read_on = history.t_act, life.rate, history.last_on
    life.below = t_req is not None and t < t_req
    life.no_loss = rate == 0
    if t_req is not None:
        n["margin"] = (t - t_req) / t_req
    if rate:
        for name in names:
            if n[f"t_req{name}_mm"] is not None:
                n[f"remaining_life{name}_years"] = (t - n[f"t_req{name}_mm"]) / rate
    left = n["remaining_life_years"]
    for name, kind in (("interval_years", "thickness"), ("internal_interval_years", "internal")):
        n[name] = _interval(left, life.no_loss, t, t_req, caps[kind])
    n["retirement_on"] = _retired(read_on, left)
    n["due_on"] = _earlier(_after(read_on, n["interval_years"]), first_check)
    n["internal_due_on"] = _after(read_on, n["internal_interval_years"])
    if rate is not None and n["internal_interval_years"] is not None:
        n["t_next_mm"] = t - 2 * rate * n["internal_interval_years"]
    weld, away = n["t_req_weld_mm"], n["t_req_away_mm"]
    n["verdict_turns_on_weld_distance"] = (
        n["weld_region"] == "unknown" and weld is not None and away is not None and (t < weld) != (t < away)
    )
    return life


def _interval(life: float | None, no_loss: bool, t: float, t_req: float | None, cap: float) -> float | None:
    if t_req is not None and t < t_req:
        return 0.0
    if no_loss:
        return None if t_req is None else cap
    return None if life is None else interval_of(life, cap)


def _after(on: date, years: float | None) -> date | None:
    return None if years is None else on + days(years)


def _retired(read_on: date, life: float | None) -> date | None:
    """The day the required thickness is reached; none where it is further away than any date means something."""
    return read_on + days(life) if life is not None and abs(life) <= NO_DATE_BEYOND else None


def _earlier(one: date | None, other: date | None) -> date | None:
    return min((each for each in (one, other) if each is not None), default=None)


def _first_check(
    place: Place, history: History | None, epoch: Epoch | None, of_component: list[History]
) -> date | None:
    """A new or changed service whose rate no reading gives is checked three to six months after its start."""
    stated = "stated_corrosion_rate" in place.component.row
    since = None if epoch is None else epoch.on if stated else epoch.service_on
    start = since or place.component.asset.row.get("in_service")
    if start is None or _gives_a_rate(history) or (history and history.last_on >= start + days(FIRST_CHECK_FROM)):
        return None
    # What was read before a wall was replaced still says something of its service.
    counted = [each.on for other in place.component.places.values() for each in other.readings
               if each.status in ("used", "before epoch")]  # fmt: skip
    checked = any(map(_gives_a_rate, of_component)) or any(on >= start + days(FIRST_CHECK_FROM) for on in counted)
    return None if checked and not stated else start + days(FIRST_CHECK_BY)


def _gives_a_rate(history: History | None) -> bool:
    return history is not None and len(history.points) > 1 and not history.brief


# ---- bands ----------------------------------------------------------------------------------------------------------


def band(life: Life, caps: dict[str, float], policy: Policy) -> dict[str, Any]:
    """Between which rates, lives and dates a place lies by the scatter of readings: two standard deviations."""
    names = ("rate", "remaining_life", "retirement", "due")
    ends = {"low": -2.0, "high": 2.0}
    if life.history is None:
        return {}
    n = life.history.numbers
    rate, deviation = n["rate_selected_mm_per_year"], n["rate_deviation_mm_per_year"]
    t, read_on = life.history.t_act, life.history.last_on
    found: dict[str, Any] = {}
    for end, by in ends.items():
        other = "high" if end == "low" else "low"
        when = "latest" if end == "low" else "earliest"
        C = None
        if rate is not None and deviation is not None:
            C = max(rate + by * deviation, 0.0, policy.rate_floor)
            C = 0.0 if C < NO_RATE else C
        left = (t - life.t_req) / C if C and life.t_req is not None else None
        interval = None if C is None else _interval(left, C == 0, t, life.t_req, caps["thickness"])
        found |= {
            f"rate_{end}_mm_per_year": C,
            f"remaining_life_{other}_years": left,
            f"retirement_{when}_on": _retired(read_on, left),
            # The first check of a new or changed service is due whatever the rate.
            f"due_{when}_on": None
            if interval is None
            else _earlier(_after(read_on, interval), life.numbers["first_check_on"]),
        }
    assert len(found) == 2 * len(names)
    return found


# ---- MAWP -----------------------------------------------------------------------------------------------------------


def pressures(life: Life, turnarounds: list[date], policy: Policy) -> dict[str, float | None]:
    """The pressure the wall holds now, and the MAWP now, at the next inspection and at the next two turnarounds."""
    place, n = life.place, life.numbers
    component = place.component
    names = ("mawp_mpa", "mawp_next_mpa", "mawp_turnaround_mpa", "mawp_after_mpa")
    found: dict[str, float | None] = dict.fromkeys(("holding_pressure_mpa", *names))
    wall = component.wall.get((place.zone, n["region_counted"], policy.radius_basis))
    if wall is None or life.history is None:
        return found
    t, rate = life.history.t_act, life.rate
    walls = [t, n["t_next_mm"]]
    for start in turnarounds[:2]:
        years = (start - life.history.last_on).days / YEAR
        walls.append(t if years <= 0 else None if rate is None else t - 2 * rate * years)
    found["holding_pressure_mpa"] = pressure_held(wall, t)
    rating, head = component.asset.rating, component.head
    for name, thickness in zip(names, walls, strict=False):
        held = pressure_held(wall, thickness)
        if held is not None and rating is not None and head is not None:
            found[name] = max(0.0, min(rating, held - head))
    return found
