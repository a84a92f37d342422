"""The baseline in pandas: from checked readings to the ranking, as somebody at home in pandas would write it.

Rules are those of the engineering basis, as `tests/second_path` reads them, on the default policies; nothing is taken
from the pipeline's clauses or steps. Whole columns at a time throughout: no loop over places, components or vessels.

It works out what the plant asks for first: rates and the governing one, required thickness, life, interval, dates,
states, ranking. The pipeline works out more in the same time (the same again with held readings and with the last
reading off by its scatter, two other radius bases, the least-squares rate, MAWP, bands, reasons in words), and knows
rules that are left out here: `PLAIN` is the fleet without them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeAlias

import duckdb
import numpy as np
import pandas as pd

from tests.second_path.due import STATES
from tests.second_path.life import FIRST_CHECK_BY, FIRST_CHECK_FROM, GUARD, NO_DATE_BEYOND, SHORT_LIFE
from tests.second_path.policy import YEAR, Policy
from tests.second_path.rates import NO_RATE
from tests.second_path.register import CODE_MINIMUM, CODE_MINIMUM_WET, HEADS, WATER_HEAD, WET
from tests.second_path.walls import K1, LEAST_WELD_REGION, UNDERTOLERANCE

Frame: TypeAlias = pd.DataFrame
Column: TypeAlias = Any

#: Shares of `tests.fleets.Fleet` without the rules that are left out here: events and changes of service, deferrals,
#: set intervals, on-stream inspections, stated and chosen rates, recommendations, idle and retired vessels, operating
#: years. What is wrong or missing in a plant stays in.
PLAIN = {
    **dict.fromkeys(("event", "changed", "set_interval", "on_stream"), 0.0),
    **dict.fromkeys(("deferred", "deferral_refused", "deferred_other"), 0.0),
    **dict.fromkeys(("stated_rate", "rate_choice", "recommendation", "retired", "idle", "part_time"), 0.0),
}

PART = ["asset", "component"]
PLACE = [*PART, "location"]
POLICY = Policy()
#: Zone of a head and region of a reading.
ZONES = [(zone, region) for zone in ("general", "crown") for region in ("weld", "away")]


@dataclass(frozen=True)
class Known:
    """What is known once the readings are checked, as the pipeline knows it too."""

    as_of: date
    readings: Frame
    assets: Frame
    components: Frame
    places: Frame
    inspections: Frame
    devices: Frame
    turnarounds: Frame


@dataclass(frozen=True)
class Worked:
    """What comes out: a row for each place, component, due date and vessel."""

    places: Frame
    components: Frame
    dues: Frame
    assets: Frame


def load(connection: duckdb.DuckDBPyConnection, as_of: date) -> Known:
    """Load what is known into frames; not part of what is timed."""

    def frame(sql: str) -> Frame:
        return connection.execute(sql).df()

    return Known(
        as_of,
        frame("SELECT asset, component, location, read_on, thickness_mm, status FROM step.reading"),
        frame("SELECT asset, in_register, service, in_service_on, rating_pressure_mpa, relief_device FROM step.asset"),
        frame("FROM step.component"),
        frame("SELECT asset, component, location, distance_to_weld_mm, region_stated, head_zone FROM step.place"),
        frame("SELECT asset, kind, inspected_on FROM step.inspection"),
        frame(
            "SELECT asset, record, min(word) FILTER (field = 'device') AS device, "
            "min(number) FILTER (field = 'interval') AS interval, "
            "min(on_date) FILTER (field = 'last_tested') AS tested_on, "
            "min(word) FILTER (field = 'clean_service') AS clean "
            "FROM fact.field WHERE kind = 'relief devices' GROUP BY asset, record"
        ),
        frame(
            "SELECT min(on_date) FILTER (field = 'start') AS start, min(on_date) FILTER (field = 'end') AS \"end\" "
            "FROM fact.field WHERE kind = 'turnarounds' GROUP BY record"
        ),
    )


@dataclass(frozen=True)
class Ways:
    """The three parts that people write in one of two ways: over whole columns, or row by row."""

    rates: Callable[[Frame, Frame], Frame]
    required: Callable[[Frame], Frame]
    lives: Callable[[Frame], Frame]


def work_out(known: Known, ways: Ways | None = None) -> Worked:
    """Return places, components, due dates and the ranking; by whole columns unless other ways are given."""
    ways = ways or Ways(rates_by_columns, required_by_columns, lives_by_columns)
    as_of = pd.Timestamp(known.as_of)
    must_reach = _must_reach(known.turnarounds, as_of)
    components = known.components.merge(
        known.assets[["asset", "service", "in_service_on", "rating_pressure_mpa"]], on="asset", how="left"
    )
    rates = ways.rates(known.readings, components)
    places = ways.lives(_placed(known.places, components, ways.required(components), rates))
    places["due_on"] = _with_first_checks(places)
    places["state"] = _place_states(places, as_of, must_reach)
    parts = _component_rows(components, places)
    dues = _dues(known, places, parts, as_of, must_reach)
    return Worked(places, parts, dues, _ranking(known.assets, places, parts, dues, as_of, must_reach))


# ---- rates ----------------------------------------------------------------------------------------------------------


def rates_by_columns(readings: Frame, components: Frame) -> Frame:
    """First, previous and last reading of every place that was read, and the rate that governs."""
    used = readings[readings["status"] == "used"].sort_values([*PLACE, "read_on"])
    by_place = used.groupby(PLACE, sort=False)[["read_on", "thickness_mm"]]
    found = by_place.last()
    found.columns = pd.Index(["read_on", "t_act_mm"])
    found[["initial_on", "t_initial_mm"]] = by_place.first()
    before = used.groupby(PLACE, sort=False).nth(-2).set_index(PLACE)
    found[["previous_on", "t_previous_mm"]] = before[["read_on", "thickness_mm"]]
    found["readings"] = by_place.size()
    span = (found["read_on"] - found["initial_on"]).dt.days / YEAR
    lost = found["t_initial_mm"] - found["t_act_mm"]
    most = np.maximum(found["t_initial_mm"], found["t_previous_mm"]) - found["t_act_mm"]
    found["brief"] = (found["readings"] > 1) & (span < POLICY.short_interval) & (most <= POLICY.noise)
    found["first_rate"] = lost / span
    found = found.reset_index().merge(
        components[[*PART, "nominal_thickness_mm", "nominal_from", "in_service_on"]], on=PART, how="left"
    )
    # One reading alone, or several all but at once that give less, count from the nominal thickness, where the register
    # has it, at the in-service date.
    alone = found["readings"] < 2
    in_service = (found["read_on"] - found["in_service_on"]).dt.days / YEAR
    from_nominal = (found["nominal_thickness_mm"] - found["t_act_mm"]) / in_service
    steeper = found["brief"] & (from_nominal > found["first_rate"])
    fit = (alone | steeper) & (found["nominal_from"] == "register") & (in_service > 0)
    found.loc[alone, ["initial_on", "t_initial_mm"]] = [pd.NaT, np.nan]
    found.loc[fit, "initial_on"] = found["in_service_on"]
    found.loc[fit, "t_initial_mm"] = found["nominal_thickness_mm"]
    years_long = (found["read_on"] - found["initial_on"]).dt.days / YEAR
    years_short = (found["read_on"] - found["previous_on"]).dt.days / YEAR
    loss = found["t_previous_mm"] - found["t_act_mm"]
    long = _no_rate((found["t_initial_mm"] - found["t_act_mm"]) / years_long)
    short = _no_rate(loss / years_short)
    counts = (years_short >= POLICY.short_interval) | (loss > POLICY.noise)
    found["rate_mm_per_year"] = long.mask(counts & (short > long), short).clip(lower=0.0)
    return found[[*PLACE, "read_on", "t_act_mm", "rate_mm_per_year", "readings", "brief"]]


def _no_rate(rate: Column) -> Column:
    return rate.mask(rate.abs() < NO_RATE, 0.0)


# ---- required thickness ---------------------------------------------------------------------------------------------


def required_by_columns(components: Frame) -> Frame:
    """Required thickness of every component in each zone of a head, in the weld region and away from it."""
    c = shaped(components)
    return required_from(c, {each: _for_pressure(c, *each) for each in ZONES})


def required_from(c: Frame, for_pressure: dict[tuple[str, str], Column]) -> Frame:
    """The largest of what pressure, code minimum (a neck: UG-45), structure and external pressure ask for."""
    least = pd.Series(
        np.where(
            c["service"].map(lambda said: isinstance(said, str) and WET.search(said) is None).astype(bool),
            CODE_MINIMUM,
            CODE_MINIMUM_WET,
        ),
        c.index,
    )
    least = least.mask(c["kind"] == "nozzle", neck_minimum(c, for_pressure["general", "away"], least))
    structural = c["structural_minimum_mm"].fillna(0.0)
    external = c["external_thickness_mm"].where(
        c["external_thickness_mm"].notna() | (c["external_pressure_mpa"] > 0), 0.0
    )
    frames = []
    for zone in ("general", "crown"):
        frame = c[PART].assign(zone=zone)
        for region in ("weld", "away"):
            whole = np.maximum(np.maximum(for_pressure[zone, region], least), np.maximum(structural, external))
            frame[f"t_req_{region}_mm"] = whole
        frames.append(frame)
    return pd.concat(frames)


def shaped(components: Frame) -> Frame:
    """Diameters, shape factors and pressure as built; not a number where the register lacks something."""
    c = components.copy()
    t = c["nominal_thickness_mm"]
    inside, outside = c["inside_diameter_stated_mm"], c["outside_diameter_stated_mm"]
    c["inside"] = inside.fillna((outside - 2 * t).where(outside > 2 * t))
    c["outside"] = outside.fillna(c["inside"] + 2 * t)
    depth = c["head_depth_mm"].mask(
        c["head_depth_mm"].isna() & (c["kind"] == "ellipsoidal head") & c["is_two_to_one"], c["inside"] / 4
    )
    proportion = c["inside"] / (2 * depth)
    c["K"] = (2 + proportion**2) / 6
    c["K1"] = np.interp(proportion, [row[0] for row in K1], [row[1] for row in K1], left=np.nan, right=np.nan)
    crown, knuckle = c["crown_radius_as_built_mm"], c["knuckle_radius_mm"]
    fits = (knuckle / crown >= 0.06 - 1e-6) & (crown / c["outside"] <= 1 + 1e-6)
    c["M"] = ((3 + np.sqrt(crown / knuckle)) / 4).where(fits)
    head = (WATER_HEAD * c["specific_gravity"] * c["liquid_head_mm"]).fillna(0.0)
    c["P"] = c["rating_pressure_mpa"] + head
    return c


def _for_pressure(c: Frame, zone: str, region: str) -> Column:
    """Thickness for internal pressure on the retirement basis; not a number where no clause holds."""
    kind = c["kind"].astype(object)
    out = (c["loss_side"] != "outside") & (kind != "flat head")  # outside-dimension form
    t, P, S = c["nominal_thickness_mm"], c["P"], c["allowable_stress_mpa"]
    long, circ = c["efficiency_longitudinal"], c["efficiency_circumferential"]
    if region == "away":
        long, circ = pd.Series(1.0, c.index), pd.Series(1.0, c.index)  # whatever the joint's is, known or not
    SE, SEC = S * long, S * circ
    D = c["outside"].where(out, c["inside"])
    crown = c["crown_radius_as_built_mm"] + t.where(out, 0.0)
    R = (c["inside"] / 2) + t.where(out, 0.0)
    K, K1_, M = c["K"], c["K1"], c["M"]

    ellipsoid = (P * D * K / (2 * SE + 2 * P * (K - 0.1))).where(out, P * D * K / (2 * SE - 0.2 * P))
    ellipsoid = ellipsoid.where(ellipsoid >= 0.002 * K1_ * (D - 2 * ellipsoid.where(out, 0.0)))
    torus = (P * crown * M / (2 * SE + P * (M - 0.2))).where(out, P * crown * M / (2 * SE - 0.2 * P))
    torus = torus.where(torus >= 0.002 * (crown - torus.where(out, 0.0)))
    slope = np.cos(np.radians(c["half_apex_angle_deg"]))
    cone = (P * D / (2 * slope * (SE + 0.4 * P))).where(out, P * D / (2 * slope * (SE - 0.6 * P)))
    cone = cone.where((c["half_apex_angle_deg"] <= 30) & (out | (SE > 0.6 * P)))
    if zone == "crown":
        ellipsoid = _sphere(P, SE, K1_ * c["inside"] + t.where(out, 0.0), out)
        torus = _sphere(P, SE, crown.where(M.notna()), out)
    by_kind = {
        "cylinder": _cylinder(P, SE, SEC, R, out),
        "nozzle": _cylinder(P, SE, SEC, R, out),
        "sphere": _sphere(P, SE, R, out),
        "hemispherical head": _sphere(P, SE, R, out),
        "ellipsoidal head": ellipsoid,
        "torispherical head": torus,
        "cone": cone,
        "flat head": D * np.sqrt(c["flat_head_factor"] * P / SE),
    }
    chosen = np.select([kind == name for name in by_kind], list(by_kind.values()), np.nan)
    # Without the longitudinal efficiency nothing is known of a component.
    return pd.Series(chosen, c.index).where((P > 0) & S.notna() & long.notna())


def _cylinder(P: Column, SE: Column, SEC: Column, R: Column, out: Column) -> Column:
    """The larger of both joints' thickness: thin wall, or thick beyond its limits."""
    thin = (P * R / (SE + 0.4 * P)).where(out, P * R / (SE - 0.6 * P))
    root = np.sqrt((SE + P) / (SE - P).where(P < SE))
    thick = (R * (root - 1) / root).where(out, R * (root - 1))
    longitudinal = thin.where((P <= 0.385 * SE) & (thin <= (R - thin.where(out, 0.0)) / 2), thick)
    thin = (P * R / (2 * SEC + 1.4 * P)).where(out, P * R / (2 * SEC + 0.4 * P))
    root = np.sqrt(P / SEC + 1)
    thick = (R * (root - 1) / root).where(out, R * (root - 1))
    around = thin.where((P <= 1.25 * SEC) & (thin <= (R - thin.where(out, 0.0)) / 2), thick)
    return np.maximum(longitudinal, around)


