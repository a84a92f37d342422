"""How an audit workbook of this program is told from everybody else's workbooks."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import BinaryIO

TITLE = "hoopline audit workbook"


def is_audit_workbook(file: Path | BinaryIO) -> bool:
    """Return whether a file is an audit workbook of this program, by the title in its properties."""
    try:
        with zipfile.ZipFile(file) as packed:
            return f"<dc:title>{TITLE}</dc:title>".encode() in packed.read("docProps/core.xml")
    except (OSError, KeyError, zipfile.BadZipFile):
        return False
