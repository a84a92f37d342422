"""The one place where the app opens results; every answer is kept by the version of the file it came from.

The path people name is a link that a build replaces in one act. What is read is the file the link pointed at when the
page began, so that one page never mixes two builds, and the next rerun finds the new one.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import NamedTuple

import duckdb
import pandas as pd
import streamlit as st

from pipeline import evidence as standing
from pipeline import field_sheet as field_sheets
from pipeline import fleet_ahead, judging, outlook, reading
from pipeline.basis import default_basis, read_basis
from pipeline.changes import Change
from pipeline.comparison import Comparison, Side, compare
from pipeline.drawing import Drawing, drawing
from pipeline.entered_since import Move, Reworked, assets_entered, ranked_now, rework, why_not_worked
from pipeline.entering import enter, look_over
from pipeline.errors import Problem
from pipeline.explain import Explanation, explain
from pipeline.explain_area import AreaExplanation, explain_area
from pipeline.export import export_workbook, statement_path
from pipeline.folder import SUFFIXES, read_folder
from pipeline.movement import Movement, earlier_versions, movement
from pipeline.options import Options, ThinPlace, thin_places
from pipeline.options import Turnaround as NamedTurnaround
from pipeline.options import options as options_of
from pipeline.paper import page as page_of
from pipeline.people import Identity, require
from pipeline.preview import LARGEST, Preview, accept, accepted_name, preview
from pipeline.print_page import document
from pipeline.publishing import RESULTS_NAME, open_results
from pipeline.record import RECORD_NAME, Record
from pipeline.run import build, rebuild
from pipeline.scope_decision import decisions, decisions_frame
from pipeline.scope_export import scope_export
from pipeline.sheets.entries import Typed
from pipeline.sheets.headings import headings_with
from pipeline.slip import Slip, slip
from pipeline.turnaround import Plan, plan
from pipeline.turnaround_dates import Turnaround, turnarounds
from pipeline.understood import (
    ReadTable,
    UnknownHeading,
    UnlistedTag,
    beside_listed,
    headings_in_force,
    read_tables,
    read_workbook,
    undated_headings,
    unknown_headings,
    unlisted_tags,
)
from pipeline.what_if import WhatIf, untried, what_if

VARIABLE = "HOOPLINE_DATABASE"
FOLDER_VARIABLE = "HOOPLINE_FOLDER"
SIGN_IN_VARIABLE = "HOOPLINE_SIGN_IN"

Progress = Callable[[str], None]

#: Endings of the workbooks a page takes, and the largest one.
ENDINGS = tuple(sorted(SUFFIXES))
LARGEST_BYTES = LARGEST


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
    since: Since | None = None


@dataclass(frozen=True)
class Since:
    """What was entered since the results: the assets ranked anew, their concerns, and what the ranking is without."""

    moves: list[Move]
    concerns: dict[str, pd.DataFrame]
    not_worked: list[str]


@dataclass(frozen=True)
class Asset:
    """What is on record of one asset, besides its row in the ranking and its explanation."""

    components: pd.DataFrame
    concerns: pd.DataFrame
    events: pd.DataFrame
    not_measured: pd.DataFrame
    coverage: pd.DataFrame


@dataclass(frozen=True)
class Place:
    """One location with its readings, the line and the band its thickness is projected on, and its MAWP over time."""

    row: reading.Row
    readings: pd.DataFrame
    projection: pd.DataFrame
    band: pd.DataFrame
    pressure: pd.DataFrame


@dataclass(frozen=True)
class Sources:
    """What became of every file, and how many lines the ledger has."""

    files: pd.DataFrame
    ledger: reading.LedgerCounts


@dataclass(frozen=True)
class Untaught:
    """What a plant may teach once: headings nobody knows, headings that name a survey and not its date, tags that no
    register lists; and the tags a register does list."""

    headings: list[UnknownHeading]
    undated: list[str]
    tags: list[UnlistedTag]
    listed: list[str]


@dataclass(frozen=True)
class Sheets:
    """How every sheet was understood, what would teach the rest, and what the plant taught already."""

    tables: list[ReadTable]
    untaught: Untaught
    spellings: pd.DataFrame


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


# What is asked of a whole fleet is kept once for everybody (`cache_resource`): no page may write into it. What is asked
# of one asset is copied for each page (`cache_data`).

#: Results files kept open: to open one reads its whole catalogue, which takes longer than most questions.
_KEPT_OPEN = 4
_OPEN: OrderedDict[Version, duckdb.DuckDBPyConnection] = OrderedDict()
_OPENING = threading.Lock()


def _opened(version: Version) -> duckdb.DuckDBPyConnection:
    """Return a cursor of its own on one version; raises Problem where there are no such results."""
    with _OPENING:
        for other in [kept for kept in _OPEN if kept.path == version.path and kept != version]:
            del _OPEN[other]  # the name was used again: what is kept open is the file before
        if version not in _OPEN:
            _OPEN[version] = open_results(Path(version.path))
        _OPEN.move_to_end(version)
        while len(_OPEN) > _KEPT_OPEN:
            _OPEN.popitem(last=False)  # not closed: a question may still be at work on a cursor of it
        return _OPEN[version].cursor()


@contextmanager
def _results(version: Version) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open one version for one question; raises Problem where it is gone or was made by another program version."""
    connection = _opened(version)
    try:
        yield connection
    except duckdb.Error as fault:
        raise Problem(
            f"{version.path}: these results do not hold what this version of the program shows "
            f"({str(fault).splitlines()[0]}); run 'hoopline build FOLDER' anew"
        ) from fault
    finally:
        connection.close()


