"""One circuit of a vehicle: its loads, and all that the current to them needs.

From each terminal of a load the wiring is followed to supply and to ground. What lies
on such a way belongs to the circuit; a branch that leads elsewhere does not. A relay on
the way brings the circuit of its coil, a module brings its own supply and ground and
the inputs that turn its output on, a sensor brings what feeds it.
"""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import ClassVar, TypeAlias

from ohmwork.errors import UnknownNameError
from ohmwork.parts import (
    Alternator,
    Body,
    Connector,
    Control,
    Flasher,
    Fuse,
    GroundPoint,
    Module,
    Part,
    Potentiometer,
    Relay,
    ResistorPack,
    Splice,
    Switch,
    Thermistor,
    TwinLamp,
    Wiper,
    Wire,
)
from ohmwork.vehicle import Vehicle, first_upper

_OUTPUTS = frozenset({"high_side", "low_side"})
_REFERENCES = frozenset({"reference", "low_reference"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Terminals(Part):
    """Terminals of a part at which wires of a circuit meet that does not use the part.

    It stands in no vehicle file; `circuit_of` puts it in the part's place.
    """

    kind: ClassVar[str] = "terminals"

    marks: tuple[str, ...]

    @property
    def sockets(self) -> tuple[str, ...]:
        """The terminals in use."""
        return tuple(f"{self.name}:{mark}" for mark in self.marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfSwitch(Switch):
    """A switch of which a circuit uses some contacts, and passes other terminals."""

    passed: tuple[str, ...] = ()
    """Terminals at which wires meet, without a contact that is used."""

    @property
    def sockets(self) -> tuple[str, ...]:
        """Terminals of the contacts in use, and those that are passed."""
        used = [mark for c in self.contacts for mark in (c.start, c.end)]
        return tuple(f"{self.name}:{m}" for m in dict.fromkeys((*used, *self.passed)))


Positions: TypeAlias = frozenset[str]


@dataclass(frozen=True, slots=True)
class Link:
    """Something that leads current from place to place."""

    part: str
    a: str
    b: str
    closed_in: Positions = frozenset({"any"})
    """Positions of its part in which it conducts."""
    is_contact: bool = False


def circuit_of(vehicle: Vehicle, name: str) -> Vehicle:
    """Return the part of a vehicle that one of its circuits needs.

    Parts keep their names. A connector keeps the ways that are used, a switch its
    contacts, a module its pins; controls and states are reduced to what is left.

    Parameters
    ----------
    vehicle : any vehicle.
    name : a name in ``vehicle.circuits``.

    Raises
    ------
    UnknownNameError
        If the vehicle has no circuit of this name.
    """
    if name not in vehicle.circuits:
        names = ", ".join(vehicle.circuits) or "no circuits: it is one by itself"
        raise UnknownNameError(f"No circuit '{name}'. {vehicle.title} has {names}.")
    return _Tracing(vehicle).circuit(name)


class _Tracing:
    """One walk through the wiring of a vehicle."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.near: dict[str, list[Link]] = defaultdict(list)
        for link in links(vehicle):
            self.near[link.a].append(link)
            self.near[link.b].append(link)
        self.pins = {
            f"{module.name}:{pin.name}": pin.does
            for module in vehicle.of_type(Module)
            for pin in module.pin_table
        }
        sensors = vehicle.of_type(Potentiometer) + vehicle.of_type(Thermistor)
        self.sensors = {place for sensor in sensors for place in sensor.sockets}
        self.ends = {vehicle.rails["30"], vehicle.plus_post, vehicle.rails["31"]}
        self.always = self.without_contact(self.ends)
        """Places that no contact parts from supply or ground."""
        self.used: set[Link] = set()
        self.whole: set[str] = set()
        """Parts that are used as they are, or with the pins in `touched`."""
        self.touched: set[str] = set()
        self.waiting: list[str] = []
        self.terminals: frozenset[str] = frozenset()
        """Terminals of the loads: one load may be fed through another."""

    def without_contact(self, ends: set[str]) -> set[str]:
        """Return the places that are joined to an end without a contact between."""
        found = set(ends)
        waiting = [*ends]
        for place in waiting:
            for link in self.near[place]:
                other = link.b if link.a == place else link.a
                if not link.is_contact and other not in found:
                    found.add(other)
                    waiting.append(other)
        return found

    def circuit(self, name: str) -> Vehicle:
        """Return the vehicle of one circuit."""
        vehicle, loads = self.vehicle, self.vehicle.circuits[name]
        for load in loads:
            self.add(vehicle[load.partition(":")[0]], load if ":" in load else None)
        self.terminals = frozenset(self.waiting)
        self.add_supply()
        done: set[str] = set()
        while self.waiting:
            place = self.waiting.pop()
            if place not in done:
                done.add(place)
                self.follow(place, self.ends_from(place))
        for link in self.used:
            self.touched |= {link.a, link.b}
        parts = {part.name: part for part in self.parts()}
        controls = {k: v for k, v in vehicle.controls.items() if k in parts}
        controls = {k: v for k, v in controls.items() if isinstance(parts[k], Control)}
        rails = {
            mark: place
            for mark, place in vehicle.rails.items()
            if mark in ("30", "31") or place in self.touched
        }
        return dataclasses.replace(
            vehicle,
            rails=rails,
            title=f"{first_upper(name)}: {vehicle.title}",
            controls=controls,
            circuits={name: loads},
            states={
                state: {k: v for k, v in settings.items() if k in controls}
                for state, settings in vehicle.states.items()
            },
            parts=parts,
        )

    def add(self, part: Part, place: str | None = None) -> None:
        """Take a part that uses current, and follow its terminals, or one of them."""
        is_new = part.name not in self.whole
        self.whole.add(part.name)
        if isinstance(part, Module):
            marks = (part.supply, part.wake, part.ground)
            own = [f"{part.name}:{mark}" for mark in marks]
            if place in self.pins:
                own += self.turned_on_by(part, place)
            self.waiting += own
            self.touched |= {place, *own} if place else set(own)
        elif isinstance(part, Relay):
            self.waiting += [f"{part.name}:86", f"{part.name}:85"]
        elif isinstance(part, TwinLamp) and place:
            self.waiting += [place, f"{part.name}:{part.ground}"]
        elif is_new:
            self.waiting += part.sockets
        if isinstance(part, Alternator):
            self.whole.add(part.engine)

    def turned_on_by(self, module: Module, place: str) -> Iterator[str]:
        """Yield the input that turns an output on, or the input itself."""
        for pin in module.pin_table:
            if place == f"{module.name}:{pin.name}":
                if pin.does == "input":
                    yield place
                elif pin.when:
                    yield f"{module.name}:{pin.when}"

    def add_supply(self) -> None:
        """Take the batteries, with the way to rail 30, between them, and to ground."""
        names = self.vehicle.batteries
        self.whole |= set(names)
        self.shortest(self.vehicle.rails["30"], self.vehicle.plus_post)
        self.shortest(self.vehicle.reference, self.vehicle.rails["31"])
        for lower, upper in pairwise(names):
            self.shortest(f"{lower}:+", f"{upper}:-")

    def ends_from(self, place: str) -> set[str]:
        """Return where ways from a terminal may end."""
        does = {"input"} if place in self.sensors else _OUTPUTS
        if place in self.sensors or place in self.pins:
            does |= _REFERENCES
        ends = {p for p, what in self.pins.items() if what in does}
        ends |= self.ends | self.terminals
        if self.pins.get(place) == "input":
            ends |= self.sensors
        ends |= {f"{a.name}:D+" for a in self.vehicle.of_type(Alternator)}
        part = self.vehicle.part_of(place)
        if isinstance(part, Wiper) and place == f"{part.name}:31b":
            ends.add(f"{part.name}:53")  # to stop in the park position
        return ends - {place}

    def follow(self, start: str, ends: set[str]) -> None:
        """Take what lies on the ways from a terminal, and what these parts bring."""
        for link in self.ways(start, ends) - self.used:
            self.used.add(link)
            part = self.vehicle[link.part]
            if isinstance(part, Relay):
                self.add(part)
            elif isinstance(part, Flasher):
                self.whole.add(part.name)
                self.waiting.append(f"{part.name}:31")
            for place in {link.a, link.b} & ends - self.ends:
                self.add(self.vehicle.part_of(place), place)

    def ways(self, start: str, ends: set[str]) -> set[Link]:
        """Return the links on all ways that lead from a place to an end.

        No way needs a switch or a relay in two positions at once.
        """
        leads = self.leading(start, ends)
        found: set[Link] = set()

        def go(place: str, way: dict[str, Link], stands: dict[str, Positions]) -> None:
            for link, other in self.onwards(place):
                left = stands.get(link.part, link.closed_in) & link.closed_in
                if not left or other in way or other == start or other not in leads:
                    continue
                longer = {**way, other: link}
                if other in ends:
                    found.update(longer.values())
                else:
                    go(other, longer, {**stands, link.part: left})

        go(start, {}, {})
        return found

    def leading(self, start: str, ends: set[str]) -> set[str]:
        """Return the places around a place from which an end is reached."""
        before: dict[str, list[str]] = {start: []}
        waiting = [start]
        for place in waiting:
            for _, other in self.onwards(place):
                if other not in before:
                    before[other] = []
                    if other not in ends:
                        waiting.append(other)
                before[other].append(place)
        leads = set(before) & ends
        found = [*leads]
        for place in found:
            found += (p for p in before[place] if p not in leads)
            leads.update(before[place])
        return leads

    def onwards(self, place: str) -> Iterator[tuple[Link, str]]:
        """Yield the links that lead on from a place, and where they lead.

        From a place that is always at supply or at ground none goes through a contact:
        it would lead to what that supply feeds.
        """
        for link in self.near[place]:
            if not (link.is_contact and place in self.always):
                yield link, link.b if link.a == place else link.a

    def shortest(self, start: str, end: str) -> None:
        """Take the way with the fewest links between two places."""
        came: dict[str, tuple[Link, str]] = {}
        waiting = [start]
        for place in waiting:
            for link in self.near[place]:
                other = link.b if link.a == place else link.a
                if other != start and other not in came:
                    came[other] = (link, place)
                    waiting.append(other)
        while end in came:
            link, end = came[end]
            self.used.add(link)

    def parts(self) -> Iterator[Part]:
        """Yield what is left of each part, in the order of the file."""
        used: dict[str, list[Link]] = defaultdict(list)
        for link in self.used:
            used[link.part].append(link)
        for part in self.vehicle.parts.values():
            touched = [place for place in part.places if place in self.touched]
            if part.name in used or part.name in self.whole:
                yield _reduced(part, used[part.name], touched)
            elif isinstance(part, (Splice, Body, GroundPoint)):
                if touched or part.places[0] == self.vehicle.rails["31"]:
                    yield part
            elif touched:
                marks = tuple(place.partition(":")[2] for place in touched)
                yield Terminals(name=part.name, label=part.label, marks=marks)


def links(vehicle: Vehicle) -> Iterator[Link]:
    """Yield everything through which current can flow without being used."""
    for name, part in vehicle.parts.items():
        if isinstance(part, Wire):
            yield Link(name, part.start, part.end)
        elif isinstance(part, GroundPoint):
            yield Link(name, part.sockets[0], part.body)
        elif isinstance(part, Connector):
            for socket, pin in zip(part.sockets, part.pins, strict=True):
                yield Link(name, socket, pin)
        elif isinstance(part, Fuse):
            start, end = part.sockets
            yield Link(name, start, end)
        elif isinstance(part, Switch):
            for contact in part.contacts:
                start, end = (f"{name}:{mark}" for mark in (contact.start, contact.end))
                yield Link(
                    name, start, end, frozenset(contact.closed_in), is_contact=True
                )
        elif isinstance(part, Relay):
            for mark in ("87", "87a") if part.changeover else ("87",):
                yield Link(
                    name,
                    f"{name}:30",
                    f"{name}:{mark}",
                    frozenset({mark}),
                    is_contact=True,
                )
        elif isinstance(part, ResistorPack):
            for step, _ in part.steps:
                start, end = step.split("-")
                yield Link(name, f"{name}:{start}", f"{name}:{end}")
        elif isinstance(part, Flasher):
            yield Link(name, f"{name}:49", f"{name}:49a")


def _reduced(part: Part, used: list[Link], touched: list[str]) -> Part:
    """Return a part without what the circuit does not use of it."""
    if isinstance(part, Connector):
        ways = tuple(
            way
            for way, *ends in zip(part.ways, part.sockets, part.pins, strict=True)
            if set(ends).intersection(touched)
        )
        return dataclasses.replace(part, ways=ways)
    if isinstance(part, Switch):
        pairs = {(link.a, link.b) for link in used}
        contacts = tuple(
            contact
            for contact in part.contacts
            if (f"{part.name}:{contact.start}", f"{part.name}:{contact.end}") in pairs
        )
        ends = {mark for c in contacts for mark in (c.start, c.end)}
        marks = [place.partition(":")[2] for place in touched]
        return PartOfSwitch(
            name=part.name,
            label=part.label,
            positions=part.positions,
            contacts=contacts,
            passed=tuple(mark for mark in marks if mark not in ends),
        )
    if isinstance(part, Relay):
        return dataclasses.replace(part, changeover=f"{part.name}:87a" in touched)
    if isinstance(part, Module):
        pins = tuple(p for p in part.pin_table if f"{part.name}:{p.name}" in touched)
        return dataclasses.replace(part, pin_table=pins)
    return part
