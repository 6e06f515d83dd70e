"""Nodal equations of conductances, solved by star-mesh elimination.

The order is found once for a circuit's shape and kept as a table of steps; running the
table only adds, multiplies and divides conductances, which are never negative. So
nothing cancels, an open path is simply a zero, and conductances may span twelve
decades. An island that nothing holds gets one leak of `LEAK` to the reference.

The same table runs on floats, on fractions (exact) and on arrays of scenarios.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from ohmwork.network.laws import Row

LEAK = 1e-12
"""Conductance that holds a floating island to the reference. [S]"""

REFERENCE = -1
"""Index of the node whose voltage is 0."""


@dataclass(frozen=True, slots=True)
class Step:
    """Elimination of one node."""

    node: int
    neighbours: tuple[tuple[int, int], ...]
    """Pairs of neighbour and edge to it."""
    fills: tuple[tuple[int, int, int], ...]
    """Triples of edge between two neighbours and the two edges it comes from."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps for one shape of circuit."""

    n_nodes: int
    n_edges: int
    steps: tuple[Step, ...]
    edge_of: dict[tuple[int, int], int]
    """Pair of nodes, smaller first, to edge."""

    def edge(self, i: int, j: int) -> int:
        """Edge between two nodes."""
        return self.edge_of[(i, j) if i < j else (j, i)]

    def solve(
        self,
        edges: Sequence[Row],
        grounds: Sequence[Row],
        currents: Sequence[Row],
        at_least: Callable[[Row, float], Row] = max,
    ) -> list[Row]:
        """Return the voltage of every node against the reference.

        Parameters
        ----------
        edges : conductance of each edge; fill-ins zero. [S]
        grounds : conductance of each node to the reference. [S]
        currents : current driven into each node. [A]
        at_least : larger of two numbers: ``max`` or ``numpy.maximum``.

        Returns
        -------
        Node voltages, in node order. [V]
        """
        edges, grounds, currents = list(edges), list(grounds), list(currents)
        totals: list[Row] = []
        for step in self.steps:
            own = grounds[step.node]
            total = own
            for _, edge in step.neighbours:
                total = total + edges[edge]
            total = at_least(total, LEAK)
            totals.append(total)
            current = currents[step.node]
            for neighbour, edge in step.neighbours:
                share = edges[edge] / total
                currents[neighbour] = currents[neighbour] + share * current
                grounds[neighbour] = grounds[neighbour] + share * own
            for target, first, second in step.fills:
                edges[target] = edges[target] + edges[first] * (edges[second] / total)
        voltages: list[Row] = [0.0] * self.n_nodes
        for step, total in zip(reversed(self.steps), reversed(totals), strict=True):
            driven = currents[step.node]
            for neighbour, edge in step.neighbours:
                driven = driven + edges[edge] * voltages[neighbour]
            voltages[step.node] = driven / total
        return voltages


@lru_cache(maxsize=2048)
def plan(n_nodes: int, pairs: tuple[tuple[int, int], ...]) -> Plan:
    """Return the steps that eliminate a circuit's nodes, fewest neighbours first.

    Parameters
    ----------
    n_nodes : number of nodes without the reference.
    pairs : nodes that a branch joins; `REFERENCE` stands for the reference.
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
    steps = []
    left = set(range(n_nodes))
    while left:
        node = min(left, key=lambda k: (len(around[k]), k))
        left.remove(node)
        neighbours = sorted(around[node])
        for neighbour in neighbours:
            around[neighbour].remove(node)
        own = {n: edge_of[(node, n) if node < n else (n, node)] for n in neighbours}
        fills = tuple(
            (edge(a, b), own[a], own[b])
            for position, a in enumerate(neighbours)
            for b in neighbours[position + 1 :]
        )
        steps.append(Step(node, tuple(own.items()), fills))
    return Plan(n_nodes, len(edge_of), tuple(steps), edge_of)
