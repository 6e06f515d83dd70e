"""The plot of what is lost around each load, against the circuit it is drawn from."""

import io
from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ohmwork import drawing
from ohmwork.drawing.drops import Drop, drops, is_at_work, lost_along
from ohmwork.faults import Fault, inject
from ohmwork.network import OperatingPoint, operating_point
from ohmwork.parts import Wire
from ohmwork.vehicle import Vehicle, load_vehicle

BOARD, BOTH = load_vehicle("drop_board"), {"S1": "both"}
TRUCK = load_vehicle("training_truck")
POOR_GROUND = inject(TRUCK, Fault(kind="high_resistance", site="GP9", resistance=0.8))
BUSY = {
    "S2": "drive", "D1": "idle", "S3": "head", "S5": "pressed", "S6": "right",
    "S7": "reverse", "S8": "slow", "S9": "2",
}  # fmt: skip
"""Much of the truck at once, the slow blower and the trailer among it."""


def at_work(point: OperatingPoint) -> dict[str, Drop]:
    """Return what is lost around the loads at work."""
    return {name: d for name, d in drops(point).items() if is_at_work(point, d)}


def texts(figure: Figure) -> list[str]:
    """Return all that is written in a figure."""
    return [text.get_text() for text in figure.axes[0].texts]


def bars(figure: Figure) -> list[float]:
    """Return the bars' ends from the middle, supply and ground side in turn. [V]"""
    return [
        patch.get_width() for patch in figure.axes[0].patches
        if isinstance(patch, Rectangle)
    ]  # fmt: skip


def test_losses_are_those_between_posts_and_load() -> None:
    """What a meter reads from each post to the lamp's terminal on that side."""
    point = operating_point(BOARD, controls=BOTH)
    found = drops(point)
    assert list(found) == ["E1", "E2"]
    for name, drop in found.items():
        assert drop.supply == point.voltage("G1:+", f"{name}:56")
        assert drop.across == point.voltage(f"{name}:56", f"{name}:31")
        assert drop.ground == point.voltage(f"{name}:31", "G1:-")
        assert drop.current == point.current(name)


def test_what_a_part_loses_is_current_times_resistance() -> None:
    """Each wire of the far lamp loses by Ohm's law, and all parts together the whole.

    The wires carry the lamp's current, but for those that both lamps share.
    """
    point = operating_point(BOARD, controls=BOTH)
    drop = drops(point)["E2"]
    supply = lost_along(point, drop.high, up=True)
    ground = lost_along(point, drop.low, up=False)
    assert list(supply) == ["W9", "X3", "W8", "X2", "W7", "S1", "W2", "F1", "W1"]
    assert list(ground) == ["W10", "X3", "W11", "X2", "W12", "GP1", "W13"]
    shared = drop.current + drops(point)["E1"].current
    for name in ("W7", "W8", "W9", "W10", "W11", "W12", "W2", "W1", "W13"):
        wire = BOARD[name]
        assert isinstance(wire, Wire)
        amps = shared if name in ("W1", "W2", "W13") else drop.current
        assert (supply | ground)[name] == pytest.approx(amps * wire.resistance)
    assert sum(supply.values()) == pytest.approx(drop.supply)
    assert sum(ground.values()) == pytest.approx(drop.ground)


@pytest.mark.parametrize("vehicle", [TRUCK, POOR_GROUND], ids=["sound", "poor ground"])
def test_losses_and_load_add_up_to_the_battery(vehicle: Vehicle) -> None:
    """Supply side, load and ground side are the voltage between the posts, always.

    With the engine at rest, the parts on the way to and from a load lose just that;
    with the engine running their currents go round by the alternator.
    """
    for state in vehicle.states.values():
        point = operating_point(vehicle, controls=state)
        for drop in at_work(point).values():
            whole = drop.supply + drop.across + drop.ground
            assert whole == pytest.approx(point.voltage("G2:+"), abs=1e-12)
            if "D1" not in state:
                before = lost_along(point, drop.high, up=True)
                behind = lost_along(point, drop.low, up=False)
                assert sum(before.values()) == pytest.approx(drop.supply, abs=1e-12)
                assert sum(behind.values()) == pytest.approx(drop.ground, abs=1e-12)


