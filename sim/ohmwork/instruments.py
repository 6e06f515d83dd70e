"""What a technician connects, and what it then shows.

An instrument is part of the circuit: it adds branches between its leads, the circuit
settles with them, and the reading follows. An `Outcome` holds the bare numbers (floats,
or rows with one entry per scenario); a `Reading` is what a person sees and hears of it.

A reading is lead A minus lead B.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from ohmwork.errors import NotPossibleError
from ohmwork.network import Attachment, Network, OperatingPoint, Setup
from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import Conductor, Law, Row, Source, filament
from ohmwork.network.lowering import Branch, Gate
from ohmwork.parts import LAMP_TYPES, Battery, Fuse, Lamp, Relay
from ohmwork.vehicle import Vehicle, first_upper

INPUT_RESISTANCE = 10e6
"""Of the multimeter in volts. [Ω] The usual value (common practice, no source)."""

NUDGE = Source(1.0 / 3e6, 3.0)
"""A microampere at most, with which the meter feels whether its lead hangs free."""

OHMS_SOURCE = Source(1.0 / 3e3, 3.0)
"""The meter's own supply in ohms, continuity and diode: 1 mA into a short.

Open voltage at most 3.2 V (common practice, no source).
"""

OHMS_LIMIT = 40e6
"""Above this the meter shows overload. [Ω] A usual value (common practice, no
source)."""

SHUNT = 0.04
"""Of the meter in amps, with its leads. [Ω] Assumed; about 0.01 without leads."""

METER_FUSE = FuseLaw("meter fuse", 10.0, 0.05)
FEED_BREAKER = FuseLaw("feed breaker", 10.0, 0.02)
JUMPER_FUSE = FuseLaw("jumper fuse", 10.0, 1.0)

LEAD_RESISTANCE = 0.03
"""Of a feed or a jumper from clip to tip. [Ω] Assumed."""

LIVE_LIMIT = 0.05
"""Voltage above which a circuit is live for an ohmmeter. [V] Assumed."""

CONTINUITY_LIMIT = 50.0
"""The beeper sounds below. [Ω] 40 to 100 by model (common practice, no source)."""

PITCH_AT_GROUND = 220.0
PITCH_AT_SUPPLY = 880.0
"""What the voltmeter sounds like at both ends. [Hz] Our own choice: two octaves."""

TOOLS: dict[str, str] = {
    "volts": "Volts DC",
    "ohms": "Ohms",
    "continuity": "Continuity",
    "diode": "Diode",
    "amps": "Amps",
    "test_lamp": "Test lamp",
    "feed_supply": "Feed supply",
    "feed_ground": "Feed ground",
    "jumper": "Fused jumper",
    "look": "Look closely",
}
"""Name of each tool, to its label."""

METER = frozenset({"volts", "ohms", "continuity", "diode", "amps"})
"""Ranges of one multimeter, which share their leads."""

ONE_LEAD = frozenset({"feed_supply", "feed_ground", "look"})
"""Tools that use lead A alone."""

ACTIVE = frozenset({"amps", "test_lamp", "feed_supply", "feed_ground", "jumper"})
"""Tools that change the circuit for as long as they are connected."""

LIGHT_WORDS = ((0.02, "off"), (0.2, "faint"), (0.6, "dim"), (math.inf, "full"))
"""Upper limit of the share of rated light, to the word for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hookup:
    """A tool with its leads placed, or not yet."""

    tool: str = "volts"
    lead_a: str | None = None
    lead_b: str | None = None

    @property
    def missing(self) -> str | None:
        """The lead that has still to be placed, A before B."""
        if self.lead_a is None:
            return "A"
        if self.lead_b is None and self.tool not in ONE_LEAD:
            return "B"
        return None

    @property
    def is_active(self) -> bool:
        """Whether it changes the circuit as long as it is connected."""
        return self.tool in ACTIVE and self.missing is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The bare numbers behind a reading."""

    channels: Mapping[str, Row]
    """Quantity to value: volts, open, ohms, live, amps, tripped, light, ..."""
    moving: Row
    """1 where a relay buzzes, so that nothing can be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What an instrument shows."""

    tool: str
    lead_a: str
    lead_b: str | None
    value: float | None
    """What is displayed, in `unit`; None on overload or where words are shown."""
    unit: str
    text: str
    """The display."""
    sentence: str
    """The same in words."""
    verdict: str | None = None
    """``live``, ``ground``, ``between``, ``open``: volts, B on the minus post."""
    pitch: float | None = field(default=None, repr=False)
    """What the voltmeter sounds like; silent on an open. [Hz]"""

    def _repr_html_(self) -> str:
        return f"<b>{self.text}</b> &ensp;{self.sentence}"


Show: TypeAlias = Callable[..., Reading]
"""Makes the reading of the hookup at hand."""


def light_word(light: float) -> str:
    """Return off, faint, dim or full for a share of rated light."""
    return next(word for limit, word in LIGHT_WORDS if light < limit)


def pitch(voltage: float, supply: float) -> float:
    """Return what a voltage sounds like, between ground and supply. [Hz]"""
    share = min(max(voltage / supply, 0.0), 1.0)
    return float(PITCH_AT_GROUND * (PITCH_AT_SUPPLY / PITCH_AT_GROUND) ** share)


def attachment(vehicle: Vehicle, hookup: Hookup) -> Attachment:
    """Return what a hookup adds to the circuit; nothing while a lead is missing."""
    if hookup.missing is not None or hookup.tool == "look":
        return Attachment()
    a, b = str(hookup.lead_a), str(hookup.lead_b)
    fuse: FuseLaw | None = None
    match hookup.tool:
        case "volts":
            law: Conductor | Source = Conductor(1.0 / INPUT_RESISTANCE)
        case "ohms" | "continuity" | "diode":
            law = OHMS_SOURCE
        case "amps":
            law, fuse = Conductor(1.0 / SHUNT), METER_FUSE
        case "test_lamp":
            lamp = LAMP_TYPES["W5W 12 V"]
            return _attach(a, b, filament(lamp.test_voltage, lamp.test_power), None)
        case "feed_supply":
            law, fuse, b = Conductor(1.0 / LEAD_RESISTANCE), FEED_BREAKER, a
            a = f"{vehicle.battery}:+"
        case "feed_ground":
            law, fuse, b = (
                Conductor(1.0 / LEAD_RESISTANCE),
                FEED_BREAKER,
                vehicle.reference,
            )
        case _:
            law, fuse = Conductor(1.0 / LEAD_RESISTANCE), JUMPER_FUSE
    return _attach(a, b, law, fuse)


def _attach(a: str, b: str, law: Law, fuse: FuseLaw | None) -> Attachment:
    gate = Gate("fuse", fuse.name) if fuse else None
    branch = Branch("tool", "", a, b, law, gate)
    return Attachment(branches=(branch,), fuses=(fuse,) if fuse else ())


def measure(
    network: Network, setup: Setup, hookup: Hookup, point: OperatingPoint
) -> Outcome:
    """Return what a hookup gives on a settled circuit.

    Parameters
    ----------
    network : the circuit, or many of one shape.
    setup : what people have set.
    hookup : tool with the leads it needs.
    point : settled state; with the hookup in it if the tool is active.

    Raises
    ------
    NotPossibleError
        If a lead is missing, or a place cannot be looked at in this state.
    """
    if hookup.missing is not None:
        raise NotPossibleError(f"No reading. Lead {hookup.missing} is not placed.")
    if hookup.tool == "look":
        return _look(network.vehicle, setup, hookup, point)
    extra = attachment(network.vehicle, hookup)
    if not hookup.is_active:
        before = point
        point = network.settle(setup, extra, start=point)
    a = str(hookup.lead_a)
    across = point.voltage(a, hookup.lead_b) if hookup.lead_b else 0.0
    channels: dict[str, Row] = {}
    match hookup.tool:
        case "volts":
            channels["volts"] = across
            nudge = Branch("tool", "nudge", a, str(hookup.lead_b), NUDGE)
            nudged = network.settle(
                setup, Attachment(branches=(*extra.branches, nudge)), start=point
            )
            moved = nudged.voltage(a, hookup.lead_b) - across
            channels["open"] = network.ops.where(moved > 0.5, 1.0, 0.0)
        case "ohms" | "continuity" | "diode":
            free = before.voltage(a, hookup.lead_b)
            live = network.ops.where(abs(free) > LIVE_LIMIT, 1.0, 0.0)
            current = OHMS_SOURCE.conductance * (OHMS_SOURCE.voltage - across)
            ohms = across / network.ops.where(abs(current) < 1e-12, 1e-12, current)
            name = "forward" if hookup.tool == "diode" else "ohms"
            ohms = network.ops.minimum(ohms, OHMS_LIMIT)
            channels[name] = across if hookup.tool == "diode" else ohms
            channels["live"] = live
        case "test_lamp":
            test_voltage = LAMP_TYPES["W5W 12 V"].test_voltage
            channels["light"] = (abs(across) / test_voltage) ** 3.4
        case _:
            channels["amps"] = point.current("tool")
            fuse = extra.fuses[0].name
            channels["tripped"] = point.blown_rows[fuse]
            if hookup.tool != "amps":
                for lamp in network.vehicle.of_type(Lamp):
                    channels[f"light {lamp.name}"] = point.light(lamp.name)
    return Outcome(channels=channels, moving=point.buzzing)


def _look(
    vehicle: Vehicle, setup: Setup, hookup: Hookup, point: OperatingPoint
) -> Outcome:
    """Look at the part that lead A's place belongs to."""
    part = vehicle.part_of(str(hookup.lead_a))
    if isinstance(part, Lamp):
        return Outcome(channels={"glow": point.light(part.name)}, moving=point.buzzing)
    if isinstance(part, Relay):
        return Outcome(
            channels={"pulled_in": point.relays[part.name]}, moving=point.buzzing
        )
    if isinstance(part, Fuse):
        if part.plugs_in and part.name not in setup.apart:
            raise NotPossibleError(f"{part.name} is fitted. Pull it to see its link.")
        return Outcome(channels={"blown": point.blown_rows[part.name]}, moving=0.0)
    raise NotPossibleError(
        f"There is nothing to see on {part.name}. Look at a lamp, a relay or a fuse."
    )


