"""Single mistakes that a draughtsman or a bender makes, each as the change that would undo it.

Two sorts: changes of a whole piece, made anew from what the job states (other hand, other thickness, other unit, a fold
the other way), and changes of one row, read off from where its holes should be.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.rest import Rest, Stand, in_order, rows_at
from fabplan.body.rows import Row
from fabplan.geom.profile import bounds
from fabplan.geom.tolerance import CAPTURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.part import Part

UNITS = ((25.4, "inches"), (1.0 / 25.4, "millimetres taken for inches"), (10.0, "centimetres"), (1000.0, "metres"))
"""Factors between the units that drawings are mistaken in."""

THICKNESSES = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Plates in stock, mm (EN 10029 lists any; common practice)."""

SMALL = 0.15
"""Offsets within this, mm, are none: drawn sizes are rounded to 0.1 mm."""

Remake = Callable[[PartSpec, Drawing | None], tuple[Part, ...]]
OtherHand = Callable[[Drawing], Drawing]
Forms = Mapping[str, Part]
"""The form of a mark by hand: "" for a piece without one, "R" and "L" of a pair."""


@dataclass(frozen=True, slots=True, eq=False)
class Shop:
    """What is needed to make a piece anew: from its specification and drawing, and the opposite hand of a drawing."""

    remake: Remake
    other_hand: OtherHand


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One single change that may undo a mistake.

    Attributes:
        kind: the mistake, in words of the trade, the same for all of its sort.
        what: the mistake with its piece, row and figures.
        cure: what to do.
        forms: the forms of the mark, once changed.
        by: how far it moves holes, mm; 0 for a change of another sort.
    """

    kind: str
    what: str
    cure: str
    forms: Forms
    by: float = 0.0


def piece_changes(shop: Shop, forms: Forms, *, thickness: bool) -> Iterator[Change]:
    """Changes of a whole piece.

    Args:
        shop: how pieces are made.
        forms: the mark as it is.
        thickness: whether its thickness tells: both its faces lie on others.
    """
    part = next(iter(forms.values()))
    if len(forms) == 2:
        mark = part.spec.mark
        yield Change(
            "wrong hand",
            f"{mark}R and {mark}L stand in one another's place, or {mark} is drawn of the other hand",
            "Name the hands the other way round in the seams, or correct `drawn`.",
            {"R": forms["L"], "L": forms["R"]},
        )
    if part.section is not None:
        yield from _bar_changes(shop, part)
    elif part.blank is not None:
        drawn = next(form for form in forms.values() if form.hand in ("", form.spec.drawn))
        assert drawn.blank is not None
        yield from _plate_changes(shop, drawn.spec, drawn.blank, len(drawn.panels) > 1)
        yield from _thicknesses(shop, drawn.spec, drawn.blank) if thickness else ()
    for row in dict.fromkeys(part.holes.holes.row):
        if row:
            yield from _reversals(forms, row)


def _made(shop: Shop, spec: PartSpec, drawing: Drawing | None) -> Forms:
    return {part.hand: part for part in shop.remake(spec, drawing)}


def _bar_changes(shop: Shop, part: Part) -> Iterator[Change]:
    spec, length = part.spec, part.spec.length
    if length is not None and not spec.hand:
        rows = tuple(replace(row, at=tuple(length - at for at in reversed(row.at))) for row in spec.rows)
        yield Change(
            "strip reversed",
            f"all rows of {spec.mark} are measured from its other end",
            "Measure the rows from the marked end, or mark the other end.",
            _made(shop, replace(spec, rows=rows), None),
        )


def _plate_changes(shop: Shop, spec: PartSpec, drawing: Drawing, formed: bool) -> Iterator[Change]:
    """The other hand, and each fold the other way."""
    if not spec.hand:
        yield Change(
            "wrong hand" if formed else "plate mirrored",
            f"{spec.mark} is drawn of the other hand, as seen from its other face",
            "Mirror the drawing.",
            _made(shop, spec, shop.other_hand(drawing)),
        )
    for number, fold in enumerate(spec.folds):
        folds = (*spec.folds[:number], replace(fold, angle=-fold.angle), *spec.folds[number + 1 :])
        yield Change(
            "fold the wrong way",
            f"fold {fold.line} of {spec.mark} goes the other way",
            "Change the sign of its angle, or mark the drawing's other face.",
            _made(shop, replace(spec, folds=folds), drawing),
        )


def units(shop: Shop, spec: PartSpec, drawing: Drawing) -> Iterator[Change]:
    """The drawing read in another unit.

    Args:
        shop: how pieces are made.
        spec: the piece.
        drawing: as read now.
    """
    for factor, unit in UNITS:
        yield Change(
            "wrong unit",
            f"the drawing of {spec.mark} is in {unit}, and fits {factor:.4g} times as large as it is read",
            "State the unit of the drawing in its header, or draw it in millimetres.",
            _made(shop, spec, scaled(drawing, factor)),
        )


def _thicknesses(shop: Shop, spec: PartSpec, drawing: Drawing) -> Iterator[Change]:
    for thickness in THICKNESSES:
        if thickness != spec.thickness:
            yield Change(
                "wrong thickness",
                f"{spec.mark} is {spec.thickness:g} mm thick in the job and fits as one of {thickness:g} mm",
                "Correct `thickness`, or order the thickness that the body is drawn for.",
                _made(shop, replace(spec, thickness=thickness), drawing),
            )


def scaled(drawing: Drawing, factor: float) -> Drawing:
    """A drawing read in another unit: all places `factor` times as large."""
    holes = replace(drawing.holes, xy=drawing.holes.xy * factor, diameter=drawing.holes.diameter * factor)
    outline = drawing.outline
    if outline is not None:
        outline = replace(outline, vertices=outline.vertices * factor)
    cutouts = tuple(replace(one, vertices=one.vertices * factor) for one in drawing.cutouts)
    folds, rolls = (
        tuple(replace(line, points=line.points * factor) for line in lines) for lines in (drawing.folds, drawing.rolls)
    )
    return replace(drawing, holes=holes, outline=outline, cutouts=cutouts, folds=folds, rolls=rolls)


def _reversals(forms: Forms, row: str) -> Iterator[Change]:
    """One row set out from the other end of its piece, or end for end between its own first and last hole."""
    part = next(iter(forms.values()))
    for about, words in (("piece", "the other end of the piece"), ("row", "its own other end")):
        yield Change(
            "strip reversed",
            f"row {row} of {part.spec.mark} is measured from {words}",
            "Look which end the row was measured from; an equal end distance at both ends would let it turn.",
            {hand: _reversed(form, row, about) for hand, form in forms.items()},
        )


def _reversed(part: Part, row: str, about: str) -> Part:
    own = _of_row(part, row)
    xy = part.holes.holes.xy[own]
    along = int(np.argmax(np.ptp(xy, axis=0)))
    low, high = (
        bounds(part.panels[int(part.holes.panel[own[0]])].outline)[[along, along + 2]]
        if about == "piece"
        else (xy[:, along].min(), xy[:, along].max())
    )
    turned = xy.copy()
    turned[:, along] = low + high - xy[:, along]
    return with_places(part, own, turned)


def _of_row(part: Part, row: str) -> IntArray:
    return np.array([i for i, name in enumerate(part.holes.holes.row) if name == row], dtype=np.int64)


def with_places(part: Part, holes: IntArray, xy: FloatArray) -> Part:
    """The piece with some holes elsewhere on their panels."""
    every = part.holes.holes.xy.copy()
    every[holes] = xy
    return replace(part, holes=replace(part.holes, holes=replace(part.holes.holes, xy=every)))


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
            yield from _counted(forms, drawn, row, places) if stand.closed.count(False) == 1 else ()
            return
        away = (in_order(row, places) - row.points) @ _axes(drawn, row)
        off[_name(drawn, row)] = row, away
    if len(off) == 1:
        ((name, (row, away)),) = off.items()
        yield from _row_change(forms, drawn, name, (row, away), _thick(rest, instance))
    elif off and _alike(list(off.values())):
        yield _panel_change(forms, drawn, off, _thick(rest, instance))


def _name(drawn: Part, row: Row) -> str:
    return drawn.holes.holes.row[int(row.holes[0])]


def _axes(drawn: Part, row: Row) -> FloatArray:
    """(3, 2) x and y of the panel that bears a row, in the frame of the part."""
    axes: FloatArray = drawn.panels[int(drawn.holes.panel[int(row.holes[0])])].frame.rotation[:, :2]
    return axes


def _counted(forms: Forms, drawn: Part, row: Row, places: FloatArray) -> Iterator[Change]:
    """One hole missing in a row, or one too many, all others being where they should be."""
    flat = [points @ _axes(drawn, row) for points in (row.points, places)]
    apart = np.linalg.norm(flat[0][:, None] - flat[1][None], axis=2)
    lone, bare = np.nonzero(apart.min(axis=1) > CAPTURE)[0], np.nonzero(apart.min(axis=0) > CAPTURE)[0]
    mark, name = drawn.spec.mark, _name(drawn, row)
    if (len(lone), len(bare)) == (0, 1):
        beside = np.sort(apart[:, bare[0]].argsort()[:2])
        near = " and ".join(drawn.holes.holes.number[int(row.holes[k])] for k in beside.tolist())
        shift = flat[1][bare[0]] - flat[0][beside[0]]
        yield Change(
            "hole missing",
            f"row {name} of {mark} lacks a hole beside {near}",
            f"Add a hole {_by(shift)} of hole {drawn.holes.holes.number[int(row.holes[beside[0]])]}.",
            _each(forms, drawn, lambda form, flip: with_hole(form, int(row.holes[beside[0]]), shift * flip)),
        )
    elif (len(lone), len(bare)) == (1, 0):
        hole = int(row.holes[lone[0]])
        yield Change(
            "hole too many",
            f"row {name} of {mark} has a hole, {drawn.holes.holes.number[hole]}, that no other ply has",
            "Leave the hole out, or drill it in the others.",
            _each(forms, drawn, lambda form, _: without_hole(form, hole)),
        )


def with_hole(part: Part, beside: int, shift: FloatArray) -> Part:
    """The piece with one more hole like `beside`, `shift` (2,) mm from it."""
    every = np.append(np.arange(len(part.holes.holes)), beside)
    more = _chosen(part, every)
    xy = more.holes.holes.xy.copy()
    xy[-1] += shift
    return replace(more, holes=replace(more.holes, holes=replace(more.holes.holes, xy=xy)))


def without_hole(part: Part, hole: int) -> Part:
    """The piece without one hole."""
    return _chosen(part, np.delete(np.arange(len(part.holes.holes)), hole))


def _chosen(part: Part, index: IntArray) -> Part:
    """The piece with holes by their numbers, in that order, some more than once."""
    old = part.holes.holes
    columns = {
        name: tuple(getattr(old, name)[i] for i in index.tolist()) for name in ("row", "number", "purpose", "handle")
    }
    holes = replace(old, xy=old.xy[index], diameter=old.diameter[index], **columns)
    return replace(part, holes=replace(part.holes, holes=holes, panel=part.holes.panel[index]))


def _each(forms: Forms, drawn: Part, change: Callable[[Part, FloatArray], Part]) -> Forms:
    """All hands of the mark changed as the one wants it; x runs the other way on the other hand."""
    return {hand: change(form, np.array([1.0 if hand == drawn.hand else -1.0, 1.0])) for hand, form in forms.items()}


def _thick(rest: Rest, instance: int) -> frozenset[float]:
    """Thicknesses that the setting out of a piece may forget, mm: its own, its neighbours', half of two together."""
    parts, every = rest.costs.kit.parts, rest.holds[instance]
    single = {parts[end].thickness for link in every for end in (link.a, link.b)}
    return frozenset(single | {(one + two) / 2.0 for one in single for two in single})


