"""Wiring diagrams: what must stand on a sheet, and how it must not look.

The lint below judges geometry alone. It is first shown sheets with a flaw, to prove
that it can fail.
"""

import dataclasses
import io
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import matplotlib
import networkx
import numpy as np
import pytest
from matplotlib.ft2font import FT2Font

import ohmwork
from ohmwork import drawing, faults
from ohmwork.circuits import Terminals, circuit_of
from ohmwork.drawing.paper import BOLD, Box, Line, Sheet, meet, text_width
from ohmwork.drawing.symbols import Stroke, symbol_shapes
from ohmwork.parts import (
    PART_KINDS,
    Body,
    Connector,
    Engine,
    Fuse,
    GroundPoint,
    Lamp,
    Part,
    Relay,
    ResistorPack,
    Splice,
    Switch,
    TwinLamp,
    Wire,
)
from ohmwork.vehicle import Vehicle, vehicle_names

TEST_BOARDS = tuple(
    str(Path(__file__).with_name(f"drawing_{name}.yaml"))
    for name in ("board", "trailer")
)
WHOLE_VEHICLES = ("training_van", "training_truck")
BOARDS = (
    *(name for name in vehicle_names() if name not in WHOLE_VEHICLES),
    *TEST_BOARDS,
)
CIRCUITS = tuple(
    f"{name}: {circuit}"
    for name in WHOLE_VEHICLES
    for circuit in ohmwork.load_vehicle(name).circuits
)
SVG = "{http://www.w3.org/2000/svg}"
POINTS = f".//{SVG}g[@class='ow-point']"
XY = tuple[float, float]
Segment = tuple[XY, XY]
Way = list[tuple[str, float]]


@cache
def drawn_vehicle(source: str) -> Vehicle:
    """Return a board, or one circuit of a vehicle named as in `CIRCUITS`."""
    name, _, circuit = source.partition(": ")
    vehicle = ohmwork.load_vehicle(name)
    return circuit_of(vehicle, circuit) if circuit else vehicle


@cache
def drawn_sheet(source: str) -> Sheet:
    """Return the sheet of a board or of a circuit."""
    return drawing.sheet(drawn_vehicle(source))


@pytest.fixture(params=(*BOARDS, *CIRCUITS))
def source(request: pytest.FixtureRequest) -> str:
    """Every board and every circuit of both vehicles."""
    return str(request.param)


@pytest.fixture
def vehicle(source: str) -> Vehicle:
    """The board, or the vehicle reduced to the circuit."""
    return drawn_vehicle(source)


@pytest.fixture
def sheet(source: str) -> Sheet:
    """Its sheet."""
    return drawn_sheet(source)


@pytest.fixture
def van() -> Sheet:
    """The sheet of the lighting board."""
    return drawn_sheet("lighting_board")


# --- The lint -------------------------------------------------------------------------


def segments(line: Line) -> Iterator[Segment]:
    """Yield the straight pieces of a line."""
    yield from pairwise(line.points)


def box_of(segment: Segment, by: float = 0.75) -> Box:
    """Box around a segment that runs straight across or down."""
    (xa, ya), (xb, yb) = segment
    return (min(xa, xb) - by, min(ya, yb) - by, max(xa, xb) + by, max(ya, yb) + by)


def on(spot: XY, segment: Segment, by: float = 0.5) -> bool:
    """Whether a spot lies on a segment, ends included."""
    left, top, right, bottom = box_of(segment, by)
    return left < spot[0] < right and top < spot[1] < bottom


def places_of(line: Line, vehicle: Vehicle) -> set[str]:
    """Places that a line belongs to."""
    part = vehicle.parts.get(line.part)
    return {part.start, part.end} if isinstance(part, Wire) else {line.place}


def pulled_apart(sheet: Sheet) -> drawing.State:
    """State in which every part that plugs in is pulled and every label is longest."""
    return drawing.State(
        apart=frozenset(s.part for s in sheet.symbols),
        blown=frozenset(s.part for s in sheet.symbols if s.kind in ("fuse", "breaker")),
        brightness={s.part: 1.0 for s in sheet.symbols if s.kind == "lamp"},
    )


def symbol_boxes(sheet: Sheet) -> Iterator[Box]:
    """Yield a box for each stroke of each symbol, fitted and pulled."""
    for state in (drawing.State(), pulled_apart(sheet)):
        for symbol in sheet.symbols:
            for shape in symbol_shapes(symbol, state):
                if not isinstance(shape, Stroke):
                    x, y, r = shape.x, shape.y, shape.radius
                    yield (x - r, y - r, x + r, y + r)
                    continue
                xs, ys = zip(*shape.points, strict=True)
                yield (min(xs) - 1, min(ys) - 1, max(xs) + 1, max(ys) + 1)


