"""Heights: where each row, terminal, branch and wire stands, and in which column.

Rows are set from top to bottom, each as high as the wires that lead to it allow: a wire
is never shorter than its code is high.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import cached_property

from ohmwork.drawing.circuit import Circuit, Element
from ohmwork.drawing.order import best_plan
from ohmwork.drawing.tracks import Branch, Track
from ohmwork.vehicle import Vehicle

HALF = {
    "battery": 28.0,
    "fuse": 20.0,
    "switch": 26.0,
    "relay": 26.0,
    "coil": 20.0,
    "lamp": 33.0,
    "led": 33.0,
    "motor": 33.0,
    "heater": 28.0,
    "horn": 28.0,
    "solenoid": 28.0,
    "breaker": 20.0,
    "step": 24.0,
    "thermistor": 28.0,
    "potentiometer": 28.0,
    "flasher": 34.0,
    "module": 38.0,
    "alternator": 40.0,
    "wiper": 40.0,
    "starter": 50.0,
    "way": 16.0,
    "bolt": 10.0,
    "ground": 0.0,
    "splice": 0.0,
}
"""Middle of a symbol to its terminals. [px]"""
FIRST_RAIL, RAIL_STEP = 20.0, 24.0
STUB = 14.0
"""A dot to the terminal it belongs to. [px]"""
LANE = 16.0
"""Between branches that run above one another. [px]"""
INSIDE = 8.0
"""A shared terminal to the line that leads to a further contact. [px]"""
WIRE = 28.0
"""Shortest wire that leaves room for its code. [px]"""
FOOT = 20.0
"""A ground point to rail 31. [px]"""
TURN = 18.0
"""How far below a contact the line turns that leads up to the rail it feeds. [px]"""


class Grid:
    """The tracks of a vehicle in their order, with every height.

    Parameters
    ----------
    vehicle : any vehicle; faults in it are not looked at.
    """

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.circuit = Circuit(vehicle)
        self.plan, order, self.lanes = best_plan(self.circuit)
        self.tracks = tuple(self.plan.tracks[i] for i in order)
        place = {track: i for i, track in enumerate(order)}
        self.column = {e: place[c] for e, c in self.plan.column.items()}
        self.of_owner: dict[Element, list[Branch]] = defaultdict(list)
        for branch in self.lanes:
            self.of_owner[self.circuit.owner[branch.place]].append(branch)
        self.rail_y = {
            mark: FIRST_RAIL + i * RAIL_STEP
            for i, mark in enumerate(self.circuit.rails)
        }
        self._row_y = self._rows()
        self.foot_y = self._foot()
        self.ground_y = self.foot_y + FOOT
        for station in self.circuit.stations:
            if station.kind == "ground":
                self._row_y[self.plan.row[station]] = self.foot_y

    # --- Symbols ------------------------------------------------------------------

    def stations(self, column: int) -> Iterator[Element]:
        """Yield the symbols of a column from top to bottom."""
        for station in self.plan.stations(self.tracks[column]):
            if self.column[station] == column:
                yield station

    def y(self, station: Element) -> float:
        """Middle of a symbol. [px]"""
        return self._row_y[self.plan.row[station]]

    def port(self, station: Element, *, top: bool) -> float:
        """Height of a symbol's terminal. [px]"""
        half = HALF[station.kind]
        return self.y(station) + (-half if top else half)

    def edges(self, station: Element) -> tuple[float, float]:
        """Highest and lowest of a symbol's terminals and dots. [px]"""
        y = self.y(station)
        return (
            y - self._extent(station, top=True),
            y + self._extent(station, top=False),
        )

    def shares(self, element: Element, place: str) -> bool:
        """Whether a contact begins or ends at a terminal of another one."""
        branch = self.plan.branches.get((place, element))
        return branch is not None and branch.side == "inside"

    def inside_from(self, element: Element, place: str) -> int:
        """Column from which the line inside a part to a further contact starts."""
        owner = self.circuit.owner[place]
        first, here = self.column[owner], self.column[element]
        others = {
            self.column[b.element]
            for b in self.of_owner[owner]
            if b.place == place and b.side == "inside"
        }
        between = [c for c in others if min(first, here) < c < max(first, here)]
        return min([first, *between], key=lambda c: abs(c - here))

    def tails(self, column: int) -> Iterator[tuple[str, float, float]]:
        """Yield place, top and bottom where branches meet that no track passes. [px]"""
        for station in self.stations(column):
            y, half = self.y(station), HALF[station.kind]
            for place, top in ((station.top, True), (station.bottom, False)):
                sides = ("above",) if top else ("below", "splice")
                heights = [
                    self.height(b)
                    for b in self.of_owner[station]
                    if b.place == place and b.side in sides
                ]
                if heights and self.plan.passing(place, arrives=top) is None:
                    port = y - half if top else y + half
                    yield place, min(port, *heights), max(port, *heights)

    @cached_property
    def gangs(self) -> tuple[tuple[Element, ...], ...]:
        """Contacts of one part that stand beside one another, from left to right."""
        rows: dict[tuple[str, str, int], list[Element]] = defaultdict(list)
        for station in self.column:
            if station.kind in ("switch", "relay"):
                place = (station.part, station.kind, self.plan.row[station])
                rows[place].append(station)
        gangs: list[tuple[Element, ...]] = []
        for row in rows.values():
            run: list[Element] = []
            for contact in sorted(row, key=lambda e: self.column[e]):
                if run and self._is_between(run[-1], contact):
                    gangs.append(tuple(run))
                    run = []
                run.append(contact)
            gangs.append(tuple(run))
        return tuple(gangs)

    def pieces(self, box: Sequence[Element]) -> list[tuple[int, int]]:
        """Return first and last column of each piece in which a box can be drawn."""
        columns = sorted({self.column[e] for e in box})
        found = [(columns[0], columns[0])]
        for column in columns[1:]:
            first, last = found[-1]
            if any(self._runs_through(c, box[0]) for c in range(last + 1, column)):
                found.append((column, column))
            else:
                found[-1] = (first, column)
        return found

    def is_whole(self, station: Element) -> bool:
        """Whether a symbol has no box, or one in a single piece."""
        box = self.circuit.boxes.get(station.part)
        return box is None or len(self.pieces(box)) == 1

    def _runs_through(self, column: int, box: Element) -> bool:
        """Whether anything on a track stands at the height of a box."""
        y, half = self.y(box), HALF[box.kind]
        spans = [self.edges(station) for station in self.stations(column)]
        spans += [
            self.ends(column, wire)
            for wire in self.tracks[column].elements
            if wire.kind == "wire"
        ]
        return any(top < y + half and y - half < bottom for top, bottom in spans)

    def _is_between(self, left: Element, right: Element) -> bool:
        """Whether a symbol stands between two contacts in one row."""
        y = self.y(left)
        return any(
            abs(self.y(station) - y) < HALF[station.kind] + 8.0
            for column in range(self.column[left] + 1, self.column[right])
            for station in self.stations(column)
        )

    def bolted(self, column: int) -> str | None:
        """Place where the wire of a track is bolted to the body, if it is."""
        last = self.tracks[column].elements[-1]
        free = last.bottom not in self.circuit.owner and last.kind == "wire"
        return last.bottom if free else None

    # --- Lines --------------------------------------------------------------------

    def height(self, branch: Branch) -> float:
        """Height at which a branch runs. [px]"""
        return self.y(self.circuit.owner[branch.place]) + self._offset(branch)

    def ends(self, column: int, wire: Element) -> tuple[float, float]:
        """Heights between which a wire runs down its track. [px]"""
        track = self.tracks[column]
        start = self.plan.branches.get((wire.top, wire))
        end = self.plan.branches.get((wire.bottom, wire))
        if start:
            top = self.height(start)
        elif track.rail and wire == track.elements[0]:
            top = self.rail_y[track.rail]
        else:
            top = self.port(self.circuit.owner[wire.top], top=False)
        if end:
            bottom = self.height(end)
        elif wire.bottom not in self.circuit.owner:
            bottom = self.foot_y
        else:
            bottom = self.port(self.circuit.owner[wire.bottom], top=True)
        return top, bottom

    def free_run(self, column: int, wire: Element) -> tuple[float, float]:
        """Stretch of a wire on its track that no dot divides. [px]"""
        top, bottom = self.ends(column, wire)
        return (
            max([top, *self._dots(wire.top, wire, ("below", "splice"))]),
            min([bottom, *self._dots(wire.bottom, wire, ("above",))]),
        )

    def across(self) -> Iterator[tuple[int, int, float]]:
        """Yield first column, last column and height of each branch and fed rail."""
        for branch in self.lanes:
            owner = self.column[self.circuit.owner[branch.place]]
            other = self.column[branch.element]
            yield min(owner, other), max(owner, other), self.height(branch)
        for mark in self.fed_rails():
            first, last = self.rail_span(mark)
            yield first, max(first + 1, last), self.rail_y[mark]

    def fed_rails(self) -> tuple[str, ...]:
        """Supply rails that a contact on the sheet feeds."""
        rails = self.circuit.rails.items()
        return tuple(mark for mark, place in rails if self.circuit.ins[place])

    def rail_span(self, mark: str) -> tuple[int, int]:
        """First and last column of a rail that a contact feeds."""
        feed = self.column[self.circuit.owner[self.circuit.rails[mark]]]
        fed = [i for i, track in enumerate(self.tracks) if track.rail == mark]
        return feed, max([feed, *fed])

    def turn_y(self, mark: str) -> float:
        """Height at which the line turns that leads up to a fed rail. [px]"""
        return self.edges(self.circuit.owner[self.circuit.rails[mark]])[1] + TURN

    # --- How heights come about ---------------------------------------------------

    def _offset(self, branch: Branch) -> float:
        """Height of a branch above (-) or below the middle of its symbol. [px]"""
        owner = self.circuit.owner[branch.place]
        row = self.plan.row[owner]
        reach = max(
            HALF[s.kind] for s in self.circuit.stations if self.plan.row[s] == row
        )
        out = reach + STUB + LANE * self.lanes[branch]
        inside = HALF[owner.kind] - INSIDE
        return {
            "above": -out,
            "below": out,
            "splice": LANE * self.lanes[branch],
            "inside": -inside if branch.place == owner.top else inside,
        }[branch.side]

    def _extent(self, station: Element, *, top: bool) -> float:
        """Middle of a symbol to the outermost of its terminal and dots. [px]"""
        offsets = [self._offset(b) for b in self.of_owner[station]]
        return max([HALF[station.kind], *((-o if top else o) for o in offsets)])

    def _dots(self, place: str, wire: Element, sides: tuple[str, ...]) -> list[float]:
        """Heights of the dots that a wire passes at one of its places. [px]"""
        if (place, wire) in self.plan.branches or place not in self.circuit.owner:
            return []
        branches = self.of_owner[self.circuit.owner[place]]
        return [
            self.height(b) for b in branches if b.place == place and b.side in sides
        ]

    def _rows(self) -> dict[int, float]:
        rows: dict[int, list[Element]] = defaultdict(list)
        for station in self.circuit.stations:
            rows[self.plan.row[station]].append(station)
        above: dict[Element, list[Element]] = defaultdict(list)
        for upper, lower, _ in self.plan.links:
            if self.plan.row[upper] < self.plan.row[lower]:
                above[lower].append(upper)
        y: dict[int, float] = {}
        floor = 0.0
        for row in sorted(rows):
            low = floor
            for station in rows[row]:
                over = self._extent(station, top=True)
                low = max(low, self._hang(station) + WIRE + over)
                for upper in above[station]:
                    start = y[self.plan.row[upper]] + self._extent(upper, top=False)
                    low = max(low, start + WIRE + over)
            y[row] = low
            below = [
                offset
                for station in rows[row]
                for offset in map(self._offset, self.of_owner[station])
                if offset >= 0.0
            ]
            floor = low + max(below, default=-LANE) + LANE
        return y

    def _hang(self, station: Element) -> float:
        """Height of the lowest rail from which this symbol must keep away. [px]"""
        over = [b for b in self.of_owner[station] if b.side == "above"]
        rails = [
            y
            for mark, y in self.rail_y.items()
            if over
            or any(station in self._first(t) for t in self.tracks if t.rail == mark)
        ]
        return max(rails, default=-4.0) + 4.0

    def _first(self, track: Track) -> tuple[Element, ...]:
        return tuple(self.plan.stations(track))[:1]

    def _foot(self) -> float:
        """Height of ground points and of wires bolted to the body. [px]"""
        lowest = max((self.turn_y(m) + LANE for m in self.fed_rails()), default=0.0)
        for column, track in enumerate(self.tracks):
            wire = WIRE if self.bolted(column) else 0.0
            for station in self.plan.stations(track):
                hangs = any(b.side == "below" for b in self.of_owner[station])
                below = max(wire, LANE if hangs else 0.0)
                lowest = max(lowest, self.edges(station)[1] + below)
        return lowest
