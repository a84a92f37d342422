"""What single cells say: numbers, fractions, units, dates, words, and the sentences about what cannot be used."""

from __future__ import annotations

from datetime import date, datetime, time
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.sheets.facts import Fact, Setting, read_fact
from pipeline.sheets.headings import Headings, headings_with, normal, split_unit
from pipeline.sheets.values import (
    DateOrder,
    Fault,
    Number,
    ReadDate,
    Refused,
    Value,
    as_text,
    date_order_of,
    number_text,
    read_date,
    read_key,
    read_number,
)
from pipeline.sheets.words import accepted, reason_not_measured, settle
from pipeline.units import UNITS

AS_OF = date(2025, 6, 30)
HEADINGS = headings_with({})


def setting(unit: str | None = "mm", *, decimal_comma: bool = False, order: DateOrder = "") -> Setting:
    return Setting(UNITS[unit] if unit else None, "header" if unit else None, order, AS_OF, decimal_comma, "the header")


def fact(sheet: str, column: str, value: Value, unit: str | None = None) -> Fact | Refused:
    return read_fact(HEADINGS.columns[(sheet, column)], value, setting(unit))


# --------------------------------------------------------------------------------------------------------- numbers


@pytest.mark.parametrize(
    ("typed", "number", "unit"),
    [
        ("0.402", 0.402, None),
        (".402", 0.402, None),
        ("1 1/8", 1.125, None),
        ('1-1/8"', 1.125, "in"),
        ("1 - 1/8 in", 1.125, "in"),
        ("1⅛", 1.125, None),
        ("1 ⅛″", 1.125, "in"),
        ("⅜", 0.375, None),
        ('3/16"', 0.1875, "in"),
        ("3/16", 0.1875, None),
        ("7⁄16", 0.4375, None),
        ("10,2 mm", 10.2, "mm"),
        ("0,402", 0.402, None),
        ("9.5mm", 9.5, "mm"),
        ("9.5 MM.", 9.5, "mm"),
        ("375 mil", 375.0, "mil"),
        ("1,234.5", 1234.5, None),
        ("1.234,5", 1234.5, None),
        ("12 000", 12000.0, None),
        ("1,234,567", 1234567.0, None),
        ("1.2e-1", 0.12, None),
        ("150 psig", 150.0, "psi"),
        ("10 bar(g)", 10.0, "bar"),
        ("85%", 85.0, "%"),
        ("-20 °C", -20.0, "deg C"),
        ("6'-3 1/2\"", 75.5, "in"),
        ("6'", 72.0, "in"),
        ("6 ft 3 in", 75.0, "in"),
        ("0.402''", 0.402, "in"),
        (12.7, 12.7, None),
        (3, 3.0, None),
    ],
)
def test_numbers_as_people_type_them(typed: Value, number: float, unit: str | None) -> None:
    assert read_number(typed) == Number(number, UNITS[unit] if unit else None)


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("10.2*", Number(10.2, None, "*")),
        ("10.2 mm†", Number(10.2, UNITS["mm"], "†")),
        ("10.2 (2)", Number(10.2, None, "(2)")),
        ("12.7/12.5", Number(12.5, None, "", 12.7)),
        ("12.7 / 12.5 mm", Number(12.5, UNITS["mm"], "", 12.7)),
        ("0.402 & 0.411", Number(0.402, None, "", 0.411)),
    ],
)
def test_marks_and_pairs_are_kept_beside_the_number(typed: str, number: Number) -> None:
    assert read_number(typed) == number


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("<3", "'<3' is a limit or an estimate, not a measured value: write the value itself, or leave the cell blank"),
        ("~9", "'~9' is a limit or an estimate, not a measured value: write the value itself, or leave the cell blank"),
        (
            "approx. 9",
            "'approx. 9' is a limit or an estimate, not a measured value: write the value itself, "
            "or leave the cell blank",
        ),
        (
            "1,234",
            "'1,234' can be read as 1.234 or as 1234: write the number with a decimal point",
        ),
        (
            "12/13",
            "'12/13' can be read as a fraction or as two values: write a decimal, or one value in one cell",
        ),
        ("3/0", "'3/0' is not a fraction: write it as a decimal"),
        ("1 9/8", "'1 9/8' is not a fraction: write it as a decimal"),
        ("1.2.3", "'1.2.3' is not a number: write it with one decimal point"),
        ("see note", "'see note' is not a number: write the number, with its unit if the column states none"),
        (
            "10 kg",
            "'10 kg': 'kg' is not a known unit: write the number with a unit such as mm, in, psi or bar",
        ),
        ("10 psia", "'10 psia' is an absolute pressure: write the gauge pressure"),
        ("nan", "'nan' is not a number: type the number or leave the cell blank"),
        ("1e999", "'1e999' is too large to be a number: type it again"),
        ("12.5-12.7", "'12.5-12.7' is not a number: write the number, with its unit if the column states none"),
        (True, "'TRUE' is not a number: type the number"),
        (float("nan"), "the cell holds no finite number: type it again"),
        (
            date(2026, 3, 8),
            "the cell holds the date 2026-03-08 where a number belongs, probably the fraction 3/8 changed by the "
            "spreadsheet: type 3/8 into a cell formatted as text, or the decimal",
        ),
        (time(3, 8), "the cell holds the time 03:08:00 where a number belongs: type the number"),
        (
            Fault("#REF!", True),
            "the cell holds the error value #REF!: correct the formula or type the value",
        ),
        (
            Fault("=A1*2", False),
            "the formula =A1*2 has no stored result: open the workbook in a spreadsheet program and save it, "
            "or type the value",
        ),
    ],
)
def test_what_is_no_number_is_refused_with_a_sentence(typed: Value, sentence: str) -> None:
    assert read_number(typed) == Refused(sentence)


