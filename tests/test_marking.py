"""Marks by hand: each rule of the rubric, and what kinds of work come to.

The small job has eight answers that fit its complaint, so that every share can be
counted on paper. With the dip beam on, the left dip lamp alone is off, so the fault is
in what only that lamp uses: fuse F11, wire W16, way X12:3, wire W17, the lamp E3, wire
W19, way X12:4 or wire W21.
"""

import dataclasses
import itertools
import random
import re
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from boards import measure
from ohmwork import course_folder
from ohmwork.bench import Bench
from ohmwork.errors import JobCardError, OhmworkError
from ohmwork.exercise import Exercise, Hint, load_exercise
from ohmwork.faults import Fault
from ohmwork.job import Job
from ohmwork.jobcard import JobCard, blank_card, write_card
from ohmwork.reasoning import casebook
from ohmwork.tickets import Ticket
from ohmwork.vehicle import load_vehicle
from ohmwork_grading import mark_folder
from ohmwork_grading.rubric import Marks, mark_card
from ohmwork_grading.scripted import LEARNERS
from ohmwork_grading.tickets import issue_book

VAN = load_vehicle("lighting_board")
SMALL = Exercise(
    id="x50_fault",
    title="Left dip lamp",
    brief="It does not burn.",
    vehicle="lighting_board",
    states=({"S1": "on", "S2": "dip"},),
    kinds=("open_circuit", "lamp_blown", "fuse_blown"),
    points={"conclusion": 40, "evidence": 30, "care": 10, "economy": 10, "repair": 10},
    hints=(Hint(price=4, text="Look."), Hint(price=6, text="Measure.")),
)
TRUTH = Fault(kind="open_circuit", site="W17")
OPEN_W17, OPEN_X12_3 = ("W17", "open_circuit"), ("X12:3", "open_circuit")
OPEN_AT = ("W16", "X12:3", "W17", "W19", "X12:4", "W21")
FITTING = {
    ("F11", "fuse_blown"),
    ("E3", "lamp_blown"),
    *((site, "open_circuit") for site in OPEN_AT),
}
LESSON: Exercise = load_exercise(
    course_folder() / "a20_two_sides" / "a20_marked_fault.exercise.yaml"
)


def ticket_of(fault: Fault = TRUTH, exercise: Exercise = SMALL) -> Ticket:
    """Return Ada's ticket for a fault."""
    return Ticket(id="t1", learner="ada", exercise=exercise, vehicle=VAN, fault=fault)


def start(ticket: Ticket) -> Bench:
    """Return a ticket's bench with the dip beam switched on: 10 s."""
    bench = Bench(ticket.vehicle, ticket.fault, driven=ticket.exercise.states)
    bench.set_control("S1", "on")
    bench.set_control("S2", "dip")
    return bench


def volts(bench: Bench, *places: str) -> None:
    """Note the voltage of places against the minus post: 25 s each, 15 s the first."""
    for place in places:
        if bench.hookup.lead_b is None:
            bench.place("B", "G1:-")
        bench.place("A", place)
        bench.read()
        bench.note()


def card_of(bench: Bench, ticket: Ticket) -> JobCard:
    """Return the job card of what was done."""
    return dataclasses.replace(blank_card(ticket), actions=tuple(bench.actions))


def finish(
    bench: Bench,
    conclusion: Iterable[tuple[str, str]] = (OPEN_W17,),
    repairs: Iterable[str] = ("W17",),
    *,
    proof: bool = True,
    exercise: Exercise = SMALL,
) -> Marks:
    """Conclude, repair, prove at the lamp, and return the marks."""
    bench.conclude(conclusion)
    for site in repairs:
        bench.repair(site)
    if proof:
        volts(bench, "E3:56b")
    bench.hand_in()
    ticket = ticket_of(exercise=exercise)
    return mark_card(card_of(bench, ticket), ticket)


def points(marks: Marks) -> dict[str, float]:
    """Return the points of each row."""
    return {row.name: row.points for row in marks.rows}


def reason(marks: Marks, name: str) -> str:
    """Return why a row has its points."""
    return next(row.reason for row in marks.rows if row.name == name)


