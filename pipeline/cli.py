"""The command line: `hoopline open | build | check | rank | explain | export | print | compare | verify | serve`.

Errors are one line on standard error that says what, where and what to do; exit code 2; never a traceback.
"""

from __future__ import annotations

import argparse
import csv
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
import webbrowser
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from datetime import time as clock_time
from pathlib import Path
from typing import Any, NoReturn

import duckdb

from pipeline import __version__
from pipeline.cautions import CAUTION
from pipeline.errors import Problem
from pipeline.explain import Explanation, Link, explain, worth_sentence
from pipeline.explain_area import AreaExplanation, explain_area
from pipeline.publishing import RESULTS_NAME, open_results
from pipeline.reading import areas as areas_of
from pipeline.reading import shown_difference
from pipeline.record import RECORD_NAME, Record
from pipeline.run import Build, build, check, rebuild
from pipeline.sign_in import SIGN_IN_NAME, is_loopback, names_of
from pipeline.terminal import say, say_json, visible
from pipeline.turnaround_dates import set_by_in_words
from pipeline.understood import ReadTable
from pipeline.units import noun, show

LOOPBACK = "127.0.0.1"
DEFAULT_DATABASE = Path(RESULTS_NAME)


class _Parser(argparse.ArgumentParser):
    """A parser whose own errors have the same shape as every other: one line, exit code 2."""

    def error(self, message: str) -> NoReturn:
        say(f"hoopline: {message}; 'hoopline --help' lists what there is", error=True)
        raise SystemExit(2)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code (0 done, 1 something was set aside by `check`, 2 an error)."""
    options = _parser().parse_args(arguments)
    try:
        code: int = options.run(options)
        sys.stdout.flush()
        return code
    except Problem as problem:
        say(f"hoopline: {problem}", error=True)
        return 2
    except BrokenPipeError:  # the reader of a pipe closed it: nothing went wrong here
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130
    except OSError as fault:
        place = f"{fault.filename}: " if fault.filename else ""
        say(f"hoopline: {place}{fault.strerror or fault}; check that it is there and may be written", error=True)
        return 2
    except duckdb.Error as fault:
        say(
            f"hoopline: the results could not be made or read ({str(fault).splitlines()[0]}); "
            "build anew, and report it if it comes again",
            error=True,
        )
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="hoopline", description="Fleet integrity over a plant's asset register.", epilog=CAUTION)
    parser.add_argument("--version", action="version", version=f"hoopline {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)

    opening = commands.add_parser("open", help="build a folder of spreadsheets and open the app on this machine")
    opening.add_argument("folder", type=Path, help="folder that holds the spreadsheets")
    _add_database(opening, None)
    _add_as_of(opening)
    _add_serving(opening)
    opening.set_defaults(run=_open)

    building = commands.add_parser("build", help="read every spreadsheet, compute, publish the results")
    building.add_argument("folder", type=Path, help="folder that holds the spreadsheets")
    _add_database(building, None)
    _add_as_of(building)
    _add_known_at(building, "; needs --database")
    building.set_defaults(run=_build)

    checking = commands.add_parser("check", help="read without publishing and print what was set aside; exit 1 if any")
    checking.add_argument("folder", type=Path, help="folder that holds the spreadsheets")
    _add_as_of(checking)
    checking.set_defaults(run=_check)

    ranking = commands.add_parser("rank", help="print the ranking")
    _add_database(ranking, DEFAULT_DATABASE)
    ranking.add_argument("--limit", type=_whole_number, help="how many assets to print")
    ranking.add_argument("--format", choices=("text", "csv", "json"), default="text")
    ranking.set_defaults(run=_rank)

    explaining = commands.add_parser("explain", help="say why an asset ranks where it does, down to the cells")
    explaining.add_argument("asset", help="asset tag")
    explaining.add_argument("component", nargs="?", help="component tag; the governing one by default")
    explaining.add_argument("--location", help="location tag; the governing one by default")
    _add_database(explaining, DEFAULT_DATABASE)
    explaining.add_argument("--format", choices=("text", "json"), default="text")
    explaining.set_defaults(run=_explain)

    exporting = commands.add_parser("export", help="write the audit workbook, with live formulas")
    exporting.add_argument("file", type=Path, help="workbook to write (.xlsx)")
    exporting.add_argument(
        "--asset", action="append", default=[], metavar="TAG", help="only this asset; may be given several times"
    )
    exporting.add_argument(
        "--all-locations", action="store_true", help="work out every location, not the governing one of each component"
    )
    _add_database(exporting, DEFAULT_DATABASE)
    _add_as_of(exporting, "the published results'")
    _add_known_at(exporting)
    exporting.set_defaults(run=_export)

    printing = commands.add_parser("print", help="write the page of an asset, or a component's calculation record")
    printing.add_argument("folder", type=Path, help="folder of the plant")
    printing.add_argument("--asset", required=True, metavar="TAG", help="asset tag")
    printing.add_argument("--component", metavar="NAME", help="component, for its calculation record")
    printing.add_argument("--to", required=True, type=Path, metavar="FILE", help="page to write (.html), to be printed")
    printing.add_argument("--units", choices=("us", "si"), help="unit system (default: the plant's)")
    _add_database(printing, None)
    _add_as_of(printing)
    _add_known_at(printing)
    printing.set_defaults(run=_print)

    comparing = commands.add_parser("compare", help="say what changed between two days, and because of what")
    comparing.add_argument("folder", type=Path, help="folder of the plant")
    for name, words in (("from", "earlier"), ("to", "later")):
        comparing.add_argument(
            f"--{name}",
            dest=f"{name}_moment",
            required=True,
            type=_moment,
            metavar="DATETIME",
            help=f"the {words} day or moment: what was known then, as of that day",
        )
    comparing.add_argument(
        "--as-of", type=_date, metavar="DATE", help="date both sides are for (default: each side's own day)"
    )
    comparing.set_defaults(run=_compare)

    verifying = commands.add_parser("verify", help="say whether anything in the record was altered, and where")
    verifying.add_argument("folder", type=Path, help="folder of the plant")
    verifying.add_argument("--holds", metavar="HASH", help="a link noted before, which the record must still hold")
    verifying.set_defaults(run=_verify)

    serving = commands.add_parser("serve", help="open the app alone, on results made before")
    _add_database(serving, DEFAULT_DATABASE)
    _add_serving(serving)
    serving.set_defaults(run=_serve)
    return parser


def _add_database(parser: argparse.ArgumentParser, default: Path | None) -> None:
    words = "results.duckdb in the folder" if default is None else f"{default} in this folder"
    parser.add_argument("--database", type=Path, default=default, help=f"results file (default: {words})")


def _add_as_of(parser: argparse.ArgumentParser, default: str = "today") -> None:
    parser.add_argument(
        "--as-of", type=_date, metavar="DATE", help=f"date the results are for, YYYY-MM-DD (default: {default})"
    )


def _add_known_at(parser: argparse.ArgumentParser, more: str = "") -> None:
    parser.add_argument(
        "--known-at",
        type=_moment,
        metavar="DATETIME",
        help=f"rebuild from the record what was known then, such as 2026-03-31 or 2026-03-31T14:00{more}",
    )


def _add_serving(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=_whole_number, help="port on the loopback address (default: a free one)")
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser window")
    parser.add_argument(
        "--address", default=LOOPBACK, help="address to serve on; any but the loopback address needs a sign-in file"
    )
    parser.add_argument(
        "--sign-in",
        type=Path,
        metavar="FILE",
        help=f"OpenID Connect settings (default on another address: {SIGN_IN_NAME} beside the results)",
    )


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a date; write it as YYYY-MM-DD") from None


def _moment(text: str) -> datetime:
    """Return a moment by this machine's clock; a date alone is the end of that day."""
    try:
        if len(text) == len("2026-03-31"):
            return datetime.combine(date.fromisoformat(text), clock_time.max).astimezone()
        return datetime.fromisoformat(text).astimezone()
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"'{text}' is not a date or a date with a time; write it as 2026-03-31 or 2026-03-31T14:00"
        ) from None


