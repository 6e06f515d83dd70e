"""Tracks: which parts stand below one another, in which row, in which order.

Every chain of parts becomes one straight vertical track. Where a place joins more than
two things, one way in and one way out go straight on; each other one is a *branch*, a
horizontal line with a dot of its own. Rows follow the kind of part. The order of tracks
is searched for the fewest crossings.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from ohmwork.drawing.circuit import CONTACTS, Circuit, Element

ROWS = {
    "switch": 0,
    "relay": 0,
    "fuse": 4,
    "coil": 4,
    "lamp": 10,
    "battery": 10,
    "ground": 14,
}
"""Row each kind would like; all even, the odd ones are for splices."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A wire or contact that leaves or reaches a place sideways."""

    place: str
    element: Element
    arrives: bool
    """Whether its current flows into the place."""
    side: str
    """above, below (of the symbol), inside (of a contact), splice"""


@dataclass(frozen=True, slots=True, kw_only=True)
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
    straight : place to the pair of elements that go straight on, where not the first.
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
        for element in self.circuit.elements:
            upper = self.circuit.owner.get(element.top)
            lower = self.circuit.owner.get(element.bottom)
            if element.kind != "wire":
                lower = element
                branch = self.branches.get((element.top, element))
            else:
                branch = self.branches.get((element.top, element))
                if lower is None or element.top in self.circuit.rails.values():
                    continue
                if branch is None or branch.side != "above":
                    other = self.branches.get((element.bottom, element))
                    branch = other if other and other.side == "below" else None
            if upper is None or upper == lower:
                continue
            least = 0 if branch and branch.side != "splice" else 1
            found[upper, lower] = max(least, found.get((upper, lower), 0))
        return tuple((a, b, least) for (a, b), least in found.items())

    @cached_property
    def row(self) -> dict[Element, int]:
        """Row of each symbol: that of its kind, or further down if current demands."""
        circuit = self.circuit
        rows = {s: self._wish(s) for s in circuit.stations}
        groups: dict[tuple[str, int], list[Element]] = defaultdict(list)
        for station in circuit.stations:
            key = station.part if station.kind == "way" else station.kind
            if station.kind in ("way", "lamp", "ground"):
                groups[key, self._above(station)].append(station)
        for _ in circuit.stations:
            before = dict(rows)
            for upper, lower, least in self.links:
                row = max(rows[lower], rows[upper] + least)
                rows[lower] = row + (row % 2 != (lower.kind == "splice"))
            for group in groups.values():
                rows.update(dict.fromkeys(group, max(rows[s] for s in group)))
            if rows == before:
                break
        return rows

    def _wish(self, station: Element) -> int:
        upstream = self.circuit.feeds_load(station)
        if station.kind == "splice":
            return 5 if upstream else 13
        if station.kind == "way":
            in_unit = station.part in self.circuit.units
            return (8 if in_unit else 2) if upstream else 12
        return ROWS[station.kind]

    def _above(self, station: Element) -> int:
        """How many symbols of the same sort lie above, at most, along any current."""
        same = (station.kind, station.part if station.kind == "way" else "")
        best: dict[Element, int] = {}

        def count(at: Element) -> int:
            if at not in best:
                best[at] = 0
                ways = [a for a, b, _ in self.links if b == at]
                best[at] = max(
                    (
                        count(a) + ((a.kind, a.part if a.kind == "way" else "") == same)
                        for a in ways
                    ),
                    default=0,
                )
            return best[at]

        return count(station)

    def lanes(self, order: tuple[int, ...]) -> dict[Branch, int]:
        """Return the lane of each branch, 0 next to its symbols.

        Branches whose lines would lie on one another get different lanes. Of two, the
        one that leaves further reaches over the other, so that neither is crossed.
        """
        position = {track: i for i, track in enumerate(order)}
        shelves: dict[tuple[int, str], list[Branch]] = defaultdict(list)
        spans: dict[Branch, tuple[int, int]] = {}
        for branch in self.branches.values():
            owner = self.circuit.owner[branch.place]
            ends = (position[self.column[owner]], position[self.column[branch.element]])
            spans[branch] = (min(ends), max(ends))
            shelves[self.row[owner], branch.side].append(branch)
        lane: dict[Branch, int] = {}
        for (_, side), shelf in shelves.items():

            def nearest(branch: Branch, side: str = side) -> tuple[float, ...]:
                low, high = spans[branch]
                far = low - high
                inward = branch.arrives == (side == "below")
                return (
                    (branch.arrives is False) if side == "splice" else 0,
                    -far if (inward or side == "above") and side != "splice" else far,
                    position[self.column[branch.element]],
                )

            for branch in sorted(shelf, key=nearest):
                low, high = spans[branch]
                taken = {
                    lane[other]
                    for other in shelf
                    if other in lane
                    and (
                        other.place == branch.place
                        or (spans[other][0] <= high and low <= spans[other][1])
                    )
                }
                lane[branch] = next(i for i in range(len(shelf)) if i not in taken)
        return lane

    def height(self, branch: Branch, lane: int) -> float:
        """Return where a branch runs, in rows, for counting crossings."""
        row = self.row[self.circuit.owner[branch.place]]
        at_top = branch.place == self.circuit.owner[branch.place].top
        return {
            "above": row - 0.3 - 0.02 * lane,
            "inside": row + (-0.1 if at_top else 0.1),
            "splice": row + 0.02 * lane,
            "below": row + 0.3 + 0.02 * lane,
        }[branch.side]

    def cost(self, order: tuple[int, ...]) -> float:
        """Return how bad an order of tracks is; crossings outweigh all else. [-]"""
        position = {track: i for i, track in enumerate(order)}
        lanes = self.lanes(order)
        levels = {b: self.height(b, lanes[b]) for b in lanes}
        reach = {
            position[i]: (
                levels[t.start] if t.start else self._rail_height(t.rail),
                levels[t.end] if t.end else self._foot(t),
            )
            for i, t in enumerate(self.tracks)
        }

        def crossed(low: int, high: int, level: float) -> int:
            inside = range(low + 1, high)
            return sum(reach[i][0] < level < reach[i][1] for i in inside)

        crossings = other = length = 0.0
        for branch, level in levels.items():
            owner = self.circuit.owner[branch.place]
            ends = (position[self.column[owner]], position[self.column[branch.element]])
            crossings += crossed(min(ends), max(ends), level)
            length += max(ends) - min(ends)
        for mark, place in self.circuit.rails.items():
            fed = [position[i] for i, t in enumerate(self.tracks) if t.rail == mark]
            if self.circuit.ins[place] and fed:
                feed = position[self.column[self.circuit.owner[place]]]
                crossings += crossed(feed, max(fed) + 1, self._rail_height(mark))
                crossings += len(order) * (min(fed) < feed)
                length += max(fed) - feed
        gangs: dict[str, list[int]] = defaultdict(list)
        for element, column in self.column.items():
            if element.kind == "switch":
                gangs[element.part].append(position[column])
            for connector, unit in self.circuit.units.items():
                if element in unit:
                    gangs[connector].append(position[column])
        for members in gangs.values():
            other += max(members) - min(members) + 1 - len(set(members))
        battery = position[self.column[self._battery]]
        turns = sum(a > b for i, a in enumerate(order) for b in order[i + 1 :])
        return 1e4 * crossings + 300 * other + 100 * battery + 10 * length + turns

    @cached_property
    def _battery(self) -> Element:
        return next(e for e in self.circuit.elements if e.kind == "battery")

    def _rail_height(self, mark: str | None) -> float:
        return -9.0 + [*self.circuit.rails, None].index(mark)

    def _foot(self, track: Track) -> float:
        last = track.elements[-1]
        if last.bottom in self.circuit.owner and last.kind != "ground":
            return self.row[self.circuit.owner[last.bottom]] + 0.1
        return math.inf

    def best_order(self) -> tuple[float, tuple[int, ...]]:
        """Return the lowest cost found and its order, by moving runs of tracks."""
        order = tuple(range(len(self.tracks)))
        cost = self.cost(order)
        while True:
            tried = min((self.cost(o), o) for o in _moves(order))
            if tried[0] >= cost:
                return cost, order
            cost, order = tried