def test_a_fraction_of_millimetres_is_not_guessed() -> None:
    sentence = " in a column of mm is probably a fraction of an inch: write it with its inch mark, or write a decimal"
    assert read_number("12/16", unit=UNITS["mm"]) == Refused("'12/16'" + sentence)
    assert read_number("1 1/8", unit=UNITS["mm"]) == Refused("'1 1/8'" + sentence)
    assert read_number("12/16 mm") == Refused(
        "'12/16 mm' can be read as a fraction or as two values: write a decimal, or one value in one cell"
    )
    assert read_number('1 1/8"', unit=UNITS["mm"]) == Number(1.125, UNITS["in"])
    assert read_number("12/16", unit=UNITS["in"]) == Number(0.75)


def test_decimal_commas_of_a_file_settle_three_digits() -> None:
    assert read_number("1,234", decimal_comma=True) == Number(1.234)
    assert read_number("1.234", decimal_comma=True) == Refused(
        "'1.234' can be read as 1,234 or as 1234 in a file with decimal commas: write 1,234 or 1234"
    )


@given(st.integers(0, 12), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_every_fraction_of_an_inch_is_exact(whole: int, top: int, bottom: int) -> None:
    top %= bottom
    exact = float(Fraction(whole) + Fraction(top, bottom))
    if top:
        assert read_number(f'{whole} {top}/{bottom}"') == Number(exact, UNITS["in"])
        assert read_number(f"{whole}-{top}/{bottom}") == Number(exact)


@given(st.floats(0.001, 500.0).map(lambda value: round(value, 4)), st.sampled_from(["mm", " mm", "in", ' "', ""]))
def test_a_decimal_reads_back_as_itself(value: float, ending: str) -> None:
    read = read_number(f"{value:.4f}{ending}")
    assert isinstance(read, Number)
    assert read.value == value


@given(st.text(max_size=30))
def test_no_text_breaks_a_reader(text: str) -> None:
    assert isinstance(read_number(text), (Number, Refused))
    assert isinstance(read_date(text, "", AS_OF), (ReadDate, Refused))
    assert isinstance(read_key(text), str)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (3.0, "3"),
        (0.402, "0.402"),
        (date(2019, 5, 3), "2019-05-03"),
        (datetime(2019, 5, 3), "2019-05-03"),
        (datetime(2019, 5, 3, 10, 2), "2019-05-03 10:02:00"),
        (True, "TRUE"),
        (Fault("#N/A", True), "#N/A"),
    ],
)
def test_text_of_a_cell(value: Value, text: str) -> None:
    assert as_text(value) == text


