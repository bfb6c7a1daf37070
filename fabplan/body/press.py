"""Formed plates that cannot come out of the press: they pass through themselves, or a flange is in the way."""

from collections.abc import Iterator, Sequence

from fabplan.body.formed import bent, formed
from fabplan.body.found import finding, point
from fabplan.geom.press import clear_order, fouled_folds, fouls_itself
from fabplan.geom.prism import polygon
from fabplan.model.finding import Finding, Where
from fabplan.model.part import Part

PUNCH = "geometry: a straight punch without thickness, the folds in the order of the job"


def press_findings(parts: Sequence[Part]) -> Iterator[Finding]:
    """Folded and rolled plates whose form is known and fouls itself or the press.

    The order is looked at where all bends are folds: when a plate is rolled or joggled is not stated.
    """
    for part in parts:
        if part.blank is None or not part.panels or not bent(part.spec):
            continue
        shape = formed(part.spec, part.blank, part.blank.cutouts)
        at = fouls_itself(shape)
        where = Where(drawing=part.spec.drawing, part=part.mark)
        if at is not None:
            what = (
                f"{part.mark} passes through itself when formed, near {', '.join(f'{x:.0f}' for x in at)} of its frame"
            )
            mend = "Look at angles and directions of its bends, and cut its flanges shorter."
            yield finding("formed-fouls", what, mend, Where(where.drawing, where.part, point=point(at)))
        elif part.spec.made and not (part.spec.rolls or part.spec.joggles):
            yield from _order(part, where)


def _order(part: Part, where: Where) -> Iterator[Finding]:
    assert part.blank is not None
    assert part.blank.outline is not None
    lines = formed(part.spec, part.blank, part.blank.cutouts).lines
    face = polygon(part.blank.outline, part.blank.cutouts)
    fouled = fouled_folds(face, part.thickness, lines)
    if not fouled:
        return
    other = clear_order(face, part.thickness, lines)
    mend = "Ask the bender for a goose-necked punch, or make it of two pieces."
    if other:
        mend = f"Fold in the order {', '.join(lines[k].name for k in other)}."
    k = fouled[0]
    before = ", ".join(lines[i].name for i in range(k))
    what = f"{part.mark}: with {before} folded before it, metal stands in the way of the punch at {lines[k].name}"
    yield finding("fold-order", what, mend, where, source=PUNCH)
