"""How quickly the app answers on a large plant, and how much memory its server takes with ten people.

Run `python -m tests.bench.app [--plant FOLDER] [--rounds N] [--people N]`. A plant of 20,000 components and 1,000,000
readings is written and built twice, so that there is a build before to compare with; FOLDER keeps it for the next run.
The real server is started on it and clicked in Debian's Chromium. Times are taken in the browser, from the last key or
button of an act until what is in sight stands (what was asked for is there, the window is filled, nothing in it is of
the page before, every chart in it is drawn), and until the whole page does and no script runs.

The baseline is the same acts, in the same run, on a plant of one unit's first vessels.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import platform
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path

import duckdb
import streamlit
from playwright.async_api import Browser, CDPSession, Page, async_playwright
from playwright.async_api import Error as PlaywrightError

from pipeline.cli import server_command
from pipeline.publishing import RESULTS_NAME
from tests.bench.fleets import AS_OF, VESSELS, add_survey, write_plant
from tests.support import chromium_program

ROOT = Path(__file__).resolve().parent.parent.parent
EARLIER = date(2026, 10, 1)
SMALL = 8
LIMIT_MS, OPENING_LIMIT_MS, MEMORY_LIMIT_MB = 1_000, 3_000, 1_500
HEADING_HEIGHT, ROW_HEIGHT = 35, 66
LONGEST_WAIT_MS = 60_000

# Keeps the moment of the last key or button, so that what the driver spends before and after is not counted, and
# whether the server has been at work since.
_REMEMBER_INPUT = """
for (const kind of ["pointerdown", "keydown"])
  addEventListener(kind, () => { window.lastInput = performance.now(); window.hasRun = false; }, true);
