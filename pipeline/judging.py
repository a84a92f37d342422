"""What a row would do before anybody enters it: the very steps, run on one asset's facts with and without it.

Nothing is written. The facts are those of the published results, with everything entered since; both sides are worked
for the same day. The rank is left out: it depends on the other assets, and changes with the next results.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb

from pipeline.basis import Basis, read_basis
from pipeline.errors import Problem
from pipeline.reading import in_place
from pipeline.record import RECORD_NAME, VERDICTS, Decision, Entry, Record
from pipeline.sheets import Intake
from pipeline.sheets.entries import ENTRIES, Typed, check_entry, read_entries
from pipeline.trial import Bench, put_facts, rows_of
from pipeline.turnaround_dates import Turnaround
from pipeline.units import DISPLAY, noun, show

Row = dict[str, Any]

#: The rates a person may choose from, each with the column of a place that holds it.
RATE_CHOICES = {
    "long-term": "rate_lt_mm_per_year",
    "short-term": "rate_st_mm_per_year",
    "least squares": "rate_fit_mm_per_year",
    "fit upper bound": "rate_fit_upper_mm_per_year",
    "stated": "stated_rate_mm_per_year",
    "similar service": "similar_rate_mm_per_year",
    "named rate": "rate_selected_mm_per_year",
}
#: What a rate is called where people read it, other than its word on the sheets.
RATE_WORDS = {"fit upper bound": "least squares, upper 95 % bound"}
#: Why a reading is held, as it is said behind the word.
HELD_AS = {
    "growth": "for growth",
    "likely mistake": "as a likely mistake",
    "same-day conflict": "for a same-day conflict",
}
#: A whole survey may be held at once; each reading is worked twice, and nobody decides on more of them in one sitting.
MOST_HELD = 12


@dataclass(frozen=True)
class Standing:
    """How one asset stands by the steps: its row, and what is on record of it, as rows of plain values."""

    asset: Row
    components: list[Row]
    places: list[Row]
    readings: list[Row]
    due_dates: list[Row]

    def place(self, component: str, location: str) -> Row | None:
        """Return one place, None where there is none of that name."""
        return next((row for row in self.places if (row["component"], row["location"]) == (component, location)), None)

    def held_places(self) -> Counter[tuple[str, str]]:
        """Return how many readings wait for a person at each place, by component and location."""
        return Counter((row["component"], row["location"]) for row in self.readings if row["status"] == "held")

    @property
    def held(self) -> dict[str | None, int]:
        """How many readings wait for a person, by component; under None those of the whole asset."""
        return {None: self.asset["held_readings"]} | {row["component"]: row["held_readings"] for row in self.components}


@dataclass(frozen=True)
class JudgedReading:
    """What the steps say of one reading on trial: its place, what it was read as, and what would become of it."""

    component: str
    location: str
    read_on: date
    thickness_mm: float
    text: str
    status: str
    held_for: str | None
    flags: str
    previous_mm: float | None
    previous_on: date | None
    change_mm: float | None
    t_req_mm: float | None
    below_required: bool


@dataclass(frozen=True)
class Moved:
    """One date or state before and after, with the days between where both are dates.

    A state is told with the readings that are held, as on every page: held ones alone make it another.
    """

    what: str
    component: str | None
    location: str | None
    before: date | str | None
    after: date | str | None
    days: int | None


@dataclass(frozen=True)
class Judgement:
    """The asset without and with the rows on trial, and what they would change.

    `turnaround` is the next one at the day both sides are worked for, None where none is on record.
    """

    asset: str
    worked_on: date
    published_on: date
    before: Standing
    after: Standing
    readings: list[JudgedReading]
    not_measured: list[Row]
    moved: list[Moved]
    remarks: list[str] = field(default_factory=list)
    turnaround: Turnaround | None = None

    @property
    def changes_nothing(self) -> bool:
        """No state, no date and no number of held readings would differ."""
        return not self.moved and self.before.held == self.after.held

    @property
    def moves_a_date(self) -> bool:
        """Some date would be another one, come or go."""
        return any(isinstance(side, date) for one in self.moved for side in (one.before, one.after))

    def measure_again(self, place: Row) -> str:
        """Return by when a place is to be measured again, in words."""
        if place["due_on"] is None:
            return "—"
        return f"{place['due_on'].isoformat()}{self._early(place['due_on'], place['state'])}"

    def early_for_its_turnaround(self, moved: Moved) -> str:
        """Return what is to be added to a due date that would be called due by the turnaround and lies before it
        begins; empty for any other."""
        due = next((row for row in self.after.due_dates if row["kind"] == moved.what), None)
        return self._early(due["due_on"], due["state"]) if due and due["due_on"] else ""

    def _early(self, due_on: date, state: str) -> str:
        if state != "due by turnaround" or self.turnaround is None or due_on >= self.turnaround.start_on:
            return ""
        return f", before {self.turnaround.name} begins"


@dataclass(frozen=True)
class RateOption:
    """One rate a person may choose for a place, and what it would give. `in_force` where a person chose it, `by_policy`
    where the plant's policy selects it by itself; `why_not` says why it cannot be chosen."""

    choice: str
    rate_mm_per_year: float | None
    remaining_life_years: float | None
    no_measurable_loss: bool
    retirement_on: date | None
    due_on: date | None
    asset_due_on: date | None
    in_force: bool
    by_policy: bool
    why_not: str | None = None


