"""Opening workbooks: sheets of cells with their addresses, nothing interpreted.

Values come from calamine. It shows error values and formulas without a stored result as empty cells, so for xlsx
files the sheet's own XML is searched for those, and they come back as `Fault` cells that cannot vanish.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from html import unescape
from typing import IO, Any
from xml.etree import ElementTree

from openpyxl.utils import column_index_from_string, get_column_letter
from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from pipeline.sheets.values import Fault, Value

#: An xlsx is refused beyond this size when unpacked at an unlikely ratio, and beyond the second at any ratio.
SUSPECT_BYTES, SUSPECT_RATIO, MOST_BYTES = 200_000_000, 100, 2_000_000_000

#: A sheet is refused beyond this area; the largest survey foreseen is a tenth of it.
MOST_CELLS, MOST_COLUMNS = 100_000_000, 16_384

TEXT_ENDINGS = (".csv", ".tsv", ".txt")


class Unreadable(Exception):
    """A file that cannot be opened, with a sentence for people."""


@dataclass
class Grid:
    """One sheet as rows of equal length from A1 on; an empty cell is the empty string."""

    file: str
    sheet: str
    rows: list[list[Value]]
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: bool = False
    hidden_rows: list[int] = field(default_factory=list)
    decimal_comma: bool = False
    book: bytes = b""
    notes: list[str] = field(default_factory=list)

    @property
    def width(self) -> int:
        """How many columns the sheet has."""
        return len(self.rows[0]) if self.rows else 0

    @cached_property
    def columns(self) -> list[tuple[Value, ...]]:
        """The same cells column by column."""
        return list(zip(*self.rows, strict=True))

    @cached_property
    def types(self) -> list[frozenset[type]]:
        """The types of the cells of each column."""
        return [frozenset(map(type, cells)) for cells in self.columns]

    @cached_property
    def texts(self) -> list[frozenset[str]]:
        """The different texts in each column."""
        return [
            frozenset(cell for cell in cells if type(cell) is str) if str in types else frozenset()
            for cells, types in zip(self.columns, self.types, strict=True)
        ]

    def rows_with(self, column: int, text: str, top: int = 0, bottom: int | None = None) -> Iterator[int]:
        """Yield the rows in which a column holds a text."""
        cells = self.columns[column]
        end = len(cells) if bottom is None else bottom
        row = top - 1
        try:
            while True:
                row = cells.index(text, row + 1, end)
                yield row
        except ValueError:
            return

    @cached_property
    def worded_formats(self) -> dict[tuple[int, int], str]:
        """The number formats with text in them, by cell; nothing for a file without such formats."""
        if not self.book.startswith(b"PK"):
            return {}
        try:
            return _Parts(self.book).worded_formats(self.sheet)
        except Exception:  # a file calamine could read; without formats its cells stay without a unit
            return {}


def address(row: int, column: int) -> str:
    """Return the name of a cell counted from 0, such as `D7`."""
    return f"{get_column_letter(column + 1)}{row + 1}"


def open_file(name: str, content: bytes) -> list[Grid]:
    """Return the sheets of a file. Raises Unreadable with what is wrong and what to do."""
    if not content:
        raise Unreadable("the file is empty: put the data back or remove the file")
    if name.lower().endswith(TEXT_ENDINGS) and not content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        return [_open_text(name, content)]
    return _open_workbook(name, content)


# ------------------------------------------------------------------------------------------------------- workbooks


def _open_workbook(name: str, content: bytes) -> list[Grid]:
    zipped = content.startswith(b"PK")
    if zipped:
        _refuse_oversized(content)
    elif content.startswith(b"\xd0\xcf\x11\xe0"):
        if "EncryptedPackage".encode("utf-16-le") in content:
            raise Unreadable("the workbook is protected by a password: save a copy without a password")
    else:
        start = content[:2000].lstrip().lower()
        if start.startswith((b"<html", b"<!doctype html", b"<table")):
            raise Unreadable("the file is a web page, not a workbook: open it and save it as xlsx")
        raise Unreadable("the file is not a workbook: open it in a spreadsheet program and save it as xlsx or csv")
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        sheets = [meta for meta in book.sheets_metadata if meta.typ == SheetTypeEnum.WorkSheet]
        lookup = _Parts(content) if zipped else None
        grids = [_open_sheet(name, content, book, meta, lookup) for meta in sheets]
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except Unreadable:
        raise
    except BaseException as fault:  # calamine's own panics are not Exceptions
        if "password" in str(fault).lower():
            raise Unreadable("the workbook is protected by a password: save a copy without a password") from fault
        raise Unreadable(
            "the file cannot be opened as a workbook, it is damaged or cut short: "
            "open it in a spreadsheet program and save it again, or fetch it again"
        ) from fault
    if not zipped:
        grids[:1] = [_with_note(grid, OLD_FORMAT) for grid in grids[:1]]
    return grids


OLD_FORMAT = (
    "in a file of the old xls format, cells with an error value cannot be told from empty cells: "
    "save the workbook as xlsx if it has formulas"
)


def _with_note(grid: Grid, note: str) -> Grid:
    grid.notes.append(note)
    return grid


def _refuse_oversized(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            size = sum(part.file_size for part in package.infolist())
            if any(part.flag_bits & 1 for part in package.infolist()):
                raise Unreadable("the workbook is protected by a password: save a copy without a password")
    except zipfile.BadZipFile as fault:
        raise Unreadable(
            "the file cannot be opened as a workbook, it is damaged or cut short: "
            "open it in a spreadsheet program and save it again, or fetch it again"
        ) from fault
    if size > MOST_BYTES or (size > SUSPECT_BYTES and size > SUSPECT_RATIO * len(content)):
        raise Unreadable(
            f"the workbook unpacks to {size / 1e6:,.0f} MB, too much to be a survey: "
            "split it, or delete the empty formatted rows and save it again"
        )


def _open_sheet(name: str, content: bytes, book: Any, meta: Any, parts: _Parts | None) -> Grid:
    xml = b"" if parts is None else parts.sheet(meta.name)
    _refuse_strewn(meta.name, xml)
    sheet = book.get_sheet_by_name(meta.name)
    rows: list[list[Value]] = sheet.to_python(skip_empty_area=False)
    try:
        merged = [(*first, *last) for first, last in sheet.merged_cell_ranges or []]
    except Exception:  # formats without merged cells in calamine
        merged = []
    grid = Grid(name, meta.name, rows, merged, meta.visible != SheetVisibleEnum.Visible, book=content)
    if parts is not None:
        grid.merged.extend(parts.merged_in_content(meta.name))
    for row, column, fault in [*_faults(xml), *(parts.faults_in_content(meta.name) if parts else ())]:
        _place(grid.rows, row, column, fault)
    grid.hidden_rows = _hidden_rows(xml)
    return grid


_FAR_COLUMN = re.compile(rb'r="([A-Z]{2,3})(?=\d)')


def _refuse_strewn(name: str, xml: bytes) -> None:
    """Refuse a sheet with a stray cell so far out that the area up to it would not fit into memory."""
    numbered = re.search(rb'\br="(\d+)"', xml[xml.rfind(b"<row ") :]) if b"<row " in xml else None
    last_row = int(numbered[1]) if numbered else 0
    if last_row * MOST_COLUMNS <= MOST_CELLS:
        return
    far = set(_FAR_COLUMN.findall(xml)) if _FAR_COLUMN.search(xml) else set()
    width = max((column_index_from_string(letters.decode()) for letters in far), default=26)
    if last_row * width > MOST_CELLS:
        corner = f"{get_column_letter(width)}{last_row}"
        raise Unreadable(
            f"sheet '{name}' reaches to {corner}, far beyond any table: delete the stray cells, save it again"
        )


def _place(rows: list[list[Value]], row: int, column: int, value: Value) -> None:
    """Put a value at an address, growing the sheet where it lies outside; a value already there stays."""
    width = max(len(rows[0]) if rows else 0, column + 1)
    while len(rows) <= row:
        rows.append([])
    for line in rows:
        line.extend([""] * (width - len(line)))
    if rows[row][column] == "":
        rows[row][column] = value


class _Parts:
    """What calamine leaves out, by sheet name: the XML of each sheet of an xlsx file; the merged cells and the cells
    without a value of an ods file."""

    def __init__(self, content: bytes) -> None:
        self._package = zipfile.ZipFile(io.BytesIO(content))
        self._paths = self._sheet_paths()
        self._merged: dict[str, list[tuple[int, int, int, int]]] = {}
        self._content_faults: dict[str, list[tuple[int, int, Fault]]] = {}
        if "content.xml" in self._package.namelist():
            with self._package.open("content.xml") as content_xml:
                self._read_content(content_xml)

    def _sheet_paths(self) -> dict[str, str]:
        names = set(self._package.namelist())
        if "xl/workbook.xml" not in names or "xl/_rels/workbook.xml.rels" not in names:
            return {}
        targets = {
            link.get("Id"): link.get("Target", "")
            for link in ElementTree.fromstring(self._package.read("xl/_rels/workbook.xml.rels"))
        }
        paths = {}
        for element in ElementTree.fromstring(self._package.read("xl/workbook.xml")).iter():
            if element.tag.endswith("}sheet"):
                link = next((value for key, value in element.attrib.items() if key.endswith("}id")), None)
                target = targets.get(link, "")
                path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
                if path in names:
                    paths[element.get("name", "")] = path
        return paths

    def sheet(self, name: str) -> bytes:
        """Return the sheet's XML; empty for a format that has none."""
        path = self._paths.get(name)
        return self._package.read(path) if path else b""

    def worded_formats(self, name: str) -> dict[tuple[int, int], str]:
        """Return the number formats with text in them of a sheet of an xlsx file, by cell."""
        if "xl/styles.xml" not in self._package.namelist():
            return {}
        worded: dict[str, str] = {}
        formats: dict[bytes, str] = {}
        for element in ElementTree.fromstring(self._package.read("xl/styles.xml")).iter():
            tag = element.tag.rpartition("}")[2]
            if tag == "numFmt" and re.search(r"[\"\\\\]", element.get("formatCode", "")):
                worded[element.get("numFmtId", "")] = element.get("formatCode", "")
            elif tag == "cellXfs":
                for place, style in enumerate(element):
                    if style.get("numFmtId") in worded:
                        formats[str(place).encode()] = worded[style.get("numFmtId", "")]
        cells = _STYLED.finditer(self.sheet(name)) if formats else ()
        return {
            (int(cell["row"]) - 1, column_index_from_string(cell["column"].decode()) - 1): formats[cell["style"]]
            for cell in cells
            if cell["style"] in formats
        }

    def merged_in_content(self, name: str) -> list[tuple[int, int, int, int]]:
        """Return the merged cells of a sheet of an ods file."""
        return self._merged.get(name, [])

    def faults_in_content(self, name: str) -> list[tuple[int, int, Fault]]:
        """Return the cells of a sheet of an ods file that have an error or a formula without a result."""
        return self._content_faults.get(name, [])

    def _read_content(self, content_xml: IO[bytes]) -> None:
        name, row, column = "", 0, 0
        for event, element in ElementTree.iterparse(content_xml, events=("start", "end")):
            tag = element.tag.rpartition("}")[2]
            if event == "start":
                if tag == "table":
                    name, row = _attribute(element, "name"), 0
                elif tag == "table-row":
                    column = 0
            elif tag == "table-row":
                row += int(_attribute(element, "number-rows-repeated") or 1)
                element.clear()
            elif tag in ("table-cell", "covered-table-cell"):
                self._read_content_cell(element, name, row, column)
                column += int(_attribute(element, "number-columns-repeated") or 1)

    def _read_content_cell(self, element: ElementTree.Element, name: str, row: int, column: int) -> None:
        down, across = (int(_attribute(element, f"number-{way}-spanned") or 1) for way in ("rows", "columns"))
        if down > 1 or across > 1:
            self._merged.setdefault(name, []).append((row, column, row + down - 1, column + across - 1))
        formula = _attribute(element, "formula")
        types = [value for key, value in element.attrib.items() if key.endswith("}value-type")]
        if "error" in types:
            fault = Fault("".join(element.itertext()).strip() or "error", True)
        elif formula and not types and not any(child.tag.endswith("}p") for child in element):
            fault = Fault("=" + formula.partition("=")[2], False)
        else:
            return
        self._content_faults.setdefault(name, []).append((row, column, fault))


