"""Voltage along the way of a circuit, as a plot: where it is lost."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from ohmwork.drawing.paper import text_width
from ohmwork.drawing.style import DARK, LIGHT
from ohmwork.drawing.words import MINUS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Way = Sequence[tuple[str, float]]
"""Places in the order of the current, each with its voltage. [V]"""
XY = tuple[float, float]
AXES_WIDTH = 540.0
"""Width of the plot within its figure. [px]"""


def voltage_profile(
    measured: Way,
    compared: Way = (),
    *,
    title: str = "Voltage against battery minus, along the circuit",
    measured_label: str = "measured",
    compared_label: str = "healthy",
    dark: bool = False,
) -> Figure:
    """Return a plot of the voltage at each place along one circuit.

    Where the line falls, voltage is lost; only the lamp should lose much.

    Parameters
    ----------
    measured : place and voltage against battery minus, in the order of the current:
        supply side, lamp, ground side. [V]
    compared : the same of a circuit to compare with, drawn dashed; places that are not
        in `measured` are left out. [V]
    title : what the plot shows.
    measured_label, compared_label : words beside the two lines.
    dark : whether to draw for a dark page.

    Raises
    ------
    ValueError
        If `measured` has fewer than two places, or one place twice.
    """
    names = [name for name, _ in measured]
    if len(names) < 2 or len(set(names)) < len(names):
        message = (
            f"Places given: {', '.join(names) or 'none'}. "
            "Give at least two, each once, in the order of the current."
        )
        raise ValueError(message)
    from matplotlib.figure import Figure

    colours = DARK if dark else LIGHT
    figure = Figure(figsize=(6.2, 3.4), dpi=100, facecolor=colours["sheet"])
    axes = figure.add_axes((0.09, 0.19, 0.87, 0.65))
    axes.set_facecolor(colours["sheet"])
    position = {name: float(i) for i, name in enumerate(names)}
    other = [(name, volts) for name, volts in compared if name in position]
    _line(axes, other, position, colours["ink2"], colours["sheet"], dashed=True)
    _line(axes, measured, position, colours["accent"], colours["sheet"], dashed=False)
    _dress(axes, names, [v for _, v in (*measured, *other)], colours)
    spot, spot_compared, above = _spots(measured, other)
    _say(axes, spot, measured_label, colours["accent"], "bold")
    if other:
        ink2 = colours["ink2"]
        _say(axes, spot_compared, compared_label, ink2, "normal", above=above)
    figure.text(
        0.09, 0.91, title, fontsize=10.5, fontweight="bold", color=colours["ink"]
    )
    return figure


def _line(
    axes: Axes,
    way: Way,
    position: dict[str, float],
    colour: str,
    paper: str,
    *,
    dashed: bool,
) -> None:
    axes.plot(
        [position[name] for name, _ in way],
        [volts for _, volts in way],
        color=colour,
        linewidth=1.6 if dashed else 2.4,
        linestyle=(0, (5.0, 3.0)) if dashed else "solid",
        marker="o",
        markersize=5.5,
        markerfacecolor=paper,
        markeredgewidth=1.4 if dashed else 2.0,
        clip_on=False,
    )


def _spots(measured: Way, other: Way) -> tuple[XY, XY, bool]:
    """Return where the words of both lines stand, and whether the second go above.

    Lines well apart are named at the place where they are furthest apart. If they are
    not, the measured one is named after its greatest drop, the other at its start.
    """
    against = dict(other)
    volts = [v for _, v in measured]
    apart = [abs(v - against.get(name, v)) for name, v in measured]
    if max(apart) > 0.15 * (max(volts) - min(volts)):
        at = apart.index(max(apart))
        return (at, volts[at]), (at, against[measured[at][0]]), True
    drops = [a - b for a, b in pairwise(volts)]
    after = drops.index(max(drops)) + 1
    first = next((i for i, (name, _) in enumerate(measured) if name in against), 0)
    start = against.get(measured[first][0], volts[0])
    return (after, volts[after]), (first, start), False


def _say(
    axes: Axes,
    spot: XY,
    words: str,
    colour: str,
    weight: str,
    *,
    above: bool = True,
) -> None:
    """Write above or below a point of a line, in as many lines as there is room."""
    left, right = axes.get_xlim()
    room = (right - spot[0]) / (right - left) * AXES_WIDTH
    late = room < 90.0
    needed = text_width(words, 12.5, bold=weight == "bold")
    width = AXES_WIDTH - room if late else room
    axes.annotate(
        textwrap.fill(words, max(8, int(len(words) * width / needed))),
        spot,
        xytext=(0.0, 8.0 if above else -8.0),
        textcoords="offset points",
        ha="right" if late else "left",
        va="bottom" if above else "top",
        fontsize=9.0,
        fontweight=weight,
        color=colour,
    )


def _dress(
    axes: Axes, names: Sequence[str], volts: Sequence[float], colours: dict[str, str]
) -> None:
    """No frame, hairlines across, the unit on the top tick."""
    for side in ("top", "left", "right"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(colours["edge"])
    axes.grid(axis="y", color=colours["hair"], linewidth=1.0)
    axes.set_axisbelow(True)
    top = max(4.0, *volts)
    step = 4.0 if top <= 16.0 else 8.0
    ticks = [step * i for i in range(int(top / step) + 1)]
    axes.set_yticks(ticks)
    axes.set_yticklabels([*(f"{t:g}" for t in ticks[:-1]), f"{ticks[-1]:g} V"])
    axes.set_ylim(min(-0.4, *volts), top + 0.4)
    axes.set_xticks(range(len(names)))
    shown = [name.replace(" ", "\n").replace(":-", f":{MINUS}") for name in names]
    axes.set_xticklabels(shown)
    axes.set_xlim(-0.35, len(names) - 0.65)
    axes.tick_params(length=0.0, labelsize=9.0, colors=colours["ink2"])