@dataclass(frozen=True)
class HeldReading:
    """A reading that waits for a person, with the dates of its place and of its asset by either verdict."""

    component: str
    location: str
    read_on: date
    thickness_mm: float
    text: str
    source: str
    held_for: str | None
    flags: str
    due_on: date | None
    due_if_accepted: date | None
    due_if_rejected: date | None
    asset_due_on: date | None
    asset_due_if_accepted: date | None
    asset_due_if_rejected: date | None


# ---- questions ------------------------------------------------------------------------------------------------------


def judge(
    results: duckdb.DuckDBPyConnection,
    folder: Path,
    asset: str,
    typed: Sequence[Typed] = (),
    decisions: Sequence[Decision] = (),
) -> Judgement:
    """Return what these rows would change on an asset. Writes nothing.

    Raises Problem where the asset is not in the results, or a row cannot be used: a row that could not be entered is
    not tried.
    """
    basis = read_basis(folder)
    remarks = []
    for at, row in enumerate(typed, start=1):
        if (row.cells.get("asset") or "").strip() != asset:
            raise Problem(f"a row on trial is not about {asset}: correct its tag")
        try:
            remarks += check_entry(row, basis, date.today())
        except Problem as problem:
            raise Problem(f"row {at}: {problem}" if len(typed) > 1 else str(problem)) from problem
    with desk_for(results, folder, asset) as desk:
        with desk.worked(typed, decisions) as trial:
            day, after, found, missed = trial.day, trial.standing(), trial.found(), trial.missed()
            ahead = trial.turnaround()
        if desk.is_as_published and day == desk.published_on:
            before = Worked(results.cursor(), asset, day, [], Intake()).standing()
        else:
            with desk.worked(day=day) as trial:
                before = trial.standing()
    return Judgement(
        asset=asset,
        worked_on=day,
        published_on=desk.published_on,
        before=before,
        after=after,
        readings=[_judged(reading, after) for reading in found],
        not_measured=missed,
        moved=_moved(before, after),
        remarks=list(dict.fromkeys(remarks)),
        turnaround=ahead,
    )