def _sphere(P: Column, SE: Column, R: Column, out: Column) -> Column:
    thin = (P * R / (2 * SE + 0.8 * P)).where(out, P * R / (2 * SE - 0.2 * P))
    root = np.cbrt(2 * (SE + P) / (2 * SE - P).where(P < 2 * SE))
    thick = (R * (root - 1) / root).where(out, R * (root - 1))
    return thin.where((P <= 0.665 * SE) & (thin <= 0.356 * (R - thin.where(out, 0.0))), thick)


def neck_minimum(c: Frame, away: Column, least: Column) -> Column:
    """UG-45: the smaller of {the wall's own need at E = 1, code minimum} and {standard wall less undertolerance}."""
    walls = c[PART].assign(need=away)[c["kind"].notna() & ~c["kind"].isin(["nozzle", "flat head"])]
    named = c.merge(walls, left_on=["asset", "attached_to"], right_on=PART, how="left", suffixes=("", "_of"))["need"]
    by_vessel = walls.groupby("asset")["need"]
    whole = by_vessel.max().where(by_vessel.count() == by_vessel.size())
    parent = pd.Series(np.where(c["attached_to"].notna(), named, c["asset"].map(whole)), c.index)
    pipe = c["standard_wall_mm"] * (1 - UNDERTOLERANCE)
    own = np.maximum(parent, least)
    return pipe.where(parent.isna(), own.where(pipe.isna(), np.minimum(own, pipe)))


