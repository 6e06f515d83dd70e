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
from ohmwork.network.laws import Conductor, Law, Row, Source, filament, led
from ohmwork.network.lowering import Branch, Gate, effects_of
from ohmwork.parts import LAMP_TYPES, Fuse, LampType, Relay, TwinLamp
from ohmwork.quantities import format_quantity
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

MILLIVOLTS_LIMIT = 0.6
"""Above this the millivolt range shows overload. [V] 6,000 counts of 0.1 mV."""

SHUNT = 0.04
"""Of the meter in amps, with its leads. [Ω] Assumed; about 0.01 without leads."""

LOAD_RESISTANCE = 0.03
"""Of the battery load test. [Ω] About 350 A from a sound 12 V battery. Assumed."""

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
    "millivolts": "Millivolts DC",
    "ohms": "Ohms",
    "continuity": "Continuity",
    "diode": "Diode",
    "amps": "Amps",
    "clamp": "Current clamp",
    "test_lamp": "Test lamp",
    "led_lamp": "LED test lamp",
    "feed_supply": "Feed supply",
    "feed_ground": "Feed ground",
    "feed_5v": "Feed 5 V",
    "feed_3v": "Feed 3 V",
    "jumper": "Fused jumper",
    "load_test": "Battery load",
    "look": "Look closely",
}
"""Name of each tool, to its label."""

METER = frozenset({"volts", "millivolts", "ohms", "continuity", "diode", "amps"})
"""Ranges of one multimeter, which share their leads."""

ONE_LEAD = frozenset({"feed_supply", "feed_ground", "clamp", "look"})
"""Tools that use lead A alone; a clamp goes round a wire, not on a place."""

ACTIVE = frozenset(
    {
        "amps", "test_lamp", "led_lamp", "feed_supply", "feed_ground", "feed_5v",
        "feed_3v", "jumper", "load_test",
    }
)  # fmt: skip
"""Tools that change the circuit for as long as they are connected."""

FEEDS = frozenset({"feed_supply", "feed_ground", "feed_5v", "feed_3v"})
"""Tools that show current or that they have tripped, and nothing else."""

TOOL_FUSES = {
    "amps": ("meter fuse", 10.0, 0.05),
    "feed_supply": ("supply feed breaker", 20.0, 0.02),
    "feed_ground": ("ground feed breaker", 20.0, 0.02),
    "feed_5v": ("5 V feed breaker", 0.1, 0.02),
    "feed_3v": ("3 V feed breaker", 0.1, 0.02),
    "jumper": ("jumper fuse", 10.0, 1.0),
    "load_test": ("battery load link", 500.0, 5.0),
}
"""Tool, to the fuse or breaker in it: name, rating [A], thermal time [s]. Assumed."""

SECOND = "second "
"""Before the name of the second meter's fuse."""

