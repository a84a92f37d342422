"""Engineering basis 4: the due dates of a vessel, what moves them, and the state of each."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from tests.second_path.facts import Facts, Row
from tests.second_path.life import Life, days
from tests.second_path.policy import Policy
from tests.second_path.register import Asset

ON_STREAM_RATE = 0.125  # mm/year
ON_STREAM_LIFE = 10.0  # years
NEAR = 31  # days the due date a deferral states may lie from the one it moves

STATES = (
    *("below required", "overdue", "not assessable", "due by turnaround", "deferred until", "in date", "retired"),
)


@dataclass
class Due:
    """One due date of a vessel; `component` and `location` name the place that sets it, if one does."""

    kind: str
    on: date | None
    sure: bool  # nothing is missing that could make it earlier
    counts_from: date | None = None
    place: Life | None = None
    device: str | None = None
    one_of: int = 0  # how many devices or recommendations of the vessel have a date; none for the other kinds
    deferred_until: date | None = None
    state: str = ""


@dataclass
class Plans:
    """Rows of one vessel that bear on its dates."""

    inspections: list[Row]
    devices: list[Row]
    deferrals: list[Row]
    intervals: list[Row]
    recommendations: list[Row]


def plans_of(facts: Facts, assets: dict[str, Asset]) -> dict[str, Plans]:
    """Sort the plans by vessel; a relief device listed by its tag alone belongs to the vessel that names it."""
    sheets = ("inspections", "relief devices", "deferrals", "set intervals", "recommendations")
    sorted_rows: dict[str, list[list[Row]]] = defaultdict(lambda: [[] for _ in sheets])
    protects = {asset.row["relief_device"]: tag for tag, asset in assets.items() if "relief_device" in asset.row}
    for number, sheet in enumerate(sheets):
        for row in facts.rows[sheet]:
            tag = row["asset"]
            if tag is None and sheet == "relief devices":
                tag = protects.get(row.get("device"))
            if tag is not None:
                sorted_rows[tag][number].append(row)
    return {tag: Plans(*sorted_rows[tag]) for tag in assets}


def caps_of(asset: Asset, plans: Plans, policy: Policy) -> dict[str, float]:
    """The longest interval of each kind: the plant's cap, or a set one in its place."""
    row = asset.row
    caps = {"internal": policy.internal_cap, "external": policy.external_cap, "thickness": policy.internal_cap}
    share = row.get("operating_fraction")
    if row.get("continuous_service") == "no" and share and row.get("idle_protection") is not None:
        caps["internal"] /= share
    for kind, cap in list(caps.items()):
        stated = [
            each
            for each in plans.intervals
            if each.get("interval", 0) > 0
            and ("internal" if each.get("kind") == "on-stream" else each.get("kind")) == kind
        ]
        documented = [each for each in stated if _documented(each)]
        last = max((each["approved_on"] for each in documented), default=None)
        # Of documented ones the last approved; the owner may always tighten, only an assessment goes beyond the cap.
        counting = [each["interval"] for each in documented if each["approved_on"] == last]
        counting += [each["interval"] for each in stated if not _documented(each) and each["interval"] <= cap]
        caps[kind] = min(counting, default=cap)
    return caps


def _documented(row: Row) -> bool:
    return all(row.get(name) is not None for name in ("assessment", "approved_by", "approved_on"))


