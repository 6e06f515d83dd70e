"""The lessons of the course keep their rules, and say nothing the van does not do.

Outside checks: nbgrader cuts the learner's copy, nbclient runs the masters, a library
measures how hard they are to read. One reading of the worked example is worked by hand.
"""

import base64
import re
import shutil
from pathlib import Path

import nbformat
import pytest
import textstat
from nbclient import NotebookClient
from nbformat import NotebookNode

import ohmwork
from ohmwork import lesson
from ohmwork.course import copy_for_learner
from ohmwork.exercise import Exercise, load_exercise
from ohmwork.faults import Fault, inject
from ohmwork.reasoning import casebook
from ohmwork.symptoms import complaint
from ohmwork.tickets import read_book
from ohmwork_grading.classroom import create
from ohmwork_grading.tickets import pool_books
from small_class import nbgrader

NAME = "a20_two_sides"
FOLDER = ohmwork.course_folder() / NAME
MARKED, PRACTICE = "a20_marked_fault", "a20_practice_fault"
SEED = 20
"""Of the committed ticket books; DEVELOPERS.md has the command."""

LONGEST_PROSE = 130
"""A cell should fit a screen. [words]"""

QUANTITY = re.compile(r"(?<![\w.])\d+(?:\.\d+)? ?(?:V|A|Ω)(?!\w)")


@pytest.fixture(scope="module")
def master() -> NotebookNode:
    """The lesson as it is kept."""
    notebook: NotebookNode = nbformat.read(FOLDER / f"{NAME}.ipynb", as_version=4)
    return notebook


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> NotebookNode:
    """The lesson, run from top to bottom in a copy of its folder."""
    folder = tmp_path_factory.mktemp("run") / NAME
    shutil.copytree(FOLDER, folder)
    notebook: NotebookNode = nbformat.read(folder / f"{NAME}.ipynb", as_version=4)
    client = NotebookClient(
        notebook, timeout=120, resources={"metadata": {"path": str(folder)}}
    )
    client.execute()
    return notebook


