"""One measured piece of work on a file of facts, in a process of its own, so that peak memory is its own.

Each work prints one line of JSON. Times are seconds of the wall clock and of the processor (all threads together);
`peak_mb` is the most memory the process ever held.
"""

from __future__ import annotations

import json
import re
import resource
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread
from typing import Any
from unittest.mock import patch

import duckdb

import pipeline.run
from pipeline.basis import default_basis
from pipeline.folder import Folder
from pipeline.known_facts import KnownFacts
from pipeline.record import SourceFile
from pipeline.run import Findings, build, compute
from pipeline.sheets import Intake
from pipeline.steps import all_steps, run_step
from tests.bench import in_pandas
from tests.bench.fleets import AS_OF
from tests.bench.in_pandas_by_rows import BY_ROWS

THREADS = 2
#: The last step that checks readings, and the last that computes: what comes after are tables of results.
CHECKED, RANKED = 20, 70
CHECKS = "(checks of the data)"
AGGREGATION_RUNS = 5
_RESET = Path("/proc/self/clear_refs")


class _Enough(Exception):
    """Ends a build after the last step that is asked for."""


@dataclass
class _Moment:
    wall: float
    cpu: float


def _now() -> _Moment:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return _Moment(time.perf_counter(), used.ru_utime + used.ru_stime)


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


class _MostSince:
    """The most memory the process held since the last question; Linux keeps it, and sets it back on request."""

    def mb(self) -> float:
        if not _RESET.exists():  # elsewhere: the most it ever held
            return _peak_mb()
        match = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="ascii"))
        _RESET.write_text("5", encoding="ascii")
        return int(match[1]) / 1024 if match else _peak_mb()


@dataclass
class _Lap:
    """Time and memory since the lap before."""

    last: _Moment
    most: _MostSince

    def done(self, name: str, number: int, rows: int) -> dict[str, Any]:
        moment = _now()
        took = {"wall": moment.wall - self.last.wall, "cpu": moment.cpu - self.last.cpu}
        self.last = moment
        return {"name": name, "number": number, "rows": rows, **took, "peak_mb": self.most.mb()}


class _Spilled(Thread):
    """Looks twice a second how much the database holds on disk for want of memory, and keeps the most."""

    def __init__(self, folder: Path) -> None:
        super().__init__(daemon=True)
        self.folder = folder
        self.most_mb = 0.0
        self.ended = Event()

    def run(self) -> None:
        while not self.ended.wait(0.5):
            size = 0
            for path in self.folder.glob("*"):
                with suppress(OSError):  # gone since
                    size += path.stat().st_size
            self.most_mb = max(self.most_mb, size / 1024**2)


def _spill_folder(path: Path) -> Path:
    return path.with_suffix(".spill")


def _limited(path: Path, memory: str) -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect(str(path))
    connection.execute(f"SET threads = {THREADS}; SET memory_limit = '{memory}'")
    connection.execute(f"SET temp_directory = '{_spill_folder(path)}'")
    return connection


def measure_build(facts: Path, database: Path, memory: str, last: int) -> dict[str, Any]:
    """Build results from facts as a second build of an unchanged plant does, and time every step up to `last`.

    The facts come in as those of files that have not changed; from there on it is the product's own `compute`.
    """
    database.unlink(missing_ok=True)
    with duckdb.connect(str(facts), read_only=True) as known:
        names = [row[0] for row in known.execute("SELECT file FROM fact.source ORDER BY file").fetchall()]
    findings = Findings(
        (), Folder([SourceFile(name, b"") for name in names]), known=KnownFacts(facts, frozenset(names))
    )
    numbers = {step.table: step.number for step in all_steps()}
    ahead = _ahead()
    laps: list[dict[str, Any]] = []
    lap = _Lap(_now(), _MostSince())
    lap.most.mb()
    spilled = _Spilled(_spill_folder(database))
    spilled.start()
    run_checks = pipeline.run.run_checks

    def checked(connection: duckdb.DuckDBPyConnection) -> None:
        # What lies between the last step and the checks is the end of that step's lap: nothing.
        run_checks(connection)
        laps.append(lap.done(CHECKS, RANKED + 1, 0))

    def progress(line: str) -> None:
        match = re.search(r"\] (\S+): (\d+) rows", line)
        if match:
            laps.append(lap.done(match[1], numbers[match[1]], int(match[2])))
            if ahead[match[1]] > last:
                raise _Enough

    def first_step(*arguments: Any, run: Callable[..., int] = pipeline.run.run_step) -> int:
        if not laps:
            laps.append(lap.done("(facts and basis)", 0, 0))
        return run(*arguments)

    with (
        _limited(database, memory) as connection,
        patch.object(pipeline.run, "run_checks", checked),
        patch.object(pipeline.run, "run_step", first_step),
    ):
        try:
            compute(connection, Intake(), default_basis(), AS_OF, findings, progress)
        except _Enough:
            pass
        else:
            laps.append(lap.done("(written to disk)", 99, 0))
            connection.execute("CHECKPOINT")
    spilled.ended.set()
    return {"laps": laps, "peak_mb": max(row["peak_mb"] for row in laps), "spilled_mb": spilled.most_mb}


