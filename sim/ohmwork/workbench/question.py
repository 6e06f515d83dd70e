"""A question in the notebook: a number with its unit, or a choice with its reason."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from IPython.display import display

from ohmwork.errors import OhmworkError
from ohmwork.questions import (
    ANSWER_MIME,
    Answer,
    Question,
    answer_to,
    read_answer,
    write_answer,
)


def answer_bundle(question: Question, answer: Answer | None) -> dict[str, Any]:
    """Return an answer as a notebook's output: as data, as a page, as text."""
    shown = "Not answered yet." if answer is None else answer.in_words(question)
    bundle = {
        "text/plain": f"{question.text}\nYour answer: {shown}",
        "text/html": f"<p>Your answer: <b>{escape(shown)}</b></p>",
    }
    if answer is not None:
        bundle[ANSWER_MIME] = answer.to_data()  # type: ignore[assignment]
    return bundle


class Form:
    """What a question is answered with.

    Parameters
    ----------
    question : what is asked.
    folder : where the answer is kept.
    """

    def __init__(self, question: Question, folder: Path) -> None:
        self.question, self.folder = question, folder
        try:
            self.answer, trouble = read_answer(question.id, folder), ""
        except OhmworkError as error:
            self.answer, trouble = None, str(error)
        self.message = widgets.Label(trouble)
        self.send = widgets.Button(description="Save answer")
        self.send.on_click(lambda _: self.save())
        rows: list[Any] = [widgets.HTML(f"<b>{escape(question.text)}</b>")]
        self.number = widgets.Text(
            description=f"Answer in {question.unit}",
            placeholder="a number",
            style={"description_width": "initial"},
        )
        self.choice, self.reason = (
            _choices(question.options),
            _choices(question.reasons),
        )
        if question.unit:
            rows.append(self.number)
        else:
            rows.append(self.choice)
            if question.reasons:
                rows += [widgets.HTML("because"), self.reason]
        if self.answer is not None:
            for asked, given, allowed in (
                (self.choice, self.answer.choice, question.options),
                (self.reason, self.answer.reason, question.reasons),
            ):
                asked.value = given if given in allowed else None
            if self.answer.number is not None:
                self.number.value = self.answer.in_words(question)
        self.box = widgets.VBox([*rows, widgets.HBox([self.send, self.message])])
        self.kept: Any = None

    def save(self) -> None:
        """Keep what is filled in, or say why it cannot be an answer."""
        given = self.number.value if self.question.unit else self.choice.value or ""
        try:
            answer = answer_to(self.question, given, self.reason.value or "")
            write_answer(answer, self.folder)
        except (OhmworkError, OSError) as error:
            self.message.value = str(error)
            return
        self.answer = answer
        self.message.value = "Saved. You can change it until you hand in."
        if self.kept is not None:
            self.kept.update(answer_bundle(self.question, answer), raw=True)

    def display(self) -> None:
        """Show the question and, as a second output, the answer."""
        display(self.box)
        bundle = answer_bundle(self.question, self.answer)
        self.kept = display(bundle, raw=True, display_id=True)


def _choices(options: Any) -> Any:
    return widgets.RadioButtons(
        options=[(f"{letter}) {text}", letter) for letter, text in options.items()],
        value=None,
        layout={"width": "max-content", "max_width": "100%"},
    )