def dues_of(
    asset: Asset,
    lives: list[Life],
    plans: Plans,
    caps: dict[str, float],
    policy: Policy,
    as_of: date,
    must_reach: date | None,
    events_known: bool,
) -> list[Due]:
    """Every due date of a vessel with its state, none of a retired one; with an event nobody can date none is sure."""
    started = asset.row.get("in_service")
    with_places = {life.place.component.tag for life in lives}
    sure = (
        events_known
        and bool(asset.components)
        and with_places == set(asset.components)
        and all(life.assessed for life in lives)
    )
    internals = [life.numbers["internal_interval_years"] for life in lives]
    interval = min((each for each in internals if each is not None), default=None)

    anchor = _last_inside(plans, lives, sure, asset.row.get("service")) or started
    inside = Due("internal", anchor + days(caps["internal"]) if anchor else None, sure and anchor is not None, anchor)
    half = _first(lives, "internal_due_on")
    if half is not None and (inside.on is None or half.numbers["internal_due_on"] < inside.on):
        inside.on, inside.place, inside.counts_from = half.numbers["internal_due_on"], half, half.history.last_on

    anchor = _last(plans, "external") or started
    years = min(caps["external"], caps["internal"] if interval is None else interval)
    outside = Due("external", anchor + days(years) if anchor else None, sure and anchor is not None, anchor)

    first = _first(lives, "due_on")
    survey = Due("thickness", first.numbers["due_on"] if first else None, sure and first is not None, place=first)
    if first is not None and first.history is not None:
        survey.counts_from = first.history.last_on

    dues = [inside, outside, survey]
    for several in (_relief(asset, plans, policy), _recommended(plans, as_of)):
        for due in several:
            due.one_of = sum(each.on is not None for each in several)
            due.deferred_until = _deferral(due, plans, as_of, [each.on for each in several if each.on])
        # The one to be done first: by its own date, or by that of its deferral.
        dues += sorted(several, key=lambda due: (due.deferred_until or due.on or date.max, due.on or date.max))[:1]
    for due in dues:
        if not due.one_of:
            due.deferred_until = _deferral(due, plans, as_of, [])
        due.state = _state(due, as_of, must_reach)
    return dues


def _first(lives: list[Life], name: str) -> Life | None:
    dated = [life for life in lives if life.numbers[name] is not None]
    return min(dated, key=lambda each: (each.numbers[name], each.place.component.tag, each.place.tag), default=None)


def _last(plans: Plans, kind: str) -> date | None:
    return max((row["date"] for row in plans.inspections if row.get("kind") == kind and row.get("date")), default=None)


def _last_inside(plans: Plans, lives: list[Life], sure: bool, service: str | None) -> date | None:
    """The last internal inspection, or an on-stream one that may stand for it."""
    rates = [life.rate for life in lives if life.rate is not None]
    lasting = [life.numbers["remaining_life_years"] for life in lives if not life.no_loss]
    allowed = (
        sure
        and bool(lives)
        and service is not None
        and not any(life.below and life.no_loss for life in lives)
        and all(left is not None and left > ON_STREAM_LIFE for left in lasting)
        and max(rates) < ON_STREAM_RATE
    )
    kinds = {"internal"}
    found = [row for row in plans.inspections if row.get("kind") in kinds]
    if allowed:
        found += [
            row
            for row in plans.inspections
            if row.get("kind") == "on-stream" and row.get("in_place_of_internal") == "yes"
        ]
    return max((row["date"] for row in found if row.get("date")), default=None)


def _relief(asset: Asset, plans: Plans, policy: Policy) -> list[Due]:
    devices: dict[str, list[Row]] = defaultdict(list)
    for row in plans.devices:
        devices[row.get("device") or f"device of {asset.tag}"].append(row)
    named = asset.row.get("relief_device")
    if named is not None:
        devices.setdefault(named, [])
    if not devices:
        return []
    dated, sure = [], True
    for device, rows in devices.items():
        clean = min((row["clean_service"] for row in rows if row.get("clean_service")), default=None) == "yes"
        cap = policy.relief_clean_cap if clean else policy.relief_cap
        interval = min((row["interval"] for row in rows if row.get("interval") is not None), default=cap)
        tests = [row["last_tested"] for row in rows if row.get("last_tested")]
        if len(devices) == 1:  # a test on the vessel's own list, told which device it was of
            tests += [each for each in [_last(plans, "relief device")] if each]
        anchor = max(tests, default=asset.row.get("in_service"))
        if anchor is None:
            sure = False
        else:
            dated.append((anchor + days(min(interval, cap)), device, anchor))
    if not dated:
        return [Due("relief device", None, False)]
    return [Due("relief device", on, sure, anchor, device=device) for on, device, anchor in sorted(dated)]


