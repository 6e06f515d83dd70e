"""Errors a learner or a teacher may meet, each saying what to do next.

OhmworkError
├── QuantityError          a value without a unit, or with the wrong one   (ValueError)
├── VehicleError           a vehicle file the model cannot hold            (ValueError)
├── UnknownNameError       no part, place, control or tool of this name    (KeyError)
├── NotPossibleError       an act a real vehicle would not allow either    (ValueError)
├── JobCardError           a job card that is damaged or not this job's    (ValueError)
└── TicketError            a ticket that is missing, damaged or foreign    (ValueError)
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class OhmworkError(Exception):
    """Any error of this project; its text is fit to be shown as it stands."""

    def _render_traceback_(self) -> list[str]:
        """Return what a notebook shows of it: the sentence, no traceback."""
        return [str(self)]


class QuantityError(OhmworkError, ValueError):
    """A value has no unit, a wrong one, or is outside what is allowed."""


class VehicleError(OhmworkError, ValueError):
    """A vehicle file says something the model cannot hold."""


class UnknownNameError(OhmworkError, KeyError):
    """No part, place, control, tool or exercise has the name given."""

    def __str__(self) -> str:
        """Return the message itself; ``KeyError`` would show it in quotes."""
        return str(self.args[0])


class NotPossibleError(OhmworkError, ValueError):
    """The act is impossible on a real vehicle in this state."""


class JobCardError(OhmworkError, ValueError):
    """A job card cannot be read, or does not belong to this job."""


class TicketError(OhmworkError, ValueError):
    """A ticket cannot be opened, or does not belong to this learner."""


def unknown_name(what: str, name: str, allowed: Iterable[str]) -> UnknownNameError:
    """Return the error for a name that does not exist, with the nearest that do."""
    names = sorted(allowed)
    near = difflib.get_close_matches(name, names, n=3, cutoff=0.5)
    if near:
        hint = "Did you mean " + " or ".join(f"'{n}'" for n in near) + "?"
    elif len(names) <= 12:
        hint = "There is " + ", ".join(names) + "."
    else:
        hint = f"There are {len(names)}, from {names[0]} to {names[-1]}."
    return UnknownNameError(f"No {what} '{name}'. {hint}")
