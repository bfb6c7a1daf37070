"""One drawing read whole: every entity ends used, set aside, or reported."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fabplan.drawing import say
from fabplan.drawing.chains import Chained, chain
from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.holes import Sifted, hole_table, of_known_size, sift
from fabplan.drawing.nest import Nest, nest
from fabplan.drawing.pieces import Piece, pieces
from fabplan.drawing.sorting import Sorting, sort_pieces
from fabplan.drawing.source import UNIT_NAMES, Source, open_source
from fabplan.drawing.units import Unit, settle_unit
from fabplan.geom.crossing import crossings
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import CHORD
from fabplan.model.drawing import Drawing, Entry, Intake, Label, Line
from fabplan.model.finding import Finding
from fabplan.model.profile import Profile

NONE_READ = "it holds entities, but none of them can be read"


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """All that the reading of one drawing found."""

    sorting: Sorting
    unit: Unit
    chained: Chained
    sifted: Sifted
    nested: Nest


def read_drawing(path: Path, intake: Intake | None = None) -> Drawing:
    """Read one DXF file. A file that cannot be read is a drawing with a stop, not an error.

    Args:
        path: the DXF file.
        intake: what is known beside the file; nothing by default.

    Raises:
        DrawingError: the file is not there, is a folder, or may not be read.
    """
    intake = intake or Intake()
    source = open_source(path)
    blank = Drawing(path.name, scanned=source.scanned, dxf_version=source.version)
    if source.document is None:
        return replace(blank, findings=(say.unreadable(path.name, source.trouble),))
    found = list(pieces(source.document, source.unit))
    if not found:
        fault = say.unreadable(path.name, NONE_READ) if source.scanned > 0 else say.empty(path.name)
        return replace(blank, findings=(fault,))
    return _drawn(blank, source, sort_pieces(found, intake), intake)


def _drawn(blank: Drawing, source: Source, sorting: Sorting, intake: Intake) -> Drawing:
    unit = settle_unit(source.unit, [*sorting.cut, *(piece for piece, _ in sorting.round)], intake)
    chained = chain(sorting.cut, unit.scale)
    sifted = sift(chained.loops, sorting, unit.scale, intake)
    ends = [end for span in chained.unclosed() for end in (span.start, span.end)]
    nested = nest(sifted.profiles, np.array(ends).reshape(-1, 2))
    found = _Found(sorting, unit, chained, sifted, nested)
    drawing = replace(
        blank,
        units=UNIT_NAMES[unit.scale],
        units_reason=unit.reason,
        scale=unit.scale,
        outline=nested.outer,
        cutouts=nested.cutouts,
        holes=hole_table(sifted.holes),
        folds=_lines(sorting.lines["FOLD"], unit.scale),
        rolls=_lines(sorting.lines["ROLL"], unit.scale),
        marks=_lines(sorting.lines["MARK"], unit.scale),
        open_lines=tuple(Line("", np.array([span.start, span.end]), span.handle) for span in chained.unclosed()),
        labels=tuple(_label(piece, unit.scale) for piece in sorting.labels),
        account=_account(found),
    )
    drawing = replace(drawing, fingerprint=fingerprint(drawing))
    return replace(drawing, findings=tuple(_findings(drawing, source, found, intake)))


def _account(found: _Found) -> tuple[Entry, ...]:
    """The account, its lines of the cut layers told apart."""
    reasons: dict[str, tuple[str, str]] = {}
    if found.nested.outer is not None:
        reasons.update(dict.fromkeys(found.nested.outer.handles, ("used", "outer profile")))
    reasons.update({handle: ("used", "cut-out") for loop in found.nested.cutouts for handle in loop.handles})
    reasons.update({hole.handle: ("used", "opening") for hole in found.sifted.holes if hole.purpose == "open"})
    reasons.update(dict.fromkeys(_handles(found.nested.extra), ("reported", "one profile too many")))
    reasons.update({span.handle: ("reported", "closes no profile") for span in found.chained.unclosed()})
    reasons.update({piece.handle: ("reported", "no circle, on a layer of holes") for piece in found.sifted.unround})
    reasons.update({piece.handle: ("reported", "no length") for piece in found.chained.zero})
    reasons.update({b.handle: ("reported", "drawn twice") for pairs in found.chained.doubled for _, b in pairs})
    reasons.update({b.handle: ("reported", "drawn twice") for _, b in found.sifted.twins})
    return tuple(
        replace(entry, fate=reasons[entry.handle][0], reason=reasons[entry.handle][1])
        if entry.fate == "used" and entry.handle in reasons
        else entry
        for entry in found.sorting.entries
    )


def _handles(profiles: Sequence[Profile]) -> Iterator[str]:
    return (handle for profile in profiles for handle in profile.handles)


def _lines(found: Sequence[Piece], scale: float) -> tuple[Line, ...]:
    lines = []
    for piece in found:
        bulges = piece.bulges if piece.closed else np.append(piece.bulges[:-1], 0.0)
        points = flattened(Profile(piece.points * scale, bulges), CHORD)
        # the closing span of an open line is straight and has no points of its own
        lines.append(Line(piece.layer, np.vstack([points, points[:1]]) if piece.closed else points, piece.handle))
    return tuple(lines)


def _label(piece: Piece, scale: float) -> Label:
    x, y = (piece.points[0] * scale).tolist() if len(piece.points) else (0.0, 0.0)
    return Label(piece.text, (x, y), piece.height * scale, piece.layer, piece.handle)


def _findings(drawing: Drawing, source: Source, found: _Found, intake: Intake) -> Iterator[Finding]:
    sorting, chained, nested = found.sorting, found.chained, found.nested
    loops = found.sifted.profiles
    places, owners = crossings(loops)
    crossing = {id(loops[number]) for number in owners[owners[:, 0] != owners[:, 1]].ravel().tolist()}
    nested = replace(nested, extra=tuple(loop for loop in nested.extra if id(loop) not in crossing))
    unround = [("unsupported-entity", piece) for piece in found.sifted.unround]
    spoilt = any(check in ("bad-coordinates", "not-flat") for check, _ in sorting.troubles)
    yield from say.damage(drawing, source.trouble)
    yield from say.account(drawing)
    yield from say.troubles(drawing, [*sorting.troubles, *unround])
    yield from say.roleless(drawing, sorting.roleless)
    yield from say.units(drawing, found.unit, intake)
    yield from say.chains(drawing, chained, spoilt)
    yield from say.crossed(drawing, loops, places, owners)
    yield from say.twins(drawing, found.sifted.twins)
    yield from say.nesting(drawing, nested, spoilt or bool(chained.gaps or chained.tangles))
    like = [] if sorting.bare else of_known_size(drawing.holes, intake.hole_diameters)
    if like:
        yield say.rivet_like(drawing, like)