// Whatever the server sends after an input answers it. The page says that it is at work two frames later at most, and a
// quick run may be over by then: that it ran is not to be seen on the page.
const Plain = window.WebSocket;
window.WebSocket = class extends Plain {
  constructor(...given) {
    super(...given);
    this.addEventListener("message", () => {
      const asked = window.lastInput;
      requestAnimationFrame(() => requestAnimationFrame(() => {
        if (asked === window.lastInput) window.hasRun = true;
      }));
    });
  }
};
"""
# Returns the milliseconds an act took once the page stands as expected, else false: until what is in sight stood, and
# until the whole page does. What is in sight answers a click; a person scrolls to the rest.
_STANDS = """([heading, words, gone, reruns, from]) => {
  const app = document.querySelector('[data-testid="stApp"]');
  const main = document.querySelector('[data-testid="stMain"]');
  if (reruns && !window.hasRun) return false;
  if (!app || !main) return false;
  const title = main.querySelector("h1");
  if (heading && !(title && title.textContent.startsWith(heading))) return false;
  const text = main.textContent;
  const ended = app.dataset.testScriptState === "notRunning";
  const sight = main.getBoundingClientRect();
  const seen = element => {
    const box = element.getBoundingClientRect();
    return box.height > 0 && box.bottom > sight.top && box.top < sight.bottom;
  };
  const unfinished = [
    ...document.querySelectorAll('[data-testid="stSkeleton"], [data-stale="true"]'),
    ...[...document.querySelectorAll('[data-testid="stVegaLiteChart"]')].filter(c => !c.querySelector("canvas, svg")),
  ];
  const foot = main.querySelector('[data-testid="stMainBlockContainer"]');
  const filled = ended || (foot && foot.getBoundingClientRect().bottom >= sight.bottom);
  const since = performance.now() - (from === "opening" ? 0 : window.lastInput);
  const asked = words.filter(word => !word.startsWith("For review"));
  if (gone.some(word => text.includes(word)) || !asked.every(word => text.includes(word))) return false;
  if (window.inSightOf !== String(window.lastInput) && filled && !unfinished.some(seen)) {
    window.inSightOf = String(window.lastInput);
    window.inSight = since;
  }
  if (!ended || unfinished.length || !words.every(word => text.includes(word))) return false;
  return [window.inSight, since];
}"""


# The ranking is drawn and an asset can be opened from it; what is below may still be on its way.
_USABLE = """() => {
  const rows = document.querySelector('[data-testid="data-grid-canvas"] [data-testid="glide-cell-2-0"]');
  const open = [...document.querySelectorAll("button")].some(button => button.textContent.startsWith("Open "));
  return rows && rows.textContent && open ? performance.now() : false;
}"""


# ---- what is clicked ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Facts:
    """What the plant holds, by which the acts choose and know what must then be on the page."""

    tags: list[str]
    #: asset: (component, location of it that governs)
    parts: dict[str, list[tuple[str, str | None]]]
    #: (asset, component): locations
    places: dict[tuple[str, str], list[str]]
    states: dict[str, int]
    areas: dict[str, int]
    people: dict[str, list[str]]
    severities: dict[str, int]
    #: a word: the lines of the ledger that hold it
    ledger_words: dict[str, int]
    sheets: list[str]
    turnarounds: list[str]
    #: assets that open on a place nobody has read: there is less to be clicked
    unread: set[str]


Last = Callable[[], Awaitable[None]]


@dataclass
class Stands:
    """What must be on a page, and what must not be any more, after the last key or button of an act (`last`)."""

    last: Last | None = None
    heading: str = ""
    words: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    #: whether the server is asked; what is only unfolded in the browser is not
    reruns: bool = True


Act = Callable[[Page, Facts, int], Awaitable[Stands]]
ACTS: list[tuple[str, str, Act]] = []


def act(kind: str, start: str) -> Callable[[Act], Act]:
    """Put an act on the list: its kind in words and the page it starts from (`{tag}` is an asset)."""

    def keep(function: Act) -> Act:
        ACTS.append((kind, start, function))
        return function

    return keep


def tag_of(facts: Facts, number: int) -> str:
    """The asset of a round: another one each time, spread over the ranking, with components and locations."""
    able = [tag for tag in facts.tags if len(facts.parts.get(tag, [])) > 1 and tag not in facts.unread]
    return able[(number * 97 + 3) % len(able)]


async def choosing(page: Page, label: str, option: str, exact: bool = True) -> Last:
    """Type an option into a list, and return the click that chooses it."""
    box = page.get_by_test_id("stMain").get_by_role("combobox", name=label, exact=exact)
    await box.click()
    await box.fill(option)
    found = page.get_by_role("option").filter(has_text=option).first
    await found.wait_for()
    return found.click


async def typing(page: Page, words: str) -> Last:
    """Type into the field that filters by words, and return the key that sends them."""
    box = page.get_by_test_id("stMain").get_by_test_id("stTextInput").get_by_label("Words", exact=True)
    await box.fill(words)
    return partial(box.press, "Enter")


@act("Fleet: tick a row, to the asset", "/")
async def tick(page: Page, facts: Facts, number: int) -> Stands:
    row = number % 6
    canvas = page.get_by_test_id("data-grid-canvas").first
    await canvas.scroll_into_view_if_needed()
    box = await canvas.bounding_box()
    assert box is not None
    last = partial(page.mouse.click, box["x"] + 16, box["y"] + HEADING_HEIGHT + ROW_HEIGHT * (row + 0.5))
    return Stands(last, facts.tags[row], [f"rank {row + 1} of"], ["Tick the box"])


@act("Fleet: filter by state", "/")
async def by_state(page: Page, facts: Facts, number: int) -> Stands:
    present = [name for name, count in facts.states.items() if count]
    name = present[number % len(present)]
    last = page.get_by_test_id("stMain").get_by_role("button", name=re.compile(f"{name} · ")).click
    return Stands(last, "Fleet", [_counted(facts.states[name])])


@act("Fleet: filter by area", "/")
async def by_area(page: Page, facts: Facts, number: int) -> Stands:
    name = list(facts.areas)[number % len(facts.areas)]
    last = await choosing(page, "Area", name, exact=False)
    return Stands(last, "Fleet", [_counted(facts.areas[name])])


@act("Fleet: filter by words", "/")
async def by_words(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number)
    last = await typing(page, tag)
    return Stands(last, "Fleet", [f"{tag}: ", "1 asset, most urgent"])


@act("Fleet: other units", "/")
async def other_units(page: Page, facts: Facts, number: int) -> Stands:
    return await _switch_units(page, "Fleet")


@act("Fleet: asset in full", "/")
async def in_full(page: Page, facts: Facts, number: int) -> Stands:
    tag = facts.tags[1 + number % min(len(facts.tags) - 1, 900)]
    last = await choosing(page, "Asset in full", f"{tag} ", exact=False)
    return Stands(last, "Fleet", [f"Open {tag}"])


@act("Fleet: months as a table", "/")
async def months(page: Page, facts: Facts, number: int) -> Stands:
    last = page.get_by_text("The months as a table").click
    return Stands(last, "Fleet", ["no date"], reruns=False)


@act("Asset: another asset", "/asset?asset={tag}")
async def other_asset(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number + 1)
    last = await choosing(page, "Asset", tag)
    return Stands(last, tag, [f"The reasons for {facts.parts[tag][0][0]}"[:16]])


@act("Asset: another component", "/asset?asset={tag}")
async def other_component(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number)
    shown = await page.get_by_role("heading", name=re.compile("^Locations of ")).text_content()
    component, location = next(part for part in facts.parts[tag] if shown != f"Locations of {part[0]}" and part[1])
    last = await choosing(page, "Component", component, exact=False)
    return Stands(last, tag, [f"The reasons for {component}, location {location}"])


@act("Asset: another location", "/asset?asset={tag}")
async def other_location(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number)
    shown = await page.get_by_role("heading", name=re.compile("^The reasons for ")).text_content() or ""
    component, _, location = shown.removeprefix("The reasons for ").partition(", location ")
    other = next(one for one in facts.places[tag, component] if one != location)
    last = await choosing(page, "Location", other, exact=False)
    return Stands(last, tag, [f"The reasons for {component}, location {other}"])


@act("Asset: readings with source cells", "/asset?asset={tag}")
async def source_cells(page: Page, facts: Facts, number: int) -> Stands:
    last = page.get_by_text(re.compile("readings? with source cells")).click
    # What is said of them depends on what each reading is used for.
    return Stands(last, tag_of(facts, number))


@act("Asset: every step open", "/asset?asset={tag}")
async def every_step(page: Page, facts: Facts, number: int) -> Stands:
    last = page.get_by_text("Open every step").click
    return Stands(last, tag_of(facts, number))  # a wall that loses nothing has no step of its life


@act("Asset: other units", "/asset?asset={tag}")
async def other_units_asset(page: Page, facts: Facts, number: int) -> Stands:
    return await _switch_units(page, tag_of(facts, number))


@act("Turnaround: filter by group", "/planning")
async def by_group(page: Page, facts: Facts, number: int) -> Stands:
    pills = page.get_by_test_id("stMain").get_by_test_id("stButtonGroup").get_by_role("button")
    last = pills.nth(number % await pills.count()).click
    return Stands(last, "Turnaround", [": "])


@act("Turnaround: one month later", "/planning")
async def slip(page: Page, facts: Facts, number: int) -> Stands:
    slider = page.get_by_test_id("stMain").get_by_role("slider")
    await slider.focus()
    last = partial(slider.press, "ArrowRight")
    return Stands(last, "Turnaround", ["further due dates broken, 1 month later"])


@act("Turnaround: one asset", "/planning")
async def planned_asset(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number)
    last = await choosing(page, "Asset", tag)
    return Stands(last, "Turnaround", [f"Open {tag}"])


@act("What if: another asset", "/what_if?asset={tag}")
async def weighed(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number + 1)
    last = await choosing(page, "Asset", tag)
    return Stands(last, "What if", [f"{tag} today"])


@act("What if: another kind of change", "/what_if?asset={tag}")
async def other_change(page: Page, facts: Facts, number: int) -> Stands:
    last = await choosing(page, "Change", "Joint efficiency", exact=False)
    return Stands(last, "What if", ["Component", "such as 0.85"][:1])


@act("Assigned assets: another person", "/my_assets")
async def other_person(page: Page, facts: Facts, number: int) -> Stands:
    names = list(facts.people)
    name = names[number % len(names)]
    last = await choosing(page, "Assigned to", name)
    return Stands(last, "Assigned assets", [f"{len(facts.people[name]):,} asset"])


@act("Assigned assets: another asset", "/my_assets?whose={person}")
async def at_hand(page: Page, facts: Facts, number: int) -> Stands:
    name = next(iter(facts.people))
    tag = facts.people[name][(number * 13 + 1) % len(facts.people[name])]
    last = await choosing(page, "Asset at hand", f"{tag} ")
    return Stands(last, "Assigned assets", [f"{tag}: "])


@act("Enter and judge: another asset", "/entering?asset={tag}")
async def entered(page: Page, facts: Facts, number: int) -> Stands:
    tag = tag_of(facts, number + 1)
    last = await choosing(page, "Asset", tag)
    return Stands(last, "Enter and judge", [f"{tag}: "])


@act("Enter and judge: another kind of row", "/entering?asset={tag}")
async def other_row(page: Page, facts: Facts, number: int) -> Stands:
    name = ("Inspection", "Event", "Weld distance", "Recommendations")[number % 4]
    last = page.get_by_role("radio", name=name).or_(page.get_by_role("button", name=name)).first.click
    return Stands(last, "Enter and judge", [], ["Why not measured"])


@act("Worth measuring: one person", "/measuring")
async def worth_for(page: Page, facts: Facts, number: int) -> Stands:
    name = list(facts.people)[number % len(facts.people)]
    last = await choosing(page, "Assigned to", name, exact=False)
    return Stands(last, "Worth measuring", [name])


@act("Sheets as read: another sheet", "/sheets")
async def other_sheet(page: Page, facts: Facts, number: int) -> Stands:
    name = facts.sheets[(number * 7 + 3) % len(facts.sheets)]
    last = await choosing(page, "Sheet", name)
    return Stands(last, "Sheets as read", ["heading in row"])


@act("Ledger: filter by severity", "/sources")
async def by_severity(page: Page, facts: Facts, number: int) -> Stands:
    present = list(facts.severities)
    name = present[number % len(present)]
    last = page.get_by_test_id("stMain").get_by_role("button", name=re.compile(f"{name} · ")).click
    return Stands(last, "Sources and ledger", [f"{facts.severities[name]:,} line"])


@act("Ledger: filter by words", "/sources")
async def by_ledger_words(page: Page, facts: Facts, number: int) -> Stands:
    word, lines = list(facts.ledger_words.items())[number % len(facts.ledger_words)]
    last = await typing(page, word)
    return Stands(last, "Sources and ledger", [f"{lines:,} line{'' if lines == 1 else 's'} of "])


@act("Method: one document", "/method")
async def by_document(page: Page, facts: Facts, number: int) -> Stands:
    pills = page.get_by_test_id("stMain").get_by_test_id("stButtonGroup").get_by_role("button")
    last = pills.nth(number % await pills.count()).click
    return Stands(last, "Method and basis", ["Clauses"])


MENU = {
    "Asset": (re.compile(r"^V-\d"), "/"),
    "Turnaround": ("Turnaround", "/"),
    "What if": ("What if", "/"),
    "Assigned assets": ("Assigned assets", "/"),
    "Enter and judge": ("Enter and judge", "/"),
    "Worth measuring": ("Worth measuring", "/"),
    "Status on a day": ("Status on a day", "/"),
    "Look at a workbook": ("Look at a workbook", "/"),
    "Sheets as read": ("Sheets as read", "/"),
    "Sources and ledger": ("Sources and ledger", "/"),
    "Method and basis": ("Method and basis", "/"),
    "Fleet": ("Fleet", "/method"),
}


def _menu(name: str) -> Act:
    async def go(page: Page, facts: Facts, number: int) -> Stands:
        last = page.get_by_test_id("stSidebar").get_by_role("link", name=name, exact=True).click
        return Stands(
            last,
            "V-" if name == "Asset" else name,
            ["For review by qualified people"],
            [] if name == "Fleet" else ["Tick the box"],
            # Another heading says that the server was asked; a quick run may begin and end between two looks.
            reruns=False,
        )

    return go


for _name, (_, _start) in MENU.items():
    ACTS.append((f"Menu: {_name}", _start, _menu(_name)))


async def _switch_units(page: Page, heading: str) -> Stands:
    control = page.get_by_test_id("stSidebar").get_by_test_id("stButtonGroup")
    last = control.get_by_text("SI", exact=True).click
    return Stands(last, heading, ["Sentences stay in the plant's units"])


def _counted(number: int) -> str:
    return f"{number:,} asset{'' if number == 1 else 's'}, most urgent"


# ---- the plants and their server ------------------------------------------------------------------------------------


def prepared(folder: Path, vessels: int) -> Path:
    """Return the results of a plant with a build before, made where the folder does not hold them yet."""
    results = folder / RESULTS_NAME
    if not results.exists():
        size = write_plant(folder, vessels)
        build_of(folder, EARLIER)
        add_survey(folder)
        seconds, memory = build_of(folder, AS_OF)
        print(
            f"plant: {size.vessels:,} vessels, {size.components:,} components, {size.places:,} locations, "
            f"{size.readings:,} rows of readings; one more survey built in {seconds:.1f} s, {memory:,.0f} MB"
        )
    return results


def build_of(folder: Path, as_of: date) -> tuple[float, float]:
    """Build as the command does, in a process of its own; return its seconds and its peak memory in MB."""
    code = (
        "import resource, sys; from pipeline.cli import main; status = main(sys.argv[1:]); "
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024); sys.exit(status)"
    )
    start = time.perf_counter()
    command = [sys.executable, "-c", code, "build", str(folder), "--as-of", as_of.isoformat()]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return time.perf_counter() - start, float(done.stdout.split()[-1])


def facts_of(results: Path) -> Facts:
    """Ask the results what they hold."""
    with duckdb.connect(str(results.resolve()), read_only=True) as connection:

        def rows(sql: str) -> list[tuple]:
            return connection.execute(sql).fetchall()

        parts: dict[str, list[tuple[str, str | None]]] = {}
        for asset, component, location in rows(
            "SELECT asset, component, governing_location FROM result.component ORDER BY asset, component"
        ):
            parts.setdefault(asset, []).append((component, location))
        places: dict[tuple[str, str], list[str]] = {}
        for asset, component, location in rows("SELECT asset, component, location FROM result.location ORDER BY ALL"):
            places.setdefault((asset, component), []).append(location)
        people: dict[str, list[str]] = {}
        for person, asset in rows(
            "SELECT assigned_to, asset FROM result.asset WHERE assigned_to IS NOT NULL ORDER BY rank"
        ):
            people.setdefault(person, []).append(asset)
        return Facts(
            [asset for (asset,) in rows("SELECT asset FROM result.asset ORDER BY rank")],
            parts,
            places,
            dict(rows("SELECT state, count(*) FROM result.asset GROUP BY state ORDER BY state")),
            dict(rows("SELECT area, count(*) FROM result.asset WHERE area IS NOT NULL GROUP BY area ORDER BY area")),
            people,
            dict(rows("SELECT severity, count(*) FROM result.ledger GROUP BY severity ORDER BY severity")),
            {
                word: rows(
                    "SELECT count(*) FROM result.ledger WHERE contains(lower(concat_ws(' ', file, sheet, cell, text, "
                    f"reason, effect)), '{word}')"
                )[0][0]
                for word in ("readings", "us.csv", "si.csv", "reading")
            },
            [f"{file}" for (file,) in rows("SELECT DISTINCT file FROM result.sheet ORDER BY file")],
            [name for (name,) in rows("SELECT name FROM step.turnaround ORDER BY turnaround_no")],
            {
                asset
                for (asset,) in rows(
                    "SELECT asset.asset FROM result.asset AS asset JOIN result.location AS place "
                    "ON place.asset = asset.asset AND place.component = asset.governing_component "
                    "AND place.location = asset.governing_location WHERE place.reading_count IS NULL"
                )
            },
        )


@dataclass(frozen=True)
class Took:
    """What one act took, in milliseconds: by the clock, until what is in sight stands and until the whole page does,
    and of the processors of the server and of the page.

    On a machine that does other things too, the clock says more of those; the work does not.
    """

    in_sight: float
    whole: float
    server: float = float("nan")
    browser: float = float("nan")


@dataclass(frozen=True)
class Server:
    """A running server: its address and its process."""

    address: str
    process: int

    def work(self) -> float:
        """Return the processor time it has taken so far, in milliseconds."""
        fields = Path(f"/proc/{self.process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) * 1000 / os.sysconf("SC_CLK_TCK")

    def memory(self, word: str = "VmRSS") -> float:
        """Return the memory it holds, or held at most (`VmHWM`), in MB of a million bytes."""
        text = Path(f"/proc/{self.process}/status").read_text(encoding="ascii")
        found = re.search(rf"{word}:\s+(\d+) kB", text)
        assert found is not None
        return int(found[1]) * 1024 / 1e6


@contextmanager
def serving(results: Path) -> Iterator[Server]:
    """Run the server on results and their folder as `hoopline open` does; give its address and process."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = server_command(port)
    environment = {**os.environ, "HOOPLINE_DATABASE": str(results), "HOOPLINE_FOLDER": str(results.parent)}
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL) as process:
        try:
            address = f"http://127.0.0.1:{port}"
            while not _answers(f"{address}/_stcore/health"):
                if process.poll() is not None:
                    raise SystemExit("the server ended before it answered")
                time.sleep(0.05)
            yield Server(address, process.pid)
        finally:
            process.terminate()


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=1) as reply:
            return bool(reply.status == 200)
    except OSError:
        return False