# What is counted


def test_the_complaint_leaves_what_the_drawing_says() -> None:
    """Eight answers fit, those listed above, and all can be told apart."""
    stick = casebook(VAN, SMALL).yardstick(TRUTH)

    assert set(stick.candidates.answers) == FITTING
    assert stick.group == {OPEN_W17}


def test_a_perfect_job_is_worth_everything() -> None:
    """Live before W17 and dead behind it: all seven others are out, in 75 s.

    12.5 V at X12:3p clears F11, W16 and X12:3; 0 V at E3:56b the lamp and its ground.
    """
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench)

    assert points(marks) == {
        "Conclusion": 40.0, "Evidence": 30.0, "Care": 10.0, "Economy": 10.0,
        "Repair": 10.0,
    }  # fmt: skip
    assert (marks.points, marks.maximum) == (100.0, 100.0)


def test_an_empty_card_is_worth_nothing() -> None:
    """Who did nothing gets nothing, not even for care, and is told so."""
    marks = mark_card(blank_card(ticket_of()), ticket_of())

    assert marks.points == 0.0
    assert all(row.points == 0.0 for row in marks.rows)
    assert reason(marks, "Conclusion").startswith("No conclusion was written. It was ")
    assert reason(marks, "Care") == "No work to judge: no reading was noted."
    assert reason(marks, "Repair") == "Nothing was repaired."


# Conclusion


def test_a_right_guess_is_worth_a_quarter_of_the_conclusion() -> None:
    """Without a noted reading: 40 · 0.25, and half of the repair for the cure."""
    marks = finish(start(ticket_of()), proof=False)

    assert points(marks) == {
        "Conclusion": 10.0, "Evidence": 0.0, "Care": 0.0, "Economy": 0.0, "Repair": 5.0,
    }  # fmt: skip
    assert "no noted reading speaks for it" in reason(marks, "Conclusion")


@pytest.mark.parametrize(
    ("places", "others"),
    [(("X12:3p", "E3:56b"), 0), (("X12:3", "E3:56b"), 1), (("E3:56b",), 3)],
)
def test_a_conclusion_counts_by_what_the_notes_leave(
    places: tuple[str, ...], others: int
) -> None:
    """With n others left it is worth 0.25 + 0.75 / (1 + n) of its points.

    12.5 V at X12:3 cannot clear the contact of that way. 0 V at E3:56b alone leaves
    the four of the supply side.
    """
    bench = start(ticket_of())
    volts(bench, *places)

    marks = finish(bench)

    worth = 0.25 + 0.75 / (1 + others)
    assert points(marks)["Conclusion"] == pytest.approx(40.0 * worth)


@pytest.mark.parametrize(("rows", "share"), [(1, 1.0), (2, 0.7), (3, 0.5), (4, 0.3)])
def test_a_right_conclusion_counts_by_its_rows(rows: int, share: float) -> None:
    """One row is worth all, two 0.7, three 0.5 and four 0.3 of it."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    others = sorted(FITTING - {OPEN_W17})[: rows - 1]

    marks = finish(bench, [OPEN_W17, *others])

    assert points(marks)["Conclusion"] == pytest.approx(40.0 * share)
    if rows > 1:
        assert f"You named {rows} possibilities" in reason(marks, "Conclusion")


@pytest.mark.parametrize("rows", [5, 8])
def test_many_rows_are_worth_a_tenth(rows: int) -> None:
    """Five rows or more are worth 0.1."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, [OPEN_W17, *sorted(FITTING - {OPEN_W17})[: rows - 1]])

    assert points(marks)["Conclusion"] == pytest.approx(4.0)


