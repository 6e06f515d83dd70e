"""Points for a job, each with its reason in plain words.

Right for the right reason: a conclusion counts in full when the noted readings leave
nothing else, so a lucky guess stays below an honest "one of these two". Readings are
named by the number under which the learner noted them.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ohmwork.faults import KINDS, describe_site
from ohmwork.instruments import Hookup
from ohmwork.jobcard import SUFFIX, JobCard, read_card
from ohmwork.reasoning import casebook
from ohmwork.reasoning.survey import Probe
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork.tickets import Ticket, read_book
from ohmwork.vehicle import first_upper
from ohmwork_grading.replay import Answer, Finding, Replay, replay

MIME = "application/vnd.ohmwork.marks+json"
"""Of the parts of the marks in the outputs of a marked notebook."""

SHARE_OF_ROWS = (1.0, 0.7, 0.5, 0.3)
"""What a right conclusion is worth by its number of rows; more rows are worth 0.1."""

UNBACKED = 0.25
"""What a right conclusion is worth when no reading speaks for it. [-]"""

RIGHT_PLACE = 0.4
"""What the right place with the wrong kind is worth. [-]

It counts as a guess where the notes rule that kind out.
"""

CONTRADICTED = 0.5
"""What evidence is worth when it rules out the learner's own conclusion. [-]"""

INCIDENT_COST = {
    "ohms_on_live": 0.2, "tool_fuse": 0.4, "vehicle_fuse": 0.5, "fuse_into_short": 0.5,
    "module_fed": 1.0,
}  # fmt: skip
"""Share of the care points that each incident costs."""

FREE_TIME = 2.0
"""Multiple of the yardstick's time, with `SETTLING_IN` on top, that costs nothing."""

ONE_TEST = 30
"""What one test takes at least. [s]"""

SETTLING_IN = 120
"""[s]"""

WIDTH = 88
"""Of a line of feedback, as nbgrader's pages do not wrap it. [characters]"""

SHORTS = {
    "short_to_ground": (
        "A short to ground leads the current past the load, and the fuse blows. Pull "
        "the fuse and measure ohms from its dead side to ground. Then open one "
        "connector after the other, beginning at the load. When the ohms go up, the "
        "short is in the piece that you have just cut off. The new fuse comes last."
    ),
    "short_to_supply": (
        "A short to supply keeps a wire live that should be dead. Switch off and "
        "measure volts. Then open one connector after the other. The short is in the "
        "piece that stays live."
    ),
}
"""How a short is searched for, in plain words."""

FEW_RIVALS = 6
"""Rivals that a complaint should leave for evidence to be counted by them alone."""

LATE = 6.0
"""Multiple of the yardstick's time at which nothing is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """One line of the marks."""

    name: str
    points: float
    maximum: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What a job is worth and why."""

    rows: tuple[MarkRow, ...]
    maximum: float
    text: str
    """The whole feedback."""

    @property
    def points(self) -> float:
        """The sum of the rows, from 0 to the maximum, to one decimal. [points]"""
        total = sum(row.points for row in self.rows)
        return round(min(max(total, 0.0), self.maximum), 1)

    @property
    def bundle(self) -> dict[str, object]:
        """Points of each row, as an output that nbgrader's own page passes over."""
        parts = {row.name.lower(): row.points for row in self.rows}
        return {MIME: parts, "text/plain": ""}

    def _repr_html_(self) -> str:
        import html

        return f"<pre>{html.escape(self.text)}</pre>"


def mark_card(card: JobCard, ticket: Ticket) -> Marks:
    """Return the marks of a job card.

    Raises
    ------
    JobCardError
        If the card is not of this ticket, or holds what its vehicle does not give.
    """
    done = replay(card, ticket)
    rows = [
        _conclusion(done),
        _evidence(done),
        _care(done),
        _economy(done),
        _repair(done),
        *_hints(done),
    ]
    maximum = float(ticket.exercise.maximum)
    bare = Marks(rows=tuple(rows), maximum=maximum, text="")
    return Marks(rows=bare.rows, maximum=maximum, text=_feedback(done, bare))


