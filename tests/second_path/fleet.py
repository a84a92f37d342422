"""The whole calculation for a fleet: every place, component and vessel, and the ranking (engineering basis 6)."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from tests.second_path.due import STATES, Due, Plans, caps_of, dues_of, plans_of, standing, turnarounds_ahead
from tests.second_path.facts import Facts
from tests.second_path.life import Life, band, live, pressures
from tests.second_path.policy import Policy
from tests.second_path.rates import Choice, History, history_of, measure, select, with_last_off
from tests.second_path.readings import Epoch, judge
from tests.second_path.register import Asset, Component, Place, settle

Row = dict[str, Any]
MAWPS = ("mawp_mpa", "mawp_next_mpa", "mawp_turnaround_mpa", "mawp_after_mpa")
_NO_END = float("inf")


@dataclass
class Recomputed:
    """Rows by key, under the column names of the results."""

    readings: dict[tuple[str, str], Row] = field(default_factory=dict)
    places: dict[tuple[str, str, str], Row] = field(default_factory=dict)
    components: dict[tuple[str, str], Row] = field(default_factory=dict)
    dues: dict[tuple[str, str], Row] = field(default_factory=dict)
    assets: dict[str, Row] = field(default_factory=dict)


@dataclass
class _Worked:
    """One place, worked out: as it counts, with held readings, and with the last reading off by its scatter."""

    place: Place
    life: Life
    held: Life | None
    thinner: Life | None
    thicker: Life | None
    state: str = ""
    mawp: dict[str, float | None] = field(default_factory=dict)


def recompute(facts: Facts, as_of: date, policy: Policy | None = None) -> Recomputed:
    """Work out a fleet as of a date."""
    policy = policy or Policy()
    assets = settle(facts, policy)
    epochs = judge(assets, facts, policy)
    plans = plans_of(facts, assets)
    choices = _choices(facts)
    ahead = turnarounds_ahead(facts, as_of)
    must_reach = ahead[min(len(ahead), 2) - 1][1] if ahead else None
    starts = [start for start, _ in ahead[:2]]

    histories = _histories(assets, epochs, policy)
    similar = _similar(assets, histories, policy)
    doubtful = {
        row["asset"]
        for row in facts.rows["events"]
        if row.get("event") != "rerated" and not (row.get("date") and row.get("event"))
    }
    found = Recomputed()
    ranked = []
    for tag, asset in assets.items():
        caps = caps_of(asset, plans[tag], policy)
        worked = [
            _work(place, histories, epochs[tag, component.tag], choices, similar, caps, policy)
            for component in asset.components.values()
            for place in component.places.values()
        ]
        for each in worked:
            each.state = _place_state(each.life, as_of, must_reach)
            each.mawp = pressures(each.life, [start for start in starts if start], policy)
            found.places[tag, each.place.component.tag, each.place.tag] = _place_row(each, caps, policy)
        parts = {
            component.tag: _component_row(component, [w for w in worked if w.place.component is component], similar)
            for component in asset.components.values()
        }
        found.components |= {(tag, name): row for name, row in parts.items()}
        status, since = standing(asset, _last_seen(asset, plans[tag]))
        dues = []
        if status != "retired":
            lives = [each.life for each in worked]
            dues = dues_of(asset, lives, plans[tag], caps, policy, as_of, must_reach, tag not in doubtful)
        found.dues |= {(tag, due.kind): _due_row(due) for due in dues}
        row = _asset_row(asset, worked, parts, dues, status, since, as_of, must_reach)
        found.assets[tag] = row
        ranked.append(row)
        for place in (each.place for each in worked):
            for judged in place.readings:
                found.readings[judged.reading.key] = {"status": judged.status, "held_for": judged.held_for}
    ranked.sort(key=lambda row: (STATES.index(row["state"]), *_rank_key(row), row["asset"]))
    for number, row in enumerate(ranked, start=1):
        row["rank"] = number
    return found


def _rank_key(row: Row) -> tuple[float, float]:
    """Days to the governing date, an unknown one first; then the smaller margin, an unknown one last."""
    days, margin = row["days_to_governing"], row["margin"]
    return (-_NO_END if days is None else days, _NO_END if margin is None else margin)


# ---- places ---------------------------------------------------------------------------------------------------------


def _choices(facts: Facts) -> dict[tuple[str, str, str | None], Choice]:
    """The last complete choice of a rate for each place or component; of two of one day the higher rate."""
    stated: dict[tuple[str, str, str | None], list[Choice]] = defaultdict(list)
    for row in facts.rows["rate choices"]:
        way, rate = row.get("rate_choice"), row.get("chosen_rate")
        named = rate is not None if way in (None, "named rate") else True
        if named and all(
            row.get(name) is not None for name in ("asset", "component", "chosen_by", "chosen_on", "reason")
        ):
            choice = Choice(way or "named rate", rate, row["chosen_on"])
            stated[row["asset"], row["component"], row["location"]].append(choice)

    def order(choice: Choice) -> tuple[date, float]:
        return choice.on, -_NO_END if choice.rate is None else choice.rate

    return {key: max(rows, key=order) for key, rows in stated.items()}


Histories = dict[tuple[str, str, str], dict[str, History]]


def _histories(assets: dict[str, Asset], epochs: dict[tuple[str, str], Epoch | None], policy: Policy) -> Histories:
    found: Histories = {}
    for asset in assets.values():
        for component in asset.components.values():
            epoch = epochs[asset.tag, component.tag]
            for place in component.places.values():
                scenarios: dict[str, History | None] = {}
                used = [each for each in place.readings if each.status == "used"]
                scenarios["in force"] = now = history_of(place, used, epoch, policy)
                grown = [each for each in place.readings if each.status == "used" or each.held_for == "growth"]
                if len(grown) > len(used):
                    scenarios["held"] = history_of(place, grown, epoch, policy)
                if now is not None:
                    scenarios["thinner"] = with_last_off(now, -policy.scatter)
                    scenarios["thicker"] = with_last_off(now, policy.scatter)
                known = {name: history for name, history in scenarios.items() if history is not None}
                for history in known.values():
                    measure(history, policy)
                found[asset.tag, component.tag, place.tag] = known
    return found


def _work(
    place: Place,
    histories: Histories,
    epoch: Epoch | None,
    choices: dict[tuple[str, str, str | None], Choice],
    similar: dict[tuple[str, str], Row],
    caps: dict[str, float],
    policy: Policy,
) -> _Worked:
    component = place.component
    key = (component.asset.tag, component.tag)
    # A place's own choice comes before its component's.
    chosen = [choices[each] for each in ((*key, place.tag), (*key, None)) if each in choices]
    suggested = similar.get(key, {}).get("similar_rate_suggested_mm_per_year")
    all_of_it = [histories[*key, tag].get("in force") for tag in component.places]
    read = [history for history in all_of_it if history]
    lives: dict[str, Life] = {}
    for scenario, history in histories[*key, place.tag].items():
        select(history, component.row.get("stated_corrosion_rate"), chosen, suggested, policy)
        lives[scenario] = live(place, history, epoch, read, caps, policy)
    now = lives.get("in force") or live(place, None, epoch, read, caps, policy)
    return _Worked(place, now, lives.get("held"), lives.get("thinner"), lives.get("thicker"))


def _place_state(life: Life, as_of: date, must_reach: date | None) -> str:
    due, retirement = life.due_on, life.numbers["retirement_on"]
    if life.below:
        return "below required"
    if due is not None and due < as_of:
        return "overdue"
    if not life.assessed or due is None:
        return "not assessable"
    if must_reach is not None and (due < must_reach or (retirement is not None and retirement < must_reach)):
        return "due by turnaround"
    return "in date"


def _place_row(each: _Worked, caps: dict[str, float], policy: Policy) -> Row:
    place, life = each.place, each.life
    row: Row = {"state": each.state, **life.numbers, **each.mawp, "no_measurable_loss": life.no_loss}
    row["distance_to_weld_mm"] = place.row.get("distance_to_weld")
    row["cap_years"], row["internal_cap_years"] = caps["thickness"], caps["internal"]
    row["missing"] = None if life.assessed else "something"
    history = life.history
    read_on = None
    if history is not None:
        read_on = history.last_on
        previous = history.points[-2] if len(history.points) > 1 else (None, None)
        row |= {
            **history.numbers,
            "t_act_mm": history.t_act,
            "read_on": read_on,
            "reading_count": len(history.points),
            "initial_on": history.initial_on,
            "t_initial_mm": history.initial,
            "initial_from": history.initial_from,
            "previous_on": previous[0],
            "t_previous_mm": previous[1],
            "epoch_on": history.epoch.on if history.epoch else None,
        }
        row.pop("is_chosen")
        row["stated_rate_mm_per_year"] = place.component.row.get("stated_corrosion_rate")
    row |= band(life, caps, policy)
    for name, other in (("thinner", each.thinner), ("thicker", each.thicker)):
        row[f"due_{name}_on"] = other.due_on if other else None
    held = each.held
    row["due_on_with_held"] = held.due_on if held else None
    row["remaining_life_with_held_years"] = held.numbers["remaining_life_years"] if held else None
    row["t_act_with_held_mm"] = held.history.t_act if held else None
    row["misses_in_a_row"] = len({miss.on for miss in place.misses if read_on is None or miss.on > read_on})
    return row


# ---- components -----------------------------------------------------------------------------------------------------


def _similar(assets: dict[str, Asset], histories: Histories, policy: Policy) -> dict[tuple[str, str], Row]:
    """What places of the same service, material and kind have lost: median and what nine in ten do not exceed."""
    parts: dict[tuple[str, ...], list[Component]] = defaultdict(list)
    for asset in assets.values():
        for component in asset.components.values():
            like = (asset.row.get("service"), component.row.get("material"), component.kind)
            if all(like):
                parts[like[0].strip().lower(), like[1].strip().lower(), like[2]].append(component)
    found = {}
    for alike in parts.values():
        own: dict[tuple[str, str], list[float]] = {(each.asset.tag, each.tag): [] for each in alike}
        for component in alike:
            for tag in component.places:
                key = (component.asset.tag, component.tag)
                history = histories[*key, tag].get("in force")
                rate = history.numbers["rate_lt_mm_per_year"] if history else None
                enough = history and len(history.points) > 1 and rate is not None
                if enough and history.numbers["years_long"] >= policy.short_interval:
                    own[key].append(max(rate, 0.0))
        rates = sorted(rate for each in own.values() for rate in each)
        vessels = len({key[0] for key, each in own.items() if each})
        for key, mine in own.items():
            others = len(rates) - len(mine)
            high = _reached(rates, 0.9)
            found[key] = {
                "similar_places": others,
                "similar_vessels": vessels,
                "similar_rate_median_mm_per_year": _reached(rates, 0.5),
                "similar_rate_high_mm_per_year": high,
                "similar_rate_suggested_mm_per_year": high if others >= 5 else None,
                "own_rate_high_mm_per_year": max(mine, default=None),
            }
    return found


def _reached(rates: list[float], share: float) -> float | None:
    """The lowest rate that at least this share of the rates does not exceed."""
    return next((rate for number, rate in enumerate(rates, start=1) if number / len(rates) >= share), None)


def _component_row(component: Component, worked: list[_Worked], similar: dict[tuple[str, str], Row]) -> Row:
    row: Row = {
        "kind": component.kind,
        "state": min((each.state for each in worked), key=STATES.index, default="not assessable"),
        "nominal_thickness_mm": component.nominal,
        "places": len(worked),
        "places_never_read": sum(each.life.history is None for each in worked),
        "held_readings": sum(
            judged.status == "held" for place in component.places.values() for judged in place.readings
        ),
        "weld_distance_places": sum(each.life.numbers["verdict_turns_on_weld_distance"] for each in worked),
        "missing": None if worked and all(each.life.assessed for each in worked) else "something",
        "no_measurable_loss": False,
        "similar_places": 0,
        "similar_vessels": 0,
        **similar.get((component.asset.tag, component.tag), {}),
    }
    if worked:
        governing = min(worked, key=_governing)
        life = governing.life
        row |= {
            "governing_location": governing.place.tag,
            "no_measurable_loss": life.no_loss,
            "t_req_mm": life.t_req,
            "rate_mm_per_year": life.rate,
            "margin": life.numbers["margin"],
            "remaining_life_years": life.numbers["remaining_life_years"],
        }
        if life.history is not None:
            row |= {"t_act_mm": life.history.t_act, "read_on": life.history.last_on}
    for name, source in (("retirement_on", "retirement_on"), ("interval_years", "internal_interval_years")):
        row[name] = _least(each.life.numbers[source] for each in worked)
    row["due_on"] = _least(each.life.due_on for each in worked)
    for name in MAWPS:
        row[name] = _lowest_known([each.mawp[name] for each in worked])
    return row


def _governing(each: _Worked) -> tuple[bool, bool, float, float, float, str]:
    """Below required first, then the shortest life, then the smallest margin; of unread ones the most asked."""
    t_req = each.life.numbers["t_req_mm"]
    life, margin = each.life.numbers["remaining_life_years"], each.life.numbers["margin"]
    return (
        not each.life.below,
        each.life.history is None,
        _NO_END if life is None else life,
        _NO_END if margin is None else margin,
        0.0 if t_req is None else -t_req,
        each.place.tag,
    )


def _least(values: Any) -> Any:
    return min((value for value in values if value is not None), default=None)


def _lowest_known(values: list[float | None]) -> float | None:
    """The lowest, or none where one of them is unknown."""
    return min(values) if values and None not in values else None


# ---- vessels --------------------------------------------------------------------------------------------------------


def _last_seen(asset: Asset, plans: Plans) -> date | None:
    read = [
        judged.on
        for component in asset.components.values()
        for place in component.places.values()
        for judged in place.readings
    ]
    return max([*read, *(row["date"] for row in plans.inspections if row.get("date"))], default=None)


def _due_row(due: Due) -> Row:
    place = due.place.place if due.place else None
    return {
        "due_on": due.on,
        "state": due.state,
        "deferred_until": due.deferred_until,
        "component": place.component.tag if place else None,
        "location": place.tag if place else None,
        "due_missing": None if due.sure else "something",
    }


@dataclass
class _Concern:
    """Something that asks for work on a vessel."""

    state: str
    kind: str
    on: date | None = None
    margin: float | None = None
    component: str | None = None
    location: str | None = None

    @property
    def order(self) -> tuple[Any, ...]:
        return (
            STATES.index(self.state),
            self.on or date.min,
            _NO_END if self.margin is None else self.margin,
            self.kind,
            (self.component is None, self.component or ""),
            (self.location is None, self.location or ""),
        )


def _concerns(
    asset: Asset, worked: list[_Worked], parts: dict[str, Row], dues: list[Due], as_of: date, must_reach: date | None
) -> list[_Concern]:
    concerns = []
    retiring = []
    for each in worked:
        n, place = each.life.numbers, each.place
        where = {"margin": n["margin"], "component": place.component.tag, "location": place.tag}
        if each.life.below:
            read_on = each.life.history.last_on
            concerns.append(_Concern("below required", "required thickness", read_on, **where))
        elif n["retirement_on"] is not None and n["retirement_on"] < as_of:
            retiring.append(_Concern("overdue", "retirement", n["retirement_on"], **where))
        elif n["retirement_on"] is not None and must_reach is not None and n["retirement_on"] < must_reach:
            retiring.append(_Concern("due by turnaround", "retirement", n["retirement_on"], **where))
    if retiring:
        concerns.append(min(retiring, key=lambda each: (each.on, each.component, each.location)))
    for tag, row in parts.items():
        if row["missing"]:
            concerns.append(_Concern("not assessable", "data", component=tag))
    if not asset.registered or not parts:
        concerns.append(_Concern("not assessable", "data"))
    for due in dues:
        place = due.place.place if due.place else None
        concerns.append(
            _Concern(
                due.state,
                due.kind,
                due.on,
                due.place.numbers["margin"] if due.place else None,
                place.component.tag if place else None,
                place.tag if place else None,
            )
        )
    return concerns


def _asset_row(
    asset: Asset,
    worked: list[_Worked],
    parts: dict[str, Row],
    dues: list[Due],
    status: str,
    since: date | None,
    as_of: date,
    must_reach: date | None,
) -> Row:
    if status == "retired":
        first = _Concern("retired", "retirement from service", since)
    else:
        first = min(_concerns(asset, worked, parts, dues, as_of, must_reach), key=lambda each: each.order)
    earliest = min((due for due in dues if due.on), key=lambda due: (due.on, due.kind), default=None)
    on = first.on or (earliest.on if earliest else None)
    by_kind = {due.kind: due for due in dues}
    weakest = min(parts.items(), key=_weakest, default=(None, {}))
    row: Row = {
        "asset": asset.tag,
        "state": first.state,
        "governing_on": on,
        "days_to_governing": (on - as_of).days if on else None,
        "margin": weakest[1].get("margin") if first.margin is None else first.margin,
        "governing_component": first.component or weakest[0],
        "governing_location": _location(first, weakest),
        "components": len(parts),
        "components_not_assessable": sum(part["missing"] is not None for part in parts.values()),
        "rating_pressure_mpa": asset.rating,
        "in_service_on": asset.row.get("in_service"),
        "status": status,
        "status_since": since,
        "retirement_on": _least(part["retirement_on"] for part in parts.values()),
        "remaining_life_years": _least(each.life.numbers["remaining_life_years"] for each in worked),
        "held_readings": sum(part["held_readings"] for part in parts.values()),
        "deferred_until": max((due.deferred_until for due in dues if due.state == "deferred until"), default=None),
        "recommendation_due_on": by_kind["recommendation"].on if "recommendation" in by_kind else None,
        "relief_due_on": by_kind["relief device"].on if "relief device" in by_kind else None,
    }
    for kind in ("internal", "external", "thickness"):
        row[f"{kind}_due_on"] = by_kind[kind].on if kind in by_kind else None
    if first.kind in ("required thickness", "data", "retirement", "retirement from service"):
        row["due_kind"], row["due_on"] = (earliest.kind, earliest.on) if earliest else (None, None)
    else:
        row["due_kind"], row["due_on"] = first.kind, first.on
    for name in MAWPS:
        row[name] = _lowest_known([part[name] for part in parts.values()])
    row["due_on_with_held"] = (
        _least((each.held or each.life).due_on for each in worked) if any(each.held for each in worked) else None
    )
    return row


def _weakest(part: tuple[str, Row]) -> tuple[int, float, float, str]:
    tag, row = part
    life, margin = row.get("remaining_life_years"), row.get("margin")
    return (
        STATES.index(row["state"]),
        _NO_END if life is None else life,
        _NO_END if margin is None else margin,
        tag,
    )


def _location(first: _Concern, weakest: tuple[str | None, Row]) -> str | None:
    if first.component is None or (first.location is None and first.component == weakest[0]):
        return weakest[1].get("governing_location")
    return first.location