# ---- measuring ------------------------------------------------------------------------------------------------------


async def stood(page: Page, stands: Stands, since: str = "input") -> tuple[float, float]:
    """Do the last step of an act; return the milliseconds from it, or from opening, until what is in sight stands, and
    until the whole page does."""
    if stands.last is not None:
        await stands.last()
    found = await page.wait_for_function(
        _STANDS,
        arg=[stands.heading, stands.words, stands.gone, stands.reruns, since],
        polling=20,
        timeout=LONGEST_WAIT_MS,
    )
    in_sight, whole = await found.json_value()
    return float(in_sight), float(whole)


async def new_page(browser: Browser) -> Page:
    """Open the window of one more person."""
    context = await browser.new_context(viewport={"width": 1440, "height": 900})
    await context.add_init_script(_REMEMBER_INPUT)
    return await context.new_page()


async def opened(page: Page, address: str, heading: str = "", words: tuple[str, ...] = ()) -> None:
    """Open an address and wait until its page stands."""
    await page.goto(address)
    await stood(page, Stands(None, heading, ["For review by qualified people", *words]), "opening")


async def openings(browser: Browser, server: Server, rounds: int) -> list[tuple[float, float]]:
    """Open the ranking in a new window, again and again, the first one cold; return when it could be used, and when
    the whole page stood."""
    spent = []
    for _ in range(rounds):
        page = await new_page(browser)
        await page.goto(server.address, wait_until="commit")
        usable = await page.wait_for_function(_USABLE, polling=20, timeout=LONGEST_WAIT_MS)
        stands = Stands(None, "Fleet", ["most urgent first", "For review by qualified people"])
        _, whole = await stood(page, stands, "opening")
        spent.append((float(await usable.json_value()), whole))
        await page.context.close()
    return spent


