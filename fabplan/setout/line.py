"""The line along which a seam is laid: as the job states it, the gauge of a bar, or the middle of a lap."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.lap import common_axis
from fabplan.geom.profile import bounds
from fabplan.geom.surface import along_axes, to_body, to_flat
from fabplan.model.arrays import FloatArray
from fabplan.model.setout import SetoutSpec
from fabplan.setout.path import Path
from fabplan.setout.ply import Ply, meeting
from fabplan.setout.room import metal

LOOKS = 101  # places along a leg that are looked at to see whether it lies against the other plies


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line on one ply.

    Attributes:
        on: number of the ply.
        path: the line of the first row.
        side: of which further rows lie, 1 to the left and -1 to the right; 0 where rows stand about it as their middle.
        stated: True where its ends are the end holes.
        how: where it lies and why, in words.
    """

    on: int
    path: Path
    side: float
    stated: bool
    how: str


def line_of(spec: SetoutSpec, plies: Sequence[Ply]) -> Line:
    """The line of a seam, on one of its plies.

    Args:
        spec: what the job states.
        plies: from the made head to the point; of a bar the leg that `chosen` took.

    Raises:
        SetoutError: nothing tells where the row is to lie.
    """
    named = [k for k, ply in enumerate(plies) if ply.instance == spec.on]
    if spec.circle is not None:
        x, y, radius = spec.circle
        on = named[0]
        _on_piece(plies[on], np.array([[x + radius, y], [x - radius, y]]))
        words = f"a circle of radius {radius:g} mm on {plies[on].name}"
        return Line(on, Path(np.array([[x, y]]), radius), 1.0, True, words)
    if spec.path:
        return _stated(spec, plies, named[0])
    bars = [k for k, ply in enumerate(plies) if ply.leg]
    on = (named or bars or [0])[0]
    ply = plies[on]
    x0, y0, x1, y1 = bounds(ply.outline)
    if ply.leg:
        sign = 1.0 if y1 > -y0 else -1.0
        y = sign * spec.back_mark if spec.back_mark is not None else ply.back_mark
        if not np.isfinite(y):
            mend = "State `back_mark`."
            raise SetoutError(f"no table gives a usual back mark for {ply.name}", mend)
        way = "stated" if spec.back_mark is not None else "its usual gauge"
        words = f"along {ply.name} at back mark {abs(y):g} mm, {way}"
        return Line(on, Path(np.array([[x0, y], [x1, y]])), sign, False, words)
    middle = common_axis([(one.surface, one.outline, one.cutouts) for one in plies], on)
    if middle is None:
        marks = ", ".join(one.instance for one in plies)
        mend = "Look at their places and at the order of the plies, or state `on`, `from` and `to`."
        raise SetoutError(f"{marks} do not lie on one another", mend)
    return Line(on, Path(middle), 0.0, False, f"along the middle of the lap on {ply.name}")


def _stated(spec: SetoutSpec, plies: Sequence[Ply], on: int) -> Line:
    ply, places = plies[on], np.array(spec.path)
    if places.shape[1] == 2:
        xy = places * [1.0, np.sign(bounds(ply.outline)[[1, 3]].sum())] if ply.leg else places
        _on_piece(ply, xy)
        return Line(on, Path(xy), 1.0, True, f"from the first to the last hole as stated on {ply.name}")
    flat, _ = to_flat(ply.surface, places)
    _, normal = to_body(ply.surface, flat, np.zeros(len(flat)))
    flat, _, square = along_axes(ply.surface, places, normal)
    if not square.all():
        raise SetoutError(f"a stated place in the body lies beside {ply.name}", "Name places on or over the piece.")
    _on_piece(ply, flat)
    return Line(on, Path(flat), 1.0, True, f"between the stated places in the body, straight on {ply.name}")


def _on_piece(ply: Ply, xy: FloatArray) -> None:
    """Refuse places (n, 2) off a ply by more than its size, a slip of the pen: every half millimetre is looked at."""
    x0, y0, x1, y1 = bounds(ply.outline)
    far = np.linalg.norm(xy - [(x0 + x1) / 2.0, (y0 + y1) / 2.0], axis=1)
    if far.max() > 2.0 * np.hypot(x1 - x0, y1 - y0):
        x, y = xy[int(np.argmax(far))].tolist()
        what = f"{x:g}, {y:g} lies far off {ply.name}, which reaches from {x0:.6g}, {y0:.6g} to {x1:.6g}, {y1:.6g}"
        raise SetoutError(what, "State places on the piece, in mm.")


def chosen(spec: SetoutSpec, choices: Sequence[Sequence[Ply]]) -> tuple[Ply, ...]:
    """One face of each ply: of a bar the leg that lies against its mates, or the one that is stated.

    Args:
        spec: what the job states.
        choices: for each ply its faces, from the made head to the point.

    Raises:
        SetoutError: no leg of a bar lies against the other plies.
    """
    taken: list[Ply] = []
    for k, faces in enumerate(choices):
        own = [face for face in faces if not (face.instance == spec.on and spec.leg) or face.leg == spec.leg]
        others = [face for m, some in enumerate(choices) if abs(m - k) == 1 for face in some]
        taken.append(own[0] if len(own) == 1 else max(own, key=lambda face: _against(face, others)))
        if len(own) > 1 and not _against(taken[-1], others):
            what = f"no leg of {own[0].instance} lies against {others[0].instance}"
            raise SetoutError(what, "Look at the places of both, and at the order of the plies.")
    return tuple(taken)


def _against(face: Ply, others: Sequence[Ply]) -> int:
    """At how many places along its middle a leg lies against one of some faces."""
    x0, y0, x1, y1 = bounds(face.outline)
    xy = np.column_stack([np.linspace(x0, x1, LOOKS), np.full(LOOKS, (y0 + y1) / 2.0)])
    return max((_fair(face, other, xy) for other in others), default=0)


def _fair(face: Ply, other: Ply, xy: FloatArray) -> int:
    met = meeting((face, other), 0, xy)
    return int(np.sum(met.fair.all(axis=1) & metal(other, met.xy[1])))
