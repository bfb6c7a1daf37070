"""Pieces held against what the supplier can cut and the shop can lift: size, thickness, mass."""

from collections.abc import Iterator
from dataclasses import replace

from fabplan.drawing.limits import whose
from fabplan.drawing.metal import plates
from fabplan.drawing.say import finding
from fabplan.geom.boxes import least_over, turned_boxes
from fabplan.geom.profile import area, flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.job import Supplier
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile

STEEL = 7.85e-6  # kg/mm3, EN 1991-1-1, table A.4: 77.0 to 78.5 kN/m3, of which trade tables take the larger


def beyond_bed(drawing: Drawing, supplier: Supplier) -> Iterator[Finding]:
    """Pieces that do not lie on his machine (a stop) or within a sheet that he keeps (a query), however turned."""
    for outline, _ in plates(drawing):
        for room, name, level in ((supplier.bed, "bed", Level.STOP), (supplier.sheet, "sheet", Level.QUERY)):
            found = list(_beyond(drawing, outline, room, name))
            if found:
                yield replace(found[0], source=whose(supplier), level=level)
                break


def _beyond(drawing: Drawing, outline: Profile, room: tuple[float, float] | None, name: str) -> Iterator[Finding]:
    if room is None:
        return
    long, short = least_over(flattened(outline, SAGITTA), room)
    longest, widest = max(room), min(room)
    if not (long <= longest + FIGURE and short <= widest + FIGURE):
        what = f"turned as suits it best the piece takes {long:.1f} x {short:.1f} mm, the supplier's {name} has "
        what += f"{longest:g} x {widest:g} mm"
        mend = "Make it in two with a strap, or order it where there is room."
        figures = (long, longest, "mm") if not long <= longest + FIGURE else (short, widest, "mm")
        yield finding("beyond-bed", what, mend, _piece(drawing, outline), figures)


def small_part(drawing: Drawing, supplier: Supplier) -> Iterator[Finding]:
    """Pieces under the smallest that he cuts."""
    if supplier.smallest_part is None:
        return
    least_long, least_short = max(supplier.smallest_part), min(supplier.smallest_part)
    for outline, _ in plates(drawing):
        sizes = turned_boxes(flattened(outline, SAGITTA))
        long, short = sizes[int(sizes.prod(axis=1).argmin())].tolist()
        if not (long >= least_long - FIGURE and short >= least_short - FIGURE):
            what = f"the piece is {long:.1f} x {short:.1f} mm: least {least_long:g} x {least_short:g} mm"
            figures = (short, least_short, "mm") if not short >= least_short - FIGURE else (long, least_long, "mm")
            mend = "Have it left on tabs, or shear it: it falls through the grid of his machine."
            where = _piece(drawing, outline)
            yield replace(finding("small-part", what, mend, where, figures), source=whose(supplier))


def too_thick(drawing: Drawing, supplier: Supplier, thickness: float) -> Iterator[Finding]:
    """Plate thicker than he cuts."""
    most = supplier.greatest_thickness
    if most is not None and drawing.outline is not None and not thickness <= most + FIGURE:
        what = f"the plate is {thickness:g} mm thick, the supplier cuts up to {most:g} mm"
        where, figures = _piece(drawing, drawing.outline), (thickness, most, "mm")
        yield replace(finding("too-thick", what, "Order it elsewhere.", where, figures), source=whose(supplier))


def too_heavy(drawing: Drawing, ordered: Ordered, thickness: float | None) -> Iterator[Finding]:
    """A piece heavier than the shop's hoist lifts, by its stated mass or as steel of its drawn area."""
    spec = ordered.spec
    if ordered.hoist is None or drawing.outline is None or (spec is not None and spec.material != "steel"):
        return
    stated = spec.mass if spec is not None else None
    if stated is None and thickness is None:
        return
    for outline, cutouts in plates(drawing):
        metal = area(outline) + sum(area(cutout) for cutout in cutouts)
        mass = stated if stated is not None else metal * (thickness or 0.0) * STEEL
        if not mass <= ordered.hoist + FIGURE:
            what = f"the piece weighs {mass:.1f} kg, the hoist lifts {ordered.hoist:g} kg"
            figures = (mass, ordered.hoist, "kg")
            yield finding("too-heavy", what, "Hire a lift, or make it in two.", _piece(drawing, outline), figures)


def _piece(drawing: Drawing, outline: Profile) -> Where:
    x, y = outline.vertices[0].tolist()
    return Where(drawing=drawing.name, handles=outline.handles, xy=(x, y))
