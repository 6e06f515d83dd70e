"""The job card: complaint, every act, conclusion. What a learner hands in.

Plain JSON with a published schema (``jobcard.schema.json``). It belongs to one ticket,
one vehicle file and one model version. It is written whole after every act, and the
state before is kept beside it, so a crash loses nothing.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from ohmwork.errors import JobCardError
from ohmwork.network import MODEL_VERSION
from ohmwork.tickets import Ticket

FORMAT = "ohmwork job card"
VERSION = 1
SUFFIX = ".card.json"
MIME = "application/vnd.ohmwork.jobcard+json"
"""Type under which a card travels inside a notebook's outputs."""

LARGEST = 2_000_000
"""A card above this size is refused unread. [bytes] A long day's work is 0.2 MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCard:
    """What a learner did, in order."""

    exercise: str
    ticket: str
    learner: str
    vehicle: str
    """Digest of the vehicle file."""
    model: int
    actions: tuple[Mapping[str, Any], ...] = ()

    def to_data(self) -> dict[str, Any]:
        """Return the card as plain data."""
        return {
            "format": FORMAT,
            "version": VERSION,
            "exercise": self.exercise,
            "ticket": self.ticket,
            "learner": self.learner,
            "vehicle": self.vehicle,
            "model": self.model,
            "actions": [dict(a) for a in self.actions],
        }

    def check_belongs_to(self, ticket: Ticket) -> None:
        """Raise `JobCardError` unless the card was made on this ticket."""
        for what, own, wanted in (
            ("exercise", self.exercise, ticket.exercise.id),
            ("learner", self.learner, ticket.learner),
            ("vehicle file", self.vehicle[:10], ticket.vehicle.digest[:10]),
            ("model version", self.model, MODEL_VERSION),
            ("ticket", self.ticket, ticket.id),
        ):
            if own != wanted:
                raise JobCardError(
                    f"This job card is for {what} {own}; wanted is {wanted}. "
                    "Hand in the card you made for this job."
                )


def blank_card(ticket: Ticket) -> JobCard:
    """Return the card with which a job starts."""
    return JobCard(
        exercise=ticket.exercise.id,
        ticket=ticket.id,
        learner=ticket.learner,
        vehicle=ticket.vehicle.digest,
        model=MODEL_VERSION,
    )


def read_card(path: Path) -> JobCard:
    """Return the job card in a file.

    Raises
    ------
    JobCardError
        If it is missing, too large, cut short, or not a card this version can read.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise JobCardError(
                f"{path.name} has {size / 1e6:.0f} MB; a job card has at most "
                f"{LARGEST / 1e6:.0f} MB. It cannot be one."
            )
        text = path.read_text(encoding="utf-8")
    except OSError:
        raise JobCardError(
            f"There is no job card {path.name}. It is written beside the notebook as "
            "soon as you do something in the job, and is handed in with the notebook."
        ) from None
    except UnicodeDecodeError:
        raise JobCardError(f"{path.name} is damaged: it is not text.") from None
    return parse_card(text, path.name)


def parse_card(text: str, name: str) -> JobCard:
    """Return the job card that a text holds; see `read_card`."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise JobCardError(f"{name} is damaged or cut short: {error}.") from None
    return card_from_data(data, name)


def card_from_data(data: Any, name: str) -> JobCard:
    """Return the job card that plain data holds; see `read_card`."""
    import jsonschema

    version = data.get("version") if isinstance(data, dict) else None
    if isinstance(version, int) and version != VERSION:
        raise JobCardError(
            f"{name} is a job card of version {version}; this Ohmwork reads version "
            f"{VERSION}. Use the Ohmwork it was made with."
        )
    error = next(jsonschema.Draft202012Validator(card_schema()).iter_errors(data), None)
    if error is not None:
        where = "/".join(str(p) for p in error.absolute_path) or "its top level"
        # The message may begin with all of the data; what is wrong stands at its end.
        what = error.message[-200:]
        raise JobCardError(f"{name} is no valid job card. At {where}: {what}.")
    for number, action in enumerate(data["actions"], 1):
        if action["n"] != number:
            raise JobCardError(f"{name}: act {number} is numbered {action['n']}.")
    keys = ("exercise", "ticket", "learner", "vehicle", "model")
    return JobCard(**{k: data[k] for k in keys}, actions=tuple(data["actions"]))


def card_schema() -> dict[str, Any]:
    """Return the JSON schema of a job card."""
    text = (resources.files("ohmwork") / "jobcard.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def previous_state(path: Path) -> Path:
    """Return where the state before the last act is kept."""
    return path.with_name(path.name.removesuffix(SUFFIX) + ".card.previous.json")


def write_card(path: Path, card: JobCard) -> None:
    """Write a card so that at any moment a whole one is on disk."""
    fresh = path.with_name(path.name + ".new")
    with fresh.open("w", encoding="utf-8") as file:
        json.dump(card.to_data(), file, ensure_ascii=False, indent=1)
        file.flush()
        os.fsync(file.fileno())
    if path.exists():
        shutil.copyfile(path, previous_state(path))
    os.replace(fresh, path)
