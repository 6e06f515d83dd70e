"""What stands beside symbols, and how places are said aloud."""

from __future__ import annotations

from ohmwork.drawing.circuit import Circuit, Element, place_name
from ohmwork.drawing.tracks import Plan, Track
from ohmwork.parts import Battery, Connector, Fuse, Lamp, Relay, Switch

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
    if station.kind in ("switch", "relay", "coil", "lamp", "battery"):
        return MINUS if mark == "-" else mark
    return ""


def place_words(circuit: Circuit, place: str) -> str:
    """Return a place as said aloud, such as ``left dip lamp, ground side``."""
    part = circuit.vehicle.part_of(place)
    mark = place.partition(":")[2]
    label = part.label or part.kind
    bare = mark.removesuffix("p") if part.plugs_in else mark
    pin = bare != mark
    if isinstance(part, Connector):
        return f"{label}, way {bare}, {'pin' if pin else 'socket'} side"
    if isinstance(part, (Lamp, Fuse)):
        owner = circuit.owner[f"{part.name}:{bare}"]
        upper = owner.top == f"{part.name}:{bare}"
        if isinstance(part, Lamp):
            return f"{label}, {'supply' if upper else 'ground'} side"
        return f"{label}, {'upper' if upper else 'lower'} {'blade' if pin else 'side'}"
    if isinstance(part, Battery):
        return f"{label}, {'plus' if mark == '+' else 'minus'} post"
    if isinstance(part, Relay):
        return f"{label}, {'pin' if pin else 'terminal'} {bare}"
    return f"{label}, terminal {mark}" if isinstance(part, Switch) else label


def track_words(plan: Plan, track: Track) -> str:
    """Return what stands on a track, from top to bottom."""
    words = [f"rail {track.rail}"] if track.rail else []
    if track.start:
        words.append(f"from {place_name(track.start.place)}")
    for station in plan.stations(track):
        label = plan.circuit.vehicle[station.part].label
        way = f"way {station.name}" if station.kind == "way" else ""
        words.append(" ".join(filter(None, (station.part, way, label))))
    if track.end:
        words.append(f"to {place_name(track.end.place)}")
    elif track.elements[-1].bottom == plan.circuit.ground:
        words.append("rail 31")
    return ", ".join(words)