def test_an_honest_one_of_two_is_above_a_right_guess() -> None:
    """Notes that leave X12:3 and W17, both named: 40 · 0.7 + 30 · 6/7 + …

    Evidence and economy go with the share ruled out, six of seven. A guess that is
    right has 15 points in all, and 25 for its conclusion with the same notes.
    """
    honest, lucky = start(ticket_of()), start(ticket_of())
    volts(honest, "X12:3", "E3:56b")
    volts(lucky, "X12:3", "E3:56b")

    two = finish(honest, [OPEN_X12_3, OPEN_W17], ["W17"])
    one = finish(lucky)
    guess = finish(start(ticket_of()), proof=False)

    share = 6.0 / 7.0
    assert points(two) == pytest.approx(
        {
            "Conclusion": 40.0 * 0.7,
            "Evidence": 30.0 * share,
            "Care": 10.0,
            "Economy": 10.0 * share,
            "Repair": 10.0,
        }
    )
    assert points(two)["Conclusion"] > points(one)["Conclusion"] == 25.0
    assert two.points > one.points > guess.points == 15.0


def test_a_wrong_conclusion_is_worth_nothing_even_with_good_notes() -> None:
    """Notes that speak against the learner's own conclusion count by half."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, [("E3", "lamp_blown")], ["E3"], proof=False)

    assert points(marks) == {
        "Conclusion": 0.0, "Evidence": 15.0, "Care": 10.0, "Economy": 0.0,
        "Repair": 0.0,
    }  # fmt: skip
    assert reason(marks, "Conclusion").startswith("You wrote ")
    assert ". It was wire W17 YE 1.5" in reason(marks, "Conclusion")
    assert "Your own conclusion is ruled out by reading 2: look again." in reason(
        marks, "Evidence"
    )
    assert "Time counts once the conclusion is right" in reason(marks, "Economy")


def test_the_right_place_with_the_wrong_kind() -> None:
    """Notes that rule the kind out leave a guess at the place: 0.25 · 0.4 of 40."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, [("W17", "high_resistance")])

    assert points(marks)["Conclusion"] == pytest.approx(40.0 * 0.4 * 0.25)
    assert points(marks)["Evidence"] == 15.0
    assert "The place is right, the kind is not" in reason(marks, "Conclusion")


def test_the_right_place_counts_more_while_the_notes_allow_the_kind() -> None:
    """An open W17 and one of 200 Ω look alike in volts: 12.6 · 0.22 / 200 = 14 mV.

    0.22 Ω is the lamp when cold. So both kinds at W17 are left, and the wrong one is
    worth 0.4 of the conclusion.
    """
    exercise = dataclasses.replace(SMALL, kinds=("open_circuit", "high_resistance"))
    bench = start(ticket_of(exercise=exercise))
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, [("W17", "high_resistance")], exercise=exercise)

    assert points(marks)["Conclusion"] == pytest.approx(40.0 * 0.4)
    assert "own conclusion" not in reason(marks, "Evidence")


SHORTS = [(site, "short_to_ground") for site in ("W13", "W14", "W15")]


@pytest.mark.parametrize("rows", [SHORTS[:1], SHORTS[1:2], SHORTS])
def test_any_of_a_group_is_right_and_counts_as_one(rows: list[tuple[str, str]]) -> None:
    """Shorts of three wires in one splice: one named or all three, the same points."""
    exercise = dataclasses.replace(
        SMALL, kinds=("short_to_ground", "fuse_blown", "open_circuit")
    )
    ticket = ticket_of(Fault(kind="short_to_ground", site="W14"), exercise)
    bench = start(ticket)
    bench.set_control("S2", "off")
    bench.unplug("F10")
    measure(bench, "ohms", "F10:2", "G1:-")
    bench.note()
    bench.lift("A")
    bench.unplug("X12")
    bench.unplug("X14")
    measure(bench, "ohms", "F10:2", "G1:-")
    bench.note()
    bench.conclude(rows)

    marks = mark_card(card_of(bench, ticket), ticket)

    assert points(marks)["Conclusion"] == 40.0
    assert "No test allowed here tells these apart" in reason(marks, "Conclusion")
    assert points(marks)["Evidence"] == 30.0


# Evidence


@pytest.mark.parametrize(
    ("places", "gone"),
    [
        (("X12:3p", "E3:56b"), 7),
        (("E3:56b",), 4),
        (("X12:3p",), 3),
        (("G1:+",), 0),
        (("E3:56b", "E3:56b"), 4),
    ],
)
def test_evidence_is_the_share_of_others_ruled_out(
    places: tuple[str, ...], gone: int
) -> None:
    """Of seven others, so many are out; a second look at the same adds nothing."""
    bench = start(ticket_of())
    volts(bench, *places)

    marks = finish(bench)

    assert points(marks)["Evidence"] == pytest.approx(30.0 * gone / 7.0)


