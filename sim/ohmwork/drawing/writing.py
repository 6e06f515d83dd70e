"""Labels: what is written beside symbols and wires, and the room all of it takes.

Everything here is measured sideways from its own track, so that the distance between
tracks can follow from the labels.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ohmwork.drawing.circuit import BOXES, INNER, Element, place_name
from ohmwork.drawing.grid import FOOT, HALF, STUB, Grid
from ohmwork.drawing.paper import LINE_HEIGHT, Box, Label, meet
from ohmwork.drawing.words import pin_words, short_label, terminal_mark, two_lines
from ohmwork.parts import (
    Fuse,
    Module,
    Relay,
    ResistorPack,
    Splice,
    Switch,
    TwinLamp,
    Wire,
)

BODY = {
    "battery": 14.0, "switch": 12.0, "relay": 12.0, "coil": 16.0, "lamp": 22.0,
    "led": 22.0, "motor": 16.0, "horn": 18.0, "solenoid": 20.0, "thermistor": 14.0,
    "heater": 14.0, "module": 32.0, "alternator": 20.0, "starter": 20.0, "wiper": 20.0,
    "flasher": 20.0,
}  # fmt: skip
"""Middle of a symbol to the edge of what it draws sideways; others 8. [px]"""
FRAME = {
    "module": (24.0, 24.0), "alternator": (24.0, 24.0), "starter": (34.0, 34.0),
    "wiper": (24.0, 24.0), "flasher": (18.0, 18.0), "lamp": (20.0, 28.0),
}  # fmt: skip
"""Middle of symbols to the upper and lower edge of their frame. [px]"""
ASIDE = {"fuse": 26.0, "breaker": 27.0, "coil": 36.0, "relay": 36.0}
"""How far a pulled part is drawn beside its seat. [px]"""
HANDLE = 8.0
"""What a hand moves, beside a switch. [px]"""
BELOW_FRAME = 2.5
"""How much lower the mark of a terminal stands that is close to a frame. [px]"""
BESIDE = 8.0
"""A wire to its code. [px]"""


class Writing:
    """The labels of each column, and boxes around all that stands there.

    Parameters
    ----------
    grid : the tracks with their heights.
    """

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.texts: list[list[Label]] = [[] for _ in grid.tracks]
        self.boxes: list[list[Box]] = [[] for _ in grid.tracks]
        self.turns: dict[str, float] = {}
        """Mark of a fed rail to where the line up to it runs beside its track. [px]"""
        self.areas: dict[str, tuple[int, int, Box]] = {}
        """Connector to first column, last column and border of what lies behind."""
        self.frames: list[tuple[str, int, int, Box]] = []
        """Part, first column, last column and outline of each frame."""
        columns = range(len(grid.tracks))
        for column in columns:
            self._draw_through(column)
            for station in grid.stations(column):
                self._dress(column, station)
            self._name_bolt(column)
        for part, box in self._framed():
            self._frame(part, box)
        for connector, unit in grid.circuit.units.items():
            self._open_area(connector, unit)
        for column in columns:
            for element in grid.tracks[column].elements:
                self._write_code(column, element)
        for mark in grid.fed_rails():
            self._turn_up(mark)
        self._close_areas()

    def _framed(self) -> Iterator[tuple[str, list[Element]]]:
        """Yield parts that have a frame, each with its symbols."""
        for part, box in self.grid.circuit.boxes.items():
            if box[0].kind in FRAME:
                yield part, box
        for lamp in self.grid.vehicle.of_type(TwinLamp):
            filaments = [e for e in self.grid.column if e.part == lamp.name]
            if len(filaments) > 1:
                yield lamp.name, filaments

    def _frame(self, part: str, box: list[Element]) -> None:
        """Draw the outline of a part: in pieces where others run between."""
        column, kind = self.grid.column, box[0].kind
        y, side = self.grid.y(box[0]), BODY[kind]
        above, below = FRAME[kind]
        for first, last in self.grid.pieces(box):
            outline = (-side, y - above, side, y + below)
            self.frames.append((part, first, last, outline))
            for between in set(range(first, last)) - {column[e] for e in box}:
                self.boxes[between].append((-4.0, y - above, 4.0, y + below))

    def leads_gang(self, station: Element) -> bool:
        """Whether a symbol is the first of its part beside others: it has the name."""
        column, row = self.grid.column, self.grid.plan.row
        if station.kind in ("switch", "relay"):
            return any(station is gang[0] for gang in self.grid.gangs)
        if station.kind in BOXES:
            pieces = self.grid.pieces(self.grid.circuit.boxes[station.part])
            return column[station] in [first for first, _ in pieces]
        gang = [e for e in column if (e.part, e.kind) == (station.part, station.kind)]
        return station is min(gang, key=lambda e: (row[e], column[e]))

    def aside(self, station: Element) -> float:
        """How far from its seat a symbol is drawn while pulled; 0 if fixed. [px]"""
        pulls = self.grid.vehicle[station.part].plugs_in
        return ASIDE.get(station.kind, 0.0) if pulls else 0.0

    def _say(self, column: int, label: Label) -> None:
        self.texts[column].append(label)
        self.boxes[column].append(label.box)

    # --- Symbols ------------------------------------------------------------------

    def _draw_through(self, column: int) -> None:
        """Keep the track's own vertical line free."""
        track = self.grid.tracks[column]
        for wire in track.elements:
            if wire.kind == "wire":
                top, bottom = self.grid.ends(column, wire)
                self.boxes[column].append((-4.0, top, 4.0, bottom))
        if track.rail:
            top = self.grid.rail_y[track.rail]
            first = next(self.grid.plan.stations(track))
            self.boxes[column].append((-4.0, top, 4.0, self.grid.y(first)))
        if track.elements[-1].bottom == self.grid.circuit.ground:
            foot = self.grid.foot_y
            self.boxes[column].append((-8.0, foot, 8.0, foot + FOOT))

    def _dress(self, column: int, station: Element) -> None:
        """Write a symbol's own labels and keep its room free."""
        part = self.grid.vehicle[station.part]
        y, half = self.grid.y(station), HALF[station.kind]
        body = BODY.get(station.kind, 8.0)
        self.boxes[column].append((-body, y - half, body, y + half))
        for label in self._names(column, station, body + 4.0):
            self._say(column, label)
        if isinstance(part, Module):
            for place, shift in ((station.top, -14.0), (station.bottom, 14.0)):
                if not place.endswith(INNER):
                    self._say(column, self._purpose(part, place, y + shift))
        for place, top in ((station.top, True), (station.bottom, False)):
            if self.grid.circuit.owner.get(place, station) is not station:
                self.boxes[column].append(self._joined(station, place, top=top))
            text = terminal_mark(station, place)
            if text and self.grid.circuit.owner.get(place) == station:
                port = self.grid.port(station, top=top)
                if isinstance(part, TwinLamp) and not top:
                    port += BELOW_FRAME
                mark = Label(
                    text=text, x=9.0, y=port, anchor="start", role="mark", place=place
                )
                self._say(column, mark)
        if station.kind == "way":
            word = Label(
                text="", room="apart", x=9.0, y=y - 3.0 * _inwards(station),
                anchor="start", role="state", part=station.part,
            )  # fmt: skip
            self._say(column, word)
        beside = self.aside(station)
        if beside:
            self.boxes[column] += [
                (beside - body, y - 10.0, beside + body, y + 10.0),
                (beside - 4.0, y - half - 4.0, beside + 4.0, y + half + 4.0),
            ]

    def _joined(self, station: Element, place: str, *, top: bool) -> Box:
        """Return the room of the line to what a symbol is joined to without a wire."""
        branch = self.grid.plan.branches.get((place, station))
        owner = self.grid.circuit.owner[place]
        far = self.grid.height(branch) if branch else self.grid.y(owner)
        port = self.grid.port(station, top=top)
        return (-4.0, min(port, far), 4.0, max(port, far))

    def _purpose(self, part: Module, place: str, y: float) -> Label:
        """Return what stands in the box of a module beside one terminal."""
        words = pin_words(part, place.partition(":")[2])
        return Label(
            text=words, x=0.0, y=y, anchor="middle", role="value", part=part.name
        )

    def _names(self, column: int, station: Element, beyond: float) -> Iterator[Label]:
        """Yield what is written beside a symbol: its name, then what it is."""
        kind = station.kind
        if kind == "way" or not (
            kind in ("ground", "lamp", "step") or self.leads_gang(station)
        ):
            return
        beyond += HANDLE if kind == "switch" else 0.0
        y = self.grid.y(station)
        name = Label(
            text=station.part, x=-beyond, y=y, anchor="end", role="name",
            part=station.part,
        )  # fmt: skip
        if kind == "splice":
            if not isinstance(self.grid.vehicle[station.part], Splice):
                name = replace(name, text=station.top)
            below, above = replace(name, y=y + 10.0), replace(name, y=y - 10.0)
            yield below if self._is_free(column, below) else above
            return
        if kind in ("lamp", "led") and not self._has_neighbour(station):
            name = replace(name, x=beyond, anchor="start")
        lines = [name, *self._values(station, name)]
        if kind in ("lamp", "step") and not self.leads_gang(station):
            lines = lines[-1:]
        first = y - LINE_HEIGHT * (len(lines) - 1) / 2
        places = [
            [
                replace(line, y=first + shift + LINE_HEIGHT * i)
                for i, line in enumerate(lines)
            ]
            for shift in (0.0, -6.0, 6.0, -12.0, 12.0, -18.0, 18.0)
        ]
        free = (p for p in places if all(self._is_free(column, line) for line in p))
        yield from next(free, places[0])

    def _has_neighbour(self, station: Element) -> bool:
        """Whether the other filament of a lamp stands to the right."""
        column = self.grid.column
        return any(
            e.part == station.part and e.kind == "lamp" and column[e] > column[station]
            for e in column
        )

    def _values(self, station: Element, name: Label) -> Iterator[Label]:
        """Yield the lines that follow a symbol's name."""
        part = self.grid.vehicle[station.part]
        value = replace(name, role="value")
        state = replace(name, role="state", text="")
        if isinstance(part, Fuse):
            yield replace(value, text=f"{part.rating:g} A")
            yield replace(state, room="blown")
        elif station.kind not in ("ground", "bolt"):
            label = part.label
            label = label if isinstance(part, Module) else short_label(label)
            for text in two_lines(label):
                yield replace(value, text=text)
        if isinstance(part, ResistorPack):
            ohms = dict(part.steps)[station.name]
            yield replace(value, text=f"{ohms:g} Ω")
        if station.kind in ("lamp", "led"):
            filament = station.top if isinstance(part, TwinLamp) else ""
            yield replace(state, room="faint", place=filament)
        if isinstance(part, Switch):
            longest = max(part.positions, key=len)
            yield replace(state, text=part.positions[0], room=longest)
        if isinstance(part, Relay):
            yield replace(value, text=self._other_half(station))

    def _other_half(self, station: Element) -> str:
        """Return where the coil of a contact is, or the contacts of a coil."""
        other = "coil" if station.kind == "relay" else "relay"
        tracks = sorted(
            {
                column + 1
                for element, column in self.grid.column.items()
                if (element.part, element.kind) == (station.part, other)
            }
        )
        word = "coil" if other == "coil" else "contact"
        return f"{word} on {', '.join(map(str, tracks))}"

    def _name_bolt(self, column: int) -> None:
        """Name the place where a wire is bolted to the body itself."""
        place = self.grid.bolted(column)
        if place:
            name = Label(
                text=place_name(place).partition(":")[0], x=-12.0, y=self.grid.foot_y,
                anchor="end", role="name", place=place,
            )  # fmt: skip
            self._say(column, name)

    # --- Wires --------------------------------------------------------------------

    def _write_code(self, column: int, wire: Element) -> None:
        """Find room for a wire's colour and size: right, left, then on its branch."""
        part = self.grid.vehicle[wire.part]
        if not isinstance(part, Wire):
            return
        top, bottom = self.grid.free_run(column, wire)
        right = Label(
            text=part.code, x=BESIDE, y=(top + bottom) / 2, anchor="start", role="code",
            part=wire.part,
        )  # fmt: skip
        left = replace(right, x=-BESIDE, anchor="end")
        shifts = sorted(range(-200, 201, 2), key=abs)
        tries = [
            replace(side, y=right.y + shift)
            for side in (right, left)
            for shift in shifts
            if 2 * abs(shift) <= bottom - top - 18.0
        ]
        branches = self.grid.plan.branches
        start = branches.get((wire.top, wire))
        branch = start or branches.get((wire.bottom, wire))
        if branch:
            owner = self.grid.column[self.grid.circuit.owner[branch.place]]
            side = left if owner < column else right
            other = right if side is left else left
            y, over = self.grid.height(branch), -11.0 if start else 11.0
            tries += [
                replace(label, x=label.x / BESIDE * away, y=y + shift)
                for away in (BESIDE, 16.0, 44.0, 72.0)
                for label, shift in ((side, over), (side, -over), (other, over))
            ]
        self._say(column, next((t for t in tries if self._is_free(column, t)), right))

    def _is_free(self, column: int, label: Label) -> bool:
        """Whether a label meets nothing of its own track and no line beside it."""
        box = label.box
        if any(meet(box, other) for other in self.boxes[column]):
            return False
        lines = list(self.grid.across())
        for first, last, (_, top, _, bottom) in self.areas.values():
            lines += [(first - 1, last + 1, top), (first - 1, last + 1, bottom)]
        return not any(
            box[1] - 3.0 < y < box[3] + 3.0
            and (low <= column < high if label.x > 0.0 else low < column <= high)
            for low, high, y in lines
        )

    # --- Areas and rails ----------------------------------------------------------

    def _open_area(self, connector: str, unit: Iterable[Element]) -> None:
        """Set top and bottom of what lies behind a connector, through its ways."""
        inside = list(unit)
        columns = [self.grid.column[e] for e in inside]
        edges = [
            (self.grid.y(e) + 5.0 * _inwards(e),) * 2
            if e.kind == "way"
            else (self.grid.edges(e)[0] - STUB, self.grid.edges(e)[1] + STUB)
            for e in inside
        ]
        top, bottom = min(t for t, _ in edges), max(b for _, b in edges)
        self.areas[connector] = (min(columns), max(columns), (0.0, top, 0.0, bottom))
        title = short_label(self.grid.vehicle[connector].label)
        for i, line in enumerate(two_lines(title)):
            label = Label(
                text=line, x=-9.0, y=top + 10.0 + LINE_HEIGHT * i, anchor="end",
                role="value", part=connector,
            )  # fmt: skip
            self._say(min(columns), label)

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

    def _turn_up(self, mark: str) -> None:
        """Lead the end of the contact that feeds a rail round and up to it."""
        first, last = self.grid.rail_span(mark)
        rail, turn = self.grid.rail_y[mark], self.grid.turn_y(mark)
        beside = (0.0, rail - 4.0, 1e9, turn + 4.0)
        x = max([24.0, *(b[2] + 6.0 for b in self.boxes[first] if meet(b, beside))])
        self.turns[mark] = x
        name = Label(
            text=mark, x=20.0 + (x if first == last else 0.0), y=rail, anchor="start",
            role="rail",
        )  # fmt: skip
        self._say(last, name)
        self.boxes[first] += [
            (x - 4.0, rail - 4.0, x + 4.0, turn),
            (0.0, turn - 2.0, x, turn + 2.0),
        ]


def _inwards(way: Element) -> float:
    """Return 1 if the pin side of a way is below its harness side, or else -1."""
    return -1.0 if way.top.endswith("p") else 1.0
