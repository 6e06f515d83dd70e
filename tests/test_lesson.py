"""Every lesson of the course keeps the rules, and says nothing its vehicle does not do.

Outside checks: nbgrader's own steps cut the learner's copy, nbclient runs the masters,
a library measures how hard they are to read. Faults are told apart on a true vehicle of
their own, all of a pool in one go.
"""

import base64
import re
import shutil
from itertools import pairwise
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
import pytest
import textstat
from nbclient import NotebookClient
from nbformat import NotebookNode

import ohmwork
from ohmwork.circuits import circuit_of
from ohmwork.course import cut_copy
from ohmwork.drawing import render, sheet
from ohmwork.exercise import Exercise, load_exercise, scope
from ohmwork.faults import Fault, inject
from ohmwork.instruments import Outcome
from ohmwork.network import Network
from ohmwork.quantities import parse_quantity
from ohmwork.questions import Answer, Question, answer_to, read_questions
from ohmwork.reasoning import casebook
from ohmwork.reasoning.survey import survey, touchable
from ohmwork.symptoms import complaint, symptoms
from ohmwork.tickets import read_book
from ohmwork_grading.answers import Key, key_in, mark_answer_in, weigh
from ohmwork_grading.tickets import exercises_in, pool_books

COURSE = ohmwork.course_folder()
NAMES = sorted(path.parent.name for path in COURSE.glob("*/*.ipynb"))

LONGEST_PROSE = 130
"""A cell should fit a screen. [words]"""

LONGEST_CODE = 10
"""Code is folded away but could be read. [lines]"""

WORKED = {
    "a10_total_current": 2.0 * 1.87 + 1.28,
    "a20_across_lamp": 12.5 - 0.2 - 4.1,
    "a30_wire_drop": 8.0 * 0.05,
    "a30_joint_ohms": 1.6 / 4.0,
    "a40_shared_current": 2.0 * 1.8,
    "a50_spanner_amps": 12.0 / 0.02,
    "b10_lost_inside": 12.50 - 9.80,
    "b20_plus_side": 14.4 - 13.1 - 0.1,
    "b40_current_from_drop": 20e-3 / 7.7e-3,
    "b50_left_for_lamp": 24.6 - 6.2,
    "c10_lost_before_lamp": 12.59 - 9.74,
    "c20_coil_current": 12.6 / 75.6,
    "c30_lost_in_pack": 12.3 - 7.1,
    "c40_fed_too_little": 4.2 / 5.0 * 3.0,
}
"""Answers to the questions for a number, worked by hand from what each question gives.
Of a10 the currents are those on the page of its lesson."""

FIRST = ["title", "aims", "needs", "cautions"]
LAST = ["practice", "practice-bench", "marked", "marked-bench"]

QUANTITY = re.compile(r"(?<![\w.])\d+(?:\.\d+)? ?(?:[mkM]?(?:V|A|Ω)|W|Ah)(?!\w)")
READING = re.compile(r"(?<![\w.])\d+(?:\.\d+)? [mkMµ]?[VAΩ](?!\w)")
OVER = re.compile(r"^(?:from )?([\d.]+ \w+) (?:over|across the) ([\d.]+ \w+)")
ROUNDED = ("rounded from", "the reading that follows, in round numbers")


@pytest.fixture(scope="module", params=NAMES)
def folder(request: pytest.FixtureRequest) -> Path:
    """The folder of a lesson."""
    return COURSE / str(request.param)


@pytest.fixture(scope="module")
def master(folder: Path) -> NotebookNode:
    """The lesson as it is kept."""
    notebook: NotebookNode = nbformat.read(folder / f"{folder.name}.ipynb", 4)
    return notebook