def reading(vehicle: Vehicle, hookup: Hookup, outcome: Outcome) -> Reading:
    """Return what a person sees of an outcome.

    Parameters
    ----------
    vehicle : for its names and its supply voltage.
    hookup : what the outcome was measured with.
    outcome : of a single circuit.
    """

    def show(
        value: float | None,
        unit: str,
        text: str,
        sentence: str,
        verdict: str | None = None,
        tone: float | None = None,
    ) -> Reading:
        return Reading(
            tool=hookup.tool, lead_a=str(hookup.lead_a), lead_b=hookup.lead_b,
            value=value, unit=unit, text=text, sentence=sentence, verdict=verdict,
            pitch=tone,
        )  # fmt: skip

    if outcome.moving:
        return show(
            None, "", "moving", "A relay buzzes; the reading will not stand still."
        )
    channels = {name: float(value) for name, value in outcome.channels.items()}
    match hookup.tool:
        case "volts":
            return _volts(vehicle, hookup, channels, show)
        case "ohms" | "continuity":
            return _ohms(hookup.tool, channels, show)
        case "diode":
            if channels["live"]:
                return show(None, "", "?", _MEANINGLESS)
            if channels["forward"] > 2.5:
                return show(None, "V", "overload", "No current passes this way.")
            volts = round(channels["forward"], 3)
            return show(volts, "V", f"{volts:.3f} V", f"{volts:.3f} V drop at 1 mA.")
        case "amps":
            if channels["tripped"]:
                return show(None, "A", "fuse blown", "The meter's own fuse has blown.")
            amps = round(channels["amps"], 2) + 0.0
            return show(amps, "A", f"{amps:.2f} A", f"{amps:.2f} A from A to B.")
        case "test_lamp":
            word = light_word(channels["light"])
            word = {"full": "bright", "faint": "dim"}.get(word, word)
            return show(None, "", word, f"The test lamp is {word}.")
        case "feed_supply" | "feed_ground":
            if channels["tripped"]:
                return show(None, "A", "tripped", "The feed's breaker has tripped.")
            amps = round(abs(channels["amps"]), 2) + 0.0
            return show(amps, "A", f"{amps:.2f} A", f"The feed gives {amps:.2f} A.")
        case "jumper":
            if channels["tripped"]:
                return show(None, "", "fuse blown", "The jumper's fuse has blown.")
            return show(None, "", "fitted", "The jumper joins A and B.")
        case _:
            return _seen(vehicle, hookup, channels, show)