def rate_options(
    results: duckdb.DuckDBPyConnection, folder: Path, asset: str, component: str, location: str
) -> list[RateOption]:
    """Return every rate that may be chosen for a place, with the life and the dates it would give.

    A named rate is among them only where one is in force: any other has to be named first. Raises Problem where there
    is no such place.
    """
    options = []
    with desk_for(results, folder, asset) as desk:
        with desk.worked() as trial:
            day, stands = trial.day, trial.standing()
        today = stands.place(component, location)
        if today is None:
            raise Problem(f"{asset}: {in_place(component, location)}: there is no such place in these results")
        chosen = _choice_in_force(today)
        for choice, column in RATE_CHOICES.items():
            if choice == chosen:
                options.append(_option(choice, today, stands, today, True))
            elif choice == "named rate":
                continue
            elif today[column] is None:
                options.append(_option(choice, None, stands, today, False))
            else:
                with desk.worked([rate_choice(asset, component, location, choice, day)], day=day) as trial:
                    would = trial.standing()
                options.append(_option(choice, would.place(component, location), would, today, False))
    return options


def rate_choice(
    asset: str, component: str, location: str, choice: str, on: date, by: str = "trial", reason: str = "trial",
    **more: str,
) -> Typed:  # fmt: skip
    """Return a choice of rate for a place as a row to be entered; `more` adds cells, such as a named rate."""
    cells = {
        "asset": asset, "component": component, "location": location, "rate choice": choice, "chosen by": by,
        "chosen on": on.isoformat(), "reason": reason,
    }  # fmt: skip
    return Typed("rate choices", {**cells, **more})


def held_readings(results: duckdb.DuckDBPyConnection, folder: Path, asset: str) -> list[HeldReading]:
    """Return the readings of an asset that wait for a person, newest first, each with the dates either verdict gives.

    A reading already decided on since the results were made is left out.
    """
    held = []
    with desk_for(results, folder, asset) as desk:
        with desk.worked() as trial:
            day, stands = trial.day, trial.standing()
        waiting = [row for row in stands.readings if row["status"] == "held"]
        for row in sorted(waiting, key=lambda row: (row["read_on"], row["component"], row["location"]), reverse=True):
            where = (row["component"], row["location"])
            would = {}
            for verdict in VERDICTS:
                with desk.worked(decisions=[_decision(row, verdict)], day=day) as trial:
                    would[verdict] = trial.standing()
            held.append(
                HeldReading(
                    *where,
                    read_on=row["read_on"],
                    thickness_mm=row["thickness_mm"],
                    text=row["text"],
                    source=", ".join(filter(None, (row["file"], row["sheet"], row["cell"]))),
                    held_for=row["held_for"],
                    flags=row["flags"],
                    due_on=_due_at(stands, where),
                    due_if_accepted=_due_at(would["accept"], where),
                    due_if_rejected=_due_at(would["reject"], where),
                    asset_due_on=stands.asset["due_on"],
                    asset_due_if_accepted=would["accept"].asset["due_on"],
                    asset_due_if_rejected=would["reject"].asset["due_on"],
                )
            )
            if len(held) == MOST_HELD:
                break
    return held


def _due_at(standing: Standing, where: tuple[str, str]) -> date | None:
    place = standing.place(*where)
    return place["due_on"] if place else None


def decision_on(reading: HeldReading, asset: str, verdict: str) -> Decision:
    """Return the verdict on a held reading, as the record takes it."""
    return Decision(asset, reading.component, reading.location, reading.read_on, reading.thickness_mm, verdict)


def held_in_words(judgement: Judgement) -> str:
    """Return how many held readings the asset and its components would carry, in one sentence without its full stop;
    empty where it is as many as today."""
    before, after = judgement.before.held, judgement.after.held
    changed: dict[int, list[str]] = {}
    for component, count in after.items():
        if count != before.get(component, 0):
            changed.setdefault(count, []).append(component or judgement.asset)
    return "; ".join(
        f"{' and '.join(filter(None, (', '.join(names[:-1]), names[-1])))} would carry "
        f"{noun(count, 'held reading') if count else 'no held reading'}"
        for count, names in changed.items()
    )


