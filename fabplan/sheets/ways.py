"""The ways of an open choice in words, as the pictures show them."""

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from fabplan.geom.motion import AWRY, Motion, middle_of, motion_of
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import thick
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.choice import Step, Way, moving
from fabplan.model.pose import Pose
from fabplan.sheets.isometric import USUAL, axes_of

AS_PROPOSED = "as proposed"
SAME = 1.0  # mm: middles nearer than this are one place
TOWARDS = (
    *("to the right", "up to the right", "up", "up to the left"),
    *("to the left", "down to the left", "down", "down to the right"),
)
EIGHTH = 45.0


def way_words(body: Body, way: Way, after: Mapping[int, Pose]) -> str:
    """What a way does to the body that is proposed; directions are those of the pictures.

    Args:
        body: as proposed, all pieces of the way placed.
        way: its steps.
        after: poses of the pieces once it is taken.
    """
    if not way:
        return AS_PROPOSED
    own = moving(way)
    places = {i: middle_of(_corners(body, (i,))) for i in own}
    said: dict[str, list[str]] = {}
    for step in way:
        said.setdefault(_step(body, step, places), []).append(", ".join(_marks(body, sorted(step.pieces))))
    words = "; ".join(f"{', '.join(who)} {what}" for what, who in said.items())
    along = [i for i in _gone(body, after) if i not in own]
    return words + (f"; {_go(_marks(body, along))}" if along else "")


def _go(marks: Sequence[str]) -> str:
    return f"{', '.join(marks)} {'goes' if len(marks) == 1 else 'go'} along"


def _marks(body: Body, pieces: Collection[int]) -> list[str]:
    return [body.instances[i].mark for i in pieces]


def _gone(body: Body, after: Mapping[int, Pose]) -> list[int]:
    """Pieces that stand elsewhere in space, turned or moved."""
    return [i for i, pose in after.items() if not _still(body.poses[i], pose)]


def _still(one: Pose | None, two: Pose) -> bool:
    return one is not None and np.allclose(one.rotation, two.rotation) and np.allclose(one.origin, two.origin)


def _corners(body: Body, pieces: Collection[int]) -> FloatArray:
    found = [
        to_outer(pose, thick(panel).corners)
        for i in pieces
        if (pose := body.poses[i]) is not None
        for panel in body.part_of(i).panels
    ]
    return np.vstack(found)


def _step(body: Body, step: Step, places: Mapping[int, FloatArray]) -> str:
    """What the pieces of a step do: turned, and in the place of another or moved."""
    motion = motion_of(_corners(body, step.pieces), step.move)
    turned = _turned(motion, "its" if len(step.pieces) == 1 else "their")
    if len(step.pieces) == 1:
        there = places[step.pieces[0]] + motion.shift
        taken = [i for i, place in places.items() if np.linalg.norm(place - there) < SAME and i not in step.pieces]
        if taken:
            return ", ".join([f"in the place of {_marks(body, taken)[0]}", *turned])
    return " and ".join([*turned, *_moved(motion)]) or "as it is"


def _turned(motion: Motion, whose: str) -> list[str]:
    words = ["turned over"] if motion.over else ["turned end for end"] if motion.ends else []
    if motion.turn >= AWRY:
        about = {"plane": f" in {whose} plane", "length": f" about {whose} length", "": ""}[motion.about]
        words.append(f"turned by {_figure(motion.turn)} degrees{_sense(motion)}{about}")
    return words


def _figure(value: float) -> str:
    return f"{round(value, 1):g}"


def _sense(motion: Motion) -> str:
    """Clockwise or not, to the eye that sees the pictures."""
    towards = float(motion.axis @ axes_of(USUAL)[2])
    if abs(motion.turn - 180.0) < AWRY or abs(towards) < np.sin(np.radians(AWRY)):
        return ""
    return " anticlockwise" if towards > 0.0 else " clockwise"


def _moved(motion: Motion) -> list[str]:
    far = float(np.linalg.norm(motion.shift))
    if far < SAME:
        return []
    right, up, _ = axes_of(USUAL) @ motion.shift
    way = np.degrees(np.arctan2(up, right)) % 360.0
    words = TOWARDS[round(float(way) / EIGHTH) % 8]
    return [f"moved by {far:.0f} mm {words}"]
