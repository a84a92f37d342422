"""One build: read the folder, run the steps in order, publish the results whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline import __version__
from pipeline.basis import Basis, read_basis
from pipeline.cautions import CAUTION
from pipeline.checks import run_checks
from pipeline.errors import Problem
from pipeline.folder import Folder, Remark, read_folder
from pipeline.formulas import ALL
from pipeline.known_facts import KnownFacts, copy_facts, facts_key, facts_known
from pipeline.publishing import RESULTS_NAME, publish, refuse_foreign
from pipeline.record import RECORD_NAME, Entry, Record
from pipeline.replay import Known, known_at
from pipeline.sheets import Intake, read_files
from pipeline.sheets.entries import read_entries
from pipeline.steps import all_steps, comment_on, run_step
from pipeline.understood import ReadTable, read_tables
from pipeline.units import DISPLAY, MM_PER_INCH, ONE_YEAR, UNITS, YEARS

Progress = Callable[[str], None]
REFERENCE_TABLES = (
    "spherical_factor",
    "standard_pipe",
    "t_quantile",
    "service_word",
    "likely_mistake",
    "radius_basis",
    "state",
)


@dataclass(frozen=True)
class Build:
    """What a build read and made."""

    folder: Path
    database: Path
    as_of: date
    files: int
    counts: dict[str, int]
    states: dict[str, int]
    set_aside: int
    warnings: int
    notes: int


def build(
    folder: Path, database: Path | None = None, as_of: date | None = None, progress: Progress = lambda line: None
) -> Build:
    """Read, compute and publish; return what was made. Results are the old or the new ones, never a mixture."""
    as_of = as_of or date.today()
    database = database or folder / RESULTS_NAME
    found = read_folder(folder)
    basis = read_basis(folder)
    refuse_foreign(database)
    record = Record(folder / RECORD_NAME)
    gone = record.keep_sources(found.readable, found.names)
    known = facts_known(database, basis, as_of, found.readable)
    intake = _read(found, known, basis, as_of, progress)
    findings = Findings(gone, found, record.decisions(), record.entries(), known)
    with _making(database) as making:
        with duckdb.connect(str(making)) as connection:
            counts = _compute_for_others(connection, intake, basis, as_of, findings, progress)
            made = _summary(connection, folder, database, as_of, len(found.sources), counts)
        number = record.keep_build(
            as_of, __version__, basis.sha256, basis.text, [(source.file, source.sha256) for source in found.readable]
        )
        publish(making, database, number)
    return made


def rebuild(
    folder: Path, database: Path, as_of: date, moment: datetime, progress: Progress = lambda line: None
) -> Build:
    """Compute from the record what was known at a moment, into a file of its own; return what was made.

    The plant's own results stay as they are, and the record gets no new line: nothing new is known. Raises Problem
    where `database` is the plant's own results file, or the record knew nothing by then.
    """
    if database.absolute() == (folder / RESULTS_NAME).absolute():
        raise Problem(f"{database}: a past status must not take the place of today's; name another file by --database")
    refuse_foreign(database)
    return work_out(known_at(Record(folder / RECORD_NAME), moment), folder, database, as_of, moment, progress)


def work_out(
    known: Known,
    folder: Path,
    database: Path,
    as_of: date,
    moment: datetime,
    progress: Progress = lambda line: None,
    before: Path | None = None,
) -> Build:
    """Compute what was known at a moment into a file of its own; return what was made.

    `before` names results from which the facts of unchanged files may be taken instead of being read again.
    """
    facts = facts_known(before, known.basis, as_of, known.folder.readable) if before else None
    intake = _read(known.folder, facts, known.basis, as_of, progress)
    findings = Findings(known.gone, known.folder, known.decisions, known.entries, facts, moment)
    with _making(database) as making:
        with duckdb.connect(str(making)) as connection:
            counts = _compute_for_others(connection, intake, known.basis, as_of, findings, progress)
            made = _summary(connection, folder, database, as_of, len(known.folder.sources), counts)
        os.replace(making, database)
    return made


@contextlib.contextmanager
def _making(database: Path) -> Iterator[Path]:
    """Give a name beside the results for a file that is being made, and leave nothing of it behind."""
    handle, name = tempfile.mkstemp(prefix=f".{database.stem}.", suffix=".making", dir=database.parent)
    os.close(handle)
    making = Path(name)
    making.unlink()
    making.write_bytes(with_clauses())  # anew, with the permissions of any other file of this person
    try:
        yield making
    finally:
        for leftover in (making, making.with_name(making.name + ".wal")):
            with contextlib.suppress(FileNotFoundError):
                leftover.unlink()


def check(
    folder: Path, as_of: date | None = None, progress: Progress = lambda line: None
) -> tuple[Build, list[tuple], list[ReadTable]]:
    """Do the same reading without publishing or writing; return what would be made, the ledger's rows, and how each
    sheet was understood."""
    as_of = as_of or date.today()
    found = read_folder(folder)
    basis = read_basis(folder)
    record = Record(folder / RECORD_NAME)
    gone = record.missing_files(found.names)
    intake = _read(found, None, basis, as_of, progress)
    with duckdb.connect() as connection:
        findings = Findings(gone, found, record.decisions(), record.entries())
        counts = compute(connection, intake, basis, as_of, findings, progress)
        made = _summary(connection, folder, folder / RESULTS_NAME, as_of, len(found.sources), counts)
        ledger = connection.execute(
            "SELECT severity, file, sheet, cell, text, reason, effect FROM result.ledger ORDER BY file, sheet, cell"
        ).fetchall()
        understood = read_tables(connection)
    return made, ledger, understood


@dataclass(frozen=True)
class Findings:
    """What is known besides the content of the files read now: which are gone, what is to be said of them, what people
    decided and entered, and the earlier results that hold the facts of files that have not changed."""

    gone: Sequence[str]
    folder: Folder
    decisions: Sequence[tuple] = ()
    entries: Sequence[Entry] = ()
    known: KnownFacts | None = None
    moment: datetime | None = None


def _read(found: Folder, known: KnownFacts | None, basis: Basis, as_of: date, progress: Progress) -> Intake:
    """Read the files whose facts are not known yet."""
    reused = known.files if known else frozenset()
    places = {source.file: place for place, source in enumerate(found.sources)}
    unread = [(source.file, source.content) for source in found.sources if source.file not in reused]
    as_before = f", {len(reused)} are as they were" if reused else ""
    progress(f"reading {len(unread)} of {len(found.sources)} files{as_before}")
    return read_files(unread, basis, as_of, places)


def compute(
    connection: duckdb.DuckDBPyConnection,
    intake: Intake,
    basis: Basis,
    as_of: date,
    findings: Findings,
    progress: Progress,
) -> dict[str, int]:
    """Load facts, basis and clauses, run every step; return the number of rows of each table."""
    connection.execute("SET preserve_insertion_order = true")
    if not _has_clauses(connection):
        take_clauses(connection)
    with _in_one_transaction(connection):
        _load_basis(connection, basis, as_of)
        load_show(connection, basis.units)
        read_entries(findings.entries, basis, as_of, intake)
        _load_facts(connection, intake, findings)
        connection.execute(
            "CREATE TABLE result.build AS SELECT ?::DATE AS as_of, ? AS program, ? AS basis_sha256, ? AS units, "
            "? AS caution, ? AS facts_sha256, ?::TIMESTAMPTZ AS known_at",
            [as_of, __version__, basis.sha256, basis.units, CAUTION, facts_key(basis, as_of), findings.moment],
        )
        plan_briefly(connection)
        return _run_steps(connection, progress)


@lru_cache(maxsize=1)
def with_clauses() -> bytes:
    """Return a database file that holds the schemas, clauses and tabled values, and nothing of a plant.

    Writing some 350 macros takes longer than computing a small plant: a process that builds often does it once.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "clauses.duckdb"
        with duckdb.connect(str(path)) as connection, _in_one_transaction(connection):
            _load_clauses(connection)
        return path.read_bytes()


