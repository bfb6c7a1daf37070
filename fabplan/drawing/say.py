"""The sentences of the drawing room: each fault of a file as a finding, with its place, figures and remedy."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.drawing.chains import Chained, Span, middle
from fabplan.drawing.nest import Nest
from fabplan.drawing.pieces import Piece
from fabplan.drawing.units import Unit
from fabplan.geom.profile import bounds
from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing, Intake
from fabplan.model.finding import Finding, Where


def finding(check: str, what: str, mend: str, where: Where, figures: tuple[float | None, float | None, str]) -> Finding:
    """A finding of this room; level and source come from the table of checks."""
    measured, required, unit = figures
    row = CHECKS[check]
    return Finding(check, row.level, what, where, measured, required, unit, row.source, mend)


NO_FIGURES: tuple[None, None, str] = (None, None, "mm")


def unreadable(name: str, trouble: str) -> Finding:
    """The file is no DXF that any reader opens."""
    what = f"{name} cannot be read as DXF: {' '.join(trouble.split())[:160]}"
    return finding("unreadable-drawing", what, "Save it again as DXF R2000 or later.", Where(drawing=name), NO_FIGURES)


def empty(name: str) -> Finding:
    """The model space holds nothing."""
    mend = "Look whether the part was drawn in paper space or in a block that was never placed."
    return finding("empty-drawing", f"{name} holds nothing in its model space", mend, Where(drawing=name), NO_FIGURES)


def damage(drawing: Drawing, trouble: str) -> Iterator[Finding]:
    """The file had to be mended to be read."""
    if trouble:
        what = f"{drawing.name} is damaged: {' '.join(trouble.split())[:160]}"
        mend = "Compare the picture with the original, or save it again."
        yield finding("damaged-drawing", what, mend, Where(drawing=drawing.name), NO_FIGURES)


def account(drawing: Drawing) -> Iterator[Finding]:
    """The entities read are not those that the tags count."""
    if drawing.scanned not in (-1, len(drawing.account)):
        what = f"{drawing.name} holds {drawing.scanned} entities, {len(drawing.account)} were read"
        figures = (float(len(drawing.account)), float(drawing.scanned), "entities")
        mend = "Save it again; entities with a doubled handle are dropped by readers."
        yield finding("account-open", what, mend, Where(drawing=drawing.name), figures)


_TROUBLES = {
    "text-on-cut-layer": ("would be cut as lines", "Move it to a NOTE or MARK layer."),
    "unsupported-entity": ("cannot be part of a flat profile", "Draw it with lines, arcs and circles."),
    "bad-coordinates": ("has a coordinate that is no finite number", "Draw it anew."),
    "not-flat": ("does not lie flat in the plane of the drawing", "Set all z to 0 and flatten the drawing."),
}


def troubles(drawing: Drawing, found: Sequence[tuple[str, Piece]]) -> Iterator[Finding]:
    """Entities that cannot be used, one finding a kind of trouble and layer."""
    groups: dict[tuple[str, str, str], list[Piece]] = {}
    for check, piece in found:
        groups.setdefault((check, piece.kind, piece.layer), []).append(piece)
    for (check, kind, layer), own in groups.items():
        what, mend = _TROUBLES[check]
        many = f"{len(own)} {kind}" if len(own) > 1 else f"a {kind}"
        handles = tuple(dict.fromkeys(piece.handle for piece in own))
        first = own[0].points[0] * drawing.scale if len(own[0].points) and np.isfinite(own[0].points).all() else None
        at = None if first is None else (float(first[0]), float(first[1]))
        where = Where(drawing=drawing.name, handles=handles, xy=at)
        yield finding(check, f"{many} on layer {layer} {what}", mend, where, (float(len(own)), 0.0, "entities"))


def roleless(drawing: Drawing, layers: Counter[str]) -> Iterator[Finding]:
    """Layers whose part in the drawing is not known."""
    for layer, count in sorted(layers.items()):
        what = f"layer {layer} has no role; its {count} {'entity is' if count == 1 else 'entities are'} not used"
        mend = (
            f'Name it CUT, RIVET <row>, BOLT <row>, MARK, FOLD, ROLL or NOTE, or map in [layers]: "{layer}" = "NOTE".'
        )
        handles = tuple(entry.handle for entry in drawing.account if entry.layer == layer)
        where = Where(drawing=drawing.name, handles=handles)
        yield finding("layer-without-role", what, mend, where, (float(count), 0.0, "entities"))


def units(drawing: Drawing, unit: Unit, intake: Intake) -> Iterator[Finding]:
    """The unit is in doubt, or the stated size is not met."""
    if unit.doubt:
        what = f"unit in doubt: {unit.doubt}; {drawing.units} taken"
        mend = "Write the unit into the file's header, or state `size` in the job."
        yield finding("units-in-doubt", what, mend, Where(drawing=drawing.name), (drawing.scale, None, "mm per unit"))
    if unit.size_differs and unit.size is not None and intake.stated_size is not None:
        long, short = max(intake.stated_size), min(intake.stated_size)
        what = f"overall size is {unit.size[0]:.1f} x {unit.size[1]:.1f} mm, stated {long:g} x {short:g} mm"
        mend = "Correct the drawing or the stated size."
        worse = 0 if abs(unit.size[0] - long) >= abs(unit.size[1] - short) else 1
        figures = (unit.size[worse], (long, short)[worse], "mm")
        yield finding("size-differs", what, mend, Where(drawing=drawing.name), figures)


def chains(drawing: Drawing, chained: Chained) -> Iterator[Finding]:
    """All that will not chain to closed profiles."""
    name = drawing.name
    for one, other in chained.doubled:
        what = "the same cut is drawn twice, whole or in part"
        yield finding(
            "doubled-line", what, "Delete one of the two.", _at(name, [one, other], middle(other)), NO_FIGURES
        )
    for span in chained.zero:
        what = "a line without length"
        yield finding("zero-length", what, "Delete it.", _at(name, [span], span.start), (0.0, None, "mm"))
    for run in chained.stray:
        what = (
            "a line on the cut layer belongs to no profile"
            if len(run) == 1
            else f"{len(run)} lines belong to no profile"
        )
        where = _at(name, run, middle(run[0]))
        yield finding("stray-line", what, "Delete it, or move it to MARK or NOTE.", where, NO_FIGURES)
    for run in chained.open:
        gap, at = _gap(run)
        what = f"a profile of {len(run)} pieces does not close: gap {gap:.3g} mm"
        mend = "Join the two ends."
        yield finding("open-profile", what, mend, _at(name, run, at), (gap, 0.0, "mm"))
    if chained.junctions:
        at, run = chained.junctions[0]
        what = f"lines cross or touch: {len(run)} ends meet in one place"
        yield finding("crossing-lines", what, "Trim the lines to one closed profile.", _at(name, run, at), NO_FIGURES)


def _at(name: str, run: Sequence[Span], xy: tuple[float, float]) -> Where:
    return Where(drawing=name, handles=tuple(dict.fromkeys(span.handle for span in run)), xy=xy)


def _gap(run: Sequence[Span]) -> tuple[float, tuple[float, float]]:
    """Width of the gap between the two free ends of a run, and its middle."""
    first = run[0].start if run[0].start not in (run[1].start, run[1].end) else run[0].end
    last = run[-1].end if run[-1].end not in (run[-2].start, run[-2].end) else run[-1].start
    return math.dist(first, last), ((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0)


def nesting(drawing: Drawing, nested: Nest, consequences: bool) -> Iterator[Finding]:
    """No outer profile, or more than one; silent about what open profiles explain."""
    if nested.outer is None and not consequences:
        mend = "Draw the outer profile closed on the cut layer."
        yield finding(
            "no-profile", "no closed outer profile", mend, Where(drawing=drawing.name), (0.0, 1.0, "profiles")
        )
    if nested.extra:
        box = bounds(nested.extra[0])
        at = (float(box[0] + box[2]) / 2.0, float(box[1] + box[3]) / 2.0)
        handles = tuple(handle for profile in nested.extra for handle in profile.handles)
        where = Where(drawing=drawing.name, handles=handles, xy=at)
        what = f"{len(nested.extra) + 1} outer profiles in one drawing"
        figures = (float(len(nested.extra) + 1), 1.0, "profiles")
        yield finding("more-than-one-profile", what, "Give each piece a file of its own.", where, figures)


def rivet_like(drawing: Drawing, holes: Sequence[int]) -> Finding:
    """Circles of rivet-hole size on the cut layer."""
    table = drawing.holes
    first = table.xy[holes[0]]
    where = Where(
        drawing=drawing.name,
        handles=tuple(table.handle[i] for i in holes),
        holes=tuple(table.number[i] for i in holes),
        xy=(float(first[0]), float(first[1])),
    )
    what = f"{len(holes)} circle(s) of {table.diameter[holes[0]]:g} mm on the cut layer have the size of a rivet hole"
    mend = "Move it to RIVET <row> if a rivet goes through; else leave it and accept."
    return finding("opening-like-rivet-hole", what, mend, where, (float(table.diameter[holes[0]]), None, "mm"))
