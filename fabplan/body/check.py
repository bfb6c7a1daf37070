"""What the put-together body tells: holes without mates, misfits, plies apart, metal in the way, pieces that clash."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.body.fittings import check_fittings
from fabplan.body.formless import why_formless
from fabplan.body.found import count_of, finding, flat, point, some
from fabplan.body.heads import check_heads
from fabplan.body.joint import Joint
from fabplan.body.metal import check_metal
from fabplan.body.misfit import check_misfits
from fabplan.body.place import OPEN, Placing
from fabplan.body.roots import check_roots
from fabplan.body.seams import check_seams, closes, holes_of
from fabplan.body.stacks import BodyHoles
from fabplan.body.tapers import check_tapers
from fabplan.body.template import to_be_taken
from fabplan.body.twice import check_twice
from fabplan.geom.prism import Solid, clash, thick
from fabplan.geom.tolerance import CLASH, FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.clearance import LATER, ply_states, usable_clearance
from fabplan.model.dummies import dummies
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.job import Job
from fabplan.model.plugs import left_open
from fabplan.model.pose import Pose


def check_body(job: Job, placing: Placing, holes: BodyHoles, stacks: Stacks, named: str = "") -> tuple[Finding, ...]:
    """All findings about the body, in the order of the table of checks; `named` is the mark that a cause names."""
    body = placing.body
    of_seams, joints = check_seams(job, placing, named)
    explained = holes_of(joints) | to_be_taken(job, body, holes, stacks) | dummies(job, body)
    explained |= {hole for own in left_open(job, body, stacks).values() for hole in own}
    found = [
        *_not_placed(body),
        *_two_bodies(placing),
        *_faces(body, job.datum if placing.datum_mirrored else ""),
        *_datum(job, placing),
        *check_heads(job, placing, explained),
        *of_seams,
        *_no_mate(body, holes, stacks, explained),
        *check_misfits(job, body, stacks, explained, named),
        *check_metal(job, body, stacks),
        *_clashes(job, body, joints),
        *check_tapers(job, body, stacks),
        *check_roots(body),
        *check_twice(job, body, stacks),
        *check_fittings(job, body, stacks),
        *_plies(job, body, holes, stacks),
    ]
    if placing.faults and not closes(placing) and all(one.level is Level.NOTE for one in found):
        found.append(_doubtful(placing))
    order = list(CHECKS)
    return tuple(sorted(found, key=lambda one: order.index(one.check)))


def _doubtful(placing: Placing) -> Finding:
    """The search counted faults, and no check names one: said rather than passed over."""
    return finding(
        "body-doubtful",
        f"the kit closes only with {count_of(placing.faults, 'fault')} that no other check names",
        "Look at `marked`, `head` and the order of the plies of each seam; state a [[place]] where in doubt.",
        Where(),
        measured=placing.faults,
        required=0,
    )


def _not_placed(body: Body) -> Iterator[Finding]:
    """Pieces without a pose, and a datum or stated place without metal: it holds nothing."""
    hang = "Name a seam with two holes or more that joins it to a placed piece, or state a [[place]] for it."
    for instance, pose, reason in zip(body.instances, body.poses, body.reasons, strict=True):
        part = body.parts[instance.part]
        if not part.spec.formed and (pose is None or not part.panels):
            why, mend = (reason, hang) if part.panels else why_formless(part)
            yield finding(
                "not-placed",
                f"{instance.mark} could not be placed: {why.removeprefix('not placed: ')}",
                mend,
                Where(part=instance.mark),
            )


def _two_bodies(placing: Placing) -> Iterator[Finding]:
    doubt = placing.doubt
    if doubt is not None and placing.faults < OPEN:  # a kit that does not close has no second body
        first, *rest = doubt.marks
        follow = f", and with it {', '.join(rest)}" if rest else ""
        yield finding(
            "two-bodies",
            f"the kit fits together equally well in more than one way: {first} can also stand "
            f"{' or '.join(doubt.ways) or 'elsewhere'}{follow}",
            f"Settle it by {'; or by '.join(doubt.cures)}. Pieces that follow need nothing.",
            Where(part=first),
        )


def _faces(body: Body, told: str) -> Iterator[Finding]:
    """Pieces whose marked face looks elsewhere than stated, but for the one that is `told` already."""
    for index, instance in enumerate(body.instances):
        part, found = body.part_of(index), body.marked[index]
        stated = part.spec.marked
        if not stated or not found or stated == found or instance.mark == told:
            continue
        explicit = body.reasons[index].startswith("placed as the job states")
        check = "marked-face" if explicit or part.section else "plate-mirrored"
        yield finding(
            check,
            f"the marked face of {instance.mark} looks {found}, the job states {stated}: "
            "the piece fits only turned over",
            "Mirror the drawing, or correct `marked` in the job.",
            Where(part=instance.mark, drawing=part.spec.drawing),
            source="the job file",
        )


def _datum(job: Job, placing: Placing) -> Iterator[Finding]:
    if placing.datum_mirrored:
        yield finding(
            "plate-mirrored",
            f"the kit fits together only if the datum {job.datum} were of the other hand, or its marked face looked "
            "the other way",
            "Mirror the drawing of the datum, or correct its `marked` (unstated it looks inside).",
            Where(part=job.datum),
        )
    elif placing.upside_down:
        yield finding(
            "marked-face",
            f"the body stands on that side of the datum {job.datum} which should look outside",
            "Mirror the drawing of the datum, or state on it where its marked face looks.",
            Where(part=job.datum),
            source="the job file",
        )


def _no_mate(body: Body, holes: BodyHoles, stacks: Stacks, explained: set[tuple[int, int]]) -> Iterator[Finding]:
    """Holes in no stack, unless a graver finding explains them."""
    taken = explained | set(zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True))
    lone: dict[tuple[int, str], list[int]] = {}
    for i in np.nonzero(~holes.open)[0].tolist():
        key = (int(holes.instance[i]), int(holes.hole[i]))
        if key not in taken:
            row = body.part_of(key[0]).holes.holes.row[key[1]]
            lone.setdefault((key[0], row), []).append(i)
    for (instance, row), members in lone.items():
        part = body.part_of(instance)
        numbers = tuple(part.holes.holes.number[holes.hole[i]] for i in members)
        first = int(holes.hole[members[0]])
        where = Where(
            drawing=part.spec.drawing,
            part=body.instances[instance].mark,
            holes=numbers,
            xy=flat(part.holes.holes.xy[first]),
            point=point(holes.marked[members[0]]),
        )
        yield finding(
            "no-mate",
            f"{body.instances[instance].mark}: {count_of(len(members), 'hole')} of row {row or '(none)'} "
            f"{'has' if len(members) == 1 else 'have'} no hole behind",
            "Move the hole, drill its mate, or draw it as an opening on the cut layer where nothing is to pass.",
            where,
            measured=len(members),
            required=0,
        )


def _clashes(job: Job, body: Body, explained: list[Joint]) -> Iterator[Finding]:
    """Pieces that pass through each other, but for those told already to lie into one another at their seam.

    Pieces that rivets hold can give way by what their holes allow: an overlap within that is a note.
    """
    still, play = Pose(), CLASH + _play(job)
    pairs = [(joint.link.a, joint.link.b) for joint in explained if joint.found.gap < 0.0]
    seen = {(min(pair), max(pair)) for pair in pairs}
    slight: dict[tuple[int, int], Solid] = {}
    for one, other, first, second in _near(body):
        if (one, other) in seen or not clash(first, still, second, still):
            continue
        if clash(first, still, second, still, play):
            seen.add((one, other))
            yield _clash(body, (one, other), second, None)
        else:
            slight.setdefault((one, other), second)
    for pair, second in slight.items():
        if pair not in seen:
            yield _clash(body, pair, second, play)


def _play(job: Job) -> float:
    """What the holes of the job's rivets allow, mm: the largest usable clearance."""
    return max((max(usable_clearance(job, i, one.hole), 0.0) for i, one in enumerate(job.rivets)), default=0.0)


