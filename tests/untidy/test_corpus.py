"""Every value of the untidy workbooks is recovered exactly or set aside with the right reason; no cell goes missing."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections import Counter
from datetime import date
from functools import cache
from xml.etree import ElementTree

import openpyxl
import pytest

from pipeline.basis import default_basis
from pipeline.sheets import Intake, read_files
from tests.untidy.corpus import Untidy, corpus

AS_OF = date(2026, 6, 30)
CORPUS = tuple(corpus())


@cache
def intake_of(place: int) -> Intake:
    case = CORPUS[place]
    return read_files([(case.file, case.content)], default_basis(), AS_OF)


places = pytest.mark.parametrize("place", range(len(CORPUS)), ids=lambda place: CORPUS[place].file)


def test_the_corpus_holds_every_kind_of_mess() -> None:
    kinds = Counter(kind for case in CORPUS for kind in case.mess)
    assert len(CORPUS) >= 60
    assert len(kinds) >= 55, sorted(kinds)
    assert min(kinds.values()) >= 1
    assert sum(len(case.truth.readings) for case in CORPUS) > 4000
    assert sum(len(case.truth.set_aside) for case in CORPUS) > 400


def test_the_corpus_is_the_same_every_time() -> None:
    again = tuple(corpus(12))
    assert [case.truth for case in again] == [case.truth for case in CORPUS[:12]]


@places
def test_every_reading_is_recovered_exactly(place: int) -> None:
    wanted = {(reading.sheet, reading.cell): reading for reading in CORPUS[place].truth.readings}
    found = {(row["sheet"], row["cell"]): row for row in intake_of(place).rows("reading")}
    assert sorted(found) == sorted(wanted)
    for key, row in found.items():
        truth = wanted[key]
        assert (row["asset"], row["component"], row["location"]) == (truth.asset, truth.component, truth.location)
        assert (row["read_on"], row["date_precision"]) == (truth.read_on, truth.precision)
        assert row["thickness_mm"] == pytest.approx(truth.mm, rel=1e-14)


@places
def test_every_reason_for_not_measuring_is_kept(place: int) -> None:
    wanted = sorted(
        (miss.sheet, miss.cell, miss.location, miss.read_on, miss.reason) for miss in CORPUS[place].truth.missed
    )
    rows = intake_of(place).rows("not_measured")
    assert sorted((row["sheet"], row["cell"], row["location"], row["read_on"], row["reason"]) for row in rows) == wanted


@places
def test_every_bad_cell_is_set_aside_with_the_right_reason(place: int) -> None:
    wanted = CORPUS[place].truth.set_aside
    rows = [row for row in intake_of(place).rows("ledger") if row["severity"] == "set aside"]
    assert sorted((row["sheet"], row["cell"]) for row in rows) == sorted(wanted)
    for row in rows:
        assert wanted[(row["sheet"], row["cell"])] in row["reason"]


@places
def test_every_cell_is_accounted_for(place: int) -> None:
    counted: Counter[str] = Counter()
    for row in intake_of(place).rows("sheet"):
        assert row["cells"] == row["used"] + row["set_aside"] + row["ignored"]
        assert row["ignored"] == sum(json.loads(row["ignored_reasons"]).values())
        counted[row["sheet"]] += row["cells"]
    assert counted == cells_by_sheet(CORPUS[place])


@places
def test_what_is_hidden_or_marked_is_noted(place: int) -> None:
    case = CORPUS[place]
    notes = " ".join(row["reason"] for row in intake_of(place).rows("ledger") if row["severity"] == "note")
    if not case.file.endswith(("xlsx", "xlsm")):
        return
    book = openpyxl.load_workbook(io.BytesIO(case.content))
    for sheet in book.worksheets:
        if sheet.sheet_state == "hidden":
            assert "the sheet is hidden" in notes
        for number, dimension in sheet.row_dimensions.items():
            if dimension.hidden and any(cell.value is not None for cell in sheet[number]):
                assert "hidden rows" in notes
        for letter, dimension in sheet.column_dimensions.items():
            if dimension.hidden and any(cell.value is not None for cell in sheet[letter]):
                assert "hidden columns" in notes


def cells_by_sheet(case: Untidy) -> Counter[str]:
    """Count the cells that hold something with a reader that shares nothing with the intake."""
    counted: Counter[str] = Counter()
    if case.file.endswith("csv"):
        encodings = ("utf-16",) if case.content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
        text = next(text for name in encodings if (text := decoded(case.content, name)) is not None)
        delimiter = next(kind.removeprefix("delimiter ").strip("'") for kind in case.mess if kind.startswith("delim"))
        rows = csv.reader(io.StringIO(text, newline=""), delimiter="\t" if delimiter == "\\t" else delimiter)
        counted[""] = sum(bool(value.strip()) for row in rows for value in row)
    elif case.file.endswith("ods"):
        with zipfile.ZipFile(io.BytesIO(case.content)) as package:
            tree = ElementTree.fromstring(package.read("content.xml"))
        for table in (element for element in tree.iter() if element.tag.endswith("}table")):
            name = next(value for key, value in table.attrib.items() if key.endswith("}name"))
            counted[name] = sum(bool(len(cell)) for cell in table.iter() if cell.tag.endswith("}table-cell"))
    else:
        for sheet in openpyxl.load_workbook(io.BytesIO(case.content)).worksheets:
            cells = (value for row in sheet.iter_rows(values_only=True) for value in row)
            counted[sheet.title] = sum(value is not None and bool(str(value).strip()) for value in cells)
    return counted


def decoded(content: bytes, encoding: str) -> str | None:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        return None
