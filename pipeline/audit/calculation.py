"""The sheets `Inputs` and `Calculation`: the same component in the same row of both."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pipeline.audit.book import Book
from pipeline.audit.cells import DATE_FORMAT, Live, Sheet, Styled, coherent, format_of, headings, next_letter, unit_of
from pipeline.audit.inputs import Given, inputs_of
from pipeline.audit.layout import INPUT_WORDS, Columns, InputColumn, Result, Word
from pipeline.audit.live import Writer, name_of
from pipeline.audit.plan import Plan
from pipeline.audit.results import FIRST_ROW, Results, Row, or_blank
from pipeline.formulas import FORMULAS
from pipeline.quantities import QUANTITIES

#: A live result agrees with the program's value up to this relative difference.
AGREEMENT = 1e-9
GROUP_ROW, HEADING_ROW, UNIT_ROW, CLAUSE_ROW, COMPARED_ROW, DIFFERING_ROW = range(3, FIRST_ROW)
_ALARM = {"bold": True, "font_color": "#FFFFFF", "bg_color": "#B00020"}


def write_inputs_and_calculation(book: Book, results: Results, columns: Columns) -> None:
    """Write both sheets, a row of each at a time: the inputs of a place, and everything worked out from them again."""
    inputs, calculation = _inputs(book, results, columns), _calculation(book, results, columns)
    writer = Writer(results, columns)
    for at, row, sources in results.calculations():
        given = inputs_of(results, columns, row, sources)
        plan = Plan(results, row, given)
        known = writer.known(given, plan)
        used = writer.inputs_used(known, plan)
        inputs.append(
            [
                *_input_words(row),
                *(_input_cell(column, given[column.key], used, results.system) for column in columns.inputs),
                *(Styled(str(given[column.key].origin), "source") for column in columns.inputs),
            ]
        )
        calculation.append(writer.cells(at, row["governs"], known, plan))


# ---- inputs ---------------------------------------------------------------------------------------------------------


def _inputs(book: Book, results: Results, columns: Columns) -> Sheet:
    """Return the sheet of every input in a cell of its own, then the source of each in the same order."""
    count = len(columns.inputs)
    sheet = Sheet(
        book,
        "Inputs",
        [width for _, width in INPUT_WORDS] + [12.0] * count + [38.0] * count,
        results.footer,
        freeze=f"D{FIRST_ROW}",
        repeat_rows=f"{FIRST_ROW - 3}:{FIRST_ROW - 1}",
        repeat_columns="A:C",
        pages_wide=7,
        large_paper=True,
        heights={FIRST_ROW - 2: 62},
        system=results.system,
        protected=True,
    )
    places = "each of its places" if results.all_places else "its governing place"
    sheet.append([Styled(f"Inputs of every component and {places}", "title")])
    for note in (
        "Values first, then in the same order where each came from: file, sheet, cell and the text as it stood there.",
        "A tinted cell feeds the formulas of its row and may be changed. A value in italics follows another cell.",
        "Blank: the register does not give it, or the kind does not need it; its source column says which.",
    ):
        sheet.append([Styled(note, "note")])
    sheet.append([])
    words = [word for word, _ in INPUT_WORDS]
    names = [column.heading for column in columns.inputs]
    groups = [""] * (len(words) + 2 * count)
    groups[0], groups[len(words)], groups[len(words) + count] = "Component and place", "Values", "Where each came from"
    sheet.append([Styled(group, "group") for group in groups])
    sheet.append(headings((*words, *names, *(f"source: {name}" for name in names))))
    units = [_symbol_and_unit(column, results.system) for column in columns.inputs]
    sheet.append([Styled(unit, "small heading") for unit in (*[""] * len(words), *units, *[""] * count)])
    return sheet


def _input_words(row: Row) -> Iterator[Any]:
    part, place, whole = row["part"], or_blank(row["place"]), row["whole"]
    yield whole["asset"]
    yield whole["component"]
    yield place["location"] or Styled("no place", "reason")
    yield whole["kind"] or Styled(f"not known: {whole['kind_text'] or 'none given'}", "reason")
    yield place["zone"]
    yield part["loss_side"] if part["loss_side_stated"] else f"{part['loss_side']} (assumed)"


def _input_cell(column: InputColumn, given: Given, used: set[str], system: str) -> Styled:
    look = "input" if f"i:{column.key}" in used else "unused"
    if column.quantity is None:
        return Styled(given.value, look, DATE_FORMAT)
    number_format = format_of(column.quantity, system)
    if given.follows is not None:
        return Styled(given.follows, "follows", number_format)
    return Styled(coherent(given.value, column.quantity, system), look, number_format)


def _symbol_and_unit(column: InputColumn, system: str) -> str:
    if column.quantity is None:
        return "date"
    symbol = column.key if column.key in QUANTITIES else {"E_L": "E", "E_C": "E"}.get(column.key, "")
    return ", ".join(word for word in (symbol, unit_of(column.quantity, system)) if word)


# ---- calculation ----------------------------------------------------------------------------------------------------


def _calculation(book: Book, results: Results, columns: Columns) -> Sheet:
    """Return the sheet of every result as a live formula, with the program's value and the difference."""
    last = last_row(results)
    heads = [head for entry in columns.layout for head in _heads(entry, columns, results.system, last)]
    sheet = Sheet(
        book,
        "Calculation",
        [width for width, _ in heads],
        results.footer,
        freeze=f"D{FIRST_ROW}",
        repeat_rows=f"{GROUP_ROW}:{FIRST_ROW - 1}",
        repeat_columns="A:C",
        pages_wide=8,
        large_paper=True,
        heights={HEADING_ROW: 62, CLAUSE_ROW: 50},
        system=results.system,
        protected=True,
    )
    sheet.append([Styled("Every result worked out again from Inputs and Policies", "title")])
    sheet.append(
        [Styled("Bold: live formula. Grey: the program's own value. Small grey: difference, as a part of it.", "note")]
    )
    words = [list(row) for row in zip(*(head for _, head in heads), strict=True)]
    words[COMPARED_ROW - GROUP_ROW][0] = "compared"
    words[DIFFERING_ROW - GROUP_ROW][0] = "differing"
    for line, look in zip(words, ("group", "heading", *["small heading"] * 4), strict=True):
        sheet.append([Styled(word, look, "0") for word in line])
    ranges = [differences(columns, entry, last) for entry in columns.layout if isinstance(entry, Result)]
    alarm = {"type": "cell", "criteria": ">", "value": AGREEMENT, "format": book.book.add_format(_ALARM)}
    sheet.sheet.conditional_format(ranges[0], {**alarm, "multi_range": " ".join(ranges)})
    return sheet