def lint(sheet: Sheet, vehicle: Vehicle) -> list[str]:
    """Return every flaw of a sheet, in words."""
    return [
        *covered_labels(sheet),
        *touched_symbols(sheet),
        *ambiguous_touches(sheet, vehicle),
        *broken_lines(sheet, vehicle),
        *crossed_frames(sheet),
        *beyond_the_edge(sheet),
    ]


def covered_labels(sheet: Sheet) -> Iterator[str]:
    """No label may touch a label, a line, a symbol, a point or the edge of an area."""
    for a, b in combinations(sheet.labels, 2):
        if meet(a.box, b.box):
            yield f"'{a.text or a.room}' and '{b.text or b.room}' overlap"
    symbols = list(symbol_boxes(sheet))
    for label in sheet.labels:
        name = label.text or label.room
        for line in sheet.lines:
            if any(meet(label.box, box_of(s)) for s in segments(line)):
                yield f"'{name}' lies on {line.role} {line.part or line.place}"
        if any(meet(label.box, box) for box in symbols):
            yield f"'{name}' lies on a symbol"
        for point in sheet.points:
            x, y = point.x, point.y
            if meet(label.box, (x - 4.0, y - 4.0, x + 4.0, y + 4.0)):
                yield f"'{name}' lies on point {point.place}"
        for area in sheet.areas:
            left, top, right, bottom = area.box
            corners = ((left, top), (right, top), (right, bottom), (left, bottom))
            border = pairwise((*corners, corners[0]))
            if any(meet(label.box, box_of(side, 0.5)) for side in border):
                yield f"'{name}' lies on the border of {area.connector}"


def touched_symbols(sheet: Sheet) -> Iterator[str]:
    """No line may run through a symbol, nor a symbol stand on another one."""
    bodies = [
        (s, (s.x - 6.0, s.y - s.half + 1.0, s.x + 6.0, s.y + s.half - 1.0))
        for s in sheet.symbols
        if s.half
    ]
    for (a, one), (b, other) in combinations(bodies, 2):
        if meet(one, other):
            yield f"{a.part} {a.name} and {b.part} {b.name} stand on one another"
    for symbol, body in bodies:
        for line in sheet.lines:
            own = line.role == "link" or line.place.partition(":")[0] == symbol.part
            if not own and any(meet(body, box_of(s)) for s in segments(line)):
                yield f"{line.part or line.place} runs through {symbol.part}"


def ambiguous_touches(sheet: Sheet, vehicle: Vehicle) -> Iterator[str]:
    """A line may touch only points of its own places, and another line only there."""
    drawn = [line for line in sheet.lines if line.role != "link"]
    for line in drawn:
        own = places_of(line, vehicle)
        for point in sheet.points:
            spot = (point.x, point.y)
            near = any(on(spot, s, 5.0) for s in segments(line))
            if near and point.place not in own:
                yield f"{line.part or line.place} touches {point.place}"
    for a, b in combinations(drawn, 2):
        shared = places_of(a, vehicle) & places_of(b, vehicle)
        joints = [(p.x, p.y) for p in sheet.points if p.place in shared]
        for one in segments(a):
            for other in segments(b):
                names = f"{a.part or a.place} and {b.part or b.place}"
                if runs_along(one, other):
                    yield f"{names} lie on one another"
                for corner in {*touches(one, other), *touches(other, one)}:
                    foot = "31" in {*a.place.split(":"), *b.place.split(":")}
                    if not foot and not any(on(corner, (j, j), 1.0) for j in joints):
                        yield f"{names} touch without a dot"


def touches(one: Segment, other: Segment) -> Iterator[XY]:
    """Yield the ends of one segment that lie on another one."""
    for end in one:
        if on(end, other):
            yield end


def runs_along(one: Segment, other: Segment) -> bool:
    """Whether two segments share more than a spot."""
    for axis in (0, 1):
        if one[0][axis] == one[1][axis] == other[0][axis] == other[1][axis]:
            a = sorted(p[1 - axis] for p in one)
            b = sorted(p[1 - axis] for p in other)
            return min(a[1], b[1]) - max(a[0], b[0]) > 0.5
    return False


