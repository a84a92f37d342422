"""Tables that are not surveys, cell by cell: assets, components, locations, inspections, events and the rest."""

from __future__ import annotations

from datetime import date

from pipeline.sheets.body import Body, Identity, what
from pipeline.sheets.derived import settle_sums
from pipeline.sheets.facts import Fact, read_fact
from pipeline.sheets.layout import Head
from pipeline.sheets.merged import merged_over
from pipeline.sheets.values import Refused, as_text, is_blank
from pipeline.sheets.words import PLANNED, is_planned
from pipeline.sheets.workbooks import address

#: A row of these kinds whose named date lies after the as-of date has not happened yet, and is left out whole.
_HAPPENED_ON = {
    "inspections": "date",
    "events": "date",
    "renumbered locations": "renumbered_on",
    "deferrals": "approved_on",
    "set intervals": "approved_on",
    "rate choices": "chosen_on",
    "recommendations": "raised_on",
    "scope decisions": "decided_on",
    "corroded areas": "date",
    "pits": "date",
}

#: A single date that cannot count before it has come, on a row that stays.
_NOT_BEFORE = frozenset(
    {("relief devices", "last_tested"), ("recommendations", "closed_on"), ("assets", "status_since")}
)

#: What these state and cannot be read is unknown, not absent.
_UNKNOWN_IF_UNREADABLE = ("assets", "components", "locations", "corroded areas")

#: The names of a thing of each kind, as far as the facts about it carry them.
_NAMED_BY = {"assets": ("asset",), "components": ("asset", "component"), "events": ("asset", "component")}
_NAMED_BY["renumbered locations"] = ("asset", "component")
_NAMED_BY["recommendations"] = ("asset", "component")
_NAMED_BY["corroded areas"] = ("asset", "component")
_NAMED_BY["pits"] = ("asset", "component")
_NAMED_BY["rate choices"] = ("asset", "component", "location")
_NAMED_BY["locations"] = ("asset", "component", "location")


def read_register(body: Body) -> None:
    """Read every data row of a register into `field` rows."""
    for row in body.data_rows():
        record = body.desk.intake.next_record()
        identity = body.identity(row)
        if identity.refused is not None:
            body.refuse_row(row, identity.refused.reason, identity.refused_at, identity.spoken)
        else:
            facts = _facts_of(body, row, identity)
            if facts is not None:
                _emit(body, row, record, identity, facts)
        body.read(row)
    settle_sums(body)


def _facts_of(body: Body, row: int, identity: Identity) -> list[tuple[Head, Fact]] | None:
    """Return the facts of a row, or None where it lies after the as-of date or says that it is a plan."""
    facts: list[tuple[Head, Fact]] = []
    refused: list[tuple[Head, Refused]] = []
    for head in body.table.heads:
        if head.column is None or head.twice:
            continue
        if body.spans.over(row, head) is not None:
            _refuse_merged(body, row, head, identity)
            continue
        place = body.place_of(row, head)
        value = body.rows[place[0]][place[1]]
        if is_blank(value):
            if _is_beside_value(body, row, head, identity):
                facts.append((head, Fact(head.name, unreadable=True)))
            continue
        problem = body.problem_at(place[0], head)
        fact = Refused(problem) if problem else read_fact(head.column, value, body.setting(place[0], head))
        if isinstance(fact, Refused):
            refused.append((head, fact))
        else:
            facts.append((head, fact))
    if _is_later(body, row, identity, facts) or _is_planned(body, row, identity):
        return None
    for head, why in refused:
        body.refuse(*body.place_of(row, head), why.reason, f"{what(head)} of {identity.spoken} is not used")
        if body.table.kind in _UNKNOWN_IF_UNREADABLE:
            facts.append((head, Fact(head.name or "", unreadable=True)))
    return facts


def _refuse_merged(body: Body, row: int, head: Head, identity: Identity) -> None:
    """Set a measured value aside that is merged over several places; once, at the cell that holds it."""
    span = body.spans.over(row, head)
    if span is not None and span.anchor == (row, head.index):
        body.refuse(row, head.index, merged_over(span), f"{what(head)} of {identity.spoken} is not used")


def _is_beside_value(body: Body, row: int, head: Head, identity: Identity) -> bool:
    """Tell whether a value to the left is merged over a demand, which is then neither absent nor known; warn of it."""
    span = body.spans.beside(row, head)
    if span is None or head.column is None or head.column.reads_as in ("key", "text"):
        return False
    reason = f"merged over {span.spoken}: it counts for its first column only, write the value under each heading"
    body.warn(*span.anchor, reason, f"{what(head)} of {identity.spoken} is not used")
    return body.table.kind in _UNKNOWN_IF_UNREADABLE


def _is_later(body: Body, row: int, identity: Identity, facts: list[tuple[Head, Fact]]) -> bool:
    """Note a row that has not happened by the as-of date, and leave it out whole."""
    named = _HAPPENED_ON.get(body.table.kind)
    for head, fact in facts:
        if head.name == named and fact.on is not None and fact.on > body.as_of:
            thing = body.table.kind.removesuffix("s")
            body.later(*body.place_of(row, head), f"the {thing} of {identity.spoken} is not used")
            for other in body.table.heads:
                body.desk.marks.ignore(row, other.index, "after the as-of date")
            return True
    return False


def _is_planned(body: Body, row: int, identity: Identity) -> bool:
    """Set a row aside whose result says that the inspection has not been done; its date may lie behind us by now."""
    head = body.table.head("result") if body.table.kind == "inspections" else None
    if head is None or not is_planned(as_text(body.value_of(row, head))):
        return False
    body.refuse_row(row, PLANNED, body.place_of(row, head), identity.spoken)
    return True


def _emit(body: Body, row: int, record: int, identity: Identity, facts: list[tuple[Head, Fact]]) -> None:
    for head, fact in facts:
        place = body.place_of(row, head)
        if (body.table.kind, head.name) in _NOT_BEFORE and fact.on is not None and fact.on > body.as_of:
            body.later(*place, f"{what(head)} of {identity.spoken} is not used")
            continue
        for sentence in fact.warnings:
            body.warn(*place, sentence, f"{what(head)} of {identity.spoken} is used")
        names = ("joint_efficiency_longitudinal", "joint_efficiency_circumferential")
        for name in names if fact.name == "joint_efficiency" else (fact.name,):
            emit_fact(body, place, record, identity, head, fact, name)
        if not fact.unreadable:
            body.desk.marks.used(*place)


def emit_fact(
    body: Body, place: tuple[int, int], record: int, identity: Identity, head: Head, fact: Fact, name: str
) -> None:
    """Write one `field` row."""
    assert head.column is not None
    kind = head.column.rows_of
    named_by = _NAMED_BY.get(kind, ("asset",))
    named = {key: identity.get(key) for key in ("asset", "component", "location") if key in named_by}
    word = identity.get(name) if name in ("asset", "component", "location", "device", "name") else fact.word
    on: date | None = fact.on
    body.desk.intake.add(
        "field",
        kind=kind,
        record=record,
        file=body.desk.grid.file,
        sheet=body.desk.grid.sheet,
        cell=address(*place),
        sheet_row=row_number(place),
        **named,
        field=name,
        text=as_text(body.rows[place[0]][place[1]]),
        number=fact.number,
        on_date=on,
        date_precision=fact.precision,
        word=word,
        unit=fact.unit,
        unit_from=fact.unit_from,
        unreadable=fact.unreadable,
    )


def row_number(place: tuple[int, int]) -> int:
    """Return the number of a cell's row as a spreadsheet counts it."""
    return place[0] + 1
