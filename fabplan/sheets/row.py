"""The rows of a step as the driver sees them: rivets numbered from the marked end, with their turn."""

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.cover import open_and_covered, together
from fabplan.geom.pose import compose, to_outer
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import TOUCH
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork
from fabplan.model.supply import RivetLine
from fabplan.sheets.picture import SCALES

ROUND = 4.0  # of the hole: how much plate is shown round the rivets
STRAIGHT = 0.15  # a row less high than this share of its length is laid level
APART = 3.2  # mm on paper: rivets nearer than this cannot be told apart on the shop wall
NEAREST = 1.0  # mm: the nearest rivet of a ring to a piece is nearer than all others by this, or one of two alike
CLEARLY = 20.0  # mm: so much nearer to a piece than the other end of its row the first rivet is told by it
FEW = 8  # rivets of another length that are told by number


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """The rivets of one seam as the driver sees them, mm, x right and y up.

    Attributes:
        heading, words: what stands above.
        xy: (k, 2) rivets in driving order.
        number: (k,) rivet numbers from the marked end.
        turn: (k,) place of each in the driving order of the seam, from 1.
        other: (k,) True for the rivets that are not of the seam's usual length.
        bolted: (k,) True where a service bolt stands in the hole from the dry fit until its rivet is driven.
        radius: mm, of the rivets.
        near, far: lines of plies' edges that are seen, and that lie behind others.
        window: (4,) what is shown.
        level: True where the row is straight and laid level.
        towards: mark of the piece by which a ring tells its first rivet, "" for none.
        way: (2,) unit vector on the picture from that rivet towards the piece.
    """

    heading: str
    words: str
    xy: FloatArray
    number: IntArray
    turn: IntArray
    other: BoolArray
    bolted: BoolArray
    radius: float
    near: tuple[FloatArray, ...]
    far: tuple[FloatArray, ...]
    window: FloatArray
    level: bool
    towards: str = ""
    way: tuple[float, float] = (0.0, 0.0)


def rows_of(plan: Plan, work: SeamWork, present: Collection[int], wide: float) -> list[Row]:
    """One seam's rivets of one step, seen square to the seam from the driver's side.

    Args:
        plan: with its stacks.
        work: the seam's rivets and where the driver stands.
        present: instances that stand; one of them names the end that the numbers run from.
        wide: mm on paper. A straight row too long for it, at a scale that tells its rivets apart, is cut in stretches.
    """
    assert plan.stacks is not None
    assert plan.body is not None
    stacks, rivets = plan.stacks, work.rivets
    number = np.array([_place(stacks.number[i]) for i in rivets.tolist()], dtype=np.int64)
    points = stacks.point[rivets]
    towards = stacks.axis[rivets].sum(axis=0) * (1.0 if work.driver_side == "point" else -1.0)
    towards = towards / np.linalg.norm(towards)
    axes, level = _axes(points[np.argsort(number, kind="stable")], towards)
    hole = float(stacks.hole[rivets].max())
    mark = plan.job.seams[work.seam].mark if work.seam >= 0 else ""
    start, piece = _start(plan, rivets, number, present)
    whole = Row(
        f"{f'seam {mark}' if mark else 'no seam'}: {rivet_words(plan, rivets)}",
        f"{_seen_from(work, towards)}{_up(axes, level)}; {start}{_round_about(points @ axes.T, number, level)}",
        points @ axes.T,
        number,
        np.arange(1, len(rivets) + 1),
        _other(plan, rivets),
        np.isin(rivets, plan.supply.bolted),
        hole / 2.0,
        (),
        (),
        np.zeros(4),
        level,
        plan.body.instances[piece].mark if piece >= 0 and not level else "",
        _way(plan, points[np.argmin(number)], piece, axes),
    )
    found = [(own, _cut(whole, own)) for own in _stretches(whole, wide * legible_scale(whole) - 2.0 * ROUND * hole)]
    view = np.vstack([axes, towards])
    edges = [_edges(plan, rivets[own], view, one.window) for own, one in found]
    return [replace(one, near=near, far=far) for (_, one), (near, far) in zip(found, edges, strict=True)]


