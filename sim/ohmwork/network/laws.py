"""How current depends on voltage in the things a circuit is made of.

Every law is strictly rising, so a network of them has exactly one operating point. A
law's numbers may be floats, fractions or arrays with one entry per scenario; the
arithmetic is the same. A law with no conductance is an open path.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Any, TypeAlias

Row: TypeAlias = Any
"""A float, a fraction, or an array of shape ``(n_scenarios,)``."""


def pick(row: Row, scenarios: Any) -> Row:
    """Return a row for some scenarios only; one number stands for all."""
    return row[scenarios] if getattr(row, "ndim", 0) else row


def picked(law: Any, scenarios: Any) -> Any:
    """Return a law for some scenarios only."""
    rows = {f.name: getattr(law, f.name) for f in fields(law)}
    if not any(getattr(row, "ndim", 0) for row in rows.values()):
        return law
    return type(law)(**{name: pick(row, scenarios) for name, row in rows.items()})


SATURATION = 1e-13
"""Of a diode. [A]"""

THERMAL = 0.026
"""Of a diode. [V]"""

STRAIGHT = 0.8
"""From which a diode is a straight line. [V]"""

ONSET = 0.05
"""Width over which an LED starts to conduct. [V] About twice the thermal voltage.
From memory."""

SEEP = 1e-8
"""Conductance of an LED below its threshold, over that above. [-] Assumed."""

RELUCTANT_FROM = 0.025
"""Voltage over which a battery's reluctance sets in. [V] Assumed."""

SOFTNESS = 0.05
"""Share of its limit over which a supply bends. [-] Assumed."""

YIELD = 0.3
"""Current of a shorted supply beyond its limit, over the limit. [-] Assumed."""


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
        return filament_at(v, self.conductance, self.knee, self.bend)


@dataclass(frozen=True, slots=True)
class Diode:
    """A silicon diode; above 0.8 V it goes on as a straight line, as leads make it.

    About 0.6 V at 1 mA (as a meter's diode test shows, common practice, no source).
    """

    conductance: Row
    """1 where there is a diode, 0 where there is none. [-]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        return diode_at(v, self.conductance)


@dataclass(frozen=True, slots=True)
class Threshold:
    """What conducts from a voltage on: LEDs with their resistor, a clamp.

    ``I = G w ln(1 + exp((v - threshold)/w))`` and a leak: a straight line above, and a
    tenth of the current for every 2.3 widths below, as of a diode.
    """

    conductance: Row
    """Well above. [S]"""
    threshold: Row
    """[V]"""

    def current(self, v: Row) -> Row:
        """Current at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        log1p = math.log1p if isinstance(v, float) else _log1p_of_arrays()
        return threshold_at(v, self.conductance, self.threshold, log1p)


def filament_at(v: Row, conductance: Row, knee: Row, bend: Row) -> tuple[Row, Row]:
    """Return current and slope of a `Filament`. [A], [S]"""
    u = (v / knee) ** 2
    hot = conductance * (1.0 + u) ** -bend
    return hot * v, hot * (1.0 + (1.0 - 2.0 * bend) * u) / (1.0 + u)


def diode_at(v: Row, conductance: Row) -> tuple[Row, Row]:
    """Return current and slope of a `Diode`. [A], [S]"""
    bend = 0.5 * (v + STRAIGHT - abs(v - STRAIGHT))
    # A base to a power works on floats and arrays.
    rise = conductance * SATURATION * math.e ** (bend / THERMAL)
    slope = rise / THERMAL
    return rise - conductance * SATURATION + slope * (v - bend), slope


def threshold_at(
    v: Row, conductance: Row, threshold: Row, log1p: Any
) -> tuple[Row, Row]:
    """Return current and slope of a `Threshold`. [A], [S]"""
    x = (v - threshold) / ONSET
    small = math.e ** -abs(x)
    above = 0.5 * (x + abs(x))
    share = ((x < 0.0) * small + (x >= 0.0)) / (1.0 + small)
    rise = ONSET * (above + log1p(small))
    return conductance * (rise + SEEP * v), conductance * (share + SEEP)


