"""The printable pages: the results' numbers, a hash of all that is said, nothing that runs, nothing clipped."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import duckdb
import pytest
from playwright.sync_api import Browser

from dashboard import data
from pipeline.asset_record import asset_record
from pipeline.calculation_record import calculation_record
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.cli import main
from pipeline.errors import Problem
from pipeline.explain import explain
from pipeline.formulas import ALL
from pipeline.options import options
from pipeline.paper import Equation, Facts, Paper, Paragraph, Section, Table, page, typeset
from pipeline.paper_style import running_lines
from pipeline.publishing import open_results
from pipeline.reading import asked
from pipeline.run import build
from pipeline.units import show
from tests.plants import write_plant, write_workbook
from tests.support import needs_chromium

AS_OF = date(2026, 1, 1)
PLANT = "Works <b>North</b>"
SCRIPT = "<script>window.hacked = 1</script>"
HOSTILE = f'V-"9"{SCRIPT}'
#: What is not markup, but would turn the text after it around, or hide.
TURNED = "left \u202eright\u2066 end"


def written(folder: Path, stress: int = 17500) -> Path:
    """Write and build a plant: one vessel below required, with all there is to print, and one with hostile names."""
    survey = ["Asset", "Component", "Location", "Date", "Thickness (in)", "Inspector", "Remark"]
    write_plant(
        folder,
        assets=[
            ["V-1", "Naphtha", "A", date(2005, 6, 1), 200, 60, "P. Example"],
            [HOSTILE, SCRIPT, f"<img src=x onerror={'window.hacked=1'}>", date(2015, 6, 1), 50, 24, TURNED],
        ],
        components=[
            ["V-1", "Shell", "shell", 0.75, 0.125, stress, 0.85],
            ["V-1", "Head", "2:1 head", 0.75, 0.125, 17500, 0.85],
            ["V-1", "Boot", "shell", 0.5, 0.05, 17500, 0.85],
            [HOSTILE, SCRIPT, "shell", 0.5, 0.05, 17500, 0.85],
        ],
        locations=[["V-1", "Shell", "2", 9.0], ["V-1", "Shell", "1", 0.5]],
        inspections=[["V-1", "internal", date(2019, 5, 1), "clean"], ["V-1", "external", date(2020, 5, 31), TURNED]],
        deferrals=[
            ["Asset", "Kind", "Due date", "Deferred until", "Reason", "Approved by", "Approved on"],
            ["V-1", "external", date(2020, 5, 31), date(2027, 6, 1), "no outage", "A. Example", date(2020, 5, 1)],
        ],
        recommendations=[
            ["Asset", "Component", "Recommendation", "Raised on", "Due date", "Closed on", "Evidence"],
            ["V-1", "Boot", f"grind {SCRIPT}", date(2025, 1, 1), date(2026, 6, 1), None, None],
        ],
        areas_of_it=[
            ["Asset", "Component", "Area", "Date", "Axial (in)", "Circ (in)", "Thickness (in)"],
            *(["V-1", "Shell", "A1", date(2024, 5, 1), 2 * n, 10, t] for n, t in enumerate((0.65, 0.6, 0.64))),
        ],
    )  # fmt: skip
    rows: list[list[Any]] = [survey]
    for place, first, last in (("1", 0.75, 0.4), ("2", 0.75, 0.7), ("3", 0.74, 0.66)):
        rows.append(["V-1", "Shell", place, date(2005, 6, 1), first, "P. Example", None])
        rows.append(["V-1", "Shell", place, date(2024, 6, 1), last, "P. Example", SCRIPT])
    rows.append(["V-1", "Shell", "3", date(2025, 6, 1), 0.73, "P. Example", "paint on"])  # thicker: held for growth
    rows += [
        ["V-1", "Head", "1", date(2005, 6, 1), 0.75, None, None],
        ["V-1", "Head", "1", date(2024, 6, 1), 0.74, None, None],
    ]
    rows += [
        [HOSTILE, SCRIPT, SCRIPT, date(2015, 6, 1), 0.5, SCRIPT, TURNED],
        [HOSTILE, SCRIPT, SCRIPT, date(2024, 6, 1), 0.49, SCRIPT, TURNED],
    ]
    write_workbook(folder / f"survey {SCRIPT.replace('/', '_')}.xlsx", {"s": rows})
    build(folder, as_of=AS_OF)
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("printed") / "plant")


@pytest.fixture(scope="module")
def results(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    connection = open_results(folder / "results.duckdb")
    yield connection
    connection.close()


@pytest.fixture(scope="module")
def record(results: duckdb.DuckDBPyConnection) -> Paper:
    return calculation_record(results, "V-1", "Shell", PLANT)


@pytest.fixture(scope="module")
def whole(results: duckdb.DuckDBPyConnection) -> Paper:
    return asset_record(results, "V-1", PLANT)


class _Tables(HTMLParser):
    """The tables of a page, each under the heading before it, as rows of texts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[list[str]]]] = {}
        self.heading = ""
        self.within: str | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "h2":
            self.within, self.heading = "h2", ""
        elif tag == "table":
            self.tables.setdefault(self.heading, []).append([])
        elif tag == "tr":
            self.tables[self.heading][-1].append([])
        elif tag in ("td", "th"):
            self.within = "cell"
            self.tables[self.heading][-1][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("h2", "td", "th"):
            self.within = None

    def handle_data(self, text: str) -> None:
        if self.within == "h2":
            self.heading = (self.heading + text).split("\u2002")[-1]
        elif self.within == "cell":
            self.tables[self.heading][-1][-1][-1] += text


def section(paper: Paper, title: str) -> Section:
    return next(each for each in paper.sections if each.title == title)


def texts(value: object) -> Iterator[str]:
    """Yield every text of a document."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from texts(item)
    elif dataclasses.is_dataclass(value):
        for each in dataclasses.fields(value):
            yield from texts(getattr(value, each.name))


def said_in(paper: Paper) -> str:
    return "\n".join(texts(paper))


def as_number(text: str) -> float:
    return float(text.split()[0].replace("−", "-").replace(",", ""))


# ---- every number is the result's -----------------------------------------------------------------------------------

UNROUNDED = {
    "last reading that counts": "t_act_mm",
    "required thickness": "t_req_mm",
    "required thickness in the weld region": "t_req_weld_mm",
    "required thickness away from the weld": "t_req_away_mm",
    "margin over the required thickness (ratio)": "margin",
    "long-term rate": "rate_lt_mm_per_year",
    "rate selected": "rate_selected_mm_per_year",
    "governing rate": "rate_mm_per_year",
    "remaining life": "remaining_life_years",
    "thickness interval": "interval_years",
    "internal or on-stream interval": "internal_interval_years",
    "MAWP now": "mawp_mpa",
    "MAWP at the next inspection": "mawp_next_mpa",
}


def test_results_are_printed_with_every_digit(results: duckdb.DuckDBPyConnection, record: Paper) -> None:
    (row,) = asked(
        results, "SELECT * FROM result.location WHERE asset = 'V-1' AND component = 'Shell' AND location = '1'"
    )
    table = {cells[0]: cells for cells in _Tables(page(record)).tables["Result"][0]}
    for words, column in UNROUNDED.items():
        assert as_number(table[words][1]) == row[column], words
    assert table["required thickness"][2] == show(row["t_req_mm"], "thickness", "us")
    assert table["MAWP now"][2] == show(row["mawp_mpa"], "pressure", "us")
    assert table["required thickness reached"][1] == row["retirement_on"].isoformat()
    assert table["to be measured again by"][1] == row["due_on"].isoformat()
    assert table["MAWP at the next turnaround"][1] == "—"  # none is on record: a dash, never a nought


def test_every_place_is_listed_with_the_results_numbers(results: duckdb.DuckDBPyConnection, record: Paper) -> None:
    rows = {
        row["location"]: row
        for row in asked(results, "SELECT * FROM result.location WHERE asset = 'V-1' AND component = 'Shell'")
    }
    heads, *places = _Tables(page(record)).tables["Locations"][0]
    assert heads[1] == "last reading (in)" and heads[5] == "rate (mil/year)"
    assert [cells[0] for cells in places] == ["1", "3", "2"]  # below required first, then the shorter life
    for cells in places:
        row = rows[cells[0]]
        assert cells[1] == f"{row['t_act_mm'] / 25.4:.4f}"
        assert cells[3] == f"{row['t_req_mm'] / 25.4:.4f}"
        assert cells[4] == f"{row['margin']:.1%}".replace("-", "−")
        assert cells[5] == f"{row['rate_mm_per_year'] / 0.0254:.2f}"
        assert cells[6] == f"{row['remaining_life_years']:.2f}".replace("-", "−")
        assert cells[7] == row["due_on"].isoformat() and cells[8] == row["state"]


def test_inputs_stand_as_typed_and_as_kept_with_their_cells(results: duckdb.DuckDBPyConnection, record: Paper) -> None:
    told = explain(results, "V-1", "Shell")
    table = section(record, "Inputs").blocks[0]
    assert isinstance(table, Table)
    rows: dict[tuple[str, str], list[Any]] = {}
    for row in table.rows:
        rows.setdefault((str(row[2]), str(row[3])), []).append(row)
    inputs = [item for link in told.links for item in link.inputs if not str(item.origin).startswith("step ")]
    assert len(inputs) > 15
    for item in inputs:
        alike = rows[item.label, item.origin.text or "—"]  # one cell may stand for both joints
        (row,) = [row for row in alike if item.origin.words in str(row[5])]
        assert as_number(str(row[4])) == item.value
        assert item.origin.cell in str(row[5])
    (stress,) = rows["allowable stress at the design temperature", "17500 psi"]
    assert stress[5] == "plant.xlsx, parts, F2"


def test_each_equation_has_its_clause_its_numbers_and_where_they_come_from(
    results: duckdb.DuckDBPyConnection, record: Paper
) -> None:
    told = explain(results, "V-1", "Shell")
    steps = [block for block in section(record, "Calculation").blocks if isinstance(block, Equation)]
    assert [step.title for step in steps] == [link.title for link in told.links]
    inputs = section(record, "Inputs").blocks[0]
    assert isinstance(inputs, Table)
    for step, link in zip(steps, told.links, strict=True):
        assert as_number(step.unrounded) == link.value and link.clause in step.source and not step.fault
        for (_, shown, origin), item in zip(step.inputs, link.inputs, strict=True):
            kind, number = origin.split()
            assert shown == item.shown
            if kind == "step":
                assert int(number) < step.number
            else:
                assert as_number(str(inputs.rows[int(number) - 1][4])) == item.value


def test_governing_case_and_runner_up(results: duckdb.DuckDBPyConnection, record: Paper) -> None:
    cases, places, dates = section(record, "Governing case and runner-up").blocks
    assert isinstance(cases, Table) and isinstance(places, Paragraph) and isinstance(dates, Table)
    assert [row[3] for row in cases.rows] == ["governs", "runner-up", "not asked", "not asked"]
    assert [row[0] for row in cases.rows[:2]] == ["thickness required for pressure", "code minimum thickness"]
    assert "location 1 (margin −" in places.text and "the runner-up is location 3" in places.text
    (part,) = asked(
        results, "SELECT governing_location FROM result.component WHERE asset = 'V-1' AND component = 'Shell'"
    )
    assert part["governing_location"] == "1"
    stored = asked(results, "SELECT * FROM result.next_due WHERE asset = 'V-1' ORDER BY kind")
    assert [(row[1], row[3]) for row in dates.rows] == [
        (row["due_on"].isoformat(), row["next_due_on"].isoformat()) for row in stored
    ]


def test_readings_that_do_not_count_are_listed_with_the_reason(record: Paper) -> None:
    table, count = section(record, "Readings").blocks
    assert isinstance(table, Table) and isinstance(count, Paragraph)
    held = next(row for row in table.rows if row[4] == "held")
    assert held[0] == "3" and "growth" in str(held[5]) and "paint on" in str(held[5]) and "s, E8" in str(held[6])
    assert count.text.startswith("7 readings of this component: 6 used, 1 held. The 4 readings used at other places")


def test_assumptions_defaults_and_limits_are_marked(record: Paper) -> None:
    inputs = section(record, "Inputs").blocks[0]
    assert isinstance(inputs, Table)
    marks = {str(row[2]): str(row[6]) for row in inputs.rows}
    assert marks["static head of the liquid"] == "assumed" and marks["structural minimum thickness"] == "assumed"
    assert marks["floor of the corrosion rate"] == "default" and marks["length of a year"] == "fixed"
    assert marks["rating pressure at the top of the vessel"] == ""
    said = said_in(record)
    assert "Default: radius in the formulas is “retirement” (common practice)." in said
    for sentence in (CAUTION, NOT_CONSIDERED, BELOW_REQUIRED):
        assert sentence in said
    assert "The register gives no code and edition" in said
    assert section(record, "Corroded area A1")
    assert [each.title for each in record.sections][-1] == "Review and approval"


def test_a_component_never_measured_says_so(results: duckdb.DuckDBPyConnection) -> None:
    never = calculation_record(results, "V-1", "Boot", PLANT)
    said = said_in(never)
    assert "State of the component: not assessable." in said and "nothing can be said of its wall" in said
    inputs = section(never, "Inputs").blocks[0]
    assert isinstance(inputs, Table)
    assert ("nominal thickness", "0.5 in") in [(row[0], row[1]) for row in inputs.rows]


def test_the_page_of_an_asset_has_the_results_numbers(results: duckdb.DuckDBPyConnection, whole: Paper) -> None:
    tables = _Tables(page(whole)).tables
    parts = {row["component"]: row for row in asked(results, "SELECT * FROM result.component WHERE asset = 'V-1'")}
    heads, *rows = tables["Components"][0]
    assert heads[3:5] == ["last reading (in)", "required (in)"] and {cells[0] for cells in rows} == set(parts)
    for cells in rows:
        row = parts[cells[0]]
        for place, column, factor in ((3, "t_act_mm", 25.4), (4, "t_req_mm", 25.4), (6, "rate_mm_per_year", 0.0254)):
            assert (cells[place] == "—") == (row[column] is None)
            if row[column] is not None:
                decimals = len(cells[place].partition(".")[2])
                assert cells[place] == f"{row[column] / factor:.{decimals}f}"
        assert cells[5] == ("—" if row["margin"] is None else f"{row['margin']:.1%}".replace("-", "−"))
    dates = asked(results, "SELECT * FROM result.due_date WHERE asset = 'V-1'")
    printed = {(cells[0], cells[1], cells[2]) for cells in tables["Due dates"][0][1:]}
    assert printed == {(due["kind"], due["due_on"].isoformat(), due["state"]) for due in dates}
    said = said_in(whole)
    refused = "it was approved on 2020-05-01 for an earlier due date"
    assert "Never measured: Boot." in said and f"External: the deferral on record does not count: {refused}." in said
    assert tables["Recommendations"][0][1][:2] == [f"grind {SCRIPT}", "Boot"]
    assert tables["Deferrals"][0][1][2:6] == ["2027-06-01", "A. Example", "2020-05-01", refused]
    assert tables["Readings held, and decisions"][0][1][0] == "Shell, location 3"
    assert "Shell, area A1" in said and CAUTION in said and "▼ below required" in said


def test_without_a_turnaround_ahead_only_another_reading_can_be_weighed(results: duckdb.DuckDBPyConnection) -> None:
    """Nothing tells until when a pressure or a restored wall would have to hold."""
    found = options(results, "V-1", "us")
    assert (found.turnarounds, found.pressures, found.restorations) == ((), (), ())
    (offer,) = found.readings
    assert (offer.place.component, offer.place.location, offer.place.is_below_required) == ("Shell", "1", True)
    # t_req = 200 x 30.75/(17500 x 0.85 + 0.4 x 200) = 6150/14955 = 0.411234 in, up to the next 0.001 in
    assert offer.clears_mm / 25.4 == pytest.approx(0.412) and offer.reaches_mm is None and offer.reaches is None


# ---- the hash -------------------------------------------------------------------------------------------------------


def test_the_hash_is_of_everything_said(record: Paper) -> None:
    assert record.sha256 in page(record)
    words = list(texts(record))
    assert len(words) > 500
    hashes = {record.sha256}
    for title in ("Result", "Inputs", "Locations", "Readings"):
        changed = dataclasses.replace(record, sections=tuple(each for each in record.sections if each.title != title))
        hashes.add(changed.sha256)
    pairs = record.facts.pairs
    for place, (name, value) in enumerate(pairs):
        facts = Facts((*pairs[:place], (name, f"{value} "), *pairs[place + 1 :]))
        hashes.add(dataclasses.replace(record, facts=facts).sha256)
    assert len(hashes) == 1 + 4 + len(pairs)
    table = section(record, "Inputs").blocks[0]
    assert isinstance(table, Table)
    for place, row in enumerate(table.rows):
        digits = str(row[4])
        altered = (*row[:4], digits.replace(digits[0], "8" if digits[0] != "8" else "9", 1), *row[5:])
        rows = (*table.rows[:place], altered, *table.rows[place + 1 :])
        inputs = Section("Inputs", (dataclasses.replace(table, rows=rows),))
        hashes.add(dataclasses.replace(record, sections=(inputs, *record.sections)).sha256)
    assert len(hashes) == 1 + 4 + len(pairs) + len(table.rows)


def test_the_hash_is_the_same_twice_and_another_for_another_input(
    results: duckdb.DuckDBPyConnection, record: Paper, tmp_path: Path
) -> None:
    again = calculation_record(results, "V-1", "Shell", PLANT)
    assert again == record and again.sha256 == record.sha256
    assert calculation_record(results, "V-1", "Shell", "another plant").sha256 != record.sha256
    assert calculation_record(results, "V-1", "Shell", PLANT, "si").sha256 != record.sha256
    connection = open_results(written(tmp_path / "plant", stress=17501) / "results.duckdb")
    assert calculation_record(connection, "V-1", "Shell", PLANT).sha256 != record.sha256
    head = calculation_record(connection, "V-1", "Head", PLANT).sha256
    connection.close()
    # What is not of the component, nor of its asset's dates, does not change its record.
    assert head == calculation_record(results, "V-1", "Head", PLANT).sha256


# ---- hostile text, and the page itself ------------------------------------------------------------------------------


def test_what_came_from_outside_is_never_markup(results: duckdb.DuckDBPyConnection) -> None:
    for paper in (
        asset_record(results, HOSTILE, PLANT),
        calculation_record(results, HOSTILE, SCRIPT, PLANT),
        calculation_record(results, "V-1", "Shell", PLANT),
    ):
        text = page(paper)
        assert "<script" not in text and "<img" not in text and "<b>North" not in text
        assert "&lt;script&gt;window.hacked = 1&lt;/script&gt;" in text
        assert not re.search("[\u202a-\u202e\u2066-\u2069\x07]", text)
        assert not re.search(r"<[^>]*\b(?:src|href|on\w+)\s*=|url\(|@import|https?://(?!www\.w3\.org/)", text)
    lines = running_lines('a"; } body { display: none } </style>', "\\", "p", "0" * 64)
    assert lines.count("{") == lines.count("}") == 5 and "</" not in lines and "body {" not in lines


def test_every_clause_can_be_typeset() -> None:
    for formula in ALL:
        made = typeset(formula.typeset())
        assert made.startswith("<math") and "\\" not in made and "merror" not in made, formula.id


#: Width between the margins of an A4 page and of a Letter page, in the pixels of CSS.
PAPER_WIDTHS = {"A4": 665, "Letter": 687}
OVERFLOWING = """() => [...document.querySelectorAll("body, section, table, .lines > div, .where, dd, p, figure")]
    .filter(each => each.scrollWidth > each.clientWidth + 1)
    .map(each => `${each.className} ${each.textContent.slice(0, 60)}`)"""


@needs_chromium
def test_the_pages_print_whole_and_run_nothing(
    browser: Browser, results: duckdb.DuckDBPyConnection, record: Paper, whole: Paper, tmp_path: Path
) -> None:
    papers = {
        "record": (record, 5),
        "asset": (whole, 3),
        "hostile": (calculation_record(results, HOSTILE, SCRIPT, PLANT), 4),
        "clauses": (every_clause(), 12),
    }
    opened = browser.new_page()
    asked_for: list[str] = []
    opened.on("request", lambda request: asked_for.append(request.url))
    opened.emulate_media(media="print")
    for name, (paper, least_pages) in papers.items():
        path = tmp_path / f"{name}.html"
        path.write_text(page(paper), encoding="utf-8")
        opened.goto(path.as_uri())
        for paper_format, width in PAPER_WIDTHS.items():
            opened.set_viewport_size({"width": width, "height": 900})
            assert opened.evaluate(OVERFLOWING) == [], (name, paper_format)
        assert opened.evaluate("window.hacked") is None
        assert opened.locator("script, img, iframe, link").count() == 0
        printed = opened.pdf(format="Letter" if name == "asset" else "A4")
        pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))
        assert least_pages <= pages < 3 * least_pages, (name, pages)
    assert asked_for == [(tmp_path / f"{name}.html").as_uri() for name in papers]
    opened.close()


def every_clause() -> Paper:
    """A document with every clause there is, so that the longest of them must fit a page too."""
    steps = tuple(
        Equation(n, f.title, f.clause, f.result_quantity.symbol, f.typeset().partition(" = ")[2], "", "1", "1", ())
        for n, f in enumerate(ALL, start=1)
    )
    return Paper("Clauses", "all", "all", Facts((("of", "all"),)), (Section("Clauses", steps),))


# ---- the command ----------------------------------------------------------------------------------------------------


def test_the_command_writes_the_page_and_refuses_what_is_not_its_own(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], results: duckdb.DuckDBPyConnection
) -> None:
    target = tmp_path / "page.html"
    arguments = ["print", str(folder), "--asset", "V-1", "--to", str(target)]
    assert main([*arguments, "--component", "Shell", "--units", "si"]) == 0
    assert f"Wrote {target}" in capsys.readouterr().out
    assert target.read_text(encoding="utf-8") == page(calculation_record(results, "V-1", "Shell", folder.name, "si"))
    assert main(arguments) == 0
    assert target.read_text(encoding="utf-8") == page(asset_record(results, "V-1", folder.name))
    version = data.Version(str(folder / "results.duckdb"), 0)
    assert data.printable(version, folder, "V-1", None, "us") == target.read_bytes()
    target.write_text("<p>a page of somebody else</p>", encoding="utf-8")
    assert main(arguments) == 2
    assert "is not a page that this program wrote" in capsys.readouterr().err
    assert main([*arguments[:-1], str(tmp_path / "page.pdf")]) == 2
    assert "ends in .html" in capsys.readouterr().err
    assert main(["print", str(folder), "--asset", "V-7", "--to", str(tmp_path / "x.html")]) == 2
    assert "V-7: there is no such asset" in capsys.readouterr().err
    with pytest.raises(Problem, match="there is no such component"):
        calculation_record(results, "V-1", "Chimney", PLANT)
