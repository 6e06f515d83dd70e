"""What a sheet looks like in one state of the vehicle, as strokes and discs.

Both `ohmwork.drawing.svg` and `ohmwork.drawing.figure` draw from this list, so that a
symbol has one shape. Symbols follow IEC 60617 (shapes from memory): a fuse is a
rectangle with the line through it, a lamp a circle with a cross, a coil a rectangle, a
battery cell a long and a short plate. Relay contacts are drawn at rest.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from ohmwork.drawing.paper import Box, Label, Line, Point, Sheet, Symbol, meet
from ohmwork.drawing.style import TEXT_COLOURS

XY = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a technician can see or has set; nothing of it is needed to draw."""

    brightness: Mapping[str, float] = field(default_factory=dict)
    """Lamp to its share of rated light. [-]"""
    positions: Mapping[str, str] = field(default_factory=dict)
    """Switch to its position; the first of its positions if not given."""
    apart: frozenset[str] = frozenset()
    """Connectors, fuses and relays that are pulled."""
    blown: frozenset[str] = frozenset()
    """Fuses that were pulled, looked at and found blown."""
    lead_a: str | None = None
    """Place of lead A."""
    lead_b: str | None = None
    """Place of lead B."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A run of straight lines; closed ones may be filled."""

    points: tuple[XY, ...]
    role: str
    closed: bool = False
    strength: float = 1.0
    """Opacity of the fill. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A circle."""

    x: float
    y: float
    radius: float
    role: str
    strength: float = 1.0
    """Opacity of the fill. [-]"""


Shape = Stroke | Disc


def brightness_word(share: float) -> str:
    """Return off, faint, dim or full for a share of rated light. [-]"""
    limits = ((0.02, "off"), (0.2, "faint"), (0.6, "dim"))
    return next((word for limit, word in limits if share < limit), "full")


def symbol_shapes(symbol: Symbol, state: State) -> Iterator[Shape]:
    """Yield the strokes of one symbol."""
    yield from _DRAW[symbol.kind](symbol, state)


def line_shapes(line: Line) -> Iterator[Shape]:
    """Yield the strokes of one line."""
    yield Stroke(points=line.points, role=line.role)


def ground_strokes(sheet: Sheet) -> Iterator[Shape]:
    """Yield three slanted strokes wherever something is bolted to the ground rail."""
    rail = max((line for line in sheet.lines if line.role == "rail"), key=_height)
    y = _height(rail)
    ends = {
        line.points[-1][0] for line in sheet.lines if line.role in ("joint", "wire")
        and line.points[-1][1] == y
    }  # fmt: skip
    for x in sorted(ends):
        for shift in (-7.0, 0.0, 7.0):
            points = ((x + shift + 3.0, y), (x + shift - 3.0, y + 9.0))
            yield Stroke(points=points, role="symbol")


def point_shapes(point: Point, state: State) -> Iterator[Shape]:
    """Yield a hollow circle to touch, or the dot of a joint."""
    if not point.touch:
        yield Disc(x=point.x, y=point.y, radius=3.5, role="dot")
    elif not point.apart or point.apart in state.apart:
        yield Disc(x=point.x, y=point.y, radius=3.5, role="terminal")


def area_shape(box: Box) -> Stroke:
    """Return the border of an area."""
    left, top, right, bottom = box
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Stroke(points=corners, role="area", closed=True)


def frame_shape(box: Box) -> Stroke:
    """Return the outline of a part that reaches over several tracks."""
    return replace(area_shape(box), role="frame")


def key_shapes(sheet: Sheet) -> Iterator[Shape]:
    """Yield the three signs of the key: touch, joined, crossing."""
    touch, joined, crossing = (
        (label.x - 16.0, label.y) for label in sheet.labels if label.role == "key"
    )
    yield Disc(x=touch[0], y=touch[1], radius=3.5, role="terminal")
    for x, y in (joined, crossing):
        yield Stroke(points=((x - 8.0, y), (x + 8.0, y)), role="wire")
        yield Stroke(points=((x, y - 8.0), (x, y + 8.0)), role="wire")
    yield Disc(x=joined[0], y=joined[1], radius=3.5, role="dot")