def test_readings_that_were_not_noted_are_no_evidence() -> None:
    """What was only looked at proves nothing."""
    bench = start(ticket_of())
    measure(bench, "volts", "X12:3p", "G1:-")
    measure(bench, "volts", "E3:56b", "G1:-")

    assert points(finish(bench))["Evidence"] == 0.0


def test_a_note_taken_back_is_no_evidence() -> None:
    """Undo takes the note out of the evidence."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    bench.undo()

    assert points(finish(bench))["Evidence"] == pytest.approx(30.0 * 3.0 / 7.0)


def test_what_is_noted_after_the_first_repair_is_no_evidence() -> None:
    """Repairing first and measuring then proves nothing about the fault."""
    bench = start(ticket_of())
    bench.conclude([OPEN_W17])
    bench.repair("X12:3")
    volts(bench, "X12:3p", "E3:56b")
    bench.repair("W17")
    bench.hand_in()

    marks = mark_card(card_of(bench, ticket_of()), ticket_of())

    assert points(marks)["Evidence"] == points(marks)["Care"] == 0.0
    assert points(marks)["Conclusion"] == 10.0


def test_a_further_reading_would_have_settled_more() -> None:
    """Evidence that leaves something says which test to take next."""
    bench = start(ticket_of())
    volts(bench, "E3:56b")

    assert re.search(
        r"This would have settled more: \w+ .+\.$", reason(finish(bench), "Evidence")
    )


# Care


def blow_the_meter(bench: Bench) -> None:
    """Measure amps across the battery: 0.4 of the care points."""
    measure(bench, "amps", "G1:+", "G1:-")
    bench.use("volts")


def ohms_on_live(bench: Bench) -> None:
    """Measure ohms across the battery: 0.2, and no more for looking again."""
    measure(bench, "ohms", "G1:+", "G1:-")
    bench.use("volts")


def ohms_on_live_elsewhere(bench: Bench) -> None:
    """The same again with other lights: another 0.2."""
    bench.set_control("S2", "day")
    ohms_on_live(bench)


def blow_the_right_fuse(bench: Bench) -> None:
    """Join a live dip supply and ground: 0.5, as F12 goes before the jumper's fuse."""
    measure(bench, "jumper", "E4:56b", "Body:31")
    bench.use("volts")


@pytest.mark.parametrize(
    ("misuses", "cost"),
    [
        ([], 0.0),
        ([ohms_on_live], 0.2),
        ([blow_the_meter], 0.4),
        ([blow_the_right_fuse], 0.5),
        ([ohms_on_live, ohms_on_live], 0.2),
        ([ohms_on_live, ohms_on_live_elsewhere], 0.4),
        ([blow_the_meter, blow_the_right_fuse], 0.9),
        ([blow_the_meter, blow_the_meter, blow_the_meter], 1.0),
    ],
    ids=["none", "ohms", "meter", "fuse", "again", "twice", "two", "more than all"],
)
def test_each_incident_costs_its_share_of_care(
    misuses: list[Callable[[Bench], None]], cost: float
) -> None:
    """Shares add up, and nothing falls below 0."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    for misuse in misuses:
        misuse(bench)

    marks = finish(bench, proof=False)

    assert points(marks)["Care"] == pytest.approx(10.0 * (1.0 - cost))
    assert (reason(marks, "Care") == "Nothing was damaged.") is (not misuses)


def test_care_names_what_happened_and_how_often() -> None:
    """The same incident three times is said once, with its number."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    for _ in range(3):
        blow_the_meter(bench)
    blow_the_right_fuse(bench)

    assert reason(finish(bench, proof=False), "Care") == (
        "Amps across a supply: the meter's fuse blew (3 times). "
        "Fuse F12 blew through the fused jumper."
    )


