"""A sheet as SVG text.

Everything that can be touched carries ``data-place``, every symbol and wire
``data-part``, so that a page can find them. Colours are CSS variables; the dark set
applies where JupyterLab says that its theme is dark.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from ohmwork.drawing.paper import BOLD, Label, Sheet
from ohmwork.drawing.symbols import (
    Disc,
    Shape,
    State,
    Stroke,
    area_shape,
    ground_strokes,
    key_shapes,
    label_text,
    lead_shapes,
    line_shapes,
    point_shapes,
    symbol_shapes,
)
from ohmwork.drawing.tokens import DARK, LIGHT

STYLE = """
.ow-drawing{%(light)s;background:var(--ow-sheet);font-family:var(--jp-ui-font-family,system-ui,sans-serif);font-variant-numeric:tabular-nums}
[data-jp-theme-light="false"] .ow-drawing{%(dark)s}
@media (prefers-color-scheme:dark){.ow-drawing:root{%(dark)s}}
.ow-drawing *{fill:none;stroke-linecap:butt;stroke-linejoin:round}
.ow-drawing .ow-wire,.ow-drawing .ow-joint{stroke:var(--ow-ink);stroke-width:1.5}
.ow-drawing .ow-rail{stroke:var(--ow-ink);stroke-width:3}
.ow-drawing .ow-symbol{stroke:var(--ow-ink);stroke-width:2}
.ow-drawing .ow-plate,.ow-drawing .ow-pin{stroke:var(--ow-ink);stroke-width:4.5}
.ow-drawing .ow-blade{stroke:var(--ow-accent);stroke-width:2.5}
.ow-drawing .ow-link{stroke:var(--ow-accent);stroke-width:1;stroke-dasharray:4 3}
.ow-drawing .ow-seat{stroke:var(--ow-edge);stroke-width:1;stroke-dasharray:3 2}
.ow-drawing .ow-warn{stroke:var(--ow-warn);stroke-width:2}
.ow-drawing .ow-area{fill:var(--ow-zone);stroke:var(--ow-edge);stroke-width:1;stroke-dasharray:2 3}
.ow-drawing .ow-dot{fill:var(--ow-ink)}
.ow-drawing .ow-terminal{fill:var(--ow-sheet);stroke:var(--ow-ink);stroke-width:1.5}
.ow-drawing .ow-catch{fill:transparent}
.ow-drawing .ow-glow{fill:var(--ow-glow)}
.ow-drawing .ow-ray{stroke:var(--ow-glow-ink);stroke-width:1.5}
.ow-drawing .ow-case-a,.ow-drawing .ow-case-b{stroke:var(--ow-case);stroke-width:5}
.ow-drawing .ow-cable-a{stroke:var(--ow-a);stroke-width:3}
.ow-drawing .ow-cable-b{stroke:var(--ow-b);stroke-width:3}
.ow-drawing .ow-tip-a,.ow-drawing .ow-flag-a{fill:var(--ow-a);stroke:var(--ow-case);stroke-width:1}
.ow-drawing .ow-tip-b{stroke:var(--ow-b);stroke-width:3}
.ow-drawing .ow-flag-b{fill:var(--ow-b);stroke:var(--ow-case);stroke-width:1}
.ow-drawing text{font-size:11px;fill:var(--ow-ink);paint-order:stroke;stroke:var(--ow-sheet);stroke-width:4px;dominant-baseline:central}
.ow-drawing .ow-inside{stroke:var(--ow-zone)}
.ow-drawing text.ow-name,.ow-drawing text.ow-rail{font-weight:650;stroke-width:4px}
.ow-drawing text.ow-rail{font-size:13px;stroke:var(--ow-sheet)}
.ow-drawing text.ow-title{font-size:12px;font-weight:650}
.ow-drawing text.ow-code,.ow-drawing text.ow-value,.ow-drawing text.ow-track,.ow-drawing text.ow-key{fill:var(--ow-ink2)}
.ow-drawing text.ow-state{fill:var(--ow-accent);font-weight:650}
.ow-drawing text.ow-light{fill:var(--ow-glow-ink)}
.ow-drawing text.ow-blown{fill:var(--ow-warn)}
.ow-drawing text.ow-flag{fill:var(--ow-case);stroke:none;font-weight:650;text-anchor:middle}
""" % {  # noqa: UP031
    name: ";".join(f"--ow-{token}:{value}" for token, value in tokens.items())
    for name, tokens in (("light", LIGHT), ("dark", DARK))
}


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
    yield f"<style>{STYLE}</style>"
    for area in sheet.areas:
        yield _group("area", [area_shape(area.box)], f'data-part="{area.connector}"')
    for line in sheet.lines:
        data = f'data-part="{line.part}"' if line.part else f'data-place="{line.place}"'
        ident = f' id="{prefix}-{line.part}"' if line.role == "wire" else ""
        yield _group("line", line_shapes(line), data + ident)
    yield _group("foot", ground_strokes(sheet))
    for symbol in sheet.symbols:
        name = "-".join(filter(None, (prefix, symbol.part, symbol.kind, symbol.name)))
        data = f'id="{name}-{_number(symbol.x)}" data-part="{symbol.part}"'
        yield _group(f"part ow-{symbol.kind}-part", symbol_shapes(symbol, state), data)
    yield _group("key", key_shapes(sheet))
    yield '<g class="ow-labels" aria-hidden="true">'
    for label in sheet.labels:
        yield from _label(sheet, label, state)
    yield "</g>"
    seen: dict[str, int] = {}
    for point in sheet.points:
        shapes = list(point_shapes(point, state))
        if not shapes:
            continue
        data = f'data-place="{point.place}" data-track="{point.track}"'
        if point.touch:
            seen[point.place] = seen.get(point.place, 0) + 1
            copy = f"-{seen[point.place]}" if seen[point.place] > 1 else ""
            ident = point.place.replace(":", "-").replace("+", "plus")
            data += f' id="{prefix}-at-{ident}{copy}"'
            catch = Disc(x=point.x, y=point.y, radius=12.0, role="catch")
            shapes.insert(0, catch)
            title = f"<title>{escape(point.place)}, {escape(point.words)}</title>"
            yield _group("point", shapes, data, title)
        else:
            yield _group("joined", shapes, data)
    for shape, letter in lead_shapes(sheet, state):
        yield _shape(shape)
        if letter:
            yield _text(letter, letter.text, "ow-flag")
    yield "</svg>"


def _label(sheet: Sheet, label: Label, state: State) -> Iterator[str]:
    text, kind = label_text(sheet, label, state), f"ow-{label.role}"
    if label.role == "state":
        lamp = label.part in state.brightness
        kind += " ow-light" if lamp else " ow-blown" if text == "blown" else ""
    x, y = label.x, label.y
    boxes = (area.box for area in sheet.areas)
    if any(b[0] < x < b[2] and b[1] < y < b[3] for b in boxes):
        kind += " ow-inside"
    if text:
        yield _text(label, text, kind)


def _text(label: Label, text: str, kind: str) -> str:
    x, y = _number(label.x), _number(label.y)
    anchor = "" if label.anchor == "start" else f' text-anchor="{label.anchor}"'
    return f'<text class="{kind}" x="{x}" y="{y}"{anchor}>{escape(text)}</text>'


def _group(
    kind: str, shapes: Iterable[Shape], data: str = "", title: str = ""
) -> str:
    inner = "".join(_shape(shape) for shape in shapes)
    return f'<g class="ow-{kind}" {data}>{title}{inner}</g>'.replace(" >", ">", 1)


def _shape(shape: Shape) -> str:
    faded = "" if shape.strength == 1.0 else f' fill-opacity="{shape.strength:.2f}"'
    if isinstance(shape, Disc):
        x, y, r = (_number(v) for v in (shape.x, shape.y, shape.radius))
        return f'<circle class="ow-{shape.role}" cx="{x}" cy="{y}" r="{r}"{faded}/>'
    assert isinstance(shape, Stroke)
    points = "L".join(f"{_number(x)} {_number(y)}" for x, y in shape.points)
    end = "Z" if shape.closed else ""
    return f'<path class="ow-{shape.role}" d="M{points}{end}"{faded}/>'


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