def _stretches(row: Row, most: float) -> list[IntArray]:
    """Indices of the rivets of each stretch, at most `most` mm long, from the left."""
    along = row.xy[:, 0] - row.xy[:, 0].min()
    count = int(np.ceil(along.max() / most)) if row.level and most > 0.0 else 1
    place = np.minimum((along / max(float(along.max()), 1e-9) * count).astype(np.int64), count - 1)
    return [own for own in (np.nonzero(place == k)[0] for k in range(count)) if len(own)]


def _cut(row: Row, own: IntArray) -> Row:
    xy, number = row.xy[own], row.number[own]
    margin = ROUND * 2.0 * row.radius
    window = np.concatenate([xy.min(axis=0) - margin, xy.max(axis=0) + margin])
    whole = len(own) == len(row.xy)
    heading = row.heading if whole else f"{row.heading}; here {number.min()} to {number.max()}"
    turn, other, bolted = row.turn[own], row.other[own], row.bolted[own]
    return replace(row, heading=heading, xy=xy, number=number, turn=turn, other=other, bolted=bolted, window=window)


def legible_scale(row: Row) -> float:
    """The smallest usual scale that tells neighbouring rivets apart on paper."""
    own = row.xy[np.argsort(row.number, kind="stable")]
    apart = np.linalg.norm(np.diff(own, axis=0), axis=1)
    most = float(np.median(apart)) / APART if len(apart) else SCALES[0]
    return max((scale for scale in SCALES if scale <= most), default=SCALES[0])


def _way(plan: Plan, first: FloatArray, piece: int, axes: FloatArray) -> tuple[float, float]:
    """Unit vector on the picture from a rivet towards the nearest one of a piece; of no length where there is none."""
    assert plan.stacks is not None
    if piece < 0:
        return 0.0, 0.0
    stack = np.repeat(np.arange(len(plan.stacks)), np.diff(plan.stacks.first))
    others = plan.stacks.point[stack[plan.stacks.ply_instance == piece]] - first
    x, y = axes @ others[np.argmin(np.linalg.norm(others, axis=1))]
    size = max(float(np.hypot(x, y)), 1e-9)
    return float(x) / size, float(y) / size


def _start(plan: Plan, rivets: IntArray, number: IntArray, present: Collection[int]) -> tuple[str, int]:
    """Where rivet 1 is, told by the steel: at the end, or on a ring on the side, of a piece that stands; which piece.

    Where no piece tells (-1), by its place in the body's frame, to be marked on the steel.
    """
    assert plan.body is not None
    assert plan.stacks is not None
    points = plan.stacks.point[rivets][np.argsort(number, kind="stable")]
    away = _away(plan, rivets, points)
    others = np.array([i for i in sorted(present) if np.isfinite(away[0, i])], dtype=np.int64)
    first, last = away[0, others], away[-1, others]
    size = float(np.linalg.norm(np.ptp(points, axis=0)))
    name = f"rivet {number.min()}"
    if len(others) and float((last - first).max()) > 0.5 * size:
        piece = int(others[np.argmax(last - first)])
        return f"{name} at the {plan.body.instances[piece].mark} end", piece
    ring = float(np.linalg.norm(points[-1] - points[0])) < 0.5 * size
    nearest = np.nonzero((first <= away[:, others].min(axis=0) + NEAREST) & (ring | (last > first + CLEARLY)))[0]
    if len(nearest):
        piece = int(others[nearest[np.argmin(first[nearest])]])
        return f"{name} is the one nearest to {plan.body.instances[piece].mark}", piece
    return f"{name} {_marked_at(plan, int(rivets[np.argmin(number)]))}: mark it on the steel first", -1


