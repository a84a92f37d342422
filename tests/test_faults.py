"""When things break: nothing confirmed is missing, results are whole, and people are told what to do."""

from __future__ import annotations

import re
import resource
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

import pipeline.record as record_module
from pipeline import __version__
from pipeline.errors import Problem
from pipeline.people import Identity
from pipeline.publishing import open_results
from pipeline.record import RECORD_NAME, Record, SourceFile
from pipeline.run import build
from tests.faults import AS_OF, BY, WORKS, Killer, corrected, digest, prepare


@pytest.fixture(scope="module")
def killer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Killer]:
    yield Killer(tmp_path_factory.mktemp("killed"), seed=20261125)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("faults") / "plant"
    prepare(folder)
    return folder


@pytest.fixture
def plant(made: Path, tmp_path: Path) -> Path:
    shutil.copyfile(corrected(made), corrected(tmp_path / "plant"))
    return Path(shutil.copytree(made, tmp_path / "plant", symlinks=True))


@pytest.mark.parametrize("work", WORKS)
def test_a_killed_process_leaves_the_old_or_the_new_and_loses_nothing(killer: Killer, work: str) -> None:
    for _ in range(2):
        left = killer.trial(work)
        assert left.faults == (), left
    assert killer.goes_on() == ""


def limited(plant: Path, bytes_left: int) -> subprocess.CompletedProcess[str]:
    """Build where no file may grow beyond some bytes, as on a disk that is full."""
    program = "import sys; from pipeline.cli import main; sys.exit(main(['build', *sys.argv[1:]]))"
    return subprocess.run(
        [sys.executable, "-c", program, str(plant), "--as-of", AS_OF.isoformat()],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_left, bytes_left)),
    )


@pytest.mark.parametrize("bytes_left", [40_000, 900_000])
def test_a_full_disk_stops_the_build_and_leaves_the_old_results(plant: Path, bytes_left: int) -> None:
    before = digest(plant)
    (plant / "plant.xlsx").write_bytes(corrected(plant).read_bytes())
    done = limited(plant, bytes_left)
    assert done.returncode == 2, done
    (line,) = done.stderr.splitlines()
    assert line.startswith("hoopline: ") and "Traceback" not in done.stderr
    assert digest(plant) == before
    assert Record(plant / RECORD_NAME).verify() == []
    assert not list(plant.glob(".*.making*"))
    build(plant, as_of=AS_OF)
    assert digest(plant) != before


@pytest.mark.parametrize("damage", ["cut off", "other bytes", "empty", "missing", "another program's"])
def test_results_that_cannot_be_used_are_said_and_made_anew(plant: Path, damage: str) -> None:
    before = digest(plant)
    results = (plant / "results.duckdb").resolve()
    content = results.read_bytes()
    match damage:
        case "cut off":
            results.write_bytes(content[: len(content) // 3])
        case "other bytes":
            results.write_bytes(b"\x5a" * len(content))
        case "empty":
            results.write_bytes(b"")
        case "missing":
            results.unlink()
        case _:
            results.unlink()
            with sqlite3.connect(results) as other:
                other.execute("CREATE TABLE build (as_of TEXT)")
            other.close()
    with pytest.raises(Problem, match="results") as said:
        open_results(plant / "results.duckdb")
    assert "build" in str(said.value)
    if damage == "cut off":
        build(plant, as_of=AS_OF)
        assert digest(plant) == before


def test_results_of_another_version_of_the_program_are_not_shown(plant: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.publishing.__version__", "99.0.0")
    with pytest.raises(
        Problem, match=rf"made by hoopline {re.escape(__version__)}, this is 99\.0\.0; run 'hoopline build"
    ):
        open_results(plant / "results.duckdb")


@pytest.mark.parametrize("damage", ["other bytes", "empty header"])
def test_a_record_that_is_broken_stops_before_anything_is_written(plant: Path, damage: str) -> None:
    before = digest(plant)
    path = plant / RECORD_NAME
    content = path.read_bytes()
    broken = b"\x5a" * len(content) if damage == "other bytes" else b"\0" * 100 + content[100:]
    path.write_bytes(broken)
    with pytest.raises(Problem, match=f"{RECORD_NAME}: the record cannot be read or written"):
        build(plant, as_of=AS_OF)
    assert path.read_bytes() == broken
    assert digest(plant) == before


def test_two_builds_at_once_end_with_whole_results_of_one_of_them(plant: Path) -> None:
    shutil.copyfile(corrected(plant), plant / "plant.xlsx")
    faults: list[BaseException] = []

    def once() -> None:
        try:
            build(plant, as_of=AS_OF)
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=once) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    both = digest(plant)
    build(plant, as_of=AS_OF)
    assert digest(plant) == both
    assert Record(plant / RECORD_NAME).verify() == []


def test_a_clock_set_back_leaves_nothing_out_of_a_later_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    noon = datetime(2026, 5, 1, 12, tzinfo=UTC)
    clock = iter([noon, noon - timedelta(hours=3), noon + timedelta(hours=1)])
    monkeypatch.setattr(record_module, "_now", lambda: record_module._moment(next(clock)))
    record = Record(tmp_path / RECORD_NAME)
    record.keep_sources([SourceFile("a.xlsx", b"a")])
    record.keep_sources([SourceFile("a.xlsx", b"a"), SourceFile("b.xlsx", b"b")])  # three hours "before"
    record.keep_sources([SourceFile("a.xlsx", b"new"), SourceFile("b.xlsx", b"b")])
    at_ten = record.sources_at(noon - timedelta(hours=2))
    # What was written second came after the first, whatever the clock said: both are known.
    assert [(source.file, source.content) for source in at_ten] == [("a.xlsx", b"a"), ("b.xlsx", b"b")]
    assert [source.content for source in record.sources_at(noon + timedelta(hours=2))] == [b"new", b"b"]
    assert record.sources_at(noon - timedelta(hours=4)) == []
    assert record.verify() == []


def test_entries_and_builds_at_once_lose_nothing(plant: Path) -> None:
    """A build runs while people enter: it takes what was there at its start, and the next one takes the rest."""
    record = Record(plant / RECORD_NAME)
    cells = {"asset": "V-1", "component": "Shell", "location": "1", "date": "2025-12-01", "thickness": "0.45 in"}
    numbers: list[int] = []

    def write() -> None:
        numbers.extend(record.append(Identity(BY.name), "survey, long", cells, f"reading {n}") for n in range(10))

    writer = threading.Thread(target=write)
    writer.start()
    build(plant, as_of=date(2026, 1, 2))
    writer.join()
    assert {entry.seq for entry in record.entries()} == set(numbers) and len(numbers) == 10
    assert record.verify() == []