def _alike(off: list[tuple[Row, FloatArray]]) -> bool:
    """True where all holes of several rows are out by the same."""
    away = np.vstack([one for _, one in off])
    return bool(np.abs(away - np.median(away, axis=0)).max() <= SMALL)


def _row_change(
    forms: Forms, drawn: Part, name: str, off: tuple[Row, FloatArray], thick: frozenset[float]
) -> Iterator[Change]:
    row, away = off
    mark, size = drawn.spec.mark, np.linalg.norm(away, axis=1)
    wrong = np.nonzero(size > SMALL)[0]
    if not len(wrong):
        return

    def changed(kind: str, what: str, cure: str) -> Change:
        return Change(kind, what, cure, _moved(forms, drawn, row, away), float(size.max()))

    if _alike([off]):
        shift = np.median(away, axis=0)
        yield changed(*_shifted(drawn, (name,), row, shift, thick))
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
    if np.sum(jump > SMALL) == 1:
        at = int(jump.argmax())
        pitch = float(np.linalg.norm(row.points[order[at + 1]] - row.points[order[at]]))
        xy = drawn.holes.holes.xy[row.holes[order]]
        unit = (xy[-1] - xy[0]) / np.linalg.norm(xy[-1] - xy[0])
        true = pitch + float(steps[at] @ unit)
        yield changed(
            "one pitch astray",
            f"the space between holes {names[at]} and {names[at + 1]} of {mark} is {pitch:.2f} mm and should be "
            f"{true:.2f} mm",
            "Correct that space; all holes after it move with it.",
        )
    elif np.abs(steps - np.median(steps, axis=0)).max() <= SMALL:
        total = float(np.linalg.norm(own[-1] - own[0]))
        yield changed(
            "pitch error growing",
            f"the pitch of row {drawn.holes.holes.row[int(row.holes[0])]} of {mark} is out by "
            f"{total / len(steps):.3f} mm a space, {total:.2f} mm over the row",
            "Correct the pitch, or divide the length of the row anew.",
        )