def broken_lines(sheet: Sheet, vehicle: Vehicle) -> Iterator[str]:
    """All that is drawn of one place must hang together; a bolt may be repeated."""
    bolts = {place for p in vehicle.of_type(GroundPoint) for place in p.places}
    found: dict[str, list[list[Segment]]] = defaultdict(list)
    for point in sheet.points:
        if not point.apart:
            found[point.place].append([((point.x, point.y), (point.x, point.y))])
    spots = {(p.x, p.y): p.place for p in sheet.points}
    for s in (s for s in sheet.symbols if s.half):
        for end in (-s.half, s.half):
            stub = ((s.x, s.y + end), (s.x, s.y + end * (1.0 - 8.5 / s.half)))
            if stub[0] in spots:
                found[spots[stub[0]]].append([stub])
    for line in sheet.lines:
        if line.role != "link":
            for place in places_of(line, vehicle):
                found[place].append(list(segments(line)))
    for place, pieces in found.items():
        if place in bolts or place == vehicle.rails["31"]:
            continue
        together = [pieces.pop(0)]
        while pieces:
            near = [p for p in pieces if any(meets(p, other) for other in together)]
            if not near:
                yield f"what is drawn of {place} does not hang together"
                break
            together += near
            pieces = [p for p in pieces if p not in near]


def meets(one: list[Segment], other: list[Segment]) -> bool:
    """Whether two lines have a spot in common."""
    boxes = [[box_of(s, 0.3) for s in line] for line in (one, other)]
    return any(meet(a, b) for a in boxes[0] for b in boxes[1])


def crossed_frames(sheet: Sheet) -> Iterator[str]:
    """No line of others may run through a frame, and no label lie on its edge."""
    for frame in sheet.frames:
        left, top, right, bottom = frame.box
        corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        edges = [box_of(side, 0.5) for side in pairwise((*corners, corners[0]))]
        for label in sheet.labels:
            if any(meet(label.box, edge) for edge in edges):
                yield f"'{label.text or label.room}' lies on the frame of {frame.part}"
        for line in sheet.lines:
            own = frame.part in (line.part, line.place.partition(":")[0])
            if not own and any(meet(frame.box, box_of(s)) for s in segments(line)):
                yield f"{line.part or line.place} runs through {frame.part}"
        for other in sheet.frames:
            if other is not frame and meet(frame.box, other.box):
                yield f"frames of {frame.part} and {other.part} overlap"


def beyond_the_edge(sheet: Sheet) -> Iterator[str]:
    """Everything must stand on the sheet."""
    boxes = [(label.text, label.box) for label in sheet.labels]
    boxes += [(line.part, box_of(s)) for line in sheet.lines for s in segments(line)]
    boxes += [(area.connector, area.box) for area in sheet.areas]
    for name, (left, top, right, bottom) in boxes:
        if left < 0 or top < 0 or right > sheet.width or bottom > sheet.height:
            yield f"'{name}' runs off the sheet"


def crossings(sheet: Sheet) -> list[tuple[str, str]]:
    """Return the pairs of lines that cross without being joined."""
    found = []
    for a, b in combinations(sheet.lines, 2):
        for one in segments(a):
            for other in segments(b):
                flat, steep = sorted((one, other), key=lambda s: s[0][0] == s[1][0])
                if flat[0][1] != flat[1][1] or steep[0][0] != steep[1][0]:
                    continue
                (left, right) = sorted(p[0] for p in flat)
                (top, bottom) = sorted(p[1] for p in steep)
                x, y = steep[0][0], flat[0][1]
                if left < x < right and top < y < bottom:
                    found.append((a.part or a.place, b.part or b.place))
    return found


def moved(sheet: Sheet, text: str, x: float, y: float) -> Sheet:
    """Return a sheet with one label shifted."""
    labels = tuple(
        dataclasses.replace(v, x=v.x + x, y=v.y + y) if v.text == text else v
        for v in sheet.labels
    )
    return dataclasses.replace(sheet, labels=labels)


def test_lint_sees_flaws(van: Sheet) -> None:
    """The lint reports a label moved onto something, and a line moved astray."""
    vehicle = ohmwork.load_vehicle("lighting_board")
    assert any("overlap" in f for f in lint(moved(van, "RD 16", 0, 177), vehicle))
    assert any(
        "lies on wire W1" in f for f in lint(moved(van, "RD 16", -30, 0), vehicle)
    )
    assert any(
        "lies on a symbol" in f for f in lint(moved(van, "E3", -30, 20), vehicle)
    )
    assert any("runs off" in f for f in lint(moved(van, "30", -99, 0), vehicle))

    def with_wire(name: str, *points: XY) -> Sheet:
        lines = tuple(
            dataclasses.replace(v, points=points) if v.part == name else v
            for v in van.lines
        )
        return dataclasses.replace(van, lines=lines)

    e3, e5 = van.place["E3:56b"], van.place["E5:58"]
    through = with_wire("W18", (e5.x, e5.y + 30), (e3.x + 40, e5.y + 30))
    assert any("W18 runs through E3" in f for f in lint(through, vehicle))
    onto = with_wire("W18", (e5.x, e5.y), (e3.x, e3.y))
    assert any("W18 touches E3:56b" in f for f in lint(onto, vehicle))
    assert any("touch without a dot" in f for f in lint(onto, vehicle))
    w17 = next(line for line in van.lines if line.part == "W17")
    along = with_wire("W18", *w17.points)
    assert any("lie on one another" in f for f in lint(along, vehicle))
    short = with_wire("W17", w17.points[0], (e3.x, e3.y - 12))
    assert "what is drawn of E3:56b does not hang together" in lint(short, vehicle)