def _marked_at(plan: Plan, rivet: int) -> str:
    """The place of a rivet on the drawing of a plate that it holds, else in the body."""
    assert plan.body is not None
    assert plan.stacks is not None
    stacks = plan.stacks
    for ply in range(stacks.first[rivet], stacks.first[rivet + 1]):
        instance = int(stacks.ply_instance[ply])
        blank, hole = plan.body.part_of(instance).blank, int(stacks.ply_hole[ply])
        if blank is not None and hole < len(blank.holes):
            x, y = np.round(blank.holes.xy[hole]) + 0.0
            return f"at x {x:.0f} y {y:.0f} on the drawing of {plan.body.instances[instance].mark}"
    at = np.round(stacks.point[rivet]) + 0.0
    return f"at {' '.join(f'{axis} {value:.0f}' for axis, value in zip('xyz', at, strict=True))} of the body"


def _away(plan: Plan, rivets: IntArray, points: FloatArray) -> FloatArray:
    """(k, m) mm from each rivet to the nearest rivet of each piece that is no ply of any of them; inf for plies."""
    assert plan.body is not None
    assert plan.stacks is not None
    stacks = plan.stacks
    stack = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    away = np.full((len(points), len(plan.body.instances)), np.inf)
    for row, place in zip(away, points, strict=True):
        np.minimum.at(row, stacks.ply_instance, np.linalg.norm(stacks.point[stack] - place, axis=1))
    away[:, np.unique(stacks.ply_instance[np.isin(stack, rivets)])] = np.inf
    return away


def _round_about(xy: FloatArray, number: IntArray, level: bool) -> str:
    """Which way the numbers of a ring run."""
    if level or len(xy) < 3:
        return ""
    off = (xy - xy.mean(axis=0))[np.argsort(number, kind="stable")]
    turn = float(np.sum(off[:-1, 0] * off[1:, 1] - off[:-1, 1] * off[1:, 0]))
    return f", numbers run {'against the clock' if turn > 0.0 else 'clockwise'}"


def rivet_words(plan: Plan, rivets: IntArray, *, numbered: bool = True) -> str:
    """How many rivets of which diameter, length and head; where `numbered`, the few of another length by number."""
    assert plan.stacks is not None
    lines = _lines(plan, rivets)
    words: list[str] = []
    for line, count in sorted(Counter(lines.tolist()).items(), key=lambda pair: (-pair[1], pair[0])):
        kind = plan.supply.rivets[line] if line >= 0 else None
        size = size_words(kind) if kind else "length not known"
        numbers = numbers_of(plan, rivets[lines == line])
        if words and numbered and len(numbers) <= FEW:
            size += f" (no {', '.join(map(str, numbers))})"
        words.append(f"{count} of {size}" if words else f"{count} {'rivet' if count == 1 else 'rivets'} {size}")
    return ", ".join(words)


def numbers_of(plan: Plan, rivets: IntArray) -> list[int]:
    """The numbers of some rivets of one seam, from its marked end, rising."""
    assert plan.stacks is not None
    return sorted(_place(plan.stacks.number[i]) for i in rivets.tolist())


def _lines(plan: Plan, rivets: IntArray) -> IntArray:
    lines = plan.supply.rivet_line
    return np.array([lines[i] if lines else -1 for i in rivets.tolist()], dtype=np.int64)


def _other(plan: Plan, rivets: IntArray) -> BoolArray:
    lines = _lines(plan, rivets)
    values, counts = np.unique(lines, return_counts=True)
    other: BoolArray = lines != values[np.argmax(counts)]
    return other


def size_words(kind: RivetLine) -> str:
    """Diameter, length and head of a rivet: "10 x 24 round"."""
    heads = kind.head if kind.head == kind.point else f"{kind.head} / {kind.point}"
    return f"{kind.diameter:g} x {kind.length:g} {heads}"


def _place(number: str) -> int:
    last = number.split()[-1] if number.split() else ""
    return int(last) if last.isdigit() else 0


