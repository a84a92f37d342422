"""What was measured of the pipeline at its sizes, as a report in Markdown."""

from __future__ import annotations

import os
import platform
import statistics
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from tests.bench.scale_facts import Facts
from tests.bench.scale_run import CHECKED, CHECKS, RANKED, THREADS

COSTLIEST = 10
#: Goals: the computing part against one aggregation, pandas against the computing part, memory of a build.
GOAL_AGGREGATIONS, GOAL_PANDAS = 6.0, 5.0
GOAL_MEMORY_MB, GOAL_MEMORY_UP_TO = 4_000, 6_000_000
#: Time a reading at the largest size against the smallest; what is within is measurement.
GOAL_GROWTH = 1.1

Lap = dict[str, Any]
Run = dict[str, Any]


@dataclass(frozen=True)
class Pandas:
    """The baseline in pandas: its fleet, builds of it, and both ways to write it."""

    facts: Facts
    builds: list[Run]
    columns: Run
    rows: Run | None


@dataclass(frozen=True)
class Measured:
    """What was measured of one fleet: a list of laps for each run of a build, and the baselines' laps."""

    facts: Facts
    memory: str
    builds: list[Run]
    aggregation: Run | None = None
    pandas: Pandas | None = None


@dataclass(frozen=True)
class Reread:
    """A plant of many sheets built, and built again with one of them changed."""

    changed: str
    first: Run
    second: Run


def report(found: Sequence[Measured], reread: Reread | None) -> list[str]:
    """Return the report's lines."""
    lines = [
        "# How the pipeline holds up with size",
        "",
        f"{machine()}. s: seconds of the processor, all threads together, in brackets of the wall clock; medians of "
        f"the builds. {THREADS} threads. Facts of the files are taken from a file, as a second build does.",
        "",
        *sizes(found),
        "",
        *parts(found),
        "",
    ]
    for one in found:
        if one.aggregation:
            lines += [*baselines(one), ""]
    if len(found) > 1:
        lines += [growth(found), ""]
    if reread:
        lines += [*one_changed(reread), ""]
    for one in found:
        lines += [f"## The most costly of all steps at {one.facts.readings:,} readings", ""]
        lines += [*costliest([build["laps"] for build in one.builds]), ""]
        lines += [f"## The most costly computing steps at {one.facts.readings:,} readings", ""]
        lines += [*costliest([[lap for lap in build["laps"] if computes(lap)] for build in one.builds]), ""]
    return lines


def machine() -> str:
    """What it ran on."""
    model = next(
        (line.split(":")[1].strip() for line in _lines("/proc/cpuinfo") if line.startswith("model name")),
        platform.machine(),
    )
    memory = next((int(line.split()[1]) for line in _lines("/proc/meminfo") if line.startswith("MemTotal")), 0)
    return (
        f"{model}, {os.cpu_count()} cores, {memory / 1024**2:.0f} GB; Python {platform.python_version()}, "
        f"duckdb {duckdb.__version__}, pandas {pd.__version__}"
    )


def _lines(path: str) -> list[str]:
    try:
        return Path(path).read_text(encoding="utf-8").splitlines()
    except OSError:
        return []


# ---- sizes and parts ------------------------------------------------------------------------------------------------


def computes(lap: Lap) -> bool:
    """Tell whether a lap belongs to the computing part."""
    return bool(CHECKED < lap["number"] <= RANKED)


#: The parts of a build, each with the laps it is made of.
PARTS: tuple[tuple[str, Callable[[Lap], bool]], ...] = (
    ("facts of files that have not changed, and basis", lambda lap: lap["number"] == 0),
    ("registers, and checks of the readings", lambda lap: 0 < lap["number"] <= CHECKED),
    ("**computing part: checked readings to ranking**", computes),
    ("checks of the data", lambda lap: lap["name"] == CHECKS),
    ("tables of results", lambda lap: lap["number"] > RANKED and lap["name"] != CHECKS),
)


