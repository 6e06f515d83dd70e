"""Newton's method for many circuits of one shape, compiled.

The same method as in `newton`, on the same table of steps and the same laws. Circuits
go through it `LANES` abreast, so that one instruction serves several and their numbers
stay in the processor's nearest memory. Nothing passes between lanes: what comes of a
circuit does not depend on its neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from functools import partial
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from ohmwork.network import laws
from ohmwork.network.elimination import LEAK, REFERENCE, Stamps, Step
from ohmwork.network.lowering import BY_SETUP
from ohmwork.network.newton import MOST_HALVINGS, MOST_STEPS, SWITCHED, Shape

LANES = 24
"""Few enough for their numbers to stay near, enough for wide instructions."""

CURVES = (
    laws.Filament, laws.Diode, laws.Threshold, laws.Motor, laws.Accumulator,
    laws.Limited,
)  # fmt: skip
"""Bent laws, by the number that stands for them in a table."""

FILAMENT, DIODE, THRESHOLD, MOTOR, ACCUMULATOR = range(5)

NUMBERS = 3
"""Most numbers that a law has."""

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F, *, cache: bool = False) -> F:
    """Return a function compiled for this machine; dividing by zero gives infinity."""
    return cast(F, numba.njit(function, cache=cache, error_model="numpy", nogil=True))


filament_at = compiled(laws.filament_at)
diode_at = compiled(laws.diode_at)
threshold_at = compiled(laws.threshold_at)
motor_at = compiled(laws.motor_at)
accumulator_at = compiled(laws.accumulator_at)
limited_at = compiled(laws.limited_at)


class Steps(NamedTuple):
    """Steps of one stage, laid flat."""

    node: NDArray[Any]
    first: NDArray[Any]
    """Of each step, and one more: where its neighbours begin."""
    neighbour: NDArray[Any]
    slot: NDArray[Any]
    """Of the edge to each neighbour."""
    first_fill: NDArray[Any]
    target: NDArray[Any]
    along: NDArray[Any]
    share: NDArray[Any]


class Table(NamedTuple):
    """A shape, laid flat, without what is eliminated once and for all.

    A slot holds the conductance of an edge, or of a node to the reference. Nodes and
    slots of the last stage come last, but for the reference and a slot for nothing.
    """

    nodes: NDArray[Any]
    """Number of each node in the shape."""
    slots: NDArray[Any]
    """Edge of the shape that each slot holds, or number of edges plus node."""
    own: NDArray[Any]
    """Slot of each node to the reference."""
    first_bent_node: int
    first_bent_slot: int
    switched_steps: Steps
    bent_steps: Steps
    slot: NDArray[Any]
    """Of each branch: those that are switched, then those that are bent."""
    ends: NDArray[Any]
    """Both nodes of each branch, shape ``(n, 2)``."""
    curve: NDArray[Any]
    """Law of each bent branch."""


def table_of(shape: Shape) -> Table:
    """Lay a shape flat."""
    n_edges = shape.plan.n_edges
    _, *stages = [*shape.plan.stages, (), ()][:3]
    nodes: list[int] = []
    slots: list[int] = []
    starts = []
    for steps in stages:
        starts.append((len(nodes), len(slots)))
        nodes += [step.node for step in steps]
        slots += dict.fromkeys(edge for step in steps for _, edge in step.neighbours)
        slots += [n_edges + step.node for step in steps]
    node_at = {node: k for k, node in enumerate(nodes)} | {REFERENCE: len(nodes)}
    slot_at = {slot: k for k, slot in enumerate(slots)}

    def slot_of(branch: int) -> int:
        i, j = shape.ends[branch]
        if i == j:
            return len(slots)
        edge = shape.edges[branch]
        return slot_at[n_edges + max(i, j) if edge == REFERENCE else edge]

    late = [*shape.of_stage[SWITCHED], *shape.bent]
    switched, bent = (_flat(steps, node_at, slot_at) for steps in stages)
    return Table(
        _whole(nodes),
        _whole(slots),
        _whole(slot_at[n_edges + node] for node in nodes),
        *starts[1],
        switched,
        bent,
        _whole(slot_of(k) for k in late),
        _whole(node_at[end] for k in late for end in shape.ends[k]).reshape(-1, 2),
        _whole(CURVES.index(type(shape.branches[k].law)) for k in shape.bent),
    )


def _flat(
    steps: Sequence[Step], node_at: Mapping[int, int], slot_at: Mapping[int, int]
) -> Steps:
    near = [pair for step in steps for pair in step.neighbours]
    fills = [fill for step in steps for fill in step.fills]
    return Steps(
        _whole(node_at[step.node] for step in steps),
        _starts(len(step.neighbours) for step in steps),
        _whole(node_at[node] for node, _ in near),
        _whole(slot_at[edge] for _, edge in near),
        _starts(len(step.fills) for step in steps),
        _whole(slot_at[target] for target, _, _ in fills),
        _whole(slot_at[along] for _, along, _ in fills),
        _whole(share for _, _, share in fills),
    )


def _whole(numbers: Iterable[int]) -> NDArray[Any]:
    return np.array([*numbers], dtype=np.int64)


def _starts(counts: Iterable[int]) -> NDArray[Any]:
    return np.cumsum(_whole([0, *counts]))


class Fleet(NamedTuple):
    """Many circuits of one shape: what stays as it is while they settle.

    Branches are those of the table.
    """

    table: Table
    held: NDArray[Any]
    """Of each slot, as what people have set leaves it. [S]"""
    driven: NDArray[Any]
    """Into each node. [A]"""
    numbers: NDArray[Any]
    """Of each branch's law, shape ``(n_branches, 3, n_variants)``."""
    set_shares: NDArray[Any]
    """1 where what people have set lets it conduct, ``(n_branches, n_setups)``."""
    first_gate: NDArray[Any]
    """Of each branch, and one more: where its gates begin."""
    gate: NDArray[Any]
    """Row of the states that each gate goes by."""
    opens: NDArray[Any]
    """Whether a gate is open where that state is 1."""
    drives: NDArray[Any]
    """Whether a branch holds a source of voltage."""
    sense: NDArray[Any]
    """Row of the offsets that a bent branch's voltage goes by, or -1."""


