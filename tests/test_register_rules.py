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
from tests.vessels import AS_OF, HEADINGS, Y12, Y20, Plant, asset_of, due_of, ledger_of, opened, place_of, rows

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


# ---- turnarounds that do not say how far an asset must reach --------------------------------------------------------

NEXT = ("TA-21", date(2021, 3, 1), date(2021, 4, 1))


def with_turnarounds(folder: Path, *turnarounds: tuple, external: date) -> duckdb.DuckDBPyConnection:
    """A steady vessel whose external inspection counts from `external`, with these turnarounds."""
    plant = Plant()
    plant.vessel("V-1", STEADY, inspected=None)
    plant.add("visits", "V-1", "internal", date(2019, 1, 1), "sound")
    plant.add("visits", "V-1", "external", external, "sound")
    for row in turnarounds:
        plant.add("turnarounds", *row)
    return results(plant, folder)


@pytest.mark.parametrize(
    ("start", "end", "reaches"),
    [
        (date(2025, 4, 1), date(2025, 4, 30), date(2025, 4, 30)),
        (date(2025, 4, 1), date(2021, 4, 30), date(2025, 4, 1)),  # the year of the end mistyped
        (date(2025, 4, 30), date(2025, 4, 1), date(2025, 4, 30)),  # the two exchanged
        (date(2025, 4, 1), None, date(2025, 4, 1)),
        ("2025-04", "2025-04", date(2025, 4, 30)),
        ("April 2025", None, date(2025, 4, 30)),
        ("2025", "2025", date(2025, 12, 31)),
    ],
)
def test_a_turnaround_reaches_to_the_latest_day_it_can_end(tmp_path: Path, start: Any, end: Any, reaches: date) -> None:
    """External inspection of 2017-03-01: due after 1826 days, on 2022-03-01, before the second turnaround ends."""
    with with_turnarounds(tmp_path, NEXT, ("TA-25", start, end), external=date(2017, 3, 1)) as found:
        [horizon] = rows(found, "FROM step.horizon")
        assert (horizon["must_reach_on"], horizon["after_name"]) == (reaches, "TA-25")
        assert due_of(found, "V-1", "external")["due_on"] == date(2022, 3, 1)
        assert asset_of(found, "V-1")["state"] == "due by turnaround"


def test_a_date_in_the_last_month_of_a_turnaround_is_met_in_the_one_before(tmp_path: Path) -> None:
    """Due on 2025-04-20, after 2020-04-20 and 1826 days: before the last day of April 2025."""
    with with_turnarounds(tmp_path, NEXT, ("TA-25", "April 2025", "April 2025"), external=date(2020, 4, 20)) as found:
        assert due_of(found, "V-1", "external")["due_on"] == date(2025, 4, 20)
        assert asset_of(found, "V-1")["state"] == "due by turnaround"
        assert ledger_of(found, "turnaround") == []


@pytest.mark.parametrize(
    ("row", "cell", "reason", "effect"),
    [
        (
            ("TA-25", date(2025, 4, 1), date(2021, 4, 30)),
            "C3",
            "the turnaround TA-25 ends on 2021-04-30, before it starts on 2025-04-01: correct one of the two",
            "the later of the two counts as its end",
        ),
        (
            ("TA-25", date(2025, 4, 1), None),
            "B3",
            "the turnaround TA-25 has no last day: give it",
            "its first day counts as its last",
        ),
        (
            ("TA-25", None, None),
            "A3",
            "the turnaround TA-25 has no date that can be read: give its first and last day",
            "how far an asset must reach is not known beyond the end of TA-21 on 2021-04-01",
        ),
    ],
)
def test_a_turnaround_without_its_dates_is_in_the_ledger(
    tmp_path: Path, row: tuple, cell: str, reason: str, effect: str
) -> None:
    with with_turnarounds(tmp_path, NEXT, row, external=date(2019, 1, 1)) as found:
        [line] = [line for line in rows(found, "FROM result.ledger") if line["sheet"] == "turnarounds"]
        assert (line["cell"], line["severity"]) == (cell, "set aside")
        assert (line["reason"], line["effect"]) == (reason, effect)


