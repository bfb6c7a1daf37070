"""The body as it stands bolted together: what its sizes are off, and what size the piece must have that closes it."""

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.geom.outermost import outermost
from fabplan.geom.tolerance import FIGURE
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.dry_fit import Closing, DryFitSize, DryFitSpec
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.sequence import Sequence as Order
from fabplan.way.closing import closed, holes_of

APART = 3.0  # mm by which a size of the body may be off before riveting (common practice)


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
    held, openings = _held_back(body, order), _openings(stacks, order)
    for spec in job.dry_fits:
        unknown = _unknown(spec, stacks)
        if unknown:
            found.append(unknown)
            continue
        own = list(
            _sizes(
                spec,
                stacks,
                _own_pairs(spec, [*(set(holes_of(stacks, i)) for i in held), *(one for _, one in openings)]),
            )
        )
        sizes += own
        found += [_told(spec, own), *_off(spec, own)]
        for i in held:
            closing, more = closed(spec, body, stacks, i)
            closings += [closing] if closing is not None else []
            found += more
        bare = [i for i in held if body.part_of(i).blank is not None and not _measured(spec, set(holes_of(stacks, i)))]
        for group, names in openings:
            plates = {i for i in group if body.part_of(i).blank is not None}
            if plates and plates <= set(bare) and _measured(spec, names):
                found.append(_carried(body, plates, group))
                bare = [i for i in bare if i not in plates]
        found += [_bare(body, bare)] if bare else []
    return tuple(sizes), tuple(closings), tuple(found)


def _measured(spec: DryFitSpec, own: set[str]) -> bool:
    """Whether a size between two of these holes was measured."""
    return any(one.start in own and one.end in own for one in spec.sizes)


def _bare(body: Body, pieces: Sequence[int]) -> Finding:
    marks = [body.instances[i].mark for i in pieces]
    what = f"no size is told of {', '.join(marks)}, held back to close the body: none between two of "
    what += f"{'its' if len(marks) == 1 else 'their'} holes was measured"
    mend = "What to measure for them stands in the steps of the inspection plan that close the body."
    return _finding("dry-fit", what, mend, Where(part=marks[0]), (None, None))


def _carried(body: Body, pieces: set[int], group: set[int]) -> Finding:
    """Pieces that meet the body by others alone, which come in with them: their own size follows from none measured."""
    names = ", ".join(body.instances[i].mark for i in sorted(pieces))
    others = ", ".join(body.instances[i].mark for i in sorted(group - pieces))
    what = f"no size is told of {names}: what was measured lies between holes of {others}, which come in with it"
    mend = "Lay what comes in out together by the sizes found, and drill it so."
    return _finding("dry-fit", what, mend, Where(part=body.instances[min(pieces)].mark), (None, None))


def _openings(stacks: Stacks, order: Order | None) -> list[tuple[set[int], set[str]]]:
    """Of each step that closes the body the pieces that come in, and the numbers of the holes by which they join it."""
    owner, found = np.repeat(np.arange(len(stacks)), np.diff(stacks.first)), []
    for step in order.steps if order is not None else ():
        if step.kind == "close":
            comes = np.isin(stacks.ply_instance, step.parts)
            joins = np.intersect1d(owner[comes], owner[~comes]).tolist()
            found.append((set(step.parts), {stacks.number[k] for k in joins}))
    return found


def _held_back(body: Body, order: Order | None) -> list[int]:
    """Pieces that close the body: as the order holds them back, or as the job names them."""
    steps = order.steps if order is not None else ()
    held = {i for step in steps if step.kind == "close" for i in step.parts}
    held |= {i for i in range(len(body.instances)) if body.part_of(i).spec.closing}
    return sorted(held)


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


def _own_pairs(spec: DryFitSpec, owned: Sequence[set[str]]) -> set[tuple[str, str]]:
    """Sizes between two holes of one piece or opening: these are measured where it will lie, all others outside."""
    return {(one.start, one.end) for one in spec.sizes if any(one.start in own and one.end in own for own in owned)}


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
    many = "1 size" if len(sizes) == 1 else f"{len(sizes)} sizes"
    what = f"{many} of the dry-fitted body as measured{f' ({how})' if how else ''}; the worst, "
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