# ---- places ---------------------------------------------------------------------------------------------------------


def _placed(places: Frame, components: Frame, required: Frame, rates: Frame) -> Frame:
    """Every place with its required thickness, its last reading and its rate."""
    p = places.merge(components[[*PART, "kind", "in_service_on"]], on=PART)
    p["zone"] = np.where((p["head_zone"] == "crown") & p["kind"].isin(HEADS), "crown", "general")
    p = p.merge(required, on=[*PART, "zone"], how="left").merge(rates, on=PLACE, how="left")
    half_width = (2 * p["t_req_weld_mm"]).clip(lower=LEAST_WELD_REGION)
    distance = p["distance_to_weld_mm"]
    away = (p["region_stated"] != "weld") & np.where(
        distance.notna(), distance > half_width, p["region_stated"] == "away"
    )
    p["t_req_mm"] = p["t_req_away_mm"].where(away, p["t_req_weld_mm"])
    return p


def lives_by_columns(p: Frame) -> Frame:
    """Life, interval and dates of every place."""
    t, t_req, rate = p["t_act_mm"], p["t_req_mm"], p["rate_mm_per_year"]
    p["below"] = t < t_req
    p["margin"] = (t - t_req) / t_req
    p["remaining_life_years"] = ((t - t_req) / rate).where(rate > 0)
    p["assessed"] = t_req.notna() & t.notna() & (p["below"] | rate.notna())
    life = p["remaining_life_years"]
    half = np.maximum(life / 2, life.clip(upper=SHORT_LIFE)).clip(upper=POLICY.internal_cap)
    p["interval_years"] = np.select(
        [p["below"], (rate == 0) & t_req.notna(), life <= 0, life.notna()],
        [0.0, POLICY.internal_cap, 0.0, half],
        np.nan,
    )
    dated = life.where(life.abs() <= NO_DATE_BEYOND)
    p["retirement_on"] = p["read_on"] + _days(dated)
    p["internal_due_on"] = p["read_on"] + _days(p["interval_years"])
    never = p["in_service_on"] + _days(pd.Series(POLICY.internal_cap, p.index))
    p["due_on"] = p["internal_due_on"].where(p["read_on"].notna(), never)
    return p