def lead_shapes(sheet: Sheet, state: State) -> Iterator[tuple[Shape, Label | None]]:
    """Yield both leads: cable to the lower edge, tip, flag with its letter."""
    for letter, place, role in (("A", state.lead_a, "a"), ("B", state.lead_b, "b")):
        if place is None:
            continue
        point = sheet.place[place]
        x, y = point.x, point.y
        near = [
            box
            for box in sheet.boxes
            if abs(box[0] + box[2] - 2.0 * x) < 480.0 and box[3] > y - 40.0
        ]
        cable = min(_cables(sheet, x, y), key=lambda c: _covered(near, c))
        flag_x, flag_y = cable[4]
        flag = Label(text=letter, x=flag_x, y=flag_y, anchor="middle", role="flag")
        yield Stroke(points=cable, role=f"case-{role}"), None
        yield Stroke(points=cable, role=f"cable-{role}"), None
        if letter == "A":
            yield Disc(x=x, y=y, radius=5.0, role="tip-a"), None
            yield Disc(x=flag_x, y=flag_y, radius=8.5, role="flag-a"), flag
        else:
            yield Disc(x=x, y=y, radius=7.0, role="case-b"), None
            yield Disc(x=x, y=y, radius=7.0, role="tip-b"), None
            yield _box(flag_x, flag_y, 8.0, 8.0, "flag-b"), flag


def _cables(sheet: Sheet, x: float, y: float) -> Iterator[tuple[XY, ...]]:
    """Yield ways for a cable from a point to the lower edge; point 4 is its flag."""
    for reach in (26.0, -26.0, 42.0, -42.0):
        for down in (10.0, 24.0):
            flag = (x + reach, y + down)
            if not 12.0 < flag[0] < sheet.width - 12.0:
                continue
            first = _curve((x, y), (x + reach / 2, y), flag, steps=4)
            bend = (2 * flag[0] - x - reach / 2, 2 * flag[1] - y)
            for aside in (0.0, 20.0, -20.0, 40.0, -40.0, 70.0, -70.0):
                foot = (flag[0] + aside, sheet.height)
                if 12.0 < foot[0] < sheet.width - 12.0:
                    above = (foot[0], foot[1] - 90.0)
                    rest = _curve(flag, bend, above, foot, steps=20)
                    yield (*first, *rest[1:])


def _covered(boxes: list[Box], cable: tuple[XY, ...]) -> int:
    """How much a cable and its flag would hide; the flag counts most."""
    flag_x, flag_y = cable[4]
    flag = (flag_x - 9.0, flag_y - 9.0, flag_x + 9.0, flag_y + 9.0)
    hidden = 20 * sum(meet(flag, box) for box in boxes)
    for x, y in cable[1:]:
        around = (x - 3.0, y - 4.0, x + 3.0, y + 4.0)
        hidden += sum(meet(around, box) for box in boxes)
    return hidden


def label_text(sheet: Sheet, label: Label, state: State) -> str:
    """Return what a label says in this state; most never change."""
    if label.role != "state":
        return label.text
    kinds = {s.kind for s in sheet.symbols if s.part == label.part}
    lamp = label.place or label.part
    if kinds & {"lamp", "led"} and lamp in state.brightness:
        return brightness_word(state.brightness[lamp])
    if "switch" in kinds:
        return state.positions.get(label.part, label.text)
    if label.part in state.blown:
        return "blown"
    if label.part in state.apart:
        return "apart" if "way" in kinds else "out"
    return ""


def label_colour(label: Label, text: str, state: State) -> str:
    """Return the name of a label's colour when it says this text."""
    if label.role == "state" and text == "blown":
        return "warn"
    if label.role == "state" and (label.place or label.part) in state.brightness:
        return "glow-ink"
    if label.role == "flag":
        return "sheet" if text == "A" else "case"
    return TEXT_COLOURS.get(label.role, "ink")


# --- Shapes ---------------------------------------------------------------------------


def _battery(s: Symbol, _: State) -> Iterator[Shape]:
    """Two cells, the longer plate of each is plus; plus is the upper terminal."""
    for top in (-9.0, 3.0):
        for y, half, role in ((top, 14.0, "symbol"), (top + 6.0, 7.0, "plate")):
            ends = ((s.x - half, s.y + y), (s.x + half, s.y + y))
            yield Stroke(points=ends, role=role)
    yield _stub(s, -s.half, -9.0)
    yield _stub(s, 9.0, s.half)


