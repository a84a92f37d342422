"""What if: one asset as it stands beside the same asset with changes tried on it, and what can be weighed where a wall
is too thin. Nothing tried here is written anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import pandas as pd
import streamlit as st

from dashboard import address, data, parts
from dashboard.wording import DASH, counted, known, literal, said, sentence_units, state
from pipeline import reading
from pipeline.cautions import BELOW_REQUIRED
from pipeline.changes import KINDS, Change, ChangeKind, number_typed, unit_typed
from pipeline.errors import Problem
from pipeline.options import ASSESS, REFER, REPLACE, RULE, Options, PressureOffer, ThinPlace, Turnaround, evidence_for
from pipeline.reading import BuildStamp
from pipeline.units import show as show_value
from pipeline.what_if import NOT_AN_APPROVAL, Line, Side, WhatIf, component_lines, lines

#: What this session tries, by asset: it stays while other pages are looked at.
TRIED = "changes tried"
FAULT = "change refused"
#: Assets whose options were asked for in this session, by version.
WEIGHED = "options asked for"
EVERY_PLACE = "every place of it"

GROUPS = {
    "standing": "How it stands",
    "governing place": "At the governing place",
    "dates": "Dates",
    "pressure": "Pressure",
}
WALL_HEADINGS = {
    "component": "component",
    "location": "location",
    "t_req_mm": "required",
    "t_once_mm": "left after once the loss",
    "t_twice_mm": "left after twice the loss",
    "mawp_once_mpa": "MAWP after once the loss",
    "mawp_twice_mpa": "MAWP after twice the loss",
}

_STYLE = """<style>
.hoop-beside { display: grid; grid-template-columns: minmax(8rem, 1.1fr) 1.4fr 1.4fr 1.1fr; font-size: 0.92rem; }
.hoop-beside > div { padding: 0.35rem 0.75rem 0.35rem 0; overflow-wrap: anywhere; font-variant-numeric: tabular-nums;
  border-top: 1px solid color-mix(in srgb, currentColor 14%, transparent); }
