"""What is allowed in a vehicle file, yet most likely not meant.

A vehicle with such a thing can be used: each is told as a sentence, none is an error.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterator, Mapping

from ohmwork.network import Network, Setup
from ohmwork.parts import (
    Alternator,
    Connector,
    Control,
    Engine,
    Fuse,
    GroundPoint,
    Part,
    Potentiometer,
)
from ohmwork.vehicle import Vehicle, first_upper

MOST_COMBINATIONS = 256
"""Of control positions that are tried where a vehicle names no states."""

NEVER = 1e6
"""Rating at which a fuse holds whatever flows. [A]"""


def warnings(vehicle: Vehicle) -> list[str]:
    """Return a sentence for each thing that is most likely not meant.

    These are terminals at which no wire arrives, controls that set nothing, and fuses
    that carry more than their rating in a state the vehicle is driven in.
    """
    return [
        *_unconnected(vehicle),
        *_idle_controls(vehicle),
        *_small_fuses(vehicle),
    ]


def _joined(vehicle: Vehicle) -> frozenset[str]:
    """Return the places at which a wire arrives, or a bolt on the body."""
    return vehicle.wired | {point.body for point in vehicle.of_type(GroundPoint)}


def _unconnected(vehicle: Vehicle) -> Iterator[str]:
    joined = _joined(vehicle)
    for part in vehicle.parts.values():
        # The pins of a fuse or a relay are its own; those of a connector have wires.
        places = part.places if isinstance(part, Connector) else part.sockets
        free = [place for place in places if place not in joined]
        if free:
            called = first_upper(vehicle.describe(part.name))
            yield f"{called}: no wire at {', '.join(free)}."


def _idle_controls(vehicle: Vehicle) -> Iterator[str]:
    joined = _joined(vehicle)
    asked = {name for e in vehicle.of_type(Engine) for name, _ in e.needs}
    asked |= {alternator.engine for alternator in vehicle.of_type(Alternator)}
    for name in vehicle.controls:
        if name not in asked and not _conducts(vehicle.control(name), joined):
            called = first_upper(vehicle.describe(name))
            yield f"{called}: nothing uses it, so setting it changes nothing."


def _conducts(control: Control, joined: frozenset[str]) -> bool:
    """Whether a control's setting can change a current between wires."""
    if isinstance(control, Engine):
        return False
    if isinstance(control, Potentiometer):
        return control.sockets[1] in joined
    return any(
        {f"{control.name}:{contact.start}", f"{control.name}:{contact.end}"} <= joined
        for contact in control.contacts
    )


def _small_fuses(vehicle: Vehicle) -> Iterator[str]:
    fuses = vehicle.of_type(Fuse)
    holding: dict[str, Part] = {
        fuse.name: dataclasses.replace(fuse, rating=NEVER) for fuse in fuses
    }
    network = Network(dataclasses.replace(vehicle, parts={**vehicle.parts, **holding}))
    points = {
        name: network.settle(Setup(controls=dict(controls)))
        for name, controls in _driven(vehicle).items()
    }
    for fuse in fuses:
        currents = {
            name: abs(float(point.current(fuse.name))) for name, point in points.items()
        }
        state = max(currents, key=lambda name: currents[name], default="")
        if state and currents[state] > fuse.rating:
            called = first_upper(vehicle.describe(fuse.name))
            yield (
                f"{called} is {fuse.rating:g} A, and what it feeds takes "
                f"{currents[state]:.3g} A in the state '{state}'."
            )


def _driven(vehicle: Vehicle) -> Mapping[str, Mapping[str, str]]:
    """Return the states of a vehicle; of a board that names none, all there can be.

    There are none where that would be too many to try.
    """
    if vehicle.states:
        return vehicle.states
    positions = [vehicle.control(name).positions for name in vehicle.controls]
    if math.prod(map(len, positions)) > MOST_COMBINATIONS:
        return {}
    settings = (
        dict(zip(vehicle.controls, setting, strict=True))
        for setting in itertools.product(*positions)
    )
    return {", ".join(map(" ".join, s.items())): s for s in settings}
