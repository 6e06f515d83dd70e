"""The parts a vehicle is made of, as values.

A part says what it is and how big; it does not compute. How current flows in it is
in `ohmwork.network`, what can go wrong with it in `ohmwork.faults`.

A place is ``Part:terminal``. Parts that plug in (connectors, blade fuses, relays)
have two sides: ``X12:3`` is the socket in the harness, ``X12:3p`` the pin that goes
into it. Infinite resistance stands for an open path.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, ClassVar, TypeAlias

from ohmwork.errors import VehicleError

COPPER_RESISTIVITY = 0.017241
"""Standard annealed copper at 20 °C. [Ω·mm²/m] NBS Handbook 100 (58 S·m/mm²)."""

COPPER_TEMPERATURE_COEFFICIENT = 0.00393
"""Of 100 % IACS copper at 20 °C. [1/K] NBS Handbook 100."""

COPPER_TEMPERATURES = (-60.0, 250.0)
"""Where that coefficient is taken to hold, as on any vehicle cable. [°C] Assumed."""

MATERIALS = {
    "copper": (COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT),
    "aluminium": (0.028264, 0.00403),
}
"""Resistivity at 20 °C [Ω·mm²/m] and its coefficient [1/K]. Aluminium of 61 % IACS:
*Industrial Power Engineering and Applications Handbook*, p. 970 (61 %, 0.00403)."""

STRANDING = 1.08
"""Resistance of a stranded vehicle cable over that of solid copper. [-]

Assumed: twisted strands are longer than the cable. IEC 60228 class 5 maxima lie 1.11 to
1.16 times over solid copper (values from memory); a good cable stays below.
"""

SOUND_SEAT = 1e-3
"""Contact resistance of a clean blade or pin in its socket. [Ω] Assumed."""

COLOURS = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow",
    "GN": "green", "BU": "blue", "VT": "violet", "GY": "grey", "WH": "white",
    "PK": "pink", "GD": "gold", "TQ": "turquoise", "SR": "silver",
}  # fmt: skip
"""Colour codes of IEC 60757; a stripe follows the base after a slash."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LampType:
    """What a filament lamp of one category takes when new."""

    test_voltage: float
    """[V]"""
    test_power: float
    """Objective power at test voltage; of the main filament where there are two. [W]"""
    second_power: float = 0.0
    """The same of the second filament; 0 where there is one alone. [W]"""


LAMP_TYPES = {
    f"{category} {volts} V": LampType(
        test_voltage=test_voltage, test_power=power, second_power=second
    )
    for category, volts, test_voltage, power, second in (
        ("H1", 12, 13.2, 68.0, 0.0), ("H1", 24, 28.0, 84.0, 0.0),
        ("H3", 12, 13.2, 68.0, 0.0), ("H3", 24, 28.0, 84.0, 0.0),
        ("H4", 12, 13.2, 75.0, 68.0), ("H4", 24, 28.0, 85.0, 80.0),
        ("H7", 12, 13.2, 58.0, 0.0), ("H7", 24, 28.0, 75.0, 0.0),
        ("P21W", 12, 13.5, 26.5, 0.0), ("P21W", 24, 28.0, 29.7, 0.0),
        ("P21/5W", 12, 13.5, 26.5, 6.6), ("P21/5W", 24, 28.0, 29.7, 11.0),
        ("R10W", 12, 13.5, 11.0, 0.0), ("R10W", 24, 28.0, 14.0, 0.0),
        ("R5W", 12, 13.5, 5.5, 0.0), ("R5W", 24, 28.0, 7.7, 0.0),
        ("W5W", 12, 13.5, 5.5, 0.0), ("W5W", 24, 28.0, 7.7, 0.0),
        ("C5W", 12, 13.5, 5.5, 0.0), ("C5W", 24, 28.0, 7.7, 0.0),
        ("T4W", 12, 13.5, 4.4, 0.0), ("T4W", 24, 28.0, 5.5, 0.0),
    )
}  # fmt: skip
"""UN Regulation 37 categories; values from memory."""

RESTED_SCALE = ((0.0, 11.7), (25.0, 12.0), (50.0, 12.2), (75.0, 12.4), (100.0, 12.6))
"""State of charge [%] to rested voltage [V] of a 12 V battery: US Army
TM 5-3805-262-20."""

