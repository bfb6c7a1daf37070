"""Seam overlays: every ply laid over the next, unfair holes ringed, offsets as arrows at a stated magnification."""

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.overlay import Overlay
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sheets.elevation import moved
from fabplan.sheets.frame import A4, Paper, Sheet, framed, room, rooms
from fabplan.sheets.pen import LEAST, short
from fabplan.sheets.table import Table, laid, notes

Item = Stroke | Arc | Text
SCALES = (2.5, 5.0, 7.5, 10.0, 15.0)
TIMES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Magnifications of the arrows."""

ARROW, PITCH = 9.0, 7.0  # mm on paper: the longest arrow; the least distance of neighbouring holes
TITLE, HEAD, GAP = 3.5, 12.0, 4.0  # mm
HAIR = 0.05  # mm that a loop may be apart: drawn places are rounded to less
ASIDE = 11.0  # mm on paper beside the outermost holes
MOST = 60  # seams drawn, the worst first
KEY = (
    "full line: hole of the first ply; dashed: of the second; heavy ring: the rivet does not pass, or the hole has no "
    "mate; arrow: from the first ply's hole to where the second's lies, magnified as stated"
)


def overlay_sheets(plan: Plan) -> tuple[Page, ...]:
    """Pages of all seams whose holes do not meet to a hair, the worst first."""
    stops = sum(finding.blocks for finding in plan.findings)
    paper = Paper("Seam overlays", A4, plan.job, stops, (KEY,))
    area = room(paper)
    strips = [strip for one in plan.overlays[:MOST] for strip in _strips(one, area[2] - area[0])]
    sheets: list[list[Item]] = []
    y = -1.0
    for high, items in strips:
        if y - high < area[1]:
            sheets.append([])
            y = area[3]
        sheets[-1] += moved(items, area[0], y - high)
        y -= high + GAP
    return framed(paper, [*(Sheet(tuple(items)) for items in sheets), *_loops(plan, paper)])


def _loops(plan: Plan, paper: Paper) -> list[Sheet]:
    """The loops of pieces that do not close to a hair, as a table."""
    rows = tuple(
        (" - ".join(one.pieces), ", ".join(one.seams), f"{one.apart:.2f}", f"{one.turn:.2f}")
        for one in plan.loops
        if one.apart > HAIR
    )
    if not rows:
        return []
    heads = ("pieces round the loop", "seams, the closing one last", "apart, mm", "turned, deg")
    words = (
        f"{len(rows)} of {len(plan.loops)} loops do not close to {HAIR:g} mm when their seams are laid hole on hole "
        "one by one. A piece or a seam that stands in many of them, and in none that closes, is the one to measure."
    )
    table = Table("Loops that do not close", heads, (5.0, 5.0, 1.2, 1.2), rows[:MOST], (2, 3))
    return [Sheet(tuple(items)) for items in laid([table, notes("", (words,))], rooms(paper))[0]]


def _strips(one: Overlay, wide: float) -> list[tuple[float, list[Item]]]:
    """Height and items of each stretch of a seam, its lower left corner at the origin of the paper."""
    scale, times = _scale(one), _times(one)
    long = (wide - 2.0 * ASIDE) * scale
    place = one.holes_one[:, 0]
    count = max(int(np.ceil((place.max(initial=0.0) + 1e-9) / long)), 1)
    each = np.minimum((place / max(float(place.max(initial=0.0)), 1e-9) * count).astype(np.int64), count - 1)
    return [
        _strip(one, np.nonzero(each == k)[0], (scale, times), _title(one, scale, times, (k, count), wide))
        for k in range(count)
        if np.any(each == k)
    ]


def _scale(one: Overlay) -> float:
    """The smallest usual scale that keeps neighbouring holes apart on paper."""
    steps = np.linalg.norm(np.diff(one.holes_one, axis=0), axis=1)
    pitch = float(np.median(steps)) if len(steps) else 40.0
    return max((scale for scale in SCALES if pitch / scale >= PITCH), default=SCALES[0])


def _times(one: Overlay) -> float:
    worst = float(np.linalg.norm(one.off, axis=1).max(initial=0.0)) / _scale(one)
    return max((times for times in TIMES if worst * times <= ARROW), default=TIMES[0])


def _title(one: Overlay, scale: float, times: float, part: tuple[int, int], wide: float) -> list[str]:
    off, count = np.linalg.norm(one.off, axis=1), max(len(one.holes_one), len(one.holes_other))
    unfair = int(np.sum(off > one.allowed)) + count - len(one.mate_one)
    stretch = f", part {part[0] + 1} of {part[1]}" if part[1] > 1 else ""
    worst = f"worst {off.max():.2f} mm" if len(off) else "no hole has a mate"
    words = (
        f"{worst}, allowed {one.allowed:.2f} mm, {unfair} of {count} holes unfair, "
        f"faces {one.gap + 0.0:.2f} mm apart; scale 1:{scale:g}, arrows {times:g} times"
    )
    head = short(f"seam {one.seam}{stretch}: {one.one} and {one.other}", wide, TITLE, bold=True)
    return [head, short(words, wide)]


def _strip(one: Overlay, own: IntArray, sizes: tuple[float, float], title: list[str]) -> tuple[float, list[Item]]:
    scale, times = sizes
    left = float(one.holes_one[own, 0].min())
    deep = float(max(one.holes_one[:, 1].max(initial=0.0), one.holes_other[:, 1].max(initial=0.0)))
    high = HEAD + 2.0 * ASIDE + deep / scale
    shift = np.array([ASIDE - left / scale, ASIDE])
    items: list[Item] = [
        Text((0.0, high - TITLE - 0.5), title[0], TITLE, bold=True),
        Text((0.0, high - TITLE - LEAST - 3.0), title[1], LEAST),
    ]
    mate = dict(zip(one.mate_one.tolist(), one.mate_other.tolist(), strict=True))
    right = left + (float(one.holes_one[own, 0].max()) - left)
    ends = (int(own[0]), int(own[-1]))
    for k in own.tolist():
        items += _hole(one, k, mate.get(k), (scale, times), shift)
        if k in ends or _unfair(one, k, mate.get(k)):
            x, label = float(one.holes_one[k, 0] / scale + shift[0]), one.number[k].rsplit(" ", 1)[-1]
            items.append(Text((x, high - HEAD - LEAST - 1.0), label, LEAST, "middle"))
    lone = np.setdiff1d(np.arange(len(one.holes_other)), one.mate_other)
    near = (one.holes_other[lone, 0] >= left - 2.0 * ASIDE) & (one.holes_other[lone, 0] <= right + 2.0 * ASIDE)
    for m in lone[near].tolist():
        x, y = (one.holes_other[m] / scale + shift).tolist()
        radius = float(one.size_other[m]) / 2.0 / scale
        items += [Arc((x, y), radius, width=0.2, dash=(0.8, 0.5)), Arc((x, y), radius + 1.0, width=0.7)]
    return high, items


def _hole(one: Overlay, k: int, mate: int | None, sizes: tuple[float, float], shift: FloatArray) -> list[Item]:
    """One hole of the first ply, its mate, its arrow, its ring and its number where it is unfair."""
    scale, times = sizes
    at = one.holes_one[k] / scale + shift
    x, y = at.tolist()
    radius = float(one.size_one[k]) / 2.0 / scale
    items: list[Item] = [Arc((x, y), radius, width=0.25)]
    if mate is not None:
        away = one.holes_other[mate] - one.holes_one[k]
        u, v = (one.holes_other[mate] / scale + shift).tolist()
        items.append(Arc((u, v), float(one.size_other[mate]) / 2.0 / scale, width=0.2, dash=(0.8, 0.5)))
        items += arrow(at, away / scale * times)
    if _unfair(one, k, mate):
        items.append(Arc((x, y), radius + 1.0, width=0.7))
    return items


def _unfair(one: Overlay, k: int, mate: int | None) -> bool:
    """True where the rivet does not pass."""
    return mate is None or not float(np.linalg.norm(one.holes_other[mate] - one.holes_one[k])) <= one.allowed


def arrow(start: FloatArray, way: FloatArray) -> list[Item]:
    """An arrow on the paper, from a place (2,) on by (2,), mm; none where it is too short to see."""
    size = float(np.linalg.norm(way))
    if size < 0.4:
        return []
    unit = way / size
    side = np.array([-unit[1], unit[0]])
    tip, neck = start + way, start + way - min(1.6, 0.5 * size) * unit
    head = [tip, neck + 0.5 * side, neck - 0.5 * side]
    return [
        Stroke((_pair(start), _pair(neck)), 0.3),
        Stroke(tuple(_pair(point) for point in head), 0.1, closed=True, fill=0.0),
    ]


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
