"""What the spacing rules measure on one plate: pitches, row distances, diagonals, end and edge distances.

line        holes of one row that follow one another, straight or bent; a row may have several lines side by side
pitch       between neighbours in a line
end         along the line, at its two ends
edge        across the line
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import BLOCK, inside, span_places
from fabplan.geom.lines import Run, runs_of
from fabplan.geom.near import median, nearest_pairs
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.layout import HoleLayout

IN_STEP = 0.25  # share of the pitch: lines shifted by less stand in chain, by more are staggered (common practice)
ONE_SEAM = 5.0  # lines of one row further apart than this many pitches are seams of their own (common practice)
CORNER = 0.9  # cosine of half a turn: where a line turns by over 50 degrees it has no direction
NEIGHBOURS = 2.0  # spaces of an even field within which most holes have a neighbour any way
ACROSS = 64  # places tried along a gap for an opening in it
FAR = (
    6.0  # pitches: a wider gap parts groups of a row that no seam lists, such as holes at two corners (common practice)
)


@dataclass(frozen=True, slots=True, eq=False)
class Measure:
    """Values of one kind.

    Attributes:
        holes: (k, 2) the holes concerned; the second is the first again where one hole has the value by itself.
        value: (k,) mm.
        staggered: (k,) True between staggered lines.
    """

    holes: IntArray
    value: FloatArray
    staggered: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The lines of a plate's rows.

    Attributes:
        of: (n,) line of each hole, -1 for none.
        direction: (n, 2) unit vector along the line, NaN where there is none or the line turns sharply.
        outward: (n, 2) unit vector off the end of the line for its first and last hole, towards an opening or an edge
            for holes that it parts, NaN for all others.
        pairs: (k, 2) holes that follow one another in a line.
        pitched: (k,) False where an opening or an edge lies between them, or they are groups of a row without a seam.
        count: (n,) lines side by side in the hole's seam, at least 1.
        inner: (n,) True where the hole's line has a line on either side.
        runs: the lines.
        beside: pairs of lines that lie side by side.
    """

    of: IntArray
    direction: FloatArray
    outward: FloatArray
    pairs: IntArray
    pitched: BoolArray
    count: IntArray
    inner: BoolArray
    runs: tuple[Run, ...]
    beside: tuple[tuple[int, int], ...]


def lines_of(layout: HoleLayout) -> Lines:
    """The lines of all rows of rivets; bolt holes, open holes and holes without a row stand in none."""
    xy, total = layout.holes.xy, len(layout.holes)
    runs: list[Run] = []
    beside: list[tuple[int, int]] = []
    named: dict[str, list[int]] = {}
    for hole in np.nonzero(_driven(layout))[0].tolist():
        named.setdefault(layout.holes.row[hole], []).append(hole)
    for own in (np.array(holes) for name, holes in named.items() if name):
        found = [Run(own[run.order], run.straight, run.closed) for run in runs_of(xy[own])]
        first, lie = len(runs), _offsets(xy, found)
        runs += found
        near = ONE_SEAM * max((_pitch(xy, run) for run in found), default=0.0)
        beside += [(first + i, first + i + 1) for i in np.nonzero(np.diff(lie) <= near)[0].tolist()]
    of = np.full(total, -1, dtype=np.int64)
    direction, outward = np.full((total, 2), np.nan), np.full((total, 2), np.nan)
    for number, run in enumerate(runs):
        of[run.order] = number
        direction[run.order] = _directions(xy[run.order], run.closed)
        if not run.closed and len(run.order) > 1:
            ends = run.order[[0, -1]]
            outward[ends] = direction[ends] * np.array([[-1.0], [1.0]])
    pairs, pitched = _pairs(layout, runs)
    parted = pairs[~pitched & layout.seamed[pairs[:, 0]]]
    for hole, follow in np.vstack([parted, parted[:, ::-1]]).tolist():
        outward[hole] = (xy[follow] - xy[hole]) / np.linalg.norm(xy[follow] - xy[hole])
    count, inner = _company(len(runs), beside)
    in_line = of >= 0
    count, company = count[of], in_line & inner[of]
    return Lines(of, direction, outward, pairs, pitched, count, company, tuple(runs), tuple(beside))


