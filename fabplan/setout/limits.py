"""The limits that a row keeps, and what practice wants within them, each with its source. Lengths mm."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

from fabplan.geom.tolerance import FIGURE
from fabplan.model.setout import Bound, SeamCase

TIGHT_PITCH = 4.0, "4 d, US steamboat rules for oil tanks, in Dunn, Industrial Uses of Fuel Oil, 1916"
PLAIN_PITCH = 5.0, "5 d, the widest of the ordinary pitch in girder work, 4 d to 5 d (common practice)"
END = 2.0, "2 d where practicable, J. A. L. Waddell, De Pontibus, p. 165"
CHAIN = 2.0, "chain rows 2 D, Indian Boiler Regulations, reg. 184, eqn 13"
ZIGZAG = (0.33, 0.67), "zigzag rows 0.33 P + 0.67 D, Indian Boiler Regulations, reg. 184, eqn 12"


@dataclass(frozen=True, slots=True)
class Limits:
    """The bounds of one seam, and its sizes."""

    bounds: tuple[Bound, ...]
    case: SeamCase

    def least(self, measure: str, *, noted: bool = True) -> float:
        """The least that all rules allow, mm, 0 where none speaks; without notes where they are not `noted`."""
        return max((one.value for one in self.of(measure, "least") if noted or one.level != "note"), default=0.0)

    def greatest(self, measure: str) -> float:
        """The most that all rules allow, mm; infinite where none speaks."""
        return min((one.value for one in self.of(measure, "greatest")), default=float("inf"))

    def of(self, measure: str, sense: str) -> list[Bound]:
        """The rules that bound a measure from one side."""
        return [one for one in self.bounds if (one.measure, one.sense) == (measure, sense)]

    def said(self, measure: str, sense: str) -> str:
        """The strictest rule from one side in words, "" where none speaks."""
        own = self.of(measure, sense)
        if not own:
            return ""
        one = max(own, key=lambda one: one.value) if sense == "least" else min(own, key=lambda one: one.value)
        return f"{one.words} = {one.value:.4g} mm ({one.source})"


def wanted_pitch(limits: Limits, stated: float | None) -> tuple[float, str]:
    """The pitch to aim at, mm, and whose it is."""
    if stated is not None:
        return stated, "stated in the job"
    times, words = TIGHT_PITCH if limits.case.tight else PLAIN_PITCH
    plain = times * limits.case.rivet
    held = min(max(plain, limits.least("pitch")), limits.greatest("pitch"))
    if abs(held - plain) <= FIGURE:
        return plain, words
    side = "least" if held > plain else "greatest"
    return held, f"{words}, held to the {side} of {limits.said('pitch', side)}"


def wanted_end(limits: Limits) -> tuple[float, str]:
    """The end distance to aim at, mm, and whose it is."""
    times, words = END
    plain = times * limits.case.rivet
    return min(
        max(plain, limits.least("end distance"), limits.least("edge distance")), limits.greatest("end distance")
    ), words


def back_pitch(limits: Limits, pitch: float) -> tuple[float, str]:
    """The distance between two lines, mm, up to the whole millimetre, and whose it is."""
    hole = limits.case.hole
    ways = [(limits.least("row distance"), limits.said("row distance", "least"))]
    if limits.case.staggered:
        (share, holes), words = ZIGZAG
        slant = sqrt(max(limits.least("diagonal") ** 2 - (pitch / 2.0) ** 2, 0.0))
        ways += [(share * pitch + holes * hole, words), (slant, f"for the slant {limits.said('diagonal', 'least')}")]
    else:
        ways.append((CHAIN[0] * hole, CHAIN[1]))
    apart, words = max(ways)
    return float(ceil(apart - FIGURE)), words


def beyond(limits: Limits, measure: str, value: float) -> str:
    """Why a stated figure breaks the limits, in words; "" where it keeps them."""
    words: Sequence[tuple[bool, str]] = (
        (not value >= limits.least(measure) - FIGURE, "least"),
        (not value <= limits.greatest(measure) + FIGURE, "greatest"),
    )
    return next((f"{side} {limits.said(measure, side)}" for broken, side in words if broken), "")
