"""Parts that several pages share: the heading with the build's date, facts, cards, tables and the cautions."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import wraps
from html import escape
from typing import Any, ParamSpec

import pandas as pd
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard.wording import DASH, heading, literal, said
from pipeline.cautions import BELOW_REQUIRED, CAUTION, NOT_CONSIDERED
from pipeline.errors import Problem
from pipeline.reading import BuildStamp, kind_of, unit_of

P = ParamSpec("P")

#: The mark of the program: a hoop around a vessel's wall. Drawn here, so that nothing is fetched for it.
ICON = (
    "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 32 32'>"
    "<circle cx='16' cy='16' r='11' fill='none' stroke='#2f6f7e' stroke-width='6'/></svg>"
)

#: A day as it is written everywhere; broken at a line's end it would be read as two numbers.
_DATE = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")

#: The index of a symbol in an equation written as plain text, such as t_req.
_INDEX = re.compile(r"(?<=\w)_(\w+)")

#: Height of a table row whose text is wrapped; from here on the table wraps at all, and three lines fit.
WRAPPED_ROW = 66

#: Rows of a table that a narrow window gives as paragraphs; the others are one filter away.
NARROW_ROWS = 15

#: Longer tables send the rows in sight, and the others as one scrolls or sorts.
SENT_AT_ONCE = 1000

# Lines and shades are mixed from the text's own colour, so that they hold in the light and in the dark theme.
_STYLE = """<style>
.hoop-grid { display: grid; grid-template-columns: repeat(auto-fit, minmax(9.5rem, 1fr)); gap: 0.75rem 1rem; }
.hoop-counts { grid-template-columns: repeat(auto-fit, minmax(7.5rem, 1fr)); }
.hoop-counts .hoop-value { font-size: 1.15rem; font-weight: 600; }
.hoop-whole { white-space: nowrap; }
.hoop-fact .hoop-label { font-size: 0.8rem; opacity: 0.85; }
.hoop-fact .hoop-value { overflow-wrap: anywhere; font-variant-numeric: tabular-nums; }
.hoop-card { border: 1px solid color-mix(in srgb, currentColor 22%, transparent); border-radius: 0.4rem;
  padding: 0.7rem 0.9rem; }
.hoop-card .hoop-label { font-size: 0.9rem; opacity: 0.9; }
.hoop-card .hoop-date { font-size: 1.25rem; font-weight: 600; font-variant-numeric: tabular-nums; }
.hoop-card .hoop-line { font-size: 0.9rem; overflow-wrap: anywhere; margin-top: 0.2rem; }
.hoop-card sub { font-size: 0.75em; line-height: 0; }
.hoop-sentence { font-size: 1.05rem; line-height: 1.5; max-width: 60rem; overflow-wrap: anywhere; }
.hoop-row { display: flex; flex-wrap: wrap; gap: 0 1rem; padding: 0.4rem 0;
  border-top: 1px solid color-mix(in srgb, currentColor 14%, transparent); }
.hoop-row .hoop-state { flex: 0 0 10.5rem; font-weight: 600; }
.hoop-row .hoop-said { flex: 1 1 20rem; overflow-wrap: anywhere; }
.hoop-keys { display: flex; flex-wrap: wrap; gap: 0.15rem 1.1rem; font-size: 0.9rem; }
.hoop-key i { display: inline-block; width: 0.7rem; height: 0.7rem; border-radius: 0.1rem; margin-right: 0.35rem; }
.hoop-chosen { border-color: currentColor; border-width: 2px; }
[data-testid="stCaptionContainer"] { opacity: 0.84; }
[aria-label^="Copy Vega-Lite"] { display: none; }
[data-testid="stMain"] [data-testid="stPageLink-NavLink"] p { text-decoration: underline;
  text-underline-offset: 0.2em; }
[data-testid="stLayoutWrapper"]:has(> .st-key-new-results) { position: sticky; top: 3.5rem; z-index: 50;
  backdrop-filter: blur(1.5rem); }
[data-testid="stMainBlockContainer"] { padding: 2.5rem clamp(1rem, 3vw, 2.5rem) 3rem; }
.katex-display { overflow-x: auto; overflow-y: hidden; padding: 0.2rem 0; }
[data-testid="stMain"] h1 { font-size: 1.8rem; padding: 0; }
[data-testid="stMain"] h2 { font-size: 1.35rem; padding: 0.6rem 0 0.5rem; }
[data-testid="stMain"] h3 { font-size: 1.15rem; padding: 0.5rem 0; }
[data-testid="stMain"] h4 { font-size: 1.05rem; padding: 0.5rem 0; }
.hoop-item { padding: 0.45rem 0; border-top: 1px solid color-mix(in srgb, currentColor 14%, transparent); }
.hoop-item .hoop-head { font-weight: 600; }
.hoop-item .hoop-said { overflow-wrap: anywhere; }
.hoop-table { width: 100%; border-collapse: collapse; }
.hoop-table th, .hoop-table td { text-align: left; vertical-align: baseline; padding: 0.3rem 0.5rem;
  border-bottom: 1px solid color-mix(in srgb, currentColor 14%, transparent); overflow-wrap: anywhere; }
