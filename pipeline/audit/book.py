"""The workbook file: XlsxWriter makes its structure, rows are written as text of the format (ECMA-376, part 1, 18.3).

XlsxWriter works through every cell several times before it writes it, some fifty thousand cells a second. A fleet's
workbook has millions. So a row reaches its worksheet already as text, through the file that XlsxWriter itself keeps for
the rows of a sheet in its mode of constant memory; formats, names, protection, print set-up and the package are its.
"""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path
from typing import Any, BinaryIO

import xlsxwriter
from xlsxwriter.exceptions import XlsxWriterException
from xlsxwriter.worksheet import Worksheet

from pipeline.errors import Problem

ROWS_OF_A_SHEET = 1_048_576


class Rows(Worksheet):
    """A worksheet that takes whole rows as text of the format."""

    def append_text(self, row: int, width: int, text: str) -> None:
        """Append the text of a row, numbered from 1 and `width` cells wide; raises Problem beyond the last row."""
        if row > ROWS_OF_A_SHEET:
            raise Problem(f"the sheet {self.name} needs more rows than a worksheet has; name fewer assets by --asset")
        self._check_dimensions(row - 1, max(width - 1, 0))
        self.previous_row = row - 1
        self.row_data_fh.write(text)


class Book:
    """A workbook that is being written; formulas are worked out again whenever it is opened."""

    def __init__(self, target: Path | BinaryIO, title: str, author: str) -> None:
        # The rows of a file stand beside it until it is put together: where there is room for it there is for them.
        beside = target.parent if isinstance(target, Path) else None
        self._home = tempfile.TemporaryDirectory(prefix=".rows.", dir=beside)
        file = str(target) if isinstance(target, Path) else target
        self.book = xlsxwriter.Workbook(file, {"constant_memory": True, "tmpdir": self._home.name})
        self.book.use_zip64()
        self.book.set_properties({"title": title, "author": author})
        self.book.set_calc_mode("auto")  # with the mark that everything is worked out when the file is opened
        self._formats: dict[tuple[tuple[str, Any], ...], int] = {}

    def sheet(self, title: str) -> Rows:
        """Return a new worksheet of this name."""
        made = self.book.add_worksheet(title, Rows)
        assert isinstance(made, Rows)
        return made

    def style(self, properties: dict[str, Any]) -> int:
        """Return the number by which a cell names a format; one number for one set of properties."""
        key = tuple(sorted(properties.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format(properties)._get_xf_index()
        return self._formats[key]

    def name(self, name: str, refers_to: str) -> None:
        """Define a name for a cell or range of the workbook."""
        self.book.define_name(name, f"={refers_to}")

    def __enter__(self) -> Book:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Put the file together, or leave nothing of it; raises OSError where it cannot be written."""
        try:
            if kind is None:
                self._close()
        finally:
            for sheet in self.book.worksheets():
                sheet.row_data_fh.close()
            self._home.cleanup()

    def _close(self) -> None:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")  # what XlsxWriter leaves out of a file must not be left out unseen
                self.book.close()
        except XlsxWriterException as fault:
            reason = fault.__context__
            raise reason if isinstance(reason, OSError) else OSError(str(fault)) from None
