"""Nodal equations of conductances, solved by star-mesh elimination.

The order is found once for a circuit's shape and kept as a table of steps; running the
table only adds, multiplies and divides conductances, which are never negative. So
nothing cancels, an open path is simply a zero, and conductances may span twelve
decades. An island that nothing holds gets one leak of `LEAK` to the reference.

The table has stages. Nodes whose branches seldom change come in an early stage, which
need not be run again when only later ones have changed.

The same table runs on floats and on fractions (exact), and in `lanes` on many circuits.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from ohmwork.network.laws import Row

LEAK = 1e-12
"""Conductance that holds a floating island to the reference. [S]"""

NOTHING = 0.0
"""What nothing has been added to yet, known by its identity. [S], [A]"""

REFERENCE = -1
"""Index of the node whose voltage is 0."""

MOST_NEIGHBOURS = 3
"""A node with more waits for the last stage, or its mesh would slow all others."""


@dataclass(frozen=True, slots=True)
class Step:
    """Elimination of one node."""

    node: int
    neighbours: tuple[tuple[int, int], ...]
    """Pairs of neighbour and edge to it."""
    fills: tuple[tuple[int, int, int], ...]
    """Triples: edge between two neighbours, edge to the first, index of the second."""


@dataclass(slots=True)
class Stamps:
    """Conductances and currents of a circuit, and what eliminating its nodes leaves."""

    edges: list[Row]
    """Conductance of each edge. [S]"""
    grounds: list[Row]
    """Conductance of each node to the reference. [S]"""
    currents: list[Row]
    """Current driven into each node. [A]"""
    totals: list[Row]
    """Of each node that is eliminated: sum of its conductances. [S]"""

    def copy(self) -> Stamps:
        """Return a copy that can be added to."""
        return Stamps(self.edges[:], self.grounds[:], self.currents[:], self.totals[:])


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps for one shape of circuit."""

    n_nodes: int
    n_edges: int
    stages: tuple[tuple[Step, ...], ...]
    edge_of: dict[tuple[int, int], int]
    """Pair of nodes, smaller first, to edge."""

    def edge(self, i: int, j: int) -> int:
        """Edge between two nodes."""
        return self.edge_of[(i, j) if i < j else (j, i)]

    def stamps(self) -> Stamps:
        """Return a circuit with nothing in it yet."""
        n = self.n_nodes
        return Stamps(
            [NOTHING] * self.n_edges, [NOTHING] * n, [NOTHING] * n, [NOTHING] * n
        )

    def eliminate(self, stage: int, stamps: Stamps) -> None:
        """Eliminate the nodes of one stage, changing `stamps`.

        Parameters
        ----------
        stage : index; the stages before it have been run.
        stamps : with everything added that touches a node of this stage.
        """
        edges, grounds, currents = stamps.edges, stamps.grounds, stamps.currents
        totals = stamps.totals
        for step in self.stages[stage]:
            node = step.node
            own = grounds[node]
            total = own
            for _, edge in step.neighbours:
                total = total + edges[edge]
            if total < LEAK:
                total = type(total)(LEAK)
            totals[node] = total
            current = currents[node]
            shares = []
            for neighbour, edge in step.neighbours:
                share = edges[edge] / total
                shares.append(share)
                if current is not NOTHING:
                    currents[neighbour] = currents[neighbour] + share * current
                if own is not NOTHING:
                    grounds[neighbour] = grounds[neighbour] + share * own
            for target, first, second in step.fills:
                edges[target] = edges[target] + edges[first] * shares[second]

    def expand(self, stage: int, stamps: Stamps, voltages: list[Row]) -> None:
        """Find the voltages of one stage's nodes from those of later ones. [V]

        Parameters
        ----------
        stage : index.
        stamps : as `eliminate` left them.
        voltages : of every node; those of this stage are set. [V]
        """
        edges, totals, currents = stamps.edges, stamps.totals, stamps.currents
        for step in reversed(self.stages[stage]):
            driven = currents[step.node]
            for neighbour, edge in step.neighbours:
                driven = driven + edges[edge] * voltages[neighbour]
            voltages[step.node] = driven / totals[step.node]

    def solve(self, stamps: Stamps) -> list[Row]:
        """Return the voltage of every node against the reference. [V]

        Parameters
        ----------
        stamps : the circuit; used up by this.
        """
        voltages: list[Row] = [0.0] * self.n_nodes
        for stage in range(len(self.stages)):
            self.eliminate(stage, stamps)
        for stage in reversed(range(len(self.stages))):
            self.expand(stage, stamps, voltages)
        return voltages

    def response(self, stamps: Stamps, source: int, sink: int) -> list[float]:
        """Return what one ampere from `sink` to `source` does to every node. [V]

        Parameters
        ----------
        stamps : as the stages left them, of a single circuit.
        source, sink : nodes, or `REFERENCE`.
        """
        edges, totals = stamps.edges, stamps.totals
        currents = [0.0] * self.n_nodes
        for node, share in ((source, 1.0), (sink, -1.0)):
            if node != REFERENCE:
                currents[node] += share
        for steps in self.stages:
            for step in steps:
                current = currents[step.node]
                if current != 0.0:
                    part = current / totals[step.node]
                    for neighbour, edge in step.neighbours:
                        currents[neighbour] += edges[edge] * part
        driven = Stamps(edges, [], currents, totals)
        voltages: list[float] = [0.0] * self.n_nodes
        for stage in reversed(range(len(self.stages))):
            self.expand(stage, driven, voltages)
        return voltages


