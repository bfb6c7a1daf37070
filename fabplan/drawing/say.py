"""The sentences of the drawing room: each fault of a file as a finding, with its place, figures and remedy."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.chains import Chained
from fabplan.drawing.circles import piece_circle
from fabplan.drawing.holes import Hole
from fabplan.drawing.names import SIGNS, refused
from fabplan.drawing.nest import Nest
from fabplan.drawing.pieces import Piece
from fabplan.drawing.roles import likely_name
from fabplan.drawing.sorting import Sorting
from fabplan.drawing.spans import Span
from fabplan.drawing.units import HOLE_SLACK, Unit
from fabplan.geom.profile import bounds
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing, Fit, Intake
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.profile import Profile

NAMED = 5  # names that are listed
_Figures = tuple[float | None, float | None, str]


def finding(check: str, what: str, mend: str, where: Where, figures: _Figures) -> Finding:
    """A finding of this room; level and source come from the table of checks."""
    measured, required, unit = figures
    row = CHECKS[check]
    return Finding(check, row.level, what, where, measured, required, unit, row.source, mend)


MANY = 3  # entities over others whose handles alone say how many they are
NO_FIGURES: tuple[None, None, str] = (None, None, "mm")


def unreadable(name: str, trouble: str, mend: str = "Save it again as DXF R2000 or later.") -> Finding:
    """The file is no DXF that any reader opens."""
    what = f"the file cannot be read as DXF: {' '.join(trouble.split())[:160]}"
    return finding("unreadable-drawing", what, mend, Where(drawing=name), NO_FIGURES)


FAILED = "fabplan itself failed on this drawing"


def failed(name: str, error: Exception) -> Finding:
    """An error that no rule foresees: of this drawing nothing is vouched for, the others go on."""
    said = " ".join(str(error).split())[:160]
    what = f"{FAILED}: {type(error).__name__}" + (f": {said}" if said else "")
    mend = "Have it mended: send the drawing with this line to those who look after the program. Do not cut by it."
    return finding("unreadable-drawing", what, mend, Where(drawing=name), NO_FIGURES)


def empty(name: str, paper: int) -> Finding:
    """The model space holds nothing."""
    elsewhere = f"; paper space holds {_entities(paper)}" if paper else ""
    mend = "Look whether the part was drawn in paper space or in a block that was never placed."
    return finding("empty-drawing", f"the model space holds nothing{elsewhere}", mend, Where(drawing=name), NO_FIGURES)


def names(drawing: Drawing, blocks: Sequence[str]) -> Iterator[Finding]:
    """Layers and blocks whose names other programs may refuse."""
    own = [entry for entry in drawing.account if refused(entry.layer)]
    layers, others = sorted({entry.layer for entry in own}), sorted(name for name in blocks if refused(name))
    told = [f"layer {name[:60]}" for name in layers] + [f"block {name[:60]}" for name in others]
    if told:
        more = f" and {len(told) - NAMED} more" if len(told) > NAMED else ""
        what = f"{', '.join(told[:NAMED])}{more}: a name with one of the signs {SIGNS}, read as it stands"
        mend = "Rename it with plain letters and figures: other programs may refuse the file or rename it themselves."
        where = Where(drawing=drawing.name, handles=tuple(entry.handle for entry in own))
        yield finding("refused-name", what, mend, where, (float(len(told)), 0.0, "names"))


def _entities(count: int) -> str:
    return "1 entity" if count == 1 else f"{count} entities"


def damage(drawing: Drawing, trouble: str) -> Iterator[Finding]:
    """The file had to be mended to be read."""
    if trouble:
        what = f"the file is damaged: {' '.join(trouble.split())[:400]}"
        mend = "Compare the picture with the original, or save it again."
        yield finding("damaged-drawing", what, mend, Where(drawing=drawing.name), NO_FIGURES)


def encoding(drawing: Drawing, note: str) -> Iterator[Finding]:
    """Names and texts are not in the code page that the file states."""
    if note:
        what = f"{note}; other programs may show layer names otherwise"
        mend = "Use plain letters in layer names, or save it again as DXF R2007 or later."
        yield finding("text-encoding", what, mend, Where(drawing=drawing.name), NO_FIGURES)


def account(drawing: Drawing, lost: Sequence[Piece]) -> Iterator[Finding]:
    """Entities that cannot be read, and a count of entities read that is not that of the tags."""
    reasons: dict[tuple[str, str], list[Piece]] = {}
    for piece in lost:
        reasons.setdefault((piece.kind, piece.why), []).append(piece)
    for (kind, why), own in reasons.items():
        many = f"{len(own)} {kind} are lost, the first" if len(own) > 1 else f"{_a(kind)} is lost"
        what = f"{many} on layer {own[0].layer}: {why}"
        mend = "Draw it anew, or save the file again from the program that drew it."
        handles = tuple(dict.fromkeys(piece.handle for piece in own))
        figures = (float(len(own)), 0.0, "entities")
        yield finding("account-open", what, mend, Where(drawing=drawing.name, handles=handles), figures)
    if drawing.scanned != len(drawing.account):
        what = f"the file holds {_entities(drawing.scanned)}, {len(drawing.account)} were read"
        figures = (float(len(drawing.account)), float(drawing.scanned), "entities")
        mend = "Save it again from the program that drew it."
        yield finding("account-open", what, mend, Where(drawing=drawing.name), figures)


def hidden(drawing: Drawing, found: dict[tuple[str, str], list[Piece]]) -> Iterator[Finding]:
    """Lines that are not seen on the screen: set aside here, and perhaps cut all the same."""
    for (layer, why), own in sorted(found.items()):
        what = f"{_entities(len(own))} on layer {layer} not seen: {why}; set aside"
        mend = "Delete what is not wanted and make the rest visible: a cutter's program may read it all."
        handles = tuple(dict.fromkeys(piece.handle for piece in own))
        where = Where(drawing=drawing.name, handles=handles, xy=_first_place(drawing, own))
        yield finding("hidden-layer", what, mend, where, (float(len(own)), 0.0, "entities"))


def paper(drawing: Drawing) -> Iterator[Finding]:
    """Lines and texts in paper space; the windows that every file has there do not count."""
    drawn = [entry for entry in drawing.paper if entry.kind != "VIEWPORT"]
    if drawn:
        what = f"{_entities(len(drawn))} in paper space, set aside: only model space is cut"
        mend = "Move to model space what belongs to the piece."
        where = Where(drawing=drawing.name, handles=tuple(entry.handle for entry in drawn))
        yield finding("paper-space", what, mend, where, (float(len(drawn)), None, "entities"))


def chords(drawing: Drawing) -> Iterator[Finding]:
    """Circles and arcs drawn as short straight lines, those of one size together."""
    of_holes = set(drawing.holes.handle)
    groups: dict[tuple[bool, bool, float], list[Fit]] = {}
    for fit in drawing.fits:
        groups.setdefault((fit.round, fit.corners > 0, round(fit.diameter, 1)), []).append(fit)
    for (whole, _, _), own in groups.items():
        worst = max(own, key=lambda fit: fit.error)
        name = "circle" if whole else "arc"
        many = f"{len(own)} {name}s" if len(own) > 1 else f"{'a' if whole else 'an'} {name}"
        size = f"{worst.diameter:.4g} mm across" if whole else f"of {worst.diameter / 2.0:.4g} mm radius"
        least, most, sag = min(fit.corners for fit in own), max(fit.corners for fit in own), max(fit.sag for fit in own)
        taken = "taken as true circles" if not of_holes.isdisjoint(worst.handles) else "left as drawn"
        corners = f"{least} to {most}" if most > least else f"{least}"
        drawn = f"straight lines between {corners} corners" if least else "a spline or ellipse"
        what = f"{many} {size} drawn as {drawn}, {taken}: {'corners' if least else 'it lies'} within "
        what += f"{worst.error:.2g} mm of the round" + (f", lines up to {sag:.2g} mm inside it" if least else "")
        mend = "Draw it as a circle or an arc: it would be cut with flats."
        handles = tuple(dict.fromkeys(handle for fit in own for handle in fit.handles))
        where = Where(drawing=drawing.name, handles=handles, xy=worst.xy)
        yield finding("drawn-in-chords", what, mend, where, (worst.error, None, "mm"))


_TROUBLES = {
    "text-on-cut-layer": ("would be cut as lines", "Move it to a NOTE or MARK layer."),
    "unsupported-entity": ("cannot be part of a flat profile", "Draw it with lines, arcs and circles."),
    "bad-coordinates": ("cannot be placed", "Draw it anew."),
    "zero-length": ("has no length or size", "Delete it."),
    "negative-radius": ("has a negative radius", "Draw it anew with the radius that is meant."),
    "units-in-doubt": (
        "shows a block drawn in another unit than the file",
        "Explode it, or draw it in the file's unit.",
    ),
    "not-flat": ("does not lie flat in the plane of the drawing", "Set all z to 0 and flatten the drawing."),
}
_UNROUND = "is no circle, and holes are", "Draw a circle, or move it to CUT if it is an opening."
_OF_MANY = {"has": "have", "is": "are", "does": "do", "shows": "show"}


def troubles(drawing: Drawing, found: Sequence[tuple[str, Piece]]) -> Iterator[Finding]:
    """Entities that cannot be used, one finding a kind of trouble and layer."""
    for (check, _, _, why), own in _alike(found).items():
        yield _trouble(drawing, check, own, _TROUBLES[check], why)


def unround(drawing: Drawing, found: Sequence[Piece]) -> Iterator[Finding]:
    """Entities on the layers of holes that are no circles, one finding a kind and layer."""
    for own in _alike([("", piece) for piece in found]).values():
        yield _trouble(drawing, "unsupported-entity", own, _UNROUND)


def _alike(found: Sequence[tuple[str, Piece]]) -> dict[tuple[str, str, str, str], list[Piece]]:
    groups: dict[tuple[str, str, str, str], list[Piece]] = {}
    for check, piece in found:
        groups.setdefault((check, piece.kind, piece.layer, piece.why), []).append(piece)
    return groups


def _trouble(drawing: Drawing, check: str, own: Sequence[Piece], said: tuple[str, str], why: str = "") -> Finding:
    """One finding on entities of one kind and layer; `said` is what is wrong with one of them, and the remedy."""
    (verb, rest), mend = said[0].split(" ", 1), said[1]
    many = f"{len(own)} {own[0].kind}" if len(own) > 1 else _a(own[0].kind)
    verb = _OF_MANY.get(verb, verb) if len(own) > 1 else verb
    handles = tuple(dict.fromkeys(piece.handle for piece in own))
    where = Where(drawing=drawing.name, handles=handles, xy=_first_place(drawing, own))
    what = f"{many} on layer {own[0].layer} {verb} {rest}" + (f": {why}" if why else "")
    return finding(check, what, mend, where, (float(len(own)), 0.0, "entities"))


def _first_place(drawing: Drawing, pieces: Sequence[Piece]) -> tuple[float, float] | None:
    """Where the first piece that stands somewhere begins, mm."""
    places = (piece.points[0] * drawing.scale for piece in pieces if len(piece.points))
    return next(((float(x), float(y)) for x, y in places if np.isfinite([x, y]).all()), None)


def _a(kind: str) -> str:
    return f"{'an' if kind[:1] in ('A', 'E', 'I', 'O', 'X') else 'a'} {kind}" if kind else "an entity of no kind"


def roleless(drawing: Drawing, layers: dict[str, list[Piece]], intake: Intake) -> Iterator[Finding]:
    """Layers whose part in the drawing is not known; a stop where that loses holes of the size of a known rivet's."""
    for layer, pieces in sorted(layers.items()):
        count, lost = len(pieces), _rivet_holes(drawing, pieces, intake)
        what = f"layer {layer} has no role; its {count} {'entity is' if count == 1 else 'entities are'} not used"
        what += f", {lost} of them round and of the size of a rivet's hole" if lost else ""
        likely = likely_name(layer)
        named = f"Name it {likely}" if likely else "Name it CUT, RIVET <row>, BOLT <row>, MARK, FOLD, ROLL or NOTE"
        handles = tuple(entry.handle for entry in drawing.account if entry.layer == layer)
        told = finding(
            "layer-without-role",
            what,
            f'{named}, or map in [layers]: "{layer}" = "{likely or "NOTE"}".',
            Where(drawing=drawing.name, handles=handles, xy=_first_place(drawing, pieces)),
            (float(count), 0.0, "entities"),
        )
        yield told if lost else replace(told, level=Level.QUERY)


