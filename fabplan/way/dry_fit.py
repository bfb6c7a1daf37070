"""The body as it stands bolted together: what its sizes are off, and what size the piece must have that closes it."""

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.geom.laid_over import laid_over
from fabplan.geom.outermost import outermost
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.dry_fit import Closing, DryFitSize, DryFitSpec
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.measured import Measured, MeasuredHole, MeasuredRecord, TapeSize
from fabplan.model.sequence import Sequence as Order
from fabplan.way.taped import Pattern, pattern

APART = 3.0  # mm by which a size of the body may be off before riveting (common practice)
LEAST = 3  # holes of a closing piece between which sizes were measured, for its own size to be told


def as_fitted(
    job: Job, body: Body, stacks: Stacks, order: Order | None
) -> tuple[tuple[DryFitSize, ...], tuple[Closing, ...], tuple[Finding, ...]]:
    """All sizes of the dry-fitted body, the pieces that close it, and what is found.

    Args:
        job: with its dry fits.
        body: as placed.
        stacks: its rivets, by whose numbers sizes are stated.
        order: which pieces are held back to close it, beside those that the job names.
    """
    sizes: list[DryFitSize] = []
    closings: list[Closing] = []
    found: list[Finding] = []
    held = _held_back(body, order)
    for spec in job.dry_fits:
        unknown = _unknown(spec, stacks)
        if unknown:
            found.append(unknown)
            continue
        own = list(_sizes(spec, stacks, _own_pairs(spec, stacks, held)))
        sizes += own
        found += [_told(spec, own), *_off(spec, own)]
        for i in held:
            closing, more = _closing(spec, body, stacks, i)
            closings += [closing] if closing is not None else []
            found += more
    return tuple(sizes), tuple(closings), tuple(found)


def _held_back(body: Body, order: Order | None) -> list[int]:
    """Flat plates that close the body: as the order holds them back, or as the job names them."""
    steps = order.steps if order is not None else ()
    held = {i for step in steps if step.kind == "close" for i in step.parts}
    held |= {i for i in range(len(body.instances)) if body.part_of(i).spec.closing}
    return [i for i in sorted(held) if body.part_of(i).blank is not None and len(body.part_of(i).panels) == 1]


def _at(stacks: Stacks) -> dict[str, int]:
    """The stack of each number that stands once."""
    count = Counter(stacks.number)
    return {number: k for k, number in enumerate(stacks.number) if count[number] == 1}


def _unknown(spec: DryFitSpec, stacks: Stacks) -> Finding | None:
    at = _at(stacks)
    strange = [name for one in spec.sizes for name in (one.start, one.end) if name not in at]
    if not strange:
        return None
    twice = [name for name in strange if name in stacks.number]
    why = f"the number {twice[0]} stands for several rivets" if twice else "no rivet bears this number"
    what = f"sizes of the dry fit name {', '.join(dict.fromkeys(strange))}: {why}"
    return _finding("dry-fit-unknown", what, "Name rivet holes as the inspection sheet does.", Where(), (None, None))


def _own_pairs(spec: DryFitSpec, stacks: Stacks, held: Sequence[int]) -> set[tuple[str, str]]:
    """Sizes between two holes of one closing piece: these are measured where it will lie, all others outside."""
    owned = [_holes_of(stacks, i) for i in held]
    return {(one.start, one.end) for one in spec.sizes if any(one.start in own and one.end in own for own in owned)}


