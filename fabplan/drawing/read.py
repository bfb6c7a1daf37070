"""One drawing read whole: every entity ends used, set aside, or reported."""

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fabplan.drawing import border, say
from fabplan.drawing.arcs import imitated_arcs
from fabplan.drawing.chains import Chained, chain
from fabplan.drawing.circles import EVEN, POLYGON, Circle, profile_circle
from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.holes import RIVET_SIZES, Sifted, hole_table, of_known_size, sift
from fabplan.drawing.nest import Nest, nest
from fabplan.drawing.paper import paper_entries
from fabplan.drawing.pieces import Piece, pieces
from fabplan.drawing.sorting import Sorting, sort_pieces
from fabplan.drawing.source import UNIT_NAMES, Source, open_source
from fabplan.drawing.split import discs_apart, one_by_one, shapes, with_discs
from fabplan.drawing.units import Unit, settle_unit
from fabplan.errors import FabplanError
from fabplan.geom.crossing import crossings
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import CHORD, FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing, Entry, Fit, Intake, Label, Line
from fabplan.model.finding import Finding
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """All that the reading of one drawing found; `places` and `owners` tell where which profiles cross."""

    sorting: Sorting
    unit: Unit
    chained: Chained
    sifted: Sifted
    nested: Nest
    places: FloatArray
    owners: IntArray
    crossed: frozenset[int]


def read_drawing(path: Path | str, intake: Intake | None = None) -> Drawing:
    """Read one DXF file. A file that cannot be read is a drawing with a stop, not an error.

    Args:
        path: the DXF file.
        intake: what is known beside the file; nothing by default.

    Raises:
        DrawingError: the file is not there, is a folder, or may not be read.
    """
    with _without_collecting():
        try:
            return _read(Path(path), intake or Intake())
        except FabplanError:
            raise
        except Exception as error:  # one drawing that nobody foresaw must not take the others with it; it is told
            name = Path(path).name
            return Drawing(name, findings=(say.failed(name, error),))


