"""The demo plant is what its README says, counted from the files, and its script makes the same bytes each time."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
import tomllib
import zipfile
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import load_workbook

DEMO = Path(__file__).resolve().parents[1] / "demo_plant"
KINDS = {
    "cylinder": {"shell", "Shell", "shell course", "cylinder", "channel"},
    "sphere": {"sphere"},
    "hemispherical head": {"hemispherical head"},
    "ellipsoidal head": {"2:1 head", "ellipsoidal head", "2:1 ellipsoidal head"},
    "torispherical head": {"torispherical head", "dished end"},
    "cone": {"cone"},
    "flat head": {"flat head"},
    "nozzle": {"nozzle", "Nozzle"},
}
SPREADSHEETS = {".xlsx", ".csv"}


def make(into: Path) -> None:
    subprocess.run([sys.executable, str(DEMO / "make_demo_plant.py"), str(into)], check=True, timeout=120)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    make(folder)
    return folder


def rows_below(name: str, heading: str) -> list[dict[str, object]]:
    """Rows of every sheet below the header row that begins with `heading`, blank tags and lone notes left out."""
    found = []
    for sheet in load_workbook(DEMO / name).worksheets:
        rows = list(sheet.iter_rows(values_only=True))
        start = next(n for n, row in enumerate(rows) if row[0] == heading)
        for row in rows[start + 1 :]:
            if row[0] and sum(value is not None for value in row) > 1:
                found.append(dict(zip(map(str, rows[start]), row, strict=True)))
    return found


def test_two_runs_make_the_same_bytes(made: Path, tmp_path: Path) -> None:
    make(tmp_path)
    names = sorted(path.name for path in made.iterdir())
    assert names == sorted(path.name for path in tmp_path.iterdir())
    for name in names:
        assert (made / name).read_bytes() == (tmp_path / name).read_bytes(), name


def cells(path: Path) -> object:
    if path.suffix != ".xlsx":
        return path.read_bytes()
    return {s.title: list(s.iter_rows(values_only=True)) for s in load_workbook(path).worksheets}


def test_the_folder_holds_what_the_script_makes(made: Path) -> None:
    kept = {p.name for p in DEMO.iterdir() if p.suffix in {*SPREADSHEETS, ".toml", ".md", ".json"}}
    assert kept == {path.name for path in made.iterdir()}
    for name in sorted(kept):
        assert cells(DEMO / name) == cells(made / name), f"{name}: remake it with demo_plant/make_demo_plant.py"


def test_workbooks_carry_no_clock(made: Path) -> None:
    for path in made.glob("*.xlsx"):
        with zipfile.ZipFile(path) as packed:
            assert {entry.date_time for entry in packed.infolist()} == {(2026, 11, 1, 8, 0, 0)}
            assert set(re.findall(rb"\d{4}-\d\d-\d\dT", packed.read("docProps/core.xml"))) == {b"2026-11-01T"}


def test_vessels_and_components() -> None:
    vessels = [row["Tag No."] for row in rows_below("vessel register.xlsx", "Tag No.")]
    parts = rows_below("components north.xlsx", "Vessel") + rows_below("components south.xlsx", "Vessel")
    assert len(vessels) == len(set(vessels)) >= 64
    assert len(parts) == len({(row["Vessel"], row["Component"]) for row in parts}) >= 230
    assert {row["Vessel"] for row in parts} == set(vessels)
    spellings = Counter(row["Type"] for row in parts)
    for kind, accepted in KINDS.items():
        assert sum(spellings[spelling] for spelling in accepted) > 0, kind
    assert set(spellings) - set().union(*KINDS.values()) == {"bumped head"}


def test_locations_belong_to_components() -> None:
    places = [(row["Tag"], row["Component"], str(row["CML"])) for row in rows_below("locations.xlsx", "Tag")]
    assert len(places) == len(set(places)) >= 1600
    parts = rows_below("components north.xlsx", "Vessel") + rows_below("components south.xlsx", "Vessel")
    assert {place[:2] for place in places} == {(row["Vessel"], row["Component"]) for row in parts}


def thickness_like(value: object) -> bool:
    return isinstance(value, float) or (isinstance(value, str) and re.match(r'^\d[\d ./]*["*]?$', value) is not None)


def test_readings_over_twenty_years() -> None:
    count = 0
    for name in ("north surveys to 2018.xlsx", "south surveys to 2018.xlsx", "jetty surveys to 2017.xlsx"):
        for sheet in load_workbook(DEMO / name).worksheets:
            for row in sheet.iter_rows(values_only=True):
                first = 1 if name.startswith("south") else 2
                if row[0] != "MIN" and row[first - 1] is not None:
                    count += sum(thickness_like(value) for value in row[first:])
    count += len(rows_below("survey contractor 2021.xlsx", "Equipment No."))
    days = set()
    for name, delimiter in (("UT results 2019-2026.csv", ","), ("jetty UT 2022-2026.csv", ";")):
        with (DEMO / name).open(encoding="utf-8", newline="") as handle:
            rows = list(csv.DictReader(handle, delimiter=delimiter))
        count += len(rows)
        days |= {row.get("Date") or row.get("Date read") for row in rows}
    assert count >= 9500
    assert any(str(day).startswith("2026-04") for day in days)
    titles = [
        v
        for s in load_workbook(DEMO / "south surveys to 2018.xlsx").worksheets
        for v in next(s.iter_rows(min_row=4, max_row=4, values_only=True))
    ]
    assert any("2005" in str(title) for title in titles)


def test_stories_and_people() -> None:
    rows = json.loads((DEMO / "stories.json").read_text(encoding="utf-8"))
    vessels = {row["Tag No."] for row in rows_below("vessel register.xlsx", "Tag No.")}
    assert {row["asset"] for row in rows} <= vessels
    assert {int(re.sub(r"\D", "", row["story"])) for row in rows} == set(range(1, 28))
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    for row in rows:
        assert f"{row['quantity']} {re.sub('^-', '−', row['value'])}" in readme
    basis = tomllib.loads((DEMO / "basis.toml").read_text(encoding="utf-8"))
    assert Counter(basis["people"].values()) == {"inspector": 3, "manager": 1, "auditor": 1}


def test_unusable_cells_stand_where_the_readme_says() -> None:
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| (.+?\.xlsx) \| (.+?) \| ([A-Z]+\d+) \| `(.+?)` \|", readme, re.MULTILINE)
    assert len(listed) >= 12
    for file, sheet, cell, text in listed:
        assert text in str(load_workbook(DEMO / file)[sheet][cell].value), f"{file} {sheet} {cell}"


def test_size_and_the_vessel_that_must_not_appear() -> None:
    assert sum(p.stat().st_size for p in DEMO.iterdir() if p.suffix in SPREADSHEETS) < 3_000_000
    for row in rows_below("vessel register.xlsx", "Tag No."):
        assert 58 not in row.values() and 555 not in row.values()
