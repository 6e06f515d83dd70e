"""What stands beside symbols, and how places are said aloud."""

from __future__ import annotations

from ohmwork.drawing.circuit import INNER, Circuit, Element, place_name
from ohmwork.drawing.tracks import Plan, Track
from ohmwork.parts import (
    Battery,
    Body,
    Connector,
    Fuse,
    GroundPoint,
    Lamp,
    Load,
    Module,
    Relay,
    Splice,
)

DOES = {
    "low_reference": "low ref",
    "input": "in",
    "high_side": "high side",
    "low_side": "low side",
}
"""What a pin of a module does, as printed in its box."""

MINUS = "\N{MINUS SIGN}"


def short_label(label: str) -> str:
    """Return a label without its last word, which the symbol says already."""
    words = label.split()
    return " ".join(words[:-1] if len(words) > 1 else words)


def two_lines(text: str, longest: int = 7) -> list[str]:
    """Return a text in at most two lines, as narrow as its words allow."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= longest:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines if len(lines) <= 2 else two_lines(text, longest + 1)


def terminal_mark(station: Element, place: str) -> str:
    """Return what is printed beside a terminal: DIN 72552, or a connector's way."""
    mark = place.partition(":")[2]
    if station.kind == "way":
        return "" if mark.endswith("p") else place
    silent = ("fuse", "breaker", "splice", "ground", "bolt")
    if station.kind in silent or mark.endswith(INNER):
        return ""
    return mark.replace("-", MINUS)


def pin_words(module: Module, mark: str) -> str:
    """Return what a terminal of a module is for, as printed in its box."""
    own = {module.supply: "supply", module.ground: "ground", module.wake: "wake"}
    if mark in own:
        return own[mark]
    pin = next(p for p in module.pin_table if p.name == mark)
    return f"{pin.voltage:g} V" if pin.does == "reference" else DOES[pin.does]


def place_words(circuit: Circuit, place: str) -> str:
    """Return a place as said aloud, such as ``left dip lamp, ground side``."""
    part = circuit.vehicle.part_of(place)
    mark = place.partition(":")[2]
    label = part.label or part.kind
    bare = mark.removesuffix("p") if part.plugs_in else mark
    pin = bare != mark
    if isinstance(part, Connector):
        return f"{label}, way {bare}, {'pin' if pin else 'socket'} side"
    if isinstance(part, (Lamp, Load)):
        is_supply = mark == part.supply
        return f"{label}, {'supply' if is_supply else 'ground'} side"
    if isinstance(part, Fuse):
        owner = circuit.owner[f"{part.name}:{bare}"]
        upper = owner.top == f"{part.name}:{bare}"
        return f"{label}, {'upper' if upper else 'lower'} {'blade' if pin else 'side'}"
    if isinstance(part, Module):
        return f"{label}, terminal {mark}, {pin_words(part, mark)}"
    if isinstance(part, Battery):
        return f"{label}, {'plus' if mark == '+' else 'minus'} post"
    if isinstance(part, Relay):
        return f"{label}, {'pin' if pin else 'terminal'} {bare}"
    if isinstance(part, (Splice, Body, GroundPoint)):
        return label
    return f"{label}, terminal {mark}"


def track_words(plan: Plan, track: Track) -> str:
    """Return what stands on a track, from top to bottom."""
    words = [f"rail {track.rail}"] if track.rail else []
    if track.start:
        words.append(f"from {place_name(track.start.place)}")
    for station in plan.stations(track):
        label = plan.circuit.vehicle[station.part].label
        way = f"way {station.name}" if station.kind == "way" else ""
        way = f"terminal {station.name}" if station.is_pin else way
        words.append(" ".join(filter(None, (station.part, way, label))))
    if track.end:
        words.append(f"to {place_name(track.end.place)}")
    elif track.elements[-1].bottom == plan.circuit.ground:
        words.append("rail 31")
    return ", ".join(words)
