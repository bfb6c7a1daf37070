"""Faults of a read drawing that its geometry shows, and those that what is stated beside it shows."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from operator import attrgetter

import numpy as np

from fabplan.drawing import hole_faults, orders, sending, tips
from fabplan.drawing.corners import sharp_corners
from fabplan.drawing.faces import hand_not_told, marks_on_other_face, words_against_job
from fabplan.drawing.flanges import edges_near, short_flanges
from fabplan.drawing.folding import folds_beside, folds_cut, near_folds
from fabplan.drawing.limits import slot_limit, web_limit
from fabplan.drawing.metal import at_holes, by_row, named, near_itself
from fabplan.drawing.nesting import wrong_nesting
from fabplan.drawing.rolling import flat_ends
from fabplan.drawing.say import NO_FIGURES, finding
from fabplan.drawing.segments import tiny_segments
from fabplan.drawing.slots import narrow_slots
from fabplan.drawing.split import one_by_one
from fabplan.drawing.stated import inch_sizes, size_differs, thickness_differs
from fabplan.drawing.symmetry import near_symmetric
from fabplan.drawing.webs import thin_webs
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Level
from fabplan.model.job import Supplier
from fabplan.model.ordered import NOTHING_ORDERED, Ordered

HEAT = ("laser", "plasma", "oxy-fuel")
"""Processes that leave a hard edge."""

MANY = 30
"""Findings of one check and level that are listed one by one; of more, the worst speaks for all."""


def check_drawing(
    drawing: Drawing, supplier: Supplier | None, thickness: float | None, ordered: Ordered = NOTHING_ORDERED
) -> tuple[Finding, ...]:
    """Findings about the geometry of one drawing; the reader's own are in `drawing.findings`.

    Args:
        drawing: as read.
        supplier: whose limits hold; None takes assumed ones, and the finding says so.
        thickness: mm, or None where it is not known: then nothing that depends on it is checked.
        ordered: what else is known of the piece.
    """
    found = [
        *_shape(drawing, supplier, thickness),
        *_words(drawing, supplier, thickness, ordered),
        *_against_supplier(drawing, supplier, thickness, ordered),
    ]
    return tuple(found)


def all_findings(own: Iterable[Finding], reader: Iterable[Finding]) -> list[Finding]:
    """The reader's findings and those of `check_drawing`, each fault once: by the name that says most of it."""
    every = list({(one.check, one.level, one.where, one.what): one for one in (*reader, *own)}.values())
    islands = {handle for one in every if one.check == "wrong-nesting" for handle in one.where.handles}
    alike: dict[tuple[str, Level], list[Finding]] = {}
    for one in every:
        handles = {*one.where.handles}
        if one.check == "more-than-one-profile" and handles and handles <= islands:
            continue
        alike.setdefault((one.check, one.level), []).append(one)
    return [told for some in alike.values() for told in (some if len(some) <= MANY else [_as_one(some)])]


def _as_one(found: Sequence[Finding]) -> Finding:
    """Findings of one check, too many for a list, as one: the gravest figure, how many they are, where they lie."""
    worst = max(found, key=_off)
    places = np.array([one.where.xy for one in found if one.where.xy is not None]).reshape(-1, 2)
    words = f"{worst.what}, the worst of {len(found)} such"
    if len(places):
        (x0, y0), (x1, y1) = places.min(axis=0).tolist(), places.max(axis=0).tolist()
        words += f" between x {x0:.1f} y {y0:.1f} and x {x1:.1f} y {y1:.1f}"
    handles, holes = (
        tuple(dict.fromkeys(name for one in (worst, *found) for name in column(one.where)))
        for column in (attrgetter("handles"), attrgetter("holes"))
    )
    return replace(worst, what=words, where=replace(worst.where, handles=handles, holes=holes))


def _off(one: Finding) -> float:
    """How far a figure lies from its limit; 0 where there is none."""
    return abs(one.measured - one.required) if one.measured is not None and one.required is not None else 0.0


