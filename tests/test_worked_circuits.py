"""Worked circuits of published textbooks, reproduced through the solver.

*UP2*: OpenStax, *University Physics*, volume 2 (with the number of its module).
*LIEC*: T. R. Kuphaldt, *Lessons in Electric Circuits*, volume I, DC (with the chapter).
*NEETS 1*: *Navy Electricity and Electronics Training Series*, module 1, NAVEDTRA 14173.
*DOE*: *Electrical Science*, volume 1, DOE-HDBK-1011, module ES-02.

Where a book rounds, the tolerance is half a unit of the last digit it prints. Where its
answer is exact, it is `EXACT`: a source needs some resistance of its own here, and what
stands for none, `NOTHING`, takes up to 1e-7 of the current of the smallest load, 0.5 Ω.
"""

import math
from collections.abc import Mapping

import pytest

from ohmwork.faults import Fault, inject
from ohmwork.instruments import Hookup, measure
from ohmwork.network import (
    Attachment,
    Network,
    OperatingPoint,
    Setup,
    operating_point,
)
from ohmwork.network.laws import Source
from ohmwork.network.lowering import Branch
from ohmwork.parts import Battery, Part, Splice, Wire
from ohmwork.vehicle import Vehicle

NOTHING = 5e-8
"""Resistance that stands for none. [Ω]"""

EXACT = 1e-6


def source(name: str, emf: float, resistance: float = NOTHING) -> Battery:
    """Return a source; its terminals are ``name:+`` and ``name:-``."""
    return Battery(name=name, open_circuit_voltage=emf, internal_resistance=resistance)


def circuit(
    *sources: Battery, resistors: Mapping[str, tuple[str, str, float]]
) -> Vehicle:
    """Return a circuit of sources and resistors.

    A resistor joins two nodes; a node is a letter or a source's terminal. It is a wire
    whose copper is negligible.
    """
    nodes = {n for a, b, _ in resistors.values() for n in (a, b) if ":" not in n}
    parts: dict[str, Part] = {s.name: s for s in sources}
    parts |= {node: Splice(name=node) for node in sorted(nodes)}
    for name, (a, b, ohms) in resistors.items():
        start, end = (node if ":" in node else f"{node}:1" for node in (a, b))
        parts[name] = Wire(
            name=name,
            start=start,
            end=end,
            colour="BK",
            area_mm2=1e6,
            length=1e-3,
            added_resistance=ohms,
        )
    first = sources[0].name
    return Vehicle(
        name="book",
        title="Worked circuit",
        batteries=(first,),
        rails={"30": f"{first}:+", "31": f"{first}:-"},
        controls={},
        parts=parts,
        text="",
    )


def series(emf: float, *ohms: float, inside: float = NOTHING) -> OperatingPoint:
    """Return the state of resistors R1, R2, ... in a ring with source G1."""
    nodes = ["G1:+", *(chr(ord("A") + k) for k in range(len(ohms) - 1)), "G1:-"]
    resistors = {
        f"R{k + 1}": (nodes[k], nodes[k + 1], value) for k, value in enumerate(ohms)
    }
    return operating_point(circuit(source("G1", emf, inside), resistors=resistors))


def parallel(emf: float, *ohms: float) -> OperatingPoint:
    """Return the state of resistors R1, R2, ... side by side on an ideal source G1."""
    resistors = {f"R{k + 1}": ("G1:+", "G1:-", value) for k, value in enumerate(ohms)}
    return operating_point(circuit(source("G1", emf), resistors=resistors))


def drop(point: OperatingPoint, name: str) -> float:
    """Voltage over a part, first terminal to second. [V]"""
    branch = next(b for b in point.branches if b.owner == name)
    return float(point.voltage(branch.a, branch.b))


def power(point: OperatingPoint, name: str) -> float:
    """Power that a part takes; a source that gives has a negative one. [W]"""
    return drop(point, name) * float(point.current(name))


