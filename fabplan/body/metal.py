"""Metal over the hole of a rivet or part of it."""

from collections.abc import Iterator

import numpy as np

from fabplan.body.found import count_of, finding, flat, point, some
from fabplan.geom.pose import to_own
from fabplan.geom.prism import contains, reaches, solid
from fabplan.geom.tolerance import TOUCH
from fabplan.model.arrays import IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.pose import Pose


def check_metal(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Panels over the hole of a rivet or part of it, touching its plies, that have no hole there."""
    own = own_panels(body, stacks)
    blind: dict[tuple[int, int], list[int]] = {}
    for instance, pose in enumerate(body.poses):
        if pose is None:
            continue
        for panel in range(len(body.part_of(instance).panels)):
            for i in _pierced(body, stacks, instance, pose, panel).tolist():
                if (i, instance, panel) not in own:
                    blind.setdefault((instance, int(stacks.seam[i])), []).append(i)
    for (instance, seam), rivets in blind.items():
        mark = job.seams[seam].mark if seam >= 0 else ""
        part = body.part_of(instance)
        at = to_own(_placed(body, instance), stacks.point[rivets[0]])
        yield finding(
            "no-hole",
            f"{body.instances[instance].mark} {_how(body, stacks, instance, rivets)} seam {mark or '(none)'} "
            f"and has no hole there: {some([stacks.number[i] for i in rivets])}",
            "Drill the hole, or cut the piece back clear of the row.",
            Where(
                drawing=part.spec.drawing,
                part=body.instances[instance].mark,
                seam=mark,
                holes=tuple(stacks.number[i] for i in rivets),
                xy=flat(at) if part.blank is not None else None,
                point=point(stacks.point[rivets[0]]),
            ),
            measured=len(rivets),
            required=0,
        )


def _how(body: Body, stacks: Stacks, instance: int, rivets: list[int]) -> str:
    """Whether metal of a piece lies on the axis of one of these rivets, or beside all of them over part of the hole."""
    pose = _placed(body, instance)
    for panel in body.part_of(instance).panels:
        metal = solid(panel, pose)
        if contains(metal.face, to_own(metal.frame, stacks.point[rivets])[:, :2]).any():
            return f"lies in the way of {count_of(len(rivets), 'rivet')} of"
    return f"covers part of {count_of(len(rivets), 'hole')} of"


def _placed(body: Body, instance: int) -> Pose:
    pose = body.poses[instance]
    assert pose is not None, "only placed pieces have stacks"
    return pose


def own_panels(body: Body, stacks: Stacks) -> set[tuple[int, int, int]]:
    """(stack, instance, panel) of all plies, and of the facets beside a ply that is one: they are the same plate."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    own = set(zip(owner.tolist(), stacks.ply_instance.tolist(), stacks.ply_panel.tolist(), strict=True))
    round_ones = {
        (stack, instance): [k for k, one in enumerate(body.part_of(instance).panels) if one.kind != "flat"]
        for stack, instance, panel in own
        if body.part_of(instance).panels[panel].kind != "flat"
    }
    return own | {(stack, instance, k) for (stack, instance), facets in round_ones.items() for k in facets}


def _pierced(body: Body, stacks: Stacks, instance: int, pose: Pose, panel: int) -> IntArray:
    """Indices of stacks over whose hole lies metal of a panel that touches or overlaps their plies."""
    if len(stacks) == 0:
        return np.zeros(0, dtype=np.int64)
    part = body.part_of(instance)
    metal = solid(part.panels[panel], pose)
    head, point = to_own(metal.frame, stacks.head_face), to_own(metal.frame, stacks.point_face)
    upright = np.hypot(*(point - head)[:, :2].T) <= 0.02 * np.abs(point - head)[:, 2]
    low, high = np.minimum(head[:, 2], point[:, 2]), np.maximum(head[:, 2], point[:, 2])
    touches = upright & (high >= -metal.thickness - TOUCH) & (low <= TOUCH)
    index = np.nonzero(touches)[0]
    own = part.holes.panel == panel
    xy = head[index, :2]
    inside = reaches(metal.face, xy, stacks.hole[index] / 2.0)
    if own.any():
        apart = np.linalg.norm(xy[:, None, :] - part.holes.holes.xy[own][None, :, :], axis=2)
        inside &= ~np.any(apart <= part.holes.holes.diameter[own][None, :] / 2.0, axis=1)
    return index[inside]
