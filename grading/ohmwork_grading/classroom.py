"""A class: an nbgrader course folder in which Ohmwork lessons are issued and marked.

The folder is nbgrader's own (``source``, ``release``, ``submitted``, ``autograded``,
``feedback``, ``gradebook.db``), new or already in use; nothing of it is kept anywhere
else, so nbgrader's commands and formgrader work on it before and after.

What replaces something is built aside and renamed into place. A hand-in that a newer
one replaces is moved to ``replaced``, never deleted.
"""

from __future__ import annotations

import contextlib
import csv
import dataclasses
import datetime
import io
import json
import os
import re
import shutil
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from jupyter_core.paths import jupyter_config_path
from nbgrader.api import Gradebook, MissingEntry
from nbgrader.converters.base import NbGraderException
from nbgrader.coursedir import CourseDirectory
from traitlets.config.loader import (
    Config,
    ConfigFileNotFound,
    PyFileConfigLoader,
)

import ohmwork
from ohmwork.errors import JobCardError, OhmworkError, unknown_name
from ohmwork.exercise import POINTS, Exercise, vehicle_source
from ohmwork.faults import RANGED, Fault, inject, sites
from ohmwork.job import LEARNER_FILE, MARKS_SUFFIX
from ohmwork.jobcard import SUFFIX as CARD_SUFFIX
from ohmwork.jobcard import read_card
from ohmwork.questions import ANSWER_SUFFIX, read_questions
from ohmwork.questions import FILE_SUFFIX as QUESTIONS_SUFFIX
from ohmwork.symptoms import complaint
from ohmwork.tickets import SUFFIX as BOOK_SUFFIX
from ohmwork.tickets import Book, Ticket, learner_key, read_book
from ohmwork.vehicle import Vehicle
from ohmwork_grading import handins
from ohmwork_grading.handins import HandIn, Work
from ohmwork_grading.nbgrader_plugin import (
    AutogradeJobCards,
    CutLearnerCopy,
    OneByOne,
    Outcome,
    WriteFeedback,
    executes,
    one_gradebook,
    parts_in,
    problems_in,
    put_alembic_on_path,
)
from ohmwork_grading.tickets import exercises_in, issue_book

Report = Callable[[Outcome], None]
CONFIG_FILE = "nbgrader_config.py"
EXERCISE_SUFFIX = ".exercise.yaml"
PRACTICE_FAULTS = 12
ROSTER = ("id", "first_name", "last_name", "email")
LEFT_BY_RUNNING = (
    "*.card*.json",
    f"*{ANSWER_SUFFIX}",
    f"*{MARKS_SUFFIX}",
    LEARNER_FILE,
)
SETTINGS = """\
# Which faults may be issued is not for the learners' copy.
c.CourseDirectory.ignore.append("*.exercise.yaml")

# Job cards are marked as data: no learner's code runs, in formgrader neither. An
# assignment whose answers are code needs nbgrader's own Execute as the first of these.
c.Autograde.autograde_preprocessors = [
    "ohmwork_grading.nbgrader_plugin.MarkJobCards",
    "nbgrader.preprocessors.IgnorePattern",
    "nbconvert.preprocessors.ClearMetadataPreprocessor",
    "nbgrader.preprocessors.LimitOutput",
    "nbgrader.preprocessors.SaveAutoGrades",
    "nbgrader.preprocessors.AssignLatePenalties",
    "nbgrader.preprocessors.CheckCellMetadata",
]

# Feedback pages begin with the marks and leave out the code that gives them.
c.GenerateFeedback.preprocessors = [
    "nbgrader.preprocessors.GetGrades",
    "ohmwork_grading.nbgrader_plugin.MarksFirst",
    "nbconvert.preprocessors.CSSHTMLHeaderPreprocessor",
]
"""
CONFIG_TEXT = """\
c = get_config()  # noqa: F821

c.CourseDirectory.course_id = {course_id!r}

{settings}"""