def _rivet_holes(drawing: Drawing, pieces: Sequence[Piece], intake: Intake) -> int:
    """How many of some pieces are circles of a known hole's diameter, within `HOLE_SLACK`."""
    found = (piece_circle(piece) for piece in pieces)
    sizes = [circle.diameter * drawing.scale for circle in found if circle is not None]
    return sum(any(abs(size - known) <= HOLE_SLACK for known in intake.hole_diameters) for size in sizes)


def words_beside_cuts(drawing: Drawing, sorting: Sorting) -> Iterator[Finding]:
    """Texts and dimensions on the layers that are cut because no layer of the drawing has a role."""
    cut = {piece.layer for piece in sorting.cut} if sorting.bare else set()
    own = [piece for piece in sorting.labels if piece.layer in cut and not piece.hidden]
    if own:
        layers = ", ".join(sorted({piece.layer for piece in own}))
        what = f"{len(own)} {'text' if len(own) == 1 else 'texts'} on layer {layers}, of which the lines are cut"
        handles = tuple(dict.fromkeys(piece.handle for piece in own))
        where = Where(drawing=drawing.name, handles=handles, xy=_first_place(drawing, own))
        mend = "Put texts and dimensions on a layer NOTE, and what is to be cut on CUT."
        yield replace(finding("text-on-cut-layer", what, mend, where, NO_FIGURES), level=Level.QUERY)


