"""What every document about results has: its title block, numbers as they are printed, its limits, its signatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import duckdb

from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.errors import Problem
from pipeline.paper import Column, Paragraph, Points, Section, Signatures
from pipeline.reading import Row, asked, kind_of, life_in_words, shown_value, unit_of
from pipeline.units import UNITS, minus

NONE = "—"
SYSTEM_WORDS = {"us": "US customary", "si": "SI"}

#: The unit in which a kind of quantity is kept, and so the unit of an unrounded number.
KEPT_UNITS = {
    "thickness": "mm",
    "length": "mm",
    "pressure": "MPa",
    "stress": "MPa",
    "rate": "mm/year",
    "duration": "year",
    "ratio": "-",
}


@dataclass(frozen=True)
class Stand:
    """What a document rests on: the plant, the build and its policies, and the unit system it is written in."""

    plant: str
    as_of: date
    known_at: datetime | None
    program: str
    basis_sha256: str
    system: str


def stand(connection: duckdb.DuckDBPyConnection, plant: str, system: str | None) -> Stand:
    """Return what a document of these results rests on; `system` is the plant's unit system where it is None."""
    row = asked(connection, "SELECT as_of, known_at, program, basis_sha256, units FROM result.build")[0]
    return Stand(plant, row["as_of"], row["known_at"], row["program"], row["basis_sha256"], system or row["units"])


def asset_row(connection: duckdb.DuckDBPyConnection, asset: str) -> Row:
    """Return an asset's row of the results. Raises Problem where there is none."""
    found = asked(connection, "SELECT * FROM result.asset WHERE asset = ?", [asset])
    if not found:
        raise Problem(f"{asset}: there is no such asset in the results; 'hoopline rank' lists them")
    return found[0]


def build_facts(rests_on: Stand) -> tuple[tuple[str, str], ...]:
    """Return the lines of a title block that say of which build a document is."""
    known_at = rests_on.known_at.isoformat(timespec="seconds") if rests_on.known_at else ""
    return (
        ("as of", said(rests_on.as_of)),
        *((("as known at", known_at),) if known_at else ()),
        ("program", f"hoopline {rests_on.program}"),
        ("units", f"{SYSTEM_WORDS[rests_on.system]}; kept in mm and MPa"),
        ("basis (SHA-256)", rests_on.basis_sha256),
    )


def limits(below_required: bool, more: Sequence[str] = ()) -> Section:
    """Return the section that says what was not considered and who is to judge."""
    first = [Paragraph(BELOW_REQUIRED, strong=True)] if below_required else []
    return Section(
        "What is not considered",
        (*first, Points((NOT_CONSIDERED, *more)), Paragraph(CAUTION)),
    )


def own_cautions(cautions: Sequence[str]) -> tuple[str, ...]:
    """Return the cautions that the last page does not say already."""
    return tuple(caution for caution in cautions if caution not in (CAUTION, NOT_CONSIDERED))


def signatures() -> Section:
    """Return the section for the people who answer for the document."""
    return Section("Review and approval", (Signatures(("prepared", "reviewed", "approved")),))


# ---- values as they are printed -------------------------------------------------------------------------------------


def said(value: Any) -> str:
    """Return a value as it is printed: dates year-month-day, a dash where there is none."""
    if value is None or value != value:
        return NONE
    if isinstance(value, datetime):
        return value.date().isoformat()
    return value.isoformat() if isinstance(value, date) else str(value).strip() or NONE


def headed(words: str, column: str, system: str) -> Column:
    """Return the heading of a column of numbers with the unit they are printed in."""
    unit, _ = unit_of(column, system)
    return Column(words if unit in ("", "-") else f"{words} ({unit})", numeric=True)


def number(row: Row, column: str, system: str) -> str:
    """Return a number of a row rounded and in the unit people see, without the unit, which stands in the heading."""
    value = row[column]
    if value is None:
        return NONE
    unit, decimals = unit_of(column, system)
    return minus(f"{UNITS[unit].from_inside(value):,.{decimals}f}")


def shown(row: Row, column: str, system: str) -> str:
    """Return the same with its unit."""
    if row[column] is None:
        return NONE
    text = shown_value(row, column, system) if kind_of(column) else f"{row[column]:.4f}"
    return minus(text)


def unrounded(value: float | None, unit: str) -> str:
    """Return a number with every digit it is kept with, and the unit it is kept in."""
    if value is None:
        return NONE
    digits = minus(f"{value!r}")
    return digits if unit in ("", "-") else f"{digits} {unit}"


def kept(row: Row, column: str) -> str:
    """Return a number of a row with every digit."""
    kind = kind_of(column)
    return unrounded(row[column], KEPT_UNITS[kind] if kind else "")


def percent(margin: float | None) -> str:
    """Return a margin over the required thickness in hundredths of it."""
    return NONE if margin is None else minus(f"{margin:.1%}")


def cell_of(row: Row) -> str:
    """Return the source cell of a row in words."""
    return ", ".join(part for part in (row["file"], row["sheet"], row["cell"]) if part) or NONE


def where(component: str | None, location: str | None) -> str:
    """Return a place in words."""
    if component is None:
        return NONE
    return component if location is None else f"{component}, location {location}"


def life(row: Row, system: str) -> str:
    """Return a remaining life in years, or in short why it has no number."""
    if row["remaining_life_years"] is not None:
        return number(row, "remaining_life_years", system)
    words = life_in_words(row, system)
    return {"no measurable loss": "no loss", "not assessable": NONE}.get(words, words)


def sentence(text: str) -> str:
    """Return a text of the results as a sentence: a capital first, a full stop last."""
    plain = text.strip()
    return plain if not plain else f"{plain[0].upper()}{plain[1:]}{'' if plain.endswith('.') else '.'}"