def _attribute(element: ElementTree.Element, name: str) -> str:
    return next((value for key, value in element.attrib.items() if key.endswith("}" + name)), "")


_CELL = re.compile(rb"<(?:\w+:)?c\s(?P<attributes>[^>]*?)(?:/>|>(?P<inner>.*?)</(?:\w+:)?c>)", re.S)
_STYLED = re.compile(
    rb'<(?:\w+:)?c\s(?=[^>]*?\br="(?P<column>[A-Z]+)(?P<row>\d+)")(?=[^>]*?\bs="(?P<style>\d+)")[^>]*>'
)
_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?row\s[^>]*?\bhidden=\"(?:1|true)\"[^>]*>")


def _faults(xml: bytes) -> Iterator[tuple[int, int, Fault]]:
    """Yield the cells with an error value or with a formula that has no stored result."""
    if b't="e"' not in xml and b"<f" not in xml and b":f>" not in xml:
        return
    for cell in _CELL.finditer(xml):
        attributes, inner = cell["attributes"], cell["inner"] or b""
        is_error = b't="e"' in attributes
        if not is_error and b"<f" not in inner and b":f" not in inner:
            continue
        place = re.search(rb'\br="([A-Z]+)(\d+)"', attributes)
        if place is None:
            continue
        stored = re.search(rb"<(?:\w+:)?v(?:\s[^>]*)?>([^<]+)</", inner)
        row, column = int(place[2]) - 1, column_index_from_string(place[1].decode()) - 1
        if is_error:
            yield row, column, Fault(_xml_text(stored[1]) if stored else "#N/A", True)
        elif stored is None and b't="str"' not in attributes:
            formula = re.search(rb"<(?:\w+:)?f(?:\s[^>]*)?>([^<]*)</", inner)
            yield row, column, Fault("=" + _xml_text(formula[1] if formula else b""), False)


