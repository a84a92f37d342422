"""Why an asset stands where it does in a turnaround's plan, in one sentence: place, number with unit, date."""

from __future__ import annotations

from pipeline.turnaround_dates import KIND_WORDS, ON_STREAM_CONDITIONS, Reach, Row, set_by_in_words
from pipeline.units import show


def reason(row: Row, far: Reach, system: str) -> str:
    """Return why an asset stands in a group: place, number with unit, date."""
    text = _REASONS[row["claim"]](row, far, system)
    if row["status"] == "idle":
        text += f" It is idle since {row['status_since']}: to be met before it goes back into service."
    return text


def _place(row: Row) -> str:
    return f"{row['component']}, location {row['location']}"


def _more(row: Row, one: str = "place", many: str = "places") -> str:
    others = row["alike"] - 1
    return f" (and {others} more {one if others == 1 else many})" if others > 0 else ""


def _left(row: Row, system: str) -> str:
    return (
        f"{show(row['t_act_mm'], 'thickness', system)} left on {row['read_on']}, "
        f"{show(row['t_req_mm'], 'thickness', system)} required"
    )


def _below(row: Row, far: Reach, system: str) -> str:
    return f"{_place(row)}: {_left(row, system)}: below required now{_more(row)}."


def _retiring(row: Row, far: Reach, system: str) -> str:
    then = (
        f"; {show(row['t_then_mm'], 'thickness', system)} would be left then at "
        f"{show(row['rate_mm_per_year'], 'rate', system)}"
        if row["t_then_mm"] is not None
        else ""
    )
    return (
        f"{_place(row)}: reaches its required {show(row['t_req_mm'], 'thickness', system)} on {row['safe_on']}, "
        f"before {far.second.name} ends on {far.second.end_on}{then}{_more(row)}."
    )


def _area(row: Row, system: str) -> str:
    """Return what is left of a corroded area, on what day, and what it needs."""
    left = {"average": "is its lowest average", "pits": "is left under its deepest pit"}[row["governed_by"]]
    day = f" on {row['area_read_on']}" if row["area_read_on"] else ", undated"
    return (
        f"Corroded area {row['device']}: {show(row['area_mm'], 'thickness', system)} {left}{day}, "
        f"{show(row['area_required_mm'], 'thickness', system)} required"
    )


def _area_below(row: Row, far: Reach, system: str) -> str:
    return f"{_area(row, system)}: below required now{_more(row, 'corroded area', 'corroded areas')}."


def _area_retiring(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_area(row, system)}, reached on {row['safe_on']}, before {far.second.name} ends on {far.second.end_on}"
        f"{_more(row, 'corroded area', 'corroded areas')}."
    )


def _area_long_lead(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_area(row, system)}, reached on {row['safe_on']}, after {far.second.name} and within {_beyond(far)}"
        f"{_more(row, 'corroded area', 'corroded areas')}: a repair is to be studied now."
    )


def _lacking(row: Row, far: Reach, system: str) -> str:
    where = row["component"] if row["alike"] == 1 else f"{row['alike']} components, {row['component']} among them"
    return f"Missing for {where}: {row['missing']}. No date of the asset is sure before that is known."


def _unlisted(row: Row, far: Reach, system: str) -> str:
    return f"Not all of it can be told: {row['missing']}."


def _undated(row: Row, far: Reach, system: str) -> str:
    return f"The {KIND_WORDS[row['kind']]} has no date. Missing: {row['missing'] or 'what sets it'}."


def _unsure(row: Row, far: Reach, system: str) -> str:
    return f"The date of the {KIND_WORDS[row['kind']]} is not sure. Missing: {row['missing']}."


def _due(row: Row, far: Reach, system: str) -> str:
    return f"{_what_when(row)}{_before(row, far)} ({set_by_in_words(row['set_by'])}{_where(row, system)})." + (
        " It can be met while the asset runs." if row["group"] == "on-stream" else ""
    )


def _internal_on_stream(row: Row, far: Reach, system: str) -> str:
    life = (
        f"lives of {show(row['shortest_life'], 'duration', system)} or more"
        if row["shortest_life"] is not None
        else "no measurable loss anywhere"
    )
    return (
        f"{_what_when(row)}{_before(row, far)} ({set_by_in_words(row['set_by'])}). Rates of "
        f"{show(row['highest_rate'], 'rate', system)} or less and {life} allow it on-stream; still to be evidenced: "
        f"{ON_STREAM_CONDITIONS}."
    )


def _what_when(row: Row) -> str:
    device = f" ({row['device']})" if row["device"] else ""
    what = f"{KIND_WORDS[row['kind']].capitalize()}{device}"
    if row["deferred_until"] is not None:
        return f"{what} was due on {row['due_on']} and is deferred until {row['deferred_until']}"
    if row["state"] == "overdue":
        return f"{what} is overdue since {row['due_on']}"
    return f"{what} is due on {row['due_on']}"


