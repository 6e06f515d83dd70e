"""Star-mesh elimination against exact arithmetic.

The oracle is Gaussian elimination of the dense nodal matrix in fractions: another
method, without any rounding. Conductances are drawn over twelve decades, as joints and
leakage in a harness span them, and parts of a circuit may hang free. Nodes wait for any
of three stages, which must change nothing but when they are eliminated.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ohmwork.network.elimination import LEAK, REFERENCE, Plan, Stamps, plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Conductances between nodes and to the reference, and currents driven in."""

    between: dict[tuple[int, int], float]
    """[S]"""
    to_reference: list[float]
    """[S] Zero where a node has no conductance of its own to the reference."""
    driven: list[float]
    """[A]"""
    stages: tuple[int, ...] | None = None
    """Earliest stage of each node; all in one by default."""

    @property
    def plan(self) -> Plan:
        """Steps that solve a circuit of this shape."""
        return plan(len(self.driven), tuple(self.between), self.stages)

    def stamps(self, number: type[float] | type[Fraction]) -> Stamps:
        """Conductances and currents in the order of the plan, none eliminated."""
        steps = self.plan
        edges = [number(0)] * steps.n_edges
        for pair, conductance in self.between.items():
            edges[steps.edge(*pair)] = number(conductance)
        return Stamps(
            edges,
            [number(g) for g in self.to_reference],
            [number(i) for i in self.driven],
            [number(0)] * steps.n_nodes,
        )

    def solve(self, number: type[float] | type[Fraction]) -> list[float | Fraction]:
        """Voltages by star-mesh elimination, in floats or in fractions. [V]"""
        return self.plan.solve(self.stamps(number))

    def held(self) -> list[Fraction]:
        """Conductance to the reference with the leak of each floating island. [S]

        The leak stands at the node of the island that is eliminated last.
        """
        conductances = [Fraction(g) for g in self.to_reference]
        order = [step.node for stage in self.plan.stages for step in stage]
        for island in islands(len(order), list(self.between)):
            if not any(conductances[node] for node in island):
                conductances[max(island, key=order.index)] = Fraction(LEAK)
        return conductances

    def solve_densely(self) -> list[Fraction]:
        """Voltages by Gaussian elimination of the nodal matrix in fractions. [V]"""
        held, size = self.held(), len(self.driven)
        matrix = [
            [held[row] if row == column else Fraction(0) for column in range(size)]
            for row in range(size)
        ]
        for (i, j), value in self.between.items():
            conductance = Fraction(value)
            matrix[i][i] += conductance
            matrix[j][j] += conductance
            matrix[i][j] -= conductance
            matrix[j][i] -= conductance
        return gauss(matrix, [Fraction(i) for i in self.driven])


