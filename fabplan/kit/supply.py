"""How many rows that are still to come can serve the open ones: a bound that shows early that a body cannot close."""

import numpy as np

from fabplan.kit.alike import Kind
from fabplan.kit.lies import may_lie
from fabplan.kit.shape import Run, Shape
from fabplan.model.arrays import FloatArray, IntArray


class Supply:
    """Of each row of the kit: which rows of which kinds may lie on it, by count and spaces alone."""

    def __init__(self, kinds: tuple[Kind, ...]) -> None:
        """Compare all rows with all others."""
        rows = [(k, r) for k, kind in enumerate(kinds) for r in _alone(kind.shape)]
        self.type_of: dict[tuple[int, int], int] = {}
        serves: list[FloatArray] = []
        known: dict[bytes, int] = {}
        for k, r in rows:
            shape, run = kinds[k].shape, kinds[k].shape.runs[r]
            served = [_served(shape, run, kind.shape) for kind in kinds]
            own = np.array([sum(given) for given in served])
            sign = repr((len(run.holes), served)).encode()
            if sign not in known:
                known[sign] = len(serves)
                serves.append(own)
            self.type_of[k, r] = known[sign]
        self.serves = np.array(serves).reshape(-1, len(kinds))
        self.holes: IntArray = np.zeros(len(serves), dtype=np.int64)
        for (k, r), number in self.type_of.items():
            self.holes[number] = len(kinds[k].shape.runs[r].holes)

    def short(self, open_rows: list[tuple[int, int]], left: tuple[int, ...]) -> int:
        """Holes of open rows (kind, run), none of which has a mate yet, that what is left cannot serve, at least."""
        types = [self.type_of[row] for row in open_rows if row in self.type_of]
        if not types:
            return 0
        wanted = np.bincount(types, minlength=len(self.holes))
        given = self.serves @ np.array(left, dtype=np.float64)
        return int((np.maximum(wanted - given, 0.0) * self.holes).max())


def _alone(shape: Shape) -> list[int]:
    """Runs that share no hole with another: those can only be served as a whole."""
    count = np.bincount(
        np.concatenate([run.holes for run in shape.runs] or [np.zeros(0, np.int64)]), minlength=len(shape)
    )
    return [r for r, run in enumerate(shape.runs) if count[run.holes].max() == 1]


def _served(shape: Shape, run: Run, other: Shape) -> list[float]:
    """How many rows alike each row of one piece can serve: one, or several where it is so much longer."""
    return [
        float(max(1, len(one.holes) // len(run.holes))) if may_lie(shape, run, other, one) else 0.0
        for one in other.runs
    ]
