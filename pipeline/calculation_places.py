"""The places of a component with their margins, and its readings: which count, which do not, why and by whom."""

from __future__ import annotations

from pipeline.explain import _as_typed as as_typed
from pipeline.paper import Column, Paragraph, Points, Section, Table
from pipeline.paper_parts import NONE, cell_of, headed, life, number, percent, said
from pipeline.reading import Row
from pipeline.units import noun


def locations(places: list[Row], system: str) -> Section:
    """Return the section of every place of a component, in the order given: the governing one first."""
    if not places:
        return Section("Locations", (Paragraph("No location of this component is on record.", strong=True),))
    columns = (
        Column("location", narrow=True),
        headed("last reading", "t_act_mm", system),
        Column("read on", narrow=True),
        headed("required", "t_req_mm", system),
        Column("margin", numeric=True),
        headed("rate", "rate_mm_per_year", system),
        headed("life", "remaining_life_years", system),
        Column("measure again by", narrow=True),
        Column("state"),
    )
    rows = tuple(
        (
            row["location"],
            number(row, "t_act_mm", system),
            said(row["read_on"]),
            number(row, "t_req_mm", system),
            percent(row["margin"]),
            number(row, "rate_mm_per_year", system),
            life(row, system),
            said(row["due_on"]),
            row["state"],
        )
        for row in places
    )
    notes = [f"{row['location']}, missing: {row['missing']}." for row in places if row["missing"]]
    notes += [
        f"{row['location']}: the verdict turns on the distance to the nearest weld, which is not known."
        for row in places
        if row["verdict_turns_on_weld_distance"]
    ]
    notes += [
        f"{row['location']}: {noun(row['misses_in_a_row'], 'visit')} without a reading since the last one "
        f"({row['last_miss_reason'] or 'no reason given'})."
        for row in places
        if row["misses_in_a_row"]
    ]
    order = Paragraph("In the order in which they would govern.")
    return Section("Locations", (Table(columns, rows, strong=(0,)), order, *((Points(tuple(notes)),) if notes else ())))


def readings(readings: list[Row], part: Row, system: str) -> Section:
    """Return the readings of the governing place, and of the others those that do not count; the rest are counted."""
    governing = part["governing_location"]
    listed = [row for row in readings if row["location"] == governing or row["status"] != "used"]
    if not readings:
        return Section("Readings", (Paragraph("No reading of this component is on record.", strong=True),))
    columns = (
        Column("location", narrow=True),
        Column("read on", narrow=True),
        Column("as typed", numeric=True),
        headed("thickness", "thickness_mm", system),
        Column("status", narrow=True),
        Column("why, by whom"),
        Column("source"),
    )
    rows = tuple(
        (
            row["location"],
            said(row["read_on"]),
            as_typed(row["text"], row["unit"]) or NONE,
            number(row, "thickness_mm", system),
            row["status"],
            _why(row),
            cell_of(row),
        )
        for row in listed
    )
    counts = {status: sum(row["status"] == status for row in readings) for status in dict.fromkeys(_statuses(readings))}
    told = ", ".join(f"{count} {status}" for status, count in counts.items())
    others = len(readings) - len(listed)
    rest = f" The {noun(others, 'reading')} used at other places are not listed." if others else ""
    return Section(
        "Readings",
        (Table(columns, rows), Paragraph(f"{noun(len(readings), 'reading')} of this component: {told}.{rest}")),
    )


def _statuses(readings: list[Row]) -> list[str]:
    return [row["status"] for row in readings]


def _why(row: Row) -> str:
    """Return why a reading is held, who decided on it and why, who took it, and what was remarked."""
    said_of_it = [
        f"held for {row['held_for']}" if row["held_for"] else "",
        f"decided by {row['decided_by']}: {row['decision_reason'] or 'no reason given'}" if row["decided_by"] else "",
        row["flags"] or "",
        f"by {row['inspector']}" if row["inspector"] else "",
        row["method"] or "",
        row["remark"] or "",
        f"date known to the {row['date_precision']}" if row["date_precision"] not in (None, "day") else "",
    ]
    return "; ".join(text for text in said_of_it if text)
