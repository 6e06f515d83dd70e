"""Tracks: which parts stand below one another, and in which row.

Every chain of parts becomes one straight vertical track. Where a place joins more than
two things, one way in and one way out go straight on; each other one is a *branch*, a
horizontal line with a dot of its own. Rows follow the kind of part.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from ohmwork.drawing.circuit import PLAIN_LOADS, SENSORS, Circuit, Element

ROWS = {
    "switch": 0,
    "relay": 0,
    "flasher": 2,
    "fuse": 4,
    "breaker": 4,
    "coil": 4,
    "step": 6,
    "module": 8,
}
"""Row each kind would like, others 10; all even, the odd ones are for splices. Ground
points stand below everything."""
BEFORE_A_LOAD = 4
"""Row a load would like whose current goes on through another one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Branch:
    """A wire or contact that leaves or reaches a place sideways."""

    place: str
    element: Element
    arrives: bool
    """Whether its current flows into the place."""
    side: str
    """above, below (of the symbol), inside (of a contact), splice"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A chain of elements from top to bottom."""

    elements: tuple[Element, ...]
    rail: str | None
    """Mark of the supply rail it hangs from; None when it starts at a branch."""
    start: Branch | None
    end: Branch | None


class Plan:
    """The tracks of a circuit for one choice of what goes straight on.

    Parameters
    ----------
    circuit : the directed graph.
    straight : what goes straight on, where it is not the first of the file; by place
        and whether it arrives there.
    """

    def __init__(
        self, circuit: Circuit, straight: dict[tuple[str, bool], Element]
    ) -> None:
        self.circuit = circuit
        self.straight = straight
        self.branches: dict[tuple[str, Element], Branch] = {}
        for place in circuit.owner:
            for branch in self._branches(place):
                self.branches[place, branch.element] = branch
        self.tracks = tuple(self._tracks())

    def passing(self, place: str, arrives: bool) -> Element | None:
        """Return the element that goes straight into, or out of, a place."""
        ends = self.circuit.ins if arrives else self.circuit.outs
        choices = ends[place]
        owner = self.circuit.owner[place]
        if owner in choices:
            return owner
        if not choices or (not arrives and place in self.circuit.rails.values()):
            return None
        return self.straight.get((place, arrives), choices[0])

    def _branches(self, place: str) -> Iterator[Branch]:
        owner = self.circuit.owner[place]
        for arrives, ends in ((True, self.circuit.ins), (False, self.circuit.outs)):
            if not arrives and place in self.circuit.rails.values():
                continue
            for element in ends[place]:
                if element == self.passing(place, arrives):
                    continue
                if owner.kind == "splice":
                    side = "splice"
                elif element.kind != "wire":
                    side = "inside"
                else:
                    side = "above" if place == owner.top else "below"
                yield Branch(place=place, element=element, arrives=arrives, side=side)

    def _tracks(self) -> Iterator[Track]:
        circuit = self.circuit
        rails = {place: mark for mark, place in circuit.rails.items()}
        waiting: list[Element] = []
        for place in rails:
            waiting += circuit.outs[place]
        waiting += [
            e for e in circuit.elements if not circuit.ins[e.top] and e.top not in rails
        ]
        waiting += [b.element for b in self.branches.values() if not b.arrives]
        for first in dict.fromkeys(waiting):
            chain = [first]
            end = None
            while True:
                place = chain[-1].bottom
                if place not in circuit.owner:
                    break
                end = self.branches.get((place, chain[-1]))
                following = self.passing(place, arrives=False)
                if end is not None or following is None:
                    break
                chain.append(following)
            yield Track(
                elements=tuple(chain),
                rail=rails.get(first.top),
                start=self.branches.get((first.top, first)),
                end=end,
            )

    @cached_property
    def column(self) -> dict[Element, int]:
        """Number of the track that holds each element, from 0 in order of `tracks`."""
        found = {e: i for i, track in enumerate(self.tracks) for e in track.elements}
        for place, splice in self.circuit.splices.items():
            for arrives in (True, False):
                element = self.passing(place, arrives)
                if element is not None:
                    found[splice] = found[element]
        return found

    def stations(self, track: Track) -> Iterator[Element]:
        """Yield the symbols on a track from top to bottom."""
        for element in track.elements:
            splice = self.circuit.splices.get(element.top)
            if splice is not None and (element.top, element) not in self.branches:
                yield splice
            if element.kind != "wire":
                yield element

    @cached_property
    def links(self) -> tuple[tuple[Element, Element, int], ...]:
        """Pairs of symbols, upper and lower, and how many rows must lie between."""
        found: dict[tuple[Element, Element], int] = {}
        for upper, lower, least in self._links():
            upper, lower = self.circuit.lead(upper), self.circuit.lead(lower)
            if upper is not lower:
                found[upper, lower] = max(least, found.get((upper, lower), 0))
        return tuple((a, b, least) for (a, b), least in found.items())

    def _links(self) -> Iterator[tuple[Element, Element, int]]:
        owners, branches = self.circuit.owner, self.branches
        for element in self.circuit.elements:
            upper, lower = owners.get(element.top), owners.get(element.bottom)
            start = branches.get((element.top, element))
            end = branches.get((element.bottom, element))
            if element.kind != "wire":
                if upper is not None:
                    beside = start and upper.top == element.top
                    yield upper, element, _least(start) if beside else 1
                if lower is not None:
                    beside = end and lower.bottom == element.bottom
                    yield element, lower, _least(end) if beside else 1
            elif upper is not None and lower is not None:
                if element.top in self.circuit.rails.values():
                    continue
                branch = start if start and start.side == "above" else None
                if branch is None and end and end.side == "below":
                    branch = end
                yield upper, lower, _least(branch)

    @cached_property
    def row(self) -> dict[Element, int]:
        """Row of each symbol: that of its kind, or further down if current demands."""
        circuit = self.circuit
        leads = [s for s in circuit.stations if not s.is_pin]
        rows = {s: self._wish(s) for s in leads}
        groups: dict[tuple[tuple[str, str], int], list[Element]] = defaultdict(list)
        for station in leads:
            if station.kind in ("way", *PLAIN_LOADS):
                groups[_sort(station), self._above(station)].append(station)
        for _ in leads:
            before = dict(rows)
            for upper, lower, least in self.links:
                row = max(rows[lower], rows[upper] + least)
                rows[lower] = row + (row % 2 != (lower.kind == "splice"))
            for contact in self._lower_contacts(rows):
                rows[contact] += 2 * any(
                    rows[s] == rows[contact] for s in leads if s.kind in PLAIN_LOADS
                )
            for group in groups.values():
                rows.update(dict.fromkeys(group, max(rows[s] for s in group)))
            if rows == before:
                break
        lowest = max(row for s, row in rows.items() if s.kind != "ground")
        foot = lowest + 2 - lowest % 2
        rows.update({s: foot for s in leads if s.kind == "ground"})
        return {s: rows[circuit.lead(s)] for s in circuit.stations}

    def _lower_contacts(self, rows: dict[Element, int]) -> list[Element]:
        """Return contacts that stand below other contacts of their part.

        Loads may lie between both, as the motor of a window does.
        """
        first: dict[str, int] = {}
        contacts = [s for s in rows if s.kind in ("switch", "relay")]
        for contact in contacts:
            first[contact.part] = min(rows[contact], first.get(contact.part, 99))
        return [c for c in contacts if rows[c] > first[c.part]]

    def _wish(self, station: Element) -> int:
        upstream = self.circuit.is_upstream(station)
        if station.kind == "splice":
            return 5 if upstream else 13
        if station.kind == "way":
            in_unit = station.part in self.circuit.units
            return (8 if in_unit else 2) if upstream else 12
        if upstream and (station.kind in PLAIN_LOADS):
            return BEFORE_A_LOAD
        return ROWS.get(station.kind, 10)

    def _above(self, station: Element) -> int:
        """How many symbols of the same sort lie above, at most, along any current."""
        same = _sort(station)
        over: dict[Element, list[Element]] = defaultdict(list)
        for upper, lower, _ in self.links:
            over[lower].append(upper)
        best: dict[Element, int] = {}

        def count(at: Element) -> int:
            if at not in best:
                best[at] = 0  # a ring of contacts must not count for ever
                best[at] = max(
                    (count(a) + (_sort(a) == same) for a in over[at]), default=0
                )
            return best[at]

        return count(station)


def _least(branch: Branch | None) -> int:
    """Return how many rows must lie between what a line joins, at least."""
    return 0 if branch and branch.side != "splice" else 1


def _sort(station: Element) -> tuple[str, str]:
    """Return what symbols that should stand in one row have in common."""
    kind = station.kind
    if kind in PLAIN_LOADS and kind not in SENSORS:
        kind = "load"
    return (kind, station.part if station.kind == "way" else "")
