"""What can go wrong with a vehicle, where, and the vehicle that results.

A fault is a value. Injecting it gives another vehicle; the parts know nothing of
faults. The sites are found from the parts, so a new part brings its faults with it.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable
from dataclasses import dataclass

from ohmwork.errors import QuantityError, UnknownNameError, unknown_name
from ohmwork.parts import (
    LAMP_TYPES,
    Battery,
    Chafe,
    Connector,
    Fuse,
    FuseLink,
    GroundPoint,
    Lamp,
    Part,
    Relay,
    Switch,
    Wire,
)
from ohmwork.quantities import format_quantity
from ohmwork.vehicle import Vehicle

KINDS = {
    "open_circuit": "open circuit",
    "high_resistance": "high resistance",
    "short_to_ground": "short to ground",
    "short_to_supply": "short to supply",
    "lamp_blown": "lamp blown",
    "wrong_lamp": "wrong lamp fitted",
    "fuse_blown": "fuse blown",
    "relay_coil_open": "relay coil open",
    "relay_contact_burnt": "relay contact burnt",
}
"""Kind of fault, to the trade's words for it."""

RANGED = frozenset({"high_resistance", "relay_contact_burnt"})
"""Kinds whose resistance may be anything in `RESISTANCE_RANGE`."""

RESISTANCE_RANGE = (0.2, 200.0)
"""Added resistance that counts as a fault and not yet as an open. [Ω] Assumed."""

SHORT_TO_GROUND_RESISTANCE = 0.02
"""Of bare strands on sheet metal. [Ω] Assumed."""

SHORT_TO_SUPPLY_RESISTANCE = 0.05
"""Of two worn wires touching. [Ω] Assumed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong.

    A ranged kind without `resistance` stands for the whole range: it can be concluded,
    not injected.
    """

    kind: str
    site: str
    """A part (``W23``), a connector way (``X12:3``) or a contact (``S2:15-56``)."""
    resistance: float | None = None
    """Added in the path. [Ω]"""

    @property
    def answer(self) -> tuple[str, str]:
        """Site and kind: what a learner concludes."""
        return (self.site, self.kind)

    def name(self, vehicle: Vehicle) -> str:
        """Return the fault in a technician's words."""
        text = f"{describe_site(vehicle, self.site)}: {KINDS[self.kind]}"
        if self.resistance is None:
            return text
        return f"{text}, {format_quantity(self.resistance, 'Ω')}"


def describe_site(vehicle: Vehicle, site: str) -> str:
    """Return a site in a technician's words."""
    name, _, detail = site.partition(":")
    text = vehicle.describe(name)
    if isinstance(vehicle[name], Connector):
        return f"{text}, way {detail}"
    return f"{text}, contact {detail}" if detail else text


def kinds_at(part: Part) -> dict[str, tuple[str, ...]]:
    """Return the sites of one part with the kinds of fault each can have."""
    path = ("open_circuit", "high_resistance")
    match part:
        case Wire():
            return {part.name: (*path, "short_to_ground", "short_to_supply")}
        case Connector():
            return {place: path for place in part.sockets}
        case Switch():
            return {f"{part.name}:{c.name}": path for c in part.contacts}
        case GroundPoint():
            return {part.name: path}
        case FuseLink():
            return {part.name: ("fuse_blown",)}
        case Fuse():
            return {part.name: ("fuse_blown", "high_resistance")}
        case Relay():
            return {part.name: ("relay_coil_open", "relay_contact_burnt")}
        case Lamp():
            return {part.name: ("lamp_blown", "wrong_lamp")}
        case _:
            return {}


def sites(vehicle: Vehicle) -> dict[str, tuple[str, ...]]:
    """Return every site of a vehicle with the kinds of fault it can have.

    Wires on a battery post are spared from shorts, as nothing would limit the current,
    and wires on a rail from a short to that rail, as it would change nothing.
    """
    posts = {place for b in vehicle.of_type(Battery) for place in b.places}
    spared = {
        "short_to_ground": posts | {vehicle.rails["31"]},
        "short_to_supply": posts | {vehicle.rails["30"]},
    }
    return {
        site: tuple(
            kind
            for kind in kinds
            if not isinstance(part, Wire)
            or not spared.get(kind, set()) & {part.start, part.end}
        )
        for part in vehicle.parts.values()
        for site, kinds in kinds_at(part).items()
    }


