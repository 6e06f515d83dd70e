"""Which faults are still possible: the truth always is, and a sound search finds it.

Predictions come from many variants of the van solved at once. They are held against
the bench, one fault and one lead at a time, as a learner would take them.
"""

import contextlib
import dataclasses
import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from ohmwork import course_folder
from ohmwork.bench import Bench
from ohmwork.errors import OhmworkError
from ohmwork.exercise import Exercise, load_exercise
from ohmwork.faults import KINDS, RANGED, RESISTANCE_RANGES, Fault, inject, universe
from ohmwork.instruments import TOOLS, Hookup, Outcome, Reading, tolerance
from ohmwork.jobcard import blank_card
from ohmwork.network import Network, Setup
from ohmwork.parts import Wire
from ohmwork.reasoning import Casebook, casebook
from ohmwork.reasoning.survey import Probe, probes, survey, touchable
from ohmwork.tickets import Ticket
from ohmwork.vehicle import Vehicle, load_vehicle
from ohmwork_grading.replay import replay

VAN = load_vehicle("lighting_board")
EXERCISE: Exercise = dataclasses.replace(
    load_exercise(course_folder() / "a20_two_sides" / "a20_marked_fault.exercise.yaml"),
    tools=tuple(TOOLS),
)
UNIVERSE = universe(VAN, EXERCISE.kinds)
WHOLE = dataclasses.replace(EXERCISE, kinds=tuple(KINDS))
"""The same where any fault may be meant."""


@pytest.fixture(scope="module")
def book() -> Casebook:
    """Return the casebook of the marked fault, in which all nine kinds may be meant."""
    return casebook(VAN, EXERCISE)


def valued(fault: Fault, share: float) -> Fault:
    """Return the fault with a resistance at a share of the range, on a ratio scale."""
    if fault.kind not in RANGED:
        return fault
    low, high = RESISTANCE_RANGES[fault.kind]
    return dataclasses.replace(fault, resistance=low * (high / low) ** share)


def bench_of(fault: Fault) -> Bench:
    """Return the bench on which this fault came in."""
    return Bench(VAN, fault, driven=EXERCISE.states)


def take(bench: Bench, test: Probe) -> Reading:
    """Do a test by hand, from whatever state the bench is in."""
    bench.lift("A")
    bench.lift("B")
    for part in sorted(bench.setup.apart):
        bench.plug(part)
    for control in VAN.controls:
        bench.set_control(control, test.setup.controls.get(control, "off"))
    for part in sorted(test.setup.apart):
        bench.unplug(part)
    bench.use(test.hookup.tool)
    if test.hookup.lead_b is not None:
        bench.place("B", test.hookup.lead_b)
    assert test.hookup.lead_a is not None
    bench.place("A", test.hookup.lead_a)
    return bench.read()


def agree(one: Reading, other: Reading) -> bool:
    """Whether two displays cannot be told apart by more than meter and parts allow."""
    if one.value is None or other.value is None or one.verdict == "open":
        return (one.text, one.verdict) == (other.text, other.verdict)
    channel = {"volts": "volts", "ohms": "ohms"}[one.tool]
    return bool(
        other.verdict != "open"
        and abs(one.value - other.value) <= tolerance(channel, one.value)
    )


# The truth is never ruled out


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(UNIVERSE), st.floats(0.0, 1.0))
def test_no_test_rules_out_the_truth(
    book: Casebook, fault: Fault, share: float
) -> None:
    """For any fault and value, one segment of the true answer stands every test."""
    fault = valued(fault, share)

    standing = book.candidates(fault) & book.answers_of(fault).all(axis=0)

    assert fault.answer in book.universe.left(standing)


@pytest.fixture(scope="module")
def whole_book() -> Casebook:
    """Return the casebook of a job in which any fault may be meant."""
    return casebook(VAN, WHOLE)


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, len(universe(VAN)) - 1), share=st.floats(0.0, 1.0))
def test_no_test_rules_out_any_fault_at_all(
    whole_book: Casebook, number: int, share: float
) -> None:
    """The same for faults of every kind a vehicle can have."""
    fault = valued(universe(VAN)[number], share)

    standing = whole_book.candidates(fault) & whole_book.answers_of(fault).all(axis=0)

    assert fault.answer in whole_book.universe.left(standing)


@pytest.mark.parametrize("ohms", [63.6, 63.647, 63.66, 63.7, 63.75, 63.762, 63.8])
def test_the_truth_stands_where_the_relay_changes_its_mind(
    ohms: float, book: Casebook
) -> None:
    """Near the jump of K3, on either side and amid it, the truth is kept as well."""
    fault = Fault(kind="high_resistance", site="W6", resistance=ohms)

    standing = book.candidates(fault) & book.answers_of(fault).all(axis=0)

    assert fault.answer in book.universe.left(standing)


