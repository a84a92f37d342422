"""One asset over time: the band its thickness lies in, the pressure a wall may hold, what is measured, what changed.

Nothing is judged here: every value is a result, or a clause worked for a day between two results.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import duckdb
import pandas as pd

from pipeline.formulas import FORMULAS
from pipeline.reading import Row, asked
from pipeline.record import Record

#: How many days are worked between now and the end of a curve.
POINTS = 40


def thickness_band(place: Row) -> pd.DataFrame:
    """Return the thickness at the high and at the low end of the rate from the last reading on.

    Columns `on`, `low_mm`, `high_mm`; two days: the last reading, and the later of the due date and ten years on, at
    most until the low end has reached half of the required thickness. Empty where there is no band.
    """
    empty = pd.DataFrame(
        {"on": pd.Series(dtype="datetime64[us]"), "low_mm": pd.Series(dtype=float), "high_mm": pd.Series(dtype=float)}
    )
    high, low, start = place["rate_high_mm_per_year"], place["rate_low_mm_per_year"], place["read_on"]
    if high is None or low is None or start is None or place["t_act_mm"] is None:
        return empty
    end = max(day for day in (place["due_on"], place["due_latest_on"], start + timedelta(days=365)) if day)
    years = FORMULAS["years_between"].evaluate({"days": float((end - start).days), "y_d": place["days_per_year"]})
    after = FORMULAS["thickness_after"]
    at = {"t_act": place["t_act_mm"], "years": years}
    return pd.DataFrame(
        {
            "on": pd.to_datetime([start, end]),
            "low_mm": [place["t_act_mm"], max(after.evaluate({**at, "C_r": high}) or 0.0, 0.0)],
            "high_mm": [place["t_act_mm"], after.evaluate({**at, "C_r": low})],
        }
    )


def pressure_over_time(
    connection: duckdb.DuckDBPyConnection, asset: str, component: str, location: str
) -> pd.DataFrame:
    """Return the MAWP of a place day by day, at the thickness less twice the loss since the last reading.

    Columns `on` and `mawp_mpa`; from the last reading to the later of retirement (within 25 years) and ten years on.
    Empty where pressure or rate is unknown.
    """
    found = asked(
        connection,
        "SELECT pressure.*, held.longitudinal_formula AS hold_longitudinal, "
        "held.circumferential_formula AS hold_circumferential, held.hold_formula, held.static_head_mpa, "
        "held.rating_pressure_mpa, life.read_on, life.t_act_mm, life.rate_mm_per_year, life.retirement_on, "
        "basis.days_per_year FROM step.pressure_held AS held JOIN step.life AS life USING (asset, component, location) "
        "JOIN step.place_required AS required USING (asset, component, location) CROSS JOIN basis.in_force AS basis "
        "JOIN step.pressure_thickness AS pressure ON pressure.asset = held.asset "
        "AND pressure.component = held.component AND pressure.zone = required.zone "
        "AND pressure.region = required.region_counted AND pressure.radius_basis = basis.radius_basis "
        "WHERE held.asset = ? AND held.component = ? AND held.location = ? AND life.scenario = 'in force'",
        [asset, component, location],
    )
    if not found or found[0]["rate_mm_per_year"] is None or found[0]["hold_formula"] is None:
        return pd.DataFrame({"on": pd.Series(dtype="datetime64[us]"), "mawp_mpa": pd.Series(dtype=float)})
    row = found[0]
    start: date = row["read_on"]
    retirement = row["retirement_on"]
    last = start + timedelta(days=3653)
    if retirement is not None and start < retirement < start + timedelta(days=25 * 365):
        last = max(last, retirement)
    days = [start + timedelta(days=round((last - start).days * n / POINTS)) for n in range(POINTS + 1)]
    values = [_mawp(row, float((day - start).days)) for day in days]
    frame = pd.DataFrame({"on": pd.to_datetime(days), "mawp_mpa": values})
    return frame[frame["mawp_mpa"].notna()]


def _mawp(row: Row, days: float) -> float | None:
    years = 0.0 if days == 0 else FORMULAS["years_between"].evaluate({"days": days, "y_d": row["days_per_year"]})
    wall = FORMULAS["thickness_at_next"].evaluate(
        {"t_act": row["t_act_mm"], "C_r": row["rate_mm_per_year"], "interval": years}
    )
    if row["hold_formula"] == "hold_cylinder":
        joints = {
            f"holding_pressure_{joint}_mpa": _hold(row[f"hold_{joint}"], row, wall, row[f"efficiency_{joint}"])
            for joint in ("longitudinal", "circumferential")
        }
        held = FORMULAS["hold_cylinder"].evaluate(joints)
    else:
        held = _hold(row["hold_formula"], row, wall, row["efficiency_longitudinal"])
    return FORMULAS["mawp"].evaluate({**row, "holding_pressure_mpa": held})


def _hold(name: str, row: Row, wall: float | None, efficiency: float | None) -> float | None:
    """Return the pressure a wall holds by the clause used now, or by the thin-wall one once it is thin enough."""
    values = {**row, "thickness_mm": wall, "joint_efficiency": efficiency}
    for formula_id in (name.replace("_thick", ""), name):
        formula = FORMULAS.get(formula_id)
        held = formula.evaluate({q.column: values.get(q.column) for q in formula.inputs}) if formula else None
        if held is not None:
            return held
    return None


def coverage(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return what of an asset is measured: each component with its places, those never read and those missed since.

    Columns `component`, `kind`, `places`, `places_never_read`, `places_missed`, `longest_streak`, `last_read_on`.
    """
    return (
        connection.cursor()
        .execute(
            "SELECT component, any_value(kind) AS kind, any_value(places) AS places, "
            "any_value(places_never_read) AS places_never_read, "
            "count(*) FILTER (misses_in_a_row > 0) AS places_missed, "
            "coalesce(max(misses_in_a_row), 0) AS longest_streak, max(location_read_on) AS last_read_on FROM ("
            "SELECT component.component, coalesce(kind, kind_text) AS kind, places, places_never_read, "
            "location.misses_in_a_row, location.read_on AS location_read_on "
            "FROM result.component AS component LEFT JOIN result.location AS location USING (asset, component) "
            "WHERE asset = ?) GROUP BY component ORDER BY any_value(places) > 0, component",
            [asset],
        )
        .df()
    )


def changes(record: Record, asset: str) -> list[Row]:
    """Return everything people entered about an asset, the newest first: when, who, what, and why."""
    return [
        {
            "at": entry.at[:16].replace("T", " "),
            "who": entry.who,
            "what": _what(entry.kind, entry.cells),
            "reason": entry.reason,
            "number": entry.seq,
        }
        for entry in reversed(record.history())
        if entry.cells.get("asset") == asset
    ]


def _what(kind: str, cells: Any) -> str:
    said = ", ".join(f"{name} {value}" for name, value in cells.items() if name != "asset" and str(value).strip())
    return f"{kind}: {said}"