def _with_first_checks(p: Frame) -> Column:
    """When each place is due: a component nobody has checked since it went into service within half a year of that."""
    gives_a_rate = (p["readings"] > 1) & ~p["brief"].fillna(False).astype(bool)
    in_time = p["read_on"] >= p["in_service_on"] + pd.Timedelta(days=int(FIRST_CHECK_FROM * YEAR))
    checked = (gives_a_rate | in_time).groupby([p[key] for key in PART]).transform("any")
    check_on = p["in_service_on"] + pd.Timedelta(days=int(FIRST_CHECK_BY * YEAR))
    return p["due_on"].mask(~checked & check_on.notna() & ~(p["due_on"] < check_on), check_on)


def _days(years: Column) -> Column:
    return pd.to_timedelta(np.floor(years * YEAR + GUARD), unit="D")


def _place_states(p: Frame, as_of: pd.Timestamp, must_reach: pd.Timestamp) -> Column:
    return np.select(
        [
            p["below"],
            p["due_on"] < as_of,
            ~p["assessed"] | p["due_on"].isna(),
            (p["due_on"] < must_reach) | (p["retirement_on"] < must_reach),
        ],
        ["below required", "overdue", "not assessable", "due by turnaround"],
        "in date",
    )


def _must_reach(turnarounds: Frame, as_of: pd.Timestamp) -> pd.Timestamp:
    """The end of the turnaround after the next; those of these fleets do not overlap."""
    ends = turnarounds["end"].fillna(turnarounds["start"])
    ahead = ends[ends >= as_of].sort_values()
    return ahead.iloc[min(1, len(ahead) - 1)] if len(ahead) else pd.NaT