def sizes(found: Sequence[Measured]) -> list[str]:
    """What each fleet holds, and the most memory of a build."""
    rows = []
    for one in found:
        most = max(build["peak_mb"] for build in one.builds)
        verdict = f", {_verdict(most <= GOAL_MEMORY_MB, f'{GOAL_MEMORY_MB:,} MB')}"
        rows.append(
            (
                *(f"{each:,}" for each in _sizes_of(one.facts)),
                str(len(one.builds)),
                one.memory,
                f"{most:,.0f} MB{verdict if one.facts.readings <= GOAL_MEMORY_UP_TO else ''}",
                f"{max(build['spilled_mb'] for build in one.builds):,.0f} MB",
            )
        )
    heads = (
        *("vessels", "components", "locations", "readings", "builds", "database's limit", "most memory"),
        "most on disk for want of it",
    )
    return _table(heads, rows)


def _sizes_of(facts: Facts) -> tuple[int, int, int, int]:
    return facts.vessels, facts.components, facts.places, facts.readings


def parts(found: Sequence[Measured]) -> list[str]:
    """Time of every part at every size, and of a reading."""
    rows = []
    for name, belongs in PARTS:
        row = [name]
        for one in found:
            seconds = median_of(one.builds, belongs, "cpu")
            row.append(_seconds(seconds, median_of(one.builds, belongs, "wall")))
            row.append(f"{seconds / one.facts.readings * 1e6:.2f}")
        rows.append(tuple(row))
    heads = ["part"]
    for one in found:
        heads += [f"{one.facts.readings:,} readings, s", "µs a reading"]
    return _table(heads, rows)


def growth(found: Sequence[Measured]) -> str:
    """The computing part's time a reading at the largest size against the smallest."""
    ordered = sorted(found, key=lambda one: one.facts.readings)
    small, large = (
        median_of(one.builds, computes, "cpu") / one.facts.readings * 1e6 for one in (ordered[0], ordered[-1])
    )
    times = large / small
    return (
        f"Computing part, µs a reading: {small:.2f} at {ordered[0].facts.readings:,} readings, {large:.2f} at "
        f"{ordered[-1].facts.readings:,}: {times:.2f} times, {_verdict(times <= GOAL_GROWTH, f'{GOAL_GROWTH:g}')}."
    )


def computing(builds: Sequence[Run]) -> str:
    """Time of the computing part, in words."""
    cpu, wall = (median_of(builds, computes, what) for what in ("cpu", "wall"))
    return f"computing part {cpu:.1f} s of the processor, {wall:.1f} s of the clock"


def costliest(runs: Sequence[Sequence[Lap]], every: bool = False) -> list[str]:
    """The steps that take longest, by their medians."""
    last = {lap["name"]: lap for lap in runs[-1]}
    medians = {
        name: {
            what: statistics.median(lap[what] for run in runs for lap in run if lap["name"] == name)
            for what in ("cpu", "wall", "peak_mb")
        }
        for name in last
    }
    whole = sum(median["cpu"] for median in medians.values())
    ordered = sorted(medians, key=lambda name: -medians[name]["cpu"])
    rows = [
        (
            f"{last[name]['number']} {name}",
            f"{last[name]['rows']:,}",
            _seconds(medians[name]["cpu"], medians[name]["wall"]),
            f"{medians[name]['cpu'] / whole:.1%}",
            f"{medians[name]['peak_mb']:,.0f} MB",
        )
        for name in (ordered if every else ordered[:COSTLIEST])
    ]
    return _table(("step", "rows", "s", "share", "memory meanwhile"), rows)


# ---- baselines ------------------------------------------------------------------------------------------------------


