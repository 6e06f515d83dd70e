"""The vehicle as a directed graph: everything drawn between two places, supply on top.

Which end of a part is its supply side is not written in a vehicle. It follows from the
potentials of the same network with one siemens in every branch and all contacts closed:
current runs down them, whatever the parts are called.
"""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from ohmwork.parts import (
    Battery,
    Connector,
    Fuse,
    GroundPoint,
    Lamp,
    Relay,
    Splice,
    Switch,
    Wire,
)
from ohmwork.vehicle import Vehicle

LOADS = ("lamp", "coil", "battery")
CONTACTS = ("switch", "relay")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Element:
    """Something drawn between two places; a splice has both ends at one place.

    Each is made once and compared by identity, which makes the search for an order of
    tracks several times faster.

    A ground point that several wires reach is drawn once for each of them; the copies'
    places end in ``#2``, ``#3`` and so on, which `place_name` takes away.
    """

    part: str
    kind: str
    """battery, fuse, switch, relay (contact), coil, lamp, way, ground, splice, wire"""
    top: str
    """Place towards supply."""
    bottom: str
    """Place towards ground."""
    name: str = ""
    """Way of a connector, or contact such as ``15-56``."""

    def turned(self) -> Element:
        """Return the element the other way up."""
        return dataclasses.replace(self, top=self.bottom, bottom=self.top)


def place_name(place: str) -> str:
    """Return the vehicle's name of a place that may be drawn more than once."""
    return place.partition("#")[0]


def elements(vehicle: Vehicle) -> Iterator[Element]:
    """Yield what a sheet shows of each part, as it stands in the file."""
    for name, part in vehicle.parts.items():
        if isinstance(part, Wire):
            yield Element(part=name, kind="wire", top=part.start, bottom=part.end)
        elif isinstance(part, (Battery, Fuse, Lamp)):
            kind = "fuse" if isinstance(part, Fuse) else part.kind
            top, bottom = part.sockets
            yield Element(part=name, kind=kind, top=top, bottom=bottom)
        elif isinstance(part, Connector):
            for way, top, bottom in zip(
                part.ways, part.sockets, part.pins, strict=True
            ):
                yield Element(part=name, kind="way", top=top, bottom=bottom, name=way)
        elif isinstance(part, Switch):
            for contact in part.contacts:
                yield _between(name, "switch", contact.start, contact.end)
        elif isinstance(part, Relay):
            yield _between(name, "coil", "86", "85")
            for mark in ("87", "87a") if part.changeover else ("87",):
                yield _between(name, "relay", "30", mark)
        elif isinstance(part, GroundPoint):
            yield Element(
                part=name, kind="ground", top=part.sockets[0], bottom=part.body
            )


def _between(part: str, kind: str, start: str, end: str) -> Element:
    return Element(
        part=part,
        kind=kind,
        top=f"{part}:{start}",
        bottom=f"{part}:{end}",
        name=f"{start}-{end}",
    )


