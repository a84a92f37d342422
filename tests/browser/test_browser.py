"""The app in a real browser against the real server: click the first row, land on its reasons, fetch nothing outside.

Where HOOPLINE_SCREENSHOTS names a folder, pictures of every page are put there, wide and narrow, light and dark.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from pipeline.run import build
from tests.browser.running import HEADING_HEIGHT, LOOPBACK, PATIENCE, cell, click_table, pick, ready, serving, tick
from tests.plants import SURVEY, write_plant, write_workbook
from tests.support import needs_chromium

pytestmark = needs_chromium

PAGES = {
    "fleet": "/",
    "asset": "/asset?asset=D-204",
    "asset in SI": "/asset?asset=C-301&component=Shell+2&location=TP-05&units=si",
    "not assessable": "/asset?asset=V-410",
    "workbook": "/workbook",
    "sheets": "/sheets",
    "sources": "/sources",
    "method": "/method",
}
WITHOUT_TABLE = ("workbook", "method")
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
    """Where the app answers on the demo plant."""
    with serving(demo_results, tmp_path_factory.mktemp("server")) as where:
        yield where


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
    expect(page.get_by_test_id("glide-cell-2-0").first).not_to_have_text(unsorted, timeout=PATIENCE)
    first = cell(page, 2, 0)
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


# ---- one more workbook, from the file input to the ranking ----------------------------------------------------------


@pytest.fixture
def small_plant(tmp_path: Path) -> Path:
    """The results of a plant of one vessel that is in date."""
    folder = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
        locations=[["V-1", "Shell", "1", 0.5]],
        readings=[["V-1", "Shell", "1", date(2015, 6, 1), 0.75], ["V-1", "Shell", "1", date(2023, 6, 1), 0.70]],
        inspections=[["V-1", "internal", date(2025, 6, 1), "fit"], ["V-1", "external", date(2025, 6, 1), "fit"]],
        basis='[people]\n"P. Example" = "inspector"\n',
    )
    return build(folder, as_of=date(2026, 1, 1)).database


def drop(page: Page, name: str, content: bytes) -> None:
    """Give the page's file input a workbook and wait for what is said of it."""
    page.locator("input[type=file]").set_input_files({"name": name, "mimeType": "", "buffer": content})
    expect(page.get_by_role("heading", name="Accept it")).to_be_visible(timeout=60_000)
    ready(page)


def test_a_dropped_workbook_is_seen_accepted_and_ranked(page: Page, small_plant: Path, tmp_path: Path) -> None:
    written = write_workbook(tmp_path / "w.xlsx", {"s": [SURVEY, ["V-1", "Shell", "1", date(2025, 12, 1), 0.35]]})
    with serving(small_plant, tmp_path) as where:
        page.goto(where)
        ready(page)
        assert cell(page, 3, 0) == "○ in date"
        page.get_by_role("link", name="Look at a workbook").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Look at a workbook")
        ready(page)
        drop(page, "survey 2025.xlsx", written.read_bytes())
        states, due = (page.get_by_test_id("stDataFrame").nth(place) for place in (0, 1))
        expect(states.get_by_test_id("glide-cell-1-0")).to_have_text("○ in date")
        expect(states.get_by_test_id("glide-cell-2-0")).to_have_text("▼ below required")
        moved = [due.get_by_test_id(f"glide-cell-{column}-2").text_content() for column in (1, 3)]
        assert moved == ["thickness survey", "2025-12-01"]
        assert not (small_plant.parent / "survey 2025.xlsx").exists()

        accept = page.get_by_role("button", name="Accept survey 2025.xlsx")
        accept.click()
        expect(
            page.get_by_text("Nothing was accepted: your name in the sidebar and the reason are missing.")
        ).to_be_visible()
        pick(page, "Your name", "P. Example")
        page.get_by_label("Reason").fill("contractor's report 17")
        page.get_by_role("button", name="Look again").click()  # a rerun loses nothing that was filled in
        expect(page.get_by_text("Nothing was accepted:")).to_have_count(0, timeout=PATIENCE)
        ready(page)
        expect(page.get_by_label("Reason")).to_have_value("contractor's report 17")
        accept.click()
        expect(page.get_by_text("survey 2025.xlsx is in the folder, accepted by P. Example")).to_be_visible(
            timeout=60_000
        )
        assert (small_plant.parent / "survey 2025.xlsx").read_bytes() == written.read_bytes()
        page.get_by_role("link", name="See the ranking with it on Fleet").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Fleet")
        ready(page)
        assert cell(page, 3, 0) == "▼ below required"


def demo_survey(scratch: Path) -> bytes:
    """A survey of the demo plant with a low reading, a tag nobody knows, a heading nobody knows and a smudged cell."""
    rows = [
        ["V-101", "Shell 1", "1", date(2026, 10, 20), 0.11, "calm"],
        ["V-101", "Shell 1", "2", date(2026, 10, 20), "smudged", ""],
        ["V101", "Shell 1", "3", date(2026, 10, 20), 0.45, ""],
    ]
    return write_workbook(scratch / "s.xlsx", {"October": [[*SURVEY, "Weather"], *rows]}).read_bytes()


#: The pages are run without a browser elsewhere; here those whose canvases differ most.
@pytest.mark.parametrize("name", ["fleet", "asset in SI", "not assessable", "workbook", "sources"])
def test_no_page_draws_an_empty_canvas_or_a_traceback(page: Page, address: str, name: str) -> None:
    page.goto(f"{address}{PAGES[name]}")
    ready(page)
    assert page.get_by_test_id("stException").count() == 0
    assert page.get_by_text("could not be drawn").count() == 0
    if name not in WITHOUT_TABLE:
        expect(page.locator("canvas:visible").first).to_be_visible(timeout=PATIENCE)
    visible = page.locator("canvas:visible").all()
    assert bool(visible) == (name not in WITHOUT_TABLE)
    for drawn in visible:
        drawn.scroll_into_view_if_needed()
        page.wait_for_function(f"canvas => ({COLOURS_OF_A_CANVAS})(canvas) > 3", arg=drawn.element_handle())
    # nothing sticks out of the page sideways
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.skipif(not os.environ.get("HOOPLINE_SCREENSHOTS"), reason="HOOPLINE_SCREENSHOTS names no folder")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_pictures_of_every_page(browser: Browser, address: str, size: str, scheme: str, tmp_path: Path) -> None:
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
    opened = context.new_page()
    opened.goto(f"{address}/workbook")
    ready(opened)
    drop(opened, "survey 2026.xlsx", demo_survey(tmp_path))
    opened.wait_for_timeout(1500)
    for name, element in (("looked at", "h1"), ("looked at, changes", "h3"), ("looked at, accept", "form")):
        part = opened.get_by_test_id("stForm") if element == "form" else opened.locator(element).first
        part.scroll_into_view_if_needed()
        part.evaluate("element => element.scrollIntoView(true)")
        opened.wait_for_timeout(700)
        opened.screenshot(path=folder / f"workbook-{name.replace(', ', '-').replace(' ', '-')}-{size}-{scheme}.png")
    opened.goto(f"{address}/sheets?sheet=components+south.xlsx%2C+South+parts")
    ready(opened)
    opened.get_by_text("One sheet in full").evaluate("element => element.scrollIntoView(true)")
    opened.wait_for_timeout(1000)
    opened.screenshot(path=folder / f"sheets-in-full-{size}-{scheme}.png")
    context.close()
