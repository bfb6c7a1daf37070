"""One seam set out: its row laid, taken over or mirrored, and its holes put into every ply."""

from dataclasses import replace

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.lines import runs_of
from fabplan.geom.surface import along_axes, to_body
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.setout import Laid, LaidPly, SetoutSpec
from fabplan.setout.line import line_of
from fabplan.setout.path import Path
from fabplan.setout.pitches import runs
from fabplan.setout.ply import meeting
from fabplan.setout.room import room
from fabplan.setout.row import KEPT, Row, row_along
from fabplan.setout.wish import Wish, hold, without

BETWEEN = ("row distance", "diagonal")  # what is measured between two lines


def lay(wish: Wish, mirrored: FloatArray | None = None) -> Laid:
    """The holes of one seam.

    Args:
        wish: what is asked.
        mirrored: (n, 3) places in the body through which its axes are to go, of a seam that mirrors another; else None.

    Raises:
        SetoutError: it cannot be set out; why, and what would help.
    """
    drawn = [k for k, ply in enumerate(wish.plies) if ply.size]
    there = [k for k in drawn if len(wish.plies[k].own)]
    if there:
        on = max(there, key=lambda k: len(wish.plies[k].own))
        why = f"taken over from {wish.plies[on].name}, which has the row already"
        if all(len(wish.plies[k].own) == len(wish.plies[on].own) for k in drawn):
            why = "its holes are there already in every ply; take them out to set it out anew"
        if replace(wish.spec, on="", leg="", hole=None, place="") != SetoutSpec(wish.spec.seam):
            why += "; the line, pitch or ends that are stated for it are passed over"
        return _laid(wish, on, _at_places(wish, on, wish.plies[on].own, why))
    if mirrored is not None:
        return _laid(wish, 0, _mirrored(wish, mirrored))
    line = line_of(wish.spec, wish.plies)
    return _laid(wish, line.on, row_along(wish, line))


def _mirrored(wish: Wish, points: FloatArray) -> Row:
    """A row through places of the body, (n, 3)."""
    ply, mirror = wish.plies[0], wish.spec.mirror
    assert mirror is not None
    _, normal = to_body(ply.surface, np.zeros((len(points), 2)), np.zeros(len(points)))
    for _ in range(2):  # the second time with the normals where the axes meet a round
        xy, _, square = along_axes(ply.surface, points, normal)
        _, normal = to_body(ply.surface, xy, np.zeros(len(points)))
    if not square.all():
        what = f"the mirror image of seam {mirror.seam} does not lie on {ply.name}"
        raise SetoutError(what, "Look at `axis` and `at` of `mirror`.")
    why = f"the mirror image of seam {mirror.seam} in the plane {mirror.axis} = {mirror.at:g}"
    return _at_places(wish, 0, xy, why)


def _at_places(wish: Wish, on: int, xy: FloatArray, why: str) -> Row:
    """Holes at given places (n, 2) of one ply, held against what ends the metal or stands in the way."""
    lines = [run.order for run in runs_of(xy)]
    plies = without(wish.plies, [ply.own for ply in wish.plies])
    ends = (np.nan, np.nan)
    for k, line in enumerate(lines):
        beyond = xy[line][-1] + (xy[line][-1] - xy[line][-2] if len(line) > 1 else [1.0, 0.0])
        path = Path(np.vstack([xy[line], beyond]))
        found = room(plies, on, path.places, (path.stops[:-1], wish.limits))
        hold(found, wish.heads)
        if k == 0:
            ends = float(found.back[0].min()), float(found.ahead[-1].min())
            first = path.stops[:-1]
    number = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    return Row(xy[np.concatenate(lines)], number, (first,), ends, (why,))


def _laid(wish: Wish, on: int, row: Row) -> Laid:
    """The holes of a row in every ply.

    Raises:
        SetoutError: a ply has a row of that name elsewhere.
    """
    met = meeting(wish.plies, on, row.xy)
    plies = []
    for k, ply in enumerate(wish.plies):
        there = _there(ply.holes.xy, met.xy[k])
        if len(ply.own) and not np.all(_there(met.xy[k], ply.own)):
            what = f"{ply.name} has a row {ply.row} that lies elsewhere"
            raise SetoutError(what, "Take it out, or give one of the two another name.")
        plies.append(
            LaidPly(ply.instance, ply.row, ply.leg, met.xy[k], ~there, tuple(row.line.tolist()), ply.size, met.point[k])
        )
    spaces = row.closed or tuple(one for s in row.s for one in runs(s))
    bounds = tuple(one for one in wish.limits.bounds if wish.spec.rows > 1 or one.measure not in BETWEEN)
    name = wish.plies[on].name
    return Laid(wish.spec.seam, name, tuple(plies), spaces, row.ends, met.axis, bounds, row.why)


def _there(places: FloatArray, asked: FloatArray) -> BoolArray:
    """(n,) True for places (n, 2) asked for at which one of some places (m, 2) is."""
    if not len(places):
        return np.zeros(len(asked), dtype=np.bool_)
    near: BoolArray = np.linalg.norm(asked[:, None] - places[None], axis=2).min(axis=1) <= KEPT
    return near
