"""One row of `Calculation`: each planned result as a live formula, the program's value and their difference."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from pipeline.audit.cells import DATE_FORMAT, Live, Styled, coherent, date_format, format_of, next_letter
from pipeline.audit.inputs import Given
from pipeline.audit.layout import Columns, Result, Word
from pipeline.audit.plan import Clause, DateAfter, Days, Earlier, Plan, Planned, Same, Zero
from pipeline.audit.results import FIRST_ROW, Results
from pipeline.formulas import FORMULAS, Formula
from pipeline.quantities import QUANTITIES, Quantity

#: Below this size (in the unit of its column) a value is compared as if it were this large: a rate of zero has no
#: relative difference, only the last binary digits of the two thicknesses it was taken from.
SMALLEST = 1e-4
NOT_HERE = "—"
_TOKEN = re.compile(r"\{(\w:\w+)\}")


_NOT_HERE = (Styled(NOT_HERE, "dash"), None, None)


class _Place(NamedTuple):
    """What the three cells of a result have in common in every row: its quantity, format and, § the row, difference."""

    clause_differs: bool
    quantity: Quantity | None
    number_format: str
    difference: str
    live: str
    beside: str


class Writer:
    """Turns the plan of one row into cells: live result, the program's value, and the difference."""

    def __init__(self, results: Results, columns: Columns) -> None:
        self.results = results
        self.columns = columns
        self.system = results.system
        self._templates: dict[Planned, str] = {}
        self._shared: dict[str, tuple[int, str]] = {}
        self._last = FIRST_ROW + max(results.count, 1) - 1
        self._policies = {f"p:{key}": value for key, value in results.policy.items()}
        self._places = [
            (entry.key, None if isinstance(entry, Word) else self._place(entry)) for entry in columns.layout
        ]

    def _place(self, entry: Result) -> _Place:
        live = self.columns.letter[f"c:{entry.key}"]
        program = next_letter(live)
        compared = f"ABS({live}§-{program}§)/MAX(ABS({program}§),{SMALLEST!r})"
        return _Place(
            entry.clause_differs,
            entry.quantity,
            format_of(entry.quantity, self.system) if entry.quantity else "",
            f"=IF(COUNT({live}§,{program}§)<2,1,{compared})",
            live,
            next_letter(live, 2),
        )

    def cells(self, at: int, governs: bool, known: Mapping[str, Any], plan: Plan) -> Iterator[Any]:
        """Yield the cells of one row of `Calculation`; `known` is what `known` returns for the plan."""
        words = self.words(governs, plan)
        row = str(at)
        for key, place in self._places:
            if place is None:
                yield words[key]
                continue
            planned = plan.steps.get(key)
            if place.clause_differs:
                yield Styled(self.clause(planned), "source")
            if planned is None:
                yield from _NOT_HERE
                continue
            stored = plan.stored.get(key)
            reason = self.why_none(planned, stored, known)
            if reason or isinstance(planned, str):
                yield from (Styled(reason, "reason"), None, None)
                continue
            shown = stored if place.quantity is None else coherent(stored, place.quantity, self.system)
            number_format = date_format(shown) if place.quantity is None else place.number_format
            yield Styled(self.live(place.live, self.template(planned), row, shown), "live", number_format)
            yield Styled(shown, "stored", number_format)
            yield Styled(self.live(place.beside, place.difference, row, None), "difference", "0.0E+00")

    def live(self, letter: str, template: str, row: str, known: Any) -> Live:
        """Return the formula of a cell from its template, in which § is the row.

        The first template of a column is written once and shared down to the last row; of two sharing one column it
        would not be sure that every reader tells them apart, so any other is written in each cell.
        """
        number, owner = self._shared.get(letter, (-1, ""))
        if owner == template:
            return Live("", known, (number, ""))
        if owner:
            return Live(template.replace("§", row), known)
        number = len(self._shared)
        self._shared[letter] = (number, template)
        return Live(template.replace("§", row), known, (number, f"{letter}{row}:{letter}{self._last}"))

    def known(self, given: Mapping[str, Given], plan: Plan) -> dict[str, Any]:
        """Return what the program knows of each input, result and policy of a row, in the units kept inside."""
        known = self._policies.copy()
        for key, entry in given.items():
            known[f"i:{key}"] = entry.value
        for key, value in plan.stored.items():
            known[f"c:{key}"] = value
        return known

    def inputs_used(self, known: Mapping[str, Any], plan: Plan) -> set[str]:
        """Return the tokens of the inputs to which the live formulas of a row refer."""
        used: set[str] = set()
        for key, planned in plan.steps.items():
            if isinstance(planned, str) or self.why_none(planned, plan.stored.get(key), known):
                continue
            match planned:
                case Clause(_, cells):
                    used.update(token for _, token in cells)
                case Same(token, holds):
                    used.update((token, *_TOKEN.findall(holds)))
                case Zero(holds):
                    used.update(_TOKEN.findall(holds))
                case Days(first, last) | DateAfter(first, last):
                    used.update((first, last))
                case Earlier(first, days, other):
                    used.update((first, days, other))
        return used

    # ---- formulas ---------------------------------------------------------------------------------------------------

    def template(self, planned: Planned) -> str:
        """Return the formula of a planned result with § for the row."""
        made = self._templates.get(planned)
        if made is None:
            made = self._templates[planned] = self._template(planned)
        return made

    def _template(self, planned: Planned) -> str:
        cell = self.columns.reference
        match planned:
            case Clause(formula, cells):
                return FORMULAS[formula].sheet_formula({symbol: cell(token) for symbol, token in cells})
            case Same(token, ""):
                return f"={cell(token)}"
            case Same(token, holds):
                return f"=IF({self.filled(holds)},{cell(token)},NA())"
            case Zero(holds):
                return f"=IF({self.filled(holds)},0,NA())"
            case Days(first, last):
                return f"=IF(COUNT({cell(first)},{cell(last)})<2,NA(),{cell(last)}-{cell(first)})"
            case DateAfter(first, days):
                return f"=IF(COUNT({cell(first)},{cell(days)})<2,NA(),{cell(first)}+{cell(days)})"
            case Earlier(first, days, other):
                sooner = f"MIN({cell(first)}+{cell(days)},{cell(other)})"
                either = f"IF(COUNT({cell(first)},{cell(days)})<2,{cell(other)},{sooner})"
                return f"=IF(COUNT({cell(other)})<1,NA(),{either})"

    def filled(self, condition: str) -> str:
        """Put cells in the place of the tokens of a condition."""
        return _TOKEN.sub(lambda found: self.columns.reference(found[1]), condition)

    # ---- words ------------------------------------------------------------------------------------------------------

    def why_none(self, planned: Planned | str, stored: Any, known: Mapping[str, Any]) -> str:
        """Return why there is no live result; empty where there is one.

        Where the program has a value the formula is written in any case: a value without its formula is a difference.
        """
        if isinstance(planned, str):
            return planned
        return self.reason(planned, known) if stored is None else ""

    def reason(self, planned: Planned, known: Mapping[str, Any]) -> str:
        """Return why a result cannot be worked out from what is known; empty where it can."""
        match planned:
            case Clause(formula_id, cells):
                formula = FORMULAS[formula_id]
                values = {symbol: known.get(token) for symbol, token in cells}
                absent = [self.columns.label.get(token, token) for symbol, token in cells if values[symbol] is None]
                if absent:
                    return "missing: " + ", ".join(dict.fromkeys(absent))
                unmet = "; ".join(limit.otherwise for limit in formula.unmet_limits(values))
                return unmet or ("" if formula.evaluate(values) is not None else "no finite number results")
            case Same(token, _):
                return "" if known.get(token) is not None else f"missing: {self.columns.label[token]}"
            case Days(first, last) | DateAfter(first, last):
                absent = [self.columns.label[token] for token in (first, last) if known.get(token) is None]
                return "missing: " + ", ".join(absent) if absent else ""
            case Earlier(_, _, other):
                return "" if known.get(other) is not None else f"missing: {self.columns.label[other]}"
            case Zero():
                return ""

    @staticmethod
    def clause(planned: Planned | str | None) -> str | None:
        """Return the clause in words, where there is one."""
        if isinstance(planned, Clause):
            return name_of(FORMULAS[planned.formula])
        return planned.clause if isinstance(planned, Same) else None

    def words(self, governs: bool, plan: Plan) -> dict[str, Any]:
        """Return the columns of words of one row."""
        place, whole, pressed = plan.place, plan.whole, plan.pressed["weld"]
        region = place["weld_region"]
        counts = f"{region}; {place['region_counted']} counts" if region else None
        form = f"{plan.size_symbol}, {pressed['dimension_form']} form" if plan.size_symbol else None
        pressure_format = format_of(QUANTITIES["MAWP"], self.system)
        lowest = {
            at: coherent(whole[column], QUANTITIES["MAWP"], self.system)
            for at, column in (("now", "mawp_mpa"), ("next", "mawp_next_mpa"))
        }
        return {
            "asset": whole["asset"],
            "component": whole["component"],
            "location": place["location"] or Styled("no place", "reason"),
            "governs": "yes" if governs else "no",
            "kind": whole["kind"] or Styled(f"not known: {whole['kind_text'] or 'none given'}", "reason"),
            "zone": pressed["zone"],
            "state": place["state"] or whole["state"],
            "missing": place["missing"] or whole["missing"],
            "form": form,
            "region": counts,
            "case": place["governing_case"],
            "rate_from": place["rate_from"],
            "due_of_all": Styled(whole["due_on"] or "not known", "stored", DATE_FORMAT),
            "retirement_of_all": Styled(whole["retirement_on"] or "none known", "stored", DATE_FORMAT),
            "mawp_of_all": Styled(_or_not_known(lowest["now"]), "stored", pressure_format),
            "mawp_next_of_all": Styled(_or_not_known(lowest["next"]), "stored", pressure_format),
        }


def _or_not_known(value: Any) -> Any:
    return "not known" if value is None else value


def name_of(formula: Formula) -> str:
    """Return clause and document as a heading names them."""
    named = formula.document in formula.clause
    return formula.clause if named else f"{formula.clause} ({formula.document})"
