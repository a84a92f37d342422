"""The files of the pages, answered from memory: the same as streamlit answers from the disk, and nothing but them."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from dashboard.serving import INSTALLED, KeptFiles

OURS = "from behind"
FILES = sorted(path.relative_to(INSTALLED).as_posix() for path in (INSTALLED / "static").rglob("*") if path.is_file())
SCRIPT = next(name for name in FILES if name.endswith(".js"))


def ask(app: ASGIApp, path: str, method: str = "GET", **headers: str) -> httpx.Response:
    """Ask the app once, as a browser on this machine would."""

    async def asked() -> httpx.Response:
        client = httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://127.0.0.1")
        async with client:
            return await client.request(method, path, headers=headers)

    # In a thread of its own: the one of the tests may be a browser's, whose loop is running.
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(lambda: asyncio.run(asked())).result()


def behind() -> Starlette:
    """An app that says so when a request reaches it."""
    every = Route("/{path:path}", lambda request: PlainTextResponse(OURS), methods=["GET", "HEAD", "POST"])
    return Starlette(routes=[every], middleware=[Middleware(KeptFiles)])


def test_every_file_is_answered_as_from_the_disk() -> None:
    kept, plain = behind(), Starlette(routes=[Mount("/", StaticFiles(directory=INSTALLED))])
    assert len(FILES) > 100  # the folder is where it is looked for
    for name in FILES:
        told, expected = ask(kept, f"/{name}"), ask(plain, f"/{name}")
        assert told.status_code == expected.status_code == 200
        assert told.content == expected.content, name
        assert told.headers["content-length"] == expected.headers["content-length"]
        # the character set of a text is said by one and taken from the file by the other
        assert told.headers["content-type"].partition(";")[0] == expected.headers["content-type"].partition(";")[0]
        assert "immutable" in told.headers["cache-control"]


def test_a_second_time_is_answered_alike() -> None:
    app = behind()
    assert ask(app, f"/{SCRIPT}").content == ask(app, f"/{SCRIPT}").content != OURS.encode()


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/asset?asset=V-1",
        "/index.html",
        "/static/",
        "/static/../index.html",
        "/static/%2e%2e/index.html",
        "/static//etc/passwd",
        "/static/js/no-such-file.js",
        f"/static/..%2f{SCRIPT}",
        f"/{SCRIPT}/",
        "/_stcore/health",
    ],
)
def test_any_other_address_goes_on(path: str) -> None:
    assert ask(behind(), path).text == OURS


@pytest.mark.parametrize("header", ["If-None-Match", "If-Modified-Since", "Range"])
def test_a_part_or_a_copy_at_hand_goes_on(header: str) -> None:
    assert ask(behind(), f"/{SCRIPT}", **{header: "bytes=0-9"}).text == OURS


def test_only_reading_is_answered() -> None:
    assert ask(behind(), f"/{SCRIPT}", "POST").text == OURS
    assert ask(behind(), f"/{SCRIPT}", "HEAD").headers["content-length"] == str(len(OURS))
