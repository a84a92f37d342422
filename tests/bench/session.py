"""One person's session with the real server, without a browser: the messages a page sends and gets, over its websocket.

Twenty-five browsers would keep a machine of two cores busy with themselves; this measures the server alone.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from urllib.parse import quote

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.Element_pb2 import Element
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from websockets.sync.client import connect

from pipeline.cautions import BELOW_REQUIRED

#: Seconds a page may take before it counts as a fault.
PATIENCE = 120
_WORDS: dict[str, Callable[[Element], str]] = {
    "alert": lambda element: element.alert.body,
    "heading": lambda element: element.heading.body,
    "markdown": lambda element: element.markdown.body,
    "exception": lambda element: f"exception: {element.exception.message}",
}


class Session:
    """One open page. `words` is what the last run of it wrote; `errors` what it showed as an error."""

    def __init__(self, port: int, person: str) -> None:
        self._socket = connect(
            f"ws://127.0.0.1:{port}/_stcore/stream",
            subprotocols=["streamlit"],  # type: ignore[list-item]
            additional_headers={"Cookie": f"hoopline-person={quote(person)}", "Origin": f"http://127.0.0.1:{port}"},
            max_size=None,
            proxy=None,
        )
        self._page = ""
        self._query = ""
        self._widgets: dict[str, str] = {}
        self._states: dict[str, WidgetState] = {}
        self.words: list[str] = []
        self.errors: list[str] = []

    def close(self) -> None:
        """End the session as a closed tab does."""
        self._socket.close()

    def open(self, page: str, **query: str) -> float:
        """Go to a page by its address; return the seconds until it stood."""
        self._page = page
        self._query = "&".join(f"{name}={quote(value)}" for name, value in query.items())
        self._states = {}
        return self._run(None)

    def set(self, label: str, value: str) -> None:
        """Type into a field; it is sent with the next press or run."""
        identity = self._widget(label)
        self._states[identity] = WidgetState(id=identity, string_value=value)

    def press(self, label: str) -> float:
        """Press a button that begins with these words; return the seconds until the page stood."""
        return self._run(self._widget(label))

    def _widget(self, label: str) -> str:
        for words, identity in self._widgets.items():
            if words.startswith(label):
                return identity
        raise LookupError(f"there is no '{label}' on the page, only {sorted(self._widgets)}; it says {self.words[-6:]}")

    def _run(self, pressed: str | None) -> float:
        start = time.monotonic()
        message = BackMsg()
        state = message.rerun_script
        state.query_string = self._query
        state.page_name = self._page
        state.widget_states.widgets.extend(self._states.values())
        if pressed is not None:
            state.widget_states.widgets.append(WidgetState(id=pressed, trigger_value=True))
        self._socket.send(message.SerializeToString())
        self._collect(start)
        return time.monotonic() - start

    def _collect(self, start: float) -> None:
        """Read what the server sends until the run has ended; a run the page itself asks for anew goes on."""
        begun = False
        while True:
            left = PATIENCE - (time.monotonic() - start)
            if left <= 0:
                raise TimeoutError(f"{self._page}?{self._query}: no end within {PATIENCE} s")
            received = ForwardMsg.FromString(bytes(self._socket.recv(timeout=left)))  # type: ignore[arg-type]
            kind = received.WhichOneof("type")
            if kind == "new_session":
                begun = True
                self._widgets, self.words, self.errors = {}, [], []
            elif kind == "delta" and received.delta.WhichOneof("type") == "new_element":
                self._note(received.delta.new_element)
            elif kind == "script_finished" and begun:
                if received.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
                    return
                begun = False  # ended early for another run, whose messages follow

    def _note(self, element: Element) -> None:
        kind = element.WhichOneof("type")
        if kind in ("text_input", "text_area", "button", "selectbox"):
            widget = getattr(element, kind)
            self._widgets[widget.label] = widget.id
        elif kind in _WORDS:
            said = _WORDS[kind](element)
            self.words.append(said)
            warned = said.replace("\\", "") == BELOW_REQUIRED  # what the page must say, and no fault of it
            if kind == "exception" or (kind == "alert" and element.alert.format == element.alert.ERROR and not warned):
                self.errors.append(said)