_ORDER = {state: number for number, state in enumerate(STATES)}


def _component_rows(components: Frame, places: Frame) -> Frame:
    """The governing place of every component, its worst state and earliest dates."""
    ordered = places.assign(
        order=places["state"].map(_ORDER),
        not_below=~places["below"],
        unread=places["t_act_mm"].isna(),
        life=places["remaining_life_years"].fillna(np.inf),
        slack=places["margin"].fillna(np.inf),
        asks=-places["t_req_mm"].fillna(0.0),
    )
    by_part = ordered.groupby(PART)
    together = by_part.agg(
        order=("order", "min"),
        due_on=("due_on", "min"),
        retirement_on=("retirement_on", "min"),
        interval_years=("interval_years", "min"),
        assessed=("assessed", "all"),
    )
    governing = (
        ordered.sort_values([*PART, "not_below", "unread", "life", "slack", "asks", "location"])
        .drop_duplicates(PART)
        .set_index(PART)[["location", "t_act_mm", "t_req_mm", "rate_mm_per_year", "margin", "remaining_life_years"]]
    )
    rows = components[PART].merge(together.join(governing), left_on=PART, right_index=True, how="left")
    rows["order"] = rows["order"].fillna(_ORDER["not assessable"]).astype(int)
    rows["state"] = np.array(STATES)[rows["order"]]
    rows["missing"] = ~rows["assessed"].fillna(False).astype(bool)
    return rows