def in_words(judgement: Judgement, system: str) -> list[str]:
    """Return what a person should know of the readings on trial, one sentence each, in a unit system."""
    said = []
    for reading in judgement.readings:
        where = f"{in_place(reading.component, reading.location)}, {reading.read_on.isoformat()}"
        thickness = show(reading.thickness_mm, "thickness", system)
        parts = [f"{where}: read as {thickness}"]
        if reading.change_mm is not None and reading.previous_on is not None:
            way = "thicker" if reading.change_mm > 0.0 else "thinner"
            parts.append(
                f"{show(abs(reading.change_mm), 'thickness', system)} {way} than on {reading.previous_on.isoformat()}"
                if reading.change_mm
                else f"the same as on {reading.previous_on.isoformat()}"
            )
        parts.append(_become(reading))
        if reading.below_required:
            parts.append(
                f"below the required {show(reading.t_req_mm, 'thickness', system)}: stop and call the engineer"
            )
        if reading.flags:
            parts.append(reading.flags)
        said.append("; ".join(parts) + ".")
    for miss in judgement.not_measured:
        said.append(
            f"{in_place(miss['component'] or 'component not stated', miss['location'])}, "
            f"{miss['visited_on'].isoformat()}: not measured, {miss['reason']}."
        )
    return said


def _become(reading: JudgedReading) -> str:
    match reading.status:
        case "used":
            return "it would count"
        case "held":
            return f"it would be held {held_as(reading.held_for)} until a person accepts or rejects it"
        case "superseded":
            return "another reading of the same day would count in its place"
        case "before epoch":
            return "it belongs to the history before an event and would not count"
    return f"it would be {reading.status}"


def held_as(held_for: str | None) -> str:
    """Return why a reading is held, as it is said behind the word."""
    return HELD_AS.get(held_for or "", f"for {held_for or 'a reason not on record'}")


# ---- the facts of a trial -------------------------------------------------------------------------------------------


class Desk:
    """One asset on the bench, with everything entered about it since, and the rows on trial beside it."""

    def __init__(self, bench: Bench, folder: Path, asset: str, basis: Basis, published_on: date) -> None:
        self.bench, self.asset, self.basis, self.published_on = bench, asset, basis, published_on
        record = Record(folder / RECORD_NAME)
        self._entries = [
            Typed(entry.kind, entry.cells, entry.seq)
            for entry in record.entries()
            if str(entry.cells.get("asset", asset)).strip() == asset
        ]
        self._verdicts = [verdict for verdict in record.decisions() if verdict[3] == asset]
        history = record.history()
        self._next = history[-1].seq + 1 if history else 1

    @property
    def is_as_published(self) -> bool:
        """Nobody ever entered anything about the asset: the published results are those of the steps."""
        return not self._entries and not self._verdicts

    @contextmanager
    def worked(
        self,
        typed: Sequence[Typed] = (),
        decisions: Sequence[Decision] = (),
        day: date | None = None,
        wanted: Collection[str] | None = None,
    ) -> Iterator[Worked]:
        """Work the steps with these rows and verdicts, for a day, or for the last day any entry or row is of.

        `wanted` names the tables that will be read, where not all of them are.
        """
        numbered = [Typed(row.kind, row.cells, self._next + at) for at, row in enumerate(typed)]
        facts = Intake()
        read_entries([*self._entries, *numbered], self.basis, _far(), facts)
        on = day or max([self.published_on, *_days_passed(facts)])
        cells = [f"entry {row.seq}" for row in numbered]

        def change(connection: duckdb.DuckDBPyConnection) -> None:
            for table in ("field", "reading", "not_measured"):
                connection.execute(f"DELETE FROM fact.{table} WHERE file = ?", [ENTRIES])
            put_facts(connection, facts)
            connection.execute("DELETE FROM fact.decision")
            tried = [
                (self._next + at, "trial", "trial", d.asset, d.component, d.location, d.read_on, d.thickness_mm,
                 d.verdict)
                for at, d in enumerate(decisions)
            ]  # fmt: skip
            for verdict in [*self._verdicts, *tried]:
                connection.execute("INSERT INTO fact.decision VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", list(verdict))
            connection.execute("UPDATE basis.in_force SET as_of = ?", [on])
            connection.execute("UPDATE result.build SET as_of = ?", [on])

        with self.bench.worked(change, wanted) as connection:
            yield Worked(connection, self.asset, on, cells, facts)


