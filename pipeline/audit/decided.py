"""What people decided: deferrals, rates they chose, and what became of readings that were held."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import evidence
from pipeline.audit.book import Book
from pipeline.audit.cells import Live, Styled
from pipeline.audit.results import Results, Row
from pipeline.audit.tables import Column, write_table

_DEFERRALS = (
    Column("asset", "asset", 12),
    Column("kind", "kind", 13),
    Column("due_stated_on", "due date it moves, as stated", 13),
    Column("due_on", "due date by the program", 13),
    Column("approved_on", "approved on", 12),
    Column("days_before", "days from the approval to the due date", 13),
    Column("in_time", "approved before the due date", 28),
    Column("deferred_until", "deferred until", 12),
    Column("approved_by", "approved by", 18),
    Column("reason", "reason", 40, wrapped=True),
    Column("standing", "does it count", 40, wrapped=True),
    Column("deferrals_of_this_kind", "deferrals of this kind", 11),
    Column("source", "from", 40, wrapped=True),
)


def write_deferrals(book: Book, results: Results) -> None:
    """Write every deferral with the day of its approval against the due date it moves, and whether it counts."""
    frame = evidence.deferrals(results.connection)
    rows = [
        {str(key): _plain(value) for key, value in row.items()}
        for row in frame.to_dict("records")
        if not results.assets or row["asset"] in results.assets
    ]
    write_table(
        book,
        results,
        "Deferrals",
        "Deferrals on record, the day of approval against the due date",
        _DEFERRALS,
        (_against_due(row, at) for at, row in enumerate(rows, start=4)),
        note="A deferral counts only if a named person approved it, with a reason, before the due date it moves.",
    )


def _against_due(row: Row, at: int) -> Row:
    """Return a deferral with the days from its approval to the due date, live: the one stated, else the program's."""
    due_cell, due_on = (f"C{at}", row["due_stated_on"]) if row["due_stated_on"] else (f"D{at}", row["due_on"])
    days = (due_on - row["approved_on"]).days if due_on and row["approved_on"] else None
    unknown = "not known: a date is missing"
    words = unknown if days is None else "yes" if days > 0 else "NO: not before the due date"
    said = f'IF(F{at}>0,"yes","NO: not before the due date")'
    return {
        **row,
        "days_before": Styled(Live(f'=IF(COUNT({due_cell},E{at})<2,"",{due_cell}-E{at})', days or ""), "live", "0"),
        "in_time": Styled(Live(f'=IF(COUNT({due_cell},E{at})<2,"{unknown}",{said})', words), "live text"),
    }


def _plain(value: Any) -> Any:
    """Return a value of a frame as Python has it: a day, a whole number, None where there is none."""
    if value is None or value is pd.NaT or value != value:
        return None
    if isinstance(value, pd.Timestamp):
        return value.date()
    return value.item() if hasattr(value, "item") else value


