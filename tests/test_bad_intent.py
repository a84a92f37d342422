"""Hostile names and remarks through intake, results, command line, exports and app; no connection ever leaves."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import unicodedata
from datetime import date
from pathlib import Path
from xml.sax.saxutils import unescape
from zipfile import ZipFile

import openpyxl
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import data
from pipeline.cli import main
from pipeline.export import export_workbook
from pipeline.publishing import open_results
from pipeline.run import build

ENTRY = Path(__file__).resolve().parent.parent / "dashboard" / "app.py"
AS_OF = date(2026, 1, 1)
#: What a tag, a name or a remark may hold where somebody means harm, or only copied it from somewhere.
HOSTILE = {
    "markup": "<script>alert(1)</script><img src=x onerror=alert(2)>",
    "link": "[press here](javascript:alert(1)) ![](http://203.0.113.9/x.png)",
    "formula": '=HYPERLINK("http://203.0.113.9/","look")',
    "command": "+1+cmd|' /C calc'!A0",
    "path": "../../../../etc/passwd",
    "quotes": "'; DROP TABLE result.asset; --\"",
    "braces": "{{7*7}} ${HOME} %s {0} $x^2$",
    "terminal": "V\x1b[2J\x1b]0;title\x07-1",
    "control": "V\x01-\x0b2\x7f",
    "right to left": "V-\u202e3\u202c\u200f",
    "long": "W" * 10_000,
    "not a character": "V\ufffe\ufdd0-4",
}


def lines(*rows: tuple) -> str:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One vessel for each hostile text: its tag, its service, its component and the remark of its readings."""
    folder = tmp_path_factory.mktemp("hostile") / "plant"
    folder.mkdir()
    words = list(HOSTILE.values())
    files = {
        "register.csv": lines(
            ("Asset", "Service", "Area", "In service", "MAWP (psi)", "Inside diameter (in)", "Assigned to"),
            *((word, word, word, "1990-01-01", 200, 60, word) for word in words),
        ),
        "parts.csv": lines(
            ("Asset", "Component", "Kind", "Nominal thickness (in)", "Corrosion allowance (in)",
             "Allowable stress (psi)", "Joint efficiency"),
            *((word, word, "cylinder", 0.5, 0.0625, 20000, 0.85) for word in words),
        ),
        "survey.csv": lines(
            ("Asset", "Component", "Location", "Date", "Thickness (in)", "Remark"),
            *(
                (word, word, word, day, thickness, word)
                for word in words
                for day, thickness in (("2010-05-01", 0.48), ("2020-05-01", 0.46), ("2024-05-01", 0.455))
            ),
        ),
    }  # fmt: skip
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    build(folder, as_of=AS_OF)
    return folder


@pytest.fixture(scope="module")
def tags(plant: Path) -> list[str]:
    """The tags as the results have them."""
    with open_results(plant / "results.duckdb") as results:
        return [tag for (tag,) in results.execute("SELECT asset FROM result.asset ORDER BY rank").fetchall()]


def is_plain(text: str) -> bool:
    """Say whether a text can be written to a terminal or a page without moving or hiding what stands around it."""
    return not any(unicodedata.category(letter) in ("Cc", "Cf") and letter not in "\n\t" for letter in text)


def test_every_vessel_is_there_and_none_is_two(plant: Path, tags: list[str]) -> None:
    assert len(set(tags)) == len(tags) == len(HOSTILE)
    with open_results(plant / "results.duckdb") as results:
        readings = results.execute("SELECT asset, count(*) FROM result.reading GROUP BY asset").fetchall()
        assert sorted(readings) == sorted((tag, 3) for tag in tags)
        # What was typed is kept as it stood; nothing of it was run.
        assert results.execute("SELECT count(*) FROM result.asset").fetchone() == (len(HOSTILE),)