def test_a_new_fuse_into_a_short_costs_half_of_care() -> None:
    """F10 renewed while W14 still touches ground blows again: 0.5."""
    exercise = dataclasses.replace(SMALL, kinds=("short_to_ground", "fuse_blown"))
    ticket = ticket_of(Fault(kind="short_to_ground", site="W14"), exercise)
    bench = start(ticket)
    volts(bench, "F10:2")
    bench.conclude(SHORTS)
    bench.repair("F10")

    marks = mark_card(card_of(bench, ticket), ticket)

    assert points(marks)["Care"] == 5.0


# Economy


@pytest.mark.parametrize("detours", [0, 1, 3, 5, 8, 12, 20])
def test_economy_falls_from_twice_to_six_times_a_sound_search(detours: int) -> None:
    """All points up to 2 T + 120 s, none from 6 T + 120 s on, straight in between.

    T is what the sound search costs. The job takes 75 s and each detour, a connector
    opened and closed, 90 s.
    """
    sound = casebook(VAN, SMALL).yardstick(TRUTH).seconds
    free, late = 2 * sound + 120, 6 * sound + 120
    taken = 75 + 90 * detours
    share = min(1.0, max(0.0, (late - taken) / (late - free)))
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    for _ in range(detours):
        bench.unplug("X14")
        bench.plug("X14")

    marks = finish(bench)

    assert points(marks)["Economy"] == pytest.approx(10.0 * share)
    clock = [f"{s // 60} min {s % 60:02d} s" for s in (taken, sound)]
    assert reason(marks, "Economy") == (
        f"In a workshop your tests would take {clock[0]}, a sound search {clock[1]}."
    )


def test_time_after_the_conclusion_is_free() -> None:
    """Repair and proof take as long as they take."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    bench.conclude([OPEN_W17])
    bench.repair("W17")
    for _ in range(20):
        bench.unplug("X14")
        bench.plug("X14")

    marks = mark_card(card_of(bench, ticket_of()), ticket_of())

    assert points(marks)["Economy"] == 10.0


# Repair


@pytest.mark.parametrize(
    ("repairs", "proof", "worth", "text"),
    [
        (["W17"], True, 10.0, "The complaint is cured. Reading 3 proves it."),
        (["W17"], False, 5.0, "The complaint is cured. No reading after the repair"),
        (["W16", "W17"], True, 5.0, "Repaired without need: W16."),
        (["W16", "E3", "W17"], True, 0.0, "Repaired without need: W16, E3."),
        (["E3", "W16", "F11", "W17"], True, 0.0, "without need: E3, W16, F11."),
        (["W16"], True, 0.0, "The complaint is still there. Repaired without need"),
        ([], False, 0.0, "Nothing was repaired."),
    ],
)  # fmt: skip
def test_repair_is_half_cure_and_half_proof(
    repairs: list[str], worth: float, text: str, *, proof: bool
) -> None:
    """5 points for the cure, 5 for its proof, and 5 lost for each needless repair."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, repairs=repairs, proof=proof)

    assert points(marks)["Repair"] == worth
    assert text in reason(marks, "Repair")


def test_a_reading_with_the_lights_off_proves_no_cure() -> None:
    """A proof is taken in a state in which the complaint had shown."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    bench.conclude([OPEN_W17])
    bench.repair("W17")
    bench.set_control("S2", "off")
    volts(bench, "E3:56b")

    marks = mark_card(card_of(bench, ticket_of()), ticket_of())

    assert points(marks)["Repair"] == 5.0


@pytest.mark.parametrize(("tool", "worth"), [("volts", 5.0), ("amps", 10.0)])
def test_with_the_fuse_out_a_current_alone_proves(tool: str, worth: float) -> None:
    """The ammeter in the fuse's place lights the lamp; a voltmeter leaves it dark."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")
    bench.conclude([OPEN_W17])
    bench.repair("W17")
    bench.lift("A")
    bench.lift("B")
    bench.unplug("F11")
    bench.use(tool)
    bench.place("A", "F11:1")
    bench.place("B", "F11:2")
    bench.read()
    bench.note()

    marks = mark_card(card_of(bench, ticket_of()), ticket_of())

    assert points(marks)["Repair"] == worth


