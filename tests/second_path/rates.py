"""Engineering basis 3: histories and corrosion rates of a place."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from tests.second_path.policy import YEAR, Policy
from tests.second_path.readings import Epoch, Judged
from tests.second_path.register import Place

#: Two units may write one thickness with different last digits: a rate below this is none, mm/year.
NO_RATE = 1e-9
#: One-sided 95 % quantile of Student's t is found by halving, the tail by Simpson's rule: no table is copied.
_PANELS = 2000

_QUANTILES: dict[int, float] = {}


def student_quantile(freedom: int) -> float:
    """The value that Student's t with so many degrees of freedom stays below in 95 of 100 cases."""
    if freedom not in _QUANTILES:
        scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2)) / math.sqrt(freedom * math.pi)

        def below(value: float) -> float:
            # Over the angle atan(x / sqrt(v)) the density is cos^(v-1): smooth, and bounded also for v = 1.
            end = math.atan(value / math.sqrt(freedom))
            step = end / _PANELS
            total = sum(
                (1 if n in (0, _PANELS) else 4 if n % 2 else 2) * math.cos(n * step) ** (freedom - 1)
                for n in range(_PANELS + 1)
            )
            return 0.5 + scale * math.sqrt(freedom) * total * step / 3

        low, high = 0.0, 20.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if below(middle) < 0.95 else (low, middle)
        _QUANTILES[freedom] = (low + high) / 2
    return _QUANTILES[freedom]


@dataclass(frozen=True)
class Choice:
    """A rate chosen by a named person, with reason and date, in place of the policy's."""

    way: str
    rate: float | None
    on: date


@dataclass
class History:
    """Readings of a place in one scenario, and the rates they give; None for what they do not give."""

    points: list[tuple[date, float]]
    epoch: Epoch | None
    initial_on: date | None = None
    initial: float | None = None
    initial_from: str | None = None
    brief: bool = False  # several readings, all within the shortest interval and within scatter
    numbers: dict[str, Any] = field(default_factory=dict)

    @property
    def last_on(self) -> date:
        return self.points[-1][0]

    @property
    def t_act(self) -> float:
        return self.points[-1][1]


def history_of(place: Place, readings: Iterable[Judged], epoch: Epoch | None, policy: Policy) -> History | None:
    """First, previous and last reading, with the initial thickness of the epoch."""
    points = [(each.on, each.mm) for each in readings]
    if not points:
        return None
    history = History(points, epoch)
    component = place.component
    started = component.asset.row.get("in_service")
    (first_on, first), (last_on, last) = points[0], points[-1]
    span = (last_on - first_on).days
    history.brief = len(points) > 1 and span / YEAR < policy.short_interval
    history.brief = history.brief and max(first, points[-2][1]) - last <= policy.noise
    from_new = epoch is None and component.nominal_registered and started is not None and started < last_on
    steeper = (
        history.brief and from_new and (component.nominal - last) / (last_on - started).days > (first - last) / span
    )
    if epoch is not None and epoch.mm is not None and epoch.on <= last_on:
        history.initial_from, history.initial_on, history.initial = "event", epoch.on, epoch.mm
    elif steeper:
        history.initial_from, history.initial_on, history.initial = "nominal", started, component.nominal
    elif len(points) >= 2:
        history.initial_from, (history.initial_on, history.initial) = "first reading", points[0]
    elif from_new:
        history.initial_from, history.initial_on, history.initial = "nominal", started, component.nominal
    return history


def with_last_off(history: History, by: float) -> History:
    """The same history had its last reading been thicker or thinner."""
    *before, (on, mm) = history.points
    return replace(history, points=[*before, (on, mm + by)], numbers={})


def measure(history: History, policy: Policy) -> None:
    """Long-term, short-term and least-squares rate of a history, mm/year."""
    numbers = history.numbers
    days_long = (history.last_on - history.initial_on).days if history.initial_on else None
    days_short = (history.last_on - history.points[-2][0]).days if len(history.points) > 1 else None
    years_long = days_long / YEAR if days_long else None
    years_short = days_short / YEAR if days_short else None
    lt = st = None
    if years_long is not None:
        lt = _rate((history.initial - history.t_act) / years_long)
    counts = False
    if years_short is not None:
        loss = history.points[-2][1] - history.t_act
        st = _rate(loss / years_short)
        counts = years_short >= policy.short_interval or loss > policy.noise
    fit, error = _fit(history.points)
    freedom = len(history.points) - 2
    quantile = student_quantile(min(freedom, 200)) if freedom > 0 else None
    numbers |= {
        "days_long": days_long,
        "days_short": days_short,
        "years_long": years_long,
        "years_short": years_short,
        "rate_lt_mm_per_year": lt,
        "rate_st_mm_per_year": st,
        "short_term_counts": counts,
        "rate_fit_mm_per_year": fit,
        "rate_fit_error_mm_per_year": error,
        "t_quantile": quantile,
        "rate_fit_upper_mm_per_year": fit + quantile * error if error is not None and quantile is not None else None,
    }