@st.cache_resource(max_entries=2, show_spinner="Reading the results")
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


#: Assets worked anew for one ranking; with more entries waiting, it is time for new results.
MOST_REWORKED = 24


def fleet_now(version: Version, folder: Path | None) -> Fleet:
    """Return the fleet with the ranking as it is with everything entered since the results were made.

    The due dates and turnarounds are those of the results. Without a folder there is nothing to enter, nor to add.
    """
    if folder is None:
        return fleet(version)
    try:
        number, _ = Record(folder.joinpath(RECORD_NAME)).last_link()
        return _fleet_now(version, folder, number)
    except Problem as problem:  # a basis or record that cannot be read must not hide the results
        return replace(fleet(version), since=Since([], {}, [f"whatever was entered since ({problem})"]))


@st.cache_resource(max_entries=4, show_spinner="Working what was entered since")
def _fleet_now(version: Version, folder: Path, number: int) -> Fleet:
    published = fleet(version)
    with _results(version) as connection:
        entries = judging.waiting(connection, folder, Path(version.path)).entries
        entered = assets_entered(entries)
        if not entered:
            return published
        newest_first = sorted(entered, key=lambda tag: -entered[tag][-1])
        anew: list[Reworked] = []
        left_out: list[str] = []
        for tag in newest_first:
            if not tag or len(anew) == MOST_REWORKED:
                left_out.append(why_not_worked(tag, len(entered[tag])))
                continue
            try:
                anew.append(_reworked(version, folder, tag, entered[tag][-1]))
            except Problem as problem:
                left_out.append(why_not_worked(tag, len(entered[tag]), problem))
        now = ranked_now(connection, published.assets, entered, anew)
    counts = now.assets["state"].value_counts()
    return replace(
        published,
        assets=now.assets,
        states={state: int(counts.get(state, 0)) for state in published.states},
        since=Since(now.moves, {one.asset: one.concerns for one in anew}, left_out),
    )


@st.cache_resource(max_entries=256, show_spinner=False)
def _reworked(version: Version, folder: Path, asset: str, number: int) -> Reworked:
    """Work one asset with its entries up to one number; raises Problem where the results do not hold it."""
    with _results(version) as connection:
        return rework(connection, folder, asset)


@st.cache_resource(max_entries=2, show_spinner=False)
def worth_measuring(version: Version) -> pd.DataFrame:
    """Return what one measurement would be worth, fleet-wide."""
    with _results(version) as connection:
        return reading.worth_measuring(connection)


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
            outlook.coverage(connection, asset),
        )


@st.cache_data(max_entries=64, show_spinner=False)
def places(version: Version, asset: str, component: str) -> pd.DataFrame:
    """Return the locations of a component."""
    with _results(version) as connection:
        return reading.places(connection, asset, component)


