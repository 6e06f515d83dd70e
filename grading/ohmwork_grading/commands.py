"""The instructor's commands, ``ohmwork class``.

nbgrader is imported when a command has been read and not before, so that help and
complaints come at once: importing it takes seconds.
"""

from __future__ import annotations

import argparse
import re
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ohmwork.errors import OhmworkError
from ohmwork.faults import KINDS, RANGED, RESISTANCE_RANGES, Fault
from ohmwork.quantities import parse_quantity
from ohmwork_grading.tickets import pool_books

if TYPE_CHECKING:
    from ohmwork_grading.classroom import Classroom
    from ohmwork_grading.nbgrader_plugin import Outcome


class ClassCommandError(OhmworkError, ValueError):
    """Words of the command line that cannot be meant."""


def class_command(arguments: Sequence[str]) -> int:
    """Run one ``ohmwork class`` command; returns the exit status.

    Parameters
    ----------
    arguments : words of the command line after ``class``.

    Raises
    ------
    OhmworkError
        If something is missing or cannot be done; its text says what to do next.
    """
    options = _parser().parse_args(arguments)
    status: int = options.run(options)
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ohmwork class",
        description=(
            "A class in an nbgrader course folder. The usual order: new, issue, "
            "release, (learners work), collect, missing, mark, feedback, export. "
            "nbgrader's own commands work on the folder at any time."
        ),
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def add(
        name: str, run: object, text: str, more: str = ""
    ) -> argparse.ArgumentParser:
        command = commands.add_parser(name, help=text, description=f"{text} {more}")
        command.set_defaults(run=run)
        if name not in ("new", "pool"):
            command.add_argument(
                "--course",
                type=Path,
                default=Path(),
                metavar="FOLDER",
                help="the class folder, if not the one you are in",
            )
            command.add_argument(
                "--lesson",
                help="which lesson, if the class folder has several; c10 will do",
            )
        return command

    new = add(
        "new",
        _new,
        "Make a class folder, or add lessons to an nbgrader course.",
        "What is there already is never overwritten.",
    )
    new.add_argument("folder", type=Path, help="a new folder, or an nbgrader course")
    new.add_argument(
        "--lesson",
        action="append",
        dest="lessons",
        help="a lesson to put in, such as c10; may be given more than once; all if "
        "left out",
    )
    _add_roster(new)

    issue = add(
        "issue",
        _issue,
        "Issue a fault to every learner of the roster.",
        "A learner who has a ticket keeps it; who joins late gets one by a second run.",
    )
    _add_roster(issue)
    issue.add_argument(
        "--fault",
        action="append",
        nargs="*",
        default=[],
        metavar="WORD",
        help="choose one learner's fault, also in place of a ticket: LEARNER KIND SITE "
        "and, where the kind has one, a resistance; --fault alone shows an example for "
        "the lesson and how to list its sites",
    )
    # A resistance below zero is an entry to be refused in words, not an option.
    issue._negative_number_matcher = re.compile(r"-[\d.]")
    issue.add_argument("--again", action="store_true", help="draw anew for everybody")
    issue.add_argument(
        "--yes",
        action="store_true",
        help="do it although work on tickets that are replaced can't be marked then",
    )
    issue.add_argument("--seed", type=int, help="draw the same faults every time")

    pool = add(
        "pool",
        _pool,
        "Seal a pool of faults into the ticket books of a lesson, for no roster.",
        "Who opens such a book gets one of its faults, by the name they go by.",
    )
    pool.add_argument("folder", type=Path, help="a lesson's folder, with its exercises")
    pool.add_argument("--size", type=int, default=24, help="faults in each book")
    pool.add_argument("--seed", type=int, help="draw the same faults every time")
    add(
        "key",
        _key,
        "Print which learner has which fault.",
        "For the instructor's eyes only.",
    )
    add(
        "release",
        _release,
        "Cut the learners' copy, the same for all, into the folder release.",
        "Issue the tickets first: they travel in it, sealed.",
    )
    collect = add(
        "collect",
        _collect,
        "Take in what was handed in: folders, notebooks or job cards.",
        "Whose it is, is told by a file or folder name that begins with the learner's "
        "id, else by the job card. The time of hand-in is the file's last change. A "
        "hand-in that a newer one replaces is kept in the folder replaced.",
    )
    collect.add_argument("paths", type=Path, nargs="+", metavar="PATH")
    collect.add_argument("--learner", help="whose work all of it is")
    add("missing", _missing, "List the learners who have handed in nothing.")
    mark = add(
        "mark",
        _mark,
        "Mark the hand-ins into nbgrader's gradebook; no learner's code is run.",
        "May be stopped and run again: it goes on where it was.",
    )
    mark.add_argument("--again", action="store_true", help="mark everything anew")
    add("feedback", _feedback, "Write a feedback page for every learner marked.")
    export = add(
        "export", _export, "Write the marks as a table (CSV) and a picture (PNG)."
    )
    export.add_argument(
        "--to", type=Path, metavar="FOLDER", help="where; the class folder if left out"
    )
    return parser


