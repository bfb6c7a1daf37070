"""The plies of a seam in the flat: each one's holes and edges as they lie on its blank, seen from the made heads."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import compose
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.holes import Holes
from fabplan.model.panel import Panel
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.model.profile import Profile

CHORD = 0.02  # mm by which a drawn edge may lie off a round one


@dataclass(frozen=True, slots=True, eq=False)
class FlatRow:
    """One ply of a seam before forming, mm, in the frame of its blank, turned over where its other face is seen.

    Attributes:
        mark: of the piece.
        what: plate or section, and where its holes stand: "plate 6, F1.dxf", "L40x40x6, leg a".
        face: the face that looks towards the made heads, in words.
        bar: True for a bar.
        xy: (n, 2) the hole of each rivet of the seam, NaN where this ply has none.
        diameter: (n,) of the holes as drawn.
        number: n hole numbers of the ply, "" where it has none.
        edges: outlines and openings, (k, 2) each, closed.
        others: (m, 3) x, y and diameter of holes that are not the seam's.
    """

    mark: str
    what: str
    face: str
    bar: bool
    xy: FloatArray
    diameter: FloatArray
    number: tuple[str, ...]
    edges: tuple[FloatArray, ...]
    others: FloatArray


def flat_rows(plan: Plan, seam: int) -> tuple[FlatRow, ...]:
    """The listed plies of a seam from the head side, as far as they are placed; none where no rivet goes through."""
    assert plan.body is not None
    assert plan.stacks is not None
    marks = [instance.mark for instance in plan.body.instances]
    own = np.nonzero(plan.stacks.seam == seam)[0]
    listed = dict.fromkeys(ply.instance for ply in plan.job.seams[seam].plies)
    found = [_row(plan, own, marks.index(mark)) for mark in listed if mark in marks]
    return tuple(row for row in found if row is not None)


def passing(plan: Plan, seam: int) -> Iterator[tuple[str, IntArray]]:
    """Pieces that some rivets of a seam go through though it does not list them, with the places of these rivets."""
    assert plan.body is not None
    assert plan.stacks is not None
    stacks = plan.stacks
    own = np.nonzero(stacks.seam == seam)[0]
    listed = {ply.instance for ply in plan.job.seams[seam].plies}
    plies = [stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]] for i in own.tolist()]
    for instance in np.unique(np.concatenate(plies)).tolist() if plies else ():
        mark = plan.body.instances[instance].mark
        if mark not in listed:
            yield mark, np.array([k for k, one in enumerate(plies, start=1) if instance in one], dtype=np.int64)


def _row(plan: Plan, own: IntArray, instance: int) -> FlatRow | None:
    """One ply; None where it has no hole in any of the stacks `own`."""
    assert plan.body is not None
    assert plan.stacks is not None
    stacks, part, pose = plan.stacks, plan.body.part_of(instance), plan.body.poses[instance]
    hole = np.full(len(own), -1, dtype=np.int64)
    for k, i in enumerate(own.tolist()):
        plies = np.arange(stacks.first[i], stacks.first[i + 1])
        mine = plies[stacks.ply_instance[plies] == instance]
        hole[k] = stacks.ply_hole[mine[0]] if len(mine) else -1
    if pose is None or not (hole >= 0).any():
        return None
    first = int(np.argmax(hole >= 0))
    seat = part.panels[int(part.holes.panel[hole[first]])]
    normal = compose(pose, seat.frame).rotation[:, 2]
    marked = bool(normal @ stacks.axis[own[first]] < 0.0)
    holes, same, edges = _flat(part, int(hole[first]), marked)
    hole = np.where(hole < len(holes), hole, -1)
    hole = np.where((hole >= 0) & same[hole], hole, -1) if len(holes) else hole
    if not (hole >= 0).any():
        return None
    seen = np.array([1.0 if marked else -1.0, 1.0])
    places = np.where(hole[:, None] >= 0, holes.xy[hole] * seen, np.nan)
    rest = same & ~np.isin(np.arange(len(holes)), hole)
    return FlatRow(
        plan.body.instances[instance].mark,
        _what(part, seat),
        _face(part, seat, marked),
        part.section is not None,
        places,
        np.where(hole >= 0, holes.diameter[hole], np.nan),
        tuple(holes.number[k] if k >= 0 else "" for k in hole.tolist()),
        tuple(edge * seen for edge in edges),
        np.column_stack([holes.xy[rest] * seen, holes.diameter[rest]]),
    )


def _flat(part: Part, hole: int, marked: bool) -> tuple[Holes, BoolArray, tuple[FloatArray, ...]]:
    """Holes of a part in the flat, which of them lie on the same flat as `hole`, and that flat's edges."""
    if part.blank is not None:
        blank = part.blank
        outlines = [*([blank.outline] if blank.outline is not None else []), *blank.cutouts]
        shown = (
            part.holes.holes if len(part.panels) == 1 else blank.holes
        )  # holes taken from mates are on no other blank
        return shown, np.ones(len(shown), dtype=np.bool_), tuple(_closed(one) for one in outlines)
    panels, holes = (part.straight, part.straight_holes) if part.straight_holes else (part.panels, part.holes)
    leg = int(holes.panel[hole])
    edges = tuple(_closed(edge) for edge in (panels[leg].outline, *panels[leg].cutouts))
    return holes.holes, holes.panel == leg, tuple(_to_heel(part, panels[leg].name, edge, marked) for edge in edges)


def _to_heel(part: Part, leg: str, edge: FloatArray, marked: bool) -> FloatArray:
    """The edge of a leg as its face shows it: the outer one runs to the heel, the inner one to the other leg."""
    section = part.section
    if section is None or section.kind not in ("angle", "channel") or leg == "w":
        return edge
    beside = section.t if section.kind == "angle" else section.web_thickness
    y = edge[:, 1]
    at_heel = np.where(np.abs(y) <= beside + FIGURE, np.sign(y.sum()) * (0.0 if marked else beside), y)
    return np.column_stack([edge[:, 0], at_heel])


def _closed(outline: Profile) -> FloatArray:
    ring = flattened(outline, CHORD)
    closed: FloatArray = np.vstack([ring, ring[:1]])
    return closed


def _what(part: Part, seat: Panel) -> str:
    if part.blank is not None:
        return f"plate {part.thickness:g}, {part.blank.name} {part.blank.fingerprint[:8]}"
    assert part.section is not None
    leg = f", leg {seat.name}" if part.section.kind in ("angle", "channel", "tee") else ""
    return f"{part.section.name}{leg}"


def _face(part: Part, seat: Panel, marked: bool) -> str:
    if part.section is not None and part.section.kind in ("angle", "channel", "tee"):
        return f"the {'outer' if marked else 'inner'} face of its leg {seat.name}"
    if part.section is not None and part.section.kind == "half-round":
        return f"its {'flat face' if marked else 'round back'}"
    return "its marked face" if marked else "the face that is not marked"
