"""The scope list of a turnaround as a workbook: every asset by group, with reasons, numbers, decisions and the slip.

Values only, for the scope meeting and its minutes; the working behind a number is in the audit workbook. Numbers are in
the unit system asked for, with the unit in the heading; dates are dates; text that looks like a formula stays text.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import duckdb
import pandas as pd

from pipeline import reading
from pipeline.audit.book import Book
from pipeline.audit.cells import Sheet, Styled, headings
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.scope_decision import with_decisions
from pipeline.slip import WAY_WORDS, Slip, buying_time, slip
from pipeline.turnaround import GROUP_MEANINGS, GROUPS, Plan, plan
from pipeline.turnaround_dates import KIND_WORDS, ON_STREAM_CONDITIONS, Turnaround
from pipeline.units import noun

TITLE = "Scope list"

#: Columns of the lists: name, heading, width. Those that hold a quantity get its unit.
_LIST = (
    ("asset", "asset", 12),
    ("group", "group", 17),
    ("reason", "why", 70),
    ("latest_safe_on", "latest safe date", 12),
    ("component", "component", 14),
    ("location", "location", 10),
    ("t_act_mm", "last reading", 10),
    ("read_on", "read on", 12),
    ("t_req_mm", "required", 10),
    ("rate_mm_per_year", "rate", 10),
    ("remaining_life_years", "remaining life from reading", 11),
    ("retirement_on", "required thickness reached", 12),
    ("also", "also", 24),
    ("decision", "decision", 13),
    ("decision_reason", "reason of the decision", 30),
    ("decided_by", "decided by", 16),
    ("decided_on", "decided on", 12),
)
_SLIP = (
    ("month", "months later", 9),
    ("start_on", "begins on", 12),
    ("broken", "broken due dates", 10),
    ("internal", "internal or on-stream", 11),
    ("external", "external", 10),
    ("thickness", "thickness", 10),
    ("corroded area", "corroded area", 10),
    ("relief device", "relief device", 10),
    ("recommendation", "recommendation", 16),
    ("assets", "assets concerned", 11),
    ("retiring", "places at required thickness", 12),
    ("retiring_at_high_rate", "the same at the high end of the rate", 14),
    ("devices", "relief devices past interval", 12),
    ("deferrals", "deferrals run out", 11),
    ("to_take_in", "due dates to take in", 12),
    ("first_broken", "breaks this month", 30),
)
_BROKEN = (
    ("asset", "asset", 12),
    ("kind_words", "what", 28),
    ("needed_on", "to be met by", 12),
    ("breaks_at", "breaks at months later", 12),
    ("component", "component", 14),
    ("location", "location", 10),
    ("way_words", "cheapest way", 30),
    ("what", "what it takes", 80),
)
_DECISIONS = (
    ("asset", "asset", 12),
    ("turnaround", "turnaround", 16),
    ("decision", "decision", 13),
    ("reason", "reason", 60),
    ("decided_by", "decided by", 18),
    ("decided_on", "decided on", 12),
    ("counts", "counts", 34),
)
_WRAPPED = {"reason", "decision_reason", "what", "also", "first_broken", "counts"}


def scope_export(
    connection: duckdb.DuckDBPyConnection,
    first: Turnaround,
    second: Turnaround,
    system: str,
    decisions: pd.DataFrame,
    months: int,
) -> bytes:
    """Return the workbook of a turnaround's scope.

    `decisions` are all decisions on scope, as `scope_decision.decisions_frame` gives them; the ones that stand for
    `first` are written beside their assets. `months` is the slip for which the ways to buy time are listed.
    """
    build = reading.build(connection)
    sorted_assets = plan(connection, first, second, system)
    found = slip(connection, first, second)
    footer = f"{first.name}, as of {build.as_of}, hoopline {build.program}"
    kept = io.BytesIO()
    with Book(kept, f"{TITLE} {first.name}", f"hoopline {build.program}") as book:
        writer = _Writer(book, footer, system)
        _read_me(writer, build, sorted_assets, found)
        listed = with_decisions(sorted_assets.assets, decisions, first.name)
        # A date stays a date; where there is none, the words say why.
        dated = listed["latest_safe_on"].notna()
        listed["latest_safe_on"] = listed["latest_safe_on"].astype(object).where(dated, listed["latest_safe"])
        writer.table("All assets", listed, _LIST, pinned="B4")
        for group in GROUPS:
            own = listed[listed["group"] == group]
            if len(own):
                writer.table(group.capitalize(), own, [column for column in _LIST if column[0] != "group"], pinned="B4")
        writer.table("Decisions", decisions, _DECISIONS)
        writer.table(
            "If it moves",
            found.months,
            _SLIP,
            note=f"Further to what is so as planned: {noun(found.behind, 'due date')} before {first.name} begins, "
            f"{noun(found.places_below, 'place')} below required now.",
        )
        bought = buying_time(found, months)
        bought["kind_words"] = [KIND_WORDS[kind] for kind in bought["kind"]]
        bought["way_words"] = [WAY_WORDS[way] for way in bought["way"]]
        writer.table(
            "What buys time",
            bought,
            _BROKEN,
            note=f"{first.name} {noun(months, 'month')} later. Nothing is approved here.",
        )
        _policies(writer, reading.policies(connection, system))
    return kept.getvalue()


def _read_me(
    writer: _Writer,
    build: reading.BuildStamp,
    sorted_assets: Plan,
    found: Slip,
) -> None:
    far = sorted_assets.reach
    sheet = writer.sheet("Read me", (24, 12, 100), None, None)
    sheet.append([Styled(f"{TITLE} of {far.first.name}", "title")])
    for name, value in (
        ("as of", build.as_of),
        ("program", f"hoopline {build.program}"),
        ("basis", build.basis_sha256),
        ("turnaround", f"{far.first.name}, {far.first.start_on} to {far.first.end_on}"),
        ("to reach the end of", f"{far.second.name}, {far.second.start_on} to {far.second.end_on}"),
        ("long lead until", f"{far.beyond_on}: {far.beyond}"),
        ("due dates that lie before it as planned", found.behind),
        ("places below required now", found.places_below),
        ("latest start that breaks nothing more", found.latest_start_on or "no further date breaks"),
        ("the same for what needs the shutdown", found.latest_start_shutdown_on or "no further date breaks"),
        ("assets whose dates cannot be told", found.unsure_assets),
    ):
        sheet.append_wrapped([Styled(name, "wrapped"), Styled(value, "left")])
    sheet.append([])
    sheet.append(headings(("group", "assets", "what it means")))
    for group in GROUPS:
        sheet.append([group, sorted_assets.counts[group], Styled(GROUP_MEANINGS[group], "wrapped")])
    sheet.append(["all assets", Styled(len(sorted_assets.assets))])
    sheet.append([])
    for text in (
        "An asset stands in the first group that fits it; the others it also belongs to stand beside it.",
        f"On-stream in place of internal: rate and life allow it; still to be evidenced are {ON_STREAM_CONDITIONS}.",
        "Due dates are taken after accepted deferrals. Nothing in this list is approved by being on it.",
    ):
        sheet.append_paragraph(text, "wrapped")
    sheet.append([])
    for text in (BELOW_REQUIRED, CAUTION, NOT_CONSIDERED):
        sheet.append_paragraph(text, "caution")


def _policies(writer: _Writer, policies: pd.DataFrame) -> None:
    columns = (("label", "policy", 60), ("shown", "value", 16), ("reference", "where from", 36), ("says", "set by", 14))
    policies = policies.assign(says=["the plant" if stated else "default" for stated in policies["stated"]])
    writer.table("Policies", policies, columns)


class _Writer:
    """Writes frames as sheets of one workbook, in the units of one system."""

    def __init__(self, book: Book, footer: str, system: str) -> None:
        self.book = book
        self.footer = footer
        self.system = system

    def sheet(self, title: str, widths: Sequence[float], pinned: str | None, repeated: str | None) -> Sheet:
        """Return a new sheet, landscape on the plant's paper, one page wide."""
        return Sheet(
            self.book,
            title,
            widths,
            self.footer,
            freeze=pinned,
            repeat_rows=repeated,
            large_paper=True,
            heights={1: 22.0},
            system=self.system,
        )

    def table(
        self,
        title: str,
        rows: pd.DataFrame,
        columns: Sequence[tuple[str, str, float]],
        note: str = "",
        pinned: str = "A4",
    ) -> None:
        """Write a frame: title, a note, a header that stays in sight and is printed on every page, then the rows."""
        sheet = self.sheet(title, [width for _, _, width in columns], pinned, "3:3")
        sheet.append([Styled(title, "title")])
        sheet.append([Styled(note or self.footer, "note")])
        named = [self._heading(name, words) for name, words, _ in columns]
        sheet.append_wrapped(headings(named))
        for row in reading.in_display_units(rows, self.system).to_dict("records"):
            sheet.append_wrapped([self._cell(name, row.get(name)) for name, _, _ in columns])
        if rows.empty:
            sheet.append([Styled("none", "note")])

    def _heading(self, name: str, words: str) -> str:
        unit = reading.unit_of(name, self.system)[0]
        return f"{words} ({unit})" if unit not in ("", "-") else words

    def _cell(self, name: str, value: Any) -> Any:
        if value is None or value is pd.NaT or value != value:
            return Styled("—", "dash")
        if isinstance(value, pd.Timestamp):
            return Styled(value.date())
        if reading.kind_of(name):
            decimals = reading.unit_of(name, self.system)[1]
            return Styled(float(value), "plain", f"0.{'0' * decimals}")
        if isinstance(value, str):
            return Styled(value, "wrapped" if name in _WRAPPED else "plain")
        return Styled(value)