class Circuit:
    """The directed graph of a vehicle, and what its drawing needs to know of it.

    Parameters
    ----------
    vehicle : any vehicle; faults in it are not looked at.
    """

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        found = tuple(elements(vehicle))
        self.ground = vehicle.rails["31"]
        self.rails = _top_rails(vehicle, found)
        rank = _rank(found, [*self.rails.values()], self.ground)
        directed = [e if rank[e.top] <= rank[e.bottom] else e.turned() for e in found]
        self.elements = tuple(self._repeat_grounds(directed))
        self.ins: dict[str, list[Element]] = defaultdict(list)
        self.outs: dict[str, list[Element]] = defaultdict(list)
        for element in self.elements:
            self.outs[element.top].append(element)
            self.ins[element.bottom].append(element)
        self.splices = {
            f"{s.name}:1": Element(
                part=s.name, kind="splice", top=f"{s.name}:1", bottom=f"{s.name}:1"
            )
            for s in vehicle.of_type(Splice)
        }

    def _repeat_grounds(self, directed: Iterable[Element]) -> Iterator[Element]:
        """Give each wire that reaches a ground point a symbol of its own."""
        grounds = {e.top: e for e in directed if e.kind == "ground"}
        seen: dict[str, int] = defaultdict(int)
        for element in directed:
            if element.kind != "wire" or element.bottom not in grounds:
                yield element
                continue
            place = element.bottom
            seen[place] += 1
            if seen[place] == 1:
                yield element
            else:
                copy = f"{place}#{seen[place]}"
                yield dataclasses.replace(element, bottom=copy)
                yield dataclasses.replace(grounds[place], top=copy)

    @cached_property
    def owner(self) -> dict[str, Element]:
        """Symbol that carries each place; a rail with no symbol of its own has none."""
        owners = dict(self.splices)
        for element in self.elements:
            if element.kind == "wire":
                continue
            owners.setdefault(element.top, element)
            if element.bottom != self.ground or element.kind == "battery":
                owners.setdefault(element.bottom, element)
        return owners

    @cached_property
    def stations(self) -> tuple[Element, ...]:
        """Everything with a symbol, in the order of the file."""
        symbols = [e for e in self.elements if e.kind != "wire"]
        return (*symbols, *self.splices.values())

    def is_upstream(self, element: Element) -> bool:
        """Whether a load follows this element, or nothing at all."""
        seen: set[str] = set()
        waiting = [element.bottom]
        while waiting:
            place = waiting.pop()
            if place in seen:
                continue
            seen.add(place)
            for below in self.outs[place]:
                if below.kind in LOADS:
                    return True
                waiting.append(below.bottom)
        return self.ground not in seen

    @cached_property
    def units(self) -> dict[str, frozenset[Element]]:
        """Connector name to the symbols that only that connector joins to the rest."""
        ways = [e for e in self.elements if e.kind == "way"]
        pins = {p: e.part for e in ways for p in (e.top, e.bottom) if p.endswith("p")}
        sockets = {p for e in ways for p in (e.top, e.bottom)} - pins.keys()
        rails = {*self.rails.values(), self.ground}
        found: dict[str, frozenset[Element]] = {}
        for connector in dict.fromkeys(pins.values()):
            inside: set[Element] = set()
            places: set[str] = set()
            waiting = [p for p, name in pins.items() if name == connector]
            while waiting:
                place = waiting.pop()
                if place in places:
                    continue
                places.add(place)
                for e in (*self.ins[place], *self.outs[place]):
                    if e.kind != "way":
                        inside.add(e)
                        waiting += (e.top, e.bottom)
            foreign = {pins.get(p, connector) for p in places} - {connector}
            if any(e.kind in LOADS for e in inside) and not (
                foreign or places & rails or places & sockets
            ):
                inside |= {e for e in ways if e.part == connector}
                inside |= {s for p, s in self.splices.items() if p in places}
                found[connector] = frozenset(e for e in inside if e.kind != "wire")
        return found


def _top_rails(vehicle: Vehicle, found: Iterable[Element]) -> dict[str, str]:
    """Return mark to place of the supply rails.

    Terminal 15 of DIN 72552 is the switched supply behind the ignition switch, so the
    end of a contact 30-15 is a rail too, unless the vehicle names another place.
    """
    rails = {mark: place for mark, place in vehicle.rails.items() if mark != "31"}
    for element in found:
        if element.kind == "switch" and element.name == "30-15":
            rails.setdefault("15", element.bottom)
    return rails


def _rank(
    found: Iterable[Element], supplies: list[str], ground: str
) -> dict[str, tuple[float, int, int]]:
    """Return a sort key for each place that never falls along a current.

    Where no current runs, as to a spare way of a connector, supply-side places come
    after what leads to them and ground-side places before.
    """
    near: dict[str, set[str]] = defaultdict(set)
    for element in found:
        near[element.top].add(element.bottom)
        near[element.bottom].add(element.top)
    level = _potentials(near, supplies[0], ground)
    steps = {supplies[0]: 0}
    waiting = [supplies[0]]
    for place in waiting:
        for other in sorted(near[place] - steps.keys()):
            steps[other] = steps[place] + 1
            waiting.append(other)
    return {
        place: (
            -round(level[place], 9),
            steps.get(place, len(near)) * (1 if level[place] > 0.5 else -1),
            index,
        )
        for index, place in enumerate(near)
    }


def _potentials(
    near: dict[str, set[str]], supply: str, ground: str
) -> dict[str, float]:
    """Return potentials between 1 at supply and 0 at ground, by star-mesh steps. [-]"""
    links = {p: dict.fromkeys(sorted(others), 1.0) for p, others in near.items()}
    stars: list[tuple[str, dict[str, float]]] = []
    left = [place for place in links if place not in (supply, ground)]
    while left:
        place = min(left, key=lambda p: len(links[p]))
        left.remove(place)
        star = links.pop(place)
        stars.append((place, star))
        total = sum(star.values())
        for a, from_a in star.items():
            del links[a][place]
            for b, to_b in star.items():
                if a != b:
                    links[a][b] = links[a].get(b, 0.0) + from_a * to_b / total
    level = {supply: 1.0, ground: 0.0}
    for place, star in reversed(stars):
        total = sum(star.values())
        level[place] = sum(g * level[p] for p, g in star.items()) / (total or 1.0)
    return level
