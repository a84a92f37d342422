"""The zipped parts of an xlsx or ods file: whether they are safe to open, and what calamine leaves out of them."""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import IO
from xml.etree import ElementTree

from openpyxl.utils import column_index_from_string
from openpyxl.utils.cell import coordinate_from_string

from pipeline.sheets.sheet_xml import Place, is_strewn, tidied
from pipeline.sheets.values import Fault

#: A file is refused beyond this size when unpacked at an unlikely ratio, and beyond the second at any ratio.
SUSPECT_BYTES, SUSPECT_RATIO, MOST_BYTES = 200_000_000, 100, 2_000_000_000

#: The most blanks a cell of an ods file may hold, which states them as a number.
MOST_BLANKS = 10_000

#: A part that packs more than this is unpacked once to see that it is as large as it says.
_CHECKED_BYTES = 50_000


class Unreadable(Exception):
    """A file that cannot be opened, with a sentence for people."""


PASSWORD = "the workbook is protected by a password: save a copy without a password"
DAMAGED = (
    "the file cannot be opened as a workbook, it is damaged or cut short: "
    "open it in a spreadsheet program and save it again, or fetch it again"
)


@dataclass(frozen=True)
class Styles:
    """What the styles of an xlsx file show, by style number."""

    worded: dict[int, str] = field(default_factory=dict)
    months: frozenset[int] = frozenset()
    years: frozenset[int] = frozenset()
    fills: frozenset[int] = frozenset()
    strikes: frozenset[int] = frozenset()


class Package:
    """The parts of an xlsx or ods file."""

    def __init__(self, content: bytes) -> None:
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(content))
        except (zipfile.BadZipFile, ValueError, OSError) as fault:
            raise Unreadable(DAMAGED) from fault
        self._names = frozenset(self._zip.namelist())
        if "xl/workbook.bin" in self._names:
            raise Unreadable("the workbook is of the binary xlsb format: save it as xlsx")
        self._refuse_unsafe(len(content))
        self._paths = self._sheet_paths()
        self.content = OdsContent()
        if "content.xml" in self._names:
            with self._zip.open("content.xml") as content_xml:
                self.content.read(content_xml)

    # ------------------------------------------------------------------------------------------------------ safety

    def _refuse_unsafe(self, packed: int) -> None:
        parts = self._zip.infolist()
        if any(part.flag_bits & 1 for part in parts):
            raise Unreadable(PASSWORD)
        size = sum(part.file_size for part in parts)
        if size > MOST_BYTES or (size > SUSPECT_BYTES and size > SUSPECT_RATIO * packed):
            raise Unreadable(
                f"the workbook unpacks to {size / 1e6:,.0f} MB, too much to be a survey: "
                "split it, or delete the empty formatted rows and save it again"
            )
        for part in parts:
            if part.filename.endswith((".xml", ".rels", ".vml")):
                self._refuse_entities(part)
            if part.compress_size > _CHECKED_BYTES and not part.filename.startswith("xl/worksheets/"):
                with self._zip.open(part) as stream:  # a part that unpacks to more than it says raises here
                    while stream.read(1 << 20):
                        pass

    def _refuse_entities(self, part: zipfile.ZipInfo) -> None:
        """Refuse a part that declares entities of its own, which can unfold without end; no workbook needs them."""
        with self._zip.open(part) as stream:
            start = stream.read(1 << 16).replace(b"\x00", b"")
        if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
            raise Unreadable(
                "the workbook declares XML entities, which no spreadsheet program writes: it is not opened; "
                "open it in a spreadsheet program and save it as xlsx"
            )

    def notes(self) -> Iterator[str]:
        """Yield what is in the file and not used: macros and links to other workbooks."""
        if any(name.lower().endswith("vbaproject.bin") for name in self._names):
            yield "the workbook holds macros: they are not run and not read; the cells are read as they were saved"
        if any(name.startswith("xl/externalLinks/") for name in self._names):
            yield "the workbook refers to other workbooks: they are not opened; the results saved here are read"

    # ------------------------------------------------------------------------------------------------ parts of xlsx

    def _sheet_paths(self) -> dict[str, str]:
        if "xl/workbook.xml" not in self._names or "xl/_rels/workbook.xml.rels" not in self._names:
            return {}
        targets = self._targets("xl/workbook.xml")
        paths = {}
        for element in self._tree("xl/workbook.xml").iter():
            if element.tag.endswith("}sheet"):
                link = next((value for key, value in element.attrib.items() if key.endswith("}id")), "")
                path = targets.get(link, ("", ""))[0]
                if path in self._names:
                    paths[element.get("name", "")] = path
        return paths

    def _tree(self, path: str) -> ElementTree.Element:
        return ElementTree.fromstring(self._zip.read(path))

    def _targets(self, path: str) -> dict[str, tuple[str, str]]:
        """Return the paths a part is linked to and the kind of each link, by the link's name."""
        folder, name = posixpath.split(path)
        links = f"{folder}/_rels/{name}.rels"
        if links not in self._names:
            return {}
        return {
            link.get("Id", ""): (
                posixpath.normpath(posixpath.join(folder, target)).lstrip("/"),
                link.get("Type", "").rpartition("/")[2],
            )
            for link in self._tree(links)
            if (target := link.get("Target", ""))
        }

    def sheet(self, name: str) -> bytes:
        """Return a sheet's XML; empty for a format that has none."""
        path = self._paths.get(name)
        return tidied(self._zip.read(path)) if path else b""

    @cached_property
    def styles(self) -> Styles:
        """What the styles show; nothing for a format without them."""
        return _styles(self._tree("xl/styles.xml")) if "xl/styles.xml" in self._names else Styles()

    def commented(self, name: str) -> list[Place]:
        """Return the cells of a sheet of an xlsx file that have a comment."""
        places = []
        for path, kind in self._targets(self._paths[name]).values() if name in self._paths else ():
            if kind == "comments" and path in self._names:
                for element in self._tree(path).iter():
                    if element.tag.endswith("}comment") and element.get("ref"):
                        letters, row = coordinate_from_string(element.get("ref", ""))
                        places.append((row - 1, column_index_from_string(letters) - 1))
        return places


