"""The ranking with everything people entered since the results were made.

An entry changes how one asset stands, and with it the order of the fleet. That asset is worked anew by the very steps
of a build, in memory, beside the published results; the others stand as published, and the ranking is made again of
both. Nothing is written: new results bring the same, and everything else that rests on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb
import pandas as pd
import pyarrow as pa

from pipeline import reading
from pipeline.errors import Problem
from pipeline.judging import desk_for
from pipeline.record import Entry
from pipeline.steps import all_steps, make_table

#: Tables from which an asset's line of the ranking and its concerns are read.
_WANTED = ("step.standing", "result.asset", "result.concern")
#: Kinds of entries that move nothing in a ranking.
_MOVES_NOTHING = frozenset({"scope decisions", "file accepted"})


@dataclass(frozen=True)
class Reworked:
    """One asset worked anew for a day: its line of the ranking (rank not yet known), and what asks for work on it."""

    asset: str
    line: pd.DataFrame
    concerns: pd.DataFrame
    worked_on: date
    standing: pa.Table


@dataclass(frozen=True)
class Move:
    """One asset with entries since: its rank and state as published, and with what was entered."""

    asset: str
    entries: int
    rank_before: int
    rank: int
    state_before: str
    state: str
    worked_on: date


@dataclass(frozen=True)
class RankedNow:
    """The ranking with what was entered, and the assets it concerns."""

    assets: pd.DataFrame
    moves: list[Move]


def assets_entered(entries: Sequence[Entry]) -> dict[str, list[int]]:
    """Return the numbers of the entries about each asset, in order; those about no asset stand under the empty tag."""
    numbers: dict[str, list[int]] = {}
    for entry in entries:
        if entry.kind not in _MOVES_NOTHING:
            numbers.setdefault(str(entry.cells.get("asset") or "").strip(), []).append(entry.seq)
    return numbers


def rework(results: duckdb.DuckDBPyConnection, folder: Path, asset: str) -> Reworked:
    """Work one asset with everything on record about it.

    It is worked for the day of the results, or for that of its latest entry where that is later, as new results would
    be. Raises Problem where the asset is not in the results.
    """
    with desk_for(results, folder, asset) as desk, desk.worked(wanted=_WANTED) as worked:
        trial = worked.connection
        # Days are counted from one day throughout a ranking: that of the results.
        trial.execute("UPDATE result.build SET as_of = ?", [desk.published_on])
        return Reworked(
            asset,
            trial.execute(reading.ASSETS).df(),
            trial.execute(reading.CONCERNS, [asset]).df(),
            worked.day,
            trial.sql(
                "SELECT * REPLACE (date_diff('day', ?::DATE, governing_on) AS days_to_governing) FROM step.standing",
                params=[desk.published_on],
            ).to_arrow_table(),
        )


def ranked_now(
    results: duckdb.DuckDBPyConnection,
    published: pd.DataFrame,
    entered: Mapping[str, Sequence[int]],
    reworked: Sequence[Reworked],
) -> RankedNow:
    """Return the published ranking with the assets that were worked anew in their new places.

    `published` is the ranking of the results as `reading.assets` gives it, `entered` the entries' numbers by asset.
    """
    ranks = _ranks(results, reworked)
    lines = {one.asset: one.line for one in reworked}
    stay = published[~published["asset"].isin(lines)]
    together = pd.concat([stay, *lines.values()], ignore_index=True).astype(published.dtypes.to_dict())
    together["rank"] = together["asset"].map(ranks).astype(published["rank"].dtype)
    assets = together.sort_values("rank", ignore_index=True)
    before = published.set_index("asset")
    now = assets.set_index("asset")
    moves = [
        Move(
            one.asset,
            len(entered[one.asset]),
            int(before.at[one.asset, "rank"]),
            int(now.at[one.asset, "rank"]),
            str(before.at[one.asset, "state"]),
            str(now.at[one.asset, "state"]),
            one.worked_on,
        )
        for one in reworked
    ]
    return RankedNow(assets, sorted(moves, key=lambda move: move.rank))


def _ranks(results: duckdb.DuckDBPyConnection, reworked: Sequence[Reworked]) -> dict[str, int]:
    """Rank the fleet by the very step that ranks it in a build."""
    published = results.cursor().sql("FROM step.standing").to_arrow_table()
    tags = [one.asset for one in reworked]
    [ranking] = [step for step in all_steps() if step.table == "step.ranking"]
    with duckdb.connect() as connection:
        connection.execute("CREATE SCHEMA step")
        connection.register("published", published)
        connection.execute("CREATE TABLE step.standing AS FROM published WHERE asset NOT IN (SELECT unnest(?))", [tags])
        for one in reworked:
            connection.register("anew", one.standing)
            connection.execute("INSERT INTO step.standing BY NAME FROM anew")
            connection.unregister("anew")
        make_table(connection, ranking)
        return dict(connection.execute("SELECT asset, rank FROM step.ranking").fetchall())


def why_not_worked(asset: str, entries: int, problem: Problem | None = None) -> str:
    """Say which entries the ranking is still without."""
    counted = "1 entry" if entries == 1 else f"{entries} entries"
    if not asset:
        return f"{counted} about no single asset"
    return f"{counted} about {asset}" + (f" ({problem})" if problem else "")
