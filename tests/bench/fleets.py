"""Large plants for the benchmarks: a folder of csv sheets for each unit of a site, drawn from a seed.

Run `python -m tests.bench.fleets FOLDER [VESSELS]` to write one and see what it holds. The same sizes give the same
cells. Vessels, faults and shares are those of `tests.fleets`; a site's units stand in folders of their own, as plants
keep them, so that one changed sheet is one file of many.
"""

from __future__ import annotations

import csv
import sys
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from tests.fleets import EVERYTHING, PEOPLE, Fleet, write_fleet

AS_OF = date(2026, 11, 1)
VESSELS, UNIT = 5_000, 250
#: Four components a vessel, five places a component; readings so close that a place of middling age has about ten.
SIZES: dict[str, Any] = {"components": 4, "places": 5, "readings": 13, "spacing": (0.5, 1.9)}


BASIS = "[people]\n" + "".join(f'"{name}" = "inspector"\n' for name in PEOPLE)


@dataclass(frozen=True)
class Size:
    """What a plant holds: vessels, and the rows of its component, location and reading sheets."""

    vessels: int
    components: int
    places: int
    readings: int


def write_plant(folder: Path, vessels: int = VESSELS, seed: int = 5, **options: Any) -> Size:
    """Write a plant of so many vessels into `folder`, unit by unit, and return its size.

    `options` are fields of `tests.fleets.Fleet` that differ from those of the other benchmarks.
    """
    rows = {"components": 0, "places": 0, "readings": 0}
    for number, first in enumerate(range(0, vessels, UNIT)):
        unit = folder / f"unit {number + 1:02d}"
        write_fleet(
            unit,
            min(UNIT, vessels - first),
            seed * 1_000 + number,
            first=first,
            as_of=AS_OF,
            turnarounds=Fleet.turnarounds if number == 0 else (),
            **{**SIZES, **EVERYTHING, **options},
        )
        for sheet in rows:
            rows[sheet] += sum(_lines(path) - 1 for path in unit.glob(f"{sheet} *.csv"))
    (folder / "basis.toml").write_text(BASIS, encoding="utf-8")
    return Size(vessels, *rows.values())


def add_survey(folder: Path, unit: int = 1, on: date = date(2026, 10, 20)) -> int:
    """Write one more survey of every place of a unit, so that a second build has news; return its rows.

    Each place reads a twentieth of a millimetre (two thousandths of an inch) less than the time before.
    """
    written = 0
    for path in sorted((folder / f"unit {unit:02d}").glob("readings *.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            heading, *rows = csv.reader(file)
        # Rows stand in the order of time; a reason in place of a thickness is no reading.
        last = {tuple(row[:3]): float(row[4]) for row in rows if row[4].replace(".", "", 1).isdigit()}
        loss, decimals = (0.05, 3) if "si" in path.stem else (0.002, 4)
        with path.with_name(path.name.replace("readings", f"survey {on.isoformat()}")).open(
            "w", newline="", encoding="utf-8"
        ) as file:
            writer = csv.writer(file)
            writer.writerow(heading)
            writer.writerows((*place, on.isoformat(), round(wall - loss, decimals)) for place, wall in last.items())
        written += len(last)
    return written


def _lines(path: Path) -> int:
    with path.open(encoding="utf-8") as file:
        return sum(1 for _ in file)


def main() -> None:
    """Write a plant and print its size."""
    start = time.perf_counter()
    size = write_plant(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else VESSELS)
    print(
        f"{size.vessels:,} vessels, {size.components:,} components, {size.places:,} locations, {size.readings:,} "
        f"rows of readings, written in {time.perf_counter() - start:.1f} s"
    )


if __name__ == "__main__":
    main()
