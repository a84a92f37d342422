"""Signing in through a real OpenID provider, in a real browser: who gets in, who does not, and what they may write.

One app and one browser serve all cases; between two of them the browser forgets its cookies. No case waits for a
clock: a token that ran out is issued as one that ran out.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from pipeline.entering import enter
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.record import RECORD_NAME, Record
from tests.browser.provider import LEEWAY, Provider, Token
from tests.browser.running import LOOPBACK, PATIENCE, answering, free_port, go, pick, ready
from tests.plants import SURVEY, write_workbook
from tests.support import needs_chromium
from tests.test_people import PEOPLE, READING, SIGN_IN, two_vessels

pytestmark = needs_chromium

NAMES = """
[names]
"ada@plant.example" = "Ada Example"
"ben@plant.example" = "Ben Example"
"cy@plant.example" = "Cy Example"
"""
BEN, CY, STRANGER = "ben@plant.example", "cy@plant.example", "eve@plant.example"
DOOR = "Sign in to see the plant's vessels."


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    with Provider() as running:
        yield running


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return two_vessels(tmp_path_factory.mktemp("signing in") / "plant")


@pytest.fixture(scope="module")
def address(provider: Provider, plant: Path) -> Iterator[str]:
    """Where the app answers behind the provider, started as a plant starts it."""
    port = free_port()
    where = f"http://{LOOPBACK}:{port}"
    auth = SIGN_IN.split("[names]")[0].replace("http://127.0.0.1:8500", where)
    settings = plant / "sign-in.toml"
    settings.write_text(auth.replace("http://127.0.0.1:8501", provider.issuer) + NAMES, encoding="utf-8")
    command = [
        sys.executable, "-m", "pipeline.cli", "serve", "--database", str(plant / "results.duckdb"),
        "--port", str(port), "--no-browser", "--sign-in", str(settings),
    ]  # fmt: skip
    with answering(command, port, plant.parent / "server.txt", {}):
        yield where


@pytest.fixture(scope="module")
def context(browser: Browser) -> Iterator[BrowserContext]:
    made = browser.new_context(viewport={"width": 1440, "height": 900})
    made.set_default_timeout(PATIENCE)
    yield made
    made.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """A page of a browser that knows nobody."""
    context.clear_cookies()
    opened = context.new_page()
    yield opened
    opened.close()


def sign_in(page: Page, address: str, provider: Provider, token: Token) -> None:
    """Come to the door, where nothing of the plant is seen, and sign in; the provider answers with this token."""
    provider.next = token
    given = provider.given
    page.goto(address)
    expect(page.get_by_text(DOOR)).to_be_visible(timeout=PATIENCE)
    nothing_is_seen(page)
    page.evaluate("window.atTheDoor = true")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_function("() => window.atTheDoor === undefined")  # to the provider and back: another document
    assert provider.given == given + 1


def entries(plant: Path) -> list[str]:
    """The kinds of everything people entered."""
    return [entry.kind for entry in Record(plant / RECORD_NAME).history()]


def nothing_is_seen(page: Page) -> None:
    """Nothing of the plant is on the page."""
    ready(page)
    expect(page.get_by_role("heading", name="Fleet")).to_have_count(0)
    expect(page.get_by_text("V-1")).to_have_count(0)


def test_a_person_of_the_plant_gets_in_with_the_role_of_the_basis_and_out_again(
    page: Page, address: str, provider: Provider
) -> None:
    sign_in(page, address, provider, Token(BEN))
    expect(page.get_by_text("Signed in as Ben Example")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_text("inspector", exact=True)).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_role("heading", name="Fleet")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_text(DOOR)).to_be_visible(timeout=PATIENCE)
    nothing_is_seen(page)


@pytest.mark.parametrize("token", [Token(STRANGER), Token(BEN, verified=False)], ids=["stranger", "unverified address"])
def test_whom_the_basis_does_not_name_sees_nothing(page: Page, address: str, provider: Provider, token: Token) -> None:
    sign_in(page, address, provider, token)
    expect(page.get_by_text("not among the people of the plant's basis file")).to_be_visible(timeout=PATIENCE)
    nothing_is_seen(page)


@pytest.mark.parametrize(
    "token",
    [Token(BEN, forged=True), Token(BEN, lasts=-LEEWAY - 3600), Token(BEN, audience="another program")],
    ids=["forged", "long run out", "for another program"],
)
def test_a_token_that_does_not_hold_signs_nobody_in(page: Page, address: str, provider: Provider, token: Token) -> None:
    sign_in(page, address, provider, token)
    expect(page.get_by_text(DOOR)).to_be_visible(timeout=PATIENCE)
    nothing_is_seen(page)


def test_a_token_that_has_just_run_out_is_told_and_shows_nothing(page: Page, address: str, provider: Provider) -> None:
    """The library still takes such a token; the app must not."""
    sign_in(page, address, provider, Token(BEN, lasts=-1))
    expect(page.get_by_text("The sign-in has run out")).to_be_visible(timeout=PATIENCE)
    nothing_is_seen(page)


def drop_a_workbook(page: Page, folder: Path) -> None:
    rows = [SURVEY, ["V-1", "Shell", "1", date(2025, 12, 1), 0.69]]
    content = write_workbook(folder / "survey.xlsx", {"s": rows}).read_bytes()
    page.locator("input[type=file]").set_input_files({"name": "survey.xlsx", "mimeType": "", "buffer": content})
    expect(page.get_by_role("heading", name="Accept it")).to_be_visible(timeout=PATIENCE)
    ready(page)


def test_an_auditor_looks_at_everything_and_is_offered_nothing_that_writes(
    page: Page, address: str, provider: Provider, plant: Path, tmp_path: Path
) -> None:
    before = entries(plant)
    sign_in(page, address, provider, Token(CY))
    expect(page.get_by_text("Signed in as Cy Example")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_text("auditor", exact=True)).to_be_visible(timeout=PATIENCE)
    go(page, "Look at a workbook")
    drop_a_workbook(page, tmp_path)
    expect(page.get_by_text("somebody else has to accept it")).to_be_visible()
    expect(page.get_by_role("button", name="Accept")).to_have_count(0)
    assert entries(plant) == before
    with pytest.raises(Problem, match="an auditor reads and changes nothing; nothing was written"):
        enter(plant, READING, Identity("Cy Example", datetime.now(UTC) + timedelta(hours=1)), "why")
    assert entries(plant) == before


def test_a_role_taken_away_holds_where_the_record_is_written_though_the_form_stands_open(
    page: Page, address: str, provider: Provider, plant: Path
) -> None:
    before = entries(plant)
    sign_in(page, address, provider, Token(BEN))
    expect(page.get_by_text("Signed in as Ben Example")).to_be_visible(timeout=PATIENCE)
    go(page, "Enter and judge")
    pick(page, "Asset", "V-1")
    page.get_by_label("Date", exact=True).fill("2025-12-01")
    page.get_by_label("Thickness (in)", exact=True).fill("0.69")
    page.get_by_role("button", name="Judge", exact=True).click()
    expect(page.get_by_role("heading", name="What it would change")).to_be_visible(timeout=PATIENCE)
    ready(page)
    page.get_by_label("Reason", exact=True).fill("measured at the pump platform")
    basis = plant / "basis.toml"
    basis.write_text(PEOPLE.replace('"Ben Example" = "inspector"', '"Ben Example" = "auditor"'), encoding="utf-8")
    try:
        page.get_by_role("button", name="Enter 1 row").click()
        expect(page.get_by_text("Ben Example: an auditor reads and changes nothing")).to_be_visible(timeout=PATIENCE)
        ready(page)
        assert entries(plant) == before
    finally:
        basis.write_text(PEOPLE, encoding="utf-8")
    # the same form in the hands of an inspector writes, so that it was the role that kept it from doing so
    go(page, "Fleet")
    go(page, "Enter and judge")
    page.get_by_label("Reason", exact=True).fill("measured at the pump platform")
    page.get_by_role("button", name="Enter 1 row").click()
    expect(page.get_by_text("Entered for V-1 as entry")).to_be_visible(timeout=PATIENCE)
    written = Record(plant / RECORD_NAME).history()[-1]
    assert entries(plant) == [*before, "survey, long"]
    assert (written.who, written.cells["thickness (in)"]) == ("Ben Example", "0.69")