_BUILT_IN_MONTH = "17"


def _styles(tree: ElementTree.Element) -> Styles:
    formats: dict[str, str] = {_BUILT_IN_MONTH: "mmm-yy"}
    strikes: set[int] = set()
    fills: set[int] = set()
    cells: list[ElementTree.Element] = []
    for element in tree.iter():
        tag = element.tag.rpartition("}")[2]
        if tag == "numFmt":
            formats[element.get("numFmtId", "")] = element.get("formatCode", "")
        elif tag == "fonts":
            strikes = {place for place, font in enumerate(element) if any(_is_struck(part) for part in font)}
        elif tag == "fills":
            fills = {place for place, fill in enumerate(element) if any(_is_coloured(part) for part in fill)}
        elif tag == "cellXfs":
            cells = list(element)
    shown = [_shown(formats.get(cell.get("numFmtId", ""), "")) for cell in cells]
    return Styles(
        {
            style: formats[number]
            for style, cell in enumerate(cells)
            if (number := cell.get("numFmtId", "")) in formats and re.search(r"[\"\\]", formats[number])
        },
        frozenset(
            style for style, text in enumerate(shown) if "m" in text and "y" in text and not set(text) & set("dhs")
        ),
        frozenset(style for style, text in enumerate(shown) if "y" in text and not set(text) & set("mdhs")),
        frozenset(style for style, cell in enumerate(cells) if _number(cell.get("fillId")) in fills),
        frozenset(style for style, cell in enumerate(cells) if _number(cell.get("fontId")) in strikes),
    )


def _shown(code: str) -> str:
    """Return the letters of a number format that stand for parts of a date."""
    return re.sub(r"\"[^\"]*\"|\\.|\[[^\]]*\]|_.|\*.", "", code).lower().replace("general", "")


def _number(text: str | None) -> int:
    return int(text) if text and text.isdigit() else 0