def test_the_command_line_writes_nothing_that_moves_a_terminal(
    plant: Path, tags: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    database = str(plant / "results.duckdb")
    for arguments in (["rank", "--database", database], ["rank", "--database", database, "--format", "csv"]):
        assert main(arguments) == 0
        assert is_plain(capsys.readouterr().out.replace("\r\n", "\n"))
    assert main(["rank", "--database", database, "--format", "json"]) == 0
    assert {row["asset"] for row in json.loads(capsys.readouterr().out)} == set(tags)
    for tag in tags:
        assert main(["explain", tag, "--database", database]) == 0
        said = capsys.readouterr()
        assert is_plain(said.out) and said.err == ""


def test_a_list_for_a_spreadsheet_starts_no_formula(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rank", "--database", str(plant / "results.duckdb"), "--format", "csv"]) == 0
    cells = [cell for row in csv.reader(io.StringIO(capsys.readouterr().out)) for cell in row]
    numbers = [cell for cell in cells if cell.lstrip("-").replace(".", "").isdigit()]
    assert not [cell for cell in cells if cell[:1] in "=+-@\t\r" and cell and cell not in numbers]


def test_an_exported_workbook_holds_the_texts_as_texts(plant: Path, tmp_path: Path) -> None:
    path = tmp_path / "audit.xlsx"
    with open_results(plant / "results.duckdb") as results:
        export_workbook(results, path)
    book = openpyxl.load_workbook(path)
    formulas = [
        cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f" and isinstance(cell.value, str)
    ]
    assert formulas and not [formula for formula in formulas if "cmd|" in formula or "203.0.113.9" in formula]
    with ZipFile(path) as package:
        names = package.namelist()
        links = [name for name in names if "externalLink" in name or name.endswith((".bin", ".vml"))]
        assert not links
        targets = [package.read(name).decode() for name in names if name.endswith(".rels")]
    assert not [text for text in targets if "External" in unescape(text)]


def test_no_page_runs_or_hides_a_hostile_text(plant: Path, tags: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(data.VARIABLE, str(plant / "results.duckdb"))
    for page in ("fleet", "asset", "my_assets", "sheets", "sources"):
        for tag in tags if page == "asset" else [tags[0]]:
            app = AppTest.from_file(str(ENTRY), default_timeout=60)
            app.query_params["asset"] = tag
            app.switch_page(f"views/{page}.py")
            app.run()
            assert not app.exception
            assert not [box.value for box in app.error]
            raw = [element.proto.body for element in app.get("html")]
            raw += [element.value for element in app.get("markdown") if element.allow_html]
            assert not [text for text in raw if "<script>alert" in text or "<img src=x" in text]
            # A link or a picture of somebody else's would be fetched by the browser.
            written = " ".join(element.value for kind in ("markdown", "caption") for element in app.get(kind))
            assert "](javascript:" not in written and "![](http" not in written


NO_CONNECTION = """
import sys

def refuse(event, arguments):
    if event in ("socket.connect", "socket.sendto", "socket.sendmsg") and isinstance(arguments[1], tuple):
        if arguments[1][0] not in ("127.0.0.1", "::1", "localhost"):
            raise SystemExit(f"a connection to {arguments[1]}")
    if event == "socket.getaddrinfo" and arguments[0] not in ("127.0.0.1", "::1", "localhost", None):
        raise SystemExit(f"the address of {arguments[0]} was asked")

sys.addaudithook(refuse)
from pipeline.cli import main
folder, workbook = sys.argv[1:]
database = folder + "/results.duckdb"
codes = [
    main(["build", folder, "--as-of", "2026-01-01"]),
    main(["check", folder, "--as-of", "2026-01-01"]),
    main(["rank", "--database", database]),
    main(["verify", folder]),
    main(["export", workbook, "--database", database]),
]
assert codes[0] == codes[2] == codes[3] == codes[4] == 0, codes
print("no connection was made")
"""


def test_no_command_makes_a_connection(plant: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", NO_CONNECTION, str(plant), str(tmp_path / "audit.xlsx")],
        capture_output=True,
        text=True,
        check=False,
        timeout=180,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert "no connection was made" in done.stdout
