"""The same in pandas with a function for each place and each component, as most notebooks have it.

A group of readings at a time (`groupby(...).apply`), a component at a time (`apply(axis=1)` over the clauses with their
ifs), a place at a time; only the rest, which are a few rows a vessel, goes by columns as in `in_pandas`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from tests.bench.in_pandas import PART, PLACE, POLICY, ZONES, Frame, Ways, required_from, shaped
from tests.second_path.life import GUARD, NO_DATE_BEYOND, interval_of
from tests.second_path.policy import YEAR
from tests.second_path.rates import NO_RATE
from tests.second_path.walls import Wall, thickness_for


def rates_place_by_place(readings: Frame, components: Frame) -> Frame:
    """The last reading of every place and the rate that governs."""
    used = readings[readings["status"] == "used"].sort_values("read_on")
    used = used.merge(components[[*PART, "nominal_thickness_mm", "nominal_from", "in_service_on"]], on=PART, how="left")
    return used.groupby(PLACE).apply(_rate_of).reset_index()


def _rate_of(group: Frame) -> pd.Series[Any]:
    last, first = group.iloc[-1], group.iloc[0]
    rate, brief, from_nominal = np.nan, False, np.nan
    if last["nominal_from"] == "register" and last["in_service_on"] < last["read_on"]:
        years = (last["read_on"] - last["in_service_on"]).days / YEAR
        from_nominal = _rate(last["nominal_thickness_mm"], last["thickness_mm"], years)
    if len(group) > 1:
        before = group.iloc[-2]
        rate = _rate(first["thickness_mm"], last["thickness_mm"], (last["read_on"] - first["read_on"]).days / YEAR)
        years = (last["read_on"] - before["read_on"]).days / YEAR
        if years >= POLICY.short_interval or before["thickness_mm"] - last["thickness_mm"] > POLICY.noise:
            rate = max(rate, _rate(before["thickness_mm"], last["thickness_mm"], years))
        span = (last["read_on"] - first["read_on"]).days / YEAR
        most = max(first["thickness_mm"], before["thickness_mm"]) - last["thickness_mm"]
        brief = span < POLICY.short_interval and most <= POLICY.noise
        if brief and from_nominal > rate:
            rate = from_nominal
    else:
        rate = from_nominal
    rate = max(rate, 0.0) if rate == rate else rate
    return pd.Series(
        {
            "read_on": last["read_on"],
            "t_act_mm": last["thickness_mm"],
            "rate_mm_per_year": rate,
            "readings": len(group),
            "brief": brief,
        }
    )


def _rate(earlier: float, later: float, years: float) -> float:
    rate = (earlier - later) / years
    return 0.0 if abs(rate) < NO_RATE else rate


def required_component_by_component(components: Frame) -> Frame:
    """Required thickness of every component in each zone of a head, in the weld region and away from it."""
    c = shaped(components)
    return required_from(c, {(zone, region): c.apply(_asked, axis=1, args=(zone, region)) for zone, region in ZONES})


def _asked(row: pd.Series[Any], zone: str, region: str) -> float:
    """Thickness for internal pressure on the retirement basis; not a number where no clause holds."""
    kind = _known(row["kind"])
    if kind is None:
        return np.nan
    out = row["loss_side"] != "outside" and kind != "flat head"
    added = row["nominal_thickness_mm"] if out else 0.0
    R, crown = row["inside"] / 2 + added, row["crown_radius_as_built_mm"] + added
    whole = "sphere" if kind == "hemispherical head" else kind
    if zone == "crown" and kind == "ellipsoidal head":
        whole, R = "sphere", row["K1"] * row["inside"] + added
    elif zone == "crown" and kind == "torispherical head":
        whole, R = "sphere", crown if row["M"] == row["M"] else np.nan
    wall = Wall(
        kind=whole,
        outside=out,
        thick=POLICY.thick_wall,
        S=_known(row["allowable_stress_mpa"]),
        EL=1.0 if region == "away" else _known(row["efficiency_longitudinal"]),
        EC=1.0 if region == "away" else _known(row["efficiency_circumferential"]),
        R=_known(R),
        D=_known(row["outside"] if out else row["inside"]),
        L=_known(crown),
        K=_known(row["K"]),
        K1=_known(row["K1"]),
        M=_known(row["M"]),
        alpha=_known(row["half_apex_angle_deg"]),
        C=_known(row["flat_head_factor"]),
    )
    t = thickness_for(wall, _known(row["P"]))
    return np.nan if t is None else t


def _known(value: Any) -> Any:
    return None if pd.isna(value) else value


def lives_place_by_place(places: Frame) -> Frame:
    """Life, interval and dates of every place."""
    return places.join(places.apply(_life_of, axis=1, result_type="expand"))


def _life_of(row: pd.Series[Any]) -> dict[str, Any]:
    t, t_req, rate, read_on = row["t_act_mm"], row["t_req_mm"], row["rate_mm_per_year"], row["read_on"]
    below = bool(t < t_req)
    life = (t - t_req) / rate if rate > 0 else np.nan
    interval = np.nan
    if below:
        interval = 0.0
    elif rate == 0 and t_req == t_req:
        interval = POLICY.internal_cap
    elif life == life:
        interval = interval_of(life, POLICY.internal_cap)
    due_on = _after(read_on, interval) if t == t else _after(row["in_service_on"], POLICY.internal_cap)
    return {
        "below": below,
        "margin": (t - t_req) / t_req,
        "remaining_life_years": life,
        "assessed": bool(t_req == t_req and t == t and (below or rate == rate)),
        "interval_years": interval,
        "retirement_on": _after(read_on, life) if abs(life) <= NO_DATE_BEYOND else pd.NaT,
        "internal_due_on": _after(read_on, interval),
        "due_on": due_on,
    }


def _after(on: Any, years: float) -> Any:
    if pd.isna(on) or years != years:
        return pd.NaT
    return on + pd.Timedelta(days=int(np.floor(years * YEAR + GUARD)))


BY_ROWS = Ways(rates_place_by_place, required_component_by_component, lives_place_by_place)
