"""Fixtures that several test modules share."""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, sync_playwright

from pipeline.run import build
from tests.support import chromium_program

# A machine busy with the other half of the tests is no fault of the example that ran meanwhile.
settings.register_profile("suite", deadline=None)
settings.load_profile("suite")

#: Files whose tests take longest, in the order in which they are handed out: one that comes last keeps one process
#: busy while the other has nothing left to do. What a browser does waits now and then; two of it at once wait on each
#: other.
LONGEST_FIRST = (
    "test_three_people.py",
    "test_export.py",
    "test_what_if.py",
    "test_workbook_page.py",
    "test_browser.py",
    "test_second_path.py",
    "test_properties.py",
    "test_sign_in.py",
    "test_one_definition.py",
    "test_planning_page.py",
    "test_inspector_pages.py",
    "test_due_rules.py",
    "test_faults.py",
    "test_dashboard.py",
    "test_cli.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests of the longest files first; within a file nothing moves."""
    place = {name: number for number, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path.name, len(place)))


DEMO = Path(__file__).resolve().parent.parent / "demo_plant"


@pytest.fixture(scope="session")
def demo_results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The results of the demo plant as of the date its stories are told, in a folder of its own: for reading only.

    It is built once for all processes of a run: the first one builds while the others wait.
    """
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    made = shared / "demo" / "plant"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            making = Path(tempfile.mkdtemp(dir=shared)) / "plant"
            unmade = shutil.ignore_patterns("*.py", "__pycache__", "record.sqlite*", "results.*")
            shutil.copytree(DEMO, making, ignore=unmade)
            build(making, as_of=date(2026, 11, 1))
            making.parent.rename(made.parent)
    return made / "results.duckdb"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, one for all tests of a process: a second one cannot be started beside it."""
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
        yield launched
        launched.close()