def test_lint_sees_flaws_of_frames() -> None:
    """It reports a frame over a wire, over a label and over another frame."""
    board = drawn_vehicle("sensor_board")
    sheet = drawn_sheet("sensor_board")
    (frame,) = sheet.frames
    left, top, right, bottom = frame.box
    larger = dataclasses.replace(frame, box=(left - 200, top, right, bottom + 14))
    found = lint(dataclasses.replace(sheet, frames=(larger,)), board)
    assert any("runs through A1" in flaw for flaw in found)
    assert any("lies on the frame of A1" in flaw for flaw in found)
    twice = dataclasses.replace(sheet, frames=(frame, larger))
    assert any("frames of A1 and A1 overlap" in flaw for flaw in lint(twice, board))


def test_lint(sheet: Sheet, vehicle: Vehicle) -> None:
    """No sheet has a flaw."""
    assert lint(sheet, vehicle) == []


@pytest.mark.parametrize("width", [912.0, 1400.0])
def test_lint_spread(sheet: Sheet, vehicle: Vehicle, width: float) -> None:
    """Spread tracks have no flaw either, and no more than 120 px between them."""
    spread = drawing.sheet(vehicle, width=width)
    assert lint(spread, vehicle) == []
    assert spread.width <= max(width, sheet.width)
    tracks = [label.x for label in spread.labels if label.role == "track"]
    natural = [v.x for v in sheet.labels if v.role == "track"]
    for (a, b), (c, d) in zip(pairwise(tracks), pairwise(natural), strict=True):
        assert b - a <= max(120.5, d - c + 0.5)


# --- Crossings ------------------------------------------------------------------------


def test_van_crossings(van: Sheet) -> None:
    """The van's sheet has one crossing: its circuit cannot be drawn without.

    Take the rails 30 and 31, the joint at F11:1 and the splices SP1, SP7, SP8. Each of
    30, SP7, SP8 is joined to each of 31, F11:1, SP1 by a chain of its own. That is the
    graph K(3,3), which has no plane drawing: K. Kuratowski, Fundamenta Mathematicae
    15 (1930), pp. 271-283 (from memory).
    """
    chains = (
        "F1:2 W4 K3:30 K3:87 W9 F11:1",
        "F1:2 W3 S2:30 S2:58 W11 X4:1 X4:1p W12 F10:1 F10:2 W13 SP1:1",
        "F1:2 F1:1 W1 G1:+ G1:- W32 Body:31",
        "F11:1 F11:2 W16 X12:3 X12:3p W17 E3:56b E3:31 W19 X12:4p X12:4 W21 SP7:1",
        "SP1:1 W14 X12:2 X12:2p W18 E5:58 E5:31 W20 X12:1p X12:1 W22 SP7:1",
        "SP7:1 W23 GP1:31 Body:31",
        "F11:1 W10 F12:1 F12:2 W24 X14:3 X14:3p W25 E4:56b E4:31 W27 X14:4p X14:4 W29"
        " SP8:1",
        "SP1:1 W15 X14:2 X14:2p W26 E6:58 E6:31 W28 X14:1p X14:1 W30 SP8:1",
        "SP8:1 W31 GP2:31 Body:31",
    )
    vehicle = ohmwork.load_vehicle("lighting_board")
    corners = {"F1:2", "SP7:1", "SP8:1"}, {"Body:31", "F11:1", "SP1:1"}
    inner: list[str] = []
    joined = set()
    for chain in chains:
        first, *between, last = chain.split()
        assert all(linked(vehicle, a, b) for a, b in pairwise(chain.split()))
        joined.add(frozenset((first, last)))
        inner += between
    assert joined == {frozenset((a, b)) for a in corners[0] for b in corners[1]}
    assert len(inner) == len(set(inner))

    assert len(crossings(van)) == 1


def linked(vehicle: Vehicle, a: str, b: str) -> bool:
    """Whether two things of a chain are a wire and its end, or places of one part."""
    for wire, place in ((a, b), (b, a)):
        part = vehicle.parts.get(wire)
        if isinstance(part, Wire):
            return place in (part.start, part.end)
    same = a.partition(":")[0] == b.partition(":")[0]
    return same or (a.startswith("GP") and b == "Body:31")