def take_clauses(connection: duckdb.DuckDBPyConnection) -> None:
    """Copy the schemas, clauses and tabled values into a database that has none of them yet."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "clauses.duckdb"
        path.write_bytes(with_clauses())
        quoted = str(path).replace("'", "''")
        [(name,)] = connection.execute("SELECT current_database()").fetchall()
        connection.execute(f"ATTACH '{quoted}' AS clauses (READ_ONLY)")
        connection.execute(f'COPY FROM DATABASE clauses TO "{name}"')
        connection.execute("DETACH clauses")


def _load_clauses(connection: duckdb.DuckDBPyConnection) -> None:
    for schema in ("fact", "basis", "reference", "formula", "shown", "step", "result"):
        connection.execute(f"CREATE SCHEMA {schema}")
    load_formulas(connection)
    _load_reference(connection)


def _has_clauses(connection: duckdb.DuckDBPyConnection) -> bool:
    return bool(connection.execute("SELECT 1 FROM duckdb_schemas() WHERE schema_name = 'formula'").fetchall())


def _compute_for_others(
    connection: duckdb.DuckDBPyConnection,
    intake: Intake,
    basis: Basis,
    as_of: date,
    findings: Findings,
    progress: Progress,
) -> dict[str, int]:
    """Compute into a file that other programs may open too: each table and column says there what it means."""
    counts = compute(connection, intake, basis, as_of, findings, progress)
    with _in_one_transaction(connection):
        comment_on(connection, all_steps())
    return counts


@contextlib.contextmanager
def _in_one_transaction(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Do many statements in one transaction: a file that is being made need not reach the disk after each of them."""
    connection.execute("BEGIN")
    try:
        yield
    except BaseException:
        with contextlib.suppress(duckdb.Error):
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _run_steps(connection: duckdb.DuckDBPyConnection, progress: Progress) -> dict[str, int]:
    """Run every step in order, and the checks of the data before the first result; return the rows of each table."""
    counts = {}
    steps = all_steps()
    checked = False
    for place, step in enumerate(steps, start=1):
        if step.table.startswith("result.") and not checked:
            run_checks(connection)
            checked = True
        counts[step.table] = run_step(connection, step)
        progress(f"[{place:2d}/{len(steps)}] {step.table}: {counts[step.table]} rows")
    return counts


