"""The numbers of the engineering basis, and what a plant may choose."""

from __future__ import annotations

from dataclasses import dataclass

PSI = 0.006894757293168361  # MPa
INCH = 25.4  # mm
YEAR = 365.25  # days


@dataclass(frozen=True)
class Policy:
    """What the plant states in its basis file; the defaults are those of the basis."""

    radius_basis: str = "retirement"
    rate_policy: str = "greater"
    thick_wall: str = "square root"
    scatter: float = 0.10  # mm, standard deviation of one reading
    short_interval: float = 1.0  # years
    rate_floor: float = 0.0  # mm/year
    internal_cap: float = 10.0  # years
    external_cap: float = 5.0
    relief_cap: float = 5.0
    relief_clean_cap: float = 10.0

    @property
    def noise(self) -> float:
        """Largest change between two readings that scatter explains, mm: 2 sqrt(2) s."""
        return 2.0 * 2.0**0.5 * self.scatter