@st.cache_data(max_entries=64, show_spinner=False)
def first_asked(version: Version, asset: str) -> dict[str, reading.Row]:
    """Return the place of an asset whose interval asks first, by the kind of due date."""
    with _results(version) as connection:
        return reading.first_asked(connection, asset)


@st.cache_data(max_entries=64, show_spinner=False)
def place(version: Version, asset: str, component: str, location: str) -> Place:
    """Return one location with its readings; raises Problem where there is no such location."""
    with _results(version) as connection:
        row = reading.place(connection, asset, component, location)
        if row is None:
            raise Problem(f"{asset} {component} {location}: there is no such location in these results")
        return Place(
            row,
            reading.readings(connection, asset, component, location),
            reading.projection(row),
            outlook.thickness_band(row),
            outlook.pressure_over_time(connection, asset, component, location),
        )


@st.cache_data(max_entries=64, show_spinner=False)
def sketch(version: Version, asset: str, system: str) -> Drawing:
    """Return the sketch of an asset with its places."""
    with _results(version) as connection:
        return drawing(connection, asset, system)


@st.cache_data(max_entries=32, show_spinner=False)
def areas(version: Version, asset: str, system: str) -> list[AreaExplanation]:
    """Explain every corroded area of an asset in a unit system."""
    with _results(version) as connection:
        return [
            explain_area(connection, asset, component, area, system)
            for component, area in reading.areas(connection, asset)
        ]


@st.cache_data(max_entries=64, show_spinner=False)
def relief_devices(version: Version, asset: str) -> pd.DataFrame:
    """Return the relief devices of an asset with their set pressure."""
    with _results(version) as connection:
        return reading.relief_devices(connection, asset)


def changes(folder: Path, asset: str) -> list[reading.Row]:
    """Return everything people entered about an asset, the newest first; not kept, it may grow at any moment."""
    return outlook.changes(Record(folder.joinpath(RECORD_NAME)), asset)


@st.cache_data(max_entries=64, show_spinner="Working the numbers again")
def why(version: Version, asset: str, component: str | None, location: str | None, system: str) -> Explanation:
    """Explain an asset or one of its places in a unit system; raises Problem where it is not in the results."""
    with _results(version) as connection:
        return explain(connection, asset, component, location, system)


@st.cache_resource(max_entries=2, show_spinner="Reading the ledger")
def sources(version: Version) -> Sources:
    """Return what became of every file, and how many lines the ledger has."""
    with _results(version) as connection:
        return Sources(reading.sources(connection), reading.ledger_counts(connection))


@st.cache_data(max_entries=32, show_spinner=False)
def ledger_lines(
    version: Version, severities: tuple[str, ...], files: tuple[str, ...], text: str, most: int
) -> tuple[pd.DataFrame, int]:
    """Return the first lines of the ledger of the severities and files chosen, with every word of a text, and how many
    there are."""
    with _results(version) as connection:
        return reading.ledger_lines(connection, severities, files, text, most)


@st.cache_resource(max_entries=2, show_spinner="Reading how the sheets were understood")
def sheets(version: Version) -> Sheets:
    """Return how every sheet was understood, and what would teach what was not."""
    with _results(version) as connection:
        tables = read_tables(connection)
        tags, listed = unlisted_tags(connection)
        headings = unknown_headings(tables, headings_in_force(connection))
        undated = undated_headings(reading.ledger_reasons(connection))
        return Sheets(tables, Untaught(headings, undated, tags, listed), reading.spellings(connection))


@st.cache_data(max_entries=4, show_spinner=False)
def policies(version: Version, system: str) -> pd.DataFrame:
    """Return the policies of the basis in force, with their values in a unit system."""
    with _results(version) as connection:
        return reading.policies(connection, system)


# ---- the fleet ahead, and planning ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ahead:
    """What lies ahead: the time every asset has left, and the calendar of the due dates."""

    life_left: pd.DataFrame
    calendar: pd.DataFrame


@st.cache_resource(max_entries=2, show_spinner=False)
def ahead(version: Version) -> Ahead:
    """Return the time every asset has left and the calendar of the due dates."""
    with _results(version) as connection:
        return Ahead(fleet_ahead.life_left(connection), fleet_ahead.calendar(connection))