def _ahead() -> dict[str, int]:
    """The number of the step after each."""
    steps = all_steps()
    return {step.table: after.number for step, after in zip(steps, [*steps[1:], steps[-1]], strict=True)}


def measure_again(database: Path, memory: str) -> dict[str, Any]:
    """Do the computing steps once more in results made before, and leave these as they were."""
    laps: list[dict[str, Any]] = []
    with _limited(database, memory) as connection:
        connection.execute("BEGIN")
        schemas = connection.execute(
            "SELECT schema_name || '.' || table_name FROM duckdb_tables() WHERE schema_name IN ('step', 'result')"
        ).fetchall()
        known = {step.table for step in all_steps() if step.number <= CHECKED} | {"result.build"}
        for (table,) in schemas:
            if table not in known:
                connection.execute(f"DROP TABLE {table}")
        lap = _Lap(_now(), _MostSince())
        lap.most.mb()
        for step in all_steps():
            if CHECKED < step.number <= RANKED:
                rows = run_step(connection, step)
                laps.append(lap.done(step.table, step.number, rows))
        connection.execute("ROLLBACK")
    return {"laps": laps, "peak_mb": max(row["peak_mb"] for row in laps)}


#: First, previous and last reading of every place: the least that any answer about rates has to look at.
AGGREGATION = """
CREATE OR REPLACE TEMP TABLE first_and_last AS
SELECT
    asset, component, location,
    count(*) AS readings,
    min(read_on) AS first_on,
    arg_min(thickness_mm, read_on) AS first_mm,
    max(read_on) AS last_on,
    arg_max(thickness_mm, read_on) AS last_mm,
    arg_max(struct_pack(read_on := read_on, thickness_mm := thickness_mm), read_on, 2) AS last_two
FROM step.reading
WHERE status = 'used'
GROUP BY asset, component, location
"""


def measure_aggregation(database: Path, memory: str) -> dict[str, Any]:
    """Time one aggregation over the checked readings of results made before, again and again."""
    laps = []
    with _limited(database, memory) as connection:
        connection.execute(AGGREGATION)  # so that the readings are in memory, as they are for the steps
        lap = _Lap(_now(), _MostSince())
        lap.most.mb()
        for _ in range(AGGREGATION_RUNS):
            connection.execute(AGGREGATION)
            laps.append(lap.done("one aggregation", 0, 0))
        [(places,)] = connection.execute("SELECT count(*) FROM first_and_last").fetchall()
    return {"laps": laps, "places": places, "peak_mb": max(row["peak_mb"] for row in laps)}


def measure_pandas(database: Path, way: str, runs: int) -> dict[str, Any]:
    """Time the same results worked out in pandas, and count where they differ from those made before."""
    laps = []
    with duckdb.connect(str(database), read_only=True) as connection:
        connection.execute(f"SET threads = {THREADS}")
        known = in_pandas.load(connection, AS_OF)
        lap = _Lap(_now(), _MostSince())
        lap.most.mb()
        for _ in range(runs):
            worked = in_pandas.work_out(known, BY_ROWS if way == "rows" else None)
            laps.append(lap.done(f"pandas by {way}", 0, len(worked.places)))
        found = in_pandas.disagreements(worked, connection)
    return {
        "laps": laps,
        "differ": {name: rows for name, (rows, _) in found.items()},
        "compared": sum(rows for _, rows in found.values()),
        "peak_mb": max(row["peak_mb"] for row in laps),
    }


def measure_reading(folder: Path) -> dict[str, Any]:
    """Build a plant from its sheets; time what comes before the first step, and say what was read."""
    said: list[str] = []
    laps: list[dict[str, Any]] = []
    lap = _Lap(_now(), _MostSince())

    def progress(line: str) -> None:
        said.append(line)
        if line.startswith("reading "):
            lap.done("", 0, 0)
        elif len(laps) == 0:
            laps.append(lap.done("reading", 0, 0))

    start = _now()
    build(folder, as_of=AS_OF, progress=progress)
    end = _now()
    whole = {"wall": end.wall - start.wall, "cpu": end.cpu - start.cpu}
    return {"laps": laps, "said": said[0], "build": whole, "peak_mb": _peak_mb()}


def main() -> None:
    """Do one work named on the command line."""
    work, *rest = sys.argv[1:]
    if work == "build":
        facts, database, memory, last = rest
        found = measure_build(Path(facts), Path(database), memory, int(last))
    elif work == "again":
        found = measure_again(Path(rest[0]), rest[1])
    elif work == "pandas":
        found = measure_pandas(Path(rest[0]), rest[1], int(rest[2]))
    elif work == "reading":
        found = measure_reading(Path(rest[0]))
    else:
        found = measure_aggregation(Path(rest[0]), rest[1])
    print(json.dumps(found))


if __name__ == "__main__":
    main()
