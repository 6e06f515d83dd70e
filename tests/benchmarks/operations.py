"""How many floating-point operations elimination takes, counted as it runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

from ohmwork.network import lanes


@dataclass(slots=True)
class Tally:
    """Additions, multiplications and divisions so far."""

    operations: int = 0


def of_steps(steps: lanes.Steps) -> int:
    """Return what one circuit takes for these steps, forward and back.

    A neighbour adds to a total, has its share divided, gets its share of current and
    conductance, and is multiplied and added on the way back; a fill is multiplied and
    added; a node's voltage is divided.
    """
    return 8 * len(steps.neighbour) + 2 * len(steps.target) + len(steps.node)


@contextmanager
def counting() -> Iterator[Tally]:
    """Count what the elimination of many circuits does meanwhile."""
    tally = Tally()
    solve = lanes.solve

    def counted(fleet: lanes.Fleet, *rest: Any) -> tuple[int, int]:
        switched, bent = solve(fleet, *rest)
        tally.operations += switched * of_steps(fleet.table.switched_steps)
        tally.operations += bent * of_steps(fleet.table.bent_steps)
        return switched, bent

    with patch.object(lanes, "solve", counted):
        yield tally