def test_crossings(sheet: Sheet, vehicle: Vehicle) -> None:
    """Nothing crosses that could be drawn without, and nowhere more than once.

    Whether a circuit has a plane drawing is judged by networkx. Rails are places that
    anything can reach, so a circuit that it finds plane may still need a crossing where
    rails are straight; of ours none does.
    """
    is_plane, _ = networkx.check_planarity(graph(vehicle))
    assert len(crossings(sheet)) == (0 if is_plane else 1)


def graph(vehicle: Vehicle) -> Any:
    """Return a vehicle as a graph of its places; a box of several terminals is one."""
    ground = vehicle.rails["31"]
    bolts = {
        f"{p.name}:31": ground for p in vehicle.of_type(GroundPoint) if p.body == ground
    }
    found = networkx.Graph()
    for part in vehicle.parts.values():
        pairs = [(f"{part.name}:{a}", f"{part.name}:{b}") for a, b in inside(part)]
        if isinstance(part, Wire):
            pairs = [(part.start, part.end)]
        elif isinstance(part, Connector):
            pairs = list(zip(part.sockets, part.pins, strict=True))
        elif isinstance(part, GroundPoint):
            pairs = [(part.sockets[0], part.body)]
        elif not pairs and not isinstance(part, (Body, Splice, Terminals)):
            pairs = [(place, part.name) for place in part.sockets]
        found.add_edges_from([(bolts.get(a, a), bolts.get(b, b)) for a, b in pairs])
    return found


def inside(part: Part) -> list[tuple[str, ...]]:
    """Return what joins the terminals of a part that is drawn in pieces."""
    if isinstance(part, Switch):
        return [(c.start, c.end) for c in part.contacts]
    if isinstance(part, Relay):
        changeover = [("30", "87a")] if part.changeover else []
        return [("30", "87"), ("86", "85"), *changeover]
    if isinstance(part, ResistorPack):
        return [tuple(step.split("-")) for step, _ in part.steps]
    if isinstance(part, TwinLamp):
        return [(part.main, part.ground), (part.second, part.ground)]
    return []


def test_crossings_are_seen(van: Sheet) -> None:
    """The count notices a further crossing."""
    wire = Line(points=((0.0, 290.0), (van.width, 290.0)), role="wire", part="W99")
    assert len(crossings(dataclasses.replace(van, lines=(*van.lines, wire)))) > 2


# --- What stands on a sheet -----------------------------------------------------------


def test_everything_is_drawn(sheet: Sheet, vehicle: Vehicle) -> None:
    """Every part is on the sheet, and every place a lead can touch has its point."""
    drawn = {line.part for line in sheet.lines} | {s.part for s in sheet.symbols}
    drawn |= {place.partition(":")[0] for place in sheet.place}
    engines = {engine.name for engine in vehicle.of_type(Engine)}
    assert drawn >= vehicle.parts.keys() - engines
    touchable = {place for place, point in sheet.place.items() if point.touch}
    left_out = spare_filaments(vehicle)
    assert touchable == set(vehicle.reachable) - left_out
    assert set(sheet.place) == set(vehicle.places) - left_out


def test_every_kind_is_drawn() -> None:
    """The boards and circuits of these tests hold every kind of part there is."""
    sources = (*BOARDS, *CIRCUITS)
    drawn = {p.kind for s in sources for p in drawn_vehicle(s).parts.values()}
    assert drawn >= PART_KINDS.keys()


def spare_filaments(vehicle: Vehicle) -> set[str]:
    """Return the terminals of filaments that no wire of a circuit reaches."""
    wired = {end for wire in vehicle.of_type(Wire) for end in (wire.start, wire.end)}
    lamps = vehicle.of_type(TwinLamp)
    return {place for lamp in lamps for place in lamp.sockets} - wired


def test_codes_stand_beside_wires(sheet: Sheet, vehicle: Vehicle) -> None:
    """Each wire has its colour and size once, within 12 px of its line."""
    for wire in vehicle.of_type(Wire):
        (code,) = (v for v in sheet.labels if v.role == "code" and v.part == wire.name)
        (line,) = (v for v in sheet.lines if v.part == wire.name)
        assert code.text == f"{wire.colour} {wire.area_mm2:g}"
        near = (code.box[0] - 12, code.box[1] - 12, code.box[2] + 12, code.box[3] + 12)
        assert any(meet(near, box_of(s)) for s in segments(line))


def test_supply_is_above_ground(sheet: Sheet, vehicle: Vehicle) -> None:
    """Current runs down the sheet: by the terminal marks of DIN 72552."""
    lamps, relays = vehicle.of_type(Lamp), vehicle.of_type(Relay)
    pairs = [(f"{p.name}:{p.supply}", f"{p.name}:{p.ground}") for p in lamps]
    pairs += [(f"{p.name}:86", f"{p.name}:85") for p in relays]
    for supply, ground in pairs:
        upper, lower = sheet.place[supply], sheet.place[ground]
        assert (upper.x, upper.y < lower.y) == (lower.x, True)
    assert sheet.place[vehicle.plus_post].y < sheet.place[vehicle.reference].y