def fleet(
    shape: Shape,
    reduced: Stamps,
    set_shares: Sequence[laws.Row],
    triggers: Sequence[str],
    fuses: Sequence[str],
    senses: Sequence[str],
    variant: NDArray[Any],
    setup: NDArray[Any],
) -> Fleet:
    """Gather what stays as it is while circuits settle.

    Parameters
    ----------
    shape, reduced : theirs.
    set_shares : of each branch, 1 where what people have set lets it conduct.
    triggers, fuses : names of the rows of states, in this order.
    senses : names of the rows of offsets: alternators.
    variant, setup : of each circuit, the number of its vehicle and of its setup.
    """
    table = shape.table
    late = [*shape.of_stage[SWITCHED], *shape.bent]
    one_of_variant, one_of_setup = (
        np.unique(which, return_index=True)[1] for which in (variant, setup)
    )
    numbers = np.zeros((len(late), NUMBERS, len(one_of_variant)))
    shares = np.empty((len(late), len(one_of_setup)))
    gates = []
    sense = np.full(len(shape.bent), -1)
    for row, k in enumerate(late):
        branch = shape.branches[k]
        for number, field in enumerate(fields(branch.law)):
            value = getattr(branch.law, field.name)
            numbers[row, number] = laws.pick(value, one_of_variant)
        shares[row] = laws.pick(set_shares[k], one_of_setup)
        gates.append([g for g in branch.gates if g.by not in BY_SETUP])
        if isinstance(branch.law, laws.Limited) and branch.owner in senses:
            sense[row - len(shape.of_stage[SWITCHED])] = senses.index(branch.owner)
    row_of = {(False, name): k for k, name in enumerate(triggers)}
    row_of |= {(True, name): k for k, name in enumerate(fuses, len(triggers))}
    flat = [gate for some in gates for gate in some]
    held = np.array([*reduced.edges, *reduced.grounds])
    return Fleet(
        table,
        held[table.slots],
        np.array(reduced.currents)[table.nodes],
        numbers,
        shares,
        _starts(map(len, gates)),
        _whole(row_of[gate.by == "fuse", gate.name] for gate in flat),
        np.array([gate.by != "on" for gate in flat], dtype=np.bool_),
        np.array([isinstance(shape.branches[k].law, laws.Source) for k in late]),
        sense,
    )