def _near(body: Body) -> Iterator[tuple[int, int, Solid, Solid]]:
    """Panels of unlike pieces whose boxes in the body meet, with their instances, in order."""
    solids = [
        (i, thick(panel, pose))
        for i, pose in enumerate(body.poses)
        if pose is not None
        for panel in body.part_of(i).panels
    ]
    low = np.array([one.corners.min(axis=0) for _, one in solids]).reshape(-1, 3)
    high = np.array([one.corners.max(axis=0) for _, one in solids]).reshape(-1, 3)
    for k, (one, first) in enumerate(solids):
        meet = np.all((low < high[k]) & (low[k] < high), axis=1)
        for m in (np.nonzero(meet[k + 1 :])[0] + k + 1).tolist():
            other, second = solids[m]
            if one != other:
                yield one, other, first, second


def _clash(body: Body, pair: tuple[int, int], second: Solid, play: float | None) -> Finding:
    """Two pieces that run into one another; by no more than `play` mm where that is stated."""
    one, other = (body.instances[i].mark for i in pair)
    told = finding(
        "plates-clash",
        f"{one} and {other} run into one another"
        + (f" by less than the {play:.2f} mm that holes allow" if play else ""),
        "Cut one of them back, set or thin its corner where three plies meet (`joggles`, `tapers`), or look at "
        "thickness, length and place of both.",
        Where(part=other, point=point(second.middle)),
    )
    return replace(told, level=Level.NOTE, mend="Ease the edge when the body is bolted up.") if play else told