def test_connectors_show_both_sides(sheet: Sheet, vehicle: Vehicle) -> None:
    """A way has socket and pin side below one another, seen while it is joined."""
    for connector in vehicle.of_type(Connector):
        for socket, pin in zip(connector.sockets, connector.pins, strict=True):
            assert sheet.place[socket].x == sheet.place[pin].x
            assert sheet.place[pin].apart == ""


def test_a_sheet_with_relays_says_that_they_are_at_rest(
    sheet: Sheet, vehicle: Vehicle
) -> None:
    """Whether a relay has pulled in is found out by looking, not from the drawing."""
    remarks = [label.text for label in sheet.labels if label.role == "remark"]
    has_relays = bool(list(vehicle.of_type(Relay)))
    assert remarks == ["relay contacts drawn at rest"] * has_relays


def test_blades_show_when_pulled(sheet: Sheet, vehicle: Vehicle) -> None:
    """Blades of a fuse and pins of a relay can be touched only while it is pulled."""
    for part in (*vehicle.of_type(Fuse), *vehicle.of_type(Relay)):
        assert {sheet.place[pin].apart for pin in part.pins} <= {part.name}


def test_areas_hold_what_is_behind_a_connector(van: Sheet) -> None:
    """The left lamp unit holds its two lamps, and the harness stays outside."""
    (left,) = (area.box for area in van.areas if area.connector == "X12")
    inside = {
        place
        for place, p in van.place.items()
        if left[0] < p.x < left[2] and left[1] < p.y < left[3]
    }
    ways = {f"X12:{way}p" for way in "1234"}
    assert inside == ways | {"E3:56b", "E3:31", "E5:58", "E5:31"}


def test_van_fits_a_small_laptop(van: Sheet) -> None:
    """At 1000 px the sheet has 728 px beside a job card of 272 px."""
    assert van.width <= 728


def test_track_numbers(sheet: Sheet) -> None:
    """Tracks are numbered from the left, under the ground rail."""
    numbers = [v for v in sheet.labels if v.role == "track"]
    assert [v.text for v in numbers] == [str(i + 1) for i in range(len(sheet.tracks))]
    assert [v.x for v in numbers] == sorted(v.x for v in numbers)