# ---- due dates and ranking ------------------------------------------------------------------------------------------


def _dues(known: Known, places: Frame, parts: Frame, as_of: pd.Timestamp, must_reach: pd.Timestamp) -> Frame:
    assets = known.assets.set_index("asset")
    started = assets["in_service_on"]
    by_part = parts.groupby("asset")
    sure = (~by_part["missing"].any()).reindex(assets.index).fillna(False).astype(bool)
    last = known.inspections.pivot_table(index="asset", columns="kind", values="inspected_on", aggfunc="max")
    last = last.reindex(index=assets.index, columns=["internal", "external", "relief device"])
    interval = places.groupby("asset")["interval_years"].min().reindex(assets.index)
    half = _first(places, "internal_due_on").reindex(assets.index)
    survey = _first(places, "due_on").reindex(assets.index)

    anchor = last["internal"].fillna(started)
    cap_on = anchor + _days(pd.Series(POLICY.internal_cap, assets.index))
    by_place = cap_on.isna() | (half["on"] < cap_on)
    inside = half.where(by_place).assign(on=cap_on.mask(by_place, half["on"]), sure=sure & anchor.notna())
    anchor = last["external"].fillna(started)
    outside = pd.DataFrame({"on": anchor + _days(interval.clip(upper=POLICY.external_cap).fillna(POLICY.external_cap))})
    outside["sure"] = sure & anchor.notna()
    survey["sure"] = sure & survey["on"].notna()
    kinds = {
        "internal": inside,
        "external": outside,
        "thickness": survey,
        "relief device": _relief(known, assets, last["relief device"]),
    }
    dues = pd.concat([frame.assign(kind=kind) for kind, frame in kinds.items()]).rename_axis("asset").reset_index()
    on = dues["on"]
    dues["state"] = np.select(
        [on < as_of, on.isna() | ~dues["sure"].astype(bool), on < must_reach],
        ["overdue", "not assessable", "due by turnaround"],
        "in date",
    )
    return dues.rename(columns={"on": "due_on"})


def _first(places: Frame, column: str) -> Frame:
    """The place of every vessel that sets its earliest date."""
    ordered = places[places[column].notna()].sort_values(["asset", column, "component", "location"])
    first = ordered.drop_duplicates("asset").set_index("asset")
    return first[[column, "component", "location", "margin"]].rename(columns={column: "on"})


def _relief(known: Known, assets: Frame, inspected: Column) -> Frame:
    """The earliest date of a vessel's relief devices; one that no sheet lists counts from the in-service date."""
    stated = known.devices
    one = stated.assign(
        asset=stated["asset"].fillna(
            stated["device"].map(
                assets.reset_index().dropna(subset="relief_device").set_index("relief_device")["asset"]
            )
        )
    ).dropna(subset="asset")
    one = one.groupby(["asset", "device"], as_index=False).agg(
        interval=("interval", "min"), tested_on=("tested_on", "max"), clean=("clean", "min")
    )
    named = assets["relief_device"].dropna().rename("device").reset_index()
    devices = named.merge(one, on=["asset", "device"], how="outer")
    alone = devices.groupby("asset")["device"].transform("size") == 1
    inspection = devices["asset"].map(inspected).where(alone)
    anchor = devices[["tested_on"]].assign(inspection=inspection).max(axis=1)
    anchor = anchor.fillna(devices["asset"].map(assets["in_service_on"]))
    cap = pd.Series(np.where(devices["clean"] == "yes", POLICY.relief_clean_cap, POLICY.relief_cap), devices.index)
    devices["on"] = anchor + _days(np.minimum(devices["interval"].fillna(cap), cap))
    by_vessel = devices.groupby("asset")["on"]
    return pd.DataFrame({"on": by_vessel.min(), "sure": by_vessel.count() == by_vessel.size()})


