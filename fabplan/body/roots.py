"""Plates that lie in a section with an edge on its root fillet: they do not lie down."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.body.found import finding, point
from fabplan.geom.band import into_band
from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import LEVEL, Solid, solid
from fabplan.geom.tolerance import ROUNDED, TOUCH
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.legs import Leg, legs_of
from fabplan.model.part import Part


@dataclass(frozen=True, slots=True)
class _On:
    """A piece with an edge on the root of another: how far into it, and how far the edge then stands off, mm."""

    bar: int
    piece: int
    into: float
    off: float


def check_roots(body: Body) -> Iterator[Finding]:
    """Flat metal on the inner face of a leg, an edge of which lies where the root fillet is, bar by bar."""
    metal = [
        (i, solid(panel, pose))
        for i, pose in enumerate(body.poses)
        if pose is not None
        for panel in body.part_of(i).panels
        if panel.kind == "flat"
    ]
    low = np.array([one.corners.min(axis=0) for _, one in metal]).reshape(-1, 3) - TOUCH
    high = np.array([one.corners.max(axis=0) for _, one in metal]).reshape(-1, 3) + TOUCH
    for bar, pose in enumerate(body.poses):
        part = body.part_of(bar)
        if pose is None or part.section is None or not part.section.root_radius > 0.0 or part.straight:
            continue
        worst: dict[int, _On] = {}
        for leg, panel in zip(legs_of(part.section), part.panels, strict=True):
            own = solid(panel, pose)
            near = np.all((low <= own.corners.max(axis=0)) & (high >= own.corners.min(axis=0)), axis=1)
            for piece, other in (metal[k] for k in np.nonzero(near)[0].tolist()):
                found = _on_root(part, leg, own, other) if piece != bar else None
                if found is not None and (piece not in worst or found[0] > worst[piece].into):
                    worst[piece] = _On(bar, piece, *found)
        yield from (_told(body, one) for one in worst.values())


def _on_root(part: Part, leg: Leg, own: Solid, other: Solid) -> tuple[float, float] | None:
    """How far a prism on the inner face of a leg reaches onto its root, and how far its edge stands off there, mm."""
    seen = compose(inverse(own.frame), other.frame)
    if not abs(float(seen.rotation[2, 2])) >= LEVEL:
        return None
    heights = to_outer(seen, np.array([[0.0, 0.0, 0.0], [0.0, 0.0, -other.thickness]]))[:, 2]
    on_inner = abs(float(heights.max()) + own.thickness) <= TOUCH
    if not (on_inner or (leg.both and abs(float(heights.min())) <= TOUCH)):
        return None
    assert part.section is not None
    sign = 1.0 if own.face.centroid.y > 0.0 else -1.0
    radius = part.section.root_radius
    for near, far in _fillets(leg, radius):
        into = into_band(own, other, sign * near, sign * far)
        if into > ROUNDED:
            return into, radius - float(np.sqrt(max(radius**2 - into**2, 0.0)))
    return None


def _fillets(leg: Leg, radius: float) -> Iterator[tuple[float, float]]:
    """Where the root fillets of a leg begin on its flat, and where they end at its neighbour, mm from the heel."""
    for low, high in leg.roots:
        if low > leg.low:
            yield low, low + radius
        if high < leg.high:
            yield high, high - radius


def _told(body: Body, one: _On) -> Finding:
    bar, piece = body.part_of(one.bar), body.part_of(one.piece)
    pose = body.poses[one.piece]
    assert bar.section is not None
    assert pose is not None, "only placed pieces lie on others"
    what = (
        f"an edge of {body.instances[one.piece].mark} lies {one.into:.1f} mm on the root fillet (r "
        f"{bar.section.root_radius:g}) of {body.instances[one.bar].mark}: it stands {one.off:.1f} mm off there"
    )
    mend = f"Cut the edge back by {one.into:.1f} mm, or chamfer it {one.off:.1f} mm high over that width."
    where = Where(piece.spec.drawing, body.instances[one.piece].mark, point=point(solid(piece.panels[0], pose).middle))
    return finding("edge-on-root", what, mend, where, measured=one.into, required=0.0, source="common practice")