def test_numbers_print_as_they_were() -> None:
    assert [number_text(value) for value in (1.0, 0.1, 1e16)] == ["1", "0.1", "1e+16"]


# ------------------------------------------------------------------------------------------------------------ keys


@pytest.mark.parametrize(
    ("value", "key"), [("  D-201 ", "D-201"), ("Shell\u00a0 1", "Shell 1"), (3.0, "3"), (3.5, "3.5"), ("003", "003")]
)
def test_names_are_only_trimmed(value: Value, key: str) -> None:
    assert read_key(value) == key


def test_a_date_is_no_name() -> None:
    assert read_key(date(2026, 1, 2)) == Refused(
        "the cell holds the date 2026-01-02 where a name belongs, probably changed by the spreadsheet: "
        "format the cell as text and type the name again"
    )


# ----------------------------------------------------------------------------------------------------------- dates


@pytest.mark.parametrize(
    ("typed", "on", "precision"),
    [
        (date(2019, 5, 3), date(2019, 5, 3), "day"),
        (datetime(2019, 5, 3, 14, 0), date(2019, 5, 3), "day"),
        ("2019-05-03", date(2019, 5, 3), "day"),
        ("2019/5/3", date(2019, 5, 3), "day"),
        ("2019-05-03 00:00:00", date(2019, 5, 3), "day"),
        ("2019-05-03T10:15", date(2019, 5, 3), "day"),
        ("20190503", date(2019, 5, 3), "day"),
        (20190503.0, date(2019, 5, 3), "day"),
        ("03-May-2019", date(2019, 5, 3), "day"),
        ("3 May 2019", date(2019, 5, 3), "day"),
        ("3rd of May 2019", None, ""),
        ("May 3, 2019", date(2019, 5, 3), "day"),
        ("3-Sept-19", date(2019, 9, 3), "day"),
        ("May 2019", date(2019, 5, 1), "month"),
        ("May-19", date(2019, 5, 1), "month"),
        ("Mar-85", date(1985, 3, 1), "month"),
        ("3/2006", date(2006, 3, 1), "month"),
        ("2021-05", date(2021, 5, 1), "month"),
        ("2011", date(2011, 1, 1), "year"),
        (2011.0, date(2011, 1, 1), "year"),
        ("23/05/2019", date(2019, 5, 23), "day"),
        ("05/23/2019", date(2019, 5, 23), "day"),
        ("05.05.2019", date(2019, 5, 5), "day"),
    ],
)
def test_dates_as_people_type_them(typed: Value, on: date | None, precision: str) -> None:
    read = read_date(typed, "", AS_OF)
    assert (read.on, read.precision) == (on, precision) if isinstance(read, ReadDate) else on is None


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            "03/05/2019",
            "'03/05/2019' can be 2019-05-03 or 2019-03-05: write the date as year-month-day, "
            "or state date_order in basis.toml",
        ),
        ("04/05/06", "'04/05/06' can be read in several ways: write the date as year-month-day"),
        ("31/04/2019", "'31/04/2019' is not a day of the calendar: correct the date"),
        ("2019-02-30", "'2019-02-30' is not a day of the calendar: correct the date"),
        ("TA 2011", "'TA 2011' is not a date: write it as year-month-day, such as 2019-05-03"),
        ("0019-05-03", "'0019-05-03' is not a date between 1900 and 2100: correct the date"),
        (
            43588.0,
            "43588 is a number, not a date (2019-05-03 if it is a date serial): format the cell as a date",
        ),
        (12.7, "'12.7' is not a date: write it as year-month-day, such as 2019-05-03"),
        (True, "'TRUE' is not a date: write it as year-month-day, such as 2019-05-03"),
        (Fault("#N/A", True), "the cell holds the error value #N/A: correct the formula or type the value"),
    ],
)
def test_what_is_no_date_is_refused_with_a_sentence(typed: Value, sentence: str) -> None:
    assert read_date(typed, "", AS_OF) == Refused(sentence)


