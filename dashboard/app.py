"""The app's entry: finds the newest results, draws the navigation, runs the page and ends it with the cautions."""

from __future__ import annotations

import streamlit as st

from dashboard import address, data, identity, parts
from dashboard.wording import SYSTEM_NAMES, SYSTEMS, literal
from pipeline.errors import Problem
from pipeline.reading import BuildStamp

#: Seconds between two looks for newer results.
LOOK_EVERY = 5


def main() -> None:
    """Draw one page."""
    st.set_page_config(page_title="hoopline", page_icon=parts.ICON, layout="wide", initial_sidebar_state=220)
    parts.style()
    page = st.navigation(
        [
            st.Page("views/fleet.py", title="Fleet", default=True),
            st.Page("views/asset.py", title="Asset", url_path="asset"),
            st.Page("views/planning.py", title="Turnaround", url_path="planning"),
            st.Page("views/what_if.py", title="What if", url_path="what_if"),
            st.Page("views/my_assets.py", title="Assigned assets", url_path="my_assets"),
            st.Page("views/entering.py", title="Enter and judge", url_path="entering"),
            st.Page("views/measuring.py", title="Worth measuring", url_path="measuring"),
            st.Page("views/audit.py", title="Status on a day", url_path="status"),
            st.Page("views/workbook.py", title="Look at a workbook", url_path="workbook"),
            st.Page("views/sheets.py", title="Sheets as read", url_path="sheets"),
            st.Page("views/sources.py", title="Sources and ledger", url_path="sources"),
            st.Page("views/method.py", title="Method and basis", url_path="method"),
        ]
    )
    with parts.faults_said():
        if not identity.identify():
            parts.cautions()
            return
        version = data.newest()
        build = data.fleet(version).build
        st.session_state["version"] = version
        choose_units(build, page.url_path)
        say_new_build(version, build)
        page.run()
    parts.cautions()
    address.shown(page.url_path)


def choose_units(build: BuildStamp, page: str) -> None:
    """Offer the unit system in the sidebar; the plant's own is the default and is not written into the address."""
    address.adopt("units", page, single=["units"])
    if st.session_state.get("units") not in SYSTEMS:
        st.session_state["units"] = build.units
    with st.sidebar:
        st.segmented_control(
            "Units",
            list(SYSTEMS),
            format_func=lambda system: SYSTEMS[system],
            required=True,
            key="units",
            persist_state="session",
            help=f"The plant's own: {SYSTEM_NAMES[build.units]}",
        )
        st.caption(
            f"Results as of {build.as_of.isoformat()}, made by hoopline {literal(build.program)} on basis "
            f"{build.basis_sha256[:10]}"
        )
    system = st.session_state["units"]
    address.write("units", {"units": system if system != build.units else None})


def say_new_build(version: data.Version, build: BuildStamp) -> None:
    """Say so when the results under an open page are not the ones it showed before, and offer still newer ones.

    Both stand in one container that is always there: the page below keeps its place, and with it what is being typed.
    """
    before = st.session_state.get("version shown")
    with st.container(key="new-results"):
        if before is not None and before != version:
            st.info(f"A new build was published: this page now shows its results, as of {build.as_of.isoformat()}.")
        offer_newer(version)
    st.session_state["version shown"] = version


@st.fragment(run_every=LOOK_EVERY)
def offer_newer(version: data.Version) -> None:
    """Look for results newer than the page's own while it stands open, and offer them; nothing changes by itself."""
    try:
        newest = data.newest()
    except Problem:  # said by the page itself at the next step a person takes
        return
    if newest == version:
        return
    words, button = st.columns([4, 1], vertical_alignment="center")
    words.info("New results were published while this page was open. What you typed stays when you show them.")
    if button.button("Show the new results", type="primary", width="stretch"):
        st.rerun()


main()
