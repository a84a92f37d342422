"""One asset on the bench: its facts copied into memory, changed, and worked by the very steps of a build.

Nothing here can reach the results file or the record: results are read from a connection that is open for reading,
everything else happens in memory and is taken back when the trial ends.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from typing import Any

import duckdb
import pyarrow as pa

from pipeline import __version__
from pipeline.errors import Problem
from pipeline.run import load_show, plan_briefly, take_clauses
from pipeline.sheets import Intake
from pipeline.steps import Step, all_steps, make_table

Row = dict[str, Any]

#: What the intake keeps of files and sheets: it is about no asset, and no step that works a number reads it.
_ABOUT_FILES = frozenset({"fact.ledger", "fact.file_note", "fact.sheet", "fact.source", "step.finding"})
#: The one step that compares an asset with others: it is lent the rows of the vessels in the same service.
_COMPARES = "step.similar_service"
#: Facts of a trial are numbered above those of every file and entry: they come last, as a new entry would.
_FIRST_RECORD = 10**17


def can_be_tried(results: duckdb.DuckDBPyConnection, asset: str) -> None:
    """Raise Problem where there is no such asset, or another version of the program made the results."""
    try:
        made_by = results.execute("SELECT program FROM result.build").fetchall()[0][0]
        known = results.execute("SELECT 1 FROM step.asset WHERE asset = ?", [asset]).fetchall()
    except duckdb.Error as fault:
        raise Problem(
            f"these results do not hold what a trial needs ({str(fault).splitlines()[0]}); "
            "run 'hoopline build FOLDER' anew"
        ) from fault
    if made_by != __version__:
        raise Problem(
            f"these results were made by hoopline {made_by}, and this is {__version__}: a trial beside them would "
            "mix two programs; run 'hoopline build FOLDER' anew"
        )
    if not known:
        raise Problem(f"{asset}: there is no such asset in these results; choose one of the ranking")


class Bench:
    """One asset of an open results file, ready for any number of trials in memory."""

    def __init__(self, results: duckdb.DuckDBPyConnection, asset: str) -> None:
        """Copy what the steps read of `asset`.

        Raises Problem where there is no such asset, or another version of the program made the results.
        """
        can_be_tried(results, asset)
        self.asset = asset
        self._connection = duckdb.connect()
        # A trial is small: a second thread costs more than it brings.
        self._connection.execute("SET threads = 1")
        self._copy(results)
        self._lent = {
            table: _fetch(
                results,
                f"FROM {table} WHERE asset IN (SELECT other.asset FROM step.asset AS other JOIN step.asset AS own "
                "ON lower(trim(other.service)) = lower(trim(own.service)) WHERE own.asset = ? AND other.asset <> ?)",
                [asset, asset],
            )
            for step in all_steps()
            if step.table == _COMPARES
            for table in step.reads
            if table.startswith("step.")
        }

    def close(self) -> None:
        """Give the memory back."""
        self._connection.close()

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def worked(
        self, change: Callable[[duckdb.DuckDBPyConnection], None] | None = None, wanted: Collection[str] | None = None
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """Change the facts, run the steps, and give the tables to be read (`step.*`, `result.*`); then take all back.

        `wanted` names the tables that will be read, so that the steps they do not rest on need not be worked; without
        it every step is, but those about files. Raises Problem where a step cannot be worked.
        """
        connection = self._connection
        connection.execute("BEGIN TRANSACTION")
        try:
            if change is not None:
                change(connection)
            self._run(wanted)
            yield connection
        except duckdb.Error as fault:
            raise Problem(
                f"{self.asset}: the trial could not be worked ({str(fault).splitlines()[0]}); change one thing less, "
                "and report it if it comes again"
            ) from fault
        finally:
            connection.execute("ROLLBACK")

    def _run(self, wanted: Collection[str] | None) -> None:
        needed = None if wanted is None else rested_on(wanted)
        for step in all_steps():
            if _ABOUT_FILES.isdisjoint(step.reads) and (needed is None or step.table in needed):
                with self._lending(step):
                    make_table(self._connection, step)

    @contextmanager
    def _lending(self, step: Step) -> Iterator[None]:
        if step.table != _COMPARES:
            yield
            return
        for table, rows in self._lent.items():
            put_rows(self._connection, table, rows)
        yield
        for table in (*self._lent, step.table):
            self._connection.execute(f"DELETE FROM {table} WHERE asset <> ?", [self.asset])

    def _copy(self, results: duckdb.DuckDBPyConnection) -> None:
        take_clauses(self._connection)
        tables = results.execute(
            "SELECT table_schema || '.' || table_name AS name, coalesce(bool_or(column_name = 'asset'), false) "
            "FROM information_schema.columns "
            "WHERE table_schema IN ('fact', 'basis') OR (table_schema = 'result' AND table_name = 'build') "
            "GROUP BY name ORDER BY name"
        ).fetchall()
        for table, about_assets in tables:
            wanted, values = "", []
            if table in _ABOUT_FILES:
                wanted = " LIMIT 0"
            elif about_assets:  # a row without an asset is the plant's: its turnarounds
                wanted, values = " WHERE asset = ? OR asset IS NULL", [self.asset]
            self._connection.register("loading", _fetch(results, f"FROM {table}{wanted}", values))
            self._connection.execute(f"CREATE TABLE {table} AS FROM loading")
            self._connection.unregister("loading")
        load_show(self._connection, self._connection.execute("SELECT units FROM result.build").fetchall()[0][0])
        plan_briefly(self._connection)


def rested_on(tables: Collection[str]) -> set[str]:
    """Return the tables named and every table they rest on, by what the steps say they read."""
    needed = set(tables)
    for step in reversed(all_steps()):
        if step.table in needed:
            needed.update(step.reads)
    return needed


def put_rows(connection: duckdb.DuckDBPyConnection, table: str, rows: pa.Table) -> None:
    """Append rows to a table, column by name."""
    connection.register("loading", rows)
    connection.execute(f"INSERT INTO {table} BY NAME FROM loading")
    connection.unregister("loading")


def put_facts(connection: duckdb.DuckDBPyConnection, facts: Intake) -> None:
    """Add facts that are not on record, in their order, after all that are."""
    for name in ("field", "reading", "not_measured"):
        rows = facts.tables()[name]
        if rows.num_rows:
            place = rows.schema.get_field_index("record")
            numbers = [_FIRST_RECORD + number for number in rows["record"].to_pylist()]
            put_rows(connection, f"fact.{name}", rows.set_column(place, "record", pa.array(numbers, pa.int64())))


def rows_of(connection: duckdb.DuckDBPyConnection, sql: str, values: list[Any] | None = None) -> list[Row]:
    """Return the rows a question gives, by column."""
    cursor = connection.execute(sql, values or [])
    names = [column[0] for column in cursor.description or []]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _fetch(results: duckdb.DuckDBPyConnection, sql: str, values: list[Any]) -> pa.Table:
    return results.cursor().sql(sql, params=values).to_arrow_table()
