"""A sheet as SVG text.

Everything that can be touched carries ``data-place``, every symbol and wire
``data-part``, so that a page can find them. Colours are CSS variables; the dark set
applies where JupyterLab says that its theme is dark.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from html import escape

from ohmwork.drawing.paper import BOLD, TEXT_SIZE, Label, Point, Sheet
from ohmwork.drawing.style import DARK, LIGHT, PENS, Pen
from ohmwork.drawing.symbols import (
    Disc,
    Shape,
    State,
    area_shape,
    frame_shape,
    ground_strokes,
    key_shapes,
    label_colour,
    label_text,
    lead_shapes,
    line_shapes,
    point_shapes,
    symbol_shapes,
)

CATCH = 12.0
"""Radius around a point that takes a click. [px]"""


def render(sheet: Sheet, state: State | None = None, *, prefix: str = "ow") -> str:
    """Return a sheet as SVG text.

    Parameters
    ----------
    sheet : what to draw.
    state : what is set, lit, pulled and touched; everything at rest if None.
    prefix : what ids begin with. Give each drawing on one page its own.
    """
    return "\n".join(_document(sheet, state or State(), prefix)) + "\n"


def _document(sheet: Sheet, state: State, prefix: str) -> Iterator[str]:
    width, height = _number(sheet.width), _number(sheet.height)
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="ow-drawing" id="{prefix}" '
        f'width="{width}" height="{height}" viewBox="0 0 {width} {height}" role="img" '
        f'aria-labelledby="{prefix}-title {prefix}-desc">'
    )
    yield f'<title id="{prefix}-title">{escape(sheet.title)}: wiring diagram</title>'
    tracks = (f"Track {i}: {words}." for i, words in enumerate(sheet.tracks, 1))
    yield f'<desc id="{prefix}-desc">{escape(" ".join(tracks))}</desc>'
    yield "<style>"
    yield from _rules()
    yield "</style>"
    for area in sheet.areas:
        yield _group("area", [area_shape(area.box)], f'data-part="{area.connector}"')
    for frame in sheet.frames:
        yield _group("frame", [frame_shape(frame.box)], f'data-part="{frame.part}"')
    for line in sheet.lines:
        data = f'data-part="{line.part}"' if line.part else f'data-place="{line.place}"'
        ident = f' id="{prefix}-{line.part}"' if line.role == "wire" else ""
        yield _group("line", line_shapes(line), data + ident)
    yield _group("foot", ground_strokes(sheet))
    for symbol in sheet.symbols:
        data = f'data-part="{symbol.part}"'
        if symbol.name:
            data += f' data-name="{symbol.name}"'
        yield _group(f"{symbol.kind}-part", symbol_shapes(symbol, state), data)
    yield _group("key", key_shapes(sheet))
    yield '<g aria-hidden="true">'
    for label in sheet.labels:
        text = label_text(sheet, label, state)
        if text:
            yield _text(sheet, label, text, state)
    yield "</g>"
    yield from _points(sheet, state, prefix)
    yield '<g aria-hidden="true">'
    for shape, letter in lead_shapes(sheet, state):
        yield _shape(shape)
        if letter:
            yield _text(sheet, letter, letter.text, state)
    yield "</g>"
    yield "</svg>"


def _points(sheet: Sheet, state: State, prefix: str) -> Iterator[str]:
    copies: Counter[str] = Counter()
    for point in sheet.points:
        shapes = list(point_shapes(point, state))
        if not shapes:
            continue
        data = f'data-place="{point.place}" data-track="{point.track}"'
        if not point.touch:
            yield _group("joined", shapes, data)
            continue
        copies[point.place] += 1
        ident = f"{prefix}-{_ident(point)}"
        if copies[point.place] > 1:
            ident += f"-{copies[point.place]}"
        shapes.insert(0, Disc(x=point.x, y=point.y, radius=CATCH, role="catch"))
        title = f"<title>{escape(f'{point.place}, {point.words}')}</title>"
        yield _group("point", shapes, f'{data} id="{ident}"', title)


def _ident(point: Point) -> str:
    """Return a place as part of an id: ``E3-31``, ``G1-plus``."""
    part, _, mark = point.place.partition(":")
    return f"{part}-{ {'+': 'plus', '-': 'minus'}.get(mark, mark) }".replace(" ", "")


def _rules() -> Iterator[str]:
    """Yield the style sheet: colours, then a rule for each pen and each text."""
    light, dark = (
        ";".join(f"--ow-{name}:{value}" for name, value in colours.items())
        for colours in (LIGHT, DARK)
    )
    yield (
        f".ow-drawing{{{light};background:var(--ow-sheet);"
        "font-family:var(--jp-ui-font-family,system-ui,sans-serif);"
        "font-variant-numeric:tabular-nums}"
    )
    yield f'[data-jp-theme-light="false"] .ow-drawing{{{dark}}}'
    yield f"@media (prefers-color-scheme:dark){{.ow-drawing:root{{{dark}}}}}"
    yield ".ow-drawing *{fill:none;stroke-linejoin:round}"
    yield ".ow-drawing .ow-catch{fill:transparent}"
    for role, pen in PENS.items():
        yield f".ow-drawing .ow-{role}{{{';'.join(_pen(pen))}}}"
    yield (
        ".ow-drawing text{font-size:11px;fill:var(--ow-ink);stroke:var(--ow-sheet);"
        "stroke-width:4px;paint-order:stroke;dominant-baseline:central}"
    )
    for role, size in TEXT_SIZE.items():
        yield f".ow-drawing .ow-text-{role}{{font-size:{size:g}px}}"
    for role in sorted(BOLD):
        yield f".ow-drawing .ow-text-{role}{{font-weight:650}}"


def _pen(pen: Pen) -> Iterator[str]:
    if pen.fill:
        yield f"fill:var(--ow-{pen.fill})"
    if pen.colour:
        yield f"stroke:var(--ow-{pen.colour});stroke-width:{pen.width:g}"
    if pen.dash:
        yield f"stroke-dasharray:{' '.join(f'{d:g}' for d in pen.dash)}"


def _text(sheet: Sheet, label: Label, text: str, state: State) -> str:
    """Return a label with a halo in the colour of what lies behind it."""
    colour = label_colour(label, text, state)
    x, y = label.x, label.y
    boxes = (area.box for area in sheet.areas)
    inside = any(b[0] < x < b[2] and b[1] < y < b[3] for b in boxes)
    look = f"fill:var(--ow-{colour})" + (";stroke:var(--ow-zone)" if inside else "")
    if label.role == "flag":
        look += ";stroke:none"
    data = f'data-part="{label.part}" ' if label.part else ""
    return (
        f'<text {data}class="ow-text-{label.role}" x="{_number(x)}" y="{_number(y)}" '
        f'text-anchor="{label.anchor}" style="{look}">{escape(text)}</text>'
    )


def _group(kind: str, shapes: Iterable[Shape], data: str = "", title: str = "") -> str:
    inner = "".join(_shape(shape) for shape in shapes)
    return f'<g class="ow-{kind}"{" " + data if data else ""}>{title}{inner}</g>'


def _shape(shape: Shape) -> str:
    faded = "" if shape.strength == 1.0 else f' fill-opacity="{shape.strength:.2f}"'
    if isinstance(shape, Disc):
        x, y, r = (_number(v) for v in (shape.x, shape.y, shape.radius))
        return f'<circle class="ow-{shape.role}" cx="{x}" cy="{y}" r="{r}"{faded}/>'
    points = "L".join(f"{_number(x)} {_number(y)}" for x, y in shape.points)
    end = "Z" if shape.closed else ""
    return f'<path class="ow-{shape.role}" d="M{points}{end}"{faded}/>'


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
