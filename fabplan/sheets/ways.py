"""The ways of an open choice in words, as the pictures show them."""

from collections.abc import Collection, Mapping

import numpy as np

from fabplan.geom.motion import AWRY, Motion, middle_of, motion_of
from fabplan.geom.pose import to_outer, to_own
from fabplan.geom.prism import thick
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.choice import Step, Way, moving
from fabplan.model.pose import Pose
from fabplan.sheets.isometric import USUAL, axes_of

AS_PROPOSED = "as proposed"
MOST = 0.9
"""Of how far all pieces stand off the datum: what goes to its other face is the body."""

SEVERAL = 3  # pieces that a body has at least beside its datum

SAME = 1.0  # mm: middles nearer than this are one place
NEARLY = 0.1
"""Of how far two pieces stand apart: so near to the other's place they change places, to the eye."""

TOWARDS = (
    *("to the right", "up to the right", "up", "up to the left"),
    *("to the left", "down to the left", "down", "down to the right"),
)
EIGHTH = 45.0


class Ways:
    """Words for the ways that lead from a body; directions are those of its pictures."""

    def __init__(self, body: Body, datum: int) -> None:
        """Take the body that is proposed, and the piece that it is set from."""
        self._body, self._datum = body, datum
        self._corners = {
            i: np.vstack([to_outer(pose, thick(panel).corners) for panel in body.part_of(i).panels])
            for i, pose in enumerate(body.poses)
            if pose is not None and body.part_of(i).panels
        }
        self._places = {i: middle_of(corners) for i, corners in self._corners.items()}

    def words(self, way: Way, after: Mapping[int, Pose]) -> str:
        """What a way does to the body.

        Args:
            way: its steps; all their pieces are placed.
            after: poses of the pieces once it is taken, those that stay as they are left out or not.
        """
        if not way:
            return AS_PROPOSED
        said: dict[str, list[str]] = {}
        for step in way:
            said.setdefault(self._step(step, moving(way)), []).extend(self._marks(sorted(step.pieces)))
        words = [f"{', '.join(who)} {what}" for what, who in said.items()]
        along = [i for i, pose in after.items() if i not in moving(way) and not _still(self._body.poses[i], pose)]
        if along:
            words.append(f"{', '.join(self._marks(along))} {'goes' if len(along) == 1 else 'go'} along")
        head = f"the body stands on the other face of {self._marks([self._datum])[0]}: " if self._over(after) else ""
        return head + "; ".join(words)

    def _over(self, after: Mapping[int, Pose]) -> bool:
        """Whether what stands off the flat datum on one side stands on the other afterwards, all but a little."""
        pose = self._body.poses[self._datum]
        if pose is None or len(self._body.part_of(self._datum).panels) != 1:
            return False
        middle, across = self._places[self._datum], pose.rotation[:, 2]
        others = [i for i in self._places if i != self._datum]
        before = np.array([(self._places[i] - middle) @ across for i in others])
        there = np.array([(self._there(i, after) - middle) @ across for i in others])
        over = before * there < 0.0
        return bool(over.sum() >= SEVERAL and np.abs(before[over]).sum() >= MOST * np.abs(before).sum())

    def _there(self, piece: int, after: Mapping[int, Pose]) -> FloatArray:
        """The middle of a piece once a way is taken."""
        here = self._body.poses[piece]
        if here is None or piece not in after:
            return self._places[piece]
        return to_outer(after[piece], to_own(here, self._places[piece]))

    def _marks(self, pieces: Collection[int]) -> list[str]:
        return [self._body.instances[i].mark for i in pieces]

    def _step(self, step: Step, own: Collection[int]) -> str:
        """What the pieces of a step do: turned, and in the place of another of the way or moved."""
        motion = motion_of(np.vstack([self._corners[i] for i in step.pieces]), step.move)
        turned = _turned(motion, "its" if len(step.pieces) == 1 else "their")
        if len(step.pieces) == 1:
            here = self._places[step.pieces[0]]
            there = here + motion.shift
            taken = [i for i in own if i not in step.pieces and self._reached(here, there, i)]
            if taken:
                nearest = min(taken, key=lambda i: float(np.linalg.norm(self._places[i] - there)))
                return ", ".join([f"in the place of {self._marks([nearest])[0]}", *turned])
        if self._change_places(step):
            return ", ".join(["change places", *turned])
        moved = self._to_other_face(step, motion.shift, own) or _moved(motion)
        return " and ".join([*turned, *moved]) or "as it is"

    def _to_other_face(self, step: Step, shift: FloatArray, own: Collection[int]) -> list[str]:
        """That a piece goes from one face of a flat plate to the other, straight through: pictures show both alike."""
        for i in self._places if len(step.pieces) == 1 else ():
            pose, panels = self._body.poses[i], self._body.part_of(i).panels
            if i in own or pose is None or len(panels) != 1:
                continue
            off = (self._corners[step.pieces[0]] - self._places[i]) @ pose.rotation[:, 2]
            there, half = off + shift @ pose.rotation[:, 2], panels[0].thickness / 2.0
            gone = shift - shift @ pose.rotation[:, 2] * pose.rotation[:, 2]
            sides = sorted((off, there), key=lambda one: float(one.mean()))
            touching = abs(sides[0].max() + half) < SAME and abs(sides[1].min() - half) < SAME
            if touching and np.linalg.norm(gone) < SAME:
                return [f"moved to the other face of {self._marks([i])[0]}"]
        return []

    def _change_places(self, step: Step) -> bool:
        """Whether each of several pieces goes to where another one of them stands."""
        places = {i: self._places[i] for i in step.pieces}
        there = {i: to_outer(step.move, place) for i, place in places.items()}
        return len(places) > 1 and all(
            any(k != i and self._reached(here, there[i], k) for k in places) for i, here in places.items()
        )

    def _reached(self, here: FloatArray, there: FloatArray, piece: int) -> bool:
        """Whether what goes from one place to another comes to where a piece stands, to the eye."""
        apart, off = (float(np.linalg.norm(self._places[piece] - one)) for one in (here, there))
        return off < max(SAME, NEARLY * apart)


def _still(one: Pose | None, two: Pose) -> bool:
    return one is not None and np.allclose(one.rotation, two.rotation) and np.allclose(one.origin, two.origin)


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
