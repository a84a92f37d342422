"""Entering at one asset: what is typed is judged by the very steps before it is saved, and saved under a name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import address, data, identity, parts
from dashboard.wording import DASH, KINDS, counted, kind, known, literal, said, state
from pipeline import judging, reading
from pipeline.cautions import BELOW_REQUIRED
from pipeline.errors import Problem
from pipeline.field_sheet import REASONS
from pipeline.sheets.entries import Typed
from pipeline.sheets.words import accepted
from pipeline.units import DISPLAY
from pipeline.units import show as show_value

#: What may be entered here, each with the kind of row the record has for it.
SECTIONS = {
    "Readings": "survey, long",
    "Held readings": "reading decision",
    "Rate": "rate choices",
    "Weld distance": "locations",
    "Event": "events",
    "Inspection": "inspections",
    "Recommendations": "recommendations",
}
WHOLE = "the whole asset"
EVERY_PLACE = "every place of the component"
RATE_HEADINGS = {
    "choice": "rate",
    "rate_mm_per_year": "value",
    "remaining_life_years": "remaining life",
    "retirement_on": "retirement date",
    "due_on": "measure again by",
    "asset_due_on": "asset due",
    "said": "to note",
}
MOVED_HEADINGS = {
    "what": "what",
    "where": "where",
    "before": "today",
    "after": "with it",
    "days": "days later (− earlier)",
}
PLACE_HEADINGS = {
    "where": "place",
    "side": "",
    "state_shown": "state",
    "t_act_mm": "last reading",
    "t_req_mm": "required",
    "rate_mm_per_year": "rate",
    "life": "remaining life",
    "due_said": "measure again by",
}
#: What a rate is called where a person chooses it, other than its word on the sheets.
CHOICE_WORDS = {**judging.RATE_WORDS, "named rate": "other rate, as a number"}

# What this session holds from one rerun to the next.
TRIAL, SAID = "rows on trial", "entered said"


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    parts.title("Enter and judge", fleet.build)
    folder = data.plant_folder()
    if folder is None:
        st.info(
            "Entering needs the plant's folder, and the app was started without one. End it, and start it by "
            "'hoopline open FOLDER'; all other pages work as they are."
        )
        return
    say_entered()
    tag = choose_asset(fleet)
    if tag is None:
        return
    row = fleet.assets.set_index("asset", drop=False).loc[tag]
    parts.sentence(f"{state(row['state'], row['held_readings'])}. {tag}: {row['reason']}.")
    section = st.segmented_control(
        "What to enter", list(SECTIONS), default="Readings", required=True, key="entering section",
        persist_state="session",
    )  # fmt: skip
    closed = identity.why_not(folder, SECTIONS[section], tag)
    if closed:
        st.warning(literal(closed))
        st.caption("What a row would change may be looked at all the same.")
    SHOWN[section](Place(version, folder, tag, fleet, closed is None))
    results(version, folder, fleet)


class Place:
    """What a section works on: the results, the folder, the asset, and whether this person may enter."""

    def __init__(self, version: data.Version, folder: Path, tag: str, fleet: data.Fleet, open_: bool) -> None:
        self.version, self.folder, self.tag, self.fleet, self.open = version, folder, tag, fleet, open_
        self.system: str = st.session_state["units"]

    def key(self, name: str) -> str:
        """Return the key of a field: what was typed for one asset never stands under another."""
        return f"entering {self.tag} {name}"

    @property
    def components(self) -> list[str]:
        """The components on record."""
        return list(data.asset(self.version, self.tag).components["component"])

    def locations(self, component: str) -> list[str]:
        """The locations of a component on record."""
        return list(data.places(self.version, self.tag, component)["location"])


def choose_asset(fleet: data.Fleet) -> str | None:
    """Draw the choice of the asset, kept the same as the address."""
    before = st.session_state.get("asset")
    address.adopt("entering", "entering", single=["asset"])
    if st.session_state.get("asset") is None:  # the asset of the page one comes from is the one meant here
        st.session_state["asset"] = before
    address.leave_only(["asset", "units"])
    tags = list(fleet.assets["asset"])
    named = st.session_state.get("asset")
    if named is not None and named not in tags:
        st.error(literal(f"{named}: there is no such asset in these results. Choose one below."))
    if named not in tags:
        st.session_state["asset"] = None
    tag = st.selectbox("Asset", tags, key="asset", placeholder="choose an asset", persist_state="session", width=320)
    address.write("entering", {"asset": tag})
    return tag


# ---- trying and saving ----------------------------------------------------------------------------------------------


def field(place: Place, words: str, name: str, **options: object) -> str:
    """Draw a field for text; what is typed stays through reruns, other pages and new results."""
    text = st.text_input(words, key=place.key(name), max_chars=10_000, persist_state="session", **options)  # type: ignore[call-overload]
    return text or ""


def where(place: Place, name: str, whole: str | None = None) -> tuple[str | None, str | None]:
    """Draw the choice of component and location; `whole` is the word for all of the locations, if one may choose it."""
    if not place.components:
        st.warning("No component of this asset is on any component sheet: list it there first.")
        return None, None
    left, right = st.columns(2)
    component = left.selectbox(
        "Component", place.components, key=place.key(f"{name} component"), persist_state="session"
    )
    tags = [*([whole] if whole else []), *place.locations(component)]
    if not tags:
        st.warning("This component has no location on record: list it on a locations sheet first.")
        return component, None
    if st.session_state.get(place.key(f"{name} location")) not in tags:
        st.session_state[place.key(f"{name} location")] = tags[0]
    location = right.selectbox("Location", tags, key=place.key(f"{name} location"), persist_state="session")
    return component, location


def judge(place: Place, typed: Callable[[], list[Typed]], section: str) -> None:
    """Try rows by the steps and keep what came out, or the sentence why they cannot be used."""
    try:
        rows = typed()
        with st.spinner("Working it by the very steps of the results"):
            found = data.judged(place.version, place.folder, place.tag, rows)
    except Problem as problem:
        st.session_state.pop(TRIAL, None)
        st.error(literal(problem))
        return
    st.session_state[TRIAL] = (section, place.tag, rows, found, place.version)


def outcome(place: Place, section: str, then: Callable[[str], str] | None = None) -> None:
    """Draw what the rows on trial would change, and the form under which they are entered."""
    kept = st.session_state.get(TRIAL)
    if kept is None or kept[:2] != (section, place.tag):
        return
    rows: list[Typed] = kept[2]
    found: judging.Judgement = kept[3]
    st.subheader("What it would change", anchor=False)
    if kept[4] != place.version:
        st.warning("New results were published since this was judged: press 'Judge' again before entering it.")
    for words in judging.in_words(found, place.system):
        parts.sentence(words)
    for remark in found.remarks:
        st.warning(literal(remark))
    if any(one.below_required and one.status == "used" for one in found.readings):
        st.error(literal(BELOW_REQUIRED))
    if found.worked_on != found.published_on:
        st.caption(
            f"Both sides are worked as of {found.worked_on.isoformat()}; the results in view are as of "
            f"{found.published_on.isoformat()}."
        )
    places(place, found)
    moved(found)
    save(place, section, rows, kept[4] == place.version)


def moved(found: judging.Judgement) -> None:
    """Say which states and dates would move, and which readings would wait for a person."""
    if found.changes_nothing:
        st.info("No state and no date of this asset would change.")
        return
    held_then = judging.held_in_words(found)
    if held_then:
        st.info(literal(f"{held_then}." if found.moves_a_date else f"No date would change; {held_then}."))
    parts.stated_list(
        (what_words(one.what), moved_words(one, found))
        for one in found.moved
        if one.component is None or one.what in KINDS
    )
    rows = pd.DataFrame(
        {
            "what": [what_words(one.what) for one in found.moved],
            "where": [place_words(one.component, one.location) for one in found.moved],
            "before": [said(one.before) for one in found.moved],
            "after": [said(one.after) for one in found.moved],
            "days": pd.array([one.days for one in found.moved], dtype="Int64"),
        }
    )
    with st.expander(f"All {counted(len(rows), 'change')}"):
        parts.table(rows, MOVED_HEADINGS, st.session_state["units"], "States and dates that would change")


def moved_words(one: judging.Moved, found: judging.Judgement) -> str:
    """Return one change as a sentence."""
    if one.what == "state":
        return f"It would change from {said(one.before)} to {said(one.after)}."
    if one.after is None:
        return f"There would be no date any more; today it is {said(one.before)}."
    then = f"{said(one.after)}{found.early_for_its_turnaround(one)}"
    if one.before is None:
        return f"There would be a date: {then}."
    return f"The date would move from {said(one.before)} to {then}."


def what_words(what: str) -> str:
    """Return what moved, in words."""
    return f"{kind(what)} due" if what in KINDS else what


def place_words(component: str | None, location: str | None) -> str:
    """Return a place in words; an em dash for the whole asset."""
    return reading.in_place(component, location) or DASH


def places(place: Place, found: judging.Judgement) -> None:
    """Set each place that a row is about beside itself as it stands today."""
    touched = list(dict.fromkeys((one.component, one.location) for one in found.readings))
    rows = []
    for component, location in touched:
        for side, standing in (("today", found.before), ("with it", found.after)):
            there = standing.place(component, location)
            if there is not None:
                rows.append(
                    {
                        **{name: there[name] for name in ("t_act_mm", "t_req_mm", "rate_mm_per_year")},
                        "where": reading.in_place(component, location),
                        "side": side,
                        "state_shown": state(there["state"], standing.held_places()[component, location]),
                        "due_said": found.measure_again(there),
                        "life": reading.life_in_words(there, place.system),
                    }
                )
    if rows:
        shown = reading.in_display_units(pd.DataFrame(rows), place.system)
        with parts.wide("judged"):
            parts.table(shown, PLACE_HEADINGS, place.system, "Places today and with it", pinned=["where", "side"])
        parts.paragraphs(
            [(f"{row['where']} · {row['side']}", standing_words(row, place.system)) for row in rows],
            "judged",
            len(rows),
        )


def standing_words(row: dict[str, Any], system: str) -> str:
    """Return how a place stands, in words."""
    facts = [
        row["state_shown"],
        f"last reading {reading.shown_value(row, 't_act_mm', system)}",
        f"required {reading.shown_value(row, 't_req_mm', system)}",
        f"rate {reading.shown_value(row, 'rate_mm_per_year', system)}",
        f"remaining life {row['life']}",
        f"measure again by {row['due_said']}",
    ]
    return "; ".join(facts)


def save(place: Place, section: str, rows: list[Typed], current: bool) -> None:
    """Draw the reason and the button that enters the rows on trial."""
    if not place.open:
        return
    with st.form(place.key(f"{section} save"), enter_to_submit=False):
        reason = field(place, "Reason", f"{section} reason", placeholder="how it was found, and why it counts")
        sent = st.form_submit_button(f"Enter {counted(len(rows), 'row')}", type="primary")
    if not sent:
        return
    if not current:
        st.error("Nothing was entered: new results were published since this was judged. Press 'Judge' again.")
        return
    try:
        numbers = data.enter_rows(place.folder, rows, identity.who(), reason)
    except Problem as problem:
        st.error(literal(problem))
        return
    done(place, section, numbers)


def done(place: Place, section: str, numbers: list[int]) -> None:
    """Empty the fields of a section and say what was entered."""
    st.session_state.pop(TRIAL, None)
    for key in list(st.session_state):
        if (
            isinstance(key, str)
            and key.startswith(place.key(f"{section} "))
            and not key.endswith((" component", " location"))
        ):
            st.session_state.pop(key, None)
    named = ", ".join(str(number) for number in numbers)
    st.session_state[SAID] = (
        f"Entered for {place.tag} as {'entry' if len(numbers) == 1 else 'entries'} {named}. {ranked_words(place)}"
    )
    st.rerun()


def ranked_words(place: Place) -> str:
    """Say where the asset ranks now, worked with everything entered; nothing where only new results can tell."""
    now = data.fleet_now(place.version, place.folder)
    move = next((move for move in now.since.moves if move.asset == place.tag), None) if now.since else None
    if move is None:
        return ""
    was, stands = (stands_in(fleet, place.tag) for fleet in (place.fleet, now))
    turned = f"; it was {was}" if stands != was else ""
    if move.rank == move.rank_before:
        return f"It keeps rank {move.rank}, {stands}{turned}."
    return f"It now ranks {move.rank}, before {move.rank_before}, {stands}{turned}."


def stands_in(fleet: data.Fleet, tag: str) -> str:
    """Return the state of an asset in a ranking, with the readings that are held."""
    row = fleet.assets.set_index("asset").loc[tag]
    return state(row["state"], row["held_readings"])


def say_entered() -> None:
    """Say what was entered last."""
    words = st.session_state.pop(SAID, None)
    if words:
        st.success(literal(words))


# ---- the sections ---------------------------------------------------------------------------------------------------


def readings(place: Place) -> None:
    """Draw the entering of one reading, or of several pasted ones."""
    section = "Readings"
    unit = DISPLAY[place.system]["thickness"][0]
    several = st.toggle("Several readings at once", key=place.key("several"), persist_state="session")
    if several:
        with st.form(place.key("pasted form"), enter_to_submit=False):
            text = st.text_area(
                f"One reading to a line: {', '.join(judging.PASTED)}",
                key=place.key("Readings pasted"),
                height=160,
                max_chars=200_000,
                placeholder="Shell 1; 3; 2026-10-20; 0.432\nShell 1; 4; 2026-10-20; no access",
                help=f"Cells are parted by tabs or semicolons. A thickness without a unit is in {unit}.",
                persist_state="session",
            )
            sent = st.form_submit_button("Judge")
        if sent:
            judge(place, lambda: judging.pasted_rows(text or "", place.tag, place.system, name_of_person()), section)
        outcome(place, section)
        return
    component, location = where(place, "Readings")
    if component is None or location is None:
        return
    with st.form(place.key("reading form"), enter_to_submit=False):
        one, two, three = st.columns(3)
        with one:
            on = field(place, "Date", "Readings date", placeholder="2026-10-20")
        with two:
            thickness = field(place, f"Thickness ({unit})", "Readings thickness", placeholder="as read, such as 0.432")
        with three:
            why = st.selectbox(
                "Why not measured", REASONS, index=None, key=place.key("Readings why"),
                placeholder="leave open if it was measured", persist_state="session",
            )  # fmt: skip
        left, right = st.columns(2)
        with left:
            method = field(place, "Method", "Readings method", placeholder="such as UT, echo to echo")
        with right:
            remark = field(place, "Remark", "Readings remark")
        sent = st.form_submit_button("Judge")
    if sent:
        judge(
            place,
            lambda: [
                judging.reading_row(
                    place.tag, component, location, place.system, on=on, thickness=thickness,
                    inspector=name_of_person(), method=method, remark=remark, not_measured=why or "",
                )
            ],
            section,
        )  # fmt: skip
    outcome(place, section)


def name_of_person() -> str:
    """Return the name chosen at the left, empty where none is."""
    return st.session_state.get("person") or ""


def held(place: Place) -> None:
    """Draw the readings that wait for a person, with the dates either verdict gives, and take the verdict."""
    row = place.fleet.assets.set_index("asset").loc[place.tag]
    if not row["held_readings"]:
        st.markdown("No reading of this asset is held.")
        return
    with st.spinner("Working both verdicts by the very steps of the results"):
        waiting = data.held(place.version, place.folder, place.tag)
    if not waiting:
        st.markdown("Every held reading has been decided on; new results will show it.")
        return
    if len(waiting) < row["held_readings"]:
        st.caption(f"The newest {len(waiting)} of {row['held_readings']} held readings still to be decided are shown.")
    names = {
        f"{reading.in_place(one.component, one.location)} · "
        f"{show_value(one.thickness_mm, 'thickness', place.system)} · {one.read_on.isoformat()} · {one.source}": one
        for one in waiting
    }
    chosen = st.selectbox("Held reading", list(names), key=place.key("Held reading"), persist_state="session")
    one = names[chosen]
    why = one.flags or "no further word"
    parts.sentence(f"Held {judging.held_as(one.held_for)}: {why}. The cell says '{one.text}'.")
    parts.cards(
        [
            (
                "place, as it stands",
                said(one.due_on),
                ["measure again by", f"asset due {said(one.asset_due_on)}"],
                True,
            ),
            (
                "place, if accepted",
                said(one.due_if_accepted),
                ["measure again by", f"asset due {said(one.asset_due_if_accepted)}"],
                False,
            ),
            (
                "place, if rejected",
                said(one.due_if_rejected),
                ["measure again by", f"asset due {said(one.asset_due_if_rejected)}"],
                False,
            ),
        ]
    )
    if not place.open:
        return
    with st.form(place.key("verdict form"), enter_to_submit=False):
        verdict = st.radio(
            "Verdict", ["accept", "reject"], index=None, horizontal=True, key=place.key("Held readings verdict")
        )
        reason = field(place, "Reason", "Held readings reason", placeholder="what was checked, and how")
        sent = st.form_submit_button("Enter the verdict", type="primary")
    if not sent:
        return
    if verdict is None:
        st.error("Nothing was entered: choose accept or reject.")
        return
    try:
        number = data.decide(place.folder, place.tag, one, verdict, identity.who(), reason)
    except Problem as problem:
        st.error(literal(problem))
        return
    done(place, "Held readings", [number])


def rate(place: Place) -> None:
    """Set the rates a place may have beside each other with what each would give, and take a choice."""
    section = "Rate"
    component, location = where(place, section)
    if component is None or location is None:
        return
    with st.spinner("Working each rate by the very steps of the results"):
        key = (place.version, place.tag, component, location, len(data.waiting(place.version, place.folder).entries))
        kept = st.session_state.get("rates compared")
        if kept is None or kept[0] != key:
            kept = (key, data.rates(place.version, place.folder, place.tag, component, location))
            st.session_state["rates compared"] = kept
    options: list[judging.RateOption] = kept[1]
    rows = pd.DataFrame([vars(one) for one in options])
    rows["said"] = [rate_note(one) for one in options]
    rows["choice"] = [CHOICE_WORDS.get(one.choice, one.choice) for one in options]
    for column in ("retirement_on", "due_on", "asset_due_on"):
        rows[column] = pd.to_datetime(rows[column])
    parts.table(
        reading.in_display_units(rows, place.system), RATE_HEADINGS, place.system, "Rates that may be chosen",
        pinned=["choice"], widths={"choice": 210, "said": 260},
    )  # fmt: skip
    st.caption("The choice is the inspector's, with a corrosion specialist. It needs a reason and stays on record.")
    with st.form(place.key("rate form"), enter_to_submit=False):
        left, right = st.columns(2)
        usable = [one.choice for one in options if one.why_not is None and one.choice != "named rate"]
        choice = left.selectbox(
            "Rate to choose", [*usable, "named rate"], index=None, key=place.key("Rate choice"), placeholder="choose",
            format_func=lambda choice: CHOICE_WORDS.get(choice, choice), persist_state="session",
        )  # fmt: skip
        with right:
            named = field(
                place, f"Other rate, as a number ({DISPLAY[place.system]['rate'][0]})", "Rate value",
                placeholder="only where none of the rates above is chosen",
            )  # fmt: skip
        scope = st.radio(
            "For", ["this place", EVERY_PLACE], horizontal=True, key=place.key("Rate scope"), persist_state="session"
        )
        why = field(place, "Why this rate", "Rate why", placeholder="what in the process or the data speaks for it")
        sent = st.form_submit_button("Judge")
    if sent:

        def typed() -> list[Typed]:
            if choice is None:
                raise Problem("choose the rate first")
            if not why.strip():
                raise Problem("write why this rate is chosen")
            more = {f"chosen rate ({DISPLAY[place.system]['rate'][0]})": named} if choice == "named rate" else {}
            there = location if scope == "this place" else ""
            by = name_of_person() or "nobody yet"
            return [judging.rate_choice(place.tag, component, there, choice, date.today(), by, why, **more)]

        judge(place, typed, section)
    outcome(place, section)


def rate_note(one: judging.RateOption) -> str:
    """Return what is to be said of a rate beside its numbers."""
    words = [
        "in force by a person's choice" if one.in_force else "",
        "selected by the plant's policy" if one.by_policy else "",
        one.why_not or "",
        "no measurable loss" if one.no_measurable_loss else "",
    ]
    return "; ".join(filter(None, words)) or DASH


def weld_distance(place: Place) -> None:
    """Draw the entering of a distance measured with a tape."""
    section = "Weld distance"
    component, location = where(place, section)
    if component is None or location is None:
        return
    unit = DISPLAY[place.system]["length"][0]
    with st.form(place.key("weld form"), enter_to_submit=False):
        distance = field(
            place, f"Distance to the nearest weld's toe ({unit})", "Weld distance text",
            placeholder="such as 3.5, or the word weld or away",
        )  # fmt: skip
        sent = st.form_submit_button("Judge")
    if sent:
        judge(place, lambda: [one_row(place, "locations", component, location, {f"distance to weld ({unit})": distance},
                                      "write the distance")], section)  # fmt: skip
    outcome(place, section)


def event(place: Place) -> None:
    """Draw the entering of an event that begins a new history of a component, or of the whole asset."""
    section = "Event"
    component = st.selectbox(
        "Component", [WHOLE, *place.components], key=place.key("Event component"), persist_state="session", width=320
    )
    unit = DISPLAY[place.system]["thickness"][0]
    with st.form(place.key("event form"), enter_to_submit=False):
        one, two, three = st.columns(3)
        what = one.selectbox(
            "What happened", accepted("event"), index=None, key=place.key("Event what"), placeholder="choose",
            persist_state="session",
        )  # fmt: skip
        with two:
            on = field(place, "Date", "Event date", placeholder="2026-10-20")
        with three:
            new = field(place, f"New thickness ({unit})", "Event thickness", placeholder="if it was measured or stated")
        sent = st.form_submit_button("Judge")
    if sent:
        cells = {"event": what or "", "date": on, f"new thickness ({unit})": new}
        named = None if component == WHOLE else component
        judge(place, lambda: [one_row(place, "events", named, None, cells, "choose what happened and write its date",
                                      ("event", "date"))], section)  # fmt: skip
    outcome(place, section)


def inspection(place: Place) -> None:
    """Draw the entering of an inspection with what was found."""
    section = "Inspection"
    with st.form(place.key("inspection form"), enter_to_submit=False):
        one, two = st.columns(2)
        what = one.selectbox(
            "Inspection", accepted("inspection"), index=None, key=place.key("Inspection what"), placeholder="choose",
            persist_state="session",
        )  # fmt: skip
        with two:
            on = field(place, "Date", "Inspection date", placeholder="2026-10-20")
        found = field(place, "What was found", "Inspection result")
        sent = st.form_submit_button("Judge")
    if sent:
        cells = {"kind": what or "", "date": on, "result": found}
        judge(place, lambda: [one_row(place, "inspections", None, None, cells, "choose the kind and write the date",
                                      ("kind", "date"))], section)  # fmt: skip
    outcome(place, section)


def recommendations(place: Place) -> None:
    """Draw the entering of a recommendation, and the closing of an open one with its evidence."""
    section = "Recommendations"
    known_ones = data.recommendations(place.version, place.tag)
    what = st.radio(
        "To do", ["raise a new one", "close an open one"], horizontal=True, key=place.key("recommending"),
        persist_state="session",
    )  # fmt: skip
    if what == "raise a new one":
        component = st.selectbox(
            "Component", [WHOLE, *place.components], key=place.key("Recommendations component"),
            persist_state="session", width=320,
        )  # fmt: skip
        with st.form(place.key("raise form"), enter_to_submit=False):
            words = field(place, "What is recommended", "Recommendations words")
            one, two = st.columns(2)
            with one:
                raised = field(place, "Raised on", "Recommendations raised", placeholder="2026-10-20")
            with two:
                due = field(place, "Due by", "Recommendations due", placeholder="2027-10-20")
            sent = st.form_submit_button("Judge")
        if sent:
            cells = {"recommendation": words, "raised on": raised, "due": due}
            named = None if component == WHOLE else component
            judge(place, lambda: [one_row(place, "recommendations", named, None, cells,
                                          "write what is recommended, when it was raised and when it is due",
                                          tuple(cells))], section)  # fmt: skip
    elif not known_ones:
        st.markdown("No recommendation of this asset is open.")
        return
    else:
        names = {f"{row['recommendation']} · due {said(row['due_on'])}": row for row in known_ones}
        chosen = st.selectbox("Open recommendation", list(names), key=place.key("Recommendations open"))
        row = names[chosen]
        with st.form(place.key("close form"), enter_to_submit=False):
            one, two = st.columns(2)
            with one:
                closed = field(place, "Closed on", "Recommendations closed", placeholder="2026-10-20")
            with two:
                evidence = field(place, "Evidence", "Recommendations evidence", placeholder="report, work order, photo")
            sent = st.form_submit_button("Judge")
        if sent:
            cells = {
                "recommendation": row["recommendation"],
                "raised on": said(row["raised_on"]) if known(row["raised_on"]) else "",
                "closed on": closed,
                "evidence": evidence,
            }
            judge(place, lambda: [one_row(place, "recommendations", row["component"], None, cells,
                                          "write when it was closed and what shows it", ("closed on", "evidence"))],
                  section)  # fmt: skip
    outcome(place, section)


def one_row(
    place: Place, kind_of_row: str, component: str | None, location: str | None, cells: dict[str, str], lacking: str,
    needed: tuple[str, ...] | None = None,
) -> Typed:  # fmt: skip
    """Return one row as typed; raises Problem where a cell it needs is blank."""
    if not all(cells[name].strip() for name in needed or tuple(cells)):
        raise Problem(lacking)
    named = {"asset": place.tag, "component": component or "", "location": location or ""}
    return Typed(kind_of_row, {name: text for name, text in {**named, **cells}.items() if text.strip()})


SHOWN: dict[str, Callable[[Place], None]] = {
    "Readings": readings,
    "Held readings": held,
    "Rate": rate,
    "Weld distance": weld_distance,
    "Event": event,
    "Inspection": inspection,
    "Recommendations": recommendations,
}


# ---- new results ----------------------------------------------------------------------------------------------------


def results(version: data.Version, folder: Path, fleet: data.Fleet) -> None:
    """Say what waits for new results, and make them when asked."""
    waits = data.waiting(version, folder)
    if not waits.entries:
        return
    st.divider()
    st.markdown(
        f"**{counted(len(waits.entries), 'entry', 'entries')} not in the results yet.** The ranking on the page Fleet "
        "counts them already; every other page does with new results, made now, or later with everything else entered."
    )
    if waits.as_of != fleet.build.as_of:
        st.caption(f"They would be as of {waits.as_of.isoformat()}, so that the latest reading counts.")
    if not identity.may_write() or not st.button("Make new results now"):
        return
    with st.status("Making new results") as progress:
        try:
            data.make_results(folder, waits.as_of, lambda line: progress.update(label=literal(line)))
        except Problem as problem:
            st.error(literal(problem))
            return
    st.session_state[SAID] = f"New results were published, as of {waits.as_of.isoformat()}."
    st.rerun()


show()
