"""What the driver and the technician notice before any tool is taken up.

Symptoms are what the faulty vehicle does in the positions a driver uses: how each lamp
burns, each motor turns, which relay pulls in. Nothing here is written by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ohmwork.instruments import Outcome, effect_word
from ohmwork.network import Network, OperatingPoint, Setup
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
    """Return what can be seen, heard and felt in each state."""
    outcomes = []
    for point in drive(network, states):
        channels = {
            f"{effect.what} {name}": point.output(name)
            for name, (effect, _) in network.effects.items()
        }
        channels |= {f"pulled_in {name}": row for name, row in point.relays.items()}
        outcomes.append(Outcome(channels=channels, moving=point.buzzing))
    return tuple(outcomes)


def perceived(point: OperatingPoint) -> dict[str, str]:
    """Return the word for what each part does in one circuit, by name of the effect."""
    return {
        name: effect_word(effect.what, float(point.output(name)))
        for name, (effect, _) in point.network.effects.items()
    }


def complaint(vehicle: Vehicle, faulty: Vehicle, states: Sequence[State]) -> str:
    """Return what the driver says: what has changed, and in which states.

    States in which the same has changed share a sentence.
    """
    sentences: dict[str, list[str]] = {}
    for state, sick, well in zip(
        states,
        drive(Network(faulty), states),
        drive(Network(vehicle), states),
        strict=True,
    ):
        sound = perceived(well)
        changed: dict[str, list[str]] = {}
        for name, word in perceived(sick).items():
            if word != sound[name]:
                changed.setdefault(word, []).append(_called(vehicle, name))
        if not changed and not sick.buzzing:
            continue
        says = [f"{_and(names)} {word}" for word, names in changed.items()]
        if sick.buzzing:
            says.append("something buzzes")
        if changed and sum(map(len, changed.values())) < len(sound):
            says.append("the rest as usual")
        told = sentences.setdefault(", ".join(says), [])
        told.append(describe_state(vehicle, state))
    return (
        " ".join(f"{_one_of(told)}: {says}." for says, told in sentences.items())
        or "The driver sees nothing wrong."
    )


def _one_of(states: list[str]) -> str:
    """Return states in words, the first two of many."""
    text = "; ".join([states[0], *(s[0].lower() + s[1:] for s in states[1:2])])
    more = len(states) - 2
    if more < 1:
        return text
    return f"{text}; and in {more} more case{'s' if more > 1 else ''}"


def _called(vehicle: Vehicle, name: str) -> str:
    """Return what a driver calls a part, or one filament of a lamp."""
    part, _, mark = name.partition(":")
    label = vehicle[part].label or part
    return f"{label} ({FILAMENTS.get(mark, mark)})" if mark else label


FILAMENTS = {
    "54": "stop", "58": "tail", "56a": "main beam", "56b": "dip beam",
}  # fmt: skip
"""Terminal mark of DIN 72552 to what a driver calls that filament."""


def describe_state(vehicle: Vehicle, state: State) -> str:
    """Return control positions in words, such as ``Ignition on, lights dip``.

    Where a vehicle has many controls, those at rest go without saying.
    """
    controls = {
        called: (state.get(name, rest), rest)
        for name, called in vehicle.controls.items()
        for rest in [vehicle.control(name).positions[0]]
    }
    moved = {k: v for k, v in controls.items() if v[0] != v[1]}
    if len(controls) <= MOST_CONTROLS_NAMED:
        moved = controls
    words = [f"{called.lower()} {position}" for called, (position, _) in moved.items()]
    return first_upper(", ".join(words)) or "Everything at rest"


MOST_CONTROLS_NAMED = 3
"""Up to which each control is named, moved or not."""


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