.hoop-beside .hoop-head { border-top: none; opacity: 0.72; font-size: 0.8rem; }
.hoop-beside .hoop-label { opacity: 0.8; }
.hoop-beside .hoop-moved { font-weight: 600; }
.hoop-beside .hoop-same { opacity: 0.6; }
.hoop-beside .hoop-when { display: none; }
@media (max-width: 640px) {
  .hoop-beside { grid-template-columns: 1fr 1fr; }
  .hoop-beside .hoop-head { display: none; }
  .hoop-beside .hoop-when { display: block; opacity: 0.72; font-size: 0.75rem; font-weight: 400; }
  .hoop-beside .hoop-label { grid-column: 1 / -1; font-weight: 600; opacity: 1; padding-bottom: 0; }
  .hoop-beside .hoop-label ~ .hoop-value { border-top: none; }
  .hoop-beside .hoop-change { grid-column: 1 / -1; border-top: none; padding-top: 0; }
}
</style>"""


def show() -> None:
    """Draw the page."""
    version: data.Version = st.session_state["version"]
    fleet = data.fleet(version)
    system: str = st.session_state["units"]
    parts.title("What if", fleet.build)
    st.markdown(
        "Try a change on one asset and see what its state, dates and pressures would be, worked by the same steps as "
        f"the results. {NOT_AN_APPROVAL}"
    )
    tag = choose_asset(fleet)
    if tag is None:
        return
    changes = tried_on(tag)
    st.html(_STYLE)
    left, right = st.columns([2, 3], gap="large")
    with left:
        st.subheader("What to change", anchor=False)
        new_change(version, fleet, tag, changes, system)
        listed(tag, changes, system, version)
    with right:
        beside(version, tag, changes, system, fleet.build)
    weighed(version, tag, system)


def choose_asset(fleet: data.Fleet) -> str | None:
    """Draw the choice of the asset, kept the same as the address and as the page of one asset."""
    address.adopt("asset", "what_if", single=["asset", "component", "location"])
    address.leave_only(["asset", "units"])
    tags = list(fleet.assets["asset"])
    named = st.session_state.get("asset")
    if named is not None and named not in tags:
        st.session_state["asset"] = None
        st.error(literal(f"{named}: there is no such asset in these results. Choose one below."))
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
    address.write("asset", {"asset": tag, "component": None, "location": None})
    return tag


def _forget_place() -> None:
    for name in ("component", "location"):
        st.session_state[name] = None
    st.session_state.pop(FAULT, None)


def tried_on(tag: str) -> tuple[Change, ...]:
    """Return the changes tried on an asset in this session."""
    kept: dict[str, tuple[Change, ...]] = st.session_state.setdefault(TRIED, {})
    return kept.get(tag, ())


def keep(tag: str, changes: Sequence[Change]) -> None:
    """Keep the changes tried on an asset for this session."""
    kept = dict(st.session_state.get(TRIED, {}))
    kept[tag] = tuple(changes)
    st.session_state[TRIED] = kept
    st.session_state.pop(FAULT, None)


# ---- the form -------------------------------------------------------------------------------------------------------


def new_change(version: data.Version, fleet: data.Fleet, tag: str, changes: tuple[Change, ...], system: str) -> None:
    """Draw the form of one more change, and try it when it is sent."""
    name = st.selectbox(
        "Change",
        list(KINDS),
        format_func=lambda key: _named(KINDS[key]),
        key="kind of change",
        persist_state="session",
    )
    kind = KINDS[name]
    component, location, able = choose_place(version, fleet, tag, kind)
    with st.form("one change", enter_to_submit=True, border=False):
        typed = word = on = None
        if kind.words:
            word = st.selectbox(_named(kind), list(kind.words), key=f"word of {name}")
        elif kind.quantity is not None:
            unit = unit_typed(name, system)
            typed = st.text_input(
                f"{_named(kind)}{f' ({unit})' if unit else ''}",
                key=f"number of {name} {system}",
                max_chars=60,
                placeholder=_example(kind, system),
                help=f"Taken as {unit} unless another unit is typed behind the number." if unit else None,
            )
        if kind.dated:
            on = st.date_input(
                "Date" if kind.quantity else _named(kind),
                value=fleet.build.as_of,
                min_value=pd.Timestamp(1950, 1, 1),
                max_value=pd.Timestamp(2150, 12, 31),
                format="YYYY-MM-DD",
                key=f"date of {name}",
            )
        sent = st.form_submit_button("Try it", type="primary", disabled=not able)
    if sent:
        try:
            number = None if typed is None else number_typed(name, typed, system, fleet.build.as_of)
            change = Change(name, word if word is not None else number, component, location, on)
            wanted = (*(other for other in changes if not _same_place(other, change)), change)
            data.tried(version, tag, wanted, system)
        except Problem as problem:
            st.session_state[FAULT] = str(problem)
        else:
            keep(tag, wanted)
        st.rerun()
    if FAULT in st.session_state:
        st.error(literal(f"Not tried: {st.session_state[FAULT]}."))


def _same_place(one: Change, other: Change) -> bool:
    """Whether the second is the first with another value: it then takes its place."""
    return (one.kind, one.component, one.location) == (other.kind, other.component, other.location)


def _named(kind: ChangeKind) -> str:
    return f"{kind.label[0].upper()}{kind.label[1:]}".removesuffix(" of").removesuffix(" to").removesuffix(" on")


def _example(kind: ChangeKind, system: str) -> str:
    examples = {
        "pressure": {"us": "such as 150", "si": "such as 1.05"},
        "ratio": {"us": "such as 0.85", "si": "such as 0.85"},
        "stress": {"us": "such as 17500", "si": "such as 120"},
        "length": {"us": "such as 2.5", "si": "such as 60"},
        "thickness": {"us": "such as 0.465 or 15/32", "si": "such as 11.8"},
        "rate": {"us": "such as 4", "si": "such as 0.1"},
    }
    return examples[kind.quantity or "ratio"][system]


def choose_place(
    version: data.Version, fleet: data.Fleet, tag: str, kind: ChangeKind
) -> tuple[str | None, str | None, bool]:
    """Draw the choice of component and location, as far as the kind of change asks for one; the governing ones first.

    The last value says whether there is what it needs.
    """
    if not kind.names_component:
        return None, None, True
    row = fleet.assets.set_index("asset").loc[tag]
    names = list(data.asset(version, tag).components["component"])
    if not names:
        st.warning("No component of this asset is on record, so this change has no place to be tried at.")
        return None, None, False
    first = row["governing_component"]
    component = st.selectbox(
        "Component", names, index=names.index(first) if first in names else 0, key=f"component tried {tag}"
    )
    if kind.about == "component":
        return component, None, True
    places = list(data.places(version, tag, component)["location"])
    if not places and kind.about == "place":
        st.warning("This component has no location on record, so this change has no place to be tried at.")
        return component, None, False
    worst = row["governing_location"] if component == first else None
    offered = places if kind.about == "place" else [EVERY_PLACE, *places]
    location = st.selectbox(
        "Location",
        offered,
        index=offered.index(worst) if worst in offered else 0,
        key=f"location tried {tag} {component} {kind.about}",
    )
    return component, None if location == EVERY_PLACE else location, True


def listed(tag: str, changes: tuple[Change, ...], system: str, version: data.Version) -> None:
    """List the changes tried, each with a button that takes it out, and the evidence each would need."""
    if not changes:
        return
    try:
        stated = data.tried(version, tag, changes, system).stated
    except Problem as problem:  # a new build no longer has what was changed
        st.error(literal(f"{problem}. The changes tried before were taken out."))
        keep(tag, ())
        return
    st.subheader("Tried here", anchor=False)
    for number, (change, words) in enumerate(zip(changes, stated, strict=True), start=1):
        with st.container(border=True):
            st.markdown(f"**{literal(words.words)}**")
            st.caption(
                f"Evidence needed before it could be real: {literal(words.evidence)} ({literal(words.reference)})"
            )
            st.button(
                "Take it out",
                key=f"take out {tag} {number}",
                on_click=keep,
                args=(tag, [other for other in changes if other is not change]),
            )
    if len(changes) > 1:
        st.button("Take all out", key=f"take all out {tag}", on_click=keep, args=(tag, ()))


# ---- both sides -----------------------------------------------------------------------------------------------------


def beside(version: data.Version, tag: str, changes: tuple[Change, ...], system: str, build: BuildStamp) -> None:
    """Draw today's results and the tried ones side by side."""
    trial = data.tried(version, tag, tried_on(tag), system)
    st.subheader(literal(f"{tag}, today and tried" if changes else f"{tag} today"), anchor=False)
    if trial.today.asset["state"] == "below required":
        st.error(literal(BELOW_REQUIRED))
    if changes:
        st.markdown(f"**{literal(trial.headline)}**")
        if trial.remarks:
            st.markdown("\n".join(f"- {literal(remark)}" for remark in trial.remarks))
    else:
        st.caption("Nothing is tried yet: this is how the asset stands. Choose a change and try it.")
    for group, found in lines(trial, system).items():
        if not found:
            continue
        st.markdown(f"**{GROUPS[group]}**")
        if changes:
            side_by_side(_with_symbols(found, trial))
        elif group == "standing":
            st.markdown(f"{state(trial.today.asset['state'], trial.today.asset['held_readings'])}")
            parts.sentence(f"{tag}: {trial.today.asset['reason']}.")
        else:
            parts.facts({line.label: line.today for line in found})
    if changes:
        components(trial, system)
        inspection(trial, system)
        asked_then(trial.tried)
        note = sentence_units(system, build.units)
        if note:
            st.caption(note)


