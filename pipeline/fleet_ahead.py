"""What lies ahead of the fleet: how long its assets have left, and the calendar of its due dates."""

from __future__ import annotations

from datetime import date
from typing import Any

import duckdb
import pandas as pd

#: Bars of the time that is left, each up to but not including its years; the last has no end.
LIFE_BARS = (
    ("used up", 0.0),
    ("under 1 year", 1.0),
    ("1 to 2 years", 2.0),
    ("2 to 4 years", 4.0),
    ("4 to 6 years", 6.0),
    ("6 to 10 years", 10.0),
    ("10 to 20 years", 20.0),
    ("20 years or more", None),
)
#: Remaining life under which the interval is no longer half of it (API 510 6.5.1.1).
SHORT_LIFE_YEARS = 4.0
NO_LOSS_BAR, UNKNOWN_BAR = "no measurable loss", "unknown"


def life_left(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return for each asset in service or idle how long it has left from the as-of date, with the bar it counts in.

    `left_years` runs from the as-of date to the earliest day on which a place reaches its required thickness. An asset
    with anything unknown counts as unknown, unless what is known is used up or within four years; only one without
    loss at every place counts as such. `short_life` is a remaining life, from its reading, under four years;
    `before_next` and `before_after` say that the day lies before the next turnaround, or the one after it, ends.
    """
    known = [(bar, years) for bar, years in LIFE_BARS if years]
    cases = " ".join(f"WHEN left_years < {years!r} THEN '{bar}'" for bar, years in known)
    return _asked(
        connection,
        f"""
        WITH worked AS (
            SELECT
                asset.asset, state, retirement_on, remaining_life_years,
                coalesce(
                    formula.years_between(date_diff('day', as_of, retirement_on), days_per_year),
                    CASE WHEN retirement_on <= as_of THEN 0 END
                ) AS left_years,
                state = 'below required' OR retirement_on <= as_of AS is_used_up,
                components = 0 OR components_not_assessable > 0 AS has_unknown,
                retirement_on < next_end_on AS before_next,
                retirement_on < after_end_on AS before_after
            FROM result.asset AS asset
            CROSS JOIN basis.in_force
            CROSS JOIN (
                SELECT
                    min(end_on) FILTER (turnaround_no = 1) AS next_end_on,
                    min(end_on) FILTER (turnaround_no = 2) AS after_end_on
                FROM step.turnaround
            )
            WHERE status <> 'retired'
        )

        SELECT
            asset, left_years,
            CASE
                WHEN is_used_up THEN '{LIFE_BARS[0][0]}'
                WHEN has_unknown AND (left_years < {SHORT_LIFE_YEARS!r}) IS NOT TRUE THEN '{UNKNOWN_BAR}'
                {cases}
                WHEN left_years IS NOT NULL THEN '{LIFE_BARS[-1][0]}'
                WHEN remaining_life_years IS NOT NULL THEN '{LIFE_BARS[-1][0]}'
                ELSE '{NO_LOSS_BAR}'
            END AS bar,
            coalesce(remaining_life_years < {SHORT_LIFE_YEARS!r} OR is_used_up, false) AS short_life,
            coalesce(is_used_up OR before_next, false) AS before_next,
            coalesce(is_used_up OR before_after, false) AS before_after,
            has_unknown
        FROM worked
        ORDER BY asset
        """,
    )


def life_bars(left: pd.DataFrame) -> pd.DataFrame:
    """Count assets by the time they have left: every bar in its order (`place`, `bar`, `assets`), also an empty one."""
    names = [*(bar for bar, _ in LIFE_BARS), NO_LOSS_BAR, UNKNOWN_BAR]
    counted = left["bar"].value_counts()
    return pd.DataFrame(
        [
            {"place": place, "bar": name, "assets": int(counted.get(name, 0))}
            for place, name in enumerate(names, start=1)
        ]
    )


def life_counts(left: pd.DataFrame) -> dict[str, int]:
    """Return how many assets have a short life, are used up before either turnaround ends, or have anything unknown."""
    return {name: int(left[name].sum()) for name in ("short_life", "before_next", "before_after", "has_unknown")}


#: Months of the calendar, the as-of month the first.
CALENDAR_MONTHS = 24


def calendar(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return every due date, after accepted deferrals, with the column of the calendar it stands in (`column`).

    Columns are: overdue, the months by year and month, later, no date. `place` orders them. A date past and covered
    by a deferral stands in the month to which it is deferred.
    """
    return _asked(
        connection,
        """
        WITH due AS (
            SELECT
                asset, kind, state, coalesce(deferred_until, due_on) AS until_on, as_of,
                date_diff('month', date_trunc('month', as_of), date_trunc('month', coalesce(deferred_until, due_on)))
                    AS months_ahead
            FROM result.due_date
            CROSS JOIN (SELECT as_of FROM result.build)
        )

        SELECT
            asset, kind, until_on,
            CASE
                WHEN until_on IS NULL THEN 'no date'
                WHEN until_on < as_of THEN 'overdue'
                WHEN months_ahead < $months THEN strftime(until_on, '%Y-%m')
                ELSE 'later'
            END AS "column",
            CASE
                WHEN until_on IS NULL THEN $months::INTEGER + 2
                WHEN until_on < as_of THEN 0
                WHEN months_ahead < $months THEN months_ahead + 1
                ELSE $months::INTEGER + 1
            END AS place
        FROM due
        ORDER BY asset, kind
        """,
        {"months": CALENDAR_MONTHS},
    )


def calendar_counts(due: pd.DataFrame, as_of: date) -> pd.DataFrame:
    """Count the calendar's due dates by column and kind; every column stands there, also an empty one, in order."""
    months = pd.period_range(pd.Timestamp(as_of), periods=CALENDAR_MONTHS, freq="M").astype(str)
    names = ["overdue", *months, "later", "no date"]
    kinds = sorted(due["kind"].unique())
    counted = due.groupby(["column", "kind"]).size()
    return pd.DataFrame(
        [
            {"place": place, "column": name, "kind": kind, "due": int(counted.get((name, kind), 0))}
            for place, name in enumerate(names)
            for kind in kinds
        ],
        columns=["place", "column", "kind", "due"],
    )


def calendar_table(counted: pd.DataFrame) -> pd.DataFrame:
    """Return the calendar with a row for each column of it, and a column for each kind and for all together."""
    wide = counted.pivot(index=["place", "column"], columns="kind", values="due").reset_index(level="column")
    wide["all"] = wide.drop(columns="column").sum(axis=1)
    return wide.reset_index(drop=True)


def _asked(connection: duckdb.DuckDBPyConnection, sql: str, values: dict[str, Any] | None = None) -> pd.DataFrame:
    return connection.cursor().execute(sql, values or {}).df()