def _add_roster(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--roster",
        type=Path,
        metavar="FILE",
        help="CSV file with the columns id, first_name, last_name, email",
    )


def _new(options: argparse.Namespace) -> int:
    _starting()
    from ohmwork_grading import classroom

    made = classroom.create(options.folder, options.lessons)
    print(f"Class folder {made.root} with {', '.join(made.lessons) or 'no lesson'}.")
    if not made.marks_as_data:
        print(
            "Its configuration is its own. ohmwork class mark runs no learner's code "
            "in any case; for formgrader and nbgrader autograde to do the same, put "
            f"this into {made.root / classroom.CONFIG_FILE}:\n"
        )
        print(classroom.SETTINGS)
    if options.roster:
        _enrol(made, options.roster)
    roster = "" if options.roster else " --roster FILE"
    for lesson in made.lessons[:1]:
        print(f"Next: cd {made.root}")
        print(f"then: ohmwork class issue{_lesson_words(made, lesson)}{roster}")
    return 0


def _issue(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    if options.roster:
        _enrol(classroom, options.roster)
    chosen = dict(_chosen(classroom, lesson, words) for words in options.fault)
    lost = classroom.work_lost(lesson, chosen, again=options.again)
    told = ", ".join(f"{learner} ({step})" for learner, step in lost.items())
    if lost and not options.yes:
        message = (
            f"Work on the old ticket could not be marked any more: {told}. No ticket "
            "was changed. To issue all the same, add --yes."
        )
        raise ClassCommandError(message)
    issued = classroom.issue(
        lesson, chosen=chosen, seed=options.seed, again=options.again
    )
    for book, learners in issued.items():
        if learners:
            print(f"{_count(len(learners), 'new ticket')} in {book}")
    if not any(issued.values()):
        print("No new ticket: everybody has one.")
    if lost:
        print(f"Tell them that they have another fault now: {told}.")
    _next(options, classroom, lesson, "release")
    return 0


def _pool(options: argparse.Namespace) -> int:
    books = pool_books(options.folder, size=options.size, seed=options.seed)
    if not books:
        message = f"No *.exercise.yaml in {options.folder}. Name a lesson's folder."
        raise ClassCommandError(message)
    for path, book in books.items():
        path.write_text(book.to_text(), encoding="utf-8")
        print(f"{_count(len(book.pool), 'fault')} in {path}")
    return 0


def _key(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    names = classroom.names()
    for ticket in classroom.key(lesson):
        who = f"{ticket.learner}  {names[ticket.learner]}".rstrip()
        fault = ticket.fault.name(ticket.vehicle)
        print(f"{ticket.exercise.id}  {who}  {fault}  (ticket {ticket.id})")
    return 0


def _release(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    folder = classroom.release(lesson)
    print(f"The learners' copy is {folder}. Hand it out whole, the same to all.")
    _next(options, classroom, lesson, "collect", " PATH", "when they have handed in")
    return 0


def _collect(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    counts: Counter[str] = Counter()
    for hand_in in classroom.collect(lesson, options.paths, options.learner):
        counts[hand_in.state] += 1
        note = f" ({hand_in.note})" if hand_in.note else ""
        print(f"{hand_in.state:9}  {hand_in.learner:12}  {hand_in.path}{note}")
    told = ", ".join(f"{number} {state}" for state, number in counts.items())
    print(f"{told or 'Found no notebook and no job card'}.")
    _next(options, classroom, lesson, "mark")
    return 1 if counts["refused"] or not counts else 0


def _missing(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    missing = classroom.missing(lesson)
    for learner in missing:
        print(learner)
    print(f"{len(missing)} of {len(classroom.roster())} have handed in nothing.")
    return 0


def _mark(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    outcomes = classroom.mark(lesson, _Progress(), again=options.again)
    status = _tell("marked", outcomes)
    _next(options, classroom, lesson, "feedback")
    return status


def _feedback(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    status = _tell("written", classroom.feedback(lesson, _Progress()))
    print(f"The pages are in {classroom.folder('feedback', '*', lesson)}")
    _next(options, classroom, lesson, "export")
    return status


def _export(options: argparse.Namespace) -> int:
    classroom, lesson = _open(options)
    from ohmwork_grading import report

    folder = options.to or classroom.root
    folder.mkdir(parents=True, exist_ok=True)
    marks = classroom.marks(lesson)
    table, picture = (folder / f"{lesson}_marks.{kind}" for kind in ("csv", "png"))
    report.write_csv(marks, table)
    report.draw(marks, f"Marks of {lesson}", picture)
    print(f"{table}\n{picture}")
    return 0


def _chosen(
    classroom: Classroom, lesson: str, words: Sequence[str]
) -> tuple[str, Fault]:
    """Learner and fault from the words of one --fault."""
    if not (len(words) in (3, 4, 5) and words[1] in KINDS):
        given = " ".join(["--fault", *words])
        message = (
            f"{given}: write LEARNER KIND SITE and, where the kind has one, a "
            f"resistance. {_examples(classroom, lesson)}"
        )
        raise ClassCommandError(message)
    learner, kind, site, *value = words
    if (kind in RANGED) != bool(value):
        needs = "needs a resistance, as in 3.2Ω" if kind in RANGED else "takes no value"
        message = f"--fault {' '.join(words)}: {kind} {needs}."
        raise ClassCommandError(message)
    fault = Fault(kind=kind, site=site)
    classroom.check_chosen(lesson, learner, fault)  # before its resistance is read
    if not value:
        return learner, fault
    text = " ".join(value)
    is_bare = re.fullmatch(r"[-+]?[\d.]+", text)
    resistance = parse_quantity(f"{text} Ω" if is_bare else text, "Ω")
    low, high = RESISTANCE_RANGES[kind]
    if not low <= resistance <= high:
        message = (
            f"--fault {' '.join(words)}: its resistance may be {low:g} to "
            f"{high:g} Ω, not {text}."
        )
        raise ClassCommandError(message)
    return learner, Fault(kind=kind, site=site, resistance=resistance)


def _examples(classroom: Classroom, lesson: str) -> str:
    """What --fault may be in a lesson: an entry of its pool, the kinds, the sites."""
    told = []
    for exercise, _ in classroom.marked_exercises(lesson):
        pool = sorted(exercise.pool, key=lambda entry: entry.low is None)
        for fault in (entry.at(0.5) for entry in pool[:1]):
            value = f" {fault.resistance:g}Ω" if fault.resistance else ""
            learner = next(iter(classroom.roster()), "LEARNER")
            told.append(f"As in: --fault {learner} {fault.kind} {fault.site}{value}.")
        told.append(f"Kinds are {', '.join(exercise.kinds)}.")
        told.append(f"Sites: {classroom.sites_command(lesson, exercise)}")
    return "\n".join(told)


def _lesson_words(classroom: Classroom, lesson: str) -> str:
    """The words that name a lesson in a command, if it must be named."""
    return f" --lesson {lesson}" if len(classroom.lessons) > 1 else ""


def _next(
    options: argparse.Namespace,
    classroom: Classroom,
    lesson: str,
    command: str,
    more: str = "",
    when: str = "",
) -> None:
    """Say which command comes next, with the words it needs."""
    course = f" --course {options.course}" if options.course != Path() else ""
    words = f"{course}{_lesson_words(classroom, lesson)}{more}"
    print(f"Next{when and f', {when}'}: ohmwork class {command}{words}")


def _enrol(classroom: Classroom, roster: Path) -> None:
    named = classroom.enrol(roster)
    print(f"In the gradebook now: {_count(len(named), 'learner')} of {roster}.")
    others = [learner for learner in classroom.roster() if learner not in named]
    if others:
        print(
            f"In the gradebook but not in {roster.name}: {', '.join(others)}. Remove "
            f"who does not belong with: nbgrader db student remove {others[0]}"
        )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _open(options: argparse.Namespace) -> tuple[Classroom, str]:
    _starting()
    from ohmwork_grading.classroom import Classroom

    classroom = Classroom(options.course)
    return classroom, classroom.lesson(options.lesson)


def _starting() -> None:
    """Say what the first seconds go to: importing nbgrader."""
    print("Starting nbgrader ...", flush=True)


class _Progress:
    """Says once a second how far it has come."""

    def __init__(self) -> None:
        self.count = 0
        self.said = time.monotonic()

    def __call__(self, outcome: Outcome) -> None:
        self.count += 1
        if time.monotonic() - self.said > 1.0:
            print(f"{self.count} so far: {outcome.learner}", flush=True)
            self.said = time.monotonic()


def _tell(done: str, outcomes: Sequence[Outcome]) -> int:
    """Print what became of the learners; returns the exit status."""
    states = Counter(outcome.state for outcome in outcomes)
    unusable = [o for o in outcomes if o.problems and o.state != "failed"]
    good = states["done"] - sum(outcome.state == "done" for outcome in unusable)
    told = [f"{good} {done}"]
    if unusable:
        told.append(f"{len(unusable)} could not be {done}")
    kept = states["kept"] - sum(outcome.state == "kept" for outcome in unusable)
    told += [f"{kept} left as they were", f"{states['failed']} failed"]
    print(f"{', '.join(told)}.")
    for outcome in outcomes:
        for problem in outcome.problems:
            print(f"  {outcome.learner}: {problem}")
    return 1 if states["failed"] else 0