_MEANINGLESS = "Ohms on a live circuit: the reading means nothing."


def _volts(
    vehicle: Vehicle, hookup: Hookup, channels: dict[str, float], show: Show
) -> Reading:
    """A 6,000-count display; words only with lead B on the minus post."""
    decimals = 3 if abs(channels["volts"]) < 6.0 else 2
    volts = round(channels["volts"], decimals) + 0.0
    text = f"{volts:.{decimals}f} V"
    relation = "above" if volts >= 0.0 else "below"
    sentence = f"A is {abs(volts):.{decimals}f} V {relation} B."
    if hookup.lead_b != vehicle.reference:
        return show(volts, "V", text, sentence)
    battery = vehicle[vehicle.battery]
    assert isinstance(battery, Battery)
    supply = battery.open_circuit_voltage
    if channels["open"]:
        return show(volts, "V", text, "Lead A hangs free: open.", "open")
    if volts > 0.9 * supply:
        verdict = "live"
    elif abs(volts) < 0.1:
        verdict = "ground"
    else:
        verdict = "between"
    return show(volts, "V", text, sentence, verdict, pitch(volts, supply))


def _ohms(tool: str, channels: dict[str, float], show: Show) -> Reading:
    """Three ranges; continuity adds the beeper."""
    if channels["live"]:
        return show(None, "Ω", "?", _MEANINGLESS)
    ohms = abs(channels["ohms"])
    beep = (
        " The meter beeps." if tool == "continuity" and ohms < CONTINUITY_LIMIT else ""
    )
    if ohms >= OHMS_LIMIT:
        return show(None, "Ω", "overload", "No path between A and B.")
    for limit, scale, unit, decimals in (
        (600.0, 1.0, "Ω", 1), (6e3, 1e3, "kΩ", 3), (60e3, 1e3, "kΩ", 2),
        (600e3, 1e3, "kΩ", 1), (6e6, 1e6, "MΩ", 3), (math.inf, 1e6, "MΩ", 2),
    ):  # fmt: skip
        if ohms < limit:
            text = f"{ohms / scale:.{decimals}f} {unit}"
            value = round(ohms / scale, decimals) * scale
            return show(value, "Ω", text, f"{text} between A and B.{beep}")
    raise AssertionError