def _pairs(layout: HoleLayout, runs: list[Run]) -> tuple[IntArray, BoolArray]:
    """Holes (k, 2) that follow one another in a line, and (k,) whether the space between them is a pitch."""
    xy = layout.holes.xy
    pairs, common = [np.zeros((0, 2), dtype=np.int64)], [np.zeros(0)]
    for run in runs:
        follow = np.append(run.order, run.order[:1]) if run.closed else run.order
        pairs.append(np.column_stack([follow[:-1], follow[1:]]))
        step = np.linalg.norm(np.diff(xy[follow], axis=0), axis=1)
        common.append(np.full(len(step), np.quantile(step, 0.25, method="higher") if len(step) else 0.0))
    holes, pitch = np.vstack(pairs), np.concatenate(common)
    apart = np.linalg.norm(xy[holes[:, 1]] - xy[holes[:, 0]], axis=1)
    pitched = layout.seamed[holes[:, 0]] | ~(apart > FAR * pitch)
    wide = pitched & (apart > 1.5 * pitch)
    pitched[wide] = ~_broken(layout, holes[wide], pitch[wide])
    return holes, pitched


def _driven(layout: HoleLayout) -> BoolArray:
    return np.array([purpose == "rivet" for purpose in layout.holes.purpose], dtype=np.bool_)


def _filled(layout: HoleLayout) -> BoolArray:
    """(n,) True for holes that take a rivet or a bolt: these must not crowd one another or an edge."""
    return np.array([purpose != "open" for purpose in layout.holes.purpose], dtype=np.bool_)


def _pitch(xy: FloatArray, run: Run) -> float:
    step = np.linalg.norm(np.diff(xy[run.order], axis=0), axis=1)
    return median(step) if len(step) else 0.0


def _offsets(xy: FloatArray, runs: list[Run]) -> FloatArray:
    """How far each straight line lies off the first, in order; infinitely far apart where one bends."""
    if not all(run.straight and len(run.order) > 1 for run in runs):
        return np.array([np.inf] * len(runs))[:1]
    base = xy[runs[0].order[0]]
    along = xy[runs[0].order[-1]] - base
    if not np.linalg.norm(along) > 0.0:  # one hole within another has no direction
        return np.array([np.inf])
    across = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    return np.array([abs(float((xy[run.order] - base).mean(axis=0) @ across)) for run in runs])


def _directions(xy: FloatArray, closed: bool) -> FloatArray:
    """Unit vectors (n, 2) along a line of holes, NaN where it turns sharply or is a single hole."""
    if len(xy) < 2:
        return np.full((len(xy), 2), np.nan)
    ring = np.vstack([xy[-1:], xy, xy[:1]])
    step = np.diff(ring, axis=0)
    step /= np.maximum(np.linalg.norm(step, axis=1), 1e-300)[:, None]
    before, after = step[:-1].copy(), step[1:].copy()
    if not closed:
        before[0], after[-1] = after[0], before[-1]
    middle = (before + after) / 2.0
    length = np.linalg.norm(middle, axis=1)[:, None]
    directions: FloatArray = np.where(length > CORNER, middle / np.maximum(length, 1e-300), np.nan)
    return directions


def _company(total: int, beside: list[tuple[int, int]]) -> tuple[IntArray, BoolArray]:
    """For each line, how many lie in its seam, and whether it has one on either side; a last row stands for none."""
    seam = list(range(total))
    neighbours = np.zeros(total + 1, dtype=np.int64)
    for one, other in beside:
        seam[other] = seam[one]
        neighbours[[one, other]] += 1
    count = np.bincount(seam, minlength=total)[seam] if total else np.zeros(0, dtype=np.int64)
    return np.append(count, 1).astype(np.int64), neighbours > 1


def pitches(layout: HoleLayout, lines: Lines) -> Measure:
    """Neighbours along each line, however far apart, but not across an opening or past the edge of the plate."""
    holes = lines.pairs[lines.pitched]
    return _measure(holes, np.linalg.norm(layout.holes.xy[holes[:, 1]] - layout.holes.xy[holes[:, 0]], axis=1))