def _is_struck(part: ElementTree.Element) -> bool:
    return part.tag.endswith("}strike") and part.get("val", "1") not in ("0", "false")


def _is_coloured(part: ElementTree.Element) -> bool:
    return part.tag.endswith("}patternFill") and part.get("patternType", "none") not in ("none", "gray125")


# ------------------------------------------------------------------------------------------------- the one part of ods


class OdsContent:
    """What the content of an ods file says beyond its values, by sheet name."""

    def __init__(self) -> None:
        self.merged: dict[str, list[tuple[int, int, int, int]]] = {}
        self.faults: dict[str, list[tuple[int, int, Fault]]] = {}
        self.commented: dict[str, list[Place]] = {}
        self.hidden_rows: dict[str, list[int]] = {}
        self.hidden_columns: dict[str, list[int]] = {}

    def read(self, content_xml: IO[bytes]) -> None:
        """Read the content part. Raises Unreadable where a sheet reaches beyond all measure."""
        name, row, column, at = "", 0, 0, 0
        width = filled = 0
        for event, element in ElementTree.iterparse(content_xml, events=("start", "end")):
            tag = element.tag.rpartition("}")[2]
            if event == "start":
                if tag == "table":
                    name, row, at, width, filled = _attribute(element, "name"), 0, 0, 0, 0
                elif tag == "table-row":
                    column = 0
            elif tag == "table-column":
                count = _repeats(element, "columns")
                if _attribute(element, "visibility") in ("collapse", "filter"):
                    self.hidden_columns.setdefault(name, []).extend(range(at, at + min(count, 16_384)))
                at += count
            elif tag == "table-row":
                count = _repeats(element, "rows")
                if _attribute(element, "visibility") in ("collapse", "filter"):
                    self.hidden_rows.setdefault(name, []).extend(range(row, row + min(count, 10_000)))
                row += count
                held = sum(_repeats(cell, "columns") for cell in element if _holds_something(cell))
                filled += held * count
                if held and is_strewn(row, width, filled):
                    raise Unreadable(
                        f"sheet '{name}' reaches to row {row} and column {width}, far beyond any table: "
                        "delete the stray cells, save it again"
                    )
                element.clear()
            elif tag in ("table-cell", "covered-table-cell"):
                self._read_cell(element, name, row, column)
                column += _repeats(element, "columns")
                if _holds_something(element):
                    width = max(width, column)

    def _read_cell(self, element: ElementTree.Element, name: str, row: int, column: int) -> None:
        blanks = sum(int(_attribute(part, "c") or 1) for part in element.iter() if part.tag.endswith("}s"))
        if blanks > MOST_BLANKS:
            raise Unreadable(f"a cell of sheet '{name}' holds {blanks} blanks: delete it, save the workbook again")
        down, across = (int(_attribute(element, f"number-{way}-spanned") or 1) for way in ("rows", "columns"))
        if down > 1 or across > 1:
            self.merged.setdefault(name, []).append((row, column, row + down - 1, column + across - 1))
        if any(child.tag.endswith("}annotation") for child in element):
            self.commented.setdefault(name, []).append((row, column))
        formula = _attribute(element, "formula")
        types = [value for key, value in element.attrib.items() if key.endswith("}value-type")]
        if "error" in types:
            fault = Fault("".join(element.itertext()).strip() or "error", True)
        elif formula and not types and not any(child.tag.endswith("}p") for child in element):
            fault = Fault("=" + formula.partition("=")[2], False)
        else:
            return
        self.faults.setdefault(name, []).append((row, column, fault))


def _attribute(element: ElementTree.Element, name: str) -> str:
    return next((value for key, value in element.attrib.items() if key.endswith("}" + name)), "")


def _holds_something(cell: ElementTree.Element) -> bool:
    return bool(len(cell) or _attribute(cell, "value-type"))


def _repeats(element: ElementTree.Element, what: str) -> int:
    return max(int(_attribute(element, f"number-{what}-repeated") or 1), 1)
