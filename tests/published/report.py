"""Write TABLE.md: every published value beside the one the clauses give. `python -m tests.published.report`."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:  # run as a file and not as a module
    sys.path.insert(0, str(ROOT))

from tests.published.recompute import STATUS, Check, read_checks, read_not_used  # noqa: E402

TABLE = Path(__file__).with_name("TABLE.md")

_RULES = {
    "exact": "exact",
    "rounded": "rounded",
    "truncated": "cut off",
    "raised": "rounded up",
    "wrong": "SOURCE WRONG",
    "unlike": "must differ",
}


def table() -> str:
    """Return the Markdown text."""
    checks = read_checks()
    counted = Counter(check.read_or_memory for check in checks)
    lines = [
        "# Published values, recomputed",
        "",
        "Written by `python -m tests.published.report` from `checks.csv`; a test keeps it up to date. *Printed* is the",
        "number as the source prints it, *expected* the one to agree with (another where the printed one must not come",
        "out), *difference* is got less expected. A row whose status is `memory` has not been seen in its source.",
        "",
        *(f"- {status}: {counted[status]}" for status in STATUS if counted[status]),
        "",
        "| check | source | place | status | clauses | printed | how | expected | got | difference | unit | note |",
        "|---|---|---|---|---|---:|---|---:|---:|---:|---|---|",
        *(_line(check) for check in checks),
        "",
        "## Met and not used",
        "",
        "| check | source | place | printed | ours | why |",
        "|---|---|---|---:|---:|---|",
        *("| " + " | ".join(row.values()) + " |" for row in read_not_used()),
        "",
    ]
    return "\n".join(lines)


def _line(check: Check) -> str:
    expected = check.right or check.printed
    got = check.got()
    difference = got - float(expected)
    cells = (
        check.id,
        check.source,
        check.place,
        check.read_or_memory,
        check.chain.replace(" > ", ", "),
        check.printed,
        _RULES[check.rule],
        expected,
        f"{got:.8g}",
        f"{difference:+.2g}" if abs(difference) > 1e-9 * abs(float(expected)) else "0",
        check.unit,
        check.note,
    )
    return "| " + " | ".join(cell.replace("|", r"\|") for cell in cells) + " |"


def main() -> None:
    """Write the table and say how many checks hold."""
    checks = read_checks()
    faults = [fault for check in checks if (fault := check.fault())]
    TABLE.write_text(table(), encoding="utf-8")
    print(f"{len(checks) - len(faults)} of {len(checks)} checks hold; written to {TABLE.name}")
    for fault in faults:
        print(fault)
    if faults:
        sys.exit(1)


if __name__ == "__main__":
    main()
