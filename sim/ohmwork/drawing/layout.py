"""Where everything stands on the sheet: one layout for any vehicle.

The way of drawing is the current-track diagram: supply rails on top, ground rail at
the foot, current downwards, numbered tracks. Symbols follow IEC 60617, terminal marks
DIN 72552, wire colours IEC 60757.

Heights are settled first, by rows; then the labels of wires; and the distance between
tracks last, as close as labels allow.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from ohmwork.drawing.circuit import CONTACTS, Circuit, Element, place_name
from ohmwork.drawing.paper import (
    LINE_HEIGHT,
    Area,
    Box,
    Label,
    Line,
    Point,
    Sheet,
    Symbol,
    meet,
)
from ohmwork.drawing.tracks import Branch, Plan, Track, best_plan
from ohmwork.parts import Connector, Fuse, Relay, Switch, Wire
from ohmwork.vehicle import Vehicle

HALF = {
    "battery": 28.0,
    "fuse": 20.0,
    "switch": 23.0,
    "relay": 23.0,
    "coil": 20.0,
    "lamp": 30.0,
    "way": 16.0,
    "ground": 0.0,
    "splice": 0.0,
}
"""Middle of a symbol to its terminals. [px]"""
BODY = {"battery": 14.0, "switch": 12.0, "relay": 12.0, "coil": 18.0, "lamp": 22.0}
"""Middle of a symbol to the edge of what it draws sideways; others 8. [px]"""
FIRST_RAIL, RAIL_STEP = 28.0, 26.0
STUB = 14.0
"""A dot to the terminal it belongs to. [px]"""
LANE = 16.0
WIRE = 30.0
"""Shortest wire that leaves room for its code. [px]"""
FOOT = 24.0
"""A ground point to rail 31. [px]"""
MARGIN = 44.0
"""Edge of the sheet to what stands on the first and last track. [px]"""
EDGE = 6.0
"""Edge of the sheet to any label. [px]"""
NARROWEST, WIDEST = 68.0, 120.0
"""Distance between tracks. [px]"""
GAP = 4.0
"""Between anything on one track and anything on the next. [px]"""
ASIDE = {"fuse": 26.0, "coil": 38.0, "relay": 36.0}
"""How far a pulled part is drawn beside its seat. [px]"""
HANDLE = 8.0
"""What a hand moves, beside a switch. [px]"""
KEY_LINES = ("you can touch here", "joined", "crossing, not joined")


class _Text(NamedTuple):
    """A label as seen from its track: x is measured from the track."""

    label: Label
    box: Box


def sheet(vehicle: Vehicle, *, width: float | None = None) -> Sheet:
    """Return the wiring diagram of a vehicle.

    Parameters
    ----------
    vehicle : any vehicle. Faults in it are not drawn.
    width : width to spread the tracks over, up to 120 px each; the sheet is never
        narrower than its labels allow. [px] As narrow as it can be if None.
    """
    return _Layout(vehicle, width).sheet()


class _Layout:
    """One run from vehicle to sheet."""

    def __init__(self, vehicle: Vehicle, width: float | None) -> None:
        self.vehicle = vehicle
        self.wanted = width
        self.circuit = Circuit(vehicle)
        self.plan, self.order = best_plan(self.circuit)
        self.tracks = tuple(self.plan.tracks[i] for i in self.order)
        place = {track: i for i, track in enumerate(self.order)}
        self.column = {e: place[c] for e, c in self.plan.column.items()}
        self.lanes = self.plan.lanes(self.order)
        self.of_owner: dict[Element, list[Branch]] = defaultdict(list)
        for branch in self.lanes:
            self.of_owner[self.circuit.owner[branch.place]].append(branch)
        self.rail_y = {
            mark: FIRST_RAIL + i * RAIL_STEP for i, mark in enumerate(self.circuit.rails)
        }
        self.row_y = self._rows()
        lowest = max(self.row_y[self.plan.row[s]] for s in self.circuit.stations)
        self.ground_y = lowest + FOOT
        self.boxes: list[list[Box]] = [[] for _ in self.tracks]
        self.texts: list[list[Label]] = [[] for _ in self.tracks]
        self.hooks: dict[str, float] = {}
        self.areas: dict[str, tuple[int, int, Box]] = {}

    # --- Heights ------------------------------------------------------------------

    def y(self, station: Element) -> float:
        """Middle of a symbol. [px]"""
        return self.row_y[self.plan.row[station]]

    def port(self, station: Element, *, top: bool) -> float:
        """Height of a symbol's terminal. [px]"""
        half = HALF[station.kind]
        return self.y(station) + (-half if top else half)

    def offset(self, branch: Branch) -> float:
        """Height of a branch above (-) or below the middle of its symbol. [px]"""
        owner = self.circuit.owner[branch.place]
        reach = max(
            HALF[s.kind]
            for s in self.circuit.stations
            if self.plan.row[s] == self.plan.row[owner]
        )
        out = reach + STUB + LANE * self.lanes[branch]
        top = branch.place == owner.top
        inside = HALF[owner.kind] - 8.0
        return {
            "above": -out,
            "below": out,
            "splice": LANE * self.lanes[branch],
            "inside": -inside if top else inside,
        }[branch.side]

    def height(self, branch: Branch) -> float:
        """Height at which a branch runs. [px]"""
        return self.y(self.circuit.owner[branch.place]) + self.offset(branch)

    def _extent(self, station: Element, *, top: bool) -> float:
        """Middle of a symbol to the outermost of its terminal and dots. [px]"""
        offsets = [self.offset(b) for b in self.of_owner[station]]
        half = HALF[station.kind]
        return max([half, *((-o if top else o) for o in offsets)])

    def _rows(self) -> dict[int, float]:
        rows: dict[int, list[Element]] = defaultdict(list)
        for station in self.circuit.stations:
            rows[self.plan.row[station]].append(station)
        above: dict[Element, list[Element]] = defaultdict(list)
        for upper, lower, _ in self.plan.links:
            if self.plan.row[upper] < self.plan.row[lower]:
                above[lower].append(upper)
        hung = {t.elements[0].bottom: t.rail for t in self.tracks if t.rail}
        y: dict[int, float] = {}
        floor = 0.0
        for row in sorted(rows):
            low = floor
            for station in rows[row]:
                over = self._extent(station, top=True)
                mark = hung.get(station.top) or hung.get(station.bottom)
                if mark:
                    low = max(low, self.rail_y[mark] + WIRE + 4.0 + over)
                for upper in above[station]:
                    start = y[self.plan.row[upper]] + self._extent(upper, top=False)
                    low = max(low, start + WIRE + over)
            y[row] = low
            sideways = [b for s in rows[row] for b in self.of_owner[s]]
            floor = low + max(
                (self.offset(b) + LANE for b in sideways if self.offset(b) >= 0.0),
                default=0.0,
            )
        return y

    # --- Symbols, terminals and what is written beside them -----------------------

    def _say(self, column: int, label: Label) -> None:
        self.texts[column].append(label)
        self.boxes[column].append(label.box)

    def _dress(self, column: int, station: Element) -> None:
        """Write a symbol's own labels and keep its room free."""
        y, half = self.y(station), HALF[station.kind]
        body = BODY.get(station.kind, 8.0)
        self.boxes[column].append((-body, y - half, body, y + half))
        for label in self._names(station, body + 4.0):
            self._say(column, label)
        for place, top in ((station.top, True), (station.bottom, False)):
            if self._mark(station, place):
                self._say(
                    column,
                    Label(
                        text=self._mark(station, place),
                        x=9.0,
                        y=self.port(station, top=top),
                        anchor="start",
                        role="mark",
                        place=place,
                    ),
                )
        if station.kind == "way":
            word = Label(
                text="", room="apart", x=9.0, y=y, anchor="start", role="state",
                part=station.part,
            )  # fmt: skip
            self._say(column, word)
        beside = self._aside(station)
        if beside:
            self.boxes[column] += [
                (beside - body, y - 10.0, beside + body, y + 10.0),
                (beside - 4.0, y - half - 4.0, beside + 4.0, y + half + 4.0),
            ]

    def _aside(self, station: Element) -> float:
        """How far from its seat a symbol is drawn while pulled; 0 if fixed. [px]"""
        pulls = self.vehicle[station.part].plugs_in
        return ASIDE.get(station.kind, 0.0) if pulls else 0.0

    def _names(self, station: Element, beyond: float) -> Iterator[Label]:
        """Yield what is written beside a symbol: its name, then what it is."""
        part = self.vehicle[station.part]
        kind = station.kind
        if kind == "way" or (kind == "switch" and not self._leads_gang(station)):
            return
        beyond += HANDLE if kind == "switch" else 0.0
        y = self.y(station) - (10.0 if kind == "splice" else 0.0)
        name = Label(
            text=part.name, x=-beyond, y=y, anchor="end", role="name", part=part.name
        )
        lines = list(self._values(station, name))
        if kind == "lamp":
            # A lamp needs three lines of its own, and its right side is free.
            yield name
            lines = [replace(line, x=beyond, anchor="start") for line in lines]
        else:
            lines.insert(0, name)
        first = y - LINE_HEIGHT * (len(lines) - 1) / 2
        for i, line in enumerate(lines):
            yield replace(line, y=first + LINE_HEIGHT * i)

    def _values(self, station: Element, name: Label) -> Iterator[Label]:
        """Yield the lines that follow a symbol's name."""
        part = self.vehicle[station.part]
        value = replace(name, role="value")
        state = replace(name, role="state", text="")
        if isinstance(part, Fuse):
            yield replace(value, text=f"{part.rating:g} A")
            yield replace(state, room="blown")
        elif station.kind not in ("ground", "splice"):
            for text in _wrap(_short(part.label)):
                yield replace(value, text=text)
        if station.kind == "lamp":
            yield replace(state, room="faint")
        if isinstance(part, Switch):
            longest = max(part.positions, key=len)
            yield replace(state, text=part.positions[0], room=longest)
        if isinstance(part, Relay):
            for other in self.column:
                if other.part == part.name and other != station:
                    word = "coil" if other.kind == "coil" else "contact"
                    yield replace(value, text=f"{word} on {self.column[other] + 1}")

    def _leads_gang(self, station: Element) -> bool:
        gang = [e for e in self.column if e.part == station.part]
        return station == min(gang, key=lambda e: self.column[e])

    def _mark(self, station: Element, place: str) -> str:
        """Return what is printed beside a terminal, if anything."""
        mark = place.partition(":")[2]
        if station.kind == "way":
            return "" if mark.endswith("p") else place
        if station.kind in ("switch", "relay", "coil", "lamp"):
            return mark
        if station.kind == "battery":
            return {"-": "−"}.get(mark, mark)
        return ""

    # --- Wires --------------------------------------------------------------------

    def _ends(self, track: Track, wire: Element) -> tuple[float, float]:
        """Return the heights between which a wire runs down its track. [px]"""
        start = self.plan.branches.get((wire.top, wire))
        end = self.plan.branches.get((wire.bottom, wire))
        if start:
            top = self.height(start)
        elif track.rail and wire == track.elements[0]:
            top = self.rail_y[track.rail]
        else:
            top = self.port(self.circuit.owner[wire.top], top=False)
            top = max(top, self._last_dot(wire.top, below=True, default=top))
        if end:
            bottom = self.height(end)
        elif wire.bottom not in self.circuit.owner:
            bottom = self.ground_y - FOOT
        else:
            bottom = self.port(self.circuit.owner[wire.bottom], top=True)
        return top, bottom

    def _last_dot(self, place: str, *, below: bool, default: float) -> float:
        owner = self.circuit.owner[place]
        heights = [
            self.height(b)
            for b in self.of_owner[owner]
            if b.place == place and b.side in (("below", "splice") if below else ("above",))
        ]
        return (max if below else min)(heights, default=default)

    def _free_run(self, track: Track, wire: Element) -> tuple[float, float]:
        """Return the stretch of a wire beside which its code may stand. [px]"""
        top, bottom = self._ends(track, wire)
        if wire.bottom in self.circuit.owner and not self.plan.branches.get(
            (wire.bottom, wire)
        ):
            bottom = self._last_dot(wire.bottom, below=False, default=bottom)
        return top, bottom

    def _write_code(self, column: int, wire: Element) -> None:
        """Find room for a wire's colour and size: right, left, then on its branch."""
        part = self.vehicle[wire.part]
        if not isinstance(part, Wire):
            return
        top, bottom = self._free_run(self.tracks[column], wire)
        middle = (top + bottom) / 2
        reach = int(max(0.0, (bottom - top) / 2 - 9.0))
        label = Label(
            text=part.code, x=8.0, y=middle, anchor="start", role="code", part=wire.part
        )
        right = replace(label)
        left = replace(label, x=-8.0, anchor="end")
        near = [s * d for d in range(0, reach + 1, 2) for s in (1, -1)][: 4 * reach + 2]
        tries = [
            replace(side, y=middle + shift) for side in (right, left) for shift in near
        ]
        tries = tries if bottom - top >= 2 * 9.0 else []
        start = self.plan.branches.get((wire.top, wire))
        branch = start or self.plan.branches.get((wire.bottom, wire))
        if branch:
            owner = self.column[self.circuit.owner[branch.place]]
            side = left if owner < column else right
            over = -9.0 if start else 9.0
            tries.append(replace(side, y=self.height(branch) + over))
        best = next((t for t in tries if self._is_free(column, t)), tries[-1])
        self._say(column, best)

    def _is_free(self, column: int, label: Label) -> bool:
        box = label.box
        if any(meet(box, other) for other in self.boxes[column]):
            return False
        return not any(
            box[1] - 3.0 < y < box[3] + 3.0
            and (low <= column < high if label.x > 0 else low < column <= high)
            for low, high, y in self._across
        )

    @property
    def _across(self) -> Iterator[tuple[int, int, float]]:
        """Yield first column, last column and height of every horizontal line."""
        for branch in self.lanes:
            ends = (
                self.column[self.circuit.owner[branch.place]],
                self.column[branch.element],
            )
            yield min(ends), max(ends), self.height(branch)
        for mark, place in self.circuit.rails.items():
            if self.circuit.ins[place]:
                fed = [i for i, t in enumerate(self.tracks) if t.rail == mark]
                feed = self.column[self.circuit.owner[place]]
                yield feed, max([feed + 1, *fed]), self.rail_y[mark]
        for low, high, box in self.areas.values():
            yield low - 1, high + 1, box[1]
            yield low - 1, high + 1, box[3]

    # --- Areas --------------------------------------------------------------------

    def _outline(self, connector: str, unit: Iterable[Element]) -> None:
        """Draw the border of what lies behind a connector through its ways."""
        inside = list(unit)
        columns = [self.column[e] for e in inside]
        first, last = min(columns), max(columns)
        ways = [self.y(e) for e in inside if e.kind == "way"]
        others = [self._edges(e) for e in inside if e.kind != "way"]
        top = min([*ways, *(t - STUB for t, _ in others)])
        bottom = max([*ways, *(b + STUB for _, b in others)])
        self.areas[connector] = (first, last, (0.0, top, 0.0, bottom))
        for i, line in enumerate(_wrap(_short(self.vehicle[connector].label))):
            title = Label(
                text=line, x=-9.0, y=top + 10.0 + LINE_HEIGHT * i, anchor="end",
                role="value", part=connector,
            )  # fmt: skip
            self._say(first, title)

    def _edges(self, station: Element) -> tuple[float, float]:
        y = self.y(station)
        return (
            y - self._extent(station, top=True),
            y + self._extent(station, top=False),
        )

    def _close_areas(self) -> None:
        """Set the sides of each area beyond all that is written in it."""
        for connector, (first, last, (_, top, _, bottom)) in self.areas.items():
            within = (-1e9, top + 2.0, 1e9, bottom - 2.0)
            left = min(b[0] for b in self.boxes[first] if meet(b, within)) - 4.0
            right = max(b[2] for b in self.boxes[last] if meet(b, within)) + 4.0
            self.areas[connector] = (first, last, (left, top, right, bottom))
        for first, last, (left, top, right, bottom) in self.areas.values():
            self.boxes[first].append((left, top, left + 1.0, bottom))
            self.boxes[last].append((right - 1.0, top, right, bottom))

    # --- Rails --------------------------------------------------------------------

    def _hook(self, mark: str, place: str) -> None:
        """Lead the end of the contact that feeds a rail round and up to it."""
        owner = self.circuit.owner[place]
        column = self.column[owner]
        foot = self._edges(owner)[1] + STUB + 4.0
        rail = self.rail_y[mark]
        x = 24.0
        for box in self.boxes[column]:
            if meet(box, (0.0, rail - 4.0, 1e9, foot + 4.0)):
                x = max(x, box[2] + 6.0)
        self.hooks[mark] = x
        fed = [i for i, track in enumerate(self.tracks) if track.rail == mark]
        end = max([column, *fed])
        label = Label(
            text=mark, x=x + 22.0 if end == column else 20.0, y=rail, anchor="start",
            role="rail",
        )  # fmt: skip
        self._say(end, label)
        self.boxes[column].append((x - 4.0, rail - 4.0, x + 4.0, foot))
        self.boxes[column].append((0.0, foot - 2.0, x, foot + 2.0))

    # --- Columns ------------------------------------------------------------------

    def _columns(self) -> list[float]:
        """Return x of each track: as near as possible, then spread if asked."""
        for track, boxes in zip(self.tracks, self.boxes, strict=True):
            for wire in track.elements:
                top, bottom = self._ends(track, wire) if wire.kind == "wire" else (0, 0)
                boxes.append((-4.0, top, 4.0, bottom))
            first, last = track.elements[0], track.elements[-1]
            if track.rail and first.kind != "wire":
                top = self.rail_y[track.rail]
                boxes.append((-4.0, top, 4.0, self.port(first, top=True)))
            if last.bottom == self.circuit.ground:
                boxes.append((-8.0, self.ground_y - FOOT, 8.0, self.ground_y))
        xs: list[float] = []
        for i, boxes in enumerate(self.boxes):
            x = xs[-1] + NARROWEST if xs else 0.0
            for j in range(i):
                for a in self.boxes[j]:
                    for b in boxes:
                        if a[1] < b[3] + 1.0 and b[1] < a[3] + 1.0:
                            x = max(x, xs[j] + a[2] + GAP - b[0])
            xs.append(x)
        left = min(x + b[0] for x, bs in zip(xs, self.boxes, strict=True) for b in bs)
        xs = [x + max(MARGIN, EDGE - left) for x in xs]
        if self.wanted and len(xs) > 1:
            spare = max(0.0, self.wanted - self._right(xs))
            pitches = [b - a for a, b in pairwise(xs)]
            room = [max(0.0, WIDEST - p) for p in pitches]
            share = min(1.0, spare / sum(room)) if sum(room) else 0.0
            for i in range(1, len(xs)):
                xs[i] = xs[i - 1] + pitches[i - 1] + room[i - 1] * share
        return [round(x * 2) / 2 for x in xs]

    def _right(self, xs: list[float]) -> float:
        return EDGE + max(
            [xs[-1] + MARGIN - EDGE]
            + [x + b[2] for x, bs in zip(xs, self.boxes, strict=True) for b in bs]
        )

    # --- The sheet ----------------------------------------------------------------

    def sheet(self) -> Sheet:
        """Put everything together."""
        for column, track in enumerate(self.tracks):
            for station in self._own(track, column):
                self._dress(column, station)
            last = track.elements[-1]
            if last.bottom not in self.circuit.owner and last.kind == "wire":
                name = Label(
                    text=place_name(last.bottom).partition(":")[0], x=-13.0,
                    y=self.ground_y - FOOT, anchor="end", role="name",
                    place=last.bottom,
                )  # fmt: skip
                self._say(column, name)
        for connector, unit in self.circuit.units.items():
            self._outline(connector, unit)
        for column, track in enumerate(self.tracks):
            for element in track.elements:
                self._write_code(column, element)
        for mark, place in self.circuit.rails.items():
            if self.circuit.ins[place]:
                self._hook(mark, place)
        self._close_areas()
        xs = self._columns()
        points = tuple(self._points(xs))
        labels = [
            replace(text, x=text.x + x)
            for x, texts in zip(xs, self.texts, strict=True)
            for text in texts
        ]
        lines = tuple(self._lines(xs))
        width = self._right(xs)
        for mark, y in (*self.rail_y.items(), ("31", self.ground_y)):
            if mark not in self.hooks:
                labels.append(Label(text=mark, x=20.0, y=y, anchor="end", role="rail"))
        number_y = self.ground_y + 24.0
        for i, x in enumerate(xs):
            labels.append(
                Label(text=str(i + 1), x=x, y=number_y, anchor="middle", role="track")
            )
        areas = tuple(
            Area(connector=name, box=(xs[a] + b[0], b[1], xs[z] + b[2], b[3]))
            for name, (a, z, b) in self.areas.items()
        )
        done = Sheet(
            name=self.vehicle.name,
            title=self.vehicle.title,
            width=round(width),
            height=round(number_y + 14.0),
            symbols=tuple(self._symbols(xs)),
            lines=lines,
            labels=tuple(labels),
            points=points,
            areas=areas,
            tracks=tuple(self._words(track) for track in self.tracks),
            key=(0.0, 0.0, 0.0, 0.0),
        )
        return _with_key(done)

    def _own(self, track: Track, column: int) -> Iterator[Element]:
        for station in self.plan.stations(track):
            if self.column[station] == column:
                yield station

    def _symbols(self, xs: list[float]) -> Iterator[Symbol]:
        for column, track in enumerate(self.tracks):
            for station in self._own(track, column):
                if station.kind == "splice":
                    continue
                part = self.vehicle[station.part]
                closed: tuple[str, ...] = ()
                if isinstance(part, Switch):
                    closed = next(
                        c.closed_in for c in part.contacts if c.name == station.name
                    )
                yield Symbol(
                    part=station.part,
                    kind=station.kind,
                    x=xs[column],
                    y=self.y(station),
                    half=HALF[station.kind],
                    name=station.name,
                    closed_in=closed,
                    handle=isinstance(part, Switch) and self._leads_gang(station),
                    aside=self._aside(station),
                    socket_on_top=not station.top.endswith("p"),
                )

    def _points(self, xs: list[float]) -> Iterator[Point]:
        found: list[Point] = []
        for column, track in enumerate(self.tracks):
            for station in self._own(track, column):
                found += self._terminals(xs[column], column, station)
            last = track.elements[-1]
            if last.bottom not in self.circuit.owner and last.kind == "wire":
                y = self.ground_y - FOOT
                found.append(self._point(last.bottom, xs[column], y, column))
        for branch in self.lanes:
            column = self.column[self.circuit.owner[branch.place]]
            at = (xs[column], self.height(branch))
            found.append(
                replace(self._point(branch.place, *at, column), touch=False)
            )
        for mark, place in self.circuit.rails.items():
            y = self.rail_y[mark]
            for column, track in enumerate(self.tracks):
                if track.rail == mark:
                    dot = self._point(place, xs[column], y, column)
                    found.append(replace(dot, touch=False))
            if mark in self.hooks:
                column = self.column[self.circuit.owner[place]]
                x = xs[column] + self.hooks[mark]
                found.append(replace(self._point(place, x, y, column), touch=False))
        unique = dict.fromkeys(found)
        return iter(sorted(unique, key=lambda p: (p.track, p.y, p.x)))

    def _terminals(
        self, x: float, column: int, station: Element
    ) -> Iterator[Point]:
        if station.kind == "splice":
            if not self.of_owner[station]:
                dot = self._point(station.top, x, self.y(station), column)
                yield replace(dot, touch=False)
            return
        ends = [(station.top, True), (station.bottom, False)]
        if station.kind == "ground":
            ends.pop()
        aside = self._aside(station)
        for place, top in ends:
            y = self.port(station, top=top)
            if self.circuit.owner.get(place) == station:
                yield self._point(place, x, y, column)
                if aside:
                    pin = self._point(
                        f"{place}p", x + aside, y, column
                    )
                    yield replace(pin, apart=station.part)

    def _point(self, place: str, x: float, y: float, column: int) -> Point:
        name = place_name(place)
        return Point(
            place=name, words=self._place_words(name), x=x, y=y, track=column + 1
        )

    def _place_words(self, place: str) -> str:
        """Return a place as said aloud."""
        part = self.vehicle.part_of(place)
        mark = place.partition(":")[2]
        label = part.label or part.kind
        if isinstance(part, Connector):
            side = "pin" if mark.endswith("p") else "socket"
            return f"{label}, way {mark.removesuffix('p')}, {side} side"
        owner = self.circuit.owner.get(place.removesuffix("p"))
        if owner and owner.kind in ("lamp", "fuse"):
            side = "supply" if place.removesuffix("p") == owner.top else "ground"
            if owner.kind == "fuse":
                side = "upper" if side == "supply" else "lower"
            blade = " blade" if mark.endswith("p") else ""
            return f"{label}, {side}{blade or ' side'}"
        if owner and owner.kind == "battery":
            return f"{label}, {'plus' if mark == '+' else 'minus'} post"
        if isinstance(part, Relay):
            where = "pin" if mark.endswith("p") else "terminal"
            return f"{label}, {where} {mark.removesuffix('p')}"
        return f"{label}, terminal {mark}" if isinstance(part, Switch) else label

    def _lines(self, xs: list[float]) -> Iterator[Line]:
        right = self._right(xs)
        for mark, place in (*self.circuit.rails.items(), ("31", self.circuit.ground)):
            y = self.rail_y.get(mark, self.ground_y)
            span = (28.0, right - 8.0)
            if mark in self.hooks:
                column = self.column[self.circuit.owner[place]]
                start = xs[column] + self.hooks[mark]
                fed = [xs[i] for i, t in enumerate(self.tracks) if t.rail == mark]
                span = (start, max([start, *fed]) + 14.0)
                foot = self._edges(self.circuit.owner[place])[1] + STUB + 4.0
                hook = (
                    (xs[column], self.port(self.circuit.owner[place], top=False)),
                    (xs[column], foot), (start, foot), (start, y),
                )  # fmt: skip
                yield Line(points=hook, role="joint", place=place)
            yield Line(
                points=((span[0], y), (span[1], y)), role="rail", place=place
            )
        for column, track in enumerate(self.tracks):
            first = track.elements[0]
            if track.rail and first.kind != "wire":
                top = (xs[column], self.rail_y[track.rail])
                foot_point = (xs[column], self.port(first, top=True))
                yield Line(points=(top, foot_point), role="joint", place=first.top)
            for element in track.elements:
                if element.kind == "wire":
                    yield self._wire(xs, column, element)
                elif element.top in self.circuit.owner:
                    yield from self._inside(xs, column, element)
            last = track.elements[-1]
            if last.bottom == self.circuit.ground:
                start = (
                    self.y(last) + HALF[last.kind]
                    if last.kind in ("ground", "battery")
                    else self.ground_y - FOOT
                )
                points = ((xs[column], start), (xs[column], self.ground_y))
                yield Line(points=points, role="joint", place=last.bottom)
        yield from self._gangs(xs)

    def _wire(self, xs: list[float], column: int, wire: Element) -> Line:
        track = self.tracks[column]
        x = xs[column]
        top, bottom = self._ends(track, wire)
        start = self.plan.branches.get((wire.top, wire))
        end = self.plan.branches.get((wire.bottom, wire))
        if not start and wire.top in self.circuit.owner and wire != track.elements[0]:
            top = self.port(self.circuit.owner[wire.top], top=False)
        points = [(x, top), (x, bottom)]
        if start:
            points.insert(0, (xs[self.column[self.circuit.owner[start.place]]], top))
        if end:
            points.append((xs[self.column[self.circuit.owner[end.place]]], bottom))
        return Line(points=tuple(points), role="wire", part=wire.part)

    def _inside(self, xs: list[float], column: int, element: Element) -> Iterator[Line]:
        """Yield the line from a shared terminal to a further contact of its part."""
        for place in (element.top, element.bottom):
            branch = self.plan.branches.get((place, element))
            if branch:
                y = self.height(branch)
                ends = (xs[self.column[self.circuit.owner[place]]], xs[column])
                port = self.port(element, top=place == element.top)
                points = ((ends[0], y), (ends[1], y), (ends[1], port))
                yield Line(points=points, role="joint", place=place_name(place))

    def _gangs(self, xs: list[float]) -> Iterator[Line]:
        """Yield the dashed links between contacts that move together."""
        gangs: dict[str, list[Element]] = defaultdict(list)
        for station in self.column:
            if station.kind in CONTACTS:
                gangs[station.part].append(station)
        for part, gang in gangs.items():
            ordered = sorted(gang, key=lambda e: self.column[e])
            for a, b in pairwise(ordered):
                points = (
                    (xs[self.column[a]] - 5.0, self.y(a)),
                    (xs[self.column[b]] - 5.0, self.y(b)),
                )
                yield Line(points=points, role="link", part=part)

    def _words(self, track: Track) -> str:
        names = [f"rail {track.rail}"] if track.rail else []
        if track.start:
            names.append(f"from {place_name(track.start.place)}")
        for station in self.plan.stations(track):
            part = self.vehicle[station.part]
            way = f" way {station.name}" if station.kind == "way" else ""
            names.append(f"{station.part}{way} {part.label}".strip())
        if track.end:
            names.append(f"to {place_name(track.end.place)}")
        elif track.elements[-1].bottom == self.circuit.ground:
            names.append("rail 31")
        return ", ".join(names)


