"""How the pipeline holds up with size: time, memory and growth from 500,000 readings on, against two baselines.

Run `python -m tests.bench.scale [--readings N ...] [--runs N] [--keep FOLDER] [--to FILE.md]`; FOLDER keeps fleets and
results for the next run, FILE.md gets the report too. Measured by itself is the computing part: from checked readings
(`step.reading`) to the ranking. Its baselines, in the same run, are one bare aggregation of the same readings by the
same database, and the same results worked out in pandas. Every measurement runs in a process of its own. A plant of
many sheets, one of them changed, is built twice as well.

For work on the steps: `--until 70` leaves out the tables of results, `--alone` everything but the builds, and
`python -m tests.bench.scale --again FILE.duckdb` does only the computing steps once more, in results kept before.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.bench import scale_report
from tests.bench.fleets import write_plant
from tests.bench.in_pandas import PLAIN
from tests.bench.scale_facts import make_facts
from tests.bench.scale_report import Measured, Pandas, Reread

SIZES = (500_000, 5_000_000)
LARGE = 10_000_000
#: Row by row pandas takes minutes for a size beyond which only waiting is learnt; what grows is the number of rows.
ROWS_UP_TO = 1_000_000
MEMORY, MEMORY_LARGE = "3GB", "12GB"
RUNS = 3
SHEETS_OF_VESSELS = 1_000


def main() -> None:
    """Make the fleets, measure and print."""
    options = _options()
    if options.again:
        runs = [child("again", options.again, options.memory or MEMORY) for _ in range(options.runs[0])]
        print("\n".join(scale_report.costliest([run["laps"] for run in runs], every=True)))
        print(scale_report.computing(runs))
        return
    with tempfile.TemporaryDirectory(prefix="scale.") as temporary:
        work = Path(options.keep or temporary)
        work.mkdir(parents=True, exist_ok=True)
        found: list[Measured] = []
        for readings, number in zip(options.readings, options.runs, strict=True):
            found.append(measure(readings, work, options, number))
            _write(options.to, scale_report.report(found, None))  # what is there so far: the next size takes long
        lines = scale_report.report(found, None if options.alone else read_again(work))
    _write(options.to, lines)
    print("\n".join(lines))


def _write(path: str | None, lines: Sequence[str]) -> None:
    if path:
        Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.scale", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--readings", type=int, action="append", help="about how many; give it again for more sizes")
    parser.add_argument("--runs", type=int, action="append", help="builds; give it again for each size")
    parser.add_argument("--memory", help=f"the database's limit ({MEMORY}; {MEMORY_LARGE} above {LARGE:,} readings)")
    parser.add_argument("--keep", help="folder that keeps fleets and results")
    parser.add_argument("--to", help="file the report is written to as well")
    parser.add_argument("--until", type=int, default=99, help="number of the last step")
    parser.add_argument("--alone", action="store_true", help="without baselines and the plant of many sheets")
    parser.add_argument("--again", help="results in which the computing steps are done once more")
    options = parser.parse_args()
    options.readings = options.readings or list(SIZES)
    options.runs = options.runs or [RUNS]
    options.runs += options.runs[-1:] * (len(options.readings) - len(options.runs))
    if len(options.runs) > len(options.readings):
        parser.error("--runs is given more often than --readings")
    options.alone = options.alone or options.until < 99
    return options


def measure(readings: int, work: Path, options: argparse.Namespace, number: int) -> Measured:
    """Make one fleet, build its results so many times and run the baselines on the last of them."""
    facts = make_facts(work / f"facts_{readings}.duckdb", readings, work)
    memory = options.memory or (MEMORY_LARGE if readings > LARGE else MEMORY)
    database = work / f"results_{readings}.duckdb"
    builds = _builds(facts.path, database, memory, options.until, number)
    if options.alone:
        return Measured(facts, memory, builds)
    aggregation = child("aggregation", str(database), memory)
    if readings > LARGE:  # frames of this size do not fit beside it into the memory of one machine
        return Measured(facts, memory, builds, aggregation)
    plain = make_facts(work / f"facts_plain_{readings}.duckdb", readings, work, PLAIN)
    database = work / f"results_plain_{readings}.duckdb"
    plain_builds = _builds(plain.path, database, memory, options.until, number)
    columns = child("pandas", str(database), "columns", str(number))
    rows = child("pandas", str(database), "rows", "1") if readings <= ROWS_UP_TO else None
    return Measured(facts, memory, builds, aggregation, Pandas(plain, plain_builds, columns, rows))


def _builds(facts: Path, database: Path, memory: str, last: int, number: int) -> list[dict[str, Any]]:
    builds = []
    for build in range(1, number + 1):
        builds.append(child("build", str(facts), str(database), memory, str(last)))
        print(f"{facts.stem}, build {build}: {scale_report.computing(builds[-1:])}", file=sys.stderr, flush=True)
    return builds


def read_again(work: Path) -> Reread:
    """Build a plant of many sheets, change a cell of one, and build it anew."""
    sheets = work / "sheets"
    if not sheets.exists():
        making = work / "sheets.making"
        shutil.rmtree(making, ignore_errors=True)
        write_plant(making, SHEETS_OF_VESSELS)
        making.rename(sheets)
    with tempfile.TemporaryDirectory(dir=work) as folder:
        plant = Path(folder) / "plant"
        shutil.copytree(sheets, plant)
        first = child("reading", str(plant))
        changed = max(plant.rglob("readings *.csv"), key=lambda path: (path.stat().st_size, path))
        text = changed.read_text(encoding="utf-8")
        changed.write_text(_one_cell_changed(text), encoding="utf-8")
        return Reread(changed.relative_to(plant).as_posix(), first, child("reading", str(plant)))


def _one_cell_changed(text: str) -> str:
    """The sheet with its last thickness a thousandth less."""
    rows = text.splitlines()
    number = max(at for at, row in enumerate(rows) if re.fullmatch(r"[\d.]+", row.rsplit(",", 1)[-1]))
    place, thickness = rows[number].rsplit(",", 1)
    rows[number] = f"{place},{round(float(thickness) - 0.001, 4)}"
    return "\n".join(rows) + "\n"


def child(*arguments: str) -> dict[str, Any]:
    """Return what one work in a process of its own found; its complaints go to this process's."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.scale_run", *arguments], stdout=subprocess.PIPE, text=True, check=True
    )
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


if __name__ == "__main__":
    main()
