"""What the hand-worked tables of relays and fuses share.

The tables are meant to be checked with the wiring diagram and a pencil.

Sources. *SHEE*: *Standard Handbook for Electrical Engineers*, 11th ed., p. 22-8, as
cited at second hand: the current of a lamp goes as the power 0.55 of voltage. Lamps:
UN Regulation 37, from memory. Half of a motor's current is friction and half grows with
its speed: assumed.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Protocol, TypeAlias

import pytest

import ohmwork
from ohmwork.faults import Fault
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import FuseLink

State: TypeAlias = dict[str, str]
"""Controls and their positions; all others rest."""

VEHICLES = {
    "van": ohmwork.inject(
        ohmwork.load_vehicle("training_van"), Fault(kind="open_inside", site="B1")
    ),
    "truck": ohmwork.load_vehicle("training_truck"),
}
"""The coolant sensor of the van is open, so that its engine warning lamp burns too."""

EVERYTHING = {
    "van": {
        "S1": "on",
        "D1": "fast",
        "S2": "dip",
        "S3": "main",
        "S4": "pressed",
        "S5": "reverse",
        "S6": "left",
        "S8": "on",
        "S9": "pressed",
        "S10": "fast",
        "S11": "pressed",
        "S12": "4",
        "S13": "on",
        "S14": "up",
        "S15": "lock",
        "S17": "open",
        "S19": "open",
        "B2": "full",
        "B3": "hot",
        "B5": "hot",
    },
    "truck": {
        "S2": "drive",
        "D1": "fast",
        "S3": "head",
        "S5": "pressed",
        "S6": "left",
        "S7": "reverse",
        "S8": "fast",
        "S9": "3",
        "S10": "on",
        "S11": "pressed",
        "S12": "on",
        "B1": "full",
    },
}
"""As much as can be on at once. The rows change what they need."""

ON, DIP, START = {"S1": "on"}, {"S1": "on", "S2": "dip"}, {"S1": "start"}
"""Of the van."""

DRIVE, HEAD = {"S2": "drive"}, {"S2": "drive", "S3": "head"}
"""Of the truck."""


# What loads take, in amperes, at the voltage on their own terminals
# ------------------------------------------------------------------

H1, H7 = (68.0, 13.2), (58.0, 13.2)
P21W, TAIL, W5W, R10W, T4W = (
    (26.5, 13.5), (6.6, 13.5), (5.5, 13.5), (11.0, 13.5), (4.4, 13.5),
)  # fmt: skip
H4_MAIN_24, H4_DIP_24, P21W_24, TAIL_24, W5W_24, T4W_24 = (
    (85.0, 28.0), (80.0, 28.0), (29.7, 28.0), (11.0, 28.0), (7.7, 28.0), (5.5, 28.0),
)  # fmt: skip
"""Power [W] at test voltage [V]; TAIL is the second filament of P21/5W. A C5W takes as
much as a W5W; so does an R5W."""


def lamp(kind: tuple[float, float], volts: float) -> float:
    """Return what a filament takes, as the power 0.55 of voltage, *SHEE*. [A]"""
    watts, test_volts = kind
    return float(watts / test_volts * (volts / test_volts) ** 0.55)


def ohmic(amps: float, rated_volts: float, volts: float) -> float:
    """Return what a heater, a horn or a valve takes: as voltage. [A]"""
    return amps * volts / rated_volts


def motor(amps: float, rated_volts: float, volts: float) -> float:
    """Return what a motor takes: half stays, half goes with voltage. [A]"""
    return amps * (0.5 + 0.5 * volts / rated_volts)


def led(amps: float, rated_volts: float, forward: float, volts: float) -> float:
    """Return what LEDs take: as the voltage that their resistor is left with. [A]"""
    return amps * (volts - forward) / (rated_volts - forward)


COIL, COIL_R = 85.0, 75.6
"""A 12 V coil, alone or with a diode, and with 680 Ω across it: 1/(1/85 + 1/680). [Ω]
"""

COIL_24, COIL_24_R = 350.0, 293.0
"""A 24 V coil, and with 1.8 kΩ across it: 1/(1/350 + 1/1800). [Ω]"""


# How the tables are tried
# ------------------------


class Row(Protocol):
    """A row of a table."""

    @property
    def name(self) -> str:
        """The part that it is about."""


def each(table: Mapping[str, Sequence[Row]]) -> pytest.MarkDecorator:
    """Try a test on every row of a table."""
    rows = [(v, row) for v, rows in table.items() for row in rows]
    return pytest.mark.parametrize(
        ("vehicle", "row"), rows, ids=[f"{v} {row.name}" for v, row in rows]
    )


@lru_cache(maxsize=len(VEHICLES))
def network(vehicle: str) -> Network:
    """Return the sound vehicle, ready to be solved."""
    return Network(VEHICLES[vehicle])


def sound(vehicle: str, state: State) -> OperatingPoint:
    """Return the sound vehicle in a state."""
    return network(vehicle).settle(Setup(controls=state))


def without(vehicle: str, part: str, state: State) -> OperatingPoint:
    """Return a state with one part pulled out, or broken if it cannot be pulled."""
    if VEHICLES[vehicle][part].plugs_in:
        apart = frozenset({part})
        return network(vehicle).settle(Setup(controls=state, apart=apart))
    is_link = isinstance(VEHICLES[vehicle][part], FuseLink)
    return faulty(vehicle, "fuse_blown" if is_link else "open_circuit", part, state)


def faulty(vehicle: str, kind: str, site: str, state: State) -> OperatingPoint:
    """Return a state of the vehicle with a fault."""
    variant = ohmwork.inject(VEHICLES[vehicle], Fault(kind=kind, site=site))
    return ohmwork.operating_point(variant, controls=state)


def at_work(point: OperatingPoint) -> set[str]:
    """Return what works, be it weakly; a wiper at park does not work."""
    shares = {name: abs(point.output(name)) for name in point.network.effects}
    return {n for n, share in shares.items() if share > 0.1 and not n.endswith(":arm")}


def assert_stops(vehicle: str, state: State, after: OperatingPoint, stops: str) -> None:
    """Assert that just these have stopped, quite, and that all else goes on."""
    before, dead = at_work(sound(vehicle, state)), set(stops.split())
    assert dead <= before
    assert at_work(after) == before - dead
    assert all(abs(after.output(name)) < 0.05 for name in dead)
