"""Questions of a lesson that are answered with a number or a choice, and the answers.

The questions stand in ``<lesson>.questions.yaml`` beside the notebook; what is right
stands in the masters' grade cells alone. An answer is kept in a file of its own and in
the notebook's outputs, so that the notebook alone is enough to hand in.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ohmwork.errors import QuantityError, VehicleError, unknown_name
from ohmwork.quantities import format_quantity, parse_quantity

FORMAT = "ohmwork questions 1"
ANSWER_FORMAT = "ohmwork answer 1"
FILE_SUFFIX = ".questions.yaml"
ANSWER_SUFFIX = ".answer.json"
ANSWER_MIME = "application/vnd.ohmwork.answer+json"
MOST_DIGITS = 6
"""Of a number that was answered, as many as the finest display has and some. [-]"""

_BARE = re.compile(r"[-+]?[0-9.]+")
"""A number without a unit."""

_WORDS = {"V": "volts?", "A": "amp(?:ere)?s?", "Ω": "ohms?", "W": "watts?"}
"""A unit's symbol to its plain word, as a pattern."""

_PREFIXES = {
    "micro": "µ",
    "milli": "m",
    "kil": "k",
    "kilo": "k",
    "meg": "M",
    "mega": "M",
}
"""Before a word; the trade says kilohm and megohm as well."""

_PREFIX = rf"(?P<prefix>(?i:{'|'.join(_PREFIXES)})[- ]?|[mµukM]?)"
_NUMBER = r"(?P<number>[-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)"

_GROUPED = re.compile(r"[-+]?[1-9][0-9]{0,2}(,[0-9]{3})+(?![0-9,])")
"""A number whose commas may stand between thousands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question."""

    id: str
    text: str
    unit: str = ""
    """Of a number; empty for a choice."""
    options: Mapping[str, str]
    """Letter to text; none for a number."""
    reasons: Mapping[str, str]
    """Letter to text of a reason that is to be chosen as well; often none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a learner answered."""

    question: str
    number: float | None = None
    """In the question's unit."""
    choice: str = ""
    reason: str = ""

    def to_data(self) -> dict[str, Any]:
        """Return the answer as plain data."""
        return {
            "format": ANSWER_FORMAT,
            "question": self.question,
            "number": self.number,
            "choice": self.choice,
            "reason": self.reason,
        }

    def in_words(self, question: Question) -> str:
        """Return the answer as it is shown."""
        if self.number is not None:
            return format_quantity(self.number, question.unit, digits=MOST_DIGITS)
        return self.choice + (f", because {self.reason}" if self.reason else "")