def mark_folder(folder: Path, exercise: str, learner: str, books: Path) -> Marks:
    """Return the marks of the job card in a learner's folder.

    Parameters
    ----------
    folder : where the learner's ``<exercise>.card.json`` is.
    exercise : its id.
    learner : name in the course.
    books : folder of the trusted ticket book.

    Raises
    ------
    JobCardError, TicketError
        If card or ticket are missing, damaged or somebody else's.
    """
    ticket = read_book(books / f"{exercise}{BOOK_SUFFIX}").open(learner)
    return mark_card(read_card(folder / f"{exercise}{SUFFIX}"), ticket)


def _share_ruled_out(done: Replay) -> float:
    """Share of what fits the complaint that the notes have ruled out. [-]

    Where the complaint leaves few rivals, telling them apart is not all there is to
    prove: the missing ones count as far as the notes confirm what the complaint says.
    """
    if not done.findings:
        return 0.0
    others = done.possible - done.yardstick.group
    left = done.left - done.yardstick.group
    if not left:
        return 1.0
    missing = max(0, FEW_RIVALS - len(others))
    gone = len(others) - len(left) + missing * done.confirmed
    return gone / (len(others) + missing)


def _is_right(done: Replay) -> bool:
    return bool(set(done.bench.conclusion) & done.yardstick.group)


def _conclusion(done: Replay) -> MarkRow:
    most = float(done.ticket.exercise.points["conclusion"])
    rows, group = done.bench.conclusion, done.yardstick.group
    truth = _names(done, [done.ticket.fault.answer])
    if not rows:
        return MarkRow(
            name="Conclusion", points=0.0, maximum=most,
            reason=f"No conclusion was written. It was {truth}.",
        )  # fmt: skip
    named = {row for row in rows if row not in group}
    count = len(named) + bool(group & set(rows))
    by_rows = SHARE_OF_ROWS[count - 1] if count <= len(SHARE_OF_ROWS) else 0.1
    places = {site for site, _ in rows}
    others = {answer for answer in done.left - group if answer[0] not in places}
    is_backed = bool(done.findings and set(rows) & done.left)
    backed = 1.0 / (1 + len(others)) if is_backed else 0.0
    worth = by_rows * (UNBACKED + (1.0 - UNBACKED) * backed)
    if not _is_right(done):
        near = done.ticket.fault.site in places
        wrote = f"You wrote {_names(done, rows)}"
        reason = f"{wrote}. It was {truth}."
        if near:
            reason = f"{wrote}. The place is right, the kind is not: it was {truth}."
        if _is_short(done) and any(kind == "fuse_blown" for _, kind in rows):
            reason += " The fuse blew because of that short."
        return MarkRow(
            name="Conclusion",
            points=most * worth * RIGHT_PLACE if near else 0.0,
            maximum=most,
            reason=reason,
        )
    reason = f"Right: {truth}."
    if len(group) > 1:
        reason += (
            f" No test allowed here tells these apart: {_names(done, group)}. Each is"
            " right."
        )
    if count > 1:
        reason += f" You named {count} possibilities; one alone is worth more."
    if not is_backed:
        reason += " But no noted reading speaks for it, so it counts as a guess."
    elif others:
        reason += (
            f" After {_readings(done.findings)} there are {len(others)} more that you "
            f"did not name, such as: {_names(done, sorted(others)[:2])}."
        )
    else:
        reason += f" After {_readings(done.findings)} no other place is left."
    return MarkRow(name="Conclusion", points=most * worth, maximum=most, reason=reason)


