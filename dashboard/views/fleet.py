"""The opening page: the ranking, why each asset ranks where it does, what moved since the build before, and what lies
ahead: the time that is left, and the due dates by month and by half-year."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import address, charts, charts_fleet, data, parts
from dashboard.wording import (
    KINDS,
    STATE_MEANINGS,
    UNSTATED,
    begun,
    counted,
    kind,
    known,
    literal,
    said,
    sentence_units,
    standings,
    state,
    unbroken,
)
from pipeline import fleet_ahead, reading
from pipeline.entered_since import Move
from pipeline.movement import WAYS

#: More rows than a person reads; a table of this length is still sent at once. The rest is one filter away.
ROWS_SHOWN = 1000
#: Rows sent at first sight; the others follow with what lies below.
ROWS_AT_FIRST = 100
#: Rows of the ranking that fit in a window; a longer ranking scrolls.
ROWS_IN_SIGHT = 8

#: Seconds after which the browser asks for what lies below the ranking.
SOON = 2.0

HEADINGS = {
    "rank": "rank",
    "asset": "asset",
    "state_shown": "state",
    "reason": "why it ranks here",
    "due_on": "due date",
    "due_kind_shown": "due date is for",
    "retirement_on": "retirement date",
    "days_to_due": "days to due date",
    "remaining_life_years": "remaining life",
    "area": "area",
    "service": "service",
    "assigned_to": "assigned to",
}
#: What a narrow window says of each asset.
NARROW = ["rank", "asset", "state", "state_shown", "reason", "due_on", "retirement_on"]
SEVERAL = ("state", "area", "assigned")
MOVED_ASSET_HEADINGS = {"asset": "asset", "how": "what", "why": "why"}
MOVED_HEADINGS = {
    "asset": "asset",
    "kind_shown": "due date",
    "how": "how it moved",
    "from_on": "from",
    "to_on": "to",
    "why": "why",
}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet_now(version, data.plant_folder())
    system: str = st.session_state["units"]
    parts.title("Fleet", fleet.build)
    say_entered(fleet, data.fleet(version))
    chosen, text = choose(fleet)
    found = data.matching(fleet.assets, chosen, text, UNSTATED)
    if found.empty:
        st.info("No asset matches these filters. Take one away to see more.")
        return
    note = sentence_units(system, fleet.build.units)
    first = "ranking seen" not in st.session_state
    rows = found.head(ROWS_AT_FIRST if first else ROWS_SHOWN)
    ranking(version, found, rows, system, [*chosen.items(), text, fleet.since and fleet.since.moves], note)
    one_asset(version, rows, fleet.since.concerns if fleet.since else {})
    if first:
        # The charts would keep the browser from drawing the ranking: it is drawn by itself, and they follow.
        st.session_state["ranking seen"] = False
        the_rest_follows()
        return
    moved_since(version, found)
    ahead = data.ahead(version)
    left_box, calendar_box = st.columns([2, 3], gap="large")
    with left_box:
        time_left(fleet, ahead.life_left, found)
    with calendar_box:
        calendar(fleet, ahead.calendar, found)
    due_dates(fleet, found)
    meanings()


@st.fragment(run_every=SOON)
def the_rest_follows() -> None:
    """Ask for the whole page at the browser's first tick: by then it has the ranking."""
    if st.session_state["ranking seen"]:
        st.rerun()
    st.session_state["ranking seen"] = True
    st.caption("The rest of the ranking, what moved, and what lies ahead follow …")


def say_entered(fleet: data.Fleet, published: data.Fleet) -> None:
    """Say which assets are ranked with what was entered since the results, and which entries the ranking is without."""
    since = fleet.since
    if since is None:
        return
    if since.moves:
        moves = "; ".join(moved_in_rank(move, published, fleet) for move in since.moves)
        st.info(
            literal(
                f"Ranked with what was entered since these results: {moves}. The other pages, and the dates below, "
                "show the results as made; new results bring all of it."
            )
        )
    if since.not_worked:
        st.warning(
            literal(
                f"Not in this ranking yet: {'; '.join(since.not_worked)}. Make new results on the page Enter and judge."
            )
        )


def moved_in_rank(move: Move, published: data.Fleet, now: data.Fleet) -> str:
    """Return what entries did to the rank and state of one asset, in words."""
    rank = f"rank {move.rank}" if move.rank == move.rank_before else f"rank {move.rank}, was {move.rank_before}"
    was, stands = (standings(fleet.assets[fleet.assets["asset"] == move.asset])[0] for fleet in (published, now))
    turned = f", {stands}, was {was}" if stands != was else ""
    return f"{move.asset} ({counted(move.entries, 'entry', 'entries')}): {rank}{turned}"


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