def _whole_number(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number above zero")
    return int(text)


# ---- build and check ------------------------------------------------------------------------------------------------


def _progress(line: str) -> None:
    if sys.stderr.isatty():
        print(f"\r\033[K{visible(line)}", end="", file=sys.stderr, flush=True)


def _end_of_progress() -> None:
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)


def _build(options: argparse.Namespace) -> int:
    moment = getattr(options, "known_at", None)
    if moment is not None and options.database is None:
        raise Problem("--known-at needs --database: a past status must not take the place of today's")
    try:
        if moment is not None:
            made = rebuild(options.folder, options.database, options.as_of or moment.date(), moment, _progress)
            _end_of_progress()
            say(f"As known at {moment.isoformat(timespec='seconds')}.")
        else:
            made = build(options.folder, options.database, options.as_of or date.today(), _progress)
    finally:
        _end_of_progress()
    _print_summary(made)
    say(f"\nPublished {made.database}")
    _print_caution()
    return 0


def _check(options: argparse.Namespace) -> int:
    try:
        made, ledger, understood = check(options.folder, options.as_of or date.today(), _progress)
    finally:
        _end_of_progress()
    for table in understood:
        for line in _table_lines(table):
            say(line)
    if understood:
        say()
    for severity, file, sheet, cell, text, reason, effect in ledger:
        place = ", ".join(part for part in (file, sheet, cell) if part)
        stood = f" “{text}”" if text else ""
        say(f"{severity}: {place}{stood}: {reason}. Effect: {effect}.")
    if ledger:
        say()
    _print_summary(made)
    _print_caution()
    return 1 if made.set_aside else 0


