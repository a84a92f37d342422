"""What a wall must be restored to, or read at, so that its interval reaches a day: the interval rule solved for t."""

from __future__ import annotations

from pipeline.formulas.formula import Formula, Limit
from pipeline.formulas.rates import API_510

FORMULAS = (
    Formula(
        "thickness_to_reach",
        "t_rch",
        "t_req + C_r * years if years <= short else t_req + 2 * C_r * years",
        "6.5.1.1, solved for the thickness",
        API_510,
        "thickness whose interval is so many years: once the loss until then up to two years, twice the loss beyond",
        (
            Limit("years >= 0", "the day lies before the thickness is there"),
            Limit("C_r >= 0", "the wall would grow"),
        ),
        note="Within the cap: no thickness makes an interval longer than that.",
    ),
)