def _axes(points: FloatArray, towards: FloatArray) -> tuple[FloatArray, bool]:
    """Right and up (2, 3) as the driver sees them, and whether the row is straight.

    Up is the body's up wherever it can be; a level face, or an upright row laid level, has its marked end at the left.
    """
    offset = points - points.mean(axis=0)
    offset = offset - np.outer(offset @ towards, towards)
    _, size, directions = np.linalg.svd(offset, full_matrices=True)
    level = bool(size[0] > 1e-6 and (len(size) < 2 or size[1] < STRAIGHT * size[0]))
    if level:
        right = directions[0]
    else:
        right = np.cross([0.0, 0.0, 1.0], towards)
        right = right if np.linalg.norm(right) > 0.1 else np.array([1.0, 0.0, 0.0])
    right = right - (right @ towards) * towards
    right = right / np.linalg.norm(right)
    up = np.cross(towards, right)
    turned = up[2] < 0.0 if abs(up[2]) > 0.1 else level and (points[-1] - points[0]) @ right < 0.0
    axes: FloatArray = np.array([right, up])
    return (-axes if turned else axes), level


def _seen_from(work: SeamWork, towards: FloatArray) -> str:
    if abs(towards[2]) > 0.9:
        return "seen from above" if towards[2] > 0.0 else "seen from below"
    sides = {"outside": "seen from outside", "man inside": "seen from inside"}
    return sides.get(work.driver_access, "seen from the driver's side")


def _up(axes: FloatArray, level: bool) -> str:
    if not level or abs(axes[0, 2]) < 0.9:
        return ""
    return f", up is to the {'right' if axes[0, 2] > 0.0 else 'left'}"


def _edges(
    plan: Plan, rivets: IntArray, axes: FloatArray, window: FloatArray
) -> tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Edges of the plies, those seen and those behind other plies; `axes` (3, 3) are right, up and to the driver."""
    assert plan.stacks is not None
    stacks = plan.stacks
    plies = np.concatenate([np.arange(stacks.first[i], stacks.first[i + 1]) for i in rivets.tolist()])
    pairs = np.unique(np.column_stack([stacks.ply_instance[plies], stacks.ply_panel[plies]]), axis=0)
    faces = list(_faces(plan, pairs, axes))
    near: list[FloatArray] = []
    far: list[FloatArray] = []
    for rings, height in faces:
        over = [other[0] for other, above in faces if above > height + TOUCH]
        seen, covered = open_and_covered(rings[0], over, window)
        near += seen
        far += covered
        for opening in rings[1:]:
            near += open_and_covered(opening, over, window)[0]
    return tuple(near), tuple(far)


def _faces(plan: Plan, pairs: IntArray, axes: FloatArray) -> Iterator[tuple[list[FloatArray], float]]:
    """The panels (instance, number) as seen; a round, of which some facets have rivets, whole and as one."""
    assert plan.body is not None
    rounds: set[tuple[int, str]] = set()
    for instance, number in pairs.tolist():
        panel = plan.body.part_of(instance).panels[number]
        if panel.kind == "flat":
            yield _seen_panel(plan, instance, number, axes)
        else:
            rounds.add((instance, panel.name))
    for instance, name in sorted(rounds):
        panels = enumerate(plan.body.part_of(instance).panels)
        facets = [number for number, panel in panels if panel.kind != "flat" and panel.name == name]
        seen = [_seen_panel(plan, instance, number, axes) for number in facets]
        yield together([rings[0] for rings, _ in seen]), float(np.mean([height for _, height in seen]))


def _seen_panel(plan: Plan, instance: int, number: int, axes: FloatArray) -> tuple[list[FloatArray], float]:
    """Outline and openings, (n, 2) each, of a panel as seen, and how near to the driver its nearer face is, mm."""
    assert plan.body is not None
    pose = plan.body.poses[instance]
    assert pose is not None
    panel = plan.body.part_of(instance).panels[number]
    rings = [flattened(edge, 0.1) for edge in (panel.outline, *panel.cutouts)]
    both = [[np.column_stack([ring, np.full(len(ring), z)]) for ring in rings] for z in (0.0, -panel.thickness)]
    placed = compose(pose, panel.frame)
    upper, lower = ([to_outer(placed, ring) @ axes.T for ring in face] for face in both)
    return [ring[:, :2] for ring in upper], float(max(upper[0][:, 2].mean(), lower[0][:, 2].mean()))
