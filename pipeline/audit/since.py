"""What changed since the last export: a statement of every value compared is kept beside the results.

The statement is a convenience, not evidence: what was known at a moment is in the plant's record, from which
`hoopline compare` makes any two statuses anew and names the cause of each change.
"""

from __future__ import annotations

import gzip
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipeline.audit.book import Book
from pipeline.audit.cells import Styled
from pipeline.audit.results import Results, Row
from pipeline.audit.tables import Column, write_table
from pipeline.comparison_values import Value, values
from pipeline.errors import Problem

VERSION = 1
Key = tuple[str, str, str]


@dataclass(frozen=True)
class Statement:
    """What an export showed: when it was made, for which day, from what, and every value that is compared."""

    made_at: str
    as_of: str
    program: str
    basis_sha256: str
    policies: dict[str, str]
    files: dict[str, str]
    values: dict[Key, Value]

    @property
    def words(self) -> str:
        """Which export it was."""
        return f"the export of {self.made_at[:16].replace('T', ' ')} UTC, as of {self.as_of}, {self.program}"


def statement_path(database: Path) -> Path:
    """Return where the statement of a plant's last export stands: beside its results."""
    return database.with_name(f"{database.stem}.exported.json.gz")


def statement_of(results: Results) -> Statement:
    """Return what the results say now, of the whole fleet."""
    found = {key: Value(_plain(value.raw), value.words) for key, value in _values(results)}
    return Statement(
        datetime.now(UTC).isoformat(timespec="seconds"),
        results.as_of.isoformat(),
        f"hoopline {results.program}",
        results.basis_sha256,
        {policy["key"]: _said(policy) for policy in results.policies},
        {row["file"]: row["sha256"] for row in results.rows("SELECT file, sha256 FROM result.source")},
        found,
    )


def _values(results: Results) -> Iterator[tuple[Key, Value]]:
    yield from values(results.connection, results.system).items()


def _plain(raw: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(value.isoformat() if isinstance(value, date) else value for value in raw)


def _said(policy: Row) -> str:
    value = policy["word"] if policy["number"] is None else policy["number"]
    unit = "" if policy["unit"] == "-" or policy["number"] is None else f" {policy['unit']}"
    return "not stated" if value is None else f"{value}{unit}"


def keep(path: Path, statement: Statement) -> None:
    """Write a statement in place of the one before, whole or not at all; raises Problem where that cannot be."""
    told = {
        "version": VERSION,
        **{name: value for name, value in vars(statement).items() if name != "values"},
        "values": [[*key, value.words, *value.raw] for key, value in statement.values.items()],
    }
    making = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with gzip.open(making, "wt", encoding="utf-8", compresslevel=3) as file:
            json.dump(told, file, ensure_ascii=False, separators=(",", ":"))
        os.replace(making, path)
    except OSError as fault:
        making.unlink(missing_ok=True)
        raise Problem(
            f"{path}: this export cannot be remembered for the next one ({fault.strerror or fault}); "
            "check the folder's permissions"
        ) from None


def last_statement(path: Path) -> Statement | None:
    """Return the statement of the last export; None where there is none; raises Problem where it cannot be read."""
    if not path.exists():
        return None
    try:
        with gzip.open(path, "rt", encoding="utf-8") as file:
            told = json.load(file)
        if told.pop("version") != VERSION:
            raise ValueError
        told["values"] = {tuple(row[:3]): Value(tuple(row[4:]), row[3]) for row in told["values"]}
        return Statement(**told)
    except (OSError, EOFError, ValueError, KeyError, TypeError, IndexError):
        raise Problem(
            f"{path}: what the last export showed cannot be read; delete it, and this export is taken as the first"
        ) from None


_COLUMNS = (
    Column("asset", "asset", 14),
    Column("component", "component", 18),
    Column("what", "what", 30),
    Column("before", "before", 50, wrapped=True),
    Column("after", "now", 50, wrapped=True),
)


def write_changes(book: Book, results: Results, before: Statement | None, now: Statement | None, why_not: str) -> None:
    """Write which results, policies and files differ from those of the last export; `why_not` says why none are."""
    rows = _changes(results, before, now) if before and now else iter(())
    write_table(
        book,
        results,
        "Changes",
        "Changes since the last export",
        _COLUMNS,
        rows,
        note=f"Since {before.words}." if before and now else why_not,
        pinned=2,
        none="nothing changed" if before and now else "not compared",
    )


def _changes(results: Results, before: Statement, now: Statement) -> Iterator[Row]:
    fleet = (
        ("as-of date", {"": before.as_of}, {"": now.as_of}),
        ("program", {"": before.program}, {"": now.program}),
        ("policy", before.policies, now.policies),
        ("source file (sha256)", before.files, now.files),
    )
    for what, old, new in fleet:
        for name in sorted(old.keys() | new.keys()):
            if old.get(name) != new.get(name):
                words = f"{what} {name}".strip()
                yield _row("all", "", words, old.get(name, "not there"), new.get(name, "not there"))
    for key in sorted(before.values.keys() | now.values.keys()):
        if results.assets and key[0] not in results.assets:
            continue
        was, is_now = before.values.get(key), now.values.get(key)
        if was is None or is_now is None or not was.same(is_now):
            yield _row(*key, was.words if was else "not there", is_now.words if is_now else "not there")


def _row(asset: str, component: str, what: str, before: str, after: str) -> Row:
    gone = Styled("not there", "reason")
    return {
        "asset": asset,
        "component": component or None,
        "what": what,
        "before": gone if before == "not there" else before,
        "after": gone if after == "not there" else after,
    }
