"""What passes through holes that lie over one another: the widest round shank, and the round hole that clears all."""

import numpy as np

from fabplan.model.arrays import FloatArray

STEPS = 200
"""Of the search for a middle: within a hundredth of the eccentricity (Badoiu and Clarkson, 2003)."""


def passing(places: FloatArray, radii: FloatArray) -> FloatArray:
    """(n,) diameter, mm, of the widest shank through the holes of each of n stacks; never too large.

    Args:
        places: (n, k, 2) middles, mm.
        radii: (n, k) of the holes, mm.
    """
    if places.shape[1] == 2:
        apart = np.linalg.norm(places[:, 0] - places[:, 1], axis=1)
        return np.asarray(np.minimum(2.0 * radii.min(axis=1), radii.sum(axis=1) - apart))
    return -2.0 * _least(places, -radii)


def enclosing(places: FloatArray, radii: FloatArray) -> FloatArray:
    """(n,) diameter, mm, of the smallest round hole that holds all holes of each of n stacks; never too small."""
    if places.shape[1] == 2:
        apart = np.linalg.norm(places[:, 0] - places[:, 1], axis=1)
        return np.asarray(np.maximum(2.0 * radii.max(axis=1), radii.sum(axis=1) + apart))
    return 2.0 * _least(places, radii)


def _least(places: FloatArray, more: FloatArray) -> FloatArray:
    """(n,) least over all middles of the greatest distance to a place (n, k, 2) and `more` (n, k), from above.

    Most often two places settle it, and from their middle all others are nearer; only where not is it searched for.
    """
    rows = np.arange(len(places))
    first, second = np.triu_indices(places.shape[1], 1)
    apart = np.linalg.norm(places[:, first] - places[:, second], axis=2)
    half = (apart + more[:, first] + more[:, second]) / 2.0
    worst = half.argmax(axis=1)
    one, other, best = first[worst], second[worst], half[rows, worst]
    way = (places[rows, other] - places[rows, one]) / np.maximum(apart[rows, worst], 1e-12)[:, None]
    middle = places[rows, one] + np.maximum(best - more[rows, one], 0.0)[:, None] * way
    reach = (np.linalg.norm(places - middle[:, None], axis=2) + more).max(axis=1)
    left = np.flatnonzero(~(reach <= best + 1e-9))
    reach[left] = np.minimum(reach[left], _searched(places[left], more[left], middle[left]))
    return np.asarray(reach)


def _searched(places: FloatArray, more: FloatArray, middle: FloatArray) -> FloatArray:
    """The same, step by step from a middle (n, 2) towards whichever place is furthest."""
    rows, best = np.arange(len(places)), np.full(len(places), np.inf)
    for step in range(1, STEPS + 1):
        reach = np.linalg.norm(places - middle[:, None], axis=2) + more
        far = reach.argmax(axis=1)
        best = np.minimum(best, reach[rows, far])
        middle = middle + (places[rows, far] - middle) / (step + 1.0)
    return best


def eccentricity(places: FloatArray) -> FloatArray:
    """(n,) greatest distance, mm, of two of the places (n, k, 2) of each stack."""
    first, second = np.triu_indices(places.shape[1], 1)
    return np.asarray(np.linalg.norm(places[:, first] - places[:, second], axis=2).max(axis=1))
