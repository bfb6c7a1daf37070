"""The ways of a choice in words, on a body of plates laid out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.pose import compose
from fabplan.geom.prism import thick
from fabplan.geom.turn import turned_about
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.choice import Step, Way
from fabplan.model.pose import Pose
from fabplan.sheets.ways import Ways
from fabplan.way.assembly import assembled
from tests.readme import LAP

X, Y, Z = np.eye(3)


@pytest.fixture(scope="module")
def pair() -> Body:
    """P1 of the lap at the origin, P2 beside it, 300 mm along x."""
    body = assembled(LAP).placing.body
    aside = Pose(np.eye(3), np.array([300.0, 0.0, 0.0]))
    return replace(body, parts=(body.parts[0], body.parts[0]), poses=(Pose(), aside))


def words(body: Body, way: Way, **after: Pose) -> str:
    poses = {i: after.get(one.mark, body.poses[i]) for i, one in enumerate(body.instances)}
    return Ways(body, 0).words(way, {i: pose for i, pose in poses.items() if pose is not None})


def moved(*by: float) -> Pose:
    return Pose(np.eye(3), np.array(by))


def test_the_body_as_it_is(pair: Body) -> None:
    assert words(pair, ()) == "as proposed"


def test_a_step_aside_goes_by_the_picture(pair: Body) -> None:
    """To the eye at (1, -1, 1), x runs to the right and down, y to the right and up, z up."""
    for by, said in (
        ((240.0, 0.0, 0.0), "down to the right"),
        ((0.0, 240.0, 0.0), "up to the right"),
        ((0, 0, 9), "up"),
    ):
        move = moved(*by)
        assert words(pair, (Step((0,), move, 1),), P1=move) == f"P1 moved by {max(by):.0f} mm {said}"


def test_what_goes_straight_through_a_plate_is_said_to_lie_on_its_other_face(pair: Body) -> None:
    thick = pair.parts[0].panels[0].thickness
    body = replace(pair, poses=(Pose(), Pose(np.eye(3), np.array([50.0, 0.0, thick]))))
    for by, said in (
        ((0.0, 0.0, -2.0 * thick), "P2 moved to the other face of P1"),
        ((0.0, 0.0, -2.0 * thick - 4.0), f"P2 moved by {2.0 * thick + 4.0:.0f} mm down"),
        ((0.0, 0.0, 4.0), "P2 moved by 4 mm up"),
    ):
        assert words(body, (Step((1,), moved(*by), 1),), P2=moved(50.0 + by[0], by[1], thick + by[2])) == said
    aside = moved(30.0, 0.0, -2.0 * thick)
    assert words(body, (Step((1,), aside, 1),)).startswith("P2 moved by 3")


def test_what_changes_places_says_with_whom(pair: Body) -> None:
    way = (Step((0,), moved(300.0, 0.0, 0.0), 1), Step((1,), moved(-300.0, 0.0, 0.0), 1))
    told = words(pair, way, P1=moved(300.0, 0.0, 0.0), P2=Pose())
    assert told == "P1 in the place of P2; P2 in the place of P1"


def test_two_that_turn_together_into_each_others_place_change_places(pair: Body) -> None:
    """Half a turn about z midway between them: neither is told as turned over, though the two together lie flat."""
    move = turned_about(Z, np.pi, _middle(pair) + 150.0 * X)
    told = words(pair, (Step((0, 1), move, 1),))
    assert told.startswith("P1, P2 change places, turned")


def test_a_turn_says_which_way_round_and_who_goes_along(pair: Body) -> None:
    """Seen from over the marked face, a turn about z by the right hand is anticlockwise."""
    for degrees, sense in ((10.0, "anticlockwise"), (-10.0, "clockwise")):
        move = turned_about(Z, np.radians(degrees), _middle(pair))
        told = words(pair, (Step((0,), move, 1),), P1=move, P2=moved(301.0, 0.0, 0.0))
        assert told == f"P1 turned by 10 degrees {sense} in its plane; P2 goes along"


def test_a_plate_turned_over(pair: Body) -> None:
    along = X if _spans(pair)[0] > _spans(pair)[1] else Y
    move = turned_about(along, np.pi, _middle(pair))
    assert words(pair, (Step((0,), move, 1),), P1=move) == "P1 turned over"


def test_what_goes_to_the_other_face_of_the_datum_but_for_a_little_is_the_body(pair: Body) -> None:
    """Three plates 100 mm over the first: half a turn about a line in its middle plane brings them under it."""
    heights = [Pose(), *(Pose(np.eye(3), np.array([300.0 * k, 0.0, 100.0])) for k in range(3))]
    instances = tuple(replace(pair.instances[0], mark=f"P{k}", part=k - 1) for k in range(1, 5))
    body = replace(pair, parts=(pair.parts[0],) * 4, instances=instances, poses=tuple(heights))
    move = turned_about(X, np.pi, _middle(pair))
    under = {f"P{k}": compose(move, pose) for k, pose in enumerate(heights, 1) if k > 1}
    told = words(body, (Step((1, 2, 3), move, 1),), **under)
    assert told.startswith("the body stands on the other face of P1: P2, P3, P4 turned ")
    two = {mark: under[mark] for mark in ("P2", "P3")}
    assert words(body, (Step((1, 2), move, 1),), **two).startswith("P2, P3 turned ")


def _corners(body: Body) -> FloatArray:
    return thick(body.parts[0].panels[0]).corners


def _middle(body: Body) -> FloatArray:
    corners = _corners(body)
    middle: FloatArray = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    return middle


def _spans(body: Body) -> list[float]:
    spans: list[float] = np.ptp(_corners(body), axis=0).tolist()
    return spans
