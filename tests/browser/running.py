"""The app as a person starts it, on a free port, and what a person does in its pages: wait, read a table, click.

Nothing here sleeps for a fixed time: every wait ends as soon as what it waits for is there.
"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, TimeoutError, expect

from pipeline.cli import server_command

ROOT = Path(__file__).resolve().parents[2]
LOOPBACK = "127.0.0.1"
HEADING_HEIGHT = 35
ROW_HEIGHT = 66
END_OF_PAGE = "For review by qualified people"
#: Milliseconds a page is waited for, and seconds a server: long, for the machine may be busy with other tests.
PATIENCE = 90_000
START = 180
# The system hands out ports from 32768 on to outgoing connections. A port below them cannot be taken by one between
# here and the moment the server listens; each process of the tests looks through a stretch of its own.
_FIRST_PORT, _STRETCHES, _STRETCH = 20_000, 400, 30
_PROXIES = re.compile(r"(?i)^(https?|all|no)_proxy$")


def free_port() -> int:
    """Return a port of the loopback address nobody listens on."""
    begin = _FIRST_PORT + os.getpid() % _STRETCHES * _STRETCH
    for port in range(begin, begin + _STRETCH):
        with socket.socket() as probe:
            try:
                probe.bind((LOOPBACK, port))
            except OSError:
                continue
            return port
    raise OSError(f"no port from {begin} to {begin + _STRETCH - 1} is free")


@contextmanager
def serving(results: Path, scratch: Path) -> Iterator[str]:
    """Run the server on results and their folder, on a free port of the loopback address; give where it answers."""
    port = free_port()
    command = server_command(port)
    named = {"HOOPLINE_DATABASE": str(results), "HOOPLINE_FOLDER": str(results.parent)}
    with answering(command, port, scratch / "log.txt", named):
        yield f"http://{LOOPBACK}:{port}"


@contextmanager
def answering(command: Sequence[str], port: int, log: Path, named: Mapping[str, str]) -> Iterator[None]:
    """Run a server in a group of its own until the block ends; go on once it answers on its port.

    Fails with what it wrote where it ends, or does not answer in time. No proxy stands between it and this machine.
    """
    plain = {name: value for name, value in os.environ.items() if not _PROXIES.match(name)}
    with log.open("w") as output:
        server = subprocess.Popen(
            command, cwd=ROOT, env={**plain, **named}, stdout=output, stderr=subprocess.STDOUT, start_new_session=True
        )
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    until = time.monotonic() + START
    try:
        while True:
            try:
                with direct.open(f"http://{LOOPBACK}:{port}/_stcore/health", timeout=5):
                    break
            except (urllib.error.URLError, OSError):
                if server.poll() is not None:
                    pytest.fail(f"the server ended: {log.read_text()}")
                if time.monotonic() > until:
                    pytest.fail(f"the server did not answer: {log.read_text()}")
                time.sleep(0.1)
        if server.poll() is not None:  # then another one answered
            pytest.fail(f"the server ended: {log.read_text()}")
        yield
    finally:
        for how in (signal.SIGTERM, signal.SIGKILL):
            try:
                os.killpg(server.pid, how)
                server.wait(timeout=20)
                break
            except subprocess.TimeoutExpired:
                continue
            except ProcessLookupError:
                break


# ---- what a person does ---------------------------------------------------------------------------------------------


def ready(page: Page) -> None:
    """Wait until the page is drawn to its end and no script runs."""
    # While a page is drawn anew, the end of the one before may still stand beside its own.
    expect(page.get_by_text(END_OF_PAGE)).to_have_count(1, timeout=PATIENCE)
    expect(page.get_by_text(END_OF_PAGE)).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_test_id("stApp")).to_have_attribute("data-test-script-state", "notRunning", timeout=PATIENCE)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0, timeout=PATIENCE)


def go(page: Page, name: str) -> None:
    """Go to a page by the navigation at the left."""
    page.get_by_test_id("stSidebarNav").get_by_role("link", name=name, exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name, timeout=PATIENCE)
    ready(page)


def pick(page: Page, field: str, option: str) -> None:
    """Choose an option of a field that offers several, by its words, as one does in a long list."""
    box = page.get_by_role("combobox", name=field, exact=True)
    offered = page.get_by_role("option", name=option, exact=True)
    until = time.monotonic() + PATIENCE / 1000
    box.scroll_into_view_if_needed()
    box.fill(option)
    while True:
        try:
            offered.click(timeout=2_000)
            break
        except TimeoutError:  # a page that still scrolls closes the list again: open it once more
            if time.monotonic() > until:
                raise
            box.press("ArrowDown")
    expect(box).to_have_value(option, timeout=PATIENCE)
    ready(page)


def table(page: Page, name: str) -> Locator:
    """Return a table by what it says it is to a screen reader."""
    return page.get_by_test_id("stDataFrame").filter(has=page.get_by_label(name))


def cell(page: Page, column: int, row: int) -> str:
    """Return the text of a cell of the first table, as a screen reader finds it behind the canvas."""
    return page.get_by_test_id(f"glide-cell-{column}-{row}").first.text_content() or ""


def click_table(page: Page, x: float, y: float) -> None:
    """Click into the first table, this far from its upper left corner; the canvas takes clicks by position only."""
    canvas = page.get_by_test_id("data-grid-canvas").first
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + x, box["y"] + y)


def tick(page: Page, row: int) -> None:
    """Tick the box at the left of a row of the ranking."""
    click_table(page, 16, HEADING_HEIGHT + ROW_HEIGHT * row + ROW_HEIGHT / 2)


def rows_are(grid: Locator, expected: Sequence[tuple[str, ...]], columns: Sequence[int]) -> None:
    """Hold columns of a table's first rows against what they must be, as soon as the table tells of its newest rows."""
    until = time.monotonic() + PATIENCE / 1000
    while (seen := rows_of(grid, len(expected), columns)) != list(expected) and time.monotonic() < until:
        time.sleep(0.2)
    assert seen == list(expected)


def rows_of(grid: Locator, rows: int, columns: Sequence[int]) -> list[tuple[str, ...]]:
    """Return columns of a table's first rows, scrolling through it as only the rows in sight are told; fewer where
    there are fewer at this moment."""
    found: dict[int, tuple[str, ...]] = {}
    first = grid.get_by_test_id(f"glide-cell-{columns[-1]}-0")
    last_look = time.monotonic() + PATIENCE / 1000
    grid.scroll_into_view_if_needed()
    while first.count() == 0 and time.monotonic() < last_look:
        # What stands above may have grown since, and a table out of sight tells of no cell.
        grid.evaluate("part => part.scrollIntoView({block: 'center'})")
        time.sleep(0.1)
    scroller = grid.locator(".dvn-scroller")
    scroller.evaluate("part => part.scrollTo(0, 0)")
    lines = grid.get_by_test_id(re.compile(rf"^glide-cell-({'|'.join(map(str, columns))})-\d+$"))
    until = time.monotonic() + 5
    while len(found) < rows and time.monotonic() < until:
        told = dict(lines.evaluate_all("cells => cells.map(cell => [cell.dataset.testid, cell.textContent])"))
        new = {int(name.rsplit("-", 1)[1]) for name in told} - found.keys()
        for row in new:
            found[row] = tuple(told.get(f"glide-cell-{column}-{row}", "") for column in columns)
        if len(found) >= rows:
            break
        if new:
            until = time.monotonic() + 5
            scroller.evaluate("(part, by) => part.scrollBy(0, by)", 5 * ROW_HEIGHT)
        else:
            time.sleep(0.05)
    return [found[row] for row in sorted(found)][:rows]
