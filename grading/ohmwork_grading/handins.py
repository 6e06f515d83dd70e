"""What learners hand in: folders, single notebooks or single job cards.

Nothing here judges the work. A hand-in is found, its owner told, the job card kept in
a notebook's outputs taken out into its file, and the whole put where nbgrader looks
for it.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import re
import shutil
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ohmwork.jobcard import MIME, SUFFIX
from ohmwork.questions import ANSWER_MIME, ANSWER_SUFFIX

STAGING = ".ohmwork_staging"
PACKED = (".zip", ".7z", ".rar", ".tar", ".gz")

Card = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandIn:
    """What became of one file or folder that was to be taken in.

    `state` is taken, unchanged, older or refused; `note` says more in words.
    """

    path: Path
    learner: str
    state: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A file or folder that was handed in, read once."""

    path: Path
    files: Mapping[Path, Any]
    """Its notebooks and job cards, each with the JSON it holds; None if damaged."""

    @property
    def notebooks(self) -> list[Any]:
        """What its notebooks hold."""
        return [data for file, data in self.files.items() if file.suffix == ".ipynb"]

    @property
    def all_cards(self) -> list[Card]:
        """Every job card that names its exercise, in files and then in notebooks."""
        cards = [data for file, data in self.files.items() if file.suffix == ".json"]
        cards += [card for notebook in self.notebooks for card in _embedded(notebook)]
        return [card for card in cards if _names(card, "exercise")]

    @property
    def cards(self) -> dict[str, Card]:
        """Job cards by exercise: of each the one with most actions.

        A card's log only ever grows, so the longest is the latest. Damaged ones are
        passed over, to be judged by the marking if there is no better.
        """
        latest: dict[str, Card] = {}
        for card in self.all_cards:
            best = latest.get(card["exercise"])
            if best is None or _length(card) > _length(best):
                latest[card["exercise"]] = card
        return latest

    @property
    def answers(self) -> dict[str, Card]:
        """Answers in the outputs of its notebooks, by question."""
        return {
            answer["question"]: answer
            for notebook in self.notebooks
            for answer in _embedded(notebook, ANSWER_MIME)
            if _names(answer, "question")
        }

    @property
    def handed_in_at(self) -> datetime.datetime:
        """When the newest of its notebooks and job cards was last changed, in UTC."""
        seconds = max(file.stat().st_mtime for file in self.files)
        moment = datetime.datetime.fromtimestamp(int(seconds), datetime.UTC)
        return moment.replace(tzinfo=None)  # as nbgrader keeps it


def read(path: Path) -> Work:
    """Return what was handed in, read."""
    files = [path] if path.is_file() else sorted(path.glob("*"))
    return Work(
        path=path,
        files={
            file: _json(file)
            for file in files
            if file.is_file() and file.name.endswith((".ipynb", SUFFIX))
        },
    )


def find(path: Path, lesson: str, own: Sequence[str]) -> Iterator[Path]:
    """Every hand-in at or under a path; links and hidden files are passed over.

    What looks like one and cannot be used, such as an empty folder, is among them.

    Parameters
    ----------
    path : a file, a learner's folder, or a folder of such.
    lesson : name of the lesson's folder in a learner's copy of the course.
    own : names of files by which a folder is known as one learner's work.
    """
    if path.is_symlink() or path.name.startswith("."):
        return
    if path.is_file():
        if path.name.endswith((".ipynb", SUFFIX, *PACKED)):
            yield path
    elif (path / lesson).is_dir():
        yield path / lesson
    elif any((path / name).exists() for name in own):
        yield path
    elif children := sorted(path.iterdir()):
        for child in children:
            yield from find(child, lesson, own)
    else:
        yield path


def why_unusable(work: Work, exercises: Collection[str]) -> str:
    """Why nothing can be taken from what was found; empty if something can.

    Parameters
    ----------
    work : what was handed in.
    exercises : those of the lesson that it is handed in for.
    """
    if work.path.name.endswith(PACKED):
        return "a packed file: unpack it first"
    if not work.files:
        is_empty = not any(work.path.iterdir())
        return "empty folder" if is_empty else "no notebook and no job card in it"
    if other := _other_work(work, exercises):
        return f"not of this lesson: it is about {other}"
    if parting := _parting(work, exercises):
        return (
            f"two job cards of {parting}, and neither goes on with the other: "
            "ask which one counts, and hand in that one alone"
        )
    return ""


def _parting(work: Work, exercises: Collection[str]) -> str:
    """Return an exercise with two job cards of which neither goes on with the other.

    Then only people can tell which of them counts; empty where there is none.
    """
    latest = work.cards
    for card in work.all_cards:
        name: str = card["exercise"]
        acts: Any = card.get("actions")
        more: Any = latest[name].get("actions")
        lists = isinstance(acts, list) and isinstance(more, list)
        if name in exercises and lists and more[: len(acts)] != acts:
            return name
    return ""


def _other_work(work: Work, exercises: Collection[str]) -> str:
    """Return the exercise that a hand-in is about, if it is of none of their lessons.

    Told by its job cards, or else by the graded cells of its notebooks; empty where
    nothing tells.
    """
    found: list[str] = [card["exercise"] for card in work.all_cards] or [
        cell["metadata"]["nbgrader"]["grade_id"]
        for notebook in work.notebooks
        for cell in _cells(notebook)
        if cell.get("metadata", {}).get("nbgrader", {}).get("grade")
    ]
    lessons = {name.partition("_")[0] for name in exercises}
    is_own = any(name.partition("_")[0] in lessons for name in found)
    return "" if is_own or not found else found[0]


