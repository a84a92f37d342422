"""Text files as tables: any usual delimiter, encoding and decimal sign; every field is kept as text."""

from __future__ import annotations

import codecs
import csv
import io
import re

from pipeline.sheets.package import Unreadable
from pipeline.sheets.sheet_xml import is_strewn
from pipeline.sheets.values import Value

#: A field that is a number with a decimal comma beyond doubt: `1,200` may be a thousand and two hundred.
_DECIMAL_COMMA = re.compile(
    r"(?:^|[;\t|])\"?\s*-?(?:0,\d+|\d+,(?:\d{1,2}|\d{4,}))\s*[a-z*†\"]*\s*(?=$|[;\t|])", re.M | re.I
)


def read_text(name: str, content: bytes) -> tuple[list[list[Value]], bool]:
    """Return the fields of a text file as rows of equal length, and whether its numbers have decimal commas.

    Raises Unreadable with what is wrong and what to do.
    """
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
    if is_strewn(len(rows), width, sum(map(len, rows))):
        longest = max(range(len(rows)), key=lambda row: len(rows[row])) + 1
        raise Unreadable(
            f"row {longest} of the file has {width} fields, far more than the others: it is damaged, or lines are not "
            "parted; correct it or fetch the file again"
        )
    for line in rows:
        line.extend([""] * (width - len(line)))
    commas = delimiter != "," and _DECIMAL_COMMA.search(text) is not None
    return rows, commas


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
