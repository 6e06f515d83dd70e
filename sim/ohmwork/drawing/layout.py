"""Where everything stands on the sheet: one layout for any vehicle.

The way of drawing is the current-track diagram: supply rails on top, ground rail at
the foot, current downwards, numbered tracks. Symbols follow IEC 60617, terminal marks
DIN 72552, wire colours IEC 60757.

Tracks and their order come first (`ohmwork.drawing.tracks`), then heights
(`ohmwork.drawing.grid`), then labels (`ohmwork.drawing.writing`), and the distance
between tracks last, as close as labels allow.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from ohmwork.drawing.circuit import INNER, Element, place_name
from ohmwork.drawing.grid import HALF, INSIDE, Grid
from ohmwork.drawing.legend import with_key
from ohmwork.drawing.paper import Area, Frame, Label, Line, Point, Sheet, Symbol
from ohmwork.drawing.words import place_words, track_words
from ohmwork.drawing.writing import Writing
from ohmwork.parts import Body, Heater, Relay, Splice, Switch
from ohmwork.vehicle import Vehicle

MARGIN = 44.0
"""Edge of the sheet to the first and the last track, at least. [px]"""
EDGE = 4.0
"""Edge of the sheet to any label. [px]"""
NARROWEST, WIDEST = 68.0, 120.0
"""Distance between tracks. [px]"""
GAP = 4.0
"""Between anything on one track and anything on the next. [px]"""
STEP_IN = 12.0
"""From the end of rail 31 to where a lead touches it. [px]"""
OVERHANG = 14.0
"""How far a fed rail runs on beyond its last track. [px]"""


def sheet(vehicle: Vehicle, *, width: float | None = None) -> Sheet:
    """Return the wiring diagram of a vehicle.

    The same vehicle always gives the same sheet.

    Parameters
    ----------
    vehicle : any vehicle. Faults in it are not drawn.
    width : width to spread the tracks over, up to 120 px each; the sheet is never
        narrower than its labels allow. [px] As narrow as it can be if None.
    """
    remark = "relay contacts drawn at rest" if any(vehicle.of_type(Relay)) else ""
    return with_key(_Layout(Grid(vehicle), width).sheet(), remark)


class _Layout:
    """One run from a grid to a sheet; a sheet's key is added later."""

    def __init__(self, grid: Grid, width: float | None) -> None:
        self.grid = grid
        self.writing = Writing(grid)
        self.xs = self._columns(width)
        self.right = self._right(self.xs)

    def sheet(self) -> Sheet:
        """Put everything together."""
        vehicle = self.grid.vehicle
        number_y = self.grid.ground_y + 24.0
        areas = self.writing.areas.items()
        return Sheet(
            name=vehicle.name,
            title=vehicle.title,
            width=round(self.right),
            height=round(number_y + 14.0),
            symbols=tuple(self._symbols()),
            lines=tuple(self._lines()),
            labels=tuple(self._labels(number_y)),
            points=tuple(self._points()),
            areas=tuple(
                Area(
                    connector=name,
                    box=(self.xs[a] + box[0], box[1], self.xs[z] + box[2], box[3]),
                )
                for name, (a, z, box) in areas
            ),
            frames=tuple(
                Frame(
                    part=part,
                    box=(self.xs[a] + box[0], box[1], self.xs[z] + box[2], box[3]),
                )
                for part, a, z, box in self.writing.frames
            ),
            tracks=tuple(track_words(self.grid.plan, t) for t in self.grid.tracks),
        )

    # --- Columns ------------------------------------------------------------------

    def _columns(self, width: float | None) -> list[float]:
        """Return x of each track: as near as possible, then spread if asked. [px]"""
        xs: list[float] = []
        for i, boxes in enumerate(self.writing.boxes):
            x = xs[-1] + NARROWEST if xs else 0.0
            for before, other in zip(xs, self.writing.boxes[:i], strict=True):
                for a in other:
                    for b in boxes:
                        if a[1] < b[3] + 1.0 and b[1] < a[3] + 1.0:
                            x = max(x, before + a[2] + GAP - b[0])
            xs.append(x)
        left = min(
            x + box[0]
            for x, boxes in zip(xs, self.writing.boxes, strict=True)
            for box in boxes
        )
        xs = [x + max(MARGIN, EDGE - left) for x in xs]
        room = [max(0.0, WIDEST - (b - a)) for a, b in pairwise(xs)]
        if width and sum(room):
            share = min(1.0, max(0.0, width - self._right(xs)) / sum(room))
            for i, more in enumerate(room, 1):
                xs[i:] = [x + more * share for x in xs[i:]]
        return [round(x * 2.0) / 2.0 for x in xs]

    def _right(self, xs: list[float]) -> float:
        """Right edge of the sheet. [px]"""
        ends = (
            x + box[2] + EDGE
            for x, boxes in zip(xs, self.writing.boxes, strict=True)
            for box in boxes
        )
        return max(xs[-1] + MARGIN, *ends)

    def _rail_end(self, mark: str) -> tuple[float, float]:
        """Left and right end of a rail. [px]"""
        if mark not in self.writing.turns:
            return 28.0, self.right - 8.0
        first, last = self.grid.rail_span(mark)
        left = self.xs[first] + self.writing.turns[mark]
        return left, max(left, self.xs[last]) + OVERHANG

    # --- What stands on the sheet -------------------------------------------------

    def _labels(self, number_y: float) -> Iterator[Label]:
        for x, texts in zip(self.xs, self.writing.texts, strict=True):
            for text in texts:
                yield replace(text, x=text.x + x)
        for mark, y in (*self.grid.rail_y.items(), ("31", self.grid.ground_y)):
            if mark not in self.writing.turns:
                yield Label(text=mark, x=23.0, y=y, anchor="end", role="rail")
        for i, x in enumerate(self.xs, 1):
            yield Label(text=str(i), x=x, y=number_y, anchor="middle", role="track")

    def _symbols(self) -> Iterator[Symbol]:
        for column, x in enumerate(self.xs):
            for station in self.grid.stations(column):
                if station.kind == "splice":
                    continue
                part = self.grid.vehicle[station.part]
                contacts = part.contacts if isinstance(part, Switch) else ()
                closed = [c.closed_in for c in contacts if c.name == station.name]
                leads = self.writing.leads_gang(station)
                core = self.grid.column[self.grid.circuit.lead(station)]
                whole = self.grid.is_whole(station)
                yield Symbol(
                    part=station.part,
                    kind=station.kind,
                    x=x,
                    y=self.grid.y(station),
                    half=HALF[station.kind],
                    name=station.name,
                    variant=self._variant(station),
                    handle=station.kind == "switch" and leads,
                    closed_in=tuple(p for positions in closed for p in positions),
                    rests_closed=self._rests_closed(station),
                    shares=(
                        self.grid.shares(station, station.top),
                        self.grid.shares(station, station.bottom),
                    ),
                    aside=self.writing.aside(station),
                    socket_on_top=not station.top.endswith("p"),
                    is_pin=station.is_pin,
                    on_top=not station.top.endswith(INNER),
                    reach=self.xs[core] - x if whole else 0.0,
                    steps=abs(core - column),
                )

    def _rests_closed(self, station: Element) -> bool:
        """Whether a contact is closed while nobody sets its switch, or its relay."""
        part = self.grid.vehicle[station.part]
        if isinstance(part, Switch):
            closed = {c.name for c in part.contacts if part.positions[0] in c.closed_in}
            return station.name in closed
        return station.kind == "relay" and station.name == "30-87a"

    def _variant(self, station: Element) -> str:
        """Return what a symbol shows besides what its kind does."""
        part = self.grid.vehicle[station.part]
        if isinstance(part, Heater) and part.self_limiting:
            return "self-limiting"
        if station.kind == "coil" and isinstance(part, Relay):
            if part.suppression_diode:
                return "diode up" if station.top.endswith(":86") else "diode down"
            return "resistor" if part.suppression_resistor else ""
        return ""

    def _points(self) -> Iterator[Point]:
        found = [*self._terminals(), *self._dots()]
        yield from sorted(dict.fromkeys(found), key=lambda p: (p.track, p.y, p.x))

    def _terminals(self) -> Iterator[Point]:
        for column, x in enumerate(self.xs):
            for station in self.grid.stations(column):
                if station.kind == "splice":
                    continue
                for place, top in ((station.top, True), (station.bottom, False)):
                    if self.grid.circuit.owner.get(place) == station:
                        y = self.grid.port(station, top=top)
                        yield from self._terminal(place, x, y, column, station)
            bolt = self.grid.bolted(column)
            if bolt:
                yield self._point(bolt, x, self.grid.foot_y, column)
        ground = self.grid.circuit.ground
        columns = range(len(self.xs))
        if isinstance(self.grid.vehicle.part_of(ground), Body) and not any(
            place_name(self.grid.bolted(c) or "") == ground for c in columns
        ):
            left, _ = self._rail_end("31")
            yield self._point(ground, left + STEP_IN, self.grid.ground_y, 0)

    def _terminal(
        self, place: str, x: float, y: float, column: int, station: Element
    ) -> Iterator[Point]:
        yield self._point(place, x, y, column)
        aside = self.writing.aside(station)
        if aside:
            pin = self._point(f"{place}p", x + aside, y, column)
            yield replace(pin, apart=station.part)

    def _dots(self) -> Iterator[Point]:
        grid = self.grid
        for place, splice in grid.circuit.splices.items():
            column = grid.column[splice]
            dot = self._dot(place, self.xs[column], grid.y(splice), column)
            hidden = isinstance(grid.vehicle[splice.part], Splice)
            yield replace(dot, touch=not hidden)
        for branch in grid.lanes:
            owner = grid.circuit.owner[branch.place]
            column, y = grid.column[owner], grid.height(branch)
            seen = not isinstance(grid.vehicle[owner.part], Splice)
            if owner.kind == "splice" and seen and y == grid.y(owner):
                continue  # a terminal is there already
            yield self._dot(branch.place, self.xs[column], y, column)
            if branch.side == "inside":
                near = grid.inside_from(branch.element, branch.place)
                yield self._dot(branch.place, self.xs[near], y, near)
        for mark, place in grid.circuit.rails.items():
            y = grid.rail_y[mark]
            for column, track in enumerate(grid.tracks):
                if track.rail == mark:
                    yield self._dot(place, self.xs[column], y, column)
            if mark in self.writing.turns:
                column = grid.rail_span(mark)[0]
                yield self._dot(place, self._rail_end(mark)[0], y, column)

    def _dot(self, place: str, x: float, y: float, column: int) -> Point:
        return replace(self._point(place, x, y, column), touch=False)

    def _point(self, place: str, x: float, y: float, column: int) -> Point:
        name = place_name(place)
        words = place_words(self.grid.circuit, name)
        return Point(place=name, words=words, x=x, y=y, track=column + 1)

    # --- Lines --------------------------------------------------------------------

    def _lines(self) -> Iterator[Line]:
        grid = self.grid
        rails = (*grid.circuit.rails.items(), ("31", grid.circuit.ground))
        for mark, place in rails:
            y = grid.rail_y.get(mark, grid.ground_y)
            left, right = self._rail_end(mark)
            yield Line(points=((left, y), (right, y)), role="rail", place=place)
            if mark in self.writing.turns:
                yield self._turn(mark, place)
        for column, track in enumerate(grid.tracks):
            x = self.xs[column]
            first, last = track.elements[0], track.elements[-1]
            if track.rail and first.kind != "wire":
                ends = (grid.rail_y[track.rail], grid.port(first, top=True))
                yield _joint(first.top, (x, ends[0]), (x, ends[1]))
            for element in track.elements:
                if element.kind == "wire":
                    yield self._wire(column, element)
                else:
                    yield from self._inside(column, element)
            yield from self._tails(column)
            if last.bottom == grid.circuit.ground:
                bolted = grid.bolted(column)
                y = grid.foot_y if bolted else grid.port(last, top=False)
                bolt = last.top if last.kind == "ground" else last.bottom
                yield _joint(bolt, (x, y), (x, grid.ground_y))
        yield from self._gangs()

    def _turn(self, mark: str, place: str) -> Line:
        """Return the line from a contact up to the rail it feeds."""
        owner = self.grid.circuit.owner[place]
        x, turn = self.xs[self.grid.column[owner]], self.grid.turn_y(mark)
        rail_x = self._rail_end(mark)[0]
        start = (x, self.grid.port(owner, top=False))
        end = (rail_x, self.grid.rail_y[mark])
        return _joint(place, start, (x, turn), (rail_x, turn), end)

    def _wire(self, column: int, wire: Element) -> Line:
        grid = self.grid
        x = self.xs[column]
        top, bottom = grid.ends(column, wire)
        points = [(x, top), (x, bottom)]
        start = grid.plan.branches.get((wire.top, wire))
        if start:
            owner = grid.circuit.owner[start.place]
            points.insert(0, (self.xs[grid.column[owner]], top))
        end = grid.plan.branches.get((wire.bottom, wire))
        if end:
            owner = grid.circuit.owner[end.place]
            points.append((self.xs[grid.column[owner]], bottom))
        return Line(points=tuple(points), role="wire", part=wire.part)

    def _inside(self, column: int, element: Element) -> Iterator[Line]:
        """Yield the lines from a symbol to those it is joined to without a wire."""
        grid, x = self.grid, self.xs[column]
        for place, top in ((element.top, True), (element.bottom, False)):
            owner = grid.circuit.owner.get(place, element)
            if owner is element:
                continue
            branch = grid.plan.branches.get((place, element))
            port = grid.port(element, top=top)
            if branch is None:
                is_dot = owner.kind == "splice"
                far = grid.y(owner) if is_dot else grid.port(owner, top=not top)
                yield _joint(place, (x, port), (x, far))
                continue
            y, near = grid.height(branch), grid.column[owner]
            if branch.side == "inside":
                port += INSIDE if top else -INSIDE
                near = grid.inside_from(element, place)
            yield _joint(place, (self.xs[near], y), (x, y), (x, port))

    def _tails(self, column: int) -> Iterator[Line]:
        """Yield the lines from terminals to branches that no wire passes on its way."""
        for place, top, bottom in self.grid.tails(column):
            x = self.xs[column]
            yield _joint(place, (x, top), (x, bottom))

    def _gangs(self) -> Iterator[Line]:
        """Yield the dashed links between contacts that move together."""
        for gang in self.grid.gangs:
            for a, b in pairwise(gang):
                ends = [(self.xs[self.grid.column[e]], self.grid.y(e)) for e in (a, b)]
                yield Line(points=tuple(ends), role="link", part=a.part)


def _joint(place: str, *points: tuple[float, float]) -> Line:
    return Line(points=points, role="joint", place=place_name(place))