def test_a_turnaround_that_is_over_is_not_in_the_ledger(tmp_path: Path) -> None:
    over = (("TA-17", date(2017, 3, 1), None), ("TA-18", date(2018, 3, 1), date(2017, 4, 1)))
    with with_turnarounds(tmp_path, NEXT, *over, external=date(2019, 1, 1)) as found:
        assert ledger_of(found, "turnaround") == []


# ---- dates known to the month or the year ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("approved", "counts"),
    [
        (date(2020, 5, 31), True),
        ("2019", True),
        ("2020-04", True),
        ("2020-05", True),
        ("2020", False),
        ("2020-06", False),
    ],
)
def test_a_deferral_approved_in_a_month_counts_as_of_its_last_day(tmp_path: Path, approved: Any, counts: bool) -> None:
    """External inspection of 2015-06-02: due on 2020-06-01; approved on that day or later it does not count.

    Of "2020" and "2020-06" nobody knows that they were before the date; of "2020-05" and "2019" one does.
    """
    plant = Plant()
    plant.vessel("V-1", STEADY, inspected=None)
    plant.add("visits", "V-1", "internal", date(2019, 1, 1), "sound")
    plant.add("visits", "V-1", "external", date(2015, 6, 2), "sound")
    plant.add("deferrals", "V-1", "external", date(2020, 6, 1), date(2024, 1, 1), "scaffold", "P. Example", approved)
    found = results(plant, tmp_path, date(2020, 6, 5))
    due = due_of(found, "V-1", "external")
    assert due["due_on"] == date(2020, 6, 1)
    assert due["state"] == ("deferred until" if counts else "overdue")


def test_a_start_known_to_the_year_is_in_the_ledger(tmp_path: Path) -> None:
    plant = Plant()
    plant.vessel("V-1", STEADY, since="2004")
    plant.vessel("V-2", STEADY)
    plant.add("events", "V-2", "Shell", "May 2010", "rerated", None)
    found = results(plant, tmp_path)
    lines = {(line["sheet"], line["cell"]): line for line in rows(found, "FROM result.ledger")}
    assert set(lines) == {("register", "C2"), ("events", "C2")}
    for key, days in (
        (("register", "C2"), ("2004-01-01", "2004-12-31")),
        (("events", "C2"), ("2010-05-01", "2010-05-31")),
    ):
        assert lines[key]["severity"] == "warning"
        assert lines[key]["reason"].endswith(f"only: give the day, between {days[0]} and {days[1]}")


# ---- intervals set for relief devices, or without a kind ------------------------------------------------------------

SET = ("Asset", "Kind", "Interval (years)", "Assessment", "Approved by", "Approved on")
TESTED = date(2018, 1, 1)


def with_set_intervals(folder: Path, *stated: tuple, clean: str | None = None, interval: Any = 5) -> Any:
    """A steady vessel with one relief device tested on 2018-01-01, with these set intervals."""
    plant = Plant()
    plant.vessel("V-1", STEADY)
    devices = [
        ("Asset", "Device", "Set pressure (MPa)", "Interval (years)", "Last tested", "Clean service"),
        ("V-1", "PSV-1", 0.5, interval, TESTED, clean),
    ]
    return results(plant, folder, relief_devices=devices, intervals=[SET, *(("V-1", *row) for row in stated)])


