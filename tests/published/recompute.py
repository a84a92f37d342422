"""Recompute the rows of `checks.csv` through the clauses: units in, clause after clause, unit out.

`chain` lists clauses in order, each result being an input of the next; a step `R=R_n` gives a quantity a second name.
`rule` says how the source printed its number: `exact` (to one part in a billion), `rounded` (half a unit of the last
printed digit), `truncated` (cut, so ours lies from it to one unit above), `raised` (rounded up, one unit below). Two
are negative: `wrong` (the source is wrong) and `unlike` (another road than the source's); the printed number must NOT
come out, and ours agrees with `right` to half a unit of its last digit.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from pipeline.formulas import FORMULAS
from pipeline.quantities import QUANTITIES
from pipeline.units import find_unit

CHECKS = Path(__file__).with_name("checks.csv")
NOT_USED = Path(__file__).with_name("not_used.csv")

RULES = ("exact", "rounded", "truncated", "raised", "wrong", "unlike")
NEGATIVE = ("wrong", "unlike")
STATUS = ("read", "rule read, numbers own", "inputs read, value own", "memory", "own")


@dataclass(frozen=True)
class Check:
    """One printed value and everything needed to recompute it."""

    id: str
    chain: str
    inputs: str
    result: str
    printed: str
    right: str
    unit: str
    rule: str
    source: str
    place: str
    read_or_memory: str
    note: str

    def got(self) -> float:
        """Recompute the value, in the unit the source printed it in."""
        values = read_inputs(self.inputs)
        for step in self.chain.split(" > "):
            if "=" in step:
                name, known = step.split("=")
                values[name] = values[known]
            else:
                formula = FORMULAS[step]
                value = formula.evaluate(values)
                if value is None:
                    raise ValueError(f"{self.id}: {step} gives no value: {formula.unmet_limits(values)}")
                values[formula.result] = value
        return values[self.result] / factor(self.unit, self.result)

    def fault(self) -> str | None:
        """Return what is wrong, or None where the recomputed value keeps the rule."""
        got = self.got()
        if self.rule in NEGATIVE:
            if abs(got - float(self.printed)) <= unit_of_last_digit(self.printed) / 2:
                return f"{self.id}: {got!r} reproduces {self.printed}, which must not come out"
            return self._off(got, self.right, "rounded")
        return self._off(got, self.printed, self.rule)

    def _off(self, got: float, text: str, rule: str) -> str | None:
        unit, wanted = unit_of_last_digit(text), float(text)
        grain = 1e-9 * abs(wanted)  # a tie may miss half a unit by the last binary digits
        low, high = {
            "exact": (0.0, 0.0),
            "rounded": (-unit / 2, unit / 2),
            "truncated": (0.0, unit),
            "raised": (-unit, 0.0),
        }[rule]
        if wanted + low - grain <= got <= wanted + high + grain:
            return None
        return f"{self.id}: {got!r} {self.unit} is not {text} ({rule})"


def unit_of_last_digit(text: str) -> float:
    """Return the unit of the last printed digit: 0.01 for "0.50", 1 for "729"."""
    _, _, decimals = text.partition(".")
    return 10.0 ** -len(decimals)


def factor(unit: str, name: str) -> float:
    """Return the factor from a unit to the one kept inside for a quantity; units without a factor must be the same."""
    if unit == QUANTITIES[name].unit:
        return 1.0
    known = find_unit(unit)
    if known is not None:
        if known.offset:
            raise ValueError(f"{name}: {unit} has an offset")
        return known.factor
    above, _, below = unit.partition("/")
    upper, lower = find_unit(above), find_unit(below)
    if upper is None or lower is None:
        raise ValueError(f"{name}: the unit {unit} is not known")
    return upper.factor / lower.factor


def read_inputs(text: str) -> dict[str, float]:
    """Read `P=312.99 psi; E=0.90` into values by symbol, in the unit kept inside."""
    values = {}
    for part in text.split("; "):
        name, _, written = part.partition("=")
        number, _, unit = written.partition(" ")
        values[name] = float(number) * factor(unit or "-", name)
    return values


def read_checks() -> list[Check]:
    """Return the rows of checks.csv."""
    with CHECKS.open(encoding="utf-8", newline="") as lines:
        return [Check(**row) for row in csv.DictReader(lines)]


def read_not_used() -> list[dict[str, str]]:
    """Return the values that were met and cannot be used, each with the reason."""
    with NOT_USED.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
