"""How well a job could be done: what can be told apart at all, and at what cost.

The yardstick is a greedy search. It starts from the complaint, takes the test that
promises most information for its time, keeps what the true vehicle's answer leaves, and
ends when nothing is left but faults no permitted test can tell from the truth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ohmwork.exercise import Exercise
from ohmwork.faults import Fault, inject, universe
from ohmwork.instruments import Hookup, Outcome, tolerance
from ohmwork.network import Network, Setup, position
from ohmwork.reasoning.hypotheses import Hypotheses, hypotheses
from ohmwork.reasoning.survey import Probe, probes, survey
from ohmwork.symptoms import State, symptoms
from ohmwork.vehicle import Vehicle

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Yardstick:
    """What a job on one fault takes."""

    candidates: Hypotheses
    """What the complaint leaves possible."""
    group: frozenset[tuple[str, str]]
    """Answers that no permitted test tells from the truth; the truth is among them."""
    tests: tuple[Probe, ...]
    """A sound sequence of tests that leaves the group alone."""

    @property
    def seconds(self) -> int:
        """What the sequence costs. [s]"""
        return sum(test.seconds for test in self.tests)


@dataclass(frozen=True, slots=True, eq=False)
class Casebook:
    """Everything about an exercise that does not depend on the true fault."""

    vehicle: Vehicle
    states: tuple[State, ...]
    universe: Hypotheses
    symptoms: tuple[Outcome, ...]
    tests: tuple[Probe, ...]
    shown: tuple[Outcome, ...]
    """What each test would show, a row per column of the universe."""

    def candidates(self, fault: Fault) -> NDArray[Any]:
        """Return which segments give the same complaint. Shape ``(n_segments,)``."""
        import numpy as np

        true = symptoms(Network(inject(self.vehicle, fault)), self.states)
        standing = np.full(len(self.universe.owner), fill_value=True)
        for predicted, actual in zip(self.symptoms, true, strict=True):
            standing &= self.universe.fits(predicted, actual)
        return standing

    def foreseen(self, setup: Setup, hookup: Hookup) -> Outcome | None:
        """Return what a test would show, a row per column; None if it is not surveyed.

        Volts between any two surveyed places are the difference of their voltages.
        """
        minus = self.vehicle.reference

        def find(lead_a: str | None, lead_b: str | None) -> Outcome | None:
            for test, shown in zip(self.tests, self.shown, strict=True):
                wanted = (test.hookup.tool, test.hookup.lead_a, test.hookup.lead_b)
                if (
                    wanted == (hookup.tool, lead_a, lead_b)
                    and test.setup.apart == setup.apart
                    and all(
                        position(self.vehicle, test.setup, name)
                        == position(self.vehicle, setup, name)
                        for name in self.vehicle.controls
                    )
                ):
                    return shown
            return None

        found = find(hookup.lead_a, hookup.lead_b)
        if found is not None or hookup.tool != "volts":
            return found
        above, below = find(hookup.lead_a, minus), find(hookup.lead_b, minus)
        if above is None or below is None:
            return None
        volts = above.channels["volts"] - below.channels["volts"]
        return Outcome(channels={"volts": volts}, moving=above.moving)

    def answers_of(self, fault: Fault) -> NDArray[Any]:
        """Return what each test leaves if this fault is the true one.

        Returns
        -------
        Truth values. Shape ``(n_tests, n_segments)``.
        """
        import numpy as np

        true = survey(Network(inject(self.vehicle, fault)), self.tests, self.states)
        return np.array(
            [
                self.universe.fits(predicted, actual)
                for predicted, actual in zip(self.shown, true, strict=True)
            ]
        )

    def next_test(self, fault: Fault, left: frozenset[tuple[str, str]]) -> Probe | None:
        """Return the test to go on with when only these answers are left, if any."""
        import numpy as np

        owners = [k for k, a in enumerate(self.universe.answers) if a in left]
        standing = self.candidates(fault) & np.isin(self.universe.owner, owners)
        fits = self.answers_of(fault)
        if not (standing & ~fits).any():
            return None
        return self.tests[self._next(standing, fits)]

    def yardstick(self, fault: Fault) -> Yardstick:
        """Return what a job on this fault takes."""
        possible = self.candidates(fault)
        fits = self.answers_of(fault)
        group = self.universe.left(possible & fits.all(axis=0)) | {fault.answer}
        chosen: list[Probe] = []
        standing = possible
        while len(self.universe.left(standing) - group) > 0:
            number = self._next(standing, fits)
            chosen.append(self.tests[number])
            standing = standing & fits[number]
        return Yardstick(
            candidates=self.universe.only(possible), group=group, tests=tuple(chosen)
        )

    def _next(self, standing: NDArray[Any], fits: NDArray[Any]) -> int:
        """Return the most promising test of those that the truth answers.

        Better than one that only narrows an answer's range is one that rules an answer
        out.
        """
        import numpy as np

        worth = self.worth(standing)
        narrows = (standing & ~fits).any(axis=1)
        answers = len(self.universe.left(standing))
        settles = [
            bool(some) and len(self.universe.left(standing & left)) < answers
            for some, left in zip(narrows, fits, strict=True)
        ]
        useful = np.array(settles) if any(settles) else narrows
        return int(np.where(useful, worth, -1.0).argmax())

    def worth(self, standing: NDArray[Any]) -> NDArray[Any]:
        """Return what each test promises for its time, whatever the truth.

        The promise is the fall in the logarithm of the number of answers left, on
        average over what stands.

        Parameters
        ----------
        standing : which segments are possible. Shape ``(n_segments,)``.

        Returns
        -------
        Shape ``(n_tests,)``. [1/s]
        """
        import numpy as np

        middle = _middles(self.universe, standing)
        promise = np.array(
            [
                np.log(len(middle)) - np.log(self._left_on_average(outcome, middle))
                for outcome in self.shown
            ]
        )
        seconds = np.array([test.seconds for test in self.tests])
        return np.asarray(np.maximum(promise, 0.0) / seconds)

    def _left_on_average(self, outcome: Outcome, middle: NDArray[Any]) -> float:
        """Return how many answers a test leaves, averaged over those in question."""
        import numpy as np

        same = np.full((len(middle), len(middle)), fill_value=True)
        shape = (len(self.universe.columns),)
        for name, row in outcome.channels.items():
            values = np.broadcast_to(row, shape)[middle]
            slack = np.broadcast_to(tolerance(name, values), values.shape)
            same &= abs(values[:, None] - values[None, :]) <= slack[:, None]
        return float(same.sum(axis=1).mean())


def _middles(universe: Hypotheses, standing: NDArray[Any]) -> NDArray[Any]:
    """Return one column for each answer that stands, amid its segments."""
    import numpy as np

    kept = np.flatnonzero(standing)
    owners = universe.owner[kept]
    return np.array(
        [
            universe.high[mine[len(mine) // 2]]
            for owner in np.unique(owners)
            for mine in [kept[owners == owner]]
        ]
    )


_books: dict[tuple[object, ...], Casebook] = {}
"""Those that were made, by what they are about."""

_MOST_BOOKS = 16


def casebook(vehicle: Vehicle, exercise: Exercise) -> Casebook:
    """Return the casebook of an exercise; the same one for the same content."""
    states = tuple(dict(state) for state in exercise.states)
    named = tuple(tuple(sorted(state.items())) for state in states)
    key = (vehicle.digest, named, exercise.kinds, exercise.tools)
    if key not in _books:
        if len(_books) >= _MOST_BOOKS:
            _books.clear()
        meant = hypotheses(vehicle, universe(vehicle, exercise.kinds), states)
        tests = probes(vehicle, states, exercise.tools)
        _books[key] = Casebook(
            vehicle=vehicle,
            states=states,
            universe=meant,
            symptoms=symptoms(meant.network, states),
            tests=tests,
            shown=survey(meant.network, tests, states),
        )
    return _books[key]