def units(drawing: Drawing, unit: Unit) -> Iterator[Finding]:
    """The unit is in doubt."""
    if unit.doubt:
        what = f"unit in doubt: {unit.doubt}; {drawing.units} taken"
        mend = "Write the unit into the file's header, or state `size` in the job."
        yield finding("units-in-doubt", what, mend, Where(drawing=drawing.name), (drawing.scale, None, "mm per unit"))


def chains(drawing: Drawing, chained: Chained, spoilt: bool) -> Iterator[Finding]:
    """All that will not chain to closed profiles; `spoilt` where lines were left out: they explain the gaps."""
    name = drawing.name
    for pairs in chained.doubled:
        spans = [span for pair in pairs for span in pair]
        long = sum(span.length for span, _ in pairs)
        again = len({span.handle for _, span in pairs})
        what = "the same cut is drawn twice, whole or in part" + (f": {long:.1f} mm of it" if long else "")
        what += f", by {again} entities" if again > MANY else ""
        mend = "Delete one of the two." if again <= MANY else "Keep one of each."
        yield finding("doubled-line", what, mend, _at(name, spans, spans[0].middle), (long or None, 0.0, "mm"))
    yield from _zero(drawing, chained)
    for run in chained.stray:
        what = f"{_lines(len(run))} on the cut layer close no profile" if len(run) > 1 else "a line closes no profile"
        mend = "Delete it, or move it to MARK or NOTE."
        long = sum(span.length for span in run)
        yield finding("stray-line", what, mend, _at(name, run, run[0].middle), (long, 0.0, "mm"))
    for gap in () if spoilt else chained.gaps:
        what = f"a profile of {_lines(len(gap.spans))} does not close: gap {gap.width:.3g} mm"
        where = _at(name, gap.beside, gap.at)
        yield finding("open-profile", what, "Join the two ends.", where, (gap.width, JOIN, "mm"))
    for at, run in chained.tangles:
        what = f"{_lines(len(run))} cross or touch one another on the way round"
        mend = "Trim the lines to one closed profile."
        yield finding("crossing-lines", what, mend, _at(name, run, at), NO_FIGURES)