#: In whole days: 1 year 365, 3 years 1095, 5 years 1826, 8 years 2922, 10 years 3652.
@pytest.mark.parametrize(
    ("stated", "clean", "interval", "due_on"),
    [
        ((), None, 5, date(2023, 1, 1)),
        ((("relief device", 1, None, None, None),), None, None, date(2019, 1, 1)),
        ((("relief device", 1, None, None, None),), None, 5, date(2019, 1, 1)),
        ((("relief device", 1, None, None, None),), "yes", 10, date(2019, 1, 1)),
        # The device's own interval is shorter.
        ((("relief device", 3, None, None, None),), None, 1, date(2019, 1, 1)),
        # Beyond the cap without an assessment: it does not count; with one it does, where the device asks for as much.
        ((("relief device", 8, None, None, None),), None, None, date(2023, 1, 1)),
        ((("relief device", 8, "RBA 7", "P. Example", date(2017, 1, 1)),), None, None, date(2026, 1, 1)),
        ((("relief device", 8, "RBA 7", "P. Example", date(2017, 1, 1)),), None, 5, date(2023, 1, 1)),
        # Within the cap of clean service.
        ((("relief device", 8, None, None, None),), "yes", None, date(2026, 1, 1)),
        # Of another kind, or of none: the shorter one counts.
        ((("internal", 1, None, None, None),), None, 5, date(2023, 1, 1)),
        (((None, 3, None, None, None),), None, 5, date(2020, 12, 31)),
        (((None, 8, "RBA 7", "P. Example", date(2017, 1, 1)),), None, None, date(2023, 1, 1)),
    ],
)
def test_an_interval_set_for_relief_devices_counts(
    tmp_path: Path, stated: tuple, clean: str | None, interval: Any, due_on: date
) -> None:
    with with_set_intervals(tmp_path, *stated, clean=clean, interval=interval) as found:
        due = due_of(found, "V-1", "relief device")
        assert (due["due_on"], due["state"]) == (due_on, "overdue" if due_on < AS_OF else "in date")


def test_an_interval_set_without_a_kind_counts_for_all_that_are_longer(tmp_path: Path) -> None:
    """Inspected on 2019-01-01, read on 2020-01-01; three years are 1095 days."""
    with with_set_intervals(tmp_path, (None, 3, None, None, None)) as found:
        dates = {kind: due_of(found, "V-1", kind)["due_on"] for kind in ("internal", "external", "thickness")}
        assert dates == {
            "internal": date(2021, 12, 31),
            "external": date(2021, 12, 31),
            "thickness": date(2022, 12, 31),
        }
        [line] = ledger_of(found, "does not say of which inspections")
        assert (line["sheet"], line["cell"], line["severity"]) == ("intervals", "C2", "set aside")
        assert line["effect"] == "it counts for every kind of V-1 whose interval is longer, and makes none longer"


def test_an_interval_set_for_what_has_none_is_in_the_ledger(tmp_path: Path) -> None:
    plant = Plant()
    plant.vessel("V-1", STEADY)
    stated = [SET, ("V-1", "relief device", 3, None, None, None), ("V-1", "recommendation", 3, None, None, None)]
    found = results(plant, tmp_path, intervals=stated)
    assert [(line["cell"], line["effect"]) for line in ledger_of(found, "interval")] == [
        ("C2", "it is not used"),
        ("C3", "it is not used"),
    ]


def test_a_device_that_is_tested_more_often_than_its_sheet_says_is_no_fault(tmp_path: Path) -> None:
    with with_set_intervals(tmp_path, ("relief device", 1, None, None, None)) as found:
        assert ledger_of(found, "interval") == []