def earlier(version: Version) -> list[Version]:
    """Return the versions published before this one that are still there, the newest first."""
    found = []
    for path in earlier_versions(Path(version.path)):
        with suppress(OSError):  # dropped by a build at this moment
            found.append(Version(str(path), path.stat().st_mtime_ns))
    return found


@st.cache_resource(max_entries=4, show_spinner="Comparing with the build before")
def moved_since(version: Version, before: Version) -> Movement | None:
    """Return what moved since an earlier version; None where that was made by another version of the program."""
    try:
        with _results(version) as now, _results(before) as then:
            return movement(now, then)
    except Problem:
        return None


@st.cache_data(max_entries=2, show_spinner=False)
def turnarounds_ahead(version: Version) -> list[Turnaround]:
    """Return the turnarounds still ahead, the next one first."""
    with _results(version) as connection:
        return turnarounds(connection)


@st.cache_resource(max_entries=8, show_spinner="Sorting the assets")
def planned(version: Version, first: Turnaround, second: Turnaround, system: str) -> Plan:
    """Return every asset sorted for a turnaround and the one after it."""
    with _results(version) as connection:
        return plan(connection, first, second, system)


@st.cache_resource(max_entries=8, show_spinner="Moving the turnaround")
def slipped(version: Version, first: Turnaround, second: Turnaround) -> Slip:
    """Return what breaks when a turnaround moves, month by month."""
    with _results(version) as connection:
        return slip(connection, first, second)


def scope_decisions(version: Version, folder: Path | None) -> pd.DataFrame:
    """Return every decision on scope, also one entered since the build; not kept, for one may come at any moment."""
    entries = Record(folder.joinpath(RECORD_NAME)).entries() if folder else []
    basis = read_basis(folder) if folder else default_basis()
    with _results(version) as connection:
        return decisions_frame(decisions(connection, entries, basis, date.today()))


def decide_scope(folder: Path, row: Typed, by: Identity, reason: str) -> int:
    """Put a decision on scope on record under a person's name; raises Problem where that cannot be."""
    return enter(folder, row, by, reason)


def scope_workbook(
    version: Version, first: Turnaround, second: Turnaround, system: str, decided: pd.DataFrame, months: int
) -> bytes:
    """Return the scope list of a turnaround as a workbook."""
    with _results(version) as connection:
        return scope_export(connection, first, second, system, decided, months)


# ---- a status on another day ----------------------------------------------------------------------------------------


@st.cache_data(max_entries=8, show_spinner=False)
def past_status(folder: Path, version: Version, as_of: date, known_on: date | None) -> Version:
    """Make the status as of a day, as known at the end of another (None: now), beside today's results.

    Kept until the results in view change. Raises Problem where nothing was known then.
    """
    moment = datetime.now(UTC) if known_on is None else datetime.combine(known_on, time.max).astimezone()
    home = Path(tempfile.mkdtemp(prefix="hoopline-status-"))
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    made = rebuild(folder, home.joinpath("status.duckdb"), as_of, moment).database
    return Version(str(made), made.stat().st_mtime_ns)


@st.cache_resource(max_entries=4, show_spinner=False)
def evidence(version: Version) -> pd.DataFrame:
    """Return what stands behind the status of every asset, and what is missing."""
    with _results(version) as connection:
        return standing.evidence(connection)


@st.cache_resource(max_entries=4, show_spinner=False)
def deferrals(version: Version) -> pd.DataFrame:
    """Return every deferral on record and whether it counts."""
    with _results(version) as connection:
        return standing.deferrals(connection)


@st.cache_resource(max_entries=4, show_spinner=False)
def resting_on_nominal(version: Version) -> pd.DataFrame:
    """Return the places whose rate counts from the nominal thickness."""
    with _results(version) as connection:
        return standing.resting_on_nominal(connection)


def audit_workbook(
    version: Version,
    folder: Path | None = None,
    assets: Sequence[str] = (),
    all_places: bool = False,
    published: bool = False,
) -> bytes:
    """Return the audit workbook of a version: of some assets or, where none is named, of all.

    In the plant's folder it says what changed since the last export; one of all `published` results is remembered.
    """
    statement = statement_path(folder.joinpath(RESULTS_NAME)) if folder else None
    with _results(version) as connection, tempfile.TemporaryDirectory() as home:
        path = Path(home).joinpath("audit.xlsx")
        export_workbook(connection, path, assets, all_places, statement, remember=published)
        return path.read_bytes()


