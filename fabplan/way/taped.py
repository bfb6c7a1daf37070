"""Holes measured by tape from hole to hole: their pattern, and why it is not to be had where it is not."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.laid_over import laid_over
from fabplan.geom.taped import PROVED, Tape, Taped, solved, turned_over
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.measured import Measured

LOOSE = 5.0
"""How far a hole may go where sizes err by 1 mm altogether; a pattern that gives more is told as loose."""

NEAR = 5.0
"""How far an old piece may lie off its drawing, mm: two patterns both nearer are not told apart by it (assumed)."""

SAME = 0.05
"""Share by which two sizes differ at most that may be wrong alike."""

NAMED = 4  # sizes that are named of many


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """A pattern by tape.

    Attributes:
        xy: (n, 2) of the measured holes, in no particular axes.
        by_tape: (m, 2) what each size comes to on it, and how far it lies beside its tape.
        proved: (m,) True for a size that the others prove.
        trouble: check, what is wrong, its figure and limit, remedy; None where it can be taken.
    """

    xy: FloatArray
    by_tape: FloatArray
    proved: BoolArray
    trouble: tuple[str, str, float, float, str] | None


def pattern(measured: Measured, drawn: FloatArray) -> Pattern:
    """The pattern that fits all tape sizes of a piece best.

    Args:
        measured: with its tape.
        drawn: (n, 2) where the measured holes are drawn: which of two mirror images is meant.
    """
    numbers = [hole.number for hole in measured.holes]
    tape = _tape(measured, numbers)
    found = solved(tape, drawn)
    by_tape = np.column_stack([tape.length, tape.off]) - found.left
    trouble = _loose(found, numbers) or _contradicts(found, measured) or _two_ways(tape, found, measured, drawn)
    return Pattern(found.xy, by_tape, found.proved > PROVED, trouble)


def _tape(measured: Measured, numbers: Sequence[str]) -> Tape:
    at = {number: k for k, number in enumerate(numbers)} | {"": -1}
    sizes = measured.tape
    start, end, along = np.array([[at[one.start], at[one.end], at[one.along]] for one in sizes], dtype=np.int64).T
    return Tape(start, end, along, np.array([one.length for one in sizes]), np.array([one.off for one in sizes]))


def _loose(found: Taped, numbers: Sequence[str]) -> tuple[str, str, float, float, str] | None:
    worst = float(found.doubt.max())
    if worst <= LOOSE:
        return None
    if float(np.linalg.svd(found.xy - found.xy.mean(axis=0))[1][1]) <= FIGURE:
        what = "its tape sizes lie in one line, and do not tell how far a hole lies beside it"
        mend = (
            "Tape a hole beside that line too, or read all on one tape along it, each with how far it lies beside it."
        )
        return "tape-loose", what, worst, LOOSE, mend
    one, other = (numbers[k] for k in found.tie)
    free = "free to hinge" if not np.isfinite(worst) else f"loose: sizes that err by 1 mm move a hole by {worst:.0f} mm"
    return "tape-loose", f"its tape sizes leave the pattern {free}", worst, LOOSE, f"Tape {one} to {other} too."


def _contradicts(found: Taped, measured: Measured) -> tuple[str, str, float, float, str] | None:
    """Sizes that do not agree: of each, how much it would be wrong if all others were right."""
    proved = found.proved > PROVED
    share = np.where(proved, found.proved, 1.0)
    weighed = np.where(proved, np.abs(found.left[:, 0]) / np.sqrt(share), 0.0)
    beside = float(np.abs(found.left[:, 1]).max(initial=0.0))
    worst = max(float(weighed.max(initial=0.0)), beside)
    if worst <= measured.accuracy + FIGURE:
        return None
    wrong = found.left[:, 0] / share
    suspects = np.nonzero(weighed >= (1.0 - SAME) * weighed.max())[0]
    suspects = suspects[np.argsort(np.abs(wrong[suspects]), kind="stable")][:NAMED].tolist()
    words = [f"{measured.tape[k].start} to {measured.tape[k].end} by {wrong[k]:+.1f} mm" for k in suspects]
    what = f"its tape sizes disagree by {worst:.2f} mm; one alone would be wrong: {', or '.join(words)}"
    return "tape-disagrees", what, worst, measured.accuracy, "Tape these again; none is evened out."


def _two_ways(
    tape: Tape, found: Taped, measured: Measured, drawn: FloatArray
) -> tuple[str, str, float, float, str] | None:
    """Holes that fit their sizes on either side of a line, where the drawing does not tell which is meant."""
    for other in turned_over(tape, found.xy, measured.accuracy):
        moved = np.linalg.norm(laid_over(other, found.xy) - found.xy, axis=1)
        astray = float(np.linalg.norm(laid_over(other, drawn) - drawn, axis=1).max())
        if not moved.max() <= 2.0 * measured.accuracy and astray <= NEAR:
            holes = [hole.number for hole, way in zip(measured.holes, moved.tolist(), strict=True)
                     if way > 2.0 * measured.accuracy]  # fmt: skip
            what = (
                f"its tape sizes fit a second pattern, {', '.join(holes[:NAMED])} turned over, {moved.max():.1f} mm off"
            )
            mend = "Tape them from a hole beside the line too; a pattern is never mirrored by guess."
            return "tape-loose", what, float(moved.max()), 2.0 * measured.accuracy, mend
    return None