def _table_lines(table: ReadTable) -> list[str]:
    """Return how a table was understood: a line for the table and one for its columns."""
    hidden = ", hidden sheet" if table.hidden else ""
    heading = "" if table.header_row is None else f", heading in row {table.header_row}"
    ignored = f" ({table.ignored_words})" if table.ignored_words else ""
    lines = [
        f"{table.place}{hidden}: {table.kind_words}{heading}; {table.cells} cells: {table.used} used, "
        f"{table.set_aside} set aside, {table.ignored} ignored{ignored}."
    ]
    columns = [
        f"{column.cell} “{column.heading}” {column.words}{f', {column.unit_words}' if column.unit_words else ''}"
        for column in table.columns
    ]
    return [*lines, f"  {'; '.join(columns)}"] if columns else lines


def _print_summary(made: Build) -> None:
    say(
        f"As of {made.as_of}: {noun(made.files, 'file')}, "
        + ", ".join(noun(made.counts[name], name) for name in ("asset", "component", "location", "reading"))
        + "."
    )
    say("States: " + ", ".join(f"{count} {state}" for state, count in made.states.items()) + ".")
    say(
        f"Ledger: {made.set_aside} set aside, {made.warnings} warnings, {made.notes} notes; "
        "'hoopline check FOLDER' prints them."
    )


def _print_caution() -> None:
    say(f"\n{CAUTION}")


# ---- rank and explain -----------------------------------------------------------------------------------------------

RANK_COLUMNS = (
    "rank",
    "asset",
    "state",
    "reason",
    "governing_component",
    "governing_location",
    "governing_on",
    "days_to_governing",
    "due_kind",
    "due_on",
    "internal_due_on",
    "external_due_on",
    "thickness_due_on",
    "relief_due_on",
    "deferred_until",
    "retirement_on",
    "remaining_life_years",
    "held_readings",
    "area",
    "service",
    "assigned_to",
)


def _rank(options: argparse.Namespace) -> int:
    connection = open_results(options.database)
    cursor = connection.execute(f"SELECT {', '.join(RANK_COLUMNS)} FROM result.asset ORDER BY rank")
    rows = cursor.fetchall()
    rows = rows[: options.limit] if options.limit else rows
    if options.format == "csv":
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(RANK_COLUMNS)
        writer.writerows([[_harmless(value) for value in row] for row in rows])
    elif options.format == "json":
        shown = [dict(zip(RANK_COLUMNS, map(_json_value, row), strict=True)) for row in rows]
        say_json(shown)
    else:
        as_of = connection.execute("SELECT as_of FROM result.build").fetchall()[0][0]
        say(f"As of {as_of}. State first, then days to the governing date, then the smaller margin.\n")
        for row in rows:
            named = dict(zip(RANK_COLUMNS, row, strict=True))
            say(f"{named['rank']:>5}  {named['asset']:<12} {named['state']:<18} {named['reason']}")
        _print_caution()
        return 0
    say(CAUTION, error=True)
    return 0


def _harmless(value: Any) -> Any:
    """Return a CSV value that no spreadsheet program takes for a formula and no terminal obeys."""
    if not isinstance(value, str):
        return value
    return visible(f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value)


