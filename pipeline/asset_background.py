"""What stands behind an asset: measurements, deferrals, recommendations, relief devices, areas, history, decisions."""

from __future__ import annotations

import duckdb

from pipeline.evidence import deferrals, evidence
from pipeline.explain_area import explain_area
from pipeline.outlook import coverage
from pipeline.paper import Block, Column, Paragraph, Points, Section, Table
from pipeline.paper_parts import cell_of, headed, number, own_cautions, said, sentence, shown, where
from pipeline.reading import areas, asked, rate_in_words


def measured(connection: duckdb.DuckDBPyConnection, asset: str) -> Section:
    """Return the section of what of the asset is measured, and what never was."""
    rows = coverage(connection, asset).to_dict("records")
    never = [str(row["component"]) for row in rows if not row["places"] or row["places"] == row["places_never_read"]]
    if not rows:
        words = "No component of this asset is on any component sheet: nothing can be said of its wall."
        return Section("What is measured", (Paragraph(words, strong=True),))
    first = (
        Paragraph(f"Never measured: {', '.join(never)}.", strong=True)
        if never
        else Paragraph("Every component on the register has at least one reading that counts.")
    )
    columns = (
        Column("component"),
        Column("places", numeric=True),
        Column("never read", numeric=True),
        Column("missed since last read", numeric=True),
        Column("longest run of misses", numeric=True),
        Column("last read on", narrow=True),
    )
    told = tuple(
        (
            str(row["component"]),
            *(str(int(row[name])) for name in ("places", "places_never_read", "places_missed", "longest_streak")),
            said(None if row["last_read_on"] != row["last_read_on"] else row["last_read_on"]),
        )
        for row in rows
    )
    table = (Table(columns, told),) if told else ()
    return Section("What is measured", (first, *table))


def deferred(connection: duckdb.DuckDBPyConnection, asset: str) -> Section:
    """Return the section of its deferrals, with whether they count."""
    found = deferrals(connection)
    rows = found[found["asset"] == asset].astype(object).where(lambda each: each.notna(), None).to_dict("records")
    if not rows:
        return Section("Deferrals", (Paragraph("No deferral is on record."),))
    columns = (
        Column("kind", narrow=True),
        Column("due date it moves", narrow=True),
        Column("deferred until", narrow=True),
        Column("approved by"),
        Column("approved on", narrow=True),
        Column("does it count"),
        Column("reason"),
        Column("source"),
    )
    names = ("kind", "due_on", "deferred_until", "approved_by", "approved_on", "standing", "reason", "source")
    return Section("Deferrals", (Table(columns, tuple(tuple(said(row[name]) for name in names) for row in rows)),))


def recommended(connection: duckdb.DuckDBPyConnection, asset: str) -> Section:
    """Return the section of its recommendations, the open ones first and in bold."""
    rows = asked(
        connection,
        "SELECT * FROM result.recommendation WHERE asset = ? ORDER BY NOT is_open, due_on NULLS FIRST, recommendation",
        [asset],
    )
    if not rows:
        return Section("Recommendations", (Paragraph("No recommendation is on record."),))
    columns = (
        Column("recommendation"),
        Column("component"),
        Column("raised on", narrow=True),
        Column("due on", narrow=True),
        Column("closed on", narrow=True),
        Column("evidence"),
        Column("source"),
    )
    told = tuple(
        (
            said(row["recommendation"]),
            said(row["component"]),
            said(row["raised_on"]),
            said(row["due_on"]),
            "open" if row["is_open"] else said(row["closed_on"]),
            said(row["evidence"]),
            cell_of(row),
        )
        for row in rows
    )
    return Section("Recommendations", (Table(columns, told, tuple(n for n, r in enumerate(rows) if r["is_open"])),))