def start_of(start: str, facts: Facts, number: int) -> str:
    """Return the address an act starts from in a round."""
    person = next(iter(facts.people)).replace(" ", "+")
    return start.format(tag=tag_of(facts, number), person=person)


async def one_act(page: Page, server: Server, facts: Facts, act_of: tuple[str, str, Act], number: int) -> Took:
    """Do one act from its page and return what it took."""
    _, start, do = act_of
    await opened(page, f"{server.address}{start_of(start, facts, number)}")
    tools = await page.context.new_cdp_session(page)
    await tools.send("Performance.enable", {"timeDomain": "threadTicks"})
    stands = await do(page, facts, number)
    before = server.work(), await _page_work(tools)
    in_sight, whole = await stood(page, stands)
    took = Took(in_sight, whole, server.work() - before[0], await _page_work(tools) - before[1])
    await tools.detach()
    return took


async def _page_work(tools: CDPSession) -> float:
    """Return the processor time the page's own thread has taken so far, in milliseconds."""
    metrics = (await tools.send("Performance.getMetrics"))["metrics"]
    return next(1000 * metric["value"] for metric in metrics if metric["name"] == "TaskDuration")


async def clicks(browser: Browser, server: Server, facts: Facts, rounds: int, only: str) -> dict[str, list[Took]]:
    """Do every act so many times in one browser, each kind in a window of its own; return what they took."""
    spent: dict[str, list[Took]] = {}
    context = (await new_page(browser)).context
    for act_of in ACTS:
        if only.lower() not in act_of[0].lower():
            continue
        page = await context.new_page()
        for number in range(rounds):
            try:
                took = await one_act(page, server, facts, act_of, number)
            except PlaywrightError as fault:  # one act that cannot be done must not cost the others
                print(f"{act_of[0]}, round {number + 1}: {str(fault).splitlines()[0]}", flush=True)
                took = Took(float("inf"), float("inf"))
            spent.setdefault(act_of[0], []).append(took)
        times = spent[act_of[0]]
        print(
            f"{act_of[0]}: "
            + ", ".join(f"{t.in_sight:.0f}/{t.whole:.0f} ({t.server:.0f} + {t.browser:.0f})" for t in times),
            flush=True,
        )
        await page.close()
    await context.close()
    return spent


