"""Patterns from tape sizes, held against patterns known beforehand, the law of cosines and scipy's least squares."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.distance import pdist

from fabplan.geom.taped import Tape, solved, turned_over
from fabplan.model.arrays import FloatArray

ACROSS = np.array([40.0, 80.0, 120.0, 160.0, 200.0, 242.0, 280.0])
DRAWN = np.vstack([np.c_[ACROSS, np.full(7, 40.0)], np.c_[ACROSS, np.full(7, 100.0)]])
DIAGONALS, ENDS = [(0, 13), (6, 7)], [(0, 7), (6, 13)]
Size = tuple[int, int, int]


def running() -> list[Size]:
    """A tape along each of two lines of seven holes, from its first hole."""
    return [(first, first + k, first + 6) for first in (0, 7) for k in range(1, 7)]


def taped(xy: FloatArray, sizes: list[Size], wrong: dict[int, float] | None = None) -> Tape:
    """Sizes of a pattern, straight where no third hole is named; some of them wrong."""
    length, off = [], []
    for start, end, along in sizes:
        way = complex(*(xy[end] - xy[start]))
        if along < 0:
            length.append(abs(way))
            off.append(0.0)
        else:
            tape = complex(*(xy[along] - xy[start]))
            seen = way * tape.conjugate() / abs(tape)
            length.append(seen.real)
            off.append(seen.imag)
    for k, more in (wrong or {}).items():
        length[k] += more
    start, end, far = np.array(sizes, dtype=np.int64).T
    return Tape(start, end, far, np.array(length), np.array(off))


def turn(u: FloatArray, v: FloatArray) -> float:
    """The angle from one way to another, counter-clockwise, radians."""
    return float(np.angle(complex(*v) / complex(*u)))


def straight(pairs: list[tuple[int, int]]) -> list[Size]:
    return [(one, other, -1) for one, other in pairs]


@pytest.mark.parametrize("seed", range(5))
def test_two_rows_and_two_diagonals_give_the_pattern_back(seed: int) -> None:
    """Holes strayed by some 2 mm: all distances of the pattern are the steel's, its hand is the drawing's."""
    steel = DRAWN + np.random.default_rng(seed).normal(0.0, 2.0, DRAWN.shape)
    found = solved(taped(steel, running() + straight(DIAGONALS + ENDS)), DRAWN)
    assert pdist(found.xy) == pytest.approx(pdist(steel), abs=1e-6)
    a, b, c = found.xy[[0, 6, 7]]
    assert turn(b - a, c - a) > 0.0  # counter-clockwise, as drawn
    assert turned_over(taped(steel, running() + straight(DIAGONALS + ENDS)), found.xy, 1e-6) == []


def test_a_triangle_by_the_law_of_cosines() -> None:
    """Sides 300, 400, 450: the angle between the first two is acos((300^2 + 400^2 - 450^2) / (2 300 400))."""
    sides = Tape(np.array([0, 0, 1]), np.array([1, 2, 2]), np.full(3, -1), np.array([300.0, 400.0, 450.0]), np.zeros(3))
    xy = solved(sides, np.array([[0.0, 0.0], [310.0, 0.0], [60.0, 380.0]])).xy
    u, v = xy[1] - xy[0], xy[2] - xy[0]
    angle = math.acos((300.0**2 + 400.0**2 - 450.0**2) / (2.0 * 300.0 * 400.0))
    assert turn(u, v) == pytest.approx(angle, abs=1e-9)


def test_sizes_that_err_are_shared_as_scipy_shares_them() -> None:
    """The sum of squares that `scipy.optimize.least_squares` finds, from sizes with errors of half a millimetre."""
    rng = np.random.default_rng(7)
    sizes = running() + straight([*DIAGONALS, *ENDS, (3, 10), (0, 12)])
    tape = taped(DRAWN, sizes)
    tape = Tape(tape.start, tape.end, tape.along, tape.length + rng.normal(0.0, 0.5, len(sizes)), tape.off)

    def left(flat: FloatArray) -> FloatArray:
        own = taped(flat.reshape(-1, 2), sizes)
        apart: FloatArray = np.r_[own.length - tape.length, own.off - tape.off]
        return apart

    judge = least_squares(left, DRAWN.ravel(), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    found = solved(tape, DRAWN)
    assert float(np.sum(found.left**2)) == pytest.approx(float(np.sum(judge.fun**2)), rel=1e-6)
    assert pdist(found.xy) == pytest.approx(pdist(judge.x.reshape(-1, 2)), abs=1e-4)


def test_what_a_size_proves_is_what_is_left_of_its_error() -> None:
    """One diagonal 2 mm long: of it is left the share that the others prove, by the definition of the hat matrix."""
    sizes = running() + straight(DIAGONALS + ENDS)
    sound, wrong = solved(taped(DRAWN, sizes), DRAWN), solved(taped(DRAWN, sizes, {12: 2.0}), DRAWN)
    assert wrong.left[12, 0] == pytest.approx(2.0 * sound.proved[12], abs=0.02)
    assert sound.proved[[0, 1, 2, 3, 4]] == pytest.approx(0.0, abs=1e-9)  # nothing else tells a hole amid a row


def test_one_size_too_few_leaves_a_hinge() -> None:
    """Two stiff rows have three ways to move to one another: two sizes leave one, three none."""
    hinged = solved(taped(DRAWN, running() + straight(DIAGONALS)), DRAWN)
    assert np.isinf(hinged.doubt).any()
    assert hinged.tie[0] < 7 <= hinged.tie[1]  # from one row to the other
    tied = solved(taped(DRAWN, running() + straight([*DIAGONALS, hinged.tie])), DRAWN)
    assert np.isfinite(tied.doubt).all()


def test_a_hole_tied_to_two_others_may_lie_on_either_side_of_their_line() -> None:
    xy = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0], [100.0, 4.0]])
    tape = taped(xy, straight([(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3), (0, 4), (1, 4)]))
    one, other = turned_over(tape, xy, 0.01)  # the hole, or all that lies beyond the line
    found = min(one, other, key=lambda way: float(np.abs(way - xy).max()))
    assert found == pytest.approx(np.vstack([xy[:4], [[100.0, -4.0]]]))
    more = taped(xy, straight([(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3), (0, 4), (1, 4), (2, 4)]))
    assert turned_over(more, xy, 0.01) == []
