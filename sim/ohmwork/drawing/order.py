"""The order of tracks, searched for the fewest crossings.

Weights say what matters more: a crossing outweighs everything; then parts that belong
together stand together; then the battery comes first; then lines are short; and at last
the order of the vehicle's file decides.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations, islice

from ohmwork.drawing.circuit import Circuit, Element
from ohmwork.drawing.tracks import Branch, Plan, Track

CROSSING, APART, BATTERY, LENGTH = 1e4, 300.0, 100.0, 10.0
"""Cost of a crossing, of a stranger inside a group, of a track before the battery's,
and of a branch reaching one track further. [-]"""
PATIENCE = 400_000
"""How many tracks of how many orders are looked at before the best found must do.

The largest circuits of the vehicles that come with Ohmwork need half of it.
"""
LANE = 0.01
"""Height of a lane when crossings are counted. [rows]"""

Order = tuple[int, ...]
"""Numbers of tracks, from left to right."""


class Ordering:
    """All that the cost of an order depends on, for one plan.

    Parameters
    ----------
    plan : tracks and their rows.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        circuit, column = plan.circuit, plan.column
        self.branches = tuple(plan.branches.values())
        owners = [circuit.owner[b.place] for b in self.branches]
        self.ends = [
            (column[owner], column[branch.element])
            for owner, branch in zip(owners, self.branches, strict=True)
        ]
        self.shelves: dict[tuple[int, str], list[int]] = defaultdict(list)
        for i, (owner, branch) in enumerate(zip(owners, self.branches, strict=True)):
            self.shelves[plan.row[owner], branch.side].append(i)
        self.base = [
            plan.row[owner] + _side(branch, owner)
            for owner, branch in zip(owners, self.branches, strict=True)
        ]
        number = {branch: i for i, branch in enumerate(self.branches)}
        self.reach = [
            (
                number[t.start] if t.start else None,
                self._head(t),
                number[t.end] if t.end else None,
                self._foot(t),
            )
            for t in plan.tracks
        ]
        self.fed = [
            (
                column[circuit.owner[place]],
                [i for i, t in enumerate(plan.tracks) if t.rail == mark],
                -9.0 + i,
                plan.row[circuit.owner[place]] + 0.9,
            )
            for i, (mark, place) in enumerate(circuit.rails.items())
            if circuit.ins[place]
        ]
        self.boxes = [
            ({column[e] for e in box}, plan.row[box[0]])
            for box in circuit.boxes.values()
        ]
        self.groups = list(self._groups())
        battery = next(e for e in circuit.elements if e.kind == "battery")
        self.battery = column[battery]

    def _head(self, track: Track) -> float:
        """Height at which a track begins that leaves no branch. [rows]"""
        if track.rail:
            return -9.0 + [*self.plan.circuit.rails].index(track.rail)
        first = next(self.plan.stations(track), None)
        return self.plan.row[first] - 0.1 if first else math.nan

    def _foot(self, track: Track) -> float:
        """Height at which a track ends that reaches no branch. [rows]"""
        last = track.elements[-1]
        if last.bottom == self.plan.circuit.ground or last.kind == "ground":
            return math.inf
        owner = self.plan.circuit.owner.get(last.bottom, last)
        return self.plan.row[owner] + 0.1

    def _groups(self) -> Iterator[set[int]]:
        """Yield tracks that should stand together: units, contacts of a switch."""
        column = self.plan.column
        gangs: dict[str, set[int]] = defaultdict(set)
        for element, track in column.items():
            if element.kind in ("switch", "lamp"):
                gangs[element.part].add(track)
        yield from gangs.values()
        for unit in self.plan.circuit.units.values():
            yield {column[e] for e in unit}

    def lanes(self, order: Order) -> list[int]:
        """Return the lane of each branch, 0 next to its symbols.

        Lines that would lie on one another get different lanes. From top to bottom:
        what arrives, nearest first; then what leaves, furthest first. So a line reaches
        over or under the others that share its way.
        """
        position = _positions(order)
        spans = []
        for a, b in self.ends:
            low, high = position[a], position[b]
            spans.append((low, high) if low < high else (high, low))
        lanes = [0] * len(spans)
        for (_, side), shelf in self.shelves.items():
            if len(shelf) == 1:
                continue

            def downwards(i: int) -> tuple[bool, int, int]:
                arrives, span = self.branches[i].arrives, spans[i][1] - spans[i][0]
                return (not arrives, span if arrives else -span, i)

            done: list[int] = []
            for i in sorted(shelf, key=downwards, reverse=side == "above"):
                low, high = spans[i]
                place = self.branches[i].place
                below = (
                    lanes[j]
                    for j in done
                    if self.branches[j].place == place
                    or (spans[j][0] <= high and low <= spans[j][1])
                )
                lanes[i] = max(below, default=-1) + 1
                done.append(i)
        return lanes

    def cost(self, order: Order) -> float:
        """Return how bad an order of tracks is. [-]"""
        position = _positions(order)
        levels = [
            base + (-LANE if branch.side == "above" else LANE) * lane
            for base, branch, lane in zip(
                self.base, self.branches, self.lanes(order), strict=True
            )
        ]
        reach = []
        for track in order:
            start, top, end, bottom = self.reach[track]
            reach.append(
                (
                    top if start is None else levels[start],
                    bottom if end is None else levels[end],
                )
            )
        crossings = length = strangers = 0
        turns_up = [(position[feed], foot) for feed, _, _, foot in self.fed]
        for (a, b), level in zip(self.ends, levels, strict=True):
            low, high = sorted((position[a], position[b]))
            length += high - low
            for top, bottom in reach[low + 1 : high]:
                crossings += top < level < bottom
            for at, foot in turns_up:
                crossings += low <= at < high and level < foot
        for feed, fed, level, _ in self.fed:
            first = position[feed]
            last = max(first, *(position[i] for i in fed))
            length += last - first
            crossings += len(order) * any(position[i] < first for i in fed)
            for top, bottom in reach[first + 1 : last]:
                crossings += top < level < bottom
        for box, row in self.boxes:
            where = [position[i] for i in box]
            for at in range(min(where) + 1, max(where)):
                top, bottom = reach[at]
                crossings += order[at] not in box and top < row < bottom
            length += max(where) - min(where)
        for group in self.groups:
            where = [position[i] for i in group]
            strangers += max(where) - min(where) + 1 - len(where)
        turns = sum(a > b for a, b in combinations(order, 2))
        return (
            CROSSING * crossings
            + APART * strangers
            + BATTERY * position[self.battery]
            + LENGTH * length
            + turns
        )

    def best(self, patience: Iterator[int]) -> tuple[float, Order]:
        """Return the lowest cost found and its order, by moving runs of tracks.

        Parameters
        ----------
        patience : ends when no more orders should be tried; one item for each track.
        """
        size = len(self.plan.tracks)
        best = tuple(range(size))
        cost = self.cost(best)
        better = True
        while better:
            better = False
            for order in _moves(best):
                if len(tuple(islice(patience, size))) < size:
                    return cost, best
                found = self.cost(order)
                if found < cost:
                    best, cost, better = order, found, True
        return cost, best


