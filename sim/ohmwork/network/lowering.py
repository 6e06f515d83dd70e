"""From parts to branches: which laws join which places, and what opens them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from ohmwork.network.laws import Conductor, Diode, Filament, Law, Source, filament
from ohmwork.parts import (
    LAMP_TYPES,
    SOUND_SEAT,
    Battery,
    Chafe,
    Connector,
    Fuse,
    GroundPoint,
    Lamp,
    Part,
    Relay,
    Switch,
    Wire,
)


@dataclass(frozen=True, slots=True)
class Gate:
    """What must hold for a branch to conduct."""

    by: str
    """``apart``: the part is plugged in; ``fuse``: it is whole; ``pulled_in`` and
    ``at_rest``: state of the relay; ``switch``: the control stands in `positions`."""
    name: str
    """The part that decides."""
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
    gate: Gate | None = None


def conductance(resistance: float) -> float:
    """Return one over a resistance; an infinite one is an open path. [S]"""
    return 0.0 if math.isinf(resistance) else 1.0 / resistance


def _resistor(
    owner: str, role: str, a: str, b: str, resistance: float, gate: Gate | None = None
) -> Branch:
    return Branch(owner, role, a, b, Conductor(conductance(resistance)), gate)


def _seats(part: Part, resistances: dict[str, float]) -> tuple[Branch, ...]:
    """Join each socket of a part that plugs in to its pin."""
    gate = Gate("apart", part.name)
    return tuple(
        _resistor(part.name, f"seat {s.partition(':')[2]}", s, f"{s}p", value, gate)
        for s, value in resistances.items()
    )


@lru_cache(maxsize=4096)
def branches_of(part: Part) -> tuple[Branch, ...]:
    """Return the branches of one part."""
    name = part.name
    match part:
        case Battery():
            law = Source(
                conductance(part.internal_resistance), part.open_circuit_voltage
            )
            return (Branch(name, "", f"{name}:+", f"{name}:-", law),)
        case Wire():
            return (_resistor(name, "", part.start, part.end, part.resistance),)
        case Chafe():
            return (_resistor(name, "", part.start, part.end, part.resistance),)
        case GroundPoint():
            return (_resistor(name, "", f"{name}:31", part.body, part.resistance),)
        case Connector():
            return _seats(
                part, {f"{name}:{w}": part.way_resistance(w) for w in part.ways}
            )
        case Fuse():
            one, two = f"{name}:1", f"{name}:2"
            seats = _seats(part, {one: part.seat_resistance, two: SOUND_SEAT})
            pin = "p" if part.plugs_in else ""
            link = _resistor(
                name,
                "",
                f"{one}{pin}",
                f"{two}{pin}",
                part.resistance,
                Gate("fuse", name),
            )
            return (*(seats if part.plugs_in else ()), link)
        case Switch():
            return tuple(
                _resistor(
                    name,
                    c.name,
                    f"{name}:{c.start}",
                    f"{name}:{c.end}",
                    c.resistance,
                    Gate("switch", name, c.closed_in),
                )
                for c in part.contacts
            )
        case Relay():
            return _relay(part)
        case Lamp():
            lamp = LAMP_TYPES[part.type]
            glow = filament(lamp.test_voltage, lamp.test_power)
            if part.blown:
                glow = Filament(0.0, glow.knee)
            supply, ground = part.sockets
            return (Branch(name, "", supply, ground, glow),)
        case _:
            return ()


def _relay(part: Relay) -> tuple[Branch, ...]:
    """Seats, coil, diode and contacts."""
    name = part.name
    pin = {s.partition(":")[2]: f"{s}p" for s in part.sockets}
    coil = _resistor(name, "coil", pin["86"], pin["85"], part.coil_resistance)
    made = _resistor(
        name, "30-87", pin["30"], pin["87"], part.contact_resistance,
        Gate("pulled_in", name),
    )  # fmt: skip
    branches = [
        *_seats(part, dict.fromkeys(part.sockets, part.seat_resistance)),
        coil,
        made,
    ]
    if part.changeover:
        rest = Gate("at_rest", name)
        branches.append(
            _resistor(
                name, "30-87a", pin["30"], pin["87a"], part.contact_resistance, rest
            )
        )
    if part.suppression_diode:
        branches.append(Branch(name, "diode", pin["85"], pin["86"], Diode(1.0)))
    return tuple(branches)
