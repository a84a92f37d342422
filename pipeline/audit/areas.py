"""Corroded areas and pits: every survey with its verdict, the numbers behind it, and the cell of its lowest reading."""

from __future__ import annotations

from pipeline.audit.book import Book
from pipeline.audit.results import Results
from pipeline.audit.tables import Column, write_table

_AREA = (
    Column("asset", "asset", 12),
    Column("component", "component", 16),
    Column("area", "area", 12),
    Column("read_on", "surveyed on", 12),
)
_AREAS = (
    *_AREA,
    Column("superseded_by", "superseded by", 18, wrapped=True),
    Column("average_verdict", "verdict on the average", 22, wrapped=True),
    Column("screening_verdict", "Level 1 screening", 26, wrapped=True),
    Column("survey_reading_count", "readings", 9),
    Column("t_act_mm", "lowest average", 10, "t"),
    Column("averaging_length_mm", "averaged over", 10, "L_a"),
    Column("survey_lowest_mm", "lowest reading", 10, "t"),
    Column("t_req_mm", "required, weld region", 10, "t_req"),
    Column("t_req_away_mm", "required away from the weld", 10, "t_req"),
    Column("half_required_mm", "half of it", 10, "t_req"),
    Column("margin", "margin of the average", 10, "m"),
    Column("own_rate_mm_per_year", "rate between surveys", 10, "C_r"),
    Column("component_rate_mm_per_year", "rate of the component", 13, "C_r"),
    Column("rate_mm_per_year", "rate that counts", 10, "C_r"),
    Column("remaining_life_years", "remaining life", 12, "RL"),
    Column("retirement_on", "required thickness reached", 12),
    Column("reduced_mawp_mpa", "pressure at which it would pass", 12, "MAWP_r"),
    Column("missing", "what is missing", 30, wrapped=True),
    Column("life_missing", "why there is no life", 24, wrapped=True),
    Column("sentence", "in words", 60, wrapped=True),
    Column("lowest_text", "lowest reading as it stood", 12),
    Column("lowest_source", "its cell", 36, wrapped=True),
)
_PITS = (
    *_AREA,
    Column("superseded_by", "superseded by", 18, wrapped=True),
    Column("pit_verdict", "verdict", 30, wrapped=True),
    Column("screening_verdict", "Level 1 screening", 26, wrapped=True),
    Column("pits", "pits", 7),
    Column("surrounding_thickness_mm", "wall around them", 10, "t"),
    Column("surrounding_from", "where it comes from", 18, wrapped=True),
    Column("t_req_mm", "required, weld region", 10, "t_req"),
    Column("half_required_mm", "half of it", 10, "t_req"),
    Column("pit_depth_mm", "deepest pit", 10, "t"),
    Column("pit_remaining_mm", "wall left under it", 10, "t"),
    Column("pits_without_depth", "pits without a depth", 10),
    Column("pit_missing", "what is missing", 30, wrapped=True),
    Column("sentence", "in words", 60, wrapped=True),
    Column("deepest_text", "depth as it stood", 12),
    Column("deepest_source", "its cell", 36, wrapped=True),
)


def write_areas(book: Book, results: Results) -> None:
    """Write every survey of every corroded area, superseded ones among them."""
    source = "concat_ws(', ', lowest_file, nullif(lowest_sheet, ''), lowest_cell) AS lowest_source"
    write_table(
        book,
        results,
        "Corroded areas",
        "Corroded areas: every survey and what it says",
        _AREAS,
        results.walk(
            f"SELECT *, {source} FROM result.corroded_area WHERE {results.chosen} "
            "ORDER BY asset, component, area, read_on"
        ),
        note="API 510 7.4.2 averages and API 579-1 Level 1 screening; nothing here accepts an area.",
        pinned=4,
    )


def write_pits(book: Book, results: Results) -> None:
    """Write every survey of the pits of an area."""
    source = "concat_ws(', ', deepest_file, nullif(deepest_sheet, ''), deepest_cell) AS deepest_source"
    write_table(
        book,
        results,
        "Pits",
        "Pits: every survey and what it says",
        _PITS,
        results.walk(
            f"SELECT *, {source} FROM result.pit_area WHERE {results.chosen} ORDER BY asset, component, area, read_on"
        ),
        note="API 510 7.4.3; only what counts as not ignored is screened further.",
        pinned=4,
    )
