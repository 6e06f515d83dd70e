"""Which place is higher: potentials of a network in which every contact is closed.

Which end of a part is its supply side is not written in a vehicle. It follows from
where a current would run, whatever the parts are called.
"""

from __future__ import annotations

from collections.abc import Iterator

from ohmwork.circuits import links
from ohmwork.parts import (
    Alternator,
    Battery,
    Flasher,
    Lamp,
    Load,
    Module,
    ModulePin,
    Relay,
    Starter,
    TwinLamp,
    Wiper,
)
from ohmwork.vehicle import Vehicle

_CONTACT = 1e-3
"""Conductance of a contact, where a wire has one siemens. [S]"""
_USER = 1e-5
"""The same of what uses current. [S]"""
_PINS = {
    "reference": 1.0,
    "low_reference": 1.0,
    "high_side": 1.0,
    "low_side": 1.0,
    "input": 1e-7,
}
"""The same of a module's pins, by what they do. [S]"""


def levels(vehicle: Vehicle) -> dict[str, float]:
    """Return the potential of each place when every contact is closed. [-]

    Current runs from supply (1) to ground (0) through whatever can carry it. A contact
    has less conductance than a wire, and what uses current less than a contact: so all
    that a wire joins is close to one potential, however many contacts make shorts.
    Sensors carry nothing, and the low reference of a module counts as one of its
    sources: so all of a sensor is below the module it belongs to.

    Parameters
    ----------
    vehicle : any vehicle; faults in it are not looked at.
    """
    supply, ground = vehicle.rails["30"], vehicle.rails["31"]
    ends = {"+": supply, vehicle.plus_post: supply, "-": ground}
    near: dict[str, dict[str, float]] = {place: {} for place in vehicle.places}
    joined = [
        (link.a, link.b, _CONTACT if link.is_contact else 1.0)
        for link in links(vehicle)
    ]
    for a, b, siemens in (*joined, *_users(vehicle)):
        start, end = ends.get(a, a), ends.get(b, b)
        if start != end:
            near[start][end] = near[end][start] = near[start].get(end, 0.0) + siemens
    return {**_potentials(near, supply, ground), vehicle.plus_post: 1.0}


def _users(vehicle: Vehicle) -> Iterator[tuple[str, str, float]]:
    """Yield pairs of places between which a current is used, with a conductance. [S]

    Plus and minus stand for supply and ground themselves.
    """
    for name, part in vehicle.parts.items():
        pairs: list[tuple[str, str]] = []
        if isinstance(part, Battery):
            pairs = [("+", "-")]
        elif isinstance(part, (Lamp, Load)):
            pairs = [(part.supply, part.ground)]
        elif isinstance(part, TwinLamp):
            pairs = [(part.main, part.ground), (part.second, part.ground)]
        elif isinstance(part, Relay):
            pairs = [("86", "85")]
        elif isinstance(part, Flasher):
            pairs = [("49", "31")]
        elif isinstance(part, Starter):
            pairs = [("30", "31"), ("50", "31")]
        elif isinstance(part, Wiper):
            pairs = [(mark, "31") for mark in ("53", "53b", "53a", "31b")]
        elif isinstance(part, Alternator):
            pairs = [(mark, "31") for mark in ("B+", "D+", *("S" * part.sense))]
        elif isinstance(part, Module):
            pairs = [(part.supply, part.ground), (part.wake, part.ground)]
            for pin in part.pin_table:
                place, siemens = f"{name}:{pin.name}", _PINS[pin.does]
                if hangs(pin):
                    yield "+", place, siemens
                else:
                    yield place, "-", siemens
        for start, end in pairs:
            yield f"{name}:{start}", f"{name}:{end}", _USER


def hangs(pin: ModulePin) -> bool:
    """Whether what a pin leads to is drawn below its module."""
    pulled_down = pin.on_when == "high" and pin.pulled_up_to is None
    return pin.does in ("reference", "low_reference", "high_side") or (
        pin.does == "input" and not pulled_down
    )


def _potentials(
    near: dict[str, dict[str, float]], supply: str, ground: str
) -> dict[str, float]:
    """Return potentials between 1 at supply and 0 at ground, by star-mesh steps. [-]

    Parameters
    ----------
    near : conductances from each place to others. [S] It is used up.
    """
    stars: list[tuple[str, dict[str, float]]] = []
    left = [place for place in near if place not in (supply, ground)]
    while left:
        place = min(left, key=lambda p: len(near[p]))
        left.remove(place)
        star = near.pop(place)
        stars.append((place, star))
        total = sum(star.values())
        for a, from_a in star.items():
            del near[a][place]
            for b, to_b in star.items():
                if a != b:
                    near[a][b] = near[a].get(b, 0.0) + from_a * to_b / total
    level = {supply: 1.0, ground: 0.0}
    for place, star in reversed(stars):
        total = sum(star.values())
        level[place] = sum(g * level[p] for p, g in star.items()) / (total or 1.0)
    return level
