"""Questions are asked, answered, handed in and marked as their files say.

The marks are worked by hand here: all, half or none of a question's points. That the
same marks reach nbgrader's gradebook on every road is in test_nbgrader_paths.py.
"""

import json
from pathlib import Path
from typing import Any

import nbformat
import pytest

import ohmwork_grading
from ohmwork import ask
from ohmwork.errors import OhmworkError, QuantityError, UnknownNameError, VehicleError
from ohmwork.questions import (
    ANSWER_MIME,
    Answer,
    Question,
    answer_to,
    find_question,
    read_answer,
    read_questions,
    write_answer,
)
from ohmwork.workbench.question import Form, answer_bundle
from ohmwork_grading.answers import Key, key_in, mark_answer_in, weigh
from ohmwork_grading.classroom import Classroom
from ohmwork_grading.handins import read, write_answers
from small_class import (
    ANSWER_KEY,
    LESSON,
    QUESTION,
    QUESTIONS_TEXT,
    make_class,
    make_master,
    scores,
    send,
)

VOLTS = Question(id="x10_volts", text="What?", unit="V", options={}, reasons={})
SIDE = Question(
    id="x10_side",
    text="Which side?",
    options={"a": "supply", "b": "ground", "c": "neither"},
    reasons={"x": "E3:31 stands at 7.5 V", "y": "the lamp is weak"},
)
VOLTS_KEY = Key(question="x10_volts", points=4, number=12.37, tolerance=0.05)
SIDE_KEY = Key(
    question="x10_side",
    points=5,
    choice="b",
    reason="x",
    because="Ground is not always at 0 V.",
    ideas={"a": "Voltage before the lamp is not voltage across it.", "y": "Both do."},
)


def write_questions(folder: Path, text: str = QUESTIONS_TEXT) -> Path:
    """Write the questions of a lesson."""
    path = folder / "x10_small.questions.yaml"
    path.write_text(text, encoding="utf-8")
    return path


# -- the questions --


def test_a_file_of_questions_is_read(tmp_path: Path) -> None:
    """A number with its unit, a choice, a choice with reasons."""
    text = (
        "format: ohmwork questions 1\nquestions:\n"
        "  n: {text: ' How much? ', unit: A}\n"
        "  c: {text: Which?, options: {a: one, b: two}}\n"
        "  r: {text: Which?, options: {a: one}, reasons: {x: so}}\n"
    )
    found = read_questions(write_questions(tmp_path, text))
    assert list(found) == ["n", "c", "r"]
    assert (found["n"].text, found["n"].unit) == ("How much?", "A")
    assert found["c"].options == {"a": "one", "b": "two"}
    assert found["r"].reasons == {"x": "so"}


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("format: 1\n", "format must be 'ohmwork questions 1'"),
        ("format: ohmwork questions 1\n", "questions: write"),
        ("format: ohmwork questions 1\nquestions: [a]\n", "questions: write"),
        ("format: ohmwork questions 1\nquestions: {q: {unit: A}}\n", "q: write 'text'"),
        (
            "format: ohmwork questions 1\nquestions: {q: {text: A}}\n",
            "either 'unit' or",
        ),
        (
            "format: ohmwork questions 1\nquestions: {q: {text: A, unit: ''}}\n",
            "either 'unit' or 'options'",
        ),
        (
            "format: ohmwork questions 1\nquestions: {q: {text: A, options: [b]}}\n",
            "q: options: write entries such as 'a: text'",
        ),
        ("format: [", "cannot be read"),
    ],
)
def test_a_mistake_in_the_questions_is_named(
    tmp_path: Path, text: str, what: str
) -> None:
    """File, question, and what is allowed."""
    with pytest.raises(VehicleError, match=f"^x10_small.questions.yaml: .*{what}"):
        read_questions(write_questions(tmp_path, text))


def test_an_unknown_question_is_met_with_those_there_are(tmp_path: Path) -> None:
    """A slip in a name is found at once."""
    write_questions(tmp_path)
    with pytest.raises(UnknownNameError, match="Did you mean 'x10_volts'"):
        find_question("x10_volt", tmp_path)


# -- the answers --


