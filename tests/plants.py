"""Small plants written for one test: workbooks from rows, so that a test shows what stood in the cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

Rows = Sequence[Sequence[Any]]

ASSETS = ("Asset", "Service", "Area", "In service", "MAWP (psi)", "Inside diameter (in)", "Assigned to")
COMPONENTS = (
    "Asset",
    "Component",
    "Kind",
    "Nominal thickness (in)",
    "Corrosion allowance (in)",
    "Allowable stress (psi)",
    "Joint efficiency",
)
LOCATIONS = ("Asset", "Component", "Location", "Distance to weld (in)")
SURVEY = ("Asset", "Component", "Location", "Date", "Thickness (in)")
INSPECTIONS = ("Asset", "Kind", "Date", "Result")


def write_workbook(path: Path, sheets: Mapping[str, Rows]) -> Path:
    """Write a workbook with one sheet for each name."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
            for cell in sheet[sheet.max_row]:
                if isinstance(cell.value, str):
                    cell.data_type = "s"  # a tag that begins with "=" is text here, not a formula
    book.save(path)
    return path


def write_plant(
    folder: Path,
    *,
    assets: Rows = (),
    components: Rows = (),
    locations: Rows = (),
    readings: Rows = (),
    inspections: Rows = (),
    basis: str = "",
    file: str = "plant.xlsx",
    **more: Rows,
) -> Path:
    """Write a plant of ordinary sheets under the headings above; `more` takes whole sheets with their heading row."""
    folder.mkdir(parents=True, exist_ok=True)
    sheets: dict[str, Rows] = {}
    for name, heading, rows in (
        ("register", ASSETS, assets),
        ("parts", COMPONENTS, components),
        ("places", LOCATIONS, locations),
        ("readings", SURVEY, readings),
        ("inspections", INSPECTIONS, inspections),
    ):
        if rows:
            sheets[name] = [heading, *rows]
    sheets.update({name.replace("_", " "): rows for name, rows in more.items()})
    write_workbook(folder / file, sheets)
    if basis:
        (folder / "basis.toml").write_text(basis, encoding="utf-8")
    return folder