# Sources with a resistance of their own


def test_battery_under_a_light_load() -> None:
    """UP2 m58453, example: 12.00 V, 0.100 Ω, load 10.00 Ω: 1.188 A, 11.90 V.

    The book subtracts a drop it has rounded to 0.10 V; unrounded 11.88 V, so 0.02 V.
    """
    point = series(12.00, 10.00, inside=0.100)
    assert point.current("R1") == pytest.approx(1.188, abs=0.0005)
    assert point.voltage("G1:+") == pytest.approx(11.90, abs=0.02)


def test_battery_under_a_heavy_load() -> None:
    """UP2 m58453, same example: load 0.500 Ω: 20.00 A, 10.00 V, 200 W."""
    point = series(12.00, 0.500, inside=0.100)
    assert point.current("R1") == pytest.approx(20.00, rel=EXACT)
    assert point.voltage("G1:+") == pytest.approx(10.00, rel=EXACT)
    assert power(point, "R1") == pytest.approx(200.0, rel=EXACT)


def test_aged_battery() -> None:
    """UP2 m58453, same example: resistance inside risen to 0.500 Ω: 12.00 A, 6.00 V."""
    point = series(12.00, 0.500, inside=0.500)
    assert point.current("R1") == pytest.approx(12.00, rel=EXACT)
    assert point.voltage("G1:+") == pytest.approx(6.00, rel=EXACT)
    assert power(point, "R1") == pytest.approx(72.0, rel=EXACT)


def test_starter_with_corroded_terminals() -> None:
    """UP2 m58453, problem: 200 A, 10.0 V, 2.00 kW; with 0.0900 Ω more 80 A, 4.00 V."""
    sound = series(12.0, 0.0500, inside=0.0100)
    assert sound.current("R1") == pytest.approx(200.0, rel=EXACT)
    assert drop(sound, "R1") == pytest.approx(10.0, rel=EXACT)
    assert power(sound, "R1") == pytest.approx(2000.0, rel=EXACT)
    corroded = series(12.0, 0.0500, 0.0900, inside=0.0100)
    assert corroded.current("R1") == pytest.approx(80.0, rel=EXACT)
    assert drop(corroded, "R1") == pytest.approx(4.00, rel=EXACT)
    assert power(corroded, "R1") == pytest.approx(320.0, rel=EXACT)


def test_battery_being_charged() -> None:
    """UP2 m58453, problem: 10.0 A into 12 V and 0.400 Ω: 16.0 V, 40.0 W of heat.

    The charger, 18 V with 0.2 Ω, is ours: (18 - 12) / (0.2 + 0.4) = 10 A. The book's
    battery takes current as it gives it, so it is a bare source here.
    """
    network = Network(circuit(source("G1", 18.0, 0.2), resistors={}))
    battery = Branch("battery", "", "G1:+", "G1:-", Source(1.0 / 0.400, 12.0))
    point = network.settle(Setup(), Attachment(branches=(battery,)))
    assert point.voltage("G1:+") == pytest.approx(16.0, rel=EXACT)
    heat = power(point, "battery") - 12.0 * point.current("battery")
    assert heat == pytest.approx(40.0, rel=EXACT)


@pytest.mark.parametrize(
    ("emf", "inside", "published"),
    [(13.2, 0.1, 13.187), (13.0, 5.0, 12.381), (11.5, 20.0, 9.583), (7.5, 50.0, 5.000)],
)
def test_battery_under_test(emf: float, inside: float, published: float) -> None:
    """LIEC, batteries, figures of a battery discharging: a test load of 100 Ω."""
    point = series(emf, 100.0, inside=inside)
    assert point.voltage("G1:+") == pytest.approx(published, abs=0.0005)


def test_source_resistance() -> None:
    """NEETS 1, p. 3-46: 15 V open, 1 Ω inside; at 2 A 13 V stand at the terminals.

    Two amperes flow into 13 V / 2 A = 6.5 Ω.
    """
    point = series(15.0, 6.5, inside=1.0)
    assert point.current("R1") == pytest.approx(2.0, rel=EXACT)
    assert point.voltage("G1:+") == pytest.approx(13.0, rel=EXACT)