def _shifted(
    drawn: Part, names: tuple[str, ...], row: Row, shift: FloatArray, thick: frozenset[float]
) -> tuple[str, str, str]:
    """Whole rows out by the same: beyond a fold, by a thickness, by a pitch, or by none of them."""
    mark, size = drawn.spec.mark, float(np.linalg.norm(shift))
    pitch = float(np.median(np.linalg.norm(np.diff(row.points, axis=0), axis=1))) if len(row.points) > 1 else 0.0
    which = f"row {names[0]} of {mark} lies" if len(names) == 1 else f"rows {', '.join(names)} of {mark} lie"
    what = f"{which} {size:.2f} mm from where the mates want {'it' if len(names) == 1 else 'them'}, all holes alike"
    move = f"by {_by(shift)}"
    if _across_fold(drawn, shift):
        return (
            "bend allowance",
            f"{what}, across a fold",
            f"Move what lies beyond the fold {move}: look at its allowance.",
        )
    if any(abs(size - one) <= SMALL for one in thick):
        return "thickness forgotten", f"{what}: one thickness", f"Move it {move}: a plate's thickness was left out."
    if abs(size - pitch) <= SMALL:
        return "row out by one pitch", f"{what}: one pitch", f"Move it {move}."
    return "row out", what, f"Move it {move}: look at its end distance and back mark."