EFFECT_WORDS: dict[str, tuple[tuple[float, str], ...]] = {
    "light": ((0.02, "off"), (0.2, "faint"), (0.6, "dim"), (math.inf, "full")),
    "turn": (
        (0.05, "still"), (0.3, "barely turns"), (0.7, "turns slowly"),
        (math.inf, "turns"),
    ),
    "crank": (
        (0.05, "still"), (0.5, "barely turns"), (0.93, "turns slowly"),
        (math.inf, "turns"),
    ),
    "heat": ((0.02, "cold"), (0.6, "lukewarm"), (math.inf, "hot")),
    "sound": ((0.3, "silent"), (0.8, "weak"), (math.inf, "sounds")),
    "pull": ((0.5, "at rest"), (math.inf, "pulls")),
    "flash": ((0.05, "not flashing"), (0.75, "flashes fast"), (math.inf, "flashes")),
    "park": ((0.5, "away from park"), (math.inf, "parked")),
}  # fmt: skip
"""What a person perceives: upper limit of the share of full effect, to the word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hookup:
    """A tool with its leads placed, or not yet."""

    tool: str = "volts"
    lead_a: str | None = None
    """A place; for a clamp the wire it goes round."""
    lead_b: str | None = None

    @property
    def instrument(self) -> str:
        """The thing on the trolley that this tool belongs to."""
        return "meter" if self.tool in METER else self.tool

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
    uncertainty: float | None = field(default=None, repr=False)
    """How far off the value may be, in `unit`."""

    def _repr_html_(self) -> str:
        return f"<b>{self.text}</b> &ensp;{self.sentence}"


Show: TypeAlias = Callable[..., Reading]
"""Makes the reading of the hookup at hand."""


def effect_word(what: str, share: float) -> str:
    """Return the word for what a person perceives, such as dim or turns slowly.

    Parameters
    ----------
    what : a name in `EFFECT_WORDS`.
    share : over the full effect; below zero for a motor that turns backwards. [-]
    """
    word = next(word for limit, word in EFFECT_WORDS[what] if abs(share) < limit)
    if what == "turn" and share <= -EFFECT_WORDS["turn"][0][0]:
        return f"{word} backwards"
    return word


def describe_effect(vehicle: Vehicle, name: str) -> str:
    """Return what it is that a person perceives, such as ``left tail lamp E7``."""
    part, _, mark = name.partition(":")
    text = vehicle.describe(part)
    if not mark:
        return text
    what = "filament " if isinstance(vehicle[part], TwinLamp) else ""
    return f"{text}, {what}{mark}"


def pitch(voltage: float, supply: float) -> float:
    """Return what a voltage sounds like, between ground and supply. [Hz]"""
    share = min(max(voltage / supply, 0.0), 1.0)
    return float(PITCH_AT_GROUND * (PITCH_AT_SUPPLY / PITCH_AT_GROUND) ** share)


def attachment(vehicle: Vehicle, *hookups: Hookup) -> Attachment:
    """Return what tools add to the circuit; nothing while a lead is missing.

    The first is the one in hand, whose branch is owned by ``tool``; the others were
    left connected and are owned by ``tool 2``, ``tool 3`` and so on.
    """
    branches: list[Branch] = []
    fuses: list[FuseLaw] = []
    for number, hookup in enumerate(hookups, 1):
        if hookup.missing is not None or hookup.tool in ("look", "clamp"):
            continue
        owner = "tool" if number == 1 else f"tool {number}"
        a, b = _ends(vehicle, hookup)
        gates: tuple[Gate, ...] = ()
        if hookup.tool in TOOL_FUSES:
            name, rating, thermal_time = TOOL_FUSES[hookup.tool]
            before = hookups[1:] if number == 1 else hookups[1 : number - 1]
            if hookup.tool == "amps" and any(h.instrument == "meter" for h in before):
                name = SECOND + name
            fuses.append(FuseLaw(name, rating, thermal_time, owner, ""))
            gates = (Gate("fuse", name),)
        lamp = _test_lamp(vehicle)
        glow = filament(lamp.test_voltage, lamp.test_power)
        law = _LAWS.get(hookup.tool, glow)
        branches.append(Branch(owner, "", a, b, law, gates))
        if hookup.tool == "led_lamp":
            branches.append(Branch(owner, "back", b, a, law))
    return Attachment(branches=tuple(branches), fuses=tuple(fuses))


def _ends(vehicle: Vehicle, hookup: Hookup) -> tuple[str, str]:
    """Return the places that a tool joins."""
    a, b = str(hookup.lead_a), str(hookup.lead_b)
    match hookup.tool:
        case "feed_supply":
            return vehicle.plus_post, a
        case "feed_ground":
            return a, vehicle.reference
        case _:
            return a, b


def _test_lamp(vehicle: Vehicle) -> LampType:
    """Return the bulb in the test lamp: the one that the workshop's vehicle takes."""
    return LAMP_TYPES["W5W 24 V" if vehicle.supply_voltage > 16.0 else "W5W 12 V"]


_LED_CURRENT = 5e-3
"""Of the LED test lamp on 12 V. [A] 2 to 20 mA are usual (common practice, no
source)."""

_LAWS: dict[str, Law] = {
    "volts": Conductor(1.0 / INPUT_RESISTANCE),
    "millivolts": Conductor(1.0 / INPUT_RESISTANCE),
    "ohms": OHMS_SOURCE,
    "continuity": OHMS_SOURCE,
    "diode": OHMS_SOURCE,
    "amps": Conductor(1.0 / SHUNT),
    "led_lamp": led(12.0, _LED_CURRENT, 2.0),
    "feed_supply": Conductor(1.0 / LEAD_RESISTANCE),
    "feed_ground": Conductor(1.0 / LEAD_RESISTANCE),
    "feed_5v": Source(1.0, 5.0),
    "feed_3v": Source(1.0, 3.0),
    "jumper": Conductor(1.0 / LEAD_RESISTANCE),
    "load_test": Conductor(1.0 / LOAD_RESISTANCE),
}
"""What a tool is between its leads, or between a post and its tip; all but the test
lamp, whose bulb is the vehicle's."""


