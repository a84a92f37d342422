"""The opening page: the ranking, why each asset ranks where it does, and when the fleet's due dates fall."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import address, charts, data, parts
from dashboard.wording import (
    KINDS,
    STATE_MEANINGS,
    UNSTATED,
    counted,
    kind,
    known,
    literal,
    said,
    sentence_units,
    standings,
    state,
)
from pipeline import reading

#: More rows than a person reads; a table of this length is still sent at once. The rest is one filter away.
ROWS_SHOWN = 1000
#: Rows of the ranking that fit in a window; a longer ranking scrolls.
ROWS_IN_SIGHT = 8

HEADINGS = {
    "rank": "rank",
    "asset": "asset",
    "state_shown": "state",
    "reason": "why it ranks here",
    "due_on": "due date",
    "due_kind_shown": "due date is for",
    "days_to_due": "days to due date",
    "retirement_on": "retirement date",
    "remaining_life_years": "remaining life",
    "area": "area",
    "service": "service",
    "assigned_to": "assigned to",
}
SEVERAL = ("state", "area", "assigned")


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("Fleet", fleet.build)
    chosen, text = choose(fleet)
    found = data.matching(fleet.assets, chosen, text, UNSTATED)
    if found.empty:
        st.info("No asset matches these filters. Take one away to see more.")
        return
    note = sentence_units(system, fleet.build.units)
    ranking(version, found, system, [*chosen.items(), text], note)
    one_asset(version, found.head(ROWS_SHOWN))
    due_dates(fleet, found)
    meanings()


def choose(fleet: data.Fleet) -> tuple[dict[str, list[str]], str]:
    """Draw the filters, kept the same as the address; return the chosen values by column, and the text."""
    address.adopt("fleet", "", single=["text"], several=SEVERAL)
    states = list(fleet.states)
    areas = data.options(fleet.assets, "area", UNSTATED)
    people = data.options(fleet.assets, "assigned_to", UNSTATED)
    for name, options in (("state", states), ("area", areas), ("assigned", people)):
        unknown = address.keep_known(name, options)
        if unknown:
            st.warning(literal(f"These results have no {name} called {', '.join(unknown)}: left out of the filter."))
    picked_states = st.pills(
        f"State, of {counted(len(fleet.assets), 'asset')}",
        states,
        selection_mode="multi",
        format_func=lambda name: f"{state(name)} · {fleet.states[name]}",
        key="state",
        persist_state="session",
    )
    area_box, person_box, text_box = st.columns(3)
    picked_areas = area_box.multiselect("Area", areas, key="area", placeholder="every area", persist_state="session")
    picked_people = person_box.multiselect(
        "Assigned to", people, key="assigned", placeholder="everyone", persist_state="session"
    )
    text = text_box.text_input(
        "Words", key="text", placeholder="tag, service, reason …", type="search", persist_state="session"
    )
    address.write("fleet", {"state": picked_states, "area": picked_areas, "assigned": picked_people, "text": text})
    address.leave_only([*SEVERAL, "text", "units"])
    return {"state": picked_states, "area": picked_areas, "assigned_to": picked_people}, text or ""


def ranking(version: data.Version, found: pd.DataFrame, system: str, filters: list[object], note: str) -> None:
    """Draw the ranking; a click on a row opens that asset."""
    rows = found.head(ROWS_SHOWN)
    shown = reading.in_display_units(rows, system)
    shown["state_shown"] = standings(shown)
    shown["due_kind_shown"] = shown["due_kind"].map(kind)
    # A table of the same key keeps its selection by position when its rows change, and would name another asset. The
    # key is of these rows only, and of this visit, so that coming back does not click again.
    visits = st.session_state.setdefault("assets opened", [])
    key = f"ranking {hash((version, str(filters), system, len(visits)))}"
    st.caption(
        f"{counted(len(found), 'asset')}, most urgent first: by state, then days to the governing date, then the "
        "smaller margin. Tick the box at the left of a row to open that asset. "
        f"{note}"
    )
    # Clicks on cells are not taken for a choice: a click on a heading, to sort, counts as one on the first cell below.
    event = st.dataframe(
        shown[list(HEADINGS)],
        column_config=parts.columns(HEADINGS, system, widths={"reason": 540}, pinned=["rank", "asset"]),
        hide_index=True,
        placeholder="—",
        key=key,
        on_select="rerun",
        selection_mode="single-row",
        row_height=parts.WRAPPED_ROW,
        height="content" if len(rows) <= ROWS_IN_SIGHT else 545,
        alt="Ranking of the assets, most urgent first",
    )
    picked = event.selection.rows
    if picked:
        open_asset(rows.iloc[picked[0]]["asset"])
    if len(found) > ROWS_SHOWN:
        st.caption(f"The first {ROWS_SHOWN:,} are drawn; filter by area, state, person or words to reach the others.")


def open_asset(tag: str) -> None:
    """Go to an asset's page, at its governing place."""
    st.session_state["assets opened"].append(tag)
    st.session_state["asset"] = tag
    for name in ("component", "location"):
        st.session_state.pop(name, None)
    st.switch_page("views/asset.py", query_params={"asset": tag})


