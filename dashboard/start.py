"""Starts the app's server, and loads what every page needs while the browser is still opening.

A server that first loads its modules when somebody comes lets the first person wait for them.
"""

from __future__ import annotations

import importlib
import threading

from streamlit.web.cli import main

#: What takes longest to load of all that the pages need; none of it needs a running server.
AHEAD = (
    "pandas",
    "pyarrow",
    "duckdb",
    "pipeline.field_sheet",
    "pipeline.judging",
    "pipeline.preview",
    "pipeline.export",
    "pipeline.scope_export",
    "pipeline.comparison",
    "pipeline.print_page",
    "pipeline.options",
)


def load_ahead() -> None:
    """Load the modules, one after the other, and what every trial and every build of this process begins with."""
    for name in AHEAD:
        importlib.import_module(name)
    importlib.import_module("pipeline.run").with_clauses()


if __name__ == "__main__":
    threading.Thread(target=load_ahead, daemon=True).start()
    main(prog_name="streamlit")