async def together(
    browser: Browser, server: Server, facts: Facts, people: int, rounds: int
) -> tuple[list[float], float, float]:
    """Let so many people click at once, each another act; return their milliseconds, and the server's memory."""
    pages = [await new_page(browser) for _ in range(people)]
    spent: list[float] = []
    highest = 0.0
    for number in range(rounds):
        acts = [ACTS[(number * 7 + person * 3) % len(ACTS)] for person in range(people)]
        starts = [start_of(one[1], facts, number + person) for person, one in enumerate(acts)]
        for page, start in zip(pages, starts, strict=True):  # one after the other: opening is not what is asked here
            try:
                await opened(page, f"{server.address}{start}")
            except PlaywrightError as fault:  # its click then fails, and is told
                print(f"opening {start}, among many: {str(fault).splitlines()[0]}", flush=True)
        done = await asyncio.gather(
            *(
                _click(page, facts, one, number + person)
                for person, (page, one) in enumerate(zip(pages, acts, strict=True))
            )
        )
        spent.extend(done)
        highest = max(highest, server.memory())
    for page in pages:
        await page.context.close()
    return spent, highest, server.memory("VmHWM")


async def _click(page: Page, facts: Facts, act_of: tuple[str, str, Act], number: int) -> float:
    try:
        in_sight, _ = await stood(page, await act_of[2](page, facts, number))
        return in_sight
    except PlaywrightError as fault:
        print(f"{act_of[0]}, among many: {str(fault).splitlines()[0]}", flush=True)
        return float("inf")