def universe(
    vehicle: Vehicle, kinds: Iterable[str] = tuple(KINDS)
) -> tuple[Fault, ...]:
    """Return every fault of these kinds, ranged ones without a value."""
    wanted = set(kinds)
    return tuple(
        Fault(kind=kind, site=site)
        for site, possible in sites(vehicle).items()
        for kind in possible
        if kind in wanted
    )


def check(vehicle: Vehicle, fault: Fault) -> None:
    """Raise `UnknownNameError` if the vehicle cannot have this fault."""
    possible = sites(vehicle)
    if fault.site not in possible:
        raise unknown_name("place for a fault", fault.site, possible)
    if fault.kind not in possible[fault.site]:
        raise UnknownNameError(
            f"{describe_site(vehicle, fault.site)} cannot have '{fault.kind}'. "
            f"Possible there: {', '.join(possible[fault.site])}."
        )


def inject(vehicle: Vehicle, fault: Fault) -> Vehicle:
    """Return the vehicle that has this fault.

    Raises
    ------
    UnknownNameError
        If the vehicle has no such site, or the site cannot have such a fault.
    QuantityError
        If a ranged kind comes without its resistance.
    """
    check(vehicle, fault)
    if fault.kind in RANGED and fault.resistance is None:
        raise QuantityError(f"{fault.kind} at {fault.site} needs a resistance in Ω.")
    name, _, detail = fault.site.partition(":")
    part = vehicle[name]
    added = math.inf if fault.kind == "open_circuit" else fault.resistance
    match fault.kind, part:
        case "short_to_ground" | "short_to_supply", Wire():
            ground = fault.kind == "short_to_ground"
            chafe = Chafe(
                name=f"chafe of {name}",
                start=part.start,
                end=vehicle.rails["31" if ground else "30"],
                resistance=SHORT_TO_GROUND_RESISTANCE
                if ground
                else SHORT_TO_SUPPLY_RESISTANCE,
            )
            return vehicle.with_part(chafe)
        case "fuse_blown", _:
            changes: dict[str, object] = {"blown": True}
        case "lamp_blown", _:
            changes = {"blown": True}
        case "wrong_lamp", Lamp():
            changes = {"type": wrong_lamp(part.type)}
        case "relay_coil_open", _:
            changes = {"coil_resistance": math.inf}
        case "relay_contact_burnt", Relay():
            changes = {"contact_resistance": part.contact_resistance + (added or 0.0)}
        case _, Wire():
            changes = {"added_resistance": added}
        case _, Connector():
            changes = {"added_resistance": ((detail, added),)}
        case _, Fuse():
            changes = {"seat_resistance": part.seat_resistance + (added or 0.0)}
        case _, GroundPoint():
            changes = {"resistance": part.resistance + (added or 0.0)}
        case _, Switch():
            contacts = tuple(
                dataclasses.replace(c, resistance=c.resistance + (added or 0.0))
                if c.name == detail
                else c
                for c in part.contacts
            )
            changes = {"contacts": contacts}
    return vehicle.with_part(dataclasses.replace(part, **changes))  # type: ignore[arg-type]


def repair(vehicle: Vehicle, healthy: Vehicle, site: str) -> Vehicle:
    """Return the vehicle with the part at one site made as new."""
    name = site.partition(":")[0]
    chafe = f"chafe of {name}"
    parts = {key: part for key, part in vehicle.parts.items() if key != chafe}
    return dataclasses.replace(vehicle, parts={**parts, name: healthy[name]})


def wrong_lamp(fitted: str) -> str:
    """Return the lamp that gets fitted by mistake: same holder, other voltage."""
    category, volts, unit = fitted.split(" ")
    other = f"{category} {'24' if volts == '12' else '12'} {unit}"
    return other if other in LAMP_TYPES else fitted


def samples(fault: Fault, steps: int = 18) -> tuple[Fault, ...]:
    """Return faults with values that span the range of `fault`, lowest first.

    A fault that has its value, or needs none, stands for itself.
    """
    if fault.kind not in RANGED or fault.resistance is not None:
        return (fault,)
    low, high = RESISTANCE_RANGE
    ratio = (high / low) ** (1.0 / (steps - 1))
    return tuple(
        dataclasses.replace(fault, resistance=low * ratio**step)
        for step in range(steps)
    )
