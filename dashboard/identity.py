"""Who is using the app: a name picked once on one's own machine, or a person signed in elsewhere.

On the loopback address nobody signs in: whoever sits at the machine picks their name, and a cookie of this address
remembers it. On any other address the app runs only behind OpenID Connect; then the name comes from the identity
token, and every write asks the record anew whether the sign-in still holds and the role allows it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote, unquote

import streamlit as st

from dashboard import data
from dashboard.wording import literal
from pipeline.errors import Problem
from pipeline.people import Identity, role_of
from pipeline.sign_in import Names, names_of

COOKIE = "hoopline-person"
#: How the record ends what it says of an entry it refused.
NOTHING_WRITTEN = "; nothing was written"


def identify() -> bool:
    """Put the person and their role into the session and say them in the sidebar; False where nobody may see this.

    `person` is the name, None where nobody is chosen; `role` manager, inspector or auditor; `until` the sign-in's end.
    """
    signing_in = data.sign_in_file()
    return _local() if signing_in is None else _signed_in(signing_in)


def who() -> Identity:
    """Return who acts; raises Problem where no name is chosen."""
    name = st.session_state.get("person")
    if not name:
        raise Problem("choose your name in the sidebar before entering anything; nothing was written")
    return Identity(name, st.session_state.get("until"))


def why_not(folder: Path, kind: str, asset: str) -> str | None:
    """Return why the person may not enter a kind of row about an asset, None where they may; asked before anything is
    tried, so nothing is said of what was not written."""
    if not st.session_state.get("person"):
        return "Choose your name in the sidebar before entering anything."
    closed = data.why_not_enter(folder, who(), kind, asset)
    return f"{closed.removesuffix(NOTHING_WRITTEN)}." if closed else None


def may_write() -> bool:
    """Return whether the person's role lets them enter anything at all."""
    return bool(st.session_state.get("person")) and st.session_state.get("role") != "auditor"


# ---- on one's own machine -------------------------------------------------------------------------------------------


def _local() -> bool:
    st.session_state["until"] = None
    folder = data.plant_folder()
    try:
        people = data.people(folder) if folder else []
    except Problem as problem:  # the pages that need the basis say so too; reading results goes on
        st.session_state["role"] = None
        st.sidebar.caption(literal(problem))
        return True
    with st.sidebar:
        if people:
            if "person" not in st.session_state:
                remembered = _remembered()
                st.session_state["person"] = remembered if remembered in people else None
            if st.session_state.get("person") not in people:
                st.session_state["person"] = None
            name = st.selectbox(
                "Your name",
                people,
                key="person",
                placeholder="choose your name",
                persist_state="session",
                on_change=_remember,
            )
        else:
            if "person" not in st.session_state:
                st.session_state["person"] = _remembered()
            name = st.text_input(
                "Your name",
                key="person",
                placeholder="name on what you enter",
                persist_state="session",
                on_change=_remember,
            )
        _write_cookie(name or "")
        _say_role(folder, name or None)
    return True


def _remembered() -> str:
    """Return the name this browser remembers, empty where it remembers none."""
    kept = st.context.cookies.get(COOKIE, "")
    return unquote(kept) if isinstance(kept, str) else ""  # a client that is no browser may hand over anything


def _remember() -> None:
    st.session_state["name picked"] = True


def _write_cookie(name: str) -> None:
    """Let this browser remember the name; only after it was picked here, so that a reload writes nothing."""
    if st.session_state.pop("name picked", False):
        value = json.dumps(f"{COOKIE}={quote(name, safe='')}; path=/; max-age=31536000; SameSite=Strict")
        st.html(f"<script>document.cookie = {value};</script>", unsafe_allow_javascript=True)


def _say_role(folder: Path | None, name: str | None) -> None:
    role = role_of(folder, name) if folder and name else None
    st.session_state["role"] = role
    if folder is None:
        st.caption("Results alone are open: nothing can be entered here.")
    elif name and role:
        what = "auditor: reads everything, changes nothing" if role == "auditor" else role
        st.caption(literal(what))


# ---- signed in ------------------------------------------------------------------------------------------------------


def _signed_in(signing_in: Path) -> bool:
    names: Names = names_of(signing_in)
    if not st.user.is_logged_in:
        st.title("hoopline", anchor=False)
        st.markdown("Sign in to see the plant's vessels.")
        if st.button("Sign in", type="primary"):
            st.login()
        return False
    claims = st.user.to_dict()
    name = names.name_in(claims)
    until = _end_of(claims)
    folder = data.plant_folder()
    role = role_of(folder, name) if folder and name else None
    with st.sidebar:
        st.caption(literal(f"Signed in as {name or claims.get('email') or 'a person without a name'}"))
        if st.button("Sign out"):
            st.logout()
    if until is None or until <= datetime.now(UTC):
        st.session_state["person"] = st.session_state["role"] = None
        st.warning("The sign-in has run out. Sign out and in again to go on.")
        return False
    if role is None:
        st.session_state["person"] = st.session_state["role"] = None
        st.error(
            "This sign-in is not among the people of the plant's basis file. Ask whoever keeps it to name you there."
        )
        return False
    st.session_state.update(person=name, role=role, until=until)
    with st.sidebar:
        st.caption(literal(role))
    return True


def _end_of(claims: Mapping[str, object]) -> datetime | None:
    end = claims.get("exp")
    return datetime.fromtimestamp(float(end), UTC) if isinstance(end, (int, float)) else None
