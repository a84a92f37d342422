"""The app as the server runs it: streamlit's own, with the files of its pages kept in memory.

A browser that opens the app for the first time asks for some 130 small scripts. Streamlit opens, measures and reads
each of them from the disk in threads of its own, which is most of what a server does until the ranking stands; the
ranking waits meanwhile.
"""

from __future__ import annotations

import mimetypes
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware
from starlette.types import ASGIApp, Receive, Scope, Send

ENTRY = Path(__file__).resolve().with_name("app.py")
#: What streamlit installs for browsers. Names below `static` hold a digest of what they name, so that the bytes of a
#: name never change.
INSTALLED = Path(st.__file__).resolve().with_name("static")
UNCHANGING = "static"
#: A browser that asks whether its copy is still good, or for a part, is answered by streamlit.
NOT_WHOLE = (b"if-none-match", b"if-modified-since", b"range")


class KeptFiles:
    """Answers for the files of the pages from memory, each read when first asked for; the rest goes on to `app`."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        # Only what lies in the folder now can be asked for, by its exact address: no path is made from a request.
        self._files = {
            f"/{file.relative_to(INSTALLED).as_posix()}": file
            for file in INSTALLED.joinpath(UNCHANGING).rglob("*")
            if file.is_file()
        }
        self._kept: dict[str, bytes] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if self._is_ours(scope):
            await self._answer(scope["path"], send)
        else:
            await self._app(scope, receive, send)

    def _is_ours(self, scope: Scope) -> bool:
        if scope["type"] != "http" or scope["method"] != "GET" or scope["path"] not in self._files:
            return False
        return not any(name in NOT_WHOLE for name, _ in scope["headers"])

    async def _answer(self, path: str, send: Send) -> None:
        if path not in self._kept:
            self._kept[path] = self._files[path].read_bytes()
        body = self._kept[path]
        headers = {
            "content-type": mimetypes.guess_type(path)[0] or "application/octet-stream",
            "content-length": str(len(body)),
            "cache-control": "public, immutable, max-age=31536000",
        }
        await send(
            {
                "type": "http.response.start",
                "status": 200,
                "headers": [(name.encode("ascii"), value.encode("ascii")) for name, value in headers.items()],
            }
        )
        await send({"type": "http.response.body", "body": body})


app = st.App(ENTRY, middleware=[Middleware(KeptFiles)])
