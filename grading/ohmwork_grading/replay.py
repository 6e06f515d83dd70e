"""What really happened: a job card done again on the sealed fault.

Every act is repeated, so a reading on the card counts only if the vehicle gives it. The
same acts are then done on every fault that fits the complaint, and each noted reading
rules out those that would have shown something else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ohmwork.bench import SECONDS, Bench, Note, Rig, Situation, true_state
from ohmwork.errors import JobCardError, OhmworkError
from ohmwork.faults import inject
from ohmwork.instruments import Outcome
from ohmwork.jobcard import JobCard
from ohmwork.network import Network, Setup
from ohmwork.reasoning import Yardstick, casebook
from ohmwork.symptoms import State, drive, perceived
from ohmwork.tickets import Ticket

Answer = tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one noted reading settled."""

    note: Note
    ruled_out: frozenset[Answer]


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """A job as it really went."""

    ticket: Ticket
    bench: Bench
    yardstick: Yardstick
    findings: tuple[Finding, ...]
    """For the notes made before the first repair, in order."""
    left: frozenset[Answer]
    """Answers that those notes leave standing."""
    confirmed: float
    """Share of the faults that do *not* fit the complaint which the notes alone rule
    out. [-] It tells whether the readings speak of the right side at all."""
    seconds: int
    """Time until the conclusion. [s]"""
    hints: tuple[int, ...]
    """Numbers of the hints that were shown."""
    needless_repairs: tuple[str, ...]
    """Sites that were repaired though nothing was wrong there."""
    is_cured: bool
    proof: Note | None
    """A reading noted after the last repair that can prove it."""

    @property
    def possible(self) -> frozenset[Answer]:
        """Answers that fit the complaint."""
        return frozenset(self.yardstick.candidates.answers) | self.yardstick.group


def replay(card: JobCard, ticket: Ticket) -> Replay:
    """Return what a card's acts did on the ticket's vehicle.

    Raises
    ------
    JobCardError
        If the card is not of this ticket, or holds what this vehicle does not give.
    """
    card.check_belongs_to(ticket)
    exercise = ticket.exercise
    bench = Bench(
        ticket.vehicle, ticket.fault, driven=exercise.states, tools=exercise.tools
    )
    course: list[Situation] = []
    needless: list[str] = []
    concluded_at = 0
    for action in card.actions:
        number, do = action["n"], action["do"]
        if do == "repair" and not _needed(bench, ticket, action["site"]):
            needless.append(action["site"])
        if do == "conclude":
            concluded_at = number
        _perform(bench, action)
        course.append(bench.situation)
    stick = casebook(ticket.vehicle, exercise).yardstick(ticket.fault)
    locked_at = next(
        (a["n"] for a in card.actions if a["do"] == "repair"), len(course) + 1
    )
    evidence = [note for note in bench.notes if note.action < locked_at]
    findings, left, confirmed = _weigh(ticket, stick, course, evidence)
    is_cured = _is_cured(bench, exercise.states)
    return Replay(
        ticket=ticket,
        bench=bench,
        yardstick=stick,
        findings=findings,
        left=left,
        confirmed=confirmed,
        seconds=sum(SECONDS.get(a["do"], 0) for a in card.actions[:concluded_at]),
        hints=tuple({a["number"]: None for a in card.actions if a["do"] == "hint"}),
        needless_repairs=tuple(needless),
        is_cured=is_cured,
        proof=bench.proof(exercise.states) if is_cured else None,
    )


def _perform(bench: Bench, action: Mapping[str, Any]) -> None:
    """Do one act of a card; what it showed then must be what it shows now."""
    try:
        bench.perform(action)
    except OhmworkError as error:
        raise JobCardError(
            f"Act {action['n']} of the job card is not possible here: {error}"
        ) from None
    if action["do"] != "read":
        return
    shown = str(bench.actions[-1]["shown"])
    if not _same_display(str(action["shown"]), shown):
        raise JobCardError(
            f"Act {action['n']} of the job card shows '{action['shown']}'; this "
            f"vehicle gives '{shown}'. The card was not made on this ticket."
        )


def _same_display(one: str, other: str) -> bool:
    """Whether two displays agree, but for the last digit."""
    if one == other:
        return True
    (a, _, unit), (b, _, other_unit) = one.partition(" "), other.partition(" ")
    try:
        last_digit = 10.0 ** -len(b.partition(".")[2])
        return unit == other_unit and abs(float(a) - float(b)) < 1.5 * last_digit
    except ValueError:
        return False


def _needed(bench: Bench, ticket: Ticket, site: str) -> bool:
    """Whether something is wrong at a site that is about to be repaired."""
    name = site.partition(":")[0]
    present = name == ticket.fault.site.partition(":")[0]
    _, point = true_state(bench)
    return (present and site not in bench.repaired) or name in point.blown


def _weigh(
    ticket: Ticket,
    stick: Yardstick,
    course: Sequence[Situation],
    notes: Sequence[Note],
) -> tuple[tuple[Finding, ...], frozenset[Answer], float]:
    """Return what each note ruled out, what all leave, and how much they confirm."""
    book = casebook(ticket.vehicle, ticket.exercise)
    everything = np.full(len(book.universe.owner), fill_value=True)
    possible = stick.candidates
    driven = ticket.exercise.states
    true = Rig(Network(inject(ticket.vehicle, ticket.fault)), driven)
    thought = Rig(possible.network, driven)
    wanted = {note.action: note for note in notes}
    standing = np.full(len(possible.owner), fill_value=True)
    findings = []
    for number, situation in enumerate(course, 1):
        if number > max(wanted, default=0):
            break
        true.change(situation)
        thought.change(situation)
        if number in wanted:
            before = possible.left(standing)
            tool = wanted[number].tool_number
            shown = true.measure(tool)
            standing = standing & possible.fits(thought.measure(tool), shown)
            foreseen = None
            if not situation.left:
                foreseen = book.foreseen(situation.setup, situation.hookup)
            if foreseen is not None:
                channels = {name: shown.channels[name] for name in foreseen.channels}
                shown = Outcome(channels=channels, moving=shown.moving)
                everything &= book.universe.fits(foreseen, shown)
            gone = before - possible.left(standing)
            findings.append(Finding(note=wanted[number], ruled_out=gone))
    strangers = set(book.universe.answers) - set(possible.answers) - stick.group
    silenced = strangers - book.universe.left(everything)
    confirmed = len(silenced) / len(strangers) if strangers else 1.0
    return tuple(findings), possible.left(standing) | stick.group, confirmed


def _is_cured(bench: Bench, states: Sequence[State]) -> bool:
    """Whether everything that can be perceived is now as on a healthy vehicle."""
    vehicle, point = true_state(bench)
    network = Network(vehicle)
    healthy = drive(Network(bench.vehicle), states)
    for state, well in zip(states, healthy, strict=True):
        point = network.settle(Setup(controls=dict(state)), start=point)
        if perceived(point) != perceived(well):
            return False
    return True
