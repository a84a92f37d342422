"""Numbers at the ends of what a cell can hold: each is used or set aside, and none keeps the others out."""

from __future__ import annotations

from datetime import date

import duckdb
import pytest

from pipeline.run import build
from pipeline.sheets.facts import LEAST_OF_ANYTHING, MOST_OF_ANYTHING
from tests.plants import write_plant

AS_OF = date(2026, 11, 1)
EXTREMES = (1e300, 1e40, 1e12, 9.9e6, 1.1e-9, 1e-12, 1e-40, 1e-300)

#: The headings of each sheet, and a sound row of a vessel whose numbers are all within what vessels have.
SOUND = {
    "register": (
        ("Asset", "Service", "In service", "MAWP (MPa)", "Inside diameter (mm)", "Operating fraction"),
        ("", "water", date(2000, 1, 1), 1.0, 1000.0, 0.5),
    ),
    "parts": (
        (
            "Asset", "Component", "Kind", "Inside diameter (mm)", "Length (mm)", "Nominal thickness (mm)",
            "Corrosion allowance (mm)", "Allowable stress (MPa)", "Joint efficiency", "Head depth (mm)",
            "Crown radius (mm)", "Knuckle radius (mm)", "Half apex angle (deg)", "Flat-head factor",
            "Specific gravity", "Liquid head (mm)", "External pressure (MPa)", "Structural minimum (mm)",
            "Stated corrosion rate (mm/year)", "Elastic modulus (MPa)", "Yield strength (MPa)",
            "Unsupported length (mm)",
        ),
        (
            "", "Part", "", 1000.0, 2000.0, 12.0, 3.0, 138.0, 0.85, 250.0, 1000.0, 100.0, 20.0, 0.3, 1.0, 500.0, 0.1,
            3.0, 0.1, 200000.0, 240.0, 1500.0,
        ),
    ),
    "places": (("Asset", "Component", "Location", "Distance to weld (mm)"), ("", "Part", "1", 100.0)),
}  # fmt: skip
KINDS = ("cylinder", "sphere", "ellipsoidal head", "torispherical head", "cone", "flat head")


def vessels() -> dict[str, list[tuple[object, ...]]]:
    """Return sheets in which every vessel has one number at one end, in every numbered column in turn."""
    sheets: dict[str, list[tuple[object, ...]]] = {name: [heading] for name, (heading, _) in SOUND.items()}
    number = 0
    for sheet, (heading, row) in SOUND.items():
        for at, cell in enumerate(row):
            if not isinstance(cell, float):
                continue
            for extreme in EXTREMES:
                number += 1
                tag = f"V-{number}"
                kind = KINDS[number % len(KINDS)]
                for name, (_, sound) in SOUND.items():
                    cells = [tag, *sound[1:]]
                    if name == "parts":
                        cells[2] = kind
                    if name == sheet:
                        cells[at] = extreme
                    sheets[name].append(tuple(cells))
        assert len(heading) == len(row)
    return sheets


def readings(sheets: dict[str, list[tuple[object, ...]]]) -> list[tuple[object, ...]]:
    """Return three sound readings of every vessel, and vessels with one extreme reading among sound ones."""
    rows: list[tuple[object, ...]] = []
    for tag, *_ in sheets["register"][1:]:
        rows += [(tag, "Part", "1", date(year, 5, 1), mm) for year, mm in ((2010, 11.8), (2016, 11.5), (2022, 11.1))]
    for number, extreme in enumerate(EXTREMES, start=1):
        for place in range(3):
            tag, walls = f"R-{number}", [11.8, 11.5, 11.1]
            walls[place] = extreme
            years = (2010, 2016, 2022)
            rows += [(tag, "Part", str(place), date(year, 5, 1), mm) for year, mm in zip(years, walls, strict=True)]
    return rows


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    folder = tmp_path_factory.mktemp("extremes")
    sheets = vessels()
    survey = [("Asset", "Component", "Location", "Date", "Thickness (mm)"), *readings(sheets)]
    write_plant(folder, **sheets, survey=survey)
    return duckdb.connect(str(build(folder, as_of=AS_OF).database), read_only=True)


def test_every_number_is_used_or_set_aside_with_its_cell(results: duckdb.DuckDBPyConnection) -> None:
    """Every vessel with a number beyond what is measured has a line of the ledger; the others have none for it."""
    sheets = vessels()
    beyond = sum(
        not LEAST_OF_ANYTHING <= cell <= MOST_OF_ANYTHING
        for rows in (*sheets.values(), readings(sheets))
        for row in rows
        for cell in row
        if isinstance(cell, float)
    )
    told = results.execute(
        "SELECT count(*) FROM result.ledger WHERE severity = 'set aside' "
        "AND (reason LIKE '%beyond anything that is measured%' OR reason LIKE '%next to nothing%')"
    ).fetchall()[0][0]
    above_one = results.execute(
        "SELECT count(*) FROM result.ledger WHERE severity = 'set aside' AND reason LIKE '%above 1%'"
    ).fetchall()[0][0]
    assert beyond > 100
    assert told == beyond
    assert above_one > 0


def test_no_result_is_infinite_or_no_number(results: duckdb.DuckDBPyConnection) -> None:
    """Whatever the numbers, a result is finite or unknown."""
    columns = results.execute(
        "SELECT table_name, column_name FROM information_schema.columns "
        "WHERE table_schema = 'result' AND data_type = 'DOUBLE'"
    ).fetchall()
    assert len(columns) > 80
    odd = [
        (table, column)
        for table, column in columns
        if results.execute(
            f'SELECT count(*) FROM result."{table}" WHERE NOT isfinite("{column}") AND "{column}" IS NOT NULL'
        ).fetchall()[0][0]
    ]
    assert odd == []


def test_every_vessel_is_ranked(results: duckdb.DuckDBPyConnection) -> None:
    """No vessel is lost, and a vessel that lacks a number for it is not assessable, never in date."""
    sheets = vessels()
    tags = {row[0] for row in sheets["register"][1:]} | {f"R-{number}" for number in range(1, len(EXTREMES) + 1)}
    ranked = {row[0] for row in results.execute("SELECT asset FROM result.asset").fetchall()}
    assert ranked == tags
    lacking = results.execute(
        "SELECT asset FROM result.asset JOIN result.component USING (asset) "
        "WHERE result.component.t_req_mm IS NULL AND result.asset.state = 'in date'"
    ).fetchall()
    assert lacking == []