def test_the_order_settles_an_ambiguous_date() -> None:
    assert read_date("03/05/2019", "day first", AS_OF) == ReadDate(date(2019, 5, 3), "day")
    assert read_date("03/05/2019", "month first", AS_OF) == ReadDate(date(2019, 3, 5), "day")
    assert read_date("04/05/06", "day first", AS_OF) == ReadDate(date(2006, 5, 4), "day")


def test_dates_prove_the_order_of_their_column() -> None:
    assert date_order_of(["03/05/2019", "2019-01-01", "23/05/2019"]) == ("day first", 2, False)
    assert date_order_of(["05/23/2019", "03/05/2019"]) == ("month first", 0, False)
    assert date_order_of(["05/23/2019", "23/05/2019"]) == ("", None, True)
    assert date_order_of(["03/05/2019", "23/05/19"]) == ("", None, False)


@given(st.dates(date(1901, 1, 1), date(2044, 12, 31)))
def test_an_unambiguous_spelling_gives_the_day_itself(day: date) -> None:
    for spelling in (day.isoformat(), day.strftime("%d-%b-%Y"), day.strftime("%B %d, %Y"), day.strftime("%Y%m%d")):
        assert read_date(spelling, "", AS_OF) == ReadDate(day, "day")


# ----------------------------------------------------------------------------------------------------------- facts


@pytest.mark.parametrize(
    ("sheet", "column", "typed", "unit", "number", "unit_name", "unit_from"),
    [
        ("assets", "mawp", 150.0, "psi", 150 * UNITS["psi"].factor, "psi", "header"),
        ("assets", "mawp", "10 bar", None, 1.0, "bar", "cell"),
        ("assets", "design_temperature", "212 F", None, 100.0, "deg F", "cell"),
        ("components", "joint_efficiency", "85%", None, 0.85, "%", "cell"),
        ("components", "joint_efficiency", 0.85, None, 0.85, None, None),
        ("components", "half_apex_angle", 30.0, None, 30.0, "deg", None),
        ("components", "stated_corrosion_rate", "5 mpy", None, 5 * 0.0254, "mil/year", "cell"),
        ("components", "corrosion_allowance", 0.0, "in", 0.0, "in", "header"),
        ("components", "nominal_pipe_size", "1 1/2", None, 1.5, "in", None),
        ("components", "nominal_pipe_size", "NPS 6", None, 6.0, "in", None),
        ("components", "nominal_pipe_size", '6"', None, 6.0, "in", None),
        ("relief devices", "interval", "60 months", None, 5.0, "month", "cell"),
        ("locations", "distance_to_weld", "2 in", None, 50.8, "in", "cell"),
    ],
)
def test_quantities_come_in_the_unit_kept_inside(
    sheet: str, column: str, typed: Value, unit: str | None, number: float, unit_name: str | None, unit_from: str | None
) -> None:
    read = fact(sheet, column, typed, unit)
    assert isinstance(read, Fact)
    assert read.number == pytest.approx(number, rel=1e-12)
    assert (read.unit, read.unit_from, read.warnings) == (unit_name, unit_from, [])


