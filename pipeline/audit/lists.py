"""The plain sheets of the audit workbook: what it is, the ranking, the policies, the readings and the ledger."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from pipeline.audit.calculation import AGREEMENT, COMPARED_ROW, DIFFERING_ROW
from pipeline.audit.cells import Live, Sheet, Styled, coherent, format_of, headings, unit_of
from pipeline.audit.layout import Columns, policy_name
from pipeline.audit.live import NOT_HERE, SMALLEST
from pipeline.audit.results import Results
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.quantities import QUANTITIES
from pipeline.units import in_coherent_unit

_HOW_TO_READ = (
    "Inputs holds every number that goes in, one component and its governing place to a row. Cells with a tinted fill "
    "may be changed: the formulas follow. Behind the values stand the file, sheet and cell of each with its text.",
    "Calculation works the same row out again: each result is a live formula, beside it the program's own value and "
    "the difference of the two. A dash: not for this kind. Words in italics: why there is no result.",
    "What the program chose by rule stays as chosen: the clause, the weld region, the rate, the dimension. After a "
    "change of inputs #N/A means that a clause's limit is not met or that a choice no longer holds: build anew.",
    "After a change of inputs the differences are no fault: the program's value is the one of the build.",
    "A component has more places than the governing one; the earliest dates and the lowest MAWP of all its places are "
    "given as the program's values.",
)


def write_read_me(book: Workbook, results: Results, columns: Columns) -> None:
    """Write what the workbook is, whether it agrees with the program, how to read it, and what it was made from."""
    system = results.system
    sheet = Sheet(book, "Read me", (44, 68, 12, 12, 12, 12, 12), results.footer, system=system)
    sheet.append([Styled("Audit workbook of a fleet's results", "title")])
    sheet.append([Styled("Every number of the governing places as a live formula over the source values.", "note")])
    sheet.append([])
    last = columns.last
    for words, value in (
        ("As of", results.as_of),
        ("Program", f"hoopline {results.program}"),
        ("Basis (sha256)", results.basis_sha256),
        ("Unit system", {"us": "US customary (in, psi, in/year)", "si": "SI (mm, MPa, mm/year)"}[system]),
    ):
        sheet.append([Styled(words, "heading"), Styled(value, "left")])
    for words, at in (
        ("Results calculated here and compared", COMPARED_ROW),
        ("of which differ from the program's value", DIFFERING_ROW),
    ):
        live = Live(f"=SUM(Calculation!$A${at}:${last}${at})")
        sheet.append([Styled(words, "heading"), Styled(live, "live left", "0")])
    sheet.append(
        [
            None,
            Styled(
                f"Differs: off by more than {AGREEMENT:.0E} of it (or of {SMALLEST:g} where it is smaller).", "note"
            ),
        ]
    )
    _append_counts(sheet, results)
    _append_paragraphs(sheet, "How to read it", _HOW_TO_READ)
    below = any(row["state"] == "below required" for row in results.rows("SELECT state FROM result.asset"))
    _append_paragraphs(sheet, "Cautions", (*((BELOW_REQUIRED,) if below else ()), CAUTION, NOT_CONSIDERED))
    sheet.append([])
    sheet.append_wrapped(
        headings(("Source file", "sha256", "bytes", "rows read", "rows used", "rows set aside", "readings held"))
    )
    for row in results.rows("SELECT * FROM result.source ORDER BY file"):
        sheet.append_wrapped(
            [
                Styled(row["file"], "wrapped"),
                Styled(row["sha256"], "wrapped"),
                *(row[name] for name in ("size", "rows_read", "rows_used", "rows_set_aside", "readings_held")),
            ]
        )


def _append_counts(sheet: Sheet, results: Results) -> None:
    sheet.append([])
    sheet.append(headings(("State", "assets")))
    for row in results.rows(
        "SELECT state.state, count(asset.asset) AS assets FROM reference.state AS state "
        "LEFT JOIN result.asset AS asset USING (state) GROUP BY state.state, state_order ORDER BY state_order"
    ):
        sheet.append([row["state"], Styled(row["assets"], "left", "0")])
    sheet.append([])
    sheet.append(headings(("What was read", "number")))
    for words, sql in (
        ("components", "SELECT count(*) AS n FROM result.component"),
        ("places", "SELECT count(*) AS n FROM result.location"),
        ("readings", "SELECT count(*) AS n FROM result.reading"),
        ("readings held", "SELECT count(*) AS n FROM result.reading WHERE status = 'held'"),
        ("ledger: set aside", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'set aside'"),
        ("ledger: warnings", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'warning'"),
        ("ledger: notes", "SELECT count(*) AS n FROM result.ledger WHERE severity = 'note'"),
    ):
        sheet.append([words, Styled(results.rows(sql)[0]["n"], "left", "0")])


def _append_paragraphs(sheet: Sheet, title: str, paragraphs: Sequence[str]) -> None:
    sheet.append([])
    sheet.append([Styled(title, "heading")])
    for paragraph in paragraphs:
        sheet.append_paragraph(paragraph, "caution" if title == "Cautions" else "wrapped")


_ASSET_COLUMNS: tuple[tuple[str, str, float], ...] = (
    ("rank", "rank", 6),
    ("asset", "asset", 11),
    ("state", "state", 17),
    ("reason", "reason", 60),
    ("governing_component", "component", 15),
    ("governing_location", "place", 9),
    ("due_kind", "governing due date: kind", 13),
    ("due_on", "governing due date", 12),
    ("internal", "internal or on-stream due", 14),
    ("external", "external due", 14),
    ("thickness", "thickness due", 14),
    ("relief device", "relief device due", 14),
    ("deferred_until", "deferred until", 12),
    ("retirement_on", "earliest retirement date", 14),
    ("components_not_assessable", "components not assessable", 14),
    ("components", "of components", 14),
    ("area", "area", 14),
    ("assigned_to", "person", 16),
)


def write_assets(book: Workbook, results: Results) -> None:
    """Write the ranking with every due date; a date that is not known says why."""
    sheet = Sheet(
        book,
        "Assets",
        [width for _, _, width in _ASSET_COLUMNS],
        results.footer,
        freeze="C2",
        repeat_rows="1:1",
        heights={1: 45},
        large_paper=True,
        system=results.system,
    )
    sheet.append(headings(heading for _, heading, _ in _ASSET_COLUMNS))
    due = {
        (row["asset"], row["kind"]): row["due_on"] or f"not known: {row['due_missing'] or 'no date'}"
        for row in results.rows("SELECT asset, kind, due_on, due_missing FROM result.due_date")
    }
    endless = {
        row["asset"]
        for row in results.rows(
            "SELECT asset FROM result.location GROUP BY asset HAVING bool_and(no_measurable_loss AND missing IS NULL)"
        )
    }
    for row in results.rows("SELECT * FROM result.asset ORDER BY rank"):
        values = {key: row[key] for key, _, _ in _ASSET_COLUMNS if key in row}
        for kind in ("internal", "external", "thickness", "relief device"):
            values[kind] = due.get((row["asset"], kind), NOT_HERE)
        if values["retirement_on"] is None:
            below = row["state"] == "below required"
            endless_here = row["asset"] in endless and not below
            values["retirement_on"] = "no measurable loss" if endless_here else row["state"] if below else "not known"
        sheet.append_wrapped([Styled(values[key], "wrapped") for key, _, _ in _ASSET_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A1:{get_column_letter(len(_ASSET_COLUMNS))}{sheet.rows}"


def write_policies(book: Workbook, results: Results) -> None:
    """Write every policy of the basis; each number has a defined name, to which the formulas refer."""
    sheet = Sheet(
        book,
        "Policies",
        (36, 56, 18, 11, 26, 16, 40, 18, 11),
        results.footer,
        freeze="C2",
        repeat_rows="1:1",
        heights={1: 45},
        large_paper=True,
        system=results.system,
    )
    sheet.append(
        headings(
            (
                "key",
                "what it sets",
                "value used in the formulas",
                "unit",
                "reference",
                "default or stated",
                "name in the formulas",
                "value as kept inside",
                "unit",
            )
        )
    )
    for policy in results.policies:
        number = policy["number"]
        value, unit = (
            (policy["word"] or "not stated", policy["unit"])
            if number is None
            else in_coherent_unit(number, policy["unit"], results.system)
        )
        name = None if number is None else policy_name(policy["key"])
        sheet.append_wrapped(
            [
                policy["key"],
                Styled(policy["label"], "wrapped"),
                Styled(value, "plain" if number is None else "input"),
                None if unit == "-" else unit,
                Styled(policy["reference"], "wrapped"),
                "stated" if policy["stated"] else "default",
                name,
                policy["word"] if number is None else number,
                None if policy["unit"] == "-" else policy["unit"],
            ]
        )
        if name:
            book.defined_names[name] = DefinedName(name, attr_text=f"Policies!$C${sheet.rows}")


_READING_COLUMNS: tuple[tuple[str, str, float], ...] = (
    ("asset", "asset", 11),
    ("component", "component", 16),
    ("location", "place", 9),
    ("read_on", "date", 11),
    ("date_precision", "date known to the", 9),
    ("thickness_mm", "thickness", 11),
    ("status", "status", 13),
    ("held_for", "held for", 16),
    ("flags", "what to look at", 40),
    ("text", "as it stood", 12),
    ("unit", "unit there", 8),
    ("method", "method", 11),
    ("inspector", "inspector", 14),
    ("remark", "remark", 24),
    ("decided_by", "decided by", 14),
    ("decision_reason", "reason of the decision", 24),
    ("file", "file", 28),
    ("sheet", "sheet", 18),
    ("cell", "cell", 8),
)


def write_readings(book: Workbook, results: Results) -> None:
    """Write every reading of the governing places with what became of it and where it stood."""
    quantity = QUANTITIES["t"]
    unit, number_format = unit_of(quantity, results.system), format_of(quantity, results.system)
    sheet = Sheet(
        book,
        "Readings used",
        [width for _, _, width in _READING_COLUMNS],
        results.footer,
        freeze="E3",
        repeat_rows="1:2",
        heights={2: 46},
        large_paper=True,
        system=results.system,
    )
    sheet.append([Styled("Readings of the governing places, those not used among them", "title")])
    sheet.append(
        headings(f"{heading}, {unit}" if key == "thickness_mm" else heading for key, heading, _ in _READING_COLUMNS)
    )
    for row in results.readings:
        row = {
            **row,
            "thickness_mm": Styled(coherent(row["thickness_mm"], quantity, results.system), "plain", number_format),
        }
        sheet.append([row[key] for key, _, _ in _READING_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A2:{get_column_letter(len(_READING_COLUMNS))}{sheet.rows}"


_LEDGER_COLUMNS: tuple[tuple[str, float], ...] = (
    ("severity", 11),
    ("file", 28),
    ("sheet", 18),
    ("cell", 8),
    ("text", 22),
    ("reason", 60),
    ("effect", 50),
)


def write_ledger(book: Workbook, results: Results) -> None:
    """Write every cell that was not used, or used with doubt."""
    sheet = Sheet(
        book,
        "Ledger",
        [width for _, width in _LEDGER_COLUMNS],
        results.footer,
        freeze="A3",
        repeat_rows="1:2",
        large_paper=True,
        system=results.system,
    )
    sheet.append([Styled("Cells and places that were not used, or used with doubt", "title")])
    words = {"text": "as it stood", "effect": "what it was kept out of"}
    sheet.append(headings(words.get(key, key) for key, _ in _LEDGER_COLUMNS))
    for row in results.rows("SELECT * FROM result.ledger ORDER BY file, sheet, cell"):
        sheet.append_wrapped([Styled(row[key], "wrapped") for key, _ in _LEDGER_COLUMNS])
    sheet.sheet.auto_filter.ref = f"A2:{get_column_letter(len(_LEDGER_COLUMNS))}{sheet.rows}"