@pytest.mark.parametrize(
    ("typed", "volts"),
    [
        ("12.37 V", 12.37),
        ("12.37V", 12.37),
        (" 12,37 V ", 12.37),
        ("12370 mV", 12.37),
        ("-0.4 V", -0.4),
        ("−0.4 V", -0.4),
        ("0 V", 0.0),
        ("12.37", 12.37),
        ("-0,4", -0.4),
        ("0,350 V", 0.35),
        ("12,3701 V", 12.3701),
        ("1,234.5 V", 1234.5),
        ("1,234,500", 1234500.0),
    ],
)
def test_a_number_is_read_as_people_write_it(typed: str, volts: float) -> None:
    """Prefix, decimal comma, commas between thousands, printed minus, unit left out."""
    assert answer_to(VOLTS, typed).number == pytest.approx(volts)


@pytest.mark.parametrize(
    ("typed", "unit", "number"),
    [
        ("5,02 amps", "A", 5.02),
        ("1 Amp", "A", 1.0),
        ("1AMPERE", "A", 1.0),
        ("5 amperes ", "A", 5.0),
        ("20 mamps", "A", 0.02),
        ("20 Milliamps", "A", 0.02),
        ("20 milli-amperes", "A", 0.02),
        ("1 volt", "V", 1.0),
        ("-0,4 Volts", "V", -0.4),
        ("3 micro volts", "V", 3e-6),
        ("0.2 Ohms", "Ω", 0.2),
        ("4.7 kOhm", "Ω", 4700.0),
        ("4.7 kilohms", "Ω", 4700.0),
        ("1 Megohm", "Ω", 1e6),
        ("10 MOHM", "Ω", 1e7),
        ("55 watt", "W", 55.0),
        ("1e3 watts", "W", 1000.0),
    ],
)
def test_the_units_word_is_read_in_any_case(
    typed: str, unit: str, number: float
) -> None:
    """Alone, or with a prefix as word or symbol."""
    asked = Question(id="q", text="?", unit=unit, options={}, reasons={})
    assert answer_to(asked, typed).number == pytest.approx(number)


@pytest.mark.parametrize(
    "typed",
    ["5,02 ohms", "5,02 A", "x 5,02", "1,2,3 volts", "5,02 nV", "5,02e12 volts"],
)
def test_what_was_typed_is_quoted(typed: str) -> None:
    """Not what was made of it."""
    with pytest.raises(QuantityError, match=f"'{typed}'"):
        answer_to(VOLTS, typed)


@pytest.mark.parametrize("typed", ["", "12.37 A", "twelve volts", "1.2.3 V", "1.234,5"])
def test_what_is_no_number_with_the_unit_is_refused(typed: str) -> None:
    """The sentence says what to write."""
    with pytest.raises(QuantityError, match=r"Write a number and V|is no number"):
        answer_to(VOLTS, typed)


@pytest.mark.parametrize("typed", ["4,700 V", "4,700", "-4,700 mV", "4,700V"])
def test_a_comma_that_may_part_thousands_is_not_guessed(typed: str) -> None:
    """4,700 is four thousand seven hundred in Britain and 4.7 across the Channel."""
    with pytest.raises(QuantityError, match=r"can mean -?4700 or -?4\.700\. Write it"):
        answer_to(VOLTS, typed)


def test_a_choice_needs_its_reason() -> None:
    """Either missing, or unknown, is told."""
    assert answer_to(SIDE, "b", "x") == Answer(
        question="x10_side", choice="b", reason="x"
    )
    with pytest.raises(UnknownNameError, match="No answer 'd'"):
        answer_to(SIDE, "d", "x")
    with pytest.raises(OhmworkError, match="reason"):
        answer_to(SIDE, "b")


def test_an_answer_is_shown_as_it_was_given() -> None:
    """A number keeps the digits of the display, so saving it again changes nothing."""
    for typed in ("12.37 V", "4.860 V", "188.3 mV", "-7.51 V", "59.99 kV", "0 V"):
        answer = answer_to(VOLTS, typed)
        shown = answer.in_words(VOLTS)
        assert answer_to(VOLTS, shown).number == pytest.approx(answer.number, abs=1e-9)
    assert answer_to(VOLTS, "12.37 V").in_words(VOLTS) == "12.37 V"
    assert answer_to(SIDE, "b", "x").in_words(SIDE) == "b, because x"


