"""Cuts within cuts: an island in a cut-out, a cut-out in an opening. They fall out with the scrap."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.drawing.say import finding
from fabplan.geom.inside import inside
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.profile import Profile


def wrong_nesting(drawing: Drawing) -> Iterator[Finding]:
    """A finding for each island in a cut-out and for each cut-out in a round opening."""
    openings = [cutout for shape in drawing.shapes for cutout in shape.cutouts]
    crossing = {handle for one in drawing.findings if one.check == "crossing-lines" for handle in one.where.handles}
    for shape in drawing.shapes[1:]:
        if crossing & {*shape.outline.handles}:
            continue  # it lies half in another, which is told
        if any(inside(cutout, shape.outline.vertices[:1])[0] for cutout in openings):
            what = "a profile lies in a cut-out: an island of metal that falls out with the scrap"
            yield _found(drawing, what, (shape.outline, *shape.cutouts))
    holes = drawing.holes
    cutouts = [*drawing.cutouts, *(cutout for shape in drawing.shapes[1:] for cutout in shape.cutouts)]
    for cutout in cutouts if len(holes) else ():
        away = np.hypot(*(holes.xy - cutout.vertices[0]).T)
        if bool((away < holes.diameter / 2.0).any()):
            yield _found(drawing, "a cut-out lies in a round opening: it cuts nothing but scrap", (cutout,))


def _found(drawing: Drawing, what: str, profiles: Sequence[Profile]) -> Finding:
    x, y = profiles[0].vertices[0].tolist()
    handles = tuple(dict.fromkeys(handle for profile in profiles for handle in profile.handles))
    where = Where(drawing=drawing.name, handles=handles, xy=(x, y))
    mend = "Delete it, or give it a file of its own if it is a piece."
    return finding("wrong-nesting", what, mend, where, (None, None, "mm"))
