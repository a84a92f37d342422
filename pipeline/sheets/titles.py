"""Texts that stand alone around the rows: notes, titles of pages, and titles that may name another vessel.

A label (`Vessel: D-201`) counts for the rows below it until something says otherwise. A title without a colon between
it and a row may: it gives the tag where it plainly names one (`Vessel D-202`), and otherwise leaves it open.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from operator import or_

from pipeline.sheets.headings import KINDS, Headings, normal
from pipeline.sheets.layout import Label, Table
from pipeline.sheets.surroundings import labels_in, units_stated
from pipeline.sheets.values import Refused, as_text, is_blank, read_number
from pipeline.sheets.words import vocabulary
from pipeline.sheets.workbooks import Grid, address

_NOTE_WORD = re.compile(r"^(?:notes?|remarks?|legend|key|prepared|checked|reviewed|approved|signed|source|see)\b", re.I)
_NOTE_MARK = re.compile(r"^\*|^\d+[.)]\s")


def begins_with_note_word(text: str) -> bool:
    """Tell a text whose first word says that it is a note."""
    return _NOTE_WORD.match(text.strip()) is not None


def begins_like_note(text: str) -> bool:
    """Tell a text that begins as notes do: with such a word, an asterisk or a number in a list."""
    return begins_with_note_word(text) or _NOTE_MARK.match(text.strip()) is not None


def is_wordy(text: str) -> bool:
    """Tell a sentence from a name."""
    return len(text) > 40 or len(text.split()) > 4 or ": " in text


# ------------------------------------------------------------------------------------------------------- one title

_PAGE = re.compile(
    r"\(?\b(?:page|pg|p\.|sheet)\.?\s*\d+(?:\s*(?:of|/)\s*\d+)?\)?|"
    r"\(?\bcont(?:inued|inuation|'d|d|\.)?(?![\w'])\.?\)?|\b\d+\s+of\s+\d+\b|^\W*\d+\s*/\s*\d+\W*$",
    re.I,
)
#: Numbers of papers, which name no vessel; with a letter in them they might.
_PAPER = re.compile(
    r"\b(?:job|report|(?:work )?order|w\.?o\.?|p\.?o\.?|rev(?:ision)?|project|contract|doc(?:ument)?|procedure)\b"
    r"\s*(?:no|number)?[\s.:#]*\d[\d./-]*(?![\w-])",
    re.I,
)
_TAG = r"(?=[\w./-]*\d)(?=[\w./-]*[^\W\d_])\w[\w./-]*"
_MONTH = r"(?:jan|feb|mar|apr|may|june?|july?|aug|sept?|oct|nov|dec)[a-z]*"
_WHEN = re.compile(
    rf"\b(?:\d{{1,2}}[-/. ])?(?:\d{{1,2}}[-/.]|{_MONTH}[-/. ,]*)?(?:19|20)\d\d(?:[-/.]\d{{1,2}}){{0,2}}\b", re.I
)
_LIKE_TAG = re.compile(r"\b[^\W\d_]{1,5}[-/]?\d{1,6}[^\W\d_]?\b")


@dataclass(frozen=True)
class _Title:
    """What a title says: the tag it names, or the labels it leaves open for the rows below it."""

    tag: str = ""
    open: frozenset[str] = frozenset()


_OF_VESSEL = frozenset({"asset", "component", "location", "date"})
_OF_PART = frozenset({"component", "location"})


def _judge(text: str, tag: str, seen: set[str]) -> _Title:
    """Return what a title between the label of `tag` (empty: none) and the rows below says."""
    bare = _bare(text)
    if not bare or bare.casefold() in seen or begins_like_note(text):
        return _Title()
    named = _named(bare)
    if named or (tag and bare.casefold() == tag.casefold()):
        return _Title(tag if (named or tag).casefold() == tag.casefold() else named)
    rest = re.sub(rf"(?<![\w-]){re.escape(tag)}(?![\w-])", " ", bare, flags=re.I) if tag else bare
    rest = _PAPER.sub(" ", _WHEN.sub(" ", rest))
    before, colon, _ = rest.partition(":")
    if _is_general(before if colon else rest):
        return _Title()
    if _names_part(rest, tag):
        return _Title(open=_OF_PART)
    if is_wordy(rest) and not (_LIKE_TAG.search(rest) or set(normal(rest).split()) & set(vocabulary("equipment"))):
        return _Title()
    return _Title(open=_OF_VESSEL)


def _bare(text: str) -> str:
    """Return a title without what says that it goes on, or on which page."""
    return " ".join(_PAGE.sub(" ", text).split()).strip(" -–,;:.()[]")


def _named(text: str) -> str:
    """Return the tag a title names with a word such as vessel before it and nothing behind, or an empty string."""
    found = re.fullmatch(rf"(?P<words>[^\d:#]*?)[\s:#.]+(?P<tag>{_TAG})", text)
    if found is None:
        return ""
    words = normal(found["words"]).split()
    while words and words[-1] in ("no", "number", "id", "tag") and len(words) > 1:
        words.pop()
    if not words or words[-1] not in vocabulary("equipment") or not _is_general(" ".join(words[:-1])):
        return ""
    return found["tag"].rstrip("./-")


def _is_general(text: str) -> bool:
    """Tell a title that is made of words for tables and surveys only, and names nothing."""
    known = {*vocabulary("title"), *(word for kind in KINDS for word in normal(kind).split())}
    return all(word in known for word in normal(text).split())


def _names_part(text: str, tag: str) -> bool:
    """Tell a title that names a part of a vessel (`Bottom head`, `Nozzle N1`), unless it looks like the tag."""
    like_tag, parts = _pattern_of(tag), _words_of_parts()
    words = [word.strip(".,;:()").casefold() for word in text.split()]
    known = [word in parts or _is_general(word) for word in words]
    short = [len(word) <= 3 and word.isalnum() and not (like_tag and like_tag.fullmatch(word)) for word in words]
    return any(word in parts for word in words) and all(map(or_, known, short))


@cache
def _words_of_parts() -> frozenset[str]:
    """Return the words of which the names of parts are made, none of them a vessel by itself."""
    words = {word for spelling in vocabulary("component") for word in normal(spelling).split()} | set(
        vocabulary("part")
    )
    words -= set(vocabulary("equipment"))
    return frozenset({*words, *(f"{word}s" for word in words)})


# ------------------------------------------------------------------------------------------------- titles of tables


def read_titles(tables: list[Table], headings: Headings) -> None:
    """Let titles count against the labels above them: those over a table, between its pages and between its rows."""
    if not tables:
        return
    first = tables[0]
    seen = {_bare(text).casefold() for _, _, text in _texts(first, first.top, first.header_row, headings)}
    for table in tables:
        if table.lacking:
            inherited = {} if table is first else dict(first.labels)
            _read_above(table, headings, seen, inherited)
            _read_between(table, headings, seen)


def _read_above(table: Table, headings: Headings, seen: set[str], inherited: dict[str, Label]) -> None:
    """Let the titles above a table count: for a name it has no label of its own for."""
    known = table.labels.get("asset")
    tag = "" if known is None else as_text(known.value).strip()
    titles = [
        (row, column, text, _judge(text, tag, seen if inherited else set()))
        for row, column, text in [*_touching(table), *_texts(table, table.top, table.header_row, headings)]
    ]
    named = [(row, column, title.tag) for row, column, _, title in titles if title.tag]
    own = known is not None and known is not inherited.get("asset")
    if named and not own and "asset" in table.lacking:
        row, column, tag = named[-1]
        table.labels["asset"] = Label(tag, row, column, column)
        if len({tag for _, _, tag in named}) > 1:
            table.labels["asset"] = _doubtful(table.labels["asset"], "asset", row, column, tag)
        return
    for row, column, text, title in titles if inherited else ():
        if title.open:
            for name, label in list(table.labels.items()):
                if name in title.open & table.lacking and label is inherited.get(name):
                    table.labels[name] = _doubtful(label, name, row, column, text)


def _read_between(table: Table, headings: Headings, seen: set[str]) -> None:
    """Let the titles between the rows of a table count for the rows below them."""
    for row, column, text in sorted({*_over_pages(table), *_among_rows(table)}):
        known = table.label("asset", row)
        tag = "" if known is None else as_text(known.value).strip()
        title = _judge(text, tag, seen)
        if title.tag and "asset" in table.lacking:
            if known is None or known.problem or title.tag != tag:
                table.sections.append((row, "asset", Label(title.tag, row, column, column)))
            for name in table.lacking - {"asset"}:
                label = table.label(name, row)
                if label is not None and label.problem:  # it held before the title that left the vessel open
                    table.sections.append((row, name, replace(label, problem="")))
        elif title.open:
            for name in title.open & table.lacking:
                label = table.label(name, row)
                if label is not None:
                    table.sections.append((row, name, _doubtful(label, name, row, column, text)))
        else:
            seen.add(_bare(text).casefold())
        table.sections.sort(key=lambda section: section[0])


def _doubtful(label: Label, name: str, row: int, column: int, text: str) -> Label:
    said = as_text(label.value).strip()
    word = {"asset": "vessel"}.get(name, name)
    problem = (
        f"'{text}' in {address(row, column)} may name another {word} than '{said}': write "
        f"'{word.capitalize()}: {'TAG' if name == 'asset' else 'NAME'}' there, or '{word.capitalize()}: {said}' if it "
        "is the same"
    )
    return replace(label, problem=problem)


def _texts(table: Table, top: int, bottom: int, headings: Headings) -> Iterator[tuple[int, int, str]]:
    """Yield the rows of nothing but words above a table that are neither labels nor units."""
    for row in range(top, bottom):
        if row == table.upper_row or any(True for _ in labels_in(table.grid, row, headings, table.left, table.right)):
            continue
        found = _words_of(table.grid, row, table.left, table.right)
        if found is not None and not any(
            True for value in table.grid.rows[row][table.left : table.right] for _ in units_stated(value, headings)
        ):
            yield row, *found


def _words_of(grid: Grid, row: int, left: int, right: int) -> tuple[int, str] | None:
    """Return the first column of a row and its words, or None where it is empty or holds a number."""
    cells = [(column, value) for column, value in enumerate(grid.rows[row][left:right], left) if not is_blank(value)]
    if not cells or not all(isinstance(value, str) for _, value in cells):
        return None
    if not all(isinstance(read_number(value), Refused) for _, value in cells):
        return None
    return cells[0][0], " ".join(" - ".join(as_text(value).strip() for _, value in cells).split())


def _over_pages(table: Table) -> Iterator[tuple[int, int, str]]:
    """Yield the titles over the repeated headers of a table."""
    for row in table.page_titles | table.texts_above:
        found = _words_of(table.grid, row, table.left, table.right)
        parted = is_empty_row(table.grid, row - 1, table.left, table.right)
        if found is not None and (parted or row in table.page_titles or _is_no_place(table, row, found[0])):
            yield row, *found


def _touching(table: Table) -> Iterator[tuple[int, int, str]]:
    """Yield the title that stands right above a header and right below the rows of the table before."""
    above = table.top - 1
    found = None if above < 0 else _words_of(table.grid, above, table.left, table.right)
    if found is not None and _is_no_place(table, above, found[0]):
        yield above, *found


def _is_no_place(table: Table, row: int, column: int) -> bool:
    """Tell a title from a place without a reading: it stands alone, and nothing in its column is like it."""
    if not _is_alone(table, row):
        return False
    text = as_text(table.grid.rows[row][column])
    others = (_shape(other) for other in table.grid.texts[column] if other != text)
    return not text.strip().isdigit() and _shape(text) not in others


def _shape(text: str) -> str:
    return " ".join(re.sub(r"[^\W\d_]+", "A", re.sub(r"\d+", "9", text)).split())


def is_empty_row(grid: Grid, row: int, left: int, right: int) -> bool:
    """Tell a row that holds nothing in these columns."""
    return all(is_blank(value) for value in grid.rows[row][left:right])


def _among_rows(table: Table) -> Iterator[tuple[int, int, str]]:
    """Yield the texts alone in a row between those of data that name a vessel, or look like the tag of the label."""
    if "asset" not in table.lacking:
        return
    label = table.labels.get("asset")
    like_label = None if label is None else _pattern_of(as_text(label.value).strip())
    taken = {row for row, _, _ in table.sections} | table.repeated | table.page_titles
    for column in range(table.left, table.right):
        texts = table.grid.texts[column]
        named = {text for text in texts if _speaks_of_equipment()(text) and len(text) <= 60 and _named(_bare(text))}
        alike = {text for text in texts if like_label is not None and like_label.fullmatch(text)}
        if not named and not alike:
            continue
        wanted = named | alike
        rows = [
            row
            for row, value in enumerate(table.grid.columns[column][table.first : table.bottom], table.first)
            if value in wanted and row not in taken
        ]
        # A column of places that look like the tag holds places, some of them without a reading.
        in_data = any(table.grid.rows[row][column] in alike and not _is_alone(table, row) for row in rows)
        for row in rows:
            text = as_text(table.grid.rows[row][column])
            if (text in named or not in_data) and _is_alone(table, row):
                yield row, column, " ".join(text.split())


def _is_alone(table: Table, row: int) -> bool:
    return sum(not is_blank(value) for value in table.grid.rows[row][table.left : table.right]) == 1


def _pattern_of(tag: str) -> re.Pattern[str] | None:
    """Return what a text matches that is put together as a tag is: `D-201` and `E-7`, not `3` or `3 N`."""
    if _LIKE_TAG.fullmatch(tag) is None:
        return None
    parts = re.findall(r"\d+|[^\W\d_]+|.", tag)
    kinds = (r"\d+" if part.isdigit() else r"[^\W\d_]+" if part.isalpha() else re.escape(part) for part in parts)
    return re.compile(rf"\s*{''.join(kinds)}\s*")


@cache
def _speaks_of_equipment() -> Callable[[str], re.Match[str] | None]:
    """Return the search for a word of equipment; most texts of a survey have none."""
    return re.compile(rf"\b(?:{'|'.join(vocabulary('equipment'))})\b", re.I).search
