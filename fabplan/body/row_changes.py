"""Mistakes of one row, or of several alike, read off from where its holes should be on the piece."""

from collections.abc import Callable, Iterator, Mapping
from itertools import product
from math import radians

import numpy as np

from fabplan.body.bend_lines import factor
from fabplan.body.change import Change, Forms, each_hand, with_hole, with_hole_at, with_places, without_hole
from fabplan.body.rest import Rest, Stand, in_order, rows_at
from fabplan.body.rows import Row
from fabplan.geom.tolerance import CAPTURE, FIGURE, ROUNDED, TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.bends import FoldSpec
from fabplan.model.part import Part

Figures = Mapping[float, str]
"""Sizes, mm, that a row may be out by, each with its reason in words."""


def row_changes(rest: Rest, stand: Stand, instance: int, forms: Forms) -> Iterator[Change]:
    """Changes of the rows that do not close: where their holes should be on the piece as it stands.

    Args:
        rest: the rest of the body.
        stand: how the piece stands in it.
        instance: the piece.
        forms: the mark as it is.
    """
    drawn = rest.costs.kit.parts[instance]
    off: dict[str, tuple[Row, FloatArray]] = {}
    for number in (k for k, closed in enumerate(stand.closed) if not closed):
        row, places = rows_at(rest, stand, instance, number)
        if len(places) != len(row.points):
            yield from _counted(forms, drawn, row, places) if _one_row(stand, instance) else ()
            return
        away = np.einsum("ij,ijk->ik", in_order(row, places) - row.points, _axes(drawn, row))
        off[_name(drawn, row)] = row, away
    if len(off) == 1:
        ((name, (row, away)),) = off.items()
        yield from _row_change(forms, drawn, name, (row, away), _forgotten(rest, instance))
    elif off and _alike(list(off.values())):
        yield _panel_change(forms, drawn, off, _forgotten(rest, instance))


def _one_row(stand: Stand, instance: int) -> bool:
    """True where the links that do not close all hang on one row of the piece."""
    links = [link for link, closed in zip(stand.links, stand.closed, strict=True) if not closed]
    return len({int((link.row_a if link.a == instance else link.row_b).holes[0]) for link in links}) == 1


def _name(drawn: Part, row: Row) -> str:
    return drawn.holes.holes.row[int(row.holes[0])]


def _axes(drawn: Part, row: Row) -> FloatArray:
    """(n, 3, 2) x and y of the panel that bears each hole of a row, in the frame of the part."""
    panels = drawn.holes.panel[row.holes].tolist()
    return np.array([drawn.panels[panel].frame.rotation[:, :2] for panel in panels])


def _counted(forms: Forms, drawn: Part, row: Row, places: FloatArray) -> Iterator[Change]:
    """One hole missing in a row, or one too many, all others being where they should be."""
    off = np.einsum("imj,ijk->imk", places[None] - row.points[:, None], _axes(drawn, row))
    apart = np.linalg.norm(off, axis=2)
    lone, bare = np.nonzero(apart.min(axis=1) > CAPTURE)[0], np.nonzero(apart.min(axis=0) > CAPTURE)[0]
    mark, name = drawn.spec.mark, _name(drawn, row)
    if (len(lone), len(bare)) == (0, 1):
        beside = np.sort(apart[:, bare[0]].argsort()[:2])
        near = " and ".join(drawn.holes.holes.number[int(row.holes[k])] for k in beside.tolist())
        hole, shift = int(row.holes[beside[0]]), off[beside[0], bare[0]]
        what = f"row {name} of {mark} lacks a hole beside {near}"
        if row.round:
            cure = (
                f"Add a hole {np.linalg.norm(shift):.1f} mm from hole {drawn.holes.holes.number[hole]} along the row."
            )
            yield Change("hole missing", what, cure, {drawn.hand: with_hole_at(drawn, hole, places[bare[0]])})
        else:
            cure = f"Add a hole {_by(shift)} of hole {drawn.holes.holes.number[hole]}."
            changed = each_hand(forms, drawn, lambda form, flip: with_hole(form, hole, shift * flip))
            yield Change("hole missing", what, cure, changed)
    elif (len(lone), len(bare)) == (1, 0):
        hole = int(row.holes[lone[0]])
        yield Change(
            "hole too many",
            f"row {name} of {mark} has a hole, {drawn.holes.holes.number[hole]}, that no other ply has",
            "Leave the hole out, or drill it in the others.",
            each_hand(forms, drawn, lambda form, _: without_hole(form, hole)),
        )


