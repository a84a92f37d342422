"""How much longer the whole intake takes than reading the cells alone, and how much memory it needs.

Run `python -m tests.bench.intake`. Two workbooks are made: a long survey of 1,000,000 rows and a wide one of 100,000
rows by 10 dates, one cell in two hundred holding a reason or a fraction instead of a number. The baseline is
python-calamine reading the same file into Python lists and nothing more; the intake reads, parses and checks the
cells and stores them in a DuckDB file with the address of each. Each measurement runs in a process of its own, in turn.
"""

from __future__ import annotations

import io
import os
import platform
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import duckdb
from openpyxl.utils import get_column_letter
from python_calamine import CalamineWorkbook

from pipeline.basis import default_basis
from pipeline.run import store_facts
from pipeline.sheets import read_files

RUNS = 3
GOAL = 4.0
LONG_ROWS, WIDE_ROWS, WIDE_DATES = 1_000_000, 100_000, 10
AS_OF = date(2026, 6, 30)
Cell = str | float | date


def main() -> None:
    """Make the files, measure and print."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; medians of {RUNS} runs")
    with tempfile.TemporaryDirectory() as place:
        for name, rows in (("long", long_rows()), ("wide", wide_rows())):
            path = Path(place) / f"{name}.xlsx"
            path.write_bytes(workbook(rows))
            runs: dict[str, list[list[float]]] = {"alone": [], "intake": []}
            for _ in range(RUNS):
                for way, results in runs.items():
                    results.append(measured(way, path))
            alone, intake = (statistics.median(run[0] for run in runs[way]) for way in ("alone", "intake"))
            memory = {way: max(run[1] for run in results) for way, results in runs.items()}
            verdict = "within" if intake <= GOAL * alone else "OVER"
            print(
                f"{name}: cells alone {alone:.2f} s, {memory['alone']:.0f} MB; intake {intake:.2f} s, "
                f"{memory['intake']:.0f} MB, {runs['intake'][0][2]:,.0f} readings; "
                f"ratio {intake / alone:.2f}, {verdict} the goal of {GOAL:g}"
            )


def measured(way: str, path: Path) -> list[float]:
    """Return seconds, peak memory in MB and what was read, of one run in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.intake", way, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return [float(part) for part in done.stdout.split()]


def measure(way: str, path: Path) -> None:
    """Do the work once and print seconds, peak memory in MB and how many readings or rows came of it."""
    content = path.read_bytes()
    start = time.perf_counter()
    if way == "alone":
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        lists = [book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names]
        count = sum(map(len, lists))
    else:
        intake = read_files([(path.name, content)], default_basis(), AS_OF)
        count = intake.tables()["reading"].num_rows
        with duckdb.connect(str(path.with_suffix(f".{os.getpid()}.duckdb"))) as connection:
            store_facts(connection, intake)
    seconds = time.perf_counter() - start
    print(seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, count)


# ------------------------------------------------------------------------------------------------------- the files


def long_rows() -> Iterator[list[Cell]]:
    """Yield a long survey: 500 vessels of 4 components with 50 locations, 10 surveys."""
    chance = random.Random(1)
    yield ["Tag", "Component", "CML", "Date", "Thickness (in)", "Method"]
    for number in range(LONG_ROWS):
        place, survey = divmod(number, 10)
        vessel, of_vessel = divmod(place, 200)
        day = date(2006, 3, 1) + timedelta(days=700 * survey + vessel % 28)
        who: list[Cell] = [f"V-{vessel + 1:04d}", f"Shell {of_vessel // 50 + 1}", float(of_vessel % 50 + 1)]
        yield [*who, day, _wall(chance, survey), "UT"]


def wide_rows() -> Iterator[list[Cell]]:
    """Yield a wide survey: 500 vessels of 4 components with 50 locations, one column for each date."""
    chance = random.Random(2)
    dates = [date(2006 + 2 * survey, 3, 1) for survey in range(WIDE_DATES)]
    yield ["All readings in inches"]
    yield ["Tag", "Component", "CML", *dates]
    for number in range(WIDE_ROWS):
        vessel, of_vessel = divmod(number, 200)
        who: list[Cell] = [f"V-{vessel + 1:04d}", f"Shell {of_vessel // 50 + 1}", float(of_vessel % 50 + 1)]
        yield [*who, *(_wall(chance, survey) for survey in range(WIDE_DATES))]


def _wall(chance: random.Random, survey: int) -> Cell:
    odd = chance.random()
    if odd < 0.005:
        return "no access" if odd < 0.003 else "7/16"
    return round(0.5 - 0.004 * survey + chance.gauss(0.0, 0.004), 3)


def workbook(rows: Iterator[list[Cell]]) -> bytes:
    """Return an xlsx file of one sheet as spreadsheet programs write it: shared strings, dates as serial numbers."""
    strings: dict[str, int] = {}
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        with package.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            sheet.write(f'{_XML}<worksheet xmlns="{_MAIN}"><sheetData>'.encode())
            for number, row in enumerate(rows, start=1):
                cells = "".join(_cell(get_column_letter(at), number, cell, strings) for at, cell in enumerate(row, 1))
                sheet.write(f'<row r="{number}">{cells}</row>'.encode())
            sheet.write(b"</sheetData></worksheet>")
        shared = "".join(f"<si><t>{text}</t></si>" for text in strings)
        package.writestr("xl/sharedStrings.xml", f'{_XML}<sst xmlns="{_MAIN}">{shared}</sst>')
        for name, text in _PARTS.items():
            package.writestr(name, _XML + text)
    return content.getvalue()


def _cell(letter: str, row: int, value: Cell, strings: dict[str, int]) -> str:
    if isinstance(value, str):
        return f'<c r="{letter}{row}" t="s"><v>{strings.setdefault(value, len(strings))}</v></c>'
    if isinstance(value, date):
        return f'<c r="{letter}{row}" s="1"><v>{(value - date(1899, 12, 30)).days}</v></c>'
    return f'<c r="{letter}{row}"><v>{value!r}</v></c>'


_XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_PARTS = {
    "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPE}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_TYPE}.worksheet+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{_TYPE}.styles+xml"/>'
    f'<Override PartName="/xl/sharedStrings.xml" ContentType="{_TYPE}.sharedStrings+xml"/></Types>',
    "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{_LINKS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_LINKS}">'
    '<sheets><sheet name="survey" sheetId="1" r:id="rId1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{_LINKS}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="rId2" Type="{_LINKS}/styles" Target="styles.xml"/>'
    f'<Relationship Id="rId3" Type="{_LINKS}/sharedStrings" Target="sharedStrings.xml"/></Relationships>',
    "xl/styles.xml": f'<styleSheet xmlns="{_MAIN}"><fonts count="1"><font/></fonts><fills count="1"><fill/></fills>'
    '<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>',
}


if __name__ == "__main__":
    if len(sys.argv) == 3:
        measure(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