def _seat(
    s: Symbol, state: State, half_width: float, half_height: float
) -> Generator[Shape, None, float]:
    """The empty seat of what is pulled out; return where the part itself is drawn."""
    if s.part not in state.apart:
        return s.x
    yield _box(s.x, s.y, half_width, half_height, "seat")
    return s.x + s.aside


def _fuse(s: Symbol, state: State) -> Iterator[Shape]:
    """A rectangle with the line through it; burnt through in two when blown."""
    x = yield from _seat(s, state, 6.0, 14.0)
    yield _box(x, s.y, 6.0, 14.0, "symbol")
    if s.part not in state.blown:
        yield Stroke(points=((x, s.y - s.half), (x, s.y + s.half)), role="wire")
        return
    for end in (-1.0, 1.0):
        link = (end * s.half, 0.0), (end * 7.0, 0.0), (end * 3.0, end * 3.0)
        points = tuple((x + across, s.y + down) for down, across in link)
        yield Stroke(points=points, role="warn")


def _contact(s: Symbol, state: State) -> Iterator[Shape]:
    """A blade that pivots at the lower end; a handle where a hand moves it."""
    x = yield from _seat(s, state, 8.0, s.half - 8.0)
    position = state.positions.get(s.part)
    closed = s.rests_closed if position is None else position in s.closed_in
    top, bottom = (s.half - 8.0 if shared else s.half for shared in s.shares)
    yield Stroke(points=((x, s.y - top), (x, s.y - 13.0)), role="symbol")
    yield Stroke(points=((x, s.y + 13.0), (x, s.y + bottom)), role="symbol")
    tip = (x - 1.0, s.y - 13.0) if closed else (x - 11.0, s.y - 11.0)
    role = "blade" if s.kind == "switch" else "symbol"
    yield Stroke(points=((x, s.y + 13.0), tip), role=role)
    if s.handle:
        bar = s.x - 19.0
        yield Stroke(points=(((tip[0] + x) / 2.0, s.y), (bar, s.y)), role="link")
        yield Stroke(points=((bar, s.y - 5.0), (bar, s.y + 5.0)), role="blade")


def _coil(s: Symbol, state: State) -> Iterator[Shape]:
    """A rectangle; what is across the coil stands in it."""
    x = yield from _seat(s, state, 16.0, 9.0)
    yield _box(x, s.y, 16.0, 9.0, "symbol")
    if s.variant:
        yield Stroke(points=((x + 9.0, s.y - 9.0), (x + 9.0, s.y + 9.0)), role="joint")
    if s.variant == "resistor":
        yield _box(x + 9.0, s.y, 2.5, 5.5, "terminal")
    elif s.variant:
        tip = -3.0 if s.variant == "diode up" else 3.0
        sides = ((5.0, -tip), (13.0, -tip), (9.0, tip))
        triangle = tuple((x + across, s.y + down) for across, down in sides)
        yield Stroke(points=triangle, role="solid", closed=True)
        bar = ((x + 5.0, s.y + tip), (x + 13.0, s.y + tip))
        yield Stroke(points=bar, role="joint")
    for near, far in ((-9.0, -s.half), (9.0, s.half)):
        yield Stroke(points=((x, s.y + near), (x, s.y + far)), role="wire")


def _lamp(s: Symbol, state: State) -> Iterator[Shape]:
    filament = s.name.partition("-")[0]
    lamp = f"{s.part}:{filament}" if filament else s.part
    share = min(1.0, state.brightness.get(lamp, 0.0))
    top, bottom = (s.half - 8.0 if shared else s.half for shared in s.shares)
    yield _stub(s, -top, -14.0)
    yield _stub(s, 14.0, bottom)
    yield from _glow(s, share)
    yield Disc(x=s.x, y=s.y, radius=14.0, role="symbol")
    reach = 14.0 * math.sqrt(0.5)
    for sign in (-1.0, 1.0):
        ends = ((s.x - reach, s.y - sign * reach), (s.x + reach, s.y + sign * reach))
        yield Stroke(points=ends, role="symbol")


