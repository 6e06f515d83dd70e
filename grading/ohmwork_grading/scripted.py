"""Learners that are scripts: a careful one, a hasty one and one who guesses.

They see what a learner sees, the bench and the vehicle's papers, never the fault. The
careful one keeps a list of what is still possible and takes the test that promises
most.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np

from ohmwork import faults
from ohmwork.bench import Bench
from ohmwork.instruments import Outcome, Reading
from ohmwork.job import Job
from ohmwork.network import Network
from ohmwork.network.lowering import effects_of
from ohmwork.parts import Fuse, Relay
from ohmwork.reasoning import casebook
from ohmwork.reasoning.survey import Probe, survey
from ohmwork.symptoms import State, drive, perceived

MOST_TESTS = 25
HASTY_TESTS = 2


def careful(job: Job, draw: random.Random) -> None:
    """Measure until one answer is left, repair it, prove it."""
    answers = _narrow(job, MOST_TESTS)
    job.bench.conclude(answers)
    amiss = _amiss(job)
    for site in dict.fromkeys(site for site, _ in answers):
        job.bench.repair(site)
        if _amiss(job) is None or _renew_fuses(job):
            break
    _prove(job, amiss)
    job.hand_in()


def hasty(job: Job, draw: random.Random) -> None:
    """Measure twice, settle on one of what is left, prove nothing."""
    answer = draw.choice(_narrow(job, HASTY_TESTS))
    job.bench.conclude([answer])
    job.bench.repair(answer[0])
    job.hand_in()


def guessing(job: Job, draw: random.Random) -> None:
    """Name any place and any kind."""
    bench = job.bench
    answers = [f.answer for f in faults.universe(bench.vehicle, job.exercise.kinds)]
    answer = draw.choice(answers)
    bench.conclude([answer])
    bench.repair(answer[0])
    job.hand_in()


LEARNERS: Mapping[str, Callable[[Job, random.Random], None]] = {
    "careful": careful,
    "hasty": hasty,
    "guessing": guessing,
}


def _narrow(job: Job, most: int) -> list[tuple[str, str]]:
    """Look, then measure what promises most; return the answers left."""
    bench, exercise = job.bench, job.exercise
    book = casebook(bench.vehicle, exercise)
    standing = np.full(len(book.universe.owner), fill_value=True)
    bench.use("look")
    for state, predicted in zip(exercise.states, book.symptoms, strict=True):
        _set_controls(bench, state)
        outputs = bench.outputs()
        seen = {
            channel: outputs[name]
            for channel in predicted.channels
            for what, _, name in [channel.partition(" ")]
            if what != "pulled_in" and name in outputs
        }
        for relay in bench.vehicle.of_type(Relay):
            bench.place("A", relay.sockets[0])
            seen[f"pulled_in {relay.name}"] = float(bench.read().text == "pulled in")
        buzzes = float("A relay buzzes." in bench.sights)
        outcome = Outcome(channels=seen, moving=buzzes)
        standing &= book.universe.fits(predicted, outcome)
    done: set[int] = set()
    while len(done) < most and len(book.universe.left(standing)) > 1:
        worth = book.worth(standing)
        worth[list(done)] = 0.0
        best = int(worth.argmax())
        if worth[best] <= 0.0:
            break
        done.add(best)
        test = book.tests[best]
        # Weighed as one meter shows it: the casebook has one at every place at once.
        possible = book.universe.only(standing)
        (foreseen,) = survey(possible.network, [test], exercise.states)
        standing[standing] = possible.fits(foreseen, _outcome(_do(bench, test)))
    return sorted(book.universe.left(standing))


def _do(bench: Bench, test: Probe) -> Reading:
    """Set up a test, read and note."""
    wanted = test.hookup
    # A meter that is turned to ohms must not touch what is still live.
    is_to_ohms = wanted.tool == "ohms" != bench.hookup.tool
    if is_to_ohms or test.setup.apart != bench.setup.apart:
        _lift_all(bench)
    if bench.hookup.tool != wanted.tool:
        bench.use(wanted.tool)
    for name in sorted(bench.setup.apart - test.setup.apart):
        bench.plug(name)
    _set_controls(bench, test.setup.controls)
    for name in sorted(test.setup.apart - bench.setup.apart):
        bench.unplug(name)
    if wanted.lead_b is not None and bench.hookup.lead_b != wanted.lead_b:
        bench.place("B", wanted.lead_b)
    if wanted.lead_a is not None and bench.hookup.lead_a != wanted.lead_a:
        bench.place("A", wanted.lead_a)
    shown = bench.read()
    bench.note()
    return shown


def _set_controls(bench: Bench, controls: Mapping[str, str]) -> None:
    """Bring every control to where it should stand; one not named to rest."""
    for name in bench.vehicle.controls:
        rest = bench.vehicle[name].positions[0]  # type: ignore[attr-defined]
        position = controls.get(name, rest)
        if bench.position(name) != position:
            bench.set_control(name, position)


def _outcome(shown: Reading) -> Outcome:
    """Return what a display tells."""
    if shown.text == "moving":
        return Outcome(channels={}, moving=1.0)
    channels: dict[str, Any] = {}
    match shown.tool:
        case "volts":
            channels = {"volts": shown.value, "open": float(shown.verdict == "open")}
        case "ohms" if shown.text == "overload":
            channels = {"ohms": 40e6}
        case "ohms" if shown.value is not None:
            channels = {"ohms": shown.value}
        case "amps" if shown.value is not None:
            channels = {"amps": shown.value}
        case "look":
            words = {"blown": ("whole", "blown"), "pulled_in": ("at rest", "pulled in")}
            channels = {
                name: float(pair.index(shown.text))
                for name, pair in words.items()
                if shown.text in pair
            }
    return Outcome(channels=channels, moving=0.0)


def _amiss(job: Job) -> tuple[State, str] | None:
    """Return a state of the complaint, and what does not work in it as on the papers.

    Nothing is returned where all is well, or where a relay that buzzes is all there is.
    """
    bench, states = job.bench, job.exercise.states
    _lift_all(bench)
    for name in sorted(bench.setup.apart):
        bench.plug(name)
    for state, point in zip(states, drive(Network(bench.vehicle), states), strict=True):
        _set_controls(bench, state)
        sound = perceived(point)
        for name, word in bench.perceived().items():
            if word != sound[name]:
                return state, name
    return None


def _renew_fuses(job: Job) -> bool:
    """Renew what has blown; return whether all is well then."""
    bench = job.bench
    _lift_all(bench)
    for fuse in _pullable(bench):
        bench.unplug(fuse)
        bench.use("look")
        bench.place("A", f"{fuse}:1")
        blown = bench.read().text == "blown"
        bench.lift("A")
        bench.plug(fuse)
        if blown:
            _set_controls(bench, {})
            bench.repair(fuse)
    return _amiss(job) is None


def _pullable(bench: Bench) -> Iterable[str]:
    return [f.name for f in bench.vehicle.of_type(Fuse) if f.plugs_in]


def _lift_all(bench: Bench) -> None:
    if bench.hookup.lead_a is not None:
        bench.lift("A")
    if bench.hookup.lead_b is not None:
        bench.lift("B")


def _prove(job: Job, amiss: tuple[State, str] | None) -> None:
    """Note the voltage at what was amiss, in the state in which it was."""
    bench = job.bench
    loads = (p.name for p in bench.vehicle.parts.values() if effects_of(p))
    state, name = amiss or (job.exercise.states[-1], next(loads))
    _lift_all(bench)
    for part in sorted(bench.setup.apart):
        bench.plug(part)
    _set_controls(bench, state)
    bench.use("volts")
    bench.place("B", bench.vehicle.reference)
    bench.place("A", name if ":" in name else bench.vehicle[name].sockets[0])
    bench.read()
    bench.note()
