"""What size a piece must have that closes the body as it stands: by its holes, along its one row, or over its folds."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.body.as_built import as_built
from fabplan.geom.forming import overall
from fabplan.geom.laid_over import laid_over
from fabplan.geom.pose import to_own
from fabplan.geom.profile import flattened
from fabplan.geom.taped import PROVED
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.dry_fit import Closing, DryFitSize, DryFitSpec
from fabplan.model.finding import Finding, Where
from fabplan.model.measured import Measured, MeasuredHole, MeasuredRecord, TapeSize
from fabplan.model.part import Part
from fabplan.way.taped import Pattern, pattern

LEAST = 3  # holes of a closing piece between which sizes were measured, for its own size to be told
ROW = 1.0  # mm across, within which all holes of a piece count as one row
SURE = 1e-6  # share of a stretch along an axis that sizes may leave open
ONE_ROW = (
    "Its holes lie in one row: nothing on the body says how wide it is across that row, so that it stays as drawn."
)
FOLDED = (
    "Form it to these sizes over its outside, holes by its mates; its blank and the lines of its bends are not "
    "reckoned anew. An axis of which nothing was measured stays as drawn."
)

Found = tuple[Closing | None, list[Finding]]
Sizes = Sequence[TapeSize]


def closed(spec: DryFitSpec, body: Body, stacks: Stacks, i: int) -> Found:
    """What size a closing piece must have, where enough was measured between the holes that it goes on, or why not.

    Args:
        spec: the sizes.
        body: as placed.
        stacks: its rivets, by whose numbers sizes are stated.
        i: the piece.
    """
    own, part, mark = holes_of(stacks, i), body.part_of(i), body.instances[i].mark
    sizes = tuple(one for one in spec.sizes if one.start in own and one.end in own)
    named = list(dict.fromkeys(name for one in sizes for name in (one.start, one.end)))
    if not sizes:
        return None, []
    why = _unreckoned(part)
    if why:
        return None, [_not_told(mark, why)]
    if len(part.panels) > 1:
        return _over_folds(spec, body, stacks, (i, sizes))
    assert part.blank is not None
    row = _one_row(part.blank.holes.xy[list(own.values())])
    if not row and len(named) < LEAST:
        return None, [_not_told(mark, f"sizes between {LEAST} of its holes or more are wanted, with a diagonal")]
    numbers = [part.blank.holes.number[own[name]] for name in named]
    by = dict(zip(named, numbers, strict=True))
    tape = tuple(TapeSize(by[one.start], by[one.end], one.length) for one in sizes)
    drawn = part.blank.holes.xy[[own[name] for name in named]]
    found = _along_row(numbers, drawn, tape, spec) if row else _as_pattern(numbers, drawn, tape, spec)
    where = Where(part=mark)
    if found.trouble is not None:
        check, what, figure, limit, mend = found.trouble
        return None, [_finding(check, f"opening for {mark}: {what}", mend, where, (figure, limit))]
    assert part.blank.outline is not None
    made = _made(mark, numbers, drawn, found, tape, flattened(part.blank.outline, SAGITTA))
    closing = replace(made, note=ONE_ROW if row else "")
    worst = float(np.linalg.norm(closing.record.off, axis=1).max()) if closing.record is not None else 0.0
    return closing, [] if worst <= spec.accuracy + FIGURE else [_resized(closing, worst, spec)]


def holes_of(stacks: Stacks, instance: int) -> dict[str, int]:
    """The holes of an instance in its part, by the numbers of their rivets."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    own = np.nonzero(stacks.ply_instance == instance)[0].tolist()
    return {stacks.number[int(owner[k])]: int(stacks.ply_hole[k]) for k in own}


def _unreckoned(part: Part) -> str:
    """Why no size can be told of a piece, "" where one can."""
    if part.blank is None:
        return "it is a bar; cut it to the row that it goes on"
    if part.spec.formed or not part.panels or part.blank.outline is None:
        return "its form is not known; work it to its template"
    if part.spec.cone is not None or part.spec.rolls:
        return "it is rolled; measure the girth that it must close, round the body"
    return ""