def _glow(s: Symbol, share: float) -> Iterator[Shape]:
    """Yield light and rays of a lamp that burns with a share of its light."""
    if brightness_word(share) != "off":
        yield Disc(x=s.x, y=s.y, radius=14.0, role="glow", strength=0.08 + 0.92 * share)
        for ray in range(8):
            angle = (ray + 0.5) * math.pi / 4.0
            along = [
                (s.x + r * math.cos(angle), s.y + r * math.sin(angle))
                for r in (16.5, 17.5 + 5.0 * share)
            ]
            yield Stroke(points=tuple(along), role="ray")


def _led(s: Symbol, state: State) -> Iterator[Shape]:
    """A diode in the way of the current, with two arrows of light."""
    share = min(1.0, state.brightness.get(s.part, 0.0))
    yield _stub(s, -s.half, s.half)
    yield from _glow(s, share)
    yield _path(s, "symbol", (-9.0, -8.0), (9.0, -8.0), (0.0, 8.0), closed=True)
    yield _path(s, "symbol", (-9.0, 8.0), (9.0, 8.0))
    for y in (-3.0, 4.0):
        yield _path(s, "joint", (10.0, y), (17.0, y - 7.0))
        yield _path(s, "joint", (13.0, y - 7.0), (17.0, y - 7.0), (17.0, y - 3.0))


def _motor(s: Symbol, _: State) -> Iterator[Shape]:
    """A circle with M."""
    yield _stub(s, -s.half, -14.0)
    yield _stub(s, 14.0, s.half)
    yield from _machine(s, 0.0, _M)


_M = ((-5.5, 6.0), (-5.5, -6.0), (0.0, 2.0), (5.5, -6.0), (5.5, 6.0))
_G = (
    (5.0, -4.5), (2.5, -6.5), (-2.5, -6.5), (-5.0, -4.0), (-5.0, 2.0), (-2.5, 4.5),
    (2.5, 4.5), (5.0, 2.5), (5.0, -0.5), (1.0, -0.5),
)  # fmt: skip


def _machine(s: Symbol, y: float, letter: tuple[XY, ...]) -> Iterator[Shape]:
    """A circle with a letter."""
    yield Disc(x=s.x, y=s.y + y, radius=14.0, role="symbol")
    yield _path(s, "joint", *((a, b + y) for a, b in letter))


def _heater(s: Symbol, _: State) -> Iterator[Shape]:
    """A rectangle with strokes across; a slanted stroke if it limits itself."""
    yield _stub(s, -s.half, -16.0)
    yield _stub(s, 16.0, s.half)
    yield _box(s.x, s.y, 7.0, 16.0, "symbol")
    for y in (-8.0, 0.0, 8.0):
        yield _path(s, "joint", (-7.0, y), (7.0, y))
    if s.variant == "self-limiting":
        yield _path(s, "joint", (-13.0, 12.0), (-9.0, 12.0), (12.0, -12.0))


def _resistor(s: Symbol, _: State) -> Iterator[Shape]:
    """A rectangle without a line through it."""
    yield _stub(s, -s.half, -14.0)
    yield _stub(s, 14.0, s.half)
    yield _box(s.x, s.y, 6.0, 14.0, "symbol")


def _thermistor(s: Symbol, state: State) -> Iterator[Shape]:
    """A resistor with a slanted stroke that has a foot: it changes of itself."""
    yield from _resistor(s, state)
    yield _path(s, "joint", (-14.0, 12.0), (-10.0, 12.0), (11.0, -12.0))


def _horn(s: Symbol, _: State) -> Iterator[Shape]:
    """A box with a bell."""
    yield _stub(s, -s.half, -12.0)
    yield _stub(s, 12.0, s.half)
    yield _box(s.x, s.y, 5.0, 12.0, "symbol")
    bell = ((5.0, -5.0), (15.0, -13.0), (15.0, 13.0), (5.0, 5.0))
    yield _path(s, "symbol", *bell)


def _solenoid(s: Symbol, _: State) -> Iterator[Shape]:
    """A coil with what it moves."""
    yield _stub(s, -s.half, -9.0)
    yield _stub(s, 9.0, s.half)
    yield _box(s.x, s.y, 12.0, 9.0, "symbol")
    yield _path(s, "joint", (12.0, 0.0), (19.0, 0.0))
    yield _path(s, "symbol", (19.0, -5.0), (19.0, 5.0))


