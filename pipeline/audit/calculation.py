"""The sheets `Inputs` and `Calculation`: the same component in the same row of both."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from openpyxl import Workbook
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Font, PatternFill

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
_ALARM = PatternFill("solid", bgColor="B00020")


# ---- inputs ---------------------------------------------------------------------------------------------------------


def write_inputs(book: Workbook, results: Results, columns: Columns) -> None:
    """Write every input of every row in a cell of its own, then the source of each in the same order."""
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
    )
    sheet.append([Styled("Inputs of every component and its governing place", "title")])
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
    writer = Writer(results, columns)
    for row in results.components:
        given = inputs_of(results, columns, row)
        used = writer.inputs_used(given, Plan(results, row, given))
        sheet.append(
            [
                *_input_words(row),
                *(_input_cell(column, given[column.key], used, results.system) for column in columns.inputs),
                *(Styled(str(given[column.key].origin), "source") for column in columns.inputs),
            ]
        )


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


def write_calculation(book: Workbook, results: Results, columns: Columns) -> None:
    """Write every result of every row as a live formula, with the program's value and the difference."""
    last = FIRST_ROW + max(len(results.components), 1) - 1
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
    writer = Writer(results, columns)
    for at, row in enumerate(results.components, start=FIRST_ROW):
        given = inputs_of(results, columns, row)
        sheet.append(writer.cells(at, row, given, Plan(results, row, given)))
    sheet.sheet.conditional_formatting.add(
        " ".join(
            _differences(columns, entry, FIRST_ROW, last) for entry in columns.layout if isinstance(entry, Result)
        ),
        CellIsRule("greaterThan", [repr(AGREEMENT)], font=Font(bold=True, color="FFFFFF"), fill=_ALARM),
    )


def _differences(columns: Columns, entry: Result, first: int, last: int) -> str:
    letter = next_letter(columns.letter[f"c:{entry.key}"], 2)
    return f"{letter}{first}:{letter}{last}"


def _heads(entry: Result | Word, columns: Columns, system: str, last: int) -> Iterator[tuple[float, tuple[str, ...]]]:
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
    cells = _differences(columns, entry, FIRST_ROW, last)
    compared, differing = Live(f"=COUNT({cells})"), Live(f'=COUNTIF({cells},">{AGREEMENT!r}")')
    group = "" if entry.clause_differs else entry.group
    yield 14.0, (group, entry.heading, ", ".join(word for word in (symbol, unit) if word), clause, "", "")
    yield 12.0, ("", "program's value", unit, "", "", "")
    yield 11.0, ("", "difference", "", "", compared, differing)