def printable(version: Version, folder: Path | None, asset: str, component: str | None, system: str) -> bytes:
    """Return the page to be printed of an asset, or the calculation record of a component, as HTML."""
    plant = folder.name if folder else "not named: results alone are open"
    with _results(version) as connection:
        return page_of(document(connection, asset, component, plant, system)).encode()


def compared(folder: Path, days: tuple[date, date], progress: Progress = lambda line: None) -> Comparison:
    """Return what changed from the end of one day to the end of another, and because of what."""
    first, last = (Side(day, datetime.combine(day, time.max).astimezone()) for day in days)
    with _troubles_said(folder):
        return compare(folder, first, last, progress)


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


def about(frame: pd.DataFrame, found: pd.DataFrame, fleet: Fleet) -> pd.DataFrame:
    """Return the rows of a frame that are about the assets found; all of them where every asset of the fleet is."""
    if len(found) == len(fleet.assets):
        return frame
    tags = set(found["asset"].to_list())
    return frame[[tag in tags for tag in frame["asset"].to_list()]]


def words_in(frame: pd.DataFrame, columns: tuple[str, ...]) -> list[str]:
    """Return what stands in some columns of each row, in lower case, to be searched by `matching`."""
    return [" ".join(str(value) for value in row).lower() for row in frame[list(columns)].to_numpy().tolist()]


def options(frame: pd.DataFrame, column: str, unstated: str) -> list[str]:
    """Return the values that occur in a column, in order, with the word for none where some rows have none."""
    known = sorted(frame[column].dropna().unique())
    return [*known, unstated] if frame[column].isna().any() else known


# ---- trying a change ------------------------------------------------------------------------------------------------


@st.cache_data(max_entries=64, show_spinner="Working the trial")
def tried(version: Version, asset: str, changes: tuple[Change, ...], system: str) -> WhatIf:
    """Return an asset with changes beside its results; raises Problem where a change cannot be tried."""
    with _results(version) as connection:
        if not changes:
            return untried(connection, asset)
        return what_if(connection, asset, changes, system)


@st.cache_data(max_entries=64, show_spinner=False)
def thin_places_of(version: Version, asset: str) -> tuple[tuple[ThinPlace, ...], tuple[NamedTurnaround, ...]]:
    """Return the places of an asset with a wall too thin now or before the next turnaround ends, and those ahead."""
    with _results(version) as connection:
        return thin_places(connection, asset)


@st.cache_data(max_entries=16, show_spinner="Working out and trying what can be weighed")
def options_for(version: Version, asset: str, system: str) -> Options:
    """Return what can be weighed for an asset with a wall too thin."""
    with _results(version) as connection:
        return options_of(connection, asset, system)


# ---- one more workbook ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Standing:
    """What a look at a workbook rests on: the results in view, the folder's files and basis, the verdicts on record.
    Where any of it is another one later, the look no longer says what accepting would do."""

    version: Version
    files: tuple[tuple[str, int, int], ...]
    basis: str
    verdicts: tuple[object, ...]


@dataclass(frozen=True)
class Look:
    """One workbook looked at: what it would change, how it was read, and what else the folder brings since the build.

    `replaced_on` is the day on which the version it would replace was written, None where it replaces none.
    """

    content: bytes
    preview: Preview
    tables: list[ReadTable]
    untaught: Untaught
    newer: list[str]
    replaced_on: date | None
    as_of: date
    standing: Standing


def plant_folder() -> Path | None:
    """Return the plant's folder, None where the app was started on results alone; raises Problem where it is gone."""
    named = os.environ.get(FOLDER_VARIABLE, "")
    if not named:
        return None
    folder = Path(named)
    if not folder.is_dir():
        raise Problem(f"{folder}: there is no such folder any more; start the app anew by 'hoopline open FOLDER'")
    return folder


def sign_in_file() -> Path | None:
    """Return the sign-in file the app was started with, None on one's own machine."""
    named = os.environ.get(SIGN_IN_VARIABLE, "")
    return Path(named) if named else None


