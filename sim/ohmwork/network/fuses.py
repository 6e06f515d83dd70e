"""When a fuse melts.

A first-order thermal model: the link heats as the square of the current and holds for
good up to 1.1 times its rating. With 1 s for blade fuses and 60 s for large ones the
opening times lie inside the limits of ISO 8820-3 (from memory) and DIN 72581-3.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwork.network.laws import Row

HOLDS = 1.1
"""Multiple of the rating carried for at least 100 h. [-] ISO 8820-3, from memory."""


@dataclass(frozen=True, slots=True)
class FuseLaw:
    """How a fuse, or a breaker, answers to current."""

    name: str
    rating: float
    """[A]"""
    thermal_time: float
    """[s]"""

    def heat(self, current: Row) -> Row:
        """Return how far above holding a current is; the fuse melts above 0. [-]"""
        return (current / self.rating) ** 2 - HOLDS**2

    def melting_time(self, current: Row, log1p: object, at_least: object) -> Row:
        """Return the time to melt; without end where the fuse holds. [s]"""
        heat = at_least(self.heat(current), 1e-9)  # type: ignore[operator]
        return self.thermal_time * log1p(HOLDS**2 / heat)  # type: ignore[operator]
