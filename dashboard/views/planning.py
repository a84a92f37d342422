"""The turnaround: what it must take in and why, what breaks when it moves, and what was decided on its scope."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard import address, charts, charts_fleet, data, identity, parts
from dashboard.wording import counted, kind, known, literal, said
from pipeline import reading
from pipeline.errors import Problem
from pipeline.scope_decision import DECISION_KIND, DECISIONS, decision_row, with_decisions
from pipeline.slip import LONGEST_SLIP, WAY_COUNTED, WAY_WORDS, WAYS, Slip, buying_time, counts_by_way
from pipeline.turnaround import GROUP_MEANINGS, GROUPS, Plan
from pipeline.turnaround_dates import ON_STREAM_CONDITIONS, Turnaround

SAID = "said after deciding"
ROWS_SHOWN = 1000
ROWS_IN_SIGHT = 7
TALL_TABLE = 545

HEADINGS = {
    "asset": "asset",
    "group": "group",
    "reason": "why",
    "latest_safe": "latest safe date",
    "decision": "decision",
    "place": "place",
    "t_act_mm": "last reading",
    "t_req_mm": "required",
    "rate_mm_per_year": "rate",
    "remaining_life_years": "remaining life",
    "retirement_on": "required thickness reached",
    "also": "also",
}
BROKEN_HEADINGS = {
    "asset": "asset",
    "kind_shown": "what",
    "needed_on": "to be met by",
    "breaks_at": "breaks at month",
    "way_shown": "cheapest way",
    "what": "what it takes",
}
MONTH_HEADINGS = {
    "month": "months later",
    "start_on": "begins on",
    "broken": "further due dates broken",
    "internal": "internal",
    "external": "external",
    "thickness": "thickness",
    "corroded area": "corroded area",
    "relief device": "relief device",
    "recommendation": "recommendation",
    "retiring": "further places at required thickness",
    "retiring_at_high_rate": "the same at the high rate",
    "devices": "further relief devices past interval",
    "deferrals": "deferrals run out",
    "to_take_in": "due dates to take in",
    "first_broken": "breaks this month",
}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("Turnaround", fleet.build)
    ahead = data.turnarounds_ahead(version)
    if not ahead:
        st.info(
            "No turnaround lies ahead on record. Put one on a sheet with its name, first and last day, and build anew."
        )
        return
    address.adopt("planning", "planning", single=["turnaround", "after", "words", "slip", "moved", "vessel"])
    address.adopt("planning groups", "planning", several=["group"])
    said_before = st.session_state.pop(SAID, None)
    if said_before:
        st.success(literal(said_before))
    first, second = choose(ahead)
    months = slip_chosen()
    moved = bool(months) and st.session_state.get("moved") == "yes"
    folder = data.plant_folder()
    decided = data.scope_decisions(version, folder)
    found = data.planned(
        version, first.moved(months) if moved else first, second.moved(months) if moved else second, system
    )
    caption_of(found, first, second, months if moved else 0)
    groups(found, with_decisions(found.assets, decided, first.name), system)
    one_asset(found, with_decisions(found.assets, decided, first.name), decided, first)
    moving(data.slipped(version, first, second), first, months)
    take_away(version, first, second, system, decided, months)
    write_address(ahead, first, second, months)


def choose(ahead: list[Turnaround]) -> tuple[Turnaround, Turnaround]:
    """Draw the choice of the turnaround and of the one to be reached after it."""
    names = {one.name: one for one in ahead}
    first_box, second_box = st.columns(2)
    if st.session_state.get("turnaround") not in names:
        st.session_state["turnaround"] = ahead[0].name
    first = names[first_box.selectbox("Turnaround", list(names), key="turnaround", persist_state="session")]
    later = [one.name for one in ahead if one.start_on > first.start_on]
    if not later:
        second_box.markdown(
            "To reach the end of\n\n"
            f"{literal(first.name)}: no later turnaround is on record, so nothing beyond its end is asked."
        )
        return first, first
    if st.session_state.get("after") not in later:
        st.session_state["after"] = later[0]
    return first, names[second_box.selectbox("To reach the end of", later, key="after", persist_state="session")]


def slip_chosen() -> int:
    """Return the months of slip the address or the slider holds."""
    held = st.session_state.get("slip")
    if not isinstance(held, int):  # as the address says it; what the slider holds is left alone
        held = min(int(held), LONGEST_SLIP) if held and held.isdecimal() else 0
        st.session_state["slip"] = held
    return held


def write_address(ahead: list[Turnaround], first: Turnaround, second: Turnaround, months: int) -> None:
    """Keep the address the same as the choices; what is the default is left out of it."""
    state = st.session_state
    later = [one.name for one in ahead if one.start_on > first.start_on]
    address.write(
        "planning",
        {
            "turnaround": first.name if first.name != ahead[0].name else None,
            "after": second.name if later and second.name != later[0] else None,
            "words": state.get("words"),
            "slip": str(months) if months else None,
            "moved": "yes" if months and state.get("moved") == "yes" else None,
            "vessel": state.get("vessel"),
        },
    )
    address.write("planning groups", {"group": state.get("group") or []})
    address.leave_only(["turnaround", "after", "words", "slip", "moved", "vessel", "group", "units"])


# ---- the groups -----------------------------------------------------------------------------------------------------


def caption_of(found: Plan, first: Turnaround, second: Turnaround, months: int) -> None:
    """Say for which days the list is made; days that are only tried are never said as if they were the plan."""
    far = found.reach
    if months:
        along = "" if first == second else f"; {second.name} moves along, to {far.second.start_on}"
        runs = (
            f"Tried: {first.name} moved by {counted(months, 'month')}, from {first.start_on} to "
            f"{far.first.start_on}{along}."
        )
    else:
        runs = f"{far.first.name} runs from {far.first.start_on} to {far.first.end_on}."
    then = ", so moved," if months else ""
    st.caption(
        literal(
            f"{runs} Every asset is to reach the end of {far.second.name}{then} on {far.second.end_on}; it stands in "
            "the first group that fits it."
        )
    )


def groups(found: Plan, assets: pd.DataFrame, system: str) -> None:
    """Draw the groups with their counts, and every asset with its reason."""
    address.keep_known("group", list(GROUPS))
    present = [group for group in GROUPS if found.counts[group] or group in st.session_state["group"]]
    picked = st.pills(
        f"Group, of {counted(len(assets), 'asset')}",
        present,
        selection_mode="multi",
        format_func=lambda group: f"{group} · {found.counts[group]}",
        key="group",
        persist_state="session",
    )
    words = st.text_input(
        "Words", key="words", placeholder="tag, place, reason …", type="search", persist_state="session", width=420
    )
    searchable = assets.assign(words=data.words_in(assets, ("asset", "reason", "component", "location", "also")))
    rows = data.matching(searchable, {"group": picked}, words or "")
    if rows.empty:
        st.info("No asset matches these filters. Take one away to see more.")
        return
    if len(picked) == 1:
        st.caption(literal(f"{picked[0].capitalize()}: {GROUP_MEANINGS[picked[0]]}."))
    shown = reading.in_display_units(rows.head(ROWS_SHOWN), system)
    shown["place"] = places(shown)
    with parts.wide("groups"):
        parts.table(
            shown,
            HEADINGS,
            system,
            "Assets by group, the gravest first",
            widths={"reason": 560, "latest_safe": 150, "place": 208, "also": 200},
            pinned=["asset"],
            row_height=parts.WRAPPED_ROW,
            height="content" if len(shown) <= ROWS_IN_SIGHT else TALL_TABLE,
        )
    parts.paragraphs(
        [
            (
                f"{row['asset']} · {row['group']}",
                f"{row['reason']} Latest safe date: {row['latest_safe']}.{decided_in_words(row['decision'])}",
            )
            for row in shown.head(parts.NARROW_ROWS).to_dict("records")
        ],
        "groups",
        len(shown),
    )
    if "on-stream" in set(rows["group"]):
        st.caption(literal(f"On-stream in place of internal is still to be evidenced: {ON_STREAM_CONDITIONS}."))
    if len(rows) > ROWS_SHOWN:
        st.caption(f"The first {ROWS_SHOWN:,} are drawn; filter by group or words to reach the others.")
    with st.expander("What the groups mean"):
        parts.facts(GROUP_MEANINGS)


def decided_in_words(decision: object) -> str:
    """Return the decision on an asset as a sentence; nothing where none was made."""
    return f" Decided: {said(decision)}." if known(decision) else ""


def places(rows: pd.DataFrame) -> list[str]:
    """Return the governing place of each row in words."""
    return [
        said(component) if said(location) == said(None) else f"{component}, location {location}"
        for component, location in zip(rows["component"], rows["location"], strict=True)
    ]


# ---- one asset and its decision -------------------------------------------------------------------------------------


def one_asset(found: Plan, assets: pd.DataFrame, decided: pd.DataFrame, first: Turnaround) -> None:
    """Say everything the plan says of one asset, and record what is decided on it."""
    st.subheader("One asset", anchor=False)
    tags = list(assets["asset"])
    groups_of = dict(zip(tags, assets["group"], strict=True))
    if st.session_state.get("vessel") not in tags:
        st.session_state["vessel"] = None
    choice, button = st.columns([3, 1], vertical_alignment="bottom")
    tag = choice.selectbox(
        "Asset",
        tags,
        index=None,
        format_func=lambda name: f"{name} · {groups_of[name]}",
        key="vessel",
        placeholder="choose one to see every reason and to decide",
        persist_state="session",
    )
    if tag is None:
        return
    if button.button(literal(f"Open {tag}"), width="stretch"):
        st.session_state["asset"] = tag
        for name in ("component", "location"):
            st.session_state.pop(name, None)
        st.switch_page("views/asset.py", query_params={"asset": tag})
    claims = found.claims[found.claims["asset"] == tag]
    parts.stated_list((row["group"], row["reason"]) for row in claims.to_dict("records"))
    made = decided[(decided["asset"] == tag) & (decided["turnaround"] == first.name)]
    if len(made):
        st.markdown(f"**Decisions on {literal(tag)} for {literal(first.name)}**")
        parts.stated_list((said(row["decision"]), decision_in_words(row)) for row in made.to_dict("records"))
    decide(tag, first)


def decision_in_words(row: dict[str, object]) -> str:
    """Return who decided, when, why, and whether it still stands."""
    standing = "" if row["counts"] == "yes" else f" Counts: {row['counts']}."
    return f"{said(row['decided_by'])} on {said(row['decided_on'])}: {said(row['reason'])}.{standing}"


def decide(tag: str, first: Turnaround) -> None:
    """Draw the form in which a decision is recorded, or say what is missing to do so."""
    folder = data.plant_folder()
    if folder is None:
        st.caption("Results alone are open: a decision can be recorded where the app was opened on the plant's folder.")
        return
    if not st.session_state.get("person"):
        st.info("Choose your name in the sidebar to record a decision.")
        return
    closed = identity.why_not(folder, DECISION_KIND, tag)
    if closed:
        st.caption(literal(f"Decisions cannot be recorded under this name: {closed}"))
        return
    with st.form(f"decision {tag}", enter_to_submit=False):
        st.markdown(f"**Decide on {literal(tag)} for {literal(first.name)}**")
        decision = st.selectbox("Decision", DECISIONS, index=None, key=f"decision on {tag}", placeholder="choose")
        reason = st.text_input(
            "Reason", key=f"reason for {tag}", max_chars=2000, placeholder="why, as the minutes should have it"
        )
        sent = st.form_submit_button("Record the decision", type="primary")
    if not sent:
        return
    if not decision or not reason.strip():
        st.error("Nothing was recorded: choose a decision and give its reason.")
        return
    try:
        by = identity.who()
        row = decision_row(tag, first.name, decision, reason.strip(), by.name, date.today())
        data.decide_scope(folder, row, by, reason.strip())
    except Problem as problem:
        st.error(literal(problem))
        return
    st.session_state[SAID] = f"{tag}: {decision} for {first.name}, recorded under the name {by.name}."
    st.rerun()


# ---- when it moves --------------------------------------------------------------------------------------------------


def moving(found: Slip, first: Turnaround, months: int) -> None:
    """Draw what breaks when the turnaround moves, and what would buy time."""
    st.subheader(f"If {first.name} moves", anchor=False)
    slider, toggle = st.columns([3, 1], vertical_alignment="bottom")
    slider.slider(
        "Months later",
        min_value=0,
        max_value=LONGEST_SLIP,
        step=1,
        key="slip",
        persist_state="session",
        help="The turnarounds after it move along.",
    )
    if months:
        st.session_state["moved shown"] = st.session_state.get("moved") == "yes"
        toggle.toggle("Sort the list above for the moved dates", key="moved shown", on_change=_keep_moved)
    chosen = found.months[found.months["month"] == months].iloc[0]
    parts.cards(
        [
            (
                "latest start that breaks nothing more",
                day(found.latest_start_on),
                [found.latest_start_breaks, already(found.behind, "due before it begins as planned")],
                False,
            ),
            (
                "the same for what needs the shutdown",
                day(found.latest_start_shutdown_on),
                [
                    found.latest_start_shutdown_breaks,
                    already(found.behind_shutdown, "due before it begins as planned"),
                ],
                False,
            ),
            (
                f"further due dates broken, {counted(months, 'month')} later",
                f"{chosen['broken']}",
                [
                    f"on {counted(chosen['assets'], 'asset')}; it would begin on {said(chosen['start_on'])}",
                    already(found.behind, "due before it begins as planned"),
                ],
                True,
            ),
            (
                "further places at required thickness before it",
                f"{chosen['retiring']}",
                [
                    f"{chosen['retiring_at_high_rate']} at the high end of their rates",
                    already(found.places_below, "below required"),
                ],
                False,
            ),
            (
                "further relief devices past their interval",
                f"{chosen['devices']}",
                [
                    f"{counted(chosen['deferrals'], 'deferral')} would run out",
                    already(found.devices_behind, "past it when it begins as planned"),
                ],
                False,
            ),
        ]
    )
    st.vega_lite_chart(
        charts_fleet.first_failures(found.months, months, charts.palette(st.context.theme.type)),
        width="stretch",
        alt="Further due dates broken, and further places at required thickness, against months of slip",
    )
    st.caption(
        literal(
            f"Counted are dates after accepted deferrals that were to be met in {first.name} and fall before it once "
            f"moved. {counted(found.behind, 'date')} lie before it as planned and are not among them; nor are "
            f"{counted(found.unsure_assets, 'asset')} whose dates cannot be told."
        )
    )
    with st.expander("Month by month, as a table"):
        parts.table(found.months, MONTH_HEADINGS, "us", "What breaks at each month of slip")
    buying(found, first, months)


def _keep_moved() -> None:
    st.session_state["moved"] = "yes" if st.session_state["moved shown"] else None


def day(value: object) -> str:
    """Return a day, or the words for none."""
    return "no further date breaks" if said(value) == said(None) else said(value)


def already(number: int, words: str) -> str:
    """Return what no slip breaks any more because it is so as planned; empty where there is none of it."""
    return f"{number:,} already {words}" if number else ""


def buying(found: Slip, first: Turnaround, months: int) -> None:
    """List every broken date with the cheapest way to buy it."""
    st.markdown("**What buys time**")
    bought = buying_time(found, months)
    if bought.empty:
        more = f" What lies before {first.name} as planned stays as it is." if found.behind else ""
        st.write(
            literal(f"Nothing further breaks: no time has to be bought for it.{more}")
            if months
            else "Move the slider to see what would break besides."
        )
        return
    totals = counts_by_way(bought)
    chosen = found.months[found.months["month"] == months].iloc[0]
    due, walls = int(chosen["broken"]), int(chosen["retiring"])
    ways = ", ".join(f"{totals[way]} {WAY_COUNTED[way]}" for way in WAYS)
    st.write(
        literal(
            f"{counted(months, 'month').capitalize()} later, {counted(due, 'further due date')} broken and "
            f"{counted(walls, 'further place')} at required thickness: {ways}. Cheapest ways come "
            "first: readings, what can be met while the asset runs, deferrals, repairs. Nothing is approved here."
        )
    )
    shown = bought.assign(kind_shown=bought["kind"].map(kind), way_shown=bought["way"].map(WAY_WORDS.__getitem__))
    with parts.wide("broken"):
        parts.table(
            shown,
            BROKEN_HEADINGS,
            "us",
            "Broken dates with the cheapest way to buy time",
            widths={"what": 540, "way_shown": 205},
            pinned=["asset"],
            row_height=parts.WRAPPED_ROW,
            height="content" if len(shown) <= ROWS_IN_SIGHT else TALL_TABLE,
        )
    parts.paragraphs(
        [
            (
                f"{row['asset']} · {row['kind_shown']}, to be met by {said(row['needed_on'])}",
                f"{row['way_shown'].capitalize()}. {row['what']}",
            )
            for row in shown.head(parts.NARROW_ROWS).to_dict("records")
        ],
        "broken",
        len(shown),
        "the others are in the scope list below",
    )


# ---- to take away ---------------------------------------------------------------------------------------------------


def take_away(
    version: data.Version,
    first: Turnaround,
    second: Turnaround,
    system: str,
    decided: pd.DataFrame,
    months: int,
) -> None:
    """Offer the scope list as a workbook; it is written when it is asked for."""
    st.subheader("To take away", anchor=False)
    st.download_button(
        "Scope list as a workbook",
        data=lambda: data.scope_workbook(version, first, second, system, decided, months),
        file_name=f"scope {first.name}.xlsx",
        mime="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        on_click="ignore",
    )
    st.caption(
        "Every asset by group with reason, numbers and dates, the decisions, the slip month by month, and the policies "
        "in force; for the dates as planned."
    )


show()
