"""How much of `pipeline` the tests reach: lines and branches, module by module, and which of them no test reaches.

Run `python -m tests.bench.coverage` for the whole suite, in as many processes as it usually takes; name test files to
measure those alone. Programs that tests start (the command line, the served app) count too. `--data FOLDER` keeps the
measurement there and adds to what it holds, so that a suite can be measured in pieces; `--report` prints what such a
folder holds and runs nothing. Steps and checks are SQL: no line of them is counted here, `tests.bench.mutants` asks
after them.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import coverage

ROOT = Path(__file__).resolve().parent.parent.parent
GOAL = 95.0
#: `patch` reaches programs that tests start and processes that end without a word; `sigterm` the served app, which is
#: told to end. `core` is the one that counts branches on every Python this project runs on.
SETTINGS = """
[run]
source = {root}/pipeline
branch = true
parallel = true
core = ctrace
sigterm = true
patch = subprocess, _exit
data_file = {data}/measured
disable_warnings = no-data-collected, module-not-measured
"""


@dataclass(frozen=True)
class Reached:
    """What was reached of one module or of all: counts of lines and branches, and where something is missed."""

    module: str
    lines: int
    lines_reached: int
    branches: int
    branches_reached: int
    missed_lines: tuple[int, ...] = ()
    missed_branches: tuple[tuple[int, int], ...] = ()


def main() -> int:
    """Measure, print the table; 1 where a test failed or the goal is missed."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("tests", nargs="*", help="test files; without any, the whole suite")
    asked.add_argument("--data", type=Path, help="folder that keeps the measurement and is added to")
    asked.add_argument("--report", action="store_true", help="print what the folder holds, run nothing")
    asked.add_argument("--processes", type=int, help="processes of pytest; without, as many as the suite takes")
    given = asked.parse_args()
    if given.report and given.data is None:
        asked.error("--report needs the folder of a measurement: --data FOLDER")
    with tempfile.TemporaryDirectory() as passing:
        data = (given.data or Path(passing)).resolve()
        data.mkdir(parents=True, exist_ok=True)
        settings = data / "settings.ini"
        settings.write_text(SETTINGS.format(root=ROOT, data=data), encoding="utf-8")
        failed = False if given.report else measure(settings, given.tests, given.processes)
        found = reached(settings)
        print("\n".join(table(found)))
        total = sum_of(found)
    short = min(share(total.lines_reached, total.lines), share(total.branches_reached, total.branches)) < GOAL
    return int(failed or (short and not given.tests))


def measure(settings: Path, tests: Sequence[str], processes: int | None) -> bool:
    """Run the tests under measurement, show what pytest says, and return whether any failed."""
    begun = time.perf_counter()
    own = ["-n", str(processes)] if processes is not None else []
    command = [
        sys.executable,
        "-m",
        "coverage",
        "run",
        f"--rcfile={settings}",
        "-m",
        "pytest",
        "-p",
        "no:cacheprovider",
    ]
    done = subprocess.run([*command, "-q", *own, *tests], cwd=ROOT, check=False)
    spent = os.times()
    print(
        f"{time.perf_counter() - begun:.0f} s, of which {spent.children_user + spent.children_system:.0f} s of "
        "processor time under measurement"
    )
    return done.returncode != 0


def reached(settings: Path) -> list[Reached]:
    """Put the pieces of a measurement together and return what was reached of every module."""
    whole = coverage.Coverage(config_file=str(settings))
    whole.combine(keep=True)
    with tempfile.TemporaryDirectory() as place:
        written = Path(place) / "reached.json"
        whole.json_report(outfile=str(written))
        files = json.loads(written.read_text(encoding="utf-8"))["files"]
    return sorted((of_module(name, said) for name, said in files.items()), key=lambda each: each.module)


def of_module(file: str, said: dict[str, Any]) -> Reached:
    """Read what the report says of one file."""
    summary = said["summary"]
    return Reached(
        str(Path(file).resolve().relative_to(ROOT)) if Path(file).is_absolute() else file,
        summary["num_statements"],
        summary["covered_lines"],
        summary["num_branches"],
        summary["covered_branches"],
        tuple(said["missing_lines"]),
        tuple((begin, end) for begin, end in said["missing_branches"]),
    )


def sum_of(found: Sequence[Reached]) -> Reached:
    """Return the sum over all modules."""
    return Reached(
        "total",
        sum(each.lines for each in found),
        sum(each.lines_reached for each in found),
        sum(each.branches for each in found),
        sum(each.branches_reached for each in found),
    )


def share(part: int, whole: int) -> float:
    """Return a share in per cent; of nothing, all is reached."""
    return 100.0 * part / whole if whole else 100.0


def table(found: Sequence[Reached]) -> list[str]:
    """Return a line for every module, most missed last before the total, with what is missed."""
    width = max(len(each.module) for each in found)
    head = f"{'module':{width}}  {'lines':>6} {'%':>6}  {'branches':>8} {'%':>6}  missed (line, or from line to line)"
    lines = [head, "-" * len(head)]
    for each in (*found, sum_of(found)):
        numbers = (
            f"{each.module:{width}}  {each.lines:6d} {share(each.lines_reached, each.lines):6.1f}  "
            f"{each.branches:8d} {share(each.branches_reached, each.branches):6.1f}"
        )
        lines.append(f"{numbers}  {missed(each)}".rstrip())
    return lines


def missed(each: Reached) -> str:
    """Return lines and branches that nothing reached: `12-14` are lines, `20>24` a way from line to line not taken."""
    stretches: list[list[int]] = []
    for line in each.missed_lines:
        if stretches and line == stretches[-1][1] + 1:
            stretches[-1][1] = line
        else:
            stretches.append([line, line])
    words = [str(begin) if begin == end else f"{begin}-{end}" for begin, end in stretches]
    unseen = set(each.missed_lines)
    words += [
        f"{begin}>{'out' if end < 0 else end}"
        for begin, end in each.missed_branches
        if begin not in unseen and end not in unseen
    ]
    return ", ".join(words)


if __name__ == "__main__":
    sys.exit(main())
