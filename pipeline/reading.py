"""Reading published results: typed questions to a results file, and the same numbers in the units people see.

Every function takes an open connection and returns rows as they were published, in their published order. Missing
stays missing. Frames keep the column names of the results until `in_display_units` converts them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import duckdb
import pandas as pd

from pipeline.formulas import FORMULAS
from pipeline.quantities import BY_COLUMN
from pipeline.units import DISPLAY, UNITS, YEARS, in_coherent_unit, minus, show

Row = dict[str, Any]


@dataclass(frozen=True)
class BuildStamp:
    """What a build says of itself: its as-of date, the program, the basis and the plant's unit system."""

    as_of: date
    program: str
    basis_sha256: str
    units: str


# ---- the fleet ------------------------------------------------------------------------------------------------------


def build(connection: duckdb.DuckDBPyConnection) -> BuildStamp:
    """Return what the build says of itself."""
    row = asked(connection, "SELECT as_of, program, basis_sha256, units FROM result.build")[0]
    return BuildStamp(**row)


#: The ranking, and everything that asks for work on an asset: asked of results, and of a trial in its own transaction.
ASSETS = (
    "SELECT asset.*, date_diff('day', as_of, due_on) AS days_to_due, "
    "lower(concat_ws(' ', asset, description, service, area, assigned_to, construction_code, reason)) AS words "
    "FROM result.asset AS asset CROSS JOIN (SELECT as_of FROM result.build) ORDER BY rank"
)
CONCERNS = (
    "SELECT * FROM result.concern WHERE asset = ? "
    "ORDER BY state_order, governing_on NULLS FIRST, margin NULLS LAST, kind, component, location"
)


