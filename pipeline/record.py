"""The permanent record of a plant: every version of every source file, every entry, every build. Append only.

`FOLDER/record.sqlite` is SQLite in WAL mode with synchronous writes; triggers refuse any update or delete. Several
processes may append at once: SQLite's own lock orders them.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from pipeline.errors import Problem

RECORD_NAME = "record.sqlite"
VERSION = 1
VERDICTS = ("accept", "reject")

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
"""

_APPEND_ONLY = "".join(
    f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb} BEFORE {verb} ON {table} "
    f"BEGIN SELECT RAISE(ABORT, 'the record is append only'); END;"
    for table in ("content", "source", "entry", "build")
    for verb in ("update", "delete")
)


@dataclass(frozen=True)
class SourceFile:
    """One version of a source file: its name in the folder, its content, and the content's hash."""

    file: str
    content: bytes

    @property
    def sha256(self) -> str:
        """Hash of the content."""
        return hashlib.sha256(self.content).hexdigest()


@dataclass(frozen=True)
class Decision:
    """A named person's verdict on one held reading."""

    asset: str
    component: str
    location: str
    read_on: date
    thickness_mm: float
    verdict: str


class Record:
    """The record of one folder."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            connection = sqlite3.connect(self.path, timeout=30, isolation_level=None)
        except sqlite3.Error as fault:
            raise Problem(
                f"{self.path}: the record cannot be opened ({fault}); check the folder's permissions"
            ) from None
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.executescript(_SCHEMA + _APPEND_ONLY)
            connection.execute("INSERT OR IGNORE INTO about VALUES ('version', ?)", [str(VERSION)])
            found = connection.execute("SELECT value FROM about WHERE key = 'version'").fetchone()[0]
            if int(found) > VERSION:
                raise Problem(f"{self.path}: the record is of version {found}, this program knows {VERSION}; update it")
            yield connection
        except sqlite3.Error as fault:
            raise Problem(
                f"{self.path}: the record cannot be read or written ({fault}); "
                "check that the folder is writable and the file is a record of this program"
            ) from fault
        finally:
            connection.close()

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        with self._open() as connection:
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            connection.execute("COMMIT")

    # ---- source files -----------------------------------------------------------------------------------------------

    def keep_sources(self, files: Sequence[SourceFile], present: set[str] | None = None) -> list[str]:
        """Append every new version of a file and note those gone; return the names that have gone missing since.

        `present` names the files that are there, also those whose content could not be read.
        """
        present = present or {source.file for source in files}
        with self._transaction() as connection:
            at = _now()
            latest = dict(
                connection.execute(
                    "SELECT file, sha256 FROM source WHERE seq IN (SELECT max(seq) FROM source GROUP BY file)"
                )
            )
            for source in files:
                sha256 = source.sha256
                if latest.get(source.file) == sha256:
                    continue
                if not connection.execute("SELECT 1 FROM content WHERE sha256 = ?", [sha256]).fetchone():
                    connection.execute(
                        "INSERT INTO content VALUES (?, ?, ?)",
                        [sha256, len(source.content), zlib.compress(source.content, 6)],
                    )
                connection.execute("INSERT INTO source (at, file, sha256) VALUES (?, ?, ?)", [at, source.file, sha256])
            gone = sorted(file for file, sha256 in latest.items() if sha256 is not None and file not in present)
            for file in gone:
                connection.execute("INSERT INTO source (at, file, sha256) VALUES (?, ?, NULL)", [at, file])
        return self.missing_files(present)

    def missing_files(self, present: set[str]) -> list[str]:
        """Return the files that were once read and are not in the folder any more."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            names = [row[0] for row in connection.execute("SELECT DISTINCT file FROM source ORDER BY file")]
        return [name for name in names if name not in present]

    def content_of(self, sha256: str) -> bytes:
        """Return the kept content with this hash; raises Problem where the record does not hold it."""
        with self._open() as connection:
            row = connection.execute("SELECT packed FROM content WHERE sha256 = ?", [sha256]).fetchone()
        if row is None:
            raise Problem(f"{self.path}: no content with hash {sha256} is kept")
        return zlib.decompress(row[0])

    # ---- entries ----------------------------------------------------------------------------------------------------

    def decide(self, decision: Decision, who: str, reason: str) -> int:
        """Append a person's verdict on a held reading; return its number. Who and reason are required."""
        if decision.verdict not in VERDICTS:
            raise Problem(f"a verdict is one of {', '.join(VERDICTS)}, not '{decision.verdict}'")
        if not who.strip() or not reason.strip():
            raise Problem("a verdict on a reading needs the name of the person and a reason")
        body = {
            "asset": decision.asset,
            "component": decision.component,
            "location": decision.location,
            "read_on": decision.read_on.isoformat(),
            "thickness_mm": decision.thickness_mm,
            "verdict": decision.verdict,
        }
        with self._transaction() as connection:
            cursor = connection.execute(
                "INSERT INTO entry (at, who, kind, reason, body) VALUES (?, ?, 'reading decision', ?, ?)",
                [_now(), who.strip(), reason.strip(), json.dumps(body, sort_keys=True)],
            )
            return int(cursor.lastrowid or 0)

    def accept_file(self, source: SourceFile, who: str, reason: str) -> int:
        """Append that a person put a version of a source file into the folder; return the entry's number."""
        if not who.strip():
            raise Problem(f"{source.file}: accepting a file needs the name of the person")
        body = {"file": source.file, "sha256": source.sha256}
        with self._transaction() as connection:
            cursor = connection.execute(
                "INSERT INTO entry (at, who, kind, reason, body) VALUES (?, ?, 'file accepted', ?, ?)",
                [_now(), who.strip(), reason.strip(), json.dumps(body, sort_keys=True)],
            )
            return int(cursor.lastrowid or 0)

    def decisions(self) -> list[tuple[int, str, str, str, str, str, str, float, str]]:
        """Return every verdict: seq, at, who, reason, asset, component, location with date, thickness, verdict."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            rows = connection.execute(
                "SELECT seq, who, reason, body FROM entry WHERE kind = 'reading decision' ORDER BY seq"
            ).fetchall()
        decided = []
        for seq, who, reason, text in rows:
            body = json.loads(text)
            decided.append(
                (
                    seq,
                    who,
                    reason,
                    body["asset"],
                    body["component"],
                    body["location"],
                    body["read_on"],
                    float(body["thickness_mm"]),
                    body["verdict"],
                )
            )
        return decided

    # ---- builds -----------------------------------------------------------------------------------------------------

    def keep_build(
        self, as_of: date, program: str, basis_sha256: str, basis_text: str, sources: Sequence[tuple[str, str]]
    ) -> int:
        """Append a build; return its number."""
        with self._transaction() as connection:
            last_entry = connection.execute("SELECT coalesce(max(seq), 0) FROM entry").fetchone()[0]
            cursor = connection.execute(
                "INSERT INTO build (at, as_of, program, basis_sha256, basis_text, sources, last_entry) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                [_now(), as_of.isoformat(), program, basis_sha256, basis_text, json.dumps(list(sources)), last_entry],
            )
            return int(cursor.lastrowid or 0)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
