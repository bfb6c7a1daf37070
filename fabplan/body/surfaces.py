"""The faces of a made piece, each with the way from its drawing into the body."""

from dataclasses import replace

from fabplan.body.cone import cone_of
from fabplan.body.formed import bent, formed
from fabplan.body.parts import round_openings
from fabplan.body.ring import bar_ring
from fabplan.geom.cone import Cone
from fabplan.geom.forming import Formed
from fabplan.geom.surface import BentLeg, Surface
from fabplan.model.part import Part
from fabplan.model.pose import Pose


def surfaces(part: Part, pose: Pose) -> dict[str, Surface]:
    """The face of a plate by the name "", the legs of a bar by theirs; none where the form is not known.

    Args:
        part: the piece.
        pose: where it stands in the body.
    """
    if not part.panels:
        return {}
    if part.section is not None:
        legs = part.straight or part.panels
        if part.straight:
            assert part.spec.ring is not None
            assert part.spec.length is not None
            ring = bar_ring(part.spec.ring, part.section, part.spec.length)
            return {leg.name: Surface(BentLeg(ring, leg.frame), pose, leg.thickness) for leg in legs}
        return {leg.name: Surface(leg.frame, pose, leg.thickness) for leg in legs}
    return {"": Surface(_plate(part), pose, part.thickness)}


def _plate(part: Part) -> Pose | Formed | Cone:
    """How the blank of a plate is formed."""
    assert part.blank is not None
    spec = replace(part.spec, thickness=part.thickness)
    if spec.cone is not None:
        return cone_of(spec, part.blank)
    if bent(spec):
        return formed(spec, part.blank, (*part.blank.cutouts, *round_openings(part.blank.holes)))
    return Pose()
