"""The app in a real browser against the real server: click the first row, land on its reasons, fetch nothing outside.

Where HOOPLINE_SCREENSHOTS names a folder, pictures of every page are put there, wide and narrow, light and dark.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from pipeline.cli import server_options
from tests.support import chromium_program, needs_chromium

pytestmark = needs_chromium

ROOT = Path(__file__).resolve().parents[2]
LOOPBACK = "127.0.0.1"
HEADING_HEIGHT = 35
ROW_HEIGHT = 66
END_OF_PAGE = "For review by qualified people"
PAGES = {
    "fleet": "/",
    "asset": "/asset?asset=D-204",
    "asset in SI": "/asset?asset=C-301&component=Shell+2&location=TP-05&units=si",
    "not assessable": "/asset?asset=V-410",
    "sources": "/sources",
    "method": "/method",
}
#: How many colours a canvas shows; one or two are an empty one.
COLOURS_OF_A_CANVAS = """canvas => {
    const pixels = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
    const seen = new Set();
    for (let i = 0; i < pixels.length; i += 4) seen.add(`${pixels[i]},${pixels[i + 1]},${pixels[i + 2]}`);
    return seen.size;
}"""
SIZES = {"wide": (1440, 900), "narrow": (390, 844)}


@pytest.fixture(scope="module")
def address(demo_results: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Run the server on a free port of the loopback address and return where it answers."""
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port = probe.getsockname()[1]
    log = tmp_path_factory.mktemp("server") / "log.txt"
    command = [sys.executable, "-m", "streamlit", "run", str(ROOT / "dashboard" / "app.py"), *server_options(port)]
    environment = {**os.environ, "HOOPLINE_DATABASE": str(demo_results)}
    with log.open("w") as output:
        server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=output, stderr=subprocess.STDOUT)
    where = f"http://{LOOPBACK}:{port}"
    try:
        for _ in range(120):
            try:
                with urllib.request.urlopen(f"{where}/_stcore/health", timeout=1) as answer:
                    if answer.status == 200:
                        break
            except (urllib.error.URLError, OSError):
                if server.poll() is not None:
                    break
            time.sleep(0.25)
        else:
            pytest.fail(f"the server did not answer: {log.read_text()}")
        if server.poll() is not None:
            pytest.fail(f"the server ended: {log.read_text()}")
        yield where
    finally:
        server.terminate()
        server.wait(timeout=20)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that remembers what it asked of whom."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    opened = context.new_page()
    asked: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    yield opened
    outside = [url for url in asked if urlsplit(url).scheme in ("http", "https", "ws", "wss")]
    outside = [url for url in outside if urlsplit(url).hostname != LOOPBACK]
    context.close()
    assert asked
    assert outside == []


def ready(page: Page) -> None:
    """Wait until the page is drawn to its end and no script runs."""
    expect(page.get_by_text(END_OF_PAGE)).to_be_visible(timeout=60_000)
    expect(page.get_by_test_id("stStatusWidget")).to_have_count(0, timeout=60_000)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0, timeout=60_000)


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


def asset_in(url: str) -> list[str]:
    return parse_qs(urlsplit(url).query).get("asset", [])


def test_the_first_row_leads_to_its_reasons_and_source_cells(page: Page, address: str) -> None:
    page.goto(address)
    ready(page)
    tag, state = cell(page, 2, 0), cell(page, 3, 0)
    assert cell(page, 1, 0) == "1"
    assert state == "▼ below required"
    tick(page, 0)
    expect(page.get_by_role("heading", level=1)).to_contain_text(tag)
    ready(page)
    assert urlsplit(page.url).path == "/asset"
    assert asset_in(page.url) == [tag]
    expect(page.get_by_text("Below required thickness: stop and refer to the owner's engineer")).to_be_visible()
    expect(page.get_by_role("heading", name="The reasons for Shell 1, location 3")).to_be_visible()
    expect(page.get_by_text("UT results 2019-2026.csv, E799: “0.440 in” (read on 2025-09-09)").first).to_be_visible()
    step = page.get_by_text("remaining life from the last reading").first
    step.click()
    expect(page.locator(".katex").get_by_text("RL", exact=False).first).to_be_visible()


def test_back_leads_to_the_fleet_and_the_filter_is_kept(page: Page, address: str) -> None:
    page.goto(f"{address}/?state=overdue")
    ready(page)
    tag = cell(page, 2, 1)
    assert cell(page, 3, 1) == "■ overdue"
    tick(page, 1)
    expect(page.get_by_role("heading", level=1)).to_contain_text(tag)
    ready(page)
    page.get_by_role("link", name="Fleet").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Fleet")
    ready(page)
    assert parse_qs(urlsplit(page.url).query) == {"state": ["overdue"]}
    assert cell(page, 2, 1) == tag


def test_a_tick_in_a_sorted_table_opens_the_asset_that_is_seen(page: Page, address: str) -> None:
    page.goto(f"{address}/?state=overdue")
    ready(page)
    unsorted = cell(page, 2, 0)
    click_table(page, 98, HEADING_HEIGHT / 2)
    page.wait_for_timeout(500)
    first = cell(page, 2, 0)
    assert first != unsorted
    tick(page, 0)
    expect(page.get_by_role("heading", level=1)).to_contain_text(first)
    ready(page)
    assert asset_in(page.url) == [first]


def test_an_asset_is_opened_without_a_mouse(page: Page, address: str) -> None:
    page.goto(address)
    ready(page)
    tag = cell(page, 2, 0)
    page.get_by_role("button", name=f"Open {tag}").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(tag)


@pytest.mark.parametrize("name", PAGES)
def test_no_page_draws_an_empty_canvas_or_a_traceback(page: Page, address: str, name: str) -> None:
    page.goto(f"{address}{PAGES[name]}")
    ready(page)
    assert page.get_by_test_id("stException").count() == 0
    assert page.get_by_text("could not be drawn").count() == 0
    page.wait_for_timeout(1500)
    visible = page.locator("canvas:visible").all()
    assert bool(visible) == (name != "method")
    for drawn in visible:
        drawn.scroll_into_view_if_needed()
        page.wait_for_timeout(200)
        assert drawn.evaluate(COLOURS_OF_A_CANVAS) > 3
    # nothing sticks out of the page sideways
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.skipif(not os.environ.get("HOOPLINE_SCREENSHOTS"), reason="HOOPLINE_SCREENSHOTS names no folder")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_pictures_of_every_page(browser: Browser, address: str, size: str, scheme: str) -> None:
    folder = Path(os.environ["HOOPLINE_SCREENSHOTS"])
    folder.mkdir(parents=True, exist_ok=True)
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark" if scheme == "dark" else "light"
    )
    for name, path in PAGES.items():
        opened = context.new_page()
        opened.goto(f"{address}{path}")
        ready(opened)
        opened.wait_for_timeout(1500)
        picture = folder / f"{name.replace(' ', '-')}-{size}-{scheme}.png"
        opened.screenshot(path=picture)
        assert picture.stat().st_size > 10_000
        opened.close()
    context.close()
