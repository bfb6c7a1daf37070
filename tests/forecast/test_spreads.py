"""Spreads of making and what passes through strayed holes, held against ISO 9013, scipy and plain geometry."""

from typing import Any

import numpy as np
import pytest
from scipy import optimize
from scipy.spatial.transform import Rotation

from fabplan.geom.scatter import LIMIT, mixing, spread_of, variogram
from fabplan.geom.settled import ARM, FACE, STAYS, Pairs, settling
from fabplan.geom.through import eccentricity, enclosing, passing
from fabplan.model.arrays import FloatArray
from fabplan.model.tolerances import LengthTolerance
from fabplan.rules.tolerances import read_tolerances

LENGTHS = (3, 10, 35, 125, 315, 1000, 2000, 4000)
CLASS_1 = {  # ISO 9013:2017 class 1, of a fabricator's copy; 0 where it gives none. By the greatest of each range, mm
    1.0: (0.075, 0.10, 0.10, 0.20, 0.20, 0.30, 0.40, 0.65),
    3.15: (0.10, 0.15, 0.20, 0.25, 0.25, 0.35, 0.40, 0.65),
    6.3: (0.20, 0.20, 0.25, 0.25, 0.30, 0.40, 0.45, 0.70),
    10.0: (0.0, 0.25, 0.30, 0.30, 0.35, 0.45, 0.55, 0.75),
    15.0: (0.0, 0.30, 0.35, 0.40, 0.45, 0.55, 0.65, 0.85),
    20.0: (0.0, 0.40, 0.40, 0.45, 0.55, 0.75, 0.85, 1.20),
    25.0: (0.0, 0.45, 0.50, 0.60, 0.70, 0.90, 1.10, 1.60),
    32.0: (0.0, 0.0, 0.70, 0.70, 0.80, 1.00, 1.60, 2.25),
}
CLASS_2 = {  # class 2, the same page
    3.15: (0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 1.0, 1.1),
    6.3: (0.7, 0.8, 0.9, 0.9, 1.1, 1.2, 1.3, 1.3),
    10.0: (0.0, 1.0, 1.1, 1.3, 1.4, 1.5, 1.6, 1.7),
    20.0: (0.0, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2),
}


def row_of(process: str, thickness: float) -> LengthTolerance:
    (row,) = [row for row in read_tolerances().lengths if process in row.processes and row.over < thickness <= row.to]
    return row


@pytest.mark.parametrize(
    ("process", "table"), [("laser", CLASS_1), ("water jet", CLASS_1), ("plasma", CLASS_2), ("oxy-fuel", CLASS_2)]
)
def test_the_tables_are_the_standards(process: str, table: dict[float, tuple[float, ...]]) -> None:
    for thickness, deviations in table.items():
        row = row_of(process, thickness)
        assert row.lengths[: len(LENGTHS)] == LENGTHS
        assert row.deviations[: len(LENGTHS)] == deviations
        assert row.to == thickness


@pytest.mark.parametrize("thickness", [2.0, 6.0, 8.0, 12.0, 18.0])
def test_the_variogram_keeps_to_the_standard_within_a_fifth(thickness: float) -> None:
    """At the middle of each range of rows of rivets, 35 mm to 4 m, against the deviations of ISO 9013 class 1."""
    row = row_of("laser", thickness)
    ranges = list(zip(row.lengths[2:7], row.lengths[3:8], row.deviations[3:8], strict=True))
    middles = np.array([np.sqrt(low * high) for low, high, _ in ranges])
    limits = np.array([limit for _, _, limit in ranges])
    assert variogram(row).deviation(middles) == pytest.approx(limits, rel=0.2)


@pytest.mark.parametrize(("distance", "likely"), [(200.0, 0.42), (560.0, 0.57), (1400.0, 0.64), (2800.0, 0.99)])
def test_two_plates_are_out_as_the_easing_table_says(distance: float, likely: float) -> None:
    """Likely offset of two 6 mm plates aligned at one end hole: the root of two times ISO 9013's deviation."""
    grown = variogram(row_of("laser", 6.0))
    offset = LIMIT * np.sqrt(2.0 * (grown.nugget + grown.growth * distance))
    assert offset == pytest.approx(likely, rel=0.2)


def test_near_holes_stray_alike_and_far_ones_more() -> None:
    """The variance of every difference is the variogram's: worked out from the mix, in one matrix product."""
    grown = variogram(row_of("laser", 6.0))
    places = np.random.default_rng(3).uniform(0.0, 2000.0, (40, 2))
    mixed = mixing(places, grown)
    covariance = mixed @ mixed.T
    variance = np.diag(covariance)[:, None] + np.diag(covariance)[None] - 2.0 * covariance
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    off = ~np.eye(40, dtype=bool)
    assert variance[off] == pytest.approx(grown.nugget + grown.growth * apart[off], abs=1e-9)


