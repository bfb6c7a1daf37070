"""Folding at the press: a blank that passes through itself, and metal in the way of the punch of the next fold."""

from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.errors import FormingError
from fabplan.geom.bend import curl
from fabplan.geom.facets import Facet, facets
from fabplan.geom.forming import BendLine, Formed, Region, form
from fabplan.geom.pose import compose, inverse, to_own
from fabplan.geom.prism import Solid, clash, section
from fabplan.geom.tolerance import CLASH
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

CLEAR = 1.0  # mm over the inside of the bend, where the punch is looked at first
HIGH = 10_000.0  # mm: punch and ram reach up without end
BESIDE = 1e-3  # mm within which regions of a blank are neighbours
MOST = 6  # folds of which all orders are tried


def fouls_itself(formed: Formed) -> FloatArray | None:
    """A place (3,), mm, where a formed blank passes through itself by more than `CLASH`; None where it does not."""
    rounds = next((one for one in formed.regions if one.bend and abs(one.bend.angle) > 2.0 * np.pi + 1e-9), None)
    if rounds is not None:
        return rounds.pose.origin
    solids = [(one.region, Solid(one.frame, one.face, formed.thickness)) for one in _facets(formed)]
    apart = {
        (i, k)
        for (i, one), (k, other) in combinations(enumerate(formed.regions), 2)
        if shapely.distance(one.face, other.face) > BESIDE
    }
    for (i, one), (k, other) in combinations(solids, 2):
        if (min(i, k), max(i, k)) in apart and clash(one, Pose(), other, Pose()):
            return other.middle
    return None


def _facets(formed: Formed) -> tuple[Facet, ...]:
    return facets(formed, np.zeros((0, 2)))[0]


def in_the_way(formed: Formed, number: int) -> bool:
    """Whether metal stands where a straight punch without thickness, and the ram over it, make a fold.

    At the end of its stroke the punch stands in the plane that halves the fold, over the whole of its line.

    Args:
        formed: the blank with that fold made, and those before it.
        number: of the fold in `formed.lines`.
    """
    own = [region for region in formed.regions if region.line == number]
    others = [one for one in _facets(formed) if formed.regions[one.region].line != number]
    for region in own:
        plane, reach = _punch(region)
        for one in others:
            seen = compose(inverse(plane), one.frame)
            common = section(Solid(one.frame, one.face, formed.thickness), seen, 0.0).intersection(reach)
            if common.area > 0.0 and not common.buffer(-CLASH / 2.0).is_empty:
                return True
    return False


def _punch(region: Region) -> tuple[Pose, BaseGeometry]:
    """The plane of the punch (x along the fold, y up from its inside) and what of it the punch takes."""
    bend = region.bend
    assert bend is not None
    inside = 0.0 if bend.angle > 0.0 else -bend.thickness
    x, height, turn = curl(bend, np.array([bend.width / 2.0]), np.array([inside]))
    up = np.sign(bend.angle) * np.array([-np.sin(turn[0]), 0.0, np.cos(turn[0])])
    along = np.array([0.0, 1.0, 0.0])
    own = Pose(np.column_stack([along, up, np.cross(along, up)]), np.array([x[0], 0.0, height[0]]))
    corners = np.asarray(region.face.exterior.coords)
    y = to_own(region.own, np.column_stack([corners, np.zeros(len(corners))]))[:, 1]
    return compose(region.pose, own), shapely.box(float(y.min()), CLEAR, float(y.max()), HIGH)


def fouled_folds(face: BaseGeometry, thickness: float, lines: tuple[BendLine, ...]) -> list[int]:
    """Numbers of the folds, made in the order of `lines`, in whose way metal folded before them stands."""
    return [k for k in range(1, len(lines)) if _fouls(face, thickness, lines[: k + 1])]


def clear_order(face: BaseGeometry, thickness: float, lines: tuple[BendLine, ...]) -> tuple[int, ...]:
    """An order of the folds in which nothing stands in the way; () where there is none, or over `MOST` folds."""
    if len(lines) > MOST:
        return ()
    dead: set[frozenset[int]] = set()

    def onward(done: tuple[int, ...]) -> tuple[int, ...]:
        if len(done) == len(lines):
            return done
        for k in range(len(lines)):
            if k in done or frozenset((*done, k)) in dead:
                continue
            if not _fouls(face, thickness, tuple(lines[i] for i in (*done, k))):
                found = onward((*done, k))
                if found:
                    return found
        dead.add(frozenset(done))
        return ()

    return onward(())


def _fouls(face: BaseGeometry, thickness: float, lines: tuple[BendLine, ...]) -> bool:
    """Whether the last of the lines is fouled when all are folded; folds that close a ring only together are not."""
    try:
        return in_the_way(form(face, thickness, lines), len(lines) - 1)
    except FormingError:
        return False
