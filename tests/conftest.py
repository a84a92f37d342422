"""Fixtures that several test modules share."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from pipeline.run import build

DEMO = Path(__file__).resolve().parent.parent / "demo_plant"


@pytest.fixture(scope="session")
def demo_results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The results of the demo plant as of the date its stories are told, built once in a folder of its own."""
    folder = tmp_path_factory.mktemp("demo") / "plant"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("*.py", "__pycache__", "record.sqlite*", "results.*"))
    build(folder, as_of=date(2026, 11, 1))
    return folder / "results.duckdb"
