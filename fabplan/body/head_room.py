"""Room for the heads of the rivets on their faces: no other piece may stand where one is made."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.body.found import count_of, finding, point, some
from fabplan.body.metal import own_panels
from fabplan.geom.over_face import face_frame, fouled
from fabplan.geom.prism import Solid, solid
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.lookup import find_head
from fabplan.model.pose import Pose
from fabplan.model.tables import Tables

ENDS = ("made head", "point")


def check_head_room(
    job: Job, body: Body, stacks: Stacks, tables: Tables, told: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Heads and points that other metal leaves no room for.

    The plies of the rivet do not count, nor the other leg of a bar: its root has a check of its own. A countersunk head
    needs no room over its face.

    Args:
        job: the job.
        body: the body.
        stacks: its rivets.
        tables: for the sizes of heads.
        told: findings of the body; metal over the hole itself is told there.
    """
    blind = {(one.where.part, number) for one in told if one.check == "no-hole" for number in one.where.holes}
    own = own_panels(body, stacks)
    bars = {(i, instance) for i, instance, _ in own if body.part_of(instance).section is not None}
    metal = _Metal(body)
    groups: dict[tuple[int, int, int], list[int]] = {}
    for end, face in _faces(job, stacks, tables):
        for instance, panel, one in metal.near(face):
            for i in face.rivets[fouled(face.frame, face.points, face.head, one)].tolist():
                mine = (i, instance, panel) in own or (i, instance) in bars
                if not mine and (body.instances[instance].mark, stacks.number[i]) not in blind:
                    groups.setdefault((instance, int(stacks.seam[i]), end), []).append(i)
    return tuple(_finding(job, body, stacks, key, sorted(set(rivets))) for key, rivets in sorted(groups.items()))


@dataclass(frozen=True, slots=True, eq=False)
class _Face:
    """Rivets whose heads are made on one plane: (k,) indices of stacks, (k, 3) middles, diameter and height, mm."""

    rivets: IntArray
    points: FloatArray
    frame: Pose
    head: tuple[float, float]


def _faces(job: Job, stacks: Stacks, tables: Tables) -> Iterator[tuple[int, _Face]]:
    """The planes on which round heads are made, with the end of the rivets: 0 their made heads, 1 their points."""
    for end, (points, way) in enumerate(((stacks.head_face, -1.0), (stacks.point_face, 1.0))):
        for rivet, spec in enumerate(job.rivets):
            row = find_head(tables, spec, spec.point if end else spec.head)
            of_rivet = np.nonzero(stacks.rivet == rivet)[0]
            if row is None or row.form != "round" or len(of_rivet) == 0:
                continue
            outward = way * stacks.axis[of_rivet]
            level = np.einsum("ij,ij->i", points[of_rivet], outward)
            plane = np.column_stack([np.round(outward, 3), np.round(level, 1)]) + 0.0  # -0.0 and 0.0 are one
            _, label = np.unique(plane, axis=0, return_inverse=True)
            for one in range(int(label.max()) + 1):
                rivets = of_rivet[label.ravel() == one]
                frame = face_frame(points[rivets[0]], way * stacks.axis[rivets[0]])
                yield end, _Face(rivets, points[rivets], frame, (row.head_diameter, row.head_height))


class _Metal:
    """The panels of all placed pieces, and the corners (k, 3) of the boxes round them."""

    def __init__(self, body: Body) -> None:
        self.panels = [
            (instance, panel, solid(one, pose))
            for instance, pose in enumerate(body.poses)
            if pose is not None
            for panel, one in enumerate(body.part_of(instance).panels)
        ]
        corners = [metal.corners for _, _, metal in self.panels]
        self.low = np.array([own.min(axis=0) for own in corners]).reshape(-1, 3)
        self.high = np.array([own.max(axis=0) for own in corners]).reshape(-1, 3)

    def near(self, face: _Face) -> Iterator[tuple[int, int, Solid]]:
        """The panels (instance, panel, metal) whose box comes within reach of a head on a face."""
        reach = max(face.head)
        low, high = face.points.min(axis=0) - reach, face.points.max(axis=0) + reach
        met = np.nonzero(np.all(self.low <= high, axis=1) & np.all(self.high >= low, axis=1))[0]
        points = face.points[:, None]
        one = np.all((self.low[met] <= points + reach) & (self.high[met] >= points - reach), axis=2)
        return (self.panels[k] for k in met[one.any(axis=0)].tolist())


def _finding(job: Job, body: Body, stacks: Stacks, key: tuple[int, int, int], rivets: list[int]) -> Finding:
    instance, seam, end = key
    mark = job.seams[seam].mark
    points = (stacks.head_face, stacks.point_face)[end]
    numbers = tuple(stacks.number[i] for i in rivets)
    return finding(
        "head-fouls",
        f"{body.instances[instance].mark} stands where {count_of(len(rivets), ENDS[end])} of seam {mark} must be: "
        f"{some(numbers)}",
        "Move the row or cut the piece back until the whole head lies clear; or make the head countersunk.",
        Where(part=body.instances[instance].mark, seam=mark, holes=numbers, point=point(points[rivets[0]])),
        measured=len(rivets),
        required=0,
        source="head tables",
    )
