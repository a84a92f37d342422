"""The sheet `Checks`: how many results of each kind were worked out again, how many differ, and by how much at most."""

from __future__ import annotations

from pipeline.audit import dates
from pipeline.audit.book import Book
from pipeline.audit.calculation import AGREEMENT, differences, last_row
from pipeline.audit.cells import Live, Sheet, Styled, headings
from pipeline.audit.layout import Columns, Result
from pipeline.audit.live import SMALLEST
from pipeline.audit.results import Results

NAME = "Checks"
#: Cells with the two sums, to which the first sheet refers.
COMPARED, DIFFER = f"{NAME}!$C$4", f"{NAME}!$D$4"
_FIRST = 5


def write_checks(book: Book, results: Results, columns: Columns, last_date: int) -> None:
    """Write a line for each kind of result on `Calculation` and for the due dates, under the sums of all of them."""
    sheet = Sheet(
        book,
        NAME,
        (44, 60, 16, 16, 20),
        results.footer,
        freeze=f"A{_FIRST}",
        repeat_rows="3:3",
        system=results.system,
        protected=True,
    )
    sheet.append([Styled("Every formula against the program's own value", "title")])
    sheet.append(
        [
            Styled(
                f"Differs: off by more than {AGREEMENT:.0E} of the program's value (or of {SMALLEST:g} where that is "
                "smaller), or not there; a date by a day.",
                "note",
            )
        ]
    )
    sheet.append_wrapped(headings(("part", "result", "compared", "differ", "largest difference")))
    entries = [entry for entry in columns.layout if isinstance(entry, Result)]
    end = _FIRST + len(entries)
    sheet.append(
        [
            Styled("all of them", "caution"),
            None,
            Styled(Live(f"=SUM(C{_FIRST}:C{end})"), "live left", "0"),
            Styled(Live(f"=SUM(D{_FIRST}:D{end})"), "live left", "0"),
        ]
    )
    last = last_row(results)
    for entry in entries:
        cells = f"Calculation!{differences(columns, entry, last)}"
        sheet.append([entry.group, entry.heading, *_counted(cells, repr(AGREEMENT), "0.0E+00")])
    sheet.append([dates.NAME, "due date, in days", *_counted(dates.differences(last_date), "0", "0")])


def _counted(cells: str, above: str, number_format: str) -> list[Styled]:
    return [
        Styled(Live(f"=COUNT({cells})"), "left", "0"),
        Styled(Live(f'=COUNTIF({cells},">{above}")'), "live left", "0"),
        Styled(Live(f"=MAX({cells})"), "left", number_format),
    ]
