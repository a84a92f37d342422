"""What the command line says of one asset in cases that few plants have, and of a day gone by.

A shell needs 10 mm and loses 0.1 mm/year, read on 2020-01-01; as of 2020-06-01.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.run import build
from tests.vessels import AS_OF, Y12, Y20, Plant, after


def falling(last: float) -> tuple[tuple[date, float], ...]:
    return ((Y12, round(last + 0.8, 6)), (Y20, last))


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plant = Plant()
    plant.vessel("alone", falling(10.6), since=None, inspected=None)
    plant.vessel("capped", falling(10.6), inspected=None)
    plant.add("visits", "capped", "internal", date(2016, 1, 1), "sound")
    plant.vessel("two places", falling(10.6))
    plant.place("two places", "Shell", falling(10.8), "2")
    plant.vessel("held", (*falling(11.0), (date(2020, 3, 1), 14.0)))
    plant.vessel("no place", ())
    plant.vessel("never read", ())
    plant.add("survey", "never read", "Shell", "1", Y20, "no access")
    folder = plant.write(tmp_path_factory.mktemp("explained") / "plant")
    build(folder, as_of=AS_OF)
    return folder


def told(built: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["explain", *words, "--database", str(built / "results.duckdb")]) == 0
    return capsys.readouterr().out


def test_what_would_govern_next_in_words(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three years of interval for 6 years of life, 1095 days; four for 8, 1461 days; the cap 3652 days from 2016."""
    third = after(Y20, 1095)
    assert f"{third} (Shell, location 1); then nothing else would set it" in told(built, capsys, "alone")
    capped = told(built, capsys, "capped")
    assert f"{third} (Shell, location 1); then {after(date(2016, 1, 1), 3652)}, by its cap" in capped
    both = told(built, capsys, "two places")
    assert f"{third} (Shell, location 1); then {after(Y20, 1461)}, by Shell, location 2" in both


def test_a_held_reading_and_the_date_with_it(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """11 mm leave ten years, five of interval. The 14 mm read two months later would be no loss at all: the cap."""
    out = told(built, capsys, "held")
    assert f"with the held readings: 0.5512 in left, life —, due {after(date(2020, 3, 1), 3652)}" in out
    assert f"without them due {after(Y20, 1826)}" in out


def test_without_a_place_or_a_reading(built: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "There is no measured place to explain." in told(built, capsys, "no place")
    unread = told(built, capsys, "never read")
    assert "missing: a thickness reading" in unread and " left on " not in unread


def test_a_page_of_a_day_gone_by(built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Due 2022-12-31, in date in 2020 and overdue in 2024: the page is that of the day asked for."""
    words = {}
    for day in ("2020-06-01", "2024-06-01"):
        page = tmp_path / f"{day}.html"
        code = main(["print", str(built), "--asset", "two places", "--to", str(page), "--as-of", day])
        assert (code, capsys.readouterr().err) == (0, "")
        words[day] = page.read_text(encoding="utf-8")
    assert "overdue" not in words["2020-06-01"] and "overdue" in words["2024-06-01"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--known-at", "last week"], "'last week' is not a date or a date with a time; write it as 2026-03-31"),
        (["--known-at", "2020-06-01"], "--known-at needs --database: a past status must not take the place of today's"),
    ],
)
def test_a_past_status_that_cannot_be_made(
    built: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    try:
        code = main(["build", str(built), *words])
    except SystemExit as end:
        code = int(end.code or 0)
    assert code == 2
    assert sentence in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_named(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "none" / "page.html"
    assert main(["print", str(built), "--asset", "alone", "--to", str(page)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("hoopline: ") and str(page.parent) in line
