"""How current depends on voltage in the things a circuit is made of.

Every law is strictly rising, so a network of them has exactly one operating point. A
law's numbers may be floats, fractions or arrays with one entry per scenario; the
arithmetic is the same. A law with no conductance is an open path.
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
    """A lamp, cold at rest and hot when lit, or another thing that resists as it warms.

    ``I = G v (1 + (v/knee)²)^-bend``: a cold conductance at nothing, and current as the
    power ``1 - 2 bend`` of voltage when hot. For lamps that power is 0.55 (*Standard
    Handbook for Electrical Engineers*, 11th ed., p. 22-8, as cited at second hand). A
    steady state: no inrush.
    """

    conductance: Row
    """Cold. [S]"""
    knee: Row
    """[V]"""
    bend: Row = 0.225
    """[-]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        u = (v / self.knee) ** 2
        hot = self.conductance * (1.0 + u) ** -self.bend
        return hot * v, hot * (1.0 + (1.0 - 2.0 * self.bend) * u) / (1.0 + u)


@dataclass(frozen=True, slots=True)
class Diode:
    """A diode; above `straight` it goes on as a straight line, as leads make it.

    As given, silicon: about 0.6 V at 1 mA (as a meter's diode test shows, common
    practice, no source).
    """

    conductance: Row
    """1 where there is a diode, 0 where there is none. [-]"""
    saturation: Row = 1e-13
    """[A]"""
    thermal: Row = 0.026
    """[V]"""
    straight: Row = 0.8
    """[V]"""
    leak: Row = 0.0
    """[S]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        bend = 0.5 * (v + self.straight - abs(v - self.straight))
        # A base to a power works on floats and arrays.
        rise = self.saturation * math.e ** (bend / self.thermal)
        steep = rise / self.thermal
        current = rise - self.saturation + steep * (v - bend) + self.leak * v
        return self.conductance * current, self.conductance * (steep + self.leak)


@dataclass(frozen=True, slots=True)
class Motor:
    """A motor with permanent magnets under its load.

    At rest only its winding counts. Once the current gives more than the friction's
    torque it turns, and its back-EMF leaves little voltage to the winding:
    ``I = G (r v + (1 - r) v / sqrt(1 + (v/knee)²))`` is both, joined smoothly.
    """

    conductance: Row
    """Of the winding, brushes included. [S]"""
    knee: Row
    """Voltage at which the friction is overcome. [V]"""
    slip: Row
    """Share of further voltage that drives current, the rest being speed. [-]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        u = 1.0 + (v / self.knee) ** 2
        held = (1.0 - self.slip) / u**0.5
        current = self.conductance * v * (self.slip + held)
        return current, self.conductance * (self.slip + held / u)

    def back_emf(self, v: Row) -> Row:
        """Voltage that the turning winding makes, a measure of its speed. [V]"""
        u = 1.0 + (v / self.knee) ** 2
        return v * (1.0 - self.slip) * (1.0 - u**-0.5)


@dataclass(frozen=True, slots=True)
class Accumulator:
    """A battery: it gives current freely and takes it with reluctance."""

    conductance: Row
    """When giving. [S]"""
    voltage: Row
    """With no current. [V]"""
    acceptance: Row
    """Conductance when taking over that when giving. [-]"""

    WIDTH = 0.05
    """Of the bend between the two. [V] Assumed."""

    def current(self, v: Row) -> Row:
        """Current into the plus post at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        x = v - self.voltage
        root = (x * x + self.WIDTH**2) ** 0.5
        mean = 0.5 * (1.0 + self.acceptance)
        half = 0.5 * (1.0 - self.acceptance)
        current = self.conductance * (mean * x - half * (root - self.WIDTH))
        return current, self.conductance * (mean - half * x / root)


@dataclass(frozen=True, slots=True)
class Limited:
    """A supply that holds its voltage up to a limit of current, and takes none back."""

    conductance: Row
    """Of its droop. [S]"""
    voltage: Row
    """With no current. [V]"""
    limit: Row
    """[A]"""

    SOFTNESS = 0.01
    """Share of the limit over which it bends. [-] Assumed."""
    SLOPE = 1e-4
    """Beyond the limit, as a share of the conductance. [-] Assumed."""

    def current(self, v: Row) -> Row:
        """Current into the first terminal at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        below = self.voltage - v
        x = self.conductance * below
        soft = (self.SOFTNESS * self.limit) ** 2
        lower = (x * x + soft) ** 0.5
        upper = ((x - self.limit) ** 2 + soft) ** 0.5
        idle = soft**0.5 - (self.limit**2 + soft) ** 0.5
        slope = self.SLOPE * self.conductance
        given = 0.5 * (lower - upper - idle) + slope * below
        steep = 0.5 * self.conductance * (x / lower - (x - self.limit) / upper)
        return -given, steep + slope


Law: TypeAlias = Conductor | Source | Filament | Diode | Motor | Accumulator | Limited
Bent: TypeAlias = Filament | Diode | Motor | Accumulator | Limited
"""Laws whose slope depends on the voltage."""


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
    return warming(test_voltage, test_power / test_voltage, 4.8 / 0.350, 0.225)


def warming(
    voltage: float, current: float, hot_over_cold: float, bend: float
) -> Filament:
    """Return the law of a thing that takes `current` at `voltage`, warm.

    Parameters
    ----------
    voltage : [V]
    current : [A]
    hot_over_cold : its resistance there over that when cold. [-]
    bend : as in `Filament`. [-]
    """
    knee = voltage / math.sqrt(hot_over_cold ** (1.0 / bend) - 1.0)
    return Filament(current / voltage * hot_over_cold, knee, bend)


def motor(voltage: float, current: float, stall_current: float) -> Motor:
    """Return the law of a motor that runs with `current` at `voltage`.

    Half of that current overcomes friction (assumed); the rest is the load's, which
    grows with speed.

    Parameters
    ----------
    voltage : [V]
    current, stall_current : [A]
    """
    conductance = stall_current / voltage
    knee = 0.5 * current / conductance
    held = 1.0 / math.sqrt(1.0 + (voltage / knee) ** 2)
    slip = (current / stall_current - held) / (1.0 - held)
    return Motor(conductance, knee, slip)


def led(voltage: float, current: float) -> Diode:
    """Return the law of a light-emitting diode with `current` at `voltage`.

    Parameters
    ----------
    voltage : forward voltage, of all dies in series. [V]
    current : [A]
    """
    thermal = 0.025 * voltage
    saturation = current * math.e ** (-voltage / thermal)
    return Diode(1.0, saturation, thermal, voltage + 4.0 * thermal, 1e-8)
