"""Voltage lost before and behind every load at work, as a plot of the whole vehicle."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ohmwork.drawing.style import DARK, LIGHT
from ohmwork.drawing.words import MINUS
from ohmwork.instruments import describe_effect
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.network.laws import Accumulator, Limited
from ohmwork.symptoms import describe_state
from ohmwork.vehicle import Vehicle, first_upper

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SUPPLY_LIMIT, GROUND_LIMIT = 0.5, 0.2
"""What the supply side and the ground side of a sound load lose at most on 12 V; twice
that on 24 V. [V] Common practice, no source."""

REACH = 1.0
"""Longest bar on 12 V, half the longest on 24 V. [V]"""

LEAST_CURRENT, LEAST_SHARE = 1e-3, 0.05
"""What a load at work takes at least: current [A], and voltage over that of the supply
[-]. Assumed."""

ROW, HEADING, LINE, BAR = 0.23, 0.32, 0.23, 0.13
WIDTH, LEFT, RIGHT, TOP, BOTTOM, EDGE = 9.4, 3.35, 0.85, 0.82, 0.58, 0.14
"""Sizes within the figure. [in]"""

TITLE_LENGTH = 90
"""Of a line. [characters]"""

ROOM = 1.55
"""Edge of the plot over the longest bar, for what is written beside bars. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """What is lost on both sides of one load, between the battery's posts."""

    supply: float
    """From the plus post to the load. [V]"""
    across: float
    """At the load itself. [V]"""
    ground: float
    """From the load to the minus post. [V]"""
    current: float
    """[A]"""
    high: str
    low: str
    """Places of the load where current comes in and goes out."""


def drops(point: OperatingPoint) -> dict[str, Drop]:
    """Return what is lost around every load, at work or not, by name of its effect.

    Of a load with two windings, the one that takes more current counts.
    """
    network, found = point.network, {}
    plus = float(point.voltage(network.vehicle.plus_post))
    currents = [abs(float(current)) for _, current in point.branch_currents()]
    for name, (effect, _) in network.effects.items():
        if effect.what in ("park", "flash"):
            continue
        part = name.partition(":")[0]
        branches = [k for role in effect.roles for k in network.branches_of[part, role]]
        k = max(branches, key=currents.__getitem__)
        ends = (point.branches[k].a, point.branches[k].b)
        low, high = sorted(ends, key=point.voltage)
        found[name] = Drop(
            supply=plus - float(point.voltage(high)),
            across=float(point.voltage(high, low)),
            ground=float(point.voltage(low)),
            current=currents[k],
            high=high,
            low=low,
        )
    return found


def is_at_work(point: OperatingPoint, drop: Drop) -> bool:
    """Whether a load takes enough current and voltage to matter."""
    least = LEAST_SHARE * point.network.vehicle.supply_voltage
    return drop.current >= LEAST_CURRENT and drop.across >= least


def lost_along(point: OperatingPoint, place: str, *, up: bool) -> dict[str, float]:
    """Return what each part on the way of a load's current loses. [V]

    Where ways part, it is the one with more current. The way ends at a post of the
    battery, or at what makes the current.

    Parameters
    ----------
    point : settled circuit.
    place : end of the load.
    up : against the current, to the plus post; otherwise with it, to the minus post.
    """
    ways: dict[str, list[tuple[float, str, str]]] = {}
    for branch, current in point.branch_currents():
        if current == 0.0 or isinstance(branch.law, (Accumulator, Limited)):
            continue
        forward = (current > 0.0) != up
        here, there = (branch.a, branch.b) if forward else (branch.b, branch.a)
        ways.setdefault(here, []).append((abs(current), there, branch.owner))
    vehicle = point.network.vehicle
    end = vehicle.plus_post if up else vehicle.reference
    lost: dict[str, float] = {}
    while place != end and place in ways:
        _, there, owner = max(ways[place])
        volts = abs(float(point.voltage(place, there)))
        lost[owner] = lost.get(owner, 0.0) + volts
        place = there
    return lost


