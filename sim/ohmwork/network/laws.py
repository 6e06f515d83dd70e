"""How current depends on voltage in the things a circuit is made of.

Every law is strictly rising, so a network of them has exactly one operating point. A
law's numbers may be floats, fractions or arrays with one entry per scenario; the
arithmetic is the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeAlias

Row: TypeAlias = Any
"""A float, a fraction, or an array of shape ``(n_scenarios,)``."""


@dataclass(frozen=True, slots=True)
class Conductor:
    """Current is conductance times voltage."""

    conductance: Row
    """[S] Zero is an open path."""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.conductance * v


@dataclass(frozen=True, slots=True)
class Source:
    """A voltage with a conductance in series."""

    conductance: Row
    """[S]"""
    voltage: Row
    """Of the first terminal over the second with no current. [V]"""

    def current(self, v: Row) -> Row:
        """Current into the first terminal at voltage `v`. [A]"""
        return self.conductance * (v - self.voltage)


@dataclass(frozen=True, slots=True)
class Filament:
    """A lamp, cold at rest and hot when lit.

    ``I = G v (1 + (v/knee)²)^-0.225``: a cold conductance at nothing, and current as
    the power 0.55 of voltage when hot (*Standard Handbook for Electrical Engineers*,
    11th ed., p. 22-8, as cited at second hand). A steady state: no inrush.
    """

    conductance: Row
    """Cold. [S]"""
    knee: Row
    """[V]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.conductance * v * (1.0 + (v / self.knee) ** 2) ** -0.225

    def slope(self, v: Row) -> Row:
        """Slope of the current at voltage `v`. [S]"""
        u = (v / self.knee) ** 2
        return self.conductance * (1.0 + u) ** -1.225 * (1.0 + 0.55 * u)


@dataclass(frozen=True, slots=True)
class Diode:
    """A silicon diode; above 0.8 V it goes on as a straight line, as leads make it.

    About 0.6 V at 1 mA (as a meter's diode test shows, common practice, no source).
    """

    conductance: Row
    """1 where there is a diode, 0 where there is none. [-]"""

    SATURATION = 1e-13
    """[A]"""
    THERMAL = 0.026
    """[V]"""
    STRAIGHT = 0.8
    """[V]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        bend = 0.5 * (v + self.STRAIGHT - abs(v - self.STRAIGHT))
        rise = self._exp(bend)
        above = v - bend
        rising = self.SATURATION * (rise - 1.0 + rise * above / self.THERMAL)
        return self.conductance * rising

    def slope(self, v: Row) -> Row:
        """Slope of the current at voltage `v`. [S]"""
        bend = 0.5 * (v + self.STRAIGHT - abs(v - self.STRAIGHT))
        return self.conductance * self.SATURATION / self.THERMAL * self._exp(bend)

    def _exp(self, v: Row) -> Row:
        """Exponential of a voltage; a base to a power works on floats and arrays."""
        return math.e ** (v / self.THERMAL)


Law: TypeAlias = Conductor | Source | Filament | Diode


def filament(test_voltage: float, test_power: float) -> Filament:
    """Return the law of a lamp that takes `test_power` at `test_voltage`.

    Hot over cold resistance is 13.7, as of a tungsten filament from 20 °C to 2850 °C
    (OpenStax *University Physics* vol. 2, worked example of a filament: 0.350 Ω cold,
    4.8 Ω hot).

    Parameters
    ----------
    test_voltage : [V]
    test_power : [W]
    """
    hot_over_cold = 4.8 / 0.350
    cold = test_voltage**2 / test_power / hot_over_cold
    knee = test_voltage / math.sqrt(hot_over_cold ** (1.0 / 0.225) - 1.0)
    return Filament(1.0 / cold, knee)
