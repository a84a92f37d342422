"""Merged cells below a header: for which rows the value of one counts, and where that is not certain.

What is stated of things (a pressure, a length, a name) counts for every row its cell covers, as people read it. What is
measured is measured at one place: a reading merged over several of them belongs to none for certain.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.sheets.layout import IDENTITY, Head, Table
from pipeline.sheets.values import is_blank
from pipeline.sheets.workbooks import address

Place = tuple[int, int]

#: What is measured, by kind of table; the columns of dates of a wide survey are measured too.
_MEASURED = {
    "survey, wide": ("thickness",),
    "survey, long": ("thickness",),
    "corroded areas": ("thickness",),
    "pits": ("pit_depth", "pit_width"),
}
#: A code stands for the one row it was printed in.
_FOR_ONE_ROW = ("return_code",)
#: What the fast way through surveys fills down by itself.
_FILLED_DOWN = (*IDENTITY, "date", "method", "inspector", "remark")


@dataclass(frozen=True)
class Span:
    """One merged range, as far as it lies in its table; rows and columns count from 0, the last ones included."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def anchor(self) -> Place:
        """The cell that holds the value."""
        return self.top, self.left

    @property
    def spoken(self) -> str:
        """The range as a spreadsheet names it."""
        return f"{address(self.top, self.left)}:{address(self.bottom, self.right)}"


class Spans:
    """The merged cells of the columns of one table."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._of: dict[Place, Span] = {}
        self._covered: dict[Span, list[tuple[int, Head]]] = {}
        #: For each cell that a merged cell above it counts for, the cell that holds the value.
        self.down: dict[Place, Place] = {}
        for top, left, bottom, right in dict.fromkeys(table.grid.merged):
            if not table.first <= top < table.bottom or (top, left) == (bottom, right):
                continue
            span = Span(top, left, min(bottom, table.bottom - 1), min(right, table.right - 1))
            for head in table.heads:
                if left <= head.index <= span.right:
                    self._cover(span, head)

    def _cover(self, span: Span, head: Head) -> None:
        for row in range(span.top, span.bottom + 1):
            self._of[(row, head.index)] = span
            if head.index == span.left and row > span.top and self._counts_down(head):
                self.down[(row, head.index)] = span.anchor

    def _counts_down(self, head: Head) -> bool:
        return head.column is not None and not self.is_measured(head) and head.name not in _FOR_ONE_ROW

    def is_measured(self, head: Head) -> bool:
        """Tell a column of what is measured from one of what is stated."""
        return head.on is not None or head.name in _MEASURED.get(self._table.kind, ())

    def over(self, row: int, head: Head) -> Span | None:
        """Return the merged range that covers a cell of what is measured, if it covers more than this place."""
        span = self._of.get((row, head.index))
        if span is None or not self.is_measured(head) or is_blank(self._table.grid.rows[span.top][span.left]):
            return None
        return span if len(self.covered(span)) > 1 else None

    def covered(self, span: Span) -> list[tuple[int, Head]]:
        """Return the rows and columns of what is measured that a range covers, of rows that say what they are about."""
        if span not in self._covered:
            self._covered[span] = self._cells_of(span)
        return self._covered[span]

    def _cells_of(self, span: Span) -> list[tuple[int, Head]]:
        heads = [head for head in self._table.heads if span.left <= head.index <= span.right and self.is_measured(head)]
        about = [head.index for head in self._table.heads if head.name in (*IDENTITY, "date")]
        rows = self._table.grid.rows
        return [
            (row, head)
            for row in range(span.top, span.bottom + 1)
            if row == span.top or any(not is_blank(rows[row][column]) for column in about)
            for head in heads
        ]

    def beside(self, row: int, head: Head) -> Span | None:
        """Return the range in which the value of a column to the left covers a cell of this one."""
        span = self._of.get((row, head.index))
        if span is None or head.index == span.left or is_blank(self._table.grid.rows[span.top][span.left]):
            return None
        return span

    def careful_rows(self) -> set[int]:
        """Return the rows with a merged cell that needs a closer look than filling down."""
        easy = {head.index for head in self._table.heads if head.name in _FILLED_DOWN}
        return {row for (row, column), span in self._of.items() if column not in easy or span.left != span.right}

    def stated(self) -> Iterator[tuple[Head, list[Span]]]:
        """Yield the columns of quantities, words and dates with merged cells that count for several rows, for names and
        remarks are plain to see."""
        for head in self._table.heads:
            if head.column is None or head.column.reads_as in ("key", "text") or head.name == "date":
                continue
            spans = {span.anchor: span for at, span in self._of.items() if at[1] == head.index and at in self.down}
            if spans:
                yield head, [spans[anchor] for anchor in sorted(spans)]


def merged_over(span: Span) -> str:
    """Return the sentence for a measured value that is merged over several places."""
    return f"merged over {span.spoken}: which of its places was measured? Write each value in a cell of its own"