@pytest.mark.parametrize(
    ("load", "volts", "amps", "watts"),
    [(5.0, 50.0, 10.0, 500.0), (20.0, 80.0, 4.0, 320.0)],
)
def test_power_drawn_from_a_source(
    load: float, volts: float, amps: float, watts: float
) -> None:
    """NEETS 1, p. 3-47, figure 3-36, the rows of 5 and 20 Ω: 100 V with 5 Ω inside."""
    point = series(100.0, load, inside=5.0)
    assert drop(point, "R1") == pytest.approx(volts, rel=EXACT)
    assert point.current("R1") == pytest.approx(amps, rel=EXACT)
    assert power(point, "R1") == pytest.approx(watts, rel=EXACT)


# Series


def test_five_resistors_in_series() -> None:
    """UP2 m58454, example: 9 V; four of 20 Ω and one of 10 Ω: 0.1 A, 0.9 W in all."""
    point = series(9.0, 20.0, 20.0, 20.0, 20.0, 10.0)
    assert point.current("R1") == pytest.approx(0.1, rel=EXACT)
    drops = [drop(point, f"R{k}") for k in range(1, 6)]
    assert drops == pytest.approx([2.0, 2.0, 2.0, 2.0, 1.0], rel=EXACT)
    assert power(point, "G1") == pytest.approx(-0.9, rel=EXACT)


def test_three_resistors_in_series() -> None:
    """NEETS 1, p. 3-28: 90 V over 5, 10 and 15 Ω: 3 A; 15, 30, 45 V; 270 W in all."""
    point = series(90.0, 5.0, 10.0, 15.0)
    names = ("R1", "R2", "R3")
    assert point.current("R2") == pytest.approx(3.0, rel=EXACT)
    drops = [drop(point, name) for name in names]
    assert drops == pytest.approx([15.0, 30.0, 45.0], rel=EXACT)
    powers = [power(point, name) for name in names]
    assert powers == pytest.approx([45.0, 90.0, 135.0], rel=EXACT)
    assert power(point, "G1") == pytest.approx(-270.0, rel=EXACT)


def test_series_of_kiloohms() -> None:
    """LIEC, series and parallel circuits: 9 V; 3, 10, 5 kΩ: 0.5 mA; 1.5, 5, 2.5 V."""
    point = series(9.0, 3e3, 10e3, 5e3)
    assert point.current("R1") == pytest.approx(0.5e-3, rel=EXACT)
    drops = [drop(point, f"R{k}") for k in (1, 2, 3)]
    assert drops == pytest.approx([1.5, 5.0, 2.5], rel=EXACT)


def test_reference_moved() -> None:
    """NEETS 1, p. 3-93: 100 V over four of 50 Ω, read from the end or from point B."""
    point = series(100.0, 50.0, 50.0, 50.0, 50.0)
    places = ("G1:-", "C:1", "B:1", "A:1", "G1:+")
    from_end = [point.voltage(place) for place in places]
    assert from_end == pytest.approx([0.0, 25.0, 50.0, 75.0, 100.0], rel=EXACT)
    moved = [point.voltage(place, "C:1") for place in places]
    assert moved == pytest.approx([-25.0, 0.0, 25.0, 50.0, 75.0], abs=1e-4)


# Parallel


def test_three_resistors_in_parallel() -> None:
    """UP2 m58454, example: 3.00 V on 1, 2 and 2 Ω: 3.00, 1.50, 1.50 A; 18.00 W."""
    point = parallel(3.00, 1.00, 2.00, 2.00)
    currents = [point.current(f"R{k}") for k in (1, 2, 3)]
    assert currents == pytest.approx([3.0, 1.5, 1.5], rel=EXACT)
    assert -power(point, "G1") == pytest.approx(18.0, rel=EXACT)