def test_an_answer_outlives_the_kernel(tmp_path: Path) -> None:
    """What is written is read again; nothing is nothing."""
    for answer in (answer_to(VOLTS, "12.37 V"), answer_to(SIDE, "b", "y")):
        assert read_answer(answer.question, tmp_path) is None
        write_answer(answer, tmp_path)
        assert read_answer(answer.question, tmp_path) == answer


DAMAGED = [
    "",
    "{",
    "[1]",
    '"text"',
    "{}",
    '{"number": 1}',
    '{"number": NaN, "choice": "", "reason": ""}',
    '{"number": 1e999, "choice": "", "reason": ""}',
    '{"number": 1' + "0" * 400 + ', "choice": "", "reason": ""}',
    '{"number": "12", "choice": "", "reason": ""}',
    '{"number": true, "choice": "", "reason": ""}',
    '{"number": null, "choice": ["b"], "reason": []}',
    "[" * 100_000,
]


@pytest.mark.parametrize("text", DAMAGED, ids=range(len(DAMAGED)))
def test_a_damaged_answer_is_told(tmp_path: Path, text: str) -> None:
    """One sentence that says what to do, whatever the file holds."""
    (tmp_path / "x10_volts.answer.json").write_text(text, encoding="utf-8")
    with pytest.raises(QuantityError, match="is damaged"):
        read_answer("x10_volts", tmp_path)


# -- the form in the notebook --


def test_the_form_keeps_an_answer_and_takes_it_up_again(tmp_path: Path) -> None:
    """A number, and a choice with its reason."""
    form = Form(VOLTS, tmp_path)
    form.number.value = "12.37 V"
    form.send.click()
    assert form.message.value.startswith("Saved.")
    again = Form(VOLTS, tmp_path)
    again.send.click()
    assert read_answer("x10_volts", tmp_path) == answer_to(VOLTS, "12.37 V")

    chosen = Form(SIDE, tmp_path)
    chosen.choice.value, chosen.reason.value = "b", "y"
    chosen.send.click()
    again = Form(SIDE, tmp_path)
    assert (again.choice.value, again.reason.value) == ("b", "y")


def test_the_form_says_what_is_no_answer(tmp_path: Path) -> None:
    """Nothing is saved then, and what was saved before stays."""
    form = Form(VOLTS, tmp_path)
    assert form.number.description == "Answer in V"
    form.number.value = "12.37 A"
    form.send.click()
    assert "Write a number and V" in form.message.value
    assert list(tmp_path.iterdir()) == []
    form = Form(SIDE, tmp_path)
    form.send.click()
    assert "answer" in form.message.value
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "kept",
    [{"choice": "z", "reason": "q"}, {"choice": "<b>", "reason": ""}, "not JSON"],
)
def test_the_form_opens_on_any_file(tmp_path: Path, kept: Any) -> None:
    """A choice that is no more offered, or a damaged file, only leaves it open."""
    text = kept if isinstance(kept, str) else json.dumps({"number": None, **kept})
    (tmp_path / "x10_side.answer.json").write_text(text, encoding="utf-8")
    form = Form(SIDE, tmp_path)
    assert form.choice.value is None
    page = answer_bundle(SIDE, form.answer)["text/html"]
    assert "<b><b>" not in page


