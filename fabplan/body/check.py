"""What the put-together body tells: holes without mates, misfits, plies apart, metal in the way, pieces that clash."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.body.fit import Fit, fit, touching
from fabplan.body.place import Placing
from fabplan.body.rows import FIT, Link
from fabplan.body.stacks import BodyHoles
from fabplan.geom.pose import to_own
from fabplan.geom.prism import clash, contains, solid
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.pose import Pose

GEOMETRY = "geometry of the body as put together"


def check_body(job: Job, placing: Placing, holes: BodyHoles, stacks: Stacks) -> tuple[Finding, ...]:
    """All findings about the body, in the order of the table of checks."""
    body = placing.body
    found = [
        *_not_placed(body),
        *_two_bodies(placing),
        *_faces(body),
        *_seams(job, placing),
        *_no_mate(body, holes, stacks),
        *_misfits(job, body, stacks),
        *_metal_in_the_way(job, body, stacks),
        *_clashes(body),
        *_plies(job, body, holes, stacks),
    ]
    order = list(CHECKS)
    return tuple(sorted(found, key=lambda finding: order.index(finding.check)))


def usable_clearance(job: Job, rivet: int, hole: float) -> float:
    """How far two holes of one rivet may be out before it no longer passes, mm.

    Smallest hole as cut, less the rivet, fatter when hot (ISO 9013 class 1 deviation and 1.2 % growth, the latter
    from memory; both are settings of the shop).
    """
    spec = job.rivets[rivet]
    growth = 1.0 + (job.shop.hot_growth if spec.closing == "hot" else 0.0)
    return hole - job.shop.cutting_deviation - spec.diameter * growth


def _finding(check: str, what: str, mend: str, where: Where, **figures: float | str) -> Finding:
    source = str(figures.pop("source", GEOMETRY))
    numbers = {name: float(value) for name, value in figures.items()}
    return Finding(
        check,
        CHECKS[check].level,
        what,
        where,
        numbers.get("measured"),
        numbers.get("required"),
        source=source,
        mend=mend,
    )


def _not_placed(body: Body) -> Iterator[Finding]:
    for instance, pose, reason in zip(body.instances, body.poses, body.reasons, strict=True):
        part = body.parts[instance.part]
        if pose is None:
            why = "its form is not known" if not part.panels else reason
            yield _finding(
                "not-placed",
                f"{instance.mark} could not be placed: {why}",
                "Name a seam with two holes or more that joins it to a placed piece, or state a [[place]] for it.",
                Where(part=instance.mark),
            )


def _two_bodies(placing: Placing) -> Iterator[Finding]:
    if placing.others:
        marks = ", ".join(placing.others)
        yield _finding(
            "two-bodies",
            f"the kit fits together equally well in more than one way: {marks} can also stand elsewhere",
            'State marked = "inside" or "outside" on the piece, head = "inside" or "outside" on its seam, '
            "or a [[place]]; pieces that follow it need nothing.",
            Where(part=placing.others[0]),
        )


def _faces(body: Body) -> Iterator[Finding]:
    for index, instance in enumerate(body.instances):
        part, found = body.part_of(index), body.marked[index]
        stated = part.spec.marked
        if not stated or not found or stated == found:
            continue
        explicit = body.reasons[index].startswith("placed as the job states")
        check = "marked-face" if explicit or part.section else "plate-mirrored"
        yield _finding(
            check,
            f"the marked face of {instance.mark} looks {found}, the job states {stated}: "
            "the piece fits only turned over",
            "Mirror the drawing, or correct `marked` in the job.",
            Where(part=instance.mark, drawing=part.spec.drawing),
            source="the job file",
        )


def _seams(job: Job, placing: Placing) -> Iterator[Finding]:
    """Counts that differ, rows that lie elsewhere, plies whose faces do not touch."""
    for link in placing.links:
        pose_a, pose_b = placing.body.poses[link.a], placing.body.poses[link.b]
        if pose_a is None or pose_b is None:
            continue
        found = fit(link, pose_a, pose_b)
        points = touching(link, found, pose_a, pose_b)
        yield from _count(job, placing.body, link)
        yield from _row_elsewhere(job, placing.body, link, found, points)
        yield from _apart(job, placing.body, link, found, points[0])


def _both(body: Body, link: Link) -> str:
    return f"{body.instances[link.a].mark} and {body.instances[link.b].mark}"


def _count(job: Job, body: Body, link: Link) -> Iterator[Finding]:
    one, other = len(link.row_a.holes), len(link.row_b.holes)
    if one != other:
        yield _finding(
            "count-differs",
            f"seam {job.seams[link.seam].mark}: {body.instances[link.a].mark} has {one} holes, "
            f"{body.instances[link.b].mark} has {other}",
            "Give both plies the same holes, or name the rows apart where the seam ends.",
            Where(seam=job.seams[link.seam].mark, part=body.instances[link.b].mark),
            measured=other,
            required=one,
        )


def _row_elsewhere(
    job: Job, body: Body, link: Link, found: Fit, points: tuple[FloatArray, FloatArray]
) -> Iterator[Finding]:
    """A row of which fewer than half the holes lie on their mates: said why, where the reason can be seen."""
    together = len(found.mate_a)
    if together * 2 >= found.count or len(link.row_a.holes) != len(link.row_b.holes):
        return
    mark = job.seams[link.seam].mark
    where = Where(seam=mark, part=body.instances[link.b].mark)
    if _turned_end_for_end(found, *points):
        yield _finding(
            "strip-reversed",
            f"seam {mark}: the rows of {_both(body, link)} would meet if one were turned end for end "
            f"({together} of {found.count} holes meet now)",
            "Look which end the row was measured from; an equal end distance at both ends would let it turn.",
            where,
            measured=together,
            required=found.count,
        )


def _turned_end_for_end(found: Fit, points_a: FloatArray, points_b: FloatArray) -> bool:
    """True where row b, reflected about its own middle, falls on row a."""
    middle = points_b.mean(axis=0)
    spread = points_b - middle
    along = np.linalg.svd(spread, full_matrices=False)[2][0]
    reflected = points_b - 2.0 * np.outer(spread @ along, along)
    reflected = reflected + (points_a.mean(axis=0) - reflected.mean(axis=0)) @ np.outer(along, along)
    apart = np.linalg.norm(_across(points_a, found)[:, None] - _across(reflected, found)[None], axis=2)
    return bool(np.mean(apart.min(axis=0) <= FIT) > 0.9)


def _across(points: FloatArray, found: Fit) -> FloatArray:
    flat: FloatArray = points - np.outer(points @ found.towards, found.towards)
    return flat


def _apart(job: Job, body: Body, link: Link, found: Fit, points: FloatArray) -> Iterator[Finding]:
    if not (abs(found.gap) <= TOUCH + FIGURE) and 2 * len(found.mate_a) >= found.count:
        mark = job.seams[link.seam].mark
        gap = f"{found.gap:.1f} mm apart" if found.gap > 0.0 else f"{-found.gap:.1f} mm into one another"
        yield _finding(
            "plies-apart",
            f"seam {mark}: the faces of {_both(body, link)} are {gap}"
            if np.isfinite(found.gap)
            else f"seam {mark}: the faces of {_both(body, link)} are not parallel",
            "Look at the thickness of both plies and of what lies between; a packing is a part of the kit.",
            Where(seam=mark, part=body.instances[link.b].mark, point=_point(points.mean(axis=0))),
            measured=found.gap,
            required=0.0,
        )


def _point(xyz: FloatArray) -> tuple[float, float, float]:
    return float(xyz[0]), float(xyz[1]), float(xyz[2])


def _no_mate(body: Body, holes: BodyHoles, stacks: Stacks) -> Iterator[Finding]:
    taken = set(zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True))
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
            xy=_flat(part.holes.holes.xy[first]),
            point=_point(holes.marked[members[0]]),
        )
        yield _finding(
            "no-mate",
            f"{body.instances[instance].mark}: {_count_of(len(members), 'hole')} of row {row or '(none)'} "
            f"{'has' if len(members) == 1 else 'have'} no hole behind",
            "Move the hole, drill its mate, or give it a stated purpose (BOLT or an opening on the cut layer).",
            where,
            measured=len(members),
            required=0,
        )


def _flat(xy: FloatArray) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])


def _count_of(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _misfits(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    for i in np.nonzero(stacks.rivet >= 0)[0].tolist():
        smallest = float(_ply_diameters(body, stacks, i).min())
        allowed = usable_clearance(job, int(stacks.rivet[i]), smallest)
        if not stacks.misfit[i] <= allowed + FIGURE:
            worst = _most_out(stacks, i)
            out = stacks.ply_offset[worst]
            instance, hole = int(stacks.ply_instance[worst]), int(stacks.ply_hole[worst])
            part = body.part_of(instance)
            yield _finding(
                "misfit",
                f"rivet {stacks.number[i]}: holes out by {stacks.misfit[i]:.2f} mm, usable clearance {allowed:.2f} mm; "
                f"look first at hole {part.holes.holes.number[hole]} of {body.instances[instance].mark}",
                f"Move the hole by {np.linalg.norm(out) * 2.0:.2f} mm or draw it smaller and ream in place.",
                Where(
                    drawing=part.spec.drawing,
                    part=body.instances[instance].mark,
                    seam=job.seams[int(stacks.seam[i])].mark,
                    holes=(part.holes.holes.number[hole],),
                    xy=_flat(part.holes.holes.xy[hole]),
                    point=_point(stacks.point[i]),
                ),
                measured=float(stacks.misfit[i]),
                required=allowed,
                source="ISO 9013 class 1 cutting deviation; growth of a hot rivet 1.2 % from memory",
            )


def _ply_diameters(body: Body, stacks: Stacks, i: int) -> FloatArray:
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    return np.array(
        [body.part_of(int(stacks.ply_instance[k])).holes.holes.diameter[int(stacks.ply_hole[k])] for k in plies]
    )


def _most_out(stacks: Stacks, i: int) -> int:
    """The ply whose hole strays most from the line of its own row's neighbours in the stacks beside it.

    With two plies both are as far from the mean; the one whose neighbours sit well is not the one to move.
    """
    plies = np.arange(int(stacks.first[i]), int(stacks.first[i + 1]))
    length = np.linalg.norm(stacks.ply_offset[plies], axis=1)
    return int(plies[int(np.argmax(np.round(length, 6)))])


def _metal_in_the_way(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Panels on the axis of a rivet, touching its plies, that have no hole there."""
    own = _own_panels(stacks)
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
        yield _finding(
            "no-hole",
            f"{body.instances[instance].mark} lies on the axis of {_count_of(len(rivets), 'rivet')} of seam "
            f"{mark or '(none)'} and has no hole there: {_some([stacks.number[i] for i in rivets])}",
            "Drill the hole, or cut the piece back clear of the row.",
            Where(
                drawing=part.spec.drawing,
                part=body.instances[instance].mark,
                seam=mark,
                holes=tuple(stacks.number[i] for i in rivets),
                xy=_flat(at) if part.blank is not None else None,
                point=_point(stacks.point[rivets[0]]),
            ),
            measured=len(rivets),
            required=0,
        )


