"""How many floating-point operations elimination takes, counted as it runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

import numpy as np

from ohmwork.network.elimination import Plan, Stamps


@dataclass(slots=True)
class Tally:
    """Additions, multiplications and divisions so far."""

    operations: int = 0


class _Counted:
    """Stands for a number or a row of them; every operation on it is counted."""

    __slots__ = ("size", "tally")

    def __init__(self, size: int, tally: Tally) -> None:
        self.size, self.tally = size, tally

    def _and(self, other: _Counted) -> _Counted:
        size = max(self.size, other.size)
        self.tally.operations += size
        return _Counted(size, self.tally)

    __add__ = __mul__ = __truediv__ = _and


@contextmanager
def counting() -> Iterator[Tally]:
    """Count what every elimination does meanwhile, by running its table twice."""
    tally = Tally()
    eliminate, expand = Plan.eliminate, Plan.expand

    def counted(rows: list[Any]) -> list[Any]:
        return [_Counted(np.size(row), tally) for row in rows]

    def sizes(stamps: Stamps) -> Stamps:
        return Stamps(
            counted(stamps.edges),
            counted(stamps.grounds),
            counted(stamps.currents),
            counted(stamps.totals),
        )

    def eliminate_twice(
        plan: Plan, stage: int, stamps: Stamps, at_least: Any = max
    ) -> None:
        eliminate(plan, stage, sizes(stamps), lambda total, _: total)
        eliminate(plan, stage, stamps, at_least)

    def expand_twice(
        plan: Plan, stage: int, stamps: Stamps, voltages: list[Any]
    ) -> None:
        expand(plan, stage, sizes(stamps), counted(voltages))
        expand(plan, stage, stamps, voltages)

    with (
        patch.object(Plan, "eliminate", eliminate_twice),
        patch.object(Plan, "expand", expand_twice),
    ):
        yield tally
