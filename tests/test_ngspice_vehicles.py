"""ngspice referees every vehicle: every single fault in every state of its file.

The solver settles all faulty vehicles at once. ngspice is told what it has settled on
(relays, fuses, modules, what an alternator makes up for), solves the circuit so fixed,
and must find the same voltages at every place. From ngspice's own voltages it is then
seen that everything may indeed stay as it is or, where it buzzes, never can.
"""

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray

from ngspice_netlist import (
    BOUND,
    Bent,
    Circuit,
    Guard,
    Key,
    State,
    Watch,
    circuit_of,
    current_in,
    guards_of,
    watches_of,
)
from ngspice_sweep import Answer, Change, UnsolvedError, change, solve
from ohmwork.faults import RANGED, Fault, inject, samples, universe
from ohmwork.network import Network, OperatingPoint, Setup
from ohmwork.network.laws import Limited, Row
from ohmwork.parts import Alternator, Module, Motor, Part, Relay, Starter, Wiper
from ohmwork.vehicle import Vehicle, load_vehicle, vehicle_names

ABSOLUTE, RELATIVE = 1e-3, 1e-3
"""Agreement asked for: 1 mV + 0.1 %, a tenth of what a workshop meter resolves in its
20 V range."""

PARKS = 5e-3
"""Less than this lies between a wiper's feed and its park switch while it is away from
park and nothing else drives it. [V]"""

BENT = (Alternator, Module, Motor, Starter, Wiper)
"""Parts with laws in `BOUND`."""

SLOW = (Relay, Starter, Wiper)
"""Parts that move when they turn on or off."""

RESETS = 1.0
"""A breaker with less across it closes again. [V]"""

NEARLY = 2.5e-4
"""Volts, and share of the volts, by which what is expected may be off. [-]"""

WIDER = (0.01, 0.03, 0.1, 0.3, 1.0, 40.0)
"""How near what is expected the answer is sought, in turn, where nothing is known."""


V = TypeVar("V", float, NDArray[np.float64])


def tolerance(volts: V) -> V:
    """Return by how much voltages may differ from these. [V]"""
    return ABSOLUTE + RELATIVE * abs(volts)


# One vehicle with every fault
# ----------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """One vehicle with every fault it can have, one a row; the first is sound."""

    vehicle: Vehicle
    faults: Sequence[Fault | None]
    variants: Sequence[Vehicle]
    changed: Sequence[Mapping[str, Part]]
    """The parts of each variant that its fault has changed or added."""
    network: Network
    watches: Mapping[str, Sequence[Watch]]
    guards: Mapping[str, Sequence[Guard]]
    """Part, to what of it turns on and off, and to what of it opens."""

    def label(self, row: int) -> str:
        """Say which fault it is."""
        fault = self.faults[row]
        return fault.name(self.vehicle) if fault else "sound"

    def watches_in(self, row: int) -> Iterator[Watch]:
        """Give what turns on and off in one variant."""
        for name, usual in self.watches.items():
            part = self.changed[row].get(name)
            yield from usual if part is None else watches_of(part)

    def guards_in(self, row: int) -> Iterator[Guard]:
        """Give what opens in one variant."""
        for name, usual in self.guards.items():
            part = self.changed[row].get(name)
            yield from usual if part is None else guards_of(part)

    def part_of(self, row: int, name: str) -> Part:
        """Return the part that something that is on or blown belongs to."""
        parts = self.variants[row].parts
        return parts[
            name if name in parts else name.partition(":")[0].partition(" ")[0]
        ]


def states_of(vehicle: Vehicle) -> Mapping[str, Mapping[str, str]]:
    """Return the states in a vehicle's file, or else all positions of its controls."""
    if vehicle.states:
        return vehicle.states
    names = list(vehicle.controls)
    return {
        " ".join(positions): dict(zip(names, positions, strict=True))
        for positions in product(*(vehicle.control(name).positions for name in names))
    }


