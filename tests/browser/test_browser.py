"""The app in a real browser against the real server: click the first row, land on its reasons, fetch nothing outside.

Where HOOPLINE_SCREENSHOTS names a folder, pictures of every page are put there, wide and narrow, light and dark.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from urllib.parse import parse_qs, quote, urlsplit

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
    page.get_by_text("Remaining life and interval").click()
    expect(page.get_by_text("remaining life from the last reading").first).to_be_visible()
    expect(page.locator(".katex-display").get_by_text("RL", exact=False).first).to_be_visible()


def test_what_lies_below_the_ranking_follows_by_itself(page: Page, address: str) -> None:
    page.goto(address)
    ready(page)
    assert cell(page, 1, 0) == "1"
    expect(page.get_by_role("heading", name="Due dates by half-year")).to_be_attached(timeout=30_000)
    ready(page)
    assert cell(page, 1, 0) == "1"


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


# ---- without a mouse ------------------------------------------------------------------------------------------------

_FOCUSED = """() => {
    const focused = document.activeElement;
    const one = focused.tagName === "SUMMARY" ? focused.querySelector("p") : focused;  // without the name of its arrow
    const labels = one.labels ? [...one.labels].map(label => label.innerText) : [];
    return one.getAttribute("aria-label") || labels.join(" ") || one.innerText || "";
}"""
#: More presses of Tab than any page needs.
MOST_TABS = 200


def tab_to(page: Page, name: str) -> None:
    """Press Tab until what begins with these words has the focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate(_FOCUSED).strip().startswith(name):
            return
    pytest.fail(f"{MOST_TABS} presses of Tab did not lead to {name!r}")


def test_keys_alone_lead_from_the_fleet_to_the_source_cell(page: Page, address: str) -> None:
    page.goto(address)
    ready(page)
    tag = cell(page, 2, 0)
    tab_to(page, f"Open {tag}")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(tag)
    ready(page)
    tab_to(page, "6 readings with source cells")
    page.keyboard.press("Enter")
    expect(page.get_by_test_id("stDataFrame").filter(has=page.get_by_label("Readings of the place"))).to_be_visible()
    ready(page)
    tab_to(page, "Remaining life and interval")
    page.keyboard.press("Enter")
    expect(page.get_by_text("UT results 2019-2026.csv, E799: “0.440 in” (read on 2025-09-09)").last).to_be_visible()


def test_a_reading_is_entered_with_keys_alone(page: Page, small_plant: Path, tmp_path: Path) -> None:
    with serving(small_plant, tmp_path) as where:
        page.goto(f"{where}/entering?asset=V-1")
        ready(page)
        tab_to(page, "Your name")
        page.keyboard.type("P. Example")
        page.keyboard.press("Enter")
        expect(page.get_by_text("inspector", exact=True)).to_be_visible(timeout=PATIENCE)
        ready(page)
        tab_to(page, "Date")
        page.keyboard.type("2025-12-01")
        tab_to(page, "Thickness (in)")
        page.keyboard.type("0.69")
        tab_to(page, "Judge")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="What it would change")).to_be_visible(timeout=PATIENCE)
        ready(page)
        tab_to(page, "Reason")
        page.keyboard.type("read at the weld")
        tab_to(page, "Enter 1 row")
        page.keyboard.press("Enter")
        expect(page.get_by_text("Entered for V-1 as entry")).to_be_visible(timeout=PATIENCE)


# ---- what a person sees in a narrow window, and hears ---------------------------------------------------------------


def test_a_narrow_window_gives_the_ranking_with_its_reasons_and_no_table_to_be_scrolled(
    browser: Browser, address: str
) -> None:
    width, height = SIZES["narrow"]
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(address)
    ready(page)
    expect(page.get_by_label("Ranking of the assets, most urgent first", exact=True)).to_be_hidden()
    first = page.get_by_test_id("stMain").get_by_test_id("stPageLink-NavLink").first
    expect(first).to_contain_text("1. D-204 · ▼ below required. Shell 1, location 3: 0.4400 in left")
    box = first.bounding_box()
    assert box is not None
    assert box["x"] >= 0 and box["x"] + box["width"] <= width
    assert page.evaluate("element => element.scrollWidth <= element.clientWidth", first.element_handle())
    first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("D-204")
    ready(page)
    assert asset_in(page.url) == ["D-204"]
    context.close()