def test_an_unknown_question_is_told_on_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No traceback for a learner."""
    ask("nowhere", folder=tmp_path)
    assert "No question 'nowhere'" in capsys.readouterr().out


# -- the marks --


@pytest.mark.parametrize(
    ("typed", "points", "said"),
    [
        ("12.37 V", 4.0, "Right."),
        ("12.42 V", 4.0, "Right."),
        ("12.43 V", 0.0, "Not within 0.05"),
        ("12.37 mV", 2.0, "prefix"),
        ("12.37 kV", 2.0, "prefix"),
        ("-12.37 V", 2.0, "sign"),
        ("-12.37 mV", 0.0, "Not within"),
        ("0 V", 0.0, "Not within"),
    ],
)
def test_a_number_is_marked_within_its_tolerance(
    typed: str, points: float, said: str
) -> None:
    """Half for right digits with a slip in prefix or sign."""
    answer = answer_to(VOLTS, typed)
    marks = weigh(VOLTS_KEY, answer, answer.in_words(VOLTS))
    assert marks.points == points
    assert said in marks.text
    assert f"{points:g} of 4 points." in marks.text


@pytest.mark.parametrize(("number", "tolerance"), [(0.0, 0.05), (0.05, 0.05)])
def test_no_slip_is_seen_where_the_right_answer_is_about_nothing(
    number: float, tolerance: float
) -> None:
    """12.6 V is not 'the right digits' of 0 V because 12.6 mV is nearly nothing."""
    key = Key(question="x10_volts", points=4, number=number, tolerance=tolerance)
    assert weigh(key, answer_to(VOLTS, "12.6 V"), "").points == 0.0
    assert weigh(key, answer_to(VOLTS, "0.02 V"), "").points == 4.0


@pytest.mark.parametrize(
    ("choice", "reason", "points", "said"),
    [
        ("b", "x", 5.0, "Right."),
        ("b", "y", 2.5, "Both do."),
        ("a", "x", 0.0, "Voltage before the lamp is not voltage across it."),
        ("c", "x", 0.0, "That is not so."),
    ],
)
def test_a_choice_is_marked_with_its_reason(
    choice: str, reason: str, points: float, said: str
) -> None:
    """Half without the right reason; the idea behind a wrong choice is named."""
    answer = answer_to(SIDE, choice, reason)
    marks = weigh(SIDE_KEY, answer, answer.in_words(SIDE))
    assert marks.points == points
    assert said in marks.text
    assert SIDE_KEY.because in marks.text
    assert max(map(len, marks.text.splitlines())) <= 88


def test_the_wrong_sort_of_answer_is_worth_nothing() -> None:
    """A file edited by hand can hold a choice where a number was asked for."""
    choice = Answer(question="x10_volts", choice="b")
    assert weigh(VOLTS_KEY, choice, "b").points == 0.0
    assert weigh(SIDE_KEY, Answer(question="x10_side", number=1.0), "1").points == 0.0


def test_no_answer_is_worth_nothing_and_says_so(tmp_path: Path) -> None:
    """The page says why the right answer is right all the same."""
    write_questions(tmp_path)
    key = key_in(ANSWER_KEY)
    assert key is not None
    marks = mark_answer_in(tmp_path, tmp_path, key)
    assert marks.points == 0.0
    assert marks.text == "0 of 4 points.\nYou did not answer.\nIt is a short wire."


# -- the key in a grade cell --


def test_the_key_is_read_without_running_the_cell() -> None:
    """The very key that running the call would use."""
    assert key_in(ANSWER_KEY) == Key(
        question="x10_volts",
        points=4,
        number=12.37,
        tolerance=0.05,
        because="It is a short wire.",
    )


@pytest.mark.parametrize(
    "source",
    ["", "x = (", "ohmwork_grading.mark_here('x10_fault')", "print(mark_answer)"],
)
def test_a_cell_without_a_key_has_none(source: str) -> None:
    """Such a cell is a diagnosis, or must be executed."""
    assert key_in(source) is None


@pytest.mark.parametrize(
    "call",
    ["", "'q', 4", "'q', points=two()", "'q', number=1", "'q', points=1, volts=2"],
)
def test_a_key_that_cannot_be_read_is_refused(call: str) -> None:
    """The author is told how to write it."""
    with pytest.raises(VehicleError, match="write the question's name, then plain"):
        key_in(f"ohmwork_grading.mark_answer({call})")


def test_only_autograding_marks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An author can run the lesson; nbgrader gets a plain number and the reasons."""
    write_questions(tmp_path)
    write_answer(answer_to(VOLTS, "12.37 V"), tmp_path)
    monkeypatch.chdir(tmp_path)
    key = {"points": 4, "number": 12.37, "tolerance": 0.05}
    assert ohmwork_grading.mark_answer("x10_volts", **key) == 0.0
    assert capsys.readouterr().out == "Marks are given after the hand-in.\n"
    monkeypatch.setenv("NBGRADER_EXECUTION", "autograde")
    points = ohmwork_grading.mark_answer("x10_volts", **key)
    assert (type(points), points) == (float, 4.0)
    assert capsys.readouterr().out.startswith("4 of 4 points.\nYour answer: 12.37 V.")


