"""Two dates compared: what changed of every asset, component and due date, and because of what.

Both statuses are made anew from the record. Between them lie up to four steps, each a build of its own: first only time
passes, then the policies change, then the files, then what people entered. What moves in a step moves because of it;
within a step the cause is the reading, cell, policy line or entry that differs and is about the same thing.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby, pairwise
from pathlib import Path

import duckdb
import pandas as pd

from pipeline import __version__
from pipeline.cautions import CAUTION
from pipeline.comparison_causes import (
    Facts,
    FileChange,
    changed_files,
    changed_lines,
    changed_policies,
    differing_facts,
    entry_words,
    named,
)
from pipeline.comparison_values import Key, Value, values
from pipeline.errors import Problem
from pipeline.movement import movement
from pipeline.publishing import open_results
from pipeline.reading import asked
from pipeline.record import RECORD_NAME, Entry, Record
from pipeline.replay import Known, known_at
from pipeline.run import work_out
from pipeline.units import noun

Progress = Callable[[str], None]

TIME, POLICY, FILE, ENTRY = "time", "policy", "file", "entry"


@dataclass(frozen=True)
class Side:
    """One of the two statuses: the day it is for, and the moment up to which things were known."""

    as_of: date
    known_at: datetime

    @property
    def words(self) -> str:
        """The side in words."""
        return f"as of {self.as_of}, as known at {self.known_at.isoformat(timespec='minutes')}"


@dataclass(frozen=True)
class Cause:
    """Why something changed: by time, policy, file or entry, and in words."""

    kind: str
    words: str


@dataclass(frozen=True)
class Change:
    """One thing that is another one on the later side: of which asset and component (None: the asset's own), what it
    is, both values in words, and every cause that moved it, in order."""

    asset: str
    component: str | None
    what: str
    before: str
    after: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True)
class Comparison:
    """What came between two statuses, and what it changed.

    `overdue` says how the count of overdue dates moved. `came_back` counts what changed on the way and is as before.
    """

    before: Side
    after: Side
    files: list[FileChange]
    policies: list[str]
    basis_lines: list[str]
    entries: list[str]
    overdue: str
    changes: list[Change]
    came_back: int

    @property
    def between(self) -> list[str]:
        """What came between the two, one line each; at least that time passed, or that nothing came."""
        policies = [f"policy {line}" for line in self.policies]
        lines = [each.words for each in self.files] + policies + self.entries
        if self.before.as_of != self.after.as_of:
            lines.insert(0, f"time: {noun((self.after.as_of - self.before.as_of).days, 'day')}")
        return lines or ["nothing: no file, policy or entry, and no time"]

    def as_frame(self) -> pd.DataFrame:
        """Return the changes as a table: asset, component, what, before, after, because."""
        return pd.DataFrame(
            [
                (
                    each.asset,
                    each.component,
                    each.what,
                    each.before,
                    each.after,
                    "; ".join(c.words for c in each.causes),
                )
                for each in self.changes
            ],
            columns=["asset", "component", "what", "before", "after", "because"],
        )

    def as_text(self) -> list[str]:
        """Return the comparison as lines of text."""
        lines = [
            f"From: {self.before.words}",
            f"To:   {self.after.words}",
            f"Both are worked out by hoopline {__version__}: a change of the program is not among the causes.",
            "",
            "What came between",
            *(f"  {line}" for line in self.between),
        ]
        if self.basis_lines:
            lines += ["", "Lines of the basis", *(f"  {line}" for line in self.basis_lines)]
        lines += ["", self.overdue, "", "What changed"]
        if not self.changes:
            lines.append("  nothing")
        for asset, own in groupby(self.changes, key=lambda each: each.asset):
            lines.append(f"  {asset}")
            for causes, together in groupby(own, key=lambda each: each.causes):
                for each in together:
                    of = f"{each.component}: " if each.component else ""
                    lines.append(f"    {of}{each.what}: {each.before} → {each.after}")
                lines += [f"      because of {cause.words}" for cause in causes]
        if self.came_back:
            lines.append(f"  {self.came_back} more changed on the way and are as before")
        return [*lines, "", CAUTION]


def compare(folder: Path, before: Side, after: Side, progress: Progress = lambda line: None) -> Comparison:
    """Compare two statuses of a plant from its record; nothing of the plant is changed.

    Raises Problem where the later side knows less than the earlier one, or nothing was known on the earlier one.
    """
    if after.known_at < before.known_at:
        raise Problem(
            f"the later side is {after.known_at.date()}, before {before.known_at.date()}: name the earlier one first"
        )
    record = Record(folder / RECORD_NAME)
    if not record.path.exists():
        raise Problem(f"{record.path}: there is no record; run 'hoopline build FOLDER' first")
    then, now = known_at(record, before.known_at), known_at(record, after.known_at)
    entered = [entry for entry in record.history() if before.known_at < datetime.fromisoformat(entry.at)]
    entered = [entry for entry in entered if datetime.fromisoformat(entry.at) <= after.known_at]
    files = changed_files(then, now)
    policies = changed_policies(then.basis, now.basis)
    with tempfile.TemporaryDirectory(prefix="hoopline-compare-") as home:
        made: list[Path] = []
        for number, step in enumerate(steps := _steps(then, now, before, after)):
            told = f"making status {number + 1} of {len(steps)}: {_STEP_WORDS[step.kind]}"
            progress(told)
            path = Path(home) / f"status {number}.duckdb"
            earlier = made[-1] if made else None
            work_out(step.known, folder, path, step.as_of, step.moment, _within(told, progress), earlier)
            made.append(path)
        progress("comparing")
        moves = [
            _moved(step.kind, earlier, later, _Between(before, after, files, policies, entered))
            for step, (earlier, later) in zip(steps[1:], pairwise(made), strict=True)
        ]
        with _results(made[0]) as first, _results(made[-1]) as last:
            system = asked(last, "SELECT units FROM result.build")[0]["units"]
            start, end = values(first, system), values(last, system)
            overdue = movement(last, first).sentence
    return Comparison(
        before,
        after,
        files,
        policies,
        changed_lines(then.basis, now.basis),
        [entry_words(entry) for entry in entered],
        overdue,
        *_changes(start, end, moves),
    )


def _within(told: str, progress: Progress) -> Progress:
    """Return a progress of one status, said as part of the whole: of its many steps only how many are done."""

    def say(line: str) -> None:
        done = re.match(r"\[\s*(\d+)/(\d+)\]", line)
        progress(f"{told}, {done[1]} of {done[2]}" if done else told)

    return say


# ---- the steps between ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Step:
    kind: str
    known: Known
    as_of: date
    moment: datetime


_STEP_WORDS = {
    "": "the earlier one",
    TIME: "only time has passed",
    POLICY: "with the later policies",
    FILE: "with the later files",
    ENTRY: "with what people entered",
}


def _steps(then: Known, now: Known, before: Side, after: Side) -> list[_Step]:
    """Return the statuses to be made, from the earlier one on; a step that would change nothing is left out."""
    known = then
    steps = [_Step("", known, before.as_of, before.known_at)]
    if before.as_of != after.as_of:
        steps.append(_Step(TIME, known, after.as_of, before.known_at))
    if then.basis.sha256 != now.basis.sha256:
        known = replace(known, basis=now.basis)
        steps.append(_Step(POLICY, known, after.as_of, before.known_at))
    if changed_files(then, now) or then.gone != now.gone:
        known = replace(known, folder=now.folder, gone=now.gone)
        steps.append(_Step(FILE, known, after.as_of, after.known_at))
    if (then.entries, then.decisions) != (now.entries, now.decisions):
        steps.append(_Step(ENTRY, now, after.as_of, after.known_at))
    return steps


# ---- what moved in a step, and why ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Between:
    before: Side
    after: Side
    files: Sequence[FileChange]
    policies: Sequence[str]
    entries: Sequence[Entry]


def _moved(kind: str, earlier: Path, later: Path, between: _Between) -> dict[Key, Cause]:
    """Return every key that has another value after a step, with the cause."""
    with _results(earlier) as then, _results(later) as now:
        system = asked(now, "SELECT units FROM result.build")[0]["units"]
        old, new = values(then, system), values(now, system)
        ways = {
            (row["asset"], f"{row['kind']} due date"): f"{row['how']}: {row['why']}"
            for row in movement(now, then).dates.to_dict("records")
        }
    facts = Facts() if kind == POLICY else differing_facts(earlier, later)
    moved = {}
    for key in old.keys() | new.keys():
        value = new.get(key)
        if value is None or not value.same(old.get(key)):
            asset, component, what = key
            how = ways.get((asset, what), "")
            cause = _cause(kind, asset, component or None, facts, between)
            moved[key] = Cause(kind, f"{cause} [{how}]" if how and kind != TIME else cause)
    return moved


def _cause(kind: str, asset: str, component: str | None, facts: Facts, between: _Between) -> str:
    own = facts.about(asset, component)
    match kind:
        case "time":
            passed = f"the passing of time, from {between.before.as_of} to {between.after.as_of}"
            return f"{passed}, by which there counts: {named(own)}" if own else passed
        case "policy":
            several = "one or more of these policies: " if len(between.policies) > 1 else ""
            return f"{several or 'the policy '}{'; '.join(between.policies)}"
        case "file":
            return named(own or [each.words for each in between.files] or ["files that are gone"])
        case _:
            return named([entry_words(entry) for entry in _about(between.entries, asset, component)] or own)


def _results(path: Path) -> closing[duckdb.DuckDBPyConnection]:
    return closing(open_results(path))


def _about(entries: Sequence[Entry], asset: str, component: str | None) -> list[Entry]:
    """Return the entries about a component, else about its asset, else all of them."""
    entered = [entry for entry in entries if entry.kind != "file accepted"]
    own = [entry for entry in entered if entry.cells.get("asset") == asset]
    close = [entry for entry in own if component is None or entry.cells.get("component") in (component, None, "")]
    return close or own or entered


def _changes(
    start: dict[Key, Value], end: dict[Key, Value], moves: Sequence[dict[Key, Cause]]
) -> tuple[list[Change], int]:
    """Return what differs at the end with the causes on the way, and how much came back to what it was."""
    order = {key: place for place, key in enumerate([*end, *(key for key in start if key not in end)])}
    changes, came_back = [], 0
    for key in sorted(order, key=lambda each: (each[0], order[each])):
        causes = tuple(move[key] for move in moves if key in move)
        then, now = start.get(key), end.get(key)
        if then is not None and then.same(now):
            came_back += bool(causes)
            continue
        asset, component, what = key
        changes.append(
            Change(
                asset,
                component or None,
                what,
                then.words if then else "not there",
                now.words if now else "not there any more",
                causes,
            )
        )
    return changes, came_back