def _with_symbols(found: list[Line], trial: WhatIf) -> list[Line]:
    """Return the lines with the state as it is written on every page."""
    today, tried = (state(side.asset["state"], side.asset["held_readings"]) for side in (trial.today, trial.tried))
    return [Line(line.label, today, tried, line.difference) if line.label == "state" else line for line in found]


def side_by_side(found: Sequence[Line]) -> None:
    """Write lines beside each other: what, today, tried, difference."""
    cells = []
    for words in ("", "today", "tried", "difference"):
        cells.append(f'<div class="hoop-head">{words}</div>')
    for line in found:
        moved = "hoop-same" if line.difference == "no change" else "hoop-moved"
        cells.append(
            f'<div class="hoop-label">{escape(line.label)}</div>'
            f'<div class="hoop-value"><span class="hoop-when">today</span>{escape(line.today)}</div>'
            f'<div class="hoop-value"><span class="hoop-when">tried</span>{escape(line.tried)}</div>'
            f'<div class="hoop-value hoop-change {moved}">{escape(line.difference)}</div>'
        )
    st.html(f'<div class="hoop-beside">{"".join(cells)}</div>')


def components(trial: WhatIf, system: str) -> None:
    """Write the components whose results the trial changes."""
    changed = [row for row in component_lines(trial, system) if row["changed"]]
    if not changed:
        return
    st.markdown(f"**Components that would change** · {len(changed)} of {len(trial.today.components)}")
    for row in changed:
        today, tried = (state(row[f"state_{side}"], row[f"held_{side}"]) for side in ("today", "tried"))
        with st.expander(literal(f"{row['component']}: {today} → {tried}")):
            side_by_side(
                [
                    _line("state", today, tried),
                    *(
                        _line(label, row[f"{name}_today"], row[f"{name}_tried"])
                        for label, name in (
                            ("required thickness", "t_req"),
                            ("governing rate", "rate"),
                            ("remaining life", "life"),
                            ("MAWP now", "mawp"),
                        )
                    ),
                ]
            )


