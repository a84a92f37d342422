"""The plant's folder: which files are read, with their content once and for all, and why some are not."""

from __future__ import annotations

import io
import os
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.audit.mark import is_audit_workbook
from pipeline.errors import Problem
from pipeline.record import SourceFile

#: Endings of the files that are read; others in the folder are left alone.
SUFFIXES = frozenset({".xlsx", ".xlsm", ".xls", ".ods", ".csv", ".tsv"})


@dataclass(frozen=True)
class Remark:
    """What is said of a whole file in the ledger."""

    reason: str
    effect: str
    severity: str


@dataclass(frozen=True)
class Folder:
    """The files of a folder: those read, those that could not be, and what is said of either.

    `readable` hold their content; an unreadable one counts as empty in `sources`, so that it has its line in the ledger
    and does not stop the others, and is no new version for the record.
    """

    sources: list[SourceFile] = field(default_factory=list)
    unreadable: dict[str, Remark] = field(default_factory=dict)
    remarks: dict[str, Remark] = field(default_factory=dict)

    @property
    def readable(self) -> list[SourceFile]:
        """The files whose content was read."""
        return [source for source in self.sources if source.file not in self.unreadable]

    @property
    def names(self) -> set[str]:
        """The names of all files that are there."""
        return {source.file for source in self.sources}


def read_folder(folder: Path) -> Folder:
    """Return every workbook in the folder and below it, by name.

    Raises Problem where the folder is not there or holds nothing to read.
    """
    if not folder.exists():
        raise Problem(f"{folder}: there is no such folder; name the folder that holds the spreadsheets")
    if not folder.is_dir():
        raise Problem(f"{folder}: is a file; name the folder that holds the spreadsheets")
    found = Folder()
    paths = spreadsheets_in(folder)
    if not paths:
        kinds = ", ".join(sorted(SUFFIXES))
        raise Problem(f"{folder}: holds no spreadsheet ({kinds}); put the registers and surveys there")
    for path in paths:
        name = path.relative_to(folder).as_posix()
        try:
            content = _settled_content(path)
        except OSError as fault:
            content = b""
            found.unreadable[name] = Remark(
                f"the file cannot be read ({fault.strerror or fault}): close it elsewhere or check its permissions",
                "nothing in this file is used",
                "set aside",
            )
        if is_audit_workbook(io.BytesIO(content)):
            # Its readings came from the other files: read as a survey it would count each of them again.
            found.remarks[name] = Remark(
                "the file is an audit workbook of this program: keep it elsewhere",
                "nothing in this file is used",
                "note",
            )
            continue
        if any(path.with_name(lock).exists() for lock in (f".~lock.{path.name}#", f"~${path.name}")):
            found.remarks[name] = Remark(
                "the file is open in a spreadsheet program: save and close it there, then build anew",
                "what was last saved is read",
                "note",
            )
        found.sources.append(SourceFile(name, content))
    return found


def spreadsheets_in(folder: Path) -> list[Path]:
    """Return the spreadsheets of a folder and below it, without hidden files and the lock files of other programs."""
    return sorted(
        path
        for path in folder.rglob("*")
        if path.suffix.lower() in SUFFIXES
        and not any(part.startswith((".", "~$")) for part in path.relative_to(folder).parts)
        and path.is_file()
    )


def _settled_content(path: Path) -> bytes:
    """Return a file's content as it stood at one moment; raises OSError where it goes on changing while it is read."""
    for _ in range(3):
        before = os.stat(path)
        content = path.read_bytes()
        after = os.stat(path)
        if (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size) and len(content) == after.st_size:
            return content
    raise OSError("it changes while it is read")
