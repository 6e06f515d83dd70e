"""What a workbench must know of the job that it shows."""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, Protocol

from ohmwork.bench import Bench
from ohmwork.exercise import Exercise
from ohmwork.jobcard import JobCard


class Work(Protocol):
    """A job as the workbench sees it; `ohmwork.job.Job` is one."""

    bench: Bench
    path: Path
    complaint: str
    message: str

    @property
    def exercise(self) -> Exercise:
        """What the job is about."""

    @property
    def learner(self) -> str:
        """Who works on it."""

    @property
    def ticket_number(self) -> str:
        """The number to quote when asking an instructor."""

    @property
    def hints_shown(self) -> tuple[str, ...]:
        """Texts of the hints that were bought."""

    @property
    def next_hint_price(self) -> int | None:
        """What the next hint costs, or nothing if there is none. [points]"""

    def saved_at_the_end(self) -> AbstractContextManager[None]:
        """Save once for several acts."""

    def show_hint(self) -> str:
        """Buy the next hint and return it."""

    def hand_in(self) -> None:
        """Close the job; the card is then complete."""

    def marks(self) -> Any:
        """Return the marks, or raise with the reason why there are none."""

    def another(self) -> Work:
        """Put a practice job away and return one with another fault."""

    def card(self) -> JobCard:
        """Return the job card as it stands."""