def motor_at(v: Row, conductance: Row, knee: Row, slip: Row) -> tuple[Row, Row]:
    """Return current and slope of a `Motor`. [A], [S]"""
    u = 1.0 + (v / knee) ** 2
    held = (1.0 - slip) / u**0.5
    return conductance * v * (slip + held), conductance * (slip + held / u)


def accumulator_at(
    v: Row, conductance: Row, voltage: Row, acceptance: Row
) -> tuple[Row, Row]:
    """Return current and slope of an `Accumulator`. [A], [S]"""
    x = v - voltage
    taken = 0.5 * (x + abs(x))
    bend = 1.0 + taken / RELUCTANT_FROM
    reluctance = 1.0 - acceptance
    current = x - reluctance * taken * (1.0 - 1.0 / bend)
    slope = acceptance + reluctance / (bend * bend)
    return conductance * current, conductance * slope


def limited_at(v: Row, conductance: Row, voltage: Row, limit: Row) -> tuple[Row, Row]:
    """Return current and slope of a `Limited`. [A], [S]"""
    below = voltage - v
    x = conductance * below
    soft = (SOFTNESS * limit) ** 2
    lower = (x * x + soft) ** 0.5
    upper = ((x - limit) ** 2 + soft) ** 0.5
    idle = soft**0.5 - (limit**2 + soft) ** 0.5
    slope = YIELD * limit / voltage * (conductance > 0.0)
    given = 0.5 * (lower - upper - idle) + slope * below
    steep = 0.5 * conductance * (x / lower - (x - limit) / upper)
    return -given, steep + slope


def _log1p_of_arrays() -> Any:
    """Return NumPy's logarithm, loaded where there are arrays already."""
    import numpy as np

    return np.log1p


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
        return motor_at(v, self.conductance, self.knee, self.slip)

    def back_emf(self, v: Row) -> Row:
        """Voltage that the turning winding makes, a measure of its speed. [V]"""
        u = 1.0 + (v / self.knee) ** 2
        return v * (1.0 - self.slip) * (1.0 - u**-0.5)


@dataclass(frozen=True, slots=True)
class Accumulator:
    """A battery: it gives current freely and takes it with reluctance.

    With x the voltage over its own: ``I = G x`` while it gives, and
    ``I = G (q x + (1 - q) x / (1 + x/w))`` while it takes.
    """

    conductance: Row
    """When giving. [S]"""
    voltage: Row
    """With no current. [V]"""
    acceptance: Row
    """Conductance q when taking over that when giving. [-]"""

    def current(self, v: Row) -> Row:
        """Current into the plus post at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        return accumulator_at(v, self.conductance, self.voltage, self.acceptance)


@dataclass(frozen=True, slots=True)
class Limited:
    """A supply that holds its voltage up to a limit of current, and takes none back."""

    conductance: Row
    """Of its droop. [S]"""
    voltage: Row
    """With no current. [V]"""
    limit: Row
    """[A]"""

    def current(self, v: Row) -> Row:
        """Current into the first terminal at voltage `v`. [A]"""
        return self.at(v)[0]

    def at(self, v: Row) -> tuple[Row, Row]:
        """Current and its slope at voltage `v`. [A], [S]"""
        return limited_at(v, self.conductance, self.voltage, self.limit)


Bent: TypeAlias = Filament | Diode | Threshold | Motor | Accumulator | Limited
"""Laws whose slope depends on the voltage."""

Law: TypeAlias = Conductor | Source | Bent


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


def led(voltage: float, current: float, forward_voltage: float) -> Threshold:
    """Return the law of light-emitting diodes and the resistor in series with them.

    Parameters
    ----------
    voltage : over both. [V]
    current : at that voltage. [A]
    forward_voltage : from which they conduct. [V]
    """
    return Threshold(current / (voltage - forward_voltage), forward_voltage)
