"""Which place a reading belongs to: renumbered locations by an explicit mapping, components by the locations sheet."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from pipeline.run import build
from tests.plants import write_plant, write_workbook

VESSEL = {
    "assets": [["V-1", "Naphtha", "A", date(2005, 6, 1), 200, 60, "P. Example"]],
    "components": [["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
}
RENUMBERED = ("Asset", "Component", "Old location", "New location", "Renumbered on")


def rows(folder: Path, sql: str) -> list[tuple[Any, ...]]:
    build(folder, as_of=date(2026, 1, 1))
    with duckdb.connect(str((folder / "results.duckdb").resolve()), read_only=True) as connection:
        return connection.execute(sql).fetchall()


def plant(folder: Path, readings: Sequence[Sequence[Any]], **more: Any) -> Path:
    return write_plant(folder, **VESSEL, readings=readings, **more)  # type: ignore[arg-type]


def test_a_renumbered_location_keeps_its_history(tmp_path: Path) -> None:
    """3 became S-03 in 2010 and S-03 became CML 103 in 2020: one place, and the rate counts from its first reading."""
    folder = plant(
        tmp_path / "plant",
        [
            ["V-1", "Shell", 3, date(2005, 6, 1), 0.75],
            ["V-1", "Shell", "S-03", date(2015, 6, 1), 0.72],
            ["V-1", "Shell", "CML 103", date(2025, 6, 1), 0.69],
        ],
        renumbered=[
            RENUMBERED,
            ["V-1", "Shell", 3, "S-03", date(2010, 1, 1)],
            ["V-1", "Shell", "S-03", "CML 103", date(2020, 1, 1)],
        ],
    )
    assert rows(folder, "SELECT location, reading_count, initial_on FROM result.location") == [
        ("CML 103", 3, date(2005, 6, 1))
    ]
    assert rows(folder, "SELECT read_on, flags FROM result.reading ORDER BY ALL") == [
        (date(2005, 6, 1), "written as location 3"),
        (date(2015, 6, 1), "written as location S-03"),
        (date(2025, 6, 1), ""),
    ]


def test_a_number_used_again_after_the_renumbering_is_another_place(tmp_path: Path) -> None:
    folder = plant(
        tmp_path / "plant",
        [
            ["V-1", "Shell", "1", date(2005, 6, 1), 0.75],
            ["V-1", "Shell", "2", date(2015, 6, 1), 0.72],
            ["V-1", "Shell", "1", date(2015, 6, 1), 0.74],
        ],
        renumbered=[RENUMBERED, ["V-1", "Shell", "1", "2", date(2010, 1, 1)]],
    )
    found = rows(folder, "SELECT location, reading_count FROM result.location ORDER BY ALL")
    assert found == [("1", 1), ("2", 2)]


def test_two_numbers_exchanged_on_one_day(tmp_path: Path) -> None:
    folder = plant(
        tmp_path / "plant",
        [["V-1", "Shell", "1", date(2005, 6, 1), 0.75], ["V-1", "Shell", "2", date(2005, 6, 1), 0.70]],
        renumbered=[
            RENUMBERED,
            ["V-1", "Shell", "1", "2", date(2010, 1, 1)],
            ["V-1", "Shell", "2", "1", date(2010, 1, 1)],
        ],
    )
    found = rows(folder, "SELECT location, round(t_act_mm / 25.4, 4) FROM result.location ORDER BY ALL")
    assert found == [("1", 0.70), ("2", 0.75)]


def test_without_a_mapping_nothing_is_joined(tmp_path: Path) -> None:
    folder = plant(
        tmp_path / "plant",
        [["V-1", "Shell", "S-3", date(2005, 6, 1), 0.75], ["V-1", "Shell", "S-03", date(2015, 6, 1), 0.72]],
    )
    assert rows(folder, "SELECT location FROM result.location ORDER BY ALL") == [("S-03",), ("S-3",)]


def test_a_survey_without_components_is_settled_by_the_locations_sheet(tmp_path: Path) -> None:
    folder = write_plant(tmp_path / "plant", **VESSEL, locations=[["V-1", "Shell", "1", 0.5]])  # type: ignore[arg-type]
    write_workbook(
        folder / "survey.xlsx",
        {"s": [("Asset", "CML", "Date", "Thickness (in)"),
               ["V-1", "1", date(2015, 6, 1), 0.74], ["V-1", "2", date(2015, 6, 1), 0.73]]},
    )  # fmt: skip
    assert rows(folder, "SELECT component, location FROM result.reading ORDER BY ALL") == [
        ("(not stated)", "2"),
        ("Shell", "1"),
    ]
    ((state,),) = rows(folder, "SELECT state FROM result.component WHERE component = '(not stated)'")
    assert state == "not assessable"


def test_a_tag_that_differs_by_dashes_is_named_and_not_joined(tmp_path: Path) -> None:
    folder = plant(tmp_path / "plant", [["V1", "Shell", "1", date(2015, 6, 1), 0.74]])
    ((reason,),) = rows(folder, "SELECT reason FROM result.ledger WHERE text = 'V1'")
    assert reason.endswith("name it under [aliases] in basis.toml, if it is the one written V-1 elsewhere")
    (folder / "basis.toml").write_text('[aliases]\nV1 = "V-1"\n')
    assert rows(folder, "SELECT DISTINCT asset FROM result.reading") == [("V-1",)]


def test_a_data_row_whose_words_are_headings_stays_a_data_row(tmp_path: Path) -> None:
    many = [["V-1", "Shell", str(number), date(2020, 1, 1), 0.5] for number in range(1, 9)]
    folder = plant(tmp_path / "plant", [*many, ["thick", "Part", "1", date(2020, 1, 1), 0.5], *many[:0]])
    assert rows(folder, "SELECT asset, count(*) FROM result.reading GROUP BY ALL ORDER BY ALL") == [
        ("V-1", 8),
        ("thick", 1),
    ]
