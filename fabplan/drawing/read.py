"""One drawing read whole: every entity ends used, set aside, or reported."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from fabplan.drawing import say
from fabplan.drawing.chains import Chained, chain
from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.nest import Nest, nest
from fabplan.drawing.pieces import DIMENSIONS, FILLS, TEXTS, Piece, pieces
from fabplan.drawing.roles import Role, role_of
from fabplan.drawing.source import Source, open_source
from fabplan.drawing.units import Unit, round_diameter, settle_unit
from fabplan.geom.profile import bounds
from fabplan.geom.rows import found_rows, numbered
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing, Entry, Intake, Label, Line
from fabplan.model.finding import Finding
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

RIVET_SIZES = (5.0, 40.0)  # mm: hole diameters that may take a rivet where none is known (common practice)
SAME_SIZE = 0.06  # mm: a drawn hole is of a known size


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
    found = list(pieces(source.document))
    if not found:
        return replace(blank, findings=(say.empty(path.name),))
    return _drawn(blank, source, _sorted(found, intake), intake)


@dataclass(slots=True)
class _Sorting:
    """Pieces by what they are for; `entries` gives for each entity its account."""

    cut: list[Piece] = field(default_factory=list)
    round: list[tuple[Piece, Role]] = field(default_factory=list)
    lines: dict[str, list[Piece]] = field(default_factory=lambda: {"MARK": [], "FOLD": [], "ROLL": []})
    labels: list[Piece] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    troubles: list[tuple[str, Piece]] = field(default_factory=list)
    roleless: Counter[str] = field(default_factory=Counter)
    bare: bool = False  # no layer has a role: closed geometry is cut geometry


def _sorted(found: Sequence[list[Piece]], intake: Intake) -> _Sorting:
    sorting = _Sorting()
    sorting.bare = not any(role_of(piece.layer, intake.roles).name for own in found for piece in own)
    for own in found:
        fates = [_sort(piece, role_of(piece.layer, intake.roles), sorting) for piece in own]
        fate, reason = min(fates, key=lambda pair: ("reported", "used", "set aside").index(pair[0]))
        kind = own[0].kind if len(own) == 1 else "INSERT"
        sorting.entries.append(Entry(own[0].handle, kind, own[0].layer, fate, reason))
    return sorting


def _sort(piece: Piece, role: Role, sorting: _Sorting) -> tuple[str, str]:
    """Put one piece where it belongs; its fate and the reason."""
    on_cut = role.name in ("CUT", "RIVET", "BOLT")
    if piece.kind in TEXTS or piece.kind in DIMENSIONS:
        if piece.text:
            sorting.labels.append(piece)
        if on_cut:
            sorting.troubles.append(("text-on-cut-layer", piece))
            return "reported", "text or dimension on a layer that is cut"
        return "set aside", "text" if piece.kind in TEXTS else "dimension"
    if piece.trouble or (piece.kind in FILLS and on_cut):
        sorting.troubles.append((piece.trouble or "unsupported-entity", piece))
        return "reported", "cannot be part of a flat profile"
    if piece.kind in FILLS:
        return "set aside", "fill, point or picture"
    if role.name == "NOTE":
        return "set aside", "note layer"
    if role.name in sorting.lines:
        sorting.lines[role.name].append(piece)
        return "used", f"{role.name.lower()} line"
    if role.name in ("RIVET", "BOLT"):
        return _sort_round(piece, role, sorting)
    if role.name == "CUT" or sorting.bare:
        sorting.cut.append(piece)
        return "used", "cut"
    sorting.roleless[piece.layer] += 1
    return "reported", "its layer has no role"


def _sort_round(piece: Piece, role: Role, sorting: _Sorting) -> tuple[str, str]:
    if round_diameter(piece) is None:
        sorting.troubles.append(("unsupported-entity", piece))
        return "reported", "no circle, on a layer of holes"
    sorting.round.append((piece, role))
    return "used", f"{role.name.lower()} hole" + (f" of row {role.row}" if role.row else "")


def _drawn(blank: Drawing, source: Source, sorting: _Sorting, intake: Intake) -> Drawing:
    unit = settle_unit(source.unit, [*sorting.cut, *(piece for piece, _ in sorting.round)], intake)
    chained = chain(sorting.cut, unit.scale)
    loops, circles = _split(chained.loops, sorting, unit, intake)
    nested = nest(loops)
    holes = _holes(circles)
    drawing = replace(
        blank,
        units=_unit_name(unit),
        units_reason=unit.reason,
        scale=unit.scale,
        outline=nested.outer,
        cutouts=nested.cutouts,
        holes=holes,
        folds=_lines(sorting.lines["FOLD"], unit.scale),
        rolls=_lines(sorting.lines["ROLL"], unit.scale),
        marks=_lines(sorting.lines["MARK"], unit.scale),
        open_lines=_open_lines(chained),
        labels=tuple(_label(piece, unit.scale) for piece in sorting.labels),
        account=tuple(sorting.entries),
    )
    drawing = replace(drawing, fingerprint=fingerprint(drawing))
    return replace(drawing, findings=_findings(drawing, source, sorting, (unit, chained, nested), intake))


def _unit_name(unit: Unit) -> str:
    from fabplan.drawing.source import UNIT_NAMES

    return UNIT_NAMES[unit.scale]


_Circle = tuple[float, float, float, str, str, str]  # x, y, diameter, row, purpose, handle


def _split(
    loops: Sequence[Profile], sorting: _Sorting, unit: Unit, intake: Intake
) -> tuple[list[Profile], list[_Circle]]:
    """Closed lines that are profiles, and circles that are holes (openings on the cut layer included)."""
    circles = [_circle(piece, role, unit.scale) for piece, role in sorting.round]
    kept: list[Profile] = []
    largest = max((float(np.ptp(loop.vertices)) for loop in loops), default=0.0)
    rivet_sizes = _rivet_sizes(loops, intake) if sorting.bare else ()
    for loop in loops:
        diameter = _loop_diameter(loop)
        if diameter is None or (diameter >= largest and len(loops) > 0 and _is_largest(loop, loops)):
            kept.append(loop)
            continue
        low, high = bounds(loop)[:2], bounds(loop)[2:]
        x, y = ((low + high) / 2.0).tolist()
        rivet = any(abs(diameter - size) <= SAME_SIZE for size in rivet_sizes)
        circles.append((x, y, diameter, "", "rivet" if rivet else "open", loop.handles[0] if loop.handles else ""))
    return kept, _with_found_rows(circles)


def _is_largest(loop: Profile, loops: Sequence[Profile]) -> bool:
    from fabplan.geom.profile import area

    return abs(area(loop)) >= max(abs(area(other)) for other in loops)


def _loop_diameter(loop: Profile) -> float | None:
    return round_diameter(Piece("", "", "", loop.vertices, loop.bulges, closed=True))


def _rivet_sizes(loops: Sequence[Profile], intake: Intake) -> tuple[float, ...]:
    """Diameters of rivet holes where no layer has a role: the known ones, else the commonest of a likely size."""
    if intake.hole_diameters:
        return intake.hole_diameters
    sizes = Counter(
        round(diameter, 2)
        for loop in loops
        if (diameter := _loop_diameter(loop)) is not None and RIVET_SIZES[0] <= diameter <= RIVET_SIZES[1]
    )
    return (min(sizes, key=lambda size: (-sizes[size], size)),) if sizes else ()


def _circle(piece: Piece, role: Role, scale: float) -> _Circle:
    profile = Profile(piece.points * scale, piece.bulges)
    box = bounds(profile)
    x, y = ((box[:2] + box[2:]) / 2.0).tolist()
    return x, y, float(box[2] - box[0]), role.row, "rivet" if role.name == "RIVET" else "bolt", piece.handle


def _with_found_rows(circles: list[_Circle]) -> list[_Circle]:
    """Rivet holes without a row get the rows that their lines show."""
    index = [i for i, circle in enumerate(circles) if circle[4] != "open" and not circle[3]]
    if not index or len(index) > 2000:  # the search tries pairs; a sieve has no rows
        return circles
    xy = np.array([circles[i][:2] for i in index])
    named = list(circles)
    for number, row in enumerate(_in_place_order(xy, found_rows(xy)), start=1):
        for i in row.tolist():
            x, y, diameter, _, purpose, handle = circles[index[i]]
            named[index[i]] = (x, y, diameter, f"r{number}", purpose, handle)
    return named


def _in_place_order(xy: FloatArray, rows: list[IntArray]) -> list[IntArray]:
    return sorted(rows, key=lambda row: tuple(np.round(xy[row].mean(axis=0)[::-1], 3).tolist()))


def _holes(circles: list[_Circle]) -> Holes:
    xy = np.array([circle[:2] for circle in circles], dtype=np.float64).reshape(-1, 2)
    order, numbers = numbered(xy, [circle[3] for circle in circles])
    ranked = [circles[i] for i in order]
    return Holes(
        xy[order],
        np.array([circle[2] for circle in ranked], dtype=np.float64),
        tuple(circle[3] for circle in ranked),
        numbers,
        tuple(circle[4] for circle in ranked),
        tuple(circle[5] for circle in ranked),
    )


def _lines(found: Sequence[Piece], scale: float) -> tuple[Line, ...]:
    from fabplan.geom.profile import flattened

    lines = []
    for piece in found:
        if piece.closed:
            points = flattened(Profile(piece.points, piece.bulges), 0.01)
            points = np.vstack([points, points[:1]])
        else:
            # the closing span of an open line is straight and dropped again
            points = flattened(Profile(piece.points, np.append(piece.bulges[:-1], 0.0)), 0.01)
        lines.append(Line(piece.layer, points * scale, piece.handle))
    return tuple(lines)


def _open_lines(chained: Chained) -> tuple[Line, ...]:
    runs = [*chained.open, *chained.stray, *(spans for _, spans in chained.junctions)]
    return tuple(
        Line("", np.array([[span.start, span.end]]).reshape(-1, 2), span.handle) for run in runs for span in run
    )


def _label(piece: Piece, scale: float) -> Label:
    x, y = (piece.points[0] * scale).tolist() if len(piece.points) else (0.0, 0.0)
    return Label(piece.text, (x, y), piece.height * scale, piece.layer, piece.handle)


def _findings(
    drawing: Drawing,
    source: Source,
    sorting: _Sorting,
    outcome: tuple[Unit, Chained, Nest],
    intake: Intake,
) -> tuple[Finding, ...]:
    unit, chained, nested = outcome
    found = [
        *say.damage(drawing, source.trouble),
        *say.account(drawing),
        *say.troubles(drawing, sorting.troubles),
        *say.roleless(drawing, sorting.roleless),
        *say.units(drawing, unit, intake),
        *say.chains(drawing, chained),
        *say.nesting(drawing, nested, bool(chained.open or chained.junctions)),
        *_rivet_like(drawing, intake, sorting),
    ]
    return tuple(found)


def _rivet_like(drawing: Drawing, intake: Intake, sorting: _Sorting) -> list[Finding]:
    if sorting.bare or not intake.hole_diameters:
        return []
    holes = drawing.holes
    like = [
        i
        for i, (size, purpose) in enumerate(zip(holes.diameter.tolist(), holes.purpose, strict=True))
        if purpose == "open" and any(abs(size - known) <= SAME_SIZE for known in intake.hole_diameters)
    ]
    return [say.rivet_like(drawing, like)] if like else []