class ClassroomError(OhmworkError, ValueError):
    """Something a class needs is missing, or would overwrite work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnerMarks:
    """One learner's line of the class: points by grade cell, penalty and sum. [-]

    `handed_in` is None where the gradebook has nothing of this learner. `status` says
    in words whether the hand-in was marked, or why not. A cell is None while it waits
    to be marked by hand. `parts` are what the points of each fault are made of, and the
    sum of the questions; None where there is nothing marked.
    """

    learner: str
    last_name: str
    first_name: str
    handed_in: datetime.datetime | None
    hours_late: float
    """After the due date of the gradebook; 0 if there is none. [h]"""
    status: str
    cells: Mapping[str, float | None]
    parts: Mapping[str, float | None]
    penalty: float
    score: float
    maximum: float


def create(root: Path, lessons: Sequence[str] | None = None) -> Classroom:
    """A class folder with these lessons in it, made where `root` says.

    An existing course keeps its configuration and its own copies of the lessons.

    Parameters
    ----------
    root : the folder, new or an nbgrader course already.
    lessons : lessons of the course that comes with Ohmwork, by name or number; all of
        them if None.
    """
    shipped = ohmwork.course_folder()
    allowed = sorted({path.parent.name for path in shipped.glob("*/*.ipynb")})
    wanted = allowed if lessons is None else [_meant(n, allowed) for n in lessons]
    if root.exists() and not root.is_dir():
        raise ClassroomError(f"{root} is a file. Name a new folder, or a course.")
    root.mkdir(parents=True, exist_ok=True)
    config = root / CONFIG_FILE
    if not config.exists():
        text = CONFIG_TEXT.format(course_id=root.resolve().name, settings=SETTINGS)
        config.write_text(text, encoding="utf-8")
    classroom = Classroom(root)
    # A class needs its exercises; that they stay here is for the release to see to.
    exercises = f"*{EXERCISE_SUFFIX}"
    left_out = (p for p in classroom.coursedir.ignore if p != exercises)
    ignored = shutil.ignore_patterns(*left_out, *LEFT_BY_RUNNING)
    for lesson in wanted:
        target = classroom.source(lesson)
        if not target.exists():
            with handins.staged(classroom.root) as new:
                shutil.copytree(shipped / lesson, new, ignore=ignored)
                target.parent.mkdir(parents=True, exist_ok=True)
                new.rename(target)
    for page in sorted(shipped.glob("*.md")):  # the guide, and the glossary to hand out
        if not (classroom.root / page.name).exists():
            shutil.copyfile(page, classroom.root / page.name)
    return classroom


def _meant(name: str, lessons: Sequence[str]) -> str:
    """Return the lesson of this name, or the only one of this number (``c10``)."""
    if name in lessons:
        return name
    numbered = [lesson for lesson in lessons if lesson.partition("_")[0] == name]
    if len(numbered) != 1:
        raise unknown_name("lesson", name, lessons)
    return numbered[0]


def _read_roster(path: Path) -> dict[str, dict[str, str]]:
    """Names and addresses in a roster, by id."""

    def need(condition: object, message: str) -> None:
        if not condition:
            raise ClassroomError(f"{path}{message}")

    try:
        text = path.read_text(encoding="utf-8-sig").strip()
    except OSError as error:
        raise ClassroomError(f"{path}: {error.strerror}. Name a CSV file.") from None
    except UnicodeDecodeError:
        message = f"{path} is not in UTF-8. In the spreadsheet, save it as CSV UTF-8."
        raise ClassroomError(message) from None
    need(text, f" is empty. Begin it with the line {','.join(ROSTER)}")
    header, _, _ = text.partition("\n")
    delimiter = max(",;\t", key=header.count)  # spreadsheets of many countries write ;
    rows = csv.DictReader(io.StringIO(text), delimiter=delimiter, restval="")
    columns = rows.fieldnames = [name.strip().lower() for name in rows.fieldnames or ()]
    allowed = f"Allowed are {', '.join(ROSTER)}; only id must be there."
    for column in filter(None, columns):
        need(column in ROSTER, f": there is a column '{column}'. {allowed}")
    need("id" in columns, f": there is no column 'id'. {allowed}")
    learners: dict[str, dict[str, str]] = {}
    for row in rows:
        line = f", line {rows.line_num}:"
        need(None not in row, f"{line} more entries than the header has columns.")
        known = {column: row[column].strip() for column in ROSTER if column in row}
        learner = known.pop("id")
        need(
            re.fullmatch(r"[\w.@-]*\w[\w.@-]*", learner),
            f"{line} id '{learner}'. An id has letters, digits and . _ - @ only, since "
            "folders are named by it.",
        )
        need(learner not in learners, f"{line} id '{learner}' is there twice.")
        learners[learner] = known
    need(learners, " names nobody. Write one line for each learner.")
    return learners


def _with_tickets(book: Book, tickets: Mapping[str, Ticket]) -> Book:
    """The book with these learners' faults sealed into it; all others stay."""
    sealed = {
        learner_key(book.salt, who): book.seal(ticket.fault, who)
        for who, ticket in tickets.items()
    }
    return dataclasses.replace(book, tickets={**book.tickets, **sealed})