# ---- the report -----------------------------------------------------------------------------------------------------


async def measure(options: argparse.Namespace, large: Path, small: Path) -> None:
    """Measure both plants and print the tables."""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
        facts = facts_of(large)
        found: dict[str, dict[str, list[Took]]] = {}
        cold: dict[str, list[tuple[float, float]]] = {}
        for name, results in (("large", large), ("baseline", small)):
            if name == "baseline" and options.no_baseline:
                continue
            with serving(results) as server:
                print(f"{name}: server {server.memory():,.0f} MB before anybody came", flush=True)
                cold[name] = await openings(browser, server, options.rounds)
                found[name] = await clicks(browser, server, facts_of(results), options.rounds, options.only)
                print(f"{name}: server {server.memory():,.0f} MB after one person's clicks", flush=True)
                if name == "large" and options.people:
                    many, memory, highest = await together(browser, server, facts, options.people, options.rounds)
                    print_many(many, memory, highest, options.people)
        await browser.close()
    print_openings(cold)
    print_clicks(found)


def print_openings(spent: dict[str, list[tuple[float, float]]]) -> None:
    """Print how long after opening the ranking could be used, and the whole page stood."""
    for name, times in spent.items():
        usable, whole = zip(*times, strict=True)
        print(
            f"opening the ranking, {name}: usable at first after {usable[0]:,.0f} ms, median "
            f"{statistics.median(usable):,.0f} ms; the whole page median {statistics.median(whole):,.0f} ms"
        )
    if "baseline" in spent:
        medians = [statistics.median(usable for usable, _ in spent[name]) for name in ("large", "baseline")]
        print(f"ratio of the medians {medians[0] / medians[1]:.2f}")
    _verdict(statistics.median(usable for usable, _ in spent["large"]), OPENING_LIMIT_MS, "ranking usable, median")