#: Passes of the planner that pay on many rows only: on a small plant they take longer than the work they save.
_COSTLY_PASSES = (
    "join_order,compressed_materialization,statistics_propagation,column_lifetime,join_filter_pushdown,"
    "late_materialization,cte_inlining,common_subplan"
)
_FEW_ROWS = 20_000


def plan_briefly(connection: duckdb.DuckDBPyConnection) -> None:
    """Leave out the costly passes of the planner where there are few facts; no pass changes what a query says."""
    rows = connection.execute(
        "SELECT (SELECT count(*) FROM fact.reading) + (SELECT count(*) FROM fact.field)"
    ).fetchall()
    passes = _COSTLY_PASSES if rows[0][0] < _FEW_ROWS else ""
    connection.execute(f"SET disabled_optimizers = '{passes}'")


def load_formulas(connection: duckdb.DuckDBPyConnection) -> None:
    """Write every clause into the database, as a macro and as a row that names its source."""
    connection.execute(";".join(macro for formula in ALL for macro in (formula.macro, formula.unmet_macro)))
    connection.execute(
        "CREATE TABLE reference.formula (id VARCHAR, title VARCHAR, clause VARCHAR, document VARCHAR, "
        "expression VARCHAR, note VARCHAR)"
    )
    rows = [(f.id, f.title, f.clause, f.document, f.expression, f.note) for f in ALL]
    names = ("id", "title", "clause", "document", "expression", "note")
    _insert(
        connection, "reference.formula", pa.table(dict(zip(names, map(list, zip(*rows, strict=True)), strict=True)))
    )


def _load_basis(connection: duckdb.DuckDBPyConnection, basis: Basis, as_of: date) -> None:
    policies = list(basis.policies.values())
    connection.execute(
        "CREATE TABLE basis.policy (key VARCHAR, number DOUBLE, word VARCHAR, unit VARCHAR, "
        "reference VARCHAR, label VARCHAR, stated BOOLEAN)"
    )
    _insert(
        connection,
        "basis.policy",
        pa.table(
            {
                "key": [policy.key for policy in policies],
                "number": [policy.value if isinstance(policy.value, float) else None for policy in policies],
                "word": [policy.value if isinstance(policy.value, str) else None for policy in policies],
                "unit": [policy.unit for policy in policies],
                "reference": [policy.reference for policy in policies],
                "label": [policy.label for policy in policies],
                "stated": [policy.key in basis.stated for policy in policies],
            }
        ),
    )
    columns = ", ".join(f"?::{'VARCHAR' if policy.choices else 'DOUBLE'} AS {policy.key}" for policy in policies)
    connection.execute(
        f"CREATE TABLE basis.in_force AS SELECT ?::DATE AS as_of, {columns}",
        [as_of, *(policy.value for policy in policies)],
    )
    connection.execute("CREATE TABLE basis.spelling (kind VARCHAR, spelling VARCHAR, meaning VARCHAR)")
    for kind, entries in (("heading", basis.headings), ("alias", basis.aliases)):
        for spelling, meaning in entries.items():
            connection.execute("INSERT INTO basis.spelling VALUES (?, ?, ?)", [kind, spelling, meaning])


def _load_reference(connection: duckdb.DuckDBPyConnection) -> None:
    for name in REFERENCE_TABLES:
        text = files("pipeline").joinpath(f"reference/{name}.csv").read_text(encoding="utf-8")
        heading, *lines = (line.split(",") for line in text.splitlines())
        words = {"word", "radius_basis", "state", "unit", "sentence"}
        columns = {
            column: [cell if column in words else (float(cell) if cell else None) for cell in cells]
            for column, cells in zip(heading, zip(*lines, strict=True), strict=True)
        }
        for column in words & columns.keys():
            columns[column] = [cell or None for cell in columns[column]]
        connection.register("loading", pa.table(columns))
        converted = {
            "nominal_pipe_size_in": "*, outside_diameter_in * {mm} AS outside_diameter_mm, "
            "standard_wall_in * {mm} AS standard_wall_mm",
            "state_order": "state_order::INTEGER AS state_order, state",
            "degrees_of_freedom": "degrees_of_freedom::INTEGER AS degrees_of_freedom, t_quantile",
        }.get(heading[0], "*").format(mm=MM_PER_INCH)
        connection.execute(f"CREATE TABLE reference.{name} AS SELECT {converted} FROM loading")
        connection.unregister("loading")


