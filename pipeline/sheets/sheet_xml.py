"""What the XML of an xlsx sheet says beyond its values: faults, hidden rows and columns, styles, how far it reaches."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from html import unescape
from xml.etree import ElementTree

from openpyxl.utils import column_index_from_string

from pipeline.sheets.values import Fault

Place = tuple[int, int]

_CELL = re.compile(rb"<(?:\w+:)?c\s")
_OPENING = re.compile(rb"<(?:\w+:)?c\s[^<>]*>")
_GIVEAWAY = re.compile(rb't="e"|<(?:\w+:)?f[\s/>]')
_ADDRESS = re.compile(rb'\br="([A-Za-z]+)(\d+)"')
_STORED = re.compile(rb"<(?:\w+:)?v(?:\s[^<>]*)?>([^<]+)</")
_FORMULA = re.compile(rb"<(?:\w+:)?f(?:\s[^<>]*)?>([^<]*)</")
_STYLED = re.compile(
    rb'<(?:\w+:)?c\s(?=[^<>]*?\br="(?P<column>[A-Z]+)(?P<row>\d+)")(?=[^<>]*?\bs="(?P<style>\d+)")[^<>]*>'
)
_HIDDEN_ROW = re.compile(rb'<(?:\w+:)?row\s(?=[^<>]*?\bhidden="(?:1|true)")[^<>]*?\br="(\d+)"')
_COLUMN = re.compile(rb'<(?:\w+:)?col\s(?=[^<>]*?\bhidden="(?:1|true)")([^<>]*)>')
_FAR_COLUMN = re.compile(rb'r="([A-Za-z]{2,})(?=\d)')
_PLACED = re.compile(rb'\br="([A-Za-z]+)(\d+)"')
_DEEP = re.compile(rb'r="[A-Za-z]*(?:[4-9]\d{5}|\d{7})')
_BEYOND = re.compile(rb'r="[A-Za-z]*(?:\d{8}|[2-9]\d{6}|1[1-9]\d{5}|10[5-9]\d{4})')

#: How far a sheet may reach; and how far with fewer than one cell in twenty filled.
MOST_CELLS, MOST_EMPTY_CELLS, SPARSE = 100_000_000, 10_000_000, 20
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384


def tidied(xml: bytes) -> bytes:
    """Return a sheet's XML in the form the searches here expect: UTF-8, attributes in double quotation marks."""
    odd = xml.startswith((b"\xff\xfe", b"\xfe\xff")) or (b"='" in xml and re.search(rb"<(?:\w+:)?c\s[^<>]*='", xml))
    return ElementTree.tostring(ElementTree.fromstring(xml), encoding="utf-8") if odd else xml


def is_strewn(depth: int, width: int, filled: int) -> bool:
    """Tell whether a sheet that reaches so far is too large to read, or nearly all of it empty."""
    area = depth * width
    return area > MOST_CELLS or (area > MOST_EMPTY_CELLS and area > SPARSE * filled)


def strewn_to(xml: bytes) -> tuple[int, int] | None:
    """Return the row and column a sheet reaches to where that is too far to read it, else None.

    Calamine keeps the whole area in memory, so that one stray cell can cost more than all the others. Only what the
    answer needs is searched for, as most sheets are far from it.
    """
    if _BEYOND.search(xml):
        return LAST_ROW + 1, 1
    is_far = _FAR_COLUMN.search(xml) is not None
    if not is_far and _DEEP.search(xml) is None:
        return None
    filled = xml.count(b' r="')
    far = {letters.decode().upper()[:3] for letters in set(_FAR_COLUMN.findall(xml))} if is_far else {"Z"}
    if not is_strewn(LAST_ROW, max(map(column_index_from_string, far)), filled):
        return None
    places = _PLACED.findall(xml)
    depth = max((int(row) for _, row in places), default=0)
    width = max((column_index_from_string(at.decode().upper()[:3]) for at in {at for at, _ in places}), default=0)
    return (depth, width) if is_strewn(depth, width, filled) else None


def faults(xml: bytes) -> Iterator[tuple[int, int, Fault]]:
    """Yield the cells with an error value or with a formula that has no stored result."""
    if b't="e"' not in xml and b"<f" not in xml and b":f" not in xml:
        return
    first = _CELL.search(xml)
    if first is None:
        return
    start_of_cell, done = first[0][:-1], first.start()
    for mark in _GIVEAWAY.finditer(xml, done):
        if mark.start() < done:
            continue
        # Each stretch is looked at once, forwards or backwards, so that broken XML costs no more than whole XML.
        start = xml.rfind(start_of_cell, done, mark.start())
        if start < 0:
            done = mark.start()
            continue
        end = xml.find(start_of_cell, mark.end())
        done = len(xml) if end < 0 else end
        opening = _OPENING.match(xml, start, done)
        if opening is None:
            continue
        inner = b"" if opening[0].endswith(b"/>") else xml[opening.end() : done]
        found = _fault(opening[0], inner)
        if found is not None:
            yield found


def _fault(opening: bytes, inner: bytes) -> tuple[int, int, Fault] | None:
    place = _ADDRESS.search(opening)
    if place is None:
        return None
    row, column = int(place[2]) - 1, column_index_from_string(place[1].decode()) - 1
    inner = inner.partition(b"</c>")[0]
    stored = _STORED.search(inner)
    if b't="e"' in opening:
        return row, column, Fault(_text(stored[1]) if stored else "#N/A", True)
    if stored is None and b't="str"' not in opening and _GIVEAWAY.search(inner):
        formula = _FORMULA.search(inner)
        return row, column, Fault("=" + _text(formula[1] if formula else b""), False)
    return None


def _text(raw: bytes) -> str:
    return unescape(raw.decode("utf-8", "replace"))


def hidden_rows(xml: bytes) -> list[int]:
    """Return the hidden rows, counted from 0."""
    return [int(row) - 1 for row in _HIDDEN_ROW.findall(xml)] if b"hidden=" in xml else []


def hidden_columns(xml: bytes) -> list[int]:
    """Return the hidden columns, counted from 0."""
    columns: list[int] = []
    for attributes in _COLUMN.findall(xml[: xml.find(b"<sheetData")]) if b"hidden=" in xml else ():
        ends = [re.search(rb"\b%s=\"(\d{1,5})\"" % name, attributes) for name in (b"min", b"max")]
        if all(ends):
            first, last = (int(end[1]) for end in ends if end)
            columns += range(first - 1, min(last, 16_384))
    return columns


def cells_with_style(xml: bytes, styles: Iterable[int]) -> list[tuple[Place, int]]:
    """Return the cells that have one of these styles, each with its style."""
    wanted = {str(style).encode(): style for style in styles}
    if not wanted:
        return []
    return [
        ((int(cell["row"]) - 1, column_index_from_string(cell["column"].decode()) - 1), wanted[cell["style"]])
        for cell in _STYLED.finditer(xml)
        if cell["style"] in wanted
    ]
