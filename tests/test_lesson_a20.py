"""Lesson a20 says what its board does, and a class gets it as nbgrader cuts it.

Outside checks: nbgrader's own command cuts the learner's copy; one reading of the
worked example is worked by hand. What holds of every lesson is in test_lesson.py.
"""

from pathlib import Path

import nbformat
import pytest

import ohmwork
from ohmwork import lesson
from ohmwork.course import copy_for_learner
from ohmwork.exercise import load_exercise
from ohmwork.faults import Fault, inject
from ohmwork.symptoms import complaint
from ohmwork.tickets import read_book
from ohmwork_grading.classroom import create
from small_class import nbgrader

NAME = "a20_two_sides"
FOLDER = ohmwork.course_folder() / NAME
MARKED, PRACTICE = "a20_marked_fault", "a20_practice_fault"


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


def bench(fault: Fault | None, lights: str) -> ohmwork.Bench:
    """The van with a fault, ignition on and its lights in a position."""
    bench = ohmwork.Bench(ohmwork.load_vehicle("lighting_board"), fault)
    bench.set_control("S1", "on")
    bench.set_control("S2", lights)
    return bench


def volts(bench: ohmwork.Bench, *places: str) -> list[float]:
    """Voltages against battery minus. [V]"""
    return [value for _, value in lesson.along(bench, places)]


# -- what it says --


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


def test_the_released_folder_holds_what_a_learner_needs(released: Path) -> None:
    """Notebook, books and questions; no exercise with its pool."""
    names = {path.name for path in (released / "release" / NAME).iterdir()}
    books = {f"{name}.tickets.json" for name in (MARKED, PRACTICE)}
    assert names == {f"{NAME}.ipynb", f"{NAME}.questions.yaml", *books}


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


def test_a_name_cannot_break_out_of_the_page() -> None:
    """Titles and descriptions are text, whatever is in them."""
    van = bench(None, "day")
    shown = lesson.readings(van, ("G1:+", "G1:-"), title="<b>1 & 2</b>")
    assert "<b>&lt;b&gt;1 &amp; 2&lt;/b&gt;</b>" in shown.html
    way = [("G1:+", 12.6), ("G1:-", 0.0)]
    plot = lesson.profile(way, way, labels=('"', "2"), title="plot")
    assert 'alt="Voltage along the circuit, &quot;: G1:+ 12.60 V' in plot.html
