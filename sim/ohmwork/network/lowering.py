"""From parts to branches: which laws join which places, and what opens them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from ohmwork.network.fuses import FuseLaw
from ohmwork.network.laws import (
    Accumulator,
    Conductor,
    Diode,
    Filament,
    Law,
    Limited,
    Source,
    Threshold,
    filament,
    led,
    motor,
    warming,
)
from ohmwork.network.laws import (
    Motor as MotorLaw,
)
from ohmwork.parts import (
    LAMP_TYPES,
    SOUND_SEAT,
    Alternator,
    Battery,
    Breaker,
    Chafe,
    Connector,
    Flasher,
    Fuse,
    GroundPoint,
    Heater,
    Horn,
    Lamp,
    Led,
    Load,
    Module,
    ModulePin,
    Motor,
    Part,
    Potentiometer,
    Relay,
    ResistorPack,
    Starter,
    Switch,
    Thermistor,
    TwinLamp,
    Wiper,
    Wire,
)

ACCEPTANCE_CHARGED, ACCEPTANCE_EMPTY = 0.02, 0.22
"""Conductance of a battery being charged over that of one giving. [-] Assumed."""

WORN_KNEE = 0.02
"""Voltage from which a worn stretch of conductor warms. [V] Assumed."""

DROOP = 0.4
"""Voltage that an alternator loses from no load to its limit. [V] Assumed."""

REFERENCE_DROOP = 0.05
"""The same of a module's reference. [V] Assumed."""

SENSE_RESISTANCE = 2e3
"""From an alternator's sense terminal to its case. [Ω] Assumed."""

WORN = 3.0
"""Friction and brush resistance of a worn motor over a new one's. [-] Assumed."""

SHORTED = 0.03
"""Resistance of a load that is shorted inside over that of a sound one. [-] Assumed."""

ASLEEP_RESISTANCE = 100e6
"""Of an input whose module sleeps, and of a reference. [Ω] Assumed."""

OPEN_LOAD_RESISTANCE = 50e3
"""Through which an output feels whether a load is there. [Ω] Assumed."""

FLASHER_WORKS_FROM = 6.0
"""[V] Assumed."""

BREAKER_HEATER = 1e3
"""Across a breaker, which keeps it warm and open while a load asks. [Ω] Assumed."""

BEARS_ALL = 30.0
"""A pin that bears as much survives whatever these vehicles can feed it. [V]"""

CLAMP_CONDUCTANCE = 1.0
"""Of a pin fed above the voltage it bears. [S] Assumed."""

KILLING_CURRENT = 0.05
"""Through the clamp of a pin. [A] Assumed."""

LOW_REFERENCE_RESISTANCE = 0.02
"""Of a low reference inside its module. [Ω] Assumed."""


BY_SETUP = ("apart", "control", "not_control")
"""Gates that people decide."""


