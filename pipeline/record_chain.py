"""The tables of the record, the chain of hashes over their rows, and what it says of a file that was altered.

Each row is followed by a link that holds the hash of the row and of everything written before it: a row that is
changed, taken out or put in from outside no longer fits its link, and no later link fits either.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

TABLES = ("content", "source", "entry", "build")

_SCHEMA = """
CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS content (
    sha256 TEXT PRIMARY KEY, size INTEGER NOT NULL, packed BLOB NOT NULL
);
CREATE TABLE IF NOT EXISTS source (
    seq INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, file TEXT NOT NULL,
    sha256 TEXT REFERENCES content(sha256)
);
CREATE TABLE IF NOT EXISTS entry (
    seq INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, who TEXT NOT NULL, kind TEXT NOT NULL,
    reason TEXT NOT NULL, body TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS build (
    seq INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, as_of TEXT NOT NULL, program TEXT NOT NULL,
    basis_sha256 TEXT NOT NULL, basis_text TEXT NOT NULL, sources TEXT NOT NULL, last_entry INTEGER NOT NULL
);
CREATE TABLE IF NOT EXISTS link (
    seq INTEGER PRIMARY KEY AUTOINCREMENT, of TEXT NOT NULL, row INTEGER NOT NULL, sha256 TEXT NOT NULL,
    UNIQUE (of, row)
);
"""

_APPEND_ONLY = "".join(
    f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb} BEFORE {verb} ON {table} "
    f"BEGIN SELECT RAISE(ABORT, 'the record is append only'); END;"
    for table in (*TABLES, "link")
    for verb in ("update", "delete")
)

#: Every statement that makes an empty record.
STATEMENTS = tuple(
    statement.replace("\x00", ";")
    for statement in (_SCHEMA + _APPEND_ONLY).replace("; END;", "\x00 END;").split(";")
    if statement.strip()
)


@dataclass(frozen=True)
class Fault:
    """One place where the record is not what was written: the table, the row's number, and what is wrong in words."""

    table: str
    row: int
    words: str


_FIRST = "0" * 64


def link_new(connection: sqlite3.Connection, table: str) -> None:
    """Append a link for every row of a table that has none yet."""
    rows = connection.execute(
        f"SELECT rowid, * FROM {table} WHERE rowid > coalesce((SELECT max(row) FROM link WHERE of = ?), 0) "
        "ORDER BY rowid",
        [table],
    ).fetchall()
    last = connection.execute("SELECT sha256 FROM link ORDER BY seq DESC LIMIT 1").fetchone()
    before = last[0] if last else _FIRST
    for row, *values in rows:
        before = _hash(before, table, row, values)
        connection.execute("INSERT INTO link (of, row, sha256) VALUES (?, ?, ?)", [table, row, before])


def _hash(before: str, table: str, row: int, values: Sequence[Any]) -> str:
    """Return the hash of one row and of all that was written before it."""
    said = [hashlib.sha256(value).hexdigest() if isinstance(value, bytes) else value for value in values]
    text = json.dumps([before, table, row, said], ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _row_faults(connection: sqlite3.Connection) -> list[Fault]:
    faults = []
    before = _FIRST
    linked: dict[str, set[int]] = {table: set() for table in TABLES}
    expected = 1
    for seq, table, row, stated in connection.execute("SELECT seq, of, row, sha256 FROM link ORDER BY seq"):
        if seq != expected:
            faults.append(Fault("link", seq, f"a link of the chain is missing before number {seq}"))
        expected = seq + 1
        if table not in linked:
            faults.append(Fault("link", seq, f"a link names a table that is not of the record: {table}"))
            before = stated
            continue
        linked[table].add(row)
        found = connection.execute(f"SELECT * FROM {table} WHERE rowid = ?", [row]).fetchone()
        if found is None:
            faults.append(Fault(table, row, f"{_NAMES[table]} {row} was taken out"))
        elif _hash(before, table, row, found) != stated:
            faults.append(Fault(table, row, f"{_NAMES[table]} {row}{_about(table, found)} was altered"))
        elif table == "content":
            faults += _content_faults(row, found)
        before = stated
    for table in TABLES:
        for (row,) in connection.execute(f"SELECT rowid FROM {table} ORDER BY rowid"):
            if row not in linked[table]:
                faults.append(Fault(table, row, f"{_NAMES[table]} {row} was put in from outside"))
    return faults


_NAMES = {"content": "file content", "source": "file version", "entry": "entry", "build": "build"}


def _about(table: str, found: Sequence[Any]) -> str:
    match table:
        case "source":
            return f" ({found[2]}, {found[1]})"
        case "entry":
            return f" ({found[3]} by {found[2]}, {found[1]})"
        case "build":
            return f" (as of {found[2]}, {found[1]})"
    return ""


def _content_faults(row: int, found: Sequence[Any]) -> list[Fault]:
    sha256, size, packed = found
    try:
        content = zlib.decompress(packed)
    except zlib.error:
        return [Fault("content", row, f"file content {row} cannot be unpacked")]
    if len(content) != size or hashlib.sha256(content).hexdigest() != sha256:
        return [Fault("content", row, f"file content {row} is not the one its hash names")]
    return []


# ---- the file -------------------------------------------------------------------------------------------------------


def faults_of(path: Path, version: int) -> list[Fault]:
    """Return every place where a record's file is not what was written; empty where nothing was altered.

    Looks at the file as it lies there and changes nothing: its structure, its tables and triggers, its version, the
    rows and their chain. A byte that holds nothing (the unused rest of a page) says nothing and is not looked at.
    """
    try:
        # Closed here and not by `with`, which for this library ends a transaction only.
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
        try:
            return [*_file_faults(connection, version), *_row_faults(connection)]
        finally:
            connection.close()
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        return [Fault("file", 0, f"the file cannot be read as a record: {fault}")]


def _file_faults(connection: sqlite3.Connection, version: int) -> list[Fault]:
    faults = [
        Fault("file", 0, f"the file's structure is damaged: {' '.join(said.split())}")
        for (said,) in connection.execute("PRAGMA integrity_check")
        if said != "ok"
    ]
    if _schema(connection) != _schema_as_written():
        faults.append(Fault("file", 0, "the tables, or the triggers that keep them from being changed, were altered"))
    if connection.execute("SELECT key, value FROM about").fetchall() != [("version", str(version))]:
        faults.append(Fault("about", 0, "the version of the record was altered"))
    for setting in ("user_version", "application_id"):
        if connection.execute(f"PRAGMA {setting}").fetchone() != (0,):
            faults.append(Fault("file", 0, f"the file's {setting.replace('_', ' ')} was altered"))
    return faults


def _schema(connection: sqlite3.Connection) -> list[tuple]:
    return connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY name").fetchall()


def _schema_as_written() -> list[tuple]:
    connection = sqlite3.connect(":memory:")
    try:
        for statement in STATEMENTS:
            connection.execute(statement)
        return _schema(connection)
    finally:
        connection.close()
