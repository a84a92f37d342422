"""The printable page of one asset: how it stands, every due date with its reason, every component, what is missing."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from pipeline.asset_background import (
    corroded,
    decided,
    deferred,
    history,
    lacking,
    measured,
    recommended,
    relief,
)
from pipeline.drawing import SYMBOLS, drawing, svg
from pipeline.paper import Block, Column, Facts, Paper, Paragraph, Picture, Points, Section, Table
from pipeline.paper_parts import (
    NONE,
    Stand,
    asset_row,
    build_facts,
    headed,
    life,
    limits,
    number,
    percent,
    said,
    sentence,
    shown,
    signatures,
    stand,
    where,
)
from pipeline.reading import Row, asked, held_in_words
from pipeline.units import noun

KIND = "Asset record"
_INK = "#111"


def asset_record(connection: duckdb.DuckDBPyConnection, asset: str, plant: str, system: str | None = None) -> Paper:
    """Return the printable page of an asset in a unit system (default: the plant's).

    Raises Problem where the results have no such asset.
    """
    rests_on = stand(connection, plant, system)
    row = asset_row(connection, asset)
    parts = asked(connection, "SELECT * FROM result.component WHERE asset = ? ORDER BY component", [asset])
    sections = (
        _summary(connection, row, rests_on.system),
        _due_dates(connection, row, rests_on.system),
        _components(parts, rests_on.system),
        _sketch(connection, asset, rests_on.system),
        measured(connection, asset),
        deferred(connection, asset),
        recommended(connection, asset),
        relief(connection, asset, rests_on.system),
        corroded(connection, asset, rests_on.system),
        history(connection, asset, rests_on.system),
        decided(connection, asset, rests_on.system),
        limits(row["state"] == "below required", lacking(connection, asset)),
        signatures(),
    )
    return Paper(
        KIND,
        " · ".join(text for text in (asset, row["description"]) if text),
        f"{plant} · {asset} · as of {rests_on.as_of}",
        _title_block(rests_on, row),
        sections,
    )


def _title_block(rests_on: Stand, row: Row) -> Facts:
    rating = f"rating pressure ({row['rating_from']})" if row["rating_from"] else "rating pressure"
    return Facts(
        (
            ("plant", rests_on.plant),
            ("asset", row["asset"]),
            ("area", said(row["area"])),
            ("service", said(row["service"])),
            ("code and edition", row["construction_code"] or "not on the register"),
            ("in service since", said(row["in_service_on"])),
            (rating, shown(row, "rating_pressure_mpa", rests_on.system)),
            ("assigned to", said(row["assigned_to"])),
            *build_facts(rests_on),
        )
    )


# ---- how it stands --------------------------------------------------------------------------------------------------


def _summary(connection: duckdb.DuckDBPyConnection, row: Row, system: str) -> Section:
    count = asked(connection, "SELECT count(*) AS assets FROM result.asset")[0]["assets"]
    held = f"; {noun(row['held_readings'], 'reading')} held" if row["held_readings"] else ""
    since = f" since {row['status_since']}" if row["status_since"] else ""
    others = asked(
        connection,
        "SELECT state, sentence FROM result.concern WHERE asset = ? ORDER BY state_order, governing_on NULLS FIRST, "
        "margin NULLS LAST, kind, component, location",
        [row["asset"]],
    )
    facts = Facts(
        (
            ("status", f"{row['status']}{since}"),
            ("governing place", where(row["governing_component"], row["governing_location"])),
            ("lowest MAWP now", shown(row, "mawp_mpa", system)),
            ("at the next inspection", shown(row, "mawp_next_mpa", system)),
            ("at the next turnaround", shown(row, "mawp_turnaround_mpa", system)),
            ("at the one after", shown(row, "mawp_after_mpa", system)),
            ("shortest remaining life", shown(row, "remaining_life_years", system)),
            ("required thickness reached", said(row["retirement_on"])),
            ("components", f"{row['components']}, {row['components_not_assessable']} not assessable"),
            ("readings held", str(row["held_readings"])),
        )
    )
    blocks: list[Block] = [
        Paragraph(
            f"{row['state'].capitalize()}{held}; rank {row['rank']} of {count}. {sentence(row['reason'])}", strong=True
        ),
        facts,
    ]
    if row["held_readings"]:
        blocks.append(Paragraph(held_in_words(row)))
    if others:
        blocks.append(Points(tuple(f"{other['state']}: {sentence(other['sentence'])}" for other in others)))
    return Section("Summary", tuple(blocks))


def _due_dates(connection: duckdb.DuckDBPyConnection, row: Row, system: str) -> Section:
    dates = asked(
        connection, "SELECT * FROM result.due_date WHERE asset = ? ORDER BY due_on NULLS LAST, kind", [row["asset"]]
    )
    columns = (
        Column("due date", narrow=True),
        Column("due on", narrow=True),
        Column("state"),
        Column("set by"),
        Column("counted from"),
        headed("interval", "interval_years", system),
        headed("at most", "cap_years", system),
    )
    rows = tuple(
        (
            due["kind"],
            said(due["due_on"]),
            due["state"],
            "; ".join(
                text
                for text in (due["set_by"], due["device"], where(due["component"], due["location"]))
                if text not in (None, NONE)
            )
            or NONE,
            *_interval(due, system),
            number(due, "cap_years", system),
        )
        for due in dates
    )
    blocks: list[Block] = (
        [Table(columns, rows, tuple(n for n, due in enumerate(dates) if due["kind"] == row["due_kind"]))]
        if rows
        else [Paragraph("No due date is on record or can be worked out.", strong=True)]
    )
    notes = [note for due in dates for note in _notes_on(due)]
    if row["retirement_on"]:
        notes.append(
            f"Required thickness reached at the earliest place or corroded area on {row['retirement_on']}, at its "
            "governing rate; no inspection moves it, only a new reading does."
        )
    then = asked(connection, "SELECT * FROM result.next_due WHERE asset = ? ORDER BY kind", [row["asset"]])
    notes += [_next(each) for each in then]
    if notes:
        blocks.append(Points(tuple(notes)))
    return Section("Due dates", tuple(blocks))


def _interval(due: Row, system: str) -> tuple[str, str]:
    """Return what a due date counts from and the interval that gives it; of an internal one's two roads the one
    that counts."""
    if due["kind"] == "internal" and str(due["set_by"]).startswith("interval from the thickness reading"):
        return "the reading of that place", number(due, "interval_years", system)
    interval = number(due, "cap_years" if due["kind"] == "internal" else "interval_years", system)
    return f"{due['anchor']}, {due['anchor_on']}" if due["anchor_on"] else NONE, interval


def _notes_on(due: Row) -> list[str]:
    kind = due["kind"].capitalize()
    notes = []
    if due["deferred_until"]:
        notes.append(
            f"{kind}: deferred until {due['deferred_until']}, approved by {due['deferral_approved_by']} on "
            f"{said(due['deferral_approved_on'])}: {said(due['deferral_reason'])}."
        )
    if due["deferral_refused"]:
        notes.append(f"{kind}: the deferral on record does not count: {due['deferral_refused']}.")
    if due["cap_from"] and due["cap_from"] != "cap":
        notes.append(f"{kind}: the longest interval is from {due['cap_from']}.")
    notes += [
        f"{kind}: {sentence(due[column])}" for column in ("on_stream_refused", "operating_years_refused") if due[column]
    ]
    if due["due_missing"]:
        notes.append(f"{kind}, missing: {due['due_missing']}.")
    return notes


def _next(row: Row) -> str:
    here = f"{row['kind'].capitalize()}: were {row['component']}, location {row['location']} disproved"
    if row["next_due_on"] is None:
        return f"{here}, nothing else would set the date."
    by = where(row["next_component"], row["next_location"]) if row["next_component"] else "the longest interval"
    would = "stay" if row["next_due_on"] == row["due_on"] else "be"
    return f"{here}, the date would {would} {row['next_due_on']}, by {by}."


def _components(parts: Sequence[Row], system: str) -> Section:
    if not parts:
        return Section(
            "Components",
            (Paragraph("No component is on any component sheet: nothing can be said of the wall.", strong=True),),
        )
    columns = (
        Column("component"),
        Column("kind"),
        Column("governing location"),
        headed("last reading", "t_act_mm", system),
        headed("required", "t_req_mm", system),
        Column("margin", numeric=True),
        headed("rate", "rate_mm_per_year", system),
        headed("life", "remaining_life_years", system),
        headed("MAWP now", "mawp_mpa", system),
        Column("measure again by", narrow=True),
        Column("state"),
    )
    rows = tuple(
        (
            part["component"],
            part["kind"] or part["kind_text"] or NONE,
            said(part["governing_location"]),
            number(part, "t_act_mm", system),
            number(part, "t_req_mm", system),
            percent(part["margin"]),
            number(part, "rate_mm_per_year", system),
            life(part, system),
            number(part, "mawp_mpa", system),
            said(part["due_on"]),
            f"{part['state']}, {part['held_readings']} held" if part["held_readings"] else part["state"],
        )
        for part in parts
    )
    notes = tuple(f"{part['component']}, missing: {part['missing']}." for part in parts if part["missing"]) + tuple(
        f"{part['component']}: the verdict of {noun(part['weld_distance_places'], 'place')} turns on the distance to "
        "the nearest weld, which is not known."
        for part in parts
        if part["weld_distance_places"]
    )
    return Section("Components", (Table(columns, rows), *((Points(notes),) if notes else ())))


def _sketch(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Section:
    made = drawing(connection, asset, system)
    picture = svg(made, SYMBOLS, _INK)
    if not picture:
        why = " ".join(made.remarks) or "No component has both a kind and a diameter on the register."
        return Section("Sketch", (Paragraph(f"There is no sketch. {why}"),))
    present = [state for state in SYMBOLS if any(mark.state == state for mark in made.marks)]
    legend = "; ".join(f"{SYMBOLS[state]} {state}" for state in present)
    caption = " ".join(
        [
            "To scale, from the register's dimensions; a sketch, not a drawing.",
            *([f"{legend}."] if legend else []),
            *made.remarks,
        ]
    )
    return Section("Sketch", (Picture(picture, caption),))
