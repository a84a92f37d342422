"""What stands in the registers and cannot be taken as it stands: each by hand, with the state its asset then has.

Nothing that cannot be read or placed may leave an asset looking better than it is: it is in the ledger with its cell,
and where the number it would have changed is unknown, so is the asset.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.plants import write_plant
from tests.vessels import AS_OF, HEADINGS, Y12, Y20, Plant, asset_of, due_of, ledger_of, opened, place_of

#: 0.1 mm/year from 14.0 to 13.2 in 8 years; 3.2 mm above the structural minimum last 32 years.
STEADY = ((Y12, 14.0), (Y20, 13.2))


def results(plant: Plant, folder: Path, as_of: date = AS_OF, **more: Any) -> duckdb.DuckDBPyConnection:
    """Build the plant; `more` takes whole sheets with their heading row."""
    sheets = {name: [HEADINGS[name], *cells] for name, cells in plant.rows.items() if cells}
    return opened(write_plant(folder, **{**sheets, **more}), as_of)


# ---- events that cannot be placed -----------------------------------------------------------------------------------

#: 16.0 in 2004 and 15.9 in 2018: 0.1 mm in 13.6 years, 801 years of life, were there no change of service in 2019.
SLOW = ((date(2004, 6, 1), 16.0), (date(2018, 1, 1), 15.9))


@pytest.fixture(scope="module")
def events(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    plant = Plant()
    for name, component, on, event in (
        ("NAMED", "Shel", date(2019, 12, 1), "change of service"),
        ("UNDATED", "Shell", None, "change of service"),
        ("UNTOLD", "Shell", date(2019, 12, 1), None),
        ("EMPTY", "Shell", None, None),
        ("SOUND", "Shell", date(2019, 12, 1), "rerated"),
    ):
        plant.vessel(name, SLOW)
        plant.add("events", name, component, on, event, None)
    return results(plant, tmp_path_factory.mktemp("events"))


@pytest.mark.parametrize(
    ("name", "cell", "words"),
    [
        ("NAMED", "D2", "no component sheet lists Shel of NAMED: correct the name"),
        ("UNDATED", "D3", "the row has no date that can be read: complete or correct it"),
        ("UNTOLD", "C4", "the row has no kind of event that can be read: complete or correct it"),
    ],
)
def test_an_event_that_cannot_be_placed_is_in_the_ledger(
    events: duckdb.DuckDBPyConnection, name: str, cell: str, words: str
) -> None:
    (line,) = [row for row in ledger_of(events, name) if row["sheet"] == "events"]
    assert (line["cell"], line["severity"]) == (cell, "set aside")
    assert words in line["reason"]


def test_an_event_of_an_unknown_component_leaves_its_asset_not_assessable(events: duckdb.DuckDBPyConnection) -> None:
    found = asset_of(events, "NAMED")
    assert found["state"] == "not assessable"
    assert found["reason"].startswith("Shel, missing:")
    for kind in ("internal", "external", "thickness"):
        assert "the remaining life of Shel" in due_of(events, "NAMED", kind)["due_missing"]
    # What is known of the shell stays as it is: nothing says that the event was its own.
    assert place_of(events, "NAMED")["state"] == "in date"


def test_a_sound_event_is_not_in_the_ledger(events: duckdb.DuckDBPyConnection) -> None:
    assert not [row for row in ledger_of(events, "SOUND") if row["sheet"] == "events"]
