"""Kill builds, acceptances and entries at random instants: `python -m tests.bench.faults [--trials 200] [--seed N]`.

Writes a table: how often each work was killed, what was left, and every fault seen. Exit code 1 where there is any.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.faults import WORKS, Killer, Trial


def main() -> int:
    """Run the trials and print what was seen."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        killer = Killer(Path(folder), options.seed)
        trials: list[Trial] = []
        afterwards: list[str] = []
        for number in range(options.trials):
            trials.append(killer.trial(tuple(WORKS)[number % len(WORKS)]))
            if number % 10 == 9 and (fault := killer.goes_on()):
                afterwards.append(fault)
    print("| work | killed | had ended | old results | new results | confirmed entries or ends | faults |")
    print("|---|---|---|---|---|---|---|")
    for work in WORKS:
        of_it = [trial for trial in trials if trial.work == work]
        results = Counter(trial.results for trial in of_it)
        ended = sum(trial.ended_itself for trial in of_it)
        confirmed = sum(trial.confirmed for trial in of_it)
        faults = sum(len(trial.faults) for trial in of_it)
        cells = (work, len(of_it) - ended, ended, results["old"], results["new"], confirmed, faults)
        print("| " + " | ".join(map(str, cells)) + " |")
    for trial in trials:
        for fault in trial.faults:
            print(f"{trial.work}, killed after {trial.seconds:.2f} s: {fault}")
    for fault in afterwards:
        print(f"the next build: {fault}")
    return 1 if afterwards or any(trial.faults for trial in trials) else 0


if __name__ == "__main__":
    sys.exit(main())
