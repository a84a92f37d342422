"""Publishing results: whole or not at all, under a new name, behind a link that is replaced in one act.

`results.duckdb` is a link to `results.NNNNNN.duckdb`. A process that holds the old file goes on reading the old
results undisturbed; whoever opens the path gets the newest. Two earlier versions are kept for open readers.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

import duckdb

from pipeline import __version__
from pipeline.errors import Problem

RESULTS_NAME = "results.duckdb"
KEPT_VERSIONS = 3


def versioned_path(database: Path, number: int) -> Path:
    """Return the name under which build `number` of `database` is published."""
    return database.with_name(f"{database.stem}.{number:06d}{database.suffix}")


def refuse_foreign(database: Path) -> None:
    """Raise Problem where `database` names a file that is not ours to replace."""
    if database.is_dir():
        raise Problem(f"{database}: is a folder; name a file for the results")
    if not database.parent.is_dir():
        raise Problem(f"{database.parent}: there is no such folder for the results; make it first")
    if database.exists() and not database.is_symlink():
        try:
            with duckdb.connect(str(database), read_only=True) as connection:
                connection.execute("SELECT 1 FROM result.build")
        except duckdb.Error:
            raise Problem(f"{database}: is not a results file of this program; name another file") from None


def publish(made: Path, database: Path, number: int) -> Path:
    """Give the finished file `made` its versioned name and point `database` at it; return that name."""
    target = versioned_path(database, number)
    os.replace(made, target)
    link = database.with_name(f".{database.name}.{os.getpid()}")
    with contextlib.suppress(FileNotFoundError):
        link.unlink()
    try:
        link.symlink_to(target.name)
    except OSError:  # a file system without links: the file itself takes the name
        os.replace(target, database)
        return database
    os.replace(link, database)
    _drop_old(database, target)
    return target


def _drop_old(database: Path, newest: Path) -> None:
    pattern = f"{database.stem}.[0-9][0-9][0-9][0-9][0-9][0-9]{database.suffix}"
    older = sorted(path for path in database.parent.glob(pattern) if path != newest)
    for path in older[: max(0, len(older) - (KEPT_VERSIONS - 1))]:
        with contextlib.suppress(OSError):  # another program may hold it; it goes at a later build
            path.unlink()


def open_results(database: Path) -> duckdb.DuckDBPyConnection:
    """Open the newest results read-only; raises Problem where there are none or they cannot be read."""
    if not database.exists():
        raise Problem(
            f"{database}: there are no results; run 'hoopline build FOLDER' first, or name them by --database"
        )
    try:
        connection = duckdb.connect(str(database.resolve()), read_only=True)
        made_by = connection.execute("SELECT program FROM result.build").fetchall()
        # A results file made by someone else must not reach other files. Set after opening, so that another reader in
        # this process may open the same file its own way.
        connection.execute("SET enable_external_access = false; SET lock_configuration = true")
    except duckdb.InvalidInputException:
        pass  # this process has the file open already, with its configuration locked
    except duckdb.Error:
        raise Problem(f"{database}: is not a results file of this program; run 'hoopline build FOLDER' anew") from None
    if made_by != [(__version__,)]:  # its tables may mean something else
        connection.close()
        by = ", ".join(str(program) for (program,) in made_by) or "nobody"
        raise Problem(
            f"{database}: made by hoopline {by}, this is {__version__}; run 'hoopline build FOLDER' to make them anew"
        )
    return connection