@compiled
def _eliminate(steps: Any, own: Any, G: Any, J: Any, T: Any, part: Any) -> None:
    """Eliminate nodes; leave in `T` one over the sum of each one's conductances."""
    lanes = G.shape[1]
    for s in range(len(steps.node)):
        node = steps.node[s]
        first, last = steps.first[s], steps.first[s + 1]
        inverse, grounded, current = T[node], G[own[node]], J[node]
        for lane in range(lanes):
            inverse[lane] = grounded[lane]
        for k in range(first, last):
            along = G[steps.slot[k]]
            for lane in range(lanes):
                inverse[lane] += along[lane]
        for lane in range(lanes):
            inverse[lane] = 1.0 / max(inverse[lane], LEAK)
        for k in range(first, last):
            near = steps.neighbour[k]
            along, share = G[steps.slot[k]], part[k - first]
            for lane in range(lanes):
                share[lane] = along[lane] * inverse[lane]
            driven, held = J[near], G[own[near]]
            for lane in range(lanes):
                driven[lane] += share[lane] * current[lane]
                held[lane] += share[lane] * grounded[lane]
        for k in range(steps.first_fill[s], steps.first_fill[s + 1]):
            between, along = G[steps.target[k]], G[steps.along[k]]
            share = part[steps.share[k]]
            for lane in range(lanes):
                between[lane] += along[lane] * share[lane]


@compiled
def _expand(steps: Any, G: Any, J: Any, T: Any, V: Any) -> None:
    """Find the voltages of nodes from those of later ones."""
    lanes = G.shape[1]
    for s in range(len(steps.node) - 1, -1, -1):
        node = steps.node[s]
        found, inverse, current = V[node], T[node], J[node]
        for lane in range(lanes):
            found[lane] = current[lane]
        for k in range(steps.first[s], steps.first[s + 1]):
            along, near = G[steps.slot[k]], V[steps.neighbour[k]]
            for lane in range(lanes):
                found[lane] += along[lane] * near[lane]
        for lane in range(lanes):
            found[lane] *= inverse[lane]


@compiled
def _evaluate(
    curve: int, P: Any, share: Any, asked: Any, v: Any, current: Any, slope: Any
) -> None:
    """Set current and slope of one branch at voltage `v`, in lanes that ask."""
    for lane in range(LANES):
        if share[lane] == 0.0 or not asked[lane]:
            current[lane] = slope[lane] = 0.0
            continue
        a, b, c = P[0, lane], P[1, lane], P[2, lane]
        if curve == FILAMENT:
            i, g = filament_at(v[lane], a, b, c)
        elif curve == DIODE:
            i, g = diode_at(v[lane], a)
        elif curve == THRESHOLD:
            i, g = threshold_at(v[lane], a, b, np.log1p)
        elif curve == MOTOR:
            i, g = motor_at(v[lane], a, b, c)
        elif curve == ACCUMULATOR:
            i, g = accumulator_at(v[lane], a, b, c)
        else:
            i, g = limited_at(v[lane], a, b, c)
        current[lane], slope[lane] = i, g