_UNNAMED = """() => [...document.querySelectorAll("input, select, textarea, button, [role=slider], img, canvas")]
    .filter(one => one.offsetParent !== null && one.tabIndex >= 0 || one.tagName === "IMG")
    .filter(one => !(one.getAttribute("aria-label") || one.alt || one.innerText || one.title
        || (one.labels && [...one.labels].some(label => label.innerText.trim()))
        || (one.getAttribute("aria-labelledby") || "").split(" ").some(id => document.getElementById(id)?.innerText)
        || one.closest("[aria-label], [role=figure], [role=region]")))
    .map(one => one.outerHTML.slice(0, 200))"""


@pytest.mark.parametrize("name", ["asset", "planning", "entering", "what if", "status"])
def test_every_field_chart_and_sketch_has_a_name(page: Page, address: str, name: str) -> None:
    page.goto(f"{address}{PICTURES[name][0]}")
    ready(page)
    assert page.evaluate(_UNNAMED) == []
    charts = page.get_by_test_id("stVegaLiteChart").all()
    assert all((chart.get_attribute("aria-label") or "").strip() for chart in charts)
    assert bool(charts) == (name in ("asset", "planning"))


# ---- pictures for a person to look at -------------------------------------------------------------------------------

MANAGER, INSPECTOR, AUDITOR = "Sunniva Ardgour", "Ines Vardalen", "Piet Lomasney"
#: By this cookie a browser remembers the name somebody picked.
COOKIE = "hoopline-person"
#: Taller than this no picture is taken; only the full explanation of a place comes near it.
TALLEST = 14_000


def as_opened(page: Page) -> None:
    """Do nothing: the page is looked at as it opens."""


def folds_open(page: Page) -> None:
    closed = page.get_by_test_id("stMain").locator("details:not([open]) > summary:visible")
    while closed.count():  # one that is opened is none of them any more
        closed.first.click()
        ready(page)


def step_open(page: Page) -> None:
    page.get_by_text("Remaining life and interval").click()
    ready(page)


def judged(thickness: str) -> Callable[[Page], None]:
    """Return what types a reading of the first place and has it judged."""

    def act(page: Page) -> None:
        page.get_by_label("Date", exact=True).fill("2026-10-20")
        page.get_by_label("Thickness (in)", exact=True).fill(thickness)
        page.get_by_role("button", name="Judge", exact=True).click()
        expect(page.get_by_role("heading", name="What it would change")).to_be_visible(timeout=PATIENCE)
        ready(page)

    return act


def section(name: str) -> Callable[[Page], None]:
    """Return what chooses a section of the page Enter and judge."""

    def act(page: Page) -> None:
        page.get_by_role("radio", name=name, exact=True).click()
        expect(page.get_by_role("radio", name=name, exact=True)).to_be_checked()
        ready(page)

    return act


def tried(page: Page) -> None:
    pick(page, "Change", "Joint efficiency, longitudinal")
    page.get_by_label("Joint efficiency, longitudinal", exact=True).last.fill("1")
    page.get_by_role("button", name="Try it").click()
    expect(page.get_by_role("heading", name="D-204, today and tried")).to_be_visible(timeout=PATIENCE)
    ready(page)


def compared(page: Page) -> None:
    # The record knows nothing from before today: what changes until a day ahead is what only time brings.
    for field, day in (("From the end of", date.today()), ("To the end of", date.today() + timedelta(days=200))):
        page.get_by_role("spinbutton", name=f"year, {field}").click()
        page.keyboard.type(f"{day:%Y%m%d}")
        page.keyboard.press("Escape")
        ready(page)
    page.get_by_role("button", name="Compare the two days").click()
    expect(page.get_by_text("What came between")).to_be_visible(timeout=PATIENCE)
    ready(page)


def workbook_dropped(page: Page) -> None:
    with tempfile.TemporaryDirectory() as folder:
        drop(page, "survey 2026.xlsx", demo_survey(Path(folder)))


def equations_open(page: Page) -> None:
    page.get_by_text("Open every equation").click()
    expect(page.locator(".katex").first).to_be_visible(timeout=PATIENCE)
    ready(page)