@lru_cache(maxsize=1)
def fleet_of(name: str) -> Fleet:
    """Return a vehicle with every fault.

    A ranged fault has one value, low, middle and high in turn from site to site; on
    the small boards it has both ends of its range.
    """
    vehicle = load_vehicle(name)
    faults: list[Fault | None] = [None]
    for number, fault in enumerate(universe(vehicle)):
        if fault.kind not in RANGED:
            faults.append(fault)
        elif name.endswith("_board"):
            faults += samples(fault, 2)
        else:
            faults.append(samples(fault, 3)[number % 3])
    variants = [vehicle if f is None else inject(vehicle, f) for f in faults]
    sound = vehicle.parts
    return Fleet(
        vehicle=vehicle,
        faults=faults,
        variants=variants,
        changed=[
            {n: p for n, p in variant.parts.items() if p is not sound.get(n)}
            for variant in variants
        ],
        network=Network(vehicle, variants),
        watches={n: tuple(watches_of(p)) for n, p in sound.items()},
        guards={n: tuple(guards_of(p)) for n, p in sound.items()},
    )


# One state of it, as settled and as ngspice has it
# -------------------------------------------------


@dataclass(slots=True, kw_only=True)
class Trial:
    """A vehicle in one state, with every fault."""

    fleet: Fleet
    state: str
    ngspice: str
    folder: Path
    point: OperatingPoint = field(init=False)
    ours: NDArray[np.float64] = field(init=False)
    """Row, and column of `columns`, to what we have found. [V]"""
    columns: dict[str, int] = field(init=False)
    bent_parts: list[str] = field(init=False)
    """Parts with a law that holds only where it is expected."""
    bent_places: list[str] = field(init=False)
    told: list[State] = field(init=False)
    """What is told of each variant."""
    common: Circuit = field(init=False)
    """The sound vehicle as it has settled."""
    places: list[str] = field(init=False)
    """Of the common circuit."""
    keys: dict[str, list[Key]] = field(default_factory=dict)
    """Part, to its elements in `common`."""
    changes: list[Change] = field(init=False)
    """How each variant differs from the common circuit."""
    answers: dict[int, Answer] = field(init=False)
    """Of every variant that rests."""

    def __post_init__(self) -> None:
        """Settle, tell ngspice, and let it solve what rests."""
        setup = Setup(controls=states_of(self.fleet.vehicle)[self.state])
        guide = Network(self.fleet.vehicle).guide(setup)
        self.point = self.fleet.network.settle(setup, guide=guide)
        found = self.point.voltages
        self.columns = {place: column for column, place in enumerate(found)}
        self.ours = np.stack([self.wide(row) for row in found.values()], axis=1)
        parts = self.fleet.vehicle.parts
        self.bent_parts = [n for n, p in parts.items() if isinstance(p, BENT)]
        owners = {f"{name}{mark}" for name in self.bent_parts for mark in ": "}
        self.bent_places = [
            p for p in self.columns if any(p.startswith(o) for o in owners)
        ]
        self.told = self.tell(setup.controls)
        self.common = circuit_of(self.fleet.vehicle, self.told[0])
        ends = (place for e in self.common.values() for place in (e.a, e.b))
        self.places = list(dict.fromkeys(ends))
        for key in self.common:
            self.keys.setdefault(key[0], []).append(key)
        self.changes = [self.change(row, state) for row, state in enumerate(self.told)]
        rows = np.flatnonzero(self.wide(self.point.buzzing) == 0.0).tolist()
        solved = self.solve(rows, [self.changes[row] for row in rows])
        self.answers = dict(zip(rows, solved, strict=True))
        # ngspice stops at a step of 0.1 %. Where that leaves it apart, it is asked
        # whether it would step away from where we are.
        for row in [row for row in rows if self.apart(row)]:
            (self.answers[row],) = self.solve([row], [self.changes[row]])

    @property
    def buzzing(self) -> list[int]:
        """Rows of the variants that never rest."""
        rows: list[int] = np.flatnonzero(self.wide(self.point.buzzing)).tolist()
        return rows

    def wide(self, row: Row) -> NDArray[np.float64]:
        """Return one number for every variant."""
        return np.broadcast_to(np.asarray(row, float), (len(self.fleet.variants),))

    def tell(self, controls: Mapping[str, str]) -> list[State]:
        """Return what we have settled on, for every variant."""
        n = len(self.fleet.variants)
        on: list[set[str]] = [set() for _ in range(n)]
        blown: list[set[str]] = [set() for _ in range(n)]
        made_up: list[dict[str, float]] = [{} for _ in range(n)]
        for table, found in ((self.point.triggers, on), (self.point.blown_rows, blown)):
            for name, row in table.items():
                for k in np.flatnonzero(self.wide(row)).tolist():
                    found[k].add(name)
        alternators = {a.name for a in self.fleet.vehicle.of_type(Alternator)}
        for branch in self.point.branches:
            if branch.owner in alternators and isinstance(branch.law, Limited):
                for k, volts in enumerate(self.wide(branch.law.voltage)):
                    part = self.fleet.variants[k].parts[branch.owner]
                    assert isinstance(part, Alternator)
                    over = 1.1 if part.failure == "overcharge" else 1.0
                    more = float(volts) - over * part.regulated_voltage
                    made_up[k][branch.owner] = more
        # What hardly differs from the sound vehicle's is expected alike.
        sound = self.ours[0]
        alike = np.abs(self.ours - sound) < NEARLY * (1.0 + np.abs(sound))
        expected = np.where(alike, sound, self.ours)
        return [
            State(
                controls=controls,
                on=frozenset(on[k]),
                blown=frozenset(blown[k]),
                made_up=made_up[k],
                expected={
                    place: float(expected[k, self.columns[place]])
                    for place in self.bent_places
                },
            )
            for k in range(n)
        ]

    def change(self, row: int, state: State) -> Change:
        """Return how a variant in some state differs from the common circuit."""
        usual, variant = self.told[0], self.fleet.variants[row]
        parts = dict(self.fleet.changed[row])
        for name in (state.on ^ usual.on) | (state.blown ^ usual.blown):
            part = self.fleet.part_of(row, name)
            parts[part.name] = part
        for name in self.bent_parts:
            parts[name] = variant.parts[name]
        new = circuit_of(variant, state, parts.values())
        replaced = [key for name in parts for key in self.keys.get(name, ())]
        return change(self.common, new, replaced)

    def solve(self, rows: Sequence[int], changes: Sequence[Change]) -> list[Answer]:
        """Let ngspice solve variants, each sweep starting from where we are."""

        def start(number: int) -> dict[str, float]:
            found = self.ours[rows[number]].tolist()
            return dict(zip(self.columns, found, strict=True))

        reference = self.fleet.vehicle.reference
        return solve(self.ngspice, self.folder, self.common, changes, reference, start)

    def solve_unknown(self, row: int, state: State) -> Answer:
        """Let ngspice solve a variant in a state that it has not settled in."""
        for within in WIDER:
            change = self.change(row, dataclasses.replace(state, within=within))
            with suppress(UnsolvedError):
                (answer,) = self.solve([row], [change])
                if is_as_expected(change, answer):
                    return answer
        raise UnsolvedError(f"{self.fleet.label(row)} with {sorted(state.on)} on")

    def apart(self, row: int) -> list[str]:
        """Say where in one variant ngspice finds something else."""
        answer, ours = self.answers[row], self.ours[row]
        own = (p for e in self.changes[row].elements.values() for p in (e.a, e.b))
        places = list(dict.fromkeys((*self.places, *own)))
        theirs = answer.voltages[[answer.columns[place] for place in places]]
        mine = ours[[self.columns[place] for place in places]]
        for island in answer.islands:
            inside = np.isin(places, island)
            theirs[inside] -= answer.volts(island[0])
            mine[inside] -= ours[self.columns[island[0]]]
        return [
            f"{self.fleet.label(row)}: {places[k]} {mine[k]:.6f} V, "
            f"ngspice {theirs[k]:.6f} V"
            for k in np.flatnonzero(np.abs(mine - theirs) > tolerance(theirs))
        ]

    def unrest(
        self, row: int, state: State, change: Change, answer: Answer
    ) -> set[str]:
        """Return what would not stay as it is at ngspice's voltages."""
        restless = set()
        for watch in self.fleet.watches_in(row):
            seen = [answer.volts(a, b) for a, b in watch.across]
            volts = max(map(abs, seen)) if watch.either_way else max(seen)
            volts *= watch.feels and watch.name not in state.blown
            slack = tolerance(volts)
            if watch.name not in state.on:
                stays = volts < watch.makes + slack
            else:
                stays = volts > watch.drops - slack
                if (
                    watch.parks is not None
                    and answer.volts(*watch.parks) >= PARKS + ABSOLUTE
                ):
                    # Then it must be driven on from park, and so sweep for ever.
                    parked = dataclasses.replace(state, on=state.on - {watch.name})
                    then = self.solve_unknown(row, parked)
                    driven = max(then.volts(a, b) for a, b in watch.across)
                    stays = stays and driven > watch.makes - tolerance(driven)
            if not stays:
                restless.add(watch.name)
        for guard in self.fleet.guards_in(row):
            if guard.name not in state.blown:
                if self.load(guard, change, answer) > 1.0:
                    restless.add(guard.name)
            elif guard.closes_again:
                volts = abs(answer.volts(*guard.key[2:]))
                if volts < RESETS - tolerance(volts):
                    restless.add(guard.name)
        return restless

    def load(self, guard: Guard, change: Change, answer: Answer) -> float:
        """Return current over what can be carried for good, its doubt taken off. [-]"""
        element = change.elements.get(guard.key)
        if element is None and guard.key not in change.missing:
            element = self.common.get(guard.key)
        amps = abs(current_in(element, answer.volts(*guard.key[2:])))
        return amps / guard.carries - 5.0 * RELATIVE