@pytest.mark.parametrize(
    ("sheet", "column", "typed", "unit", "sentence"),
    [
        (
            "components",
            "nominal_thickness",
            12.7,
            None,
            "unit not stated: write it in the header, such as 'nominal thickness (in)', or in the cell",
        ),
        (
            "assets",
            "mawp",
            150.0,
            None,
            "unit not stated: write it in the header, such as 'MAWP (psi)', or in the cell",
        ),
        (
            "relief devices",
            "interval",
            5.0,
            None,
            "unit not stated: write it in the header, such as 'interval (years)', or in the cell",
        ),
        (
            "assets",
            "mawp",
            "150#",
            "psi",
            "'150#' is a flange class, not a pressure: write the pressure with its unit",
        ),
        (
            "assets",
            "mawp",
            "CL150",
            "psi",
            "'CL150' is a flange class, not a pressure: write the pressure with its unit",
        ),
        (
            "assets",
            "design_pressure",
            "FV",
            "psi",
            "'FV' means vacuum, not a pressure: write the internal pressure here, and the external design pressure as "
            "a number under 'external pressure'",
        ),
        (
            "assets",
            "mawp",
            "150 mm",
            "psi",
            "'150 mm': 'mm' is no unit of pressure: write a pressure in psi, bar, kPa or MPa",
        ),
        ("assets", "mawp", 0.0, "psi", "MAWP is zero: write the value, or leave the cell blank if it is not known"),
        ("components", "allowable_stress", -1.0, "psi", "allowable stress -1 is below zero: correct it"),
        ("components", "corrosion_allowance", -3.0, "mm", "corrosion allowance -3 is below zero: correct it"),
        (
            "components",
            "joint_efficiency",
            85.0,
            None,
            "joint efficiency 85 is above 1: write 0.85 if 85 is a percentage",
        ),
        ("components", "joint_efficiency", 850.0, None, "joint efficiency 850 is above 1: correct it"),
        (
            "components",
            "joint_efficiency",
            0.0,
            None,
            "joint efficiency is zero: write the value, or leave the cell blank if it is not known",
        ),
        ("components", "half_apex_angle", 95.0, None, "half apex angle 95 is not below 90 degrees: correct it"),
        (
            "components",
            "nominal_pipe_size",
            "DN 150",
            None,
            "'DN 150' is a metric pipe size: write the nominal pipe size in inches, such as 6 or 1 1/2",
        ),
        (
            "survey",
            "thickness",
            0.0,
            "mm",
            "0 is never a thickness: write the reading, or the reason why there is none, such as 'no access'",
        ),
        ("survey", "thickness", -9.5, "mm", "thickness -9.5 is below zero: correct it"),
        (
            "components",
            "kind",
            "bottom head",
            None,
            "'bottom head' is not a known kind of component: use cylinder, sphere, hemispherical head, "
            "ellipsoidal head, torispherical head, cone, flat head or nozzle",
        ),
        (
            "inspections",
            "kind",
            "visual",
            None,
            "'visual' is not a known kind of inspection: use internal, on-stream, external or relief device",
        ),
        (
            "assets",
            "continuous_service",
            "mostly",
            None,
            "'mostly' is not a known answer: use yes or no",
        ),
    ],
)
def test_quantities_and_words_outside_their_limits_are_refused(
    sheet: str, column: str, typed: Value, unit: str | None, sentence: str
) -> None:
    assert fact(sheet, column, typed, unit) == Refused(sentence)


def test_the_unit_in_the_cell_wins_and_is_named() -> None:
    read = fact("components", "nominal_thickness", '1/2"', "mm")
    assert isinstance(read, Fact)
    assert (read.number, read.unit, read.unit_from) == (12.7, "in", "cell")
    assert read.warnings == ["the cell says 'in' where the header says 'mm': the cell's own unit is used"]


def test_a_pair_and_a_mark_are_used_with_a_warning() -> None:
    pair, mark = fact("survey", "thickness", "12.7/12.5", "mm"), fact("survey", "thickness", "10.2*", "mm")
    assert isinstance(pair, Fact) and isinstance(mark, Fact)
    assert pair.warnings == ["'12.7/12.5' holds two values: the smaller, 12.5, is used; write one value in one cell"]
    assert mark.warnings == ["the mark '*' behind '10.2*' is not interpreted: say in words what it means"]


