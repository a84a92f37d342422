"""Writing a printable page to a file: the page of an asset, or the calculation record of one of its components."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path

import duckdb

from pipeline.asset_record import asset_record
from pipeline.calculation_record import calculation_record
from pipeline.errors import Problem
from pipeline.paper import MARK, Paper, page


def document(
    connection: duckdb.DuckDBPyConnection, asset: str, component: str | None, plant: str, system: str | None = None
) -> Paper:
    """Return the page of an asset, or the calculation record of the component named.

    Raises Problem where the results have no such asset or component.
    """
    if component is None:
        return asset_record(connection, asset, plant, system)
    return calculation_record(connection, asset, component, plant, system)


def file_name(asset: str, component: str | None) -> str:
    """Return a name for the page, whatever the tags hold."""
    kind = "asset record" if component is None else "calculation record"
    tags = [re.sub(r"[^\w.-]+", "_", tag).strip("._") or "tag" for tag in (asset, component) if tag is not None]
    return f"{kind} {' '.join(tags)}.html"


def write_page(paper: Paper, path: Path) -> None:
    """Write a document to `path`, whole or not at all.

    Raises Problem where `path` is not an .html file, its folder is missing, it cannot be written, or it is a page that
    this program did not write.
    """
    if path.suffix.lower() != ".html":
        raise Problem(f"{path}: the page is an .html file; give it a name that ends in .html")
    if not path.parent.is_dir():
        raise Problem(f"{path.parent}: there is no such folder for the page; make it first")
    if path.is_dir() or (path.exists() and not _is_ours(path)):
        raise Problem(f"{path}: is not a page that this program wrote; name another file")
    try:
        with tempfile.TemporaryDirectory(prefix=f".{path.stem}.", dir=path.parent) as folder:
            made = Path(folder) / path.name
            made.write_text(page(paper), encoding="utf-8")
            os.replace(made, path)
    except OSError as fault:
        raise Problem(f"{path}: cannot be written ({fault.strerror or fault}); check its permissions") from None


def _is_ours(path: Path) -> bool:
    with path.open(encoding="utf-8", errors="replace") as text:
        return MARK in text.read(2000)