@contextmanager
def _without_collecting() -> Iterator[None]:
    """No search for garbage while a file is read: it makes no garbage, only tens of thousands of objects."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _read(path: Path, intake: Intake) -> Drawing:
    source = open_source(path)
    with np.errstate(over="ignore", invalid="ignore"):  # absurd numbers are told as findings
        found = list(pieces(source))
    blank = Drawing(path.name, scanned=source.scanned, dxf_version=source.version, paper=paper_entries(source))
    if source.document is None:
        entries = sort_pieces(found, intake).entries if found else ()
        return replace(blank, account=tuple(entries), findings=(say.unreadable(path.name, source.trouble),))
    if not found:
        drawn = sum(entry.kind != "VIEWPORT" for entry in blank.paper)
        findings = (*say.damage(blank, source.trouble), say.empty(path.name, drawn))
        return replace(blank, findings=findings)
    sorting = sort_pieces(found, intake)
    source = replace(source, lifted=None)
    del found  # heavy, both, in a drawing of 100,000 entities
    return _drawn(blank, source, sorting, intake)


def _drawn(blank: Drawing, source: Source, sorting: Sorting, intake: Intake) -> Drawing:
    unit = settle_unit(source.unit, [*sorting.cut, *(piece for piece, _ in sorting.round)], intake, source.unit_stated)
    found = _found(sorting, unit, intake)
    nested = found.nested
    holes = hole_table(found.sifted.holes)
    labels = tuple(_label(piece, unit.scale) for piece in sorting.labels)
    drawing = replace(
        blank,
        units=UNIT_NAMES[unit.scale],
        units_reason=unit.reason,
        scale=unit.scale,
        outline=nested.outer,
        cutouts=nested.cutouts,
        holes=holes,
        folds=_lines(sorting.lines["FOLD"], unit.scale),
        rolls=_lines(sorting.lines["ROLL"], unit.scale),
        marks=_lines(sorting.lines["MARK"], unit.scale),
        open_lines=tuple(Line("", np.array([span.start, span.end]), span.handle) for span in found.chained.unclosed()),
        aside=_aside(sorting, unit.scale),
        labels=labels,
        account=_account(found),
        fits=tuple(_fits(found)),
        shapes=shapes(nested, holes, labels),
        thickness=intake.thickness,
    )
    drawing = replace(drawing, fingerprint=fingerprint(drawing))
    return replace(drawing, findings=tuple(_findings(drawing, source, found, intake)))


def _found(sorting: Sorting, unit: Unit, intake: Intake) -> _Found:
    chained = chain(sorting.cut, unit.scale)
    sifted = sift(chained.loops, sorting, unit.scale, intake)
    ends = [end for span in chained.unclosed() for end in (span.start, span.end)]
    nested = nest(sifted.profiles, np.array(ends).reshape(-1, 2))
    places, owners = crossings(sifted.profiles)
    crossed = frozenset(id(sifted.profiles[number]) for number in owners[owners[:, 0] != owners[:, 1]].ravel().tolist())
    if nested.outer is not None and not ends:
        discs = discs_apart(sifted.holes, nested)
        nested = with_discs(nested, [sifted.holes[k] for k in discs])
        sifted.holes = [hole for k, hole in enumerate(sifted.holes) if k not in set(discs)]
    return _Found(sorting, unit, chained, sifted, nested, places, owners, crossed)


def _fits(found: _Found) -> Iterator[Fit]:
    """Circles and arcs that are drawn as short straight lines."""
    for hole in found.sifted.holes:
        if hole.circle.corners or hole.circle.error > FIGURE:
            yield _fit(hole.circle, (hole.handle,), True)
    for profile in found.sifted.profiles:
        whole = profile_circle(profile, EVEN)
        if whole is not None and 0 < whole.corners < POLYGON and whole.diameter > RIVET_SIZES[1]:
            continue  # an octagon as large as this is meant
        if whole is not None and whole.corners:
            yield _fit(whole, profile.handles, True)
        elif whole is None:
            yield from (_fit(circle, profile.handles, False) for circle in imitated_arcs(profile))


def _fit(circle: Circle, handles: tuple[str, ...], whole: bool) -> Fit:
    return Fit((circle.x, circle.y), circle.diameter, circle.corners, circle.error, circle.sag, whole, handles)


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
    off = [piece.handle for check, piece in found.sorting.troubles if check == "not-flat"]
    reasons.update(dict.fromkeys(off, ("reported", "does not lie in the plane of the rest")))
    return tuple(
        Entry(entry.handle, entry.kind, entry.layer, *reasons[entry.handle])
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


def _aside(sorting: Sorting, scale: float) -> tuple[Line, ...]:
    """What is drawn and comes to nothing: on layers without a role or not seen, or of a kind that is not cut."""
    every = [
        *(piece for own in sorting.roleless.values() for piece in own),
        *(piece for own in sorting.hidden.values() for piece in own),
        *(piece for check, piece in sorting.troubles if check not in ("text-on-cut-layer", "not-flat")),
    ]
    return _lines([piece for piece in every if len(piece.points) > 1 and np.isfinite(piece.points).all()], scale)


def _label(piece: Piece, scale: float) -> Label:
    x, y = (piece.points[0] * scale).tolist() if len(piece.points) else (0.0, 0.0)
    return Label(piece.text, (x, y), piece.height * scale, piece.layer, piece.handle)


def _findings(drawing: Drawing, source: Source, found: _Found, intake: Intake) -> Iterator[Finding]:
    sorting, chained = found.sorting, found.chained
    nested = replace(found.nested, extra=tuple(one for one in found.nested.extra if id(one) not in found.crossed))
    spoilt = any(check in _SPOILING for check, _ in sorting.troubles)
    lost = [piece for check, piece in sorting.troubles if check == "account-open"]
    others = [(check, piece) for check, piece in sorting.troubles if check != "account-open"]
    yield from say.damage(drawing, source.trouble)
    yield from say.encoding(drawing, source.words.note)
    yield from say.names(drawing, _block_names(source))
    yield from say.account(drawing, lost)
    yield from say.troubles(drawing, others)
    yield from say.unround(drawing, found.sifted.unround)
    yield from say.roleless(drawing, sorting.roleless, intake)
    yield from say.words_beside_cuts(drawing, sorting)
    for piece in one_by_one(drawing) if sorting.bare else ():
        yield from border.sheet_border(piece)
    yield from say.hidden(drawing, sorting.hidden)
    yield from say.paper(drawing)
    yield from say.units(drawing, found.unit)
    yield from say.chains(drawing, chained, spoilt)
    yield from say.crossed(drawing, found.sifted.profiles, found.places, found.owners)
    yield from say.twins(drawing, found.sifted.twins)
    yield from say.nesting(drawing, nested, spoilt or bool(chained.gaps or chained.tangles))
    yield from say.chords(drawing)
    like = [] if sorting.bare else of_known_size(drawing.holes, intake.hole_diameters)
    if like:
        yield say.rivet_like(drawing, like)


def _block_names(source: Source) -> list[str]:
    """Names of the blocks of a file, but for those that stand for its spaces and those that programs give."""
    blocks = source.document.blocks if source.document is not None else ()
    return [source.words.plain(str(block.name)) for block in blocks if not str(block.name).startswith("*")]


_SPOILING = ("bad-coordinates", "not-flat", "account-open", "negative-radius")