def _not_told(mark: str, why: str) -> Finding:
    what = f"{mark} is held back to close the body, and its size is not told: {why}"
    mend = "What to measure for it stands in the step of the inspection plan that closes the body."
    return _finding("dry-fit", what, mend, Where(part=mark), (None, None))


def _one_row(xy: FloatArray) -> bool:
    """Whether holes (n, 2) lie in one straight row."""
    off = xy - xy.mean(axis=0)
    across = off @ np.linalg.svd(off, full_matrices=False)[2][-1]
    return len(xy) > 1 and bool(np.ptp(across) <= ROW)


def _as_pattern(numbers: Sequence[str], drawn: FloatArray, tape: Sizes, spec: DryFitSpec) -> Pattern:
    measured = Measured(
        holes=tuple(map(MeasuredHole, numbers)),
        accuracy=spec.accuracy,
        source=spec.source,
        doubt=spec.doubt,
        tape=tuple(tape),
    )
    return pattern(measured, drawn)


def _along_row(numbers: Sequence[str], drawn: FloatArray, tape: Sizes, spec: DryFitSpec) -> Pattern:
    """The pattern of holes in one row: places along it by least squares, across it as drawn."""
    way = np.linalg.svd(drawn - drawn.mean(axis=0), full_matrices=False)[2][0]
    place = drawn @ way
    pairs, found = _pairs(numbers, tape), np.array([one.length for one in tape])
    sense = np.sign(place[pairs[:, 1]] - place[pairs[:, 0]])
    slopes = np.zeros((len(tape), len(numbers)))
    slopes[np.arange(len(tape)), pairs[:, 1]] = sense
    slopes[np.arange(len(tape)), pairs[:, 0]] = -sense
    more, _, rank, _ = np.linalg.lstsq(slopes, found - slopes @ place, rcond=None)
    left, proved = found - slopes @ (place + more), 1.0 - np.sum(slopes @ np.linalg.pinv(slopes) * np.eye(len(tape)), 1)
    by_tape = np.column_stack([found - left, np.zeros(len(tape))])
    worst = int(np.abs(left).argmax())
    trouble = None
    if rank < len(numbers) - 1:
        what = "its sizes along the row do not hang together"
        trouble = ("tape-loose", what, 0.0, 0.0, "Measure all of them from one hole, the first of the row.")
    elif not abs(left[worst]) <= spec.accuracy + FIGURE:
        what = f"its sizes along the row disagree, {tape[worst].start} to {tape[worst].end} by {left[worst]:+.1f} mm"
        trouble = ("tape-disagrees", what, abs(float(left[worst])), spec.accuracy, "Measure them again.")
    return Pattern(drawn + more[:, None] * way, by_tape, proved > PROVED, trouble)


def _pairs(numbers: Sequence[str], tape: Sizes) -> IntArray:
    """(m, 2) the holes of each size."""
    at = {number: k for k, number in enumerate(numbers)}
    return np.array([[at[one.start], at[one.end]] for one in tape], dtype=np.int64)


def _made(
    mark: str, numbers: Sequence[str], drawn: FloatArray, found: Pattern, tape: tuple[TapeSize, ...], edge: FloatArray
) -> Closing:
    laid = laid_over(found.xy, drawn)
    record = MeasuredRecord(
        mark, tuple(numbers), drawn, laid, np.full((len(drawn), 2), np.nan), True, (), tape, found.by_tape, found.proved
    )
    pairs = _pairs(numbers, tape)
    old, new = (np.linalg.norm(xy[pairs[:, 1]] - xy[pairs[:, 0]], axis=1) for xy in (drawn, laid))
    sides = tuple(DryFitSize(one.start, one.end, float(a), float(b)) for one, a, b in zip(tape, old, new, strict=True))
    nearest = np.linalg.norm(edge[:, None] - drawn[None], axis=2).argmin(axis=1)
    before, after = np.ptp(edge, axis=0), np.ptp(edge + record.off[nearest], axis=0)
    return Closing(mark, record, sides, (float(before[0]), float(before[1])), (float(after[0]), float(after[1])))