def _before(row: Row, far: Reach) -> str:
    if row["state"] == "overdue":
        return ""
    if row["safe_on"] < far.first.start_on:
        return f", before {far.first.name} starts on {far.first.start_on}"
    return f", before {far.second.name} ends on {far.second.end_on}"


def _where(row: Row, system: str) -> str:
    return f"; {_place(row)}: {_left(row, system)}" if row["about_place"] and row["t_act_mm"] is not None else ""


def _held(row: Row, far: Reach, system: str) -> str:
    words = "1 reading is held" if row["alike"] == 1 else f"{row['alike']} readings are held, the first"
    return f"{words} at {_place(row)}: accept or reject it, or read the place once more.{_to_take(row)}"


def _band_retirement(row: Row, far: Reach, system: str) -> str:
    by_date = f"on {row['retirement_on']}" if row["retirement_on"] else "at no date that can be given"
    return (
        f"{_place(row)}: reaches its required {show(row['t_req_mm'], 'thickness', system)} {by_date}, but at the high "
        f"end of its rate, {show(row['rate_high_mm_per_year'], 'rate', system)}, already on {row['safe_on']}, before "
        f"{far.second.name} ends{_more(row)}.{_to_take(row)}"
    )


def _stale(row: Row, far: Reach, system: str) -> str:
    read = (
        f"last read on {row['read_on']} ({show(row['t_act_mm'], 'thickness', system)})"
        if row["read_on"]
        else "never read"
    )
    return f"{_place(row)}: {read}, to be read again by {row['safe_on']}{_more(row)}.{_to_take(row)}"


def _band_due(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_place(row)}: {_left(row, system)}; at the high end of its rate, "
        f"{show(row['rate_high_mm_per_year'], 'rate', system)}, it is to be read again by {row['safe_on']}, before "
        f"{far.second.name} ends{_more(row)}.{_to_take(row)}"
    )


def _nominal(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_place(row)}: one reading, {show(row['t_act_mm'], 'thickness', system)} on {row['read_on']}; its rate "
        f"counts from the nominal thickness and brings mill tolerance with it{_more(row)}.{_to_take(row)}"
    )


def _single(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_place(row)}: rests on a single reading, {show(row['t_act_mm'], 'thickness', system)} on "
        f"{row['read_on']}{_more(row)}.{_to_take(row)}"
    )


def _long_lead(row: Row, far: Reach, system: str) -> str:
    return (
        f"{_place(row)}: reaches its required {show(row['t_req_mm'], 'thickness', system)} on {row['safe_on']}, after "
        f"{far.second.name} and within {_beyond(far)}{_more(row)}: a replacement or repair is to be studied now."
    )


def _beyond(far: Reach) -> str:
    if far.beyond_known:
        return f"the run after it ({far.beyond} on {far.beyond_on})"
    return f"{far.beyond}, taken for want of a later one on record (until {far.beyond_on})"


def _waiting(row: Row, far: Reach, system: str) -> str:
    if row["retirement_on"] is not None:
        life = f"; {_place(row)} reaches its required thickness on {row['retirement_on']}"
    elif row["no_measurable_loss"]:
        life = "; no measurable loss"
    else:
        life = ""
    due = (
        f"Next is the {KIND_WORDS[row['kind']]} on {row['safe_on']}, after {far.second.name} ends"
        if row["safe_on"]
        else "No date is due"
    )
    return f"{due}{life}."


def _retired(row: Row, far: Reach, system: str) -> str:
    return (
        f"Retired since {row['status_since']}: left out of the plan; to be evaluated and inspected before it goes back "
        "into service."
    )


_REASONS = {
    "below required": _below,
    "retiring": _retiring,
    "area below required": _area_below,
    "area retiring": _area_retiring,
    "unlisted": _unlisted,
    "lacking": _lacking,
    "undated": _undated,
    "unsure": _unsure,
    "due": _due,
    "internal on-stream": _internal_on_stream,
    "held": _held,
    "band retirement": _band_retirement,
    "stale": _stale,
    "band due": _band_due,
    "nominal": _nominal,
    "single": _single,
    "long lead": _long_lead,
    "area long lead": _area_long_lead,
    "waiting": _waiting,
    "retired": _retired,
}


def _to_take(row: Row) -> str:
    """Return the reading to take before the scope is frozen, and how far it would move a date of the asset."""
    if row["worth_measurement"] is None:
        return f" Reading to take: {_place(row)}."
    if row["worth_measurement"] == "weld distance":
        what = f" Reading to take: the distance to the nearest weld at {_place(row)}; were the place away from it"
    else:
        what = f" Reading to take: {_place(row)}; were it thicker by the scatter of one reading"
    if row["worth_due_if_on"] is None:
        return f"{what}, it would not be below required."
    return (
        f"{what}, the {KIND_WORDS[row['worth_kind']]} would move from {row['worth_due_on']} to "
        f"{row['worth_due_if_on']}."
    )