def read_questions(path: Path) -> dict[str, Question]:
    """Return the questions in a file, by id.

    Raises
    ------
    VehicleError
        If the file has a mistake; the text names it and what is allowed.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        data = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, YAMLError) as error:
        raise VehicleError(f"{path.name}: cannot be read: {error}") from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise VehicleError(f"{path.name}: format must be '{FORMAT}'.")
    questions = data.get("questions")
    if not isinstance(questions, dict):
        raise VehicleError(f"{path.name}: questions: write 'name: question' entries.")
    return {
        str(name): _question(str(name), entry, path.name)
        for name, entry in questions.items()
    }


def _question(name: str, entry: Any, file_name: str) -> Question:
    known = {"text", "unit", "options", "reasons"}
    if not isinstance(entry, dict) or "text" not in entry or set(entry) - known:
        raise VehicleError(
            f"{file_name}: {name}: write 'text' and 'unit', or 'text' and 'options', "
            "with 'reasons' if you like."
        )
    if bool(entry.get("unit")) == bool(entry.get("options")):
        raise VehicleError(f"{file_name}: {name}: write either 'unit' or 'options'.")
    for lettered in ("options", "reasons"):
        if not isinstance(entry.get(lettered, {}), dict):
            raise VehicleError(
                f"{file_name}: {name}: {lettered}: write entries such as 'a: text'."
            )
    return Question(
        id=name,
        text=str(entry["text"]).strip(),
        unit=str(entry.get("unit", "")),
        options={str(k): str(v) for k, v in entry.get("options", {}).items()},
        reasons={str(k): str(v) for k, v in entry.get("reasons", {}).items()},
    )


def find_question(name: str, folder: Path) -> Question:
    """Return the question of this name in a lesson's folder.

    Raises
    ------
    UnknownNameError
        If no file of questions there has it.
    """
    known: dict[str, Question] = {}
    for path in sorted(folder.glob(f"*{FILE_SUFFIX}")):
        known |= read_questions(path)
    if name not in known:
        raise unknown_name("question", name, known)
    return known[name]


def answer_to(question: Question, given: str, reason: str = "") -> Answer:
    """Return an answer from what was typed or chosen.

    Raises
    ------
    QuantityError
        If a number was asked for and `given` is none with that unit.
    UnknownNameError
        If there is no such choice or reason.
    """
    if question.unit:
        text = _as_quantity(given, question.unit)
        number = parse_quantity(text, question.unit, typed=given)
        return Answer(question=question.id, number=number)
    if not given or (question.reasons and not reason):
        what = "an answer" if not given else "a reason as well"
        raise QuantityError(f"Choose {what}, then save.")
    if given not in question.options:
        raise unknown_name("answer", given, question.options)
    if question.reasons and reason not in question.reasons:
        raise unknown_name("reason", reason, question.reasons)
    return Answer(question=question.id, choice=given, reason=reason)


def _as_quantity(typed: str, unit: str) -> str:
    """Return a number as typed or pasted with a decimal point and its unit.

    The field says its unit, so a bare number is in that unit.
    """
    text = typed.strip().replace("\N{MINUS SIGN}", "-")
    grouped = _GROUPED.match(text)
    if grouped is None:
        text = text.replace(",", ".")
    elif grouped[0].count(",") > 1 or text[grouped.end() :].startswith("."):
        text = text.replace(",", "")
    else:
        whole, decimal = (grouped[0].replace(",", by) for by in ("", "."))
        raise QuantityError(
            f"'{typed}' can mean {whole} or {decimal}. Write it without the comma."
        )
    if _BARE.fullmatch(text):
        return f"{text} {unit}"
    return _with_symbol(text)


def _with_symbol(text: str) -> str:
    """Return a number with its unit's symbol where it had the unit's word."""
    for symbol, word in _WORDS.items():
        worded = re.compile(rf"{_NUMBER}\s*{_PREFIX}(?i:{word})")
        if match := worded.fullmatch(text):
            prefix = match["prefix"].rstrip("- ")
            prefix = _PREFIXES.get(prefix.lower(), prefix)
            return f"{match['number']} {prefix}{symbol}"
    return text


def write_answer(answer: Answer, folder: Path) -> None:
    """Keep an answer beside the notebook."""
    path = folder / f"{answer.question}{ANSWER_SUFFIX}"
    text = json.dumps(answer.to_data(), ensure_ascii=False)
    path.write_text(text, encoding="utf-8")


def read_answer(name: str, folder: Path) -> Answer | None:
    """Return the answer kept in a folder, or None if there is none.

    Raises
    ------
    QuantityError
        If the file is damaged.
    """
    path = folder / f"{name}{ANSWER_SUFFIX}"
    if not path.exists():
        return None
    damaged = QuantityError(f"{path.name} is damaged. Answer the question again.")
    try:
        data = json.loads(path.read_text(encoding="utf-8"), parse_int=float)
        number, choice, reason = data["number"], data["choice"], data["reason"]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        raise damaged from None
    if number is not None and not (isinstance(number, float) and math.isfinite(number)):
        raise damaged
    if not (isinstance(choice, str) and isinstance(reason, str)):
        raise damaged
    return Answer(question=name, number=number, choice=choice, reason=reason)
