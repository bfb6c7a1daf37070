"""What the put-together body tells: holes without mates, misfits, plies apart, metal in the way, pieces that clash."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.body.found import count_of, finding, flat, point, some
from fabplan.body.heads import check_heads
from fabplan.body.place import OPEN, Placing
from fabplan.body.rows import out_of_line
from fabplan.body.seams import check_seams, closes
from fabplan.body.stacks import BodyHoles
from fabplan.geom.pose import to_own
from fabplan.geom.prism import clash, reaches, solid
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.job import Job
from fabplan.model.part import Part
from fabplan.model.pose import Pose

ROW = 3
"""Rivets that must be out alike before their row is spoken of."""

ALIKE = 0.3
"""Offsets of a row that differ by no more than this, mm, are one and the same."""


def check_body(job: Job, placing: Placing, holes: BodyHoles, stacks: Stacks) -> tuple[Finding, ...]:
    """All findings about the body, in the order of the table of checks."""
    body = placing.body
    of_seams, explained = check_seams(job, placing)
    found = [
        *_not_placed(body),
        *_two_bodies(placing),
        *_faces(body, job.datum if placing.datum_mirrored else ""),
        *_datum(job, placing),
        *check_heads(job, placing, explained),
        *of_seams,
        *_no_mate(body, holes, stacks, explained),
        *_misfits(job, body, stacks, explained),
        *_metal_in_the_way(job, body, stacks),
        *_clashes(body),
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


def usable_clearance(job: Job, rivet: int, hole: float) -> float:
    """How far two holes of one rivet may be out before it no longer passes, mm.

    Smallest hole as cut, less the rivet, fatter when hot (ISO 9013 class 1 deviation and 1.2 % growth, the latter
    from memory; both are settings of the shop).
    """
    spec = job.rivets[rivet]
    growth = 1.0 + (job.shop.hot_growth if spec.closing == "hot" else 0.0)
    return hole - job.shop.cutting_deviation - spec.diameter * growth


def _not_placed(body: Body) -> Iterator[Finding]:
    """Pieces without a pose, and a datum or stated place without metal: it holds nothing."""
    hang = "Name a seam with two holes or more that joins it to a placed piece, or state a [[place]] for it."
    for instance, pose, reason in zip(body.instances, body.poses, body.reasons, strict=True):
        part = body.parts[instance.part]
        if pose is None or not part.panels:
            why, mend = (reason, hang) if part.panels else _formless(part)
            yield finding(
                "not-placed",
                f"{instance.mark} could not be placed: {why}",
                mend,
                Where(part=instance.mark),
            )


def _formless(part: Part) -> tuple[str, str]:
    """Why the form of a piece is not known, and how to mend it."""
    if part.trouble:
        return "it cannot be formed as stated", "Mend what its finding cannot-form says."
    if part.section is not None:
        return "its length is not stated", "State `length`."
    if part.blank is None or part.blank.outline is None:
        return "its drawing gives no closed outline", "Mend the drawing; its own findings say where."
    return "its thickness is not stated", "State `thickness`."


def _two_bodies(placing: Placing) -> Iterator[Finding]:
    if placing.others and placing.faults < OPEN:  # a kit that does not close has no second body
        marks = ", ".join(placing.others)
        yield finding(
            "two-bodies",
            f"the kit fits together equally well in more than one way: {marks} can also stand elsewhere",
            'State marked = "inside" or "outside" on the piece, head = "inside" or "outside" on its seam, '
            "or a [[place]]; pieces that follow it need nothing.",
            Where(part=placing.others[0]),
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
            "Move the hole, drill its mate, or give it a stated purpose (BOLT or an opening on the cut layer).",
            where,
            measured=len(members),
            required=0,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Strayed:
    """A stack whose holes are out by more than its rivet allows: the ply that is most out, and by how much, mm."""

    stack: int
    ply: int
    out: FloatArray
    allowed: float


def _misfits(job: Job, body: Body, stacks: Stacks, explained: set[tuple[int, int]]) -> Iterator[Finding]:
    """Stacks whose holes are out by more than the rivet allows, those of one row that are out alike told once."""
    groups: dict[tuple[int, int], list[_Strayed]] = {}
    for one in _strayed(job, body, stacks, explained):
        groups.setdefault((int(stacks.seam[one.stack]), int(stacks.ply_instance[one.ply])), []).append(one)
    for own in groups.values():
        out = np.array([one.out for one in own])
        alike = len(own) >= ROW and np.abs(out - np.median(out, axis=0)).max() <= ALIKE
        yield from (_misfit(job, body, stacks, some) for some in ([own] if alike else [[one] for one in own]))


def _strayed(job: Job, body: Body, stacks: Stacks, explained: set[tuple[int, int]]) -> Iterator[_Strayed]:
    for i in np.nonzero(stacks.rivet >= 0)[0].tolist():
        plies = slice(int(stacks.first[i]), int(stacks.first[i + 1]))
        pairs = zip(stacks.ply_instance[plies].tolist(), stacks.ply_hole[plies].tolist(), strict=True)
        if not explained.isdisjoint(pairs):
            continue
        allowed = usable_clearance(job, int(stacks.rivet[i]), float(_ply_diameters(body, stacks, i).min()))
        if not stacks.misfit[i] <= allowed + FIGURE:
            worst = _most_out(body, stacks, i)
            yield _Strayed(i, worst, _from_others(stacks, i, worst), allowed)


def _misfit(job: Job, body: Body, stacks: Stacks, own: list[_Strayed]) -> Finding:
    """One hole that is out, or a row of them that are out alike."""
    first = own[0]
    instance, holes = int(stacks.ply_instance[first.ply]), [int(stacks.ply_hole[one.ply]) for one in own]
    part, mark = body.part_of(instance), body.instances[instance].mark
    numbers = tuple(part.holes.holes.number[hole] for hole in holes)
    worst = max(float(stacks.misfit[one.stack]) for one in own)
    seam = job.seams[int(stacks.seam[first.stack])].mark
    if len(own) == 1:
        who = f"rivet {stacks.number[first.stack]}"
        look, mend = (
            f"hole {numbers[0]}",
            f"Move the hole by {np.linalg.norm(first.out):.2f} mm or draw it smaller and ream in place.",
        )
    else:
        who = f"{len(own)} rivets of seam {seam}, all alike"
        look = f"row {part.holes.holes.row[holes[0]] or numbers[0]}"
        mend = "One of the rows is set out from a wrong point: look at its end distances and back mark."
    return finding(
        "misfit",
        f"{who}: holes out by {worst:.2f} mm, usable clearance {first.allowed:.2f} mm; look first at {look} of {mark}",
        mend,
        Where(
            drawing=part.spec.drawing,
            part=mark,
            seam=seam,
            holes=numbers,
            xy=flat(part.holes.holes.xy[holes[0]]),
            point=point(stacks.point[first.stack]),
        ),
        measured=worst,
        required=first.allowed,
        source="ISO 9013 class 1 cutting deviation; growth of a hot rivet 1.2 % from memory",
    )


def _from_others(stacks: Stacks, i: int, worst: int) -> FloatArray:
    """(3,) mm, how far the hole of one ply lies from the middle of the holes of the others."""
    others = [k for k in range(int(stacks.first[i]), int(stacks.first[i + 1])) if k != worst]
    away: FloatArray = stacks.ply_offset[worst] - stacks.ply_offset[others].mean(axis=0)
    return away


def _ply_diameters(body: Body, stacks: Stacks, i: int) -> FloatArray:
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    return np.array(
        [body.part_of(int(stacks.ply_instance[k])).holes.holes.diameter[int(stacks.ply_hole[k])] for k in plies]
    )


def _most_out(body: Body, stacks: Stacks, i: int) -> int:
    """The ply whose hole strays most from the pitch and line of its own row: the other plies' rows run true there."""
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    stray = [out_of_line(body.part_of(int(stacks.ply_instance[k])).holes, int(stacks.ply_hole[k])) for k in plies]
    length = np.linalg.norm(stacks.ply_offset[plies.start : plies.stop], axis=1)
    return max(plies, key=lambda k: (round(stray[k - plies.start], 3), round(float(length[k - plies.start]), 6), -k))


