"""Small circuits for tests: a battery, a terminal strip and resistors, made by hand."""

from collections.abc import Sequence

from ohmwork.bench import Bench
from ohmwork.instruments import Reading
from ohmwork.parts import Battery, Connector, Part, Wire
from ohmwork.vehicle import Vehicle

NOTHING = 1e-9
"""Resistance that stands for none. [Ω]"""

WAYS = ("1", "2", "3", "4")


def resistor(name: str, start: str, end: str, ohms: float) -> Wire:
    """Return a resistor: a wire of negligible copper with resistance added. [Ω]"""
    return Wire(
        name=name,
        start=start,
        end=end,
        colour="BK",
        area_mm2=1e6,
        length=1e-6,
        added_resistance=ohms,
    )


def board(
    emf: float,
    resistors: Sequence[tuple[str, str, float]],
    *parts: Part,
    internal: float = NOTHING,
) -> Vehicle:
    """Return a battery G1, a strip X1:1 to X1:4 of bare places, and resistors.

    Parameters
    ----------
    emf : of the battery. [V]
    resistors : start, end and resistance of each. [Ω]
    parts : anything more.
    internal : resistance of the battery. [Ω]
    """
    battery = Battery(name="G1", open_circuit_voltage=emf, internal_resistance=internal)
    strip = Connector(name="X1", label="strip", ways=WAYS)
    wires = [resistor(f"R{n}", *r) for n, r in enumerate(resistors, 1)]
    named = [battery, strip, *wires, *parts]
    return Vehicle(
        name="board",
        title="Board",
        batteries=("G1",),
        rails={"30": "G1:+", "31": "G1:-"},
        controls={},
        parts={part.name: part for part in named},
        text="",
    )


def measure(bench: Bench, tool: str, a: str, b: str | None = None) -> Reading:
    """Take a tool, place its leads and read."""
    bench.use(tool)
    if b is not None:
        bench.place("B", b)
    bench.place("A", a)
    return bench.read()
