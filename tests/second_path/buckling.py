"""Engineering basis 2, external pressure: Section VIII Division 2, 4.4.5 and its counterpart for spheres (m)."""

from __future__ import annotations

import math
from collections.abc import Callable

_HALVINGS = 100
_POINTS = 2000


def cylinder_thickness(P: float, L: float, Do: float, E: float, Sy: float) -> float | None:
    """The least wall from which on a cylinder is allowed this external pressure, mm; None where none is enough."""
    Ro = Do / 2

    def allowed(t: float) -> float:
        Mx = L / math.sqrt(Ro * t)
        if Mx <= 1.5:
            Ch = 1.0
        elif Mx <= 13:
            Ch = 0.92 / (Mx - 0.579)
        elif Mx < 2 * (Do / t) ** 0.94:
            Ch = 1.12 * Mx**-1.058
        else:
            Ch = 0.55 * t / Do
        Fhe = 1.6 * Ch * E * t / Do
        ratio = Fhe / Sy
        Fic = Sy if ratio >= 2.439 else 0.7 * Sy * ratio**0.4 if ratio > 0.552 else Fhe
        return 2 * Fic / _factor(Fic, Sy) * t / Do

    # Where two branches of C_h meet the allowable pressure falls a little: L^2/(Ro t) = 13^2, and M_x = 2 (Do/t)^0.94.
    medium = (L / 13) ** 2 / Ro
    long = (2 * Do**0.94 * math.sqrt(Ro) / L) ** (1 / 0.44)
    return _least(allowed, P, Ro, (medium, long))


def sphere_thickness(P: float, R: float, E: float, Sy: float) -> float | None:
    """The same for a sphere of outside radius R."""

    def allowed(t: float) -> float:
        Fhe = 0.075 * E * t / R
        ratio = Fhe / Sy
        if ratio >= 6.25:
            Fic = Sy
        elif ratio > 1.6:
            Fic = 1.31 * Sy / (1.15 + 1 / ratio)
        else:
            Fic = 0.18 * Fhe + 0.45 * Sy if ratio > 0.55 else Fhe
        return 2 * Fic / _factor(Fic, Sy) * t / R

    return _least(allowed, P, R, ())


def _factor(Fic: float, Sy: float) -> float:
    if Fic <= 0.55 * Sy:
        return 2.0
    return 2.407 - 0.741 * Fic / Sy if Fic < Sy else 1.667


def _least(allowed: Callable[[float], float], P: float, most: float, seams: tuple[float, ...]) -> float | None:
    """The thickness above which the pressure is allowed for good: a look along the wall, then halving."""
    points = [most * 10 ** (-6 * n / _POINTS) for n in range(_POINTS + 1)]
    points += [seam * (1 + side * 1e-9) for seam in seams for side in (-1, 1)]
    points = sorted((point for point in points if point <= most), reverse=True)
    enough = points[0]
    if allowed(enough) < P:
        return None
    for low in points[1:]:
        if allowed(low) < P:
            break
        enough = low
    else:
        return None
    for _ in range(_HALVINGS):
        middle = (low + enough) / 2
        low, enough = (low, middle) if allowed(middle) >= P else (middle, enough)
    return enough