@pytest.fixture(scope="module")
def run(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> NotebookNode:
    """The lesson, run from top to bottom in a copy of its folder."""
    there = tmp_path_factory.mktemp("run") / folder.name
    shutil.copytree(folder, there)
    notebook: NotebookNode = nbformat.read(there / f"{folder.name}.ipynb", 4)
    resources = {"metadata": {"path": str(there)}}
    NotebookClient(notebook, timeout=120, resources=resources).execute()
    return notebook


@pytest.fixture
def copy(folder: Path, tmp_path: Path) -> NotebookNode:
    """The copy a learner gets."""
    cut_copy(folder / f"{folder.name}.ipynb", tmp_path / "copy.ipynb")
    notebook: NotebookNode = nbformat.read(tmp_path / "copy.ipynb", 4)
    return notebook


@pytest.fixture(scope="module")
def exercises(folder: Path) -> dict[str, tuple[Exercise, ohmwork.Vehicle]]:
    """The lesson's exercises by name, each with what of a vehicle it is about."""
    return exercises_in(folder)


@pytest.fixture(scope="module")
def questions(folder: Path) -> dict[str, Question]:
    """The lesson's questions by id."""
    files = sorted(folder.glob("*.questions.yaml"))
    return {name: q for file in files for name, q in read_questions(file).items()}


@pytest.fixture(scope="module")
def keys(master: NotebookNode) -> dict[str, Key]:
    """What is right, by the id of the grade cell that says so."""
    found = {cell.id: key_in(cell.source) for cell in graded(master)}
    return {name: key for name, key in found.items() if key is not None}


def prose(notebook: NotebookNode) -> list[NotebookNode]:
    """The text cells."""
    return [cell for cell in notebook.cells if cell.cell_type == "markdown"]


def code(notebook: NotebookNode) -> list[NotebookNode]:
    """The code cells."""
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def graded(notebook: NotebookNode) -> list[NotebookNode]:
    """The cells that nbgrader gives points for without a person."""
    return [cell for cell in code(notebook) if "nbgrader" in cell.metadata]


def marks(folder: Path) -> tuple[str, str]:
    """Names of the marked exercise and the one for practice."""
    part = folder.name.partition("_")[0]
    return f"{part}_marked_fault", f"{part}_practice_fault"


def count_words(cell: NotebookNode) -> int:
    """Words of a text cell, without the tags that fold it and marks of layout."""
    bare = re.sub(r"<[^>]+>", " ", cell.source)
    return sum(any(c.isalnum() for c in word) for word in bare.split())


def displayed(notebook: NotebookNode) -> str:
    """Everything the code cells show, as plain text."""
    outputs = [output for cell in code(notebook) for output in cell.outputs]
    return "\n".join(
        output.get("text") or output.get("data", {}).get("text/plain", "")
        for output in outputs
    )


# -- the faults that are issued --


def test_a_class_of_usual_size_has_different_faults(
    folder: Path, exercises: dict[str, tuple[Exercise, ohmwork.Vehicle]]
) -> None:
    """No place and kind stands twice in a pool, and its level is stated."""
    marked, practice = marks(folder)
    assert set(exercises) == {marked, practice}
    for name, (least, most) in {marked: (12, 32), practice: (6, 12)}.items():
        pool = exercises[name][0].pool
        assert len({(entry.site, entry.kind) for entry in pool}) == len(pool)
        assert least <= len(pool) <= most
        text = (folder / f"{name}.exercise.yaml").read_text(encoding="utf-8")
        assert re.search(r"#.*\blevel\b", text, re.IGNORECASE), name


def test_the_driver_sees_every_fault_of_the_pools(
    exercises: dict[str, tuple[Exercise, ohmwork.Vehicle]],
) -> None:
    """At both ends of its range."""
    for exercise, vehicle in exercises.values():
        well = complaint(vehicle, vehicle, ())
        unseen = [
            fault
            for fault in ends(exercise)
            if complaint(vehicle, inject(vehicle, fault), exercise.states) == well
        ]
        assert unseen == [], exercise.id


def test_every_fault_of_the_pools_can_be_told_from_all_others(
    exercises: dict[str, tuple[Exercise, ohmwork.Vehicle]],
) -> None:
    """By the exercise's own tools, at both ends of its range."""
    for exercise, vehicle in exercises.values():
        for fault, group in groups(vehicle, exercise).items():
            assert group == {fault.answer}, exercise.id


def test_every_place_to_measure_at_is_drawn(
    exercises: dict[str, tuple[Exercise, ohmwork.Vehicle]],
) -> None:
    """What a sound search reads, a learner can put a lead on."""
    for exercise, vehicle in exercises.values():
        seen = scope(exercise, vehicle)
        shown = [seen]
        if len(seen.circuits) > 1:
            shown += [circuit_of(seen, name) for name in seen.circuits]
        sheets = [render(sheet(circuit), None) for circuit in shown]
        drawn = set(re.findall(r'data-place="([^"]+)"', "".join(sheets)))
        assert sorted(set(touchable(seen)) - drawn) == []


def ends(exercise: Exercise) -> list[Fault]:
    """The faults of a pool at both ends of their ranges."""
    faults = (entry.at(share) for entry in exercise.pool for share in (0.0, 1.0))
    return list(dict.fromkeys(faults))


def groups(
    vehicle: ohmwork.Vehicle, exercise: Exercise
) -> dict[Fault, frozenset[tuple[str, str]]]:
    """What complaint and all tests together leave of each fault of a pool."""
    book, faults = casebook(vehicle, exercise), ends(exercise)
    network = Network(vehicle, [inject(vehicle, fault) for fault in faults])
    predicted = (*book.symptoms, *book.shown)
    states = exercise.states
    actual = (*symptoms(network, states), *survey(network, book.tests, states))
    left = {}
    for number, fault in enumerate(faults):
        standing = np.full(len(book.universe.owner), fill_value=True)
        for foreseen, seen in zip(predicted, actual, strict=True):
            standing &= book.universe.fits(foreseen, of_one(seen, number, len(faults)))
        left[fault] = book.universe.left(standing)
    return left


def of_one(outcome: Outcome, number: int, count: int) -> Outcome:
    """What a test shows on one of the variants it was done on."""

    def pick(row: Any) -> Any:
        return np.broadcast_to(row, (count,))[number]

    channels = {name: pick(row) for name, row in outcome.channels.items()}
    return Outcome(channels=channels, moving=pick(outcome.moving))


def test_practice_and_marked_fault_are_judged_alike(
    folder: Path, exercises: dict[str, tuple[Exercise, ohmwork.Vehicle]]
) -> None:
    """Practice tells a learner what the marks will be like."""
    marked, practice = (exercises[name][0] for name in marks(folder))
    assert (practice.practice, marked.practice) == (True, False)
    assert (marked.maximum, len(marked.hints)) == (100, 3)
    for field in ("vehicle", "circuit", "kinds", "tools", "points"):
        assert getattr(practice, field) == getattr(marked, field)


def test_committed_ticket_books_are_in_step_with_their_sources(folder: Path) -> None:
    """The command that made them makes the same again from exercises and vehicle."""
    books = pool_books(folder, size=24, seed=int(folder.name[1:3]))
    assert len(books) == 2
    for path, book in books.items():
        assert path.read_text(encoding="utf-8") == book.to_text(), path.name


def test_ticket_books_tell_no_fault(folder: Path) -> None:
    """Nothing can be read in the text, or guessed by the length."""
    for name in marks(folder):
        path = folder / f"{name}.tickets.json"
        book = read_book(path)
        sealed = [*book.tickets.values(), *book.pool]
        assert sealed
        assert len({len(fault) for fault in sealed}) == 1
        for fault in sealed:
            raw = base64.b64decode(fault)
            assert b"kind" not in raw
            assert b"site" not in raw
        assert '"site"' not in path.read_text(encoding="utf-8")


# -- the notebook's form --


def test_length_and_order(folder: Path, master: NotebookNode) -> None:
    """Twenty to forty cells, in the order a learner knows from the other lessons."""
    ids = [cell.id for cell in master.cells]
    marked, _ = marks(folder)
    assert 20 <= len(ids) <= 40
    assert ids[:4] == FIRST
    ends_with = [*LAST, marked, "why", "curious"]
    assert [name for name in ids if name in ends_with] == ends_with
    assert ids[-2:] == ["why", "curious"]
    after = ids[ids.index(marked) + 1 : -2]
    assert all("words" in name for name in after)


def test_it_opens_with_a_complaint_and_what_is_needed(
    folder: Path, master: NotebookNode
) -> None:
    """Its title is a verb's; aims, time, cautions, the map for instructors follow."""
    title, aims, needs, cautions = (cell.source for cell in master.cells[:4])
    assert re.match(r"# \w", title)
    assert f"*Lesson {folder.name[:3]}: " in title
    assert re.search(r"\*\*The \w+'s \w+\.\*\*", title)
    assert re.search(r"^> ", title, re.MULTILINE)
    assert aims.startswith("## What you will be able to do\n")
    assert "*For instructors:*" in aims
    assert needs.startswith("## What you need\n")
    time = re.search(r"\*\*Time:\*\* (\d+) to (\d+) minutes", needs)
    assert time is not None
    assert 45 <= int(time[1]) < int(time[2]) <= 100
    assert "**To know already:**" in needs
    for word in ("maker's manual", "local rules"):
        assert word in " ".join(cautions.split())


def test_ids_are_words_for_life(master: NotebookNode) -> None:
    """So that marks and feedback find their cells in years to come."""
    ids = [cell.id for cell in master.cells]
    assert len(set(ids)) == len(ids)
    for name in ids:
        assert re.fullmatch(r"[a-z][a-z0-9]*([-_][a-z0-9]+)*", name)
        assert re.search(r"[a-z]{3}", name)


def test_nothing_of_a_run_is_kept(master: NotebookNode) -> None:
    """No outputs, no counts; any Python 3 kernel will do."""
    assert (master.nbformat, master.nbformat_minor) == (4, 5)
    assert master.metadata.kernelspec.name == "python3"
    assert set(master.metadata) <= {"kernelspec", "language_info"}
    for cell in code(master):
        assert (cell.outputs, cell.execution_count) == ([], None)


def test_nothing_of_a_run_is_left_beside_it(folder: Path) -> None:
    """A master's folder holds its notebook, exercises, books and questions alone."""
    part = folder.name.partition("_")[0]
    allowed = rf"{folder.name}\.(ipynb|questions\.yaml)|{part}_\w+_fault\."
    allowed += r"(exercise\.yaml|tickets\.json)"
    kept = [p.name for p in folder.iterdir() if p.name != ".ipynb_checkpoints"]
    assert [name for name in kept if not re.fullmatch(allowed, name)] == []


def test_cells_are_short(master: NotebookNode) -> None:
    """Prose fits a screen; code is short."""
    too_long = {c.id: count_words(c) for c in prose(master)}
    assert {k: n for k, n in too_long.items() if n > LONGEST_PROSE} == {}
    lines = {c.id: len(c.source.splitlines()) for c in code(master)}
    whole = {cell.id for cell in graded(master)}
    assert {k: n for k, n in lines.items() if n > LONGEST_CODE and k not in whole} == {}


def test_no_code_is_typed_or_need_be_read(master: NotebookNode) -> None:
    """All is folded but the optional cell and those where the marks appear."""
    in_sight = [c.id for c in code(master) if not c.metadata.get("jupyter")]
    assert in_sight == [*(c.id for c in graded(master)), "curious"]
    assert "input(" not in "".join(c.source for c in code(master))


def test_what_is_measured_says_so(master: NotebookNode) -> None:
    """Who unfolds a cell reads first what it shows."""
    for cell in code(master):
        if cell.id.startswith(("measure", "look", "profile", "diagram")):
            assert re.match(r"# [A-Z]", cell.source), cell.id


def test_grade_cells_are_hidden_whole(folder: Path, master: NotebookNode) -> None:
    """Locked, named as their exercise or question; outside is a comment alone."""
    marked, _ = marks(folder)
    assert marked in [cell.id for cell in graded(master)]
    for cell in graded(master):
        data = cell.metadata.nbgrader
        assert cell.id == data.grade_id
        assert (data.grade, data.locked, data.solution) == (True, True, False)
        shown, _, hidden = cell.source.partition("### BEGIN HIDDEN TESTS\n")
        assert all(line.startswith("#") for line in shown.splitlines())
        assert hidden.endswith("### END HIDDEN TESTS")
        key = key_in(cell.source)
        if key is None:
            assert (cell.id, data.points) == (marked, 100)
            assert f'mark_here("{marked}")' in hidden
        else:
            assert (key.question, key.points) == (cell.id, data.points)


def test_one_answer_is_for_the_instructor(folder: Path, master: NotebookNode) -> None:
    """In the learner's own words, five points, a model answer in the master alone."""
    (cell,) = (c for c in prose(master) if "nbgrader" in c.metadata)
    data = cell.metadata.nbgrader
    assert cell.id == data.grade_id == f"{folder.name[:3]}_in_your_words"
    assert (data.points, data.grade, data.locked) == (5, True, False)
    assert data.solution


def test_a_reader_of_fourteen_can_read_it(
    folder: Path, master: NotebookNode, capsys: pytest.CaptureFixture[str]
) -> None:
    """Flesch-Kincaid grade 9 belongs to the age of 14; two below is easy for them."""
    text = " ".join(sentences(cell.source) for cell in prose(master))
    grade = textstat.flesch_kincaid_grade(text)
    with capsys.disabled():
        print(f" [{folder.name}: Flesch-Kincaid grade {grade:.1f}] ", end="")  # noqa: T201
    assert grade <= 7.0


def sentences(markdown: str) -> str:
    """Running text of a text cell; headings and items count as sentences."""
    bare = re.sub(r"<[^>]+>|[*>`#]", "", markdown)
    pieces = re.split(r"\n\s*\n|\n(?=- |\d\. )", bare)
    plain = (" ".join(re.sub(r"^(- |\d\. )", "", p.strip()).split()) for p in pieces)
    return " ".join(p if p[-1] in ".?!:" else f"{p}." for p in plain if p)


def test_its_words_are_in_the_glossary(master: NotebookNode) -> None:
    """Each word that the lesson closes with; the glossary is one click away."""
    glossary = (COURSE / "GLOSSARY.md").read_text(encoding="utf-8")
    entries = {
        name.strip().lower().removeprefix("to ")
        for line in re.findall(r"^- (\*\*.+?):", glossary, re.MULTILINE)
        for name in re.split(r"\*\*|,|\(|\)|\band\b", line)
    }
    (why,) = (cell.source for cell in master.cells if cell.id == "why")
    _, found, listed = why.partition("**Words.**")
    assert found
    listed = listed.partition("\n\n")[0]
    used = {
        " ".join(word.lower().split()).removeprefix("to ")
        for word in re.findall(r"\*([^*]+)\*:", listed)
    }
    assert used - entries == set()
    assert "](../GLOSSARY.md)" in why


# -- the questions --


def test_each_question_is_asked_once_and_then_marked(
    folder: Path,
    master: NotebookNode,
    questions: dict[str, Question],
    keys: dict[str, Key],
) -> None:
    """Three to five of them, by one cell each, with its marks in the next."""
    assert 3 <= len(questions) <= 5
    asked = {
        name: after.id
        for cell, after in pairwise(master.cells)
        for name in re.findall(r'ohmwork\.ask\("(\w+)"\)', cell.source)
    }
    assert asked == {name: name for name in questions}
    assert list(keys) == list(asked)
    assert all(name.startswith(f"{folder.name[:3]}_") for name in questions)
    assert sum(key.points for key in keys.values()) <= 20


def test_no_question_has_the_name_of_another() -> None:
    """Anywhere in the course, so that no answer is taken for another's."""
    files = COURSE.glob("*/*.questions.yaml")
    names = [name for file in files for name in read_questions(file)]
    assert len(set(names)) == len(names)


def test_right_answers_get_all_points(
    questions: dict[str, Question], keys: dict[str, Key]
) -> None:
    """A number as a learner would type it, a choice with its reason; and says why."""
    for name, question in questions.items():
        key = keys[name]
        typed = f"{key.number:g} {question.unit}" if question.unit else key.choice
        answer = answer_to(question, typed, key.reason)
        result = weigh(key, answer, answer.in_words(question))
        assert result.points == key.points, name
        assert key.because, name
        assert bool(key.reason) == bool(question.reasons), name


def test_numbers_that_are_right_are_worked_by_hand(
    questions: dict[str, Question], keys: dict[str, Key]
) -> None:
    """By Ohm's law and Kirchhoff's; the key is off by its rounding at most."""
    for name, question in questions.items():
        if question.unit:
            assert keys[name].number == pytest.approx(
                WORKED[name], abs=0.5 * keys[name].tolerance
            )


def test_wrong_answers_hear_what_is_behind_them(
    questions: dict[str, Question], keys: dict[str, Key]
) -> None:
    """No points, or half where only the reason is wrong, and the idea is named."""
    for name, question in questions.items():
        key = keys[name]
        wrong = [
            *((c, key.reason, 0.0, c) for c in question.options if c != key.choice),
            *((key.choice, r, 0.5, r) for r in question.reasons if r != key.reason),
        ]
        assert set(key.ideas) == {letter for *_, letter in wrong}, name
        for choice, reason, share, letter in wrong:
            answer = Answer(question=name, choice=choice, reason=reason)
            result = weigh(key, answer, answer.in_words(question))
            assert result.points == share * key.points
            assert " ".join(key.ideas[letter].split()) in " ".join(result.text.split())
        if question.unit:
            assert key.number is not None
            far = key.number + 2.5 * key.tolerance
            far_off = weigh(key, Answer(question=name, number=far), "")
            assert far_off.points < key.points
            assert 0.0 < key.tolerance <= 0.1 * abs(key.number), name


def test_an_empty_copy_gets_no_points(
    folder: Path, keys: dict[str, Key], tmp_path: Path
) -> None:
    """Nothing answered, nothing earned."""
    points = [mark_answer_in(tmp_path, folder, key).points for key in keys.values()]
    assert sum(points) == 0.0


# -- what it says --


def test_it_runs_and_nothing_reaches_stderr(run: NotebookNode) -> None:
    """Anything there would cost a grade cell its points."""
    outputs = [output for cell in code(run) for output in cell.outputs]
    assert [o for o in outputs if o.get("name") == "stderr"] == []


def test_readings_wait_for_the_prediction(run: NotebookNode) -> None:
    """Running all cells shows no reading, lamp or plot before it is opened."""
    shown = 0
    for cell in code(run):
        if not cell.id.startswith(("measure", "look", "profile")):
            continue
        for output in cell.outputs:
            html = output.data["text/html"]
            if html.startswith("<svg"):
                continue
            assert html.startswith("<details><summary>"), cell.id
            assert html.endswith("</details>"), cell.id
            shown += 1
    assert shown >= 5


def test_pictures_are_described(run: NotebookNode) -> None:
    """Plots and drawings have words for those who cannot see them."""
    pages = [
        output.data["text/html"]
        for cell in code(run)
        for output in cell.outputs
        if "text/html" in output.get("data", {})
    ]
    plots = [image for page in pages for image in re.findall(r"<img [^>]*>", page)]
    drawings = [page for page in pages if page.startswith("<svg")]
    assert plots
    assert drawings
    assert all(re.search(r'alt="[^"]{20}', image) for image in plots)
    assert all("<title" in drawing for drawing in drawings)


def test_every_number_has_its_source(master: NotebookNode, run: NotebookNode) -> None:
    """Volts, amps and ohms in the text: a reading on the page, or their source."""
    on_page = displayed(run)
    for cell in prose(master):
        sources: dict[str, str] = cell.metadata.get("ohmwork", {}).get("sources", {})
        for number in QUANTITY.findall(cell.source):
            assert number in sources, f"{cell.id}: {number}"
        for number, source in sources.items():
            where = f"{cell.id}: {number}, {source}"
            if source.startswith("reading shown"):
                assert re.search(rf"(?<![\w.]){number}(?!\w)", on_page), where
            elif over := OVER.match(source):
                assert rounds_to(number, in_si(over[1]) / in_si(over[2])), where
            elif source.startswith(ROUNDED):
                readings = map(in_si, READING.findall(on_page))
                assert any(rounds_to(number, value) for value in readings), where


def in_si(text: str) -> float:
    """The number of a text such as `20 mV`, in SI units."""
    return parse_quantity(text, text[-1])


def rounds_to(number: str, value: float) -> bool:
    """Whether a value, rounded to as many places, is what the text says."""
    digits, unit = number.split()
    scale = in_si(f"1 {unit}")
    places = len(digits.partition(".")[2])
    return abs(value / scale - float(digits)) <= 0.5 * 10.0**-places * 1.0001


def test_points_in_the_text_are_those_of_the_exercise(
    folder: Path, master: NotebookNode
) -> None:
    """Conclusion 40 and so on, as the exercise has them."""
    text = " ".join(" ".join(c.source.split()) for c in prose(master))
    points = load_exercise(folder / f"{marks(folder)[0]}.exercise.yaml").points
    for name, number in points.items():
        words = "repair and its proof" if name == "repair" else name
        assert f"{words} {number}" in text


# -- what a learner gets --


def test_the_copy_hides_tests_and_solutions(
    master: NotebookNode, copy: NotebookNode
) -> None:
    """The master less its hidden tests and model answers, and nothing else."""
    for cell, original in zip(copy.cells, master.cells, strict=True):
        assert "solution" not in original.metadata.get("ohmwork", {}), original.id
        if original.metadata.get("nbgrader", {}).get("solution"):
            assert "YOUR ANSWER HERE" in cell.source
            assert "SOLUTION" not in cell.source
            continue
        shown = original.source.partition("### BEGIN HIDDEN TESTS")[0]
        assert cell.source.strip() == shown.strip()


def test_the_copy_holds_no_key(copy: NotebookNode, keys: dict[str, Key]) -> None:
    """Nothing that the keys say stands anywhere in the copy's bytes."""
    text = " ".join(nbformat.writes(copy).replace("\\n", " ").split())
    for word in ("mark_answer", "mark_here", "HIDDEN", "BEGIN SOLUTION", "ideas"):
        assert word not in text
    for key in keys.values():
        for said in (key.because, *key.ideas.values()):
            assert said[:60] not in text
