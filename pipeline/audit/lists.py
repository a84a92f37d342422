"""The plain sheets of the audit workbook: what it is and what needs a look, the ranking, the policies, the ledger."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.audit import checks
from pipeline.audit.book import Book
from pipeline.audit.cells import Live, Sheet, Styled, headings
from pipeline.audit.layout import policy_name
from pipeline.audit.live import NOT_HERE
from pipeline.audit.results import Results
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.slip import KINDS
from pipeline.units import in_coherent_unit

_COMPARED, _DIFFER = "Results calculated here and compared", "of which differ from the program's value"
#: What an auditor asks for first: words, the sheet that lists it, table and condition.
_EXCEPTIONS = (
    ("due dates overdue", "Due dates", "result.due_date", "state = 'overdue'"),
    ("due dates in order only by a deferral", "Due dates", "result.due_date", "state = 'deferred until'"),
    ("due dates not known, or not known for sure", "Due dates", "result.due_date", "state = 'not assessable'"),
    ("deferrals that do not count", "Deferrals", "result.due_date", "deferral_refused IS NOT NULL"),
    ("components that cannot be assessed", "Calculation", "result.component", "missing IS NOT NULL"),
    ("places below the required thickness", "Calculation", "result.location", "t_act_mm < t_req_mm"),
    ("places never read", "Calculation", "result.location", "read_on IS NULL"),
    ("places whose rate counts from the nominal thickness", "Inputs", "result.location", "initial_from = 'nominal'"),
    ("places whose rate a person chose", "Rate choices", "result.location", "rate_chosen_by IS NOT NULL"),
    ("readings held", "Held and rejected", "result.reading", "status = 'held'"),
    ("readings rejected by a person", "Held and rejected", "result.reading", "status = 'rejected'"),
    (
        "corroded areas below the required thickness",
        "Corroded areas",
        "result.corroded_area",
        "is_below_required AND superseded_by IS NULL",
    ),
    ("assets with relief devices set above the lowest MAWP", "Assets", "result.asset", "relief_above_mawp IS NOT NULL"),
)
_HOW_TO_READ = (
    "Inputs holds every number that goes in, one component and place to a row. Cells with a tinted fill may be "
    "changed: the formulas follow. Behind the values stand the file, sheet and cell of each with its text. Every sheet "
    "is protected without a password: what is not an input is not changed by a slip of the hand.",
    "Calculation works the same row out again: each result is a live formula, beside it the program's own value and "
    "the difference of the two. A dash: not for this kind. Words in italics: why there is no result.",
    "What the program chose by rule stays as chosen: the clause, the weld region, the rate, the dimension. After a "
    "change of inputs #N/A means that a clause's limit is not met or that a choice no longer holds: build anew.",
    "After a change of inputs the differences are no fault: the program's value is the one of the build.",
    "Due dates works every due date out again, Checks counts what differs from the program's values, Changes says what "
    "moved since the last export; the other sheets list values.",
)
_GOVERNING_ONLY = (
    "A component has more places than the governing one shown here; the earliest dates and the lowest MAWP of all its "
    "places are given as the program's values. With --all-locations every place is worked out."
)


def write_read_me(book: Book, results: Results) -> None:
    """Write what the workbook is, whether it agrees with the program, how to read it, and what it was made from."""
    system = results.system
    sheet = Sheet(book, "Read me", (50, 68, 20, 12, 12, 14, 13), results.footer, system=system, protected=True)
    sheet.append([Styled("Audit workbook of a fleet's results", "title")])
    places = "every place" if results.all_places else "the governing places"
    sheet.append([Styled(f"Every number of {places} as a live formula over the source values.", "note")])
    sheet.append([])
    for words, value in (
        ("As of", results.as_of),
        ("Program", f"hoopline {results.program}"),
        ("Basis (sha256)", results.basis_sha256),
        ("Known", _known(results)),
        ("Assets in this workbook", _assets(results)),
        ("Unit system", {"us": "US customary (in, psi, in/year)", "si": "SI (mm, MPa, mm/year)"}[system]),
    ):
        sheet.append([Styled(words, "heading"), Styled(value, "left")])
    for words, cell in ((_COMPARED, checks.COMPARED), (_DIFFER, checks.DIFFER)):
        sheet.append([Styled(words, "heading"), Styled(Live(f"={cell}"), "live left", "0")])
    sheet.append(
        [None, Styled("Live: empty until a spreadsheet program has worked the formulas out. See Checks.", "note")]
    )
    _append_counts(sheet, results)
    _append_paragraphs(sheet, "How to read it", (*_HOW_TO_READ, *(() if results.all_places else (_GOVERNING_ONLY,))))
    below = any(row["state"] == "below required" for row in results.rows("SELECT state FROM result.asset"))
    _append_paragraphs(sheet, "Cautions", (*((BELOW_REQUIRED,) if below else ()), CAUTION, NOT_CONSIDERED))
    sheet.append([])
    sheet.sheet.set_h_pagebreaks([sheet.rows])
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


def _known(results: Results) -> str:
    """Say what was known: everything in the folder at the build, or what the record knew at a moment."""
    if results.known_at is None:
        return "what stood in the plant's folder and record when the results were made"
    return f"what the plant's record knew at {results.known_at.isoformat(timespec='minutes')}"


def _assets(results: Results) -> str:
    total = results.rows("SELECT count(*) AS n FROM result.asset")[0]["n"]
    if not results.assets:
        return f"all {total}"
    return f"{len(results.assets)} of {total}, as asked for: {', '.join(results.assets)}"


def _append_counts(sheet: Sheet, results: Results) -> None:
    sheet.append([])
    sheet.append(headings(("State", "assets")))
    for row in results.rows(
        "SELECT state.state, count(asset.asset) AS assets FROM reference.state AS state "
        f"LEFT JOIN (FROM result.asset WHERE {results.chosen}) AS asset USING (state) "
        "GROUP BY state.state, state_order ORDER BY state_order"
    ):
        sheet.append([row["state"], Styled(row["assets"], "left", "0")])
    sheet.append([])
    sheet.append(headings(("What needs a look", "number", "sheet")))
    for words, sheet_name, table, condition in _EXCEPTIONS:
        number = results.rows(f"SELECT count(*) AS n FROM {table} WHERE ({condition}) AND {results.chosen}")[0]["n"]
        sheet.append([words, Styled(number, "left", "0"), sheet_name])
    sheet.append([])
    sheet.append(headings(("What was read", "number")))
    for words, table, condition in (
        ("components", "result.component", results.chosen),
        ("places", "result.location", results.chosen),
        ("readings", "result.reading", results.chosen),
        ("ledger: set aside", "result.ledger", "severity = 'set aside'"),
        ("ledger: warnings", "result.ledger", "severity = 'warning'"),
        ("ledger: notes", "result.ledger", "severity = 'note'"),
    ):
        number = results.rows(f"SELECT count(*) AS n FROM {table} WHERE {condition}")[0]["n"]
        sheet.append([words, Styled(number, "left", "0")])


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
    ("corroded area", "corroded area due", 14),
    ("relief device", "relief device due", 14),
    ("recommendation", "recommendation due", 16),
    ("deferred_until", "deferred until", 12),
    ("retirement_on", "earliest retirement date", 14),
    ("components_not_assessable", "components not assessable", 14),
    ("components", "of components", 14),
    ("area", "area", 14),
    ("assigned_to", "person", 16),
)


def write_assets(book: Book, results: Results) -> None:
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
        protected=True,
    )
    sheet.append(headings(heading for _, heading, _ in _ASSET_COLUMNS))
    due = {
        (row["asset"], row["kind"]): row["due_on"] or f"not known: {row['due_missing'] or 'no date'}"
        for row in results.walk(f"SELECT asset, kind, due_on, due_missing FROM result.due_date WHERE {results.chosen}")
    }
    endless = {
        row["asset"]
        for row in results.rows(
            "SELECT asset FROM result.location GROUP BY asset HAVING bool_and(no_measurable_loss AND missing IS NULL)"
        )
    }
    for row in results.walk(f"SELECT * FROM result.asset WHERE {results.chosen} ORDER BY rank"):
        values = {key: row[key] for key, _, _ in _ASSET_COLUMNS if key in row}
        for kind in KINDS:
            values[kind] = due.get((row["asset"], kind), NOT_HERE)
        if values["retirement_on"] is None:
            below = row["state"] == "below required"
            endless_here = row["asset"] in endless and not below
            values["retirement_on"] = "no measurable loss" if endless_here else row["state"] if below else "not known"
        sheet.append_wrapped([Styled(values[key], "wrapped") for key, _, _ in _ASSET_COLUMNS])
    sheet.filter(1)


def write_policies(book: Book, results: Results) -> None:
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
        protected=True,
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
            book.name(name, f"Policies!$C${sheet.rows}")


_LEDGER_COLUMNS: tuple[tuple[str, float], ...] = (
    ("severity", 11),
    ("file", 28),
    ("sheet", 18),
    ("cell", 8),
    ("text", 22),
    ("reason", 60),
    ("effect", 50),
)


def write_ledger(book: Book, results: Results) -> None:
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
        protected=True,
    )
    whole = ", of all assets" if results.assets else ""
    sheet.append([Styled(f"Cells and places that were not used, or used with doubt{whole}", "title")])
    words = {"text": "as it stood", "effect": "what it was kept out of"}
    sheet.append(headings(words.get(key, key) for key, _ in _LEDGER_COLUMNS))
    for row in results.walk("SELECT * FROM result.ledger ORDER BY file, sheet, cell"):
        sheet.append_wrapped([Styled(row[key], "wrapped") for key, _ in _LEDGER_COLUMNS])
    sheet.filter(2)