def _metal_in_the_way(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Panels in the way of a rivet's shank, touching its plies, that have no hole there."""
    own = _own_panels(body, stacks)
    blind: dict[tuple[int, int], list[int]] = {}
    for instance, pose in enumerate(body.poses):
        if pose is None:
            continue
        for panel in range(len(body.part_of(instance).panels)):
            for i in _pierced(body, stacks, instance, pose, panel).tolist():
                if (i, instance, panel) not in own:
                    blind.setdefault((instance, int(stacks.seam[i])), []).append(i)
    for (instance, seam), rivets in blind.items():
        mark = job.seams[seam].mark if seam >= 0 else ""
        part = body.part_of(instance)
        at = to_own(_placed(body, instance), stacks.point[rivets[0]])
        yield finding(
            "no-hole",
            f"{body.instances[instance].mark} lies in the way of {count_of(len(rivets), 'rivet')} of seam "
            f"{mark or '(none)'} and has no hole there: {some([stacks.number[i] for i in rivets])}",
            "Drill the hole, or cut the piece back clear of the row.",
            Where(
                drawing=part.spec.drawing,
                part=body.instances[instance].mark,
                seam=mark,
                holes=tuple(stacks.number[i] for i in rivets),
                xy=flat(at) if part.blank is not None else None,
                point=point(stacks.point[rivets[0]]),
            ),
            measured=len(rivets),
            required=0,
        )


def _placed(body: Body, instance: int) -> Pose:
    pose = body.poses[instance]
    assert pose is not None, "only placed pieces have stacks"
    return pose


def _own_panels(body: Body, stacks: Stacks) -> set[tuple[int, int, int]]:
    """(stack, instance, panel) of all plies, and of the facets beside a ply that is one: they are the same plate."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    own = set(zip(owner.tolist(), stacks.ply_instance.tolist(), stacks.ply_panel.tolist(), strict=True))
    round_ones = {
        (stack, instance): [k for k, one in enumerate(body.part_of(instance).panels) if one.kind != "flat"]
        for stack, instance, panel in own
        if body.part_of(instance).panels[panel].kind != "flat"
    }
    return own | {(stack, instance, k) for (stack, instance), facets in round_ones.items() for k in facets}


def _pierced(body: Body, stacks: Stacks, instance: int, pose: Pose, panel: int) -> IntArray:
    """Indices of stacks whose shank meets the metal of a panel that touches or overlaps their plies."""
    if len(stacks) == 0:
        return np.zeros(0, dtype=np.int64)
    part = body.part_of(instance)
    metal = solid(part.panels[panel], pose)
    head, point = to_own(metal.frame, stacks.head_face), to_own(metal.frame, stacks.point_face)
    upright = np.hypot(*(point - head)[:, :2].T) <= 0.02 * np.abs(point - head)[:, 2]
    low, high = np.minimum(head[:, 2], point[:, 2]), np.maximum(head[:, 2], point[:, 2])
    touches = upright & (high >= -metal.thickness - TOUCH) & (low <= TOUCH)
    index = np.nonzero(touches)[0]
    own = part.holes.panel == panel
    xy = head[index, :2]
    inside = reaches(metal.face, xy, stacks.diameter[index] / 2.0)
    if own.any():
        apart = np.linalg.norm(xy[:, None, :] - part.holes.holes.xy[own][None, :, :], axis=2)
        inside &= ~np.any(apart <= part.holes.holes.diameter[own][None, :] / 2.0, axis=1)
    return index[inside]


def _clashes(body: Body) -> Iterator[Finding]:
    solids = [
        (i, solid(panel, pose))
        for i, pose in enumerate(body.poses)
        if pose is not None
        for panel in body.part_of(i).panels
    ]
    still = Pose()
    seen: set[tuple[int, int]] = set()
    for k, (one, first) in enumerate(solids):
        for other, second in solids[k + 1 :]:
            if one != other and (one, other) not in seen and clash(first, still, second, still):
                seen.add((one, other))
                yield finding(
                    "plates-clash",
                    f"{body.instances[one].mark} and {body.instances[other].mark} run into one another",
                    "Cut one of them back, or look at thickness, length and place of both.",
                    Where(part=body.instances[other].mark, point=point(second.middle)),
                )


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
        sizes = _ply_diameters(body, stacks, i)
        if np.ptp(sizes) > FIGURE:
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
        sizes = _ply_diameters(body, stacks, rivets[0])
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