def _zero(drawing: Drawing, chained: Chained) -> Iterator[Finding]:
    """Lines without length, those of one kind told once."""
    for kind in dict.fromkeys(piece.kind for piece in chained.zero):
        own = [piece for piece in chained.zero if piece.kind == kind]
        x, y = (own[0].points[0] * drawing.scale).tolist()
        where = Where(drawing=drawing.name, handles=tuple(piece.handle for piece in own), xy=(x, y))
        what = f"{len(own)} {kind} without length" if len(own) > 1 else f"{_a(kind)} without length"
        mend = "Delete them." if len(own) > 1 else "Delete it."
        yield finding("zero-length", what, mend, where, (0.0, None, "mm"))


def _lines(count: int) -> str:
    return f"{count} line{'s' if count > 1 else ''}"


def _at(name: str, run: Sequence[Span], xy: tuple[float, float]) -> Where:
    return Where(drawing=name, handles=tuple(dict.fromkeys(span.handle for span in run)), xy=xy)


def crossed(drawing: Drawing, profiles: Sequence[Profile], places: FloatArray, owners: IntArray) -> Iterator[Finding]:
    """Closed profiles that cross or touch one another or themselves, one finding a pair."""
    for one, other in np.unique(owners, axis=0).tolist():
        here = np.all(owners == [one, other], axis=1)
        x, y = places[here][0].tolist()
        count = int(here.sum())
        whom = "a cut line crosses or touches itself" if one == other else "two cut lines cross or touch"
        handles = tuple(dict.fromkeys((*profiles[one].handles, *profiles[other].handles)))
        where = Where(drawing=drawing.name, handles=handles, xy=(x, y))
        what = f"{whom} in {count} place{'s' if count > 1 else ''}"
        mend = "Trim the lines to one closed profile."
        yield finding("crossing-lines", what, mend, where, (float(count), 0.0, "places"))


