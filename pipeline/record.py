"""The permanent record of a plant: every version of every source file, every entry, every build. Append only.

`FOLDER/record.sqlite` is SQLite in WAL mode with synchronous writes; triggers refuse any update or delete. Several
processes may append at once: SQLite's own lock orders them. Every row is followed by a link of a chain of hashes, so
that `verify` tells whether anything was altered, and where. Who may write what is checked here, where it is written.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from pipeline.errors import Problem
from pipeline.people import Identity, require
from pipeline.record_chain import STATEMENTS, TABLES, Fault, faults_of, link_new

RECORD_NAME = "record.sqlite"
BASIS_NAME = "basis.toml"
VERSION = 2
VERDICTS = ("accept", "reject")


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


@dataclass(frozen=True)
class Entry:
    """One row a person entered: its number, when, who, what kind of row, why, and its cells by column as typed."""

    seq: int
    at: str
    who: str
    kind: str
    reason: str
    cells: Mapping[str, str]


class Record:
    """The record of one folder."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @property
    def folder(self) -> Path:
        """The plant's folder, whose basis names the people."""
        return self.path.parent

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
            self._prepare(connection)
            yield connection
        except sqlite3.Error as fault:
            raise Problem(
                f"{self.path}: the record cannot be read or written ({fault}); "
                "check that the folder is writable and the file is a record of this program"
            ) from fault
        finally:
            connection.close()

    def _prepare(self, connection: sqlite3.Connection) -> None:
        """Make the tables of a new record, bring an older one up to date, refuse one of a later program."""
        known = connection.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'about'").fetchone()
        found = connection.execute("SELECT value FROM about WHERE key = 'version'").fetchone() if known else None
        if found and int(found[0]) > VERSION:
            raise Problem(f"{self.path}: the record is of version {found[0]}, this program knows {VERSION}; update it")
        if found and int(found[0]) == VERSION:
            return
        connection.execute("BEGIN IMMEDIATE")
        for statement in STATEMENTS:
            connection.execute(statement)
        for table in TABLES:  # of a record without a chain: as it is found, in the order of its tables
            link_new(connection, table)
        connection.execute(
            "INSERT INTO about VALUES ('version', ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            [str(VERSION)],
        )
        connection.execute("COMMIT")

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        with self._open() as connection:
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            for table in TABLES:
                link_new(connection, table)
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
            for source in [*files, *self._basis_file()]:
                sha256 = source.sha256
                if latest.get(source.file) == sha256:
                    continue
                if not connection.execute("SELECT 1 FROM content WHERE sha256 = ?", [sha256]).fetchone():
                    connection.execute(
                        "INSERT INTO content VALUES (?, ?, ?)",
                        [sha256, len(source.content), zlib.compress(source.content, 6)],
                    )
                connection.execute("INSERT INTO source (at, file, sha256) VALUES (?, ?, ?)", [at, source.file, sha256])
            here = present | {source.file for source in self._basis_file()}
            gone = sorted(file for file, sha256 in latest.items() if sha256 is not None and file not in here)
            for file in gone:
                connection.execute("INSERT INTO source (at, file, sha256) VALUES (?, ?, NULL)", [at, file])
        return self.missing_files(present)

    def _basis_file(self) -> list[SourceFile]:
        """Return the plant's policies as a source of their own: a past status needs the ones of its day."""
        try:
            return [SourceFile(BASIS_NAME, (self.folder / BASIS_NAME).read_bytes())]
        except OSError:
            return []

    def missing_files(self, present: set[str]) -> list[str]:
        """Return the files that were once read and are not in the folder any more."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            names = [row[0] for row in connection.execute("SELECT DISTINCT file FROM source ORDER BY file")]
        return [name for name in names if name not in present and name != BASIS_NAME]

    def sources_at(self, known_at: datetime) -> list[SourceFile]:
        """Return the version of every file that was in the folder at a moment, the policies included."""
        with self._open() as connection:
            rows = connection.execute(
                "SELECT file, sha256 FROM source WHERE seq IN "
                f"(SELECT max(seq) FROM source WHERE {_known('source')} GROUP BY file) ORDER BY file",
                [_moment(known_at)],
            ).fetchall()
        return [SourceFile(file, self.content_of(sha256)) for file, sha256 in rows if sha256 is not None]

    def gone_at(self, known_at: datetime) -> list[str]:
        """Return the files that had been read before a moment and were not in the folder then."""
        with self._open() as connection:
            rows = connection.execute(
                "SELECT file FROM source WHERE sha256 IS NULL AND seq IN "
                f"(SELECT max(seq) FROM source WHERE {_known('source')} GROUP BY file) ORDER BY file",
                [_moment(known_at)],
            ).fetchall()
        return [row[0] for row in rows if row[0] != BASIS_NAME]

    def basis_text_at(self, known_at: datetime) -> str:
        """Return the text of the policies of the last build by a moment; empty where there was none."""
        with self._open() as connection:
            row = connection.execute(
                f"SELECT basis_text FROM build WHERE {_known('build')} ORDER BY seq DESC LIMIT 1", [_moment(known_at)]
            ).fetchone()
        return row[0] if row else ""

    def content_of(self, sha256: str) -> bytes:
        """Return the kept content with this hash; raises Problem where the record does not hold it."""
        with self._open() as connection:
            row = connection.execute("SELECT packed FROM content WHERE sha256 = ?", [sha256]).fetchone()
        if row is None:
            raise Problem(f"{self.path}: no content with hash {sha256} is kept")
        return zlib.decompress(row[0])

    # ---- entries ----------------------------------------------------------------------------------------------------

    def append(self, by: Identity, kind: str, cells: Mapping[str, str], reason: str) -> int:
        """Append one row a person entered, as its cells were typed; return its number.

        Raises Problem where the person may not enter this, or the name or the reason is missing. What the cells say
        is checked before, by `pipeline.entering`, which reads them as it reads a spreadsheet's row.
        """
        self._may(by, kind, cells.get("asset"))
        return self._append(by.name, kind, reason, dict(cells))

    def decide(self, decision: Decision, by: Identity, reason: str) -> int:
        """Append a person's verdict on a held reading; return its number. Who and reason are required."""
        if decision.verdict not in VERDICTS:
            raise Problem(f"a verdict is one of {', '.join(VERDICTS)}, not '{decision.verdict}'")
        self._may(by, "reading decision", decision.asset)
        body = {
            "asset": decision.asset,
            "component": decision.component,
            "location": decision.location,
            "read_on": decision.read_on.isoformat(),
            "thickness_mm": decision.thickness_mm,
            "verdict": decision.verdict,
        }
        return self._append(by.name, "reading decision", reason, body)

    def accept_file(self, source: SourceFile, by: Identity, reason: str) -> int:
        """Append that a person put a version of a source file into the folder; return the entry's number."""
        self._may(by, "file accepted", None)
        return self._append(
            by.name, "file accepted", reason, {"file": source.file, "sha256": source.sha256}, reason_needed=False
        )

    def _may(self, by: Identity, kind: str, asset: str | None) -> None:
        require(self.folder, by, kind, asset, assigned=lambda tag: self.assigned_to(tag))

    def _append(self, who: str, kind: str, reason: str, body: Mapping[str, Any], reason_needed: bool = True) -> int:
        if not who.strip():
            raise Problem(f"{kind}: the name of the person is needed")
        if reason_needed and not reason.strip():
            raise Problem(f"{kind}: a reason is needed")
        with self._transaction() as connection:
            cursor = connection.execute(
                "INSERT INTO entry (at, who, kind, reason, body) VALUES (?, ?, ?, ?, ?)",
                [_now(), who.strip(), kind, reason.strip(), json.dumps(dict(body), sort_keys=True)],
            )
            return int(cursor.lastrowid or 0)

    def entries(self, known_at: datetime | None = None) -> list[Entry]:
        """Return every row people entered, in the order of entering; verdicts and accepted files are not among them."""
        return [
            Entry(seq, at, who, kind, reason, json.loads(body))
            for seq, at, who, kind, reason, body in self._entry_rows(known_at)
            if kind not in ("reading decision", "file accepted")
        ]

    def history(self) -> list[Entry]:
        """Return everything people did, verdicts and accepted files included, in order."""
        return [
            Entry(seq, at, who, kind, reason, json.loads(body))
            for seq, at, who, kind, reason, body in self._entry_rows(None)
        ]

    def _entry_rows(self, known_at: datetime | None) -> list[tuple[int, str, str, str, str, str]]:
        if not self.path.exists():
            return []
        until = "9999" if known_at is None else _moment(known_at)
        with self._open() as connection:
            return connection.execute(
                f"SELECT seq, at, who, kind, reason, body FROM entry WHERE {_known('entry')} ORDER BY seq", [until]
            ).fetchall()

    def assigned_to(self, asset: str) -> str | None:
        """Return the person an entry assigns an asset to, the last one; None where no entry does."""
        for entry in reversed(self.entries()):
            if entry.kind == "assets" and entry.cells.get("asset") == asset and entry.cells.get("assigned to"):
                return entry.cells["assigned to"]
        return None

    def decisions(self, known_at: datetime | None = None) -> list[tuple[int, str, str, str, str, str, str, float, str]]:
        """Return every verdict: seq, who, reason, asset, component, location, date, thickness, verdict."""
        decided = []
        for seq, _, who, kind, reason, text in self._entry_rows(known_at):
            if kind != "reading decision":
                continue
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

    def builds(self) -> list[tuple[int, str, str]]:
        """Return every build: its number, when it was made, and its as-of date."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            return connection.execute("SELECT seq, at, as_of FROM build ORDER BY seq").fetchall()

    # ---- is it what was written? ------------------------------------------------------------------------------------

    def verify(self) -> list[Fault]:
        """Return every place where the record is not what was written; empty where nothing was altered.

        A file that cannot be read as a record is such a place. Raises Problem where there is no file.
        """
        if not self.path.exists():
            raise Problem(f"{self.path}: there is no record; run 'hoopline build FOLDER' first")
        return faults_of(self.path, VERSION)

    def last_link(self) -> tuple[int, str]:
        """Return the number and the hash of the last link of the chain; (0, "") where nothing is recorded yet.

        Noted elsewhere (`hoopline verify` prints it), it proves later that the record was not cut short at its end.
        """
        if not self.path.exists():
            return 0, ""
        with self._open() as connection:
            last = connection.execute("SELECT seq, sha256 FROM link ORDER BY seq DESC LIMIT 1").fetchone()
        return (int(last[0]), str(last[1])) if last else (0, "")

    def holds_link(self, sha256: str) -> bool:
        """Say whether a link noted before is still in the chain."""
        with self._open() as connection:
            return connection.execute("SELECT 1 FROM link WHERE sha256 = ?", [sha256.lower()]).fetchone() is not None


def _now() -> str:
    return _moment(datetime.now(UTC))


def _known(table: str) -> str:
    """Return the condition for the rows known at a moment: all up to the last one that is dated by then.

    The order of writing decides, not the clock alone: where the clock was set back, nothing that had been written
    before is left out of a state that came after it.
    """
    return f"seq <= (SELECT max(seq) FROM {table} WHERE at <= ?)"


def _moment(moment: datetime) -> str:
    """Return a moment as it is written: UTC with milliseconds, so that text sorts as time does."""
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return aware.astimezone(UTC).isoformat(timespec="milliseconds")
