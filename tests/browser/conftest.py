"""One browser for all tests of a process; starting it takes longer than most of them."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.support import chromium_program


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium_program(), args=["--no-sandbox"])
        yield launched
        launched.close()
