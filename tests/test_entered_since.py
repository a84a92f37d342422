"""The ranking with what was entered since the results: the same as that of results made anew."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from dashboard import data
from pipeline import reading
from pipeline.entered_since import RankedNow, assets_entered, ranked_now, rework, why_not_worked
from pipeline.errors import Problem
from pipeline.judging import decision_on, held_readings, reading_row, waiting
from pipeline.people import Identity
from pipeline.publishing import open_results
from pipeline.record import Record
from pipeline.run import build
from pipeline.sheets.entries import Typed

AS_OF = date(2026, 11, 1)
ON = "2026-10-20"


@pytest.fixture(scope="module")
def plant(demo_results: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with four vessels entered about: a low reading, an inspection, a verdict, and a higher reading."""
    folder = tmp_path_factory.mktemp("entered") / "plant"
    shutil.copytree(demo_results.parent, folder, symlinks=True)
    with open_results(folder / "results.duckdb") as results:
        calm = results.execute(
            "SELECT asset, component, location FROM result.location JOIN result.asset USING (asset) "
            "WHERE result.asset.state = 'in date' AND t_act_mm > t_req_mm + 3 QUALIFY "
            "row_number() OVER (PARTITION BY asset ORDER BY component, location) = 1 ORDER BY asset LIMIT 3"
        ).fetchall()
        [[held]] = results.execute("SELECT min(asset) FROM result.reading WHERE status = 'held'").fetchall()
        waits = held_readings(results, folder, held)[0]
    record = Record(folder / "record.sqlite")
    who = Identity("Sunniva Ardgour")
    low, visited, higher = calm

    def enter(row: Typed) -> None:
        record.append(who, row.kind, dict(row.cells), "seen on site")

    enter(reading_row(*low, "si", on=ON, thickness="2.0"))
    enter(Typed("inspections", {"asset": visited[0], "kind": "external", "date": ON, "result": "fit"}))
    record.decide(decision_on(waits, held, "accept"), who, "measured again")
    enter(reading_row(*higher, "si", on=ON, thickness="40"))
    return folder


@pytest.fixture(scope="module")
def now(plant: Path) -> tuple[pd.DataFrame, RankedNow]:
    """The ranking as published, and the one with what was entered."""
    file = (plant / "results.duckdb").resolve()
    with open_results(plant / "results.duckdb") as results:
        published = reading.assets(results)
        entered = assets_entered(waiting(results, plant, file).entries)
        return published, ranked_now(results, published, entered, [rework(results, plant, tag) for tag in entered])


@pytest.fixture(scope="module")
def anew(plant: Path, now: tuple[pd.DataFrame, RankedNow]) -> duckdb.DuckDBPyConnection:
    """Results made anew with the same entries; `now` was asked before."""
    return duckdb.connect(str(build(plant, as_of=AS_OF).database.resolve()), read_only=True)


def test_it_is_the_ranking_of_results_made_anew(
    now: tuple[pd.DataFrame, RankedNow], anew: duckdb.DuckDBPyConnection
) -> None:
    published, ranked = now
    pd.testing.assert_frame_equal(ranked.assets, reading.assets(anew))
    assert not ranked.assets.equals(published)


def test_it_says_which_assets_moved_and_how(now: tuple[pd.DataFrame, RankedNow], plant: Path) -> None:
    published, ranked = now
    before, after = (frame.set_index("asset") for frame in (published, ranked.assets))
    assert len(ranked.moves) == 4
    assert all(move.entries == 1 and move.worked_on == AS_OF for move in ranked.moves)
    for move in ranked.moves:
        assert (move.rank_before, move.rank) == (before.at[move.asset, "rank"], after.at[move.asset, "rank"])
        assert (move.state_before, move.state) == (before.at[move.asset, "state"], after.at[move.asset, "state"])
    first = ranked.moves[0]
    assert (first.state_before, first.state) == ("in date", "below required")
    assert first.rank < 10 < first.rank_before


def test_the_concerns_are_those_of_results_made_anew(plant: Path, anew: duckdb.DuckDBPyConnection) -> None:
    with open_results(plant / "results.duckdb") as results:  # the newest by now: the entries are in it
        for tag in ("D-204", results.execute("SELECT asset FROM result.asset WHERE rank = 1").fetchall()[0][0]):
            worked = rework(results, plant, tag)
            pd.testing.assert_frame_equal(worked.concerns, reading.concerns(anew, tag))


def test_an_entry_of_a_later_day_is_worked_for_that_day_and_counted_from_the_day_of_the_results(
    plant: Path, anew: duckdb.DuckDBPyConnection
) -> None:
    folder = plant.with_name("later")
    shutil.copytree(plant, folder, symlinks=True)
    with open_results(folder / "results.duckdb") as results:
        published = reading.assets(results)
        tag, component, location = results.execute(
            "SELECT asset, component, location FROM result.location JOIN result.asset USING (asset) "
            "WHERE result.asset.state = 'in date' ORDER BY ALL LIMIT 1"
        ).fetchall()[0]
        row = reading_row(tag, component, location, "si", on="2026-11-20", thickness="2.0")
        Record(folder / "record.sqlite").append(Identity("Sunniva Ardgour"), row.kind, dict(row.cells), "seen")
        worked = rework(results, folder, tag)
        ranked = ranked_now(results, published, {tag: [1]}, [worked])
    assert worked.worked_on == date(2026, 11, 20)
    line = ranked.assets.set_index("asset").loc[tag]
    assert line["state"] == "below required"
    assert line["days_to_due"] == (line["due_on"].date() - AS_OF).days
    assert sorted(ranked.assets["rank"]) == list(range(1, len(published) + 1))


def test_what_cannot_be_worked_is_said(plant: Path) -> None:
    assert why_not_worked("", 2) == "2 entries about no single asset"
    with (
        open_results(plant / "results.duckdb") as results,
        pytest.raises(Problem, match="there is no such asset") as found,
    ):
        rework(results, plant, "V-NEW")
    assert why_not_worked("V-NEW", 1, found.value).startswith("1 entry about V-NEW (V-NEW: there is no such asset")


def test_a_basis_that_cannot_be_read_does_not_hide_the_ranking(plant: Path) -> None:
    folder = plant.with_name("unreadable basis")
    shutil.copytree(plant, folder, symlinks=True)
    (folder / "basis.toml").write_text("units = [", encoding="utf-8")
    file = (folder / "results.duckdb").resolve()
    version = data.Version(str(file), file.stat().st_mtime_ns)
    shown = data.fleet_now(version, folder)
    assert len(shown.assets) == len(data.fleet(version).assets)
    assert shown.since is not None and shown.since.moves == []
    assert "whatever was entered since" in shown.since.not_worked[0] and "basis.toml" in shown.since.not_worked[0]
