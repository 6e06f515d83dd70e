"""Marks for the questions of a lesson, each with what it tells of the learner's idea.

What is right stands in the master's grade cell, which no learner copy has::

    ohmwork_grading.mark_answer("a10_current", points=4, number=1.96, tolerance=0.05)

It is either executed by nbgrader, or read by `key_in` without running anything.
"""

from __future__ import annotations

import ast
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ohmwork.errors import VehicleError
from ohmwork.questions import Answer, find_question, read_answer
from ohmwork_grading.rubric import WIDTH

HALF = 0.5
"""Share of the points for a right choice with a wrong reason, or a number whose size is
right and whose prefix or sign is not. [-]"""

ROUNDING = 1e-9
"""Relative slack, so that an answer just at the end of the tolerance is within. [-]"""

CALL = "mark_answer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What is right, and why other answers are not."""

    question: str
    points: float
    number: float | None = None
    """In the question's unit."""
    tolerance: float = 0.0
    """In the question's unit."""
    choice: str = ""
    reason: str = ""
    because: str = ""
    """Why the right answer is right."""
    ideas: Mapping[str, str] = field(default_factory=dict)
    """Letter of a wrong choice or reason, to the idea behind it and what is so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerMarks:
    """What an answer is worth and why."""

    points: float
    text: str


def weigh(key: Key, answer: Answer, said: str) -> AnswerMarks:
    """Return the marks of an answer.

    Parameters
    ----------
    key : what is right.
    answer : what was answered.
    said : the same in words.
    """
    if key.number is not None:
        share, why = _weigh_number(key, answer.number)
    else:
        share, why = _weigh_choice(key, answer)
    return _marks(key, share, f"Your answer: {said}.", why)


def _marks(key: Key, share: float, *lines: str) -> AnswerMarks:
    """Return marks with their reasons, the last of which is why the right is right."""
    points = round(share * key.points, 1)
    filled = [textwrap.fill(line, WIDTH) for line in (*lines, key.because) if line]
    text = "\n".join([f"{points:g} of {key.points:g} points.", *filled])
    return AnswerMarks(points=points, text=text)


def _weigh_number(key: Key, given: float | None) -> tuple[float, str]:
    """Return share and reason for a number."""
    assert key.number is not None
    if given is None:
        return 0.0, "A number was asked for."
    within = key.tolerance + ROUNDING * abs(key.number)
    if abs(given - key.number) <= within:
        return 1.0, "Right."
    is_tellable = 2.0 * key.tolerance < abs(key.number)  # else all is near nothing
    for factor, slip in ((1e3, "prefix"), (1e-3, "prefix"), (-1.0, "sign")):
        if is_tellable and abs(given * factor - key.number) <= within:
            return HALF, f"The digits are right; look at the {slip} again."
    return 0.0, f"Not within {key.tolerance:g} of what is right."


def _weigh_choice(key: Key, answer: Answer) -> tuple[float, str]:
    """Return share and reason for a choice."""
    if answer.choice != key.choice:
        return 0.0, key.ideas.get(answer.choice, "That is not so.")
    if answer.reason == key.reason:
        return 1.0, "Right."
    idea = key.ideas.get(answer.reason, "But not for that reason.")
    return HALF, f"Right, for another reason. {idea}"


def mark_answer_in(folder: Path, questions: Path, key: Key) -> AnswerMarks:
    """Return the marks of the answer in a learner's folder; none if there is none.

    Parameters
    ----------
    folder : where the learner's answer is.
    questions : folder of the trusted questions.
    key : what is right.
    """
    question = find_question(key.question, questions)
    answer = read_answer(key.question, folder)
    if answer is None:
        return _marks(key, 0.0, "You did not answer.")
    return weigh(key, answer, answer.in_words(question))


def key_in(source: str) -> Key | None:
    """Return the key in the source of a grade cell, if it has one.

    Raises
    ------
    VehicleError
        If the call cannot be read without running it.
    """
    try:
        tree = ast.parse(source)
    except SyntaxError:
        return None
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        if name == CALL:
            return _key(node)
    return None


def _key(call: ast.Call) -> Key:
    try:
        (question,) = (ast.literal_eval(argument) for argument in call.args)
        values = {str(k.arg): ast.literal_eval(k.value) for k in call.keywords}
        return Key(question=question, **values)
    except (ValueError, TypeError) as error:
        raise VehicleError(
            f"{CALL}: write the question's name, then plain values such as "
            f"points=4, number=1.96. {error}"
        ) from None
