"""Lines through faces, held against shapely's common part of line and face and against sizes worked out by hand."""

import numpy as np
import pytest
import shapely

from fabplan.geom.chords import chords


def ragged(rng: np.random.Generator) -> shapely.Polygon:
    """A face of any outline about the middle, corners at whole or any places, with openings."""
    corners = int(rng.integers(3, 12))
    turn = np.sort(rng.uniform(0.0, 2.0 * np.pi, corners))
    points = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(20.0, 100.0, corners)[:, None]
    face = shapely.make_valid(shapely.Polygon(np.round(points, -1) if rng.random() < 0.4 else points))
    for middle in rng.integers(-30, 30, (int(rng.integers(0, 4)), 2)):
        face = face.difference(shapely.Point(middle).buffer(rng.uniform(2.0, 12.0), quad_segs=4))
    parts = [one for one in shapely.get_parts(face) if one.geom_type == "Polygon"]
    return max(parts, key=shapely.area, default=shapely.box(0.0, 0.0, 10.0, 20.0))


@pytest.mark.parametrize("seed", range(20))
def test_against_the_common_part_by_shapely(seed: int) -> None:
    """2,000 lines with ends, a third of them along rows of whole places where edges and corners lie."""
    rng = np.random.default_rng(seed)
    faces = np.array([ragged(rng) for _ in range(5)], dtype=object)
    count = 2000
    face, feet, ways = rng.integers(0, 5, count), rng.uniform(-60.0, 60.0, (count, 2)), rng.normal(size=(count, 2))
    row = rng.random(count) < 0.3
    feet[row] = np.round(feet[row], -1)
    feet[row, 1] += 0.25
    ways[row] = np.array([[1.0, 0.0], [-2.0, 0.0]])[rng.integers(0, 2, row.sum())]
    low = rng.uniform(-100.0, 50.0, count)
    high = low + rng.uniform(1.0, 100.0, count)
    near, far = chords(faces, face, feet, ways, (low, high))
    lines = shapely.linestrings(np.stack([feet + low[:, None] * ways, feet + high[:, None] * ways], axis=1))
    points, of = shapely.get_coordinates(shapely.intersection(lines, faces[face]), return_index=True)
    along = np.sum((points - feet[of]) * ways[of], axis=1) / np.sum(ways[of] ** 2, axis=1)
    least, most = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(least, of, along)
    np.maximum.at(most, of, along)
    assert 0.1 < np.isfinite(least).mean() < 0.9
    assert np.allclose(near, least, atol=1e-6)
    assert np.allclose(far, most, atol=1e-6)


def test_lines_along_edges_and_without_ends() -> None:
    """A face of 100 x 50 with an opening from 40 to 60: edges count as metal, and openings lie between the ends."""
    opening = shapely.box(40.0, 10.0, 60.0, 40.0).exterior
    faces = np.array([shapely.Polygon(shapely.box(0.0, 0.0, 100.0, 50.0).exterior, [opening])], dtype=object)
    feet = np.array([[0.0, 50.0], [0.0, 50.0], [0.0, 25.0], [0.0, 25.0], [0.0, 25.0], [0.0, 51.0]])
    ways = np.tile([2.0, 0.0], (6, 1))
    low = np.array([-np.inf, 10.0, -np.inf, 25.0, 22.0, -np.inf])
    high = np.array([np.inf, 20.0, np.inf, 40.0, 28.0, np.inf])
    near, far = chords(faces, np.zeros(6, dtype=np.int64), feet, ways, (low, high))
    assert near.tolist() == [0.0, 10.0, 0.0, 30.0, np.inf, np.inf]
    assert far.tolist() == [50.0, 20.0, 50.0, 40.0, -np.inf, -np.inf]