UNSHRUNK = (Phase.explicit, Phase.reuse, Phase.generate)
"""A failing example is shown as found: making it small takes minutes."""

ATTEMPTS = st.lists(
    st.tuples(
        st.sampled_from(["off", "on"]),
        st.sampled_from(["off", "day", "side", "dip"]),
        st.sets(
            st.sampled_from(["X4", "X12", "X14", "F10", "F11", "F12", "K3"]), max_size=2
        ),
        st.sampled_from(list(TOOLS)),
        st.sampled_from([*VAN.reachable, *(w.name for w in VAN.of_type(Wire))]),
        st.sampled_from(VAN.reachable),
        st.booleans(),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=20, deadline=None, phases=UNSHRUNK)
@given(st.sampled_from(UNIVERSE), st.floats(0.0, 1.0), ATTEMPTS)
@example(
    Fault(kind="high_resistance", site="W6"),
    0.83,
    [("on", "day", set(), "volts", "K3:86", "G1:-", False)],
)
def test_no_work_whatever_rules_out_the_truth(
    fault: Fault, share: float, attempts: list[tuple[Any, ...]]
) -> None:
    """Any tools on any places in any state: what is noted never speaks against it.

    A tool may be left connected and be read again in the states that follow.
    """
    fault = valued(fault, share)
    bench = bench_of(fault)
    for ignition, lights, apart, tool, a, b, leaves in attempts:
        setup = Setup(controls={"S1": ignition, "S2": lights}, apart=frozenset(apart))
        hookup = Hookup(tool=tool, lead_a=a, lead_b=b)
        with contextlib.suppress(OhmworkError):
            take(bench, Probe(setup=setup, hookup=hookup))
            bench.note()
            if leaves:
                bench.leave()
        for number in range(1, len(bench.left) + 1):
            with contextlib.suppress(OhmworkError):
                bench.read(number)
                bench.note()
    ticket = Ticket(id="t", learner="s", exercise=EXERCISE, vehicle=VAN, fault=fault)
    card = dataclasses.replace(blank_card(ticket), actions=tuple(bench.actions))

    done = replay(card, ticket)

    assert not [f for f in done.findings if fault.answer in f.ruled_out]


# Predictions are what the bench shows


FAULTS = (
    Fault(kind="open_circuit", site="W16"),
    Fault(kind="open_circuit", site="GP1"),
    Fault(kind="high_resistance", site="X14:4", resistance=2.0),
    Fault(kind="short_to_ground", site="W24"),
    Fault(kind="short_to_supply", site="W11"),
)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.kind} {f.site}")
def test_the_survey_predicts_the_bench(fault: Fault, book: Casebook) -> None:
    """Reading all places together shows nothing else than one lead at a time."""
    predicted = survey(Network(inject(VAN, fault)), book.tests, book.states)
    bench = bench_of(fault)

    for test, outcome in zip(book.tests, predicted, strict=True):
        shown = take(bench, test)
        for channel, value in readable(shown).items():
            error = abs(float(outcome.channels[channel]) - value)
            assert error <= tolerance(channel, value), test.describe(VAN)
    assert bench.incidents == [] or fault.kind == "short_to_supply"


def readable(shown: Reading) -> dict[str, float]:
    """Return what a display tells, by the channel of its outcome."""
    words = {
        "blown": ("blown", 1.0), "whole": ("blown", 0.0),
        "pulled in": ("pulled_in", 1.0), "at rest": ("pulled_in", 0.0),
    }  # fmt: skip
    if shown.text in words:
        return dict([words[shown.text]])
    if shown.text == "?":
        return {"live": 1.0}
    if shown.text == "overload":
        return {"ohms": 40e6}
    assert shown.value is not None
    if shown.tool == "volts":
        return {"volts": shown.value, "open": float(shown.verdict == "open")}
    return {shown.tool: shown.value}


# Groups


SHORTS = tuple(
    Fault(kind="short_to_ground", site=site) for site in ("W13", "W14", "W15")
)
"""Three wires of one splice, out of reach, behind one fuse: one bare strand's length
of copper, 0.01 Ω, is all that distinguishes their shorts."""


def test_what_meets_in_a_splice_is_one_answer(book: Casebook) -> None:
    """Shorts of the three wires at SP1 form a group, whichever is true."""
    answers = {fault.answer for fault in SHORTS}

    assert [book.yardstick(fault).group for fault in SHORTS] == [answers] * 3


def test_members_of_a_group_agree_on_every_test(book: Casebook) -> None:
    """On the bench no test tells them apart, and none tells them from themselves."""
    one, *others = (bench_of(fault) for fault in SHORTS)

    for test in book.tests:
        shown = take(one, test)
        assert all(agree(shown, take(other, test)) for other in others), test.describe(
            VAN
        )