@dataclass(frozen=True)
class Worked:
    """The tables of one trial, as long as it lasts."""

    connection: duckdb.DuckDBPyConnection
    asset: str
    day: date
    cells: list[str]
    facts: Intake

    def standing(self) -> Standing:
        """Return how the asset stands by the steps just run."""
        return Standing(
            self._rows("FROM result.asset WHERE asset = ?")[0],
            self._rows("FROM result.component WHERE asset = ? ORDER BY component"),
            self._rows("FROM result.location WHERE asset = ? ORDER BY component, location"),
            self._rows("FROM result.reading WHERE asset = ? ORDER BY ALL"),
            self._rows("FROM result.due_date WHERE asset = ? ORDER BY kind"),
        )

    def found(self) -> list[Row]:
        """Return the readings of the rows on trial as the steps judged them, with the one that counted before each."""
        rows = self._rows(
            "SELECT reading.*, earlier.thickness_mm AS previous_mm, earlier.read_on AS previous_on, "
            "reading.thickness_mm - earlier.thickness_mm AS change_mm "
            "FROM step.reading AS reading LEFT JOIN LATERAL ("
            "  SELECT thickness_mm, read_on FROM step.reading AS other WHERE other.asset = reading.asset "
            "  AND other.component = reading.component AND other.location = reading.location "
            "  AND other.read_on < reading.read_on AND other.status = 'used' ORDER BY read_on DESC LIMIT 1"
            ") AS earlier ON true WHERE reading.asset = ? AND reading.file = ? ORDER BY reading.record",
            ENTRIES,
        )
        return [row for row in rows if row["cell"] in self.cells]

    def turnaround(self) -> Turnaround | None:
        """Return the next turnaround at the day of the trial, None where none is on record."""
        # Asked of this very connection: another one does not see what the trial has not committed.
        rows = rows_of(
            self.connection,
            "SELECT turnaround_no, name, coalesce(start_on, end_on) AS start_on, end_on FROM step.turnaround "
            "WHERE turnaround_no = 1",
        )
        return Turnaround(*rows[0].values()) if rows else None

    def missed(self) -> list[Row]:
        """Return the visits without a reading of the rows on trial."""
        rows = self._rows("FROM step.miss WHERE asset = ? AND file = ? ORDER BY record", ENTRIES)
        return [row for row in rows if row["cell"] in self.cells]

    def _rows(self, sql: str, *values: object) -> list[Row]:
        return rows_of(self.connection, sql, [self.asset, *values])


#: Days of entries that have passed when they are entered: a trial is worked for a day not before them.
_DAYS_PASSED = ("date", "closed_on", "raised_on", "chosen_on")


def _days_passed(facts: Intake) -> list[date]:
    days = [row["read_on"] for table in ("reading", "not_measured") for row in facts.rows(table)]
    return days + [row["on_date"] for row in facts.rows("field") if row["field"] in _DAYS_PASSED and row["on_date"]]


@contextmanager
def desk_for(results: duckdb.DuckDBPyConnection, folder: Path, asset: str) -> Iterator[Desk]:
    """Give the desk of one asset; raises Problem where it is not in the results."""
    with Bench(results, asset) as bench:
        published_on = results.cursor().execute("SELECT as_of FROM result.build").fetchall()[0][0]
        yield Desk(bench, folder, asset, read_basis(folder), published_on)


