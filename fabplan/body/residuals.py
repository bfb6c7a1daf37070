"""How far each hole is out once all pieces are placed: along its own row, across it, and the gap before its ply."""

import numpy as np

from fabplan.geom.pose import turned
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.part import Part


def residuals(body: Body, stacks: Stacks) -> FloatArray:
    """(k, 3) mm for the plies of all stacks: along the row and across it off the stack's axis, in the axes of the ply.

    Along runs from a hole of the row to the next as numbered; across is square to it in the ply's plane, to the left of
    that seen on its marked face. The third is the gap to the ply before, below 0 where both run into one another; 0 for
    the first ply.
    """
    out = np.zeros((len(stacks.ply_hole), 3))
    out[:, 2] = stacks.ply_gap
    tangents = {number: _tangents(part) for number, part in enumerate(body.parts)}
    for k, (instance, panel, hole) in enumerate(
        zip(stacks.ply_instance.tolist(), stacks.ply_panel.tolist(), stacks.ply_hole.tolist(), strict=True)
    ):
        pose = body.poses[instance]
        assert pose is not None, "only placed pieces have stacks"
        frame = body.part_of(instance).panels[panel].frame
        x, y = tangents[body.instances[instance].part][hole].tolist()
        axes = turned(pose, turned(frame, np.array([[x, y, 0.0], [-y, x, 0.0]])))
        out[k, :2] = axes @ stacks.ply_offset[k]
    return out


def _tangents(part: Part) -> FloatArray:
    """(n, 2) unit vectors along the row of each hole, in its panel's plane; along x where it has no neighbour."""
    holes = part.holes.holes
    ways = np.tile([1.0, 0.0], (len(holes), 1))
    rows: dict[tuple[str, int], list[int]] = {}
    for k, (row, panel) in enumerate(zip(holes.row, part.holes.panel.tolist(), strict=True)):
        rows.setdefault((row, panel), []).append(k)
    for own in rows.values():
        if len(own) > 1:
            step = np.gradient(holes.xy[own], axis=0)
            size = np.linalg.norm(step, axis=1)
            ways[np.array(own)[size > 0.0]] = step[size > 0.0] / size[size > 0.0, None]
    return ways