def test_branches_of_kiloohms() -> None:
    """LIEC, series and parallel circuits: 9 V on 10, 2, 1 kΩ: 0.9, 4.5, 9.0 mA."""
    point = parallel(9.0, 10e3, 2e3, 1e3)
    currents = [point.current(f"R{k}") for k in (1, 2, 3)]
    assert currents == pytest.approx([0.9e-3, 4.5e-3, 9.0e-3], rel=EXACT)


def test_current_divider() -> None:
    """DOE ES-02, p. 39: 24 A divide over 6 and 8 Ω: 13.71 and 10.29 A.

    The 24 A come from 24 MV through 1 MΩ; the pair lowers them by 4 in a million.
    """
    vehicle = circuit(
        source("G1", 24e6, 1e6),
        resistors={"R1": ("G1:+", "G1:-", 6.0), "R2": ("G1:+", "G1:-", 8.0)},
    )
    point = operating_point(vehicle)
    assert point.current("R1") == pytest.approx(13.71, abs=0.005)
    assert point.current("R2") == pytest.approx(10.29, abs=0.005)


# Combined


def test_wire_and_two_loads() -> None:
    """UP2 m58454, example: 12.0 V; a wire of 1.00 Ω before 6.00 beside 13.00 Ω."""
    vehicle = circuit(
        source("G1", 12.0),
        resistors={
            "R1": ("G1:+", "A", 1.00),
            "R2": ("A", "G1:-", 6.00),
            "R3": ("A", "G1:-", 13.00),
        },
    )
    point = operating_point(vehicle)
    assert point.current("R1") == pytest.approx(2.35, abs=0.005)
    assert drop(point, "R1") == pytest.approx(2.35, abs=0.005)
    assert drop(point, "R2") == pytest.approx(9.65, abs=0.005)
    assert point.current("R2") == pytest.approx(1.61, abs=0.005)
    assert power(point, "R2") == pytest.approx(15.5, abs=0.05)


def test_ladder() -> None:
    """UP2 m58454, example: 24 V; 7 Ω before 10 Ω beside 6 and 4 Ω: 2 A, 1 A, 48 W."""
    vehicle = circuit(
        source("G1", 24.0),
        resistors={
            "R1": ("G1:+", "A", 7.0),
            "R2": ("A", "G1:-", 10.0),
            "R3": ("A", "B", 6.0),
            "R4": ("B", "G1:-", 4.0),
        },
    )
    point = operating_point(vehicle)
    assert point.current("R1") == pytest.approx(2.0, rel=EXACT)
    assert point.current("R3") == pytest.approx(1.0, rel=EXACT)
    drops = [drop(point, f"R{k}") for k in (1, 2, 3, 4)]
    assert drops == pytest.approx([14.0, 10.0, 6.0, 4.0], rel=EXACT)
    assert -power(point, "G1") == pytest.approx(48.0, rel=EXACT)


def test_series_and_parallel() -> None:
    """NEETS 1, pp. 3-78 to 3-81: 60 V; 8 Ω before 20 and 30 Ω side by side: 180 W.

    The power of the 20 Ω, not legible in the copy we read, is 36 V times 1.8 A.
    """
    vehicle = circuit(
        source("G1", 60.0),
        resistors={
            "R1": ("G1:+", "A", 8.0),
            "R2": ("A", "G1:-", 20.0),
            "R3": ("A", "G1:-", 30.0),
        },
    )
    point = operating_point(vehicle)
    names = ("R1", "R2", "R3")
    currents = [point.current(name) for name in names]
    assert currents == pytest.approx([3.0, 1.8, 1.2], rel=EXACT)
    drops = [drop(point, name) for name in names]
    assert drops == pytest.approx([24.0, 36.0, 36.0], rel=EXACT)
    powers = [power(point, name) for name in names]
    assert powers == pytest.approx([72.0, 36.0 * 1.8, 43.2], rel=EXACT)
    assert -power(point, "G1") == pytest.approx(180.0, rel=EXACT)