def test_text_is_measured_safely() -> None:
    """Text is never wider than assumed, by the metrics of the DejaVu Sans fonts."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    every = "".join(chr(c) for c in range(32, 127)) + "Ω\N{MINUS SIGN}"
    for bold in (False, True):
        font = FT2Font(str(folder / f"DejaVuSans{'-Bold' if bold else ''}.ttf"))
        font.set_size(100.0, 72.0)
        for character in every:
            advance = font.load_char(ord(character)).linearHoriAdvance / 65536.0
            assert advance <= text_width(character, 100.0, bold=bold), character
    assert {"name", "state", "rail"} <= BOLD


# --- Same data, same bytes; faults stay hidden ----------------------------------------


def test_same_bytes() -> None:
    """Two processes with different hash seeds write the same SVG of everything."""
    program = (
        "import sys, test_drawing as t; sys.stdout.write("
        "''.join(map(t.drawing.render, map(t.drawn_sheet, t.BOARDS + t.CIRCUITS))))"
    )
    first, second = (
        subprocess.run(
            [sys.executable, "-c", program],
            cwd=Path(__file__).parent,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"},
            check=True,
            capture_output=True,
        ).stdout
        for seed in ("1", "2")
    )
    assert first == second
    here = "".join(drawing.render(drawn_sheet(s)) for s in (*BOARDS, *CIRCUITS))
    assert first.decode() == here


@pytest.mark.parametrize("source", BOARDS)
def test_faults_stay_hidden(vehicle: Vehicle) -> None:
    """A faulty vehicle is drawn as the healthy one."""
    healthy = drawing.svg(vehicle)
    seen = set()
    for fault in faults.universe(vehicle):
        if fault.kind in seen:
            continue
        seen.add(fault.kind)
        if fault.resistance is None and fault.kind in faults.RANGED:
            fault = dataclasses.replace(fault, resistance=3.2)
        assert drawing.svg(faults.inject(vehicle, fault)) == healthy
    assert len(seen) > 5


def test_import_is_cheap() -> None:
    """Importing the drawings loads neither matplotlib nor NumPy."""
    program = (
        "import sys, ohmwork.drawing; "
        "print(sorted({'matplotlib', 'numpy'} & sys.modules.keys()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


# --- SVG ------------------------------------------------------------------------------


def test_svg_names_places(sheet: Sheet, vehicle: Vehicle) -> None:
    """Every point in sight can be found by its place, and ids are unique."""
    root = ET.fromstring(drawing.render(sheet))
    points = root.findall(POINTS)
    pulled = {p for part in vehicle.parts.values() for p in part.pins}
    ways = {pin for c in vehicle.of_type(Connector) for pin in c.pins}
    in_sight = set(vehicle.reachable) - spare_filaments(vehicle) - pulled | ways
    assert {p.get("data-place") for p in points} == in_sight
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))


def test_svg_speaks(sheet: Sheet, vehicle: Vehicle) -> None:
    """A screen reader gets title, tracks and the words of each point, no loose text."""
    root = ET.fromstring(drawing.render(sheet))
    title = root.findtext(f"{SVG}title") or ""
    assert title == f"{vehicle.title}: wiring diagram"
    tracks = root.findtext(f"{SVG}desc") or ""
    assert tracks.count("Track ") == len(sheet.tracks)
    hidden = root.findall(f".//{SVG}g[@aria-hidden='true']//{SVG}text")
    assert len(hidden) == len(root.findall(f".//{SVG}text"))
    assert all(p.findtext(f"{SVG}title") for p in root.iterfind(POINTS))


def texts(svg: str) -> list[str]:
    """Return all text of an SVG."""
    return [e.text or "" for e in ET.fromstring(svg).iter(f"{SVG}text")]


def test_svg_shows_the_state() -> None:
    """Lamps say how bright, switches where, pulled parts that they are out."""
    vehicle = ohmwork.load_vehicle("lighting_board")
    at_rest = texts(drawing.svg(vehicle))
    assert not {"dim", "full", "out", "apart", "blown", "A", "B"} & set(at_rest)
    state = drawing.State(
        brightness={"E3": 0.3, "E4": 1.0, "E5": 0.1, "E6": 0.0},
        positions={"S1": "on", "S2": "dip"},
        apart=frozenset({"X14", "F10", "K3"}),
        blown=frozenset({"F11"}),
        lead_a="K3:86p",
        lead_b="G1:-",
    )
    svg = drawing.svg(vehicle, state)
    shown = texts(svg)
    for word in ("dim", "full", "faint", "off", "on", "dip", "out", "blown", "A", "B"):
        assert word in shown
    assert shown.count("apart") == 4
    assert 'data-place="K3:86p"' in svg
    assert 'data-place="F11:1p"' not in svg


@pytest.mark.parametrize(
    ("share", "word"),
    [(0.0, "off"), (0.019, "off"), (0.02, "faint"), (0.2, "dim"), (0.6, "full")],
)
def test_brightness_words(share: float, word: str) -> None:
    """Words change at 2, 20 and 60 % of the rated light (assumed limits)."""
    vehicle = ohmwork.load_vehicle("lighting_board")
    state = drawing.State(brightness={"E3": share})
    assert word in texts(drawing.svg(vehicle, state))


def blades(svg: str, part: str) -> list[str]:
    """Return the lines of the blades of a switch."""
    groups = ET.fromstring(svg).findall(f".//{SVG}g[@class='ow-switch-part']")
    return [
        path.get("d", "")
        for group in groups
        if group.get("data-part") == part
        for path in group.findall(f"{SVG}path[@class='ow-blade']")
    ]


def test_blades_follow_the_switch() -> None:
    """In each position exactly the contacts that the vehicle's file closes move."""
    vehicle = ohmwork.load_vehicle("lighting_board")
    rest, day, dip = (
        blades(drawing.svg(vehicle, drawing.State(positions={"S2": at})), "S2")
        for at in ("off", "day", "dip")
    )
    assert sum(a != b for a, b in zip(rest, day, strict=True)) == 1
    assert sum(a != b for a, b in zip(rest, dip, strict=True)) == 2


@pytest.mark.parametrize(
    ("circuit", "switch"),
    [
        ("training_van: window", "S14"),
        ("training_van: wiper", "S10"),
        ("training_truck: horn", "S1"),
    ],
)
def test_a_switch_rests_in_its_first_position(circuit: str, switch: str) -> None:
    """Without a setting it is drawn as with its first one; any other moves a blade."""
    vehicle, sheet = drawn_vehicle(circuit), drawn_sheet(circuit)
    part = vehicle[switch]
    assert isinstance(part, Switch)
    rest = blades(drawing.render(sheet), switch)
    first, *others = (
        blades(drawing.render(sheet, drawing.State(positions={switch: at})), switch)
        for at in part.positions
    )
    assert rest == first
    assert any(other != first for other in others)


