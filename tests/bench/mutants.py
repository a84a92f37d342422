"""Whether the tests would notice one wrong mark in a clause, or in a step of intervals and due dates.

Run `python -m tests.bench.mutants` for all of them, with `--sample N` for so many of each group, with `--only NAME`
(a clause's id or a step's name, `*` and `?` allowed, more than once if need be) for some. Each mutant is one change (an
operator, a comparison, a constant, a name, a branch, a condition left out); it lives in the memory of a process, never
in a file, and the tests that could notice it are asked, the quickest first, until one fails.

Not counted are mutants that cannot be written: the language of clauses or the database refuses them. A mutant that no
input tells from the clause or the step itself is listed, with the reason, in `equivalent_mutants.csv`.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from fnmatch import fnmatchcase
from multiprocessing import get_context
from pathlib import Path

from pipeline.expression import ExpressionError
from tests.bench import mutated_clauses, mutated_steps
from tests.bench.mutated_clauses import ClauseChecks, ClauseMutant
from tests.bench.mutated_steps import Refused, StepChecks, StepMutant

EQUIVALENT = Path(__file__).with_name("equivalent_mutants.csv")
GOAL = 90.0
CLAUSES, STEPS = "clauses", "steps"
OUTCOMES = ("caught", "survived", "equivalent", "refused")
Mutant = ClauseMutant | StepMutant


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant, and the test that found it out."""

    mutant: Mutant
    outcome: str
    by: str = ""


# ---- which mutants --------------------------------------------------------------------------------------------------


def main() -> int:
    """Plant the mutants, print what became of them; 1 where too few of a group are caught."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--sample", type=int, help="so many of each group, drawn from a seed")
    asked.add_argument("--only", action="append", help="a clause's id or a step's name; * and ? allowed")
    asked.add_argument("--group", choices=(CLAUSES, STEPS), help="one group alone")
    asked.add_argument("--seed", type=int, default=1, help="seed of the sample")
    asked.add_argument("--processes", type=int, default=2, help="processes at work, two at most")
    given = asked.parse_args()
    enough = True
    for group in (CLAUSES, STEPS) if given.group is None else (given.group,):
        mutants = chosen(all_of(group), given.only, given.sample, given.seed)
        if mutants:
            begun, spent = time.perf_counter(), processor_time()
            found = judged(group, mutants, min(2, given.processes))
            print("\n".join(told(group, found)))
            print(
                f"{time.perf_counter() - begun:.0f} s, {processor_time() - spent:.0f} s of processor time\n", flush=True
            )
            enough = enough and share_caught(found) >= GOAL
    return int(not enough)


def all_of(group: str) -> list[Mutant]:
    """Return every mutant of a group, in the order in which clauses and steps are written."""
    if group == CLAUSES:
        return [mutant for formula in mutated_clauses.clauses() for mutant in mutated_clauses.mutants_of(formula)]
    return [mutant for step in mutated_steps.steps() for mutant in mutated_steps.mutants_of(step)]


def chosen(mutants: Sequence[Mutant], only: Sequence[str] | None, sample: int | None, seed: int) -> list[Mutant]:
    """Return those asked for, in their order."""
    asked = [mutant for mutant in mutants if not only or any(fnmatchcase(mutant.of, name) for name in only)]
    if sample is None or sample >= len(asked):
        return asked
    drawn = set(random.Random(seed).sample(range(len(asked)), sample))
    return [mutant for number, mutant in enumerate(asked) if number in drawn]


# ---- what becomes of them -------------------------------------------------------------------------------------------

_checks: ClauseChecks | StepChecks


def _begin(group: str) -> None:
    global _checks
    _checks = ClauseChecks() if group == CLAUSES else StepChecks()


def _judge(mutants: Sequence[Mutant]) -> list[Outcome]:
    found = []
    for mutant in mutants:
        try:
            by = _checks.found_out_by(mutant)  # type: ignore[arg-type]
            found.append(Outcome(mutant, "survived" if by is None else "caught", by or ""))
        except (ExpressionError, Refused) as refusal:
            found.append(Outcome(mutant, "refused", str(refusal)))
    return found


def judged(group: str, mutants: Sequence[Mutant], processes: int) -> list[Outcome]:
    """Judge every mutant in processes of their own and hold the survivors against the table of equivalent ones."""
    pieces = [mutants[begin : begin + 10] for begin in range(0, len(mutants), 10)]
    found: list[Outcome] = []
    with ProcessPoolExecutor(processes, get_context("spawn"), _begin, (group,)) as pool:
        for outcomes in pool.map(_judge, pieces):
            found += outcomes
            if sys.stderr.isatty():
                print(f"\r{len(found)} of {len(mutants)}", end="", file=sys.stderr, flush=True)
    known = equivalent()
    return [
        Outcome(each.mutant, "equivalent", known[reason])
        if each.outcome == "survived" and (reason := _named(each.mutant, known)) is not None
        else each
        for each in found
    ]


def equivalent() -> dict[tuple[str, str], str]:
    """Return the reasons of the mutants that nothing can tell from the original, by clause or step and change."""
    with EQUIVALENT.open(encoding="utf-8", newline="") as lines:
        return {(row["of"], row["mutant"]): row["reason"] for row in csv.DictReader(lines)}


def _named(mutant: Mutant, known: Iterable[tuple[str, str]]) -> tuple[str, str] | None:
    for of, said in known:
        if fnmatchcase(mutant.of, of) and said == mutant.said:
            return of, said
    return None


# ---- what is told ---------------------------------------------------------------------------------------------------


def share_caught(found: Sequence[Outcome]) -> float:
    """Return the share of caught among those that are neither refused nor equivalent, in per cent."""
    counts = Counter(each.outcome for each in found)
    asked = counts["caught"] + counts["survived"]
    return 100.0 * counts["caught"] / asked if asked else 100.0


def told(group: str, found: Sequence[Outcome]) -> list[str]:
    """Return the table by clause or step, and every survivor."""
    width = max(len("in all"), *(len(each.mutant.of) for each in found))
    lines = [f"{group:{width}}  {'caught':>8} {'survived':>8} {'equivalent':>10} {'refused':>8}   share caught"]
    for of in (*dict.fromkeys(each.mutant.of for each in found), "in all"):
        own = [each for each in found if of in ("in all", each.mutant.of)]
        counts = Counter(each.outcome for each in own)
        lines.append(
            f"{of:{width}}  {counts['caught']:8d} {counts['survived']:8d} {counts['equivalent']:10d} "
            f"{counts['refused']:8d}   {share_caught(own):5.1f} %"
        )
    survivors = [each.mutant for each in found if each.outcome == "survived"]
    if survivors:
        lines += ["", "survived:", *(f"  {mutant.of}: {mutant.said}" for mutant in survivors)]
    return lines


def processor_time() -> float:
    """Return the processor time of this process and of those it has waited for, in seconds."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


if __name__ == "__main__":
    sys.exit(main())
