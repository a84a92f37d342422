"""The auditor's page: the status as of a chosen day and as known at a moment, with its evidence and what is missing."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard import data, parts
from dashboard.wording import begun, counted, kind, known, literal, said, standings, state
from pipeline import reading
from pipeline.comparison import Comparison

EVIDENCE_HEADINGS = {
    "rank": "rank",
    "asset": "asset",
    "state_shown": "state",
    "due_on": "due date",
    "due_kind_shown": "due date is for",
    "reason": "why",
    "construction_code": "construction code",
    "rating_pressure_mpa": "rating pressure",
    "internal_on": "last internal",
    "on_stream_on": "last on-stream",
    "external_on": "last external",
    "newest_reading_on": "newest reading",
    "oldest_reading_on": "oldest last reading",
    "places": "places",
    "places_never_read": "never read",
    "places_from_nominal": "from nominal",
    "rates_chosen": "rates chosen",
    "internal_due_on": "internal due",
    "external_due_on": "external due",
    "thickness_due_on": "thickness due",
    "relief_due_on": "relief device due",
    "recommendation_due_on": "recommendation due",
    "retirement_on": "retirement",
    "deferred": "deferred",
    "missing": "what is missing",
}
DEFERRAL_HEADINGS = {
    "asset": "asset",
    "kind": "kind",
    "due_on": "due date it moves",
    "deferred_until": "deferred until",
    "approved_by": "approved by",
    "approved_on": "approved on",
    "standing": "does it count",
    "deferrals_of_this_kind": "deferrals of this kind",
    "reason": "reason",
    "source": "from",
}
CHANGE_HEADINGS = {
    "asset": "asset",
    "component": "component",
    "what": "what",
    "before": "before",
    "after": "after",
    "because": "because of",
}
NOMINAL_HEADINGS = {
    "asset": "asset",
    "state_shown": "state",
    "component": "component",
    "location": "location",
    "read_on": "read on",
    "due_on": "measure again by",
    "rate_from": "rate",
}
#: Assets of which it is said in full what is missing; the table has it for every one.
MISSING_SHOWN = 20
#: Rows of a table that fit in a window; a longer table scrolls.
ROWS_IN_SIGHT = 8


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    now = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("Status on a day", now.build)
    st.markdown(
        "The status as of any day, from what is known now or from what was known at a moment. Nothing is changed by "
        "looking: a past status is made anew from the permanent record, beside today's results."
    )
    day, moment_day = choose(now)
    shown = version
    if day != now.build.as_of or moment_day is not None:
        folder = data.plant_folder()
        if folder is None:
            st.warning("Results alone are open: a status on another day needs the plant's folder with its record.")
            return
        with st.spinner("Making the status of that day from the record"):
            shown = data.past_status(folder, version, day, moment_day)
    status(data.fleet(shown), data.evidence(shown), system)
    deferred(data.deferrals(shown), system)
    nominal(data.resting_on_nominal(shown), data.fleet(shown), system)
    between(version, now)
    export(shown, day, moment_day, shown == version)


def choose(now: data.Fleet) -> tuple[date, date | None]:
    """Draw the choice of the as-of day and of the day until which things were known."""
    left, right = st.columns(2)
    day = left.date_input("Status as of", now.build.as_of, format="YYYY-MM-DD", key="status day")
    moment = right.date_input("As known at the end of (empty: now)", None, format="YYYY-MM-DD", key="status known")
    return day or now.build.as_of, moment


def status(fleet: data.Fleet, rows: pd.DataFrame, system: str) -> None:
    """Show the counts of every state, and each asset with its evidence and what is missing."""
    st.subheader(literal(f"Status as of {fleet.build.as_of.isoformat()}"), anchor=False)
    parts.facts({state(name): count for name, count in fleet.states.items()}, counts=True)
    st.caption(
        "Deferred and not assessable stand by themselves and count as neither in date nor overdue. No overall figure "
        "is given: an asset with a date that is not assessable is not in order."
    )
    dates = fleet.assets[["asset", "due_on", "due_kind"]]
    shown = reading.in_display_units(rows, system).merge(dates, on="asset", how="left")
    shown["state_shown"] = standings(shown)
    shown["due_kind_shown"] = shown["due_kind"].map(kind)
    with parts.wide("evidence"):
        parts.table(
            shown,
            EVIDENCE_HEADINGS,
            system,
            "Evidence for every asset",
            pinned=["rank", "asset"],
            widths={"missing": 420, "reason": 556, "deferred": 200},
            row_height=parts.WRAPPED_ROW,
            height="content" if len(shown) <= ROWS_IN_SIGHT else 545,
        )
    first = shown.head(parts.NARROW_ROWS).to_dict("records")
    parts.paragraphs(
        [
            (
                f"{row['rank']}. {row['asset']} · {row['state_shown']}",
                f"{begun(said(row['reason']))}. Due date {said(row['due_on'])}.",
            )
            for row in first
        ],
        "evidence",
        len(shown),
        "the workbook below has every one",
    )
    lacking = shown[shown["missing"].map(known)]
    st.caption(
        f"{counted(len(rows), 'asset')} in all; something is missing for {counted(len(lacking), 'asset')}"
        f"{', the first of them:' if len(lacking) > MISSING_SHOWN else ''}"
        f"{':' if 0 < len(lacking) <= MISSING_SHOWN else ''}"
    )
    parts.stated_list(
        (f"{row['asset']} · {row['state_shown']}", f"Missing: {row['missing']}.")
        for row in lacking.head(MISSING_SHOWN).to_dict("records")
    )


def deferred(rows: pd.DataFrame, system: str) -> None:
    """Show every deferral on record, with when it was approved against the date it moves."""
    st.subheader("Deferrals", anchor=False)
    if rows.empty:
        st.markdown("No deferral is on record.")
        return
    parts.table(rows, DEFERRAL_HEADINGS, system, "Deferrals on record", pinned=["asset"], widths={"source": 300})


def nominal(rows: pd.DataFrame, fleet: data.Fleet, system: str) -> None:
    """Show what is in order only as far as the nominal thickness was true."""
    st.subheader("Resting on a nominal thickness", anchor=False)
    if rows.empty:
        st.markdown("No date rests on a nominal thickness.")
        return
    stands = dict(zip(fleet.assets["asset"], standings(fleet.assets), strict=True))
    shown = rows.assign(state_shown=rows["asset"].map(stands))
    parts.table(
        shown, NOMINAL_HEADINGS, system, "Places whose rate counts from the nominal thickness", pinned=["asset"]
    )
    st.caption("One reading each: the rate counts from the nominal thickness and brings mill tolerance with it.")


def between(version: data.Version, now: data.Fleet) -> None:
    """Offer the comparison of two days: what changed from the end of one to the end of the other, and why."""
    st.subheader("Between two days", anchor=False)
    st.markdown(
        "What changed, and because of which reading, entry, file or policy: both statuses are made anew from the "
        "record, and the steps between them one by one."
    )
    folder = data.plant_folder()
    if folder is None:
        st.warning("Results alone are open: two days can be compared where the plant's folder with its record is.")
        return
    left, right = st.columns(2)
    first = left.date_input("From the end of", None, format="YYYY-MM-DD", key="compare from")
    last = right.date_input("To the end of", now.build.as_of, format="YYYY-MM-DD", key="compare to")
    if st.button("Compare the two days", disabled=first is None or last is None) and first and last:
        with st.status("Making both statuses from the record") as working:
            found = data.compared(folder, (first, last), lambda line: working.update(label=line))
            working.update(label="Compared", state="complete")
        st.session_state["compared"] = (version, first, last, found)
    made = st.session_state.get("compared")
    if made and made[:3] == (version, first, last):
        comparison(made[3])


def comparison(found: Comparison) -> None:
    """Show what came between two days and every change with its causes, and offer it as text."""
    parts.sentence(found.overdue)
    st.markdown("**What came between**")
    st.markdown("\n".join(f"- {literal(line)}" for line in found.between))
    frame = found.as_frame()
    if frame.empty:
        st.markdown("No state, due date, required thickness, rate or life is another one.")
    else:
        with parts.wide("compared"):
            parts.table(
                frame,
                CHANGE_HEADINGS,
                "us",
                "What changed between the two days",
                pinned=["asset"],
                widths={"component": 100, "what": 140, "before": 190, "after": 190, "because": 440},
                row_height=parts.WRAPPED_ROW,
                height="content" if len(frame) <= ROWS_IN_SIGHT else 545,
            )
        parts.paragraphs(
            [
                (
                    f"{', '.join(filter(known, (row['asset'], row['component'])))} · {row['what']}",
                    f"{row['before']} → {row['after']}. Because of {row['because'] or 'nothing that is on record'}.",
                )
                for row in frame.head(parts.NARROW_ROWS).to_dict("records")
            ],
            "compared",
            len(frame),
            "the download below has every one",
        )
    back = f" {counted(found.came_back, 'value')} changed on the way and are as before." if found.came_back else ""
    st.caption(f"{counted(len(frame), 'change')}.{back} Both days are worked out by the program of today.")
    st.download_button(
        "Download the comparison",
        "\n".join(found.as_text()),
        file_name=f"from {found.before.as_of.isoformat()} to {found.after.as_of.isoformat()}.txt",
        mime="text/plain",
        on_click="ignore",
    )


def export(version: data.Version, day: date, moment: date | None, published: bool) -> None:
    """Offer the audit workbook of the status shown."""
    st.subheader("Workbook", anchor=False)
    st.markdown("Every number as a live formula over its source values, with a checks sheet.")
    tags = sorted(data.fleet(version).assets["asset"])
    chosen = st.multiselect("Only these assets (empty: all)", tags, key="audit workbook assets")
    every = st.checkbox("Work out every location, not the governing one of each component", key="audit workbook places")
    wanted = (version, tuple(chosen), every)
    if st.button("Make the audit workbook", type="primary"):
        with st.spinner("Writing the workbook"):
            folder = data.plant_folder()
            st.session_state["audit workbook"] = (
                wanted,
                data.audit_workbook(version, folder, chosen, every, published),
            )
    made = st.session_state.get("audit workbook")
    if made and made[0] == wanted:
        when = f" known {said(moment)}" if moment else ""
        st.download_button(
            "Download it",
            made[1],
            file_name=f"status {day.isoformat()}{when}.xlsx",
            mime="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        )


show()
