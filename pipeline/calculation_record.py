"""The calculation record of one component: everything its numbers were worked out from, as a document to be signed.

It is read from the results alone, as the explanation is: inputs with their cells, each clause with its numbers, what
governs and what would govern next, every place, every reading that did not count, what was assumed, what was left out.
"""

from __future__ import annotations

import duckdb

from pipeline.calculation_governing import PLACES, governing
from pipeline.calculation_inputs import Inputs
from pipeline.calculation_places import locations, readings
from pipeline.explain import Explanation, Input, Link, explain
from pipeline.explain_area import explain_area
from pipeline.paper import Block, Column, Equation, Facts, Paper, Paragraph, Points, Section, Table
from pipeline.paper_parts import (
    Stand,
    asset_row,
    build_facts,
    kept,
    limits,
    own_cautions,
    said,
    sentence,
    shown,
    signatures,
    stand,
    unrounded,
)
from pipeline.quantities import QUANTITIES
from pipeline.reading import Row, areas, asked
from pipeline.units import noun

KIND = "Calculation record"

#: The results of the governing place: what it is called, its column, and the column that says where it comes from.
_RESULTS = (
    ("last reading that counts", "t_act_mm", "read_on"),
    ("required thickness", "t_req_mm", "governing_case"),
    ("required thickness in the weld region", "t_req_weld_mm", ""),
    ("required thickness away from the weld", "t_req_away_mm", ""),
    ("margin over the required thickness (ratio)", "margin", ""),
    ("long-term rate", "rate_lt_mm_per_year", "initial_from"),
    ("short-term rate", "rate_st_mm_per_year", ""),
    ("least-squares rate", "rate_fit_mm_per_year", ""),
    ("rate selected", "rate_selected_mm_per_year", "rate_from"),
    ("governing rate", "rate_mm_per_year", ""),
    ("remaining life", "remaining_life_years", "read_on"),
    ("thickness interval", "interval_years", ""),
    ("internal or on-stream interval", "internal_interval_years", ""),
    ("MAWP now", "mawp_mpa", ""),
    ("MAWP at the next inspection", "mawp_next_mpa", ""),
    ("MAWP at the next turnaround", "mawp_turnaround_mpa", ""),
    ("MAWP at the turnaround after it", "mawp_after_mpa", ""),
)
_FOREMOST = ("required thickness", "remaining life")
_DATES = (
    ("required thickness reached", "retirement_on"),
    ("to be measured again by", "due_on"),
    ("internal or on-stream inspection by half the life", "internal_due_on"),
)


def calculation_record(
    connection: duckdb.DuckDBPyConnection, asset: str, component: str, plant: str, system: str | None = None
) -> Paper:
    """Return the calculation record of a component at its governing place, in a unit system (default: the plant's).

    Raises Problem where the results have no such asset or component.
    """
    rests_on = stand(connection, plant, system)
    told = explain(connection, asset, component, None, rests_on.system)
    owner = asset_row(connection, asset)
    key = [asset, component]
    part = asked(connection, "SELECT * FROM result.component WHERE asset = ? AND component = ?", key)[0]
    places = asked(connection, PLACES, key)
    rows = asked(
        connection,
        "SELECT * FROM result.reading WHERE asset = ? AND component = ? ORDER BY location, read_on, file, cell",
        key,
    )
    inputs = Inputs(connection)
    equations = tuple(_equation(link, place, inputs) for place, link in enumerate(told.links, start=1))
    below = part["state"] == "below required"
    sections = (
        _result(told, part, rests_on.system),
        governing(connection, told, part, places, rests_on.system),
        inputs.section(asset, component, told.place is None),
        _calculation(told, equations, owner),
        *_other_answers(told),
        locations(places, rests_on.system),
        readings(rows, part, rests_on.system),
        inputs.assumptions(told.remarks, told.bands),
        *_areas(connection, asset, component, rests_on.system),
        limits(below, _open_points(part)),
        signatures(),
    )
    return Paper(
        KIND,
        f"{asset} · {component}",
        f"{plant} · {asset} · {component} · as of {rests_on.as_of}",
        _title_block(rests_on, owner, part),
        sections,
    )


def _title_block(rests_on: Stand, owner: Row, part: Row) -> Facts:
    return Facts(
        (
            ("plant", rests_on.plant),
            ("asset", " · ".join(text for text in (owner["asset"], owner["description"]) if text)),
            ("component", f"{part['component']} ({part['kind'] or part['kind_text'] or 'kind not known'})"),
            ("governing location", part["governing_location"] or "none is on record"),
            ("material", said(part["material"])),
            ("code and edition", owner["construction_code"] or "not on the register"),
            *build_facts(rests_on),
        )
    )


# ---- what came out --------------------------------------------------------------------------------------------------


