"""The one place where the app opens results; every answer is kept by the version of the file it came from.

The path people name is a link that a build replaces in one act. What is read is the file the link pointed at when the
page began, so that one page never mixes two builds, and the next rerun finds the new one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import duckdb
import pandas as pd
import streamlit as st

from pipeline import reading
from pipeline.errors import Problem
from pipeline.explain import Explanation, explain
from pipeline.publishing import open_results

VARIABLE = "HOOPLINE_DATABASE"


class Version(NamedTuple):
    """One published results file: its real path, and when it was written where the name was used again."""

    path: str
    written: int


@dataclass(frozen=True)
class Fleet:
    """What the opening page shows of one version."""

    build: reading.BuildStamp
    assets: pd.DataFrame
    states: dict[str, int]
    due_dates: pd.DataFrame
    turnarounds: pd.DataFrame


@dataclass(frozen=True)
class Asset:
    """What is on record of one asset, besides its row in the ranking and its explanation."""

    components: pd.DataFrame
    concerns: pd.DataFrame
    events: pd.DataFrame
    not_measured: pd.DataFrame


@dataclass(frozen=True)
class Place:
    """One location with its readings and the line its thickness is projected on."""

    row: reading.Row
    readings: pd.DataFrame
    projection: pd.DataFrame


@dataclass(frozen=True)
class Sources:
    """What became of every file, sheet and cell."""

    files: pd.DataFrame
    sheets: pd.DataFrame
    ledger: pd.DataFrame


def newest() -> Version:
    """Return the version now published; raises Problem where no results are named or there are none."""
    named = os.environ.get(VARIABLE, "")
    if not named:
        raise Problem(f"no results are named: start the app by 'hoopline open FOLDER', or set {VARIABLE} to their path")
    try:
        real = Path(named).resolve(strict=True)
        return Version(str(real), real.stat().st_mtime_ns)
    except OSError:
        open_results(Path(named)).close()  # says what is wrong with the path, in the words used everywhere
        raise Problem(f"{named}: cannot be read; check the path and its permissions") from None


@contextmanager
def _results(version: Version) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open one version for one question; raises Problem where it is gone or was made by another program version."""
    connection = open_results(Path(version.path))
    try:
        yield connection
    except duckdb.Error as fault:
        raise Problem(
            f"{version.path}: these results do not hold what this version of the program shows "
            f"({str(fault).splitlines()[0]}); run 'hoopline build FOLDER' anew"
        ) from fault
    finally:
        connection.close()


@st.cache_data(max_entries=2, show_spinner="Reading the results")
def fleet(version: Version) -> Fleet:
    """Return the ranking, the due dates of the fleet and the turnarounds."""
    with _results(version) as connection:
        return Fleet(
            reading.build(connection),
            reading.assets(connection),
            reading.state_counts(connection),
            reading.due_dates(connection),
            reading.turnarounds(connection),
        )


@st.cache_data(max_entries=64, show_spinner=False)
def concerns(version: Version, asset: str) -> pd.DataFrame:
    """Return everything that asks for work on an asset, most urgent first."""
    with _results(version) as connection:
        return reading.concerns(connection, asset)


@st.cache_data(max_entries=64, show_spinner=False)
def asset(version: Version, asset: str) -> Asset:
    """Return the components, concerns, events and missed measurements of an asset."""
    with _results(version) as connection:
        return Asset(
            reading.components(connection, asset),
            reading.concerns(connection, asset),
            reading.events(connection, asset),
            reading.not_measured(connection, asset),
        )


@st.cache_data(max_entries=64, show_spinner=False)
def places(version: Version, asset: str, component: str) -> pd.DataFrame:
    """Return the locations of a component."""
    with _results(version) as connection:
        return reading.places(connection, asset, component)


@st.cache_data(max_entries=64, show_spinner=False)
def place(version: Version, asset: str, component: str, location: str) -> Place:
    """Return one location with its readings; raises Problem where there is no such location."""
    with _results(version) as connection:
        row = reading.place(connection, asset, component, location)
        if row is None:
            raise Problem(f"{asset} {component} {location}: there is no such location in these results")
        return Place(row, reading.readings(connection, asset, component, location), reading.projection(row))


@st.cache_data(max_entries=64, show_spinner="Working the numbers again")
def why(version: Version, asset: str, component: str | None, location: str | None, system: str) -> Explanation:
    """Explain an asset or one of its places in a unit system; raises Problem where it is not in the results."""
    with _results(version) as connection:
        return explain(connection, asset, component, location, system)


@st.cache_data(max_entries=2, show_spinner="Reading the ledger")
def sources(version: Version) -> Sources:
    """Return what became of every file, sheet and cell."""
    with _results(version) as connection:
        return Sources(reading.sources(connection), reading.sheets(connection), reading.ledger(connection))


@st.cache_data(max_entries=4, show_spinner=False)
def policies(version: Version, system: str) -> pd.DataFrame:
    """Return the policies of the basis in force, with their values in a unit system."""
    with _results(version) as connection:
        return reading.policies(connection, system)


# ---- choosing rows --------------------------------------------------------------------------------------------------


def matching(frame: pd.DataFrame, chosen: dict[str, list[str]], text: str = "", unstated: str = "") -> pd.DataFrame:
    """Return the rows with a chosen value in every column of `chosen` and every word of `text` among their words.

    An empty list chooses everything; `unstated` is the word that chooses rows with nothing in the column.
    """
    for column, values in chosen.items():
        if values:
            frame = frame[frame[column].fillna(unstated).isin(values)]
    for word in text.lower().split():
        frame = frame[frame["words"].str.contains(word, regex=False)]
    return frame


def options(frame: pd.DataFrame, column: str, unstated: str) -> list[str]:
    """Return the values that occur in a column, in order, with the word for none where some rows have none."""
    known = sorted(frame[column].dropna().unique())
    return [*known, unstated] if frame[column].isna().any() else known
