"""Engineering basis 2: the thickness a pressure asks of a wall, and the pressure a wall holds."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from tests.second_path.policy import INCH

#: Standard pipe: nominal size: outside diameter and standard wall, in (ASME B36.10M).
PIPE = {
    float(size): (float(outside), float(wall))
    for size, outside, wall in (
        line.split()
        for line in """
        0.125 0.405 0.068
        0.25 0.540 0.088
        0.375 0.675 0.091
        0.5 0.840 0.109
        0.75 1.050 0.113
        1 1.315 0.133
        1.25 1.660 0.140
        1.5 1.900 0.145
        2 2.375 0.154
        2.5 2.875 0.203
        3 3.500 0.216
        3.5 4.000 0.226
        4 4.500 0.237
        5 5.563 0.258
        6 6.625 0.280
        8 8.625 0.322
        10 10.750 0.365
        12 12.750 0.375
        14 14.000 0.375
        16 16.000 0.375
        18 18.000 0.375
        20 20.000 0.375
        22 22.000 0.375
        24 24.000 0.375
        30 30.000 0.375
        36 36.000 0.375
        """.strip().splitlines()
    )
}
#: K1 by D/2h (basis 2.3).
K1 = (
    *((1.0, 0.50), (1.2, 0.57), (1.4, 0.65), (1.6, 0.73), (1.8, 0.81), (2.0, 0.90)),
    *((2.2, 0.99), (2.4, 1.08), (2.6, 1.18), (2.8, 1.27), (3.0, 1.36)),
)
UNDERTOLERANCE = 0.125
LEAST_WELD_REGION = INCH


def pipe(size: float | None) -> tuple[float | None, float | None]:
    """Outside diameter and standard wall of a nominal pipe size, mm; None for a size that is not in the table."""
    found = PIPE.get(size) if size is not None else None
    return (found[0] * INCH, found[1] * INCH) if found else (None, None)


def spherical_factor(proportion: float | None) -> float | None:
    """K1, linear between the tabled D/2h; None outside 1.0 to 3.0."""
    if proportion is None or not K1[0][0] <= proportion <= K1[-1][0]:
        return None
    for (low, low_factor), (high, high_factor) in itertools.pairwise(K1):
        if proportion <= high:
            return low_factor + (high_factor - low_factor) * (proportion - low) / (high - low)
    return None


@dataclass(frozen=True)
class Wall:
    """A wall with its own numbers on one radius basis: None where the register lacks one."""

    kind: str
    outside: bool  # outside-dimension form
    thick: str  # "square root" or "exponential"
    S: float | None
    EL: float | None
    EC: float | None
    R: float | None  # the radius of the form: inside or outside
    D: float | None  # the diameter of the form
    L: float | None  # the crown radius of the form
    K: float | None = None
    K1: float | None = None
    M: float | None = None
    alpha: float | None = None
    C: float | None = None


def known(*values: float | None) -> bool:
    """Every value is there."""
    return all(value is not None for value in values)


def thickness_for(wall: Wall, P: float | None) -> float | None:
    """The thickness a pressure asks of a wall, mm; None where a number is missing or no clause holds."""
    if P is None or P <= 0 or not known(wall.S, wall.EL):
        return None
    if wall.kind in ("cylinder", "nozzle"):
        return _cylinder_thickness(wall, P)
    SE = wall.S * wall.EL
    if wall.kind == "sphere":
        return _sphere_thickness(wall, P, SE)
    if wall.kind == "ellipsoidal head":
        if not known(wall.D, wall.K, wall.K1):
            return None
        if wall.outside:
            t = P * wall.D * wall.K / (2 * SE + 2 * P * (wall.K - 0.1))
            return t if t >= 0.002 * wall.K1 * (wall.D - 2 * t) else None
        t = P * wall.D * wall.K / (2 * SE - 0.2 * P) if 2 * SE > 0.2 * P else 0.0
        return t if t >= 0.002 * wall.K1 * wall.D else None
    if wall.kind == "torispherical head":
        if not known(wall.L, wall.M):
            return None
        if wall.outside:
            t = P * wall.L * wall.M / (2 * SE + P * (wall.M - 0.2))
            return t if t >= 0.002 * (wall.L - t) else None
        t = P * wall.L * wall.M / (2 * SE - 0.2 * P) if 2 * SE > 0.2 * P else 0.0
        return t if t >= 0.002 * wall.L else None
    if wall.kind == "cone":
        if not known(wall.D, wall.alpha) or wall.alpha > 30:
            return None
        slope = math.cos(math.radians(wall.alpha))
        if wall.outside:
            return P * wall.D / (2 * slope * (SE + 0.4 * P))
        return P * wall.D / (2 * slope * (SE - 0.6 * P)) if SE > 0.6 * P else None
    if wall.kind == "flat head":
        return wall.D * math.sqrt(wall.C * P / SE) if known(wall.D, wall.C) else None
    raise ValueError(wall.kind)


def _cylinder_thickness(wall: Wall, P: float) -> float | None:
    if not known(wall.R, wall.EC):
        return None
    long, circ = _longitudinal(wall, P, wall.S * wall.EL), _circumferential(wall, P, wall.S * wall.EC)
    return None if long is None else max(long, circ)


def _thin_longitudinal(wall: Wall, P: float, SE: float) -> float | None:
    R = wall.R
    if P > 0.385 * SE:
        return None
    t = P * R / (SE + 0.4 * P) if wall.outside else P * R / (SE - 0.6 * P)
    return t if t <= (R - t if wall.outside else R) / 2 else None


def _longitudinal(wall: Wall, P: float, SE: float) -> float | None:
    R = wall.R
    thin = _thin_longitudinal(wall, P, SE)
    if thin is not None:
        return thin
    if wall.thick == "exponential":
        return R * (1 - math.exp(-P / SE)) if wall.outside else R * (math.exp(P / SE) - 1)
    if P >= SE:
        return None
    root = math.sqrt((SE + P) / (SE - P))
    return R * (root - 1) / root if wall.outside else R * (root - 1)


def _circumferential(wall: Wall, P: float, SE: float) -> float:
    R = wall.R
    if P <= 1.25 * SE:
        t = P * R / (2 * SE + 1.4 * P) if wall.outside else P * R / (2 * SE + 0.4 * P)
        if t <= (R - t if wall.outside else R) / 2:
            return t
    root = math.sqrt(P / SE + 1)
    return R * (root - 1) / root if wall.outside else R * (root - 1)


def _sphere_thickness(wall: Wall, P: float, SE: float) -> float | None:
    if wall.R is None:
        return None
    R = wall.R
    if P <= 0.665 * SE:
        t = P * R / (2 * SE + 0.8 * P) if wall.outside else P * R / (2 * SE - 0.2 * P)
        if t <= 0.356 * (R - t if wall.outside else R):
            return t
    if P >= 2 * SE:
        return None
    root = (2 * (SE + P) / (2 * SE - P)) ** (1 / 3)
    return R * (root - 1) / root if wall.outside else R * (root - 1)


def pressure_held(wall: Wall, t: float | None) -> float | None:
    """The pressure a wall of this thickness holds, MPa; None where a number is missing or no clause holds."""
    if t is None or t <= 0 or not known(wall.S, wall.EL):
        return None
    SE = wall.S * wall.EL
    if wall.kind in ("cylinder", "nozzle"):
        if not known(wall.R, wall.EC) or (wall.outside and t >= wall.R):
            return None
        return min(_held_longitudinal(wall, t, SE), _held_circumferential(wall, t, wall.S * wall.EC))
    if wall.kind == "sphere":
        return None if wall.R is None or (wall.outside and t >= wall.R) else _held_sphere(wall, t, SE)
    if wall.kind == "ellipsoidal head":
        if not known(wall.D, wall.K, wall.K1):
            return None
        if t < 0.002 * wall.K1 * (wall.D - (2 * t if wall.outside else 0.0)):
            return None
        if wall.outside:
            return 2 * SE * t / (wall.K * wall.D - 2 * t * (wall.K - 0.1)) if 2 * t < wall.D else None
        return 2 * SE * t / (wall.K * wall.D + 0.2 * t)
    if wall.kind == "torispherical head":
        if not known(wall.L, wall.M) or t < 0.002 * (wall.L - (t if wall.outside else 0.0)):
            return None
        if wall.outside:
            return 2 * SE * t / (wall.M * wall.L - t * (wall.M - 0.2)) if t < wall.L else None
        return 2 * SE * t / (wall.L * wall.M + 0.2 * t)
    if wall.kind == "cone":
        if not known(wall.D, wall.alpha) or wall.alpha > 30:
            return None
        slope = math.cos(math.radians(wall.alpha))
        if wall.outside:
            return 2 * SE * t * slope / (wall.D - 0.8 * t * slope) if 0.8 * t * slope < wall.D else None
        return 2 * SE * t * slope / (wall.D + 1.2 * t * slope)
    if wall.kind == "flat head":
        return SE * (t / wall.D) ** 2 / wall.C if known(wall.D, wall.C) else None
    raise ValueError(wall.kind)


def _held_longitudinal(wall: Wall, t: float, SE: float) -> float:
    inside = wall.R - t if wall.outside else wall.R
    ratio = (inside + t) / inside
    # A wall is asked by the clause that would require it: the exponential one beyond the thin limit.
    exponential = SE * math.log(ratio)
    if wall.thick == "exponential" and _thin_longitudinal(wall, exponential, SE) is None:
        return exponential
    if t <= inside / 2:
        P = SE * t / (inside + 0.6 * t)
        if P <= 0.385 * SE:
            return P
    return SE * math.log(ratio) if wall.thick == "exponential" else SE * (ratio**2 - 1) / (ratio**2 + 1)


def _held_circumferential(wall: Wall, t: float, SE: float) -> float:
    inside = wall.R - t if wall.outside else wall.R
    if t <= inside / 2:
        P = 2 * SE * t / (inside - 0.4 * t)
        if P <= 1.25 * SE:
            return P
    return SE * (((inside + t) / inside) ** 2 - 1)


def _held_sphere(wall: Wall, t: float, SE: float) -> float:
    inside = wall.R - t if wall.outside else wall.R
    if t <= 0.356 * inside:
        P = 2 * SE * t / (inside + 0.2 * t)
        if P <= 0.665 * SE:
            return P
    cube = ((inside + t) / inside) ** 3
    return 2 * SE * (cube - 1) / (cube + 2)