def one_asset(version: data.Version, found: pd.DataFrame) -> None:
    """Say all that is asked of one asset, by default the first; the way to its page without a mouse."""
    tags = list(found["asset"])
    if st.session_state.get("asset looked at") not in tags:
        st.session_state["asset looked at"] = tags[0]
    reasons = dict(zip(tags, found["reason"], strict=True))
    labels = {
        name: f"{name} · rank {rank} · {state(standing)}"
        for name, rank, standing in zip(tags, found["rank"], found["state"], strict=True)
    }
    choice, button = st.columns([3, 1], vertical_alignment="bottom")
    tag = choice.selectbox(
        "Asset in full",
        tags,
        format_func=labels.__getitem__,
        key="asset looked at",
        persist_state="session",
    )
    if button.button(literal(f"Open {tag}"), type="primary", width="stretch"):
        open_asset(tag)
    parts.sentence(f"{tag}: {reasons[tag]}.")
    others = data.concerns(version, tag)
    if len(others) > 1:
        st.markdown("**What else asks for work here**")
        parts.stated_list((state(row["state"]), row["sentence"]) for row in others.iloc[1:].to_dict("records"))


def due_dates(fleet: data.Fleet, found: pd.DataFrame) -> None:
    """Draw the due dates of the assets shown, by half-year and kind, and say the same in words."""
    st.subheader("Due dates by half-year", anchor=False)
    due = fleet.due_dates[fleet.due_dates["asset"].isin(found["asset"])]
    counts = reading.due_by_half_year(due)
    if counts.empty:
        st.info("None of these assets has a due date that can be worked out.")
        return
    colours = charts.palette(st.context.theme.type)
    st.altair_chart(
        charts.due_by_half_year(counts, fleet.turnarounds, fleet.build.as_of, colours),
        width="stretch",
        alt="Number of due dates in each half-year, by kind",
    )
    planned = "; ".join(
        f"{row['name']} from {said(row['start_on'])} to {said(row['end_on'])}"
        for row in fleet.turnarounds.to_dict("records")
    )
    st.caption(
        literal(
            f"In words: {counted(len(due), 'due date')} of {counted(len(found), 'asset')}, "
            f"{reading.before(due, fleet.build.as_of)} of them before the as-of date and {reading.undated(due)} "
            f"without a date because something is missing. Dates are as worked out, before any deferral. "
            f"Turnarounds: {planned or 'none is on record'}."
        )
    )
    with st.expander("The same as a table"):
        wide = counts.pivot(index="begins_on", columns="kind", values="due").fillna(0).astype(int).reset_index()
        headings = {"begins_on": "half-year from", **{name: words for name, words in KINDS.items() if name in wide}}
        parts.table(wide, headings, "us", "Number of due dates in each half-year, by kind")


def meanings() -> None:
    """Say what each state means."""
    with st.expander("What the states mean"):
        parts.facts({state(name): meaning for name, meaning in STATE_MEANINGS.items() if known(meaning)})


show()