def people(folder: Path) -> list[str]:
    """Return the people the plant's basis names, as they are written there."""
    return list(read_basis(folder).people)


def look_at(
    folder: Path, file: str, content: bytes, version: Version, as_of: date, progress: Progress = lambda line: None
) -> Look:
    """Return what accepting a workbook would change. Writes nothing; raises Problem where it cannot be taken."""
    name = accepted_name(file)
    with _troubles_said(folder):
        standing = _standing(folder, version)
        seen = preview(folder, name, content, as_of, progress)
        progress("reading how its sheets are understood")
        basis = read_basis(folder)
        tables = read_workbook(name, content, basis, as_of)
        headings = unknown_headings(tables, headings_with(basis.headings))
        undated = undated_headings(str(line["reason"]) for line in seen.ledger)
        return Look(
            content,
            seen,
            tables,
            Untaught(headings, undated, *_tags_brought(seen, tables, version)),
            _newer_files(folder, version, name),
            datetime.fromtimestamp(folder.joinpath(name).stat().st_mtime, UTC).date() if seen.replaces else None,
            as_of,
            standing,
        )


def still_stands(look: Look, folder: Path, version: Version) -> bool:
    """Return whether the folder, the basis, the verdicts and the results are those the look rests on."""
    with _troubles_said(folder):
        return look.standing == _standing(folder, version)


def take(folder: Path, look: Look, by: Identity, reason: str, progress: Progress = lambda line: None) -> None:
    """Put the workbook into the folder under a person's name and publish new results as of the same date.

    Raises Problem where that cannot be done, which says how far it came.
    """
    database = os.environ.get(VARIABLE, "")
    file = look.preview.file
    try:
        published = Path(database) if database else None
        accept(folder, file, look.content, by, reason, published, look.as_of, progress)
    except (OSError, Problem) as fault:
        cause = (fault.strerror or str(fault)) if isinstance(fault, OSError) else str(fault)
        if _holds(folder.joinpath(file), look.content):
            came = f"{file} is in the folder, but the results in view are without it: run 'hoopline build FOLDER'"
        else:
            came = f"{file} is not in the folder, and the results are as they were"
        raise Problem(f"{cause}. {came}") from fault


def _holds(path: Path, content: bytes) -> bool:
    try:
        return path.read_bytes() == content
    except OSError:
        return False


@contextmanager
def _troubles_said(folder: Path) -> Iterator[None]:
    """Turn what the operating system and the database report into a sentence."""
    try:
        yield
    except OSError as fault:
        where = fault.filename or folder
        raise Problem(f"{where}: cannot be read ({fault.strerror or fault}); check it and look again") from fault
    except duckdb.Error as fault:
        words = str(fault).splitlines()[0]
        raise Problem(f"the workbook cannot be worked through ({words}); nothing was written") from fault