def ranking(
    version: data.Version, found: pd.DataFrame, rows: pd.DataFrame, system: str, filters: list[object], note: str
) -> None:
    """Draw the first rows of the ranking found; a click on a row opens that asset."""
    # A table of the same key keeps its selection by position when its rows change, and would name another asset. The
    # key is of these rows only, and of this visit, so that coming back does not click again.
    visits = st.session_state.setdefault("assets opened", [])
    key = f"ranking {hash((version, str(filters), system, len(visits)))}"
    # What was ticked is known before the table is drawn, and then nobody will see it drawn again.
    ticked = st.session_state.get(key)
    if ticked and ticked["selection"]["rows"]:
        open_asset(rows.iloc[ticked["selection"]["rows"][0]]["asset"])
    shown = reading.in_display_units(rows, system)
    shown["state_shown"] = standings(shown)
    shown["due_kind_shown"] = shown["due_kind"].map(kind)
    st.caption(
        f"{counted(len(found), 'asset')}, most urgent first: by state, then days to the governing date, then the "
        f"smaller margin. {note}"
    )
    # Clicks on cells are not taken for a choice: a click on a heading, to sort, counts as one on the first cell below.
    with parts.wide("ranking"):
        st.dataframe(
            shown[list(HEADINGS)],
            column_config=parts.columns(HEADINGS, system, widths={"reason": 556}, pinned=["rank", "asset"]),
            hide_index=True,
            placeholder="—",
            key=key,
            on_select="rerun",
            selection_mode="single-row",
            row_height=parts.WRAPPED_ROW,
            height="content" if len(rows) <= ROWS_IN_SIGHT else 545,
            alt="Ranking of the assets, most urgent first",
        )
        st.caption("Tick the box at the left of a row to open that asset.")
    narrow_ranking(shown)
    if len(found) > ROWS_SHOWN:
        st.caption(f"The first {ROWS_SHOWN:,} are drawn; filter by area, state, person or words to reach the others.")


def narrow_ranking(shown: pd.DataFrame) -> None:
    """Write the ranking for a narrow window, each asset with its reason; a tap opens that asset."""
    with parts.narrow("ranking"):
        for row in shown.head(parts.NARROW_ROWS)[NARROW].to_dict("records"):
            stands = literal(f"{row['asset']} · {row['state_shown']}.")
            # What is missing can only make the date an earlier one.
            latest = " at the latest" if row["state"] == "not assessable" and known(row["due_on"]) else ""
            dates = f"Due date {said(row['due_on'])}{latest}, retirement date {said(row['retirement_on'])}."
            words = unbroken(literal(f"{begun(row['reason'])}. {dates}"))
            st.page_link(
                "views/asset.py",
                label=f"**{row['rank']}. {stands}** {words}",
                query_params={"asset": row["asset"]},
            )
        if len(shown) > parts.NARROW_ROWS:
            st.caption(f"The first {parts.NARROW_ROWS}; filter, or choose below, to reach the others.")


def open_asset(tag: str) -> None:
    """Go to an asset's page, at its governing place."""
    st.session_state["assets opened"].append(tag)
    st.session_state["asset"] = tag
    for name in ("component", "location"):
        st.session_state.pop(name, None)
    st.switch_page("views/asset.py", query_params={"asset": tag})