def _far() -> date:
    """Return the last day a fact may have: what is typed is checked against today before it is tried, and the trial is
    worked for the day of the rows."""
    return date.today() + timedelta(days=366)


# ---- comparing ------------------------------------------------------------------------------------------------------


def _judged(reading: Row, would: Standing) -> JudgedReading:
    place = would.place(reading["component"], reading["location"]) or {}
    required = place.get("t_req_mm")
    return JudgedReading(
        component=reading["component"],
        location=reading["location"],
        read_on=reading["read_on"],
        thickness_mm=reading["thickness_mm"],
        text=reading["text"],
        status=reading["status"],
        held_for=reading["held_for"],
        flags=reading["flags"],
        previous_mm=reading["previous_mm"],
        previous_on=reading["previous_on"],
        change_mm=reading["change_mm"],
        t_req_mm=required,
        below_required=required is not None and reading["thickness_mm"] < required,
    )


def _moved(before: Standing, after: Standing) -> list[Moved]:
    """Return every state and date that differs: the asset's first, then the kinds of due dates, then the places."""
    moved = []
    was_state, state = (_stands(one.asset["state"], one.asset["held_readings"]) for one in (before, after))
    if was_state != state:
        moved.append(Moved("state", None, None, was_state, state, None))
    by_kind = [{row["kind"]: row for row in standing.due_dates} for standing in (before, after)]
    for kind in sorted(by_kind[0].keys() | by_kind[1].keys()):
        old, new = (rows.get(kind, {}) for rows in by_kind)
        if old.get("due_on") != new.get("due_on"):
            moved.append(_date_moved(kind, new.get("component"), new.get("location"), old, new, "due_on"))
    if before.asset["retirement_on"] != after.asset["retirement_on"]:
        moved.append(_date_moved("retirement", None, None, before.asset, after.asset, "retirement_on"))
    was = {(row["component"], row["location"]): row for row in before.places}
    held_before, held = before.held_places(), after.held_places()
    for row in after.places:
        old = was.get((row["component"], row["location"]), {})
        where = (row["component"], row["location"])
        was_state, state = _stands(old.get("state"), held_before[where]), _stands(row["state"], held[where])
        if was_state != state:
            moved.append(Moved("state of the place", *where, was_state, state, None))
        if old.get("due_on") != row["due_on"]:
            moved.append(_date_moved("measure again by", *where, old, row, "due_on"))
        if old.get("retirement_on") != row["retirement_on"]:
            moved.append(_date_moved("retirement of the place", *where, old, row, "retirement_on"))
    return moved


def _stands(state: str | None, held: int) -> str | None:
    """Return a state with the readings that are held: with one of them nothing is plainly in date."""
    return f"{state}, {held} held" if state is not None and held else state


def _date_moved(what: str, component: str | None, location: str | None, old: Row, new: Row, column: str) -> Moved:
    before, after = old.get(column), new.get(column)
    days = (after - before).days if before is not None and after is not None else None
    return Moved(what, component, location, before, after, days)


def _choice_in_force(place: Row) -> str | None:
    """Return the choice of rate that counts at a place, None where the policy selects the rate."""
    if place["rate_chosen_by"] is None:
        return None
    return "long-term" if str(place["rate_from"]).startswith("long-term") else str(place["rate_from"])


def _option(choice: str, place: Row | None, standing: Standing, today: Row, in_force: bool) -> RateOption:
    by_policy = str(today["rate_policy_from"]).startswith(choice)
    why_not = "there is no such rate at this place" if place is None else None
    if place is not None and not in_force:
        why_not = place["rate_choice_refused"]
    if place is None or why_not is not None:
        return RateOption(choice, None, None, False, None, None, None, in_force, by_policy, why_not)
    return RateOption(
        choice=choice,
        rate_mm_per_year=place["rate_selected_mm_per_year"],
        remaining_life_years=place["remaining_life_years"],
        no_measurable_loss=bool(place["no_measurable_loss"]),
        retirement_on=place["retirement_on"],
        due_on=place["due_on"],
        asset_due_on=standing.asset["due_on"],
        in_force=in_force,
        by_policy=by_policy,
    )