def measure(
    network: Network,
    setup: Setup,
    hookup: Hookup,
    point: OperatingPoint,
    *,
    owner: str = "tool",
) -> Outcome:
    """Return what a hookup gives on a settled circuit.

    Parameters
    ----------
    network : the circuit, or many of one shape.
    setup : what people have set.
    hookup : tool with the leads it needs.
    point : settled state; with every active tool in it.
    owner : of the hookup's branch in `point`, if it is active.

    Raises
    ------
    NotPossibleError
        If a lead is missing, or a place cannot be looked at in this state.
    """
    if hookup.missing is not None:
        raise NotPossibleError(f"No reading. Lead {hookup.missing} is not placed.")
    a, b = str(hookup.lead_a), hookup.lead_b
    ops = network.ops
    channels: dict[str, Row] = {}
    match hookup.tool:
        case "look":
            return _look(network, setup, hookup, point)
        case "clamp":
            channels["amps"] = point.current(a)
        case "volts" | "millivolts":
            return _measure_volts(network, setup, hookup, point)
        case "ohms" | "continuity" | "diode":
            free = point.voltage(a, b)
            live = ops.where(abs(free) > LIVE_LIMIT, 1.0, 0.0)
            extra = attachment(network.vehicle, hookup)
            branches = (*_active(point), *extra.branches)
            joined = Attachment(branches=branches, fuses=_tool_fuses(point))
            point = network.settle(setup, joined, start=point)
            across = point.voltage(a, b)
            current = OHMS_SOURCE.conductance * (OHMS_SOURCE.voltage - across)
            ohms = across / ops.where(abs(current) < 1e-12, 1e-12, current)
            name = "forward" if hookup.tool == "diode" else "ohms"
            ohms = ops.minimum(ohms, OHMS_LIMIT)
            channels[name] = across if hookup.tool == "diode" else ohms
            channels["live"] = live
        case "test_lamp":
            across = point.voltage(a, b)
            full = _test_lamp(network.vehicle).test_voltage
            channels["light"] = (abs(across) / full) ** 3.4
        case "led_lamp":
            forward, back = point.current(owner), point.current(owner, "back")
            channels["light"] = ops.maximum(forward, back) / _LED_CURRENT
        case _:
            fuse = next(
                gate.name
                for branch in point.branches
                if branch.owner == owner
                for gate in branch.gates
            )
            channels["tripped"] = point.blown_rows[fuse]
            if hookup.tool == "load_test":
                channels["volts"] = point.voltage(a, b)
                return Outcome(channels=channels, moving=point.buzzing)
            channels["amps"] = point.current(owner)
            if hookup.tool != "amps":
                for name, (effect, _) in network.effects.items():
                    channels[f"{effect.what} {name}"] = point.output(name)
    return Outcome(channels=channels, moving=point.buzzing)


def _active(point: OperatingPoint) -> tuple[Branch, ...]:
    """Return the branches of the tools that are in a settled circuit."""
    return point.branches[len(point.network.branches) :]


def _tool_fuses(point: OperatingPoint) -> tuple[FuseLaw, ...]:
    """Return the fuses of the tools that are in a settled circuit."""
    known = {f.name for f in point.network.fuses}
    gates = {g.name: b.owner for b in _active(point) for g in b.gates}
    rated = {name: (amps, time) for name, amps, time in TOOL_FUSES.values()}
    return tuple(
        FuseLaw(name, *rated[name.removeprefix(SECOND)], owner, "")
        for name, owner in gates.items()
        if name not in known
    )


def _measure_volts(
    network: Network, setup: Setup, hookup: Hookup, point: OperatingPoint
) -> Outcome:
    """Return what a voltmeter gives, and whether its lead hangs free.

    The meter draws so little that in a single circuit its effect follows from what one
    ampere would do, unless that moves something bent; then, and with many circuits at
    once, the circuit is settled with the meter in it.
    """
    a, b = str(hookup.lead_a), str(hookup.lead_b)
    if network.single:
        quick = _quick_volts(point, a, b)
        if quick is not None:
            return quick
    tools, fuses = _active(point), _tool_fuses(point)
    meter = Branch("tool", "meter", a, b, _LAWS["volts"])
    nudge = Branch("tool", "nudge", a, b, NUDGE)
    read = network.settle(
        setup, Attachment(branches=(*tools, meter), fuses=fuses), start=point
    )
    nudged = network.settle(
        setup, Attachment(branches=(*tools, meter, nudge), fuses=fuses), start=read
    )
    volts = read.voltage(a, b)
    moved = nudged.voltage(a, b) - volts
    channels = {"volts": volts, "open": network.ops.where(moved > 0.5, 1.0, 0.0)}
    return Outcome(channels=channels, moving=read.buzzing)


