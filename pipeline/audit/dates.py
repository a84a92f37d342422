"""Every due date of every asset, worked out again from what it counts from, beside what set it and what moves it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.audit.book import Book
from pipeline.audit.cells import DATE_FORMAT, Live, Styled, letter_of
from pipeline.audit.layout import Columns, policy_name
from pipeline.audit.results import Results, Row
from pipeline.audit.tables import Column, write_table
from pipeline.formulas import FORMULAS

NAME = "Due dates"
FIRST = 4
_COLUMNS = (
    Column("asset", "asset", 12),
    Column("kind", "kind", 15),
    Column("state", "state of this date", 17),
    Column("anchor", "counts from", 28, wrapped=True),
    Column("anchor_on", "on", 11),
    Column("cap_years", "longest interval, years", 10),
    Column("cap_from", "where it comes from", 22, wrapped=True),
    Column("shortest", "shortest internal interval of the vessel's places, years", 14),
    Column("interval", "interval that counts, years", 11),
    Column("half_life_on", "earliest internal date of the vessel's places", 13),
    Column("place_on", "date of the place that sets it", 13),
    Column("live", "due date", 11),
    Column("due_on", "program's value", 11),
    Column("difference", "difference, days", 12),
    Column("set_by", "set by", 32, wrapped=True),
    Column("component", "component", 16),
    Column("location", "place", 9),
    Column("device", "relief device or recommendation", 18, wrapped=True),
    Column("deferred_until", "deferred until", 11),
    Column("deferral_approved_by", "approved by", 16),
    Column("deferral_approved_on", "approved on", 11),
    Column("deferral_refused", "why a deferral does not count", 30, wrapped=True),
    Column("on_stream_refused", "why an on-stream inspection does not count", 30, wrapped=True),
    Column("operating_years_refused", "why operating years do not count", 24, wrapped=True),
    Column("due_missing", "what is missing to be sure", 34, wrapped=True),
)
_AT = {column.key: letter_of(place) for place, column in enumerate(_COLUMNS, start=1)}
#: Cells that the program found and no formula on this sheet works out.
_GIVEN = ("anchor_on", "cap_years", "shortest", "half_life_on")

# `row_at` is where the place that sets a date stands on `Calculation`, if it stands there.
_DATES = """
WITH vessel AS (
    SELECT asset, min(internal_interval_years) AS shortest, min(internal_due_on) AS half_life_on
    FROM result.location
    GROUP BY asset
)
SELECT due.*, vessel.shortest, vessel.half_life_on, listed.row_at
FROM result.due_date AS due
LEFT JOIN vessel USING (asset)
LEFT JOIN ({listed}) AS listed
    ON listed.asset = due.asset AND listed.component = due.component AND listed.location = due.location
WHERE {chosen}
ORDER BY due.asset, due.kind
"""


def write_dates(book: Book, results: Results, columns: Columns) -> int:
    """Write every due date; return the last row."""
    sheet = write_table(
        book,
        results,
        NAME,
        "Every due date, worked out again",
        _COLUMNS,
        _rows(results, columns),
        note=(
            "A thickness date is the earliest of all places: it follows Calculation where the place that sets it "
            "stands there. Not live: the date of a recommendation, and what is in grey."
        ),
        pinned=2,
        none="no due date: there is no asset in service",
    )
    return max(sheet.rows, FIRST)


def _rows(results: Results, columns: Columns) -> Iterator[Row]:
    sql = _DATES.format(listed=results.listed, chosen=results.chosen_of("due"))
    for at, row in enumerate(results.walk(sql), start=FIRST):
        yield _worked_out(row, at, columns)


def _worked_out(row: Row, at: int, columns: Columns) -> Row:
    """Return a due date with its formulas: the interval's, the date's, and the difference."""
    cell = {key: f"{letter}{at}" for key, letter in _AT.items()}
    shown: Row = {**row, "interval": None, "place_on": None, "live": None, "difference": None}
    kind, due_on = row["kind"], row["due_on"]
    inside = kind in ("internal", "external")
    for key in ("shortest", "half_life_on"):
        shown[key] = row[key] if inside else None
    if kind != "internal":
        shown["half_life_on"] = None
    if kind == "external" and row["shortest"] is not None:
        formula = FORMULAS["external_interval"].sheet_formula({"cap": cell["cap_years"], "interval": cell["shortest"]})
        shown["interval"] = Styled(Live(formula, row["interval_years"]), "live", "0.00")
    elif kind != "thickness":
        shown["interval"] = Styled(row["cap_years"] if inside else row["interval_years"], "plain", "0.00")
    if kind == "thickness" and row["row_at"]:
        shown["place_on"] = Styled(
            Live(f"=Calculation!{columns.letter['c:due_on']}{row['row_at']}", due_on), "live", DATE_FORMAT
        )
    elif kind in ("thickness", "recommendation"):
        shown["place_on"] = due_on
    for key in _GIVEN:
        if shown[key] is not None:
            shown[key] = Styled(shown[key], "stored", "0.00")
    if due_on is not None:
        shown["live"] = Styled(Live(_date(kind, cell, shown), due_on), "live", DATE_FORMAT)
        shown["due_on"] = Styled(due_on, "stored")
        off = f"ABS({cell['live']}-{cell['due_on']})"
        shown["difference"] = Styled(Live(f"=IF(COUNT({cell['live']},{cell['due_on']})<2,1,{off})"), "difference", "0")
    else:
        shown["live"] = Styled("not known", "reason")
    return shown


def _date(kind: str, cell: dict[str, str], shown: dict[str, Any]) -> str:
    """Return the formula of a due date over the cells of its row."""
    if kind in ("thickness", "recommendation"):
        return f"=IF(COUNT({cell['place_on']})<1,NA(),{cell['place_on']})"
    names = {"years": cell["interval"], "y_d": policy_name("days_per_year"), "guard": policy_name("day_guard")}
    days = FORMULAS["whole_days"].sheet_formula(names).removeprefix("=")
    by_cap = f"{cell['anchor_on']}+{days}"
    both = f"COUNT({cell['anchor_on']},{cell['interval']})"
    if kind != "internal" or shown["half_life_on"] is None:
        return f"=IF({both}<2,NA(),{by_cap})"
    half = cell["half_life_on"]
    return f"=IF({both}<2,IF(COUNT({half})<1,NA(),{half}),MIN({by_cap},{half}))"


def differences(last: int) -> str:
    """Return the cells that hold the differences in days."""
    return f"'{NAME}'!{_AT['difference']}{FIRST}:{_AT['difference']}{last}"