def _breaker(s: Symbol, state: State) -> Iterator[Shape]:
    """A fuse's seat with a bent strip in it."""
    x = yield from _seat(s, state, 6.0, 14.0)
    yield _box(x, s.y, 7.0, 14.0, "symbol")
    role = "warn" if s.part in state.blown else "wire"
    strip = ((0.0, -s.half), (0.0, -7.0), (-4.0, -7.0), (-4.0, 7.0), (0.0, 7.0))
    points = tuple((x + a, s.y + b) for a, b in (*strip, (0.0, s.half)))
    yield Stroke(points=points, role=role)


def _bolt(s: Symbol, _: State) -> Iterator[Shape]:
    """A thick stroke where a ring terminal is bolted on."""
    yield _stub(s, -s.half, s.half)
    yield _path(s, "symbol", (-7.0, 0.0), (7.0, 0.0))


# --- Boxes: the outline is a frame of the sheet's own ---------------------------------


def _pin_stub(s: Symbol, inner: float) -> Stroke:
    """Line from a further terminal of a box to a height inside. [px]"""
    return _stub(s, -s.half if s.on_top else s.half, inner)


def _module(s: Symbol, _: State) -> Iterator[Shape]:
    """Lines to the outline; words stand inside."""
    if not s.is_pin or s.on_top:
        yield _stub(s, -s.half, -24.0)
    if not s.is_pin or not s.on_top:
        yield _stub(s, 24.0, s.half)


def _flasher(s: Symbol, _: State) -> Iterator[Shape]:
    """Lines to the outline, and the pulses it gives."""
    if s.is_pin:
        yield _pin_stub(s, 18.0)
        return
    yield _stub(s, -s.half, -18.0)
    yield _stub(s, 18.0, s.half)
    pulses = [(-12.0, 5.0), (-8.0, 5.0), (-8.0, -5.0), (-2.0, -5.0), (-2.0, 5.0)]
    pulses += [(4.0, 5.0), (4.0, -5.0), (10.0, -5.0), (10.0, 5.0), (13.0, 5.0)]
    yield _path(s, "joint", *pulses)


def _potentiometer(s: Symbol, state: State) -> Iterator[Shape]:
    """A resistor; an arrow from the side is its slider."""
    if not s.is_pin:
        yield from _resistor(s, state)
        return
    if not s.reach:
        yield _pin_stub(s, 0.0)
        return
    side = math.copysign(1.0, s.reach)
    tip = s.reach - 7.0 * side
    yield _pin_stub(s, 0.0)
    yield _path(s, "joint", (0.0, 0.0), (tip, 0.0))
    head = ((tip - 7.0 * side, -3.5), (tip, 0.0), (tip - 7.0 * side, 3.5))
    yield _path(s, "solid", *head, closed=True)


def _alternator(s: Symbol, _: State) -> Iterator[Shape]:
    """A circle with G; further terminals lead to it."""
    if not s.is_pin:
        yield _stub(s, -s.half, -14.0)
        yield _stub(s, 14.0, s.half)
        yield from _machine(s, 0.0, _G)
        yield _path(s, "joint", *((x, 8.0 - 2.0 * y) for x, y in _WAVE))
        return
    yield from _lead_in(s, -12.0 + 6.0 * s.steps)


_WAVE = ((-5.0, 0.0), (-2.5, 1.0), (2.5, -1.0), (5.0, 0.0))


def _lead_in(s: Symbol, y: float) -> Iterator[Shape]:
    """Yield a line from a further terminal to the machine of its box."""
    side = math.copysign(1.0, s.reach)
    end = s.reach - side * math.sqrt(14.0**2 - y**2) if s.reach else 0.0
    yield _pin_stub(s, y)
    yield _path(s, "joint", (0.0, y), (end, y))