def _plies(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> Iterator[Finding]:
    """Unlisted plies, stacks that no seam claims, holes of unlike size."""
    unlisted: dict[tuple[int, int], list[str]] = {}
    unlike: dict[int, list[int]] = {}
    for i in range(len(stacks)):
        plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
        if stacks.seam[i] >= 0:
            for k in plies:
                if not stacks.ply_listed[k]:
                    unlisted.setdefault((int(stacks.seam[i]), int(stacks.ply_instance[k])), []).append(stacks.number[i])
        if np.ptp(_stay(job, body, stacks, i)) > FIGURE:
            unlike.setdefault(int(stacks.seam[i]), []).append(i)
    for (seam, instance), numbers in unlisted.items():
        yield finding(
            "unlisted-ply",
            f"seam {job.seams[seam].mark}: {body.instances[instance].mark} joins the stack of "
            f"{count_of(len(numbers), 'rivet')} without being listed: {some(numbers)}",
            "Nothing to mend where it is meant; the grip counts it.",
            Where(seam=job.seams[seam].mark, part=body.instances[instance].mark, holes=tuple(numbers)),
        )
    for seam, rivets in unlike.items():
        sizes = _stay(job, body, stacks, rivets[0])
        mark = job.seams[seam].mark if seam >= 0 else "(none)"
        yield finding(
            "hole-sizes-differ",
            f"seam {mark}: {count_of(len(rivets), 'rivet')} through holes of {sizes.min():g} and {sizes.max():g} mm",
            "Give all plies the hole of the rivet, or state the state of the holes.",
            Where(seam=mark, holes=tuple(stacks.number[i] for i in rivets), point=point(stacks.point[rivets[0]])),
            measured=float(sizes.max()),
            required=float(sizes.min()),
        )
    free = np.nonzero(stacks.seam < 0)[0].tolist()
    if free:
        yield finding(
            "unclaimed-stack",
            f"{count_of(len(free), 'stack')} of holes that no seam claims",
            "Name their rows in a [[seam]].",
            Where(
                point=point(stacks.point[free[0]]),
                part=body.instances[int(stacks.ply_instance[stacks.first[free[0]]])].mark,
            ),
            measured=len(free),
            required=0,
        )


def _stay(job: Job, body: Body, stacks: Stacks, i: int) -> FloatArray:
    """Diameters of the holes of a stack that stay as they are drawn, mm; one at least."""
    plies = ply_states(job, body, stacks, i)
    return np.array([size for state, size in plies if state not in LATER] or [0.0])