def _decision(row: Row, verdict: str) -> Decision:
    return Decision(row["asset"], row["component"], row["location"], row["read_on"], row["thickness_mm"], verdict)


# ---- what is typed, and what waits ----------------------------------------------------------------------------------


def reading_row(
    asset: str, component: str, location: str, system: str, *, on: str, thickness: str, inspector: str = "",
    method: str = "", remark: str = "", not_measured: str = "",
) -> Typed:  # fmt: skip
    """Return one reading, or one visit without a reading, as a row to be entered.

    A thickness without a unit of its own is in the unit of the person's system. Raises Problem where there is neither
    a thickness nor a reason, or both.
    """
    if thickness.strip() and not_measured.strip():
        raise Problem("there is a thickness and a reason why there is none: clear one of them")
    if not thickness.strip() and not not_measured.strip():
        raise Problem("write the thickness, or choose why the place was not measured")
    if not on.strip():
        raise Problem("write the date of the reading, such as 2026-10-20")
    cells = {
        "asset": asset, "component": component, "location": location, "date": on,
        f"thickness ({DISPLAY[system]['thickness'][0]})": thickness.strip() or not_measured, "method": method,
        "inspector": inspector, "remark": remark,
    }  # fmt: skip
    return Typed("survey, long", {heading: text for heading, text in cells.items() if text.strip()})


#: What the cells of a pasted line are, in order; the last two may be left out.
PASTED = ("component", "location", "date", "thickness or reason", "method", "remark")


def pasted_rows(text: str, asset: str, system: str, inspector: str = "") -> list[Typed]:
    """Return the readings of pasted lines: component, location, date, thickness or reason, method, remark, separated
    by tabs or semicolons.

    Raises Problem that names the line where one has too few or too many cells.
    """
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells = [cell.strip() for cell in line.split("\t" if "\t" in line else ";")]
        if not 4 <= len(cells) <= len(PASTED):
            raise Problem(
                f"line {number} has {len(cells)} cells: write {', '.join(PASTED[:4])} and, if need be, method and "
                "remark, separated by tabs or semicolons"
            )
        component, location, on, thickness, method, remark = [*cells, "", ""][: len(PASTED)]
        try:
            rows.append(
                reading_row(
                    asset, component, location, system, on=on, thickness=thickness, inspector=inspector,
                    method=method, remark=remark,
                )
            )  # fmt: skip
        except Problem as problem:
            raise Problem(f"line {number}: {problem}") from problem
    if not rows:
        raise Problem("nothing was pasted: write one reading to a line")
    return rows


@dataclass(frozen=True)
class Waiting:
    """What was entered since results were made, and the as-of date new results need so that all of it counts."""

    entries: list[Entry]
    as_of: date


def waiting(results: duckdb.DuckDBPyConnection, folder: Path, file: Path) -> Waiting:
    """Return what people entered that the results in `file` are without."""
    published_on: date = results.cursor().execute("SELECT as_of FROM result.build").fetchall()[0][0]
    record = Record(folder / RECORD_NAME)
    number = re.search(r"\.(\d{6})\.\w+$", file.name)
    builds = record.builds()
    made = [at for seq, at, _ in builds if number is None or seq == int(number[1])]
    entries = [entry for entry in record.history() if not made or entry.at > made[-1]]
    rows = [entry for entry in entries if entry.kind not in ("reading decision", "file accepted")]
    facts = Intake()
    read_entries(rows, read_basis(folder), _far(), facts)
    return Waiting(entries, max([published_on, *_days_passed(facts)]))
