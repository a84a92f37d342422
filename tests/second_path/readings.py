"""Engineering basis 3: which readings count. None is changed, none is dropped."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from tests.second_path.facts import Facts, Reading
from tests.second_path.policy import YEAR, Policy
from tests.second_path.register import Asset, Component, Place

NEW_WALL = ("replaced", "overlaid")
NEW_HISTORY = ("replaced", "overlaid", "re-baselined", "change of service")

#: A ratio to nominal that no corrosion explains: from, below, only for nominal walls up to so many mm.
MISTAKES = (
    *((12.7, 40.0, None), (4.0, 12.7, None), (400.0, 1300.0, None), (2.5, 4.0, None), (40.0, 400.0, None)),
    *((1300.0, float("inf"), None), (1.9, 2.1, 5.0), (0.09, 0.11, None), (0.0354, 0.0433, None)),
    (0.0009, 0.0011, None),
)
REPEATED = 5
CONTRAST = 2.0


@dataclass
class Judged:
    """A reading with its status and, where held, why."""

    reading: Reading
    status: str
    held_for: str | None = None

    @property
    def on(self) -> date:
        return self.reading.on

    @property
    def mm(self) -> float:
        return self.reading.mm


@dataclass(frozen=True)
class Epoch:
    """The start of a component's history in force, and the thickness stated at it."""

    on: date
    mm: float | None
    wall_on: date | None = None  # the last event that renewed the wall
    service_on: date | None = None  # the last change of service


def epoch_of(component: Component, events: list[tuple[str | None, date, str, float | None]]) -> Epoch | None:
    """The latest event that begins a new history of a component or of the whole vessel."""
    own = [each for each in events if each[0] in (None, component.tag) and each[2] in NEW_HISTORY]
    if not own:
        return None
    on = max(each[1] for each in own)
    # Of the component itself before that of the whole vessel; the thicker wall is the safe one.
    mine = [each[3] for each in own if each[1] == on and each[3] is not None and each[0] is not None]
    whole = [each[3] for each in own if each[1] == on and each[3] is not None]
    renewed = max((each[1] for each in own if each[2] in NEW_WALL), default=None)
    changed = max((each[1] for each in own if each[2] == "change of service"), default=None)
    return Epoch(on, max(mine or whole, default=None), renewed, changed)


def events_of(facts: Facts) -> dict[str, list[tuple[str | None, date, str, float | None]]]:
    """Dated events by vessel: component (or none), date, what happened, new thickness; contradicted ones have none."""
    stated: dict[tuple[str, str | None, date, str], set[float]] = defaultdict(set)
    for row in facts.rows["events"]:
        if row["asset"] is not None and row.get("date") and row.get("event"):
            values = stated[row["asset"], row["component"], row["date"], row["event"]]
            if row.get("new_thickness") is not None:
                values.add(row["new_thickness"])
    events: dict[str, list[tuple[str | None, date, str, float | None]]] = defaultdict(list)
    for (asset, component, on, event), values in stated.items():
        events[asset].append((component, on, event, min(values) if len(values) == 1 else None))
    return events


def judge(assets: dict[str, Asset], facts: Facts, policy: Policy) -> dict[tuple[str, str], Epoch | None]:
    """Give every reading its status; return the epochs by asset and component."""
    events = events_of(facts)
    epochs = {
        (asset.tag, component.tag): epoch_of(component, events.get(asset.tag, []))
        for asset in assets.values()
        for component in asset.components.values()
    }
    slips = _slips(assets, epochs, policy)
    for asset in assets.values():
        for component in asset.components.values():
            for place in component.places.values():
                place.readings = _judge_place(place, epochs[asset.tag, component.tag], slips, policy)
    return epochs


def _judge_place(place: Place, epoch: Epoch | None, slips: set[Reading], policy: Policy) -> list[Judged]:
    nominal = place.component.nominal if place.component.nominal_registered else None
    if epoch is not None and epoch.mm is not None:
        nominal = epoch.mm
    judged, days = [], defaultdict(list)
    for reading in sorted(place.readings, key=lambda r: (r.on, r.mm, r.record, r.cell)):
        if epoch is not None and reading.on < epoch.on:
            judged.append(Judged(reading, "before epoch"))
        elif reading in slips or _looks_mistaken(reading.mm, nominal):
            judged.append(Judged(reading, "held", "likely mistake"))
        else:
            days[reading.on].append(reading)
    last = None
    for on in sorted(days):
        lowest, *others = days[on]
        if last is not None and lowest.mm > last + policy.noise:
            judged.append(Judged(lowest, "held", "growth"))
        else:
            judged.append(Judged(lowest, "used"))
            last = lowest.mm
        for other in others:
            same = other.mm == lowest.mm
            judged.append(Judged(other, "superseded" if same else "held", None if same else "same-day conflict"))
    kept = _carried(judged, epoch, nominal, policy)
    if kept is not None:
        kept.status = "used"
    return sorted(judged, key=lambda each: (each.on, each.reading.record))