# ---- a second statement that cannot be read -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "first", "second", "column"),
    [
        ("Status", "retired", "restored to use", "status"),
        ("In service", date(1980, 1, 1), "03/05/2015", "in_service_on"),
        ("MAWP (MPa)", 0.5, "0.5 or 0.6", "mawp_mpa"),
    ],
)
def test_a_value_beside_one_that_cannot_be_read_is_not_known(
    tmp_path: Path, heading: str, first: Any, second: Any, column: str
) -> None:
    """Two registers: a number, a word and a date are treated alike, in whichever order the two stand."""
    for folder, values in (("one", (first, second)), ("other", (second, first))):
        plant = Plant()
        plant.vessel("V-1", STEADY)
        heads = ("Asset", heading, *(("Status since",) if heading == "Status" else ()))
        sheets = {
            f"list_{number}": [heads, ("V-1", value, *((date(2020, 2, 1),) if heading == "Status" else ()))]
            for number, value in enumerate(values)
        }
        # The register itself says nothing of it.
        place = HEADINGS["register"].index(heading)
        plant.rows["register"] = [
            tuple(None if number == place else cell for number, cell in enumerate(row))
            for row in plant.rows["register"]
        ]
        with results(plant, tmp_path / folder, **sheets) as found:
            [asset] = rows(found, "FROM step.asset")
            assert asset[column] == ("in service" if column == "status" else None)
            assert asset_of(found, "V-1")["state"] != "retired"
            told = {line["text"] for line in rows(found, "FROM result.ledger WHERE severity = 'set aside'")}
            assert str(second) in told and str(first) in told


def test_a_head_depth_that_is_not_known_is_not_that_of_the_proportions(tmp_path: Path) -> None:
    """A 2:1 head of 1000 mm without a depth has 250 mm; with two depths, or one that cannot be read, it has none."""
    heads = (*HEADINGS["parts"], "Head depth (mm)")
    plant = Plant()
    for name in ("PLAIN", "TWO", "UNREADABLE"):
        plant.vessel(name, STEADY)
        plant.place(name, "Head", STEADY, "1")
    parts = [heads, *((*row, None) for row in plant.rows.pop("parts"))]
    for name, *depths in (("PLAIN", None), ("TWO", 250, 200), ("UNREADABLE", "25O")):
        for depth in depths:
            parts.append((name, "Head", "2:1 ellipsoidal head", None, 16, 150, 1, 10, None, depth))
    found = results(plant, tmp_path, parts=parts)
    shape = {row["asset"]: row for row in rows(found, "FROM step.shape WHERE component = 'Head'")}
    assert shape["PLAIN"]["head_depth_mm"] == 250
    for name in ("TWO", "UNREADABLE"):
        assert shape[name]["head_depth_mm"] is None
        assert "head depth" in shape[name]["missing"]
        assert place_of(found, name, "Head")["state"] == "not assessable"
        assert asset_of(found, name)["state"] == "not assessable"


# ---- signs of use after a vessel is said to be retired --------------------------------------------------------------

RETIRED = date(2016, 1, 1)
SIGNS: dict[str, tuple[tuple[str, tuple], ...]] = {
    "it was measured": (("survey", ("Shell", "1", date(2018, 1, 1), 13.5)),),
    "somebody came to measure it": (("survey", ("Shell", "1", date(2018, 1, 1), "no access")),),
    "it was inspected": (("visits", ("external", date(2018, 1, 1), "sound")),),
    "an event of it is dated": (("events", ("Shell", date(2018, 1, 1), "rerated", None)),),
    "a relief device of it was tested": (("devices", ("PSV-1", 0.5, 5, date(2018, 1, 1))),),
    "a recommendation was raised": (("advice", ("Shell", "scan", date(2018, 1, 1), date(2021, 1, 1), None, None)),),
}


@pytest.mark.parametrize("later", [True, False])
@pytest.mark.parametrize("sign", SIGNS)
def test_what_is_still_worked_on_is_not_retired(tmp_path: Path, sign: str, later: bool) -> None:
    """Retired since 2016 and seen in 2018: in service, and in the ledger. Retired since 2018-01-01 itself: retired."""
    plant = Plant()
    since = RETIRED if later else date(2018, 1, 1)
    plant.vessel("V-1", ((Y12, 14.0),), inspected=date(2014, 1, 1), status="retired", status_since=since)
    for sheet, cells in SIGNS[sign]:
        plant.add(sheet, "V-1", *cells)
    found = results(plant, tmp_path)
    refused = [line["reason"] for line in ledger_of(found, "it is said to be retired")]
    if later:
        assert asset_of(found, "V-1")["state"] == "overdue"  # internal of 2014, external of 2014 + 5 years
        words = f"it is said to be retired since 2016-01-01, but {sign} on 2018-01-01"
        assert refused == [f"{words}: give the date, or correct the status"]
    else:
        assert (asset_of(found, "V-1")["state"], refused) == ("retired", [])