def _rate(value: float) -> float:
    return 0.0 if abs(value) < NO_RATE else value


def _fit(points: list[tuple[date, float]]) -> tuple[float | None, float | None]:
    """Least-squares rate and its standard error, in whole days and hundred-thousandths of a millimetre."""
    n = len(points)
    days = [each[0].toordinal() for each in points]
    parts = [math.floor(each[1] * 10**5 + 0.5) for each in points]
    Sxx = n * sum(day * day for day in days) - sum(days) ** 2
    if Sxx == 0:
        return None, None
    Sxy = n * sum(day * part for day, part in zip(days, parts, strict=True)) - sum(days) * sum(parts)
    Syy = n * sum(part * part for part in parts) - sum(parts) ** 2
    rate = -Sxy / Sxx / 10**5 * YEAR
    error = math.sqrt((Syy * Sxx - Sxy * Sxy) / (n - 2)) / Sxx / 10**5 * YEAR if n > 2 else None
    return _rate(rate), error


def select(
    history: History, stated: float | None, choices: list[Choice], similar: float | None, policy: Policy
) -> None:
    """The governing rate: the policy's, or a named person's choice; never below zero or the plant's floor."""
    n = history.numbers
    source, rate = _by_policy(history, stated, policy)
    n["rate_policy_from"], n["rate_by_policy_mm_per_year"] = source, rate
    chosen = _chosen(history, stated, choices, similar)
    if chosen is not None:
        way, rate = chosen
        alone = len(history.points) < 2 or (history.brief and history.initial_from == "nominal")
        source = f"long-term from {history.initial_from}" if way == "long-term" and alone else way
    n["rate_from"], n["rate_selected_mm_per_year"] = source, rate
    n["is_chosen"] = chosen is not None
    n["rate_mm_per_year"] = None if rate is None else max(rate, 0.0, policy.rate_floor)
    n["rate_deviation_mm_per_year"] = _deviation(history, source, policy)


def _by_policy(history: History, stated: float | None, policy: Policy) -> tuple[str | None, float | None]:
    n = history.numbers
    lt, st = n["rate_lt_mm_per_year"], n["rate_st_mm_per_year"]
    if len(history.points) < 2:
        if stated is not None and (lt is None or stated >= lt):
            return "stated", stated
        return (None, None) if lt is None else (f"long-term from {history.initial_from}", lt)
    if lt is None:
        return None, None
    if history.brief and stated is not None and stated >= lt:
        return "stated", stated
    if history.brief and history.initial_from == "nominal":
        return "long-term from nominal", lt
    if policy.rate_policy == "fit upper bound" and n["rate_fit_upper_mm_per_year"] is not None:
        return "fit upper bound", n["rate_fit_upper_mm_per_year"]
    if policy.rate_policy == "long-term" or not n["short_term_counts"]:
        return "long-term", lt
    return ("short-term", st) if policy.rate_policy == "short-term" or st > lt else ("long-term", lt)


def _chosen(
    history: History, stated: float | None, choices: list[Choice], similar: float | None
) -> tuple[str, float] | None:
    """The first choice that counts: made in this history, and the rate it names is there."""
    n = history.numbers
    for choice in choices:
        rate = {
            "long-term": n["rate_lt_mm_per_year"],
            "short-term": n["rate_st_mm_per_year"],
            "least squares": n["rate_fit_mm_per_year"],
            "fit upper bound": n["rate_fit_upper_mm_per_year"],
            "stated": stated,
            "similar service": similar,
            "named rate": choice.rate,
        }[choice.way]
        if rate is not None and (history.epoch is None or choice.on >= history.epoch.on):
            return choice.way, rate
    return None


def _deviation(history: History, source: str | None, policy: Policy) -> float | None:
    n = history.numbers
    if source in ("fit upper bound", "least squares"):
        return n["rate_fit_error_mm_per_year"]
    years = (
        n["years_short"] if source == "short-term" else n["years_long"] if source and "long-term" in source else None
    )
    return math.sqrt(2) * policy.scatter / years if years is not None else None