@dataclass(frozen=True, slots=True)
class Gate:
    """One thing that must hold for a branch to conduct."""

    by: str
    """``apart``: the part is plugged in; ``fuse``: it is whole; ``on`` and ``off``:
    state of the trigger; ``control``: the control stands in one of `positions`, and
    ``not_control``: in none of them."""
    name: str
    """The part, fuse, trigger or control that decides."""
    positions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Branch:
    """One law between two places; current is positive from `a` to `b`."""

    owner: str
    role: str
    """What it is within its owner; empty where a part is one branch."""
    a: str
    b: str
    law: Law
    gates: tuple[Gate, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trigger:
    """Something that turns on and off by voltage, and remembers: a relay, a module."""

    name: str
    part: str
    across: tuple[tuple[str, str], ...]
    """Pairs of places; the largest of their voltages counts."""
    makes: float
    """[V]"""
    drops: float
    """[V]"""
    either_way: bool = False
    """Whether polarity does not matter."""
    winding: str = ""
    """Role of the branch that must be whole for it to pull, or to hear."""
    fuse: str = ""
    """What must be whole besides, if anything."""
    resets: tuple[str, str, float] | None = None
    """Places and the voltage across them that turns it off at once."""
    moves: bool = False
    """Whether something moves, an armature or an arm: electronics are quicker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """Something a person can see, hear or feel of a part."""

    name: str
    """The part, or part and terminal where a part has several: ``E7:54``."""
    what: str
    """``light``, ``turn``, ``crank``, ``heat``, ``sound``, ``pull``, ``flash`` or
    ``park``."""
    roles: tuple[str, ...]
    """The branches it comes from; their shares add up."""
    rated: float
    """Test voltage of a filament [V]; rated current of an LED or a flasher [A], power
    of a heater [W], back-EMF of a motor [V], voltage of the rest [V]."""


def conductance(resistance: float) -> float:
    """Return one over a resistance; an infinite one is an open path. [S]"""
    return 0.0 if math.isinf(resistance) else 1.0 / resistance


def _resistor(
    owner: str, role: str, a: str, b: str, resistance: float, *gates: Gate
) -> Branch:
    return Branch(owner, role, a, b, Conductor(conductance(resistance)), gates)


def _seats(part: Part, resistances: dict[str, float]) -> tuple[Branch, ...]:
    """Join each socket of a part that plugs in to its pin."""
    gate = Gate("apart", part.name)
    return tuple(
        _resistor(part.name, f"seat {s.partition(':')[2]}", s, f"{s}p", value, gate)
        for s, value in resistances.items()
    )


def _worn(cold: float) -> Filament:
    """Return the law of a worn stretch: few strands, which warm."""
    return Filament(1.0 / cold, WORN_KNEE)


@lru_cache(maxsize=8192)
def branches_of(part: Part) -> tuple[Branch, ...]:
    """Return the branches of one part."""
    return tuple(_branches(part))


def _branches(part: Part) -> Iterator[Branch]:
    name = part.name
    match part:
        case Battery():
            empty = 1.0 - part.state_of_charge / 100.0
            more = ACCEPTANCE_EMPTY - ACCEPTANCE_CHARGED
            acceptance = ACCEPTANCE_CHARGED + more * empty
            law = Accumulator(
                conductance(part.resistance), part.rested_voltage, acceptance
            )
            yield Branch(name, "", f"{name}:+", f"{name}:-", law)
        case Wire() if part.worn_resistance:
            middle = f"{name} worn"
            yield _resistor(name, "", part.start, middle, part.resistance)
            worn = _worn(part.worn_resistance)
            yield Branch(name, "worn", middle, part.end, worn)
        case Wire() | Chafe():
            yield _resistor(name, "", part.start, part.end, part.resistance)
        case GroundPoint():
            yield _resistor(name, "", f"{name}:31", part.body, part.resistance)
        case Connector():
            yield from _connector(part)
        case Fuse():
            one, two = f"{name}:1", f"{name}:2"
            pin = "p" if part.plugs_in else ""
            if part.plugs_in:
                yield from _seats(part, {one: part.seat_resistance, two: SOUND_SEAT})
            whole = Gate("fuse", name)
            yield _resistor(
                name, "", f"{one}{pin}", f"{two}{pin}", part.resistance, whole
            )
            if isinstance(part, Breaker) and not math.isinf(part.resistance):
                yield _resistor(
                    name, "heater", f"{one}{pin}", f"{two}{pin}", BREAKER_HEATER
                )
        case Switch():
            for c in part.contacts:
                gates = () if c.is_stuck else (Gate("control", name, c.closed_in),)
                start, end = f"{name}:{c.start}", f"{name}:{c.end}"
                yield _resistor(name, c.name, start, end, c.resistance, *gates)
        case Relay():
            yield from _relay(part)
        case Lamp():
            lamp = LAMP_TYPES[part.type]
            glow = filament(lamp.test_voltage, lamp.test_power)
            supply, ground = part.sockets
            yield Branch(name, "", supply, ground, _unless(glow, part.blown))
        case TwinLamp():
            lamp = LAMP_TYPES[part.type]
            main, second, ground = part.sockets
            for mark, place, power in (
                (part.main, main, lamp.test_power),
                (part.second, second, lamp.second_power),
            ):
                glow = filament(lamp.test_voltage, power)
                glow = _unless(glow, mark in part.blown)
                yield Branch(name, mark, place, ground, glow)
        case Load():
            yield from _load(part)
        case Starter():
            yield from _starter(part)
        case Alternator():
            yield from _alternator(part)
        case Wiper():
            yield from _wiper(part)
        case ResistorPack():
            for step, resistance in part.steps:
                start, _, end = step.partition("-")
                ohms = math.inf if step in part.open_steps else resistance
                yield _resistor(name, step, f"{name}:{start}", f"{name}:{end}", ohms)
        case Thermistor():
            ohms = {"open": math.inf, "shorted": 1.0}.get(
                part.failure, part.present_resistance
            )
            signal, low = part.sockets
            yield _resistor(name, "", signal, low, ohms)
        case Potentiometer():
            yield from _potentiometer(part)
        case Flasher():
            supply, out, ground = part.sockets
            yield _resistor(name, "electronics", supply, ground, 1e3)
            ohms = math.inf if part.failure == "open" else part.contact_resistance
            yield _resistor(name, "49-49a", supply, out, ohms, Gate("on", name))
        case Module():
            yield from _module(part)


def _unless(law: Filament, blown: bool) -> Filament:
    return dataclasses.replace(law, conductance=0.0) if blown else law


def _connector(part: Connector) -> Iterator[Branch]:
    """Seats; a worn way has a warming stretch behind its contact."""
    name, worn = part.name, dict(part.worn_resistance)
    sound = {f"{name}:{w}": part.way_resistance(w) for w in part.ways if w not in worn}
    yield from _seats(part, sound)
    gate = Gate("apart", name)
    for way, cold in worn.items():
        place, middle = f"{name}:{way}", f"{name} worn {way}"
        yield _resistor(
            name, f"seat {way}", place, middle, part.way_resistance(way), gate
        )
        yield Branch(name, f"worn {way}", middle, f"{place}p", _worn(cold))


def _relay(part: Relay) -> Iterator[Branch]:
    """Seats, coil, suppression and contacts."""
    name = part.name
    pin = {s.partition(":")[2]: f"{s}p" for s in part.sockets}
    yield from _seats(part, dict.fromkeys(part.sockets, part.seat_resistance))
    yield _resistor(
        name, "coil", pin["86"], pin["85"], part.coil_resistance * part.warmth
    )
    made = () if part.is_welded else (Gate("on", name),)
    yield _resistor(name, "30-87", pin["30"], pin["87"], part.contact_resistance, *made)
    if part.changeover:
        # A welded armature stays where it is, so its rest contact stays open.
        ohms = math.inf if part.is_welded else part.contact_resistance
        rest = Gate("off", name)
        yield _resistor(name, "30-87a", pin["30"], pin["87a"], ohms, rest)
    if part.suppression_diode:
        ends = (pin["85"], pin["86"])
        a, b = reversed(ends) if part.diode_reversed else ends
        yield Branch(name, "diode", a, b, Diode(1.0))
    if part.suppression_resistor is not None:
        yield _resistor(
            name, "suppression", pin["86"], pin["85"], part.suppression_resistor
        )


def _motor_law(
    voltage: float, current: float, stall_current: float, failure: str
) -> MotorLaw:
    """Return the law of a motor in its present state."""
    law = motor(voltage, current, stall_current)
    match failure:
        case "open":
            return dataclasses.replace(law, conductance=0.0)
        case "shorted":
            return dataclasses.replace(law, conductance=law.conductance / SHORTED)
        case "seized":
            return dataclasses.replace(law, slip=1.0)
        case "worn":
            return MotorLaw(law.conductance / WORN, law.knee * WORN**2, law.slip)
        case _:
            return law


def _load(part: Load) -> Iterator[Branch]:
    """A part with two terminals that does something with current."""
    name, (supply, ground) = part.name, part.sockets
    volts, amps = part.rated_voltage, part.rated_current
    ohms = volts / amps
    if isinstance(part, Motor):
        law = _motor_law(volts, amps, part.stall_current, part.failure)
        yield Branch(name, "", supply, ground, law)
        return
    if part.failure == "open":
        ohms = math.inf
    elif part.failure == "shorted":
        ohms *= SHORTED
    if isinstance(part, Led):
        light = led(
            volts, 0.0 if part.failure == "open" else amps, part.forward_voltage
        )
        yield Branch(name, "", supply, ground, light)
    elif isinstance(part, Heater) and part.self_limiting:
        warm = warming(volts, amps, 3.0, 0.45)
        scale = warm.conductance * ohms**-1 * (volts / amps)
        yield Branch(
            name, "", supply, ground, dataclasses.replace(warm, conductance=scale)
        )
    else:
        yield _resistor(name, "", supply, ground, ohms)


def _starter(part: Starter) -> Iterator[Branch]:
    """Solenoid, its contact, and the motor behind it."""
    name = part.name
    battery, solenoid, case = part.sockets
    behind = f"{name} brushes"
    yield _resistor(name, "coil", solenoid, case, part.coil_resistance)
    yield _resistor(
        name, "30-motor", battery, behind, part.contact_resistance, Gate("on", name)
    )
    law = _motor_law(
        part.rated_voltage, part.rated_current, part.stall_current, part.failure
    )
    yield Branch(name, "motor", behind, case, law)


def _alternator(part: Alternator) -> Iterator[Branch]:
    """Output at each speed, and what D+ and S are joined to inside."""
    name = part.name
    out, lamp, case = part.sockets[:3]
    charging = Gate("on", name)
    turns = tuple(position for position, _ in part.output)
    volts = part.regulated_voltage * (1.1 if part.failure == "overcharge" else 1.0)
    if part.failure != "no_charge":
        for position, amps in part.output:
            gates = (Gate("control", part.engine, (position,)), charging)
            law = Limited(amps / DROOP, volts, amps)
            yield Branch(name, f"output {position}", out, case, law, gates)
    turning = Gate("control", part.engine, turns)
    ohms = part.lamp_resistance
    if part.failure == "no_charge":
        yield _resistor(name, "lamp", lamp, case, ohms)
    else:
        still = Gate("not_control", part.engine, turns)
        yield _resistor(name, "lamp at rest", lamp, case, ohms, still)
        yield _resistor(
            name, "lamp unexcited", lamp, case, ohms, turning, Gate("off", name)
        )
        yield _resistor(name, "lamp charging", lamp, out, 1.0, turning, charging)
    if part.sense:
        yield _resistor(name, "sense", part.sockets[3], case, SENSE_RESISTANCE)


def _wiper(part: Wiper) -> Iterator[Branch]:
    """Both windings and the park switch."""
    name = part.name
    slow, fast, feed, park, ground = part.sockets
    for role, place, more in (("slow", slow, 1.0), ("fast", fast, 1.4)):
        law = _motor_law(
            part.rated_voltage,
            more * part.rated_current,
            more * part.stall_current,
            part.failure,
        )
        yield Branch(name, role, place, ground, law)
    ohms = part.contact_resistance
    yield _resistor(name, "31b-31", park, ground, ohms, Gate("off", name))
    yield _resistor(name, "53a-31b", feed, park, ohms, Gate("on", name))


def _potentiometer(part: Potentiometer) -> Iterator[Branch]:
    """The track on both sides of its slider, for each position."""
    name = part.name
    reference, signal, low = part.sockets
    slider = f"{name} slider"
    stuck = part.failure == "stuck"
    for position, percent in part.stands[:1] if stuck else part.stands:
        gates = () if stuck else (Gate("control", name, (position,)),)
        lower = percent / 100.0 * part.resistance
        upper = part.resistance - lower
        yield _resistor(name, f"upper {position}", reference, slider, upper, *gates)
        yield _resistor(name, f"lower {position}", slider, low, lower, *gates)
    ohms = math.inf if part.failure == "open" else 0.02 * part.resistance
    yield _resistor(name, "slider", slider, signal, ohms)


def _module(part: Module) -> Iterator[Branch]:
    """Its own consumption, and what each pin is joined to inside."""
    name, volts = part.name, part.rated_voltage
    supply, wake, ground = (
        f"{name}:{mark}" for mark in (part.supply, part.wake, part.ground)
    )
    awake = () if part.stays_awake else (Gate("on", f"{name} awake"),)
    works = (*awake, Gate("on", f"{name} supplied"))
    yield _resistor(name, "asleep", supply, ground, volts / part.sleep_current)
    more = part.awake_current - part.sleep_current
    yield _resistor(name, "awake", supply, ground, volts / more, *awake)
    if wake != supply:
        yield _resistor(name, "wake", wake, ground, 10e3)
    for pin in part.pin_table:
        yield from _pin(part, pin, supply, ground, works)


def _pin(
    part: Module, pin: ModulePin, supply: str, ground: str, works: tuple[Gate, ...]
) -> Iterator[Branch]:
    name, place = part.name, f"{part.name}:{pin.name}"
    whole = tuple(Gate("fuse", fuse.name) for fuse in _pin_fuse(part, pin))
    dead = pin.name in part.dead_pins
    on = (*works, *((Gate("on", f"{name}:{pin.when}"),) if pin.when else ()), *whole)
    match pin.does:
        case "reference":
            law = Limited(pin.limit / REFERENCE_DROOP, pin.voltage, pin.limit)
            if not dead:
                yield Branch(name, f"{pin.name} supply", place, ground, law, on)
            yield _resistor(name, pin.name, place, ground, ASLEEP_RESISTANCE)
        case "low_reference":
            ohms = math.inf if dead else LOW_REFERENCE_RESISTANCE
            yield _resistor(name, pin.name, place, ground, ohms, *whole)
        case "input":
            yield _resistor(name, pin.name, place, ground, ASLEEP_RESISTANCE)
            if pin.pulled_up_to is not None:
                share = 0.0 if dead else 1.0 / pin.through
                pull = Source(share, pin.pulled_up_to)
                yield Branch(
                    name, f"{pin.name} pull", place, ground, pull, (*works, *whole)
                )
            else:
                end = supply if pin.on_when == "low" else ground
                ohms = math.inf if dead else pin.through
                yield _resistor(name, f"{pin.name} pull", place, end, ohms, *whole)
        case "high_side" | "low_side":
            a, b = (supply, place) if pin.does == "high_side" else (place, ground)
            ohms = math.inf if dead else pin.resistance
            yield _resistor(name, pin.name, a, b, ohms, *on)
            yield _resistor(
                name, f"{pin.name} feeler", supply, place, OPEN_LOAD_RESISTANCE, *works
            )
    if pin.does in ("reference", "input") and whole:
        clamp = Threshold(CLAMP_CONDUCTANCE, pin.bears)
        yield Branch(name, f"{pin.name} clamp", place, ground, clamp, whole)


@lru_cache(maxsize=2048)
def triggers_of(part: Part) -> tuple[Trigger, ...]:
    """Return what of one part turns on and off by voltage."""
    name = part.name
    match part:
        case Relay():
            coil = (f"{name}:86p", f"{name}:85p")
            pull, drop = part.pull_in * part.warmth, part.drop_out * part.warmth
            return (
                Trigger(
                    name=name, part=name, across=(coil,), makes=pull, drops=drop,
                    either_way=True, winding="coil", moves=True,
                ),
            )  # fmt: skip
        case Starter():
            across = ((f"{name}:50", f"{name}:31"),)
            return (
                Trigger(
                    name=name, part=name, across=across, makes=part.pull_in,
                    drops=part.drop_out, winding="coil", moves=True,
                ),
            )  # fmt: skip
        case Alternator():
            across = ((f"{name}:D+", f"{name}:31"),)
            return (Trigger(name=name, part=name, across=across, makes=1.0, drops=0.5),)
        case Flasher():
            across = ((f"{name}:49", f"{name}:31"),)
            works = FLASHER_WORKS_FROM
            return (
                Trigger(
                    name=name, part=name, across=across, makes=works, drops=0.7 * works
                ),
            )
        case Wiper():
            driven = tuple((f"{name}:{mark}", f"{name}:31") for mark in ("53", "53b"))
            return (
                Trigger(
                    name=name, part=name, across=driven, drops=-math.inf,
                    makes=0.3 * part.rated_voltage,
                    resets=(f"{name}:53a", f"{name}:31b", 5e-3), moves=True,
                ),
            )  # fmt: skip
        case Module():
            return tuple(_module_triggers(part))
        case _:
            return ()


def _module_triggers(part: Module) -> Iterator[Trigger]:
    """Supply, wake-up and inputs."""
    name, ground = part.name, f"{part.name}:{part.ground}"
    supply = f"{name}:{part.supply}"
    for what, mark in (("supplied", part.supply), ("awake", part.wake)):
        yield Trigger(
            name=f"{name} {what}", part=name, across=((f"{name}:{mark}", ground),),
            makes=part.works_from, drops=0.8 * part.works_from,
        )  # fmt: skip
    for pin in part.pin_table:
        if pin.does != "input":
            continue
        place = f"{name}:{pin.name}"
        ends = (place, ground) if pin.on_when == "high" else (supply, place)
        full = part.rated_voltage if pin.pulled_up_to is None else pin.pulled_up_to
        fuses = [fuse.name for fuse in _pin_fuse(part, pin)]
        yield Trigger(
            name=place, part=name, across=(ends,), makes=0.6 * full, drops=0.4 * full,
            winding=f"{pin.name} pull", fuse=fuses[0] if fuses else "",
        )  # fmt: skip


@lru_cache(maxsize=2048)
def fuses_of(part: Part) -> tuple[FuseLaw, ...]:
    """Return what of one part opens by current."""
    match part:
        case Fuse():
            resets = isinstance(part, Breaker)
            return (
                FuseLaw(
                    part.name, part.rating, part.thermal_time, part.name, "", resets
                ),
            )
        case Module():
            return tuple(law for pin in part.pin_table for law in _pin_fuse(part, pin))
        case _:
            return ()


def _pin_fuse(part: Module, pin: ModulePin) -> tuple[FuseLaw, ...]:
    """Return what kills or shuts off one pin, if anything does."""
    place = f"{part.name}:{pin.name}"
    match pin.does:
        case "reference" | "input":
            if pin.bears >= BEARS_ALL:
                return ()
            role = f"{pin.name} clamp"
            return (FuseLaw(place, KILLING_CURRENT, 0.01, part.name, role),)
        case "low_reference":
            return (FuseLaw(place, 2.0, 0.01, part.name, pin.name),)
        case _:
            return (FuseLaw(place, pin.limit, 0.01, part.name, pin.name, resets=True),)


@lru_cache(maxsize=2048)
def effects_of(part: Part) -> tuple[Effect, ...]:
    """Return what a person can see, hear or feel of one part."""
    name = part.name

    def effect(what: str, rated: float, *roles: str, mark: str = "") -> Effect:
        named = f"{name}:{mark}" if mark else name
        return Effect(name=named, what=what, roles=roles or ("",), rated=rated)

    match part:
        case Lamp():
            return (effect("light", LAMP_TYPES[part.type].test_voltage),)
        case TwinLamp():
            volts = LAMP_TYPES[part.type].test_voltage
            marks = (part.main, part.second)
            return tuple(effect("light", volts, mark, mark=mark) for mark in marks)
        case Led():
            return (effect("light", part.rated_current),)
        case Heater():
            return (effect("heat", part.rated_voltage * part.rated_current),)
        case Motor() | Starter() | Wiper():
            law = motor(part.rated_voltage, part.rated_current, part.stall_current)
            speed = law.back_emf(part.rated_voltage)
            roles = {Motor: ("",), Starter: ("motor",), Wiper: ("slow", "fast")}
            what = "crank" if isinstance(part, Starter) else "turn"
            turns = effect(what, speed, *roles[type(part)])
            if isinstance(part, Wiper):
                return (turns, effect("park", 1.0, "31b-31", mark="arm"))
            return (turns,)
        case Load():
            what = "sound" if isinstance(part, Horn) else "pull"
            return (effect(what, part.rated_voltage),)
        case Flasher():
            return (effect("flash", part.rated_current, "49-49a"),)
        case _:
            return ()