def gauss(matrix: list[list[Fraction]], right: list[Fraction]) -> list[Fraction]:
    """Solve a regular system of equations exactly."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    size = len(rows)
    for k in range(size):
        pivot = next(r for r in range(k, size) if rows[r][k])
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for r in range(size):
            if r != k and rows[r][k]:
                factor = rows[r][k] / rows[k][k]
                rows[r] = [
                    a - factor * b for a, b in zip(rows[r], rows[k], strict=True)
                ]
    return [rows[k][size] / rows[k][k] for k in range(size)]


def islands(size: int, pairs: Sequence[tuple[int, int]]) -> list[set[int]]:
    """Return the sets of nodes that hang together."""
    found = [{node} for node in range(size)]
    for i, j in pairs:
        one = next(island for island in found if i in island)
        other = next(island for island in found if j in island)
        if one is not other:
            found.remove(other)
            one |= other
    return found


decades = st.floats(-8.0, 4.0).map(lambda exponent: 10.0**exponent)
"""Conductance from a leaky insulation of 100 MΩ to a joint of 0.1 mΩ. [S]"""


@st.composite
def circuits(draw: st.DrawFn, currents: st.SearchStrategy[float]) -> Circuit:
    """Draw a circuit of up to eight nodes, in one piece or several."""
    size = draw(st.integers(1, 8))
    possible = [(i, j) for j in range(size) for i in range(j)]
    pairs = draw(st.lists(st.sampled_from(possible), unique=True)) if possible else []
    grounds = st.just(0.0) | decades
    stages = st.lists(st.integers(0, 2), min_size=size, max_size=size).map(tuple)
    return Circuit(
        between={pair: draw(decades) for pair in pairs},
        to_reference=draw(st.lists(grounds, min_size=size, max_size=size)),
        driven=draw(st.lists(currents, min_size=size, max_size=size)),
        stages=draw(st.none() | stages),
    )


either_way = st.just(0.0) | st.floats(1e-6, 100.0) | st.floats(-100.0, -1e-6)
inward = st.just(0.0) | st.floats(1e-6, 100.0)


@settings(deadline=None)
@given(circuits(either_way))
def test_star_mesh_is_the_dense_solution(circuit: Circuit) -> None:
    """In exact arithmetic both methods give the very same voltages."""
    assert circuit.solve(Fraction) == circuit.solve_densely()


@settings(deadline=None)
@given(circuits(inward))
def test_nothing_cancels(circuit: Circuit) -> None:
    """In floats every single voltage keeps thirteen digits, however small it is.

    Only positive numbers are added, multiplied and divided, so relative errors add up
    and never grow: eight nodes take some hundred roundings of 1.1e-16.
    """
    exact = [float(volts) for volts in circuit.solve_densely()]
    assert circuit.solve(float) == pytest.approx(exact, rel=1e-13, abs=0.0)


@settings(deadline=None)
@given(circuits(either_way))
def test_currents_both_ways(circuit: Circuit) -> None:
    """With currents of both signs the error stays small against those of one sign.

    The voltages are a sum over the currents, each term exact to thirteen digits.
    """
    one_sign = Circuit(
        between=circuit.between,
        to_reference=circuit.to_reference,
        driven=[abs(current) for current in circuit.driven],
        stages=circuit.stages,
    )
    scales = one_sign.solve_densely()
    for ours, exact, scale in zip(
        circuit.solve(float), circuit.solve_densely(), scales, strict=True
    ):
        assert abs(Fraction(ours) - exact) <= Fraction(1e-13) * scale


@settings(deadline=None)
@given(circuits(inward), decades)
def test_an_early_stage_is_run_once_for_all(circuit: Circuit, added: float) -> None:
    """What the first stage leaves serves again when a later node has changed.

    Each time every voltage is that of the circuit solved afresh; sums are made in
    another order, so each of both keeps thirteen digits.
    """
    steps = circuit.plan
    late = [step.node for stage in steps.stages[1:] for step in stage]
    assume(late)
    first = circuit.stamps(float)
    steps.eliminate(0, first)
    for conductance in (0.0, added):
        grounds = circuit.to_reference[:]
        grounds[late[0]] += conductance
        afresh = replace(circuit, to_reference=grounds)
        stamps = first.copy()
        stamps.grounds[late[0]] += conductance
        voltages = [0.0] * steps.n_nodes
        for stage in range(1, len(steps.stages)):
            steps.eliminate(stage, stamps)
        for stage in reversed(range(len(steps.stages))):
            steps.expand(stage, stamps, voltages)
        assert voltages == pytest.approx(afresh.solve(float), rel=2e-13, abs=0.0)


@settings(deadline=None)
@given(circuits(either_way), st.data())
def test_response_is_what_one_ampere_adds(
    circuit: Circuit, data: st.DataObject
) -> None:
    """The response to 1 A from one node to another is the solution of just that."""
    nodes = st.integers(REFERENCE, len(circuit.driven) - 1)
    source, sink = data.draw(nodes), data.draw(nodes)
    driven = [0.0] * len(circuit.driven)
    for node, amperes in ((source, 1.0), (sink, -1.0)):
        if node != REFERENCE:
            driven[node] += amperes
    stamps = circuit.stamps(float)
    steps = circuit.plan
    for stage in range(len(steps.stages)):
        steps.eliminate(stage, stamps)
    alone = replace(circuit, driven=driven)
    scales = replace(circuit, driven=[abs(i) for i in driven]).solve_densely()
    for ours, exact, scale in zip(
        steps.response(stamps, source, sink), alone.solve_densely(), scales, strict=True
    ):
        assert abs(Fraction(ours) - exact) <= Fraction(1e-13) * scale


def test_an_undriven_island_rests_at_zero() -> None:
    """What nothing holds and nothing drives is at 0 V, by its leak."""
    circuit = Circuit(
        between={(0, 1): 1000.0}, to_reference=[0.0, 0.0], driven=[0.0, 0.0]
    )
    assert circuit.solve(float) == [0.0, 0.0]


def test_a_source_within_an_island() -> None:
    """Inside a floating island voltages differ as Ohm's law says: 3 A / 2 S = 1.5 V."""
    circuit = Circuit(
        between={(0, 1): 2.0}, to_reference=[0.0, 0.0], driven=[3.0, -3.0]
    )
    high, low = circuit.solve(float)
    assert high - low == pytest.approx(1.5)


def test_an_open_path_is_a_zero() -> None:
    """A conductance of zero parts a circuit as if it were not there."""
    joined = Circuit(
        between={(0, 1): 5.0, (1, 2): 0.0},
        to_reference=[1.0, 0.0, 0.0],
        driven=[2.0, 0, 0],
    )
    assert joined.solve(float) == pytest.approx([2.0, 2.0, 0.0])


def test_the_reference_is_no_node() -> None:
    """A branch to the reference, or from a node to itself, makes no edge."""
    steps = plan(2, ((0, REFERENCE), (REFERENCE, 1), (1, 1)))
    assert steps.n_edges == 0


def test_a_chain_makes_no_fill() -> None:
    """Fewest neighbours first: a chain, as most of a harness is, keeps its edges."""
    size = 50
    assert plan(size, tuple((k, k + 1) for k in range(size - 1))).n_edges == size - 1


def test_a_cable_of_a_micro_ohm() -> None:
    """The voltage behind 1 µΩ and 10 MΩ is that of the divider, to fourteen digits."""
    near, far = 1e6, 1e-7
    circuit = Circuit(
        between={(0, 1): near}, to_reference=[1.0, far], driven=[12.0, 0.0]
    )
    # Node 1 sees node 0 through 1 µΩ and ground through 10 MΩ.
    load = 1.0 / (1.0 / near + 1.0 / far)
    first = 12.0 / (1.0 + load)
    expected = [first, first * near / (near + far)]
    assert circuit.solve(float) == pytest.approx(expected, rel=1e-14)
