"""Read a workbook of the old xls format from standard input and write its sheets to standard output, pickled.

Run by `old_format` as a process of its own under a limit of memory: a damaged xls file can make its reader ask for any
amount of memory, which ends the process that asks. Imports nothing of the project, so that it starts fast.
"""

from __future__ import annotations

import io
import pickle
import sys

from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

MOST_BYTES = 2_000_000_000


def main() -> None:
    """Read, and write (name, hidden, rows, merged cells) of every worksheet."""
    try:
        import resource
    except ImportError:  # not on Windows, where the reader still has a process of its own
        pass
    else:
        allowed = resource.getrlimit(resource.RLIMIT_AS)[1]
        most = MOST_BYTES if allowed == resource.RLIM_INFINITY else min(MOST_BYTES, allowed)
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    book = CalamineWorkbook.from_filelike(io.BytesIO(sys.stdin.buffer.read()))
    sheets = []
    for meta in book.sheets_metadata:
        if meta.typ == SheetTypeEnum.WorkSheet:
            sheet = book.get_sheet_by_name(meta.name)
            hidden = meta.visible != SheetVisibleEnum.Visible
            merged = [(*first, *last) for first, last in sheet.merged_cell_ranges or []]
            sheets.append((meta.name, hidden, sheet.to_python(skip_empty_area=False), merged))
    pickle.dump(sheets, sys.stdout.buffer)


if __name__ == "__main__":
    main()