CELL_VOLTAGE = 2.1
"""Of one charged lead-acid cell. [V] A sixth of 12.6 V."""


def quantity(unit: str, default: Any = ..., *, may_be_zero: bool = False) -> Any:
    """Return a dataclass field that a vehicle file writes as a number with a unit."""
    return _field(default, {"unit": unit, "may_be_zero": may_be_zero})


def table(of: str | type[Any], default: Any = ...) -> Any:
    """Return a field that a vehicle file writes as a table: name to value.

    Parameters
    ----------
    of : unit of quantities; ``"list"`` for lists of words; or a dataclass for entries.
    """
    return _field(default, {"table": of})


def condition(default: Any) -> Any:
    """Return a field that only a fault sets: it stands in no vehicle file."""
    return _field(default, {"condition": True})


def _field(default: Any, metadata: dict[str, Any]) -> Any:
    if default is ...:
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Anything with a name in a vehicle."""

    kind: ClassVar[str] = "part"
    plugs_in: ClassVar[bool] = False

    name: str
    label: str = ""

    def __post_init__(self) -> None:
        """Refuse values the model cannot hold."""
        for item in self.__dataclass_fields__.values():
            if "unit" not in item.metadata:
                continue
            value, unit = getattr(self, item.name), item.metadata["unit"]
            if unit == "°C" or value is None:
                continue
            if unit == "%" and not 0.0 <= value <= 100.0:
                raise VehicleError(
                    f"{self.name}: {item.name} is {value:g} %. Allowed are 0 to 100 %."
                )
            enough = value >= 0.0 if item.metadata["may_be_zero"] else value > 0.0
            if not enough or math.isnan(value):
                least = "not be negative" if value < 0.0 else "be above 0"
                raise VehicleError(
                    f"{self.name}: {item.name} is {value:g} {unit}; it must {least}."
                )
        for place in self.places:
            if self.places.count(place) > 1:
                raise VehicleError(
                    f"{self.name}: '{place}' names two places. Give each its own name."
                )

    @property
    def sockets(self) -> tuple[str, ...]:
        """Places where wires arrive."""
        return ()

    @property
    def pins(self) -> tuple[str, ...]:
        """Places on the far side of a part that plugs in, in the order of sockets."""
        return tuple(f"{s}p" for s in self.sockets) if self.plugs_in else ()

    @property
    def places(self) -> tuple[str, ...]:
        """Every place of this part."""
        return self.sockets + self.pins


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery(Part):
    """A lead-acid battery."""

    kind: ClassVar[str] = "battery"

    open_circuit_voltage: float = quantity("V")
    """Charged and rested. [V]"""
    internal_resistance: float = quantity("Ω")
    """New, charged, at 25 °C. [Ω]"""
    state_of_charge: float = quantity("%", 100.0, may_be_zero=True)
    temperature_celsius: float = quantity("°C", 25.0)
    age: float = quantity("%", 0.0, may_be_zero=True)
    """Share of its life that is over. [%]"""
    dead_cells: int = condition(0)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Plus and minus post."""
        return (f"{self.name}:+", f"{self.name}:-")

    @property
    def rested_voltage(self) -> float:
        """Voltage with no current in its present state. [V]

        The scale of US Army TM 5-3805-262-20, moved to this battery's charged voltage;
        a dead cell gives nothing.
        """
        top = RESTED_SCALE[-1][1]
        for (low, at_low), (high, at_high) in pairwise(RESTED_SCALE):
            if self.state_of_charge <= high:
                share = (self.state_of_charge - low) / (high - low)
                lost = top - at_low - share * (at_high - at_low)
                break
        return self.open_circuit_voltage - lost - CELL_VOLTAGE * self.dead_cells

    @property
    def resistance(self) -> float:
        """Internal resistance in its present state. [Ω]

        Doubled when empty, four times at the end of life, 1.3 % more for each kelvin
        below 25 °C: all assumed.
        """
        charge, age = self.state_of_charge / 100.0, self.age / 100.0
        cold = math.exp(0.013 * (25.0 - self.temperature_celsius))
        return self.internal_resistance * (2.0 - charge) * (1.0 + 3.0 * age) * cold


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine(Part):
    """The engine as a control: at rest in its first position, turning in the others."""

    kind: ClassVar[str] = "engine"

    positions: tuple[str, ...]
    needs: tuple[tuple[str, tuple[str, ...]], ...] = table("list", ())
    """Controls, each with the positions without which the engine stands still."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Starter(Part):
    """A starter motor with its solenoid switch."""

    kind: ClassVar[str] = "starter"

    rated_voltage: float = quantity("V")
    rated_current: float = quantity("A")
    """Cranking. [A]"""
    stall_current: float = quantity("A")
    coil_resistance: float = quantity("Ω")
    pull_in: float = quantity("V")
    drop_out: float = quantity("V")
    contact_resistance: float = quantity("Ω", 3e-4)
    failure: str = condition("")
    """``worn`` or ``seized``, or none."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Battery, solenoid and case, DIN 72552."""
        return tuple(f"{self.name}:{mark}" for mark in ("30", "50", "31"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternator(Part):
    """An alternator with its regulator."""

    kind: ClassVar[str] = "alternator"

    engine: str
    """Name of the engine that turns it."""
    output: tuple[tuple[str, float], ...] = table("A")
    """Most current in each position in which the engine turns. [A]"""
    regulated_voltage: float = quantity("V")
    sense: bool = False
    """Whether it regulates the voltage at a terminal S of its own."""
    lamp_resistance: float = quantity("Ω", 60.0)
    """From D+ to ground while it does not charge. [Ω] Assumed."""
    failure: str = condition("")
    """``no_charge`` or ``overcharge``, or none."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Output, charge lamp, case and sense, DIN 72552."""
        marks = ("B+", "D+", "31", *(("S",) if self.sense else ()))
        return tuple(f"{self.name}:{mark}" for mark in marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Body(Part):
    """The sheet metal, taken as one place."""

    kind: ClassVar[str] = "body"

    @property
    def sockets(self) -> tuple[str, ...]:
        """The one place."""
        return (f"{self.name}:31",)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundPoint(Part):
    """A bolt that joins ring terminals to the body."""

    kind: ClassVar[str] = "ground_point"

    body: str = "Body:31"
    resistance: float = quantity("Ω", 1e-3)

    @property
    def sockets(self) -> tuple[str, ...]:
        """The bolt."""
        return (f"{self.name}:31",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice(Part):
    """A joint of several wires inside the loom, out of reach."""

    kind: ClassVar[str] = "splice"

    @property
    def sockets(self) -> tuple[str, ...]:
        """The joint."""
        return (f"{self.name}:1",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire(Part):
    """A cable between two places."""

    kind: ClassVar[str] = "wire"

    start: str
    end: str
    colour: str
    area_mm2: float = quantity("mm2")
    length: float = quantity("m")
    temperature_celsius: float = quantity("°C", 20.0)
    material: str = "copper"
    strands_lost: float = quantity("%", 0.0, may_be_zero=True)
    """Share of its strands that are broken or eaten away. [%]"""
    added_resistance: float = condition(0.0)
    """[Ω]"""
    worn_resistance: float = condition(0.0)
    """Of a worn stretch when cold; it resists more as it warms. [Ω]"""

    def __post_init__(self) -> None:
        """Check material, temperature and colour code as well."""
        Part.__post_init__(self)
        if self.material not in MATERIALS:
            raise VehicleError(
                f"{self.name}: material '{self.material}' is unknown. "
                f"Allowed are {', '.join(MATERIALS)}."
            )
        if self.strands_lost == 100.0:
            raise VehicleError(f"{self.name}: a wire with no strands is no wire.")
        coldest, hottest = COPPER_TEMPERATURES
        if not coldest <= self.temperature_celsius <= hottest:
            raise VehicleError(
                f"{self.name}: temperature is {self.temperature_celsius:g} °C. "
                f"Allowed are {coldest:g} to {hottest:g} °C."
            )
        codes = self.colour.split("/")
        for code in codes:
            if self.colour != "GNYE" and (code not in COLOURS or len(codes) > 2):
                raise VehicleError(
                    f"{self.name}: colour '{self.colour}' is no IEC 60757 code. "
                    f"Allowed are {', '.join(COLOURS)}, and two joined by '/'."
                )

    @property
    def code(self) -> str:
        """Colour and size as printed beside a wire, such as ``BN 0.75``."""
        return f"{self.colour} {self.area_mm2:g}"

    @property
    def resistance(self) -> float:
        """Resistance from end to end at the wire's own temperature. [Ω]"""
        resistivity, coefficient = MATERIALS[self.material]
        warm = 1.0 + coefficient * (self.temperature_celsius - 20.0)
        left = self.area_mm2 * (1.0 - self.strands_lost / 100.0)
        return (
            resistivity / left * STRANDING * warm * self.length + self.added_resistance
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Connector(Part):
    """An in-line connector with numbered ways."""

    kind: ClassVar[str] = "connector"
    plugs_in: ClassVar[bool] = True

    ways: tuple[str, ...]
    contact_resistance: float = quantity("Ω", 2e-3)
    added_resistance: tuple[tuple[str, float], ...] = condition(())
    """What single ways have on top of the contact resistance. [Ω]"""
    worn_resistance: tuple[tuple[str, float], ...] = condition(())
    """What single ways have besides when cold; it grows as they warm. [Ω]"""

    @property
    def sockets(self) -> tuple[str, ...]:
        """The harness side of each way."""
        return tuple(f"{self.name}:{way}" for way in self.ways)

    def way_resistance(self, way: str) -> float:
        """Resistance of one way when the connector is joined. [Ω]"""
        return self.contact_resistance + dict(self.added_resistance).get(way, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse(Part):
    """A blade fuse in its seat."""

    kind: ClassVar[str] = "fuse"
    plugs_in: ClassVar[bool] = True

    rating: float = quantity("A")
    resistance: float = quantity("Ω")
    seat_resistance: float = quantity("Ω", SOUND_SEAT)
    thermal_time: float = quantity("s", 1.0)
    """Time constant of the link's heating. [s] See `ohmwork.network.fuses`."""
    blown: bool = condition(default=False)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Both sides of the seat."""
        return (f"{self.name}:1", f"{self.name}:2")


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseLink(Fuse):
    """A fuse that is bolted in and cannot be pulled by hand."""

    kind: ClassVar[str] = "fuse_link"
    plugs_in: ClassVar[bool] = False

    thermal_time: float = quantity("s", 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaker(Fuse):
    """A self-resetting breaker: it closes again when nothing is across it any more."""

    kind: ClassVar[str] = "breaker"

    thermal_time: float = quantity("s", 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchContact:
    """One contact of a switch."""

    start: str
    end: str
    closed_in: tuple[str, ...]
    resistance: float
    is_stuck: bool = False
    """Closed in every position."""

    @property
    def name(self) -> str:
        """The two terminal marks, such as ``30-58``."""
        return f"{self.start}-{self.end}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A switch with named positions; it rests in the first."""

    kind: ClassVar[str] = "switch"

    positions: tuple[str, ...]
    contacts: tuple[SwitchContact, ...]

    def __post_init__(self) -> None:
        """Refuse contacts that close in no position of this switch."""
        Part.__post_init__(self)
        for contact in self.contacts:
            if contact.start == contact.end:
                raise VehicleError(
                    f"{self.name}: contact {contact.name} must join two terminals."
                )
            for position in contact.closed_in:
                if position not in self.positions:
                    raise VehicleError(
                        f"{self.name}: contact {contact.name} closes in '{position}'. "
                        f"The switch has {', '.join(self.positions)}."
                    )

    @property
    def sockets(self) -> tuple[str, ...]:
        """Every terminal that a contact uses, each once."""
        marks = [mark for c in self.contacts for mark in (c.start, c.end)]
        return tuple(f"{self.name}:{mark}" for mark in dict.fromkeys(marks))


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay(Part):
    """A relay: coil 86-85, contact 30-87 made when pulled in, 30-87a at rest."""

    kind: ClassVar[str] = "relay"
    plugs_in: ClassVar[bool] = True

    coil_resistance: float = quantity("Ω")
    """At 20 °C. [Ω]"""
    pull_in: float = quantity("V")
    drop_out: float = quantity("V")
    """Both at 20 °C; a warm coil needs more. [V]"""
    contact_resistance: float = quantity("Ω", 3e-3)
    seat_resistance: float = quantity("Ω", SOUND_SEAT)
    changeover: bool = False
    suppression_diode: bool = False
    """Across the coil, cathode at 86: feed 85 with plus and it is a short."""
    suppression_resistor: float | None = quantity("Ω", None)
    temperature_celsius: float = quantity("°C", 20.0)
    """Of the coil. [°C]"""
    diode_reversed: bool = condition(default=False)
    is_welded: bool = condition(default=False)
    """Whether 30-87 stays made."""

    def __post_init__(self) -> None:
        """Refuse a relay without hysteresis."""
        Part.__post_init__(self)
        if self.drop_out >= self.pull_in:
            raise VehicleError(
                f"{self.name}: drop_out {self.drop_out:g} V must be below pull_in "
                f"{self.pull_in:g} V, or the relay could never rest."
            )

    @property
    def sockets(self) -> tuple[str, ...]:
        """The terminals, DIN 72552."""
        marks = ("30", "85", "86", "87", *(("87a",) if self.changeover else ()))
        return tuple(f"{self.name}:{mark}" for mark in marks)

    @property
    def warmth(self) -> float:
        """Resistance of the copper coil over that at 20 °C. [-]"""
        return 1.0 + COPPER_TEMPERATURE_COEFFICIENT * (self.temperature_celsius - 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Part):
    """A filament lamp."""

    kind: ClassVar[str] = "lamp"

    supply: str
    """Mark of the supply terminal, DIN 72552."""
    ground: str = "31"
    type: str
    """A name in `LAMP_TYPES`: the lamp that is in the holder."""
    blown: bool = condition(default=False)

    def __post_init__(self) -> None:
        """Refuse a lamp type that is not in the table, or has two filaments."""
        Part.__post_init__(self)
        _check_lamp(self.name, self.type, twin=False)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Supply and ground terminal."""
        return (f"{self.name}:{self.supply}", f"{self.name}:{self.ground}")


@dataclass(frozen=True, slots=True, kw_only=True)
class TwinLamp(Part):
    """A lamp with two filaments and one ground."""

    kind: ClassVar[str] = "twin_lamp"

    main: str
    """Mark of the main filament's supply, DIN 72552."""
    second: str
    ground: str = "31"
    type: str
    blown: tuple[str, ...] = condition(())
    """Marks of the filaments that are blown."""

    def __post_init__(self) -> None:
        """Refuse a lamp type that is not in the table, or has one filament."""
        Part.__post_init__(self)
        _check_lamp(self.name, self.type, twin=True)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Both supply terminals and the ground."""
        return tuple(f"{self.name}:{m}" for m in (self.main, self.second, self.ground))


def _check_lamp(name: str, lamp_type: str, *, twin: bool) -> None:
    """Refuse a lamp type that does not exist or does not fit."""
    allowed = [t for t, lamp in LAMP_TYPES.items() if (lamp.second_power > 0.0) == twin]
    if lamp_type not in allowed:
        raise VehicleError(
            f"{name}: lamp type '{lamp_type}' is unknown here. "
            f"Allowed are {', '.join(allowed)}."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Part):
    """Something with two terminals that uses current to do something."""

    supply: str
    ground: str = "31"
    rated_voltage: float = quantity("V")
    rated_current: float = quantity("A")
    """At rated voltage. [A]"""
    failure: str = condition("")
    """``open`` or ``shorted``; of motors ``worn`` or ``seized`` as well; or none."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Supply and ground terminal."""
        return (f"{self.name}:{self.supply}", f"{self.name}:{self.ground}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Led(Load):
    """A lamp of light-emitting diodes with their resistor."""

    kind: ClassVar[str] = "led"

    forward_voltage: float = quantity("V", 2.0)
    """Of all dies in series. [V]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heater(Load):
    """A heating element."""

    kind: ClassVar[str] = "heater"

    self_limiting: bool = False
    """Made of a material whose resistance rises steeply as it warms."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Horn(Load):
    """A horn or buzzer."""

    kind: ClassVar[str] = "horn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Solenoid(Load):
    """A coil that moves something: a valve, a lock."""

    kind: ClassVar[str] = "solenoid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor(Load):
    """A motor with permanent magnets; fed the other way round it turns back."""

    kind: ClassVar[str] = "motor"

    stall_current: float = quantity("A")
    """At rated voltage, held fast. [A]"""

    def __post_init__(self) -> None:
        """Refuse a motor that takes less when held fast."""
        Part.__post_init__(self)
        _check_stall(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiper(Part):
    """A two-speed wiper motor with its park switch.

    Parked, 31b is joined to 31; away from park it is joined to 53a.
    """

    kind: ClassVar[str] = "wiper"

    rated_voltage: float = quantity("V")
    rated_current: float = quantity("A")
    stall_current: float = quantity("A")
    contact_resistance: float = quantity("Ω", 1e-2)
    failure: str = condition("")

    def __post_init__(self) -> None:
        """Refuse a motor that takes less when held fast."""
        Part.__post_init__(self)
        _check_stall(self)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Slow, fast, park feed, park switch and ground, DIN 72552."""
        marks = ("53", "53b", "53a", "31b", "31")
        return tuple(f"{self.name}:{mark}" for mark in marks)


def _check_stall(part: Motor | Wiper) -> None:
    if part.stall_current <= part.rated_current:
        raise VehicleError(
            f"{part.name}: stall_current {part.stall_current:g} A must be above "
            f"rated_current {part.rated_current:g} A."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistorPack(Part):
    """Resistors between neighbouring terminals, as of a blower."""

    kind: ClassVar[str] = "resistor_pack"

    steps: tuple[tuple[str, float], ...] = table("Ω")
    """Two terminals such as ``1-2``, to the resistance between them. [Ω]"""
    open_steps: tuple[str, ...] = condition(())

    def __post_init__(self) -> None:
        """Refuse a step that does not name two terminals."""
        Part.__post_init__(self)
        for step, _ in self.steps:
            start, dash, end = step.partition("-")
            if not (dash and start and end and start != end):
                raise VehicleError(
                    f"{self.name}: step '{step}' must name two terminals, such as 1-2."
                )

    @property
    def sockets(self) -> tuple[str, ...]:
        """Every terminal that a step uses, each once."""
        marks = [mark for step, _ in self.steps for mark in step.split("-")]
        return tuple(f"{self.name}:{mark}" for mark in dict.fromkeys(marks))


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor(Part):
    """A temperature sensor whose resistance falls as it warms."""

    kind: ClassVar[str] = "thermistor"

    resistance: float = quantity("Ω")
    """At 20 °C. [Ω]"""
    beta: float = quantity("K")
    temperature_celsius: float = quantity("°C", 20.0)
    failure: str = condition("")
    """``open``, ``shorted`` or ``stuck`` (as if cold), or none."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Signal and low reference."""
        return (f"{self.name}:1", f"{self.name}:2")

    @property
    def present_resistance(self) -> float:
        """Resistance at its temperature. [Ω]

        ``R0 exp(B (1/T - 1/T0))``, the textbook's B formula (from memory).
        """
        celsius = -20.0 if self.failure == "stuck" else self.temperature_celsius
        rise = 1.0 / (celsius + 273.15) - 1.0 / 293.15
        return self.resistance * math.exp(self.beta * rise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Potentiometer(Part):
    """A position sensor: reference 1, signal 2, low reference 3."""

    kind: ClassVar[str] = "potentiometer"

    resistance: float = quantity("Ω")
    stands: tuple[tuple[str, float], ...] = table("%")
    """Position to the share of the track between signal and low reference. [%]"""
    failure: str = condition("")
    """``open`` (its slider), ``stuck`` (in its first position), or none."""

    def __post_init__(self) -> None:
        """Refuse a slider at the very end, which would join two terminals."""
        Part.__post_init__(self)
        for position, share in self.stands:
            if not 0.0 < share < 100.0:
                raise VehicleError(
                    f"{self.name}: position '{position}' is {share:g} %. "
                    "Allowed is what lies between 0 and 100 %."
                )

    @property
    def positions(self) -> tuple[str, ...]:
        """Names of its positions."""
        return tuple(position for position, _ in self.stands)

    @property
    def sockets(self) -> tuple[str, ...]:
        """Reference, signal and low reference."""
        return tuple(f"{self.name}:{mark}" for mark in ("1", "2", "3"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Flasher(Part):
    """An indicator flasher, in the phase in which its lamps are lit."""

    kind: ClassVar[str] = "flasher"

    rated_current: float = quantity("A")
    """Of all lamps it is made for. [A]"""
    contact_resistance: float = quantity("Ω", 2e-2)
    failure: str = condition("")
    """``open``, or none."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Supply, output and ground, DIN 72552."""
        return tuple(f"{self.name}:{mark}" for mark in ("49", "49a", "31"))


PIN_FIELDS: dict[str, set[str]] = {
    "reference": {"voltage", "limit", "bears"},
    "low_reference": set(),
    "input": {"on_when", "pulled_up_to", "through", "bears"},
    "high_side": {"when", "resistance", "limit"},
    "low_side": {"when", "resistance", "limit"},
}
"""What a pin of a module can do, to the fields it may have besides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModulePin:
    """One pin of a module."""

    name: str
    does: str
    """A name in `PIN_FIELDS`."""
    voltage: float = quantity("V", 5.0)
    """Of a reference. [V]"""
    limit: float = quantity("A", 1.0)
    """Most current of a reference or an output. [A]"""
    bears: float = quantity("V", 32.0)
    """Highest voltage that a reference or an input survives. [V]"""
    on_when: str = "high"
    """``high`` or ``low``: what makes an input count as on."""
    pulled_up_to: float | None = quantity("V", None)
    """Of a sensor input. [V]"""
    through: float = quantity("Ω", 10e3)
    """Resistance that pulls an input up or down. [Ω]"""
    when: str = ""
    """Input that turns an output on; none for one that is on while awake."""
    resistance: float = quantity("Ω", 5e-2)
    """Of an output that is on. [Ω]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Module(Part):
    """An electronic module with a supply and a ground of its own."""

    kind: ClassVar[str] = "module"

    supply: str = "30"
    ground: str = "31"
    wake: str = "15"
    rated_voltage: float = quantity("V")
    works_from: float = quantity("V")
    sleep_current: float = quantity("A")
    awake_current: float = quantity("A")
    """Both at rated voltage. [A]"""
    pin_table: tuple[ModulePin, ...] = table(ModulePin)
    dead_pins: tuple[str, ...] = condition(())
    stays_awake: bool = condition(default=False)

    def __post_init__(self) -> None:
        """Refuse pins that cannot do what they say."""
        Part.__post_init__(self)
        inputs = [p.name for p in self.pin_table if p.does == "input"]
        for pin in self.pin_table:
            if pin.does not in PIN_FIELDS:
                raise VehicleError(
                    f"{self.name}: pin {pin.name} does '{pin.does}'. "
                    f"Allowed are {', '.join(PIN_FIELDS)}."
                )
            if pin.when and pin.when not in inputs:
                raise VehicleError(
                    f"{self.name}: pin {pin.name} asks for input '{pin.when}'. "
                    f"Its inputs are {', '.join(inputs) or 'none'}."
                )
            if pin.on_when == "low" and pin.pulled_up_to is not None:
                raise VehicleError(
                    f"{self.name}: pin {pin.name} is pulled up to a voltage of its "
                    "own; such an input can only be on when high."
                )
            if pin.on_when not in ("high", "low"):
                raise VehicleError(
                    f"{self.name}: pin {pin.name}: on_when is '{pin.on_when}'. "
                    "Allowed are high, low."
                )

    @property
    def terminals(self) -> tuple[str, ...]:
        """Marks of supply, wake, ground and every pin."""
        return (self.supply, self.wake, self.ground, *(p.name for p in self.pin_table))

    @property
    def sockets(self) -> tuple[str, ...]:
        """Supply, wake, ground and every pin."""
        return tuple(f"{self.name}:{mark}" for mark in dict.fromkeys(self.terminals))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chafe(Part):
    """A place where insulation has worn through, and current finds another way."""

    kind: ClassVar[str] = "chafe"

    start: str
    end: str
    resistance: float = quantity("Ω")


Control: TypeAlias = Switch | Engine | Potentiometer
"""Parts that a person sets to one of their positions."""

PART_KINDS: dict[str, type[Part]] = {
    cls.kind: cls
    for cls in (
        Battery, Engine, Starter, Alternator, Body, GroundPoint, Splice, Wire,
        Connector, Fuse, FuseLink, Breaker, Switch, Relay, Lamp, TwinLamp, Led, Heater,
        Horn, Solenoid, Motor, Wiper, ResistorPack, Thermistor, Potentiometer, Flasher,
        Module,
    )
}  # fmt: skip
"""What a vehicle file may name as ``kind``."""
