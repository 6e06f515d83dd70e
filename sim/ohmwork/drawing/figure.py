"""A sheet as a matplotlib figure, for notebooks and print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ohmwork.drawing.paper import BOLD, Label, Sheet
from ohmwork.drawing.style import DARK, LIGHT, PENS
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
    line_shapes,
    point_shapes,
    symbol_shapes,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PIXELS_PER_INCH = 100.0


def draw(sheet: Sheet, state: State | None = None, *, dark: bool = False) -> Figure:
    """Return a sheet as a figure at natural size.

    Parameters
    ----------
    sheet : what to draw.
    state : what is set, lit and pulled; everything at rest if None. Leads are left out.
    dark : whether to draw for a dark page.
    """
    from matplotlib.figure import Figure

    colours = DARK if dark else LIGHT
    size = (sheet.width / PIXELS_PER_INCH, sheet.height / PIXELS_PER_INCH)
    figure = Figure(figsize=size, dpi=PIXELS_PER_INCH, facecolor=colours["sheet"])
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width)
    axes.set_ylim(sheet.height, 0.0)
    state = state or State()
    for layer, shape in enumerate(_shapes(sheet, state)):
        _add(axes, shape, colours, layer)
    for label in sheet.labels:
        text = label_text(sheet, label, state)
        _write(axes, label, text, colours[label_colour(label, text, state)])
    return figure


def _shapes(sheet: Sheet, state: State) -> Iterator[Shape]:
    for area in sheet.areas:
        yield area_shape(area.box)
    for frame in sheet.frames:
        yield frame_shape(frame.box)
    for line in sheet.lines:
        yield from line_shapes(line)
    yield from ground_strokes(sheet)
    for symbol in sheet.symbols:
        yield from symbol_shapes(symbol, state)
    yield from key_shapes(sheet)
    for point in sheet.points:
        yield from point_shapes(point, state)


def _points(pixels: float) -> float:
    return pixels * 72.0 / PIXELS_PER_INCH


def _add(axes: Axes, shape: Shape, colours: dict[str, str], layer: int) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.patches import Circle, Polygon

    pen = PENS[shape.role]
    look: dict[str, Any] = {
        "edgecolor": colours[pen.colour] if pen.colour else "none",
        "facecolor": to_rgba(colours[pen.fill], shape.strength) if pen.fill else "none",
        "linewidth": _points(pen.width),
        "linestyle": (0.0, [d / pen.width for d in pen.dash]) if pen.dash else "solid",
        "zorder": 2.0 + layer * 1e-3,
    }
    if isinstance(shape, Disc):
        axes.add_patch(Circle((shape.x, shape.y), shape.radius, **look))
    else:
        axes.add_patch(Polygon(shape.points, closed=shape.closed, **look))


def _write(axes: Axes, label: Label, text: str, colour: str) -> None:
    axes.text(
        label.x,
        label.y,
        text,
        fontsize=_points(label.size),
        fontweight="bold" if label.role in BOLD else "normal",
        color=colour,
        ha={"start": "left", "middle": "center", "end": "right"}[label.anchor],
        va="center_baseline",
        zorder=9.0,
    )
