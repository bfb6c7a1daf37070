"""The small pictures: what is hidden is not drawn, or dashed where it is what comes in; the gang's side is shown."""

import numpy as np
import pytest

from fabplan.model.page import Stroke
from fabplan.model.plan import Plan
from fabplan.sheets.isometric import CORNERS, Corner, isometric, places, scene
from fabplan.sheets.stand import corner_of, told

ROOM = (0.0, 0.0, 200.0, 150.0)


def length(strokes: list[Stroke]) -> float:
    return sum(float(np.linalg.norm(np.diff(np.array(one.points), axis=0), axis=1).sum()) for one in strokes)


def index(plan: Plan, mark: str) -> int:
    assert plan.body is not None
    return [one.mark for one in plan.body.instances].index(mark)


def heavy(plan: Plan, mark: str, corner: Corner) -> tuple[float, float]:
    """Lengths on paper of the full and of the dashed lines of a piece in the whole body."""
    assert plan.body is not None
    own = index(plan, mark)
    strokes = isometric(scene(plan.body, corner), ROOM, [own], range(len(plan.body.instances)))
    dark = [one for one in strokes if one.grey == 0.0]
    return length([one for one in dark if not one.dash]), length([one for one in dark if one.dash])


def test_a_plate_at_the_back_is_dashed_and_one_at_the_front_is_full(bowser_plan: Plan) -> None:
    """E1 closes the end x = 0: seen whole from there; from the other end no more than the rim of its thickness is."""
    full, dashed = heavy(bowser_plan, "E1", (-1.0, -1.0, 1.0))
    assert dashed < 0.02 * full
    full, dashed = heavy(bowser_plan, "E1", (1.0, -1.0, 1.0))
    assert dashed > 2.0 * full


@pytest.mark.parametrize("corner", CORNERS)
def test_the_surge_plate_is_never_seen_from_outside(bowser_plan: Plan, corner: Corner) -> None:
    """P1 stands inside; only through the hatch can a little of it be seen."""
    full, dashed = heavy(bowser_plan, "P1", corner)
    assert full < 0.35 * (full + dashed)


def test_a_picture_of_one_plate_has_no_hidden_line(lap_plan: Plan) -> None:
    assert lap_plan.body is not None
    strokes = isometric(scene(lap_plan.body), ROOM, [0], [0])
    assert strokes
    assert all(one.dash is None for one in strokes)


def test_rivets_of_an_outer_face_are_seen_from_its_side_alone(bowser_plan: Plan) -> None:
    """Rivets of Bw, through the end plate E1, on its outer face."""
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    own = [k for k, number in enumerate(bowser_plan.stacks.number) if number.startswith("Bw ")]
    outer = bowser_plan.stacks.point_face[own]
    assert places(scene(bowser_plan.body, (-1.0, -1.0, 1.0)), ROOM, outer)[1].all()
    assert not places(scene(bowser_plan.body, (1.0, -1.0, 1.0)), ROOM, outer)[1].any()


def test_a_step_is_seen_from_where_the_gang_stands(bowser_plan: Plan) -> None:
    """The floor F1 is driven from below; E2 closes the end x = 2400, S3 the side towards greater y."""
    assert bowser_plan.sequence is not None
    corners = {step.title.split(":")[0]: corner_of(bowser_plan, step) for step in bowser_plan.sequence.steps}
    floor = next(corner for title, corner in corners.items() if title.endswith("to F1"))
    assert floor[2] == -1.0
    assert (corners["Rivet E2"][0], corners["Rivet S3"][1]) == (1.0, 1.0)
    assert told(bowser_plan, (-1.0, -1.0, 1.0)) == "Seen from over the E1 end."
