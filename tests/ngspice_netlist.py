"""A vehicle as a circuit for ngspice, written from the parts.

So that it can referee the solver, it is written from the parts and from the formulas
that the docstrings of the laws publish, and shares no code with the network. It decides
nothing: which relays are pulled in, which fuses have melted, which modules are awake
and what an alternator makes up for is told to it.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from ohmwork.parts import (
    LAMP_TYPES,
    Alternator,
    Battery,
    Breaker,
    Chafe,
    Connector,
    Engine,
    Flasher,
    Fuse,
    GroundPoint,
    Heater,
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
from ohmwork.vehicle import Vehicle

HOT_OVER_COLD = 4.8 / 0.350
"""Of a tungsten filament, OpenStax *University Physics* vol. 2, worked example. [-]"""

SEAT = 1e-3
"""Of the second blade of a plugged fuse, which no fault touches. [Ω]"""


@dataclass(frozen=True, slots=True)
class Resistor:
    """A resistance between two places; an infinite one is an open path."""

    a: str
    b: str
    ohms: float

    @property
    def conducts(self) -> bool:
        """Whether it joins its places."""
        return math.isfinite(self.ohms)

    @property
    def holds(self) -> bool:
        """Whether it holds a place that nothing else holds."""
        return self.conducts


@dataclass(frozen=True, slots=True)
class Bent:
    """A current from a to b that depends on the voltage between them."""

    a: str
    b: str
    formula: str
    """With ``{v}`` for the voltage and ``{0}``, ``{1}`` ... for the numbers."""
    numbers: tuple[float, ...]
    """The first is a factor of the whole: where it is zero, the path is open."""

    @property
    def conducts(self) -> bool:
        """Whether it joins its places."""
        return self.numbers[0] != 0.0

    @property
    def holds(self) -> bool:
        """Whether it holds a place that nothing else holds.

        What a blocked diode or a dark LED lets through is lost where ngspice rounds the
        sums of its matrix.
        """
        if self.formula is THRESHOLD:
            return self.numbers[0] > 1e-2
        return self.conducts and self.formula is not DIODE


Element: TypeAlias = Resistor | Bent
Key: TypeAlias = tuple[str, str, str, str]
"""Owner, role and both places of an element."""

Circuit: TypeAlias = dict[Key, Element]


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """All that opens, closes and regulates, as it is told."""

    controls: Mapping[str, str]
    """Position of each control; one not named rests in its first."""
    on: frozenset[str] = frozenset()
    """Relays pulled in, modules awake (``A1 awake``), inputs that are on (``A1:4``)."""
    blown: frozenset[str] = frozenset()
    """Fuses that have melted; pins that are dead or shut off (``A1:5``)."""
    made_up: Mapping[str, float] = field(default_factory=dict)
    """What an alternator adds to its voltage for the place that it senses. [V]"""
    expected: Mapping[str, float] = field(default_factory=dict)
    """Voltage of places as it is expected, for the laws in `BOUND`. [V]"""
    within: float = 2e-3
    """How near the answer must be to that: volts, and share of the volts. [-]"""


# The laws
# --------

FILAMENT = "{0}*{v}*pow(1+({v}/{1})*({v}/{1}),-{2})"
"""Cold conductance, knee, bend."""

DIODE = "{0}*1e-13*(exp(min({v},0.8)/0.026)*(1+max({v}-0.8,0)/0.026)-1)"
"""Shockley's law, above 0.8 V going on as its tangent; 0.6 V at about 1 mA."""

THRESHOLD = (
    "{0}*(0.05*(max(({v}-{1})/0.05,0)+ln(1+exp(-abs(({v}-{1})/0.05))))+1e-8*{v})"
)
"""Conductance, threshold: ``w ln(1 + exp((v - threshold)/w))`` and a leak, written so
that nothing overflows."""

_EXPECTED = "min(max({v},%s),%s)"
"""Voltage, kept where the answer is expected: at least and at most.

Beyond, a law is left for a steep line. On the flat parts on both sides of a bend
Newton's method swings to and fro for ever; the line sends it back. An answer between
the two is the answer of the law itself.
"""