.hoop-table th { font-size: 0.85rem; font-weight: 400; opacity: 0.85; }
.hoop-origins td:first-child { white-space: nowrap; }
.hoop-table var { font-family: KaTeX_Main, "Times New Roman", serif; font-size: 1.1em; }
.hoop-table sub, .hoop-table sup { font-size: 0.75em; line-height: 0; }
[data-testid="stLayoutWrapper"]:has(> [class*="st-key-narrow-"]) { display: none; }
[class*="st-key-narrow-"] [data-testid="stPageLink-NavLink"] { padding: 0.35rem 0; }
[class*="st-key-narrow-"] [data-testid="stPageLink-NavLink"] p { text-decoration: none; line-height: 1.45; }
[class*="st-key-narrow-"] [data-testid="stPageLink-NavLink"] strong { text-decoration: underline;
  text-underline-offset: 0.2em; }
[class*="st-key-narrow-"] [data-testid="stPageLink-NavLink"] * { white-space: normal; overflow-wrap: anywhere; }
@media (max-width: 640px) {
  [data-testid="stMainBlockContainer"] { padding-top: 4.2rem; }
  [data-testid="stLayoutWrapper"]:has(> [class*="st-key-narrow-"]) { display: flex; }
  [data-testid="stLayoutWrapper"]:has(> [class*="st-key-wide-"]) { display: none; }
  .hoop-table thead { display: none; }
  .hoop-origins tr { display: grid; grid-template-columns: 4.2rem 1fr; }
  .hoop-origins td:nth-child(n + 3) { grid-column: 2; }
  .hoop-policies tr { display: grid; grid-template-columns: 1fr 1fr; }
  .hoop-table td { border: none; padding: 0.2rem 0.3rem; }
  .hoop-table tr + tr { border-top: 1px solid color-mix(in srgb, currentColor 14%, transparent); }
}
</style>"""


#: The colour of buttons is light in the dark theme; white words on it cannot be read.
_DARK_STYLE = """<style>
[data-testid^="stBaseButton-primary"], [data-testid^="stBaseButton-primary"] * { color: #14191c; }
</style>"""


def style() -> None:
    """Put the app's own look on the page."""
    st.html(_STYLE)
    if st.context.theme.type == "dark":
        st.html(_DARK_STYLE)


@contextmanager
def faults_said() -> Iterator[None]:
    """Say what went wrong in a sentence: the person never gets a traceback, the log gets the details."""
    try:
        yield
    except Problem as problem:
        st.error(literal(problem))
    except Exception as fault:  # the last stand before a traceback
        logging.getLogger(__name__).exception("a page could not be drawn")
        st.error(
            literal(
                f"This page could not be drawn ({type(fault).__name__}: {fault}). The results are as they were; choose "
                "another asset or page, and report this with the address of the page."
            )
        )


def alone(draw: Callable[P, None]) -> Callable[P, None]:
    """Make a part of a page that is drawn anew by itself when something in it is chosen, and says its own faults."""

    @wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> None:
        with faults_said():
            draw(*args, **kwargs)

    return st.fragment(drawn)


def title(words: str, build: BuildStamp) -> None:
    """Write the page's heading with the date the results are for."""
    st.title(literal(words), anchor=False)
    st.caption(f"As of **{build.as_of.isoformat()}**")


def wide(name: str) -> DeltaGenerator:
    """Return a container that a narrow window leaves out, for what `narrow` gives there in another form."""
    return st.container(key=f"wide-{name}")


def narrow(name: str) -> DeltaGenerator:
    """Return a container that is drawn in a narrow window only, where a table would have to be scrolled sideways."""
    return st.container(key=f"narrow-{name}")


def paragraphs(
    rows: Sequence[tuple[str, str]], name: str, in_all: int, others: str = "filter to reach the others"
) -> None:
    """Write rows of a table for a narrow window: what stands first, the words below, how many there are, and how to
    come by the others."""
    items = "".join(
        f'<div class="hoop-item"><div class="hoop-head">{in_html(head)}</div>'
        f'<div class="hoop-said">{in_html(words)}</div></div>'
        for head, words in rows
    )
    with narrow(name):
        st.html(items)
        if in_all > len(rows):
            st.caption(f"The first {len(rows)} of {in_all:,}; {others}.")


def in_html(text: str) -> str:
    """Return text as HTML that shows it as it stands; a date stays on one line."""
    return _DATE.sub(r'<span class="hoop-whole">\g<0></span>', escape(text))


def sentence(text: str) -> None:
    """Write a sentence of the results as it stands."""
    st.html(f'<div class="hoop-sentence">{in_html(text)}</div>')


def facts(pairs: Mapping[str, object], counts: bool = False) -> None:
    """Write names with their values beside each other; a missing value is an em dash. Counts stand closer, larger."""
    cells = "".join(
        f'<div class="hoop-fact"><div class="hoop-label">{escape(name)}</div>'
        f'<div class="hoop-value">{escape(said(value))}</div></div>'
        for name, value in pairs.items()
    )
    st.html(f'<div class="hoop-grid{" hoop-counts" if counts else ""}">{cells}</div>')


def cards(items: Iterable[tuple[str, str, Iterable[str], bool]], symbols: bool = False) -> None:
    """Write cards side by side: label, what stands large, lines below, and whether this one counts.

    With `symbols` the lines hold equations, whose symbols are written with their indices set low.
    """
    parts = []
    for label, large, lines, counts in items:
        written = [in_html(line) for line in lines if line]
        if symbols:
            written = [_INDEX.sub(lambda found: f"<sub>{found[1].replace('_', ',')}</sub>", line) for line in written]
        below = "".join(f'<div class="hoop-line">{line}</div>' for line in written)
        chosen = " hoop-chosen" if counts else ""
        parts.append(
            f'<div class="hoop-card{chosen}"><div class="hoop-label">{escape(label)}</div>'
            f'<div class="hoop-date">{escape(large)}</div>{below}</div>'
        )
    st.html(f'<div class="hoop-grid">{"".join(parts)}</div>')


def written_table(rows: Iterable[Sequence[str]], headings: Sequence[str], name: str, layout: str) -> None:
    """Write a table for reading, of cells that are HTML already; `layout` says how a narrow window lays out a row.

    A table of the library would set up every cell for formatting: dozens of them at each click.
    """
    head = "".join(f'<th scope="col">{escape(words)}</th>' for words in headings)
    body = "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in rows)
    st.html(
        f'<table class="hoop-table hoop-{layout}" aria-label="{escape(name)}"><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table>"
    )


def stated_list(items: Iterable[tuple[str, str]]) -> None:
    """Write a list of sentences, each under its state; nothing where there are none."""
    rows = "".join(
        f'<div class="hoop-row"><div class="hoop-state">{escape(state)}</div>'
        f'<div class="hoop-said">{in_html(sentence)}</div></div>'
        for state, sentence in items
    )
    if rows:
        st.html(rows)


def key(colours: Mapping[str, str]) -> None:
    """Write what the parts of stacked bars stand for, in their order; it wraps where the window is narrow."""
    words = "".join(
        f'<span class="hoop-key"><i style="background: {escape(colour)}"></i>{escape(words)}</span>'
        for words, colour in colours.items()
    )
    st.html(f'<div class="hoop-keys"><span>In each bar, from the bottom up:</span>{words}</div>')


def columns(
    headings: Mapping[str, str],
    system: str,
    widths: Mapping[str, int] | None = None,
    pinned: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the column settings of a table: heading with unit, right-aligned numbers with fixed decimals, dates."""
    held = set(pinned)
    settings: dict[str, Any] = {}
    for column, words in headings.items():
        width = (widths or {}).get(column)
        unit, decimals = unit_of(column, system)
        if kind_of(column):
            settings[column] = st.column_config.NumberColumn(
                heading(words, unit), format=f"%.{decimals}f", alignment="right", width=width, pinned=column in held
            )
        elif column.endswith(("_on", "_until")):
            settings[column] = st.column_config.DateColumn(
                words, format="YYYY-MM-DD", width=width, pinned=column in held
            )
        else:
            settings[column] = st.column_config.Column(words, width=width, pinned=column in held)
    return settings


def table(frame: pd.DataFrame, headings: Mapping[str, str], system: str, name: str, **options: Any) -> None:
    """Draw a table of these columns, in this order; `name` says what it is to a screen reader.

    Options: `widths` (pixels by column) and `pinned` lay out columns; anything else goes to the table itself.
    """
    layout = {key: options.pop(key) for key in ("widths", "pinned") if key in options}
    if len(frame) > SENT_AT_ONCE:
        options.setdefault("lazy", True)
    st.dataframe(
        frame[list(headings)],
        column_config=columns(headings, system, **layout),
        hide_index=True,
        placeholder=DASH,
        alt=name,
        **options,
    )


def cautions(below_required: bool = False) -> None:
    """Write what every page says about the use of its numbers."""
    st.divider()
    if below_required:
        st.caption(literal(BELOW_REQUIRED))
    st.caption(literal(CAUTION))
    st.caption(literal(NOT_CONSIDERED))