def _line(label: str, today: str, tried: str) -> Line:
    return Line(label, today, tried, "no change" if today == tried else "changed")


def inspection(trial: WhatIf, system: str) -> None:
    """Write the walls and pressures on the date tried for the next inspection."""
    if trial.inspection is None:
        return
    found = trial.inspection
    st.markdown(f"**On {found.on.isoformat()}**")
    parts.facts(
        {
            "lowest MAWP after once the loss": show_value(found.mawp_once_mpa, "pressure", system),
            "lowest MAWP after twice the loss": show_value(found.mawp_twice_mpa, "pressure", system),
        }
    )
    twice = {(row["component"], row["location"]): row for row in found.twice}
    rows = [
        {
            "component": row["component"],
            "location": row["location"],
            "t_req_mm": row["t_req_mm"],
            "t_once_mm": row["t_mm"],
            "mawp_once_mpa": row["mawp_mpa"],
            "t_twice_mm": twice[row["component"], row["location"]]["t_mm"],
            "mawp_twice_mpa": twice[row["component"], row["location"]]["mawp_mpa"],
        }
        for row in found.once
    ]
    if rows:
        with st.expander(f"{counted(len(rows), 'place')} on that date"):
            parts.table(
                reading.in_display_units(pd.DataFrame(rows), system),
                WALL_HEADINGS,
                system,
                "Places on the date tried",
                pinned=["component"],
            )
            st.caption("A MAWP is never shown above the vessel's rating.")


def asked_then(tried: Side) -> None:
    """List what would ask for work if the trial were real."""
    with st.expander(f"What would ask for work then ({counted(len(tried.concerns), 'thing')})"):
        parts.stated_list((state(row["state"]), row["sentence"]) for row in tried.concerns)


# ---- what can be weighed --------------------------------------------------------------------------------------------


def weighed(version: data.Version, tag: str, system: str) -> None:
    """Draw the options where a wall is below required, or will be before the next turnaround ends."""
    thin, turnarounds = data.thin_places_of(version, tag)
    if not thin:
        return
    st.divider()
    st.subheader(literal(f"What can be weighed for {tag}"), anchor=False)
    st.markdown(literal(REFER))
    parts.stated_list((_name(place.component, place.location), _why(place, turnarounds, system)) for place in thin)
    # Each offer is tried before it is made: seconds of work, which nobody should wait for who came for something else.
    asked: set[tuple[data.Version, str]] = st.session_state.setdefault(WEIGHED, set())
    if (version, tag) not in asked:
        st.caption("Pressures, readings and restored walls are each tried by the steps of the results: some seconds.")
        st.button("Work out what can be weighed", on_click=asked.add, args=((version, tag),))
        return
    found = data.options_for(version, tag, system)
    left, right = st.columns(2, gap="large")
    with left:
        st.markdown("**Another reading, or a tape**")
        readings(found, system)
        st.markdown("**A restored wall: insert plate or weld build-up**")
        restorations(found, system)
    with right:
        st.markdown("**A lower pressure**")
        pressures(found, system)
        st.markdown("**Replacing, or an assessment by the engineer**")
        st.markdown(f"{literal(REPLACE)}\n\n{literal(ASSESS)}")