def _shape(drawing: Drawing, supplier: Supplier | None, thickness: float | None) -> Iterator[Finding]:
    """What the drawing and its thickness show."""
    yield from hole_faults.outside(drawing)
    yield from hole_faults.overlapping(drawing)
    yield from wrong_nesting(drawing)
    yield from tiny_segments(drawing)
    yield from folds_beside(drawing)
    for piece in one_by_one(drawing):
        yield from folds_cut(piece)
        yield from near_symmetric(piece)
    told = np.zeros((0, 2))
    if thickness is not None:
        yield from hole_faults.small(drawing, supplier, thickness)
        web, slot = web_limit(supplier, thickness), slot_limit(supplier, thickness)
        near = near_itself(drawing, max(web.least, slot.least))
        yield from thin_webs(drawing, web, near)
        yield from narrow_slots(drawing, slot, near, thickness)
        yield from tips.spikes(drawing, web, near)
        yield from tips.notches(drawing, slot, near)
        told = tips.notch_tips(slot, near)
    yield from sharp_corners(drawing, supplier, thickness, told)


def _words(drawing: Drawing, supplier: Supplier | None, thickness: float | None, ordered: Ordered) -> Iterator[Finding]:
    """What is said beside the lines, in the drawing and in the job."""
    measured = ordered.spec.measured.holes if ordered.spec is not None and ordered.spec.measured is not None else ()
    steel = [size for hole in measured for size in (hole.diameter, hole.least) if size is not None]
    yield from inch_sizes(drawing, thickness, (*ordered.holes, *steel))
    yield from marks_on_other_face(drawing, supplier)
    if ordered.spec is not None:
        yield from size_differs(drawing, ordered.spec.size)
        yield from words_against_job(drawing, ordered.spec)
    for piece in one_by_one(drawing):
        yield from thickness_differs(piece, thickness, ordered)
        if ordered.spec is not None:
            yield from hand_not_told(piece, supplier, ordered.spec, ordered.roles)
        if thickness is not None:
            yield from _forming(piece, thickness, ordered)


def _forming(piece: Drawing, thickness: float, ordered: Ordered) -> Iterator[Finding]:
    """What lies too near to the lines of forming of one piece, and flanges that the press cannot hold."""
    yield from near_folds(piece, thickness, ordered)
    yield from edges_near(piece, thickness, ordered)
    if ordered.spec is not None:
        yield from short_flanges(piece, thickness, ordered.spec, ordered.bender)
        yield from flat_ends(piece, thickness, ordered.spec)


def _against_supplier(
    drawing: Drawing, supplier: Supplier | None, thickness: float | None, ordered: Ordered
) -> Iterator[Finding]:
    yield from orders.too_heavy(drawing, ordered, thickness)
    if supplier is None:
        return
    yield from _hard_edges(drawing, supplier, ordered)
    yield from orders.beyond_bed(drawing, supplier)
    yield from orders.small_part(drawing, supplier)
    if thickness is not None:
        yield from orders.too_thick(drawing, supplier, thickness)
    yield from sending.dxf_version(drawing, supplier)
    yield from sending.supplier_unit(drawing, supplier)
    yield from sending.supplier_layers(drawing, supplier, ordered.roles)
    yield from sending.supplier_marking(drawing, supplier)


def _hard_edges(drawing: Drawing, supplier: Supplier, ordered: Ordered) -> Iterator[Finding]:
    """Rows that the reamer opens and heat cuts."""
    if supplier.process not in HEAT:
        return
    reamed = [k for k, row in enumerate(drawing.holes.row) if row and row in ordered.reamed]
    for own in by_row(drawing, np.array(reamed, dtype=np.int64)):
        what = f"{named(drawing, own)} to be reamed, and cut by {supplier.process}: its hard edge spoils the reamer"
        mend = "Have the centres marked only and drill them under size, or have them cut by water jet."
        yield finding("reamed-hole", what, mend, at_holes(drawing, *own.tolist()), NO_FIGURES)