def _forgotten(rest: Rest, instance: int) -> Figures:
    """What the setting out of a piece may forget, mm: a thickness, half of two together, that of a folded corner."""
    parts, every = rest.costs.kit.parts, rest.holds[instance]
    single = {parts[end].thickness for link in every for end in (link.a, link.b)}
    figures = {(one + two) / 2.0: "half of two thicknesses" for one in single for two in single}
    for link in every:
        figures |= _corners(parts[link.a], parts[link.b])
    return figures | dict.fromkeys(single, "one thickness")


def _corners(one: Part, other: Part) -> Figures:
    """By how much the blanks of two plates that lie in one another round a corner differ there, mm.

    Angle x (t1 + t2) / 2 on their middles (geometry); on their neutral lines, for which they are drawn, a little less
    or more.
    """
    found: dict[float, str] = {}
    for first, second in product(one.spec.folds, other.spec.folds):
        pair = ((first, one.thickness), (second, other.thickness))
        (inner, thin), (outer, thick) = sorted(pair, key=lambda each: each[0].inside_radius)
        nested = abs(inner.inside_radius + thin - outer.inside_radius) <= TOUCH
        if nested and abs(abs(inner.angle) - abs(outer.angle)) <= FIGURE:
            turn = radians(abs(inner.angle))
            middles = turn * (thin + thick) / 2.0
            words = (
                f"the corner of {abs(inner.angle):g} degrees of {thin:g} on {thick:g} mm, "
                f"angle x (t1 + t2) / 2 = {middles:.1f} mm on the middles"
            )
            found |= {middles: words, turn * (_neutral(outer, thick) - _neutral(inner, thin)): words}
    return found


def _neutral(fold: FoldSpec, thickness: float) -> float:
    """Radius of the neutral line, mm."""
    return fold.inside_radius + factor(fold.k, fold.inside_radius, thickness) * thickness / 2.0


def _alike(off: list[tuple[Row, FloatArray]]) -> bool:
    """True where all holes of several rows are out by the same."""
    away = np.vstack([one for _, one in off])
    return bool(np.abs(away - np.median(away, axis=0)).max() <= ROUNDED)


def _row_change(
    forms: Forms, drawn: Part, name: str, off: tuple[Row, FloatArray], forgets: Figures
) -> Iterator[Change]:
    row, away = off
    mark, size = drawn.spec.mark, np.linalg.norm(away, axis=1)
    wrong = np.nonzero(size > ROUNDED)[0]
    if not len(wrong):
        return

    def changed(kind: str, what: str, cure: str) -> Change:
        return Change(kind, what, cure, _moved(forms, drawn, row, away), float(size.max()))

    if _alike([off]):
        shift = np.median(away, axis=0)
        yield changed(*_shifted(drawn, (name,), row, shift, forgets))
    elif len(wrong) == 1:
        number = drawn.holes.holes.number[int(row.holes[wrong[0]])]
        yield changed(
            "one hole astray",
            f"hole {number} of {mark} lies {size[wrong[0]]:.2f} mm from where its mates want it",
            f"Move the hole by {_by(away[wrong[0]])}.",
        )
    else:
        yield from _stepped(drawn, row, away, changed)