def _carried(judged: list[Judged], epoch: Epoch | None, nominal: float | None, policy: Policy) -> Judged | None:
    """The last reading of a wall that an event left as it was, until the wall is read again; none that grew counts."""
    if epoch is None or epoch.on == epoch.wall_on or any(each.status != "before epoch" for each in judged):
        return None
    found, least = None, None
    old = [each for each in judged if epoch.wall_on is None or each.on >= epoch.wall_on]
    for each in sorted(old, key=lambda each: (each.on, -each.mm)):
        if _looks_mistaken(each.mm, nominal):
            continue
        if least is None or each.mm <= least + policy.noise:
            found = each
        least = each.mm if least is None else min(least, each.mm)
    return found


def _looks_mistaken(mm: float, nominal: float | None) -> bool:
    if nominal is None:
        return False
    ratio = mm / nominal
    return any(low <= ratio < high and (thin is None or nominal <= thin) for low, high, thin in MISTAKES)


# ---- slips of a survey ----------------------------------------------------------------------------------------------


def _slips(assets: dict[str, Asset], epochs: dict[tuple[str, str], Epoch | None], policy: Policy) -> set[Reading]:
    """Two places swapped in one survey, or one value repeated down a column, by the history of each place before."""
    expected: dict[Reading, float] = {}
    before: dict[Reading, float] = {}
    surveys: dict[tuple[str, date, str, str], list[Reading]] = defaultdict(list)
    odd: dict[tuple[str, str, date], list[tuple[str, Reading]]] = defaultdict(list)
    for asset in assets.values():
        for component in asset.components.values():
            epoch = epochs[asset.tag, component.tag]
            for place in component.places.values():
                history = sorted(
                    (r for r in place.readings if epoch is None or r.on >= epoch.on),
                    key=lambda r: (r.on, r.record, r.cell),
                )
                for number, reading in enumerate(history):
                    surveys[asset.tag, reading.on, reading.file, reading.sheet].append(reading)
                    if not number:
                        continue
                    previous = history[number - 1]
                    before[reading] = previous.mm
                    if previous.on == reading.on:
                        continue
                    expected[reading] = _expected(history, number)
                    if abs(reading.mm - expected[reading]) > policy.noise:
                        odd[asset.tag, component.tag, reading.on].append((place.tag, reading))
    repeated = _repeated(surveys, before, policy)
    return repeated | {
        one
        for together in odd.values()
        for tag, one in together
        for other_tag, other in together
        if tag != other_tag and _swapped(one, other, expected, policy)
    }


def _expected(history: list[Reading], number: int) -> float:
    first, previous, reading = history[0], history[number - 1], history[number]
    if number < 3 or previous.on == first.on:
        return previous.mm
    rate = max(0.0, (first.mm - previous.mm) / ((previous.on - first.on).days / YEAR))
    return previous.mm - rate * (reading.on - previous.on).days / YEAR


def _swapped(one: Reading, other: Reading, expected: dict[Reading, float], policy: Policy) -> bool:
    return (
        abs(expected[one] - expected[other]) > CONTRAST * policy.noise
        and (one.mm > expected[one]) != (other.mm > expected[other])
        and abs(one.mm - expected[other]) <= policy.noise
        and abs(other.mm - expected[one]) <= policy.noise
    )


def _repeated(
    surveys: dict[tuple[str, date, str, str], list[Reading]], before: dict[Reading, float], policy: Policy
) -> set[Reading]:
    found: set[Reading] = set()
    for readings in surveys.values():
        readings.sort(key=lambda r: (r.record, r.cell))
        run: list[Reading] = []
        for reading in [*readings, None]:
            if reading is not None and run and run[-1].mm == reading.mm:
                run.append(reading)
                continue
            known = [before[each] for each in run if each in before]
            if len(run) >= REPEATED and len(known) >= REPEATED and max(known) - min(known) > policy.noise:
                found.update(run)
            run = [reading] if reading is not None else []
    return found
