"""How cost grows with size: one settle, one linear solve, and many scenarios at once.

Run: ``python tests/benchmarks/size.py``.
"""

import math
from collections.abc import Callable, Sequence
from functools import partial

from measuring import (
    driven_states,
    finish,
    is_quick,
    median_seconds,
    show,
    single_faults,
)
from repeated import repeated

from ohmwork.network import Network, Setup
from ohmwork.network.newton import Shape
from ohmwork.reasoning.dictionary import fault_dictionary

COPIES = (1, 2, 3, 6)
"""About 60, 120, 180 and 370 nodes."""

BLOCK = 2048
"""Scenarios solved together: the smallest dictionary fills such a block."""


def main() -> None:
    """Measure and print."""
    quick = is_quick()
    copies = COPIES[:2] if quick else COPIES
    costs = {number: _costs(number, quick=quick) for number in copies}
    nodes = [cost["nodes"] for cost in costs.values()]
    names = ("settle", "solve", "scenario")
    show(
        [
            ("copies", "nodes", "one settle", "one linear solve", "one of a block"),
            *(
                (
                    str(number),
                    f"{cost['nodes']:.0f}",
                    *(f"{1e6 * cost[name]:.1f} µs" for name in names),
                )
                for number, cost in costs.items()
            ),
        ]
    )
    exponents = {
        f"{name}_exponent": exponent(nodes, [cost[name] for cost in costs.values()])
        for name in names
    }
    print("Cost grows as the number of nodes to the power of (goal at most 1.2):")
    show([(name, f"{value:.2f}") for name, value in exponents.items()])
    finish(
        exponents
        | {
            f"{name}_us_at_{cost['nodes']:.0f}": 1e6 * cost[name]
            for name in names
            for cost in costs.values()
        }
    )


def _costs(copies: int, *, quick: bool) -> dict[str, float]:
    """Return the number of nodes, and what each task costs. [s]"""
    vehicle = repeated(copies)
    driven = driven_states(vehicle)
    network, setup = Network(vehicle), Setup(controls=driven[-1])
    shape = network.settle(setup).shape
    faults = single_faults(vehicle)[: 20 if quick else None]
    driven = driven[:1] if quick else driven
    repeats = 1 if quick else 3
    solve_all = partial(fault_dictionary, vehicle, faults, driven, block=BLOCK)
    solve_all()
    dictionary = median_seconds(solve_all, repeats)
    return {
        "nodes": float(len(shape.nodes)),
        "settle": median_seconds(lambda: network.settle(setup), 9 * repeats),
        "solve": median_seconds(_linear_solve(shape), 9 * repeats),
        "scenario": dictionary / len(faults) / len(driven),
    }


def _linear_solve(shape: Shape) -> Callable[[], object]:
    """Return the solution of the circuit with every law on its tangent at 0 V."""
    stamps = shape.plan.stamps()
    for number, branch in enumerate(shape.branches):
        current = branch.law.current(0.0)
        slope = (branch.law.current(1e-6) - current) / 1e-6
        shape.add(stamps, number, slope, current)

    return lambda: shape.plan.solve(stamps.copy())


def exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Return the slope of log cost over log size, by least squares."""
    x = [math.log(size) for size in sizes]
    y = [math.log(cost) for cost in costs]
    middle_x, middle_y = sum(x) / len(x), sum(y) / len(y)
    return sum(
        (a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True)
    ) / sum((a - middle_x) ** 2 for a in x)


if __name__ == "__main__":
    main()
