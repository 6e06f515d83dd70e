"""What can go wrong with a vehicle, where, and the vehicle that results.

A fault is a value. Injecting it gives another vehicle; the parts know nothing of
faults. The sites are found from the parts, so a new part brings its faults with it.
"""

from __future__ import annotations

import dataclasses
import math
import random
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from ohmwork.errors import QuantityError, UnknownNameError, unknown_name
from ohmwork.parts import (
    LAMP_TYPES,
    Alternator,
    Battery,
    Breaker,
    Chafe,
    Connector,
    Flasher,
    Fuse,
    FuseLink,
    GroundPoint,
    Lamp,
    Led,
    Load,
    Module,
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
from ohmwork.quantities import format_quantity
from ohmwork.vehicle import Vehicle

KINDS = {
    "open_circuit": "open circuit",
    "high_resistance": "high resistance",
    "resistance_under_load": "high resistance that grows with load",
    "short_to_ground": "short to ground",
    "short_to_supply": "short to supply",
    "short_between": "short between circuits",
    "leakage": "leakage to ground",
    "water_path": "water between ways",
    "lamp_blown": "lamp blown",
    "wrong_lamp": "wrong lamp fitted",
    "fuse_blown": "fuse blown",
    "relay_coil_open": "relay coil open",
    "relay_coil_shorted": "shorted turns in the relay coil",
    "relay_contact_burnt": "relay contact burnt",
    "relay_contact_welded": "relay contact welded",
    "diode_reversed": "suppression diode the wrong way round",
    "contact_stuck": "contact stuck closed",
    "open_inside": "open inside",
    "shorted_inside": "shorted inside",
    "worn": "worn",
    "seized": "seized",
    "sensor_stuck": "sensor stuck",
    "cell_dead": "dead cell",
    "discharged": "discharged",
    "no_charge": "does not charge",
    "overcharge": "charges too high",
    "pin_dead": "pin dead",
    "stays_awake": "does not go to sleep",
}
"""Kind of fault, to the trade's words for it."""

RESISTANCE_RANGES = {
    "high_resistance": (0.2, 200.0),
    "relay_contact_burnt": (0.2, 200.0),
    "resistance_under_load": (0.02, 1.0),
    "leakage": (20.0, 20e3),
    "water_path": (100.0, 100e3),
}
"""Kinds that may have any resistance in a range [Ω]: added in the path, when cold where
it grows with load, or of the path that should not be. Below and above it counts as no
fault, an open or a short. Assumed."""

RANGED = frozenset(RESISTANCE_RANGES)

WHEN = {
    "loom_moved": "only while the loom is moved",
    "warm": "only when warm",
    "engine_running": "only with the engine running",
}
"""When a passing fault is there, to words for it."""

LOOM_SHARE = 0.6
"""How often a fault shows when its loom is moved; at the latest at every third time.
[-] Assumed."""

DISCHARGED = 20.0
"""State of charge of a discharged battery. [%] Assumed."""

SHORTED_TURNS = 0.25
"""Resistance left of a relay's coil with shorted turns. [-] Assumed."""

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
    """A part (``W23``), a place of it (``X12:3``), a contact (``S2:15-56``) or two
    neighbouring ways (``X12:3-4``)."""
    resistance: float | None = None
    """See `RESISTANCE_RANGES`. [Ω]"""
    when: str | None = None
    """A name in `WHEN`; none for a fault that is always there."""
    seed: int = 0
    """Decides at which movements of the loom it shows."""

    @property
    def answer(self) -> tuple[str, str]:
        """Site and kind: what a learner concludes."""
        return (self.site, self.kind)

    def name(self, vehicle: Vehicle) -> str:
        """Return the fault in a technician's words."""
        text = f"{describe_site(vehicle, self.site)}: {KINDS[self.kind]}"
        if self.resistance is not None:
            text += f", {format_quantity(self.resistance, 'Ω')}"
        return f"{text}, {WHEN[self.when]}" if self.when else text

    def is_present(self, *, moves: int, is_warm: bool, is_running: bool) -> bool:
        """Whether the fault is there now.

        Parameters
        ----------
        moves : how often the loom has been moved; the fault shows at some of them.
        is_warm : whether the vehicle has been warmed up.
        is_running : whether the engine runs.
        """
        match self.when:
            case "loom_moved":
                drawn = random.Random(f"{self.seed} {moves}").random()
                return moves > 0 and (drawn < LOOM_SHARE or moves % 3 == 0)
            case "warm":
                return is_warm
            case "engine_running":
                return is_running
            case _:
                return True


def describe_site(vehicle: Vehicle, site: str) -> str:
    """Return a site in a technician's words."""
    name, _, detail = site.partition(":")
    text = vehicle.describe(name)
    if not detail:
        return text
    match vehicle[name]:
        case Connector():
            return f"{text}, way{'s' if '-' in detail else ''} {detail}"
        case Switch():
            return f"{text}, contact {detail}"
        case TwinLamp():
            return f"{text}, filament {detail}"
        case ResistorPack():
            return f"{text}, step {detail}"
        case _:
            return f"{text}, pin {detail}"


def kinds_at(part: Part) -> dict[str, tuple[str, ...]]:
    """Return the sites of one part with the kinds of fault each can have."""
    name, path = part.name, ("open_circuit", "high_resistance")
    match part:
        case Wire():
            shorts = ("short_to_ground", "short_to_supply", "leakage")
            return {name: (*path, "resistance_under_load", *shorts)}
        case Connector():
            single = {p: (*path, "resistance_under_load") for p in part.sockets}
            return single | {
                f"{name}:{one}-{other}": ("short_between", "water_path")
                for one, other in pairwise(part.ways)
            }
        case Switch():
            kinds = (*path, "contact_stuck")
            return {f"{name}:{c.name}": kinds for c in part.contacts}
        case GroundPoint():
            return {name: path}
        case FuseLink():
            return {name: ("fuse_blown",)}
        case Breaker():
            return {name: ("open_inside", "high_resistance")}
        case Fuse():
            return {name: ("fuse_blown", "high_resistance")}
        case Relay():
            coil = ("relay_coil_open", "relay_coil_shorted")
            diode = ("diode_reversed",) if part.suppression_diode else ()
            contact = ("relay_contact_burnt", "relay_contact_welded")
            return {name: (*coil, *contact, *diode)}
        case Lamp():
            return {name: ("lamp_blown", "wrong_lamp")}
        case TwinLamp():
            return {f"{name}:{m}": ("lamp_blown",) for m in (part.main, part.second)}
        case Motor() | Wiper():
            return {name: ("open_inside", "shorted_inside", "worn", "seized")}
        case Starter():
            return {name: ("open_inside", "relay_contact_burnt", "worn", "seized")}
        case Led() | Flasher():
            return {name: ("open_inside",)}
        case Load():
            return {name: ("open_inside", "shorted_inside")}
        case ResistorPack():
            return {f"{name}:{step}": ("open_inside",) for step, _ in part.steps}
        case Thermistor():
            return {name: ("open_inside", "shorted_inside", "sensor_stuck")}
        case Potentiometer():
            return {name: ("open_inside", "sensor_stuck")}
        case Battery():
            return {name: ("cell_dead", "discharged")}
        case Alternator():
            return {name: ("no_charge", "overcharge")}
        case Module():
            pins = {f"{name}:{pin.name}": ("pin_dead",) for pin in part.pin_table}
            return {name: ("stays_awake",), **pins}
        case _:
            return {}


def sites(vehicle: Vehicle) -> dict[str, tuple[str, ...]]:
    """Return every site of a vehicle with the kinds of fault it can have.

    Wires on a battery post are spared from shorts, as nothing would limit the current,
    and wires on a rail from a short to that rail, as it would change nothing.
    """
    return {
        site: kinds
        for part in vehicle.parts.values()
        for site, kinds in sites_of(vehicle, part).items()
    }


def sites_of(vehicle: Vehicle, part: Part) -> dict[str, tuple[str, ...]]:
    """Return the sites of one part with the kinds of fault each can have there."""
    found = kinds_at(part)
    if not isinstance(part, Wire):
        return found
    ends = {part.start, part.end}
    posts = {place for b in vehicle.of_type(Battery) for place in b.places}
    spared = {
        "short_to_ground": posts | {vehicle.rails["31"]},
        "short_to_supply": posts | {vehicle.rails["30"]},
        "leakage": {vehicle.rails["31"]},
    }
    return {
        site: tuple(kind for kind in kinds if not spared.get(kind, set()) & ends)
        for site, kinds in found.items()
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
    part = vehicle.parts.get(fault.site.partition(":")[0])
    possible = {} if part is None else sites_of(vehicle, part)
    if fault.site not in possible:
        raise unknown_name("place for a fault", fault.site, sites(vehicle))
    if fault.when is not None and fault.when not in WHEN:
        raise unknown_name("time for a fault", fault.when, WHEN)
    if fault.kind not in possible[fault.site]:
        raise UnknownNameError(
            f"{describe_site(vehicle, fault.site)} cannot have '{fault.kind}'. "
            f"Possible there: {', '.join(possible[fault.site])}."
        )


def inject(vehicle: Vehicle, *faults: Fault) -> Vehicle:
    """Return the vehicle that has these faults.

    Raises
    ------
    UnknownNameError
        If the vehicle has no such site, or the site cannot have such a fault.
    QuantityError
        If a ranged kind comes without its resistance.
    """
    for fault in faults:
        check(vehicle, fault)
        if fault.kind in RANGED and fault.resistance is None:
            raise QuantityError(
                f"{fault.kind} at {fault.site} needs a resistance in Ω."
            )
        name = fault.site.partition(":")[0]
        vehicle = vehicle.with_part(_with_fault(vehicle, vehicle[name], fault))
    return vehicle


def _with_fault(vehicle: Vehicle, part: Part, fault: Fault) -> Part:
    """Return the part as the fault leaves it, or the path that it opens beside it."""
    kind, detail = fault.kind, fault.site.partition(":")[2]
    added = math.inf if kind == "open_circuit" else fault.resistance or 0.0
    if kind in _PATHS:
        return _chafe(vehicle, part, fault)
    changes: dict[str, object]
    match kind, part:
        case "fuse_blown" | "lamp_blown", Fuse() | Lamp():
            changes = {"blown": True}
        case "open_inside", Breaker():
            changes = {"resistance": math.inf}
        case "lamp_blown", TwinLamp():
            changes = {"blown": (*part.blown, detail)}
        case "wrong_lamp", Lamp():
            changes = {"type": wrong_lamp(part.type)}
        case "relay_coil_open", _:
            changes = {"coil_resistance": math.inf}
        case "relay_coil_shorted", Relay():
            changes = {"coil_resistance": SHORTED_TURNS * part.coil_resistance}
        case "relay_contact_burnt", Relay() | Starter():
            changes = {"contact_resistance": part.contact_resistance + added}
        case "relay_contact_welded", _:
            changes = {"is_welded": True}
        case "diode_reversed", _:
            changes = {"diode_reversed": True}
        case "contact_stuck", Switch():
            changes = _contact(part, detail, is_stuck=True)
        case "cell_dead", Battery():
            changes = {"dead_cells": part.dead_cells + 1}
        case "discharged", _:
            changes = {"state_of_charge": DISCHARGED}
        case "pin_dead", Module():
            changes = {"dead_pins": (*part.dead_pins, detail)}
        case "stays_awake", _:
            changes = {"stays_awake": True}
        case "open_inside", ResistorPack():
            changes = {"open_steps": (*part.open_steps, detail)}
        case (("no_charge" | "overcharge"), _):
            changes = {"failure": kind}
        case (
            ("open_inside" | "shorted_inside" | "worn" | "seized" | "sensor_stuck"),
            _,
        ):
            changes = {"failure": _FAILURES[kind]}
        case "resistance_under_load", Wire():
            changes = {"worn_resistance": added}
        case "resistance_under_load", Connector():
            changes = {"worn_resistance": (*part.worn_resistance, (detail, added))}
        case _, Wire():
            changes = {"added_resistance": added}
        case _, Connector():
            changes = {"added_resistance": (*part.added_resistance, (detail, added))}
        case _, Fuse():
            changes = {"seat_resistance": part.seat_resistance + added}
        case _, GroundPoint():
            changes = {"resistance": part.resistance + added}
        case _, Switch():
            closed = next(c for c in part.contacts if c.name == detail)
            changes = _contact(part, detail, resistance=closed.resistance + added)
    return dataclasses.replace(part, **changes)  # type: ignore[arg-type]


_FAILURES = {
    "open_inside": "open",
    "shorted_inside": "shorted",
    "worn": "worn",
    "seized": "seized",
    "sensor_stuck": "stuck",
}

_PATHS = frozenset(
    {"short_to_ground", "short_to_supply", "short_between", "leakage", "water_path"}
)
"""Kinds that open a path where there should be none."""


def _contact(part: Switch, name: str, **changes: object) -> dict[str, object]:
    """Return the contacts of a switch with one of them changed."""
    return {
        "contacts": tuple(
            dataclasses.replace(c, **changes) if c.name == name else c  # type: ignore[arg-type]
            for c in part.contacts
        )
    }


def _chafe(vehicle: Vehicle, part: Part, fault: Fault) -> Chafe:
    """Return the path that a fault opens, from the start of a wire or between ways."""
    if isinstance(part, Wire):
        start = part.start
        end = vehicle.rails["30" if fault.kind == "short_to_supply" else "31"]
    else:
        one, _, other = fault.site.partition(":")[2].partition("-")
        start, end = f"{part.name}:{one}", f"{part.name}:{other}"
    fixed = {
        "short_to_ground": SHORT_TO_GROUND_RESISTANCE,
        "short_to_supply": SHORT_TO_SUPPLY_RESISTANCE,
        "short_between": SHORT_TO_SUPPLY_RESISTANCE,
    }
    return Chafe(
        name=f"chafe of {fault.site}",
        start=start,
        end=end,
        resistance=fixed.get(fault.kind, fault.resistance or 0.0),
    )


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
    low, high = RESISTANCE_RANGES[fault.kind]
    ratio = (high / low) ** (1.0 / (steps - 1))
    return tuple(
        dataclasses.replace(fault, resistance=low * ratio**step)
        for step in range(steps)
    )