def _xml_text(raw: bytes) -> str:
    return unescape(raw.decode("utf-8", "replace"))


def _hidden_rows(xml: bytes) -> list[int]:
    if b"hidden=" not in xml:
        return []
    places = (re.search(rb'\br="(\d+)"', row[0]) for row in _HIDDEN_ROW.finditer(xml))
    return [int(place[1]) - 1 for place in places if place]


# ------------------------------------------------------------------------------------------------------ text files


def _open_text(name: str, content: bytes) -> Grid:
    text = _decode(content)
    delimiter = _delimiter(text, name)
    if text[:5].lower().startswith("sep=") and len(text) > 4:
        delimiter = text[4]
    try:
        csv.field_size_limit(10_000_000)
        rows: list[list[Value]] = [
            list(line) for line in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        ]
    except csv.Error as fault:
        raise Unreadable(f"the file cannot be read as a table of text ({fault}): save it again as csv") from fault
    width = max((len(line) for line in rows), default=0)
    for line in rows:
        line.extend([""] * (width - len(line)))
    commas = delimiter == ";" and re.search(r"(?:^|;)\"?\s*-?\d+,\d+\s*[a-z\"]*\s*(?:;|$)", text, re.M) is not None
    return Grid(name, "", rows, decimal_comma=commas)


