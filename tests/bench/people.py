"""Many people at once: `python -m tests.bench.people [--minutes 5] [--readers 20] [--writers 5]`.

Readers open pages of different assets one after another; writers enter readings through the page *Enter and judge*,
all against the real server on the loopback address and the demo plant. Afterwards every entry a page confirmed must be
in the record, and the record must verify. Prints the percentiles of the waits, every error, and the server's memory.
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import statistics
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import duckdb

from pipeline.cli import server_command
from pipeline.record import RECORD_NAME, Record
from pipeline.run import build
from tests.bench.session import Session
from tests.browser.running import ROOT, answering, free_port

AS_OF = date(2026, 11, 1)
DEMO = ROOT / "demo_plant"
PAGES = ("", "asset", "asset", "asset", "planning", "measuring", "sources", "my_assets")


@dataclass
class Seen:
    """What the sessions of one kind waited and met."""

    waits: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    confirmed: list[int] = field(default_factory=list)


def read(port: int, assets: list[str], until: float, seen: Seen, seed: int) -> None:
    """Open pages until the time is over."""
    chance = random.Random(seed)
    session = Session(port, f"Reader {seed}")
    while time.monotonic() < until:
        page = chance.choice(PAGES)
        try:
            seen.waits.append(session.open(page, asset=chance.choice(assets)) if page else session.open(page))
            seen.errors += session.errors
        except Exception as fault:
            seen.errors.append(f"{page}: {type(fault).__name__}: {fault}")
            session = Session(port, f"Reader {seed}")
        time.sleep(chance.uniform(0.5, 3))  # a person looks at what is shown
    session.close()


def write(port: int, asset: str, until: float, seen: Seen, seed: int) -> None:
    """Enter one reading after another for one asset until the time is over."""
    session = Session(port, f"Writer {seed}")
    number = 0
    while time.monotonic() < until:
        number += 1
        try:
            seen.waits.append(session.open("entering", asset=asset))
            session.set("Date", f"2026-10-{1 + number % 28:02d}")
            session.set("Thickness", f"{0.5 - number / 10000:.4f} in")
            session.set("Remark", f"writer {seed}, reading {number}")
            seen.waits.append(session.press("Judge"))
            session.set("Reason", "measured in the round of the day")
            seen.waits.append(session.press("Enter 1 row"))
            seen.errors += session.errors
            said = [found for words in session.words for found in re.findall(r"as entry (\d+)", words)]
            if not said:
                seen.errors.append(f"no entry was confirmed; the page said {session.words[:4]}")
            seen.confirmed += [int(entry) for entry in said]
        except Exception as fault:
            seen.errors.append(f"entering: {type(fault).__name__}: {fault}")
            session = Session(port, f"Writer {seed}")
    session.close()


def memory_mb(port: int) -> float:
    """Return the memory of the server's process, found by the port in its command line."""
    for process in Path("/proc").glob("[0-9]*"):
        try:
            command = (process / "cmdline").read_text()
            status = (process / "status").read_text()
        except OSError:
            continue
        if str(port) in command and "streamlit" in command:
            return int(re.findall(r"VmRSS:\s+(\d+)", status)[0]) / 1024
    return float("nan")


def main() -> int:
    """Run the sessions and print what they met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--readers", type=int, default=20)
    parser.add_argument("--writers", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "plant"
        shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("*.py", "record.*", "results.*", "basis.toml"))
        text = (DEMO / "basis.toml").read_text(encoding="utf-8")
        # Nobody is named: on one's own machine everyone may enter, under any name.
        (folder / "basis.toml").write_text(re.sub(r"(?ms)^\[people\].*?(?=^\[|\Z)", "", text), encoding="utf-8")
        build(folder, as_of=AS_OF)
        database = folder / "results.duckdb"
        with duckdb.connect(str(database.resolve()), read_only=True) as results:
            assets = [tag for (tag,) in results.execute("SELECT asset FROM result.asset ORDER BY rank").fetchall()]
        port = free_port()
        command = server_command(port)
        named = {"HOOPLINE_DATABASE": str(database), "HOOPLINE_FOLDER": str(folder)}
        with answering(command, port, Path(scratch) / "log.txt", named):
            readers = [Seen() for _ in range(options.readers)]
            writers = [Seen() for _ in range(options.writers)]
            until = time.monotonic() + options.minutes * 60
            threads = [
                *(
                    threading.Thread(target=read, args=(port, assets, until, seen, number))
                    for number, seen in enumerate(readers)
                ),
                *(
                    threading.Thread(target=write, args=(port, assets[number], until, seen, number))
                    for number, seen in enumerate(writers)
                ),
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            memory = memory_mb(port)
        record = Record(folder / RECORD_NAME)
        kept = {entry.seq for entry in record.entries()}
        confirmed = [entry for seen in writers for entry in seen.confirmed]
        faults = record.verify()
        lost = set(confirmed) - kept
    print("| who | sessions | waits | median s | 95 % s | 99 % s | longest s | errors |")
    print("|---|---|---|---|---|---|---|---|")
    for name, group in (("reading", readers), ("entering", writers)):
        waits = sorted(wait for seen in group for wait in seen.waits)
        cuts = statistics.quantiles(waits, n=100) if len(waits) > 1 else waits * 99
        errors = sum(len(seen.errors) for seen in group)
        shown = [f"{wait:.2f}" for wait in (statistics.median(waits), cuts[94], cuts[98], waits[-1])]
        print("| " + " | ".join([name, str(len(group)), str(len(waits)), *shown, str(errors)]) + " |")
    print(f"\nentries confirmed {len(confirmed)}, in the record {len(kept)}, lost {len(lost)}")
    print(f"record: {len(faults)} faults; server's memory at the end {memory:.0f} MB")
    errors_said = [error for seen in (*readers, *writers) for error in seen.errors]
    for error in errors_said[:20]:
        print(error)
    return 1 if lost or faults or errors_said else 0


if __name__ == "__main__":
    sys.exit(main())