def test_who_is_not_of_the_group_disagrees_on_some_test(book: Casebook) -> None:
    """Each other answer that fits the complaint is told apart on the bench."""
    truth = SHORTS[0]
    stick = book.yardstick(truth)
    others = set(stick.candidates.answers) - stick.group
    fixed = [(site, kind) for site, kind in sorted(others) if kind not in RANGED]
    shown = [take(bench, test) for bench in [bench_of(truth)] for test in stick.tests]

    assert fixed
    for site, kind in fixed:
        bench = bench_of(Fault(kind=kind, site=site))
        readings = [take(bench, test) for test in stick.tests]
        pairs = zip(shown, readings, strict=True)
        assert not all(agree(a, b) for a, b in pairs), (site, kind)


# Segments and jumps


def test_segments_stop_where_the_relay_stops_pulling_in(book: Casebook) -> None:
    """K3 pulls in at 7.2 V: 12.6 V · 85 Ω / 7.2 V − 85 Ω = 63.75 Ω in its feed.

    Copper, contacts and the battery itself have 0.13 Ω at most of that, and a jump is
    found to 0.2 %.
    """
    meant = book.universe
    (owner,) = (
        k for k, a in enumerate(meant.answers) if a == ("W6", "high_resistance")
    )
    mine = np.flatnonzero(meant.owner == owner)
    ends = [
        (
            meant.columns[meant.low[k]].resistance,
            meant.columns[meant.high[k]].resistance,
        )
        for k in mine
    ]
    jump = 12.6 * 85.0 / 7.2 - 85.0

    below = max(high for _, high in ends if high is not None and high <= jump)
    above = min(low for low, _ in ends if low is not None and low > below)

    assert jump - 0.13 - 0.002 * jump <= below <= jump
    assert 1.0 < above / below <= 1.002
    lowest, highest = RESISTANCE_RANGES["high_resistance"]
    assert sorted(ends)[0][0] == lowest
    assert sorted(ends)[-1][1] == pytest.approx(highest, rel=1e-12)


def test_segments_cover_each_range_without_a_gap_but_at_jumps(book: Casebook) -> None:
    """The end of one segment is the beginning of the next, within 0.2 %."""
    meant = book.universe
    for owner in range(len(meant.answers)):
        mine = np.flatnonzero(meant.owner == owner)
        ends = sorted(
            (meant.columns[meant.low[k]].resistance or 1.0,
             meant.columns[meant.high[k]].resistance or 1.0)
            for k in mine
        )  # fmt: skip
        steps = [b[0] / a[1] for a, b in itertools.pairwise(ends)]
        assert all(1.0 - 1e-12 <= step <= 1.002 for step in steps)


def test_narrowed_hypotheses_predict_the_same(book: Casebook) -> None:
    """What the complaint leaves is the universe's part, column by column."""
    fault = Fault(kind="open_circuit", site="W16")
    possible = book.candidates(fault)
    few = book.universe.only(possible)
    tests = book.tests[:40]

    shown = survey(few.network, tests, book.states)
    true = survey(Network(inject(VAN, fault)), tests, book.states)

    assert set(few.answers) == book.universe.left(possible)
    for number, (predicted, actual) in enumerate(zip(shown, true, strict=True)):
        whole = book.universe.fits(book.shown[number], actual)
        left = few.left(few.fits(predicted, actual))
        assert left == book.universe.left(whole & possible)


# The yardstick


MEANT = (
    *(entry.at(0.5) for entry in EXERCISE.pool[::2]),
    Fault(kind="fuse_blown", site="F11"),
    Fault(kind="wrong_lamp", site="E3"),
    Fault(kind="short_to_supply", site="W16"),
    Fault(kind="relay_contact_burnt", site="K3", resistance=1.0),
    Fault(kind="lamp_blown", site="E4"),
)


def test_all_nine_kinds_are_searched_for() -> None:
    """The faults of the next test are of every kind."""
    assert {fault.kind for fault in MEANT} == set(EXERCISE.kinds)
    assert len(EXERCISE.kinds) == 9


@pytest.mark.parametrize("fault", MEANT, ids=lambda f: f"{f.kind} {f.site}")
def test_the_yardstick_isolates_the_fault(fault: Fault, book: Casebook) -> None:
    """Its tests leave the truth alone, and each of them rules something out."""
    stick = book.yardstick(fault)
    fits = book.answers_of(fault)
    standing = book.candidates(fault)
    left = [book.universe.left(standing)]
    for test in stick.tests:
        standing = standing & fits[book.tests.index(test)]
        left.append(book.universe.left(standing))

    assert stick.group == {fault.answer}
    assert left[0] == set(stick.candidates.answers)
    assert left[-1] == {fault.answer}
    assert all(after < before for before, after in itertools.pairwise(left))