def _placed(body: Body, instance: int) -> Pose:
    pose = body.poses[instance]
    assert pose is not None, "only placed pieces have stacks"
    return pose


def _some(numbers: Sequence[str]) -> str:
    return ", ".join(numbers[:6]) + (f" and {len(numbers) - 6} more" if len(numbers) > 6 else "")


def _own_panels(stacks: Stacks) -> set[tuple[int, int, int]]:
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    return set(zip(owner.tolist(), stacks.ply_instance.tolist(), stacks.ply_panel.tolist(), strict=True))


def _pierced(body: Body, stacks: Stacks, instance: int, pose: Pose, panel: int) -> IntArray:
    """Indices of stacks whose axis goes through the metal of a panel that touches or overlaps their plies."""
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
    inside = contains(metal.face, xy)
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
                yield _finding(
                    "plates-clash",
                    f"{body.instances[one].mark} and {body.instances[other].mark} run into one another",
                    "Cut one of them back, or look at thickness, length and place of both.",
                    Where(part=body.instances[other].mark, point=_point(second.middle)),
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
        yield _finding(
            "unlisted-ply",
            f"seam {job.seams[seam].mark}: {body.instances[instance].mark} joins the stack of "
            f"{_count_of(len(numbers), 'rivet')} without being listed: {_some(numbers)}",
            "Nothing to mend where it is meant; the grip counts it.",
            Where(seam=job.seams[seam].mark, part=body.instances[instance].mark, holes=tuple(numbers)),
        )
    for seam, rivets in unlike.items():
        sizes = _ply_diameters(body, stacks, rivets[0])
        mark = job.seams[seam].mark if seam >= 0 else "(none)"
        yield _finding(
            "hole-sizes-differ",
            f"seam {mark}: {_count_of(len(rivets), 'rivet')} through holes of {sizes.min():g} and {sizes.max():g} mm",
            "Give all plies the hole of the rivet, or state the state of the holes.",
            Where(seam=mark, holes=tuple(stacks.number[i] for i in rivets), point=_point(stacks.point[rivets[0]])),
            measured=float(sizes.max()),
            required=float(sizes.min()),
        )
    free = np.nonzero(stacks.seam < 0)[0].tolist()
    if free:
        yield _finding(
            "unclaimed-stack",
            f"{_count_of(len(free), 'stack')} of holes that no seam claims",
            "Name their rows in a [[seam]].",
            Where(
                point=_point(stacks.point[free[0]]),
                part=body.instances[int(stacks.ply_instance[stacks.first[free[0]]])].mark,
            ),
            measured=len(free),
            required=0,
        )