def test_no_value_in_words_is_understood_as_nothing() -> None:
    assert fact("assets", "mawp", "N/A", "psi") == Fact("mawp")
    assert fact("assets", "in_service", "-") == Fact("in_service")


def test_a_weld_column_takes_distance_or_word() -> None:
    assert fact("locations", "distance_to_weld", "away") == Fact("weld_region", word="away")
    assert fact("locations", "weld_region", "50 mm") == Fact("distance_to_weld", 50.0, unit="mm", unit_from="cell")


# ----------------------------------------------------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("spelling", "kind"),
    [
        ("Shell", "cylinder"),
        ("shell  course", "cylinder"),
        ("Channel", "cylinder"),
        ("2:1 head", "ellipsoidal head"),
        ("2:1 Semi-elliptical", "ellipsoidal head"),
        ("dished end", "torispherical head"),
        ("hemi head", "hemispherical head"),
        ("Conical section", "cone"),
        ("channel cover", "flat head"),
        ("manway neck", "nozzle"),
        ("bottom head", None),
        ("head", None),
    ],
)
def test_kinds_of_component(spelling: str, kind: str | None) -> None:
    assert settle("component", spelling) == kind


def test_every_settled_word_is_a_spelling_of_itself() -> None:
    names = ("component", "inspection", "due date", "event", "loss side", "weld region", "head zone", "yes or no")
    for name in names:
        assert [settle(name, word) for word in accepted(name)] == list(accepted(name))


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("no access", "no access"),
        ("No Access.", "no access"),
        ("INS", "insulated"),
        ("(insulated)", "insulated"),
        ("no back-wall", "no back-wall"),
        ("N/A", "no value"),
        ("-", "no value"),
        ("9.5", None),
        ("no access before 2019", None),
    ],
)
def test_reasons_for_not_measuring(text: str, reason: str | None) -> None:
    assert reason_not_measured(text) == reason


# -------------------------------------------------------------------------------------------------------- headings


@pytest.mark.parametrize(
    ("heading", "kind", "column", "unit"),
    [
        ("Thk (in)", "survey, long", "thickness", "in"),
        ("MAWP, psig", "assets", "mawp", "psi"),
        ("t_nom [mm]", "components", "nominal_thickness", "mm"),
        ("Nom. Thk. (in.)", "components", "nominal_thickness", "in"),
        ("thickness_mm", "survey, long", "thickness", "mm"),
        ("Thickness in mm", "survey, long", "thickness", "mm"),
        ("C.A. (in)", "components", "corrosion_allowance", "in"),
        ("Corrosion\nAllowance\n(mm)", "components", "corrosion_allowance", "mm"),
        ("Design Press. (bar g)", "assets", "design_pressure", "bar"),
        ("Design temp, °F", "assets", "design_temperature", "deg F"),
        ("Corrosion rate mm/yr", "components", "stated_corrosion_rate", "mm/year"),
        ("Joint efficiency (longitudinal)", "components", "joint_efficiency_longitudinal", None),
        ("E", "components", "joint_efficiency", None),
        ("CML no.", "survey, long", "location", None),
        ("Tag No.", "assets", "asset", None),
        ("Interval (years)", "relief devices", "interval", "year"),
        ("Half apex angle (deg)", "components", "half_apex_angle", "deg"),
        ("Type", "components", "kind", None),
        ("Type", "events", "event", None),
        ("Thickness (required)", "survey, long", None, None),
    ],
)
def test_headings_name_column_and_unit(heading: str, kind: str, column: str | None, unit: str | None) -> None:
    read = HEADINGS.read(heading)
    found = None if read is None else HEADINGS.column(read.spelling, kind)
    assert (found.name if found else None) == column
    assert (read.unit.name if read and read.unit else None) == unit