def _evidence(done: Replay) -> MarkRow:
    most = float(done.ticket.exercise.points["evidence"])
    if not done.findings:
        reason = "No reading was noted before the conclusion, so nothing is proved."
        return MarkRow(name="Evidence", points=0.0, maximum=most, reason=reason)
    share = _share_ruled_out(done)
    others = done.possible - done.yardstick.group
    gone = len(others) - len(done.left - done.yardstick.group)
    steps = [
        f"{_readings([finding])} rules out {len(finding.ruled_out)}"
        for finding in done.findings
        if finding.ruled_out
    ]
    effect = ", ".join(steps) or f"none is ruled out by {_readings(done.findings)}"
    count = f"{len(others)} other fault{'s' if len(others) != 1 else ''}"
    reason = f"{count} would give the same complaint. {first_upper(effect)}."
    if len(others) < FEW_RIVALS and gone < len(others):
        reason += (
            f" Your notes also speak against {done.confirmed:.0%} of all else that "
            "could be wrong; that counts as well."
        )
    rows = set(done.bench.conclusion)
    if rows and not rows & done.left:
        share *= CONTRADICTED
        against = [f for f in done.findings if f.ruled_out & rows]
        if against:
            reason += (
                f" Your own conclusion is ruled out by {_readings(against)}: look"
                " again."
            )
        else:
            reason += " Your own conclusion does not fit the complaint."
    elif gone < len(others):
        still = sorted(done.left - done.yardstick.group)
        reason += f" Still possible: {_names(done, still[:3])}"
        reason += f"; and {len(still) - 3} more." if len(still) > 3 else "."
        test = _settling_test(done)
        if test:
            reason += f" This would have settled more: {test}."
    return MarkRow(name="Evidence", points=most * share, maximum=most, reason=reason)


def _settling_test(done: Replay) -> str:
    """Return the next test of the yardstick's search from what the notes left."""
    book = casebook(done.ticket.vehicle, done.ticket.exercise)
    test = book.next_test(done.ticket.fault, done.left)
    return "" if test is None else test.describe(done.ticket.vehicle)


def _care(done: Replay) -> MarkRow:
    most = float(done.ticket.exercise.points["care"])
    if not done.findings:
        reason = "No work to judge: no reading was noted."
        return MarkRow(name="Care", points=0.0, maximum=most, reason=reason)
    incidents = done.bench.incidents
    cost = sum(INCIDENT_COST[i.kind] for i in incidents)
    times = Counter(incident.text for incident in incidents)
    reason = " ".join(
        f"{text}{f' ({n} times)' if n > 1 else ''}." for text, n in times.items()
    )
    reason = reason or "Nothing was damaged."
    points = most * max(0.0, 1.0 - cost)
    return MarkRow(name="Care", points=points, maximum=most, reason=reason)


def _economy(done: Replay) -> MarkRow:
    most = float(done.ticket.exercise.points["economy"])
    # Where the complaint tells all, one test still confirms it.
    stick = max(done.yardstick.seconds, ONE_TEST)
    times = (
        f"In a workshop your tests would take {_minutes(done.seconds)}, a sound search "
        f"{_minutes(stick)}."
    )
    if not _is_right(done):
        reason = f"{times} Time counts once the conclusion is right."
        return MarkRow(name="Economy", points=0.0, maximum=most, reason=reason)
    free = FREE_TIME * stick + SETTLING_IN
    late = LATE * stick + SETTLING_IN
    share = 1.0 if done.seconds <= free else (late - done.seconds) / (late - free)
    proved = _share_ruled_out(done)
    reason = times
    if proved < 1.0:
        reason += f" Time counts as far as the evidence goes, {proved:.0%}."
    points = most * max(0.0, share) * proved
    return MarkRow(name="Economy", points=points, maximum=most, reason=reason)