def relief(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Section:
    """Return the section of its relief devices against what the vessel can bear."""
    rows = asked(connection, "SELECT * FROM result.relief_device WHERE asset = ? ORDER BY device", [asset])
    if not rows:
        return Section("Relief devices", (Paragraph("No relief device is on record.", strong=True),))
    columns = (
        Column("device", narrow=True),
        headed("set pressure", "set_pressure_mpa", system),
        headed("rating", "rating_pressure_mpa", system),
        headed("lowest MAWP now", "mawp_mpa", system),
        Column("last test", narrow=True),
        Column("due on", narrow=True),
        Column("to note"),
        Column("source"),
    )
    told = tuple(
        (
            said(row["device"]),
            number(row, "set_pressure_mpa", system),
            number(row, "rating_pressure_mpa", system),
            number(row, "mawp_mpa", system),
            said(row["last_tested_on"]),
            said(row["due_on"]),
            "; ".join(
                words
                for words, holds in (
                    ("set above the rating", row["above_rating"]),
                    ("set above the MAWP now", row["above_mawp_now"]),
                    ("set above the MAWP at the next inspection", row["above_mawp_next"]),
                    (f"missing: {row['due_missing']}", row["due_missing"]),
                )
                if holds
            ),
            cell_of(row),
        )
        for row in rows
    )
    return Section("Relief devices", (Table(columns, told),))


def corroded(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Section:
    """Return the section of its corroded areas, each with what it comes to."""
    told = [explain_area(connection, asset, part, area, system) for part, area in areas(connection, asset)]
    if not told:
        return Section("Corroded areas", (Paragraph("No survey of a corroded area is on record."),))
    blocks: list[Block] = []
    for area in told:
        blocks.append(Paragraph(sentence(area.sentence), strong=area.is_below_required))
        verdicts = tuple(
            f"Survey of {said(row['read_on'])}: {row['screening_verdict']}."
            for row in (*area.surveys, *area.pit_surveys)
            if row["screening_verdict"]
        )
        blocks.append(
            Points((*(f"Does not agree: {fault}" for fault in area.faults), *verdicts, *own_cautions(area.cautions)))
        )
    return Section("Corroded areas", tuple(blocks))


def history(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Section:
    """Return the section of its inspections and events."""
    done = asked(connection, "SELECT * FROM step.inspection WHERE asset = ? ORDER BY inspected_on DESC, kind", [asset])
    events = asked(connection, "SELECT * FROM step.event WHERE asset = ? ORDER BY event_on DESC, component", [asset])
    blocks: list[Block] = []
    if done:
        columns = (Column("inspected on", narrow=True), Column("kind"), Column("result"), Column("source"))
        blocks.append(
            Table(
                columns,
                tuple(
                    (said(row["inspected_on"]), said(row["kind"]), said(row["result"]), cell_of(row)) for row in done
                ),
            )
        )
    else:
        blocks.append(Paragraph("No inspection is on record.", strong=True))
    if events:
        heads = (
            Column("event on", narrow=True),
            Column("event"),
            Column("component"),
            headed("new thickness", "new_thickness_mm", system),
            Column("source"),
        )
        blocks.append(
            Table(
                heads,
                tuple(
                    (
                        said(row["event_on"]),
                        said(row["event"]),
                        said(row["component"]),
                        number(row, "new_thickness_mm", system),
                        cell_of(row),
                    )
                    for row in events
                ),
            )
        )
    return Section("Inspections and events", tuple(blocks))


def decided(connection: duckdb.DuckDBPyConnection, asset: str, system: str) -> Section:
    """Return the section of the readings held or decided on, and the rates chosen by people."""
    rows = asked(
        connection,
        "SELECT * FROM result.reading WHERE asset = ? AND status IN ('held', 'rejected') OR "
        "(asset = ? AND decided_by IS NOT NULL) ORDER BY component, location, read_on, file, cell",
        [asset, asset],
    )
    chosen = asked(
        connection,
        "SELECT * FROM result.location WHERE asset = ? AND rate_chosen_by IS NOT NULL ORDER BY component, location",
        [asset],
    )
    blocks: list[Block] = []
    if rows:
        columns = (
            Column("place"),
            Column("read on", narrow=True),
            headed("thickness", "thickness_mm", system),
            Column("status", narrow=True),
            Column("why, by whom"),
            Column("source"),
        )
        told = tuple(
            (
                where(row["component"], row["location"]),
                said(row["read_on"]),
                number(row, "thickness_mm", system),
                row["status"],
                "; ".join(
                    text
                    for text in (
                        f"held for {row['held_for']}" if row["held_for"] else "",
                        f"decided by {row['decided_by']}: {said(row['decision_reason'])}" if row["decided_by"] else "",
                        row["flags"] or "",
                    )
                    if text
                ),
                cell_of(row),
            )
            for row in rows
        )
        blocks.append(Table(columns, told))
    else:
        blocks.append(Paragraph("No reading is held or was decided on."))
    if chosen:
        blocks.append(
            Points(
                tuple(
                    f"{where(row['component'], row['location'])}: {rate_in_words(row['rate_from'])}, "
                    f"{shown(row, 'rate_selected_mm_per_year', system)}, chosen by {row['rate_chosen_by']} on "
                    f"{said(row['rate_chosen_on'])}: {said(row['rate_choice_reason'])}."
                    for row in chosen
                )
            )
        )
    return Section("Readings held, and decisions", tuple(blocks))


def lacking(connection: duckdb.DuckDBPyConnection, asset: str) -> tuple[str, ...]:
    """Return what is missing from the record of an asset, and what a life is a statement about."""
    found = evidence(connection)
    missing = found.loc[found["asset"] == asset, "missing"].iloc[0]
    places = "A remaining life is a statement about the places measured; a component without any is not assessable."
    return (f"Missing from the record of this asset: {missing}.", places) if missing else (places,)