def _standing(folder: Path, version: Version) -> Standing:
    files = tuple(
        (path.relative_to(folder).as_posix(), path.stat().st_size, path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.suffix.lower() in SUFFIXES and path.is_file()
    )
    decisions = Record(folder.joinpath(RECORD_NAME)).decisions()
    return Standing(version, files, read_basis(folder).text, tuple(decisions))


def _tags_brought(seen: Preview, tables: list[ReadTable], version: Version) -> tuple[list[UnlistedTag], list[str]]:
    """Return the tags a workbook brings that no register lists, and the listed ones. A workbook with a register of its
    own may list what it brings: of that its ledger speaks."""
    with _results(version) as connection:
        listed = unlisted_tags(connection)[1]
    if any(read.kind == "assets" for read in tables):
        return [], listed
    brought = [row["asset"] for row in seen.states_changed if row["state_before"] is None]
    places = {row["asset"]: f"{row['sheet']}, {row['cell']}" for row in reversed(seen.readings_added)}
    return beside_listed({tag: places.get(tag, seen.file) for tag in brought}, listed), listed


def _newer_files(folder: Path, version: Version, file: str) -> list[str]:
    """Return the files, besides this one, whose content in the folder is not that of the results in view."""
    try:
        present = {source.file: source.sha256 for source in read_folder(folder).sources}
    except Problem:  # a folder that holds no workbook yet
        present = {}
    with _results(version) as connection:
        built = dict(reading.sources(connection)[["file", "sha256"]].itertuples(index=False, name=None))
    others = (name for name in present.keys() | built.keys() if name != file)
    return sorted(name for name in others if present.get(name) != built.get(name))


# ---- assigned work, field sheets, entering --------------------------------------------------------------------------


@dataclass(frozen=True)
class Sheet:
    """A field sheet ready to be taken along: its name, the workbook, and the page to be printed."""

    file: str
    workbook: bytes
    page: str


@st.cache_data(max_entries=8, show_spinner=False)
def assigned(version: Version, person: str) -> pd.DataFrame:
    """Return the assets assigned to a person by rank, with how much waits at each."""
    with _results(version) as connection:
        return field_sheets.assigned(connection, person)


@st.cache_data(max_entries=64, show_spinner=False)
def to_do(version: Version, asset: str, system: str) -> list[tuple[str, str]]:
    """Return what there is to do at an asset, as kind and sentence."""
    with _results(version) as connection:
        return field_sheets.to_do(connection, asset, system)


@st.cache_data(max_entries=16, show_spinner="Making the field sheet")
def field_sheet(version: Version, asset: str, system: str, survey_on: date) -> Sheet:
    """Return the field sheet of an asset for a day; raises Problem where no place of it is on record."""
    with _results(version) as connection:
        sheet = field_sheets.field_sheet(connection, asset, system, survey_on)
    return Sheet(sheet.file_name, field_sheets.workbook(sheet), field_sheets.page(sheet))


def why_not_enter(folder: Path, by: Identity, kind: str, asset: str) -> str | None:
    """Return why a person may not enter a kind of row about an asset, None where they may."""
    record = Record(folder.joinpath(RECORD_NAME))
    try:
        require(folder, by, kind, asset, assigned=record.assigned_to)
    except Problem as problem:
        return str(problem)
    return None


def judged(version: Version, folder: Path, asset: str, typed: list[Typed]) -> judging.Judgement:
    """Return what rows would change, by the very steps. Writes nothing; raises Problem where one cannot be used."""
    with _results(version) as connection:
        return judging.judge(connection, folder, asset, typed)


def rates(version: Version, folder: Path, asset: str, component: str, location: str) -> list[judging.RateOption]:
    """Return every rate that may be chosen for a place, with the life and the dates it would give."""
    with _results(version) as connection:
        return judging.rate_options(connection, folder, asset, component, location)


def held(version: Version, folder: Path, asset: str) -> list[judging.HeldReading]:
    """Return the readings that wait for a person, with the dates by either verdict."""
    with _results(version) as connection:
        return judging.held_readings(connection, folder, asset)


@st.cache_data(max_entries=64, show_spinner=False)
def recommendations(version: Version, asset: str) -> list[reading.Row]:
    """Return the open recommendations of an asset."""
    with _results(version) as connection:
        return field_sheets.open_recommendations(connection, asset)


def enter_rows(folder: Path, typed: list[Typed], by: Identity, reason: str) -> list[int]:
    """Enter rows under a person's name, all of them or none; return their numbers. Raises Problem where one may not
    be."""
    record = Record(folder.joinpath(RECORD_NAME))
    for row in typed:
        look_over(folder, row)
        require(folder, by, row.kind, row.cells.get("asset"), assigned=record.assigned_to)
    return [enter(folder, row, by, reason) for row in typed]


def decide(folder: Path, asset: str, waits: judging.HeldReading, verdict: str, by: Identity, reason: str) -> int:
    """Enter a verdict on a held reading under a person's name; return its number."""
    return Record(folder.joinpath(RECORD_NAME)).decide(judging.decision_on(waits, asset, verdict), by, reason)


def waiting(version: Version, folder: Path) -> judging.Waiting:
    """Return what people entered that the results in view are without."""
    with _results(version) as connection:
        return judging.waiting(connection, folder, Path(version.path))


def make_results(folder: Path, as_of: date, progress: Progress = lambda line: None) -> None:
    """Publish new results with everything entered; raises Problem where that cannot be done."""
    database = os.environ.get(VARIABLE, "")
    with _troubles_said(folder):
        build(folder, Path(database) if database else None, as_of, progress)