MOTOR = "{0}*({w}*({2}+(1-{2})/sqrt(1+({w}/{1})*({w}/{1})))+{v}-{w})".replace(
    "{w}", _EXPECTED % ("{3}", "{4}")
)
"""Conductance of the winding, knee of the friction, slip; where it is expected."""

BATTERY = "{0}*(min({v}-{1},0)+max({v}-{1},0)*({2}+(1-{2})/(1+max({v}-{1},0)/0.025)))"
"""Conductance when giving, rested voltage, share of that conductance when taking."""

PULLED = "{0}*({v}-{1})"
"""Conductance, voltage."""

LIMITED = (
    "-0.5*{0}*{2}*(sqrt(({1}-{w})*({1}-{w})/({2}*{2})+0.0025)"
    "-sqrt((({1}-{w})/{2}-1)*(({1}-{w})/{2}-1)+0.0025)"
    "+sqrt(1.0025)-0.05)-0.3*{0}*{2}/{1}*({1}-{w})+{0}*({v}-{w})"
).replace("{w}", _EXPECTED % ("{3}", "{4}"))
"""Conductance of the droop, voltage, droop down to the limit; where it is expected.

What it gives is rounded over a twentieth of the limit, and 0.3 of the limit more when
shorted.
"""

BOUND = (MOTOR, LIMITED)
"""Laws that hold only where they are expected, their last two numbers."""


def filament(volts: float, watts: float) -> tuple[float, ...]:
    """Return the numbers of a lamp that takes `watts` at `volts`.

    The power 0.55 of voltage when hot (*Standard Handbook for Electrical Engineers*,
    11th ed., p. 22-8, as cited at second hand), a fixed cold resistance near nothing.
    """
    return warming(volts, watts / volts, HOT_OVER_COLD, 0.225)


def warming(
    volts: float, amps: float, hot_over_cold: float, bend: float
) -> tuple[float, ...]:
    """Return the numbers of what takes `amps` at `volts` when warm."""
    knee = volts / math.sqrt(hot_over_cold ** (1.0 / bend) - 1.0)
    return hot_over_cold * amps / volts, knee, bend


def motor(
    volts: float, amps: float, stall_amps: float, failure: str
) -> tuple[float, ...]:
    """Return the numbers of a motor; half its rated current overcomes friction.

    Worn, its friction and the resistance of its brushes are three times a new one's.
    """
    winding = stall_amps / volts
    knee = amps / 2.0 / winding
    friction = 1.0 / math.hypot(1.0, volts / knee)
    slip = (amps / stall_amps - friction) / (1.0 - friction)
    match failure:
        case "open":
            return 0.0, knee, slip
        case "shorted":
            return winding / 0.03, knee, slip
        case "seized":
            return winding, knee, 1.0
        case "worn":
            return winding / 3.0, knee * 9.0, slip
        case _:
            return winding, knee, slip


# From parts to elements
# ----------------------


def circuit_of(
    vehicle: Vehicle, state: State, parts: Iterable[Part] | None = None
) -> Circuit:
    """Return the elements of a vehicle in a state, or of some of its parts."""
    writer = _Writer(vehicle, state)
    for part in vehicle.parts.values() if parts is None else parts:
        writer.write(part)
    return writer.circuit


