"""Make the invented plant: its spreadsheets, basis.toml, stories.json and README.md, the same bytes on every run.

Run `python demo_plant/make_demo_plant.py` to remake this folder, or give another folder as the only argument.
The parts: `works.py` and `stories.py` are data, `sizing.py` and `fleet.py` make the vessels and their readings,
`answers.py` works out what a person should conclude, `workbooks.py` writes like the works' people.
"""

from __future__ import annotations

import json
import sys
from itertools import groupby
from pathlib import Path

import answers
import fleet
import stories
import works
from answers import Answer
from fleet import Vessel
from workbooks import Folder, Unusable, write_all

HERE = Path(__file__).resolve().parent
STORY_COLUMNS = ("story", "title", "asset", "component", "location", "state", "quantity", "value", "unit")

RULES = """\
Rates are the greater of long-term and short-term; life = (thickness - required) / rate, from the day of the reading;
interval = half the life, at most ten years (under four years of life: the life, at most two years); dates are whole
days, cut and never rounded later. Required thickness keeps the outside radius (loss inside), at the register's MAWP
plus static head.""".splitlines()
BESIDES = """\
Besides: `V 105` in the north surveys is V-105 (`basis.toml` says so); `E-205` in the inspection history is on no
register; V-402 has a set interval of 15 years that names no assessment and must not count; S-503 is in date by an
on-stream inspection that stands for its internal one; V-401 Shell 1 TP-05 has two readings in one cell in 2013, of
which the smaller is used; some readings are fractions, text or marked `*`, some cells say `no access`
and the like.""".splitlines()
ABOUT = """\
Nothing here exists: the works, its vessels, its readings and its people are made by `make_demo_plant.py`. Allowable
stresses and pipe sizes are this works' register entries, written from memory; take none of them for your own vessels.
""".splitlines()


def main(into: Path) -> None:
    """Write the whole folder."""
    into.mkdir(parents=True, exist_ok=True)
    vessels = fleet.build()
    folder = Folder(into)
    write_all(vessels, folder)
    found = answers.all_answers(vessels)
    told = [dict(zip(STORY_COLUMNS, row, strict=True)) for row in _story_rows(found)]
    text = json.dumps(told, indent=1, ensure_ascii=False) + "\n"
    (into / "stories.json").write_text(text, encoding="utf-8", newline="\n")
    (into / "basis.toml").write_text(_basis(), encoding="utf-8", newline="\n")
    (into / "README.md").write_text(_readme(vessels, found, folder.unusable), encoding="utf-8", newline="\n")


def _story_rows(found: list[Answer]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for story in stories.STORIES:
        told = (story.key, story.title, story.tag, story.component, story.location, story.state)
        worked = [answer for answer in found if answer.story is story]
        rows += [(*told, answer.quantity, answer.value, answer.unit) for answer in worked]
    return rows


def _basis() -> str:
    people = [(person, "inspector") for person in works.INSPECTORS.values()]
    people += [(works.MANAGER, "manager"), (works.AUDITOR, "auditor")]
    return "\n".join(
        [
            f"# Policies of {works.NAME}, an invented plant. What is not here has its default.",
            'units = "us"',
            "",
            "[people]",
            *(f'"{person}" = "{role}"' for person, role in people),
            "",
            "[headings]",
            "# Headings of this plant's own.",
            '"Pt. ref" = "location"',
            '"UT tech" = "inspector"',
            "",
            "[aliases]",
            "# One survey sheet spells the tag with a blank.",
            '"V 105" = "V-105"',
            "",
        ]
    )


def _readme(vessels: list[Vessel], found: list[Answer], unusable: list[Unusable]) -> str:
    return "\n".join(
        [
            *_introduction(vessels),
            "## The stories",
            "",
            f"As of {works.AS_OF.isoformat()}. The same numbers stand in `stories.json`, one by one.",
            "",
            "| story | vessel | component | location | state | numbers | what a person should see |",
            "|---|---|---|---|---|---|---|",
            *_story_lines(found),
            "",
            *RULES,
            "",
            *BESIDES,
            "",
            "## Cells that cannot be used",
            "",
            "| file | sheet | cell | as it stands | why |",
            "|---|---|---|---|---|",
            *_unusable_lines(unusable),
            "",
        ]
    )


def _introduction(vessels: list[Vessel]) -> list[str]:
    parts = [part for vessel in vessels for part in vessel.components]
    places = [place for part in parts for place in part.locations]
    readings = [r for place in places for r in place.readings if r.inches is not None]
    return [
        f"# {works.NAME}, an invented plant",
        "",
        *ABOUT,
        "",
        f"{len(vessels)} vessels, {len(parts)} components, {len(places)} measuring locations and {len(readings):,}",
        f"thickness readings from {min(r.on for r in readings)} to {max(r.on for r in readings)}.",
        f"The stories are told as of **{works.AS_OF.isoformat()}**. Turnarounds ahead: "
        + " and ".join(f"{name} ({start} to {end})" for name, start, end in works.TURNAROUNDS if start > works.AS_OF)
        + ".",
        "",
        f"To remake it, the same bytes each time (seed {works.SEED}): `python demo_plant/make_demo_plant.py`.",
        "To read it: `hoopline build demo_plant --as-of 2026-11-01`.",
        "",
    ]


def _story_lines(found: list[Answer]) -> list[str]:
    lines = []
    for story in stories.STORIES:
        numbers = "; ".join(_written(answer) for answer in found if answer.story is story)
        where = f"{story.tag} | {story.component} | {story.location}"
        lines.append(f"| {story.key}. {story.title} | {where} | {story.state} | {numbers} | {story.lesson} |")
    return lines


def _written(answer: Answer) -> str:
    """An answer as people write it: with a minus sign, and years where there is not one of them."""
    value = f"−{answer.value[1:]}" if answer.value.startswith("-") else answer.value
    unit = {"date": "", "year": "year" if value == "1" else "years"}.get(answer.unit, answer.unit)
    return f"{answer.quantity} {value} {unit}".strip()


def _unusable_lines(unusable: list[Unusable]) -> list[str]:
    """One line for each cell; neighbours in one column with one reason share a line."""
    lines = []
    for (file, sheet, why), group in groupby(unusable, key=lambda cell: (cell.file, cell.sheet, cell.why)):
        cells = list(group)
        address = cells[0].cell if len(cells) == 1 else f"{cells[0].cell} to {cells[-1].cell} ({len(cells)} cells)"
        text = cells[0].text if len(cells) == 1 else f"{cells[0].text} and so on"
        lines.append(f"| {file} | {sheet} | {address} | `{text}` | {why} |")
    return lines


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
