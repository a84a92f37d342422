"""The clauses the program knows, each written once; this list is the order in which they are shown."""

from __future__ import annotations

from pipeline.formulas import (
    corroded_areas,
    expected,
    external_pressure,
    geometry,
    life,
    pressure,
    rates,
    required_thickness,
    restoring,
    thin_heads,
)
from pipeline.formulas.formula import Formula, Limit, source_of

ALL: tuple[Formula, ...] = (
    *geometry.FORMULAS,
    *required_thickness.FORMULAS,
    *thin_heads.FORMULAS,
    *external_pressure.FORMULAS,
    *pressure.FORMULAS,
    *rates.FORMULAS,
    *life.FORMULAS,
    *expected.FORMULAS,
    *restoring.FORMULAS,
    *corroded_areas.FORMULAS,
)

FORMULAS: dict[str, Formula] = {formula.id: formula for formula in ALL}

if len(FORMULAS) != len(ALL):
    raise AssertionError("two clauses share an id")

__all__ = ["ALL", "FORMULAS", "Formula", "Limit", "source_of"]
