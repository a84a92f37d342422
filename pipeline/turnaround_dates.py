"""The turnarounds of the record, how far a plan for two of them looks, and what plan and slip share."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import duckdb
import pandas as pd

from pipeline.reading import asked

Row = dict[str, Any]

KIND_WORDS = {
    "internal": "internal or on-stream inspection",
    "external": "external inspection",
    "thickness": "thickness survey",
    "corroded area": "survey of a corroded area",
    "relief device": "relief device test",
    "recommendation": "recommendation",
    "required thickness": "required thickness",
}

#: What sets a due date, where the word of the results does not say it to a person.
_SET_BY = {"date set with it": "date given when raised"}


def set_by_in_words(set_by: str | None) -> str:
    """Return what sets a due date, as it is said to people; empty where it is not known."""
    return _SET_BY.get(set_by or "", set_by or "")


#: What an on-stream inspection in place of an internal one still has to be shown to meet, besides rate and life.
ON_STREAM_CONDITIONS = (
    "contents known for five years in this or a similar service, nothing questionable seen from outside, no creep, no "
    "cracking or hydrogen damage, no lining that is not bonded all over (API 510 6.5.2 (m))"
)


@dataclass(frozen=True)
class Turnaround:
    """A turnaround of the record, or one moved from there: number, name, first and last day."""

    number: int
    name: str
    start_on: date
    end_on: date

    def moved(self, months: int) -> Turnaround:
        """Return it some whole months later."""
        return Turnaround(
            self.number, self.name, months_later(self.start_on, months), months_later(self.end_on, months)
        )


def months_later(day: date, months: int) -> date:
    """Return the same day some months later; the last day of a month that is too short, never one later."""
    number = day.year * 12 + day.month - 1 + months
    year, month = number // 12, number % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def turnarounds(connection: duckdb.DuckDBPyConnection) -> list[Turnaround]:
    """Return the turnarounds still ahead, the next one first; one without a first day begins on its last."""
    found = asked(
        connection,
        "SELECT turnaround_no, name, coalesce(start_on, end_on) AS start_on, end_on FROM step.turnaround "
        "ORDER BY turnaround_no",
    )
    return [Turnaround(row["turnaround_no"], row["name"], row["start_on"], row["end_on"]) for row in found]


@dataclass(frozen=True)
class Reach:
    """How far a plan looks: the turnaround planned, the one after it, and the end of the run after that.

    `beyond_known` is False where no third turnaround is on record and one more run of the same length is taken.
    """

    first: Turnaround
    second: Turnaround
    beyond_on: date
    beyond: str
    beyond_known: bool


def reach(connection: duckdb.DuckDBPyConnection, first: Turnaround, second: Turnaround) -> Reach:
    """Return how far a plan for two turnarounds looks."""
    later = [known for known in turnarounds(connection) if known.start_on > second.end_on]
    if later:
        return Reach(first, second, later[0].end_on, f"{later[0].name} ends", True)
    beyond_on = second.end_on + (second.start_on - first.start_on)
    return Reach(first, second, beyond_on, f"one more run as long as the one from {first.name} to {second.name}", False)


# ---- what plan and slip share ----------------------------------------------------------------------------------------

# Assets and due dates, each by the rule that both the plan and the slip read.
SHARED_SQL = """
WITH due AS (
    SELECT *, coalesce(deferred_until, due_on) AS until_on
    FROM result.due_date
),

-- Rate and life that let an on-stream inspection stand for an internal one; the other conditions stay to be evidenced.
register_says_no AS (
    SELECT asset
    FROM step.inspection
    WHERE kind = 'on-stream'
    GROUP BY asset
    HAVING arg_max(in_place_of_internal, (inspected_on, record)) = 'no'
),

calm AS (
    SELECT asset, max(rate_mm_per_year) AS highest_rate, min(remaining_life_years) AS shortest_life
    FROM result.location
    CROSS JOIN basis.in_force
    WHERE asset NOT IN (FROM register_says_no)
        AND asset NOT IN (SELECT asset FROM result.component WHERE missing IS NOT NULL)
    GROUP BY asset
    HAVING bool_and(coalesce(rate_mm_per_year < on_stream_rate_mm_per_year, false))
        AND bool_and(coalesce(remaining_life_years > on_stream_life_years, no_measurable_loss))
        AND NOT bool_or(state = 'below required')
        AND bool_and(missing IS NULL)
),

-- Dates after accepted deferrals; what can be met while the asset runs does not need the shutdown.
dated_kind AS (
    SELECT
        due.*,
        kind IN ('external', 'thickness') OR kind = 'internal' AND calm.asset IS NOT NULL AS is_on_stream,
        calm.highest_rate, calm.shortest_life
    FROM due
    LEFT JOIN calm USING (asset)
)
"""


def frame(found: Sequence[Row], columns: Sequence[str]) -> pd.DataFrame:
    """Return rows as a frame of these columns, with dates as pandas keeps them."""
    made = pd.DataFrame(found, columns=list(columns))
    for column in columns:
        if column.endswith(("_on", "_until")):
            made[column] = pd.to_datetime(made[column])
    return made