def test_balanced_bridge() -> None:
    """LIEC, DC metering circuits: a bridge is balanced at Ra/Rx = R1/R2, at any supply.

    With 10/20 = 30/60 nothing is left between the middles; with 61 Ω something is.
    """

    def detector(emf: float, last: float) -> float:
        vehicle = circuit(
            source("G1", emf),
            resistors={
                "RA": ("G1:+", "A", 10.0),
                "RX": ("A", "G1:-", 20.0),
                "R1": ("G1:+", "B", 30.0),
                "R2": ("B", "G1:-", last),
            },
        )
        return float(operating_point(vehicle).voltage("A:1", "B:1"))

    # A thousandth of what one ohm off balance, a sixtieth, gives.
    balanced = [detector(emf, 60.0) for emf in (6.0, 12.0)]
    assert balanced == pytest.approx([0.0, 0.0], abs=1e-5)
    assert detector(6.0, 61.0) < -0.01


# Several sources


def test_two_sources_by_kirchhoff() -> None:
    """UP2 m58455, example: 24 V by 3 Ω and 29 V by 7 Ω on 3 Ω: 3.00, 5.00, -2.00 A."""
    vehicle = circuit(
        source("G1", 24.0),
        source("G2", 29.0),
        resistors={
            "R1": ("G1:+", "A", 3.0),
            "R2": ("A", "G1:-", 3.0),
            "R3": ("A", "G2:+", 7.0),
            "N": ("G2:-", "G1:-", NOTHING),
        },
    )
    point = operating_point(vehicle)
    currents = [point.current(f"R{k}") for k in (1, 2, 3)]
    assert currents == pytest.approx([3.0, 5.0, -2.0], rel=EXACT)
    given = -power(point, "G1") - power(point, "G2")
    assert given == pytest.approx(130.0, rel=EXACT)


def test_two_batteries_opposing() -> None:
    """UP2 m58455, example: 24 V against 12 V through 10, 30 and 20 Ω: 0.20 A.

    The snapshot we read prints 10 Ω once for the 20 Ω; the current and the powers it
    prints need 20 Ω.
    """
    vehicle = circuit(
        source("G1", 24.0),
        source("G2", 12.0),
        resistors={
            "R1": ("G1:+", "A", 10.0),
            "R2": ("A", "G2:+", 30.0),
            "R3": ("G2:-", "G1:-", 20.0),
        },
    )
    point = operating_point(vehicle)
    assert point.current("R1") == pytest.approx(0.20, rel=EXACT)
    powers = [power(point, name) for name in ("R1", "R2", "R3", "G2", "G1")]
    assert powers == pytest.approx([0.40, 1.20, 0.80, 2.40, -4.80], rel=EXACT)


@pytest.mark.parametrize("middle", [2.0, math.inf, NOTHING])
def test_three_branches_on_two_sources(middle: float) -> None:
    """LIEC, DC network analysis: 28 V by 4 Ω and 7 V by 1 Ω on 2 Ω.

    Currents 5, 4 and -1 A, 8 V in the middle (Millman); without the 2 Ω 11.2 V
    (Thévenin), and 14 A where it is bridged (Norton).
    """
    vehicle = circuit(
        source("G1", 28.0),
        source("G2", 7.0),
        resistors={
            "R1": ("G1:+", "A", 4.0),
            "R2": ("A", "G1:-", middle),
            "R3": ("G2:+", "A", 1.0),
            "N": ("G2:-", "G1:-", NOTHING),
        },
    )
    point = operating_point(vehicle)
    if middle == 2.0:
        currents = [point.current(f"R{k}") for k in (1, 2, 3)]
        assert currents == pytest.approx([5.0, 4.0, -1.0], rel=EXACT)
        drops = [drop(point, f"R{k}") for k in (1, 2, 3)]
        assert drops == pytest.approx([20.0, 8.0, -1.0], rel=EXACT)
    elif math.isinf(middle):
        assert point.voltage("A:1") == pytest.approx(11.2, rel=EXACT)
    else:
        assert point.current("R2") == pytest.approx(14.0, rel=EXACT)


