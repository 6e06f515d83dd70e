"""Vehicles of any size: copies of the lighting board behind one battery."""

import dataclasses
from itertools import product

import ohmwork
from ohmwork.parts import Battery, Fuse, Part, Wire
from ohmwork.symptoms import State
from ohmwork.vehicle import Vehicle

SHARED = frozenset({"G1", "F1", "Body", "W1", "W32"})
"""Battery, main fuse and body, and what joins them, which all copies share."""


def repeated(copies: int) -> Vehicle:
    """Return a vehicle of several boards, its battery and main feed made for them.

    Its states are all positions of the board's controls, the same in every copy.
    """
    board = ohmwork.load_vehicle("lighting_board")
    parts: dict[str, Part] = {}
    for name, part in board.parts.items():
        if name in SHARED:
            parts[name] = _enlarged(part, copies)
    for number in range(copies):
        for name, part in board.parts.items():
            if name not in SHARED:
                parts[_renamed(name, number)] = _copy(part, number)
    return dataclasses.replace(
        board,
        parts=parts,
        controls={
            _renamed(name, number): f"{text} {number}"
            for number in range(copies)
            for name, text in board.controls.items()
        },
        states=_states(board, copies),
    )


def _states(board: Vehicle, copies: int) -> dict[str, State]:
    """Return every combination of the controls' positions."""
    return {
        " ".join(positions): {
            _renamed(name, number): position
            for number in range(copies)
            for name, position in zip(board.controls, positions, strict=True)
        }
        for positions in product(*(board.control(c).positions for c in board.controls))
    }


def _renamed(place: str, number: int) -> str:
    """Return what a part or a place is called in one of the copies."""
    name = place.partition(":")[0]
    return place if name in SHARED else f"c{number}-{place}"


def _copy(part: Part, number: int) -> Part:
    """Return a part of one of the copies."""
    places = {
        field.name: _renamed(getattr(part, field.name), number)
        for field in dataclasses.fields(part)
        if field.name in ("name", "start", "end", "body")
    }
    return dataclasses.replace(part, **places)


def _enlarged(part: Part, copies: int) -> Part:
    """Return a shared part that carries the current of all copies as it did of one."""
    match part:
        case Battery():
            ohms = part.internal_resistance / copies
            return dataclasses.replace(part, internal_resistance=ohms)
        case Wire():
            return dataclasses.replace(part, area_mm2=part.area_mm2 * copies)
        case Fuse():
            return dataclasses.replace(
                part,
                rating=part.rating * copies,
                resistance=part.resistance / copies,
                seat_resistance=part.seat_resistance / copies,
            )
        case _:
            return part