_CHOICES = """
WITH set_by AS (
    SELECT asset, component, rate_chosen_by, rate_chosen_on,
        count(*) AS places, max(rate_mm_per_year) AS rate_mm_per_year,
        max(rate_by_policy_mm_per_year) AS rate_by_policy_mm_per_year, bool_or(rate_choice_older) AS is_older
    FROM result.location
    WHERE rate_chosen_by IS NOT NULL
    GROUP BY asset, component, rate_chosen_by, rate_chosen_on
)
SELECT choice.asset, choice.component, coalesce(choice.location, 'every place') AS location, choice.rate_choice,
    choice.chosen_rate_mm_per_year, choice.chosen_by, choice.chosen_on, choice.reason,
    CASE
        WHEN refused IS NOT NULL THEN 'does not count: ' || refused
        WHEN places IS NULL THEN 'sets no rate now: a later choice or a choice for the place stands before it'
        WHEN is_older THEN 'counts; a reading has been taken since'
        ELSE 'counts'
    END AS standing,
    set_by.places, set_by.rate_mm_per_year, set_by.rate_by_policy_mm_per_year,
    concat_ws(', ', choice.file, nullif(choice.sheet, ''), choice.cell) AS source
FROM step.choice_on_record AS choice
LEFT JOIN set_by
    ON set_by.asset = choice.asset AND set_by.component = choice.component AND choice.refused IS NULL
    AND set_by.rate_chosen_by = choice.chosen_by AND set_by.rate_chosen_on = choice.chosen_on
WHERE {chosen}
ORDER BY choice.asset, choice.component, choice.location, choice.chosen_on
"""
_CHOICE_COLUMNS = (
    Column("asset", "asset", 12),
    Column("component", "component", 16),
    Column("location", "place", 11),
    Column("rate_choice", "rate chosen", 16),
    Column("chosen_rate_mm_per_year", "rate named", 11, "C_sel"),
    Column("chosen_by", "chosen by", 18),
    Column("chosen_on", "chosen on", 12),
    Column("reason", "reason", 40, wrapped=True),
    Column("standing", "does it count", 36, wrapped=True),
    Column("places", "places whose rate it sets", 10),
    Column("rate_mm_per_year", "highest rate there", 11, "C_r"),
    Column("rate_by_policy_mm_per_year", "highest rate there by the policy alone", 13, "C_r"),
    Column("source", "from", 40, wrapped=True),
)


def write_choices(book: Book, results: Results) -> None:
    """Write every rate a person chose in place of the policy's, and whether it counts."""
    write_table(
        book,
        results,
        "Rate choices",
        "Rates chosen by named persons in place of the policy's",
        _CHOICE_COLUMNS,
        results.walk(_CHOICES.format(chosen=results.chosen_of("choice"))),
        note="Everywhere else the policy selects the rate: the column 'rate selected' on Calculation says which.",
        pinned=3,
    )


READING_COLUMNS = (
    Column("asset", "asset", 11),
    Column("component", "component", 16),
    Column("location", "place", 9),
    Column("read_on", "date", 11),
    Column("date_precision", "date known to the", 9),
    Column("thickness_mm", "thickness", 11, "t"),
    Column("status", "status", 13),
    Column("held_for", "held for", 16),
    Column("flags", "what to look at", 40, wrapped=True),
    Column("text", "as it stood", 12),
    Column("unit", "unit there", 8),
    Column("method", "method", 11),
    Column("inspector", "inspector", 14),
    Column("remark", "remark", 24, wrapped=True),
    Column("decided_by", "decided by", 14),
    Column("decision_reason", "reason of the decision", 24, wrapped=True),
    Column("file", "file", 28),
    Column("sheet", "sheet", 18),
    Column("cell", "cell", 8),
)
_ORDER = "ORDER BY asset, component, location, read_on, file, sheet, cell"


def write_held(book: Book, results: Results) -> None:
    """Write every reading that is held, was rejected, or was accepted by a person, at whatever place it was taken."""
    write_table(
        book,
        results,
        "Held and rejected",
        "Readings held, and those on which a person decided, at every place",
        READING_COLUMNS,
        results.walk(
            "SELECT * FROM result.reading WHERE (status IN ('held', 'rejected') OR decided_by IS NOT NULL) "
            f"AND {results.chosen} {_ORDER}"
        ),
        note="A held reading counts for nothing until a named person accepts it; none is deleted.",
        pinned=4,
        none="no reading is held, and none was decided on",
    )


def write_readings(book: Book, results: Results) -> None:
    """Write every reading of the places on Calculation with what became of it and where it stood."""
    places = "every place" if results.all_places else "the governing places"
    sql = (
        f"SELECT reading.* FROM result.reading AS reading SEMI JOIN ({results.listed}) AS listed "
        "ON reading.asset = listed.asset AND reading.component = listed.component "
        f"AND reading.location = listed.location {_ORDER}"
    )
    write_table(
        book,
        results,
        "Readings used",
        f"Readings of {places}, those not used among them",
        READING_COLUMNS,
        results.walk(sql),
        pinned=4,
        none="there is no reading",
    )