def best_plan(circuit: Circuit) -> tuple[Plan, Order, dict[Branch, int]]:
    """Return the plan of lowest cost found, its order and the lanes of its branches.

    Each place with a choice of what goes straight on is tried in turn, until no change
    betters the whole, or patience ends.
    """
    plan = Plan(circuit, {})
    patience = iter(range(PATIENCE))
    cost, order = Ordering(plan).best(patience)
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
            if plan.passing(place, arrives) is element:
                continue
            other = Plan(circuit, {**plan.straight, (place, arrives): element})
            found, its_order = Ordering(other).best(patience)
            if found < cost:
                plan, cost, order, better = other, found, its_order, True
    ordering = Ordering(plan)
    lanes = zip(ordering.branches, ordering.lanes(order), strict=True)
    return plan, order, dict(lanes)


def _side(branch: Branch, owner: Element) -> float:
    """Height of a branch over or under its row. [rows]"""
    inside = -0.1 if branch.place == owner.top else 0.1
    return {"above": -0.3, "below": 0.3, "splice": 0.0, "inside": inside}[branch.side]


def _positions(order: Order) -> list[int]:
    position = [0] * len(order)
    for place, track in enumerate(order):
        position[track] = place
    return position


def _moves(order: Order) -> Iterator[Order]:
    """Yield orders in which one run of up to three tracks has moved or turned round."""
    size = len(order)
    for run in range(1, min(3, size - 1) + 1):
        for start in range(size - run + 1):
            moving = order[start : start + run]
            rest = order[:start] + order[start + run :]
            for at in range(len(rest) + 1):
                yield rest[:at] + moving + rest[at:]
                if run > 1:
                    yield rest[:at] + moving[::-1] + rest[at:]