def _json_value(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


def _explain(options: argparse.Namespace) -> int:
    connection = open_results(options.database)
    told = explain(connection, options.asset, options.component, options.location)
    areas = [
        explain_area(connection, told.asset, component, area)
        for component, area in areas_of(connection, told.asset)
        if options.component in (None, component)
    ]
    if options.format == "json":
        plain = {**told.as_json(), "areas": [area.as_json() for area in areas]}
        say_json(plain)
    else:
        for line in _explanation_lines(told, areas):
            say(line)
    return 0


def _explanation_lines(told: Explanation, areas: Sequence[AreaExplanation]) -> list[str]:
    lines = [f"{told.asset}: {told.state}, rank {told.rank}, as of {told.as_of}", told.reason + ".", ""]
    lines.append("Due dates")
    for due in told.due_dates:
        device = f" ({due['device']})" if due["device"] else ""
        deferred = f", deferred until {due['deferred_until']}" if due["deferred_until"] else ""
        missing = f", missing: {due['due_missing']}" if due["due_missing"] else ""
        lines.append(
            f"  {due['kind']:<14} {due['due_on'] or 'not assessable'!s:<14} {due['state']:<18} "
            f"{set_by_in_words(due['set_by'])}{device}{deferred}{missing}"
        )
    lines += ["", "What asks for work"]
    lines += [
        f"  {concern['state']}: {concern['sentence']}." for concern in told.concerns if concern["state"] != "in date"
    ]
    if all(concern["state"] == "in date" for concern in told.concerns):
        lines.append("  nothing before the turnaround after next; see the dates above")
    if told.next_due:
        lines += ["", "What would govern next, were the place disproved", *map(_next_line, told.next_due)]
    if told.place is None:
        lines += ["", "There is no measured place to explain.", ""]
    else:
        lines += _place_lines(told)
    for area in areas:
        lines += [f"Corroded area {area.area} of {area.component}", *(f"  {line}" for line in area.as_text()), ""]
    lines += [f"Caution: {caution}" for caution in told.cautions]
    return lines


def _next_line(row: Mapping[str, Any]) -> str:
    if row["next_due_on"] is None:
        then = "nothing else would set it"
    elif row["next_component"] is None:
        then = f"{row['next_due_on']}, by its cap"
    else:
        then = f"{row['next_due_on']}, by {row['next_component']}, location {row['next_location']}"
    return f"  {row['kind']:<14} {row['due_on']} ({row['component']}, location {row['location']}); then {then}"


def _worth_line(row: Mapping[str, Any], system: str) -> str:
    return f"  Worth measuring: {worth_sentence(row, system)}"


def _place_lines(told: Explanation) -> list[str]:
    place = told.place
    assert place is not None
    system = told.units
    lines = ["", f"{told.component}, location {told.location}: {place['state']}"]
    if place["t_act_mm"] is not None:
        lines.append(
            f"  {show(place['t_act_mm'], 'thickness', system)} left on {place['read_on']}, "
            f"{show(place['t_req_mm'], 'thickness', system)} required ({place['governing_case'] or 'unknown'}), "
            f"rate {show(place['rate_mm_per_year'], 'rate', system)} ({place['rate_from'] or 'unknown'})"
        )
    if place["missing"]:
        lines.append(f"  missing: {place['missing']}")
    if place["due_on_with_held"]:
        lines.append(
            f"  with the held readings: {show(place['t_act_with_held_mm'], 'thickness', system)} left, "
            f"life {show(place['remaining_life_with_held_years'], 'duration', system)}, "
            f"due {place['due_on_with_held']}; without them due {place['due_on']}"
        )
    lines += ["", "Both weld answers"]
    lines += [
        f"  {answer.name:<20} {answer.t_req} required, life {answer.remaining_life}, {answer.verdict}"
        f"{' (counts here)' if answer.counts else ''}\n    {answer.equation}"
        for answer in told.weld_answers
    ]
    lines += ["", "Three radius bases"]
    lines += [
        f"  {answer.name:<20} {answer.t_req} required, life {answer.remaining_life}"
        f"{'' if answer.difference_years is None else f', {shown_difference(answer.difference_years)}'}"
        f"{' (in force)' if answer.counts else ''}"
        for answer in told.basis_answers
    ]
    if told.bands:
        lines += ["", "How sure", *(f"  {sentence}" for sentence in told.bands)]
    lines += [*([""] if told.worth else []), *(_worth_line(row, system) for row in told.worth)]
    lines += ["", "Step by step"]
    for number, link in enumerate(told.links, start=1):
        lines += _link_lines(number, link)
    lines += ["", "Remarks", *(f"  {remark}" for remark in told.remarks), "", "Readings"]
    for reading in told.readings:
        source = ", ".join(part for part in (reading["file"], reading["sheet"], reading["cell"]) if part)
        flags = f" [{reading['flags']}]" if reading["flags"] else ""
        lines.append(
            f"  {reading['read_on']}  {show(reading['thickness_mm'], 'thickness', system):<12} "
            f"{reading['status']:<13} {source}: “{reading['text']}”{flags}"
        )
    lines.append("")
    return lines


def _link_lines(number: int, link: Link) -> list[str]:
    lines = [
        f"  {number}. {link.title} [{link.source}]",
        f"     {link.plain}",
        f"     = {link.plain_values}",
        f"     = {link.shown}",
    ]
    lines += [f"       {entry.symbol} = {entry.shown}: {entry.label}; {entry.origin}" for entry in link.inputs]
    if link.fault:
        lines.append(f"     FAULT: {link.fault}")
    return lines


# ---- verify ---------------------------------------------------------------------------------------------------------


def _verify(options: argparse.Namespace) -> int:
    record = Record(options.folder / RECORD_NAME)
    said = [fault.words for fault in record.verify()]
    if options.holds and not said and not record.holds_link(options.holds):
        said.append(f"the link {options.holds} is not in the record: it was cut short, or is another plant's")
    for words in said:
        say(f"altered: {words}")
    if said:
        say(f"\nThe record is not what was written ({len(said)}). Keep this file, and compare it with a copy of it.")
        return 1
    number, sha256 = record.last_link()
    say("The record is what was written: every entry, file version and build follows from the one before.")
    say(f"Its last link is number {number}: {sha256}")
    say("Note it elsewhere: with --holds it shows later that nothing was cut off the end.")
    return 0


# ---- export, open, serve --------------------------------------------------------------------------------------------


def _export(options: argparse.Namespace) -> int:
    from pipeline.export import export_workbook, statement_path  # loaded where it is needed: it takes its time

    chosen = (options.file, options.asset, options.all_locations)
    folder, published = options.database.absolute().parent, open_results(options.database)
    at_hand, known_at = published.execute("SELECT as_of, known_at FROM result.build").fetchall()[0]
    has_record = (folder / RECORD_NAME).exists()
    statement = statement_path(options.database.absolute()) if has_record and known_at is None else None
    if options.known_at is None and options.as_of in (None, at_hand):
        made, how = export_workbook(published, *chosen, statement, remember=True), "the published results"
    elif not has_record:
        raise Problem(
            f"{folder}: holds no record of the plant ({RECORD_NAME}), from which a status of another day is made; "
            "name the results in the plant's folder by --database"
        )
    else:
        moment = options.known_at or datetime.now().astimezone()
        with tempfile.TemporaryDirectory() as home:
            database = Path(home) / RESULTS_NAME
            try:
                rebuild(folder, database, options.as_of or moment.date(), moment, _progress)
            finally:
                _end_of_progress()
            made = export_workbook(open_results(database), *chosen, statement)
        how = (
            f"made anew from the record, as known at {moment.isoformat(timespec='minutes')}; "
            f"the published results, as of {at_hand}, stay as they are"
        )
    say(f"Wrote {options.file}, as of {made.as_of}: {how}.")
    say(f"{noun(made.assets, 'asset')}, {noun(made.calculations, 'row')} of calculation.")
    if made.compared_with:
        say(f"Changes are since {made.compared_with}.")
    if made.not_remembered:
        print(f"hoopline: {made.not_remembered}", file=sys.stderr)
    _print_caution()
    return 0


def _print(options: argparse.Namespace) -> int:
    from pipeline.print_page import document, write_page

    plant = options.folder.resolve().name
    chosen = (options.asset, options.component, plant, options.units)
    if options.as_of is None and options.known_at is None:
        write_page(document(open_results(options.database or options.folder / RESULTS_NAME), *chosen), options.to)
    else:
        moment = options.known_at or datetime.now().astimezone()
        with tempfile.TemporaryDirectory() as home:
            database = Path(home) / RESULTS_NAME
            try:
                rebuild(options.folder, database, options.as_of or moment.date(), moment, _progress)
            finally:
                _end_of_progress()
            write_page(document(open_results(database), *chosen), options.to)
    say(f"Wrote {options.to}; open it in a browser and print it.")
    _print_caution()
    return 0


def _compare(options: argparse.Namespace) -> int:
    from pipeline.comparison import Side, compare

    before, after = (
        Side(options.as_of or moment.date(), moment) for moment in (options.from_moment, options.to_moment)
    )
    try:
        found = compare(options.folder, before, after, _progress)
    finally:
        _end_of_progress()
    for line in found.as_text():
        say(line)
    return 0


def _open(options: argparse.Namespace) -> int:
    _build(options)
    options.database = options.database or options.folder / RESULTS_NAME
    return _serve(options, options.folder)


def _serve(options: argparse.Namespace, folder: Path | None = None) -> int:
    open_results(options.database).close()
    port = options.port or _free_port()
    address = f"http://{options.address}:{port}"
    command = server_command(port, options.address)
    environment = {**os.environ, "HOOPLINE_DATABASE": str(options.database.absolute())}
    environment.pop("HOOPLINE_FOLDER", None)
    environment.pop("HOOPLINE_SIGN_IN", None)
    sign_in = options.sign_in or options.database.absolute().parent / SIGN_IN_NAME
    if options.sign_in or not is_loopback(options.address):
        names_of(sign_in)  # refuses to start without
        command += ["--secrets.files", str(sign_in.absolute())]
        environment["HOOPLINE_SIGN_IN"] = str(sign_in.absolute())
        if folder is None:
            folder = options.database.absolute().parent
    if folder is not None:  # the app may then take a workbook into the plant's folder
        environment["HOOPLINE_FOLDER"] = str(folder.absolute())
    say(f"\nThe app is on {address}; end it with Ctrl+C.")
    sys.stdout.flush()
    if not options.no_browser:
        threading.Thread(target=_open_browser, args=(address,), daemon=True).start()
    try:
        # The server's own greeting would repeat the line above; what goes wrong comes on standard error.
        return subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=False).returncode
    except KeyboardInterrupt:
        return 0


