"""The vehicle as a directed graph: everything drawn between two places, supply on top.

Which end of a part is its supply side follows from `ohmwork.drawing.levels` or, of
parts that are drawn as a box, from their terminals.
"""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from ohmwork.drawing.levels import hangs, levels
from ohmwork.parts import (
    Alternator,
    Battery,
    Breaker,
    Connector,
    Flasher,
    Fuse,
    GroundPoint,
    Lamp,
    Load,
    Module,
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

BOXES = ("starter", "alternator", "wiper", "flasher", "potentiometer", "module")
"""Kinds of part drawn as one box over several tracks."""
PLAIN_LOADS = ("lamp", "led", "heater", "horn", "solenoid", "motor", "thermistor")
LOADS = ("coil", "battery", *PLAIN_LOADS, *BOXES)
SENSORS = ("potentiometer", "thermistor")
GROUND_SIDE = 0.2
"""Potential up to which a place counts as behind its load. [-]"""
INNER = "!"
"""Ends the name of the end that a further terminal of a box has inside it."""


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
    """wire, splice, way, ground, bolt, fuse, breaker, switch, relay (contact), coil,
    step (of a resistor pack), or the kind of the part"""
    top: str
    """Place towards supply."""
    bottom: str
    """Place towards ground."""
    name: str = ""
    """Way of a connector, contact such as ``15-56``, or further terminal of a box."""

    @property
    def is_pin(self) -> bool:
        """Whether it is a further terminal of a box, which has one end inside it."""
        return self.kind in BOXES and self.name != ""

    def turned(self) -> Element:
        """Return the element the other way up."""
        return dataclasses.replace(self, top=self.bottom, bottom=self.top)


def place_name(place: str) -> str:
    """Return the vehicle's name of a place that may be drawn more than once."""
    return place.partition("#")[0]


def elements(vehicle: Vehicle) -> Iterator[Element]:
    """Yield what a sheet shows of each part, as it stands in the file.

    A filament or a terminal of a box that no wire reaches is left out.
    """
    wired = vehicle.wired
    for part in vehicle.parts.values():
        yield from _elements(part, vehicle.rails["31"], wired)


def _elements(part: Part, ground: str, wired: frozenset[str]) -> Iterator[Element]:
    name, ends = part.name, part.sockets
    if isinstance(part, Wire):
        yield Element(part=name, kind="wire", top=part.start, bottom=part.end)
    elif isinstance(part, Fuse):
        kind = "breaker" if isinstance(part, Breaker) else "fuse"
        yield Element(part=name, kind=kind, top=ends[0], bottom=ends[1])
    elif isinstance(part, (Battery, Lamp, Load, Thermistor)):
        yield Element(part=name, kind=part.kind, top=ends[0], bottom=ends[1])
    elif isinstance(part, TwinLamp):
        for mark in (part.main, part.second):
            if f"{name}:{mark}" in wired:
                yield _between(name, "lamp", mark, part.ground)
    elif isinstance(part, Connector):
        for way, top, bottom in zip(part.ways, ends, part.pins, strict=True):
            yield Element(part=name, kind="way", top=top, bottom=bottom, name=way)
    elif isinstance(part, Switch):
        for contact in part.contacts:
            yield _between(name, "switch", contact.start, contact.end)
    elif isinstance(part, Relay):
        yield _between(name, "coil", "86", "85")
        for mark in ("87", "87a") if part.changeover else ("87",):
            yield _between(name, "relay", "30", mark)
    elif isinstance(part, ResistorPack):
        for step, _ in part.steps:
            yield _between(name, "step", *step.split("-"))
    elif isinstance(part, GroundPoint):
        kind = "ground" if part.body == ground else "bolt"
        yield Element(part=name, kind=kind, top=ends[0], bottom=part.body)
    elif part.kind in BOXES:
        top, bottom, tops, bottoms = _terminals(part)
        core = _between(name, part.kind, top, bottom)
        yield dataclasses.replace(core, name="")
        for mark in (m for m in (*tops, *bottoms) if f"{name}:{m}" in wired):
            place = f"{name}:{mark}"
            pin = Element(
                part=name, kind=part.kind, top=place, bottom=place + INNER, name=mark
            )
            yield pin if mark in tops else pin.turned()


def _terminals(part: Part) -> tuple[str, str, list[str], list[str]]:
    """Return the terminals of a box: a pair on one track, others on top and at foot."""
    if isinstance(part, Starter):
        return "30", "31", ["50"], []
    if isinstance(part, Alternator):
        return "B+", "31", ["D+", *(["S"] if part.sense else [])], []
    if isinstance(part, Wiper):
        return "53", "31", ["53b", "53a", "31b"], []
    if isinstance(part, Flasher):
        return "49", "49a", [], ["31"]
    if isinstance(part, Potentiometer):
        return "1", "3", ["2"], []
    assert isinstance(part, Module)
    tops: list[str] = [part.wake]
    bottoms: list[str] = []
    for pin in part.pin_table:
        (bottoms if hangs(pin) else tops).append(pin.name)
    return part.supply, part.ground, tops, bottoms


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
        rank = _rank(vehicle, found)
        directed = [
            e if _is_fixed(e) or rank[e.top] <= rank[e.bottom] else e.turned()
            for e in found
        ]
        directed = _turn_back(directed)
        self.elements = tuple(self._repeat_grounds(directed))
        self.ins: dict[str, list[Element]] = defaultdict(list)
        self.outs: dict[str, list[Element]] = defaultdict(list)
        self.boxes: dict[str, list[Element]] = defaultdict(list)
        """Part drawn as a box, to its pair of terminals and its further ones."""
        for element in self.elements:
            self.outs[element.top].append(element)
            self.ins[element.bottom].append(element)
            if element.kind in BOXES:
                self.boxes[element.part].append(element)
        drawn = {p for e in found if e.kind != "wire" for p in (e.top, e.bottom)}
        bodies = [e.bottom for e in found if e.kind == "bolt"]
        wired = [p for e in found if e.kind == "wire" for p in (e.top, e.bottom)]
        drawn = {*drawn, self.ground}.difference(bodies)
        joints = (p for p in dict.fromkeys(wired + bodies) if p not in drawn)
        self.splices = {
            place: Element(
                part=vehicle.part_of(place).name, kind="splice", top=place, bottom=place
            )
            for place in joints
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
            ends = [element.top, element.bottom]
            if element.kind == "ground":
                ends.pop()
            for place in ends:
                if not place.endswith(INNER):
                    owners.setdefault(place, element)
        return owners

    def lead(self, station: Element) -> Element:
        """Return the pair of terminals of a station's box, or the station itself."""
        return self.boxes[station.part][0] if station.is_pin else station

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
                    for other in self.boxes.get(e.part, [e] if e.kind != "way" else []):
                        inside.add(other)
                        waiting += (other.top, other.bottom)
            foreign = {pins.get(p, connector) for p in places} - {connector}
            if any(e.kind in LOADS for e in inside) and not (
                foreign or places & rails or places & sockets
            ):
                inside |= {e for e in ways if e.part == connector}
                inside |= {s for p, s in self.splices.items() if p in places}
                found[connector] = frozenset(e for e in inside if e.kind != "wire")
        return found


def _turn_back(directed: list[Element]) -> list[Element]:
    """Turn wires that go from the top of a box to what stands above that box.

    A wire may run on from a terminal to another part whose current then comes back to
    the box. It is drawn from that part down to the terminal.
    """
    below: dict[str, set[str]] = defaultdict(set)
    tops: dict[str, set[str]] = defaultdict(set)
    for element in directed:
        a, b = element.top, element.bottom
        if element.kind in BOXES:
            a, b = (p if p[-1] != INNER else element.part for p in (a, b))
            if element.top == a:
                tops[element.part].add(a)
                below[a].add(element.part)
            below[element.part].add(b)
        below[a].add(b)
    turned = []
    for element in directed:
        box = element.top.partition(":")[0]
        if element.kind == "wire" and element.top in tops[box]:
            seen = {element.bottom}
            waiting = [element.bottom]
            for place in waiting:
                waiting += below[place] - seen
                seen |= below[place]
            element = element.turned() if box in seen else element
        turned.append(element)
    return turned


def _is_fixed(element: Element) -> bool:
    """Whether the terminals of an element say which end is up, not the current."""
    return element.kind in (*BOXES, "thermistor")


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
    vehicle: Vehicle, found: Iterable[Element]
) -> dict[str, tuple[float, int, int]]:
    """Return a sort key for each place that never falls along a current.

    Where no current runs, as to a spare way of a connector, supply-side places come
    after what leads to them and ground-side places before.
    """
    supply = vehicle.rails["30"]
    near: dict[str, set[str]] = {place: set() for place in vehicle.places}
    for element in found:
        a, b = element.top, element.bottom
        if element.kind in SENSORS:
            continue
        if a.endswith(INNER):
            a = supply
        if not b.endswith(INNER):
            near[a].add(b)
            near[b].add(a)
    level = levels(vehicle)
    steps = {supply: 0}
    waiting = [supply]
    for place in waiting:
        for other in sorted(near[place] - steps.keys()):
            steps[other] = steps[place] + 1
            waiting.append(other)
    return {
        place: (
            -round(level[place], 9),
            steps.get(place, len(near)) * (1 if level[place] > GROUND_SIDE else -1),
            index,
        )
        for index, place in enumerate(near)
    }