class _Writer:
    """Writes part after part in one state."""

    def __init__(self, vehicle: Vehicle, state: State) -> None:
        self.vehicle, self.state = vehicle, state
        self.name = ""
        self.circuit: Circuit = {}

    def place(self, mark: str) -> str:
        """Return a place of the part being written."""
        return f"{self.name}:{mark}"

    def ohms(
        self, role: str, a: str, b: str, ohms: float, only_if: bool = True
    ) -> None:
        """Write a resistance, or an open path unless something holds."""
        there = ohms if only_if else math.inf
        self.circuit[self.name, role, a, b] = Resistor(a, b, there)

    def bent(
        self,
        role: str,
        a: str,
        b: str,
        formula: str,
        numbers: tuple[float, ...],
        only_if: bool = True,
    ) -> None:
        """Write a bent law, or an open path unless something holds."""
        if not only_if:
            numbers = (0.0, *numbers[1:])
        self.circuit[self.name, role, a, b] = Bent(a, b, formula, numbers)

    def bound(
        self,
        role: str,
        a: str,
        b: str,
        formula: str,
        numbers: tuple[float, ...],
        only_if: bool = True,
    ) -> None:
        """Write a law that holds where it is expected."""
        volts = self.state.expected[a] - self.state.expected[b]
        reach = self.state.within * (1.0 + abs(volts))
        low, high = round(volts - reach, 6), round(volts + reach, 6)
        self.bent(role, a, b, formula, (*numbers, low, high), only_if)

    def is_on(self, what: str = "") -> bool:
        """Whether the part, or something of it, is on."""
        return self.name + what in self.state.on

    def is_whole(self, what: str = "") -> bool:
        """Whether the part, or something of it, has not melted."""
        return self.name + what not in self.state.blown

    def stands(self, control: str) -> str:
        """Return a control's position; an engine turns only if all it needs is set."""
        part = self.vehicle.control(control)
        if isinstance(part, Engine):
            for name, allowed in part.needs:
                if self.stands(name) not in allowed:
                    return part.positions[0]
        return self.state.controls.get(control, part.positions[0])

    def write(self, part: Part) -> None:
        """Write one part."""
        self.name = name = part.name
        at = self.place
        numbers: tuple[float, ...]
        match part:
            case Battery():
                accepts = 0.02 + 0.2 * (1.0 - part.state_of_charge / 100.0)
                numbers = 1.0 / part.resistance, part.rested_voltage, accepts
                self.bent("", at("+"), at("-"), BATTERY, numbers)
            case Wire() | Chafe():
                end = part.end
                if isinstance(part, Wire) and part.worn_resistance:
                    end = f"{name} worn"
                    self.worn("worn", end, part.end, part.worn_resistance)
                self.ohms("", part.start, end, part.resistance)
            case GroundPoint():
                self.ohms("", at("31"), part.body, part.resistance)
            case Connector():
                added, worn = dict(part.added_resistance), dict(part.worn_resistance)
                for way in part.ways:
                    end = at(f"{way}p")
                    if way in worn:
                        end = f"{name} worn {way}"
                        self.worn(f"worn {way}", end, at(f"{way}p"), worn[way])
                    ohms = part.contact_resistance + added.get(way, 0.0)
                    self.ohms(way, at(way), end, ohms)
            case Fuse():
                self.fuse(part)
            case Switch():
                position = self.stands(name)
                for c in part.contacts:
                    closed = c.is_stuck or position in c.closed_in
                    self.ohms(c.name, at(c.start), at(c.end), c.resistance, closed)
            case Relay():
                self.relay(part)
            case Lamp():
                supply, ground = part.sockets
                lamp = LAMP_TYPES[part.type]
                numbers = filament(lamp.test_voltage, lamp.test_power)
                self.bent("", supply, ground, FILAMENT, numbers, not part.blown)
            case TwinLamp():
                lamp = LAMP_TYPES[part.type]
                for mark, watts in (
                    (part.main, lamp.test_power),
                    (part.second, lamp.second_power),
                ):
                    numbers = filament(lamp.test_voltage, watts)
                    whole = mark not in part.blown
                    self.bent(mark, at(mark), at(part.ground), FILAMENT, numbers, whole)
            case Load():
                self.load(part)
            case Starter():
                self.ohms("coil", at("50"), at("31"), part.coil_resistance)
                brushes = f"{name} brushes"
                contact = part.contact_resistance
                self.ohms("contact", at("30"), brushes, contact, self.is_on())
                volts, amps = part.rated_voltage, part.rated_current
                numbers = motor(volts, amps, part.stall_current, part.failure)
                self.bound("motor", brushes, at("31"), MOTOR, numbers)
            case Alternator():
                self.alternator(part)
            case Wiper():
                for mark, more in (("53", 1.0), ("53b", 1.4)):
                    amps, stall = more * part.rated_current, more * part.stall_current
                    numbers = motor(part.rated_voltage, amps, stall, part.failure)
                    self.bound(mark, at(mark), at("31"), MOTOR, numbers)
                ohms, away = part.contact_resistance, self.is_on()
                self.ohms("parked", at("31b"), at("31"), ohms, not away)
                self.ohms("away", at("53a"), at("31b"), ohms, away)
            case ResistorPack():
                for step, ohms in part.steps:
                    start, _, end = step.partition("-")
                    whole = step not in part.open_steps
                    self.ohms(step, at(start), at(end), ohms, whole)
            case Thermistor():
                ohms = 1.0 if part.failure == "shorted" else part.present_resistance
                self.ohms("", at("1"), at("2"), ohms, part.failure != "open")
            case Potentiometer():
                stuck = part.failure == "stuck"
                position = part.positions[0] if stuck else self.stands(name)
                share = dict(part.stands)[position] / 100.0
                slider, track = f"{name} slider", part.resistance
                self.ohms("upper", at("1"), slider, (1.0 - share) * track)
                self.ohms("lower", slider, at("3"), share * track)
                whole = part.failure != "open"
                self.ohms("slider", slider, at("2"), 0.02 * track, whole)
            case Flasher():
                self.ohms("electronics", at("49"), at("31"), 1e3)
                lit = self.is_on() and part.failure != "open"
                self.ohms("contact", at("49"), at("49a"), part.contact_resistance, lit)
            case Module():
                self.module(part)

    def worn(self, role: str, a: str, b: str, cold: float) -> None:
        """Write a worn stretch: it warms from 20 mV on as a filament does."""
        self.bent(role, a, b, FILAMENT, (1.0 / cold, 0.02, 0.225))

    def fuse(self, part: Fuse) -> None:
        """Write the blades' seats, the link, and a breaker's heater of 1 kΩ."""
        at, pin = self.place, "p" if part.plugs_in else ""
        one, two = at(f"1{pin}"), at(f"2{pin}")
        whole = self.is_whole() and not part.blown
        self.ohms("", one, two, part.resistance, whole)
        if isinstance(part, Breaker):
            self.ohms("heater", one, two, 1e3, math.isfinite(part.resistance))
        if part.plugs_in:
            self.ohms("seat 1", at("1"), one, part.seat_resistance)
            self.ohms("seat 2", at("2"), two, SEAT)

    def relay(self, part: Relay) -> None:
        """Write seats, coil, suppression and contacts."""
        at = self.place
        for socket in part.sockets:
            self.ohms(f"seat {socket}", socket, f"{socket}p", part.seat_resistance)
        # Copper: 0.393 % for each kelvin from 20 °C (NBS Handbook 100).
        warm = 1.0 + 0.00393 * (part.temperature_celsius - 20.0)
        self.ohms("coil", at("86p"), at("85p"), part.coil_resistance * warm)
        made = part.is_welded or self.is_on()
        self.ohms("make", at("30p"), at("87p"), part.contact_resistance, made)
        if part.changeover:
            self.ohms("rest", at("30p"), at("87ap"), part.contact_resistance, not made)
        if part.suppression_diode:
            cathode, anode = ("85", "86") if part.diode_reversed else ("86", "85")
            self.bent("diode", at(f"{anode}p"), at(f"{cathode}p"), DIODE, (1.0,))
        if part.suppression_resistor is not None:
            ohms = part.suppression_resistor
            self.ohms("suppression", at("86p"), at("85p"), ohms)

    def load(self, part: Load) -> None:
        """Write a part with two terminals that does something with current."""
        supply, ground = part.sockets
        volts, amps, failure = part.rated_voltage, part.rated_current, part.failure
        share = {"open": 0.0, "shorted": 1.0 / 0.03}.get(failure, 1.0)
        match part:
            case Motor():
                numbers = motor(volts, amps, part.stall_current, failure)
                self.bound("", supply, ground, MOTOR, numbers)
            case Led():
                starts = part.forward_voltage
                numbers = share * amps / (volts - starts), starts
                self.bent("", supply, ground, THRESHOLD, numbers)
            case Heater() if part.self_limiting:
                cold, *more = warming(volts, amps, 3.0, 0.45)
                self.bent("", supply, ground, FILAMENT, (share * cold, *more))
            case _:
                ohms = volts / amps / share if share else math.inf
                self.ohms("", supply, ground, ohms)

    def alternator(self, part: Alternator) -> None:
        """Write the output at the engine's speed, the lamp's terminal and the sense.

        From no load to its limit it loses 0.4 V; charging, D+ is joined to B+.
        """
        at, name = self.place, self.name
        limit = dict(part.output).get(self.stands(part.engine))
        charges = limit is not None and self.is_on() and part.failure != "no_charge"
        volts = part.regulated_voltage * (1.1 if part.failure == "overcharge" else 1.0)
        volts += self.state.made_up.get(name, 0.0)
        numbers = (limit or 0.0) / 0.4, volts, 0.4
        self.bound("output", at("B+"), at("31"), LIMITED, numbers, charges)
        self.ohms("lamp", at("D+"), at("31"), part.lamp_resistance, not charges)
        self.ohms("charging", at("D+"), at("B+"), 1.0, charges)
        if part.sense:
            self.ohms("sense", at("S"), at("31"), 2e3)

    def module(self, part: Module) -> None:
        """Write a module's own consumption and its pins."""
        at, volts = self.place, part.rated_voltage
        supply, wake, ground = at(part.supply), at(part.wake), at(part.ground)
        awake = part.stays_awake or self.is_on(" awake")
        self.ohms("asleep", supply, ground, volts / part.sleep_current)
        more = part.awake_current - part.sleep_current
        self.ohms("awake", supply, ground, volts / more, awake)
        if wake != supply:
            self.ohms("wake", wake, ground, 10e3)
        for pin in part.pin_table:
            self.pin(part, pin, works=awake and self.is_on(" supplied"))

    def pin(self, part: Module, pin: ModulePin, *, works: bool) -> None:
        """Write one pin: what it is joined to inside, and the clamp of one that dies.

        A pin that bears less than 30 V has a clamp, which goes with it when it dies.
        """
        at, name = self.place, pin.name
        numbers: tuple[float, ...]
        here, supply, ground = at(name), at(part.supply), at(part.ground)
        dead = name in part.dead_pins
        mortal = pin.does not in ("reference", "input") or pin.bears < 30.0
        whole = self.is_whole(f":{name}") or not mortal
        if pin.does in ("reference", "input"):
            self.ohms(name, here, ground, 100e6)
            if mortal:
                self.bent(
                    f"{name} clamp", here, ground, THRESHOLD, (1.0, pin.bears), whole
                )
        match pin.does:
            case "reference":
                numbers = pin.limit / 0.05, pin.voltage, 0.05
                there = works and whole and not dead
                self.bound(f"{name} supply", here, ground, LIMITED, numbers, there)
            case "low_reference":
                self.ohms(name, here, ground, 0.02, whole and not dead)
            case "input" if pin.pulled_up_to is not None:
                numbers = 1.0 / pin.through, pin.pulled_up_to
                there = works and whole and not dead
                self.bent(f"{name} pull", here, ground, PULLED, numbers, there)
            case "input":
                end = supply if pin.on_when == "low" else ground
                self.ohms(f"{name} pull", here, end, pin.through, whole and not dead)
            case "high_side" | "low_side":
                turned_on = not pin.when or self.is_on(f":{pin.when}")
                ends = (supply, here) if pin.does == "high_side" else (here, ground)
                through = works and turned_on and whole and not dead
                self.ohms(name, *ends, pin.resistance, through)
                self.ohms(f"{name} feeler", supply, here, 50e3, works)