def _recommended(plans: Plans, as_of: date) -> list[Due]:
    """The open recommendations with a date; one without is a date nobody knows."""
    stated: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for row in plans.recommendations:
        if row.get("recommendation") is not None:
            stated[row["component"], row["recommendation"].lower(), row.get("raised_on")].append(row)
    opened = []
    for rows in stated.values():
        closed = min((row["closed_on"] for row in rows if row.get("closed_on")), default=None)
        if closed is None or closed > as_of:
            on = min((row["due"] for row in rows if row.get("due")), default=None)
            opened.append((on, min(row["record"] for row in rows), rows[0].get("raised_on")))
    if not opened:
        return []
    dated = [each for each in opened if each[0] is not None]
    sure = len(dated) == len(opened)
    if not dated:
        return [Due("recommendation", None, sure)]
    return [Due("recommendation", on, sure, raised) for on, _, raised in sorted(dated, key=lambda each: each[:2])]


def _deferral(due: Due, plans: Plans, as_of: date, alike: list[date]) -> date | None:
    """The date of a deferral that covers a due date: named person, reason, approved for this date and before it.

    `alike` are the dates of all devices or recommendations of the vessel, of which a deferral moves the one it states.
    """
    good = []
    for row in plans.deferrals:
        kind = "internal" if row.get("kind") == "on-stream" else row.get("kind")
        until, approved = row.get("deferred_until"), row.get("approved_on")
        if due.on is None or kind != due.kind or until is None or until <= due.on:
            continue
        if approved is None or row.get("approved_by") is None or row.get("reason") is None:
            continue
        if (due.counts_from is not None and approved < due.counts_from) or approved >= due.on or until < as_of:
            continue
        stated = row.get("due")
        if stated is None:
            if len(alike) > 1:
                continue
        else:
            nearest = min((abs((on - stated).days) for on in alike), default=NEAR)
            late = (due.on - stated).days
            if late < -NEAR or (alike and abs(late) > min(NEAR, nearest)):
                continue
        good.append((approved, row["record"], until))
    return max(good)[2] if good else None


def _state(due: Due, as_of: date, must_reach: date | None) -> str:
    late = due.on is not None and due.on < as_of
    if late and due.deferred_until is None:
        return "overdue"
    if due.on is None or not due.sure:
        return "not assessable"
    soon = must_reach is not None and due.on < must_reach
    if due.deferred_until is not None and (late or soon):
        return "deferred until"
    return "due by turnaround" if soon else "in date"


def turnarounds_ahead(facts: Facts, as_of: date) -> list[tuple[date | None, date]]:
    """First and last day of the turnarounds not over yet; lists that overlap in time mean one."""
    ahead = []
    for row in facts.rows["turnarounds"]:
        end = row.get("end") or row.get("start")
        if end is not None and end >= as_of:
            ahead.append((row.get("start"), end))
    ahead.sort(key=lambda each: (each[0] or each[1], each[1]))
    joined: list[tuple[date | None, date]] = []
    for start, end in ahead:
        if joined and (start or end) <= joined[-1][1]:
            joined[-1] = (joined[-1][0] or start, max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def standing(asset: Asset, last_seen: date | None) -> tuple[str, date | None]:
    """In service, idle or retired, since when; a statement without a date, or contradicted since, does not count."""
    status, since = asset.row.get("status"), asset.row.get("status_since")
    if status in (None, "in service") or since is None:
        return "in service", None
    if status == "retired" and last_seen is not None and last_seen > since:
        return "in service", None
    return status, since