def _seen(
    vehicle: Vehicle, hookup: Hookup, channels: dict[str, float], show: Show
) -> Reading:
    """What the eye sees of a lamp, a relay or a fuse."""
    part = vehicle.part_of(str(hookup.lead_a))
    if "glow" in channels:
        word = light_word(channels["glow"])
    elif "pulled_in" in channels:
        word = "pulled in" if channels["pulled_in"] else "at rest"
    else:
        word = "blown" if channels["blown"] else "whole"
    return show(
        None, "", word, f"{first_upper(vehicle.describe(part.name))} is {word}."
    )


def tolerance(channel: str, value: Row) -> Row:
    """Return how far a value may be off and still be called the same.

    Covers the meter's band (0.5 % and 2 counts, common practice, no source) and the
    spread of parts, so that nobody is asked to tell apart what no workshop could.

    Parameters
    ----------
    channel : as in `Outcome.channels`.
    value : in the channel's unit.
    """
    size = abs(value)
    match channel.split(" ")[0]:
        case "volts" | "forward":
            return 0.05 + 0.01 * size
        case "ohms":
            return 0.3 + 0.05 * size
        case "amps":
            return 0.05 + 0.05 * size
        case "light" | "glow":
            return 0.03 + 0.25 * size
        case _:
            return 0.5
