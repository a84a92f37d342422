"""How long the audit workbook of a large plant takes, and how much memory, beside its bare values written plainly.

Run it on request: `python -m tests.bench.export [VESSELS]`. A fleet is drawn and built first (minutes); then three
processes are measured one after another: the export by the command's own road, the same with every location, and the
baseline, which writes the values of the first workbook's cells, no formula, no look and no source worked out, by the
public calls of the same library.
"""

from __future__ import annotations

import os
import platform
import re
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import xlsxwriter
from python_calamine import CalamineWorkbook

from pipeline.export import export_workbook, statement_path
from pipeline.publishing import open_results
from pipeline.run import build
from tests.fleets import EVERYTHING, write_fleet

VESSELS = 5_000
SIZES = {"components": 4, "places": 4, "readings": 5, "external_pressure": 0.05, "thin_head": 0.02}
AS_OF = date(2026, 11, 1)
SECONDS, MEMORY_GB = 60.0, 1.0


def main() -> None:
    """Measure and print."""
    if len(sys.argv) == 4:
        _work(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
        return
    vessels = int(sys.argv[1]) if len(sys.argv) > 1 else VESSELS
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"duckdb {duckdb.__version__}, XlsxWriter {xlsxwriter.__version__}"
    )
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "plant"
        write_fleet(folder, vessels, 11, **SIZES, **EVERYTHING)
        made = build(folder, as_of=AS_OF)
        print(", ".join(f"{made.counts[name]:,} {name}s" for name in ("asset", "component", "location", "reading")))
        workbook = Path(place) / "audit.xlsx"
        governing = _measured("export", made.database, workbook)
        everywhere = _measured("every location", made.database, Path(place) / "all.xlsx")
        plain = _measured("plain values", workbook, Path(place) / "plain.xlsx")
    print("| what | seconds | of processor | peak memory, GB | file, MB |\n|---|---|---|---|---|")
    for name, (wall, cpu, peak, size) in (
        ("audit workbook", governing),
        ("audit workbook, every location", everywhere),
        ("baseline: its values alone, plainly", plain),
    ):
        print(f"| {name} | {wall:.1f} | {cpu:.1f} | {peak:.2f} | {size:.1f} |")
    print(f"\nThe workbook takes {governing[1] / plain[1]:.2f} times the processor time of its bare values.")
    kept = governing[0] <= SECONDS and governing[2] <= MEMORY_GB
    print(f"Within {SECONDS:.0f} s and {MEMORY_GB:.0f} GB: {'yes' if kept else 'NO'} (load {os.getloadavg()[0]:.1f})")


def _measured(what: str, source: Path, target: Path) -> tuple[float, float, float, float]:
    """Return seconds, seconds of processor, peak memory in GB and size of the file in MB, of one process."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.export", what, str(source), str(target)],
        capture_output=True,
        text=True,
        check=True,
    )
    wall, cpu, peak = (float(word) for word in done.stdout.split())
    return wall, cpu, peak, target.stat().st_size / 1e6


def _work(what: str, source: Path, target: Path) -> None:
    """Do one piece of work in this process and print its three figures."""
    values = _values(source) if what == "plain values" else {}
    start, spent = time.perf_counter(), time.process_time()
    if what == "plain values":
        _write_plainly(values, target)
    else:
        statement = statement_path(source) if what == "export" else None
        everywhere = what == "every location"
        export_workbook(open_results(source), target, (), everywhere, statement, remember=True)
    wall, cpu = time.perf_counter() - start, time.process_time() - spent
    # Not the process's own count of resources: that begins with what its parent held.
    peak = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="utf-8"))
    print(wall, cpu, int(peak[1]) / 1e6 if peak else float("nan"))


def _values(workbook: Path) -> dict[str, list[list[Any]]]:
    book = CalamineWorkbook.from_path(str(workbook))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def _write_plainly(values: dict[str, list[list[Any]]], target: Path) -> None:
    with xlsxwriter.Workbook(str(target), {"constant_memory": True}) as book:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, rows in values.items():
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                for place, value in enumerate(row):
                    if isinstance(value, (int, float)):
                        sheet.write_number(at, place, value)
                    elif isinstance(value, date):
                        sheet.write_datetime(at, place, value, day)
                    elif value != "":
                        sheet.write_string(at, place, str(value))


if __name__ == "__main__":
    main()