def test_a_device_listed_by_its_tag_alone_is_a_sign_of_use_too(tmp_path: Path) -> None:
    plant = Plant()
    plant.vessel("V-1", ((Y12, 14.0),), inspected=date(2014, 1, 1), status="retired", status_since=RETIRED)
    devices = [("Device", "Set pressure (MPa)", "Interval (years)", "Last tested"), ("PSV-1", 0.5, 5, date(2018, 1, 1))]
    protects = [("Asset", "Relief device", "Area"), ("V-1", "PSV-1", "A")]
    found = results(plant, tmp_path, relief_devices=devices, protects=protects)
    assert asset_of(found, "V-1")["state"] == "overdue"


# ---- numbers that cannot be meant -----------------------------------------------------------------------------------


def with_part(folder: Path, heading: str, value: Any, **also: Any) -> duckdb.DuckDBPyConnection:
    """A steady vessel without a structural minimum, one value of whose shell stands on a sheet of its own."""
    plant = Plant()
    plant.vessel("V-1", STEADY, structural=None)
    more = {"Elastic modulus (MPa)": None, "Yield strength (MPa)": None, **also}
    parts = [dict(zip(HEADINGS["parts"], row, strict=True)) | more for row in plant.rows.pop("parts")]
    parts[0].pop(heading.split(" (")[0] + " (MPa)", None)
    parts[0].pop(heading.split(" (")[0] + " (mm)", None)
    parts[0][heading] = value
    return results(plant, folder, parts=[tuple(parts[0]), tuple(parts[0].values())])


@pytest.mark.parametrize(
    ("heading", "value", "missing"),
    [
        ("Allowable stress (ksi)", 20000, "allowable stress"),  # 137 895 MPa
        ("Allowable stress (ksi)", 138, "allowable stress"),  # 951 MPa: MPa under ksi
        ("Allowable stress (psi)", 20, "allowable stress"),  # 0.138 MPa: ksi under psi
        ("Allowable stress (ksi)", 20, None),
        ("Allowable stress (MPa)", 500, None),
        ("Allowable stress (MPa)", 1, None),
        ("Nominal thickness (mm)", 0.5, "nominal thickness"),  # inches under mm
        ("Nominal thickness (in)", 9.8, None),  # 249 mm: a thick wall, but one that there is
        ("Inside diameter (in)", 20000, "inside diameter"),
        ("Inside diameter (mm)", 1000, None),
    ],
)
def test_a_number_that_cannot_be_meant_is_not_used(
    tmp_path: Path, heading: str, value: float, missing: str | None
) -> None:
    with with_part(tmp_path, heading, value) as found:
        [shape] = rows(found, "FROM step.shape")
        lines = [line for line in ledger_of(found, "is not used") if line["sheet"] == "parts"]
        if missing is None:
            assert (shape["missing"], lines) == ([], [])
            return
        assert missing in shape["missing"]
        [line] = lines
        assert (line["text"], line["severity"]) == (str(value), "set aside")
        assert "likely another unit" in line["reason"] and missing in line["effect"]
        assert place_of(found, "V-1")["t_req_mm"] is None
        assert place_of(found, "V-1")["state"] == "not assessable"