@pytest.mark.parametrize(
    ("heading", "problem"),
    [
        ("MAWP (psia)", "'psia' is an absolute pressure: state a gauge unit"),
        ("MAWP (mm)", "'mm' is no unit of pressure"),
    ],
)
def test_a_wrong_unit_in_a_heading_is_named(heading: str, problem: str) -> None:
    read = HEADINGS.read(heading)
    assert read is not None
    assert (read.unit, read.problem) == (None, problem)


def test_a_plant_adds_its_own_headings() -> None:
    own: Headings = headings_with({"Meetpunt": "location", "Dikte": "thickness", "Druk": "presure"})
    read = own.read("Dikte (mm)")
    assert read is not None and read.unit == UNITS["mm"]
    assert [column.name for column in [own.column(read.spelling, "survey, wide")] if column] == ["thickness"]
    assert len(own.faults) == 1
    assert own.faults[0].startswith("[headings] 'Druk' names the column 'presure', which does not exist: use one of ")


def test_every_spelling_stands_for_one_column_on_a_sheet() -> None:
    for (sheet, name), column in HEADINGS.columns.items():
        read = HEADINGS.read(name.replace("_", " "))
        assert read is not None
        assert HEADINGS.column(read.spelling, sheet) == column


def test_no_spelling_hides_a_unit() -> None:
    for spelling in HEADINGS.spellings:
        assert next(split_unit(spelling)) == (spelling, None)
        assert normal(spelling) == spelling


# ------------------------------------------------------------------------------------ what cannot be read, as one value


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("5' 3/0\"", "is not a fraction: write it as a decimal"),
        ("3/0 in", "is not a fraction: write it as a decimal"),
        ("1/2 furlong", "'furlong' is not a known unit"),
        ("1,234/1,240", "'1,234' can be read as 1.234 or as 1234"),
        ("10.2/1,240", "'1,240' can be read as 1.240 or as 1240"),
        ("10.2/10.4 furlong", "'furlong' is not a known unit"),
    ],
)
def test_a_part_that_cannot_be_read_makes_the_whole_unread(typed: str, words: str) -> None:
    found = read_number(typed)
    assert isinstance(found, Refused) and words in found.reason


def test_of_two_values_in_one_cell_the_smaller_counts() -> None:
    found = read_number("10.4 / 10.2 mm")
    assert isinstance(found, Number) and (found.value, found.other) == (10.2, 10.4)


@pytest.mark.parametrize(("typed", "word"), [("1", "yes"), ("0", "no"), ("Yes", "yes")])
def test_a_yes_or_no_may_be_a_digit(typed: str, word: str) -> None:
    found = fact("assets", "continuous_service", typed)
    assert isinstance(found, Fact) and found.word == word
    other = fact("assets", "continuous_service", "2")
    assert isinstance(other, Refused) and other.reason == "'2' is not a known answer: use yes or no"


def test_an_error_value_or_a_formula_without_result_is_no_value() -> None:
    error = fact("assets", "mawp", Fault("#N/A", True), "psi")
    assert isinstance(error, Refused) and "holds the error value #N/A" in error.reason
    formula = fact("assets", "mawp", Fault("=A1", False), "psi")
    assert isinstance(formula, Refused) and "the formula =A1 has no stored result" in formula.reason


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("DN 150", "is a metric pipe size: write the nominal pipe size in inches"),
        ("150 mm", "is not in inches: write the nominal pipe size in inches"),
        ("big", "'big' is not a number"),
        ("0", "nominal pipe size is zero"),
    ],
)
def test_a_pipe_size_is_in_inches(typed: str, words: str) -> None:
    found = fact("components", "nominal_pipe_size", typed)
    assert isinstance(found, Refused) and words in found.reason
    size = fact("components", "nominal_pipe_size", "NPS 6")
    assert isinstance(size, Fact) and (size.number, size.unit) == (6.0, "in")
