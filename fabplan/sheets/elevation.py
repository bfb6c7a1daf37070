"""The rows of a step as the driver sees them: true to scale, rivets numbered from the marked end, with their turn."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.cover import open_and_covered
from fabplan.geom.pose import compose, to_outer
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import TOUCH
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.page import Arc, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork
from fabplan.sheets.pen import LEAST, Box, width
from fabplan.sheets.picture import SCALES, Picture

Item = Stroke | Arc | Text
ROUND = 5.0  # of the hole: how much plate is shown round the rivets
STRAIGHT = 0.15  # a row less high than this share of its length is laid level
HEADING = 9.6  # mm on paper: the two lines above a row
LANE = 4.0  # mm on paper: a line of figures
ARROW = 9.0  # mm on paper


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """The rivets of one seam as the driver sees them, mm, x right and y up.

    Attributes:
        heading, words: what stands above.
        xy: (k, 2) rivets in driving order.
        number: (k,) rivet numbers from the marked end.
        radius: mm, of the rivets.
        near, far: lines of plies' edges that are seen, and that lie behind others.
        window: (4,) what is shown.
        level: True where the row is straight and laid level.
    """

    heading: str
    words: str
    xy: FloatArray
    number: IntArray
    radius: float
    near: tuple[FloatArray, ...]
    far: tuple[FloatArray, ...]
    window: FloatArray
    level: bool


@dataclass(frozen=True, slots=True)
class Block:
    """A drawn row, its lower left corner at the origin of the paper. Sizes mm."""

    wide: float
    high: float
    items: tuple[Item, ...]


def row_of(plan: Plan, work: SeamWork) -> Row:
    """One seam's rivets of one step, seen square to the seam from the driver's side."""
    assert plan.stacks is not None
    stacks, rivets = plan.stacks, work.rivets
    number = np.array([_place(stacks.number[i]) for i in rivets.tolist()], dtype=np.int64)
    points = stacks.point[rivets]
    towards = stacks.axis[rivets].sum(axis=0) * (1.0 if work.driver_side == "point" else -1.0)
    towards = towards / np.linalg.norm(towards)
    axes, level = _axes(points[np.argsort(number, kind="stable")], towards)
    xy = points @ axes.T
    hole = float(stacks.hole[rivets].max())
    window = np.concatenate([xy.min(axis=0) - ROUND * hole, xy.max(axis=0) + ROUND * hole])
    near, far = _edges(plan, rivets, np.vstack([axes, towards]), window)
    mark = plan.job.seams[work.seam].mark if work.seam >= 0 else ""
    start = points[np.argmin(number)]
    at = " ".join(f"{name} {value + 0.0:.0f}" for name, value in zip("xyz", np.round(start), strict=True))
    words = f"{_seen_from(work, towards)}{_up(axes, level)}; rivet {number.min()} at {at}"
    heading = f"{f'seam {mark}' if mark else 'no seam'}: {rivet_words(plan, rivets)}"
    return Row(heading, words, xy, number, hole / 2.0, near, far, window, level)


def rivet_words(plan: Plan, rivets: IntArray) -> str:
    """How many rivets of which diameter, length and head: "65 rivets 10 x 26 round"."""
    assert plan.stacks is not None
    lines = plan.supply.rivet_line or (-1,) * len(plan.stacks)
    words = []
    for line, count in sorted(Counter(lines[i] for i in rivets.tolist()).items()):
        noun = "rivet" if count == 1 else "rivets"
        if line < 0:
            words.append(f"{count} {noun}, length not known")
            continue
        kind = plan.supply.rivets[line]
        form = kind.head if kind.head == kind.point else f"{kind.head} / {kind.point}"
        words.append(f"{count} {noun} {kind.diameter:g} x {kind.length:g} {form}")
    return ", ".join(words)


def usual_scale(rows: Sequence[Row], wide: float, high: float) -> float:
    """The largest usual scale at which every row fits."""
    sizes = np.array([row.window[2:] - row.window[:2] for row in rows])
    least = float(max(sizes[:, 0].max() / wide, sizes[:, 1].max() / (high - HEADING - 3.0 * LANE)))
    return next((scale for scale in SCALES if scale >= max(least, SCALES[3])), least)


def drawn(row: Row, scale: float) -> Block:
    """A row drawn to scale with its heading, numbers and turns."""
    size = (row.window[2:] - row.window[:2]) / scale
    foot = 2.0 * LANE if row.level else 1.0
    high = foot + float(size[1]) + (LANE if row.level else 1.0) + HEADING
    words = f"{row.words}; scale 1:{scale:g}"
    wide = max(float(size[0]), width(row.heading, 3.0, bold=True), width(words)) + 1.0
    shift = np.array([0.0, foot]) - row.window[:2] / scale
    picture = Picture()
    picture.write(Text((0.0, high - 3.8), row.heading, 3.0, bold=True))
    picture.write(Text((0.0, high - 8.2), words, LEAST))
    for line in row.near:
        picture.items.append(Stroke(_points(line / scale + shift), 0.3))
    for line in row.far:
        picture.items.append(Stroke(_points(line / scale + shift), 0.18, (1.5, 0.8)))
    centre = row.xy / scale + shift
    radius = max(row.radius / scale, 0.4)
    _label(picture, row, centre, (0.0, 0.0, wide, high - HEADING), (foot, foot + float(size[1])))
    for turn, (x, y) in enumerate(centre.tolist()):
        picture.items.append(Arc((x, y), radius, width=0.2, fill=0.0 if turn == 0 else 1.0))
    if row.level:
        _arrows(picture, centre)
    return Block(wide, high, tuple(picture.items))


def moved(items: Sequence[Item], dx: float, dy: float) -> list[Item]:
    """Items shifted on the paper, mm."""
    found: list[Item] = []
    for item in items:
        if isinstance(item, Stroke):
            found.append(replace(item, points=tuple((x + dx, y + dy) for x, y in item.points)))
        elif isinstance(item, Arc):
            found.append(replace(item, centre=(item.centre[0] + dx, item.centre[1] + dy)))
        else:
            found.append(replace(item, at=(item.at[0] + dx, item.at[1] + dy)))
    return found


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
    rings, heights = [], []
    for instance, number in pairs.tolist():
        ring, height = _seen_panel(plan, instance, number, axes)
        rings.append(ring)
        heights.append(height)
    near: list[FloatArray] = []
    far: list[FloatArray] = []
    for ring, height in zip(rings, heights, strict=True):
        over = [other for other, above in zip(rings, heights, strict=True) if above > height + TOUCH]
        seen, covered = open_and_covered(ring, over, window)
        near += seen
        far += covered
    return tuple(near), tuple(far)


def _seen_panel(plan: Plan, instance: int, number: int, axes: FloatArray) -> tuple[FloatArray, float]:
    """Outline (n, 2) of a panel as seen, and how near to the driver its nearer face is, mm."""
    assert plan.body is not None
    pose = plan.body.poses[instance]
    assert pose is not None
    panel = plan.body.part_of(instance).panels[number]
    ring = flattened(panel.outline, 0.1)
    both = [np.column_stack([ring, np.full(len(ring), z)]) for z in (0.0, -panel.thickness)]
    faces = [to_outer(compose(pose, panel.frame), face) @ axes.T for face in both]
    return faces[0][:, :2], float(max(face[:, 2].mean() for face in faces))


def _label(picture: Picture, row: Row, centre: FloatArray, within: Box, band: tuple[float, float]) -> None:
    """The number of every fifth rivet, and its turn in the driving order on the other side of the row."""
    last, first = int(row.number.max()), int(row.number.min())
    ranked = sorted(
        (
            turn
            for turn, number in enumerate(row.number.tolist())
            if turn == 0 or number in (first, last) or not number % 5
        ),
        key=lambda turn: (turn != 0, row.number[turn] not in (first, last), row.number[turn]),
    )
    middle = centre.mean(axis=0)
    for turn in ranked:
        at = centre[turn]
        if row.level:
            ends = np.array([[at[0], band[1] + 0.3], [at[0], band[0] - 0.3]])
            bases = (band[1] + 1.0, band[0] - 1.0 - LEAST)
        else:
            out = (at - middle) / max(float(np.linalg.norm(at - middle)), 1e-9)
            ends = at + np.array([[3.6], [-3.6]]) * out
            bases = (float(ends[0, 1]) - LEAST / 2.0, float(ends[1, 1]) - LEAST / 2.0)
        for words, end, base in zip((str(row.number[turn]), str(turn + 1)), ends, bases, strict=True):
            text = Text((float(end[0]), base), words, LEAST, "middle", bold=words != str(turn + 1), halo=not row.level)
            text = replace(text, bold=base == bases[0])
            if picture.free(text, within):
                if row.level:
                    picture.items.append(Stroke(_points(np.array([at, end])), 0.08, grey=0.4))
                picture.write(text)


def _arrows(picture: Picture, centre: FloatArray) -> None:
    """Arrows from the rivet driven first to each side on which the turns only rise."""
    x, y = centre[:, 0], 1.6
    for side in (-1.0, 1.0):
        run = side * (x[1:] - x[0])
        run = run[run > 1e-6]
        if len(run) and np.all(np.diff(run) > -1e-6):
            start = float(x[0]) + side * 1.0
            tip = float(x[0]) + side * min(ARROW, float(run[-1]) + 1.0)
            picture.items.append(Stroke(((start, y), (tip, y)), 0.3))
            head = ((tip, y), (tip - side * 1.6, y + 0.7), (tip - side * 1.6, y - 0.7))
            picture.items.append(Stroke(head, 0.1, closed=True, fill=0.0))


def _points(points: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