NOT_TEXT = "the file is not a text file: open it in a spreadsheet program and save it as xlsx"


def _decode(content: bytes) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return _decoded(content, "utf-16")
    start = content[:4000]
    if b"\x00" in start:
        even, odd = start[0::2].count(0), start[1::2].count(0)
        if max(even, odd) < 0.4 * len(start) or min(even, odd) > 0.01 * len(start):
            raise Unreadable(NOT_TEXT)
        return _decoded(content, "utf-16-le" if odd > even else "utf-16-be")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        try:
            return content.decode("cp1252")
        except UnicodeDecodeError:
            return content.decode("latin-1")


def _decoded(content: bytes, encoding: str) -> str:
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as fault:
        raise Unreadable(NOT_TEXT) from fault
    if "\x00" in text:
        raise Unreadable(NOT_TEXT)
    return text


def _delimiter(text: str, name: str) -> str:
    """Return the character that cuts most lines into the same number of fields, more than one."""
    lines = [line for line in text[:50_000].splitlines()[:200] if line.strip()]
    best, best_score = "\t" if name.lower().endswith(".tsv") else ",", (0, 0)
    for delimiter in ";\t|,":
        try:
            counts = [len(line) for line in csv.reader(lines, delimiter=delimiter) if line]
        except csv.Error:
            continue
        several = [count for count in counts if count > 1]
        if several:
            common = max(set(several), key=lambda count: (several.count(count), count))
            score = (several.count(common), common)
            if score > best_score:
                best, best_score = delimiter, score
    return best