def _across_fold(drawn: Part, shift: FloatArray) -> bool:
    """True where a shift is square to a fold line of the piece."""
    lines = drawn.blank.folds if drawn.blank is not None and drawn.spec.folds else ()
    ways = [line.points[-1] - line.points[0] for line in lines]
    return any(abs(float(shift @ way)) <= SMALL * float(np.linalg.norm(way)) for way in ways)


def _by(shift: FloatArray) -> str:
    return f"{shift[0]:+.2f} mm along x and {shift[1]:+.2f} mm along y"


def _panel_change(
    forms: Forms, drawn: Part, off: Mapping[str, tuple[Row, FloatArray]], thick: frozenset[float]
) -> Change:
    """Several rows of a piece out by the same: what lies beyond a fold, or a whole side."""
    shift = np.median(np.vstack([away for _, away in off.values()]), axis=0)
    changed = forms
    for row, away in off.values():
        changed = _moved(changed, drawn, row, away)
    row = next(iter(off.values()))[0]
    return Change(*_shifted(drawn, tuple(off), row, shift, thick), changed, float(np.linalg.norm(shift)))


def _moved(forms: Forms, drawn: Part, row: Row, away: FloatArray) -> Forms:
    def moved(form: Part, flip: FloatArray) -> Part:
        return with_places(form, row.holes, form.holes.holes.xy[row.holes] + away * flip)

    return _each(forms, drawn, moved)