def test_a_cut_hole_is_a_quarter_of_a_millimetre_off_at_most() -> None:
    """ISO 9013 class 1, 3.15 to 6.3 mm plate, lengths of 10 to 35 mm: 0.25, taken as two standard deviations."""
    assert LIMIT * spread_of(row_of("laser", 6.0), 11.0) == pytest.approx(0.25)


def test_two_holes_pass_the_lens_between_them() -> None:
    places = np.array([[[0.0, 0.0], [0.6, 0.8]], [[0.0, 0.0], [0.0, 0.1]]])
    radii = np.array([[5.5, 5.5], [5.0, 6.0]])
    assert passing(places, radii) == pytest.approx([10.0, 10.0])
    assert enclosing(places, radii) == pytest.approx([12.0, 12.0])
    assert eccentricity(places) == pytest.approx([1.0, 0.1])


def _least(places: FloatArray, more: FloatArray) -> float:
    """By scipy's simplex search, from several starts."""
    starts = [places.mean(axis=0), *places]
    tight: Any = {"xatol": 1e-8, "fatol": 1e-10}

    def reach(middle: FloatArray) -> float:
        return float((np.linalg.norm(places - middle, axis=1) + more).max())

    return min(float(optimize.minimize(reach, one, method="Nelder-Mead", options=tight).fun) for one in starts)


def test_what_passes_three_and_four_holes_against_scipy() -> None:
    """Never called wider, or the clearing hole smaller, than it is; by no more than a few microns otherwise."""
    rng = np.random.default_rng(0)
    for plies in (3, 4):
        places, radii = rng.normal(0.0, 0.4, (60, plies, 2)), 5.5 + rng.normal(0.0, 0.1, (60, plies))
        wide = np.array([-2.0 * _least(one, -size) for one, size in zip(places, radii, strict=True)])
        round_all = np.array([2.0 * _least(one, size) for one, size in zip(places, radii, strict=True)])
        assert np.all(passing(places, radii) <= wide + 1e-6)
        assert np.all(enclosing(places, radii) >= round_all - 1e-6)
        assert passing(places, radii) == pytest.approx(wide, abs=0.005)
        assert enclosing(places, radii) == pytest.approx(round_all, abs=0.005)


def test_pieces_settle_where_a_dense_least_squares_puts_them() -> None:
    """Three plates, two rows: moves by scipy's small rotations, in numpy's lstsq, against the sparse factor."""
    rng = np.random.default_rng(4)
    count = 12
    at = np.vstack([np.c_[rng.uniform(0, 900, (count, 2)), np.zeros(count)] for _ in range(2)])
    a, b = np.repeat([0, 1], count), np.repeat([1, 2], count)
    axis = np.tile([0.0, 0.0, 1.0], (2 * count, 1))
    sides = np.tile(np.eye(3)[:2], (2 * count, 1, 1))
    say = rng.uniform(0.1, 1.0, 2 * count)
    pairs = Pairs(a, b, at, axis, sides)
    out, apart = rng.normal(0.0, 0.3, (2 * count, 2)), rng.normal(0.0, 0.2, 2 * count)

    def moved(unknown: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Places and axes of both ends of all pairs, pieces 1 and 2 moved by a thousandth of the unknown."""
        ends, ways = [], []
        for piece in (a, b):
            turn = Rotation.from_rotvec(np.vstack([np.zeros(3), unknown[:, 3:]])[piece] * 1e-6)
            shift = np.vstack([np.zeros(3), unknown[:, :3]])[piece] * 1e-6
            ends.append(turn.apply(at) + shift)
            ways.append(turn.apply(axis))
        return (ends[1] - ends[0]) * 1e6, (ways[1] - ways[0]) * 1e6

    columns = [moved(np.eye(12)[k].reshape(2, 6)) for k in range(12)]
    across = np.stack([off[:, :2].ravel() for off, _ in columns], axis=1)
    gap = np.stack([off[:, 2] for off, _ in columns], axis=1)
    tilt = np.stack([ARM * way[:, :2].ravel() for _, way in columns], axis=1)
    weight = np.sqrt(np.repeat(say, 2))[:, None]
    matrix = np.vstack([weight * across, np.sqrt(FACE) * gap, np.sqrt(FACE) * tilt])
    wanted = np.concatenate([weight[:, 0] * out.ravel(), np.sqrt(FACE) * apart, np.zeros(len(tilt))])
    rest = out.ravel() - across @ np.linalg.lstsq(matrix, wanted, rcond=None)[0]
    fixed = np.array([True, False, False])
    found = settling(pairs, fixed, say).rest(out.reshape(-1, 1), apart[:, None])[:, 0]
    assert STAYS < 1e-6
    assert found == pytest.approx(rest, abs=1e-3)