# What turns on and off, and what opens
# -------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """What a thing that is on or off goes by."""

    name: str
    across: tuple[tuple[str, str], ...]
    """Pairs of places; the largest of their voltages counts."""
    makes: float
    """Off, it sees less. [V]"""
    drops: float
    """On, it sees more. [V]"""
    either_way: bool = False
    parks: tuple[str, str] | None = None
    """Feed and park switch of a wiper: what is between them parks it, once nothing else
    drives it."""
    feels: bool = True
    """Whether its coil is whole, its pin alive; otherwise it sees nothing."""


def watches_of(part: Part) -> Iterator[Watch]:
    """Give what of one part is on or off by voltage."""
    name = part.name

    def across(a: str, b: str) -> tuple[tuple[str, str], ...]:
        return ((f"{name}:{a}", f"{name}:{b}"),)

    match part:
        case Relay():
            warm = 1.0 + 0.00393 * (part.temperature_celsius - 20.0)
            yield Watch(
                name=name,
                across=across("86p", "85p"),
                makes=part.pull_in * warm,
                drops=part.drop_out * warm,
                either_way=True,
                feels=math.isfinite(part.coil_resistance),
            )
        case Starter():
            makes, drops = part.pull_in, part.drop_out
            pair = across("50", "31")
            yield Watch(name=name, across=pair, makes=makes, drops=drops)
        case Alternator():
            yield Watch(name=name, across=across("D+", "31"), makes=1.0, drops=0.5)
        case Flasher():
            yield Watch(name=name, across=across("49", "31"), makes=6.0, drops=4.2)
        case Wiper():
            yield Watch(
                name=name,
                across=across("53", "31") + across("53b", "31"),
                makes=0.3 * part.rated_voltage,
                drops=-math.inf,
                parks=(f"{name}:53a", f"{name}:31b"),
            )
        case Module():
            works = part.works_from
            for what, mark in (("supplied", part.supply), ("awake", part.wake)):
                pair = across(mark, part.ground)
                yield Watch(
                    name=f"{name} {what}", across=pair, makes=works, drops=0.8 * works
                )
            for pin in part.pin_table:
                if pin.does == "input":
                    ends = (pin.name, part.ground)
                    if pin.on_when == "low":
                        ends = (part.supply, pin.name)
                    full = pin.pulled_up_to or part.rated_voltage
                    yield Watch(
                        name=f"{name}:{pin.name}",
                        across=across(*ends),
                        makes=0.6 * full,
                        drops=0.4 * full,
                        feels=pin.name not in part.dead_pins,
                    )
        case _:
            pass


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """What opens by too much current."""

    name: str
    key: Key
    """Of the element whose current counts."""
    carries: float
    """What it carries for good: 1.1 times its rating (ISO 8820-3, from memory). [A]"""
    closes_again: bool = False
    """Once less than 1 V is across it, or nothing asks for it."""


