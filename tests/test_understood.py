"""How sheets were read, said in words: columns, units with where they were stated, and the lines that would teach."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from pipeline.basis import default_basis, read_basis
from pipeline.publishing import open_results
from pipeline.run import build
from pipeline.sheets.headings import headings_with
from pipeline.understood import (
    ReadTable,
    basis_lines,
    beside_listed,
    headings_in_force,
    read_tables,
    read_workbook,
    undated_headings,
    unknown_headings,
    unlisted_tags,
)
from tests.plants import SURVEY, Rows, write_plant, write_workbook

AS_OF = date(2026, 1, 1)
DAY = date(2025, 12, 1)


def read(tmp_path: Path, **sheets: Rows) -> list[ReadTable]:
    return read_workbook("w.xlsx", write_workbook(tmp_path / "w.xlsx", sheets).read_bytes(), default_basis(), AS_OF)


def said(table: ReadTable) -> dict[str, tuple[str, str]]:
    """Return each heading with what it was understood as and its unit."""
    return {column.heading: (column.words, column.unit_words) for column in table.columns}


def test_every_column_is_said_with_its_unit_and_where_it_was_stated(tmp_path: Path) -> None:
    (table,) = read(
        tmp_path,
        s=[
            ["Asset", "Component", "Nominal thickness", "Corrosion allowance (in)", "Material", "MIN"],
            ["", "", "mm", "", "", ""],
            ["V-1", "Shell", 12, 0.125, "plate", 3],
        ],
    )
    assert (table.kind_words, table.header_row, table.place) == ("table of components", 1, "w.xlsx, s")
    assert said(table) == {
        "Asset": ("asset", ""),
        "Component": ("component", ""),
        "Nominal thickness": ("nominal thickness", "mm (row below the heading)"),
        "Corrosion allowance (in)": ("corrosion allowance", "in (heading)"),
        "Material": ("material", ""),
        "MIN": ("worked out from others: not read", ""),
    }
    assert (table.cells, table.used, table.set_aside, table.ignored) == (13, 5, 0, 8)
    assert table.ignored_words == "6 headings, 1 in a unit row, 1 in a derived column"


def test_units_of_cells_number_formats_and_statements_are_counted(tmp_path: Path) -> None:
    path = write_workbook(
        tmp_path / "w.xlsx",
        {
            "formats": [["Asset", "Component", "Location", "Date", "Thickness"], ["V-1", "Shell", "1", DAY, 12.5]],
            "cells": [
                ["Asset", "Component", "Location", "Date", "Thickness"],
                ["V-1", "Shell", "1", DAY, "12.5 mm"],
                ["V-1", "Shell", "2", DAY, "0.5 in"],
                ["V-1", "Shell", "3", DAY, "12.6 mm"],
            ],
            "stated": [
                ["All readings in mm"],
                ["Asset", "Component", "Location", "2019-05-03", "TA 2011"],
                ["V-1", "Shell", "1", 12.5, 12.9],
            ],
        },
    )
    book = openpyxl.load_workbook(path)
    book["formats"]["E2"].number_format = '0.0" mm"'
    book.save(path)
    tables = {table.sheet: table for table in read_workbook("w.xlsx", path.read_bytes(), default_basis(), AS_OF)}
    assert said(tables["formats"])["Thickness"] == ("thickness", "mm (number format)")
    assert said(tables["cells"])["Thickness"] == (
        "thickness",
        "mm (the cell itself): 2 cells, in (the cell itself): 1 cell",
    )
    dated = "thickness on the date of the heading"
    assert said(tables["stated"])["2019-05-03"] == (dated, "mm (statement on the sheet)")
    assert said(tables["stated"])["TA 2011"] == (dated, "no value of it is used")


def test_tables_below_each_other_keep_their_own_units(tmp_path: Path) -> None:
    heading = ["Asset", "Component", "Location", "Date"]
    one, two = read(
        tmp_path,
        s=[
            [*heading, "Thickness (in)"],
            ["V-1", "Shell", "1", DAY, 0.5],
            [],
            ["Vessel: V-2"],
            [*heading, "Thickness (mm)"],
            ["V-2", "Shell", "1", DAY, 12.5],
            ["V-2", "Shell", "2", DAY, 12.5],
        ],
    )
    assert one.columns[4].unit_words == "in (heading)" and one.columns[4].units[0].cells == 1
    assert two.columns[4].unit_words == "mm (heading)" and two.columns[4].units[0].cells == 2


def test_hidden_sheets_and_sheets_without_a_table_are_told(tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "w.xlsx", {"talk": [["hello"]], "ut": [SURVEY, ["V-1", "Shell", "1", DAY, 0.5]]})
    book = openpyxl.load_workbook(path)
    book["ut"].sheet_state = "hidden"
    book.save(path)
    talk, survey = read_workbook("w.xlsx", path.read_bytes(), default_basis(), AS_OF)
    assert (talk.kind_words, talk.columns) == ("no table was recognised: nothing of it is used", ())
    assert (talk.hidden, survey.hidden) == (False, True)


def test_a_workbook_that_cannot_be_read_has_no_tables() -> None:
    assert read_workbook("w.xlsx", b"not a workbook", default_basis(), AS_OF) == []


# ---- what would teach it --------------------------------------------------------------------------------------------


def test_an_unknown_heading_is_found_once_without_its_unit_and_what_it_looks_like(tmp_path: Path) -> None:
    tables = read(
        tmp_path,
        a=[["Asset", "Component", "Nominal thicknes (mm)", "Material"], ["V-1", "Shell", 12, "plate"]],
        b=[["Asset", "Component", "Material", "NOMINAL  THICKNES"], ["V-2", "Shell", "plate", 12]],
        c=[[*SURVEY, "Nominal thickness (in)"], ["V-1", "Shell", "1", DAY, 0.5, 0.5]],
    )
    (unknown,) = unknown_headings(tables, headings_with({}))
    assert unknown.spelling == "Nominal thicknes"
    assert unknown.places == ("w.xlsx, a, C1", "w.xlsx, b, D1")
    assert unknown.near == ("nominal thickness",)
    assert "corrosion allowance" in unknown.choices and "set pressure" not in unknown.choices
    belongs = said(tables[2])["Nominal thickness (in)"][0]
    assert belongs == "not read here: nominal thickness belongs in a table of components"


def test_what_the_table_gives_already_is_not_proposed(tmp_path: Path) -> None:
    tables = read(tmp_path, s=[[*SURVEY, "Thicknes"], ["V-1", "Shell", "1", DAY, 0.5, 0.6]])
    (unknown,) = unknown_headings(tables, headings_with({}))
    assert unknown.near == ()


@pytest.mark.parametrize("spelling", ["Wall", 'Wall "B"\\ #1', "Épaisseur [?] = 'x'", "a\x7fb", "= 1", "x]\n[y"])
def test_the_lines_shown_are_read_as_they_are_meant(tmp_path: Path, spelling: str) -> None:
    lines = basis_lines("headings", {spelling: "thickness"}) + "\n" + basis_lines("aliases", {spelling: "V-1"})
    assert tomllib.loads(lines) == {"headings": {spelling: "thickness"}, "aliases": {spelling: "V-1"}}
    (tmp_path / "basis.toml").write_text(lines, encoding="utf-8")
    assert read_basis(tmp_path).headings == {spelling: "thickness"}


def test_every_choice_is_a_column_the_basis_accepts(tmp_path: Path) -> None:
    tables = read(
        tmp_path,
        one=[["Asset", "Service", "MAWP (psi)", "Hue"], ["V-1", "steam", 100, "red"]],
        two=[[*SURVEY, "Hue"], ["V-1", "Shell", "1", DAY, 0.5, "red"]],
    )
    (unknown,) = unknown_headings(tables, headings_with({}))
    assert len(unknown.choices) > 15
    for choice in unknown.choices:
        assert headings_with({unknown.spelling: choice}).faults == ()


def test_what_is_taught_is_known_at_the_next_build(tmp_path: Path) -> None:
    folder = write_plant(
        tmp_path / "plant",
        assets=[["V-1", "Naphtha", "A", date(2015, 6, 1), 200, 60, "P. Example"]],
        components=[["V-1", "Shell", "shell", 0.75, 0.125, 20000, 0.85]],
    )
    survey = [
        ["All readings in mm"],
        ["Asset", "Component", "Location", "TA 2011", "2020-05-03", "Seen there"],
        ["V 1", "Shell", "1", 18.5, 18.1, "pitted"],
    ]
    write_workbook(folder / "survey.xlsx", {"UT": survey})
    with open_results(build(folder, as_of=AS_OF).database) as connection:
        tables = read_tables(connection)
        (unknown,) = unknown_headings(tables, headings_in_force(connection))
        reasons = [row[0] for row in connection.execute("SELECT reason FROM result.ledger").fetchall()]
        tags, listed = unlisted_tags(connection)
    assert unknown.spelling == "Seen there"
    assert undated_headings(reasons) == ["TA 2011"]
    ((tag,), listed_tags) = (tags, listed)
    assert (tag.tag, tag.place, tag.same) == ("V 1", "survey.xlsx, UT, E3", ("V-1",))
    assert listed_tags == ["V-1"]

    taught = basis_lines("headings", {unknown.spelling: "remark", "TA 2011": "2011-04-15"})
    taught = f"{taught}\n{basis_lines('aliases', {tag.tag: 'V-1'})}\n"
    (folder / "basis.toml").write_text(taught, encoding="utf-8")
    with open_results(build(folder, as_of=AS_OF).database) as connection:
        assert unknown_headings(read_tables(connection), headings_in_force(connection)) == []
        assert unlisted_tags(connection) == ([], ["V-1"])
        used = connection.execute(
            "SELECT asset, component, read_on, remark FROM result.reading WHERE file = 'survey.xlsx' ORDER BY ALL"
        ).fetchall()
        in_force = connection.execute("FROM basis.spelling ORDER BY ALL").fetchall()
    assert used == [("V-1", "Shell", date(2011, 4, 15), "pitted"), ("V-1", "Shell", date(2020, 5, 3), "pitted")]
    assert in_force == [
        ("alias", "V 1", "V-1"),
        ("heading", "Seen there", "remark"),
        ("heading", "TA 2011", "2011-04-15"),
    ]


def test_tags_are_set_beside_those_of_the_same_letters_and_digits_only() -> None:
    found = beside_listed({"v_101": "a", "V-10": "b", "101-V": "c"}, ["V-101", "V 101", "V-102"])
    assert [(tag.tag, tag.same) for tag in found] == [("v_101", ("V-101", "V 101")), ("V-10", ()), ("101-V", ())]
