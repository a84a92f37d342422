"""One whole path of each person through the real app in a real browser, on a real record: plan, enter, check."""

from __future__ import annotations

import hashlib
import shutil
from collections import Counter
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet
from playwright.sync_api import Browser, BrowserContext, Download, Page, expect

from pipeline.publishing import open_results
from pipeline.record import RECORD_NAME, Record
from pipeline.slip import Slip, buying_time, slip
from pipeline.turnaround import GROUPS, Plan, plan
from pipeline.turnaround_dates import turnarounds
from tests.browser.running import PATIENCE, go, pick, ready, rows_are, serving, table, tick
from tests.support import needs_chromium

pytestmark = needs_chromium

MANAGER, INSPECTOR, ANOTHER, AUDITOR = "Sunniva Ardgour", "Ines Vardalen", "Marek Odunby", "Piet Lomasney"
LAST_YEAR = date(2025, 11, 1)
SURVEYED_ON = date(2026, 10, 20)
MONTHS = 9


@pytest.fixture(scope="module")
def plant(demo_results: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the built demo plant with its record and results, which these tests write into."""
    folder = tmp_path_factory.mktemp("people") / "plant"
    shutil.copytree(demo_results.parent, folder, symlinks=True)
    return folder


@pytest.fixture(scope="module")
def results(plant: Path) -> Path:
    return plant / "results.duckdb"


@pytest.fixture(scope="module")
def address(results: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the app answers on the copy."""
    with serving(results, tmp_path_factory.mktemp("server")) as where:
        yield where


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A browser of one's own, which forgets everything afterwards."""
    made = browser.new_context(viewport={"width": 1440, "height": 900})
    made.set_default_timeout(PATIENCE)
    yield made
    made.close()


def opened(context: BrowserContext, address: str, person: str) -> Page:
    """Open the app as a person does, and pick their name once."""
    page = context.new_page()
    page.goto(address)
    ready(page)
    pick(page, "Your name", person)
    return page


def downloaded(page: Page, button: str) -> Download:
    """Press a button that gives a file, and return the file."""
    with page.expect_download() as given:
        page.get_by_role("button", name=button, exact=True).click()
    return given.value


def workbook(given: Download) -> openpyxl.Workbook:
    """Open a workbook that the app gave."""
    return openpyxl.load_workbook(BytesIO(given.path().read_bytes()), read_only=True)


def rows_below(sheet: Worksheet, heading: str) -> list[dict[str, Any]]:
    """Return the rows of a sheet below its line of headings, which begins with `heading`."""
    lines = list(sheet.iter_rows(values_only=True))
    at = next(number for number, line in enumerate(lines) if line[0] == heading)
    return [dict(zip(lines[at], line, strict=True)) for line in lines[at + 1 :] if line[0] is not None]


def asked(results: Path, sql: str, *values: object) -> list[tuple[Any, ...]]:
    with open_results(results) as connection:
        return connection.execute(sql, list(values)).fetchall()


RANKING = "Ranking of the assets, most urgent first"


# ---- the manager ----------------------------------------------------------------------------------------------------


def worked_out(results: Path) -> tuple[Plan, Slip]:
    with open_results(results) as connection:
        first, second, *_ = turnarounds(connection)
        return plan(connection, first, second, "us"), slip(connection, first, second)


def test_the_manager_finds_what_breaks_at_nine_months_and_takes_the_scope_away(
    context: BrowserContext, address: str, results: Path
) -> None:
    planned, moved = worked_out(results)
    month = moved.months.set_index("month").loc[MONTHS]
    bought = buying_time(moved, MONTHS)
    assert month["broken"] > 0 and len(bought)
    page = opened(context, address, MANAGER)
    go(page, "Turnaround")
    slider = page.get_by_role("slider", name="Months later")
    for _ in range(MONTHS):  # quicker than the page answers
        slider.press("ArrowRight")
    card = page.get_by_text(f"further due dates broken, {MONTHS} months later").locator("..")
    expect(card).to_contain_text(f"{month['broken']}")
    ready(page)
    expect(card).to_contain_text(f"on {month['assets']} assets; it would begin on {month['start_on'].date()}")
    expect(page.get_by_text("latest start that breaks nothing more").locator("..")).to_contain_text(
        f"{moved.latest_start_on}"
    )
    expect(page.get_by_text("further places at required thickness before it").locator("..")).to_contain_text(
        f"{month['retiring']}"
    )
    assert f"slip={MONTHS}" in page.url
    page.reload()  # the address alone brings the moved turnaround back
    ready(page)
    expect(card).to_contain_text(f"{month['broken']}")
    broken = table(page, "Broken dates with the cheapest way to buy time")
    dates = [(row["asset"], f"{row['needed_on']:%Y-%m-%d}", f"{row['breaks_at']}") for row in bought.to_dict("records")]
    rows_are(broken, dates, (0, 2, 3))
    assert len({tag for tag, *_ in dates}) == month["assets"]

    listed = list(planned.assets[["asset", "group"]].itertuples(index=False, name=None))
    rows_are(table(page, "Assets by group, the gravest first"), listed, (0, 1))
    for group in GROUPS:
        if planned.counts[group]:
            expect(page.get_by_role("button", name=f"{group} · {planned.counts[group]}", exact=True)).to_be_visible()

    book = workbook(downloaded(page, "Scope list as a workbook"))
    taken = rows_below(book["All assets"], "asset")
    assert [(row["asset"], row["group"]) for row in taken] == listed
    for group, count in Counter(group for _, group in listed).items():
        own = rows_below(book[group.capitalize()], "asset")
        assert [row["asset"] for row in own] == [tag for tag, stands in listed if stands == group]
        assert len(own) == count
    assert [row["asset"] for row in rows_below(book["What buys time"], "asset")] == [tag for tag, *_ in dates]


# ---- the auditor ----------------------------------------------------------------------------------------------------


def folder_state(plant: Path) -> tuple[list[str], list[Any], str]:
    """What lies in the folder, what the record holds, and which results are published."""
    names = sorted(path.name for path in plant.iterdir() if not path.name.startswith("record.sqlite-"))
    digest = hashlib.sha256((plant / "results.duckdb").read_bytes()).hexdigest()
    return names, Record(plant / RECORD_NAME).history(), digest


def test_the_auditor_opens_last_years_status_takes_it_away_and_can_change_nothing(
    context: BrowserContext, address: str, plant: Path
) -> None:
    before = folder_state(plant)
    page = opened(context, address, AUDITOR)
    expect(page.get_by_text("auditor: reads everything, changes nothing")).to_be_visible()
    go(page, "Status on a day")
    year = page.get_by_role("spinbutton", name="year, Status as of")
    year.focus()
    year.press_sequentially(f"{LAST_YEAR.year}")
    page.keyboard.press("Escape")
    expect(page.get_by_role("heading", name=f"Status as of {LAST_YEAR}")).to_be_visible(timeout=PATIENCE)
    ready(page)
    page.get_by_role("button", name="Make the audit workbook").click()
    expect(page.get_by_role("button", name="Download it")).to_be_visible(timeout=PATIENCE)
    ready(page)
    given = downloaded(page, "Download it")
    assert given.suggested_filename == f"status {LAST_YEAR}.xlsx"
    book = workbook(given)
    summary = {line[0]: line[1] for line in book["Read me"].iter_rows(max_col=2, values_only=True)}
    assert summary["As of"].date() == LAST_YEAR
    assert summary["Assets in this workbook"] == "all 76"
    # the counts of the summary are those on the page, and the first asset of both lists is the same
    for name in ("below required", "overdue", "not assessable", "deferred until"):
        fact = page.locator(".hoop-fact").filter(has_text=name).first
        expect(fact.locator(".hoop-value")).to_have_text(f"{summary[name]}")
    ranked = [(f"{row['rank']}", row["asset"]) for row in rows_below(book["Assets"], "rank")]
    assert len(ranked) == 76
    rows_are(table(page, "Evidence for every asset"), ranked, (0, 1))

    for name, sentence in (
        ("Turnaround", "Decisions cannot be recorded under this name"),
        ("Enter and judge", "an auditor reads and changes nothing"),
    ):
        go(page, name)
        pick(page, "Asset", "D-204" if name == "Enter and judge" else "D-204 · must repair")
        expect(page.get_by_text(sentence)).to_be_visible(timeout=PATIENCE)
    type_a_reading(page, "D-204", f"{SURVEYED_ON}", "0.43")
    page.get_by_role("button", name="Judge", exact=True).click()
    expect(page.get_by_role("heading", name="What it would change")).to_be_visible(timeout=PATIENCE)
    ready(page)
    for name in ("Enter", "Record", "Make new results", "Accept"):
        assert page.get_by_test_id("stMain").get_by_role("button", name=name).count() == 0
    assert folder_state(plant) == before


# ---- anybody --------------------------------------------------------------------------------------------------------

_COUNT_CLICKS = "window.clicks = 0; window.addEventListener('click', () => { window.clicks += 1; }, true);"


def test_three_clicks_lead_from_the_opening_page_to_the_governing_cell(
    context: BrowserContext, address: str, results: Path
) -> None:
    [(tag, reason, component, location, read_on, text, file, at)] = asked(
        results,
        """
        SELECT asset.asset, asset.reason, place.component, place.location, place.read_on, reading.text, reading.file,
            reading.cell
        FROM result.asset AS asset
        JOIN result.location AS place ON place.asset = asset.asset AND place.state = 'below required'
        JOIN result.reading AS reading
            ON reading.asset = place.asset AND reading.component = place.component
            AND reading.location = place.location AND reading.read_on = place.read_on AND reading.status = 'used'
        WHERE asset.rank = 1
        """,
    )
    context.add_init_script(_COUNT_CLICKS)
    page = context.new_page()
    page.goto(address)
    ready(page)
    rows_are(table(page, RANKING), [("1", tag, "▼ below required")], (1, 2, 3))
    expect(page.get_by_text(f"{tag}: {reason}.")).to_be_visible()  # why it is first, without a click
    tick(page, 0)
    expect(page.get_by_role("heading", level=1)).to_contain_text(tag)
    ready(page)
    expect(page.get_by_role("heading", name=f"The reasons for {component}, location {location}")).to_be_visible()
    cell_said = page.get_by_text(f"{file}, {at}: “{text} in” (read on {read_on})").first
    expect(cell_said).to_be_visible()
    assert 1 <= page.evaluate("window.clicks") <= 3


# ---- the inspector, and another one typing meanwhile ----------------------------------------------------------------


def filled(sheet: bytes, thicknesses: dict[tuple[str, str], float]) -> bytes:
    """Fill a field sheet in as at the vessel: date and thickness at some places, the others left blank."""
    book = openpyxl.load_workbook(BytesIO(sheet))
    page = book.active
    header = next(line for line in page.iter_rows() if line[0].value == "asset")
    columns = {heading.value: heading.column for heading in header}
    for line in page.iter_rows(min_row=header[0].row + 1):
        row = line[0].row
        place = tuple(page.cell(row, columns[name]).value for name in ("component", "location"))
        if place in thicknesses:
            page.cell(row, columns["date"]).value = SURVEYED_ON
            page.cell(row, columns["thickness (in)"]).value = thicknesses.pop(place)
    assert not thicknesses
    kept = BytesIO()
    book.save(kept)
    return kept.getvalue()


def type_a_reading(page: Page, tag: str, on: str, thickness: str) -> None:
    """Type a reading of the first place of an asset on 'Enter and judge'."""
    go(page, "Enter and judge")
    pick(page, "Asset", tag)
    page.get_by_label("Date", exact=True).fill(on)
    page.get_by_label("Thickness (in)", exact=True).fill(thickness)


@pytest.fixture
def other_context(browser: Browser) -> Iterator[BrowserContext]:
    """The browser of a second person."""
    made = browser.new_context(viewport={"width": 1440, "height": 900})
    made.set_default_timeout(PATIENCE)
    yield made
    made.close()


def test_two_people_enter_at_once_and_both_entries_are_in_the_record(
    context: BrowserContext, other_context: BrowserContext, address: str, plant: Path
) -> None:
    before = len(Record(plant / RECORD_NAME).history())
    people = {INSPECTOR: ("R-102", context), ANOTHER: ("E-307", other_context)}
    pages = {}
    for person, (tag, where) in people.items():
        page = pages[person] = opened(where, address, person)
        type_a_reading(page, tag, f"{SURVEYED_ON}", "1.2")
        page.get_by_role("button", name="Judge", exact=True).click()
        expect(page.get_by_role("heading", name="What it would change")).to_be_visible(timeout=PATIENCE)
        ready(page)
        page.get_by_label("Reason", exact=True).fill(f"read by {person}")
    for page in pages.values():  # one click after the other, before either answer is there
        page.get_by_role("button", name="Enter 1 row").click(no_wait_after=True)
    for person, (tag, _) in people.items():
        expect(pages[person].get_by_text(f"Entered for {tag} as entry")).to_be_visible(timeout=PATIENCE)
    entries = Record(plant / RECORD_NAME).history()[before:]
    assert sorted((entry.cells["asset"], entry.who, entry.reason) for entry in entries) == [
        ("E-307", ANOTHER, f"read by {ANOTHER}"),
        ("R-102", INSPECTOR, f"read by {INSPECTOR}"),
    ]
    assert [entry.cells["thickness (in)"] for entry in entries] == ["1.2", "1.2"]


#: What the inspector reads at D-204: four places as expected, and the thin one far thicker than it was.
READ = {
    ("Shell 1", "1"): 0.593,
    ("Shell 1", "2"): 0.622,
    ("Shell 1", "3"): 0.612,
    ("Shell 1", "4"): 0.616,
    ("East head", "5"): 0.619,
}
THICKER = ("Shell 1", "3")
SHEET_ORDER = ("East head", "Shell 1")
_PLACE = "SELECT t_act_mm, due_on, state FROM result.location WHERE asset = 'D-204' AND (component, location) = (?, ?)"
_RANKED = "SELECT asset, rank, state FROM result.asset ORDER BY rank"


def test_a_field_sheet_comes_back_and_moves_the_ranking_while_somebody_else_is_typing(
    context: BrowserContext, other_context: BrowserContext, address: str, plant: Path, results: Path
) -> None:
    ranked = asked(results, _RANKED)
    assert ranked[0] == ("D-204", 1, "below required")
    typing = opened(other_context, address, ANOTHER)
    type_a_reading(typing, "E-405", "2026-10-19", "0.139")
    typing.get_by_label("Remark").press_sequentially("scaffold on the west")  # not sent, and the field not left

    page = opened(context, address, INSPECTOR)
    go(page, "Assigned assets")
    expect(page.get_by_role("combobox", name="Assigned to")).to_have_value(INSPECTOR)
    expect(page.get_by_role("combobox", name="Asset at hand")).to_have_value("D-204 · ▼ below required")
    sheet = downloaded(page, "Field sheet to fill in")
    content = filled(sheet.path().read_bytes(), dict(READ))
    go(page, "Look at a workbook")
    page.locator("input[type=file]").set_input_files(
        {"name": sheet.suggested_filename, "mimeType": "", "buffer": content}
    )
    expect(page.get_by_role("heading", name="Accept it")).to_be_visible(timeout=PATIENCE)
    ready(page)
    added = sorted(READ, key=lambda place: SHEET_ORDER.index(place[0]))
    rows_are(
        table(page, "Readings added"),
        [
            ("D-204", *place, f"{SURVEYED_ON}", f"{READ[place]:.3f}", "held" if place == THICKER else "used")
            for place in added
        ],
        (0, 1, 2, 3, 4, 5),
    )
    page.get_by_label("Reason", exact=True).fill("field survey of October")
    page.get_by_role("button", name="Accept field sheet").click()
    expect(page.get_by_text(f"is in the folder, accepted by {INSPECTOR}")).to_be_visible(timeout=PATIENCE)
    assert (plant / sheet.suggested_filename).read_bytes() == content
    assert asked(results, _PLACE, *THICKER)[0][2] == "below required"  # held: nothing is taken for safe

    offered = typing.get_by_text("New results were published while this page was open")
    expect(offered).to_be_visible(timeout=PATIENCE)
    still_typed(typing)

    go(page, "Enter and judge")
    pick(page, "Asset", "D-204")
    page.get_by_role("radio", name="Held readings").click()
    expect(page.get_by_text("Held for growth")).to_be_visible(timeout=PATIENCE)
    ready(page)
    promised = page.get_by_text("place, if accepted").locator("..").locator(".hoop-date").text_content()
    page.get_by_test_id("stRadio").get_by_text("accept", exact=True).click()
    page.get_by_label("Reason", exact=True).fill("2025 was read on a pit; gauge checked on its block, scanned around")
    page.get_by_role("button", name="Enter the verdict").click()
    expect(page.get_by_text("Entered for D-204 as entry")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Make new results now").click()
    expect(page.get_by_text("New results were published, as of")).to_be_visible(timeout=PATIENCE)
    ready(page)

    thickness, due_on, state = asked(results, _PLACE, *THICKER)[0]
    assert thickness == pytest.approx(READ[THICKER] * 25.4)
    assert (f"{due_on}", state) == (promised, "in date")
    moved = asked(results, _RANKED)
    [(_, rank, now)] = [row for row in moved if row[0] == "D-204"]
    assert rank > 1 and now != "below required"
    go(page, "Fleet")
    rows_are(table(page, RANKING), [(f"{place}", tag) for tag, place, _ in moved[:rank]], (1, 2))
    expect(page.get_by_test_id(f"glide-cell-3-{rank - 1}").first).to_contain_text(now)

    still_typed(typing)
    typing.get_by_role("button", name="Show the new results").click()
    expect(typing.get_by_text("A new build was published: this page now shows its results")).to_be_visible(
        timeout=PATIENCE
    )
    ready(typing)
    expect(offered).to_have_count(0)
    still_typed(typing)


def still_typed(page: Page) -> None:
    """What the other person typed is in its fields, the last of it not even sent."""
    for field, words in (("Date", "2026-10-19"), ("Thickness (in)", "0.139"), ("Remark", "scaffold on the west")):
        expect(page.get_by_label(field, exact=True)).to_have_value(words)
