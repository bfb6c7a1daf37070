"""From where a step's picture is seen: over the corner of the body where the gang stands."""

import numpy as np

from fabplan.geom.pose import to_outer
from fabplan.model.arrays import FloatArray
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.isometric import CORNERS, Corner, axes_of

CLEARLY = 1.15  # times better than the usual corner another must show a step before the picture is turned
BELOW = 0.6  # share of rivets driven upwards from which the picture is seen from below


def corner_of(plan: Plan, step: Step) -> Corner:
    """The corner over which a step is seen best: its rivets from the driver's side, else its new pieces."""
    out = _driven_from(plan, step)
    if not len(out):
        out = _towards_new(plan, step)
    level = 1.0 if float(np.mean(out[:, 2] < -0.5)) < BELOW else -1.0
    corners = [corner for corner in CORNERS if corner[2] == level]
    shown = [float(np.maximum(out @ axes_of(corner)[2], 0.0).sum()) for corner in corners]
    best = int(np.argmax(shown))
    return corners[best] if shown[best] > CLEARLY * shown[0] else corners[0]


def told(plan: Plan, corner: Corner) -> str:
    """The corner in words: the piece that lies nearest to it."""
    assert plan.body is not None
    centres = _centres(plan)
    masses = np.array([plan.body.part_of(i).mass for i in range(len(centres))])
    large = np.isfinite(centres[:, 0]) & (masses >= np.nanmedian(masses[np.isfinite(centres[:, 0])]))
    nearness = np.where(large, centres[:, :2] @ np.array(corner[:2]), -np.inf)
    mark = plan.body.instances[int(np.argmax(nearness))].mark
    return f"Seen from {'over' if corner[2] > 0.0 else 'below'} the {mark} end."


def _driven_from(plan: Plan, step: Step) -> FloatArray:
    """(k, 3) unit vectors from the rivets of a step to their driver."""
    assert plan.stacks is not None
    sides = [(work.rivets, 1.0 if work.driver_side == "point" else -1.0) for work in step.work]
    return np.concatenate([np.zeros((0, 3)), *(plan.stacks.axis[rivets] * sign for rivets, sign in sides)])


def _towards_new(plan: Plan, step: Step) -> FloatArray:
    """(k, 3) from the middle of what stands to each new piece."""
    centres = _centres(plan)
    new = centres[list(step.parts)]
    stands = centres[list({*step.parts, *step.present})]
    if not np.isfinite(new[:, 0]).any():
        return np.zeros((1, 3))
    away = new[np.isfinite(new[:, 0])] - np.nanmean(stands, axis=0)
    towards: FloatArray = away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    return towards


def _centres(plan: Plan) -> FloatArray:
    """(m, 3) the middle of each piece's panels, NaN for a piece that has no place."""
    assert plan.body is not None
    found = np.full((len(plan.body.instances), 3), np.nan)
    for i, pose in enumerate(plan.body.poses):
        panels = plan.body.part_of(i).panels
        if pose is not None and panels:
            own = [
                to_outer(panel.frame, np.append(panel.outline.vertices.mean(axis=0), -panel.thickness / 2.0))
                for panel in panels
            ]
            found[i] = to_outer(pose, np.mean(own, axis=0))
    return found