def _short(label: str) -> str:
    """Return a label without the last word, which the symbol says already."""
    words = label.split()
    return " ".join(words[:-1] if len(words) > 1 else words)


def _wrap(text: str, longest: int = 7) -> Iterator[str]:
    """Yield lines of a text, broken between words."""
    line = ""
    for word in text.split():
        if line and len(line) + 1 + len(word) > longest:
            yield line
            line = word
        else:
            line = f"{line} {word}".strip()
    if line:
        yield line


def _with_key(sheet: Sheet) -> Sheet:
    """Put title and key into the emptiest corner, or below the sheet if none is."""
    title = [
        Label(text=t, x=0.0, y=8.0 + 15.0 * i, anchor="start", role="title")
        for i, t in enumerate(_wrap(sheet.title, 24))
    ]
    top = 15.0 * len(title) + 10.0
    keys = [
        Label(text=t, x=24.0, y=top + 20.0 * i, anchor="start", role="key")
        for i, t in enumerate(KEY_LINES)
    ]
    wide = max(label.box[2] for label in (*title, *keys))
    high = keys[-1].box[3]
    taken = [label.box for label in sheet.labels]
    taken += [area.box for area in sheet.areas]
    taken += [
        (s.x - 22.0, s.y - s.half, s.x + s.aside + 22.0, s.y + s.half)
        for s in sheet.symbols
    ]
    for line in sheet.lines:
        for (xa, ya), (xb, yb) in pairwise(line.points):
            taken.append((min(xa, xb), min(ya, yb), max(xa, xb), max(ya, yb)))

    def room(x: float, y: float, by: float) -> bool:
        box = (x - by, y - by, x + wide + by, y + high + by)
        return not any(meet(box, other) for other in taken)

    spots = (
        (float(x), float(y))
        for by in (40.0, 28.0, 20.0, 14.0)
        for y in range(8, int(sheet.height - high), 4)
        for x in range(int(sheet.width - wide) - 8, 8, -4)
        if room(x, y, by)
    )
    height = sheet.height
    spot = next(spots, None)
    if spot is None:
        spot = (28.0, height + 8.0)
        height += high + 20.0
    x, y = spot
    moved = tuple(replace(k, x=k.x + x, y=k.y + y) for k in (*title, *keys))
    return replace(
        sheet,
        height=height,
        labels=(*sheet.labels, *moved),
        key=(x, y, x + wide, y + high),
    )