@lru_cache(maxsize=2048)
def plan(
    n_nodes: int,
    pairs: tuple[tuple[int, int], ...],
    stage_of: tuple[int, ...] | None = None,
) -> Plan:
    """Return the steps that eliminate a circuit's nodes, fewest neighbours first.

    Parameters
    ----------
    n_nodes : number of nodes without the reference.
    pairs : nodes that a branch joins; `REFERENCE` stands for the reference.
    stage_of : earliest stage of each node; all in one by default.
    """
    around: list[set[int]] = [set() for _ in range(n_nodes)]
    edge_of: dict[tuple[int, int], int] = {}

    def edge(i: int, j: int) -> int:
        key = (i, j) if i < j else (j, i)
        around[i].add(j)
        around[j].add(i)
        return edge_of.setdefault(key, len(edge_of))

    for i, j in pairs:
        if REFERENCE not in (i, j) and i != j:
            edge(i, j)
    earliest = stage_of or (0,) * n_nodes
    last = max(earliest, default=0)
    stages = []
    waiting: set[int] = set()
    for stage in range(last + 1):
        waiting |= {node for node in range(n_nodes) if earliest[node] == stage}
        limit = n_nodes if stage == last else MOST_NEIGHBOURS
        steps: list[Step] = []
        for node in _fewest_first(waiting, around, limit):
            waiting.remove(node)
            steps.append(_step(node, around, edge))
        stages.append(tuple(steps))
    return Plan(n_nodes, len(edge_of), tuple(stages), edge_of)


def _fewest_first(
    waiting: set[int], around: list[set[int]], limit: int
) -> Iterable[int]:
    """Give the node with fewest neighbours, again and again, up to a limit of them."""
    heap = [(len(around[node]), node) for node in waiting]
    heapq.heapify(heap)
    while heap:
        degree, node = heapq.heappop(heap)
        if node not in waiting or degree > limit:
            continue
        if degree != len(around[node]):
            heapq.heappush(heap, (len(around[node]), node))
            continue
        near = sorted(around[node])
        yield node
        for other in near:
            if other in waiting:
                heapq.heappush(heap, (len(around[other]), other))


def _step(node: int, around: list[set[int]], edge: Callable[[int, int], int]) -> Step:
    """Return the step that eliminates a node, and join its neighbours."""
    neighbours = sorted(around[node])
    own = {n: edge(node, n) for n in neighbours}
    for neighbour in neighbours:
        around[neighbour].discard(node)
    fills = tuple(
        (edge(a, b), own[a], second)
        for first, a in enumerate(neighbours)
        for second, b in enumerate(neighbours[first + 1 :], first + 1)
    )
    return Step(node, tuple(own.items()), fills)