def _moves(order: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Yield orders in which one run of up to three tracks has moved or turned round."""
    yield order
    size = len(order)
    for run in range(1, min(3, size - 1) + 1):
        for start in range(size - run + 1):
            moving = order[start : start + run]
            rest = order[:start] + order[start + run :]
            for at in range(len(rest) + 1):
                yield rest[:at] + moving + rest[at:]
                if run > 1:
                    yield rest[:at] + moving[::-1] + rest[at:]


def best_plan(circuit: Circuit) -> tuple[Plan, tuple[int, ...]]:
    """Return the plan and order of tracks of lowest cost found.

    Each place with a choice of what goes straight on is tried in turn, until no change
    betters the whole.
    """
    straight: dict[tuple[str, bool], Element] = {}
    plan = Plan(circuit, straight)
    cost, order = plan.best_order()
    choices = [
        (place, arrives, element)
        for place, owner in circuit.owner.items()
        for arrives, ends in ((True, circuit.ins), (False, circuit.outs))
        if owner not in ends[place] and len(ends[place]) > 1
        for element in ends[place]
    ]
    better = True
    while better:
        better = False
        for place, arrives, element in choices:
            other = Plan(circuit, {**plan.straight, (place, arrives): element})
            found, its_order = other.best_order()
            if found < cost:
                plan, cost, order, better = other, found, its_order, True
    return plan, order


__all__ = ["CONTACTS", "Branch", "Plan", "Track", "best_plan"]