def last_row(results: Results) -> int:
    """Return the last row of `Inputs` and `Calculation`."""
    return FIRST_ROW + max(results.count, 1) - 1


def differences(columns: Columns, entry: Result, last: int) -> str:
    """Return the cells on `Calculation` that hold the differences of a result."""
    letter = next_letter(columns.letter[f"c:{entry.key}"], 2)
    return f"{letter}{FIRST_ROW}:{letter}{last}"


def _heads(entry: Result | Word, columns: Columns, system: str, last: int) -> Iterator[tuple[float, tuple[Any, ...]]]:
    """Yield width and heading of each column of an entry: group, heading, unit, clause, compared, differing."""
    if isinstance(entry, Word):
        yield entry.width, (entry.group if entry.key == "asset" else "", entry.heading, "", "", "", "")
        return
    quantity = entry.quantity
    unit = "date" if quantity is None else unit_of(quantity, system)
    symbol = "" if quantity is None or entry.key == "size" else quantity.name
    clause = name_of(FORMULAS[entry.formula]) if entry.formula else entry.words
    if entry.clause_differs:
        yield 30.0, (entry.group, f"clause: {entry.heading}", "", "", "", "")
        clause = "clause in each row"
    cells = differences(columns, entry, last)
    compared, differing = Live(f"=COUNT({cells})"), Live(f'=COUNTIF({cells},">{AGREEMENT!r}")')
    group = "" if entry.clause_differs else entry.group
    yield 14.0, (group, entry.heading, ", ".join(word for word in (symbol, unit) if word), clause, "", "")
    yield 12.0, ("", "program's value", unit, "", "", "")
    yield 11.0, ("", "difference", "", "", compared, differing)