def drop_map(
    vehicle: Vehicle,
    controls: Mapping[str, str],
    *,
    compared: Vehicle | None = None,
    dark: bool = False,
) -> Figure:
    """Return a plot of what is lost on both sides of every load at work.

    To the left of the middle stands what the supply side loses, to the right what the
    ground side loses. A bar beyond its limit is hatched and says which part loses most;
    one that is too long for the plot ends in an arrow. What lies behind resistors on
    purpose, as a slow blower does, is beyond the limit when all is well.

    Parameters
    ----------
    vehicle : healthy or faulty.
    controls : position of each control; one not named rests in its first.
    compared : the same vehicle when healthy, drawn as hollow points; what works in it
        alone is shown as well.
    dark : whether to draw for a dark page.
    """
    from matplotlib.figure import Figure

    setup = Setup(controls=dict(controls))
    point = Network(vehicle).settle(setup)
    found = drops(point)
    sound: dict[str, Drop] = {}
    if compared is not None:
        healthy = Network(compared).settle(setup)
        sound = {n: d for n, d in drops(healthy).items() if is_at_work(healthy, d)}
    groups = _groups(
        vehicle, [n for n, d in found.items() if n in sound or is_at_work(point, d)]
    )
    state = next(
        (name for name, there in vehicle.states.items() if there == controls),
        describe_state(vehicle, controls),
    )
    title = textwrap.wrap(f"Voltage lost on the way: {state}", TITLE_LENGTH)
    top = TOP + LINE * len(title)
    height = sum(HEADING * bool(c) + ROW * len(names) for c, names in groups.items())
    full = top + max(height, ROW) + BOTTOM
    colours = DARK if dark else LIGHT
    figure = Figure(figsize=(WIDTH, full), dpi=100, facecolor=colours["sheet"])
    across, down = (LEFT, WIDTH - LEFT - RIGHT), (BOTTOM, full - top - BOTTOM)
    left, width = (inches / WIDTH for inches in across)
    lower, tall = (inches / full for inches in down)
    axes = figure.add_axes((left, lower, width, tall))
    page = _Page(axes, point, colours)
    page.dress(full - top - BOTTOM)
    y = 0.0
    for circuit, names in groups.items():
        if circuit:
            y += HEADING
            page.name(y - 0.09, first_upper(circuit), fontweight="bold")
        for name in names:
            y += ROW
            page.row(y - 0.5 * ROW, name, found[name], sound.get(name))
    for number, words in enumerate(title, 1):
        page.name(LINE * number - top, words, fontweight="bold", fontsize=11.5)
    posts = float(point.voltage(vehicle.plus_post))
    line = f"{vehicle.title}. {posts:.2f} V between the battery's posts."
    page.name(LINE * (len(title) + 1) - top, line, colour="ink2", fontsize=9.0)
    key = (
        "Usual limits: common practice. "
        "Hatched: beyond its limit; the part named loses most of it."
        f"{' Hollow point: healthy.' if sound else ''}"
    )
    page.name(full - top - EDGE, key, colour="ink2")
    return figure


def _groups(vehicle: Vehicle, names: Sequence[str]) -> dict[str, list[str]]:
    """Return the loads of each circuit; those of none stand last, under no name."""
    groups: dict[str, list[str]] = {circuit: [] for circuit in (*vehicle.circuits, "")}
    for name in names:
        owners = [
            circuit
            for load in (name, name.partition(":")[0])
            for circuit, loads in vehicle.circuits.items()
            if load in loads
        ]
        groups[(*owners, "")[0]].append(name)
    return {circuit: members for circuit, members in groups.items() if members}