NEGLIGIBLE = 1e-3
"""Change of a bent law's or a coil's voltage that its tangent describes. [V]"""


def _quick_volts(point: OperatingPoint, a: str, b: str) -> Outcome | None:
    """Return the same by the circuit's response to a small current, if it is small."""
    free = float(point.voltage(a, b))
    response = point.response(a, b)
    shape = point.shape
    pair = shape.read(a, response) - shape.read(b, response)
    drawn = free / INPUT_RESISTANCE / (1.0 + pair / INPUT_RESISTANCE)
    volts = free - pair * drawn
    felt = 1.0 / INPUT_RESISTANCE + NUDGE.conductance
    moved = (free + pair * NUDGE.conductance * NUDGE.voltage) / (
        1.0 + pair * felt
    ) - volts
    largest = max(abs(drawn), abs(NUDGE.conductance * NUDGE.voltage))
    if shape.felt(response) * largest > NEGLIGIBLE:
        return None
    channels = {"volts": volts, "open": 1.0 if moved > 0.5 else 0.0}
    return Outcome(channels=channels, moving=point.buzzing)


def _look(
    network: Network, setup: Setup, hookup: Hookup, point: OperatingPoint
) -> Outcome:
    """Look at the part that lead A's place belongs to."""
    part = network.vehicle.part_of(str(hookup.lead_a))
    effects = effects_of(part)
    channels: dict[str, Row] = {
        f"{effect.what} {effect.name}": point.output(effect.name) for effect in effects
    }
    if isinstance(part, Relay):
        channels["pulled_in"] = point.relays[part.name]
    if isinstance(part, Fuse):
        if part.plugs_in and part.name not in setup.apart:
            raise NotPossibleError(f"{part.name} is fitted. Pull it to see its link.")
        return Outcome(channels={"blown": point.blown_rows[part.name]}, moving=0.0)
    if not channels:
        raise NotPossibleError(
            f"There is nothing to see on {part.name}. "
            "Look at a lamp, a motor, a relay or a fuse."
        )
    return Outcome(channels=channels, moving=point.buzzing)


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
        off: float | None = None,
    ) -> Reading:
        return Reading(
            tool=hookup.tool, lead_a=str(hookup.lead_a), lead_b=hookup.lead_b,
            value=value, unit=unit, text=text, sentence=sentence, verdict=verdict,
            pitch=tone, uncertainty=off,
        )  # fmt: skip

    if outcome.moving:
        return show(
            None, "", "moving", "A relay buzzes; the reading will not stand still."
        )
    channels = {name: float(value) for name, value in outcome.channels.items()}
    match hookup.tool:
        case "load_test" if channels["tripped"]:
            return show(None, "V", "link blown", "The link of the load has blown.")
        case "volts" | "load_test":
            return _volts(vehicle, hookup, channels, show)
        case "millivolts":
            return _millivolts(channels, show)
        case "ohms" | "continuity":
            return _ohms(hookup.tool, channels, show)
        case "diode":
            if channels["live"]:
                return show(None, "", "?", _MEANINGLESS)
            if channels["forward"] > 2.5:
                return show(None, "V", "overload", "No current passes this way.")
            volts = round(channels["forward"], 3)
            text = f"{volts:.3f} V"
            return show(volts, "V", text, f"{text} drop at 1 mA.", off=_band(volts, 3))
        case "clamp":
            amps = round(channels["amps"], 1) + 0.0
            start, end = vehicle.ends(str(hookup.lead_a))
            text = f"{amps:.1f} A"
            sentence = f"{text} from {start} to {end}."
            return show(amps, "A", text, sentence, off=0.02 * abs(amps) + 0.3)
        case "amps":
            if channels["tripped"]:
                return show(None, "A", "fuse blown", "The meter's own fuse has blown.")
            decimals = 3 if abs(channels["amps"]) < 6.0 else 2
            amps = round(channels["amps"], decimals) + 0.0
            text = f"{amps:.{decimals}f} A"
            off = 0.015 * abs(amps) + 3.0 * 10.0**-decimals
            return show(amps, "A", text, f"{text} from A to B.", off=off)
        case "test_lamp" | "led_lamp":
            word = effect_word("light", channels["light"])
            word = {"full": "bright", "faint": "dim"}.get(word, word)
            return show(None, "", word, f"The {TOOLS[hookup.tool].lower()} is {word}."
                        .replace("led", "LED"))  # fmt: skip
        case tool if tool in FEEDS:
            if channels["tripped"]:
                return show(None, "A", "tripped", "The feed's breaker has tripped.")
            small = tool in ("feed_5v", "feed_3v")
            amps = round(abs(channels["amps"]), 4 if small else 2) + 0.0
            text = format_quantity(amps, "A") if small else f"{amps:.2f} A"
            off = 0.015 * amps + (2e-4 if small else 0.02)
            return show(amps, "A", text, f"The feed gives {text}.", off=off)
        case "jumper":
            if channels["tripped"]:
                return show(None, "", "fuse blown", "The jumper's fuse has blown.")
            return show(None, "", "fitted", "The jumper joins A and B.")
        case _:
            return _seen(vehicle, hookup, channels, show)


