"""What the sheets say, before anything is worked out: rows of values in mm, MPa, mm/year and years."""

from __future__ import annotations

import csv
import re
from calendar import monthrange
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from tests.second_path.policy import INCH, PSI

#: One line of a sheet: values by column, with `asset`, `component`, `location`; "?" holds the columns not readable.
Row = dict[str, Any]


@dataclass(frozen=True)
class Reading:
    """One thickness reading with its cell; `record` is the order of the lines."""

    record: int
    asset: str
    component: str | None
    location: str
    on: date
    mm: float
    file: str
    sheet: str
    cell: str

    @property
    def key(self) -> tuple[str, str, str]:
        return self.file, self.sheet, self.cell


@dataclass(frozen=True)
class Miss:
    """One visit without a reading."""

    record: int
    asset: str
    component: str | None
    location: str
    on: date
    reason: str


@dataclass
class Facts:
    """All rows by kind of sheet, all readings and all misses."""

    rows: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    readings: list[Reading] = field(default_factory=list)
    misses: list[Miss] = field(default_factory=list)


def facts_of_rows(
    fields: Iterable[Mapping[str, Any]], readings: Iterable[Mapping[str, Any]], misses: Iterable[Mapping[str, Any]]
) -> Facts:
    """Return the facts another program has read from the sheets: one row a cell, as the tables of facts hold them."""
    facts = Facts()
    lines: dict[tuple[str, int], Row] = {}
    for each in fields:
        line = lines.get((each["kind"], each["record"]))
        if line is None:
            line = lines[each["kind"], each["record"]] = {
                "asset": each["asset"],
                "component": each["component"],
                "location": each["location"],
                "record": each["record"],
                "?": set(),
            }
            facts.rows[each["kind"]].append(line)
        name = each["field"]
        if name in ("asset", "component", "location"):
            continue
        value = next((each[form] for form in ("number", "word", "on_date") if each[form] is not None), None)
        if (each["kind"], name) in _COUNTS_FROM_ITS_END and value is not None:
            value = _last_day(value, each["date_precision"])
        line[name] = value
        if (each["kind"], name) == ("turnarounds", "start") and value is not None:
            line["start_at_the_latest"] = _last_day(value, each["date_precision"])
        if name == "kind":
            line["kind_text"] = each["text"]
        if each["unreadable"]:
            line["?"].add(name)
    for row in facts.rows["turnarounds"]:
        # No end, or one before the start: the turnaround ends on the day it begins, whichever day of a month that is.
        latest, end = row.pop("start_at_the_latest", None), row.get("end")
        if latest is not None and (end is None or end < row["start"]):
            row["end"] = latest
    for each in readings:
        facts.readings.append(
            Reading(
                *(each[name] for name in ("record", "asset", "component", "location", "read_on", "thickness_mm")),
                *(each[name] for name in ("file", "sheet", "cell")),
            )
        )
    for each in misses:
        names = ("record", "asset", "component", "location", "read_on", "reason")
        facts.misses.append(Miss(*(each[name] for name in names)))
    return facts


#: Dates whose month or year, where no day is stated, counts with its last day: that is the unfavourable one.
_COUNTS_FROM_ITS_END = {("turnarounds", "end"), ("deferrals", "approved_on")}


def _last_day(day: date, precision: str | None) -> date:
    if precision == "month":
        return day.replace(day=monthrange(day.year, day.month)[1])
    return date(day.year, 12, 31) if precision == "year" else day


# ---- tidy csv sheets ------------------------------------------------------------------------------------------------

_FACTOR = {"in": INCH, "mm": 1.0, "psi": PSI, "MPa": 1.0, "mil/year": INCH / 1000.0, "mm/year": 1.0, "years": 1.0}
_FACTOR["deg"] = 1.0

#: Heading without its unit: what the rows call it. A heading not listed is its own name.
_NAMES = {
    "Protects": "asset",
    "MAWP": "mawp",
    "Fraction in operation": "operating_fraction",
    "Joint efficiency (longitudinal)": "joint_efficiency_longitudinal",
    "Joint efficiency (circumferential)": "joint_efficiency_circumferential",
    "Half apex angle": "half_apex_angle",
    "Flat-head factor": "flat_head_factor",
    "Required thickness (external pressure)": "required_thickness_external",
    "Test interval": "interval",
    "Interval set": "interval",
    "Turnaround": "name",
    "Start date": "start",
    "End date": "end",
    "Due date": "due",
}
_KINDS = {"places": "locations"}
_WORDS = {
    "shell": "cylinder",
    "course": "cylinder",
    "nozzle neck": "nozzle",
    "2:1 ellipsoidal head": "ellipsoidal head",
    "too hot": "hot",
}
_TEXT = {
    *("asset", "component", "location", "service", "area", "assigned_to", "relief_device", "kind", "material"),
    *("attached_to", "device", "name", "reason", "approved_by", "assessment", "recommendation", "evidence", "event"),
    *("chosen_by", "rate_choice", "weld_region", "head_zone", "loss_side", "status", "result", "idle_protection"),
    *("continuous_service", "clean_service", "in_place_of_internal"),
}
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def facts_of_folder(folder: Path) -> Facts:
    """Return what the tidy csv sheets of a fleet say. Raises ValueError for a cell that is neither."""
    facts = Facts()
    record = 0
    for path in sorted(folder.glob("*.csv")):
        kind = path.stem.rsplit(" ", 1)[0]
        with path.open(newline="", encoding="utf-8") as file:
            lines = csv.reader(file)
            columns = [_column(heading) for heading in next(lines)]
            for number, cells in enumerate(lines, start=2):
                record += 1
                row: Row = {"asset": None, "component": None, "location": None, "record": record, "?": set()}
                for (name, factor), text in zip(columns, cells, strict=True):
                    if text:
                        row[name] = _value(name, factor, text)
                if kind == "readings":
                    _add_reading(facts, row, path.name, f"E{number}", record)
                    continue
                if "kind" in row:
                    row["kind_text"] = row["kind"]
                    row["kind"] = _WORDS.get(row["kind"], row["kind"])
                facts.rows[_KINDS.get(kind, kind)].append(row)
    return facts


def _column(heading: str) -> tuple[str, float]:
    found = re.fullmatch(r"(.*) \(([^()]*)\)", heading)
    name, factor = heading, 1.0
    if found and found[2] in _FACTOR:
        name, factor = found[1], _FACTOR[found[2]]
    return _NAMES.get(name, name.lower().replace(" ", "_")), factor


def _value(name: str, factor: float, text: str) -> float | date | str:
    if name in _TEXT:
        return text
    if _DATE.fullmatch(text):
        return date.fromisoformat(text)
    if name == "thickness" and text[0].isalpha():
        return _WORDS.get(text, text)
    return float(text) * factor


def _add_reading(facts: Facts, row: Row, file: str, cell: str, record: int) -> None:
    where = (record, row["asset"], row["component"], row["location"], row["date"])
    if isinstance(row["thickness"], str):
        facts.misses.append(Miss(*where, row["thickness"]))
    else:
        facts.readings.append(Reading(*where, row["thickness"], file, "", cell))