class _Page:
    """The plot while it is drawn; x is in volts, y in inches from its top."""

    def __init__(
        self, axes: Axes, point: OperatingPoint, colours: dict[str, str]
    ) -> None:
        self.axes, self.point, self.colours = axes, point, colours
        self.scale = 2.0 if point.network.vehicle.supply_voltage > 18.0 else 1.0
        self.reach = REACH * self.scale
        self.inch = 2.0 * ROOM * self.reach / (WIDTH - LEFT - RIGHT)
        """Volts to the inch. [V/in]"""

    def write(self, x: float, y: float, text: str, **look: Any) -> None:
        """Write at a place of the plot."""
        look = {"va": "center_baseline", "fontsize": 8.5, "colour": "ink", **look}
        look["color"] = self.colours[look.pop("colour")]
        self.axes.text(x, y, text, **look)

    def name(self, y: float, text: str, **look: Any) -> None:
        """Write from the left edge of the figure on."""
        x = -ROOM * self.reach - (LEFT - EDGE) * self.inch
        self.write(x, y, text, **look)

    def column(self, y: float, text: str, **look: Any) -> None:
        """Write up to the right edge of the figure."""
        x = ROOM * self.reach + (RIGHT - EDGE) * self.inch
        self.write(x, y, text, ha="right", **look)

    def dress(self, height: float) -> None:
        """Draw what stands behind the bars, and the heads of the columns."""
        axes, colours = self.axes, self.colours
        axes.set_facecolor(colours["sheet"])
        axes.set_xlim(-ROOM * self.reach, ROOM * self.reach)
        axes.set_ylim(height, 0.0)
        axes.spines[:].set_visible(False)
        axes.set_yticks([])
        ticks = [0.5 * self.reach * step for step in range(-2, 3)]
        words = [f"{abs(tick):g}" for tick in ticks]
        axes.set_xticks(ticks, [*words[:-1], f"{words[-1]} V"])
        axes.tick_params(length=0.0, labelsize=8.5, colors=colours["ink2"])
        axes.grid(axis="x", color=colours["hair"], linewidth=1.0)
        axes.set_axisbelow(True)
        axes.axvline(0.0, color=colours["ink"], linewidth=1.4)
        for side, limit in ((-1.0, SUPPLY_LIMIT), (1.0, GROUND_LIMIT)):
            x = side * limit * self.scale
            axes.axvline(x, color=colours["ink2"], linewidth=1.2, dashes=(4.0, 3.0))
            label = f"usual limit {abs(x):g} V"
            self.write(x, -0.07, label, ha="center", fontsize=8.0, colour="ink2")
            head = f"lost on the {'supply' if side < 0.0 else 'ground'} side"
            ha = "right" if side < 0.0 else "left"
            self.write(0.1 * side * self.inch, -0.27, head, ha=ha)
        self.column(-0.27, "at the load")

    def row(self, y: float, name: str, drop: Drop, sound: Drop | None) -> None:
        """Draw one load."""
        self.name(
            y, f"   {first_upper(describe_effect(self.point.network.vehicle, name))}"
        )
        idle = drop.current < LEAST_CURRENT
        self.column(y, "no current" if idle else f"{drop.across:.2f} V", colour="ink2")
        for side, limit, volts, place, healthy in (
            (
                -1.0,
                SUPPLY_LIMIT,
                drop.supply,
                drop.high,
                sound.supply if sound else None,
            ),
            (1.0, GROUND_LIMIT, drop.ground, drop.low, sound.ground if sound else None),
        ):
            too_much = volts > limit * self.scale
            words = f"{volts:.2f}{' V' if too_much else ''}".replace("-", MINUS)
            if too_much and not idle:
                lost = lost_along(self.point, place, up=side < 0.0)
                words += f", {max(lost, key=lost.__getitem__)}"
            beside = 0.0 if healthy is None else min(healthy, self.reach)
            self.bar(y, side, volts, words, beside, too_much=too_much)
            if healthy is not None:
                self.axes.plot(
                    side * beside, y, "o", color=self.colours["ink"], markersize=5.0,
                    markerfacecolor=self.colours["sheet"],
                )  # fmt: skip

    def bar(
        self,
        y: float,
        side: float,
        volts: float,
        words: str,
        beside: float,
        *,
        too_much: bool,
    ) -> None:
        """Draw one bar with its number, which stands beside a hollow point as well."""
        colour = self.colours["warn" if too_much else "accent"]
        length = min(volts, self.reach)
        self.axes.barh(
            y, side * length, BAR, facecolor="none" if too_much else colour,
            edgecolor=colour, hatch="/////" if too_much else None, linewidth=1.0,
        )  # fmt: skip
        if volts > self.reach:
            marker = "<" if side < 0.0 else ">"
            self.axes.plot(side * length, y, marker, color=colour, markersize=7.0)
        x = side * (max(length, beside, 0.0) + 0.09 * self.inch)
        ha = "right" if side < 0.0 else "left"
        weight = "bold" if too_much else "normal"
        paper = {"facecolor": self.colours["sheet"], "edgecolor": "none", "pad": 0.8}
        self.write(x, y, words, ha=ha, fontsize=8.0, fontweight=weight, bbox=paper)
