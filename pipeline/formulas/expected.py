"""What a new reading should show, and below which value the person who measures should call: for field sheets."""

from __future__ import annotations

from pipeline.formulas.formula import Formula

_STATISTICS = "band of the rate and largest change that can be noise"
_PRACTICE = "common practice"

FORMULAS = (
    Formula(
        "expected_lowest",
        "t_e_lo",
        "max(t_act - C_high * years - n_lim, 0)",
        _STATISTICS,
        _PRACTICE,
        "lowest reading to be expected after some years: the loss at the high end of the rate, and noise below it",
    ),
    Formula(
        "expected_highest",
        "t_e_hi",
        "t_act - C_low * years + n_lim",
        _STATISTICS,
        _PRACTICE,
        "highest reading to be expected after some years: the loss at the low end of the rate, and noise above it",
    ),
    Formula(
        "call_below",
        "t_call",
        "max(t_req, t_e_lo)",
        "the higher of required and lowest expected thickness",
        _PRACTICE,
        "thickness below which the person who measures calls the engineer before going on",
    ),
)
