"""What the solver needs beyond plus and times, for one circuit and for many."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ohmwork.network.laws import Row


class Floats:
    """What is needed beyond arithmetic, for one circuit."""

    maximum = staticmethod(max)
    minimum = staticmethod(min)
    log1p = staticmethod(math.log1p)
    any = staticmethod(bool)

    @staticmethod
    def where(condition: Any, yes: Row, no: Row) -> Row:
        """Choose by a condition."""
        return yes if condition else no


def arrays() -> Any:
    """Return the same for many circuits: NumPy, loaded when it is needed."""
    import numpy as np

    from ohmwork.network.lanes import LANES

    class Arrays:
        """Floats stay floats among arrays: they are faster."""

        log1p = staticmethod(np.log1p)
        any = staticmethod(np.any)

        @staticmethod
        def where(condition: Any, yes: Row, no: Row) -> Row:
            """Choose by a condition."""
            if isinstance(condition, (bool, np.bool_)):
                return yes if condition else no
            return np.where(condition, yes, no)

        @staticmethod
        def maximum(one: Row, other: Row) -> Row:
            """Larger of two."""
            if isinstance(one, float) and isinstance(other, float):
                return max(one, other)
            return np.maximum(one, other)

        @staticmethod
        def minimum(one: Row, other: Row) -> Row:
            """Smaller of two."""
            return np.minimum(one, other)

        @staticmethod
        def numbers(values: Sequence[int]) -> Any:
            """Return whole numbers, ready for `spread`."""
            return np.array(values)

        @staticmethod
        def spread(values: Sequence[float], which: Any) -> Row:
            """Return ``values[which]``; one number where all are the same."""
            if min(values) == max(values):
                return values[0]
            return np.array(values)[which]

        @staticmethod
        def put(row: Row, rows: Any, part: Row, n: int) -> Row:
            """Return a row with those of some circuits exchanged."""
            whole = np.array(np.broadcast_to(row, (n,)))
            whole[rows] = part
            return whole

        @staticmethod
        def find(condition: Any, n: int) -> Any:
            """Return where a condition holds."""
            return np.flatnonzero(np.broadcast_to(condition, (n,)))

        @staticmethod
        def table(rows: Sequence[Row], n: int) -> Any:
            """Return rows as one array of shape ``(len(rows), n)``."""
            table = np.empty((len(rows), n))
            for row, values in zip(table, rows, strict=True):
                row[:] = values
            return table

        @staticmethod
        def padded(rows: Any) -> Any:
            """Return rows with the last circuit repeated, to fill all lanes."""
            more = -rows.shape[-1] % LANES
            return np.pad(rows, [(0, 0)] * (rows.ndim - 1) + [(0, more)], mode="edge")

    return Arrays