def _wiper(s: Symbol, _: State) -> Iterator[Shape]:
    """A motor with a second brush, and the park switch, parked: 31b lies at 31."""
    if not s.is_pin:
        yield _stub(s, -s.half, -14.0)
        yield _stub(s, 14.0, s.half)
        yield from _machine(s, 0.0, _M)
    elif s.name == "53b":
        yield from _lead_in(s, -8.0)
    elif s.name == "31b":
        yield _pin_stub(s, 0.0)
        yield _path(s, "symbol", (0.0, 0.0), (0.0, 13.0))
        yield _stub(s, 13.0, 18.0)
        yield _path(s, "joint", (0.0, 18.0), (s.reach, 18.0))
    else:
        yield _pin_stub(s, 8.0)
        yield _path(s, "symbol", (-6.0, 8.0), (6.0, 8.0))


def _starter(s: Symbol, _: State) -> Iterator[Shape]:
    """A motor behind a contact; the coil of the contact hangs at terminal 50."""
    if not s.is_pin:
        yield _stub(s, -s.half, -26.0)
        yield _path(s, "symbol", (-9.0, -24.0), (0.0, -10.0))
        yield _stub(s, -10.0, -3.0)
        yield from _machine(s, 11.0, _M)
        yield _stub(s, 25.0, s.half)
        return
    yield _pin_stub(s, -25.0)
    yield _box(s.x, s.y - 18.0, 12.0, 7.0, "symbol")
    yield _stub(s, -11.0, 29.0)
    yield _path(s, "joint", (0.0, 29.0), (s.reach, 29.0))
    if s.reach:
        side = math.copysign(1.0, s.reach)
        ends = ((side * 12.0, -18.0), (s.reach - 5.0, -18.0))
        yield _path(s, "link", *ends)


def _way(s: Symbol, state: State) -> Iterator[Shape]:
    """Socket arc on the harness side, pin bar on the other."""
    up = 1.0 if s.socket_on_top else -1.0
    apart = s.part in state.apart
    socket, pin = (-2.0, 4.0) if apart else (2.0, -2.0)
    arc = [math.pi * i / 12.0 for i in range(13)]
    bow = tuple(
        (s.x - 6.0 * math.cos(a), s.y + up * (socket - 6.0 * math.sin(a))) for a in arc
    )
    yield _stub(s, -up * s.half, up * (socket - 6.0))
    yield Stroke(points=bow, role="symbol")
    yield Stroke(
        points=((s.x, s.y + up * pin), (s.x, s.y + up * (pin + 8.0))), role="pin"
    )
    yield _stub(s, up * (pin + 8.0), up * s.half)


def _ground(_symbol: Symbol, _: State) -> Iterator[Shape]:
    """Nothing of its own: the strokes stand under the rail."""
    yield from ()


_DRAW = {
    "battery": _battery,
    "fuse": _fuse,
    "switch": _contact,
    "relay": _contact,
    "coil": _coil,
    "lamp": _lamp,
    "led": _led,
    "motor": _motor,
    "heater": _heater,
    "horn": _horn,
    "solenoid": _solenoid,
    "step": _resistor,
    "thermistor": _thermistor,
    "breaker": _breaker,
    "bolt": _bolt,
    "module": _module,
    "flasher": _flasher,
    "potentiometer": _potentiometer,
    "alternator": _alternator,
    "wiper": _wiper,
    "starter": _starter,
    "way": _way,
    "ground": _ground,
}


def _stub(s: Symbol, start: float, end: float) -> Stroke:
    return Stroke(points=((s.x, s.y + start), (s.x, s.y + end)), role="wire")


def _path(s: Symbol, role: str, *points: XY, closed: bool = False) -> Stroke:
    """Return a stroke through points given from the middle of a symbol."""
    moved = tuple((s.x + x, s.y + y) for x, y in points)
    return Stroke(points=moved, role=role, closed=closed)


def _box(x: float, y: float, half_x: float, half_y: float, role: str) -> Stroke:
    corners = (
        (x - half_x, y - half_y), (x + half_x, y - half_y),
        (x + half_x, y + half_y), (x - half_x, y + half_y),
    )  # fmt: skip
    return Stroke(points=corners, role=role, closed=True)


def _height(line: Line) -> float:
    return line.points[0][1]


def _curve(*control: XY, steps: int) -> tuple[XY, ...]:
    """Return points on the Bézier curve of some control points."""
    curve = []
    for step in range(steps + 1):
        t = step / steps
        points = list(control)
        while len(points) > 1:
            points = [
                (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
                for a, b in pairwise(points)
            ]
        curve.append(points[0])
    return tuple(curve)