def _name(component: str, location: str) -> str:
    return f"{component}, location {location}"


def _why(place: ThinPlace, turnarounds: Sequence[Turnaround], system: str) -> str:
    left = show_value(place.t_act_mm, "thickness", system)
    needed = show_value(place.t_req_mm, "thickness", system)
    words = f"{left} left on {said(place.read_on)}, {needed} required ({place.governing_case})"
    if place.is_below_required:
        return f"below required: {words}"
    return f"below required from {said(place.retirement_on)}, before {turnarounds[0].name} ends: {words}"


def pressures(found: Options, system: str) -> None:
    """Write the pressure offered at each turnaround's end, and what the trial with it said."""
    if not found.turnarounds:
        st.markdown("No turnaround ahead is on record, so there is no day to reckon to.")
        return
    st.caption(
        "What the vessel's weakest place would hold at the end of a turnaround, after once and after twice the loss at "
        "today's rates; never above the rating; rounded down, and tried."
    )
    for turnaround in found.turnarounds:
        parts.cards(
            (
                f"to the end of {turnaround.name}, {turnaround.end_on.isoformat()}, "
                f"{'once' if offer.losses == 1 else 'twice'} the loss",
                show_value(offer.offered_mpa, "pressure", system) if known(offer.offered_mpa) else "no pressure",
                _about_pressure(offer),
                False,
            )
            for offer in found.pressures
            if offer.turnaround == turnaround
        )
    st.caption(literal(f"Evidence: {evidence_for('lower pressure')}"))


def _about_pressure(offer: PressureOffer) -> list[str]:
    words = []
    if offer.offered_mpa is not None and not offer.is_reduced:
        words.append("the rating: pressure is not what is missing")
    if offer.limited_by:
        words.append(f"limited by {offer.limited_by}")
    if offer.holds is False:
        words.append(f"does not settle it; {offer.because}")
    elif offer.holds:
        words.append("tried: no known place would be below required then")
    elif offer.because:
        words.append(offer.because)
    if offer.not_counted:
        words.append(f"not counted, because not known: {', '.join(offer.not_counted)}")
    return words


def readings(found: Options, system: str) -> None:
    """Write what another reading of each thin place would have to show."""
    for offer in found.readings:
        lowest = show_value(offer.clears_mm, "thickness", system)
        words = [
            f"**{literal(_name(offer.place.component, offer.place.location))}** would have to read at least {lowest} "
        ]
        words.append("not to be below required")
        if offer.reaches is not None and offer.reaches_mm is not None:
            words.append(
                f", and {show_value(offer.reaches_mm, 'thickness', system)} for its interval to reach the end of "
                f"{literal(offer.reaches.name)} ({offer.reaches.end_on.isoformat()}) at today's rate"
            )
        words.append(". ")
        words.append(
            f"A reading above {show_value(offer.accepted_up_to_mm, 'thickness', system)} is held until a named person "
            "accepts it. Read the area about it too, not the point alone."
        )
        if offer.away_from_mm is not None:
            words.append(
                f" The verdict turns on the weld: farther than {show_value(offer.away_from_mm, 'length', system)} from "
                "the nearest weld's toe the wall as it was read is enough."
            )
        st.markdown(f"- {''.join(words)}")


def restorations(found: Options, system: str) -> None:
    """Write the thickness to be restored for each component and turnaround, and what the trial with it said."""
    if not found.turnarounds:
        st.markdown("No turnaround ahead is on record, so there is no day to reckon to.")
        return
    st.caption(RULE)
    items = []
    for offer in found.restorations:
        words = [f"locations {', '.join(offer.locations)}, restored on {offer.on.isoformat()}"]
        if offer.holds:
            words.append("tried: its interval reaches that day")
        elif offer.because:
            words.append(offer.because)
        items.append(
            (
                f"{offer.component}, to reach {offer.turnaround.name} ({offer.turnaround.end_on.isoformat()})",
                show_value(offer.offered_mm, "thickness", system) if known(offer.offered_mm) else DASH,
                words,
                False,
            )
        )
    parts.cards(items)
    st.caption(literal(f"Evidence: {evidence_for('restored thickness')}"))


show()