def assets(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the ranking, with the days to the due date and the words a person may search for."""
    return _frame(connection, ASSETS)


def state_counts(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """Return the number of assets of each state, in the order of the states, with the states that have none."""
    rows = asked(
        connection,
        "SELECT state.state, count(asset.asset) AS assets FROM reference.state AS state "
        "LEFT JOIN result.asset AS asset USING (state) GROUP BY state.state, state_order ORDER BY state_order",
    )
    return {row["state"]: row["assets"] for row in rows}


def due_dates(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return every due date of the fleet, with the half-year it falls in (`begins_on`, `ends_on`)."""
    return _frame(
        connection,
        "SELECT *, half AS begins_on, (half + INTERVAL 6 MONTH)::DATE AS ends_on FROM ("
        "SELECT *, make_date(year(due_on), CASE WHEN month(due_on) <= 6 THEN 1 ELSE 7 END, 1) AS half "
        "FROM result.due_date) ORDER BY asset, kind",
    ).drop(columns="half")


def due_by_half_year(due: pd.DataFrame) -> pd.DataFrame:
    """Count due dates by half-year and kind; those without a date are left out, `undated` counts them."""
    known = due[due["due_on"].notna()]
    return known.groupby(["begins_on", "ends_on", "kind"], as_index=False).size().rename(columns={"size": "due"})


def undated(due: pd.DataFrame) -> int:
    """Return how many of these due dates have no date."""
    return int(due["due_on"].isna().sum())


def before(due: pd.DataFrame, day: date) -> int:
    """Return how many of these due dates lie before a day."""
    return int((due["due_on"] < pd.Timestamp(day)).sum())


def turnarounds(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the turnarounds still to come: number, name, start and end."""
    return _frame(
        connection, "SELECT turnaround_no, name, start_on, end_on FROM step.turnaround ORDER BY turnaround_no"
    )


def worth_measuring(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return what one measurement is worth, once for each place and measurement: the kind of date it moves farthest.

    `years_gained` is what the asset's due date gains, null where only a verdict would change. The
    order is by verdict first, then days gained.
    """
    return _frame(
        connection,
        "SELECT worth.*, asset.state, asset.held_readings, asset.rank, asset.area, asset.assigned_to, "
        "lower(concat_ws(' ', worth.asset, worth.component, worth.location, description, service, area, assigned_to)) "
        "AS words, formula.years_between(worth_days, days_per_year) AS years_gained_years "
        "FROM result.worth_measuring AS worth JOIN result.asset AS asset USING (asset) CROSS JOIN basis.in_force "
        "QUALIFY row_number() OVER (PARTITION BY worth.asset, component, location, measurement "
        "ORDER BY worth_days DESC NULLS LAST, kind) = 1 "
        "ORDER BY clears_below_required DESC, worth_days DESC NULLS LAST, worth.asset, component, location",
    )


# ---- one asset ------------------------------------------------------------------------------------------------------


def concerns(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return everything that asks for work on an asset, most urgent first."""
    return _frame(connection, CONCERNS, [asset])


def components(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return the components of an asset."""
    return _frame(connection, "SELECT * FROM result.component WHERE asset = ? ORDER BY component", [asset])


def places(connection: duckdb.DuckDBPyConnection, asset: str, component: str) -> pd.DataFrame:
    """Return the locations of a component in the order of their tags, each with its readings held (`held_readings`)."""
    found = _frame(
        connection,
        "SELECT place.*, coalesce(held.readings, 0) AS held_readings FROM result.location AS place LEFT JOIN ("
        "SELECT location, count(*) AS readings FROM result.reading WHERE asset = $asset AND component = $component "
        "AND status = 'held' GROUP BY location) AS held USING (location) "
        "WHERE asset = $asset AND component = $component ORDER BY location",
        {"asset": asset, "component": component},
    )
    tags = found["location"].to_list()
    return found.iloc[sorted(range(len(tags)), key=lambda row: natural(tags[row]))].reset_index(drop=True)


def first_asked(connection: duckdb.DuckDBPyConnection, asset: str) -> dict[str, Row]:
    """Return the place of an asset whose interval asks first, by the kind of date: internal, thickness.

    Each with `component`, `location`, `read_on`, `interval_years` and `due_on`, the day on which that interval ends; a
    kind without such a place is left out.
    """
    asks = (("internal", "internal_interval_years", "internal_due_on"), ("thickness", "interval_years", "due_on"))
    found = asked(
        connection,
        " UNION ALL ".join(
            f"(SELECT '{kind}' AS kind, component, location, read_on, {years} AS interval_years, {day} AS due_on "
            f"FROM result.location WHERE asset = $asset AND {years} IS NOT NULL AND {day} IS NOT NULL "
            f"ORDER BY {day}, component, location LIMIT 1)"
            for kind, years, day in asks
        ),
        {"asset": asset},
    )
    return {row["kind"]: row for row in found}


def natural(name: str) -> list[tuple[int, int, str]]:
    """Return a key by which `2` comes before `10`, as people list places."""
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in re.split(r"(\d+)", name) if part
    ]


def in_place(component: str | None, location: str | None) -> str:
    """Return a place in words; empty for the whole asset."""
    return ", ".join(filter(None, (component, location and f"location {location}")))


def readings(connection: duckdb.DuckDBPyConnection, asset: str, component: str, location: str) -> pd.DataFrame:
    """Return every reading of a place, whatever became of it, with its source cell in words (`source`)."""
    return _frame(
        connection,
        "SELECT *, concat_ws(', ', file, nullif(sheet, ''), cell) AS source FROM result.reading "
        "WHERE asset = ? AND component = ? AND location = ? ORDER BY read_on, file, sheet, cell",
        [asset, component, location],
    )


def not_measured(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return the visits to places of an asset that brought no reading, with the reason and the source cell."""
    return _frame(
        connection,
        "SELECT *, concat_ws(', ', file, nullif(sheet, ''), cell) AS source FROM result.not_measured "
        "WHERE asset = ? ORDER BY read_on DESC, component, location",
        [asset],
    )


def areas(connection: duckdb.DuckDBPyConnection, asset: str) -> list[tuple[str, str]]:
    """Return the corroded areas of an asset as component and area."""
    rows = asked(
        connection,
        "SELECT DISTINCT component, area FROM (SELECT asset, component, area FROM result.corroded_area "
        "UNION ALL SELECT asset, component, area FROM result.pit_area) WHERE asset = ? ORDER BY component, area",
        [asset],
    )
    return [(row["component"], row["area"]) for row in rows]


def relief_devices(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return the relief devices of an asset: set pressure against the rating and the MAWP, and what is due."""
    return _frame(connection, "SELECT * FROM result.relief_device WHERE asset = ? ORDER BY device", [asset])


def events(connection: duckdb.DuckDBPyConnection, asset: str) -> pd.DataFrame:
    """Return the events of an asset and its components; one without a component is about the whole asset."""
    return _frame(
        connection,
        "SELECT *, concat_ws(', ', file, nullif(sheet, ''), cell) AS source FROM step.event "
        "WHERE asset = ? ORDER BY event_on, component",
        [asset],
    )


# ---- sources and basis ----------------------------------------------------------------------------------------------


_GRAVEST_FIRST = "CASE severity WHEN 'set aside' THEN 1 WHEN 'warning' THEN 2 ELSE 3 END"


@dataclass(frozen=True)
class LedgerCounts:
    """How many lines the ledger has, in all, by severity (set aside first) and by file."""

    lines: int
    severities: dict[str, int]
    files: dict[str, int]


def ledger_counts(connection: duckdb.DuckDBPyConnection) -> LedgerCounts:
    """Count the lines of the ledger."""
    question = "SELECT {0} AS named, count(*) AS lines FROM result.ledger GROUP BY {0} ORDER BY {1}"
    severities = asked(connection, question.format("severity", _GRAVEST_FIRST))
    files = asked(connection, question.format("file", "file"))
    return LedgerCounts(
        sum(row["lines"] for row in files),
        {row["named"]: row["lines"] for row in severities},
        {row["named"]: row["lines"] for row in files},
    )


def ledger_lines(
    connection: duckdb.DuckDBPyConnection, severities: Sequence[str], files: Sequence[str], text: str, most: int
) -> tuple[pd.DataFrame, int]:
    """Return the first `most` lines of a severity and file chosen (none: of every one) that hold every word of `text`,
    and how many there are: every cell not used, or used with doubt, the ones set aside first, then warnings, then
    notes."""
    words = text.lower().split()
    conditions = [
        *(["list_contains($severities, severity)"] if severities else []),
        *(["list_contains($files, file)"] if files else []),
        *(
            f"contains(lower(concat_ws(' ', file, sheet, cell, text, reason, effect)), $word_{place})"
            for place in range(len(words))
        ),
    ]
    values: dict[str, Any] = {f"word_{place}": word for place, word in enumerate(words)}
    values |= {"severities": list(severities)} if severities else {}
    values |= {"files": list(files)} if files else {}
    found = _frame(
        connection,
        "SELECT *, count(*) OVER () AS in_all FROM result.ledger "
        f"WHERE {' AND '.join(conditions) or 'true'} ORDER BY {_GRAVEST_FIRST}, file, sheet, cell LIMIT {most:d}",
        values,
    )
    return found.drop(columns="in_all"), int(found["in_all"].iloc[0]) if len(found) else 0


def ledger_reasons(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Return what the ledger says of its cells, each sentence once, in the order of the ledger."""
    rows = asked(
        connection,
        "SELECT reason FROM result.ledger GROUP BY reason "
        f"ORDER BY min({_GRAVEST_FIRST}), min((file, sheet, cell)), reason",
    )
    return [row["reason"] for row in rows]


def sources(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return every source file with its hash and what became of its rows."""
    return _frame(connection, "SELECT * FROM result.source ORDER BY file")


def spellings(connection: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    """Return the headings and aliases the plant taught in its basis: kind ('heading' or 'alias'), spelling, meaning."""
    return _frame(connection, "SELECT kind, spelling, meaning FROM basis.spelling ORDER BY kind DESC, lower(spelling)")


def policies(connection: duckdb.DuckDBPyConnection, system: str) -> pd.DataFrame:
    """Return the policies of the basis in force, each with its value in words (`shown`) in a unit system."""
    rows = asked(connection, "SELECT label, key, number, word, unit, reference, stated FROM basis.policy")
    for row in rows:
        row["shown"] = row["word"] if row["number"] is None else _in_words(row["number"], row["unit"], system)
    return pd.DataFrame(rows)


# ---- one place over time --------------------------------------------------------------------------------------------

#: A projection that meets the requirement later than this is drawn to the next due date only: a retirement decades
#: away would squeeze the readings into a corner of the chart. The date itself is always said in words.
DRAWN_YEARS = 15.0


def projection(place: Row) -> pd.DataFrame:
    """Return the two ends (`on`, `thickness_mm`) of the line at the governing rate through the last reading.

    It runs to the day at which the required thickness is reached or, where that is far or never, to the next due date.
    Empty where there is no reading or no rate.
    """
    empty = pd.DataFrame({"on": pd.Series(dtype="datetime64[us]"), "thickness_mm": pd.Series(dtype=float)})
    start, rate, t_act = place["read_on"], place["rate_mm_per_year"], place["t_act_mm"]
    if start is None or rate is None or t_act is None:
        return empty
    life, retirement_on, due_on = place["remaining_life_years"], place["retirement_on"], place["due_on"]
    if retirement_on is not None and life is not None and abs(life) <= DRAWN_YEARS and retirement_on != start:
        end, at_end = retirement_on, place["t_req_mm"]
    elif due_on is not None and due_on > start:
        years = FORMULAS["years_between"].evaluate(
            {"days": float((due_on - start) / timedelta(days=1)), "y_d": place["days_per_year"]}
        )
        end = due_on
        at_end = FORMULAS["thickness_after"].evaluate({"t_act": t_act, "C_r": rate, "years": years})
    else:
        return empty
    return pd.DataFrame({"on": pd.to_datetime([start, end]), "thickness_mm": [t_act, at_end]})


def requirements(place: Row) -> pd.DataFrame:
    """Return the required thickness of a place as lines to draw: the one that counts and, where it differs, the other.

    Columns `thickness_mm`, `words` and `counts`; no row where no requirement can be worked out.
    """
    names = {"weld": "required in the weld region", "away": "required away from the weld"}
    lines = [
        {"thickness_mm": place[f"t_req_{region}_mm"], "words": words, "counts": region == place["region_counted"]}
        for region, words in names.items()
        if place[f"t_req_{region}_mm"] is not None
    ]
    if len({line["thickness_mm"] for line in lines}) == 1:
        lines = [{**lines[0], "words": "required", "counts": True}]
    return pd.DataFrame(lines, columns=["thickness_mm", "words", "counts"])


def in_later_half(days: pd.Series, *others: pd.Series) -> pd.Series:
    """Return for each of these days whether it lies in the later half of the time they and the others span."""
    every = pd.concat([pd.to_datetime(series) for series in (days, *others)])
    first, last = every.min(), every.max()
    return pd.to_datetime(days) > first + (last - first) / 2


def place(connection: duckdb.DuckDBPyConnection, asset: str, component: str, location: str) -> Row | None:
    """Return one place with every number it was worked out from and the length of a year; None if there is none."""
    rows = asked(
        connection,
        "SELECT location.*, days_per_year FROM result.location AS location CROSS JOIN basis.in_force "
        "WHERE asset = ? AND component = ? AND location = ?",
        [asset, component, location],
    )
    return rows[0] if rows else None


# ---- units ----------------------------------------------------------------------------------------------------------

_SUFFIXES = (("_mm_per_year", "rate"), ("_mpa", "pressure"), ("_years", "duration"), ("_mm", "thickness"))
_LENGTHS = frozenset({"distance_to_weld_mm", "weld_region_half_width_mm"})


def kind_of(column: str) -> str | None:
    """Return the kind of quantity a result column holds; None for text, dates, counts and bare numbers."""
    for suffix, kind in _SUFFIXES:
        if column.endswith(suffix):
            if column in _LENGTHS:
                return "length"
            return BY_COLUMN[column].kind if column in BY_COLUMN else kind
    return None


def unit_of(column: str, system: str) -> tuple[str, int]:
    """Return the unit in which a column is shown, and its decimals; ("", 0) where it has no unit."""
    kind = kind_of(column)
    return DISPLAY[system][kind] if kind else ("", 0)


def in_display_units(frame: pd.DataFrame, system: str) -> pd.DataFrame:
    """Return the frame with every column that holds a quantity in the unit people see; missing stays missing.

    Column names stay, so that `unit_of` and the results' own descriptions go on fitting; they then no longer name the
    unit of the values, which belongs in the heading.
    """
    shown = frame.copy()
    for column in frame.columns:
        kind = kind_of(column)
        if kind:
            unit = UNITS[DISPLAY[system][kind][0]]
            shown[column] = frame[column].astype(float).map(unit.from_inside)
    return shown


def shown_value(row: Row, column: str, system: str) -> str:
    """Return one number of a row as people see it, with its unit; an em dash where it is missing."""
    kind = kind_of(column)
    if kind is None:
        raise ValueError(f"{column} holds no quantity with a unit")
    return show(row[column], kind, system)


def shown_difference(years: float | None) -> str:
    """Return a difference in years with its sign; an em dash where there is none to be given."""
    return "—" if years is None else minus(f"{years:+.2f} {YEARS}")


def life_in_words(row: Row, system: str) -> str:
    """Return a remaining life as it may be said: a number, "none left" of a wall below required whose rate gives no
    number, "no measurable loss", or "not assessable"."""
    if row["remaining_life_years"] is not None and row["remaining_life_years"] == row["remaining_life_years"]:
        return show(row["remaining_life_years"], "duration", system)
    missing = row.get("missing")
    if isinstance(missing, str) and missing:
        return "not assessable"
    if row.get("state") == "below required":
        return "none left"
    return "no measurable loss" if row.get("no_measurable_loss") else "not assessable"


def held_in_words(row: Row) -> str:
    """Return what the held readings of an asset would change, as a sentence; empty where none is held.

    Only readings held for growth are worked both ways: of a likely mistake nobody knows what was meant.
    """
    if not row["held_readings"]:
        return ""
    then, now = (as_day(row[column]) for column in ("due_on_with_held", "thickness_due_on"))
    if then is None:
        return "What the held readings would change is not worked out: each waits for a person to accept or reject it."
    would = f"stay {then}" if then == now else f"be {then} instead of {now or 'none'}"
    return f"Were the readings held for growth to count, the earliest thickness date would {would}."


def as_day(value: Any) -> date | None:
    """Return a date of a row or of a table as a day, None where it is missing."""
    if value is None or value is pd.NaT:
        return None
    return value.date() if isinstance(value, pd.Timestamp) else value


def rate_in_words(rate_from: str) -> str:
    """Return which rate counts, such as "long-term rate"; a named rate is called so already."""
    return rate_from if rate_from.endswith("rate") else f"{rate_from} rate"


def in_megabytes(size: int) -> int:
    """Return a size in bytes as whole megabytes of a million bytes, as a limit is said."""
    return size // 1_000_000


def _in_words(number: float, unit: str, system: str) -> str:
    value, name = in_coherent_unit(number, unit, system)
    text = f"{value:.6g}"
    if "e" in text:
        digits, _, exponent = text.partition("e")
        power = f"10{str(int(exponent)).translate(_RAISED)}"
        text = power if digits == "1" else f"{digits} × {power}"
    if name in ("year", "month", "day") and value > 1:
        name = f"{name}s"
    return text if name == "-" else f"{text} {name.replace('2', '²')}"


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


# ---- the connection -------------------------------------------------------------------------------------------------


def _frame(
    connection: duckdb.DuckDBPyConnection, sql: str, values: list[Any] | dict[str, Any] | None = None
) -> pd.DataFrame:
    # a cursor for each question: one connection shared by threads gives other threads' rows
    return connection.cursor().execute(sql, values or []).df()


def asked(
    connection: duckdb.DuckDBPyConnection, sql: str, values: Sequence[Any] | Mapping[str, Any] | None = None
) -> list[Row]:
    """Return the rows of a question, each with its columns by name."""
    cursor = connection.cursor().execute(sql, values or [])
    names = [column[0] for column in cursor.description or []]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