def twins(drawing: Drawing, found: Sequence[tuple[Hole, Hole]]) -> Iterator[Finding]:
    """Holes drawn twice in one place."""
    if found:
        first = found[0][0].circle
        handles = tuple(dict.fromkeys(hole.handle for pair in found for hole in pair))
        where = Where(drawing=drawing.name, handles=handles, xy=(first.x, first.y))
        what = f"{len(found)} hole{' is' if len(found) == 1 else 's are'} drawn twice in one place"
        figures = (float(len(found)), 0.0, "holes")
        yield finding("doubled-line", what, "Delete one of the two; one hole was kept.", where, figures)


def nesting(drawing: Drawing, nested: Nest, explained: bool) -> Iterator[Finding]:
    """No outer profile, or more than one; `explained` where another fault says why none closes."""
    if nested.outer is None and not explained:
        what, mend = "no closed outer profile", "Draw the outer profile closed on the cut layer."
        yield finding("no-profile", what, mend, Where(drawing=drawing.name), (0.0, 1.0, "profiles"))
    if nested.extra:
        box = bounds(nested.extra[0])
        at = (float(box[0] + box[2]) / 2.0, float(box[1] + box[3]) / 2.0)
        handles = tuple(handle for profile in nested.extra for handle in profile.handles)
        where = Where(drawing=drawing.name, handles=handles, xy=at)
        labels = [shape.label for shape in drawing.shapes if shape.label]
        named = f": {', '.join(labels)}" if labels else ""
        what = f"{len(nested.extra) + 1} outer profiles in one drawing{named}"
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
    many = "1 circle of" if len(holes) == 1 else f"{len(holes)} circles of"
    what = f"{many} {table.diameter[holes[0]]:g} mm on the cut layer: the size of a rivet hole"
    mend = "Move it to RIVET <row> if a rivet goes through; else leave it and accept."
    return finding("opening-like-rivet-hole", what, mend, where, (float(table.diameter[holes[0]]), None, "mm"))
