"""Choices a person can send on: what the widgets hold and what the address says are kept the same.

The address wins when it is not the one this session wrote (a link was opened, or Back was pressed). It loses when the
navigation between pages, which drops the part after the question mark, leads back to a page seen before; and when a
person was quicker than the address: it is then one this session wrote before, and a widget was moved since.

A widget's state is written only where it must change: what is written is sent back, and would undo a quick next step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

_WRITTEN = "address written"
_HELD = "widgets when written"
#: Addresses remembered for each group; more than a person writes while one answer is under way.
_REMEMBERED = 20
_PAGE = "page shown"


def adopt(group: str, page: str, single: Sequence[str] = (), several: Sequence[str] = ()) -> None:
    """Put what the address says into the widgets' state, before the widgets are made.

    `group` names the choices kept together; `single` holds one value each, `several` a list.
    """
    names = [*single, *several]
    stated = {name: st.query_params.get_all(name) for name in names}
    written = st.session_state.setdefault(_WRITTEN, {}).get(group, [])
    if written and stated == written[-1]:
        return
    if st.session_state.get(_PAGE) == page and stated in written and _moved(group):
        return
    by_navigation = st.session_state.get(_PAGE) != page and not any(stated.values())
    if written and by_navigation:
        return
    for name in single:
        st.session_state[name] = stated[name][0] if stated[name] else None
    for name in several:
        st.session_state[name] = stated[name]


def keep_known(name: str, options: Sequence[str]) -> list[str]:
    """Leave out chosen values that these results do not have; return the ones left out."""
    chosen = st.session_state.get(name) or []
    unknown = [value for value in chosen if value not in options]
    if unknown or st.session_state.get(name) is None:
        st.session_state[name] = [value for value in chosen if value in options]
    return unknown


def write(group: str, values: Mapping[str, str | Sequence[str] | None]) -> None:
    """Write the choices into the address; what is empty is left out of it."""
    stated = {
        name: [value] if isinstance(value, str) and value else list(value or []) for name, value in values.items()
    }
    for name, chosen in stated.items():
        if chosen and st.query_params.get_all(name) != chosen:
            st.query_params[name] = chosen
        elif not chosen and name in st.query_params:
            del st.query_params[name]
    written = st.session_state.setdefault(_WRITTEN, {}).setdefault(group, [])
    if not written or written[-1] != stated:
        written.append(stated)
        del written[:-_REMEMBERED]
    held = {name: st.session_state.get(name) for name in values}
    st.session_state.setdefault(_HELD, {})[group] = held


def _moved(group: str) -> bool:
    """Return whether a widget of the group holds something else than when the address was written last."""
    held = st.session_state.get(_HELD, {}).get(group, {})
    return any(st.session_state.get(name) != value for name, value in held.items())


def leave_only(names: Sequence[str]) -> None:
    """Take out of the address what is not a choice of this page, such as the asset of the page before."""
    for name in list(st.query_params):
        if name not in names:
            del st.query_params[name]


def shown(page: str) -> None:
    """Remember which page was drawn last."""
    st.session_state[_PAGE] = page
