"""What a motion does to a plate, a bar, a ring: expected by hand."""

import numpy as np
import pytest

from fabplan.geom.motion import Motion, middle_of, motion_of
from fabplan.geom.pose import compose
from fabplan.geom.turn import turned_about
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

X, Y, Z = np.eye(3)
MIDDLE = np.array([300.0, 100.0, 5.0])


def block(*sides: float) -> FloatArray:
    """Corners of a block from the origin."""
    corners: FloatArray = np.array(
        [[x, y, z] for x in (0.0, sides[0]) for y in (0.0, sides[1]) for z in (0.0, sides[2])]
    )
    return corners


PLATE = block(600.0, 200.0, 10.0)
BAR = block(600.0, 50.0, 40.0)
ROUND = np.arange(0.0, 2.0 * np.pi, np.pi / 18.0)
RING = np.array([[z, 200.0 * np.cos(a), 200.0 * np.sin(a)] for z in (0.0, 50.0) for a in ROUND])


def turn(axis: FloatArray, degrees: float, centre: FloatArray = MIDDLE) -> Pose:
    return turned_about(axis, np.radians(degrees), centre)


def told(motion: Motion) -> tuple[bool, bool, float, str]:
    return motion.over, motion.ends, round(motion.turn, 3), motion.about


@pytest.mark.parametrize(
    ("points", "move", "expected"),
    [
        (PLATE, Pose(np.eye(3), 240.0 * X), (False, False, 0.0, "")),
        (PLATE, turn(Z, 90.0), (False, False, 90.0, "plane")),
        (PLATE, turn(X, 180.0), (True, False, 0.0, "plane")),  # over, about its length
        (PLATE, turn(Y, 180.0), (True, False, 180.0, "plane")),  # over, then end for end in its plane
        (PLATE, turn((X + Y) / np.sqrt(2.0), 180.0), (True, False, 90.0, "plane")),  # twice the 45 degrees of the line
        (PLATE, turn(X, 90.0), (False, False, 90.0, "length")),  # stood on edge
        (BAR, turn(X, 90.0), (False, False, 90.0, "length")),
        (BAR, turn(Z, 180.0), (False, True, 0.0, "")),
        (BAR, turn(Y, 180.0), (False, True, 0.0, "")),
        (RING, turn(X, 10.0, np.array([25.0, 0.0, 0.0])), (False, False, 10.0, "plane")),
        (RING, turn(Y, 180.0, np.array([25.0, 0.0, 0.0])), (True, False, 0.0, "plane")),
        (RING, turn(Z, 180.0, np.array([25.0, 0.0, 0.0])), (True, False, 180.0, "plane")),
    ],
)
def test_what_is_done_to_a_thing(points: FloatArray, move: Pose, expected: tuple[bool, bool, float, str]) -> None:
    assert told(motion_of(points, move)) == expected


def test_a_turn_over_and_the_turn_that_is_left_make_the_motion_again() -> None:
    """About the length of the plate first, then about its face's axis: by hand the turn about the slanted line."""
    for lean in (10.0, 70.0, 100.0, 170.0):
        line = np.cos(np.radians(lean)) * X + np.sin(np.radians(lean)) * Y
        move = turn(line, 180.0)
        motion = motion_of(PLATE, move)
        again = compose(turn(motion.axis, motion.turn), turn(X, 180.0))
        assert motion.over
        assert np.allclose(again.rotation, move.rotation)


def test_how_far_the_middle_goes() -> None:
    """A plate turned over about its long edge y = 0: the middle goes from y 100, z 5 to y -100, z -5."""
    motion = motion_of(PLATE, turn(X, 180.0, np.zeros(3)))
    assert np.allclose(middle_of(PLATE), MIDDLE)
    assert np.allclose(motion.shift, [0.0, -200.0, -10.0])
    assert np.allclose(motion_of(RING, turn(X, 10.0, np.zeros(3))).shift, 0.0)
