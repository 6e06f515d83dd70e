"""A sheet as a matplotlib figure, for notebooks and print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ohmwork.drawing.paper import BOLD, Label, Sheet
from ohmwork.drawing.symbols import (
    Disc,
    Shape,
    State,
    area_shape,
    ground_strokes,
    key_shapes,
    label_text,
    line_shapes,
    point_shapes,
    symbol_shapes,
)
from ohmwork.drawing.tokens import DARK, LIGHT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PIXELS_PER_INCH = 100.0

_PENS: dict[str, dict[str, Any]] = {
    "wire": {"color": "ink", "width": 1.5},
    "joint": {"color": "ink", "width": 1.5},
    "rail": {"color": "ink", "width": 3.0},
    "symbol": {"color": "ink", "width": 2.0},
    "plate": {"color": "ink", "width": 4.5},
    "pin": {"color": "ink", "width": 4.5},
    "blade": {"color": "accent", "width": 2.5},
    "link": {"color": "accent", "width": 1.0, "dash": (4.0, 3.0)},
    "seat": {"color": "edge", "width": 1.0, "dash": (3.0, 2.0)},
    "warn": {"color": "warn", "width": 2.0},
    "area": {"color": "edge", "width": 1.0, "dash": (2.0, 3.0), "fill": "zone"},
    "ray": {"color": "glow-ink", "width": 1.5},
    "glow": {"color": "none", "width": 0.0, "fill": "glow"},
    "dot": {"color": "ink", "width": 0.0, "fill": "ink"},
    "terminal": {"color": "ink", "width": 1.5, "fill": "sheet"},
}
_INK2 = frozenset({"value", "code", "track", "key"})


def draw(sheet: Sheet, state: State | None = None, *, dark: bool = False) -> Figure:
    """Return a sheet as a figure at natural size.

    Parameters
    ----------
    sheet : what to draw.
    state : what is set, lit and pulled; everything at rest if None. Leads are not drawn.
    dark : whether to draw for a dark page.
    """
    from matplotlib.figure import Figure

    colours = DARK if dark else LIGHT
    state = state or State()
    size = (sheet.width / PIXELS_PER_INCH, sheet.height / PIXELS_PER_INCH)
    figure = Figure(figsize=size, dpi=PIXELS_PER_INCH, facecolor=colours["sheet"])
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width)
    axes.set_ylim(sheet.height, 0.0)
    shapes: list[Shape] = [area_shape(area.box) for area in sheet.areas]
    for line in sheet.lines:
        shapes += line_shapes(line)
    shapes += ground_strokes(sheet)
    for symbol in sheet.symbols:
        shapes += symbol_shapes(symbol, state)
    shapes += key_shapes(sheet)
    for point in sheet.points:
        shapes += point_shapes(point, state)
    for layer, shape in enumerate(shapes):
        _add(axes, shape, colours, layer)
    for label in sheet.labels:
        _write(axes, label, label_text(sheet, label, state), colours)
    return figure


def _points(pixels: float) -> float:
    return pixels * 72.0 / PIXELS_PER_INCH


def _add(axes: Axes, shape: Shape, colours: dict[str, str], layer: int) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.patches import Circle, Polygon

    pen = _PENS[shape.role]
    colour = colours.get(pen["color"], "none")
    fill = colours.get(pen.get("fill", ""))
    width = _points(pen["width"])
    dash = tuple(d / pen["width"] for d in pen["dash"]) if "dash" in pen else None
    style: Any = (0.0, dash) if dash else "solid"
    look: dict[str, Any] = {
        "edgecolor": colour,
        "facecolor": to_rgba(fill, shape.strength) if fill else "none",
        "linewidth": width,
        "linestyle": style,
        "zorder": 2.0 + layer * 1e-3,
    }
    if isinstance(shape, Disc):
        axes.add_patch(Circle((shape.x, shape.y), shape.radius, **look))
    else:
        axes.add_patch(
            Polygon(shape.points, closed=shape.closed, fill=fill is not None, **look)
        )


def _write(axes: Axes, label: Label, text: str, colours: dict[str, str]) -> None:
    colour = {"state": "accent"}.get(label.role, "ink")
    axes.text(
        label.x,
        label.y,
        text,
        fontsize=_points(label.size),
        fontweight="bold" if label.role in BOLD else "normal",
        color=colours["ink2" if label.role in _INK2 else colour],
        ha={"start": "left", "middle": "center", "end": "right"}[label.anchor],
        va="center",
        zorder=9.0,
    )