def _repair(done: Replay) -> MarkRow:
    most = float(done.ticket.exercise.points["repair"])
    parts = []
    share = 0.0
    if done.is_cured:
        share += 0.5
        parts.append("The complaint is cured.")
        if done.proof is not None:
            share += 0.5
            parts.append(f"Reading {done.proof.number} proves it.")
        else:
            parts.append("No reading after the repair proves it.")
    elif done.bench.repaired:
        parts.append("The complaint is still there.")
        if _is_short(done) and done.ticket.fault.site in done.bench.repaired:
            parts.append("The short has blown the fuse; fit a new one as well.")
    else:
        parts.append("Nothing was repaired.")
    needless = [s for s in done.needless_repairs if not _in_group(done, s)]
    if needless:
        share -= 0.5 * len(needless)
        parts.append(f"Repaired without need: {', '.join(needless)}.")
    points = most * max(0.0, share)
    return MarkRow(name="Repair", points=points, maximum=most, reason=" ".join(parts))


def _in_group(done: Replay, site: str) -> bool:
    return any(site == place for place, _ in done.yardstick.group)


def _hints(done: Replay) -> list[MarkRow]:
    prices = [h.price for h in done.ticket.exercise.hints]
    bought = [n for n in done.hints if 0 < n <= len(prices)]
    if not bought:
        return []
    price = sum(prices[n - 1] for n in bought)
    reason = f"{len(bought)} shown."
    return [MarkRow(name="Hints", points=-float(price), maximum=0.0, reason=reason)]


def _is_short(done: Replay) -> bool:
    return done.ticket.fault.kind.startswith("short_to_")


def _names(done: Replay, answers: Iterable[Answer]) -> str:
    """Return answers by their places: ``fuse F11 (fuse blown or high resistance)``."""
    at_site: dict[str, list[str]] = {}
    for site, kind in sorted(answers):
        at_site.setdefault(site, []).append(KINDS[kind])
    return "; ".join(
        f"{describe_site(done.ticket.vehicle, site)} ({' or '.join(kinds)})"
        for site, kinds in at_site.items()
    )


def _readings(findings: Sequence[Finding]) -> str:
    """Return the numbers of readings, such as ``readings 1, 2 and 5``."""
    numbers = [str(finding.note.number) for finding in findings]
    if len(numbers) == 1:
        return f"reading {numbers[0]}"
    return f"readings {', '.join(numbers[:-1])} and {numbers[-1]}"


def _minutes(seconds: int) -> str:
    return f"{seconds // 60} min {seconds % 60:02d} s"


def _feedback(done: Replay, marks: Marks) -> str:
    """Return the marks and what each note was worth, as plain text."""
    ticket = done.ticket
    lines = [
        f"{ticket.exercise.title}: {marks.points:g} of {marks.maximum:g} points",
        "",
    ]
    for row in marks.rows:
        of = f" of {row.maximum:g}" if row.maximum else ""
        line = f"{row.name}: {round(row.points, 1):g}{of}. {row.reason}"
        lines += textwrap.wrap(line, WIDTH, subsequent_indent="    ")
    lines += ["", "Your readings"]
    for finding in done.findings:
        note, gone = finding.note, len(finding.ruled_out)
        shown = note.reading
        hookup = Hookup(tool=shown.tool, lead_a=shown.lead_a, lead_b=shown.lead_b)
        test = Probe(setup=note.setup, hookup=hookup).describe(ticket.vehicle)
        effect = f"rules out {gone}" if gone else "rules out nothing new"
        lines.append(f"{note.number}. {test}: {shown.text} - {effect}.")
        if 0 < gone <= 3:
            gone_text = f"It cannot be: {_names(done, finding.ruled_out)}."
            lines += textwrap.wrap(
                gone_text, WIDTH, initial_indent="   ", subsequent_indent="   "
            )
    if not done.findings:
        lines.append("None was noted.")
    lines += ["", "A sound search on this vehicle"]
    lines += [f"- {test.describe(ticket.vehicle)}" for test in done.yardstick.tests]
    if _is_short(done):
        way = SHORTS[ticket.fault.kind]
        lines += ["", *textwrap.wrap(way, WIDTH, subsequent_indent="  ")]
    if not done.bench.is_handed_in:
        lines += ["", "The job was not handed in; it is marked as it stands."]
    lines += ["", f"Ticket {ticket.id}"]
    return "\n".join(lines)