def _ranking(
    assets: Frame, places: Frame, parts: Frame, dues: Frame, as_of: pd.Timestamp, must_reach: pd.Timestamp
) -> Frame:
    """The first concern of every vessel, and the vessels in order of urgency."""
    columns = ["asset", "component", "location", "margin"]
    below = places.loc[places["below"], [*columns, "read_on"]].rename(columns={"read_on": "on"})
    retiring = places[(places["retirement_on"] < must_reach) & ~places["below"]]
    retiring = retiring.sort_values(["asset", "retirement_on", "component", "location"]).drop_duplicates("asset")
    bare = assets[~assets["in_register"] | ~assets["asset"].isin(parts["asset"])]
    concerns = pd.concat(
        [
            below.assign(state="below required", kind="required thickness"),
            retiring[[*columns, "retirement_on"]]
            .rename(columns={"retirement_on": "on"})
            .assign(state="due by turnaround", kind="retirement"),
            parts.loc[parts["missing"], PART].assign(state="not assessable", kind="data"),
            bare[["asset"]].assign(state="not assessable", kind="data"),
            dues[[*columns, "due_on", "state", "kind"]].rename(columns={"due_on": "on"}),
        ],
        ignore_index=True,
    )
    concerns["order"] = concerns["state"].map(_ORDER)
    concerns["first_on"] = concerns["on"].fillna(pd.Timestamp(1, 1, 1).as_unit("us"))
    concerns["slack"] = concerns["margin"].fillna(np.inf)
    first = concerns.sort_values(["asset", "order", "first_on", "slack", "kind", "component", "location"])
    first = first.drop_duplicates("asset").set_index("asset")
    weakest = parts.sort_values(["asset", "order", "remaining_life_years", "margin", "component"])
    weakest = weakest.drop_duplicates("asset").set_index("asset")
    rows = assets[["asset"]].set_index("asset").join(first)
    rows["governing_on"] = rows["on"].fillna(dues.groupby("asset")["due_on"].min())
    rows["margin"] = rows["margin"].fillna(weakest["margin"])
    rows["days_to_governing"] = (rows["governing_on"] - as_of).dt.days
    rows = rows.reset_index().sort_values(
        ["order", "days_to_governing", "margin", "asset"],
        key=lambda column: column.fillna(-np.inf) if column.name == "days_to_governing" else column,
    )
    rows["rank"] = np.arange(1, len(rows) + 1)
    return rows


# ---- against the pipeline's results ---------------------------------------------------------------------------------

#: What is compared: the frame, the table of results, its key, and the columns.
_COMPARED: tuple[tuple[str, str, list[str], tuple[str, ...]], ...] = (
    (
        "places",
        "location",
        PLACE,
        (
            *("t_act_mm", "rate_mm_per_year", "t_req_mm", "remaining_life_years", "interval_years", "retirement_on"),
            *("due_on", "state"),
        ),
    ),
    ("components", "component", PART, ("t_req_mm", "rate_mm_per_year", "remaining_life_years", "due_on", "state")),
    ("dues", "due_date", ["asset", "kind"], ("due_on", "state")),
    ("assets", "asset", ["asset"], ("state", "governing_on", "margin", "rank")),
)


def disagreements(worked: Worked, connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[int, int]]:
    """Compare with the tables of results: for each column how many rows differ, of how many.

    Rows that only one side has differ in every column. Numbers agree to a billionth of their size.
    """
    found = {}
    for name, table, key, columns in _COMPARED:
        ours = getattr(worked, name)[[*key, *columns]]
        theirs = connection.execute(f"SELECT {', '.join([*key, *columns])} FROM result.{table}").df()
        both = ours.merge(theirs, on=key, how="outer", suffixes=("", "_theirs"), indicator=True)
        for column in columns:
            one, other = both[column], both[f"{column}_theirs"]
            if pd.api.types.is_numeric_dtype(one):
                same = np.isclose(one.astype(float), other.astype(float), rtol=1e-9, atol=1e-9, equal_nan=True)
            else:
                same = (one == other) | (one.isna() & other.isna())
            found[f"{table}.{column}"] = int((~same | (both["_merge"] != "both")).sum()), len(both)
    return found