def test_the_plot_shows_the_operating_points_numbers() -> None:
    """Every bar and every number is what the circuit has; long bars are cut at 2 V."""
    figure = drawing.drop_map(POOR_GROUND, BUSY)
    work = at_work(operating_point(POOR_GROUND, controls=BUSY))
    rows = [text for text in texts(figure) if text.startswith("   ")]
    assert len(rows) == len(work)
    ends = bars(figure)
    pairs = sorted(zip(ends[::2], ends[1::2], strict=True))
    drawn = sorted((-min(d.supply, 2.0), min(d.ground, 2.0)) for d in work.values())
    assert pairs == [pytest.approx(pair) for pair in drawn]
    written = "\n".join(texts(figure))
    for drop in work.values():
        for number in (drop.supply, drop.across, drop.ground):
            assert f"{number:.2f}" in written


def test_beyond_the_limit_stands_the_part_that_loses_most() -> None:
    """The poor ground point behind the rear lamps, the resistors before the blower."""
    written = texts(drawing.drop_map(POOR_GROUND, BUSY))
    work = at_work(operating_point(POOR_GROUND, controls=BUSY))
    assert f"{work['E12'].ground:.2f} V, GP9" in written
    assert f"{work['M3'].supply:.2f} V, R1" in written
    assert not any(", GP9" in text for text in texts(drawing.drop_map(TRUCK, BUSY)))


def test_what_should_work_is_shown_beside_the_healthy_vehicle() -> None:
    """A blower with an open ground takes no current and has all voltage behind it."""
    dead = inject(TRUCK, Fault(kind="open_circuit", site="W126"))
    state = TRUCK.states["winter"]
    alone = drawing.drop_map(dead, state)
    beside = drawing.drop_map(dead, state, compared=TRUCK)
    row = "   Blower motor M3"
    assert row in texts(beside)
    assert row not in texts(alone)
    assert "no current" in texts(beside)
    ground = drops(operating_point(dead, controls=state))["M3"].ground
    assert ground > 25.0
    assert f"{ground:.2f} V" in texts(beside)
    points = [line for line in beside.axes[0].lines if line.get_marker() == "o"]
    shown = [float(np.ravel(line.get_xdata())[0]) for line in points]
    healthy = at_work(operating_point(TRUCK, controls=state)).values()
    expected = [side for d in healthy for side in (-d.supply, d.ground)]
    assert sorted(shown) == pytest.approx(sorted(expected))


def test_the_title_says_the_state() -> None:
    """By its name where it has one, else by the controls that are moved."""
    named = drawing.drop_map(TRUCK, TRUCK.states["dip beam"])
    spelt = drawing.drop_map(TRUCK, {"S3": "side", "S5": "pressed"})
    assert "Voltage lost on the way: dip beam" in texts(named)
    title = "Voltage lost on the way: Lights side, brake pedal pressed"
    assert title in texts(spelt)


def test_loads_stand_under_their_circuit() -> None:
    """In the order of the vehicle's file; a bare board has no headings."""
    lamps = drawing.drop_map(TRUCK, BUSY)
    bold = [t.get_text() for t in lamps.axes[0].texts if t.get_fontweight() == "bold"]
    headings = [text.lower() for text in bold if text.lower() in TRUCK.circuits]
    assert headings == [name for name in TRUCK.circuits if name in headings]
    assert {"dip beam", "trailer", "wiper", "blower"} <= set(headings)


@pytest.mark.parametrize(("dark", "compared"), [(False, None), (True, TRUCK)])
def test_nothing_written_meets(*, dark: bool, compared: Vehicle | None) -> None:
    """All text lies inside the figure, and no two texts overlap."""
    with mpl.rc_context({"font.family": "DejaVu Sans"}):
        figure = drawing.drop_map(POOR_GROUND, BUSY, compared=compared, dark=dark)
        figure.savefig(io.BytesIO(), format="png")
        boxes = [text.get_window_extent() for text in figure.axes[0].texts]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))
    right, top = figure.bbox.width, figure.bbox.height
    assert all(b.x0 >= 0 and b.y0 >= 0 and b.x1 <= right and b.y1 <= top for b in boxes)


def test_a_vehicle_at_rest_has_an_empty_plot() -> None:
    """Nothing works, so nothing is lost; the plot can be drawn all the same."""
    figure = drawing.drop_map(BOARD, {})
    figure.savefig(io.BytesIO(), format="png")
    assert bars(figure) == []
    assert at_work(operating_point(BOARD)) == {}