def test_a_test_costs_what_its_acts_cost() -> None:
    """Volts in the dip beam: two controls, a lead, a look; a pulled relay costs more.

    Acts cost 5 s a control, 15 a lead, 10 a reading, 60 to pull, 30 to fit, 5 a tool.
    """
    on = Setup(controls={"S1": "on", "S2": "dip"})
    volts = Probe(setup=on, hookup=Hookup(tool="volts", lead_a="E3:31", lead_b="G1:-"))
    coil = Probe(
        setup=Setup(apart=frozenset({"K3"})),
        hookup=Hookup(tool="ohms", lead_a="K3:86p", lead_b="K3:85p"),
    )

    assert volts.seconds == 2 * 5 + 15 + 10
    assert coil.seconds == 60 + 30 + 2 * 15 + 10 + 2 * 5
    assert volts.describe(VAN) == "Volts DC E3:31 to G1:-; ignition on, lights dip"
    assert coil.describe(VAN) == (
        "Ohms K3:86p to K3:85p; ignition off, lights off, K3 apart"
    )


def test_next_test_ends_when_nothing_else_is_left(book: Casebook) -> None:
    """With the truth alone there is no test to go on with; with all there is."""
    fault = Fault(kind="open_circuit", site="W16")
    everything = frozenset(book.universe.answers)

    assert book.next_test(fault, frozenset({fault.answer})) is None
    assert book.next_test(fault, everything) in book.tests


def test_next_test_rules_an_answer_out(book: Casebook) -> None:
    """Of two kinds of fault at one place, the test to go on with settles which it is.

    Advice that only narrows the range of a resistance would be followed for nothing.
    """
    settled = 0
    for site in ("W16", "W23", "W15"):
        open_there = Fault(kind="open_circuit", site=site)
        both = frozenset({open_there.answer, (site, "high_resistance")})
        owners = [k for k, a in enumerate(book.universe.answers) if a in both]
        standing = book.candidates(open_there) & np.isin(book.universe.owner, owners)
        if len(book.universe.left(standing)) < 2:
            continue
        test = book.next_test(open_there, both)
        assert test is not None
        fits = book.answers_of(open_there)[book.tests.index(test)]
        assert book.universe.left(standing & fits) == {open_there.answer}
        settled += 1
    assert settled > 0


def test_a_test_that_cannot_tell_promises_nothing(book: Casebook) -> None:
    """Volts at the minus post itself are 0 for every fault."""
    (useless,) = (
        number
        for number, test in enumerate(book.tests)
        if test.hookup == Hookup(tool="volts", lead_a="G1:-", lead_b="G1:-")
        and test.setup.controls == {"S1": "on", "S2": "dip"}
    )

    worth = book.worth(np.full(len(book.universe.owner), fill_value=True))

    assert worth[useless] == 0.0
    assert (worth >= 0.0).all()
    assert worth.max() > 0.0


def test_the_same_exercise_has_one_casebook(book: Casebook) -> None:
    """Asked again, or with other points and hints, it is the same one."""
    other = dataclasses.replace(EXERCISE, hints=(), points={**EXERCISE.points})

    assert casebook(load_vehicle("lighting_board"), other) is book


# Tests a vehicle offers


@pytest.mark.parametrize("tools", [("volts",), ("ohms", "look"), ()])
def test_tests_use_only_the_tools_that_are_allowed(tools: tuple[str, ...]) -> None:
    """An exercise without a tool has no test with it."""
    offered = probes(VAN, EXERCISE.states, tools)

    assert {test.hookup.tool for test in offered} == set(tools)


def test_every_test_is_possible_on_the_bench(book: Casebook) -> None:
    """No test is refused, and none is misuse, on a healthy van."""
    bench = Bench(VAN)

    for test in book.tests:
        take(bench, test)

    assert bench.incidents == []


def test_touchable_places_need_nothing_pulled() -> None:
    """A lead can touch each of them as the van stands, and no splice is among them."""
    bench = Bench(VAN)

    for place in touchable(VAN):
        bench.can_touch(place)
    assert not {"SP1:1", "SP7:1", "SP8:1"} & set(touchable(VAN))


def test_a_moving_display_rules_out_only_what_would_stand_still() -> None:
    """An outcome that buzzes fits those predicted to buzz, whatever they would show."""
    vehicle: Vehicle = VAN
    meant = casebook(vehicle, EXERCISE).universe
    some = np.zeros(len(meant.columns))
    some[meant.low[meant.owner == 0]] = 1.0
    some[meant.high[meant.owner == 0]] = 1.0
    volts = np.full(len(meant.columns), 12.0)

    fits = meant.fits(
        Outcome(channels={"volts": volts}, moving=some),
        Outcome(channels={}, moving=1.0),
    )

    assert meant.left(fits) == {meant.answers[0]}