def _result(told: Explanation, part: Row, system: str) -> Section:
    blocks: list[Block] = [Paragraph(f"Does not agree: {fault}", strong=True) for fault in told.faults]
    concerns = [row for row in told.concerns if row["component"] == part["component"]]
    state = f"State of the component: {part['state']}"
    held = f"; {noun(part['held_readings'], 'reading')} held" if part["held_readings"] else ""
    blocks.append(Paragraph(f"{state}{held}.", strong=part["state"] not in ("in date", "retired")))
    if part["missing"]:
        blocks.append(Paragraph(f"Not to be worked out in full; missing: {part['missing']}.", strong=True))
    if concerns:
        blocks.append(Points(tuple(f"{row['state']}: {sentence(row['sentence'])}" for row in concerns)))
    place = told.place
    if place is None:
        blocks.append(Paragraph("No place of this component is on record: nothing can be said of its wall."))
        return Section("Result", tuple(blocks))
    rows = tuple(
        (words, kept(place, column), shown(place, column, system), said(place[origin]) if origin else "")
        for words, column, origin in _RESULTS
        if place[column] is not None or not column.startswith("rate_fit")
    )
    dates = tuple((words, said(place[column]), said(place[column]), "") for words, column in _DATES)
    columns = (
        Column("quantity"),
        Column("unrounded", numeric=True),
        Column("rounded", numeric=True),
        Column("from"),
    )
    blocks += [
        Table(columns, rows + dates, tuple(n for n, row in enumerate(rows) if row[0] in _FOREMOST)),
        Paragraph(
            f"At location {place['location']}, which governs. Rounding is for reading only: every step takes the "
            "unrounded result of the step before. Whole days are cut, never rounded up."
        ),
    ]
    return Section("Result", tuple(blocks))


# ---- the chain of clauses -------------------------------------------------------------------------------------------


def _calculation(told: Explanation, equations: tuple[Equation, ...], owner: Row) -> Section:
    code = owner["construction_code"]
    edition = (
        f"The register gives “{code}” as code and edition: compare each clause with that edition."
        if code
        else "The register gives no code and edition: which edition of these clauses holds is to be found out."
    )
    if not equations:
        return Section("Calculation", (Paragraph("There is no place to work from: no clause was applied."),))
    agree = "all met the stored result again" if not told.faults else f"{len(told.faults)} did not agree"
    first = Paragraph(
        f"{noun(len(equations), 'equation')}, each worked again from its stored inputs for this record: {agree}. "
        f"{edition} (m) marks a clause number from memory. Only the branch of a clause that was taken has numbers."
    )
    return Section("Calculation", (first, *equations))


def _equation(link: Link, place: int, inputs: Inputs) -> Equation:
    _, _, right = link.typeset.partition(" = ")
    quantity = QUANTITIES[link.result_symbol]
    return Equation(
        place,
        link.title,
        link.source,
        quantity.symbol,
        right,
        link.typeset_values,
        link.shown,
        unrounded(link.value, quantity.unit),
        tuple((item.typeset, item.shown, _numbered(item, inputs)) for item in link.inputs),
        sentence(link.note),
        link.fault,
    )


def _numbered(item: Input, inputs: Inputs) -> str:
    """Return the step an input comes from, or its number among the inputs."""
    return str(item.origin) if inputs.is_step(item) else f"input {inputs.number_of(item)}"


def _other_answers(told: Explanation) -> tuple[Section, ...]:
    if told.place is None:
        return ()
    columns = (
        Column("answer"),
        Column("required", numeric=True),
        Column("remaining life", numeric=True),
        Column("verdict"),
        Column("", narrow=True),
    )
    rows = tuple(
        (answer.name, answer.t_req, answer.remaining_life, answer.verdict, "counts" if answer.counts else "")
        for answer in told.weld_answers
    ) + tuple(
        (
            f"{answer.name} radius",
            answer.t_req,
            answer.remaining_life,
            answer.verdict,
            "in force" if answer.counts else "",
        )
        for answer in told.basis_answers
    )
    equations = tuple(f"{answer.name}: {answer.equation}" for answer in told.weld_answers if answer.equation)
    return (Section("The other weld region and radius bases", (Table(columns, rows), Points(equations))),)


# ---- corroded areas, and what stays open ----------------------------------------------------------------------------


def _areas(connection: duckdb.DuckDBPyConnection, asset: str, component: str, system: str) -> tuple[Section, ...]:
    """Return a section for each corroded area of the component, with its own inputs and equations."""
    sections = []
    for part, area in areas(connection, asset):
        if part != component:
            continue
        told = explain_area(connection, asset, component, area, system)
        inputs = Inputs(connection)
        equations = tuple(_equation(link, place, inputs) for place, link in enumerate(told.links, start=1))
        faults = tuple(Paragraph(f"Does not agree: {fault}", strong=True) for fault in told.faults)
        verdicts = tuple(
            f"Survey of {said(row['read_on'])}: {row['screening_verdict']}."
            for row in (*told.surveys, *told.pit_surveys)
            if row["screening_verdict"]
        )
        points = (*verdicts, *told.remarks, *own_cautions(told.cautions))
        sections.append(
            Section(
                f"Corroded area {area}",
                (
                    *faults,
                    Paragraph(sentence(told.sentence), strong=told.is_below_required),
                    Points(points),
                    inputs.table(),
                    *equations,
                ),
            )
        )
    return tuple(sections)


def _open_points(part: Row) -> tuple[str, ...]:
    missing = f"Missing for this component: {part['missing']}." if part["missing"] else ""
    places = (
        f"{noun(part['places_never_read'], 'place')} of this component without a reading that counts: a life is a "
        "statement about the places measured."
        if part["places_never_read"]
        else "A life is a statement about the places measured, and about nothing between them."
    )
    return tuple(text for text in (missing, places) if text)
