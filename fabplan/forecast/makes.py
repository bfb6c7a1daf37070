"""How each piece is made, and so how far its holes, sizes, folds and thickness stray."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.prism import Solid, solid
from fabplan.geom.scatter import LIMIT, mixing, spread_of, variogram
from fabplan.model.arrays import FloatArray
from fabplan.model.measured import DIAMETER, Measured
from fabplan.model.part import Part
from fabplan.model.tolerances import LengthTolerance, Tolerances, thickness_off

DRILLED = "drilled"
ASSUMED = "laser"

UNMEASURED = 1.0
"""mm that a hole may be off where a piece that is there was not measured: marked off by hand (assumed)."""

GIRTH = 2000.0
"""mm of girth over which strips that stray by themselves add up to the deviation that is stated for so much."""


@dataclass(frozen=True, slots=True, eq=False)
class Make:
    """How one part strays. Lengths mm.

    Attributes:
        mix: (n, n) mixes independent standard errors into those of its holes, in one direction of their panel.
        size: (n,) standard deviation of the diameters.
        shift: (n, f, 3) of its holes for each standard error of f folds and rolled strips, in the part's frame.
        thick: mean and standard deviation of its thickness less that drawn.
        row: the tolerance that it is made to.
    """

    mix: FloatArray
    size: FloatArray
    shift: FloatArray
    thick: tuple[float, float]
    row: LengthTolerance


def tolerance_of(part: Part, process: str, tolerances: Tolerances) -> LengthTolerance:
    """The row that a part is made to; of a thickness beyond the table the nearest."""
    wanted = DRILLED if part.section is not None else process or ASSUMED
    rows = [row for row in tolerances.lengths if wanted in row.processes]
    return next((row for row in rows if row.over < part.thickness <= row.to), rows[-1])


def make_of(part: Part, process: str, tolerances: Tolerances, *, taken: bool = True) -> Make:
    """How a part strays by the tables; where it is there already, by the accuracy to which its holes are known.

    Args:
        part: the part.
        process: by which it is cut, "" where not stated.
        tolerances: the tables.
        taken: False where its measured holes were not taken, so that nobody knows where they are.
    """
    row, known = tolerance_of(part, process, tolerances), _known_within(part, taken)
    if known is None:
        mix = mixing(_places(part), variogram(row))
        size = np.array([spread_of(row, diameter) for diameter in part.holes.holes.diameter.tolist()])
    else:
        mix, size = np.diag(known[:, 0] / LIMIT), known[:, 1] / LIMIT
    return Make(mix, size, _shifts(part, tolerances), _thick(part, tolerances), row)


def known_words(part: Part, *, taken: bool = True) -> str:
    """How well the holes of a part that is there are known, as printed; "" for one that is made by the tables."""
    measured = _with_holes(part)
    if measured is not None and not taken:
        return f"its measured holes are not taken, so within {UNMEASURED:g} mm of the drawing (assumed)"
    if measured is None:
        bare = f"there already and not measured, taken within {UNMEASURED:g} mm of the drawing (assumed)"
        return "" if part.spec.made else bare
    known = {hole.number for hole in measured.holes}
    left = [number for number in part.holes.holes.number if number not in known]
    words = f"as measured, within {measured.accuracy_words}"
    if not left:
        return words
    rest = f"not measured and taken within {max(measured.within):g} mm of the drawing: {', '.join(left)}"
    return f"{len(part.holes.holes) - len(left)} of {len(part.holes.holes)} {words}; {rest}"


def _with_holes(part: Part) -> Measured | None:
    return part.spec.measured if part.spec.measured is not None and part.spec.measured.holes else None


def _known_within(part: Part, taken: bool) -> FloatArray | None:
    """(n, 2) how far place and diameter of each hole may be off: measured ones by theirs, others by the worst place."""
    measured = _with_holes(part)
    if measured is None and part.spec.made:
        return None
    if measured is None or not taken:
        return np.tile([UNMEASURED, DIAMETER], (len(part.holes.holes), 1))
    pairs = zip(measured.holes, measured.within, strict=True)
    own = {hole.number: (within, hole.diameter_accuracy) for hole, within in pairs}
    rest = (max(measured.within), DIAMETER)
    return np.array([own.get(number, rest) for number in part.holes.holes.number]).reshape(-1, 2)


def _places(part: Part) -> FloatArray:
    """(n, d) where the holes are when they are made: on the blank of a plate, along the legs of a bar."""
    if part.blank is not None and len(part.blank.holes) == len(part.holes.holes):
        return part.blank.holes.xy
    xyz = np.zeros((len(part.holes.holes), 3))
    for k, panel in enumerate(part.panels):
        own = part.holes.panel == k
        xy = part.holes.holes.xy[own]
        xyz[own] = xy @ panel.frame.rotation[:, :2].T + panel.frame.origin
    return xyz


def _thick(part: Part, tolerances: Tolerances) -> tuple[float, float]:
    """Mean and standard deviation of plate; sections are taken as they are listed, measured plate as it measures."""
    if part.section is not None or part.spec.measured_thickness is not None:
        return 0.0, 0.0
    off = thickness_off(tolerances, part.thickness, part.spec.plate_standard)
    less, more = off[:2] if off is not None else tolerances.plates[-1][2:]
    return (more - less) / 2.0, (more + less) / 2.0 / LIMIT


def _shifts(part: Part, tolerances: Tolerances) -> FloatArray:
    """(n, f, 3) how the holes of a formed plate shift with each fold and rolled strip, all from its first panel."""
    if part.section is not None or len(part.panels) < 2:
        return np.zeros((len(part.holes.holes), 0, 3))
    solids = [solid(panel) for panel in part.panels]
    carried = np.zeros((len(solids), len(solids) - 1, 3))
    for number, (panel, before) in enumerate(_tree(solids)):
        carried[panel] = carried[before]
        flat = part.panels[panel].kind == "flat"
        carried[panel, number] = _shift(solids[panel], solids[before], flat, tolerances)
    return carried[part.holes.panel]


def _tree(solids: list[Solid]) -> list[tuple[int, int]]:
    """Pairs of a panel and the one that it hangs on, each after the one that it hangs on."""
    apart = np.array([[_apart(one, other) for other in solids] for one in solids])
    hung, pairs = [0], []
    while len(hung) < len(solids):
        left = [k for k in range(len(solids)) if k not in hung]
        near = apart[np.ix_(left, hung)]
        panel, before = np.unravel_index(int(near.argmin()), near.shape)
        pairs.append((left[int(panel)], hung[int(before)]))
        hung.append(left[int(panel)])
    return pairs


def _apart(one: Solid, other: Solid) -> float:
    """Least distance between corners of two panels: those of a fold lie on either side of it."""
    return float(np.linalg.norm(one.corners[:, None] - other.corners[None], axis=2).min())


def _shift(panel: Solid, before: Solid, flat: bool, tolerances: Tolerances) -> FloatArray:
    """(3,) by which a panel shifts for one standard error of its fold, away from it, or of its strip's girth."""
    normal = panel.frame.rotation[:, 2]
    line = np.cross(before.frame.rotation[:, 2], normal)
    size = float(np.linalg.norm(line))
    if size < 1e-9:
        return np.zeros(3)
    away = np.cross(line / size, normal)
    away *= np.sign(float(away @ (panel.middle - before.middle))) or 1.0
    length = float(np.ptp(panel.corners @ away))
    if flat:
        limit = next((limit for to, limit in tolerances.folds if length <= to), tolerances.folds[-1][1])
        return np.asarray(away * limit / LIMIT)
    return np.asarray(away * tolerances.girth * np.sqrt(GIRTH * length) / LIMIT)
