"""The plant as it was known at a moment: files, policies, verdicts and entries from the record, and nothing since.

A status reported on a past day comes out the same today: the record keeps every version of every file and of the
policies, and when each entry was made.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath

from pipeline.basis import Basis, basis_of_text, default_basis
from pipeline.errors import Problem
from pipeline.folder import Folder
from pipeline.record import BASIS_NAME, Entry, Record


@dataclass(frozen=True)
class Known:
    """What was known at a moment: the folder's files, the policies, what people had decided and entered, and the files
    that had been read before and were gone."""

    folder: Folder
    basis: Basis
    decisions: list[tuple]
    entries: list[Entry]
    gone: list[str]


def known_at(record: Record, moment: datetime) -> Known:
    """Return what the record knew at a moment; raises Problem where that was before its first file."""
    sources = record.sources_at(moment)
    files = sorted(
        (source for source in sources if source.file != BASIS_NAME), key=lambda source: PurePosixPath(source.file)
    )
    if not files:
        raise Problem(
            f"{record.path}: no file had been read by {moment.isoformat(timespec='minutes')}; name a later moment"
        )
    return Known(
        Folder(files),
        _basis_at(record, moment, {source.file: source.content for source in sources}.get(BASIS_NAME)),
        record.decisions(moment),
        record.entries(moment),
        record.gone_at(moment),
    )


def _basis_at(record: Record, moment: datetime, content: bytes | None) -> Basis:
    """Return the policies of the moment: the kept file, else those of the last build before, else the defaults."""
    if content is not None:
        return basis_of_text(content.decode("utf-8"))
    text = record.basis_text_at(moment)
    return basis_of_text(text) if text else default_basis()
