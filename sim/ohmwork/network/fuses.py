"""When a fuse melts.

A first-order thermal model: the link heats as the square of the current and holds for
good up to 1.1 times its rating. With 1 s for blade fuses and 60 s for large ones the
opening times lie inside the limits of ISO 8820-3 (from memory) and DIN 72581-3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

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
    owner: str
    role: str
    """Owner and role of the branch whose current heats it."""
    resets: bool = False
    """Whether it closes again once nothing is across it, or nothing asks for it."""

    def heat(self, current: Row) -> Row:
        """Return how far above holding a current is; the fuse melts above 0. [-]"""
        return (current / self.rating) ** 2 - HOLDS**2

    def melting_time(self, current: Row, ops: Any) -> Row:
        """Return the time to melt; very long where the fuse holds. [s]

        Parameters
        ----------
        current : [A]
        ops : what has ``maximum`` and ``log1p`` for the row: NumPy, or the like.
        """
        heat = ops.maximum(self.heat(current), 1e-9)
        return self.thermal_time * ops.log1p(HOLDS**2 / heat)
