"""Many circuits solved at once, compiled, against each of them solved alone."""

import random

import numpy as np
import pytest

from ohmwork.faults import inject, samples, universe
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.reasoning.dictionary import fault_dictionary
from ohmwork.symptoms import State
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

ALIKE = 1e-7
"""Most by which the two ways may differ; each stops at 1e-9. [V]"""

FAULTS, STATES = 24, 3
"""Drawn from each vehicle."""


def states_of(vehicle: Vehicle) -> list[State]:
    """States the vehicle's file names, or all at rest."""
    return list(vehicle.states.values()) or [{}]


@pytest.mark.parametrize("name", vehicle_names())
def test_many_at_once_are_as_each_alone(name: str) -> None:
    """Voltages, what is on, what has blown and what buzzes agree."""
    vehicle = load_vehicle(name)
    draw = random.Random(name)
    known = [fault for some in universe(vehicle) for fault in samples(some)]
    faults = draw.sample(known, min(FAULTS, len(known)))
    states = states_of(vehicle)
    states = draw.sample(states, min(STATES, len(states)))
    variants = [inject(vehicle, fault) for fault in faults for _ in states]
    setups = [Setup(controls=dict(state)) for _ in faults for state in states]
    many = Network(vehicle, variants).settle(setups)

    def row_of(values: object, k: int) -> float:
        return float(np.broadcast_to(np.asarray(values), (len(variants),))[k])

    for k, (variant, setup) in enumerate(zip(variants, setups, strict=True)):
        alone: OperatingPoint = Network(variant).settle(setup)
        for place in vehicle.places:
            apart = abs(row_of(many.voltages[place], k) - alone.voltages[place])
            assert apart < ALIKE, (k, place)
        for trigger, on in alone.triggers.items():
            assert row_of(many.triggers[trigger], k) == on, (k, trigger)
        for fuse, blown in alone.blown_rows.items():
            assert row_of(many.blown_rows[fuse], k) == blown, (k, fuse)
        assert row_of(many.buzzing, k) == alone.buzzing, k


def test_neighbours_make_no_difference() -> None:
    """A fault's voltages are the same to the last bit in blocks of any size."""
    vehicle = load_vehicle("relay_board")
    faults = [fault for some in universe(vehicle) for fault in samples(some)][:40]
    states = states_of(vehicle)
    usual = fault_dictionary(vehicle, faults, states)
    for block in (1, 7 * len(states), 10_000):
        other = fault_dictionary(vehicle, faults, states, block=block)
        assert np.array_equal(usual.voltages, other.voltages)
        assert np.array_equal(usual.buzzing, other.buzzing)
