"""A job in front of a learner: the ticket opened, the bench set up, the card kept.

`start_job` and `start_practice` are what a notebook calls. Calling them again goes on
where the work stopped.
"""

from __future__ import annotations

import dataclasses
import getpass
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

from ohmwork.bench import Bench
from ohmwork.errors import JobCardError, NotPossibleError, OhmworkError
from ohmwork.exercise import Exercise
from ohmwork.faults import inject
from ohmwork.jobcard import (
    SUFFIX,
    JobCard,
    blank_card,
    previous_state,
    read_card,
    write_card,
)
from ohmwork.questions import find_question
from ohmwork.symptoms import complaint
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork.tickets import Book, Ticket, read_book

LEARNER_FILE = "learner.txt"
MARKS_SUFFIX = ".marks.json"
"""Of the file with the best marks that an exercise for practice has had."""


class Job:
    """One ticket being worked on.

    Parameters
    ----------
    ticket : opened.
    path : where the job card is kept.
    """

    def __init__(self, ticket: Ticket, path: Path) -> None:
        self._ticket = ticket
        self.path = path
        self._waits, self._is_saved = False, True
        self.message = ""
        """What the learner should know about the state of the card."""
        faulty = inject(ticket.vehicle, ticket.fault)
        self.complaint = complaint(ticket.vehicle, faulty, ticket.exercise.states)
        self.bench = self._take_up()
        self.bench.on_act = self._save
        if not path.exists():
            self._save()

    def __repr__(self) -> str:
        """Return what a person could see, nothing more."""
        return f"<Job {self.exercise.id} of {self.learner}: {self.bench!r}>"

    @property
    def exercise(self) -> Exercise:
        """What the job is about."""
        return self._ticket.exercise

    @property
    def learner(self) -> str:
        """Who works on it."""
        return self._ticket.learner

    @property
    def ticket_number(self) -> str:
        """The number to quote when asking an instructor."""
        return self._ticket.id

    def card(self) -> JobCard:
        """Return the job card as it stands."""
        blank = blank_card(self._ticket)
        return dataclasses.replace(blank, actions=tuple(self.bench.actions))

    def _save(self) -> None:
        self._is_saved = False
        if not self._waits:
            write_card(self.path, self.card())
            self._is_saved = True

    @contextmanager
    def saved_at_the_end(self) -> Iterator[None]:
        """Save once for several acts, when all is done or something has failed."""
        self._waits = True
        try:
            yield
        finally:
            self._waits = False
            if not self._is_saved:
                self._save()

    def _take_up(self) -> Bench:
        """Return the bench with everything done that the card tells."""
        ticket = self._ticket
        actions: tuple[Any, ...] = ()
        if self.path.exists():
            actions = self._read_own_card().actions
        return Bench.replay(
            ticket.vehicle,
            actions,
            ticket.fault,
            driven=ticket.exercise.states,
            tools=ticket.exercise.tools,
        )

    def _read_own_card(self) -> JobCard:
        """Return the card, or the state before if the file is damaged."""
        try:
            card = read_card(self.path)
            card.check_belongs_to(self._ticket)
        except JobCardError as error:
            previous = previous_state(self.path)
            if not previous.exists():
                raise
            card = read_card(previous)
            card.check_belongs_to(self._ticket)
            damaged = self.path.with_name(f"{self.exercise.id}.card.damaged.json")
            os.replace(self.path, damaged)
            write_card(self.path, card)
            self.message = (
                f"{error} The work goes on from its last good state, "
                f"{len(card.actions)} acts; the damaged file is kept as {damaged.name}."
            )
        return card

    # -- hints --

    @property
    def hints_shown(self) -> tuple[str, ...]:
        """Texts of the hints that were bought."""
        bought = {a["number"] for a in self.bench.actions if a["do"] == "hint"}
        return tuple(
            h.text for n, h in enumerate(self.exercise.hints, 1) if n in bought
        )

    @property
    def next_hint_price(self) -> int | None:
        """What the next hint costs, or nothing if there is none. [points]"""
        shown = len(self.hints_shown)
        hints = self.exercise.hints
        return hints[shown].price if shown < len(hints) else None

    def show_hint(self) -> str:
        """Buy the next hint and return it."""
        number = len(self.hints_shown) + 1
        if number > len(self.exercise.hints):
            raise NotPossibleError("There are no more hints.")
        self.bench.hint(number)
        return self.exercise.hints[number - 1].text

    # -- the end --

    def hand_in(self) -> None:
        """Close the job; the card is then complete."""
        self.bench.hand_in()

    def marks(self) -> Any:
        """Return the marks of a practice job that is handed in.

        Raises
        ------
        NotPossibleError
            Before handing in, and on a marked ticket.
        """
        if not self.exercise.practice:
            raise NotPossibleError("Handed in. Marks come from your instructor.")
        if not self.bench.is_handed_in:
            raise NotPossibleError("Hand in first; then the marks can be shown.")
        (marker,) = entry_points(group="ohmwork.markers", name="rubric")
        marks = marker.load()(self.card(), self._ticket)
        self._keep_best(marks.points, marks.maximum)
        return marks

    def _keep_best(self, points: float, maximum: float) -> None:
        """Keep the marks of a practice job for the contents, if none were better."""
        path = self.path.with_name(f"{self.exercise.id}{MARKS_SUFFIX}")
        try:
            best = float(json.loads(path.read_text(encoding="utf-8"))["points"])
        except (OSError, ValueError, LookupError, TypeError):
            best = -1.0
        if points > best:
            text = json.dumps({"points": points, "maximum": maximum})
            path.write_text(text, encoding="utf-8")

    def another(self) -> Job:
        """Put this practice job away and return one with another fault."""
        if not self.exercise.practice:
            raise NotPossibleError("A marked fault is yours alone; there is no other.")
        return start_practice(self.exercise.id, new=True, folder=self.path.parent)

    def workbench(self) -> None:
        """Show the workbench in the notebook."""
        from ohmwork.workbench import show

        show(self)

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        """Put the card into the notebook for those who work by calls."""
        from ohmwork.workbench.page import card_bundle

        return card_bundle(self)