@parts.alone
def one_asset(version: data.Version, rows: pd.DataFrame, entered: dict[str, pd.DataFrame]) -> None:
    """Say all that is asked of one asset, by default the first; the way to its page without a mouse."""
    tags = list(rows["asset"])
    if st.session_state.get("asset looked at") not in tags:
        st.session_state["asset looked at"] = tags[0]
    reasons = dict(zip(tags, rows["reason"], strict=True))
    labels = {
        name: f"{name} · rank {rank} · {standing}"
        for name, rank, standing in zip(tags, rows["rank"], standings(rows), strict=True)
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
    others = entered[tag] if tag in entered else data.concerns(version, tag)
    if len(others) > 1:
        st.markdown("**Other dates and findings**")
        parts.stated_list((state(row["state"]), row["sentence"]) for row in others.iloc[1:].to_dict("records"))


def moved_since(version: data.Version, found: pd.DataFrame) -> None:
    """Say what moved since the build before: one sentence with the counts, then every date that moved."""
    st.subheader("What moved since the build before", anchor=False)
    versions = data.earlier(version)
    if not versions:
        st.write("No earlier build is kept beside this one, so there is nothing to compare with.")
        return
    moved = data.moved_since(version, versions[0])
    if moved is None:
        st.write("The build before was made by another version of the program and cannot be compared.")
        return
    st.write(literal(f"{moved.sentence} These are of the whole fleet; below are the assets shown above."))
    if moved.assets.empty and moved.dates.empty:
        st.write("No asset came or went, and no date moved.")
        return
    # An asset that was removed is in no ranking; it must not go unseen because a filter cannot find it.
    tags = set(found["asset"]) | set(moved.assets.loc[moved.assets["how"] == "removed", "asset"])
    assets = moved.assets[moved.assets["asset"].isin(tags)]
    dates = moved.dates[moved.dates["asset"].isin(tags)]
    if len(assets):
        parts.table(
            assets,
            MOVED_ASSET_HEADINGS,
            "us",
            "Assets that came, went, or became assessable or not",
            widths={"why": 620},
            height="content" if len(assets) <= ROWS_IN_SIGHT else 260,
        )
    if len(dates):
        present = [way for way in WAYS if way in set(dates["how"])]
        shown = dates.assign(kind_shown=dates["kind"].map(kind))
        totals = dates["how"].value_counts()
        st.caption(literal(", ".join(f"{totals[way]} {way}" for way in present)))
        parts.table(shown, MOVED_HEADINGS, "us", "Due dates that moved", widths={"why": 620}, height=260)


def time_left(fleet: data.Fleet, left: pd.DataFrame, found: pd.DataFrame) -> None:
    """Draw how long the assets have left until they reach their required thickness."""
    st.subheader("Time left to the required thickness", anchor=False)
    own = data.about(left, found, fleet)
    bars = fleet_ahead.life_bars(own)
    st.vega_lite_chart(
        charts_fleet.life_left(bars, charts.palette(st.context.theme.type)),
        width="stretch",
        alt="Number of assets by the time left until a place reaches its required thickness",
    )
    told = fleet_ahead.life_counts(own)
    unknown = told["has_unknown"]
    unsure = (
        f" {counted(unknown, 'asset has', 'assets have')} something unknown, counted as unknown unless what is known "
        "is under four years."
    )
    planned = list(fleet.turnarounds["name"])
    ends = [
        f"{told[column]} reach it before {name} ends"
        for name, column in zip(planned, ("before_next", "before_after"), strict=False)
    ]
    st.caption(
        literal(
            f"Counted from the as-of date. {told['short_life']} have a remaining life, from their reading, under four "
            f"years or none; {'; '.join(ends) or 'no turnaround is on record'}.{unsure if unknown else ''}"
        )
    )


def calendar(fleet: data.Fleet, due: pd.DataFrame, found: pd.DataFrame) -> None:
    """Draw the due dates month by month, overdue first, and the ones without a date last."""
    st.subheader("Due dates by month", anchor=False)
    own = data.about(due, found, fleet)
    counts = fleet_ahead.calendar_counts(own, fleet.build.as_of)
    if counts.empty:
        st.info("None of these assets is asked for anything by a date.")
        return
    colours = charts.palette(st.context.theme.type)
    parts.key(charts.colours_of_kinds(colours))
    st.vega_lite_chart(
        charts_fleet.due_calendar(counts, colours),
        width="stretch",
        alt="Number of due dates in each of the next 24 months by kind, with the overdue ones and those without a date",
    )
    wide = fleet_ahead.calendar_table(counts)
    totals = dict(zip(wide["column"], wide["all"], strict=True))
    st.caption(
        literal(
            f"Dates after accepted deferrals: {totals['overdue']} overdue, {totals['later']} later than these months, "
            f"{totals['no date']} without a date because something is missing."
        )
    )
    with st.expander("The months as a table"):
        headings = {"column": "month", **{name: words for name, words in KINDS.items() if name in wide}, "all": "all"}
        parts.table(wide, headings, "us", "Number of due dates in each month, by kind")


def due_dates(fleet: data.Fleet, found: pd.DataFrame) -> None:
    """Draw the due dates of the assets shown, by half-year and kind, and say the same in words."""
    st.subheader("Due dates by half-year", anchor=False)
    due = data.about(fleet.due_dates, found, fleet)
    counts = reading.due_by_half_year(due)
    if counts.empty:
        st.info("None of these assets has a due date that can be worked out.")
        return
    colours = charts.palette(st.context.theme.type)
    parts.key(charts.colours_of_kinds(colours))
    st.vega_lite_chart(
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