def _stepped(drawn: Part, row: Row, away: FloatArray, changed: Callable[[str, str, str], Change]) -> Iterator[Change]:
    """One space too long or too short, or all of them a little."""
    mark = drawn.spec.mark
    way = np.linalg.svd(row.points - row.points.mean(axis=0), full_matrices=False)[2][0]
    order = np.argsort(row.points @ way, kind="stable")
    own = away[order]
    steps = np.diff(own, axis=0)
    jump = np.linalg.norm(steps, axis=1)
    names = [drawn.holes.holes.number[int(row.holes[k])] for k in order.tolist()]
    if np.sum(jump > ROUNDED) == 1:
        at = int(jump.argmax())
        pitch = float(np.linalg.norm(row.points[order[at + 1]] - row.points[order[at]]))
        unit = (row.points[order[at + 1]] - row.points[order[at]]) @ _axes(drawn, row)[order[at]] / pitch
        true = pitch + float(steps[at] @ unit)
        yield changed(
            "one pitch astray",
            f"the space between holes {names[at]} and {names[at + 1]} of {mark} is {pitch:.2f} mm and should be "
            f"{true:.2f} mm",
            "Correct that space; all holes after it move with it.",
        )
    elif np.abs(steps - np.median(steps, axis=0)).max() <= ROUNDED:
        total = float(np.linalg.norm(own[-1] - own[0]))
        yield changed(
            "pitch error growing",
            f"the pitch of row {drawn.holes.holes.row[int(row.holes[0])]} of {mark} is out by "
            f"{total / len(steps):.3f} mm a space, {total:.2f} mm over the row",
            "Correct the pitch, or divide the length of the row anew.",
        )


def _shifted(
    drawn: Part, names: tuple[str, ...], row: Row, shift: FloatArray, forgets: Figures
) -> tuple[str, str, str]:
    """Whole rows out by the same: beyond a fold, by a thickness, by a pitch, or by none of them."""
    mark, size = drawn.spec.mark, float(np.linalg.norm(shift))
    pitch = float(np.median(np.linalg.norm(np.diff(row.points, axis=0), axis=1))) if len(row.points) > 1 else 0.0
    which = f"row {names[0]} of {mark} lies" if len(names) == 1 else f"rows {', '.join(names)} of {mark} lie"
    what = f"{which} {size:.2f} mm from where the mates want {'it' if len(names) == 1 else 'them'}, all holes alike"
    move = f"by {_by(shift)}"
    forgotten = next((words for figure, words in forgets.items() if abs(size - figure) <= ROUNDED), "")
    if _across_fold(drawn, shift) and not forgotten.startswith("the corner"):
        return (
            "bend allowance",
            f"{what}, across a fold",
            f"Move what lies beyond the fold {move}: look at its allowance.",
        )
    if forgotten:
        return "thickness forgotten", f"{what}: {forgotten}", f"Move it {move}: a plate's thickness was left out."
    if abs(size - pitch) <= ROUNDED:
        return "row out by one pitch", f"{what}: one pitch", f"Move it {move}."
    return "row out", what, f"Move it {move}: look at its end distance and back mark."


def _across_fold(drawn: Part, shift: FloatArray) -> bool:
    """True where a shift is square to a fold line of the piece."""
    lines = drawn.blank.folds if drawn.blank is not None and drawn.spec.folds else ()
    ways = [line.points[-1] - line.points[0] for line in lines]
    return any(abs(float(shift @ way)) <= ROUNDED * float(np.linalg.norm(way)) for way in ways)


def _by(shift: FloatArray) -> str:
    x, y = (np.round(shift, 2) + 0.0).tolist()
    return f"{x:+.2f} mm along x and {y:+.2f} mm along y"


def _panel_change(forms: Forms, drawn: Part, off: Mapping[str, tuple[Row, FloatArray]], forgets: Figures) -> Change:
    """Several rows of a piece out by the same: what lies beyond a fold, or a whole side."""
    shift = np.median(np.vstack([away for _, away in off.values()]), axis=0)
    changed = forms
    for row, away in off.values():
        changed = _moved(changed, drawn, row, away)
    row = next(iter(off.values()))[0]
    return Change(*_shifted(drawn, tuple(off), row, shift, forgets), changed, float(np.linalg.norm(shift)))


def _moved(forms: Forms, drawn: Part, row: Row, away: FloatArray) -> Forms:
    def moved(form: Part, flip: FloatArray) -> Part:
        return with_places(form, row.holes, form.holes.holes.xy[row.holes] + away * flip)

    return each_hand(forms, drawn, moved)