def _broken(layout: HoleLayout, pairs: IntArray, pitch: FloatArray) -> BoolArray:
    """(k,) True where a straight line between two holes (k, 2) leaves the metal.

    A round opening counts where the line crosses it for a pitch (k,) or more: a vent among rivets parts no row.
    """
    start, end = layout.holes.xy[pairs[:, 0]], layout.holes.xy[pairs[:, 1]]
    share = np.linspace(0.0, 1.0, ACROSS)[None, :, None]
    places = (start[:, None] + share * (end - start)[:, None]).reshape(-1, 2)
    metal = inside(layout.outline, places)
    for cutout in layout.cutouts:
        metal[inside(cutout, places)] = False
    broken = ~metal.reshape(-1, ACROSS).all(axis=1)
    centre, radius = _openings(layout)
    return np.asarray(broken | (_chords(start, end, centre, radius) >= pitch[:, None]).any(axis=1), dtype=np.bool_)


def _openings(layout: HoleLayout) -> tuple[FloatArray, FloatArray]:
    """Centres (m, 2) and radii (m,) of the round openings, mm."""
    is_open = ~_filled(layout) & np.isfinite(layout.holes.xy).all(axis=1)
    return layout.holes.xy[is_open], layout.holes.diameter[is_open] / 2.0


def _chords(start: FloatArray, end: FloatArray, centre: FloatArray, radius: FloatArray) -> FloatArray:
    """(k, m) how much of each segment lies in each circle, mm."""
    long = np.linalg.norm(end - start, axis=1)
    unit = (end - start) / np.maximum(long, 1e-300)[:, None]
    to_centre = centre[None] - start[:, None]
    along = np.einsum("kmx,kx->km", to_centre, unit)
    off = np.einsum("kmx,kx->km", to_centre, np.column_stack([-unit[:, 1], unit[:, 0]]))
    half = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    chord: FloatArray = np.minimum(along + half, long[:, None]) - np.maximum(along - half, 0.0)
    return np.maximum(chord, 0.0)


def crowded(layout: HoleLayout, lines: Lines, reach: float) -> Measure:
    """Rivets or bolts within `reach` of each other that no other measure sees: where lines meet or bend, of no line."""
    rivet = np.nonzero(_filled(layout) & np.isfinite(layout.holes.xy).all(axis=1))[0]
    pairs, apart = nearest_pairs(layout.holes.xy[rivet], reach)
    a, b = rivet[pairs[:, 0]], rivet[pairs[:, 1]]
    one, other = lines.of[a], lines.of[b]
    total = len(layout.holes)
    follow = pitches(layout, lines).holes
    followed = np.isin(a * total + b, follow.min(axis=1) * total + follow.max(axis=1))
    count = len(lines.runs) + 1
    side = np.array([low * count + high for low, high in lines.beside], dtype=np.int64)
    side_by_side = np.isin(np.minimum(one, other) * count + np.maximum(one, other), side)
    kept = ~followed & ~side_by_side
    return _measure(np.column_stack([a, b])[kept], apart[kept])


def between_rows(layout: HoleLayout, lines: Lines) -> tuple[Measure, Measure]:
    """Distances between lines that lie side by side, and the slant distances of staggered ones, hole by hole."""
    xy = layout.holes.xy
    pairs, across, slant, shifted = [np.zeros((0, 2), dtype=np.int64)], [np.zeros(0)], [np.zeros(0)], [np.zeros(0)]
    for pair in lines.beside:
        one, other = (lines.runs[line].order for line in pair)
        apart = np.linalg.norm(xy[one][:, None] - xy[other][None], axis=2)
        # the nearest of the other line to each hole, and both of two as near
        nearest = np.maximum(apart.min(axis=1)[:, None], apart.min(axis=0)[None])
        i, j = np.nonzero(apart <= nearest + FIGURE)
        along = np.abs(np.einsum("kx,kx->k", xy[other[j]] - xy[one[i]], lines.direction[one[i]]))
        pitch = min(_pitch(xy, lines.runs[line]) for line in pair)
        beside = along <= pitch  # past the end of the other line nothing lies beside
        pairs.append(np.column_stack([one[i], other[j]])[beside])
        slant.append(apart[i, j][beside])
        across.append(np.sqrt(np.maximum(slant[-1] ** 2 - along[beside] ** 2, 0.0)))
        staggered_by = _step(along, *((i, len(one)) if len(one) <= len(other) else (j, len(other))))
        shifted.append(np.full(int(beside.sum()), staggered_by > IN_STEP * pitch))
    holes, staggered = np.vstack(pairs), np.concatenate(shifted).astype(np.bool_)
    rows = _measure(holes, np.concatenate(across), staggered)
    return rows, _measure(holes[staggered], np.concatenate(slant)[staggered], staggered[staggered])


