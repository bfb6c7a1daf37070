"""What faces hide, against shares worked out by hand and against rays cast by trimesh."""

import numpy as np
import pytest
import trimesh

from fabplan.geom.hidden import covers, hidden_points, hidden_runs

SQUARE = np.array([[0.0, 0.0, 10.0], [10.0, 0.0, 10.0], [10.0, 10.0, 10.0], [0.0, 10.0, 10.0]])
TILTED = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 20.0], [10.0, 10.0, 20.0], [0.0, 10.0, 0.0]])


def shares(
    face: np.ndarray[tuple[int, ...], np.dtype[np.float64]], start: list[float], end: list[float]
) -> list[float]:
    found = hidden_runs(np.array([start]), np.array([end]), covers([(face, ())], [7]))
    assert set(found.owner.tolist()) <= {7}
    return [round(value, 6) for value in found.share.ravel().tolist()]


def test_a_line_behind_a_square_is_hidden_where_it_runs_behind_it() -> None:
    """From x -5 to 15 the square covers 0 to 10: a quarter to three quarters."""
    assert shares(SQUARE, [-5.0, 5.0, 0.0], [15.0, 5.0, 0.0]) == [0.25, 0.75]


def test_a_line_before_or_on_a_face_is_not_hidden() -> None:
    assert shares(SQUARE, [-5.0, 5.0, 20.0], [15.0, 5.0, 20.0]) == []
    assert shares(SQUARE, [0.0, 0.0, 10.0], [10.0, 0.0, 10.0]) == []


def test_a_line_through_a_tilted_face_is_hidden_on_one_side() -> None:
    """The face rises 2 in 1 and stands 1.5 mm before a line at depth 5.5 from x = 3.5 on."""
    assert shares(TILTED, [0.0, 5.0, 5.5], [10.0, 5.0, 5.5]) == [0.35, 1.0]


def test_an_opening_hides_nothing() -> None:
    opening = np.array([[4.0, 4.0, 10.0], [6.0, 4.0, 10.0], [6.0, 6.0, 10.0], [4.0, 6.0, 10.0]])
    found = hidden_runs(np.array([[0.0, 5.0, 0.0]]), np.array([[10.0, 5.0, 0.0]]), covers([(SQUARE, [opening])], [0]))
    assert sorted(found.share.round(6).tolist()) == [[0.0, 0.4], [0.6, 1.0]]


@pytest.mark.parametrize("seed", range(4))
def test_hidden_points_are_those_whose_ray_meets_a_face(seed: int) -> None:
    """Thirty triangles at random; trimesh casts a ray from each point towards the eye."""
    rng = np.random.default_rng(seed)
    faces = rng.uniform(0.0, 100.0, (30, 3, 3))
    points = rng.uniform(0.0, 100.0, (500, 3))
    mesh = trimesh.Trimesh(faces.reshape(-1, 3), np.arange(90).reshape(-1, 3), process=False)
    away = np.tile([0.0, 0.0, 1.0], (len(points), 1))
    met, ray, _ = mesh.ray.intersects_location(points, away)
    depth = np.zeros(len(points))
    np.maximum.at(depth, ray, met[:, 2] - points[ray, 2])
    clear = np.abs(depth - 1.5) > 0.01
    found = hidden_points(points, covers([(one, ()) for one in faces], list(range(30))))
    assert (found == (depth > 1.5))[clear].all()
    assert 50 < found.sum() < 450
