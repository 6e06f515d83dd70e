"""Which learner gets which fault: drawing from an exercise's pool and sealing.

No two learners share a fault while the pool allows it: each entry is used once before
any is used twice, and then with another value of its range. Faults to practise on come
in the exercise's own order, the plainest first.
"""

from __future__ import annotations

import random
import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path

from ohmwork.errors import TicketError
from ohmwork.exercise import (
    Exercise,
    check_exercise,
    load_exercise,
    scope,
    vehicle_of,
)
from ohmwork.faults import Fault, check
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork.tickets import Book, learner_key
from ohmwork.vehicle import Vehicle


def issue_book(
    exercise: Exercise,
    vehicle: Vehicle,
    roster: Sequence[str] = (),
    *,
    chosen: Mapping[str, Fault] | None = None,
    pool_size: int = 0,
    seed: int | None = None,
) -> Book:
    """Return a ticket book with a sealed fault for each learner.

    Parameters
    ----------
    exercise : with the pool to draw from.
    vehicle : the one the exercise names.
    roster : names of the learners.
    chosen : fault for single learners, instead of a drawn one.
    pool_size : sealed faults for learners who are not on the roster.
    seed : for the same draw again; by default each draw is another.

    Raises
    ------
    TicketError
        If the exercise has no pool.
    VehicleError, UnknownNameError
        If the exercise or a chosen fault does not fit the vehicle.
    """
    if not exercise.pool:
        raise TicketError(f"{exercise.id} has no pool to draw faults from.")
    vehicle = scope(exercise, vehicle)
    check_exercise(exercise, vehicle)
    for fault in (chosen or {}).values():
        check(vehicle, fault)
    draw = random.Random(seed)
    salt = f"{draw.getrandbits(64):016x}" if seed is not None else secrets.token_hex(8)
    book = Book(exercise=exercise, vehicle=vehicle, salt=salt, tickets={})
    drawn = _drawn(exercise, len(roster) + pool_size, draw)
    faults = dict(zip(roster, drawn, strict=False)) | dict(chosen or {})
    return Book(
        exercise=exercise,
        vehicle=vehicle,
        salt=salt,
        tickets={
            learner_key(salt, learner): book.seal(fault, learner)
            for learner, fault in faults.items()
        },
        pool=tuple(book.seal(fault) for fault in drawn[len(roster) :]),
    )


def pool_books(folder: Path, *, size: int, seed: int | None = None) -> dict[Path, Book]:
    """Return a book with a pool and no roster for each exercise of a lesson's folder.

    Parameters
    ----------
    folder : of the lesson.
    size : faults in each book.
    seed : for the same draw again.
    """
    return {
        folder / f"{name}{BOOK_SUFFIX}": issue_book(
            exercise, vehicle, pool_size=size, seed=seed
        )
        for name, (exercise, vehicle) in exercises_in(folder).items()
    }


def _drawn(exercise: Exercise, number: int, draw: random.Random) -> list[Fault]:
    """Return faults, each entry of the pool once before any twice."""
    faults: list[Fault] = []
    while len(faults) < number:
        entries = list(exercise.pool)
        if not exercise.practice:
            draw.shuffle(entries)
        faults += [entry.at(draw.random()) for entry in entries]
    return faults[:number]


def exercises_in(folder: Path) -> dict[str, tuple[Exercise, Vehicle]]:
    """Return the exercises of a lesson's folder, each with its vehicle or circuit."""
    found = {}
    for path in sorted(folder.glob("*.exercise.yaml")):
        exercise = load_exercise(path)
        found[exercise.id] = (exercise, scope(exercise, vehicle_of(exercise, folder)))
    return found