_MEANINGLESS = "Ohms on a live circuit: the reading means nothing."


def _band(value: float, decimals: int) -> float:
    """Return how far a meter in volts may be off: 0.5 % and 2 counts.

    Common practice, no source.
    """
    return 0.005 * abs(value) + 2.0 * 10.0**-decimals


def _volts(
    vehicle: Vehicle, hookup: Hookup, channels: dict[str, float], show: Show
) -> Reading:
    """A 6,000-count display; words only with lead B on the minus post."""
    decimals = 3 if abs(channels["volts"]) < 6.0 else 2
    volts = round(channels["volts"], decimals) + 0.0
    text = f"{volts:.{decimals}f} V"
    off = _band(volts, decimals)
    relation = "above" if volts >= 0.0 else "below"
    sentence = f"A is {abs(volts):.{decimals}f} V {relation} B."
    if hookup.lead_b != vehicle.reference or hookup.tool == "load_test":
        return show(volts, "V", text, sentence, off=off)
    supply = vehicle.supply_voltage
    if channels["open"]:
        return show(volts, "V", text, "Lead A hangs free: open.", "open", off=off)
    if volts > 0.9 * supply:
        verdict = "live"
    elif abs(volts) < 0.1:
        verdict = "ground"
    else:
        verdict = "between"
    tone = pitch(volts, supply)
    return show(volts, "V", text, sentence, verdict, tone, off)


def _millivolts(channels: dict[str, float], show: Show) -> Reading:
    """Two ranges of 6,000 counts, for drops across fuses and joints."""
    volts = channels["volts"]
    if abs(volts) >= MILLIVOLTS_LIMIT:
        return show(None, "V", "overload", "Too much for this range. Take volts.")
    decimals = 2 if abs(volts) < 0.06 else 1
    millivolts = round(volts * 1e3, decimals) + 0.0
    text = f"{millivolts:.{decimals}f} mV"
    off = 1e-3 * _band(millivolts, decimals)
    relation = "above" if millivolts >= 0.0 else "below"
    sentence = f"A is {text.removeprefix('-')} {relation} B."
    return show(1e-3 * millivolts, "V", text, sentence, off=off)


def _ohms(tool: str, channels: dict[str, float], show: Show) -> Reading:
    """Six ranges of 6,000 counts; continuity adds the beeper.

    Off by 0.8 % and 2 counts at most (common practice, no source).
    """
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
            off = 0.008 * value + 2.0 * scale * 10.0**-decimals
            return show(value, "Ω", text, f"{text} between A and B.{beep}", off=off)
    raise AssertionError


def _seen(
    vehicle: Vehicle, hookup: Hookup, channels: dict[str, float], show: Show
) -> Reading:
    """What the eye sees of a lamp, a motor, a relay or a fuse."""
    part = vehicle.part_of(str(hookup.lead_a))
    text = vehicle.describe(part.name)
    if "blown" in channels:
        word = "blown" if channels["blown"] else "whole"
        return show(None, "", word, f"{first_upper(text)} is {word}.")
    if "pulled_in" in channels:
        word = "pulled in" if channels["pulled_in"] else "at rest"
        return show(None, "", word, f"{first_upper(text)} is {word}.")
    words = {
        name.partition(" ")[2]: effect_word(name.partition(" ")[0], share)
        for name, share in channels.items()
    }
    sentence = " ".join(
        f"{first_upper(describe_effect(vehicle, name))}: {word}."
        for name, word in words.items()
    )
    return show(None, "", ", ".join(words.values()), sentence)


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
        case "light" | "turn" | "crank" | "heat" | "sound" | "pull" | "flash":
            return 0.03 + 0.25 * size
        case _:
            return 0.5