def is_as_expected(change: Change, answer: Answer) -> bool:
    """Whether the laws that hold only where they are expected hold."""
    return all(
        e.numbers[-2] <= answer.volts(e.a, e.b) <= e.numbers[-1]
        for e in change.elements.values()
        if isinstance(e, Bent) and e.formula in BOUND and e.conducts
    )


TRIALS = [
    (name, state) for name in vehicle_names() for state in states_of(load_vehicle(name))
]


@pytest.fixture(scope="module", params=TRIALS, ids=": ".join)
def trial(
    request: pytest.FixtureRequest,
    ngspice: str,
    tmp_path_factory: pytest.TempPathFactory,
) -> Trial:
    """Every single fault of one vehicle in one of its states."""
    name, state = request.param
    return Trial(
        fleet=fleet_of(name),
        state=state,
        ngspice=ngspice,
        folder=tmp_path_factory.mktemp("ngspice"),
    )


def test_voltages_agree_with_ngspice(trial: Trial) -> None:
    """Every place of every variant that rests agrees within 1 mV + 0.1 %."""
    assert [text for row in trial.answers for text in trial.apart(row)] == []


def test_everything_may_stay_as_it_is(trial: Trial) -> None:
    """What is on gets more than its drop-out, what is off less than its pull-in.

    No whole fuse carries 1.1 times its rating or more (ISO 8820-3, from memory), and
    across an open breaker lies enough to keep it open.
    """
    restless = {
        trial.fleet.label(row): found
        for row, answer in trial.answers.items()
        if (found := trial.unrest(row, trial.told[row], trial.changes[row], answer))
    }
    assert restless == {}


