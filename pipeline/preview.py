"""What one more workbook would change, before anybody accepts it; and accepting it under a name.

Both sides are those of the folder as it is: without the file (or with its older version) and with it. The side with it
is computed in memory; so is the other one, unless the published results were made of the very same files, policies,
verdicts and entries as of the same date: then they are it. Nothing is written until a named person accepts.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from pipeline import __version__
from pipeline.basis import Basis, read_basis
from pipeline.errors import Problem
from pipeline.folder import SUFFIXES, Folder, read_folder, spreadsheets_in
from pipeline.known_facts import facts_key
from pipeline.people import Identity
from pipeline.publishing import RESULTS_NAME
from pipeline.record import RECORD_NAME, Record, SourceFile
from pipeline.run import Build, Findings, Progress, build, compute
from pipeline.sheets import Intake, read_files
from pipeline.sheets.entries import ENTRIES, read_entries

Row = dict[str, Any]

#: Largest workbook taken from a page, in bytes.
LARGEST = 200_000_000

#: Tables of the results whose rows are compared.
_COMPARED = ("reading", "due_date", "asset")


@dataclass(frozen=True)
class Preview:
    """What accepting a workbook would change, each as rows of plain values."""

    file: str
    sha256: str
    replaces: bool
    sheets: list[Row]
    ledger: list[Row]
    readings_added: list[Row]
    readings_removed: list[Row]
    readings_changed: list[Row]
    due_dates_moved: list[Row]
    states_changed: list[Row]

    @property
    def changes_nothing(self) -> bool:
        """No reading, due date, state or number of held readings would differ."""
        return not (
            self.readings_added
            or self.readings_removed
            or self.readings_changed
            or self.due_dates_moved
            or self.states_changed
        )


_READINGS_ADDED = """
SELECT asset, component, location, read_on, thickness_mm, status, flags, sheet, cell, text
FROM result.reading
ANTI JOIN before_reading USING (asset, component, location, read_on, thickness_mm, file, sheet, cell)
ORDER BY ALL
"""
_READINGS_REMOVED = """
SELECT asset, component, location, read_on, thickness_mm, status, flags, sheet, cell, text
FROM before_reading
ANTI JOIN result.reading USING (asset, component, location, read_on, thickness_mm, file, sheet, cell)
ORDER BY ALL
"""
_READINGS_CHANGED = """
SELECT
    now.asset, now.component, now.location, now.read_on, now.thickness_mm,
    before.status AS status_before, now.status AS status_after, now.flags, now.file, now.sheet, now.cell
FROM result.reading AS now
JOIN before_reading AS before USING (asset, component, location, read_on, thickness_mm, file, sheet, cell)
WHERE now.status <> before.status OR now.flags <> before.flags
ORDER BY ALL
"""
_DUE_DATES_MOVED = """
SELECT
    coalesce(now.asset, before.asset) AS asset,
    coalesce(now.kind, before.kind) AS kind,
    before.due_on AS due_before,
    now.due_on AS due_after,
    date_diff('day', before.due_on, now.due_on) AS days,
    now.set_by,
    now.component, now.location,
    now.due_missing
FROM result.due_date AS now
FULL JOIN before_due_date AS before USING (asset, kind)
WHERE now.due_on IS DISTINCT FROM before.due_on
ORDER BY ALL
"""
# With a held reading nothing is plainly in date: that one comes or goes changes how an asset stands.
_STATES_CHANGED = """
SELECT
    coalesce(now.asset, before.asset) AS asset,
    before.state AS state_before, now.state AS state_after,
    before.held_readings AS held_before, now.held_readings AS held_after,
    before.rank AS rank_before, now.rank AS rank_after,
    now.reason