@partial(compiled, cache=True)
def solve(
    fleet: Fleet,
    variant: NDArray[Any],
    setup: NDArray[Any],
    states: NDArray[Any],
    offsets: NDArray[Any],
    voltages: NDArray[Any],
    tolerance: float,
) -> tuple[int, int]:
    """Find the voltages of many circuits with every gate as it stands.

    Parameters
    ----------
    fleet : what stays as it is.
    variant, setup : of each circuit, the number of its vehicle and of its setup. Here
        and below `n` is a multiple of `LANES`; any circuit fills up the last ones.
    states : of triggers and fuses, 1 for on and for blown; shape ``(n_states, n)``.
    offsets : what alternators make up for, shape ``(n_senses, n)``. [V]
    voltages : of every node of the shape, shape ``(n_nodes, n)``; a start for the bent
        laws, and where those of the later stages are left. [V]
    tolerance : as for one circuit. [V]

    Returns
    -------
    How often a circuit's second stage and how often its last stage was eliminated.
    """
    table = fleet.table
    n, n_nodes, n_slots = voltages.shape[1], len(table.nodes), len(table.slots)
    n_bent, n_switched = len(table.curve), len(table.slot) - len(table.curve)
    bent_node, bent_slot = table.first_bent_node, table.first_bent_slot
    widest = 1
    for steps in (table.switched_steps, table.bent_steps):
        for s in range(len(steps.node)):
            widest = max(widest, steps.first[s + 1] - steps.first[s])
    G, J = np.zeros((n_slots + 1, LANES)), np.zeros((n_nodes + 1, LANES))
    G_base, J_base = np.zeros((n_slots + 1, LANES)), np.zeros((n_nodes + 1, LANES))
    T, V = np.empty((n_nodes, LANES)), np.zeros((n_nodes + 1, LANES))
    part = np.empty((widest, LANES))
    P, share = np.empty((n_bent, NUMBERS, LANES)), np.empty((n_bent, LANES))
    at, full = np.empty((n_bent, LANES)), np.empty((n_bent, LANES))
    tried = np.empty((n_bent, LANES))
    current, slope = np.empty((n_bent, LANES)), np.empty((n_bent, LANES))
    beyond, steeper = np.empty((n_bent, LANES)), np.empty((n_bent, LANES))
    largest, fall, rise = np.empty(LANES), np.empty(LANES), np.empty(LANES)
    length, moving = np.empty(LANES), np.empty(LANES, dtype=np.bool_)
    conducts, held = np.empty(LANES), np.empty(LANES)
    whose, stands = np.empty(LANES, dtype=np.int64), np.empty(LANES, dtype=np.int64)
    chunks = solved = 0
    for start in range(0, n, LANES):
        chunks += 1
        moving[:] = True
        last = start + LANES
        for lane in range(LANES):
            whose[lane] = variant[start + lane]
            stands[lane] = setup[start + lane]
        for k in range(n_slots):
            G_base[k] = fleet.held[k]
        for k in range(n_nodes):
            J_base[k] = fleet.driven[k]
        for b in range(n_switched + n_bent):
            shares = fleet.set_shares[b]
            for lane in range(LANES):
                conducts[lane] = shares[stands[lane]]
            for g in range(fleet.first_gate[b], fleet.first_gate[b + 1]):
                state = states[fleet.gate[g], start:last]
                if fleet.opens[g]:
                    for lane in range(LANES):
                        conducts[lane] *= 1.0 - state[lane]
                else:
                    for lane in range(LANES):
                        conducts[lane] *= state[lane]
            numbers = fleet.numbers[b]
            i, j = table.ends[b]
            if b < n_switched:
                conductance, between = numbers[0], G_base[table.slot[b]]
                for lane in range(LANES):
                    held[lane] = conducts[lane] * conductance[whose[lane]]
                    between[lane] += held[lane]
                if fleet.drives[b]:
                    voltage, into, out_of = numbers[1], J_base[i], J_base[j]
                    for lane in range(LANES):
                        into[lane] += held[lane] * voltage[whose[lane]]
                        out_of[lane] -= held[lane] * voltage[whose[lane]]
                continue
            k = b - n_switched
            for number in range(NUMBERS):
                values, row = numbers[number], P[k, number]
                for lane in range(LANES):
                    row[lane] = values[whose[lane]]
            share[k] = conducts * (P[k, 0] > 0.0)
            at[k] = 0.0
            if i < n_nodes:
                at[k] += voltages[table.nodes[i], start:last]
            if j < n_nodes:
                at[k] -= voltages[table.nodes[j], start:last]
            if fleet.sense[k] >= 0:
                P[k, 1] += offsets[fleet.sense[k], start:last]
            _evaluate(
                table.curve[k], P[k], share[k], moving, at[k], current[k], slope[k]
            )
        _eliminate(table.switched_steps, table.own, G_base, J_base, T, part)

        for _ in range(MOST_STEPS):
            solved += 1
            G[bent_slot:] = G_base[bent_slot:]
            J[bent_node:] = J_base[bent_node:]
            for k in range(n_bent):
                slot = table.slot[n_switched + k]
                i, j = table.ends[n_switched + k]
                for lane in range(LANES):
                    G[slot, lane] += share[k, lane] * slope[k, lane]
                    rest = current[k, lane] - slope[k, lane] * at[k, lane]
                    J[i, lane] -= share[k, lane] * rest
                    J[j, lane] += share[k, lane] * rest
            _eliminate(table.bent_steps, table.own, G, J, T, part)
            _expand(table.bent_steps, G, J, T, V)
            largest[:] = 0.0
            for k in range(n_bent):
                i, j = table.ends[n_switched + k]
                for lane in range(LANES):
                    full[k, lane] = V[i, lane] - V[j, lane]
                    change = abs(share[k, lane] * (full[k, lane] - at[k, lane]))
                    largest[lane] = max(largest[lane], change)
            any_moves = False
            for lane in range(LANES):
                moving[lane] = moving[lane] and largest[lane] > tolerance
                any_moves = any_moves or moving[lane]
            if not any_moves:
                break
            # How far to go towards the tangents' answer.
            fall[:] = 0.0
            length[:] = 1.0
            for k in range(n_bent):
                for lane in range(LANES):
                    step = full[k, lane] - at[k, lane]
                    fall[lane] += share[k, lane] * slope[k, lane] * step * step
                    tried[k, lane] = full[k, lane]
            for _ in range(MOST_HALVINGS):
                rise[:] = 0.0
                for k in range(n_bent):
                    curve = table.curve[k]
                    _evaluate(
                        curve, P[k], share[k], moving, tried[k], beyond[k], steeper[k]
                    )
                    for lane in range(LANES):
                        step = full[k, lane] - at[k, lane]
                        tangent = slope[k, lane] * length[lane] * step
                        gained = beyond[k, lane] - current[k, lane] - tangent
                        rise[lane] += share[k, lane] * gained * step
                too_far = False
                for lane in range(LANES):
                    excess = rise[lane] - (1.0 - length[lane]) * fall[lane]
                    if moving[lane] and excess > 0.5 * fall[lane]:
                        length[lane] *= 0.5
                        too_far = True
                if not too_far:
                    break
                for k in range(n_bent):
                    for lane in range(LANES):
                        if length[lane] < 1.0:
                            step = full[k, lane] - at[k, lane]
                            tried[k, lane] = at[k, lane] + length[lane] * step
            for k in range(n_bent):
                for lane in range(LANES):
                    if moving[lane]:
                        at[k, lane] = tried[k, lane]
                        current[k, lane] = beyond[k, lane]
                        slope[k, lane] = steeper[k, lane]
        _expand(table.switched_steps, G_base, J_base, T, V)
        for k in range(n_nodes):
            voltages[table.nodes[k], start:last] = V[k]
    return chunks * LANES, solved * LANES


def _compile() -> None:
    """Compile what is not compiled yet, by solving the smallest board twice."""
    from ohmwork.network import Network, Setup
    from ohmwork.vehicle import load_vehicle

    board = load_vehicle("lamp_board")
    Network(board, [board, board]).settle(Setup())


if __name__ == "__main__":
    _compile()
