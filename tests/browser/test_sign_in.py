"""Signing in through a real OpenID provider, in a real browser: who gets in, who does not, and until when."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.provider import Provider
from tests.support import chromium_program, needs_chromium
from tests.test_people import SIGN_IN, two_vessels

pytestmark = needs_chromium

NAMES = """
[names]
"ada@plant.example" = "Ada Example"
"ben@plant.example" = "Ben Example"
"cy@plant.example" = "Cy Example"
"""


@pytest.fixture(scope="module")
def running() -> Iterator[Provider]:
    made = Provider()
    made.start()
    yield made
    made.stop()


@pytest.fixture
def provider(running: Provider) -> Provider:
    """The provider, signing in Ben with a sound token until a test asks for another."""
    running.email, running.verified, running.lasts, running.forged = "ben@plant.example", True, 3600.0, False
    return running


@pytest.fixture(scope="module")
def address(running: Provider, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the app answers behind the provider."""
    tmp_path = tmp_path_factory.mktemp("sign in")
    folder = two_vessels(tmp_path / "plant")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    where = f"http://127.0.0.1:{port}"
    settings = (
        SIGN_IN.split("[names]")[0]
        .replace("http://127.0.0.1:8500", where)
        .replace("http://127.0.0.1:8501", running.issuer)
    )
    (folder / "sign-in.toml").write_text(settings + NAMES, encoding="utf-8")
    command = [
        sys.executable, "-m", "pipeline.cli", "serve", "--database", str(folder / "results.duckdb"),
        "--port", str(port), "--no-browser", "--sign-in", str(folder / "sign-in.toml"),
    ]  # fmt: skip
    log = (tmp_path / "server.txt").open("w")
    root = Path(__file__).resolve().parents[2]
    server = subprocess.Popen(
        command, cwd=root, env=dict(os.environ), stdout=log, stderr=subprocess.STDOUT, start_new_session=True
    )
    try:
        for _ in range(200):
            try:
                with urllib.request.urlopen(f"{where}/_stcore/health", timeout=1):
                    break
            except OSError:
                time.sleep(0.25)
        else:
            pytest.fail(f"the server did not answer: {(tmp_path / 'server.txt').read_text()}")
        yield where
    finally:
        os.killpg(server.pid, 15)
        server.wait(timeout=20)
        log.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
        yield launched
        launched.close()


@pytest.fixture
def page(browser: Browser, provider: Provider) -> Iterator[Page]:
    context = browser.new_context()
    yield context.new_page()
    context.close()


def sign_in(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("button", name="Sign in").click(timeout=60_000)


def test_a_person_of_the_plant_gets_in_with_the_role_of_the_basis(page: Page, address: str) -> None:
    page.goto(address)
    expect(page.get_by_text("Sign in to see the plant's vessels.")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("V-1")).to_have_count(0)  # nothing of the plant before
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("Signed in as Ben Example")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("inspector", exact=True)).to_be_visible()
    expect(page.get_by_role("heading", name="Fleet")).to_be_visible(timeout=60_000)


def test_a_stranger_of_the_plant_does_not(page: Page, address: str, provider: Provider) -> None:
    provider.email = "eve@plant.example"
    sign_in(page, address)
    expect(page.get_by_text("not among the people of the plant's basis file")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("heading", name="Fleet")).to_have_count(0)


def test_an_unverified_address_names_nobody(page: Page, address: str, provider: Provider) -> None:
    provider.verified = False
    sign_in(page, address)
    expect(page.get_by_text("not among the people of the plant's basis file")).to_be_visible(timeout=60_000)


def test_a_forged_token_signs_nobody_in(page: Page, address: str, provider: Provider) -> None:
    provider.forged = True
    sign_in(page, address)
    page.wait_for_timeout(3_000)
    page.goto(address)
    expect(page.get_by_text("Sign in to see the plant's vessels.")).to_be_visible(timeout=60_000)


def test_a_sign_in_that_ran_out_is_told_and_shows_nothing(page: Page, address: str, provider: Provider) -> None:
    provider.lasts = 12
    sign_in(page, address)
    expect(page.get_by_text("Signed in as Ben Example")).to_be_visible(timeout=60_000)
    page.wait_for_timeout(12_500)
    page.reload()
    expect(page.get_by_text("The sign-in has run out")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("heading", name="Fleet")).to_have_count(0)


def test_an_auditor_reads_and_is_told_so(page: Page, address: str, provider: Provider) -> None:
    provider.email = "cy@plant.example"
    sign_in(page, address)
    expect(page.get_by_text("Signed in as Cy Example")).to_be_visible(timeout=60_000)
    expect(page.get_by_text("auditor", exact=True)).to_be_visible()