def test_a_rating_that_cannot_be_meant_does_not_give_way_to_the_design_pressure(tmp_path: Path) -> None:
    """250 under MPa is 36 259 psi; the design pressure beside it was for another thing."""
    plant = Plant()
    plant.vessel("V-1", STEADY, P=250)
    found = results(plant, tmp_path, more=[("Asset", "Design pressure (MPa)"), ("V-1", 0.2)])
    [asset] = rows(found, "FROM step.asset")
    assert (asset["mawp_mpa"], asset["rating_pressure_mpa"]) == (None, None)
    assert place_of(found, "V-1")["missing"] == "MAWP or design pressure"


@pytest.mark.parametrize(("yields", "is_known"), [(150, True), (149, False), (36, False), (260, True)])
def test_a_stress_above_the_yield_strength_is_no_stress(tmp_path: Path, yields: float, is_known: bool) -> None:
    with with_part(tmp_path, "Allowable stress (MPa)", 150, **{"Yield strength (MPa)": yields}) as found:
        [part] = rows(found, "FROM step.component")
        assert (part["allowable_stress_mpa"], part["yield_strength_mpa"]) == (
            (150, yields) if is_known else (None, None)
        )
        assert len(ledger_of(found, "the allowable stress is above the yield strength")) == (not is_known)


# ---- the service and the liquid -------------------------------------------------------------------------------------

SERVICES = {
    "Firewater": "water",
    "BFW": "bfw",
    "groundwater": "water",
    "Potable waters": "water",
    "Cooling_water": "water",
    "H2O": "h2o",
    "Stm/cond": "cond",
    "Condensate": "condensate",
    "Boiler feedwater": "water",
    "Instrument_air": "air",
    "CWS": "cws",
    "LPS-header": "lps",
    "Water free of oil": "water",
    "Steam/hydrocarbon": "steam",
    "Waterless glycol": None,
    "water-free solvent": None,
    "Repairs and affairs": None,
    "Second stage feed": None,
    "Process gas": None,
    "Biaxial test oil": None,
}


def test_water_steam_and_air_are_known_by_their_usual_words(tmp_path: Path) -> None:
    """By pressure alone the wall needs 0.17 mm: 1/16 in = 1.5875 mm, in water, steam and air 2.5 mm."""
    plant = Plant()
    for number, service in enumerate(SERVICES):
        plant.vessel(f"V-{number}", STEADY, service=service, P=0.05, structural=None)
    found = results(plant, tmp_path)
    shapes = rows(found, "FROM step.shape JOIN (SELECT asset, service FROM step.asset) USING (asset)")
    assert {row["service"]: row["code_minimum_for"] for row in shapes} == SERVICES
    for row in shapes:
        least = 1.5875 if SERVICES[row["service"]] is None else 2.5
        assert place_of(found, row["asset"])["t_req_mm"] == pytest.approx(least, abs=1e-12)


def test_a_liquid_of_which_half_is_known_is_in_the_ledger(tmp_path: Path) -> None:
    """10 m of a liquid without gravity, a gravity without liquid; both, neither, and no liquid at all are complete."""
    plant = Plant()
    columns = {"HEAD": (10000, None), "GRAVITY": (None, 0.8), "BOTH": (10000, 0.8), "NEITHER": (None, None)}
    columns["DRY"] = (0, None)
    for name in columns:
        plant.vessel(name, STEADY)
    heads = (*HEADINGS["parts"], "Liquid head (mm)", "Specific gravity")
    parts = [heads, *((*row, *columns[row[0]]) for row in plant.rows.pop("parts"))]
    found = results(plant, tmp_path, parts=parts)
    lines = {line["cell"]: line for line in ledger_of(found, "no static head is added")}
    assert set(lines) == {"J2", "K3"}
    assert lines["J2"]["reason"] == "a liquid head is given, but no specific gravity: give it (1 for water)"
    assert lines["J2"]["effect"] == (
        "no static head is added at HEAD Shell: the pressure of the register is used as given"
    )
    assert {line["severity"] for line in lines.values()} == {"warning"}


