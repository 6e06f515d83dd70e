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
from typing import Any, ClassVar

from ohmwork.errors import VehicleError

COPPER_RESISTIVITY = 0.017241
"""Standard annealed copper at 20 °C. [Ω·mm²/m] NBS Handbook 100 (58 S·m/mm²)."""

COPPER_TEMPERATURE_COEFFICIENT = 0.00393
"""Of 100 % IACS copper at 20 °C. [1/K] NBS Handbook 100."""

COPPER_TEMPERATURES = (-60.0, 250.0)
"""Where that coefficient is taken to hold, as on any vehicle cable. [°C] Assumed."""

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
    """Objective power at test voltage. [W]"""


LAMP_TYPES = {
    "H7 12 V": LampType(test_voltage=13.2, test_power=58.0),
    "H7 24 V": LampType(test_voltage=28.0, test_power=75.0),
    "W5W 12 V": LampType(test_voltage=13.5, test_power=5.5),
    "W5W 24 V": LampType(test_voltage=28.0, test_power=7.7),
}
"""UN Regulation 37 categories; values from memory."""


def quantity(unit: str, default: Any = ..., *, may_be_zero: bool = False) -> Any:
    """Return a dataclass field that a vehicle file writes as a number with a unit."""
    metadata = {"unit": unit, "may_be_zero": may_be_zero}
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
            if unit == "°C":
                continue
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
    """A source with a resistance of its own."""

    kind: ClassVar[str] = "battery"

    open_circuit_voltage: float = quantity("V")
    internal_resistance: float = quantity("Ω")

    @property
    def sockets(self) -> tuple[str, ...]:
        """Plus and minus post."""
        return (f"{self.name}:+", f"{self.name}:-")


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
    added_resistance: float = quantity("Ω", 0.0, may_be_zero=True)

    def __post_init__(self) -> None:
        """Check temperature and colour code as well."""
        Part.__post_init__(self)
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
        warm = 1.0 + COPPER_TEMPERATURE_COEFFICIENT * (self.temperature_celsius - 20.0)
        metre = COPPER_RESISTIVITY / self.area_mm2 * STRANDING * warm
        return metre * self.length + self.added_resistance


@dataclass(frozen=True, slots=True, kw_only=True)
class Connector(Part):
    """An in-line connector with numbered ways."""

    kind: ClassVar[str] = "connector"
    plugs_in: ClassVar[bool] = True

    ways: tuple[str, ...]
    contact_resistance: float = quantity("Ω", 2e-3)
    added_resistance: tuple[tuple[str, float], ...] = ()
    """What single ways have on top of the contact resistance. [Ω]"""

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
    blown: bool = False

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
class SwitchContact:
    """One contact of a switch."""

    start: str
    end: str
    closed_in: tuple[str, ...]
    resistance: float

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
    pull_in: float = quantity("V")
    drop_out: float = quantity("V")
    contact_resistance: float = quantity("Ω", 3e-3)
    seat_resistance: float = quantity("Ω", SOUND_SEAT)
    changeover: bool = False
    suppression_diode: bool = False
    """Across the coil, cathode at 86: feed 85 with plus and it is a short."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp(Part):
    """A filament lamp."""

    kind: ClassVar[str] = "lamp"

    supply: str
    """Mark of the supply terminal, DIN 72552."""
    ground: str = "31"
    type: str
    """A name in `LAMP_TYPES`: the lamp that is in the holder."""
    blown: bool = False

    def __post_init__(self) -> None:
        """Refuse a lamp type that is not in the table."""
        Part.__post_init__(self)
        if self.type not in LAMP_TYPES:
            raise VehicleError(
                f"{self.name}: lamp type '{self.type}' is unknown. "
                f"Allowed are {', '.join(LAMP_TYPES)}."
            )

    @property
    def sockets(self) -> tuple[str, ...]:
        """Supply and ground terminal."""
        return (f"{self.name}:{self.supply}", f"{self.name}:{self.ground}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Chafe(Part):
    """A place where insulation has worn through and metal touches metal."""

    kind: ClassVar[str] = "chafe"

    start: str
    end: str
    resistance: float = quantity("Ω")


PART_KINDS: dict[str, type[Part]] = {
    cls.kind: cls
    for cls in (
        Battery, Body, GroundPoint, Splice, Wire, Connector, Fuse, FuseLink, Switch,
        Relay, Lamp,
    )
}  # fmt: skip
"""What a vehicle file may name as ``kind``."""
