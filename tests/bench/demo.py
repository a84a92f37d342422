"""How long the demo's build takes, and how long after opening the app shows the ranking.

Run `python -m tests.bench.demo`. The baseline of the build is python-calamine (and csv) reading the same files into
Python lists and nothing more, in the same run. The app is opened in Debian's Chromium on results made before; its
baseline is a page of the same server that shows nothing (its health page).
"""

from __future__ import annotations

import csv
import io
import os
import platform
import re
import shutil
import socket
import statistics
import subprocess
import tempfile
import time
import urllib.request
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import streamlit
from playwright.sync_api import sync_playwright
from python_calamine import CalamineWorkbook

from pipeline.cli import server_command
from pipeline.run import build
from tests.support import chromium_program

ROOT = Path(__file__).resolve().parent.parent.parent
RUNS = 5
AS_OF = date(2026, 11, 1)


def main() -> None:
    """Measure and print."""
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"duckdb {duckdb.__version__}, streamlit {streamlit.__version__}; medians of {RUNS} runs"
    )
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "plant"
        shutil.copytree(ROOT / "demo_plant", folder, ignore=shutil.ignore_patterns("*.py", "record.*", "results.*"))
        reading = median_of(lambda: read_only(folder))
        building = median_of(lambda: build(folder, as_of=AS_OF))
        print(f"reading the files into lists: {reading:.2f} s")
        print(f"build: {building:.2f} s, {building / reading:.1f} times the reading")
        opening(folder / "results.duckdb")


def median_of(work: Callable[[], object]) -> float:
    """Return the median duration in seconds."""
    spent = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def read_only(folder: Path) -> int:
    """Read every cell of every file into Python lists."""
    cells = 0
    for path in folder.iterdir():
        if path.suffix == ".csv":
            cells += sum(len(row) for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
        elif path.suffix == ".xlsx":
            book = CalamineWorkbook.from_path(str(path))
            cells += sum(len(row) for name in book.sheet_names for row in book.get_sheet_by_name(name).to_python())
    return cells


def opening(database: Path) -> None:
    """Time the server's start, and the ranking's appearance in a new browser window."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    address = f"http://127.0.0.1:{port}"
    command = server_command(port)
    start = time.perf_counter()
    environment = {**os.environ, "HOOPLINE_DATABASE": str(database)}
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as server:
        try:
            while not answers(f"{address}/_stcore/health"):
                time.sleep(0.05)
            print(f"server ready after {time.perf_counter() - start:.2f} s")
            health = median_of(lambda: answers(f"{address}/_stcore/health"))
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
                spent = []
                for _ in range(RUNS):
                    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
                    begun = time.perf_counter()
                    page.goto(address)
                    page.get_by_test_id("stDataFrame").first.wait_for(timeout=60_000)
                    page.get_by_role("button", name=re.compile("^Open ")).first.wait_for(timeout=60_000)
                    spent.append(time.perf_counter() - begun)
                    page.context.close()
                browser.close()
            print(
                f"ranking shown after opening: first {spent[0]:.2f} s, median {statistics.median(spent):.2f} s, "
                f"{statistics.median(spent) / health:.0f} times the health page"
            )
        finally:
            server.terminate()


def answers(address: str) -> bool:
    """Return whether the address answers."""
    try:
        with urllib.request.urlopen(address, timeout=1) as reply:
            return bool(reply.status == 200)
    except OSError:
        return False


if __name__ == "__main__":
    main()
