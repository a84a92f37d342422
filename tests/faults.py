"""Faults on purpose: a process killed at a random instant of a build, of accepting a workbook, of saving entries.

Each trial runs the real thing in a process of its own, kills it (SIGKILL, no chance to tidy up), and then looks at the
folder as the next person would: the results are the old or the new ones, whole; the record verifies; nothing that was
confirmed is missing. `python -m tests.bench.faults` makes 200 such trials; the tests make a few.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import random
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path

import openpyxl

from pipeline.entering import enter
from pipeline.people import Identity
from pipeline.preview import accept
from pipeline.publishing import open_results
from pipeline.record import RECORD_NAME, Record
from pipeline.run import build
from pipeline.sheets.entries import Typed
from tests.plants import write_plant

AS_OF = date(2026, 1, 1)
BY = Identity("Ann Example")
#: What a process that is killed may leave: names that begin with a dot, which no reading of the folder looks at.
Work = Callable[[Path, Connection], None]


def prepare(folder: Path) -> None:
    """Make a plant of three vessels with results, and beside it the corrected workbook a trial puts in its place."""
    rows = [(f"V-{number}", "Shell", "1") for number in (1, 2, 3)]
    write_plant(
        folder,
        assets=[(asset, "Gas", "North", date(1990, 1, 1), 200, 60, "") for asset, _, _ in rows],
        components=[(asset, "Shell", "cylinder", 0.5, 0.0625, 20000, 0.85) for asset, _, _ in rows],
        readings=[
            (*place, day, thickness)
            for place in rows
            for day, thickness in ((date(2010, 5, 1), 0.48), (date(2020, 5, 1), 0.46))
        ],
    )
    build(folder, as_of=AS_OF)
    book = openpyxl.load_workbook(folder / "plant.xlsx")
    book["readings"]["E3"] = 0.44
    book.save(corrected(folder))


def corrected(folder: Path) -> Path:
    """Return where the corrected workbook lies, outside the folder."""
    return folder.with_name(f"{folder.name} corrected.xlsx")


# ---- what is killed -------------------------------------------------------------------------------------------------


def build_corrected(folder: Path, confirm: Connection) -> None:
    """Build after a workbook was corrected in the folder by hand."""
    shutil.copyfile(corrected(folder), folder / "plant.xlsx")
    build(folder, as_of=AS_OF)
    confirm.send("built")


def accept_corrected(folder: Path, confirm: Connection) -> None:
    """Accept the corrected workbook as the app does."""
    accept(folder, "plant.xlsx", corrected(folder).read_bytes(), BY, "corrected", as_of=AS_OF)
    confirm.send("accepted")


def save_entries(folder: Path, confirm: Connection) -> None:
    """Enter readings one after another, and confirm each by its number as the page does."""
    for number in range(60):
        cells = {"asset": "V-1", "component": "Shell", "location": "1", "date": "2025-12-01"}
        cells["thickness"] = f"{0.46 - number / 10000:.4f} in"
        confirm.send(enter(folder, Typed("survey, long", cells), BY, f"measured, {number}", AS_OF))


WORKS: dict[str, Work] = {
    "a build": build_corrected,
    "accepting a workbook": accept_corrected,
    "saving an entry": save_entries,
}


# ---- one trial ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Trial:
    """What one killed process left: after how long it was killed, and every fault seen (none is the promise)."""

    work: str
    seconds: float
    ended_itself: bool
    confirmed: int
    results: str
    faults: tuple[str, ...]


class Killer:
    """Runs works in processes of their own and kills them; the program is loaded once and each process forked."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._context = multiprocessing.get_context("forkserver")
        self._context.set_forkserver_preload(["tests.faults"])
        self._random = random.Random(seed)
        self._plant = folder / "plant"
        prepare(self._plant)
        self._before = digest(self._plant)
        self._durations: dict[str, float] = {}
        self._after: dict[str, str] = {}
        for work in WORKS:  # how long each takes undisturbed, and what it makes
            seconds, _, _ = self._run(work, self._copy(), None)
            self._durations[work] = seconds
            self._after[work] = digest(self._scratch)

    @property
    def _scratch(self) -> Path:
        return self._plant.with_name("scratch")

    def _copy(self) -> Path:
        shutil.rmtree(self._scratch, ignore_errors=True)
        shutil.copytree(self._plant, self._scratch, symlinks=True)
        shutil.copyfile(corrected(self._plant), corrected(self._scratch))
        return self._scratch

    def _run(self, work: str, folder: Path, kill_after: float | None) -> tuple[float, bool, list[int | str]]:
        """Return how long it ran, whether it ended itself, and what it had confirmed."""
        ours, theirs = self._context.Pipe(duplex=False)
        process = self._context.Process(target=WORKS[work], args=(folder, theirs))
        start = time.monotonic()
        process.start()
        theirs.close()
        confirmed: list[int | str] = []
        while process.is_alive() and (kill_after is None or time.monotonic() - start < kill_after):
            if ours.poll(0.002 if kill_after is None else min(0.002, kill_after)):
                try:
                    confirmed.append(ours.recv())
                except EOFError:
                    process.join(30)
                    break
        ended = not process.is_alive()
        process.kill()
        process.join(30)
        seconds = time.monotonic() - start
        try:
            while ours.poll(0):
                confirmed.append(ours.recv())
        except EOFError:
            pass
        return seconds, ended, confirmed

    def trial(self, work: str) -> Trial:
        """Kill one process at a random instant of its life and look at what it left."""
        folder = self._copy()
        kill_after = self._random.uniform(0, self._durations[work] * 1.02)
        seconds, ended, confirmed = self._run(work, folder, kill_after)
        if ended:  # the machine is less busy than at the first run
            self._durations[work] = min(self._durations[work], seconds)
        faults: list[str] = []
        found = digest(folder)
        results = {self._before: "old", self._after[work]: "new"}.get(found)
        if results is None:
            faults.append("the results are neither the old nor the new ones")
        if confirmed and work != "saving an entry" and results != "new":
            faults.append("the end was confirmed and the results are the old ones")
        record = Record(folder / RECORD_NAME)
        faults += [f"record: {fault.words}" for fault in record.verify()]
        kept = {entry.seq for entry in record.entries()}
        if work == "saving an entry" and not set(confirmed) <= kept:
            faults.append(f"confirmed entries are missing: {sorted(set(confirmed) - kept)}")
        if work == "accepting a workbook":
            is_new = (folder / "plant.xlsx").read_bytes() == corrected(folder).read_bytes()
            accepted = any(entry.kind == "file accepted" for entry in record.history())
            is_old = (folder / "plant.xlsx").read_bytes() == (self._plant / "plant.xlsx").read_bytes()
            if not (is_new or is_old):
                faults.append("the workbook in the folder is neither the old nor the new one")
            if is_new and not accepted:
                faults.append("a workbook is in the folder that nobody accepted")
        return Trial(work, seconds, ended, len(confirmed), results or "neither", tuple(faults))

    def goes_on(self) -> str:
        """Build once more in the folder the last trial left; return a fault in words, empty where there is none."""
        build(self._scratch, as_of=AS_OF)
        strays = [path.name for path in self._scratch.iterdir() if path.name.endswith((".making", ".wal"))]
        if Record(self._scratch / RECORD_NAME).verify():
            return "the record does not verify after the next build"
        return "" if len(strays) <= 1 else f"files are left behind: {', '.join(sorted(strays))}"


def digest(folder: Path) -> str:
    """Return a hash of the published results: every row of the tables people see, but for the time of the build."""
    with open_results(folder / "results.duckdb") as connection:
        tables = connection.execute(
            "SELECT table_name FROM duckdb_tables() WHERE schema_name = 'result' ORDER BY table_name"
        ).fetchall()
        said = [connection.execute(f'SELECT * FROM result."{name}" ORDER BY ALL').fetchall() for (name,) in tables]
    return hashlib.sha256(repr(said).encode()).hexdigest()