#: Paper and ink, or the reverse; the same in every chart (`dashboard.charts`). All from this machine.
_THEME = {
    "light.primaryColor": "#1f5d6b",
    "light.backgroundColor": "#fbfaf7",
    "light.secondaryBackgroundColor": "#f0ede5",
    "light.textColor": "#22303a",
    "light.borderColor": "#d9d4c8",
    "light.linkColor": "#1f5d6b",
    "dark.primaryColor": "#7cc3d0",
    "dark.backgroundColor": "#14191c",
    "dark.secondaryBackgroundColor": "#1e262a",
    "dark.textColor": "#e6e9e8",
    "dark.borderColor": "#36424a",
    "dark.linkColor": "#7cc3d0",
    "baseRadius": "small",
    "showWidgetBorder": "true",
}


def server_command(port: int, address: str = LOOPBACK) -> list[str]:
    """Return the command that runs the app's server: one address, nothing fetched, nothing reported, our own
    colours."""
    app = Path(__file__).resolve().parent.parent / "dashboard" / "serving.py"
    settings = {
        "server.address": address,
        "server.port": str(port),
        "server.headless": "true",
        "server.fileWatcherType": "none",
        # Sessions of closed windows keep their tables in memory until this many seconds have passed.
        "server.disconnectedSessionTTL": "30",
        # Python frees memory by itself; forced at the end of each click it is a fifth of the server's work.
        "runner.postScriptGC": "false",
        "browser.gatherUsageStats": "false",
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "logger.level": "warning",
        **{f"theme.{name}": value for name, value in _THEME.items()},
    }
    options = (f"--{name}={value}" for name, value in settings.items())
    return [sys.executable, "-m", "dashboard.start", "run", str(app), *options]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return int(probe.getsockname()[1])


def _open_browser(address: str) -> None:
    for _ in range(120):
        try:
            with urllib.request.urlopen(f"{address}/_stcore/health", timeout=1):
                break
        except OSError:
            time.sleep(0.25)
    else:
        return
    webbrowser.open(address)


if __name__ == "__main__":
    sys.exit(main())