def _over_folds(spec: DryFitSpec, body: Body, stacks: Stacks, own: tuple[int, Sizes]) -> Found:
    """Sizes over the outside of a folded piece, stretched along the axes of its still piece as its opening is.

    Between two holes a size is longer by what the opening is longer along each axis, in proportion to their distance
    along it: the least squares over all sizes, of those axes alone that they settle.
    """
    i, sizes = own
    part, pose, mark = body.part_of(i), body.poses[i], body.instances[i].mark
    assert part.blank is not None
    assert pose is not None
    at = {number: k for k, number in enumerate(stacks.number)}
    place = to_own(pose, stacks.point)
    ends = np.array([[at[one.start], at[one.end]] for one in sizes])
    way, found = place[ends[:, 1]] - place[ends[:, 0]], np.array([one.length for one in sizes])
    drawn = np.linalg.norm(way, axis=1)
    slopes = way**2 / drawn[:, None]
    stretch = np.linalg.pinv(slopes, rcond=1e-3) @ (found - drawn)
    settled = np.diag(np.linalg.pinv(slopes, rcond=1e-3) @ slopes) > 1.0 - SURE
    stretch = np.where(settled, stretch, 0.0)
    left = found - drawn - slopes @ stretch
    worst = int(np.abs(left).argmax())
    where = Where(part=mark)
    if not abs(left[worst]) <= spec.accuracy + FIGURE:
        off = float(found[worst] - drawn[worst])
        what = f"opening for {mark}: {sizes[worst].start} to {sizes[worst].end} is off by {off:+.1f} mm, of which "
        what += f"sizes along its axes leave {left[worst]:+.1f} mm untold"
        mend = "Square the body, and measure again from leg to leg along each axis of the piece, beside its diagonals."
        return None, [_finding("tape-disagrees", what, mend, where, (abs(float(left[worst])), spec.accuracy))]
    reach = np.ptp(place[[at[name] for name in holes_of(stacks, i)]], axis=0)
    size = overall(as_built(replace(part.spec, thickness=part.thickness), part.blank, part.blank.cutouts))
    must = size + stretch * reach
    sides = tuple(
        DryFitSize(one.start, one.end, float(a), float(a + more))
        for one, a, more in zip(sizes, drawn, slopes @ stretch, strict=True)
    )
    closing = Closing(mark, None, sides, tuple(size.tolist()), tuple(must.tolist()), FOLDED)
    most = float(np.abs(must - size).max())
    return closing, [] if most <= spec.accuracy + FIGURE else [_resized(closing, most, spec)]


def _resized(closing: Closing, worst: float, spec: DryFitSpec) -> Finding:
    old, new = (" x ".join(f"{one:.1f}" for one in size) for size in (closing.drawn, closing.must))
    more = ", ".join(
        f"{round(b - a, 1) + 0.0:+.1f} along {axis}"
        for axis, a, b in zip("xyz", closing.drawn, closing.must, strict=False)
    )
    what = f"{closing.instance} must be {new} mm over all to close the body as it stands, drawn are {old}: {more}"
    what += f"; its holes move by up to {worst:.1f} mm" if closing.record is not None else ""
    mend = "Cut it, or drill it from its mates, by the sheet of the dry fit; then draw it so."
    return _finding("closing-size", what, mend, Where(part=closing.instance), (worst, spec.accuracy))


def _finding(check: str, what: str, mend: str, where: Where, figures: tuple[float | None, float | None]) -> Finding:
    row = CHECKS[check]
    return Finding(check, row.level, what, where, *figures, "mm", row.source, mend)
