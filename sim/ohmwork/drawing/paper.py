"""What a sheet holds, as values: symbols, lines, labels, points, areas.

Lengths are in pixels at natural size; x runs to the right, y downwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

Box = tuple[float, float, float, float]
"""Left, top, right, bottom. [px]"""

TEXT_SIZE = {"rail": 13.0, "title": 12.0}
"""Size of the text by role; any other role is 11. [px]"""
BOLD = frozenset({"rail", "name", "state", "title", "flag"})
LINE_HEIGHT = 13.0
"""Distance of lines in a block of text. [px]"""


_WIDTHS = {
    0.34: "Iijl .,'|",
    0.43: "ftr:;/-()",
    0.63: "JLFceksvxyz",
    0.68: "abdghnopquEKPSTY0123456789",
    0.84: "ABCDGHNOQRUVXZw−+Ω",
}
"""Widest advance of each character in DejaVu Sans, rounded up. [em]

DejaVu Sans is wider than what notebooks use; matplotlib brings it along.
"""
_WIDTH = {character: width for width, some in _WIDTHS.items() for character in some}


def meet(a: Box, b: Box) -> bool:
    """Whether two boxes share more than an edge."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width that a text will not exceed in the usual sans-serif fonts. [px]

    Parameters
    ----------
    text : one line.
    size : size of the type. [px]
    bold : whether it stands in the bold weight, which is up to 15 % wider.
    """
    width = size * sum(_WIDTH.get(character, 1.0) for character in text)
    return width * (1.15 if bold else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One graphical symbol, standing upright on its track."""

    part: str
    kind: str
    """As of `ohmwork.drawing.circuit.Element`."""
    x: float
    y: float
    """Middle of the symbol. [px]"""
    half: float
    """Distance from the middle to each terminal. [px]"""
    name: str = ""
    """Way of a connector, or contact such as ``15-56``."""
    variant: str = ""
    """``self-limiting`` (heater); ``resistor``, ``diode up`` or ``diode down`` (across
    a coil, named by where its cathode points)."""
    handle: bool = False
    """Whether a hand moves this contact; others of its gang follow by a link."""
    closed_in: tuple[str, ...] = ()
    """Positions in which a switch contact is closed."""
    rests_closed: bool = False
    """Whether a contact is closed in its switch's first position, or with no current
    in its relay's coil."""
    shares: tuple[bool, bool] = (False, False)
    """Whether the upper, lower terminal is drawn at another contact of the part."""
    aside: float = 0.0
    """How far to the right it is drawn while it is pulled. [px]"""
    socket_on_top: bool = True
    """Of a connector way: whether the harness side is the upper one."""
    is_pin: bool = False
    """Whether it is a further terminal of a box."""
    on_top: bool = True
    """Of a further terminal of a box: whether it is at the upper edge."""
    reach: float = 0.0
    """Of the same: how far to the right the box's pair of terminals is. [px]"""
    steps: int = 0
    """Of the same: how many tracks away that is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line with right angles."""

    points: tuple[tuple[float, float], ...]
    role: str
    """wire, rail, joint (belongs to one place), link (mechanical, dashed)"""
    part: str = ""
    """The wire, or the switch whose contacts a link joins."""
    place: str = ""
    """Of a joint or a rail: the place it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One line of text, placed by its middle height."""

    text: str
    x: float
    y: float
    anchor: str
    """start, middle or end"""
    role: str
    """name, value, mark, code, state, rail, track, title, key, remark"""
    part: str = ""
    place: str = ""
    room: str = ""
    """The longest text that may stand here instead, for a label that changes."""

    @property
    def size(self) -> float:
        """Height of the type. [px]"""
        return TEXT_SIZE.get(self.role, 11.0)

    @property
    def box(self) -> Box:
        """What the text may cover. [px]"""
        width = max(
            text_width(text, self.size, bold=self.role in BOLD)
            for text in (self.text, self.room)
        )
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        half = self.size * 0.58
        return (left, self.y - half, left + width, self.y + half)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A place on the sheet: a hollow circle to touch, or a dot where wires join."""

    place: str
    words: str
    """The place as said aloud, such as ``left dip lamp, ground side``."""
    x: float
    y: float
    track: int
    """Number printed under the track."""
    touch: bool = True
    """False for a joint inside the loom, and for a dot that only joins lines."""
    apart: str = ""
    """Part that must be pulled before this point can be seen, if any."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """The part of the vehicle behind one connector, such as a lamp unit."""

    connector: str
    box: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The outline of a part that reaches over several tracks."""

    part: str
    box: Box


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A wiring diagram, ready to be drawn."""

    name: str
    title: str
    width: float
    height: float
    symbols: tuple[Symbol, ...]
    lines: tuple[Line, ...]
    labels: tuple[Label, ...]
    points: tuple[Point, ...]
    """In the order of the circuit: by track, from top to bottom."""
    areas: tuple[Area, ...]
    frames: tuple[Frame, ...]
    tracks: tuple[str, ...]
    """What stands on each track, in words."""

    @cached_property
    def boxes(self) -> tuple[Box, ...]:
        """What labels and points cover. [px]"""
        points = [(p.x, p.y) for p in self.points if not p.apart]
        return (
            *(label.box for label in self.labels),
            *((x - 4.0, y - 4.0, x + 4.0, y + 4.0) for x, y in points),
        )

    @cached_property
    def place(self) -> dict[str, Point]:
        """First point of each place that has one."""
        found: dict[str, Point] = {}
        for point in sorted(self.points, key=lambda p: not p.touch):
            found.setdefault(point.place, point)
        return found