def whoami(folder: Path) -> str:
    """Return the learner's name: from ``learner.txt`` or the login."""
    file = folder / LEARNER_FILE
    if file.exists():
        return file.read_text(encoding="utf-8").strip()
    return os.environ.get("JUPYTERHUB_USER") or getpass.getuser()


def start_job(
    exercise: str, *, learner: str | None = None, folder: Path | str = "."
) -> Job:
    """Open the learner's ticket of an exercise, or go on with it.

    Parameters
    ----------
    exercise : its id; the ticket book ``<id>.tickets.json`` lies in `folder`.
    learner : name in the course; by default from ``learner.txt`` or the login.
    folder : where the notebook is.

    Raises
    ------
    TicketError
        If there is no book, or no ticket for this learner.
    JobCardError
        If there is a card, but of another learner, vehicle or version.
    """
    folder = Path(folder)
    book = read_book(folder / f"{exercise}{BOOK_SUFFIX}")
    ticket = book.open(learner or whoami(folder))
    return Job(ticket, folder / f"{exercise}{SUFFIX}")


def start_practice(
    exercise: str, *, new: bool = False, folder: Path | str = "."
) -> Job:
    """Open the first practice fault, or go on with one; ``new`` brings the next.

    Parameters
    ----------
    exercise : its id; the ticket book ``<id>.tickets.json`` lies in `folder`.
    new : put the present one away and take the next of the pool.
    folder : where the notebook is.
    """
    folder = Path(folder)
    book = read_book(folder / f"{exercise}{BOOK_SUFFIX}")
    path = folder / f"{exercise}{SUFFIX}"
    if not path.exists():
        number = 0
    else:
        number = int(read_card(path).learner.partition(" ")[2])
        if new:
            number = (number + 1) % len(book.pool)
            path.unlink()
            previous_state(path).unlink(missing_ok=True)
    return Job(book.open_from_pool(f"practice {number}", number), path)


def open_workbench(exercise: str, *, folder: Path | str = ".") -> None:
    """Show the workbench of an exercise in the notebook: the one call of a lesson.

    Work that was begun goes on. Where the login has no ticket, the learner is asked for
    the name they go by. What is amiss is said on the page, without a traceback.

    Parameters
    ----------
    exercise : its id; the ticket book ``<id>.tickets.json`` lies in `folder`.
    folder : where the notebook is.
    """
    from ohmwork import workbench

    folder = Path(folder)
    try:
        book = read_book(folder / f"{exercise}{BOOK_SUFFIX}")
        if book.exercise.practice:
            job = start_practice(exercise, folder=folder)
        elif not book.pool and not book.has_ticket(whoami(folder)):
            workbench.ask_name(
                f"There is no ticket for '{whoami(folder)}' here. "
                "Which name do you go by in this course?",
                partial(_sign_in, book, folder),
            )
            return
        else:
            job = start_job(exercise, folder=folder)
    except OhmworkError as error:
        workbench.say(str(error))
        return
    job.workbench()


def ask(question: str, *, folder: Path | str = ".") -> None:
    """Show a question of the lesson in the notebook, with what was answered so far.

    Parameters
    ----------
    question : its id, in a file ``*.questions.yaml`` beside the notebook.
    folder : where the notebook is.
    """
    from ohmwork import workbench

    folder = Path(folder)
    try:
        workbench.ask_question(find_question(question, folder), folder)
    except OhmworkError as error:
        workbench.say(str(error))


def _sign_in(book: Book, folder: Path, name: str) -> str:
    """Keep the learner's name beside the notebook, if there is a ticket for it."""
    if not book.has_ticket(name):
        return f"There is no ticket for '{name}' either. Ask your instructor."
    (folder / LEARNER_FILE).write_text(name + "\n", encoding="utf-8")
    return f"Welcome, {name}. Run this cell again: click in it, press Shift and Enter."
