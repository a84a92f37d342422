"""What keeps the app quick on a large fleet says the same as the slow way: open files kept, the ledger in parts."""

from __future__ import annotations

import shutil
import threading
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from dashboard import data
from pipeline import reading
from pipeline.publishing import open_results
from tests.bench.fleets import add_survey, write_plant


def version_of(path: Path) -> data.Version:
    return data.Version(str(path), path.stat().st_mtime_ns)


@pytest.fixture(scope="module")
def results(demo_results: Path) -> duckdb.DuckDBPyConnection:
    return open_results(demo_results)


def test_a_file_is_opened_once_and_each_question_has_a_cursor_of_its_own(demo_results: Path) -> None:
    version = version_of(demo_results.resolve())
    first, second = data._opened(version), data._opened(version)
    assert first is not second
    first.execute("SELECT 1")
    assert second.execute("SELECT count(*) FROM result.asset").fetchall() == [(76,)]
    assert first.fetchall() == [(1,)]
    assert list(data._OPEN).count(version) == 1


def test_questions_at_the_same_time_get_their_own_rows(demo_results: Path) -> None:
    version = version_of(demo_results.resolve())
    tags = list(data.fleet(version).assets["asset"])
    wrong: list[str] = []

    def ask(tag: str) -> None:
        with data._results(version) as connection:
            found = reading.components(connection, tag)
        if set(found["asset"]) - {tag}:
            wrong.append(tag)

    threads = [threading.Thread(target=ask, args=(tag,)) for tag in tags]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_a_name_used_again_is_opened_again(demo_results: Path, tmp_path: Path) -> None:
    """A file system without links keeps one name for every build."""
    path = tmp_path / "results.duckdb"
    shutil.copy(demo_results.resolve(), path)
    with data._results(version_of(path)) as connection:
        assert reading.build(connection).as_of == date(2026, 11, 1)
    other = tmp_path / "other.duckdb"
    shutil.copy(demo_results.resolve(), other)
    with duckdb.connect(str(other)) as writing:
        writing.execute("UPDATE result.build SET as_of = DATE '2020-01-01'")
    other.replace(path)
    later = data.Version(str(path), path.stat().st_mtime_ns + 1)
    with data._results(later) as connection:
        assert reading.build(connection).as_of == date(2020, 1, 1)


def test_the_oldest_file_is_let_go_and_a_question_at_work_on_it_ends_well(demo_results: Path, tmp_path: Path) -> None:
    versions = []
    for number in range(data._KEPT_OPEN + 1):
        copied = tmp_path / f"results.{number:06d}.duckdb"
        shutil.copy(demo_results.resolve(), copied)
        versions.append(version_of(copied))
    at_work = data._opened(versions[0])
    for version in versions[1:]:
        data._opened(version)
    assert versions[0] not in data._OPEN
    assert len(data._OPEN) <= data._KEPT_OPEN
    assert at_work.execute("SELECT count(*) FROM result.asset").fetchall() == [(76,)]


@pytest.mark.parametrize(
    ("severities", "files", "text"),
    [
        ((), (), ""),
        (("set aside",), (), ""),
        (("warning", "note"), ("UT results 2019-2026.csv",), ""),
        ((), (), "V-408 reading"),
        (("warning",), (), "no such words"),
    ],
)
def test_the_ledger_asked_in_parts_is_the_ledger(
    results: duckdb.DuckDBPyConnection, severities: tuple[str, ...], files: tuple[str, ...], text: str
) -> None:
    every = results.cursor().execute("SELECT * FROM result.ledger").df()
    words = every[["file", "sheet", "cell", "text", "reason", "effect"]].fillna("").agg(" ".join, axis=1).str.lower()
    wanted = pd.Series(True, index=every.index)
    if severities:
        wanted &= every["severity"].isin(severities)
    if files:
        wanted &= every["file"].isin(files)
    for word in text.lower().split():
        wanted &= words.str.contains(word, regex=False)
    found, number = reading.ledger_lines(results, severities, files, text, 10_000)
    assert number == len(found) == wanted.sum()
    assert set(found["cell"] + found["file"]) == set(every[wanted]["cell"] + every[wanted]["file"])
    order = ["set aside", "warning", "note"]
    assert list(found["severity"]) == sorted(found["severity"], key=order.index)
    first, in_all = reading.ledger_lines(results, severities, files, text, 3)
    assert in_all == number
    assert list(first["cell"]) == list(found["cell"][:3])


def test_the_ledger_is_counted_by_severity_and_file(results: duckdb.DuckDBPyConnection) -> None:
    counts = reading.ledger_counts(results)
    assert counts.lines == sum(counts.severities.values()) == sum(counts.files.values()) > 0
    assert list(counts.severities) == [name for name in ("set aside", "warning", "note") if name in counts.severities]
    reasons = {row[0] for row in results.cursor().execute("SELECT DISTINCT reason FROM result.ledger").fetchall()}
    assert set(reading.ledger_reasons(results)) == reasons


def test_rows_about_the_assets_found_are_those_rows(demo_results: Path) -> None:
    fleet = data.fleet(version_of(demo_results.resolve()))
    some = fleet.assets[fleet.assets["state"] == "overdue"]
    own = data.about(fleet.due_dates, some, fleet)
    assert 0 < len(own) < len(fleet.due_dates)
    assert set(own["asset"]) == set(some["asset"])
    assert len(own) == fleet.due_dates["asset"].isin(some["asset"]).sum()
    assert data.about(fleet.due_dates, fleet.assets, fleet) is fleet.due_dates


def test_a_large_plant_is_the_same_each_time_and_as_large_as_said(tmp_path: Path) -> None:
    sizes = [write_plant(tmp_path / name, 6) for name in ("one", "other")]
    assert sizes[0] == sizes[1]
    written = {path.relative_to(tmp_path / "one"): path for path in (tmp_path / "one").rglob("*") if path.is_file()}
    assert all((tmp_path / "other" / name).read_bytes() == path.read_bytes() for name, path in written.items())
    lines = sum(
        len(path.read_text(encoding="utf-8").splitlines()) - 1
        for name, path in written.items()
        if name.name.startswith("readings")
    )
    assert sizes[0].readings == lines > 0
    assert 0 < add_survey(tmp_path / "one") <= sizes[0].places