def _holes_of(stacks: Stacks, instance: int) -> dict[str, int]:
    """The holes of an instance in its part, by the numbers of their rivets."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    own = np.nonzero(stacks.ply_instance == instance)[0].tolist()
    return {stacks.number[int(owner[k])]: int(stacks.ply_hole[k]) for k in own}


def _sizes(spec: DryFitSpec, stacks: Stacks, inner: set[tuple[str, str]]) -> Iterator[DryFitSize]:
    at = _at(stacks)
    faces = np.stack([stacks.head_face, stacks.point_face], axis=1)
    outer = outermost(faces, stacks.point.mean(axis=0))
    for one in spec.sizes:
        places = stacks.point if (one.start, one.end) in inner else outer
        drawn = float(np.linalg.norm(places[at[one.start]] - places[at[one.end]]))
        yield DryFitSize(one.start, one.end, drawn, one.length)


def _finding(check: str, what: str, mend: str, where: Where, figures: tuple[float | None, float | None]) -> Finding:
    row = CHECKS[check]
    return Finding(check, row.level, what, where, *figures, "mm", row.source, mend)


def _told(spec: DryFitSpec, sizes: Sequence[DryFitSize]) -> Finding:
    worst = max(sizes, key=lambda one: abs(one.found - one.drawn))
    how = "; ".join(filter(None, [spec.source, spec.doubt and f"doubt: {spec.doubt}"]))
    what = f"{len(sizes)} sizes of the dry-fitted body were measured{f' ({how})' if how else ''}; the worst, "
    what += f"{worst.start} to {worst.end}, is {worst.found:.1f} mm where {worst.drawn:.1f} are drawn"
    mend = "What closes the body follows them; see its sheet."
    return _finding("dry-fit", what, mend, Where(), (worst.found, worst.drawn))


def _off(spec: DryFitSpec, sizes: Sequence[DryFitSize]) -> Iterator[Finding]:
    for one in sizes:
        if not abs(one.found - one.drawn) <= APART + FIGURE:
            by = f" ({spec.source})" if spec.source else ""
            what = f"{one.start} to {one.end} of the dry fit measures {one.found:.1f} mm{by}, drawn are {one.drawn:.1f}"
            mend = "Square the body before a hole is reamed; what then stays off, let the closing piece take up."
            yield _finding("out-of-square", what, mend, Where(), (one.found - one.drawn, APART))


def _closing(spec: DryFitSpec, body: Body, stacks: Stacks, i: int) -> tuple[Closing | None, list[Finding]]:
    """What size a closing piece must have, where enough was measured between the holes that it goes on."""
    own, part = _holes_of(stacks, i), body.part_of(i)
    sizes = tuple(one for one in spec.sizes if one.start in own and one.end in own)
    named = list(dict.fromkeys(name for one in sizes for name in (one.start, one.end)))
    if len(named) < LEAST or part.blank is None or part.blank.outline is None:
        return None, []
    holes = np.array([own[name] for name in named], dtype=np.int64)
    drawn = part.blank.holes.xy[holes]
    numbers = [part.blank.holes.number[k] for k in holes.tolist()]
    by = dict(zip(named, numbers, strict=True))
    tape = tuple(TapeSize(by[one.start], by[one.end], one.length) for one in sizes)
    measured = Measured(
        holes=tuple(map(MeasuredHole, numbers)), accuracy=spec.accuracy, source=spec.source, doubt=spec.doubt, tape=tape
    )
    mark, where = body.instances[i].mark, Where(part=body.instances[i].mark)
    found = pattern(measured, drawn)
    if found.trouble is not None:
        check, what, figure, limit, mend = found.trouble
        return None, [_finding(check, f"opening for {mark}: {what}", mend, where, (figure, limit))]
    closing = _made(mark, numbers, drawn, found, tape, flattened(part.blank.outline, SAGITTA))
    worst = float(np.linalg.norm(closing.record.off, axis=1).max())
    return closing, [] if worst <= spec.accuracy + FIGURE else [_resized(closing, where, worst, spec)]


def _made(
    mark: str, numbers: Sequence[str], drawn: FloatArray, found: Pattern, tape: tuple[TapeSize, ...], edge: FloatArray
) -> Closing:
    laid = laid_over(found.xy, drawn)
    record = MeasuredRecord(
        mark, tuple(numbers), drawn, laid, np.full((len(drawn), 2), np.nan), True, (), tape, found.by_tape, found.proved
    )
    at = {number: k for k, number in enumerate(numbers)}
    pairs: IntArray = np.array([[at[one.start], at[one.end]] for one in tape], dtype=np.int64)
    old, new = (np.linalg.norm(xy[pairs[:, 1]] - xy[pairs[:, 0]], axis=1) for xy in (drawn, laid))
    sides = tuple(DryFitSize(one.start, one.end, float(a), float(b)) for one, a, b in zip(tape, old, new, strict=True))
    nearest = np.linalg.norm(edge[:, None] - drawn[None], axis=2).argmin(axis=1)
    before, after = np.ptp(edge, axis=0), np.ptp(edge + record.off[nearest], axis=0)
    return Closing(mark, record, sides, (float(before[0]), float(before[1])), (float(after[0]), float(after[1])))


def _resized(closing: Closing, where: Where, worst: float, spec: DryFitSpec) -> Finding:
    (x0, y0), (x1, y1) = closing.drawn, closing.must
    what = (
        f"{closing.instance} must be {x1:.1f} x {y1:.1f} mm over all to close the body as it stands, drawn are "
        f"{x0:.1f} x {y0:.1f}: {x1 - x0:+.1f} along x, {y1 - y0:+.1f} along y; its holes move by up to {worst:.1f} mm"
    )
    mend = "Cut it, or drill it from its mates, by the sheet of the dry fit; then draw it so."
    return _finding("closing-size", what, mend, where, (worst, spec.accuracy))