def baselines(one: Measured) -> list[str]:
    """The computing part against one bare aggregation, and pandas against the computing part."""
    assert one.aggregation
    rows = [
        _against(
            "one aggregation: first, previous and last reading of every place",
            one.builds,
            [one.aggregation],
            lambda ours, theirs: ("computing part : aggregation", ours / theirs),
            lambda times: _verdict(times <= GOAL_AGGREGATIONS, f"{GOAL_AGGREGATIONS:g}"),
        )
    ]
    words = []
    if one.pandas:
        for name, run in (
            ("pandas, whole columns at a time", one.pandas.columns),
            ("pandas, a function for each place and component", one.pandas.rows),
        ):
            if run:
                rows.append(
                    _against(
                        name,
                        one.pandas.builds,
                        [run],
                        lambda ours, theirs: ("pandas : computing part", theirs / ours),
                        lambda times: _verdict(times >= GOAL_PANDAS, f"at least {GOAL_PANDAS:g}"),
                    )
                )
                differ = sum(run["differ"].values())
                words.append(
                    f"{name}: {differ:,} of {run['compared']:,} numbers, dates and states differ from the results"
                    + (
                        f" ({', '.join(f'{key} {rows}' for key, rows in run['differ'].items() if rows)})"
                        if differ
                        else ""
                    )
                    + f"; most memory {run['peak_mb']:,.0f} MB."
                )
        words += [
            "",
            f"The fleet for pandas ({one.pandas.facts.readings:,} readings) has none of the rules left out there: "
            "events and changes of service, deferrals, set intervals, on-stream inspections, stated and chosen rates, "
            "recommendations, idle and retired vessels, operating years. pandas works out the main results only; the "
            "computing part also those with held readings and with the last reading off by its scatter, on two other "
            "radius bases, the fitted rate, bands, MAWP and the reasons in words. Loading the frames is not counted.",
        ]
    heads = ("baseline", "computing part, s", "baseline, s", "ratio", "by the clock")
    return [f"## Against baselines at {one.facts.readings:,} readings", "", *_table(heads, rows), "", *words]


def _against(
    name: str,
    builds: Sequence[Run],
    baseline: Sequence[Run],
    ratio: Callable[[float, float], tuple[str, float]],
    verdict: Callable[[float], str],
) -> tuple[str, ...]:
    ours = {what: median_of(builds, computes, what) for what in ("cpu", "wall")}
    theirs = {what: statistics.median(lap[what] for run in baseline for lap in run["laps"]) for what in ("cpu", "wall")}
    words, times = ratio(ours["cpu"], theirs["cpu"])
    clock = ratio(ours["wall"], theirs["wall"])[1]
    return (
        name,
        _seconds(ours["cpu"], ours["wall"]),
        _seconds(theirs["cpu"], theirs["wall"]),
        f"{words} {times:.2f}, {verdict(times)}",
        f"{clock:.2f}, {verdict(clock)}",
    )


def one_changed(reread: Reread) -> list[str]:
    """The reading part of a second build with one changed sheet."""
    rows = []
    for name, run in (("first build", reread.first), (f"`{reread.changed}` changed", reread.second)):
        lap = run["laps"][0]
        rows.append((name, run["said"], _seconds(lap["cpu"], lap["wall"]), _seconds(**run["build"])))
    first, second = (sum(lap["cpu"] for lap in run["laps"]) for run in (reread.first, reread.second))
    heads = ("build", "what it says", "reading part, s", "whole build, s")
    return [
        "## One changed sheet of many",
        "",
        *_table(heads, rows),
        "",
        f"The reading part (files to facts in the database) of the second build takes {second / first:.2f} of the "
        "first's.",
    ]


# ---- words ----------------------------------------------------------------------------------------------------------


def median_of(builds: Sequence[Run], belongs: Callable[[Lap], bool], what: str) -> float:
    """The median over builds of the summed laps."""
    return statistics.median(sum(lap[what] for lap in build["laps"] if belongs(lap)) for build in builds)


def _seconds(cpu: float, wall: float) -> str:
    return f"{cpu:.2f} ({wall:.2f})"


def _verdict(good: bool, goal: str) -> str:
    return f"{'within' if good else 'OUTSIDE'} the goal of {goal}"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(heads) + " |", "|---" * len(heads) + "|"]
    return lines + ["| " + " | ".join(row) + " |" for row in rows]