def _write_whole(path: Path, text: str) -> None:
    """Write a file so that at any moment a whole one is there."""
    fresh = path.with_name(f".{path.name}")
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(path)


def _silent(_outcome: Outcome) -> None:
    """Report to nobody."""


class Classroom:
    """An nbgrader course folder, read with the course's own configuration."""

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()
        if not (self.root / CONFIG_FILE).exists():
            message = (
                f"No {CONFIG_FILE} in {self.root}, so this is no class folder. "
                "Go to one, name it with --course, or make one: ohmwork class new"
            )
            raise ClassroomError(message)
        put_alembic_on_path()

    @cached_property
    def config(self) -> Config:
        """Configuration as nbgrader reads it, the course's own file last."""
        config = Config()
        for folder in [*reversed(jupyter_config_path()), str(self.root)]:
            with contextlib.suppress(ConfigFileNotFound):
                config.merge(PyFileConfigLoader(CONFIG_FILE, folder).load_config())
        config.CourseDirectory.root = str(self.root)
        config.CourseDirectory.ignore.append(f"*{EXERCISE_SUFFIX}")
        return config

    @cached_property
    def coursedir(self) -> CourseDirectory:
        """Nbgrader's own account of where things are."""
        return CourseDirectory(config=self.config)

    @contextlib.contextmanager
    def gradebook(self) -> Iterator[Gradebook]:
        """Nbgrader's gradebook of this course, open while the block runs."""
        with one_gradebook(self.coursedir) as gradebook:
            yield gradebook

    @property
    def marks_as_data(self) -> bool:
        """Whether nbgrader autograde and formgrader run no learner's code here."""
        stock = ["nbgrader.preprocessors.Execute"]
        preprocessors = self.config.Autograde.get("autograde_preprocessors", stock)
        return not any(map(executes, preprocessors))

    def folder(self, step: str, learner: str, lesson: str) -> Path:
        """Where nbgrader keeps a lesson at one of its steps."""
        step_folder = getattr(self.coursedir, f"{step}_directory", step)
        path = self.coursedir.format_path(step_folder, learner, lesson)
        return Path(os.path.normpath(path))

    def source(self, lesson: str) -> Path:
        """Folder of the master of a lesson."""
        return self.folder("source", ".", lesson)

    @property
    def lessons(self) -> list[str]:
        """Lessons with at least one exercise to be marked, by name."""
        folders = sorted(self.source("x").parent.glob("*/"))
        return [folder.name for folder in folders if self.exercises(folder.name)]

    def lesson(self, name: str | None) -> str:
        """The lesson of this name or number (``c10``), or the only one there is."""
        if name is not None:
            return _meant(name, self.lessons)
        if len(self.lessons) != 1:
            there = ", ".join(self.lessons) or "none: ohmwork class new adds one"
            message = (
                f"Say which lesson, with --lesson. In {self.source('x').parent} there "
                f"is {there}."
            )
            raise ClassroomError(message)
        return self.lessons[0]

    def notebooks(self, lesson: str) -> list[str]:
        """Notebooks of a lesson, without their suffix."""
        return sorted(path.stem for path in self.source(lesson).glob("*.ipynb"))

    def exercises(self, lesson: str) -> list[str]:
        """Exercises with a grade cell of the same name in the lesson's notebooks."""
        graded = {
            cell["metadata"].get("nbgrader", {}).get("grade_id")
            for path in self.source(lesson).glob("*.ipynb")
            for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]
        }
        names = (
            path.name.removesuffix(EXERCISE_SUFFIX)
            for path in self.source(lesson).glob(f"*{EXERCISE_SUFFIX}")
        )
        return sorted(name for name in names if name in graded)

    def questions(self, lesson: str) -> list[str]:
        """Ids of the questions that a lesson asks."""
        files = self.source(lesson).glob(f"*{QUESTIONS_SUFFIX}")
        return [name for file in sorted(files) for name in read_questions(file)]

    # The roster and its tickets

    def enrol(self, roster: Path) -> list[str]:
        """Enter a roster into the gradebook; returns the ids it names.

        Parameters
        ----------
        roster : CSV file with the columns id, first_name, last_name, email, of which
            only id must be there.
        """
        learners = _read_roster(roster)
        with self.gradebook() as gradebook:
            for learner, known in learners.items():
                gradebook.update_or_create_student(learner, **known)
        return list(learners)

    def names(self) -> dict[str, str]:
        """First and last names of the learners in the gradebook, by id."""
        with self.gradebook() as gradebook:
            return {
                student.id: " ".join(
                    filter(None, (student.first_name, student.last_name))
                )
                for student in sorted(gradebook.students, key=lambda s: s.id)
            }

    def roster(self) -> list[str]:
        """Ids of the learners in the gradebook."""
        return list(self.names())

    def _need_roster(self, lesson: str) -> list[str]:
        roster = self.roster()
        if not roster:
            enter = f"ohmwork class issue --lesson {lesson} --roster FILE"
            raise ClassroomError(f"The roster is empty. Enter one: {enter}")
        return roster

    def missing(self, lesson: str) -> list[str]:
        """Learners of the roster of whom no hand-in has been taken in."""
        return [
            learner
            for learner in self.roster()
            if not self.folder("submitted", learner, lesson).exists()
        ]

    def issue(
        self,
        lesson: str,
        *,
        chosen: Mapping[str, Fault] | None = None,
        seed: int | None = None,
        again: bool = False,
    ) -> dict[Path, tuple[str, ...]]:
        """Issue tickets; returns who has a new one, by ticket book.

        A ticket that has been issued stays, with the exercise and the vehicle as they
        were then, so that work which has begun can be marked.

        Parameters
        ----------
        lesson : name of the lesson.
        chosen : faults for single learners; all others are drawn from the pool.
        seed : for the same draw again; by default each draw is another.
        again : put the old book away and draw anew for everybody; see `work_lost`.
        """
        roster = self._need_roster(lesson)
        chosen = chosen or {}
        for learner, fault in chosen.items():
            self.check_chosen(lesson, learner, fault)
        issued: dict[Path, tuple[str, ...]] = {}
        for name, (exercise, vehicle) in exercises_in(self.source(lesson)).items():
            path = self.source(lesson) / f"{name}{BOOK_SUFFIX}"
            old = read_book(path) if path.exists() and not again else None
            if exercise.practice:
                new = []
                book = old or issue_book(
                    exercise, vehicle, pool_size=PRACTICE_FAULTS, seed=seed
                )
            else:
                had = [who for who in roster if old is not None and old.has_ticket(who)]
                new = sorted({*roster, *chosen} - ({*had} - {*chosen}))
                book = issue_book(exercise, vehicle, new, chosen=chosen, seed=seed)
                if old is not None and had:
                    book = _with_tickets(old, {who: book.open(who) for who in new})
            _write_whole(path, book.to_text())
            issued[path] = tuple(new)
        return issued

    def work_lost(
        self, lesson: str, chosen: Collection[str], *, again: bool
    ) -> dict[str, str]:
        """Who would lose work by new tickets, each with how far it has come.

        Work on a ticket cannot be marked once the learner has another. It may have
        begun as soon as the ticket was released.

        Parameters
        ----------
        lesson : name of the lesson.
        chosen : learners who are to get a fault that was chosen.
        again : whether all are to get another.
        """
        books = [] if again else [read_book(path) for path in self._books(lesson)]
        return {
            learner: step
            for learner in self.roster()
            if again
            or (learner in chosen and any(book.has_ticket(learner) for book in books))
            if (step := self._step(learner, lesson))
        }

    def _books(self, lesson: str) -> list[Path]:
        """Ticket books of the exercises that are marked, as far as there are any."""
        paths = (
            self.source(lesson) / f"{exercise}{BOOK_SUFFIX}"
            for exercise in self.exercises(lesson)
        )
        return [path for path in paths if path.exists()]

    def marked_exercises(self, lesson: str) -> list[tuple[Exercise, Vehicle]]:
        """Exercises for which tickets are issued, each with its vehicle or circuit."""
        found = exercises_in(self.source(lesson)).values()
        return [
            (exercise, vehicle) for exercise, vehicle in found if not exercise.practice
        ]

    def sites_command(self, lesson: str, exercise: Exercise) -> str:
        """Return the command that lists where a fault of an exercise can be."""
        source = vehicle_source(exercise, self.source(lesson))
        vehicle = f'"{source}"' if isinstance(source, Path) else source
        circuit = f' --circuit "{exercise.circuit}"' if exercise.circuit else ""
        return f"ohmwork check {vehicle}{circuit} --sites"

    def check_chosen(self, lesson: str, learner: str, fault: Fault) -> None:
        """Refuse a fault that this learner cannot be given, or could not find.

        Parameters
        ----------
        lesson : name of the lesson.
        learner : id of the roster.
        fault : one of a range is judged by its place alone while it has no resistance.
        """
        roster = self._need_roster(lesson)
        if learner not in roster:
            raise unknown_name("learner", learner, roster)
        for exercise, vehicle in self.marked_exercises(lesson):
            if fault.kind not in exercise.kinds:
                message = (
                    f"'{fault.kind}' cannot be concluded in {exercise.id}. Choose one "
                    f"of its kinds: {', '.join(exercise.kinds)}."
                )
                raise ClassroomError(message)
            allowed = [s for s, kinds in sites(vehicle).items() if fault.kind in kinds]
            if fault.site not in allowed:
                message = (
                    f"In {exercise.id} there can be no {fault.kind} at "
                    f"'{fault.site}'. Choose one of {', '.join(allowed)}. What each "
                    f"is: {self.sites_command(lesson, exercise)}"
                )
                raise ClassroomError(message)
            if fault.kind in RANGED and fault.resistance is None:
                continue
            states = exercise.states
            faulty = inject(vehicle, fault)
            if complaint(vehicle, faulty, states) == complaint(
                vehicle, vehicle, states
            ):
                change = "a higher resistance or " if fault.kind in RANGED else ""
                message = (
                    f"{fault.name(vehicle)}: the driver would notice nothing in "
                    f"{exercise.id}, so there is no job. Choose {change}another place."
                )
                raise ClassroomError(message)

    def _step(self, learner: str, lesson: str) -> str:
        """How far a learner's work has come, as far as it can be known here."""
        for step, owner, words in (
            ("autograded", learner, "marked"),
            ("submitted", learner, "handed in"),
            ("release", ".", "released"),
        ):
            if self.folder(step, owner, lesson).exists():
                return words
        return ""

    def key(self, lesson: str) -> list[Ticket]:
        """Every ticket of the roster, opened."""
        roster = self.roster()
        tickets = [
            book.open(learner)
            for book in map(read_book, self._books(lesson))
            for learner in filter(book.has_ticket, roster)
        ]
        if not tickets:
            message = (
                f"Nobody has a ticket for {lesson}. Issue them: "
                f"ohmwork class issue --lesson {lesson} --roster FILE"
            )
            raise ClassroomError(message)
        return tickets

    # Hand-ins

    def collect(
        self, lesson: str, paths: Sequence[Path], learner: str | None = None
    ) -> Iterator[HandIn]:
        """Take hand-ins in, one after the other, and say what became of each.

        A hand-in is a learner's lesson folder, a single notebook or a single job card;
        a folder of such is gone through. Whose it is, is told by `learner`, else by a
        file or folder name that begins with an id of the roster, else by the job card.

        Parameters
        ----------
        paths : files and folders to look through.
        learner : id of the one learner whose work all of it is.
        """
        roster = self.roster()
        if learner is not None and learner not in roster:
            raise unknown_name("learner", learner, roster)
        for path in paths:
            if not path.exists():
                message = f"No file or folder {path}. Name what was handed in."
                raise ClassroomError(message)
            self._refuse_own(path.resolve())
        exercises = self.exercises(lesson)
        own = [f"{notebook}.ipynb" for notebook in self.notebooks(lesson)]
        own += [f"{exercise}{CARD_SUFFIX}" for exercise in exercises]
        for given in (path.resolve() for path in paths):
            for path in handins.find(given, lesson, own):
                work = handins.read(path)
                if reason := handins.why_unusable(work, exercises):
                    yield HandIn(path=path, learner="", state="refused", note=reason)
                    continue
                parts = path.relative_to(given.parent).parts[::-1]
                names = [name for name in parts if not name.startswith(lesson)]
                who = learner or handins.owner(names, work.cards.values(), roster)
                if who is None:
                    note = handins.whose(names, roster)
                    yield HandIn(path=path, learner="", state="refused", note=note)
                else:
                    yield self._take_in(lesson, work, who, own)

    def _refuse_own(self, given: Path) -> None:
        """Refuse a path in which the class's own copies would be found."""
        steps = ("source", "release", "submitted", "autograded", "feedback", "replaced")
        for folder in (self.folder(step, ".", ".") for step in steps):
            holds_it = folder.exists() and folder.is_relative_to(given)
            if holds_it or given.is_relative_to(folder):
                message = (
                    f"{folder} is the class's own, no hand-in. Put what was handed in "
                    f"into a folder of its own, such as {self.root / 'inbox'}, and "
                    "name that."
                )
                raise ClassroomError(message)

    def _take_in(
        self, lesson: str, work: Work, learner: str, own: Sequence[str]
    ) -> HandIn:
        path, handed_in = work.path, work.handed_in_at
        target = self.folder("submitted", learner, lesson)
        with handins.staged(self.root) as new:
            if path.is_file() and target.exists():  # what came beside it stays
                shutil.copytree(target, new)
            handins.copy(path, new, own)
            handins.write_cards(work.cards, self.exercises(lesson), new)
            handins.write_answers(
                work.answers,
                self.questions(lesson),
                new,
                newer=path.is_file(),
            )
            if not any(new.glob("*.ipynb")):
                for notebook in self.folder("release", ".", lesson).glob("*.ipynb"):
                    shutil.copyfile(notebook, new / notebook.name)
            if handins.same(new, target):
                return HandIn(path=path, learner=learner, state="unchanged")
            notes = list(self._remarks(new, learner, lesson))
            if target.exists():
                earlier = self.coursedir.get_existing_timestamp(str(target))
                if earlier is not None and handed_in < earlier:
                    note = "left out: what is here already is newer"
                    return HandIn(path=path, learner=learner, state="older", note=note)
                notes.append(f"the earlier one is now in {self._set_aside(target)}")
            (new / "timestamp.txt").write_text(f"{handed_in} UTC\n", encoding="utf-8")
            # Taken away first, so that marking never passes over the new hand-in.
            shutil.rmtree(self.folder("autograded", learner, lesson), True)
            target.parent.mkdir(parents=True, exist_ok=True)
            new.rename(target)
        note = "; ".join(notes)
        return HandIn(path=path, learner=learner, state="taken", note=note)

    def _remarks(self, folder: Path, learner: str, lesson: str) -> Iterator[str]:
        """What the marking will find amiss with the job cards in a folder."""
        for exercise in self.exercises(lesson):
            path = folder / f"{exercise}{CARD_SUFFIX}"
            if not path.exists():
                yield "no job card in it"
                continue
            try:
                named = read_card(path).learner
            except JobCardError as error:
                yield str(error).removesuffix(".")
            else:
                if named != learner:
                    yield f"its job card says {named}"

    def _set_aside(self, target: Path) -> Path:
        """Move a replaced hand-in out of nbgrader's sight; returns where it is."""
        kept = self.root / "replaced" / target.relative_to(self.root)
        number = 1 + sum(1 for _ in kept.parent.glob(f"{kept.name}.*"))
        kept = kept.with_name(f"{kept.name}.{number}")
        kept.parent.mkdir(parents=True, exist_ok=True)
        return target.rename(kept)

    # Marks and feedback

    def release(self, lesson: str) -> Path:
        """Cut the copy that every learner gets; returns its folder.

        nbgrader takes solutions and hidden tests out, and enters the assignment into
        the gradebook.
        """
        self.key(lesson)  # without tickets the copy would be of no use
        (outcome,) = self._convert(CutLearnerCopy, lesson, _silent, force=True)
        if outcome.state == "failed":
            message = f"{lesson} cannot be released. {' '.join(outcome.problems)}"
            raise ClassroomError(message)
        return self.folder("release", ".", lesson)

    def mark(
        self, lesson: str, report: Report = _silent, *, again: bool = False
    ) -> list[Outcome]:
        """Mark the hand-ins that are not marked yet. No learner's code is run.

        Parameters
        ----------
        lesson : name of the lesson.
        report : called with each learner's outcome as it comes.
        again : mark everything anew. Marks given by hand stay in any case.
        """
        self._need_release(lesson)
        return self._convert(AutogradeJobCards, lesson, report, force=again)

    def feedback(self, lesson: str, report: Report = _silent) -> list[Outcome]:
        """Write the feedback pages of all who have been marked, with today's marks."""
        return self._convert(WriteFeedback, lesson, report, force=True)

    def marks(self, lesson: str) -> list[LearnerMarks]:
        """Marks of the whole roster as they stand in the gradebook."""
        self._need_release(lesson)
        self._need_roster(lesson)
        with self.gradebook() as gradebook:
            assignment = gradebook.find_assignment(lesson)
            handed_in = {s.student_id: s for s in assignment.submissions}
            return [
                self._learner_marks(student, assignment, handed_in.get(student.id))
                for student in sorted(gradebook.students, key=lambda s: s.id)
            ]

    def _learner_marks(
        self, student: Any, assignment: Any, submission: Any | None
    ) -> LearnerMarks:
        """One learner's marks from nbgrader's rows and the marked notebooks."""
        lesson = assignment.name
        books = submission.notebooks if submission else []
        penalty = submission.late_submission_penalty if submission else 0.0
        cells = {
            g.name: None if g.auto_score is None and g.manual_score is None else g.score
            for notebook in books
            for g in notebook.grades
        }
        return LearnerMarks(
            learner=student.id,
            last_name=student.last_name or "",
            first_name=student.first_name or "",
            handed_in=submission.timestamp if submission else None,
            hours_late=submission.total_seconds_late / 3600 if submission else 0.0,
            status=self._status(student.id, lesson),
            cells=cells,
            parts=self._parts(student.id, lesson, cells),
            penalty=penalty,
            score=max(0.0, submission.score - penalty) if submission else 0.0,
            maximum=assignment.max_score,
        )

    def _parts(
        self, learner: str, lesson: str, cells: Mapping[str, float | None]
    ) -> dict[str, float | None]:
        """What the points of the faults are made of, and the sum of the questions."""
        found = parts_in(self.folder("autograded", learner, lesson))
        parts = {
            f"{exercise}_{part}": found[exercise].get(part, 0.0)
            if exercise in found
            else None
            for exercise in self.exercises(lesson)
            for part in (*POINTS, "hints")
        }
        points = [p for q in self.questions(lesson) if (p := cells.get(q)) is not None]
        return {**parts, "questions": sum(points) if points else None}

    def _status(self, learner: str, lesson: str) -> str:
        errors = problems_in(self.folder("autograded", learner, lesson))
        reasons = [errors[name] for name in self.exercises(lesson) if name in errors]
        if reasons:
            return f"could not be marked: {' '.join(reasons)}"
        words = {"marked": "marked", "handed in": "not marked yet"}
        return words.get(self._step(learner, lesson), "not handed in")

    def _need_release(self, lesson: str) -> None:
        with self.gradebook() as gradebook:
            try:
                gradebook.find_assignment(lesson)
            except MissingEntry:
                message = (
                    f"{lesson} is not in the gradebook yet. Release it first: "
                    f"ohmwork class release --lesson {lesson}"
                )
                raise ClassroomError(message) from None

    def _convert(
        self, kind: type[OneByOne], lesson: str, report: Report, *, force: bool
    ) -> list[Outcome]:
        """Run one of nbgrader's converters over a lesson, learner by learner."""
        outcomes: list[Outcome] = []

        def note(outcome: Outcome) -> None:
            outcomes.append(outcome)
            report(outcome)

        config = Config(self.config)
        config.CourseDirectory.assignment_id = lesson
        coursedir = CourseDirectory(config=config)
        converter = kind(coursedir=coursedir, config=config, force=force)
        converter.report = note
        with one_gradebook(coursedir):
            try:
                converter.start()
            except NbGraderException:
                message = (
                    f"Nothing of {lesson} in {converter._input_directory} yet. The "
                    "order is release, collect, mark, feedback."
                )
                raise ClassroomError(message) from None
        return outcomes