def test_each_filament_has_its_own_light() -> None:
    """A lamp with two filaments shows how bright each of them is."""
    sheet = drawn_sheet("training_truck: side, tail and marker lamps")
    filaments = [s.name.partition("-")[0] for s in sheet.symbols if s.part == "E7"]
    assert sorted(filaments) == ["54", "58"]
    state = drawing.State(brightness={"E7:54": 1.0, "E7:58": 0.1})
    shown = texts(drawing.render(sheet, state))
    assert {"full", "faint"} <= set(shown)
    assert "full" not in texts(drawing.render(sheet))


def test_leads_stand_on_their_points(van: Sheet) -> None:
    """Every place can take either lead, and its tip stands on the point."""
    for place, point in van.place.items():
        if not point.touch:
            continue
        state = drawing.State(
            lead_a=place, apart=frozenset({point.apart} if point.apart else ())
        )
        root = ET.fromstring(drawing.render(van, state))
        (tip,) = root.findall(f".//{SVG}circle[@class='ow-tip-a']")
        at = (float(tip.get("cx", "")), float(tip.get("cy", "")))
        assert at == pytest.approx((point.x, point.y), abs=0.01)


# --- Figures --------------------------------------------------------------------------


@pytest.mark.parametrize("source", [*BOARDS, "training_van: boost valve"])
@pytest.mark.parametrize("dark", [False, True])
def test_figure_holds_the_sheet(sheet: Sheet, dark: bool) -> None:
    """The figure has the size of the sheet and all its text, and can be saved."""
    figure = drawing.draw(sheet, pulled_apart(sheet), dark=dark)
    assert tuple(figure.get_size_inches() * 100) == pytest.approx(
        (sheet.width, sheet.height)
    )
    written = {text.get_text() for text in figure.axes[0].texts}
    assert written >= {label.text for label in sheet.labels if label.role != "state"}
    assert "apart" in written or not sheet.areas
    figure.savefig(io.BytesIO(), format="png")


def test_figure_of_a_vehicle() -> None:
    """The short way draws the same as the long one."""
    vehicle = ohmwork.load_vehicle("lighting_board")
    short, long = drawing.figure(vehicle), drawing.draw(drawing.sheet(vehicle))
    pictures = (io.BytesIO(), io.BytesIO())
    for figure, file in zip((short, long), pictures, strict=True):
        figure.savefig(file, format="png")
    assert pictures[0].getvalue() == pictures[1].getvalue()


HEALTHY: Way = [("G1:+", 12.3), ("E3:56b", 12.1), ("E3:31", 0.1), ("G1:-", 0.0)]
MEASURED: Way = [("G1:+", 12.4), ("E3:56b", 12.2), ("E3:31", 4.2), ("G1:-", 0.0)]


def test_profile_draws_both_lines() -> None:
    """Both lines are drawn, and the unit stands on the top tick."""
    figure = drawing.voltage_profile(MEASURED, HEALTHY, measured_label="left lamp")
    axes = figure.axes[0]
    compared, measured = axes.lines
    assert np.array_equal(measured.get_ydata(), [12.4, 12.2, 4.2, 0.0])
    assert np.array_equal(compared.get_ydata(), [12.3, 12.1, 0.1, 0.0])
    assert (compared.get_linestyle(), measured.get_linestyle()) == ("--", "-")
    ticks = [tick.get_text() for tick in axes.get_xticklabels()]
    assert ticks == ["G1:+", "E3:56b", "E3:31", "G1:\N{MINUS SIGN}"]
    assert axes.get_yticklabels()[-1].get_text() == "12 V"


@pytest.mark.parametrize(
    "ways",
    [
        (MEASURED, HEALTHY),
        (HEALTHY, MEASURED),
        (MEASURED, MEASURED),
        (MEASURED, []),
        (MEASURED[:3], HEALTHY),
    ],
)
@pytest.mark.parametrize(
    "words", ["left lamp", "left lamp: 4.18 V is lost after the lamp"]
)
def test_profile_labels_stay_apart(words: str, ways: tuple[Way, Way]) -> None:
    """Labels lie inside the figure, and not on one another or on tick labels."""
    figure = drawing.voltage_profile(*ways, measured_label=words)
    figure.savefig(io.BytesIO(), format="png")
    axes = figure.axes[0]
    boxes = [text.get_window_extent() for text in axes.texts]
    boxes += [tick.get_window_extent() for tick in axes.get_xticklabels()]
    for a, b in combinations(boxes, 2):
        assert not a.overlaps(b)
    right, top = figure.bbox.width, figure.bbox.height
    assert all(b.x0 >= 0 and b.x1 <= right and b.y1 <= top for b in boxes)


@pytest.mark.parametrize("way", [[], [("E3:31", 0.1)], [("E3:31", 1), ("E3:31", 2)]])
def test_profile_refuses(way: Way) -> None:
    """Fewer than two places, or one place twice, is no way through a circuit."""
    with pytest.raises(ValueError, match="Give at least two, each once"):
        drawing.voltage_profile(way)