def guards_of(part: Part) -> Iterator[Guard]:
    """Give what of one part opens by current."""
    name = part.name
    match part:
        case Fuse():
            side = "p" if part.plugs_in else ""
            yield Guard(
                name=name,
                key=(name, "", f"{name}:1{side}", f"{name}:2{side}"),
                carries=1.1 * part.rating,
                closes_again=isinstance(part, Breaker),
            )
        case Module():
            ground, supply = f"{name}:{part.ground}", f"{name}:{part.supply}"
            for pin in part.pin_table:
                here = f"{name}:{pin.name}"
                role, ends, rating = pin.name, (here, ground), pin.limit
                match pin.does:
                    case "reference" | "input" if pin.bears < 30.0:
                        # 50 mA through its clamp kill it.
                        role, rating = f"{pin.name} clamp", 0.05
                    case "reference" | "input":
                        continue
                    case "low_reference":
                        rating = 2.0
                    case "high_side":
                        ends = (supply, here)
                yield Guard(
                    name=here,
                    key=(name, role, *ends),
                    carries=1.1 * rating,
                    closes_again=pin.does in ("high_side", "low_side"),
                )
        case _:
            pass


def current_in(element: Element | None, volts: float) -> float:
    """Return the current of what guards a circuit: a resistor or a clamp. [A]"""
    if element is None or not element.conducts:
        return 0.0
    if isinstance(element, Resistor):
        return volts / element.ohms
    conductance, starts = element.numbers
    x = (volts - starts) / 0.05
    return conductance * 0.05 * (max(x, 0.0) + math.log1p(math.exp(-abs(x))))