FROM result.asset AS now
FULL JOIN before_asset AS before USING (asset)
WHERE now.state IS DISTINCT FROM before.state OR now.held_readings IS DISTINCT FROM before.held_readings
ORDER BY rank_after NULLS LAST, asset
"""


def preview(folder: Path, file: str, content: bytes, as_of: date, progress: Progress = lambda line: None) -> Preview:
    """Return what adding `file` to the folder, or replacing its older version, would change. Writes nothing.

    Raises Problem where the name or the size is not acceptable; what is wrong inside the file is in its ledger rows.
    """
    file = accepted_name(file)
    if len(content) > LARGEST:
        raise Problem(f"{file}: is larger than {LARGEST // 1_000_000} MB; put it into the folder by hand instead")
    found = _folder_or_nothing(folder)
    others = [source for source in found.sources if source.file != file]
    added = SourceFile(file, content)
    basis = read_basis(folder)
    record = Record(folder / RECORD_NAME)
    before = _published(folder / RESULTS_NAME, found, basis, as_of, record)
    if before is None:
        progress("computing the results as they are")
        with duckdb.connect() as connection:
            _compute(connection, found.sources, basis, as_of, record, found)
            before = _to_compare(connection)
    with duckdb.connect() as after:
        progress(f"computing the results with {file}")
        _compute(after, [*others, added], basis, as_of, record, found)
        for table, rows in before.items():
            after.register(f"before_{table}", rows)
        return Preview(
            file=file,
            sha256=added.sha256,
            replaces=len(others) < len(found.sources),
            sheets=_rows(after, "FROM result.sheet WHERE file = ?", [file]),
            ledger=_rows(after, "FROM result.ledger WHERE file = ? ORDER BY sheet, cell", [file]),
            readings_added=_rows(after, _READINGS_ADDED),
            readings_removed=_rows(after, _READINGS_REMOVED),
            readings_changed=_rows(after, _READINGS_CHANGED),
            due_dates_moved=_rows(after, _DUE_DATES_MOVED),
            states_changed=_rows(after, _STATES_CHANGED),
        )


def accept(
    folder: Path,
    file: str,
    content: bytes,
    by: Identity,
    reason: str,
    database: Path | None = None,
    as_of: date | None = None,
    progress: Progress = lambda line: None,
) -> Build:
    """Put the file into the folder under a person's name and build anew; the older version stays in the record.

    The entry in the record is written first: a file that is in the folder is always one that somebody put there.
    """
    file = accepted_name(file)
    if not by.name.strip():
        raise Problem(f"{file}: say who accepts it")
    source = SourceFile(file, content)
    Record(folder / RECORD_NAME).accept_file(source, by, reason)
    handle, name = tempfile.mkstemp(prefix=".", suffix=".arriving", dir=folder)
    arriving = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(arriving, folder / file)
    finally:
        with contextlib.suppress(FileNotFoundError):
            arriving.unlink()
    return build(folder, database or folder / RESULTS_NAME, as_of, progress)


def accepted_name(file: str) -> str:
    """Return the file's own name without any folder; raises Problem where it is not that of a spreadsheet."""
    name = file.replace("\\", "/").rsplit("/", 1)[-1].strip()
    if not name or name.startswith((".", "~$")) or any(ord(letter) < 32 for letter in name) or len(name) > 200:
        raise Problem(f"{file!r}: is not a usable file name; rename the workbook")
    if Path(name).suffix.lower() not in SUFFIXES:
        raise Problem(f"{name}: is not a spreadsheet ({', '.join(sorted(SUFFIXES))})")
    return name


def _folder_or_nothing(folder: Path) -> Folder:
    """Return the folder's files; none where it holds none yet, so that a first workbook can be dropped too."""
    if folder.is_dir() and not spreadsheets_in(folder):
        return Folder()
    return read_folder(folder)


def _published(database: Path, found: Folder, basis: Basis, as_of: date, record: Record) -> dict[str, pa.Table] | None:
    """Return the rows to compare from the published results; None where anything they rest on is not as it is now.

    What is said of whole files (one that cannot be read, is gone, or is open elsewhere) is not compared: where there is
    any of it, then or now, the results are computed.
    """
    if not database.exists() or found.unreadable or found.remarks or record.missing_files(found.names):
        return None
    try:
        with duckdb.connect(str(database.resolve()), read_only=True) as connection:
            if _rests_on(connection, found, basis, as_of, record):
                return _to_compare(connection)
    except duckdb.Error:  # results of another version, damaged, or not of this program
        return None
    return None


def _rests_on(connection: duckdb.DuckDBPyConnection, found: Folder, basis: Basis, as_of: date, record: Record) -> bool:
    """Tell whether results were made by this program of these files, policies, verdicts and entries as of this date."""
    made = connection.execute(
        "SELECT as_of, program, basis_sha256, facts_sha256, known_at IS NULL FROM result.build"
    ).fetchall()
    if made != [(as_of, __version__, basis.sha256, facts_key(basis, as_of), True)]:
        return False
    files = connection.execute("SELECT file, sha256 FROM fact.source").fetchall()
    if sorted(files) != sorted((source.file, source.sha256) for source in found.sources):
        return False
    if connection.execute("FROM fact.file_note LIMIT 1").fetchall():
        return False
    decided = connection.execute("SELECT * REPLACE (read_on::VARCHAR AS read_on) FROM fact.decision ORDER BY seq")
    if decided.fetchall() != sorted(record.decisions()):
        return False
    entered = Intake()
    read_entries(record.entries(), basis, as_of, entered)
    for table, rows in entered.tables().items():
        columns = ", ".join(rows.schema.names)
        known = connection.execute(f"SELECT {columns} FROM fact.{table} WHERE file = ?", [ENTRIES]).fetchall()
        if Counter(known) != Counter(tuple(row.values()) for row in rows.to_pylist()):
            return False
    return True


def _to_compare(connection: duckdb.DuckDBPyConnection) -> dict[str, pa.Table]:
    return {table: connection.sql(f"FROM result.{table}").to_arrow_table() for table in _COMPARED}


def _compute(
    connection: duckdb.DuckDBPyConnection,
    sources: Sequence[SourceFile],
    basis: Basis,
    as_of: date,
    record: Record,
    found: Folder,
) -> None:
    intake = read_files([(source.file, source.content) for source in sources], basis, as_of)
    gone = record.missing_files({source.file for source in sources})
    findings = Findings(gone, found, record.decisions(), record.entries())
    compute(connection, intake, basis, as_of, findings, lambda line: None)


def _rows(connection: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] = ()) -> list[Row]:
    cursor = connection.execute(sql, list(values))
    names = [column[0] for column in cursor.description or []]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