def _cells(notebook: Any) -> list[Any]:
    """Cells of a notebook; none of a damaged one."""
    cells = notebook.get("cells") if isinstance(notebook, dict) else None
    return [cell for cell in cells or () if isinstance(cell, dict)]


def write_answers(
    answers: Mapping[str, Card], questions: Iterable[str], to: Path, *, newer: bool
) -> None:
    """Write the answers to these questions into their files.

    Parameters
    ----------
    answers : from a hand-in's notebooks, by question.
    questions : ids of the lesson's own.
    to : the folder.
    newer : whether they replace what is there. A folder's own files are newer than its
        notebook, which may not have been saved since; a notebook sent later is newer
        than what came before.
    """
    for question in answers.keys() & set(questions):
        file = to / f"{question}{ANSWER_SUFFIX}"
        if newer or not file.exists():
            text = json.dumps(answers[question], ensure_ascii=False)
            file.write_text(text, encoding="utf-8")


def owner(
    names: Iterable[str], cards: Iterable[Card], roster: Sequence[str]
) -> str | None:
    """Whose work it is: by the first name that begins with an id, else by the card.

    Who handed it in goes before what the card says, so that a card passed on to a
    neighbour is marked, and refused, as the neighbour's.

    Parameters
    ----------
    names : the hand-in's own name, then those of the folders around it.
    cards : its job cards.
    roster : ids of the class.
    """
    known = (card.get("learner") for card in cards)
    return next(
        (learner for _, learner in _begins_with_id(names, roster)),
        next((learner for learner in known if learner in roster), None),
    )


def whose(names: Iterable[str], roster: Sequence[str]) -> str:
    """What to do about a hand-in whose owner nothing tells."""
    for name, learner in _begins_with_id(names, roster, re.IGNORECASE):
        return (
            f"whose is it? '{name}' begins with no id of the roster. Did you mean "
            f"'{learner}'? Rename it, or give --learner {learner}"
        )
    return (
        "whose is it? No name on the way to it begins with an id of the roster, and no "
        "job card names one. Give --learner ID"
    )


def _begins_with_id(
    names: Iterable[str], roster: Sequence[str], flags: int = 0
) -> Iterator[tuple[str, str]]:
    """Names that begin with an id of the roster, each with the longest such id."""
    for name in names:
        for learner in sorted(roster, key=len, reverse=True):
            if re.match(rf"{re.escape(learner)}(?![^\W_])", name, flags):
                yield name, learner
                break


def copy(path: Path, target: Path, own: Sequence[str]) -> None:
    """Copy a hand-in, a folder or one file, under the names nbgrader looks for.

    A file that the browser or the learner renamed gets its own name back where it is
    clear which it is.

    Parameters
    ----------
    path : the hand-in.
    target : folder to put it in, made if need be.
    own : names of the lesson's notebooks and job cards.
    """
    if path.is_dir():
        shutil.copytree(path, target, ignore=_unwanted)
        for file in target.glob("*.ipynb"):
            name = _own_name(file.name, [n for n in own if not (target / n).exists()])
            if file.name not in own:
                file.rename(target / name)
    else:
        target.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target / _own_name(path.name, own))


def write_cards(cards: Mapping[str, Card], exercises: Iterable[str], to: Path) -> None:
    """Write the cards of these exercises into their files, where those differ."""
    for exercise in exercises:
        file = to / f"{exercise}{SUFFIX}"
        if exercise in cards and _json(file) != cards[exercise]:
            text = json.dumps(cards[exercise], ensure_ascii=False)
            file.write_text(text, encoding="utf-8")


def same(one: Path, other: Path) -> bool:
    """Whether two folders hold the same files, the time of hand-in aside."""
    return _contents(one) == _contents(other)


@contextlib.contextmanager
def staged(root: Path) -> Iterator[Path]:
    """Empty folder in which to build what is then renamed into place."""
    folder = root / STAGING / "new"
    shutil.rmtree(folder, ignore_errors=True)
    folder.parent.mkdir(parents=True, exist_ok=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        with contextlib.suppress(OSError):  # another's work is in it
            folder.parent.rmdir()


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        file.relative_to(folder).as_posix(): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and file.name != "timestamp.txt"
    }


def _unwanted(folder: str, names: list[str]) -> set[str]:
    """Hidden files, a time of the learner's own, and links, which may lead outside."""
    return {
        name
        for name in names
        if name.startswith(".")
        or name == "timestamp.txt"
        or os.path.islink(os.path.join(folder, name))
    }


def _own_name(name: str, own: Sequence[str]) -> str:
    """The one name of a lesson's own that a file can be meant by, or its present."""
    stem, dot, suffix = name.partition(SUFFIX)
    if not dot:
        stem, dot, suffix = name.rpartition(".")
    alike = [other for other in own if other.endswith(dot + suffix)]
    meant = [other for other in alike if other.removesuffix(dot + suffix) in stem]
    meant = meant or alike
    return meant[0] if len(meant) == 1 else name


def _json(file: Path) -> Any:
    """What a JSON file holds; None if it is missing or damaged."""
    try:
        return json.loads(file.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None


def _embedded(notebook: Any, mime: str = MIME) -> list[Any]:
    """Job cards, or the like, in a notebook's outputs, whatever shape it is in."""
    with contextlib.suppress(AttributeError, KeyError, TypeError):
        return [
            output["data"][mime]
            for cell in notebook["cells"]
            for output in cell.get("outputs", ())
            if mime in output.get("data", ())
        ]
    return []


def _names(data: Any, what: str) -> bool:
    """Whether a job card, or an answer, says what it is for."""
    return isinstance(data, dict) and isinstance(data.get(what), str)


def _length(card: Card) -> int:
    actions = card.get("actions")
    return len(actions) if isinstance(actions, list) else -1