def test_an_open_breaker_would_carry_too_much(trial: Trial) -> None:
    """Closed again, it or what shuts off for it is overloaded at once."""
    idle = []
    for row in trial.answers:
        told = trial.told[row]
        for guard in trial.fleet.guards_in(row):
            if guard.closes_again and guard.name in told.blown:
                closed = dataclasses.replace(told, blown=told.blown - {guard.name})
                answer = trial.solve_unknown(row, closed)
                change = trial.change(row, closed)
                if trial.load(guard, change, answer) <= 1.0 - 1e-2:
                    idle.append(f"{trial.fleet.label(row)}: {guard.name}")
    assert idle == []


def test_what_buzzes_never_comes_to_rest(trial: Trial) -> None:
    """Whatever follows its voltage, something else then has to.

    Electronics follow at once, and together; what moves follows in any order.
    """
    found = {}
    for row in trial.buzzing:
        told = trial.told[row]
        follows = {watch.name for watch in trial.fleet.watches_in(row)}
        moves = {n for n, p in trial.fleet.vehicle.parts.items() if isinstance(p, SLOW)}
        tried: dict[frozenset[str], bool] = {}
        fresh = {told.on}
        while fresh:
            on = fresh.pop()
            state = dataclasses.replace(told, on=on)
            answer = trial.solve_unknown(row, state)
            restless = trial.unrest(row, state, trial.change(row, state), answer)
            tried[on] = not restless
            quick = (restless & follows) - moves
            slow = {on ^ {name} for name in restless & moves}
            fresh |= ({on ^ quick} if quick else slow) - tried.keys()
        if calm := [sorted(on ^ told.on) for on, rests in tried.items() if rests]:
            found[trial.fleet.label(row)] = calm
    assert found == {}, "they may rest, with these changed"