# -- handing in --


def notebook_with(folder: Path, *bundles: dict[str, Any]) -> Path:
    """A notebook with these outputs."""
    outputs = [nbformat.v4.new_output("display_data", data) for data in bundles]
    cell = nbformat.v4.new_code_cell("", outputs=outputs)
    path = folder / f"{LESSON}.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), path)
    return path


def test_the_notebook_alone_carries_the_answers(tmp_path: Path) -> None:
    """What the form showed is found, the last for each question; the rest is not."""
    first, last = (answer_to(VOLTS, typed) for typed in ("1 V", "12.37 V"))
    path = notebook_with(
        tmp_path,
        answer_bundle(VOLTS, None),
        answer_bundle(VOLTS, first),
        answer_bundle(VOLTS, last),
        {ANSWER_MIME: "damaged"},
        {ANSWER_MIME: {"question": 3}},
    )
    assert read(path).answers == {"x10_volts": last.to_data()}
    assert read(tmp_path).answers == {"x10_volts": last.to_data()}


def test_only_answers_to_the_lessons_questions_are_written(tmp_path: Path) -> None:
    """No name in a hand-in leads anywhere else; the newer answer counts."""
    answers = {name: {"question": name} for name in ("x10_volts", "../up", "a\0b", "")}
    write_answers(answers, ["x10_volts"], tmp_path, newer=False)
    path = tmp_path / "x10_volts.answer.json"
    assert list(tmp_path.iterdir()) == [path]
    for newer, kept in ((False, {"question": "x10_volts"}), (True, {})):
        write_answers({"x10_volts": {}}, ["x10_volts"], tmp_path, newer=newer)
        assert json.loads(path.read_text(encoding="utf-8")) == kept


def test_a_notebook_sent_again_brings_its_new_answer(tmp_path: Path) -> None:
    """The answer of the later notebook is marked, not the one that came before."""
    classroom = make_class(tmp_path / "class", ("s01", "s02"))
    inbox = tmp_path / "inbox"
    for volts in (9.0, 12.37):
        path = send(classroom.root, "s01", None, inbox, volts)
        (taken,) = classroom.collect(LESSON, [path])
        assert taken.state == "taken"
    send(classroom.root, "s02", None, inbox)
    assert [h.state for h in classroom.collect(LESSON, [inbox])] == [
        "unchanged",
        "taken",
    ]
    Classroom(classroom.root).mark(LESSON)
    assert scores(classroom.root, QUESTION) == {"s01": 4.0, "s02": 0.0}


def test_the_released_copy_has_the_questions_and_no_key(tmp_path: Path) -> None:
    """The questions travel; what is right stays in the master."""
    classroom = make_class(tmp_path / "class", ("s01",))
    folder = classroom.root / "release" / LESSON
    assert (folder / f"{LESSON}.questions.yaml").exists()
    text = (folder / f"{LESSON}.ipynb").read_text(encoding="utf-8")
    assert "mark_answer" not in text
    assert "12.37" not in text


def test_answers_left_in_a_master_reach_no_class(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An author who tried a lesson in place does not hand out the answers."""
    course = tmp_path / "course"
    make_master(course / LESSON)
    write_answer(answer_to(VOLTS, "12.37 V"), course / LESSON)
    monkeypatch.setattr("ohmwork.course_folder", lambda: course)
    classroom = ohmwork_grading.classroom.create(tmp_path / "class")
    assert classroom.questions(LESSON) == [QUESTION]
    assert not list(classroom.root.rglob("*.answer.json"))


def test_a_damaged_answer_costs_its_points_and_no_more(tmp_path: Path) -> None:
    """Whoever marks is told; the error is ours, in a sentence."""
    (tmp_path / "x10_volts.answer.json").write_text("{", encoding="utf-8")
    write_questions(tmp_path)
    key = key_in(ANSWER_KEY)
    assert key is not None
    with pytest.raises(OhmworkError, match="is damaged"):
        mark_answer_in(tmp_path, tmp_path, key)
