"""Remaining life, intervals and whole days: API 510 sections 6 and 7."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit
from pipeline.formulas.rates import API_510

FORMULAS = (
    Formula(
        "remaining_life",
        "RL",
        "(t_act - t_req) / C_r",
        "7.2",
        API_510,
        "remaining life from the last reading",
        (Limit("C_r > 0", "no measurable loss: the life has no end"),),
    ),
    Formula(
        "interval",
        "interval",
        "0 if RL <= 0 else min(cap, max(RL / 2, min(RL, short)))",
        "6.5.1.1",
        API_510,
        "internal, on-stream or thickness interval: half the life within the cap; up to two years under four",
    ),
    Formula(
        "cap_in_operation",
        "cap_op",
        "cap / f_op",
        "6.5.1 (m)",
        API_510,
        "longest internal interval counted in years of operation, in calendar years",
        (Limit("f_op > 0", "it is never in operation"), Limit("f_op <= 1", "more than all of the time in operation")),
    ),
    Formula(
        "external_interval",
        "interval",
        "min(cap, interval)",
        "6.4",
        API_510,
        "external interval: the lesser of its cap and the vessel's internal interval",
    ),
    Formula(
        "whole_days",
        "n_days",
        "floor(years * y_d + guard)",
        "rule of this program",
        "rule of this program",
        "an interval in whole days, never rounded later",
    ),
    Formula(
        "thickness_at_next",
        "t_next",
        "t_act - 2 * C_r * interval",
        "7.3",
        API_510,
        "thickness less twice the loss expected to the next inspection",
    ),
    Formula("thickness_after", "t", "t_act - C_r * years", "7.1", API_510, "projected thickness after some years"),
    Formula(
        "exceeds",
        "over",
        "max(P - P_top * (1 + tol), 0)",
        "rule of this program",
        "rule of this program",
        "pressure by which one is above another, beyond the last binary digits",
    ),
    Formula(
        "margin",
        "m",
        "(t_act - t_req) / t_req",
        "rule of this program",
        "rule of this program",
        "margin over the required thickness",
        (Limit("t_req > 0", "no thickness is required"),),
    ),
)