@pytest.mark.parametrize(
    ("own", "kind", "is_known"),
    [
        (1000, "cylinder", True),
        (500, "cylinder", True),
        (39.4, "cylinder", False),  # inches under mm: 1/25.4
        (25400, "cylinder", False),
        (39.4, "nozzle", True),  # a neck may be as narrow
    ],
)
def test_a_part_in_another_unit_than_its_vessel_has_no_diameter(
    tmp_path: Path, own: float, kind: str, is_known: bool
) -> None:
    """A vessel of 1000 mm. Which of the two is wrong nobody knows, so that no other part takes the vessel's either."""
    plant = Plant()
    plant.vessel("V-1", STEADY)
    plant.part("V-1", "Boot", STEADY, nominal=5.0)
    heads = (*HEADINGS["parts"], "Inside diameter (mm)")
    shell, boot = plant.rows.pop("parts")
    parts = [heads, (*shell, None), (*boot[:2], kind, *boot[3:], own)]
    found = results(plant, tmp_path, parts=parts)
    shapes = {row["component"]: row for row in rows(found, "FROM step.shape")}
    lines = ledger_of(found, "likely in another unit")
    if is_known:
        assert (shapes["Boot"]["inside_diameter_as_built_mm"], lines) == (own, [])
        assert shapes["Shell"]["inside_diameter_as_built_mm"] == 1000
    else:
        for component in ("Shell", "Boot"):
            assert shapes[component]["inside_diameter_as_built_mm"] is None
            assert shapes[component]["missing"] == ["inside diameter"]
        assert [line["cell"] for line in lines] == ["J3"]


@pytest.mark.parametrize(
    ("heading", "value", "fits"),
    [
        ("Inside diameter (mm)", 1000, True),
        ("Inside diameter (mm)", 16, True),  # as wide as the wall of 16 mm is thick: the thick-wall clause has no end
        ("Inside diameter (mm)", 15, False),
        ("Outside diameter (mm)", 47, False),  # 47 - 2 x 16 = 15
    ],
)
def test_a_diameter_that_cannot_have_its_wall_is_not_used(
    tmp_path: Path, heading: str, value: float, fits: bool
) -> None:
    plant = Plant()
    plant.vessel("V-1", STEADY)
    register = HEADINGS["register"].index("Inside diameter (mm)")
    [row] = plant.rows["register"]
    plant.rows["register"] = [(*row[:register], None, *row[register + 1 :])]
    parts = [(*HEADINGS["parts"], heading), *((*part, value) for part in plant.rows.pop("parts"))]
    found = results(plant, tmp_path, parts=parts)
    [shape] = rows(found, "FROM step.shape")
    lines = ledger_of(found, "do not fit together")
    if fits:
        assert (shape["missing"], lines) == ([], [])
    else:
        assert shape["missing"] == ["inside diameter, outside diameter and wall that fit together"]
        [line] = lines
        assert (line["severity"], line["cell"]) == ("set aside", "E2")
        assert (
            f"{value} {heading[-3:-1].strip('(')} in J2" in line["reason"]
            and "nominal thickness 16 mm in E2" in line["reason"]
        )
        assert asset_of(found, "V-1")["state"] == "not assessable"


@pytest.mark.parametrize(("pressure", "is_told"), [(0.5, False), (0.2, False), (0.18, True), (0.02, True)])
def test_a_wall_many_times_what_its_pressure_asks_for_is_in_the_ledger(
    tmp_path: Path, pressure: float, is_told: bool
) -> None:
    """P Ro / (S E + 0.4 P), Ro = 516: 0.2 MPa asks for 0.6876 mm, 23.3 times in 16 mm; 0.18 for 0.6189, 25.9 times."""
    plant = Plant()
    plant.vessel("V-1", STEADY, P=pressure)
    lines = ledger_of(results(plant, tmp_path), "times what the pressure asks for")
    assert [(line["cell"], line["severity"]) for line in lines] == ([("E2", "warning")] if is_told else [])