def print_clicks(found: dict[str, dict[str, list[Took]]]) -> None:
    """Print a row for each kind of click, with its ratio to the same click on the small plant."""
    print(
        f"\n| {'click, milliseconds':<38} | in sight | worst | whole page | server's work | page's work | small plant "
        "| ratio |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for kind, took in found["large"].items():
        median = _median([one.in_sight for one in took])
        base = _median([one.in_sight for one in found.get("baseline", {}).get(kind, [])])
        whole, server, browser = (
            _median([getattr(one, part) for one in took]) for part in ("whole", "server", "browser")
        )
        print(
            f"| {kind:<38} | {median:,.0f} | {max(one.in_sight for one in took):,.0f} | {whole:,.0f} | {server:,.0f} | "
            f"{browser:,.0f} | {base:,.0f} | {median / base:.2f} |"
        )
    for part, words in (("in_sight", "what is in sight stands"), ("whole", "the whole page stands")):
        every = [getattr(one, part) for took in found["large"].values() for one in took]
        slow = [
            kind
            for kind, took in found["large"].items()
            if not _median([getattr(one, part) for one in took]) <= LIMIT_MS
        ]
        print(
            f"all {len(every)} clicks, until {words}: median {_median(every):,.0f} ms; kinds over {LIMIT_MS} ms: "
            f"{slow or 'none'}"
        )


def print_many(spent: list[float], memory: float, highest: float, people: int) -> None:
    """Print what people who click at once wait, and what the server holds."""
    ordered = sorted(spent)
    print(
        f"{people} people clicking at the same instant, {len(spent)} clicks: median {_median(spent):,.0f} ms, "
        f"nine in ten within {ordered[int(len(ordered) * 0.9)]:,.0f} ms, worst {ordered[-1]:,.0f} ms"
    )
    _verdict(highest, MEMORY_LIMIT_MB, f"server's memory in MB (at the ends of rounds {memory:,.0f}), highest")


def _median(times: list[float]) -> float:
    return statistics.median(times) if times else float("nan")


def _verdict(value: float, limit: float, words: str) -> None:
    print(f"{words}: {value:,.0f}, {'within' if value <= limit else 'OVER'} the goal of {limit:,}")


def main() -> None:
    """Read the options, make the plants, measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.app", description=__doc__)
    parser.add_argument("--plant", type=Path, help="folder that keeps the large plant from run to run")
    parser.add_argument("--rounds", type=int, default=20, help="how many times each act is done")
    parser.add_argument("--people", type=int, default=10, help="how many people click at once")
    parser.add_argument("--only", default="", help="only the acts with this in their name")
    parser.add_argument("--no-baseline", action="store_true", help="leave the small plant out")
    options = parser.parse_args()
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"duckdb {duckdb.__version__}, streamlit {streamlit.__version__}; {options.rounds} rounds"
    )
    with tempfile.TemporaryDirectory() as scratch:
        large = prepared(options.plant or Path(scratch) / "large", VESSELS)
        small = prepared(Path(scratch) / "small", SMALL)
        asyncio.run(measure(options, large, small))


if __name__ == "__main__":
    main()