# Meters


@pytest.mark.parametrize(("place", "other"), [("G1:+", "A:1"), ("A:1", "G1:-")])
def test_voltmeter_loads_what_it_measures(place: str, other: str) -> None:
    """LIEC, DC metering circuits: 24 V on 2 x 250 MΩ; 10 MΩ show 0.8889 V of 12 V."""
    vehicle = circuit(
        source("G1", 24.0),
        resistors={"R1": ("G1:+", "A", 250e6), "R2": ("A", "G1:-", 250e6)},
    )
    network = Network(vehicle)
    point = network.settle(Setup())
    assert point.voltage(place, other) == pytest.approx(12.0, rel=EXACT)
    hookup = Hookup(tool="volts", lead_a=place, lead_b=other)
    reading = measure(network, Setup(), hookup, point).channels["volts"]
    assert reading == pytest.approx(0.8889, abs=0.00005)


@pytest.mark.parametrize(
    ("metered", "bare", "loaded"), [("R1", 0.6667, 0.57143), ("R2", 1.333, 1.000)]
)
def test_ammeter_lowers_what_it_measures(
    metered: str, bare: float, loaded: float
) -> None:
    """LIEC, DC metering circuits: 2 V on 3 and 1.5 Ω, the ammeter having 0.5 Ω."""
    ohms = {"R1": 3.0, "R2": 1.5}
    without = parallel(2.0, *ohms.values())
    assert without.current(metered) == pytest.approx(bare, abs=0.0005)
    ohms[metered] += 0.5
    fitted = parallel(2.0, *ohms.values())
    assert fitted.current(metered) == pytest.approx(loaded, abs=0.000005)


# Faults


@pytest.fixture
def faulty_book() -> Vehicle:
    """NEETS 1, figures 3-61 and 3-62: 120 V; 20 Ω before 100 and 25 Ω side by side."""
    return circuit(
        source("G1", 120.0),
        resistors={
            "R1": ("G1:+", "A", 20.0),
            "R2": ("A", "B", 100.0),
            "R3": ("A", "B", 25.0),
            "R4": ("B", "G1:-", NOTHING),
        },
    )


def test_branch_open(faulty_book: Vehicle) -> None:
    """NEETS 1, p. 3-90: 3 A in order; with R3 open 1 A, as 120 Ω are left."""
    assert operating_point(faulty_book).current("R1") == pytest.approx(3.0, rel=EXACT)
    opened = inject(faulty_book, Fault(kind="open_circuit", site="R3"))
    assert operating_point(opened).current("R1") == pytest.approx(1.0, rel=EXACT)


def test_series_open(faulty_book: Vehicle) -> None:
    """NEETS 1, p. 3-90: with R1 open nothing flows, and all 120 V stand across it."""
    point = operating_point(inject(faulty_book, Fault(kind="open_circuit", site="R1")))
    assert point.current("G1") == 0.0
    assert drop(point, "R1") == pytest.approx(120.0, rel=EXACT)


@pytest.mark.parametrize("shorted", ["R1", "R3"])
def test_shorted(faulty_book: Vehicle, shorted: str) -> None:
    """NEETS 1, p. 3-91: with R1 or R3 shorted 20 Ω are left, and 6 A flow."""
    start, end = {"R1": ("G1:+", "A:1"), "R3": ("A:1", "B:1")}[shorted]
    bridge = Wire(
        name="bridge", start=start, end=end, colour="BK", area_mm2=1e6, length=1.0
    )
    point = operating_point(faulty_book.with_part(bridge))
    assert point.current("G1") == pytest.approx(-6.0, rel=EXACT)