def test_a_control_turned_back_to_rest_proves_as_one_never_touched() -> None:
    """Side lamps burn with the ignition off, whether it had been on before or not."""
    exercise = dataclasses.replace(SMALL, states=({"S2": "side"},))
    ticket = ticket_of(Fault(kind="open_circuit", site="W18"), exercise)
    bench = start(ticket)
    bench.conclude([("W18", "open_circuit")])
    bench.repair("W18")
    bench.set_control("S1", "off")
    bench.set_control("S2", "side")
    volts(bench, "E5:58")

    marks = mark_card(card_of(bench, ticket), ticket)

    assert points(marks)["Repair"] == 10.0


def test_repairing_within_a_group_is_not_needless() -> None:
    """Who cannot tell W13 from W14 may renew both, and the fuse the short blew."""
    exercise = dataclasses.replace(SMALL, kinds=("short_to_ground", "fuse_blown"))
    ticket = ticket_of(Fault(kind="short_to_ground", site="W14"), exercise)
    bench = start(ticket)
    bench.conclude(SHORTS)
    for site in ("W13", "W14", "F10"):
        bench.repair(site)
    volts(bench, "E5:58")

    marks = mark_card(card_of(bench, ticket), ticket)

    assert points(marks)["Repair"] == 10.0


# Hints and the exercise's own points


@pytest.mark.parametrize(
    ("hints", "cost"), [([], 0), ([1], 4), ([1, 2], 10), ([1, 1], 4), ([7], 0)]
)
def test_hints_cost_their_price_once(hints: list[int], cost: int) -> None:
    """4 for the first and 6 for the second; shown again they cost nothing."""
    bench = start(ticket_of())
    for number in hints:
        bench.hint(number)
    volts(bench, "X12:3p", "E3:56b")

    assert finish(bench).points == 100.0 - cost


def test_marks_never_fall_below_nothing() -> None:
    """Hints alone leave 0, not less."""
    bench = Bench(VAN, TRUTH)
    bench.hint(1)
    bench.hint(2)

    marks = mark_card(card_of(bench, ticket_of()), ticket_of())

    assert sum(row.points for row in marks.rows) == -10.0
    assert marks.points == 0.0


def test_an_exercise_sets_its_own_points() -> None:
    """A perfect job gets what the exercise gives for each row."""
    own = {"conclusion": 50, "evidence": 100, "care": 0, "economy": 5, "repair": 20}
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench, exercise=dataclasses.replace(SMALL, points=own))

    assert {k.lower(): v for k, v in points(marks).items()} == own
    assert (marks.points, marks.maximum) == (175.0, 175.0)


# The feedback


