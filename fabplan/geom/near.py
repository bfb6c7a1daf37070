"""Pairs of points that lie close together. numpy only, so that a drawing check stays light."""

from collections import defaultdict

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray


def close_pairs(xy: FloatArray, limit: float) -> tuple[IntArray, FloatArray]:
    """Pairs of points at most `limit` apart.

    Args:
        xy: points, (n, 2), mm, all finite.
        limit: largest distance, mm; a pair exactly at the limit is returned.

    Returns:
        pairs (m, 2) with pairs[:, 0] < pairs[:, 1], sorted; their distances (m,), mm.

    Raises:
        ValueError: a row of xy is not finite; the message gives the row.

    >>> close_pairs(np.array([[0.0, 0.0], [3.0, 4.0], [9.0, 0.0]]), 5.0)[0].tolist()
    [[0, 1]]
    """
    bad = np.nonzero(~np.isfinite(xy).all(axis=1))[0]
    if len(bad):
        raise ValueError(f"point {bad[0]} is not finite")
    if len(xy) < 2 or limit <= 0.0:
        return np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, (x, y) in enumerate(np.floor(xy / limit).astype(np.int64).tolist()):
        cells[x, y].append(i)
    found: list[FloatArray] = []
    for (x, y), own in cells.items():
        block = np.array([i for dx in (-1, 0, 1) for dy in (-1, 0, 1) for i in cells.get((x + dx, y + dy), ())])
        here = np.array(own)
        apart = np.linalg.norm(xy[here][:, None] - xy[block][None], axis=2)
        one, other = np.nonzero((apart <= limit) & (here[:, None] < block[None]))
        found.append(np.column_stack([here[one], block[other], apart[one, other]]))
    table = np.vstack(found)
    table = table[np.lexsort((table[:, 1], table[:, 0]))]
    return table[:, :2].astype(np.int64), table[:, 2]