def load_show(connection: duckdb.DuckDBPyConnection, system: str) -> None:
    """Make the macros that write a number as people see it, in sentences; the unit system is the plant's.

    They write what `units.show` writes, but for the commas of thousands.
    """
    for kind, (name, decimals) in DISPLAY[system].items():
        unit = UNITS[name]
        digits = f"printf('%.{decimals}f', (v - {unit.offset!r}::DOUBLE) / {unit.factor!r}::DOUBLE)"
        label = "''" if name == "-" else f"' {name}'"
        if kind == "duration":
            label = f"CASE WHEN ltrim({digits}, '-') = '{ONE_YEAR}' THEN ' {name}' ELSE ' {YEARS}' END"
        connection.execute(
            f"CREATE MACRO shown.{kind}(v) AS CASE WHEN v IS NULL THEN 'unknown' "
            f"ELSE replace({digits}, '-', '−') || {label} END"
        )


def _load_facts(connection: duckdb.DuckDBPyConnection, intake: Intake, findings: Findings) -> None:
    store_facts(connection, intake, "fact.")
    if findings.known:
        places = {source.file: place for place, source in enumerate(findings.folder.sources)}
        copy_facts(connection, findings.known, places)
    connection.execute("CREATE TABLE fact.file_note AS FROM fact.ledger LIMIT 0")
    for file, remark in findings.folder.unreadable.items():
        # The intake saw an empty file; this is why.
        connection.execute("DELETE FROM fact.ledger WHERE file = ?", [file])
        _note_file(connection, file, remark)
    for file, remark in findings.folder.remarks.items():
        _note_file(connection, file, remark)
    for file in findings.gone:
        _note_file(connection, file, _GONE)
    connection.execute(
        "CREATE TABLE fact.decision (seq BIGINT, who VARCHAR, reason VARCHAR, asset VARCHAR, "
        "component VARCHAR, location VARCHAR, read_on DATE, thickness_mm DOUBLE, verdict VARCHAR)"
    )
    for row in findings.decisions:
        connection.execute("INSERT INTO fact.decision VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", list(row))


def store_facts(connection: duckdb.DuckDBPyConnection, intake: Intake, schema: str = "") -> None:
    """Write what the intake found into tables of its own names, each row with its cell."""
    # Both cores may write at once: every step orders by what a row says, never by where it lies.
    connection.execute("SET preserve_insertion_order = false")
    for name, table in intake.tables().items():
        connection.register("loading", table)
        connection.execute(f"CREATE TABLE {schema}{name} AS SELECT * FROM loading")
        connection.unregister("loading")
    connection.execute("SET preserve_insertion_order = true")


_GONE = Remark(
    "the file was read before and is not in the folder any more: put it back, or leave it out on purpose",
    "nothing of it is used in these results; the record keeps its last version",
    "warning",
)


def _note_file(connection: duckdb.DuckDBPyConnection, file: str, remark: Remark) -> None:
    connection.execute(
        "INSERT INTO fact.file_note (file, sheet, cell, text, reason, effect, severity) "
        "VALUES (?, '', '', '', ?, ?, ?)",
        [file, remark.reason, remark.effect, remark.severity],
    )


def _insert(connection: duckdb.DuckDBPyConnection, table: str, rows: pa.Table) -> None:
    connection.register("loading", rows)
    connection.execute(f"INSERT INTO {table} SELECT * FROM loading")
    connection.unregister("loading")


def _summary(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    database: Path,
    as_of: date,
    files_read: int,
    counts: dict[str, int],
) -> Build:
    states = dict(
        connection.execute(
            "SELECT state.state, count(asset.asset) FROM reference.state AS state "
            "LEFT JOIN result.asset AS asset USING (state) GROUP BY state.state, state_order ORDER BY state_order"
        ).fetchall()
    )
    severities = dict(connection.execute("SELECT severity, count(*) FROM result.ledger GROUP BY severity").fetchall())
    return Build(
        folder,
        database,
        as_of,
        files_read,
        {name.removeprefix("result."): count for name, count in counts.items() if name.startswith("result.")},
        states,
        severities.get("set aside", 0),
        severities.get("warning", 0),
        severities.get("note", 0),
    )
