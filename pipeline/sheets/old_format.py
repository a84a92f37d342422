"""Workbooks of the old xls format, read in a process of their own."""

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path

from pipeline.sheets.package import DAMAGED, PASSWORD, Unreadable
from pipeline.sheets.values import Value

#: A sheet by name, whether it is hidden, its rows, and its merged cells.
OldSheet = tuple[str, bool, list[list[Value]], list[tuple[int, int, int, int]]]

LONGEST_SECONDS = 60.0

#: What a sheet of this format can hold; one that says more is damaged.
MOST_ROWS, MOST_COLUMNS = 65_536, 256

CHILD = Path(__file__).with_name("old_format_child.py")


def read_old_format(content: bytes) -> list[OldSheet]:
    """Return the worksheets of an xls file. Raises Unreadable for one that is damaged or protected."""
    try:
        done = subprocess.run(
            [sys.executable, "-P", str(CHILD)], input=content, capture_output=True, timeout=LONGEST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired as fault:
        raise Unreadable(DAMAGED) from fault
    if done.returncode != 0:
        raise Unreadable(PASSWORD if b"password" in done.stderr.lower() else DAMAGED)
    sheets: list[OldSheet] = pickle.loads(done.stdout)
    if any(len(rows) > MOST_ROWS or (rows and len(rows[0]) > MOST_COLUMNS) for _, _, rows, _ in sheets):
        raise Unreadable(DAMAGED)
    return sheets
