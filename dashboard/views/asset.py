"""One asset: what is asked of it, its parts and places, thickness over time, and the reasons down to the cells."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import groupby

import pandas as pd
import streamlit as st

from dashboard import address, charts, data, due_cards, parts
from dashboard.wording import (
    DASH,
    STATUS_MEANINGS,
    SYMBOLS,
    counted,
    kind,
    known,
    literal,
    said,
    sentence_units,
    standings,
    state,
    symbol_in_html,
    unbroken,
)
from pipeline import reading
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.drawing import HAND_WIDTH, NAMED, PAGE_WIDTH, svg
from pipeline.explain import Answer, Explanation, Input, Link, worth_sentence
from pipeline.print_page import file_name
from pipeline.quantities import QUANTITIES
from pipeline.units import show as show_value

PAGE_CAUTIONS = (CAUTION, NOT_CONSIDERED)
PART_HEADINGS = {
    "component": "component",
    "state_shown": "state",
    "kind_shown": "kind",
    "governing_location": "governing at",
    "t_act_mm": "last reading",
    "read_on": "read on",
    "t_req_mm": "required",
    "rate_mm_per_year": "rate",
    "remaining_life_years": "remaining life",
    "mawp_mpa": "MAWP now",
    "mawp_next_mpa": "MAWP then",
    "held_readings": "held",
    "said": "to note",
}
PLACE_HEADINGS = {
    "location": "location",
    "state_shown": "state",
    "t_act_mm": "last reading",
    "read_on": "read on",
    "t_req_mm": "required",
    "t_req_weld_mm": "required at the weld",
    "t_req_away_mm": "required away from it",
    "weld_region": "weld region",
    "rate_lt_mm_per_year": "long-term rate",
    "rate_st_mm_per_year": "short-term rate",
    "rate_mm_per_year": "governing rate",
    "remaining_life_years": "remaining life",
    "retirement_on": "retirement date",
    "due_on": "measure again by",
    "said": "to note",
}
READING_HEADINGS = {
    "read_on": "read on",
    "thickness_mm": "thickness",
    "status": "status",
    "text": "cell as it stood",
    "source": "from",
    "flags": "to look at",
    "method": "method",
    "inspector": "inspector",
    "remark": "remark",
}
MISSED_HEADINGS = {
    "read_on": "visited on",
    "component": "component",
    "location": "location",
    "reason": "why there is no reading",
    "remark": "remark",
    "source": "from",
}
COVERAGE_HEADINGS = {
    "component": "component",
    "kind": "kind",
    "places": "places",
    "places_never_read": "never read",
    "places_missed": "missed since last read",
    "longest_streak": "longest run of misses",
    "last_read_on": "last read on",
}
CHANGE_HEADINGS = {
    "at": "when (UTC)",
    "who": "who",
    "what": "what",
    "reason": "why",
    "number": "entry",
}
#: What a part of the chain is worked for; its last steps may be what follows from it.
COMES_TO = ("t_req", "C_r", "RL", "MAWP")
EVENT_HEADINGS = {
    "event_on": "date",
    "component": "component",
    "event": "event",
    "new_thickness_mm": "new thickness",
    "source": "from",
}


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    tag = choose_asset(fleet)
    if tag is None:
        return
    row = fleet.assets.set_index("asset", drop=False).loc[tag]
    about = data.asset(version, tag)
    header(fleet, row, system)
    due_dates(fleet, version, row, about, system)
    one_line(fleet, version, row)
    concerns(about, row, system, fleet)
    components(about, system)
    one_place(version, row, about, fleet, system)
    areas(version, tag, system)
    coverage(about)
    history(about, system)
    changed(tag)


@parts.alone
def one_place(version: data.Version, row: pd.Series, about: data.Asset, fleet: data.Fleet, system: str) -> None:
    """Draw one place and everything about it; another place is drawn without the rest of the page anew."""
    tag = row["asset"]
    component, location = choose_place(version, row, about)
    printables(version, tag, component, system)
    sketch(version, tag, component, location, system)
    if component and location:
        place(version, tag, component, location, about, fleet, system)
    explanation(version, tag, component, location, system)
    if component:
        locations(version, tag, component, system)


def choose_asset(fleet: data.Fleet) -> str | None:
    """Draw the choice of the asset, kept the same as the address; None where the address names one there is not."""
    address.adopt("asset", "asset", single=["asset", "component", "location"])
    tags = list(fleet.assets["asset"])
    named = st.session_state.get("asset")
    if named is not None and named not in tags:
        st.session_state["asset"] = None
        st.error(
            literal(f"{named}: there is no such asset in these results. Choose one below, or see the ranking on Fleet.")
        )
    elif named is None:
        st.session_state["asset"] = tags[0] if tags else None
    tag = st.selectbox(
        "Asset",
        tags,
        key="asset",
        placeholder="choose an asset",
        on_change=_forget_place,
        persist_state="session",
        width=320,
    )
    if tag is None:
        address.write("asset", {"asset": None, "component": None, "location": None})
    return tag


def _forget_place() -> None:
    for name in ("component", "location"):
        st.session_state[name] = None


def header(fleet: data.Fleet, row: pd.Series, system: str) -> None:
    """Say what it is, how it stands and why."""
    name = f"{row['asset']} · {row['description']}" if known(row["description"]) else row["asset"]
    parts.title(name, fleet.build)
    st.subheader(
        literal(f"{state(row['state'], row['held_readings'])} · rank {row['rank']} of {len(fleet.assets)}"),
        anchor=False,
    )
    if row["state"] == "below required":
        st.error(literal(BELOW_REQUIRED))
    parts.sentence(f"{row['asset']}: {row['reason']}.")
    rating = f"rating pressure ({row['rating_from']})" if known(row["rating_from"]) else "rating pressure"
    parts.facts(
        {
            "service": row["service"],
            "area": row["area"],
            "assigned to": row["assigned_to"],
            "construction code": row["construction_code"],
            "in service since": row["in_service_on"],
            rating: reading.shown_value(row, "rating_pressure_mpa", system),
            "lowest MAWP now": reading.shown_value(row, "mawp_mpa", system),
            "lowest MAWP at next inspection": reading.shown_value(row, "mawp_next_mpa", system),
            "components not assessable": f"{row['components_not_assessable']} of {row['components']}",
            "readings held": row["held_readings"],
        }
    )
    st.page_link("views/what_if.py", label=f"What if something were changed on {row['asset']}?")
    if row["held_readings"]:
        st.caption(reading.held_in_words(row.to_dict()))


def due_dates(fleet: data.Fleet, version: data.Version, row: pd.Series, about: data.Asset, system: str) -> None:
    """Show every due date beside the retirement date, with what set it and what moves it."""
    st.subheader("Due dates", anchor=False)
    own = fleet.due_dates[fleet.due_dates["asset"] == row["asset"]]
    first, devices = data.first_asked(version, row["asset"]), data.relief_devices(version, row["asset"])
    items = []
    for due in own.to_dict("records"):
        date_said = said(due["due_on"]) if known(due["due_on"]) else "no date"
        lines = due_cards.lines(due, row["held_readings"], first, devices.to_dict("records"), system)
        items.append((kind(due["kind"]), date_said, lines, due["kind"] == row["due_kind"]))
    retirement = said(row["retirement_on"]) if known(row["retirement_on"]) else "no date"
    lines = due_cards.retirement(row.to_dict(), about.components)
    items.append(("retirement: required thickness reached", retirement, lines, False))
    parts.cards(items)
    st.caption("The framed date is the one named in the ranking.")


def one_line(fleet: data.Fleet, version: data.Version, row: pd.Series) -> None:
    """Draw all due dates on one line, with what they rest on: as-of date, turnarounds, retirement."""
    own = fleet.due_dates[(fleet.due_dates["asset"] == row["asset"]) & fleet.due_dates["due_on"].notna()]
    dates = pd.DataFrame(
        {
            "on": own["due_on"],
            "words": own["kind"].map(kind),
            "said": [
                f"{said(due['due_on'])}, {due_cards.standing(due['kind'], due['state'], row['held_readings'])}"
                for due in own.to_dict("records")
            ],
        }
    )
    if known(row["retirement_on"]):
        dates.loc[len(dates.index)] = [row["retirement_on"], "retirement", "required thickness reached"]
    if dates.empty:
        return
    moved = own[own["deferred_until"].notna()]
    spans = pd.DataFrame(
        {
            "from_on": moved["due_on"],
            "to_on": moved["deferred_until"],
            "words": moved["kind"].map(kind),
            "said": [f"deferred until {said(day)}" for day in moved["deferred_until"]],
        }
    )
    turnarounds = fleet.turnarounds.to_dict("records")
    marks = [(pd.Timestamp(fleet.build.as_of), "as of"), *((each["start_on"], each["name"]) for each in turnarounds)]
    st.vega_lite_chart(
        charts.dates_on_one_line(
            dates, spans, pd.DataFrame(marks, columns=["on", "words"]), charts.palette(st.context.theme.type)
        ),
        width="stretch",
        alt="All due dates of the asset on one line",
    )


def sketch(version: data.Version, tag: str, component: str | None, location: str | None, system: str) -> None:
    """Draw the vessel to scale with its places, each with the symbol of its state."""
    made = data.sketch(version, tag, system)
    ink, chosen = charts.palette(st.context.theme.type).ink, (component, location)
    if not made.outlines:
        return
    told = f"{NAMED}: {'; '.join(mark.words for mark in made.marks)}"
    for box, width in ((parts.wide("sketch"), PAGE_WIDTH), (parts.narrow("sketch"), HAND_WIDTH)):
        box.image(svg(made, SYMBOLS, ink, chosen, width), width="content", alt=told)
    present = [name for name in SYMBOLS if any(mark.state == name for mark in made.marks)]
    legend = [
        *map(state, present),
        *([f"held: {STATUS_MEANINGS['held']}"] if any(each.held for each in made.marks) else []),
    ]
    meanings = f"{'; '.join(legend)}." if legend else ""
    st.caption(literal(" ".join([meanings, *made.remarks, "The ringed place is the chosen one."]).strip()))


def areas(version: data.Version, tag: str, system: str) -> None:
    """Say what the readings and pits of corroded areas come to, with every step."""
    told = data.areas(version, tag, system)
    if not told:
        return
    st.subheader("Corroded areas", anchor=False)
    for area in told:
        parts.sentence(f"{area.sentence}.")
        for row in (*area.surveys, *area.pit_surveys):
            if known(row["screening_verdict"]):
                st.caption(literal(f"Survey of {said(row['read_on'])}: {row['screening_verdict']}"))
        for fault in area.faults:
            st.error(literal(fault))
        for caution in area.cautions:
            if caution not in PAGE_CAUTIONS:  # those end every page
                st.caption(literal(caution))
        with st.expander(literal(f"{area.component}, area {area.area}: {counted(len(area.links), 'equation')}")):
            for remark in area.remarks:
                st.markdown(literal(remark))
            for number, link in enumerate(area.links, start=1):
                symbol = QUANTITIES[link.result_symbol].symbol
                st.markdown(f"**{number}.** {literal(link.title)}: ${symbol}$ = {literal(link.shown)}")
                equation(link)


def coverage(about: data.Asset) -> None:
    """Say what of the asset is measured at all: a life is a statement about the places measured."""
    st.subheader("What is measured", anchor=False)
    parts.table(about.coverage, COVERAGE_HEADINGS, "us", "Coverage of the asset by places", pinned=["component"])
    st.caption("A remaining life is a statement about the places measured; a component without any is not assessable.")


def changed(tag: str) -> None:
    """List everything people entered about the asset."""
    folder = data.plant_folder()
    if folder is None:
        return
    rows = data.changes(folder, tag)
    st.subheader("What people entered", anchor=False)
    if not rows:
        st.markdown("Nothing was entered about this asset in the app; its history is in the sheets.")
        return
    parts.table(
        pd.DataFrame(rows), CHANGE_HEADINGS, "us", "Entries about the asset", widths={"what": 520, "reason": 260}
    )


def concerns(about: data.Asset, row: pd.Series, system: str, fleet: data.Fleet) -> None:
    """List the dates and findings besides the one that ranks the asset, most urgent first."""
    st.subheader("Other dates and findings", anchor=False)
    others = about.concerns.iloc[1:]
    if others.empty:
        st.markdown("Nothing besides what is said above.")
    parts.stated_list(
        (due_cards.standing(other["kind"], other["state"], row["held_readings"]), other["sentence"])
        for other in others.to_dict("records")
    )
    note = sentence_units(system, fleet.build.units)
    if note:
        st.caption(note)


def components(about: data.Asset, system: str) -> None:
    """Show every component with its governing place."""
    st.subheader("Components", anchor=False)
    if about.components.empty:
        st.warning("No component of this asset is on any component sheet: nothing can be said of its wall.")
        return
    shown = reading.in_display_units(about.components, system)
    shown["state_shown"] = standings(shown)
    shown["kind_shown"] = shown["kind"].fillna(shown["kind_text"])
    shown["said"] = [_to_note(row, system) for row in about.components.to_dict("records")]
    parts.table(shown, PART_HEADINGS, system, "Components of the asset", pinned=["component"], widths={"said": 380})
    st.caption(
        "MAWP then is that at the next inspection; neither is ever above the rating pressure. Held are the readings "
        "that wait for a person's verdict."
    )


def _to_note(row: reading.Row, system: str) -> str:
    """Say what a table cell without a number means, and what a person should know beside the numbers."""
    notes = []
    if known(row["missing"]):
        notes.append(f"missing: {row['missing']}")
    elif not known(row["remaining_life_years"]):
        life = reading.life_in_words(row, system)
        notes.append("no life is left" if life == "none left" else life)
    if row.get("places_never_read"):
        notes.append(f"{counted(int(row['places_never_read']), 'place')} without a reading that counts")
    if row.get("weld_distance_places"):
        notes.append(f"the verdict of {counted(int(row['weld_distance_places']), 'place')} turns on the weld distance")
    if row.get("verdict_turns_on_weld_distance"):
        notes.append("the verdict turns on the weld distance")
    if known(row.get("due_on_with_held")):
        then, now = said(row["due_on_with_held"]), said(row["due_on"])
        date_then = f"still measure again by {then}" if then == now else f"measure again by {then}"
        notes.append(
            f"a reading is held: if it counted, {date_then}, remaining life "
            f"{show_value(row['remaining_life_with_held_years'], 'duration', system)}"
        )
    return "; ".join(notes) or DASH


def choose_place(version: data.Version, row: pd.Series, about: data.Asset) -> tuple[str | None, str | None]:
    """Draw the choice of component and location; the governing ones by default, and then not in the address."""
    names = list(about.components["component"])
    if not names:
        address.write("asset", {"asset": row["asset"], "component": None, "location": None})
        return None, None
    st.subheader("One place, and why", anchor=False)
    governing = row["governing_component"] if row["governing_component"] in names else names[0]
    _default("component", names, governing)
    left, right, _ = st.columns(3)
    parts_shown = dict(zip(names, standings(about.components), strict=True))
    component = left.selectbox(
        "Component",
        names,
        format_func=lambda name: f"{name} · {parts_shown[name]}",
        key="component",
        on_change=lambda: st.session_state.update(location=None),
        persist_state="session",
    )
    there = data.places(version, row["asset"], component)
    tags = list(there["location"])
    part = about.components.set_index("component").loc[component]
    worst = row["governing_location"] if component == row["governing_component"] else part["governing_location"]
    first = worst if worst in tags else part["governing_location"]
    first = first if first in tags else (tags[0] if tags else None)
    _default("location", tags, first)
    location = None
    if tags:
        places_shown = dict(zip(tags, standings(there), strict=True))
        location = right.selectbox(
            "Location",
            tags,
            format_func=lambda name: f"{name} · {places_shown[name]}",
            key="location",
            persist_state="session",
        )
    else:
        st.warning("This component has no location on record: its life is not known.")
    address.write(
        "asset",
        {
            "asset": row["asset"],
            "component": component if component != governing else None,
            "location": location if location != first else None,
        },
    )
    return component, location


def printables(version: data.Version, tag: str, component: str | None, system: str) -> None:
    """Offer the page of the asset and the calculation record of the component; each is made when it is asked for."""
    folder = data.plant_folder()
    offered = {"print asset": None, **({"print component": component} if component else {})}
    with st.container(horizontal=True):
        for key, name in offered.items():
            what = f"Page of {literal(tag)}" if name is None else f"Calculation record of {literal(name)}"
            st.download_button(
                f"{what}, to print",
                partial(data.printable, version, folder, tag, name, system),
                file_name=file_name(tag, name),
                mime="text/html",
                on_click="ignore",
                key=key,
            )


def _default(name: str, options: list[str], otherwise: str | None) -> None:
    """Put the default where nothing is chosen; say so where the address names what there is not."""
    chosen = st.session_state.get(name)
    if chosen is not None and chosen not in options:
        st.warning(literal(f"There is no {name} called {chosen} here: the governing one is shown instead."))
    if chosen not in options:
        st.session_state[name] = otherwise


def place(
    version: data.Version,
    tag: str,
    component: str,
    location: str,
    about: data.Asset,
    fleet: data.Fleet,
    system: str,
) -> None:
    """Draw thickness over time at one place, and say it in words."""
    found = data.place(version, tag, component, location)
    row = found.row
    unit, decimals = reading.unit_of("t_act_mm", system)
    readings = reading.in_display_units(found.readings, system)
    readings["text"] = [_as_it_stood(each) for each in found.readings.to_dict("records")]
    if readings.empty:
        st.info("No reading of this place is on record, so there is nothing to draw.")
        return
    days = [(fleet.build.as_of, "as of")]
    if row["epoch_on"] is not None:
        days.append((row["epoch_on"], "new history"))
    if row["retirement_on"] is not None and pd.Timestamp(row["retirement_on"]) in set(found.projection["on"]):
        days.append((row["retirement_on"], "required thickness reached"))
    own = about.events[about.events["component"].isna() | (about.events["component"] == component)]
    days.extend((event["event_on"].date(), event["event"]) for event in own.to_dict("records"))
    said_days = (
        pd.DataFrame(days, columns=["on", "words"]).groupby("on", as_index=False).agg(words=("words", ", ".join))
    )
    said_days["on"] = pd.to_datetime(said_days["on"])
    st.vega_lite_chart(
        charts.thickness_over_time(
            readings,
            reading.in_display_units(reading.requirements(row), system),
            reading.in_display_units(found.projection, system),
            said_days,
            unit,
            decimals,
            charts.palette(st.context.theme.type),
            reading.in_display_units(found.band, system),
        ),
        width="stretch",
        alt=f"Thickness over time at {component}, location {location}",
    )
    st.caption(unbroken(literal(_in_words(row, found.readings, system))))
    source_cells(readings, system, f"{tag} {component} {location}")
    pressure(version, tag, found, fleet, system)


# What is folded is drawn when it is opened, alone: the page stands sooner, and a step opens without the rest anew.


@parts.alone
def source_cells(readings: pd.DataFrame, system: str, where: str) -> None:
    """List every reading of the place with its cell."""
    label = f"{counted(len(readings), 'reading')} with source cells"
    with st.expander(label, key=f"source cells of {where}", on_change="rerun") as folded:
        if not folded.open:
            return
        parts.table(readings, READING_HEADINGS, system, "Readings of the place", widths={"source": 320, "flags": 320})
        present = [status for status in STATUS_MEANINGS if status in set(readings["status"])]
        meanings = "; ".join(f"{status}: {STATUS_MEANINGS[status]}" for status in present)
        st.caption(f"{meanings}.")


@parts.alone
def pressure(version: data.Version, tag: str, found: data.Place, fleet: data.Fleet, system: str) -> None:
    """Draw the MAWP of the place over time against what the vessel is rated for and where its relief device opens."""
    if found.pressure.empty:
        return
    where = f"{tag} {found.row['component']} {found.row['location']}"
    folded = st.expander("MAWP of this place over time", key=f"pressure at {where}", on_change="rerun")
    if not folded.open:
        return
    unit, decimals = reading.unit_of("mawp_mpa", system)
    owner = fleet.assets.set_index("asset").loc[tag]
    devices = data.relief_devices(version, tag).to_dict("records")
    lines = [
        (owner["rating_pressure_mpa"], f"rating ({said(owner['rating_from'])})"),
        *((row["set_pressure_mpa"], f"{row['device']} opens") for row in devices),
    ]
    limits = pd.DataFrame([line for line in lines if known(line[0])], columns=["pressure_mpa", "words"])
    limits = limits.groupby("pressure_mpa", as_index=False).agg(words=("words", ", ".join))
    turnarounds = fleet.turnarounds.to_dict("records")
    known_days = ((row["start_on"], row["name"]) for row in turnarounds if known(row["start_on"]))
    days = [(pd.Timestamp(fleet.build.as_of), "as of"), *known_days]
    drawn = [day for day in days if day[0] <= found.pressure["on"].max()]
    with folded:
        st.vega_lite_chart(
            charts.pressure_over_time(
                reading.in_display_units(found.pressure, system),
                reading.in_display_units(limits, system),
                pd.DataFrame(drawn, columns=["on", "words"]),
                unit,
                decimals,
                charts.palette(st.context.theme.type),
            ),
            width="stretch",
            alt="MAWP of the place over time, against rating and relief set pressure",
        )
        row = found.row
        st.caption(
            literal(
                "At the thickness less twice the loss since the last reading (API 510 7.3), never above the rating. "
                f"Now {reading.shown_value(row, 'mawp_mpa', system)}, at the next inspection "
                f"{reading.shown_value(row, 'mawp_next_mpa', system)}, at the start of the next turnaround "
                f"{reading.shown_value(row, 'mawp_turnaround_mpa', system)}, of the one after "
                f"{reading.shown_value(row, 'mawp_after_mpa', system)}."
            )
        )


def _as_it_stood(row: reading.Row) -> str:
    """Return the cell of a reading in quotation marks, with the unit of its heading where the cell itself has none."""
    text, unit = said(row["text"]), row["unit"]
    return f"“{text}”" if not known(unit) or str(unit) in text else f"“{text} {unit}”"


def _in_words(row: reading.Row, readings: pd.DataFrame, system: str) -> str:
    """Say what the chart shows."""
    counts = "; ".join(f"{number} {status}" for status, number in readings["status"].value_counts().items())
    words = [f"In words: {counted(len(readings), 'reading')} ({counts})"]
    if row["t_act_mm"] is None:
        return f"{words[0]}. None of them counts."
    rate_from = f" ({row['rate_from']})" if row["rate_from"] else ""
    facts = [
        f"Last counted {reading.shown_value(row, 't_act_mm', system)} on {said(row['read_on'])}",
        f"required {reading.shown_value(row, 't_req_mm', system)}",
        f"governing rate {reading.shown_value(row, 'rate_mm_per_year', system)}{rate_from}",
        f"remaining life {reading.life_in_words(row, system)}",
    ]
    if row["retirement_on"]:
        facts.append(f"required thickness reached on {said(row['retirement_on'])}")
    if row["due_on"]:
        facts.append(f"measure again by {said(row['due_on'])}")
    words.append("; ".join(facts))
    if known(row["missing"]):
        words.append(f"Missing: {row['missing']}")
    return ". ".join([*words, ""]).strip()


def explanation(version: data.Version, tag: str, component: str | None, location: str | None, system: str) -> None:
    """Write the reasons of the place: both weld answers, the three radius bases, and every equation with its cells."""
    told = data.why(version, tag, component, location, system)
    where = f"{told.component}, location {told.location}" if told.place else "this asset"
    st.subheader(literal(f"The reasons for {where}"), anchor=False)
    for fault in told.faults:
        st.error(literal(fault))
    if told.place is None:
        st.info("There is no place with readings to work from: the sentence above says what is missing.")
        return
    st.markdown("**Near the weld and away from it**")
    parts.cards((_answer_card(answer) for answer in told.weld_answers), symbols=True)
    st.caption(
        "The framed answer counts. It follows from the distance to the nearest weld; where that is not known, "
        "the weld region counts."
    )
    st.markdown("**On which radius**")
    parts.cards((_answer_card(answer) for answer in told.basis_answers), symbols=True)
    st.caption("The framed basis is in force at this plant; the others show what the choice is worth.")
    if told.bands:
        st.markdown("**How sure**")
        st.markdown("\n".join(f"- {literal(sentence)}" for sentence in told.bands))
    if told.worth:
        st.markdown("**Worth measuring**")
        worth = dict.fromkeys(worth_sentence(each, system) for each in told.worth)
        st.markdown("\n".join(f"- {literal(sentence)}" for sentence in worth))
    then = [_next_in_words(each) for each in told.next_due]
    if then:
        st.markdown("**What would govern next**")
        st.markdown("\n".join(f"- {literal(sentence)}" for sentence in then))
    if told.remarks:
        st.markdown("**To know when reading this**")
        st.markdown("\n".join(f"- {literal(remark)}" for remark in told.remarks))
    cells(told)
    links(told)


def _next_in_words(row: reading.Row) -> str:
    where = reading.in_place(row["component"], row["location"])
    if row["next_due_on"] is None:
        then = "nothing else would set it"
    else:
        by = "the longest interval"
        if row["next_component"] is not None:
            by = reading.in_place(row["next_component"], row["next_location"])
        then_on, now_on = said(row["next_due_on"]), said(row["due_on"])
        then = f"it would {'stay the same' if then_on == now_on else f'be {then_on}'}, by {by}"
    return f"{kind(row['kind'])} date, {said(row['due_on'])} by {where}: were that place disproved, {then}."


def _answer_card(answer: Answer) -> tuple[str, str, list[str], bool]:
    lines = [f"remaining life {answer.remaining_life}", answer.verdict]
    if answer.difference_years is not None and not answer.counts:
        lines.append(f"{reading.shown_difference(answer.difference_years)} against the basis in force")
    lines.append(answer.equation)
    return answer.name, f"{answer.t_req} required", lines, answer.counts


def cells(told: Explanation) -> None:
    """Write every number that was read from a sheet, with the cell it stood in."""
    read = {(item.symbol, str(item.origin)): item for link in told.links for item in link.inputs if item.origin.file}
    st.markdown(f"**From these cells** · {counted(len(read), 'number')} read from the spreadsheets")
    if read:
        _inputs_table(list(read.values()))


def _inputs_table(inputs: Sequence[Input]) -> None:
    parts.written_table(
        [
            (symbol_in_html(item.typeset), *map(parts.in_html, (item.label, item.shown, str(item.origin))))
            for item in inputs
        ],
        ("symbol", "meaning", "value", "where it comes from"),
        "Numbers with their sources",
        "origins",
    )


@parts.alone
def links(told: Explanation) -> None:
    """Write the chain of equations in its parts, each equation with its numbers, clause and the cells of its inputs."""
    st.markdown(
        f"**Step by step** · {counted(len(told.links), 'equation')}, each worked again and held against what the "
        "build stored"
    )
    opened = st.toggle("Open every step", value=False, key="every step open", persist_state="session")
    for name, steps in groupby(enumerate(told.links, start=1), key=lambda step: step[1].part):
        part(told, name, list(steps), opened)


def part(told: Explanation, name: str, steps: list[tuple[int, Link]], opened: bool) -> None:
    """Write a part of the chain: what it comes to, and its steps when it is opened."""
    (first, _), (last, last_link) = steps[0], steps[-1]
    numbers = f"step {first}" if first == last else f"steps {first} to {last}"
    result = next((link for _, link in reversed(steps) if link.result_symbol in COMES_TO), last_link)
    comes_to = f"${QUANTITIES[result.result_symbol].symbol}$ = {literal(result.shown)}"
    faulty = any(link.fault for _, link in steps)
    key = f"{name} of {told.asset} {told.component} {told.location}, {'all open' if opened else 'alone'}"
    label = f"**{name}** · {numbers}: {comes_to}"
    with st.expander(label, expanded=opened or faulty, key=key, on_change="rerun") as folded:
        if folded.open:
            for number, link in steps:
                symbol = QUANTITIES[link.result_symbol].symbol
                st.markdown(f"**{number}.** {literal(link.title)}: ${symbol}$ = {literal(link.shown)}")
                equation(link)


def equation(link: Link) -> None:
    """Write one equation: as the clause has it, with numbers, its result, and where each number came from."""
    if link.fault:
        st.error(literal(link.fault))
    left, _, right = link.typeset.partition(" = ")
    lines = [rf"{left} &= {right}"]
    if link.typeset_values:
        lines.append(rf"&= {link.typeset_values}")
    lines.append(rf"&= \text{{{link.shown}}}")
    st.latex("".join([r"\begin{aligned}", r" \\[0.7em] ".join(lines), r"\end{aligned}"]))
    st.caption(literal(" · ".join(part for part in (link.source, link.note) if part)))
    if link.inputs:
        _inputs_table(link.inputs)


def locations(version: data.Version, tag: str, component: str, system: str) -> None:
    """Show every location of the chosen component."""
    st.subheader(literal(f"Locations of {component}"), anchor=False)
    there = data.places(version, tag, component)
    if there.empty:
        st.warning("No location of this component is on record.")
        return
    shown = reading.in_display_units(there, system)
    shown["state_shown"] = standings(shown)
    shown["said"] = [_to_note(row, system) for row in there.to_dict("records")]
    parts.table(shown, PLACE_HEADINGS, system, "Locations of the component", pinned=["location"], widths={"said": 380})


def history(about: data.Asset, system: str) -> None:
    """Show visits without a reading, and the events that start a new history."""
    if not about.not_measured.empty:
        st.subheader("Visited and not measured", anchor=False)
        parts.table(about.not_measured, MISSED_HEADINGS, system, "Visits without a reading", widths={"source": 320})
    if not about.events.empty:
        st.subheader("Events", anchor=False)
        shown = reading.in_display_units(about.events, system)
        parts.table(shown, EVENT_HEADINGS, system, "Events of the asset", widths={"source": 320})


show()