def test_reasons_name_readings_by_their_number() -> None:
    """Three ruled out by the first, four by the second, the third proves the repair."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    marks = finish(bench)

    assert reason(marks, "Conclusion").endswith(
        "After readings 1 and 2 no other place is left."
    )
    assert reason(marks, "Evidence") == (
        "7 other faults would give the same complaint. "
        "Reading 1 rules out 3, reading 2 rules out 4."
    )
    assert reason(marks, "Repair").endswith("Reading 3 proves it.")


def test_reasons_name_readings_that_leave_something() -> None:
    """What is left is told after the readings that left it."""
    bench = start(ticket_of())
    volts(bench, "G1:+", "E3:56b")

    marks = finish(bench)

    assert "After readings 1 and 2 there are 3 more that you did not name" in reason(
        marks, "Conclusion"
    )
    assert reason(marks, "Evidence").startswith(
        "7 other faults would give the same complaint. Reading 2 rules out 4. "
        "Still possible: left dip fuse F11 (fuse blown); "
    )


def test_a_useless_reading_is_named_as_such() -> None:
    """A reading at the battery rules out nothing, and its number says so."""
    bench = start(ticket_of())
    volts(bench, "G1:+")

    assert reason(finish(bench), "Evidence").startswith(
        "7 other faults would give the same complaint. None is ruled out by reading 1."
    )


def test_the_feedback_holds_marks_readings_and_a_sound_search() -> None:
    """Plain text of lines that fit a page, with every row and every reading."""
    bench = start(ticket_of())
    volts(bench, "X12:3p", "E3:56b")

    text = finish(bench).text

    lines = text.splitlines()
    assert lines[0] == "Left dip lamp: 100 of 100 points"
    assert max(map(len, lines)) <= 88
    for name in ("Conclusion: 40 of 40.", "Evidence: 30 of 30.", "Care: 10 of 10."):
        assert name in text
    set_as = "; ignition on, lights dip"
    first = rf"^1\. Volts DC X12:3p to G1:-{set_as}: 12\.\d\d V - rules out 3\.$"
    second = rf"^2\. Volts DC E3:56b to G1:-{set_as}: 0\.\d{{3}} V - rules out 4\.$"
    assert re.search(first, text, re.M)
    assert re.search(second, text, re.M)
    assert "A sound search on this vehicle" in lines
    assert lines[-1] == "Ticket t1"


def test_a_short_is_explained() -> None:
    """Who renews the fuse alone reads why it blew, and how such a fault is found."""
    ticket = ticket_of(Fault(kind="short_to_ground", site="W16"), LESSON)

    def marks_of(conclusion: tuple[str, str], *repairs: str) -> Marks:
        bench = start(ticket)
        volts(bench, "E3:56b")
        bench.conclude([conclusion])
        for site in repairs:
            bench.repair(site)
        bench.hand_in()
        return mark_card(card_of(bench, ticket), ticket)

    fuse = marks_of(("F11", "fuse_blown"), "F11")
    assert reason(fuse, "Conclusion") == (
        "You wrote left dip fuse F11 (fuse blown). It was wire W16 YE 1.5, F11:2 to "
        "X12:3 (short to ground). The fuse blew because of that short."
    )
    assert "The new fuse comes last." in fuse.text
    wire = marks_of(("W16", "short_to_ground"), "W16")
    assert reason(wire, "Repair") == (
        "The complaint is still there. The short has blown the fuse; fit a new one as "
        "well."
    )


# Folders


def test_a_folder_is_marked_by_the_trusted_book(tmp_path: Path) -> None:
    """The card is the learner's, the ticket the instructor's own."""
    book = issue_book(LESSON, VAN, ["ada", "ben"], chosen={"ada": TRUTH}, seed=1)
    (tmp_path / "a20_marked_fault.tickets.json").write_text(book.to_text(), "utf-8")
    ticket = book.open("ada")
    bench = start(ticket)
    bench.conclude([OPEN_W17])
    write_card(tmp_path / "a20_marked_fault.card.json", card_of(bench, ticket))

    marks = mark_folder(tmp_path, "a20_marked_fault", "ada", tmp_path)

    assert points(marks)["Conclusion"] == 10.0
    with pytest.raises(
        JobCardError, match=r"^This job card is for learner ada; wanted"
    ):
        mark_folder(tmp_path, "a20_marked_fault", "ben", tmp_path)


# Kinds of work, and cards that were moved


FAULTS = tuple(entry.at(0.5) for entry in LESSON.pool[::4])


def scripted(kind: str, fault: Fault, folder: Path) -> JobCard:
    """Return the card of a scripted learner on a fault."""
    job = Job(ticket_of(fault, LESSON), folder / "a20_marked_fault.card.json")
    LEARNERS[kind](job, random.Random(fault.site))
    return job.card()


@pytest.fixture(scope="module")
def careful(tmp_path_factory: pytest.TempPathFactory) -> dict[Fault, JobCard]:
    """Return the card of a careful learner on each fault."""
    folders = (tmp_path_factory.mktemp("careful") for _ in itertools.count())
    return {
        fault: scripted("careful", fault, folder)
        for fault, folder in zip(FAULTS, folders, strict=False)
    }


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.kind} {f.site}")
def test_careful_work_is_worth_85_or_more(
    fault: Fault, careful: dict[Fault, JobCard]
) -> None:
    """Who measures until one answer is left, repairs and proves, does well."""
    assert mark_card(careful[fault], ticket_of(fault, LESSON)).points >= 85.0


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.kind} {f.site}")
def test_guessing_is_worth_35_or_less(fault: Fault, tmp_path: Path) -> None:
    """A guess at random, and even one that happens to be right, stays low."""
    ticket = ticket_of(fault, LESSON)
    card = scripted("guessing", fault, tmp_path)
    lucky = Bench(VAN, fault, driven=LESSON.states)
    lucky.conclude([fault.answer])
    lucky.repair(fault.site)
    volts(lucky, "E3:56b")
    lucky.hand_in()

    assert mark_card(card, ticket).points <= 35.0
    assert mark_card(card_of(lucky, ticket), ticket).points <= 35.0


def moved(card: JobCard, fault: Fault) -> JobCard:
    """Return a card's acts done on another fault, with what is displayed there.

    What is not possible there is left out: the forger edits the file by hand.
    """
    bench = Bench(VAN, fault, driven=LESSON.states)
    for act in card.actions:
        try:
            bench.perform(act)
        except OhmworkError:
            continue
    return card_of(bench, ticket_of(fault, LESSON))


W16_OPEN = Fault(kind="open_circuit", site="W16")
W16_POOR = Fault(kind="high_resistance", site="W16", resistance=2.0)
X12_3_OPEN = Fault(kind="open_circuit", site="X12:3")
PAIRS = [
    *zip(FAULTS, (*FAULTS[1:], FAULTS[0]), strict=True),
    *itertools.permutations([W16_OPEN, X12_3_OPEN]),
    *itertools.permutations([W16_POOR, X12_3_OPEN]),
]
"""Each fault of the sample with the next one, and neighbours one could mistake."""


@pytest.mark.parametrize(("own", "other"), PAIRS, ids=lambda f: f"{f.kind} {f.site}")
def test_a_card_moved_to_another_fault_is_worth_40_or_less(
    own: Fault, other: Fault, careful: dict[Fault, JobCard], tmp_path: Path
) -> None:
    """As it is the card is refused; rewritten to fit, its conclusion does not."""
    card = careful.get(own) or scripted("careful", own, tmp_path)
    ticket = ticket_of(other, LESSON)

    with pytest.raises(JobCardError, match=r"Act \d+ of the job card "):
        mark_card(card, ticket)
    assert mark_card(moved(card, other), ticket).points <= 40.0


@pytest.mark.parametrize(
    ("own", "other"),
    [(W16_OPEN, W16_POOR), (W16_POOR, W16_OPEN)],
    ids=lambda f: f.kind,
)
def test_a_card_moved_to_another_kind_at_its_place(
    own: Fault, other: Fault, tmp_path: Path
) -> None:
    """It names and cures the right part: 16 + 30 + 10 + 0 + 10 points at the most."""
    card = scripted("careful", own, tmp_path)
    ticket = ticket_of(other, LESSON)

    with pytest.raises(JobCardError, match=r"Act \d+ of the job card "):
        mark_card(card, ticket)
    assert mark_card(moved(card, other), ticket).points <= 66.0


def test_a_neighbours_card_is_refused_by_its_name() -> None:
    """Handed in by Ben, Ada's card is told to be hers."""
    card = card_of(start(ticket_of()), ticket_of())
    bens = dataclasses.replace(ticket_of(), learner="ben")

    with pytest.raises(JobCardError, match=r"is for learner ada; wanted is ben\."):
        mark_card(card, bens)


def test_a_complaint_that_leaves_few_rivals_lets_notes_confirm_it() -> None:
    """Both sides of the lamp measured: worth something, though one rival stands.

    A poor W23 dims both left lamps, which else only GP1 does. The two readings tell
    the ground side from all other faults of the van, but not W23 from GP1.
    """
    poor = Fault(kind="high_resistance", site="W23", resistance=2.0)
    ticket = ticket_of(poor, LESSON)
    bench = start(ticket)
    volts(bench, "E3:56b", "E3:31")
    bench.conclude([("W23", "high_resistance"), ("GP1", "high_resistance")])
    bench.repair("W23")
    volts(bench, "E3:56b")
    bench.hand_in()

    marks = mark_card(card_of(bench, ticket), ticket)

    assert 15.0 < points(marks)["Evidence"] < 30.0
    assert "that counts as well" in reason(marks, "Evidence")
    assert marks.points > 70.0