@pytest.fixture(scope="module")
def released(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What nbgrader's own command releases to a class of two."""
    classroom = create(tmp_path_factory.mktemp("class") / "class", [NAME])
    roster = classroom.root / "roster.csv"
    roster.write_text("id\ns01\ns02\n", encoding="utf-8")
    classroom.enrol(roster)
    classroom.issue(NAME, seed=1)
    nbgrader(classroom.root, "generate_assignment", NAME)
    return classroom.root


def prose(notebook: NotebookNode) -> list[NotebookNode]:
    """The text cells."""
    return [cell for cell in notebook.cells if cell.cell_type == "markdown"]


def code(notebook: NotebookNode) -> list[NotebookNode]:
    """The code cells."""
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def words(cell: NotebookNode) -> list[str]:
    """Words of a text cell, without the tags that fold it."""
    return re.sub(r"<[^>]+>", " ", cell.source).split()


def displayed(notebook: NotebookNode) -> str:
    """Everything the code cells show, as plain text."""
    outputs = [output for cell in code(notebook) for output in cell.outputs]
    return "\n".join(
        output.get("text") or output.get("data", {}).get("text/plain", "")
        for output in outputs
    )


def bench(fault: Fault | None, lights: str) -> ohmwork.Bench:
    """The van with a fault, ignition on and its lights in a position."""
    bench = ohmwork.Bench(ohmwork.load_vehicle("lighting_board"), fault)
    bench.set_control("S1", "on")
    bench.set_control("S2", lights)
    return bench


def volts(bench: ohmwork.Bench, *places: str) -> list[float]:
    """Voltages against battery minus. [V]"""
    return [value for _, value in lesson.along(bench, places)]


# -- the faults that are issued --


@pytest.fixture(params=[MARKED, PRACTICE])
def exercise(request: pytest.FixtureRequest) -> Exercise:
    """An exercise of the lesson, as its file states it."""
    return load_exercise(FOLDER / f"{request.param}.exercise.yaml")


@pytest.mark.parametrize(("name", "least"), [(MARKED, 24), (PRACTICE, 10)])
def test_a_class_of_usual_size_has_different_faults(name: str, least: int) -> None:
    """No place and kind stands twice in a pool."""
    pool = load_exercise(FOLDER / f"{name}.exercise.yaml").pool
    answers = {(entry.site, entry.kind) for entry in pool}
    assert len(answers) == len(pool) >= least


def test_the_driver_sees_every_fault_of_the_pool(exercise: Exercise) -> None:
    """At both ends of its range."""
    van = ohmwork.load_vehicle(exercise.vehicle)
    unseen = [
        fault
        for entry in exercise.pool
        for fault in (entry.at(0.0), entry.at(1.0))
        if complaint(van, inject(van, fault), exercise.states)
        == complaint(van, van, ())
    ]
    assert unseen == []


def test_every_fault_of_the_pool_can_be_told_from_all_others(
    exercise: Exercise,
) -> None:
    """By the exercise's own tools, at both ends of its range."""
    book = casebook(ohmwork.load_vehicle(exercise.vehicle), exercise)
    for entry in exercise.pool:
        for fault in (entry.at(0.0), entry.at(1.0)):
            assert book.yardstick(fault).group == {fault.answer}


def test_practice_and_marked_fault_are_judged_alike() -> None:
    """Practice tells a learner what the marks will be like."""
    marked, practice = (
        load_exercise(FOLDER / f"{name}.exercise.yaml") for name in (MARKED, PRACTICE)
    )
    assert (practice.practice, marked.practice) == (True, False)
    for field in ("states", "kinds", "tools", "points", "hints"):
        assert getattr(practice, field) == getattr(marked, field)


def test_committed_ticket_books_are_in_step_with_their_sources() -> None:
    """The command that made them makes the same again from exercises and vehicle."""
    books = pool_books(FOLDER, size=24, seed=SEED)
    assert len(books) == 2
    for path, book in books.items():
        assert path.read_text(encoding="utf-8") == book.to_text()


# -- the notebook's form --


def test_length_and_turns(master: NotebookNode) -> None:
    """Twenty to thirty cells; once the drawing is there, prose and code take turns."""
    assert 20 <= len(master.cells) <= 30
    ids = [cell.id for cell in master.cells]
    kinds = [cell.cell_type for cell in master.cells]
    lesson_part = kinds[ids.index("diagram") : ids.index(MARKED)]
    assert lesson_part == ["code", "markdown"] * (len(lesson_part) // 2) + ["code"]


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
    for cell in code(master):
        assert (cell.outputs, cell.execution_count) == ([], None)


def test_cells_are_short(master: NotebookNode) -> None:
    """Prose fits a screen; code is folded away but could be read."""
    too_long = {c.id: len(words(c)) for c in prose(master)}
    assert {k: n for k, n in too_long.items() if n > LONGEST_PROSE} == {}
    assert [c.id for c in code(master) if len(c.source.splitlines()) > 10] == []


def test_no_code_is_typed_or_need_be_read(master: NotebookNode) -> None:
    """All is folded but the optional cell and the one where the marks appear."""
    in_sight = [c.id for c in code(master) if not c.metadata.get("jupyter")]
    assert in_sight == [MARKED, "curious"]
    assert "input(" not in "".join(c.source for c in code(master))
    nbgraders = [c.metadata.nbgrader for c in master.cells if "nbgrader" in c.metadata]
    assert [cell.solution for cell in nbgraders] == [False]


def test_the_grade_cell_is_hidden_whole(master: NotebookNode) -> None:
    """100 points, locked, named after its exercise; outside is a comment alone."""
    (cell,) = (c for c in master.cells if "nbgrader" in c.metadata)
    data = cell.metadata.nbgrader
    assert cell.id == data.grade_id == MARKED
    assert (data.points, data.grade, data.locked) == (100, True, True)
    assert data.points == load_exercise(FOLDER / f"{MARKED}.exercise.yaml").maximum
    shown, _, hidden = cell.source.partition("### BEGIN HIDDEN TESTS\n")
    assert all(line.startswith("#") for line in shown.splitlines())
    assert hidden.endswith("### END HIDDEN TESTS")
    assert f'mark_here("{MARKED}")' in hidden


def test_a_reader_of_fourteen_can_read_it(
    master: NotebookNode, capsys: pytest.CaptureFixture[str]
) -> None:
    """Flesch-Kincaid grade 9 belongs to the age of 14; the library measures it."""
    text = " ".join(sentences(cell.source) for cell in prose(master))
    grade = textstat.flesch_kincaid_grade(text)
    with capsys.disabled():
        print(f" [{NAME}: Flesch-Kincaid grade {grade:.1f}] ", end="")  # noqa: T201
    assert grade <= 9.0


def sentences(markdown: str) -> str:
    """Running text of a text cell; headings and items count as sentences."""
    bare = re.sub(r"<[^>]+>|[*>`#]", "", markdown)
    pieces = re.split(r"\n\s*\n|\n(?=- |\d\. )", bare)
    plain = (" ".join(re.sub(r"^(- |\d\. )", "", p.strip()).split()) for p in pieces)
    return " ".join(p if p[-1] in ".?!:" else f"{p}." for p in plain if p)


# -- what it says --


def test_it_runs_and_nothing_reaches_stderr(run: NotebookNode) -> None:
    """Anything there would cost a grade cell its points."""
    outputs = [output for cell in code(run) for output in cell.outputs]
    assert [o for o in outputs if o.get("name") == "stderr"] == []


def test_readings_wait_for_the_prediction(run: NotebookNode) -> None:
    """Running all cells shows no reading, lamp or plot before it is opened."""
    shown = 0
    for cell in code(run):
        if not cell.id.startswith(("measure-", "look", "profile")):
            continue
        for output in cell.outputs:
            html = output.data["text/html"]
            if html.startswith("<svg"):
                continue
            assert html.startswith("<details><summary>")
            assert html.endswith("</details>")
            shown += 1
    assert shown == 10


def test_every_number_has_its_source(master: NotebookNode, run: NotebookNode) -> None:
    """Volts, amps and ohms in the text: a reading on the page, or their source."""
    on_page = displayed(run)
    for cell in prose(master):
        sources: dict[str, str] = cell.metadata.get("ohmwork", {}).get("sources", {})
        for number in QUANTITY.findall(cell.source):
            assert number in sources, f"{cell.id}: {number}"
            if sources[number].startswith("reading shown"):
                assert f"| {number}\n" in on_page, f"{cell.id}: {number}"


def test_points_in_the_text_are_those_of_the_exercise(master: NotebookNode) -> None:
    """Conclusion 40 and so on, as the exercise has them."""
    text = " ".join(" ".join(c.source.split()) for c in prose(master))
    points = load_exercise(FOLDER / f"{MARKED}.exercise.yaml").points
    for name, number in points.items():
        words = "repair and its proof" if name == "repair" else name
        assert f"{words} {number}" in text


POOR_GROUND = Fault(kind="high_resistance", site="W23", resistance=3.2)


def test_the_complaint_is_what_the_van_does() -> None:
    """The driver's words, and which lamps the text calls weak, full and glowing."""
    van = ohmwork.load_vehicle("lighting_board")
    states = load_exercise(FOLDER / f"{MARKED}.exercise.yaml").states
    assert complaint(van, inject(van, POOR_GROUND), states) == (
        "Ignition on, lights day: left dip lamp faint, the rest as usual. "
        "Ignition on, lights dip: left dip lamp and left side lamp faint, "
        "the rest as usual."
    )
    broken = bench(Fault(kind="open_circuit", site="W23"), "day")
    assert broken.sights[:4] == (
        "Left dip lamp E3 off.",
        "Left side lamp E5 faint.",
        "Right dip lamp E4 full.",
        "Right side lamp E6 faint.",
    )


def test_the_healthy_van_keeps_the_rules_of_the_trade() -> None:
    """At most 0.5 V and 0.1 V are missing (common practice, no source)."""
    supply, lamp, ground = volts(bench(None, "day"), "G1:+", "E3:56b", "E3:31")
    assert supply - lamp < 0.5
    assert ground <= 0.1


def test_the_parts_of_the_path_add_up_to_the_battery() -> None:
    """Kirchhoff's voltage law, within the last digits of the display."""
    van = bench(POOR_GROUND, "day")
    supply, before, behind = volts(van, "G1:+", "E3:56b", "E3:31")
    assert supply == pytest.approx(0.188 + 4.860 + 7.51, abs=0.01)
    assert (before, behind) == (12.37, 7.51)


def test_the_lamp_of_the_worked_example_by_hand() -> None:
    """4.860 V across the lamp drive the current that leaves through W23 and GP2.

    A lamp's current goes with the 0.55th power of its voltage (Standard Handbook for
    Electrical Engineers, 11th ed., p. 22-8). At test voltage an H7 lamp takes 58 W at
    13.2 V and a W5W 5.5 W at 13.5 V (UN Regulation 37, from memory). Of the lamp's
    current part goes through W23's 3.2 Ω at 7.49 V, the rest backwards through both
    side lamps in series, half the voltage each. The law is good to a few per cent.
    """
    through_lamp = 58.0 / 13.2 * (4.860 / 13.2) ** 0.55
    through_wire = 7.49 / 3.2
    through_side_lamps = 5.5 / 13.5 * (7.49 / 2.0 / 13.5) ** 0.55
    assert through_lamp == pytest.approx(through_wire + through_side_lamps, rel=0.03)


def test_what_the_text_says_of_readings_it_does_not_show() -> None:
    """W21 bad instead of W23; a loose ground bolt of 0.4 Ω."""
    other_wire = Fault(kind="high_resistance", site="W21", resistance=3.2)
    (splice,) = volts(bench(other_wire, "day"), "E5:31")
    assert splice < 0.1
    loose_bolt = Fault(kind="high_resistance", site="GP1", resistance=0.4)
    (bolt,) = volts(bench(loose_bolt, "day"), "GP1:31")
    assert round(bolt, 1) == 1.5


# -- what a learner gets --


def test_the_released_copy_hides_tests_and_faults(
    released: Path, master: NotebookNode
) -> None:
    """The notebook is the master less its hidden tests; the books are sealed."""
    folder = released / "release" / NAME
    names = {path.name for path in folder.iterdir()}
    books = {f"{name}.tickets.json" for name in (MARKED, PRACTICE)}
    assert names == {f"{NAME}.ipynb", *books}
    copy = nbformat.read(folder / f"{NAME}.ipynb", as_version=4)
    for cell, original in zip(copy.cells, master.cells, strict=True):
        shown = original.source.partition("### BEGIN HIDDEN TESTS")[0]
        assert cell.source.strip() == shown.strip()
    for name in books:
        assert_sealed(folder / name)


def assert_sealed(path: Path) -> None:
    """No fault of a ticket book can be read in its text, or guessed by its length."""
    book = read_book(path)
    sealed = [*book.tickets.values(), *book.pool]
    assert sealed
    assert len({len(fault) for fault in sealed}) == 1
    for fault in sealed:
        raw = base64.b64decode(fault)
        assert b"kind" not in raw
        assert b"site" not in raw
    assert '"site"' not in path.read_text(encoding="utf-8")


def test_learners_of_a_class_get_faults_of_the_pool(released: Path) -> None:
    """Different ones, each within what the exercise allows."""
    book = read_book(released / "release" / NAME / f"{MARKED}.tickets.json")
    faults = [book.open(learner).fault for learner in ("s01", "s02")]
    pool = {
        (e.site, e.kind): e
        for e in load_exercise(FOLDER / f"{MARKED}.exercise.yaml").pool
    }
    assert faults[0].answer != faults[1].answer
    for fault in faults:
        entry = pool[fault.answer]
        if fault.resistance is not None:
            assert entry.low is not None
            assert entry.high is not None
            assert entry.low <= fault.resistance <= entry.high


def test_a_copy_of_ones_own_is_the_released_one(released: Path, tmp_path: Path) -> None:
    """`ohmwork open` and a class hand out the same text."""
    copy_for_learner(tmp_path, "someone")
    own, theirs = (
        nbformat.read(folder / NAME / f"{NAME}.ipynb", as_version=4)
        for folder in (tmp_path, released / "release")
    )
    assert [c.source for c in own.cells] == [c.source for c in theirs.cells]


# -- what lessons show --


def test_pictures_are_described(run: NotebookNode) -> None:
    """The plot has words for those who cannot see it; the drawing has its own."""
    (plot,) = (c for c in code(run) if c.id == "profile")
    assert re.search(r'<img [^>]*alt="[^"]*GP1', plot.outputs[0].data["text/html"])
    (drawn,) = (c for c in code(run) if c.id == "diagram")
    assert '<title id="ow-title">' in drawn.outputs[0].data["text/html"]


def test_a_name_cannot_break_out_of_the_page() -> None:
    """Titles and descriptions are text, whatever is in them."""
    van = bench(None, "day")
    shown = lesson.readings(van, ("G1:+", "G1:-"), title="<b>1 & 2</b>")
    assert "<b>&lt;b&gt;1 &amp; 2&lt;/b&gt;</b>" in shown.html
    way = [("G1:+", 12.6), ("G1:-", 0.0)]
    plot = lesson.profile(way, way, labels=('"', "2"), title="plot")
    assert 'alt="Voltage along the circuit, &quot;: G1:+ 12.60 V' in plot.html
