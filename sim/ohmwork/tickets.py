"""Sealed faults: one ticket a learner, all in one book beside the notebook.

The book is the same file for everybody. It carries the exercise and the vehicle as they
were when it was issued, so a later version of either never changes a mark. A ticket is
found by a hash of the learner's name; a learner who has none gets one of the pool,
chosen by the name.

Sealing keeps an honest learner from seeing the fault by accident. It deters and no
more: who owns the machine that opens a ticket can always read it.
"""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ohmwork.errors import TicketError
from ohmwork.exercise import Exercise, read_exercise, scope
from ohmwork.faults import Fault
from ohmwork.network import MODEL_VERSION
from ohmwork.vehicle import Vehicle, read_vehicle

FORMAT = "ohmwork ticket book 1"
SUFFIX = ".tickets.json"
_SHAPES = {
    "model": int, "salt": str, "exercise": dict, "vehicle": str, "tickets": dict,
    "pool": list,
}  # fmt: skip
"""Entries of a book's file, to what each is."""

_LENGTH = 160
"""Of every sealed fault before encoding, so that length tells nothing. [bytes]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """One learner's job, opened."""

    id: str
    learner: str
    exercise: Exercise = field(repr=False)
    vehicle: Vehicle = field(repr=False)
    fault: Fault = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """All tickets of one exercise, sealed."""

    exercise: Exercise
    vehicle: Vehicle
    salt: str
    tickets: Mapping[str, str]
    """Hash of a learner's name to sealed fault."""
    pool: tuple[str, ...] = ()

    def to_text(self) -> str:
        """Return the book as it is written to a file."""
        return json.dumps(
            {
                "format": FORMAT,
                "model": MODEL_VERSION,
                "salt": self.salt,
                "exercise": self.exercise.to_data(),
                "vehicle": self.vehicle.text,
                "tickets": dict(sorted(self.tickets.items())),
                "pool": list(self.pool),
            },
            indent=1,
            ensure_ascii=False,
        )

    def has_ticket(self, learner: str) -> bool:
        """Whether a learner has a ticket of their own."""
        return learner_key(self.salt, learner) in self.tickets

    def open(self, learner: str) -> Ticket:
        """Return a learner's ticket.

        Raises
        ------
        TicketError
            If the learner has none and there is no pool, or the seal is broken.
        """
        key = learner_key(self.salt, learner)
        if key in self.tickets:
            return self._ticket(learner, self.tickets[key], key)
        if not self.pool:
            raise TicketError(
                f"There is no ticket for '{learner}' in {self.exercise.id}{SUFFIX}. "
                "Check the name you go by in this course, or ask your instructor."
            )
        return self.open_from_pool(learner, int(key, 16) % len(self.pool))

    def open_from_pool(self, learner: str, number: int) -> Ticket:
        """Return a ticket of the pool."""
        return self._ticket(learner, self.pool[number], "pool")

    def _ticket(self, learner: str, sealed: str, owner: str) -> Ticket:
        digest = hashlib.blake2b(f"{learner}/{sealed}".encode(), digest_size=5)
        return Ticket(
            id=digest.hexdigest(),
            learner=learner,
            exercise=self.exercise,
            vehicle=self.vehicle,
            fault=_unseal(sealed, f"{self.salt}/{self.exercise.id}/{owner}"),
        )

    def seal(self, fault: Fault, learner: str | None = None) -> str:
        """Return a fault sealed for a learner, or for the pool."""
        owner = "pool" if learner is None else learner_key(self.salt, learner)
        return _seal(fault, f"{self.salt}/{self.exercise.id}/{owner}")


def read_book(path: Path) -> Book:
    """Return the ticket book in a file.

    Raises
    ------
    TicketError
        If the file is missing, damaged, or of another model version.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise TicketError(
            f"There is no ticket book {path.name} here. It belongs beside the "
            "notebook: copy it from where you got the notebook, or ask your instructor."
        ) from None
    except (ValueError, RecursionError):
        raise TicketError(
            f"{path.name} is damaged. Copy it again from its source."
        ) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise TicketError(f"{path.name} is no ticket book this version can read.")
    for entry, shape in _SHAPES.items():
        if not isinstance(data.get(entry), shape):
            raise TicketError(
                f"{path.name} is damaged at '{entry}'. Copy it again from its source."
            )
    if data["model"] != MODEL_VERSION:
        raise TicketError(
            f"{path.name} was issued for model version {data['model']}; this is "
            f"version {MODEL_VERSION}. Use the Ohmwork it was issued with."
        )
    exercise = read_exercise(data["exercise"], path.name)
    vehicle = read_vehicle(data["vehicle"], f"vehicle in {path.name}")
    return Book(
        exercise=exercise,
        vehicle=scope(exercise, vehicle),
        salt=data["salt"],
        tickets={key: str(sealed) for key, sealed in data["tickets"].items()},
        pool=tuple(map(str, data["pool"])),
    )


def learner_key(salt: str, learner: str) -> str:
    """Return the hash under which a learner's ticket is filed."""
    digest = hashlib.blake2b(f"{salt}/{learner}".encode(), digest_size=8)
    return digest.hexdigest()


def _stream(key: str) -> bytes:
    seed = hashlib.blake2b(f"ohmwork seal {key}".encode()).digest()
    return hashlib.shake_256(seed).digest(_LENGTH)


def _seal(fault: Fault, key: str) -> str:
    plain = json.dumps(dataclasses.asdict(fault)).encode()
    body = plain.ljust(_LENGTH)
    check = hashlib.blake2b(body, key=key.encode()[:64], digest_size=8).digest()
    hidden = bytes(a ^ b for a, b in zip(body, _stream(key), strict=True))
    return base64.b64encode(check + hidden).decode()


def _unseal(sealed: str, key: str) -> Fault:
    try:
        raw = base64.b64decode(sealed)
    except ValueError:
        raw = b""
    check, hidden = raw[:8], raw[8:].ljust(_LENGTH)
    body = bytes(a ^ b for a, b in zip(hidden[:_LENGTH], _stream(key), strict=True))
    if hashlib.blake2b(body, key=key.encode()[:64], digest_size=8).digest() != check:
        raise TicketError("The ticket's seal is broken. Copy the ticket book again.")
    return Fault(**json.loads(body))
