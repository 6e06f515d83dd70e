"""The wiring diagram of a vehicle, and plots of where its voltage is lost.

One layout serves three uses: `sheet` says where everything stands, `svg` and `figure`
draw it. Nothing here loads matplotlib before a figure is asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ohmwork.drawing.drops import drop_map
from ohmwork.drawing.figure import draw
from ohmwork.drawing.layout import sheet
from ohmwork.drawing.paper import Sheet
from ohmwork.drawing.profile import voltage_profile
from ohmwork.drawing.svg import render
from ohmwork.drawing.symbols import State
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "Sheet",
    "State",
    "draw",
    "drop_map",
    "figure",
    "render",
    "sheet",
    "svg",
    "voltage_profile",
]


def svg(vehicle: Vehicle, state: State | None = None) -> str:
    """Return the wiring diagram of a vehicle as SVG text.

    Parameters
    ----------
    vehicle : any vehicle. Faults in it are not drawn.
    state : what is set, lit, pulled and touched; everything at rest if None.
    """
    return render(sheet(vehicle), state)


def figure(vehicle: Vehicle) -> Figure:
    """Return the wiring diagram of a vehicle, at rest, as a matplotlib figure."""
    return draw(sheet(vehicle))