def _step(along: FloatArray, hole: IntArray, count: int) -> float:
    """How far the holes of a line commonly lie along from the nearest of the other line, given by `hole` (k,)."""
    least = np.full(count, np.inf)
    np.minimum.at(least, hole, along)
    return median(least)


@dataclass(frozen=True, slots=True, eq=False)
class Margins:
    """Distances of rivet and bolt holes from the edges of their plate.

    Attributes:
        past: from the first and last hole of a line to the edge off its end.
        along: along the line to any other edge.
        beside: across the line; all round, for a hole that has no direction.
        past_foot, beside_foot: (k, 2) from the hole to the place on the edge.
        behind: (k,) of `beside`, True where another line of the seam stands nearer to that edge.
    """

    past: Measure
    along: Measure
    beside: Measure
    past_foot: FloatArray
    beside_foot: FloatArray
    behind: BoolArray


def margins(layout: HoleLayout, lines: Lines) -> Margins:
    """Distances to the nearest edge each way; a place within 45 degrees of the line counts as along it."""
    rivet = np.nonzero(_filled(layout))[0]
    spans = sum(len(profile.bulges) for profile in (layout.outline, *layout.cutouts)) + len(layout.holes) - len(rivet)
    rows = max(1, BLOCK // max(spans, 1))
    blocks = [_ways_off(layout, lines, rivet[low : low + rows]) for low in range(0, max(len(rivet), 1), rows)]
    edges, ends, along, foot, past_foot = (np.concatenate(column) for column in zip(*blocks, strict=True))
    return Margins(
        past=_nearest(rivet, ends),
        along=_nearest(rivet, along),
        beside=_nearest(rivet, edges),
        past_foot=past_foot[~np.isinf(ends)],
        beside_foot=foot[~np.isinf(edges)],
        behind=_behind(layout, lines, rivet, foot)[~np.isinf(edges)],
    )


def _ways_off(layout: HoleLayout, lines: Lines, rivet: IntArray) -> tuple[FloatArray, ...]:
    """Distances (k,) beside, past and along the lines of some rivets, infinite where no edge lies that way.

    Then, (k, 2), from the rivet to the places beside and past.
    """
    xy = layout.holes.xy[rivet]
    away = _edge_places(layout, xy) - xy[:, None, :]
    distance = np.linalg.norm(away, axis=2)
    steep = np.sqrt(0.5) * distance
    # a comparison with NaN is False: a hole without a direction has nothing along or past its line
    along = np.abs(np.einsum("nmx,nx->nm", away, lines.direction[rivet])) >= steep
    past = np.einsum("nmx,nx->nm", away, lines.outward[rivet]) >= steep
    beside, past = np.where(along, np.inf, distance), np.where(past, distance, np.inf)
    foot, past_foot = (away[np.arange(len(rivet)), one.argmin(axis=1)] for one in (beside, past))
    rest = np.where(along & np.isinf(past), distance, np.inf)
    return beside.min(axis=1), past.min(axis=1), rest.min(axis=1), foot, past_foot


def _edge_places(layout: HoleLayout, points: FloatArray) -> FloatArray:
    """(n, m, 2) the nearest place to each of the points (n, 2) on every span of every edge and round opening."""
    centre, radius = _openings(layout)
    out = points[:, None] - centre[None]
    away = np.linalg.norm(out, axis=2)
    # from the centre of an opening every place on its edge is as near
    unit = np.where(away[:, :, None] > 0.0, out / np.maximum(away, 1e-300)[:, :, None], [1.0, 0.0])
    round_openings = centre[None] + unit * radius[:, None]
    straight = [span_places(profile, points) for profile in (layout.outline, *layout.cutouts)]
    return np.concatenate([*straight, round_openings], axis=1)


def nearer_rivet(layout: HoleLayout, holes: IntArray, foot: FloatArray) -> BoolArray:
    """(k,) True where another rivet or bolt stands within 45 degrees between a hole and the edge, `foot` (k, 2) off.

    Most holes of a field have such a neighbour close by; all others are compared only with what is left.
    """
    rivet = np.nonzero(_filled(layout) & np.isfinite(layout.holes.xy).all(axis=1))[0]
    row = np.full(len(layout.holes), -1, dtype=np.int64)
    row[holes] = np.arange(len(holes))
    xy = layout.holes.xy[rivet]
    spread = np.ptp(xy, axis=0) if len(xy) else np.zeros(2)
    pairs, _ = nearest_pairs(xy, NEIGHBOURS * float(np.sqrt(np.prod(spread + 1.0) / max(len(xy), 1))))
    both = np.vstack([pairs, pairs[:, ::-1]])
    own = row[rivet[both[:, 0]]]
    asked = own >= 0
    nearer = np.zeros(len(holes), dtype=np.bool_)
    ahead = _ahead(xy[both[asked, 1]] - xy[both[asked, 0]], foot[own[asked]])
    nearer[own[asked][ahead]] = True
    left = np.nonzero(~nearer)[0]
    step = max(1, BLOCK // max(len(xy), 1))
    for low in range(0, len(left), step):
        some = left[low : low + step]
        apart = xy[None] - layout.holes.xy[holes[some]][:, None]
        nearer[some] = _ahead(apart, foot[some][:, None, :]).any(axis=1)
    return nearer


def _ahead(apart: FloatArray, foot: FloatArray) -> BoolArray:
    """(...,) True for neighbours, (..., 2) off a hole, that stand within 45 degrees before the edge, `foot` off it."""
    length = np.linalg.norm(foot, axis=-1)
    towards = foot / np.maximum(length, 1e-300)[..., None]
    forward = np.sum(apart * towards, axis=-1)
    between = (forward > FIGURE) & (forward < length - FIGURE)
    ahead: BoolArray = between & (forward >= np.sqrt(0.5) * np.linalg.norm(apart, axis=-1))
    return ahead


def _nearest(rivet: IntArray, distance: FloatArray) -> Measure:
    """Distances of the holes that have an edge that way."""
    has = ~np.isinf(distance)
    return _measure(np.column_stack([rivet, rivet])[has], distance[has])


def _behind(layout: HoleLayout, lines: Lines, rivet: IntArray, foot: FloatArray) -> BoolArray:
    """(k,) True where a line of the same seam stands between a hole and the place `foot` (k, 2) off it on an edge."""
    behind = np.zeros(len(rivet), dtype=np.bool_)
    middle = np.array([layout.holes.xy[run.order].mean(axis=0) for run in lines.runs]).reshape(-1, 2)
    for pair in lines.beside:
        for own, other in (pair, pair[::-1]):
            towards = foot @ (middle[other] - middle[own]) > 0.0
            behind[(lines.of[rivet] == own) & towards] = True
    return behind


def by_itself(layout: HoleLayout, values: FloatArray, known: BoolArray) -> Measure:
    """A value that each rivet hole has by itself, where it is `known` (n,) to have one."""
    kept = np.nonzero(_driven(layout) & known)[0]
    return _measure(np.column_stack([kept, kept]), values[kept])


def _measure(holes: IntArray, value: FloatArray, staggered: BoolArray | None = None) -> Measure:
    """Values in the order of their holes, whichever way a line was walked."""
    holes = np.sort(holes.astype(np.int64), axis=1)
    order = np.lexsort((holes[:, 1], holes[:, 0]))
    shifted = np.zeros(len(holes), dtype=np.bool_) if staggered is None else staggered
    return Measure(holes[order], value[order], shifted[order])
