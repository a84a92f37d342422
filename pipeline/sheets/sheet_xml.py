"""What the XML of an xlsx sheet says beyond its values: faults, hidden rows and columns, styles, how far it reaches."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from html import unescape
from xml.etree import ElementTree

from openpyxl.utils import column_index_from_string

from pipeline.sheets.values import Fault

Place = tuple[int, int]

#: A cell with a formula or an error is looked for in as many bytes before and after the mark that gives it away.
_BEFORE, _AFTER = 4_000, 100_000

_OPENING = re.compile(rb"<(?:\w+:)?c\s[^<>]*>")
_CLOSING = re.compile(rb"</(?:\w+:)?c>|<(?:\w+:)?c[\s>]")
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
_FAR_ROW = re.compile(rb'r="[A-Za-z]*(\d{5,})"')
_BEYOND = re.compile(rb'r="[A-Za-z]*\d{8}')


def tidied(xml: bytes) -> bytes:
    """Return a sheet's XML in the form the searches here expect: UTF-8, attributes in double quotation marks."""
    odd = xml.startswith((b"\xff\xfe", b"\xfe\xff")) or (b"='" in xml and re.search(rb"<(?:\w+:)?c\s[^<>]*='", xml))
    return ElementTree.tostring(ElementTree.fromstring(xml), encoding="utf-8") if odd else xml


def reach(xml: bytes, width_that_is_fine: int = 26) -> tuple[int, int]:
    """Return how many rows and columns a sheet reaches to, at least; (0, 0) where it is no wider than Z."""
    if _BEYOND.search(xml):
        return 100_000_000, width_that_is_fine
    if not _FAR_COLUMN.search(xml):
        return 0, 0
    width = max(column_index_from_string(letters.decode().upper()[:3]) for letters in set(_FAR_COLUMN.findall(xml)))
    return max(map(int, set(_FAR_ROW.findall(xml))), default=9_999), width


def faults(xml: bytes) -> Iterator[tuple[int, int, Fault]]:
    """Yield the cells with an error value or with a formula that has no stored result."""
    if b't="e"' not in xml and b"<f" not in xml and b":f" not in xml:
        return
    done = 0
    for mark in _GIVEAWAY.finditer(xml):
        if mark.start() < done:
            continue
        before = max(mark.start() - _BEFORE, 0)
        openings = list(_OPENING.finditer(xml, before, min(mark.end() + _BEFORE, len(xml))))
        opening = next((found for found in reversed(openings) if found.start() <= mark.start()), None)
        if opening is None:
            continue
        closing = _CLOSING.search(xml, opening.end(), opening.end() + _AFTER)
        done = closing.start() if closing else opening.end()
        found = _fault(opening[0], b"" if opening[0].endswith(b"/>") else xml[opening.end() : done])
        if found is not None:
            yield found


def _fault(opening: bytes, inner: bytes) -> tuple[int, int, Fault] | None:
    place = _ADDRESS.search(opening)
    if place is None:
        return None
    row, column = int(place[2]) - 1, column_index_from_string(place[1].decode()) - 1
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
