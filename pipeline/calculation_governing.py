"""What governs a component and what would govern next: its required thickness, its place, the asset's due dates."""

from __future__ import annotations

import duckdb

from pipeline.explain import Explanation
from pipeline.formulas import FORMULAS
from pipeline.paper import Block, Column, Paragraph, Section, Table
from pipeline.paper_parts import life, percent, said, shown, unrounded
from pipeline.reading import Row, asked
from pipeline.units import noun

#: Places in the order in which they govern: below required first, then the shortest life, then the smallest margin.
PLACES = """
SELECT location.* FROM result.location AS location
JOIN step.life AS life USING (asset, component, location)
WHERE location.asset = ? AND location.component = ? AND life.scenario = 'in force'
ORDER BY NOT life.is_below_required, location.t_act_mm IS NULL, coalesce(location.remaining_life_years, 1e9),
    coalesce(location.margin, 1e9), location.location
"""


def governing(
    connection: duckdb.DuckDBPyConnection, told: Explanation, part: Row, places: list[Row], system: str
) -> Section:
    """Return the section of what governs and what would next: requirement, place, and due dates of the asset."""
    blocks: list[Block] = []
    if told.place is not None:
        blocks += _requirement(connection, told.place, system)
        blocks.append(Paragraph(_place_sentence(places, system)))
    rows = tuple(
        (
            row["kind"],
            said(row["due_on"]),
            f"{row['component']}, location {row['location']}",
            said(row["next_due_on"]),
            f"{row['next_component']}, location {row['next_location']}"
            if row["next_component"]
            else "the longest interval"
            if row["next_due_on"]
            else "nothing else sets one",
        )
        for row in told.next_due
    )
    if rows:
        columns = (
            Column("due date of the asset", narrow=True),
            Column("due on", narrow=True),
            Column("set by"),
            Column("next, were that place disproved", narrow=True),
            Column("set by"),
        )
        own = tuple(n for n, row in enumerate(told.next_due) if row["component"] == part["component"])
        blocks.append(Table(columns, rows, strong=own))
    else:
        blocks.append(Paragraph("No place sets a due date of this asset by its life."))
    return Section("Governing case and runner-up", tuple(blocks))


def _requirement(connection: duckdb.DuckDBPyConnection, place: Row, system: str) -> list[Block]:
    """Return what may set the required thickness, the thickest first: the clause takes the largest of its inputs."""
    found = asked(
        connection,
        "SELECT required.* FROM step.required_thickness AS required JOIN basis.in_force USING (radius_basis) "
        "WHERE asset = ? AND component = ? AND zone = ? AND region = ?",
        [place["asset"], place["component"], place["zone"], place["region_counted"]],
    )
    if not found or found[0]["t_req_mm"] is None:
        # The clause may be known and an input of it not: what is left must not look as if it set the thickness.
        why = found[0]["not_required_because"] if found else place["missing"]
        return [Paragraph(f"No required thickness; missing: {why}.", strong=True)]
    row = found[0]
    candidates = sorted(
        ((quantity.label, row[quantity.column]) for quantity in FORMULAS[row["required_formula"]].inputs),
        key=lambda candidate: -(candidate[1] or 0.0),
    )
    ranks = ["governs", "runner-up", *[""] * len(candidates)]
    rows = tuple(
        (
            label,
            unrounded(value, "mm"),
            shown({"t_req_mm": value}, "t_req_mm", system),
            rank if value else "not asked",
        )
        for (label, value), rank in zip(candidates, ranks, strict=False)
    )
    columns = (
        Column("what may set the required thickness"),
        Column("unrounded", numeric=True),
        Column("rounded", numeric=True),
        Column(""),
    )
    return [Table(columns, rows, strong=(0,))]


def _place_sentence(places: list[Row], system: str) -> str:
    def about(row: Row) -> str:
        years = life(row, system)
        years = f"{years} years" if row["remaining_life_years"] is not None else years
        return f"location {row['location']} (margin {percent(row['margin'])}, remaining life {years})"

    if places[0]["t_act_mm"] is None:
        return (
            f"None of the component's {noun(len(places), 'place')} has a reading that counts: none governs by its life."
        )
    if len(places) == 1:
        return f"Of the component's places {about(places[0])} is the only one."
    return (
        f"Of the component's {len(places)} places {about(places[0])} governs; the runner-up is {about(places[1])}. "
        "Order: below required, then the shortest life, then the smallest margin."
    )
