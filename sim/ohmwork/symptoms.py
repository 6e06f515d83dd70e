"""What the driver and the technician notice before any tool is taken up.

Symptoms are what the faulty vehicle does in the positions a driver uses: how each lamp
burns, which relay pulls in. Nothing here is written by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ohmwork.faults import Fault, inject
from ohmwork.instruments import Outcome, light_word
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.parts import Lamp, Switch
from ohmwork.vehicle import Vehicle, first_upper

State = Mapping[str, str]


def drive(network: Network, states: Sequence[State]) -> list[OperatingPoint]:
    """Return the settled state in each of these positions, in the order of driving.

    A fuse that blows stays blown for those that follow.
    """
    points: list[OperatingPoint] = []
    for state in states:
        start = points[-1] if points else None
        points.append(network.settle(Setup(controls=dict(state)), start=start))
    return points


def symptoms(network: Network, states: Sequence[State]) -> tuple[Outcome, ...]:
    """Return what can be seen and heard in each state."""
    outcomes = []
    for point in drive(network, states):
        channels = {
            f"glow {lamp.name}": point.light(lamp.name)
            for lamp in network.vehicle.of_type(Lamp)
        }
        channels |= {f"pulled_in {name}": row for name, row in point.relays.items()}
        outcomes.append(Outcome(channels=channels, moving=point.buzzing))
    return tuple(outcomes)


def complaint(vehicle: Vehicle, fault: Fault | None, states: Sequence[State]) -> str:
    """Return what the driver says, one sentence for each state that has changed."""
    faulty = vehicle if fault is None else inject(vehicle, fault)
    sentences = []
    for state, sick, well in zip(
        states,
        drive(Network(faulty), states),
        drive(Network(vehicle), states),
        strict=True,
    ):
        changed: dict[str, list[str]] = {}
        same = 0
        for lamp in vehicle.of_type(Lamp):
            now = light_word(float(sick.light(lamp.name)))
            if now == light_word(float(well.light(lamp.name))):
                same += 1
            else:
                changed.setdefault(now, []).append(lamp.label)
        if not changed and not sick.buzzing:
            continue
        says = [f"{_and(lamps)} {word}" for word, lamps in changed.items()]
        if sick.buzzing:
            says.append("something buzzes")
        if same and changed:
            says.append("the rest as usual")
        sentences.append(f"{describe_state(vehicle, state)}: {', '.join(says)}.")
    return " ".join(sentences) or "The driver sees nothing wrong."


def describe_state(vehicle: Vehicle, state: State) -> str:
    """Return control positions in words, such as ``Ignition on, lights dip``."""
    words = []
    for name, called in vehicle.controls.items():
        part = vehicle[name]
        assert isinstance(part, Switch)
        words.append(f"{called.lower()} {state.get(name, part.positions[0])}")
    return first_upper(", ".join(words))


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