#: What is pictured: the page, who looks, and what is done there first.
PICTURES: dict[str, tuple[str, str | None, Callable[[Page], None]]] = {
    "fleet": ("/", MANAGER, as_opened),
    "fleet filtered": ("/?state=overdue", MANAGER, folds_open),
    "fleet without a match": ("/?text=nothing+like+this", MANAGER, as_opened),
    "fleet in SI": ("/?units=si", None, as_opened),
    "asset": ("/asset?asset=D-204", INSPECTOR, step_open),
    "asset in SI": ("/asset?asset=C-301&component=Shell+2&location=TP-05&units=si", INSPECTOR, folds_open),
    "asset with a cone": ("/asset?asset=C-103", INSPECTOR, as_opened),
    "asset, sphere": ("/asset?asset=S-501", INSPECTOR, as_opened),
    "asset, exchanger": ("/asset?asset=E-102&component=N1", INSPECTOR, as_opened),
    "asset, corroded area": ("/asset?asset=V-402", INSPECTOR, as_opened),
    "asset, readings held": ("/asset?asset=V-107", INSPECTOR, as_opened),
    "not assessable": ("/asset?asset=V-410", INSPECTOR, as_opened),
    "planning": ("/planning", MANAGER, as_opened),
    "planning, nine months": ("/planning?slip=9&vessel=D-204", MANAGER, as_opened),
    "planning, moved": ("/planning?slip=9&moved=yes&group=must+repair", MANAGER, folds_open),
    "planning without a match": ("/planning?words=nothing+like+this", MANAGER, as_opened),
    "planning, auditor": ("/planning?vessel=D-204", AUDITOR, as_opened),
    "what if": ("/what_if?asset=D-204", MANAGER, as_opened),
    "what if, tried": ("/what_if?asset=D-204", MANAGER, tried),
    "my assets": ("/my_assets", INSPECTOR, as_opened),
    "my assets, none": ("/my_assets", MANAGER, as_opened),
    "entering": ("/entering?asset=D-204", INSPECTOR, as_opened),
    "entering, judged": ("/entering?asset=D-204", INSPECTOR, judged("0.43")),
    "entering, judged and held": ("/entering?asset=D-204", INSPECTOR, judged("0.75")),
    "entering, held": ("/entering?asset=V-107", INSPECTOR, section("Held readings")),
    "entering, rate": ("/entering?asset=D-204", INSPECTOR, section("Rate")),
    "entering, event": ("/entering?asset=D-204", INSPECTOR, section("Event")),
    "entering, recommendations": ("/entering?asset=R-303", INSPECTOR, section("Recommendations")),
    "entering, auditor": ("/entering?asset=D-204", AUDITOR, judged("0.43")),
    "measuring": ("/measuring", INSPECTOR, as_opened),
    "status": ("/status", AUDITOR, as_opened),
    "status, compared": ("/status", AUDITOR, compared),
    "workbook": ("/workbook", INSPECTOR, as_opened),
    "workbook, looked at": ("/workbook", INSPECTOR, workbook_dropped),
    "sheets": ("/sheets?sheet=components+south.xlsx%2C+South+parts", AUDITOR, as_opened),
    "sources": ("/sources", AUDITOR, as_opened),
    "sources without a match": ("/sources?words=nothing+like+this", AUDITOR, as_opened),
    "method": ("/method", AUDITOR, as_opened),
    "method, equations": ("/method?document=API+510", AUDITOR, equations_open),
}


def whole(page: Page, width: int, height: int) -> None:
    """Make the window as tall as what the page holds: its middle scrolls by itself, and a picture shows a window."""
    for _ in range(2):  # what comes into sight may grow
        tall = page.get_by_test_id("stMain").evaluate("part => { part.scrollTo(0, 0); return part.scrollHeight; }")
        page.set_viewport_size({"width": width, "height": max(height, min(tall, TALLEST))})
        page.wait_for_timeout(700)


@pytest.mark.skipif(not os.environ.get("HOOPLINE_SCREENSHOTS"), reason="HOOPLINE_SCREENSHOTS names no folder")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PICTURES)
def test_pictures_of_every_page(browser: Browser, address: str, name: str, size: str, scheme: str) -> None:
    folder = Path(os.environ["HOOPLINE_SCREENSHOTS"])
    folder.mkdir(parents=True, exist_ok=True)
    width, height = SIZES[size]
    path, person, act = PICTURES[name]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme="dark" if scheme == "dark" else "light"
    )
    if person:
        context.add_cookies([{"name": COOKIE, "value": quote(person), "url": address}])
    page = context.new_page()
    page.goto(f"{address}{path}")
    ready(page)
    act(page)
    page.wait_for_timeout(900)
    picture = folder / f"{re.sub('[^a-zA-Z]+', '-', name)}-{size}-{scheme}.png"
    page.screenshot(path=picture.with_stem(f"{picture.stem}-first-sight"))
    whole(page, width, height)
    page.screenshot(path=picture)
    assert picture.stat().st_size > 10_000
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    context.close()
